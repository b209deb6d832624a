//! Why a run could not be carried out.

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
    #[error("{name} has no answer here: {meaning}")]
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
