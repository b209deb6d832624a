//! What a car holds: continuously, and for thirty minutes.
//!
//! *Continuous* is the trade's word for what motor and controller bear however long it lasts: with
//! what cools them they settle below the temperatures at which they are cut back. The cells would
//! take hours beyond an empty pack to settle; they are followed until the pack gives out, and are to
//! stay within their currents and temperatures until then.
//!
//! *Thirty minutes* are the time of the standards: the 30-minute speed of ISO 8715 and the
//! 30-minute power of UN Regulation No. 85 (both from memory).

use crate::car::{Car, Request, Slope};
use crate::heat::{Heat, Node, PerNode};
use crate::limit::Limit;
use crate::pull::net_power_at;
use crate::root::{self, Bracket};
use crate::state::State;
use crate::units::s_from_min;
use std::cell::Cell;

/// A time after which polarisation and heat have settled, s.
pub const SETTLED_S: f64 = 1e9;
/// Loss of speed that counts as not held, m/s².
pub(super) const HELD_MPS2: f64 = 1e-6;
/// Steps in which a speed is followed until the pack gives out, and in thirty minutes, s.
const LONG_STEP_S: f64 = 30.0;
const STEP_S: f64 = 10.0;
/// Time after which nothing more is looked for, s.
const MOST_S: f64 = 24.0 * 3600.0;
/// Speeds of a gear that are tried in a search for the highest, and halvings that follow.
pub(super) const SPEEDS: u32 = 24;
pub(super) const SPEED_HALVINGS: u32 = 12;
/// How far beyond what is held it is asked what stands in the way, as a share.
const BEYOND: f64 = 2e-3;
/// Motor speeds at which thirty minutes are tried, and halvings of the power at each.
const BENCH_SPEEDS: u32 = 40;
const POWER_HALVINGS: u32 = 12;
/// How much more power makes another motor speed worth looking into, as a share.
const WORTH_MORE: f64 = 2e-4;
/// Least net power at a speed of the bench, as a share of the largest (UN R85, from memory).
const NET_POWER_SHARE: f64 = 0.9;

/// Thermal equilibrium at a steady speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Equilibrium {
    /// State with the temperatures of motor, controller and what cools them settled; charge and
    /// cells are those of the start.
    pub state: State,
    /// What happens then.
    pub flow: crate::car::Flow,
}

/// Settles the temperatures of motor, controller and what cools them at a steady speed on a slope in
/// a gear, at the charge and the cells' temperature of a start.
///
/// Solved by repeating the steady balance of the network with the losses of the temperatures so far.
/// Where losses grow with temperature, as in copper, that comes closer from one side, or runs away
/// past the warnings. Where it overshoots by more each time, a node that turns back goes half as far
/// from then on.
///
/// # Errors
/// What stands in the way of the speed, or is above its warning before equilibrium.
pub fn equilibrium(
    car: &Car,
    start: &State,
    slope: Slope,
    speed_mps: f64,
    gear: usize,
) -> Result<Equilibrium, Limit> {
    // Polarisation settled, the short peaks used up.
    let mut state =
        State { speed_mps, polarisation_v: 0.0, peak_reserve: 0.0, tyre_chill_k: 0.0, ..*start };
    let mut share = PerNode::of(|_| 1.0);
    let mut moved_k = PerNode::<f64>::default();
    let run_away_k = car.parts().motor.derating.cut_off_k + 200.0;
    for _ in 0..500 {
        let now = car.now(&state, SETTLED_S);
        let flow = car.act(&now, speed_mps, slope, gear, Request::Accelerate(0.0));
        if let Some(limit) = flow.limit.filter(|_| flow.acceleration_mps2 < -1e-9) {
            return Err(limit);
        }
        let mut settled_k = car.thermal().mean_k(&state.temperature_k, &flow.heat, SETTLED_S);
        // A thermostat holds the cabin, and the cells are followed by themselves.
        settled_k[Node::Cabin] = state.temperature_k[Node::Cabin];
        for node in Node::BOXES {
            settled_k[node] = state.temperature_k[node];
        }
        let winding_k = settled_k[Node::Winding];
        if winding_k > run_away_k || !winding_k.is_finite() {
            return Err(Limit::MotorHeat);
        }
        let gap_k = PerNode::of(|node| settled_k[node] - state.temperature_k[node]);
        if gap_k.iter().all(|k| k.abs() < 1e-6) {
            state.temperature_k = settled_k;
            return match car.thermal().too_hot(&settled_k) {
                Some(limit) => Err(limit),
                None => Ok(Equilibrium { state, flow }),
            };
        }
        for node in Node::ALL {
            if gap_k[node] * moved_k[node] < 0.0 {
                share[node] *= 0.5;
            }
            moved_k[node] = share[node] * gap_k[node];
            state.temperature_k[node] += moved_k[node];
        }
    }
    Err(car.thermal().too_hot(&state.temperature_k).unwrap_or(Limit::MotorHeat))
}

