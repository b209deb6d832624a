//! Cooling: where a part's heat goes, and how well.

use crate::air::convection_share;

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
    /// Into the coolant, which carries it to the radiator: see [`Coolant`].
    Liquid {
        /// Conductance to the coolant, W/K.
        conductance_w_per_k: f64,
        /// Temperature of the coolant for which the part was rated, K: what a radiator is laid out
        /// for. In the drive the coolant is as warm as heat and radiator make it.
        rated_coolant_k: f64,
    },
}

/// The coolant of all liquid-cooled parts, with its hoses and its radiator, as one lump that gives
/// its heat to the air: `G = g0 + g_fan + g_road·v^0.8`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coolant {
    /// Heat capacity of coolant and radiator, J/K.
    pub heat_capacity_j_per_k: f64,
    /// From the radiator to the air.
    pub radiator: Conductance,
}

impl Coolant {
    /// Four litres of water and glycol (3.7 kJ/K each) with hoses and the radiator of a small car,
    /// whose electric fan runs while the car is switched on (common practice, no source).
    pub fn of_small_car() -> Self {
        Self {
            heat_capacity_j_per_k: 17_000.0,
            radiator: Conductance { still: 10.0, fan: 150.0, road: 10.5, ..Conductance::default() },
        }
    }
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
    /// Whether fans of their own turn: 1 while the car is switched on, 0 while it is not.
    pub fan: f64,
}

/// A conductance, W/K: `G = g_0 + g_shaft·ω^0.8 + g_road·v^0.8 + g_fan`.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Conductance {
    /// In still air, W/K.
    pub still: f64,
    /// With the shaft's speed, W/K per (rad/s)^0.8.
    pub shaft: f64,
    /// With the road's air, W/K per (m/s)^0.8.
    pub road: f64,
    /// With a fan that turns while the car is switched on, W/K.
    pub fan: f64,
}

impl Conductance {
    /// The same at any speed.
    pub const fn steady(w_per_k: f64) -> Self {
        Self { still: w_per_k, shaft: 0.0, road: 0.0, fan: 0.0 }
    }

    /// In a wind, W/K.
    #[inline]
    pub fn w_per_k(&self, wind: &Wind) -> f64 {
        self.still + self.shaft * wind.shaft_08 + self.road * wind.road_08 + self.fan * wind.fan
    }

    /// The same, all of it so many times as large.
    pub fn times(self, factor: f64) -> Self {
        Self { still: self.still * factor, ..self.forced_times(factor) }
    }

    /// The same with air that is moved so many times as good at carrying heat off.
    pub fn forced_times(self, factor: f64) -> Self {
        Self {
            shaft: self.shaft * factor,
            road: self.road * factor,
            fan: self.fan * factor,
            ..self
        }
    }
}

impl Cooling {
    /// How well the heat flows.
    pub fn conductance(&self) -> Conductance {
        match *self {
            Cooling::Air { still_w_per_k, fan_w_per_k, road_w_per_k } => {
                let (shaft, road) = (fan_w_per_k, road_w_per_k);
                Conductance { still: still_w_per_k, shaft, road, fan: 0.0 }
            }
            Cooling::Liquid { conductance_w_per_k, .. } => Conductance::steady(conductance_w_per_k),
        }
    }

    /// Temperature of the coolant for which the part was rated, K, if it is cooled by one.
    pub fn rated_coolant_k(&self) -> Option<f64> {
        match *self {
            Cooling::Air { .. } => None,
            Cooling::Liquid { rated_coolant_k, .. } => Some(rated_coolant_k),
        }
    }
}

/// How much thinner air takes from the cooling of a part.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum ThinAir {
    /// Moved air carries heat off by its density, [`air::convection_share`](crate::air).
    #[default]
    ByDensity,
    /// The part has a rating, which holds up to 1000 m: above, all its rises over the air grow by
    /// [`rated_rise`].
    ByRating,
}

/// Altitude up to which ratings hold, m (IEC 60034-1, clause 6, from memory).
pub const RATED_ALTITUDE_M: f64 = 1000.0;

/// Rise of a rated load over the air at an altitude, as a multiple of that at which it is rated:
/// 1 % more for each 100 m above 1000 m.
///
/// The standard lowers the air's highest temperature by 1 % of the limit of rise for each 100 m, up
/// to 4000 m, which is the same; beyond that the line is drawn on.
/// Source: IEC 60034-1, clause 8.10 and its table of assumed ambient temperatures (from memory).
pub fn rated_rise(altitude_m: f64) -> f64 {
    1.0 + 1e-4 * (altitude_m - RATED_ALTITUDE_M).max(0.0)
}

impl ThinAir {
    /// A conductance to the air at an altitude.
    pub fn thinned(self, conductance: Conductance, altitude_m: f64) -> Conductance {
        match self {
            ThinAir::ByDensity => conductance.forced_times(convection_share(altitude_m)),
            ThinAir::ByRating => conductance.times(1.0 / rated_rise(altitude_m)),
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
