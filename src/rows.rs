//! Rows of many combinations, in the forms in which they are written.

use crate::failure::Failure;
use crate::figure::{self, NOT_DONE};
use crate::measure::Units;
use crate::output::complain;
use crate::parquet_file::{MARK, ParquetFile};
use crate::plain;
use crate::progress::Progress;
use crate::table::Table;
use clap::ValueEnum;
use scenarios::output_file::{Growing, Kind};
use scenarios::part_file::STAYS;
use scenarios::runs::{Better, FigureKind, Run};
use scenarios::studies::shard::Shard;
use scenarios::studies::stream::{Found, Part, Plan, Row};
use scenarios::studies::sweep::Vary;
use serde_json::{Map, Value};
use std::collections::BTreeSet;
use std::ffi::OsStr;
use std::io;
use std::path::Path;

/// A part with all of its rows: those that it holds already, and then what is computed of each other
/// number. `see` is shown all of them, in order.
pub fn filled(
    path: &Path,
    plan: &Plan,
    shard: Shard,
    found: impl Fn(u64) -> Result<Found, String> + Sync,
    mut see: impl FnMut(&Row),
) -> Result<Part, Failure> {
    let mut part = Part::open::<Failure>(path, plan, shard, |row| {
        see(&row);
        Ok(())
    })?;
    let (all, rest) = (shard.range(plan.total), part.rest());
    if rest.start > all.start {
        let (done, many) = (rest.start - all.start, all.end - all.start);
        complain(&format!("note: {} holds {done} of {many} rows already", path.display()));
    }
    let progress = Progress::new(rest.end - rest.start, "combinations");
    let evaluate = |number| {
        let found = found(number);
        progress.step();
        found
    };
    part.run::<Failure>(evaluate, |row| {
        see(&row);
        Ok(())
    })?;
    Ok(part)
}

/// How rows are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum RowForm {
    /// A table for people.
    Table,
    /// CSV with a header.
    Csv,
    /// A JSON object a line.
    Lines,
    /// Parquet, into a file.
    Parquet,
}

impl RowForm {
    /// The form of a file, as its name ends.
    pub fn of_file(file: &Path) -> Option<Self> {
        let suffix = file.extension().and_then(OsStr::to_str)?;
        match suffix.to_ascii_lowercase().as_str() {
            "csv" => Some(RowForm::Csv),
            "jsonl" | "ndjson" => Some(RowForm::Lines),
            "parquet" => Some(RowForm::Parquet),
            _ => None,
        }
    }
}

/// What a file of rows is, in whichever form.
pub const KIND: Kind = Kind { words: "what a sweep writes", begins: begins_as_rows };

/// Whether a file begins as rows do: as a table with a rule under its head, as CSV whose last
/// columns are a figure and the problem, as a JSON object of single values with a figure or a
/// problem among them, or as Parquet that says so at its end.
fn begins_as_rows(text: &str) -> bool {
    let is_figure = |name: &str| Run::of_figure(name).is_ok();
    let mut lines = text.lines();
    let (first, second) = (lines.next().unwrap_or_default(), lines.next().unwrap_or_default());
    let is_table = second.starts_with('─') && second.chars().all(|c| matches!(c, '─' | ' '));
    let mut names = first.rsplit(',');
    let is_csv = names.next() == Some("problem") && names.next().is_some_and(is_figure);
    let is_object = serde_json::from_str::<Map<String, Value>>(first).is_ok_and(|object| {
        object.keys().any(|name| name == "problem" || is_figure(name))
            && object.values().all(|value| !value.is_object() && !value.is_array())
    });
    let is_parquet = text.starts_with("PAR1") && text.contains(MARK);
    is_table || is_csv || is_object || is_parquet
}

/// The columns of rows: fields that vary, then figures; a problem follows them.
#[derive(Debug, Clone)]
pub struct Columns {
    /// Paths of the fields.
    pub varied: Vec<String>,
    /// Names of the figures.
    pub figures: Vec<&'static str>,
}

/// A value of a varied field as text.
pub fn given(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        other => other.to_string(),
    }
}

/// The runs that a combination did not carry out, and why.
pub fn not_done(found: &Found) -> Option<String> {
    let all = found.not_done.iter();
    let all: Vec<String> =
        all.map(|(run, why)| format!("{} is not carried out: {why}", run.name())).collect();
    (!all.is_empty()).then(|| all.join("; "))
}

/// A figure as it stands in a table.
fn shown(name: &str, value: Option<f64>, found: &Found, units: Units) -> String {
    let Some(value) = value else { return "—".to_owned() };
    let is_hidden = Run::of_figure(name).is_ok_and(|(run, figure)| {
        let needs_the_run = figure.kind == FigureKind::Number && figure.better != Better::Neither;
        needs_the_run && value.is_nan() && found.not_done.iter().any(|(other, _)| *other == run)
    });
    if is_hidden { NOT_DONE.to_owned() } else { figure::value(name, value, units) }
}

/// A line of CSV.
pub fn csv_line(cells: impl IntoIterator<Item = impl AsRef<str>>) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    // Writing to memory does not fail, and CSV of texts is a text.
    let _ = writer.write_record(cells.into_iter().map(|cell| plain::line(cell.as_ref())));
    writer.into_inner().ok().and_then(|bytes| String::from_utf8(bytes).ok()).unwrap_or_default()
}

impl Columns {
    /// The line over CSV.
    pub fn csv_head(&self) -> String {
        let figures = self.figures.iter().map(|name| (*name).to_owned());
        csv_line(self.varied.iter().cloned().chain(figures).chain(["problem".to_owned()]))
    }

