//! Shading: between which values the lines of several cars lie.

use scenarios::studies::ranks::quantile;

type Points = Vec<(f64, f64)>;

/// Places at which the lines are looked at.
const PLACES: u32 = 80;
/// Share of the lines that must reach a place.
const REACHED: f64 = 0.9;

/// The values below which one line in ten lies, and nine in ten, as far as nine in ten reach.
pub fn between(lines: &[Points]) -> (Points, Points) {
    let ends = lines.iter().flat_map(|line| line.first().into_iter().chain(line.last()));
    let (low, high) = ends
        .map(|point| point.0)
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| (low.min(x), high.max(x)));
    if !(low < high && (high - low).is_finite()) {
        return Default::default();
    }
    let places = (0..=PLACES).map(|i| low + (high - low) * f64::from(i) / f64::from(PLACES));
    let shaded = |x: f64| {
        let mut values: Vec<f64> = lines.iter().filter_map(|line| at(line, x)).collect();
        values.sort_by(f64::total_cmp);
        let is_reached = values.len() as f64 >= REACHED * lines.len() as f64;
        is_reached.then(|| ((x, quantile(&values, 0.1)), (x, quantile(&values, 0.9))))
    };
    places.filter_map(shaded).unzip()
}

/// The value of a line at a place; none beyond its ends.
fn at(line: &[(f64, f64)], x: f64) -> Option<f64> {
    let after = line.partition_point(|point| point.0 < x);
    let (right, left) = (line.get(after)?, line[after.saturating_sub(1)]);
    let value = match right.0 - left.0 {
        span if span > 0.0 => left.1 + (right.1 - left.1) * (x - left.0) / span,
        _ if right.0 == x => right.1,
        _ => return None,
    };
    value.is_finite().then_some(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn even_lines_are_shaded_between_their_tenths_as_far_as_they_reach() {
        let line =
            |i: i32| vec![(0.0, f64::from(i)), (if i == 0 { 5.0 } else { 10.0 }, f64::from(i))];
        let (low, high) = between(&(0..=10).map(line).collect::<Vec<_>>());
        let first = |points: &Points| points.first().copied();
        assert_eq!((first(&low), first(&high)), (Some((0.0, 1.0)), Some((0.0, 9.0))));
        // Ten of eleven reach to the end.
        assert_eq!(low.last().map(|point| point.0), Some(10.0));
        assert!(low.iter().zip(&high).all(|(low, high)| low.0 == high.0 && low.1 <= high.1));
        assert_eq!(between(&[]), Default::default());
        assert_eq!(between(&[vec![(1.0, f64::NAN)]]), Default::default());
    }
}
