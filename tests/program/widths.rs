//! What fits on a page and into a terminal.

use crate::commands::DOCUMENTS;
use crate::program::{shakedown, text};
use shakedown::COMMANDS;
use std::process::Command;

/// The builds of the book, and cars of which much is to be said.
const CARS: [&[&str]; 9] = [
    &[],
    &["docs/builds/hatch.json"],
    &["docs/builds/roadster.json"],
    &["docs/builds/estate.json"],
    &["--bands"],
    &["--set", "pack.parallel=4", "--set", "conditions.air_c=48"],
    &["--set", "gearbox=shelf:single-reduction"],
    &["--set", "pack.series=60", "--set", "gearbox.max_input_nm=60", "--set", "start.cells_c=-25"],
    &["--set", "motor=shelf:series-dc-large", "--set", "start.charge_pct=12"],
];

#[test]
fn a_sheet_is_a_page_with_its_verdicts_first() {
    for car in CARS {
        for units in ["metric", "us"] {
            let said = text(&[&["sheet"], car, &["--units", units]].concat());
            assert!(said.lines().count() <= 66, "{car:?}: {} lines\n{said}", said.lines().count());
            for line in said.lines() {
                assert!(line.chars().count() <= 80, "{car:?}: {line}");
            }
            assert_eq!(said.lines().nth(3), Some("What it does, and what gives up first"));
            assert!(said.contains("High voltage kills"));
        }
    }
}

/// What the page leaves out is on the whole sheet.
#[test]
fn the_whole_sheet_has_the_lines_of_assumptions_and_warnings() {
    let said = text(&["sheet", "--full"]);
    for heading in ["Full throttle", "Limits that were met, worst first", "Warnings", "Assumptions"]
    {
        assert!(said.lines().any(|line| line == heading), "{heading}");
    }
}

/// Units that a number is not to be parted from.
const UNITS: [&str; 14] =
    ["%", "°C", "°F", "A", "V", "kW", "kWh", "km", "km/h", "mph", "kg", "lb", "rpm", "min"];

#[test]
fn in_eighty_columns_tables_fit_and_no_number_stands_without_its_unit() {
    let ends = |name: &&str| *name != "live" && !DOCUMENTS.contains(name);
    for command in COMMANDS.iter().filter(|command| ends(&command.name)) {
        let words = words(command.example);
        let run = Command::new(env!("CARGO_BIN_EXE_shakedown"))
            .args(&words)
            .env("COLUMNS", "80")
            .current_dir(env!("CARGO_TARGET_TMPDIR"))
            .output()
            .unwrap();
        let said = String::from_utf8(run.stdout).unwrap();
        let mut before = "";
        for line in said.lines() {
            assert!(line.chars().count() <= 80, "{words:?}: {line}");
            let first = line.split_whitespace().next().unwrap_or_default();
            let is_unit = UNITS.contains(&first.trim_end_matches(['.', ',', ';', ')']));
            let after_number = before.ends_with(|c: char| c.is_ascii_digit());
            // In a table the next line of a cell is indented, and belongs to no line before it.
            let goes_on = !line.starts_with(' ');
            assert!(!(is_unit && after_number && goes_on), "{words:?}: {before} | {line}");
            before = line;
        }
    }
}

fn words(example: &str) -> Vec<String> {
    example.split(' ').map(|word| word.trim_matches('\'').to_owned()).collect()
}

/// A size that no car bears is no answer without a word.
#[test]
fn a_size_says_what_its_car_breaks() {
    let asked = ["size", "--find", "smallest", "--field", "pack.parallel", "--between", "1..16"];
    let asked = [&asked[..], &["--goal", "range_km>=600"]].concat();
    let said = text(&asked);
    assert!(
        said.contains("Dangers of the answer") && said.contains("1150 kg are permitted"),
        "{said}"
    );
    let light = [&asked[..7], &["--goal", "range_km>=60"]].concat();
    assert!(!text(&light).contains("Dangers"));
}

#[test]
fn rows_are_written_as_the_file_is_called() {
    let folder = crate::program::folder("rows-by-suffix");
    for (name, begins) in [("a.csv", "pack.parallel,"), ("a.jsonl", "{"), ("a.txt", "pack")] {
        let path = folder.join(name);
        let path = path.to_str().unwrap();
        let run = shakedown(&[
            "sweep",
            "--vary",
            "pack.parallel=1,2",
            "--figures",
            "range_km",
            "--out",
            path,
        ]);
        assert!(run.status.success());
        let rows = std::fs::read_to_string(path).unwrap();
        assert!(rows.trim_start().starts_with(begins), "{name}: {rows}");
        assert_eq!(rows.lines().nth(1).unwrap().starts_with('─'), name == "a.txt", "{rows}");
    }
}

#[test]
fn a_car_that_does_not_drive_follows_nothing() {
    let stands = crate::program::json(&["drive", "--set", "start.cells_c=-35"]);
    assert!(stands["distance_km"].as_f64().unwrap() < 0.1);
    assert_eq!(stands["within_tolerance"], false);
}

/// Half the cells give less than the controller works at: no card or table of currents passes without a
/// word.
#[test]
fn a_car_that_does_not_drive_is_a_danger_on_every_page_of_parts() {
    for (command, words) in [
        ("electrics", "DANGER: not driven as asked: pull, climb, road."),
        ("settings", "DANGER: The full pack has 51.3 V, under the 70.0 V at which"),
        ("readings", "DANGER: the car holds none of these speeds"),
    ] {
        let told = text(&[command, "--set", "pack.series=15"]);
        assert!(told.contains(words), "{command}: {told}");
        let usual = text(&[command]);
        assert!(!usual.contains("DANGER"), "{command}: {usual}");
    }
}

/// What is refused says what was probably meant.
#[test]
fn a_near_miss_on_the_command_line_is_told() {
    use crate::program::refused;
    refused(&["climb", "--speed", "30,5"], &["--speed", "decimals are set off by a point"]);
    refused(&["climb", "--grade", "5,5%"], &["--grade", "decimals are set off by a point"]);
    refused(&["cost", "--price", "3"], &["--energy-price"]);
    refused(&["parts", "--write", "/dev/null/x"], &["/dev/null is no folder"]);
}
