//! Grip against the handbook: Wong, Theory of Ground Vehicles, chapter 3 (from memory).
//!
//! Largest tractive effort, with `l_f`, `l_r` from the centre of gravity to the front and rear
//! axle, `h` its height, `f` the rolling coefficient and `W` the weight (on a grade its part
//! normal to the road, `W·cos θ`):
//! rear drive `μ·W·(l_f − f·h)/L / (1 − μ·h/L)`, front drive `μ·W·(l_r + f·h)/L / (1 + μ·h/L)`.

use crate::bench;

use bench::{Bench, act, assert_near, assert_share};
use sim_core::Limit;
use sim_core::car::{Request, Slope};
use sim_core::follow::Moment;
use sim_core::motor::Envelope;
use sim_core::pieces::Tolerance;
use sim_core::pull::{Course, Plan, pull};
use sim_core::road_load::RoadLoad;
use sim_core::tyre::DrivenAxle::{self, Both, Front, Rear};
use sim_core::units::GRAVITY_MPS2;

const ROLLING: f64 = 0.012;
/// From the centre of gravity to the front and to the rear axle, and its height, m.
const L_F: f64 = 0.97;
const L_R: f64 = 1.33;
const H: f64 = 0.5;

/// A car of 1000 kg with more torque than any tyre holds and no air drag.
fn strong(driven: DrivenAxle, friction: f64) -> Bench {
    Bench::ideal_car()
        .with(|p| {
            p.driven = driven;
            p.road_load = RoadLoad::Coefficients {
                drag_area_m2: 0.0,
                rolling: ROLLING,
                rolling_per_mps: 0.0,
                bearings_n: 0.0,
            };
            p.motor.machine.envelope = Envelope::from_nameplate(1e5, 1e9, 1e9, 1e6, 100.0);
            p.braking.lift_off_nm = 1e5;
            p.braking.brake_pedal_nm = 1e5;
        })
        .around(|a| a.friction = friction)
}

fn wong_n(driven: DrivenAxle, friction: f64, slope: Slope) -> f64 {
    let weight_n = 1000.0 * GRAVITY_MPS2 * slope.cos;
    let l = L_F + L_R;
    match driven {
        Rear => friction * weight_n * (L_F - ROLLING * H) / l / (1.0 - friction * H / l),
        Front => friction * weight_n * (L_R + ROLLING * H) / l / (1.0 + friction * H / l),
        Both => friction * weight_n,
    }
}

#[test]
fn the_largest_tractive_effort_is_wongs() {
    for driven in [Front, Rear, Both] {
        for friction in [0.1, 0.4, 0.8, 1.0] {
            for grade in [0.0, 0.1, 0.25, -0.1] {
                let bench = strong(driven, friction);
                let slope = Slope::from_grade(grade);
                let flow = act(&bench.car(), &bench.rolling(3.0), slope, 0, Request::FullThrottle);
                let what = format!("{driven:?} drive, μ {friction}, grade {grade}");
                assert_share(flow.drive_n, wong_n(driven, friction, slope), 1e-9, &what);
                assert_eq!(flow.limit, Some(Limit::Grip), "{what}");
                assert_near(flow.grip_used, 1.0, 1e-9, &what);
            }
        }
    }
}

/// Turning wheels take some of the motor's force before it reaches the road: the road's share, and
/// with it the acceleration, stays the handbook's.
#[test]
fn turning_wheels_do_not_change_what_the_road_holds() {
    let bench = strong(Rear, 0.7).with(|p| {
        p.chassis.wheels_inertia_kg_m2 = 4.0;
        p.motor.rotor_inertia_kg_m2 = 0.5;
    });
    let flow = act(&bench.car(), &bench.rolling(3.0), Slope::LEVEL, 0, Request::FullThrottle);
    let expected = (wong_n(Rear, 0.7, Slope::LEVEL) - ROLLING * 1000.0 * GRAVITY_MPS2) / 1000.0;
    assert_share(flow.acceleration_mps2, expected, 1e-9, "acceleration");
}

