//! What was measured on the car: coast-downs before it is built, drives after.

pub mod coast_down;
mod coasting;
mod disturbance;
pub mod drive;
mod regulation;
mod taken_in;
mod trajectory;
