//! Which gear the driver takes on a trace, where a hand calculation says which is right.

use crate::bench;

use bench::{Bench, act, assert_share};
use sim_core::car::{Request, Slope};
use sim_core::driver::{Driver, Shifting};
use sim_core::follow::{Drive, DriveEnding, STEP_S, follow};
use sim_core::gearbox::{Gear, Gearbox};
use sim_core::motor::{Coefficients, Envelope, Losses};
use sim_core::{Curve, Limit, Trace};

/// Three gears at 30, 20 and 10 radians per metre on 0.3 m wheels, none with a loss; 60 kg of
/// drag at any speed.
fn three_speed(losses: Coefficients) -> Bench {
    Bench::ideal_car().with(|p| {
        let gears = [9.0, 6.0, 3.0].map(|ratio| Gear { ratio, efficiency: 1.0 });
        p.gearbox = Gearbox::new(gears.to_vec()).unwrap();
        p.gearbox.shift_s = 0.0;
        p.road_load = bench::road_load(1000.0, 600.0, 0.0);
        p.motor.machine.envelope = Envelope::from_nameplate(200.0, 50e3, 50e3, 600.0, 100.0);
        p.motor.max_radps = 600.0;
        p.motor.losses = Losses::from(losses);
        p.motor.machine.current_a_per_nm = 1.0;
    })
}

/// No loss of any kind.
fn none() -> Coefficients {
    Coefficients {
        copper_w_per_a2: 0.0,
        fixed_w: 0.0,
        hysteresis_w_per_radps: 0.0,
        eddy_w_per_radps2: 0.0,
        friction_nm: 0.0,
        windage_w_per_radps3: 0.0,
    }
}

/// A steady speed, m/s, for ten seconds, and the gear in which it ends.
fn gear_at(bench: &Bench, shifting: Shifting, from: usize, speed_mps: f64) -> (usize, Drive) {
    let times = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0];
    let trace = Trace::new(&times, &[speed_mps; 11], &[0.0; 10]).unwrap();
    let driver = Driver { shifting, start_gear: 0 };
    let start = bench.rolling(speed_mps);
    let drive = follow(&bench.car(), &trace, &driver, &start, from, STEP_S, &mut ());
    (drive.gear, drive)
}

/// `T = F/(rad per m)`: 20, 30 and 60 N·m at 300, 200 and 100 rad/s. Copper, with the field
/// weakened from 250 rad/s on, loses 24² against 30² and 60² W, and asks for the first gear;
/// windage asks for the last.
#[test]
fn an_efficient_driver_takes_the_gear_with_the_least_loss() {
    let copper = three_speed(Coefficients { copper_w_per_a2: 1.0, ..none() });
    let windage = three_speed(Coefficients { windage_w_per_radps3: 1e-4, ..none() });
    for from in 0..3 {
        assert_eq!(gear_at(&copper, Shifting::Efficient, from, 10.0).0, 0);
        assert_eq!(gear_at(&windage, Shifting::Efficient, from, 10.0).0, 2);
    }
    // 0.5·I² + 5·ω W: 288 + 1500, 450 + 1000 and 1800 + 500: the second is the least.
    let both =
        three_speed(Coefficients { copper_w_per_a2: 0.5, hysteresis_w_per_radps: 5.0, ..none() });
    for from in 0..3 {
        assert_eq!(gear_at(&both, Shifting::Efficient, from, 10.0).0, 1);
    }
}

/// Without a loss every gear takes 6 kW, and none is worth a shift.
#[test]
fn a_driver_who_saves_nothing_does_not_shift() {
    for from in 0..3 {
        let (gear, drive) = gear_at(&three_speed(none()), Shifting::Efficient, from, 10.0);
        assert_eq!((gear, drive.shifts), (from, 0));
    }
}

/// A gear whose motor would turn too fast is left, whatever it saves: at 22 m/s the first gear
/// asks for 660 of 600 rad/s, at 30 m/s the second for 600.
#[test]
fn a_gear_without_room_is_left() {
    let copper = three_speed(Coefficients { copper_w_per_a2: 1.0, ..none() });
    assert_eq!(gear_at(&copper, Shifting::Efficient, 2, 22.0).0, 1);
    assert_eq!(gear_at(&copper, Shifting::Efficient, 1, 30.0).0, 2);
}

/// At 10 m/s the gears pull with 50 kW of 300 rad/s, 200 N·m of 200 and of 100 rad/s: the first.
#[test]
fn a_quick_driver_takes_the_gear_that_pulls_hardest() {
    for from in 0..3 {
        assert_eq!(gear_at(&three_speed(none()), Shifting::Quick, from, 10.0).0, 0);
    }
}

/// Up above 450 rad/s and down below 200, and neither on the edge itself.
#[test]
fn a_window_is_left_beyond_its_edges_and_not_on_them() {
    let bench = three_speed(none());
    let car = bench.car();
    let (low, high) = (car.motor_radps(1, 10.0), car.motor_radps(1, 22.5));
    let window = Shifting::Window { up_radps: high, down_radps: low };
    assert_eq!(gear_at(&bench, window, 1, 10.0).0, 1);
    assert_eq!(gear_at(&bench, window, 1, 22.5).0, 1);
    assert_eq!(gear_at(&bench, window, 1, 9.9).0, 0);
    assert_eq!(gear_at(&bench, window, 1, 22.6).0, 2);
}

