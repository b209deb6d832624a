//! Braking with the motor: how much there is by hand, and who takes the rest.

use crate::bench;

use bench::{Bench, act, assert_near, assert_share};
use sim_core::brakes::pedals_up;
use sim_core::car::{Car, Request, Slope};
use sim_core::follow::{Moment, follow};
use sim_core::motor::{Envelope, Kind};
use sim_core::{Flow, Limit, Node, State};

/// The light car's second gear, motor radians per metre.
const PER_M: f64 = 2.0 * 4.1 / 0.27;

fn brake(car: &Car, state: &State, wanted: f64) -> Flow {
    act(car, state, Slope::LEVEL, 1, Request::Accelerate(wanted))
}

/// The car slows as asked whatever the motor does: `m·a = F_wheels − F_brakes − F_road`.
#[track_caller]
fn friction_takes_the_rest(bench: &Bench, state: &State, flow: &Flow, wanted: f64) {
    assert_near(flow.acceleration_mps2, wanted, 1e-9, "acceleration");
    let moving_kg = bench.parts.chassis.mass_kg
        + bench.parts.chassis.wheels_inertia_kg_m2 / bench.parts.rolling_radius_m.powi(2);
    let road_n = bench.level_road_n(state.speed_mps);
    let sum_n = flow.drive_n - flow.friction_n - road_n;
    assert_near(sum_n, moving_kg * wanted, 1e-6, "sum of forces");
}

/// 40 N·m of lift-off and pedal together, through the gear with its efficiency inverted and less
/// the box's drag and the rotor's own inertia: `F = ((T + T_drag) + J·α)·(G/r)/η`.
#[test]
fn the_motor_brakes_up_to_its_settings_and_friction_does_the_rest() {
    let bench = Bench::light_car();
    let state = bench.rolling(8.0);
    let flow = brake(&bench.car(), &state, -3.0);
    assert_share(flow.torque_nm, -40.0, 1e-9, "torque");
    let drag_nm = 0.5 + 0.002 * PER_M * 8.0;
    let wheels_n = (40.0 + drag_nm - 0.03 * PER_M * 3.0) * PER_M / 0.95;
    assert_share(-flow.drive_n, wheels_n, 1e-9, "force at the wheels");
    assert!(flow.friction_n > 1000.0 && flow.pack_a < 0.0);
    friction_takes_the_rest(&bench, &state, &flow, -3.0);
}

#[test]
fn gentle_braking_needs_no_friction() {
    let bench = Bench::light_car();
    let state = bench.rolling(8.0);
    let flow = brake(&bench.car(), &state, -0.7);
    assert_eq!(flow.friction_n, 0.0);
    assert!(flow.torque_nm < -5.0 && flow.torque_nm > -40.0);
    friction_takes_the_rest(&bench, &state, &flow, -0.7);
}

/// `a = −(F_motor + F_road)/(M + J·(G/r)²/η)` with the motor's force as above.
#[test]
fn lifting_off_slows_by_the_lift_off_torque() {
    let bench = Bench::light_car();
    let car = bench.car();
    let flow = pedals_up(&car, &bench.parked(0.5), 1, 10.0);
    let moving_kg = 900.0 + 2.0 / 0.27_f64.powi(2) + 0.03 * PER_M * PER_M / 0.95;
    let drag_nm = 0.5 + 0.002 * PER_M * 10.0;
    let force_n = (15.0 + drag_nm) * PER_M / 0.95 + bench.level_road_n(10.0);
    assert_share(flow.acceleration_mps2, -force_n / moving_kg, 1e-9, "slowing");
    assert_eq!(flow.friction_n, 0.0);
}

/// Off below 1.4 m/s, whole above 4 m/s, a line between.
#[test]
fn regen_fades_out_at_walking_pace() {
    let bench = Bench::light_car();
    let torque_nm = |speed_mps: f64| {
        let state = bench.rolling(speed_mps);
        let flow = brake(&bench.car(), &state, -2.5);
        friction_takes_the_rest(&bench, &state, &flow, -2.5);
        flow
    };
    assert_share(torque_nm(5.0).torque_nm, -40.0, 1e-9, "above");
    assert_share(torque_nm(2.7).torque_nm, -20.0, 1e-9, "half way");
    let slow = torque_nm(1.3);
    assert!(slow.torque_nm.abs() < 0.3 && slow.pack_a > 0.0, "below the fade-out: {slow:?}");
}

#[test]
fn a_series_motor_makes_no_regen() {
    let bench = Bench::light_car()
        .with(|p| p.motor.machine.kind = Kind::SeriesDc { saturation_a: 200.0, brush_v: 2.0 });
    let car = bench.car();
    let state = bench.rolling(12.0);
    let flow = brake(&car, &state, -2.0);
    assert!(flow.pack_a > 0.0 && flow.motor_a == 0.0, "{flow:?}");
    friction_takes_the_rest(&bench, &state, &flow, -2.0);
    assert!(pedals_up(&car, &state, 1, 12.0).pack_a > 0.0);
}

