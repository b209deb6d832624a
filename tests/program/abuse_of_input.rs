//! Input that is wrong, huge or ill-meant: one short sentence that helps, and limits that hold.

use crate::program::{shakedown, text};
use scenarios::bounds;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Output;
use std::time::Instant;

fn folder() -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join("abuse_of_input");
    fs::create_dir_all(&path).unwrap();
    path
}

fn file(name: &str, content: impl AsRef<[u8]>) -> String {
    let path = folder().join(name);
    fs::write(&path, content).unwrap();
    path.to_str().unwrap().to_owned()
}

fn said(output: Output) -> String {
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(said.starts_with("error: ") && said.lines().count() == 1, "{said}");
    said
}

fn refusal(args: &[&str]) -> String {
    said(shakedown(args))
}

/// Distances at a crawl, as a fuzzer found them, last for months.
#[test]
fn a_road_without_end_is_refused() {
    let road = file("months.csv", "distance_m,speed_kmh,stop_s\n5,4,0\n18480639,3,0\n");
    let said = refusal(&["drive", "--cycle", &road]);
    assert!(said.contains("duration") && said.contains("at most 10000000 s"), "{said}");
}

/// A sweep of which nothing is left has no answer.
#[test]
fn a_sweep_without_any_figures_ends_so() {
    let run = |values: &str| shakedown(&["sweep", "--vary", values, "--run", "climb"]);
    let none = run("motor.mass_kg=abc,-1");
    assert_eq!(none.status.code(), Some(1));
    let said = String::from_utf8(none.stderr).unwrap();
    assert!(said.contains("no combination has figures") && said.contains("abc"), "{said}");
    assert!(run("motor.mass_kg=abc,50").status.success());
}

