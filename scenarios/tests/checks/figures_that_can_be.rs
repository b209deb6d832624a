//! No report holds a number that cannot be: finite or left out as its schema says, no energy
//! negative where none can be, charge from 0 to 100 %, no cell under its lowest voltage without a
//! limit that is named.

use crate::boxes::some_boxes;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use scenarios::money::Prices;
use scenarios::outlet::Outlet;
use scenarios::runs::charge::{self, ChargePlan};
use scenarios::runs::day::{self, Day};
use scenarios::runs::drive::{self, DriveOutcome, DriveReport, RangeOutcome};
use scenarios::runs::endurance::{self, Map};
use scenarios::runs::pull::{self, Marks};
use scenarios::runs::regen::{self, Grid};
use scenarios::runs::{Failure, climb, cost, descent, season};
use scenarios::{FileKind, Loaded, Override, Prepared, Road, shelf};
use schemars::{JsonSchema, schema_for};
use serde::Serialize;
use serde_json::Value;
use sim_core::Trace;
use sim_core::car::Slope;
use sim_core::climb::Hill;

fn demo_with(texts: &[&str]) -> Prepared {
    let sets: Vec<Override> = texts.iter().map(|text| text.parse().unwrap()).collect();
    Loaded::demo().unwrap().with(&sets).unwrap()
}

/// A report as it would be shown: let through, and in the form that its schema says.
fn shown<R: Serialize + JsonSchema>(car: &Prepared, report: R) -> Result<Value, Failure> {
    let json = serde_json::to_value(car.vouched(report)?).unwrap();
    let schema = jsonschema::validator_for(&schema_for!(R).to_value()).unwrap();
    let faults: Vec<String> =
        schema.iter_errors(&json).map(|e| format!("{}: {e}", e.instance_path)).collect();
    assert!(faults.is_empty(), "{faults:?}");
    Ok(json)
}

fn driven(car: &Prepared, trace: &Trace) -> DriveReport {
    let setup = car.setup();
    let range = Some(drive::range_of(&setup, trace));
    let found = drive::drive(&setup, trace, &mut ());
    DriveReport { range, ..drive::report(&setup, "road", trace, &found) }
}

/// Every report of a car, on a short road and a steep hill.
fn all_reports(car: &Prepared) -> Vec<(&'static str, Result<Value, Failure>)> {
    let setup = car.setup();
    let road = cycles::find("wltc-low").unwrap();
    let trace = scenarios::runs::trace(&road).unwrap();
    let hill = Hill { slope: Slope::from_grade(0.09), speed_mps: 12.0, distance_m: 4000.0 };
    let map = Map {
        speeds_mps: vec![9.0, 24.0],
        grades: vec![-0.05, 0.06],
        gear: None,
        most_s: 3.0 * 3600.0,
    };
    let plan = ChargePlan {
        outlet: Outlet::named("240v-20a").unwrap(),
        from: None,
        to: 0.9,
        after_s: 0.0,
        night_s: 8.0 * 3600.0,
        energy_per_kwh: Some(0.3),
    };
    let prices = Prices { energy_per_kwh: Some(0.3), ..Prices::default() };
    let grid = Grid { lift_off_pct: vec![0.0, 20.0], brake_pct: vec![0.0, 40.0], at_mps: 11.0 };
    let commute = Road::Named("wltc-low".to_owned());
    let day = Day::of(car, &commute, &cycles::LoadOptions::default()).unwrap();
    let way = ("road", &trace);
    let cost = cost::report(&setup, &car.charger, &prices, "road", &trace);
    let charge = charge::report(&setup, &car.charger, "road", &trace, &plan);
    vec![
        ("drive", shown(car, driven(car, &trace))),
        ("pull", pull::report(&setup, &Marks::metric()).and_then(|r| shown(car, r))),
        ("climb", climb::report(&setup, &hill).and_then(|r| shown(car, r))),
        ("descent", descent::report(&setup, &hill).and_then(|r| shown(car, r))),
        ("endurance", endurance::report(&setup, &map, || ()).and_then(|r| shown(car, r))),
        ("charge", shown(car, charge)),
        ("cost", cost.and_then(|r| shown(car, r))),
        ("regen", regen::report(car, "road", &trace, &grid).and_then(|r| shown(car, r))),
        ("day", day::report(car, &day).and_then(|r| shown(car, r))),
        ("season", season::report(car, None, way, &day).and_then(|r| shown(car, r))),
    ]
}

