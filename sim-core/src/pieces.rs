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
//!
//! Where something in the car follows at once what it does (a tiny mass, a huge loss), steps of an
//! explicit pair stay as short as that is fast, however smooth the rest is. A run that has taken many
//! steps and is found to be of this kind goes on by the implicit method of `stiff`.

use crate::car::{Car, Flow, Request, Slope};
use crate::follow::{Moment, Recorder};
use crate::heat::Node;
use crate::ledger::{Account, Ledger};
use crate::root::{Bracket, Near};
use crate::state::State;
use crate::stiff::{self, Halt};
use ode_solvers::dop_shared::{IntegrationError, OutputType};
use ode_solvers::{Dopri5, SVector, System};
use std::cell::{Cell, OnceCell};
use std::convert::Infallible;

/// Numbers that are integrated: those of the state, then those of the ledger.
pub(crate) const SIZE: usize = State::COUNT + Account::COUNT;
pub(crate) type Vector = SVector<f64, SIZE>;
/// The ledger rides along in megajoules, so that one absolute tolerance fits all numbers.
const LEDGER_UNIT_J: f64 = 1e6;
/// Steps after which the solver, which keeps each of its steps, is begun anew.
const STEPS_AT_ONCE: u32 = 1000;
/// Steps between two looks at whether a run is stiff.
const LOOK_FOR_STIFFNESS: u32 = 100;
/// How much coarser than the explicit pair the implicit method is.
const STIFF_COARSER: f64 = 100.0;
/// First step of the implicit method at least, s; it need not follow what is faster.
const STIFF_FIRST_S: f64 = 1e-6;
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
    /// Steps after which a run that is found to be stiff goes on by the implicit method.
    pub stiff_after: u32,
}

impl Default for Tolerance {
    fn default() -> Self {
        Self {
            relative: 1e-7,
            absolute: 1e-8,
            longest_step_s: 1.0,
            most_steps: 50_000,
            stiff_after: 3000,
        }
    }
}

impl Tolerance {
    /// For a check of everything else.
    pub const TIGHT: Tolerance = Tolerance {
        relative: 1e-10,
        absolute: 1e-11,
        longest_step_s: 1.0,
        most_steps: 10_000_000,
        stiff_after: u32::MAX,
    };
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

/// What changes fastest in a car.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fastest {
    /// Its speed.
    Speed,
    /// The charge of its pack.
    Charge,
    /// The polarisation of its cells.
    Polarisation,
    /// The short-peak allowance of its cells.
    ShortPeaks,
    /// The temperature of a part.
    Heat(Node),
}

impl Fastest {
    /// Of a number of the state.
    fn of(number: usize) -> Self {
        let only: State = State::from_array(std::array::from_fn(|i| f64::from(i == number)));
        match Node::ALL.into_iter().find(|node| only.temperature_k[*node] != 0.0) {
            Some(node) => Fastest::Heat(node),
            None if only.charge != 0.0 => Fastest::Charge,
            None if only.polarisation_v != 0.0 => Fastest::Polarisation,
            None if only.peak_reserve != 0.0 => Fastest::ShortPeaks,
            None => Fastest::Speed,
        }
    }
}

impl std::fmt::Display for Fastest {
    fn fmt(&self, f: &mut std::fmt::Formatter) -> std::fmt::Result {
        f.write_str(match self {
            Fastest::Speed => "the speed",
            Fastest::Charge => "the charge",
            Fastest::Polarisation => "the polarisation of the cells",
            Fastest::ShortPeaks => "the short-peak allowance of the cells",
            Fastest::Heat(Node::Winding) => "the temperature of the winding",
            Fastest::Heat(Node::Housing) => "the temperature of the motor's housing",
            Fastest::Heat(Node::Sink) => "the temperature of the controller's heat sink",
            Fastest::Heat(Node::Cells | Node::Box2 | Node::Box3 | Node::Box4) => {
                "the temperature of the cells"
            }
            Fastest::Heat(Node::Cabin) => "the temperature of the cabin",
            Fastest::Heat(Node::Oil) => "the temperature of the gearbox's oil",
            Fastest::Heat(Node::Coolant) => "the temperature of the coolant",
        })
    }
}

/// The solver could not go on.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum Stuck {
    /// The run took too many steps.
    #[error(
        "the run was given up {at_s:.1} s after its start, after {steps} steps of the solver: {by} \
         changes far faster than the car drives, or goes to and fro without end"
    )]
    Steps {
        /// Time of the run at which it stopped, s.
        at_s: f64,
        /// Steps that were allowed.
        steps: u32,
        /// What changed fastest.
        by: Fastest,
    },
    /// Steps became too small to move time on.
    #[error(
        "the run was given up {at_s:.1} s after its start: {by} changes at once or without bounds"
    )]
    TooSmall {
        /// Time of the run at which it stopped, s.
        at_s: f64,
        /// What changed fastest.
        by: Fastest,
    },
}

