//! What was taken for granted because the files do not say it.

use crate::files::allowed::plain;
use std::borrow::Cow;

/// A value that no file gave.
#[derive(Debug, Clone, PartialEq, serde::Serialize, schemars::JsonSchema)]
pub struct Assumption {
    /// Path of the field that would give it.
    pub path: String,
    /// The value with its unit.
    pub value: String,
    /// Why this value.
    pub reason: Cow<'static, str>,
    /// The value in the unit of the field, where it is a number.
    #[serde(skip)]
    pub number: Option<f64>,
}

/// A number that is taken where no file gives one.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Usual {
    pub(crate) value: f64,
    unit: &'static str,
    reason: &'static str,
}

/// A number that is taken where no file gives one, with its unit and why it is this one.
pub(crate) const fn usual(value: f64, unit: &'static str, reason: &'static str) -> Usual {
    Usual { value, unit, reason }
}

impl Assumption {
    /// A number in place of that of a field.
    pub(crate) fn number(path: String, usual: Usual) -> Self {
        let Usual { value, unit, reason } = usual;
        let shown = plain(rounded(value));
        let shown = if unit.is_empty() { shown } else { format!("{shown} {unit}") };
        Self { path, value: shown, reason: reason.into(), number: Some(value) }
    }

    /// What is no number in place of that of a field.
    pub(crate) fn words(
        path: String,
        value: impl Into<String>,
        reason: impl Into<Cow<'static, str>>,
    ) -> Self {
        Self { path, value: value.into(), reason: reason.into(), number: None }
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
