//! Each limit by itself, at a value worked by hand: the car gives that and not more, and says which
//! part said no.

use crate::bench;

use bench::{Bench, act, assert_near, assert_share};
use proptest::prelude::*;
use sim_core::car::{Car, Parts, Request, Slope};
use sim_core::controller::Derating;
use sim_core::follow::{Moment, follow};
use sim_core::motor::Envelope;
use sim_core::root::Near;
use sim_core::{Curve, Flow, Limit, Node, State, Trace};

/// 100 N·m at the wheels' own speed, one radian per metre, 4 A/(N·m); 100 V behind 10 mΩ.
fn car() -> Bench {
    Bench::ideal_car().with(|p| {
        p.motor.machine.envelope = Envelope::from_nameplate(100.0, 1e6, 1e6, 1e6, 100.0);
        p.motor.machine.current_a_per_nm = 4.0;
        p.pack.cell.resistance_ohm = Curve::constant(0.01);
    })
}

fn full_throttle(bench: &Bench, state: &State) -> Flow {
    act(&bench.car(), state, Slope::LEVEL, 0, Request::FullThrottle)
}

#[test]
fn the_motor_gives_its_peak_torque() {
    let flow = full_throttle(&car(), &car().rolling(10.0));
    assert_eq!(flow.limit, Some(Limit::MotorTorque));
    assert_share(flow.torque_nm, 100.0, 1e-9, "torque");
    assert_share(flow.acceleration_mps2, 0.1, 1e-9, "100 N on 1000 kg");
}

#[test]
fn gearbox_and_clutch_bear_what_they_bear() {
    let weak_box = car().with(|p| p.gearbox.max_input_nm = 80.0);
    let flow = full_throttle(&weak_box, &weak_box.rolling(10.0));
    assert_eq!((flow.limit, flow.torque_nm), (Some(Limit::GearboxTorque), 80.0));
    let slipping = car().with(|p| p.gearbox.clutch_nm = 70.0);
    let flow = full_throttle(&slipping, &slipping.rolling(10.0));
    assert_eq!((flow.limit, flow.torque_nm), (Some(Limit::ClutchTorque), 70.0));
}

/// 240 A at 4 A/(N·m).
#[test]
fn the_controller_limits_motor_current() {
    let bench = car().with(|p| p.controller.motor_current_a = 240.0);
    let flow = full_throttle(&bench, &bench.rolling(10.0));
    assert_eq!(flow.limit, Some(Limit::ControllerMotorCurrent));
    assert_share(flow.torque_nm, 60.0, 1e-6, "torque");
}

/// 100 V without load. A load would bring the voltage under the limit, but a controller that is over
/// its highest voltage does not come on to draw one (common practice, no source: it trips).
#[test]
fn a_controller_over_its_highest_voltage_gives_nothing() {
    let torque = |max_v: f64| {
        let bench = car().with(|p| p.controller.max_v = max_v);
        let flow = full_throttle(&bench, &bench.rolling(50.0));
        (flow.torque_nm, flow.limit)
    };
    assert_eq!(torque(99.5), (0.0, Some(Limit::ControllerVoltage)));
    assert_eq!(torque(100.5), (100.0, Some(Limit::MotorTorque)));
}

/// 30 A out of 100 V behind 10 mΩ are 99.7 V and 2991 W: at 50 rad/s 59.82 N·m.
#[test]
fn the_controller_limits_pack_current() {
    let bench = car().with(|p| p.controller.pack_current_a = 30.0);
    let flow = full_throttle(&bench, &bench.rolling(50.0));
    assert_eq!(flow.limit, Some(Limit::ControllerPackCurrent));
    assert_share(flow.torque_nm, 59.82, 1e-6, "torque");
    assert_share(flow.pack_a, 30.0, 1e-6, "pack current");
}

/// What the auxiliaries draw does not pass through the controller.
#[test]
fn auxiliaries_are_not_counted_against_the_controller() {
    let bench = car().with(|p| {
        p.controller.pack_current_a = 30.0;
        p.auxiliaries.traction_w = 990.0;
    });
    let flow = full_throttle(&bench, &bench.rolling(50.0));
    // 40 A: 99.6 V, of which 990 W are 9.94 A; the controller may take 30 A · V.
    assert_share((flow.torque_nm * flow.radps) / flow.pack_v, 30.0, 1e-6, "controller's share");
    assert!(flow.pack_a > 39.0);
}

/// (100 − 96) V over 10 mΩ are 400 A.
#[test]
fn the_controller_stops_at_its_lowest_voltage() {
    let bench = car().with(|p| p.controller.min_v = 96.0);
    let flow = full_throttle(&bench, &bench.rolling(500.0));
    assert_eq!(flow.limit, Some(Limit::ControllerVoltage));
    assert_share(flow.pack_a, 400.0, 1e-6, "pack current");
}

