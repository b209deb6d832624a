//! What a car holds on the level: for thirty minutes, and continuously.

use crate::prepared::Setup;
use crate::runs::figure::{Reading, Report, Unit, higher};
use crate::runs::limits::NamedLimit;
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::Limit;
use sim_core::car::Slope;
use sim_core::steady::{highest_continuous_speed, thirty_minute_power, thirty_minute_speed};
use sim_core::units;

/// A speed that is held on the level.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct HeldSpeed {
    /// Speed, km/h.
    pub speed_kmh: f64,
    /// Gear, counted from 1.
    pub gear: usize,
    /// What limits it.
    pub by: NamedLimit,
}

/// A power that is given at the motor's shaft.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct HeldPower {
    /// Power, kW.
    pub power_kw: f64,
    /// Motor speed, rpm.
    pub motor_rpm: f64,
    /// What limits it.
    pub by: NamedLimit,
}

/// What a car holds on the level.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct RatingReport {
    /// 30-minute speed (ISO 8715): the highest that is held for thirty minutes from the start.
    pub speed_30min: Option<HeldSpeed>,
    /// 30-minute power (UN R85): what motor and controller give for thirty minutes on a bench, fed
    /// by the pack as it is at the start.
    pub power_30min: Option<HeldPower>,
    /// The highest speed that is held continuously: motor and controller settle below their
    /// warnings, and the cells stay within their limits until the pack gives out.
    pub continuous: Option<HeldSpeed>,
}

impl Report for RatingReport {}

/// The best gear's.
fn best(setup: &Setup<'_>, of: impl Fn(usize) -> Option<(f64, Limit)> + Sync) -> Option<HeldSpeed> {
    let gears = (0..setup.car.gears()).into_par_iter();
    let found = gears.filter_map(|gear| Some((gear, of(gear)?)));
    let (gear, (mps, by)) = found.max_by(|a, b| a.1.0.total_cmp(&b.1.0))?;
    Some(HeldSpeed { speed_kmh: units::kmh_from_mps(mps), gear: gear + 1, by: NamedLimit(by) })
}

/// 30-minute speed (ISO 8715), in the best gear.
pub(crate) fn speed_30min(setup: &Setup<'_>) -> Option<HeldSpeed> {
    best(setup, |gear| thirty_minute_speed(setup.car, setup.start, gear))
}

/// What it holds, in the best gear for each.
pub fn report(setup: &Setup<'_>) -> RatingReport {
    let (car, start) = (setup.car, setup.start);
    RatingReport {
        speed_30min: speed_30min(setup),
        power_30min: thirty_minute_power(car, start).map(|found| HeldPower {
            power_kw: units::kw_from_w(found.power_w),
            motor_rpm: units::rpm_from_radps(found.radps),
            by: NamedLimit(found.by),
        }),
        continuous: best(setup, |gear| highest_continuous_speed(car, start, Slope::LEVEL, gear)),
    }
}

/// Or never.
fn kmh(held: Option<&HeldSpeed>) -> Option<f64> {
    Some(held.map_or(f64::NAN, |held| held.speed_kmh))
}

/// The figures of what a car holds.
pub const FIGURES: &[Reading<RatingReport>] = &[
    higher(
        "speed_30min_kmh",
        Unit::Kmh,
        "highest speed on the level that is held for thirty minutes (ISO 8715)",
        |r| kmh(r.speed_30min.as_ref()),
    ),
    higher(
        "power_30min_kw",
        Unit::Kw,
        "power at the motor's shaft for thirty minutes on a bench, fed by the pack as it is at the \
         start (UN R85)",
        |r| Some(r.power_30min.as_ref().map_or(0.0, |held| held.power_kw)),
    ),
    higher(
        "continuous_kmh",
        Unit::Kmh,
        "highest speed on the level that is held continuously, until the pack gives out",
        |r| kmh(r.continuous.as_ref()),
    ),
];
