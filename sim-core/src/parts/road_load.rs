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
        /// Drag of wheel bearings and brake pads at the road, N.
        bearings_n: f64,
    },
    /// Measured coast-down in neutral: `F = f0 + f1·v + f2·v²` at the mass and air density of the
    /// measurement and 20 °C. It holds all that turns with the wheels: bearings, pads, final drive.
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

/// How rolling resistance follows the air's temperature: `F(t) = F_ref/(1 + K·(t − t_ref))`, the
/// inverse of a standard's correction of what was measured to its reference,
/// `F_ref = F·(1 + K·(t − t_ref))`.
///
/// The standards correct tests within some ten kelvins of the reference; beyond, the same line is used
/// as common practice, with the temperature held within −40 to +60 °C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tempering {
    reference_k: f64,
    per_k: f64,
}

impl Tempering {
    /// Of a tyre's coefficient: 25 °C, K = 0.008 for car tyres. Source: ISO 28580 (from memory).
    pub const COEFFICIENT: Self = Self { reference_k: crate::units::K_AT_25_C, per_k: 0.008 };
    /// Of a coast-down: 20 °C, K = 0.0086. Source: SAE J1263 and UN GTR 15, Annex 4 (from memory).
    pub const COAST_DOWN: Self = Self { reference_k: 293.15, per_k: 0.0086 };

    /// Inverse of the growth of rolling resistance in an air, on tyres that are some kelvins colder
    /// than running makes them: as if the air were colder, since run-in tyres follow the air.
    #[inline]
    pub fn warmth(self, air_k: f64, chill_k: f64) -> f64 {
        let warmth = |k: f64| 1.0 + self.per_k * (k - self.reference_k);
        let coldest_k = 233.15;
        let air_k = air_k.clamp(coldest_k, 333.15);
        warmth((air_k - chill_k).max(coldest_k))
    }

    /// Rolling resistance in an air over that at the reference.
    pub fn factor(self, air_k: f64) -> f64 {
        1.0 / self.warmth(air_k, 0.0)
    }
}

/// Rolling resistance of a tyre at an air temperature over that at 25 °C: see
/// [`Tempering::COEFFICIENT`].
pub fn rolling_temperature_factor(air_k: f64) -> f64 {
    Tempering::COEFFICIENT.factor(air_k)
}

/// Road load of one car in one air: `F = (c0 + c1·v)·cos θ + F_bearings + c2·(v + w)·|v + w|`.
///
/// The constants hold mass, density and tyre temperature, so that a step costs a handful of
/// multiplications. `w` is the head wind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RoadForce {
    /// Rolling force at walking pace, N.
    pub rolling_n: f64,
    /// Growth of the rolling force with speed, N/(m/s).
    pub rolling_n_per_mps: f64,
    /// Drag of wheel bearings and brake pads, N, where it is not in the rolling force.
    pub bearings_n: f64,
    /// Air force over the square of the speed through the air, N/(m/s)².
    pub air_n_per_mps2: f64,
    /// Head wind, m/s (negative: tail wind).
    pub head_wind_mps: f64,
}

impl RoadLoad {
    /// How its rolling resistance follows the air's temperature.
    pub fn tempering(&self) -> Tempering {
        match self {
            RoadLoad::Coefficients { .. } => Tempering::COEFFICIENT,
            RoadLoad::CoastDown { .. } => Tempering::COAST_DOWN,
        }
    }

    /// The same on tyres that roll so many times as hard, in so many times as dense an air.
    pub fn scaled(self, rolling_by: f64, density_by: f64) -> Self {
        match self {
            RoadLoad::Coefficients { drag_area_m2, rolling, rolling_per_mps, bearings_n } => {
                RoadLoad::Coefficients {
                    drag_area_m2: drag_area_m2 * density_by,
                    rolling: rolling * rolling_by,
                    rolling_per_mps: rolling_per_mps * rolling_by,
                    bearings_n,
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
    /// Coefficients: `c0 = m·g·Crr·k(T)`, `c2 = ½·ρ·CdA`, and the bearings' drag as it is.
    /// Coast-down: `f0` and `f1` grow with mass and tyre temperature, `f2` with density. Source: SAE J1263 for the split of a coast-down
    /// into a part that goes with mass and one that goes with air density.
    pub fn force(
        &self,
        mass_kg: f64,
        density_kg_per_m3: f64,
        air_k: f64,
        head_wind_mps: f64,
    ) -> RoadForce {
        let warm = self.tempering().factor(air_k);
        match *self {
            RoadLoad::Coefficients { drag_area_m2, rolling, rolling_per_mps, bearings_n } => {
                let weight_n = mass_kg * crate::units::GRAVITY_MPS2;
                RoadForce {
                    rolling_n: weight_n * rolling * warm,
                    rolling_n_per_mps: weight_n * rolling_per_mps * warm,
                    bearings_n,
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
                    bearings_n: 0.0,
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
