//! What full throttle ends at: the top speed of a gear, and the steepest start.

use crate::car::{Car, Instant, Request, Slope};
use crate::limit::Limit;
use crate::root::{self, Bracket, Close, Point};
use crate::state::State;

use super::SPENT_MPS2;

/// Parts into which the speeds of a gear are cut.
const SPEEDS: u32 = 400;
/// Distance over which a top speed is kept, m (ISO 8715, from memory).
const KEPT_M: f64 = 1000.0;
/// Step of the run, s.
const STEP_S: f64 = 0.5;
/// How closely the speed at which forces balance is known, m/s.
const BALANCED_MPS: f64 = 1e-9;
/// When the run is given up, s.
const MOST_S: f64 = 900.0;

/// A top speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TopSpeed {
    /// Speed, m/s; 0 for a car that never gains any.
    pub speed_mps: f64,
    /// What sets it.
    pub by: Option<Limit>,
}

/// Top speed in a gear on a slope: the highest mean speed over one kilometre of a run at full
/// throttle in that gear (maximum speed of ISO 8715, from memory), and what then holds the car back.
///
/// The run begins at rest, or at the lowest speed from which the gear gains any, and goes on for a
/// kilometre after nothing more is gained: what the cells give for seconds only is not kept. It is
/// stepped by the implicit midpoint rule; at the motor's highest speed the driver holds the speed.
pub fn top_speed(car: &Car, start: &State, slope: Slope, gear: usize) -> TopSpeed {
    let full = |state: &State, v: f64, for_s: f64| {
        car.act(&car.now(state, for_s), v, slope, gear, Request::FullThrottle)
    };
    let highest = car.top_speed_by_rpm_mps(gear);
    let whole_mps = car.whole_torque_mps(gear);
    let grid = |i: u32| highest * f64::from(i) / f64::from(SPEEDS);
    let gains = |i: &u32| full(start, grid(*i), 0.0).acceleration_mps2 > SPENT_MPS2;
    let Some(first) = (0..SPEEDS).find(gains) else {
        return TopSpeed { speed_mps: 0.0, by: full(start, grid(1), 0.0).limit };
    };
    let mut state = State { speed_mps: grid(first), distance_m: 0.0, ..*start };
    // Time and distance at the end of each step, and what held the car back in it.
    let mut course: Vec<(f64, f64, Option<Limit>)> = vec![(0.0, 0.0, None)];
    let (mut time_s, mut end_m) = (0.0, f64::INFINITY);
    while time_s < MOST_S && state.distance_m < end_m {
        let v = state.speed_mps;
        let begin = full(&state, v, 0.0);
        let reached_mps = v + STEP_S * begin.acceleration_mps2;
        let near_highest = reached_mps > whole_mps;
        let ceiling = if near_highest { balance(car, &state, slope, gear) } else { None };
        let held = ceiling.filter(|mps| reached_mps >= *mps || v > whole_mps);
        let (flow, next_mps, by) = match held {
            Some(mps) => {
                let now = car.now(&state, STEP_S);
                let there = Request::Accelerate((mps - v) / STEP_S);
                (car.act(&now, 0.5 * (v + mps), slope, gear, there), mps, Some(Limit::Rpm))
            }
            None => {
                let middle_mps = (v + 0.5 * STEP_S * begin.acceleration_mps2).max(0.0);
                let flow = full(&state, middle_mps.min(highest), STEP_S);
                (flow, (v + STEP_S * flow.acceleration_mps2).max(0.0), flow.limit)
            }
        };
        if end_m == f64::INFINITY && (next_mps - v) / STEP_S < SPENT_MPS2 {
            end_m = state.distance_m + KEPT_M;
        }
        if car.parts().pack.is_empty(&state) && flow.pack_a > 0.0 {
            break;
        }
        car.warm(&mut state, &flow, STEP_S);
        state.distance_m += 0.5 * (v + next_mps) * STEP_S;
        state.speed_mps = next_mps;
        time_s += STEP_S;
        course.push((time_s, state.distance_m, by));
    }
    kept(&course)
}

/// The highest mean speed over the distance that counts.
fn kept(course: &[(f64, f64, Option<Limit>)]) -> TopSpeed {
    let mut best = TopSpeed { speed_mps: 0.0, by: course.last().and_then(|end| end.2) };
    let mut from = 0;
    for (time_s, distance_m, by) in course {
        let begin_m = distance_m - KEPT_M;
        if begin_m < 0.0 {
            continue;
        }
        while course[from + 1].1 <= begin_m {
            from += 1;
        }
        let (before, after) = (course[from], course[from + 1]);
        let share = (begin_m - before.1) / (after.1 - before.1);
        let begin_s = before.0 + share * (after.0 - before.0);
        let speed_mps = KEPT_M / (time_s - begin_s);
        if speed_mps > best.speed_mps {
            best = TopSpeed { speed_mps, by: *by };
        }
    }
    best
}

/// The highest speed up to that of the highest rpm at which full throttle does not lose any; `None`
/// where it does already where the gear still has its whole torque.
fn balance(car: &Car, state: &State, slope: Slope, gear: usize) -> Option<f64> {
    let now = car.now(state, 0.0);
    let gain_mps2 =
        |v: f64| car.attempt(&now, v, slope, gear, Request::FullThrottle, None).acceleration_mps2();
    let (whole, highest) = (car.whole_torque_mps(gear), car.top_speed_by_rpm_mps(gear));
    let at_highest = gain_mps2(highest);
    if at_highest >= 0.0 {
        return Some(highest);
    }
    let held = Point { at: whole, value: gain_mps2(whole), with: () };
    let close = Close { apart: BALANCED_MPS, value: 0.0 };
    let zero = || root::crossing(held, (highest, at_highest), close, |v| (gain_mps2(v), ()));
    (held.value >= 0.0).then(|| zero().near.at)
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

/// The highest [`top_speed`] of all gears.
pub fn top_speed_of_all(car: &Car, start: &State, slope: Slope) -> TopSpeed {
    let mut gears: Vec<usize> = (0..car.gears()).collect();
    let by_rpm_mps = |gear: &usize| car.top_speed_by_rpm_mps(*gear);
    gears.sort_by(|a, b| by_rpm_mps(b).total_cmp(&by_rpm_mps(a)));
    let mut highest = TopSpeed { speed_mps: 0.0, by: None };
    for gear in gears {
        // A gear is not driven where the motor's highest speed is no better.
        if by_rpm_mps(&gear) > highest.speed_mps {
            let found = top_speed(car, start, slope, gear);
            if highest.by.is_none() || found.speed_mps > highest.speed_mps {
                highest = found;
            }
        }
    }
    highest
}

/// Net power: the most that motor and controller give at the shaft at a state, W.
///
/// The largest `T·ω` at full throttle over the speeds of the highest gear, in which neither grip
/// nor a coarse step of speed stands in the way. UN Regulation No. 85 measures an electric drive so,
/// with its controller (from memory).
pub fn net_power_w(car: &Car, state: &State) -> f64 {
    let now = car.now(state, 0.0);
    let highest = car.max_radps();
    (1..=SPEEDS)
        .map(|i| net_power_at(car, &now, highest * f64::from(i) / f64::from(SPEEDS)))
        .fold(0.0, f64::max)
}

/// The same at a motor speed.
pub(crate) fn net_power_at(car: &Car, now: &Instant, radps: f64) -> f64 {
    let gear = car.gears() - 1;
    let speed_mps = radps / car.motor_radps(gear, 1.0);
    let flow = car.act(now, speed_mps, Slope::LEVEL, gear, Request::FullThrottle);
    flow.torque_nm * flow.radps
}
