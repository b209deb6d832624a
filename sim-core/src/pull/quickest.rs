//! The quickest way through the gears to a speed or over a distance: where to start, which gears
//! to take, and at which speeds to shift.
//!
//! With the slow part of the state (charge, heat) taken as known at each speed, a pull
//! is a walk up a grid of speeds, in which each gear takes its time from one speed to the next,
//! `∫ dv/a`, and a shift takes its own time and what is lost by it. The best walk is found backward
//! from the goal by dynamic programming (Bellman, *Dynamic Programming*, 1957), for each gear to
//! start in and each number of shifts. Of a distance, the speed at its end is free: the walk that
//! costs least at `1 − v/v_e` for each second up to `v_e` is the quickest over the distance that it
//! covers (Pontryagin's principle with a free end), so that `v_e` is what is searched.
//!
//! What is left of the cells' short peaks, which are gone in seconds, is part of what the search
//! tells apart where a pull uses them up. The slow part is that of a run driven for real, and how it
//! would change with the shifts is left out of the table. What the table gives within one percent of
//! its best is driven for real as well; the quickest of these runs is the answer. Where cells came to
//! the end of their short peaks or a part was cut back for its heat, so that what is spent early is
//! missing later, its shifts are moved, each time driven for real, for as long as that gains.
//!
//! Of random cars no single gear and no plan by hand is quicker by more than 0.6 %
//! (`tests/outside/quickest.rs`).

use super::{Course, Plan, PlannedShift, Pull, pull};
use crate::car::{Car, Request, Slope};
use crate::follow::Moment;
use crate::limit::Limit;
use crate::pack::FADE_RESERVE;
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
    table: Table,
}

