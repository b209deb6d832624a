//! What holds for every command, by the program's own table of them.

use crate::program::{json, table, text};
use serde_json::Value;
use shakedown::{COMMANDS, Known};

/// The arguments of a command's example, as a shell would part them.
fn example(command: &Known) -> Vec<&'static str> {
    command.example.split(' ').map(|word| word.trim_matches('\'')).collect()
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
        assert_eq!(words[0], command.name);
        assert!(text(&[command.name, "--help"]).contains(command.example), "{}", command.name);
        // A schema is a document with or without being asked for one.
        if command.name != "schema" {
            table(&words);
            table(&[&words[..], &["--units", "us"]].concat());
        }
    }
}
