//! `bands`, `size` and `compare` as they are called.

use crate::program::{json, shakedown, table};

#[test]
fn all_three_answer_in_tables_and_documents() {
    let bands = ["bands", "--samples", "12", "--run", "climb"];
    assert!(table(&bands).contains("climb winding, °C"));
    assert!(table(&[&bands[..], &["--units", "us"]].concat()).contains("climb winding, °F"));
    let document = json(&bands);
    assert_eq!(document["samples"], 12);
    assert_eq!(document["figures"][0]["figure"], "climb_gear");
    let size = [
        "size",
        "--find",
        "largest",
        "--field",
        "gearbox.final_drive",
        "--between",
        "3..8",
        "--goal",
        "rpm_at_110_kmh_pct<=100",
    ];
    assert!(table(&size).contains("gearbox.final_drive = 6.2"));
    assert_eq!(json(&size)["monotone"], true);
    let compare = ["compare", "--run", "standing", "--vary", "pack.parallel=2,3,4,5"];
    let text = table(&compare);
    assert!(text.contains("E: A with pack.parallel=5"), "{text}");
    assert_eq!(json(&compare)["figures"][0]["values"].as_array().unwrap().len(), 5);
}

#[test]
fn a_build_alone_is_driven_as_the_first_scenario_is() {
    let file = std::env::temp_dir().join(format!("build-{}.json", std::process::id()));
    let scenario = file.with_extension("scenario.json");
    let build = r#"{"donor": "shelf:small-pickup", "gearbox": "shelf:four-speed-rear-drive",
        "motor": "shelf:induction-air-large", "controller": "shelf:mid-voltage-600a",
        "pack": "shelf:iron-phosphate-108v-100ah", "tyre": {"size": "145R12"},
        "placement": {"motor_behind_front_axle_m": 0, "controller_behind_front_axle_m": 0,
        "pack_behind_front_axle_m": 1}}"#;
    let whole = format!(
        r#"{{"build": {build}, "conditions": {{"air_c": 31}}, "start": {{"charge_pct": 80}},
        "runs": {{"climb": {{"grade_pct": 6, "speed_kmh": 50, "distance_km": 2}}}}}}"#
    );
    std::fs::write(&file, build).unwrap();
    std::fs::write(&scenario, whole).unwrap();
    let (a, b) = (scenario.to_str().unwrap(), file.to_str().unwrap());
    let document = json(&["compare", a, b, "--run", "standing,climb"]);
    std::fs::remove_file(&file).unwrap();
    std::fs::remove_file(&scenario).unwrap();
    assert_eq!(document["differences"], serde_json::json!([]));
    let figures = document["figures"].as_array().unwrap();
    assert!(figures.iter().any(|row| row["figure"] == "climb_winding_c"));
    assert!(figures.iter().all(|row| row["values"][0] == row["values"][1]), "{figures:?}");
}

/// With 20 cells the controller's lowest voltage stops the demo after some metres: little taken,
/// nothing hot, and no answer.
#[test]
fn a_car_that_does_not_drive_is_last_and_says_why() {
    let why = "the pack voltage was at the controller's limit";
    let sweep = ["sweep", "--vary", "pack.series=20,34", "--sort", "drive_heat_pct"];
    let sweep = [&sweep[..], &["--figures", "drive_heat_pct"]].concat();
    let said = table(&sweep);
    let rows: Vec<&str> = said.lines().skip(2).collect();
    assert!(rows[0].contains("34") && rows[1].contains("not done"), "{said}");
    assert!(rows[2].contains(&format!("drive is not carried out: {why}")), "{said}");
    let all = table(&[&sweep[..], &["--allow-incomplete"]].concat());
    assert!(all.lines().nth(2).unwrap().trim_start().starts_with("20"), "{all}");
    let compare = ["compare", "--vary", "pack.series=20", "--figures", "range_km,drive_heat_pct"];
    let said = table(&compare);
    assert_eq!(said.matches("not done").count(), 2, "{said}");
    let one_line = said.replace('\n', " ");
    for run in ["range", "drive"] {
        assert!(one_line.contains(&format!("B: {run} was not carried out")), "{said}");
    }
    let regen = table(&["regen", "--set", "pack.series=20", "--lift-off", "10", "--brake", "20"]);
    assert!(regen.contains("No setting is best") && !regen.contains('*'), "{regen}");
    let season = table(&["season", "--set", "pack.series=20"]);
    assert!(season.contains("the road was not driven, so that its figures count"), "{season}");
    for what in ["lowest cell on the road", "charge after the day", "hottest winding"] {
        let line = season.lines().find(|line| line.starts_with(what)).unwrap();
        assert_eq!(line.matches("not done").count(), 3, "{season}");
    }
    let drive = table(&["drive", "--set", "pack.series=20"]);
    let range = drive.lines().find(|line| line.starts_with("range")).unwrap();
    assert!(range.contains("not done from 95 %: after 0."), "{drive}");
    let document = json(&compare);
    assert_eq!(document["not_done"][0]["build"], 1);
}

