//! Where each joule went. The books close, and the accounts agree with reckonings that do not use
//! them: `½·m·v²` from the ends, `m·g·Δh` from the road, `∫ OCV dQ` from the charge, heat of the
//! nodes from their temperatures.

use crate::bench;

use bench::{Bench, assert_near, assert_share, one_gear_driver, shifting_driver, stop_and_go};
use sim_core::car::{Car, Slope};
use sim_core::climb::{Hill, climb};
use sim_core::driver::{Driver, Shifting};
use sim_core::follow::{Drive, Moment, follow};
use sim_core::ledger::{Account, Ledger};
use sim_core::motor::Kind;
use sim_core::pack::Pack;
use sim_core::pieces::Tolerance;
use sim_core::pull::{Course, Plan, pull};
use sim_core::units::GRAVITY_MPS2;
use sim_core::{Limit, Node, State, Trace};

const CLOSES: f64 = 1e-9;

/// Chemical energy between two charges of the mean cell: trapezia between the points of the voltage
/// curve, exact for straight lines.
fn chemical_j(pack: &Pack, from: f64, to: f64) -> f64 {
    let (low, high) = (from.min(to), from.max(to));
    let curve = &pack.cell.open_circuit_v;
    let mut at: Vec<f64> = curve.points().map(|p| p.0).filter(|s| *s > low && *s < high).collect();
    at.insert(0, low);
    at.push(high);
    let area: f64 =
        at.windows(2).map(|w| 0.5 * (w[1] - w[0]) * (curve.at(w[0]) + curve.at(w[1]))).sum();
    area * pack.series * pack.parallel * pack.cell.capacity_as * pack.health * (from - to).signum()
}

/// `½·(m + J_w/r² + J_r·(G/r)²)·v²`, from the parts and not from the car.
fn kinetic_j(car: &Car, speed_mps: f64, gear: usize) -> f64 {
    let p = car.parts();
    let per_m = p.gearbox.gears()[gear].ratio / p.rolling_radius_m;
    let moving_kg = p.chassis.mass_kg
        + p.chassis.wheels_inertia_kg_m2 / p.rolling_radius_m.powi(2)
        + p.motor.rotor_inertia_kg_m2 * per_m * per_m;
    0.5 * moving_kg * speed_mps * speed_mps
}

/// Height of the trace's road at a distance from its start, m.
fn height_m(trace: &Trace, distance_m: f64) -> f64 {
    let (mut from_m, mut height) = (0.0, 0.0);
    for s in trace.stretches() {
        let length = s.end_m.min(distance_m) - from_m;
        if length <= 0.0 && s.end_m > from_m {
            break;
        }
        height += s.sin_grade * length;
        from_m = s.end_m;
    }
    height
}

fn drive(bench: &Bench, trace: &Trace, driver: &Driver, start: &State, step_s: f64) -> Drive {
    follow(&bench.car(), trace, driver, start, driver.start_gear, step_s, &mut ())
}

/// Checks that the books close and that stored energies are what the ends say.
fn check(bench: &Bench, trace: &Trace, start: &State, drive: &Drive, step_s: f64, what: &str) {
    let car = bench.car();
    let ledger: &Ledger = &drive.ledger;
    let throughput_j = ledger.throughput_j();
    assert!(throughput_j > 1e4, "{what}: nothing moved");
    assert_near(ledger.residual_j() / throughput_j, 0.0, CLOSES, &format!("{what}: residual"));

    let kinetic =
        kinetic_j(&car, drive.end.speed_mps, drive.gear) - kinetic_j(&car, start.speed_mps, 0);
    let within = CLOSES * throughput_j;
    assert_near(ledger[Account::Kinetic], kinetic, within, &format!("{what}: ½mv²"));

    // A step takes the mean slope of the way that it expects to go. Where a limit or a shift holds
    // the car back it goes a little less far, which is of second order in the step.
    let potential = bench.parts.chassis.mass_kg
        * GRAVITY_MPS2
        * height_m(trace, drive.end.distance_m - start.distance_m);
    let within = (2e-4 * step_s * step_s + CLOSES) * throughput_j;
    assert_near(ledger[Account::Potential], potential, within, &format!("{what}: mgh"));

    let chemical = chemical_j(&bench.parts.pack, start.charge, drive.end.charge);
    let within = 2e-5 * throughput_j;
    assert_near(ledger[Account::Chemical], chemical, within, &format!("{what}: ∫OCV dQ"));

    // Energy stored in the pairs: ½·C·U² with C = τ/R1 (at 25 °C where the cells hardly warm).
    let pack = &bench.parts.pack;
    let stored = |s: &State| {
        let ohm = pack.cell.polarisation_ohm
            * pack.cell.resistance_factor.at(s.temperature_k[Node::Cells]);
        0.5 * pack.cell.polarisation_s / ohm * s.polarisation_v.powi(2)
    };
    let cells = pack.series * pack.parallel;
    let polarisation = cells * (stored(&drive.end) - stored(start));
    let within = 2e-5 * throughput_j;
    assert_near(ledger[Account::Polarisation], polarisation, within, &format!("{what}: ½CU²"));
}

