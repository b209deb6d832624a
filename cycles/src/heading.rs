//! Where a road leads: the heading along each part of it.

use crate::Along;

/// What is known along each interval of a schedule, by headings that hold from a place on.
pub(crate) fn headings(places: &[f64], headings: &[(f64, f64)]) -> Vec<Along> {
    let heading_at = |place: f64| {
        let after = headings.partition_point(|(from, _)| *from <= place);
        headings.get(after.saturating_sub(1)).map(|(_, heading_rad)| *heading_rad)
    };
    let middle = |pair: &[f64]| heading_at(0.5 * (pair[0] + pair[1]));
    let along = |pair: &[f64]| Along { heading_rad: middle(pair), ..Along::default() };
    places.windows(2).map(along).collect()
}