fn names(kind: FileKind) -> Vec<String> {
    let of_kind = shelf::shelf().iter().filter(|part| part.kind == kind);
    of_kind.map(|part| format!("{}=shelf:{}", kind.name(), part.name)).collect()
}

/// A part of the shelf in place of the demo's, or none.
fn part(kind: FileKind) -> impl Strategy<Value = Option<String>> {
    prop::option::of(prop::sample::select(names(kind)))
}

/// A value for a field, or none.
fn field(
    path: &'static str,
    values: std::ops::Range<f64>,
) -> impl Strategy<Value = Option<String>> {
    prop::option::of(values.prop_map(move |value| format!("{path}={value:.4}")))
}

/// Builds of parts of the shelf in weather and states in which cars are driven.
fn builds() -> impl Strategy<Value = Vec<String>> {
    let parts = (
        part(FileKind::Donor),
        part(FileKind::Controller),
        part(FileKind::Pack),
        part(FileKind::Gearbox),
    );
    let cells = (
        field("pack.state_of_health_pct", 50.0..105.0),
        field("pack.capacity_spread_pct", 0.0..15.0),
        field("pack.min_charge_pct", 0.0..40.0),
        field("pack.cell.polarisation_mohm", 0.0..3.0),
        field("pack.harness_mohm", 0.0..60.0),
    );
    let state = (
        field("conditions.air_c", -30.0..45.0),
        field("conditions.altitude_m", 0.0..3000.0),
        field("conditions.friction", 0.1..1.0),
        field("start.charge_pct", 0.0..100.0),
        field("start.cells_c", -25.0..50.0),
    );
    let rest = (
        field("donor.kerb_mass_kg", 500.0..1500.0),
        field("gearbox.drag_nm", 0.0..2.0),
        field("regen.lift_off_pct", 0.0..60.0),
        field("auxiliaries.traction_w", 0.0..3000.0),
    );
    (parts, cells, state, rest, some_boxes()).prop_map(|(p, c, s, r, boxes)| {
        let mut sets = vec!["driver=null".to_owned()];
        sets.extend([p.0, p.1, p.2, p.3, c.0, c.1, c.2, c.3, c.4].into_iter().flatten());
        sets.extend([s.0, s.1, s.2, s.3, s.4, r.0, r.1, r.2, r.3].into_iter().flatten());
        sets.extend(boxes);
        sets
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, max_shrink_iters: 30, failure_persistence: None, rng_seed: RngSeed::Fixed(20_261_125), ..Default::default() })]

    #[test]
    fn every_report_of_a_car_holds_only_what_can_be(texts in builds()) {
        let sets: Vec<Override> = texts.iter().map(|text| text.parse().unwrap()).collect();
        if let Ok(car) = Loaded::demo().unwrap().with(&sets) {
            for (run, report) in all_reports(&car) {
                if let Err(failure @ Failure::Impossible { .. }) = report {
                    panic!("{run} of {texts:?}: {failure}");
                }
            }
        }
    }
}

