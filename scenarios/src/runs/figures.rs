//! Named numbers: what a run boils down to.

use schemars::JsonSchema;
use serde::Serialize;

/// Which way is better.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Better {
    /// More is better.
    Higher,
    /// Less is better.
    Lower,
    /// Neither.
    Neither,
}

/// A named number with its unit in the name; not a number where there is no answer (a speed that
/// is never reached).
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Figure {
    /// Name, ending in its unit.
    pub name: &'static str,
    /// Value; `null` in JSON where there is none.
    #[schemars(with = "Option<f64>")]
    pub value: f64,
    /// Which way is better.
    pub better: Better,
}

impl Figure {
    /// A figure of which more is better.
    pub fn higher(name: &'static str, value: f64) -> Self {
        Self { name, value, better: Better::Higher }
    }

    /// A figure of which less is better.
    pub fn lower(name: &'static str, value: f64) -> Self {
        Self { name, value, better: Better::Lower }
    }

    /// A figure that only describes.
    pub fn plain(name: &'static str, value: f64) -> Self {
        Self { name, value, better: Better::Neither }
    }
}
