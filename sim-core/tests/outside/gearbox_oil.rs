//! The gearbox's oil: how thick it is, what it drags, and how its own losses warm it.

use crate::bench;

use bench::{Bench, act, assert_near, assert_share, shifting_driver, stop_and_go};
use sim_core::Node;
use sim_core::car::{Request, Slope};
use sim_core::cooling::Conductance;
use sim_core::follow::{Moment, follow};
use sim_core::gearbox::{DRAG_BY_VISCOSITY, Oil, viscosity_mm2_per_s};
use sim_core::ledger::Account;

/// DIN 51524-2 (from memory) bounds each grade of oil at 40 °C by the least viscosity at 100 °C and
/// the most at 0 °C, mm²/s, so that one on its bound at 100 °C is about on its bound at 0 °C.
const GRADES: [(f64, f64, f64); 4] =
    [(32.0, 5.0, 420.0), (46.0, 6.1, 780.0), (68.0, 7.8, 1400.0), (100.0, 9.9, 2560.0)];

#[test]
fn an_oil_thickens_in_the_cold_as_the_standards_bounds_do() {
    for (at_40_c, at_100_c, at_0_c) in GRADES {
        let found = |c: f64| viscosity_mm2_per_s(at_40_c, at_100_c, c + 273.15);
        assert_share(found(40.0), at_40_c, 1e-9, "viscosity at 40 °C");
        assert_share(found(100.0), at_100_c, 1e-9, "viscosity at 100 °C");
        assert_share(found(0.0), at_0_c, 0.08, &format!("grade {at_40_c} at 0 °C"));
    }
}

fn thickening() -> Oil {
    Oil::of_even_viscosity().with_viscosity(55.0, 9.0).unwrap()
}

/// Drag is as stated at 40 °C and grows by `(ν/ν_40)^(1/3)`; the table of it is within 1 % between
/// its points.
#[test]
fn drag_grows_with_the_viscosity() {
    let growth = thickening().drag_growth;
    assert_near(growth.at(313.15), 1.0, 1e-12, "growth at 40 °C");
    for c in [-33.0, -7.0, 5.0, 20.0, 55.0, 96.0] {
        let thicker = viscosity_mm2_per_s(55.0, 9.0, c + 273.15) / 55.0;
        let what = format!("growth at {c} °C");
        assert_share(growth.at(c + 273.15), thicker.powf(DRAG_BY_VISCOSITY), 1e-2, &what);
    }
    assert!(Oil::of_even_viscosity().with_viscosity(50.0, 60.0).is_err());
    assert!(Oil::of_even_viscosity().with_viscosity(f64::NAN, 9.0).is_err());
}

/// `T = F·r/(G·η) + T_drag` of a car at steady speed: what cold oil adds to the torque is the growth
/// of the drag alone.
#[test]
fn cold_oil_adds_its_drag_to_the_shafts_torque() {
    let bench = Bench::light_car().with(|p| p.gearbox.oil = thickening());
    let car = bench.car();
    let torque_nm = |oil_k: f64| {
        let state = bench.rolling(8.0).warmed(Node::Oil, oil_k);
        act(&car, &state, Slope::LEVEL, 1, Request::Accelerate(0.0)).torque_nm
    };
    let radps = 8.0 * 2.0 * 4.1 / 0.27;
    let drag_nm = 0.5 + 0.002 * radps;
    let growth = thickening().drag_growth;
    for oil_k in [263.15, 293.15, 353.15] {
        let expected_nm = drag_nm * (growth.at(oil_k) - 1.0);
        let found_nm = torque_nm(oil_k) - torque_nm(313.15);
        assert_near(found_nm, expected_nm, 1e-9, &format!("drag at {oil_k} K over that at 40 °C"));
    }
}

/// The first law: what the gearbox's account says was lost has warmed oil and casing, or has left
/// them by `G = g0 + g_road·v^0.8`.
#[test]
fn the_losses_of_the_gearbox_are_in_its_oil_or_have_left_it() {
    let oil = Oil {
        heat_capacity_j_per_k: 9000.0,
        conductance: Conductance { still: 5.0, road: 0.7, ..Conductance::default() },
        ..thickening()
    };
    let bench = Bench::light_car().with(|p| p.gearbox.oil = oil);
    let start = bench.parked(0.8);
    let (mut lost_j, mut before) = (0.0, start);
    let mut sum = |m: &Moment<'_>| {
        let speed = (m.state.distance_m - before.distance_m) / m.step_s;
        let mean_k = 0.5 * (before.temperature_k[Node::Oil] + m.state.temperature_k[Node::Oil]);
        lost_j += (5.0 + 0.7 * speed.powf(0.8)) * (mean_k - bench::WARM_K) * m.step_s;
        before = *m.state;
    };
    let trace = stop_and_go(20.0, 4, false);
    let found = follow(&bench.car(), &trace, &shifting_driver(), &start, 0, 1.0, &mut sum);
    let rise_k = found.end.temperature_k[Node::Oil] - bench::WARM_K;
    assert!(rise_k > 3.0 && lost_j > 0.0, "oil warmed by {rise_k} K, {lost_j} J left it");
    assert_share(9000.0 * rise_k + lost_j, found.ledger[Account::Gearbox], 1e-9, "heat of the oil");
}
