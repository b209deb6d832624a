//! The scenario that a command is about.

use crate::completing;
use crate::failure::{Failure, of};
use crate::output::complain;
use clap::Args;
use scenarios::{Loaded, Override, Prepared};
use std::path::{Path, PathBuf};

/// Arguments of every command that drives a car.
#[derive(Debug, Default, Args)]
pub struct Input {
    /// File of a scenario or a build; left out, the demo.
    #[arg(value_name = "FILE")]
    pub file: Option<PathBuf>,

    #[command(flatten)]
    pub changes: Changes,
}

/// What stands in place of values of the files.
#[derive(Debug, Default, Clone, Args)]
pub struct Changes {
    /// File of what was learnt from the car, beside those that the build names; may be repeated.
    ///
    /// Its values stand in place of the build's where that still holds what it held when they were
    /// learnt; `--set` comes after them.
    #[arg(long, value_name = "FILE")]
    pub measured: Vec<PathBuf>,

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
        let loaded = measured(loaded, &self.changes.measured)?;
        loaded.put(&overrides(&self.changes.set)?).map_err(of("--set"))
    }

    /// Reads the files, puts the values in and makes a car of it.
    pub fn prepare(&self) -> Result<Prepared, Failure> {
        self.load()?.prepare().map_err(of("--set"))
    }
}

/// Takes in the files of `--measured`. Of one that is of no use that is said.
pub fn measured(loaded: Loaded, files: &[PathBuf]) -> Result<Loaded, Failure> {
    let loaded = loaded.measured(files)?;
    for file in loaded.taken_in().idle() {
        if files.iter().any(|given| given == Path::new(file)) {
            let (file, car) = (cycles::file(file.as_ref()), cycles::file(loaded.file().as_ref()));
            complain(&format!("nothing of {file} fits {car}; `check` says why"));
        }
    }
    Ok(loaded)
}

/// The values of `--set`.
pub fn overrides(set: &[String]) -> Result<Vec<Override>, Failure> {
    set.iter().map(|text| text.parse().map_err(of("--set"))).collect()
}
