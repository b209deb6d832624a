//! What a coast-down changes in the build that is taken in with it.

use super::coast_down::{CoastDownReport, Refused};
use crate::inputs::learnt::{
    Beside, Learnt, LearntField, LearntFrom, LearntInput, Measure, Recorded, TestConditions,
};
use crate::inputs::learnt_input::stands_beside;
use crate::prepared::Prepared;
use crate::studies::typical_spreads::typical_spreads;
use crate::studies::uncertain::stands;
use nalgebra::{DMatrix, Matrix3, Vector3};
use sim_core::road_load::{RoadLoad, Tempering};
use sim_core::tyre::LABEL_SPEED_MPS;
use sim_core::units::{self, GRAVITY_MPS2};

/// When it was learnt, and from which recordings.
#[derive(Debug, Clone, PartialEq)]
pub struct Learning {
    /// The day, such as `2026-11-27`.
    pub date: String,
    /// The recordings.
    pub sources: Vec<Recorded>,
}

/// Share of a gearbox's drag that turns with the wheels in neutral, where the build does not say it, as
/// beside a coast-down (common practice).
const FINAL_DRIVE_SHARE: f64 = 0.4;

/// A field that is learnt: its name, what stands in it, what it was found to be.
struct Found {
    name: &'static str,
    path: &'static str,
    value: f64,
    /// What one newton of each force makes of it.
    by: Vector3<f64>,
}

/// What was learnt, as a file: in a build that knows a drag area, that and the tyres' rolling
/// resistance with its growth; in any other the coefficients of a coast-down.
///
/// The tyres' share is what rolls less the bearings of the build and less what of the gearbox turns in
/// neutral (40 % of its drag, or what the build says, in the highest gear, with oil of 40 °C), which the
/// car has in gear besides.
///
/// # Errors
/// [`Refused::NotTaken`] where the build has no field that could take it, or none that could hold the
/// value.
pub fn learnt(
    report: &CoastDownReport,
    prepared: &Prepared,
    learning: Learning,
) -> Result<Learnt, Refused> {
    let build = &prepared.scenario.build;
    let found = match prepared.car.parts().road_load {
        RoadLoad::Coefficients { bearings_n, .. } => {
            if build.tyre.label_class.is_some() {
                return Err(Refused::NotTaken(
                    "the build gives tyre.label_class, a letter, which no number can take the place of; \
                     allowed: tyre.label_n_per_kn or tyre.rolling_resistance in its place"
                        .to_owned(),
                ));
            }
            coefficients(report, prepared, bearings_n)
        }
        RoadLoad::CoastDown { .. } => coast_down(report, prepared),
    };
    within_limits(&found)?;
    let forces = Matrix3::from_fn(|i, k| report.forces.covariance[i][k]);
    let n = found.len();
    let covariance =
        DMatrix::from_fn(n, n, |i, k| (found[i].by.transpose() * forces * found[k].by)[(0, 0)]);
    let sd: Vec<f64> = (0..n).map(|i| covariance[(i, i)].max(0.0).sqrt()).collect();
    let correlation = |i: usize, k: usize| match (i == k, sd[i] * sd[k]) {
        (true, _) => 1.0,
        (false, 0.0) => 0.0,
        (false, both) => (1e4 * covariance[(i.max(k), i.min(k))] / both).round() / 1e4,
    };
    let correlations = (0..n).map(|i| (0..n).map(|k| correlation(i, k)).collect()).collect();
    let inputs = found.iter().zip(&sd).map(|(one, sd)| {
        let value = short(one.value);
        let path = format!("build.{}", one.path);
        let was = stands(prepared, &path);
        let beside = stands_beside(&path);
        LearntInput {
            name: one.name.to_owned(),
            measure: Measure::Value,
            shift: value,
            sd: short(*sd),
            typical_sd: typical_pct(one.path).map(|pct| short(pct * was.unwrap_or(value) / 100.0)),
            beside: beside
                .into_iter()
                .map(|path| Beside { path: path.to_owned(), was: stands(prepared, path) })
                .collect(),
            fields: vec![LearntField { path, was, value }],
        }
    });
    Ok(Learnt {
        schema: None,
        from: LearntFrom::CoastDown,
        date: learning.date,
        note: None,
        sources: learning.sources,
        conditions: Some(TestConditions {
            air_c: Some(report.air_c),
            altitude_m: None,
            mass_kg: Some(report.mass_kg),
        }),
        inputs: inputs.collect(),
        correlations: Some(correlations),
        scatter: None,
    })
}

/// Five digits of a number.
fn short(value: f64) -> f64 {
    format!("{value:.4e}").parse().unwrap_or(value)
}

/// The standard deviation that is typical of a field of the build, % of what stands there.
fn typical_pct(path: &str) -> Option<f64> {
    let spread = typical_spreads().into_iter().find(|spread| spread.path == path)?;
    spread.distribution.filter(|_| spread.measure == Measure::Percent).map(|it| it.sd())
}

