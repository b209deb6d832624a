//! Gearbox and final drive: ratios, losses, and what they bear.

use crate::Invalid;

/// One way through the box.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gear {
    /// Motor turns per turn of the wheels, final drive included.
    pub ratio: f64,
    /// Share of the power that comes out, both ways.
    pub efficiency: f64,
}

/// A box of at least one gear, final drive included.
#[derive(Debug, Clone, PartialEq)]
pub struct Gearbox {
    gears: Vec<Gear>,
    /// Drag torque at the input when it just turns, N·m.
    pub drag_nm: f64,
    /// Growth of the drag torque with input speed, N·m/(rad/s).
    pub drag_nm_per_radps: f64,
    /// Time without torque while the driver shifts, s.
    pub shift_s: f64,
    /// Highest input torque, N·m.
    pub max_input_nm: f64,
    /// Highest input speed, rad/s.
    pub max_input_radps: f64,
    /// Torque that the clutch holds, N·m; infinite where motor and box are coupled rigidly.
    pub clutch_nm: f64,
}

impl Gearbox {
    /// A box with these gears, no drag, instant shifts and no limits; set the fields as known.
    ///
    /// # Errors
    /// [`Invalid`] without gears, or with a ratio that is not positive or an efficiency outside
    /// (0, 1].
    pub fn new(gears: Vec<Gear>) -> Result<Self, Invalid> {
        if gears.is_empty() {
            return Err(Invalid::new("gears", "an empty list", "at least one gear"));
        }
        for (i, g) in gears.iter().enumerate() {
            if !(g.ratio > 0.0 && g.ratio.is_finite()) {
                return Err(Invalid::new(format!("gears[{i}].ratio"), g.ratio, "more than 0"));
            }
            if !(g.efficiency > 0.0 && g.efficiency <= 1.0) {
                return Err(Invalid::new(
                    format!("gears[{i}].efficiency"),
                    g.efficiency,
                    "more than 0 and at most 1",
                ));
            }
        }
        Ok(Self {
            gears,
            drag_nm: 0.0,
            drag_nm_per_radps: 0.0,
            shift_s: 0.0,
            max_input_nm: f64::INFINITY,
            max_input_radps: f64::INFINITY,
            clutch_nm: f64::INFINITY,
        })
    }

    /// The gears, lowest first.
    pub fn gears(&self) -> &[Gear] {
        &self.gears
    }

    /// Drag torque at the input, `T = d0 + d1·ω`, N·m, for a turning input.
    #[inline]
    pub fn drag_torque_nm(&self, input_radps: f64) -> f64 {
        self.drag_nm + self.drag_nm_per_radps * input_radps
    }
}
