//! Several drives of one car, whose figures have distinct names.

use super::day::Day;
use super::{Failure, Figure, Task};
use crate::files::suggestion;
use crate::prepared::Prepared;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::Trace;
use sim_core::climb::Hill;
use std::sync::Arc;

/// A kind of drive.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Part {
    /// Nothing moves: masses, gearing, pack.
    Standing,
    /// Full throttle through the gears.
    Pull,
    /// The scenario's climb, in its best gear.
    Climb,
    /// The scenario's pass, in its best gear.
    Pass,
    /// The road, once.
    Drive,
    /// The road, until the pack is empty.
    Range,
    /// The day.
    Day,
}

impl Part {
    /// All kinds; those that cost least come first.
    pub const ALL: [Part; 7] =
        [Part::Standing, Part::Pull, Part::Climb, Part::Pass, Part::Drive, Part::Range, Part::Day];
    /// What results are usually asked of.
    pub const USUAL: [Part; 4] = [Part::Pull, Part::Climb, Part::Pass, Part::Drive];
}

/// Some drives, with what they need besides the car.
///
/// A hill that is not given is the scenario's own, also where a search changes it; a kind of drive
/// that a scenario has no hill for has no figures.
#[derive(Debug, Clone)]
pub struct Suite {
    /// Which drives.
    pub parts: Vec<Part>,
    /// The hill in place of the scenario's climb.
    pub climb: Option<Hill>,
    /// The road.
    pub trace: Arc<Trace>,
    /// The day, where it is among the drives.
    pub day: Option<Arc<Day>>,
}

impl Suite {
    /// The drives of a car.
    fn tasks(&self, prepared: &Prepared) -> Vec<Task> {
        let task = |part: &Part| match part {
            Part::Standing => Some(Task::Standing),
            Part::Pull => Some(Task::Pull),
            Part::Climb => self.climb.or(prepared.drives.climb).map(Task::Climb),
            Part::Pass => prepared.drives.pass.map(Task::Pass),
            Part::Drive => Some(Task::Drive(self.trace.clone())),
            Part::Range => Some(Task::Range(self.trace.clone())),
            Part::Day => self.day.clone().map(Task::Day),
        };
        self.parts.iter().filter_map(task).collect()
    }

    /// The figures of a car.
    ///
    /// # Errors
    /// [`Failure`] when the integrator gives up.
    pub fn figures(&self, prepared: &Prepared) -> Result<Vec<Figure>, Failure> {
        let setup = prepared.setup();
        let mut found = Vec::new();
        for task in self.tasks(prepared) {
            found.extend(task.figures(&setup)?);
        }
        Ok(found)
    }

    /// The same drives without those that have none of the named figures.
    ///
    /// # Errors
    /// [`Failure::Invalid`] with the names that there are where a name is unknown; [`Failure`]
    /// when the integrator gives up.
    pub fn narrowed(&self, names: &[&str], prepared: &Prepared) -> Result<Self, Failure> {
        let (mut parts, mut known) = (Vec::new(), Vec::new());
        for part in Part::ALL.into_iter().filter(|part| self.parts.contains(part)) {
            if names.iter().all(|name| known.contains(name)) {
                break;
            }
            let figures = Self { parts: vec![part], ..self.clone() }.figures(prepared)?;
            if figures.iter().any(|f| names.contains(&f.name)) {
                parts.push(part);
            }
            known.extend(figures.iter().map(|f| f.name));
        }
        match names.iter().find(|name| !known.contains(name)) {
            Some(name) => {
                let hint = suggestion::hint(name, &known);
                Err(Failure::Invalid(format!("no figure {name}{hint}")))
            }
            None => Ok(Self { parts, ..self.clone() }),
        }
    }
}
