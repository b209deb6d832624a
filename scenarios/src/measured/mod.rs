//! What was measured on the car.

pub mod drive;
