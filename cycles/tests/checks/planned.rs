//! Roads without times, as map planners give them: circles and clothoids of known radius drawn on the
//! WGS 84 ellipsoid by `geographiclib-rs`, with and without scatter; closed forms for limits and stops.

use cycles::{Along, LoadOptions, LoadedRoad, Pace, Section, read};
use geographiclib_rs::{DirectGeodesic, Geodesic};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use std::fmt::Write as _;
use std::path::Path;

/// Numbers of a standard normal distribution from a seed: sums of twelve uniform ones.
struct Normal(u64);

impl Normal {
    fn next(&mut self) -> f64 {
        let mut uniform = || {
            self.0 = self
                .0
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (self.0 >> 11) as f64 / (1_u64 << 53) as f64
        };
        (0..12).map(|_| uniform()).sum::<f64>() - 6.0
    }
}

/// A point that lies so far from another, m, in a direction, degrees.
fn there((latitude, longitude): (f64, f64), far_m: f64, bearing_deg: f64) -> (f64, f64) {
    Geodesic::wgs84().direct(latitude, longitude, bearing_deg, far_m)
}

const HOME: (f64, f64) = (46.5, 9.8);

/// Places in metres east and north of home.
fn drawn(places_m: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let place = |(east, north): &(f64, f64)| {
        there(HOME, east.hypot(*north), east.atan2(*north).to_degrees())
    };
    places_m.iter().map(place).collect()
}

fn route(points: &[(f64, f64)]) -> String {
    rounded(points, 8)
}

/// A route of positions with so many decimals.
fn rounded(points: &[(f64, f64)], decimals: usize) -> String {
    let mut text = "<gpx version=\"1.1\" creator=\"t\"><rte>".to_owned();
    for (latitude, longitude) in points {
        let (north, east) = (format!("{latitude:.decimals$}"), format!("{longitude:.decimals$}"));
        write!(text, "<rtept lat=\"{north}\" lon=\"{east}\"/>").unwrap();
    }
    text + "</rte></gpx>"
}

fn limit(kmh: f64) -> Pace {
    Pace { limit_mps: Some(kmh / 3.6), ..Pace::default() }
}

fn at(pace: Pace, name: &str, text: &str) -> Result<LoadedRoad, String> {
    let options = LoadOptions { pace, ..LoadOptions::default() };
    read(Path::new(name), text.as_bytes(), &options).map_err(|error| error.to_string())
}

fn driven(points: &[(f64, f64)], pace: Pace) -> LoadedRoad {
    at(pace, "route.gpx", &route(points)).unwrap()
}

/// The speed that is held over the middle half of a road, km/h: its median.
fn held_kmh(road: &LoadedRoad) -> f64 {
    let schedule = &road.schedule;
    let length_m = schedule.distance_m();
    let places = schedule.distances_m();
    let inner = places.iter().zip(&schedule.speed_mps);
    let inner = inner.filter(|(m, _)| (0.25 * length_m..0.75 * length_m).contains(*m));
    let mut speeds: Vec<f64> = inner.map(|(_, mps)| 3.6 * mps).collect();
    speeds.sort_by(f64::total_cmp);
    speeds[speeds.len() / 2]
}

/// Three quarters of a circle, points at a spacing, each off by a normal scatter.
fn circle(radius_m: f64, spacing_m: f64, scatter_m: f64, seed: u64) -> Vec<(f64, f64)> {
    let count = (1.5 * std::f64::consts::PI * radius_m / spacing_m).ceil() as u32;
    let mut noise = Normal(seed);
    let point = |i: u32| {
        let (east, north) = (scatter_m * noise.next(), scatter_m * noise.next());
        let on = there(HOME, radius_m, 270.0 * f64::from(i) / f64::from(count));
        there(on, east.hypot(north), east.atan2(north).to_degrees())
    };
    (0..=count).map(point).collect()
}

