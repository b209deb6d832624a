//! What each gear gives at full throttle at the speeds of a grid: pulls worked out without being
//! driven, and the best of them.
//!
//! A pull is a walk up the grid, in which each gear takes its time from one speed to the next,
//! `∫ dv/a`, and a shift takes its own time and what is lost by it. The best walk is found backward
//! from the goal by dynamic programming (Bellman, *Dynamic Programming*, 1957), for each gear to
//! start in. Of a distance, the speed at its end is free: the walk that costs least at `1 − v/v_e`
//! for each second up to `v_e` is the quickest over the distance that it covers (Pontryagin's
//! principle with a free end). Some `v_e` are tried, then that at which the best of these walks comes
//! to the end of the distance, for as long as it is another.
//!
//! What is left of the cells' short peaks, which are gone in seconds, is told apart by levels in that
//! search, and followed from leg to leg when a plan is walked.

use super::{Aim, Plan, PlannedShift, SPENT_MPS2, STANDS_MPS};
use crate::car::{Car, Request, Slope};
use crate::pack::FADE_RESERVE;
use crate::root::Near;
use crate::state::State;

/// Time and distance of a part of a pull, and the share of the cells' short peaks that it uses.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Leg {
    time_s: f64,
    distance_m: f64,
    spent: f64,
}

/// Time of a leg that full throttle does not climb, s.
const NEVER_S: f64 = 1e9;
/// What costs more is not reached.
const MOST_COST_S: f64 = 1e6;

impl Leg {
    const NONE: Leg = Leg { time_s: 0.0, distance_m: 0.0, spent: 0.0 };
    const NEVER: Leg = Leg { time_s: NEVER_S, ..Self::NONE };

    fn and(self, other: Leg) -> Leg {
        Leg {
            time_s: self.time_s + other.time_s,
            distance_m: self.distance_m + other.distance_m,
            spent: self.spent + other.spent,
        }
    }

    fn is_never(self) -> bool {
        self.time_s >= NEVER_S
    }

    /// Seconds, less what a metre is worth.
    fn cost(self, s_per_m: f64) -> f64 {
        self.time_s - s_per_m * self.distance_m
    }

    /// Time in which the first metres of it are covered, from one speed to another, and the speed
    /// there.
    fn part(self, distance_m: f64, from_mps: f64, to_mps: f64) -> (f64, f64) {
        // Even acceleration: s = v·t + ½·a·t², the root without cancellation.
        let mps2 = (to_mps - from_mps) / self.time_s.max(1e-12);
        let end_mps = (from_mps * from_mps + 2.0 * mps2 * distance_m).max(0.0).sqrt();
        (2.0 * distance_m / (from_mps + end_mps).max(1e-9), end_mps)
    }
}

/// What the car does at a speed.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Effort {
    mps2: f64,
    pack_a: f64,
}

impl Effort {
    const NONE: Effort = Effort { mps2: 0.0, pack_a: 0.0 };

    fn towards(self, to: Effort, share: f64) -> Effort {
        Effort {
            mps2: self.mps2 + share * (to.mps2 - self.mps2),
            pack_a: self.pack_a + share * (to.pack_a - self.pack_a),
        }
    }
}

/// What full throttle does at a speed in a gear, by what is left of the short peaks.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Full {
    /// With short peaks used up, and whole.
    spent: Effort,
    fresh: Effort,
    /// Growth from the one to the other for each share of the short peaks: as the allowed current
    /// grows, until another limit holds.
    rise: f64,
}

impl Full {
    const NONE: Full = Full { spent: Effort::NONE, fresh: Effort::NONE, rise: 0.0 };

    fn at(&self, reserve: f64) -> Effort {
        self.spent.towards(self.fresh, (self.rise * reserve).min(1.0))
    }
}

/// How the cells' short peaks are taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Peaks {
    /// They last for as long as a pull does.
    Last,
    /// They are used up.
    Spent,
}

