//! What files say, against figures worked out by hand.

use scenarios::{Loaded, Override, Prepared, Severity};
use sim_core::road_load::RoadLoad;

fn with(sets: &[&str]) -> Prepared {
    let sets: Vec<Override> = sets.iter().map(|text| text.parse().unwrap()).collect();
    Loaded::demo().unwrap().with(&sets).unwrap_or_else(|e| panic!("{e}"))
}

fn warned(prepared: &Prepared, words: &str) -> Option<Severity> {
    prepared.warnings().iter().find(|w| w.text.contains(words)).map(|w| w.severity)
}

const NO_DRAG: [&str; 4] = [
    "donor.drag_coefficient=null",
    "donor.frontal_area_m2=null",
    "tyre.label_n_per_kn=null",
    "tyre.rolling_resistance_per_kmh=null",
];

/// UN GTR 15, Annex 4, default road load (from memory): f0 = 0.140·m, f1 = 0,
/// f2 = 2.8e-6·m + 0.0170·width·height. For 964.8 kg and 1.40 m × 1.56 m by hand: 135.07 N and
/// 0.0398294 N/(km/h)².
#[test]
fn a_car_of_unknown_road_load_gets_the_pessimistic_default() {
    let prepared = with(&NO_DRAG);
    let RoadLoad::CoastDown { f0_n, f1_n_per_mps, f2_n_per_mps2, .. } =
        prepared.car.parts().road_load
    else {
        panic!("a coast-down was expected");
    };
    let mass_kg = prepared.car.parts().chassis.mass_kg;
    assert!((mass_kg - 964.8).abs() < 1e-9);
    assert!((f0_n - 135.072).abs() < 1e-9 && f1_n_per_mps == 0.0);
    assert!((f2_n_per_mps2 / (3.6 * 3.6) - 0.039_829_44).abs() < 1e-9);
    assert!(prepared.assumptions.iter().any(|a| a.path == "build.donor.coast_down.f0_n"));
}

/// The same road load in metric and in US units: 1 lbf = 4.448222 N, 1 mph = 1.609344 km/h.
#[test]
fn a_coast_down_is_the_same_in_either_units() {
    let load = |coast_down: &str| {
        let mut sets = NO_DRAG.to_vec();
        sets.push(coast_down);
        with(&sets).car.parts().road_load
    };
    let metric = load(
        r#"donor.coast_down={"f0_n":89.0,"f1_n_per_kmh":0.5,"f2_n_per_kmh2":0.04,"mass_kg":900}"#,
    );
    // 89/4.448222, 0.5·1.609344/4.448222, 0.04·1.609344²/4.448222, 900/0.45359237.
    let us = load(
        r#"donor.coast_down={"a_lbf":20.00799,"b_lbf_per_mph":0.1808974,
           "c_lbf_per_mph2":0.02329010,"mass_lb":1984.1604}"#,
    );
    let numbers = |load| match load {
        RoadLoad::CoastDown { f0_n, f1_n_per_mps, f2_n_per_mps2, mass_kg, .. } => {
            [f0_n, f1_n_per_mps, f2_n_per_mps2, mass_kg]
        }
        RoadLoad::Coefficients { .. } => panic!("a coast-down was expected"),
    };
    for (one, other) in numbers(metric).into_iter().zip(numbers(us)) {
        assert!((one / other - 1.0).abs() < 2e-6, "{one} {other}");
    }
    assert_eq!(numbers(metric)[1], 0.5 * 3.6);
}

#[test]
fn tyre_and_coast_down_must_not_both_hold_the_rolling_resistance() {
    let sets: Vec<Override> = [
        "donor.drag_coefficient=null",
        "donor.frontal_area_m2=null",
        r#"donor.coast_down={"f0_n":89,"f1_n_per_kmh":0.5,"f2_n_per_kmh2":0.04,"mass_kg":900}"#,
    ]
    .iter()
    .map(|text| text.parse().unwrap())
    .collect();
    let sentence = Loaded::demo().unwrap().with(&sets).unwrap_err().to_string();
    assert!(sentence.contains("tyre.label_n_per_kn is given beside"), "{sentence}");
}

/// 155R13 has 82 %: 13 in/2 + 155 mm·0.82 = 292.2 mm, of which 96.5 % is loaded: 281.973 mm; a
/// tyre of 281.973 mm turns 1000/(2π·0.281973) = 564.43 times in a kilometre.
#[test]
fn a_tyre_is_the_same_by_size_radius_and_turns() {
    let radius = |set: &str| with(&["tyre.size=null", set]).car.parts().rolling_radius_m;
    for set in
        ["tyre.size=155R13", "tyre.rolling_radius_m=0.281973", "tyre.revolutions_per_km=564.43"]
    {
        assert!((radius(set) - 0.281_973).abs() < 2e-6, "{set}: {}", radius(set));
    }
}

