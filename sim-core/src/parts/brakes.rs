//! Friction brakes and the two regen settings that spare them.

use crate::car::{Car, Flow, Request, Slope};
use crate::state::State;

/// How regen and friction share a slowdown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Braking {
    /// Motor torque on lift-off, N·m (0: the car rolls free).
    pub lift_off_nm: f64,
    /// Further motor torque while the brake pedal is down, N·m.
    pub brake_pedal_nm: f64,
    /// Road speed below which regen is off, m/s.
    pub fade_out_mps: f64,
    /// Road speed above which regen is whole, m/s.
    pub full_above_mps: f64,
    /// Front brakes' share of the friction force.
    pub friction_front_share: f64,
}

impl Braking {
    /// Friction brakes alone, with the front brakes' share of their force.
    pub fn friction(friction_front_share: f64) -> Self {
        Self {
            lift_off_nm: 0.0,
            brake_pedal_nm: 0.0,
            fade_out_mps: 1.4,
            full_above_mps: 4.0,
            friction_front_share,
        }
    }

    /// Share of regen at a road speed: 0 below the fade-out speed, 1 above the full one, a line
    /// between (common practice, no source).
    #[inline]
    pub fn fade(&self, speed_mps: f64) -> f64 {
        ((speed_mps - self.fade_out_mps) / (self.full_above_mps - self.fade_out_mps))
            .clamp(0.0, 1.0)
    }
}

/// What happens at the instant after lifting the foot at a speed on the level.
///
/// The state gives charge and temperatures; its speed is replaced.
pub fn pedals_up(car: &Car, state: &State, gear: usize, speed_mps: f64) -> Flow {
    let state = State { speed_mps, ..*state };
    let now = car.now(&state, 0.0);
    car.act(&now, speed_mps, Slope::LEVEL, gear, Request::LiftOff)
}
