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
    /// Oil of gearbox and final drive, °C.
    pub oil_c: f64,
    /// Coolant, °C, where motor or controller is liquid-cooled.
    pub coolant_c: Option<f64>,
}

impl Temperatures {
    /// Of a car's parts, from kelvins.
    pub fn from_k(car: &Car, of: &PerNode<f64>) -> Self {
        let c = |node: Node| units::c_from_k(of[node]);
        Self {
            winding_c: c(Node::Winding),
            housing_c: c(Node::Housing),
            heat_sink_c: c(Node::Sink),
            cells_c: c(Node::Cells),
            oil_c: c(Node::Oil),
            coolant_c: car.is_liquid_cooled().then(|| c(Node::Coolant)),
        }
    }

    /// Of a car in a state.
    pub fn of(car: &Car, state: &State) -> Self {
        Self::from_k(car, &state.temperature_k)
    }

    /// Of each part, the higher of two.
    pub fn hotter(self, other: Self) -> Self {
        Self {
            winding_c: self.winding_c.max(other.winding_c),
            housing_c: self.housing_c.max(other.housing_c),
            heat_sink_c: self.heat_sink_c.max(other.heat_sink_c),
            cells_c: self.cells_c.max(other.cells_c),
            oil_c: self.oil_c.max(other.oil_c),
            coolant_c: self.coolant_c.zip(other.coolant_c).map(|(one, two)| one.max(two)),
        }
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
