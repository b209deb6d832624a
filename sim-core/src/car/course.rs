//! How the slow part of the state goes on: as rates for an integrator, or by a step.

use super::{Car, Flow};
use crate::ledger::Account;
use crate::limit::Limit;
use crate::pack::Pack;
use crate::state::State;
use crate::tyre;

/// How the cells' short-peak allowance comes back, 1/s: `(I_c² − I²)/((I_p² − I_c²)·t_p)`, so
/// that the peak current lasts its stated time and the continuous current lasts for ever. The
/// square is that of the heat (common practice, no source).
#[derive(Debug, Clone, Copy, PartialEq)]
struct Reserve {
    /// At rest, 1/s.
    at_rest: f64,
    /// Fall with the square of the pack's current, 1/(A²·s).
    per_a2: f64,
}

impl Reserve {
    fn new(pack: &Pack, continuous_a: f64, peak_a: f64) -> Self {
        let peak_s = pack.cell.peak_s;
        if peak_a <= continuous_a {
            return Self { at_rest: 1.0 / peak_s, per_a2: 0.0 };
        }
        let per_a2 = 1.0 / ((peak_a * peak_a - continuous_a * continuous_a) * peak_s);
        let at_rest = continuous_a * continuous_a * per_a2;
        Self { at_rest, per_a2: per_a2 / (pack.parallel * pack.parallel) }
    }
}

/// The short-peak allowances of both directions. Boxes in one string have one allowance together: it
/// is used up as fast as that of the box whose peak ends first, and comes back as slowly as that of
/// the one which takes longest.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Reserves {
    discharge: Reserve,
    charge: Reserve,
    others: Vec<Reserves>,
}

impl Reserves {
    pub(super) fn new(pack: &Pack) -> Self {
        let cell = &pack.cell;
        Self {
            discharge: Reserve::new(pack, cell.discharge_a, cell.discharge_peak_a),
            charge: Reserve::new(pack, cell.charge_a, cell.charge_peak_a),
            others: pack.others.iter().map(Self::new).collect(),
        }
    }

    /// Rate of the allowance at a pack current, 1/s.
    #[inline]
    fn rate(&self, pack_a: f64) -> f64 {
        let reserve = if pack_a >= 0.0 { &self.discharge } else { &self.charge };
        let own = reserve.at_rest - reserve.per_a2 * pack_a * pack_a;
        self.others.iter().fold(own, |rate, other| rate.min(other.rate(pack_a)))
    }
}

impl Car {
    /// How fast the cells' short-peak allowance comes back at a pack current, 1/s; negative where it
    /// is used up.
    pub(crate) fn reserve_rate(&self, pack_a: f64) -> f64 {
        self.reserves.rate(pack_a)
    }

    /// Rates of the state at an instant, for an integrator, each in the place of what it changes.
    pub fn rates(&self, state: &State, flow: &Flow) -> State {
        let pack = &self.parts.pack;
        let reserve_rate = self.reserves.rate(flow.pack_a);
        let reserve_full = state.peak_reserve >= 1.0 && reserve_rate > 0.0;
        let reserve_gone = state.peak_reserve <= 0.0 && reserve_rate < 0.0;
        let (chill_k, chill_s) = tyre::chill_course(state.speed_mps > 0.0);
        State {
            speed_mps: flow.acceleration_mps2,
            distance_m: state.speed_mps.max(0.0),
            charge: -flow.pack_a / pack.capacity_as(),
            polarisation_v: pack.polarisation_rate(state, flow.pack_a),
            temperature_k: self.thermal.rates(&state.temperature_k, &flow.heat),
            peak_reserve: if reserve_full || reserve_gone { 0.0 } else { reserve_rate },
            tyre_chill_k: (chill_k - state.tyre_chill_k) / chill_s,
        }
    }

    /// The box that a limit of the cells comes from at a state and a pack current, by its number as
    /// stated, from 0.
    pub fn box_that_holds(&self, state: &State, pack_a: f64, limit: Limit) -> usize {
        self.parts.pack.box_that_holds(&self.pack_curves, state, pack_a, limit)
    }

    /// Moves the slow part of a state on by a step in which `flow` held, by the implicit midpoint
    /// rule. Speed and distance are the caller's.
    #[inline(always)]
    pub fn warm(&self, state: &mut State, flow: &Flow, step_s: f64) {
        state.charge -= flow.pack_a * step_s * self.per_capacity_as;
        state.polarisation_v = 2.0 * flow.polarisation_v - state.polarisation_v;
        self.thermal.step(&mut state.temperature_k, &flow.heat, step_s);
        let rolls = flow.powers[Account::Rolling] > 0.0;
        let (chill_k, chill_s) = tyre::chill_course(rolls);
        let half_s = 0.5 * step_s;
        let middle_k = (chill_s * state.tyre_chill_k + half_s * chill_k) / (chill_s + half_s);
        state.tyre_chill_k = 2.0 * middle_k - state.tyre_chill_k;
        state.peak_reserve =
            (state.peak_reserve + step_s * self.reserves.rate(flow.pack_a)).clamp(0.0, 1.0);
    }
}
