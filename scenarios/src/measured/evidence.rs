//! What a recorded drive can say of the car: figures of its windows, with how far they may be off.
//!
//! Energy is looked at by windows of about a minute, as drives' totals cannot tell what grows with
//! speed from what grows with distance or time. Seconds, windows and even kilometres of one drive
//! are not independent: wind, people and surface are one for the whole drive, and a height that is
//! wrong moves energy from a window to its neighbour. Both are in the covariance.

use crate::measured::course::Course;
use nalgebra::{DMatrix, DVector};
use sim_core::Node;

/// Usual length of a window, s.
const WINDOW_S: f64 = 60.0;

/// Most windows of a drive.
const MOST_WINDOWS: f64 = 120.0;
/// Share of a window that may lack values.
const GAP_SHARE: f64 = 0.2;
/// How far a torque that a controller works out is off as a whole, sd as a share (common practice,
/// no source).
const TORQUE_SD: f64 = 0.1;
/// How far the resistance seen in single seconds is off, sd as a share: what of it shows within a
/// second differs from cell to cell (common practice, no source).
const RESISTANCE_SD: f64 = 0.1;
/// How far a gauge's charge per ampere-hour is off, sd as a share (common practice, no source).
const GAUGE_SD: f64 = 0.02;
/// How far the charge of a gauge is off by its place on the scale, sd as a share of what is used:
/// gauges read voltage, which is no straight line in charge (common practice, no source).
const USED_SD: f64 = 0.05;
/// Charge that must be used before a gauge tells a capacity, as a share.
const GAUGE_LEAST: f64 = 0.05;
/// How far a sensor of temperature is off at any time, and as a whole, sd in K, and how far a rise
/// is off as a whole, sd as a share (common practice, no source).
const WARMTH_SD_K: f64 = 1.0;
const WARMTH_OFFSET_K: f64 = 0.5;
const RISE_SD: f64 = 0.05;
/// The same of cells on all drives alike, as no sensor sits where a pack has its mean temperature, and
/// heat capacity and box of a pack are no inputs that could take it up (common practice, no source).
const ALIKE_CELLS_K: f64 = 2.0;
const ALIKE_CELLS_SD: f64 = 0.3;
/// How far what seconds show of resistance lies from that of minutes on all drives alike, sd as a
/// share (common practice, no source).
const ALIKE_RESISTANCE_SD: f64 = 0.05;
/// Times at which temperatures are looked at.
const WARMTH_LOOKS: usize = 12;
/// How far a gauge's charge is off at either end of a drive, sd as a share (common practice, no
/// source).
const CHARGE_SD: f64 = 0.005;

/// What a figure is of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Kind {
    /// Energy out of the pack in a window, J.
    Energy,
    /// What motor, controller and auxiliaries took on the whole drive, J.
    Losses,
    /// Charge used on the whole drive, a share.
    Charge,
    /// Charge of the gauge for each ampere-second.
    Gauge,
    /// Resistance of the pack, Ω.
    Resistance,
    /// Temperature of a part, K.
    Warmth(Node),
}

impl Kind {
    /// What it is called.
    pub fn words(self) -> &'static str {
        match self {
            Self::Energy => "the energy at the pack",
            Self::Losses => "what motor torque and the pack's power make of losses",
            Self::Charge => "the charge used",
            Self::Gauge => "the charge for each ampere-hour",
            Self::Resistance => "volts against amperes",
            Self::Warmth(_) => "a temperature",
        }
    }
}

/// A figure of a drive.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Figure {
    /// What it is of.
    pub kind: Kind,
    from_s: f64,
    to_s: f64,
}

/// The figures of a drive that its recording holds.
#[derive(Debug, Clone)]
pub struct Evidence {
    /// The figures.
    pub figures: Vec<Figure>,
    /// What was recorded.
    pub recorded: DVector<f64>,
    /// Variance of each figure by itself.
    own: DVector<f64>,
    /// Variance of a window's energy, to be multiplied by that of windows.
    window: DVector<f64>,
    /// Errors that several figures share, a column each, of one standard deviation.
    shared: DMatrix<f64>,
    /// Errors that all drives of a car and its logger share, a column each, of one standard deviation.
    pub alike: DMatrix<f64>,
    /// Energy of each window for 1 m more of height at each window's edge.
    height: DMatrix<f64>,
}

/// How large the errors are that differ from car to car and from recorder to recorder.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Noise {
    /// Wind, people and surface, over what is typical.
    pub days: f64,
    /// Error of the height at a window's edge, m.
    pub height_m: f64,
    /// Error of a window's energy, over the mean of it and the mean window's.
    pub window: f64,
}

