//! A quantity drawn as straight lines between points.

use crate::Invalid;

/// Piecewise-linear curve, held constant beyond its first and last point.
///
/// `y(x) = y_i + (y_{i+1} − y_i)·(x − x_i)/(x_{i+1} − x_i)` for `x_i ≤ x ≤ x_{i+1}`.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve(Bundle<1>);

/// Several curves of one variable, read in one look-up.
///
/// A table of equal buckets over the range, fine enough that hardly one holds more than one point,
/// gives the interval without a search: a look-up costs about the same wherever it falls.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Bundle<const N: usize> {
    /// The straight pieces, and a level one from the last point on.
    pieces: Vec<Line<N>>,
    /// The last piece that begins before a bucket.
    bucket: Vec<u32>,
    buckets_per_unit: f64,
    start: f64,
    end: f64,
}

/// Straight pieces from their common start on.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Line<const N: usize> {
    x: f64,
    y: [f64; N],
    slope: [f64; N],
}

/// Most buckets for each point: a finer table would cost more to build than it saves.
const BUCKETS_PER_POINT: f64 = 8.0;

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
        Ok(Self(Bundle::through(points.iter().map(|p| (p.0, [p.1])))))
    }

    /// A curve that is `y` everywhere.
    pub fn constant(y: f64) -> Self {
        Self(Bundle::through([(0.0, [y])].into_iter()))
    }

    /// The value at `x`; the end values beyond the ends.
    #[inline]
    pub fn at(&self, x: f64) -> f64 {
        self.0.at(x)[0]
    }

    /// The points, in order.
    pub fn points(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.0.pieces.iter().map(|p| (p.x, p.y[0]))
    }

    /// The first and last `x`.
    pub fn span(&self) -> (f64, f64) {
        (self.0.start, self.0.end)
    }

    /// The same values at places moved by a rising function.
    pub(crate) fn moved(&self, to: impl Fn(f64) -> f64) -> Self {
        Self(Bundle::through(self.points().map(|(x, y)| (to(x), [y]))))
    }

    /// The largest value.
    pub fn peak(&self) -> f64 {
        self.points().map(|p| p.1).fold(f64::NEG_INFINITY, f64::max)
    }
}

impl<const N: usize> Bundle<N> {
    /// Puts curves together: straight lines between the points of all of them.
    pub fn of(curves: [&Curve; N]) -> Self {
        let mut places: Vec<f64> =
            curves.iter().flat_map(|c| c.points()).map(|point| point.0).collect();
        places.sort_by(f64::total_cmp);
        places.dedup();
        Self::through(places.into_iter().map(|x| (x, curves.map(|c| c.at(x)))))
    }

    /// Through at least one point, with strictly rising `x`.
    fn through(points: impl Iterator<Item = (f64, [f64; N])>) -> Self {
        let mut pieces: Vec<Line<N>> =
            points.map(|(x, y)| Line { x, y, slope: [0.0; N] }).collect();
        let (start, end) = (pieces[0].x, pieces[pieces.len() - 1].x);
        let mut narrowest = end - start;
        for i in 1..pieces.len() {
            let (from, to) = (pieces[i - 1], pieces[i]);
            let width = to.x - from.x;
            pieces[i - 1].slope = std::array::from_fn(|k| (to.y[k] - from.y[k]) / width);
            narrowest = narrowest.min(width);
        }
        let span = end - start;
        let most = BUCKETS_PER_POINT * pieces.len() as f64;
        let buckets_per_unit =
            if span > 0.0 { (span / narrowest).ceil().min(most) / span } else { 0.0 };
        let mut bundle = Self { pieces, bucket: vec![], buckets_per_unit, start, end };
        // Buckets are numbered as a look-up does it, so that rounding cannot put a point behind it.
        let mut bucket = vec![0; bundle.bucket_of(end) + 1];
        let mut from = 0;
        for (i, piece) in bundle.pieces.iter().enumerate() {
            let own = bundle.bucket_of(piece.x);
            let before = (i as u32).saturating_sub(1);
            bucket[from..=own].fill(before);
            from = own + 1;
        }
        bundle.bucket = bucket;
        bundle
    }

    #[inline]
    fn bucket_of(&self, x: f64) -> usize {
        ((x - self.start) * self.buckets_per_unit) as u32 as usize
    }

    /// The values at `x`; the end values beyond the ends.
    #[inline]
    pub fn at(&self, x: f64) -> [f64; N] {
        let x = if x > self.start { x } else { self.start };
        let x = if x < self.end { x } else { self.end };
        let mut i = self.bucket[self.bucket_of(x)] as usize;
        while let Some(next) = self.pieces.get(i + 1)
            && next.x <= x
        {
            i += 1;
        }
        let piece = &self.pieces[i];
        std::array::from_fn(|k| piece.y[k] + piece.slope[k] * (x - piece.x))
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
        let said = |points: &[(f64, f64)]| Curve::new(points).unwrap_err().to_string();
        assert_eq!(said(&[]), "points is an empty list; allowed: at least one point");
        let twice = said(&[(0.0, 0.0), (0.0, 1.0)]);
        assert_eq!(twice, "points[1] is 0; allowed: more than the point before it, 0");
        let endless = said(&[(0.0, f64::NAN)]);
        assert_eq!(endless, "points[0] is (0, NaN); allowed: finite numbers");
    }
}
