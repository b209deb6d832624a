//! What each slider moves most, found by moving it a little.

use super::answers::FIGURES;
use super::driven::suite;
use super::groups::Number;
use crate::figure;
use crate::measure::Units;
use rayon::prelude::*;
use scenarios::runs::{Figure, Run};
use scenarios::{Loaded, Override};
use serde::Serialize;
use serde_json::Value;

/// How far a slider is moved, as a share of its length.
const NUDGE: f64 = 0.05;

/// What a slider moves.
#[derive(Debug, Serialize)]
pub struct Moved {
    /// The path of the slider.
    pub path: String,
    /// By how much it was moved, in the unit of the field.
    by: f64,
    /// The figure that changed most for its size; nothing where none did.
    figure: Option<String>,
    /// By how much.
    change: Option<String>,
}

/// What each slider moves. A slider that cannot be moved is left out.
pub fn moved(
    loaded: &Loaded,
    sliders: Vec<Number>,
    figures: &[Figure],
    units: Units,
    still: &(dyn Fn() -> bool + Sync),
) -> Vec<Moved> {
    let nudged = |slider: &Number| {
        if !still() {
            return None;
        }
        let step = NUDGE * (slider.high - slider.low);
        let step = if slider.whole { step.round().max(1.0) } else { step };
        let up = slider.value + step <= slider.high;
        let by = if up { step } else { -step };
        let to = slider.value + by;
        let value = if slider.whole { Value::from(to as i64) } else { Value::from(to) };
        let car = loaded.with(&[Override::new(&slider.path, value).ok()?]).ok()?;
        let found = suite(&car, &Run::SHEET).ok()?.figures(&car).ok()?;
        let most = most(figures, &found);
        Some(Moved {
            path: slider.path.clone(),
            by,
            figure: most.map(|(own, _)| figure::label(own.name, units)),
            change: most.map(|(own, new)| match new.value - own.value {
                more if more.is_finite() => figure::change(own.name, more, units),
                _ => figure::shown(new, units),
            }),
        })
    };
    sliders.par_iter().filter_map(nudged).collect()
}

/// The figure that changed most for its size. Masses are left out, as they tell nothing that was not
/// known.
fn most<'a>(before: &'a [Figure], after: &'a [Figure]) -> Option<(&'a Figure, &'a Figure)> {
    let weight = |own: &Figure, new: &Figure| match (own.value, new.value) {
        (own, new) if own.is_finite() && new.is_finite() => {
            (new - own).abs() / own.abs().max(new.abs()).max(1e-9)
        }
        (own, new) if own.is_finite() != new.is_finite() => f64::MAX,
        _ => 0.0,
    };
    let deciding = before.iter().filter(|f| FIGURES.contains(&f.name) && !f.name.ends_with("_kg"));
    deciding
        .filter_map(|own| Some((own, after.iter().find(|new| new.name == own.name)?)))
        .map(|pair| (weight(pair.0, pair.1), pair))
        .filter(|(weight, _)| *weight > 1e-3)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, pair)| pair)
}
