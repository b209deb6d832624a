//! The way from a cycle or a road to what is driven.

use crate::runs::failure::Failure;
use sim_core::Trace;

/// Makes a trace of a cycle or a road ready for driving.
///
/// # Errors
/// [`Failure::Trace`] when its numbers are out of range.
pub fn trace(schedule: &cycles::Schedule) -> Result<Trace, Failure> {
    Trace::loaded(&schedule.time_s, &schedule.speed_mps, &schedule.slope, &schedule.auxiliary_w)
        .map_err(Failure::Trace)
}
