//! `parts`: the shelf.

use crate::failure::{Failure, of};
use crate::measure::{Units, number};
use crate::output::Output;
use crate::table::Table;
use scenarios::{FileKind, demo, output_file, shelf};
use schemars::JsonSchema;
use serde::Serialize;
use serde_json::Value;
use std::path::{Path, PathBuf};

/// Arguments of `parts`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Name of a part, whose JSON is printed.
    #[arg(value_name = "NAME", conflicts_with = "write", add = crate::completing::parts())]
    pub name: Option<String>,

    /// Writes the whole shelf and the demo as files into this folder, with the schemas by which an
    /// editor completes them; nothing is overwritten.
    #[arg(long, value_name = "FOLDER")]
    pub write: Option<PathBuf>,
}

/// The JSON of `parts`, but for a single part, which is what `schema KIND` describes.
#[derive(Debug, Serialize, JsonSchema)]
#[serde(untagged)]
pub enum Listing {
    /// The whole shelf.
    All(Vec<PartRow>),
    /// The files that were written.
    Files {
        /// Their paths.
        written: Vec<String>,
    },
}

/// A part of the shelf.
#[derive(Debug, Serialize, JsonSchema)]
pub struct PartRow {
    /// What it is.
    kind: &'static str,
    /// What it is called after `shelf:`.
    name: &'static str,
    /// The part, as `schema KIND` describes it.
    part: Value,
}

/// A figure in the list of a kind.
type Column = (&'static str, fn(&Value, Units) -> String);

/// Kinds in the order of the list, with their figures.
const LISTS: [(FileKind, &str, &[Column]); 6] = [
    (
        FileKind::Donor,
        "Donor cars",
        &[
            (">kerb mass", |v, u| show(v, "/kerb_mass_kg", |x| u.mass(x))),
            (">on front axle", |v, _| show(v, "/front_share_pct", percent)),
            (">permitted", |v, u| show(v, "/gross_mass_kg", |x| u.mass(x))),
            ("driven", |v, _| word(v, "/driven")),
        ],
    ),
    (
        FileKind::Gearbox,
        "Gearboxes",
        &[
            ("gears", |v, _| ratios(v)),
            (">final drive", |v, _| show(v, "/final_drive", |x| number(x, 3))),
            (">bears", |v, u| show(v, "/max_input_nm", |x| u.torque(x))),
            (">up to", |v, _| show(v, "/max_input_rpm", |x| format!("{} rpm", number(x, 0)))),
        ],
    ),
    (
        FileKind::Motor,
        "Motors",
        &[
            ("kind", |v, _| word(v, "/kind").replace('_', " ").replace("permanent ", "")),
            (">peak", |v, u| {
                let peak = v.pointer("/peak_torque_nm").and_then(Value::as_f64);
                peak.or_else(|| curve_peak(v)).map_or_else(String::new, |x| u.torque(x))
            }),
            (">peak power", |v, u| show(v, "/peak_power_kw", |x| u.power(x, 0))),
            (">continuous", |v, u| show(v, "/nameplate/continuous_power_kw", |x| u.power(x, 1))),
            (">up to", |v, _| show(v, "/max_rpm", |x| format!("{} rpm", number(x, 0)))),
            (">at", |v, _| show(v, "/reference_v", |x| format!("{} V", number(x, 0)))),
            (">mass", |v, u| show(v, "/mass_kg", |x| u.mass(x))),
        ],
    ),
    (
        FileKind::Controller,
        "Controllers",
        &[
            (">pack", |v, _| show(v, "/pack_current_a", amperes)),
            (">regen", |v, _| show(v, "/pack_regen_current_a", amperes)),
            (">motor", |v, _| show(v, "/motor_current_a", amperes)),
            (">from", |v, _| show(v, "/min_v", |x| format!("{} V", number(x, 0)))),
            (">to", |v, _| show(v, "/max_v", |x| format!("{} V", number(x, 0)))),
            (">mass", |v, u| show(v, "/mass_kg", |x| u.mass(x))),
        ],
    ),
    (
        FileKind::Pack,
        "Packs",
        &[
            ("cell", |v, _| word(v, "/cell")),
            (">series", |v, _| show(v, "/series", |x| number(x, 0))),
            (">parallel", |v, _| show(v, "/parallel", |x| number(x, 0))),
            (">box", |v, u| show(v, "/box_mass_kg", |x| u.mass(x))),
        ],
    ),
    (
        FileKind::Cell,
        "Cells",
        &[
            (">capacity", |v, _| show(v, "/capacity_ah", |x| format!("{} Ah", number(x, 0)))),
            (">lowest", |v, _| show(v, "/min_v", |x| format!("{} V", number(x, 2)))),
            (">highest", |v, _| show(v, "/max_v", |x| format!("{} V", number(x, 2)))),
            (">out, peak", |v, _| show(v, "/discharge_peak_a", amperes)),
            (">in, peak", |v, _| show(v, "/charge_peak_a", amperes)),
            (">mass", |v, u| show(v, "/mass_kg", |x| u.of(x, "kg", 2))),
        ],
    ),
];

/// Lists, prints or writes.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    if let Some(folder) = &args.write {
        return write(folder, output);
    }
    if let Some(name) = &args.name {
        let name = name.strip_prefix("shelf:").unwrap_or(name);
        let part = shelf::named(name).map_err(of("parts"))?;
        return output.lines(part.text);
    }
    let parts: Vec<(&shelf::Part, Value)> = shelf::shelf()
        .iter()
        .map(|part| (part, serde_json::from_str(part.text).unwrap_or_default()))
        .collect();
    if output.json {
        let row = |(part, value): (&shelf::Part, Value)| PartRow {
            kind: part.kind.name(),
            name: part.name,
            part: value,
        };
        return output.document(&Listing::All(parts.into_iter().map(row).collect()));
    }
    for (kind, heading, columns) in LISTS {
        output.heading(heading)?;
        let mut headings = vec!["name"];
        headings.extend(columns.iter().map(|column| column.0));
        let mut table = Table::new(&headings);
        for (part, value) in parts.iter().filter(|(part, _)| part.kind == kind) {
            let mut row = vec![part.name.to_owned()];
            row.extend(columns.iter().map(|column| (column.1)(value, output.units)));
            table.row(row);
        }
        output.table(&table)?;
    }
    output.line("")?;
    output.said("All figures are invented, each typical of its class.")?;
    output.said("A file or --set takes a part as \"shelf:NAME\"; `parts NAME` prints it.")
}

