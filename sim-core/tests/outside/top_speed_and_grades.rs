//! Top speed, steepest grade, continuous and 30-minute ratings and range against closed forms.

use crate::bench;

use bench::{Bench, assert_near, assert_share, one_gear};
use sim_core::car::{Request, Slope};
use sim_core::climb::{ClimbEnding, Hill, climb};
use sim_core::controller::Derating;
use sim_core::motor::{Coefficients, Envelope, Losses};
use sim_core::pieces::Tolerance;
use sim_core::pull::{steepest_start, top_speed};
use sim_core::range::range;
use sim_core::steady::{
    continuous, equilibrium, highest_continuous_speed, thirty_minute_power, thirty_minute_speed,
};
use sim_core::units::GRAVITY_MPS2;
use sim_core::{Curve, Limit, Node, State, Trace};

/// `η·P = (A + C·v²)·v`, a cubic with one real root, by Cardano's formula.
fn cardano(power_w: f64, a_n: f64, c: f64) -> f64 {
    let (p, q) = (a_n / c, power_w / c);
    let root = (q * q / 4.0 + p * p * p / 27.0).sqrt();
    (q / 2.0 + root).cbrt() + (q / 2.0 - root).cbrt()
}

/// The balance is approached without end; a run attains it to within this share.
const ATTAINED: f64 = 5e-4;

#[test]
fn top_speed_is_the_balance_of_power_and_resistance() {
    for (power_w, efficiency, a_n, c) in
        [(15e3, 0.95, 110.0, 0.42), (40e3, 0.9, 90.0, 0.35), (6e3, 1.0, 150.0, 0.5)]
    {
        let bench = Bench::ideal_car().with(|p| {
            p.gearbox = one_gear(0.3, efficiency);
            p.road_load = bench::road_load(1000.0, a_n, c);
            p.motor.machine.envelope =
                Envelope::from_nameplate(3000.0, power_w, power_w, 200.0, 100.0);
            p.motor.max_radps = 200.0;
        });
        let found = top_speed(&bench.car(), &bench.parked(0.5), Slope::LEVEL, 0).speed_mps;
        assert_share(found, cardano(efficiency * power_w, a_n, c), ATTAINED, "top speed");
    }
}

/// On a grade the constant part grows: `A' = A·cos θ + m·g·sin θ`.
#[test]
fn top_speed_falls_uphill() {
    let bench = Bench::ideal_car().with(|p| {
        p.road_load = bench::road_load(1000.0, 110.0, 0.42);
        p.motor.machine.envelope = Envelope::from_nameplate(3000.0, 20e3, 20e3, 200.0, 100.0);
        p.motor.max_radps = 200.0;
    });
    let slope = Slope::from_grade(0.06);
    let angle = f64::atan(0.06);
    let a_n = 110.0 * angle.cos() + 1000.0 * GRAVITY_MPS2 * angle.sin();
    let found = top_speed(&bench.car(), &bench.parked(0.5), slope, 0).speed_mps;
    assert_share(found, cardano(20e3, a_n, 0.42), ATTAINED, "top speed on 6 %");
}

#[test]
fn a_short_gear_ends_at_the_highest_turns() {
    let bench = Bench::ideal_car().with(|p| {
        p.road_load = bench::road_load(1000.0, 110.0, 0.42);
        p.motor.max_radps = 25.0;
    });
    let found = top_speed(&bench.car(), &bench.parked(0.5), Slope::LEVEL, 0);
    assert_eq!(found.by, Some(Limit::Rpm));
    // The limiter takes the torque away over the last percent.
    let speed_mps = found.speed_mps;
    assert!(speed_mps <= 25.0 && speed_mps > 0.99 * 25.0, "{speed_mps}");
}

