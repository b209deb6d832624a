//! The bends of a road that is known by positions alone.

use std::f64::consts::PI;

use geographiclib_rs::{Geodesic, InverseGeodesic};

use crate::planned::LENGTH_LIMIT_M;
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
/// How far a corner of drawn positions may be from the bend that was driven, m.
const CORNER_M: f64 = 3.0;
/// Bends that are wider than this are none, m.
const WIDEST_M: f64 = 3000.0;

/// The course through positions (latitude and longitude in degrees).
///
/// Distances and bearings are geodesics on the WGS 84 ellipsoid (Karney, Algorithms for geodesics,
/// 2013). Positions that scatter by σ, spaced by `h`, are smoothed by a spline that halves waves of
/// `105 m·(σ²h/90 m³)^(1/5)`, 30 to 200 m, beyond which what is left of the scatter bends the road by
/// no more than a radius of some 200 m; so much curvature, 2.5 standard deviations of it, is left out.
/// The bend at a corner is the circle that touches both sides, no further than half way to the next
/// corner and no further than 3 m from its own: `R = min(l/2/tan(θ/2), 3 m/(sec(θ/2) − 1))`.
pub(crate) fn course(positions_deg: &[(f64, f64)]) -> Course {
    let (points, drawn_m) = unrolled(positions_deg);
    let kept = apart(&points);
    let scatter_m = scatter_m(&kept);
    let length_m = drawn_m.last().copied().unwrap_or(0.0);
    // A road that is longer is refused, and not smoothed before.
    let smoothed_m = 4.0 * STATION_M..=LENGTH_LIMIT_M;
    if scatter_m < EXACT_M || !smoothed_m.contains(&length_m) {
        let at_m = along(&kept);
        let bends = bends(&kept, &at_m, 0.0);
        let headings = headings(&kept, &at_m);
        return Course { distance_m: drawn_m, bends, headings, scatter_m };
    }
    let count = (length_m / STATION_M).ceil();
    let step_m = length_m / count;
    let stations = at_stations(&points, &drawn_m, count as usize, step_m);
    let drawn_spacing_m = length_m / (kept.len() - 1) as f64;
    // The line through scattered points is longer than the road; by how much tells the first pass.
    let (first, _) = smoothed(&stations, step_m, drawn_spacing_m, scatter_m);
    let share = along(&first).last().map_or(1.0, |m| m / length_m).clamp(0.3, 1.0);
    let (smooth, noise) = smoothed(&stations, share * step_m, share * drawn_spacing_m, scatter_m);
    let at_m = along(&smooth);
    let place = |drawn_m: &f64| {
        let at = (drawn_m / step_m).clamp(0.0, count);
        let before = (at as usize).min(at_m.len() - 2);
        at_m[before] + (at - before as f64) * (at_m[before + 1] - at_m[before])
    };
    Course {
        distance_m: drawn_m.iter().map(place).collect(),
        bends: bends(&smooth, &at_m, 2.5 * noise),
        headings: headings(&smooth, &at_m),
        scatter_m,
    }
}

/// The course of stations through positions of a spacing that scatter, and the standard deviation of
/// the curvature that is left of the scatter, 1/m.
fn smoothed(stations: &[Point], step_m: f64, spacing_m: f64, scatter_m: f64) -> (Vec<Point>, f64) {
    let halved_m = (105.0 * (scatter_m.powi(2) * spacing_m / 90.0).powf(0.2)).clamp(30.0, 200.0);
    let weight = (2.0 * (PI * step_m / halved_m).sin()).powi(-4);
    let smooth =
        |of: fn(&Point) -> f64| spline(&stations.iter().map(of).collect::<Vec<_>>(), weight).0;
    let places = smooth(|p| p.x_m).into_iter().zip(smooth(|p| p.y_m));
    // What is left of even noise is ∫ω⁴/(1 + (ω/ω₀)⁴)² dω = 0.2777·ω₀⁵ in the second derivative.
    let left = spacing_m / PI * 0.2777 * (2.0 * PI / halved_m).powi(5);
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
fn scatter_m(points: &[Point]) -> f64 {
    let offset = |p: &[Point]| {
        let (x, y) = (p[2].x_m - p[0].x_m, p[2].y_m - p[0].y_m);
        let length_m = x.hypot(y);
        let across = x * (p[1].y_m - p[0].y_m) - y * (p[1].x_m - p[0].x_m);
        if length_m > 0.0 { across / length_m } else { 0.0 }
    };
    let offsets: Vec<f64> = points.windows(3).map(offset).collect();
    let mut changes: Vec<f64> = offsets.windows(2).map(|o| (o[1] - o[0]).abs()).collect();
    if changes.len() < 8 {
        return 0.0;
    }
    let middle = changes.len() / 2;
    // The median of what is spread normally is 0.6745 standard deviations.
    *changes.select_nth_unstable_by(middle, f64::total_cmp).1 / (0.6745 * 5.0_f64.sqrt())
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

/// The bend at each corner; curvature that scatter explains is left out of it.
fn bends(points: &[Point], at_m: &[f64], noise_per_m: f64) -> Vec<Bend> {
    let headings = headings(points, at_m);
    let mut bends = Vec::new();
    for i in 1..headings.len() {
        let turn = headings[i].1 - headings[i - 1].1;
        let turn = (turn + PI).rem_euclid(2.0 * PI) - PI;
        let half = (0.5 * turn.abs()).min(0.499 * PI);
        let room_m = 0.5 * (at_m[i] - at_m[i - 1]).min(at_m[i + 1] - at_m[i]);
        let touching_m = room_m / half.tan();
        let radius_m = touching_m.min(CORNER_M / (1.0 / half.cos() - 1.0));
        let curvature = (radius_m.powi(-2) - noise_per_m * noise_per_m).max(0.0).sqrt();
        if curvature * WIDEST_M > 1.0 {
            let reach_m = (radius_m * half.tan()).min(room_m);
            let (from_m, to_m) = (at_m[i] - reach_m, at_m[i] + reach_m);
            bends.push(Bend { from_m, to_m, radius_m: 1.0 / curvature });
        }
    }
    bends
}
