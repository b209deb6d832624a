//! The gearbox with its final drive and clutch.

use crate::files::allowed::{above, within};
use crate::files::assumption::{Assumption, usual};
use crate::files::field_path::{Fault, FieldPath, only_one};
use schemars::JsonSchema;
use serde::Deserialize;
use sim_core::gearbox;
use sim_core::units;

/// The gearbox: either `gears` with a `final_drive`, or a `single` reduction.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Gearbox {
    /// Where the JSON Schema of this file is.
    #[serde(rename = "$schema")]
    pub schema: Option<String>,
    /// What to call it.
    pub name: Option<String>,
    /// Anything worth remembering.
    pub note: Option<String>,
    /// The gears, first gear first.
    pub gears: Option<Vec<Gear>>,
    /// Ratio of the final drive.
    pub final_drive: Option<f64>,
    /// Motor turns per turn of the wheels, all in all, where there is one fixed reduction.
    pub single: Option<f64>,
    /// Efficiency of a gear with the final drive, where the gear does not say its own, %.
    pub efficiency_pct: Option<f64>,
    /// Drag torque at the input when it just turns, N·m.
    pub drag_nm: Option<f64>,
    /// Growth of the drag torque with input speed, N·m per 1000 rpm.
    pub drag_nm_per_krpm: Option<f64>,
    /// Time without torque while the driver shifts, s.
    pub shift_s: Option<f64>,
    /// Highest input torque, N·m.
    pub max_input_nm: Option<f64>,
    /// Highest input speed, rpm.
    pub max_input_rpm: Option<f64>,
    /// The clutch, where it was kept.
    pub clutch: Option<Clutch>,
}

/// A gear.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Gear {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Input turns per output turn, without the final drive.
    pub ratio: f64,
    /// Efficiency in this gear, final drive included, %.
    pub efficiency_pct: Option<f64>,
}

/// The clutch.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Clutch {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Whether it was kept; without it motor and gearbox are coupled rigidly.
    pub kept: bool,
    /// Torque that it holds, N·m.
    pub max_nm: Option<f64>,
}

impl Gearbox {
    /// The box that the simulation drives with.
    pub(crate) fn model(
        &self,
        at: &FieldPath,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<gearbox::Gearbox, Fault> {
        let efficiency = above(20.0, 100.0);
        let ways = [("gears", self.gears.is_some()), ("single", self.single.is_some())];
        let way = only_one(at, &ways)?;
        if way.is_none() {
            return Err(at.demand("gears", "gears with a final_drive, or a single reduction"));
        }
        let every_gear_says =
            self.gears.as_ref().is_some_and(|list| list.iter().all(|g| g.efficiency_pct.is_some()));
        let common = if every_gear_says {
            at.optional("efficiency_pct", self.efficiency_pct, efficiency)?.unwrap_or(100.0)
        } else {
            at.assumed(
                "efficiency_pct",
                self.efficiency_pct,
                efficiency,
                usual(95.0, "%", "common practice for spur gears and a final drive together"),
                assumptions,
            )?
        };
        let mut gears = Vec::new();
        if let Some(single) = self.single {
            if self.final_drive.is_some() {
                return Err(at.refuse("final_drive", "given beside single", "only one of the two"));
            }
            let ratio = at.number("single", single, within(0.5, 40.0))?;
            gears.push(gearbox::Gear { ratio, efficiency: units::share_from_pct(common) });
        }
        if let Some(list) = &self.gears {
            if list.is_empty() || list.len() > 24 {
                let value = format!("a list of {}", list.len());
                return Err(at.refuse("gears", value, "1 to 24 gears"));
            }
            let final_drive = at.required(
                "final_drive",
                self.final_drive,
                within(0.5, 20.0),
                "the ratio of the final drive; 1 where the gears include it",
            )?;
            let gears_at = at.field("gears");
            for (i, gear) in list.iter().enumerate() {
                let gear_at = gears_at.item(i);
                let ratio = gear_at.number("ratio", gear.ratio, within(0.1, 40.0))?;
                if let Some(before) = i.checked_sub(1).map(|b| list[b].ratio)
                    && ratio >= before
                {
                    let allowed = format!("less than the {before} of the gear before it");
                    return Err(gear_at.refuse("ratio", ratio, allowed));
                }
                let own = gear_at.optional("efficiency_pct", gear.efficiency_pct, efficiency)?;
                gears.push(gearbox::Gear {
                    ratio: ratio * final_drive,
                    efficiency: units::share_from_pct(own.unwrap_or(common)),
                });
            }
        }
        let mut model = gearbox::Gearbox::new(gears).map_err(|e| at.impossible("gears", &e))?;
        let drag = at.optional("drag_nm", self.drag_nm, within(0.0, 20.0))?;
        let growth = at.optional("drag_nm_per_krpm", self.drag_nm_per_krpm, within(0.0, 10.0))?;
        model.drag_nm = drag.unwrap_or(0.0);
        model.drag_nm_per_radps = growth.unwrap_or(0.0) / units::radps_from_krpm(1.0);
        if model.gears().len() > 1 {
            model.shift_s = at.assumed(
                "shift_s",
                self.shift_s,
                within(0.0, 5.0),
                usual(1.0, "s", "an unhurried shift with a manual box"),
                assumptions,
            )?;
        } else if let Some(shift_s) = self.shift_s {
            model.shift_s = at.number("shift_s", shift_s, within(0.0, 5.0))?;
        }
        if let Some(nm) = at.optional("max_input_nm", self.max_input_nm, above(0.0, 5000.0))? {
            model.max_input_nm = nm;
        }
        if let Some(rpm) = at.optional("max_input_rpm", self.max_input_rpm, within(500.0, 3e4))? {
            model.max_input_radps = units::radps_from_rpm(rpm);
        }
        if let Some(clutch) = &self.clutch {
            let clutch_at = at.field("clutch");
            let nm = clutch_at.optional("max_nm", clutch.max_nm, above(0.0, 5000.0))?;
            if let Some(nm) = nm.filter(|_| clutch.kept) {
                model.clutch_nm = nm;
            }
        }
        Ok(model)
    }
}
