//! What can be picked: parts of the shelf and of the folder, roads, surfaces.

use scenarios::shelf::shelf;
use scenarios::{FileKind, input_text};
use serde::Serialize;
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};

/// Most files of a folder that are looked at, the first by name.
const FILES: usize = 1000;

/// What files of parts and roads end in.
const ENDINGS: [&str; 3] = [".json", ".csv", ".gpx"];

/// Something that can be picked.
#[derive(Debug, Clone, Serialize)]
pub struct Choice {
    /// What the page sends.
    pub value: String,
    /// What it is called.
    pub label: String,
    /// Where it comes from: the shelf, the folder, or the program.
    pub from: &'static str,
    /// What is put in.
    #[serde(skip)]
    pub put: String,
}

/// All that can be picked, by the path that it is picked for.
#[derive(Debug, Default)]
pub struct Choices(Vec<(&'static str, Vec<Choice>)>);

/// The parts that can be picked.
pub const PARTS: [(&str, FileKind); 6] = [
    ("donor", FileKind::Donor),
    ("motor", FileKind::Motor),
    ("controller", FileKind::Controller),
    ("gearbox", FileKind::Gearbox),
    ("pack", FileKind::Pack),
    ("pack.cell", FileKind::Cell),
];

/// The path of the road.
pub const ROAD: &str = "runs.commute.cycle";
/// The path of the surface.
pub const SURFACE: &str = "conditions.surface";

/// A key that a kind of part has and no other has.
fn told_by(kind: FileKind) -> &'static [&'static str] {
    match kind {
        FileKind::Donor => &["kerb_mass_kg"],
        FileKind::Motor => &["peak_current_a"],
        FileKind::Controller => &["motor_current_a"],
        FileKind::Gearbox => &["gears", "single"],
        FileKind::Pack => &["series"],
        FileKind::Cell => &["capacity_ah"],
        FileKind::Tyre
        | FileKind::Scenario
        | FileKind::Build
        | FileKind::Measured
        | FileKind::Columns
        | FileKind::Candidates => &[],
    }
}

impl Choices {
    /// Looks into the shelf and the folder.
    pub fn of(folder: &Path) -> Self {
        let (parts, roads) = files(folder);
        let mut all: Vec<(&str, Vec<Choice>)> = PARTS
            .into_iter()
            .map(|(path, kind)| {
                let of_shelf = shelf().iter().filter(|part| part.kind == kind).map(|part| {
                    let value = format!("shelf:{}", part.name);
                    let label = part.name.replace('-', " ");
                    Choice { put: value.clone(), value, label, from: "shelf" }
                });
                let own = parts.iter().filter(|(of, _)| *of == kind).map(|(_, one)| one.clone());
                (path, of_shelf.chain(own).collect())
            })
            .collect();
        let cycles = cycles::catalogue().iter().map(|cycle| {
            let (value, label) = (format!("cycle:{}", cycle.name), cycle.title.to_owned());
            Choice { value, label, from: "program", put: cycle.name.to_owned() }
        });
        all.push((ROAD, cycles.chain(roads).collect()));
        let surfaces = ["dry", "wet", "snow", "ice"].map(|word| Choice {
            value: word.to_owned(),
            label: word.to_owned(),
            from: "program",
            put: word.to_owned(),
        });
        all.push((SURFACE, surfaces.to_vec()));
        Self(all)
    }

    /// What can be picked for a path.
    pub fn at(&self, path: &str) -> &[Choice] {
        self.0.iter().find(|(known, _)| *known == path).map_or(&[], |(_, all)| all)
    }

    /// The one that the page names, unless its file has become a link since it was looked at.
    pub fn find(&self, path: &str, value: &str) -> Option<&Choice> {
        let is_file = |path: &str| fs::symlink_metadata(path).is_ok_and(|about| about.is_file());
        let found = self.at(path).iter().find(|choice| choice.value == value);
        found.filter(|choice| choice.from != "folder" || is_file(&choice.put))
    }
}

/// The parts and the roads of a folder: plain files of its own, none that a link leads to elsewhere.
fn files(folder: &Path) -> (Vec<(FileKind, Choice)>, Vec<Choice>) {
    let (mut parts, mut roads) = (Vec::new(), Vec::new());
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    let mut names: Vec<(String, PathBuf)> = entries
        .filter(|entry| entry.file_type().is_ok_and(|kind| kind.is_file()))
        .filter_map(|entry| Some((entry.file_name().into_string().ok()?, entry.path())))
        .filter(|(name, _)| ENDINGS.iter().any(|ending| name.ends_with(ending)))
        // A name that is shown otherwise than it is would go wrong in a line that is copied.
        .filter(|(name, _)| crate::plain::line(name) == *name)
        .collect();
    names.sort();
    names.truncate(FILES);
    for (name, path) in names {
        let choice = || Choice {
            value: format!("folder:{name}"),
            label: name.clone(),
            from: "folder",
            put: path.display().to_string(),
        };
        match path.extension().and_then(|ending| ending.to_str()) {
            Some("json") => parts.extend(kind_of(&path).map(|kind| (kind, choice()))),
            Some("csv" | "gpx") => roads.push(choice()),
            _ => {}
        }
    }
    (parts, roads)
}

/// What kind of part a file holds.
fn kind_of(path: &Path) -> Option<FileKind> {
    let tree: Value = serde_json::from_str(&input_text(path).ok()?).ok()?;
    let has = |kind: FileKind| told_by(kind).iter().any(|key| tree.get(key).is_some());
    PARTS.into_iter().map(|(_, kind)| kind).find(|kind| has(*kind))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_part_of_the_shelf_is_told_from_those_of_other_kinds() {
        for part in shelf() {
            let tree: Value = serde_json::from_str(part.text).unwrap();
            let told = |(_, kind): &(&str, FileKind)| {
                told_by(*kind).iter().any(|key| tree.get(key).is_some())
            };
            let kinds: Vec<FileKind> = PARTS.iter().filter(|p| told(p)).map(|(_, k)| *k).collect();
            assert_eq!(kinds, [part.kind], "{}", part.name);
        }
    }
}
