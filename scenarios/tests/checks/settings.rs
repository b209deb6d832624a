//! Settings protect the parts by themselves: of a car whose parts hold nothing back any more, driven
//! with them as hard as it goes, cold and worn, no part meets what its data allow.
//!
//! The limits are those of the data sheets, and the weakest cell is followed by Ohm's law.

use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed};
use scenarios::runs::drive;
use scenarios::runs::settings::{self, Hardest, Setting, SettingsReport};
use scenarios::{Loaded, Override, Prepared, Severity};
use serde_json::{Value, json};
use sim_core::car::{Request, Slope};
use sim_core::charging::{Supply, charge};
use sim_core::steady::SETTLED_S;
use sim_core::{Car, Limit, Node, State, units};
use std::sync::LazyLock;

static DEMO: LazyLock<Loaded> = LazyLock::new(|| Loaded::demo().unwrap());

fn config() -> Config {
    Config {
        cases: 60,
        rng_seed: RngSeed::Fixed(20_261_127),
        failure_persistence: None,
        ..Config::default()
    }
}

/// Motor, controller and cells that go together, and the cells in series.
const DRIVETRAINS: [(&str, &str, &str, std::ops::Range<u32>); 4] = [
    ("induction-air-medium", "low-voltage-450a", "iron-phosphate-100ah", 30..36),
    ("induction-air-large", "mid-voltage-600a", "iron-phosphate-180ah", 38..48),
    ("permanent-magnet-liquid", "high-voltage-liquid", "blend-50ah", 86..98),
    ("series-dc-large", "series-chopper-500a", "iron-phosphate-180ah", 28..40),
];

/// A car made up at random.
#[derive(Debug, Clone)]
struct Made {
    drivetrain: usize,
    series: u32,
    parallel: u32,
    harness_mohm: f64,
    capacity_spread_pct: f64,
    resistance_spread_pct: f64,
    auxiliary_w: f64,
    gearbox_nm: Option<f64>,
    clutch_nm: Option<f64>,
    gearbox_rpm: f64,
    coldest_c: f64,
    worn_pct: f64,
}

fn made() -> impl Strategy<Value = Made> {
    let pack = (0..DRIVETRAINS.len(), 0.0..1.0_f64, 1..3_u32, 1.0..30.0, 0.0..12.0, 0.0..60.0);
    let nm = || prop::option::of(30.0..200.0);
    let rest = (0.0..2500.0, nm(), nm(), 3500.0..9000.0, -25.0..20.0, 0.0..150.0);
    (pack, rest).prop_map(|(pack, rest)| {
        let (drivetrain, series, parallel, harness_mohm, capacity, resistance) = pack;
        let (auxiliary_w, gearbox_nm, clutch_nm, gearbox_rpm, coldest_c, worn_pct) = rest;
        let range = &DRIVETRAINS[drivetrain].3;
        let span = f64::from(range.end - range.start);
        Made {
            drivetrain,
            series: range.start + (span * series).floor() as u32,
            parallel,
            harness_mohm,
            capacity_spread_pct: capacity,
            resistance_spread_pct: resistance,
            auxiliary_w,
            gearbox_nm,
            clutch_nm,
            gearbox_rpm,
            coldest_c,
            worn_pct,
        }
    })
}

fn put(list: &[(&str, Value)]) -> Vec<Override> {
    list.iter().map(|(path, value)| Override::new(path, value.clone()).unwrap()).collect()
}

impl Made {
    fn overrides(&self) -> Vec<Override> {
        let (motor, controller, cell, _) = &DRIVETRAINS[self.drivetrain];
        let shelf = |name: &str| json!(format!("shelf:{name}"));
        let clutch = |nm: f64| json!({ "kept": true, "max_nm": nm });
        put(&[
            ("motor", shelf(motor)),
            ("controller", shelf(controller)),
            ("pack.cell", shelf(cell)),
            ("pack.series", json!(self.series)),
            ("pack.parallel", json!(self.parallel)),
            ("pack.harness_mohm", json!(self.harness_mohm)),
            ("pack.capacity_spread_pct", json!(self.capacity_spread_pct)),
            ("pack.resistance_spread_pct", json!(self.resistance_spread_pct)),
            ("auxiliaries.traction_w", json!(self.auxiliary_w)),
            ("gearbox.max_input_nm", json!(self.gearbox_nm)),
            ("gearbox.clutch", self.clutch_nm.map_or(Value::Null, clutch)),
            ("gearbox.max_input_rpm", json!(self.gearbox_rpm)),
            ("donor.gross_mass_kg", Value::Null),
            ("driver", Value::Null),
            ("conditions.surface", json!("dry")),
        ])
    }

