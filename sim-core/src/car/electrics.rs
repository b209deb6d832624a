//! Motor, controller and pack at a torque.

use super::{Car, Instant, Parts, Spot};
use crate::motor::{Field, MotorLoss};

/// Operation of motor, controller and pack.
#[derive(Clone, Copy, Default)]
pub(super) struct Electrics {
    pub(super) loss: MotorLoss,
    pub(super) motor_a: f64,
    /// At the terminals of a series motor; other machines follow the pack.
    pub(super) motor_v: Option<f64>,
    pub(super) controller_w: f64,
    pub(super) dc_w: f64,
    pub(super) pack_a: f64,
    pub(super) pack_v: f64,
    /// Shaft speed scaled to the motor's reference voltage, rad/s.
    pub(super) at_radps: f64,
}

impl Electrics {
    /// The mean of this, for a share of the time, and of another for the rest.
    pub(super) fn mixed(&self, other: &Self, share: f64) -> Self {
        let mean = |own: f64, other: f64| other + share * (own - other);
        Self {
            loss: MotorLoss {
                copper_w: mean(self.loss.copper_w, other.loss.copper_w),
                iron_w: mean(self.loss.iron_w, other.loss.iron_w),
                windage_w: mean(self.loss.windage_w, other.loss.windage_w),
            },
            motor_a: mean(self.motor_a, other.motor_a),
            motor_v: self.motor_v,
            controller_w: mean(self.controller_w, other.controller_w),
            dc_w: mean(self.dc_w, other.dc_w),
            pack_a: mean(self.pack_a, other.pack_a),
            pack_v: mean(self.pack_v, other.pack_v),
            at_radps: mean(self.at_radps, other.at_radps),
        }
    }
}

/// Motor speed below which its drag is taken as nothing, rad/s.
const STILL_RADPS: f64 = 1e-6;

impl Car {
    /// Motor, controller and pack at a shaft torque with the motor powered.
    ///
    /// Field weakening follows the terminal voltage, which follows the power: one pass from the
    /// open circuit fixes it.
    #[inline(always)]
    pub(super) fn electrics(&self, spot: &Spot, torque: f64) -> Electrics {
        let Parts { motor, controller, .. } = &self.parts;
        let (now, radps) = (spot.now, spot.radps);
        let shaft_w = torque * radps;
        let full_v = motor.machine.full_field_v(radps);
        let (mut volts, mut again) = (now.pack.emf_v, false);
        loop {
            let point = motor.machine.operating_point(torque, radps, Field::at(volts, full_v));
            let loss = motor.loss(&point, now.copper_factor);
            let motor_a = point.current_a;
            let controller_w = controller.loss_w(motor_a);
            let dc_w = shaft_w + loss.total_w() + controller_w;
            let (pack_a, pack_v) = now.pack.terminals(dc_w + now.auxiliaries_w);
            if again || volts >= full_v && pack_v >= full_v {
                let at_radps = radps * motor.machine.envelope.reference_v / pack_v.max(1e-3);
                let motor_v = motor.machine.terminal_v(&point, &loss);
                return Electrics {
                    loss,
                    motor_a,
                    motor_v,
                    controller_w,
                    dc_w,
                    pack_a,
                    pack_v,
                    at_radps,
                };
            }
            (volts, again) = (pack_v, true);
        }
    }

    /// Controller and pack with the motor unpowered.
    #[inline]
    pub(super) fn idle(&self, now: &Instant, loss: MotorLoss, controller_w: f64) -> Electrics {
        let (pack_a, pack_v) = now.pack.terminals(controller_w + now.auxiliaries_w);
        let dc_w = controller_w;
        Electrics { loss, controller_w, dc_w, pack_a, pack_v, ..Electrics::default() }
    }

    /// Drag torque of the unpowered motor, N·m (positive), and the losses that make it.
    #[inline]
    pub(super) fn unpowered(&self, radps: f64) -> (f64, MotorLoss) {
        if radps <= STILL_RADPS {
            return (0.0, MotorLoss::default());
        }
        let (iron_w, windage_w) = self.parts.motor.unpowered_drag_w(radps);
        ((iron_w + windage_w) / radps, MotorLoss { copper_w: 0.0, iron_w, windage_w })
    }
}