/// Holds the speed of a state on a slope in a gear, stepped by the implicit midpoint rule, and says
/// what ends it: the loss of speed, an empty pack, or what is `over` a temperature. `None` where
/// nothing does within a time.
pub(super) fn end_of_hold(
    car: &Car,
    from: State,
    (slope, gear): (Slope, usize),
    (for_s, step_s): (f64, f64),
    over: impl Fn(&State) -> Option<Limit>,
) -> Option<Limit> {
    let mut state = from;
    let mut gone_s = 0.0;
    while gone_s < for_s {
        let now = car.now(&state, step_s);
        let flow = car.act(&now, state.speed_mps, slope, gear, Request::Accelerate(0.0));
        if flow.acceleration_mps2 < -HELD_MPS2 {
            return Some(flow.limit.unwrap_or(Limit::MotorTorque));
        }
        if car.parts().pack.is_empty(&state) && flow.pack_a > 0.0 {
            return Some(Limit::Charge);
        }
        if let Some(limit) = over(&state) {
            return Some(limit);
        }
        car.warm(&mut state, &flow, step_s);
        gone_s += step_s;
    }
    None
}

/// Temperature to which the warmest cells come on the level at the speed of a state in a gear until the pack
/// gives out, or within a day, K. A speed that is not held gives what they had when it was lost.
pub fn cells_in_the_end_k(car: &Car, from: &State, gear: usize) -> f64 {
    let warmest_k = |state: &State| car.parts().pack.warmest_k(&state.temperature_k);
    let seen_k = Cell::new(warmest_k(from));
    end_of_hold(car, *from, (Slope::LEVEL, gear), (MOST_S, LONG_STEP_S), |state| {
        seen_k.set(warmest_k(state));
        None
    });
    seen_k.get()
}

/// Whether a speed on a slope in a gear is held continuously, and the equilibrium of motor and
/// controller where it is.
///
/// # Errors
/// What stands in the way: the limiter.
pub fn continuous(
    car: &Car,
    start: &State,
    slope: Slope,
    speed_mps: f64,
    gear: usize,
) -> Result<Equilibrium, Limit> {
    let settled = equilibrium(car, start, slope, speed_mps, gear)?;
    let from = State { speed_mps, distance_m: 0.0, ..*start };
    let too_hot = |s: &State| car.thermal().too_hot(&s.temperature_k);
    match end_of_hold(car, from, (slope, gear), (MOST_S, LONG_STEP_S), too_hot) {
        Some(limit) if !limit.is_an_exhausted_pack() => Err(limit),
        _ => Ok(settled),
    }
}

/// The highest speed of a gear that is held in some way, m/s, and what stands in the way of more.
///
/// Scanned from the highest motor speed down, then halved.
fn highest(car: &Car, gear: usize, ends: impl Fn(f64) -> Option<Limit>) -> Option<(f64, Limit)> {
    let grid = speeds_mps(car, gear);
    let most_mps = grid(f64::from(SPEEDS));
    let speed_mps = root::highest(SPEEDS, &grid, SPEED_HALVINGS, |v| ends(v).is_none())?;
    let beyond_mps = speed_mps * (1.0 + BEYOND);
    let by = if beyond_mps < most_mps { ends(beyond_mps) } else { None };
    Some((speed_mps, by.unwrap_or(Limit::Rpm)))
}

/// Speeds of a gear, numbered up to [`SPEEDS`], which is just short of the motor's highest.
pub(super) fn speeds_mps(car: &Car, gear: usize) -> impl Fn(f64) -> f64 {
    let most_mps = car.top_speed_by_rpm_mps(gear);
    move |i| most_mps * i / f64::from(SPEEDS) * 0.999
}

/// The highest speed that is held [continuously](continuous) on a slope in a gear, m/s, and what
/// limits it; `None` if there is none.
pub fn highest_continuous_speed(
    car: &Car,
    start: &State,
    slope: Slope,
    gear: usize,
) -> Option<(f64, Limit)> {
    highest(car, gear, |v| continuous(car, start, slope, v, gear).err())
}

/// What the driven wheels give continuously in a gear at a speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ContinuousForce {
    /// Force, N.
    pub force_n: f64,
    /// The slope that takes it.
    pub slope: Slope,
    /// What limits it; `None` up to the steepest slope that is tried, 60 %.
    pub by: Option<Limit>,
}

