//! `compare`: builds side by side.

use crate::commands::sweep::varied;
use crate::failure::{Failure, of};
use crate::figure;
use crate::input::{measured, overrides};
use crate::measure::number;
use crate::output::Output;
use crate::progress::Progress;
use crate::suite::SuiteArgs;
use crate::table::{Table, Tone};
use scenarios::bounds::COMPARED;
use scenarios::runs::{Better, Run};
use scenarios::studies::compare::{Candidate, CompareReport, FigureRow, compare};
use scenarios::{Drives, Loaded, Override, Prepared};
use serde_json::{Map, Value};
use std::path::PathBuf;

/// Arguments of `compare`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Files of scenarios or builds; left out, the demo, with variants.
    ///
    /// Each makes its own drives in its own weather; what it does not name, it takes from the
    /// first.
    #[arg(value_name = "FILE")]
    files: Vec<PathBuf>,

    /// Puts a value in place of that of all files, such as `motor.mass_kg=60`; may be repeated.
    #[arg(
        long = "set",
        value_name = "PATH=VALUE",
        allow_hyphen_values = true,
        add = crate::completing::set()
    )]
    set: Vec<String>,

    /// File of what was learnt, taken into each file that it fits; may be repeated.
    #[arg(long, value_name = "FILE")]
    measured: Vec<PathBuf>,

    /// The first file with other values, `;` between them: `motor=shelf:NAME; motor.mass_kg=60`.
    #[arg(long = "variant", value_name = "PATH=VALUE;…", allow_hyphen_values = true)]
    variants: Vec<String>,

    /// The first file with each of these values: `path=from..to:step` or `path=a,b,c`.
    #[arg(long = "vary", value_name = "PATH=VALUES", allow_hyphen_values = true)]
    vary: Vec<String>,

    #[command(flatten)]
    suite: SuiteArgs,
}

/// Most builds of a comparison.
const MOST: usize = COMPARED as usize;
/// Builds beside the first that stand in one table.
const BESIDE: usize = 3;
/// Differences that a table shows.
const SHOWN: usize = 24;
/// Runs that are compared; the day where the scenario has one.
const USUAL: [Run; 7] =
    [Run::Standing, Run::Pull, Run::Climb, Run::Pass, Run::Drive, Run::Range, Run::Day];
/// Longest value in the table of differences, characters.
const LONGEST: usize = 40;

/// Compares.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    let fixed = overrides(&args.set)?;
    let mut loaded = args.files.iter().map(Loaded::open).collect::<Result<Vec<Loaded>, _>>()?;
    if loaded.is_empty() {
        loaded.push(Loaded::demo()?);
    }
    let loaded: Vec<Loaded> = loaded
        .into_iter()
        .map(|one| measured(one, &args.measured))
        .collect::<Result<_, Failure>>()?;
    let mut sides: Vec<(Prepared, Option<String>)> = Vec::new();
    let first = loaded[0].with(&fixed).map_err(of("--set"))?.echo;
    for (i, file) in loaded.iter().enumerate() {
        let mut overrides = if i == 0 { Vec::new() } else { taken(file, &first)? };
        overrides.extend(fixed.iter().cloned());
        sides.push((file.with(&overrides).map_err(of("--set"))?, None));
    }
    let mut variants: Vec<(&str, Vec<Override>, String)> = Vec::new();
    for text in &args.variants {
        let parts = text.split(';').filter(|part| !part.trim().is_empty());
        let overrides = parts
            .map(|part| part.trim().parse().map_err(of("--variant")))
            .collect::<Result<Vec<Override>, Failure>>()?;
        variants.push(("--variant", overrides, text.trim().to_owned()));
    }
    for vary in varied(&args.vary)? {
        for value in vary.values.into_iter().take(MOST) {
            let label = format!("{}={}", vary.path, plain(&value));
            let one = Override::new(&vary.path, value).map_err(of("--vary"))?;
            variants.push(("--vary", vec![one], label));
        }
    }
    for (option, overrides, label) in variants {
        let all: Vec<Override> = fixed.iter().cloned().chain(overrides).collect();
        sides.push((loaded[0].with(&all).map_err(of(option))?, Some(label)));
    }
    if sides.len() < 2 || sides.len() > MOST {
        let n = sides.len();
        let text = format!(
            "{n} to compare; needed: 2 to {MOST}, by files, --variant PATH=VALUE or --vary \
             PATH=VALUES"
        );
        return Err(Failure::Arguments(text));
    }
    let entries = entries(args, sides, output)?;
    let progress = Progress::new(entries.len() as u64, "builds");
    let report = compare(&entries, || progress.step())?;
    drop(progress);
    if output.json {
        return output.document(&report);
    }
    legend(&report, output)?;
    differences(&report, output)?;
    prices(&report, output)?;
    figures(&report, output)
}

