//! Prefixes and percents that the units module has under the name of another quantity.

use crate::units;

/// Share of a whole from percent: p / 100.
pub(crate) fn share_from_pct(pct: f64) -> f64 {
    units::slope_from_pct(pct)
}

/// Ohms from milliohms: R / 1000.
pub(crate) fn ohm_from_mohm(mohm: f64) -> f64 {
    units::m_from_mm(mohm)
}

/// Ampere seconds from ampere hours: Q · 3600.
pub(crate) fn as_from_ah(ah: f64) -> f64 {
    units::s_from_h(ah)
}

/// Joules from kilojoules: E · 1000.
pub(crate) fn j_from_kj(kj: f64) -> f64 {
    units::w_from_kw(kj)
}

/// Radians per second in a thousand revolutions per minute.
pub(crate) fn radps_per_krpm() -> f64 {
    units::radps_from_rpm(1000.0)
}
