//! The bends of a road that is known by positions alone.

use std::f64::consts::PI;

use geographiclib_rs::{Geodesic, InverseGeodesic};

use crate::pace::LENGTH_LIMIT_M;
use crate::smoothing::spline;

/// A point of a road on a plane that is unrolled along it.
#[derive(Debug, Clone, Copy)]
struct Point {
    /// East and north of the first, m.
    x_m: f64,
    y_m: f64,
}

/// A bend, from one distance to another.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Bend {
    pub from_m: f64,
    pub to_m: f64,
    pub radius_m: f64,
}

/// The course of a road.
pub(crate) struct Course {
    /// Distance of each position from the first along the road, m.
    pub distance_m: Vec<f64>,
    /// The bends in order.
    pub bends: Vec<Bend>,
    /// Headings, rad from north by east, each from a distance on.
    pub headings: Vec<(f64, f64)>,
    /// By how much positions lie beside the road, as their scatter tells, m.
    pub scatter_m: f64,
}

/// Spacing of the stations of a smoothed course, m.
const STATION_M: f64 = 5.0;
/// Scatter of positions below which they are taken as they are, m.
const EXACT_M: f64 = 0.2;
/// A receiver's positions that are of use scatter by no more, m.
const WORST_M: f64 = 5.0;
/// Points further apart tell no scatter from bends, m.
const DENSE_M: f64 = 35.0;
/// How far the corner of two streets may be from the bend that is driven, m.
const CORNER_M: f64 = 3.0;
/// The same for the corners of a line that was simplified, at most, m.
const SIMPLIFIED_M: f64 = 10.0;
/// How many standard deviations of what is left of scatter may lie beside a straight line.
const LEFT: f64 = 3.0;
/// Bends that are wider than this are none, m.
const WIDEST_M: f64 = 3000.0;

/// The course through positions (latitude and longitude in degrees).
///
/// Distances and bearings are geodesics on the WGS 84 ellipsoid (Karney, Algorithms for geodesics,
/// 2013). Positions have so many decimals, and what lies within their rounding of a straight line is
/// straight. Dense positions that scatter by more, σ, spaced by `h`, are smoothed by a spline that
/// halves waves of `75 m·(σ²h/90 m³)^(1/5)`, 21 to 150 m (chosen on made roads), and what lies within
/// three standard deviations of what is left of the scatter of a straight line is straight.
pub(crate) fn course(positions_deg: &[(f64, f64)]) -> Course {
    let (points, drawn_m) = unrolled(positions_deg);
    let kept = apart(&points);
    let rounding_m = rounding_m(positions_deg);
    let (scatter_m, one_of) = scatter_m(&kept);
    let length_m = drawn_m.last().copied().unwrap_or(0.0);
    // A road that is longer is refused, and not smoothed before.
    let smoothed_m = 4.0 * STATION_M..=LENGTH_LIMIT_M;
    if scatter_m < EXACT_M.max(rounding_m) || !smoothed_m.contains(&length_m) {
        let rows = straightened(&points, 2.0 * rounding_m);
        let line: Vec<Point> = rows.iter().map(|row| points[*row]).collect();
        let at_m = along(&line);
        let bends = bends(&line, &at_m, simplified_m(&kept));
        let headings = headings(&line, &at_m);
        let distance_m = distances_m(&drawn_m, &rows, &at_m);
        return Course { distance_m, bends, headings, scatter_m: 0.0 };
    }
    let count = (length_m / STATION_M).ceil();
    let step_m = length_m / count;
    let stations = at_stations(&points, &drawn_m, count as usize, step_m);
    let drawn_spacing_m = one_of * length_m / (kept.len() - 1) as f64;
    // The line through scattered points is longer than the road; by how much tells the first pass.
    let (first, _) = smoothed(&stations, step_m, drawn_spacing_m, scatter_m);
    let share = along(&first).last().map_or(1.0, |m| m / length_m).clamp(0.3, 1.0);
    let (smooth, left_m) = smoothed(&stations, share * step_m, share * drawn_spacing_m, scatter_m);
    let at_m = along(&smooth);
    let place = |drawn_m: &f64| {
        let at = (drawn_m / step_m).clamp(0.0, count);
        let before = (at as usize).min(at_m.len() - 2);
        at_m[before] + (at - before as f64) * (at_m[before + 1] - at_m[before])
    };
    let tolerance_m = LEFT * left_m;
    let rows = straightened(&smooth, tolerance_m);
    let line: Vec<Point> = rows.iter().map(|row| smooth[*row]).collect();
    let line_m: Vec<f64> = rows.iter().map(|row| at_m[*row]).collect();
    Course {
        distance_m: drawn_m.iter().map(place).collect(),
        bends: bends(&line, &line_m, tolerance_m.clamp(CORNER_M, SIMPLIFIED_M)),
        headings: headings(&line, &line_m),
        scatter_m,
    }
}