    fn car(&self) -> Prepared {
        DEMO.with(&self.overrides()).unwrap_or_else(|error| panic!("{error}: {self:?}"))
    }

    fn hardest(&self) -> Hardest {
        let cells_c = Some(self.coldest_c);
        Hardest { cells_c, growth_pct: self.worn_pct, ..Hardest::default() }
    }

    /// The worn car whose cells, gearbox and clutch hold nothing back, with other fields put in.
    fn unprotected(&self, worn: bool, settings: &[(&str, Value)]) -> Car {
        let all = json!([ { "cells_c": 25, "pct": 100 } ]);
        let mut overrides = self.overrides();
        overrides.extend(put(&[
            ("pack.cell.discharge_a", json!(5000)),
            ("pack.cell.discharge_peak_a", json!(5000)),
            ("pack.cell.charge_a", json!(5000)),
            ("pack.cell.charge_peak_a", json!(5000)),
            ("pack.cell.discharge_share", all.clone()),
            ("pack.cell.charge_share", all),
            ("pack.cell.min_v", json!(0.5)),
            ("pack.cell.max_v", json!(5)),
            ("pack.min_charge_pct", json!(0)),
            ("gearbox.max_input_nm", json!(5000)),
            ("gearbox.clutch", Value::Null),
            ("gearbox.max_input_rpm", json!(30_000)),
        ]));
        if worn {
            overrides.extend(put(&[("pack.resistance_growth_pct", json!(self.worn_pct))]));
        }
        overrides.extend(put(settings));
        DEMO.with(&overrides).unwrap_or_else(|error| panic!("{error}: {self:?}")).car
    }
}

fn setting<'a>(report: &'a SettingsReport, key: &str) -> &'a Setting {
    report.settings.iter().find(|one| one.key == key).unwrap()
}

fn value(report: &SettingsReport, key: &str) -> f64 {
    setting(report, key).value.unwrap()
}

fn report(car: &Prepared, hardest: &Hardest) -> SettingsReport {
    car.vouched(settings::report(car, hardest).unwrap()).unwrap()
}

