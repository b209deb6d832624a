//! The program as a person meets it: every command on the demo and on a build written from the
//! README alone, and wrong input of every kind.

use crate::program::{folder, json, refused, table, text};
use serde_json::Value;
use std::fs;

/// The build of the README, which `book` holds to what the page shows.
const README_BUILD: &str = include_str!("../../docs/builds/hatch.json");

/// The answers of every command, on the demo and on the build of the README.
#[test]
fn every_command_answers_within_a_hundred_columns() {
    let own = folder("answers").join("hatch.json");
    fs::write(&own, README_BUILD).unwrap();
    let own = own.to_str().unwrap();
    let on_a_car: &[&[&str]] = &[
        &["sheet"],
        &["check"],
        &["pull"],
        &["pull", "--grade", "5%"],
        &["climb", "--grade", "6%", "--speed", "70km/h", "--for", "5km"],
        &["drive", "--cycle", "udds"],
        &["regen", "--cycle", "wltc-low"],
        &["day"],
        &["season"],
        &["charge", "--socket", "240v-20a", "--from", "20%", "--price", "0.2"],
        &["charge", "--set", "conditions.air_c=-5"],
        &["cost", "--energy-price", "0.2", "--fuel-price", "1.7/l", "--donor", "30mpg"],
        &["endurance", "--speeds", "30,60,120", "--grades", "0..12:4"],
        &["descent", "--grade", "8%", "--speed", "50km/h", "--for", "10km"],
        &["sweep", "--vary", "pack.parallel=1,2", "--cycle", "wltc-low"],
        &["sweep", "--vary", "pack.parallel=1..2:1", "--run", "pull", "--sort", "to_80_kmh_s"],
    ];
    let mut all: Vec<Vec<&str>> = vec![vec![], vec!["cycles"], vec!["parts"]];
    for args in on_a_car {
        all.push(args.to_vec());
        all.push(args.iter().copied().chain(["--units", "us"]).collect());
        let (command, rest) = args.split_first().unwrap();
        all.push([*command, own].iter().chain(rest).copied().collect());
    }
    for args in all {
        table(&args);
    }
}

#[test]
fn nothing_alone_shows_the_sheet_of_the_demo() {
    assert_eq!(text(&[]), text(&["sheet"]));
    assert!(text(&[]).contains("Daily road"));
}

/// What a dash shows in either unit is one quantity: 1 mi = 1.609344 km (1959 agreement).
#[test]
fn metric_and_us_tables_say_the_same() {
    let find = |said: &str, unit: &str| -> f64 {
        let line = said.lines().find(|l| l.starts_with("consumption")).unwrap().to_owned();
        let words: Vec<&str> = line.split_whitespace().collect();
        let at = words.iter().position(|w| *w == unit).unwrap();
        words[at - 1].parse().unwrap()
    };
    let metric = find(&text(&["drive", "--cycle", "udds"]), "Wh/km");
    let us = find(&text(&["drive", "--cycle", "udds", "--units", "us"]), "Wh/mi");
    assert!((us / metric - 1.609_344).abs() < 1.5e-3, "{metric} Wh/km and {us} Wh/mi");
    let same = |units: &str| json(&["drive", "--cycle", "udds", "--units", units]);
    assert_eq!(same("us"), same("metric"), "JSON has its units in its names");
}

#[test]
fn the_books_of_a_drive_are_closed() {
    let drive = json(&["drive", "--cycle", "wltc"]);
    assert!(drive["ledger"]["residual"].as_f64().unwrap() < 1e-6);
}

/// The series is a row a step, and its last row is the drive's end.
#[test]
fn a_series_ends_where_the_drive_ends() {
    let file = folder("series").join("udds.csv");
    let path = file.to_str().unwrap();
    let drive = json(&["drive", "--cycle", "udds", "--series", path]);
    let written = fs::read_to_string(&file).unwrap();
    let mut reader = csv::Reader::from_reader(written.as_bytes());
    let headers = reader.headers().unwrap().clone();
    let last = reader.records().last().unwrap().unwrap();
    let cell = |name: &str| -> f64 {
        let i = headers.iter().position(|h| h == name).unwrap();
        last[i].parse().unwrap()
    };
    let near = |a: f64, b: f64, by: f64| assert!((a - b).abs() <= by, "{a} and {b}");
    near(cell("time_s"), drive["time_s"].as_f64().unwrap(), 1e-3);
    near(cell("distance_km"), drive["distance_km"].as_f64().unwrap(), 1e-4);
    near(cell("charge_pct"), drive["charge_to_pct"].as_f64().unwrap(), 1e-3);
    near(cell("average_wh_per_km"), drive["wh_per_km"].as_f64().unwrap(), 0.02);
    for command in [&["pull"][..], &["climb", "--pass"]] {
        let args: Vec<&str> = command.iter().copied().chain(["--series", path]).collect();
        text(&args);
        assert!(fs::read_to_string(&file).unwrap().lines().count() > 20, "{command:?}");
    }
}