impl Peaks {
    /// Shares of them that the search tells apart: finer where less current is allowed the less
    /// there is left.
    fn levels(self) -> &'static [f64] {
        match self {
            Peaks::Last => &[0.0, 1.0],
            Peaks::Spent => &[0.0, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5, 0.75, 1.0],
        }
    }
}

/// A plan with its time by the table.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Way {
    pub time_s: f64,
    pub plan: Plan,
}

/// Ways, best first.
pub(super) fn best_first(mut ways: Vec<Way>) -> Vec<Way> {
    ways.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    ways
}

/// A part of a walk in the search: its leg, and between which levels it leads.
#[derive(Debug, Clone, Copy)]
struct Move {
    leg: Leg,
    /// The lower level, and the share of the way to the next one.
    level: usize,
    share: f64,
}

impl Move {
    /// What it costs with all that follows, which is known by level.
    fn cost(&self, s_per_m: f64, then: &[f64]) -> f64 {
        self.leg.cost(s_per_m) + between(then, self.level, self.share)
    }
}

/// A cost between a level and the next; where the goal is not reached from one of them, that of the
/// nearer.
fn between(costs: &[f64], level: usize, share: f64) -> f64 {
    let (low, high) = (costs[level], costs[level + 1]);
    if low.max(high) < MOST_COST_S {
        low + share * (high - low)
    } else if share < 0.5 {
        low
    } else {
        high
    }
}

/// A change of gear at a speed of the grid.
#[derive(Debug, Clone, Copy)]
struct Change {
    /// Between the gears.
    rolling: Leg,
    /// Speed after it, m/s.
    after_mps: f64,
    /// With what leads from there to a speed of the grid: that before it, or the next one if the
    /// rotor's speed has carried the car beyond that.
    whole: Move,
    to: usize,
}

/// What each gear and each shift takes at the speeds of a grid.
#[derive(Debug, Clone)]
pub(super) struct Table<'a> {
    car: &'a Car,
    pub peaks: Peaks,
    speeds_mps: Vec<f64>,
    /// What is left of the short peaks at the start.
    reserve: f64,
    /// At each speed, for each gear.
    gears: Vec<Vec<Full>>,
    /// Between gears, at each speed.
    rolls: Vec<Effort>,
    /// From each speed to the next, for each gear; one for each level.
    climbs: Vec<Vec<Move>>,
    /// At each speed, from a gear (`from·gears + to`) to a longer one; one for each level.
    changes: Vec<Vec<Change>>,
}

/// Decisions of the search: the gear to shift to, or none.
const STAY: u8 = u8::MAX;
/// Speeds at the end of a distance that are tried, and how far beyond those that are reached, as a
/// ratio.
const END_SPEEDS: usize = 24;
const BEYOND_END: f64 = 1.25;

impl<'a> Table<'a> {
    /// The table of a car whose state is known at each speed.
    pub fn new(
        car: &'a Car,
        slope: Slope,
        speeds_mps: Vec<f64>,
        peaks: Peaks,
        at: impl Fn(f64) -> State,
    ) -> Self {
        let count = car.gears().min(usize::from(STAY));
        let mut gears = vec![Vec::with_capacity(speeds_mps.len()); count];
        let mut rolls = Vec::with_capacity(speeds_mps.len());
        let mut near = vec![[None; 2]; count];
        for &v in &speeds_mps {
            let fresh = State { peak_reserve: 1.0, ..at(v) };
            let spent = State { peak_reserve: 0.0, ..fresh };
            let (fresh, spent) = (car.now(&fresh, 0.0), car.now(&spent, 0.0));
            let gained_a = fresh.pack.discharge_a.0 - spent.pack.discharge_a.0;
            for (gear, fulls) in gears.iter_mut().enumerate() {
                if v >= car.top_speed_by_rpm_mps(gear) {
                    fulls.push(Full::NONE);
                    continue;
                }
                let effort = |now, near: &mut Option<Near>| {
                    let attempt = car.attempt(now, v, slope, gear, Request::FullThrottle, *near);
                    *near = attempt.near();
                    Effort { mps2: attempt.acceleration_mps2(), pack_a: attempt.pack_a() }
                };
                let [near_spent, near_fresh] = &mut near[gear];
                let fresh = effort(&fresh, near_fresh);
                let spent = match peaks {
                    Peaks::Last => fresh,
                    Peaks::Spent => effort(&spent, near_spent),
                };
                let used_a = (fresh.pack_a - spent.pack_a).max(1e-9);
                let rise = (gained_a / used_a).max(1.0) / FADE_RESERVE;
                fulls.push(Full { spent, fresh, rise });
            }
            let rolling = Request::Disconnected(f64::INFINITY);
            let attempt = car.attempt(&fresh, v, slope, 0, rolling, None);
            rolls.push(Effort { mps2: attempt.acceleration_mps2(), pack_a: attempt.pack_a() });
        }
        let reserve = at(speeds_mps[0]).peak_reserve;
        let (climbs, changes) = (Vec::new(), Vec::new());
        let mut table = Self { car, peaks, speeds_mps, reserve, gears, rolls, climbs, changes };
        table.climbs = (0..count).map(|gear| table.climbs_of(gear)).collect();
        table.changes =
            (0..count * count).map(|i| table.changes_of(i / count, i % count)).collect();
        table
    }

