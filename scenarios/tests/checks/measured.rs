//! Drives that were measured, against what the program predicts for the same roads and speeds.
//! Nothing in the cars' files is fitted to a recording: `measured/README.md` says where both are from.
//!
//! Each prediction is held to the error that it has today, so that no change of physics moves it
//! unseen. A change that is meant to move it restates the figure here and in `docs/validity.md`.

use scenarios::runs::drive::{self, DriveOutcome, DriveReport};
use scenarios::{Loaded, Override};
use std::io::Write;
use std::path::Path;

/// A measured drive by the names of its columns.
struct Recording {
    header: Vec<String>,
    rows: Vec<Vec<Option<f64>>>,
}

impl Recording {
    fn open(path: &Path) -> Self {
        let text = std::fs::read_to_string(path).unwrap();
        let mut lines = text.lines();
        let header = lines.next().unwrap().split(',').map(str::to_owned).collect();
        let row = |line: &str| line.split(',').map(|cell| cell.parse().ok()).collect();
        Self { header, rows: lines.map(row).collect() }
    }

    /// A column, with gaps.
    fn column(&self, name: &str) -> impl DoubleEndedIterator<Item = Option<f64>> + '_ {
        let at = self.header.iter().position(|h| h == name).unwrap();
        self.rows.iter().map(move |row| row[at])
    }

    fn first(&self, name: &str) -> f64 {
        self.column(name).flatten().next().unwrap()
    }

    fn last(&self, name: &str) -> f64 {
        self.column(name).flatten().next_back().unwrap()
    }

    fn mean(&self, name: &str) -> f64 {
        let all: Vec<f64> = self.column(name).flatten().collect();
        all.iter().sum::<f64>() / all.len() as f64
    }
}

fn measured() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/checks/measured"))
}

/// Drives a recording's road at its speeds, in its air, from its charge.
fn predicted(
    car: &str,
    recording: &Path,
    start: &[(&str, f64)],
    loads: Option<&str>,
) -> DriveReport {
    let start: Vec<Override> =
        start.iter().map(|(path, value)| Override::number(path, *value).unwrap()).collect();
    let prepared = Loaded::open(measured().join(car)).unwrap().with(&start).unwrap();
    let options = cycles::LoadOptions {
        columns: cycles::Columns::IgnoreUnknown,
        auxiliary_column: loads.map(str::to_owned),
        ..cycles::LoadOptions::default()
    };
    let road = cycles::load(recording, &options).unwrap().schedule;
    let trace = scenarios::runs::trace(&road).unwrap();
    let setup = prepared.setup();
    drive::report(&setup, &road.name, &trace, &drive::drive(&setup, &trace, &mut ()))
}

/// Says something that is seen even of a test that passes.
fn say(words: &str) {
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
        let recording = Recording::open(&path);
        let start = [
            ("conditions.air_c", recording.mean("ambient_c")),
            ("conditions.altitude_m", recording.mean("elevation_m")),
            ("start.charge_pct", recording.first("charge_pct")),
        ];
        let found = predicted("light-two-seater.json", &path, &start, None);
        assert_eq!(found.ending, DriveOutcome::Complete);
        let used_pct = recording.first("charge_pct") - recording.last("charge_pct");
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
            let recording = Recording::open(&path);
            let power_w = recording
                .column("pack_v")
                .zip(recording.column("pack_a"))
                .map(|(v, a)| Some(v? * a?));
            let (times, watts): (Vec<f64>, Vec<f64>) =
                recording.column("time_s").zip(power_w).filter_map(|(t, w)| Some((t?, w?))).unzip();
            let energy_j: f64 = times.windows(2).zip(&watts).map(|(t, w)| w * (t[1] - t[0])).sum();
            let start = [
                ("conditions.air_c", recording.mean("ambient_c")),
                ("conditions.altitude_m", recording.first("elevation_m")),
                ("start.charge_pct", recording.first("charge_pct")),
                ("start.cells_c", recording.first("pack_c")),
            ];
            let loads = Some("cabin_climate_kw");
            let found = predicted("four-seat-hatchback.json", &path, &start, loads);
            error_pct(&name, "pack energy, kWh,", energy_j / 3.6e6, found.energy_kwh)
        })
        .collect();
    errors_pct.sort_by(f64::total_cmp);
    let median_pct = 0.5 * (errors_pct[3] + errors_pct[4]);
    say(&format!("median {median_pct:+.1} %"));
    assert!((median_pct - TRIPS_MEDIAN_PCT).abs() <= 0.5, "{median_pct} %");
    assert!(errors_pct.iter().all(|e| e.abs() <= TRIPS_LARGEST_PCT), "{errors_pct:?}");
}