/// A sweep is the same rows in every form, and a combination that cannot be is a row.
#[test]
fn a_sweep_is_the_same_in_every_form() {
    let folder = folder("sweep");
    let vary = ["--vary", "motor.mass_kg=40,-1", "--vary", "pack.parallel=1..2:1", "--run", "pull"];
    let with = |more: &[&str]| -> String {
        let args: Vec<&str> = ["sweep"].iter().chain(&vary).chain(more).copied().collect();
        text(&args)
    };
    let csv = with(&["--as", "csv"]);
    let lines: Vec<Value> =
        with(&["--json"]).lines().map(|l| serde_json::from_str(l).unwrap()).collect();
    assert_eq!((csv.lines().count(), lines.len()), (5, 4));
    assert!(lines[2]["problem"].as_str().unwrap().contains("motor.mass_kg is -1"));
    let quick = lines[0]["to_50_kmh_s"].as_f64().unwrap();
    assert!(csv.lines().nth(1).unwrap().contains(&quick.to_string()));
    let file = folder.join("rows.csv");
    with(&["--as", "csv", "--out", file.to_str().unwrap()]);
    assert_eq!(fs::read_to_string(&file).unwrap(), csv);
    let sorted = with(&["--as", "csv", "--sort", "pack.parallel", "--top", "1"]);
    assert_eq!(sorted.lines().count(), 2);
}

#[test]
fn a_shelf_can_be_copied_and_edited() {
    let folder = folder("shelf");
    let to = folder.join("shelf");
    text(&["parts", "--write", to.to_str().unwrap()]);
    let motor = to.join("motors").join("induction-air-small.json");
    assert!(motor.is_file());
    let set = format!("motor={}", motor.display());
    let quick = json(&["pull", "--set", &set]);
    let same = json(&["pull", "--set", "motor=shelf:induction-air-small"]);
    assert_eq!(quick, same);
    let to = to.to_str().unwrap();
    // What is there already as it would be written is not in the way.
    text(&["parts", "--write", to]);
    fs::write(&motor, "{}").unwrap();
    refused(&["parts", "--write", to], &[to, "is there already", "nothing was written"]);
    assert_eq!(fs::read_to_string(&motor).unwrap(), "{}");
}

