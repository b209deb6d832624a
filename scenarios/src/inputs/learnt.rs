//! What was learnt from a car that was driven: a file that stands beside its build.

use crate::files::allowed::{Allowed, plain, within};
use crate::files::bounds::UNCERTAIN;
use crate::files::error::{Error, Source};
use crate::files::field_path::{Fault, FieldPath};
use crate::files::origins::{Folder, Origins};
use crate::files::output_file::{Growing, Kind};
use crate::files::reading::read;
use crate::files::short_path;
use crate::files::tree::{parse, text_of};
use crate::files::unfit::explain;
use crate::inputs::fields::holds_number;
pub use crate::inputs::learnt_input::{
    Beside, LearntField, LearntFrom, LearntInput, Measure, Spreads,
};
use nalgebra::DMatrix;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use sim_core::units;
use std::io::Read;
use std::path::{Path, PathBuf};
use time::{Date, Month};

/// What was learnt from a car that was driven: the inputs that moved, how sure they are, and from
/// which recordings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Learnt {
    /// Where the JSON Schema of this file is.
    #[serde(rename = "$schema", skip_serializing_if = "Option::is_none")]
    pub schema: Option<String>,
    /// What it was learnt from.
    pub from: LearntFrom,
    /// The day on which it was learnt, such as `2026-11-27`.
    pub date: String,
    /// Anything worth remembering.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// The recordings.
    pub sources: Vec<Recorded>,
    /// What it was like when they were recorded.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub conditions: Option<TestConditions>,
    /// The inputs.
    pub inputs: Vec<LearntInput>,
    /// How the inputs hang together: a row for each of them with its correlation to all of them;
    /// left out, they are independent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub correlations: Option<Vec<Vec<f64>>>,
    /// What differs from drive to drive.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub scatter: Option<Scatter>,
}

/// A recording.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Recorded {
    /// Path of the file, seen from this one.
    pub file: String,
    /// SHA-256 of what stood in it, as 64 hexadecimal digits.
    pub sha256: String,
}

/// What it was like when a car was measured.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TestConditions {
    /// Air, °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub air_c: Option<f64>,
    /// Height above the sea, m.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub altitude_m: Option<f64>,
    /// The car with its load, kg.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mass_kg: Option<f64>,
}

/// What differs from drive to drive and is no property of the car: wind, people, surface.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Scatter {
    /// What drives took beyond what the inputs explain, %: more people, rougher and wetter roads, more
    /// bends than the file is for.
    #[serde(default)]
    pub energy_mean_pct: f64,
    /// How far a drive's energy at the pack lies from that, %: the width of Student's distribution
    /// with 4 degrees of freedom, whose 80 % band reaches 1.53 widths to either side.
    pub energy_sd_pct: f64,
}

/// The files that may be replaced.
const KIND: Kind = Kind { words: "a file of what was learnt", begins: is_learnt };

fn is_learnt(beginning: &str) -> bool {
    serde_json::from_str::<Learnt>(beginning).is_ok()
}

/// The folder of such files, which may be made for them.
const FOLDER: &str = "measured";

/// How far a value may be from what the shift makes of it, by rounding, as a share of it.
const ROUNDED_SHARE: f64 = 1e-3;

/// Most characters of a name.
const NAME_LENGTH: usize = 80;

/// Numbers far beyond any that a car has.
const ANY: Allowed = within(-1e12, 1e12);
const DEVIATION: Allowed = within(0.0, 1e12);

/// How far below zero an eigenvalue of correlations may be that were rounded to three decimals.
const ROUNDING: f64 = 1e-3;

impl Learnt {
    /// Reads a file.
    ///
    /// # Errors
    /// What [`input_text`](crate::input_text) refuses; a text that is not JSON; a field that is
    /// unknown, missing, of the wrong type or out of range; correlations that are not square, not
    /// symmetric, or of no variables that there may be. Each is one sentence with file and path.
    pub fn open(path: &Path) -> Result<Self, Error> {
        let file = path.display().to_string();
        let tree = parse(&text_of(path)?, &file)?;
        let mut origins = Origins::default();
        let folder = Folder::Disk(path.parent().unwrap_or(Path::new("")).to_owned());
        origins.add(String::new(), Source::File(file), folder);
        let learnt: Self =
            read(&tree).map_err(|unfit| explain(&origins, unfit, "what was learnt"))?;
        learnt.check().map_err(|fault| origins.place(fault))?;
        Ok(learnt)
    }

