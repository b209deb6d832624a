//! `choose`: what it refuses, what it writes, and that it goes on where it was stopped.

use crate::program::{folder, json, refused, shakedown, text};
use serde_json::Value;
use std::fs;

const MOTORS: &str = "motor=shelf:induction-air-small@900,shelf:induction-air-large@2200";

#[test]
fn what_cannot_be_chosen_is_refused_in_a_sentence() {
    let file = folder("choose-bad").join("list.json");
    let listed = file.to_str().unwrap();
    for (args, words) in [
        (&[][..], &["--try PATH=VALUES"][..]),
        (&["--try", "motor=shelf:induction-air-small"], &["induction-air-small", "has no price"]),
        (&["--try", "motor=shelf:no-such@9"], &["--try", "no-such"]),
        (&["--try", "motor=shelf:induction-air-small@-9"], &["--try", "-9", "0 to"]),
        (&["--try", "motor=shelf:induction-air-small@9€"], &["--try", "a price of 9€"]),
        (&["--try", "engine=shelf:induction-air-small@9"], &["--try", "engine"]),
        (&["--try", "gearbox.final_drive=3,4"], &["--try", "nor has any part"]),
        (&["--try", "gearbox.final_drive"], &["--try", "path="]),
        (&["--try", MOTORS, "--try", MOTORS], &["--try", "twice"]),
        (&["--try", MOTORS, "--try", &format!(" {MOTORS}")], &["--try", "twice"]),
        (&["--try", "gearbox.final_drive=3.5@1,long@2"], &["--try", "\"long\"", "a number"]),
        (&["--try", MOTORS, "--spread", "tyre.rolling=±5%"], &["--spread", "tyre.rolling"]),
        (&["--try", MOTORS, "--own-only"], &["nothing is uncertain", "--spread"]),
        (&["--try", MOTORS, "--spreads-file", "no-such.json"], &["no-such.json"]),
        (&["--try", MOTORS, "--shard", "1/2"], &["--out"]),
        (&["--try", MOTORS, "--merge"], &["--out"]),
        (&["--try", "pack.parallel=1,2", "--set", "pack.price=900"], &["number of its cells"]),
        (&["--try", MOTORS, "--budget", "-5"], &["--budget is -5", "0 or more"]),
        (&["--try", MOTORS, "--budget", "nan"], &["--budget is NaN"]),
        (&["--try", MOTORS, "--odds", "101"], &["--odds is 101", "0 to 100"]),
        (&["--try", MOTORS, "--odds", "80%"], &["--odds", "80%", "0 to 100"]),
        (
            &["--try", MOTORS, "--budget", "80thalers"],
            &["--budget", "80thalers", "without its name"],
        ),
        (&["--try", MOTORS, "--prefer", ""], &["--prefer", "range_km"]),
        (&["--try", MOTORS, "--out", "x.txt"], &["--out is x.txt", ".csv, .jsonl or .parquet"]),
        (&["--try", "gearbox.final_drive=4,4.0@10"], &["4.0 is tried twice"]),
        (&["--try", MOTORS, "--samples", "3"], &["--samples is 3"]),
        (&["--try", MOTORS, "--prefer", "rang_km"], &["rang_km", "range_km"]),
        (&["--try", MOTORS, "--prefer", "drive_oil_c"], &["drive_oil_c", "better"]),
        (&["--try", MOTORS, "--goal", "rang_km>=5"], &["rang_km", "range_km"]),
        (&["--try", MOTORS, "--set", "money.parts_cost=9"], &["money.parts_cost", "null"]),
        (&["--candidates", "no-such.json"], &["no-such.json"]),
    ] {
        refused(&[&["choose"], args].concat(), words);
    }
    for (said, words) in [
        ("{", &["list.json"][..]),
        ("{\"try\":{}}", &["tries nothing"]),
        ("{\"try\":{\"motor\":[]}}", &["motor has 0 values"]),
        ("{\"try\":{\"motor\":[{\"value\":\"shelf:induction-air-small\",\"price\":-1}]}}", &["-1"]),
        ("{\"try\":{\"motor\":[{\"price\":1}]}}", &["value"]),
        (
            "{\"try\":{\"gearbox.final_drive\":[{\"value\":4,\"price\":1},{\"value\":\"long\"}]}}",
            &["list.json", "gearbox.final_drive", "\"long\"", "allowed: a number"],
        ),
        (
            "{\"try\":{\"motor\":[{\"value\":900,\"price\":1}]}}",
            &["list.json", "motor is", "900", "allowed: "],
        ),
        ("{\"try\":{\"motor\":[{\"value\":\"a.json\",\"price\":1}]}}", &["a.json"]),
        ("{\"tried\":{}}", &["tried"]),
    ] {
        fs::write(&file, said).unwrap();
        refused(&["choose", "--candidates", listed], words);
    }
    refused(&["check", "--set", "motor.price=-3"], &["motor.price is -3"]);
    refused(&["check", "--set", "removed.1.price=-3"], &["removed.1.price is -3"]);
    let both = ["check", "--set", "motor.price=3", "--set", "money.parts_cost=9"];
    refused(&both, &["money.parts_cost is 9", "motor.price"]);
}

