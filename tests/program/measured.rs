//! What was learnt from a car, at the command line.

use crate::live::own;
use crate::program::{folder, json, refused, shakedown, table, text};
use crate::served::Served;
use serde_json::{Value, json};
use std::fs;
use std::path::{Path, PathBuf};

/// The book's estate with what was learnt of it, in a folder of its own.
fn estate(name: &str) -> PathBuf {
    let here = folder(name);
    for file in ["estate.json", "my-motor.json", "drives.json", "lake-road.csv"] {
        fs::copy(Path::new("docs/builds").join(file), here.join(file)).unwrap();
    }
    here
}

fn arg(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// The inputs of a report of bands that were measured, by name.
fn measured(report: &Value) -> Vec<&str> {
    let inputs = report["inputs"].as_array().unwrap().iter();
    inputs.filter(|one| one["measured"] == true).map(|one| one["name"].as_str().unwrap()).collect()
}

const ALL: [&str; 3] = ["motor efficiency", "cell resistance", "state of health"];

#[test]
fn what_was_learnt_reaches_every_command_and_a_swapped_part_takes_nothing_along() {
    let here = estate("learnt");
    let (car, drives) = (here.join("estate.json"), here.join("drives.json"));
    let (car, drives) = (arg(&car), arg(&drives));
    let with = |args: &[&str]| json(&[args, &["--measured", drives]].concat());
    let bands = ["bands", car, "--samples", "10", "--run", "standing"];
    assert_eq!(measured(&with(&bands)), ALL);
    assert!(measured(&json(&bands)).is_empty());
    assert!(
        measured(&with(
            &[&bands[..], &["--own-only", "--spread", "donor.kerb_mass_kg=±1%"]].concat()
        ))
        .is_empty()
    );
    // What is put in is as sure as whoever puts it in.
    let new = [&bands[..], &["--set", "pack.state_of_health_pct=100"]].concat();
    assert_eq!(measured(&with(&new)), &ALL[..2]);
    let swapped = [&bands[..], &["--set", "motor=shelf:induction-air-medium"]].concat();
    assert_eq!(measured(&with(&swapped)), &ALL[1..]);
    let spread = [&bands[..], &["--spread", "pack.state_of_health_pct=±1"]].concat();
    assert_eq!(measured(&with(&spread)), &ALL[..2]);

    let check = with(&["check", car]);
    assert_eq!(check["measured"][0]["inputs"].as_array().unwrap().len(), 3);
    let known = check["known"].as_array().unwrap();
    let of = |known_as: &str, stands_in: &str| -> Vec<&str> {
        let found = known.iter().filter(|one| {
            one["known"] == known_as && one["stands_in"].as_str().unwrap().ends_with(stands_in)
        });
        found
            .flat_map(|one| one["names"].as_array().unwrap())
            .map(|n| n.as_str().unwrap())
            .collect()
    };
    assert_eq!(of("measured", "drives.json"), ALL);
    assert!(of("stated", "estate.json").contains(&"kerb mass"));
    assert!(of("typical", "shelf").contains(&"controller loss"));
    assert!(of("typical", "assumed").contains(&"air temperature"));

    // Each command that takes a car takes what was learnt of it, and drives another car then.
    let heard = |args: &[&str]| (text(args), text(&[args, &["--measured", drives]].concat()));
    for args in [
        &["sheet", car][..],
        &["pull", car],
        &["climb", car, "--grade", "6%", "--speed", "60km/h", "--for", "3km"],
        &["drive", car, "--cycle", "wltc-low"],
        &["endurance", car, "--speeds", "60", "--grades", "6"],
        &["compare", car, "--vary", "pack.parallel=2,3", "--run", "drive"],
        &["sweep", car, "--vary", "pack.parallel=2,3", "--figures", "wh_per_km"],
        &[
            "size",
            car,
            "--find",
            "smallest",
            "--field",
            "pack.parallel",
            "--between",
            "2..3",
            "--goal",
            "range_km>=1",
        ],
        &["charge", car],
    ] {
        let (plain, learnt) = heard(args);
        assert_ne!(plain, learnt, "{args:?}");
        assert!(!plain.is_empty() && !learnt.is_empty());
    }
    // Its pages say so.
    let out = here.join("page.html");
    text(&["report", car, "--measured", drives, "--out", arg(&out)]);
    let page = fs::read_to_string(&out).unwrap();
    assert!(page.contains("motor efficiency, cell resistance, state of health"), "the basis");
}

#[test]
fn what_does_not_fit_is_said_and_what_is_no_such_file_is_refused() {
    let here = estate("learnt-not");
    let (car, drives) = (here.join("estate.json"), here.join("drives.json"));
    let warned = |args: &[&str], words: &str| {
        let report = json(args);
        let all: Vec<&str> = report["warnings"]
            .as_array()
            .unwrap()
            .iter()
            .map(|w| w["text"].as_str().unwrap())
            .collect();
        assert!(all.iter().any(|text| text.contains(words)), "{all:?}");
    };
    // A recording that holds something else.
    fs::write(here.join("lake-road.csv"), "time_s,speed_kmh\n0,0\n1,1\n").unwrap();
    let check = ["check", arg(&car), "--measured", arg(&drives)];
    warned(&check, "lake-road.csv holds something else than when this was learnt from it");
    fs::remove_file(here.join("lake-road.csv")).unwrap();
    assert!(!text(&check).contains("holds something else"));
    // A car that is another: nothing fits, and that is said beside the answer.
    let mut motor: Value = serde_json::from_slice(&fs::read(&drives).unwrap()).unwrap();
    motor["inputs"].as_array_mut().unwrap().truncate(1);
    motor["correlations"] = json!([[1]]);
    let motors = here.join("motor.json");
    fs::write(&motors, motor.to_string()).unwrap();
    let other = shakedown(&["pull", "--measured", arg(&motors)]);
    let said = String::from_utf8(other.stderr).unwrap();
    assert!(
        other.status.success() && said.contains("nothing of ") && said.contains(" fits "),
        "{said}"
    );
    assert_eq!(said.lines().count(), 1, "{said}");

    let gone = here.join("gone.json");
    refused(&["pull", "--measured", arg(&gone)], &["gone.json: there is no such file"]);
    refused(&["pull", "--measured", arg(&here)], &["is a folder; needed: a JSON file"]);
    refused(
        &["pull", "--measured", arg(&car)],
        &["estate.json: unknown field \"name\" in what was learnt"],
    );
    let named = json!({"build": arg(&car)});
    let mut whole: Value = serde_json::from_slice(&fs::read(&car).unwrap()).unwrap();
    whole["measured"] = json!(["gone.json"]);
    fs::write(&car, whole.to_string()).unwrap();
    refused(
        &["pull", arg(&car)],
        &["estate.json: measured \"", "gone.json\": there is no such file"],
    );
    fs::write(here.join("scenario.json"), named.to_string()).unwrap();
    refused(&["pull", arg(&here.join("scenario.json"))], &["estate.json: measured"]);
}

/// What was measured is the car's drag coefficient, with how far it moved and what is typical; the page
/// of `sheet` says that something was measured.
#[test]
fn what_was_measured_is_shown_as_what_it_is() {
    let here = estate("learnt-shown");
    let (car, drives) = (here.join("estate.json"), here.join("drives.json"));
    let of = ["--measured", arg(&drives)];
    let page = table(&[&["sheet", arg(&car)], &of[..]].concat());
    assert!(page.contains("3 inputs are measured (") && page.contains("drives.json)"), "{page}");
    assert!(!table(&["sheet", arg(&car)]).contains("measured"));
    let check = table(&[&["check", arg(&car)], &of[..]].concat());
    let row = |name: &str| -> Vec<String> {
        let line = check.lines().rfind(|line| line.starts_with(name)).unwrap();
        line.split_whitespace().map(str::to_owned).collect()
    };
    // Of the file: 90 % less 2.5, give or take twice 0.8 where twice 1.5 is typical.
    assert!(
        row("state of health").ends_with(&["87.5", "-2.50", "1.60", "3.00"].map(str::to_owned))
    );
    let none = [&["check", arg(&car)], &of[..], &["--set", "measured=null"]].concat();
    assert!(json(&none)["measured"].as_array().unwrap().is_empty());
}

#[test]
fn a_part_goes_into_the_next_car_with_what_was_learnt_of_it() {
    let here = estate("learnt-part");
    let (car, drives) = (here.join("estate.json"), here.join("drives.json"));
    let out = here.join("known-pack.json");
    let of = ["--build", arg(&car), "--measured", arg(&drives)];
    let say = |more: &[&str]| table(&[&["measure", "part", "pack"], &of[..], more].concat());
    assert!(say(&["--out", arg(&out)]).contains("cell resistance 12 % above its sheet"));
    // Over itself, but over nothing else.
    say(&["--out", arg(&out)]);
    let motor = here.join("my-motor.json");
    let over = [&["measure", "part", "pack"], &of[..], &["--out", arg(&motor)]].concat();
    refused(&over, &["my-motor.json: is read by the same run and is not overwritten"]);
    fs::write(here.join("other.json"), "{\"mine\": 1}").unwrap();
    let other = here.join("other.json");
    let over = [&["measure", "part", "pack"], &of[..], &["--out", arg(&other)]].concat();
    refused(&over, &["other.json: is there already and is not a part with its spreads"]);

    let next = ["bands", "docs/builds/hatch.json", "--samples", "10", "--run", "standing"];
    let named = format!("pack={}", out.display());
    let report = json(&[&next[..], &["--set", &named]].concat());
    assert_eq!(measured(&report), &ALL[1..]);
    let of_cells = report["inputs"].as_array().unwrap().iter().find(|one| one["name"] == ALL[1]);
    assert_eq!(of_cells.unwrap()["spread"], "±8%");
    let printed: Value =
        serde_json::from_str(&text(&[&["measure", "part", "pack"], &of[..]].concat())).unwrap();
    assert_eq!(printed, serde_json::from_slice::<Value>(&fs::read(&out).unwrap()).unwrap());
    // Of a part of which nothing was learnt there is none.
    let none = [&["measure", "part", "gearbox"], &of[..]].concat();
    refused(&none, &["measured is missing", "of the gearbox"]);
    refused(&["measure", "part", "wheel"], &["invalid value 'wheel'"]);
    // Tyres stand in a file of their own where that is wanted.
    let tyre = here.join("tyre.json");
    fs::write(&tyre, "{ \"size\": \"155R13\" }").unwrap();
    let named = format!("tyre={}", tyre.display());
    assert_eq!(json(&["check", "--set", &named])["input"]["build"]["tyre"]["size"], "155R13");
}

#[test]
fn a_car_that_was_saved_keeps_what_was_learnt_of_it() {
    let here = estate("learnt-live");
    let served = Served::start(&here, &["estate.json", "--measured", "drives.json"]);
    let changes = json!([{"path": "donor.kerb_mass_kg", "value": 900.0}]);
    let asked = json!({"changes": changes, "name": "saved.json", "replace": false});
    assert_eq!(own(&served, "/api/save", &asked).0, 200);
    let saved = here.join("saved.json");
    let build: Value = serde_json::from_slice(&fs::read(&saved).unwrap()).unwrap();
    assert_eq!(build["measured"], json!(["drives.json"]));
    let of = |file: &str, more: &[&str]| {
        let bands = ["bands", file, "--samples", "10", "--run", "drive"];
        json(&[&bands[..], more].concat())
    };
    let before = ["--measured", arg(&here.join("drives.json")), "--set", "donor.kerb_mass_kg=900"]
        .map(str::to_owned);
    let before: Vec<&str> = before.iter().map(String::as_str).collect();
    let (then, now) = (of(arg(&here.join("estate.json")), &before), of(arg(&saved), &[]));
    assert_eq!(then["figures"], now["figures"]);
    assert_eq!(measured(&now), ALL);
}