/// How far a position may be from the one that was rounded to its decimals, m: half the diagonal of
/// their last digits. Of fewer than five decimals it is that of five, as zeros at the end are left out.
fn rounding_m(positions_deg: &[(f64, f64)]) -> f64 {
    let whole = |deg: f64, scale: f64| (deg * scale - (deg * scale).round()).abs() < 1e-5;
    let all = |scale: &f64| {
        positions_deg.iter().all(|(north, east)| whole(*north, *scale) && whole(*east, *scale))
    };
    let scale = [1e5, 1e6, 1e7, 1e8].into_iter().find(all);
    let middle_deg = positions_deg.get(positions_deg.len() / 2).map_or(0.0, |place| place.0);
    // A degree of latitude is 111.2 km.
    scale.map_or(0.0, |scale| 0.5 * 111_200.0 / scale * middle_deg.to_radians().cos().hypot(1.0))
}

/// The rows of a line that has no point further than a tolerance from the points, each straight as
/// long as it can be. A straight road of points within half the tolerance has no corner.
fn straightened(points: &[Point], tolerance_m: f64) -> Vec<usize> {
    let mut rows = vec![0];
    let mut from = 0;
    // The directions from the last row that pass all points since, about the first that is far enough.
    let mut cone: Option<(f64, f64, f64, f64)> = None;
    let mut row = 1;
    while row < points.len() {
        let (x, y) = (points[row].x_m - points[from].x_m, points[row].y_m - points[from].y_m);
        let distance_m = x.hypot(y);
        let direction = y.atan2(x);
        let (fits, next) = match cone {
            None if distance_m <= tolerance_m.max(0.01) => (true, None),
            None => {
                let half = (tolerance_m / distance_m).min(1.0).asin();
                (true, Some((direction, -half, half, distance_m)))
            }
            Some((about, low, high, furthest_m)) => {
                let off = (direction - about + PI).rem_euclid(2.0 * PI) - PI;
                let half = (tolerance_m / distance_m.max(1e-9)).min(1.0).asin();
                let goes_on = distance_m >= furthest_m - tolerance_m;
                let fits = goes_on && (low - 1e-9..=high + 1e-9).contains(&off);
                let (low, high) = (low.max(off - half), high.min(off + half));
                (fits, Some((about, low, high, furthest_m.max(distance_m))))
            }
        };
        if fits {
            cone = next;
            row += 1;
        } else {
            from = row - 1;
            rows.push(from);
            cone = None;
        }
    }
    // A last step within the tolerance has no direction.
    if cone.is_none() && rows.len() > 1 {
        rows.pop();
    }
    if points.len() > 1 {
        rows.push(points.len() - 1);
    }
    rows
}

