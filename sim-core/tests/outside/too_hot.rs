//! When a part is too hot, and which: the same instant and the same part in a drive, a climb and a
//! speed held, for each of the three parts that cut back, against the closed form of one node,
//! `T(t) = T_air + P/G·(1 − e^(−t·G/C))`.

use crate::bench;

use bench::{Bench, WARM_K, assert_near};
use sim_core::car::{Car, Slope};
use sim_core::climb::{Hill, climb};
use sim_core::controller::Derating;
use sim_core::cooling::{Cooling, ThinAir};
use sim_core::endurance::{Outcome, endurance};
use sim_core::follow::follow;
use sim_core::motor::{Coefficients, Losses, Thermal};
use sim_core::pieces::Tolerance;
use sim_core::{Curve, Limit, Node, State, Trace};

const SPEED_MPS: f64 = 10.0;
/// Rise over the air at which each part cuts back, K.
const OVER_K: f64 = 10.0;
const DERATING: Derating =
    Derating { warning_k: WARM_K + OVER_K, cut_off_k: WARM_K + OVER_K + 1000.0 };

fn still(w_per_k: f64) -> Cooling {
    Cooling::Air { still_w_per_k: w_per_k, fan_w_per_k: 0.0, road_w_per_k: 0.0 }
}

/// Time at which a node from the air's temperature is [`OVER_K`] above it.
fn time_s(power_w: f64, w_per_k: f64, j_per_k: f64) -> f64 {
    -j_per_k / w_per_k * (1.0 - OVER_K * w_per_k / power_w).ln()
}

/// 300 N at 10 m/s and one radian per metre are 300 N·m, 300 A and 900 W of copper loss at 25 °C,
/// which grows by 1/260 of that a kelvin (IEC 60034-1); the housing is too heavy to warm.
fn hot_winding() -> (Bench, f64) {
    let bench = Bench::ideal_car().with(|p| {
        p.road_load = bench::road_load(1000.0, 300.0, 0.0);
        p.motor.loss_reference_k = WARM_K;
        p.motor.losses =
            Losses::from(Coefficients { copper_w_per_a2: 0.01, ..Coefficients::default() });
        p.motor.thermal = Thermal {
            winding_j_per_k: 20_000.0,
            housing_j_per_k: 1e15,
            winding_to_housing_w_per_k: 30.0,
            cooling: still(1.0),
            thin_air: ThinAir::ByDensity,
        };
        p.motor.derating = DERATING;
    });
    (bench, time_s(900.0, 30.0 - 900.0 / 260.0, 20_000.0))
}

/// 200 W whenever it is switched on.
fn hot_sink() -> (Bench, f64) {
    let bench = Bench::ideal_car().with(|p| {
        p.controller.fixed_loss_w = 200.0;
        p.controller.heat_capacity_j_per_k = 4000.0;
        p.controller.cooling = still(5.0);
        p.controller.derating = DERATING;
    });
    (bench, time_s(200.0, 5.0, 4000.0))
}

/// 1 kW out of 100 V behind 0.2 Ω, by the quadratic.
fn hot_cells() -> (Bench, f64) {
    let bench = Bench::ideal_car().with(|p| {
        p.auxiliaries.traction_w = 1000.0;
        p.pack.cell.resistance_ohm = Curve::constant(0.2);
        p.pack.cell.discharge_factor =
            Curve::new(&[(DERATING.warning_k, 1.0), (DERATING.cut_off_k, 0.0)]).unwrap();
        p.pack.heat_capacity_j_per_k = 900.0;
        p.pack.conductance_w_per_k = 1.0;
    });
    let amperes = (100.0 - f64::sqrt(100.0 * 100.0 - 4.0 * 0.2 * 1000.0)) / 0.4;
    (bench, time_s(0.2 * amperes * amperes, 1.0, 900.0))
}

/// When the parts of a car cut back, and which, in each kind of run that asks.
fn answers(car: &Car, start: &State) -> [(f64, Limit); 3] {
    let trace = Trace::steady(SPEED_MPS, 0.0, 1000.0).unwrap();
    let drive = follow(car, &trace, &bench::one_gear_driver(0), start, 0, 1.0, &mut ());
    let hill = Hill { slope: Slope::LEVEL, speed_mps: SPEED_MPS, distance_m: 10_000.0 };
    let climbed = climb(car, start, &hill, 0, &Tolerance::default(), &mut ()).unwrap();
    let held = match endurance(car, start, Slope::LEVEL, SPEED_MPS, 0, 1e5).unwrap() {
        Outcome::Ends { time_s, by } => (time_s, by),
        other => panic!("{other:?}"),
    };
    [drive.derated.expect("the drive"), climbed.derated.expect("the climb"), held]
}

#[test]
fn winding_heat_sink_and_cells_are_too_hot_when_the_closed_form_says_so() {
    let parts = [
        (hot_winding(), Limit::MotorHeat),
        (hot_sink(), Limit::ControllerHeat),
        (hot_cells(), Limit::CellTemperature),
    ];
    for ((bench, expected_s), part) in parts {
        let found = answers(&bench.car(), &bench.rolling(SPEED_MPS));
        // A drive looks at the end of each of its steps of 1 s.
        for ((found_s, limit), within_s) in found.into_iter().zip([1.01, 0.01, 0.1]) {
            assert_eq!(limit, part);
            let late_s = if within_s > 1.0 { 0.5 } else { 0.0 };
            assert_near(found_s, expected_s + late_s, within_s, &format!("time of {part:?}"));
        }
    }
}

#[test]
fn a_part_that_is_too_hot_at_the_start_is_named_at_once() {
    let parts = [
        (hot_winding(), Node::Winding, Limit::MotorHeat),
        (hot_sink(), Node::Sink, Limit::ControllerHeat),
        (hot_cells(), Node::Cells, Limit::CellTemperature),
    ];
    for ((bench, _), node, part) in parts {
        let start = bench.rolling(SPEED_MPS).warmed(node, DERATING.warning_k + 1.0);
        assert_eq!(answers(&bench.car(), &start), [(0.0, part); 3]);
    }
}

/// At its warning a part still gives all that it has.
#[test]
fn a_part_at_its_warning_is_not_yet_too_hot() {
    let bench = hot_winding().0;
    let at = |over_k: f64| {
        let state = bench.parked(0.5).warmed(Node::Winding, DERATING.warning_k + over_k);
        bench.car().thermal().too_hot(&state.temperature_k)
    };
    assert_eq!((at(0.0), at(1e-6)), (None, Some(Limit::MotorHeat)));
}
