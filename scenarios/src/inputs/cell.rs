//! A cell of the traction pack.

use crate::files::allowed::{above, within};
use crate::files::assumption::{Assumption, usual};
use crate::files::field_path::{Fault, FieldPath};
use crate::inputs::learnt_input::Spreads;
use schemars::JsonSchema;
use serde::Deserialize;
use sim_core::units;
use sim_core::{Curve, cell};

/// A cell: voltage, resistance, and the currents that it bears.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Cell {
    /// Where the JSON Schema of this file is.
    #[serde(rename = "$schema")]
    pub schema: Option<String>,
    /// What to call it.
    pub name: Option<String>,
    /// Anything worth remembering.
    pub note: Option<String>,
    /// What one of them costs, in the currency of `money`; counts for a pack without a price of its
    /// own.
    pub price: Option<f64>,
    /// How well its numbers are known, where they were learnt from a car.
    pub spreads: Option<Spreads>,
    /// Capacity when new, Ah.
    pub capacity_ah: f64,
    /// Mass, kg.
    pub mass_kg: f64,
    /// Specific heat, J/(kg·K).
    pub specific_heat_j_per_kg_k: Option<f64>,
    /// Lowest voltage under load, V.
    pub min_v: f64,
    /// Highest voltage while charging, V.
    pub max_v: f64,
    /// Open-circuit voltage against charge.
    pub open_circuit: Vec<VoltagePoint>,
    /// Ohmic resistance against charge at 25 °C.
    pub resistance: Vec<ResistancePoint>,
    /// Growth of both resistances against temperature, 1 at 25 °C.
    pub resistance_growth: Vec<GrowthPoint>,
    /// Resistance of the slow part (polarisation) at 25 °C, mΩ.
    pub polarisation_mohm: f64,
    /// Time constant of the slow part, s.
    pub polarisation_s: f64,
    /// Continuous discharge current, A.
    pub discharge_a: f64,
    /// Short peak of the discharge current, A.
    pub discharge_peak_a: f64,
    /// Continuous charge current, A.
    pub charge_a: f64,
    /// Short peak of the charge current, A.
    pub charge_peak_a: f64,
    /// How long a peak may last, s.
    pub peak_s: f64,
    /// Share of the capacity that can be drawn, against temperature.
    pub capacity_share: Option<Vec<SharePoint>>,
    /// Share of the discharge currents allowed, against temperature.
    pub discharge_share: Option<Vec<SharePoint>>,
    /// Share of the charge currents allowed, against temperature.
    pub charge_share: Option<Vec<SharePoint>>,
}

/// Open-circuit voltage at a charge.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct VoltagePoint {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Charge, %.
    pub charge_pct: f64,
    /// Voltage, V.
    pub v: f64,
}

/// Resistance at a charge.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ResistancePoint {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Charge, %.
    pub charge_pct: f64,
    /// Resistance, mΩ.
    pub mohm: f64,
}

/// Growth of resistance at a temperature.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct GrowthPoint {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Temperature of the cell, °C.
    pub cells_c: f64,
    /// Resistance over that at 25 °C.
    pub factor: f64,
}

/// A share that is allowed or left at a temperature.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SharePoint {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Temperature of the cell, °C.
    pub cells_c: f64,
    /// Share, %.
    pub pct: f64,
}