/// The distances of all points along a line through some of them.
fn distances_m(drawn_m: &[f64], rows: &[usize], at_m: &[f64]) -> Vec<f64> {
    let mut distance_m = vec![0.0; drawn_m.len()];
    for (pair, ends_m) in rows.windows(2).zip(at_m.windows(2)) {
        let (from_m, to_m) = (drawn_m[pair[0]], drawn_m[pair[1]]);
        for row in pair[0]..=pair[1] {
            let share = if to_m > from_m { (drawn_m[row] - from_m) / (to_m - from_m) } else { 1.0 };
            distance_m[row] = ends_m[0] + share * (ends_m[1] - ends_m[0]);
        }
    }
    distance_m
}

/// How far each inner point is beside the line between its neighbours, m.
fn offsets_m(points: &[Point]) -> Vec<f64> {
    let offset = |p: &[Point]| {
        let (x, y) = (p[2].x_m - p[0].x_m, p[2].y_m - p[0].y_m);
        let length_m = x.hypot(y);
        let across = x * (p[1].y_m - p[0].y_m) - y * (p[1].x_m - p[0].x_m);
        if length_m > 0.0 { across / length_m } else { 0.0 }
    };
    points.windows(3).map(offset).collect()
}

/// How far a corner may be from the bend that is driven, m. A line that was simplified has few points
/// nearer to the line between their neighbours than the tolerance that it was simplified to.
fn simplified_m(points: &[Point]) -> f64 {
    let offsets: Vec<f64> = offsets_m(points).into_iter().map(f64::abs).collect();
    if offsets.len() < 8 {
        return CORNER_M;
    }
    smallest(offsets, 0.2).clamp(CORNER_M, SIMPLIFIED_M)
}

/// The course of stations through positions of a spacing that scatter, and the standard deviation of
/// what is left of the scatter, m.
fn smoothed(stations: &[Point], step_m: f64, spacing_m: f64, scatter_m: f64) -> (Vec<Point>, f64) {
    let halved_m = (75.0 * (scatter_m.powi(2) * spacing_m / 90.0).powf(0.2)).clamp(21.0, 150.0);
    let weight = (2.0 * (PI * step_m / halved_m).sin()).powi(-4);
    let smooth =
        |of: fn(&Point) -> f64| spline(&stations.iter().map(of).collect::<Vec<_>>(), weight).0;
    let places = smooth(|p| p.x_m).into_iter().zip(smooth(|p| p.y_m));
    // What is left of even noise is ∫1/(1 + (ω/ω₀)⁴)² dω = 0.833·ω₀.
    let left = spacing_m / PI * 0.833 * 2.0 * PI / halved_m;
    (places.map(|(x_m, y_m)| Point { x_m, y_m }).collect(), scatter_m * left.sqrt())
}

/// The positions on a plane that is unrolled along them, so that neighbours have their true distance
/// and bearing, and the distance of each.
fn unrolled(positions_deg: &[(f64, f64)]) -> (Vec<Point>, Vec<f64>) {
    let earth = Geodesic::wgs84();
    let mut points = vec![Point { x_m: 0.0, y_m: 0.0 }];
    let mut at_m = vec![0.0];
    let (mut x_m, mut y_m, mut so_far_m) = (0.0, 0.0, 0.0);
    for pair in positions_deg.windows(2) {
        let (length_m, bearing_deg, _, _): (f64, f64, f64, f64) =
            earth.inverse(pair[0].0, pair[0].1, pair[1].0, pair[1].1);
        let (sine, cosine) = bearing_deg.to_radians().sin_cos();
        x_m += length_m * sine;
        y_m += length_m * cosine;
        so_far_m += length_m;
        points.push(Point { x_m, y_m });
        at_m.push(so_far_m);
    }
    (points, at_m)
}

/// The points that are not where the one before is.
fn apart(points: &[Point]) -> Vec<Point> {
    let mut kept: Vec<Point> = Vec::with_capacity(points.len());
    for point in points {
        let is_there =
            |before: &Point| (point.x_m - before.x_m).hypot(point.y_m - before.y_m) < 0.01;
        if !kept.last().is_some_and(is_there) {
            kept.push(*point);
        }
    }
    kept
}

