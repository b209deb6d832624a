//! Cooling: where a part's heat goes, and how well.

/// Where a part's heat goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Cooling {
    /// Into the air around: `G = g0 + g_fan·ω^0.8 + g_road·v^0.8`.
    ///
    /// The exponent is that of turbulent forced convection over a plate or in a duct, Nu ∝ Re^0.8
    /// (Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, from memory).
    Air {
        /// Conductance in still air, W/K.
        still_w_per_k: f64,
        /// Conductance of the shaft's own fan, W/K per (rad/s)^0.8.
        fan_w_per_k: f64,
        /// Conductance of the road's air, W/K per (m/s)^0.8.
        road_w_per_k: f64,
    },
    /// Into a coolant that is held at a temperature.
    Liquid {
        /// Conductance to the coolant, W/K.
        conductance_w_per_k: f64,
        /// Coolant temperature, K.
        coolant_k: f64,
    },
}

/// Exponent of forced convection in [`Cooling::Air`].
pub const CONVECTION_EXPONENT: f64 = 0.8;

/// `x^0.8` of a speed, to rounding, at a third of the cost of `powf`.
///
/// It is `x·y` with `y = x^(−1/5)`: a fifth of the bits of a float is nearly a fifth of its
/// logarithm (a sixteenth of an octave less halves the largest error), and two steps of fourth
/// order on `r = 1 − x·y⁵`, with the binomial series
/// `(1 − r)^(−1/5) = 1 + r/5 + 3r²/25 + 11r³/125 + …`, do the rest.
#[inline]
pub(crate) fn convection_power(x: f64) -> f64 {
    const GUESS_BITS: u64 = 1.0_f64.to_bits() / 5 * 6 - (1 << 48);
    if x <= 0.0 {
        return 0.0;
    }
    let mut y = f64::from_bits(GUESS_BITS - x.to_bits() / 5);
    for _ in 0..2 {
        let square = y * y;
        let r = 1.0 - x * y * (square * square);
        y += y * r * (0.2 + r * (0.12 + r * 0.088));
    }
    x * y
}

/// The air that moves past the parts.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Wind {
    /// Shaft speed of the motor (rad/s) to the power of convection.
    pub shaft_08: f64,
    /// Road speed (m/s) to the power of convection.
    pub road_08: f64,
}

/// A conductance, W/K: `G = g_0 + g_shaft·ω^0.8 + g_road·v^0.8`.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Conductance {
    /// In still air, W/K.
    pub still: f64,
    /// With the shaft's speed, W/K per (rad/s)^0.8.
    pub shaft: f64,
    /// With the road's air, W/K per (m/s)^0.8.
    pub road: f64,
}

impl Conductance {
    /// The same at any speed.
    pub const fn steady(w_per_k: f64) -> Self {
        Self { still: w_per_k, shaft: 0.0, road: 0.0 }
    }

    /// In a wind, W/K.
    #[inline]
    pub fn w_per_k(&self, wind: &Wind) -> f64 {
        self.still + self.shaft * wind.shaft_08 + self.road * wind.road_08
    }
}

impl Cooling {
    /// How well the heat flows.
    pub fn conductance(&self) -> Conductance {
        match *self {
            Cooling::Air { still_w_per_k, fan_w_per_k, road_w_per_k } => {
                Conductance { still: still_w_per_k, shaft: fan_w_per_k, road: road_w_per_k }
            }
            Cooling::Liquid { conductance_w_per_k, .. } => Conductance::steady(conductance_w_per_k),
        }
    }

    /// Temperature that the heat flows to, K.
    #[inline]
    pub fn sink_k(&self, ambient_k: f64) -> f64 {
        match *self {
            Cooling::Air { .. } => ambient_k,
            Cooling::Liquid { coolant_k, .. } => coolant_k,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn convection_power_is_that_of_powf() {
        for i in -400..400 {
            let x = f64::from(i).exp2().sqrt() * 1.2345;
            assert!((convection_power(x) / x.powf(CONVECTION_EXPONENT) - 1.0).abs() < 1e-14);
        }
        assert_eq!(convection_power(0.0), 0.0);
    }
}
