//! Heat nodes against closed forms: one node at constant heat follows
//! `T = Tamb + P/G·(1 − exp(−t·G/C))`; two nodes follow the matrix exponential (nalgebra's).

use crate::bench;

use bench::{Bench, act, assert_near, assert_share};
use nalgebra::{Matrix3, Vector3};
use sim_core::auxiliaries::Cabin;
use sim_core::car::{Car, Request, Slope};
use sim_core::cooling::{Cooling, ThinAir, Wind};
use sim_core::heat::{Heat, Node, PerNode};
use sim_core::motor::{Coefficients, Losses, Thermal};
use sim_core::pieces::{Piece, Place, Tolerance, never};
use sim_core::{Curve, Flow, State};

const AMBIENT_K: f64 = bench::WARM_K;

fn printed(power_w: f64, w_per_k: f64, j_per_k: f64, t: f64) -> f64 {
    AMBIENT_K + power_w / w_per_k * (1.0 - (-t * w_per_k / j_per_k).exp())
}

fn still(w_per_k: f64) -> Cooling {
    Cooling::Air { still_w_per_k: w_per_k, fan_w_per_k: 0.0, road_w_per_k: 0.0 }
}

/// A car with simple nodes: C/G is 800 s for the sink, 9600 s for the cells, 100 s for the cabin.
fn warm_bench() -> Bench {
    Bench::ideal_car().with(|p| {
        p.controller.heat_capacity_j_per_k = 4000.0;
        p.controller.cooling = still(5.0);
        p.pack.heat_capacity_j_per_k = 96_000.0;
        p.pack.conductance_w_per_k = 10.0;
        p.motor.thermal = Thermal {
            winding_j_per_k: 3000.0,
            housing_j_per_k: 15_000.0,
            winding_to_housing_w_per_k: 15.0,
            cooling: still(9.0),
            thin_air: ThinAir::ByDensity,
        };
        p.auxiliaries.cabin = Some(Cabin {
            heat_capacity_j_per_k: 5000.0,
            conductance_w_per_k: 50.0,
            set_k: 100.0,
            heater_w: 0.0,
        });
    })
}

/// A flow that does nothing but heat.
fn heating(car: &Car, state: &State) -> Flow {
    let into_w = PerNode::of(|node| match node {
        Node::Winding => 500.0,
        Node::Housing => 200.0,
        Node::Sink => 300.0,
        Node::Cells => 250.0,
        Node::Cabin => 1000.0,
        _ => 0.0,
    });
    Flow {
        heat: Heat { into_w, wind: Wind::default() },
        ..act(car, state, Slope::LEVEL, 0, Request::Accelerate(0.0))
    }
}

/// Winding and housing after a time at constant heat, of which the copper part may grow with the
/// winding's temperature: `x' = A·x + b`, one matrix exponential of the augmented system.
fn two_nodes(
    t: &Thermal,
    g_out: f64,
    copper_w: f64,
    copper_w_per_k: f64,
    iron_w: f64,
    s: f64,
) -> (f64, f64) {
    let g = t.winding_to_housing_w_per_k;
    let (cw, ch) = (t.winding_j_per_k, t.housing_j_per_k);
    #[rustfmt::skip]
    let system = Matrix3::new(
        (copper_w_per_k - g) / cw, g / cw, copper_w / cw,
        g / ch, -(g + g_out) / ch, iron_w / ch,
        0.0, 0.0, 0.0,
    );
    let rise = (system * s).exp() * Vector3::new(0.0, 0.0, 1.0);
    (AMBIENT_K + rise[0], AMBIENT_K + rise[1])
}

fn warmed(step_s: f64, for_s: f64) -> State {
    let bench = warm_bench();
    let car = bench.car();
    let mut state = bench.parked(0.5);
    let flow = heating(&car, &state);
    for _ in 0..(for_s / step_s).round() as usize {
        car.warm(&mut state, &flow, step_s);
    }
    state
}

