//! Holding a speed on a slope: up, down, for how long, and continuously.

pub mod climb;
pub mod descent;
pub mod endurance;
pub mod steady;
