//! The road that a command drives: an option, or the scenario's own.

use crate::failure::Failure;
use crate::output::Output;
use scenarios::{Prepared, Road};
use sim_core::Trace;

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
    /// A built-in cycle (see `cycles`) or the file of a road; left out, the scenario's own.
    #[arg(long, value_name = "NAME_OR_FILE")]
    pub cycle: Option<String>,
}

impl RoadArgs {
    /// Reads the road. A scenario without one drives the first built-in cycle.
    pub fn load(&self, prepared: &Prepared) -> Result<Drivable, Failure> {
        let road = match (&self.cycle, &prepared.drives.commute) {
            (Some(name), _) => Road::Named(name.clone()),
            (None, Some(road)) => road.clone(),
            (None, None) => Road::Named("wltc".to_owned()),
        };
        let loaded = road.load(&cycles::LoadOptions::default())?;
        Ok(Drivable {
            name: road.name().to_owned(),
            trace: scenarios::runs::trace(&loaded.trace)?,
            notes: loaded.notes,
        })
    }
}

/// Prints what the reader of a road had to say.
pub fn say_notes(road: &Drivable, output: &mut Output) -> Result<(), Failure> {
    road.notes.iter().try_for_each(|note| output.text(format!("{}: {note}", road.name)))
}
