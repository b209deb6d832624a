//! Boxes of cells in one string: what a pack does whose boxes differ in cells, place and warmth.
//!
//! One current flows through all boxes, and all were full together. With `C` the capacity of the box
//! that has the least of it and `s` its charge, a box of the capacity `C_b` is at
//!
//! `s_b = 1 − (1 − s)·C/C_b`
//!
//! and needs no state of its own. Voltages and resistances add up, and the first box whose cells say
//! no says it for all. Each box warms by itself, by the heat of its own cells.
//!
//! Of polarisation the state knows the sum, as its mean over all cells in series. With one time
//! constant the sum follows `τ·d(ΣU)/dt = I·ΣR₁ − ΣU` exactly, and the boxes share it by their
//! resistances `R₁·k(T)`: exactly while their warmth differs by the same, and closely otherwise, as
//! the shares of the past half minute are those of the moment. Of cells with several time constants
//! it follows the mean of their rates, weighted by resistance, which is right at once and in the
//! end, and in between by a part of what polarisation is; time constants further apart than
//! [`MOST_APART`] are refused.

use crate::Invalid;
use crate::heat::{Node, PerNode};
use crate::limit::Limit;
use crate::pack::{BoxState, CellPowers, CellsNow, Pack, PackCurves, PackNow};
use crate::state::State;

/// Most boxes of a pack.
pub const MOST_BOXES: usize = Node::BOXES.len();

/// Most that time constants of polarisation in one string may be apart, as a ratio.
pub const MOST_APART: f64 = 3.0;

/// The further boxes of a pack at an instant.
#[derive(Debug, Clone, Copy)]
pub(super) struct OthersNow {
    count: usize,
    /// Past `count` they repeat the first box and mean nothing.
    each: [CellsNow; MOST_BOXES - 1],
    /// Mean polarisation of all cells over the step without a current, V, and its growth with the
    /// pack's current, Ω.
    keep_v: f64,
    lift_ohm: f64,
}

impl Pack {
    /// Boxes in one string, in the order in which they are stated: the one of the least capacity
    /// leads, of equal ones the first. What lies between them is the sum of their harnesses.
    ///
    /// # Errors
    /// [`Invalid`] where there is no box or more than [`MOST_BOXES`], or where the time constants of
    /// polarisation are further apart than [`MOST_APART`].
    pub fn in_line(boxes: Vec<Pack>) -> Result<Pack, Invalid> {
        let count = boxes.len();
        let polarised = boxes.iter().filter(|own| own.cell.polarisation_ohm > 0.0);
        let (short, long) = polarised.fold((f64::INFINITY, 0.0_f64), |(short, long), own| {
            (short.min(own.cell.polarisation_s), long.max(own.cell.polarisation_s))
        });
        if long > short * MOST_APART {
            let allowed = format!(
                "at most {MOST_APART} times that of the other cells in the string, {short} s"
            );
            return Err(Invalid::new("polarisation_s", long, allowed));
        }
        let harness_ohm = boxes.iter().map(|own| own.harness_ohm).sum();
        let mut others: Vec<Pack> = boxes
            .into_iter()
            .enumerate()
            .map(|(stated, own)| Pack { stated, harness_ohm: 0.0, ..own })
            .collect();
        let first =
            (0..count).min_by(|a, b| others[*a].capacity_as().total_cmp(&others[*b].capacity_as()));
        match first {
            Some(first) if count <= MOST_BOXES => {
                let lead = others.remove(first);
                Ok(Pack { harness_ohm, others, ..lead })
            }
            _ => Err(Invalid::new("boxes", format!("a list of {count}"), "1 to 4 boxes")),
        }
    }

    /// Each box with the node of its cells: the one of the least capacity, and the others as stated.
    pub fn boxes(&self) -> impl Iterator<Item = (&Pack, Node)> {
        std::iter::once(self).chain(&self.others).zip(Node::BOXES)
    }

    /// Capacity of the string over that of a box.
    pub(super) fn share_of(&self, own: &Pack) -> f64 {
        self.capacity_as() / own.capacity_as()
    }

