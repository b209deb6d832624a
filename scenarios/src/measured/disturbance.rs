//! What does not belong into a coast-down: brakes, a gear left in, a push.

use super::coasting::{LEAST_S, Leg};
use super::trajectory::{Body, Fit};

/// A stretch of a leg in which another force acts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Disturbance {
    pub(crate) leg: usize,
    /// Times in the recording, s.
    pub(crate) from_s: f64,
    pub(crate) to_s: f64,
    /// The force beyond that of coasting, N; what slows the car is positive.
    pub(crate) force_n: f64,
    /// By how much χ² falls where the force is allowed for.
    gain: f64,
    /// Whether it lasts for nearly all of its leg.
    pub(crate) throughout: bool,
    /// Whether it lasts to the end of its leg.
    to_end: bool,
}

/// Time over which samples are averaged in the search, s, and most of such bins in a piece.
const BIN_S: f64 = 1.0;
const MOST_BINS: usize = 120;
/// What χ² falls by at least, which chance brings in one of some hundred thousand places.
const LEAST_GAIN: f64 = 20.0;
/// The least force that is no wind, as a share of what holds the car back there.
const LEAST_SHARE: f64 = 0.15;
/// Longer than a tap on the brake, s.
const TAP_S: f64 = 6.0;
/// Wind of a single run that the search allows for, m/s.
const GUST_MPS: f64 = 0.7;

impl Disturbance {
    /// What it is.
    pub(crate) fn words(&self) -> &'static str {
        match (self.force_n > 0.0, self.to_s - self.from_s <= TAP_S) {
            (true, true) if self.to_end => "the brake at the end",
            (true, true) => "a tap on the brake",
            (true, false) => "a gear left in, or a brake that holds",
            (false, _) => "a push: power, or a fall of the road",
        }
    }
}

/// The mean of some samples of a piece.
#[derive(Debug, Clone, Copy)]
struct Bin {
    at_s: f64,
    off: f64,
    count: f64,
    by_start: f64,
    by_wind: f64,
    speed: f64,
    /// `∫ dt/Φ` up to its time, of the response `Φ` to the speed at the start.
    integral: f64,
}

/// The clearest disturbance of each piece, the clearest first: a constant force from one time to
/// another, held against the residuals by least squares, with the start of the piece and the wind of the
/// run free beside it.
pub(crate) fn disturbances(legs: &[Leg], body: &Body, fit: &Fit) -> Vec<Disturbance> {
    let mut found = Vec::new();
    for (l, leg) in legs.iter().enumerate() {
        for piece in &leg.pieces {
            found.extend(clearest(l, leg, piece, body, fit));
        }
    }
    found.sort_by(|a: &Disturbance, b| b.gain.total_cmp(&a.gain));
    found
}

fn bins(l: usize, leg: &Leg, piece: &std::ops::Range<usize>, fit: &Fit) -> Vec<Bin> {
    let length_s = leg.time_s[piece.end - 1] - leg.time_s[piece.start];
    let width_s = BIN_S.max(length_s / MOST_BINS as f64);
    let mut bins: Vec<Bin> = Vec::new();
    let (mut integral, mut before) = (0.0, leg.time_s[piece.start]);
    let mut own = -1;
    for i in piece.clone() {
        let (Some(moment), t) = (&fit.courses[l][i], leg.time_s[i]) else { continue };
        let phi = moment.by_start().max(1e-3);
        integral += (t - before) / phi;
        before = t;
        let bin = ((t - leg.time_s[piece.start]) / width_s + 1e-9) as i64;
        if bin != own {
            own = bin;
            bins.push(Bin {
                at_s: 0.0,
                off: 0.0,
                count: 0.0,
                by_start: 0.0,
                by_wind: 0.0,
                speed: 0.0,
                integral: 0.0,
            });
        }
        let Some(last) = bins.last_mut() else { continue };
        last.at_s += t;
        last.off += fit.residuals[l][i];
        last.count += 1.0;
        last.by_start += phi;
        last.by_wind += moment.by_wind();
        last.speed += moment.speed_mps;
        last.integral += integral;
    }
    for bin in &mut bins {
        let n = bin.count;
        bin.at_s /= n;
        bin.off /= n;
        bin.by_start /= n;
        bin.by_wind /= n;
        bin.speed /= n;
        bin.integral /= n;
    }
    bins
}

