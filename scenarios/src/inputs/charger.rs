//! The on-board charger.

use crate::files::allowed::{above, within};
use crate::files::assumption::{Assumption, usual};
use crate::files::field_path::{Fault, FieldPath};
use schemars::JsonSchema;
use serde::Deserialize;
use sim_core::units;

/// The on-board charger.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Charger {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// What it costs, in the currency of `money`.
    pub price: Option<f64>,
    /// Largest power into the pack, kW.
    pub power_kw: Option<f64>,
    /// Power into the pack over power from the wall, %.
    pub efficiency_pct: Option<f64>,
    /// Current at which a full charge ends, in capacities per hour (0.05: 5 A of a 100 A·h pack).
    pub end_c_rate: Option<f64>,
}

/// The charger that the simulation charges with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OnBoardCharger {
    /// Largest power into the pack, W.
    pub power_w: f64,
    /// Power into the pack over power from the wall.
    pub efficiency: f64,
    /// Current at which a full charge ends, in capacities per hour.
    pub end_c_rate: f64,
}

impl Charger {
    /// The charger that the simulation charges with.
    pub(crate) fn model(
        &self,
        at: &FieldPath,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<OnBoardCharger, Fault> {
        let mut take =
            |name, value, allowed, usual| at.assumed(name, value, allowed, usual, assumptions);
        let power_kw = take(
            "power_kw",
            self.power_kw,
            above(0.0, 100.0),
            usual(3.0, "kW", "a modest on-board charger"),
        )?;
        let efficiency = take(
            "efficiency_pct",
            self.efficiency_pct,
            within(20.0, 100.0),
            usual(90.0, "%", "typical of its class"),
        )?;
        let end_c_rate = take(
            "end_c_rate",
            self.end_c_rate,
            above(0.0, 1.0),
            usual(0.05, "capacities per hour", "where chargers usually end a full charge"),
        )?;
        Ok(OnBoardCharger {
            power_w: units::w_from_kw(power_kw),
            efficiency: units::share_from_pct(efficiency),
            end_c_rate,
        })
    }
}
