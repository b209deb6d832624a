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