/// Wrong input of every kind: one sentence that names file, field, value and what is allowed.
#[test]
fn wrong_input_gets_one_sentence() {
    let folder = folder("wrong");
    let write = |name: &str, content: &str| -> String {
        let path = folder.join(name);
        fs::write(&path, content).unwrap();
        path.to_str().unwrap().to_owned()
    };
    let own = README_BUILD;
    let cases: &[(&str, String, &[&str])] = &[
        ("unknown.json", own.replace("\"donor\"", "\"doner\""), &["doner", "donor"]),
        ("missing.json", own.replace("\"motor\": \"shelf:induction-air-small\",", ""), &["motor"]),
        ("unit.json", own.replace("\"size\"", "\"rolling_radius_mm\""), &["rolling_radius_mm"]),
        ("negative.json", own.replace("\"mass_kg\": 80", "\"mass_kg\": -80"), &["-80"]),
        ("huge.json", own.replace("\"mass_kg\": 80", "\"mass_kg\": 1e999"), &["huge.json"]),
        ("nan.json", own.replace("\"mass_kg\": 80", "\"mass_kg\": NaN"), &["nan.json"]),
        ("text.json", own.replace("\"mass_kg\": 80", "\"mass_kg\": \"80\""), &["mass_kg"]),
        ("twice.json", own.replace("\"regen\"", "\"name\": \"again\", \"regen\""), &["name"]),
        ("half.json", own[..own.len() / 2].to_owned(), &["half.json"]),
        ("empty.json", String::new(), &["empty.json"]),
        ("list.json", "[1, 2]".to_owned(), &["list.json"]),
        ("deep.json", "[".repeat(100_000), &["deep.json"]),
        ("self.json", "{\"build\": \"self.json\"}".to_owned(), &["self.json"]),
        (
            "shelf.json",
            own.replace("shelf:induction-air-small", "shelf:induction-air-smal"),
            &["induction-air-small"],
        ),
        (
            "gears.json",
            own.replace("\"shelf:four-speed-front-drive\"", "{\"gears\": [], \"final_drive\": 4}"),
            &["gears"],
        ),
    ];
    for (name, content, named) in cases {
        let path = write(name, content);
        refused(&["sheet", &path], named);
    }
    let curve = "motor.peak_torque_curve";
    for (set, named) in [
        ("start.charge_pct=101", "0 to 100"),
        ("start.charge_pct=-1", "0 to 100"),
        ("motor.mass_kg=-5", "-5"),
        ("motor.peak_torqe_nm=5", "peak_torque_nm"),
        ("conditions.surface=ise", "ice"),
        ("gearbox.gears.9.ratio=2", "1 to 4"),
        (&format!("{curve}=[]"), "peak_torque_curve"),
        (&format!("{curve}=[{{\"rpm\":9,\"nm\":1}},{{\"rpm\":1,\"nm\":1}}]"), "peak_torque"),
        ("nonsense", "="),
        ("=1", "no path"),
    ] {
        refused(&["pull", "--set", set], &[named]);
    }
    let backwards = write("back.csv", "time_s,speed_kmh\n0,0\n1,10\n0.5,20\n");
    refused(&["drive", "--cycle", &backwards], &["back.csv:4:", "0.5"]);
    let infinite = write("infinite.csv", "time_s,speed_kmh\n0,0\n1,inf\n");
    refused(&["drive", "--cycle", &infinite], &["infinite.csv:3:", "inf"]);
    refused(&["drive", "--cycle", "wlct"], &["wlct", "wltc"]);
    let here = folder.to_str().unwrap();
    refused(&["drive", "--cycle", here], &[here, ".csv or .gpx file is needed"]);
    refused(&["sheet", here], &[here, "is a folder; needed: a JSON file"]);
    refused(&["sheet", "no-such-file.json"], &["no-such-file.json: there is no such file"]);
    let series = ["motor=shelf:series-dc-large", "controller=shelf:series-chopper-500a"];
    let cases: &[(&[&str], &[&str])] = &[
        (
            &["sweep", "--vary", "motor.mass_kg=0..1e9:1e-3"],
            &["motor.mass_kg=0..1e9:1e-3", "1000000000001 values; allowed: at most 1000000"],
        ),
        (
            &["sweep", "--vary", "a=0..99999:1", "--vary", "b=0..99999:1"],
            &["10000000000 combinations; allowed: at most 10000000"],
        ),
        (
            &["sweep", "--vary", "motor.mass_kg=1..2:1", "--sort", "beauty"],
            &["no figure beauty", "`figures` lists"],
        ),
        (&["sweep", "--vary", "motor.maas_kg=1..2:1"], &["\"maas_kg\"", "\"mass_kg\""]),
        (
            &["climb", "--grade", "steep"],
            &["--grade is \"steep\"", "a grade such as 6%, from -40% to 60%"],
        ),
        (&["climb", "--speed=-4"], &["--speed is \"-4\"", "more than 0 and at most 300 km/h"]),
        (&["climb", "--speed", "-4"], &["'-4'"]),
        (
            &["climb", "--for", "0km"],
            &["--for is \"0km\"", "a length such as 10km, 6mi or 8min, up to 1000 km"],
        ),
        (&["regen", "--lift-off", "0,x"], &["--lift-off is \"0,x\"", "numbers from 0 to 100"]),
        (&["regen", "--set", series[0], "--set", series[1]], &["the motor makes no regen"]),
        (
            &["drive", "--series", "/no/such/folder/file.csv"],
            &["there is no folder /no/such/folder"],
        ),
        (&["fly"], &["'fly'"]),
        (&["pull", "--speed"], &["'--speed'", "--series"]),
    ];
    for (args, named) in cases {
        refused(args, named);
    }
}

