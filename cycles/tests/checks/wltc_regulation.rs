//! The WLTC of class 3b against UN Global Technical Regulation No. 15, Annex 1: the sums of the
//! 1 Hz speeds that it prints, phase lengths and peaks.

use cycles::{find, units};

#[test]
fn sums_of_the_1_hz_speeds_are_those_of_annex_1() {
    for (name, sum_kmh, duration_s, peak_kmh) in [
        ("wltc-low", 11140.3, 589.0, 56.5),
        ("wltc-medium", 17121.2, 433.0, 76.6),
        ("wltc-high", 25782.2, 455.0, 97.4),
        ("wltc-extra-high", 29714.9, 323.0, 131.3),
        ("wltc", 83758.6, 1800.0, 131.3),
    ] {
        let trace = find(name).unwrap();
        let found_kmh: f64 = trace.speed_mps.iter().map(|v| units::kmh_from_mps(*v)).sum();
        assert!((found_kmh - sum_kmh).abs() < 1e-6, "{name}: {found_kmh}");
        assert_eq!(trace.duration_s(), duration_s);
        assert!((units::kmh_from_mps(trace.peak_speed_mps()) - peak_kmh).abs() < 1e-9);
        // Every phase begins and ends at rest, so that the trapezoid rule gives the same sum.
        assert!((trace.distance_m() - units::mps_from_kmh(sum_kmh)).abs() < 1e-6);
        assert_eq!(trace.time_s[0], 0.0);
    }
}

#[test]
fn the_whole_cycle_is_23_266_km() {
    let distance_km = units::km_from_m(find("wltc").unwrap().distance_m());
    assert!((distance_km - 23.266).abs() < 0.0005, "{distance_km}");
}

#[test]
fn phases_follow_each_other_without_a_gap() {
    let wltc = find("wltc").unwrap();
    let ends_s: Vec<f64> = wltc.phases.iter().map(|phase| phase.to_s).collect();
    assert_eq!(ends_s, [589.0, 1022.0, 1477.0, 1800.0]);
    for pair in wltc.phases.windows(2) {
        assert_eq!(pair[0].to_s, pair[1].from_s);
    }
}
