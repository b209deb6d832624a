//! The runs: what a car is asked to do, and the answers in the units of a workshop.
//!
//! A run takes a [`Setup`] and returns a report, a plain structure that serialises. Every report
//! also boils down to [`Figure`]s, named numbers, which is what sweeps, comparisons and searches
//! work on.

pub mod charge;
pub mod climb;
pub mod cost;
pub mod day;
pub mod descent;
pub mod drive;
pub mod electrics;
pub mod endurance;
pub mod failure;
pub mod figure;
pub mod gearing;
pub(crate) mod grade;
pub mod history;
mod invariants;
pub mod limits;
pub mod pull;
pub mod rating;
pub mod readings;
pub mod regen;
pub mod run;
pub mod season;
pub mod series;
pub mod settings;
pub mod standing;
pub mod suite;
pub mod temperatures;
mod trace;
pub mod tractive;
pub mod year;

pub use crate::prepared::Setup;
pub use failure::Failure;
pub use figure::{Better, Figure, FigureKind, NotDone, Report, Unit};
pub use run::Run;
pub use suite::Suite;
pub use temperatures::{BoxTemperatures, Temperatures, Warnings};
pub use trace::trace;
