//! `sweep`: every combination of some varied fields.

use crate::failure::{Failure, of};
use crate::figure;
use crate::input::Input;
use crate::measure::Units;
use crate::output::{Output, complain};
use crate::plain;
use crate::progress::Progress;
use crate::suite::SuiteArgs;
use crate::table::Table;
use clap::ValueEnum;
use scenarios::bounds::ROWS_HELD;
use scenarios::output_file::{Growing, Kind};
use scenarios::runs::figure::find;
use scenarios::runs::{Better, Figure, Run, Suite};
use scenarios::studies::sweep::{Effects, SweepRow, Vary, combinations, sweep};
use scenarios::{Loaded, Override};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde_json::{Map, Value, json};
use std::borrow::Cow;
use std::collections::BTreeSet;
use std::ffi::OsStr;
use std::io;
use std::path::{Path, PathBuf};

/// How rows are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum RowForm {
    /// A table for people.
    Table,
    /// CSV with a header.
    Csv,
    /// A JSON object a line.
    Lines,
}

/// Arguments of `sweep`.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    input: Input,

    /// A field and its values: `path=from..to:step` or `path=a,b,c`; repeat it for more fields.
    #[arg(
        long,
        value_name = "PATH=VALUES",
        required = true,
        allow_hyphen_values = true,
        add = crate::completing::set()
    )]
    vary: Vec<String>,

    #[command(flatten)]
    suite: SuiteArgs,

    /// Figure or varied field to sort by, best first; `-NAME` for worst first. Unsorted rows are
    /// streamed.
    #[arg(long, value_name = "NAME", allow_hyphen_values = true)]
    sort: Option<String>,

    /// Keeps only the first rows after sorting.
    #[arg(long, value_name = "N")]
    top: Option<usize>,

    /// How rows are written; left out, as the file's name ends (`.csv`, `.jsonl`), or else as a
    /// table. `--json` is `--as lines`.
    #[arg(long = "as", value_enum, value_name = "FORM")]
    form: Option<RowForm>,

    /// Writes the rows to a file, whole or not at all.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

/// A line of the JSON of `sweep`: the varied fields by their paths, then the figures, or else the
/// problem of the combination.
pub struct Line;

impl JsonSchema for Line {
    fn schema_name() -> Cow<'static, str> {
        "Line".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        let figures = Run::ALL.into_iter().flat_map(Run::figures).map(|figure| {
            let text = figure.meaning;
            (figure.name, json!({ "type": ["number", "null"], "description": text }))
        });
        let problem = json!({ "type": "string", "description": "why there are no figures, or which run was not carried out" });
        let properties: Map<String, Value> = figures
            .chain([("problem", problem)])
            .map(|(name, schema)| (name.to_owned(), schema))
            .collect();
        json_schema!({ "type": "object", "properties": properties })
    }
}

/// What `--out` writes, in whichever form.
const KIND: Kind = Kind { words: "what a sweep writes", begins: begins_as_rows };

/// Whether a file begins as rows do: as a table with a rule under its head, as CSV whose last
/// columns are a figure and the problem, or as a JSON object of single values with a figure or a
/// problem among them.
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
    is_table || is_csv || is_object
}

/// Figures that a table shows where none are named.
const TABLE_FIGURES: usize = 6;

impl Args {
    /// How rows are written: as asked, or as the file's name says.
    fn form(&self) -> RowForm {
        let suffix = self.out.as_deref().and_then(Path::extension).and_then(OsStr::to_str);
        let of_file = match suffix.map(str::to_ascii_lowercase).as_deref() {
            Some("csv") => RowForm::Csv,
            Some("jsonl" | "ndjson") => RowForm::Lines,
            _ => RowForm::Table,
        };
        self.form.unwrap_or(of_file)
    }

    /// The figure that rows are sorted by, if it is none of the varied fields.
    fn sorting_figure(&self, varied: &[Vary]) -> Option<&str> {
        let name = self.sort.as_deref()?;
        let plain = name.strip_prefix('-').unwrap_or(name);
        varied.iter().all(|v| v.path != plain).then_some(plain)
    }

