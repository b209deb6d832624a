//! Rolling resistance and air temperature against ISO 28580 (from memory):
//! `Cr25 = Cr·(1 + K·(t − 25))` with K = 0.008 for car tyres.

use crate::bench;

use bench::{Bench, assert_share};
use sim_core::car::Slope;
use sim_core::road_load::{RoadLoad, rolling_temperature_factor};

/// A resistance measured at `t` and corrected by the standard to 25 °C comes back to what it was.
#[test]
fn the_standards_correction_undoes_the_factor() {
    for t_c in [20.0, 22.5, 25.0, 28.0, 30.0] {
        let measured = 0.011 * rolling_temperature_factor(t_c + 273.15);
        let corrected = measured * (1.0 + 0.008 * (t_c - 25.0));
        assert_share(corrected, 0.011, 1e-12, "coefficient corrected to 25 °C");
    }
}

/// By hand: at 20 °C the correction is 1 − 0.04 = 0.96, so tyres roll 1/0.96 harder than at 25 °C.
/// A coast-down's constant part takes the same correction.
#[test]
fn tyres_of_a_whole_car_roll_harder_at_20_degrees() {
    let laws = [
        RoadLoad::Coefficients { drag_area_m2: 0.0, rolling: 0.01, rolling_per_mps: 1e-4 },
        RoadLoad::CoastDown {
            f0_n: 90.0,
            f1_n_per_mps: 1.0,
            f2_n_per_mps2: 0.0,
            mass_kg: 800.0,
            air_density_kg_per_m3: 1.2,
        },
    ];
    for law in laws {
        let at = |t_c: f64| {
            let bench =
                Bench::light_car().with(|p| p.road_load = law).around(|a| a.air_k = t_c + 273.15);
            bench.car().resistance_n(10.0, Slope::LEVEL)
        };
        assert_share(at(20.0) / at(25.0), 1.0 / 0.96, 1e-12, "rolling at 20 °C over 25 °C");
    }
}