/// v = √(a·R), at any radius that a road has, points near together or far apart.
#[test]
fn a_circle_is_driven_at_the_speed_of_its_radius() {
    for radius_m in [12.0, 30.0, 80.0, 200.0, 500.0] {
        // Drawn by points between which the road bends by up to 2 m.
        let far_m = f64::sqrt(8.0 * 2.0 * radius_m);
        for spacing_m in [0.15 * radius_m, far_m.min(0.4 * radius_m)] {
            for sideways in [2.0, 4.0] {
                let pace = Pace { bends_mps2: Some(sideways), ..limit(250.0) };
                let road = driven(&circle(radius_m, spacing_m, 0.0, 1), pace);
                let (found, expected) = (held_kmh(&road), 3.6 * f64::sqrt(sideways * radius_m));
                let off = found / expected - 1.0;
                assert!(off.abs() < 0.03, "{radius_m} m by {spacing_m} m: {found} not {expected}");
            }
        }
    }
}

/// Positions that scatter by metres, as those of a receiver do, hardly change it.
#[test]
fn scattered_positions_still_tell_the_radius() {
    let cases = [(60.0, 10.0, 1.0, 0.12), (60.0, 10.0, 2.0, 0.15), (150.0, 20.0, 3.0, 0.15)];
    for (radius_m, spacing_m, scatter_m, most) in cases {
        for seed in 1..=8 {
            let pace = Pace { bends_mps2: Some(2.5), ..limit(200.0) };
            let road = driven(&circle(radius_m, spacing_m, scatter_m, seed), pace);
            let (found, expected) = (held_kmh(&road), 3.6 * f64::sqrt(2.5 * radius_m));
            let off = found / expected - 1.0;
            assert!(off.abs() < most, "{radius_m} m, σ {scatter_m} m: {found} not {expected}");
            let length = road.schedule.distance_m() / (1.5 * std::f64::consts::PI * radius_m) - 1.0;
            assert!(length.abs() < 0.06, "{radius_m} m, σ {scatter_m} m: {length} longer");
        }
    }
}

/// A straight road whose positions scatter is driven as a straight one.
#[test]
fn scatter_alone_is_no_bend() {
    for (scatter_m, spacing_m) in
        [(0.5, 2.0), (0.5, 12.0), (1.0, 5.0), (1.0, 12.0), (2.0, 2.0), (2.0, 20.0), (3.0, 12.0)]
    {
        for seed in 1..=4 {
            let mut noise = Normal(100 * seed);
            let count = (6000.0 / spacing_m) as u32;
            let places: Vec<(f64, f64)> = (0..=count)
                .map(|i| {
                    let north = spacing_m * f64::from(i) + scatter_m * noise.next();
                    (scatter_m * noise.next(), north)
                })
                .collect();
            let road = driven(&drawn(&places), limit(80.0));
            let straight = driven(&drawn(&[(0.0, 0.0), (0.0, 6000.0)]), limit(80.0));
            let longer = road.schedule.duration_s() / straight.schedule.duration_s() - 1.0;
            let case = format!("σ {scatter_m} m by {spacing_m} m, seed {seed}");
            assert!(longer.abs() < 0.03, "{case}: {longer}");
            let length = road.schedule.distance_m() / 6000.0 - 1.0;
            assert!(length.abs() < 0.01, "{case}: {length} longer");
        }
    }
}

/// A receiver that drifts by 3 m over 200 m (an Ornstein-Uhlenbeck process, whose steps are independent)
/// makes no bend of a straight road that is worth slowing for, at any spacing.
#[test]
fn drift_is_no_bend() {
    for spacing_m in [2.0, 5.0, 10.0, 20.0] {
        for seed in 1..=4 {
            let mut noise = Normal(100 * seed);
            let count = (6000.0 / spacing_m) as u32;
            let stays = f64::exp(-spacing_m / 200.0);
            let step_m = 3.0 * (1.0 - stays * stays).sqrt();
            let (mut east_m, mut north_m) = (0.0, 0.0);
            let places: Vec<(f64, f64)> = (0..=count)
                .map(|i| {
                    east_m = stays * east_m + step_m * noise.next();
                    north_m = stays * north_m + step_m * noise.next();
                    (east_m, spacing_m * f64::from(i) + north_m)
                })
                .collect();
            let road = driven(&drawn(&places), limit(80.0));
            let straight = driven(&drawn(&[(0.0, 0.0), (0.0, 6000.0)]), limit(80.0));
            let longer = road.schedule.duration_s() / straight.schedule.duration_s() - 1.0;
            assert!(longer.abs() < 0.03, "by {spacing_m} m, seed {seed}: {longer}");
        }
    }
}