    /// Which of the figures of the build as it is are shown.
    fn shown(
        &self,
        found: &[Figure],
        by: Option<&str>,
        form: RowForm,
    ) -> Result<Vec<&'static str>, Failure> {
        let known = |name: &str| match find(found, name) {
            Some(figure) => Ok(figure.name),
            None => Err(Run::no_answer(name)),
        };
        let by = by.map(known).transpose()?;
        if !self.suite.figures.is_empty() {
            return Ok(self
                .suite
                .figures
                .iter()
                .map(|name| known(name))
                .collect::<Result<_, _>>()?);
        }
        let all = found.iter().map(|figure| figure.name);
        let mut names: Vec<&str> = match form {
            RowForm::Table => {
                all.filter(|name| !figure::is_check(name)).take(TABLE_FIGURES).collect()
            }
            RowForm::Csv | RowForm::Lines => all.collect(),
        };
        names.extend(by.filter(|by| !names.contains(by)));
        Ok(names)
    }
}

/// Runs every combination.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    let loaded = args.input.load()?;
    let varied = varied(&args.vary)?;
    let total = combinations(&varied)?;
    let prepared = loaded.prepare().map_err(of("--set"))?;
    // A path that leads nowhere is a mistake of the whole sweep, not of its rows.
    for vary in &varied {
        let first = Override::new(&vary.path, vary.values[0].clone()).map_err(of("--vary"))?;
        if let Err(e) = loaded.with(&[first])
            && e.is_of_path()
        {
            return Err(of("--vary")(e));
        }
    }
    let sorting = args.sorting_figure(&varied);
    let suite = args.suite.suite(&prepared, &[Run::Drive], sorting, output.units)?;
    let form = if output.json { RowForm::Lines } else { args.form() };
    let rows = args.top.map_or(total, |top| total.min(top as u64));
    if rows > ROWS_HELD && (form == RowForm::Table || args.sort.is_some()) {
        return Err(Failure::Arguments(format!(
            "{rows} rows in a table or sorted; allowed: at most {ROWS_HELD}, such as by --top, or \
             as many as there are with --as csv and without --sort"
        )));
    }
    let shown = args.shown(&suite.figures(&prepared)?, sorting, form)?;
    let order = args.sort.as_deref().map(|name| Order::find(name, &varied)).transpose()?;
    let progress = Progress::new(total, "combinations");
    let evaluate = |set: &[(String, Value)]| {
        let figures = one(&loaded, set, &suite);
        progress.step();
        figures
    };
    let inputs = args.suite.files(&prepared);
    let out = args.out.as_deref();
    let mut file = out.map(|out| Growing::create(out, KIND, &inputs)).transpose()?;
    let mut effects = Effects::of(&varied);
    // Without figures in any row there is no answer; the first says why.
    let mut all_refused = None;
    let mut see = |row: &SweepRow| {
        match (&row.outcome, row.number) {
            (Err(problem), 0) => all_refused = Some(problem.clone()),
            (Ok(_), _) => all_refused = None,
            _ => {}
        }
        let value = |found: &Vec<Figure>, name| find(found, name).map(|figure| figure.value);
        let of = |found| shown.iter().map(|name| value(found, name)).collect();
        effects.see(row.number, row.outcome.as_ref().ok().map(of));
    };
    let mut rows_out = Rows::new(&varied, shown.clone(), form, output.units);
    match order {
        None => {
            let most = args.top.unwrap_or(usize::MAX);
            sweep::<Failure>(&varied, evaluate, |row| {
                see(&row);
                if (row.number as usize) < most {
                    rows_out.take(&row)?;
                }
                // A table needs all its rows to find its widths; lines go out as they come.
                let lines = rows_out.drain();
                match &mut file {
                    Some(file) => Ok(file.add(lines.as_bytes())?),
                    None => output.lines(&lines),
                }
            })?;
        }
        Some(order) => {
            let mut rows: Vec<(f64, SweepRow)> = Vec::new();
            let most = args.top.unwrap_or(usize::MAX);
            sweep::<Failure>(&varied, evaluate, |row| {
                see(&row);
                rows.push((order.rank(&row), row));
                // With --top only the best are kept, so that memory does not grow with the sweep.
                if rows.len() >= most.saturating_mul(2).saturating_add(4096) {
                    rows.sort_by(|a, b| a.0.total_cmp(&b.0));
                    rows.truncate(most);
                }
                Ok(())
            })?;
            rows.sort_by(|a, b| a.0.total_cmp(&b.0));
            rows.truncate(most);
            rows.iter().try_for_each(|(_, row)| rows_out.take(row))?;
        }
    }
    drop(progress);
    let text = rows_out.finish(output.width);
    match (file, &args.out) {
        (Some(mut file), Some(path)) => {
            file.add(text.as_bytes())?;
            file.finish()?;
            output.line(format!("{total} combinations, written to {}", path.display()))?;
        }
        _ => output.lines(&text)?,
    }
    if let Some(problem) = all_refused {
        return Err(Failure::Unanswered(format!(
            "no combination has figures; the first: {problem}"
        )));
    }
    let others = if varied.len() > 1 { ", the others at their first values" } else { "" };
    for path in effects.idle().map(|i| &varied[i].path) {
        let idle = format!("None of the figures shown depends on {path}{others}.");
        match (form, &args.out) {
            (RowForm::Csv | RowForm::Lines, None) => complain(&format!("note: {idle}")),
            _ => output.text(idle)?,
        }
    }
    Ok(())
}