/// A share of the way between two numbers.
fn between(low: f64, high: f64, share: f64) -> f64 {
    low + share * (high - low)
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn full_throttle_with_the_settings_alone_hurts_no_part(
        made in made(),
        shares in prop::collection::vec((0.0..1.0_f64, 0.0..1.0_f64, 0.0..1.0_f64, 0.0..1.0_f64), 12),
    ) {
        let car = made.car();
        let report = report(&car, &made.hardest());
        let current_a = value(&report, "pack_current_cold_a");
        // A controller that may draw nothing needs no looking after.
        prop_assume!(current_a > 1.0);
        let parts = car.car.parts();
        for worn in [false, true] {
            let driven = made.unprotected(worn, &[
                ("controller.motor_current_a", json!(value(&report, "motor_current_a"))),
                ("controller.pack_current_a", json!(current_a)),
                ("controller.min_v", json!(value(&report, "under_voltage_end_v"))),
                ("gearbox.max_input_rpm", json!(value(&report, "max_rpm"))),
            ]);
            let pack = &driven.parts().pack;
            for (charge, warmth, speed, drained) in &shares {
                let empty = parts.pack.mean_charge_when_empty(units::k_from_c(25.0));
                let charge = between(empty, parts.pack.max_charge, *charge);
                let most_c = made.coldest_c.max(25.0);
                let cells_k = units::k_from_c(between(made.coldest_c, most_c, *warmth));
                // What an earlier pull has left in the cells.
                let growth = pack.cell.resistance_factor.at(cells_k) * pack.resistance_growth;
                let left_v = drained * growth * pack.cell.polarisation_ohm * current_a / pack.parallel;
                let state = State { polarisation_v: left_v, ..State::parked(charge, cells_k) };
                for gear in 0..driven.gears() {
                    let speed_mps = speed * driven.top_speed_by_rpm_mps(gear);
                    let now = driven.now(&State { speed_mps, ..state }, 0.0);
                    let flow = driven.act(&now, speed_mps, Slope::LEVEL, gear, Request::FullThrottle);
                    let share = parts.pack.cell.discharge_factor.at(cells_k);
                    let most_a = parts.pack.cell.discharge_a * share * parts.pack.parallel;
                    prop_assert!(flow.pack_a <= most_a + 0.01, "{} of {most_a} A", flow.pack_a);
                    let motor_a = parts.motor.machine.peak_current_a;
                    prop_assert!(flow.motor_a <= motor_a + 1e-6, "{} of {motor_a} A", flow.motor_a);
                    let most_nm = parts.gearbox.max_input_nm.min(parts.gearbox.clutch_nm);
                    prop_assert!(flow.torque_nm <= most_nm + 1e-6, "{} of {most_nm} N·m", flow.torque_nm);
                    prop_assert!(flow.radps <= car.car.max_radps() + 1e-9);
                    // Where the controller is off, the cells carry what is beside it alone.
                    let on = flow.pack_v >= value(&report, "under_voltage_end_v") - 1e-6;
                    let low_v = parts.pack.cell.min_v - 1e-9;
                    prop_assert!(!on || flow.low_cell_v >= low_v, "{} V", flow.low_cell_v);
                }
            }
        }
    }

    #[test]
    fn the_end_of_the_cut_back_alone_keeps_the_weakest_cell(
        made in made(),
        shares in prop::collection::vec((0.0..1.0_f64, 0.0..1.0_f64, 0.1..1.0_f64), 8),
    ) {
        let car = made.car();
        let end_v = value(&report(&car, &made.hardest()), "under_voltage_end_v");
        let pack = &car.car.parts().pack;
        let driven = made.unprotected(true, &[
            ("controller.motor_current_a", json!(5000)),
            ("controller.pack_current_a", json!(5000)),
            ("controller.min_v", json!(end_v)),
        ]);
        let mut met = false;
        for (charge, warmth, speed) in &shares {
            let empty = pack.mean_charge_when_empty(units::k_from_c(25.0));
            let charge = between(empty, pack.max_charge, *charge);
            let cells_k = units::k_from_c(between(-30.0, 25.0, *warmth));
            for gear in 0..driven.gears() {
                let speed_mps = speed * driven.top_speed_by_rpm_mps(gear);
                let state = State { speed_mps, ..State::parked(charge, cells_k) };
                for step_s in [0.0, SETTLED_S] {
                    let now = driven.now(&state, step_s);
                    let flow = driven.act(&now, speed_mps, Slope::LEVEL, gear, Request::FullThrottle);
                    met |= flow.limit == Some(Limit::ControllerVoltage);
                    let low_v = pack.cell.min_v - 1e-9;
                    let on = flow.pack_v >= end_v - 1e-6;
                    prop_assert!(!on || flow.low_cell_v >= low_v, "{} V", flow.low_cell_v);
                }
            }
        }
        // A check that never comes to the cut-back would say nothing.
        prop_assert!(met || made.parallel > 1 || made.worn_pct < 60.0, "never met");
    }

    #[test]
    fn regen_by_the_table_alone_hurts_no_cell(
        made in made(),
        shares in prop::collection::vec((0.0..1.0_f64, 0.0..1.0_f64, 0.05..1.0_f64), 4),
    ) {
        let car = made.car();
        let report = report(&car, &made.hardest());
        prop_assume!(!report.pedals.is_empty());
        let over_v = value(&report, "over_voltage_v");
        let cell = &car.car.parts().pack.cell;
        let empty_pct = units::pct_from_share(
            car.car.parts().pack.mean_charge_when_empty(units::k_from_c(25.0)),
        );
        for row in &report.currents {
            for (column, up_to_pct) in report.in_up_to_pct.iter().enumerate() {
                let driven = made.unprotected(false, &[
                    ("controller.pack_regen_current_a", json!(row.in_long_a[column])),
                    ("controller.max_v", json!(over_v)),
                    ("regen.lift_off_pct", json!(100)),
                    ("regen.lift_off_nm", Value::Null),
                ]);
                for (charge, warmth, speed) in &shares {
                    let charge = units::share_from_pct(between(empty_pct, *up_to_pct, *charge));
                    let cells_k = units::k_from_c(between(row.from_c, row.to_c, *warmth));
                    let speed_mps = speed * driven.top_speed_by_rpm_mps(1);
                    let state = State { speed_mps, ..State::parked(charge, cells_k) };
                    let now = driven.now(&state, SETTLED_S);
                    let flow = driven.act(&now, speed_mps, Slope::LEVEL, 1, Request::LiftOff);
                    let share = cell.charge_factor.at(cells_k);
                    let most_a = cell.charge_a * share * car.car.parts().pack.parallel;
                    prop_assert!(-flow.pack_a <= most_a + 1e-6, "{} of {most_a} A", -flow.pack_a);
                    prop_assert!(flow.high_cell_v <= cell.max_v + 1e-9, "{} V", flow.high_cell_v);
                }
            }
        }
    }

    #[test]
    fn what_is_named_clear_is_never_what_binds(made in made()) {
        let report = report(&made.car(), &made.hardest());
        for setting in &report.settings {
            prop_assert!(setting.asks.windows(2).all(|pair| pair[0].clear <= pair[1].clear));
            prop_assert!(setting.asks.iter().all(|ask| ask.clear >= -1e-9), "{setting:?}");
            prop_assert!(setting.value.is_some() != setting.ask.is_some(), "{setting:?}");
            // What binds is met within what rounding takes; an amperage is whole from 20 A on.
            let first = setting.asks.first().map_or(0.0, |ask| ask.clear);
            let rounding = if setting.unit == "rpm" { 10.0 } else { 1.0 };
            let room = setting.key == "under_voltage_start_v";
            prop_assert!(room || first <= rounding || setting.value == Some(0.0), "{setting:?}");
        }
        let (start_v, end_v) =
            (value(&report, "under_voltage_start_v"), value(&report, "under_voltage_end_v"));
        prop_assert!(start_v > end_v);
        for case in &report.cold {
            prop_assert!(case.clear_v >= -1e-9 || case.current_a == 0.0, "{case:?}");
        }
    }

    /// What the simulation is told to drive with can be driven with.
    #[test]
    fn the_values_to_drive_with_make_a_car(made in made()) {
        let report = report(&made.car(), &made.hardest());
        let mut all = made.overrides();
        all.extend(report.drive_with.iter().map(|set| set.parse::<Override>().unwrap()));
        prop_assert!(DEMO.with(&all).is_ok(), "{:?}", report.drive_with);
        let danger = report.contradictions.iter().any(|one| one.severity == Severity::Danger);
        prop_assert_eq!(danger, report.drive_with.is_empty());
    }

    /// Ohm's law and the car itself: a number of cells that fits never meets the controller's voltage,
    /// cold, worn and nearly empty; clearly fewer do.
    #[test]
    fn numbers_of_cells_that_fit_never_meet_the_controllers_voltage(
        made in made(),
        shares in prop::collection::vec((0.0..1.0_f64, 0.0..1.0_f64, 0.05..1.0_f64), 12),
    ) {
        let found = report(&made.car(), &made.hardest()).cells_in_series;
        let car = |cells: u32| {
            let mut all = made.overrides();
            all.extend(put(&[
                ("pack.series", json!(cells)),
                ("pack.resistance_growth_pct", json!(made.worn_pct)),
            ]));
            DEMO.with(&all).unwrap()
        };
        let most_c = made.coldest_c.max(25.0);
        let limit = |car: &Car, charge: f64, cells_k: f64, speed: f64| {
            let pack = &car.parts().pack;
            let empty = pack.mean_charge_when_empty(cells_k) + 0.005;
            let charge = between(empty.min(pack.max_charge), pack.max_charge, charge);
            let gear = car.gears() - 1;
            let speed_mps = speed * car.top_speed_by_rpm_mps(gear);
            let state = State { speed_mps, ..State::parked(charge, cells_k) };
            let state = state.warmed(Node::Cells, cells_k);
            let now = car.now(&state, SETTLED_S);
            car.act(&now, speed_mps, Slope::LEVEL, gear, Request::FullThrottle).limit
        };
        if let Some([from, to]) = found.fits {
            for cells in [from, (from + to) / 2, to] {
                let car = car(cells);
                let warned = car.warnings().iter().any(|one| one.text.contains("the controller bears"));
                prop_assert!(!warned, "{cells} of {from} to {to}");
                for (charge, warmth, speed) in &shares {
                    let cells_k = units::k_from_c(between(made.coldest_c, most_c, *warmth));
                    let by = limit(&car.car, *charge, cells_k, *speed);
                    prop_assert!(by != Some(Limit::ControllerVoltage), "{cells} of {from} to {to}");
                }
            }
        }
        let bound = |at_least: bool, preferred: bool| {
            let mut of = found.bounds.iter().filter(|one| one.part.starts_with("controller"));
            of.find(|one| one.at_least == at_least && one.preferred == preferred).unwrap().cells
        };
        let fewer = (0.93 * f64::from(bound(true, true))) as u32;
        if fewer > bound(true, false) && fewer <= bound(false, false) {
            let car = car(fewer);
            let met = (0..=20).any(|warmth| (1..100).any(|speed| {
                let warmth = f64::from(warmth) / 20.0;
                let cells_k = units::k_from_c(between(made.coldest_c, most_c, warmth));
                let by = limit(&car.car, 0.0, cells_k, f64::from(speed) / 100.0);
                by == Some(Limit::ControllerVoltage)
            }));
            prop_assert!(met, "{fewer}: {found:?}");
        }
        let more = car(bound(false, false) + 1).warnings();
        prop_assert!(more.iter().any(|one| one.text.contains("does not come on")));
    }

    #[test]
    fn more_harness_lowers_the_margin_and_a_weaker_controller_the_current(made in made()) {
        let margin = |made: &Made| {
            let report = report(&made.car(), &made.hardest());
            let start = setting(&report, "under_voltage_start_v");
            let cells = start.asks.iter().find(|ask| ask.part.starts_with("cells")).unwrap();
            (cells.clear, value(&report, "motor_current_a"), report)
        };
        let (own, motor_a, found) = margin(&made);
        let longer = Made { harness_mohm: made.harness_mohm + 20.0, ..made.clone() };
        let (less, same_a, _) = margin(&longer);
        prop_assert!(less <= own + 1e-9 && same_a == motor_a);
        // Clearly so, but where the cut-back begins as near to its end as it may.
        let drop_v = 0.02 * value(&found, "pack_current_long_a");
        let has_room = found.settings.iter().any(|one| {
            one.key == "under_voltage_start_v" && one.asks.iter().any(|ask| ask.part.starts_with("pack"))
        });
        let room_v = 0.02 * value(&found, "under_voltage_end_v");
        prop_assert!(!has_room || less <= (own - drop_v).max(room_v + own.min(room_v)) + 0.3, "{own} {less}");
        let mut weaker = made.overrides();
        weaker.extend(put(&[("controller.motor_current_a", json!(0.5 * motor_a))]));
        let weaker = DEMO.with(&weaker).unwrap();
        let weaker_a = value(&report(&weaker, &made.hardest()), "motor_current_a");
        prop_assert!(weaker_a <= 0.5 * motor_a && weaker_a > 0.5 * motor_a - 1.0);
        let mut doubled = made.overrides();
        doubled.extend(put(&[("pack.parallel", json!(2 * made.parallel))]));
        let doubled = report(&DEMO.with(&doubled).unwrap(), &made.hardest());
        for key in ["pack_current_a", "pack_current_long_a", "pack_current_cold_a"] {
            prop_assert!(value(&doubled, key) >= value(&found, key));
        }
    }
}