/// `sin θ + f·cos θ = k` with `k = (η·T·G/r − 0.1·(M + η·J·(G/r)²))/(m·g)` has the solution
/// `θ = asin(k/√(1 + f²)) − atan f`; 0.1 m/s² are left to pull away with.
#[test]
fn the_steepest_start_is_the_closed_form() {
    for (torque_nm, efficiency, inertia) in
        [(100.0, 0.95, 0.03), (60.0, 0.9, 0.0), (140.0, 1.0, 0.1)]
    {
        let per_m = 12.0 / 0.3;
        let bench = Bench::ideal_car().with(|p| {
            p.gearbox = one_gear(12.0, efficiency);
            p.road_load = bench::road_load(1000.0, 120.0, 0.4);
            p.motor.rotor_inertia_kg_m2 = inertia;
            p.motor.machine.envelope = Envelope::from_nameplate(torque_nm, 1e5, 1e5, 1e4, 100.0);
        });
        let moving_kg = 1000.0 + efficiency * inertia * per_m * per_m;
        let weight_n = 1000.0 * GRAVITY_MPS2;
        let k = (efficiency * torque_nm * per_m - 0.1 * moving_kg) / weight_n;
        let f: f64 = 120.0 / weight_n;
        let expected = ((k / (1.0 + f * f).sqrt()).asin() - f.atan()).tan();
        let found = steepest_start(&bench.car(), &bench.parked(0.5), 0);
        assert_share(found, expected, 1e-6, &format!("{torque_nm} N·m"));
    }
}

/// A pack without end and constant open-circuit voltage, so that a climb can last for days.
fn tireless() -> Bench {
    Bench::light_car().with(|p| {
        p.pack.cell.open_circuit_v = Curve::constant(3.3);
        p.pack.cell.resistance_ohm = Curve::constant(0.001);
        p.pack.cell.capacity_as = 1e15;
    })
}

#[test]
fn a_long_climb_comes_to_the_equilibrium() {
    for (grade, speed_mps, gear) in [(0.0, 13.0, 2), (0.01, 11.0, 1), (0.02, 8.0, 1)] {
        let bench = tireless();
        let car = bench.car();
        let slope = Slope::from_grade(grade);
        let start = bench.parked(0.5);
        let settled = equilibrium(&car, &start, slope, speed_mps, gear)
            .unwrap_or_else(|by| panic!("{grade} does not settle: {by:?}"));
        // The slowest node that settles, the housing, has a time constant of some 4000 s.
        let hill = Hill { slope, speed_mps, distance_m: speed_mps * 200_000.0 };
        let found = climb(&car, &start, &hill, gear, &Tolerance::default(), &mut ()).unwrap();
        assert_eq!(found.ending, ClimbEnding::Top);
        let (a, b) = (&found.end.state, &settled.state);
        for (node, a_k, b_k) in [
            ("winding", a.temperature_k[Node::Winding], b.temperature_k[Node::Winding]),
            ("housing", a.temperature_k[Node::Housing], b.temperature_k[Node::Housing]),
            ("heat sink", a.temperature_k[Node::Sink], b.temperature_k[Node::Sink]),
        ] {
            // The cells are warmer at the end than at the start, and hold a little more voltage.
            assert_near(a_k, b_k, 0.02, &format!("{node} on {grade}"));
            assert!(b_k > bench::WARM_K + 0.1, "{node} is not warm");
        }
        assert_share(found.last.pack_a, settled.flow.pack_a, 1e-3, "pack current");
    }
}

/// At the highest continuous speed the hottest part just stays below its warning; a little faster it
/// does not.
#[test]
fn the_highest_continuous_speed_is_where_a_part_reaches_its_warning() {
    let bench = tireless();
    let car = bench.car();
    let slope = Slope::from_grade(0.03);
    let start = bench.parked(0.5);
    let (speed_mps, by) = highest_continuous_speed(&car, &start, slope, 1).unwrap();
    let settled = equilibrium(&car, &start, slope, speed_mps, 1).unwrap();
    let below_k = (bench.parts.motor.derating.warning_k
        - settled.state.temperature_k[Node::Winding])
        .min(bench.parts.controller.derating.warning_k - settled.state.temperature_k[Node::Sink]);
    assert!((0.0..0.5).contains(&below_k), "{below_k} K below a warning at {speed_mps} m/s");
    assert!(by.is_thermal());
    assert_eq!(equilibrium(&car, &start, slope, speed_mps * 1.01, 1), Err(by));
}