/// How far each point is along the line through them.
fn along(points: &[Point]) -> Vec<f64> {
    let mut so_far_m = 0.0;
    let steps = points.windows(2).map(|p| (p[1].x_m - p[0].x_m).hypot(p[1].y_m - p[0].y_m));
    let places = steps.map(|step_m| {
        so_far_m += step_m;
        so_far_m
    });
    std::iter::once(0.0).chain(places).collect()
}

/// Standard deviation of what scatters positions across the road, from how the offset of a point from
/// the line between its neighbours changes to that of the next: √5·σ for noise, little for bends.
///
/// Of noise 77 % of these changes go the other way than the one before (½ + asin(¾)/π), where a bend
/// begins or ends few do. A line that was simplified has no small offsets (the nearest fifth of those of
/// noise is within 0.38 of their median) and uneven spacings. Points that are far apart, or further off
/// than those of any receiver, are no noise; of points nearer than four σ every second is left out.
///
/// The scatter of a receiver that drifts grows with the spacing. As long as it does, and the offsets go to
/// and fro, every second point is left out as well, so that it is smoothed by what it scatters from one
/// of these to the next. The second number is of how many points one is left.
fn scatter_m(points: &[Point]) -> (f64, f64) {
    /// Growth from which scatter is a drift's: √2 where its steps are independent, 1 where it has none.
    const GROWS: f64 = 1.15;
    let mut points = points.to_vec();
    let (mut scatter_m, mut one_of) = (0.0, 1.0);
    let (mut left_in_of, mut is_wide) = (1.0, false);
    while points.len() >= 11 {
        let offsets = offsets_m(&points);
        let changes: Vec<f64> = offsets.windows(2).map(|o| o[1] - o[0]).collect();
        let back = changes.windows(2).filter(|c| c[0] * c[1] < 0.0).count();
        let steps = points.windows(2).map(|p| (p[1].x_m - p[0].x_m).hypot(p[1].y_m - p[0].y_m));
        let steps: Vec<f64> = steps.collect();
        let spacing_m = smallest(steps.clone(), 0.5);
        let sizes: Vec<f64> = offsets.iter().map(|offset| offset.abs()).collect();
        let is_simplified = smallest(sizes.clone(), 0.2) > 0.5 * smallest(sizes, 0.5)
            && smallest(steps, 0.9) > 2.0 * spacing_m;
        if 5 * back < 3 * (changes.len() - 1) || spacing_m > DENSE_M || is_simplified {
            break;
        }
        // The median of what is spread normally is 0.6745 standard deviations.
        let median_m = smallest(changes.iter().map(|change| change.abs()).collect(), 0.5);
        let found_m = median_m / (0.6745 * 5.0_f64.sqrt());
        if is_wide {
            if found_m < GROWS * scatter_m {
                break;
            }
            one_of = left_in_of;
        }
        scatter_m = found_m;
        is_wide |= spacing_m > 4.0 * scatter_m;
        points = points.into_iter().step_by(2).collect();
        left_in_of *= 2.0;
    }
    (if scatter_m > WORST_M { 0.0 } else { scatter_m }, one_of)
}

/// The value that a share of some values does not reach.
fn smallest(mut values: Vec<f64>, share: f64) -> f64 {
    let rank = (share * values.len() as f64) as usize;
    *values.select_nth_unstable_by(rank, f64::total_cmp).1
}

