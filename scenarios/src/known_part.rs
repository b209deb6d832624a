//! A part as a file of its own, with what was learnt of it.

use crate::files::error::{Error, Source};
use crate::files::kind::FileKind;
use crate::files::output_file::Kind;
use crate::files::tree::value_at;
use crate::inputs::learnt::{Beside, LearntField, LearntInput, Measure, Spreads};
use crate::inputs::taken_in::Measured;
use crate::prepared::Prepared;
use nalgebra::DMatrix;
use serde_json::{Map, Value, json};

/// The parts that can be files of their own.
pub const PARTS: [(FileKind, &str); 7] = [
    (FileKind::Donor, "build.donor"),
    (FileKind::Gearbox, "build.gearbox"),
    (FileKind::Motor, "build.motor"),
    (FileKind::Controller, "build.controller"),
    (FileKind::Pack, "build.pack"),
    (FileKind::Cell, "build.pack.cell"),
    (FileKind::Tyre, "build.tyre"),
];

/// The files that such a part may be written over.
pub const KIND: Kind = Kind { words: "a part with its spreads", begins: is_known_part };

fn is_known_part(beginning: &str) -> bool {
    let spreads = |tree: Value| serde_json::from_value::<Spreads>(tree["spreads"].clone());
    serde_json::from_str(beginning).is_ok_and(|tree| spreads(tree).is_ok())
}

/// A path as it is seen from a part.
fn below<'a>(path: &'a str, part: &str) -> Option<&'a str> {
    path.strip_prefix(part)?.strip_prefix('.')
}

/// What was measured of a part: its inputs with paths that begin there, and their correlations.
fn of_part(prepared: &Prepared, all: &[Measured], part: &str) -> (Vec<LearntInput>, DMatrix<f64>) {
    let found: Vec<Measured> =
        all.iter().filter_map(|one| one.only(|field| below(&field.path, part).is_some())).collect();
    let n = found.iter().map(|one| one.inputs.len()).sum();
    let mut together = DMatrix::identity(n, n);
    let mut first = 0;
    for one in &found {
        let n = one.inputs.len();
        together.view_mut((first, first), (n, n)).copy_from(&one.correlations);
        first += n;
    }
    let own = |field: &LearntField| {
        Some(LearntField { path: below(&field.path, part)?.to_owned(), ..field.clone() })
    };
    let beside = |other: &Beside| {
        let was = value_at(&prepared.echo, &other.path).and_then(Value::as_f64);
        Some(Beside { path: below(&other.path, part)?.to_owned(), was })
    };
    let inputs = found.iter().flat_map(|one| &one.inputs).map(|input| LearntInput {
        fields: input.fields.iter().filter_map(own).collect(),
        beside: input.beside.iter().filter_map(beside).collect(),
        ..input.clone()
    });
    (inputs.collect(), together)
}

/// What an input was found to be, in words.
fn in_words(input: &LearntInput) -> String {
    let (name, size) = (&input.name, input.shift.abs());
    let size = if size < 9.95 { (10.0 * size).round() / 10.0 } else { size.round() };
    let way = if input.shift < 0.0 { "below" } else { "above" };
    match input.measure {
        Measure::Percent if size == 0.0 => format!("{name} as on its sheet"),
        Measure::Percent => format!("{name} {size} % {way} its sheet"),
        Measure::Offset => format!("{name} {size} {way} its sheet"),
        Measure::Value => format!("{name} {}", input.shift),
    }
}

/// A part of a car as a file: its numbers with those that were measured in place, and how well they
/// are known. Whichever build names it begins with both.
///
/// # Errors
/// [`Error::Missing`] where nothing of the part was measured.
pub fn known_part(prepared: &Prepared, kind: FileKind) -> Result<Value, Error> {
    let all = prepared.measured();
    let found = PARTS.iter().find(|(own, _)| *own == kind).and_then(|(_, path)| {
        let (inputs, together) = of_part(prepared, &all, path);
        let last =
            all.iter().rfind(|one| one.fields().any(|field| below(&field.path, path).is_some()))?;
        Some((path, inputs, together, last))
    });
    let Some((path, inputs, together, last)) = found else {
        let needed =
            format!("a file of what was learnt, of which something is of the {}", kind.name());
        let said = Source::File(prepared.file.clone());
        return Err(Error::Missing { said, path: "measured".to_owned(), needed });
    };
    let recordings = prepared.taken_in.recordings(&last.file);
    let from = match (recordings, last.from.name()) {
        (0, from) => from.to_owned(),
        (1, from) => format!("a recording ({from})"),
        (n, from) => format!("{n} recordings ({from})"),
    };
    let words: Vec<String> = inputs.iter().map(in_words).collect();
    let mut note = format!("From {from}, {}: {}", last.date, words.join(", "));
    let part = value_at(&prepared.echo, path).and_then(Value::as_object);
    let mut part: Map<String, Value> = part.cloned().unwrap_or_default();
    if let Some(before) = part.get("note").and_then(Value::as_str) {
        note = format!("{note}. Before: {before}");
    }
    let independent = together == DMatrix::identity(inputs.len(), inputs.len());
    let rows = (0..inputs.len()).map(|i| together.row(i).iter().copied().collect()).collect();
    let spreads = Spreads {
        from: last.from,
        date: last.date.clone(),
        inputs,
        correlations: (!independent).then_some(rows),
    };
    part.retain(|name, value| name != "$schema" && !value.is_null());
    part.insert("note".to_owned(), json!(note));
    part.insert("spreads".to_owned(), json!(spreads));
    Ok(Value::Object(part))
}
