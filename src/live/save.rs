//! The car as a new file.

use super::changes::{Change, Changes};
use super::refusal::Refusal;
use super::state::State;
use scenarios::output_file::{Growing, Kind, write_all_new};
use scenarios::shelf::shelf;
use scenarios::{FileKind, Prepared, Road, demo};
use serde::Deserialize;
use serde_json::{Map, Value};
use std::path::{Path, PathBuf};

/// What is to be saved under which name.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Wish {
    changes: Vec<Change>,
    name: String,
    /// Whether an old file may go.
    replace: bool,
}

/// The longest name of a file, bytes.
const NAME_BYTES: usize = 100;

/// The files that may be replaced.
const BUILDS: Kind = Kind { words: "a build or a scenario", begins: is_build };

fn is_build(beginning: &str) -> bool {
    let has_parts = |tree: &Value| tree.get("donor").is_some() && tree.get("motor").is_some();
    serde_json::from_str::<Value>(beginning).is_ok_and(|tree| match &tree["build"] {
        Value::String(file) => file.ends_with(".json"),
        Value::Null => has_parts(&tree),
        build => has_parts(build),
    })
}

/// Names that mean a device to Windows, whatever their ending (Microsoft, Naming Files, Paths, and
/// Namespaces; from memory); a digit may follow the last two.
const DEVICES: [&str; 6] = ["con", "prn", "aux", "nul", "com", "lpt"];

fn is_device(name: &str) -> bool {
    let stem = name.split('.').next().unwrap_or_default().trim_end().to_lowercase();
    let (word, digit) = stem.split_at_checked(3).unwrap_or((&stem, ""));
    let numbered = matches!(word, "com" | "lpt");
    let digits = digit.len() == 1 && digit.chars().all(|c| c.is_ascii_digit());
    DEVICES.contains(&word) && if numbered { digits } else { digit.is_empty() }
}

/// Whether a name is that of a file of the folder itself, with nothing before or behind it, and
/// means no device and no schema.
fn is_plain(name: &str) -> bool {
    let fits = |c: char| c.is_alphanumeric() || matches!(c, ' ' | '-' | '_' | '.');
    name.len() <= NAME_BYTES
        && name.len() > ".json".len()
        && name.ends_with(".json")
        && name.chars().all(fits)
        && !name.ends_with(".schema.json")
        && !name.starts_with(['.', ' '])
        && !is_device(name)
}

impl Wish {
    /// Saves it, and says where.
    pub fn fulfil(&self, state: &State) -> Result<PathBuf, Refusal> {
        if !is_plain(&self.name) {
            return Err(Refusal::of(format!(
                "the name is {}; allowed: letters, digits, blanks, - and _, and .json at its end, \
                 but no .schema.json and no name of a device",
                cycles::short(&self.name)
            )));
        }
        if !state.folder.is_dir() {
            return Err(Refusal::of(format!("the folder {} is gone", state.folder.display())));
        }
        let changes = Changes::read(&self.changes, &state.choices())?;
        let all: Vec<_> = changes.all().cloned().collect();
        let car = state.loaded.with(&all)?;
        let (text, kind) = text_of(&car, state)?;
        let path = state.folder.join(&self.name);
        let schema = format!("{:#}\n", scenarios::schema(kind));
        let schema_file = state.folder.join(schema_name(kind));
        let has_schema = schema_file.symlink_metadata().is_ok();
        let beside = (!has_schema).then_some((schema_file, schema.as_bytes()));
        match path.symlink_metadata() {
            Ok(about) if self.replace && about.is_file() => {
                let mut file = Growing::create(&path, BUILDS, &car.files())?;
                file.add(text.as_bytes())?;
                file.finish()?;
                write_all_new(&Vec::from_iter(beside))?;
            }
            Ok(about) if self.replace && about.is_symlink() => {
                return Err(Refusal::of(format!("{} is a link, which is not followed", self.name)));
            }
            _ => {
                let mut files = vec![(path.clone(), text.as_bytes())];
                files.extend(beside);
                // The demo's road is part of the program, and a file needs it beside itself.
                if let Road::Embedded { name, text } = car.road().itself() {
                    files.push((state.folder.join(name), text.as_bytes()));
                }
                write_all_new(&files)?;
            }
        }
        Ok(path)
    }
}