/// The points at even distances along the drawn line.
fn at_stations(points: &[Point], drawn_m: &[f64], count: usize, step_m: f64) -> Vec<Point> {
    let mut after = 1;
    let mut at = |station: usize| {
        let at_m = station as f64 * step_m;
        while after + 1 < points.len() && drawn_m[after] < at_m {
            after += 1;
        }
        let (a, b) = (points[after - 1], points[after]);
        let length_m = drawn_m[after] - drawn_m[after - 1];
        let share = if length_m > 0.0 { (at_m - drawn_m[after - 1]) / length_m } else { 0.0 };
        let share = share.clamp(0.0, 1.0);
        Point { x_m: a.x_m + share * (b.x_m - a.x_m), y_m: a.y_m + share * (b.y_m - a.y_m) }
    };
    (0..=count).map(&mut at).collect()
}

fn headings(points: &[Point], at_m: &[f64]) -> Vec<(f64, f64)> {
    let heading = |p: &[Point]| (p[1].x_m - p[0].x_m).atan2(p[1].y_m - p[0].y_m);
    at_m.iter().copied().zip(points.windows(2).map(heading)).collect()
}

/// The bends of a line.
///
/// A corner turns by θ as an arc would that reaches half way to its neighbours: `R = l/2/tan(θ/2)`, `l`
/// the mean of both sides within an arc, the shorter one at its ends. What turns at two or three corners
/// alone turns between them: `R = Σl/Σθ`. A corner that stands alone is turned no further from it than a
/// few metres, `R = d/(sec(θ/2) − 1)`; so is a corner of 75° or more, which is one of streets.
fn bends(points: &[Point], at_m: &[f64], corner_m: f64) -> Vec<Bend> {
    /// A neighbour with less than this share of a corner's turn is no part of its bend.
    const GOES_ON: f64 = 0.2;
    /// The least turn at a corner of streets, rad.
    const STREETS_RAD: f64 = 75.0 * PI / 180.0;
    let turn = |pair: &[(f64, f64)]| (pair[1].1 - pair[0].1 + PI).rem_euclid(2.0 * PI) - PI;
    let turns: Vec<f64> = headings(points, at_m).windows(2).map(turn).collect();
    let mut bends = Vec::new();
    let mut add = |from_m: f64, to_m: f64, radius_m: f64| {
        if radius_m < WIDEST_M {
            bends.push(Bend { from_m, to_m, radius_m });
        }
    };
    // Where the turns to the same side began.
    let mut first = 0;
    for (i, turn) in turns.iter().enumerate() {
        let neighbour = |there: Option<usize>| there.and_then(|there| turns.get(there));
        let goes_on = |there| neighbour(there).is_some_and(|a| a * turn > GOES_ON * turn * turn);
        let (before, after) = (goes_on(i.checked_sub(1)), goes_on(Some(i + 1)));
        let (before_m, after_m) = (at_m[i + 1] - at_m[i], at_m[i + 2] - at_m[i + 1]);
        let streets = turn.abs() >= STREETS_RAD;
        let half = (0.5 * turn.abs()).min(0.499 * PI);
        let room_m = match before && after && !streets {
            true => 0.25 * (before_m + after_m),
            false => 0.5 * before_m.min(after_m),
        };
        let beside_m = if streets { CORNER_M } else { corner_m };
        let alone_m = beside_m / (1.0 / half.cos() - 1.0);
        let touching_m = room_m / half.tan();
        let arc = (before || after) && !streets;
        let radius_m = if arc { touching_m } else { touching_m.min(alone_m) };
        let reach_m = (radius_m * half.tan()).min(room_m);
        add(at_m[i + 1] - reach_m, at_m[i + 1] + reach_m, radius_m);

        if i > 0 && turns[i - 1] * turn <= 0.0 {
            first = i;
        }
        let ends = neighbour(Some(i + 1)).is_none_or(|next| next * turn <= 0.0);
        let run = &turns[first..=i];
        let few = (2..=3).contains(&run.len()) && run.iter().all(|t| t.abs() < STREETS_RAD);
        if ends && few {
            let (from_m, to_m) = (at_m[first + 1], at_m[i + 1]);
            add(from_m, to_m, (to_m - from_m) / run.iter().map(|turn| turn.abs()).sum::<f64>());
        }
    }
    bends
}
