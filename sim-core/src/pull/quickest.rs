//! The quickest way through the gears to a speed or over a distance: where to start, which gears
//! to take, and at which speeds to shift.
//!
//! What each gear gives is [tabled](super::table) once, with the slow part of the state (charge,
//! heat) as a run driven for real had it at each speed; how that would change with the shifts is left
//! out. By the table the best plan is searched, and what comes within 0.4 % of it is driven for
//! real; the quickest of these runs is the answer. No single gear is left out of this.
//!
//! Where cells came to the end of their short peaks, so that what is spent early is missing later,
//! the shifts of what the table found are moved, each time walked through the table again, for as
//! long as that gains. Where motor or controller were cut back for their heat, the same is done with
//! runs driven for real.
//!
//! Of random cars no single gear and no plan by hand is quicker by more than 0.6 %
//! (`tests/outside/quickest.rs`).

use super::table::{Peaks, Table, Way, best_first};
use super::{Course, Plan, Pull, pull};
use crate::car::{Car, Slope};
use crate::follow::Moment;
use crate::limit::Limit;
use crate::pieces::{Stuck, Tolerance};
use crate::state::State;
use crate::units::GRAVITY_MPS2;
use std::cmp::Ordering;

/// What a pull is for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Aim {
    /// Reaching a speed, m/s.
    Speed(f64),
    /// Covering a distance, m.
    Distance(f64),
}

impl Aim {
    /// Whether it lies beyond another: speeds beyond distances, and each by its size.
    fn beyond(&self, other: &Aim) -> Ordering {
        match (self, other) {
            (Aim::Speed(a), Aim::Speed(b)) | (Aim::Distance(a), Aim::Distance(b)) => a.total_cmp(b),
            (Aim::Speed(_), Aim::Distance(_)) => Ordering::Greater,
            (Aim::Distance(_), Aim::Speed(_)) => Ordering::Less,
        }
    }
}

/// The quickest pull to a goal.
#[derive(Debug, Clone, PartialEq)]
pub struct Quickest {
    /// Time, s.
    pub time_s: f64,
    /// How it is driven; shifts after the goal are left out.
    pub plan: Plan,
    /// The run.
    pub pull: Pull,
}

/// Finds the quickest pulls of a car from one start on one slope.
#[derive(Debug, Clone)]
pub struct Planner<'a> {
    car: &'a Car,
    start: State,
    slope: Slope,
    tolerance: Tolerance,
    most_s: f64,
    table: Table<'a>,
}

/// Speeds of the grid, but for those near the highest of each gear, and of the grid by which the
/// first run is planned.
const SPEEDS: usize = 96;
const FIRST_SPEEDS: usize = 32;
/// Share of a gear's speeds below its highest where torque falls steeply, and speeds there.
const STEEP: f64 = 0.02;
const STEEP_SPEEDS: usize = 4;
/// Share of the short peaks below which a pull is taken as one that uses them up.
const SCARCE: f64 = 0.6;
/// How much slower than the best a way may be by the table to be driven for real: usually, and
/// where what is spent early is missing later.
const CLOSE: f64 = 1.004;
const NEAR: f64 = 1.06;
/// How far, as a share, the speed of a shift is moved, and the share of the time that makes a move
/// worth another.
const WIDEST_MOVE: f64 = 0.12;
const FINEST_MOVE: f64 = 0.01;
const WORTH_MOVING: f64 = 1e-4;
/// Shares by which all shifts are moved together before that.
const MOVES: [f64; 6] = [0.5, 0.65, 0.8, 1.15, 1.3, 1.5];
/// Most plans that are driven for real.
const MOST_DRIVEN: usize = 6;

