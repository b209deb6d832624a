//! Smooth pieces of a drive, integrated by the adaptive Dormand–Prince pair of `ode_solvers` and
//! ended by events.
//!
//! The caller names what ends a piece: a mark that is passed, a shift, a part at its warning
//! temperature, an empty pack. Each is told once, and the caller goes on without it, so that a run
//! has no more pieces than it has events. A limit that takes over from another is none: the car
//! obeys the least of all limits, which bends where two cross but does not jump, so that error
//! control steps over the bend, and two limits that hold equally cannot stop the run.
//!
//! The solver stops after the step in which an event fell; where in the step it fell is found here,
//! by bisection on the cubic Hermite interpolant, and the last step is then integrated anew up to
//! that time. Steps are shown as they come and not kept; a run that takes too many is given up.

use crate::car::{Car, Flow, Request, Slope};
use crate::follow::{Moment, Recorder};
use crate::ledger::{Account, Ledger};
use crate::root::{Bracket, Near};
use crate::state::State;
use ode_solvers::dop_shared::{IntegrationError, OutputType};
use ode_solvers::{Dopri5, SVector, System};
use std::cell::{Cell, OnceCell};
use std::convert::Infallible;

const SIZE: usize = State::COUNT + Account::COUNT;
type Vector = SVector<f64, SIZE>;
/// The ledger rides along in megajoules, so that one absolute tolerance fits all numbers.
const LEDGER_UNIT_J: f64 = 1e6;
/// Steps after which the solver, which keeps each of its steps, is begun anew.
const STEPS_AT_ONCE: u32 = 1000;
/// A time in which nothing moves, s.
const BRIEF_S: f64 = 1e-12;
/// How closely the time of an event is known, s, and how often it is looked for anew.
const SHARP_S: f64 = 1e-8;
const MOST_LOOKS: u32 = 8;
/// Longest step, as a share of the time that a piece may take, where that is more.
const SHARE_OF_RUN: f64 = 5e-5;

/// How closely pieces are integrated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tolerance {
    /// Relative tolerance.
    pub relative: f64,
    /// Absolute tolerance, in m/s, m, K, V, shares and MJ.
    pub absolute: f64,
    /// Longest step, s; no event that comes and goes within it is seen.
    pub longest_step_s: f64,
    /// Steps of the solver, those that it had to repeat counted, after which a run is given up.
    pub most_steps: u32,
}

impl Default for Tolerance {
    fn default() -> Self {
        Self { relative: 1e-7, absolute: 1e-8, longest_step_s: 1.0, most_steps: 50_000 }
    }
}

impl Tolerance {
    /// For a check of everything else.
    pub const TIGHT: Tolerance =
        Tolerance { relative: 1e-10, absolute: 1e-11, longest_step_s: 1.0, most_steps: 10_000_000 };
}

/// Where a run has got to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Time from the start, s.
    pub time_s: f64,
    /// State of the car.
    pub state: State,
    /// Books so far, J.
    pub ledger: Ledger,
    /// Steps of the solver so far, those that it had to repeat counted.
    pub steps: u32,
}

impl Place {
    /// The start of a run.
    pub fn start(state: State) -> Self {
        Self { time_s: 0.0, state, ledger: Ledger::default(), steps: 0 }
    }

    fn to_vector(self) -> Vector {
        let mut v = Vector::zeros();
        v.as_mut_slice()[..State::COUNT].copy_from_slice(&self.state.to_array());
        for (slot, joules) in
            v.as_mut_slice()[State::COUNT..].iter_mut().zip(self.ledger.to_array())
        {
            *slot = joules / LEDGER_UNIT_J;
        }
        v
    }

    fn from_vector(time_s: f64, v: &Vector, steps: u32) -> Self {
        let mut ledger = [0.0; Account::COUNT];
        for (joules, slot) in ledger.iter_mut().zip(&v.as_slice()[State::COUNT..]) {
            *joules = slot * LEDGER_UNIT_J;
        }
        Self { time_s, state: state_of(v), ledger: Ledger::from_array(ledger), steps }
    }
}

fn state_of(v: &Vector) -> State {
    let mut numbers = [0.0; State::COUNT];
    numbers.copy_from_slice(&v.as_slice()[..State::COUNT]);
    let mut state = State::from_array(numbers);
    state.speed_mps = state.speed_mps.max(0.0);
    state.peak_reserve = state.peak_reserve.clamp(0.0, 1.0);
    state
}

