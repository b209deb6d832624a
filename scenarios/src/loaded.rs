//! A scenario that was read, and can be prepared with other values as often as one likes.

use crate::files::demo;
use crate::files::error::Error;
use crate::files::origins::Folder;
use crate::files::overrides::Override;
use crate::files::short_path::SCENARIO_KEYS;
use crate::files::suggestion;
use crate::files::tree::{Tree, canonical, text_of};
use crate::inputs::scenario::Scenario;
use crate::prepared::{Prepared, prepare};
use serde::Deserialize;
use serde_path_to_error::Segment;
use std::path::Path;

/// A scenario with all the files that it refers to.
#[derive(Debug, Clone)]
pub struct Loaded {
    file: String,
    tree: Tree,
}

impl Loaded {
    /// Reads a scenario, or a build alone, and every file that it refers to. Nothing is checked
    /// but that all of them are JSON.
    ///
    /// # Errors
    /// A file that is missing, is no plain file, is larger than [`crate::FILE_LIMIT_BYTES`], is
    /// not JSON, holds a key twice, or refers back to itself; a part that the shelf does not have.
    pub fn open(path: impl AsRef<Path>) -> Result<Self, Error> {
        let path = path.as_ref();
        let file = path.display().to_string();
        let text = text_of(path)?;
        let folder = Folder::Disk(path.parent().unwrap_or(Path::new("")).to_owned());
        let tree = Tree::read(&text, &file, folder, vec![canonical(path)])?;
        Ok(Self { file, tree })
    }

    /// The scenario that comes with the program.
    ///
    /// # Errors
    /// None that a test would not find.
    pub fn demo() -> Result<Self, Error> {
        let tree = Tree::read(demo::SCENARIO, demo::NAME, Folder::Demo, Vec::new())?;
        Ok(Self { file: demo::NAME.to_owned(), tree })
    }

    /// The name of the file.
    pub fn file(&self) -> &str {
        &self.file
    }

    /// The same with values put in place of others, to be prepared often.
    ///
    /// # Errors
    /// A path that leads nowhere.
    pub fn put(&self, overrides: &[Override]) -> Result<Self, Error> {
        let mut changed = self.clone();
        for one in overrides {
            changed.tree.set(&one.path, &one.shown, one.value.clone())?;
        }
        Ok(changed)
    }

    /// Puts values in place of others and makes a car of it all.
    ///
    /// # Errors
    /// A path that leads nowhere; a field that is unknown, missing, of the wrong type or out of
    /// range. Each is one sentence with the file and the path.
    pub fn with(&self, overrides: &[Override]) -> Result<Prepared, Error> {
        let mut tree = self.tree.clone();
        for one in overrides {
            tree.set(&one.path, &one.shown, one.value.clone())?;
        }
        let scenario = Scenario::deserialize(&tree.root).map_err(|e| explain(&tree, &e))?;
        prepare(&self.file, scenario, tree)
    }

    /// Makes a car of it as it is.
    ///
    /// # Errors
    /// As [`Self::with`].
    pub fn prepare(&self) -> Result<Prepared, Error> {
        self.with(&[])
    }
}

