//! `measure coastdown` as a person meets it: files of other countries and kinds, bad input, what is written.

use crate::program::{folder, json, refused, table, text};
use serde_json::Value;
use std::fs;
use std::path::Path;

const DEMO: &str = include_str!("../../scenarios/demo/coast-down.csv");
const HATCH: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/docs/builds/hatch.json");

fn arg(path: &Path) -> &str {
    path.to_str().unwrap()
}

fn measured(args: &[&str]) -> Value {
    json(&[&["measure", "coastdown", "--mass-kg", "965", "--air-c", "24"], args].concat())
}

/// Times and speeds of the demo's recording, s and km/h.
fn samples() -> Vec<(f64, f64)> {
    let row = |line: &str| {
        let (time, speed) = line.split_once(',').unwrap();
        (time.parse().unwrap(), speed.parse().unwrap())
    };
    DEMO.lines().skip(1).map(row).collect()
}

#[test]
fn other_countries_rates_and_units_tell_the_same() {
    let folder = folder("coast-countries");
    let write = |name: &str, text: String| {
        let file = folder.join(name);
        fs::write(&file, text).unwrap();
        file
    };
    let rows = |head: &str, row: &dyn Fn(f64, f64) -> String| {
        let rows: Vec<String> = samples().iter().map(|(t, v)| row(*t, *v)).collect();
        format!("{head}\n{}\n", rows.join("\n"))
    };
    let comma = |value: f64| value.to_string().replace('.', ",");
    let german =
        rows("Zeit [s];Geschwindigkeit [km/h]", &|t, v| format!("{};{}", comma(t), comma(v)));
    let american = rows("time (s),Speed (mph)", &|t, v| format!("{t},{}", v / 1.609_344));
    let bare = rows("speed_mps", &|_, v| (v / 3.6).to_string());
    let own = rows("time_s,Tacho", &|t, v| format!("{t},{v}"));
    let whole = measured(&[arg(&write("plain.csv", DEMO.to_owned()))]);
    for (file, more) in [
        (write("german.csv", german), vec![]),
        (write("american.csv", american), vec![]),
        (write("bare.csv", bare), vec!["--rate-hz", "1"]),
        (write("own.csv", own), vec!["--column", "speed_kmh=Tacho"]),
    ] {
        let found = measured(&[&[arg(&file)], &more[..]].concat());
        for figure in ["rolling", "drag_area_m2", "head_wind_kmh"] {
            let of = |told: &Value| told[figure]["value"].as_f64().unwrap();
            let (a, b) = (of(&found), of(&whole));
            assert!((a / b - 1.0).abs() < 1e-3, "{}: {figure} {a} {b}", file.display());
        }
    }
}

/// A file a run: in turn, with `--back` in any order, and by positions. Of a degree of latitude there are
/// 111.2 km on a globe of 6371 km.
#[test]
fn the_way_is_that_of_the_order_of_back_or_of_positions() {
    let folder = folder("coast-ways");
    let whole = measured(&[]);
    let runs = whole["runs"].as_array().unwrap();
    let mut files = Vec::new();
    for (i, run) in runs.iter().enumerate() {
        let within =
            |t: &f64| (run["from_s"].as_f64().unwrap()..=run["to_s"].as_f64().unwrap()).contains(t);
        let sign = if i % 2 == 0 { 1.0 } else { -1.0 };
        let (mut plain, mut placed) = (
            "time_s,speed_kmh\n".to_owned(),
            "time_s,speed_kmh,latitude_deg,longitude_deg\n".to_owned(),
        );
        let mut north_m = 0.0;
        for (t, v) in samples().iter().filter(|(t, _)| within(t)) {
            north_m += sign * v / 3.6;
            plain += &format!("{t},{v}\n");
            placed += &format!("{t},{v},{:.7},11.5\n", 48.0 + north_m / 111_195.0);
        }
        let names = [format!("plain-{i}.csv"), format!("placed-{i}.csv")];
        for (name, text) in names.iter().zip([plain, placed]) {
            fs::write(folder.join(name), text).unwrap();
        }
        files.push(names.map(|name| folder.join(name)));
    }
    let plain = |i: usize| arg(&files[i][0]);
    let placed = |i: usize| arg(&files[i][1]);
    let in_turn = measured(&[plain(0), plain(1), plain(2), plain(3), plain(4), plain(5)]);
    let back = [plain(0), plain(2), plain(4), "--back", plain(1), plain(3), plain(5)];
    let by_back = measured(&back);
    let sorted = [placed(0), placed(2), placed(4), placed(1), placed(3), placed(5)];
    let by_place = measured(&sorted);
    // Nothing tells the ways of recordings of a run each: they do not count as both.
    assert_eq!((&in_turn["both_ways"], &in_turn["ways"]), (&false.into(), &"unknown".into()));
    assert_eq!((&whole["ways"], &by_back["ways"]), (&"in_turn".into(), &"known".into()));
    for found in [&by_back, &by_place] {
        for figure in ["rolling", "drag_area_m2", "slope_pct"] {
            let of = |told: &Value| told[figure]["value"].as_f64().unwrap();
            let (a, b) = (of(found), of(&whole));
            // What is cut off at the ends of a file is no more than chance.
            let chance = whole[figure]["standard_error"].as_f64().unwrap();
            assert!((a - b).abs() < 0.5 * chance, "{figure} {a} {b}");
        }
    }
    // All as if they had gone one way.
    let one_way = measured(&["--back", plain(0), plain(2), plain(4)]);
    assert_eq!((&one_way["both_ways"], &one_way["useful"]), (&false.into(), &false.into()));
    let said = table(&["measure", "coastdown", "--back", plain(0), "--mass-kg", "965"]);
    assert!(said.contains("All runs went one way"), "{said}");
}

