//! `sweep`: every combination of some varied fields.

use crate::failure::Failure;
use crate::input::Input;
use crate::measure::number;
use crate::output::{Output, one_line};
use crate::progress::Progress;
use crate::suite::SuiteArgs;
use crate::table::Table;
use clap::ValueEnum;
use scenarios::output_file::Growing;
use scenarios::runs::{Better, Figure, Part, Suite};
use scenarios::studies::sweep::{Row, Vary, combinations, sweep};
use scenarios::{Loaded, Override};
use serde_json::{Map, Value};
use std::path::PathBuf;

/// How rows are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Form {
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
    #[arg(long, value_name = "PATH=VALUES", required = true, allow_hyphen_values = true)]
    vary: Vec<String>,

    #[command(flatten)]
    suite: SuiteArgs,

    /// Column to sort by, best first; `-COLUMN` for worst first. Unsorted rows are streamed.
    #[arg(long, value_name = "COLUMN", allow_hyphen_values = true)]
    sort: Option<String>,

    /// Keeps only the first rows after sorting.
    #[arg(long, value_name = "N")]
    top: Option<usize>,

    /// Columns of figures to show; left out, the first six in a table and all otherwise.
    #[arg(long, value_name = "LIST", value_delimiter = ',')]
    columns: Vec<String>,

    /// How rows are written; `--json` is `--as lines`.
    #[arg(long = "as", value_enum, default_value_t = Form::Table, value_name = "FORM")]
    form: Form,

    /// Writes the rows to a file, whole or not at all.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

/// Figures that a table shows where none are named.
const TABLE_FIGURES: usize = 6;

impl Args {
    /// Which figures are shown.
    fn shown(&self, columns: &[Figure], form: Form) -> Result<Vec<usize>, Failure> {
        if self.columns.is_empty() {
            let most = if form == Form::Table { TABLE_FIGURES } else { usize::MAX };
            return Ok((0..columns.len().min(most)).collect());
        }
        let known: Vec<&str> = columns.iter().map(|f| f.name).collect();
        let find = |name: &String| {
            known.iter().position(|k| k == name).ok_or_else(|| {
                let text = format!("--columns has \"{name}\"; allowed: {}", known.join(", "));
                Failure::Arguments(text)
            })
        };
        self.columns.iter().map(find).collect()
    }
}