    /// The values of the figures of a row, without those that only its order needs.
    fn values<'a>(&self, found: &'a Found) -> impl Iterator<Item = Option<f64>> + 'a {
        found.values.iter().copied().take(self.figures.len())
    }

    fn csv(&self, values: &[Value], outcome: &Result<Found, String>) -> String {
        let cells = values.iter().map(given);
        let number = |value: Option<f64>| {
            value.filter(|v| v.is_finite()).map_or_else(String::new, |v| v.to_string())
        };
        match outcome {
            Ok(found) => {
                let figures = self.values(found).map(number);
                csv_line(cells.chain(figures).chain([not_done(found).unwrap_or_default()]))
            }
            Err(problem) => {
                let empty = self.figures.iter().map(|_| String::new());
                csv_line(cells.chain(empty).chain([problem.clone()]))
            }
        }
    }

    fn object(&self, values: &[Value], outcome: &Result<Found, String>) -> Result<String, Failure> {
        let mut object: Map<String, Value> =
            self.varied.iter().cloned().zip(values.iter().cloned()).collect();
        let problem = match outcome {
            Ok(found) => {
                let names = self.figures.iter().map(|name| (*name).to_owned());
                object.extend(names.zip(self.values(found).map(Value::from)));
                not_done(found)
            }
            Err(problem) => Some(problem.clone()),
        };
        object.extend(problem.map(|problem| ("problem".to_owned(), Value::from(problem))));
        Ok(plain::json(&object).map_err(io::Error::from)? + "\n")
    }
}

/// Says of a file that could not be written that its rows stay where they are kept.
pub fn stays(failure: Failure) -> Failure {
    match failure {
        Failure::Input(scenarios::Error::File { file, problem }) => {
            let problem = format!("{problem}; {STAYS}");
            Failure::Input(scenarios::Error::File { file, problem })
        }
        other => other,
    }
}

/// Rows on their way out.
pub struct Rows {
    columns: Columns,
    form: RowForm,
    units: Units,
    table: Table,
    text: String,
    /// What was not carried out in the rows of a table.
    not_done: BTreeSet<String>,
}

impl Rows {
    /// Before the first.
    pub fn new(columns: Columns, form: RowForm, units: Units) -> Self {
        let text = if form == RowForm::Csv { columns.csv_head() } else { String::new() };
        // Paths with spaces in them break where a table is narrow.
        let paths = columns.varied.iter().map(|path| path.replace(['_', '.'], " "));
        let labels = columns.figures.iter().map(|name| figure::label(name, units));
        let headings: Vec<String> = paths.chain(labels).map(|text| format!(">{text}")).collect();
        let headings: Vec<&str> = headings.iter().map(String::as_str).collect();
        let table = Table::new(&headings);
        Self { columns, form, units, table, text, not_done: BTreeSet::new() }
    }

    /// Takes one.
    pub fn take(
        &mut self,
        values: &[Value],
        outcome: &Result<Found, String>,
    ) -> Result<(), Failure> {
        match self.form {
            RowForm::Table => {
                let mut cells: Vec<String> = values.iter().map(given).collect();
                match outcome {
                    Ok(found) => {
                        let names = self.columns.figures.iter().zip(self.columns.values(found));
                        cells.extend(names.map(|(name, v)| shown(name, v, found, self.units)));
                        self.not_done.extend(not_done(found));
                    }
                    Err(problem) => cells.push(problem.clone()),
                }
                self.table.row(cells);
            }
            RowForm::Csv => self.text.push_str(&self.columns.csv(values, outcome)),
            RowForm::Lines => self.text.push_str(&self.columns.object(values, outcome)?),
            RowForm::Parquet => {}
        }
        Ok(())
    }

    /// What is ready to go out.
    pub fn drain(&mut self) -> String {
        std::mem::take(&mut self.text)
    }

    /// What is left.
    pub fn finish(self, width: u16) -> String {
        if self.form != RowForm::Table {
            return self.text;
        }
        let not_done = self.not_done.iter().map(|why| format!("not done: {why}\n"));
        format!("{}\n{}", self.table.render(false, width), not_done.collect::<String>())
    }
}

/// A file that rows are written to one by one.
pub enum RowsFile {
    /// As text.
    Text(Rows, Growing),
    /// As Parquet.
    Parquet(ParquetFile),
}

impl RowsFile {
    /// Begins it.
    pub fn begin(
        file: Growing,
        columns: Columns,
        varied: &[Vary],
        form: RowForm,
    ) -> Result<Self, Failure> {
        Ok(match form {
            RowForm::Parquet => RowsFile::Parquet(ParquetFile::begin(file, &columns, varied)?),
            form => RowsFile::Text(Rows::new(columns, form, Units::Metric), file),
        })
    }

    /// Takes a row.
    pub fn take(
        &mut self,
        values: &[Value],
        outcome: &Result<Found, String>,
    ) -> Result<(), Failure> {
        match self {
            RowsFile::Text(rows, file) => {
                rows.take(values, outcome)?;
                Ok(file.add(rows.drain().as_bytes())?)
            }
            RowsFile::Parquet(file) => file.take(values, outcome),
        }
    }

    /// Gives it its name.
    pub fn finish(self) -> Result<(), Failure> {
        match self {
            RowsFile::Text(mut rows, mut file) => {
                file.add(rows.drain().as_bytes())?;
                Ok(file.finish()?)
            }
            RowsFile::Parquet(file) => file.finish(),
        }
    }
}
