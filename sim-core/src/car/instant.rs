//! The car at an instant: what changes slowly, worked out once, and where it is.

use super::driveline::Gearing;
use super::{Car, Slope};
use crate::heat::Node;
use crate::motor;
use crate::pack::PackNow;
use crate::state::State;

/// The slow part of the state, worked out once for an instant or a step.
#[derive(Debug, Clone, Copy)]
pub struct Instant {
    /// The pack.
    pub pack: PackNow,
    /// Growth of copper loss.
    pub(super) copper_factor: f64,
    /// Share of motor torque left by its winding temperature.
    pub motor_factor: f64,
    /// Share of motor current left by the heat sink's temperature.
    pub controller_factor: f64,
    /// Power of the auxiliaries, W.
    pub(super) auxiliaries_w: f64,
    pub(super) heater_w: f64,
    /// Growth of rolling resistance on tyres that are not yet run warm.
    pub(super) tyre_factor: f64,
    /// Growth of the gearbox's drag with its oil.
    pub(super) oil_factor: f64,
    /// The motor's reference voltage over the pack's electromotive force.
    pub(super) stretch: f64,
}

impl Instant {
    /// Adds a load on the traction pack besides the car's own auxiliaries, W.
    #[inline]
    pub fn add_load(&mut self, load_w: f64) {
        self.auxiliaries_w += load_w;
    }
}

/// A car at an instant: speed, road and gear, and what follows from them.
pub(super) struct Spot<'a> {
    pub(super) now: &'a Instant,
    pub(super) gearing: &'a Gearing,
    pub(super) speed_mps: f64,
    pub(super) slope: Slope,
    /// Shaft speed of the motor, rad/s.
    pub(super) radps: f64,
    /// Drag torque of the gearbox, N·m.
    pub(super) drag_nm: f64,
    pub(super) rolling_n: f64,
    pub(super) air_n: f64,
    /// Rolling, air and grade force, N.
    pub(super) resistance_n: f64,
}

impl Car {
    /// Works out the slow part of a state for a step of `step_s` (0: for the instant).
    #[inline(always)]
    pub fn now(&self, state: &State, step_s: f64) -> Instant {
        let parts = &self.parts;
        let winding_k = state.temperature_k[Node::Winding];
        let pack = parts.pack.now(&self.pack_curves, state, step_s);
        let heater_w =
            parts.auxiliaries.cabin.map_or(0.0, |c| c.heater_w(state.temperature_k[Node::Cabin]));
        let reference_v = parts.motor.machine.envelope.reference_v;
        let mut instant = Instant {
            stretch: reference_v / pack.emf_v.max(1e-3),
            pack,
            copper_factor: (winding_k - motor::NO_RESISTANCE_K) * self.per_copper_k,
            motor_factor: parts.motor.derating.factor(winding_k),
            controller_factor: parts.controller.derating.factor(state.temperature_k[Node::Sink]),
            auxiliaries_w: self.steady_w + heater_w,
            heater_w,
            tyre_factor: self.tyre_factor(state.tyre_chill_k),
            oil_factor: parts.gearbox.oil.drag_growth.at(state.temperature_k[Node::Oil]),
        };
        // Written into its place, so that a pack in one box is copied nowhere.
        if !parts.pack.others.is_empty() {
            instant.pack = parts.pack.now_in_boxes(&self.pack_curves, state, step_s);
            instant.stretch = reference_v / instant.pack.emf_v.max(1e-3);
        }
        instant
    }

    #[inline(always)]
    pub(super) fn spot<'a>(
        &'a self,
        now: &'a Instant,
        speed_mps: f64,
        slope: Slope,
        gear: usize,
    ) -> Spot<'a> {
        let gearing = &self.gearings[gear];
        let radps = gearing.per_m * speed_mps;
        let rolling_n =
            self.road.rolling(speed_mps, slope.cos) * now.tyre_factor + self.road.bearings_n;
        let air_n = self.road.air(speed_mps);
        Spot {
            now,
            gearing,
            speed_mps,
            slope,
            radps,
            drag_nm: self.parts.gearbox.drag_torque_nm(radps) * now.oil_factor,
            rolling_n,
            air_n,
            resistance_n: rolling_n + air_n + self.weight_n * slope.sin,
        }
    }
}
