//! Elevations that a recorder made up between two that it knew.

use crate::sample::{CAP, Sample};

/// What was made up of a recorded elevation.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Interpolation {
    /// Stretches on which the elevation was interpolated over a drop-out.
    pub stretches: usize,
    /// Their length in m.
    pub length_m: f64,
    /// Sum in m of what they rise.
    pub climb_m: f64,
    /// Sum in m of what they fall.
    pub descent_m: f64,
    /// Where the longest begins and ends, m from the start.
    pub longest_m: (f64, f64),
    /// Stretches on which the elevation froze until it jumped.
    pub frozen: usize,
}

/// Samples of a run that is taken for interpolated, at least.
const RUN_SAMPLES: usize = 20;
/// Rise of such a run in steps of the recording's last digit, at least.
const RUN_DIGITS: f64 = 10.0;
/// Samples and length in m of a run that may have frozen, at least.
const FROZEN: (usize, f64) = (5, 100.0);
/// How much further a straight line in time must be from one along the road than the last digit.
const BENT_DIGITS: f64 = 3.0;
/// A line in time that is nearer than this to one along the road is a road, m.
const BENT_M: f64 = 1.0;

/// A run of samples on a straight line in time.
#[derive(Clone, Copy)]
struct Run {
    first: usize,
    last: usize,
}

impl Run {
    fn len(self) -> usize {
        self.last + 1 - self.first
    }

    fn rise_m(self, samples: &[Sample]) -> f64 {
        samples[self.last].elevation_m - samples[self.first].elevation_m
    }

    fn length_m(self, samples: &[Sample]) -> f64 {
        samples[self.last].distance_m - samples[self.first].distance_m
    }
}

/// The samples that were measured, and what was left out as made up between them.
///
/// Heights on a straight line in time, to the last digit, over 20 samples and ten digits or more
/// were interpolated over a drop-out where
/// * that line is bent along the road, as speed changed: no road follows the clock, or
/// * all else in the recording is rough: no receiver is exact for a while.
///
/// Of these the first and the last are kept, unless a road between them were steeper than 12 %. A height that stays for 100 m or more and then jumps by
/// more than a road of 12 % rises was frozen: of these the first is kept.
pub(crate) fn measured(samples: &[Sample]) -> (Vec<Sample>, Interpolation) {
    let digit_m = last_digit_m(samples);
    let runs = runs(samples, digit_m);
    let rough = roughness_m(samples, &runs) > BENT_DIGITS * digit_m;

    let mut keep = vec![true; samples.len()];
    let mut found = Interpolation::default();
    for run in runs {
        let (rise_m, length_m) = (run.rise_m(samples), run.length_m(samples));
        let after = samples.get(run.last + 1);
        let jumps = after.is_some_and(|after| is_jump(&samples[run.last], after, digit_m));
        let stays = rise_m.abs() <= digit_m;
        let straight = run.len() >= RUN_SAMPLES && rise_m.abs() >= RUN_DIGITS * digit_m;
        let mut leave_out = run.first + 1..run.last;
        if jumps && stays && run.len() >= FROZEN.0 && length_m >= FROZEN.1 {
            found.frozen += 1;
            leave_out.end = run.last + 1;
        } else if straight && (rough || bent_m(samples, run) > bent_from_m(digit_m)) {
            found.stretches += 1;
            found.length_m += length_m;
            found.climb_m += rise_m.max(0.0);
            found.descent_m += (-rise_m).max(0.0);
            if length_m > found.longest_m.1 - found.longest_m.0 {
                found.longest_m = (samples[run.first].distance_m, samples[run.last].distance_m);
            }
            // An end that no road leads to is what the drop-out made of it.
            if is_jump(&samples[run.first], &samples[run.last], digit_m) {
                leave_out = run.first..run.last + 1;
            }
        } else {
            continue;
        }
        keep[leave_out].fill(false);
    }
    let kept = samples.iter().zip(&keep).filter(|(_, keep)| **keep).map(|(sample, _)| *sample);
    (kept.collect(), found)
}

fn bent_from_m(digit_m: f64) -> f64 {
    f64::max(BENT_DIGITS * digit_m, BENT_M)
}

/// The last digit of the recording, in m: the least change from one sample to the next, and a metre
/// at most.
fn last_digit_m(samples: &[Sample]) -> f64 {
    let changes = samples.windows(2).map(|s| (s[1].elevation_m - s[0].elevation_m).abs());
    changes.filter(|change| *change > 1e-6).fold(1.0, f64::min)
}

/// The step in which heights are stated where it is coarser than a metre, as of a coarse map: all changes
/// are whole multiples of it, and between many of them the height stays.
fn coarse_step_m(samples: &[Sample]) -> Option<f64> {
    const CHANGES: usize = 10;
    const STEP_M: std::ops::RangeInclusive<f64> = 1.5..=20.0;
    let changes = || {
        let of_pair = |s: &[Sample]| (s[1].elevation_m - s[0].elevation_m).abs();
        samples.windows(2).map(of_pair).filter(|change| *change > 1e-6)
    };
    let step_m = changes().fold(f64::INFINITY, f64::min);
    let is_whole = |change: f64| (change / step_m - (change / step_m).round()).abs() < 0.05;
    let stays = samples.windows(3).filter(|s| {
        let [from, to] = [0, 1].map(|i| s[i + 1].elevation_m - s[i].elevation_m);
        from.abs() > 1e-6 && to.abs() <= 1e-6
    });
    let count = changes().count();
    let coarse = count >= CHANGES && 4 * stays.count() >= count && changes().all(is_whole);
    (STEP_M.contains(&step_m) && coarse).then_some(step_m)
}

