//! Drives that were measured, against what the program predicts for the same roads and speeds.
//! Nothing in the cars' files is fitted to a recording: `measured/README.md` says where both are from.
//!
//! Each prediction is held to the error that it has today, so that no change of physics moves it
//! unseen. A change that is meant to move it restates the figure here and in `docs/validity.md`.

use cycles::{Recording, RecordingOptions, Signal};
use proptest::prelude::*;
use scenarios::measured::comparison::{DrivesReport, replay};
use scenarios::measured::drive::{Prediction, RecordedDrive};
use scenarios::runs::drive::{self, DriveOutcome, DriveReport};
use scenarios::{Loaded, Override};
use std::io::Write;
use std::path::Path;

pub fn measured() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/checks/measured"))
}

/// Drives a recording's road at its speeds, in its air, from its charge.
fn predicted(car: &str, path: &Path) -> (RecordedDrive, Prediction, DriveReport) {
    let recording = Recording::open(path, &RecordingOptions::default()).unwrap();
    let recorded = RecordedDrive::of(recording).unwrap();
    let loaded = Loaded::open(measured().join(car)).unwrap();
    let prepared = recorded.prepare(&loaded, &[]).unwrap();
    let mut prediction = Prediction::of(&recorded);
    let driven = recorded.predict(&prepared.setup(), &mut prediction);
    let report = drive::report(&prepared.setup(), &recorded.road.name, &recorded.trace, &driven);
    (recorded, prediction, report)
}

/// Says something that is seen even of a test that passes.
pub fn say(words: &str) {
    std::io::stderr().write_all(format!("{words}\n").as_bytes()).unwrap();
}

/// The error of a prediction in %, said with both figures.
fn error_pct(name: &str, what: &str, measured: f64, predicted: f64) -> f64 {
    let error_pct = 100.0 * (predicted / measured - 1.0);
    say(&format!(
        "{name}: {what} measured {measured:.3}, predicted {predicted:.3}, {error_pct:+.1} %"
    ));
    error_pct
}

/// Charge used by a very light two-seater, in town and on a ring road: the error today, %.
const CHARGE_USED_ERROR_PCT: [(&str, f64); 2] = [("light-1", -11.9), ("light-2", -12.2)];

#[test]
fn a_light_two_seater_uses_the_charge_that_it_is_known_to() {
    for (name, today_pct) in CHARGE_USED_ERROR_PCT {
        let path = measured().join(name).with_extension("csv");
        let (recorded, _, found) = predicted("light-two-seater.json", &path);
        assert_eq!(found.ending, DriveOutcome::Complete);
        let charge = |end: Option<f64>| 100.0 * end.unwrap();
        let used_pct = charge(recorded.recording.first(Signal::Charge))
            - charge(recorded.recording.last(Signal::Charge));
        let predicted_pct = found.charge_from_pct - found.charge_to_pct;
        let error_pct = error_pct(name, "charge used, %,", used_pct, predicted_pct);
        assert!((error_pct - today_pct).abs() <= 0.5, "{error_pct} %, not {today_pct} %");
    }
}

/// Median of the errors of the pack's energy on the eight trips today, %, and the largest.
const TRIPS_MEDIAN_PCT: f64 = -6.0;
const TRIPS_LARGEST_PCT: f64 = 15.1;