impl<'a> Planner<'a> {
    /// For these goals, to be reached within `most_s`.
    ///
    /// # Errors
    /// [`Stuck`] when the solver cannot go on.
    pub fn new(
        car: &'a Car,
        start: &State,
        slope: Slope,
        goals: &[Aim],
        most_s: f64,
        tolerance: &Tolerance,
    ) -> Result<Self, Stuck> {
        let start = State { distance_m: 0.0, ..*start };
        let at_start = |speed_mps| State { speed_mps, ..start };
        let coarse = grid(car, start.speed_mps, slope, goals, FIRST_SPEEDS);
        let cold = Table::new(car, slope, coarse, Peaks::Last, at_start);
        let mut planner = Self { car, start, slope, tolerance: *tolerance, most_s, table: cold };
        let Some(&farthest) = goals.iter().max_by(|a, b| a.beyond(b)) else {
            return Ok(planner);
        };
        let Some(way) = planner.table.ways(farthest).into_iter().next() else {
            return Ok(planner);
        };
        let mut seen = vec![start];
        let mut watch = |m: &Moment<'_>| {
            if seen.last().is_none_or(|last| m.state.speed_mps > last.speed_mps) {
                seen.push(*m.state);
            }
        };
        let course = planner.course(way.plan, farthest, most_s);
        pull(car, &start, &course, tolerance, &mut watch)?;
        let scarce = seen.iter().any(|s| s.peak_reserve < SCARCE);
        let peaks = if scarce { Peaks::Spent } else { Peaks::Last };
        let fine = grid(car, start.speed_mps, slope, goals, SPEEDS);
        planner.table = Table::new(car, slope, fine, peaks, |speed_mps| {
            let after = seen.partition_point(|s| s.speed_mps <= speed_mps);
            let (Some(before), after) = (seen.get(after.wrapping_sub(1)), seen.get(after)) else {
                return State { speed_mps, ..start };
            };
            let share = after.map_or(0.0, |after| {
                (speed_mps - before.speed_mps) / (after.speed_mps - before.speed_mps)
            });
            State { speed_mps, ..before.towards(after.unwrap_or(before), share) }
        });
        Ok(planner)
    }

    fn course(&self, plan: Plan, goal: Aim, most_s: f64) -> Course {
        let (speeds_mps, distances_m) = match goal {
            Aim::Speed(mps) => (vec![mps], vec![]),
            Aim::Distance(m) => (vec![], vec![m]),
        };
        Course { plan, slope: self.slope, speeds_mps, distances_m, most_s }
    }

    /// The quickest pull to a goal; `None` where it is not reached in time.
    ///
    /// # Errors
    /// [`Stuck`] when the solver cannot go on.
    pub fn quickest(&self, goal: Aim) -> Result<Option<Quickest>, Stuck> {
        let mut ways = self.table.ways(goal);
        if self.table.peaks == Peaks::Spent
            && let Some(best) = ways.first().cloned()
        {
            let walk = |plan: &Plan, most_s: f64| Ok(self.table.time_s(plan, goal, most_s));
            ways.push(moved(best, &ways, walk)?);
            ways = best_first(ways);
            ways.dedup();
        }
        let mut best: Option<Quickest> = None;
        for way in worth_driving(&ways, CLOSE) {
            let most_s = best.as_ref().map_or(self.most_s, |b| b.time_s);
            best = self.driven(&way.plan, goal, most_s)?.or(best);
        }
        let Some(mut found) = best.take_if(|found| is_cut_back(&found.pull)) else {
            return Ok(best);
        };
        let first = Way { time_s: found.time_s, plan: found.plan.clone() };
        moved(first, &ways, |plan, most_s| {
            let better = self.driven(plan, goal, most_s)?;
            let time_s = better.as_ref().map(|b| b.time_s);
            found = better.unwrap_or_else(|| found.clone());
            Ok(time_s)
        })?;
        Ok(Some(found))
    }

    /// A plan driven for real; `None` where it does not reach its goal before a time.
    fn driven(&self, plan: &Plan, goal: Aim, most_s: f64) -> Result<Option<Quickest>, Stuck> {
        let course = self.course(plan.clone(), goal, most_s);
        let pull = pull(self.car, &self.start, &course, &self.tolerance, &mut ())?;
        let mark = pull.at_speeds.iter().chain(&pull.at_distances).flatten().next().copied();
        let mut plan = course.plan;
        plan.shifts.truncate(pull.at_shifts.len());
        Ok(mark.filter(|m| m.time_s < most_s).map(|m| Quickest { time_s: m.time_s, plan, pull }))
    }
}