/// Straights of 100 m and arcs to the right and the left in turn, and places on them at a spacing.
struct Winding {
    radius_m: f64,
    turn_rad: f64,
}

const ARCS: usize = 12;

impl Winding {
    fn length_m(&self) -> f64 {
        300.0 + ARCS as f64 * (self.radius_m * self.turn_rad + 100.0)
    }

    /// Radius at a distance; none on a straight.
    fn radius_at(&self, at_m: f64) -> Option<(usize, f64)> {
        let piece_m = self.radius_m * self.turn_rad + 100.0;
        let arc = ((at_m - 300.0) / piece_m).floor();
        let within_m = at_m - 300.0 - arc * piece_m;
        (arc >= 0.0 && within_m < piece_m - 100.0).then_some((arc as usize, self.radius_m))
    }

    fn places_m(&self, spacing_m: f64) -> Vec<(f64, f64)> {
        let step_m = 0.1;
        let (mut east, mut north, mut heading) = (0.0, 0.0, 0.7_f64);
        let mut places = vec![(0.0, 0.0)];
        let count = (self.length_m() / step_m) as usize;
        let mut next_m = spacing_m;
        for i in 0..count {
            let at_m = (i as f64 + 0.5) * step_m;
            let curvature = self.radius_at(at_m).map_or(0.0, |(arc, radius_m)| {
                if arc % 2 == 0 { 1.0 / radius_m } else { -1.0 / radius_m }
            });
            heading += 0.5 * step_m * curvature;
            (east, north) = (east + step_m * heading.sin(), north + step_m * heading.cos());
            heading += 0.5 * step_m * curvature;
            if (i + 1) as f64 * step_m >= next_m - 1e-6 || i + 1 == count {
                places.push((east, north));
                next_m += spacing_m;
            }
        }
        places
    }

    /// The time from rest to rest, by v² that is bound by limit, bends and both accelerations over
    /// steps of half a metre, s.
    fn duration_s(&self, limit_mps: f64) -> f64 {
        let step_m = 0.5;
        let count = (self.length_m() / step_m) as usize;
        let bound = |i: usize| {
            let bend = self.radius_at(i as f64 * step_m).map_or(f64::INFINITY, |b| 2.5 * b.1);
            bend.min(limit_mps * limit_mps)
        };
        let mut squares: Vec<f64> = (0..=count).map(bound).collect();
        (squares[0], squares[count]) = (0.0, 0.0);
        for i in 1..=count {
            squares[i] = squares[i].min(squares[i - 1] + 2.0 * 1.2 * step_m);
        }
        for i in (0..count).rev() {
            squares[i] = squares[i].min(squares[i + 1] + 2.0 * 1.3 * step_m);
        }
        let pass = |v: &[f64]| 2.0 * step_m / (v[0].sqrt() + v[1].sqrt());
        squares.windows(2).map(pass).sum()
    }
}

/// Points of a line that lie within a tolerance of it are left out (Douglas and Peucker, Algorithms for
/// the reduction of the number of points required to represent a digitized line, 1973; from memory).
fn simplified(places: &[(f64, f64)], tolerance_m: f64) -> Vec<(f64, f64)> {
    let (first, last) = (places[0], places[places.len() - 1]);
    let (x, y) = (last.0 - first.0, last.1 - first.1);
    let off = |p: &(f64, f64)| ((p.0 - first.0) * y - (p.1 - first.1) * x).abs() / x.hypot(y);
    let inner = 1..places.len() - 1;
    let furthest = inner.max_by(|a, b| off(&places[*a]).total_cmp(&off(&places[*b])));
    match furthest {
        Some(i) if off(&places[i]) > tolerance_m => {
            let mut kept = simplified(&places[..=i], tolerance_m);
            kept.pop();
            kept.extend(simplified(&places[i..], tolerance_m));
            kept
        }
        _ => vec![first, last],
    }
}

