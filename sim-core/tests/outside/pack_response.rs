//! The pack against closed forms of its equivalent circuit: a source behind a resistance and one
//! polarisation pair, `V(t) = OCV − R0·I − R1·I·(1 − exp(−t/τ))`, and the quadratic of a power
//! drawn through a resistance.

use crate::bench;

use bench::{Bench, act, assert_near, assert_share};
use sim_core::car::{Request, Slope};
use sim_core::motor::Envelope;
use sim_core::pieces::{Piece, Place, Tolerance, never};
use sim_core::{Curve, Flow, Limit, Node, State};

const R0: f64 = 0.002;
const R1: f64 = 0.0015;
const TAU_S: f64 = 40.0;
const OCV: f64 = 3.3;

/// 20 cells in series, 2 in parallel, with round figures.
fn pack_bench() -> Bench {
    Bench::ideal_car().with(|p| {
        p.pack.series = 20.0;
        p.pack.parallel = 2.0;
        p.pack.cell.open_circuit_v = Curve::constant(OCV);
        p.pack.cell.resistance_ohm = Curve::constant(R0);
        p.pack.cell.polarisation_ohm = R1;
        p.pack.cell.polarisation_s = TAU_S;
        p.pack.cell.capacity_as = 100.0 * 3600.0;
        p.pack.cell.max_v = 5.0;
        p.motor.machine.envelope.reference_v = 20.0 * OCV;
    })
}

/// Lowest cell voltage and polarisation after a time of constant cell current in fixed steps.
fn stepped(cell_a: f64, step_s: f64, for_s: f64) -> f64 {
    let bench = pack_bench();
    let car = bench.car();
    let mut state = bench.parked(0.9);
    let flow = act(&car, &state, Slope::LEVEL, 0, Request::Accelerate(0.0));
    for _ in 0..(for_s / step_s).round() as usize {
        let now = car.now(&state, step_s);
        let held = Flow {
            pack_a: cell_a * 2.0,
            polarisation_v: now.pack.polarisation_v(cell_a * 2.0),
            ..flow
        };
        car.warm(&mut state, &held, step_s);
    }
    state.polarisation_v
}

fn printed_v(cell_a: f64, t: f64) -> f64 {
    OCV - R0 * cell_a - R1 * cell_a * (1.0 - (-t / TAU_S).exp())
}

#[test]
fn voltage_sags_by_the_closed_form_in_steps_of_a_second() {
    for cell_a in [150.0, -60.0] {
        for t in [5.0, 40.0, 300.0] {
            let bench = pack_bench();
            let state = State { polarisation_v: stepped(cell_a, 1.0, t), ..bench.parked(0.9) };
            let now = bench.car().now(&state, 0.0).pack;
            let (low_v, high_v) = now.cell_spread_v(cell_a * 2.0);
            assert_near(low_v, printed_v(cell_a, t), 1e-5, &format!("cell after {t} s"));
            assert_near(high_v, low_v, 1e-12, "equal cells");
            let pack_v = now.emf_v - now.ohm * cell_a * 2.0;
            assert_near(pack_v, 20.0 * printed_v(cell_a, t), 2e-4, "pack");
        }
    }
}

#[test]
fn half_the_step_leaves_a_quarter_of_the_polarisation_error() {
    let exact = R1 * 150.0 * (1.0 - (-40.0_f64 / TAU_S).exp());
    let (whole, half) = (stepped(150.0, 4.0, 40.0) - exact, stepped(150.0, 2.0, 40.0) - exact);
    assert!(whole.abs() > 1e-9);
    assert_share(whole / half, 4.0, 0.02, "error by halving the step");
}

/// In the adaptive pieces: steady auxiliaries on a source of a million volts draw a current that
/// the pack's own drop cannot move, so the polarisation is that of a constant current.
#[test]
fn voltage_sags_by_the_closed_form_in_pieces() {
    let bench = pack_bench().with(|p| {
        p.pack.cell.open_circuit_v = Curve::constant(1e8);
        p.pack.cell.capacity_as = 1e9;
        p.auxiliaries.traction_w = 20.0 * 1e8 * 2.0 * 120.0;
    });
    let car = bench.car();
    let ask = |_: f64, _: &State| Request::Accelerate(0.0);
    let piece = Piece { car: &car, gear: 0, slope: Slope::LEVEL, ask };
    for t in [10.0, 40.0, 200.0] {
        let from = Place::start(bench.parked(0.9));
        let end = piece.run(&from, t, &Tolerance::TIGHT, never, &mut ()).unwrap().0;
        let expected = R1 * 120.0 * (1.0 - (-t / TAU_S).exp());
        assert_share(end.state.polarisation_v, expected, 1e-7, "polarisation");
        let charge = 0.9 - 120.0 * t / 1e9;
        assert_near(end.state.charge, charge, 1e-12, "charge counted in ampere-seconds");
    }
}