    /// Charge of the mean cell of a box where the pack has a charge.
    pub fn charge_in(&self, own: &Pack, charge: f64) -> f64 {
        1.0 - (1.0 - charge) * self.share_of(own)
    }

    /// Charge of the pack where the mean cell of a box has a charge.
    pub fn charge_from(&self, own: &Pack, charge: f64) -> f64 {
        1.0 - (1.0 - charge) / self.share_of(own)
    }

    /// The sum of what each box has.
    fn sum(&self, of: impl Fn(&Pack) -> f64) -> f64 {
        self.others.iter().fold(of(self), |sum, own| sum + of(own))
    }

    /// The least of what each box has.
    fn least(&self, of: impl Fn(&Pack) -> f64) -> f64 {
        self.others.iter().fold(of(self), |least, own| least.min(of(own)))
    }

    /// Cells in series from one end of the pack to the other.
    pub fn cells_in_series(&self) -> f64 {
        self.sum(|own| own.series)
    }

    /// Voltage at rest at a charge of the mean cell, V.
    pub fn rested_v(&self, charge: f64) -> f64 {
        let v = |own: &Pack, charge: f64| own.series * own.cell.open_circuit_v.at(charge);
        let others = self.others.iter();
        others.fold(v(self, charge), |sum, own| sum + v(own, self.charge_in(own, charge)))
    }

    /// Voltage with all cells at their lowest under load, V.
    pub fn lowest_v(&self) -> f64 {
        self.sum(|own| own.series * own.cell.min_v)
    }

    /// Voltage with all cells at their highest while charging, V.
    pub fn highest_v(&self) -> f64 {
        self.sum(|own| own.series * own.cell.max_v)
    }

    /// Current out that the cells bear for long, A.
    pub fn discharge_a(&self) -> f64 {
        self.least(|own| own.cell.discharge_a * own.parallel)
    }

    /// Current out that the cells bear for a short time, A.
    pub fn discharge_peak_a(&self) -> f64 {
        self.least(|own| own.cell.discharge_peak_a * own.parallel)
    }

    /// Current in that the cells bear for long, A.
    pub fn charge_a(&self) -> f64 {
        self.least(|own| own.cell.charge_a * own.parallel)
    }

    /// Current in that the cells bear for a short time, A.
    pub fn charge_peak_a(&self) -> f64 {
        self.least(|own| own.cell.charge_peak_a * own.parallel)
    }

    /// Ohmic resistance of all cells at a charge and one temperature, Ω.
    pub fn cells_ohm(&self, charge: f64, cells_k: f64) -> f64 {
        self.sum(|own| {
            let growth = own.cell.resistance_factor.at(cells_k) * own.resistance_growth;
            let ohm = own.cell.resistance_ohm.at(self.charge_in(own, charge));
            own.series / own.parallel * ohm * growth
        })
    }

    /// Resistance of the polarisation of all cells at one temperature, Ω.
    pub fn polarisation_ohm(&self, cells_k: f64) -> f64 {
        self.sum(|own| {
            let growth = own.cell.resistance_factor.at(cells_k) * own.resistance_growth;
            own.series / own.parallel * own.cell.polarisation_ohm * growth
        })
    }

    /// Mass of all cells, kg.
    pub fn cells_kg(&self) -> f64 {
        self.sum(|own| own.series * own.parallel * own.cell.mass_kg)
    }

    /// The least voltage that a cell of any box may have under load, V.
    pub fn least_min_v(&self) -> f64 {
        self.least(|own| own.cell.min_v)
    }

    /// The voltage under load below which no cell of any box may be: the highest of what each asks, V.
    pub fn strictest_min_v(&self) -> f64 {
        -self.least(|own| -own.cell.min_v)
    }

    /// The voltage while charging above which no cell of any box may be: the lowest of what each asks, V.
    pub fn strictest_max_v(&self) -> f64 {
        self.least(|own| own.cell.max_v)
    }