/// The settings that are fields are taken by the simulation, and a hard drive with them meets no more
/// than the parts bear.
#[test]
fn a_hard_drive_with_the_settings_put_in_stays_within_every_part() {
    let trace = scenarios::runs::trace(&cycles::find("us06").unwrap()).unwrap();
    for (motor, controller, cell, series) in &DRIVETRAINS {
        let made = Made {
            drivetrain: DRIVETRAINS.iter().position(|one| one.0 == *motor).unwrap(),
            series: series.start + 2,
            parallel: 1,
            harness_mohm: 5.0,
            capacity_spread_pct: 3.0,
            resistance_spread_pct: 20.0,
            auxiliary_w: 300.0,
            gearbox_nm: Some(90.0),
            clutch_nm: None,
            gearbox_rpm: 6000.0,
            coldest_c: -10.0,
            worn_pct: 100.0,
        };
        for air_c in [-10.0, 35.0] {
            let mut overrides = made.overrides();
            let own = made.car();
            let found = report(&own, &made.hardest());
            overrides.extend(found.drive_with.iter().map(|text| text.parse().unwrap()));
            overrides.extend(put(&[
                ("pack.resistance_growth_pct", json!(100)),
                ("conditions.air_c", json!(air_c)),
            ]));
            let car = DEMO.with(&overrides).unwrap();
            let driven = drive::drive(&car.setup(), &trace, &mut ());
            let (found, parts) = (&driven.extremes, own.car.parts());
            let name = format!("{motor} {controller} {cell} at {air_c} °C");
            let tolerance = 1.0 + 1e-6;
            let peak_a = parts.pack.cell.discharge_peak_a * parts.pack.parallel;
            assert!(found.discharge_a <= peak_a * tolerance, "{name}: {}", found.discharge_a);
            assert!(found.motor_a <= parts.motor.machine.peak_current_a * tolerance, "{name}");
            assert!(
                found.low_cell_v >= parts.pack.cell.min_v - 1e-6,
                "{name}: {}",
                found.low_cell_v
            );
            assert!(found.high_cell_v <= parts.pack.cell.max_v + 1e-6, "{name}");
            let hot = |node: Node| found.hottest_k[node];
            assert!(hot(Node::Winding) <= parts.motor.derating.cut_off_k, "{name}");
            assert!(hot(Node::Sink) <= parts.controller.derating.cut_off_k, "{name}");
        }
    }
}

