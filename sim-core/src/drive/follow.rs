//! Driving a speed trace with a fixed step.
//!
//! A step takes the acceleration that brings the car to the trace's next speed and evaluates the
//! car once at the step's mean speed (implicit midpoint rule): with even acceleration the kinetic
//! and potential energy of the step are exact, so the ledger closes to rounding. Where a limit
//! holds the car back, and while it catches up, steps are finer and the mean speed is found by
//! iteration. The driver asks anew at each step, so that a finer one asks for no more than a whole
//! one. Nothing is allocated.

use super::along::{Traveller, Travels};
use super::step::{Pace, Rest, Run};
use crate::boxes::MOST_BOXES;
use crate::car::{Car, Flow, Slope};
use crate::driver::Driver;
use crate::extremes::Extremes;
use crate::ledger::Ledger;
use crate::limit::Limit;
use crate::state::State;
use crate::trace::{EXCURSION_S, Trace};

/// Default longest step, s: what keeps energy within 0.1 % and temperatures within 0.1 K of a
/// hundredth of it.
pub const STEP_S: f64 = 1.0;

/// What a recorder is shown of each step.
#[derive(Debug, Clone, Copy)]
pub struct Moment<'a> {
    /// Time at the end of the step, s.
    pub time_s: f64,
    /// Length of the step, s.
    pub step_s: f64,
    /// State at the end of the step.
    pub state: &'a State,
    /// What held during the step.
    pub flow: &'a Flow,
    /// The gear (`None`: between gears).
    pub gear: Option<usize>,
    /// Slope of the road.
    pub slope: Slope,
    /// Speed of the trace at the end of the step, m/s.
    pub trace_mps: f64,
}

/// Sees each step of a run.
pub trait Recorder {
    /// Called at the end of each step.
    fn record(&mut self, moment: &Moment<'_>);
}

/// Records nothing.
impl Recorder for () {
    #[inline]
    fn record(&mut self, _: &Moment<'_>) {}
}

impl<F: FnMut(&Moment<'_>)> Recorder for F {
    #[inline]
    fn record(&mut self, moment: &Moment<'_>) {
        self(moment);
    }
}

/// Why a drive ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum DriveEnding {
    /// The trace was driven to its end.
    Complete,
    /// The weakest cell was empty, at this time in s.
    Empty(f64),
    /// The pack could not carry the car on: a limit of the pack held it under 70 % of the trace's
    /// speed for longer than 10 s, until this time in s.
    PackLimited(f64, Limit),
}

/// What came of a drive.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drive {
    /// State at the end.
    pub end: State,
    /// Gear at the end.
    pub gear: usize,
    /// Why it ended.
    pub ending: DriveEnding,
    /// Time driven, s.
    pub time_s: f64,
    /// Distance driven, m.
    pub distance_m: f64,
    /// Where each joule went.
    pub ledger: Ledger,
    /// Energy at the pack's terminals, net of regen, J.
    pub terminal_j: f64,
    /// Energy that regen put into the pack's terminals, J.
    pub regen_j: f64,
    /// Shifts.
    pub shifts: u32,
    /// Time held back by each limit (by [`Limit`] number), s.
    pub limited_s: [f64; Limit::COUNT],
    /// Time for which each limit cut regen back, s; part of `limited_s`.
    pub regen_limited_s: [f64; Limit::COUNT],
    /// Time for which the cells of each box of a pack in boxes, by its number as stated, were the ones
    /// at a limit, s.
    pub box_limited_s: [[f64; MOST_BOXES]; Limit::COUNT],
    /// ∫ I² dt of the pack, A²·s.
    pub pack_a2_s: f64,
    /// ∫ I² dt of the motor, A²·s.
    pub motor_a2_s: f64,
    /// How far it strained the car.
    pub extremes: Extremes,
    /// When a part first became so hot that it was cut back, s, and what says so.
    pub derated: Option<(f64, Limit)>,
    /// The box that says so, by its number as stated, where it is the cells that do.
    pub derated_in: usize,
    /// Time outside the trace's tolerance, s.
    pub outside_s: f64,
    /// Longest single time outside the tolerance, s.
    pub longest_outside_s: f64,
    /// Largest lag behind the trace's speed, m/s.
    pub largest_lag_mps: f64,
}

impl Drive {
    /// Root mean square of the pack current, A.
    pub fn rms_pack_a(&self) -> f64 {
        (self.pack_a2_s / self.time_s.max(1e-9)).sqrt()
    }

    /// Root mean square of the motor current, A.
    pub fn rms_motor_a(&self) -> f64 {
        (self.motor_a2_s / self.time_s.max(1e-9)).sqrt()
    }

    /// Whether the trace was followed within 40 CFR 86.115: no excursion of 2 s or more.
    pub fn within_tolerance(&self) -> bool {
        self.longest_outside_s < EXCURSION_S
    }

    /// The limit that held the car back longest, cut regen aside.
    pub fn held_back_by(&self) -> Option<Limit> {
        let held_s =
            |limit: &Limit| self.limited_s[*limit as usize] - self.regen_limited_s[*limit as usize];
        let longest = Limit::ALL.into_iter().max_by(|a, b| held_s(a).total_cmp(&held_s(b)));
        longest.filter(|limit| held_s(limit) > 0.0)
    }