/// Writes the shelf and the demo, or nothing where a file is there already that says something else.
fn write(folder: &Path, output: &mut Output) -> Result<(), Failure> {
    let part =
        |p: &shelf::Part| (format!("{}/{}.json", p.folder, p.name), with_schema(p.text, p.kind));
    let parts = shelf::shelf().iter().map(part);
    let demo = [(demo::FILE, demo::SCENARIO)].into_iter().chain(demo::ROADS.iter().copied());
    let demo = demo.map(|(name, text)| {
        let text = if name == demo::FILE {
            with_schema(text, FileKind::Scenario)
        } else {
            text.to_owned()
        };
        (format!("demo/{name}"), text)
    });
    let schemas = FileKind::ALL.into_iter().map(|kind| {
        let text = format!("{:#}\n", scenarios::schema(kind));
        (format!("schemas/{}.schema.json", kind.name()), text)
    });
    let texts: Vec<(PathBuf, String)> =
        parts.chain(demo).chain(schemas).map(|(name, text)| (folder.join(name), text)).collect();
    let files: Vec<(PathBuf, &[u8])> =
        texts.iter().map(|(path, text)| (path.clone(), text.as_bytes())).collect();
    output_file::write_all_new(&files)?;
    if output.json {
        let written = files.iter().map(|(p, _)| p.display().to_string()).collect();
        return output.document(&Listing::Files { written });
    }
    for (path, _) in &files {
        output.line(path.display().to_string())?;
    }
    Ok(())
}

/// The text of a file with the place of its schema, seen from a folder beside that of the schemas.
fn with_schema(text: &str, kind: FileKind) -> String {
    let schema = format!("{{\n  \"$schema\": \"../schemas/{}.schema.json\",", kind.name());
    text.replacen('{', &schema, 1)
}

fn show(part: &Value, pointer: &str, text: impl Fn(f64) -> String) -> String {
    part.pointer(pointer).and_then(Value::as_f64).map_or_else(String::new, text)
}

fn word(part: &Value, pointer: &str) -> String {
    let text = part.pointer(pointer).and_then(Value::as_str).unwrap_or_default();
    text.trim_start_matches("shelf:").to_owned()
}

fn amperes(x: f64) -> String {
    format!("{} A", number(x, 0))
}

fn percent(x: f64) -> String {
    format!("{} %", number(x, 0))
}

fn ratios(part: &Value) -> String {
    if let Some(single) = part.pointer("/single").and_then(Value::as_f64) {
        return format!("one, {}", number(single, 2));
    }
    let gears = part.pointer("/gears").and_then(Value::as_array);
    let ratios: Vec<String> = gears
        .into_iter()
        .flatten()
        .filter_map(|gear| gear.pointer("/ratio").and_then(Value::as_f64))
        .map(|ratio| number(ratio, 2))
        .collect();
    ratios.join(" ")
}

fn curve_peak(part: &Value) -> Option<f64> {
    let points = part.pointer("/peak_torque_curve")?.as_array()?;
    points.iter().filter_map(|p| p.pointer("/nm")?.as_f64()).max_by(f64::total_cmp)
}