/// `R·I² − E·I + P = 0`, the smaller root, both ways of the current.
#[test]
fn a_power_draws_the_current_of_the_quadratic() {
    let bench = pack_bench();
    let now = bench.car().now(&bench.parked(0.9), 0.0).pack;
    let (e, r) = (20.0 * OCV, 20.0 / 2.0 * R0);
    for power_w in [-20_000.0, -500.0, 0.0, 1.0, 8000.0, 0.999 * e * e / (4.0 * r)] {
        let expected = (e - (e * e - 4.0 * r * power_w).sqrt()) / (2.0 * r);
        let (found, volts) = now.terminals(power_w);
        assert_near(found, expected, 1e-8 * (1.0 + expected.abs()), "current");
        assert_near(volts, e - r * expected, 1e-8 * e, "voltage");
        assert_near(found * (e - r * found), power_w, 1e-7 * (1.0 + power_w.abs()), "power");
    }
    assert_share(now.largest_power_w(), e * e / (4.0 * r), 1e-12, "largest power, E²/4R");
    let (most_a, half_v) = now.terminals(now.largest_power_w());
    assert_share(most_a, e / (2.0 * r), 1e-7, "current at the largest power, E/2R");
    assert_share(half_v, 0.5 * e, 1e-7, "half the voltage at the largest power");
}

/// A motor that wants more gets `E²/4R` (matched load) and no more.
#[test]
fn the_whole_car_draws_no_more_than_the_matched_load() {
    let bench = pack_bench()
        .with(|p| p.motor.machine.envelope = Envelope::from_nameplate(1e5, 1e7, 1e7, 1e6, 1.0));
    let flow = act(&bench.car(), &bench.rolling(20.0), Slope::LEVEL, 0, Request::FullThrottle);
    let (e, r) = (20.0 * OCV, 20.0 / 2.0 * R0);
    assert_eq!(flow.limit, Some(Limit::PackPower));
    assert_share(flow.torque_nm * flow.radps, e * e / (4.0 * r), 1e-6, "largest power");
    assert_share(flow.pack_v, e / 2.0, 1e-2, "half the voltage");
}

/// The weak cell has `spread` more resistance and stands lower in charge,
/// `s_w = 1 − (1 − s)/(1 − spread)`: its limit is met at `I = (OCV(s_w) − V_min)/((1 + spread)·R0)`,
/// while the mean cell still has voltage to spare.
#[test]
fn the_weakest_cell_ends_it_for_all() {
    let bench = pack_bench().with(|p| {
        // 1 V from empty to full, so that charge can be read off.
        p.pack.cell.open_circuit_v = Curve::new(&[(0.0, 2.8), (1.0, 3.8)]).unwrap();
        p.pack.cell.min_v = 2.9;
        p.pack.capacity_spread = 0.05;
        p.pack.resistance_spread = 0.2;
        p.motor.machine.envelope = Envelope::from_nameplate(1e5, 1e7, 1e7, 1e6, 1.0);
    });
    let state = bench.rolling(20.0);
    let flow = act(&bench.car(), &state, Slope::LEVEL, 0, Request::FullThrottle);
    let weak_charge = 1.0 - 0.5 / 0.95;
    let expected_a = (2.8 + weak_charge - 2.9) / (1.2 * R0);
    assert_eq!(flow.limit, Some(Limit::CellVoltage));
    assert_share(flow.pack_a / 2.0, expected_a, 1e-6, "cell current at the weak cell's limit");
    assert_near(flow.low_cell_v, 2.9, 1e-6, "weak cell");
    assert_near(flow.high_cell_v, 3.3 - R0 * expected_a, 1e-6, "mean cell");
    assert!(flow.high_cell_v > 2.95);
}

/// Charging drives the weak cell's resistance up to the voltage limit first when charges are level.
#[test]
fn regen_stops_at_the_highest_cell() {
    let bench = pack_bench().with(|p| {
        p.pack.cell.max_v = 3.45;
        p.pack.resistance_spread = 0.25;
        p.braking.lift_off_nm = 1e4;
    });
    let flow = act(&bench.car(), &bench.rolling(20.0), Slope::LEVEL, 0, Request::LiftOff);
    assert_eq!(flow.limit, Some(Limit::CellVoltage));
    assert_share(-flow.pack_a / 2.0, (3.45 - OCV) / (1.25 * R0), 1e-6, "charge current");
}

