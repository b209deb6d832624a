//! How steep a slope is, as people say it.

use sim_core::car::Slope;
use sim_core::units;

/// Grade of a slope: rise over run, %.
pub(crate) fn grade_pct(slope: Slope) -> f64 {
    units::pct_of(slope.sin, slope.cos)
}