const WINDING: [(f64, f64); 6] =
    [(15.0, 90.0), (30.0, 90.0), (60.0, 90.0), (100.0, 60.0), (200.0, 60.0), (400.0, 40.0)];

/// However densely a road is drawn and however many decimals its positions have, it takes the time of
/// its closed form, and no planner's points scatter.
#[test]
fn spacing_and_decimals_hardly_change_the_time() {
    for (radius_m, turn_deg) in WINDING {
        let road = Winding { radius_m, turn_rad: f64::to_radians(turn_deg) };
        for spacing_m in [2.0, 5.0, 10.0, 20.0, 50.0] {
            let places = drawn(&road.places_m(spacing_m));
            for decimals in [5, 6, 7] {
                let case = format!("R {radius_m} m by {spacing_m} m, {decimals} decimals");
                let loaded = at(limit(80.0), "r.gpx", &rounded(&places, decimals)).unwrap();
                let longer = loaded.schedule.duration_s() / road.duration_s(80.0 / 3.6) - 1.0;
                // A tight bend is known to a metre or two where its positions are.
                let most = if radius_m < 20.0 && decimals == 5 { 0.15 } else { 0.1 };
                assert!(longer.abs() < most, "{case}: {longer}");
                assert!(!loaded.notes.iter().any(|note| note.contains("scatter")), "{case}");
                if spacing_m <= radius_m / 3.0 {
                    let length = loaded.schedule.distance_m() / road.length_m() - 1.0;
                    assert!(length.abs() < 0.01, "{case}: {length} longer");
                }
            }
        }
    }
}

/// A straight is never slowed by the rounding of its positions, whatever its heading.
#[test]
fn rounding_alone_is_no_bend() {
    for heading in [0.0, 0.01, 0.3, 0.7, 1.2, 1.57] {
        for spacing_m in [1.0, 2.0, 3.0, 5.0, 20.0] {
            let count = (3000.0 / spacing_m) as u32;
            let place = |i| {
                (
                    spacing_m * f64::from(i) * f64::sin(heading),
                    spacing_m * f64::from(i) * f64::cos(heading),
                )
            };
            let places = drawn(&(0..=count).map(place).collect::<Vec<_>>());
            for decimals in [5, 6, 7] {
                let case = format!("{heading} rad by {spacing_m} m, {decimals} decimals");
                let road = at(limit(130.0), "r.gpx", &rounded(&places, decimals)).unwrap();
                assert_eq!(road.held.unwrap().bend_s, 0.0, "{case}");
                let length = road.schedule.distance_m() / (spacing_m * f64::from(count)) - 1.0;
                assert!(length.abs() < 0.002, "{case}: {length} longer");
            }
        }
    }
}

/// A line that was simplified is driven as the road was.
#[test]
fn simplified_roads_take_as_long() {
    for (radius_m, turn_deg) in WINDING {
        let road = Winding { radius_m, turn_rad: f64::to_radians(turn_deg) };
        for tolerance_m in [1.0, 3.0, 5.0, 10.0] {
            // A right angle of two points alone is a corner of streets.
            if tolerance_m > 0.2 * radius_m {
                continue;
            }
            let places = drawn(&simplified(&road.places_m(1.0), tolerance_m));
            let loaded = at(limit(80.0), "r.gpx", &rounded(&places, 6)).unwrap();
            let longer = loaded.schedule.duration_s() / road.duration_s(80.0 / 3.6) - 1.0;
            let case = format!("R {radius_m} m simplified by {tolerance_m} m");
            assert!(longer.abs() < 0.15, "{case}: {longer}");
            assert!(!loaded.notes.iter().any(|note| note.contains("scatter")), "{case}");
        }
    }
}

