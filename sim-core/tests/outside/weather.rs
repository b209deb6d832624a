//! Air and wind that change along a trace, against closed forms, the density of ISO 2533's ideal gas,
//! and the same weather all around.

use crate::bench::{Bench, assert_near, one_gear_driver, shifting_driver, stop_and_go};
use sim_core::driver::Driver;
use sim_core::follow::{Drive, follow};
use sim_core::ledger::Account;
use sim_core::pieces::Tolerance;
use sim_core::road_load::RoadLoad;
use sim_core::{Along, State, Trace, reference};

fn drive(bench: &Bench, trace: &Trace, driver: &Driver, start: &State, step_s: f64) -> Drive {
    follow(&bench.car(), trace, driver, start, 0, step_s, &mut ())
}

fn wind(head_wind_mps: f64) -> Along {
    Along { head_wind_mps: Some(head_wind_mps), ..Along::default() }
}

/// A car with air drag alone.
fn dragged() -> Bench {
    Bench::ideal_car().with(|p| {
        p.road_load = RoadLoad::Coefficients {
            drag_area_m2: 0.6,
            rolling: 0.0,
            rolling_per_mps: 0.0,
            bearings_n: 0.0,
        };
    })
}

/// There against a wind w and back with it at a speed v above it, over L each: the air takes
/// `½ρ·CdA·L·((v + w)² + (v − w)²) = ρ·CdA·L·(v² + w²)`, which no calm gives.
#[test]
fn there_and_back_in_a_wind_takes_its_square_besides() {
    let bench = dragged();
    let (v, leg_s) = (20.0, 300.0);
    let still = Trace::steady(v, 0.0, 2.0 * leg_s).unwrap();
    let air = |trace: &Trace| {
        let start = bench.rolling(v);
        drive(&bench, trace, &one_gear_driver(0), &start, 1.0).ledger[Account::Air]
    };
    let calm_j = air(&still);
    // 101 325 Pa at 0 m: ρ = p/(R·T) with R = 287.05287 J/(kg·K) (ISO 2533).
    let density = 101_325.0 / (287.052_87 * bench.around.air_k);
    let expected_j = |w: f64| density * 0.6 * v * leg_s * (v * v + w * w);
    assert_near(calm_j, expected_j(0.0), 1e-6 * calm_j, "calm");
    for w in [3.0, 8.0, 15.0] {
        let there_and_back = still.clone().through(&[(0.0, wind(w)), (leg_s, wind(-w))]).unwrap();
        let found_j = air(&there_and_back);
        assert_near(found_j, expected_j(w), 1e-6 * found_j, &format!("wind of {w} m/s"));
    }
}

/// Half the way in an air of other temperature takes as much more as it is denser, `T₁/T₂`.
#[test]
fn a_colder_half_is_as_much_denser() {
    let bench = dragged();
    let half_s = 250.0;
    let trace = Trace::steady(25.0, 0.0, 2.0 * half_s).unwrap();
    let cold_k = 253.15;
    let cold = Along { air_k: Some(cold_k), ..Along::default() };
    let colder = trace.clone().through(&[(half_s, cold)]).unwrap();
    let air = |trace: &Trace| {
        let start = bench.rolling(25.0);
        drive(&bench, trace, &one_gear_driver(0), &start, 1.0).ledger[Account::Air]
    };
    let ratio = air(&colder) / air(&trace);
    assert_near(ratio, 0.5 * (1.0 + bench.around.air_k / cold_k), 1e-6, "denser by half");
}

/// Weather that is the same all along is that of the surroundings, to the last bit; and what a road
/// does not state is as around the car.
#[test]
fn the_same_weather_along_and_around_is_one() {
    for hilly in [false, true] {
        let trace = stop_and_go(22.0, 5, hilly);
        let along = Along { air_k: Some(262.0), ..wind(6.0) };
        let there = trace.clone().through(&[(0.0, along)]).unwrap();
        let nothing = trace.clone().through(&[(0.0, Along::default())]).unwrap();
        let plain = Bench::light_car();
        let start = plain.parked(0.8);
        let around = plain.clone().around(|a| (a.air_k, a.head_wind_mps) = (262.0, 6.0));
        let run = |bench: &Bench, trace| drive(bench, trace, &shifting_driver(), &start, 1.0);
        assert_eq!(run(&plain, &there), run(&around, &trace));
        assert_eq!(run(&around, &nothing), run(&around, &trace));
    }
}

/// The books close, and the adaptive solver agrees, where air and wind change on the way.
#[test]
fn changing_weather_agrees_with_the_solver_and_closes() {
    let bench = Bench::light_car();
    for hilly in [false, true] {
        let changes = |i: u32| {
            let (air_k, mps) = (265.0 + 3.0 * f64::from(i % 7), 9.0 - 3.0 * f64::from(i % 6));
            (40.0 * f64::from(i), Along { air_k: Some(air_k), ..wind(mps) })
        };
        let changes: Vec<(f64, Along)> = (0..20).map(changes).collect();
        let trace = stop_and_go(22.0, 5, hilly).through(&changes).unwrap();
        let (start, driver) = (bench.parked(0.8), shifting_driver());
        let found = drive(&bench, &trace, &driver, &start, 1.0);
        assert!(found.ledger.residual_share().abs() < 1e-9);
        let exact = reference::follow(
            &bench.car(),
            &trace,
            &driver,
            &start,
            0,
            &Tolerance { relative: 1e-9, absolute: 1e-9, ..Tolerance::default() },
        )
        .unwrap();
        for account in [Account::Chemical, Account::Air, Account::Rolling] {
            let (by_steps, by_solver) = (found.ledger[account], exact.ledger[account]);
            assert_near(by_steps, by_solver, 1e-3 * by_solver.abs(), &format!("{account:?}"));
        }
    }
}

#[test]
fn weather_that_cannot_be_is_refused() {
    let trace = Trace::steady(10.0, 0.0, 60.0).unwrap();
    let air = |air_k| Along { air_k: Some(air_k), ..Along::default() };
    for along in [wind(f64::NAN), wind(101.0), air(0.0), air(f64::INFINITY)] {
        assert!(trace.clone().through(&[(0.0, along)]).is_err(), "{along:?}");
    }
    assert!(trace.clone().through(&[(5.0, wind(1.0)), (5.0, wind(2.0))]).is_err());
    let late = trace.clone().through(&[(1e9, wind(5.0))]).unwrap();
    assert!(late.reaches().is_empty());
}
