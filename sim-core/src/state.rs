//! What the simulation remembers from one instant to the next.

use crate::heat::{Node, PerNode};

/// State of car, pack and parts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct State {
    /// Road speed, m/s.
    pub speed_mps: f64,
    /// Distance from the start, m.
    pub distance_m: f64,
    /// Charge of the mean cell, 0 to 1; of a pack in boxes, of the box of the least capacity.
    pub charge: f64,
    /// Voltage of a cell's polarisation pair, V; of a pack in boxes the mean of all cells.
    pub polarisation_v: f64,
    /// Temperature of each part that stores heat, K.
    pub temperature_k: PerNode<f64>,
    /// Share of the cells' short-peak allowance that is left, 0 to 1.
    pub peak_reserve: f64,
    /// How far the tyres are below the warmth that running gives them, K (0: run warm).
    pub tyre_chill_k: f64,
}

impl State {
    /// How many numbers it holds.
    pub const COUNT: usize = size_of::<Self>() / size_of::<f64>();

    /// A car that has stood long enough to be as warm as the air, but for its tyres: they are run
    /// warm, as road loads are stated for; see [`Self::on_cold_tyres`].
    pub fn parked(charge: f64, ambient_k: f64) -> Self {
        Self {
            speed_mps: 0.0,
            distance_m: 0.0,
            charge,
            polarisation_v: 0.0,
            temperature_k: PerNode::of(|_| ambient_k),
            peak_reserve: 1.0,
            tyre_chill_k: 0.0,
        }
    }

    /// The same on tyres that have stood for hours.
    pub fn on_cold_tyres(self) -> Self {
        Self { tyre_chill_k: crate::tyre::CHILL_K, ..self }
    }

    /// The same with a part at another temperature, K.
    pub fn warmed(mut self, node: Node, to_k: f64) -> Self {
        self.temperature_k[node] = to_k;
        self
    }

    /// The same with the cells of all boxes at another temperature, K.
    pub fn cells_at(self, to_k: f64) -> Self {
        Node::BOXES.into_iter().fold(self, |state, node| state.warmed(node, to_k))
    }

    /// Part of the way to another, each number by itself.
    pub fn towards(&self, to: &State, share: f64) -> Self {
        let (mut numbers, ends) = (self.to_array(), to.to_array());
        numbers.iter_mut().zip(ends).for_each(|(number, end)| *number += share * (end - *number));
        Self::from_array(numbers)
    }

    /// As numbers, in declaration order; one left out does not compile.
    #[inline]
    pub fn to_array(self) -> [f64; Self::COUNT] {
        let Self {
            speed_mps,
            distance_m,
            charge,
            polarisation_v,
            temperature_k,
            peak_reserve,
            tyre_chill_k,
        } = self;
        let mut numbers = [0.0; Self::COUNT];
        numbers[..Self::BEFORE].copy_from_slice(&[speed_mps, distance_m, charge, polarisation_v]);
        numbers[Self::BEFORE..Self::BEHIND].copy_from_slice(temperature_k.as_array());
        numbers[Self::BEHIND..].copy_from_slice(&[peak_reserve, tyre_chill_k]);
        numbers
    }

    /// From numbers in declaration order.
    #[inline]
    pub fn from_array(numbers: [f64; Self::COUNT]) -> Self {
        let mut temperature_k = PerNode::default();
        temperature_k.as_array_mut().copy_from_slice(&numbers[Self::BEFORE..Self::BEHIND]);
        Self {
            speed_mps: numbers[0],
            distance_m: numbers[1],
            charge: numbers[2],
            polarisation_v: numbers[3],
            temperature_k,
            peak_reserve: numbers[Self::BEHIND],
            tyre_chill_k: numbers[Self::BEHIND + 1],
        }
    }

    /// Numbers before the temperatures, and where those end.
    const BEFORE: usize = 4;
    const BEHIND: usize = Self::BEFORE + Node::COUNT;
}
