//! Whatever a file says, it is refused in one sentence or makes a car of finite numbers.

use proptest::prelude::*;
use scenarios::{Error, Loaded, Override, Prepared};
use serde_json::Value;
use sim_core::car::{Request, Slope};

/// Paths of everything in a tree that is not an object.
fn leaves(value: &Value, path: &str, found: &mut Vec<String>) {
    let below = |key: &str| if path.is_empty() { key.to_owned() } else { format!("{path}.{key}") };
    match value {
        Value::Object(map) => map.iter().for_each(|(k, v)| leaves(v, &below(k), found)),
        Value::Array(list) => {
            found.push(path.to_owned());
            for (i, item) in list.iter().enumerate() {
                leaves(item, &below(&(i + 1).to_string()), found);
            }
        }
        _ => found.push(path.to_owned()),
    }
}

fn value() -> impl Strategy<Value = Value> {
    let edge = [0.0, -0.0, 1e-300, -1e-9, 1e300, 0.5, 1.0, 100.0, 1e6];
    prop_oneof![
        4 => prop::num::f64::NORMAL.prop_map(Value::from),
        4 => (-2.0..300.0_f64).prop_map(Value::from),
        3 => prop::sample::select(edge.to_vec()).prop_map(Value::from),
        2 => (-3..400_i64).prop_map(Value::from),
        1 => Just(Value::Null),
        1 => Just(Value::Bool(true)),
        1 => Just(serde_json::json!([])),
        1 => Just(serde_json::json!({})),
        1 => "[a-z:_\\.]{0,12}".prop_map(Value::from),
    ]
}

/// Everything that a car does in three situations must be a number.
fn drives(prepared: &Prepared) {
    let car = &prepared.car;
    let now = car.now(&prepared.start, 1.0);
    let slope = Slope::from_grade(0.1);
    for gear in 0..car.gears() {
        for speed_mps in [0.0, 8.0, 30.0] {
            for request in [Request::FullThrottle, Request::LiftOff, Request::Accelerate(-3.0)] {
                let flow = car.act(&now, speed_mps, slope, gear, request);
                let numbers = [
                    flow.acceleration_mps2,
                    flow.torque_nm,
                    flow.motor_a,
                    flow.pack_a,
                    flow.pack_v,
                    flow.low_cell_v,
                    flow.drive_n,
                    flow.friction_n,
                ];
                assert!(numbers.iter().all(|n| n.is_finite()), "{speed_mps} m/s: {flow:?}");
            }
        }
    }
}

fn one_sentence(error: &Error) {
    let sentence = error.to_string();
    assert!(!sentence.is_empty() && !sentence.contains('\n'), "{sentence}");
}

/// All that a car was prepared with, or why it was not.
fn told(found: Result<Prepared, Error>) -> String {
    match found {
        Ok(p) => {
            let Prepared { car, driver, start, charger, prices, drives, .. } = &p;
            let taken = (&p.name, &p.file, &p.facts, &p.assumptions, &p.scenario);
            let echo = &*p.echo;
            format!("{:?}", (car, driver, start, charger, prices, drives, taken, echo))
        }
        Err(error) => error.to_string(),
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..Default::default() })]

    #[test]
    fn any_values_in_any_fields(
        changes in prop::collection::vec((any::<prop::sample::Index>(), value()), 1..4)
    ) {
        let demo = Loaded::demo().unwrap();
        let mut paths = Vec::new();
        leaves(&demo.prepare().unwrap().echo, "", &mut paths);
        let sets: Vec<Override> = changes
            .into_iter()
            .map(|(at, value)| Override::new(at.get(paths.as_slice()).as_str(), value).unwrap())
            .collect();
        match demo.with(&sets) {
            Ok(prepared) => drives(&prepared),
            Err(error) => one_sentence(&error),
        }
    }

    /// What is read and checked again is only what changed, and no one can tell: a change of the
    /// name is none that is read by itself.
    #[test]
    fn a_changed_field_is_as_good_as_everything_anew(
        changes in prop::collection::vec((any::<prop::sample::Index>(), 0.9..1.1_f64, value()), 0..4),
        odd in prop::sample::select(vec![0, 0, 0, 1]),
    ) {
        let demo = Loaded::demo().unwrap();
        let own = demo.prepare().unwrap().echo;
        let mut paths = Vec::new();
        leaves(&own, "", &mut paths);
        let more = ["regen.lift_off_pct", "auxiliaries.cabin.set_c", "coolant", "pack.cell", "tyre"];
        paths.extend(more.map(str::to_owned));
        let mut sets = Vec::new();
        for (at, scale, any) in changes {
            let path = at.get(paths.as_slice()).as_str();
            let now = own.pointer(&format!("/{}", path.replace('.', "/"))).and_then(Value::as_f64);
            let value = now.filter(|_| odd == 0).map_or(any, |now: f64| Value::from(now * scale));
            // What equals the former value is no change, and a zero equals its negative.
            let value = if value == 0.0 { Value::from(0.0) } else { value };
            sets.push(Override::new(path, value).unwrap());
        }
        let changed = told(demo.with(&sets));
        sets.insert(0, Override::new("name", own["name"].clone()).unwrap());
        prop_assert_eq!(changed, told(demo.with(&sets)));
    }

    #[test]
    fn any_override_text(text in "[a-z_.0-9]{0,20}=?.{0,20}") {
        match text.parse::<Override>() {
            Ok(one) => {
                if let Err(error) = Loaded::demo().unwrap().with(&[one]) {
                    one_sentence(&error);
                }
            }
            Err(error) => one_sentence(&error),
        }
    }
}
