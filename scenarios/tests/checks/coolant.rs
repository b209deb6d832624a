//! The coolant of a build: what is assumed of its radiator, and when it may be spoken of.

use scenarios::runs::{drive, trace};
use scenarios::{Loaded, Override, Prepared};
use sim_core::Node;
use sim_core::charging::park;
use sim_core::motor::copper_factor;

const LIQUID: [&str; 3] = [
    "motor=shelf:permanent-magnet-liquid",
    "controller=shelf:high-voltage-liquid",
    "pack=shelf:blend-355v-50ah",
];

fn demo(sets: &[&str]) -> Result<Prepared, scenarios::Error> {
    let sets: Vec<Override> = sets.iter().map(|text| text.parse().unwrap()).collect();
    Loaded::demo().unwrap().with(&sets)
}

/// The cooler of the two rated coolants, 50 °C, is 10 K above the 40 °C of ratings (IEC 60034-1, from
/// memory): the radiator carries the heat of the continuous rating on those 10 K, which lies between
/// that of a winding as cold as the coolant and of one at its class temperature, 155 °C.
#[test]
fn an_assumed_radiator_carries_the_heat_of_the_ratings() {
    let prepared = demo(&LIQUID).unwrap();
    let parts = prepared.car.parts();
    let radiator = parts.coolant.radiator;
    let radps = prepared.facts.continuous_radps.unwrap();
    let torque_nm = prepared.facts.continuous_w.unwrap() / radps;
    let volts = parts.motor.machine.envelope.reference_v;
    let point = parts.motor.operating_point(torque_nm, radps, volts);
    let heat_w = |winding_c: f64| {
        let factor = copper_factor(winding_c + 273.15, parts.motor.loss_reference_k);
        parts.motor.loss(&point, factor).total_w() + parts.controller.loss_w(point.current_a)
    };
    let carried_w = 10.0 * (radiator.still + radiator.fan);
    assert!((heat_w(50.0)..heat_w(155.0)).contains(&carried_w), "{carried_w} W");
    let assumed = |path: &str| prepared.assumptions.iter().any(|a| a.path == path);
    for field in ["heat_capacity_kj_per_k", "still_air_w_per_k", "fan_w_per_k"] {
        assert!(assumed(&format!("build.coolant.{field}")), "{field} is assumed in silence");
    }
}

#[test]
fn a_coolant_without_a_liquid_cooled_part_is_refused() {
    let said = demo(&[r#"coolant={"fan_w_per_k":100}"#]).unwrap_err().to_string();
    assert!(said.contains("coolant is given; allowed: this only with a liquid-cooled"), "{said}");
    let none = demo(&[]).unwrap();
    assert!(!none.assumptions.iter().any(|a| a.path.contains("coolant")), "a radiator of nothing");
}

/// Nothing in a car that has stood at −5 °C is warmer than −5 °C.
#[test]
fn a_liquid_cooled_car_that_stood_in_the_cold_is_cold() {
    let prepared = demo(&[&LIQUID[..], &["conditions.air_c=-5"]].concat()).unwrap();
    let parked = park(&prepared.car, &prepared.start, 36_000.0);
    for node in Node::ALL {
        let c = parked.temperature_k[node] - 273.15;
        assert!((c + 5.0).abs() < 1e-9, "{node:?} at {c} °C");
    }
    let warm = demo(&[&LIQUID[..], &["start.coolant_c=45"]].concat()).unwrap();
    assert!((warm.start.temperature_k[Node::Coolant] - 318.15).abs() < 1e-9);
}

/// Heat flows from the parts to the coolant and on to the air (second law), so a drive's hottest
/// coolant lies between the air and the hottest heat sink; a car without coolant tells of none.
#[test]
fn a_drive_tells_how_hot_the_coolant_became() {
    let hottest = |sets: &[&str]| {
        let prepared = demo(sets).unwrap();
        let road = trace(&cycles::find("us06").unwrap()).unwrap();
        let setup = prepared.setup();
        drive::peak(setup.car, &drive::drive(&setup, &road, &mut ()))
    };
    let found = hottest(&[&LIQUID[..], &["conditions.air_c=30"]].concat());
    let coolant_c = found.coolant_c.unwrap();
    assert!(coolant_c > 30.5 && coolant_c < found.heat_sink_c, "{found:?}");
    assert!(found.oil_c > 30.5, "{found:?}");
    assert_eq!(hottest(&[]).coolant_c, None);
}
