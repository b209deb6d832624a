//! The driver: follows a trace with the pedals, and chooses gears.

use crate::car::{Car, Request, Slope};
use crate::state::State;
use crate::trace::Stretch;

/// How the driver chooses gears.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shifting {
    /// One gear for everything.
    Fixed(usize),
    /// Up above a motor speed, down below another.
    Window {
        /// Motor speed above which the next gear is taken, rad/s.
        up_radps: f64,
        /// Motor speed below which the gear below is taken, rad/s.
        down_radps: f64,
    },
    /// The gear that takes the least power from the pack.
    Efficient,
    /// The gear that pulls hardest.
    Quick,
}

/// A driver.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Driver {
    /// How gears are chosen.
    pub shifting: Shifting,
    /// Gear for pulling away.
    pub start_gear: usize,
}

/// Time constant with which the driver takes back a lag, s (common practice, no source).
pub const CATCH_UP_S: f64 = 1.0;
/// Least time between two shifts, s (common practice, no source).
pub const DWELL_S: f64 = 3.0;
/// Speed below which the car stands, m/s: what is left of a lag that fades without end.
const AT_REST_MPS: f64 = 1e-6;
/// Power that another gear must save before the driver bothers to shift, as a share.
const WORTH_SHIFTING: f64 = 0.03;
/// Power below which savings are weighed as if it were drawn, W (common practice, no source).
const WORTH_NOTING_W: f64 = 300.0;

impl Driver {
    /// Speed at the end of a step: the trace's, and what is left of the lag,
    /// `v = v_trace + (v0 − v_trace0)·e^(−h/τ)`, never backwards.
    ///
    /// It is the exact answer of a driver who asks for `a = a_trace − (v − v_trace)/τ`.
    #[inline]
    pub fn aim_mps(speed_mps: f64, trace_mps: f64, trace_end_mps: f64, keep: f64) -> f64 {
        let aim = trace_end_mps + (speed_mps - trace_mps) * keep;
        if aim > AT_REST_MPS { aim } else { 0.0 }
    }

    /// The gear for the next stretch of a trace.
    ///
    /// Decided once a stretch, from the trace ahead and not from the integrator's steps, so that
    /// the same shifts come at any step size.
    pub fn gear(
        &self,
        car: &Car,
        state: &State,
        gear: usize,
        stretch: &Stretch,
        held_back: bool,
    ) -> usize {
        let speed_mps = state.speed_mps;
        let top = car.gears() - 1;
        if speed_mps == 0.0 {
            return match self.shifting {
                Shifting::Fixed(fixed) => fixed,
                _ => self.start_gear,
            };
        }
        let ahead_mps = stretch.to_mps.max(if held_back { speed_mps } else { 0.0 });
        match self.shifting {
            Shifting::Fixed(fixed) => fixed,
            Shifting::Window { up_radps, down_radps } => {
                let radps = car.motor_radps(gear, ahead_mps);
                if radps > up_radps && gear < top {
                    gear + 1
                } else if radps < down_radps && gear > self.start_gear
                    || held_back && gear > 0 && self.lower_is_quicker(car, state, gear)
                {
                    gear - 1
                } else {
                    gear
                }
            }
            Shifting::Efficient | Shifting::Quick => {
                self.weighed(car, state, gear, ahead_mps, stretch)
            }
        }
    }

    /// Whether the gear below pulls harder here without running out of speed.
    fn lower_is_quicker(&self, car: &Car, state: &State, gear: usize) -> bool {
        let lower = gear - 1;
        let allowed_radps = match self.shifting {
            Shifting::Window { up_radps, .. } => up_radps.min(0.95 * car.max_radps()),
            _ => 0.95 * car.max_radps(),
        };
        let speed_mps = state.speed_mps;
        if car.motor_radps(lower, speed_mps) >= allowed_radps {
            return false;
        }
        let now = car.now(state, 0.0);
        let pull = |g| car.act(&now, speed_mps, Slope::LEVEL, g, Request::FullThrottle).drive_n;
        pull(lower) > 1.02 * pull(gear)
    }

    /// The gear with the least pack power (or the hardest pull) at the end of a stretch. A shift
    /// counts with what the clutch takes from the spinning rotor and what regen gives up during
    /// it, spread over the time for which a gear is kept at least.
    fn weighed(
        &self,
        car: &Car,
        state: &State,
        gear: usize,
        ahead_mps: f64,
        stretch: &Stretch,
    ) -> usize {
        if ahead_mps <= 0.0 {
            return gear;
        }
        let now = car.now(state, 0.0);
        let slope = Slope { sin: stretch.sin_grade, cos: stretch.cos_grade };
        let wanted = (stretch.to_mps - stretch.from_mps) / stretch.for_s;
        let rank = |g: usize| {
            if car.motor_radps(g, ahead_mps) > 0.97 * car.max_radps() {
                return f64::INFINITY;
            }
            if self.shifting == Shifting::Quick {
                let pull = car.act(&now, ahead_mps, slope, g, Request::FullThrottle).drive_n;
                return 1.0 / pull.max(1e-9);
            }
            let flow = car.act(&now, ahead_mps, slope, g, Request::Accelerate(wanted));
            let short = (wanted - flow.acceleration_mps2).max(0.0);
            flow.pack_v * flow.pack_a + 1e6 * short
        };
        let present = rank(gear);
        let price = |g: usize| {
            if self.shifting == Shifting::Quick {
                return 0.0;
            }
            let (_, clutch_j) = car.engage(g, state.speed_mps, gear, state.speed_mps);
            let regen_j = (-present).max(0.0) * car.parts().gearbox.shift_s;
            (clutch_j + regen_j) / DWELL_S
        };
        let ranked = |g: usize| (g, if g == gear { present } else { rank(g) + price(g) });
        let (best, least) = (0..car.gears())
            .map(ranked)
            .min_by(|a, b| a.1.total_cmp(&b.1))
            .unwrap_or((gear, present));
        let saved = present - least;
        // Small savings, and ties broken by rounding, are not worth a shift.
        let worth = match self.shifting {
            Shifting::Quick => WORTH_SHIFTING * present,
            _ => WORTH_SHIFTING * present.abs().max(WORTH_NOTING_W),
        };
        if saved > worth || !present.is_finite() { best } else { gear }
    }
}