    /// How long the short peak of every box lasts, s.
    pub fn shortest_peak_s(&self) -> f64 {
        self.least(|own| own.cell.peak_s)
    }

    /// Whether one box has other cells than another, however worn they are.
    pub fn has_unlike_cells(&self) -> bool {
        self.others.iter().any(|own| own.cell != self.cell)
    }

    /// The same with so many cells in series; boxes keep their shares of them.
    pub fn with_series(&self, cells: f64) -> Self {
        let times = cells / self.cells_in_series();
        let mut pack = self.changed(|own| own.series *= times);
        if pack.others.is_empty() {
            pack.series = cells;
        }
        pack
    }

    /// Chemical energy of the cells of a box between full and where the first box of the pack is empty,
    /// and how much more its own cells could give, J, with each box at its own temperature.
    pub fn energy_in_j(&self, own: &Pack, at_k: &PerNode<f64>) -> (f64, f64) {
        let alone = Pack { others: Vec::new(), ..own.clone() };
        let own_k = self.boxes().find(|(one, _)| one.stated == own.stated);
        let own_k = own_k.map_or(at_k[Node::Cells], |(_, node)| at_k[node]);
        let (full, empty) = (
            self.charge_in(own, self.max_charge),
            self.charge_in(own, self.empty_at(at_k).min(self.max_charge)),
        );
        let own_empty = alone.charge_when_box_empty(&alone, own_k).min(empty);
        (alone.energy_between_j(empty, full), alone.energy_between_j(own_empty, empty))
    }

    /// The box that is empty first, with each box at its own temperature.
    pub fn empty_first(&self, at_k: &PerNode<f64>) -> &Pack {
        let empty = |(own, node): &(&Pack, Node)| self.charge_when_box_empty(own, at_k[*node]);
        // Of equal ones the first.
        let last = self.boxes().fold(None, |most: Option<(f64, &Pack)>, one| {
            let own = empty(&one);
            match most {
                Some((already, _)) if already >= own => most,
                _ => Some((own, one.0)),
            }
        });
        last.map_or(self, |(_, own)| own)
    }

    /// Charges at which the voltage of a cell, the mean or the weakest of a box, bends.
    pub fn bends(&self) -> Vec<f64> {
        let of = |own: &Pack, spread: f64| {
            let share = (1.0 - spread) / self.share_of(own);
            let points = own.cell.open_circuit_v.points();
            points.map(|(charge, _)| 1.0 - (1.0 - charge) * share).collect::<Vec<f64>>()
        };
        self.boxes()
            .flat_map(|(own, _)| [of(own, 0.0), of(own, own.capacity_spread)].concat())
            .collect()
    }

    /// The same with a change to what the cells of each box are like.
    pub fn changed(&self, change: impl Fn(&mut Pack)) -> Self {
        let mut pack = self.clone();
        change(&mut pack);
        pack.others.iter_mut().for_each(change);
        pack
    }

    /// Temperature of the warmest cells, K.
    pub fn warmest_k(&self, at_k: &PerNode<f64>) -> f64 {
        self.boxes().map(|(_, node)| at_k[node]).fold(f64::NEG_INFINITY, f64::max)
    }

    /// Temperature of the coldest cells, K.
    pub fn coldest_k(&self, at_k: &PerNode<f64>) -> f64 {
        self.boxes().map(|(_, node)| at_k[node]).fold(f64::INFINITY, f64::min)
    }

    /// Charge of the pack where a box has nothing more to give.
    fn charge_when_box_empty(&self, own: &Pack, cells_k: f64) -> f64 {
        let own_used = (1.0 - own.empty_charge(cells_k)) * (1.0 - own.capacity_spread);
        1.0 - own_used / self.share_of(own)
    }

    /// Charge of the mean cell when the first box is empty, with all cells at a temperature.
    pub fn mean_charge_when_empty(&self, cells_k: f64) -> f64 {
        self.empty_at(&PerNode::of(|_| cells_k))
    }

