//! How hard the tyres hold: while driving, in regen, with all brakes.

use super::{Car, Instant, Slope, Spot};
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

    /// Force of the driven wheels at which their tyres let go while the motor alone pushes, N; `None`
    /// where the weight that shifts onto them always holds.
    pub fn gripped_n(&self, now: &Instant, speed_mps: f64, slope: Slope) -> Option<f64> {
        Some(self.gripped(&self.spot(now, speed_mps, slope, 0), 1.0)?.0)
    }

    /// Shaft torque at which the driven tyres let go when the motor alone pushes (`way` 1) or
    /// slows (−1), N·m; `None` where the weight that shifts onto them always holds.
    #[inline]
    pub(super) fn gripped_nm(&self, spot: &Spot, way: f64) -> Option<f64> {
        let (wheel_n, acceleration) = self.gripped(spot, way)?;
        Some(self.shaft_nm(spot, wheel_n, acceleration))
    }

    /// The same as a force of the driven wheels, N, with the acceleration that it gives, m/s².
    #[inline]
    fn gripped(&self, spot: &Spot, way: f64) -> Option<(f64, f64)> {
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
        let tyre_n = way * grip.friction * at_rest_n / room;
        let acceleration = (tyre_n - spot.resistance_n) / self.parts.chassis.mass_kg;
        Some((tyre_n + self.wheels_kg() * acceleration, acceleration))
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
