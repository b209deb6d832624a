//! Every run ends: with an answer, or with a sentence once it has taken all the steps that a run
//! may take. The solver's steps are bounded, not the time on a clock, so that the check says the
//! same on any machine.

use scenarios::outlet::Outlet;
use scenarios::runs::charge::{self, ChargePlan};
use scenarios::runs::day::Day;
use scenarios::runs::endurance::{self, Map};
use scenarios::runs::pull::Marks;
use scenarios::runs::{Failure, Run, Suite, climb, descent, pull};
use scenarios::{FileKind, Loaded, Override, Prepared, Road, shelf};
use sim_core::car::Slope;
use sim_core::climb::Hill;
use sim_core::descent::DescentEnding;

fn set(path: &str, value: &str) -> Override {
    Override::text(path, value).unwrap()
}

fn names(kind: FileKind) -> Vec<String> {
    let of_kind = shelf::shelf().iter().filter(|part| part.kind == kind);
    of_kind.map(|part| format!("shelf:{}", part.name)).collect()
}

/// Choices of one of each list such that every two of different lists come together in one of
/// them: pairwise coverage, built greedily.
fn pairwise(sizes: &[usize]) -> Vec<Vec<usize>> {
    let mut open: Vec<((usize, usize), (usize, usize))> = Vec::new();
    for a in 0..sizes.len() {
        for b in a + 1..sizes.len() {
            open.extend((0..sizes[a]).flat_map(|i| (0..sizes[b]).map(move |j| ((a, i), (b, j)))));
        }
    }
    let mut chosen = Vec::new();
    while let Some(&(first, second)) = open.first() {
        let mut row: Vec<Option<usize>> = vec![None; sizes.len()];
        (row[first.0], row[second.0]) = (Some(first.1), Some(second.1));
        for list in 0..sizes.len() {
            let covers = |choice: usize| {
                let met = |(at, i): (usize, usize)| {
                    if at == list { i == choice } else { row[at] == Some(i) }
                };
                open.iter().filter(|(a, b)| met(*a) && met(*b)).count()
            };
            if row[list].is_none() {
                row[list] = (0..sizes[list]).max_by_key(|choice| covers(*choice));
            }
        }
        let row: Vec<usize> = row.into_iter().flatten().collect();
        open.retain(|(a, b)| row[a.0] != a.1 || row[b.0] != b.1);
        chosen.push(row);
    }
    chosen
}

#[test]
fn pairs_are_covered() {
    let sizes = [3, 2, 4];
    let rows = pairwise(&sizes);
    for (a, b) in [(0, 1), (0, 2), (1, 2)] {
        for i in 0..sizes[a] {
            for j in 0..sizes[b] {
                assert!(rows.iter().any(|row| row[a] == i && row[b] == j), "{a}:{i} and {b}:{j}");
            }
        }
    }
    assert!(rows.len() < 24);
}

/// What every run of a car says where it did not go through.
fn all_runs(car: &Prepared) -> Vec<(&'static str, Failure)> {
    let road =
        car.read(&Road::Named("wltc-low".to_owned()), &cycles::LoadOptions::default()).unwrap();
    let trace = scenarios::runs::trace(&road.schedule).unwrap();
    let setup = car.setup();
    let commute = Road::Named("wltc-low".to_owned());
    let day = Day::of(car, &commute, &cycles::LoadOptions::default()).unwrap();
    let steep = Hill { slope: Slope::from_grade(0.08), speed_mps: 14.0, distance_m: 9000.0 };
    let mut failed = Vec::new();
    let mut note =
        |name, outcome: Result<(), Failure>| failed.extend(outcome.err().map(|e| (name, e)));
    note("pull", pull::report(&setup, &Marks::metric()).map(drop));
    note("climb", climb::report(&setup, &steep).map(drop));
    note("descent", descent::report(&setup, &steep).map(drop));
    let map = Map {
        speeds_mps: vec![10.0, 22.0],
        grades: vec![-0.04, 0.0, 0.05],
        gear: None,
        most_s: 4.0 * 3600.0,
    };
    note("endurance", endurance::report(&setup, &map, || ()).map(drop));
    let plan = ChargePlan {
        outlet: Outlet::named("240v-20a").unwrap(),
        from: None,
        to: 0.9,
        after_s: 0.0,
        night_s: 8.0 * 3600.0,
        energy_per_kwh: None,
    };
    charge::report(&setup, &car.charger, "wltc-low", &trace, &plan);
    let mut suite = Suite::new(
        &[Run::Standing, Run::Pull, Run::Climb, Run::Pass, Run::Drive, Run::Range, Run::Day],
        "wltc-low",
        trace.clone(),
    );
    suite.day = Some(day.into());
    note("suite", suite.figures(car).map(drop));
    failed
}

