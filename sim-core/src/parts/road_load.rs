//! The forces that hold a rolling car back: air and tyres.

/// Road load, in one of the two ways in which it is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum RoadLoad {
    /// Drag area and rolling resistance.
    Coefficients {
        /// Drag coefficient times frontal area, m².
        drag_area_m2: f64,
        /// Rolling resistance coefficient at walking pace and 25 °C, N per N of weight.
        rolling: f64,
        /// Growth of the coefficient with speed, 1/(m/s).
        rolling_per_mps: f64,
    },
    /// Measured coast-down: `F = f0 + f1·v + f2·v²` at the mass and air of the measurement.
    CoastDown {
        /// Constant part, N.
        f0_n: f64,
        /// Part that grows with speed, N/(m/s).
        f1_n_per_mps: f64,
        /// Part that grows with the square, N/(m/s)².
        f2_n_per_mps2: f64,
        /// Mass at which it was measured, kg.
        mass_kg: f64,
        /// Air density at which it was measured, kg/m³.
        air_density_kg_per_m3: f64,
    },
}

/// Reference temperature of rolling resistance, K (ISO 28580: 25 °C).
pub const ROLLING_REFERENCE_K: f64 = crate::units::K_AT_25_C;
/// Sensitivity of rolling resistance to air temperature, 1/K, for car tyres (ISO 28580).
pub const ROLLING_PER_K: f64 = 0.008;

/// Rolling resistance at an air temperature over that at 25 °C: `1/(1 + K·(t − 25))`, the inverse
/// of the correction to 25 °C, `Cr25 = Cr·(1 + K·(t − 25))` with K = 0.008.
///
/// The standard corrects tests at 20 to 30 °C; below that the same line is used as common
/// practice. The temperature is held within −40 to +60 °C.
/// Source: ISO 28580, clause on temperature correction (from memory).
pub const fn rolling_temperature_factor(air_k: f64) -> f64 {
    let t = air_k.clamp(233.15, 333.15);
    1.0 / (1.0 + ROLLING_PER_K * (t - ROLLING_REFERENCE_K))
}

/// Road load of one car in one air: `F = (c0 + c1·v)·cos θ + c2·(v + w)·|v + w|`.
///
/// The constants hold mass, density and tyre temperature, so that a step costs a handful of
/// multiplications. `w` is the head wind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RoadForce {
    /// Rolling force at walking pace, N.
    pub rolling_n: f64,
    /// Growth of the rolling force with speed, N/(m/s).
    pub rolling_n_per_mps: f64,
    /// Air force over the square of the speed through the air, N/(m/s)².
    pub air_n_per_mps2: f64,
    /// Head wind, m/s (negative: tail wind).
    pub head_wind_mps: f64,
}

impl RoadLoad {
    /// The same on tyres that roll so many times as hard, in so many times as dense an air.
    pub fn scaled(self, rolling_by: f64, density_by: f64) -> Self {
        match self {
            RoadLoad::Coefficients { drag_area_m2, rolling, rolling_per_mps } => {
                RoadLoad::Coefficients {
                    drag_area_m2: drag_area_m2 * density_by,
                    rolling: rolling * rolling_by,
                    rolling_per_mps: rolling_per_mps * rolling_by,
                }
            }
            RoadLoad::CoastDown {
                f0_n,
                f1_n_per_mps,
                f2_n_per_mps2,
                mass_kg,
                air_density_kg_per_m3,
            } => RoadLoad::CoastDown {
                f0_n: f0_n * rolling_by,
                f1_n_per_mps: f1_n_per_mps * rolling_by,
                f2_n_per_mps2: f2_n_per_mps2 * density_by,
                mass_kg,
                air_density_kg_per_m3,
            },
        }
    }

    /// The forces at a running mass, in an air of given density and temperature.
    ///
    /// Coefficients: `c0 = m·g·Crr·k(T)`, `c2 = ½·ρ·CdA`. Coast-down: `f0` and `f1` grow with mass
    /// and tyre temperature, `f2` with density. Source: SAE J1263 for the split of a coast-down
    /// into a part that goes with mass and one that goes with air density.
    pub fn force(
        &self,
        mass_kg: f64,
        density_kg_per_m3: f64,
        air_k: f64,
        head_wind_mps: f64,
    ) -> RoadForce {
        let warm = rolling_temperature_factor(air_k);
        match *self {
            RoadLoad::Coefficients { drag_area_m2, rolling, rolling_per_mps } => {
                let weight_n = mass_kg * crate::units::GRAVITY_MPS2;
                RoadForce {
                    rolling_n: weight_n * rolling * warm,
                    rolling_n_per_mps: weight_n * rolling_per_mps * warm,
                    air_n_per_mps2: 0.5 * density_kg_per_m3 * drag_area_m2,
                    head_wind_mps,
                }
            }
            RoadLoad::CoastDown {
                f0_n,
                f1_n_per_mps,
                f2_n_per_mps2,
                mass_kg: measured_kg,
                air_density_kg_per_m3,
            } => {
                let by_mass = mass_kg / measured_kg * warm;
                RoadForce {
                    rolling_n: f0_n * by_mass,
                    rolling_n_per_mps: f1_n_per_mps * by_mass,
                    air_n_per_mps2: f2_n_per_mps2 * density_kg_per_m3 / air_density_kg_per_m3,
                    head_wind_mps,
                }
            }
        }
    }
}

impl RoadForce {
    /// Tyre rolling force at a speed on a road of given `cos θ`, N.
    #[inline]
    pub fn rolling(&self, speed_mps: f64, cos_grade: f64) -> f64 {
        (self.rolling_n + self.rolling_n_per_mps * speed_mps) * cos_grade
    }

    /// Air force at a speed, N; negative when a tail wind pushes.
    #[inline]
    pub fn air(&self, speed_mps: f64) -> f64 {
        let through_air = speed_mps + self.head_wind_mps;
        self.air_n_per_mps2 * through_air * through_air.abs()
    }
}