/// Shifts earlier or later for as long as that is quicker: all shifts of each way by the same share,
/// then each shift of the best. `time_s` drives a plan, or walks it through the table; it gives
/// nothing where the plan is no quicker than a time.
fn moved(
    mut best: Way,
    ways: &[Way],
    mut time_s: impl FnMut(&Plan, f64) -> Result<Option<f64>, Stuck>,
) -> Result<Way, Stuck> {
    for way in worth_driving(ways, NEAR).filter(|way| !way.plan.shifts.is_empty()) {
        for share in MOVES {
            let mut plan = way.plan.clone();
            plan.shifts.iter_mut().for_each(|shift| shift.at_mps *= share);
            if let Some(time_s) = time_s(&plan, best.time_s)? {
                best = Way { time_s, plan };
            }
        }
    }
    let mut by = WIDEST_MOVE;
    while by >= FINEST_MOVE {
        let mut gained = false;
        for i in 0..best.plan.shifts.len() {
            for factor in [1.0 - by, 1.0 + by] {
                let mut plan = best.plan.clone();
                plan.shifts[i].at_mps *= factor;
                if let Some(time_s) = time_s(&plan, best.time_s)? {
                    gained |= time_s < best.time_s * (1.0 - WORTH_MOVING);
                    best = Way { time_s, plan };
                    break;
                }
            }
        }
        if !gained {
            by *= 0.5;
        }
    }
    Ok(best)
}

/// Whether motor or controller was cut back for its heat, which hangs on how the pull began.
fn is_cut_back(pull: &Pull) -> bool {
    let limits = pull.phases.iter().filter_map(|p| p.limit);
    limits.into_iter().any(|l| matches!(l, Limit::MotorHeat | Limit::ControllerHeat))
}

/// Those of sorted ways that are hardly slower than the best.
fn worth_driving(ways: &[Way], slower: f64) -> impl Iterator<Item = &Way> {
    let most_s = ways.first().map_or(0.0, |best| slower * best.time_s);
    ways.iter().take(MOST_DRIVEN).take_while(move |way| way.time_s <= most_s)
}

/// Speeds from the start's to the highest that a goal may need, with the goals among them.
fn grid(car: &Car, from_mps: f64, slope: Slope, goals: &[Aim], speeds: usize) -> Vec<f64> {
    let gears = 0..car.gears();
    let (parts, most_nm) = (car.parts(), car.parts().motor.machine.envelope.largest_nm());
    let most_n = gears.clone().map(|g| most_nm * car.motor_radps(g, 1.0)).fold(0.0, f64::max);
    let most_mps2 = most_n / parts.chassis.mass_kg + GRAVITY_MPS2 * (-slope.sin).max(0.0);
    let needed_mps = goals.iter().map(|goal| match goal {
        Aim::Speed(mps) => *mps,
        Aim::Distance(m) => (from_mps * from_mps + 2.0 * most_mps2 * m).sqrt(),
    });
    let tops = gears.map(|g| car.top_speed_by_rpm_mps(g));
    let needed_mps = needed_mps.fold(0.0, f64::max);
    let highest = tops.clone().fold(from_mps, f64::max).min(needed_mps).max(from_mps);
    // A car that is too fast for all its gears, or at its goal, has a grid as well.
    let highest = if highest > from_mps { highest } else { from_mps + 1.0 };
    let even = (0..=speeds).map(|i| from_mps + (highest - from_mps) * i as f64 / speeds as f64);
    let steep = tops.flat_map(|top| {
        (0..=STEEP_SPEEDS).map(move |i| top * (1.0 - STEEP * i as f64 / STEEP_SPEEDS as f64))
    });
    let of_goals = goals.iter().filter_map(|goal| match goal {
        Aim::Speed(mps) => Some(*mps),
        Aim::Distance(_) => None,
    });
    let mut grid: Vec<f64> = even.chain(steep).chain(of_goals).collect();
    grid.retain(|v| (from_mps..=highest).contains(v));
    grid.sort_by(f64::total_cmp);
    grid.dedup();
    grid
}