    /// Writes it to a file, with a folder `measured` for it where that is not there; `inputs` are the
    /// files that the same run reads.
    ///
    /// # Errors
    /// Where it could not be read again, and as [`Growing::create`].
    pub fn save(&self, path: &Path, inputs: &[PathBuf]) -> Result<(), Error> {
        let mut origins = Origins::default();
        let file = path.display().to_string();
        origins.add(String::new(), Source::File(file.clone()), Folder::Demo);
        self.check().map_err(|fault| origins.place(fault))?;
        let text = serde_json::to_string_pretty(self)
            .map_err(|e| Error::File { file, problem: e.to_string() })?;
        let folder = path.parent().filter(|folder| folder.ends_with(FOLDER));
        let above = folder.and_then(Path::parent);
        let mut growing = match above.is_some_and(|it| it == Path::new("") || it.is_dir()) {
            true => Growing::create_with_folder(path, KIND, inputs)?,
            false => Growing::create(path, KIND, inputs)?,
        };
        growing.add(text.as_bytes())?;
        growing.add(b"\n")?;
        growing.finish()
    }

    /// The correlations of the inputs, each with itself where none are given.
    pub fn correlation_matrix(&self) -> DMatrix<f64> {
        matrix(self.correlations.as_deref(), self.inputs.len())
    }

    fn check(&self) -> Result<(), Fault> {
        let root = FieldPath::ROOT;
        check_date(&root, &self.date)?;
        for (i, source) in self.sources.iter().enumerate() {
            let hex = |c: u8| c.is_ascii_digit() || (b'a'..=b'f').contains(&c);
            if source.sha256.len() != 64 || !source.sha256.bytes().all(hex) {
                let allowed = "64 digits from 0 to 9 and a to f";
                return Err(root.field("sources").item(i).refuse(
                    "sha256",
                    &source.sha256,
                    allowed,
                ));
            }
        }
        if let Some(conditions) = self.conditions {
            let at = root.field("conditions");
            at.optional("air_c", conditions.air_c, within(-60.0, 60.0))?;
            at.optional("altitude_m", conditions.altitude_m, within(-500.0, 9000.0))?;
            at.optional("mass_kg", conditions.mass_kg, within(0.0, 1e6))?;
        }
        check_inputs(&root, &self.inputs, self.correlations.as_deref(), "")?;
        if let Some(scatter) = self.scatter {
            let at = root.field("scatter");
            at.number("energy_mean_pct", scatter.energy_mean_pct, within(-100.0, 1000.0))?;
            at.number("energy_sd_pct", scatter.energy_sd_pct, DEVIATION)?;
        }
        Ok(())
    }
}

/// Correlations of so many inputs.
pub(crate) fn matrix(rows: Option<&[Vec<f64>]>, n: usize) -> DMatrix<f64> {
    match rows {
        Some(rows) => DMatrix::from_fn(n, n, |i, j| rows[i][j]),
        None => DMatrix::identity(n, n),
    }
}

/// Checks what stands in a part about how well its numbers are known.
pub(crate) fn check_spreads(
    at: &FieldPath,
    part: &str,
    spreads: Option<&Spreads>,
) -> Result<(), Fault> {
    let Some(Spreads { date, inputs, correlations, .. }) = spreads else { return Ok(()) };
    check_date(at, date)?;
    check_inputs(at, inputs, correlations.as_deref(), part)
}

fn check_date(at: &FieldPath, date: &str) -> Result<(), Fault> {
    match is_date(date) {
        true => Ok(()),
        false => Err(at.refuse("date", date, "a day such as 2026-11-27")),
    }
}

/// Checks inputs whose paths begin below `above`, and their correlations.
fn check_inputs(
    root: &FieldPath,
    inputs: &[LearntInput],
    correlations: Option<&[Vec<f64>]>,
    above: &str,
) -> Result<(), Fault> {
    let list = root.field("inputs");
    if inputs.is_empty() || inputs.len() as u64 > UNCERTAIN {
        let allowed = format!("1 to {UNCERTAIN} inputs");
        return Err(root.refuse("inputs", format!("a list of {}", inputs.len()), allowed));
    }
    let mut known: Vec<&str> = Vec::new();
    for (i, input) in inputs.iter().enumerate() {
        let at = list.item(i);
        if input.name.is_empty()
            || input.name.chars().count() > NAME_LENGTH
            || input.name.contains(char::is_control)
        {
            let allowed = format!("a line of 1 to {NAME_LENGTH} characters");
            return Err(at.refuse("name", format!("{:?}", input.name), allowed));
        }
        at.number("shift", input.shift, ANY)?;
        at.number("sd", input.sd, DEVIATION)?;
        at.optional("typical_sd", input.typical_sd, DEVIATION)?;
        if input.fields.is_empty() {
            return Err(at.refuse("fields", "an empty list", "at least one field"));
        }
        let fields = at.field("fields");
        for (j, field) in input.fields.iter().enumerate() {
            let at = fields.item(j);
            check_path(&at, &field.path, above)?;
            if known.contains(&field.path.as_str()) {
                return Err(at.refuse("path", &field.path, "each field once"));
            }
            known.push(&field.path);
            at.optional("was", field.was, ANY)?;
            at.number("value", field.value, ANY)?;
            if field.was.is_none() && input.measure != Measure::Value {
                return Err(at.demand("was", "what the shift was counted from"));
            }
            let moved = moved(input, field);
            let size = moved.abs().max(field.was.unwrap_or(0.0).abs());
            if (field.value - moved).abs() > ROUNDED_SHARE * size {
                let allowed = format!("about {}, as the shift says", plain(moved));
                return Err(at.refuse("value", plain(field.value), allowed));
            }
        }
        let beside = at.field("beside");
        for (j, other) in input.beside.iter().enumerate() {
            let at = beside.item(j);
            check_path(&at, &other.path, above)?;
            at.optional("was", other.was, ANY)?;
        }
    }
    correlations.map_or(Ok(()), |rows| check_correlations(root, rows, inputs.len()))
}

