//! How regulations correct a coast-down, and when they call it accurate enough.

use super::coasting::{Leg, Way, median};
use super::trajectory::line;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::units;
use statrs::distribution::{ContinuousCDF, StudentsT};

/// Half of the span of speeds of which the time is taken, km/h. Source: UN GTR 15, Annex 4 (from memory).
const HALF_SPAN_KMH: f64 = 5.0;
/// The accuracy that is asked for, as a share. Source: UN GTR 15, Annex 4 (from memory).
pub(crate) const ACCURATE_SHARE: f64 = 0.030;

/// The times of one reference speed.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ReferenceSpeed {
    /// The speed, km/h.
    pub speed_kmh: f64,
    /// Pairs of runs, one each way, that pass from 5 km/h above it to 5 km/h below.
    pub pairs: usize,
    /// The mean time of a pair, s.
    pub time_s: f64,
    /// The statistical accuracy `h·σ/(√n·Δt)`, %; there is none of fewer than three pairs.
    pub accuracy_pct: Option<f64>,
}

/// The statistical accuracy of the regulation: for each reference speed a multiple of 10 km/h,
/// `p = h·σ/(√n·Δt)`, with `h` of Student's t for 95 % and `n − 1`, and the time of a pair as the harmonic
/// mean of both ways. Times are those of the line through the speeds within 5 km/h, as single speeds are
/// too noisy to be waited for. Source: UN GTR 15, Annex 4, 4.3.1.4.2 (from memory).
pub(crate) fn accuracy(legs: &[Leg]) -> Vec<ReferenceSpeed> {
    let found = (2..=14).filter_map(|tens| {
        let speed_kmh = 10.0 * f64::from(tens);
        let of = |way: Way| -> Vec<f64> {
            legs.iter()
                .filter(|leg| leg.way == way)
                .filter_map(|leg| time_s(leg, speed_kmh))
                .collect()
        };
        let (out, back) = (of(Way::Out), of(Way::Back));
        let times: Vec<f64> =
            out.iter().zip(&back).map(|(a, b)| 2.0 / (1.0 / a + 1.0 / b)).collect();
        let n = times.len() as f64;
        if times.is_empty() {
            return None;
        }
        let mean_s = times.iter().sum::<f64>() / n;
        let accuracy = || {
            let variance = times.iter().map(|t| (t - mean_s).powi(2)).sum::<f64>() / (n - 1.0);
            let h = StudentsT::new(0.0, 1.0, n - 1.0).ok()?.inverse_cdf(0.975);
            Some(units::pct_from_share(h * (variance / n).sqrt() / mean_s))
        };
        let accuracy_pct = if times.len() >= 3 { accuracy() } else { None };
        Some(ReferenceSpeed { speed_kmh, pairs: times.len(), time_s: mean_s, accuracy_pct })
    });
    found.collect()
}

/// The time in which a run falls by 10 km/h about a speed, s.
fn time_s(leg: &Leg, speed_kmh: f64) -> Option<f64> {
    let at = units::mps_from_kmh(speed_kmh);
    let half = units::mps_from_kmh(HALF_SPAN_KMH);
    leg.pieces.iter().find_map(|piece| {
        // By a line through what lies about the speed, so that noise at the ends leaves nothing out.
        let times = &leg.time_s[piece.clone()];
        let speeds = &leg.speed_mps[piece.clone()];
        let above = speeds.iter().rposition(|v| *v > at + half)?;
        let below = speeds.iter().position(|v| *v < at - half)?;
        let (from, to) = (above.min(below), above.max(below));
        let points: Vec<(f64, f64)> =
            (from..=to).map(|i| (times[i] - times[from], speeds[i])).collect();
        let (_, slope) = line(&points)?;
        let middle = median(points.iter().map(|p| p.1).collect());
        let fits = points.len() >= 3 && slope < 0.0 && (middle - at).abs() < half;
        fits.then(|| -2.0 * half / slope)
    })
}
