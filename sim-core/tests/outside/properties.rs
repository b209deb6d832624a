//! What holds for any sane car on any sane road.

use crate::bench;

use bench::{Bench, one_gear_driver, shifting_driver};
use proptest::prelude::*;
use sim_core::car::{Car, Parts, Request, Slope};
use sim_core::follow::{Moment, STEP_S, follow};
use sim_core::heat::PerNode;
use sim_core::ledger::Account;
use sim_core::motor::{Envelope, Kind};
use sim_core::pack::Pack;
use sim_core::pieces::Tolerance;
use sim_core::pull::{Course, Plan, pull};
use sim_core::road_load::RoadLoad;
use sim_core::tyre::DrivenAxle;
use sim_core::{Flow, Node, State, Trace};

/// Chassis, road load and surroundings.
fn bodies() -> impl Strategy<Value = Bench> {
    (
        600.0..1600.0f64,
        0.4..1.0f64,
        0.007..0.02f64,
        prop::sample::select(vec![DrivenAxle::Front, DrivenAxle::Rear, DrivenAxle::Both]),
        0.35..0.65f64,
        -8.0..8.0f64,
        0.25..1.0f64,
        -15.0..40.0f64,
        0.0..2500.0f64,
    )
        .prop_map(|(mass, area, rolling, driven, rear, wind, friction, air_c, altitude_m)| {
            Bench::light_car()
                .with(|p| {
                    p.chassis.mass_kg = mass;
                    p.chassis.cg_behind_front_axle_m = rear * p.chassis.wheelbase_m;
                    p.driven = driven;
                    p.road_load = RoadLoad::Coefficients {
                        drag_area_m2: area,
                        rolling,
                        rolling_per_mps: 5e-5,
                        bearings_n: 0.0,
                    };
                })
                .around(|a| {
                    a.head_wind_mps = wind;
                    a.friction = friction;
                    a.air_k = air_c + 273.15;
                    a.altitude_m = altitude_m;
                })
        })
}

/// A whole car: body, motor, controller and pack.
fn benches() -> impl Strategy<Value = Bench> {
    let kinds = prop::sample::select(vec![
        Kind::Induction { magnetising_a: 60.0 },
        Kind::PermanentMagnet,
        Kind::SeriesDc { saturation_a: 200.0, brush_v: 2.0 },
    ]);
    (
        bodies(),
        kinds,
        (60.0..220.0f64, 12e3..70e3f64),
        (80.0..600.0f64, 150.0..800.0f64),
        (0.4..3.0f64, 0.0..0.08f64, 0.0..0.3f64),
        (0.0..40.0f64, 0.0..60.0f64),
        // A second box, or none: its cells of 32 and its health.
        prop::option::weighted(0.3, (2..20u32, 0.5..1.0f64, 0.0..20.0f64)),
    )
        .prop_map(|(bench, kind, motor, controller, pack, regen, second)| {
            bench.with(|p| {
                p.motor.machine.kind = kind;
                p.motor.machine.envelope =
                    Envelope::from_nameplate(motor.0, motor.1, 0.5 * motor.1, 800.0, 100.0);
                (p.controller.pack_current_a, p.controller.motor_current_a) = controller;
                p.pack.resistance_growth = pack.0;
                (p.pack.capacity_spread, p.pack.resistance_spread) = (pack.1, pack.2);
                (p.braking.lift_off_nm, p.braking.brake_pedal_nm) = regen;
                if let Some((cells, health, air_rise_k)) = second {
                    let other = Pack {
                        series: f64::from(cells),
                        health,
                        air_rise_k,
                        heat_capacity_j_per_k: 3000.0 * f64::from(cells),
                        harness_ohm: 0.0,
                        ..p.pack.clone()
                    };
                    p.pack.series -= other.series;
                    p.pack = Pack::in_line(vec![p.pack.clone(), other]).unwrap();
                }
            })
        })
}

/// A trace of up to 150 s below 19 m/s with accelerations up to 1.8 m/s², standing now and then.
fn traces(steepest: f64) -> impl Strategy<Value = Trace> {
    prop::collection::vec((-1.8..1.8f64, 1..12usize, -1.0..1.0f64), 5..25).prop_map(move |legs| {
        let (mut speeds, mut slopes) = (vec![0.0], vec![]);
        for (acceleration, seconds, steepness) in legs {
            for _ in 0..seconds {
                let speed: f64 = speeds[speeds.len() - 1];
                speeds.push((speed + acceleration).clamp(0.0, 19.0));
                slopes.push(steepness * steepest);
            }
        }
        let times: Vec<f64> = (0..speeds.len()).map(|i| i as f64).collect();
        Trace::new(&times, &speeds, &slopes).unwrap()
    })
}

