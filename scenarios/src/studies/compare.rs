//! Builds side by side: what differs in them, and what comes of it.

use crate::files::short_path;
use crate::prepared::Prepared;
use crate::runs::failure::Failure;
use crate::runs::figure::find;
use crate::runs::figure::{Better, Figure, Unit};
use crate::runs::run::Run;
use crate::runs::standing::PRICE;
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

/// A part and what it costs in each build.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PriceRow {
    /// The part by its path; a thing that was added or removed by its name, as the same thing may stand
    /// elsewhere in the list of another build.
    pub part: String,
    /// Its price in each build; less than nothing for what is sold, `null` where nobody says.
    pub prices: Vec<Option<f64>>,
    /// What each build pays for it more than the first: all of it where only one of the two has it;
    /// `null` where one has it without a price.
    pub more_than_first: Vec<Option<f64>>,
}

/// What parts cost, build by build.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ComparedPrices {
    /// What the currency of each build is called.
    pub currencies: Vec<Option<String>>,
    /// Whether all are in one currency, so that one may be held against another.
    pub comparable: bool,
    /// The parts.
    pub parts: Vec<PriceRow>,
    /// Their sum in each build.
    pub sums: Vec<Option<f64>>,
    /// How much more each sum is than the first; `null` where a part that both have has a price in one
    /// of them alone.
    pub more_than_first: Vec<Option<f64>>,
    /// Parts of the conversion without a price, in each build: its sum is without them.
    pub without: Vec<Vec<String>>,
}

