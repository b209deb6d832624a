//! Which WLTC a car drives: the bounds of UN Global Technical Regulation No. 15, Annex 1 (from
//! memory), and the phases that it cannot reach.

use scenarios::runs::drive;
use scenarios::{Loaded, Override, Prepared, Wltc};

fn pickup(sets: &[&str]) -> Prepared {
    let sets: Vec<Override> = sets.iter().map(|text| text.parse().unwrap()).collect();
    Loaded::demo().unwrap().with(&sets).unwrap()
}

fn road(prepared: &Prepared) -> cycles::Schedule {
    prepared.read(&prepared.road(), &cycles::LoadOptions::default()).unwrap().schedule
}

/// The pickup without a road, heavier or lighter until its drive gives so much of it, W/kg.
fn with_ratio(w_per_kg: f64) -> Prepared {
    let (now, donor_kg) = (pickup(&[]).wltc(), 690.0);
    let donor_kg = donor_kg + now.rated_w / w_per_kg - now.kerb_kg;
    pickup(&["runs={}", &format!("donor.kerb_mass_kg={donor_kg}")])
}

#[test]
fn the_class_changes_at_22_and_34_w_per_kg() {
    for (w_per_kg, class) in [(21.9, "1"), (22.1, "2"), (33.9, "2"), (34.1, "3")] {
        let found = with_ratio(w_per_kg).wltc();
        assert!((found.rated_w / found.kerb_kg / w_per_kg - 1.0).abs() < 1e-6);
        // Parts a and b of class 3 are told apart by the top speed.
        assert!(found.class.to_string().starts_with(class), "{found:?}");
        assert!(road(&with_ratio(w_per_kg)).name.starts_with(&format!("wltc-{class}")));
    }
}

/// A motor speed of n rpm through a final drive i in a top gear of 1:1 is v = 2π·n/60·r/i; the motor
/// is strong enough to get into the last hundredth, where it tapers off.
#[test]
fn class_3_parts_at_a_top_speed_of_120_km_per_h() {
    let strong = |final_drive: f64| {
        pickup(&[
            "motor=shelf:permanent-magnet-liquid",
            "controller=shelf:high-voltage-liquid",
            "pack=shelf:blend-355v-50ah",
            &format!("gearbox.final_drive={final_drive}"),
        ])
    };
    let radius_m = strong(4.0).car.parts().rolling_radius_m;
    for (kmh, class) in [(119.9, "3a"), (121.3, "3b")] {
        let found = strong(7000.0 * std::f64::consts::TAU / 60.0 * radius_m / (kmh / 3.6)).wltc();
        assert!((0.99..1.0).contains(&(found.top_mps * 3.6 / kmh)), "{found:?}");
        assert_eq!(found.class.to_string(), class);
    }
}

/// With a pack that does not sag, rated power is the nameplate's, which goes with the voltage: 34
/// cells of 3.42 V on a motor of 33 kW at 108 V.
#[test]
fn rated_power_is_what_the_motor_gives_at_the_voltage_of_the_full_pack() {
    let stiff =
        r#"pack.cell.resistance=[{"charge_pct":0,"mohm":0.001},{"charge_pct":100,"mohm":0.001}]"#;
    let found = pickup(&[
        "motor=shelf:induction-air-medium",
        "controller=shelf:mid-voltage-600a",
        "pack.harness_mohm=0",
        "pack.cell.polarisation_mohm=0",
        "pack.cell.discharge_peak_a=600",
        stiff,
    ]);
    let full_v = 34.0 * 3.42;
    assert!(
        (found.wltc().rated_w / (33e3 * full_v / 108.0) - 1.0).abs() < 0.005,
        "{:?}",
        found.wltc()
    );
    // And never more than the controller lets through.
    let held = pickup(&["controller.pack_current_a=100"]).wltc().rated_w;
    assert!(held < 100.0 * full_v && held > 0.7 * 100.0 * full_v, "{held} W");
}

#[test]
fn people_weather_and_charge_do_not_change_the_class() {
    let alone = pickup(&[]).wltc();
    let winter = ["conditions.air_c=-15", "conditions.surface=ice", "start.charge_pct=30"];
    assert_eq!(pickup(&winter).wltc(), alone);
    let load = r#"load=[{"item":"driver and stones","mass_kg":300,"behind_front_axle_m":1.4}]"#;
    let loaded = pickup(&[load]).wltc();
    assert_eq!((loaded.kerb_kg, loaded.rated_w), (alone.kerb_kg, alone.rated_w));
}

