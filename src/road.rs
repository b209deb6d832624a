//! The road that a command drives: an option, or the scenario's own.

use crate::failure::Failure;
use crate::output::Output;
use scenarios::{Prepared, Road};
use sim_core::Trace;
use std::path::PathBuf;

/// A road that is ready to drive.
pub struct Drivable {
    /// What it is called.
    pub name: String,
    /// The road.
    pub trace: Trace,
    /// What the reader of the file had to say.
    pub notes: Vec<String>,
}

/// Options of every command that drives a road.
#[derive(Debug, Default, clap::Args)]
pub struct RoadArgs {
    /// A built-in cycle (see `cycles`) or the file of a road; left out, the scenario's own, or else
    /// the WLTC of the car's class.
    #[arg(long, value_name = "NAME_OR_FILE", add = crate::completing::roads())]
    pub cycle: Option<String>,

    /// Takes the road's file for a recording: columns of other names are left out.
    #[arg(long)]
    pub recording: bool,

    /// Column of the road's file with a recorded load on the traction pack, such as a heater's;
    /// its name ends in `_kw` or `_w`, and `auxiliary_kw` is taken without being named.
    #[arg(long, value_name = "NAME")]
    pub aux_column: Option<String>,
}

impl RoadArgs {
    /// The road: the option's, or the scenario's.
    pub fn road(&self, prepared: &Prepared) -> Road {
        self.cycle.clone().map_or_else(|| prepared.road(), Road::Named)
    }

    /// How road files are read.
    pub fn options(&self) -> cycles::LoadOptions {
        let columns =
            if self.recording { cycles::Columns::IgnoreUnknown } else { cycles::Columns::Strict };
        let auxiliary_column = self.aux_column.clone();
        cycles::LoadOptions { columns, auxiliary_column, ..cycles::LoadOptions::default() }
    }

    /// The files that a run over the road reads.
    pub fn files(&self, prepared: &Prepared) -> Vec<PathBuf> {
        let own = self.cycle.iter().filter(|name| !cycles::is_built_in(name)).map(PathBuf::from);
        own.chain(prepared.files()).collect()
    }

    /// Reads the road.
    pub fn load(&self, prepared: &Prepared) -> Result<Drivable, Failure> {
        let road = self.road(prepared);
        let loaded = prepared.read(&road, &self.options())?;
        let built_in = cycles::is_built_in(road.name());
        Ok(Drivable {
            name: if built_in { &loaded.schedule.name } else { road.name() }.to_owned(),
            trace: scenarios::runs::trace(&loaded.schedule)?,
            notes: loaded.notes,
        })
    }
}

/// Prints what the reader of a road had to say.
pub fn say_notes(road: &Drivable, output: &mut Output) -> Result<(), Failure> {
    let said = |note: &String| format!("{}: {}", road.name, output.units.said(note));
    let notes: Vec<String> = road.notes.iter().map(said).collect();
    notes.iter().try_for_each(|note| output.text(note))
}