/// Builds side by side.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CompareReport {
    /// The builds; differences are against the first.
    pub builds: Vec<Compared>,
    /// What differs.
    pub differences: Vec<Difference>,
    /// What parts cost, where any of them has a price or the builds have several currencies.
    pub prices: Option<ComparedPrices>,
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
    let mut names: Vec<Figure<()>> = Vec::new();
    for figure in all.iter().flatten() {
        if find(&names, figure.name).is_none() {
            names.push(figure.with(()));
        }
    }
    let prices = prices(entries);
    let one_currency = prices.as_ref().is_none_or(|prices| prices.comparable);
    let figures = names
        .into_iter()
        .map(|Figure { name: figure, better, unit, .. }| {
            let value = |figures: &Vec<Figure>| find(figures, figure).map(|found| found.value);
            let differs = one_currency || !matches!(unit, Unit::Money | Unit::Per100Km);
            let values: Vec<Option<f64>> = all.iter().map(value).collect();
            let finite = |value: Option<f64>| value.filter(|v| v.is_finite());
            let more = |v: &Option<f64>| Some(finite(*v)? - values[0]?).filter(|_| differs);
            let more_than_first = match &prices {
                Some(prices) if figure == PRICE => prices.more_than_first.clone(),
                _ => values.iter().map(more).collect(),
            };
            FigureRow { figure, better, more_than_first, values }
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
        prices,
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

/// The parts of a build that may have a price, each by a name of its own.
fn named_parts(entry: &Candidate) -> Vec<(String, Option<f64>)> {
    let mut found: Vec<(String, Option<f64>)> = Vec::new();
    for part in entry.prepared.scenario.build.part_prices() {
        let name = match part.path.split_once('.') {
            Some((list, _)) => format!("{list}: {}", part.part),
            None => part.part,
        };
        let again = format!("{name} (");
        let same = |known: &str| known == name || known.starts_with(&again);
        let many = found.iter().filter(|(known, _)| same(known)).count();
        let again = if many == 0 { String::new() } else { format!(" ({})", many + 1) };
        found.push((name + &again, part.price));
    }
    found
}

/// What parts cost in each build, where any of them has a price or there are several currencies.
fn prices(entries: &[Candidate]) -> Option<ComparedPrices> {
    let all: Vec<Vec<(String, Option<f64>)>> = entries.iter().map(named_parts).collect();
    let mut names: Vec<&str> = Vec::new();
    for (name, _) in all.iter().flatten().filter(|(_, price)| price.is_some()) {
        if !names.contains(&name.as_str()) {
            names.push(name);
        }
    }
    let sums: Vec<Option<f64>> = entries.iter().map(|entry| entry.prepared.prices.price).collect();
    let currencies: Vec<Option<String>> =
        entries.iter().map(|entry| entry.prepared.prices.currency.clone()).collect();
    let priced = |entry: &&Candidate| entry.prepared.prices.speak_of_money();
    let mut priced = entries.iter().filter(priced).map(|entry| &entry.prepared.prices.currency);
    let first = priced.next();
    let comparable = priced.all(|currency| Some(currency) == first);
    let row = |name: &&str| {
        let of = |parts: &Vec<(String, Option<f64>)>| {
            parts.iter().find(|(known, _)| known == name).map(|(_, price)| *price)
        };
        let found: Vec<Option<Option<f64>>> = all.iter().map(of).collect();
        // What is not in a build costs nothing there.
        let paid = |part: &Option<Option<f64>>| part.unwrap_or(Some(0.0));
        let more = |part: &Option<Option<f64>>| {
            Some(paid(part)? - paid(&found[0])?).filter(|_| comparable)
        };
        PriceRow {
            part: (*name).to_owned(),
            more_than_first: found.iter().map(more).collect(),
            prices: found.iter().map(|part| part.flatten()).collect(),
        }
    };
    let without = |entry: &Candidate| {
        let parts = entry.prepared.scenario.build.without_price().into_iter();
        parts.map(|part| part.part).collect()
    };
    let parts: Vec<PriceRow> = names.iter().map(row).collect();
    let alone = |part: &PriceRow, i: usize| {
        part.more_than_first[i].is_none() && part.prices[i].is_some() != part.prices[0].is_some()
    };
    let whole = |i: usize| !parts.iter().any(|part| alone(part, i));
    let more = |i: usize| Some(sums[i]? - sums[0]?).filter(|_| comparable && whole(i));
    let more_than_first = (0..sums.len()).map(more).collect();
    (!names.is_empty() || !comparable).then(|| ComparedPrices {
        more_than_first,
        parts,
        without: entries.iter().map(without).collect(),
        currencies,
        comparable,
        sums,
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
    let all: Vec<usize> = (0..trees.len()).collect();
    walk("", &trees.iter().map(|tree| Some(*tree)).collect::<Vec<_>>(), &all, &mut found);
    found
}

/// Adds what differs among some of the builds, with what stands there in all of them.
fn walk(path: &str, values: &[Option<&Value>], some: &[usize], found: &mut Vec<Difference>) {
    let Some(first) = some.first().map(|i| values[*i]) else { return };
    let same = |i: &usize| match (values[*i], first) {
        // 2 and 2.0 are the same number.
        (Some(a), Some(b)) if a.is_number() && b.is_number() => a.as_f64() == b.as_f64(),
        (a, b) => a == b,
    };
    if some.iter().all(same) {
        return;
    }
    let add = |found: &mut Vec<Difference>, values| {
        let path = short_path::short(path).to_owned();
        if found.iter().all(|known| known.path != path) {
            found.push(Difference { path, values });
        }
    };
    let join = |step: &str| {
        if path.is_empty() { step.to_owned() } else { format!("{path}.{step}") }
    };
    let present: Vec<&Value> = some.iter().filter_map(|i| values[*i]).collect();
    if PARTS.contains(&path) {
        let name = |value: &Option<&Value>| {
            value.and_then(|v| v.get("name")).cloned().unwrap_or(Value::Null)
        };
        let names: Vec<Value> = values.iter().map(name).collect();
        if some.iter().any(|i| names[*i] != names[some[0]]) {
            add(found, names.clone());
            // The name stands for all fields, but not between two parts of one name.
            for name in some.iter().map(|i| &names[*i]) {
                let alike: Vec<usize> =
                    some.iter().copied().filter(|i| names[*i] == *name).collect();
                walk(path, values, &alike, found);
            }
            return;
        }
    }
    let all_objects = present.iter().all(|value| value.is_object());
    let length = |i: &usize| values[*i].and_then(Value::as_array).map(Vec::len);
    let list = length(&some[0]).filter(|_| some.iter().all(|i| length(i) == length(&some[0])));
    if all_objects && (present.len() == some.len() || path.is_empty() || !PARTS.contains(&path)) {
        let mut keys: Vec<&String> = Vec::new();
        for key in present.iter().filter_map(|value| value.as_object()).flat_map(|map| map.keys()) {
            if !keys.contains(&key) {
                keys.push(key);
            }
        }
        for key in keys.into_iter().filter(|key| !matches!(key.as_str(), "note" | "$schema")) {
            let inner: Vec<Option<&Value>> =
                values.iter().map(|value| value.and_then(|v| v.get(key))).collect();
            walk(&join(key), &inner, some, found);
        }
    } else if let Some(length) = list {
        for i in 0..length {
            let inner: Vec<Option<&Value>> =
                values.iter().map(|value| value.and_then(|v| v.get(i))).collect();
            walk(&join(&(i + 1).to_string()), &inner, some, found);
        }
    } else {
        let values = values.iter().map(|value| value.cloned().unwrap_or(Value::Null)).collect();
        add(found, values);
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
        // A part that is another in one build hides no field between those that share it.
        let mut half = a.clone();
        half["build"]["pack"]["series"] = json!(17);
        for trees in [[&a, &half, &b], [&b, &a, &half], [&half, &b, &a]] {
            let found = differences(&trees);
            let series = found.iter().find(|d| d.path == "pack.series").unwrap();
            assert_eq!(series.values, trees.map(|tree| tree["build"]["pack"]["series"].clone()));
            assert_eq!(found.iter().filter(|d| d.path == "pack").count(), 1);
        }
        let c = json!({"name": "two", "build": {"added": [], "name": "b"}});
        let paths: Vec<String> = differences(&[&a, &c]).into_iter().map(|d| d.path).collect();
        assert_eq!(paths, ["name", "motor", "pack", "added", "build.name"]);
    }
}
