//! What was learnt and was taken into a car.

use crate::files::error::Source;
use crate::files::given::Given;
use crate::files::tree::value_at;
use crate::inputs::learnt::{
    Beside, Learnt, LearntField, LearntFrom, LearntInput, Recorded, Scatter, Spreads, matrix,
    sha256_of,
};
use nalgebra::DMatrix;
use serde_json::Value;
use std::path::Path;

/// Files of what was learnt that were taken into a car, and what of them was not.
#[derive(Debug, Clone, Default)]
pub struct TakenIn {
    /// The files, in the order in which they were taken in.
    pub(crate) files: Vec<TakenFile>,
    /// Inputs that were left out or taken from a later file, each in a sentence.
    pub(crate) notes: Vec<String>,
}

/// A file of what was learnt.
#[derive(Debug, Clone)]
pub(crate) struct TakenFile {
    /// Its name.
    pub(crate) file: String,
    /// What it says.
    pub(crate) learnt: Learnt,
    /// Whether none of its inputs was taken in.
    pub(crate) is_idle: bool,
}

/// Inputs that were measured together, as far as they stand in a car.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// The file in which it stands.
    pub file: String,
    /// What it was learnt from.
    pub from: LearntFrom,
    /// The day on which it was learnt.
    pub date: String,
    /// The inputs, with the fields that still hold what was measured.
    pub inputs: Vec<LearntInput>,
    /// Their correlations.
    pub correlations: DMatrix<f64>,
    /// What differs from drive to drive.
    pub scatter: Option<Scatter>,
}

impl Measured {
    /// Of what stands in a file the inputs with fields that `stand`.
    fn of(
        (file, from, date): (String, LearntFrom, String),
        inputs: &[LearntInput],
        correlations: &DMatrix<f64>,
        stands: impl Fn(&LearntInput, &LearntField) -> bool,
    ) -> Option<Self> {
        let (mut kept, mut left) = (Vec::new(), Vec::new());
        for (i, input) in inputs.iter().enumerate() {
            let fields: Vec<_> = input.fields.iter().filter(|field| stands(input, field)).collect();
            if !fields.is_empty() {
                kept.push(i);
                let fields = fields.into_iter().cloned().collect();
                left.push(LearntInput { fields, ..input.clone() });
            }
        }
        let n = kept.len();
        let correlations = DMatrix::from_fn(n, n, |i, j| correlations[(kept[i], kept[j])]);
        (n > 0).then_some(Self { file, from, date, inputs: left, correlations, scatter: None })
    }

    /// What of the spreads that came with a part stands in a car: what was measured on that car
    /// itself comes before it.
    pub(crate) fn of_part(echo: &Given, part: &str, spreads: &Spreads) -> Option<Self> {
        let whole = |input: &LearntInput| {
            let fields = input.fields.iter().map(|field| {
                let path = format!("{part}.{}", field.path);
                LearntField { path, ..field.clone() }
            });
            let beside = input
                .beside
                .iter()
                .map(|other| Beside { path: format!("{part}.{}", other.path), ..other.clone() });
            let (fields, beside) = (fields.collect(), beside.collect());
            LearntInput { fields, beside, ..input.clone() }
        };
        let inputs: Vec<LearntInput> = spreads.inputs.iter().map(whole).collect();
        let origins = echo.origins();
        let file = match &origins.of(part).0.said {
            Source::File(file) | Source::Measured(file) => file.clone(),
            Source::Caller => "the command line".to_owned(),
        };
        let stands = |input: &LearntInput, field: &LearntField| {
            let is_own = matches!(origins.of(&field.path).0.said, Source::Measured(_));
            let alike = |other: &Beside| match (number_at(echo, &other.path), other.was) {
                (Some(found), Some(was)) => same(found, was),
                (found, was) => found.is_none() && was.is_none(),
            };
            !is_own && holds(echo, &field.path, field) && input.beside.iter().all(alike)
        };
        let together = matrix(spreads.correlations.as_deref(), inputs.len());
        Self::of((file, spreads.from, spreads.date.clone()), &inputs, &together, stands)
    }