/// By Ohm's law: 30 cells of 3.3 V, one with 1.1 times the resistance. The weakest is at 2.5 V where
/// the mean one has dropped 0.8/1.1 V.
#[test]
fn the_weakest_cell_sets_the_end_of_the_cut_back() {
    let flat = json!([ { "charge_pct": 0, "v": 3.3 }, { "charge_pct": 100, "v": 3.3 } ]);
    let car = DEMO
        .with(&put(&[
            ("pack.series", json!(30)),
            ("pack.cell.open_circuit", flat),
            ("pack.cell.min_v", json!(2.5)),
            ("pack.resistance_spread_pct", json!(10)),
            ("controller.min_v", json!(40)),
        ]))
        .unwrap();
    let found = report(&car, &Hardest::default());
    let wanted_v: f64 = 30.0 * (3.3 - 0.8 / 1.1);
    assert!((setting(&found, "under_voltage_end_v").asks[0].limit - wanted_v).abs() < 1e-9);
    assert_eq!(value(&found, "under_voltage_end_v"), (wanted_v * 10.0).ceil() / 10.0);
}

#[test]
fn parts_that_contradict_each_other_are_named_as_danger() {
    let high = DEMO.with(&put(&[("controller.min_v", json!(104))])).unwrap();
    let found = report(&high, &Hardest::default());
    let danger = found.contradictions.iter().find(|one| one.severity == Severity::Danger).unwrap();
    assert!(danger.text.contains("The controller stops below 104 V"), "{}", danger.text);
    let own = report(&DEMO.prepare().unwrap(), &Hardest::default());
    assert!(own.contradictions.iter().all(|one| one.severity != Severity::Danger));
}

