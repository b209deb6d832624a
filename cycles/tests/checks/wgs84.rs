//! Distances on the WGS 84 ellipsoid against published ones.

use std::path::PathBuf;

use cycles::{LoadOptions, load};

/// The length in m of a track through these points, at these times.
fn length_m(name: &str, points: impl Iterator<Item = (f64, f64, f64)>) -> f64 {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("wgs84");
    std::fs::create_dir_all(&folder).unwrap();
    let rows: String = points.map(|(t, lat, lon)| format!("{t},{lat:.12},{lon:.12}\n")).collect();
    let path = folder.join(name);
    std::fs::write(&path, format!("time_s,latitude_deg,longitude_deg\n{rows}")).unwrap();
    load(path, &LoadOptions::default()).unwrap().schedule.distance_m()
}

/// 1 degree of longitude on the equator is 2π·6 378 137 m/360 = 111 319.4908 m (NGA.STND.0036,
/// semi-major axis of WGS 84).
#[test]
fn a_degree_of_longitude_on_the_equator() {
    let found_m = length_m("east.csv", (0..=400).map(|i| (i as f64 * 10.0, 0.0, i as f64 / 400.0)));
    assert!((found_m - 111_319.490_8).abs() < 0.01, "{found_m}");
}

/// 1 degree of latitude from the equator is 110 574.3 m (NGA.STND.0036 arc of meridian, from
/// memory).
#[test]
fn a_degree_of_latitude_from_the_equator() {
    let found_m =
        length_m("north.csv", (0..=400).map(|i| (i as f64 * 10.0, i as f64 / 400.0, 9.0)));
    assert!((found_m - 110_574.3).abs() < 0.1, "{found_m}");
}

/// A degree across the antimeridian is as long as any other.
#[test]
fn the_antimeridian_is_crossed() {
    let points = (0..=400).map(|i| {
        let longitude_deg = 179.5 + i as f64 / 400.0;
        (
            i as f64 * 10.0,
            0.0,
            if longitude_deg > 180.0 { longitude_deg - 360.0 } else { longitude_deg },
        )
    });
    let found_m = length_m("antimeridian.csv", points);
    assert!((found_m - 111_319.490_8).abs() < 0.01, "{found_m}");
}

/// Flinders Peak to Buninyong is 54 972.271 m (GDA94 technical manual, worked example of
/// Vincenty's formulae on GRS 80, whose figure is WGS 84's to 0.1 mm; from memory).
#[test]
fn flinders_peak_to_buninyong() {
    let degrees = |d: f64, m: f64, s: f64| d + m / 60.0 + s / 3600.0;
    let flinders = (-degrees(37.0, 57.0, 3.72030), degrees(144.0, 25.0, 29.52440));
    let buninyong = (-degrees(37.0, 39.0, 10.15610), degrees(143.0, 55.0, 35.38390));
    let points = [(0.0, flinders.0, flinders.1), (700.0, buninyong.0, buninyong.1)];
    let found_m = length_m("flinders.csv", points.into_iter());
    assert!((found_m - 54_972.271).abs() < 0.002, "{found_m}");
}
