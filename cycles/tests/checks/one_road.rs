//! Files without times that hold more than one road, or jump, and heights in coarse steps or by distances
//! alone: held to the one road that was written and to closed forms, along a meridian whose length is that
//! of `geographiclib-rs`.

use cycles::{LoadOptions, LoadedRoad, Pace, read};
use geographiclib_rs::{DirectGeodesic, Geodesic};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use std::f64::consts::TAU;
use std::fmt::Write as _;
use std::path::Path;

fn at_80(name: &str, text: &str) -> Result<LoadedRoad, String> {
    let pace = Pace { limit_mps: Some(80.0 / 3.6), ..Pace::default() };
    let options = LoadOptions { pace, ..LoadOptions::default() };
    read(Path::new(name), text.as_bytes(), &options).map_err(|error| error.to_string())
}

/// Points so far north of home, m.
fn north(tag: &str, places_m: impl Iterator<Item = f64>) -> String {
    places_m.fold(String::new(), |mut text, m| {
        let (latitude, longitude): (f64, f64) = Geodesic::wgs84().direct(46.5, 9.8, 0.0, m);
        write!(text, "<{tag} lat=\"{latitude:.8}\" lon=\"{longitude:.8}\"/>").unwrap();
        text
    })
}

fn every(from_m: u32, to_m: u32, step_m: usize) -> impl DoubleEndedIterator<Item = f64> + Clone {
    let step_m = step_m as u32;
    (0..(to_m - from_m) / step_m + 1).map(move |i| f64::from(from_m + i * step_m))
}

/// A file of pieces, each a segment, a track or a route of its own.
fn file(kind: &str, pieces: &[&str]) -> String {
    let (before, after, point) = match kind {
        "segments" => ("<trkseg>", "</trkseg>", "trkpt"),
        "tracks" => ("</trk><trk><trkseg>", "</trkseg>", "trkpt"),
        _ => ("<rte>", "</rte>", "rtept"),
    };
    let all: String = pieces
        .iter()
        .map(|piece| format!("{before}{}{after}", piece.replace("point", point)))
        .collect();
    match kind {
        "routes" => format!("<gpx>{all}</gpx>"),
        _ => format!("<gpx><trk>{all}</trk></gpx>"),
    }
}

