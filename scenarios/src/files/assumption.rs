//! What was taken for granted because the files do not say it.

use crate::files::place::{Place, plain};

/// A value that no file gave.
#[derive(Debug, Clone, PartialEq, serde::Serialize, schemars::JsonSchema)]
pub struct Assumption {
    /// Path of the field that would give it.
    pub path: String,
    /// The value with its unit.
    pub value: String,
    /// Why this value.
    pub reason: &'static str,
}

impl Assumption {
    pub(crate) fn new(
        place: &Place,
        name: &str,
        value: f64,
        unit: &str,
        reason: &'static str,
    ) -> Self {
        let number = plain(rounded(value));
        let value = if unit.is_empty() { number } else { format!("{number} {unit}") };
        Self { path: place.field(name).path(), value, reason }
    }
}

/// Four significant digits.
fn rounded(value: f64) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return value;
    }
    let scale = 10f64.powi(3 - value.abs().log10().floor() as i32);
    (value * scale).round() / scale
}
