//! Drives that were measured, against what the program predicts for the same roads and speeds.
//! Nothing in the cars' files is fitted to a recording: `measured/README.md` says where both are from.
//!
//! Each prediction is held to the error that it has today, so that no change of physics moves it
//! unseen. A change that is meant to move it restates the figure here and in `docs/validity.md`.

use cycles::{Recording, RecordingOptions, Signal};
use proptest::prelude::*;
use scenarios::Loaded;
use scenarios::measured::drive::{Prediction, RecordedDrive};
use scenarios::runs::drive::{self, DriveOutcome, DriveReport};
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
