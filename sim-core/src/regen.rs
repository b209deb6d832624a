//! How hard the car slows on lift-off.

use crate::car::{Car, Flow, Request, Slope};
use crate::state::State;

/// What happens at the instant after lifting the foot at a speed on the level.
///
/// The state gives charge and temperatures; its speed is replaced.
pub fn lift_off(car: &Car, state: &State, gear: usize, speed_mps: f64) -> Flow {
    let state = State { speed_mps, ..*state };
    let now = car.now(&state, 0.0);
    car.act(&now, speed_mps, Slope::LEVEL, gear, Request::LiftOff)
}
