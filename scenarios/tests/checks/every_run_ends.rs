//! Every run ends: with an answer, or with a sentence once it has taken all the steps that a run
//! may take. The solver's steps are bounded, not the time on a clock, so that the check says the
//! same on any machine.

use crate::boxes::some_boxes;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use scenarios::outlet::Outlet;
use scenarios::runs::charge::{self, ChargePlan};
use scenarios::runs::day::Day;
use scenarios::runs::endurance::{self, Map};
use scenarios::runs::pull::Marks;
use scenarios::runs::{self, Failure, Run, Suite, pull};
use scenarios::{FileKind, Loaded, Override, Prepared, Road, shelf};
use sim_core::Node;
use sim_core::car::Slope;
use sim_core::climb::{self, Hill};
use sim_core::descent::{self, DescentEnding};
use sim_core::ledger::Account;
use sim_core::pieces::{Fastest, Stuck, Tolerance};

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
    note("climb", runs::climb::report(&setup, &steep).map(drop));
    note("descent", runs::descent::report(&setup, &steep).map(drop));
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

/// Steps of the solver that a climb or a descent of an ordinary build stays under, however long:
/// half of what a run may take.
const MOST_STEPS: u32 = 25_000;

/// Up or down a hill in every gear: each run ends of itself, and none takes charge that is not there.
fn holds(car: &Prepared, hill: &Hill) -> Result<(), String> {
    for gear in 0..car.car.gears() {
        let tolerance = runs::climb::tolerance();
        let up = climb::climb(&car.car, &car.start, hill, gear, &tolerance, &mut ());
        let up = up.map_err(|e| format!("climb in gear {gear}: {e}"))?;
        let down = descent::descent(&car.car, &car.start, hill, gear, &tolerance, &mut ());
        let down = down.map_err(|e| format!("descent in gear {gear}: {e}"))?;
        for end in [up.end, down.end] {
            if end.steps > MOST_STEPS {
                return Err(format!("{} steps in gear {gear}", end.steps));
            }
            // Rounding of the charge where the run began or the cells were empty.
            if end.state.charge < car.start.charge.min(0.0) - 1e-9 {
                return Err(format!("charge of {} in gear {gear}", end.state.charge));
            }
        }
    }
    Ok(())
}

/// All motors, controllers and packs of the shelf together, the other parts taken in turn.
#[test]
fn all_motors_controllers_and_packs_go_up_and_down_a_long_hill() {
    let demo = Loaded::demo().unwrap();
    let others = [FileKind::Gearbox, FileKind::Donor].map(|kind| (kind, names(kind)));
    let mut turn = 0;
    let mut driven = 0;
    for motor in names(FileKind::Motor) {
        for controller in names(FileKind::Controller) {
            for pack in names(FileKind::Pack) {
                let mut sets = vec![
                    set("motor", &motor),
                    set("controller", &controller),
                    set("pack", &pack),
                    set("driver", "null"),
                ];
                for (kind, names) in &others {
                    sets.push(set(kind.name(), &names[turn % names.len()]));
                }
                turn += 1;
                let Ok(car) = demo.with(&sets) else { continue };
                for (grade, speed_mps) in [(0.06, 20.0), (-0.02, 6.0), (-0.06, 30.0)] {
                    let slope = Slope::from_grade(grade);
                    let hill = Hill { slope, speed_mps, distance_m: 120e3 };
                    let found = holds(&car, &hill);
                    assert!(found.is_ok(), "{sets:?}, {hill:?}: {found:?}");
                }
                driven += 1;
            }
        }
    }
    assert!(2 * driven > turn, "{driven} of {turn}");
}