fn cases() -> Vec<(&'static str, Bench, Driver)> {
    let weak = Bench::light_car().with(|p| p.controller.pack_current_a = 90.0);
    let slippery = Bench::light_car().around(|a| a.friction = 0.12);
    let series = Bench::light_car().with(|p| {
        p.motor.machine.kind = Kind::SeriesDc { saturation_a: 200.0, brush_v: 2.0 };
    });
    let magnets = Bench::light_car().with(|p| p.motor.machine.kind = Kind::PermanentMagnet);
    let windy = Bench::light_car().around(|a| a.head_wind_mps = 7.0);
    let pushed = Bench::light_car().around(|a| a.head_wind_mps = -9.0);
    let instant = Bench::light_car().with(|p| p.gearbox.shift_s = 0.0);
    let efficient = Driver { shifting: Shifting::Efficient, start_gear: 0 };
    let quick = Driver { shifting: Shifting::Quick, start_gear: 0 };
    vec![
        ("shifting", Bench::light_car(), shifting_driver()),
        ("second gear only", Bench::light_car(), one_gear_driver(1)),
        ("efficient", Bench::light_car(), efficient),
        ("quick", Bench::light_car(), quick),
        ("instant shifts", instant, shifting_driver()),
        ("held back", weak, shifting_driver()),
        ("slippery", slippery, shifting_driver()),
        ("series motor", series, shifting_driver()),
        ("magnets", magnets, shifting_driver()),
        ("head wind", windy, shifting_driver()),
        ("tail wind", pushed, shifting_driver()),
    ]
}

#[test]
fn the_books_of_a_drive_close_and_agree_with_the_ends() {
    for hilly in [false, true] {
        let trace = stop_and_go(22.0, 5, hilly);
        for (name, bench, driver) in cases() {
            for step_s in [1.0, 0.02] {
                let start = bench.parked(0.8);
                let found = drive(&bench, &trace, &driver, &start, step_s);
                let what = format!("{name}, hilly {hilly}, step {step_s}");
                check(&bench, &trace, &start, &found, step_s, &what);
            }
        }
    }
}

/// The cases really do what their names say.
#[test]
fn the_cases_shift_are_held_back_and_slip() {
    let trace = stop_and_go(22.0, 5, false);
    let run = |name: &str| {
        let (_, bench, driver) = cases().into_iter().find(|c| c.0 == name).unwrap();
        drive(&bench, &trace, &driver, &bench.parked(0.8), 1.0)
    };
    assert!(run("shifting").shifts > 10 && run("shifting").ledger[Account::Clutch] > 0.0);
    assert!(run("held back").limited_s[Limit::ControllerPackCurrent as usize] > 20.0);
    assert!(run("slippery").limited_s[Limit::Grip as usize] > 10.0);
    assert_eq!(run("series motor").regen_j, 0.0);
    assert!(run("shifting").regen_j > 1e4);
}

/// From 8 to 17 m/s in a minute, uphill, in one gear: the kinetic account against the ends.
fn kinetic_from_roll_to_roll(gear: usize) -> (f64, f64) {
    let speeds: Vec<f64> = (0..=60).map(|i| 8.0 + 0.15 * f64::from(i)).collect();
    let times: Vec<f64> = (0..=60).map(f64::from).collect();
    let trace = Trace::new(&times, &speeds, &[0.02; 60]).unwrap();
    let bench = Bench::light_car();
    let start = State { speed_mps: 8.0, ..bench.parked(0.7) };
    let car = bench.car();
    let found = follow(&car, &trace, &one_gear_driver(gear), &start, gear, 1.0, &mut ());
    let ends = kinetic_j(&car, found.end.speed_mps, gear) - kinetic_j(&car, 8.0, gear);
    (found.ledger[Account::Kinetic], ends)
}

