//! Full-throttle runs: in one gear, and through the gears by a plan.

mod phases;
mod quickest;
mod table;
mod top_speed;

pub use phases::Spell;
pub use quickest::{Aim, Planner, Quickest};
pub(crate) use top_speed::net_power_at;
pub use top_speed::{TopSpeed, net_power_w, steepest_start, top_speed, top_speed_of_all};

use crate::car::{Car, Request, Slope};
use crate::drive::shift;
use crate::follow::{Moment, Recorder};
use crate::pieces::{Piece, Place, Sight, Stuck, Tolerance};
use crate::state::State;
use phases::Phases;
use std::cell::Cell;

/// A change of gear.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlannedShift {
    /// Speed at which the gear before it is left, m/s.
    pub at_mps: f64,
    /// The gear after it.
    pub to: usize,
}

/// Which gears a pull uses.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// The gear at the start.
    pub first: usize,
    /// What follows, in order. A shift comes at its speed, or where the gear before it gives out.
    pub shifts: Vec<PlannedShift>,
}

impl Plan {
    /// One gear from start to end.
    pub fn in_gear(gear: usize) -> Self {
        Self { first: gear, shifts: Vec::new() }
    }
}

/// What is to be measured.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    /// Gears.
    pub plan: Plan,
    /// Slope.
    pub slope: Slope,
    /// Speeds to time, m/s, rising.
    pub speeds_mps: Vec<f64>,
    /// Distances to time, m, rising.
    pub distances_m: Vec<f64>,
    /// When to give up, s.
    pub most_s: f64,
}

/// Passing a speed or a distance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// Time, s.
    pub time_s: f64,
    /// Speed, m/s.
    pub speed_mps: f64,
    /// Distance, m.
    pub distance_m: f64,
}

impl Mark {
    fn of(place: &Place) -> Self {
        Self {
            time_s: place.time_s,
            speed_mps: place.state.speed_mps,
            distance_m: place.state.distance_m,
        }
    }
}

/// How a pull ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PullEnding {
    /// All marks were passed.
    Passed,
    /// Nothing was gained any more.
    Spent,
    /// The weakest cell was empty.
    Empty,
    /// The time was over.
    TimeUp,
}

/// A full-throttle run.
#[derive(Debug, Clone, PartialEq)]
pub struct Pull {
    /// How it ended.
    pub ending: PullEnding,
    /// Time at each asked speed; `None` where it was not reached.
    pub at_speeds: Vec<Option<Mark>>,
    /// Time at each asked distance; `None` where it was not reached.
    pub at_distances: Vec<Option<Mark>>,
    /// When each shift that came began.
    pub at_shifts: Vec<Mark>,
    /// What held the car back, from start to end.
    pub phases: Vec<Spell>,
    /// End of the run.
    pub end: Place,
    /// Kinetic energy at the end, J.
    pub kinetic_j: f64,
}

impl Pull {
    /// Time between two of the asked speeds, s.
    pub fn between_s(&self, from: usize, to: usize) -> Option<f64> {
        Some((*self.at_speeds.get(to)?)?.time_s - (*self.at_speeds.get(from)?)?.time_s)
    }
}

/// Acceleration under which the car has reached its top speed, m/s².
const SPENT_MPS2: f64 = 5e-4;
/// Speed under which a car that gains nothing stands, m/s.
const STANDS_MPS: f64 = 0.1;

/// What ends a piece of a pull.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Event {
    Speed,
    Distance,
    Shift,
    Spent,
    Empty,
}

/// Drives a course at full throttle from a state.
///
/// It ends when all marks are passed, when nothing is gained any more and no distance is left to
/// time, when the weakest cell is empty, or after `most_s`.
///
/// # Errors
/// [`Stuck`] when the solver cannot go on.
pub fn pull<R: Recorder>(
    car: &Car,
    start: &State,
    course: &Course,
    tolerance: &Tolerance,
    recorder: &mut R,
) -> Result<Pull, Stuck> {
    let place = Place::start(State { distance_m: 0.0, ..*start });
    let mut run = Run {
        car,
        course,
        tolerance,
        recorder,
        gear: course.plan.first,
        place,
        at_speeds: Vec::with_capacity(course.speeds_mps.len()),
        at_distances: Vec::with_capacity(course.distances_m.len()),
        at_shifts: Vec::with_capacity(course.plan.shifts.len()),
        spent: false,
        phases: Phases::default(),
    };
    let ending = run.drive()?;
    let kinetic_j = car.kinetic_j(run.place.state.speed_mps, Some(run.gear));
    Ok(Pull {
        ending,
        at_speeds: padded(run.at_speeds, course.speeds_mps.len()),
        at_distances: padded(run.at_distances, course.distances_m.len()),
        at_shifts: run.at_shifts,
        phases: run.phases.all,
        end: run.place,
        kinetic_j,
    })
}

/// Marks with `None` for those that were not passed.
fn padded(passed: Vec<Mark>, count: usize) -> Vec<Option<Mark>> {
    let mut marks: Vec<Option<Mark>> = passed.into_iter().map(Some).collect();
    marks.resize(count, None);
    marks
}

