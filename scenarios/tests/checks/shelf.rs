//! The parts that come with the program.

use scenarios::{FileKind, Loaded, Override, schema, shelf};
use serde_json::Value;

fn set(path: &str, value: &str) -> Override {
    Override::text(path, value).unwrap()
}

#[test]
fn every_part_drives_in_some_build() {
    let demo = Loaded::demo().unwrap();
    for part in shelf::shelf() {
        let name = format!("shelf:{}", part.name);
        let path = match part.kind {
            FileKind::Cell => "pack.cell".to_owned(),
            kind => kind.name().to_owned(),
        };
        let mut sets = vec![set(&path, &name)];
        if part.name == "single-reduction" {
            sets.push(set("driver", "null"));
        }
        let prepared = demo.with(&sets).unwrap_or_else(|e| panic!("{name}: {e}"));
        let value: Value = serde_json::from_str(part.text).unwrap();
        let note = value["note"].as_str().unwrap();
        assert!(note.contains("nvented"), "{name} must say that its figures are invented: {note}");
        assert!(shelf::named(part.name).is_ok() && shelf::find(part.kind, part.name).is_some());
        let now = prepared.car.now(&prepared.start, 0.0);
        assert!(now.pack.largest_power_w() > 1000.0, "{name}");
    }
}

/// Typical efficiencies at the continuous rating, of the motor alone and warm: general knowledge of
/// machines of 5 to 50 kW; published maps of permanent-magnet traction motors reach 96 %.
#[test]
fn every_motor_is_as_efficient_as_its_class() {
    let demo = Loaded::demo().unwrap();
    for part in shelf::shelf().iter().filter(|p| p.kind == FileKind::Motor) {
        let prepared = demo.with(&[set("motor", &format!("shelf:{}", part.name))]).unwrap();
        let motor = &prepared.car.parts().motor;
        let (watts, radps) =
            (prepared.facts.continuous_w.unwrap(), prepared.facts.continuous_radps.unwrap());
        let torque_nm = watts / radps;
        let volts = motor.machine.envelope.reference_v;
        let point = motor.operating_point(torque_nm, radps, volts);
        let (amperes, loss_w) = (point.current_a, motor.loss(&point, 1.0).total_w());
        let efficiency = watts / (watts + loss_w);
        assert!((0.85..0.965).contains(&efficiency), "{}: {efficiency}", part.name);
        assert!(amperes < 0.6 * motor.machine.peak_current_a, "{}: {amperes} A", part.name);
        let peak_w = motor.machine.envelope.largest_w();
        assert!((2.0..4.0).contains(&(peak_w / watts)), "{}: {peak_w} W", part.name);
    }
}

/// Either chemistry must refuse charge below freezing.
#[test]
fn no_cell_takes_charge_below_freezing() {
    let demo = Loaded::demo().unwrap();
    for part in shelf::shelf().iter().filter(|p| p.kind == FileKind::Cell) {
        let prepared = demo.with(&[set("pack.cell", &format!("shelf:{}", part.name))]).unwrap();
        let cell = &prepared.car.parts().pack.cell;
        assert_eq!(cell.charge_factor.at(272.65), 0.0, "{}", part.name);
        assert_eq!(cell.charge_factor.at(298.15), 1.0, "{}", part.name);
        assert!(cell.resistance_factor.at(273.15) > 1.5, "{}", part.name);
    }
}

#[test]
fn the_schema_accepts_what_is_shipped_and_refuses_what_is_not_read() {
    let scenario = jsonschema::validator_for(&schema(FileKind::Scenario)).unwrap();
    let demo: Value = serde_json::from_str(scenarios::demo::SCENARIO).unwrap();
    assert!(scenario.is_valid(&demo));
    let whole = Loaded::demo().unwrap().prepare().unwrap().echo;
    assert!(scenario.is_valid(&whole), "with every reference resolved");
    let build = jsonschema::validator_for(&schema(FileKind::Build)).unwrap();
    assert!(build.is_valid(&whole["build"]) && !build.is_valid(&whole));
    for part in shelf::shelf() {
        let validator = jsonschema::validator_for(&schema(part.kind)).unwrap();
        let mut value: Value = serde_json::from_str(part.text).unwrap();
        assert!(validator.is_valid(&value), "{}", part.name);
        value["mass_lb"] = 5.into();
        assert!(!validator.is_valid(&value), "{}", part.name);
    }
    for (pointer, wrong) in [
        ("/build/motor", Value::from(5)),
        ("/build/donor/driven", "left".into()),
        ("/build/pack/series", (-1).into()),
        ("/build/gearbox/gears", "four".into()),
        ("/conditions/surface", "mud".into()),
    ] {
        let mut broken = whole.clone();
        *broken.pointer_mut(pointer).unwrap() = wrong;
        assert!(!scenario.is_valid(&broken), "{pointer}");
    }
}

