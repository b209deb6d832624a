//! Days, seasons, facts of the trade and recorded loads, all on whole builds.

use scenarios::outlet::{Draw, Outlet};
use scenarios::runs::Report;
use scenarios::runs::charge::{self, ChargeOutcome, ChargePlan};
use scenarios::runs::day::{self, Day, LegOutcome};
use scenarios::runs::figure::find;
use scenarios::runs::regen::{self, Grid};
use scenarios::runs::season;
use scenarios::runs::{Run, Suite};
use scenarios::runs::{climb, drive};
use scenarios::{Loaded, Override, Prepared};
use sim_core::Trace;
use sim_core::car::Slope;
use sim_core::climb::Hill;
use std::path::{Path, PathBuf};

fn sets(texts: &[&str]) -> Vec<Override> {
    texts.iter().map(|text| text.parse().unwrap()).collect()
}

fn assert_within(found: f64, low: f64, high: f64, what: &str) {
    println!("{what}: {found:.4}, {low} to {high}");
    assert!((low..=high).contains(&found), "{what}: {found} is not within {low} to {high}");
}

/// A file of this test program's own.
fn written(name: &str, text: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::write(&path, text).unwrap();
    path
}

/// A light four-seat hatchback of 0.9 t all-up, of shelf parts; the body is an invented one of the
/// eighties.
const HATCHBACK: &str = r#"{
  "build": {
    "donor": {
      "kerb_mass_kg": 760, "front_share_pct": 61, "wheelbase_m": 2.2, "cg_height_m": 0.5,
      "driven": "front", "drag_coefficient": 0.36, "frontal_area_m2": 1.72
    },
    "gearbox": "shelf:four-speed-front-drive",
    "motor": "shelf:induction-air-small",
    "controller": "shelf:low-voltage-450a",
    "pack": "shelf:iron-phosphate-108v-100ah",
    "tyre": { "size": "145/70R13", "label_n_per_kn": 10 },
    "removed": [
      { "item": "engine, radiator, exhaust", "mass_kg": 125, "behind_front_axle_m": 0.1 },
      { "item": "tank, filled", "mass_kg": 35, "behind_front_axle_m": 2.0 }
    ],
    "added": [
      { "item": "adapter, cables, charger", "mass_kg": 48, "behind_front_axle_m": 0.3 }
    ],
    "load": [
      { "item": "driver", "mass_kg": 75, "behind_front_axle_m": 1.1 },
      { "item": "bag", "mass_kg": 25, "behind_front_axle_m": 1.8 }
    ],
    "placement": {
      "motor_behind_front_axle_m": -0.05, "controller_behind_front_axle_m": -0.1,
      "pack_behind_front_axle_m": 1.3
    },
    "auxiliaries": {
      "low_voltage": [ { "item": "instruments, pump, wipers", "power_w": 120 } ],
      "dc_dc_efficiency_pct": 88
    },
    "regen": { "lift_off_pct": 10, "brake_pedal_pct": 20 }
  },
  "start": { "charge_pct": 90 }
}"#;

fn hatchback(texts: &[&str]) -> Prepared {
    // Test threads write the same text: each has a file of its own.
    let name = format!("hatchback-{:?}.json", std::thread::current().id());
    let loaded = Loaded::open(written(&name, HATCHBACK)).unwrap();
    loaded.with(&sets(texts)).unwrap()
}

fn on_cycle(prepared: &Prepared, name: &str) -> drive::DriveReport {
    let trace = scenarios::runs::trace(&cycles::find(name).unwrap()).unwrap();
    let setup = prepared.setup();
    drive::report(&setup, name, &trace, &drive::drive(&setup, &trace, &mut ()))
}

mod facts_of_the_trade {
    //! What converters of such cars report (common practice, no source).

    use super::*;

    fn motorway(air_c: &str) -> climb::ClimbReport {
        let prepared = hatchback(&[&format!("conditions.air_c={air_c}")]);
        let hill = Hill {
            slope: Slope::LEVEL,
            speed_mps: scenarios::units::mps_from_kmh(105.0),
            distance_m: scenarios::units::mps_from_kmh(105.0) * 1800.0,
        };
        climb::report(&prepared.setup(), &hill).unwrap()
    }

