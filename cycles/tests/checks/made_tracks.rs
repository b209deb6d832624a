//! Recorded elevations of roads of known climb, with the noise of receivers: made by NumPy and SciPy
//! (`made_tracks/make.py` made the file beside it), and random ones in closed form.

use cycles::{Cleaning, Columns, LoadOptions, LoadedRoad, read};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use std::f64::consts::PI;
use std::fmt::Write as _;
use std::path::Path;

const TRACKS: &str = include_str!("made_tracks/made_tracks.csv");

fn loaded(text: &str) -> LoadedRoad {
    let options = LoadOptions { columns: Columns::IgnoreUnknown, ..LoadOptions::default() };
    read(Path::new("made.csv"), text.as_bytes(), &options).unwrap()
}

/// The road of one column, at 20 m/s.
fn column(name: &str) -> Cleaning {
    let header = TRACKS.lines().find(|line| !line.starts_with('#')).unwrap();
    let at = header.split(',').position(|column| column == name).unwrap();
    let rows = TRACKS.lines().filter(|line| line.starts_with(|c: char| c.is_ascii_digit()));
    let mut text = "time_s,speed_mps,elevation_m\n".to_owned();
    for row in rows {
        let cells: Vec<&str> = row.split(',').collect();
        writeln!(text, "{},20,{}", cells[0], cells[at]).unwrap();
    }
    loaded(&text).cleaning.unwrap()
}

/// Hills of 1 km keep their climb within 5 %, whatever the receiver added to it.
#[test]
fn hills_of_1_km_keep_their_climb() {
    for line in TRACKS.lines().take_while(|line| line.starts_with('#')).skip(1) {
        let words: Vec<&str> = line.split_whitespace().collect();
        let [name, climb_m, descent_m] = [1, 2, 3].map(|i| words[i]);
        let (climb_m, descent_m): (f64, f64) =
            (climb_m.parse().unwrap(), descent_m.parse().unwrap());
        let found = column(name);
        println!("{name}: {climb_m} m up, {found:.1?}");
        if climb_m > 0.0 {
            let off = |found: f64, made: f64| (found / made - 1.0).abs();
            assert!(off(found.climb_after_m, climb_m) <= 0.05, "{name}: {found:?}");
            assert!(off(found.descent_after_m, descent_m) <= 0.05, "{name}: {found:?}");
        }
        assert_eq!(found.interpolation.stretches, 0, "{name}");
        assert_eq!(found.points_rejected, 0, "{name}");
    }
}

