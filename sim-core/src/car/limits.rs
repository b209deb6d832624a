//! What stands in the way of a torque, and how much of it is left.

use super::electrics::Electrics;
use super::{Car, Instant, Parts, Spot};
use crate::limit::Limit;

/// Constants of the limits, so that asking them costs no division.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct LimitScales {
    per_peak_nm: f64,
    per_motor_a: f64,
    per_discharge_a: f64,
    per_charge_a: f64,
    per_cell_v: f64,
    per_reference_v: f64,
    /// For what the controller takes out of the pack, and for what it gives back.
    per_controller_a: f64,
    per_controller_regen_a: f64,
    /// Motor speed from which the torque tapers to nothing at the highest, rad/s.
    taper_radps: f64,
    /// Input torque that gearbox and clutch bear, N·m.
    input_nm: f64,
}

/// Share of the speed range below the highest speed over which torque falls to nothing.
pub(super) const RPM_TAPER: f64 = 0.01;

/// Scale of what is left under the controller's highest voltage without load, 1/V: on its last tenth
/// of a volt it goes off.
const PER_OVER_V: f64 = 0.1;

impl LimitScales {
    pub(super) fn new(parts: &Parts, max_radps: f64) -> Self {
        let Parts { motor, controller, pack, gearbox, .. } = parts;
        let discharge_a = pack.discharge_peak_a();
        let charge_a = pack.charge_peak_a();
        let regen_a = match controller.pack_regen_current_a {
            none if none <= 0.0 => controller.pack_current_a,
            some => some,
        };
        Self {
            per_peak_nm: 1.0 / motor.machine.envelope.largest_nm(),
            per_motor_a: 1.0 / controller.motor_current_a,
            per_discharge_a: 1.0 / discharge_a,
            per_charge_a: 1.0 / charge_a,
            per_controller_a: 1.0 / discharge_a.min(controller.pack_current_a),
            per_controller_regen_a: 1.0 / discharge_a.min(regen_a),
            per_cell_v: pack.cells_in_series() / pack.rested_v(0.5),
            per_reference_v: 1.0 / motor.machine.envelope.reference_v,
            taper_radps: (1.0 - RPM_TAPER) * max_radps,
            input_nm: gearbox.max_input_nm.min(gearbox.clutch_nm),
        }
    }
}

impl Car {
    /// How much is left of the nearest electrical limit, on a scale of about one, and which it is.
    #[inline(always)]
    pub(super) fn margin(
        &self,
        now: &Instant,
        driving: bool,
        torque: f64,
        e: &Electrics,
    ) -> (f64, Limit) {
        let Parts { motor, controller, pack, .. } = &self.parts;
        let scales = &self.limits;
        let peak_nm = motor.machine.envelope.peak_at_nm(e.at_radps) * now.motor_factor;
        let mut nearest = (f64::INFINITY, Limit::PackPower);
        let mut ask = |left: f64, scale: f64, limit: Limit| {
            let margin = left * scale;
            if margin < nearest.0 {
                nearest = (margin, limit);
            }
        };
        let torque_limit =
            if now.motor_factor < 1.0 { Limit::MotorHeat } else { Limit::MotorTorque };
        let current_limit = if now.controller_factor < 1.0 {
            Limit::ControllerHeat
        } else {
            Limit::ControllerMotorCurrent
        };
        let motor_a_left = now.controller_factor * controller.motor_current_a - e.motor_a;
        ask(motor_a_left, scales.per_motor_a, current_limit);
        let per_v = now.stretch * scales.per_reference_v;
        // Pack-side current times voltage against power spares a division.
        let power_left = |most_a: f64, power_w: f64| most_a * e.pack_v - power_w;
        if driving {
            ask(peak_nm - torque, scales.per_peak_nm, torque_limit);
            if let Some(motor_v) = e.motor_v {
                ask(e.pack_v - motor_v, per_v, Limit::MotorVoltage);
            }
            let left_w = power_left(controller.pack_current_a, e.dc_w);
            ask(left_w, scales.per_controller_a * per_v, Limit::ControllerPackCurrent);
            ask(e.pack_v - controller.min_v, per_v, Limit::ControllerVoltage);
            // Over its highest voltage before any load, it does not come on to draw one.
            ask(controller.max_v - now.pack.emf_v, PER_OVER_V, Limit::ControllerVoltage);
            let (most_a, cells) = now.pack.discharge_a;
            ask(most_a - e.pack_a, scales.per_discharge_a, cells);
            let above_v = now.pack.above_lowest_v(pack, e.pack_a);
            ask(above_v, scales.per_cell_v, Limit::CellVoltage);
            let head_w =
                now.pack.emf_v * now.pack.emf_v - 4.0 * now.pack.ohm * (e.dc_w + now.auxiliaries_w);
            ask(head_w, per_v * per_v, Limit::PackPower);
        } else {
            ask(peak_nm * motor.regen_share + torque, scales.per_peak_nm, torque_limit);
            let left_w = power_left(controller.pack_regen_current_a, -e.dc_w);
            ask(left_w, scales.per_controller_regen_a * per_v, Limit::ControllerPackCurrent);
            ask(controller.max_v - e.pack_v, per_v, Limit::ControllerVoltage);
            let (most_a, cells) = now.pack.charge_a;
            ask(most_a + e.pack_a, scales.per_charge_a, cells);
            let below_v = now.pack.below_highest_v(pack, e.pack_a);
            ask(below_v, scales.per_cell_v, Limit::CellVoltage);
        }
        nearest
    }

