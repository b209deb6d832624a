//! Builds side by side: what differs in them, and what comes of it.

use crate::files::short_path;
use crate::prepared::Prepared;
use crate::runs::failure::Failure;
use crate::runs::figure::find;
use crate::runs::figure::{Better, Figure};
use crate::runs::run::Run;
use crate::runs::suite::Suite;
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use serde_json::Value;

/// A build of a comparison.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Compared {
    /// What the scenario or the build is called.
    pub name: String,
    /// The file.
    pub file: String,
    /// What was put in place of the file's values.
    pub changed: Option<String>,
}

/// A field, or a whole part, that differs.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Difference {
    /// Path of the field; a part that differs in name stands for all of its fields.
    pub path: String,
    /// What stands there in each build; `null` where there is nothing.
    pub values: Vec<Value>,
}

/// A figure of all builds.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct FigureRow {
    /// Name, ending in its unit.
    pub figure: &'static str,
    /// Which way is better.
    pub better: Better,
    /// The value of each build; `null` for never, or where a build has no answer.
    pub values: Vec<Option<f64>>,
    /// What each build has more than the first; `null` where one of the two has no value.
    pub more_than_first: Vec<Option<f64>>,
}

/// A run that a build did not carry out: none of its figures speaks for the build.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct NotDoneRun {
    /// The build, counted from 0.
    pub build: usize,
    /// The run.
    pub run: Run,
    /// Why.
    pub why: &'static str,
}

/// Builds side by side.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CompareReport {
    /// The builds; differences are against the first.
    pub builds: Vec<Compared>,
    /// What differs.
    pub differences: Vec<Difference>,
    /// Runs that were not carried out.
    pub not_done: Vec<NotDoneRun>,
    /// What comes of it.
    pub figures: Vec<FigureRow>,
}

/// A build with the drives that it makes.
#[derive(Debug, Clone)]
pub struct Candidate {
    /// The build.
    pub prepared: Prepared,
    /// The drives.
    pub suite: Suite,
    /// What was put in place of the file's values.
    pub changed: Option<String>,
}