/// The pack's energy on eight trips of a four-seat hatchback, which are not part of the project.
#[test]
fn a_four_seat_hatchback_takes_the_energy_that_it_is_known_to() {
    let Some(folder) = std::env::var_os("SHAKEDOWN_RECORDINGS") else {
        say("skipped: SHAKEDOWN_RECORDINGS names no folder of trip-1.csv to trip-8.csv");
        return;
    };
    let mut errors_pct: Vec<f64> = (1..=8)
        .map(|i| {
            let name = format!("trip-{i}");
            let path = Path::new(&folder).join(&name).with_extension("csv");
            let (recorded, _, found) = predicted("four-seat-hatchback.json", &path);
            let times = &recorded.recording.time_s;
            let watts = recorded.recording.pack_power_w().unwrap();
            let energy_j: f64 = times.windows(2).zip(&watts).map(|(t, w)| w * (t[1] - t[0])).sum();
            error_pct(&name, "pack energy, kWh,", energy_j / 3.6e6, found.energy_kwh)
        })
        .collect();
    errors_pct.sort_by(f64::total_cmp);
    let median_pct = 0.5 * (errors_pct[3] + errors_pct[4]);
    say(&format!("median {median_pct:+.1} %"));
    assert!((median_pct - TRIPS_MEDIAN_PCT).abs() <= 0.5, "{median_pct} %");
    assert!(errors_pct.iter().all(|e| e.abs() <= TRIPS_LARGEST_PCT), "{errors_pct:?}");
}

/// The energy that is predicted row by row, and the states at the last row, are those of the report.
#[test]
fn a_prediction_on_the_times_of_a_recording_ends_as_the_drive_does() {
    let path = measured().join("light-1.csv");
    let (recorded, prediction, report) = predicted("light-two-seater.json", &path);
    let close = |a: f64, b: f64, what| assert!((a - b).abs() < 1e-9 * b.abs(), "{what}: {a} {b}");
    close(*prediction.energy_j.last().unwrap(), 3.6e6 * report.energy_kwh, "energy");
    let last = |signal| *prediction.values(signal).unwrap().last().unwrap();
    close(100.0 * last(Signal::Charge), report.charge_to_pct, "charge");
    close(last(Signal::Winding) - 273.15, report.end.winding_c, "winding");
    close(last(Signal::Cells) - 273.15, report.end.cells_c, "cells");
    assert!(prediction.values(Signal::Air).is_none());
    let power = prediction.values(Signal::PackPower).unwrap();
    assert!(power.iter().all(|w| w.is_finite()) && power.len() == recorded.recording.time_s.len());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// However often a log has a row, and wherever rows lie, what is predicted for a time is the same.
    #[test]
    fn a_prediction_does_not_depend_on_how_often_the_log_has_a_row(
        steps in prop::collection::vec(0.2..3.0f64, 200..300),
    ) {
        let speed = |t: f64| 12.0 - 12.0 * (t / 40.0).cos();
        let log = |times: &[f64]| {
            let mut text = String::from("time_s,speed_mps,charge_pct,ambient_c\n");
            times.iter().for_each(|t| text += &format!("{t},{},80,20\n", speed(*t)));
            let path = Path::new("a.csv");
            let recording =
                Recording::read(path, text.as_bytes(), &RecordingOptions::default()).unwrap();
            let recorded = RecordedDrive::of(recording).unwrap();
            let prepared = recorded.prepare(&Loaded::demo().unwrap(), &[]).unwrap();
            let mut prediction = Prediction::of(&recorded);
            recorded.predict(&prepared.setup(), &mut prediction);
            (recorded, prediction)
        };
        let even: Vec<f64> = (0..200).map(f64::from).collect();
        let mut odd = vec![0.0];
        for step in &steps {
            odd.push(odd[odd.len() - 1] + step);
        }
        let (_, plain) = log(&even);
        let (other, uneven) = log(&odd);
        for signal in [Signal::Charge, Signal::Winding, Signal::Speed] {
            let (a, b) = (plain.values(signal).unwrap(), uneven.values(signal).unwrap());
            for (t, value) in other.recording.time_s.iter().zip(b).filter(|(t, _)| **t < 199.0) {
                let before = *t as usize;
                let between = a[before] + (t - before as f64) * (a[before + 1] - a[before]);
                let tolerance = if signal == Signal::Charge { 1e-3 } else { 0.6 };
                prop_assert!((value - between).abs() < tolerance, "{signal:?} {t}: {value} {between}");
            }
        }
    }
}

