//! Rolling free against closed forms: `m·dv/dt = −(A + C·v²)`, whose fit to measured data is
//! SAE J1263's, has the solution `v(t) = √(A/C)·tan(atan(v0·√(C/A)) − t·√(A·C)/m)`.

use crate::bench;

use bench::{Bench, act, assert_near, assert_share, road_load};
use sim_core::State;
use sim_core::car::{Car, Request, Slope};
use sim_core::driver::Driver;
use sim_core::pieces::{Piece, Place, Sight, Tolerance, never};
use sim_core::road_load::RoadLoad;
use sim_core::units::GRAVITY_MPS2;

const MASS_KG: f64 = 1000.0;
const A_N: f64 = 110.0;
const C: f64 = 0.42;

/// Speed through the air after coasting for a time.
fn printed(v0: f64, a_n: f64, c: f64, mass_kg: f64, t: f64) -> f64 {
    (a_n / c).sqrt() * ((v0 * (c / a_n).sqrt()).atan() - t * (a_n * c).sqrt() / mass_kg).tan()
}

fn coaster() -> Bench {
    Bench::ideal_car().with(|p| p.road_load = road_load(MASS_KG, A_N, C))
}

/// Coasts for a time and returns the state.
fn coast(car: &Car, start: State, slope: Slope, request: Request, for_s: f64) -> State {
    let piece = Piece { car, gear: 0, slope, ask: |_: f64, _: &State| request };
    let from = Place::start(start);
    piece.run(&from, for_s, &Tolerance::TIGHT, never, &mut ()).unwrap().0.state
}

#[test]
fn in_neutral_speed_falls_by_the_closed_form() {
    let bench = coaster();
    for t in [1.0, 10.0, 40.0, 100.0] {
        let found = coast(
            &bench.car(),
            bench.rolling(30.0),
            Slope::LEVEL,
            Request::Disconnected(f64::INFINITY),
            t,
        );
        let expected = printed(30.0, A_N, C, MASS_KG, t);
        assert_near(found.speed_mps, expected, 1e-6, &format!("speed after {t} s"));
    }
}

/// In gear without lift-off regen, wheels and rotor roll on with the car: the mass grows by
/// `J_wheels/r² + J_rotor·(G/r)²`.
#[test]
fn in_gear_wheels_and_rotor_keep_the_car_rolling() {
    let bench = coaster().with(|p| {
        p.chassis.wheels_inertia_kg_m2 = 2.7;
        p.motor.rotor_inertia_kg_m2 = 0.05;
        p.gearbox = bench::one_gear(4.0, 1.0);
    });
    let moving_kg = MASS_KG + 2.7 / 0.09 + 0.05 * (4.0_f64 / 0.3).powi(2);
    for t in [5.0, 60.0] {
        let found =
            coast(&bench.car(), bench.rolling(25.0), Slope::LEVEL, Request::LiftOff, t).speed_mps;
        assert_near(found, printed(25.0, A_N, C, moving_kg, t), 1e-6, "speed in gear");
    }
}

/// With a head wind the closed form holds for the speed through the air.
#[test]
fn wind_shifts_the_closed_form() {
    for wind_mps in [6.0, -4.0] {
        let bench = coaster().around(|a| a.head_wind_mps = wind_mps);
        for t in [5.0, 30.0, 70.0] {
            let found = coast(&bench.car(), bench.rolling(28.0), Slope::LEVEL, Request::LiftOff, t);
            let expected = printed(28.0 + wind_mps, A_N, C, MASS_KG, t) - wind_mps;
            assert_near(found.speed_mps, expected, 1e-6, &format!("after {t} s of {wind_mps}"));
        }
    }
}

/// A tail wind stronger than the car is fast pushes it: `F = C·(w − v)²` forwards.
#[test]
fn a_strong_tail_wind_pushes() {
    let bench = coaster().around(|a| a.head_wind_mps = -20.0);
    let flow = act(&bench.car(), &bench.rolling(5.0), Slope::LEVEL, 0, Request::LiftOff);
    let expected = (C * 15.0 * 15.0 - A_N) / MASS_KG;
    assert_near(flow.acceleration_mps2, expected, 1e-12, "acceleration by the wind");
}

/// Downhill `m·g·sin θ = A·cos θ + C·(v + w)²` at the speed that the car settles at.
#[test]
fn downhill_the_car_settles_at_the_balance_of_forces() {
    for (grade, wind_mps) in [(-0.04, 0.0), (-0.06, 5.0), (-0.05, -3.0)] {
        let bench = coaster().around(|a| a.head_wind_mps = wind_mps);
        let angle = f64::atan(-grade);
        let push_n = MASS_KG * GRAVITY_MPS2 * angle.sin() - A_N * angle.cos();
        let expected = (push_n / C).sqrt() - wind_mps;
        for from_mps in [10.0, 45.0] {
            let start = bench.rolling(from_mps);
            let slope = Slope::from_grade(grade);
            let found = coast(&bench.car(), start, slope, Request::LiftOff, 2000.0);
            assert_near(found.speed_mps, expected, 1e-6, &format!("terminal speed at {grade}"));
        }
    }
}

