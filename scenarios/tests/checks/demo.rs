//! The scenario that comes with the program.

use scenarios::Loaded;
use scenarios::runs::regen;
use sim_core::Trace;
use sim_core::follow::follow;

#[test]
fn the_demo_drives_its_road_with_a_closed_ledger() {
    let prepared = Loaded::demo().unwrap().prepare().unwrap();
    assert!(prepared.warnings().iter().all(|w| w.severity < scenarios::Severity::Danger));
    let road = prepared.drives.commute.as_ref().unwrap();
    let road = prepared.read(road, &cycles::LoadOptions::default()).unwrap().schedule;
    assert!((18_000.0..28_000.0).contains(&road.distance_m()), "{}", road.distance_m());
    let trace = Trace::new(&road.time_s, &road.speed_mps, &road.slope).unwrap();
    let gear = prepared.start_gear();
    let run = follow(&prepared.car, &trace, &prepared.driver, &prepared.start, gear, 0.5, &mut ());
    assert!(run.ledger.residual_share().abs() < 1e-9);
    assert!(run.end.charge < prepared.start.charge && run.end.charge > 0.5);
    assert!((run.distance_m - road.distance_m()).abs() < 0.01 * road.distance_m());
}

/// What the demo is there to show: on the pass, the top gear overheats the motor and the gear that
/// turns it faster does not.
#[test]
fn on_the_pass_one_gear_overheats_and_another_does_not() {
    let prepared = Loaded::demo().unwrap().prepare().unwrap();
    let pass = prepared.drives.pass.unwrap();
    let report = scenarios::runs::climb::report(&prepared.setup(), &pass).unwrap();
    let (second, top) = (&report.gears[1], &report.gears[3]);
    assert!(second.held && second.derated_at_s.is_none(), "{second:?}");
    assert!(!top.held && top.derated_at_s.is_some(), "{top:?}");
    assert!(top.distance_km < 0.95 * report.distance_km, "{top:?}");
    assert_ne!(report.chosen, 4);
}

/// And on the wet road home, the thriftiest regen is not the one to leave on.
#[test]
fn on_the_wet_road_the_strongest_regen_is_not_the_best() {
    let prepared = Loaded::demo().unwrap().prepare().unwrap();
    let road = prepared.drives.commute.as_ref().unwrap();
    let road = prepared.read(road, &cycles::LoadOptions::default()).unwrap().schedule;
    let trace = scenarios::runs::trace(&road).unwrap();
    let (lift_off_pct, brake_pct) = (vec![0.0, 12.0, 30.0], vec![0.0, 18.0, 60.0]);
    let grid = regen::Grid { lift_off_pct, brake_pct, at_mps: 11.0 };
    let report = regen::report(&prepared, "road", &trace, &grid).unwrap();
    let (best, thriftiest) = (&report.rows[report.best], &report.rows[report.thriftiest]);
    assert_ne!(report.best, report.thriftiest);
    assert!(thriftiest.grip_limited_s > 0.0 && thriftiest.charge_limited_s > 0.0);
    assert!(best.grip_limited_s == 0.0 && best.wh_per_km < 0.95 * report.rows[0].wh_per_km);
}