#[test]
fn prices_of_parts_add_up_and_name_what_has_none() {
    let set = [
        "check",
        "--set",
        "motor.price=1200",
        "--set",
        "pack.cell.price=20.5",
        "--set",
        "removed.1.price=150",
        "--set",
        "added.2.price=300",
    ];
    let found = &json(&set)["prices"];
    // The demo's pack has 34 cells.
    assert_eq!(found["price"], 1200.0 + 34.0 * 20.5 - 150.0 + 300.0);
    let without = found["without"].as_array().unwrap().iter().map(|part| &part["path"]);
    assert!(without.eq(["controller", "added.1", "added.3", "added.4"]), "{found}");
    assert!(json(&["check"])["prices"].is_null());
    // Where all that is bought has a price, their sum is what is to be paid off.
    let rest = ["controller.price=400", "added.1.price=1", "added.3.price=2", "added.4.price=3"];
    let rest = rest.iter().flat_map(|set| ["--set", *set]);
    let cost = ["cost", "--energy-price", "0.2"];
    let paid = |rest: &[&str]| json(&[&cost[..], &set[1..], rest].concat())["parts_cost"].clone();
    assert!(paid(&[]).is_null());
    let rest: Vec<&str> = rest.collect();
    assert_eq!(paid(&rest), 1200.0 + 34.0 * 20.5 - 150.0 + 300.0 + 406.0);
    let own = [&set[..], &["--set", "pack.price=900"]].concat();
    assert_eq!(json(&own)["prices"]["price"], 1200.0 + 900.0 - 150.0 + 300.0);
}

#[test]
fn rows_of_all_combinations_are_written_and_gone_on_with() {
    let folder = folder("choose-out");
    let out = |name: &str| folder.join(name).to_str().unwrap().to_owned();
    let asked = ["choose", "--try", MOTORS, "--try", "gearbox.final_drive=3.5..4.5:0.5"];
    let more = ["--goal", "start_grade_pct>=10", "--prefer", "running_kg", "--samples", "10"];
    let asked = [&asked[..], &more].concat();
    let (plain, csv) = (json(&asked), out("all.csv"));
    let said = text(&[&asked[..], &["--out", &csv]].concat());
    assert!(said.contains("6 combinations, written to"), "{said}");
    let whole = fs::read_to_string(&csv).unwrap();
    assert_eq!(whole.lines().count(), 7);
    assert!(
        whole.starts_with(
            "motor,gearbox.final_drive,price,running_kg,start_grade_pct,front_axle_kg,rear_axle_kg,problem\n"
        )
    );
    assert!(whole.lines().nth(4).unwrap().starts_with("shelf:induction-air-large,3.5,2200,"));
    // A run that was stopped after some of its rows.
    let part = folder.join("again.csv.part");
    let stopped = out("again.csv");
    assert!(!part.exists());
    let other = shakedown(&[&asked[..], &["--json", "--out", &stopped]].concat());
    assert!(other.status.success());
    let again: Value = serde_json::from_slice(&other.stdout).unwrap();
    assert_eq!(again, plain);
    assert_eq!(fs::read_to_string(&stopped).unwrap(), whole);
}