/// The car as the text of a file: parts of the shelf by their names, all else in full.
fn text_of(car: &Prepared, state: &State) -> Result<(String, FileKind), Refusal> {
    let mut tree: Value = Value::clone(&car.echo);
    for (at, kind) in [
        ("/build/pack/cell", FileKind::Cell),
        ("/build/pack", FileKind::Pack),
        ("/build/donor", FileKind::Donor),
        ("/build/gearbox", FileKind::Gearbox),
        ("/build/motor", FileKind::Motor),
        ("/build/controller", FileKind::Controller),
    ] {
        if let Some(part) = tree.pointer_mut(at)
            && let Some(name) = on_shelf(part, kind)
        {
            *part = Value::String(format!("shelf:{name}"));
        }
    }
    name_roads(&mut tree, car, state);
    name_measured(&mut tree, car, state);
    let Value::Object(mut fields) = tree else {
        return Err(Refusal::of("the car is no object"));
    };
    fields.remove(SCHEMA);
    let kind = match fields.get_mut("build").map(Value::take) {
        Some(Value::Object(build)) if fields.len() == 1 => {
            fields = build;
            FileKind::Build
        }
        Some(build) => {
            fields.insert("build".to_owned(), build);
            FileKind::Scenario
        }
        None => FileKind::Scenario,
    };
    let mut whole = Map::new();
    whole.insert(SCHEMA.to_owned(), schema_name(kind).into());
    whole.extend(fields.into_iter().filter(|(name, _)| name != SCHEMA));
    let text = serde_json::to_string_pretty(&whole).map_err(Refusal::of)?;
    Ok((text + "\n", kind))
}

/// The field that names a file's schema.
const SCHEMA: &str = "$schema";

/// The schema beside a file of a kind.
fn schema_name(kind: FileKind) -> String {
    format!("{}.schema.json", kind.name())
}

/// The name of the part of the shelf that says just this.
fn on_shelf(part: &Value, kind: FileKind) -> Option<&'static str> {
    let same = |text: &str| serde_json::from_str::<Value>(text).is_ok_and(|own| own == *part);
    shelf().iter().find(|own| own.kind == kind && same(own.text)).map(|own| own.name)
}

/// Names the files of roads as they are seen from the folder.
fn name_roads(tree: &mut Value, car: &Prepared, state: &State) {
    if let Some(Value::String(cycle)) = tree.pointer_mut("/runs/commute/cycle")
        && let Road::Named(name) = car.road().itself()
    {
        *cycle = seen_from(&state.folder, name);
    }
    let home = Path::new(&car.file).parent().map(Path::to_owned).unwrap_or_default();
    let legs = tree.pointer_mut("/runs/day").and_then(Value::as_array_mut);
    let drives = legs.into_iter().flatten().filter_map(|leg| leg.get_mut("drive"));
    for cycle in drives.filter_map(Value::as_object_mut).filter_map(|drive| drive.get_mut("cycle"))
    {
        if let Value::String(name) = cycle
            && !cycles::is_built_in(name)
            && !demo::ROADS.iter().any(|(road, _)| road == name)
        {
            *name = seen_from(&state.folder, &home.join(&*name).to_string_lossy());
        }
    }
}

/// Names the files of what was learnt as they are seen from the folder, those of the command line
/// among them. Their values stand in the car already.
fn name_measured(tree: &mut Value, car: &Prepared, state: &State) {
    let files = car.taken_in.files().map(|file| Value::from(seen_from(&state.folder, file)));
    let files: Vec<Value> = files.collect();
    if let Some(build) = tree["build"].as_object_mut() {
        build.remove("measured");
        if !files.is_empty() {
            build.insert("measured".to_owned(), files.into());
        }
    }
}

/// What a road or another file is called in a file of the folder.
fn seen_from(folder: &Path, name: &str) -> String {
    if cycles::is_built_in(name) {
        return name.to_owned();
    }
    let whole = |path: &Path| path.canonicalize().unwrap_or_else(|_| path.to_owned());
    let (road, folder) = (whole(name.as_ref()), whole(folder));
    road.strip_prefix(folder).unwrap_or(&road).to_string_lossy().into_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_builds_are_replaced() {
        let parts = r#""donor": "a.json", "motor": {}"#;
        for build in [format!("{{{parts}}}"), format!(r#"{{"build": {{{parts}}}}}"#)] {
            assert!(is_build(&build), "{build}");
        }
        assert!(is_build(r#"{"build": "car.json"}"#));
        let other = r#"{"name": "app", "version": "1.0.0", "build": {"id": "x"}}"#;
        for no_build in [other, r#"{"build": "make all"}"#, "{}", "[]", "not JSON"] {
            assert!(!is_build(no_build), "{no_build}");
        }
    }

    #[test]
    fn a_name_leads_nowhere_else() {
        for good in ["a.json", "my car-2.json", "größe_1.0.json", "com.json", "console.json"] {
            assert!(is_plain(good), "{good}");
        }
        for bad in [
            "",
            ".json",
            "../a.json",
            "a/b.json",
            "/a.json",
            "a\\b.json",
            "..json",
            " a.json",
            "a.json\0",
            "a\n.json",
            "a.csv",
            "C:a.json",
            "a.json ",
            "%2e%2e.json",
            ".a.json",
            "CON.json",
            "com1.json",
            "nul.x.json",
            "build.schema.json",
        ] {
            assert!(!is_plain(bad), "{bad}");
        }
        assert!(!is_plain(&format!("{}.json", "a".repeat(100))));
    }
}
