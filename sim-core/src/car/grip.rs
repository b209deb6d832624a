//! How hard the tyres hold: while driving, in regen, with all brakes.

use super::{Car, Instant, Request, Slope, Spot};
use crate::limit::Limit;
use crate::tyre::DrivenAxle;

impl Car {
    /// Normal force on the driven wheels while they and the brakes push with a force, N.
    #[inline]
    pub(super) fn driven_load_n(&self, spot: &Spot, drive_n: f64) -> f64 {
        self.grip.driven_load_n(self.weight_n * spot.slope.cos, drive_n, spot.rolling_n)
    }

    /// Hardest slowdown that the tyres of both axles hold, m/s² (negative).
    #[inline]
    pub(super) fn hardest_stop(&self, spot: &Spot) -> f64 {
        let hold_n = self.grip.friction * self.weight_n * spot.slope.cos;
        -(hold_n + spot.resistance_n - spot.rolling_n) / self.parts.chassis.mass_kg
    }

    /// Force of the driven wheels on the road at which their tyres let go while the motor alone
    /// pushes, N; `None` where the weight that shifts onto them always holds.
    pub fn gripped_n(&self, now: &Instant, speed_mps: f64, slope: Slope) -> Option<f64> {
        self.gripped_tyre_n(&self.spot(now, speed_mps, slope, 0), 1.0)
    }

    /// Force of the driven wheels on the road with full throttle at a speed that is held, N: with
    /// the torque of full throttle, of which the inertia of rotor and wheels takes nothing, as far as
    /// the tyres hold. It is what a tractive-effort diagram shows (Wong, Theory of Ground Vehicles,
    /// chapter 3, from memory); 0 where the motor only drags.
    pub fn full_held_n(&self, now: &Instant, speed_mps: f64, slope: Slope, gear: usize) -> f64 {
        let spot = self.spot(now, speed_mps, slope, gear);
        let flow = self.act(now, speed_mps, slope, gear, Request::FullThrottle);
        let wheel_n = self.wheel_n(&spot, flow.torque_nm, 0.0).max(0.0);
        match self.gripped_tyre_n(&spot, 1.0) {
            // Where the car slows, the torque at which the tyres let go is less than it would be.
            Some(tyre_n) if flow.limit == Some(Limit::Grip) => tyre_n,
            Some(tyre_n) => wheel_n.min(tyre_n),
            None => wheel_n,
        }
    }

    /// Shaft torque at which the driven tyres let go when the motor alone pushes (`way` 1) or
    /// slows (−1), N·m; `None` where the weight that shifts onto them always holds.
    #[inline]
    pub(super) fn gripped_nm(&self, spot: &Spot, way: f64) -> Option<f64> {
        let tyre_n = self.gripped_tyre_n(spot, way)?;
        let acceleration = (tyre_n - spot.resistance_n) / self.parts.chassis.mass_kg;
        let wheel_n = tyre_n + self.wheels_kg() * acceleration;
        Some(self.shaft_nm(spot, wheel_n, acceleration))
    }

    /// The same as a force between tyres and road, N.
    #[inline]
    fn gripped_tyre_n(&self, spot: &Spot, way: f64) -> Option<f64> {
        let grip = &self.grip;
        let at_rest_n = self.driven_load_n(spot, 0.0);
        let gain = match grip.driven {
            DrivenAxle::Front => -grip.height_share,
            DrivenAxle::Rear => grip.height_share,
            DrivenAxle::Both => 0.0,
        };
        let room = 1.0 - way * grip.friction * gain;
        if room <= 0.0 {
            return None;
        }
        Some(way * grip.friction * at_rest_n / room)
    }

    /// The regen torque at which the driven tyres let go, N·m (positive), when all brakes together
    /// give `tyre_n` at the road. Friction brakes keep their balance, so more regen means less
    /// friction on both axles: `F_regen + (F − F_regen)·share = μ·N`.
    #[inline]
    pub(super) fn grip_cap_nm(&self, spot: &Spot, tyre_n: f64, acceleration: f64) -> f64 {
        let share = self.driven_brake_share;
        let hold_n = self.grip.friction * self.driven_load_n(spot, tyre_n);
        let regen_n =
            if share < 1.0 { ((hold_n + tyre_n * share) / (1.0 - share)).max(0.0) } else { hold_n };
        let wheel_n = self.wheels_kg() * acceleration - regen_n;
        (-self.shaft_nm(spot, wheel_n, acceleration)).max(0.0)
    }
}