#[test]
fn cells_give_their_peak_current_times_their_parallel_strings() {
    let bench = car().with(|p| {
        p.pack.parallel = 3.0;
        p.pack.cell.discharge_a = 10.0;
        p.pack.cell.discharge_peak_a = 25.0;
    });
    let flow = full_throttle(&bench, &bench.rolling(500.0));
    assert_eq!(flow.limit, Some(Limit::CellCurrent));
    assert_share(flow.pack_a, 75.0, 1e-6, "pack current");
    let tired = State { peak_reserve: 0.0, ..bench.rolling(500.0) };
    assert_share(full_throttle(&bench, &tired).pack_a, 30.0, 1e-6, "with the peak used up");
}

#[test]
fn cold_cells_give_less() {
    let bench = car().with(|p| {
        (p.pack.cell.discharge_a, p.pack.cell.discharge_peak_a) = (50.0, 50.0);
        p.pack.cell.discharge_factor = Curve::new(&[(253.15, 0.0), (273.15, 1.0)]).unwrap();
    });
    let cold = bench.rolling(500.0).warmed(Node::Cells, 263.15);
    let flow = full_throttle(&bench, &cold);
    assert_eq!(flow.limit, Some(Limit::CellTemperature));
    assert_share(flow.pack_a, 25.0, 1e-6, "at −10 °C, half way");
}

/// Half way between warning and cut-off, half is left.
#[test]
fn hot_parts_give_half_when_half_way_to_their_cut_off() {
    let derating = Derating { warning_k: 400.0, cut_off_k: 440.0 };
    let bench = car().with(|p| p.motor.derating = derating);
    let hot = bench.rolling(10.0).warmed(Node::Winding, 420.0);
    let flow = full_throttle(&bench, &hot);
    assert_eq!(flow.limit, Some(Limit::MotorHeat));
    assert_share(flow.torque_nm, 50.0, 1e-6, "motor");
    let bench = car().with(|p| {
        p.controller.derating = derating;
        p.controller.motor_current_a = 400.0;
    });
    let hot = bench.rolling(10.0).warmed(Node::Sink, 420.0);
    let flow = full_throttle(&bench, &hot);
    assert_eq!(flow.limit, Some(Limit::ControllerHeat));
    assert_share(flow.motor_a, 200.0, 1e-6, "controller");
}

#[test]
fn an_empty_pack_gives_nothing() {
    let bench = car().with(|p| p.pack.min_charge = 0.1);
    for charge in [0.1, 0.05] {
        let state = State { charge, ..bench.rolling(10.0) };
        let flow = full_throttle(&bench, &state);
        assert_eq!(flow.limit, Some(Limit::Charge), "at {charge}");
        assert_eq!(flow.torque_nm, 0.0, "at {charge}");
    }
}

/// No recorded moment of a run into the limiter drives beyond the highest speed, which is that of
/// motor or gearbox input, whichever is lower.
#[test]
fn the_motor_is_not_driven_beyond_its_highest_speed() {
    for (motor, gearbox) in [(40.0, 1e6), (1e6, 40.0)] {
        let bench = Bench::ideal_car().with(|p| {
            p.motor.max_radps = motor;
            p.gearbox.max_input_radps = gearbox;
            p.motor.machine.envelope = Envelope::from_nameplate(2000.0, 1e9, 1e9, 1e7, 100.0);
            p.road_load = bench::road_load(1000.0, 100.0, 0.4);
        });
        let car = bench.car();
        assert_share(car.top_speed_by_rpm_mps(0), 40.0, 1e-12, "speed at the highest turns");
        let at = act(&car, &bench.rolling(40.0), Slope::LEVEL, 0, Request::FullThrottle);
        assert_eq!((at.limit, at.torque_nm), (Some(Limit::Rpm), 0.0));
        let times: Vec<f64> = (0..=60).map(f64::from).collect();
        let speeds: Vec<f64> = times.iter().map(|t| f64::min(1.5 * t, 50.0)).collect();
        let trace = Trace::new(&times, &speeds, &[0.0; 60]).unwrap();
        let mut fastest: f64 = 0.0;
        let mut look = |m: &Moment<'_>| {
            if m.flow.torque_nm > 0.0 {
                fastest = fastest.max(m.flow.radps);
            }
        };
        let driver = bench::one_gear_driver(0);
        follow(&car, &trace, &driver, &bench.parked(0.5), 0, 0.1, &mut look);
        assert!(fastest <= 40.0 && fastest > 39.0, "driven up to {fastest} rad/s");
    }
}

/// Of two limits the one that binds is named: 240 A of motor current bind at 60 N·m, 50 A out of
/// the pack (5 kW at 50 rad/s less what its 10 mΩ take) at 99.5 N·m.
#[test]
fn of_two_limits_the_nearer_is_named() {
    let bench = car().with(|p| {
        p.controller.motor_current_a = 240.0;
        p.controller.pack_current_a = 50.0;
    });
    let flow = full_throttle(&bench, &bench.rolling(50.0));
    assert_share(flow.torque_nm, 60.0, 1e-6, "torque");
    assert_eq!(flow.limit, Some(Limit::ControllerMotorCurrent));
}

