//! The scenario that comes with the program.

use scenarios::Loaded;
use sim_core::Trace;
use sim_core::follow::follow;

#[test]
fn the_demo_drives_its_road_with_a_closed_ledger() {
    let prepared = Loaded::demo().unwrap().prepare().unwrap();
    assert!(prepared.warnings.iter().all(|w| w.severity < scenarios::Severity::Danger));
    let road = prepared.drives.commute.as_ref().unwrap();
    let road = road.load(&cycles::LoadOptions::default()).unwrap().trace;
    assert!((18_000.0..28_000.0).contains(&road.distance_m()), "{}", road.distance_m());
    let trace = Trace::new(&road.time_s, &road.speed_mps, &road.slope).unwrap();
    let gear = prepared.start_gear();
    let run = follow(&prepared.car, &trace, &prepared.driver, &prepared.start, gear, 0.5, &mut ());
    assert!(run.ledger.residual_share().abs() < 1e-9);
    assert!(run.end.charge < prepared.start.charge && run.end.charge > 0.5);
    assert!((run.distance_m - road.distance_m()).abs() < 0.01 * road.distance_m());
}
