//! How far a drive's energy lies from what is predicted for it when the car is known: wind, people,
//! surface, and heights that a recorder got wrong.
//!
//! The shares by which drives differ are taken to come from Student's distribution with few degrees
//! of freedom, as some days are far from the usual. Of a few drives its middle and its
//! width are known badly, so they are not estimated but integrated over: what a next drive's share
//! is, is the mixture of all of them, each as likely as the drives make it together with what is typical.

use statrs::distribution::{ContinuousCDF, StudentsT};

/// Degrees of freedom of a drive's share.
pub const FREEDOM: f64 = 4.0;
/// What is typical of the width, as a share, and how sure that is, sd of its logarithm: a mean head
/// wind of 2 m/s, one person more or fewer and another surface move energy by 5 to 8 % (common
/// practice, no source).
const TYPICAL: (f64, f64) = (0.06, 0.4);

/// What is typical of the mean, as a share, and how sure that is, sd: people, bends, rain, gusts and
/// rough roads add to what a file is for, and hardly anything takes away (common practice, no source).
const MEAN: (f64, f64) = (0.04, 0.06);

/// How drives lie around what is predicted for them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Middle of the 80 % band of a next drive's share.
    pub mean: f64,
    /// Width of Student's distribution with [`FREEDOM`] that has this band.
    pub width: f64,
}

/// The spread of the shares by which drives differ from their predictions.
pub fn spread_of(shares: &[f64]) -> Spread {
    let typical = Spread { mean: MEAN.0, width: TYPICAL.0 };
    let Ok(unit) = StudentsT::new(0.0, 1.0, FREEDOM) else { return typical };
    let logarithm = |mean: f64, width: f64| {
        let prior =
            ((width / TYPICAL.0).ln() / TYPICAL.1).powi(2) + ((mean - MEAN.0) / MEAN.1).powi(2);
        let one = |share: &f64| {
            let z = (share - mean) / width;
            -width.ln() - 0.5 * (FREEDOM + 1.0) * (z * z / FREEDOM).ln_1p()
        };
        shares.iter().map(one).sum::<f64>() - 0.5 * prior
    };
    let grid = |i: i32| f64::from(i) / 12.0;
    let mut all: Vec<(f64, f64, f64)> = (-48..=48)
        .flat_map(|i| {
            (-24..=24).map(move |j| (MEAN.0 + MEAN.1 * grid(i), TYPICAL.0 * grid(j).exp()))
        })
        .map(|(mean, width)| (mean, width, logarithm(mean, width)))
        .collect();
    let top = all.iter().map(|one| one.2).fold(f64::NEG_INFINITY, f64::max);
    all.retain(|one| one.2 > top - 12.0);
    all.iter_mut().for_each(|one| one.2 = (one.2 - top).exp());
    let sum: f64 = all.iter().map(|one| one.2).sum();
    let below = |share: f64| -> f64 {
        all.iter()
            .map(|(mean, width, likely)| likely * unit.cdf((share - mean) / width))
            .sum::<f64>()
            / sum
    };
    let quantile = |p: f64| {
        let (mut low, mut high) = (-1.0, 1.0);
        for _ in 0..30 {
            let half = 0.5 * (low + high);
            if below(half) < p { low = half } else { high = half }
        }
        low
    };
    let (low, high) = (quantile(0.1), quantile(0.9));
    Spread { mean: 0.5 * (low + high), width: 0.5 * (high - low) / unit.inverse_cdf(0.9) }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Eighty of a hundred shares drawn from Student's distribution lie in the band learnt from others
    /// of its kind, however few those are: the band of few is wider.
    #[test]
    fn a_band_holds_what_it_says_of_many_drives_and_of_few() {
        let unit = StudentsT::new(0.0, 1.0, FREEDOM).unwrap();
        let reach = unit.inverse_cdf(0.9);
        let mut widths = Vec::new();
        for (few, width) in [(4, 0.05), (8, 0.08), (60, 0.08)] {
            let (mut held, mut all) = (0, 0);
            let shares = crate::studies::hypercube::samples(20 * (few + 20), 1, 7);
            for chunk in shares[0].chunks(few + 20) {
                let drawn: Vec<f64> =
                    chunk.iter().map(|p| 0.04 + width * unit.inverse_cdf(*p)).collect();
                let spread = spread_of(&drawn[..few]);
                let inside = |share: &&f64| (*share - spread.mean).abs() <= reach * spread.width;
                held += drawn[few..].iter().filter(inside).count();
                all += 20;
                widths.push((few, spread.width / width));
            }
            let pct = 100 * held / all;
            assert!((72..=90).contains(&pct), "{few}: {pct} %");
        }
        let mean = |few: usize| {
            let of: Vec<f64> = widths.iter().filter(|w| w.0 == few).map(|w| w.1).collect();
            of.iter().sum::<f64>() / of.len() as f64
        };
        assert!(mean(4) > mean(60) && (mean(60) - 1.0).abs() < 0.1, "{} {}", mean(4), mean(60));
    }
}
