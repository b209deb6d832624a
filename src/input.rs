//! The scenario that a command is about.

use crate::completing;
use crate::failure::{Failure, of};
use clap::Args;
use scenarios::{Loaded, Override, Prepared};
use std::path::PathBuf;

/// Arguments of every command that drives a car.
#[derive(Debug, Default, Args)]
pub struct Input {
    /// File of a scenario or a build; left out, the demo.
    #[arg(value_name = "FILE")]
    pub file: Option<PathBuf>,

    /// Puts a value in place of the file's, such as `motor.mass_kg=60`; may be repeated.
    ///
    /// The path begins at the scenario, `build.` may be left out, items of lists are counted from
    /// 1 (`gearbox.gears.2.ratio`). Where a part belongs, `shelf:NAME` and the path of a file work.
    #[arg(
        long = "set",
        value_name = "PATH=VALUE",
        allow_hyphen_values = true,
        add = completing::set()
    )]
    pub set: Vec<String>,
}

impl Input {
    /// Reads the files and puts the values in.
    pub fn load(&self) -> Result<Loaded, Failure> {
        let loaded = match &self.file {
            Some(file) => Loaded::open(file)?,
            None => Loaded::demo()?,
        };
        loaded.put(&overrides(&self.set)?).map_err(of("--set"))
    }

    /// Reads the files, puts the values in and makes a car of it.
    pub fn prepare(&self) -> Result<Prepared, Failure> {
        self.load()?.prepare().map_err(of("--set"))
    }
}

/// The values of `--set`.
pub fn overrides(set: &[String]) -> Result<Vec<Override>, Failure> {
    set.iter().map(|text| text.parse().map_err(of("--set"))).collect()
}
