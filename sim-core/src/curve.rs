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
    /// The straight pieces, and a level one from the last point on.
    pieces: Vec<Piece>,
    /// The last piece that begins before a bucket.
    bucket: Vec<u32>,
    buckets_per_unit: f64,
    start: f64,
    end: f64,
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
        let (start, end) = (points[0].0, points[points.len() - 1].0);
        let level = Piece { x: end, y: points[points.len() - 1].1, slope: 0.0 };
        let pieces: Vec<Piece> = points
            .windows(2)
            .map(|w| Piece { x: w[0].0, y: w[0].1, slope: (w[1].1 - w[0].1) / (w[1].0 - w[0].0) })
            .chain([level])
            .collect();
        let span = end - start;
        let narrowest = points.windows(2).map(|w| w[1].0 - w[0].0).fold(span, f64::min);
        let count = if span > 0.0 { (span / narrowest).ceil().min(MOST_BUCKETS) } else { 0.0 };
        let buckets_per_unit = if span > 0.0 { count / span } else { 0.0 };
        let mut curve = Self { pieces, bucket: vec![], buckets_per_unit, start, end };
        // Buckets are numbered as a look-up does it, so that rounding cannot put a point behind it.
        curve.bucket = (0..=curve.bucket_of(end))
            .map(|k| curve.pieces.partition_point(|p| curve.bucket_of(p.x) < k).max(1) as u32 - 1)
            .collect();
        Ok(curve)
    }

    /// A curve that is `y` everywhere.
    pub fn constant(y: f64) -> Self {
        let pieces = vec![Piece { x: 0.0, y, slope: 0.0 }];
        Self { pieces, bucket: vec![0], buckets_per_unit: 0.0, start: 0.0, end: 0.0 }
    }

    #[inline]
    fn bucket_of(&self, x: f64) -> usize {
        ((x - self.start) * self.buckets_per_unit) as u32 as usize
    }

    /// The value at `x`; the end values beyond the ends.
    #[inline]
    pub fn at(&self, x: f64) -> f64 {
        let x = x.max(self.start).min(self.end);
        let mut i = self.bucket[self.bucket_of(x)] as usize;
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
        self.pieces.iter().map(|p| (p.x, p.y))
    }

    /// The first and last `x`.
    pub fn span(&self) -> (f64, f64) {
        (self.start, self.end)
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
