//! How the motor warms: winding and housing, and the air or water that cools them.

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

impl Cooling {
    /// Conductance, W/K, from the shaft speed and road speed already raised to the power of 0.8.
    #[inline]
    pub fn conductance_w_per_k(&self, shaft_08: f64, road_08: f64) -> f64 {
        match *self {
            Cooling::Air { still_w_per_k, fan_w_per_k, road_w_per_k } => {
                still_w_per_k + fan_w_per_k * shaft_08 + road_w_per_k * road_08
            }
            Cooling::Liquid { conductance_w_per_k, .. } => conductance_w_per_k,
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

/// Two nodes: the winding (with the rotor's conductors) and the housing (with the iron).
///
/// `C_w·dT_w/dt = P_copper − G_wh·(T_w − T_h)`
/// `C_h·dT_h/dt = P_iron + P_windage + G_wh·(T_w − T_h) − G·(T_h − T_sink)`
///
/// Source: two-body network of IEC 60034-1's thermal equilibrium (common practice, no source).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Thermal {
    /// Heat capacity of the winding, J/K.
    pub winding_j_per_k: f64,
    /// Heat capacity of iron and housing, J/K.
    pub housing_j_per_k: f64,
    /// Conductance from winding to housing, W/K.
    pub winding_to_housing_w_per_k: f64,
    /// From the housing on.
    pub cooling: Cooling,
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
