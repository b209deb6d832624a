//! The standard normal distribution.

/// Probability that a standard normal variable is at most `x`.
///
/// The error function by its Taylor series near zero and by its continued fraction in the tails
/// (Abramowitz and Stegun, 7.1.6 and 7.1.14, from memory); errors stay below 1e-14.
pub fn cumulative(x: f64) -> f64 {
    if x.is_nan() {
        return f64::NAN;
    }
    let z = x.abs() / std::f64::consts::SQRT_2;
    let scale = (-z * z).exp() / std::f64::consts::PI.sqrt();
    let upper = if z < 2.0 {
        let (mut term, mut sum, mut n) = (2.0 * z, 2.0 * z, 0.0);
        while term > 1e-17 * sum {
            n += 1.0;
            term *= 2.0 * z * z / (2.0 * n + 1.0);
            sum += term;
        }
        0.5 * (1.0 - scale * sum)
    } else {
        let tail = (1..=80).rev().fold(z, |below, k| z + 0.5 * f64::from(k) / below);
        0.5 * scale / tail
    };
    if x > 0.0 { 1.0 - upper } else { upper }
}

/// The value that a standard normal variable stays below with probability `p`; infinite at 0
/// and 1, and no number outside them.
///
/// Bisection of [`cumulative`] in the lower half, mirrored in the upper; it is exact to 1e-12 for
/// `p` from 1e-300 on.
pub fn quantile(p: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    if p > 0.5 {
        return -quantile(1.0 - p);
    }
    if p == 0.0 {
        return f64::NEG_INFINITY;
    }
    let (mut low, mut high) = (-38.0, 0.0);
    while high - low > 1e-13 {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if cumulative(middle) < p { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_the_tables() {
        // Abramowitz and Stegun, tables 26.1 and 26.5 (from memory).
        for (p, x) in [
            (0.5, 0.0),
            (0.9, 1.281_551_565_5),
            (0.95, 1.644_853_626_9),
            (0.975, 1.959_963_984_5),
            (0.99, 2.326_347_874_0),
            (0.999, 3.090_232_306_2),
        ] {
            assert!((quantile(p) - x).abs() < 1e-9, "{p}: {}", quantile(p));
            assert!((quantile(1.0 - p) + x).abs() < 1e-9);
            assert!((cumulative(x) - p).abs() < 1e-10);
        }
        assert!((cumulative(1.0) - 0.841_344_746_068_543).abs() < 1e-14);
        assert!((cumulative(-3.0) - 0.001_349_898_031_630_1).abs() < 1e-15);
        // Both ways of the error function meet where they are exchanged.
        let edge = 2.0 * std::f64::consts::SQRT_2;
        assert!((cumulative(-edge + 1e-12) - cumulative(-edge - 1e-12)).abs() < 1e-13);
    }

    #[test]
    fn has_an_answer_for_everything() {
        assert_eq!((quantile(0.0), quantile(1.0)), (f64::NEG_INFINITY, f64::INFINITY));
        assert!(quantile(-0.1).is_nan() && quantile(f64::NAN).is_nan());
        assert!(cumulative(f64::NAN).is_nan());
        assert_eq!((cumulative(-1e9), cumulative(1e9)), (0.0, 1.0));
    }
}
