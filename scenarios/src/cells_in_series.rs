//! How many cells in series a controller works on, by voltages at rest: the one place that says so.

use sim_core::controller::Controller;
use sim_core::pack::Pack;

/// How closely a charger keeps its voltage, as a share (common practice, no source).
pub(crate) const CHARGER_ACCURACY: f64 = 0.005;

/// A number of cells that is none where a quotient is out of all bounds.
fn cells(quotient: f64) -> u32 {
    quotient.clamp(0.0, f64::from(u32::MAX)) as u32
}

/// Voltage of a cell at rest, V.
fn each_v(pack: &Pack, charge: f64) -> f64 {
    pack.rested_v(charge) / pack.cells_in_series()
}

/// The fewest cells in series with which an empty pack still rests at a voltage.
pub(crate) fn fewest_from(volts: f64, pack: &Pack) -> u32 {
    cells((volts / each_v(pack, pack.min_charge) - 1e-9).ceil()).max(1)
}

/// The most cells in series with which a full pack rests at no more than a voltage.
pub(crate) fn most_rested(volts: f64, pack: &Pack) -> u32 {
    cells((volts / each_v(pack, pack.max_charge) + 1e-9).floor())
}

/// The most cells in series that are all at their highest voltage while they are charged, by a charger
/// that is a little off, and stay under a voltage.
pub(crate) fn most_charged(volts: f64, pack: &Pack) -> u32 {
    cells(
        (volts / (pack.highest_v() / pack.cells_in_series() * (1.0 + CHARGER_ACCURACY)) + 1e-9)
            .floor(),
    )
}

/// The fewest cells in series on which the controller works from full to empty, where it bears them
/// while they are charged.
pub(crate) fn series_for(controller: &Controller, pack: &Pack) -> Option<u32> {
    let series = fewest_from(controller.min_v, pack);
    (series <= most_charged(controller.max_v, pack)).then_some(series)
}
