//! Torque curve, voltage and current of the motor, against numbers worked by hand. Constant flux up
//! to base speed, constant voltage above (common practice, no source).

use crate::bench;

use bench::{Bench, act, assert_share};
use sim_core::car::{Request, Slope};
use sim_core::ledger::Account;
use sim_core::motor::{Coefficients, Envelope, Kind, Losses};
use sim_core::{Curve, Limit};

/// 100 N·m up to 300 rad/s, 30 kW, falling on a line to 15 kW at 900 rad/s; at 600 rad/s 22.5 kW.
fn envelope() -> Envelope {
    Envelope::from_nameplate(100.0, 30_000.0, 15_000.0, 900.0, 100.0)
}

#[test]
fn the_nameplate_curve_is_constant_torque_then_a_line_of_power() {
    let e = envelope();
    for (radps, torque_nm) in
        [(0.0, 100.0), (299.0, 100.0), (300.0, 100.0), (600.0, 37.5), (900.0, 15_000.0 / 900.0)]
    {
        assert_share(e.peak_nm(radps, 100.0), torque_nm, 1e-12, &format!("at {radps} rad/s"));
    }
}

#[test]
fn the_curve_stretches_with_voltage() {
    let e = envelope();
    // Half the voltage, half the base speed, half the power: 300 rad/s is 600 of the reference.
    assert_share(e.peak_nm(150.0, 50.0), 100.0, 1e-12, "base speed at 50 V");
    assert_share(e.peak_nm(300.0, 50.0), 37.5, 1e-12, "300 rad/s at 50 V");
    assert_share(e.peak_nm(390.0, 130.0), 100.0, 1e-12, "base speed at 130 V");
    let points = Envelope::from_points(&[(0.0, 80.0), (200.0, 80.0), (400.0, 30.0)], 72.0).unwrap();
    assert_share(points.peak_nm(300.0, 72.0), 55.0, 1e-12, "between points");
    assert_share(points.peak_nm(450.0, 108.0), 55.0, 1e-12, "at one and a half times the voltage");
    // Beyond the last point its power, 30 N·m · 400 rad/s, is held.
    assert_share(points.peak_nm(800.0, 72.0), 15.0, 1e-12, "beyond the last point");
}

/// The whole car with a stiff pack at another voltage follows the stretched curve. At 50 V 600 rad/s
/// are 1200 of the reference, where the line of power has come down to 7.5 kW: 6.25 N·m.
#[test]
fn a_cars_torque_follows_the_curve_at_its_packs_voltage() {
    for (volts, expected_nm) in [(100.0, 37.5), (200.0, 100.0), (50.0, 6.25)] {
        let bench = Bench::ideal_car().with(|p| {
            p.motor.machine.envelope = envelope();
            p.pack.cell.open_circuit_v = Curve::constant(volts);
        });
        let flow = act(&bench.car(), &bench.rolling(600.0), Slope::LEVEL, 0, Request::FullThrottle);
        assert_share(flow.torque_nm, expected_nm, 1e-6, &format!("at {volts} V"));
        assert_eq!(flow.limit, Some(Limit::MotorTorque));
    }
}

/// Above base speed the torque per ampere falls with the flux: at twice base speed a permanent-
/// magnet motor takes twice the current for a torque; an induction motor's magnetising current
/// halves, `I = √((60/2)² + (2·4·10)²)`.
#[test]
fn current_grows_as_the_field_weakens() {
    for (kind, slow_a, fast_a) in [
        (Kind::PermanentMagnet, 40.0, 80.0),
        (Kind::Induction { magnetising_a: 60.0 }, f64::hypot(60.0, 40.0), f64::hypot(30.0, 80.0)),
    ] {
        let bench = Bench::ideal_car().with(|p| {
            p.motor.machine.envelope = envelope();
            p.motor.machine.kind = kind;
            p.motor.machine.current_a_per_nm = 4.0;
            p.road_load = bench::road_load(1000.0, 10.0, 0.0);
        });
        let at = |radps: f64| {
            act(&bench.car(), &bench.rolling(radps), Slope::LEVEL, 0, Request::Accelerate(0.0))
                .motor_a
        };
        assert_share(at(250.0), slow_a, 1e-9, &format!("{kind:?} below base speed"));
        assert_share(at(600.0), fast_a, 1e-9, &format!("{kind:?} at twice base speed"));
    }
}