    pub(super) fn begin(start: &State, gear: usize) -> Self {
        Self {
            end: *start,
            gear,
            ending: DriveEnding::Complete,
            time_s: 0.0,
            distance_m: 0.0,
            ledger: Ledger::default(),
            terminal_j: 0.0,
            regen_j: 0.0,
            shifts: 0,
            limited_s: [0.0; Limit::COUNT],
            regen_limited_s: [0.0; Limit::COUNT],
            box_limited_s: [[0.0; MOST_BOXES]; Limit::COUNT],
            pack_a2_s: 0.0,
            motor_a2_s: 0.0,
            extremes: Extremes::begin(start),
            derated: None,
            derated_in: 0,
            outside_s: 0.0,
            longest_outside_s: 0.0,
            largest_lag_mps: 0.0,
        }
    }

    /// Books a flow that held for a time.
    #[inline(always)]
    pub(super) fn book(&mut self, flow: &Flow, step_s: f64) {
        self.time_s += step_s;
        self.ledger.book(&flow.powers, step_s);
        let terminal_w = flow.pack_v * flow.pack_a;
        self.terminal_j += terminal_w * step_s;
        self.regen_j += (-terminal_w).max(0.0) * step_s;
        self.pack_a2_s += flow.pack_a * flow.pack_a * step_s;
        self.motor_a2_s += flow.motor_a * flow.motor_a * step_s;
        self.extremes.see(flow);
        if let Some(limit) = flow.limit {
            self.limited_s[limit as usize] += step_s;
            if flow.slows() {
                self.regen_limited_s[limit as usize] += step_s;
            }
        }
    }

    /// Books which box of a pack in boxes was at a limit of the cells.
    #[inline(never)]
    pub(super) fn held_in(
        &mut self,
        car: &Car,
        state: &State,
        flow: &Flow,
        limit: Limit,
        step_s: f64,
    ) {
        if !car.parts().pack.others.is_empty() {
            let own = car.box_that_holds(state, flow.pack_a, limit);
            self.box_limited_s[limit as usize][own] += step_s;
        }
    }

    /// The box that was at a limit for the longest time, by its number as stated; none of a pack in one
    /// box, nor of a limit that is not of the cells.
    pub fn box_at(&self, limit: Limit) -> Option<usize> {
        let each = self.box_limited_s[limit as usize];
        let longest = (0..MOST_BOXES).max_by(|a, b| each[*a].total_cmp(&each[*b]));
        longest.filter(|own| each[*own] > 0.0)
    }

    /// Takes in how warm the parts have become.
    #[inline(always)]
    pub(super) fn feel(&mut self, car: &Car, state: &State) {
        self.extremes.feel(state);
        if self.derated.is_none() {
            self.derated = car.thermal().too_hot(&state.temperature_k).map(|by| (self.time_s, by));
            if let Some((_, by)) = self.derated {
                self.derated_in = car.box_that_holds(state, 1.0, by);
            }
        }
    }
}

/// Drives a trace from a state, with steps of at most `step_s` (see [`STEP_S`]).
///
/// The car starts in `gear` (taken as engaged). The run ends with the trace, with an empty pack, or
/// when the pack has held the car back for too long; [`Drive::ending`] says which.
///
/// Where air or wind change along the trace ([`Trace::through`]), they do so with its stretches, as
/// its loads do: a car that lags behind meets them early. The state keeps what the air was before:
/// parts go towards the air of the place, and tyres roll as in it.
pub fn follow<R: Recorder>(
    car: &Car,
    trace: &Trace,
    driver: &Driver,
    start: &State,
    gear: usize,
    step_s: f64,
    recorder: &mut R,
) -> Drive {
    if trace.reaches().iter().any(|reach| reach.along.is_weather()) {
        travel(Traveller::of(car), trace, driver, start, gear, step_s, recorder)
    } else {
        travel(car, trace, driver, start, gear, step_s, recorder)
    }
}

#[inline(always)]
fn travel<C: Travels, R: Recorder>(
    mut car: C,
    trace: &Trace,
    driver: &Driver,
    start: &State,
    gear: usize,
    step_s: f64,
    recorder: &mut R,
) -> Drive {
    let mut reaches = trace.reaches().iter().peekable();
    if let Some(first) = reaches.next_if(|reach| reach.first == 0) {
        car.come_to(&first.along);
    }
    let mut run = Run::begin(car, trace, driver, start, gear, recorder);
    if let Some(ending) = run.given_out() {
        return run.end(ending);
    }
    let pace = Pace::new(step_s);
    for (number, stretch) in trace.stretches().iter().enumerate() {
        if C::CHANGES
            && let Some(next) = reaches.next_if(|reach| reach.first <= number)
        {
            run.come_to(&next.along);
        }
        run.choose_gear(stretch);
        let mut rest = Rest::of(stretch);
        // A long halt with the heater on must not draw from an empty pack.
        while !rest.is_over() && !run.is_empty() {
            let step = run.next_step(&pace, &rest);
            if run.take(&step) {
                rest.spend(step.for_s);
            } else {
                rest.refine();
            }
        }
        run.judge(stretch);
        if let Some(ending) = run.given_out() {
            return run.end(ending);
        }
    }
    run.end(DriveEnding::Complete)
}
