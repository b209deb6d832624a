//! The traction pack: cells in series and parallel, its worst cell, and what it can give.

use crate::boxes::OthersNow;
use crate::cell::Cell;
use crate::curve::Bundle;
use crate::heat::Node;
use crate::limit::Limit;
use crate::state::State;

/// A pack of equal cells, one of them weaker than the rest, in one box or in line with others.
///
/// With [others](Self::others) this is the box of the least capacity, which all charges are told of:
/// every box carries the same current and all were full together, so that each of the others has
/// lost the same ampere-seconds from a larger capacity.
#[derive(Debug, Clone, PartialEq)]
pub struct Pack {
    /// The cell.
    pub cell: Cell,
    /// Cells in series.
    pub series: f64,
    /// Strings in parallel.
    pub parallel: f64,
    /// Capacity left over that of new cells (state of health).
    pub health: f64,
    /// Resistance over that of new cells.
    pub resistance_growth: f64,
    /// How much less capacity the weakest cell has than the mean one.
    pub capacity_spread: f64,
    /// How much more resistance the weakest cell has than the mean one.
    pub resistance_spread: f64,
    /// Charge of the weakest cell at which the trip ends.
    pub min_charge: f64,
    /// Charge up to which the pack is filled.
    pub max_charge: f64,
    /// Bars, cables, fuse and contactors, Ω.
    pub harness_ohm: f64,
    /// Heat capacity of all cells, J/K.
    pub heat_capacity_j_per_k: f64,
    /// Conductance from the cells through the box to the air, W/K.
    pub conductance_w_per_k: f64,
    /// How much warmer the air about the box is than the air outside, K.
    pub air_rise_k: f64,
    /// Its number among the boxes as they were stated, from 0.
    pub stated: usize,
    /// The other boxes of the string, each as a pack by itself; see [`Self::in_line`].
    pub others: Vec<Pack>,
}

/// A pack's curves put together by what they hang on.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct PackCurves {
    /// Against the mean cell's charge: its open-circuit voltage and resistance, and the weakest
    /// cell's open-circuit voltage.
    by_charge: Bundle<3>,
    /// Against temperature: growth of resistance, and the shares left of capacity, discharge
    /// current and charge current.
    pub(super) by_temperature: Bundle<4>,
    per_polarisation_s: f64,
    per_parallel: f64,
    /// Capacity of the mean cell over that of the weakest.
    per_weakest: f64,
    /// Capacity of the string over that of this box.
    pub(super) share: f64,
    pub(super) others: Vec<PackCurves>,
}

/// Charge over which the pack's current fades to nothing at the ends of its window.
const FADE_CHARGE: f64 = 0.002;
/// Share of the peak reserve over which the allowed current falls from peak to continuous.
pub(crate) const FADE_RESERVE: f64 = 0.2;

/// What the pack is at an instant, and over the time step that begins there.
///
/// Over a step of `h` the polarisation voltage follows the trapezoidal rule, so that its mean is
/// `U0·keep + I·lift`; the pack is then a source of `emf_v` behind `ohm` and the step's mean power
/// is solved at once. With `h = 0` it is the instant itself.
#[derive(Debug, Clone, Copy)]
pub struct PackNow {
    /// Electromotive force of the pack less its polarisation, V.
    pub emf_v: f64,
    /// Resistance of the pack, Ω.
    pub ohm: f64,
    /// Charge left in the weakest cell before it is empty.
    pub left: f64,
    /// Largest pack current out, A, and what sets it.
    pub discharge_a: (f64, Limit),
    /// Largest pack current in, A (positive), and what sets it.
    pub charge_a: (f64, Limit),
    pub(super) standing_charge_a: (f64, Limit),
    pub(super) own: CellsNow,
    pub(super) others: Option<OthersNow>,
}

/// The cells of a box at an instant.
#[derive(Debug, Clone, Copy)]
pub(super) struct CellsNow {
    /// Open-circuit voltage of the mean cell, V.
    pub(super) open_circuit_v: f64,
    per_parallel: f64,
    /// Resistance of the mean cell, Ω.
    cell_ohm: f64,
    /// Conductance of the mean cell's polarisation pair, 1/Ω; 0 for a cell without polarisation.
    per_polarisation_ohm: f64,
    keep_v: f64,
    lift_ohm: f64,
    weak_open_circuit_v: f64,
    weak_factor: f64,
}

/// What a box is told of the state.
#[derive(Debug, Clone, Copy)]
pub(super) struct BoxState {
    /// Charge of its own mean cell.
    pub(super) charge: f64,
    /// Charge of the pack.
    pub(super) pack_charge: f64,
    pub(super) cells_k: f64,
    /// Of its mean cell.
    pub(super) polarisation_v: f64,
    /// Half a step over the time constant of the polarisation.
    pub(super) half: f64,
    pub(super) peak_reserve: f64,
}