impl Stuck {
    /// What changed fastest.
    pub fn by(&self) -> Fastest {
        match self {
            Stuck::Steps { by, .. } | Stuck::TooSmall { by, .. } => *by,
        }
    }
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
            let may_be_stiff = progress.steps >= tolerance.stiff_after;
            let taken = progress.accepted;
            let problem =
                Problem { piece: self, happens, from_s, progress, latest: Cell::default() };
            // The solver takes the mean over all numbers, among which boxes that are not there do not
            // change: with this share their number makes no difference.
            let still = self.car.thermal().idle() as f64;
            let share = (1.0 - still / SIZE as f64).sqrt();
            let mut solver = Dopri5::from_param(
                problem,
                at_s,
                until_s,
                left_s,
                start,
                share * tolerance.relative,
                share * tolerance.absolute,
                0.9,
                0.04,
                0.2,
                10.0,
                longest_s,
                first_s,
                most_steps,
                if may_be_stiff { LOOK_FOR_STIFFNESS } else { u32::MAX },
                OutputType::Sparse,
            );
            match solver.integrate() {
                Ok(stats) => progress.steps += stats.accepted_steps + stats.rejected_steps,
                // That many steps were taken at least; those that were repeated are not told.
                Err(IntegrationError::MaxNumStepReached { .. }) => {
                    progress.steps = tolerance.most_steps;
                    return Err(self.stuck(Halt::Steps, from_s, tolerance, progress));
                }
                Err(_) if tolerance.stiff_after == u32::MAX => {
                    return Err(self.stuck(Halt::TooSmall, from_s, tolerance, progress));
                }
                Err(_) => {
                    progress.steps += progress.accepted - taken;
                    self.implicitly(from_s, until_s, longest_s, tolerance, happens, progress)?;
                }
            }
        }
        Ok(())
    }

    /// The same by the implicit method.
    fn implicitly<R: Recorder, E: Copy>(
        &self,
        from_s: f64,
        until_s: f64,
        longest_s: f64,
        tolerance: &Tolerance,
        happens: &impl Fn(&Sight<'_>) -> Option<E>,
        progress: &mut Progress<'_, R, E>,
    ) -> Result<(), Stuck> {
        while progress.fell.is_none() && until_s - progress.at.0 > BRIEF_S {
            let start = progress.at;
            let way = stiff::Way {
                until_s,
                first_s: progress.step_s.max(STIFF_FIRST_S).min(longest_s).min(until_s - start.0),
                longest_s,
                within: (STIFF_COARSER * tolerance.relative, STIFF_COARSER * tolerance.absolute),
                most_steps: tolerance.most_steps.saturating_sub(progress.steps) / stiff::COST,
            };
            let mut problem =
                Problem { piece: self, happens, from_s, progress, latest: Cell::default() };
            let (steps, ended) = stiff::integrate(&mut problem, start, &way);
            progress.steps += stiff::COST * steps;
            ended.map_err(|halt| self.stuck(halt, from_s, tolerance, progress))?;
        }
        Ok(())
    }

    /// Why a run is given up, and on what.
    fn stuck<R: Recorder, E: Copy>(
        &self,
        halt: Halt,
        from_s: f64,
        tolerance: &Tolerance,
        progress: &mut Progress<'_, R, E>,
    ) -> Stuck {
        let (x, y) = progress.at;
        let happens = |_: &Sight<'_>| None;
        let problem =
            Problem { piece: self, happens: &happens, from_s, progress, latest: Cell::default() };
        let mut rates = Vector::zeros();
        problem.system(x, &y, &mut rates);
        let slopes = stiff::slopes_at(&problem, x, &y, &rates);
        let pace = |i: &usize| {
            let slope = slopes[(*i, *i)].abs();
            if rates[*i].is_finite() && slope.is_finite() { slope } else { f64::INFINITY }
        };
        let fastest = (0..State::COUNT).max_by(|a, b| pace(a).total_cmp(&pace(b)));
        let (at_s, by) = (from_s + x, fastest.map_or(Fastest::Speed, Fastest::of));
        match halt {
            Halt::Steps => Stuck::Steps { at_s, steps: tolerance.most_steps, by },
            Halt::TooSmall => Stuck::TooSmall { at_s, by },
        }
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
