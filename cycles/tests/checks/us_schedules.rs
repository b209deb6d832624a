//! The US schedules against the totals that the regulations state: 40 CFR Part 86, Appendix I(a)
//! (UDDS) and I(g) (US06), 40 CFR Part 600, Appendix I (HWFET).

use cycles::{Schedule, find, units};

/// Durations are exact; distances are stated to 0.01 mi and peaks to 0.1 mph.
fn assert_totals(schedule: &Schedule, duration_s: f64, distance_mi: f64, peak_mph: f64) {
    assert_eq!(schedule.duration_s(), duration_s);
    let found_mi = units::mi_from_m(schedule.distance_m());
    assert!((found_mi - distance_mi).abs() <= 0.005, "{found_mi} mi");
    let found_mph = units::mph_from_mps(schedule.peak_speed_mps());
    assert!((found_mph - peak_mph).abs() < 1e-9, "{found_mph} mph");
    assert!(schedule.slope.iter().all(|slope| *slope == 0.0));
}

#[test]
fn udds_totals_are_those_of_40_cfr_86() {
    let udds = find("udds").unwrap();
    assert_totals(&udds, 1369.0, 7.45, 56.7);
    // Mean speed 19.59 mph: EPA, list of dynamometer drive schedules, from memory.
    assert!((units::mph_from_mps(udds.mean_speed_mps()) - 19.59).abs() < 0.005);
    // 17 stops: from memory.
    assert_eq!(udds.stops(), 17);
}

#[test]
fn hwfet_totals_are_those_of_40_cfr_600() {
    let hwfet = find("hwfet").unwrap();
    assert_totals(&hwfet, 765.0, 10.26, 59.9);
    // Mean speed 48.3 mph, and no stop under way: EPA, the same list, from memory.
    assert!((units::mph_from_mps(hwfet.mean_speed_mps()) - 48.3).abs() < 0.05);
    assert_eq!(hwfet.stops(), 1);
}

#[test]
fn us06_totals_are_those_of_40_cfr_86() {
    let us06 = find("us06").unwrap();
    // The data give 8.008 mi, stated as 8.01.
    assert_totals(&us06, 600.0, 8.01, 80.3);
}