    /// The same with each box at its own temperature.
    pub fn empty_at(&self, at_k: &PerNode<f64>) -> f64 {
        let empty = |(own, node): (&Pack, Node)| self.charge_when_box_empty(own, at_k[node]);
        self.boxes().map(empty).fold(f64::NEG_INFINITY, f64::max)
    }

    /// Chemical energy that is left to be drawn from a charge, with all cells at a temperature, J;
    /// none where the pack is empty.
    pub fn left_j(&self, charge: f64, cells_k: f64) -> f64 {
        self.left_at_j(charge, &PerNode::of(|_| cells_k))
    }

    /// The same with each box at its own temperature.
    pub fn left_at_j(&self, charge: f64, at_k: &PerNode<f64>) -> f64 {
        let empty = self.empty_at(at_k);
        if charge > empty { self.energy_between_j(empty, charge) } else { 0.0 }
    }

    /// Energy between the top of the window and empty, with all cells at a temperature, J.
    pub fn usable_j(&self, cells_k: f64) -> f64 {
        self.left_j(self.max_charge, cells_k)
    }

    /// The same with each box at its own temperature.
    pub fn usable_at_j(&self, at_k: &PerNode<f64>) -> f64 {
        self.left_at_j(self.max_charge, at_k)
    }

    /// Whether one of the further boxes has nothing more to give.
    #[inline(never)]
    pub(super) fn is_any_other_empty(&self, state: &State) -> bool {
        self.boxes().skip(1).any(|(own, node)| {
            let charge = self.charge_in(own, state.charge);
            own.weakest_charge(charge) <= own.empty_charge(state.temperature_k[node])
        })
    }

    /// Resistance of the polarisation of each box at a state, Ω, and how fast their sum follows, 1/s.
    fn polarisation(&self, state: &State) -> ([f64; MOST_BOXES], f64) {
        let mut each = [0.0; MOST_BOXES];
        let (mut sum_ohm, mut pace) = (0.0, 0.0);
        for ((own, node), ohm) in self.boxes().zip(&mut each) {
            let growth =
                own.cell.resistance_factor.at(state.temperature_k[node]) * own.resistance_growth;
            *ohm = own.series / own.parallel * own.cell.polarisation_ohm * growth;
            sum_ohm += *ohm;
            pace += *ohm / own.cell.polarisation_s;
        }
        (each, if sum_ohm > 0.0 { pace / sum_ohm } else { 1.0 / self.cell.polarisation_s })
    }

    /// Rate of the polarisation of the mean cell at a pack current, V/s.
    pub(crate) fn polarisation_rate(&self, state: &State, pack_a: f64) -> f64 {
        if self.others.is_empty() {
            let cell_a = pack_a / self.parallel;
            let cells_k = state.temperature_k[Node::Cells];
            let growth = self.cell.resistance_factor.at(cells_k) * self.resistance_growth;
            let polarisation_ohm = self.cell.polarisation_ohm * growth;
            return (polarisation_ohm * cell_a - state.polarisation_v) / self.cell.polarisation_s;
        }
        let (each, per_s) = self.polarisation(state);
        let ohm = each.iter().sum::<f64>() / self.cells_in_series();
        (ohm * pack_a - state.polarisation_v) * per_s
    }

    /// How the boxes share the state of the pack.
    fn shares(&self, state: &State, step_s: f64) -> Shares {
        let (each, per_s) = self.polarisation(state);
        let sum_ohm: f64 = each.iter().sum();
        let per_ohm = if sum_ohm > 0.0 { 1.0 / sum_ohm } else { 0.0 };
        let volts = state.polarisation_v * self.cells_in_series() * per_ohm;
        Shares { polarisation_v: each.map(|ohm| ohm * volts), half: 0.5 * step_s * per_s }
    }