/// What power does in the cells of a box, W.
#[derive(Debug, Clone, Copy)]
pub(crate) struct CellPowers {
    pub(crate) chemical_w: f64,
    pub(crate) heat_w: f64,
    pub(crate) polarisation_w: f64,
}

impl Pack {
    /// A pack that holds a voltage down to its last charge, without resistance and without limits;
    /// set the fields as known.
    pub fn ideal(volts: f64, capacity_as: f64) -> Self {
        Self {
            cell: Cell::ideal(volts, capacity_as),
            series: 1.0,
            parallel: 1.0,
            health: 1.0,
            resistance_growth: 1.0,
            capacity_spread: 0.0,
            resistance_spread: 0.0,
            min_charge: 0.0,
            max_charge: 1.0,
            harness_ohm: 0.0,
            heat_capacity_j_per_k: 100_000.0,
            conductance_w_per_k: 10.0,
            air_rise_k: 0.0,
            stated: 0,
            others: Vec::new(),
        }
    }

    /// Capacity of the mean pack, A·s.
    pub fn capacity_as(&self) -> f64 {
        self.cell.capacity_as * self.health * self.parallel
    }

    /// Charge of the weakest cell: all cells were full together, and the weak one has lost the
    /// same charge from a smaller capacity. `s_w = 1 − (1 − s)/(1 − spread)`.
    #[inline]
    pub fn weakest_charge(&self, charge: f64) -> f64 {
        1.0 - (1.0 - charge) / (1.0 - self.capacity_spread)
    }

    /// The curves that [`Self::now`] reads.
    pub(crate) fn curves(&self) -> PackCurves {
        let cell = &self.cell;
        let mean_charge = |weak: f64| 1.0 - (1.0 - weak) * (1.0 - self.capacity_spread);
        let other = |own: &Pack| PackCurves { share: self.share_of(own), ..own.curves() };
        PackCurves {
            by_charge: Bundle::of([
                &cell.open_circuit_v,
                &cell.resistance_ohm,
                &cell.open_circuit_v.moved(mean_charge),
            ]),
            by_temperature: Bundle::of([
                &cell.resistance_factor,
                &cell.capacity_factor,
                &cell.discharge_factor,
                &cell.charge_factor,
            ]),
            per_polarisation_s: 1.0 / cell.polarisation_s,
            per_parallel: 1.0 / self.parallel,
            per_weakest: 1.0 / (1.0 - self.capacity_spread),
            share: 1.0,
            others: self.others.iter().map(other).collect(),
        }
    }

    /// Charge of the weakest cell of a box at which nothing more can be drawn at a temperature, at most
    /// 1: a full cell that the cold leaves less than its reserve is empty.
    #[inline]
    pub fn empty_charge(&self, cells_k: f64) -> f64 {
        (self.min_charge + (1.0 - self.cell.capacity_factor.at(cells_k))).min(1.0)
    }

    /// Whether the weakest cell of a box has nothing more to give.
    #[inline]
    pub fn is_empty(&self, state: &State) -> bool {
        let cells_k = state.temperature_k[Node::Cells];
        self.weakest_charge(state.charge) <= self.empty_charge(cells_k)
            || !self.others.is_empty() && self.is_any_other_empty(state)
    }

    /// Chemical energy between two charges of the mean cell, J: `C·∫ V ds` with the voltage at rest, by
    /// Simpson's rule over 64 intervals.
    pub fn energy_between_j(&self, low: f64, high: f64) -> f64 {
        let n = 64;
        let h = (high - low) / f64::from(n);
        let v = |i: i32| self.rested_v(low + f64::from(i) * h);
        let sum: f64 = (0..n / 2).map(|k| v(2 * k) + 4.0 * v(2 * k + 1) + v(2 * k + 2)).sum();
        self.capacity_as() * sum * h / 3.0
    }

    /// The pack at a state, over a step of `step_s`, with its [`Self::curves`]; of one in boxes the first
    /// box alone, which [`Self::now_in_boxes`] adds the others to.
    #[inline(always)]
    pub(crate) fn now(&self, curves: &PackCurves, state: &State, step_s: f64) -> PackNow {
        let alone = BoxState {
            charge: state.charge,
            pack_charge: state.charge,
            cells_k: state.temperature_k[Node::Cells],
            polarisation_v: state.polarisation_v,
            half: 0.5 * step_s * curves.per_polarisation_s,
            peak_reserve: state.peak_reserve,
        };
        self.box_now(curves, &alone)
    }

