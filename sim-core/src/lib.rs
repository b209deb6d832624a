//! The physics of a converted car on a road: forces, losses, heat, charge and time.
//!
//! Everything here is in SI units and a name carries its unit. The crate reads no files, prints
//! nothing and starts no threads. A [`Car`] is a set of parts; [`Car::act`] answers the one
//! question of longitudinal dynamics, *what happens at this instant if the driver asks for this*,
//! and three ways of stepping time stand on it:
//!
//! * [`follow`](follow::follow) drives a speed [`Trace`] with a fixed-step implicit midpoint rule,
//!   without a heap allocation;
//! * [`pieces`] integrates the same right-hand side with the adaptive Dormand–Prince pair of
//!   `ode_solvers`, piece by piece between located events;
//! * [`pull`], [`climb`] and [`descent`] are runs made of such pieces.
//!
//! Every run returns a [`Ledger`] that says where each joule went.

pub mod car;
pub mod charging;
pub mod curve;
mod drive;
pub mod heat;
mod hold;
pub mod ledger;
pub mod limit;
mod parts;
pub mod pieces;
pub mod pull;
pub mod root;
pub mod state;
pub mod units;

pub use car::{Car, Flow, Request, Surroundings};
pub use curve::Curve;
pub use drive::{driver, extremes, follow, range, reference, trace};
pub use heat::Node;
pub use hold::{climb, descent, endurance};
pub use ledger::Ledger;
pub use limit::Limit;
pub use parts::{
    air, auxiliaries, brakes, cell, controller, cooling, gearbox, mass, motor, pack, road_load,
    tyre,
};
pub use state::State;
pub use trace::Trace;

/// A part that cannot be: which field, the value found and what is allowed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{field} is {value}; allowed: {allowed}")]
pub struct Invalid {
    /// Name of the quantity, as in the part's own documentation.
    pub field: String,
    /// The value that was given.
    pub value: String,
    /// What would have been allowed.
    pub allowed: String,
}

impl Invalid {
    /// Builds the error from anything that prints.
    pub fn new(
        field: impl Into<String>,
        value: impl std::fmt::Display,
        allowed: impl Into<String>,
    ) -> Self {
        Self { field: field.into(), value: value.to_string(), allowed: allowed.into() }
    }
}