/// What a person may mean, and what helps.
#[test]
fn messages_say_what_helps() {
    let donor = file("d1.json", r#"{"kerb_mass_kg": -5}"#);
    let comma = file("comma.json", "{\"donor\": {\n  \"kerb_mass_kg\": 640,5}}");
    let list = file("list.json", r#"{"a": [0, 1,5, {"b": 1,5}]}"#);
    let quoted = file("quoted.json", r#"{"donor": {"kerb_mass_kg": "640,5"}}"#);
    let build = file("build.json", r#"{"build": {"build": {}}}"#);
    let weather = file("weather.json", r#"{"build": {"conditions": {"air_c": 3}}}"#);
    let numbers = file("numbers.csv", "0,0\n1,10\n2,20\n");
    let semicolons = file("semicolons.csv", "time_s;speed_kmh\n0;0,5\n1;1,5\n");
    let utf16 = file("utf16.json", b"\xff\xfe{\0}\0");
    let set = format!("donor={donor}");
    let cases: &[(&[&str], &str)] = &[
        (&["check", "--set", &set], "d1.json: "),
        (
            &["check", &comma],
            "comma.json: line 2, column 23: a number has a decimal comma; decimals",
        ),
        (&["check", &list], "list.json: line 1, column 24: a number has a decimal comma"),
        (&["check", &quoted], "\"640,5\"; allowed: a number with a point before its decimals"),
        (
            &["check", "--set", "motor.mass_kg=60,5"],
            "--set: motor.mass_kg is the text \"60,5\"; allowed: a number with a point before",
        ),
        (&["check", &build], "unknown field \"build\" in build; it stands beside build, in the"),
        (&["check", &weather], "unknown field \"conditions\" in build; it stands beside build"),
        (&["check", &utf16], "utf16.json: is text in UTF-16; needed: text in UTF-8"),
        (&["cycles", &numbers], "numbers.csv:1: the columns are `0, 0`, and a line with the names"),
        (&["cycles", &semicolons], "fields must be separated by commas, and decimals set off by"),
        (
            &["charge", "--socket", "120v"],
            "--socket is \"120v\"; allowed: one of its circuits, 120v-15a, 120v-20a",
        ),
        (&["range"], "error: there is no command range; `drive` tells it"),
        (&["pass"], "error: there is no command pass; `climb --pass` tells it"),
        (&["endurance", "--grades", "-40..60:2"], "--grades is \"-40..60:2\"; allowed: from..to"),
        (&["endurance", "--speeds", "-4,5"], "--speeds is \"-4,5\"; allowed: from..to"),
        (
            &["sweep", "--vary", "pack.parallel=0..1000000:1"],
            "it gives 1000001 values; allowed: at most 1000000",
        ),
    ];
    for (args, expected) in cases {
        let said = refusal(args);
        assert!(said.contains(expected), "{args:?} does not say {expected}: {said}");
    }
    let most = ["size", "--find", "smallest", "--field", "pack.parallel", "--between", "1..2"];
    let with = |goal| text(&[&most[..], &["--goal", goal]].concat());
    assert_eq!(with("running_kg=<9000"), with("running_kg<=9000"));
    assert_eq!(with("running_kg=>10"), with("running_kg>=10"));
}

/// The option that the user gave is named, and no other.
#[test]
fn a_refusal_names_the_option_that_gave_the_value() {
    for (option, args) in [
        ("--variant", ["compare", "--variant", "motor.mass_kg=-5"]),
        ("--variant", ["compare", "--variant", "motor.masss_kg=5"]),
        ("--variant", ["compare", "--variant", "motor=shelf:none"]),
        ("--variant", ["compare", "--variant", "conditions={"]),
        ("--vary", ["compare", "--vary", "motor.mass_kg=-5"]),
        ("--vary", ["compare", "--vary", "motor.mass_kg.x=5"]),
        ("--vary", ["sweep", "--vary", "motor.masss_kg=5"]),
        ("--vary", ["sweep", "--vary", "motor..mass_kg=5"]),
        ("--set", ["check", "--set", "motor.mass_kg=-5"]),
    ] {
        let said = refusal(&args);
        assert!(said.starts_with(&format!("error: {option}")), "{args:?}: {said}");
        assert_eq!(said.matches("--").count(), 1, "{args:?}: {said}");
    }
    let size = ["size", "--find", "smallest", "--between", "1..2", "--goal", "running_kg>=1"];
    for field in ["motor.masss_kg", "motor..mass_kg", "motor.mass_kg.x", ""] {
        let said = refusal(&[&size[..], &["--field", field]].concat());
        assert!(said.starts_with("error: --field"), "{field}: {said}");
    }
}

/// Linux hands a program no argument of more than 128 KiB.
#[test]
fn a_long_value_is_not_echoed_whole() {
    let long = "x".repeat(100_000);
    let json = file("long.json", format!("{{\"{long}\": 1}}"));
    let value = file("value.json", format!("{{\"donor\": {{\"driven\": \"{long}\"}}}}"));
    let table = file("long.csv", format!("time_s,{long}\n0,0\n1,1\n"));
    let cell = file("cell.csv", format!("time_s,speed_kmh\n0,0\n1,{long}\n"));
    let plain = file("plain.csv", "time_s,speed_kmh\n0,0\n1,1\n");
    let half = &long[..50_000];
    let set = |path: &str| format!("{path}={half}");
    let (kind, motor, pack) = (set("motor.kind"), set("motor"), set("pack=shelf:"));
    let list = format!("motor=[{long}");
    let option = format!("--{long}");
    let size = ["size", "--find", "smallest", "--between", "1..2", "--goal", "running_kg>=1"];
    let cases: &[&[&str]] = &[
        &[&long],
        &["check", &option],
        &["check", &long],
        &["check", &json],
        &["check", &value],
        &["check", "--set", &long],
        &["check", "--set", &kind],
        &["check", "--set", &motor],
        &["check", "--set", &pack],
        &["check", "--set", &list],
        &["check", "--set", &set(half)],
        &["drive", "--cycle", &long],
        &["drive", "--cycle", &table],
        &["drive", "--cycle", &cell],
        &["drive", "--cycle", &plain, "--aux-column", &long],
        &["drive", "--series", &long],
        &["climb", "--speed", &long],
        &["descent", "--grade", &long],
        &["charge", "--socket", &long],
        &["charge", "--night", &long],
        &["cost", "--fuel-price", &long],
        &["regen", "--brake", &long],
        &["endurance", "--speeds", &long],
        &["bands", "--goal", &long],
        &["bands", "--spread", &long],
        &["compare", "--variant", &long],
        &["compare", "--vary", &kind],
        &["sweep", "--vary", &long],
        &["sweep", "--vary", "pack.parallel=1", "--sort", &long],
        &["sweep", "--vary", "pack.parallel=1", "--figures", &long],
        &["sweep", "--vary", "pack.parallel=1", "--run", &long],
        &[&size[..], &["--field", &long]].concat(),
        &["parts", &long],
        &["schema", &long],
        &["cycles", &long],
    ];
    for args in cases {
        let said = refusal(args);
        let begins: Vec<String> = args.iter().map(|a| a.chars().take(40).collect()).collect();
        assert!(said.len() < 2500, "{begins:?} echoes {} bytes", said.len());
    }
}

/// One more than the limit is refused, in a sentence that names the limit; as many are not.
#[test]
fn limits_of_the_table_hold() {
    let nested = |deep: u64| {
        let deep = deep as usize;
        format!("{{\"note\": {}1{}}}", "[".repeat(deep - 1), "]".repeat(deep - 1))
    };
    let deep = refusal(&["check", &file("deep.json", nested(bounds::JSON_DEPTH + 1))]);
    assert!(deep.contains("nested too deeply"), "{deep}");
    let fits = refusal(&["check", &file("fits.json", nested(bounds::JSON_DEPTH))]);
    assert!(!fits.contains("nested too deeply"), "{fits}");
    let echo: serde_json::Value = serde_json::from_str(&text(&["check", "--json"])).unwrap();
    let list = |item: &str, n: u64| vec![item; n as usize].join(",");
    let mass = r#"{"item":"x","mass_kg":0.01,"behind_front_axle_m":1}"#;
    let numbers = |n: u64| (1..=n).map(|i| i.to_string()).collect::<Vec<_>>().join(",");
    let gears = |n: u64| -> String {
        let gears = (0..n).map(|i| format!("{{\"ratio\":{}}}", 5.0 - 0.1 * i as f64));
        gears.collect::<Vec<_>>().join(",")
    };
    let points = |n: u64| -> String {
        let points = (0..n).map(|i| format!("{{\"charge_pct\":{i},\"v\":3.2}}"));
        points.collect::<Vec<_>>().join(",")
    };
    for (path, most, value) in [
        ("added", bounds::MASSES, &(|n| list(mass, n)) as &dyn Fn(u64) -> String),
        ("removed", bounds::MASSES, &|n| list(mass, n)),
        ("load", bounds::MASSES, &|n| list(mass, n)),
        ("auxiliaries.low_voltage", bounds::LOADS, &|n| list(r#"{"item":"x","power_w":0.01}"#, n)),
        ("gearbox.gears", bounds::GEARS, &gears),
        ("pack.cell.open_circuit", bounds::CURVE_POINTS, &points),
        ("motor.efficiency_points", bounds::EFFICIENCY_POINTS, &|n| {
            list(r#"{"rpm":2000,"torque_nm":40,"efficiency_pct":85}"#, n)
        }),
        ("seasons", bounds::SEASONS, &|n| list(r#"{"name":"x","air_c":5}"#, n)),
    ] {
        let with = |n: u64| {
            let mut tree = echo["input"].clone();
            if path == "motor.efficiency_points" {
                tree["build"]["motor"]["loss_coefficients"].take();
            }
            let value: serde_json::Value =
                serde_json::from_str(&format!("[{}]", value(n))).unwrap();
            let steps = if path == "seasons" { path.to_owned() } else { format!("build.{path}") };
            let place = steps.split('.').fold(&mut tree, |at, step| &mut at[step]);
            *place = value;
            shakedown(&["check", &file("most.json", tree.to_string())])
        };
        let said = said(with(most + 1));
        let counted = format!("is a list of {}; allowed: ", most + 1);
        assert!(said.contains(&counted) && said.contains(&most.to_string()), "{path}: {said}");
        let fits = with(most);
        let said = String::from_utf8(fits.stderr).unwrap();
        assert!(!said.contains("is a list of"), "{path}: {said}");
    }
    let path = format!("{}=1", "a".repeat(bounds::PATH_BYTES as usize + 1));
    let speeds = numbers(bounds::MAP_LIST + 1);
    let shares = list("0", bounds::REGEN_LIST + 1);
    let samples = (bounds::SAMPLES + 1).to_string();
    let builds = format!("pack.parallel={}", numbers(bounds::COMPARED));
    let held = format!("pack.parallel=1..{}:1", bounds::ROWS_HELD + 1);
    let all = format!("pack.parallel=1..{}:1", bounds::VALUES);
    let twice = ["sweep", "--vary", &all, "--vary", "motor.mass_kg=50..60:1"];
    for (args, most) in [
        (&["check", "--set", &path][..], bounds::PATH_BYTES),
        (&["endurance", "--speeds", &speeds], bounds::MAP_LIST),
        (&["regen", "--brake", &shares], bounds::REGEN_LIST),
        (&["bands", "--samples", &samples], bounds::SAMPLES),
        (&["compare", "--vary", &builds], bounds::COMPARED),
        (&["sweep", "--vary", &held], bounds::ROWS_HELD),
        (&["sweep", "--vary", &held, "--as", "csv", "--sort", "pack.parallel"], bounds::ROWS_HELD),
        (&twice, bounds::COMBINATIONS),
    ] {
        let said = refusal(args);
        assert!(said.contains(&most.to_string()), "{:?}: {said}", args[0]);
    }
}

/// A file of the largest length is read or refused within seconds.
#[test]
fn files_of_the_largest_length_end_soon() {
    let most = scenarios::FILE_LIMIT_BYTES as usize - 100;
    for (name, content) in [
        ("lists.json", format!("{{\"note\": [{}[]]}}", "[],".repeat(most / 3))),
        ("objects.json", format!("{{\"note\": [{}{{}}]}}", "{},".repeat(most / 3))),
        ("text.json", format!("{{\"note\": \"{}\"}}", "x".repeat(most))),
        ("spaces.json", format!("{{{}", " ".repeat(most))),
        ("open.json", "[".repeat(most)),
        ("digits.json", format!("{{\"note\": {}}}", "9".repeat(most))),
        ("keys.json", {
            let keys: String = (0..most / 14).map(|i| format!("\"k{i:07}\":0,")).collect();
            format!("{{{keys}\"k\":0}}")
        }),
    ] {
        let path = file(name, content);
        let begun = Instant::now();
        refusal(&["check", &path]);
        let s = begun.elapsed().as_secs_f64();
        assert!(s < 10.0, "{name} takes {s:.1} s");
        fs::remove_file(path).unwrap();
    }
}
