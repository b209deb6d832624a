//! GPX 1.1 tracks that the test makes itself: eastward along the equator, where a degree of
//! longitude is 2π·6 378 137 m/360 exactly (WGS 84), with a climb in closed form.

use std::f64::consts::TAU;
use std::fmt::Write as _;
use std::path::PathBuf;

use cycles::{LoadOptions, LoadedRoad, load};

const M_PER_DEG: f64 = TAU * 6_378_137.0 / 360.0;

/// Uniform noise in −1 to 1 from a seed (a linear congruential generator).
struct Noise(u64);

impl Noise {
    fn next(&mut self) -> f64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 52) as f64 - 1.0
    }
}

#[derive(Clone, Copy)]
struct Point {
    time_s: f64,
    east_m: f64,
    north_m: f64,
    elevation_m: Option<f64>,
}

fn gpx(points: &[Point]) -> String {
    let mut text = String::from(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n\
         <gpx version=\"1.1\" creator=\"test\" xmlns=\"http://www.topografix.com/GPX/1/1\">\n\
         <trk><trkseg>\n",
    );
    for point in points {
        let (latitude, longitude) = (point.north_m / M_PER_DEG, 10.0 + point.east_m / M_PER_DEG);
        write!(text, "<trkpt lat=\"{latitude:.9}\" lon=\"{longitude:.9}\">").unwrap();
        if let Some(elevation_m) = point.elevation_m {
            write!(text, "<ele>{elevation_m:.2}</ele>").unwrap();
        }
        // Whole milliseconds, so that no second is rounded up to 60.
        let ms = (point.time_s * 1000.0).round() as u64;
        let (day, hour) = (1 + ms / 86_400_000, ms / 3_600_000 % 24);
        let (minute, second) = (ms / 60_000 % 60, ms / 1000 % 60);
        let ms = ms % 1000;
        writeln!(
            text,
            "<time>2024-05-{day:02}T{hour:02}:{minute:02}:{second:02}.{ms:03}Z</time></trkpt>"
        )
        .unwrap();
    }
    text + "</trkseg></trk></gpx>\n"
}

fn file(name: &str, text: &str) -> PathBuf {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("gpx_tracks");
    std::fs::create_dir_all(&folder).unwrap();
    let path = folder.join(name);
    std::fs::write(&path, text).unwrap();
    path
}

fn read(name: &str, points: &[Point]) -> LoadedRoad {
    load(file(name, &gpx(points)), &LoadOptions::default()).unwrap()
}

fn refusal(name: &str, text: &str) -> String {
    load(file(name, text), &LoadOptions::default()).unwrap_err().to_string()
}

/// 20 km at 20 m/s over hills of 2 km: a·sin²(π·d/2 km) climbs a and falls a on each.
const HILL_M: f64 = 25.0;
const CLIMB_M: f64 = 10.0 * HILL_M;

fn hills() -> Vec<Point> {
    let at = |second: i32| {
        let east_m = 20.0 * f64::from(second);
        let elevation_m = 300.0 + HILL_M * (TAU / 2.0 * east_m / 2000.0).sin().powi(2);
        Point { time_s: f64::from(second), east_m, north_m: 0.0, elevation_m: Some(elevation_m) }
    };
    (0..=1000).map(at).collect()
}

fn assert_within(found: f64, expected: f64, share: f64) {
    let off = found / expected - 1.0;
    assert!(off.abs() <= share, "{found} is {:.1} % off {expected}", 100.0 * off);
}

#[test]
fn a_clean_track_keeps_its_length_speed_and_climb() {
    let loaded = read("hills.gpx", &hills());
    assert_within(loaded.schedule.distance_m(), 20_000.0, 1e-6);
    assert_eq!(loaded.schedule.duration_s(), 1000.0);
    assert!(loaded.schedule.speed_mps.iter().all(|v| (v - 20.0).abs() < 1e-3));
    let cleaning = loaded.cleaning.unwrap();
    assert_within(cleaning.climb_before_m, CLIMB_M, 0.001);
    // A spline that halves waves of 450 m lowers those of 2 km by (450/2000)⁴ = 0.3 %.
    assert_within(cleaning.climb_after_m, CLIMB_M, 0.005);
    assert_within(cleaning.descent_after_m, CLIMB_M, 0.005);
    assert!((loaded.schedule.climb_m() - cleaning.climb_after_m).abs() < 1e-9);
    assert_eq!(cleaning.points_rejected, 0);
    assert_eq!(cleaning.gaps_filled, 0);
    assert_eq!(cleaning.capped_m, 0.0);
}

/// The noise of ±3 m multiplies the recorded climb by four; cleaned, it is within 4 %.
#[test]
fn noise_of_3_m_does_not_climb() {
    for seed in 1..=10 {
        let mut noise = Noise(seed);
        let mut points = hills();
        for point in &mut points {
            point.elevation_m = point.elevation_m.map(|e| e + 3.0 * noise.next());
        }
        let cleaning = read("noise.gpx", &points).cleaning.unwrap();
        assert!(cleaning.climb_before_m > 3.0 * CLIMB_M);
        assert_within(cleaning.climb_after_m, CLIMB_M, 0.04);
        assert_within(cleaning.descent_after_m, CLIMB_M, 0.04);
    }
}

