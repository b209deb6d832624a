//! How steep a slope is, as people say it.

use crate::units;
use sim_core::car::Slope;

/// Grade of a slope: rise over run, %.
pub(crate) fn grade_pct(slope: Slope) -> f64 {
    units::pct_of(slope.sin, slope.cos)
}
