//! What the car drives in and on, and what holds it back there.

use super::Car;

/// Air and surface that the car drives in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Surroundings {
    /// Altitude, m.
    pub altitude_m: f64,
    /// Air temperature, K.
    pub air_k: f64,
    /// Head wind, m/s (negative: tail wind).
    pub head_wind_mps: f64,
    /// Friction coefficient between tyre and road.
    pub friction: f64,
}

/// The road's angle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slope {
    /// Sine; positive uphill.
    pub sin: f64,
    /// Cosine.
    pub cos: f64,
}

impl Slope {
    /// A level road.
    pub const LEVEL: Slope = Slope { sin: 0.0, cos: 1.0 };

    /// From rise over run.
    pub fn from_grade(grade: f64) -> Self {
        let cos = 1.0 / (1.0 + grade * grade).sqrt();
        Self { sin: grade * cos, cos }
    }
}

impl Car {
    /// Rolling, air and grade force at a speed on tyres that are run warm, N.
    #[inline]
    pub fn resistance_n(&self, speed_mps: f64, slope: Slope) -> f64 {
        self.road.rolling(speed_mps, slope.cos)
            + self.road.bearings_n
            + self.road.air(speed_mps)
            + self.weight_n * slope.sin
    }

    /// Growth of rolling resistance on tyres that are colder than running makes them by so much.
    #[inline]
    pub(super) fn tyre_factor(&self, chill_k: f64) -> f64 {
        if chill_k == 0.0 {
            return 1.0;
        }
        self.warmth / self.tempering.warmth(self.surroundings.air_k, chill_k)
    }
}
