//! What a recorded elevation is worth, and the road made of it.

use crate::Schedule;
use crate::interpolated::{Interpolation, between_steps, measured};
use crate::sample::Sample;
use crate::smoothing::smooth;
use crate::timed::slope_of_rise;

/// What the elevation column of a file is.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Elevation {
    /// A recording where it comes with times, a map where it comes with distances.
    #[default]
    ByClock,
    /// A recording, with noise, drop-outs and steps: it is cleaned.
    Recorded,
    /// A map: it is taken as written, but for positions, which are always a recording.
    AsWritten,
}

/// What cleaning did to a recorded elevation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cleaning {
    /// Sum in m of all rises of the recording as it is.
    pub climb_before_m: f64,
    /// Sum in m of all falls of the recording as it is.
    pub descent_before_m: f64,
    /// Sum in m of all rises of the road made of it.
    pub climb_after_m: f64,
    /// Sum in m of all falls of the road made of it.
    pub descent_after_m: f64,
    /// Recorded elevations that were left out as drop-outs or outliers.
    pub points_rejected: usize,
    /// Stretches of more than 100 m without a usable elevation, bridged by a straight slope.
    pub gaps_filled: usize,
    /// Steps that no road can make and that were taken out by shifting what follows.
    pub steps_removed: usize,
    /// Length in m of the road on which the grade was capped.
    pub capped_m: f64,
    /// What of the recording was made up by the recorder; it is bridged.
    pub interpolation: Interpolation,
}

/// Length of the pieces of road that elevation is resampled to.
const STATION_M: f64 = 20.0;
/// Half the width of the rolling median: 500 m in all.
const MEDIAN_REACH_M: f64 = 250.0;
/// How far an elevation may be from the median around it for each unit of the cap: what a road at
/// the cap rises in half the reach of the median, as at an end of the road or on a sharp crest.
const OUTLIER_M: f64 = MEDIAN_REACH_M / 2.0;
/// How far two neighbours within [`OUTLIER_M`] of the same median can be from each other.
const STEP_M: f64 = 2.0 * OUTLIER_M;
/// A stretch without elevations is a gap from this length on.
const GAP_M: f64 = 100.0;

/// The elevations recorded on one station's length of road, as one.
#[derive(Debug, Clone, Copy)]
struct Fix {
    distance_m: f64,
    elevation_m: f64,
    samples: usize,
}

/// A schedule with the slopes of the road that its recorded elevations describe.
///
/// `samples`, in order of distance, are
/// 1. read half way between steps where heights are stated in coarse ones ([`between_steps`]), and left
///    out where the recorder made them up between two that it knew ([`measured`]),
/// 2. gathered on every 20 m of road, as the median of what was recorded there,
/// 3. left out where more than 15 m (at a cap of 12 %; where points are further apart, what a road at
///    the cap rises between them) from the rolling median of the 500 m around,
/// 4. cut into pieces at steps of more than 30 m plus 25 % of the distance; from the longest
///    piece outward, pieces are left out up to the next one that fits on again, or else, where
///    none fits, the next one is shifted to fit,
/// 5. bridged by cubics that rise or fall all along, at stations every 20 m,
/// 6. smoothed by a spline ([`smooth`]), which keeps hills of 1 km,
/// 7. capped at a grade, by the mean of the lowest road above and the highest road below
///    that keep the cap, so that a step becomes a ramp of the same height.
///
/// The grade of each interval is the rise of this road between its ends over its length.
///
/// None where there is no elevation, or no road to place one on.
pub(crate) fn clean(schedule: &mut Schedule, samples: &[Sample], cap: f64) -> Option<Cleaning> {
    let distances_m = schedule.distances_m();
    let length_m = distances_m.last().copied().unwrap_or(0.0);
    if samples.is_empty() || length_m <= 0.0 {
        return None;
    }
    let (climb_before_m, descent_before_m) =
        climb_and_descent(samples.iter().map(|s| s.elevation_m));

    let between = between_steps(samples);
    let (known, interpolation) = measured(&between);
    let (near_median, outliers) = reject_outliers(&gather(&known), cap);
    let (usable, in_drop_outs, steps_removed) = join_pieces(&near_median, cap);
    let count = (length_m / STATION_M).ceil().max(1.0);
    let spacing_m = length_m / count;
    let (bridged, gaps_filled) = bridge(&usable, count as usize, spacing_m, length_m);
    let smooth = smooth(&bridged, spacing_m);
    let (road_m, capped_m) = capped(&smooth, spacing_m, cap);

    let height_at = |distance_m: f64| {
        let at = (distance_m / spacing_m).clamp(0.0, count);
        let before = (at as usize).min(road_m.len() - 2);
        road_m[before] + (at - before as f64) * (road_m[before + 1] - road_m[before])
    };
    let slope = distances_m.windows(2).map(|pair| {
        let rise_m = height_at(pair[1]) - height_at(pair[0]);
        slope_of_rise(rise_m, pair[1] - pair[0]).clamp(-cap, cap)
    });
    schedule.slope = slope.collect();
    Some(Cleaning {
        climb_before_m,
        descent_before_m,
        climb_after_m: schedule.climb_m(),
        descent_after_m: schedule.descent_m(),
        points_rejected: between.len() - known.len() + outliers + in_drop_outs,
        gaps_filled,
        steps_removed,
        capped_m,
        interpolation,
    })
}

