//! What the motor wastes, in the ways in which it is known.

use crate::files::allowed::{Allowed, above, within};
use crate::files::bounds::{EFFICIENCY_POINTS, MAP_AXIS};
use crate::files::field_path::{Fault, FieldPath, only_one};
use schemars::JsonSchema;
use serde::Deserialize;
use sim_core::motor::{self, Losses, Machine};
use sim_core::units;

/// Coefficients of `P = copper·I² + fixed + hysteresis·n·φ^1.6 + eddy·n²·φ² + friction·ω + windage·n³`,
/// with the speed n in thousands of rpm. The flux φ of an induction motor falls from 1 above base
/// speed, as base speed over speed; that of the others is taken as 1.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LossCoefficients {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Copper loss, W/A².
    pub copper_w_per_a2: f64,
    /// Loss whenever the motor is powered, W.
    pub fixed_w: Option<f64>,
    /// Hysteresis loss, W per 1000 rpm.
    pub hysteresis_w_per_krpm: Option<f64>,
    /// Eddy-current loss, W per (1000 rpm)².
    pub eddy_w_per_krpm2: Option<f64>,
    /// Bearing friction, N·m.
    pub friction_nm: Option<f64>,
    /// Windage, W per (1000 rpm)³.
    pub windage_w_per_krpm3: Option<f64>,
}

/// A point of known efficiency.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct EfficiencyPoint {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Shaft speed, rpm.
    pub rpm: f64,
    /// Shaft torque, N·m.
    pub torque_nm: f64,
    /// Shaft power over electrical power of the motor alone, %.
    pub efficiency_pct: f64,
}

/// Efficiencies at every crossing of speeds and torques.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct EfficiencyMap {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Shaft speeds, rising, rpm.
    pub rpm: Vec<f64>,
    /// Shaft torques, rising, N·m.
    pub torque_nm: Vec<f64>,
    /// A row for each speed, a value for each torque, %.
    pub efficiency_pct: Vec<Vec<f64>>,
}

const EFFICIENCY: Allowed = within(1.0, 99.9);

/// Torques of a motor, N·m.
pub(super) const TORQUE_NM: Allowed = above(0.0, 5000.0);

/// What is known of the losses; one of the three.
pub(super) struct KnownLosses<'a> {
    pub(super) coefficients: Option<&'a LossCoefficients>,
    pub(super) points: Option<&'a [EfficiencyPoint]>,
    pub(super) map: Option<&'a EfficiencyMap>,
}