/// Streets at right angles keep their corners and their length: each turn is a bend of 3 m from its
/// corner, `v = √(2.5 m/s²·7.2 m)`.
#[test]
fn streets_keep_their_corners() {
    let blocks = [(0.0, 0.0), (0.0, 180.0), (90.0, 180.0), (90.0, 400.0), (370.0, 400.0)];
    let more = [(370.0, 250.0), (500.0, 250.0), (500.0, 80.0), (800.0, 80.0), (800.0, 300.0)];
    let corners: Vec<(f64, f64)> = blocks.into_iter().chain(more).chain([(950.0, 300.0)]).collect();
    let mut between: Vec<(f64, f64)> = vec![corners[0]];
    for pair in corners.windows(2) {
        let (x, y) = (pair[1].0 - pair[0].0, pair[1].1 - pair[0].1);
        let parts = (x.hypot(y) / 40.0).floor();
        between.extend((1..=parts as u32).map(|i| {
            let share = f64::from(i) / parts;
            (pair[0].0 + share * x, pair[0].1 + share * y)
        }));
    }
    for places in [&corners, &between] {
        let road = driven(&drawn(places), limit(50.0));
        let mut at_m = 0.0;
        for pair in corners.windows(2).take(corners.len() - 2) {
            at_m += (pair[1].0 - pair[0].0).hypot(pair[1].1 - pair[0].1);
            let slowest = slowest_mps(&road, at_m - 15.0, at_m + 15.0);
            assert!((slowest / 4.25 - 1.0).abs() < 0.05, "at {at_m} m: {slowest} m/s");
        }
        assert!((road.schedule.distance_m() / (at_m + 150.0) - 1.0).abs() < 0.001);
        assert!(!road.notes.iter().any(|note| note.contains("scatter")), "{:?}", road.notes);
    }
}

/// Along a clothoid curvature grows evenly, κ = s/A²: where it holds the speed, that is √(a/κ).
#[test]
fn a_clothoid_slows_as_its_curvature_grows() {
    let (a2, length_m) = (100.0 * 100.0, 400.0);
    let (mut east, mut north) = (0.0, 0.0);
    let mut places = vec![(0.0, -300.0), (0.0, 0.0)];
    for i in 0..4000 {
        let heading = f64::powi((f64::from(i) + 0.5) * 0.1, 2) / (2.0 * a2);
        (east, north) = (east + 0.1 * heading.sin(), north + 0.1 * heading.cos());
        if (i + 1) % 100 == 0 {
            places.push((east, north));
        }
    }
    let sideways = 2.5;
    let pace = Pace { bends_mps2: Some(sideways), ..limit(120.0) };
    let road = driven(&drawn(&places), pace);
    let found = road.schedule.distances_m();
    let mut seen = 0;
    for (m, mps) in found.iter().zip(&road.schedule.speed_mps) {
        let s = m - 300.0;
        if (150.0..length_m - 60.0).contains(&s) {
            let expected = (sideways * a2 / s).sqrt();
            // Speed holds over 10 m of road, within which curvature grows.
            assert!((mps / expected - 1.0).abs() < 0.06, "at {s} m: {mps} m/s, not {expected}");
            seen += 1;
        }
    }
    assert!(seen > 10);
}

/// A corner of two straight lines is a bend of 3 m from it: `R = 3 m/(1/cos 45° − 1) = 7.2 m`.
#[test]
fn a_corner_is_turned_slowly_and_a_wide_bend_is_not() {
    let corner = drawn(&[(0.0, 0.0), (0.0, 500.0), (500.0, 500.0)]);
    let road = driven(&corner, Pace { bends_mps2: Some(2.5), ..limit(80.0) });
    let slowest = slowest_mps(&road, 300.0, 700.0);
    assert!((slowest - (2.5 * 3.0 / (2.0_f64.sqrt() - 1.0)).sqrt()).abs() < 0.1, "{slowest}");
    let held = road.held.unwrap();
    assert!(held.bend_s > 5.0 && held.stop_s > 5.0 && held.limit_s > 8.0, "{held:?}");
    let sum = held.bend_s + held.stop_s + held.limit_s + held.speeding_up_s;
    assert!((sum - road.schedule.duration_s()).abs() < 1e-3);
    let note = "Bends are taken at 2.5 m/s² sideways; the tightest has a radius of 7 m, at 0.5 km.";
    assert!(road.notes.iter().any(|own| own == note), "{:?}", road.notes);
    // 5° every 60 m is a radius of 690 m: 149 km/h.
    let wide: Vec<(f64, f64)> = (0..20)
        .scan((0.0, 0.0), |at, i| {
            let heading = (5.0 * f64::from(i)).to_radians();
            *at = (at.0 + 60.0 * heading.sin(), at.1 + 60.0 * heading.cos());
            Some(*at)
        })
        .collect();
    let road = driven(&drawn(&wide), limit(100.0));
    assert!((held_kmh(&road) - 100.0).abs() < 1e-6);
    assert_eq!(road.held.unwrap().bend_s, 0.0);
}

