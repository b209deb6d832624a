//! A car that does not drive takes little energy and stays cool; none of that may count for it.

use scenarios::Loaded;
use scenarios::runs::figure::find;
use scenarios::runs::{NotDone, Run, Suite};
use scenarios::studies::Goal;

/// The demo with so few cells that the controller's lowest voltage stops it (common practice, no
/// source: an inverter cuts out under its lowest voltage).
fn stopped(not_done: NotDone) -> Vec<scenarios::runs::Figure> {
    let loaded = Loaded::demo().unwrap();
    let car = loaded.with(&["pack.series=20".parse().unwrap()]).unwrap();
    let road = car.read(&car.road(), &cycles::LoadOptions::default()).unwrap();
    let trace = scenarios::runs::trace(&road.schedule).unwrap();
    let suite = Suite { not_done, ..Suite::new(&[Run::Drive, Run::Pass], "road", trace) };
    suite.figures(&car).unwrap()
}

#[test]
fn a_car_that_does_not_drive_meets_no_goal() {
    let figures = stopped(NotDone::Fails);
    assert_eq!(find(&figures, "drive_complete").unwrap().value, 0.0);
    for goal in
        ["wh_per_km<=1000", "drive_heat_pct<=100", "charge_left_pct>=1", "pass_heat_pct<=100"]
    {
        let goal: Goal = goal.parse().unwrap();
        let figure = find(&figures, &goal.figure).unwrap();
        assert!(goal.missed_by(figure).is_infinite(), "{goal} is met by {}", figure.value);
        assert!(figure.not_done.is_some());
    }
    let wanted = stopped(NotDone::Counts);
    assert!(find(&wanted, "drive_heat_pct").unwrap().value.is_finite());
    assert!(!Run::not_done(&wanted).is_empty());
}
