//! The motor controller: its current and voltage limits, its losses, its heat sink.

use crate::cooling::Cooling;
use crate::limit::NO_LIMIT;

/// Derating between a warning and a cut-off temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Derating {
    /// Temperature at which cutting back begins, K.
    pub warning_k: f64,
    /// Temperature at which nothing is left, K.
    pub cut_off_k: f64,
}

impl Derating {
    /// Nothing is cut back at any temperature of a car.
    pub const NEVER: Derating = Derating { warning_k: NO_LIMIT, cut_off_k: 2.0 * NO_LIMIT };

    /// Share left at a temperature: 1 up to the warning, 0 from the cut-off, a line between.
    #[inline]
    pub fn factor(&self, temperature_k: f64) -> f64 {
        if temperature_k <= self.warning_k {
            return 1.0;
        }
        ((self.cut_off_k - temperature_k) / (self.cut_off_k - self.warning_k)).clamp(0.0, 1.0)
    }
}

/// A controller (inverter, or chopper of a direct-current motor).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Controller {
    /// Largest current from the pack, A.
    pub pack_current_a: f64,
    /// Largest current into the pack, A.
    pub pack_regen_current_a: f64,
    /// Largest current to the motor, A (root mean square for alternating current).
    pub motor_current_a: f64,
    /// Voltage below which it stops, V.
    pub min_v: f64,
    /// Voltage above which it stops, V.
    pub max_v: f64,
    /// Loss when it is switched on, W.
    pub fixed_loss_w: f64,
    /// Loss per ampere of motor current, W/A.
    pub loss_w_per_a: f64,
    /// Loss per square ampere of motor current, W/A².
    pub loss_w_per_a2: f64,
    /// Heat capacity of heat sink and base plate, J/K.
    pub heat_capacity_j_per_k: f64,
    /// Where the heat goes.
    pub cooling: Cooling,
    /// Cutting back of the motor current with heat-sink temperature.
    pub derating: Derating,
}

impl Controller {
    /// A controller without losses and without limits; set the fields as known.
    pub fn ideal() -> Self {
        Self {
            pack_current_a: NO_LIMIT,
            pack_regen_current_a: NO_LIMIT,
            motor_current_a: NO_LIMIT,
            min_v: 0.0,
            max_v: NO_LIMIT,
            fixed_loss_w: 0.0,
            loss_w_per_a: 0.0,
            loss_w_per_a2: 0.0,
            heat_capacity_j_per_k: 4000.0,
            cooling: Cooling::Air { still_w_per_k: 5.0, fan_w_per_k: 0.0, road_w_per_k: 1.0 },
            derating: Derating::NEVER,
        }
    }

    /// Loss at a motor current, `P = c0 + c1·I + c2·I²`, W.
    ///
    /// The quadratic form is that of switch conduction and switching losses at constant voltage
    /// (common practice, no source).
    #[inline]
    pub fn loss_w(&self, motor_current_a: f64) -> f64 {
        self.fixed_loss_w
            + self.loss_w_per_a * motor_current_a
            + self.loss_w_per_a2 * (motor_current_a * motor_current_a)
    }
}
