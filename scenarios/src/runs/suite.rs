//! Several runs of one car, whose figures have distinct names.

use crate::prepared::Prepared;
use crate::runs::day::Day;
use crate::runs::failure::Failure;
use crate::runs::figure::Figure;
use crate::runs::run::Run;
use sim_core::Trace;
use sim_core::climb::Hill;
use std::sync::Arc;

/// Some runs, with what they need besides the car.
///
/// A hill that is not given is the scenario's own, also where a search changes it; a climb, pass or
/// day that nobody gave has no figures.
#[derive(Debug, Clone)]
pub struct Suite {
    /// Which runs.
    pub runs: Vec<Run>,
    /// Which of their figures; empty, all.
    pub only: Vec<String>,
    /// What the road is called.
    pub road: String,
    /// The road.
    pub trace: Arc<Trace>,
    /// The hill in place of the scenario's climb.
    pub climb: Option<Hill>,
    /// The day, where it is among the runs.
    pub day: Option<Arc<Day>>,
}

impl Suite {
    /// Runs on a road, and on the scenario's own hills.
    pub fn new(runs: &[Run], road: &str, trace: Trace) -> Self {
        let (road, trace) = (road.to_owned(), Arc::new(trace));
        Self { runs: runs.to_vec(), only: Vec::new(), road, trace, climb: None, day: None }
    }

    /// The figures of a car.
    ///
    /// # Errors
    /// [`Failure`] when the integrator gives up.
    pub fn figures(&self, car: &Prepared) -> Result<Vec<Figure>, Failure> {
        let mut found = Vec::new();
        for run in &self.runs {
            found.extend(run.carry_out(self, car)?);
        }
        found.retain(|f| self.only.is_empty() || self.only.iter().any(|name| name == f.name));
        Ok(found)
    }
}