/// The samples as they are, or where heights are stated in coarse steps, what the steps tell: half way
/// between two heights that are a step apart the road is half way up, on a stretch above or below both its
/// neighbours it is in the middle as high as stated, and so where heights are further apart.
pub(crate) fn between_steps(samples: &[Sample]) -> Vec<Sample> {
    let Some(step_m) = coarse_step_m(samples) else {
        return samples.to_vec();
    };
    let level = |a: &Sample, b: &Sample| (b.elevation_m - a.elevation_m).abs() < 0.5 * step_m;
    let middle = |a: &Sample, b: &Sample| Sample {
        at: 0.5 * (a.at + b.at),
        distance_m: 0.5 * (a.distance_m + b.distance_m),
        elevation_m: 0.5 * (a.elevation_m + b.elevation_m),
    };
    let stretches: Vec<&[Sample]> = samples.chunk_by(level).collect();
    let mut told = vec![samples[0]];
    for (i, stretch) in stretches.iter().enumerate() {
        let [first, last] = [&stretch[0], &stretch[stretch.len() - 1]];
        let before = i.checked_sub(1).and_then(|i| stretches[i].last());
        let after = stretches.get(i + 1).and_then(|next| next.first());
        let rises = [before, after].map(|other| other.map(|o| o.elevation_m - first.elevation_m));
        if let [Some(from), Some(to)] = rises
            && (from * to > 0.0 || from.abs().max(to.abs()) > 1.5 * step_m)
        {
            told.push(middle(first, last));
        }
        if let (Some(after), [_, Some(rise)]) = (after, rises)
            && rise.abs() < 1.5 * step_m
        {
            told.push(middle(last, after));
        }
    }
    told.push(samples[samples.len() - 1]);
    told
}

/// Whether no road makes the change from one sample to the next.
fn is_jump(a: &Sample, b: &Sample, digit_m: f64) -> bool {
    let road_m = CAP * (b.distance_m - a.distance_m) + BENT_DIGITS * digit_m;
    (b.elevation_m - a.elevation_m).abs() > road_m
}

/// The longest runs from the first sample on that a straight line in time passes within one digit.
/// Each begins with the last sample of the one before, or after a jump with the next.
fn runs(samples: &[Sample], digit_m: f64) -> Vec<Run> {
    let mut runs = Vec::new();
    let (mut first, mut last) = (0, 0);
    let (mut least, mut most) = (f64::NEG_INFINITY, f64::INFINITY);
    while last < samples.len() {
        let (anchor, next) = (&samples[first], samples.get(last + 1));
        if let Some(next) = next {
            let after = next.at - anchor.at;
            let rise_m = next.elevation_m - anchor.elevation_m;
            let slack_m = digit_m * (1.0 + 1e-6);
            let (low, high) = ((rise_m - slack_m) / after, (rise_m + slack_m) / after);
            if after > 0.0 && low.max(least) <= high.min(most) {
                (least, most) = (low.max(least), high.min(most));
                last += 1;
                continue;
            }
        }
        runs.push(Run { first, last });
        let Some(next) = next else { break };
        let jumps = last == first || is_jump(&samples[last], next, digit_m);
        first = if jumps { last + 1 } else { last };
        last = first;
        (least, most) = (f64::NEG_INFINITY, f64::INFINITY);
    }
    runs
}

/// The median second difference of the samples outside long runs; none where they are few.
fn roughness_m(samples: &[Sample], runs: &[Run]) -> f64 {
    let mut bends_m: Vec<f64> = Vec::new();
    for run in runs.iter().filter(|run| run.len() < RUN_SAMPLES) {
        for i in run.first.max(1)..=run.last.min(samples.len().saturating_sub(2)) {
            let [a, b, c] = [i - 1, i, i + 1].map(|i| samples[i].elevation_m);
            bends_m.push((a - 2.0 * b + c).abs());
        }
    }
    if bends_m.len() < RUN_SAMPLES {
        return 0.0;
    }
    let middle = bends_m.len() / 2;
    *bends_m.select_nth_unstable_by(middle, f64::total_cmp).1
}

/// The furthest that a run is from a straight line along the road.
fn bent_m(samples: &[Sample], run: Run) -> f64 {
    let (first, length_m) = (&samples[run.first], run.length_m(samples));
    if length_m <= 0.0 {
        return 0.0;
    }
    let slope = run.rise_m(samples) / length_m;
    let off = |sample: &Sample| {
        let line_m = first.elevation_m + slope * (sample.distance_m - first.distance_m);
        (sample.elevation_m - line_m).abs()
    };
    samples[run.first..=run.last].iter().map(off).fold(0.0, f64::max)
}