    fn climbs_of(&self, gear: usize) -> Vec<Move> {
        let grid = &self.speeds_mps;
        let of_speed = |i: usize| {
            let levels = self.peaks.levels().iter();
            levels.map(move |level| {
                self.level_after(*level, self.leg(gear, i, (grid[i], grid[i + 1]), *level))
            })
        };
        (0..grid.len() - 1).flat_map(of_speed).collect()
    }

    /// None where the other gear is no longer: a walk leads upward only.
    fn changes_of(&self, from: usize, to: usize) -> Vec<Change> {
        if self.car.motor_radps(to, 1.0) >= self.car.motor_radps(from, 1.0) {
            return Vec::new();
        }
        let grid = &self.speeds_mps;
        let of_speed = |i: usize| {
            let (rolling, after_mps) = self.shift((from, to), i, grid[i]);
            let next = grid.partition_point(|v| *v < after_mps).clamp(i, grid.len() - 1);
            let levels = self.peaks.levels().iter();
            levels.map(move |level| {
                let left = (level - rolling.spent).clamp(0.0, 1.0);
                let leg = rolling.and(self.climb(to, (after_mps, grid[next]), left));
                Change { rolling, after_mps, whole: self.level_after(*level, leg), to: next }
            })
        };
        (0..grid.len()).flat_map(of_speed).collect()
    }

    fn level_after(&self, level: f64, leg: Leg) -> Move {
        let (level, share) = self.between_levels(level - leg.spent);
        Move { leg, level, share }
    }

    /// The level below what is left of the short peaks, and the share of the way to the next.
    fn between_levels(&self, reserve: f64) -> (usize, f64) {
        let levels = self.peaks.levels();
        let above = levels.partition_point(|level| *level < reserve).clamp(1, levels.len() - 1);
        let (low, high) = (levels[above - 1], levels[above]);
        (above - 1, ((reserve - low) / (high - low)).clamp(0.0, 1.0))
    }

    /// The number of the last speed of the grid that is no higher.
    fn cell(&self, mps: f64) -> usize {
        self.speeds_mps.partition_point(|v| *v <= mps).saturating_sub(1)
    }

    /// How far a speed lies on the way from one speed of the grid to the next.
    fn share(&self, i: usize, mps: f64) -> f64 {
        let (low, high) = (self.speeds_mps[i], self.speeds_mps[i + 1]);
        ((mps - low) / (high - low)).clamp(0.0, 1.0)
    }

