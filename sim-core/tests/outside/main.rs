//! The core against the outside world: standards, handbooks, closed forms, general libraries.
//!
//! One program, so that it is linked once; each subject has its file, and is run by itself with
//! `cargo test --release -p sim-core --test outside coast_down`.

#[path = "../bench/mod.rs"]
mod bench;

mod axle_loads;
mod boxes;
mod charging;
mod coast_down;
mod constant_power;
mod cooling;
mod copper;
mod descent;
mod endurance;
mod field_weakening;
mod gear_choice;
mod gearbox_oil;
mod handbook_traction;
mod ledger;
mod limits;
mod loss_map;
mod nameplate;
mod pack_response;
mod properties;
mod quickest;
mod ratings;
mod regen;
mod shifts;
mod standard_atmosphere;
mod step_size;
mod thermal_step;
mod too_hot;
mod top_speed_and_grades;
mod trace_tolerance;
mod tyre_temperature;
mod weather;
mod windows;
mod wiring;
mod worked_examples;
