//! The gearbox with its final drive and clutch.

use crate::files::allowed::{PERCENT, above, within};
use crate::files::assumption::{Assumption, usual};
use crate::files::bounds::GEARS;
use crate::files::field_path::{Fault, FieldPath, only_one};
use crate::inputs::learnt_input::Spreads;
use schemars::JsonSchema;
use serde::Deserialize;
use sim_core::cooling::{CONVECTION_EXPONENT, Conductance};
use sim_core::tyre::DrivenAxle;
use sim_core::{Invalid, gearbox, units};
use std::sync::LazyLock;

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
    /// What it costs, in the currency of `money`.
    pub price: Option<f64>,
    /// How well its numbers are known, where they were learnt from a car.
    pub spreads: Option<Spreads>,
    /// The gears, first gear first.
    pub gears: Option<Vec<Gear>>,
    /// Ratio of the final drive.
    pub final_drive: Option<f64>,
    /// Motor turns per turn of the wheels, all in all, where there is one fixed reduction.
    pub single: Option<f64>,
    /// Efficiency of a gear with the final drive, where the gear does not say its own, %.
    pub efficiency_pct: Option<f64>,
    /// Drag torque at the input when it just turns in gear at no load, final drive included, with oil
    /// of 40 °C, N·m.
    pub drag_nm: Option<f64>,
    /// Growth of that drag torque with input speed, N·m per 1000 rpm.
    pub drag_nm_per_krpm: Option<f64>,
    /// Share of the drag that turns with the wheels in neutral too (final drive, output shaft), %: a
    /// coast-down holds it already, so that it is left out beside one.
    pub final_drive_drag_share_pct: Option<f64>,
    /// The oil.
    pub oil: Option<Oil>,
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

/// The oil of gearbox and final drive: cold it drags more, and the box's own losses warm it.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Oil {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Kinematic viscosity at 40 °C, mm²/s.
    pub viscosity_40_mm2_per_s: Option<f64>,
    /// Kinematic viscosity at 100 °C, mm²/s.
    pub viscosity_100_mm2_per_s: Option<f64>,
    /// Heat capacity of oil, casing and gears, kJ/K.
    pub heat_capacity_kj_per_k: Option<f64>,
    /// Conductance from the casing to still air, W/K.
    pub still_air_w_per_k: Option<f64>,
    /// Conductance that the road's air adds at 100 km/h, W/K.
    pub road_air_w_per_k_at_100_kmh: Option<f64>,
}