    /// The pack at a state, over a step: the sum of its boxes, held by the first that says no.
    #[inline(never)]
    pub(crate) fn now_in_boxes(&self, curves: &PackCurves, state: &State, step_s: f64) -> PackNow {
        let first = |now: &mut (f64, Limit), other: (f64, Limit)| {
            if other.0 < now.0 {
                *now = other;
            }
        };
        let shares = self.shares(state, step_s);
        let mut sum = shares.of((self, Node::Cells), curves, state, 0);
        let (mut keep_v, mut lift_v) = sum.own.polarisation(self);
        let mut each = [sum.own; MOST_BOXES - 1];
        let others = self.boxes().skip(1).zip(&curves.others).zip(1..);
        for (((own, curves), i), slot) in others.zip(&mut each) {
            let now = shares.of(own, curves, state, i);
            let (keep, lift) = now.own.polarisation(own.0);
            (keep_v, lift_v) = (keep_v + keep, lift_v + lift);
            sum.emf_v += now.emf_v;
            sum.ohm += now.ohm;
            sum.left = sum.left.min(now.left);
            first(&mut sum.discharge_a, now.discharge_a);
            first(&mut sum.charge_a, now.charge_a);
            first(&mut sum.standing_charge_a, now.standing_charge_a);
            *slot = now.own;
        }
        let per_cell = 1.0 / self.cells_in_series();
        let others = OthersNow {
            count: self.others.len().min(each.len()),
            each,
            keep_v: keep_v * per_cell,
            lift_ohm: lift_v * per_cell,
        };
        PackNow { others: Some(others), ..sum }
    }

    /// The box that a limit comes from, by its number as stated: the one with the least left, at the
    /// lowest or highest voltage, or that bears the least current.
    pub(crate) fn box_that_holds(
        &self,
        curves: &PackCurves,
        state: &State,
        pack_a: f64,
        limit: Limit,
    ) -> usize {
        let room = |(own, now): &(&Pack, PackNow)| match limit {
            Limit::Charge if pack_a >= 0.0 => now.left,
            Limit::CellVoltage if pack_a >= 0.0 => now.own.spread_v(pack_a).0 - own.cell.min_v,
            Limit::CellVoltage => own.cell.max_v - now.own.spread_v(pack_a).1,
            _ if pack_a >= 0.0 => now.discharge_a.0,
            _ => now.charge_a.0,
        };
        let shares = self.shares(state, 0.0);
        let all_curves = std::iter::once(curves).chain(&curves.others);
        let boxes = self.boxes().zip(all_curves).zip(0..);
        let boxes = boxes.map(|((own, curves), i)| (own.0, shares.of(own, curves, state, i)));
        let least = boxes.min_by(|a, b| room(a).total_cmp(&room(b)));
        least.map_or(self.stated, |(own, _)| own.stated)
    }
}

/// What each box has of the state of the pack.
struct Shares {
    /// Polarisation of all its cells in series, V.
    polarisation_v: [f64; MOST_BOXES],
    /// Half a step over the time constant of the polarisation.
    half: f64,
}

impl Shares {
    /// A box at a state as a pack by itself.
    fn of(
        &self,
        (own, node): (&Pack, Node),
        curves: &PackCurves,
        state: &State,
        i: usize,
    ) -> PackNow {
        let box_state = BoxState {
            charge: 1.0 - (1.0 - state.charge) * curves.share,
            pack_charge: state.charge,
            cells_k: state.temperature_k[node],
            polarisation_v: self.polarisation_v[i] / own.series,
            half: self.half,
            peak_reserve: state.peak_reserve,
        };
        own.box_now(curves, &box_state)
    }
}

impl OthersNow {
    fn each(&self) -> &[CellsNow] {
        &self.each[..self.count]
    }

