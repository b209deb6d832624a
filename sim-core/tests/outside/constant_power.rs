//! Acceleration at constant power without resistance, against the closed forms of
//! `P = m·v·dv/dt`: `t = m·(v² − v0²)/(2P)` and `x = m·(v³ − v0³)/(3P)`.

use crate::bench;

use bench::{Bench, assert_share};
use sim_core::car::Slope;
use sim_core::motor::Envelope;
use sim_core::pieces::Tolerance;
use sim_core::pull::{Course, Plan, Pull, pull};

const POWER_W: f64 = 20_000.0;

fn run(bench: &Bench, from_mps: f64, speeds_mps: &[f64], distances_m: &[f64]) -> Pull {
    let course = Course {
        plan: Plan::in_gear(0),
        slope: Slope::LEVEL,
        speeds_mps: speeds_mps.to_vec(),
        distances_m: distances_m.to_vec(),
        most_s: 1000.0,
    };
    pull(&bench.car(), &bench.rolling(from_mps), &course, &Tolerance::TIGHT, &mut ()).unwrap()
}

/// 20 kW from 5 m/s up; torque is held only below that.
fn powered(efficiency: f64, wheels_kg_m2: f64) -> Bench {
    Bench::ideal_car().with(|p| {
        p.gearbox = bench::one_gear(0.3, efficiency);
        p.chassis.wheels_inertia_kg_m2 = wheels_kg_m2;
        p.motor.machine.envelope = Envelope::from_nameplate(4000.0, POWER_W, POWER_W, 1e6, 100.0);
    })
}

#[test]
fn time_goes_with_the_square_of_speed() {
    let speeds = [10.0, 20.0, 30.0, 40.0];
    let found = run(&powered(1.0, 0.0), 5.0, &speeds, &[]);
    for (v, mark) in speeds.iter().zip(&found.at_speeds) {
        let mark = mark.unwrap();
        let expected_s = 1000.0 * (v * v - 25.0) / (2.0 * POWER_W);
        let expected_m = 1000.0 * (v * v * v - 125.0) / (3.0 * POWER_W);
        assert_share(mark.time_s, expected_s, 1e-6, &format!("5 to {v} m/s"));
        assert_share(mark.distance_m, expected_m, 1e-6, &format!("distance, 5 to {v} m/s"));
    }
}

/// Losses in the box take their share of the power, and turning wheels add to the mass.
#[test]
fn efficiency_and_turning_wheels_enter_the_closed_form() {
    let found = run(&powered(0.9, 4.5), 5.0, &[25.0], &[]);
    let moving_kg = 1000.0 + 4.5 / 0.09;
    let expected_s = moving_kg * (625.0 - 25.0) / (2.0 * 0.9 * POWER_W);
    assert_share(found.at_speeds[0].unwrap().time_s, expected_s, 1e-6, "5 to 25 m/s");
}

/// From rest: constant force to 5 m/s, then constant power, `v³` growing with distance.
#[test]
fn the_two_regimes_join_at_base_speed() {
    let found = run(&powered(1.0, 0.0), 0.0, &[20.0], &[400.0]);
    let (to_base_s, to_base_m) = (5.0 / 4.0, 25.0 / 8.0);
    let expected_s = to_base_s + 1000.0 * (400.0 - 25.0) / (2.0 * POWER_W);
    assert_share(found.at_speeds[0].unwrap().time_s, expected_s, 1e-6, "0 to 20 m/s");
    let v = f64::cbrt(125.0 + 3.0 * POWER_W * (400.0 - to_base_m) / 1000.0);
    let expected_s = to_base_s + 1000.0 * (v * v - 25.0) / (2.0 * POWER_W);
    let mark = found.at_distances[0].unwrap();
    assert_share(mark.time_s, expected_s, 1e-6, "0 to 400 m");
    assert_share(mark.speed_mps, v, 1e-6, "speed at 400 m");
}
