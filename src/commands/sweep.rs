//! `sweep`: every combination of some varied fields.

use crate::failure::{Failure, of};
use crate::figure;
use crate::grounds::grounds;
use crate::input::Input;
use crate::output::{Output, complain};
use crate::progress::Progress;
use crate::rows::{Columns, KIND, RowForm, Rows, RowsFile, filled, stays};
use crate::shards::{ShardArgs, done, say};
use crate::suite::{SuiteArgs, other_road};
use scenarios::bounds::ROWS_HELD;
use scenarios::output_file::Growing;
use scenarios::runs::figure::find;
use scenarios::runs::{Better, Figure, Run, Suite};
use scenarios::studies::best::Best;
use scenarios::studies::own_road::{self, OneRoad, OtherRoads};
use scenarios::studies::shard::Shard;
use scenarios::studies::stream::{self, Found, Part, Plan, Row, parts_beside};
use scenarios::studies::sweep::{Effects, Vary, combinations, set_of, sweep, values_of};
use scenarios::{Loaded, Override, Prepared};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde_json::{Map, Value, json};
use std::borrow::Cow;
use std::path::{Path, PathBuf};

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

    /// Shows only the first rows after sorting; beside a file of all rows ten, where it is left out.
    #[arg(long, value_name = "N")]
    top: Option<usize>,

    /// How rows are written; left out, as the file's name ends (`.csv`, `.jsonl`, `.parquet`), or
    /// else as a table. `--json` shows `lines`.
    #[arg(long = "as", value_enum, value_name = "FORM")]
    form: Option<RowForm>,

    /// Writes the rows to a file, whole or not at all: all of them, in the order of the combinations,
    /// and where the run is stopped, the same command goes on; as a table those that are shown.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,

    #[command(flatten)]
    shards: ShardArgs,
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

/// Figures that a table shows where none are named.
const TABLE_FIGURES: usize = 6;

impl Args {
    /// How rows are written to a file, or else shown.
    fn form(&self, json: bool) -> RowForm {
        let usual = if json { RowForm::Lines } else { RowForm::Table };
        let of_file = self.out.as_deref().and_then(RowForm::of_file);
        match json && self.out.is_none() {
            true => RowForm::Lines,
            false => self.form.or(of_file).unwrap_or(usual),
        }
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
            _ => all.collect(),
        };
        names.extend(by.filter(|by| !names.contains(by)));
        Ok(names)
    }
}

/// What is run, and what its rows hold.
struct Study<'a> {
    loaded: &'a Loaded,
    suite: Suite,
    /// The WLTC that all drive, where it is that of the class of the build as it is.
    road: Option<OneRoad>,
    varied: Vec<Vary>,
    total: u64,
    /// What rows show.
    columns: Columns,
    /// What a table beside a file of rows shows.
    listed: Vec<&'static str>,
    /// What is computed of each: that, and the figure that they are sorted by.
    computed: Vec<&'static str>,
    order: Option<Order>,
}

impl Study<'_> {
    /// What comes of a combination.
    fn found(&self, number: u64, set: &[(String, Value)]) -> Result<Found, String> {
        let prepared = one(self.loaded, set)?;
        let figures = self.suite.figures(&prepared).map_err(|e| e.to_string())?;
        let mut found = Found::of(&figures, &self.computed);
        let place = (number, self.total);
        found.values.extend(self.road.as_ref().map(|road| road.column(place, &prepared)));
        Ok(found)
    }

    /// Where a row stands in the order.
    fn rank(&self, number: u64, outcome: &Result<Found, String>) -> f64 {
        let rank = |order: &Order| order.rank(&values_of(&self.varied, number), outcome);
        self.order.as_ref().map_or(0.0, rank)
    }

    /// The values of a row's varied fields.
    fn values(&self, row: &Row) -> Vec<Value> {
        values_of(&self.varied, row.number)
    }

    /// The combinations that are worked on before their rows are known.
    fn progress(&self, many: u64) -> Progress {
        Progress::new(many, "combinations")
    }

    /// What the rows rest on: the program, what was asked, and every file that is read.
    fn plan(&self, args: &Args, inputs: &[PathBuf], output: &Output) -> Result<Plan, Failure> {
        let asked = (&args.input, &args.vary, &args.suite, output.units);
        let grounds = grounds(&asked, inputs);
        let road = self.road.as_ref().map(|_| own_road::COLUMN);
        let columns = self.computed.iter().copied().chain(road).map(str::to_owned).collect();
        Ok(Plan { total: self.total, columns, grounds })
    }

    /// Files that values of varied fields name, with those that they refer to.
    fn varied_files(&self) -> Vec<PathBuf> {
        let mut files: Vec<PathBuf> = Vec::new();
        for vary in &self.varied {
            for value in vary.values.iter().filter(|value| value.is_string()) {
                let set = Override::new(&vary.path, value.clone()).ok();
                files.extend(set.into_iter().flat_map(|set| self.loaded.files_of(&set)));
            }
        }
        files
    }
}

