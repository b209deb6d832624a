//! The program as it is called.

use std::process::{Command, Output, Stdio};

fn shakedown(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_shakedown")).args(arguments).output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

#[test]
fn every_command_answers_about_the_demo_in_tables_of_100_columns() {
    for arguments in [
        &["check"][..],
        &["check", "--units", "us"],
        &["parts"],
        &["parts", "--units", "us"],
        &["cycles"],
    ] {
        let found = shakedown(arguments);
        assert!(found.status.success() && found.stderr.is_empty(), "{arguments:?}");
        let lines = text(&found.stdout);
        for line in lines.lines() {
            assert!(line.chars().count() <= 100, "{arguments:?}: {line}");
            assert!(!line.contains('\u{1b}'), "{arguments:?}: {line}");
        }
    }
}

#[test]
fn json_is_one_document() {
    for arguments in [
        &["check", "--json"][..],
        &["--json", "check", "--set", "motor.mass_kg=60"],
        &["parts", "--json"],
        &["parts", "induction-air-small"],
        &["cycles", "--json"],
        &["schema"],
        &["schema", "motor"],
    ] {
        let found = shakedown(arguments);
        assert!(found.status.success(), "{arguments:?}");
        let document: serde_json::Value = serde_json::from_slice(&found.stdout).unwrap();
        assert!(document.is_object() || document.is_array(), "{arguments:?}");
    }
    let check = shakedown(&["check", "--json", "--set", "motor.mass_kg=60"]);
    let document: serde_json::Value = serde_json::from_slice(&check.stdout).unwrap();
    assert_eq!(document["input"]["build"]["motor"]["mass_kg"], 60);
    assert!(document["mass"]["running_kg"].as_f64().unwrap() > 900.0);
}

#[test]
fn every_bad_input_ends_in_one_sentence_and_exit_code_2() {
    for (arguments, expected) in [
        (&["chek"][..], "unrecognized subcommand 'chek'; some similar subcommands exist"),
        (&["check", "a", "b"], "unexpected argument 'b'"),
        (&["check", "--units", "feet"], "invalid value 'feet'"),
        (&["check", "nowhere.json"], "nowhere.json: there is no such file"),
        (&["check", "--set", "motor"], "--set motor: has no value; needed: path=value"),
        (&["check", "--set", "motor.mass_kg=-5"], "motor.mass_kg is -5; allowed: 0.5 to 1000"),
        (&["check", "--set", "a\nb=5"], "unknown field \"a b\""),
        (&["parts", "induction-air-smal"], "did you mean \"induction-air-small\"?"),
        (&["cycles", "wtlc"], "did you mean `wltc`"),
        (&["schema", "car"], "invalid value 'car'"),
    ] {
        let found = shakedown(arguments);
        assert_eq!(found.status.code(), Some(2), "{arguments:?}");
        assert!(found.stdout.is_empty(), "{arguments:?}");
        let sentence = text(&found.stderr);
        assert!(sentence.starts_with("error: ") && sentence.contains(expected), "{sentence}");
        assert_eq!(sentence.lines().count(), 1, "{sentence}");
    }
}

#[test]
fn the_shelf_is_written_once_and_its_demo_drives() {
    let folder = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join("shelf");
    let _ = std::fs::remove_dir_all(&folder);
    let shown = folder.to_str().unwrap();
    assert!(shakedown(&["parts", "--write", shown]).status.success());
    let demo = folder.join("demo").join("hill-town.json");
    let found = shakedown(&["check", demo.to_str().unwrap(), "--json"]);
    let own = shakedown(&["check", "--json"]);
    let document =
        |found: &Output| -> serde_json::Value { serde_json::from_slice(&found.stdout).unwrap() };
    assert_eq!(document(&found)["mass"], document(&own)["mass"]);
    std::fs::write(&demo, "mine").unwrap();
    let again = shakedown(&["parts", "--write", shown]);
    assert_eq!(again.status.code(), Some(2));
    assert!(text(&again.stderr).contains("is there already and is not overwritten"));
    assert_eq!(std::fs::read(&demo).unwrap(), b"mine");
}

#[test]
fn a_reader_that_goes_away_is_no_fault() {
    let mut child = Command::new(env!("CARGO_BIN_EXE_shakedown"))
        .arg("schema")
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let found = child.wait_with_output().unwrap();
    assert!(found.status.success() && found.stderr.is_empty(), "{}", text(&found.stderr));
}
