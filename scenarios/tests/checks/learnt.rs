//! Files of what was learnt from a car that was driven.

use scenarios::learnt::{Learnt, sha256_of};
use scenarios::studies::uncertain::Uncertain;
use scenarios::{FileKind, Loaded};
use serde_json::{Value, json};
use std::path::PathBuf;

fn path(name: &str) -> PathBuf {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("learnt");
    std::fs::create_dir_all(&folder).unwrap();
    folder.join(name)
}

fn file(name: &str, content: impl AsRef<[u8]>) -> PathBuf {
    std::fs::write(path(name), content).unwrap();
    path(name)
}

fn some() -> Value {
    json!({
        "from": "drives", "date": "2026-11-27",
        "sources": [{ "file": "north.csv", "sha256": "0".repeat(64) }],
        "conditions": { "air_c": 12, "mass_kg": 980.5 },
        "inputs": [
            {
                "name": "rolling resistance", "measure": "percent", "shift": -4.0, "sd": 3,
                "typical_sd": 7.5,
                "beside": [{ "path": "build.donor.kerb_mass_kg", "was": 700 }],
                "fields": [
                    { "path": "build.tyre.rolling_resistance", "was": 0.01, "value": 0.0096 }
                ]
            },
            {
                "name": "air temperature", "measure": "offset", "shift": 2, "sd": 0,
                "fields": [{ "path": "conditions.air_c", "was": 20, "value": 22 }]
            }
        ],
        "correlations": [[1, -0.5], [-0.5, 1]],
        "scatter": { "energy_sd_pct": 3.5 }
    })
}

#[test]
fn what_is_written_is_read_again_and_fits_its_schema() {
    let learnt = Learnt::open(&file("some.json", some().to_string())).unwrap();
    let written = path("measured/again.json");
    let _ = std::fs::remove_dir_all(path("measured"));
    learnt.save(&written, &[]).unwrap();
    // No other folder is made for it.
    for (other, folder) in [("new/again.json", "new"), ("new/measured/again.json", "new")] {
        let refused = learnt.save(&path(other), &[]).unwrap_err().to_string();
        assert!(refused.contains("there is no folder"), "{refused}");
        assert!(!path(folder).exists());
    }
    assert_eq!(Learnt::open(&written).unwrap(), learnt);
    // Over itself, but over nothing else.
    learnt.save(&written, &[]).unwrap();
    let refused = learnt.save(&file("build.json", "{\"donor\": 5}"), &[]).unwrap_err().to_string();
    assert!(
        refused.ends_with("is not a file of what was learnt; it is not overwritten"),
        "{refused}"
    );
    let text: Value = serde_json::from_slice(&std::fs::read(&written).unwrap()).unwrap();
    let schema = jsonschema::validator_for(&scenarios::schema(FileKind::Measured)).unwrap();
    for value in [&text, &some()] {
        assert!(schema.is_valid(value), "{value:#}");
    }
}

#[test]
fn whatever_is_wrong_with_it_is_said_in_one_sentence() {
    for (pointer, value, expected) in [
        ("/from", json!("hearsay"), "from is \"hearsay\"; allowed: coast-down, drives"),
        ("/date", json!("27.11.2026"), "date is 27.11.2026; allowed: a day such as 2026-11-27"),
        ("/date", json!("2026-13-01"), "allowed: a day such as"),
        ("/date", json!("2026-02-31"), "date is 2026-02-31; allowed: a day such as"),
        ("/date", json!("1900-02-29"), "date is 1900-02-29; allowed: a day such as"),
        ("/inputs/0/name", json!("a\n\u{1b}[31mRED"), "inputs.1.name is \"a\\n"),
        ("/inputs/0/name", json!(""), "inputs.1.name is \"\"; allowed: a line of 1 to 80"),
        ("/inputs/0/shift", json!(4), "inputs.1.fields.1.value is 0.0096; allowed: about 0.0104"),
        ("/inputs/0/measure", json!("offset"), "value is 0.0096; allowed: about -3.99"),
        (
            "/inputs/0/measure",
            json!("value"),
            "value is 0.0096; allowed: about -4, as the shift says",
        ),
        ("/inputs/1/fields/0/value", json!(21), "inputs.2.fields.1.value is 21; allowed: about 22"),
        (
            "/inputs/0/fields/0/path",
            json!("tyre.rolling_resistance"),
            "path is tyre.rolling_resistance; allowed: build.tyre.rolling_resistance",
        ),
        (
            "/inputs/0/fields/0/path",
            json!("build.load.01.mass_kg"),
            "path is build.load.01.mass_kg; allowed: build.load.1.mass_kg",
        ),
        (
            "/inputs/0/beside/0/path",
            json!("build.tyre"),
            "inputs.1.beside.1.path is build.tyre; allowed: the path of a number",
        ),
        ("/sources/0/sha256", json!("abc"), "sources.1.sha256 is abc; allowed: 64 digits"),
        ("/conditions/air_c", json!(900), "conditions.air_c is 900; allowed: -60 to 60"),
        ("/inputs", json!([]), "inputs is a list of 0; allowed: 1 to 1000 inputs"),
        ("/inputs/0/sd", json!(-1), "inputs.1.sd is -1; allowed: 0 to 1000000000000"),
        ("/inputs/0/shift", json!("far"), "inputs.1.shift is the text \"far\"; allowed: a number"),
        ("/inputs/0/sd", Value::Null, "inputs.1.sd is null; allowed: a number"),
        ("/inputs/0/fields", json!([]), "inputs.1.fields is an empty list; allowed: at least one"),
        (
            "/inputs/0/fields/0/path",
            json!("build.tyre.size"),
            "inputs.1.fields.1.path is build.tyre.size; allowed: the path of a number of a scenario",
        ),
        ("/inputs/0/fields/0/path", json!("build.motor.wheels"), "the path of a number"),
        ("/inputs/1/fields/0/path", json!("build.tyre.rolling_resistance"), "each field once"),
        ("/inputs/0/fields/0/was", Value::Null, "inputs.1.fields.1.was is missing"),
        (
            "/inputs/0/fields/0/value",
            json!(1e300),
            "inputs.1.fields.1.value is 1e300; allowed: -10",
        ),
        (
            "/correlations",
            json!([[1]]),
            "correlations is a list of 1 rows; allowed: 2, one for each",
        ),
        ("/correlations/1", json!([1]), "correlations.2 is a list of 1; allowed: 2 numbers"),
        (
            "/correlations/0/1",
            json!(0.5),
            "correlations.2.1 is -0.5; allowed: 0.5, as in row 1 and",
        ),
        ("/correlations/0/0", json!(0.5), "correlations.1.1 is 0.5; allowed: 1, as of each input"),
        ("/correlations/0/1", json!(-1.5), "correlations.1.2 is -1.5; allowed: -1 to 1"),
        ("/scatter/energy_sd_pct", json!(-3), "scatter.energy_sd_pct is -3; allowed: 0 to"),
    ] {
        let mut tree = some();
        *tree.pointer_mut(pointer).unwrap() = value;
        let refused = Learnt::open(&file("wrong.json", tree.to_string())).unwrap_err().to_string();
        assert!(!refused.contains('\n') && refused.contains("wrong.json: "), "{refused}");
        assert!(refused.contains(expected), "{refused}\n{expected}");
    }
    let mut tree = some();
    tree["speed"] = json!(5);
    let refused = Learnt::open(&file("more.json", tree.to_string())).unwrap_err().to_string();
    assert!(refused.contains("unknown field \"speed\" in what was learnt"), "{refused}");
    for (name, content) in [("no.json", "{"), ("list.json", "[]"), ("text.json", "\"a\"")] {
        let refused = Learnt::open(&file(name, content)).unwrap_err().to_string();
        assert!(refused.contains(name) && !refused.contains('\n'), "{refused}");
    }
}