/// The demo's log: sums of its columns by pandas 2 and numpy 2 (`trapezoid` over rows that are at most
/// 10 s apart, `min`, `max`, least squares of steps in volts on steps in amperes).
#[test]
fn figures_of_a_log_are_those_of_pandas() {
    let (name, text) = scenarios::demo::LOG;
    let options = RecordingOptions::default();
    let recording = Recording::read(Path::new(name), text.as_bytes(), &options).unwrap();
    let drives = [RecordedDrive::of(recording).unwrap()];
    let found = replay(&Loaded::demo().unwrap(), &[], &drives).unwrap().report;
    let drive = &found.drives[0];
    for (figure, by_pandas) in DEMO_LOG {
        let recorded = drive.figure(figure).unwrap().recorded;
        assert!((recorded - by_pandas).abs() < 1e-4 * by_pandas.abs(), "{figure}: {recorded}");
    }
    assert!((drive.air_c.unwrap() - AIR_C).abs() < 1e-3);
    // A silence of a minute is in the winding's column, and it is said.
    assert!(drive.said.iter().any(|text| text.contains("winding_c") && text.contains("has a gap")));
    assert!(found.together.is_empty() && !found.regimes.is_empty());
}

const AIR_C: f64 = 14.249_203;
const DEMO_LOG: [(&str, f64); 9] = [
    ("energy at the pack", 2.587_685),
    ("of it put back", 0.466_145),
    ("charge used", 24.9),
    ("lowest pack voltage", 99.1),
    ("highest pack current", 300.4),
    ("lowest cell voltage", 2.901),
    ("winding peak", 91.0),
    ("heat sink peak", 39.0),
    ("volts per ampere, in seconds", 39.808_57),
];

/// A log of what the demo does by itself, with volts, amperes and temperatures, a row a second.
fn own_log(set: &[&str], tune: impl Fn(&str, f64) -> String) -> Recording {
    own_log_in_waves(45.0, set, tune)
}

/// The same at speeds that go up and down in waves, `14·(1 − cos(t/T))`.
fn own_log_in_waves(wave_s: f64, set: &[&str], tune: impl Fn(&str, f64) -> String) -> Recording {
    let speed = |t: f64| 14.0 - 14.0 * (t / wave_s).cos();
    let seconds: Vec<f64> = (0..900).map(f64::from).collect();
    let read = |text: String| {
        Recording::read(Path::new("own.csv"), text.as_bytes(), &RecordingOptions::default())
            .unwrap()
    };
    let mut plain = String::from("time_s,speed_mps,charge_pct,ambient_c,elevation_m\n");
    for t in &seconds {
        plain += &format!("{t},{},80,20,0\n", if *t < 90.0 { 0.0 } else { speed(t - 90.0) });
    }
    let recorded = RecordedDrive::of(read(plain)).unwrap();
    let set: Vec<Override> = set.iter().map(|s| s.parse().unwrap()).collect();
    let prepared = recorded.prepare(&Loaded::demo().unwrap(), &set).unwrap();
    let mut prediction = Prediction::of(&recorded);
    recorded.predict(&prepared.setup(), &mut prediction);
    let column = |signal| prediction.values(signal).unwrap();
    let mut text =
        String::from("time_s,speed_mps,charge_pct,ambient_c,elevation_m,pack_v,pack_a,winding_c\n");
    for (i, t) in seconds.iter().enumerate() {
        let speed = recorded.recording.values(Signal::Speed).unwrap()[i];
        text += &format!(
            "{t},{speed},{},20,0,{},{},{}\n",
            tune("charge_pct", 100.0 * column(Signal::Charge)[i]),
            tune("pack_v", column(Signal::PackVoltage)[i]),
            tune("pack_a", column(Signal::PackCurrent)[i]),
            tune("winding_c", column(Signal::Winding)[i] - 273.15),
        );
    }
    read(text)
}

fn compared(recording: Recording, set: &[&str]) -> DrivesReport {
    let set: Vec<Override> = set.iter().map(|s| s.parse().unwrap()).collect();
    let drives = [RecordedDrive::of(recording).unwrap()];
    replay(&Loaded::demo().unwrap(), &set, &drives).unwrap().report
}

