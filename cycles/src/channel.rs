//! A channel of a recording.

use crate::signal::Signal;

/// A channel of a recording.
#[derive(Debug, Clone, PartialEq)]
pub struct Channel {
    /// What it holds.
    pub signal: Signal,
    /// What its column is called in the file.
    pub column: String,
    /// Its values in SI at the recording's times; NaN where there is none, or one that is not to be
    /// trusted, as [`Recording::faults`](crate::Recording::faults) says.
    pub values: Vec<f64>,
}