fn slowest_mps(road: &LoadedRoad, from_m: f64, to_m: f64) -> f64 {
    let places = road.schedule.distances_m();
    let inner = places.iter().zip(&road.schedule.speed_mps);
    let inner = inner.filter(|(m, _)| (from_m..to_m).contains(*m));
    inner.map(|(_, mps)| *mps).fold(f64::INFINITY, f64::min)
}

/// Distance and elevation alone, at limits by distance and with a stop: the times of constant
/// acceleration, 1.2 m/s² up and 1.3 m/s² down.
#[test]
fn distances_alone_are_driven_at_stated_limits() {
    let table = "distance_km,elevation_m\n0,100\n2,140\n3,140\n";
    let pace = Pace {
        limit_mps: Some(20.0),
        sections: vec![Section { from_m: 1000.0, to_m: 2000.0, limit_mps: 10.0 }],
        stops: vec![(2500.0, 30.0)],
        ..Pace::default()
    };
    let road = at(pace.clone(), "plain.csv", table).unwrap();
    let (up, down) = (1.2, 1.3);
    let change_s = |a: f64| 10.0 / a;
    let change_m = |a: f64| (20.0 * 20.0 - 10.0 * 10.0) / (2.0 * a);
    let (rest_s, rest_m) = (|a: f64| 20.0 / a, |a: f64| 200.0 / a);
    let first = rest_s(up) + change_s(down) + (1000.0 - rest_m(up) - change_m(down)) / 20.0;
    let third = change_s(up) + rest_s(down) + (500.0 - change_m(up) - rest_m(down)) / 20.0;
    let fourth = rest_s(up) + rest_s(down) + (500.0 - rest_m(up) - rest_m(down)) / 20.0;
    let expected_s = first + 100.0 + third + 30.0 + fourth;
    assert!((road.schedule.duration_s() - expected_s).abs() < 1e-6);
    assert!((road.schedule.climb_m() - 40.0).abs() < 1e-6);
    assert_eq!(road.schedule.stops(), 2);
    assert!(road.notes[0].starts_with("What held the speed: the limit for "), "{:?}", road.notes);
    // The same as a table that states all of it.
    let stated = "distance_m,limit_kmh,elevation_m,stop_s\n0,72,100,0\n1000,36,120,0\n\
                  2000,72,140,0\n2500,72,140,30\n3000,72,140,0\n";
    let same = at(Pace::default(), "stated.csv", stated).unwrap().schedule;
    assert!((same.duration_s() - expected_s).abs() < 1e-6);
    assert!((same.climb_m() - 40.0).abs() < 1e-6);
}

/// Positions with limits, stops and a steep elevation in columns; a map may be as steep as 20 %.
#[test]
fn a_table_of_positions_is_a_road() {
    let mut text = "latitude_deg,longitude_deg,limit_kmh,elevation_m,stop_s\n".to_owned();
    for i in 0..=100 {
        let (latitude, longitude) = there(HOME, 20.0 * f64::from(i), 90.0);
        let height = 700.0 + 0.17 * (20.0 * f64::from(i) - 600.0).clamp(0.0, 600.0);
        let (limit, stop) = (if i < 50 { 50 } else { 80 }, if i == 50 { 9 } else { 0 });
        writeln!(text, "{latitude:.8},{longitude:.8},{limit},{height:.0},{stop}").unwrap();
    }
    let road = at(Pace::default(), "positions.csv", &text).unwrap();
    assert!((road.schedule.distance_m() - 2000.0).abs() < 1.0);
    assert!((road.schedule.climb_m() - 102.0).abs() < 4.0, "{}", road.schedule.climb_m());
    assert_eq!(road.schedule.stops(), 2);
    assert!(road.schedule.peak_speed_mps() > 79.0 / 3.6);
    assert!(slowest_mps(&road, 500.0, 900.0) > 49.0 / 3.6);
    let east = |along: &Along| (along.heading_rad.unwrap() - 90.0_f64.to_radians()).abs() < 0.01;
    assert!(road.schedule.along.iter().all(east));
    let refused = at(limit(60.0), "positions.csv", &text).unwrap_err();
    assert!(refused.contains("a limit was stated besides"), "{refused}");
}