/// What a car is predicted to do, recorded, is what is predicted; amperes that read 5 % high make
/// the prediction 1 − 1/1.05 lower.
#[test]
fn a_log_of_the_prediction_itself_differs_in_nothing() {
    let exact = |_: &str, value: f64| value.to_string();
    let own = compared(own_log(&[], exact), &[]);
    for figure in &own.drives[0].figures {
        // Sums of rows are not sums of steps where gears change between two rows.
        let tolerance = if figure.unit == "kWh" { 0.02 } else { 1e-6 };
        let scale = figure.recorded.abs().max(1.0);
        assert!(figure.difference.abs() < tolerance * scale, "{figure:?}");
    }
    let high =
        |name: &str, value: f64| if name == "pack_a" { 1.05 * value } else { value }.to_string();
    let pct = |report: &DrivesReport| {
        report.drives[0].figure("energy at the pack").unwrap().difference_pct.unwrap()
    };
    let found = pct(&compared(own_log(&[], high), &[])) - pct(&own);
    assert!((found + 100.0 * (1.0 - 1.0 / 1.05)).abs() < 0.2, "{found}");
}

/// What is wrong with a car is what the differences point at.
#[test]
fn differences_point_at_what_is_off() {
    let exact = |_: &str, value: f64| value.to_string();
    for (hidden, word) in [
        ("auxiliaries.traction_w=400", "auxiliaries"),
        ("pack.harness_mohm=40", "resistance of cells"),
        ("motor.nameplate.winding_rise_share_pct=70", "The winding stayed"),
    ] {
        let report = compared(own_log(&[hidden], exact), &[]);
        assert!(report.suggestions.iter().any(|s| s.contains(word)), "{:?}", report.suggestions);
    }
}

/// Charge in whole per cent, and a drive of a few hundred metres, are said to be too coarse.
#[test]
fn what_is_too_coarse_is_said() {
    let steps = |name: &str, value: f64| match name {
        "charge_pct" => format!("{value:.0}"),
        _ => value.to_string(),
    };
    let report = compared(own_log(&[], steps), &[]);
    let charge = report.drives[0].figure("charge used").unwrap();
    assert!(charge.coarse.as_ref().is_some_and(|why| why.contains("steps of 1.0 %")), "{charge:?}");
    let text = "time_s,speed_kmh,pack_v,pack_a\n0,0,110,2\n5,20,108,90\n9,20,110,20\n14,0,112,-5\n";
    let recording =
        Recording::read(Path::new("a.csv"), text.as_bytes(), &RecordingOptions::default()).unwrap();
    let report = compared(recording, &[]);
    assert!(report.drives[0].figures.iter().all(|figure| figure.coarse.is_some()));
}

#[test]
fn a_value_of_the_caller_goes_before_a_recorded_one() {
    let exact = |_: &str, value: f64| value.to_string();
    let recorded = RecordedDrive::of(own_log(&[], exact)).unwrap();
    let set = ["conditions.air_c=-5".parse().unwrap()];
    let prepared = recorded.prepare(&Loaded::demo().unwrap(), &set).unwrap();
    assert_eq!(prepared.scenario.conditions.as_ref().unwrap().air_c, Some(-5.0));
    assert_eq!(prepared.scenario.start.as_ref().unwrap().charge_pct, Some(80.0));
    let beneath = recorded.beneath(&prepared).unwrap();
    let air_c = beneath.scenario.conditions.as_ref().unwrap().air_c.unwrap();
    assert!((air_c - 20.0).abs() < 1e-9, "{air_c}");
}

