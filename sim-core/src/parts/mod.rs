//! The parts of a car, one noun a file: what each is, can do and wastes.

pub mod air;
pub mod auxiliaries;
pub mod boxes;
pub mod brakes;
pub mod cable;
pub mod cell;
pub mod controller;
pub mod cooling;
pub mod gearbox;
pub mod lead_battery;
pub mod mass;
pub mod motor;
pub mod pack;
pub mod precharge;
pub mod road_load;
pub mod short_circuit;
pub mod tyre;