/// What is said of all rows when they were seen, without their being held.
struct Seen<'a> {
    study: &'a Study<'a>,
    effects: Effects,
    /// How many would drive another WLTC than all do.
    other_roads: OtherRoads,
    /// Without figures in any row there is no answer; the first says why.
    all_refused: Option<String>,
    best: Best<Row>,
}

impl<'a> Seen<'a> {
    /// Before any row, of which at most so many are kept.
    fn of(study: &'a Study<'a>, most: usize) -> Self {
        let effects = Effects::of(&study.varied);
        Self {
            study,
            effects,
            other_roads: OtherRoads::default(),
            all_refused: None,
            best: Best::of(most),
        }
    }

    fn see(&mut self, row: &Row) {
        let Row { number, outcome } = row;
        match outcome {
            Err(problem) if *number == 0 => self.all_refused = Some(problem.clone()),
            Err(_) => {}
            Ok(found) => {
                self.all_refused = None;
                let other = found.values.get(self.study.computed.len());
                self.other_roads.see(other.copied().flatten());
            }
        }
        let shown = self.study.columns.figures.len();
        let values = outcome.as_ref().ok().map(|found| found.values[..shown].to_vec());
        self.effects.see(*number, values);
        self.best.see(self.study.rank(*number, outcome), *number, || row.clone());
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
    let form = args.form(output.json);
    let of_build = suite.figures(&prepared)?;
    let figures = args.shown(&of_build, sorting, form)?;
    let listed = args.shown(&of_build, sorting, RowForm::Table)?;
    let mut computed = figures.clone();
    if let Some(Ok((_, by))) = sorting.map(Run::of_figure)
        && !computed.contains(&by.name)
    {
        computed.push(by.name);
    }
    let named = |name: &str| Order::find(name, &varied, &computed);
    let order = args.sort.as_deref().map(named).transpose()?;
    let columns = Columns { varied: varied.iter().map(|v| v.path.clone()).collect(), figures };
    let road = args.suite.one_road(&prepared, &suite)?;
    let study =
        Study { loaded: &loaded, suite, road, varied, total, columns, listed, computed, order };
    let mut inputs: Vec<PathBuf> = Vec::new();
    for file in args.suite.files(&prepared).into_iter().chain(study.varied_files()) {
        if !inputs.contains(&file) {
            inputs.push(file);
        }
    }
    let file = args.out.as_deref().map(|out| Growing::create(out, KIND, &inputs)).transpose()?;
    match &args.out {
        Some(out) if form != RowForm::Table && !file.as_ref().is_some_and(Growing::is_through) => {
            drop(file);
            into_file(args, &study, &inputs, (out, form), output)
        }
        _ if args.shards.parts() || form == RowForm::Parquet => {
            let text = "--shard, --merge and --as parquet need --out with a file, of rows that are no \
                        table";
            Err(Failure::Arguments(text.to_owned()))
        }
        _ => shown(args, &study, file, form, output),
    }
}

/// Shows rows, or writes those that would be shown to a file, a device or a pipe.
fn shown(
    args: &Args,
    study: &Study,
    mut file: Option<Growing>,
    form: RowForm,
    output: &mut Output,
) -> Result<(), Failure> {
    let rows = args.top.map_or(study.total, |top| study.total.min(top as u64));
    let is_held = form == RowForm::Table || study.order.is_some();
    refuse_too_many(rows, is_held)?;
    let mut seen = Seen::of(study, if study.order.is_some() { rows as usize } else { 0 });
    let mut rows_out = Rows::new(study.columns.clone(), form, output.units);
    let progress = study.progress(study.total);
    let evaluate = |number, set: &[(String, Value)]| {
        let found = study.found(number, set);
        progress.step();
        found
    };
    sweep::<_, Failure>(&study.varied, evaluate, |number, outcome| {
        let row = Row { number, outcome };
        seen.see(&row);
        if study.order.is_none() && number < rows {
            rows_out.take(&study.values(&row), &row.outcome)?;
        }
        // A table needs all its rows to find its widths; lines go out as they come.
        let lines = rows_out.drain();
        match &mut file {
            Some(file) => Ok(file.add(lines.as_bytes())?),
            None => output.lines(&lines),
        }
    })?;
    drop(progress);
    let Seen { effects, all_refused, other_roads, best, .. } = seen;
    best.into_vec().iter().try_for_each(|row| rows_out.take(&study.values(row), &row.outcome))?;
    let text = rows_out.finish(output.width);
    match (file, &args.out) {
        (Some(mut file), Some(path)) => {
            file.add(text.as_bytes())?;
            file.finish()?;
            output.line(format!("{} combinations, written to {}", study.total, path.display()))?;
        }
        _ => output.lines(&text)?,
    }
    let is_for_program = form != RowForm::Table && args.out.is_none();
    conclude(study, all_refused, (&effects, other_roads), is_for_program, output)
}

/// Writes all rows to a file, or a shard of them to its part, and goes on where a run was stopped.
fn into_file(
    args: &Args,
    study: &Study,
    inputs: &[PathBuf],
    (out, form): (&Path, RowForm),
    output: &mut Output,
) -> Result<(), Failure> {
    let is_list = args.sort.is_some() || args.top.is_some();
    let most = if is_list { args.top.unwrap_or(LISTED) } else { 0 };
    refuse_too_many(study.total.min(most as u64), true)?;
    let shard = args.shards.shard()?;
    let plan = study.plan(args, inputs, output)?;
    let mut seen = Seen::of(study, most);
    let mut part = None;
    let parts = if args.shards.merge {
        parts_beside(out, &plan)?
    } else {
        let path = Part::path(out, shard);
        part = Some(computed(study, &plan, &path, shard, &mut seen)?);
        vec![path]
    };
    if let Some(shard) = shard {
        say(done(shard, study.total, &parts[0]), output)?;
    } else {
        let mut write = |parts| {
            let file = Growing::create(out, KIND, inputs)?;
            let mut file = RowsFile::begin(file, study.columns.clone(), &study.varied, form)?;
            stream::Rows::of(&plan, parts).each::<Failure>(|row| {
                if args.shards.merge {
                    seen.see(&row);
                }
                file.take(&study.values(&row), &row.outcome)
            })?;
            file.finish()
        };
        write(parts).map_err(stays)?;
        part.map(Part::remove).transpose()?;
        let written = format!("{} combinations, written to {}", study.total, out.display());
        say(written, output)?;
    }
    let Seen { effects, all_refused, other_roads, best, .. } = seen;
    if is_list {
        let (form, figures) = match output.json {
            true => (RowForm::Lines, &study.columns.figures),
            false => (RowForm::Table, &study.listed),
        };
        let columns = Columns { figures: figures.clone(), ..study.columns.clone() };
        let mut rows = Rows::new(columns, form, output.units);
        for row in best.into_vec() {
            let outcome = row.outcome.as_ref().map(|found| found.picked(&study.computed, figures));
            rows.take(&study.values(&row), &outcome.map_err(String::clone))?;
        }
        output.lines(&rows.finish(output.width))?;
    }
    match shard {
        // Of the others it knows nothing.
        Some(_) => Ok(()),
        None => conclude(study, all_refused, (&effects, other_roads), output.json, output),
    }
}

/// Rows that are shown beside a file of all of them, where nobody says how many.
const LISTED: usize = 10;

/// Computes what is not in a part yet.
fn computed(
    study: &Study,
    plan: &Plan,
    path: &Path,
    shard: Option<Shard>,
    seen: &mut Seen,
) -> Result<Part, Failure> {
    let found = |number| study.found(number, &set_of(&study.varied, number));
    filled(path, plan, shard.unwrap_or(Shard::WHOLE), found, |row| seen.see(row))
}

fn refuse_too_many(rows: u64, is_held: bool) -> Result<(), Failure> {
    if rows <= ROWS_HELD || !is_held {
        return Ok(());
    }
    Err(Failure::Arguments(format!(
        "{rows} rows in a table or sorted; allowed: at most {ROWS_HELD}, such as by --top, or as many \
         as there are with --as csv and without --sort"
    )))
}

/// Ends with what holds for all rows.
fn conclude(
    study: &Study,
    all_refused: Option<String>,
    (effects, other_roads): (&Effects, OtherRoads),
    is_for_program: bool,
    output: &mut Output,
) -> Result<(), Failure> {
    if let Some(problem) = all_refused {
        return Err(Failure::Unanswered(format!(
            "no combination has figures; the first: {problem}"
        )));
    }
    let others = if study.varied.len() > 1 { ", the others at their first values" } else { "" };
    let idle = effects.idle().map(|i| &study.varied[i].path);
    let idle = idle.map(|path| format!("None of the figures shown depends on {path}{others}."));
    let road = other_road(&study.suite.road, other_roads);
    for note in idle.chain(road) {
        if is_for_program {
            complain(&format!("note: {note}"));
        } else {
            output.text(note)?;
        }
    }
    Ok(())
}

/// The fields of `--vary` with their values.
pub fn varied(texts: &[String]) -> Result<Vec<Vary>, Failure> {
    texts.iter().map(|text| Vary::parse(text).map_err(of("--vary"))).collect()
}

/// The car of one combination, or why there is none.
fn one(loaded: &Loaded, set: &[(String, Value)]) -> Result<Prepared, String> {
    let overrides = set
        .iter()
        .map(|(path, value)| Override::new(path, value.clone()))
        .collect::<Result<Vec<_>, _>>()
        .map_err(|e| e.to_string())?;
    loaded.with(&overrides).map_err(|e| e.to_string())
}

/// What rows are sorted by, and the sign that puts the best first.
enum Order {
    /// A varied field, by its place.
    Field(usize, f64),
    /// A figure, by its place among what is computed.
    Figure(usize, f64),
}

impl Order {
    fn find(name: &str, varied: &[Vary], computed: &[&str]) -> Result<Self, Failure> {
        let (plain, turned) = match name.strip_prefix('-') {
            Some(rest) => (rest, -1.0),
            None => (name, 1.0),
        };
        if let Some(i) = varied.iter().position(|v| v.path == plain) {
            return Ok(Order::Field(i, turned));
        }
        let (_, figure) = Run::of_figure(plain)?;
        let sign = if figure.better == Better::Higher { -1.0 } else { 1.0 };
        let place = computed.iter().position(|name| *name == figure.name);
        place.map(|i| Order::Figure(i, sign * turned)).ok_or_else(|| Run::no_answer(plain).into())
    }

    /// Smaller comes first; rows without a value come last.
    fn rank(&self, values: &[Value], outcome: &Result<Found, String>) -> f64 {
        let (value, sign) = match (self, outcome) {
            (Order::Field(i, sign), _) => (values[*i].as_f64(), sign),
            (Order::Figure(i, sign), Ok(found)) => (found.values[*i], sign),
            (Order::Figure(..), Err(_)) => return f64::INFINITY,
        };
        value.filter(|v| !v.is_nan()).map_or(f64::MAX, |v| v * sign)
    }
}