/// The solver could not go on.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum Stuck {
    /// The run took too many steps.
    #[error(
        "the run was given up {at_s:.1} s after its start, after {steps} steps of the solver: \
         something in the car changes far faster than the car drives, as with a tiny mass or time \
         constant, or goes to and fro without end"
    )]
    Steps {
        /// Time of the run at which it stopped, s.
        at_s: f64,
        /// Steps that were allowed.
        steps: u32,
    },
    /// Steps became too small to move time on.
    #[error(
        "the run was given up {at_s:.1} s after its start: something in the car changes at once or \
         without bounds, as with a tiny mass or time constant or a huge loss"
    )]
    TooSmall {
        /// Time of the run at which it stopped, s.
        at_s: f64,
    },
}

/// A piece: a gear, a slope and what the driver asks for as time and state go on.
pub struct Piece<'a, P> {
    /// The car.
    pub car: &'a Car,
    /// The gear; with [`Request::Disconnected`] the one that was left.
    pub gear: usize,
    /// The road.
    pub slope: Slope,
    /// The driver.
    pub ask: P,
}

/// What is seen of a run at an instant, when it is asked whether something happens there.
pub struct Sight<'a> {
    /// Time from the start of the run, s.
    pub time_s: f64,
    /// State of the car.
    pub state: &'a State,
    /// What the car does, if that is not yet known.
    work_out: &'a dyn Fn() -> Flow,
    flow: OnceCell<Flow>,
}

impl Sight<'_> {
    /// What the car does, worked out when first asked for.
    pub fn flow(&self) -> &Flow {
        self.flow.get_or_init(self.work_out)
    }

    /// What the car does if that is known, as it is at the end of each step. Of an event that is
    /// read off this alone, the place is the end of the step.
    pub fn known_flow(&self) -> Option<&Flow> {
        self.flow.get()
    }
}

/// For a piece that nothing ends but its time.
pub fn never(_: &Sight<'_>) -> Option<Infallible> {
    None
}

/// How far the solver has got in a piece.
struct Progress<'r, R, E> {
    recorder: &'r mut R,
    /// Time from the start of the piece, s, and where the run was: where the step began if an
    /// event fell in it, else where it ended.
    at: (f64, Vector),
    /// Last step, s, or the first one to try.
    step_s: f64,
    /// The end of the step in which an event fell, and the event.
    fell: Option<(End, E)>,
    accepted: u32,
    /// Steps of the run so far.
    steps: u32,
}

/// The end of a step: time from the start of the piece, s, values and rates.
type End = (f64, Vector, Vector);

/// Keeps moments until it is known that they count.
#[derive(Default)]
struct Kept(Vec<(f64, f64, State, Flow, Option<usize>)>);

impl Recorder for Kept {
    fn record(&mut self, m: &Moment<'_>) {
        self.0.push((m.time_s, m.step_s, *m.state, *m.flow, m.gear));
    }
}

/// A piece as the solver sees it. Time runs from 0 in each piece: the solver's smallest step goes
/// with its time.
struct Problem<'p, 'r, P, H, R, E> {
    piece: &'p Piece<'p, P>,
    happens: &'p H,
    from_s: f64,
    progress: &'p mut Progress<'r, R, E>,
    /// What the car did where it was asked last (at the end of a step, when it is accepted), and
    /// where it found a limit.
    latest: Cell<(Option<Flow>, Option<Near>)>,
}

