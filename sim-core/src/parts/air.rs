//! Air density by altitude and temperature, after the standard atmosphere.

use crate::cooling::CONVECTION_EXPONENT;
use crate::units::GRAVITY_MPS2;

/// Specific gas constant of dry air, J/(kg·K) (ISO 2533).
pub const GAS_CONSTANT: f64 = 287.052_87;
/// Sea-level pressure of the standard atmosphere, Pa (ISO 2533).
pub const SEA_LEVEL_PRESSURE_PA: f64 = 101_325.0;
/// Sea-level temperature of the standard atmosphere, K (ISO 2533).
pub const SEA_LEVEL_TEMPERATURE_K: f64 = 288.15;
/// Temperature lapse of the lowest layer, K/m (ISO 2533).
pub const LAPSE_K_PER_M: f64 = 0.0065;

/// Temperature of the standard atmosphere, `T = T0 − L·H`, in K.
///
/// Valid from −2000 m to 11 000 m of geopotential altitude. Source: ISO 2533.
pub fn standard_temperature_k(altitude_m: f64) -> f64 {
    SEA_LEVEL_TEMPERATURE_K - LAPSE_K_PER_M * altitude_m
}

/// Pressure of the standard atmosphere, `p = p0·(1 − L·H/T0)^(g/(R·L))`, in Pa.
///
/// Valid from −2000 m to 11 000 m of geopotential altitude. Source: ISO 2533.
pub fn standard_pressure_pa(altitude_m: f64) -> f64 {
    let exponent = GRAVITY_MPS2 / (GAS_CONSTANT * LAPSE_K_PER_M);
    SEA_LEVEL_PRESSURE_PA
        * (1.0 - LAPSE_K_PER_M * altitude_m / SEA_LEVEL_TEMPERATURE_K).powf(exponent)
}

/// Density of dry air, `ρ = p(H)/(R·T)`, in kg/m³, at the altitude's standard pressure and the
/// actual temperature.
///
/// Valid from −2000 m to 11 000 m. Humidity is left out: at 30 °C and saturation it lowers the
/// density by under 2 %. Source: ISO 2533.
pub fn density_kg_per_m3(altitude_m: f64, temperature_k: f64) -> f64 {
    standard_pressure_pa(altitude_m) / (GAS_CONSTANT * temperature_k)
}

/// How well moved air carries heat off at an altitude, as a share of what it does at sea level:
/// `(p/p0)^0.8`.
///
/// Nu ∝ Re^0.8 and Re goes with density, which at one temperature is as the pressure; conductivity
/// and viscosity of air hardly depend on pressure. Source: as for
/// [`Cooling::Air`](crate::cooling::Cooling::Air), and ISO 2533.
pub fn convection_share(altitude_m: f64) -> f64 {
    (standard_pressure_pa(altitude_m) / SEA_LEVEL_PRESSURE_PA).powf(CONVECTION_EXPONENT)
}