#[test]
fn what_cannot_be_is_refused_in_one_sentence() {
    let folder = folder("coast-refused");
    let write = |name: &str, text: &str| {
        let file = folder.join(name);
        fs::write(&file, text).unwrap();
        file
    };
    let no_speed = write("no-speed.csv", "time_s,volts\n0,120\n1,121\n2,119\n");
    let level = write("level.csv", "time_s,speed_kmh\n0,50\n10,50\n20,51\n30,50\n40,50\n");
    let kmh_as_mps = write("mps.csv", &DEMO.replace("speed_kmh", "speed_mps"));
    let call = |args: &[&str], named: &[&str]| {
        refused(&[&["measure", "coastdown"], args].concat(), named);
    };
    call(&["--build", HATCH], &["--mass-kg is not given"]);
    call(&["--build", HATCH, "--mass-kg", "905"], &["there is no run to be read"]);
    call(&["nowhere.csv"], &["nowhere.csv", "no such file"]);
    call(&[arg(&no_speed)], &["no-speed.csv", "speed"]);
    call(&[arg(&level)], &["level.csv", "holds no coasting", "14 km/h"]);
    call(&["--mass-kg", "12"], &["the mass is 12", "200 to 10000 kg"]);
    call(&["--air-c", "80"], &["the air is 80", "-40 to 55 °C"]);
    call(&["--pressure-kpa", "1013"], &["the pressure is 1013", "40 to 110 kPa"]);
    call(&["--altitude-m", "9000"], &["the altitude is 9000"]);
    call(&["--rate-hz", "0"], &["--rate-hz is 0"]);
    call(&["--column", "speed"], &["--column is \"speed\""]);
    // A wrong unit in the header is found out, or at least doubted.
    let output = crate::program::shakedown(&["measure", "coastdown", arg(&kmh_as_mps), "--json"]);
    let said = String::from_utf8([output.stdout, output.stderr].concat()).unwrap();
    assert!(said.contains("unit"), "{said}");
}

/// What is useful is written beside the build, and a car takes it in; what is not is written only where
/// that is asked for; nothing else is overwritten.
#[test]
fn what_was_learnt_is_written_beside_the_build_and_taken_in() {
    let folder = folder("coast-written");
    let build = folder.join("car.json");
    fs::copy(HATCH, &build).unwrap();
    let run = folder.join("outing.csv");
    fs::write(&run, DEMO).unwrap();
    let call = ["measure", "coastdown", arg(&run), "--build", arg(&build), "--mass-kg", "965"];
    let told = json(&call);
    let written = told["written"].as_str().unwrap();
    assert!(written.contains("measured/coast-down-2"), "{written}");
    let learnt: Value = serde_json::from_str(&fs::read_to_string(written).unwrap()).unwrap();
    assert_eq!(learnt["sources"][0]["file"], "../outing.csv");
    assert_eq!(learnt["from"], "coast-down");
    let area = learnt["inputs"]
        .as_array()
        .unwrap()
        .iter()
        .find(|i| i["name"] == "drag coefficient")
        .unwrap();
    let frontal_m2 = area["shift"].as_f64().unwrap();
    assert!(frontal_m2 > 0.0);
    let check = text(&["check", arg(&build), "--measured", written]);
    assert!(check.contains("measured"), "{check}");
    // What was learnt before on one day stays.
    let again = json(&call);
    assert!(again["written"].as_str().unwrap().ends_with("-2.json"), "{again}");
    // The same recording twice is no second outing, and a mass of another car is doubted.
    refused(&[&call[..], &[arg(&run)]].concat(), &["outing.csv", "the same recording"]);
    let heavy = [&call[..5], &["--mass-kg", "2500"]].concat();
    let doubted = json(&heavy);
    assert_eq!((&doubted["useful"], &doubted["written"]), (&false.into(), &Value::Null));
    assert!(doubted["doubts"].to_string().contains("is not this car's"), "{doubted}");
    refused(&[&call[..], &["--out", arg(&build)]].concat(), &["car.json"]);
    // Too slow to be useful.
    let slow = concat!(env!("CARGO_MANIFEST_DIR"), "/docs/builds/coast.csv");
    let wide = json(&["measure", "coastdown", slow, "--build", arg(&build), "--mass-kg", "905"]);
    assert_eq!((&wide["useful"], &wide["written"]), (&false.into(), &Value::Null));
    assert!(!wide["more"].as_array().unwrap().is_empty());
}
