//! What a prediction rests on: what was measured, what files state, and what is typical of a class.

use crate::files::error::{Error, Source};
use crate::files::origins::Folder;
use crate::inputs::build::Build;
use crate::inputs::learnt::LearntField;
use crate::inputs::motor::Motor;
use crate::prepared::Prepared;
use schemars::JsonSchema;
use serde::Serialize;

/// Who said what a field is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SaidBy {
    /// The user's file.
    File,
    /// A part of the shelf: typical of its class.
    Shelf,
    /// A value that was put in place of another.
    Caller,
    /// A file of what was learnt from the car.
    Measured,
    /// Nobody: it was assumed.
    Nobody,
}

/// How well something is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Known {
    /// Measured on the car or the part.
    Measured,
    /// Stated by whoever wrote the file: a data sheet, a nameplate, a scale. The program does not
    /// know which.
    Stated,
    /// Typical of its class: a part of the program's own shelf, or a value that was assumed.
    Typical,
}

impl Known {
    /// The word for it.
    pub fn name(self) -> &'static str {
        match self {
            Known::Measured => "measured",
            Known::Stated => "stated",
            Known::Typical => "typical",
        }
    }
}

/// What one thing rests on.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Basis {
    /// The thing, such as `motor`.
    pub what: &'static str,
    /// What it is called, or what is known of it.
    pub is: String,
    /// How well it is known.
    pub known: Known,
    /// Where that stands.
    pub stands_in: String,
}

/// Numbers of a car that are known alike.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct KnownAlike {
    /// How well they are known.
    pub known: Known,
    /// Where they stand.
    pub stands_in: String,
    /// What they are called.
    pub names: Vec<String>,
    /// Paths of their fields.
    pub paths: Vec<String>,
}

/// How well numbers are known, each by what it is called and its path: the best known first.
pub fn known_alike<'a>(
    prepared: &Prepared,
    numbers: impl Iterator<Item = (&'a str, &'a str)>,
) -> Vec<KnownAlike> {
    let mut found: Vec<KnownAlike> = Vec::new();
    for (name, path) in numbers {
        let Some(field) = prepared.field(path) else { continue };
        let (known, stands_in) = (field.known, field.stands_in);
        let alike = found.iter().position(|one| one.known == known && one.stands_in == stands_in);
        let at = alike.unwrap_or(found.len());
        if at == found.len() {
            found.push(KnownAlike { known, stands_in, names: Vec::new(), paths: Vec::new() });
        }
        let one = &mut found[at];
        if one.names.last().is_none_or(|last| last != name) {
            one.names.push(name.to_owned());
        }
        one.paths.push(path.to_owned());
    }
    found.sort_by_key(|one| one.known as u8);
    found
}

