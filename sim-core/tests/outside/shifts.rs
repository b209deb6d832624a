//! Pulls through the gears by a plan: what a shift costs, by hand, and how the run is told.

use crate::bench;

use bench::{Bench, assert_near, assert_share};
use sim_core::Limit;
use sim_core::car::Slope;
use sim_core::gearbox::{Gear, Gearbox};
use sim_core::motor::Envelope;
use sim_core::pieces::Tolerance;
use sim_core::pull::{Course, Plan, PlannedShift, Pull, PullEnding, pull};

/// Two gears at 20 and 10 radians per metre; 100 N·m up to 200 rad/s, then 20 kW up to 300 rad/s.
fn two_speed(shift_s: f64) -> Bench {
    Bench::ideal_car().with(|p| {
        let gears = [6.0, 3.0].map(|ratio| Gear { ratio, efficiency: 1.0 });
        p.gearbox = Gearbox::new(gears.to_vec()).unwrap();
        p.gearbox.shift_s = shift_s;
        p.motor.machine.envelope = Envelope::from_nameplate(100.0, 20e3, 20e3, 300.0, 100.0);
        p.motor.max_radps = 300.0;
    })
}

fn run(bench: &Bench, shift_mps: f64, speeds_mps: &[f64], slope: Slope) -> Pull {
    let course = Course {
        plan: Plan { first: 0, shifts: vec![PlannedShift { at_mps: shift_mps, to: 1 }] },
        slope,
        speeds_mps: speeds_mps.to_vec(),
        distances_m: vec![],
        most_s: 300.0,
    };
    pull(&bench.car(), &bench.parked(0.5), &course, &Tolerance::default(), &mut ()).unwrap()
}

/// First gear: 2000 N to 10 m/s (5 s), then 20 kW to the shift at 14 m/s. Second gear: 1000 N to
/// 20 m/s, then 20 kW.
#[test]
fn a_planned_shift_comes_at_its_speed_and_takes_its_time() {
    let found = run(&two_speed(0.5), 14.0, &[25.0], Slope::LEVEL);
    let shift = found.phases.iter().find(|p| p.gear.is_none()).unwrap();
    assert_near(shift.from.speed_mps, 14.0, 1e-6, "speed of the shift");
    let to_shift_s = 5.0 + 1000.0 * (14.0 * 14.0 - 100.0) / 40e3;
    assert_share(shift.from.time_s, to_shift_s, 2e-5, "first gear");
    assert_eq!(found.at_shifts, [shift.from]);
    assert_near(shift.to.time_s - shift.from.time_s, 0.5, 1e-9, "time of the shift");
    // Nothing slows the car meanwhile.
    assert_share(shift.to.speed_mps, shift.from.speed_mps, 1e-9, "speed after the shift");
    let rest_s = (20.0 - 14.0) / 1.0 + 1000.0 * (625.0 - 400.0) / 40e3;
    let total_s = found.at_speeds[0].unwrap().time_s;
    assert_share(total_s, to_shift_s + 0.5 + rest_s, 2e-5, "second gear");
    assert_eq!(found.ending, PullEnding::Passed);
}

/// A shift planned for a speed that the gear does not reach comes where the gear gives out: over
/// the last percent of its speeds torque fades, up to 15 m/s.
#[test]
fn a_gear_that_gives_out_is_left() {
    let found = run(&two_speed(0.5), 99.0, &[25.0], Slope::LEVEL);
    let shift = found.at_shifts[0];
    assert!((14.99..15.0).contains(&shift.speed_mps), "at {} m/s", shift.speed_mps);
    assert!(found.at_speeds[0].is_some());
}

/// Uphill the car slows by `g·sin θ` for as long as the shift lasts.
#[test]
fn a_shift_uphill_costs_speed() {
    let slope = Slope::from_grade(0.05);
    let found = run(&two_speed(0.8), 14.0, &[16.0], slope);
    let shift = found.phases.iter().find(|p| p.gear.is_none()).unwrap();
    let lost = shift.from.speed_mps - shift.to.speed_mps;
    assert_share(lost, 0.8 * 9.80665 * slope.sin, 1e-9, "speed lost");
}

/// Downhill a speed may be passed between gears, at `v = v0 − g·sin θ·t`.
#[test]
fn a_speed_passed_between_gears_is_timed() {
    let slope = Slope::from_grade(-0.1);
    let found = run(&two_speed(0.8), 14.0, &[14.5, 25.0], slope);
    let passed = found.at_speeds[0].unwrap();
    let since_s = passed.time_s - found.at_shifts[0].time_s;
    assert_share(since_s, 0.5 / (9.80665 * -slope.sin), 1e-6, "time since the shift began");
    assert_near(passed.speed_mps, 14.5, 1e-6, "speed");
}

/// The phases tell the whole run, one after another, and change where the motor's curve bends: at
/// 200 rad/s of the second gear, 20 m/s.
#[test]
fn phases_follow_each_other_without_a_gap() {
    let found = run(&two_speed(0.5), 14.0, &[10.0, 18.0, 25.0], Slope::LEVEL);
    assert!(found.phases.len() >= 3);
    assert_eq!(found.phases[0].from.time_s, 0.0);
    for pair in found.phases.windows(2) {
        assert_eq!(pair[0].to, pair[1].from);
    }
    assert_eq!(found.phases.last().unwrap().to.time_s, found.end.time_s);
}

/// 2000 N on 1000 kg are 2 m/s², until 150 A at 100 V hold the power to 15 kW: at 7.5 m/s, after
/// 3.75 s and 14.0625 m, whatever the steps of the solver.
#[test]
fn a_phase_ends_where_its_limit_gives_way() {
    let bench = two_speed(0.5).with(|p| {
        p.pack.cell.discharge_a = 150.0;
        p.pack.cell.discharge_peak_a = 150.0;
    });
    let found = run(&bench, 14.0, &[13.0], Slope::LEVEL);
    let (first, next) = (&found.phases[0], &found.phases[1]);
    assert_eq!((first.limit, next.limit), (Some(Limit::MotorTorque), Some(Limit::CellCurrent)));
    assert_share(first.to.speed_mps, 7.5, 1e-4, "speed");
    assert_share(first.to.time_s, 3.75, 1e-4, "time");
    assert_share(first.to.distance_m, 14.0625, 2e-4, "distance");
}

/// A pack of 100 V and 360 A·s that is empty at 2 % of its charge, at 10 A·V per newton and metre
/// per second: the run ends with the charge and says so.
#[test]
fn an_empty_pack_ends_a_pull() {
    let bench = two_speed(0.5).with(|p| {
        p.pack.cell.capacity_as = 3600.0;
        p.pack.min_charge = 0.02;
    });
    let course = Course {
        plan: Plan::in_gear(0),
        slope: Slope::LEVEL,
        speeds_mps: vec![14.0],
        distances_m: vec![],
        most_s: 300.0,
    };
    let found =
        pull(&bench.car(), &bench.parked(0.03), &course, &Tolerance::default(), &mut ()).unwrap();
    assert!(matches!(found.ending, PullEnding::Empty | PullEnding::Spent), "{:?}", found.ending);
    assert!(found.at_speeds[0].is_none() && found.end.state.charge >= 0.0);
    // ½·m·v² comes from 1 % of 3600 A·s at 100 V.
    let most_mps = (2.0 * 36.0 * 100.0 / 1000.0_f64).sqrt();
    assert!(
        found.end.state.speed_mps <= most_mps * (1.0 + 1e-3),
        "{} m/s",
        found.end.state.speed_mps
    );
}