    /// A box by itself.
    #[inline(always)]
    pub(super) fn box_now(&self, curves: &PackCurves, state: &BoxState) -> PackNow {
        let cell = &self.cell;
        let [growth, capacity_factor, discharge_factor, charge_factor] =
            curves.by_temperature.at(state.cells_k);
        let [open_circuit_v, resistance_ohm, weak_open_circuit_v] =
            curves.by_charge.at(state.charge);
        let growth = growth * self.resistance_growth;
        let cell_ohm = resistance_ohm * growth;
        let polarisation_ohm = cell.polarisation_ohm * growth;
        let keep = 1.0 / (1.0 + state.half);
        let keep_v = state.polarisation_v * keep;
        let lift_ohm = polarisation_ohm * state.half * keep;
        let weak = 1.0 - (1.0 - state.charge) * curves.per_weakest;

        let reserve = (state.peak_reserve * (1.0 / FADE_RESERVE)).clamp(0.0, 1.0);
        let allowed = |continuous: f64, peak: f64, factor: f64| {
            let cold_or_hot =
                if factor < 1.0 { Limit::CellTemperature } else { Limit::CellCurrent };
            ((continuous + (peak - continuous) * reserve) * factor * self.parallel, cold_or_hot)
        };
        let mut discharge_a = allowed(cell.discharge_a, cell.discharge_peak_a, discharge_factor);
        let left = weak - (self.min_charge + (1.0 - capacity_factor));
        if left < FADE_CHARGE {
            discharge_a = (discharge_a.0 * (left / FADE_CHARGE).max(0.0), Limit::Charge);
        }
        let mut charge_a = allowed(cell.charge_a, cell.charge_peak_a, charge_factor);
        let standing_charge_a = (cell.charge_a * charge_factor * self.parallel, charge_a.1);
        let room = self.max_charge - state.pack_charge;
        if room < FADE_CHARGE {
            charge_a = (charge_a.0 * (room / FADE_CHARGE).max(0.0), Limit::Charge);
        }
        PackNow {
            emf_v: self.series * (open_circuit_v - keep_v),
            ohm: self.series / self.parallel * (cell_ohm + lift_ohm) + self.harness_ohm,
            left,
            discharge_a,
            charge_a,
            standing_charge_a,
            own: CellsNow {
                open_circuit_v,
                per_parallel: curves.per_parallel,
                cell_ohm,
                per_polarisation_ohm: if polarisation_ohm > 0.0 {
                    1.0 / polarisation_ohm
                } else {
                    0.0
                },
                keep_v,
                lift_ohm,
                weak_open_circuit_v,
                weak_factor: 1.0 + self.resistance_spread,
            },
            others: None,
        }
    }
}

impl CellsNow {
    /// Mean polarisation voltage of a cell over the step at a pack current, V.
    #[inline(always)]
    pub(super) fn polarisation_v(&self, pack_a: f64) -> f64 {
        self.keep_v + self.lift_ohm * (pack_a * self.per_parallel)
    }

    /// Polarisation voltage of a box over the step without a current, V, and its growth with the pack's
    /// current, Ω.
    pub(super) fn polarisation(&self, of: &Pack) -> (f64, f64) {
        (of.series * self.keep_v, of.series * self.lift_ohm * self.per_parallel)
    }

    /// Voltages of the lowest and the highest cell at a pack current, V.
    #[inline(always)]
    pub(super) fn spread_v(&self, pack_a: f64) -> (f64, f64) {
        let sag_v = self.cell_ohm * (pack_a * self.per_parallel) + self.polarisation_v(pack_a);
        let mean = self.open_circuit_v - sag_v;
        let weak = self.weak_open_circuit_v - self.weak_factor * sag_v;
        (mean.min(weak), mean.max(weak))
    }

    /// What a pack current does in the cells of a box.
    #[inline(always)]
    pub(super) fn powers(&self, of: &Pack, pack_a: f64) -> CellPowers {
        let cells = of.series * of.parallel;
        let cell_a = pack_a * self.per_parallel;
        let polarisation_v = self.polarisation_v(pack_a);
        let polarisation_w = polarisation_v * polarisation_v * self.per_polarisation_ohm;
        CellPowers {
            chemical_w: of.series * self.open_circuit_v * pack_a,
            heat_w: cells * (self.cell_ohm * cell_a * cell_a + polarisation_w),
            polarisation_w: cells * (polarisation_v * cell_a - polarisation_w),
        }
    }

    /// Charge current (positive) at which the highest cell is at its highest voltage, A. Voltages
    /// are linear in the current, so each of mean and weakest cell is solved at once.
    pub(super) fn charge_at_highest_v_a(&self, of: &Pack) -> f64 {
        let volts = of.cell.max_v;
        let ohm = self.cell_ohm + self.lift_ohm;
        let mean = (volts - self.open_circuit_v + self.keep_v) / ohm;
        let weak = ((volts - self.weak_open_circuit_v) / self.weak_factor + self.keep_v) / ohm;
        mean.min(weak).max(0.0) * of.parallel
    }

