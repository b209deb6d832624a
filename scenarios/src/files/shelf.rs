//! The parts that come with the program. All figures are invented, each typical of its class.

use crate::files::error::{Error, Source};
use crate::files::kind::FileKind;
use crate::files::suggestion;

/// A part of the shelf.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Part {
    /// What kind of part it is.
    pub kind: FileKind,
    /// The name after `shelf:`.
    pub name: &'static str,
    /// The folder that it is written to.
    pub folder: &'static str,
    /// The JSON text.
    pub text: &'static str,
}

macro_rules! parts {
    ($($kind:ident $folder:literal [$($name:literal)*])*) => {
        [$($(Part {
            kind: FileKind::$kind,
            name: $name,
            folder: $folder,
            text: include_str!(concat!("../../shelf/", $folder, "/", $name, ".json")),
        },)*)*]
    };
}

const PARTS: &[Part] = &parts! {
    Donor "donors" ["small-pickup" "light-hatchback" "two-seat-roadster" "two-door-coupe" "small-estate"]
    Gearbox "gearboxes" ["four-speed-rear-drive" "four-speed-front-drive" "five-speed-rear-drive" "five-speed-front-drive" "single-reduction"]
    Motor "motors" ["induction-air-small" "induction-air-medium" "induction-air-large" "permanent-magnet-liquid" "series-dc-large"]
    Controller "controllers" ["low-voltage-450a" "mid-voltage-400a" "mid-voltage-600a" "high-voltage-liquid" "series-chopper-500a"]
    Pack "packs" [
        "iron-phosphate-96v-80ah" "iron-phosphate-96v-180ah" "iron-phosphate-108v-100ah"
        "iron-phosphate-144v-100ah" "iron-phosphate-144v-180ah" "blend-325v-26ah" "blend-355v-50ah"
    ]
    Cell "cells" [
        "iron-phosphate-40ah" "iron-phosphate-100ah" "iron-phosphate-100ah-power"
        "iron-phosphate-180ah" "blend-26ah" "blend-50ah"
    ]
};

/// All parts.
pub fn shelf() -> &'static [Part] {
    PARTS
}

/// The part of a kind with this name.
pub fn find(kind: FileKind, name: &str) -> Option<&'static Part> {
    PARTS.iter().find(|part| part.kind == kind && part.name == name)
}

/// The part with this name, whatever its kind.
///
/// # Errors
/// [`Error::Shelf`] with a suggestion where there is none.
pub fn named(name: &str) -> Result<&'static Part, Error> {
    PARTS.iter().find(|part| part.name == name).ok_or_else(|| {
        let names: Vec<&str> = PARTS.iter().map(|part| part.name).collect();
        let hint = suggestion::hint(name, &names);
        Error::Shelf { said: Source::Caller, kind: "part", name: name.to_owned(), hint }
    })
}

/// The end of a sentence about a name that is not there.
pub(crate) fn hint(kind: FileKind, name: &str) -> String {
    let names: Vec<&str> = PARTS.iter().filter(|p| p.kind == kind).map(|p| p.name).collect();
    suggestion::hint(name, &names)
}