/// How far a car at full throttle is from the limit that it names, as a share of the limit.
fn gap(car: &Car, state: &State, flow: &Flow) -> f64 {
    let now = car.now(state, 0.0);
    let Parts { motor, controller, pack, auxiliaries, .. } = car.parts();
    let controller_a =
        flow.pack_a - auxiliaries.pack_w(state.temperature_k[Node::Cabin]) / flow.pack_v;
    match flow.limit.unwrap() {
        Limit::ControllerMotorCurrent => 1.0 - flow.motor_a / controller.motor_current_a,
        Limit::ControllerPackCurrent => 1.0 - controller_a / controller.pack_current_a,
        Limit::CellCurrent => 1.0 - flow.pack_a / now.pack.discharge_a.0,
        Limit::CellVoltage => flow.low_cell_v / pack.cell.min_v - 1.0,
        Limit::ControllerVoltage => flow.pack_v / controller.min_v - 1.0,
        Limit::MotorTorque => {
            1.0 - flow.torque_nm / motor.machine.envelope.peak_nm(flow.radps, flow.pack_v)
        }
        other => panic!("{other:?} does not bind here"),
    }
}

proptest! {
    #![proptest_config(bench::cases(4000))]

    /// At full throttle the car stands at the limit that it names.
    #[test]
    fn the_limit_named_is_the_one_that_binds(
        pack_a in 50.0..850.0f64,
        motor_a in 100.0..1000.0f64,
        cell_a in 201.0..1200.0f64,
        cell_v in 2.0..3.0f64,
        low_v in 50.0..95.0f64,
        torque_nm in 50.0..350.0f64,
        power_w in 10e3..160e3f64,
        charge in 0.2..0.95f64,
        speed_mps in 0.5..11.0f64,
    ) {
        let bench = Bench::light_car().around(|a| a.friction = 5.0).with(|p| {
            p.controller.pack_current_a = pack_a;
            p.controller.motor_current_a = motor_a;
            p.controller.min_v = low_v;
            p.pack.cell.discharge_peak_a = cell_a;
            p.pack.cell.min_v = cell_v;
            p.motor.machine.envelope = Envelope::from_nameplate(torque_nm, power_w, 9e3, 800.0, 100.0);
        });
        let state = State { charge, ..bench.rolling(speed_mps) };
        let flow = full_throttle(&bench, &state);
        let gap = gap(&bench.car(), &state, &flow);
        prop_assert!(gap.abs() < 1e-4, "{:?} is {gap} away", flow.limit);
    }
}

/// A limit that is out of reach must not change what the others give: cells that may be charged to
/// a million volts still give 60 N·m by 240 A of motor current.
#[test]
fn a_limit_out_of_reach_changes_nothing() {
    for max_v in [150.0, 1e6, 1e9] {
        let bench = car().with(|p| {
            p.controller.motor_current_a = 240.0;
            p.pack.cell.max_v = max_v;
        });
        let flow = full_throttle(&bench, &bench.rolling(10.0));
        assert_share(flow.torque_nm, 60.0, 1e-6, &format!("torque with cells up to {max_v} V"));
    }
}

/// 30 A out of 100 V behind 10 mΩ are 2991 W at every speed: sought from where the limit was at the
/// last one, close by or far away, or from a start that misleads.
#[test]
fn where_a_limit_was_found_before_does_not_change_it() {
    let bench = car().with(|p| p.controller.pack_current_a = 30.0);
    let (car, state) = (bench.car(), bench.rolling(40.0));
    let now = car.now(&state, 0.0);
    let misleading = Near { at: -20.0, slope: 0.3 };
    for mut near in [None, Some(misleading), Some(Near { at: 1e-9, slope: -1e-9 })] {
        for speed_mps in [40.0, 40.5, 41.0, 300.0, 35.0] {
            let full = Request::FullThrottle;
            let attempt = car.attempt(&now, speed_mps, Slope::LEVEL, 0, full, near);
            near = attempt.near();
            let flow = attempt.flow();
            assert_eq!(flow.limit, Some(Limit::ControllerPackCurrent));
            assert_share(flow.torque_nm, 2991.0 / speed_mps, 1e-6, &format!("at {speed_mps} m/s"));
            assert_eq!(near.map(|near| near.at), Some(flow.torque_nm));
        }
    }
}

/// Short of every limit the car does what it is asked.
#[test]
fn a_request_within_all_limits_is_met_exactly() {
    let bench = car();
    for wanted in [0.0, 0.03, 0.0999] {
        let flow =
            act(&bench.car(), &bench.rolling(10.0), Slope::LEVEL, 0, Request::Accelerate(wanted));
        assert_eq!(flow.limit, None);
        assert_near(flow.acceleration_mps2, wanted, 1e-12, "acceleration");
        assert_near(flow.torque_nm, 1000.0 * wanted, 1e-9, "torque, F = m·a");
    }
}
