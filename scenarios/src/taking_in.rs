//! Takes what was learnt from a car into its files.

use crate::files::allowed::plain;
use crate::files::bounds::MEASURED;
use crate::files::error::{Error, Source};
use crate::files::origins::Folder;
use crate::files::reading::read;
use crate::files::short_path::short as short_path;
use crate::files::tree::{Tree, canonical, value_at};
use crate::inputs::conditions::calm_kmh;
use crate::inputs::learnt::{Beside, Learnt, LearntField, LearntInput};
use crate::inputs::taken_in::{TakenFile, TakenIn, same};
use crate::prepared::prepare;
use serde_json::Value;
use std::cell::OnceCell;
use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Many times what is typical a measurement does not leave.
const WORSE: f64 = 3.0;

/// The files that a build names, and others that the caller names, each once.
fn named(tree: &Tree, others: &[PathBuf]) -> Result<Vec<(PathBuf, Source)>, Error> {
    let (origin, _) = tree.origins.of("build.measured");
    let list = tree.root["build"]["measured"].as_array().map(Vec::as_slice).unwrap_or_default();
    let mut found: Vec<(PathBuf, Source)> = Vec::new();
    for name in list.iter().filter_map(Value::as_str) {
        let Folder::Disk(folder) = &origin.folder else {
            let problem = "names files that were learnt; allowed here: none".to_owned();
            return Err(Error::File { file: origin.said.name_or("measured"), problem });
        };
        found.push((folder.join(name), origin.said.clone()));
    }
    found.extend(others.iter().map(|path| (path.clone(), Source::Caller)));
    if found.len() as u64 > MEASURED {
        return Err(Error::Value {
            said: origin.said.clone(),
            path: "measured".to_owned(),
            value: format!("a list of {}", found.len()),
            allowed: format!("at most {MEASURED} files"),
        });
    }
    let mut known: Vec<PathBuf> = Vec::new();
    found.retain(|(path, _)| {
        let own = canonical(path);
        let is_new = !known.contains(&own);
        known.push(own);
        is_new
    });
    Ok(found)
}

/// Reads a file of what was learnt; one that is missing is told by the file that names it.
fn open(path: &Path, said: &Source) -> Result<Learnt, Error> {
    Learnt::open(path).map_err(|e| match (e, said) {
        (Error::File { file, problem }, Source::File(by)) => {
            let problem = format!("measured \"{}\": {problem}", cycles::file(file.as_ref()));
            Error::File { file: by.clone(), problem }
        }
        (other, _) => other,
    })
}

/// A car before anything is taken in.
struct Before<'a> {
    file: &'a str,
    tree: &'a Tree,
    /// The numbers that were assumed for it.
    assumed: OnceCell<HashMap<String, f64>>,
}

impl Before<'_> {
    fn assumed(&self, path: &str) -> Option<f64> {
        let all = self.assumed.get_or_init(|| {
            let scenario = read(&self.tree.root).ok();
            let made = scenario
                .and_then(|it| prepare(self.file, it, self.tree.clone(), Arc::default()).ok());
            let assumptions = made.map(|made| made.assumptions).unwrap_or_default();
            assumptions.into_iter().filter_map(|one| Some((one.path, one.number?))).collect()
        });
        all.get(path).copied().or(calm_kmh(path))
    }

    /// What stands in a field of a tree, or is assumed for it.
    fn number(&self, tree: &Tree, path: &str) -> Option<f64> {
        match value_at(&tree.root, path) {
            None | Some(Value::Null) => self.assumed(path),
            Some(value) => value.as_f64(),
        }
    }

    /// Whether a field holds what it held when it was learnt, or what was learnt; else what it
    /// holds. What an earlier file put there stands in nobody's way.
    fn is_as_it_was(&self, now: &Tree, field: &LearntField) -> Result<(), Option<f64>> {
        let found = [now, self.tree].map(|tree| self.number(tree, &field.path));
        let fits = |found: Option<f64>| match (found, field.was) {
            (Some(found), was) => {
                was.is_some_and(|was| same(found, was)) || same(found, field.value)
            }
            (None, was) => was.is_none(),
        };
        if found.into_iter().any(fits) { Ok(()) } else { Err(found[0]) }
    }
}

/// Takes the files that a build names, and others, into its tree. Nothing where there are none.
///
/// An input is taken in only where each of its fields holds what it held when it was learnt, since a
/// part that was swapped must not be given what was measured on another.
///
/// # Errors
/// A file that cannot be read, or is no file of what was learnt.
pub(crate) fn take_in(
    file: &str,
    tree: &Tree,
    others: &[PathBuf],
) -> Result<Option<(Tree, TakenIn)>, Error> {
    let files = named(tree, others)?;
    if files.is_empty() {
        return Ok(None);
    }
    let before = Before { file, tree, assumed: OnceCell::new() };
    let (mut now, mut taken) = (tree.clone(), TakenIn::default());
    for (path, said) in files {
        let learnt = open(&path, &said)?;
        let name = path.display().to_string();
        let folder = Folder::Disk(path.parent().unwrap_or(Path::new("")).to_owned());
        let mut is_idle = true;
        for input in &learnt.inputs {
            let outcome = put(&before, &mut now, input, &name, &folder);
            is_idle &= outcome.is_err();
            let notes: Vec<String> = match outcome {
                Ok(earlier) => {
                    let said = |file| format!("stands in place of what {file} says");
                    earlier.map(said).into_iter().chain(doubt(input)).collect()
                }
                Err(why) => vec![format!("is left out: {why}")],
            };
            let (file, what) = (cycles::file(&path), cycles::short(&input.name));
            taken.notes.extend(notes.iter().map(|note| format!("{file}: {what} {note}")));
        }
        taken.files.push(TakenFile { file: name, learnt, is_idle });
    }
    Ok(Some((now, taken)))
}

/// What is odd about how well an input is said to be known.
fn doubt(input: &LearntInput) -> Option<String> {
    let typical = input.typical_sd.filter(|typical| *typical > 0.0)?;
    match input.sd {
        0.0 => Some("is said to be known exactly (sd is 0), as nothing measured is".to_owned()),
        sd if sd > WORSE * typical => Some(format!(
            "is said to be known worse (sd is {}) than where nothing was measured ({})",
            plain(sd),
            plain(typical)
        )),
        _ => None,
    }
}

/// Puts an input in. Says which earlier file said something else, or why nothing was put in.
fn put(
    before: &Before,
    tree: &mut Tree,
    input: &LearntInput,
    file: &str,
    folder: &Folder,
) -> Result<Option<String>, String> {
    let beside = input.beside.iter().map(Beside::as_field);
    for field in input.fields.iter().cloned().chain(beside) {
        before.is_as_it_was(tree, &field).map_err(|now| {
            let path = short_path(&field.path);
            let said = |value: Option<f64>| value.map_or("nothing".to_owned(), plain);
            format!("{path} was {}, and {} stands there", said(field.was), said(now))
        })?;
    }
    let mut earlier = None;
    for LearntField { path, value, .. } in &input.fields {
        if let Source::Measured(by) = &tree.origins.of(path).0.said {
            earlier = Some(cycles::file(by.as_ref()).to_string());
        }
        tree.set_measured(path, Value::from(*value), file, folder.clone())
            .map_err(|why| format!("{}: {why}", short_path(path)))?;
        // A number of the label stands in place of its letter.
        if path == "build.tyre.label_n_per_kn" && tree.root["build"]["tyre"].is_object() {
            tree.root["build"]["tyre"]["label_class"] = Value::Null;
        }
    }
    Ok(earlier)
}
