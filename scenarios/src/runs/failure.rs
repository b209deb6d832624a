//! Why a run could not be carried out.

use crate::inputs::money::Need;
use cycles::short;
use sim_core::Node;
use sim_core::pieces::{Fastest, Stuck};

/// A run that could not be carried out.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Failure {
    /// The integrator gave up.
    #[error("{0}; look at {fields}, and at what `check` doubts", fields = fields_of(.0.by()))]
    Stuck(#[from] Stuck),
    /// The trace cannot be driven.
    #[error("trace {0}")]
    Trace(sim_core::Invalid),
    /// No run gives a figure of this name.
    #[error("no figure {}{}", short(name), meant.map(|m| format!("; did you mean \"{m}\"?")).unwrap_or_default())]
    NoFigure {
        /// The name.
        name: String,
        /// The figure that may have been meant.
        meant: Option<&'static str>,
    },
    /// The report of this build does not know a figure.
    #[error("{} has no answer here: {meaning}", short(name))]
    NoAnswer {
        /// The name.
        name: String,
        /// What it is.
        meaning: &'static str,
    },
    /// A text that has none of the forms that it may have, or names what cannot be named.
    #[error("{}: {why}", short(text))]
    Form {
        /// The text.
        text: String,
        /// Why it cannot be read.
        why: String,
    },
    /// An argument that is out of range.
    #[error(transparent)]
    Argument(#[from] sim_core::Invalid),
    /// No price is known.
    #[error("no price is known; needed: at least one of {}", Need::ALL.map(|need| need.to_string()).join(", "))]
    NoPrice,
    /// A search for an end of what keeps the goals, without a goal.
    #[error("the smallest or the largest value of which goals? needed: a goal")]
    NoGoal,
    /// A study that was ended before its answer was there.
    #[error("nobody waits for the answer any more")]
    Abandoned,
    /// Nothing is uncertain.
    #[error("nothing is uncertain; needed: a spread, or a field with a typical spread")]
    NothingUncertain,
    /// A run came out at what cannot be.
    #[error(
        "the run was given up: {path} comes out as {value}, and can only be {allowed}; {look_at}"
    )]
    Impossible {
        /// Path of the number in the report, or the name of a figure.
        path: String,
        /// What came out.
        value: f64,
        /// What can be.
        allowed: String,
        /// The input to look at.
        look_at: String,
    },
    /// A run's own input makes no sense.
    #[error("{0}")]
    Invalid(String),
}

/// The fields that say how fast something in the car changes.
fn fields_of(fastest: Fastest) -> &'static str {
    match fastest {
        Fastest::Speed => {
            "the losses in motor.loss_coefficients, controller.loss_w_per_a and \
             controller.loss_w_per_a2, the motor's torque and the masses"
        }
        Fastest::Charge => "pack.cell.capacity_ah and pack.parallel",
        Fastest::Polarisation => "pack.cell.polarisation_s and pack.cell.polarisation_mohm",
        Fastest::ShortPeaks => {
            "pack.cell.peak_s, pack.cell.discharge_peak_a and pack.cell.charge_peak_a"
        }
        Fastest::Heat(Node::Winding | Node::Housing) => {
            "motor.nodes, motor.mass_kg and motor.loss_coefficients"
        }
        Fastest::Heat(Node::Sink) => {
            "controller.heat_capacity_kj_per_k, controller.loss_w_per_a and \
             controller.loss_w_per_a2"
        }
        Fastest::Heat(Node::Cells | Node::Box2 | Node::Box3 | Node::Box4) => {
            "pack.cell.mass_kg and pack.cell.specific_heat_j_per_kg_k"
        }
        Fastest::Heat(Node::Cabin) => "auxiliaries.cabin.heat_capacity_kj_per_k",
        Fastest::Heat(Node::Oil) => "gearbox.oil.heat_capacity_kj_per_k",
        Fastest::Heat(Node::Coolant) => "coolant.heat_capacity_kj_per_k",
    }
}