/// The weather and the start of the first, for a file that names none.
fn taken(file: &Loaded, first: &Value) -> Result<Vec<Override>, Failure> {
    let Ok(own) = file.prepare() else {
        return Ok(Vec::new());
    };
    ["conditions", "start"]
        .into_iter()
        .filter(|key| own.echo.get(key).is_none())
        .filter_map(|key| Some((key, first.get(key)?.clone())))
        .map(|(key, value)| Ok(Override::new(key, value)?))
        .collect()
}

/// The drives of every build: its own; what it does not name, it takes from the first.
fn entries(
    args: &Args,
    sides: Vec<(Prepared, Option<String>)>,
    output: &Output,
) -> Result<Vec<Candidate>, Failure> {
    let first = Drives { wltc: Some(sides[0].0.wltc()), ..sides[0].0.drives.clone() };
    let asked = sides[0].0.echo.get("runs").cloned();
    sides
        .into_iter()
        .map(|(mut prepared, changed)| {
            let drives = &mut prepared.drives;
            drives.climb = drives.climb.or(first.climb);
            drives.pass = drives.pass.or(first.pass);
            drives.commute = drives.commute.take().or_else(|| first.commute.clone());
            drives.wltc = first.wltc;
            drives.pull = drives.pull.take().or_else(|| first.pull.clone());
            drives.day = drives.day.take().or_else(|| first.day.clone());
            // What was taken does not differ.
            if let (Some(Value::Object(asked)), Some(echo)) =
                (&asked, prepared.echo.as_object_mut())
                && let Value::Object(own) =
                    echo.entry("runs").or_insert_with(|| Value::Object(Map::new()))
            {
                for (name, run) in asked {
                    own.entry(name.as_str()).or_insert_with(|| run.clone());
                }
            }
            let day = prepared.drives.day.is_some();
            let usual = if day { &USUAL[..] } else { &USUAL[..USUAL.len() - 1] };
            let suite = args.suite.suite(&prepared, usual, [], output.units)?;
            Ok(Candidate { prepared, suite, changed })
        })
        .collect()
}

fn letter(i: usize) -> String {
    char::from_u32('A' as u32 + i as u32).unwrap_or('?').to_string()
}

fn plain(value: &Value) -> String {
    let text = match value {
        Value::String(text) => text.clone(),
        Value::Null => "—".to_owned(),
        Value::Array(list) => format!("list of {}", list.len()),
        Value::Object(_) => "an object".to_owned(),
        other => other.to_string(),
    };
    if text.chars().count() > LONGEST {
        let start: String = text.chars().take(LONGEST - 1).collect();
        return format!("{start}…");
    }
    text
}

fn legend(report: &CompareReport, output: &mut Output) -> Result<(), Failure> {
    for (i, side) in report.builds.iter().enumerate() {
        let what = match &side.changed {
            Some(changed) => format!("A with {changed}"),
            None => format!("{} ({})", side.name, side.file),
        };
        output.text(format!("{}: {what}", letter(i)))?;
    }
    Ok(())
}