#[test]
fn a_car_without_a_road_drives_the_phases_that_it_reaches() {
    let without_road = pickup(&["runs={}"]);
    let options = cycles::LoadOptions::default();
    let found = without_road.read(&without_road.road(), &options).unwrap();
    assert_eq!(found.schedule.name, "wltc-3a without extra-high");
    assert_eq!(found.schedule.duration_s(), 1477.0);
    assert!(found.schedule.peak_speed_mps() < without_road.wltc().top_mps);
    // What was chosen and why is an assumption, and the note of the road.
    let all = without_road.all_assumptions().unwrap();
    let said = all.iter().find(|a| a.path == "runs.commute.cycle").unwrap();
    assert_eq!(
        (said.value.as_str(), vec![said.reason.to_string()]),
        (found.schedule.name.as_str(), found.notes)
    );
    assert!(said.reason.contains("class 3a") && said.reason.contains("extra-high (peak 131 km/h)"));
    assert!(pickup(&[]).all_assumptions().unwrap().iter().all(|a| a.path != "runs.commute.cycle"));
    // It can follow them, and cannot follow the whole cycle.
    let outside_s = |trace: &cycles::Schedule| {
        let trace = scenarios::runs::trace(trace).unwrap();
        let drive = drive::drive(&without_road.setup(), &trace, &mut ());
        drive.outside_s
    };
    let whole = cycles::find("wltc-3a").unwrap();
    assert!(outside_s(&found.schedule) < 1.0 && outside_s(&whole) > 30.0);
}

/// A phase is left out because it peaks above the top speed, so the two never read alike.
#[test]
fn a_peak_that_is_not_reached_never_reads_as_the_top_speed() {
    let whole = pickup(&["runs={}"]).wltc();
    for tenths in 500..1350 {
        for kmh in [f64::from(tenths) / 10.0, f64::from(tenths) / 10.0 + 0.04] {
            let note = Wltc { top_mps: kmh / 3.6, ..whole }.road("wltc").unwrap().notes.concat();
            let (_, rest) = note.split_once("top speed of the test ").unwrap();
            let (top, rest) = rest.split_once(" km/h").unwrap();
            assert!((top.parse::<f64>().unwrap() - kmh).abs() < 0.51);
            assert!(!rest.contains(&format!("(peak {top} km/h)")), "{note}");
        }
    }
}

#[test]
fn a_car_that_reaches_nothing_has_the_first_phase_to_try() {
    let crawls = pickup(&["runs={}", "gearbox.final_drive=15", "motor.max_rpm=6000"]);
    let found = crawls.read(&crawls.road(), &cycles::LoadOptions::default()).unwrap();
    assert_eq!(found.schedule.name, "wltc-3a without medium, high, extra-high");
    assert!(found.notes[0].contains("below the peak of 57 km/h"), "{:?}", found.notes);
}

#[test]
fn a_name_with_a_class_means_that_class_and_a_name_without_one_the_cars() {
    let read = |prepared: &Prepared, name: &str| {
        let road = scenarios::Road::Named(name.to_owned());
        prepared.read(&road, &cycles::LoadOptions::default())
    };
    let weak = with_ratio(20.0);
    assert_eq!(read(&weak, "WLTC-low").unwrap().schedule.name, "wltc-1-low");
    assert_eq!(read(&weak, "wltc-3b").unwrap().schedule.duration_s(), 1800.0);
    let sentence = read(&weak, "wltc-high").unwrap_err().to_string();
    assert!(sentence.starts_with("`wltc-1-high` is neither a built-in cycle"), "{sentence}");
    // A phase that is asked for by name is driven, reached or not.
    let pickup = pickup(&[]);
    let asked = read(&pickup, "wltc-extra-high").unwrap().schedule;
    assert!(asked.peak_speed_mps() > pickup.wltc().top_mps);
}

#[test]
fn cars_that_are_compared_drive_one_road() {
    let first: Wltc = pickup(&[]).wltc();
    let mut weak = with_ratio(20.0);
    weak.drives.wltc = Some(first);
    assert_eq!(road(&weak).name, "wltc-3a without extra-high");
}
