//! What a shell completes beside the options themselves: fields, parts, figures and roads.

use crate::cli::Cli;
use clap::{Arg, Command, CommandFactory, ValueHint};
use clap_complete::engine::{
    ArgValueCompleter, CompletionCandidate, PathCompleter, ValueCompleter,
};
use scenarios::outlet::Outlet;
use scenarios::runs::Run;
use scenarios::{FileKind, shelf};
use serde_json::Value;
use std::collections::BTreeMap;
use std::ffi::OsStr;

/// Of `--set` and its kin: `motor.mass_kg=`, and behind a part's name the parts of the shelf.
pub fn set() -> ArgValueCompleter {
    ArgValueCompleter::new(|current: &OsStr| {
        let current = current.to_string_lossy();
        if let Some((path, _)) = current.split_once('=') {
            let parts = shelf::shelf().iter().filter(|part| holds(part.kind) == path);
            let values = parts.map(|part| format!("{path}=shelf:{}", part.name));
            return matching(values.map(|value| (value, String::new())), &current);
        }
        matching(fields().into_iter().map(|(path, help)| (format!("{path}="), help)), &current)
    })
}

/// Of options that take a field alone.
pub fn field() -> ArgValueCompleter {
    ArgValueCompleter::new(|current: &OsStr| {
        matching(fields().into_iter(), &current.to_string_lossy())
    })
}

/// Of options that take figures, a comma between them.
pub fn figures() -> ArgValueCompleter {
    ArgValueCompleter::new(|current: &OsStr| {
        let current = current.to_string_lossy();
        let (before, _) =
            current.rsplit_once(',').map_or(("", ""), |(before, rest)| (before, rest));
        let before = if before.is_empty() { String::new() } else { format!("{before},") };
        let all = Run::ALL.into_iter().flat_map(Run::figures);
        let named =
            all.map(|figure| (format!("{before}{}", figure.name), figure.meaning.to_owned()));
        matching(named, &current)
    })
}

/// Of the names of parts.
pub fn parts() -> ArgValueCompleter {
    ArgValueCompleter::new(|current: &OsStr| {
        let named =
            shelf::shelf().iter().map(|part| (part.name.to_owned(), part.kind.name().to_owned()));
        matching(named, &current.to_string_lossy())
    })
}

/// Of the names of parts of one kind.
pub fn parts_of(kind: FileKind) -> ArgValueCompleter {
    ArgValueCompleter::new(move |current: &OsStr| {
        let named = shelf::shelf().iter().filter(|part| part.kind == kind);
        let named = named.map(|part| (part.name.to_owned(), String::new()));
        matching(named, &current.to_string_lossy())
    })
}

/// Of sockets by volts and amperes.
pub fn sockets() -> ArgValueCompleter {
    ArgValueCompleter::new(|current: &OsStr| {
        let named = Outlet::presets().into_iter().map(|outlet| (outlet.name, String::new()));
        matching(named, &current.to_string_lossy())
    })
}

/// Of roads: built-in cycles and files.
pub fn roads() -> ArgValueCompleter {
    ArgValueCompleter::new(|current: &OsStr| {
        let cycles =
            cycles::catalogue().iter().map(|cycle| (cycle.name.to_owned(), cycle.title.to_owned()));
        let mut all = matching(cycles, &current.to_string_lossy());
        all.extend(files(current));
        all
    })
}

/// Of the names of files.
fn paths() -> ArgValueCompleter {
    ArgValueCompleter::new(files)
}

/// Files and folders whose names a shell takes as they stand. A shell puts in what it is offered
/// unquoted, so any other name would be read as several, or as a command.
fn files(current: &OsStr) -> Vec<CompletionCandidate> {
    let mut all = PathCompleter::any().complete(current);
    all.retain(|file| {
        let plain = |c: char| c.is_alphanumeric() || "./_-+,@".contains(c);
        file.get_value().to_str().is_some_and(|name| name.chars().all(plain))
    });
    all
}

/// The command line, as it is completed: every option that takes a file offers [`files`].
pub fn command() -> Command {
    let offer = |arg: Arg| match arg.get_value_hint() {
        ValueHint::AnyPath => arg.add(paths()),
        _ => arg,
    };
    Cli::command().mut_subcommands(|command| command.mut_args(offer))
}

/// Where a part of a kind belongs.
fn holds(kind: FileKind) -> &'static str {
    match kind {
        FileKind::Cell => "pack.cell",
        other => other.name(),
    }
}

fn matching(
    all: impl Iterator<Item = (String, String)>,
    current: &str,
) -> Vec<CompletionCandidate> {
    all.filter(|(value, _)| value.starts_with(current))
        .map(|(value, help)| {
            CompletionCandidate::new(value).help((!help.is_empty()).then(|| help.into()))
        })
        .collect()
}

/// Every field that holds a value, with what it is; items of lists by the number 1.
pub fn fields() -> BTreeMap<String, String> {
    let root = scenarios::schema(FileKind::Scenario);
    let mut found = BTreeMap::new();
    walk(&root, &root, "", 0, &mut found);
    found
}

/// Levels of a file, the deepest of which holds a point of a curve of a cell of a pack.
const DEEPEST: usize = 9;

fn walk(
    root: &Value,
    schema: &Value,
    path: &str,
    depth: usize,
    found: &mut BTreeMap<String, String>,
) {
    if depth > 3 * DEEPEST {
        return;
    }
    let reference = schema["$ref"].as_str().and_then(|name| root.pointer(name.strip_prefix('#')?));
    let open = schema["anyOf"].as_array().into_iter().flatten();
    for other in reference.into_iter().chain(open) {
        walk(root, other, path, depth + 1, found);
    }
    if let Some(items) = schema.get("items") {
        walk(root, items, &format!("{path}.1"), depth + 1, found);
    }
    for (name, inner) in schema["properties"].as_object().into_iter().flatten() {
        if name == "$schema" || name == "note" {
            continue;
        }
        let whole = if path.is_empty() { name.clone() } else { format!("{path}.{name}") };
        let help = inner["description"].as_str().unwrap_or_default();
        let first = help.split(['\n', ';']).next().unwrap_or_default();
        found.insert(scenarios::short_path(&whole).to_owned(), first.to_owned());
        walk(root, inner, &whole, depth + 1, found);
    }
}