    #[test]
    fn a_steady_motorway_takes_13_to_20_kw() {
        for air_c in ["2", "24"] {
            let top = &motorway(air_c).gears[3];
            assert_within(top.pack_kw, 13.0, 20.0, &format!("kW at 105 km/h and {air_c} °C"));
        }
    }

    #[test]
    fn the_small_motor_carries_the_motorway_for_half_an_hour_in_summer() {
        let top = &motorway("24").gears[3];
        assert!(top.held && top.derated_at_s.is_none(), "{top:?}");
        assert_within(top.time_s, 1795.0, 1805.0, "time held, s");
        // Twice its continuous power: it is heat capacity, fan and road air that carry it.
        assert_within(top.shaft_kw, 1.6 * 7.5, 2.1 * 7.5, "shaft power, kW");
    }

    /// The highway schedule stands for driving that is mostly motorway; in mid-winter headlights
    /// of 110 W are on and the heater takes 150 W on average.
    #[test]
    fn mostly_motorway_gives_five_and_a_half_miles_in_summer_and_less_in_winter() {
        let summer = on_cycle(&hatchback(&["conditions.air_c=24"]), "hwfet");
        assert_within(summer.mi_per_kwh, 5.2, 5.7, "mi/kWh in summer");
        let winter = hatchback(&[
            "conditions.air_c=2",
            "auxiliaries.low_voltage.1.power_w=230",
            "auxiliaries.traction_w=150",
        ]);
        assert_within(on_cycle(&winter, "hwfet").mi_per_kwh, 4.4, 4.8, "mi/kWh in mid-winter");
    }

    /// How far the pack's voltage falls in 20 s of 325 A, the peak of the quick schedule US06 in
    /// summer as in winter, in per cent of what it is at rest.
    fn sag_pct(air_c: &str) -> f64 {
        let prepared = hatchback(&[&format!("conditions.air_c={air_c}")]);
        let car = &prepared.car;
        let mut state = prepared.start;
        let at_rest_v = car.now(&state, 0.0).pack.emf_v;
        let mut pack_v = at_rest_v;
        for _ in 0..20 {
            let now = car.now(&state, 1.0);
            let flow = car.at_rest(&now, 325.0);
            car.warm(&mut state, &flow, 1.0);
            pack_v = flow.pack_v;
        }
        100.0 * (1.0 - pack_v / at_rest_v)
    }

    #[test]
    fn a_cold_pack_sags_more() {
        let (cold, warm) = (sag_pct("2"), sag_pct("24"));
        assert_within(cold - warm, 10.0, 15.0, "further sag at 2 °C, % of the resting voltage");
    }
}

mod legs {
    use super::*;

    fn demo(texts: &[&str]) -> (Prepared, Day) {
        let prepared = Loaded::demo().unwrap().with(&sets(texts)).unwrap();
        let road = prepared.drives.commute.clone().unwrap();
        let day = Day::of(&prepared, &road, &cycles::LoadOptions::default()).unwrap();
        (prepared, day)
    }

    /// A day of one drive is that drive; what parks and charges in between is booked besides.
    #[test]
    fn its_legs_are_what_the_single_runs_say() {
        let (prepared, one) = demo(&["runs.day=[{\"drive\":{}}]"]);
        let found = day::report(&prepared, &one).unwrap();
        let road = prepared.drives.commute.clone().unwrap();
        let road = prepared.read(&road, &cycles::LoadOptions::default()).unwrap().schedule;
        let trace = scenarios::runs::trace(&road).unwrap();
        let alone = drive::drive(&prepared.setup(), &trace, &mut ());
        assert!(found.complete && found.legs.len() == 1);
        assert_eq!(found.legs[0].distance_km, alone.distance_m / 1000.0);
        assert_eq!(found.charge_left_pct, 100.0 * alone.end.charge);
        let (prepared, whole) = demo(&[]);
        let found = day::report(&prepared, &whole).unwrap();
        assert!(found.complete && found.ledger_residual.abs() < 1e-9, "{found:?}");
        // A parked pack keeps its charge, and a charger takes more than it gives.
        assert!(found.legs[1].charge_pct == found.legs[0].charge_pct);
        assert!(found.legs[3].charge_pct > found.legs[2].charge_pct && found.wall_kwh > 0.0);
        assert!(found.legs[3].wall_kwh > -found.legs[3].energy_kwh);
    }