    /// The largest drop of the mean cell, V, at which no cell is below its lowest voltage.
    ///
    /// A drop `x` of the mean cell is one of `(1 + spread)·x` of the weakest, however it is shared
    /// between resistance and polarisation: `x = min(V_oc − v, (V_oc,w − v)/(1 + spread))`. A cell that
    /// is lower at rest leaves none.
    pub(super) fn drop_to_lowest_v(&self, of: &Pack) -> f64 {
        let volts = of.cell.min_v;
        let weak = (self.weak_open_circuit_v - volts) / self.weak_factor;
        (self.open_circuit_v - volts).min(weak).max(0.0)
    }

    /// The same for a rise up to the highest voltage.
    pub(super) fn rise_to_highest_v(&self, of: &Pack) -> f64 {
        let volts = of.cell.max_v;
        let weak = (volts - self.weak_open_circuit_v) / self.weak_factor;
        (volts - self.open_circuit_v).min(weak).max(0.0)
    }

    /// Resistance of the mean cell and of its settled polarisation, seen by the pack's current, Ω.
    pub(super) fn settled_ohm(&self) -> f64 {
        let polarisation_ohm =
            if self.per_polarisation_ohm > 0.0 { 1.0 / self.per_polarisation_ohm } else { 0.0 };
        (self.cell_ohm + polarisation_ohm) * self.per_parallel
    }
}

impl PackNow {
    /// Pack current and voltage for a terminal power, A and V.
    ///
    /// The current is the smaller root of `R·I² − E·I + P = 0`, with `D = E² − 4·R·P` written as
    /// `I = 2·P/(E + √D)`, `V = (E + √D)/2`. Where the pack cannot give the power, it gives its
    /// largest one, at `I = E/(2R)`.
    #[inline]
    pub fn terminals(&self, power_w: f64) -> (f64, f64) {
        let discriminant = self.emf_v * self.emf_v - 4.0 * self.ohm * power_w;
        if discriminant < 0.0 {
            return (0.5 * self.emf_v / self.ohm, 0.5 * self.emf_v);
        }
        let sum_v = self.emf_v + discriminant.sqrt();
        (2.0 * power_w / sum_v, 0.5 * sum_v)
    }

    /// Largest terminal power, `E²/(4R)`, W.
    #[inline]
    pub fn largest_power_w(&self) -> f64 {
        0.25 * self.emf_v * self.emf_v / self.ohm
    }

    /// Open-circuit voltage of the mean cell (of the box of the least capacity), V.
    pub fn open_circuit_v(&self) -> f64 {
        self.own.open_circuit_v
    }

    /// Mean polarisation voltage of a cell over the step at a pack current, V; of cells in several
    /// boxes their mean.
    #[inline]
    pub fn polarisation_v(&self, pack_a: f64) -> f64 {
        match &self.others {
            None => self.own.polarisation_v(pack_a),
            Some(others) => others.mean_polarisation_v(pack_a),
        }
    }

    /// Voltages of the lowest and the highest cell of all boxes at a pack current, V.
    #[inline]
    pub fn cell_spread_v(&self, pack_a: f64) -> (f64, f64) {
        let own = self.own.spread_v(pack_a);
        match &self.others {
            None => own,
            Some(others) => others.spread_v(own, pack_a),
        }
    }

    /// How far the lowest cell is above the least that it may have under load at a pack current, V.
    #[inline]
    pub fn above_lowest_v(&self, pack: &Pack, pack_a: f64) -> f64 {
        let own = self.own.spread_v(pack_a).0 - pack.cell.min_v;
        match &self.others {
            None => own,
            Some(others) => others.above_lowest_v(own, pack, pack_a),
        }
    }

    /// How far the highest cell is below the most that it may have while charging, V.
    #[inline]
    pub(crate) fn below_highest_v(&self, pack: &Pack, pack_a: f64) -> f64 {
        let own = pack.cell.max_v - self.own.spread_v(pack_a).1;
        match &self.others {
            None => own,
            Some(others) => others.below_highest_v(own, pack, pack_a),
        }
    }

    /// What a pack current does in the cells of the first box.
    #[inline(always)]
    pub(crate) fn powers(&self, pack: &Pack, pack_a: f64) -> CellPowers {
        self.own.powers(pack, pack_a)
    }

    /// Current into a standing pack that its cells take for long, A, and what sets it: the
    /// continuous one, as a charger has no short peaks.
    pub fn charge_now_a(&self) -> (f64, Limit) {
        self.standing_charge_a
    }
}