/// What a gearbox's drag depends on besides the box.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct InCar {
    /// Which wheels it turns.
    pub(crate) driven: DrivenAxle,
    /// Whether a coast-down in neutral holds what turns with the wheels.
    pub(crate) coast_down: bool,
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
        in_car: InCar,
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
            if list.is_empty() || list.len() as u64 > GEARS {
                let value = format!("a list of {}", list.len());
                return Err(at.refuse("gears", value, format!("1 to {GEARS} gears")));
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
        (model.drag_nm, model.drag_nm_per_radps) = self.drag(at, in_car, assumptions)?;
        model.oil = match &self.oil {
            Some(oil) => oil.model(&at.field("oil"), assumptions)?,
            None => {
                let path = at.field("oil").path();
                assumptions.push(Assumption::words(path, USUAL_OIL_WORDS, USUAL_OIL_REASON));
                USUAL_OIL.clone().map_err(|e| at.impossible("oil", &e))?
            }
        };
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

    /// Drag torque at the input, N·m, and its growth with speed, N·m/(rad/s), without what a
    /// coast-down holds already.
    fn drag(
        &self,
        at: &FieldPath,
        in_car: InCar,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<(f64, f64), Fault> {
        let gears = self.gears.as_ref().map_or(1, Vec::len);
        let (usual_nm, usual_nm_per_krpm, reason) = match in_car.driven {
            _ if self.single.is_some() => {
                (0.3, 0.05, "typical of a single reduction, common practice")
            }
            DrivenAxle::Front => {
                (0.4, 0.22, "typical of a manual front-drive box, common practice")
            }
            _ if gears < 5 => {
                (0.5, 0.25, "typical of a four-speed box with a rear axle, common practice")
            }
            _ => (0.6, 0.28, "typical of a five-speed box with a rear axle, common practice"),
        };
        let mut take =
            |name, value, allowed, usual| at.assumed(name, value, allowed, usual, assumptions);
        let drag =
            take("drag_nm", self.drag_nm, within(0.0, 20.0), usual(usual_nm, "N·m", reason))?;
        let growth = take(
            "drag_nm_per_krpm",
            self.drag_nm_per_krpm,
            within(0.0, 10.0),
            usual(usual_nm_per_krpm, "N·m per 1000 rpm", reason),
        )?;
        let name = "final_drive_drag_share_pct";
        let share = if in_car.coast_down && drag + growth > 0.0 {
            let reason = "held by the coast-down already, and left out here; common practice";
            take(name, self.final_drive_drag_share_pct, PERCENT, usual(40.0, "%", reason))?
        } else {
            at.optional(name, self.final_drive_drag_share_pct, PERCENT)?;
            0.0
        };
        let left = 1.0 - units::share_from_pct(share);
        Ok((drag * left, growth * left / units::radps_from_krpm(1.0)))
    }
}

/// A transmission oil of SAE 75W-80 (common practice, no source), mm²/s at 40 and at 100 °C.
const USUAL_OIL_MM2_PER_S: (f64, f64) = (55.0, 9.0);
const USUAL_OIL_WORDS: &str = "55 mm²/s at 40 °C, 9 mm²/s at 100 °C, 12 kJ/K with the casing, 6 W/K \
                               in still air and 9 W/K more at 100 km/h";
const USUAL_OIL_REASON: &str = "an SAE 75W-80 in the box of a small car, common practice";

static USUAL_OIL: LazyLock<Result<gearbox::Oil, Invalid>> = LazyLock::new(|| {
    let (at_40_c, at_100_c) = USUAL_OIL_MM2_PER_S;
    gearbox::Oil::of_even_viscosity().with_viscosity(at_40_c, at_100_c)
});

impl Oil {
    fn model(
        &self,
        at: &FieldPath,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<gearbox::Oil, Fault> {
        let mut take =
            |name, value, allowed, usual| at.assumed(name, value, allowed, usual, assumptions);
        let reason = USUAL_OIL_REASON;
        let (usual_40, usual_100) = USUAL_OIL_MM2_PER_S;
        let at_40_c = take(
            "viscosity_40_mm2_per_s",
            self.viscosity_40_mm2_per_s,
            within(5.0, 1000.0),
            usual(usual_40, "mm²/s", reason),
        )?;
        let at_100_c = take(
            "viscosity_100_mm2_per_s",
            self.viscosity_100_mm2_per_s,
            within(2.0, 100.0),
            usual(usual_100, "mm²/s", reason),
        )?;
        let capacity = take(
            "heat_capacity_kj_per_k",
            self.heat_capacity_kj_per_k,
            within(0.5, 500.0),
            usual(12.0, "kJ/K", reason),
        )?;
        let allowed = within(0.0, 1000.0);
        let still = usual(6.0, "W/K", reason);
        let still = take("still_air_w_per_k", self.still_air_w_per_k, allowed, still)?;
        let road = usual(9.0, "W/K", reason);
        let name = "road_air_w_per_k_at_100_kmh";
        let road = take(name, self.road_air_w_per_k_at_100_kmh, allowed, road)?;
        let road = road / units::mps_from_kmh(100.0).powf(CONVECTION_EXPONENT);
        let oil = gearbox::Oil {
            heat_capacity_j_per_k: units::j_from_kj(capacity),
            conductance: Conductance { still, road, ..Conductance::default() },
            ..gearbox::Oil::of_even_viscosity()
        };
        oil.with_viscosity(at_40_c, at_100_c)
            .map_err(|e| at.refuse("viscosity_100_mm2_per_s", e.value, e.allowed))
    }
}