/// Drives every build, in parallel.
///
/// # Errors
/// [`Failure`] of the first build that cannot be driven.
pub fn compare(entries: &[Candidate], step: impl Fn() + Sync) -> Result<CompareReport, Failure> {
    let all = entries
        .par_iter()
        .map(|entry| {
            let figures = entry.suite.figures(&entry.prepared);
            step();
            figures
        })
        .collect::<Result<Vec<Vec<Figure>>, Failure>>()?;
    // In the order of the first build; a drive that only others make comes after.
    let mut names: Vec<(&'static str, Better)> = Vec::new();
    for figure in all.iter().flatten() {
        if names.iter().all(|known| known.0 != figure.name) {
            names.push((figure.name, figure.better));
        }
    }
    let figures = names
        .into_iter()
        .map(|(figure, better)| {
            let value = |figures: &Vec<Figure>| find(figures, figure).map(|found| found.value);
            let values: Vec<Option<f64>> = all.iter().map(value).collect();
            let finite = |value: Option<f64>| value.filter(|v| v.is_finite());
            let more = |v: &Option<f64>| Some(finite(*v)? - values[0]?);
            FigureRow { figure, better, more_than_first: values.iter().map(more).collect(), values }
        })
        .collect();
    let trees: Vec<&Value> = entries.iter().map(|entry| &*entry.prepared.echo).collect();
    Ok(CompareReport {
        builds: entries
            .iter()
            .map(|entry| Compared {
                name: entry.prepared.name.clone(),
                file: entry.prepared.file.clone(),
                changed: entry.changed.clone(),
            })
            .collect(),
        differences: differences(&trees),
        not_done: all
            .iter()
            .enumerate()
            .flat_map(|(build, figures)| {
                let runs = Run::not_done(figures).into_iter();
                runs.map(move |(run, why)| NotDoneRun { build, run, why })
            })
            .collect(),
        figures,
    })
}

/// Parts whose name tells enough.
const PARTS: [&str; 6] = [
    "build.donor",
    "build.gearbox",
    "build.motor",
    "build.controller",
    "build.pack",
    "build.pack.cell",
];

/// The fields that differ between trees; notes do not count.
pub fn differences(trees: &[&Value]) -> Vec<Difference> {
    let mut found = Vec::new();
    walk("", &trees.iter().map(|tree| Some(*tree)).collect::<Vec<_>>(), &mut found);
    found
}

fn walk(path: &str, values: &[Option<&Value>], found: &mut Vec<Difference>) {
    let same = |a: &Option<&Value>| match (a, values[0]) {
        // 2 and 2.0 are the same number.
        (Some(a), Some(b)) if a.is_number() && b.is_number() => a.as_f64() == b.as_f64(),
        (a, b) => *a == b,
    };
    if values.iter().all(same) {
        return;
    }
    let join = |step: &str| {
        if path.is_empty() { step.to_owned() } else { format!("{path}.{step}") }
    };
    let present: Vec<&Value> = values.iter().flatten().copied().collect();
    if PARTS.contains(&path) {
        let name = |value: &Option<&Value>| {
            value.and_then(|v| v.get("name")).cloned().unwrap_or(Value::Null)
        };
        let names: Vec<Value> = values.iter().map(name).collect();
        if names.iter().any(|name| *name != names[0]) {
            found.push(Difference { path: short_path::short(path).to_owned(), values: names });
            return;
        }
    }
    let all_objects = present.iter().all(|value| value.is_object());
    let lengths: Vec<Option<usize>> =
        values.iter().map(|value| value.and_then(Value::as_array).map(Vec::len)).collect();
    if all_objects && (present.len() == values.len() || path.is_empty() || !PARTS.contains(&path)) {
        let mut keys: Vec<&String> = Vec::new();
        for key in present.iter().filter_map(|value| value.as_object()).flat_map(|map| map.keys()) {
            if !keys.contains(&key) {
                keys.push(key);
            }
        }
        for key in keys.into_iter().filter(|key| !matches!(key.as_str(), "note" | "$schema")) {
            let inner: Vec<Option<&Value>> =
                values.iter().map(|value| value.and_then(|v| v.get(key))).collect();
            walk(&join(key), &inner, found);
        }
    } else if lengths[0].is_some() && lengths.iter().all(|length| *length == lengths[0]) {
        for i in 0..lengths[0].unwrap_or_default() {
            let inner: Vec<Option<&Value>> =
                values.iter().map(|value| value.and_then(|v| v.get(i))).collect();
            walk(&join(&(i + 1).to_string()), &inner, found);
        }
    } else {
        let values = values.iter().map(|value| value.cloned().unwrap_or(Value::Null)).collect();
        found.push(Difference { path: short_path::short(path).to_owned(), values });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn names_fields_and_whole_parts_that_differ() {
        let a = json!({"name": "one", "build": {"motor": {"name": "m", "mass_kg": 5, "note": "x"},
            "pack": {"name": "p", "series": 34}, "added": [{"mass_kg": 1}, {"mass_kg": 2}]}});
        let b = json!({"name": "one", "build": {"motor": {"name": "m", "mass_kg": 5.0, "note": "y"},
            "pack": {"name": "q", "series": 90}, "added": [{"mass_kg": 1}, {"mass_kg": 3}]}});
        let found = differences(&[&a, &b]);
        let paths: Vec<&str> = found.iter().map(|d| d.path.as_str()).collect();
        assert_eq!(paths, ["pack", "added.2.mass_kg"]);
        assert_eq!(found[0].values, [json!("p"), json!("q")]);
        assert!(differences(&[&a, &a, &a]).is_empty());
        let c = json!({"name": "two", "build": {"added": [], "name": "b"}});
        let paths: Vec<String> = differences(&[&a, &c]).into_iter().map(|d| d.path).collect();
        assert_eq!(paths, ["name", "motor", "pack", "added", "build.name"]);
    }
}
