//! Which points of a file without times are one road: no repeats, no alternatives, no jumps.

use geographiclib_rs::{Geodesic, InverseGeodesic};
use std::ops::Range;

/// Pieces that begin no further from another's end or beginning go on from there, m.
const NEAR_M: f64 = 100.0;
/// A gap so many times as long as nine in ten others is far longer than they are.
const FAR_LONGER: f64 = 10.0;
/// Shorter gaps are nowhere told, m.
const TOLD_M: f64 = 500.0;
/// Longer gaps that are twice as much longer as those told are no road, m.
const ROAD_M: f64 = 2000.0;
/// Of fewer gaps nobody knows which are usual.
const FEW: usize = 10;

/// The points, by ranges, that are one road, and what there is to say of it. `begins` are those at which
/// a track, a segment or a route begins, the first of all among them.
///
/// A piece that begins where the first does, and not where the road has led to, or that begins and ends
/// as the first does and is as long, is another way there or the same again, and is left out.
///
/// # Errors
/// A sentence where the points jump as no road does.
pub(crate) fn one_road(
    positions: &[(f64, f64)],
    begins: &[usize],
) -> Result<(Vec<Range<usize>>, Vec<String>), String> {
    let steps_m: Vec<f64> = positions.windows(2).map(|pair| apart_m(pair[0], pair[1])).collect();
    let inner = |piece: &Range<usize>| piece.start..piece.end.saturating_sub(1).max(piece.start);
    let length_m = |piece: &Range<usize>| steps_m[inner(piece)].iter().sum::<f64>();
    let ends = begins.iter().skip(1).copied().chain([positions.len()]);
    let pieces = begins.iter().zip(ends).map(|(from, to)| *from..to).filter(|p| !p.is_empty());

    let (mut road, mut first_m, mut left_out): (Vec<Range<usize>>, _, _) = (Vec::new(), 0.0, 0);
    for piece in pieces {
        let [Some(first), Some(last)] = [road.first(), road.last()] else {
            first_m = length_m(&piece);
            road.push(piece);
            continue;
        };
        let near_m = NEAR_M.min(0.25 * first_m);
        let near = |a: usize, b: usize| apart_m(positions[a], positions[b]) <= near_m;
        let begins_as = near(piece.start, first.start);
        let as_long = (length_m(&piece) - first_m).abs() <= 0.05 * first_m;
        let the_same = near(piece.end - 1, first.end - 1) && as_long;
        if begins_as && (the_same || !near(piece.start, last.end - 1)) {
            left_out += 1;
        } else {
            road.push(piece);
        }
    }
    let mut notes = Vec::new();
    if left_out > 0 {
        notes.push(format!(
            "Tracks or routes that begin where the first does, other ways or the same again, left out: \
             {left_out}."
        ));
    }
    notes.extend(gaps_told(positions, &road, &steps_m)?);
    Ok((road, notes))
}

/// What is said of gaps far longer than the others.
fn gaps_told(
    positions: &[(f64, f64)],
    road: &[Range<usize>],
    steps_m: &[f64],
) -> Result<Option<String>, String> {
    // Each with whether a piece begins after it.
    let mut gaps: Vec<(f64, bool)> = Vec::with_capacity(steps_m.len());
    let mut before: Option<usize> = None;
    for piece in road {
        gaps.extend(before.map(|end| (apart_m(positions[end], positions[piece.start]), true)));
        gaps.extend(steps_m[piece.start..piece.end - 1].iter().map(|m| (*m, false)));
        before = Some(piece.end - 1);
    }
    let mut sorted_m: Vec<f64> = gaps.iter().map(|gap| gap.0).filter(|m| *m > 0.0).collect();
    sorted_m.sort_by(f64::total_cmp);
    let Some(usual_m) = sorted_m.get(sorted_m.len().saturating_sub(1) * 9 / 10).copied() else {
        return Ok(None);
    };
    let all_m: f64 = sorted_m.iter().sum();
    let (mut from_m, mut told, mut longest) = (0.0, 0, (0.0, 0.0));
    for (gap_m, begins) in gaps {
        let longer = gap_m / usual_m;
        let jump = longer > 2.0 * FAR_LONGER && sorted_m.len() > FEW;
        if gap_m > ROAD_M && (jump || (begins && gap_m > all_m - gap_m)) {
            return Err(format!(
                "from {:.2} km to {:.2} km its points jump by {:.1} km, where others are {:.0} m \
                 apart, as over a ferry or from one drive to the next, and a file of one road is \
                 needed; where a road does run straight there, a point every 2 km says so",
                from_m / 1e3,
                (from_m + gap_m) / 1e3,
                gap_m / 1e3,
                usual_m
            ));
        }
        if gap_m > TOLD_M && longer > FAR_LONGER {
            told += 1;
            longest = if gap_m > longest.1 { (from_m, gap_m) } else { longest };
        }
        from_m += gap_m;
    }
    Ok((told > 0).then(|| {
        format!(
            "Gaps far longer than those between other points, driven as straight road: {told}, the \
             longest of {:.1} km, from {:.1} km on.",
            longest.1 / 1e3,
            longest.0 / 1e3
        )
    }))
}

/// Whether a position is that of a receiver without a fix: 0, 0, far from all others.
pub(crate) fn is_without_fix(position: (f64, f64), others: &[(f64, f64)]) -> bool {
    let far = |other: &(f64, f64)| other.0.abs() > 1.0 || other.1.abs() > 1.0;
    let fixes = || others.iter().filter(|other| **other != (0.0, 0.0));
    position == (0.0, 0.0) && fixes().next().is_some() && fixes().all(far)
}

fn apart_m(from: (f64, f64), to: (f64, f64)) -> f64 {
    Geodesic::wgs84().inverse(from.0, from.1, to.0, to.1)
}