/// A build of shelf parts in some weather, with some charge and settings, as it may come to rest on
/// any of its limits.
fn builds() -> impl Strategy<Value = Vec<Override>> {
    let parts = |kind: FileKind| {
        let name = kind.name();
        prop::sample::select(names(kind)).prop_map(move |part| set(name, &part))
    };
    let one_of = |path: &'static str, values: &'static [f64]| {
        prop::option::of(prop::sample::select(values)).prop_map(move |value| {
            value.map(|value| format!("{path}={value}").parse::<Override>().unwrap())
        })
    };
    (
        (
            parts(FileKind::Motor),
            parts(FileKind::Controller),
            parts(FileKind::Pack),
            parts(FileKind::Gearbox),
            parts(FileKind::Donor),
        ),
        one_of("conditions.air_c", &[-25.0, -10.0, 0.0, 5.0, 35.0, 48.0, 55.0]),
        one_of("start.charge_pct", &[0.0, 10.0, 12.0, 13.0, 30.0, 80.0, 95.0, 99.0, 100.0]),
        one_of("start.cells_c", &[-20.0, -5.0, 0.0, 5.0, 45.0, 50.0, 55.0]),
        one_of("regen.lift_off_pct", &[0.0, 3.0, 30.0]),
        one_of("gearbox.drag_nm", &[0.0]),
        one_of("pack.min_charge_pct", &[0.0]),
        some_boxes(),
    )
        .prop_map(|(parts, air, charge, cells, regen, drag, least, boxes)| {
            let (motor, controller, pack, gearbox, donor) = parts;
            let mut sets = vec![motor, controller, pack, gearbox, donor, set("driver", "null")];
            sets.extend([air, charge, cells, regen, drag, least].into_iter().flatten());
            sets.extend(boxes.iter().map(|text| text.parse::<Override>().unwrap()));
            sets
        })
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 150,
        rng_seed: RngSeed::Fixed(8),
        failure_persistence: None,
        ..Default::default()
    })]

    /// Whichever limit a car comes to rest on, it is an equilibrium: the run goes on to its end.
    #[test]
    fn no_ordinary_build_needs_the_bound(
        sets in builds(),
        grade in -0.12..0.12f64,
        speed_mps in 3.0..36.0f64,
        distance_m in 5e3..300e3f64,
    ) {
        if let Ok(car) = Loaded::demo().unwrap().with(&sets) {
            let hill = Hill { slope: Slope::from_grade(grade), speed_mps, distance_m };
            let found = holds(&car, &hill);
            prop_assert!(found.is_ok(), "{sets:?}, {hill:?}: {found:?}");
        }
    }
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

/// Values far from any car, each at an end of what its field takes or far beyond what is built:
/// something in the car then follows at once what it does, or the car hardly moves.
#[test]
fn a_car_with_a_number_at_its_end_goes_through_every_run() {
    let demo = Loaded::demo().unwrap();
    for text in [
        "pack.cell.mass_kg=1e-9",
        "pack.cell.polarisation_s=1",
        "pack.cell.polarisation_mohm=1000",
        "pack.cell.peak_s=0.1",
        "pack.cell.discharge_a=1e-300",
        "pack.cell.charge_a=1e-300",
        "motor.loss_coefficients.eddy_w_per_krpm2=5000",
        "motor.loss_coefficients.windage_w_per_krpm3=5000",
        "motor.loss_coefficients.copper_w_per_a2=10",
        "controller.pack_current_a=1e-300",
        "gearbox.clutch.max_nm=1e-300",
        "gearbox.final_drive=20",
    ] {
        let car = demo.with(&[text.parse().unwrap()]).unwrap();
        let failed = all_runs(&car);
        assert!(failed.is_empty(), "{text}: {failed:?}");
    }
}

/// Where so much is lost that more current is less drive, full throttle jumps to and fro between the
/// two: that run is given up in a sentence, and no other.
#[test]
fn a_car_that_jumps_to_and_fro_is_given_up_in_a_sentence() {
    let demo = Loaded::demo().unwrap();
    for text in ["controller.loss_w_per_a=50", "controller.loss_w_per_a2=1"] {
        for (run, failure) in all_runs(&demo.with(&[text.parse().unwrap()]).unwrap()) {
            let said = failure.to_string();
            println!("{text}, {run}: {said}");
            assert!(
                said.starts_with("the run was given up") && said.contains("look at "),
                "{said}"
            );
        }
    }
}

/// A car that hardly moves is not driven round after round for days.
#[test]
fn the_range_of_a_car_that_does_not_drive_is_given_up() {
    let sets = [set("controller.pack_current_a", "1e-300")];
    let car = Loaded::demo().unwrap().with(&sets).unwrap();
    let trace = scenarios::runs::trace(&cycles::find("wltc-low").unwrap()).unwrap();
    let found = runs::drive::range_of(&car.setup(), &trace);
    assert!(found.not_done.is_some() && found.distance_km < 0.1, "{found:?}");
}

