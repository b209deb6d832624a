//! Roads without times, wind from a direction and weather by the hour, as they are asked for.

use crate::program::{folder, json, refused, table, text};
use serde_json::Value;
use std::path::Path;

/// A route of 8 km straight to the east with a right angle to the north half way.
fn route(name: &str) -> String {
    let point = |north_m: f64, east_m: f64| {
        // A degree of latitude at 45° is 111.13 km, and one of longitude 78.85 km (WGS 84).
        let (lat, lon) = (45.0 + north_m / 111_132.0, 9.0 + east_m / 78_847.0);
        format!("<rtept lat=\"{lat:.7}\" lon=\"{lon:.7}\"><ele>100</ele></rtept>")
    };
    let east = (0..=40).map(|i| point(0.0, 100.0 * f64::from(i)));
    let north = (1..=40).map(|i| point(100.0 * f64::from(i), 4000.0));
    let points: String = east.chain(north).collect();
    let file = folder(name).join("corner.gpx");
    std::fs::write(&file, format!("<gpx><rte>{points}</rte></gpx>")).unwrap();
    file.to_str().unwrap().to_owned()
}

/// A number of a drive of the demo on the route.
fn driven(road: &str, more: &[&str], name: &str) -> f64 {
    let found = json(&[&["drive", "--cycle", road, "--limit", "72km/h"], more].concat());
    found[name].as_f64().unwrap_or_else(|| panic!("{name}: {found}"))
}

fn time_s(road: &str, more: &[&str]) -> f64 {
    let found: Value = json(&[&["cycles", road], more].concat());
    found[0]["duration_s"].as_f64().unwrap_or_else(|| panic!("{found}"))
}

/// Closed forms of even motion: a kilometre at 36 km/h takes 50 s more than at 72 km/h, and the change
/// of speed a few seconds.
#[test]
fn limits_by_distance_and_stops_take_their_time() {
    let road = route("limits-and-stops");
    let plain = time_s(&road, &["--limit", "72km/h"]);
    let section = time_s(&road, &["--limit", "72km/h,1..2km:36km/h"]);
    assert!((50.0..60.0).contains(&(section - plain)), "{plain} {section}");
    // The later of two that overlap holds.
    let again = time_s(&road, &["--limit", "72km/h,1..2km:36km/h,0..4km:72km/h"]);
    assert!((again - plain).abs() < 0.1, "{plain} {again}");
    let stop = time_s(&road, &["--limit", "72km/h", "--stop", "2km:30s"]);
    assert!((45.0..52.0).contains(&(stop - plain)), "{plain} {stop}");
    let two = ["--limit", "72km/h", "--stop", "2km:30s", "--stop", "6km:30s"];
    assert!((time_s(&road, &two) - 2.0 * stop + plain).abs() < 1.0);
    refused(&["cycles", &road, "--limit", "72km/h", "--stop", "9km:30s"], &["a stop is at 9 km"]);
}

/// v = √(a·R): who takes bends at four times the sideways acceleration is twice as fast in them.
#[test]
fn bends_are_slower_for_a_calmer_driver() {
    let road = route("bends");
    let [calm, usual, brisk] =
        ["1m/s2", "2.5m/s2", "4m/s2"].map(|a| time_s(&road, &["--limit", "72km/h", "--bends", a]));
    assert!(calm > usual + 1.0 && usual > brisk + 1.0, "{calm} {usual} {brisk}");
    let said = table(&["cycles", &road, "--limit", "72km/h", "--bends", "4m/s2"]);
    assert!(said.contains("Bends are taken at 4 m/s² sideways"), "{said}");
    refused(&["cycles", &road, "--limit", "72km/h", "--bends", "-1m/s2"], &["--bends"]);
}

/// A wind along one half of the road and across the other: from the east against it takes more, from the
/// west with it less, and from the north it blows against the second half.
#[test]
fn a_wind_blows_from_where_it_is_said_to() {
    let road = route("wind");
    let takes = |from: &str| {
        let wind = format!("conditions.wind={{\"speed_kmh\": 30, {from}}}");
        let in_place = ["--set", "conditions.head_wind_kmh=null", "--set", &wind];
        driven(&road, &in_place, "wh_per_km")
    };
    let calm = driven(&road, &["--set", "conditions.head_wind_kmh=0"], "wh_per_km");
    let [east, west, north] = ["E", "W", "N"].map(|point| takes(&format!("\"from\": \"{point}\"")));
    assert!(east > calm && north > calm && west < calm, "{calm} {east} {west} {north}");
    assert!((east / north - 1.0).abs() < 0.03, "{east} {north}");
    assert!((takes("\"from_deg\": 90") / east - 1.0).abs() < 1e-9);
    let set = "conditions.wind={\"speed_kmh\": 30, \"from\": 90}";
    refused(&["drive", "--set", set], &["conditions.wind.from", "NNW; degrees go to from_deg"]);
}

#[test]
fn weather_by_the_hour_is_met_or_said_not_to_be() {
    let road = route("by-hour");
    let by = |after_h: f64| {
        format!("conditions.by_hour=[{{\"after_h\": {after_h}, \"head_wind_kmh\": 50}}]")
    };
    let calm = driven(&road, &[], "wh_per_km");
    let [soon, later] = [0.02, 0.08].map(|h| driven(&road, &["--set", &by(h)], "wh_per_km"));
    assert!(soon > later && later > calm, "{calm} {soon} {later}");
    let asked = |after_h: f64| {
        let set = by(after_h);
        text(&["drive", "--cycle", &road, "--limit", "72km/h", "--set", &set])
    };
    assert!(!asked(0.02).contains("not reached"));
    let said = asked(3.5).replace('\n', " ");
    assert!(
        said.contains("lasts 0.12 h") && said.contains("from 3.5 h on is not reached"),
        "{said}"
    );
    assert_eq!(driven(&road, &["--set", &by(3.5)], "wh_per_km"), calm);
}

#[test]
fn a_pace_that_says_nothing_is_refused() {
    let road = route("pace");
    let commute = format!("runs.commute={{\"cycle\": {road:?}, \"pace\": {{}}}}");
    refused(&["drive", "--set", &commute], &["pace.limit_kmh is missing", "limits", "stops"]);
}

/// A road that is too much for the motor is driven until the pack is empty, and from where on it was
/// driven more slowly is said.
#[test]
fn a_range_beyond_what_the_motor_bears_says_so() {
    let builds = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/builds");
    let [estate, ridge] = ["estate.json", "ridge-route.gpx"]
        .map(|file| builds.join(file).to_str().unwrap().to_owned());
    let found = json(&["drive", &estate, "--cycle", &ridge, "--limit", "80km/h"]);
    let range = &found["range"];
    assert_eq!((&range["not_done"], &range["ended_by"]), (&Value::Null, &Value::from("empty")));
    assert_eq!(range["slower"]["by"], "motor_heat");
    let (whole, kept) = (&range["distance_km"], &range["slower"]["after_km"]);
    assert!(kept.as_f64().unwrap() > 7.0 && whole.as_f64() > kept.as_f64(), "{range}");
    let said = text(&["drive", &estate, "--cycle", &ridge, "--limit", "80km/h"]);
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        said.contains("% charge, it could no longer keep the road's speed (motor heat)"),
        "{said}"
    );
    let sheet =
        text(&["sheet", &estate, "--cycle", &ridge, "--limit", "80km/h", "--stop", "3km:9s"]);
    let sheet = sheet.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(sheet.contains("--limit 80km/h --stop 3km:9s --set "), "{sheet}");
}