/// The builds of each table: the first, and some beside it.
fn tables(report: &CompareReport) -> Vec<Vec<usize>> {
    let beside: Vec<usize> = (1..report.builds.len()).collect();
    beside.chunks(BESIDE).map(|some| [&[0], some].concat()).collect()
}

fn differences(report: &CompareReport, output: &mut Output) -> Result<(), Failure> {
    output.heading("What differs")?;
    if report.differences.is_empty() {
        return output.line("nothing");
    }
    for builds in tables(report) {
        let headings: Vec<String> =
            std::iter::once(String::new()).chain(builds.iter().map(|i| letter(*i))).collect();
        let mut table = Table::new(&headings.iter().map(String::as_str).collect::<Vec<_>>());
        for difference in report.differences.iter().take(SHOWN) {
            let values = builds.iter().map(|i| plain(&difference.values[*i]));
            table.row(std::iter::once(difference.path.clone()).chain(values));
        }
        output.table(&table)?;
    }
    match report.differences.len() {
        n if n > SHOWN => output.line(format!("and {} fields more (all with --json)", n - SHOWN)),
        _ => Ok(()),
    }
}

/// What parts cost, and which of them makes the difference.
fn prices(report: &CompareReport, output: &mut Output) -> Result<(), Failure> {
    let Some(prices) = &report.prices else { return Ok(()) };
    let currency = prices.currencies.iter().flatten().next().filter(|_| prices.comparable);
    let currency = currency.map(|name| format!(", {name}")).unwrap_or_default();
    output.heading(format!("What parts cost{currency}"))?;
    let money = |value: f64| number(value, if value.fract() == 0.0 { 0 } else { 2 });
    let dash = || "—".to_owned();
    let more = |value: Option<f64>| match value {
        Some(more) if more > 0.0 => format!("+{}", money(more)),
        Some(more) if more < 0.0 => format!("−{}", money(-more)),
        Some(_) => "0".to_owned(),
        None => dash(),
    };
    for builds in tables(report).into_iter().filter(|_| !prices.parts.is_empty()) {
        let mut table = beside(&builds);
        let mut row = |what: String, paid: &[Option<f64>], over: &dyn Fn(usize) -> Option<f64>| {
            let mut cells = vec![what, paid[0].map_or_else(dash, money)];
            for i in &builds[1..] {
                cells.extend([paid[*i].map_or_else(dash, money), more(over(*i))]);
            }
            table.row(cells);
        };
        for part in &prices.parts {
            row(part.part.clone(), &part.prices, &|i| part.more_than_first[i]);
        }
        let sums = &prices.sums;
        row("all of these".to_owned(), sums, &|i| prices.more_than_first[i]);
        output.table(&table)?;
    }
    if !prices.comparable {
        let named = prices.currencies.iter().enumerate().map(|(i, name)| {
            format!("{}: {}", letter(i), name.as_deref().unwrap_or("no currency"))
        });
        let named: Vec<String> = named.collect();
        output.text(format!(
            "The prices are not in one currency, so that none is held against another: {}.",
            named.join("; ")
        ))?;
    }
    for i in (1..report.builds.len()).filter(|_| prices.comparable) {
        let alone = prices.parts.iter().filter(|part| part.more_than_first[i].is_none());
        let alone: Vec<&str> = alone
            .filter(|part| part.prices[i].is_some() != part.prices[0].is_some())
            .map(|part| part.part.as_str())
            .collect();
        if !alone.is_empty() {
            output.text(format!(
                "A and {}: only one of the two has a price for {}, so that their sums are not held \
                 against each other.",
                letter(i),
                alone.join(", ")
            ))?;
        }
    }
    let mut told: Vec<&Vec<String>> = Vec::new();
    for without in prices.without.iter().filter(|list| !list.is_empty()) {
        if prices.parts.is_empty() || told.contains(&without) {
            continue;
        }
        told.push(without);
        let builds = prices.without.iter().enumerate().filter(|(_, other)| *other == without);
        let builds: Vec<String> = builds.map(|(i, _)| letter(i)).collect();
        let parts = without.join(", ");
        output.text(format!(
            "{}: without a price, and not in the sum: {parts}.",
            builds.join(", ")
        ))?;
    }
    Ok(())
}