/// A stiff car is driven by the implicit method as the explicit pair with short steps drives it: to
/// 0.1 % of the energy and 0.1 K.
#[test]
fn a_stiff_car_is_driven_as_by_short_steps() {
    for texts in [
        &["pack.cell.mass_kg=0.00003"][..],
        &["motor.loss_coefficients.windage_w_per_krpm3=5000"],
        &["pack.cell.mass_kg=0.0001", "conditions.air_c=5", "start.charge_pct=60"],
    ] {
        let sets: Vec<Override> = texts.iter().map(|text| text.parse().unwrap()).collect();
        let car = Loaded::demo().unwrap().with(&sets).unwrap();
        for (grade, gear) in [(-0.07, 1), (0.04, 2)] {
            let hill =
                Hill { slope: Slope::from_grade(grade), speed_mps: 11.0, distance_m: 3000.0 };
            let run = |tolerance: &Tolerance| {
                let (car, start) = (&car.car, &car.start);
                if grade < 0.0 {
                    descent::descent(car, start, &hill, gear, tolerance, &mut ()).unwrap().end
                } else {
                    climb::climb(car, start, &hill, gear, tolerance, &mut ()).unwrap().end
                }
            };
            let implicit = Tolerance { stiff_after: 0, ..runs::climb::tolerance() };
            let (found, exact) = (run(&implicit), run(&Tolerance::TIGHT));
            assert!(2 * found.steps < exact.steps, "{} {}", found.steps, exact.steps);
            let (joules, right) =
                (found.ledger[Account::Chemical], exact.ledger[Account::Chemical]);
            let case = format!("{texts:?}, {grade}: {joules} J, {right} J, {found:?}, {exact:?}");
            assert!((joules / right - 1.0).abs() < 1e-3, "{case}");
            let (warm, right) = (found.state.temperature_k, exact.state.temperature_k);
            assert!(Node::ALL.iter().all(|n| (warm[*n] - right[*n]).abs() < 0.1), "{case}");
            assert!(found.ledger.residual_share().abs() < 1e-9, "{case}");
        }
    }
}

/// A run that is given up names fields of a build that say how fast something changes.
#[test]
fn what_a_run_is_stuck_on_is_named_by_fields() {
    let demo = Loaded::demo().unwrap();
    let fastest = Node::ALL.map(Fastest::Heat).into_iter().chain([
        Fastest::Speed,
        Fastest::Charge,
        Fastest::Polarisation,
        Fastest::ShortPeaks,
    ]);
    for by in fastest {
        let text = Failure::from(Stuck::TooSmall { at_s: 0.25, by }).to_string();
        let (what, fields) = text.split_once("; look at ").unwrap();
        assert!(what.ends_with(&format!("{by} changes at once or without bounds")), "{text}");
        let fields: Vec<&str> =
            fields.split([' ', ',']).filter(|word| word.contains('.')).collect();
        assert!(!fields.is_empty(), "{text}");
        for field in fields {
            // A field that is not known would be said to be so.
            let refused = Override::text(field, "\"no number\"").unwrap();
            let said = demo.with(&[refused]).unwrap_err().to_string();
            assert!(!said.contains("not known") && said.contains(field), "{field}: {said}");
        }
    }
}

/// What falls is no climb: a suite says where its figures are.
#[test]
fn a_climb_that_falls_is_told_to_be_a_descent() {
    let demo = Loaded::demo().unwrap();
    let trace = scenarios::runs::trace(&cycles::find("wltc-low").unwrap()).unwrap();
    for (run, field) in [(Run::Climb, "runs.climb.grade_pct"), (Run::Pass, "runs.pass.grade_pct")] {
        let car = demo.with(&[set(field, "-6")]).unwrap();
        let said = Suite::new(&[run], "road", trace.clone()).figures(&car).unwrap_err();
        assert!(said.to_string().contains("falls by 6.0 % is a descent"), "{said}");
    }
}

/// At a snail's pace the pack is empty long before the foot.
#[test]
fn a_descent_at_a_snails_pace_ends() {
    let demo = Loaded::demo().unwrap();
    let crawl = Hill { slope: Slope::from_grade(0.08), speed_mps: 0.01, distance_m: 10_000.0 };
    let report = runs::descent::report(&demo.prepare().unwrap().setup(), &crawl).unwrap();
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
    let report = runs::descent::report(&car.setup(), &long).unwrap();
    for row in report.gears.iter().filter_map(|row| row.run.as_ref()) {
        assert_eq!(row.ending, DescentEnding::Empty);
        assert!(row.charge_to_pct > 0.0 && row.distance_km < 2000.0, "{} %", row.charge_to_pct);
    }
}