/// Shards, each by itself, and what is joined of them: the file and the answer are those of one run.
#[test]
fn shards_are_joined_to_the_answer_of_a_single_run() {
    let folder = folder("choose-shards");
    let out = |name: &str| folder.join(name).to_str().unwrap().to_owned();
    let asked = ["choose", "--try", MOTORS, "--try", "gearbox.final_drive=3.5..4.5:0.5"];
    let more = ["--goal", "start_grade_pct>=10", "--prefer", "running_kg", "--samples", "10"];
    let asked = [&asked[..], &more].concat();
    let (whole, parted) = (out("whole.csv"), out("parted.csv"));
    let answer = |args: &[&str]| -> Value {
        let output = shakedown(&[args, &["--json"]].concat());
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        serde_json::from_slice(&output.stdout).unwrap()
    };
    let single = answer(&[&asked[..], &["--out", &whole]].concat());
    let merge = [&asked[..], &["--out", &parted, "--merge"]].concat();
    refused(&merge, &["parted.csv", "no part of a shard"]);
    let first = text(&[&asked[..], &["--out", &parted, "--shard", "1/2"]].concat());
    assert!(first.starts_with("shard 1/2: 3 of 6 combinations"), "{first}");
    assert!(!first.contains("What to buy"), "{first}");
    refused(&merge, &["missing: 2"]);
    text(&[&asked[..], &["--out", &parted, "--shard", "2/2"]].concat());
    assert_eq!(answer(&merge), single);
    assert_eq!(fs::read(&parted).unwrap(), fs::read(&whole).unwrap());
}

/// Spreads of one's own count as they do for `bands`, and what a thing costs is told part by part.
#[test]
fn own_spreads_decide_the_odds() {
    let asked = ["choose", "--try", "motor=shelf:induction-air-small@900", "--try"];
    let asked =
        [&asked[..], &["gearbox.final_drive=3.5@120", "--goal", "running_kg<=1200"]].concat();
    let asked = [&asked[..], &["--prefer", "running_kg", "--samples", "50", "--own-only"]].concat();
    let with = |spread: &str| json(&[&asked[..], &["--spread", spread]].concat());
    let kg = |found: &serde_json::Value, which: &str| {
        found["front"][0]["figures"][0][which].as_f64().unwrap()
    };
    let (narrow, wide) = (with("donor.kerb_mass_kg=±1%"), with("donor.kerb_mass_kg=±10%"));
    let width = |found| kg(found, "p90") - kg(found, "p10");
    assert!((width(&wide) / width(&narrow) - 10.0).abs() < 1.0, "{narrow} {wide}");
    let costs = &wide["front"][0]["costs"];
    assert_eq!((&costs[0]["part"], &costs[0]["price"]), (&"motor".into(), &900.0.into()));
    assert_eq!(costs[1]["part"], "gearbox.final_drive=3.5");
    let said = text(&[&asked[..], &["--spread", "donor.kerb_mass_kg=±10%"]].concat());
    assert!(said.contains("1020 are: motor 900, gearbox.final_drive=3.5 120."), "{said}");
    let without = wide["without_price"].as_array().unwrap();
    assert!(without.iter().any(|part| part == "controller"), "{wide}");
    // A field of a part is tried, and the part itself has no price: that is said.
    let field = ["choose", "--try", "controller.motor_current_a=300@10,400@20", "--samples", "10"];
    let field = json(&[&field[..], &["--goal", "running_kg<=1300"]].concat());
    let without = field["without_price"].as_array().unwrap();
    assert!(without.iter().any(|part| part == "controller"), "{field}");
}