/// Sockets, prices, maps and descents that cannot be.
#[test]
fn wrong_sockets_prices_and_maps_are_refused() {
    let cases: &[(&[&str], &[&str])] = &[
        (&["charge", "--socket", "240v-45a"], &["240v-45a", "240v-40a"]),
        (
            &["charge", "--volts", "240", "--amps", "40", "--circuit", "40"],
            &["--amps is 40", "at most 32, 80 % of the circuit"],
        ),
        (&["charge", "--volts", "240"], &["--volts needs --amps or --circuit"]),
        (&["charge", "--volts", "nan", "--amps", "3"], &["--volts is NaN; allowed: 50 to 1000"]),
        (&["charge", "--amps", "3"], &["--volts"]),
        (&["charge", "--from", "101%"], &["--from is \"101%\"", "from 0% to 100%"]),
        (&["charge", "--to", "half"], &["--to is \"half\"", "from 0% to 100%"]),
        (&["charge", "--night", "forever"], &["--night is \"forever\"", "up to 720 h"]),
        (&["charge", "--price", "inf"], &["--price is inf; allowed: 0 to 1000000"]),
        (
            &["charge", "--set", "charger.power_kw=0"],
            &["charger.power_kw is 0; allowed: more than 0 and at most 100"],
        ),
        (&["charge", "--set", "charger.watts=3"], &["\"watts\"", "power_kw"]),
        (&["cost"], &["no price is known", "money.energy_per_kwh", "money.parts_cost"]),
        (&["cost", "--parts=-1"], &["--parts is -1; allowed: 0 or more"]),
        (
            &["cost", "--set", "motor.price=9", "--parts", "5"],
            &["--parts is 5; allowed: nothing beside prices of parts"],
        ),
        (&["check", "--set", "load.1.price=3"], &["load.1.price is 3; allowed: nothing for what"]),
        (&["cost", "--parts", "-1"], &["'-1'"]),
        (&["cost", "--donor", "0mpg"], &["--donor is \"0mpg\"", "up to 100 l/100 km"]),
        (&["cost", "--fuel-price", "1/hogshead"], &["\"1/hogshead\"", "1.70/l or 3.50/gal"]),
        (
            &["cost", "--set", "money.fuel_per_l=1", "--set", "money.fuel_per_usgal=3"],
            &["money.fuel_per_usgal is given beside fuel_per_l; allowed: only one of the two"],
        ),
        (&["endurance", "--gear", "0"], &["--gear is 0", "counted from 1"]),
        (&["endurance", "--gear", "9"], &["gear is 9; allowed: 1 to 4"]),
        (&["settings", "--coldest", "chilly"], &["--coldest is \"chilly\"", "-10C or 14F"]),
        (&["settings", "--worn", "-5%"], &["--worn is \"-5%\"", "from 0% to 900%"]),
        (&["settings", "--to", "120%"], &["--to is \"120%\"", "from 0% to 100%"]),
        (&["readings", "--cold", "-80"], &["--cold is \"-80\"", "from -40 to 60 °C"]),
        (&["readings", "--at", "fast"], &["--at is \"fast\"", "80km/h or 50mph"]),
        (&["readings", "--speeds", "110..50:10"], &["\"110..50:10\"", "numbers from 1 to 300"]),
        (&["endurance", "--speeds", "40..120"], &["\"40..120\"", "numbers from 1 to 300"]),
        (&["endurance", "--grades", "0..10:0"], &["\"0..10:0\"", "numbers from 0 to 60"]),
        (&["endurance", "--grades=-5"], &["\"-5\"", "numbers from 0 to 60"]),
        (&["endurance", "--most", "0h"], &["--most is \"0h\"; allowed: 1min to 24h"]),
        (&["descent", "--grade", "0"], &["the grade is 0 %; a descent needs a slope"]),
        (
            &["descent", "--grade", "8%", "--speed", "0"],
            &["--speed is \"0\"", "more than 0 and at most 300 km/h"],
        ),
        (&["descent", "--for", "9e9km"], &["--for is \"9e9km\"", "up to 1000 km"]),
    ];
    for (args, named) in cases {
        refused(args, named);
    }
}

/// A gigabyte is refused by its size, before it is read.
#[test]
fn a_gigabyte_is_refused_by_its_size() {
    let folder = folder("large");
    for (name, args, most) in [
        ("large.json", vec!["sheet"], "3000000"),
        ("large.csv", vec!["drive", "--cycle"], "200000000"),
    ] {
        let path = folder.join(name);
        fs::File::create(&path).unwrap().set_len(1 << 30).unwrap();
        let args: Vec<&str> = args.into_iter().chain([path.to_str().unwrap()]).collect();
        refused(&args, &[name, "1073741824 bytes", most]);
        fs::remove_file(&path).unwrap();
    }
}