/// From rest at constant force: `t = v/a`, `x = v²/(2a)`; marks of distance lie before, between and
/// after those of speed.
#[test]
fn a_run_on_a_slippery_hill_has_constant_acceleration() {
    for driven in [Front, Rear, Both] {
        let bench = strong(driven, 0.3);
        let slope = Slope::from_grade(0.05);
        let course = Course {
            plan: Plan::in_gear(0),
            slope,
            speeds_mps: vec![5.0, 15.0],
            distances_m: vec![3.0, 60.0, 500.0],
            most_s: 300.0,
        };
        let found = pull(&bench.car(), &bench.parked(0.5), &course, &Tolerance::default(), &mut ())
            .unwrap();
        let weight_n = 1000.0 * GRAVITY_MPS2;
        let accelerating_n =
            wong_n(driven, 0.3, slope) - weight_n * (slope.sin + ROLLING * slope.cos);
        let a = accelerating_n / 1000.0;
        for (v, mark) in [5.0, 15.0].iter().zip(found.at_speeds) {
            let mark = mark.unwrap();
            assert_share(mark.time_s, v / a, 1e-6, &format!("{driven:?} drive to {v} m/s"));
            assert_share(mark.distance_m, v * v / (2.0 * a), 1e-6, "distance");
        }
        for (x, mark) in [3.0, 60.0, 500.0].iter().zip(found.at_distances) {
            let (mark, what) = (mark.unwrap(), format!("{driven:?} drive over {x} m"));
            assert_share(mark.time_s, f64::sqrt(2.0 * x / a), 1e-6, &what);
            assert_share(mark.speed_mps, f64::sqrt(2.0 * x * a), 1e-6, &what);
        }
    }
}

/// Wong's steepest grade that the tyres hold, `tan θ = μ·l/L… − f`: full throttle just holds the
/// car there, and rolls it back a percent above.
#[test]
fn the_steepest_grade_is_where_the_tyres_let_go() {
    for (driven, friction) in [(Front, 0.5), (Rear, 0.5), (Both, 0.5)] {
        let bench = strong(driven, friction);
        // Force, weight and rolling resistance all scale with cos θ.
        let grade = wong_n(driven, friction, Slope::LEVEL) / (1000.0 * GRAVITY_MPS2) - ROLLING;
        let pull = |grade: f64| {
            let slope = Slope::from_grade(grade);
            act(&bench.car(), &bench.rolling(1.0), slope, 0, Request::FullThrottle)
                .acceleration_mps2
        };
        assert_near(pull(grade), 0.0, 1e-9, &format!("{driven:?} drive at its steepest grade"));
        assert!(pull(grade + 0.01) < -0.05 && pull(grade - 0.01) > 0.05);
    }
}

/// All wheels together hold `μ·W·cos θ`; a harder stop than that, with the help of air and grade,
/// is not to be had, however it is asked for.
#[test]
fn no_stop_is_harder_than_grip_allows() {
    for driven in [Front, Rear, Both] {
        for friction in [0.15, 0.5, 0.9] {
            for grade in [-0.1, 0.0, 0.1] {
                let bench = strong(driven, friction);
                let car = bench.car();
                let slope = Slope::from_grade(grade);
                let normal_n = 1000.0 * GRAVITY_MPS2 * slope.cos;
                for request in [Request::Accelerate(-50.0), Request::Disconnected(-50.0)] {
                    let flow = act(&car, &bench.rolling(20.0), slope, 0, request);
                    let tyres_n = flow.friction_n - flow.drive_n;
                    assert!(
                        tyres_n <= friction * normal_n * (1.0 + 1e-12),
                        "{driven:?} μ {friction}: brakes push {tyres_n} N on {normal_n} N"
                    );
                    // Rolling resistance is part of what the tyres hold.
                    let expected = -friction * normal_n / 1000.0 - GRAVITY_MPS2 * slope.sin;
                    assert_share(flow.acceleration_mps2, expected, 1e-9, "hardest stop");
                }
            }
        }
    }
}