#[test]
fn a_full_pack_takes_nothing() {
    let bench = Bench::light_car().with(|p| p.pack.max_charge = 0.9);
    let state = State { charge: 0.9, ..bench.rolling(12.0) };
    let flow = brake(&bench.car(), &state, -2.0);
    assert_eq!(flow.limit, Some(Limit::Charge));
    assert!(flow.pack_a >= 0.0, "{} A into a full pack", flow.pack_a);
    friction_takes_the_rest(&bench, &state, &flow, -2.0);
}

/// Charging lithium cells below freezing plates metal on them: no charge below 0 °C (common
/// practice, no source).
#[test]
fn cells_below_freezing_take_nothing() {
    let bench = Bench::light_car();
    let state = bench.rolling(12.0).warmed(Node::Cells, 272.0);
    let flow = brake(&bench.car(), &state, -2.0);
    assert_eq!(flow.limit, Some(Limit::CellTemperature));
    assert!(flow.pack_a >= 0.0, "{} A into frozen cells", flow.pack_a);
    friction_takes_the_rest(&bench, &state, &flow, -2.0);
}

/// At +5 °C half of the 200 A peak is allowed.
fn cool_cells_under_strong_regen() -> Flow {
    let strong = Bench::light_car().with(|p| {
        p.motor.machine.envelope = Envelope::from_nameplate(400.0, 2e5, 2e5, 900.0, 100.0);
        p.motor.machine.current_a_per_nm = 1.0;
        p.controller.max_v = 1e3;
        p.pack.cell.max_v = 10.0;
        p.braking.brake_pedal_nm = 300.0;
    });
    let cool = strong.rolling(20.0).warmed(Node::Cells, 278.15);
    brake(&strong.car(), &cool, -4.0)
}

#[test]
fn cool_cells_take_half_the_current() {
    let flow = cool_cells_under_strong_regen();
    assert_share(-flow.pack_a, 100.0, 1e-6, "charge current at 5 °C");
}

#[test]
fn cool_cells_are_named_as_what_holds_regen_back() {
    assert_eq!(cool_cells_under_strong_regen().limit, Some(Limit::CellTemperature));
}

/// The controller's own limit of current into the pack, and its highest voltage.
#[test]
fn the_controller_limits_current_and_voltage_of_regen() {
    let strong = |change: fn(&mut sim_core::car::Parts)| {
        Bench::ideal_car()
            .with(|p| {
                p.braking.brake_pedal_nm = 1e4;
                p.pack.cell.resistance_ohm = sim_core::Curve::constant(0.01);
            })
            .with(change)
    };
    let bench = strong(|p| p.controller.pack_regen_current_a = 80.0);
    let flow = act(&bench.car(), &bench.rolling(20.0), Slope::LEVEL, 0, Request::Accelerate(-3.0));
    assert_eq!(flow.limit, Some(Limit::ControllerPackCurrent));
    assert_share(-flow.pack_a, 80.0, 1e-6, "charge current");
    friction_takes_the_rest(&bench, &bench.rolling(20.0), &flow, -3.0);
    // 103 V over 100 V behind 10 mΩ: 300 A.
    let bench = strong(|p| p.controller.max_v = 103.0);
    let flow = act(&bench.car(), &bench.rolling(20.0), Slope::LEVEL, 0, Request::Accelerate(-3.0));
    assert_eq!(flow.limit, Some(Limit::ControllerVoltage));
    assert_share(-flow.pack_a, 300.0, 1e-6, "charge current");
}

/// A lossless car gives back on the way down what it took on the way up, and what it took to gather
/// speed when it stops.
#[test]
fn without_losses_regen_gives_everything_back() {
    let bench = Bench::ideal_car().with(|p| {
        p.braking.brake_pedal_nm = 1e5;
        (p.braking.fade_out_mps, p.braking.full_above_mps) = (0.0, 1e-9);
    });
    let trace = bench::stop_and_go(20.0, 3, false);
    let driver = bench::one_gear_driver(0);
    let start = bench.parked(0.5);
    let mut brakes_j = 0.0;
    let mut sum = |m: &Moment<'_>| brakes_j += m.flow.friction_n * m.flow.radps * m.step_s;
    let drive = follow(&bench.car(), &trace, &driver, &start, 0, 1.0, &mut sum);
    assert!(drive.regen_j > 3e5);
    assert_near(brakes_j, 0.0, 1e-6 * drive.regen_j, "friction brakes");
    assert_near(drive.terminal_j, 0.0, 1e-6 * drive.regen_j, "net energy");
}