/// A pull under way.
struct Run<'a, R> {
    car: &'a Car,
    course: &'a Course,
    tolerance: &'a Tolerance,
    recorder: &'a mut R,
    gear: usize,
    place: Place,
    at_speeds: Vec<Mark>,
    at_distances: Vec<Mark>,
    at_shifts: Vec<Mark>,
    /// Whether it is known that nothing is gained any more.
    spent: bool,
    phases: Phases,
}

impl<R: Recorder> Run<'_, R> {
    fn drive(&mut self) -> Result<PullEnding, Stuck> {
        while !self.passed() {
            if self.place.time_s >= self.course.most_s {
                return Ok(PullEnding::TimeUp);
            }
            match self.stretch(Request::FullThrottle, self.course.most_s)? {
                None | Some(Event::Speed | Event::Distance) => {}
                Some(Event::Shift) => self.shift()?,
                Some(Event::Spent) => {
                    let rolls = self.place.state.speed_mps > STANDS_MPS;
                    if self.next_shift().is_some() {
                        self.shift()?;
                    } else if rolls && self.next_distance_m().is_finite() {
                        self.spent = true;
                    } else {
                        return Ok(PullEnding::Spent);
                    }
                }
                Some(Event::Empty) => return Ok(PullEnding::Empty),
            }
        }
        Ok(PullEnding::Passed)
    }

    fn next_speed_mps(&self) -> f64 {
        self.course.speeds_mps.get(self.at_speeds.len()).copied().unwrap_or(f64::INFINITY)
    }

    fn next_distance_m(&self) -> f64 {
        self.course.distances_m.get(self.at_distances.len()).copied().unwrap_or(f64::INFINITY)
    }

    fn next_shift(&self) -> Option<PlannedShift> {
        self.course.plan.shifts.get(self.at_shifts.len()).copied()
    }

    fn passed(&self) -> bool {
        self.next_speed_mps() == f64::INFINITY && self.next_distance_m() == f64::INFINITY
    }

    /// Drives until something happens, at most until a time, and notes the marks that it passes.
    fn stretch(&mut self, request: Request, until_s: f64) -> Result<Option<Event>, Stuck> {
        let Self { car, gear, .. } = *self;
        let pulls = request == Request::FullThrottle;
        let piece = Piece { car, gear, slope: self.course.slope, ask: |_: f64, _: &State| request };
        let (speed_mps, distance_m) = (self.next_speed_mps(), self.next_distance_m());
        let shift_mps = match self.next_shift() {
            Some(shift) if pulls => shift.at_mps,
            _ => f64::INFINITY,
        };
        let (shifts, gives_out) = (self.next_shift().is_some(), Cell::new(false));
        let asks_gain = pulls && !self.spent;
        let pack = &car.parts().pack;
        let happens = |sight: &Sight<'_>| {
            let s = sight.state;
            // When nothing is gained any more is timed only where a shift follows.
            if let Some(flow) = sight.known_flow() {
                gives_out.set(flow.acceleration_mps2 < SPENT_MPS2);
            }
            let flow =
                if shifts && gives_out.get() { Some(sight.flow()) } else { sight.known_flow() };
            if s.speed_mps >= speed_mps {
                Some(Event::Speed)
            } else if s.distance_m >= distance_m {
                Some(Event::Distance)
            } else if s.speed_mps >= shift_mps {
                Some(Event::Shift)
            } else if asks_gain && flow.is_some_and(|f| f.acceleration_mps2 < SPENT_MPS2) {
                Some(Event::Spent)
            } else if pulls && flow.is_some_and(|f| f.pack_a > 0.0) && pack.is_empty(s) {
                Some(Event::Empty)
            } else {
                None
            }
        };
        let first = piece.flow(self.place.time_s, &self.place.state);
        let shown_gear = pulls.then_some(gear);
        self.phases.begin(shown_gear, first.limit, &self.place);
        let (phases, recorder) = (&mut self.phases, &mut *self.recorder);
        let mut last = (self.place.time_s, self.place.state, first.acceleration_mps2);
        let mut watch = |m: &Moment<'_>| {
            phases.see(&piece, last, m);
            last = (m.time_s, *m.state, m.flow.acceleration_mps2);
            recorder.record(m);
        };
        let (reached, event) =
            piece.run(&self.place, until_s, self.tolerance, happens, &mut watch)?;
        self.place = reached;
        match event {
            Some(Event::Speed) => self.at_speeds.push(Mark::of(&self.place)),
            Some(Event::Distance) => self.at_distances.push(Mark::of(&self.place)),
            _ => {}
        }
        Ok(event)
    }

    /// Rolls through the shift time and engages the next gear.
    fn shift(&mut self) -> Result<(), Stuck> {
        let Some(planned) = self.next_shift() else { return Ok(()) };
        self.at_shifts.push(Mark::of(&self.place));
        let rotor_mps = self.place.state.speed_mps;
        let until_s = self.place.time_s + self.car.parts().gearbox.shift_s;
        let rolling = Request::Disconnected(f64::INFINITY);
        while self.stretch(rolling, until_s)?.is_some() {}
        let turning = shift::Shift { from: self.gear, to: planned.to, rotor_mps };
        let place = &mut self.place;
        place.state.speed_mps = turning.engage(self.car, place.state.speed_mps, &mut place.ledger);
        self.gear = planned.to;
        Ok(())
    }
}