fn is_finite(state: &State, flow: &Flow) -> bool {
    let numbers = [
        flow.acceleration_mps2,
        flow.torque_nm,
        flow.radps,
        flow.motor_a,
        flow.pack_a,
        flow.pack_v,
        flow.low_cell_v,
        flow.high_cell_v,
        flow.polarisation_v,
        flow.drive_n,
        flow.friction_n,
        flow.grip_used,
    ];
    state.to_array().iter().chain(&numbers).all(|v| v.is_finite())
        && flow.powers.to_array().iter().all(|v| v.is_finite())
}

/// What no moment may exceed, with the state before it.
fn within_limits(car: &Car, before: &State, flow: &Flow, step_s: f64) -> Result<(), String> {
    let Parts { motor, controller, pack, gearbox, .. } = car.parts();
    let now = car.now(before, step_s);
    let slack = 1.0 + 1e-6;
    let check = |holds: bool, what: &str| {
        if holds { Ok(()) } else { Err(format!("{what}: {flow:?}")) }
    };
    check(
        flow.motor_a <= controller.motor_current_a * now.controller_factor * slack
        // With the motor at idle only its magnetising current flows.
        || flow.torque_nm.abs() < 1.0,
        "motor current",
    )?;
    let peak_nm = motor.machine.envelope.peak_nm(flow.radps, flow.pack_v) * now.motor_factor;
    let moves = flow.powers[Account::Rolling] > 0.0;
    check(flow.friction_n >= 0.0 || !moves, "friction brakes that push")?;
    if flow.torque_nm > 1.0 {
        check(flow.torque_nm <= peak_nm * slack, "motor torque")?;
        check(flow.torque_nm <= gearbox.clutch_nm.min(gearbox.max_input_nm) * slack, "clutch")?;
        check(flow.radps <= car.max_radps() * slack, "motor speed")?;
        check(flow.pack_a <= now.pack.discharge_a.0 * slack, "discharge current")?;
        check(flow.low_cell_v >= pack.cell.min_v - 1e-6, "lowest cell voltage")?;
        check(flow.pack_v >= controller.min_v - 1e-4, "lowest pack voltage")?;
        let taken_a = flow.pack_a
            - car.parts().auxiliaries.pack_w(before.temperature_k[Node::Cabin]) / flow.pack_v;
        check(taken_a <= controller.pack_current_a * slack, "controller's pack current")?;
    }
    if flow.torque_nm < -1.0 && flow.motor_a > 0.0 && flow.pack_a < 0.0 {
        check(motor.makes_regen(), "regen of a motor that makes none")?;
        check(-flow.torque_nm <= peak_nm * motor.regen_share * slack, "regen torque")?;
        let braking = &car.parts().braking;
        let most_nm = braking.lift_off_nm + braking.brake_pedal_nm;
        check(-flow.torque_nm <= most_nm * slack, "regen setting")?;
        check(-flow.pack_a <= now.pack.charge_a.0 * slack, "charge current")?;
        check(flow.high_cell_v <= pack.cell.max_v + 1e-6, "highest cell voltage")?;
        check(flow.pack_v <= controller.max_v + 1e-4, "highest pack voltage")?;
    }
    Ok(())
}

