//! Whatever is wrong with an input, one sentence says where and what is allowed.

use scenarios::{Error, Loaded, Override};
use std::path::{Path, PathBuf};

fn folder(name: &str) -> PathBuf {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("bad_inputs").join(name);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

fn file(folder: &Path, name: &str, content: impl AsRef<[u8]>) -> PathBuf {
    let path = folder.join(name);
    std::fs::write(&path, content).unwrap();
    path
}

/// The demo's build as a file with everything inline.
fn whole_build() -> serde_json::Value {
    Loaded::demo().unwrap().prepare().unwrap().echo["build"].clone()
}

fn refusal(path: &Path) -> String {
    let found = Loaded::open(path).and_then(|loaded| loaded.prepare());
    one_sentence(found.map(|_| ()).expect_err(&path.display().to_string()))
}

fn one_sentence(error: Error) -> String {
    let sentence = error.to_string();
    assert!(!sentence.contains('\n'), "{sentence}");
    sentence
}

#[test]
fn values_that_are_not_allowed() {
    let demo = Loaded::demo().unwrap();
    let mut wrong = Vec::new();
    for (set, expected) in [
        (
            "motor.peak_torque_nm=-5",
            "motor.peak_torque_nm is -5; allowed: more than 0 and at most 5000",
        ),
        ("motor.peak_torque_nm=1e300", "motor.peak_torque_nm is 1e300; allowed"),
        ("build.motor.mass_kg=0", "build.motor.mass_kg is 0; allowed: 0.5 to 1000"),
        ("motor.mass_kg=-40", "motor.mass_kg is -40; allowed"),
        ("motor.mass_kg=\"heavy\"", "motor.mass_kg is the text \"heavy\"; allowed: a number"),
        ("motor.mass_kg=[]", "motor.mass_kg is a list; allowed: a number"),
        ("motor.mass_kg=null", "motor.mass_kg is null; allowed: a number"),
        (
            "motor.kind=steam",
            "motor.kind is \"steam\"; allowed: induction, permanent_magnet, series_dc",
        ),
        ("motor.kind=inducton", "did you mean \"induction\""),
        (
            "motor.base_rpm=3000",
            "motor.base_rpm is given beside peak_power_kw; allowed: only one of the two",
        ),
        ("motor.peak_power_kw=null", "motor.peak_power_kw is missing; needed: peak_torque_nm with"),
        (
            "motor.peak_power_kw=200",
            "motor.peak_power_kw is 200; allowed: less than peak torque times max_rpm",
        ),
        ("motor.power_at_max_rpm_kw=20", "given beside"),
        ("motor.peak_torque_curve=[]", "given beside peak_torque_curve"),
        ("motor.max_rpm=0", "motor.max_rpm is 0; allowed: 500 to 30000"),
        ("motor.saturation_current_a=100", "allowed: this only in a motor of kind series_dc"),
        (
            "motor.kind=series_dc",
            "shelf:induction-air-medium: magnetising_current_a is given; allowed: this only in a motor of kind induction",
        ),
        (
            "motor.loss_coefficients=null",
            "motor.loss_coefficients is missing; needed: loss_coefficients, efficiency_points or",
        ),
        ("motor.loss_coefficients.copper_w_per_a2=0", "copper_w_per_a2 is 0; allowed: more than 0"),
        ("motor.efficiency_points=[]", "efficiency_points is given beside loss_coefficients"),
        ("motor.nameplate=null", "motor.nameplate is missing; needed: nameplate or nodes"),
        ("motor.nameplate.insulation_class=Z", "insulation_class is \"Z\"; allowed: B, F, H"),
        (
            "motor.nameplate.continuous_power_kw=40",
            "continuous_power_kw is 40; allowed: at most the peak at that speed",
        ),
        (
            "motor.nameplate.specific_heat_j_per_kg_k=5900",
            "nameplate.specific_heat_j_per_kg_k is 5900; allowed: 400 to 560",
        ),
        (
            "motor.nameplate.cooling=liquid",
            "ambient_c is given; allowed: this only with air cooling",
        ),
        (
            "motor.cut_off_c=100",
            "motor.cut_off_c is 100; allowed: at least 1 more than warning_c, 155",
        ),
        ("gearbox.gears=[]", "gearbox.gears is a list of 0; allowed: 1 to 24 gears"),
        ("gearbox.gears=null", "gearbox.gears is missing; needed: gears with a final_drive"),
        (
            "gearbox.gears.2.ratio=5",
            "gearbox.gears.2.ratio is 5; allowed: less than the 3.76 of the gear before it",
        ),
        ("gearbox.gears.2.ratio=0", "gearbox.gears.2.ratio is 0; allowed"),
        ("gearbox.gears.9.ratio=1", "\"9\" is no item of build.gearbox.gears; allowed: 1 to 4"),
        ("gearbox.gears.0.ratio=1", "\"0\" is no item of build.gearbox.gears; allowed: 1 to 4"),
        (
            "gearbox.final_drive=null",
            "final_drive is missing; needed: the ratio of the final drive",
        ),
        ("gearbox.single=8", "gearbox.single is given beside gears; allowed: only one of the two"),
        (
            "gearbox.clutch.kept=yes",
            "gearbox.clutch.kept is the text \"yes\"; allowed: true or false",
        ),
        ("controller.max_v=60", "controller.max_v is 60; allowed: more than min_v, 70"),
        ("controller.cut_off_c=20", "controller.cut_off_c is 20; allowed: more than warning_c, 75"),
        ("pack.series=0", "pack.series is 0; allowed: 1 to 400"),
        ("pack.series=null", "pack.series is missing; needed: it has no default"),
        ("pack.series=-1", "pack.series is the number -1; allowed: a whole number from 0 on"),
        ("pack.series=3.5", "pack.series is the number 3.5; allowed: a whole number from 0 on"),
        (
            "pack.max_charge_pct=12",
            "pack.max_charge_pct is 12; allowed: at least 5 more than min_charge_pct, 10",
        ),
        ("pack.state_of_health_pct=5", "pack.state_of_health_pct is 5; allowed: 10 to 120"),
        ("pack.wall_area_m2=0", "pack.wall_area_m2 is 0; allowed"),
        ("pack.box_conductance_w_per_k=4", "is given beside box_conductance_w_per_k"),
        (
            "pack.cell.open_circuit=[]",
            "pack.cell.open_circuit is a list of 0; allowed: 1 to 1000 points",
        ),
        (
            "pack.cell.open_circuit.3.charge_pct=1",
            "open_circuit.3.charge_pct is 1; allowed: more than the 2 of the point before it",
        ),
        (
            "pack.cell.open_circuit.3.v=2.7",
            "open_circuit.3.v is 2.7; allowed: at least the 2.95 of the point before it",
        ),
        (
            "pack.cell.resistance_growth.5.factor=2",
            "resistance_growth is 2.000 at 25 °C; allowed: 1 at 25 °C",
        ),
        ("pack.cell.max_v=3.3", "open_circuit.15.v is 3.42; allowed: at most max_v, 3.3"),
        ("pack.cell.charge_peak_a=10", "charge_peak_a is 10; allowed: at least charge_a, 60"),
        ("pack.cell.capacity_ah=0", "capacity_ah is 0; allowed: 0.1 to 2000"),
        ("pack.cell=5", "pack.cell is the number 5; allowed: an object in { }"),
        (
            "pack.cell=shelf:iron-phosphat",
            "no cell \"iron-phosphat\" on the shelf; did you mean \"iron-phosphate-40ah\"?",
        ),
        ("motor=shelf:iron-phosphate-100ah", "no motor \"iron-phosphate-100ah\" on the shelf"),
        ("motor=nowhere.json", "nowhere.json: there is no such file"),
        ("motor=/", "/: is a folder; needed: a JSON file"),
        ("donor.kerb_mass_kg=-1", "donor.kerb_mass_kg is -1; allowed: 150 to 5000"),
        ("donor.driven=left", "donor.driven is \"left\"; allowed: front, rear, both"),
        (
            "donor.coast_down={}",
            "donor.coast_down is given beside drag_coefficient; allowed: only one",
        ),
        (
            "donor.frontal_area_m2=null",
            "frontal_area_m2 is missing; needed: it goes with drag_coefficient",
        ),
        ("tyre.size=round", "tyre.size is \"round\"; allowed: a code such as 165/70R13"),
        ("tyre.size=400/100R24", "tyre.size is \"400/100R24\"; allowed: a tyre that rolls on"),
        (
            "tyre.rolling_radius_m=0.3",
            "tyre.rolling_radius_m is given beside size; allowed: only one of the two",
        ),
        (
            "tyre.size=null",
            "tyre.size is missing; needed: one of size, rolling_radius_m and revolutions_per_km",
        ),
        (
            r#"tyre={"size":"145R12","rolling_resistance":1}"#,
            "tyre.rolling_resistance is 1; allowed: 0.003 to 0.05",
        ),
        ("removed.1.mass_kg=-98", "removed.1.mass_kg is -98; allowed: 0 to 3000"),
        (
            "removed.1.mass_kg=900",
            "removed is 963 kg in all; allowed: at most 80 % of the kerb mass, 552 kg",
        ),
        (
            "placement.pack_behind_front_axle_m=99",
            "pack_behind_front_axle_m is 99; allowed: -2.5 to 8",
        ),
        (
            "load=[{\"item\":\"stone\",\"mass_kg\":3000,\"behind_front_axle_m\":8}]",
            "placement is such that the centre of gravity lies",
        ),
        ("load=[{\"item\":\"stone\"}]", "load.1.mass_kg is missing; needed"),
        ("auxiliaries.dc_dc_efficiency_pct=0", "dc_dc_efficiency_pct is 0; allowed: 20 to 100"),
        ("auxiliaries.low_voltage.1.power_w=-1", "low_voltage.1.power_w is -1; allowed: 0 to 5000"),
        ("regen.lift_off_nm=5", "is given beside lift_off_pct; allowed: only one of the two"),
        ("regen.brake_pedal_pct=101", "regen.brake_pedal_pct is 101; allowed: 0 to 100"),
        (
            "regen.full_above_kmh=3",
            "regen.full_above_kmh is 3; allowed: at least 0.1 more than fade_out_kmh, 6",
        ),
        (
            "driver.shifting=fixed",
            "driver.up_rpm is given; allowed: this only with window shifting",
        ),
        ("driver.start_gear=5", "driver.start_gear is 5; allowed: 1 to 4"),
        ("driver.start_gear=0", "driver.start_gear is 0; allowed: 1 to 4"),
        ("driver.down_rpm=5000", "driver.down_rpm is 5000; allowed: less than up_rpm, 4600"),
        ("conditions.air_c=300", "conditions.air_c is 300; allowed: -40 to 55"),
        ("conditions.altitude_m=9000", "conditions.altitude_m is 9000; allowed: -450 to 6000"),
        (
            "conditions.friction=0.5",
            "conditions.friction is given beside surface; allowed: only one of the two",
        ),
        ("start.charge_pct=120", "start.charge_pct is 120; allowed: 0 to 100"),
        ("start.charge_pct=-1", "start.charge_pct is -1; allowed: 0 to 100"),
        ("runs.climb.grade_pct=90", "runs.climb.grade_pct is 90; allowed: -40 to 60"),
        (
            "runs.climb.minutes=5",
            "runs.climb.minutes is given beside distance_km; allowed: only one of the two",
        ),
        ("runs.climb.speed_kmh=0", "runs.climb.speed_kmh is 0; allowed: 1 to 300"),
        (
            "runs.commute.cycle=",
            "runs.commute.cycle is an empty string; allowed: the name of a cycle",
        ),
        ("runs.pull.to_kmh=[50,-1]", "runs.pull.to_kmh.2 is -1; allowed: 1 to 300"),
        (
            "motor.peak_torqe_nm=5",
            "unknown field \"peak_torqe_nm\" in motor; did you mean \"peak_torque_nm\"?",
        ),
        ("motor.mass_lb=5", "unknown field \"mass_lb\" in motor; did you mean \"mass_kg\"?"),
        ("conditons.air_c=5", "unknown field \"conditons\" in build; did you mean \"conditions\"?"),
        ("conditions.air_f=5", "unknown field \"air_f\" in conditions; did you mean \"air_c\"?"),
        ("moter.mass_kg=5", "unknown field \"moter\" in build; did you mean \"motor\"?"),
        ("runs.comute.cycle=wltc", "unknown field \"comute\" in runs; did you mean \"commute\"?"),
        ("name.x=5", "name.x: name is a single value and holds no \"x\""),
    ] {
        let found = set.parse::<Override>().and_then(|one| demo.with(&[one]));
        let sentence = one_sentence(found.map(|_| ()).expect_err(set));
        if !sentence.contains(expected) || sentence.contains("--") {
            wrong.push(format!("{set}\n  {sentence}\n  {expected}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn overrides_that_are_none() {
    for (text, expected) in [
        ("motor.mass_kg", "has no value; needed: path=value"),
        ("=5", "is no path"),
        ("a..b=5", "is no path"),
        (".=5", "is no path"),
        ("motor.mass_kg=NaN", "NaN is no finite number"),
        ("motor.mass_kg=inf", "inf is no finite number"),
        ("motor.mass_kg=1e999", "is no finite number"),
        ("load=[1,", "is not JSON"),
        ("motor={\"a\":1,\"a\":2}", "is not JSON"),
    ] {
        let sentence = one_sentence(text.parse::<Override>().expect_err(text));
        assert!(sentence.contains(expected), "{text}: {sentence}");
    }
    assert!(Override::number("motor.mass_kg", f64::NAN).is_err());
}

#[test]
fn texts_that_are_no_scenario() {
    let folder = folder("texts");
    let deep = "[".repeat(200);
    let deep_objects = format!("{}1{}", "{\"a\":".repeat(300), "}".repeat(300));
    for (name, content, expected) in [
        ("empty", "", "line 1, column 0: not JSON: EOF while parsing a value"),
        ("word", "truck", "line 1, column 4: not JSON: expected ident"),
        ("list", "[]", "holds a list; needed: an object that describes a scenario"),
        ("null", "null", "holds null; needed: an object"),
        ("string", "\"x.json\"", "holds a string; needed: an object"),
        ("open", "{\"build\": {", "not JSON: EOF while parsing an object"),
        ("comma", "{\"name\": \"a\",}", "not JSON: trailing comma"),
        (
            "no_comma",
            "{\"name\": \"a\"\n \"note\": \"b\"}",
            "expected `,` or `}`; is a comma missing at the end of what stands before?",
        ),
        ("more", "{} {}", "something stands after the end of the JSON text"),
        (
            "twice",
            "{\"name\": \"a\",\n \"name\": \"b\"}",
            "line 2, column 7: the key \"name\" stands twice in an object",
        ),
        (
            "infinite",
            "{\"build\": {\"donor\": {\"kerb_mass_kg\": 1e999}}}",
            "a number is too large; allowed: up to 1e308",
        ),
        ("nan", "{\"build\": {\"donor\": {\"kerb_mass_kg\": NaN}}}", "not JSON"),
        ("deep", deep.as_str(), "nested too deeply"),
        ("deep_objects", deep_objects.as_str(), "nested too deeply"),
        ("nothing", "{}", "donor is missing; needed"),
        ("number", "{\"build\": 5}", "build is the number 5; allowed: an object"),
        ("newline", "{\"a\\nb\": 5}", "unknown field"),
    ] {
        let path = file(&folder, &format!("{name}.json"), content);
        let sentence = refusal_raw(&path);
        assert!(sentence.contains(expected), "{name}\n  {sentence}\n  {expected}");
        assert!(sentence.starts_with(&path.display().to_string()), "{sentence}");
    }
}

/// As [`refusal`], for keys that hold a line break of their own.
fn refusal_raw(path: &Path) -> String {
    Loaded::open(path).and_then(|l| l.prepare()).map(|_| ()).expect_err("refused").to_string()
}

#[test]
fn files_that_cannot_be_read() {
    let folder = folder("files");
    let not_text = file(&folder, "latin.json", b"{\"name\": \"\xe9\"}");
    assert!(refusal(&not_text).ends_with("byte 10 is not UTF-8 text"));
    let large = folder.join("large.json");
    std::fs::File::create(&large).unwrap().set_len(3_000_001).unwrap();
    let sentence = refusal(&large);
    assert!(sentence.ends_with("is 3000001 bytes long; allowed: at most 3000000"), "{sentence}");
    assert!(refusal(&folder).ends_with("is a folder; needed: a JSON file"));
    assert!(refusal(&folder.join("none.json")).ends_with("there is no such file"));
    let long = folder.join("x".repeat(5000));
    assert!(!refusal(&long).is_empty());
    #[cfg(unix)]
    assert!(refusal(Path::new("/dev/zero")).ends_with("is not a plain file; needed: a JSON file"));
}

#[test]
fn references_that_lead_nowhere_or_back() {
    let folder = folder("references");
    let mut build = whole_build();
    for (part, reference, expected) in [
        ("motor", "none.json", "motor \""),
        ("motor", "none.json", "there is no such file"),
        ("motor", ".", "is a folder; needed: a JSON file"),
        ("motor", "self.json", "motor \"self.json\" refers back to itself"),
        ("motor", "shelf:", "no motor \"\" on the shelf"),
        (
            "gearbox",
            "list.json",
            "list.json: holds a list; needed: an object that describes a gearbox",
        ),
        ("gearbox", "broken.json", "broken.json: line 1, column 2: not JSON"),
    ] {
        file(&folder, "list.json", "[1]");
        file(&folder, "broken.json", "{,");
        build[part] = reference.into();
        let path = file(&folder, "self.json", build.to_string());
        let sentence = refusal(&path);
        assert!(sentence.contains(expected), "{sentence}");
        build = whole_build();
    }
    // A pack whose cell is the file of the pack.
    let mut pack = build["pack"].clone();
    pack["cell"] = "pack.json".into();
    file(&folder, "pack.json", pack.to_string());
    build["pack"] = "pack.json".into();
    let path = file(&folder, "circle.json", build.to_string());
    assert!(refusal(&path).contains("cell \"pack.json\" refers back to itself"));
}

#[test]
fn a_refusal_names_the_file_in_which_the_value_stands() {
    let folder = folder("origins");
    std::fs::create_dir_all(folder.join("parts")).unwrap();
    let mut build = whole_build();
    let mut motor = build["motor"].clone();
    motor["peak_torque_nm"] = (-5).into();
    let motor_path = file(&folder.join("parts"), "motor.json", motor.to_string());
    let mut cell = build["pack"]["cell"].clone();
    cell["min_v"] = 9.into();
    file(&folder.join("parts"), "cell.json", cell.to_string());
    let mut pack = build["pack"].clone();
    pack["cell"] = "cell.json".into();
    file(&folder.join("parts"), "pack.json", pack.to_string());

    let mut inline = build.clone();
    inline["motor"] = motor;
    let path = file(&folder, "inline.json", inline.to_string());
    let allowed = "is -5; allowed: more than 0 and at most 5000";
    assert_eq!(refusal(&path), format!("{}: motor.peak_torque_nm {allowed}", path.display()));

    build["motor"] = "parts/motor.json".into();
    let path = file(&folder, "referring.json", build.to_string());
    assert_eq!(refusal(&path), format!("{}: peak_torque_nm {allowed}", motor_path.display()));

    let scenario = serde_json::json!({ "build": "referring.json" });
    let path = file(&folder, "scenario.json", scenario.to_string());
    assert_eq!(refusal(&path), format!("{}: peak_torque_nm {allowed}", motor_path.display()));

    build["motor"] = "shelf:induction-air-small".into();
    build["pack"] = "parts/pack.json".into();
    file(&folder, "referring.json", build.to_string());
    let sentence = refusal(&path);
    assert!(sentence.contains("cell.json: min_v is 9; allowed: 0.5 to 5"), "{sentence}");
}
