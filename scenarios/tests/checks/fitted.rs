//! Cars fitted to recorded drives, and drives predicted that had no part in the fit.
//!
//! `measured/README.md` says where the recordings are from.

use crate::measured::{measured, say};
use cycles::{Recording, RecordingOptions};
use scenarios::Loaded;
use scenarios::measured::drive::RecordedDrive;
use scenarios::measured::fit::{Fit, fit};
use scenarios::measured::judged::{Judged, Logged, Together};
use std::path::{Path, PathBuf};

pub fn recorded(path: &Path) -> RecordedDrive {
    RecordedDrive::of(Recording::open(path, &RecordingOptions::default()).unwrap()).unwrap()
}

/// A car with what a fit found, taken in by way of a file as a user takes it in.
pub fn with(car: &Loaded, fit: &Fit) -> Loaded {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("learnt.json");
    fit.learnt("2026-11-27".to_owned(), Vec::new(), None).save(&file, &[]).unwrap();
    car.measured(&[file]).unwrap()
}

pub fn fitted(car: &Loaded, drives: &[&RecordedDrive]) -> Fit {
    let logged: Vec<Logged> =
        drives.iter().map(|drive| Logged::of(drive, car, &[]).unwrap()).collect();
    fit(&logged).unwrap()
}

/// Each drive as predicted by what all others told.
fn left_out(car: &Loaded, files: &[PathBuf]) -> Vec<Judged> {
    let drives: Vec<RecordedDrive> = files.iter().map(|file| recorded(file)).collect();
    let judged = (0..drives.len()).map(|i| {
        let others: Vec<&RecordedDrive> =
            (0..drives.len()).filter(|j| *j != i).map(|j| &drives[j]).collect();
        let wiser = with(car, &fitted(car, &others));
        Logged::of(&drives[i], &wiser, &[]).unwrap().judged().unwrap()
    });
    judged.collect()
}

pub fn told(judged: &[Judged]) -> Together {
    for one in judged {
        say(&format!(
            "{}: recorded {:.2}, predicted {:.2} ({:+.1} %), band {:.2} to {:.2}{}",
            one.name,
            one.recorded,
            one.predicted,
            one.error_pct(),
            one.low,
            one.high,
            if one.holds() { "" } else { ", not held" }
        ));
    }
    let together = Together::of(judged).unwrap();
    say(&format!(
        "median {:+.1} %, deviation {:.1} %, nine in ten within {:.1} %, {} of {} held",
        together.median_pct,
        together.deviation_pct,
        together.within_pct,
        together.held,
        together.drives
    ));
    together
}

/// The charge used by a very light two-seater on each of four drives, from the three others.
#[test]
fn a_light_two_seater_is_predicted_from_its_other_drives() {
    let car = Loaded::open(measured().join("light-two-seater.json")).unwrap();
    let files: Vec<PathBuf> = (1..=4).map(|i| measured().join(format!("light-{i}.csv"))).collect();
    let together = told(&left_out(&car, &files));
    assert!(together.median_pct.abs() <= 5.0, "{}", together.median_pct);
    assert!(together.within_pct <= 16.0, "{}", together.within_pct);
    assert!(together.held >= 3, "{}", together.held);
}

/// The pack's energy on eight trips of a four-seat hatchback, each from the seven others. Two of the
/// eight lie far from the rest, so that the others tell them badly: their bands are told, not hidden.
#[test]
fn a_four_seat_hatchback_is_predicted_from_its_other_drives() {
    let Some(folder) = std::env::var_os("SHAKEDOWN_RECORDINGS") else {
        say("skipped: SHAKEDOWN_RECORDINGS names no folder of trip-1.csv to trip-8.csv");
        return;
    };
    let car = Loaded::open(measured().join("four-seat-hatchback.json")).unwrap();
    let files: Vec<PathBuf> =
        (1..=8).map(|i| Path::new(&folder).join(format!("trip-{i}.csv"))).collect();
    let together = told(&left_out(&car, &files));
    assert!(together.median_pct.abs() <= 3.0, "{}", together.median_pct);
    assert!(together.deviation_pct <= 7.0, "{}", together.deviation_pct);
    assert!(together.held >= 5, "{}", together.held);
}