proptest! {
    #![proptest_config(bench::cases(150))]

    #[test]
    fn any_drive_closes_its_books_and_keeps_to_its_limits(
        bench in benches(),
        trace in traces(0.1),
        charge in 0.15..1.0f64,
        step_s in prop::sample::select(vec![1.0, 0.37, 0.1]),
        shifts in any::<bool>(),
    ) {
        let car = bench.car();
        let start = bench.parked(charge);
        let driver = if shifts { shifting_driver() } else { one_gear_driver(1) };
        let mut before = start;
        let mut wrong = None;
        let mut look = |m: &Moment<'_>| {
            if wrong.is_none() && !is_finite(m.state, m.flow) {
                wrong = Some(format!("at {} s: not finite: {:?}", m.time_s, m.flow));
            }
            if wrong.is_none()
                && let Err(why) = within_limits(&car, &before, m.flow, m.step_s)
            {
                wrong = Some(format!("at {} s: {why}", m.time_s));
            }
            before = *m.state;
        };
        let drive = follow(&car, &trace, &driver, &start, driver.start_gear, step_s, &mut look);
        prop_assert!(wrong.is_none(), "{}", wrong.unwrap());
        let share = drive.ledger.residual_share();
        prop_assert!(share < 1e-9, "residual {share}");
        prop_assert!(drive.end.charge <= charge.max(bench.parts.pack.max_charge) + 1e-9);
        prop_assert!(drive.end.speed_mps >= 0.0);
    }

    #[test]
    fn any_pull_closes_its_books_and_keeps_to_its_limits(
        bench in benches(),
        grade in -0.05..0.15f64,
        charge in 0.2..1.0f64,
        through in any::<bool>(),
    ) {
        let car = bench.car();
        let start = bench.parked(charge);
        let plan = if through { bench::gears_held(4) } else { Plan::in_gear(1) };
        let slope = Slope::from_grade(grade);
        let course =
            Course { plan, slope, speeds_mps: vec![15.0], distances_m: vec![], most_s: 60.0 };
        let mut wrong = None;
        let mut look = |m: &Moment<'_>| {
            if wrong.is_none() && !is_finite(m.state, m.flow) {
                wrong = Some(format!("not finite: {:?}", m.flow));
            }
            // A piece's moment is its end: flow and state belong together.
            if wrong.is_none() && let Err(why) = within_limits(&car, m.state, m.flow, 0.0) {
                wrong = Some(why);
            }
        };
        let found = pull(&car, &start, &course, &Tolerance::default(), &mut look).unwrap();
        prop_assert!(wrong.is_none(), "{}", wrong.unwrap());
        let share = found.end.ledger.residual_share();
        prop_assert!(share < 1e-9, "residual {share}");
    }

    /// Newton's second law at ample grip: what is heavier is slower, uphill and on the level.
    #[test]
    fn more_mass_is_never_quicker(
        bench in benches(),
        extra_kg in 1.0..500.0f64,
        grade in 0.0..0.1f64,
    ) {
        let bench = bench.around(|a| (a.friction, a.head_wind_mps) = (5.0, 0.0));
        let heavy = bench.clone().with(|p| p.chassis.mass_kg += extra_kg);
        let time_s = |b: &Bench| {
            let course = Course {
                plan: Plan::in_gear(1),
                slope: Slope::from_grade(grade),
                speeds_mps: vec![8.0],
                distances_m: vec![],
                most_s: 60.0,
            };
            let found =
                pull(&b.car(), &b.parked(0.9), &course, &Tolerance::default(), &mut ()).unwrap();
            found.at_speeds[0].map(|m| m.time_s)
        };
        match (time_s(&bench), time_s(&heavy)) {
            (Some(light_s), Some(heavy_s)) => prop_assert!(heavy_s > light_s),
            (None, heavy) => prop_assert!(heavy.is_none(), "only the heavier car gets there"),
            (Some(_), None) => {}
        }
    }

    /// Without heat a part cools towards the air and stops there.
    #[test]
    fn no_part_crosses_the_airs_temperature_without_heat(
        bench in bodies(),
        rises in prop::array::uniform10(0.0..120.0f64),
        warmer in any::<bool>(),
        step_s in 0.05..5.0f64,
    ) {
        let car = bench.car();
        let air_k = bench.around.air_k;
        let sign = if warmer { 1.0 } else { -1.0 };
        let mut state = bench.parked(0.5);
        for (k, rise) in state.temperature_k.iter_mut().zip(rises) {
            *k += sign * rise;
        }
        let flow = car.act(&car.now(&state, step_s), 0.0, Slope::LEVEL, 0, Request::Accelerate(0.0));
        let mut heat = flow.heat;
        heat.into_w[Node::Cells] = 0.0;
        prop_assert_eq!(heat.into_w, PerNode::default());
        let flow = Flow { heat, ..flow };
        for _ in 0..2000 {
            car.warm(&mut state, &flow, step_s);
            for k in state.temperature_k.iter() {
                prop_assert!(sign * (k - air_k) >= -1e-9, "{} K beside {} K", k, air_k);
            }
        }
    }

    /// Half a fine step, the same drive: on the level, in one gear, with motor speed to spare.
    #[test]
    fn half_a_fine_step_is_the_same_drive(
        bench in benches(),
        trace in traces(0.0),
        charge in 0.4..0.9f64,
    ) {
        same_drive(&bench, &trace, charge, (0.1, 0.05))?;
    }

    /// And half the default one.
    #[test]
    fn half_the_default_step_is_the_same_drive(
        bench in benches(),
        trace in traces(0.0),
        charge in 0.4..0.9f64,
    ) {
        same_drive(&bench, &trace, charge, (STEP_S, 0.5 * STEP_S))?;
    }
}

/// Energy within 0.1 % of what moved, distance within 0.1 %, temperatures within 0.1 K.
fn same_drive(
    bench: &Bench,
    trace: &Trace,
    charge: f64,
    steps: (f64, f64),
) -> Result<(), TestCaseError> {
    let car = bench.car();
    let start = bench.parked(charge);
    let run = |h| follow(&car, trace, &one_gear_driver(2), &start, 2, h, &mut ());
    let (whole, half) = (run(steps.0), run(steps.1));
    prop_assume!(whole.ending == half.ending && whole.distance_m > 100.0);
    let energy = (whole.terminal_j - half.terminal_j).abs();
    let moved = half.terminal_j + 2.0 * half.regen_j;
    prop_assert!(energy < 1e-3 * moved, "energy: {} and {}", whole.terminal_j, half.terminal_j);
    let metres = (whole.distance_m - half.distance_m).abs();
    prop_assert!(metres < 1e-3 * half.distance_m, "{} and {}", whole.distance_m, half.distance_m);
    for (a, b) in whole.end.temperature_k.iter().zip(half.end.temperature_k.iter()) {
        prop_assert!((a - b).abs() < 0.1, "temperature: {a} and {b}");
    }
    Ok(())
}