#[test]
fn every_two_parts_of_the_shelf_go_through_every_run() {
    let demo = Loaded::demo().unwrap();
    let kinds =
        [FileKind::Motor, FileKind::Controller, FileKind::Pack, FileKind::Gearbox, FileKind::Donor];
    let parts: Vec<Vec<String>> = kinds.iter().map(|kind| names(*kind)).collect();
    let sizes: Vec<usize> = parts.iter().map(Vec::len).collect();
    let (mut driven, mut refused) = (0, 0);
    for row in pairwise(&sizes) {
        let mut sets: Vec<Override> = row
            .iter()
            .zip(&parts)
            .zip(kinds)
            .map(|((choice, names), kind)| set(kind.name(), &names[*choice]))
            .collect();
        sets.push(set("driver", "null"));
        match demo.with(&sets) {
            Ok(car) => {
                let failed = all_runs(&car);
                assert!(failed.is_empty(), "{sets:?}: {failed:?}");
                driven += 1;
            }
            Err(_) => refused += 1,
        }
    }
    println!("{driven} driven, {refused} refused");
    assert!(driven >= 20 && driven > 3 * refused, "{driven} driven, {refused} refused");
}

/// Parts that are at the edge of a limit when the run begins, or come to rest on one.
#[test]
fn a_car_that_settles_on_a_limit_goes_through_every_run() {
    let demo = Loaded::demo().unwrap();
    for texts in [
        &["conditions.air_c=55"][..],
        &["start.cells_c=55"],
        &["gearbox.drag_nm=0"],
        &["pack=shelf:blend-355v-50ah", "controller=shelf:mid-voltage-600a"],
        &["start.charge_pct=100", "regen.lift_off_pct=3"],
        &["start.charge_pct=100", "motor=shelf:permanent-magnet-liquid"],
        &["start.charge_pct=13"],
        &["start.charge_pct=0"],
        &["conditions.air_c=-25", "start.cells_c=-25"],
        &["start.cells_c=0"],
        &["conditions.air_c=40", "motor.nameplate.road_air_share_pct=0", "pack.parallel=8"],
    ] {
        let sets: Vec<Override> = texts.iter().map(|text| text.parse().unwrap()).collect();
        let failed = all_runs(&demo.with(&sets).unwrap());
        assert!(failed.is_empty(), "{texts:?}: {failed:?}");
    }
}

/// Values far from any car end with an answer or with a sentence that says what may be wrong.
#[test]
fn a_car_that_cannot_be_driven_through_ends_with_a_sentence() {
    let demo = Loaded::demo().unwrap();
    for text in [
        "pack.cell.mass_kg=0.000000001",
        "controller.mass_kg=0.000001",
        "motor.losses.eddy_w_per_krpm2=5000",
        "pack.cell.polarisation_s=0.000001",
        "pack.cell.peak_s=0.000001",
        "gearbox.drag_nm=500",
    ] {
        let Ok(car) = demo.with(&[text.parse().unwrap()]) else {
            println!("{text}: refused");
            continue;
        };
        for (run, failure) in all_runs(&car) {
            println!("{text}, {run}: {failure}");
            assert!(failure.to_string().starts_with("the run was given up"), "{text}: {failure}");
        }
    }
    // At a snail's pace the pack is empty long before the foot.
    let crawl = Hill { slope: Slope::from_grade(0.08), speed_mps: 0.01, distance_m: 10_000.0 };
    let report = descent::report(&demo.prepare().unwrap().setup(), &crawl).unwrap();
    assert!(
        report
            .gears
            .iter()
            .filter_map(|row| row.run.as_ref())
            .all(|r| r.ending == DescentEnding::Empty)
    );
}

/// An empty pack gives no more: a descent that runs it down ends there and says so.
#[test]
fn an_empty_pack_ends_a_descent() {
    let texts = ["start.charge_pct=14", "regen.lift_off_pct=0", "regen.brake_pedal_pct=0"];
    let sets: Vec<Override> = texts.iter().map(|text| text.parse().unwrap()).collect();
    let car = Loaded::demo().unwrap().with(&sets).unwrap();
    let long = Hill { slope: Slope::from_grade(0.06), speed_mps: 8.0, distance_m: 2_000_000.0 };
    let report = descent::report(&car.setup(), &long).unwrap();
    for row in report.gears.iter().filter_map(|row| row.run.as_ref()) {
        assert_eq!(row.ending, DescentEnding::Empty);
        assert!(row.charge_to_pct > 0.0 && row.distance_km < 2000.0, "{} %", row.charge_to_pct);
    }
}