impl Evidence {
    /// Of a recorded drive; `weight_n` is that of the car. The courses' times are those of the
    /// recording, and `gaps` are the times at which it has no power.
    pub fn of(recorded: &Course, gaps: &[(f64, f64)], weight_n: f64) -> Self {
        let end_s = recorded.time_s.last().copied().unwrap_or(0.0);
        let count = (end_s / WINDOW_S).round().clamp(1.0, MOST_WINDOWS);
        let edge = |i: usize| end_s * i as f64 / count;
        let whole = Figure { kind: Kind::Charge, from_s: 0.0, to_s: end_s };
        let mut figures = Vec::new();
        let missing_s = |from_s: f64, to_s: f64| -> f64 {
            gaps.iter().map(|g| (g.1.min(to_s) - g.0.max(from_s)).max(0.0)).sum()
        };
        let mut windows = |kind| {
            for i in 0..count as usize {
                let (from_s, to_s) = (edge(i), edge(i + 1));
                if missing_s(from_s, to_s) <= GAP_SHARE * (to_s - from_s) {
                    figures.push(Figure { kind, from_s, to_s });
                }
            }
        };
        let has_energy = !recorded.energy_j.is_empty();
        if has_energy {
            windows(Kind::Energy);
            if !recorded.shaft_j.is_empty() && missing_s(0.0, end_s) <= GAP_SHARE * end_s {
                figures.push(Figure { kind: Kind::Losses, ..whole });
            }
        }
        let used = match recorded.charge.as_slice() {
            [first, .., last] => first - last,
            _ => 0.0,
        };
        if !recorded.charge.is_empty() {
            if recorded.ampere_s.is_empty() {
                figures.push(whole);
            } else if used.abs() > GAUGE_LEAST {
                figures.push(Figure { kind: Kind::Gauge, ..whole });
            }
        }
        if quick_resistance(recorded).is_some() {
            figures.push(Figure { kind: Kind::Resistance, ..whole });
        }
        for node in Node::ALL {
            if !recorded.part_k[node as usize].is_empty() {
                figures.extend((1..=WARMTH_LOOKS).map(|i| {
                    let to_s = end_s * i as f64 / WARMTH_LOOKS as f64;
                    Figure { kind: Kind::Warmth(node), from_s: 0.0, to_s }
                }));
            }
        }
        let mut found = Self {
            recorded: DVector::zeros(0),
            own: DVector::zeros(figures.len()),
            window: DVector::zeros(figures.len()),
            shared: DMatrix::zeros(figures.len(), 0),
            alike: DMatrix::zeros(figures.len(), 0),
            height: DMatrix::zeros(figures.len(), count as usize + 1),
            figures,
        };
        found.recorded = found.read(recorded);
        found.weigh(recorded, weight_n, end_s / count);
        found
    }

    /// The same figures of another course of the same drive.
    pub fn read(&self, course: &Course) -> DVector<f64> {
        let resistance = quick_resistance(course).unwrap_or(0.0);
        let read = |figure: &Figure| {
            let grown =
                |list: &[f64]| course.at(list, figure.to_s) - course.at(list, figure.from_s);
            match figure.kind {
                Kind::Energy => grown(&course.energy_j),
                Kind::Losses => grown(&course.energy_j) - grown(&course.shaft_j),
                Kind::Charge => -grown(&course.charge),
                Kind::Gauge => -grown(&course.charge) / grown(&course.ampere_s),
                Kind::Resistance => resistance,
                Kind::Warmth(node) => course.at(&course.part_k[node as usize], figure.to_s),
            }
        };
        DVector::from_iterator(self.figures.len(), self.figures.iter().map(read))
    }