/// The fields of `--vary` with their values.
pub fn varied(texts: &[String]) -> Result<Vec<Vary>, Failure> {
    texts.iter().map(|text| Vary::parse(text).map_err(of("--vary"))).collect()
}

/// The figures of one combination, or why there are none.
fn one(loaded: &Loaded, set: &[(String, Value)], suite: &Suite) -> Result<Vec<Figure>, String> {
    let overrides = set
        .iter()
        .map(|(path, value)| Override::new(path, value.clone()))
        .collect::<Result<Vec<_>, _>>()
        .map_err(|e| e.to_string())?;
    let prepared = loaded.with(&overrides).map_err(|e| e.to_string())?;
    suite.figures(&prepared).map_err(|e| e.to_string())
}

/// What rows are sorted by, and the sign that puts the best first.
enum Order {
    Field(usize, f64),
    Figure(&'static str, f64),
}

impl Order {
    fn find(name: &str, varied: &[Vary]) -> Result<Self, Failure> {
        let (plain, turned) = match name.strip_prefix('-') {
            Some(rest) => (rest, -1.0),
            None => (name, 1.0),
        };
        if let Some(i) = varied.iter().position(|v| v.path == plain) {
            return Ok(Order::Field(i, turned));
        }
        let (_, figure) = Run::of_figure(plain)?;
        let sign = if figure.better == Better::Higher { -1.0 } else { 1.0 };
        Ok(Order::Figure(figure.name, sign * turned))
    }

    /// Smaller comes first; rows without a value come last.
    fn rank(&self, row: &SweepRow) -> f64 {
        let (value, sign) = match self {
            Order::Field(i, sign) => (row.values[*i].as_f64(), sign),
            Order::Figure(name, sign) => match &row.outcome {
                Ok(figures) => (find(figures, name).map(|figure| figure.value), sign),
                Err(_) => return f64::INFINITY,
            },
        };
        value.filter(|v| !v.is_nan()).map_or(f64::MAX, |v| v * sign)
    }
}

/// Rows on their way out.
struct Rows {
    form: RowForm,
    units: Units,
    varied: Vec<String>,
    shown: Vec<&'static str>,
    table: Table,
    text: String,
    /// What was not carried out in the rows of a table.
    not_done: BTreeSet<String>,
}

/// The runs that a combination did not carry out, and why.
fn not_done(found: &[Figure]) -> Option<String> {
    let runs = Run::not_done(found);
    let all: Vec<String> =
        runs.iter().map(|(run, why)| format!("{} is not carried out: {why}", run.name())).collect();
    (!all.is_empty()).then(|| all.join("; "))
}

impl Rows {
    fn new(varied: &[Vary], shown: Vec<&'static str>, form: RowForm, units: Units) -> Self {
        let varied: Vec<String> = varied.iter().map(|v| v.path.clone()).collect();
        let mut text = String::new();
        if form == RowForm::Csv {
            let names = varied.iter().map(String::as_str).chain(shown.iter().copied());
            text.push_str(&csv_line(
                &names.chain(["problem"]).map(str::to_owned).collect::<Vec<_>>(),
            ));
        }
        // Paths with spaces in them break where a table is narrow.
        let paths = varied.iter().map(|path| path.replace(['_', '.'], " "));
        let labels = shown.iter().map(|name| figure::label(name, units));
        let headings: Vec<String> = paths.chain(labels).map(|text| format!(">{text}")).collect();
        let headings: Vec<&str> = headings.iter().map(String::as_str).collect();
        Self {
            form,
            units,
            table: Table::new(&headings),
            varied,
            shown,
            text,
            not_done: BTreeSet::new(),
        }
    }