fn values(kind: FileKind) -> impl Iterator<Item = (&'static str, Value)> {
    let of_kind = shelf::shelf().iter().filter(move |part| part.kind == kind);
    of_kind.map(|part| (part.name, serde_json::from_str(part.text).unwrap()))
}

fn number(value: &Value, field: &str) -> f64 {
    value[field].as_f64().unwrap_or_else(|| panic!("no {field} in {value}"))
}

/// A hundred ampere-hours of iron-phosphate weigh 2.0 to 2.3 kg in a can made for storage, with 1C for
/// long and 3C for short, or 3.1 to 3.6 kg in a case made for traction, with 2C to 3C; layered oxide
/// cells of plug-in hybrids 2.3 to 3.0 kg (common practice from data sheets, no source).
#[test]
fn every_cell_is_as_heavy_and_as_strong_as_its_class() {
    for (name, cell) in values(FileKind::Cell) {
        let ah = number(&cell, "capacity_ah");
        let kg = 100.0 * number(&cell, "mass_kg") / ah;
        let (long, short) =
            (number(&cell, "discharge_a") / ah, number(&cell, "discharge_peak_a") / ah);
        let iron_phosphate = number(&cell, "max_v") < 3.8;
        let fits = match (iron_phosphate, kg < 2.6) {
            (true, true) => (2.0..=2.3).contains(&kg) && long <= 1.0 && short <= 3.0,
            (true, false) => (3.1..=3.6).contains(&kg) && long >= 2.0 && short <= 3.0,
            (false, _) => (2.3..=3.0).contains(&kg) && long <= 4.5 && short <= 10.0,
        };
        assert!(fits, "{name}: {kg} kg, {long}C, {short}C");
    }
}

/// A heat sink that nothing but its own rise moves air along: 3 to 6 W/K at this size; the body of a
/// car fills 80 to 85 % of its width times its height (common practice, no source).
#[test]
fn heat_sinks_and_bodies_are_those_of_their_class() {
    for (name, controller) in values(FileKind::Controller) {
        if controller["coolant_c"].is_null() && controller["cooling"].is_null() {
            let w_per_k = number(&controller, "conductance_w_per_k");
            assert!((3.0..=6.0).contains(&w_per_k), "{name}: {w_per_k} W/K");
        }
    }
    for (name, donor) in values(FileKind::Donor) {
        let box_m2 = number(&donor, "width_m") * number(&donor, "height_m");
        let share = number(&donor, "frontal_area_m2") / box_m2;
        assert!((0.795..=0.855).contains(&share), "{name}: {share}");
    }
}

/// Something to choose from in each voltage class of conversions.
#[test]
fn each_voltage_class_has_a_pack_a_controller_and_a_motor() {
    let parsed = |kind| values(kind).map(|(_, part)| part).collect::<Vec<Value>>();
    let of = |kind: FileKind| shelf::shelf().iter().filter(|part| part.kind == kind).count();
    for kind in [FileKind::Donor, FileKind::Gearbox, FileKind::Motor, FileKind::Controller] {
        assert!(of(kind) >= 4, "{}", kind.name());
    }
    assert!(of(FileKind::Pack) >= 4 && of(FileKind::Cell) >= 4);
    for class_v in [96.0, 108.0, 144.0, 355.0] {
        let cell_v = |pack: &Value| if number(pack, "series") > 90.0 { 3.7 } else { 3.2 };
        let near = |v: f64| (v - class_v).abs() < 0.05 * class_v;
        let packs = parsed(FileKind::Pack);
        assert!(packs.iter().any(|p| near(number(p, "series") * cell_v(p))), "{class_v} V");
        let bears =
            |c: &Value| number(c, "min_v") < 0.8 * class_v && number(c, "max_v") > 1.14 * class_v;
        assert!(parsed(FileKind::Controller).iter().any(bears), "{class_v} V");
        // A motor does at a lower voltage than its own what it does, at lower speed.
        let fits = |m: &Value| (0.95..1.4).contains(&(class_v / number(m, "reference_v")));
        assert!(parsed(FileKind::Motor).iter().any(fits), "{class_v} V");
    }
}