/// Moments of the demo about its front axle by hand, kg·m: 690·0.46·1.98 of the donor, −91.8 of what
/// is taken out, 7.5 of what is put in, 248.6 of people and load, 123.42 of motor, controller and a pack
/// of 34·3.2 + 24 kg: 916.172 in all, over 1.98 m.
#[test]
fn axles_carry_the_moments_of_all_that_is_on_board() {
    let prepared = with(&[]);
    let chassis = &prepared.car.parts().chassis;
    assert!((chassis.rear_axle_kg() - 462.713).abs() < 1e-3, "{}", chassis.rear_axle_kg());
    assert!((chassis.front_axle_kg() - 502.087).abs() < 1e-3, "{}", chassis.front_axle_kg());
    let moments = prepared.facts.masses.iter().map(|line| line.mass_kg * line.behind_front_axle_m);
    let moment: f64 = moments.sum();
    assert!((moment - 916.172).abs() < 1e-9, "{moment} kg·m on the lines of the sheet");
}

/// Four wheels of 0.5 kg·m², or of 0.7·m·r² where a wheel of 16 kg rolls on 0.25 m.
#[test]
fn four_wheels_turn() {
    let inertia_kg_m2 = |sets: &[&str]| with(sets).car.parts().chassis.wheels_inertia_kg_m2;
    assert_eq!(inertia_kg_m2(&[]), 2.0);
    let by_mass = inertia_kg_m2(&[
        "tyre.wheel_inertia_kg_m2=null",
        "tyre.wheel_mass_kg=16",
        "tyre.size=null",
        "tyre.rolling_radius_m=0.25",
    ]);
    assert!((by_mass - 4.0 * 0.7).abs() < 1e-12, "{by_mass}");
}

/// A nameplate load in air of 40 °C settles at the limit of the winding's rise by resistance: 105 K
/// in class F, 125 K in class H (IEC 60034-1, from memory). The network is solved by hand.
#[test]
fn the_continuous_rating_settles_at_its_limit_of_rise() {
    use sim_core::cooling::{CONVECTION_EXPONENT, Wind};
    use sim_core::motor::copper_factor;
    for motor in ["induction-air-small", "induction-air-medium", "series-dc-large"] {
        let prepared = with(&[&format!("motor=shelf:{motor}")]);
        let motor = &prepared.car.parts().motor;
        let radps = prepared.facts.continuous_radps.unwrap();
        let torque = prepared.facts.continuous_w.unwrap() / radps;
        let rise_k = if prepared.facts.motor.contains("series") { 125.0 } else { 105.0 };
        let settles_k = 273.15 + 40.0 + rise_k;
        let point = motor.operating_point(torque, radps, motor.machine.envelope.reference_v);
        let loss = motor.loss(&point, copper_factor(settles_k, motor.loss_reference_k));
        let fanned = Wind { shaft_08: radps.powf(CONVECTION_EXPONENT), ..Wind::default() };
        let housing_w_per_k = motor.thermal.cooling.conductance().w_per_k(&fanned);
        let winding_k = 313.15
            + loss.total_w() / housing_w_per_k
            + loss.copper_w / motor.thermal.winding_to_housing_w_per_k;
        assert!((winding_k - settles_k).abs() < 1e-6, "{winding_k}");
    }
}

#[test]
fn losses_may_also_come_from_points_or_from_a_map() {
    let points = with(&[
        "motor.loss_coefficients=null",
        r#"motor.efficiency_points=[{"rpm":2000,"torque_nm":60,"efficiency_pct":82},
            {"rpm":3600,"torque_nm":28,"efficiency_pct":90},
            {"rpm":6000,"torque_nm":20,"efficiency_pct":90}]"#,
    ]);
    let map = with(&[
        "motor.loss_coefficients=null",
        r#"motor.efficiency_map={"rpm":[1000,3600,6000],"torque_nm":[10,28,60],
            "efficiency_pct":[[80,82,74],[88,90,85],[86,89,86]]}"#,
    ]);
    for prepared in [points, map] {
        let motor = &prepared.car.parts().motor;
        let radps = 3600.0 * std::f64::consts::TAU / 60.0;
        let point = motor.operating_point(28.0, radps, motor.machine.envelope.reference_v);
        let loss_w = motor.loss(&point, 1.0).total_w();
        let efficiency = 28.0 * radps / (28.0 * radps + loss_w);
        assert!((efficiency - 0.90).abs() < 0.01, "{efficiency}");
    }
}