    fn take(&mut self, row: &SweepRow) -> Result<(), Failure> {
        let given = row.values.iter().map(|v| match v {
            Value::String(s) => s.clone(),
            other => other.to_string(),
        });
        let shown = |found: &[Figure]| -> Vec<Option<Figure>> {
            self.shown.iter().map(|name| find(found, name).copied()).collect()
        };
        match self.form {
            RowForm::Table => {
                let mut cells: Vec<String> = given.collect();
                let text = |figure: Option<Figure>| {
                    figure.map_or("—".to_owned(), |f| figure::shown(&f, self.units))
                };
                match &row.outcome {
                    Ok(found) => {
                        cells.extend(shown(found).into_iter().map(text));
                        self.not_done.extend(not_done(found));
                    }
                    Err(problem) => cells.push(problem.clone()),
                }
                self.table.row(cells);
            }
            RowForm::Csv => {
                let mut cells: Vec<String> = given.collect();
                match &row.outcome {
                    Ok(found) => {
                        cells.extend(shown(found).into_iter().map(exact));
                        cells.push(not_done(found).unwrap_or_default());
                    }
                    Err(problem) => {
                        cells.resize(self.varied.len() + self.shown.len(), String::new());
                        cells.push(problem.clone());
                    }
                }
                self.text.push_str(&csv_line(&cells));
            }
            RowForm::Lines => {
                let varied = self.varied.iter().cloned().zip(row.values.iter().cloned());
                let mut object: Map<String, Value> = varied.collect();
                match &row.outcome {
                    Ok(found) => {
                        let values = shown(found).into_iter().map(|f| f.map(|f| f.value).into());
                        object.extend(self.shown.iter().map(|name| (*name).to_owned()).zip(values));
                        let problem = not_done(found).map(|why| ("problem".to_owned(), why.into()));
                        object.extend(problem);
                    }
                    Err(problem) => {
                        object.insert("problem".to_owned(), Value::from(problem.as_str()));
                    }
                }
                self.text.push_str(&plain::json(&object).map_err(io::Error::from)?);
                self.text.push('\n');
            }
        }
        Ok(())
    }

    /// What is ready to go out.
    fn drain(&mut self) -> String {
        std::mem::take(&mut self.text)
    }

    fn finish(self, width: u16) -> String {
        match self.form {
            RowForm::Table => {
                let mut text = format!("{}\n", self.table.render(false, width));
                for why in &self.not_done {
                    text.push_str(&format!("not done: {why}\n"));
                }
                text
            }
            _ => self.text,
        }
    }
}

/// A line of CSV.
pub fn csv_line(cells: &[String]) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    // Writing to memory does not fail, and CSV of texts is a text.
    let _ = writer.write_record(cells.iter().map(|cell| plain::line(cell)));
    writer.into_inner().ok().and_then(|bytes| String::from_utf8(bytes).ok()).unwrap_or_default()
}

fn exact(figure: Option<Figure>) -> String {
    figure.map(|f| f.value).filter(|v| v.is_finite()).map_or_else(String::new, |v| v.to_string())
}