/// Found less expected in sink, cells, cabin, winding and housing after 600 s.
fn errors_k(step_s: f64) -> [f64; 5] {
    let for_s = 600.0;
    let state = warmed(step_s, for_s);
    let (winding_k, housing_k) =
        two_nodes(&warm_bench().parts.motor.thermal, 9.0, 500.0, 0.0, 200.0, for_s);
    [
        state.temperature_k[Node::Sink] - printed(300.0, 5.0, 4000.0, for_s),
        state.temperature_k[Node::Cells] - printed(250.0, 10.0, 96_000.0, for_s),
        state.temperature_k[Node::Cabin] - printed(1000.0, 50.0, 5000.0, for_s),
        state.temperature_k[Node::Winding] - winding_k,
        state.temperature_k[Node::Housing] - housing_k,
    ]
}

#[test]
fn each_node_warms_by_the_closed_form_at_one_second() {
    for (node, error) in ["sink", "cells", "cabin", "winding", "housing"].iter().zip(errors_k(1.0))
    {
        assert_near(error, 0.0, 2e-4, &format!("{node} after 600 s, error"));
    }
}

/// The fixed step is of second order: half the step leaves a quarter of the error.
#[test]
fn half_the_step_leaves_a_quarter_of_the_error() {
    let (whole, half) = (errors_k(20.0), errors_k(10.0));
    for i in 0..5 {
        assert!(whole[i].abs() > 1e-7, "error {i} is too small to halve: {}", whole[i]);
        assert_share(whole[i] / half[i], 4.0, 0.05, &format!("error {i} by halving the step"));
    }
}

/// However small a node is, its temperature stays between where it was and where it goes, twice
/// over: the rule is stable at any step.
#[test]
fn a_tiny_node_does_not_blow_up() {
    let bench = warm_bench().with(|p| p.controller.heat_capacity_j_per_k = 1e-3);
    let car = bench.car();
    let mut state = bench.parked(0.5);
    let flow = heating(&car, &state);
    for _ in 0..1000 {
        car.warm(&mut state, &flow, 1.0);
        let rise = state.temperature_k[Node::Sink] - AMBIENT_K;
        assert!((-1e-6..=120.0 + 1e-6).contains(&rise), "sink {rise} K above ambient");
    }
}

/// In the adaptive pieces: a controller's fixed loss warms its sink, steady auxiliaries through the
/// pack's resistance warm the cells.
#[test]
fn sink_and_cells_warm_by_the_closed_form_in_pieces() {
    let bench = warm_bench().with(|p| {
        p.controller.fixed_loss_w = 220.0;
        p.auxiliaries.traction_w = 780.0;
        p.pack.cell.resistance_ohm = Curve::constant(0.2);
    });
    let car = bench.car();
    let ask = |_: f64, _: &State| Request::Disconnected(f64::INFINITY);
    let piece = Piece { car: &car, gear: 0, slope: Slope::LEVEL, ask };
    // 1 kW out of 100 V behind 0.2 Ω, by the quadratic.
    let amperes = (100.0 - f64::sqrt(100.0 * 100.0 - 4.0 * 0.2 * 1000.0)) / 0.4;
    let cells_w = 0.2 * amperes * amperes;
    for t in [30.0, 600.0, 5000.0] {
        let from = Place::start(bench.parked(0.5));
        let (end, _) = piece.run(&from, t, &Tolerance::TIGHT, never, &mut ()).unwrap();
        let state = end.state;
        assert_near(state.temperature_k[Node::Sink], printed(220.0, 5.0, 4000.0, t), 1e-6, "sink");
        assert_near(
            state.temperature_k[Node::Cells],
            printed(cells_w, 10.0, 96_000.0, t),
            1e-6,
            "cells",
        );
    }
}

