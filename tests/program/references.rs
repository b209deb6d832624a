//! The reference pages of the book, made from what the program says of itself: the schemas of its
//! files, what it assumes where a field is left out, and its help.

use crate::book::hold;
use crate::program::{json, text};
use serde_json::{Value, json as value};
use shakedown::COMMANDS;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

fn held(page: &str, expected: &str) {
    hold(Path::new(page), expected).unwrap_or_else(|problem| panic!("{problem}"));
}

/// The text of a schema's description on one line of a table.
fn said(schema: &Value) -> String {
    let text = schema["description"].as_str().unwrap_or_default();
    text.split_whitespace().collect::<Vec<_>>().join(" ").replace('|', "\\|")
}

/// The name of the definition that a schema refers to, if it does.
fn reference(schema: &Value) -> Option<&str> {
    schema["$ref"].as_str().and_then(|path| path.rsplit('/').next())
}

/// The choices of a schema, but for the one of leaving it out.
fn choices(schema: &Value) -> Vec<&Value> {
    let all = schema["anyOf"].as_array().or(schema["oneOf"].as_array());
    all.into_iter().flatten().filter(|choice| choice["type"] != "null").collect()
}

/// `CoastDown` as the heading "Coast down".
fn heading(definition: &str) -> String {
    let mut words = String::new();
    for (i, letter) in definition.chars().enumerate() {
        if i > 0 && letter.is_uppercase() {
            words.push(' ');
        }
        words.extend(if i > 0 { letter.to_lowercase().collect::<Vec<_>>() } else { vec![letter] });
    }
    words
}

fn link(definition: &str) -> String {
    let heading = heading(definition);
    format!("[{}](#{})", heading.to_lowercase(), heading.to_lowercase().replace(' ', "-"))
}

/// What a field holds.
fn holds(schema: &Value, definitions: &Value) -> String {
    if let Some(name) = reference(schema) {
        let words: Vec<String> = choices(&definitions[name])
            .iter()
            .filter_map(|choice| choice["const"].as_str().map(|word| format!("`{word}`")))
            .collect();
        return if words.is_empty() { link(name) } else { words.join(", ") };
    }
    let several = choices(schema);
    if !several.is_empty() {
        let each: Vec<String> = several.iter().map(|choice| holds(choice, definitions)).collect();
        return each.join(" or ").replace(" or text", ", or where it is");
    }
    let kinds = schema["type"].as_array().cloned().unwrap_or(vec![schema["type"].clone()]);
    match kinds.iter().find_map(|kind| kind.as_str().filter(|kind| *kind != "null")) {
        Some("array") => format!("list of {}", holds(&schema["items"], definitions)),
        Some("integer") => "whole number".to_owned(),
        Some("boolean") => "true or false".to_owned(),
        Some("string") => "text".to_owned(),
        Some(kind) => kind.to_owned(),
        None => String::new(),
    }
}

/// Definitions within a field, each with the way to it.
fn inner<'a>(schema: &'a Value, path: &str) -> Vec<(&'a str, String)> {
    if let Some(name) = reference(schema) {
        return vec![(name, path.to_owned())];
    }
    let deeper = choices(schema).into_iter().flat_map(|choice| inner(choice, path));
    let items = schema.get("items").into_iter().flat_map(|item| inner(item, &format!("{path}.1")));
    deeper.chain(items).collect()
}

/// A definition and the ways to it.
type Ways = Vec<(String, Vec<String>)>;

/// Goes into the fields of a definition and notes what they lead to, depth first, so that what
/// belongs together stands together.
fn enter(root: &Value, name: &str, path: String, found: &mut Ways) {
    if let Some(known) = found.iter_mut().find(|known| known.0 == name) {
        known.1.push(path);
        return;
    }
    let schema = if found.is_empty() { root } else { &root["$defs"][name] };
    found.push((name.to_owned(), vec![path.clone()]));
    for (field, schema) in schema["properties"].as_object().into_iter().flatten() {
        let way = if path.is_empty() { field.clone() } else { format!("{path}.{field}") };
        for (name, path) in inner(schema, &way) {
            enter(root, name, path, found);
        }
    }
}

