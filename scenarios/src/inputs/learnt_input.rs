//! Inputs of a car that were learnt while it was driven, as files and parts hold them.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What something was learnt from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum LearntFrom {
    /// A car that was let roll.
    CoastDown,
    /// Drives that were recorded.
    Drives,
}

impl LearntFrom {
    /// The words for it.
    pub fn name(self) -> &'static str {
        match self {
            LearntFrom::CoastDown => "coast-down",
            LearntFrom::Drives => "drives",
        }
    }
}

/// What a number does to the value that stands in a field.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Measure {
    /// It takes its place.
    Value,
    /// It is added.
    Offset,
    /// The value grows by so many hundredths of itself.
    Percent,
}

/// An input that was learnt: a field, or several that move together.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LearntInput {
    /// What it is called.
    pub name: String,
    /// What `shift` and `sd` are: of each field's unit, or of the percent of what stood there.
    pub measure: Measure,
    /// How far it moved from what stood there; with `value` the value itself.
    pub shift: f64,
    /// Standard deviation that is left.
    pub sd: f64,
    /// Standard deviation that is typical, before anything was learnt.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub typical_sd: Option<f64>,
    /// The fields.
    pub fields: Vec<LearntField>,
    /// What these are multiplied with or counted for: with another frontal area a drag coefficient
    /// would be another drag.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub beside: Vec<Beside>,
}

/// A field that stands beside those that were learnt, and makes one figure with them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Beside {
    /// Its path from the root of a scenario, such as `build.donor.frontal_area_m2`.
    pub path: String,
    /// What stood there, or was assumed: the input is taken in only where that still holds.
    pub was: Option<f64>,
}

impl Beside {
    /// The same as a field in which nothing was learnt.
    pub(crate) fn as_field(&self) -> LearntField {
        let Self { path, was } = self.clone();
        LearntField { path, value: was.unwrap_or(f64::NAN), was }
    }
}

/// Fields of which only a figure made with others can be measured, by the beginning of their path.
const BESIDE: [(&str, &[&str]); 3] = [
    ("build.donor.drag_coefficient", &["build.donor.frontal_area_m2"]),
    (
        "build.donor.coast_down.",
        &[
            "build.donor.coast_down.mass_kg",
            "build.donor.coast_down.mass_lb",
            "build.donor.coast_down.air_density_kg_per_m3",
        ],
    ),
    ("build.motor.nameplate.specific_heat_j_per_kg_k", &["build.motor.mass_kg"]),
];

/// The fields that stand beside the one at a path from the root.
pub(crate) fn stands_beside(path: &str) -> Vec<&'static str> {
    let found = BESIDE.iter().find(|(begins, _)| path.starts_with(begins));
    let all = found.map(|(_, beside)| *beside).unwrap_or_default();
    all.iter().copied().filter(|other| *other != path).collect()
}

/// A field whose value was learnt.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LearntField {
    /// Its path from the root of a scenario, such as `build.pack.cell.resistance.1.mohm`.
    pub path: String,
    /// What stood there, or was assumed, when it was learnt: taken in only where that still holds.
    pub was: Option<f64>,
    /// What it was found to be.
    pub value: f64,
}

/// How well numbers of a part are known from a car that was driven with it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Spreads {
    /// What it was learnt from.
    pub from: LearntFrom,
    /// The day on which it was learnt, such as `2026-11-27`.
    pub date: String,
    /// The inputs; their paths begin at the part, such as `loss_coefficients.copper_w_per_a2`. One
    /// counts as long as its field holds the `value`.
    pub inputs: Vec<LearntInput>,
    /// How the inputs hang together: a row for each of them with its correlation to all of them;
    /// left out, they are independent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub correlations: Option<Vec<Vec<f64>>>,
}
