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

pub mod air;
pub mod auxiliaries;
pub mod brakes;
pub mod car;
pub mod cell;
pub mod charging;
pub mod climb;
pub mod controller;
pub mod curve;
pub mod descent;
pub mod driver;
pub mod endurance;
pub mod follow;
pub mod gearbox;
pub mod ledger;
pub mod limit;
pub mod mass;
pub mod motor;
pub mod pack;
pub mod pieces;
pub mod pull;
pub mod range;
pub mod reference;
pub mod regen;
pub mod road_load;
pub mod state;
pub mod trace;
pub mod tyre;

pub use car::{Car, Flow, Request, Surroundings};
pub use curve::Curve;
pub use ledger::Ledger;
pub use limit::Limit;
pub use state::State;
pub use trace::Trace;

/// Standard acceleration of free fall, m/s² (ISO 80000-3; the value of the 3rd CGPM, 1901).
pub const GRAVITY_MPS2: f64 = 9.80665;

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
