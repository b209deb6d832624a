//! The card for the glove box: what stands on it hangs together, and is what a drive takes.

use scenarios::runs::drive;
use scenarios::runs::readings::{self, Card, ReadingsReport};
use scenarios::runs::settings;
use scenarios::{Loaded, Override, Prepared};
use serde_json::{Value, json};
use sim_core::{Trace, units};

fn car(list: &[(&str, Value)]) -> Prepared {
    let overrides: Vec<Override> =
        list.iter().map(|(path, value)| Override::new(path, value.clone()).unwrap()).collect();
    Loaded::demo().unwrap().with(&overrides).unwrap()
}

fn card(car: &Prepared, card: &Card) -> ReadingsReport {
    let trace = scenarios::runs::trace(&cycles::find("wltc-low").unwrap()).unwrap();
    car.vouched(readings::report(car, card, ("wltc-low", &trace)).unwrap()).unwrap()
}

#[test]
fn voltage_rises_with_charge_and_range_is_by_energy() {
    for cell in ["iron-phosphate-100ah", "blend-50ah"] {
        let cell = json!(format!("shelf:{cell}"));
        let own = car(&[("pack.cell", cell), ("pack.series", json!(30))]);
        let found = card(&own, &Card::default());
        assert_eq!(found.charges.len(), 10);
        for pair in found.charges.windows(2) {
            assert!(pair[0].charge_pct > pair[1].charge_pct);
            assert!(pair[0].rested_v > pair[1].rested_v);
            assert!(pair[0].left_kwh >= pair[1].left_kwh);
            assert!(pair[0].told_to_pct >= pair[1].told_to_pct);
        }
        let per_km = |row: &readings::ChargeRow| row.left_kwh / row.range_km.unwrap();
        let first = per_km(&found.charges[0]);
        for row in found.charges.iter().filter(|row| row.left_kwh > 0.01) {
            assert!((per_km(row) / first - 1.0).abs() < 1e-9);
            assert!(row.driving_v.is_none_or(|v| v < row.rested_v));
            assert!(row.cold_left_kwh <= row.left_kwh);
            assert!(row.told_from_pct <= row.charge_pct && row.charge_pct <= row.told_to_pct);
        }
        // The rested cell is that of the file, as a rested pack has no other.
        let full = own.scenario.build.pack.cell.open_circuit.last().unwrap();
        assert!((found.charges[0].rested_cell_v - full.v).abs() < 1e-9);
    }
}

/// Iron phosphate between 3.275 and 3.335 V tells nothing (common practice, no source); a blend of
/// nickel, whose curve is steep, does.
#[test]
fn a_flat_curve_tells_nothing_and_a_steep_one_does() {
    let flat = card(&car(&[]), &Card::default());
    let [from, to] = flat.flat_pct.unwrap();
    assert!(from < 40.0 && to > 80.0, "{from} {to}");
    let half = flat.gaps.iter().find(|row| row.charge_pct == 60.0).unwrap();
    assert!(half.rest_worry_mv.is_none() && half.load_worry_mv.is_some());
    let steep = car(&[
        ("pack.cell", json!("shelf:blend-50ah")),
        ("pack.series", json!(29)),
        ("pack.capacity_spread_pct", json!(5)),
    ]);
    let steep = card(&steep, &Card::default());
    assert!(steep.flat_pct.is_none(), "{:?}", steep.flat_pct);
    assert!(steep.gaps.iter().any(|row| row.charge_pct < 70.0 && row.rest_worry_mv.is_some()));
}

/// A pack so large that a long drive neither empties nor warms it: the drive settles where the card
/// says.
#[test]
fn a_steady_speed_takes_what_a_drive_takes() {
    // A heated cabin settles as well.
    let cabin = json!({ "heater_kw": 3, "set_c": 20 });
    for (air_c, cabin) in [(25, Value::Null), (2, cabin)] {
        takes_what_a_drive_takes(&car(&[
            ("pack.parallel", json!(60)),
            ("pack.cell.mass_kg", json!(0.1)),
            ("pack.cell.specific_heat_j_per_kg_k", json!(5000)),
            ("pack.box_mass_kg", json!(0)),
            ("auxiliaries.cabin", cabin),
            ("conditions.air_c", json!(air_c)),
            ("start", json!({ "charge_pct": 57, "tyres": "warm", "cells_c": 25 })),
        ]));
    }
}