fn climb_and_descent(elevations_m: impl Iterator<Item = f64>) -> (f64, f64) {
    let (mut climb_m, mut descent_m, mut before_m) = (0.0, 0.0, None);
    for elevation_m in elevations_m {
        let rise_m = elevation_m - before_m.unwrap_or(elevation_m);
        climb_m += f64::max(rise_m, 0.0);
        descent_m += f64::max(-rise_m, 0.0);
        before_m = Some(elevation_m);
    }
    (climb_m, descent_m)
}

/// Samples of time and elevation, placed at the distance driven by then: d₀ + v₀·t + a·t²/2.
pub(crate) fn placed(schedule: &Schedule, samples: &[(f64, f64)]) -> Vec<Sample> {
    let distances_m = schedule.distances_m();
    let last = schedule.time_s.len() - 1;
    let place = |&(time_s, elevation_m): &(f64, f64)| {
        let i = schedule.time_s.partition_point(|t| *t <= time_s).clamp(1, last) - 1;
        let interval_s = schedule.time_s[i + 1] - schedule.time_s[i];
        let into_s = (time_s - schedule.time_s[i]).clamp(0.0, interval_s);
        let (from, to) = (schedule.speed_mps[i], schedule.speed_mps[i + 1]);
        let driven_m = into_s * (from + 0.5 * (to - from) * into_s / interval_s);
        Sample { at: time_s, distance_m: distances_m[i] + driven_m, elevation_m }
    };
    samples.iter().map(place).collect()
}

/// One fix for every station's length of road on which anything was recorded.
fn gather(samples: &[Sample]) -> Vec<Fix> {
    let station = |sample: &Sample| (sample.distance_m / STATION_M).round();
    let together = |a: &Sample, b: &Sample| station(a) == station(b);
    let gathered = samples.chunk_by(together).map(|chunk| {
        let samples = chunk.len();
        let mut elevations_m: Vec<f64> = chunk.iter().map(|s| s.elevation_m).collect();
        elevations_m.sort_by(f64::total_cmp);
        let distance_m = chunk.iter().map(|s| s.distance_m).sum::<f64>() / samples as f64;
        // The lower of two middle values: their mean may lie on neither side of a step.
        Fix { distance_m, elevation_m: elevations_m[(samples - 1) / 2], samples }
    });
    gathered.collect()
}

/// The fixes near the rolling median, and how many samples are in the others.
fn reject_outliers(fixes: &[Fix], cap: f64) -> (Vec<Fix>, usize) {
    let mut window: Vec<f64> = Vec::new();
    let place = |window: &[f64], value: f64| window.partition_point(|w| *w < value);
    let (mut first, mut last, mut rejected) = (0, 0, 0);
    let mut kept = Vec::with_capacity(fixes.len());
    for (i, fix) in fixes.iter().enumerate() {
        while last < fixes.len() && fixes[last].distance_m <= fix.distance_m + MEDIAN_REACH_M {
            let value = fixes[last].elevation_m;
            window.insert(place(&window, value), value);
            last += 1;
        }
        while fixes[first].distance_m < fix.distance_m - MEDIAN_REACH_M {
            window.remove(place(&window, fixes[first].elevation_m));
            first += 1;
        }
        let median_m = 0.5 * (window[(window.len() - 1) / 2] + window[window.len() / 2]);
        // Of points that are far apart one alone stands on a crest.
        let before = i.checked_sub(1).map(|i| &fixes[i]);
        let beside = [before, fixes.get(i + 1)].into_iter().flatten();
        let alone_m = beside.map(|near| (near.distance_m - fix.distance_m).abs());
        let allowed_m = cap * alone_m.fold(MEDIAN_REACH_M, f64::min).max(OUTLIER_M);
        if (fix.elevation_m - median_m).abs() <= allowed_m {
            kept.push(*fix);
        } else {
            rejected += fix.samples;
        }
    }
    (kept, rejected)
}

