//! What was measured on the car: coast-downs before it is built, drives after.

pub mod coast_down;
mod coasting;
mod compared;
pub mod comparison;
mod course;
mod disturbance;
pub mod drive;
mod evidence;
pub mod fit;
mod impossible;
pub mod judged;
mod posterior;
mod regimes;
mod regulation;
mod scatter;
pub mod taken_in;
mod trajectory;

pub use compared::{ChannelCompared, DriveCompared, FigureCompared, FigureTogether};
pub use regimes::RegimeCompared;
