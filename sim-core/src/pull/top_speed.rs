//! What full throttle ends at: the top speed of a gear, and the steepest start.

use crate::car::{Car, Request, Slope};
use crate::limit::Limit;
use crate::root::{self, Bracket};
use crate::state::State;

/// Parts into which the speeds of a gear are cut when its top speed is looked for.
const TOP_SPEED_STEPS: u32 = 400;

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
