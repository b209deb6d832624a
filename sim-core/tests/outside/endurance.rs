//! How long a speed is held, against closed forms: a single node that warms exponentially, and a
//! pack that gives a constant power until it is empty.

use crate::bench;

use bench::{Bench, assert_share};
use sim_core::car::Slope;
use sim_core::controller::Derating;
use sim_core::cooling::Cooling;
use sim_core::endurance::{Outcome, endurance};
use sim_core::units::GRAVITY_MPS2;
use sim_core::{Limit, Node};

/// A controller of 4000 J/K that loses 500 W through 5 W/K and cuts back from so many kelvins above
/// the air.
fn warming(over_k: f64) -> Bench {
    Bench::ideal_car().with(|p| {
        p.controller.fixed_loss_w = 500.0;
        p.controller.heat_capacity_j_per_k = 4000.0;
        p.controller.cooling =
            Cooling::Air { still_w_per_k: 5.0, fan_w_per_k: 0.0, road_w_per_k: 0.0 };
        p.controller.derating = Derating {
            warning_k: bench::WARM_K + over_k,
            cut_off_k: bench::WARM_K + over_k + 20.0,
        };
    })
}

fn hold(bench: &Bench, slope: Slope, speed_mps: f64, most_s: f64) -> Outcome {
    endurance(&bench.car(), &bench.parked(0.9), slope, speed_mps, 0, most_s).unwrap()
}

/// `T = T∞·(1 − e^(−t/τ))` with `T∞ = 100 K` and `τ = 800 s`: half of it after `τ·ln 2`.
#[test]
fn a_node_that_warms_exponentially_is_over_after_its_time() {
    match hold(&warming(50.0), Slope::LEVEL, 20.0, 1e5) {
        Outcome::Ends { time_s, by: Limit::ControllerHeat } => {
            assert_share(time_s, 800.0 * f64::ln(2.0), 1e-4, "time");
        }
        other => panic!("{other:?}"),
    }
    assert_eq!(hold(&warming(50.0), Slope::LEVEL, 20.0, 300.0), Outcome::Beyond { time_s: 300.0 });
}

/// A warning above the settled temperature is never met.
#[test]
fn what_settles_below_its_warning_is_continuous() {
    match hold(&warming(160.0), Slope::LEVEL, 20.0, 1e5) {
        Outcome::Continuous { heat_share, pack: None } => {
            assert_share(heat_share, 100.0 / 160.0, 1e-6, "share");
        }
        other => panic!("{other:?}"),
    }
}

/// `t = Q·V·s/(m·g·sin θ·v)`, without a loss.
#[test]
fn a_pack_is_empty_when_its_energy_is_gone() {
    let bench = Bench::ideal_car().with(|p| p.pack.cell.capacity_as = 50_000.0);
    let slope = Slope::from_grade(0.05);
    let power_w = 1000.0 * GRAVITY_MPS2 * slope.sin * 15.0;
    match endurance(&bench.car(), &bench.parked(0.8), slope, 15.0, 0, 1e5).unwrap() {
        Outcome::Continuous { pack: Some((time_s, Limit::Charge)), .. } => {
            assert_share(time_s, 50_000.0 * 100.0 * 0.8 / power_w, 1e-3, "time");
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn what_is_too_steep_or_too_fast_is_not_held() {
    let bench = Bench::light_car();
    let hold = |grade: f64, speed_mps: f64, gear: usize| {
        let slope = Slope::from_grade(grade);
        endurance(&bench.car(), &bench.parked(0.9), slope, speed_mps, gear, 3600.0).unwrap()
    };
    assert!(matches!(hold(0.5, 10.0, 3), Outcome::Cannot { by: Some(_) }));
    // 700 rad/s in first gear, 14.35 to one on 0.27 m: 13.17 m/s.
    assert_eq!(hold(0.0, 13.3, 0), Outcome::Cannot { by: Some(Limit::Rpm) });
    assert!(!matches!(hold(0.0, 12.9, 0), Outcome::Cannot { .. }));
    // A steeper road never lasts longer.
    let minutes = |grade: f64| match hold(grade, 15.0, 2) {
        Outcome::Continuous { pack, .. } => pack.map_or(f64::INFINITY, |(time_s, _)| time_s),
        Outcome::Beyond { time_s } | Outcome::Ends { time_s, .. } => time_s,
        Outcome::Cannot { .. } => 0.0,
    };
    for pair in [0.0, 0.03, 0.06, 0.09, 0.12].windows(2) {
        assert!(minutes(pair[0]) >= minutes(pair[1]), "{pair:?}");
    }
    // A hot motor has no time left.
    let hot = bench.parked(0.9).warmed(Node::Winding, 420.0);
    let found = endurance(&bench.car(), &hot, Slope::LEVEL, 10.0, 2, 3600.0).unwrap();
    assert_eq!(found, Outcome::Ends { time_s: 0.0, by: Limit::MotorHeat });
}
