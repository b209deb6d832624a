//! How far a run strained the car: the largest currents, the lowest voltages, the hottest parts.

use crate::car::Flow;
use crate::heat::PerNode;
use crate::state::State;

/// The extremes of a run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Extremes {
    /// Largest current out of the pack, A.
    pub discharge_a: f64,
    /// Largest current into the pack, A (positive).
    pub charge_a: f64,
    /// Largest motor current, A.
    pub motor_a: f64,
    /// Lowest pack voltage, V.
    pub low_pack_v: f64,
    /// Lowest cell voltage, V.
    pub low_cell_v: f64,
    /// Highest cell voltage, V.
    pub high_cell_v: f64,
    /// Largest gap between highest and lowest cell voltage, V.
    pub cell_gap_v: f64,
    /// Largest share of the driven tyres' grip used while slowing.
    pub brake_grip: f64,
    /// Largest share of the driven tyres' grip used while driving.
    pub drive_grip: f64,
    /// Highest temperature of each part, K.
    pub hottest_k: PerNode<f64>,
}

impl Extremes {
    /// Of a run that has yet to begin.
    pub(crate) fn begin(start: &State) -> Self {
        Self {
            discharge_a: 0.0,
            charge_a: 0.0,
            motor_a: 0.0,
            low_pack_v: f64::INFINITY,
            low_cell_v: f64::INFINITY,
            high_cell_v: 0.0,
            cell_gap_v: 0.0,
            brake_grip: 0.0,
            drive_grip: 0.0,
            hottest_k: start.temperature_k,
        }
    }

    /// Takes in what happens.
    #[inline]
    pub(crate) fn see(&mut self, flow: &Flow) {
        raise(&mut self.discharge_a, flow.pack_a);
        raise(&mut self.charge_a, -flow.pack_a);
        raise(&mut self.motor_a, flow.motor_a);
        lower(&mut self.low_pack_v, flow.pack_v);
        lower(&mut self.low_cell_v, flow.low_cell_v);
        raise(&mut self.high_cell_v, flow.high_cell_v);
        raise(&mut self.cell_gap_v, flow.high_cell_v - flow.low_cell_v);
        let slows = flow.slows();
        raise(if slows { &mut self.brake_grip } else { &mut self.drive_grip }, flow.grip_used);
    }

    /// Takes in how warm the parts have become.
    #[inline]
    pub(crate) fn feel(&mut self, state: &State) {
        for (mark, k) in self.hottest_k.iter_mut().zip(state.temperature_k.iter()) {
            raise(mark, *k);
        }
    }
}

/// Raises a mark to a value above it.
#[inline]
fn raise(mark: &mut f64, to: f64) {
    if to > *mark {
        *mark = to;
    }
}

/// Lowers a mark to a value below it.
#[inline]
fn lower(mark: &mut f64, to: f64) {
    if to < *mark {
        *mark = to;
    }
}