impl Cell {
    /// The cell that the simulation drives with.
    pub(crate) fn model(
        &self,
        at: &FieldPath,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<cell::Cell, Fault> {
        let charge = ("charge_pct", within(0.0, 100.0));
        let volts = within(0.5, 5.0);
        let min_v = at.number("min_v", self.min_v, volts)?;
        let max_v = at.number("max_v", self.max_v, volts)?;
        if max_v <= min_v {
            return Err(at.refuse("max_v", max_v, format!("more than min_v, {min_v}")));
        }
        let points = self.open_circuit.iter().map(|p| (p.charge_pct, p.v));
        let open_circuit = at.curve("open_circuit", points, charge, ("v", volts))?;
        let open_at = at.field("open_circuit");
        for (i, pair) in open_circuit.windows(2).enumerate() {
            if pair[1].1 < pair[0].1 {
                let allowed = format!("at least the {} of the point before it", pair[0].1);
                return Err(open_at.item(i + 1).refuse("v", pair[1].1, allowed));
            }
        }
        let last = open_circuit.len() - 1;
        if open_circuit[last].1 > max_v {
            let allowed = format!("at most max_v, {max_v}");
            return Err(open_at.item(last).refuse("v", open_circuit[last].1, allowed));
        }
        let points = self.resistance.iter().map(|p| (p.charge_pct, p.mohm));
        let resistance = at.curve("resistance", points, charge, ("mohm", above(0.0, 1000.0)))?;
        let temperature = ("cells_c", within(-60.0, 120.0));
        let points = self.resistance_growth.iter().map(|p| (p.cells_c, p.factor));
        let growth =
            at.curve("resistance_growth", points, temperature, ("factor", within(0.05, 100.0)))?;
        let growth = curve(at, "resistance_growth", &growth, units::k_from_c, |y| y)?;
        let at_reference = growth.at(units::K_AT_25_C);
        if (at_reference - 1.0).abs() > 0.02 {
            let value = format!("{at_reference:.3} at 25 °C");
            return Err(at.refuse("resistance_growth", value, "1 at 25 °C"));
        }
        let mut share = |name, given: &Option<Vec<SharePoint>>, default: &[(f64, f64)], reason| {
            let points = match given {
                Some(list) => at.curve(
                    name,
                    list.iter().map(|p| (p.cells_c, p.pct)),
                    temperature,
                    ("pct", within(0.0, 100.0)),
                )?,
                None => {
                    let words: Vec<String> =
                        default.iter().map(|(c, pct)| format!("{pct} % at {c} °C")).collect();
                    let path = at.field(name).path();
                    assumptions.push(Assumption::words(path, words.join(", "), reason));
                    default.to_vec()
                }
            };
            curve(at, name, &points, units::k_from_c, units::share_from_pct)
        };
        let capacity_factor = share(
            "capacity_share",
            &self.capacity_share,
            &[(-20.0, 75.0), (0.0, 90.0), (25.0, 100.0)],
            "typical of lithium cells",
        )?;
        let discharge_factor = share(
            "discharge_share",
            &self.discharge_share,
            &[(-30.0, 0.0), (-20.0, 30.0), (0.0, 70.0), (15.0, 100.0), (55.0, 100.0), (65.0, 0.0)],
            "typical of lithium cells",
        )?;
        let charge_factor = share(
            "charge_share",
            &self.charge_share,
            &[(0.0, 0.0), (15.0, 100.0), (45.0, 100.0), (60.0, 0.0)],
            "lithium cells must not be charged below freezing",
        )?;
        let most = above(0.0, 5000.0);
        let discharge_a = at.number("discharge_a", self.discharge_a, most)?;
        let discharge_peak_a = at.number("discharge_peak_a", self.discharge_peak_a, most)?;
        if discharge_peak_a < discharge_a {
            let allowed = format!("at least discharge_a, {discharge_a}");
            return Err(at.refuse("discharge_peak_a", discharge_peak_a, allowed));
        }
        let charge_a = at.number("charge_a", self.charge_a, most)?;
        let charge_peak_a = at.number("charge_peak_a", self.charge_peak_a, most)?;
        if charge_peak_a < charge_a {
            let allowed = format!("at least charge_a, {charge_a}");
            return Err(at.refuse("charge_peak_a", charge_peak_a, allowed));
        }
        Ok(cell::Cell {
            open_circuit_v: curve(at, "open_circuit", &open_circuit, units::share_from_pct, |y| y)?,
            resistance_ohm: curve(
                at,
                "resistance",
                &resistance,
                units::share_from_pct,
                units::ohm_from_mohm,
            )?,
            resistance_factor: growth,
            polarisation_ohm: units::ohm_from_mohm(at.number(
                "polarisation_mohm",
                self.polarisation_mohm,
                within(0.0, 1000.0),
            )?),
            polarisation_s: at.number("polarisation_s", self.polarisation_s, within(1.0, 1e5))?,
            capacity_as: units::as_from_ah(at.number(
                "capacity_ah",
                self.capacity_ah,
                within(0.1, 2000.0),
            )?),
            capacity_factor,
            mass_kg: at.number("mass_kg", self.mass_kg, above(0.0, 100.0))?,
            min_v,
            max_v,
            discharge_a,
            discharge_peak_a,
            charge_a,
            charge_peak_a,
            peak_s: at.number("peak_s", self.peak_s, within(0.1, 3600.0))?,
            discharge_factor,
            charge_factor,
        })
    }

    /// Specific heat, J/(kg·K).
    pub(crate) fn specific_heat(
        &self,
        at: &FieldPath,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<f64, Fault> {
        at.assumed(
            "specific_heat_j_per_kg_k",
            self.specific_heat_j_per_kg_k,
            within(200.0, 5000.0),
            usual(1000.0, "J/(kg·K)", "common practice for lithium cells"),
            assumptions,
        )
    }
}

/// A curve in SI from points that were already checked.
fn curve(
    at: &FieldPath,
    name: &str,
    points: &[(f64, f64)],
    x_to_si: fn(f64) -> f64,
    y_to_si: fn(f64) -> f64,
) -> Result<Curve, Fault> {
    let points: Vec<_> = points.iter().map(|(x, y)| (x_to_si(*x), y_to_si(*y))).collect();
    Curve::new(&points).map_err(|e| at.impossible(name, &e))
}
