//! Holding a speed on a slope: up, down, and for how long.

pub mod climb;
pub mod descent;
pub mod endurance;