    fn weigh(&mut self, recorded: &Course, weight_n: f64, window_s: f64) {
        let n = self.figures.len();
        let mean_j: f64 = {
            let all: Vec<f64> =
                self.of_kind(Kind::Energy).map(|i| self.recorded[i].abs()).collect();
            all.iter().sum::<f64>() / all.len().max(1) as f64
        };
        let mut shared: Vec<DVector<f64>> = Vec::new();
        for (i, figure) in self.figures.clone().iter().enumerate() {
            let value = self.recorded[i];
            match figure.kind {
                Kind::Energy => {
                    self.window[i] = (value.abs() + 0.1 * mean_j) * mean_j;
                    let edge = (figure.from_s / window_s).round() as usize;
                    self.height[(i, edge)] = -weight_n;
                    self.height[(i, edge + 1)] = weight_n;
                }
                Kind::Losses => {
                    let moved_j: f64 =
                        recorded.shaft_j.windows(2).map(|w| (w[1] - w[0]).abs()).sum();
                    self.own[i] = (TORQUE_SD * moved_j).powi(2);
                }
                Kind::Charge => {
                    self.own[i] = 2.0 * CHARGE_SD * CHARGE_SD + (USED_SD * value).powi(2);
                }
                Kind::Gauge => self.own[i] = (GAUGE_SD * value).powi(2),
                Kind::Resistance => self.own[i] = (RESISTANCE_SD * value).powi(2),
                Kind::Warmth(_) => self.own[i] = WARMTH_SD_K * WARMTH_SD_K,
            }
        }
        for node in Node::ALL {
            let list = &recorded.part_k[node as usize];
            let Some(first_k) = list.first() else { continue };
            let (mut offset, mut rise) = (DVector::zeros(n), DVector::zeros(n));
            for i in self.of_kind(Kind::Warmth(node)) {
                offset[i] = WARMTH_OFFSET_K;
                rise[i] = RISE_SD * (self.recorded[i] - first_k);
            }
            shared.extend([offset, rise]);
        }
        if !shared.is_empty() {
            self.shared = DMatrix::from_columns(&shared);
        }
        self.alike = DMatrix::from_columns(&self.of_all_drives(recorded));
    }

    /// Errors of gauges and sensors that no number of drives averages out.
    fn of_all_drives(&self, recorded: &Course) -> [DVector<f64>; 5] {
        let column = |of: &dyn Fn(usize, &Figure) -> f64| {
            let all = self.figures.iter().enumerate().map(|(i, figure)| of(i, figure));
            DVector::from_iterator(self.figures.len(), all)
        };
        let share_of = |kind: Kind, sd: f64| {
            column(&|i, figure| if figure.kind == kind { sd * self.recorded[i] } else { 0.0 })
        };
        let first_k = recorded.part_k[Node::Cells as usize].first().copied().unwrap_or(0.0);
        let is_cells = |figure: &Figure| figure.kind == Kind::Warmth(Node::Cells);
        [
            share_of(Kind::Gauge, GAUGE_SD),
            share_of(Kind::Charge, USED_SD),
            share_of(Kind::Resistance, ALIKE_RESISTANCE_SD),
            column(&|_, figure| if is_cells(figure) { ALIKE_CELLS_K } else { 0.0 }),
            column(&|i, figure| {
                if is_cells(figure) { ALIKE_CELLS_SD * (self.recorded[i] - first_k) } else { 0.0 }
            }),
        ]
    }

    fn of_kind(&self, kind: Kind) -> impl Iterator<Item = usize> + '_ {
        (0..self.figures.len()).filter(move |i| self.figures[*i].kind == kind)
    }

    /// The covariance of the recorded figures' errors, but for what a day does to them.
    pub fn covariance(&self, noise: Noise) -> DMatrix<f64> {
        let height = &self.height * noise.height_m;
        let mut all = &self.shared * self.shared.transpose() + &height * height.transpose();
        for i in 0..self.figures.len() {
            all[(i, i)] += self.own[i] + noise.window * noise.window * self.window[i];
        }
        all
    }
}

/// The resistance that volts and amperes show from one second to the next, Ω, by least squares
/// through the origin: −Σ ΔV·ΔI / Σ ΔI². None where currents hardly change.
fn quick_resistance(course: &Course) -> Option<f64> {
    if course.pack_v.len() < 2 || course.pack_a.len() != course.pack_v.len() {
        return None;
    }
    let most_a = course.pack_a.iter().fold(0.0, |most: f64, a| most.max(a.abs()));
    let end_s = course.time_s.last()?;
    let (mut products, mut squares, mut count) = (0.0, 0.0, 0);
    let mut before: Option<(f64, f64)> = None;
    for i in 0..=*end_s as usize {
        let time_s = i as f64;
        let now = (course.at(&course.pack_v, time_s), course.at(&course.pack_a, time_s));
        if let Some(before) = before.replace(now) {
            let (volts, amperes) = (now.0 - before.0, now.1 - before.1);
            if amperes.abs() > 0.05 * most_a && volts.is_finite() {
                products -= volts * amperes;
                squares += amperes * amperes;
                count += 1;
            }
        }
    }
    (count >= 30 && products > 0.0).then(|| products / squares)
}