    /// From one speed to another, both between a speed of the grid and the next, while the
    /// acceleration goes evenly from one value to another.
    fn leg(&self, gear: usize, i: usize, (from_mps, to_mps): (f64, f64), reserve: f64) -> Leg {
        let (low, high) = (&self.gears[gear][i], &self.gears[gear][i + 1]);
        let effort = |mps, reserve| low.at(reserve).towards(high.at(reserve), self.share(i, mps));
        let from = effort(from_mps, reserve);
        if from.mps2 < SPENT_MPS2 {
            return Leg::NEVER;
        }
        let gain = to_mps - from_mps;
        let rate = self.car.reserve_rate(from.pack_a);
        let to = effort(to_mps, (reserve + rate * gain / from.mps2).clamp(0.0, 1.0));
        if to.mps2 < SPENT_MPS2 {
            return Leg::NEVER;
        }
        let bend = to.mps2 / from.mps2 - 1.0;
        let time_s = if bend.abs() < 1e-4 {
            gain / (0.5 * (from.mps2 + to.mps2))
        } else {
            gain / (to.mps2 - from.mps2) * bend.ln_1p()
        };
        let spent = -0.5 * (rate + self.car.reserve_rate(to.pack_a)) * time_s;
        Leg { time_s, distance_m: 0.5 * (from_mps + to_mps) * time_s, spent }
    }

    /// From a speed to a higher one in a gear.
    fn climb(&self, gear: usize, (from_mps, to_mps): (f64, f64), reserve: f64) -> Leg {
        let grid = &self.speeds_mps;
        let (mut leg, mut v, mut i) = (Leg::NONE, from_mps, self.cell(from_mps));
        while v < to_mps && i + 1 < grid.len() {
            let next_mps = grid[i + 1].min(to_mps);
            let left = (reserve - leg.spent).clamp(0.0, 1.0);
            leg = leg.and(self.leg(gear, i, (v, next_mps), left));
            (v, i) = (next_mps, i + 1);
        }
        leg
    }

    /// A shift at a speed after a speed of the grid: what it takes, and the speed after it.
    fn shift(&self, (from, to): (usize, usize), i: usize, mps: f64) -> (Leg, f64) {
        let shift_s = self.car.parts().gearbox.shift_s;
        let roll = match self.rolls.get(i + 1) {
            Some(next) => self.rolls[i].towards(*next, self.share(i, mps)),
            None => self.rolls[i],
        };
        let rolled_mps = (mps + roll.mps2 * shift_s).max(0.0);
        let leg = Leg {
            time_s: shift_s,
            distance_m: 0.5 * (mps + rolled_mps) * shift_s,
            spent: -self.car.reserve_rate(roll.pack_a) * shift_s,
        };
        (leg, self.car.engage(to, rolled_mps, from, mps).0)
    }

    /// Time of a plan to a goal, s; `None` where it takes as long as a time or does not get there.
    pub fn time_s(&self, plan: &Plan, goal: Aim, most_s: f64) -> Option<f64> {
        Some(self.walked(plan, goal, most_s)?.0).filter(|time_s| *time_s < most_s)
    }

    /// Time and speed at a goal that a plan reaches, or is still on its way to after a time.
    ///
    /// Walked as [`pull`](super::pull) is driven: a shift comes at its speed, or where the gear
    /// before it gives out, and at its top speed the car goes on evenly.
    fn walked(&self, plan: &Plan, goal: Aim, most_s: f64) -> Option<(f64, f64)> {
        let grid = &self.speeds_mps;
        let (goal_mps, goal_m) = match goal {
            Aim::Speed(mps) => (mps, f64::INFINITY),
            Aim::Distance(m) => (f64::INFINITY, m),
        };
        let (mut gone, mut gear, mut v) = (Leg::NONE, plan.first, grid[0]);
        let mut i = 0;
        let mut shifts = plan.shifts.iter();
        let mut next = shifts.next();
        while v < goal_mps && gone.time_s < most_s {
            let shift_mps = next.map_or(f64::INFINITY, |shift| shift.at_mps);
            let reserve = (self.reserve - gone.spent).clamp(0.0, 1.0);
            let to_mps = grid.get(i + 1).map_or(v, |mps| mps.min(shift_mps).min(goal_mps));
            let climb =
                if to_mps > v { self.leg(gear, i, (v, to_mps), reserve) } else { Leg::NEVER };
            let (leg, after_mps) = match next {
                Some(shift) if climb.is_never() => {
                    let (leg, after_mps) = self.shift((gear, shift.to), i, v);
                    (gear, next) = (shift.to, shifts.next());
                    (leg, after_mps)
                }
                None if climb.is_never() => {
                    let goes_on = v > STANDS_MPS && goal_m.is_finite();
                    return goes_on.then(|| (gone.time_s + (goal_m - gone.distance_m) / v, v));
                }
                _ => (climb, to_mps),
            };
            if gone.distance_m + leg.distance_m >= goal_m {
                let (rest_s, end_mps) = leg.part(goal_m - gone.distance_m, v, after_mps);
                return Some((gone.time_s + rest_s, end_mps));
            }
            gone = gone.and(leg);
            gone.spent = gone.spent.clamp(self.reserve - 1.0, self.reserve);
            v = after_mps;
            i = if grid.get(i + 1) == Some(&v) { i + 1 } else { self.cell(v) };
        }
        Some((gone.time_s, v))
    }

