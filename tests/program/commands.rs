//! What holds for every command, by the program's own table of them.

use crate::program::{folder, json, table, text};
use serde_json::Value;
use shakedown::{COMMANDS, Known};
use std::sync::atomic::{AtomicUsize, Ordering};

/// Commands that print a document with or without being asked for one.
pub const DOCUMENTS: [&str; 3] = ["schema", "completions", "man"];

/// A file of its own for each call.
fn begun() -> &'static str {
    static CALLS: AtomicUsize = AtomicUsize::new(0);
    let call = CALLS.fetch_add(1, Ordering::Relaxed);
    let file = folder(&format!("example-{call}")).join("my-car.json");
    Box::leak(file.to_str().unwrap().to_owned().into_boxed_str())
}

/// The arguments of a command's example, as a shell would part them; what it writes goes into a
/// folder of the tests'.
pub fn example(command: &Known) -> Vec<&'static str> {
    let words = command.example.split(' ').map(|word| word.trim_matches('\''));
    let written = concat!(env!("CARGO_TARGET_TMPDIR"), "/example.html");
    let place = |word: &'static str| match word {
        "my-car.json" | "my-motor.json" => begun(),
        "car.json" => concat!(env!("CARGO_MANIFEST_DIR"), "/docs/builds/estate.json"),
        "drives.json" => {
            concat!(env!("CARGO_MANIFEST_DIR"), "/docs/builds/drives.json")
        }
        word if word.ends_with(".html") => written,
        word => word,
    };
    words.map(place).collect()
}

#[test]
fn every_json_keeps_to_the_schema_of_its_command() {
    for command in COMMANDS {
        let schema: Value = json(&["schema", command.result]);
        let checker = jsonschema::validator_for(&schema).unwrap();
        let said = text(&[&example(command)[..], &["--json"]].concat());
        // A sweep writes a document a line, all others write one.
        let found = serde_json::Deserializer::from_str(&said).into_iter::<Value>();
        let found: Vec<Value> = found.collect::<Result<_, _>>().unwrap();
        assert!(found.len() == 1 || command.name == "sweep", "{}", command.name);
        for document in &found {
            let problems: Vec<String> =
                checker.iter_errors(document).map(|e| e.to_string()).collect();
            assert!(problems.is_empty(), "{}: {problems:?}", command.name);
        }
    }
}

#[test]
fn every_schema_refuses_what_its_command_does_not_write() {
    for command in COMMANDS {
        let checker = jsonschema::validator_for(&json(&["schema", command.result])).unwrap();
        assert!(!checker.is_valid(&Value::from("text")), "{}", command.name);
    }
}

#[test]
fn every_example_stands_in_the_help_and_fits_into_a_hundred_columns() {
    for command in COMMANDS {
        let words = example(command);
        let name: Vec<&str> = command.name.split(' ').collect();
        assert_eq!(words[..name.len()], name);
        let help = text(&[&name[..], &["--help"]].concat());
        assert!(help.contains(command.example), "{}", command.name);
        if !DOCUMENTS.contains(&command.name) {
            table(&words);
            table(&[&example(command)[..], &["--units", "us"]].concat());
        }
    }
}

/// Metric units that the US trade does not use. Volts, amperes, watts, ohms, ampere-hours, kWh and
/// the kW of electrical power are its own (common practice).
const METRIC: [&str; 19] = [
    "km", "km/h", "m", "mm", "cm", "m²", "m/s²", "kg", "kg/m³", "kg·m²", "N", "N·m", "°C", "K",
    "kJ", "kJ/K", "W/K", "l/100", "Wh/km",
];

/// Speeds in the names of figures stay as they are meant: `to_80_kmh_s` is no other figure in miles.
const NAMES: [&str; 5] =
    ["to 50 km/h", "to 80 km/h", "to 100 km/h", "over 400 m", "rpm at 110 km/h"];

#[test]
fn no_command_shows_a_metric_unit_in_us_tables() {
    let mut calls: Vec<Vec<&str>> = COMMANDS.iter().map(example).collect();
    calls.retain(|words| !DOCUMENTS.contains(&words[0]));
    calls.push(vec!["check", "--set", "donor.gross_mass_kg=900", "--set", "conditions.air_c=50"]);
    calls.push(vec![
        "check",
        "--set",
        "start.cells_c=-12",
        "--set",
        "auxiliaries.cabin.set_c=18",
        "--set",
        "auxiliaries.cabin.heater_kw=3",
    ]);
    calls.push(vec!["charge", "--set", "conditions.air_c=-5"]);
    calls.push(vec!["drive"]);
    calls.push(vec!["parts"]);
    calls.push(vec!["climb", "--grade=-6%"]);
    for words in calls {
        let said = text(&[&words[..], &["--units", "us"]].concat());
        for line in said.lines() {
            let meant = NAMES.iter().fold(line.to_owned(), |line, name| line.replace(name, ""));
            let metric = meant
                .split(|c: char| c.is_whitespace() || matches!(c, ',' | ';' | '(' | ')'))
                .map(|word| word.trim_end_matches('.'))
                .find(|word| METRIC.contains(word));
            assert_eq!(metric, None, "{words:?}: {line}");
        }
    }
}

/// Where rolling and air take more than the height gives, there is nothing to be held: the energy is
/// told as what is lacking, not as less than nothing.
#[test]
fn a_gentle_descent_takes_power_and_says_so() {
    let gentle = ["descent", "--grade", "1%", "--speed", "80km/h", "--for", "10km"];
    let held_kwh = json(&gentle)["held_kwh"].as_f64().unwrap();
    let said = table(&gentle).replace('\n', " ");
    let lacks = format!("rolling and air take all of it and {:.2} kWh more.", -held_kwh);
    assert!(held_kwh < 0.0 && said.contains(&lacks), "{said}");
}

/// A road that falls is a descent, whichever command is asked: no gear is recommended in which motor
/// or gearbox turn faster than they may.
#[test]
fn a_climb_that_falls_is_a_descent() {
    let fall = ["--grade=-8%", "--speed", "90km/h", "--for", "5km"];
    let climbed = json(&[&["climb"], &fall[..]].concat());
    assert_eq!(climbed, json(&[&["descent"], &fall[..]].concat()));
    let chosen = climbed["chosen"].as_u64().unwrap() as usize;
    let rpm = climbed["gears"][chosen - 1]["motor_rpm"].as_f64().unwrap();
    // The demo's gearbox bears 7000 rpm, its motor 8000.
    assert!(rpm < 7000.0, "{rpm} rpm");
    let said = table(&[&["climb"], &fall[..]].concat());
    assert!(said.contains("down 8.0 %") && said.contains("Cautions"), "{said}");
}
