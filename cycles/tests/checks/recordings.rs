//! Roads made of real recordings: two that are part of the project (their README, beside them, says
//! from where), and those of the folder that the variable SHAKEDOWN_RECORDINGS names, *.csv with
//! time_s, speed_kmh and elevation_m among their columns.

use std::io::Write;
use std::path::{Path, PathBuf};

use cycles::{Columns, LoadOptions, load};

fn csv_files(folder: impl AsRef<Path>) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).expect("a folder of recordings");
    let mut paths: Vec<PathBuf> = entries.map(|e| e.unwrap().path()).collect();
    paths.retain(|p| p.extension().is_some_and(|e| e == "csv"));
    paths.sort();
    assert!(!paths.is_empty(), "the folder of recordings holds no .csv file");
    paths
}

/// Cleaning never makes a hillier road than was recorded, none steeper than its cap of 12 %, and
/// keeps its net height within what smoothing does at the ends; the road is as long as `Σ v·Δt`.
fn becomes_a_road(path: &Path) {
    let options = LoadOptions { columns: Columns::IgnoreUnknown, ..LoadOptions::default() };
    let loaded = load(path, &options).unwrap();
    let (schedule, cleaning) = (&loaded.schedule, loaded.cleaning.unwrap());
    println!(
        "{} {:.0} m {:.0} s {cleaning:.1?} {:?}",
        schedule.name,
        schedule.distance_m(),
        schedule.duration_s(),
        loaded.notes
    );
    assert!(schedule.slope.iter().all(|s| s.abs() <= 0.12 + 1e-9));
    assert!(cleaning.climb_after_m <= cleaning.climb_before_m + 1.0);
    let net_before_m = cleaning.climb_before_m - cleaning.descent_before_m;
    let net_after_m = cleaning.climb_after_m - cleaning.descent_after_m;
    assert!((net_after_m - net_before_m).abs() < 10.0, "{net_before_m} {net_after_m}");
}

/// 14.147 km and 61 m down, 15.562 km and 63 m up: sums of the speeds of the seconds and ends of the
/// elevations, by a spreadsheet.
#[test]
fn two_measured_drives_become_their_roads() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../scenarios/tests/checks/measured");
    for (name, length_m, rise_m) in [("light-1", 14_147.0, -61.0), ("light-2", 15_562.0, 63.0)] {
        let path = Path::new(folder).join(name).with_extension("csv");
        becomes_a_road(&path);
        let options = LoadOptions { columns: Columns::IgnoreUnknown, ..LoadOptions::default() };
        let road = load(&path, &options).unwrap().schedule;
        assert!((road.distance_m() - length_m).abs() < 1.0, "{name}: {} m", road.distance_m());
        let net_m = road.climb_m() - road.descent_m();
        assert!((net_m - rise_m).abs() < 10.0, "{name}: {net_m} m up, not {rise_m} m");
    }
}

#[test]
fn real_recordings_become_roads() {
    match std::env::var_os("SHAKEDOWN_RECORDINGS") {
        Some(folder) => csv_files(folder).iter().for_each(|path| becomes_a_road(path)),
        // Past the capture of a test's output, so that it is seen.
        None => {
            let words = b"skipped: SHAKEDOWN_RECORDINGS names no folder of recordings\n";
            std::io::stderr().write_all(words).unwrap();
        }
    }
}
