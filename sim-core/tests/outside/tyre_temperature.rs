//! Rolling resistance and air temperature against ISO 28580 (from memory):
//! `Cr25 = Cr·(1 + K·(t − 25))` with K = 0.008 for car tyres.

use crate::bench;

use bench::{Bench, assert_share};
use sim_core::car::{Request, Slope};
use sim_core::road_load::{RoadLoad, rolling_temperature_factor};
use sim_core::tyre::rolling_of_label;
use sim_core::units::GRAVITY_MPS2;

/// A resistance measured at `t` and corrected by the standard to 25 °C comes back to what it was.
#[test]
fn the_standards_correction_undoes_the_factor() {
    for t_c in [20.0, 22.5, 25.0, 28.0, 30.0] {
        let measured = 0.011 * rolling_temperature_factor(t_c + 273.15);
        let corrected = measured * (1.0 + 0.008 * (t_c - 25.0));
        assert_share(corrected, 0.011, 1e-12, "coefficient corrected to 25 °C");
    }
}

fn force_n(law: RoadLoad, air_k: f64, speed_mps: f64) -> f64 {
    let bench = Bench::light_car().with(|p| p.road_load = law).around(|a| a.air_k = air_k);
    bench.car().resistance_n(speed_mps, Slope::LEVEL)
}

/// By hand: at 20 °C the correction is 1 − 0.04 = 0.96, so tyres roll 1/0.96 harder than at 25 °C;
/// what bearings and pads take does not follow the tyres.
#[test]
fn tyres_of_a_whole_car_roll_harder_at_20_degrees() {
    let law = |bearings_n| RoadLoad::Coefficients {
        drag_area_m2: 0.0,
        rolling: 0.01,
        rolling_per_mps: 1e-4,
        bearings_n,
    };
    let ratio = force_n(law(0.0), 293.15, 10.0) / force_n(law(0.0), 298.15, 10.0);
    assert_share(ratio, 1.0 / 0.96, 1e-12, "rolling at 20 °C over 25 °C");
    for air_k in [268.15, 298.15] {
        let more_n = force_n(law(12.0), air_k, 10.0) - force_n(law(0.0), air_k, 10.0);
        assert_share(more_n, 12.0, 1e-9, "bearings and pads");
    }
}

/// A coast-down is corrected to 20 °C (UN GTR 15, Annex 4, and SAE J1263, from memory): a car of its
/// mass at 20 °C has its f0 to the digit. Both correct by `1 + 0.0086·(t − 20)`.
#[test]
fn a_coast_down_gives_itself_back_at_20_degrees() {
    let mass_kg = Bench::light_car().parts.chassis.mass_kg;
    let law = RoadLoad::CoastDown {
        f0_n: 97.3,
        f1_n_per_mps: 1.7,
        f2_n_per_mps2: 0.0,
        mass_kg,
        air_density_kg_per_m3: 1.189,
    };
    assert_eq!(force_n(law, 20.0 + 273.15, 0.0), 97.3);
    assert_eq!(force_n(law, 20.0 + 273.15, 10.0), 97.3 + 17.0);
    for t_c in [5.0, 15.0, 30.0] {
        let corrected_n = force_n(law, t_c + 273.15, 10.0) * (1.0 + 0.0086 * (t_c - 20.0));
        assert_share(corrected_n, 97.3 + 17.0, 1e-12, &format!("{t_c} °C corrected to 20 °C"));
    }
}

/// ISO 28580 measures at 80 km/h and 25 °C: there a car rolls with just its label, and slower with
/// less.
#[test]
fn a_tyre_label_gives_itself_back_at_80_kmh_and_25_degrees() {
    let (label, rolling_per_mps) = (0.0084, 5.4e-5);
    let law = RoadLoad::Coefficients {
        drag_area_m2: 0.0,
        rolling: rolling_of_label(label, rolling_per_mps),
        rolling_per_mps,
        bearings_n: 0.0,
    };
    let weight_n = Bench::light_car().parts.chassis.mass_kg * GRAVITY_MPS2;
    assert_share(force_n(law, 298.15, 80.0 / 3.6), label * weight_n, 1e-12, "label at 80 km/h");
    let walking = force_n(law, 298.15, 0.0) / weight_n;
    assert_share(walking, 0.0084 - 5.4e-5 * 22.222_222, 1e-8, "label at walking pace");
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