    /// The quickest ways to a goal, best first: for each gear to start in, and in each gear alone.
    /// To a speed that is not reached, those to the highest that is.
    pub fn ways(&self, goal: Aim) -> Vec<Way> {
        match goal {
            Aim::Speed(mps) => self.to_speed(mps),
            Aim::Distance(m) => self.over_distance(m),
        }
    }

    fn to_speed(&self, mps: f64) -> Vec<Way> {
        let grid = &self.speeds_mps;
        let goal = grid.partition_point(|v| *v < mps).min(grid.len() - 1);
        let to = |i: usize| {
            let plans = self.walks(i, 0.0).into_iter().chain(self.single_gears());
            self.timed(plans, Aim::Speed(grid[i]))
        };
        let mut ways = to(goal);
        if ways.is_empty() {
            let (mut reached, mut missed) = (0, goal);
            while missed - reached > 1 {
                let middle = (reached + missed) / 2;
                let found = to(middle);
                if found.is_empty() {
                    missed = middle;
                } else {
                    (reached, ways) = (middle, found);
                }
            }
        }
        ways
    }

    fn over_distance(&self, m: f64) -> Vec<Way> {
        let (goal, grid) = (Aim::Distance(m), &self.speeds_mps);
        let mut ways = self.timed(self.single_gears(), goal);
        let to = |end: usize| self.timed(self.walks(end, 1.0 / grid[end]), goal);
        let end_mps = |way: &Way| self.walked(&way.plan, goal, f64::INFINITY).map_or(0.0, |w| w.1);
        let mut highest_mps = ways.iter().map(end_mps).fold(0.0, f64::max);
        let mut tried = Vec::new();
        for end in (1..=END_SPEEDS).map(|i| i * (grid.len() - 1) / END_SPEEDS) {
            if end == 0 || grid[end] > BEYOND_END * highest_mps {
                continue;
            }
            let found = to(end);
            highest_mps = found.iter().map(end_mps).fold(highest_mps, f64::max);
            ways.extend(found);
            tried.push(end);
        }
        ways = best_first(ways);
        while let Some(end) = ways.first().map(|way| self.cell(end_mps(way)))
            && end > 0
            && !tried.contains(&end)
        {
            ways.extend(to(end));
            ways = best_first(ways);
            tried.push(end);
        }
        ways.dedup();
        ways
    }

    fn single_gears(&self) -> impl Iterator<Item = Plan> {
        (0..self.gears.len()).map(Plan::in_gear)
    }

    /// Those of the plans that get to a goal, best first.
    fn timed(&self, plans: impl IntoIterator<Item = Plan>, goal: Aim) -> Vec<Way> {
        let timed = |plan| Some(Way { time_s: self.time_s(&plan, goal, f64::INFINITY)?, plan });
        let mut ways = best_first(plans.into_iter().filter_map(timed).collect());
        ways.dedup();
        ways
    }