#[test]
fn correlations_that_no_variables_have_are_refused() {
    // Two that both go along with a third cannot go against each other.
    let impossible = [[1.0, 0.9, 0.9], [0.9, 1.0, -0.9], [0.9, -0.9, 1.0]];
    let mut tree = some();
    let third = json!({
        "name": "mass", "measure": "percent", "shift": 0, "sd": 1,
        "fields": [{ "path": "build.donor.kerb_mass_kg", "was": 900, "value": 900 }]
    });
    tree["inputs"].as_array_mut().unwrap().push(third);
    tree["correlations"] = json!(impossible);
    let refused = Learnt::open(&file("never.json", tree.to_string())).unwrap_err().to_string();
    assert!(refused.contains("no negative eigenvalue"), "{refused}");
    tree["correlations"] = json!([[1, 1, 1], [1, 1, 1], [1, 1, 1]]);
    Learnt::open(&file("same.json", tree.to_string())).unwrap();
}

/// FIPS 180-4: the examples that NIST publishes beside it, and the one of no bytes.
#[test]
fn the_sum_of_a_file_is_that_of_the_standard() {
    for (text, sum) in [
        ("", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
        ("abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
    ] {
        assert_eq!(sha256_of(&file("sum.txt", text)).unwrap(), sum);
    }
}

/// Each uncertain input of the demo, moved, says what it was and what it is.
#[test]
fn an_input_that_moved_is_written_with_what_stood_there() {
    let demo = Loaded::demo().unwrap();
    let uncertain = Uncertain::new(&demo, &[], true).unwrap();
    for input in &uncertain.inputs {
        let learnt = input.learnt(input.sd(), 0.5 * input.sd());
        assert_eq!(learnt.typical_sd, Some(input.sd()));
        for field in &learnt.fields {
            let was = field.was.unwrap();
            let now = demo.prepare().unwrap().field(&field.path);
            assert_eq!(now.map_or(0.0, |field| field.value), was, "{}", field.path);
            assert!(field.value != was);
        }
    }
}

/// What is learnt of a car again still says what was typical before anything was, in percent of what
/// stands there: 7.5 % of 0.01 is 10 % of 0.0075.
#[test]
fn what_is_learnt_again_keeps_what_was_typical() {
    let first = json!({
        "from": "drives", "date": "2026-11-27",
        "sources": [{ "file": "north.csv", "sha256": "0".repeat(64) }],
        "inputs": [{
            "name": "rolling resistance", "measure": "percent", "shift": -25, "sd": 1.5,
            "typical_sd": 7.5,
            "fields": [
                { "path": "build.tyre.rolling_resistance", "was": 0.01, "value": 0.0075 }
            ]
        }]
    });
    let first = file("first.json", first.to_string());
    let set = ["tyre.label_n_per_kn=null", "tyre.rolling_resistance=0.01"];
    let set: Vec<scenarios::Override> = set.iter().map(|text| text.parse().unwrap()).collect();
    let demo = Loaded::demo().unwrap().put(&set).unwrap().measured(&[first]).unwrap();
    let uncertain = Uncertain::new(&demo, &[], true).unwrap();
    let named = |name: &str| uncertain.inputs.iter().find(|input| input.spread.name == name);
    let learnt = named("rolling resistance").unwrap().learnt(0.0, 1.0);
    assert!((learnt.typical_sd.unwrap() - 10.0).abs() < 1e-9, "{learnt:?}");
}