/// What a receiver adds to 20 km of level road: its noise climbs 30 times as much as is left.
#[test]
fn noise_does_not_climb() {
    for (name, most_m) in [("level_uniform_3", 35.0), ("level_drift", 60.0)] {
        let found = column(name);
        assert!(found.climb_after_m < most_m, "{name}: {found:?}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, rng_seed: RngSeed::Fixed(20_261_127), ..ProptestConfig::default() })]

    /// Hills of any height from 10 m, steep to 10 %, 1 to 3 km from valley to valley, driven at any
    /// speed, to whole metres or centimetres: the climb is kept within 5 %, and the height at the ends.
    #[test]
    fn random_hills_keep_their_climb_and_ends(
        wave_m in 1000.0..3000.0f64,
        grade in 0.04..0.10f64,
        speed_mps in 5.0..35.0f64,
        start in 0.0..1.0f64,
        whole in any::<bool>(),
    ) {
        let high_m = grade * wave_m / PI;
        let height_m = |at_m: f64| high_m * (PI * (at_m / wave_m + start)).sin().powi(2);
        let seconds = (8.0 * wave_m / speed_mps).ceil() as usize;
        let mut text = "time_s,speed_mps,elevation_m\n".to_owned();
        let (mut climb_m, mut before_m) = (0.0, height_m(0.0));
        for second in 0..=seconds {
            let height_m = height_m(speed_mps * second as f64);
            climb_m += f64::max(height_m - before_m, 0.0);
            before_m = height_m;
            let digits = if whole { 0 } else { 2 };
            writeln!(text, "{second},{speed_mps},{height_m:.digits$}").unwrap();
        }
        let cleaning = loaded(&text).cleaning.unwrap();
        prop_assert!((cleaning.climb_after_m / climb_m - 1.0).abs() <= 0.05, "{climb_m} {cleaning:?}");
        let net_m = height_m(speed_mps * seconds as f64) - height_m(0.0);
        let found_m = cleaning.climb_after_m - cleaning.descent_after_m;
        prop_assert!((net_m - found_m).abs() < 2.5, "{net_m} {found_m}");
        prop_assert_eq!(cleaning.interpolation.stretches, 0);
    }
}

/// A drive whose speed wavers between 6 and 22 m/s, over hills of 2 km; heights as they are given.
fn wavering(heights_m: impl Fn(usize, f64) -> f64, digits: usize) -> LoadedRoad {
    let mut text = "time_s,speed_mps,elevation_m\n".to_owned();
    let mut at_m = 0.0;
    for second in 0..=1000 {
        let speed_mps = |second: f64| 14.0 + 8.0 * (second / 25.0).sin();
        if second > 0 {
            at_m += 0.5 * (speed_mps(second as f64) + speed_mps(second as f64 - 1.0));
        }
        let speed_mps = speed_mps(second as f64);
        writeln!(text, "{second},{speed_mps:.4},{:.digits$}", heights_m(second, at_m)).unwrap();
    }
    loaded(&text)
}

fn hill_m(at_m: f64) -> f64 {
    500.0 + 30.0 * (PI * at_m / 2000.0).sin().powi(2)
}

/// Where the clock and not the road leads the height, it was interpolated: it is told and bridged.
#[test]
fn heights_interpolated_over_a_drop_out_are_told() {
    let (from, to) = (400, 520);
    let clock = |second: usize| (second as f64 - from as f64) / (to - from) as f64;
    for digits in [1, 2] {
        let plain = wavering(|_, at_m| hill_m(at_m), digits);
        assert_eq!(plain.cleaning.unwrap().interpolation.stretches, 0);
        let drop_out = |second: usize, at_m: f64| {
            if (from..=to).contains(&second) { 510.0 + 18.0 * clock(second) } else { hill_m(at_m) }
        };
        let road = wavering(drop_out, digits);
        let found = road.cleaning.unwrap().interpolation;
        assert_eq!(found.stretches, 1, "{found:?}");
        assert!((found.climb_m - 18.0).abs() < 1.5 && found.descent_m == 0.0, "{found:?}");
        let distances_m = road.schedule.distances_m();
        let near = |found_m: f64, second: usize| (found_m - distances_m[second]).abs() < 50.0;
        assert!(near(found.longest_m.0, from) && near(found.longest_m.1, to), "{found:?}");
        assert!(
            road.notes.iter().any(|note| note.contains("interpolated over a drop-out: 1 with"))
        );
    }
}

/// At a steady speed clock and road agree; there an exact line within a noisy recording tells it.
/// A slope that is even all along is a slope.
#[test]
fn an_exact_line_within_noise_was_interpolated() {
    let mut text = "time_s,speed_mps,elevation_m\n".to_owned();
    let (mut even, mut state) = (text.clone(), 7_u64);
    for second in 0..=900_u32 {
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let noise_m = 2.0 * ((state >> 11) as f64 / (1_u64 << 52) as f64 - 1.0);
        let height_m = match second {
            300..=500 => 500.0 + 0.2 * f64::from(second - 300),
            _ => hill_m(18.0 * f64::from(second)) + noise_m,
        };
        writeln!(text, "{second},18,{height_m:.1}").unwrap();
        writeln!(even, "{second},18,{:.1}", 0.5 * f64::from(second)).unwrap();
    }
    let found = loaded(&text).cleaning.unwrap().interpolation;
    assert_eq!(found.stretches, 1);
    assert!((found.climb_m - 40.0).abs() < 3.0, "{found:?}");
    assert_eq!(loaded(&even).cleaning.unwrap().interpolation.stretches, 0);
}

/// A receiver that lost its height fell to 0 in a straight line, and came back in another: neither is
/// a valley of 500 m.
#[test]
fn a_line_to_a_height_that_was_lost_is_no_valley() {
    let lost = |second: usize, at_m: f64| match second {
        400..460 => 510.0 - 8.5 * (second - 400) as f64,
        460..=520 => 8.5 * (second - 460) as f64,
        _ => hill_m(at_m),
    };
    let cleaning = wavering(lost, 1).cleaning.unwrap();
    let plain = wavering(|_, at_m| hill_m(at_m), 1).cleaning.unwrap();
    assert!(cleaning.climb_before_m > plain.climb_before_m + 450.0);
    assert!(cleaning.climb_after_m < plain.climb_after_m + 1.0, "{plain:?} {cleaning:?}");
    assert!(cleaning.climb_after_m > plain.climb_after_m - 31.0, "{plain:?} {cleaning:?}");
    assert_eq!(cleaning.interpolation.stretches, 2);
}

/// A receiver that gives a new height every 30 s, and the last one until then: a stair of 20 m is a
/// slope.
#[test]
fn a_stair_of_held_heights_is_a_slope() {
    let text: String =
        (0..=600).map(|second| format!("{second},20,{}\n", 100 + 30 * (second / 30))).collect();
    let cleaning = loaded(&format!("time_s,speed_mps,elevation_m\n{text}")).cleaning.unwrap();
    assert!((cleaning.climb_after_m - 600.0).abs() < 1.0, "{cleaning:?}");
    assert_eq!((cleaning.interpolation.frozen, cleaning.steps_removed), (20, 0));
    assert!(cleaning.capped_m == 0.0 && cleaning.descent_after_m < 1.0, "{cleaning:?}");
}