#[test]
fn a_temperature_network_may_be_given_as_it_is() {
    let prepared = with(&[
        "motor.nameplate=null",
        r#"motor.nodes={"winding_kj_per_k":4,"housing_kj_per_k":20,
            "winding_to_housing_w_per_k":15,"still_air_w_per_k":4,"fan_w_per_k_at_1000_rpm":3}"#,
    ]);
    let thermal = prepared.car.parts().motor.thermal;
    assert_eq!((thermal.winding_j_per_k, thermal.housing_j_per_k), (4000.0, 20_000.0));
    let at_1000 = (1000.0 * std::f64::consts::TAU / 60.0_f64).powf(0.8);
    let fanned = sim_core::cooling::Wind { shaft_08: at_1000, ..Default::default() };
    assert!((thermal.cooling.conductance().w_per_k(&fanned) - 7.0).abs() < 1e-9);
    assert_eq!(prepared.facts.continuous_w, None);
}

#[test]
fn parts_that_do_not_belong_together_are_named_worst_first() {
    use Severity::{Danger, Limit, Waste};
    for (sets, words, severity) in [
        (vec!["pack=shelf:blend-355v-50ah"], "over the 130.0 V that the controller bears", Danger),
        (vec!["pack.series=36"], "it stops regen on a full pack", Limit),
        (
            vec!["pack.series=44", "controller=shelf:series-chopper-500a"],
            "keep it disconnected while the pack is charged",
            Limit,
        ),
        (vec!["pack.series=20"], "under the 70.0 V at which the controller", Danger),
        (vec!["pack.series=21"], "the last of the charge cannot be used", Limit),
        (vec!["motor=shelf:series-dc-large"], "this motor cannot brake", Limit),
        (vec!["controller=shelf:series-chopper-500a"], "puts no current back", Limit),
        (vec!["controller.pack_current_a=500"], "draws up to 500 A from the pack", Limit),
        (vec!["controller.motor_current_a=200"], "gives 200 A to the motor, which needs", Limit),
        (vec!["controller.motor_current_a=900"], "gives up to 900 A", Waste),
        (vec!["gearbox.max_input_nm=50"], "the gearbox bears 50 N·m", Danger),
        (vec!["gearbox.clutch.max_nm=60"], "the clutch holds 60 N·m", Limit),
        (vec!["load.3.mass_kg=400"], "and 1150 kg are permitted", Danger),
        (
            vec!["placement.pack_behind_front_axle_m=-0.5", "donor.front_axle_max_kg=500"],
            "front axle carries",
            Danger,
        ),
        (vec!["conditions.air_c=-5"], "At -5 °C the cells may not be charged", Limit),
        (vec!["conditions.air_c=-30"], "the car does not drive", Danger),
        (
            vec!["auxiliaries.cabin.set_c=20", "auxiliaries.cabin.heater_kw=4"],
            "The heater of 4.0 kW empties",
            Limit,
        ),
        (vec!["pack.max_charge_pct=80"], "The drive starts with 95 % of charge", Limit),
        (vec!["start.charge_pct=5"], "The pack is empty at the start", Danger),
        (vec!["motor.warning_c=140"], "140 °C, and at its continuous rating of 10.5 kW", Limit),
        (
            vec!["motor.nameplate.short_time.minutes=480"],
            "12.0 kW for 480 min are not believed",
            Limit,
        ),
        (
            vec!["motor=shelf:series-dc-large"],
            "The controller is an inverter and the motor needs a chopper",
            Danger,
        ),
        (
            vec!["controller=shelf:series-chopper-500a"],
            "The controller is a chopper and the motor needs an inverter",
            Danger,
        ),
        // 34 cells of 3.2 to 3.3 V.
        (vec!["motor.reference_v=60"], "for its maker to vouch for", Danger),
        (vec!["motor.reference_v=250"], "The motor's figures hold at 250 V", Limit),
        (vec!["donor.gross_mass_kg=null"], "it is not checked", Waste),
    ] {
        let prepared = with(&sets);
        assert_eq!(warned(&prepared, words), Some(severity), "{sets:?} {:?}", prepared.warnings());
        assert_eq!(warned(&with(&[]), words), None, "{words}");
        let severities: Vec<_> = prepared.warnings().iter().map(|w| w.severity).collect();
        assert!(severities.is_sorted_by(|a, b| a >= b), "{severities:?}");
    }
}

/// A clutch that bears what is let through does not slip, however strong the motor.
#[test]
fn the_clutch_sees_what_the_gearbox_lets_through() {
    let slips = |box_nm: &str, clutch_nm: &str| {
        let sets = [
            format!("gearbox.max_input_nm={box_nm}"),
            format!("gearbox.clutch.max_nm={clutch_nm}"),
        ];
        warned(&with(&[&sets[0], &sets[1]]), "it slips at full throttle").is_some()
    };
    assert!(!slips("50", "60"));
    assert!(slips("50", "45"));
}