/// A drive that starts rolling and ends rolling has kinetic energy left over.
#[test]
fn a_drive_from_roll_to_roll_keeps_its_kinetic_energy() {
    for gear in [1, 2] {
        let (booked, ends) = kinetic_from_roll_to_roll(gear);
        assert_share(booked, ends, 1e-9, "½mv²");
        assert!(ends > 9e4);
    }
}

/// So does one that runs into the highest motor speed, at 13.2 m/s in first gear.
#[test]
fn a_drive_against_the_highest_motor_speed_keeps_its_kinetic_energy() {
    let (booked, ends) = kinetic_from_roll_to_roll(0);
    assert_share(booked, ends, 1e-9, "½mv²");
}

/// A car that follows its trace to the letter climbs what the road climbs, to rounding.
#[test]
fn a_car_that_keeps_up_climbs_what_the_road_climbs() {
    let trace = stop_and_go(14.0, 4, true);
    let bench = Bench::ideal_car();
    let start = bench.parked(0.8);
    let found = drive(&bench, &trace, &one_gear_driver(0), &start, 1.0);
    assert!(found.largest_lag_mps < 1e-9, "the car lags by {} m/s", found.largest_lag_mps);
    let climbed_m: f64 = height_m(&trace, trace.distance_m());
    let expected = 1000.0 * GRAVITY_MPS2 * climbed_m;
    assert_near(found.ledger[Account::Potential], expected, 1e-3, "mgh");
}

/// A drive of even accelerations, each for so many seconds on a slope: what the road takes from it.
const LEGS: [(u32, f64, f64); 7] = [
    (14, 0.9, 0.02),
    (40, 0.0, -0.03),
    (7, -1.8, 0.01),
    (30, 0.0, 0.0),
    (20, 0.75, 0.04),
    (60, 0.0, -0.02),
    (10, -1.5, 0.0),
];

/// Work of tyres, air, height and friction brakes and what regen gets, J, of a car of 1000 kg that
/// drives [`LEGS`] without a loss of its own: `∫ F·v dt` by ten thousand rectangles a second. Its
/// motor brakes with up to 200 N, faded out between 4 and 1.4 m/s, its wheels weigh 2/0.3² kg more,
/// the wind blows at 3 m/s against it.
fn work_of_the_legs_j() -> [f64; 5] {
    let h = 1e-4;
    let density = 101_325.0 / (287.052_87 * 298.15);
    let (mut from, mut chill_k) = (0.0, 0.0);
    let mut work = [0.0; 5];
    for (seconds, acceleration, grade) in LEGS {
        let angle = f64::atan(grade);
        for i in 0..seconds * 10_000 {
            let v = from + (f64::from(i) + 0.5) * h * acceleration;
            // Tyres that cool by ΔT while the car stands roll 1/(1 − K·ΔT) harder at 25 °C,
            // K = 0.008 (ISO 28580): towards 25 K colder in 1500 s, back in 600 s.
            let rolling_n =
                1000.0 * GRAVITY_MPS2 * (0.011 + 5e-5 * v) * angle.cos() / (1.0 - 0.008 * chill_k);
            let air_n = 0.5 * density * 0.65 * (v + 3.0) * (v + 3.0);
            let grade_n = 1000.0 * GRAVITY_MPS2 * angle.sin();
            let wheels_n = (1000.0 + 2.0 / 0.09) * acceleration + rolling_n + air_n + grade_n;
            let regen_n = (-wheels_n).clamp(0.0, 200.0 * ((v - 1.4) / 2.6).clamp(0.0, 1.0));
            let brakes_n = (-wheels_n).max(0.0) - regen_n;
            let forces = [rolling_n, air_n, grade_n, brakes_n, regen_n];
            work.iter_mut().zip(forces).for_each(|(sum, force)| *sum += force * v * h);
            chill_k += h * if v > 0.0 { -chill_k / 600.0 } else { (25.0 - chill_k) / 1500.0 };
        }
        from += f64::from(seconds) * acceleration;
        // Stops are whole.
        from = if from < 1e-9 { 0.0 } else { from };
    }
    work
}

