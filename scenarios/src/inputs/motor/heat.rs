//! How the motor warms, from its nameplate or as a network of two nodes.

use crate::files::allowed::{Allowed, above, within};
use crate::files::assumption::{Assumption, usual};
use crate::files::field_path::{Fault, FieldPath, only_one};
use schemars::JsonSchema;
use serde::Deserialize;
use sim_core::Invalid;
use sim_core::controller::Derating;
use sim_core::cooling::{self, CONVECTION_EXPONENT};
use sim_core::motor::{Envelope, Rating, ShortRating, Thermal, ThermalSheet};
use sim_core::units;

/// What the nameplate says of heat.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Nameplate {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Power that it gives for ever, duty type S1, kW.
    pub continuous_power_kw: f64,
    /// Speed of that power, rpm.
    pub continuous_rpm: f64,
    /// A power that it gives for some time from cold, duty type S2.
    pub short_time: Option<ShortTime>,
    /// Class of the insulation.
    pub insulation_class: InsulationClass,
    /// Air temperature of the ratings, °C.
    pub ambient_c: Option<f64>,
    /// Direct voltage of the ratings, V.
    pub rated_v: Option<f64>,
    /// How it is cooled.
    pub cooling: Cooling,
    /// Coolant temperature of the ratings, °C; only with liquid cooling. In the drive the coolant is
    /// as warm as heat and radiator make it.
    pub coolant_c: Option<f64>,
    /// Share of the cooling at the continuous rating that still air gives, %; only with a fan.
    pub still_air_share_pct: Option<f64>,
    /// Cooling that the road's air adds at 100 km/h, % of that at the continuous rating.
    pub road_air_share_pct: Option<f64>,
    /// Share of the winding's rise that lies between winding and housing, %.
    pub winding_rise_share_pct: Option<f64>,
}

/// A short-time rating.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ShortTime {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Power, kW.
    pub power_kw: f64,
    /// Speed, rpm; left out, that of the continuous rating.
    pub rpm: Option<f64>,
    /// For how long, min.
    pub minutes: f64,
}

/// Thermal class of the insulation (IEC 60085).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
pub enum InsulationClass {
    /// 130 °C.
    B,
    /// 155 °C.
    F,
    /// 180 °C.
    H,
}

/// How the motor is cooled.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Cooling {
    /// Air, moved by a fan on the shaft.
    ShaftFan,
    /// Air, moved by nothing but the road.
    None,
    /// A coolant with a radiator.
    Liquid,
}

/// The two nodes: winding and housing.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Nodes {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Heat capacity of the winding, kJ/K.
    pub winding_kj_per_k: f64,
    /// Heat capacity of housing and iron, kJ/K.
    pub housing_kj_per_k: f64,
    /// Conductance from winding to housing, W/K.
    pub winding_to_housing_w_per_k: f64,
    /// Conductance from the housing to still air, W/K.
    pub still_air_w_per_k: Option<f64>,
    /// Conductance that the fan on the shaft adds at 1000 rpm, W/K.
    pub fan_w_per_k_at_1000_rpm: Option<f64>,
    /// Conductance that the road's air adds at 100 km/h, W/K.
    pub road_air_w_per_k_at_100_kmh: Option<f64>,
    /// Conductance from the housing to a coolant, W/K.
    pub coolant_w_per_k: Option<f64>,
    /// Coolant temperature for which the radiator is laid out, °C.
    pub coolant_c: Option<f64>,
}

impl InsulationClass {
    /// Temperature of the class, °C (IEC 60085).
    pub fn temperature_c(self) -> f64 {
        match self {
            InsulationClass::B => 130.0,
            InsulationClass::F => 155.0,
            InsulationClass::H => 180.0,
        }
    }
}

const COOLANT_C: Allowed = within(-20.0, 120.0);