/// What nothing hangs on is not to be measured.
#[test]
fn nothing_need_be_measured_where_all_hold_and_nothing_is_cheaper() {
    let asked = ["choose", "--try", "gearbox.final_drive=3.5@120", "--prefer", "running_kg"];
    let asked = [&asked[..], &["--samples", "20", "--goal"]].concat();
    let said = text(&[&asked[..], &["running_kg<=3000"]].concat());
    assert!(said.contains("Nothing need be measured for this choice"), "{said}");
    assert!(!said.contains("What decides most") && !said.contains("± is how far"), "{said}");
}

#[test]
fn a_list_in_a_file_is_that_of_the_options() {
    let folder = folder("choose-list");
    let motor = text(&["parts", "induction-air-small"]);
    fs::write(folder.join("mine.json"), motor).unwrap();
    // A blank in a path is none of its name.
    let list = r#"{"try": {" motor": [{"value": "mine.json", "price": 900},
        {"value": "shelf:induction-air-large", "price": 2200, "note": "dear"}]}}"#;
    let file = folder.join("list.json");
    fs::write(&file, list).unwrap();
    let more = ["--goal", "start_grade_pct>=10", "--prefer", "running_kg", "--samples", "10"];
    let of_file = json(&[&["choose", "--candidates", file.to_str().unwrap()], &more[..]].concat());
    let of_options = json(&[&["choose", "--try", MOTORS], &more[..]].concat());
    assert_eq!(of_file["front"][0]["price"], of_options["front"][0]["price"]);
    assert_eq!(of_file["front"][0]["figures"], of_options["front"][0]["figures"]);
    let schema = json(&["schema", "candidates"]);
    let checker = jsonschema::validator_for(&schema).unwrap();
    assert!(checker.is_valid(&serde_json::from_str(list).unwrap()));
    assert!(!checker.is_valid(&serde_json::from_str(r#"{"try": {"motor": [900]}}"#).unwrap()));
}

#[test]
fn where_nothing_keeps_the_goals_the_nearest_is_said() {
    let asked = ["choose", "--try", MOTORS, "--goal", "usable_kwh>=99"];
    let output = shakedown(&asked);
    let (said, complained) =
        (String::from_utf8(output.stdout).unwrap(), String::from_utf8(output.stderr).unwrap());
    assert_eq!(output.status.code(), Some(1));
    assert_eq!(complained, "no answer: no combination keeps the goals\n");
    assert!(said.contains("Nearest: motor=shelf:induction-air-small"), "{said}");
    let dear = shakedown(&["choose", "--try", MOTORS, "--goal", "usable_kwh>=1", "--budget", "5"]);
    assert_eq!(dear.status.code(), Some(1));
    assert!(String::from_utf8(dear.stderr).unwrap().contains("the cheapest costs 900"));
}

/// At a tenth of its current the demo takes half the energy on its road and stays cooler, as it falls
/// far behind.
#[test]
fn what_falls_behind_its_road_is_not_chosen_for_being_thrifty() {
    let amps = "controller.pack_current_a=40@10,400@900";
    let asked = ["choose", "--try", amps, "--goal", "drive_heat_pct<=100", "--prefer", "wh_per_km"];
    let asked = [&asked[..], &["--samples", "10"]].concat();
    let found = json(&asked);
    assert_eq!(found["front"].as_array().unwrap().len(), 1);
    assert_eq!((&found["front"][0]["price"], &found["keeps_up"]), (&900.0.into(), &true.into()));
    assert!(found["missed"][0]["goal"]["figure"] == "outside_s", "{found}");
    // Whoever says so gets it.
    let own = json(&[&asked[..], &["--goal", "outside_s<=9999"]].concat());
    assert_eq!((&own["front"][0]["price"], &own["keeps_up"]), (&10.0.into(), &false.into()));
}
