//! The way from a cycle or a road to what is driven.

use crate::runs::failure::Failure;
use sim_core::{Along, Trace};

/// Makes a trace of a cycle or a road ready for driving.
///
/// # Errors
/// [`Failure::Trace`] when its numbers are out of range.
pub fn trace(schedule: &cycles::Schedule) -> Result<Trace, Failure> {
    let start_s = schedule.time_s[0];
    let starts = schedule.time_s.iter().map(|time_s| time_s - start_s);
    let along: Vec<(f64, Along)> = starts.zip(schedule.along.iter().copied()).collect();
    Trace::loaded(&schedule.time_s, &schedule.speed_mps, &schedule.slope, &schedule.auxiliary_w)
        .and_then(|trace| trace.through(&along))
        .map_err(Failure::Trace)
}