/// Forces times distances of a car that keeps up with its trace, worked by hand: within the 0.1 %
/// that energy is promised to at a step of a second, and of second order below.
#[test]
fn road_accounts_are_forces_times_distances() {
    let bench = Bench::ideal_car()
        .with(|p| {
            p.chassis.wheels_inertia_kg_m2 = 2.0;
            p.road_load = sim_core::road_load::RoadLoad::Coefficients {
                drag_area_m2: 0.65,
                rolling: 0.011,
                rolling_per_mps: 5e-5,
                bearings_n: 0.0,
            };
            (p.braking.lift_off_nm, p.braking.brake_pedal_nm) = (120.0, 80.0);
        })
        .around(|a| a.head_wind_mps = 3.0);
    let (mut times, mut speeds, mut slopes) = (vec![0.0], vec![0.0], vec![]);
    for (seconds, acceleration, grade) in LEGS {
        for _ in 0..seconds {
            times.push(times.len() as f64);
            let speed: f64 = speeds[speeds.len() - 1] + acceleration;
            speeds.push(if speed < 1e-9 { 0.0 } else { speed });
            slopes.push(grade);
        }
    }
    let trace = Trace::new(&times, &speeds, &slopes).unwrap();
    let [rolling, air, height, brakes, regen] = work_of_the_legs_j();
    assert!(brakes > 1e4 && regen > 1e4 && rolling > 1e5 && air > 1e5 && height < -1e5);
    for (step_s, share) in [(1.0, 1e-3), (0.02, 1e-5)] {
        let found = drive(&bench, &trace, &one_gear_driver(0), &bench.parked(0.5), step_s);
        assert!(found.largest_lag_mps < 1e-9, "the car lags by {} m/s", found.largest_lag_mps);
        assert_share(found.ledger[Account::Potential], height, 1e-9, "m·g·h");
        for (what, found, expected) in [
            ("rolling", found.ledger[Account::Rolling], rolling),
            ("air", found.ledger[Account::Air], air),
            ("brakes", found.ledger[Account::Brakes], brakes),
            ("regen", found.regen_j, regen),
        ] {
            assert_share(found, expected, share, &format!("{what} at {step_s} s"));
        }
    }
}

/// The heat that the accounts name is in the nodes or has left them through their conductances,
/// `G = g0 + g_fan·ω^0.8 + g_road·v^0.8`, worked from the speed of each moment.
#[test]
fn booked_losses_are_the_heat_of_the_nodes() {
    let bench = Bench::light_car();
    let trace = stop_and_go(20.0, 4, false);
    let mut lost = [0.0; 3];
    let mut before = bench.parked(0.8);
    let mut sum = |m: &Moment<'_>| {
        let mean = |from: f64, to: f64| 0.5 * (from + to) - bench::WARM_K;
        let speed = (m.state.distance_m - before.distance_m) / m.step_s;
        let ratio = m.gear.map_or(0.0, |gear| [3.5, 2.0, 1.3, 0.95][gear] * 4.1);
        let w_per_k = [
            (Node::Housing, 3.0 + 0.07 * (speed * ratio / 0.27).powf(0.8) + 0.3 * speed.powf(0.8)),
            (Node::Sink, 5.0 + speed.powf(0.8)),
            (Node::Cells, 10.0),
        ];
        for (lost_j, (node, w_per_k)) in lost.iter_mut().zip(w_per_k) {
            let rise_k = mean(before.temperature_k[node], m.state.temperature_k[node]);
            *lost_j += w_per_k * rise_k * m.step_s;
        }
        before = *m.state;
    };
    let start = bench.parked(0.8);
    let found = follow(&bench.car(), &trace, &shifting_driver(), &start, 0, 1.0, &mut sum);
    let end = &found.end;
    let l = &found.ledger;
    let rise = |node: Node| end.temperature_k[node] - bench::WARM_K;
    let t = &bench.parts.motor.thermal;
    let motor =
        t.winding_j_per_k * rise(Node::Winding) + t.housing_j_per_k * rise(Node::Housing) + lost[0];
    let booked = l[Account::Copper] + l[Account::Iron] + l[Account::Windage];
    assert_share(motor, booked, 1e-9, "heat of the motor");
    let sink = 4000.0 * rise(Node::Sink) + lost[1];
    assert_share(sink, l[Account::Controller], 1e-9, "heat of the controller");
    let cells = 96_000.0 * rise(Node::Cells) + lost[2];
    let harness = 0.005 * found.pack_a2_s;
    assert_share(cells + harness, l[Account::PackResistance], 1e-9, "heat of the pack");
    assert_share(l[Account::Auxiliaries], 150.0 / 0.9 * found.time_s, 1e-9, "12 V loads");
}