    /// The same at a torque alone.
    #[cold]
    pub(super) fn margin_at(&self, spot: &Spot, driving: bool, torque: f64) -> f64 {
        self.margin(spot.now, driving, torque, &self.electrics(spot, torque)).0
    }

    /// Whether gearbox, clutch, highest speed and the tyres bear a shaft torque that gives an
    /// acceleration: the same limits as in [`Self::mechanical_cap`], asked of one torque.
    #[inline]
    pub(super) fn bears(&self, spot: &Spot, torque: f64, acceleration: f64) -> bool {
        let tyre_n = self.parts.chassis.mass_kg * acceleration + spot.resistance_n;
        spot.radps <= self.limits.taper_radps
            && torque <= self.limits.input_nm
            && tyre_n <= self.grip.friction * self.driven_load_n(spot, tyre_n)
    }

    /// Share of the torque that the highest motor speed leaves: 1 below the taper or less.
    #[inline]
    pub(super) fn rpm_left(&self, spot: &Spot) -> f64 {
        ((self.max_radps - spot.radps) / (self.max_radps - self.limits.taper_radps)).max(0.0)
    }

    /// The most torque by grip, motor curve at open circuit, gearbox, clutch and highest speed.
    #[inline]
    pub(super) fn mechanical_cap(&self, spot: &Spot) -> (f64, Limit) {
        let Parts { motor, gearbox, .. } = &self.parts;
        let now = spot.now;
        let left = self.rpm_left(spot);
        let peak_nm = motor.machine.envelope.peak_at_nm(spot.radps * now.stretch);
        let mut cap = (peak_nm * now.motor_factor, Limit::MotorTorque);
        if now.motor_factor < 1.0 {
            cap.1 = Limit::MotorHeat;
        }
        if left < 1.0 && peak_nm * left < cap.0 {
            cap = (peak_nm * left, Limit::Rpm);
        }
        if gearbox.max_input_nm < cap.0 {
            cap = (gearbox.max_input_nm, Limit::GearboxTorque);
        }
        if gearbox.clutch_nm < cap.0 {
            cap = (gearbox.clutch_nm, Limit::ClutchTorque);
        }
        // The driven tyres: N is linear in the force, so F = μ·N solves at once.
        if let Some(torque) = self.gripped_nm(spot, 1.0)
            && torque < cap.0
        {
            cap = (torque.max(0.0), Limit::Grip);
        }
        cap
    }
}