/// On the brakes, `W_r = W·l_f/L − (h/L)·(F_b + f·W)` (Wong): regen on one axle and what friction
/// adds there by its balance never ask for more than `μ` times the load on that axle.
#[test]
fn regen_and_friction_together_stay_within_the_driven_axles_grip() {
    let weight_n = 1000.0 * GRAVITY_MPS2;
    for driven in [Front, Rear] {
        for friction in [0.15, 0.3, 0.6] {
            for wanted in [-0.5, -1.0, -2.0, -5.0] {
                let bench = strong(driven, friction);
                let flow = act(
                    &bench.car(),
                    &bench.rolling(20.0),
                    Slope::LEVEL,
                    0,
                    Request::Accelerate(wanted),
                );
                let total_n = flow.friction_n - flow.drive_n;
                let moved_n = H / (L_F + L_R) * (total_n + ROLLING * weight_n);
                let (load_n, share) = match driven {
                    Front => (weight_n * L_R / (L_F + L_R) + moved_n, 0.65),
                    _ => (weight_n * L_F / (L_F + L_R) - moved_n, 0.35),
                };
                let axle_n = flow.friction_n * share - flow.drive_n;
                let what = format!("{driven:?} μ {friction}, {wanted} m/s²");
                assert_share(flow.grip_used, axle_n / (friction * load_n), 1e-9, &what);
                // What friction brakes alone would do with their fixed balance is not regen's doing.
                let alone_n = total_n * share;
                assert!(
                    axle_n <= (friction * load_n).max(alone_n) * (1.0 + 1e-9),
                    "{what}: {axle_n} N on {load_n} N"
                );
            }
        }
    }
}

/// Lifting off with more regen than the tyres hold slows the car by what they hold: on one axle
/// without friction brakes `F = μ·(W·l/L ± (h/L)·(F + f·W))`, solved for `F`.
#[test]
fn lift_off_regen_goes_up_to_what_the_driven_axle_holds() {
    let (weight_n, l) = (1000.0 * GRAVITY_MPS2, L_F + L_R);
    for (driven, friction) in [(Front, 0.1), (Rear, 0.1), (Front, 0.3), (Rear, 0.3), (Both, 0.2)] {
        let bench = strong(driven, friction);
        let flow = act(&bench.car(), &bench.rolling(20.0), Slope::LEVEL, 0, Request::LiftOff);
        let expected = match driven {
            Front => friction * weight_n * (L_R + ROLLING * H) / l / (1.0 - friction * H / l),
            Rear => friction * weight_n * (L_F - ROLLING * H) / l / (1.0 + friction * H / l),
            Both => friction * weight_n,
        };
        assert_share(-flow.drive_n, expected, 1e-6, &format!("{driven:?} drive, μ {friction}"));
        assert_eq!(flow.limit, Some(Limit::Grip));
    }
}

/// Whatever the car does, no moment of a run uses more grip than there is.
#[test]
fn a_pull_on_ice_never_uses_more_grip_than_there_is() {
    let bench = Bench::light_car()
        .with(|p| p.chassis.wheels_inertia_kg_m2 = 0.0)
        .around(|a| a.friction = 0.12);
    let course = Course {
        plan: bench::gears_held(4),
        slope: Slope::LEVEL,
        speeds_mps: vec![15.0],
        distances_m: vec![],
        most_s: 100.0,
    };
    let mut gripped = 0;
    let mut look = |m: &Moment<'_>| {
        assert!(m.flow.grip_used <= 1.0 + 1e-9, "grip used {} times", m.flow.grip_used);
        gripped += usize::from(m.flow.limit == Some(Limit::Grip));
    };
    pull(&bench.car(), &bench.parked(0.8), &course, &Tolerance::default(), &mut look).unwrap();
    assert!(gripped > 3, "grip never mattered");
}

/// At the limit of grip all of it is in use, wheels that turn or not.
#[test]
fn at_the_limit_with_heavy_wheels_all_grip_is_in_use_and_no_more() {
    let bench = strong(Rear, 0.5).with(|p| p.chassis.wheels_inertia_kg_m2 = 3.0);
    let flow = act(&bench.car(), &bench.rolling(3.0), Slope::LEVEL, 0, Request::FullThrottle);
    assert_eq!(flow.limit, Some(Limit::Grip));
    assert_near(flow.grip_used, 1.0, 1e-9, "share of grip in use");
}