/// Force of the driven wheels that is held [continuously](continuous) in a gear at a speed: that of
/// the steepest slope, by bisection up to 60 %. `None` where not even the level road is held.
pub fn continuous_force(
    car: &Car,
    start: &State,
    speed_mps: f64,
    gear: usize,
) -> Option<ContinuousForce> {
    let at = |grade: f64| continuous(car, start, Slope::from_grade(grade), speed_mps, gear);
    let mut found = (at(0.0).ok()?, Slope::LEVEL);
    let mut by = None;
    Bracket { holds: 0.0, fails: 0.6 }.halved(20, |grade| match at(grade) {
        Ok(steeper) => {
            found = (steeper, Slope::from_grade(grade));
            true
        }
        Err(limit) => {
            by = Some(limit);
            false
        }
    });
    Some(ContinuousForce { force_n: found.0.flow.drive_n, slope: found.1, by })
}

/// 30-minute speed in a gear on the level, m/s, and what limits it: the highest that the car holds
/// for thirty minutes from a state (ISO 8715, from memory). The short peaks of the cells were used
/// up in reaching it. `None` if there is none.
pub fn thirty_minute_speed(car: &Car, start: &State, gear: usize) -> Option<(f64, Limit)> {
    let road = (Slope::LEVEL, gear);
    let time = (s_from_min(30.0), STEP_S);
    highest(car, gear, |speed_mps| {
        let from = State { speed_mps, distance_m: 0.0, peak_reserve: 0.0, ..*start };
        end_of_hold(car, from, road, time, |_| None)
    })
}

/// What motor and controller give for thirty minutes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ThirtyMinutePower {
    /// Power at the shaft, W.
    pub power_w: f64,
    /// Motor speed, rad/s.
    pub radps: f64,
    /// What limits it.
    pub by: Limit,
}

/// 30-minute power: the largest steady power at the motor's shaft for thirty minutes (UN Regulation
/// No. 85, from memory), at a motor speed at which the net power is at least 90 % of its largest.
///
/// As on a bench: the fan of the shaft blows, and no road air. In place of the bench's supply the
/// car's pack feeds it, with the charge and the cells of a state, their short peaks used up. `None`
/// for a motor that gives no power.
pub fn thirty_minute_power(car: &Car, start: &State) -> Option<ThirtyMinutePower> {
    let fed = State { peak_reserve: 0.0, ..*start };
    let now = car.now(&fed, 0.0);
    let net_w = |radps: f64| net_power_at(car, &now, radps);
    let speeds =
        (1..=BENCH_SPEEDS).map(|i| car.max_radps() * f64::from(i) / f64::from(BENCH_SPEEDS));
    let net: Vec<(f64, f64)> = speeds.map(|radps| (radps, net_w(radps))).collect();
    let largest_w = net.iter().map(|(_, w)| *w).fold(0.0, f64::max);
    if largest_w <= 0.0 {
        return None;
    }
    let ends = |radps: f64, power_w: f64| end_on_bench(car, &fed, radps, power_w / radps);
    // First those that bear all their power the longest, so that few others are looked into.
    let powerful = net.into_iter().filter(|(_, net_w)| *net_w >= NET_POWER_SHARE * largest_w);
    let mut speeds: Vec<(f64, f64, f64)> = powerful
        .map(|(radps, net_w)| {
            (ends(radps, net_w).map_or(f64::INFINITY, |(after_s, _)| after_s), radps, net_w)
        })
        .collect();
    speeds.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut best: Option<ThirtyMinutePower> = None;
    for (after_s, radps, net_w) in speeds {
        let mut by = Limit::MotorTorque;
        let mut bears = |power_w: f64| match ends(radps, power_w) {
            Some((_, limit)) => {
                by = limit;
                false
            }
            None => true,
        };
        let known_w = best.map_or(0.0, |b| b.power_w * (1.0 + WORTH_MORE));
        let power_w = if net_w <= known_w {
            continue;
        } else if after_s == f64::INFINITY {
            net_w
        } else if bears(known_w) {
            Bracket { holds: known_w, fails: net_w }.halved(POWER_HALVINGS, bears).holds
        } else {
            continue;
        };
        best = Some(ThirtyMinutePower { power_w, radps, by });
    }
    best
}

/// What ends a torque at a motor speed on a bench within thirty minutes, if anything does, and when,
/// s.
fn end_on_bench(car: &Car, from: &State, radps: f64, torque_nm: f64) -> Option<(f64, Limit)> {
    let mut state = *from;
    let mut gone_s = 0.0;
    while gone_s < s_from_min(30.0) {
        let now = car.now(&state, SETTLED_S);
        let heat: Heat = match car.on_bench(&now, radps, torque_nm) {
            Ok(heat) => heat,
            Err(limit) => return Some((gone_s, limit)),
        };
        let before_k = state.temperature_k;
        car.thermal().step(&mut state.temperature_k, &heat, STEP_S);
        for node in Node::BOXES {
            state.temperature_k[node] = before_k[node];
        }
        gone_s += STEP_S;
    }
    None
}
