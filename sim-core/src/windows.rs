//! The largest mean and the largest root mean square of a current over windows of time.
//!
//! A run is told step by step and nothing of it is kept but what the longest window still holds, so
//! that it may last as long as it likes. Steps shorter than [`GRAIN_S`] are put together. Nothing is
//! allocated after [`Windows::default`].

use crate::warmth::{TIME_CONSTANTS_S, Warmth};
use std::collections::VecDeque;

/// Lengths of the windows, s: each divides the next, so that a longer one never has the larger mean.
pub const WINDOWS_S: [f64; 5] = [1.0, 10.0, 60.0, 600.0, 1800.0];
/// Shortest step that is kept by itself, s.
pub const GRAIN_S: f64 = 0.05;
/// Marks that the longest window holds at most, with those at both of its ends.
const MOST_MARKS: usize = (WINDOWS_S[WINDOWS_S.len() - 1] / GRAIN_S) as usize + 4;

/// A current over a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dose {
    /// How long, s.
    pub for_s: f64,
    /// Mean of its size, whichever way it flows, A.
    pub mean_a: f64,
    /// Mean of its square, A².
    pub square_a2: f64,
}

impl Dose {
    /// A current that holds.
    pub fn held(for_s: f64, amps: f64) -> Self {
        Self { for_s, mean_a: amps.abs(), square_a2: amps * amps }
    }

    /// A current that goes in a straight line from one value to another: its square has the mean
    /// `(a² + a·b + b²)/3`, and its size `(|a| + |b|)/2`, or where it turns round
    /// `(a² + b²)/(2·(|a| + |b|))`.
    pub fn straight(for_s: f64, from_a: f64, to_a: f64) -> Self {
        let sizes_a = from_a.abs() + to_a.abs();
        let mean_a = if from_a * to_a < 0.0 {
            (from_a * from_a + to_a * to_a) / (2.0 * sizes_a)
        } else {
            0.5 * sizes_a
        };
        let square_a2 = (from_a * from_a + from_a * to_a + to_a * to_a) / 3.0;
        Self { for_s, mean_a, square_a2 }
    }
}

/// Sums from the start of a run up to a time.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
struct Sums {
    time_s: f64,
    /// ∫ |I| dt, A·s.
    charge_as: f64,
    /// ∫ I² dt, A²·s.
    heat_a2_s: f64,
}

impl Sums {
    /// On the straight line to a later mark, at a time.
    fn towards(&self, to: &Sums, time_s: f64) -> Sums {
        let whole_s = to.time_s - self.time_s;
        let share = if whole_s > 0.0 { (time_s - self.time_s) / whole_s } else { 1.0 };
        let between = |from: f64, to: f64| from + share * (to - from);
        Sums {
            time_s,
            charge_as: between(self.charge_as, to.charge_as),
            heat_a2_s: between(self.heat_a2_s, to.heat_a2_s),
        }
    }
}

/// The largest over all places of a window.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Largest {
    /// Largest mean of the size of the current, A.
    pub mean_a: f64,
    /// Largest root mean square, A.
    pub rms_a: f64,
}

impl Largest {
    fn see(&mut self, from: &Sums, to: &Sums, window_s: f64) {
        self.mean_a = self.mean_a.max((to.charge_as - from.charge_as) / window_s);
        let square_a2 = (to.heat_a2_s - from.heat_a2_s) / window_s;
        self.rms_a = self.rms_a.max(square_a2.max(0.0).sqrt());
    }
}

/// One length of window on its way along a run.
#[derive(Debug, Clone, Copy)]
struct Window {
    for_s: f64,
    /// The last mark at or before its start, counted from the run's first.
    tail: u64,
    largest: Largest,
}

/// What came of a run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Loads {
    /// How long the run lasted, s.
    pub lasted_s: f64,
    /// Mean of the size of the current over the run, A.
    pub mean_a: f64,
    /// Root mean square over the run, A.
    pub rms_a: f64,
    /// The largest for each of [`WINDOWS_S`]. A window that is longer than the run counts what it
    /// misses as no current: before and after the run the car stands.
    pub largest: [Largest; WINDOWS_S.len()],
    /// Steady currents that would make parts of [`TIME_CONSTANTS_S`] as warm as they became, A.
    pub steady_a: [f64; TIME_CONSTANTS_S.len()],
}