fn clearest(
    l: usize,
    leg: &Leg,
    piece: &std::ops::Range<usize>,
    body: &Body,
    fit: &Fit,
) -> Option<Disturbance> {
    let bins = bins(l, leg, piece, fit);
    let last = bins.len().checked_sub(1)?;
    if last < 3 {
        return None;
    }
    let told = 1.0 / (fit.noise_mps * fit.noise_mps * fit.alike);
    let sum = |f: &dyn Fn(&Bin) -> f64| -> f64 { bins.iter().map(|b| told * b.count * f(b)).sum() };
    // The start of the piece and the wind of the run, and how they answer for the residuals.
    let (ss, sw) = (sum(&|b| b.by_start * b.by_start), sum(&|b| b.by_start * b.by_wind));
    let ww = sum(&|b| b.by_wind * b.by_wind) + 1.0 / (GUST_MPS * GUST_MPS);
    let (sy, wy) = (sum(&|b| b.by_start * b.off), sum(&|b| b.by_wind * b.off));
    let whole = ss * ww - sw * sw;
    let solved = |s: f64, w: f64| ((s * ww - w * sw) / whole, (w * ss - s * sw) / whole);
    let (start, wind) = solved(sy, wy);
    let mut best: Option<Disturbance> = None;
    for from in 0..last {
        for to in from + 1..=last {
            let (began, ended) = (bins[from].integral, bins[to].integral);
            let (mut sx, mut wx, mut xx, mut xy) = (0.0, 0.0, 0.0, 0.0);
            for bin in &bins[from + 1..] {
                let x = -bin.by_start * (bin.integral.min(ended) - began) / body.moving_kg;
                let weighted = told * bin.count * x;
                sx += weighted * bin.by_start;
                wx += weighted * bin.by_wind;
                xx += weighted * x;
                xy += weighted * bin.off;
            }
            let (s, w) = solved(sx, wx);
            let (own, with) = (xx - sx * s - wx * w, xy - sx * start - wx * wind);
            if own <= 1e-12 * xx {
                continue;
            }
            let (force_n, gain) = (with / own, with * with / own);
            if best.is_none_or(|b| gain > b.gain) {
                let throughout = (to - from) * 10 >= last * 9;
                let (from_s, to_s) = (bins[from].at_s, bins[to].at_s);
                let to_end = to == last && piece.end == leg.time_s.len();
                best =
                    Some(Disturbance { leg: l, from_s, to_s, force_n, gain, throughout, to_end });
            }
        }
    }
    let found = best.filter(|b| b.gain > LEAST_GAIN)?;
    let inside = bins.iter().filter(|b| b.at_s >= found.from_s && b.at_s <= found.to_s);
    let speeds: Vec<f64> = inside.map(|b| b.speed).collect();
    let speed = speeds.iter().sum::<f64>() / speeds.len().max(1) as f64;
    let held_n = fit.shared[0] + fit.shared[1] * speed + fit.shared[2] * speed * speed;
    (found.force_n.abs() > LEAST_SHARE * held_n).then_some(found)
}

/// Leaves a disturbance out: its leg goes on in two pieces, of which those that are too short go too.
pub(crate) fn leave_out(leg: &mut Leg, found: &Disturbance) {
    let times = &leg.time_s;
    // What lies in the bins at its ends may be touched too.
    let typical_s = (times[times.len() - 1] - times[0]) / times.len() as f64;
    let margin_s = BIN_S.max(0.6 * typical_s);
    let (from_s, to_s) = (found.from_s - margin_s, found.to_s + margin_s);
    let long = |range: &std::ops::Range<usize>| {
        range.len() >= 5 && times[range.end - 1] - times[range.start] >= 0.4 * LEAST_S
    };
    let parted = leg.pieces.iter().flat_map(|piece| {
        let end = piece.clone().find(|i| times[*i] >= from_s).unwrap_or(piece.end);
        let start = piece.clone().find(|i| times[*i] > to_s).unwrap_or(piece.end);
        if start <= piece.start || end >= piece.end {
            return vec![piece.clone()];
        }
        vec![piece.start..end, start..piece.end]
    });
    leg.pieces = parted.filter(|range| !range.is_empty() && long(range)).collect();
}
