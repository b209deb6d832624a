//! A car that does not drive takes little energy and stays cool; none of that may count for it.

use scenarios::Loaded;
use scenarios::runs::day::Day;
use scenarios::runs::figure::find;
use scenarios::runs::{Better, Figure, FigureKind, NotDone, Run, Suite};
use scenarios::studies::Goal;
use scenarios::studies::Spread;
use scenarios::studies::bands::bands;
use scenarios::studies::size::{Interval, Question, size};
use scenarios::studies::uncertain::Uncertain;

/// Runs that end early where a car does not drive.
const RUNS: [Run; 7] =
    [Run::Drive, Run::Range, Run::Pass, Run::Day, Run::Season, Run::Charge, Run::Regen];

fn figures(set: &str, runs: &[Run], not_done: NotDone) -> Vec<Figure> {
    let car = Loaded::demo().unwrap().with(&[set.parse().unwrap()]).unwrap();
    let options = cycles::LoadOptions::default();
    let road = car.read(&car.road(), &options).unwrap();
    let trace = scenarios::runs::trace(&road.schedule).unwrap();
    let day = Some(Day::of(&car, &car.road(), &options).unwrap().into());
    Suite { not_done, day, ..Suite::new(runs, "road", trace) }.figures(&car).unwrap()
}

/// Whether some bound is kept by a figure, however loose it is.
fn keeps_some_goal(figure: &Figure) -> bool {
    let sides = [("<=", 1e300), (">=", -1e300)];
    sides.iter().any(|(side, bound)| {
        let goal: Goal = format!("{}{side}{bound}", figure.name).parse().unwrap();
        goal.missed_by(figure) == 0.0
    })
}

/// The demo with so few cells that the controller's lowest voltage stops it, or so many that its
/// highest does (common practice, no source: an inverter cuts out under the one and over the other),
/// and with next to no charge.
#[test]
fn a_car_that_does_not_drive_meets_no_goal() {
    for set in ["pack.series=20", "pack.series=45", "start.charge_pct=1"] {
        let found = figures(set, &RUNS, NotDone::Fails);
        for yes in ["drive_complete", "day_complete", "pass_held"] {
            assert_eq!(find(&found, yes).unwrap().value, 0.0, "{set}: {yes}");
        }
        let season = |f: &Figure| Run::of_figure(f.name).unwrap().0 == Run::Season;
        // The seasons begin with a full pack, whatever the charge at the start.
        let judged = found.iter().filter(|f| set != "start.charge_pct=1" || !season(f));
        let judged: Vec<&Figure> = judged
            .filter(|f| f.kind == FigureKind::Number && f.better != Better::Neither)
            .collect();
        assert!(judged.len() > 30);
        for figure in judged {
            assert!(figure.not_done.is_some(), "{set}: {figure:?}");
            assert!(!keeps_some_goal(figure), "{set}: {} is {}", figure.name, figure.value);
        }
        let wanted = figures(set, &RUNS, NotDone::Counts);
        assert!(find(&wanted, "drive_heat_pct").unwrap().value.is_finite());
        assert!(!Run::not_done(&wanted).is_empty());
    }
}

#[test]
fn a_car_that_drives_loses_no_figure() {
    // In deep winter the demo is empty before its second trip ends: a winter without frost.
    let mild = "seasons.2.air_c=6";
    let hidden = figures(mild, &RUNS, NotDone::Fails);
    assert_eq!(hidden, figures(mild, &RUNS, NotDone::Counts));
    assert!(hidden.iter().all(|figure| figure.not_done.is_none()), "{hidden:?}");
}

/// The more cells, the more charge is left; a pack that the controller cuts off at once keeps all of
/// its charge, and is no answer.
#[test]
fn the_smallest_pack_that_keeps_charge_is_one_that_drives() {
    let loaded = Loaded::demo().unwrap();
    let goals = ["day_charge_left_pct>=20".parse().unwrap()];
    let between = Interval { from: 20.0, to: 40.0 };
    let evaluate = |n: f64| Ok(figures(&format!("pack.series={n}"), &[Run::Day], NotDone::Fails));
    let found = size("pack.series", &Question::Smallest, &goals, between, true, evaluate).unwrap();
    assert!(find(&found.figures, "day_complete").unwrap().value == 1.0, "{:?}", found.found);
    let cut_off_v = loaded.prepare().unwrap().car.parts().controller.min_v;
    let cell_v = 3.2; // Iron phosphate at rest (handbook value, from memory).
    assert!(found.found.unwrap() * cell_v > cut_off_v, "{:?}", found.found);
}

/// A controller that its pack would burn does not drive it far: more cells are better only while the
/// controller bears them.
#[test]
fn the_longest_range_is_that_of_a_pack_which_the_controller_bears() {
    let loaded = Loaded::demo().unwrap();
    let question = Question::Best("range_km".to_owned());
    let between = Interval { from: 30.0, to: 50.0 };
    let evaluate = |n: f64| Ok(figures(&format!("pack.series={n}"), &[Run::Range], NotDone::Fails));
    let found = size("pack.series", &question, &[], between, true, evaluate).unwrap();
    let bears_v = loaded.prepare().unwrap().car.parts().controller.max_v;
    let full_v = 3.33; // Iron phosphate, full and at rest (handbook value, from memory).
    assert!(found.found.unwrap() * full_v <= bears_v, "{:?}", found.found);
}

/// A part that overheats on a hill slows the car, so that the hill is not climbed as asked: that it
/// overheats is told all the same.
#[test]
fn a_part_that_overheats_is_told_also_where_the_hill_is_not_held() {
    let hill = "runs.climb={\"grade_pct\":12,\"speed_kmh\":60,\"distance_km\":40}";
    let loaded = Loaded::demo().unwrap().put(&[hill.parse().unwrap()]).unwrap();
    let own = [Spread::parse("motor.mass_kg=±1%").unwrap()];
    let uncertain = Uncertain::new(&loaded, &own, false).unwrap();
    let road = sim_core::Trace::new(&[0.0, 5.0, 75.0], &[0.0, 13.9, 0.0], &[0.0; 2]).unwrap();
    let suite = Suite::new(&[Run::Climb], "a road", road);
    let found = bands(&uncertain, &suite, &[], 10, 1, || true).unwrap();
    let odds = |name: &str| found.risks.iter().find(|r| r.name == name).unwrap().probability_pct;
    assert_eq!((odds("climb_not_held"), odds("climb_derates")), (100.0, 100.0));
}
