//! Rolling resistance and air temperature against ISO 28580 (from memory):
//! `Cr25 = Cr·(1 + K·(t − 25))` with K = 0.008 for car tyres.

use crate::bench;

use bench::{Bench, assert_share};
use sim_core::car::{Request, Slope};
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

/// By hand: tyres 25 K below their running warmth at 25 °C count as in air of 0 °C, 1/(1 − 0.2) =
/// 1.25 times the resistance. Half an hour of running, three time constants of 10 min (ISO 28580
/// runs tyres in for so long, from memory), leaves e⁻³ of the 25 K; three hours of standing bring
/// back all but e^−7.2 of them.
#[test]
fn tyres_roll_a_quarter_harder_until_they_are_run_in() {
    let bench = Bench::light_car().around(|a| a.air_k = 298.15);
    let car = bench.car();
    let rolling_w = |state: &sim_core::State| {
        let flow = car.act(&car.now(state, 0.0), 20.0, Slope::LEVEL, 0, Request::Accelerate(0.0));
        flow.powers[sim_core::ledger::Account::Rolling]
    };
    let warm = bench.rolling(20.0);
    let mut state = warm.on_cold_tyres();
    assert_share(rolling_w(&state) / rolling_w(&warm), 1.25, 1e-12, "cold over run-in tyres");
    for _ in 0..1800 {
        let now = car.now(&state, 1.0);
        let flow = car.act(&now, 20.0, Slope::LEVEL, 0, Request::Accelerate(0.0));
        car.warm(&mut state, &flow, 1.0);
    }
    assert_share(state.tyre_chill_k, 25.0 * (-3.0f64).exp(), 1e-5, "chill after half an hour");
    let parked = sim_core::charging::park(&car, &state, 3.0 * 3600.0);
    let missing_k = (25.0 - state.tyre_chill_k) * (-7.2f64).exp();
    assert_share(25.0 - parked.tyre_chill_k, missing_k, 1e-3, "warmth left after three hours");
}