/// Builds that leave out what may be left out, in each of the ways in which a car can be described.
fn sparse_builds() -> Vec<Value> {
    let cell = value!({
        "capacity_ah": 90, "mass_kg": 2, "min_v": 2.5, "max_v": 3.65,
        "open_circuit": [{ "charge_pct": 0, "v": 3 }, { "charge_pct": 100, "v": 3.4 }],
        "resistance": [{ "charge_pct": 0, "mohm": 1 }, { "charge_pct": 100, "mohm": 1 }],
        "resistance_growth": [{ "cells_c": 0, "factor": 2 }, { "cells_c": 25, "factor": 1 }],
        "polarisation_mohm": 0.5, "polarisation_s": 30, "discharge_a": 200,
        "discharge_peak_a": 400, "charge_a": 90, "charge_peak_a": 150, "peak_s": 20
    });
    let motor = value!({
        "kind": "induction", "mass_kg": 50, "max_rpm": 8000, "reference_v": 110,
        "peak_torque_nm": 100, "peak_power_kw": 30, "peak_current_a": 400,
        "efficiency_points": [
            { "rpm": 2000, "torque_nm": 40, "efficiency_pct": 85 },
            { "rpm": 4000, "torque_nm": 40, "efficiency_pct": 88 }
        ],
        "nameplate": {
            "continuous_power_kw": 8, "continuous_rpm": 3000, "insulation_class": "F",
            "cooling": "shaft_fan"
        }
    });
    let plain = value!({
        "donor": {
            "kerb_mass_kg": 800, "front_share_pct": 55, "wheelbase_m": 2.3, "driven": "rear",
            "width_m": 1.5, "height_m": 1.4
        },
        "gearbox": { "gears": [{ "ratio": 3.5 }, { "ratio": 2 }], "final_drive": 4 },
        "motor": motor,
        "controller": {
            "mass_kg": 7, "pack_current_a": 400, "motor_current_a": 450, "min_v": 60, "max_v": 140
        },
        "pack": { "cell": cell, "series": 34, "box_mass_kg": 20 },
        "tyre": { "size": "165/70R13" },
        "placement": {
            "motor_behind_front_axle_m": 0, "controller_behind_front_axle_m": 0,
            "pack_behind_front_axle_m": 1
        },
        "auxiliaries": { "cabin": { "set_c": 20, "heater_kw": 2 } }
    });
    let other = |change: &dyn Fn(&mut Value)| {
        let mut build = plain.clone();
        change(&mut build);
        build
    };
    let series = value!({
        "kind": "series_dc", "mass_kg": 60, "max_rpm": 5500, "reference_v": 110,
        "peak_torque_curve": [
            { "rpm": 0, "nm": 100 }, { "rpm": 3000, "nm": 90 }, { "rpm": 5500, "nm": 30 }
        ],
        "peak_current_a": 420, "loss_coefficients": { "copper_w_per_a2": 0.02 },
        "nodes": {
            "winding_kj_per_k": 6, "housing_kj_per_k": 20, "winding_to_housing_w_per_k": 20,
            "still_air_w_per_k": 10
        },
        "warning_c": 150
    });
    let liquid = value!({
        "continuous_power_kw": 20, "continuous_rpm": 4000, "insulation_class": "H",
        "cooling": "liquid"
    });
    vec![
        plain.clone(),
        other(&|build| {
            build["donor"]["drag_area_m2"] = value!(0.7);
            build["motor"] = series.clone();
            build["pack"]["wall_area_m2"] = value!(1.2);
            build["driver"] = value!({ "shifting": "window" });
        }),
        other(&|build| {
            build["donor"]["coast_down"] =
                value!({ "f0_n": 100, "f1_n_per_kmh": 0, "f2_n_per_kmh2": 0.04, "mass_kg": 900 });
            build["motor"]["nameplate"] = liquid.clone();
            build["pack"]["wall_area_m2"] = value!(1.4);
        }),
    ]
}

/// Other values for what assumptions may hang on.
const OTHERWISE: [&str; 11] = [
    "motor.mass_kg=55",
    "motor.peak_current_a=430",
    "motor.max_rpm=7900",
    "motor.warning_c=149",
    "controller.mass_kg=8",
    "controller.pack_current_a=420",
    "controller.conductance_w_per_k=10",
    "pack.series=33",
    "tyre.size=155R13",
    "donor.width_m=1.6",
    "donor.kerb_mass_kg=820",
];

/// What the program takes where a field is left out, by its path: why, and the value where it is
/// always the same.
fn left_out() -> BTreeMap<String, String> {
    let file = Path::new(env!("CARGO_TARGET_TMPDIR")).join("sparse.json");
    let file = file.to_str().unwrap();
    let mut found: BTreeMap<String, BTreeMap<String, BTreeSet<String>>> = BTreeMap::new();
    let otherwise = OTHERWISE.map(|set| ["--set", set]).concat();
    for build in sparse_builds() {
        fs::write(file, build.to_string()).unwrap();
        for more in [&[][..], &otherwise] {
            let checked = json(&[&["check", file], more].concat());
            for assumed in checked["assumptions"].as_array().unwrap() {
                let word = |name: &str| assumed[name].as_str().unwrap().to_owned();
                let reasons = found.entry(word("path")).or_default();
                reasons.entry(word("reason")).or_default().insert(word("value"));
            }
        }
    }
    let words = |(reason, values): (String, BTreeSet<String>)| match values.len() {
        1 => format!("{}: {reason}", values.into_iter().next().unwrap()),
        _ => reason,
    };
    let cell = |reasons: BTreeMap<_, _>| reasons.into_iter().map(words).collect::<Vec<_>>();
    found.into_iter().map(|(path, reasons)| (path, cell(reasons).join("; or "))).collect()
}