/// What no file says is not made up.
#[test]
fn what_nobody_says_is_to_be_asked_for() {
    let car = DEMO
        .with(&put(&[
            ("controller.warning_c", Value::Null),
            ("pack.cell.charge_share", Value::Null),
            ("gearbox.max_input_nm", Value::Null),
        ]))
        .unwrap();
    let found = report(&car, &Hardest::default());
    for key in ["controller_warning_c", "charge_low_c", "charge_high_c"] {
        let one = setting(&found, key);
        assert!(one.value.is_none() && one.ask.as_ref().unwrap().starts_with("not known: ask"));
    }
    let said = |words: &str| found.not_known.iter().any(|line| line.contains(words));
    assert!(said("gearbox.max_input_nm") && said("fuse") && said("pack.cell.charge_share"));
}

/// Whatever the lowest voltage of a cell, there is an answer: cells that rest under it are told of, and
/// give nothing.
#[test]
fn cells_that_rest_under_their_lowest_voltage_are_told_of() {
    for cell_v in [2.0, 2.5, 2.9, 3.0, 3.1, 3.15, 3.2, 3.25, 3.28, 3.3, 3.35] {
        let car = DEMO.with(&put(&[("pack.cell.min_v", json!(cell_v))])).unwrap();
        for cells_c in [-25.0, -5.0, 20.0] {
            let hardest = Hardest { cells_c: Some(cells_c), ..Hardest::default() };
            let report = report(&car, &hardest);
            assert!(report.cold.iter().all(|case| case.clear_v >= -1e-9));
            let rests_under = report.contradictions.iter().any(|one| one.text.contains("rests at"));
            assert!(report.cold.len() == 3 || rests_under || cells_c < 0.0, "{cell_v}");
        }
    }
}

