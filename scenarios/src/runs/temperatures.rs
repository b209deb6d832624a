//! Temperatures of the parts, and those at which they cut back.

use schemars::JsonSchema;
use serde::Serialize;
use sim_core::heat::{Node, PerNode};
use sim_core::units;
use sim_core::{Car, State};

/// Temperatures of the parts, °C.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Temperatures {
    /// Motor winding, °C.
    pub winding_c: f64,
    /// Motor housing, °C.
    pub housing_c: f64,
    /// Controller heat sink, °C.
    pub heat_sink_c: f64,
    /// Cells, °C.
    pub cells_c: f64,
}

impl Temperatures {
    /// From kelvins.
    pub fn from_k(of: &PerNode<f64>) -> Self {
        Self {
            winding_c: units::c_from_k(of[Node::Winding]),
            housing_c: units::c_from_k(of[Node::Housing]),
            heat_sink_c: units::c_from_k(of[Node::Sink]),
            cells_c: units::c_from_k(of[Node::Cells]),
        }
    }

    /// Of a state.
    pub fn of(state: &State) -> Self {
        Self::from_k(&state.temperature_k)
    }
}

/// Temperatures at which parts begin to cut back, °C.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Warnings {
    /// Motor winding, °C.
    pub winding_c: f64,
    /// Controller heat sink, °C.
    pub heat_sink_c: f64,
    /// Cells, °C, where their discharge current falls with heat.
    pub cells_c: Option<f64>,
}

impl Warnings {
    /// Of a car.
    pub fn of(car: &Car) -> Self {
        Self {
            winding_c: units::c_from_k(car.parts().motor.derating.warning_k),
            heat_sink_c: units::c_from_k(car.parts().controller.derating.warning_k),
            cells_c: car.thermal().warning_k(Node::Cells).map(units::c_from_k),
        }
    }

    /// How far the nearest part stayed under its warning, K.
    pub fn left_k(&self, peak: &Temperatures) -> f64 {
        let cells_k = self.cells_c.map_or(f64::INFINITY, |c| c - peak.cells_c);
        (self.winding_c - peak.winding_c).min(self.heat_sink_c - peak.heat_sink_c).min(cells_k)
    }
}
