//! Other values in place of those in the files.

use scenarios::{Loaded, Override, Prepared};

fn with(sets: &[&str]) -> Prepared {
    let sets: Vec<Override> = sets.iter().map(|text| text.parse().unwrap()).collect();
    Loaded::demo().unwrap().with(&sets).unwrap_or_else(|e| panic!("{e}"))
}

#[test]
fn a_value_reaches_its_part_by_either_path() {
    let plain = with(&[]);
    let short = with(&["motor.mass_kg=72"]);
    let long = with(&["build.motor.mass_kg=72"]);
    let mass = |p: &Prepared| p.car.parts().chassis.mass_kg;
    assert!((mass(&short) - mass(&plain) - 20.0).abs() < 1e-9);
    assert_eq!(short.car, long.car);
    assert_eq!(short.echo["build"]["motor"]["mass_kg"], 72);
    assert_eq!(plain.echo["build"]["motor"]["mass_kg"], 52, "nothing is left of other overrides");
}

#[test]
fn items_are_counted_from_one() {
    let ratio = |p: &Prepared, gear: usize| p.car.parts().gearbox.gears()[gear].ratio;
    let changed = with(&["gearbox.gears.2.ratio=2.5", "gearbox.final_drive=4"]);
    assert_eq!((ratio(&changed, 0), ratio(&changed, 1)), (3.76 * 4.0, 2.5 * 4.0));
}

#[test]
fn fields_that_the_file_leaves_out_can_be_put_in_and_taken_away() {
    let cold = with(&[
        "auxiliaries.cabin.set_c=20",
        "auxiliaries.cabin.heater_kw=3",
        "conditions.air_c=-5",
        "start.charge_pct=null",
        "regen=null",
    ]);
    let cabin = cold.car.parts().auxiliaries.cabin.unwrap();
    assert_eq!((cabin.heater_w, cabin.set_k), (3000.0, 293.15));
    assert_eq!(cold.start.charge, 1.0);
    for path in ["build.auxiliaries.cabin.heat_capacity_kj_per_k", "start.charge_pct"] {
        assert!(cold.assumptions.iter().any(|a| a.path == path), "{path}");
    }
    assert!(cold.assumptions.iter().any(|a| a.path == "build.regen.lift_off_pct"));
}

#[test]
fn only_what_was_needed_is_assumed() {
    let assumed = |p: &Prepared| p.assumptions.iter().any(|a| a.path.contains("gearbox.eff"));
    assert!(!assumed(&with(&[])), "every gear of the demo says its efficiency");
    let silent = with(&["gearbox.gears.2.efficiency_pct=null"]);
    assert!(assumed(&silent));
    assert_eq!(silent.car.parts().gearbox.gears()[1].efficiency, 0.95);
}

#[test]
fn a_part_can_be_swapped_and_then_changed() {
    let folder = std::path::PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("overrides");
    std::fs::create_dir_all(&folder).unwrap();
    let path = folder.join("motor.json");
    std::fs::write(&path, scenarios::shelf::named("induction-air-large").unwrap().text).unwrap();
    let from_file = with(&[&format!("motor={}", path.display()), "motor.mass_kg=70"]);
    let from_shelf = with(&["motor=shelf:induction-air-large", "motor.mass_kg=70"]);
    assert_eq!(from_file.car, from_shelf.car);
    assert_eq!(from_shelf.facts.continuous_w, Some(15_000.0));
    let pack = with(&["pack=shelf:blend-355v-50ah", "pack.cell=shelf:iron-phosphate-100ah"]);
    assert_eq!(pack.car.parts().pack.series, 96.0);
    assert_eq!(pack.car.parts().pack.cell.capacity_as, 360_000.0);
    let inline = with(&["pack.cell={\"name\":\"x\"}", "pack.cell=shelf:blend-50ah"]);
    assert_eq!(inline.facts.cell, "layered oxide and spinel cell, 50 Ah");
}

#[test]
fn a_build_alone_drives_under_mild_conditions() {
    let folder = std::path::PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("builds");
    std::fs::create_dir_all(&folder).unwrap();
    let path = folder.join("build.json");
    std::fs::write(&path, with(&[]).echo["build"].to_string()).unwrap();
    let alone = Loaded::open(&path).unwrap().prepare().unwrap();
    assert_eq!(alone.name, "electric small pickup");
    assert_eq!(alone.car.surroundings().air_k, 293.15);
    assert_eq!(alone.car.parts(), with(&[]).car.parts());
    assert!(alone.drives.climb.is_none() && alone.drives.commute.is_none());
    assert!(alone.assumptions.iter().any(|a| a.path == "conditions.air_c"));
    // A road is looked for beside the file that names it.
    let scenario = r#"{ "build": "build.json", "runs": { "commute": { "cycle": "road.csv" } } }"#;
    std::fs::write(folder.join("scenario.json"), scenario).unwrap();
    std::fs::write(folder.join("road.csv"), "distance_m,limit_kmh\n0,50\n900,50\n").unwrap();
    let scenario = Loaded::open(folder.join("scenario.json")).unwrap().prepare().unwrap();
    let options = cycles::LoadOptions::default();
    let road = scenario.read(&scenario.road(), &options).unwrap();
    assert!((road.schedule.distance_m() - 900.0).abs() < 1e-6);
    let built_in = with(&["runs.commute.cycle=wltc-3b"]);
    let trace = built_in.read(&built_in.road(), &options).unwrap().schedule;
    assert_eq!(trace.duration_s(), 1800.0);
    let missing = with(&["runs.commute.cycle=nowhere.csv"]);
    assert!(missing.read(&missing.road(), &options).is_err());
}