#[test]
fn noise_on_a_level_road_climbs_less_than_2_m_a_km() {
    for seed in 1..=10 {
        let mut noise = Noise(seed);
        let mut points = hills();
        for point in &mut points {
            point.elevation_m = Some(300.0 + 3.0 * noise.next());
        }
        let cleaning = read("level.gpx", &points).cleaning.unwrap();
        assert!(cleaning.climb_before_m > 900.0);
        assert!(cleaning.climb_after_m < 40.0, "{cleaning:?}");
    }
}

/// Drives 300 s at 15 m/s, stands 60 s, drives 300 s, with a wandering receiver.
#[test]
fn a_stand_still_is_one_though_the_receiver_wanders() {
    let mut noise = Noise(7);
    let (mut x, mut y) = (0.0, 0.0);
    let points: Vec<Point> = (0..=660)
        .map(|second| {
            // A random walk that is drawn back keeps within some metres, as receivers do.
            (x, y) = (0.97 * x + 0.3 * noise.next(), 0.97 * y + 0.3 * noise.next());
            let driven_s = second.min(300) + (second - 360).max(0);
            let east_m = 15.0 * f64::from(driven_s) + x;
            Point { time_s: f64::from(second), east_m, north_m: y, elevation_m: None }
        })
        .collect();
    let loaded = read("stop.gpx", &points);
    let standing = loaded.schedule.speed_mps[303..=357].iter().filter(|v| **v == 0.0).count();
    assert_eq!(standing, 55);
    assert_eq!(loaded.schedule.stops(), 1);
    assert_within(loaded.schedule.distance_m(), 9000.0, 0.005);
    assert_eq!(loaded.cleaning, None);
    assert!(loaded.notes.iter().any(|n| n.contains("the road is level")));
}

/// A constant acceleration passes through: 0 to 20 m/s at 1 m/s².
#[test]
fn an_acceleration_is_not_smeared() {
    let points: Vec<Point> = (0..=40)
        .map(|second| {
            let t = f64::from(second);
            let east_m = if t < 20.0 { 0.5 * t * t } else { 200.0 + 20.0 * (t - 20.0) };
            Point { time_s: t, east_m, north_m: 0.0, elevation_m: None }
        })
        .collect();
    let schedule = read("acceleration.gpx", &points).schedule;
    for second in 3..=17 {
        assert!((schedule.speed_mps[second] - second as f64).abs() < 1e-3);
    }
    assert_within(schedule.distance_m(), 600.0, 0.01);
}

#[test]
fn duplicates_leaps_and_missing_elevations_are_passed_over() {
    let mut points = hills();
    for i in [100, 200, 201] {
        points[i].elevation_m = None;
    }
    points[300].north_m = 5000.0;
    points.insert(400, points[400]);
    points.insert(500, Point { elevation_m: Some(0.0), ..points[500] });
    let loaded = read("faults.gpx", &points);
    assert_within(loaded.schedule.distance_m(), 20_000.0, 1e-5);
    assert_within(loaded.cleaning.unwrap().climb_after_m, CLIMB_M, 0.05);
    assert_eq!(
        loaded.notes[0],
        "Points that repeat a time or leap faster than 324 km/h, left out: 3."
    );
}

/// A tunnel of 1 km at constant speed, and a drop-out of 2 km to sea level.
#[test]
fn tunnels_and_drop_outs_are_bridged() {
    let mut points = hills();
    for point in &mut points[600..700] {
        point.elevation_m = Some(0.0);
    }
    points.drain(225..275);
    let loaded = read("tunnel.gpx", &points);
    assert_within(loaded.schedule.distance_m(), 20_000.0, 1e-6);
    assert!(
        loaded.notes[0].starts_with("Silences of more than 10 s")
            && loaded.notes[0].ends_with("speed: 1."),
        "{:?}",
        loaded.notes
    );
    let cleaning = loaded.cleaning.unwrap();
    assert_eq!(cleaning.points_rejected, 100);
    assert_eq!(cleaning.gaps_filled, 2);
    // The drop-out hides one hill of ten; the tunnel, from 500 m to 1500 m of a hill, half of one.
    assert!(cleaning.climb_before_m > CLIMB_M + 250.0);
    let hidden_m = 1.5 * HILL_M;
    assert_within(cleaning.climb_after_m, CLIMB_M - hidden_m, 0.06);
    assert!((cleaning.climb_after_m - cleaning.descent_after_m).abs() < 2.0);
}

