//! What was predicted for recorded drives against what was recorded, in plain figures.

use crate::files::error::Error;
use crate::files::overrides::Override;
use crate::loaded::Loaded;
use crate::measured::compared::{DriveCompared, FigureTogether, one, together};
use crate::measured::drive::{Prediction, RecordedDrive};
use crate::measured::impossible::contradictions;
use crate::measured::regimes::{RegimeCompared, Regimes};
use crate::prepared::Prepared;
use crate::runs::drive as run;
use schemars::JsonSchema;
use serde::Serialize;

/// Recorded drives against what is predicted for them.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct DrivesReport {
    /// What the car is called.
    pub car: String,
    /// Each drive.
    pub drives: Vec<DriveCompared>,
    /// The same figures over all drives, where there are several.
    pub together: Vec<FigureTogether>,
    /// Stretches of all drives on which one thing rules.
    pub regimes: Vec<RegimeCompared>,
    /// What the differences suggest, a sentence each.
    pub suggestions: Vec<String>,
}

/// Recorded drives that were driven again.
#[derive(Debug, Clone)]
pub struct Replay {
    /// What came of it.
    pub report: DrivesReport,
    /// What was predicted for each drive, row by row.
    pub predictions: Vec<Prediction>,
}

/// Predicts recorded drives and compares; values of the caller come on top of what was recorded.
///
/// # Errors
/// As [`Loaded::with`].
pub fn replay(
    loaded: &Loaded,
    set: &[Override],
    drives: &[RecordedDrive],
) -> Result<Replay, Error> {
    let mut regimes = Regimes::default();
    let mut car = String::new();
    let (mut compared, mut predictions) = (Vec::new(), Vec::new());
    for recorded in drives {
        let prepared = recorded.prepare(loaded, set)?;
        let (one, prediction) = driven(recorded, &prepared);
        if one.impossible.is_empty() {
            regimes.add(recorded, &prediction);
        }
        compared.push(one);
        predictions.push(prediction);
        car.clone_from(&prepared.name);
    }
    let together = if compared.len() > 1 { together(&compared) } else { Vec::new() };
    let suggestions = regimes.suggestions(&compared);
    let regimes = regimes.compared();
    let report = DrivesReport { car, drives: compared, together, regimes, suggestions };
    Ok(Replay { report, predictions })
}

/// Drives a car that is prepared for it, and compares.
pub fn driven(recorded: &RecordedDrive, prepared: &Prepared) -> (DriveCompared, Prediction) {
    let mut prediction = Prediction::of(recorded);
    let driven = recorded.predict(&prepared.setup(), &mut prediction);
    let not_done = run::undriven(&driven, &recorded.trace);
    let behind_mps = driven.largest_lag_mps;
    let impossible = match not_done {
        None => contradictions(recorded, prepared.car.parts(), &prediction),
        Some(_) => Vec::new(),
    };
    (one(recorded, &prediction, (not_done, behind_mps), impossible), prediction)
}