/// What is far from any car is told of, or comes out as something that can be.
#[test]
fn a_report_that_cannot_be_is_refused_by_a_sentence_that_names_fields() {
    for text in [
        "pack.cell.polarisation_mohm=380",
        "pack.cell.polarisation_mohm=1000",
        "pack.min_charge_pct=90",
        "controller.warning_c=0",
        "motor.warning_c=0",
        "start.charge_pct=0",
        "controller.mass_kg=0.1",
        "auxiliaries.traction_w=20000",
        "pack.harness_mohm=1000",
    ] {
        for weather in ["conditions.air_c=24", "conditions.air_c=-30", "conditions.air_c=55"] {
            for (run, report) in all_reports(&demo_with(&[text, weather])) {
                if let Err(failure) = report {
                    let sentence = failure.to_string();
                    println!("{text}, {weather}, {run}: {sentence}");
                    if let Failure::Impossible { look_at, .. } = failure {
                        let field = text.split('=').next().unwrap();
                        assert!(look_at.starts_with(field), "{sentence}");
                    }
                }
            }
        }
    }
}

/// A breach names its place in the report, what can be, and the input to look at.
#[test]
fn a_breach_names_the_number_and_what_leads_there() {
    #[derive(Serialize)]
    struct Ledger {
        regen_kwh: f64,
        charge_to_pct: f64,
        low_cell_v: f64,
        range: Option<f64>,
    }
    #[derive(Serialize)]
    struct Report {
        ending: &'static str,
        gears: Vec<Ledger>,
    }
    let car = demo_with(&[]);
    let sound = || Ledger { regen_kwh: 0.0, charge_to_pct: 90.0, low_cell_v: 3.0, range: None };
    let report = |ending, ledger| Report { ending, gears: vec![sound(), ledger] };
    let said = |report: Report| car.vouched(report).err().map(|failure| failure.to_string());
    assert_eq!(said(report("complete", sound())), None);
    for (wrong, name) in [
        (Ledger { regen_kwh: -0.5, ..sound() }, "gears.regen_kwh"),
        (Ledger { charge_to_pct: 100.1, ..sound() }, "gears.charge_to_pct"),
        (Ledger { low_cell_v: -0.32, ..sound() }, "gears.low_cell_v"),
        (Ledger { low_cell_v: 2.4, ..sound() }, "gears.low_cell_v"),
        (Ledger { range: Some(f64::NAN), ..sound() }, "gears.range"),
    ] {
        let sentence = said(report("complete", wrong)).unwrap();
        assert!(sentence.contains(name), "{sentence}");
        assert!(sentence.contains("look at "), "{sentence}");
    }
    // The demo's cells may be under their 2.5 V where a limit is named.
    assert_eq!(said(report("cell_voltage", Ledger { low_cell_v: 2.4, ..sound() })), None);
}

/// The reserve and the cold together can leave a full pack with nothing, and never with less.
#[test]
fn a_pack_that_the_cold_empties_has_nothing_to_use() {
    let car =
        demo_with(&["pack.min_charge_pct=90", "conditions.air_c=-30", "start.charge_pct=100"]);
    let standing = scenarios::runs::standing::report(&car.setup(), None);
    assert_eq!(standing.usable_kwh, 0.0);
    assert!(car.warnings().iter().any(|warning| warning.text.starts_with("The pack is empty")));
    let trace = scenarios::runs::trace(&cycles::find("wltc-low").unwrap()).unwrap();
    let report = driven(&car, &trace);
    assert_eq!((report.ending, report.time_s), (DriveOutcome::Empty, 0.0));
}

#[test]
fn a_car_that_stands_has_no_consumption() {
    let car = demo_with(&[]);
    let still = Trace::new(&[0.0, 600.0], &[0.0, 0.0], &[0.0]).unwrap();
    let report = shown(&car, driven(&car, &still)).unwrap();
    assert_eq!((&report["wh_per_km"], &report["mi_per_kwh"]), (&Value::Null, &Value::Null));
    assert!(report["energy_kwh"].as_f64().unwrap() > 0.0);
}