/// Where a motor begins to cut back and where it stops, by the temperature of its winding.
///
/// The default warns at the temperature of the class, so that the continuous rating can be held
/// for ever, and cuts off 15 K above it.
pub(super) fn derating(
    at: &FieldPath,
    warning_c: Option<f64>,
    cut_off_c: Option<f64>,
    class: Option<InsulationClass>,
    assumptions: &mut Vec<Assumption>,
) -> Result<Derating, Fault> {
    let range = within(0.0, 300.0);
    let warning_c = match class.map(InsulationClass::temperature_c) {
        Some(class_c) => {
            let usual = usual(class_c, "°C", "the temperature of the insulation class");
            at.assumed("warning_c", warning_c, range, usual, assumptions)?
        }
        None => {
            let needed = "the winding temperature at which torque is cut back, as there is no \
                          nameplate with an insulation class";
            at.required("warning_c", warning_c, range, needed)?
        }
    };
    let usual = usual(warning_c + 15.0, "°C", "15 K above the warning");
    let cut_off_c = at.assumed("cut_off_c", cut_off_c, range, usual, assumptions)?;
    if cut_off_c < warning_c + 1.0 {
        let allowed = format!("at least 1 more than warning_c, {warning_c}");
        return Err(at.refuse("cut_off_c", cut_off_c, allowed));
    }
    Ok(Derating { warning_k: units::k_from_c(warning_c), cut_off_k: units::k_from_c(cut_off_c) })
}

/// How large and how fast a motor is, as its file says.
#[derive(Debug, Clone, Copy)]
pub(super) struct Size {
    pub(super) mass_kg: f64,
    pub(super) max_rpm: f64,
}

impl Nameplate {
    /// A refusal of what the nameplate says, in the words of its fields.
    pub(super) fn impossible(at: &FieldPath, why: Invalid) -> Fault {
        let name = if why.field.starts_with("short") { "short_time" } else { "insulation_class" };
        at.refuse(name, why.value, why.allowed)
    }