#[test]
fn wind_along_a_road_is_that_against_its_way() {
    let road = |columns: &str, cells: &str| {
        let rows: String = (0..=3).map(|i| format!("{},50,{cells}\n", 500 * i)).collect();
        at(Pace::default(), "wind.csv", &format!("distance_m,limit_kmh,{columns}\n{rows}"))
    };
    // From the south-west at 36 km/h: to the south it is against the way by its half root.
    let south = road("heading_deg,wind_kmh,wind_from_deg,air_c", "180,36,225,-3").unwrap();
    for along in &south.schedule.along {
        assert!((along.head_wind_mps.unwrap() - 10.0 * 0.5_f64.sqrt()).abs() < 1e-9);
        assert_eq!(along.air_k, Some(270.15));
    }
    let note = "The air and wind along this road stand in its file";
    assert!(south.notes.iter().any(|own| own.starts_with(note)), "{:?}", south.notes);
    let back = south.schedule.reversed();
    assert!((back.along[0].head_wind_mps.unwrap() + 10.0 * 0.5_f64.sqrt()).abs() < 1e-9);
    let head = road("head_wind_kmh", "-18").unwrap();
    assert_eq!(head.schedule.along[0].head_wind_mps, Some(-5.0));
    for (columns, cells, expected) in [
        ("wind_kmh,wind_from_deg", "36,225", "needs positions or heading_deg"),
        ("wind_kmh,heading_deg", "36,225", "only both of wind_kmh and wind_from_deg"),
        ("wind_kmh,wind_from_deg,head_wind_kmh", "36,225,3", "only one of head_wind_kmh"),
        ("air_c", "90", "air_c is `90`, and -40 to 55 °C is needed"),
        ("head_wind_kmh", "-200", "head_wind_kmh is `-200`, and -100 to 100 km/h is needed"),
    ] {
        let refused = road(columns, cells).unwrap_err();
        assert!(refused.contains(expected) && !refused.contains('\n'), "{refused}");
    }
}

#[test]
fn what_cannot_be_driven_at_a_pace_is_refused_in_one_sentence() {
    let positions = "latitude_deg,longitude_deg\n46,9\n46.01,9\n";
    let plain = "distance_km,elevation_m\n0,1\n4,5\n";
    let far = Pace { stops: vec![(9000.0, 5.0)], ..limit(50.0) };
    let gap = Pace {
        sections: vec![Section { from_m: 0.0, to_m: 3000.0, limit_mps: 10.0 }],
        ..Pace::default()
    };
    let beyond = Pace {
        sections: vec![Section { from_m: 5000.0, to_m: 9000.0, limit_mps: 10.0 }],
        ..limit(50.0)
    };
    let cases = [
        (Pace::default(), "a.csv", positions, "a limit is needed, such as `--limit 80km/h`"),
        (Pace::default(), "a.csv", plain, "or a limit is needed, such as `--limit 80km/h`"),
        (far, "a.csv", plain, "a stop is at 9 km, and the road is 4 km long"),
        (gap, "a.csv", plain, "from 3 km to 4 km no speed limit is stated"),
        (beyond, "a.csv", plain, "a limit begins at 5 km, and the road is 4 km long"),
        (
            limit(50.0),
            "a.csv",
            "time_s,speed_kmh\n0,0\n9,9\n",
            "has times and is driven as it stands",
        ),
        (limit(50.0), "a.csv", "distance_m,speed_kmh\n0,9\n9,9\n", "has speeds and is driven as"),
        (
            limit(50.0),
            "a.csv",
            "latitude_deg,longitude_deg\n46,9\n46,9\n",
            "is 0 m long, and 1 m to",
        ),
        (limit(50.0), "a.gpx", "<gpx><rte/></gpx>", "has 0 track points and 0 route points"),
    ];
    for (pace, name, text, expected) in cases {
        let refused = at(pace, name, text).expect_err(expected);
        assert!(refused.contains(expected) && !refused.contains('\n'), "{expected}: {refused}");
    }
}