/// What the numbers of a car rest on: its parts, then what matters most among their numbers.
///
/// # Errors
/// None that a test would not find.
pub fn basis(prepared: &Prepared) -> Result<Vec<Basis>, Error> {
    let (facts, build) = (&prepared.facts, &prepared.scenario.build);
    let origin = |path: &str| {
        let (origin, _) = prepared.echo.origins().of(path);
        match (&origin.folder, &origin.said) {
            (Folder::Shelf, _) => (Known::Typical, "the program's shelf".to_owned()),
            (_, Source::Caller) => (Known::Stated, "the command line".to_owned()),
            (_, Source::File(name)) => (Known::Stated, name.clone()),
            (_, Source::Measured(name)) => (Known::Measured, name.clone()),
        }
    };
    let part = |what, is: &str, path: &str| {
        let (known, stands_in) = match is_assumed(build, &[path]) {
            true => (Known::Typical, "assumed".to_owned()),
            false => origin(path),
        };
        Basis { what, is: is.to_owned(), known, stands_in }
    };
    let of = |what, is: &str, path: &str, known: Known| {
        let stands_in = match known {
            Known::Typical => "assumed".to_owned(),
            _ => origin(path).1,
        };
        Basis { what, is: is.to_owned(), known: known.at_best(origin(path).0), stands_in }
    };
    let tyre = build.tyre.size.clone().unwrap_or_else(|| "by their numbers".to_owned());
    let donor = &build.donor;
    let resistance = match (&donor.coast_down, donor.has_coast_down()) {
        (Some(_), _) => ("a coast-down", Known::Measured),
        (None, true) => ("by mass and size alone", Known::Typical),
        (None, false) => ("by air drag and tyres", Known::Stated),
    };
    // What `assumed` lists is no better for standing in a file.
    let or_assumed = |(is, known), paths: &[&str]| match is_assumed(build, paths) {
        true => (is, Known::Typical),
        false => (is, known),
    };
    let resistance = or_assumed(resistance, &RESISTANCE);
    let losses = or_assumed(losses(&build.motor), &LOSSES);
    let measured = prepared.measured();
    // What was measured stands in its own file, whatever it was worked out from before.
    let or_measured = |basis: Basis, paths: &[&str]| {
        let is_one = |field: &LearntField| paths.iter().any(|path| is_within(&field.path, path));
        let found = measured.iter().find(|found| found.fields().any(is_one));
        match found {
            Some(found) => {
                let is = format!("{}, measured", basis.is);
                Basis { is, known: Known::Measured, stands_in: found.file.clone(), ..basis }
            }
            None => basis,
        }
    };
    let mut all = vec![
        part("car", &facts.donor, "build.donor"),
        part("gearbox", &facts.gearbox, "build.gearbox"),
        part("motor", &facts.motor, "build.motor"),
        part("controller", &facts.controller, "build.controller"),
        part("pack", &facts.pack, "build.pack"),
        part("cells", &facts.cell, "build.pack.cell"),
        part("tyres", &tyre, "build.tyre"),
        or_measured(
            of("driving resistance", resistance.0, "build.donor", resistance.1),
            &RESISTANCE,
        ),
        or_measured(of("motor losses", losses.0, "build.motor", losses.1), &LOSSES),
    ];
    all.extend(measured.iter().map(|found| {
        let names: Vec<&str> = found.inputs.iter().map(|input| input.name.as_str()).collect();
        Basis {
            what: "on the road",
            is: names.join(", "),
            known: Known::Measured,
            stands_in: format!("{}, {}", found.file, found.date),
        }
    }));
    let assumed = prepared.all_assumptions()?.len();
    if assumed > 0 {
        all.push(Basis {
            what: "all else",
            is: format!("{assumed} values that no file gives"),
            known: Known::Typical,
            stands_in: "assumed".to_owned(),
        });
    }
    Ok(all)
}

/// What is measured on the car itself, and nowhere else: the fields of a coast-down.
const MEASURED: &str = "build.donor.coast_down.";

/// What driving resistance and motor losses are worked out from.
const RESISTANCE: [&str; 8] = [
    "build.donor.coast_down",
    "build.donor.drag_area_m2",
    "build.donor.drag_coefficient",
    "build.donor.frontal_area_m2",
    "build.donor.width_m",
    "build.tyre.rolling_resistance",
    "build.tyre.label_n_per_kn",
    "build.tyre.label_class",
];
const LOSSES: [&str; 3] = [
    "build.motor.efficiency_map",
    "build.motor.efficiency_points",
    "build.motor.loss_coefficients",
];

/// Whether the list `assumed` of the build has one of these, or what one of them is a part of.
pub(crate) fn is_assumed(build: &Build, paths: &[&str]) -> bool {
    let listed = || build.assumed.iter().flatten();
    let below = |path: &str, whole: &str| {
        path.strip_prefix("build.").is_some_and(|path| is_within(path, whole))
    };
    paths.iter().any(|path| listed().any(|whole| below(path, whole)))
}

/// Whether a path is another one, or leads into what stands there.
fn is_within(path: &str, whole: &str) -> bool {
    path.strip_prefix(whole).is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
}

impl Known {
    /// How well the number at a whole path is known, by who said it.
    pub(crate) fn of_number(whole: &str, said_by: SaidBy) -> Known {
        match said_by {
            SaidBy::Nobody => Known::Typical,
            SaidBy::Measured => Known::Measured,
            _ if whole.starts_with(MEASURED) => Known::Measured,
            SaidBy::Shelf => Known::Typical,
            SaidBy::File | SaidBy::Caller => Known::Stated,
        }
    }

    /// No number of a typical part is known better than the part, unless it was measured.
    fn at_best(self, part: Known) -> Known {
        match (self, part) {
            (Known::Stated, Known::Typical) => Known::Typical,
            (known, _) => known,
        }
    }
}

/// How the losses of a motor are known.
fn losses(motor: &Motor) -> (&'static str, Known) {
    if motor.efficiency_map.is_some() {
        ("an efficiency map", Known::Stated)
    } else if motor.efficiency_points.is_some() {
        ("a few points of efficiency", Known::Stated)
    } else if motor.loss_coefficients.is_some() {
        ("coefficients", Known::Stated)
    } else {
        ("of its kind", Known::Typical)
    }
}
