//! Smooth pieces of a drive, integrated by the adaptive Dormand–Prince pair of `ode_solvers` and
//! ended by events.
//!
//! Between two events (a shift, a speed reached, a limit that takes over) the right-hand side is
//! smooth and the solver's error control can be trusted. The solver stops after the step in which
//! an event fell; where in the step it fell is found here, by bisection on the cubic Hermite
//! interpolant, and the last step is then integrated anew up to that time.

use crate::car::{Car, Flow, Request, Slope};
use crate::follow::{Moment, Recorder};
use crate::ledger::{Account, Ledger};
use crate::root::Bracket;
use crate::state::State;
use ode_solvers::dop_shared::OutputType;
use ode_solvers::{Dopri5, SVector, System};

const SIZE: usize = State::COUNT + Account::COUNT;
type Vector = SVector<f64, SIZE>;
/// The ledger rides along in megajoules, so that one absolute tolerance fits all numbers.
const LEDGER_UNIT_J: f64 = 1e6;

/// How closely pieces are integrated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tolerance {
    /// Relative tolerance.
    pub relative: f64,
    /// Absolute tolerance, in m/s, m, K, V, shares and MJ.
    pub absolute: f64,
    /// Longest step, s; no event that comes and goes within it is seen.
    pub longest_step_s: f64,
}

impl Default for Tolerance {
    fn default() -> Self {
        Self { relative: 1e-7, absolute: 1e-8, longest_step_s: 1.0 }
    }
}

impl Tolerance {
    /// For a check of everything else.
    pub const TIGHT: Tolerance =
        Tolerance { relative: 1e-10, absolute: 1e-11, longest_step_s: 1.0 };
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
}