#[test]
fn parts_that_do_not_go_together_have_nothing_to_be_driven_with() {
    for sets in [
        vec![("controller.min_v", json!(104))],
        vec![("controller.min_v", json!(200)), ("controller.max_v", json!(300))],
        vec![("controller.kind", json!("chopper"))],
        vec![("pack.series", json!(60))],
    ] {
        let report = report(&DEMO.with(&put(&sets)).unwrap(), &Hardest::default());
        assert_eq!(report.contradictions.first().unwrap().severity, Severity::Danger, "{sets:?}");
        assert!(report.drive_with.is_empty());
    }
}

#[test]
fn cells_too_cold_to_give_or_take_are_said_to_be() {
    let at = |cells_c: f64| {
        let hardest = Hardest { cells_c: Some(cells_c), ..Hardest::default() };
        report(&DEMO.prepare().unwrap(), &hardest)
    };
    let (frozen, warm) = (at(-35.0), at(20.0));
    assert_eq!(value(&frozen, "pack_current_cold_a"), 0.0);
    assert!(frozen.when_coldest.iter().any(|line| line.contains("the car does not move")));
    assert!(frozen.when_coldest.iter().any(|line| line.contains("take no charge")));
    // The temperature that is named is the last at which they give nothing, and no promise of more.
    let demo = DEMO.prepare().unwrap();
    let share = &demo.car.parts().pack.cell.discharge_factor;
    let (last, _) = share.points().take_while(|(_, share)| *share <= 0.0).last().unwrap();
    let named = format!("no current, nor up to {:.0} °C: the car", units::c_from_k(last));
    assert!(frozen.when_coldest[0].contains(&named), "{:?}", frozen.when_coldest);
    assert!(warm.when_coldest.is_empty());
}

