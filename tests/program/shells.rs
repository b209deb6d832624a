//! What shells and editors are given: completions, manual pages, schemas.

use crate::program::{folder, text};
use serde_json::Value;
use shakedown::COMMANDS;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// What is offered for the last word, asked as the script that bash runs asks.
fn offered(words: &[&str]) -> Vec<String> {
    let index = words.len().to_string();
    let run = Command::new(env!("CARGO_BIN_EXE_shakedown"))
        .args(["--", "shakedown"])
        .args(words)
        .env("COMPLETE", "bash")
        .env("_CLAP_COMPLETE_INDEX", index)
        .env("_CLAP_IFS", "\n")
        .env("_CLAP_COMPLETE_COMP_TYPE", "9")
        .env("_CLAP_COMPLETE_SPACE", "true")
        .output()
        .unwrap();
    assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stderr));
    String::from_utf8(run.stdout).unwrap().lines().map(str::to_owned).collect()
}

#[test]
fn commands_options_fields_parts_figures_and_roads_are_completed() {
    for (words, wanted) in [
        (&["cli"][..], "climb"),
        (&["sheet", "--fu"], "--full"),
        (&["sheet", "--set", "motor.mass"], "motor.mass_kg="),
        (&["sheet", "--set", "conditions.ai"], "conditions.air_c="),
        (&["sheet", "--set", "gearbox.gears.1.r"], "gearbox.gears.1.ratio="),
        (&["sheet", "--set", "motor=shelf:induction-air-s"], "motor=shelf:induction-air-small"),
        (&["size", "--field", "pack.par"], "pack.parallel"),
        (&["sweep", "--vary", "pack.ser"], "pack.series="),
        (&["sweep", "--figures", "range_km,climb_he"], "range_km,climb_heat_pct"),
        (&["drive", "--cycle", "wltc-2-ext"], "wltc-2-extra-high"),
        (&["parts", "series-dc"], "series-dc-large"),
        (&["schema", "contr"], "controller"),
        (&["new", "--motor", "series-dc"], "series-dc-large"),
        (&["new", "--cell", "blend"], "blend-50ah"),
        (&["charge", "--socket", "230v-16"], "230v-16a"),
    ] {
        let found = offered(words);
        assert!(found.iter().any(|word| word.trim_end() == wanted), "{words:?}: {found:?}");
    }
}

/// A name is put in unquoted, so only those are offered that mean themselves to any shell.
#[cfg(unix)]
#[test]
fn no_file_is_offered_that_a_shell_would_take_for_something_else() {
    let folder = folder("completed");
    let odd =
        ["road$(touch x).csv", "a b.csv", "semi;colon.csv", "new\nline.csv", "'q'.csv", "~h.csv"];
    for name in odd.into_iter().chain(["road-1.csv", "straße.csv"]) {
        fs::write(folder.join(name), "").unwrap();
    }
    let begun = format!("{}/", folder.display());
    for words in
        [&["sheet", &begun][..], &["drive", "--cycle", &begun], &["report", "--out", &begun]]
    {
        let found = offered(words);
        let names: Vec<&str> = found.iter().map(|f| f.trim().rsplit('/').next().unwrap()).collect();
        assert_eq!(names, ["road-1.csv", "straße.csv"], "{words:?}");
    }
}

/// Every field that is offered is one that the reader of files knows.
#[test]
fn no_field_is_offered_that_is_refused_as_unknown() {
    let fields = offered(&["sheet", "--set", ""]);
    assert!(fields.len() > 200, "{}", fields.len());
    for field in fields.iter().step_by(17) {
        let set = format!("{}0", field.trim_end());
        let run = crate::program::shakedown(&["check", "--set", &set]);
        let said = String::from_utf8_lossy(&run.stderr).into_owned();
        assert!(!said.contains("unknown"), "{set}: {said}");
    }
}

/// The whole of it, whatever its lines look like.
fn script(shell: &str) -> String {
    let run = Command::new(env!("CARGO_BIN_EXE_shakedown")).args(["completions", shell]).output();
    String::from_utf8(run.unwrap().stdout).unwrap()
}

#[test]
fn each_shell_gets_a_script() {
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let script = script(shell);
        assert!(script.contains("COMPLETE") && script.contains("shakedown"), "{shell}: {script}");
    }
    // Bash itself reads its own.
    let script = script("bash");
    let read = Command::new("bash").args(["-n", "-c", &script]).status().unwrap();
    assert!(read.success());
}

#[test]
fn there_is_a_manual_page_for_each_command() {
    let folder = folder("man");
    text(&["man", "--write", folder.to_str().unwrap()]);
    for command in COMMANDS {
        let page = fs::read_to_string(
            folder.join(format!("shakedown-{}.1", command.name.replace(' ', "-"))),
        )
        .unwrap();
        assert!(page.contains(".TH") && page.contains(".SH SYNOPSIS"), "{}", command.name);
        // Hyphens and quotes are written as `\-` and `\*(Aq` there.
        let plain = page.replace("\\*(Aq", "'").replace('\\', "");
        assert!(plain.contains(command.example), "{}", command.name);
    }
    assert!(fs::read_to_string(folder.join("shakedown.1")).unwrap().contains("shakedown"));
}

fn json_files(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    entries
        .flat_map(|path| if path.is_dir() { json_files(&path) } else { vec![path] })
        .filter(|path| path.extension().is_some_and(|suffix| suffix == "json"))
        .collect()
}

/// What is written names its schema, which is there and lets the file pass; a slip does not pass.
#[test]
fn written_files_keep_to_the_schema_that_they_name() {
    let folder = folder("with-schemas");
    text(&["parts", "--write", folder.to_str().unwrap()]);
    text(&["new", folder.join("car.json").to_str().unwrap(), "--class", "coupe"]);
    let read = |path: &Path| -> Value {
        serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap()
    };
    let mut seen = 0;
    for file in json_files(&folder) {
        let mut document = read(&file);
        // A schema is a document of its own kind, whose `$schema` is an address.
        let Some(schema) = document["$schema"].as_str().filter(|name| name.ends_with(".json"))
        else {
            assert!(file.to_str().unwrap().ends_with(".schema.json"), "{}", file.display());
            continue;
        };
        let schema = read(&file.parent().unwrap().join(schema));
        let checker = jsonschema::validator_for(&schema).unwrap();
        let faults: Vec<String> = checker.iter_errors(&document).map(|e| e.to_string()).collect();
        assert!(faults.is_empty(), "{}: {faults:?}", file.display());
        document["no_such_field"] = Value::from(1);
        assert!(!checker.is_valid(&document), "{}", file.display());
        seen += 1;
    }
    assert!(seen > 30, "{seen} files");
}