    /// The same with only some of its fields. Nothing where none is left.
    pub(crate) fn only(&self, stays: impl Fn(&LearntField) -> bool) -> Option<Self> {
        let said = (self.file.clone(), self.from, self.date.clone());
        let found = Self::of(said, &self.inputs, &self.correlations, |_, field| stays(field))?;
        Some(Self { scatter: self.scatter, ..found })
    }

    /// Whether the field at a path from the root is one of these.
    pub(crate) fn has(&self, path: &str) -> bool {
        self.fields().any(|field| field.path == path)
    }

    /// The fields of all of them.
    pub fn fields(&self) -> impl Iterator<Item = &LearntField> {
        self.inputs.iter().flat_map(|input| &input.fields)
    }
}

/// Whether a field, at a path from the root, holds the value that was measured.
pub(crate) fn holds(root: &Value, path: &str, field: &LearntField) -> bool {
    number_at(root, path).is_some_and(|found| same(found, field.value))
}

fn number_at(root: &Value, path: &str) -> Option<f64> {
    value_at(root, path).and_then(Value::as_f64)
}

/// Whether two numbers are the same but for the rounding of a text.
pub(crate) fn same(one: f64, other: f64) -> bool {
    (one - other).abs() <= 1e-9 * one.abs().max(other.abs())
}

impl TakenIn {
    /// What of it stands in a car.
    pub(crate) fn standing(&self, echo: &Given) -> Vec<Measured> {
        let origins = echo.origins();
        let of_file = |TakenFile { file, learnt, .. }: &TakenFile| {
            let said = (file.clone(), learnt.from, learnt.date.clone());
            let is_own =
                |path: &str| matches!(&origins.of(path).0.said, Source::Measured(by) if by == file);
            // What nobody put there is what was assumed when it was learnt.
            let alike = |other: &Beside| {
                let found = number_at(echo, &other.path);
                let was = |found| other.was.is_some_and(|was| same(found, was));
                is_own(&other.path) || found.is_none_or(was)
            };
            let stands = |input: &LearntInput, field: &LearntField| {
                is_own(&field.path) && input.beside.iter().all(alike)
            };
            let found = Measured::of(said, &learnt.inputs, &learnt.correlation_matrix(), stands)?;
            Some(Measured { scatter: learnt.scatter, ..found })
        };
        self.files.iter().filter_map(of_file).collect()
    }

    /// How many recordings a file was learnt from.
    pub(crate) fn recordings(&self, file: &str) -> usize {
        self.files.iter().find(|one| one.file == file).map_or(0, |one| one.learnt.sources.len())
    }

    /// A file with the day on which its content was learnt.
    pub(crate) fn said_of(&self, file: &str) -> String {
        let date = self.files.iter().find(|one| one.file == file).map(|one| &one.learnt.date);
        date.map_or_else(|| file.to_owned(), |date| format!("{file}, {date}"))
    }

    /// The file that was learnt from a recording, by what stands in that, if there is one.
    pub fn learnt_from(&self, sha256: &str) -> Option<&str> {
        let has = |one: &&TakenFile| one.learnt.sources.iter().any(|it| it.sha256 == sha256);
        self.files.iter().filter(|one| !one.is_idle).find(has).map(|one| one.file.as_str())
    }

    /// The files.
    pub fn files(&self) -> impl Iterator<Item = &str> {
        self.files.iter().map(|one| one.file.as_str())
    }

    /// Files of which nothing was taken in.
    pub fn idle(&self) -> impl Iterator<Item = &str> {
        self.files.iter().filter(|one| one.is_idle).map(|one| one.file.as_str())
    }

    /// Recordings that hold something else than when it was learnt from them, each in a sentence.
    pub fn changed_sources(&self) -> Vec<String> {
        let sources = |one| {
            let TakenFile { file, learnt, .. }: &TakenFile = one;
            learnt.sources.iter().map(|source| (Path::new(file), source))
        };
        let changed = |(file, source): (&Path, &Recorded)| {
            let path = file.parent().unwrap_or(Path::new("")).join(&source.file);
            let differs = path.is_file() && sha256_of(&path).is_ok_and(|s| s != source.sha256);
            differs.then(|| {
                let (file, source) = (cycles::file(file), cycles::short(&source.file));
                format!("{file}: {source} holds something else than when this was learnt from it")
            })
        };
        self.files.iter().flat_map(sources).filter_map(changed).collect()
    }
}