/// A table of some builds beside the first.
fn beside(builds: &[usize]) -> Table {
    let mut headings = vec![String::new(), ">A".to_owned()];
    for i in &builds[1..] {
        headings.extend([format!(">{}", letter(*i)), ">± A".to_owned()]);
    }
    Table::new(&headings.iter().map(String::as_str).collect::<Vec<_>>())
}

fn figures(report: &CompareReport, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    output.heading("What comes of it, and how much more or less than A")?;
    for builds in tables(report) {
        let mut table = beside(&builds);
        for row in report.figures.iter().filter(|row| !figure::is_check(row.figure)) {
            let dash = || "—".to_owned();
            let value = |i: usize| match row.values[i] {
                Some(v) if v.is_nan() && undone(report, row.figure, i) => {
                    figure::NOT_DONE.to_owned()
                }
                Some(v) => figure::value(row.figure, v, units),
                None => dash(),
            };
            let mut cells = vec![figure::label(row.figure, units), value(0)];
            for i in &builds[1..] {
                let shown = value(*i);
                let more = row.more_than_first[*i];
                let change = more.map_or_else(dash, |v| figure::change(row.figure, v, units));
                cells.extend([shown, change]);
            }
            table.row(cells);
            for (place, i) in builds.iter().enumerate().skip(1) {
                if let Some(tone) = tone(row, *i) {
                    table.tone(2 * place, tone);
                    table.tone(2 * place + 1, tone);
                }
            }
        }
        output.table(&table)?;
    }
    for (i, side) in report.builds.iter().enumerate().skip(1) {
        let same = |row: &FigureRow| match (row.values[i], row.values[0]) {
            (Some(a), Some(b)) => a == b || a.is_nan() && b.is_nan(),
            (a, b) => a.is_none() && b.is_none(),
        };
        if side.changed.is_some() && report.figures.iter().all(same) {
            let what = format!("{} comes to the same as A in every figure", letter(i));
            output.said(format!("{what}: none of them depends on what was changed."))?;
        }
    }
    for undone in &report.not_done {
        output.said(format!(
            "{}: {} was not carried out, so that its figures count for nothing: {}.",
            letter(undone.build),
            undone.run.name(),
            undone.why
        ))?;
    }
    Ok(())
}

/// Whether a build did not carry out the run that gives a figure.
fn undone(report: &CompareReport, figure: &str, build: usize) -> bool {
    let run = Run::of_figure(figure).ok().map(|(run, _)| run);
    report.not_done.iter().any(|undone| undone.build == build && Some(undone.run) == run)
}

/// Whether a build is better or worse than the first.
fn tone(row: &FigureRow, i: usize) -> Option<Tone> {
    let (value, first) = (row.values[i]?, row.values[0]?);
    let more = match (value.is_nan(), first.is_nan()) {
        (true, true) => return None,
        // What is never reached is worse than what is reached.
        (true, false) => return Some(Tone::Worse),
        (false, true) => return Some(Tone::Better),
        // What is not held against the first is neither better nor worse.
        (false, false) if value.is_finite() && first.is_finite() => row.more_than_first[i]?,
        (false, false) => value - first,
    };
    // What shows no difference has none.
    if more.is_nan() || more.abs() < 5e-4 * first.abs() {
        return None;
    }
    match (row.better, more > 0.0) {
        (Better::Higher, true) | (Better::Lower, false) => Some(Tone::Better),
        (Better::Higher, false) | (Better::Lower, true) => Some(Tone::Worse),
        (Better::Neither, _) => None,
    }
}