fn takes_what_a_drive_takes(own: &Prepared) {
    let wanted = Card {
        speeds_mps: [50.0, 70.0, 90.0].map(units::mps_from_kmh).to_vec(),
        at_mps: Some(units::mps_from_kmh(60.0)),
        cold_c: Some(0.0),
    };
    let found = card(own, &wanted);
    for row in &found.speeds {
        let mps = units::mps_from_kmh(row.speed_kmh);
        let terminal_j = |seconds: f64| {
            let trace = Trace::new(&[0.0, seconds], &[mps, mps], &[0.0]).unwrap();
            let driven = drive::drive(&own.setup(), &trace, &mut ());
            (driven.terminal_j, driven.end)
        };
        let long_s = units::s_from_h(4.0);
        let (until, _) = terminal_j(long_s);
        let (beyond, end) = terminal_j(long_s + 600.0);
        let kw = units::kw_from_w((beyond - until) / 600.0);
        let said = row.power_kw.unwrap();
        assert!((said / kw - 1.0).abs() < 0.005, "{} km/h: {said} and {kw} kW", row.speed_kmh);
        let winding_c = units::c_from_k(end.temperature_k[sim_core::Node::Winding]);
        assert!((row.winding_c.unwrap() - winding_c).abs() < 1.0, "{winding_c}");
        let per_km = units::wh_from_kwh(said / row.speed_kmh);
        assert!((row.wh_per_km.unwrap() - per_km).abs() < 1e-9);
        assert!((row.pack_a.unwrap() * row.pack_v.unwrap() / 1000.0 - said).abs() < 1e-9);
    }
}

#[test]
fn two_strings_halve_the_current_of_a_cell() {
    let at = |parallel: u32, mass_kg: f64| {
        let own = car(&[
            ("pack.parallel", json!(parallel)),
            ("pack.cell.mass_kg", json!(mass_kg)),
            ("donor.gross_mass_kg", Value::Null),
        ]);
        let found = card(&own, &Card::default());
        found.speeds[0].pack_a.unwrap() / f64::from(parallel)
    };
    let (one, two) = (at(1, 2.0), at(2, 1.0));
    assert!(two < 0.501 * one && two > 0.48 * one, "{one} {two}");
}

#[test]
fn a_speed_that_the_car_cannot_hold_says_so() {
    let mps = units::mps_from_kmh(250.0);
    let fast = Card { speeds_mps: vec![mps], at_mps: Some(mps), cold_c: None };
    let found = card(&car(&[]), &fast);
    let row = &found.speeds[0];
    assert!(!row.held && row.by.is_some() && row.power_kw.is_none() && row.winding_c.is_none());
    assert!(found.at_a.is_none() && found.charges.iter().all(|row| row.driving_v.is_none()));
}

#[test]
fn the_gauges_stand_at_the_ends_of_what_is_usable() {
    let own = car(&[]);
    let found = card(&own, &Card::default());
    let (full, empty) = (&found.fuel[0], &found.fuel[4]);
    assert!((full.charge_pct - 100.0).abs() < 1e-9 && empty.left_kwh.abs() < 1e-9);
    // 10 % of the weakest cell, which has 2 % less: 1 − 0.9·0.98.
    assert!((empty.charge_pct - 11.8).abs() < 1e-9, "{}", empty.charge_pct);
    let red = found.heat.last().unwrap();
    let derating = own.car.parts().motor.derating;
    assert!((red.winding_c - units::c_from_k(derating.warning_k)).abs() < 1e-9);
    assert!(found.heat[1].winding_c <= red.winding_c);
}

/// What the settings do not know, the card does not paint as known.
#[test]
fn red_is_assumed_where_the_settings_do_not_know_it() {
    for sets in [vec![], vec!["motor.warning_c=null"], vec!["controller.warning_c=null"]] {
        let sets: Vec<_> = sets.iter().map(|set| set.parse().unwrap()).collect();
        let car = Loaded::demo().unwrap().with(&sets).unwrap();
        let settings = settings::report(&car, &settings::Hardest::default()).unwrap();
        let trace = Trace::steady(12.0, 0.0, 60.0).unwrap();
        let card = readings::report(&car, &Card::default(), ("a minute", &trace)).unwrap();
        for (part, key) in [("motor", "motor_warning_c"), ("controller", "controller_warning_c")] {
            let setting = settings.settings.iter().find(|one| one.key == key).unwrap();
            assert_eq!(setting.value.is_none(), card.heat_assumed.contains(&part), "{key}");
        }
    }
}

/// Cells that give no current have nothing left for a car, whatever their charge.
#[test]
fn cells_that_give_no_current_have_nothing_left() {
    let own = car(&[]);
    let share = &own.car.parts().pack.cell.discharge_factor;
    for cold_c in [-35.0, -31.0, -29.0, -10.0] {
        let found = card(&own, &Card { cold_c: Some(cold_c), ..Card::default() });
        let gives = share.at(units::k_from_c(cold_c)) > 0.0;
        assert_eq!(found.charges[0].cold_left_kwh > 0.0, gives, "{cold_c} °C");
        assert_eq!(found.cold_empty_pct < 100.0, gives, "{cold_c} °C");
        assert!(gives || found.charges.iter().all(|row| row.cold_left_kwh == 0.0));
    }
}