    /// The cheapest walk to a speed of the grid for each gear to start in, at a worth of the metre.
    fn walks(&self, goal: usize, s_per_m: f64) -> Vec<Plan> {
        let (gears, levels) = (self.gears.len(), self.peaks.levels().len());
        let row = gears * levels;
        // For each speed, gear and level: what it costs from there on, and how.
        let mut costs = vec![0.0; (goal + 1) * row];
        let mut decisions = vec![STAY; goal * row];
        let mut stays = vec![0.0; row];
        for i in (0..goal).rev() {
            let (below, above) = costs.split_at_mut((i + 1) * row);
            let here = &mut below[i * row..];
            for (gear, climbs) in self.climbs.iter().enumerate() {
                let then = &above[gear * levels..(gear + 1) * levels];
                for k in 0..levels {
                    stays[gear * levels + k] = climbs[i * levels + k].cost(s_per_m, then);
                }
            }
            here.copy_from_slice(&stays);
            for (pair, changes) in self.changes.iter().enumerate() {
                let (gear, to) = (pair / gears, pair % gears);
                for (k, change) in changes.iter().skip(i * levels).take(levels).enumerate() {
                    let cost = if change.after_mps >= self.speeds_mps[goal] {
                        change.rolling.cost(s_per_m)
                    } else {
                        // One shift is not followed by another at the same speed.
                        let then = if change.to == i {
                            &stays
                        } else {
                            &above[(change.to - i - 1) * row..]
                        };
                        change.whole.cost(s_per_m, &then[to * levels..])
                    };
                    let at = gear * levels + k;
                    if cost < here[at] {
                        here[at] = cost;
                        decisions[i * row + at] = to as u8;
                    }
                }
            }
        }
        let (level, share) = self.between_levels(self.reserve);
        let start = |gear: &usize| {
            between(&costs[gear * levels..(gear + 1) * levels], level, share) < MOST_COST_S
        };
        let plan = |first: usize| {
            let (mut gear, mut i, mut reserve) = (first, 0, self.reserve);
            let mut plan = Plan::in_gear(first);
            while i < goal {
                let (low, share) = self.between_levels(reserve);
                let k = if share < 0.5 { low } else { low + 1 };
                let to = usize::from(decisions[i * row + gear * levels + k]);
                if to >= gears {
                    reserve -= self.climbs[gear][i * levels + k].leg.spent;
                    i += 1;
                } else {
                    let at_mps = self.sharpened((gear, to), i, k, s_per_m);
                    plan.shifts.push(PlannedShift { at_mps, to });
                    let change = &self.changes[gear * gears + to][i * levels + k];
                    reserve -= change.whole.leg.spent;
                    gear = to;
                    // It stays in that gear for one speed at least.
                    i = if change.to == i { i + 1 } else { change.to };
                }
                reserve = reserve.clamp(0.0, 1.0);
            }
            plan
        };
        (0..gears).filter(start).map(plan).collect()
    }

    /// The speed of a shift, between those of the grid: where the parabola through the costs at
    /// the speed found and its neighbours is lowest.
    fn sharpened(&self, (from, to): (usize, usize), i: usize, k: usize, s_per_m: f64) -> f64 {
        let (grid, levels) = (&self.speeds_mps, self.peaks.levels().len());
        let changes = &self.changes[from * self.gears.len() + to];
        // What it costs more to shift one speed later, for each m/s.
        let later = |i: usize| {
            let (now, then) = (changes[i * levels + k], changes[(i + 1) * levels + k]);
            let stays = self.climbs[from][i * levels + k].leg.and(then.whole.leg);
            let climbs = (now.to..then.to).map(|i| self.climbs[to][i * levels + k].leg);
            let leaves = climbs.fold(now.whole.leg, Leg::and);
            (stays.cost(s_per_m) - leaves.cost(s_per_m)) / (grid[i + 1] - grid[i])
        };
        if i == 0 || i + 2 > grid.len() - 1 {
            return grid[i];
        }
        // Slopes of the cost half way to either neighbour.
        let (before, after) = (later(i - 1), later(i));
        if !(before < 0.0 && after > 0.0 && after - before < MOST_COST_S) {
            return grid[i];
        }
        let (low, high) = (0.5 * (grid[i - 1] + grid[i]), 0.5 * (grid[i] + grid[i + 1]));
        low - before * (high - low) / (after - before)
    }
}
