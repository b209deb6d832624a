//! The WLTC of every class against UN Global Technical Regulation No. 15, Annex 1: the sums of the
//! 1 Hz speeds that it prints, phase lengths and peaks, and the bounds of the classes (from memory).

use cycles::{Schedule, WltcClass, find, units};

/// Every phase of every class: sum of the 1 Hz speeds in km/h, length in s, peak in km/h.
const PHASES: [(&str, f64, f64, f64); 14] = [
    ("wltc-1-low", 11988.4, 589.0, 49.1),
    ("wltc-1-medium", 17162.8, 433.0, 64.4),
    ("wltc-2-low", 11162.2, 589.0, 51.4),
    ("wltc-2-medium", 17054.3, 433.0, 74.7),
    ("wltc-2-high", 24450.6, 455.0, 85.2),
    ("wltc-2-extra-high", 28869.8, 323.0, 123.1),
    ("wltc-3a-low", 11140.3, 589.0, 56.5),
    ("wltc-3a-medium", 16995.7, 433.0, 76.6),
    ("wltc-3a-high", 25646.0, 455.0, 97.4),
    ("wltc-3a-extra-high", 29714.9, 323.0, 131.3),
    ("wltc-3b-low", 11140.3, 589.0, 56.5),
    ("wltc-3b-medium", 17121.2, 433.0, 76.6),
    ("wltc-3b-high", 25782.2, 455.0, 97.4),
    ("wltc-3b-extra-high", 29714.9, 323.0, 131.3),
];

/// Every class as a whole: the same.
const WHOLE: [(&str, f64, f64, f64); 4] = [
    ("wltc-1", 41139.6, 1611.0, 64.4),
    ("wltc-2", 81536.9, 1800.0, 123.1),
    ("wltc-3a", 83496.9, 1800.0, 131.3),
    ("wltc-3b", 83758.6, 1800.0, 131.3),
];

fn sum_kmh(schedule: &Schedule) -> f64 {
    schedule.speed_mps.iter().map(|v| units::kmh_from_mps(*v)).sum()
}

#[test]
fn sums_of_the_1_hz_speeds_are_those_of_annex_1() {
    for (name, sum, duration_s, peak_kmh) in PHASES.into_iter().chain(WHOLE) {
        let schedule = find(name).unwrap();
        let found = sum_kmh(&schedule);
        assert!((found - sum).abs() < 1e-6, "{name}: {found}");
        assert_eq!(schedule.duration_s(), duration_s, "{name}");
        assert!((units::kmh_from_mps(schedule.peak_speed_mps()) - peak_kmh).abs() < 1e-9, "{name}");
        // Every phase begins and ends at rest, so that the trapezoid rule gives the same sum.
        assert!((schedule.distance_m() - units::mps_from_kmh(sum)).abs() < 1e-6, "{name}");
        assert_eq!(schedule.time_s[0], 0.0);
    }
}

#[test]
fn the_whole_cycle_of_class_3b_is_23_266_km() {
    let distance_km = units::km_from_m(find("wltc-3b").unwrap().distance_m());
    assert!((distance_km - 23.266).abs() < 0.0005, "{distance_km}");
}

#[test]
fn phases_follow_each_other_without_a_gap() {
    for (name, ends_s) in [
        ("wltc-1", [589.0, 1022.0, 1611.0].as_slice()),
        ("wltc-2", &[589.0, 1022.0, 1477.0, 1800.0]),
        ("wltc-3a", &[589.0, 1022.0, 1477.0, 1800.0]),
        ("wltc-3b", &[589.0, 1022.0, 1477.0, 1800.0]),
    ] {
        let phases = find(name).unwrap().phases;
        assert_eq!(phases[0].from_s, 0.0);
        assert_eq!(phases.iter().map(|phase| phase.to_s).collect::<Vec<_>>(), ends_s, "{name}");
        assert!(phases.windows(2).all(|pair| pair[0].to_s == pair[1].from_s), "{name}");
    }
}

#[test]
fn class_1_drives_its_low_phase_twice() {
    let whole = find("wltc-1").unwrap();
    let again = whole.phase("low-again").unwrap();
    assert_eq!(again.speed_mps, whole.phase("low").unwrap().speed_mps);
}

#[test]
fn classes_part_at_22_and_34_w_per_kg_and_120_km_per_h() {
    let class = |w_per_kg, kmh| WltcClass::of(w_per_kg, units::mps_from_kmh(kmh)).to_string();
    for (w_per_kg, kmh, name) in [
        (0.0, 0.0, "1"),
        (22.0, 150.0, "1"),
        (22.01, 60.0, "2"),
        (34.0, 150.0, "2"),
        (34.01, 119.99, "3a"),
        (34.01, 120.0, "3b"),
        (90.0, 60.0, "3a"),
    ] {
        assert_eq!(class(w_per_kg, kmh), name, "{w_per_kg} W/kg, {kmh} km/h");
    }
}

#[test]
fn a_phase_above_the_speed_that_a_car_reaches_is_left_out() {
    let up_to = |name: &str, kmh| {
        let (schedule, left_out) = find(name).unwrap().up_to(units::mps_from_kmh(kmh)).unwrap();
        let names: Vec<String> = left_out.into_iter().map(|phase| phase.name).collect();
        (schedule, names)
    };
    let (whole, none) = up_to("wltc-3b", 131.31);
    assert_eq!((whole, none), (find("wltc-3b").unwrap(), Vec::new()));
    // The sums of what is left are those of its phases.
    let (three, left) = up_to("wltc-3b", 131.0);
    assert_eq!((left, three.duration_s()), (vec!["extra-high".to_owned()], 1477.0));
    assert!((sum_kmh(&three) - (11140.3 + 17121.2 + 25782.2)).abs() < 1e-6);
    // Class 1 goes on after the phase that it loses.
    let (twice, left) = up_to("wltc-1", 60.0);
    assert_eq!((left, twice.duration_s()), (vec!["medium".to_owned()], 2.0 * 589.0));
    assert!((sum_kmh(&twice) - 2.0 * 11988.4).abs() < 1e-6);
    assert_eq!(twice.phases[1].from_s, 589.0);
    // A car that reaches none of them has the first to try.
    let (low, left) = up_to("wltc-2", 20.0);
    assert_eq!((left.len(), low.speed_mps), (3, find("wltc-2-low").unwrap().speed_mps));
}
