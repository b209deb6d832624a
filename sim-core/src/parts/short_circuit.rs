//! What a pack drives into a short circuit.

use crate::pack::Pack;

/// A bolted short circuit of a pack.
///
/// `I = V/(R_cells + R_harness)` with the rested voltage and the ohmic part of the cells' resistance
/// alone: their polarisation builds up over seconds, and a fuse is to break within milliseconds. The
/// inductance of the loop, which sets how fast the current rises, is not in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShortCircuit {
    /// Rested voltage, V.
    pub volts: f64,
    /// Ohmic resistance of the cells, Ω.
    pub cells_ohm: f64,
    /// Bars, cables, fuse and contactors, Ω.
    pub harness_ohm: f64,
}

impl ShortCircuit {
    /// Of a pack at a charge of its mean cell and a temperature of its cells.
    pub fn of(pack: &Pack, charge: f64, cells_k: f64) -> Self {
        Self {
            volts: pack.rested_v(charge),
            cells_ohm: pack.cells_ohm(charge, cells_k),
            harness_ohm: pack.harness_ohm,
        }
    }

    /// The same after seconds, when the cells' polarisation has built up: what a fuse that takes its
    /// time still gets.
    pub fn lasting(pack: &Pack, charge: f64, cells_k: f64) -> Self {
        let polarisation_ohm = pack.polarisation_ohm(cells_k);
        let first = Self::of(pack, charge, cells_k);
        Self { cells_ohm: first.cells_ohm + polarisation_ohm, ..first }
    }

    /// The same with cells of so many times less resistance.
    pub fn with_less(self, times: f64) -> Self {
        Self { cells_ohm: self.cells_ohm / times, ..self }
    }

    /// Current with the short circuit at the far end of the harness, A.
    pub fn behind_harness_a(&self) -> f64 {
        self.volts / (self.cells_ohm + self.harness_ohm)
    }

    /// Current through a resistance at the far end of the harness, A.
    pub fn through_a(&self, ohm: f64) -> f64 {
        self.volts / (self.cells_ohm + self.harness_ohm + ohm)
    }

    /// Current with the short circuit at the cells, A.
    pub fn at_cells_a(&self) -> f64 {
        self.volts / self.cells_ohm
    }
}
