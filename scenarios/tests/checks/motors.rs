//! What a motor's file says of its heat and its volts, against what matter and the machine allow.

use scenarios::runs::climb;
use scenarios::{FileKind, Loaded, Override, Prepared, shelf, units};
use sim_core::motor::copper_factor;

fn with(sets: &[&str]) -> Prepared {
    let sets: Vec<Override> = sets.iter().map(|text| text.parse().unwrap()).collect();
    Loaded::demo().unwrap().with(&sets).unwrap_or_else(|e| panic!("{e}"))
}

fn motors() -> impl Iterator<Item = (&'static str, Prepared)> {
    let motors = shelf::shelf().iter().filter(|part| part.kind == FileKind::Motor);
    motors.map(|part| (part.name, with(&[&format!("motor=shelf:{}", part.name)])))
}

fn doubts(prepared: &Prepared, words: &str) -> usize {
    prepared.warnings().iter().filter(|warning| warning.text.contains(words)).count()
}

/// Winding temperature at which a continuous rating settles in air of 40 °C, °C: the two nodes in
/// balance, solved by repeating.
fn settles_c(prepared: &Prepared) -> f64 {
    let motor = &prepared.car.parts().motor;
    let radps = prepared.facts.continuous_radps.unwrap();
    let volts = motor.machine.envelope.reference_v;
    let point = motor.operating_point(prepared.facts.continuous_w.unwrap() / radps, radps, volts);
    let fanned = sim_core::cooling::Wind {
        shaft_08: radps.powf(sim_core::cooling::CONVECTION_EXPONENT),
        ..Default::default()
    };
    let thermal = &motor.thermal;
    let housing_w_per_k = thermal.cooling.conductance().w_per_k(&fanned);
    let mut winding_k = 313.15;
    for _ in 0..200 {
        let loss = motor.loss(&point, copper_factor(winding_k, motor.loss_reference_k));
        let inside_k = loss.copper_w / thermal.winding_to_housing_w_per_k;
        winding_k = 313.15 + loss.total_w() / housing_w_per_k + inside_k;
    }
    units::c_from_k(winding_k)
}

/// A motor that is cut back below its own rating is none that the plate speaks of. Classes F and H
/// settle at 40 °C and a rise of 105 and 125 K (IEC 60034-1, from memory).
#[test]
fn every_shelf_motor_holds_its_own_rating_and_its_plate_is_believed() {
    for (name, prepared) in motors() {
        let motor = &prepared.car.parts().motor;
        if prepared.scenario.build.motor.nameplate.as_ref().unwrap().ambient_c.is_some() {
            let settles_c = settles_c(&prepared);
            let limits_c = [145.0, 165.0];
            assert!(
                limits_c.iter().any(|c: &f64| (c - settles_c).abs() < 1e-6),
                "{name} {settles_c}"
            );
            assert!(units::c_from_k(motor.derating.warning_k) > settles_c + 5.0, "{name}");
        }
        // Iron, copper and aluminium: CRC Handbook, 449, 385, 897 J/(kg·K) (from memory).
        let held = motor.thermal.winding_j_per_k + motor.thermal.housing_j_per_k;
        let per_kg = held / prepared.scenario.build.motor.mass_kg;
        assert!((400.0..=560.0).contains(&per_kg), "{name}: {per_kg} J/(kg·K)");
        let line = prepared.scenario.build.motor.short_time(motor);
        assert!(line.is_none_or(|line| line.believed && line.winding_c < line.limit_c), "{name}");
        for words in ["not believed", "its own rating", "curve of peak torque"] {
            assert_eq!(doubts(&prepared, words), 0, "{name}: {words}");
        }
    }
}

/// The short-time line is a promise that is checked, and gives the motor no matter.
#[test]
fn no_short_time_line_changes_the_motor() {
    let plain = with(&["motor.nameplate.short_time=null"]);
    for (line, believed) in [
        (r#"{"power_kw":12,"minutes":60}"#, true),
        (r#"{"power_kw":12,"minutes":480}"#, false),
        (r#"{"power_kw":12,"minutes":2}"#, true),
        (r#"{"power_kw":3,"minutes":60}"#, true),
        (r#"{"power_kw":25,"minutes":60}"#, false),
    ] {
        let prepared = with(&[&format!("motor.nameplate.short_time={line}")]);
        assert_eq!(prepared.car, plain.car, "{line}");
        let said = prepared.scenario.build.motor.short_time(&prepared.car.parts().motor).unwrap();
        assert_eq!(said.believed, believed, "{line}: {said:?}");
        assert_eq!(doubts(&prepared, "not believed"), usize::from(!believed), "{line}");
    }
}

/// On the pass and on a short steep street, with the short-time line as it stands, the winding is the
/// hotter the less the motor is rated for.
#[test]
fn a_lower_continuous_rating_is_never_cooler() {
    for (grade, kmh, km) in [(0.08, 45.0, 12.0), (0.14, 30.0, 1.2), (0.0, 90.0, 20.0)] {
        let hottest_c: Vec<f64> = [3, 5, 8, 10, 13, 16]
            .map(|kw| {
                let prepared = with(&[
                    &format!("motor.nameplate.continuous_power_kw={kw}"),
                    "motor.warning_c=290",
                    "motor.cut_off_c=300",
                ]);
                let hill = sim_core::climb::Hill {
                    slope: sim_core::car::Slope::from_grade(grade),
                    speed_mps: units::mps_from_kmh(kmh),
                    distance_m: 1000.0 * km,
                };
                let report = climb::report(&prepared.setup(), &hill).unwrap();
                report.gears[1..].iter().map(|gear| gear.peak.winding_c).fold(0.0, f64::max)
            })
            .to_vec();
        assert!(hottest_c.windows(2).all(|pair| pair[0] >= pair[1]), "{hottest_c:?} °C");
    }
}

/// By hand, for 500 A at 160 N·m and half saturation at 150 A: c = 160·(1 + 500/150)/500² =
/// 0.002773 N·m/A². 38 N·m take 171.4 A, and at 5500 rpm, 576 rad/s, 38·576/171.4 = 127.7 V of
/// back-EMF, 3.1 V of resistance and 1.5 V of brushes: 132 V, where there are 120.
#[test]
fn a_series_curve_that_asks_for_more_volts_than_there_are_is_named() {
    let curve = "motor.peak_torque_curve=[{\"rpm\":0,\"nm\":160},{\"rpm\":2300,\"nm\":160},\
                 {\"rpm\":3000,\"nm\":110},{\"rpm\":4000,\"nm\":68},{\"rpm\":5500,\"nm\":38}]";
    let prepared = with(&["motor=shelf:series-dc-large", curve]);
    assert_eq!(
        doubts(&prepared, "At 5500 rpm the motor's curve of peak torque asks 132 V for 38 N·m"),
        1
    );
}