/// Finds the field that could not be read, by reading once more, slowly.
fn explain(tree: &Tree, first: &serde_json::Error) -> Error {
    let (path, message) = match serde_path_to_error::deserialize::<_, Scenario>(&tree.root) {
        Err(e) => (dotted(e.path().iter()), e.inner().to_string()),
        Ok(_) => (String::new(), first.to_string()),
    };
    if let Some(rest) = message.strip_prefix("unknown field ") {
        let (field, known) = quoted(rest);
        // The path may or may not hold the unknown key itself.
        let above = match path.strip_suffix(field.as_str()) {
            Some(above) if above.is_empty() || above.ends_with('.') => {
                above.trim_end_matches('.').to_owned()
            }
            _ => path,
        };
        let whole = if above.is_empty() { field.clone() } else { format!("{above}.{field}") };
        let (origin, _) = tree.origins.of(&whole);
        let said = origin.said.clone();
        let (_, shown) = tree.origins.of(&above);
        let place = match (above.is_empty(), shown.is_empty()) {
            (true, _) => "the scenario".to_owned(),
            (false, true) => "the file".to_owned(),
            (false, false) => shown,
        };
        let mut known: Vec<&str> = known.iter().map(String::as_str).collect();
        known.retain(|key| *key != "$schema");
        if above == "build" {
            known.extend(
                SCENARIO_KEYS
                    .iter()
                    .filter(|key| !known.contains(*key))
                    .copied()
                    .collect::<Vec<_>>(),
            );
            known.retain(|key| *key != "$schema");
        }
        let hint = suggestion::hint(&field, &known);
        return Error::Unknown { said, field, place, hint };
    }
    if let Some(rest) = message.strip_prefix("missing field ") {
        let (field, _) = quoted(rest);
        let whole = if path.is_empty() { field } else { format!("{path}.{field}") };
        let (origin, shown) = tree.origins.of(&whole);
        let said = origin.said.clone();
        let needed = "it has no default".to_owned();
        return Error::Missing { said, path: shown, needed };
    }
    let (origin, shown) = tree.origins.of(&path);
    let said = origin.said.clone();
    let place = if shown.is_empty() { "the file".to_owned() } else { shown };
    if let Some(rest) = message.strip_prefix("unknown variant ") {
        let (found, known) = quoted(rest);
        let known: Vec<&str> = known.iter().map(String::as_str).collect();
        let allowed = match suggestion::closest(&found, known.iter().copied()) {
            Some(close) if known.len() > 1 => {
                format!("{}; did you mean \"{close}\"?", known.join(", "))
            }
            _ => known.join(", "),
        };
        return Error::Value { said, path: place, value: format!("\"{found}\""), allowed };
    }
    for start in ["invalid type: ", "invalid value: ", "invalid length "] {
        if let Some(rest) = message.strip_prefix(start) {
            let (found, expected) = rest.rsplit_once(", expected ").unwrap_or((rest, "another"));
            let value = found
                .replace("string ", "the text ")
                .replace("floating point `", "the number `")
                .replace("integer `", "the number `")
                .replace("boolean `", "`")
                .replace('`', "")
                .replace("sequence", "a list")
                .replace("map", "an object");
            return Error::Value { said, path: place, value, allowed: expected_words(expected) };
        }
    }
    Error::Value { said, path: place, value: "not readable".to_owned(), allowed: message }
}

/// What was expected, as a person would say it.
fn expected_words(expected: &str) -> String {
    match expected {
        "f64" => "a number".to_owned(),
        "u32" => "a whole number from 0 on".to_owned(),
        "a string" => "a text in quotes".to_owned(),
        "a boolean" => "true or false".to_owned(),
        "a sequence" => "a list".to_owned(),
        other if other.starts_with("struct ") => "an object in { }".to_owned(),
        other if other.contains("enum") => "one of the words of this field".to_owned(),
        other => other.to_owned(),
    }
}

/// The quoted names in a message: the first, and the rest.
fn quoted(text: &str) -> (String, Vec<String>) {
    let mut names = text.split('`').skip(1).step_by(2).map(str::to_owned);
    let first = names.next().unwrap_or_default();
    (first, names.collect())
}

/// A path with its items counted from 1.
fn dotted<'a>(segments: impl Iterator<Item = &'a Segment>) -> String {
    let steps: Vec<String> = segments
        .filter_map(|segment| match segment {
            Segment::Seq { index } => Some((index + 1).to_string()),
            Segment::Map { key } => Some(key.clone()),
            Segment::Enum { variant } => Some(variant.clone()),
            Segment::Unknown => None,
        })
        .collect();
    steps.join(".")
}