/// What the shift of an input makes of what stood in one of its fields.
fn moved(input: &LearntInput, field: &LearntField) -> f64 {
    let was = field.was.unwrap_or(0.0);
    match input.measure {
        Measure::Value => input.shift,
        Measure::Offset => was + input.shift,
        Measure::Percent => was + was * units::share_from_pct(input.shift),
    }
}

/// Checks that a path is one of a number, spelt in the one way that there is.
fn check_path(at: &FieldPath, path: &str, above: &str) -> Result<(), Fault> {
    let whole = format!("{above}{path}");
    if !holds_number(&whole) {
        return Err(at.refuse("path", path, "the path of a number of a scenario"));
    }
    let step = |step: &str| step.parse().map_or(step.to_owned(), |n: usize| n.to_string());
    let steps: Vec<String> = short_path::whole(&whole).split('.').map(step).collect();
    let spelt = steps.join(".");
    match spelt == whole {
        true => Ok(()),
        false => Err(at.refuse("path", path, spelt.strip_prefix(above).unwrap_or(&spelt))),
    }
}

fn check_correlations(root: &FieldPath, rows: &[Vec<f64>], n: usize) -> Result<(), Fault> {
    let rows_at = root.field("correlations");
    if rows.len() != n {
        let found = format!("a list of {} rows", rows.len());
        return Err(root.refuse("correlations", found, format!("{n}, one for each of the inputs")));
    }
    for (i, row) in rows.iter().enumerate() {
        let name = (i + 1).to_string();
        if row.len() != n {
            let allowed = format!("{n} numbers, one for each of the inputs");
            return Err(rows_at.refuse(&name, format!("a list of {}", row.len()), allowed));
        }
        let row_at = rows_at.item(i);
        for (j, value) in row.iter().enumerate() {
            let name = (j + 1).to_string();
            row_at.number(&name, *value, within(-1.0, 1.0))?;
            if i == j && (value - 1.0).abs() > 1e-6 {
                return Err(row_at.refuse(&name, value, "1, as of each input with itself"));
            }
            if j < i && (value - rows[j][i]).abs() > 1e-6 {
                let allowed = format!("{}, as in row {} and column {}", rows[j][i], j + 1, i + 1);
                return Err(row_at.refuse(&name, value, allowed));
            }
        }
    }
    let matrix = DMatrix::from_fn(n, n, |i, j| rows[i.max(j)][i.min(j)]);
    if matrix.symmetric_eigenvalues().min() < -ROUNDING {
        let allowed = "correlations that variables can have together (no negative eigenvalue)";
        return Err(root.refuse("correlations", "such that a spread is negative", allowed));
    }
    Ok(())
}

/// Whether a text is a day of the calendar, such as `2026-11-27`.
fn is_date(text: &str) -> bool {
    let number = |part: &str, digits: usize| {
        let plain = part.len() == digits && part.bytes().all(|c| c.is_ascii_digit());
        part.parse::<u16>().ok().filter(|_| plain)
    };
    let mut parts = text.splitn(3, '-');
    let mut next = |digits| number(parts.next()?, digits);
    let (Some(year), Some(month), Some(day)) = (next(4), next(2), next(2)) else { return false };
    let date = |month| Date::from_calendar_date(year.into(), month, u8::try_from(day).ok()?).ok();
    u8::try_from(month).ok().and_then(|n| Month::try_from(n).ok()).and_then(date).is_some()
}

/// The SHA-256 of a file (FIPS 180-4), as 64 hexadecimal digits.
///
/// # Errors
/// What the operating system refuses.
pub fn sha256_of(path: &Path) -> Result<String, Error> {
    let io = |e: std::io::Error| Error::io(path.display().to_string(), &e);
    let mut file = std::fs::File::open(path).map_err(io)?;
    let mut sum = Sha256::new();
    let mut some = [0; 65536];
    loop {
        match file.read(&mut some).map_err(io)? {
            0 => return Ok(sum.finalize().iter().map(|byte| format!("{byte:02x}")).collect()),
            n => sum.update(&some[..n]),
        }
    }
}
