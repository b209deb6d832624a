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
pub mod endurance;
pub mod figure;
pub mod gearing;
pub mod limits;
pub mod pull;
pub mod regen;
pub mod run;
pub mod series;
pub mod standing;
pub mod suite;

pub use figure::{Better, Figure, FigureKind, Unit};
pub use run::Run;
pub use suite::Suite;

pub use crate::prepared::Setup;

use crate::units;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::car::Slope;
use sim_core::heat::{Node, PerNode};
use sim_core::{Car, State, Trace};

/// A run that could not be carried out.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Failure {
    /// The integrator gave up.
    #[error("{0}")]
    Stuck(#[from] sim_core::pieces::Stuck),
    /// The trace cannot be driven.
    #[error("trace {0}")]
    Trace(sim_core::Invalid),
    /// No run gives a figure of this name.
    #[error("no figure {name}{}", meant.map(|m| format!("; did you mean \"{m}\"?")).unwrap_or_default())]
    NoFigure {
        /// The name.
        name: String,
        /// The figure that may have been meant.
        meant: Option<&'static str>,
    },
    /// The report of this build does not know a figure.
    #[error("{name} has no answer here; it is {meaning}")]
    NoAnswer {
        /// The name.
        name: String,
        /// What it is.
        meaning: &'static str,
    },
    /// A run's own input makes no sense.
    #[error("{0}")]
    Invalid(String),
}

/// Makes a trace of a cycle or a road ready for driving.
///
/// # Errors
/// [`Failure::Trace`] when its numbers are out of range.
pub fn trace(road: &cycles::Trace) -> Result<Trace, Failure> {
    Trace::loaded(&road.time_s, &road.speed_mps, &road.slope, &road.auxiliary_w)
        .map_err(Failure::Trace)
}

/// Grade of a slope: rise over run, %.
pub(crate) fn grade_pct(slope: Slope) -> f64 {
    units::pct_of(slope.sin, slope.cos)
}

/// Temperatures of the parts, °C.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Temperatures {
    /// Motor winding, °C.
    pub winding_c: f64,
    /// Motor housing, °C.
    pub housing_c: f64,
    /// Controller heat sink, °C.
    pub heat_sink_c: f64,
    /// Cells, °C.
    pub cells_c: f64,
}

impl Temperatures {
    /// From kelvins.
    pub fn from_k(of: &PerNode<f64>) -> Self {
        Self {
            winding_c: units::c_from_k(of[Node::Winding]),
            housing_c: units::c_from_k(of[Node::Housing]),
            heat_sink_c: units::c_from_k(of[Node::Sink]),
            cells_c: units::c_from_k(of[Node::Cells]),
        }
    }

    /// Of a state.
    pub fn of(state: &State) -> Self {
        Self::from_k(&state.temperature_k)
    }
}

/// Temperatures at which parts begin to cut back, °C.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Warnings {
    /// Motor winding, °C.
    pub winding_c: f64,
    /// Controller heat sink, °C.
    pub heat_sink_c: f64,
    /// Cells, °C, where their discharge current falls with heat.
    pub cells_c: Option<f64>,
}

impl Warnings {
    /// Of a car.
    pub fn of(car: &Car) -> Self {
        Self {
            winding_c: units::c_from_k(car.parts().motor.derating.warning_k),
            heat_sink_c: units::c_from_k(car.parts().controller.derating.warning_k),
            cells_c: car.thermal().warning_k(Node::Cells).map(units::c_from_k),
        }
    }

    /// How far the nearest part stayed under its warning, K.
    pub fn left_k(&self, peak: &Temperatures) -> f64 {
        let cells_k = self.cells_c.map_or(f64::INFINITY, |c| c - peak.cells_c);
        (self.winding_c - peak.winding_c).min(self.heat_sink_c - peak.heat_sink_c).min(cells_k)
    }
}