/// A car's own log suggests nothing of the car, whatever noise a satellite receiver gives its speeds (up to
/// 0.5 km/h, common practice, no source) and a logger its volts and amperes.
#[test]
fn a_noisy_log_of_the_car_itself_suggests_nothing() {
    for (seed, kmh) in [(1u64, 0.1), (2, 0.2), (3, 0.5)] {
        let state = std::cell::Cell::new(seed);
        // Noise that is even from -1 to 1 (constants of the MMIX generator, Knuth, from memory).
        let even = || {
            let next = state.get().wrapping_mul(6_364_136_223_846_793_005);
            state.set(next.wrapping_add(1_442_695_040_888_963_407));
            (state.get() >> 11) as f64 / (1u64 << 52) as f64 - 1.0
        };
        let mut own = own_log(&[], |name: &str, value: f64| match name {
            "pack_v" => (value + 0.1 * even()).to_string(),
            "pack_a" => (value + even()).to_string(),
            _ => value.to_string(),
        });
        let text: String = own.time_s.iter().enumerate().fold(
            "time_s,speed_mps,charge_pct,ambient_c,elevation_m,pack_v,pack_a,winding_c\n"
                .to_owned(),
            |text, (i, t)| {
                let of = |signal| own.values(signal).unwrap()[i];
                let speed = (of(Signal::Speed) + 3.0f64.sqrt() * kmh / 3.6 * even()).max(0.0);
                let (charge, winding) = (100.0 * of(Signal::Charge), of(Signal::Winding) - 273.15);
                let (v, a) = (of(Signal::PackVoltage), of(Signal::PackCurrent));
                text + &format!("{t},{speed},{charge},20,0,{v},{a},{winding}\n")
            },
        );
        own = Recording::read(Path::new("own.csv"), text.as_bytes(), &RecordingOptions::default())
            .unwrap();
        let report = compared(own, &[]);
        let nothing = "Where one thing rules, nothing differs by enough to point at it.";
        assert_eq!(report.suggestions, [nothing], "{kmh} km/h: {:?}", report.regimes);
        assert!(report.drives[0].impossible.is_empty());
    }
}

/// A log that contradicts itself or its car is said to be wrong, and nothing is said of the car.
#[test]
fn a_log_that_cannot_be_right_is_not_blamed_on_the_car() {
    let tuned = |name: &'static str, tune: fn(f64) -> f64| {
        move |column: &str, value: f64| if column == name { tune(value) } else { value }.to_string()
    };
    for (name, tune, word) in [
        ("pack_a", (|a| 0.5 * a) as fn(f64) -> f64, "adds up to"),
        ("pack_a", |a| 20.0 * a, "the controller takes"),
        ("pack_v", |v| v / 33.0 + 5.0, "the pack has"),
    ] {
        let report = compared(own_log(&[], tuned(name, tune)), &[]);
        let said = &report.drives[0].impossible;
        assert!(said.iter().any(|why| why.contains(word)), "{word}: {said:?}");
        assert_eq!(report.suggestions.len(), 1, "{:?}", report.suggestions);
        assert!(report.suggestions[0].contains("cannot be right") && report.regimes.is_empty());
    }
}

/// Amperes without their sign: that is said where braking gives back what counts, nothing is turned,
/// and nothing is said of the car.
#[test]
fn a_current_without_a_sign_is_said_to_have_none() {
    let without =
        |name: &str, value: f64| if name == "pack_a" { value.abs() } else { value }.to_string();
    let brakes = ["regen.lift_off_pct=30", "regen.brake_pedal_pct=60"];
    for (wave_s, set, told) in [(15.0, &brakes[..], true), (45.0, &[][..], false)] {
        let log = own_log_in_waves(wave_s, set, without);
        assert!(log.values(Signal::PackCurrent).unwrap().iter().all(|a| *a >= 0.0));
        let report = compared(log, set);
        let said = &report.drives[0].impossible;
        assert_eq!(said.iter().any(|why| why.contains("its sign is missing")), told, "{said:?}");
        let [only] = &report.suggestions[..] else { panic!("{:?}", report.suggestions) };
        let words = if told { "cannot be right" } else { "nothing differs by enough" };
        assert!(only.contains(words), "{only}");
    }
}