    /// What the nameplate says, of a motor of this size and torque.
    pub(super) fn sheet(
        &self,
        at: &FieldPath,
        size: Size,
        envelope: &Envelope,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<ThermalSheet, Fault> {
        let rpm_range = within(10.0, size.max_rpm);
        let rating = |at: &FieldPath, name, kw, rpm_name, rpm| {
            let power_w = units::w_from_kw(at.number(name, kw, above(0.0, 1000.0))?);
            let radps = units::radps_from_rpm(at.number(rpm_name, rpm, rpm_range)?);
            let torque_nm = power_w / radps;
            let peak_nm = envelope.peak_at_nm(radps);
            if torque_nm > peak_nm * 1.001 {
                let most = units::kw_from_w(peak_nm * radps);
                let allowed = format!("at most the peak at that speed, {most:.2}");
                return Err(at.refuse(name, kw, allowed));
            }
            Ok(Rating { torque_nm, radps })
        };
        let continuous = rating(
            at,
            "continuous_power_kw",
            self.continuous_power_kw,
            "continuous_rpm",
            self.continuous_rpm,
        )?;
        let short = match &self.short_time {
            Some(short) => {
                let at = at.field("short_time");
                let rpm = short.rpm.unwrap_or(self.continuous_rpm);
                Some(ShortRating {
                    rating: rating(&at, "power_kw", short.power_kw, "rpm", rpm)?,
                    for_s: units::s_from_min(at.number(
                        "minutes",
                        short.minutes,
                        within(0.1, 600.0),
                    )?),
                })
            }
            None => None,
        };
        let liquid = self.cooling == Cooling::Liquid;
        let mut take =
            |name, value, allowed, usual| at.assumed(name, value, allowed, usual, assumptions);
        let only_with = |name: &str, given: bool, fits: bool, word: &str| {
            if given && !fits {
                return Err(at.refuse(name, "given", format!("this only with {word}")));
            }
            Ok(())
        };
        only_with("coolant_c", self.coolant_c.is_some(), liquid, "liquid cooling")?;
        only_with("ambient_c", self.ambient_c.is_some(), !liquid, "air cooling")?;
        let fan = self.cooling == Cooling::ShaftFan;
        let still = self.still_air_share_pct;
        only_with("still_air_share_pct", still.is_some(), fan, "a shaft fan")?;
        let road = self.road_air_share_pct;
        only_with("road_air_share_pct", road.is_some(), !liquid, "air cooling")?;
        let (ambient_c, still_share, road_share) = if liquid {
            let reason = "a small radiator in summer";
            (take("coolant_c", self.coolant_c, COOLANT_C, usual(50.0, "°C", reason))?, 1.0, 0.0)
        } else {
            let reason = "air temperature of ratings in IEC 60034-1 (from memory)";
            let range = within(0.0, 80.0);
            let ambient_c = take("ambient_c", self.ambient_c, range, usual(40.0, "°C", reason))?;
            let still_share = if fan {
                let reason = "common practice for a motor with a fan on its shaft";
                let share = within(1.0, 100.0);
                take("still_air_share_pct", still, share, usual(30.0, "%", reason))?
            } else {
                100.0
            };
            let reason = "common practice for a motor under a bonnet";
            let road =
                take("road_air_share_pct", road, within(0.0, 500.0), usual(30.0, "%", reason))?;
            (ambient_c, units::share_from_pct(still_share), units::share_from_pct(road))
        };
        let winding_share = take(
            "winding_rise_share_pct",
            self.winding_rise_share_pct,
            within(5.0, 95.0),
            usual(35.0, "%", "common practice for a winding in a closed housing"),
        )?;
        let class_c = self.insulation_class.temperature_c();
        if ambient_c >= class_c - 5.0 {
            let name = if liquid { "coolant_c" } else { "ambient_c" };
            let allowed = format!("well below the {class_c} °C of the insulation class");
            return Err(at.refuse(name, ambient_c, allowed));
        }
        let rated_v = at.optional("rated_v", self.rated_v, within(6.0, 1500.0))?;
        Ok(ThermalSheet {
            continuous,
            short,
            class_k: units::k_from_c(class_c),
            ambient_k: units::k_from_c(ambient_c),
            volts: rated_v.unwrap_or(envelope.reference_v),
            mass_kg: size.mass_kg,
            winding_share: units::share_from_pct(winding_share),
            still_share,
            road_air_share: road_share,
            coolant_k: liquid.then(|| units::k_from_c(ambient_c)),
        })
    }
}

impl Nodes {
    pub(super) fn model(&self, at: &FieldPath) -> Result<Thermal, Fault> {
        let capacity = above(0.0, 1000.0);
        let conductance = within(0.0, 5000.0);
        let still = at.optional("still_air_w_per_k", self.still_air_w_per_k, conductance)?;
        let fan =
            at.optional("fan_w_per_k_at_1000_rpm", self.fan_w_per_k_at_1000_rpm, conductance)?;
        let road = at.optional(
            "road_air_w_per_k_at_100_kmh",
            self.road_air_w_per_k_at_100_kmh,
            conductance,
        )?;
        let coolant = at.optional("coolant_w_per_k", self.coolant_w_per_k, conductance)?;
        let ways = [
            ("coolant_w_per_k", coolant.is_some() || self.coolant_c.is_some()),
            ("still_air_w_per_k", still.is_some() || fan.is_some() || road.is_some()),
        ];
        if only_one(at, &ways)?.is_none() {
            let needed = "still_air_w_per_k, or coolant_w_per_k with coolant_c";
            return Err(at.demand("still_air_w_per_k", needed));
        }
        let cooling = if coolant.is_some() || self.coolant_c.is_some() {
            let needed = "coolant_w_per_k and coolant_c together";
            cooling::Cooling::Liquid {
                conductance_w_per_k: at.required(
                    "coolant_w_per_k",
                    coolant,
                    above(0.0, 5000.0),
                    needed,
                )?,
                rated_coolant_k: units::k_from_c(at.required(
                    "coolant_c",
                    self.coolant_c,
                    COOLANT_C,
                    needed,
                )?),
            }
        } else {
            let per_08 = |x: f64| x.powf(CONVECTION_EXPONENT);
            cooling::Cooling::Air {
                still_w_per_k: at.required(
                    "still_air_w_per_k",
                    still,
                    above(0.0, 5000.0),
                    "the conductance to still air",
                )?,
                fan_w_per_k: fan.unwrap_or(0.0) / per_08(units::radps_from_rpm(1000.0)),
                road_w_per_k: road.unwrap_or(0.0) / per_08(units::mps_from_kmh(100.0)),
            }
        };
        Ok(Thermal {
            winding_j_per_k: units::j_from_kj(at.number(
                "winding_kj_per_k",
                self.winding_kj_per_k,
                above(0.0, 1000.0),
            )?)
            .max(1.0),
            housing_j_per_k: units::j_from_kj(at.number(
                "housing_kj_per_k",
                self.housing_kj_per_k,
                capacity,
            )?)
            .max(1.0),
            winding_to_housing_w_per_k: at.number(
                "winding_to_housing_w_per_k",
                self.winding_to_housing_w_per_k,
                above(0.0, 5000.0),
            )?,
            cooling,
            thin_air: cooling::ThinAir::ByDensity,
        })
    }
}