/// Runs every combination.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    let loaded = args.input.load()?.put(&args.input.overrides()?)?;
    let varied = args.vary.iter().map(|text| Vary::parse(text)).collect::<Result<Vec<_>, _>>()?;
    let total = combinations(&varied)?;
    let prepared = loaded.prepare()?;
    // A path that leads nowhere is a mistake of the whole sweep, not of its rows.
    for vary in &varied {
        let tried = loaded.with(&[Override::new(&vary.path, vary.values[0].clone())?]);
        if let Err(e @ (scenarios::Error::Unknown { .. } | scenarios::Error::Override { .. })) =
            tried
        {
            return Err(e.into());
        }
    }
    let suite = args.suite.suite(&prepared, &[Part::Drive], output.units)?;
    // Names and directions of the figures, from the build as it is.
    let columns = suite.figures(&prepared)?;
    let form = if output.json { Form::Lines } else { args.form };
    let order =
        args.sort.as_deref().map(|name| Order::find(name, &varied, &columns)).transpose()?;
    let shown = args.shown(&columns, form)?;
    let progress = Progress::new(total, "combinations");
    let evaluate = |set: &[(String, Value)]| {
        let figures = one(&loaded, set, &suite);
        progress.step();
        figures
    };
    let mut file = args.out.as_deref().map(Growing::create).transpose()?;
    let mut sheet = Sheet::new(&varied, &columns, shown, form);
    match order {
        None => {
            let most = args.top.unwrap_or(usize::MAX);
            sweep::<Failure>(&varied, evaluate, |row| {
                if (row.number as usize) < most {
                    sheet.take(&row)?;
                }
                // A table needs all its rows to find its widths; lines go out as they come.
                let lines = sheet.drain();
                match &mut file {
                    Some(file) => Ok(file.add(lines.as_bytes())?),
                    None => output.raw(&lines),
                }
            })?;
        }
        Some(order) => {
            let mut rows: Vec<(f64, Row)> = Vec::new();
            let most = args.top.unwrap_or(usize::MAX);
            sweep::<Failure>(&varied, evaluate, |row| {
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
            rows.iter().try_for_each(|(_, row)| sheet.take(row))?;
        }
    }
    drop(progress);
    let text = sheet.finish();
    match (file, &args.out) {
        (Some(mut file), Some(path)) => {
            file.add(text.as_bytes())?;
            file.finish()?;
            output.line(format!("{total} combinations, written to {}", path.display()))
        }
        _ => output.raw(&text),
    }
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

/// What rows are sorted by.
enum Order {
    Field(usize, f64),
    Figure(usize, f64),
}

impl Order {
    fn find(name: &str, varied: &[Vary], columns: &[Figure]) -> Result<Self, Failure> {
        let (plain, turned) = match name.strip_prefix('-') {
            Some(rest) => (rest, -1.0),
            None => (name, 1.0),
        };
        if let Some(i) = varied.iter().position(|v| v.path == plain) {
            return Ok(Order::Field(i, turned));
        }
        if let Some(i) = columns.iter().position(|f| f.name == plain) {
            let sign = if columns[i].better == Better::Higher { -1.0 } else { 1.0 };
            return Ok(Order::Figure(i, sign * turned));
        }
        let known: Vec<&str> =
            varied.iter().map(|v| v.path.as_str()).chain(columns.iter().map(|f| f.name)).collect();
        let text = format!("--sort is \"{plain}\"; allowed: {}", known.join(", "));
        Err(Failure::Arguments(text))
    }

    /// Smaller comes first; rows without a value come last.
    fn rank(&self, row: &Row) -> f64 {
        let (value, sign) = match self {
            Order::Field(i, sign) => (row.values[*i].as_f64().unwrap_or(f64::NAN), sign),
            Order::Figure(i, sign) => match &row.outcome {
                Ok(figures) => (figures[*i].value, sign),
                Err(_) => return f64::INFINITY,
            },
        };
        if value.is_nan() { f64::MAX } else { value * sign }
    }
}

/// Rows on their way out.
struct Sheet {
    form: Form,
    names: Vec<String>,
    shown: Vec<usize>,
    table: Table,
    text: String,
}

impl Sheet {
    fn new(varied: &[Vary], columns: &[Figure], shown: Vec<usize>, form: Form) -> Self {
        let names: Vec<String> = varied
            .iter()
            .map(|v| v.path.clone())
            .chain(shown.iter().map(|i| columns[*i].name.to_owned()))
            .collect();
        let mut text = String::new();
        if form == Form::Csv {
            let header: Vec<String> = names.iter().cloned().chain(["problem".to_owned()]).collect();
            text.push_str(&csv_line(&header));
        }
        // Tables turn underscores to spaces, so that long names break.
        let headings: Vec<String> =
            names.iter().map(|n| format!(">{}", n.replace(['_', '.'], " "))).collect();
        let headings: Vec<&str> = headings.iter().map(String::as_str).collect();
        Self { form, table: Table::new(&headings), names, shown, text }
    }

    fn take(&mut self, row: &Row) -> Result<(), Failure> {
        let given = row.values.iter().map(|v| match v {
            Value::String(s) => s.clone(),
            other => other.to_string(),
        });
        match self.form {
            Form::Table => {
                let mut cells: Vec<String> = given.collect();
                match &row.outcome {
                    Ok(figures) => {
                        cells.extend(self.shown.iter().map(|i| short(figures[*i].value)));
                    }
                    Err(problem) => cells.push(problem.clone()),
                }
                self.table.row(cells);
            }
            Form::Csv => {
                let mut cells: Vec<String> = given.collect();
                match &row.outcome {
                    Ok(figures) => {
                        cells.extend(self.shown.iter().map(|i| exact(figures[*i].value)));
                        cells.push(String::new());
                    }
                    Err(problem) => {
                        cells.resize(self.names.len(), String::new());
                        cells.push(one_line(problem));
                    }
                }
                self.text.push_str(&csv_line(&cells));
            }
            Form::Lines => {
                let mut object = Map::new();
                for (name, value) in self.names.iter().zip(&row.values) {
                    object.insert(name.clone(), value.clone());
                }
                match &row.outcome {
                    Ok(figures) => {
                        for figure in self.shown.iter().map(|i| &figures[*i]) {
                            object.insert(figure.name.to_owned(), Value::from(figure.value));
                        }
                    }
                    Err(problem) => {
                        object.insert("problem".to_owned(), Value::from(problem.as_str()));
                    }
                }
                self.text.push_str(&Value::Object(object).to_string());
                self.text.push('\n');
            }
        }
        Ok(())
    }

    /// What is ready to go out.
    fn drain(&mut self) -> String {
        std::mem::take(&mut self.text)
    }

    fn finish(self) -> String {
        match self.form {
            Form::Table => format!("{}\n", self.table.render(false)),
            _ => self.text,
        }
    }
}

/// A line of CSV.
pub fn csv_line(cells: &[String]) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    // Writing to memory does not fail, and CSV of texts is a text.
    let _ = writer.write_record(cells);
    writer.into_inner().ok().and_then(|bytes| String::from_utf8(bytes).ok()).unwrap_or_default()
}

fn exact(value: f64) -> String {
    if value.is_finite() { value.to_string() } else { String::new() }
}

fn short(value: f64) -> String {
    match value {
        v if !v.is_finite() => "—".to_owned(),
        v if v.abs() >= 100.0 || v.fract() == 0.0 => number(v, 0),
        v if v.abs() >= 10.0 => number(v, 1),
        v => number(v, 2),
    }
}