/// Exit code 1: understood, and there is none.
#[test]
fn a_question_without_an_answer_has_an_exit_code_of_its_own() {
    let none = |args: &[&str], answer: &[&str], why: &str| {
        let found = shakedown(args);
        let said = String::from_utf8(found.stdout).unwrap().replace('\n', " ");
        let complaint = String::from_utf8(found.stderr).unwrap();
        assert_eq!(found.status.code(), Some(1), "{args:?}: {said} {complaint}");
        assert!(answer.iter().all(|words| said.contains(words)), "{args:?}: {said}");
        assert_eq!(complaint, format!("no answer: {why}\n"));
    };
    let size = |what: &[&'static str], field: &'static str, between: &'static str| {
        [&["size", "--field", field, "--between", between][..], what].concat()
    };
    let best = size(&["--best", "to_80_kmh_s"], "driver.up_rpm", "3500..6000");
    let same = "to_80_kmh_s is the same at every value of driver.up_rpm from 3500 to 6000";
    none(&best, &["to_80_kmh_s does not depend on driver.up_rpm", "25 values tried"], same);
    let far = ["--find", "smallest", "--goal", "usable_kwh>=5000"];
    let far = size(&far, "pack.parallel", "1..4");
    let no = "no value of pack.parallel from 1 to 4 keeps the goals";
    none(&far, &["Nearest: 4, where usable_kwh>=5000"], no);
    none(&[&far[..], &["--json"]].concat(), &["\"found\": null", "\"nearest\": 4.0"], no);
    let stalled = ["--find", "smallest", "--goal", "drive_heat_pct<=100"];
    let stalled = size(&stalled, "pack.series", "18..20");
    let no = "no value of pack.series from 18 to 20 keeps the goals";
    none(&stalled, &["drive_heat_pct<=100 is never reached", "drive is not carried out"], no);
}

/// The rpm at which a driver shifts up plays no part at full throttle.
#[test]
fn a_varied_field_that_changes_nothing_is_named() {
    let run = ["--run", "pull"];
    let vary = ["--vary", "driver.up_rpm=4000,5000", "--vary", "motor.mass_kg=52,60"];
    let sweep = [&["sweep"][..], &vary, &run].concat();
    let said = table(&sweep);
    assert!(said.contains("None of the figures shown depends on driver.up_rpm, the"), "{said}");
    assert!(!said.contains("depends on motor.mass_kg"), "{said}");
    let lines = shakedown(&[&sweep[..], &["--json"]].concat());
    assert!(lines.status.success());
    let note = String::from_utf8(lines.stderr).unwrap();
    assert!(note.starts_with("note: None of the figures shown depends on driver.up_rpm"), "{note}");
    let spreads = ["--spread", "driver.up_rpm=±5%", "--spread", "motor.mass_kg=±5%"];
    let bands = [&["bands", "--samples", "10", "--own-only"][..], &spreads, &run].concat();
    let said = table(&bands);
    assert!(said.contains("None of these figures depends on driver.up_rpm."), "{said}");
    assert!(!said.contains("depends on motor.mass_kg"), "{said}");
    let said = table(&[&["compare", "--variant", "driver.up_rpm=4000"][..], &run].concat());
    assert!(said.contains("B comes to the same as A in every figure"), "{said}");
}