#[test]
fn the_books_of_a_pull_close_and_agree_with_the_ends() {
    for (name, bench, _) in cases() {
        for plan in [bench::gears_held(4), Plan::in_gear(1)] {
            let slope = Slope::from_grade(0.03);
            let course = Course {
                plan: plan.clone(),
                slope,
                speeds_mps: vec![8.0, 16.0],
                distances_m: vec![],
                most_s: 90.0,
            };
            let car = bench.car();
            let start = bench.parked(0.8);
            let mut last_gear = 0;
            let mut watch = |m: &Moment<'_>| last_gear = m.gear.unwrap_or(last_gear);
            let found = pull(&car, &start, &course, &Tolerance::TIGHT, &mut watch).unwrap();
            let what = format!("pull, {name}, {plan:?}");
            let ledger = &found.end.ledger;
            let all_j = ledger.throughput_j();
            assert!(all_j > 1e4);
            assert_near(ledger.residual_j() / all_j, 0.0, CLOSES, &what);
            let end = &found.end.state;
            let kinetic = kinetic_j(&car, end.speed_mps, last_gear);
            assert_near(ledger[Account::Kinetic], kinetic, 1e-7 * all_j, &format!("{what}: ½mv²"));
            let potential = 900.0 * GRAVITY_MPS2 * end.distance_m * slope.sin;
            assert_near(
                ledger[Account::Potential],
                potential,
                1e-7 * all_j,
                &format!("{what}: mgh"),
            );
            let chemical = chemical_j(&bench.parts.pack, start.charge, end.charge);
            assert_near(
                ledger[Account::Chemical],
                chemical,
                1e-6 * all_j,
                &format!("{what}: ∫OCV dQ"),
            );
        }
    }
}

#[test]
fn the_books_of_a_climb_close_and_agree_with_the_ends() {
    for (grade, gear) in [(0.06, 0), (0.05, 1), (-0.05, 1), (0.0, 2)] {
        let bench = Bench::light_car();
        let car = bench.car();
        let start = bench.parked(0.8);
        let slope = Slope::from_grade(grade);
        let hill = Hill { slope, speed_mps: 9.0, distance_m: 3000.0 };
        let found = climb(&car, &start, &hill, gear, &Tolerance::default(), &mut ()).unwrap();
        let what = format!("grade {grade} in gear {gear}");
        let ledger = &found.end.ledger;
        let all_j = ledger.throughput_j();
        assert_near(ledger.residual_j() / all_j, 0.0, CLOSES, &what);
        let end = &found.end.state;
        let kinetic = kinetic_j(&car, end.speed_mps, gear) - kinetic_j(&car, 9.0, gear);
        assert_near(ledger[Account::Kinetic], kinetic, 1e-7 * all_j, &format!("{what}: ½mv²"));
        let potential = 900.0 * GRAVITY_MPS2 * end.distance_m * slope.sin;
        assert_near(ledger[Account::Potential], potential, 1e-7 * all_j, &format!("{what}: mgh"));
        let chemical = chemical_j(&bench.parts.pack, start.charge, end.charge);
        assert_near(ledger[Account::Chemical], chemical, 1e-6 * all_j, &format!("{what}: ∫OCV dQ"));
    }
}

/// Engaging a gear is a plastic impact: momentum `M·v + J·g·ω` stays, and the energy lost is
/// `½·(M·J·g²/(M + J·g²))·(v − ω/g)²` (reduced mass, any mechanics handbook).
#[test]
fn engaging_a_gear_loses_the_energy_of_a_plastic_impact() {
    let car = Bench::light_car().car();
    let (mass_kg, per_m_from, per_m_to) =
        (900.0 + 2.0 / (0.27 * 0.27), 3.5 * 4.1 / 0.27, 2.0 * 4.1 / 0.27);
    let (speed, rotor_mps) = (9.5, 10.0);
    let rotor_kg = 0.03 * per_m_to * per_m_to;
    let gap = speed - rotor_mps * per_m_from / per_m_to;
    let lost = 0.5 * mass_kg * rotor_kg / (mass_kg + rotor_kg) * gap * gap;
    let (after, lost_j) = car.engage(1, speed, 0, rotor_mps);
    assert_share(lost_j, lost, 1e-9, "energy lost in the clutch");
    assert_share(after, speed - gap * rotor_kg / (mass_kg + rotor_kg), 1e-12, "speed after");
}

