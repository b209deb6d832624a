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

    /// The part that went the largest share of the way from the air's temperature to its warning.
    pub fn nearest(&self, peak: &Temperatures, air_c: f64) -> Nearest {
        let part = |part, reached_c, warning_c: f64| Nearest {
            part,
            reached_c,
            warning_c,
            share: (reached_c - air_c) / (warning_c - air_c).max(1.0),
        };
        let cells = self.cells_c.map(|c| part("cells", peak.cells_c, c));
        let winding = part("winding", peak.winding_c, self.winding_c);
        let sink = part("heat sink", peak.heat_sink_c, self.heat_sink_c);
        let more = |a: Nearest, b: Nearest| if b.share > a.share { b } else { a };
        [sink].into_iter().chain(cells).fold(winding, more)
    }
}

/// The part nearest to where it cuts back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nearest {
    /// Which.
    pub part: &'static str,
    /// Its highest temperature, °C.
    pub reached_c: f64,
    /// Where it cuts back, °C.
    pub warning_c: f64,
    /// Share of the way from the air's temperature to there.
    pub share: f64,
}
