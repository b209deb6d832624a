//! The driver.

use crate::files::allowed::within;
use crate::files::assumption::{Assumption, usual};
use crate::files::field_path::{Fault, FieldPath};
use schemars::JsonSchema;
use serde::Deserialize;
use sim_core::driver;
use sim_core::units;

/// The driver: how gears are chosen.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Driver {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// How gears are chosen.
    pub shifting: Option<Shifting>,
    /// The gear of fixed shifting, from 1.
    pub gear: Option<u32>,
    /// Motor speed above which the next gear is taken, rpm; with window shifting.
    pub up_rpm: Option<f64>,
    /// Motor speed below which the gear below is taken, rpm; with window shifting.
    pub down_rpm: Option<f64>,
    /// Gear for pulling away, from 1.
    pub start_gear: Option<u32>,
}

/// How gears are chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Shifting {
    /// One gear for everything.
    Fixed,
    /// Up above a motor speed, down below another.
    Window,
    /// The gear that takes the least power from the pack.
    Efficient,
    /// The gear that pulls hardest.
    Quick,
}

impl Driver {
    /// The driver as the simulation knows him.
    pub(crate) fn model(
        &self,
        at: &FieldPath,
        gears: usize,
        max_radps: f64,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<driver::Driver, Fault> {
        let pick = |name: &str, gear: Option<u32>| match gear {
            None => Ok(None),
            Some(gear) if gear >= 1 && gear as usize <= gears => Ok(Some(gear as usize - 1)),
            Some(gear) => Err(at.refuse(name, gear, format!("1 to {gears}"))),
        };
        let gear = pick("gear", self.gear)?;
        let start = pick("start_gear", self.start_gear)?;
        let shifting = match self.shifting {
            Some(shifting) => shifting,
            None if gear.is_some() || gears == 1 => Shifting::Fixed,
            None => {
                let reason = "the gear that takes the least power from the pack";
                let path = at.field("shifting").path();
                assumptions.push(Assumption::words(path, "efficient", reason));
                Shifting::Efficient
            }
        };
        for (name, given, fits) in [
            ("gear", gear.is_some(), Shifting::Fixed),
            ("up_rpm", self.up_rpm.is_some(), Shifting::Window),
            ("down_rpm", self.down_rpm.is_some(), Shifting::Window),
        ] {
            if given && shifting != fits {
                let word = if fits == Shifting::Fixed { "fixed" } else { "window" };
                return Err(at.refuse(name, "given", format!("this only with {word} shifting")));
            }
        }
        let model = match shifting {
            Shifting::Fixed => {
                let fixed = match gear {
                    Some(gear) => gear,
                    None if gears == 1 => 0,
                    None => return Err(at.demand("gear", "the gear of fixed shifting")),
                };
                if let Some(start) = start
                    && start != fixed
                {
                    let allowed = "the same as gear, or window, efficient or quick shifting";
                    return Err(at.refuse("start_gear", start + 1, allowed));
                }
                return Ok(driver::Driver {
                    shifting: driver::Shifting::Fixed(fixed),
                    start_gear: fixed,
                });
            }
            Shifting::Window => {
                let most_rpm = units::rpm_from_radps(max_radps);
                let up = at.assumed(
                    "up_rpm",
                    self.up_rpm,
                    within(100.0, most_rpm),
                    usual(0.7 * most_rpm, "rpm", "seven tenths of the highest speed"),
                    assumptions,
                )?;
                let down = at.assumed(
                    "down_rpm",
                    self.down_rpm,
                    within(0.0, most_rpm),
                    usual(0.35 * up, "rpm", "a third of the speed for shifting up"),
                    assumptions,
                )?;
                if down >= up {
                    return Err(at.refuse("down_rpm", down, format!("less than up_rpm, {up}")));
                }
                driver::Shifting::Window {
                    up_radps: units::radps_from_rpm(up),
                    down_radps: units::radps_from_rpm(down),
                }
            }
            Shifting::Efficient => driver::Shifting::Efficient,
            Shifting::Quick => driver::Shifting::Quick,
        };
        Ok(driver::Driver { shifting: model, start_gear: start.unwrap_or(0) })
    }
}
