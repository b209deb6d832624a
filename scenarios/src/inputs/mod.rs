//! One type for each part and setting of a file, with its way into the model.

pub mod auxiliaries;
pub mod build;
pub mod cell;
pub mod charger;
pub mod conditions;
pub mod controller;
pub mod coolant;
pub mod day;
pub mod donor;
pub mod driver;
pub mod drives;
pub mod gearbox;
pub mod money;
pub mod motor;
pub mod outlet;
pub mod pack;
pub mod reference;
pub mod regen;
pub mod road;
pub mod scenario;
pub mod schema;
pub mod season;
pub mod start;
pub mod tyre;
pub mod what_if;
pub mod wltc;