/// One instant worked by hand, link by link: forces, shaft, losses by origin, controller, pack.
/// 6 m/s in second gear, uphill 3 %, gathering 0.4 m/s²: below base speed.
#[test]
fn every_account_of_one_instant_is_the_hand_calculation() {
    let bench = Bench::light_car().around(|a| a.head_wind_mps = 2.0);
    let state = State { polarisation_v: 0.01, ..bench.rolling(6.0).warmed(Node::Winding, 363.15) };
    let slope = Slope::from_grade(0.03);
    let flow = bench::act(&bench.car(), &state, slope, 1, sim_core::car::Request::Accelerate(0.4));

    let (v, a, mass_kg, r) = (6.0, 0.4, 900.0, 0.27);
    let angle = f64::atan(0.03);
    let rolling_n = mass_kg * GRAVITY_MPS2 * (0.011 + 5e-5 * v) * angle.cos();
    let density = 101_325.0 / (287.052_87 * 298.15);
    let air_n = 0.5 * density * 0.65 * (v + 2.0) * (v + 2.0);
    let grade_n = mass_kg * GRAVITY_MPS2 * angle.sin();
    let wheels_n = (mass_kg + 2.0 / (r * r)) * a + rolling_n + air_n + grade_n;
    let ratio = 2.0 * 4.1;
    let omega = v * ratio / r;
    let input_nm = wheels_n * r / (ratio * 0.95);
    let drag_nm = 0.5 + 0.002 * omega;
    let torque_nm = input_nm + drag_nm + 0.03 * a * ratio / r;
    let amperes = f64::hypot(60.0, torque_nm * 450.0 / 110.0);
    let copper_w = 0.02 * amperes * amperes * (235.0 + 90.0) / (235.0 + 80.0);
    let iron_w = 30.0 + 0.4 * omega + 0.0005 * omega * omega;
    let windage_w = 0.2 * omega + 2e-7 * omega.powi(3);
    let controller_w = 30.0 + 0.8 * amperes + 0.002 * amperes * amperes;
    let auxiliaries_w = 150.0 / 0.9;
    let power_w = torque_nm * omega + copper_w + iron_w + windage_w + controller_w + auxiliaries_w;
    // Half full: 3.29 V a cell less 10 mV of polarisation, behind 1 mΩ a cell and 5 mΩ of harness.
    let (e, ohm) = (32.0 * 3.28, 32.0 * 0.001 + 0.005);
    let pack_a = (e - (e * e - 4.0 * ohm * power_w).sqrt()) / (2.0 * ohm);
    let pair_w = 32.0 * 0.01 * 0.01 / 0.0006;

    assert_share(flow.torque_nm, torque_nm, 1e-9, "torque");
    assert_share(flow.motor_a, amperes, 1e-9, "motor current");
    assert_share(flow.pack_a, pack_a, 1e-9, "pack current");
    for (account, watts) in [
        (Account::Chemical, 32.0 * 3.29 * pack_a),
        (Account::PackResistance, ohm * pack_a * pack_a + pair_w),
        (Account::Controller, controller_w),
        (Account::Copper, copper_w),
        (Account::Iron, iron_w),
        (Account::Windage, windage_w),
        (Account::Gearbox, drag_nm * omega + 0.05 * input_nm * omega),
        (Account::Rolling, rolling_n * v),
        (Account::Air, air_n * v),
        (Account::Auxiliaries, auxiliaries_w),
        (Account::Potential, grade_n * v),
        (Account::Kinetic, (mass_kg + 2.0 / (r * r) + 0.03 * (ratio / r).powi(2)) * a * v),
        (Account::Polarisation, 32.0 * 0.01 * pack_a - pair_w),
    ] {
        assert_share(flow.powers[account], watts, 1e-9, &format!("{account:?}"));
    }
    assert_eq!(flow.powers[Account::Brakes], 0.0);
    assert_eq!(flow.powers[Account::Clutch], 0.0);
}