/// Torque falls on a straight line to nothing over the last percent of the highest speed.
#[test]
fn torque_fades_over_the_last_percent_of_speed() {
    let bench = three_speed(none());
    let car = bench.car();
    for left in [0.75, 0.5, 0.1] {
        let radps = 600.0 * (1.0 - 0.01 * left);
        let state = bench.rolling(radps / 10.0);
        let flow = act(&car, &state, Slope::LEVEL, 2, Request::FullThrottle);
        assert_eq!(flow.limit, Some(Limit::Rpm));
        // 50 kW at 600 rad/s, ten radians to the metre.
        assert_share(flow.drive_n, 10.0 * left * 50e3 / radps, 1e-6, "force");
    }
}

/// A steady load draws a steady current, and that is its root mean square: 6 kW over 100 V.
#[test]
fn a_steady_current_is_its_own_root_mean_square() {
    let (_, drive) = gear_at(&three_speed(none()), Shifting::Fixed(1), 1, 10.0);
    assert_share(drive.rms_pack_a(), 60.0, 1e-9, "pack");
    assert_share(drive.rms_motor_a(), 30.0, 1e-9, "motor, at one ampere per N·m");
}

/// From the second gear to the first the rotor must turn 100 rad/s faster: `½·J·Δω²` is lost to the
/// clutch, less 4 % of it since the car is slowed. A shift is worth it where that is less than what
/// three seconds in the better gear save: (900 − 576) W · 3 s = 972 J, J = 0.194 kg·m².
#[test]
fn a_shift_that_costs_more_than_it_saves_is_not_made() {
    let copper = |rotor: f64| {
        three_speed(Coefficients { copper_w_per_a2: 1.0, ..none() }).with(|p| {
            p.motor.rotor_inertia_kg_m2 = rotor;
        })
    };
    // 3 % of the power counts as nothing: 207 W are asked for besides.
    let edge = |worth_w: f64| 2.0 * 3.0 * (324.0 - worth_w) / (100.0 * 100.0);
    assert_eq!(gear_at(&copper(0.95 * edge(207.0)), Shifting::Efficient, 1, 10.0).0, 0);
    assert_eq!(gear_at(&copper(1.1 * edge(207.0)), Shifting::Efficient, 1, 10.0).0, 1);
}

/// A gradient of 0.2 is too much for 200 N·m at ten radians a metre (2000 N of
/// 600 N + m·g·sin θ), so that the car lags; in the gear below 50 kW are 2500 N at 20 m/s.
#[test]
fn a_driver_who_is_held_back_takes_a_lower_gear() {
    let times: Vec<f64> = (0..=20).map(f64::from).collect();
    let trace = Trace::new(&times, &[20.0; 21], &[0.2; 20]).unwrap();
    let window = Shifting::Window { up_radps: 450.0, down_radps: 100.0 };
    let driver = Driver { shifting: window, start_gear: 0 };
    let bench = three_speed(none());
    let start = bench.rolling(20.0);
    let drive = follow(&bench.car(), &trace, &driver, &start, 2, STEP_S, &mut ());
    assert_eq!((drive.gear, drive.shifts), (1, 1));
}

/// Cells so cold that they give 1 kW for a road of 6 kW: the car slows by `m·v' = P/v − F` and passes 70 % of
/// 10 m/s after `−(m/F)·Δv − (m·P/F²)·ln((F·v₀ − P)/(F·v − P))`, with which its ten seconds of
/// patience begin.
#[test]
fn a_car_that_limps_for_its_pack_is_given_up_after_ten_seconds() {
    let bench = three_speed(none()).with(|p| {
        p.pack.cell.discharge_a = 100.0;
        p.pack.cell.discharge_peak_a = 100.0;
        p.pack.cell.discharge_factor = Curve::constant(0.1);
    });
    let times: Vec<f64> = (0..=60).map(f64::from).collect();
    let trace = Trace::new(&times, &[10.0; 61], &[0.0; 60]).unwrap();
    let driver = bench::one_gear_driver(1);
    let start = bench.rolling(10.0);
    let drive = follow(&bench.car(), &trace, &driver, &start, 1, STEP_S, &mut ());
    let (m, f, p) = (1000.0_f64, 600.0_f64, 1000.0_f64);
    let limps_s = m / f * 3.0 + m * p / (f * f) * ((f * 10.0 - p) / (f * 7.0 - p)).ln();
    let DriveEnding::PackLimited(at_s, limit) = drive.ending else {
        panic!("{:?}", drive.ending);
    };
    assert_eq!(limit, Limit::CellTemperature);
    // The end is noticed at the end of a second.
    assert!(at_s > limps_s + 10.0 && at_s < limps_s + 11.5, "{at_s} s, limping from {limps_s} s");
}
