//! Air density against ISO 2533, Standard Atmosphere.

use crate::bench;

use bench::{Bench, assert_near, assert_share};
use sim_core::air::{density_kg_per_m3, standard_pressure_pa, standard_temperature_k};
use sim_core::car::Slope;
use sim_core::road_load::RoadLoad;

/// Altitude in m and density in kg/m³, ISO 2533 tables (from memory).
const DENSITIES: [(f64, f64); 6] = [
    (0.0, 1.2250),
    (500.0, 1.1673),
    (1000.0, 1.1117),
    (1500.0, 1.0581),
    (2000.0, 1.0066),
    (3000.0, 0.9093),
];

#[test]
fn density_is_that_of_the_table_from_sea_level_to_3000_m() {
    for (altitude_m, density) in DENSITIES {
        let found = density_kg_per_m3(altitude_m, standard_temperature_k(altitude_m));
        assert_near(found, density, 0.0003, &format!("density at {altitude_m} m"));
    }
}

/// ISO 2533 tables (from memory): 89 876 Pa at 1000 m, 70 121 Pa at 3000 m of geometric altitude.
#[test]
fn pressure_is_that_of_the_table() {
    assert_share(standard_pressure_pa(1000.0), 89_876.0, 5e-4, "pressure at 1000 m");
    assert_share(standard_pressure_pa(3000.0), 70_121.0, 5e-4, "pressure at 3000 m");
}

/// The gas law: at equal pressure, density goes with the inverse of absolute temperature.
#[test]
fn cold_air_is_denser_by_the_gas_law() {
    let ratio = density_kg_per_m3(0.0, 263.15) / density_kg_per_m3(0.0, 303.15);
    assert_share(ratio, 303.15 / 263.15, 1e-12, "density at −10 °C over that at 30 °C");
}

/// `F = ½·ρ·CdA·v²` with the tabulated density, so that altitude reaches the wheels.
#[test]
fn air_drag_follows_the_table_uphill() {
    for (altitude_m, density) in DENSITIES {
        let car = Bench::light_car()
            .with(|p| {
                p.road_load = RoadLoad::Coefficients {
                    drag_area_m2: 0.7,
                    rolling: 0.0,
                    rolling_per_mps: 0.0,
                    bearings_n: 0.0,
                }
            })
            .around(|a| {
                a.altitude_m = altitude_m;
                a.air_k = 288.15 - 0.0065 * altitude_m;
            })
            .car();
        let expected = 0.5 * density * 0.7 * 25.0 * 25.0;
        assert_share(car.resistance_n(25.0, Slope::LEVEL), expected, 3e-4, "air drag at 25 m/s");
    }
}