    /// With the pack that it is of.
    fn with<'a>(&'a self, pack: &'a Pack) -> impl Iterator<Item = (&'a Pack, &'a CellsNow)> {
        pack.others.iter().zip(self.each())
    }

    #[inline(never)]
    pub(super) fn mean_polarisation_v(&self, pack_a: f64) -> f64 {
        self.keep_v + self.lift_ohm * pack_a
    }

    #[inline(never)]
    pub(super) fn spread_v(&self, own: (f64, f64), pack_a: f64) -> (f64, f64) {
        self.each()
            .iter()
            .map(|cells| cells.spread_v(pack_a))
            .fold(own, |(low, high), (l, h)| (low.min(l), high.max(h)))
    }

    #[inline(never)]
    pub(super) fn above_lowest_v(&self, own_v: f64, pack: &Pack, pack_a: f64) -> f64 {
        let above = |(of, cells): (&Pack, &CellsNow)| cells.spread_v(pack_a).0 - of.cell.min_v;
        self.with(pack).map(above).fold(own_v, f64::min)
    }

    #[inline(never)]
    pub(super) fn below_highest_v(&self, own_v: f64, pack: &Pack, pack_a: f64) -> f64 {
        let below = |(of, cells): (&Pack, &CellsNow)| of.cell.max_v - cells.spread_v(pack_a).1;
        self.with(pack).map(below).fold(own_v, f64::min)
    }
}

impl PackNow {
    /// Adds what a pack current does in the cells of each further box, and heats those.
    #[inline(never)]
    pub(crate) fn add_powers_of_others(
        &self,
        pack: &Pack,
        pack_a: f64,
        sum: &mut CellPowers,
        into_w: &mut PerNode<f64>,
    ) {
        let others = self.others.iter().flat_map(|others| others.with(pack));
        for ((of, cells), node) in others.zip(Node::BOXES.into_iter().skip(1)) {
            let own = cells.powers(of, pack_a);
            into_w[node] = own.heat_w;
            sum.chemical_w += own.chemical_w;
            sum.heat_w += own.heat_w;
            sum.polarisation_w += own.polarisation_w;
        }
    }

    /// Whether it is of a pack in several boxes.
    #[inline]
    pub(crate) fn is_in_boxes(&self) -> bool {
        self.others.is_some()
    }

    /// The cells of each box.
    fn cells<'a>(&'a self, pack: &'a Pack) -> impl Iterator<Item = (&'a Pack, &'a CellsNow)> {
        let others = self.others.iter().flat_map(|others| others.with(pack));
        std::iter::once((pack, &self.own)).chain(others)
    }

    /// Charge current (positive) at which the first cell is at its highest voltage, A.
    pub fn charge_at_highest_v_a(&self, pack: &Pack) -> f64 {
        let each = self.cells(pack).map(|(of, cells)| cells.charge_at_highest_v_a(of));
        each.fold(f64::INFINITY, f64::min)
    }

    /// Voltage of the pack before its harness at which its lowest cell is at its lowest voltage, V: with
    /// the pack above it no cell is lower, at any current and temperature. Boxes share a drop as a
    /// current does that has flown for minutes. A cell that is lower at rest leaves the voltage at rest.
    pub fn pack_v_at_lowest_cell(&self, pack: &Pack) -> f64 {
        self.rested_v(pack) - self.most_change_v(pack, CellsNow::drop_to_lowest_v)
    }

    /// The same for the highest cell while it is charged: with the pack below it no cell is higher.
    pub fn pack_v_at_highest_cell(&self, pack: &Pack) -> f64 {
        self.rested_v(pack) + self.most_change_v(pack, CellsNow::rise_to_highest_v)
    }

    fn rested_v(&self, pack: &Pack) -> f64 {
        self.cells(pack).map(|(of, cells)| of.series * cells.open_circuit_v).sum()
    }

    /// The change of the pack's voltage at which the first box has its own largest one, V.
    fn most_change_v(&self, pack: &Pack, most: impl Fn(&CellsNow, &Pack) -> f64) -> f64 {
        if self.others.is_none() {
            return pack.series * most(&self.own, pack);
        }
        let ohm = |cells: &CellsNow| cells.settled_ohm().max(f64::MIN_POSITIVE);
        let amps = self.cells(pack).map(|(of, cells)| most(cells, of) / ohm(cells));
        let sum_ohm: f64 = self.cells(pack).map(|(of, cells)| of.series * ohm(cells)).sum();
        amps.fold(f64::INFINITY, f64::min) * sum_ohm
    }
}