/// Twice base speed at the same voltage is half the flux: hysteresis loss goes with its power of 1.6
/// (Steinmetz), eddy-current loss with its square, so that the latter is what it was at base speed.
/// By hand at 600 rad/s: 0.4·600·0.3299 + 0.0005·600²·0.25 = 79.17 + 45 W. Magnets keep their flux.
#[test]
fn iron_loss_falls_with_the_flux() {
    for (kind, radps, iron_w) in [
        (Kind::Induction { magnetising_a: 60.0 }, 300.0, 0.4 * 300.0 + 45.0),
        (Kind::Induction { magnetising_a: 60.0 }, 600.0, 240.0 * 0.329_876_977_693_224 + 45.0),
        (Kind::PermanentMagnet, 600.0, 240.0 + 180.0),
    ] {
        let bench = Bench::ideal_car().with(|p| {
            p.motor.machine.envelope = envelope();
            p.motor.machine.kind = kind;
            p.motor.losses = Losses::from(Coefficients {
                hysteresis_w_per_radps: 0.4,
                eddy_w_per_radps2: 0.0005,
                ..Coefficients::default()
            });
            p.road_load = bench::road_load(1000.0, 10.0, 0.0);
        });
        let state = bench.rolling(radps);
        let flow = act(&bench.car(), &state, Slope::LEVEL, 0, Request::Accelerate(0.0));
        assert_share(flow.powers[Account::Iron], iron_w, 1e-9, &format!("{kind:?} at {radps}"));
    }
}

/// Series motor at full throttle where its curve asks for more than the 100 V there are: by hand with
/// `T = c·I²/(1 + I/200)`, c = 200·3/400² N·m/A², 0.02 Ω and brushes of 2 V, the current solves
/// `c·I/(1 + I/200)·ω + 0.02·I + 2 = 100`. At 500 rad/s, with x = I/200: 375·x/(1 + x) + 4·x = 98 gives
/// 4·x² + 281·x − 98 = 0, x = 0.347 04, 69.408 A and 13.411 N·m.
#[test]
fn a_series_motor_gives_no_more_than_the_volts_allow() {
    let bench = Bench::ideal_car().with(|p| {
        p.motor.machine.envelope =
            Envelope::from_points(&[(0.0, 200.0), (900.0, 200.0)], 100.0).unwrap();
        p.motor.machine.kind = Kind::SeriesDc { saturation_a: 200.0, brush_v: 2.0 };
        p.motor.machine.current_a_per_nm = 2.0;
        p.motor.machine.peak_current_a = 400.0;
        p.motor.losses =
            Losses::from(Coefficients { copper_w_per_a2: 0.02, ..Coefficients::default() });
    });
    let full = |radps: f64| {
        act(&bench.car(), &bench.rolling(radps), Slope::LEVEL, 0, Request::FullThrottle)
    };
    let fast = full(500.0);
    assert_eq!(fast.limit, Some(Limit::MotorVoltage));
    assert_share(fast.motor_a, 69.408, 1e-5, "current");
    assert_share(fast.torque_nm, 13.4113, 1e-5, "torque");
    // 400 A ask 50 V of back-EMF, 8 and 2 V at 100 rad/s: the curve is what ends it.
    let slow = full(100.0);
    assert_eq!(slow.limit, Some(Limit::MotorTorque));
    assert_share(slow.torque_nm, 200.0, 1e-6, "torque on the curve");
}

/// Series motor, `T = c·I²/(1 + I/I_s)`: square at first, straight when saturated. By hand with
/// I_s = 200 A, 1 N·m for each 2 A at 400 A: T(400) = 200 = c·160000/3, T(100) = c·10000/1.5 = 25.
#[test]
fn a_series_motors_torque_goes_with_the_square_and_then_saturates() {
    let amperes = |torque_nm: f64| {
        let bench = Bench::ideal_car().with(|p| {
            p.motor.machine.kind = Kind::SeriesDc { saturation_a: 200.0, brush_v: 2.0 };
            p.motor.machine.current_a_per_nm = 2.0;
            p.motor.machine.peak_current_a = 400.0;
            p.road_load = bench::road_load(1000.0, torque_nm, 0.0);
        });
        let state = bench.rolling(10.0);
        act(&bench.car(), &state, Slope::LEVEL, 0, Request::Accelerate(0.0)).motor_a
    };
    assert_share(amperes(200.0), 400.0, 1e-9, "at peak");
    assert_share(amperes(25.0), 100.0, 1e-9, "at a quarter of the current");
    assert_share(amperes(1e-6) / amperes(0.25e-6), 2.0, 1e-4, "four times a tiny torque");
}
