//! A quantity drawn as straight lines between points.

use crate::Invalid;

/// Piecewise-linear curve, held constant beyond its first and last point.
///
/// `y(x) = y_i + (y_{i+1} − y_i)·(x − x_i)/(x_{i+1} − x_i)` for `x_i ≤ x ≤ x_{i+1}`.
///
/// A table of equal buckets over the range gives the interval without a search, so that a look-up
/// costs the same wherever it falls.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    x: Vec<f64>,
    y: Vec<f64>,
    slope: Vec<f64>,
    bucket: Vec<u32>,
    buckets_per_unit: f64,
}

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
        let x: Vec<f64> = points.iter().map(|p| p.0).collect();
        let y: Vec<f64> = points.iter().map(|p| p.1).collect();
        let slope = (1..x.len())
            .map(|i| (y[i] - y[i - 1]) / (x[i] - x[i - 1]))
            .collect();
        let count = 4 * x.len();
        let span = x[x.len() - 1] - x[0];
        let buckets_per_unit = if span > 0.0 { count as f64 / span } else { 0.0 };
        let bucket = (0..=count)
            .map(|k| {
                let at = x[0] + k as f64 * span / count as f64;
                (x.partition_point(|v| *v <= at).max(1) - 1) as u32
            })
            .collect();
        Ok(Self { x, y, slope, bucket, buckets_per_unit })
    }

    /// A curve that is `y` everywhere.
    pub fn constant(y: f64) -> Self {
        Self {
            x: vec![0.0],
            y: vec![y],
            slope: vec![],
            bucket: vec![0],
            buckets_per_unit: 0.0,
        }
    }

    /// The value at `x`; the end values beyond the ends.
    #[inline]
    pub fn at(&self, x: f64) -> f64 {
        let last = self.x.len() - 1;
        if x >= self.x[last] {
            return self.y[last];
        }
        if x > self.x[0] {
            let guess = ((x - self.x[0]) * self.buckets_per_unit) as usize;
            let mut i = self.bucket[guess.min(self.bucket.len() - 1)] as usize;
            if self.x[i] > x {
                i -= 1;
            }
            while i + 1 < last && self.x[i + 1] <= x {
                i += 1;
            }
            return self.y[i] + self.slope[i] * (x - self.x[i]);
        }
        self.y[0]
    }

    /// The points, in order.
    pub fn points(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.x.iter().copied().zip(self.y.iter().copied())
    }

    /// The first and last `x`.
    pub fn span(&self) -> (f64, f64) {
        (self.x[0], self.x[self.x.len() - 1])
    }

    /// The largest value.
    pub fn peak(&self) -> f64 {
        self.y.iter().copied().fold(f64::NEG_INFINITY, f64::max)
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
