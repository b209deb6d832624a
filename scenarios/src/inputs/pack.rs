//! The traction pack.

use crate::files::allowed::{Allowed, PERCENT, within};
use crate::files::assumption::{Assumption, usual};
use crate::files::field_path::{Fault, FieldPath, only_one};
use crate::inputs::cell::Cell;
use crate::inputs::learnt_input::Spreads;
use crate::inputs::reference::Reference;
use schemars::JsonSchema;
use serde::Deserialize;
use sim_core::boxes::MOST_BOXES;
use sim_core::cell;
use sim_core::pack;
use sim_core::units;

/// The traction pack: cells in series and parallel, in one box or, with `boxes`, in several.
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
    /// Cells in series; of a pack in boxes each box has its own.
    pub series: Option<u32>,
    /// Strings in parallel.
    pub parallel: Option<u32>,
    /// The boxes of a pack in two to four of them, or groups of modules that differ, all in one string.
    pub boxes: Option<Vec<PackBox>>,
    /// Mass of box, bars, fuse and contactors, kg; of a pack in boxes each box has its own.
    pub box_mass_kg: Option<f64>,
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

/// A box of a pack, or a group of modules in it that differs from the others.
///
/// What is left out is as the pack says.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PackBox {
    /// What to call it: front, rear, modules of 78 %.
    pub name: Option<String>,
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Its cell.
    #[schemars(with = "Option<Reference<Cell>>")]
    pub cell: Option<Cell>,
    /// Its cells in series.
    pub series: u32,
    /// Its strings in parallel.
    pub parallel: Option<u32>,
    /// Mass of box, bars and its share of fuses and contactors, kg.
    pub box_mass_kg: f64,
    /// Its centre behind the front axle, m; negative ahead of it.
    pub behind_front_axle_m: f64,
    /// How much warmer the air about it is than the air outside, in any weather, K: beside the motor
    /// under a bonnet 10 to 20 on a drive, in a cabin what its heating holds; left out, 0.
    pub air_over_outside_k: Option<f64>,
    /// Conductance from its cells through the box to the air, W/K.
    pub box_conductance_w_per_k: Option<f64>,
    /// Surface of the box, m²; for a plain box of which the conductance is not known.
    pub wall_area_m2: Option<f64>,
    /// Capacity left over that of new cells, %.
    pub state_of_health_pct: Option<f64>,
    /// How much the resistance has grown over that of new cells, %.
    pub resistance_growth_pct: Option<f64>,
    /// How much less capacity its weakest cell has than its mean one, %.
    pub capacity_spread_pct: Option<f64>,
    /// How much more resistance its weakest cell has than its mean one, %.
    pub resistance_spread_pct: Option<f64>,
}

/// Cells of a part of the pack, as they are counted and weighed.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct PartOfPack<'a> {
    /// What it is called, of a pack in boxes.
    pub(crate) name: Option<String>,
    pub(crate) cell: &'a Cell,
    pub(crate) cells: f64,
    pub(crate) box_mass_kg: f64,
    /// Behind the front axle, m; of one box the build says where it is.
    pub(crate) place_m: Option<f64>,
}

impl PartOfPack<'_> {
    /// Mass of cells and box, kg.
    pub(crate) fn mass_kg(&self) -> f64 {
        self.cells * self.cell.mass_kg + self.box_mass_kg
    }
}

/// The walls of a box and what they hold.
struct Walls<'a> {
    at: FieldPath<'a>,
    series: f64,
    parallel: f64,
    cell_kg: f64,
    conductance_w_per_k: Option<f64>,
    area_m2: Option<f64>,
}

impl Walls<'_> {
    /// Conductance to the air, W/K.
    fn conductance_w_per_k(&self, assumptions: &mut Vec<Assumption>) -> Result<f64, Fault> {
        let at = &self.at;
        let name = "box_conductance_w_per_k";
        let known = at.optional(name, self.conductance_w_per_k, within(0.01, 5000.0))?;
        let wall = at.optional("wall_area_m2", self.area_m2, within(0.01, 50.0))?;
        only_one(at, &[(name, known.is_some()), ("wall_area_m2", wall.is_some())])?;
        Ok(known.unwrap_or_else(|| {
            let (assumed, reason) = match wall {
                Some(area) => (WALL_W_PER_M2_K * area, "5 W/(m²·K) of a plain box wall"),
                // A cube of 1.3 kg a litre that stands free.
                None => {
                    let cells_kg = self.series * self.parallel * self.cell_kg;
                    (
                        WALL_W_PER_M2_K * 6.0 * (cells_kg / 1300.0).powf(2.0 / 3.0),
                        "5 W/(m²·K) of a plain cube as large as the cells",
                    )
                }
            };
            assumptions.push(at.assume(name, usual(assumed, "W/K", reason)));
            assumed
        }))
    }
}