fn coefficients(report: &CoastDownReport, prepared: &Prepared, bearings_n: f64) -> Vec<Found> {
    let build = &prepared.scenario.build;
    let parts = prepared.car.parts();
    let per_m = prepared.car.motor_radps(prepared.car.gears() - 1, 1.0);
    let share = build.gearbox.final_drive_drag_share_pct;
    let share = share.map_or(FINAL_DRIVE_SHARE, units::share_from_pct);
    let gearbox = &parts.gearbox;
    let turning =
        [share * gearbox.drag_nm * per_m, share * gearbox.drag_nm_per_radps * per_m * per_m];
    // Tyres at 25 °C, as their coefficient is stated.
    let air_k = units::k_from_c(report.air_c);
    let warm = 1.0 / Tempering::COEFFICIENT.factor(air_k) / (report.mass_kg * GRAVITY_MPS2);
    let [f0, f1, f2] = report.forces.values;
    let covariance = &report.forces.covariance;
    // A resistance that falls with speed is none of a tyre: where the data leave that open, the growth is
    // none, and the others are what they are then.
    let bare = f1 - turning[1];
    let given = if bare < 0.0 { -bare / covariance[1][1] } else { 0.0 };
    let f0 = f0 + given * covariance[0][1];
    let f2 = f2 + given * covariance[1][2];
    let rolling = warm * (f0 - bearings_n - turning[0]);
    let growth = warm * bare.max(0.0);
    let drag_area_m2 = 2.0 * f2 / report.air_density_kg_per_m3;
    let by_area = 2.0 / report.air_density_kg_per_m3;
    let per_kmh = units::mps_from_kmh(1.0);
    let tyre = match build.tyre.label_n_per_kn {
        Some(_) => Found {
            name: "rolling resistance",
            path: "tyre.label_n_per_kn",
            value: 1000.0 * (rolling + growth * LABEL_SPEED_MPS),
            by: Vector3::new(1000.0 * warm, 1000.0 * warm * LABEL_SPEED_MPS, 0.0),
        },
        None => Found {
            name: "rolling resistance",
            path: "tyre.rolling_resistance",
            value: rolling,
            by: Vector3::new(warm, 0.0, 0.0),
        },
    };
    let growth = Found {
        name: "growth of rolling resistance",
        path: "tyre.rolling_resistance_per_kmh",
        value: growth * per_kmh,
        by: Vector3::new(0.0, warm * per_kmh, 0.0),
    };
    let drag = match (build.donor.drag_area_m2, build.donor.frontal_area_m2) {
        (None, Some(frontal_m2)) => Found {
            name: "drag coefficient",
            path: "donor.drag_coefficient",
            value: drag_area_m2 / frontal_m2,
            by: Vector3::new(0.0, 0.0, by_area / frontal_m2),
        },
        _ => Found {
            name: "drag area",
            path: "donor.drag_area_m2",
            value: drag_area_m2,
            by: Vector3::new(0.0, 0.0, by_area),
        },
    };
    vec![tyre, growth, drag]
}

fn coast_down(report: &CoastDownReport, prepared: &Prepared) -> Vec<Found> {
    let given = prepared.scenario.build.donor.coast_down.as_ref();
    let us = given.is_some_and(|one| {
        one.a_lbf.is_some() || one.b_lbf_per_mph.is_some() || one.c_lbf_per_mph2.is_some()
    });
    let us_mass = given.is_some_and(|one| one.mass_lb.is_some());
    let names: [(&'static str, &'static str); 3] = match us {
        false => [
            ("coast-down f0", "donor.coast_down.f0_n"),
            ("coast-down f1", "donor.coast_down.f1_n_per_kmh"),
            ("coast-down f2", "donor.coast_down.f2_n_per_kmh2"),
        ],
        true => [
            ("coast-down a", "donor.coast_down.a_lbf"),
            ("coast-down b", "donor.coast_down.b_lbf_per_mph"),
            ("coast-down c", "donor.coast_down.c_lbf_per_mph2"),
        ],
    };
    // At 20 °C, and the air's density at 20 °C and 100 kPa.
    let (force, speed) = match us {
        false => (1.0, units::mps_from_kmh(1.0)),
        true => (units::lbf_from_n(1.0), units::mps_from_mph(1.0)),
    };
    let warm = 1.0 / Tempering::COAST_DOWN.factor(units::k_from_c(report.air_c));
    let air = report.reference_density() / report.air_density_kg_per_m3;
    let by = [force * warm, force * warm * speed, force * air * speed * speed];
    let mut all: Vec<Found> = names
        .into_iter()
        .enumerate()
        .map(|(k, (name, path))| {
            let mut unit = Vector3::zeros();
            unit[k] = by[k];
            Found { name, path, value: by[k] * report.forces.values[k], by: unit }
        })
        .collect();
    let sure = |name, path, value| Found { name, path, value, by: Vector3::zeros() };
    all.push(match us_mass {
        false => sure("mass of the coast-down", "donor.coast_down.mass_kg", report.mass_kg),
        true => {
            let lb = units::lb_from_kg(report.mass_kg);
            sure("mass of the coast-down", "donor.coast_down.mass_lb", lb)
        }
    });
    all.push(sure(
        "air of the coast-down",
        "donor.coast_down.air_density_kg_per_m3",
        report.reference_density(),
    ));
    all
}

/// What fields of a build may hold, by the end of their path.
const LIMITS: [(&str, f64, f64); 6] = [
    ("tyre.rolling_resistance", 0.003, 0.05),
    ("tyre.label_n_per_kn", 3.0, 30.0),
    ("donor.drag_area_m2", 0.01, 10.0),
    ("donor.drag_coefficient", 0.01, 2.0),
    ("donor.coast_down.f0_n", 0.0, 2000.0),
    ("donor.coast_down.f2_n_per_kmh2", 0.0, 1.0),
];

fn within_limits(found: &[Found]) -> Result<(), Refused> {
    for one in found {
        let limit = LIMITS.iter().find(|limit| limit.0 == one.path);
        if let Some((path, low, high)) = limit
            && !(*low..=*high).contains(&one.value)
        {
            return Err(Refused::NotTaken(format!(
                "build.{path} would be {}, which no build can hold; allowed: {low} to {high}: are mass, \
                 units and runs right?",
                short(one.value)
            )));
        }
    }
    Ok(())
}