/// Speeds of the grid, but for those near the highest of each gear.
const SPEEDS: usize = 160;
/// Share of a gear's speeds below its highest where torque falls steeply, and speeds there.
const STEEP: f64 = 0.02;
const STEEP_SPEEDS: usize = 12;
/// Most shifts of a pull.
const MOST_SHIFTS: usize = 7;
/// Speeds at the end of a distance that are tried.
const END_SPEEDS: usize = 24;
/// How much slower than the best a way may be by the table to be driven for real: usually, and
/// where what is spent early is missing later.
const CLOSE: f64 = 1.01;
const NEAR: f64 = 1.06;
/// How far, as a share, the speed of a shift is moved in the search that is driven for real, and
/// the share of the time that makes a move worth another.
const WIDEST_MOVE: f64 = 0.12;
const FINEST_MOVE: f64 = 0.01;
const WORTH_MOVING: f64 = 1e-4;
/// Shares by which all shifts are moved together before that.
const MOVES: [f64; 7] = [0.5, 0.65, 0.8, 1.0, 1.15, 1.3, 1.5];
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
        let grid = grid(car, start.speed_mps, slope, goals);
        let fresh = &[1.0][..];
        let cold = Table::new(car, slope, &grid, fresh, |speed_mps| State { speed_mps, ..start });
        let mut planner = Self { car, start, slope, tolerance: *tolerance, most_s, table: cold };
        let Some(&farthest) = goals.iter().max_by(|a, b| a.beyond(b)) else {
            return Ok(planner);
        };
        let Some(way) = planner.ways(farthest).into_iter().next() else {
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
        let levels = if scarce { &LEVELS[..] } else { fresh };
        planner.table = Table::new(car, slope, &grid, levels, |speed_mps| {
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

    /// What the table gives for a goal, best first.
    fn ways(&self, goal: Aim) -> Vec<Way> {
        match goal {
            Aim::Speed(mps) => self.table.to_speed(mps),
            Aim::Distance(m) => self.table.over_distance(m),
        }
    }

    /// The quickest pull to a goal; `None` where it is not reached in time.
    ///
    /// # Errors
    /// [`Stuck`] when the solver cannot go on.
    pub fn quickest(&self, goal: Aim) -> Result<Option<Quickest>, Stuck> {
        let ways = self.ways(goal);
        let mut best: Option<Quickest> = None;
        for way in worth_driving(&ways, CLOSE) {
            let most_s = best.as_ref().map_or(self.most_s, |b| b.time_s);
            best = self.driven(way.plan.clone(), goal, most_s)?.or(best);
        }
        match best {
            Some(found) if hangs_together(&found.pull) => {
                self.refined(found, &ways, goal).map(Some)
            }
            found => Ok(found),
        }
    }

    /// A plan driven for real; `None` where it does not reach its goal before a time.
    fn driven(&self, plan: Plan, goal: Aim, most_s: f64) -> Result<Option<Quickest>, Stuck> {
        let course = self.course(plan, goal, most_s);
        let pull = pull(self.car, &self.start, &course, &self.tolerance, &mut ())?;
        let mark = pull.at_speeds.iter().chain(&pull.at_distances).flatten().next().copied();
        let mut plan = course.plan;
        plan.shifts.truncate(pull.at_shifts.len());
        Ok(mark.filter(|m| m.time_s < most_s).map(|m| Quickest { time_s: m.time_s, plan, pull }))
    }

    /// Shifts earlier or later, each time driven for real: all shifts of each way by the same share,
    /// then each shift of the best for as long as that gains.
    fn refined(&self, mut best: Quickest, ways: &[Way], goal: Aim) -> Result<Quickest, Stuck> {
        let driven = worth_driving(ways, CLOSE).count();
        for (rank, way) in worth_driving(ways, NEAR).enumerate() {
            for share in MOVES {
                // A plan that was driven already cannot gain.
                let same = share == 1.0;
                if same && rank < driven || !same && way.plan.shifts.is_empty() {
                    continue;
                }
                let mut plan = way.plan.clone();
                plan.shifts.iter_mut().for_each(|shift| shift.at_mps *= share);
                best = self.driven(plan, goal, best.time_s)?.unwrap_or(best);
            }
        }
        let mut by = WIDEST_MOVE;
        while by >= FINEST_MOVE {
            let mut gained = false;
            for i in 0..best.plan.shifts.len() {
                for factor in [1.0 - by, 1.0 + by] {
                    let mut plan = best.plan.clone();
                    let Some(shift) = plan.shifts.get_mut(i) else { continue };
                    shift.at_mps *= factor;
                    if let Some(better) = self.driven(plan, goal, best.time_s)? {
                        gained |= better.time_s < best.time_s * (1.0 - WORTH_MOVING);
                        best = better;
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
}

/// Whether what a pull does later hangs on how it began: cells at the end of their short peaks, and
/// parts that are cut back for their heat.
fn hangs_together(pull: &Pull) -> bool {
    pull.phases.iter().filter_map(|p| p.limit).any(|l| l == Limit::CellCurrent || l.is_thermal())
}

/// Speeds from the start's to the highest that a goal may need, with the goals among them.
fn grid(car: &Car, from_mps: f64, slope: Slope, goals: &[Aim]) -> Vec<f64> {
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
    let even = (0..=SPEEDS).map(|i| from_mps + (highest - from_mps) * i as f64 / SPEEDS as f64);
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

/// Time and distance of a part of a pull, and the share of the cells' short peaks that it uses.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Leg {
    time_s: f64,
    distance_m: f64,
    spent: f64,
}

impl Leg {
    const NONE: Leg = Leg { time_s: 0.0, distance_m: 0.0, spent: 0.0 };
    const NEVER: Leg = Leg { time_s: f64::INFINITY, ..Self::NONE };

    fn and(self, other: Leg) -> Leg {
        Leg {
            time_s: self.time_s + other.time_s,
            distance_m: self.distance_m + other.distance_m,
            spent: self.spent + other.spent,
        }
    }

    /// Seconds, less what a metre is worth.
    fn cost(self, s_per_m: f64) -> f64 {
        self.time_s - s_per_m * self.distance_m
    }

    /// From one speed to another while the acceleration goes evenly from one value to another, and
    /// so does the rate at which the short peaks are used.
    fn between(from_mps: f64, to_mps: f64, from: Effort, to: Effort) -> Leg {
        let (from_mps2, to_mps2) = (from.mps2, to.mps2);
        if from_mps2.min(to_mps2) < super::SPENT_MPS2 {
            return Leg::NEVER;
        }
        let gain = to_mps - from_mps;
        let bend = to_mps2 / from_mps2 - 1.0;
        let time_s = if bend.abs() < 1e-4 {
            gain / (0.5 * (from_mps2 + to_mps2))
        } else {
            gain / (to_mps2 - from_mps2) * bend.ln_1p()
        };
        let spent = 0.5 * (from.spends_per_s + to.spends_per_s) * time_s;
        Leg { time_s, distance_m: 0.5 * (from_mps + to_mps) * time_s, spent }
    }

    /// Time in which the first metres of it are covered, from one speed to another.
    fn time_over_s(self, distance_m: f64, from_mps: f64, to_mps: f64) -> f64 {
        // Even acceleration: s = v·t + ½·a·t², the root without cancellation.
        let mps2 = (to_mps - from_mps) / self.time_s.max(1e-12);
        let end_mps = (from_mps * from_mps + 2.0 * mps2 * distance_m).max(0.0).sqrt();
        2.0 * distance_m / (from_mps + end_mps).max(1e-9)
    }
}

/// What full throttle does at a speed.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Effort {
    mps2: f64,
    /// How fast the short peaks are used, 1/s.
    spends_per_s: f64,
}

impl Effort {
    const NONE: Effort = Effort { mps2: 0.0, spends_per_s: 0.0 };

    fn towards(self, to: Effort, share: f64) -> Effort {
        Effort {
            mps2: self.mps2 + share * (to.mps2 - self.mps2),
            spends_per_s: self.spends_per_s + share * (to.spends_per_s - self.spends_per_s),
        }
    }
}

/// Shares of the short peaks that the search tells apart, where they come to an end in a pull: finer
/// where less current is allowed the less there is left.
const LEVELS: [f64; 13] = [0.0, 0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0];
/// Short peaks used up, and whole.
const SPENT: usize = 0;
const FRESH: usize = 1;
/// Share of the short peaks below which a pull is taken as one that uses them up.
const SCARCE: f64 = 0.6;

/// A plan with its time by the table, and the speeds of the grid at which it shifts.
#[derive(Debug, Clone, PartialEq)]
struct Way {
    time_s: f64,
    plan: Plan,
    at: Vec<usize>,
}

/// What each gear and each shift takes at the speeds of a grid.
#[derive(Debug, Clone)]
struct Table {
    speeds_mps: Vec<f64>,
    gears: usize,
    /// What is told apart of the short peaks, rising.
    levels: Vec<f64>,
    /// What is left of them at the start.
    reserve: f64,
    /// From each speed to the next, for each gear; a leg for each level.
    climbs: Vec<Vec<Vec<Leg>>>,
    /// At each speed, from a gear (`from·gears + to`) to the same speed in another, for each level.
    changes: Vec<Vec<Vec<Change>>>,
}

/// A change of gear.
#[derive(Debug, Clone, Copy)]
struct Change {
    /// Between the gears.
    rolling: Leg,
    /// Speed after it, m/s.
    after_mps: f64,
    /// From there to a speed of the grid: that before it, or the next one if the rotor's speed has
    /// carried the car beyond that.
    on: Leg,
    to: usize,
}

impl Change {
    fn leg(&self) -> Leg {
        self.rolling.and(self.on)
    }
}

/// Decisions of the search: the gear to shift to, or none.
const STAY: u8 = u8::MAX;

impl Table {
    fn new(
        car: &Car,
        slope: Slope,
        grid: &[f64],
        levels: &[f64],
        at: impl Fn(f64) -> State,
    ) -> Self {
        let gears = car.gears().min(usize::from(STAY));
        let shift_s = car.parts().gearbox.shift_s;
        // For each gear and level, at each speed.
        let mut efforts = vec![vec![Vec::with_capacity(grid.len()); levels.len()]; gears];
        let mut rolls = Vec::with_capacity(grid.len());
        let mut near = vec![[None; 2]; gears];
        for &v in grid {
            let fresh = State { peak_reserve: 1.0, ..at(v) };
            let spent = State { peak_reserve: 0.0, ..fresh };
            // In the order of `SPENT` and `FRESH`.
            let ends = [spent, fresh].map(|state| car.now(&state, 0.0));
            for (gear, efforts) in efforts.iter_mut().enumerate() {
                let above = v >= car.top_speed_by_rpm_mps(gear);
                let mut effort = |end: usize| {
                    if above || end == SPENT && levels.len() == 1 {
                        return Effort::NONE;
                    }
                    let (now, near) = (&ends[end], &mut near[gear][end]);
                    let all = Request::FullThrottle;
                    let attempt = car.attempt(now, v, slope, gear, all, *near);
                    *near = attempt.near();
                    Effort {
                        mps2: attempt.acceleration_mps2(),
                        spends_per_s: -car.reserve_rate(attempt.pack_a()),
                    }
                };
                let (spent, fresh) = (effort(SPENT), effort(FRESH));
                for (efforts, level) in efforts.iter_mut().zip(levels) {
                    efforts.push(spent.towards(fresh, (level / FADE_RESERVE).min(1.0)));
                }
            }
            let rolling = Request::Disconnected(f64::INFINITY);
            let flow = car.act(&ends[FRESH], v, slope, 0, rolling);
            let spends_per_s = -car.reserve_rate(flow.pack_a);
            rolls.push(Effort { mps2: flow.acceleration_mps2, spends_per_s });
        }
        let climbs = |gear: usize, i: usize| {
            let of_level = |e: &Vec<Effort>| Leg::between(grid[i - 1], grid[i], e[i - 1], e[i]);
            efforts[gear].iter().map(of_level).collect()
        };
        let climbs: Vec<Vec<Vec<Leg>>> =
            (0..gears).map(|gear| (1..grid.len()).map(|i| climbs(gear, i)).collect()).collect();
        let mut table = Self {
            speeds_mps: grid.to_vec(),
            gears,
            levels: levels.to_vec(),
            reserve: at(grid[0]).peak_reserve,
            climbs,
            changes: Vec::new(),
        };
        table.changes = (0..gears * gears)
            .map(|pair| {
                let (from, to) = (pair / gears, pair % gears);
                let change = |i: usize| {
                    let v = grid[i];
                    let rolled_mps = (v + rolls[i].mps2 * shift_s).max(0.0);
                    let rolling = Leg {
                        time_s: shift_s,
                        distance_m: 0.5 * (v + rolled_mps) * shift_s,
                        spent: rolls[i].spends_per_s * shift_s,
                    };
                    let (after_mps, _) = car.engage(to, rolled_mps, from, v);
                    let next = grid.partition_point(|g| *g < after_mps);
                    let to_speed = next.clamp(i, grid.len() - 1);
                    let of_level = |efforts: &Vec<Effort>| {
                        let on = table.leg(efforts, after_mps, grid[to_speed]);
                        Change { rolling, after_mps, on, to: to_speed }
                    };
                    efforts[to].iter().map(of_level).collect()
                };
                if from == to { Vec::new() } else { (0..grid.len()).map(change).collect() }
            })
            .collect();
        table
    }

    /// From a speed to a higher one, with a gear's efforts.
    fn leg(&self, efforts: &[Effort], from_mps: f64, to_mps: f64) -> Leg {
        let grid = &self.speeds_mps;
        let at = |v: f64| {
            let j = grid.partition_point(|g| *g <= v).clamp(1, grid.len() - 1);
            let share = (v - grid[j - 1]) / (grid[j] - grid[j - 1]);
            efforts[j - 1].towards(efforts[j], share.clamp(0.0, 1.0))
        };
        let mut leg = Leg::NONE;
        let mut v = from_mps;
        let mut next = grid.partition_point(|g| *g <= from_mps);
        while v < to_mps {
            let to = grid.get(next).map_or(to_mps, |g| g.min(to_mps));
            leg = leg.and(Leg::between(v, to, at(v), at(to)));
            v = to;
            next += 1;
        }
        leg
    }

    /// The level nearest to what is left of the short peaks.
    fn level(&self, reserve: f64) -> usize {
        let above = self.levels.partition_point(|level| *level < reserve);
        match (above.checked_sub(1), self.levels.get(above)) {
            (Some(below), Some(high)) if reserve - self.levels[below] < high - reserve => below,
            (Some(below), None) => below,
            _ => above,
        }
    }

    /// Costs by level, at what is left of the short peaks.
    fn at_reserve(&self, costs: &[f64], reserve: f64) -> f64 {
        let above = self.levels.partition_point(|level| *level < reserve);
        if above == 0 {
            return costs[0];
        }
        let Some(high) = self.levels.get(above) else { return costs[above - 1] };
        let low = self.levels[above - 1];
        let share = (reserve - low) / (high - low);
        if share >= 1.0 {
            costs[above]
        } else {
            costs[above - 1] * (1.0 - share) + costs[above] * share
        }
    }

    /// The quickest ways to a speed, or to the highest below it that is reached; best first.
    fn to_speed(&self, speed_mps: f64) -> Vec<Way> {
        let grid = &self.speeds_mps;
        let goal = grid.partition_point(|v| *v < speed_mps).min(grid.len() - 1);
        let mut ways = self.walks(goal, 0.0);
        if ways.is_empty() {
            let (mut reached, mut missed) = (0, goal);
            while missed - reached > 1 {
                let middle = (reached + missed) / 2;
                let found = self.walks(middle, 0.0);
                if found.is_empty() {
                    missed = middle;
                } else {
                    (reached, ways) = (middle, found);
                }
            }
        }
        best_first(ways)
    }

    /// The quickest ways over a distance; best first.
    fn over_distance(&self, distance_m: f64) -> Vec<Way> {
        let grid = &self.speeds_mps;
        let mut ways: Vec<Way> = Vec::new();
        for i in 1..=END_SPEEDS {
            let end = i * (grid.len() - 1) / END_SPEEDS;
            for way in self.walks(end, 1.0 / grid[end]) {
                let time_s = self.time_over_s(&way, distance_m);
                let kin = |w: &Way| w.plan.first == way.plan.first && w.at.len() == way.at.len();
                match ways.iter_mut().find(|w| kin(w)) {
                    Some(other) if other.time_s <= time_s => {}
                    Some(other) => *other = Way { time_s, ..way },
                    None => ways.push(Way { time_s, ..way }),
                }
            }
        }
        best_first(ways)
    }

    /// The cheapest walk to a speed of the grid for each gear to start in and each number of
    /// shifts that makes it cheaper, at a worth of the metre.
    fn walks(&self, goal: usize, s_per_m: f64) -> Vec<Way> {
        let (gears, levels) = (self.gears, self.levels.len());
        let slots = (MOST_SHIFTS.min(gears - 1) + 1) * gears;
        let row = slots * levels;
        // For each speed, number of shifts left with gear, and level: what it costs from there on,
        // and how.
        let mut costs = vec![0.0; (goal + 1) * row];
        let mut decisions = vec![STAY; goal * row];
        let after = |costs: &[f64], slot: usize, leg: &Leg, level: f64| {
            let of_slot = &costs[slot * levels..(slot + 1) * levels];
            leg.cost(s_per_m) + self.at_reserve(of_slot, level - leg.spent)
        };
        for i in (0..goal).rev() {
            let (below, above) = costs.split_at_mut((i + 1) * row);
            let here = &mut below[i * row..];
            for (at, cost) in here.iter_mut().enumerate() {
                let (slot, k) = (at / levels, at % levels);
                let leg = &self.climbs[slot % gears][i][k];
                *cost = if leg.time_s.is_finite() {
                    after(above, slot, leg, self.levels[k])
                } else {
                    f64::INFINITY
                };
            }
            // Most shifts first, so that one shift is never followed by another at the same speed.
            for slot in (gears..slots).rev() {
                let gear = slot % gears;
                for to in (0..gears).filter(|to| *to != gear) {
                    let then = slot - gears - gear + to;
                    for (k, level) in self.levels.iter().enumerate() {
                        let change = &self.changes[gear * gears + to][i][k];
                        let leg = change.leg();
                        let cost = if change.after_mps >= self.speeds_mps[goal] {
                            change.rolling.cost(s_per_m)
                        } else if !leg.time_s.is_finite() {
                            f64::INFINITY
                        } else if change.to == i {
                            after(here, then, &leg, *level)
                        } else {
                            after(&above[(change.to - i - 1) * row..], then, &leg, *level)
                        };
                        if cost < here[slot * levels + k] {
                            here[slot * levels + k] = cost;
                            decisions[i * row + slot * levels + k] = to as u8;
                        }
                    }
                }
            }
        }
        let mut ways: Vec<Way> = Vec::new();
        for start in 0..slots {
            let cost = self.at_reserve(&costs[start * levels..(start + 1) * levels], self.reserve);
            if !cost.is_finite() {
                continue;
            }
            let (mut slot, mut i, mut reserve) = (start, 0, self.reserve);
            let mut way = Way { time_s: cost, plan: Plan::in_gear(start % gears), at: Vec::new() };
            while i < goal {
                let k = self.level(reserve);
                let to = usize::from(decisions[i * row + slot * levels + k]);
                let gear = slot % gears;
                if to >= gears {
                    reserve -= self.climbs[gear][i][k].spent;
                    i += 1;
                } else {
                    let at_mps = self.sharpened((gear, to), i, k, s_per_m);
                    way.plan.shifts.push(PlannedShift { at_mps, to });
                    way.at.push(i);
                    let change = &self.changes[gear * gears + to][i][k];
                    reserve -= change.leg().spent;
                    slot = slot - gears - gear + to;
                    i = if change.to == i { i + 1 } else { change.to };
                }
                reserve = reserve.clamp(0.0, 1.0);
            }
            // With fewer shifts it is another start's own.
            if way.at.len() == start / gears {
                ways.push(way);
            }
        }
        ways
    }

    /// The speed of a shift, between those of the grid: where the parabola through the costs at
    /// the speed found and its neighbours is lowest.
    fn sharpened(&self, (from, to): (usize, usize), i: usize, k: usize, s_per_m: f64) -> f64 {
        let grid = &self.speeds_mps;
        let changes = &self.changes[from * self.gears + to];
        // What it costs more to shift one speed later, for each m/s.
        let later = |i: usize| {
            let (now, then) = (changes[i][k], changes[i + 1][k]);
            let stays = self.climbs[from][i][k].cost(s_per_m) + then.leg().cost(s_per_m);
            let climbs = self.climbs[to][now.to..then.to.max(now.to)].iter();
            let leaves = now.leg().cost(s_per_m) + climbs.map(|l| l[k].cost(s_per_m)).sum::<f64>();
            (stays - leaves) / (grid[i + 1] - grid[i])
        };
        if i == 0 || i + 2 > grid.len() - 1 {
            return grid[i];
        }
        // Slopes of the cost half way to either neighbour.
        let (before, after) = (later(i - 1), later(i));
        if !(before < 0.0 && after > 0.0 && (after - before).is_finite()) {
            return grid[i];
        }
        let (low, high) = (0.5 * (grid[i - 1] + grid[i]), 0.5 * (grid[i] + grid[i + 1]));
        low - before * (high - low) / (after - before)
    }

    /// Time of a way over a distance; at its top speed the car goes on evenly.
    fn time_over_s(&self, way: &Way, distance_m: f64) -> f64 {
        let grid = &self.speeds_mps;
        let (mut gone, mut gear) = (Leg::NONE, way.plan.first);
        let mut reserve = self.reserve;
        let mut shifts = way.at.iter().zip(&way.plan.shifts).peekable();
        let mut i = 0;
        while i + 1 < grid.len() {
            // A leg, the speeds at its ends, and the speed of the grid where it leads.
            let k = self.level(reserve);
            let (leg, from_mps, to_mps, next) = match shifts.next_if(|(at, _)| **at == i) {
                Some((_, shift)) => {
                    let change = &self.changes[gear * self.gears + shift.to][i][k];
                    gear = shift.to;
                    (change.leg(), grid[i], change.after_mps, change.to)
                }
                None => (self.climbs[gear][i][k], grid[i], grid[i + 1], i + 1),
            };
            if !leg.time_s.is_finite() {
                break;
            }
            if gone.distance_m + leg.distance_m >= distance_m {
                let rest_m = distance_m - gone.distance_m;
                return gone.time_s + leg.time_over_s(rest_m, from_mps, to_mps);
            }
            gone = gone.and(leg);
            reserve = (reserve - leg.spent).clamp(0.0, 1.0);
            i = next;
        }
        gone.time_s + (distance_m - gone.distance_m) / grid[i]
    }
}

/// Ways, best first.
fn best_first(mut ways: Vec<Way>) -> Vec<Way> {
    ways.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    ways
}

/// Those of sorted ways that are hardly slower than the best.
fn worth_driving(ways: &[Way], slower: f64) -> impl Iterator<Item = &Way> {
    let most_s = ways.first().map_or(0.0, |best| slower * best.time_s);
    ways.iter().take(MOST_DRIVEN).take_while(move |way| way.time_s <= most_s)
}