fn says(road: &LoadedRoad, what: &str) -> bool {
    road.notes.iter().any(|note| note.contains(what))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, rng_seed: RngSeed::Fixed(20_261_127), ..ProptestConfig::default() })]

    /// However it is cut into pieces, with what follows beginning where the one before ended or a point
    /// later, it is the one road; repeats and other ways there add nothing and are said.
    #[test]
    fn pieces_are_one_road_and_repeats_are_left_out(
        step_m in 10_usize..150,
        points in 24_u32..80,
        cut in 0.3..0.7_f64,
        shared in any::<bool>(),
        kind in prop_oneof![Just("segments"), Just("tracks"), Just("routes")],
    ) {
        let end_m = points * step_m as u32;
        let cut_m = (f64::from(points) * cut) as u32 * step_m as u32;
        let next_m = if shared { cut_m } else { cut_m + step_m as u32 };
        let whole = north("point", every(0, end_m, step_m));
        let (one, two) =
            (north("point", every(0, cut_m, step_m)), north("point", every(next_m, end_m, step_m)));
        let back = north("point", every(0, end_m, step_m).rev());
        let length_m = |pieces: &[&str], said: bool| {
            let road = at_80("a.gpx", &file(kind, pieces)).unwrap();
            assert_eq!(says(&road, "left out: 1"), said, "{:?}", road.notes);
            road.schedule.distance_m()
        };
        let near = |found: f64, expected: f64| assert!((found - expected).abs() < 2.0, "{found} {expected}");
        near(length_m(&[&whole], false), f64::from(end_m));
        near(length_m(&[&one, &two], false), f64::from(end_m));
        near(length_m(&[&whole, &whole], true), f64::from(end_m));
        near(length_m(&[&whole, &one], true), f64::from(end_m));
        // There and back is no repeat.
        prop_assert!(length_m(&[&whole, &back], false) > 1.9 * f64::from(end_m));
    }

    /// A gap of kilometres among points tens of metres apart is no road, between pieces or in one.
    #[test]
    fn a_jump_is_refused(
        step_m in 5_usize..90,
        jump_m in 2_500_u32..2_000_000,
        kind in prop_oneof![Just("segments"), Just("tracks"), Just("routes")],
    ) {
        let step = step_m as u32;
        let one = north("point", every(0, 50 * step, step_m));
        let two = north("point", every(50 * step + jump_m, 100 * step + jump_m, step_m));
        let whole = format!("{one}{two}");
        for pieces in [vec![one.as_str(), two.as_str()], vec![whole.as_str()]] {
            let error = at_80("a.gpx", &file(kind, &pieces)).unwrap_err();
            prop_assert!(error.contains("its points jump by"), "{}", error);
        }
    }

    /// Hills of 1 km, a·(1 − cos), whose heights a map states in steps: their climb is 2·a on each.
    #[test]
    fn coarse_steps_keep_hills(
        high_m in 12.0..28.0_f64,
        step_m in 3.0..8.0_f64,
        apart_m in 5_usize..25,
        offset_m in 0.0..10.0_f64,
    ) {
        let mut text = "distance_m,elevation_m\n".to_owned();
        for at_m in every(0, 12_000, apart_m) {
            let height_m = offset_m + high_m * (1.0 - (TAU * at_m / 1000.0).cos());
            writeln!(text, "{at_m},{:.2}", (height_m / step_m).round() * step_m).unwrap();
        }
        let road = at_80("a.csv", &text).unwrap();
        // Rounding takes or adds up to a step of each hill, and cleaning takes at most 15 %: what is left
        // is nearer to the hill than to its steps.
        let stated_m = road.cleaning.unwrap().climb_before_m;
        prop_assert!(stated_m > 24.0 * high_m - 12.5 * step_m);
        let off = road.schedule.climb_m() / stated_m - 1.0;
        prop_assert!(off.abs() < 0.15, "{off}: a {high_m}, steps {step_m}, points {apart_m}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, rng_seed: RngSeed::Fixed(20_261_127), ..ProptestConfig::default() })]

    /// Hills of 1 km and more, a·(1 − cos), up to as steep as 18 %, of which a planner left points on crests and in valleys alone,
    /// or a few more: their climb is 2·a on each.
    #[test]
    fn few_points_keep_hills(
        grade in 0.02..0.18_f64,
        wave_m in 1000.0..3000.0_f64,
        halves in 1_usize..5,
    ) {
        let high_m = grade * wave_m / TAU;
        let apart_m = wave_m / (2 * halves) as f64;
        let place: String = (0..=24 * halves)
            .map(|i| {
                let at_m = i as f64 * apart_m;
                let height_m = high_m * (1.0 - (TAU * at_m / wave_m).cos());
                let lat = 47.0 + at_m / 111_178.0;
                format!("<rtept lat=\"{lat:.7}\" lon=\"8\"><ele>{height_m:.1}</ele></rtept>")
            })
            .collect();
        let road = at_80("a.gpx", &file("routes", &[&place])).unwrap();
        let off = road.schedule.climb_m() / (24.0 * high_m) - 1.0;
        prop_assert!(off.abs() < 0.05, "{off}");
    }
}

#[test]
fn a_track_is_taken_before_a_route_and_that_is_said() {
    let (short, long) = (north("rtept", every(0, 900, 90)), north("trkpt", every(0, 1800, 90)));
    let text = format!("<gpx><rte>{short}</rte><trk><trkseg>{long}</trkseg></trk></gpx>");
    let road = at_80("a.gpx", &text).unwrap();
    assert!((road.schedule.distance_m() - 1800.0).abs() < 1.0);
    assert!(says(&road, "a track and a route besides"), "{:?}", road.notes);
}

#[test]
fn a_receiver_without_a_fix_is_at_no_place() {
    let with = north("trkpt", every(0, 1800, 90)) + "<trkpt lat=\"0\" lon=\"0\"/>";
    let road = at_80("a.gpx", &format!("<gpx><trk><trkseg>{with}</trkseg></trk></gpx>")).unwrap();
    assert!((road.schedule.distance_m() - 1800.0).abs() < 1.0);
    assert!(says(&road, "without a fix, left out: 1"), "{:?}", road.notes);
    let error = at_80("z.csv", "latitude_deg,longitude_deg\n47,8\n0,0\n47.01,8\n").unwrap_err();
    assert!(error.starts_with("z.csv:3: its position is 0, 0"), "{error}");
}

/// A gap of a kilometre may be a straight road; it is driven and said.
#[test]
fn a_shorter_gap_is_driven_and_said() {
    let places = every(0, 1000, 20).chain(every(2000, 3000, 20));
    let road = at_80("a.gpx", &file("routes", &[&north("point", places)])).unwrap();
    assert!((road.schedule.distance_m() - 3000.0).abs() < 1.0);
    assert!(says(&road, "longest of 1.0 km, from 1.0 km on"), "{:?}", road.notes);
}

/// Heights of a route by distances are cleaned where its rows are near together, as those of positions are,
/// and else taken as they stand, and both are said.
#[test]
fn heights_by_distances_are_cleaned_where_they_are_dense() {
    let table = |apart: usize, height: fn(f64) -> f64| {
        let rows: String =
            every(0, 10_000, apart).map(|m| format!("{m},{}\n", height(m))).collect();
        at_80("a.csv", &format!("distance_m,elevation_m\n{rows}")).unwrap()
    };
    // A map's step of 8 m between two rows would be steeper than any road.
    let stepped = table(10, |m| if m < 5000.0 { 300.0 } else { 308.0 });
    assert!(says(&stepped, "cleaned, the road climbs"), "{:?}", stepped.notes);
    assert!((stepped.schedule.climb_m() - 8.0).abs() < 1.0);
    let survey = table(500, |m| 300.0 + 0.03 * m);
    assert!(says(&survey, "taken as written, as its rows are 500 m apart"), "{:?}", survey.notes);
    assert!((survey.schedule.climb_m() - 300.0).abs() < 0.1);
}

#[test]
fn what_a_file_or_a_pace_cannot_say_is_refused_or_told() {
    let table = |pace: Pace, text: &str| {
        let options = LoadOptions { pace, ..LoadOptions::default() };
        read(Path::new("a.csv"), text.as_bytes(), &options).map_err(|error| error.to_string())
    };
    let bends = Pace { bends_mps2: Some(3.0), ..Pace::default() };
    let error = table(bends, "distance_m,limit_kmh\n0,50\n900,50\n").unwrap_err();
    assert!(error.contains("without positions its bends"), "{error}");
    let too_far = cycles::Section { from_m: 0.0, to_m: 4e3, limit_mps: 10.0 };
    let limited = Pace { sections: vec![too_far], ..Pace::default() };
    let road = table(limited, "distance_m\n0\n2000\n").unwrap();
    assert!(says(&road, "up to 4.00 km, and the road ends at 2.00 km"), "{:?}", road.notes);
    let both = "distance_m,latitude_deg,longitude_deg\n0,0,9\n500,0,9.01\n990,0,9.02\n";
    let road = at_80("a.csv", both).unwrap();
    // A degree of the equator is 2π·6 378 137 m/360.
    assert!(says(&road, "0.99 km in all, are not used, as its positions tell them: 2.23 km"));
    for (column, value) in
        [("elevation_m", "-32768"), ("heading_deg", "400"), ("wind_from_deg", "720")]
    {
        let text =
            format!("distance_m,limit_kmh,wind_kmh,{column}\n0,50,9,{value}\n900,50,9,{value}\n");
        let error = table(Pace::default(), &text).unwrap_err();
        assert!(error.contains(&format!("{column} is `{value}`")), "{error}");
    }
}