    /// Newton's law of cooling: a node with conductance G and capacity C that is let alone keeps
    /// e^(−G·t/C) of its excess over the air.
    #[test]
    fn what_is_parked_cools_as_newton_says() {
        let park = "runs.day=[{\"park\":{\"minutes\":200}}]";
        let warm = "start.cells_c=40";
        let (prepared, day) = demo(&[park, warm]);
        let pack = &prepared.car.parts().pack;
        let keep = (-pack.conductance_w_per_k * 12000.0 / pack.heat_capacity_j_per_k).exp();
        let found = day::report(&prepared, &day).unwrap();
        let (air_c, end_c) = (found.legs[0].air_c, found.legs[0].end.cells_c);
        assert!((end_c - air_c - (40.0 - air_c) * keep).abs() < 0.01, "{end_c}");
        assert_eq!(found.legs[0].peak.cells_c.round(), 40.0);
    }

    /// All but air and tyres taken out of the demo: what goes up comes down again.
    const LOSSLESS: [&str; 21] = [
        "gearbox.gears.1.efficiency_pct=100",
        "gearbox.gears.2.efficiency_pct=100",
        "gearbox.gears.3.efficiency_pct=100",
        "gearbox.gears.4.efficiency_pct=100",
        "gearbox.drag_nm=0",
        "gearbox.drag_nm_per_krpm=0",
        "motor.loss_coefficients={\"copper_w_per_a2\":1e-9}",
        "motor.nameplate=null",
        "motor.nodes={\"winding_kj_per_k\":4,\"housing_kj_per_k\":20,\
            \"winding_to_housing_w_per_k\":15,\"still_air_w_per_k\":4}",
        "controller.fixed_loss_w=0",
        "controller.loss_w_per_a=0",
        "controller.loss_w_per_a2=0",
        "pack.cell.resistance=[{\"charge_pct\":0,\"mohm\":1e-6}]",
        "pack.cell.polarisation_mohm=0",
        "pack.cell.charge_a=500",
        "pack.cell.charge_peak_a=500",
        "pack.harness_mohm=0",
        "auxiliaries.low_voltage=[]",
        "driver={\"shifting\":\"fixed\",\"gear\":2}",
        "regen.brake_pedal_pct=88",
        "conditions.surface=dry",
    ];

    /// There and back over a road that only rises, 2 km at 4 %.
    fn over_a_rise(name: &str, more: &str) -> (Prepared, Day) {
        let rising = written(name, "distance_m,limit_kmh,elevation_m\n0,40,0\n2000,40,80\n");
        let commute = format!("runs.commute.cycle={}", rising.display());
        let sets: Vec<&str> = [more, &commute].into_iter().chain(LOSSLESS).collect();
        demo(&sets)
    }

    /// Without a loss in the drive the way up takes `m·g·h` more than a level road and the way back
    /// as much less, so that they lie twice `m·g·h` apart. The road ends standing, where the friction
    /// brakes take what regen, which fades out at walking pace, leaves: under 1 %.
    #[test]
    fn there_and_back_lie_twice_the_height_apart() {
        let (prepared, both) = over_a_rise("rising.csv", "runs.day=null");
        assert_eq!(both.len(), 3);
        let found = day::report(&prepared, &both).unwrap();
        let (there, back) = (&found.legs[0], &found.legs[2]);
        assert!((there.distance_km - back.distance_km).abs() < 0.01);
        let lift_kwh = prepared.car.parts().chassis.mass_kg * 9.80665 * 80.0 / 3.6e6;
        let apart = there.energy_kwh - back.energy_kwh;
        assert_within(apart / lift_kwh, 1.98, 2.0, "there less back over the lift");
        assert_eq!(found.legs[1].time_s, 8.0 * 3600.0);
    }

