//! Figures: the list of them, and the commands that take them.

use crate::program::{json, table, text};
use serde_json::Value;

/// What every run needs of the demo to have all of its figures.
const PRICES: [&str; 24] = [
    "--set",
    "money.energy_per_kwh=0.25",
    "--set",
    "money.fuel_per_l=1.6",
    "--set",
    "money.donor_l_per_100km=8",
    "--set",
    "money.wear_per_km=0.05",
    "--set",
    "money.km_per_year=9000",
    "--set",
    "seasons.1.months=6",
    "--set",
    "seasons.2.months=3",
    "--set",
    "seasons.3.months=3",
    "--set",
    "motor.price=1400",
    "--set",
    "controller.price=900",
    "--set",
    "pack.price=3100",
    "--set",
    "added=[]",
];

fn names() -> Vec<String> {
    let list = json(&["figures"]);
    let name = |row: &Value| row["name"].as_str().unwrap().to_owned();
    list.as_array().unwrap().iter().map(name).collect()
}

/// The cells of a line of a table, which stand two spaces or more apart.
fn cells(line: &str) -> Vec<&str> {
    line.split("  ").map(str::trim).filter(|cell| !cell.is_empty()).collect()
}

#[test]
fn every_listed_figure_is_given_where_it_is_asked_for() {
    // The demo is cooled by air: it has no answer about a coolant.
    let all: Vec<String> = names().into_iter().filter(|n| !n.ends_with("coolant_c")).collect();
    let list = all.join(",");
    let fixed = ["sweep", "--vary", "motor.mass_kg=52", "--from", "30%", "--figures", &list];
    // In deep winter the demo is empty before its second trip ends.
    let mild = ["--set", "seasons.2.air_c=6"];
    let row = json(&[&fixed[..], &mild, &PRICES].concat());
    for name in &all {
        assert!(row[name].is_number() || row[name].is_null(), "{name}: {row}");
    }
    // All but what never happens to the demo: what derates, and goals that are out of reach.
    let never = all.iter().filter(|name| row[name.as_str()].is_null());
    for name in never {
        assert!(name.contains("after_s") || name.starts_with("to_"), "{name}");
    }
}

#[test]
fn a_figure_brings_in_its_run_in_every_command() {
    let goal = ["--goal", "cost_per_100km<=9", "--goal", "charge_night_enough>=1"];
    let size = ["size", "--find", "smallest", "--field", "pack.parallel", "--between", "1..2"];
    let found = json(&[&size[..], &goal, &PRICES].concat());
    assert_eq!((&found["found"], &found["asked"][0]), (&1.0.into(), &"cost_per_100km".into()));
    let bands = ["bands", "--samples", "10", "--run", "standing"];
    let found = json(&[&bands[..], &goal, &PRICES].concat());
    let risks = found["risks"].as_array().unwrap();
    assert!(risks.iter().any(|risk| risk["name"] == "cost_per_100km<=9"), "{risks:?}");
    let compare = ["compare", "--vary", "pack.parallel=1,2", "--figures", "descent_gear,range_km"];
    let found = json(&compare);
    let rows = found["figures"].as_array().unwrap();
    let asked: Vec<&Value> = rows.iter().map(|row| &row["figure"]).collect();
    assert_eq!(asked, ["descent_gear", "range_km"]);
    let sweep = ["sweep", "--vary", "pack.parallel=1,2", "--sort", "regen_wh_per_km", "--top", "1"];
    assert!(json(&sweep)["regen_wh_per_km"].as_f64().unwrap() > 50.0);
}

/// 1 mi = 1.609344 km (1959 agreement), 0 °C = 32 °F and 100 °C = 212 °F.
#[test]
fn a_sweep_is_shown_in_us_units_as_all_else() {
    let sweep = ["sweep", "--vary", "pack.parallel=1,2", "--figures", "range_km,drive_winding_c"];
    let last = |units: &str, labels: [&str; 2]| -> Vec<f64> {
        let said = table(&[&sweep[..], &["--units", units]].concat());
        assert_eq!(cells(said.lines().next().unwrap())[1..], labels);
        cells(said.lines().last().unwrap()).iter().map(|cell| cell.parse().unwrap()).collect()
    };
    let metric = last("metric", ["range, km", "drive winding, °C"]);
    let us = last("us", ["range, mi", "drive winding, °F"]);
    // Tables round to three digits.
    assert!((metric[1] - 1.609_344 * us[1]).abs() < 0.6, "{metric:?} {us:?}");
    assert!((us[2] - 32.0 - 1.8 * metric[2]).abs() < 0.6, "{metric:?} {us:?}");
    let csv = |units: &str| text(&[&sweep[..], &["--as", "csv", "--units", units]].concat());
    assert_eq!(csv("us"), csv("metric"), "rows for programs have their units in their names");
}