/// Distance to rest, `x = m/(2C)·ln(1 + C·v0²/A)` (`m·v·dv/dx = −(A + C·v²)`).
#[test]
fn the_car_rolls_to_rest_where_the_closed_form_says() {
    let bench = coaster();
    let car = bench.car();
    let ask = |_: f64, _: &State| Request::LiftOff;
    let piece = Piece { car: &car, gear: 0, slope: Slope::LEVEL, ask };
    let from = Place::start(bench.rolling(20.0));
    let slow = |sight: &Sight<'_>| (sight.state.speed_mps <= 1e-4).then_some(());
    let (end, stopped) = piece.run(&from, 1e4, &Tolerance::TIGHT, slow, &mut ()).unwrap();
    assert!(stopped.is_some(), "the car rolls for ever");
    let expected_m = MASS_KG / (2.0 * C) * (1.0 + C * 400.0 / A_N).ln();
    let expected_s = MASS_KG / (A_N * C).sqrt() * (20.0 * (C / A_N).sqrt()).atan();
    assert_share(end.state.distance_m, expected_m, 1e-7, "distance to rest");
    // The last 0.1 mm/s take a thousandth of a second.
    assert_near(end.time_s, expected_s, 2e-3, "time to rest");
}

/// The instant at which a speed is passed, in one piece:
/// `t = m/√(A·C)·(atan(v0·√(C/A)) − atan(v·√(C/A)))`.
#[test]
fn the_instant_of_a_speed_is_the_closed_forms() {
    let bench = coaster();
    let car = bench.car();
    let ask = |_: f64, _: &State| Request::LiftOff;
    let piece = Piece { car: &car, gear: 0, slope: Slope::LEVEL, ask };
    let per_mps = (C / A_N).sqrt();
    for below_mps in [29.9, 23.7, 11.0, 3.2] {
        let slow = |sight: &Sight<'_>| (sight.state.speed_mps <= below_mps).then_some(());
        let from = Place::start(bench.rolling(30.0));
        let (end, passed) = piece.run(&from, 1e4, &Tolerance::TIGHT, slow, &mut ()).unwrap();
        assert!(passed.is_some(), "{below_mps} m/s is never passed");
        let turned = (30.0 * per_mps).atan() - (below_mps * per_mps).atan();
        let expected_s = MASS_KG / (A_N * C).sqrt() * turned;
        assert_near(end.time_s, expected_s, 1e-5, &format!("time to {below_mps} m/s"));
        assert_near(end.state.speed_mps, below_mps, 1e-6, "speed there");
    }
}

/// Measured coefficients scale as SAE J1263 corrects them: the constant part with mass, the
/// square part with air density. The standard atmosphere has 84 556 Pa at 1500 m (table of
/// ISO 2533, from memory) where it has 101 325 Pa at sea level; at one temperature densities are as
/// pressures.
#[test]
fn a_coast_down_is_carried_to_another_mass_and_altitude() {
    let measured = RoadLoad::CoastDown {
        f0_n: A_N,
        f1_n_per_mps: 0.0,
        f2_n_per_mps2: C,
        mass_kg: MASS_KG,
        // At 20 °C and sea level (ISO 2533).
        air_density_kg_per_m3: 101_325.0 / (287.052_87 * 293.15),
    };
    let heavier = coaster()
        .with(|p| (p.road_load, p.chassis.mass_kg) = (measured, 1200.0))
        .around(|a| (a.altitude_m, a.air_k) = (1500.0, 293.15));
    let expected = A_N * 1.2 + C * 400.0 * 84_556.0 / 101_325.0;
    let found = heavier.car().resistance_n(20.0, Slope::LEVEL);
    assert_share(found, expected, 1e-5, "resistance at 20 m/s");
}

/// The driver's lag fades by `e^(−t/τ)`, τ = 1 s, which is the solution of
/// `a = a_trace − (v − v_trace)/τ`.
#[test]
fn the_driver_takes_back_a_lag_exponentially() {
    let (mut speed, h) = (18.0, 0.25);
    for step in 1..=20 {
        let t = h * f64::from(step);
        speed = Driver::aim_mps(speed, 20.0 + (t - h), 20.0 + t, f64::exp(-h));
        assert_near(speed, 20.0 + t - 2.0 * (-t).exp(), 1e-12, "speed of the driver who lags");
    }
}

/// Tyres a tenth harder to roll, in an air a fifth denser: each part of the force by itself.
#[test]
fn harder_tyres_and_denser_air_scale_their_own_part() {
    let own = RoadLoad::Coefficients {
        drag_area_m2: 0.6,
        rolling: 0.01,
        rolling_per_mps: 1e-4,
        bearings_n: 12.0,
    };
    let scaled = own.scaled(1.1, 1.2);
    let expected = RoadLoad::Coefficients {
        drag_area_m2: 0.72,
        rolling: 0.011,
        rolling_per_mps: 1.1e-4,
        bearings_n: 12.0,
    };
    let force = |load: RoadLoad, mps: f64| {
        let car = Bench::light_car().with(|p| p.road_load = load);
        -act(&car.car(), &car.rolling(mps), Slope::LEVEL, 0, Request::Disconnected(0.0))
            .acceleration_mps2
    };
    for mps in [2.0, 10.0, 30.0] {
        assert_share(force(scaled, mps), force(expected, mps), 1e-12, "force");
        assert!(force(scaled, mps) > 1.05 * force(own, mps));
    }
}