/// The pieces between steps joined again; the samples in those left out; the steps taken out.
fn join_pieces(fixes: &[Fix], cap: f64) -> (Vec<Fix>, usize, usize) {
    let no_step = |a: &Fix, b: &Fix| {
        let allowed_m = cap * STEP_M + 0.25 * (b.distance_m - a.distance_m);
        (b.elevation_m - a.elevation_m).abs() <= allowed_m
    };
    let mut pieces: Vec<Vec<Fix>> = fixes.chunk_by(no_step).map(<[Fix]>::to_vec).collect();
    let extent_m = |piece: &Vec<Fix>| match piece.as_slice() {
        [first, .., last] => last.distance_m - first.distance_m,
        _ => 0.0,
    };
    let Some(longest) = (0..pieces.len())
        .max_by(|a, b| extent_m(&pieces[*a]).total_cmp(&extent_m(&pieces[*b])).then(b.cmp(a)))
    else {
        return (Vec::new(), 0, 0);
    };
    let after = pieces.split_off(longest + 1);
    let mut left = pieces.split_off(longest);
    let mut road = left.pop().unwrap_or_default();
    for piece in &mut pieces {
        piece.reverse();
    }
    pieces.reverse();

    road.reverse();
    let steps_before = join_onto(&mut road, &pieces, cap);
    road.reverse();
    let steps_after = join_onto(&mut road, &after, cap);
    let samples = |fixes: &[Fix]| fixes.iter().map(|f| f.samples).sum::<usize>();
    let left_out = samples(fixes) - samples(&road);
    (road, left_out, steps_before + steps_after)
}

/// Joins pieces onto the end of a road; how many had to be shifted.
fn join_onto(road: &mut Vec<Fix>, pieces: &[Vec<Fix>], cap: f64) -> usize {
    // A drop-out broken into more pieces than this is not recognised as one.
    const LOOK_AHEAD: usize = 50;
    let (mut next, mut shift_m, mut shifted) = (0, 0.0, 0);
    while let (Some(end), Some(piece)) = (road.last().copied(), pieces.get(next)) {
        let fits = |piece: &Vec<Fix>| {
            piece.first().is_some_and(|first| {
                let gap_m = (first.distance_m - end.distance_m).abs();
                let allowed_m = (cap * STEP_M + 0.05 * gap_m).min(5.0 * cap * STEP_M);
                (first.elevation_m + shift_m - end.elevation_m).abs() <= allowed_m
            })
        };
        let ahead = pieces[next..].iter().take(LOOK_AHEAD).position(fits);
        if ahead.is_none()
            && let Some(first) = piece.first()
        {
            shift_m = end.elevation_m - first.elevation_m;
            shifted += 1;
        }
        let joined = next + ahead.unwrap_or(0);
        road.extend(
            pieces[joined].iter().map(|fix| Fix { elevation_m: fix.elevation_m + shift_m, ..*fix }),
        );
        next = joined + 1;
    }
    shifted
}

/// Heights at stations by cubics between the fixes, level beyond the first and the last; and how many
/// stretches without a fix were long.
///
/// A cubic has the slopes of [`slopes`] at its ends, so that it rises or falls all along, and a crest
/// that few points stand on is as round as a road's.
fn bridge(fixes: &[Fix], count: usize, spacing_m: f64, length_m: f64) -> (Vec<f64>, usize) {
    let ends = [0.0, length_m];
    let places_m: Vec<f64> = std::iter::once(ends[0])
        .chain(fixes.iter().map(|f| f.distance_m))
        .chain(std::iter::once(ends[1]))
        .collect();
    let gaps = places_m.windows(2).filter(|pair| pair[1] - pair[0] > GAP_M).count();
    let slopes = slopes(fixes);
    let mut after = 0;
    let height = |station: usize| {
        let distance_m = station as f64 * spacing_m;
        while after < fixes.len() && fixes[after].distance_m < distance_m {
            after += 1;
        }
        match (after.checked_sub(1).map(|i| fixes[i]), fixes.get(after)) {
            (Some(a), Some(b)) => {
                let (apart_m, rise_m) =
                    (b.distance_m - a.distance_m, b.elevation_m - a.elevation_m);
                let share = (distance_m - a.distance_m) / apart_m;
                let [from_m, to_m] = [after - 1, after].map(|i| slopes[i] * apart_m);
                let bent_m = (1.0 - share) * (from_m - rise_m) - share * (to_m - rise_m);
                a.elevation_m + share * (rise_m + (1.0 - share) * bent_m)
            }
            (Some(a), None) => a.elevation_m,
            (None, Some(b)) => b.elevation_m,
            (None, None) => 0.0,
        }
    };
    ((0..=count).map(height).collect(), gaps)
}