/// A peak of the stated current lasts the stated time, after which the continuous one is left.
/// Data sheets state both (common practice, no source).
#[test]
fn the_peak_current_lasts_its_stated_time() {
    let bench = pack_bench().with(|p| {
        p.pack.cell.discharge_a = 100.0;
        p.pack.cell.discharge_peak_a = 300.0;
        p.pack.cell.peak_s = 30.0;
    });
    let car = bench.car();
    let mut state = bench.parked(0.9);
    let flow = act(&car, &state, Slope::LEVEL, 0, Request::Accelerate(0.0));
    let allowed_a = |s: &State| car.now(s, 0.0).pack.discharge_a.0 / 2.0;
    assert_share(allowed_a(&state), 300.0, 1e-12, "fresh");
    let held = Flow { pack_a: 600.0, ..flow };
    for _ in 0..300 {
        car.warm(&mut state, &held, 0.1);
    }
    assert_near(state.peak_reserve, 0.0, 1e-9, "reserve after 30 s of peak");
    assert_share(allowed_a(&state), 100.0, 1e-6, "spent");
    let held = Flow { pack_a: 200.0, ..flow };
    let mut resting = State { peak_reserve: 0.4, ..state };
    for _ in 0..1000 {
        car.warm(&mut resting, &held, 1.0);
    }
    assert_near(resting.peak_reserve, 0.4, 1e-9, "reserve at the continuous current");
}

/// `∫ OCV dQ`: between two charges on a straight line of voltage the energy is the mean voltage
/// times the charge; on the bent curve of the light car, a sum of trapezia by hand.
#[test]
fn energy_between_two_charges_is_the_area_under_the_voltage() {
    let bench = pack_bench().with(|p| {
        p.pack.cell.open_circuit_v = Curve::new(&[(0.0, 2.8), (1.0, 3.8)]).unwrap();
    });
    let expected = 20.0 * 2.0 * 360_000.0 * 0.6 * (3.0 + 3.6) / 2.0;
    assert_share(bench.parts.pack.energy_between_j(0.2, 0.8), expected, 1e-12, "straight line");

    let light = Bench::light_car().parts.pack;
    let trapezia = 0.1 * (2.8 + 3.2) / 2.0
        + 0.4 * (3.2 + 3.29) / 2.0
        + 0.4 * (3.29 + 3.34) / 2.0
        + 0.1 * (3.34 + 3.45) / 2.0;
    let expected = 32.0 * 360_000.0 * trapezia;
    assert_share(light.energy_between_j(0.0, 1.0), expected, 1e-4, "bent curve");
}

/// A pack below freezing sags more: resistance goes with its factor.
#[test]
fn a_cold_pack_sags_by_its_resistance_factor() {
    let bench = Bench::light_car();
    let sag = |cells_k: f64| {
        let state = bench.parked(0.6).warmed(Node::Cells, cells_k);
        let now = bench.car().now(&state, 0.0).pack;
        now.open_circuit_v()
            - now.polarisation_v(0.0)
            - now.cell_spread_v(100.0 * bench.parts.pack.parallel).1
    };
    assert_share(sag(273.15) / sag(298.15), 2.5, 1e-12, "sag at 0 °C over that at 25 °C");
}

/// A cell of which no polarisation is known is a plain resistance.
#[test]
fn a_cell_without_polarisation_is_a_plain_resistance() {
    let bench = pack_bench().with(|p| {
        p.pack.cell.polarisation_ohm = 0.0;
        p.auxiliaries.traction_w = 1000.0;
    });
    let flow = act(&bench.car(), &bench.parked(0.9), Slope::LEVEL, 0, Request::Accelerate(0.0));
    assert_near(flow.powers.residual_j(), 0.0, 1e-9, "residual");
}

/// All cells were full together: 80 of 100 A·h out of the mean cell are 80 of 95 out of the weakest.
#[test]
fn the_weakest_cell_has_lost_the_same_charge_from_less() {
    let mut pack = pack_bench().parts.pack;
    pack.capacity_spread = 0.05;
    assert_near(pack.weakest_charge(0.2), 15.0 / 95.0, 1e-12, "charge");
    assert_near(pack.weakest_charge(1.0), 1.0, 1e-12, "full");
}