/// A fuse is not loaded with all of its rating for hours (common practice, no source).
#[test]
fn the_fuse_bounds_what_is_drawn_for_long() {
    let with = |fuse_a: f64| {
        let car = DEMO.with(&put(&[("wiring", json!({ "fuse_a": fuse_a }))])).unwrap();
        report(&car, &Hardest::default())
    };
    let (small, large) = (with(100.0), with(1000.0));
    assert!(value(&small, "pack_current_long_a") <= 80.0);
    assert!(setting(&small, "pack_current_long_a").asks[0].part.starts_with("fuse"));
    assert!(value(&small, "pack_current_cold_a") <= 80.0);
    assert_eq!(value(&small, "pack_current_a"), value(&large, "pack_current_a"));
    assert!(value(&large, "pack_current_long_a") > 80.0);
}

/// A whole charge with the car's own charger, worn: its mean cell does not reach the voltage from which
/// cells are balanced before it is nearly full, cold or warm; where it would, no voltage is named. The
/// cell of a flat curve reads its current, not its charge (Ohm's law).
#[test]
fn no_cell_is_balanced_on_the_flat_part_of_its_curve() {
    let (mut named, mut not_named) = (0, 0);
    for (cell, series, kw) in [
        ("iron-phosphate-40ah", 30, 3.0),
        ("iron-phosphate-100ah", 32, 3.0),
        ("iron-phosphate-180ah", 36, 1.0),
        ("blend-50ah", 29, 0.5),
        ("blend-50ah", 29, 6.0),
    ] {
        let sets = [
            ("pack.cell", json!(format!("shelf:{cell}"))),
            ("pack.series", json!(series)),
            ("charger.power_kw", json!(kw)),
        ];
        let car = DEMO.with(&put(&sets)).unwrap();
        let balance = setting(&report(&car, &Hardest::default()), "balance_v").clone();
        let Some(volts) = balance.value else {
            let ask = balance.ask.unwrap();
            assert!(ask.contains("only at the tail current"), "{cell}: {ask}");
            not_named += 1;
            continue;
        };
        named += 1;
        for cells_c in [3.0, 10.0, 25.0] {
            let mut worn = put(&sets);
            worn.extend(put(&[
                ("pack.resistance_growth_pct", json!(100)),
                ("conditions.air_c", json!(cells_c)),
            ]));
            let worn = DEMO.with(&worn).unwrap();
            let pack = &worn.car.parts().pack;
            let (low, nearly) = (worn.car.parts().pack.min_charge, pack.max_charge - 0.05);
            let start = State::parked(low + 0.05, units::k_from_c(cells_c));
            let charger = &worn.charger;
            let supply = Supply {
                wall_w: f64::INFINITY,
                charger_w: charger.power_w,
                efficiency: charger.efficiency,
                end_c_rate: charger.end_c_rate,
            };
            charge(&worn.car, &start, &supply, pack.max_charge, 40.0 * 3600.0, |sample| {
                let mean_v = sample.pack_v / pack.cells_in_series();
                assert!(
                    mean_v < volts || sample.state.charge > nearly,
                    "{cell} {kw} kW, {cells_c} °C: {mean_v} V at {}, balanced from {volts} V",
                    sample.state.charge
                );
            });
        }
    }
    assert!(named > 0 && not_named > 0, "{named} {not_named}");
}

/// Balancing begins over the flat part of the curve and under what the cells reach at a full charge; a
/// cell that is as flat up to there is not balanced by its voltage.
#[test]
fn cells_are_balanced_where_their_voltage_tells_them_apart() {
    let of = |sets: &[(&str, Value)]| {
        let car = DEMO.with(&put(sets)).unwrap();
        let open_circuit = car.car.parts().pack.cell.open_circuit_v.clone();
        (setting(&report(&car, &Hardest::default()), "balance_v").clone(), open_circuit)
    };
    let (usual, curve) = of(&[("charger.power_kw", json!(0.3))]);
    let volts = usual.value.unwrap();
    assert!(volts > curve.at(0.95) && volts < 3.65, "{volts}");
    let (flat, _) = of(&[("pack.max_charge_pct", json!(70))]);
    assert!(flat.value.is_none() && flat.ask.unwrap().contains("not by voltage"));
}