/// A whole car at steady speed: iron warms the housing, copper the winding, the latter by
/// IEC 60034-1 with its own temperature, `P = P25·(1 + (T − T25)/(235 + 25))` for losses stated at
/// 25 °C. Air passes at `G = g0 + g_fan·ω^0.8 + g_road·v^0.8`.
#[test]
fn winding_and_housing_warm_by_the_matrix_exponential() {
    let (copper_w_per_a2, hysteresis, amperes_per_nm) = (0.02, 0.5, 4.0);
    let bench = warm_bench().with(|p| {
        p.gearbox = bench::one_gear(3.0, 1.0);
        p.road_load = bench::road_load(1000.0, 300.0, 0.0);
        p.motor.machine.current_a_per_nm = amperes_per_nm;
        p.motor.loss_reference_k = AMBIENT_K;
        p.motor.losses = Losses::from(Coefficients {
            copper_w_per_a2,
            hysteresis_w_per_radps: hysteresis,
            ..Coefficients::default()
        });
        p.motor.thermal.cooling =
            Cooling::Air { still_w_per_k: 4.0, fan_w_per_k: 0.04, road_w_per_k: 0.3 };
    });
    let car = bench.car();
    let (speed_mps, per_m) = (20.0_f64, 10.0);
    let radps = speed_mps * per_m;
    let amperes = amperes_per_nm * 300.0 / per_m;
    let copper_w = copper_w_per_a2 * amperes * amperes;
    let g_out = 4.0 + 0.04 * radps.powf(0.8) + 0.3 * speed_mps.powf(0.8);
    let ask = |_: f64, _: &State| Request::Accelerate(0.0);
    let piece = Piece { car: &car, gear: 0, slope: Slope::LEVEL, ask };
    for t in [60.0, 900.0, 7200.0] {
        let thermal = bench.parts.motor.thermal;
        let (winding_k, housing_k) =
            two_nodes(&thermal, g_out, copper_w, copper_w / 260.0, hysteresis * radps, t);
        let from = Place::start(bench.rolling(speed_mps));
        let (end, _) = piece.run(&from, t, &Tolerance::TIGHT, never, &mut ()).unwrap();
        assert_near(
            end.state.temperature_k[Node::Winding],
            winding_k,
            1e-6,
            &format!("winding after {t} s"),
        );
        assert_near(
            end.state.temperature_k[Node::Housing],
            housing_k,
            1e-6,
            &format!("housing after {t} s"),
        );

        let trace = sim_core::Trace::steady(speed_mps, 0.0, t).unwrap();
        let driver = bench::one_gear_driver(0);
        let start = bench.rolling(speed_mps);
        let drive = sim_core::follow::follow(&car, &trace, &driver, &start, 0, 1.0, &mut ());
        assert_near(
            drive.end.temperature_k[Node::Winding],
            winding_k,
            0.02,
            "winding in steps of 1 s",
        );
        assert_near(
            drive.end.temperature_k[Node::Housing],
            housing_k,
            0.02,
            "housing in steps of 1 s",
        );
    }
}

/// A heat sink of constant heat reaches its warning after `t = −C/G·ln(1 − ΔT·G/P)`; a climb finds
/// that instant. The controller's fixed loss of 500 W on 5 W/K would go 100 K up; 50 K are allowed.
#[test]
fn a_climb_finds_the_instant_at_which_the_sink_reaches_its_warning() {
    let bench = warm_bench().with(|p| {
        p.controller.fixed_loss_w = 500.0;
        p.controller.derating.warning_k = AMBIENT_K + 50.0;
    });
    let expected_s = 4000.0 / 5.0 * 2.0_f64.ln();
    let hill = sim_core::climb::Hill {
        slope: Slope::from_grade(0.01),
        speed_mps: 10.0,
        distance_m: 10_000.0,
    };
    let tolerance = Tolerance::default();
    let found =
        sim_core::climb::climb(&bench.car(), &bench.parked(0.5), &hill, 0, &tolerance, &mut ());
    let (found_s, limit) = found.unwrap().derated.unwrap();
    assert_near(found_s, expected_s, 1e-3, "time to the warning");
    assert_eq!(limit, sim_core::Limit::ControllerHeat);
}