/// 10 kW of an ideal car out of a pack of 100 V: cells with 1 K/W to an air 20 K below their warning
/// would be 4 K above it for ever, as `T − T_air = P·(1 − e^(−t/τ))` with `P = R·I² = 24 W`. They
/// pass it at `t = τ·ln 6`, so that a pack that is empty before then is not limited by them.
#[test]
fn cells_that_would_be_too_hot_only_after_the_pack_is_empty_limit_nothing() {
    let heat_w: f64 = 24.0;
    let capacity_s = 1800.0;
    for (time_constant_s, limited) in [(1500.0, false), (700.0, true)] {
        let bench = Bench::ideal_car().with(|p| {
            p.road_load = bench::road_load(1000.0, 500.0, 0.0);
            let cell = &mut p.pack.cell;
            let amperes = 100.0;
            cell.resistance_ohm = Curve::constant(heat_w / (amperes * amperes));
            cell.capacity_as = amperes * capacity_s;
            let warm_k = bench::WARM_K + 20.0;
            cell.discharge_factor = Curve::new(&[(warm_k, 1.0), (warm_k + 1.0, 0.0)]).unwrap();
            p.pack.conductance_w_per_k = 1.0;
            p.pack.heat_capacity_j_per_k = time_constant_s;
        });
        let empty_after_time_constants: f64 = capacity_s / time_constant_s;
        assert_eq!(empty_after_time_constants > 6f64.ln(), limited);
        let found = continuous(&bench.car(), &bench.parked(1.0), Slope::LEVEL, 20.0, 0);
        assert_eq!(found.err(), limited.then_some(Limit::CellTemperature));
    }
}

/// 30-minute speed by ISO 8715 (from memory): `A·v` for 1800 s out of a pack of energy `E`, `v = E/(1800·A)`.
#[test]
fn a_pack_that_is_empty_after_thirty_minutes_sets_the_thirty_minute_speed() {
    let bench = Bench::ideal_car().with(|p| {
        p.road_load = bench::road_load(1000.0, 200.0, 0.0);
        p.motor.max_radps = 100.0;
        p.pack.cell.capacity_as = 72_000.0;
    });
    let (found, by) = thirty_minute_speed(&bench.car(), &bench.parked(1.0), 0).unwrap();
    assert_eq!(by, Limit::Charge);
    // A step of 10 s of 1800.
    assert_share(found, 100.0 * 72_000.0 / (1800.0 * 200.0), 0.006, "speed");
}

/// A winding of capacity `C` without a way out warms by `R·I²·t/C`: for thirty minutes it bears the
/// torque `T = k·√(C·ΔT/(R·t))`, with copper's growth left out by a large reference of losses.
#[test]
fn the_thirty_minute_power_of_a_motor_without_cooling_is_what_its_copper_stores() {
    let (kelvins, ohm) = (50.0, 0.01);
    let torque_nm = 30.0;
    let bench = Bench::ideal_car().with(|p| {
        p.motor.machine.envelope = Envelope::from_nameplate(100.0, 40e3, 40e3, 1000.0, 100.0);
        p.motor.machine.current_a_per_nm = 1.0;
        p.motor.max_radps = 1000.0;
        p.motor.losses =
            Losses::from(Coefficients { copper_w_per_a2: ohm, ..Coefficients::default() });
        // `R(T)` of copper over the rise, in the mean.
        p.motor.loss_reference_k = bench::WARM_K + 0.5 * kelvins;
        let thermal = &mut p.motor.thermal;
        thermal.winding_j_per_k = ohm * torque_nm * torque_nm * 1800.0 / kelvins;
        thermal.winding_to_housing_w_per_k = 0.0;
        let warning_k = bench::WARM_K + kelvins;
        p.motor.derating = Derating { warning_k, cut_off_k: warning_k + 1e-3 };
    });
    let found = thirty_minute_power(&bench.car(), &bench.parked(0.5)).unwrap();
    assert_eq!(found.by, Limit::MotorHeat);
    // Above base speed the current for a power is the same at every speed.
    let power_w = torque_nm * 400.0;
    assert_share(found.power_w, power_w, 0.01, "power");
}

