//! Recorded drives at the command line: `measure drive`, `report --recorded`.

use crate::program::{folder, json, refused, table, text};
use std::fs;

const LOGS: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/cycles/tests/checks/logs");

/// One drive, exported by spreadsheets of several countries (`cycles/tests/checks/logs/make.py`), is
/// compared with the same result.
#[test]
fn a_spreadsheet_of_any_country_is_compared_alike() {
    let compared = |file: &str| {
        let mut found = json(&["measure", "drive", &format!("{LOGS}/{file}")]);
        let drive = &mut found["drives"][0];
        let told = (drive["figures"].take(), drive["distance_km"].take(), drive["climb_m"].take());
        let channels = drive["channels"].as_array().unwrap().iter();
        (told, channels.map(|channel| channel["rms"].clone()).collect::<Vec<_>>())
    };
    let plain = compared("plain.csv");
    assert!(plain.0.0.as_array().unwrap().len() > 4 && plain.1.len() > 4);
    for file in ["american.csv", "german.csv", "french.csv", "swiss.csv", "unicode.txt"] {
        assert_eq!(compared(file), plain, "{file}");
    }
}

#[test]
fn several_drives_stand_in_one_table() {
    let german = format!("{LOGS}/german.csv");
    let swiss = format!("{LOGS}/swiss.csv");
    for units in ["metric", "us"] {
        let said = table(&["measure", "drive", &german, &swiss, "--units", units]);
        assert!(said.contains("german.csv") && said.contains("median"), "{said}");
    }
    assert_eq!(json(&["measure", "drive", &german, &swiss])["drives"].as_array().unwrap().len(), 2);
}

#[test]
fn names_of_columns_come_from_options_or_a_file() {
    let folder = folder("names of columns");
    let at = |name: &str| folder.join(name).to_str().unwrap().to_owned();
    let (log, names) = (at("log.csv"), at("names.json"));
    let mut rows = String::from("zt;vv;ub\n");
    (0..60).for_each(|i| rows += &format!("{i};{},5;110,2\n", i % 30));
    fs::write(&log, rows).unwrap();
    let options = ["--column", "time_s=zt", "--column", "speed_kmh=vv", "--column", "pack_v=ub"];
    let by_options = json(&[&["measure", "drive", &log][..], &options].concat());
    let columns = |text: &str| fs::write(&names, text).unwrap();
    columns(r#"{ "columns": { "time_s": "zt", "speed_kmh": "vv", "pack_v": "ub" } }"#);
    assert_eq!(json(&["measure", "drive", &log, "--columns", &names]), by_options);

    columns(r#"{ "column": {} }"#);
    refused(&["measure", "drive", &log, "--columns", &names], &["names.json", "column"]);
    columns(r#"{ "columns": {}, "rate_hz": 0 }"#);
    refused(&["measure", "drive", &log, "--columns", &names], &["rate_hz", "0"]);
    let missing = ["--column", "time_s=zt", "--column", "speed_kmh=nn"];
    refused(&[&["measure", "drive", &log][..], &missing].concat(), &["`nn`", "is not there"]);
    refused(&["measure", "drive", &log, "--column", "speed"], &["--column is \"speed\""]);
    refused(&["measure", "drive", &log], &["log.csv:1", "none of them is understood"]);
    refused(&["measure", "drive", &at("none.csv")], &["none.csv: there is no such file"]);
    let build = concat!(env!("CARGO_MANIFEST_DIR"), "/docs/builds/hatch.json");
    refused(&["measure", "drive", "--build", build], &["which recordings"]);
    // A value that cannot be is left out, and a likely unit is named.
    fs::write(&log, "time_s,speed_kmh,air_c\n0,1,70\n1,2,70\n2,3,70\n").unwrap();
    let told = text(&["measure", "drive", &log]);
    assert!(told.contains("70 °C cannot be") && told.contains("21 °C"), "{told}");
}

#[test]
fn a_copy_of_a_recording_is_no_further_drive() {
    let folder = folder("copies");
    let copy = folder.join("copy.csv");
    let log = format!("{LOGS}/plain.csv");
    fs::copy(&log, &copy).unwrap();
    let copy = copy.to_str().unwrap();
    refused(
        &["measure", "drive", "--fit", &log, copy],
        &["plain.csv", "copy.csv", "same recording"],
    );
    assert!(!text(&["measure", "drive", &log, copy]).is_empty());
}

#[test]
fn the_page_to_print_shows_a_recorded_drive() {
    let folder = folder("recorded page");
    let out = folder.join("page.html");
    let out = out.to_str().unwrap();
    let log = format!("{LOGS}/german.csv");
    let report = json(&["report", "--recorded", &log, "--out", out]);
    assert_eq!(report["recorded"]["file"], log);
    let page = fs::read_to_string(out).unwrap();
    assert!(page.contains("As it was recorded") && page.contains("id=\"recorded-title\""));
    refused(&["report", "--recorded", out, "--out", out], &["page.html:1"]);
    assert!(!text(&["report", "--out", out]).is_empty());
    assert!(!fs::read_to_string(out).unwrap().contains("As it was recorded"));
}