    /// 200 kg more are lifted by 80 m and roll over 2 km, `m·g·(h + c·L)`, on tyres of 11.3 N/kN
    /// at 80 km/h and 0.000015 for each km/h that roll 1/(1 − 0.008·ΔT) times as hard ΔT below 25 °C (ISO 28580):
    /// in air of 24 °C, and cold by another 25 K that fade by half an hour's three time constants.
    /// The friction brakes' share of the stop at the end is under 1 %.
    #[test]
    fn a_load_costs_what_lifts_and_rolls_it() {
        let first_leg = |load: &str| {
            let one_leg = format!("runs.day=[{{\"drive\":{{{load}}}}}]");
            let (prepared, day) = over_a_rise("rising-with-a-load.csv", &one_leg);
            day::report(&prepared, &day).unwrap().legs[0].energy_kwh
        };
        let item = "{\"item\":\"x\",\"mass_kg\":200,\"behind_front_axle_m\":1.5}";
        let more_kwh = first_leg(&format!("\"load\":[{item}]")) - first_leg("");
        // 2 km at 40 km/h, by the second.
        let cold = |s: i32| 1.0 / (1.0 - 0.008 * (1.0 + 25.0 * (-f64::from(s) / 600.0).exp()));
        let rolling = (0.0113 - 1.5e-5 * 40.0) * (0..180).map(cold).sum::<f64>() / 180.0;
        let by_hand_kwh = 200.0 * 9.80665 * (80.0 + rolling * 2000.0) / 3.6e6;
        assert_within(more_kwh / by_hand_kwh, 0.99, 1.01, "energy for 200 kg over m·g·(h + c·L)");
    }

    /// What rides along on a leg is checked as what rides along always is: 2000 kg ahead of the
    /// front axle lift the rear wheels of a car of half that mass.
    #[test]
    fn a_load_that_tips_the_car_is_refused() {
        let item = "{\"item\":\"x\",\"mass_kg\":2000,\"behind_front_axle_m\":-2}";
        let leg = format!(
            "runs.day=[{{\"park\":{{\"minutes\":1}}}},{{\"drive\":{{\"load\":[{item}]}}}}]"
        );
        let (prepared, day) = demo(&[&leg]);
        let refusal = day::report(&prepared, &day).unwrap_err().to_string();
        assert!(refusal.starts_with("leg 2 of the day, "), "{refusal}");
        assert!(refusal.contains("placement is such that the centre of gravity"), "{refusal}");
    }

    /// A leg's load comes besides the one that is assumed: the driver of 75 kg stays in the car, as
    /// when both are written down.
    #[test]
    fn a_load_rides_along_beside_the_driver() {
        let item = |name: &str, kg: f64, m: f64| {
            format!("{{\"item\":\"{name}\",\"mass_kg\":{kg},\"behind_front_axle_m\":{m}}}")
        };
        let extra = item("x", 50.0, 1.0);
        let leg = format!("runs.day=[{{\"drive\":{{\"load\":[{extra}]}}}}]");
        let (assumed, day) = demo(&["load=null", &leg]);
        let middle_m = 0.5 * assumed.car.parts().chassis.wheelbase_m;
        let both = format!("load=[{},{extra}]", item("driver", 75.0, middle_m));
        let (written, plain) = demo(&[&both, "runs.day=[{\"drive\":{}}]"]);
        let kwh = |car: &Prepared, day: &Day| day::report(car, day).unwrap().driving_kwh;
        let (beside, whole) = (kwh(&assumed, &day), kwh(&written, &plain));
        assert!((beside / whole - 1.0).abs() < 1e-12, "{beside} {whole}");
    }

    /// A leg does what it is for where the charger works until the time is up, and where the pack
    /// was full already; what comes after a refused charge is carried out all the same.
    #[test]
    fn a_refused_charge_alone_is_not_carried_out() {
        let legs = "runs.day=[{\"charge\":{\"volts\":230,\"amps\":10,\"minutes\":60}},\
                    {\"park\":{\"minutes\":10}}]";
        for (air_c, charge_pct, complete) in
            [(-10, 50, false), (-10, 100, true), (10, 50, true), (10, 100, true)]
        {
            let air = format!("conditions.air_c={air_c}");
            let charge = format!("start.charge_pct={charge_pct}");
            let (prepared, day) = demo(&[legs, &air, &charge]);
            let found = day::report(&prepared, &day).unwrap();
            let case = format!("{charge_pct} % at {air_c} °C: {:?}", found.legs);
            assert_eq!((found.complete, found.legs.len()), (complete, 2), "{case}");
            let parked = found.legs.iter().filter(|leg| leg.not_done.is_none()).count();
            assert_eq!(parked, if complete { 2 } else { 1 }, "{case}");
        }
    }

