//! Order statistics: quantiles, and correlation by ranks.

/// The value below which a share of sorted values lies, interpolated between neighbours
/// (Hyndman and Fan's definition 7, 1996, from memory). Values may be infinite.
pub fn quantile(sorted: &[f64], share: f64) -> f64 {
    let Some(last) = sorted.len().checked_sub(1) else {
        return f64::NAN;
    };
    let place = share.clamp(0.0, 1.0) * last as f64;
    let below = place.floor() as usize;
    let (low, high) = (sorted[below], sorted[(below + 1).min(last)]);
    let weight = place - below as f64;
    // Between an end that is never reached and a value there is nothing to interpolate.
    if weight == 0.0 || low == high || low.is_infinite() {
        return low;
    }
    low + weight * (high - low)
}

/// Ranks from 1 on; equal values share the mean of their ranks. Values must be numbers, but may
/// be infinite.
pub fn ranks(values: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..values.len()).collect();
    order.sort_by(|a, b| values[*a].total_cmp(&values[*b]));
    let mut ranks = vec![0.0; values.len()];
    let mut from = 0;
    while from < order.len() {
        let value = values[order[from]];
        let equal = order[from..].iter().take_while(|i| values[**i] == value).count().max(1);
        let mean = from as f64 + 0.5 * (equal as f64 + 1.0);
        order[from..from + equal].iter().for_each(|i| ranks[*i] = mean);
        from += equal;
    }
    ranks
}

/// Pearson's correlation, from −1 to 1; none where one of the two does not vary.
///
/// Of [`ranks`] it is Spearman's rank correlation (Spearman, 1904).
pub fn correlation(a: &[f64], b: &[f64]) -> Option<f64> {
    let n = a.len().min(b.len()) as f64;
    let mean = |v: &[f64]| v.iter().sum::<f64>() / n;
    let (mean_a, mean_b) = (mean(a), mean(b));
    let (mut aa, mut bb, mut ab) = (0.0, 0.0, 0.0);
    for (x, y) in a.iter().zip(b) {
        let (x, y) = (x - mean_a, y - mean_b);
        aa += x * x;
        bb += y * y;
        ab += x * y;
    }
    (aa > 0.0 && bb > 0.0).then(|| (ab / (aa * bb).sqrt()).clamp(-1.0, 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_of_even_steps_are_the_shares() {
        let even: Vec<f64> = (0..=1000).map(|i| f64::from(i) / 1000.0).collect();
        for share in [0.0, 0.1, 0.123_45, 0.5, 0.9, 1.0] {
            assert!((quantile(&even, share) - share).abs() < 1e-12);
        }
        assert!(quantile(&[], 0.5).is_nan());
        assert_eq!(quantile(&[1.0, 2.0, f64::INFINITY], 0.9), f64::INFINITY);
        assert_eq!(quantile(&[1.0, 2.0, f64::INFINITY], 0.5), 2.0);
        assert_eq!(quantile(&[f64::NEG_INFINITY, 1.0], 0.5), f64::NEG_INFINITY);
        let never = [f64::INFINITY; 3];
        assert_eq!(quantile(&never, 0.3), f64::INFINITY);
    }

    #[test]
    fn equal_values_share_their_ranks() {
        let inf = f64::INFINITY;
        assert_eq!(ranks(&[3.0, 1.0, 3.0, inf, inf, inf]), [2.5, 1.0, 2.5, 5.0, 5.0, 5.0]);
    }

    #[test]
    fn a_rank_correlation_sees_order_alone() {
        let x: Vec<f64> = (1..=40).map(|i| f64::from(i * 7 % 41)).collect();
        let up: Vec<f64> = x.iter().map(|v| v.exp()).collect();
        let down: Vec<f64> = x.iter().map(|v| 1.0 / (1.0 + v)).collect();
        let spearman = |y: &[f64]| correlation(&ranks(&x), &ranks(y)).unwrap();
        assert!((spearman(&up) - 1.0).abs() < 1e-12);
        assert!((spearman(&down) + 1.0).abs() < 1e-12);
        assert_eq!(correlation(&ranks(&x), &ranks(&[2.0; 40])), None);
        // Without ties it is 1 − 6·Σd²/(n·(n² − 1)) (Spearman): d = 1, 1, 1, 1, 0 of five.
        let found = correlation(&ranks(&[1.0, 2.0, 3.0, 4.0, 5.0]), &[2.0, 1.0, 4.0, 3.0, 5.0]);
        assert!((found.unwrap() - 0.8).abs() < 1e-12);
    }
}