impl<P, H, R, E> System<f64, Vector> for Problem<'_, '_, P, H, R, E>
where
    P: Fn(f64, &State) -> Request,
    H: Fn(&Sight<'_>) -> Option<E>,
    R: Recorder,
{
    fn system(&self, x: f64, y: &Vector, dy: &mut Vector) {
        let state = state_of(y);
        let (flow, near) = self.piece.flow_near(self.from_s + x, &state, self.latest.get().1);
        *dy = self.piece.rates_of(&state, &flow);
        self.latest.set((Some(flow), near));
    }

    fn solout(&mut self, x: f64, y: &Vector, dy: &Vector) -> bool {
        let state = state_of(y);
        let time_s = self.from_s + x;
        let flow = self.latest.get().0.unwrap_or_else(|| self.piece.flow(time_s, &state));
        let sight = Sight {
            time_s,
            state: &state,
            work_out: &|| self.piece.flow(time_s, &state),
            flow: OnceCell::from(flow),
        };
        let progress = &mut *self.progress;
        if let Some(event) = (self.happens)(&sight) {
            progress.fell = Some(((x, *y, *dy), event));
            return true;
        }
        progress.step_s = x - progress.at.0;
        progress.at = (x, *y);
        progress.accepted += 1;
        progress.recorder.record(&Moment {
            time_s,
            step_s: progress.step_s,
            state: &state,
            flow: &flow,
            gear: match (self.piece.ask)(time_s, &state) {
                Request::Disconnected(_) => None,
                _ => Some(self.piece.gear),
            },
            slope: self.piece.slope,
            trace_mps: state.speed_mps,
        });
        progress.accepted.is_multiple_of(STEPS_AT_ONCE)
    }
}

impl<P: Fn(f64, &State) -> Request> Piece<'_, P> {
    /// What happens at a time and a state.
    pub fn flow(&self, time_s: f64, state: &State) -> Flow {
        self.flow_near(time_s, state, None).0
    }

    fn flow_near(&self, time_s: f64, state: &State, near: Option<Near>) -> (Flow, Option<Near>) {
        let now = self.car.now(state, 0.0);
        let request = (self.ask)(time_s, state);
        let attempt = self.car.attempt(&now, state.speed_mps, self.slope, self.gear, request, near);
        (attempt.flow(), attempt.near())
    }

    fn rates_of(&self, state: &State, flow: &Flow) -> Vector {
        let mut rates = Vector::zeros();
        rates.as_mut_slice()[..State::COUNT]
            .copy_from_slice(&self.car.rates(state, flow).to_array());
        for (slot, watts) in
            rates.as_mut_slice()[State::COUNT..].iter_mut().zip(flow.powers.to_array())
        {
            *slot = watts / LEDGER_UNIT_J;
        }
        rates
    }

    /// Integrates from a place until a time, or until something `happens`, whichever comes first.
    /// Returns the place reached and the event that ended the piece, if one did.
    ///
    /// What `happens` is asked at the start and after every step; what has happened once must still
    /// have happened at the step's end. The place is that of the event to within rounding, on either side of it: the
    /// event is told, and is not to be read off the place.
    ///
    /// # Errors
    /// [`Stuck`] when the solver needs too small or too many steps.
    pub fn run<R: Recorder, E: Copy>(
        &self,
        from: &Place,
        until_s: f64,
        tolerance: &Tolerance,
        happens: impl Fn(&Sight<'_>) -> Option<E>,
        recorder: &mut R,
    ) -> Result<(Place, Option<E>), Stuck> {
        let at_once = happens(&Sight {
            time_s: from.time_s,
            state: &from.state,
            work_out: &|| self.flow(from.time_s, &from.state),
            flow: OnceCell::from(self.flow(from.time_s, &from.state)),
        });
        if at_once.is_some() || until_s - from.time_s <= BRIEF_S {
            return Ok((*from, at_once));
        }
        let (from_s, span_s) = (from.time_s, until_s - from.time_s);
        let mut progress = Progress {
            recorder,
            at: (0.0, from.to_vector()),
            step_s: 0.01 * tolerance.longest_step_s,
            fell: None,
            accepted: 0,
            steps: from.steps,
        };
        self.integrate(from_s, span_s, tolerance, &happens, &mut progress)?;
        let Some((end, event)) = progress.fell.take() else {
            return Ok((Place::from_vector(until_s, &progress.at.1, progress.steps), None));
        };
        let (fallen_s, values, event) =
            self.fallen(from_s, tolerance, &happens, &mut progress, (end, event))?;
        Ok((Place::from_vector(from_s + fallen_s, &values, progress.steps), Some(event)))
    }

    /// When in the last step the event fell: its time from the start of the piece, s, the values
    /// there, and which it was. What lies before it is integrated anew and shown.
    fn fallen<R: Recorder, E: Copy>(
        &self,
        from_s: f64,
        tolerance: &Tolerance,
        happens: &impl Fn(&Sight<'_>) -> Option<E>,
        progress: &mut Progress<'_, R, E>,
        (end, mut event): (End, E),
    ) -> Result<(f64, Vector, E), Stuck> {
        let told = |x: f64, v: &Vector| {
            let (time_s, state) = (from_s + x, state_of(v));
            let work_out = || self.flow(time_s, &state);
            let sight = Sight { time_s, state: &state, work_out: &work_out, flow: OnceCell::new() };
            happens(&sight)
        };
        let step = progress.at;
        let (mut before, mut after) = (step, end);
        let mut looks = 0;
        loop {
            looks += 1;
            let at = self.interpolant(from_s, before, after);
            let time = |u: f64| before.0 + u * (after.0 - before.0);
            let fallen = Bracket { holds: 1.0, fails: 0.0 }.closed(1e-9, |u| {
                told(time(u), &at(u)).inspect(|earlier| event = *earlier).is_some()
            });
            let fallen_s = time(fallen.holds);
            let mut kept = Kept::default();
            let mut again = Progress::<_, E> {
                recorder: &mut kept,
                at: step,
                step_s: fallen_s - step.0,
                fell: None,
                accepted: 0,
                steps: progress.steps,
            };
            self.integrate(from_s, fallen_s, tolerance, &|_: &Sight<'_>| None, &mut again)?;
            progress.steps = again.steps;
            let values = again.at.1;
            let state = state_of(&values);
            let rates = self.rates_of(&state, &self.flow(from_s + fallen_s, &state));
            // The interpolant is cubic at best, and less where a limit takes over in the step.
            let sooner = told(fallen_s - SHARP_S, &(values - rates * SHARP_S));
            let later = told(fallen_s + SHARP_S, &(values + rates * SHARP_S));
            match (sooner, later) {
                (Some(sooner), _) if looks < MOST_LOOKS => {
                    (event, after) = (sooner, (fallen_s, values, rates));
                }
                (None, None) if looks < MOST_LOOKS && fallen_s < after.0 => {
                    before = (fallen_s, values);
                }
                _ => {
                    for (time_s, step_s, state, flow, gear) in &kept.0 {
                        progress.recorder.record(&Moment {
                            time_s: *time_s,
                            step_s: *step_s,
                            state,
                            flow,
                            gear: *gear,
                            slope: self.slope,
                            trace_mps: state.speed_mps,
                        });
                    }
                    return Ok((fallen_s, values, event));
                }
            }
        }
    }

    /// Integrates from where the progress is, to a time counted from `from_s`.
    fn integrate<R: Recorder, E: Copy>(
        &self,
        from_s: f64,
        until_s: f64,
        tolerance: &Tolerance,
        happens: &impl Fn(&Sight<'_>) -> Option<E>,
        progress: &mut Progress<'_, R, E>,
    ) -> Result<(), Stuck> {
        while progress.fell.is_none() && until_s - progress.at.0 > BRIEF_S {
            let (at_s, start) = progress.at;
            let left_s = until_s - at_s;
            // Over hours a step may be longer.
            let longest_s = tolerance.longest_step_s.max(left_s * SHARE_OF_RUN).min(left_s);
            let first_s = progress.step_s.min(longest_s);
            let most_steps = tolerance.most_steps.saturating_sub(progress.steps);
            let problem =
                Problem { piece: self, happens, from_s, progress, latest: Cell::default() };
            let mut solver = Dopri5::from_param(
                problem,
                at_s,
                until_s,
                left_s,
                start,
                tolerance.relative,
                tolerance.absolute,
                0.9,
                0.04,
                0.2,
                10.0,
                longest_s,
                first_s,
                most_steps,
                u32::MAX,
                OutputType::Sparse,
            );
            let stats = solver.integrate().map_err(|e| match e {
                IntegrationError::StepSizeUnderflow { x } => Stuck::TooSmall { at_s: from_s + x },
                IntegrationError::MaxNumStepReached { x, .. }
                | IntegrationError::StiffnessDetected { x } => {
                    Stuck::Steps { at_s: from_s + x, steps: tolerance.most_steps }
                }
            })?;
            drop(solver);
            progress.steps += stats.accepted_steps + stats.rejected_steps;
        }
        Ok(())
    }

    /// The cubic through the ends of a step and their rates, over the share of the step.
    fn interpolant(
        &self,
        from_s: f64,
        (before_s, before): (f64, Vector),
        (after_s, after, after_rates): End,
    ) -> impl Fn(f64) -> Vector + use<P> {
        let h = after_s - before_s;
        let state = state_of(&before);
        let before_rates = self.rates_of(&state, &self.flow(from_s + before_s, &state));
        let (slope_from, slope_to) = (before_rates * h, after_rates * h);
        move |u: f64| {
            let v = 1.0 - u;
            let (a, b) = (v * v * (1.0 + 2.0 * u), u * u * (3.0 - 2.0 * u));
            before * a + after * b + slope_from * (u * v * v) - slope_to * (u * u * v)
        }
    }
}
