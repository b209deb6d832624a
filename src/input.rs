//! The scenario that a command is about.

use crate::failure::Failure;
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
    #[arg(long = "set", value_name = "PATH=VALUE", allow_hyphen_values = true)]
    pub set: Vec<String>,
}

impl Input {
    /// Reads the files.
    pub fn load(&self) -> Result<Loaded, Failure> {
        Ok(match &self.file {
            Some(file) => Loaded::open(file)?,
            None => Loaded::demo()?,
        })
    }

    /// The values of `--set`.
    pub fn overrides(&self) -> Result<Vec<Override>, Failure> {
        Ok(self.set.iter().map(|text| text.parse()).collect::<Result<_, scenarios::Error>>()?)
    }

    /// Reads the files, puts the values in and makes a car of it.
    pub fn prepare(&self) -> Result<Prepared, Failure> {
        Ok(self.load()?.with(&self.overrides()?)?)
    }
}