/// The slope of the road at each fix: the harmonic mean of those before and after it, weighted by
/// their lengths, and level between a rise and a fall (Fritsch and Butland, A method for constructing
/// local monotone piecewise cubic interpolants, SIAM J. Sci. Stat. Comput. 5, 1984; from memory).
fn slopes(fixes: &[Fix]) -> Vec<f64> {
    let secant = |pair: &[Fix]| {
        let apart_m = pair[1].distance_m - pair[0].distance_m;
        (apart_m, (pair[1].elevation_m - pair[0].elevation_m) / apart_m)
    };
    let secants: Vec<(f64, f64)> = fixes.windows(2).map(secant).collect();
    let inner = secants.windows(2).map(|pair| {
        let [(before_m, before), (after_m, after)] = [pair[0], pair[1]];
        if before * after <= 0.0 {
            return 0.0;
        }
        let (near, far) = (2.0 * after_m + before_m, after_m + 2.0 * before_m);
        (near + far) / (near / before + far / after)
    });
    let [first, last] = [secants.first(), secants.last()].map(|s| s.map_or(0.0, |s| s.1));
    std::iter::once(first).chain(inner).chain(std::iter::once(last)).take(fixes.len()).collect()
}

/// The mean of the lowest road above and the highest road below that are nowhere steeper than
/// the cap; and the length of road that was steeper.
fn capped(heights_m: &[f64], spacing_m: f64, cap: f64) -> (Vec<f64>, f64) {
    let rise_m = spacing_m * cap / cap.hypot(1.0);
    let steep =
        heights_m.windows(2).filter(|h| (h[1] - h[0]).abs() > rise_m * (1.0 + 1e-9)).count();
    let (mut above, mut below) = (heights_m.to_vec(), heights_m.to_vec());
    let last = heights_m.len() - 1;
    for i in 1..=last {
        above[i] = above[i].max(above[i - 1] - rise_m);
        below[i] = below[i].min(below[i - 1] + rise_m);
    }
    for i in (0..last).rev() {
        above[i] = above[i].max(above[i + 1] - rise_m);
        below[i] = below[i].min(below[i + 1] + rise_m);
    }
    let mean = above.iter().zip(&below).map(|(a, b)| 0.5 * (a + b)).collect();
    (mean, steep as f64 * spacing_m)
}

/// The notes of what was made of a recorded elevation.
pub(crate) fn elevation_notes(cleaning: Option<Cleaning>, what: &str) -> Vec<String> {
    let Some(cleaning) = cleaning else {
        return vec!["No elevation is recorded on the way, so the road is level.".to_owned()];
    };
    let mut notes = vec![format!(
        "The {what} climbs {:.0} m and falls {:.0} m; cleaned, the road climbs {:.0} m \
         and falls {:.0} m.",
        cleaning.climb_before_m,
        cleaning.descent_before_m,
        cleaning.climb_after_m,
        cleaning.descent_after_m
    )];
    let found = cleaning.interpolation;
    if found.stretches > 0 {
        let (from_km, to_km) = (found.longest_m.0 / 1e3, found.longest_m.1 / 1e3);
        notes.push(format!(
            "Stretches on which the elevation changes by the same step from second to second, as if \
             interpolated over a drop-out: {} with {:.1} km, {:.0} m up and {:.0} m down in all, the \
             longest from {from_km:.1} to {to_km:.1} km. They are bridged by straight slopes; hills \
             on them are not known.",
            found.stretches,
            found.length_m / 1e3,
            found.climb_m,
            found.descent_m,
        ));
    }
    if found.frozen > 0 {
        notes.push(format!(
            "Stretches on which the elevation froze and then jumped, bridged by straight slopes: {}.",
            found.frozen
        ));
    }
    notes
}
