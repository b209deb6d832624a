//! What was measured on the car: coast-downs before it is built, drives after.

pub mod coast_down;
mod coasting;
mod course;
mod disturbance;
pub mod drive;
mod evidence;
pub mod fit;
pub mod judged;
mod posterior;
mod regulation;
mod scatter;
mod taken_in;
mod trajectory;
