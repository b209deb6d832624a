//! Files of speed limits over distance, against the closed form of a trapezoid of speed.

use std::path::PathBuf;

use cycles::{Comfort, LoadOptions, load};

fn file(name: &str, content: &str) -> PathBuf {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("speed_limits");
    std::fs::create_dir_all(&folder).unwrap();
    let path = folder.join(name);
    std::fs::write(&path, content).unwrap();
    path
}

#[test]
fn a_file_of_limits_is_driven_from_rest_to_rest() {
    let content = "distance_km,limit_kmh,elevation_m,stop_s\n0,36,100,2\n1,72,110,20\n3,72,90,\n";
    let comfort = Comfort { acceleration_mps2: 1.0, braking_mps2: 2.0 };
    let options = LoadOptions { comfort, ..LoadOptions::default() };
    let schedule = load(file("road.csv", content), &options).unwrap().schedule;
    // T = L/v + v/2a + v/2b for each of the two pieces between stand-stills.
    let pieces_s = (100.0 + 5.0 + 2.5) + (100.0 + 10.0 + 5.0);
    assert!((schedule.duration_s() - (2.0 + pieces_s + 20.0)).abs() < 1e-6);
    assert!((schedule.distance_m() - 3000.0).abs() < 1e-6);
    assert!((schedule.climb_m() - 10.0).abs() < 1e-6);
    assert!((schedule.descent_m() - 20.0).abs() < 1e-6);
    assert_eq!(schedule.stops(), 2);
    assert_eq!(schedule.speed_mps.last(), Some(&0.0));
}

#[test]
fn wrong_limits_are_refused() {
    for (name, content, expected) in [
        (
            "zero.csv",
            "distance_m,limit_kmh\n0,0\n9,9\n",
            ":2: limit_kmh is `0`, and 0.36 km/h to below 432 km/h is needed",
        ),
        (
            "both.csv",
            "distance_m,limit_kmh,speed_kmh\n0,9,0\n9,9,9\n",
            "only one of speed and limit",
        ),
        ("clock.csv", "time_s,limit_kmh\n0,9\n9,9\n", "a limit goes with distances"),
        (
            "back.csv",
            "distance_m,limit_kmh\n0,9\n9,9\n9,9\n",
            ":4: distance 9 m is not after the 9 m of the row before",
        ),
    ] {
        let sentence = load(file(name, content), &LoadOptions::default()).unwrap_err().to_string();
        assert!(sentence.contains(expected), "{sentence}");
    }
}
