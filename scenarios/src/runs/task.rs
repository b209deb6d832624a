//! One drive of any kind that boils down to figures: what sweeps and searches repeat.

use super::day::{self, Day};
use super::{Failure, Figure, Setup, climb, drive, pull};
use sim_core::Trace;
use sim_core::climb::Hill;

/// A drive with all that it needs besides the car.
#[derive(Debug, Clone, PartialEq)]
pub enum Task {
    /// Full throttle through the gears.
    Pull,
    /// A climb in its best gear.
    Climb(Hill),
    /// A road, once.
    Drive(Trace),
    /// A day.
    Day(Day),
}

impl Task {
    /// The figures of a car.
    ///
    /// # Errors
    /// [`Failure`] when the integrator gives up.
    pub fn figures(&self, setup: &Setup<'_>) -> Result<Vec<Figure>, Failure> {
        match self {
            Task::Pull => pull::figures(setup),
            Task::Climb(hill) => climb::figures(setup, hill),
            Task::Drive(trace) => Ok(drive::figures(setup, trace)),
            Task::Day(day) => Ok(day::figures(setup, day)),
        }
    }
}