impl Place {
    /// The start of a run.
    pub fn start(state: State) -> Self {
        Self { time_s: 0.0, state, ledger: Ledger::default() }
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

    fn from_vector(time_s: f64, v: &Vector) -> Self {
        let mut ledger = [0.0; Account::COUNT];
        for (joules, slot) in ledger.iter_mut().zip(&v.as_slice()[State::COUNT..]) {
            *joules = slot * LEDGER_UNIT_J;
        }
        Self { time_s, state: state_of(v), ledger: Ledger::from_array(ledger) }
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
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("the integration stopped after {at_s:.1} s: {why}")]
pub struct Stuck {
    /// Time of the run at which it stopped, s.
    pub at_s: f64,
    /// The solver's reason.
    pub why: String,
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

impl<P: Fn(f64, &State) -> Request> Piece<'_, P> {
    /// What happens at a time and a state.
    pub fn flow(&self, time_s: f64, state: &State) -> Flow {
        let now = self.car.now(state, 0.0);
        self.car.act(&now, state.speed_mps, self.slope, self.gear, (self.ask)(time_s, state))
    }

    fn rates(&self, time_s: f64, v: &Vector) -> Vector {
        let state = state_of(v);
        let flow = self.flow(time_s, &state);
        let mut rates = Vector::zeros();
        rates.as_mut_slice()[..State::COUNT]
            .copy_from_slice(&self.car.rates(&state, &flow).to_array());
        for (slot, watts) in
            rates.as_mut_slice()[State::COUNT..].iter_mut().zip(flow.powers.to_array())
        {
            *slot = watts / LEDGER_UNIT_J;
        }
        rates
    }

    /// Integrates from a place until a time or until `leaves` says so, whichever comes first.
    /// Returns the place reached and whether an event ended the piece.
    ///
    /// `leaves` must be false at the start; it is asked after every step.
    ///
    /// # Errors
    /// [`Stuck`] when the solver needs too small or too many steps.
    pub fn run<R: Recorder>(
        &self,
        from: &Place,
        until_s: f64,
        tolerance: &Tolerance,
        leaves: impl Fn(f64, &State) -> bool,
        recorder: &mut R,
    ) -> Result<(Place, bool), Stuck> {
        if until_s - from.time_s <= 1e-12 {
            return Ok((*from, false));
        }
        let start = from.to_vector();
        let (times, points) = self.integrate(from.time_s, start, until_s, tolerance, &leaves)?;
        let last = times.len() - 1;
        let left = last > 0 && leaves(times[last], &state_of(&points[last]));
        let whole_steps = if left { last - 1 } else { last };
        for i in 1..=whole_steps {
            self.show(times[i - 1], times[i], &points[i], recorder);
        }
        if !left {
            return Ok((Place::from_vector(times[last], &points[last]), false));
        }
        let (before_s, before) = (times[last - 1], points[last - 1]);
        let event_s = self.locate(before_s, &before, times[last], &points[last], &leaves);
        let end = if event_s > before_s {
            let (_, points) =
                self.integrate(before_s, before, event_s, tolerance, &|_, _| false)?;
            points[points.len() - 1]
        } else {
            before
        };
        self.show(before_s, event_s, &end, recorder);
        Ok((Place::from_vector(event_s, &end), true))
    }

    fn show<R: Recorder>(&self, from_s: f64, to_s: f64, end: &Vector, recorder: &mut R) {
        let state = state_of(end);
        let flow = self.flow(to_s, &state);
        recorder.record(&Moment {
            time_s: to_s,
            step_s: to_s - from_s,
            state: &state,
            flow: &flow,
            gear: Some(self.gear),
            slope: self.slope,
            trace_mps: state.speed_mps,
        });
    }

    fn integrate(
        &self,
        from_s: f64,
        start: Vector,
        until_s: f64,
        tolerance: &Tolerance,
        leaves: &dyn Fn(f64, &State) -> bool,
    ) -> Result<(Vec<f64>, Vec<Vector>), Stuck> {
        struct Problem<'p, P> {
            piece: &'p Piece<'p, P>,
            leaves: &'p dyn Fn(f64, &State) -> bool,
        }
        impl<P: Fn(f64, &State) -> Request> System<f64, Vector> for Problem<'_, P> {
            fn system(&self, x: f64, y: &Vector, dy: &mut Vector) {
                *dy = self.piece.rates(x, y);
            }
            fn solout(&mut self, x: f64, y: &Vector, _: &Vector) -> bool {
                (self.leaves)(x, &state_of(y))
            }
        }
        // Time runs from 0 in each piece: the solver's smallest step goes with its time.
        let span_s = until_s - from_s;
        let shifted = Piece {
            car: self.car,
            gear: self.gear,
            slope: self.slope,
            ask: |t: f64, s: &State| (self.ask)(from_s + t, s),
        };
        let asked = |t: f64, s: &State| leaves(from_s + t, s);
        let problem = Problem { piece: &shifted, leaves: &asked };
        let mut solver = Dopri5::from_param(
            problem,
            0.0,
            span_s,
            span_s,
            start,
            tolerance.relative,
            tolerance.absolute,
            0.9,
            0.04,
            0.2,
            10.0,
            tolerance.longest_step_s.min(span_s),
            (0.01 * tolerance.longest_step_s).min(span_s),
            10_000_000,
            u32::MAX,
            OutputType::Sparse,
        );
        solver.integrate().map_err(|e| Stuck { at_s: from_s, why: e.to_string() })?;
        let times = solver.x_out().iter().map(|t| from_s + t).collect();
        Ok((times, solver.y_out().clone()))
    }

    /// Time within a step at which `leaves` turns true.
    fn locate(
        &self,
        from_s: f64,
        from: &Vector,
        to_s: f64,
        to: &Vector,
        leaves: &dyn Fn(f64, &State) -> bool,
    ) -> f64 {
        let h = to_s - from_s;
        let (slope_from, slope_to) = (self.rates(from_s, from) * h, self.rates(to_s, to) * h);
        let at = |u: f64| {
            let v = 1.0 - u;
            let (a, b) = (v * v * (1.0 + 2.0 * u), u * u * (3.0 - 2.0 * u));
            from * a + to * b + slope_from * (u * v * v) - slope_to * (u * u * v)
        };
        let left = Bracket { holds: 1.0, fails: 0.0 }
            .closed(1e-9, |u| leaves(from_s + u * h, &state_of(&at(u))));
        from_s + left.holds * h
    }
}