/// A part that cuts back between its warning and its cut-off never gets to the cut-off, and the car
/// slows.
#[test]
fn an_overloaded_climb_slows_before_anything_is_cut_off() {
    let bench = tireless();
    let hill = Hill { slope: Slope::from_grade(0.2), speed_mps: 6.0, distance_m: 30_000.0 };
    let found =
        climb(&bench.car(), &bench.parked(0.5), &hill, 1, &Tolerance::default(), &mut ()).unwrap();
    let (derated_s, limit) = found.derated.expect("nothing cut back");
    assert!(limit.is_thermal() && derated_s > 10.0);
    assert!(found.slowed.is_some() && found.slowest_mps < 0.99 * 6.0 && !found.held());
    assert!(found.extremes.hottest_k[Node::Winding] < bench.parts.motor.derating.cut_off_k);
    assert!(found.extremes.hottest_k[Node::Sink] < bench.parts.controller.derating.cut_off_k);
}

/// A lossless car of resistance `A` goes `x = E/A` on the energy `E` of its window; the weak cell
/// ends it earlier, at `1 − (1 − s_min)·(1 − spread)` of the mean charge, and cold that leaves four
/// fifths of its capacity a fifth earlier still.
#[test]
fn range_is_usable_energy_over_force() {
    for (spread, min_charge, full, left) in
        [(0.0, 0.0, 1.0, 1.0), (0.05, 0.1, 0.95, 1.0), (0.05, 0.1, 0.95, 0.8)]
    {
        let bench = Bench::ideal_car().with(|p| {
            p.road_load = bench::road_load(1000.0, 200.0, 0.0);
            p.pack.cell.capacity_as = 36_000.0;
            p.pack.capacity_spread = spread;
            p.pack.min_charge = min_charge;
            p.pack.max_charge = full;
            p.pack.cell.capacity_factor = Curve::constant(left);
        });
        let empty = 1.0 - (left - min_charge) * (1.0 - spread);
        let expected_m = 100.0 * 36_000.0 * (full - empty) / 200.0;
        let trace = Trace::steady(10.0, 0.0, 100.0).unwrap();
        let start = State { speed_mps: 10.0, ..bench.parked(full) };
        let driver = bench::one_gear_driver(0);
        let found = range(&bench.car(), &trace, &driver, &start, 0, 1.0);
        assert!(
            matches!(found.ending, sim_core::follow::DriveEnding::Empty(_)),
            "{:?}",
            found.ending
        );
        // The end is noticed within two steps of 10 m.
        assert_near(found.distance_m, expected_m, 20.0, "range");
        assert_share(found.time_s, found.distance_m / 10.0, 1e-9, "time at 10 m/s");
        // The trace is a kilometre long.
        let over = f64::from(found.rounds) - found.distance_m / 1000.0;
        assert!((-1e-9..=1.0).contains(&over), "{} rounds", found.rounds);
        let usable_j = bench.parts.pack.usable_j(bench::WARM_K);
        assert_share(usable_j, expected_m * 200.0, 1e-9, "usable energy");
    }
}

/// Full throttle downhill in neutral and lift-off agree where there is no motor: sanity of signs.
#[test]
fn downhill_adds_what_uphill_takes() {
    let bench = Bench::ideal_car();
    let car = bench.car();
    for grade in [0.02, 0.1] {
        let up = Slope::from_grade(grade);
        let down = Slope::from_grade(-grade);
        let at = |s| bench::act(&car, &bench.rolling(5.0), s, 0, Request::LiftOff);
        let expected = GRAVITY_MPS2 * f64::atan(grade).sin();
        assert_near(at(up).acceleration_mps2, -expected, 1e-12, "uphill");
        assert_near(at(down).acceleration_mps2, expected, 1e-12, "downhill");
    }
}