#[test]
fn the_seed_decides_what_is_drawn() {
    let draw = |seed| json(&["bands", "--samples", "12", "--run", "standing", "--seed", seed]);
    assert_eq!(draw("5"), draw("5"));
    assert_ne!(draw("5")["figures"], draw("6")["figures"]);
}

#[test]
fn a_file_of_spreads_counts_and_an_option_takes_its_place() {
    let file = std::env::temp_dir().join(format!("spreads-{}.json", std::process::id()));
    std::fs::write(
        &file,
        r#"{"pack.box_mass_kg": {"spread": "uniform:10,30", "reason": "weighed"},
        "motor.mass_kg": "±5%"}"#,
    )
    .unwrap();
    let path = file.to_str().unwrap();
    let common =
        ["bands", "--samples", "10", "--run", "standing", "--own-only", "--spreads-file", path];
    let spread = ["--spread", "motor.mass_kg=uniform:40,60"];
    let document = json(&[&common[..], &spread].concat());
    std::fs::remove_file(&file).unwrap();
    let inputs = document["inputs"].as_array().unwrap();
    assert_eq!(inputs.len(), 2);
    assert_eq!(
        (&inputs[0]["reason"], &inputs[1]["spread"]),
        (&"weighed".into(), &"uniform:40,60".into())
    );
}

#[test]
fn bad_questions_end_in_one_sentence_and_exit_code_2() {
    let size = |extra: &[&'static str]| {
        [&["size", "--find", "smallest", "--field", "motor.mass_kg"][..], extra].concat()
    };
    let bands = |extra: &[&'static str]| [&["bands", "--samples", "10"][..], extra].concat();
    for (arguments, expected) in [
        (
            bands(&["--spread", "tyre.rolling_resistence=±5%"]),
            "did you mean \"rolling_resistance\"?",
        ),
        (bands(&["--spread", "motor.mass_kg=5"]), "the forms are"),
        (bands(&["--spread", "motor.name=±5"]), "it holds no number"),
        (bands(&["--spread", "conditions.head_wind_kmh=±5%"]), "it is 0"),
        (bands(&["--spread", "start.cells_c=±5"]), "it has no value to spread around"),
        (bands(&["--spread", "motor.mass_kg=±5", "--spread", "motor.mass_kg=±6"]), "given twice"),
        (bands(&["--spread", "motor.nosuch.*=±5"]), "no such list"),
        (bands(&["--own-only"]), "nothing is uncertain"),
        (bands(&["--goal", "wh_per_mile<=5"]), "no figure wh_per_mile; did you mean"),
        (bands(&["--spreads-file", "nowhere.json"]), "there is no such file"),
        (vec!["bands", "--samples", "3"], "3 samples; allowed: 10 to 100000"),
        (size(&["--between", "5..4", "--goal", "running_kg<=900"]), "must be more than the first"),
        (size(&["--between", "1..200"]), "--find needs a --goal"),
        (size(&["--between", "1..200", "--goal", "running_lb<=9"]), "did you mean \"running_kg\"?"),
        (size(&["--between", "-9..-2", "--goal", "running_kg<=900"]), "no value of motor.mass_kg"),
        (vec!["size", "--field", "a", "--between", "1..2"], "--find <WHICH>"),
        (vec!["compare"], "1 to compare; needed: 2 to 26"),
        (vec!["compare", "--variant", "motor=shelf:nosuch"], "no motor \"nosuch\" on the shelf"),
    ] {
        let found = shakedown(&arguments);
        let message = String::from_utf8(found.stderr).unwrap();
        assert_eq!(found.status.code(), Some(2), "{arguments:?}: {message}");
        assert!(message.contains(expected), "{arguments:?}: {message}");
        assert_eq!(message.lines().count(), 1, "{message}");
        assert!(message.starts_with("error: ") && found.stdout.is_empty(), "{message}");
    }
}
