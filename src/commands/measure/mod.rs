//! `measure`: what the car itself tells, one module a way of asking it.

pub mod coastdown;
pub mod drive;
mod fitted;
pub mod part;
mod residuals;

use crate::failure::Failure;
use crate::input::{Changes, Input};
use crate::recorded::ColumnArgs;
use cycles::RecordingOptions;
use scenarios::learnt::{Recorded, sha256_of};
use std::path::{Path, PathBuf};

/// The car that was measured, and how its recordings are read.
#[derive(Debug, Default, clap::Args)]
pub struct Measured {
    /// File of the car's build or scenario; left out, the demo.
    #[arg(long, value_name = "CAR.json")]
    pub build: Option<PathBuf>,

    #[command(flatten)]
    pub changes: Changes,

    #[command(flatten)]
    pub columns: ColumnArgs,
}

impl Measured {
    /// The car.
    pub fn input(&self) -> Input {
        Input { file: self.build.clone(), changes: self.changes.clone() }
    }

    /// How recordings are read.
    pub fn options(&self) -> Result<RecordingOptions, Failure> {
        self.columns.options()
    }
}

/// Where what was learnt is written: as asked for, or beside the build by what it was learnt from and
/// when, with a number behind it where there is such a file; nowhere for the demo.
pub fn place(out: Option<&Path>, build: Option<&Path>, from: &str, date: &str) -> Option<PathBuf> {
    let beside = || {
        let folder = build?.parent().unwrap_or(Path::new("")).join("measured");
        // What was learnt before on the same day stays.
        let names = (2..).map(|n| format!("{from}-{date}-{n}.json"));
        let mut places = std::iter::once(format!("{from}-{date}.json"))
            .chain(names)
            .map(|name| folder.join(name));
        places.find(|file| !file.exists())
    };
    out.map(Path::to_owned).or_else(beside)
}

/// Refuses a recording that is given twice, under whatever name.
pub fn each_once<'a>(files: impl Iterator<Item = &'a PathBuf>) -> Result<(), Failure> {
    let mut seen: Vec<(&PathBuf, String)> = Vec::new();
    for file in files {
        let Ok(sha256) = sha256_of(file) else { continue };
        if let Some((before, _)) = seen.iter().find(|(_, other)| *other == sha256) {
            return Err(Failure::Arguments(format!(
                "{} and {} are the same recording; allowed: each once",
                before.display(),
                file.display()
            )));
        }
        seen.push((file, sha256));
    }
    Ok(())
}

/// The recordings, as a file that is to stand in a folder names them.
pub fn sources(files: &[PathBuf], place: &Path) -> Result<Vec<Recorded>, Failure> {
    let folder = place.parent().unwrap_or(Path::new(""));
    let of =
        |file: &PathBuf| Ok(Recorded { file: seen_from(folder, file), sha256: sha256_of(file)? });
    files.iter().map(of).collect()
}

/// A file's path as seen from a folder, where both are known by real names; else as it was given.
fn seen_from(folder: &Path, file: &Path) -> String {
    let seen = || {
        let whole = std::path::absolute(file).ok()?;
        let from = std::path::absolute(folder).ok()?;
        let shared = whole.components().zip(from.components()).take_while(|(a, b)| a == b).count();
        // Nothing in common but the root is better named from there.
        let up = from.components().count() - shared;
        (shared > 1).then(|| {
            let ups = std::iter::repeat_n(PathBuf::from(".."), up);
            let rest: PathBuf = whole.components().skip(shared).collect();
            ups.chain([rest]).collect::<PathBuf>()
        })
    };
    seen().unwrap_or_else(|| file.to_owned()).display().to_string()
}
