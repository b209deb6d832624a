//! Full-throttle runs: in one gear and through the gears.

use crate::car::{Car, Request, Slope};
use crate::drive::shift::Shift;
use crate::follow::Recorder;
use crate::limit::Limit;
use crate::pieces::{Piece, Place, Stuck, Tolerance};
use crate::root::{self, Bracket};
use crate::state::State;

/// Which gears a pull uses.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Gears {
    /// One gear from start to end.
    Single(usize),
    /// From this gear up, shifting where the next one pulls harder or the motor runs out of speed.
    Through(usize),
    /// From this gear up, each held to the motor's highest speed.
    Held(usize),
}

/// What is to be measured.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    /// Gears.
    pub gears: Gears,
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

/// A part of the pull under one limit in one gear (`gear` is `None` during a shift).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Phase {
    /// Gear.
    pub gear: Option<usize>,
    /// What held the car back.
    pub limit: Option<Limit>,
    /// Start.
    pub from: Mark,
    /// End.
    pub to: Mark,
}

/// A full-throttle run.
#[derive(Debug, Clone, PartialEq)]
pub struct Pull {
    /// Time at each asked speed; `None` where it was not reached.
    pub at_speeds: Vec<Option<Mark>>,
    /// Time at each asked distance; `None` where it was not reached.
    pub at_distances: Vec<Option<Mark>>,
    /// What held the car back, from start to end.
    pub phases: Vec<Phase>,
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
/// How much harder the next gear must pull to be worth a shift.
const SHIFT_GAIN: f64 = 1.01;
/// Parts into which the speeds of a gear are cut when its top speed is looked for.
const TOP_SPEED_STEPS: u32 = 400;

/// Drives a course at full throttle from a state.
///
/// It ends when all marks are passed, when nothing is gained any more, or after `most_s`.
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
    let mut gear = match course.gears {
        Gears::Single(gear) | Gears::Through(gear) | Gears::Held(gear) => gear,
    };
    let mut place = Place::start(State { distance_m: 0.0, ..*start });
    let passed = |place: &Place, value: f64, mark: f64| (value >= mark).then(|| mark_of(place));
    let mut at_speeds: Vec<Option<Mark>> =
        course.speeds_mps.iter().map(|v| passed(&place, start.speed_mps, *v)).collect();
    let mut at_distances: Vec<Option<Mark>> = vec![None; course.distances_m.len()];
    let mut phases: Vec<Phase> = Vec::new();

    while place.time_s < course.most_s {
        let next_speed = at_speeds.iter().position(Option::is_none);
        let next_distance = at_distances.iter().position(Option::is_none);
        if next_speed.is_none() && next_distance.is_none() {
            break;
        }
        let piece = Piece {
            car,
            gear,
            slope: course.slope,
            ask: |_: f64, _: &State| Request::FullThrottle,
        };
        let flow = piece.flow(place.time_s, &place.state);
        let limit = flow.limit;
        let shifts = |state: &State| match course.gears {
            Gears::Single(_) => false,
            Gears::Through(_) => next_is_better(car, course.slope, state, gear),
            Gears::Held(_) => {
                let spent = piece.flow(0.0, state).limit == Some(Limit::Rpm);
                spent && next_is_better(car, course.slope, state, gear)
            }
        };
        if flow.acceleration_mps2 < SPENT_MPS2 && !shifts(&place.state) {
            break;
        }
        if shifts(&place.state) {
            let before = place;
            place = shift(car, place, gear, course, tolerance, recorder)?;
            note(&mut phases, None, None, &before, &place);
            // Marks that fall into the shift itself are passed at its end at the latest.
            for (slot, speed) in at_speeds.iter_mut().zip(&course.speeds_mps) {
                if slot.is_none() && place.state.speed_mps >= *speed {
                    *slot = Some(mark_of(&place));
                }
            }
            for (slot, distance) in at_distances.iter_mut().zip(&course.distances_m) {
                if slot.is_none() && place.state.distance_m >= *distance {
                    *slot = Some(at_distance(&before, &place, *distance));
                }
            }
            gear += 1;
            continue;
        }
        let aim_mps = next_speed.map_or(f64::INFINITY, |i| course.speeds_mps[i]);
        let aim_m = next_distance.map_or(f64::INFINITY, |i| course.distances_m[i]);
        let leaves = |t: f64, s: &State| {
            let flow = piece.flow(t, s);
            s.speed_mps >= aim_mps
                || s.distance_m >= aim_m
                || flow.limit != limit
                || flow.acceleration_mps2 < SPENT_MPS2
                || shifts(s)
        };
        let before = place;
        let (reached, _) = piece.run(&place, course.most_s, tolerance, leaves, recorder)?;
        place = reached;
        note(&mut phases, Some(gear), limit, &before, &place);
        let slack = 1e-6;
        if let Some(i) = next_speed
            && place.state.speed_mps >= aim_mps - slack
        {
            at_speeds[i] = Some(mark_of(&place));
        }
        if let Some(i) = next_distance
            && place.state.distance_m >= aim_m - slack
        {
            at_distances[i] = Some(mark_of(&place));
        }
    }
    // At its top speed the car covers what is left of the course evenly.
    for (slot, distance) in at_distances.iter_mut().zip(&course.distances_m) {
        let speed_mps = place.state.speed_mps;
        let time_s = place.time_s + (distance - place.state.distance_m) / speed_mps;
        if slot.is_none() && speed_mps > 0.0 && time_s <= course.most_s {
            *slot = Some(Mark { time_s, speed_mps, distance_m: *distance });
        }
    }
    let kinetic_j = car.kinetic_j(place.state.speed_mps, Some(gear));
    Ok(Pull { at_speeds, at_distances, phases, end: place, kinetic_j })
}

