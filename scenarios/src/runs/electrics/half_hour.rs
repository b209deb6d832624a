//! What the car can be asked for half an hour.

use crate::prepared::Setup;
use crate::runs::electrics::leads::Lead;
use crate::runs::rating;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::car::{Request, Slope};
use sim_core::{State, units};

/// The highest speed that the car holds on the level for thirty minutes (ISO 8715), and what flows
/// as it begins.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct HalfHourReport {
    /// Speed, km/h.
    pub speed_kmh: f64,
    /// Gear, counted from 1.
    pub gear: usize,
    /// Current of the pack's lead, A.
    pub pack_a: f64,
    /// Current of a motor lead, A.
    pub motor_a: f64,
    /// Whether that is with warm cells, where the scenario's are cold.
    pub warm: bool,
}

impl HalfHourReport {
    /// What flows in a lead, where it is known.
    pub(super) fn of(&self, lead: Lead) -> Option<f64> {
        match lead {
            Lead::Pack => Some(self.pack_a),
            Lead::Motor => Some(self.motor_a),
            _ => None,
        }
    }
}

/// What flows as the highest speed of half an hour begins; `None` where the car holds none.
pub(super) fn half_hour(setup: &Setup<'_>, warm: bool) -> Option<HalfHourReport> {
    let held = rating::speed_30min(setup)?;
    let speed_mps = units::mps_from_kmh(held.speed_kmh);
    // The short peaks of the cells were used up in reaching it.
    let state = State { speed_mps, peak_reserve: 0.0, ..*setup.start };
    let now = setup.car.now(&state, 0.0);
    let steady = Request::Accelerate(0.0);
    let flow = setup.car.act(&now, speed_mps, Slope::LEVEL, held.gear - 1, steady);
    Some(HalfHourReport {
        speed_kmh: held.speed_kmh,
        gear: held.gear,
        pack_a: flow.pack_a,
        motor_a: flow.motor_a,
        warm,
    })
}
