//! Temperatures of the parts, and those at which they cut back.

use schemars::JsonSchema;
use serde::{Serialize, Serializer};
use sim_core::boxes::MOST_BOXES;
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
    /// Cells, °C; of several boxes the warmest.
    pub cells_c: f64,
    /// Cells of each box, in the order of `pack.boxes`, °C; only of a pack in boxes.
    #[serde(skip_serializing_if = "BoxTemperatures::is_of_one")]
    #[schemars(with = "Option<Vec<f64>>")]
    pub boxes_c: BoxTemperatures,
    /// Oil of gearbox and final drive, °C.
    pub oil_c: f64,
    /// Coolant, °C, where motor or controller is liquid-cooled.
    pub coolant_c: Option<f64>,
}

/// Temperatures of the cells of each box of a pack, °C, in the order in which the boxes are stated.
#[derive(Debug, Clone, Copy, Default, PartialEq, JsonSchema)]
#[schemars(with = "Vec<f64>")]
pub struct BoxTemperatures {
    count: usize,
    each_c: [f64; MOST_BOXES],
}

/// The column of a box.
fn column(i: usize) -> String {
    format!("box_{i}_cells_c")
}

impl BoxTemperatures {
    /// Of a car's pack, from kelvins; of one box there is none.
    pub fn from_k(car: &Car, of: &PerNode<f64>) -> Self {
        let pack = &car.parts().pack;
        let mut found = Self::default();
        if !pack.others.is_empty() {
            for (own, node) in pack.boxes() {
                found.count += 1;
                if let Some(slot) = found.each_c.get_mut(own.stated) {
                    *slot = units::c_from_k(of[node]);
                }
            }
        }
        found
    }

    /// Whether the pack is in one box.
    pub fn is_of_one(&self) -> bool {
        self.count == 0
    }

    /// Columns of a series, after those that every car has, such as `box_1_cells_c`; none of one box.
    pub(crate) fn columns(car: &Car) -> Vec<String> {
        let count = car.parts().pack.others.len();
        let all = if count == 0 { 0 } else { count + 1 };
        (1..=all).map(column).collect()
    }

    /// Whether the first line of a file has these columns, with those of boxes or without.
    pub(crate) fn heads(text: &str, columns: &[&str]) -> bool {
        let mut header = text.lines().next().unwrap_or_default().split(',');
        columns.iter().all(|name| header.next() == Some(name))
            && header.zip(1..).all(|(name, i)| i <= MOST_BOXES && name == column(i))
    }

    /// Of each box.
    pub fn each_c(&self) -> &[f64] {
        &self.each_c[..self.count.min(MOST_BOXES)]
    }

    fn hotter(self, other: Self) -> Self {
        let each_c = std::array::from_fn(|i| self.each_c[i].max(other.each_c[i]));
        Self { count: self.count.max(other.count), each_c }
    }
}

impl Serialize for BoxTemperatures {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(self.each_c())
    }
}

impl Temperatures {
    /// Of a car's parts, from kelvins.
    pub fn from_k(car: &Car, of: &PerNode<f64>) -> Self {
        let c = |node: Node| units::c_from_k(of[node]);
        Self {
            winding_c: c(Node::Winding),
            housing_c: c(Node::Housing),
            heat_sink_c: c(Node::Sink),
            cells_c: units::c_from_k(car.parts().pack.warmest_k(of)),
            boxes_c: BoxTemperatures::from_k(car, of),
            oil_c: c(Node::Oil),
            coolant_c: car.is_liquid_cooled().then(|| c(Node::Coolant)),
        }
    }

    /// Raises those of the cells to temperatures in kelvins that they had.
    pub fn warm_cells(&mut self, car: &Car, to_k: &PerNode<f64>) {
        let had = Self::from_k(car, to_k);
        self.cells_c = self.cells_c.max(had.cells_c);
        self.boxes_c = self.boxes_c.hotter(had.boxes_c);
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
            boxes_c: self.boxes_c.hotter(other.boxes_c),
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
            cells_c: car.thermal().cells_warning_k().map(units::c_from_k),
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
