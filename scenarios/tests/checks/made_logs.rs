//! Logs of cars whose truth the program does not know, integrated by SciPy (`made_logs/make.py`):
//! four cars with other drag, rolling resistance, auxiliaries and cells than their file, each on ten
//! drives with a wind and people of their own, noise on volts and amperes, an offset of the amperes and
//! elevation in whole metres. The first five drives are fitted, the others predicted.

use crate::fitted::{fitted, told, with};
use cycles::{Recording, RecordingOptions};
use scenarios::measured::drive::RecordedDrive;
use scenarios::measured::fit::{Fit, Told, fit};
use scenarios::measured::judged::{Judged, Logged};
use scenarios::{Loaded, Override};
use std::fmt::Write;
use std::path::{Path, PathBuf};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/checks/made_logs")
}

fn rows(file: &str) -> Vec<Vec<f64>> {
    let text = std::fs::read_to_string(folder().join(file)).unwrap();
    let row = |line: &str| line.split(',').map(|cell| cell.parse().unwrap()).collect();
    text.lines().skip(1).map(row).collect()
}

fn read(name: &str, text: &str) -> RecordedDrive {
    let options = RecordingOptions::default();
    RecordedDrive::of(Recording::read(Path::new(name), text.as_bytes(), &options).unwrap()).unwrap()
}

/// The ten drives of a car.
fn drives(rows: &[Vec<f64>], car: usize) -> Vec<RecordedDrive> {
    let of = |drive: usize| {
        let mut text = "time_s,speed_kmh,elevation_m,pack_v,pack_a\n".to_owned();
        let own = rows.iter().filter(|row| row[0] == car as f64 && row[1] == drive as f64);
        for (i, row) in own.enumerate() {
            writeln!(text, "{},{},{},{},{}", 2 * i, row[2], row[3], row[4], row[5]).unwrap();
        }
        read(&format!("car-{car}-drive-{drive}.csv"), &text)
    };
    (0..10).map(of).collect()
}

fn input<'a>(fit: &'a Fit, name: &str) -> &'a Told {
    fit.inputs.iter().find(|one| one.input.name == name).unwrap()
}

#[test]
fn bands_hold_drives_of_cars_whose_truth_is_hidden_and_inputs_move_towards_it() {
    let car = Loaded::open(folder().join("car.json")).unwrap();
    let (logs, truths) = (rows("logs.csv"), rows("truth.csv"));
    let names = ["drag area", "rolling resistance", "auxiliaries", "cell resistance"];
    let mut judged: Vec<Judged> = Vec::new();
    let (mut before, mut after, mut within) = (0.0_f64, 0.0_f64, 0);
    for truth in &truths {
        let drives = drives(&logs, truth[0] as usize);
        let (first, last) = drives.split_at(5);
        let fit = fitted(&car, &first.iter().collect::<Vec<_>>());
        for (name, hidden) in names.iter().zip(&truth[1..]) {
            let Told { input, .. } = input(&fit, name);
            let was = input.fields[0].was.unwrap();
            let wanted_pct = 100.0 * (hidden / was - 1.0);
            let typical = input.typical_sd.unwrap();
            let off = (input.shift - wanted_pct).abs() / input.sd;
            assert!(off < 3.5, "{name}: {} ± {}, hidden {wanted_pct}", input.shift, input.sd);
            within += usize::from(off < 2.0);
            // Drag area looks like wind, of which five drives have seen five.
            if *name == "drag area" {
                assert!(input.sd > 0.8 * typical, "{} of {typical}", input.sd);
                continue;
            }
            before += (wanted_pct / typical).powi(2);
            after += ((input.shift - wanted_pct) / typical).powi(2);
        }
        let wiser = with(&car, &fit);
        let judge = |drive| Logged::of(drive, &wiser, &[]).unwrap().judged().unwrap();
        judged.extend(last.iter().map(judge));
    }
    // Of 16 truths 14 or more lie within two deviations 96 times in 100.
    assert!(within >= 14, "{within} of 16");
    // Of the squared distance of all others to the truth most is gone.
    assert!(after < 0.4 * before, "{after} of {before}");
    // Of 20 drives that their bands hold with a chance of 80 % each, 12 to 20 are held 98 times in 100.
    let together = told(&judged);
    assert!((12..=20).contains(&together.held), "{}", together.held);
    assert!(together.median_pct.abs() < 4.0, "{}", together.median_pct);
}

