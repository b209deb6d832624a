//! Real recordings, where the variable SHAKEDOWN_RECORDINGS names a folder of trip-*.csv files
//! with time_s, speed_kmh and elevation_m among their columns. They are not part of the project:
//! without the variable nothing is checked here.

use std::path::PathBuf;

use cycles::{Columns, LoadOptions, load};

fn recordings() -> Vec<PathBuf> {
    let Some(folder) = std::env::var_os("SHAKEDOWN_RECORDINGS") else {
        eprintln!("skipped: SHAKEDOWN_RECORDINGS names no folder");
        return Vec::new();
    };
    let entries = std::fs::read_dir(folder).expect("SHAKEDOWN_RECORDINGS names a folder");
    let mut paths: Vec<PathBuf> = entries.map(|e| e.unwrap().path()).collect();
    paths.retain(|p| p.extension().is_some_and(|e| e == "csv"));
    paths.sort();
    assert!(!paths.is_empty(), "SHAKEDOWN_RECORDINGS holds no .csv file");
    paths
}

#[test]
fn real_recordings_become_roads() {
    for path in recordings() {
        let options = LoadOptions { columns: Columns::IgnoreUnknown, ..LoadOptions::default() };
        let loaded = load(&path, &options).unwrap();
        let (trace, cleaning) = (&loaded.trace, loaded.cleaning.unwrap());
        println!(
            "{} {:.0} m {:.0} s {cleaning:.1?} {:?}",
            trace.name,
            trace.distance_m(),
            trace.duration_s(),
            loaded.notes
        );
        assert!(trace.slope.iter().all(|s| s.abs() <= 0.12 + 1e-9));
        // Cleaning never makes a hillier road than was recorded, and keeps its net height within
        // what smoothing does at the ends.
        assert!(cleaning.climb_after_m <= cleaning.climb_before_m + 1.0);
        let net_before_m = cleaning.climb_before_m - cleaning.descent_before_m;
        let net_after_m = cleaning.climb_after_m - cleaning.descent_after_m;
        assert!((net_after_m - net_before_m).abs() < 10.0, "{net_before_m} {net_after_m}");
    }
}
