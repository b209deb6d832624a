//! The state in which a drive begins.

use crate::files::allowed::within;
use crate::files::assumption::{Assumption, usual};
use crate::files::field_path::{Fault, FieldPath};
use schemars::JsonSchema;
use serde::Deserialize;
use sim_core::pack::Pack;
use sim_core::units;
use sim_core::{Node, State};

/// The state in which a drive begins. What is left out is as warm as the air.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Start {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Charge, %.
    pub charge_pct: Option<f64>,
    /// Motor winding, °C.
    pub winding_c: Option<f64>,
    /// Motor housing, °C.
    pub housing_c: Option<f64>,
    /// Heat sink of the controller, °C.
    pub controller_c: Option<f64>,
    /// Cells, °C.
    pub cells_c: Option<f64>,
    /// Cabin, °C.
    pub cabin_c: Option<f64>,
    /// Oil of gearbox and final drive, °C.
    pub oil_c: Option<f64>,
    /// Coolant of liquid-cooled parts, °C.
    pub coolant_c: Option<f64>,
    /// Whether the tyres have stood or run.
    pub tyres: Option<Tyres>,
}

/// How warm the tyres are at the start.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Tyres {
    /// They have stood for hours, and roll a quarter harder than run-in tyres on a mild day.
    Cold,
    /// They have run for half an hour, as the rolling resistance is stated for.
    Warm,
}

impl Start {
    /// The state that the simulation starts from.
    pub(crate) fn model(
        &self,
        at: &FieldPath,
        pack: &Pack,
        air_k: f64,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<State, Fault> {
        let charge = match self.charge_pct {
            Some(pct) => units::share_from_pct(at.number("charge_pct", pct, within(0.0, 100.0))?),
            None => {
                let full = pack.max_charge;
                let pct = units::pct_from_share(full);
                let reason = "charged as far as the pack is filled";
                assumptions.push(at.assume("charge_pct", usual(pct, "%", reason)));
                full
            }
        };
        let cold = match self.tyres {
            Some(tyres) => tyres == Tyres::Cold,
            None => {
                let reason = "the car has stood for hours";
                let path = at.field("tyres").path();
                assumptions.push(Assumption::words(path, "cold", reason));
                true
            }
        };
        let parked = State::parked(charge, air_k);
        let mut state = if cold { parked.on_cold_tyres() } else { parked };
        let given = [
            (Node::Winding, "winding_c", self.winding_c, 250.0),
            (Node::Housing, "housing_c", self.housing_c, 250.0),
            (Node::Sink, "controller_c", self.controller_c, 150.0),
            (Node::Cabin, "cabin_c", self.cabin_c, 60.0),
            (Node::Oil, "oil_c", self.oil_c, 150.0),
            (Node::Coolant, "coolant_c", self.coolant_c, 120.0),
        ];
        // The air about a box may be warmer than outside.
        for (own, node) in pack.boxes() {
            state.temperature_k[node] += own.air_rise_k;
        }
        if let Some(c) = at.optional("cells_c", self.cells_c, within(-40.0, 80.0))? {
            state = state.cells_at(units::k_from_c(c));
        }
        for (node, name, value_c, most_c) in given {
            if let Some(c) = at.optional(name, value_c, within(-40.0, most_c))? {
                state.temperature_k[node] = units::k_from_c(c);
            }
        }
        Ok(state)
    }
}
