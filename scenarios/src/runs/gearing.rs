//! What each gear does: speed per rpm, force, and how steep it pulls away.

use crate::prepared::Setup;
use crate::runs::grade::grade_pct;
use crate::runs::limits::NamedLimit;
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::car::{Request, Slope};
use sim_core::pull::steepest_start;
use sim_core::steady::continuous_force;
use sim_core::units;

/// One gear.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct GearRow {
    /// Gear, counted from 1.
    pub gear: usize,
    /// Motor turns per wheel turn.
    pub overall_ratio: f64,
    /// Speed per 1000 rpm, km/h.
    pub kmh_per_krpm: f64,
    /// Speed at the highest rpm of motor and gearbox, km/h.
    pub top_by_rpm_kmh: f64,
    /// Force of the driven wheels when pulling away at full throttle, N.
    pub peak_force_n: f64,
    /// What limits it.
    pub peak_by: Option<NamedLimit>,
    /// Force that is held continuously at the motor's base speed, N: motor and controller settle
    /// below their warnings, and the cells stay within their limits until the pack gives out; `null`
    /// where not even the level road is held.
    pub continuous_force_n: Option<f64>,
    /// What limits it.
    pub continuous_by: Option<NamedLimit>,
    /// Grade that takes the continuous force, %.
    pub continuous_grade_pct: Option<f64>,
    /// Speed at the motor's base speed, km/h.
    pub base_kmh: f64,
    /// Steepest grade on which the car pulls away, %.
    pub steepest_start_pct: f64,
}

/// The gearing table, in parallel.
pub fn table(setup: &Setup<'_>) -> Vec<GearRow> {
    let car = setup.car;
    let parts = car.parts();
    let base_radps = parts.motor.machine.envelope.base_radps.min(0.9 * car.max_radps());
    (0..car.gears())
        .into_par_iter()
        .map(|g| {
            let now = car.now(setup.start, 0.0);
            let pull = car.act(&now, 0.0, Slope::LEVEL, g, Request::FullThrottle);
            let per_radps = parts.rolling_radius_m / parts.gearbox.gears()[g].ratio;
            let base_mps = base_radps * per_radps;
            let continuous = continuous_force(car, setup.start, base_mps, g);
            GearRow {
                gear: g + 1,
                overall_ratio: parts.gearbox.gears()[g].ratio,
                kmh_per_krpm: units::kmh_from_mps(units::radps_from_rpm(1000.0) * per_radps),
                top_by_rpm_kmh: units::kmh_from_mps(car.top_speed_by_rpm_mps(g)),
                peak_force_n: pull.drive_n,
                peak_by: pull.limit.map(NamedLimit),
                continuous_force_n: continuous.map(|c| c.force_n),
                continuous_by: continuous.and_then(|c| c.by).map(NamedLimit),
                continuous_grade_pct: continuous.map(|c| grade_pct(c.slope)),
                base_kmh: units::kmh_from_mps(base_mps),
                steepest_start_pct: units::pct_from_share(steepest_start(car, setup.start, g)),
            }
        })
        .collect()
}