fn mark_of(place: &Place) -> Mark {
    Mark {
        time_s: place.time_s,
        speed_mps: place.state.speed_mps,
        distance_m: place.state.distance_m,
    }
}

/// Passing a distance between two places at about even speed.
fn at_distance(from: &Place, to: &Place, distance_m: f64) -> Mark {
    let share = (distance_m - from.state.distance_m)
        / (to.state.distance_m - from.state.distance_m).max(1e-12);
    Mark {
        time_s: from.time_s + share * (to.time_s - from.time_s),
        speed_mps: from.state.speed_mps + share * (to.state.speed_mps - from.state.speed_mps),
        distance_m,
    }
}

/// Adds a stretch to the phases, or lengthens the last one if nothing but a mark lay between.
fn note(
    phases: &mut Vec<Phase>,
    gear: Option<usize>,
    limit: Option<Limit>,
    from: &Place,
    to: &Place,
) {
    match phases.last_mut() {
        Some(last) if last.gear == gear && last.limit == limit => last.to = mark_of(to),
        _ => phases.push(Phase { gear, limit, from: mark_of(from), to: mark_of(to) }),
    }
}

/// Whether the next gear pulls harder here, or this one has run out of motor speed.
fn next_is_better(car: &Car, slope: Slope, state: &State, gear: usize) -> bool {
    if gear + 1 >= car.gears() {
        return false;
    }
    let now = car.now(state, 0.0);
    let gain = |g: usize| {
        let flow = car.act(&now, state.speed_mps, slope, g, Request::FullThrottle);
        (flow.acceleration_mps2, flow.drive_n)
    };
    let (present, pull_n) = gain(gear);
    let (next, next_n) = gain(gear + 1);
    next > present && next_n > SHIFT_GAIN * pull_n
}

/// Rolls through the shift time and engages the next gear.
fn shift<R: Recorder>(
    car: &Car,
    from: Place,
    gear: usize,
    course: &Course,
    tolerance: &Tolerance,
    recorder: &mut R,
) -> Result<Place, Stuck> {
    let piece = Piece {
        car,
        gear,
        slope: course.slope,
        ask: |_: f64, _: &State| Request::Disconnected(f64::INFINITY),
    };
    let until_s = from.time_s + car.parts().gearbox.shift_s;
    let (mut place, _) = piece.run(&from, until_s, tolerance, |_, _| false, recorder)?;
    let shift = Shift { from: gear, to: gear + 1, rotor_mps: from.state.speed_mps };
    place.state.speed_mps = shift.engage(car, place.state.speed_mps, &mut place.ledger);
    Ok(place)
}

/// Top speed in a gear at a state, m/s, and what sets it (`None`: the balance of forces; a car
/// that cannot pull away at all has 0).
///
/// The largest speed at which the acceleration at full throttle is not negative, by scanning down
/// from the highest motor speed and bisecting.
pub fn top_speed(car: &Car, state: &State, slope: Slope, gear: usize) -> (f64, Option<Limit>) {
    let now = car.now(state, 0.0);
    let at = |v: f64| car.act(&now, v, slope, gear, Request::FullThrottle);
    let highest = car.top_speed_by_rpm_mps(gear);
    let speed = |i: f64| highest * i / f64::from(TOP_SPEED_STEPS);
    match root::highest(TOP_SPEED_STEPS, speed, 50, |v| at(v).acceleration_mps2 >= 0.0) {
        None => (0.0, at(speed(1.0)).limit),
        Some(v) if v == speed(f64::from(TOP_SPEED_STEPS)) => (highest, Some(Limit::Rpm)),
        Some(v) => (v, at(v).limit),
    }
}

/// The highest [`top_speed`] of all gears, m/s, and what sets it.
pub fn top_speed_of_all(car: &Car, state: &State, slope: Slope) -> (f64, Option<Limit>) {
    (0..car.gears())
        .map(|gear| top_speed(car, state, slope, gear))
        .fold((0.0, None), |a, b| if b.0 > a.0 { b } else { a })
}

/// Net power: the most that motor and controller give at the shaft at a state, W.
///
/// The largest `T·ω` at full throttle over the speeds of the highest gear, in which neither grip
/// nor a coarse step of speed stands in the way. UN Regulation No. 85 measures an electric drive so,
/// with its controller (from memory).
pub fn net_power_w(car: &Car, state: &State) -> f64 {
    let now = car.now(state, 0.0);
    let gear = car.gears() - 1;
    let highest_mps = car.top_speed_by_rpm_mps(gear);
    (1..=TOP_SPEED_STEPS)
        .map(|i| highest_mps * f64::from(i) / f64::from(TOP_SPEED_STEPS))
        .map(|v| car.act(&now, v, Slope::LEVEL, gear, Request::FullThrottle))
        .map(|flow| flow.torque_nm * flow.radps)
        .fold(0.0, f64::max)
}

/// Steepest grade (rise over run) on which the car pulls away in a gear with at least 0.1 m/s² to
/// spare (common practice, no source), by bisection up to 100 %.
pub fn steepest_start(car: &Car, state: &State, gear: usize) -> f64 {
    let now = car.now(state, 0.0);
    let pulls = |grade: f64| {
        let slope = Slope::from_grade(grade);
        car.act(&now, 0.0, slope, gear, Request::FullThrottle).acceleration_mps2 >= 0.1
    };
    if !pulls(0.0) {
        return 0.0;
    }
    if pulls(1.0) {
        return 1.0;
    }
    Bracket { holds: 0.0, fails: 1.0 }.halved(40, pulls).holds
}
