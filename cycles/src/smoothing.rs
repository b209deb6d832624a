//! Smoothing of heights at even stations.

use std::f64::consts::PI;

/// The waves that may be halved, m. Chosen on made roads: a longer one flattens hills of 1 km by more
/// than 5 %, a shorter one lets the drift of a satellite receiver climb.
const HALVED_M: [f64; 3] = [280.0, 350.0, 450.0];

/// The heights `z` of least `Σ (h − z)² + λ·Σ (Δ²z)²`, a discrete smoothing spline (Whittaker, On a
/// new method of graduation, Proceedings of the Edinburgh Mathematical Society 41, 1922; from
/// memory). Straight slopes stay as they are, at their ends too.
///
/// A wave of length `L` keeps `1/(1 + λ·(2·sin(π·s/L))⁴)` of its height, `s` the spacing of the
/// stations. λ is the likeliest (restricted likelihood, as for the ratio of variances of a random
/// walk of slopes and of noise) of those that halve waves of 280, 350 and 450 m, so that noise is
/// smoothed more than a road that was measured well; waves of 1 km keep 96 % or more.
pub(crate) fn smooth(heights_m: &[f64], spacing_m: f64) -> Vec<f64> {
    let halving =
        |wave_m: &f64| spline(heights_m, (2.0 * (PI * spacing_m / wave_m).sin()).powi(-4));
    let likeliest = HALVED_M.iter().map(halving).min_by(|a, b| a.1.total_cmp(&b.1));
    likeliest.map_or_else(Vec::new, |(smooth_m, _)| smooth_m)
}

/// The spline of a weight λ, and how unlikely that weight is: −2·ln of its restricted likelihood
/// but for what all weights have in common.
pub(crate) fn spline(heights_m: &[f64], weight: f64) -> (Vec<f64>, f64) {
    let count = heights_m.len();
    if count < 3 {
        return (heights_m.to_vec(), 0.0);
    }
    // The lower half of I + λ·DᵀD by rows: `rows[i][k]` stands in column i − k.
    let mut rows = vec![[1.0, 0.0, 0.0]; count];
    let difference = [1.0, -2.0, 1.0];
    for first in 0..count - 2 {
        for (a, from) in difference.iter().enumerate() {
            for (b, to) in difference[..=a].iter().enumerate() {
                rows[first + a][a - b] += weight * from * to;
            }
        }
    }
    // L·D·Lᵀ in the place of the matrix, and its three solutions one after the other. Heights are
    // counted from the first, so that little is lost to rounding on a mountain.
    let mut smooth_m: Vec<f64> = heights_m.iter().map(|h| h - heights_m[0]).collect();
    let before = |rows: &[[f64; 3]], i: usize, k: usize| if k > i { 0.0 } else { rows[i - k][0] };
    for i in 0..count {
        let (one, two) = (before(&rows, i, 1), before(&rows, i, 2));
        let [mut pivot, mut near, mut far] = rows[i];
        if i >= 2 {
            far /= two;
            pivot -= far * far * two;
            near -= far * two * rows[i - 1][1];
            smooth_m[i] -= far * smooth_m[i - 2];
        }
        if i >= 1 {
            near /= one;
            pivot -= near * near * one;
            smooth_m[i] -= near * smooth_m[i - 1];
        }
        rows[i] = [pivot, near, far];
    }
    let mut log_determinant = 0.0;
    for (height_m, row) in smooth_m.iter_mut().zip(&rows) {
        *height_m /= row[0];
        log_determinant += row[0].ln();
    }
    for i in (0..count).rev() {
        for k in 1..=2.min(count - 1 - i) {
            smooth_m[i] -= rows[i + k][k] * smooth_m[i + k];
        }
    }
    smooth_m.iter_mut().for_each(|height_m| *height_m += heights_m[0]);

    let misses = heights_m.iter().zip(&smooth_m).map(|(h, z)| (h - z).powi(2)).sum::<f64>();
    let bends = smooth_m.windows(3).map(|z| (z[0] - 2.0 * z[1] + z[2]).powi(2)).sum::<f64>();
    // A millimetre for each station, as no recording is exact.
    let scatter = misses + weight * bends + 1e-6 * count as f64;
    let freedom = (count - 2) as f64;
    (smooth_m, freedom * (scatter.ln() - weight.ln()) + log_determinant)
}
