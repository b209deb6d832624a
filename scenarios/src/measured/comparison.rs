//! What was predicted for recorded drives against what was recorded, in plain figures.

use crate::files::error::Error;
use crate::files::overrides::Override;
use crate::loaded::Loaded;
use crate::measured::compared::{DriveCompared, FigureTogether, one, together};
use crate::measured::drive::{Prediction, RecordedDrive};
use crate::measured::regimes::{RegimeCompared, Regimes};
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

/// Predicts recorded drives and compares; values of the caller come on top of what was recorded.
///
/// # Errors
/// As [`Loaded::with`].
pub fn compare(
    loaded: &Loaded,
    set: &[Override],
    drives: &[RecordedDrive],
) -> Result<DrivesReport, Error> {
    let mut regimes = Regimes::default();
    let mut car = String::new();
    let mut compared = Vec::with_capacity(drives.len());
    for recorded in drives {
        let prepared = recorded.prepare(loaded, set)?;
        let mut prediction = Prediction::of(recorded);
        let driven = recorded.predict(&prepared.setup(), &mut prediction);
        let not_done = run::undriven(&driven, &recorded.trace);
        compared.push(one(recorded, &prediction, not_done));
        regimes.add(recorded, &prediction);
        car.clone_from(&prepared.name);
    }
    let together = if compared.len() > 1 { together(&compared) } else { Vec::new() };
    let suggestions = regimes.suggestions(&compared);
    Ok(DrivesReport { car, drives: compared, together, regimes: regimes.compared(), suggestions })
}