impl KnownLosses<'_> {
    /// The losses of a motor of this machine.
    pub(super) fn losses(&self, at: &FieldPath, machine: &Machine) -> Result<Losses, Fault> {
        let ways = [
            ("loss_coefficients", self.coefficients.is_some()),
            ("efficiency_points", self.points.is_some()),
            ("efficiency_map", self.map.is_some()),
        ];
        only_one(at, &ways)?;
        let point = |nm: f64, radps: f64| {
            let field = machine.field(radps, machine.envelope.reference_v);
            machine.operating_point(nm, radps, field)
        };
        if let Some(given) = self.coefficients {
            return given.model(&at.field("loss_coefficients")).map(Losses::from);
        }
        if let Some(points) = self.points {
            if points.len() < 2 || points.len() as u64 > EFFICIENCY_POINTS {
                let value = format!("a list of {}", points.len());
                let allowed = format!("2 to {EFFICIENCY_POINTS} points");
                return Err(at.refuse("efficiency_points", value, allowed));
            }
            let list_at = at.field("efficiency_points");
            let mut found = Vec::with_capacity(points.len());
            for (i, known) in points.iter().enumerate() {
                let item = list_at.item(i);
                let radps =
                    units::radps_from_rpm(item.number("rpm", known.rpm, above(0.0, 3e4))?);
                let torque_nm = item.number("torque_nm", known.torque_nm, TORQUE_NM)?;
                let pct = item.number("efficiency_pct", known.efficiency_pct, EFFICIENCY)?;
                let efficiency = units::share_from_pct(pct);
                found.push(motor::EfficiencyPoint { at: point(torque_nm, radps), efficiency });
            }
            let fitted = motor::fit(&found).map_err(|e| at.impossible("efficiency_points", &e))?;
            return sane(fitted, at, "efficiency_points").map(Losses::from);
        }
        let Some(map) = self.map else {
            let needed = "loss_coefficients, efficiency_points or efficiency_map";
            return Err(at.demand("loss_coefficients", needed));
        };
        let map_at = at.field("efficiency_map");
        let axis = |name: &str, values: &[f64], allowed| {
            let list_at = map_at.field(name);
            if values.len() < 2 || values.len() as u64 > MAP_AXIS {
                let value = format!("a list of {}", values.len());
                return Err(map_at.refuse(name, value, format!("2 to {MAP_AXIS} values")));
            }
            for (i, value) in values.iter().enumerate() {
                list_at.number(&(i + 1).to_string(), *value, allowed)?;
                if let Some(before) = i.checked_sub(1).map(|b| values[b])
                    && *value <= before
                {
                    let allowed = format!("more than the {before} before it");
                    return Err(list_at.refuse(&(i + 1).to_string(), value, allowed));
                }
            }
            Ok(())
        };
        axis("rpm", &map.rpm, above(0.0, 3e4))?;
        axis("torque_nm", &map.torque_nm, TORQUE_NM)?;
        let rows_at = map_at.field("efficiency_pct");
        if map.efficiency_pct.len() != map.rpm.len() {
            let value = format!("a list of {} rows", map.efficiency_pct.len());
            let allowed = format!("{} rows, one a speed", map.rpm.len());
            return Err(map_at.refuse("efficiency_pct", value, allowed));
        }
        for (i, row) in map.efficiency_pct.iter().enumerate() {
            let row_at = rows_at.item(i);
            if row.len() != map.torque_nm.len() {
                let value = format!("a row of {}", row.len());
                let allowed = format!("{} values, one a torque", map.torque_nm.len());
                return Err(rows_at.refuse(&(i + 1).to_string(), value, allowed));
            }
            for (j, pct) in row.iter().enumerate() {
                row_at.number(&(j + 1).to_string(), *pct, EFFICIENCY)?;
            }
        }
        let radps: Vec<f64> = map.rpm.iter().map(|rpm| units::radps_from_rpm(*rpm)).collect();
        let rows: Vec<Vec<f64>> = map
            .efficiency_pct
            .iter()
            .map(|row| row.iter().map(|pct| units::share_from_pct(*pct)).collect())
            .collect();
        let losses = motor::LossMap::new(&radps, &map.torque_nm, &rows, point)
            .map(Losses::from)
            .map_err(|e| at.impossible("efficiency_map", &e))?;
        sane(*losses.coefficients(), at, "efficiency_map")?;
        Ok(losses)
    }
}

/// Refuses a fit that found no copper loss, as nothing could then be said of its heat.
fn sane(
    fitted: motor::Coefficients,
    at: &FieldPath,
    name: &str,
) -> Result<motor::Coefficients, Fault> {
    if fitted.copper_w_per_a2 > 0.0 && fitted.copper_w_per_a2.is_finite() {
        return Ok(fitted);
    }
    let value = "such that no loss grows with the current";
    Err(at.refuse(name, value, "efficiencies that fall towards high torque"))
}

impl LossCoefficients {
    fn model(&self, at: &FieldPath) -> Result<motor::Coefficients, Fault> {
        let take = |name, value, high| -> Result<f64, Fault> {
            Ok(at.optional(name, value, within(0.0, high))?.unwrap_or(0.0))
        };
        let krpm = units::radps_from_krpm(1.0);
        Ok(motor::Coefficients {
            copper_w_per_a2: at.number(
                "copper_w_per_a2",
                self.copper_w_per_a2,
                above(0.0, 10.0),
            )?,
            fixed_w: take("fixed_w", self.fixed_w, 5000.0)?,
            hysteresis_w_per_radps: take(
                "hysteresis_w_per_krpm",
                self.hysteresis_w_per_krpm,
                5000.0,
            )? / krpm,
            eddy_w_per_radps2: take("eddy_w_per_krpm2", self.eddy_w_per_krpm2, 5000.0)?
                / (krpm * krpm),
            friction_nm: take("friction_nm", self.friction_nm, 20.0)?,
            windage_w_per_radps3: take("windage_w_per_krpm3", self.windage_w_per_krpm3, 5000.0)?
                / krpm.powi(3),
        })
    }
}