/// A random road of bends and straights.
fn roads() -> impl Strategy<Value = Vec<(f64, f64)>> {
    prop::collection::vec((10.0..400.0_f64, -1.2..1.2_f64), 3..40).prop_map(|pieces| {
        let step = |at: &mut (f64, f64, f64), (length_m, turn): (f64, f64)| {
            *at = (at.0 + length_m * at.2.sin(), at.1 + length_m * at.2.cos(), at.2 + turn);
            Some((at.0, at.1))
        };
        let places = pieces.into_iter().scan((0.0, 0.0, 0.4), step);
        drawn(&std::iter::once((0.0, 0.0)).chain(places).collect::<Vec<_>>())
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, rng_seed: RngSeed::Fixed(20_261_127), ..ProptestConfig::default() })]

    /// A lower limit is never quicker, and more in bends never slower; nobody goes faster than either
    /// allows, and the way back takes as long.
    #[test]
    fn slower_limits_and_calmer_bends_take_longer(
        points in roads(),
        kmh in 30.0..120.0_f64,
        less in 0.4..1.0_f64,
        sideways in 1.0..4.0_f64,
        more in 1.0..2.0_f64,
    ) {
        let pace = |kmh, sideways| Pace { bends_mps2: Some(sideways), ..limit(kmh) };
        let plain = driven(&points, pace(kmh, sideways)).schedule;
        let limited = driven(&points, pace(less * kmh, sideways)).schedule;
        let bold = driven(&points, pace(kmh, more * sideways)).schedule;
        prop_assert!(limited.duration_s() >= plain.duration_s() - 1e-6);
        prop_assert!(bold.duration_s() <= plain.duration_s() + 1e-6);
        prop_assert!(plain.peak_speed_mps() <= kmh / 3.6 + 1e-9);
        prop_assert!((plain.distance_m() - bold.distance_m()).abs() < 1e-6);
        let back: Vec<(f64, f64)> = points.iter().rev().copied().collect();
        let even = cycles::Comfort { acceleration_mps2: 1.3, braking_mps2: 1.3 };
        let both = [&points, &back].map(|points| {
            let options = LoadOptions { pace: pace(kmh, sideways), comfort: even, ..LoadOptions::default() };
            read(Path::new("r.gpx"), route(points).as_bytes(), &options).unwrap().schedule
        });
        prop_assert!((both[0].distance_m() - both[1].distance_m()).abs() < 0.01);
        // Pieces of 10 m, over which a bend's speed holds, are counted from the start.
        let longer = both[0].duration_s() / both[1].duration_s() - 1.0;
        prop_assert!(longer.abs() < 0.1, "{}", longer);
    }
}

/// Positions that creep, that stand, that go to and fro and around the Earth: a road or a sentence.
#[test]
fn odd_positions_are_a_road_or_a_sentence() {
    let creeping: Vec<(f64, f64)> = (0..4000).map(|i| (46.0 + 5e-8 * f64::from(i), 9.0)).collect();
    let road = driven(&creeping, limit(30.0));
    assert!((road.schedule.distance_m() - 22.2).abs() < 0.2);
    let to_and_fro: Vec<(f64, f64)> =
        (0..40).map(|i| (46.0 + 0.001 * f64::from(i % 2), 9.0)).collect();
    assert!(driven(&to_and_fro, limit(30.0)).schedule.duration_s() > 40.0);
    let around: Vec<(f64, f64)> =
        (0..400).map(|i| (80.0 * f64::from(i % 2), 9.0 * f64::from(i % 20))).collect();
    let refused = at(limit(30.0), "route.gpx", &route(&around)).unwrap_err();
    assert!(refused.contains("m long, and 1 m to 20000000 m is needed"), "{refused}");
    let pole = [(89.999, 0.0), (90.0, 0.0), (89.999, 180.0)];
    assert!((driven(&pole, limit(30.0)).schedule.distance_m() - 223.4).abs() < 1.0);
}