#[test]
fn a_road_that_only_falls_has_no_range_and_shares_within_the_whole() {
    let car = demo_with(&["start.charge_pct=50"]);
    // Regen and auxiliaries leave about nothing on the steepest, and more on the flatter ones.
    for grade in [-0.02, -0.025, -0.03, -0.04, -0.08] {
        let (time_s, speed) = ([0.0, 10.0, 600.0], [8.0, 12.0, 12.0]);
        let fall = Trace::new(&time_s, &speed, &[grade; 2]).unwrap();
        let report = shown(&car, driven(&car, &fall)).unwrap();
        for row in report["ledger"]["rows"].as_array().unwrap() {
            assert!(row["share_pct"].as_f64().unwrap().abs() <= 100.0 + 1e-9, "{row}");
        }
    }
    let fall = Trace::new(&[0.0, 10.0, 100.0], &[8.0, 12.0, 12.0], &[-0.08; 2]).unwrap();
    let range = drive::range_of(&car.setup(), &fall);
    assert_eq!((range.ended_by, range.not_done), (RangeOutcome::NotFound, None));
}

/// Where the air is above a part's warning, each kelvin counts as a whole way: a number that can be
/// read, above 100 % as long as the part is cut back.
#[test]
fn a_part_that_cuts_back_in_any_air_is_told_of_and_has_a_heat_that_can_be_read() {
    let car = demo_with(&["controller.warning_c=0"]);
    let text = "The controller's heat sink is at 24 °C before it does anything";
    assert!(car.warnings().iter().any(|w| w.text.starts_with(text)), "{:?}", car.warnings());
    let trace = scenarios::runs::trace(&cycles::find("wltc-low").unwrap()).unwrap();
    let heat_pct = driven(&car, &trace).heat_pct;
    assert!((2400.0..10_000.0).contains(&heat_pct), "{heat_pct} %");
    let stops = demo_with(&["controller.warning_c=0", "controller.cut_off_c=20"]);
    assert_eq!(stops.warnings()[0].severity, scenarios::Severity::Danger);
}

/// The polarisation that a drive left gives its energy back: that is no loss of the charge.
#[test]
fn charging_loses_heat_and_never_less_than_nothing() {
    for mohm in [0.5, 20.0, 255.0] {
        let car = demo_with(&[&format!("pack.cell.polarisation_mohm={mohm}")]);
        let trace = scenarios::runs::trace(&cycles::find("wltc-low").unwrap()).unwrap();
        let plan = ChargePlan { to: 0.98, ..ChargePlan::default() };
        let report = charge::report(&car.setup(), &car.charger, "road", &trace, &plan);
        for session in [&report.daily, &report.full] {
            assert!(session.pack_loss_kwh >= 0.0 && session.charger_loss_kwh >= 0.0, "{session:?}");
            let became = session.charger_loss_kwh
                + session.pack_loss_kwh
                + session.polarisation_kwh
                + session.cells_kwh;
            assert!((session.wall_kwh - became).abs() < 1e-9, "{session:?}");
        }
    }
}

/// An empty pack gives nothing, not for an instant and not to a heater that a halt leaves on.
#[test]
fn nothing_is_drawn_from_an_empty_pack() {
    let trace = scenarios::runs::trace(&cycles::find("wltc-low").unwrap()).unwrap();
    let empty = driven(&demo_with(&["start.charge_pct=0"]), &trace);
    assert_eq!((empty.charge_to_pct, empty.time_s), (0.0, 0.0));
    let heated = demo_with(&["start.charge_pct=20", "auxiliaries.traction_w=5000"]);
    let long_halt = Trace::new(&[0.0, 36_000.0], &[0.0, 0.0], &[0.0]).unwrap();
    let report = driven(&heated, &long_halt);
    assert_eq!(report.ending, DriveOutcome::Empty);
    // The weakest cell is at its reserve of 10 %, and the others are not below it.
    assert!(report.charge_to_pct > 9.0 && report.time_s < 7200.0, "{}", report.charge_to_pct);
}
