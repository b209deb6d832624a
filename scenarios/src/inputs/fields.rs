//! What the fields of a scenario hold, by their paths.

use crate::files::short_path;
use crate::inputs::scenario::Scenario;
use schemars::schema_for;
use serde_json::Value;
use std::sync::LazyLock;

/// Whether the field at a path of a scenario counts whole things, such as cells.
pub fn counts(path: &str) -> bool {
    is_any(path, &["integer"])
}

/// Whether the field at a path of a scenario holds a number.
pub(crate) fn holds_number(path: &str) -> bool {
    is_any(path, &["integer", "number"])
}

/// Whether the field at a path of a scenario may be of one of these types.
fn is_any(path: &str, types: &[&str]) -> bool {
    static SCENARIO: LazyLock<Value> = LazyLock::new(|| schema_for!(Scenario).to_value());
    let mut found = vec![&*SCENARIO];
    for step in short_path::whole(path).split('.') {
        found = alternatives(&SCENARIO, found)
            .into_iter()
            .filter_map(|schema| schema["properties"].get(step).or_else(|| schema.get("items")))
            .collect();
    }
    let is_wanted = |name: &Value| name.as_str().is_some_and(|name| types.contains(&name));
    let is_one = |schema: &&Value| match &schema["type"] {
        Value::Array(types) => types.iter().any(is_wanted),
        name => is_wanted(name),
    };
    alternatives(&SCENARIO, found).iter().any(is_one)
}

/// Schemas with those that they refer to, and each of those that they leave open.
fn alternatives<'a>(root: &'a Value, schemas: Vec<&'a Value>) -> Vec<&'a Value> {
    let mut all = schemas;
    let mut next = 0;
    while let Some(schema) = all.get(next).copied() {
        let reference = schema["$ref"].as_str().and_then(|name| name.strip_prefix('#'));
        all.extend(reference.and_then(|pointer| root.pointer(pointer)));
        all.extend(schema["anyOf"].as_array().into_iter().flatten());
        next += 1;
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_and_gears_are_counted_and_all_else_is_measured() {
        for path in ["pack.series", "build.pack.parallel", "driver.gear", "driver.start_gear"] {
            assert!(counts(path), "{path}");
        }
        for path in [
            "pack",
            "motor.mass_kg",
            "gearbox.gears.2.ratio",
            "pack.cell.resistance.1.mohm",
            "conditions.air_c",
            "seasons.1.lights_w",
            "pack.paralel",
            "pack.series.1",
            "",
        ] {
            assert!(!counts(path), "{path}");
        }
    }
}
