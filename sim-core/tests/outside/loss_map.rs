//! Motor losses against numbers worked by hand: a cell of an efficiency map, and fits to synthetic
//! points whose coefficients are known. The loss at a point is `T·ω·(1/η − 1)`.

use crate::bench;

use bench::{assert_near, assert_share};
use proptest::prelude::*;
use sim_core::motor::{Coefficients, EfficiencyPoint, LossMap, Losses, OperatingPoint, fit};

/// What a machine of this current does, with its field weakened above 300 rad/s.
fn point(torque_nm: f64, radps: f64, current_a: f64) -> OperatingPoint {
    OperatingPoint { torque_nm, radps, current_a, flux: f64::min(1.0, 300.0 / radps) }
}

/// Points of the efficiency that these coefficients make.
fn synthetic(c: &Coefficients, loads: &[(f64, f64)]) -> Vec<EfficiencyPoint> {
    loads
        .iter()
        .map(|&(radps, torque_nm)| {
            let at = point(torque_nm, radps, 3.0 * torque_nm + 20.0);
            let loss_w = c.copper_w_per_a2 * at.current_a * at.current_a
                + c.hysteresis_w_per_radps * radps * at.flux.powf(1.6)
                + c.eddy_w_per_radps2 * radps * radps * at.flux * at.flux
                + c.windage_w_per_radps3 * radps.powi(3);
            let power_w = radps * torque_nm;
            EfficiencyPoint { at, efficiency: power_w / (power_w + loss_w) }
        })
        .collect()
}

const LOADS: [(f64, f64); 6] =
    [(50.0, 10.0), (100.0, 80.0), (250.0, 40.0), (400.0, 60.0), (600.0, 15.0), (700.0, 30.0)];

#[test]
fn a_fit_finds_the_coefficients_that_made_the_points() {
    let known = Coefficients {
        copper_w_per_a2: 0.018,
        hysteresis_w_per_radps: 0.35,
        eddy_w_per_radps2: 6e-4,
        windage_w_per_radps3: 3e-7,
        ..Coefficients::default()
    };
    for loads in [&LOADS[..], &LOADS[1..5]] {
        let found = fit(&synthetic(&known, loads)).unwrap();
        assert_share(found.copper_w_per_a2, 0.018, 1e-8, "copper");
        assert_share(found.hysteresis_w_per_radps, 0.35, 1e-8, "hysteresis");
        assert_share(found.eddy_w_per_radps2, 6e-4, 1e-8, "eddy");
        assert_share(found.windage_w_per_radps3, 3e-7, 1e-8, "windage");
    }
}

#[test]
fn two_points_give_copper_and_eddy() {
    let known =
        Coefficients { copper_w_per_a2: 0.03, eddy_w_per_radps2: 1e-3, ..Coefficients::default() };
    let found = fit(&synthetic(&known, &LOADS[1..3])).unwrap();
    assert_share(found.copper_w_per_a2, 0.03, 1e-9, "copper");
    assert_share(found.eddy_w_per_radps2, 1e-3, 1e-9, "eddy");
}

/// 2 × 2 by hand: at 100 and 300 rad/s, 20 and 60 N·m, efficiencies of 0.8, 0.85, 0.9, 0.9 mean
/// losses of 500, 1058.82, 666.67 and 2000 W. A quarter of the way up in speed and half in torque:
/// 0.75·(500 + 1058.82)/2 + 0.25·(666.67 + 2000)/2 = 917.89 W.
#[test]
fn a_map_is_bilinear_in_loss() {
    let rows = vec![vec![0.8, 0.85], vec![0.9, 0.9]];
    let map =
        LossMap::new(&[100.0, 300.0], &[20.0, 60.0], &rows, |t, w| point(t, w, 4.0 * t)).unwrap();
    for (radps, torque_nm, loss_w) in [
        (100.0, 20.0, 500.0),
        (100.0, 60.0, 6000.0 * (1.0 / 0.85 - 1.0)),
        (300.0, 20.0, 6000.0 / 9.0),
        (300.0, 60.0, 2000.0),
        (150.0, 40.0, 917.892_156_862_745),
        (150.0, -40.0, 917.892_156_862_745),
    ] {
        let what = format!("at {radps} rad/s, {torque_nm} N·m");
        assert_share(map.loss_w(torque_nm, radps), loss_w, 1e-9, &what);
    }
}

/// The split into copper, iron and windage keeps the map's total when the winding is at the
/// temperature of the map.
#[test]
fn a_maps_parts_add_up_to_the_map() {
    let rows = vec![vec![0.8, 0.85], vec![0.9, 0.9]];
    let map =
        LossMap::new(&[100.0, 300.0], &[20.0, 60.0], &rows, |t, w| point(t, w, 4.0 * t)).unwrap();
    let at = Losses::from(map).at(&point(40.0, 150.0, 160.0), 1.0);
    assert_share(at.copper_w + at.iron_w + at.windage_w, 917.892_156_862_745, 1e-9, "sum");
}

#[test]
fn points_that_make_no_sense_are_refused() {
    let good = synthetic(&Coefficients { copper_w_per_a2: 0.02, ..Default::default() }, &LOADS);
    let said = fit(&good[..1]).unwrap_err().to_string();
    assert_eq!(said, "points is 1; allowed: at least two points of efficiency");
    for efficiency in [0.0, 1.0, 1.2, f64::NAN] {
        let mut bad = good.clone();
        bad[2].efficiency = efficiency;
        let said = fit(&bad).unwrap_err().to_string();
        let expected =
            format!("points[2].efficiency is {efficiency}; allowed: more than 0 and less than 1");
        assert_eq!(said, expected);
    }
}

proptest! {
    #![proptest_config(bench::cases(200))]

    /// Whatever the points, no coefficient comes out negative.
    #[test]
    fn no_fitted_coefficient_is_negative(
        points in prop::collection::vec((20.0..900.0f64, 1.0..150.0f64, 0.3..0.99f64), 2..9)
    ) {
        let points: Vec<EfficiencyPoint> = points
            .into_iter()
            .map(|(radps, torque_nm, efficiency)| EfficiencyPoint {
                at: point(torque_nm, radps, 4.0 * torque_nm),
                efficiency,
            })
            .collect();
        let c = fit(&points).unwrap();
        let all = [
            c.copper_w_per_a2,
            c.hysteresis_w_per_radps,
            c.eddy_w_per_radps2,
            c.windage_w_per_radps3,
        ];
        prop_assert!(all.iter().all(|v| *v >= 0.0 && v.is_finite()), "{c:?}");
        prop_assert!(all.iter().any(|v| *v > 0.0), "all losses lost: {c:?}");
    }

    /// Non-negative coefficients come back from the points that they made, within what rounding
    /// leaves of the losses at those points.
    #[test]
    fn losses_of_a_fit_are_those_of_the_points(
        copper in 0.001..0.1f64, hysteresis in 0.0..1.0f64, eddy in 0.0..2e-3f64, windage in 0.0..1e-6f64
    ) {
        let known = Coefficients {
            copper_w_per_a2: copper,
            hysteresis_w_per_radps: hysteresis,
            eddy_w_per_radps2: eddy,
            windage_w_per_radps3: windage,
            ..Coefficients::default()
        };
        let points = synthetic(&known, &LOADS);
        let found = fit(&points).unwrap();
        for p in &points {
            let loss = found.at(&p.at, 1.0).total_w();
            let expected = p.at.radps * p.at.torque_nm * (1.0 / p.efficiency - 1.0);
            assert_near(loss, expected, 1e-6 * expected, "loss at a fitted point");
        }
    }
}
