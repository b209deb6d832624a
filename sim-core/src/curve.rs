//! A quantity drawn as straight lines between points.

use crate::Invalid;

/// Piecewise-linear curve, held constant beyond its first and last point.
///
/// `y(x) = y_i + (y_{i+1} − y_i)·(x − x_i)/(x_{i+1} − x_i)` for `x_i ≤ x ≤ x_{i+1}`.
///
/// A table of equal buckets over the range, fine enough that none holds more than one point where
/// memory allows, gives the interval without a search: a look-up costs the same wherever it falls.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    pieces: Vec<Piece>,
    bucket: Vec<u32>,
    buckets_per_unit: f64,
    end: (f64, f64),
}

/// A straight piece from its start on.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Piece {
    x: f64,
    y: f64,
    slope: f64,
}

/// Largest bucket table.
const MOST_BUCKETS: f64 = 4096.0;

impl Curve {
    /// Builds a curve from points `(x, y)` with strictly rising `x`.
    ///
    /// # Errors
    /// [`Invalid`] when there is no point, a number is not finite, or `x` does not rise.
    pub fn new(points: &[(f64, f64)]) -> Result<Self, Invalid> {
        if points.is_empty() {
            return Err(Invalid::new("points", "an empty list", "at least one point"));
        }
        if points.len() > 100_000 {
            return Err(Invalid::new("points", points.len(), "at most 100000 points"));
        }
        for (i, (x, y)) in points.iter().enumerate() {
            if !x.is_finite() || !y.is_finite() {
                return Err(Invalid::new(
                    format!("points[{i}]"),
                    format!("({x}, {y})"),
                    "finite numbers",
                ));
            }
            if i > 0 && *x <= points[i - 1].0 {
                return Err(Invalid::new(
                    format!("points[{i}]"),
                    x,
                    format!("more than the point before it, {}", points[i - 1].0),
                ));
            }
        }
        let end = points[points.len() - 1];
        let pieces: Vec<Piece> = points
            .windows(2)
            .map(|w| Piece { x: w[0].0, y: w[0].1, slope: (w[1].1 - w[0].1) / (w[1].0 - w[0].0) })
            .collect();
        let span = end.0 - points[0].0;
        let narrowest = points.windows(2).map(|w| w[1].0 - w[0].0).fold(span, f64::min);
        let count = (span / narrowest).ceil().clamp(1.0, MOST_BUCKETS) as usize;
        let bucket = (0..=count)
            .map(|k| {
                let at = points[0].0 + k as f64 * span / count as f64;
                (pieces.partition_point(|p| p.x <= at).max(1) - 1) as u32
            })
            .collect();
        let buckets_per_unit = if span > 0.0 { count as f64 / span } else { 0.0 };
        Ok(Self { pieces, bucket, buckets_per_unit, end })
    }

    /// A curve that is `y` everywhere.
    pub fn constant(y: f64) -> Self {
        Self { pieces: vec![], bucket: vec![0], buckets_per_unit: 0.0, end: (0.0, y) }
    }

    /// The value at `x`; the end values beyond the ends.
    #[inline]
    pub fn at(&self, x: f64) -> f64 {
        let Some(first) = self.pieces.first() else {
            return self.end.1;
        };
        if x >= self.end.0 {
            return self.end.1;
        }
        if x <= first.x {
            return first.y;
        }
        let guess = ((x - first.x) * self.buckets_per_unit) as usize;
        let mut i = self.bucket.get(guess).map_or(0, |b| *b as usize);
        while i > 0 && self.pieces[i].x > x {
            i -= 1;
        }
        while let Some(next) = self.pieces.get(i + 1)
            && next.x <= x
        {
            i += 1;
        }
        let piece = &self.pieces[i];
        piece.y + piece.slope * (x - piece.x)
    }

    /// The points, in order.
    pub fn points(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.pieces.iter().map(|p| (p.x, p.y)).chain([self.end])
    }

    /// The first and last `x`.
    pub fn span(&self) -> (f64, f64) {
        (self.pieces.first().map_or(self.end.0, |p| p.x), self.end.0)
    }

    /// The largest value.
    pub fn peak(&self) -> f64 {
        self.points().map(|p| p.1).fold(f64::NEG_INFINITY, f64::max)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn passes_through_its_points_and_stays_level_beyond_them() {
        let c = Curve::new(&[(0.0, 1.0), (0.1, 5.0), (7.0, -2.0), (7.5, 3.0)]).unwrap();
        for (x, y) in c.points().collect::<Vec<_>>() {
            assert!((c.at(x) - y).abs() < 1e-12);
        }
        assert_eq!((c.at(-9.0), c.at(99.0)), (1.0, 3.0));
        assert!((c.at(0.05) - 3.0).abs() < 1e-12 && (c.at(7.25) - 0.5).abs() < 1e-12);
    }

    #[test]
    fn refuses_points_that_do_not_rise() {
        assert!(Curve::new(&[]).is_err());
        assert!(Curve::new(&[(0.0, 0.0), (0.0, 1.0)]).is_err());
        assert!(Curve::new(&[(0.0, f64::NAN)]).is_err());
    }
}