/// A barometer that is set anew by 200 m on a steady climb of 3 % loses nothing of it.
#[test]
fn a_step_that_stays_is_taken_out() {
    let mut points = hills();
    for (i, point) in points.iter_mut().enumerate() {
        let step_m = if i > 600 { 200.0 } else { 0.0 };
        point.elevation_m = Some(0.03 * point.east_m + step_m);
    }
    let cleaning = read("step.gpx", &points).cleaning.unwrap();
    assert_eq!(cleaning.steps_removed, 1);
    assert_within(cleaning.climb_after_m, 600.0, 0.01);
    assert!(cleaning.descent_after_m < 0.1);
}

/// An elevation that freezes for 3 km of a 3 % climb and then catches up keeps its net height.
#[test]
fn a_frozen_elevation_that_catches_up_keeps_the_height() {
    let mut points = hills();
    for (i, point) in points.iter_mut().enumerate() {
        let frozen = if (300..450).contains(&i) { 6000.0 } else { point.east_m };
        point.elevation_m = Some(0.03 * frozen);
    }
    let cleaning = read("frozen.gpx", &points).cleaning.unwrap();
    assert_within(cleaning.climb_after_m - cleaning.descent_after_m, 600.0, 0.01);
    assert!(cleaning.descent_after_m < 1.0);
    assert_eq!(cleaning.capped_m, 0.0);
}

/// A climb of 20 % over 300 m is no road of a car's recording: it is stretched to 12 %.
#[test]
fn the_grade_is_capped_and_the_height_is_kept() {
    let mut points = hills();
    for point in &mut points {
        point.elevation_m = Some(0.2 * (point.east_m - 10_000.0).clamp(0.0, 300.0));
    }
    let loaded = read("steep.gpx", &points);
    let cleaning = loaded.cleaning.unwrap();
    assert!(cleaning.capped_m > 100.0);
    assert!(loaded.schedule.slope.iter().all(|s| s.abs() <= 0.12 + 1e-9));
    assert_within(cleaning.climb_after_m, 60.0, 0.04);
}

/// 24 hours at nearly six points a second.
#[test]
fn half_a_million_points_are_read() {
    let count = 500_000;
    let points: Vec<Point> = (0..count)
        .map(|i| {
            let time_s = 86_400.0 * f64::from(i) / f64::from(count - 1);
            let east_m = 15.0 * time_s;
            let elevation_m = Some(100.0 + 50.0 * (TAU * east_m / 10_000.0).sin());
            Point { time_s, east_m, north_m: 0.0, elevation_m }
        })
        .collect();
    let loaded = read("day.gpx", &points);
    assert_within(loaded.schedule.duration_s(), 86_400.0, 1e-4);
    assert_within(loaded.schedule.distance_m(), 15.0 * 86_400.0, 1e-4);
    // 129.6 waves, each of which climbs 100 m.
    assert_within(loaded.cleaning.unwrap().climb_after_m, 12_960.0, 0.01);
}

#[test]
fn what_is_no_timed_track_is_refused_in_one_sentence() {
    let good = gpx(&hills()[..3]);
    let untimed: String = good
        .lines()
        .map(|l| match l.find("<time>") {
            Some(at) => l[..at].to_owned() + "</trkpt>\n",
            None => l.to_owned() + "\n",
        })
        .collect();
    let cases = [
        (
            "untimed.gpx",
            untimed,
            "has 3 points and no times, and times are needed, or else a speed limit such as `--limit 80km/h`",
        ),
        (
            "route.gpx",
            "<gpx version=\"1.1\"><rte><rtept lat=\"1\" lon=\"2\"/></rte></gpx>".to_owned(),
            "has 0 track points and 1 route points, and 2 or more track points are needed",
        ),
        (
            "backwards.gpx",
            gpx(&[hills()[0], hills()[9], hills()[5]]),
            "backwards.gpx:6: trkpt: time 5 s is before the 9 s of the point before",
        ),
        (
            "brief.gpx",
            gpx(&[hills()[0], Point { time_s: 0.5, east_m: 1.0, ..hills()[0] }]),
            "the track lasts 0.5 s, and 1 s to a week is needed",
        ),
        (
            "leaps.gpx",
            gpx(&[
                hills()[0],
                Point { time_s: 1.0, ..hills()[200] },
                Point { time_s: 2.0, ..hills()[400] },
            ]),
            "2 of 3 points repeat a time or leap faster than 324 km/h",
        ),
        (
            "latitude.gpx",
            good.replace("lat=\"0.0", "lat=\"91.0"),
            "latitude.gpx:4: lat of trkpt is `91.000000000`, and -90 to 90 degrees is needed",
        ),
        ("nan.gpx", good.replacen("lat=\"0.000000000", "lat=\"NaN", 1), "lat of trkpt is `NaN`"),
        (
            "truncated.gpx",
            good[..good.len() - 30].to_owned(),
            "truncated.gpx:6: cannot be read as GPX: ",
        ),
        ("empty.gpx", String::new(), "cannot be read as GPX: it has no element gpx"),
        ("other.gpx", "<kml/>".to_owned(), "its outermost element is kml, not gpx"),
    ];
    for (name, text, expected) in cases {
        let sentence = refusal(name, &text);
        assert!(sentence.contains(expected) && !sentence.contains('\n'), "{sentence}");
    }
}
