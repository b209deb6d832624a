//! One drive of any kind that boils down to figures: what sweeps and searches repeat.

use super::day::{self, Day};
use super::{Failure, Figure, Setup, climb, drive, pull, standing};
use sim_core::Trace;
use sim_core::climb::Hill;
use std::sync::Arc;

/// A drive with all that it needs besides the car.
#[derive(Debug, Clone, PartialEq)]
pub enum Task {
    /// None: what is true of the car before it moves.
    Standing,
    /// Full throttle through the gears.
    Pull,
    /// A climb in its best gear.
    Climb(Hill),
    /// The same of a pass, whose figures have its name.
    Pass(Hill),
    /// A road, once.
    Drive(Arc<Trace>),
    /// A road, until the pack is empty.
    Range(Arc<Trace>),
    /// A day.
    Day(Arc<Day>),
}

impl Task {
    /// The figures of a car.
    ///
    /// # Errors
    /// [`Failure`] when the integrator gives up.
    pub fn figures(&self, setup: &Setup<'_>) -> Result<Vec<Figure>, Failure> {
        match self {
            Task::Standing => Ok(standing::figures(setup)),
            Task::Pull => pull::figures(setup),
            Task::Climb(hill) => climb::figures(setup, hill, &climb::CLIMB),
            Task::Pass(hill) => climb::figures(setup, hill, &climb::PASS),
            Task::Drive(trace) => Ok(drive::figures(setup, trace)),
            Task::Range(trace) => Ok(drive::range_figures(setup, trace)),
            Task::Day(day) => Ok(day::figures(setup, day)),
        }
    }
}