/// An hour of climbing with the winding's temperature alone: what the log tells is copper loss over
/// conductance, so the conductance, which is 15 % less than in the file, is found within its interval
/// and the winding is as warm as it was recorded.
#[test]
fn an_hour_of_climbing_tells_how_the_winding_gives_its_heat_away() {
    let car = Loaded::open(folder().join("car.json")).unwrap();
    let text = std::fs::read_to_string(folder().join("climb.csv")).unwrap();
    let climb = read("climb.csv", &text);
    let recorded_c =
        text.lines().last().unwrap().split(',').nth(3).unwrap().parse::<f64>().unwrap();
    let end_c = |car: &Loaded| {
        let prepared = climb.prepare(car, &[]).unwrap();
        let driven = scenarios::runs::drive::drive(&prepared.setup(), &climb.trace, &mut ());
        driven.end.temperature_k[sim_core::Node::Winding] - 273.15
    };
    let fit = fitted(&car, &[&climb]);
    let Told { input: found, .. } = input(&fit, "winding to housing");
    assert!(found.shift < 0.0 && (found.shift + 15.0).abs() < 2.0 * found.sd, "{found:?}");
    let (before_k, after_k) =
        ((end_c(&car) - recorded_c).abs(), (end_c(&with(&car, &fit)) - recorded_c).abs());
    assert!(after_k < 1.5 && after_k < before_k, "{before_k} {after_k}");
}

/// A pack of two and a half times the volts at the same amperes is that of another car.
#[test]
fn logs_of_another_car_tell_nothing() {
    let car = Loaded::open(folder().join("car.json")).unwrap();
    let more_volts = |row: &Vec<f64>| {
        row.iter().enumerate().map(|(i, v)| if i == 4 { 2.5 * v } else { *v }).collect()
    };
    let other: Vec<Vec<f64>> = rows("logs.csv").iter().map(more_volts).collect();
    let logged: Vec<Logged> =
        drives(&other, 0).iter().take(3).map(|one| Logged::of(one, &car, &[]).unwrap()).collect();
    let refused = fit(&logged).unwrap_err().to_string();
    assert!(refused.contains("contradict each other"), "{refused}");
}

/// Cells of the same temperature as the air give the same prediction, recorded or assumed; only where
/// it is assumed is the charge used uncertain, as cold cells give their amperes at fewer volts.
#[test]
fn cells_that_nobody_measured_make_a_band_wider() {
    let growth = |field: &str, value: f64| {
        Override::number(&format!("build.pack.cell.resistance_growth.{field}"), value).unwrap()
    };
    let cold = [growth("1.factor", 4.0), growth("2.cells_c", 25.0)];
    let car = Loaded::open(folder().join("car.json")).unwrap().put(&cold).unwrap();
    let logs = rows("logs.csv");
    let band = |cells: &str, name: &str| {
        let mut text = format!("time_s,speed_kmh,elevation_m,charge_pct,air_c{name}\n");
        let own = logs.iter().filter(|row| row[0] == 0.0 && row[1] == 0.0);
        let mut charge_pct = 85.0;
        for (i, row) in own.enumerate() {
            // Rows are 2 s apart, and the pack holds 100 Ah.
            charge_pct -= row[5] * 2.0 / 3600.0;
            writeln!(text, "{},{},{},{charge_pct},-5{cells}", 2 * i, row[2], row[3]).unwrap();
        }
        Logged::of(&read("cold.csv", &text), &car, &[]).unwrap().judged().unwrap()
    };
    let (known, assumed) = (band(",-5", ",cells_c"), band("", ""));
    assert!((known.predicted - assumed.predicted).abs() < 1e-9 * known.predicted);
    assert_eq!(known.high, known.low);
    assert!(assumed.high - assumed.low > 0.002 * assumed.predicted, "{assumed:?}");
}