#[test]
fn the_field_reference_is_that_of_the_schemas() {
    let roots = ["scenario", "measured"].map(|kind| json(&["schema", kind]));
    let defaults = left_out();
    let mut unused: BTreeSet<&String> = defaults.keys().collect();
    let mut known: Vec<(&Value, String, Vec<String>)> = Vec::new();
    for (root, name) in roots.iter().zip(["Scenario", "Measured"]) {
        let mut ways = Ways::new();
        enter(root, name, String::new(), &mut ways);
        // What a file of its own shares with a scenario stands there.
        ways.retain(|(name, _)| known.iter().all(|(_, known, _)| known != name));
        known.extend(ways.into_iter().map(|(name, paths)| (root, name, paths)));
    }
    let mut told = BTreeSet::new();
    let mut page = "\
# Every field

Made from the program's own schemas, and from what `check` says that it assumes. Fields in **bold**
must be given. Everything may have a `name` (what to call it) or a `note` (anything worth
remembering), which are left out below. The unit stands in the name of a field.
*Where it is* means a part of its own: the path of a JSON file, or `shelf:NAME`. Last stands the kind
`measured`: a file of its own, of what was learnt from a car.

"
    .to_owned();
    for (root, name, paths) in &known {
        let definitions = &root["$defs"];
        let schema = if paths[0].is_empty() { root } else { &definitions[name] };
        let Some(fields) = schema["properties"].as_object() else { continue };
        page += &format!("## {}\n\n{}\n\n", heading(name), said(schema));
        if !paths[0].is_empty() {
            page += &format!("At `{}`.\n\n", paths.join("`, `"));
        }
        page += "| field | holds | meaning | left out |\n|---|---|---|---|\n";
        let needed = |field: &str| {
            schema["required"].as_array().is_some_and(|all| all.iter().any(|one| one == field))
        };
        let about = |field: &str| ["$schema", "name", "note"].contains(&field) && !needed(field);
        for (field, inside) in fields.iter().filter(|(field, _)| !about(field)) {
            let way = format!("{}.{field}", paths[0]);
            let taken = defaults.get_key_value(way.trim_start_matches('.'));
            unused.retain(|path| taken.is_none_or(|(key, _)| key != *path));
            let taken = taken.map_or("", |(_, words)| words);
            let mark = if needed(field) { "**" } else { "" };
            let holds = holds(inside, definitions);
            page += &format!("| {mark}`{field}`{mark} | {holds} | {} | {taken} |\n", said(inside));
        }
        page += "\n";
        for (choice, _) in fields.values().flat_map(|inside| inner(inside, "")) {
            let words = &definitions[choice];
            let each: Vec<String> = choices(words)
                .iter()
                .filter_map(|one| Some(format!("- `{}`: {}\n", one["const"].as_str()?, said(one))))
                .collect();
            if !each.is_empty() && told.insert(choice.to_owned()) {
                page += &format!("{}\n\n{}\n", said(words), each.concat());
            }
        }
    }
    assert!(unused.is_empty(), "assumed, but of no field: {unused:?}");
    held(
        "docs/reference/fields.md",
        &(page.trim_end().to_owned()
            + "
"),
    );
}

#[test]
fn the_table_of_limits_is_that_of_the_code() {
    let mut page = "\
# Limits

So that no input takes all memory or all day, there is a most of everything. What goes beyond is
refused in one sentence, before it is read or run. Numbers have bounds of their own: each refusal
names them.

| of | at most | |
|---|---|---|
"
    .to_owned();
    for (what, most, unit) in scenarios::bounds::ALL {
        page += &format!("| {what} | {most} | {unit} |\n");
    }
    page += &format!(
        "\nIn a message, a value of more than {} characters is cut short.\n",
        cycles::SHOWN_LIMIT
    );
    held("docs/reference/limits.md", &page);
}

#[test]
fn the_command_reference_is_that_of_the_help() {
    let mut page = "\
# Every command

Made from the program's own help. `shakedown COMMAND --help` says more of each option. Where a value
holds `<`, `>` or `*`, put it in quotes.

Exit code 0 means that here is the answer, 1 that what was asked has none (`size`, where no value keeps
the goals), 2 that something was refused, in one sentence on standard error.
"
    .to_owned();
    for command in COMMANDS {
        let name = command.name;
        let words: Vec<&str> = name.split(' ').chain(["-h"]).collect();
        let help = text(&words);
        let lines: Vec<&str> = help.lines().map(str::trim_end).collect();
        page += &format!("\n## {name}\n\n```text\n{}\n```\n", lines.join("\n"));
    }
    held("docs/reference/commands.md", &page);
}
