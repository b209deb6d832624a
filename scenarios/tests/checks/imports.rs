//! The rooms of this crate depend on each other one way only, and no two of its files on each other.
//! This is read off the sources: every `crate::` path outside comments and unit tests.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// A file of the crate by its modules: `["runs", "day"]`.
type Module = Vec<String>;

/// Rooms and files beside them, from the first to the last.
const ORDER: [&[&str]; 9] = [
    &["words"],
    &["files"],
    &["inputs"],
    &[
        "plausible",
        "cells_in_series",
        "warning",
        "prepared",
        "taking_in",
        "known_part",
        "loaded",
        "basis",
        "field",
    ],
    &["runs"],
    &["verdict"],
    &["advice"],
    &["studies"],
    &["measured"],
];

fn sources(folder: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let (folders, files): (Vec<PathBuf>, Vec<PathBuf>) = entries.partition(|path| path.is_dir());
    folders.iter().flat_map(|folder| sources(folder)).chain(files).collect()
}

fn module(source: &Path, root: &Path) -> Module {
    let inner = source.strip_prefix(root).unwrap().with_extension("");
    let steps: Module = inner.iter().map(|step| step.to_str().unwrap().to_owned()).collect();
    match steps.split_last() {
        Some((last, above)) if last == "mod" || last == "lib" => above.to_vec(),
        _ => steps,
    }
}

/// The paths in a tree of imports such as `a::{b, c::{self, d}}`.
fn paths(tree: &str) -> Vec<Module> {
    let (before, inner) = match tree.split_once('{') {
        Some((before, inner)) => (before, inner.trim_end().strip_suffix('}').unwrap()),
        None => (tree, ""),
    };
    let steps: Module =
        before.split("::").map(|s| s.trim().to_owned()).filter(|s| !s.is_empty()).collect();
    if inner.is_empty() {
        return vec![steps];
    }
    let (mut found, mut depth, mut from) = (Vec::new(), 0, 0);
    for (i, sign) in inner.char_indices().chain([(inner.len(), ',')]) {
        match sign {
            '{' => depth += 1,
            '}' => depth -= 1,
            ',' if depth == 0 => {
                let branches = paths(&inner[from..i]).into_iter().filter(|path| !path.is_empty());
                found.extend(branches.map(|path| [steps.clone(), path].concat()));
                from = i + 1;
            }
            _ => {}
        }
    }
    found
}

/// Every path that begins at the crate, or at the module above.
fn named(text: &str, own: &Module) -> Vec<Module> {
    let above = own[..own.len().saturating_sub(1)].to_vec();
    let mut found = Vec::new();
    for (start, base) in [("crate::", Vec::new()), ("super::", above)] {
        for (at, _) in text.match_indices(start) {
            let rest = &text[at + start.len()..];
            let mut depth = 0;
            let end = rest.find(|sign: char| {
                depth += i32::from(sign == '{') - i32::from(sign == '}');
                let inside = depth > 0 || sign == '}';
                !inside && !sign.is_alphanumeric() && sign != '_' && sign != ':'
            });
            found.extend(
                paths(&rest[..end.unwrap_or(rest.len())])
                    .into_iter()
                    .map(|path| [base.clone(), path].concat()),
            );
        }
    }
    found
}

/// Each file with those that it names; a room also has the files that it is made of.
fn imports() -> BTreeMap<Module, BTreeSet<Module>> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let files: BTreeMap<Module, String> = sources(&root)
        .into_iter()
        .map(|source| (module(&source, &root), std::fs::read_to_string(&source).unwrap()))
        .collect();
    let code = |text: &str| {
        let before_tests = text.split("#[cfg(test)]").next().unwrap_or_default();
        let lines = before_tests.lines().filter(|line| !line.trim_start().starts_with("//"));
        lines.collect::<Vec<&str>>().join("\n")
    };
    let of = |own: &Module, text: &str| {
        let text = code(text);
        let children = files.keys().filter(|other| other.split_last().is_some_and(|o| o.1 == *own));
        let mut all: BTreeSet<Module> = children.cloned().collect();
        for mut path in named(&text, own) {
            while !files.contains_key(&path) {
                path.pop();
            }
            all.insert(path);
        }
        all.remove(own);
        all
    };
    files.iter().map(|(own, text)| (own.clone(), of(own, text))).collect()
}

#[test]
fn rooms_name_only_rooms_before_them() {
    let rank = |module: &Module| {
        ORDER.iter().position(|rooms| module.first().is_some_and(|m| rooms.contains(&m.as_str())))
    };
    let imports = imports();
    assert!(imports.len() > 50 && imports.values().map(BTreeSet::len).sum::<usize>() > 150);
    for (own, others) in imports.iter().filter(|(own, _)| !own.is_empty()) {
        let place = rank(own).unwrap_or_else(|| panic!("{own:?} stands in no room"));
        for other in others {
            let before = rank(other).is_some_and(|other| other <= place);
            assert!(before, "{own:?} names {other:?}");
        }
    }
}

#[test]
fn no_file_comes_back_to_itself() {
    let mut rest = imports();
    // Files that name none of the others that are left go, until all are gone.
    while let Some(free) = rest
        .iter()
        .find(|(_, others)| others.iter().all(|other| !rest.contains_key(other)))
        .map(|(own, _)| own.clone())
    {
        rest.remove(&free);
    }
    assert!(rest.is_empty(), "these go round in a circle: {:#?}", rest.keys().collect::<Vec<_>>());
}