    /// A pack that is nearly empty ends the day on the way, and a charge below freezing is refused.
    #[test]
    fn it_ends_where_the_pack_gives_out_and_refuses_to_charge_cold_cells() {
        let (prepared, day) = demo(&["start.charge_pct=25"]);
        let found = day::report(&prepared, &day).unwrap();
        assert!(!found.complete && found.legs.len() < 4);
        let last = found.legs.last().unwrap();
        assert!(
            last.ending != LegOutcome::Complete && last.distance_km < last.planned_km,
            "{last:?}"
        );
        let legs = "runs.day=[{\"charge\":{\"volts\":230,\"amps\":10,\"minutes\":60}}]";
        let (prepared, day) = demo(&[legs, "conditions.air_c=-10", "start.charge_pct=50"]);
        let found = day::report(&prepared, &day).unwrap();
        assert_eq!((found.legs[0].ending, found.wall_kwh), (LegOutcome::Refused, 0.0));
        assert!(!found.complete && found.not_done() == Some("the cells refused the charge"));
        assert_eq!(found.legs[0].time_s, 3600.0);
        assert!((found.charge_left_pct - 50.0).abs() < 1e-9);
    }

    /// A leg at a socket is what `charge` says of that socket: with the build's charger, its power,
    /// its efficiency and where it ends; a leg with an efficiency of its own has that one.
    #[test]
    fn a_leg_at_a_socket_is_what_a_charge_there_is() {
        let outlet = Outlet::custom(230.0, Draw::Amps(30.0)).unwrap();
        for (charger, to_pct, hours, efficiency) in [
            ("{}", 90.0, None, None),
            (r#"{"power_kw":1.2,"efficiency_pct":75}"#, 80.0, None, None),
            (r#"{"power_kw":9,"end_c_rate":0.6}"#, 100.0, None, None),
            (r#"{"power_kw":20,"efficiency_pct":94}"#, 100.0, Some(0.7), None),
            (r#"{"efficiency_pct":70}"#, 70.0, None, Some(94.0)),
        ] {
            let mut leg = serde_json::json!({ "volts": 230, "amps": 30, "to_pct": to_pct });
            if let Some(hours) = hours {
                leg["minutes"] = (60.0 * hours).into();
            }
            if let Some(pct) = efficiency {
                leg["efficiency_pct"] = f64::into(pct);
            }
            let legs = format!("runs.day=[{{\"charge\":{leg}}}]");
            let charger = format!("charger={charger}");
            let (car, day) = demo(&[&legs, &charger, "start.charge_pct=31"]);
            let found = day::report(&car, &day).unwrap();
            let plan = ChargePlan {
                outlet: outlet.clone(),
                from: Some(0.31),
                to: to_pct / 100.0,
                after_s: 0.0,
                night_s: 3600.0 * hours.unwrap_or(8.0),
                energy_per_kwh: None,
            };
            let trace = scenarios::runs::trace(&cycles::find("wltc-low").unwrap()).unwrap();
            let mut alone = car.charger;
            alone.efficiency = efficiency.map_or(alone.efficiency, |pct| pct / 100.0);
            let alone = charge::report(&car.setup(), &alone, "wltc-low", &trace, &plan);
            let (row, daily) = (&found.legs[0], &alone.daily);
            let case = format!("{charger}: {row:?}, {daily:?}");
            if hours.is_some() {
                assert_eq!(row.charge_pct, daily.night.charge_pct, "{case}");
                assert_eq!(row.ending, LegOutcome::TimeUp, "{case}");
                continue;
            }
            let ended = match daily.ending {
                ChargeOutcome::Target => LegOutcome::Complete,
                ChargeOutcome::Full => LegOutcome::Full,
                _ => panic!("{case}"),
            };
            assert_eq!(row.ending, ended, "{case}");
            assert_eq!((row.time_s, row.wall_kwh), (daily.time_s, daily.wall_kwh), "{case}");
            assert_eq!(row.energy_kwh, -daily.pack_kwh, "{case}");
            assert_eq!(row.charge_pct, daily.reached_pct, "{case}");
        }
    }

    #[test]
    fn bad_legs_are_refused_with_their_place() {
        let demo = Loaded::demo().unwrap();
        for (set, said) in [
            ("runs.day=[]", "runs.day is a list of 0; allowed: 1 to 200 legs"),
            ("runs.day=[{}]", "runs.day.1.drive is missing"),
            ("runs.day=[{\"park\":{\"minutes\":-1}}]", "runs.day.1.park.minutes is -1"),
            ("runs.day=[{\"park\":{\"minutes\":1},\"drive\":{}}]", "given beside"),
            ("runs.day=[{\"charge\":{\"volts\":230,\"amps\":0}}]", "runs.day.1.charge.amps is 0"),
            ("seasons=[{\"name\":\"x\",\"air_c\":90}]", "seasons.1.air_c is 90"),
            ("seasons=[{\"name\":\"\",\"air_c\":9}]", "seasons.1.name is"),
        ] {
            let error = demo.with(&sets(&[set])).unwrap_err().to_string();
            assert!(error.contains(said), "{set}: {error}");
        }
    }
}

mod seasons {
    use super::*;

    fn report(texts: &[&str]) -> season::SeasonReport {
        let prepared = Loaded::demo().unwrap().with(&sets(texts)).unwrap();
        let road = prepared.drives.commute.clone().unwrap();
        let options = cycles::LoadOptions::default();
        let trace = prepared.read(&road, &options).unwrap().schedule;
        let trace = scenarios::runs::trace(&trace).unwrap();
        let day = Day::of(&prepared, &road, &options).unwrap();
        season::report(&prepared, None, (road.name(), &trace), &day).unwrap()
    }

    /// Air of an ideal gas: at one height densities are as the inverse of the temperatures; tyres
    /// follow ISO 28580 (from memory).
    #[test]
    fn air_and_tyres_follow_the_temperature() {
        let found = report(&[]);
        let (spring, winter) = (&found.seasons[0], &found.seasons[1]);
        let ratio = winter.air_density_kg_per_m3 / spring.air_density_kg_per_m3;
        let kelvins = (spring.air_c + 273.15) / (winter.air_c + 273.15);
        assert!((ratio - kelvins).abs() < 1e-9);
        let factor = 1.0 / (1.0 + 0.008 * (winter.air_c - 25.0));
        assert!((winter.rolling_factor - factor).abs() < 1e-9);
        assert!(winter.range_km < spring.range_km && winter.usable_pct < spring.usable_pct);
        assert!(winter.refuses_charge && !spring.refuses_charge);
        assert!(winter.regen_kwh < 0.3 * spring.regen_kwh);
        assert!(spring.costs.is_empty());
        for item in ["tyres", "air", "wind", "cells", "heater", "lights"] {
            let cost = winter.costs.iter().find(|cost| cost.item == item).unwrap();
            assert!(cost.range_km > 0.0, "{cost:?}");
        }
    }

    /// A coast-down is stated for 20 °C and follows the air by 0.86 % a kelvin (SAE J1263, from
    /// memory), as the drive of that season rolls.
    #[test]
    fn a_coast_down_follows_the_air_by_its_own_line() {
        let found = report(&[
            r#"donor.coast_down={"f0_n":97,"f1_n_per_kmh":0.5,"f2_n_per_kmh2":0.04,"mass_kg":965}"#,
            "donor.drag_coefficient=null",
            "donor.frontal_area_m2=null",
            "donor.drag_area_m2=null",
            "donor.bearings_n=null",
            "tyre.label_n_per_kn=null",
            "tyre.rolling_resistance_per_kmh=null",
            r#"seasons=[{"name":"at the reference","air_c":20},{"name":"frost","air_c":-5}]"#,
        ]);
        assert!((found.seasons[0].rolling_factor - 1.0).abs() < 1e-9);
        let frost = 1.0 / (1.0 - 0.0086 * 25.0);
        assert!((found.seasons[1].rolling_factor - frost).abs() < 1e-9);
    }

    /// The range of a season in the scenario's own weather is that of a drive, of a regen setting that
    /// is the build's own, and of the figure.
    #[test]
    fn there_is_one_range() {
        let own = [
            "seasons=[{\"name\":\"as it is\",\"air_c\":24}]",
            "regen.lift_off_pct=10",
            "regen.brake_pedal_pct=20",
            "regen.lift_off_nm=null",
            "regen.brake_pedal_nm=null",
        ];
        let car = Loaded::demo().unwrap().with(&sets(&own)).unwrap();
        let trace = car.read(&car.road(), &cycles::LoadOptions::default()).unwrap();
        let trace = scenarios::runs::trace(&trace.schedule).unwrap();
        let range_km = drive::range_of(&car.setup(), &trace).distance_km;
        assert_eq!(report(&own).seasons[0].range_km, range_km);
        let grid = Grid { lift_off_pct: vec![10.0], brake_pct: vec![20.0], ..Grid::default() };
        let regen = regen::report(&car, "road", &trace, &grid).unwrap();
        assert_eq!(regen.rows[0].range_km, range_km);
        let figures = Suite::new(&[Run::Range], "road", trace).figures(&car).unwrap();
        assert_eq!(find(&figures, "range_km").unwrap().value, range_km);
    }

    /// Cells from a garage drive in a season as they do in a scenario of its weather that says so of the
    /// start, and take charge; the garage is worth something and costs nothing.
    #[test]
    fn a_season_may_begin_with_cells_from_a_garage() {
        let season = |more: &str| {
            let seasons = format!("seasons=[{{\"name\":\"x\",\"air_c\":-5{more}}}]");
            report(&[&seasons]).seasons.remove(0)
        };
        let (outside, garage) = (season(""), season(",\"cells_c\":12"));
        assert!(outside.refuses_charge && !garage.refuses_charge);
        assert!(garage.range_km > outside.range_km && garage.usable_pct > outside.usable_pct);
        let weather = ["conditions.air_c=-5", "conditions.head_wind_kmh=0", "start.cells_c=12"];
        let car = Loaded::demo().unwrap().with(&sets(&weather)).unwrap();
        let trace = car.read(&car.road(), &cycles::LoadOptions::default()).unwrap();
        let trace = scenarios::runs::trace(&trace.schedule).unwrap();
        assert_eq!(garage.range_km, drive::range_of(&car.setup(), &trace).distance_km);
        let error = Loaded::demo().unwrap().with(&sets(&["seasons.1.cells_c=90"])).unwrap_err();
        assert!(error.to_string().contains("seasons.1.cells_c is 90"), "{error}");
    }

    /// A thermostat of the build's holds in every season that says nothing else, and 0 kW of heater
    /// heats nothing.
    #[test]
    fn a_season_heats_the_cabin_of_a_build_that_has_a_heater() {
        let driven = |cabin: &str, season: &str| {
            let list = format!("seasons=[{{\"name\":\"x\",\"air_c\":-5{season}}}]");
            let found = report(&[&format!("auxiliaries.cabin={cabin}"), &list]);
            let told = found.assumptions.iter().find(|a| a.path == "seasons.1.cabin_c");
            (found.seasons[0].wh_per_km, told.map(|a| a.value.clone()))
        };
        let heater = "{\"set_c\":18,\"heater_kw\":3}";
        let (heated, told) = driven(heater, "");
        assert_eq!(told.as_deref(), Some("18 °C"));
        assert_eq!((heated, None), driven(heater, ",\"cabin_c\":18"));
        assert_eq!(driven("{\"heater_kw\":3}", "").1.as_deref(), Some("20 °C"));
        let (off, told) = driven(heater, ",\"heater_kw\":0");
        assert!(told.is_none() && off < 0.95 * heated, "{off} {heated}");
        let (none, told) = driven("null", "");
        assert!(told.is_none() && (none / off - 1.0).abs() < 1e-9, "{none} {off}");
    }

    #[test]
    fn a_build_without_seasons_drives_typical_ones_and_says_so() {
        for sets in [["seasons=null"], ["seasons=[]"]] {
            let found = report(&sets);
            let names: Vec<&str> = found.seasons.iter().map(|s| s.name.as_str()).collect();
            assert_eq!(names, ["spring", "winter", "summer"]);
            assert_eq!(found.assumptions[0].path, "seasons");
            let [spring, winter, summer] = found.seasons.as_slice() else { unreachable!() };
            assert!(winter.range_km < spring.range_km && spring.range_km < summer.range_km);
        }
    }

    /// Lights of P watts through a converter of efficiency η take P/η for as long as the road takes.
    #[test]
    fn lights_cost_their_power_over_the_converters_efficiency() {
        let list = "seasons=[{\"name\":\"a\",\"air_c\":20},\
                    {\"name\":\"b\",\"air_c\":20,\"lights_w\":200}]";
        let found = report(&[list]);
        let [cost] = found.seasons[1].costs.as_slice() else { panic!("{:?}", found.seasons[1]) };
        let demo = Loaded::demo().unwrap().prepare().unwrap();
        let trace = demo.read(&demo.road(), &cycles::LoadOptions::default()).unwrap();
        let hours = trace.schedule.duration_s() / 3600.0;
        let expected = 200.0 / 0.88 * hours / found.distance_km;
        assert_eq!(cost.item, "lights");
        assert_within(cost.wh_per_km / expected, 0.98, 1.03, "lights over P·t/η");
    }
}

mod lift_off {
    use super::*;

    /// What a foot feels is told where the cells take the current: each tenth of the peak torque
    /// slows the car by as much more, T·i/(r·m); rotating parts and the box's efficiency stay within
    /// a fifth (common practice, no source). A full pack takes none of it, whatever is set.
    #[test]
    fn it_is_felt_by_its_setting_and_goes_when_the_pack_is_full() {
        let car = Loaded::demo().unwrap().prepare().unwrap();
        let road = Trace::new(&[0.0, 5.0, 75.0], &[0.0, 13.9, 0.0], &[0.0; 2]).unwrap();
        let lift_off_pct = vec![0.0, 10.0, 20.0, 30.0];
        let grid = Grid { lift_off_pct, brake_pct: vec![0.0], ..Grid::default() };
        let found = regen::report(&car, "a stop", &road, &grid).unwrap();
        let parts = car.car.parts();
        let v = grid.at_mps;
        let per_m = car.car.motor_radps(found.lift_off_gear - 1, v) / v;
        let tenth_nm = 0.1 * parts.motor.machine.envelope.largest_nm();
        let by_hand_mps2 = tenth_nm * per_m / parts.chassis.mass_kg;
        for rows in found.rows.windows(2) {
            let more = rows[1].lift_off_mps2 - rows[0].lift_off_mps2;
            assert_within(more / by_hand_mps2, 0.8, 1.2, "a tenth of the peak torque, felt");
            assert!(rows[1].lift_off_full_mps2 <= rows[1].lift_off_mps2);
        }
        let (gentle, hard) = (&found.rows[1], &found.rows[3]);
        assert!((hard.lift_off_full_mps2 - gentle.lift_off_full_mps2).abs() < 1e-9);
    }
}

mod recorded {
    use super::*;

    /// A load that is recorded with the road is drawn from the pack besides all else: by energy,
    /// P·t at the terminals.
    #[test]
    fn a_recorded_load_is_drawn_from_the_pack() {
        let rows = |with: bool| {
            let mut text = String::from("time_s,speed_kmh,heater_kw\n");
            for t in 0..=600 {
                let speed = f64::from(t.min(600 - t).min(20)) * 2.0;
                let load = if with && t < 300 { 3.0 } else { 0.0 };
                text += &format!("{t},{speed},{load}\n");
            }
            text
        };
        let prepared = hatchback(&[]);
        let energy_j = |with| {
            let path = written(&format!("load-{with}.csv"), &rows(with));
            let options = cycles::LoadOptions {
                auxiliary_column: Some("heater_kw".to_owned()),
                ..cycles::LoadOptions::default()
            };
            let trace = scenarios::runs::trace(&cycles::load(path, &options).unwrap().schedule);
            drive::drive(&prepared.setup(), &trace.unwrap(), &mut ()).terminal_j
        };
        let drawn = energy_j(true) - energy_j(false);
        assert_within(drawn / (3000.0 * 300.0), 0.99, 1.02, "recorded load drawn over P·t");
    }

    /// A column of loads is there and has its unit in its name; loads are no less than nothing.
    #[test]
    fn loads_that_make_no_sense_are_refused() {
        let path = written("loads.csv", "time_s,speed_kmh,heater\n0,0,1\n1,1,1\n");
        let options = |name: &str| cycles::LoadOptions {
            auxiliary_column: Some(name.to_owned()),
            ..cycles::LoadOptions::default()
        };
        for (name, said) in [("heater", "does not end in _kw or _w"), ("x_kw", "is not there")] {
            let error = cycles::load(&path, &options(name)).unwrap_err().to_string();
            assert!(error.contains(said), "{error}");
        }
        assert!(Trace::loaded(&[0.0, 1.0], &[0.0, 0.0], &[0.0], &[-1.0]).is_err());
        assert!(Trace::loaded(&[0.0, 1.0], &[0.0, 0.0], &[0.0], &[1.0, 1.0]).is_err());
    }
}
