//! The traction pack.

use crate::files::allowed::{PERCENT, within};
use crate::files::assumption::{Assumption, usual};
use crate::files::field_path::{Fault, FieldPath, only_one};
use crate::inputs::cell::Cell;
use crate::inputs::learnt_input::Spreads;
use crate::inputs::reference::Reference;
use schemars::JsonSchema;
use serde::Deserialize;
use sim_core::pack;
use sim_core::units;

/// The traction pack: cells in series and parallel in a box.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Pack {
    /// Where the JSON Schema of this file is.
    #[serde(rename = "$schema")]
    pub schema: Option<String>,
    /// What to call it.
    pub name: Option<String>,
    /// Anything worth remembering.
    pub note: Option<String>,
    /// What it costs with its cells and its box, in the currency of `money`; left out, its cells at
    /// the price of each.
    pub price: Option<f64>,
    /// How well its numbers are known, where they were learnt from a car.
    pub spreads: Option<Spreads>,
    /// The cell.
    #[schemars(with = "Reference<Cell>")]
    pub cell: Cell,
    /// Cells in series.
    pub series: u32,
    /// Strings in parallel.
    pub parallel: Option<u32>,
    /// Mass of box, bars, fuse and contactors, kg.
    pub box_mass_kg: f64,
    /// Conductance from the cells through the box to the air, W/K.
    pub box_conductance_w_per_k: Option<f64>,
    /// Surface of the box, m²; for a plain box of which the conductance is not known.
    pub wall_area_m2: Option<f64>,
    /// Capacity left over that of new cells, %.
    pub state_of_health_pct: Option<f64>,
    /// How much the resistance has grown over that of new cells, %.
    pub resistance_growth_pct: Option<f64>,
    /// How much less capacity the weakest cell has than the mean one, %.
    pub capacity_spread_pct: Option<f64>,
    /// How much more resistance the weakest cell has than the mean one, %.
    pub resistance_spread_pct: Option<f64>,
    /// Charge of the weakest cell at which the trip ends, %.
    pub min_charge_pct: Option<f64>,
    /// Charge up to which the pack is filled, %.
    pub max_charge_pct: Option<f64>,
    /// Resistance of bars, cables, fuse and contactors, mΩ.
    pub harness_mohm: Option<f64>,
}

/// Conductance of a square metre of a plain box: thin sheet, still air inside and out (common
/// practice, no source), W/(m²·K).
const WALL_W_PER_M2_K: f64 = 5.0;

impl Pack {
    /// Cells in series × parallel.
    pub(crate) fn cells(&self) -> f64 {
        f64::from(self.series) * f64::from(self.parallel.unwrap_or(1))
    }

    /// Mass of cells and box, kg; for a pack that was checked.
    pub(crate) fn mass_kg(&self) -> f64 {
        self.cells() * self.cell.mass_kg + self.box_mass_kg
    }

    /// The pack that the simulation drives with.
    pub(crate) fn model(
        &self,
        at: &FieldPath,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<pack::Pack, Fault> {
        let cell_at = at.field("cell");
        let cell = self.cell.model(&cell_at, assumptions)?;
        let specific_heat = self.cell.specific_heat(&cell_at, assumptions)?;
        let series = at.number("series", f64::from(self.series), within(1.0, 400.0))?;
        let strings = self.parallel.map_or(1.0, f64::from);
        let parallel = at.number("parallel", strings, within(1.0, 400.0))?;
        at.number("box_mass_kg", self.box_mass_kg, within(0.0, 1000.0))?;
        let conductance_range = within(0.01, 5000.0);
        let conductance = at.optional(
            "box_conductance_w_per_k",
            self.box_conductance_w_per_k,
            conductance_range,
        )?;
        let wall = at.optional("wall_area_m2", self.wall_area_m2, within(0.01, 50.0))?;
        let ways =
            [("box_conductance_w_per_k", conductance.is_some()), ("wall_area_m2", wall.is_some())];
        only_one(at, &ways)?;
        let cells_kg = series * parallel * cell.mass_kg;
        let conductance_w_per_k = conductance.unwrap_or_else(|| {
            let (assumed, reason) = match wall {
                Some(area) => (WALL_W_PER_M2_K * area, "5 W/(m²·K) of a plain box wall"),
                // A cube of 1.3 kg a litre that stands free.
                None => (
                    WALL_W_PER_M2_K * 6.0 * (cells_kg / 1300.0).powf(2.0 / 3.0),
                    "5 W/(m²·K) of a plain cube as large as the cells",
                ),
            };
            let name = "box_conductance_w_per_k";
            assumptions.push(at.assume(name, usual(assumed, "W/K", reason)));
            assumed
        });
        let mut take =
            |name, value, allowed, usual| at.assumed(name, value, allowed, usual, assumptions);
        let health = take(
            "state_of_health_pct",
            self.state_of_health_pct,
            within(10.0, 120.0),
            usual(100.0, "%", "new cells"),
        )?;
        let growth =
            at.optional("resistance_growth_pct", self.resistance_growth_pct, within(-20.0, 900.0))?;
        let matched = "cells matched as they are sold";
        let capacity_spread = take(
            "capacity_spread_pct",
            self.capacity_spread_pct,
            within(0.0, 50.0),
            usual(2.0, "%", matched),
        )?;
        let resistance_spread = take(
            "resistance_spread_pct",
            self.resistance_spread_pct,
            within(0.0, 300.0),
            usual(10.0, "%", matched),
        )?;
        let min_charge = take(
            "min_charge_pct",
            self.min_charge_pct,
            PERCENT,
            usual(10.0, "%", "a reserve for long life"),
        )?;
        let max_charge = take(
            "max_charge_pct",
            self.max_charge_pct,
            PERCENT,
            usual(100.0, "%", "charged full"),
        )?;
        if max_charge < min_charge + 5.0 {
            let allowed = format!("at least 5 more than min_charge_pct, {min_charge}");
            return Err(at.refuse("max_charge_pct", max_charge, allowed));
        }
        let harness = take(
            "harness_mohm",
            self.harness_mohm,
            within(0.0, 1000.0),
            usual(3.0, "mΩ", "some metres of thick cable, a fuse and two contactors"),
        )?;
        Ok(pack::Pack {
            cell,
            series,
            parallel,
            health: units::share_from_pct(health),
            resistance_growth: 1.0 + units::share_from_pct(growth.unwrap_or(0.0)),
            capacity_spread: units::share_from_pct(capacity_spread),
            resistance_spread: units::share_from_pct(resistance_spread),
            min_charge: units::share_from_pct(min_charge),
            max_charge: units::share_from_pct(max_charge),
            harness_ohm: units::ohm_from_mohm(harness),
            heat_capacity_j_per_k: cells_kg * specific_heat,
            conductance_w_per_k,
        })
    }
}
