//! Gearbox and final drive: ratios, losses, and what they bear.

use crate::cooling::Conductance;
use crate::{Curve, Invalid, units};

/// The oil of gearbox and final drive, with the casing that it warms.
#[derive(Debug, Clone, PartialEq)]
pub struct Oil {
    /// Heat capacity of oil, casing and gears, J/K.
    pub heat_capacity_j_per_k: f64,
    /// From the casing to the air.
    pub conductance: Conductance,
    /// Drag over that with oil of 40 °C, by the oil's temperature in K.
    pub drag_growth: Curve,
}

/// Exponent of the drag torque's growth with the oil's viscosity.
///
/// Rolling bearings and churned oil have up to 2/3 (Palmgren's no-load torque, `(ν·n)^(2/3)`, as in
/// ISO/TR 14179-2, from memory), seals and preloaded bearings hardly any; a third for the whole box is
/// common practice without a source. It makes a box twice as hard to turn where oil is eight times
/// as thick, as manual boxes are between −7 and 20 °C (from memory).
pub const DRAG_BY_VISCOSITY: f64 = 1.0 / 3.0;

/// Kinematic viscosity of an oil at a temperature, mm²/s, from that at 40 and at 100 °C:
/// `lg lg (ν + 0.7) = A − B·lg T`.
///
/// Valid above 2 mm²/s and below the pour point's thickening. Source: ASTM D341 (Walther's equation).
pub fn viscosity_mm2_per_s(at_40_c: f64, at_100_c: f64, oil_k: f64) -> f64 {
    let twice_lg = |v: f64| (v + 0.7).log10().log10();
    let (warm_lg, hot_lg) = (units::k_from_c(40.0).log10(), units::k_from_c(100.0).log10());
    let fall = (twice_lg(at_40_c) - twice_lg(at_100_c)) / (hot_lg - warm_lg);
    let lg = 10f64.powf(twice_lg(at_40_c) - fall * (oil_k.log10() - warm_lg));
    10f64.powf(lg) - 0.7
}

impl Oil {
    /// Two litres of oil in the casing of a small car's box, equally thick at any temperature: 12 kJ/K
    /// and 6 W/K in still air, as much again at 60 km/h (common practice, no source).
    pub fn of_even_viscosity() -> Self {
        Self {
            heat_capacity_j_per_k: 12_000.0,
            conductance: Conductance { still: 6.0, road: 0.63, ..Conductance::default() },
            drag_growth: Curve::constant(1.0),
        }
    }

    /// The same of an oil with these viscosities at 40 and at 100 °C, mm²/s: drag grows by
    /// `(ν/ν_40)^`[`DRAG_BY_VISCOSITY`] between −40 and 140 °C.
    ///
    /// # Errors
    /// [`Invalid`] where the oil is not thinner at 100 °C, or thinner than 2 mm²/s there.
    pub fn with_viscosity(self, at_40_c: f64, at_100_c: f64) -> Result<Self, Invalid> {
        if !(at_100_c >= 2.0 && at_100_c < at_40_c && at_40_c.is_finite()) {
            let allowed = format!("2 or more, and less than at 40 °C, {at_40_c}");
            return Err(Invalid::new("viscosity at 100 °C", at_100_c, allowed));
        }
        let points: [(f64, f64); 37] = std::array::from_fn(|i| {
            let oil_k = units::k_from_c(5.0 * i as f64 - 40.0);
            let thicker = viscosity_mm2_per_s(at_40_c, at_100_c, oil_k) / at_40_c;
            (oil_k, thicker.powf(DRAG_BY_VISCOSITY))
        });
        Ok(Self { drag_growth: Curve::new(&points)?, ..self })
    }
}

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
    /// Drag torque at the input when it just turns, with oil of 40 °C, N·m.
    pub drag_nm: f64,
    /// Growth of the drag torque with input speed, with oil of 40 °C, N·m/(rad/s).
    pub drag_nm_per_radps: f64,
    /// Its oil, which its losses warm.
    pub oil: Oil,
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
            oil: Oil::of_even_viscosity(),
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

    /// Drag torque at the input with oil of 40 °C, `T = d0 + d1·ω`, N·m, for a turning input.
    #[inline]
    pub fn drag_torque_nm(&self, input_radps: f64) -> f64 {
        self.drag_nm + self.drag_nm_per_radps * input_radps
    }
}
