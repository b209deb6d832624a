//! Driving a trace: the driver, the stepping loop, the range, and the reference that both are held to.

pub mod along;
pub mod driver;
pub mod extremes;
pub mod follow;
pub mod range;
pub mod reference;
pub(crate) mod shift;
mod step;
pub mod trace;