/// How far the voltages of cells in one string may differ, V: more is another chemistry, which no
/// charger and no management brings to full together (common practice, no source).
const HIGHEST_APART_V: f64 = 0.1;
const LOWEST_APART_V: f64 = 0.5;
const HALF_APART_V: f64 = 0.2;

/// Whether cells can be charged in one string.
fn charges_alike(one: &cell::Cell, other: &cell::Cell) -> bool {
    let half_v = |of: &cell::Cell| of.open_circuit_v.at(0.5);
    (one.max_v - other.max_v).abs() <= HIGHEST_APART_V + 1e-9
        && (one.min_v - other.min_v).abs() <= LOWEST_APART_V + 1e-9
        && (half_v(one) - half_v(other)).abs() <= HALF_APART_V
}

/// What cells in series and strings in parallel may be.
const COUNT: Allowed = within(1.0, 400.0);
const BOX_KG: Allowed = within(0.0, 1000.0);
const HEALTH_PCT: Allowed = within(10.0, 120.0);
const GROWTH_PCT: Allowed = within(-20.0, 900.0);
const CAPACITY_SPREAD_PCT: Allowed = within(0.0, 50.0);
const RESISTANCE_SPREAD_PCT: Allowed = within(0.0, 300.0);

impl Pack {
    /// Its boxes, in the order in which they are stated; a pack in one box is one.
    pub(crate) fn parts(&self) -> Vec<PartOfPack<'_>> {
        let strings = |own: Option<u32>| f64::from(own.or(self.parallel).unwrap_or(1));
        match &self.boxes {
            None => vec![PartOfPack {
                name: None,
                cell: &self.cell,
                cells: f64::from(self.series.unwrap_or(0)) * strings(None),
                box_mass_kg: self.box_mass_kg.unwrap_or(0.0),
                place_m: None,
            }],
            Some(boxes) => boxes
                .iter()
                .enumerate()
                .map(|(i, own)| PartOfPack {
                    name: Some(own.name.clone().unwrap_or_else(|| format!("box {}", i + 1))),
                    cell: own.cell.as_ref().unwrap_or(&self.cell),
                    cells: f64::from(own.series) * strings(own.parallel),
                    box_mass_kg: own.box_mass_kg,
                    place_m: Some(own.behind_front_axle_m),
                })
                .collect(),
        }
    }

    /// What its boxes are called, in the order in which they are stated; of one box none.
    pub(crate) fn box_names(&self) -> Vec<String> {
        self.parts().into_iter().filter_map(|own| own.name).collect()
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
        let strings = self.parallel.map_or(1.0, f64::from);
        let parallel = at.number("parallel", strings, COUNT)?;
        let in_one = match self.boxes {
            None => {
                let needed = "it has no default";
                let series = at.required("series", self.series.map(f64::from), COUNT, needed)?;
                at.required("box_mass_kg", self.box_mass_kg, BOX_KG, needed)?;
                let walls = Walls {
                    at: *at,
                    series,
                    parallel,
                    cell_kg: cell.mass_kg,
                    conductance_w_per_k: self.box_conductance_w_per_k,
                    area_m2: self.wall_area_m2,
                };
                Some((series, walls.conductance_w_per_k(assumptions)?))
            }
            Some(_) => {
                let own = [
                    ("series", self.series.is_some()),
                    ("box_mass_kg", self.box_mass_kg.is_some()),
                    ("box_conductance_w_per_k", self.box_conductance_w_per_k.is_some()),
                    ("wall_area_m2", self.wall_area_m2.is_some()),
                ];
                if let Some((twice, _)) = own.into_iter().find(|(_, stated)| *stated) {
                    let (path, other) = (at.field(twice).path(), at.field("boxes").path());
                    return Err(Fault::Both { path, other });
                }
                None
            }
        };
        let mut take =
            |name, value, allowed, usual| at.assumed(name, value, allowed, usual, assumptions);
        let health = take(
            "state_of_health_pct",
            self.state_of_health_pct,
            HEALTH_PCT,
            usual(100.0, "%", "new cells"),
        )?;
        let growth =
            at.optional("resistance_growth_pct", self.resistance_growth_pct, GROWTH_PCT)?;
        let matched = "cells matched as they are sold";
        let capacity_spread = take(
            "capacity_spread_pct",
            self.capacity_spread_pct,
            CAPACITY_SPREAD_PCT,
            usual(2.0, "%", matched),
        )?;
        let resistance_spread = take(
            "resistance_spread_pct",
            self.resistance_spread_pct,
            RESISTANCE_SPREAD_PCT,
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
        let (series, conductance_w_per_k) = in_one.unwrap_or((1.0, 1.0));
        let cells_kg = series * parallel * cell.mass_kg;
        let whole = pack::Pack {
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
            air_rise_k: 0.0,
            stated: 0,
            others: Vec::new(),
        };
        match &self.boxes {
            None => Ok(whole),
            Some(boxes) => self.in_boxes(boxes, whole, specific_heat, at, assumptions),
        }
    }

    /// A pack in boxes, of which each is as the whole says where it does not say itself.
    fn in_boxes(
        &self,
        boxes: &[PackBox],
        whole: pack::Pack,
        specific_heat: f64,
        at: &FieldPath,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<pack::Pack, Fault> {
        if boxes.len() < 2 || boxes.len() > MOST_BOXES {
            let allowed = format!("2 to {MOST_BOXES} boxes; a pack in one box needs none");
            return Err(at.refuse("boxes", format!("a list of {}", boxes.len()), allowed));
        }
        let (pack_at, list_at) = (at, at.field("boxes"));
        let names = self.box_names();
        let mut found = Vec::with_capacity(boxes.len());
        for (i, own) in boxes.iter().enumerate() {
            let at = list_at.item(i);
            if let Some(other) = names.iter().take(i).position(|name| *name == names[i]) {
                let allowed = format!("a name of its own, as box {} has this one", other + 1);
                return Err(at.refuse("name", format!("\"{}\"", names[i]), allowed));
            }
            let (cell, heat) = match &own.cell {
                None => (whole.cell.clone(), specific_heat),
                Some(cell) => {
                    let at = at.field("cell");
                    (cell.model(&at, assumptions)?, cell.specific_heat(&at, assumptions)?)
                }
            };
            if let Some(first) = found.first().map(|first: &pack::Pack| &first.cell)
                && !charges_alike(&cell, first)
            {
                let allowed = format!(
                    "cells of one kind, as one charger, one controller and one management serve all cells \
                     in series: {} has {} to {} V",
                    names[0], first.min_v, first.max_v
                );
                let value = format!(
                    "a list with cells of {} to {} V in {}",
                    cell.min_v, cell.max_v, names[i]
                );
                return Err(pack_at.refuse("boxes", value, allowed));
            }
            let series = at.number("series", f64::from(own.series), COUNT)?;
            let strings = own.parallel.map_or(whole.parallel, f64::from);
            let parallel = at.number("parallel", strings, COUNT)?;
            at.number("box_mass_kg", own.box_mass_kg, BOX_KG)?;
            let cells_kg = series * parallel * cell.mass_kg;
            let walls = Walls {
                at,
                series,
                parallel,
                cell_kg: cell.mass_kg,
                conductance_w_per_k: own.box_conductance_w_per_k,
                area_m2: own.wall_area_m2,
            };
            let share = |name, value, allowed, else_share: f64| -> Result<f64, Fault> {
                let found = at.optional(name, value, allowed)?;
                Ok(found.map_or(else_share, units::share_from_pct))
            };
            let air_rise =
                at.optional("air_over_outside_k", own.air_over_outside_k, within(-30.0, 60.0))?;
            found.push(pack::Pack {
                series,
                parallel,
                health: share(
                    "state_of_health_pct",
                    own.state_of_health_pct,
                    HEALTH_PCT,
                    whole.health,
                )?,
                resistance_growth: 1.0
                    + share(
                        "resistance_growth_pct",
                        own.resistance_growth_pct,
                        GROWTH_PCT,
                        whole.resistance_growth - 1.0,
                    )?,
                capacity_spread: share(
                    "capacity_spread_pct",
                    own.capacity_spread_pct,
                    CAPACITY_SPREAD_PCT,
                    whole.capacity_spread,
                )?,
                resistance_spread: share(
                    "resistance_spread_pct",
                    own.resistance_spread_pct,
                    RESISTANCE_SPREAD_PCT,
                    whole.resistance_spread,
                )?,
                harness_ohm: if i == 0 { whole.harness_ohm } else { 0.0 },
                heat_capacity_j_per_k: cells_kg * heat,
                conductance_w_per_k: walls.conductance_w_per_k(assumptions)?,
                air_rise_k: air_rise.unwrap_or(0.0),
                cell,
                ..whole.clone()
            });
        }
        pack::Pack::in_line(found).map_err(|invalid| at.impossible("boxes", &invalid))
    }
}