impl Loads {
    /// Whether the run lasted as long as a window.
    pub fn covers(&self, window: usize) -> bool {
        self.lasted_s >= WINDOWS_S[window] * (1.0 - 1e-9)
    }
}

/// A current as it is told step by step.
///
/// In each step the current counts as even, so that both integrals are straight between steps, and
/// the largest mean over a window is found where the window begins or ends with a step: these are all
/// looked at, with the integral at the other end read off the line.
#[derive(Debug, Clone)]
pub struct Windows {
    marks: VecDeque<Sums>,
    /// Marks that no window holds any more.
    gone: u64,
    /// The end of the run so far, which need not have become a mark.
    now: Sums,
    warmth: Warmth,
    windows: [Window; WINDOWS_S.len()],
}

impl Default for Windows {
    fn default() -> Self {
        let mut marks = VecDeque::with_capacity(MOST_MARKS);
        marks.push_back(Sums::default());
        let windows = WINDOWS_S.map(|for_s| Window { for_s, tail: 0, largest: Largest::default() });
        Self { marks, gone: 0, now: Sums::default(), warmth: Warmth::default(), windows }
    }
}

impl Windows {
    /// Takes in a step.
    pub fn see(&mut self, step: Dose) {
        self.warmth.see(step.for_s, step.square_a2);
        self.now.time_s += step.for_s;
        self.now.charge_as += step.mean_a * step.for_s;
        self.now.heat_a2_s += step.square_a2 * step.for_s;
        let last_s = self.marks.back().map_or(0.0, |mark| mark.time_s);
        if self.now.time_s - last_s >= GRAIN_S {
            self.mark();
        }
    }

    /// The run is over.
    pub fn end(mut self) -> Loads {
        if self.marks.back().is_none_or(|mark| mark.time_s < self.now.time_s) {
            self.mark();
        }
        let Sums { time_s, charge_as, heat_a2_s } = self.now;
        let over = |sum: f64| if time_s > 0.0 { sum / time_s } else { 0.0 };
        Loads {
            lasted_s: time_s,
            mean_a: over(charge_as),
            rms_a: over(heat_a2_s).sqrt(),
            largest: self.windows.map(|window| window.largest),
            steady_a: self.warmth.steady_a(),
        }
    }

    /// Makes a mark of the time that was reached, and moves each window up to it.
    fn mark(&mut self) {
        let now = self.now;
        self.marks.push_back(now);
        let (marks, gone) = (&self.marks, self.gone);
        let before_s = marks.get(marks.len().saturating_sub(2)).map_or(0.0, |mark| mark.time_s);
        let at = |number: u64| marks.get((number - gone) as usize);
        for window in &mut self.windows {
            let begin_s = now.time_s - window.for_s;
            if begin_s <= 0.0 {
                window.largest.see(&Sums::default(), &now, window.for_s);
                continue;
            }
            // Those that begin with a step end within the last one.
            while let Some(next) = at(window.tail + 1).filter(|next| next.time_s <= begin_s) {
                let end = at_time(marks, next.time_s + window.for_s);
                window.largest.see(next, &end, window.for_s);
                window.tail += 1;
            }
            // The one that begins with the run ends within the last one just once.
            if before_s <= window.for_s {
                let end = at_time(marks, window.for_s);
                window.largest.see(&Sums::default(), &end, window.for_s);
            }
            // And the one that ends with this step.
            if let (Some(before), Some(after)) = (at(window.tail), at(window.tail + 1)) {
                let begin = before.towards(after, begin_s);
                window.largest.see(&begin, &now, window.for_s);
            }
        }
        let oldest = self.windows.iter().map(|window| window.tail).min().unwrap_or(0);
        while self.gone < oldest && self.marks.pop_front().is_some() {
            self.gone += 1;
        }
    }
}

/// The sums at a time within the last step.
fn at_time(marks: &VecDeque<Sums>, time_s: f64) -> Sums {
    let count = marks.len();
    match (count.checked_sub(2).and_then(|i| marks.get(i)), marks.back()) {
        (Some(before), Some(last)) => before.towards(last, time_s),
        _ => Sums::default(),
    }
}
