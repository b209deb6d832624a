//! Full-throttle runs in each gear and through the gears.

use crate::inputs::drives::FullThrottle;
use crate::prepared::Setup;
use crate::runs::failure::Failure;
use crate::runs::figure::{Reading, Report, Unit, higher, lower, residual};
use crate::runs::grade::grade_pct;
use crate::runs::history::{History, Seen};
use crate::runs::limits::NamedLimit;
use crate::runs::rating::{self, RatingReport};
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::Car;
use sim_core::State;
use sim_core::car::Slope;
use sim_core::follow::Recorder;
use sim_core::pieces::Tolerance;
use sim_core::pull::{
    Aim, Course, Plan, Planner, Pull, PullEnding, Quickest, Spell, pull, top_speed,
    top_speed_of_all,
};
use sim_core::units;

/// What is timed.
#[derive(Debug, Clone, PartialEq)]
pub struct Marks {
    /// Speed at the start, m/s.
    pub from_mps: f64,
    /// Speeds, m/s, rising; the in-gear time runs between the first two.
    pub speeds_mps: Vec<f64>,
    /// Distances, m, rising.
    pub distances_m: Vec<f64>,
    /// Slope of the road.
    pub slope: Slope,
}

impl Marks {
    /// 50, 80 and 100 km/h, 400 m, from rest on the level.
    pub fn metric() -> Self {
        Self {
            from_mps: 0.0,
            speeds_mps: [50.0, 80.0, 100.0].map(units::mps_from_kmh).to_vec(),
            distances_m: vec![400.0],
            slope: Slope::LEVEL,
        }
    }

    /// 30, 50 and 60 mph, a quarter of a mile, from rest on the level.
    pub fn us() -> Self {
        Self {
            speeds_mps: [30.0, 50.0, 60.0].map(units::mps_from_mph).to_vec(),
            distances_m: vec![0.25 * units::M_PER_MI],
            ..Self::metric()
        }
    }

    /// A scenario's own pull; what it leaves out comes from the usual marks.
    pub fn of(own: &FullThrottle, usual: Self) -> Self {
        let or = |own: &[f64], usual: Vec<f64>| if own.is_empty() { usual } else { own.to_vec() };
        Self {
            from_mps: own.from_mps,
            speeds_mps: or(&own.to_mps, usual.speeds_mps),
            distances_m: or(&own.distances_m, usual.distances_m),
            slope: own.slope,
        }
    }
}

/// A stretch of a pull under one limit.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PhaseReport {
    /// Gear, counted from 1; `null` during a shift.
    pub gear: Option<usize>,
    /// What held the car back; `null` during a shift.
    pub limit: Option<NamedLimit>,
    /// The same in plain words.
    pub words: Option<&'static str>,
    /// Start, s.
    pub from_s: f64,
    /// End, s.
    pub to_s: f64,
    /// Speed at the start, km/h.
    pub from_kmh: f64,
    /// Speed at the end, km/h.
    pub to_kmh: f64,
}

/// A shift of a pull.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ShiftReport {
    /// Gear that is left, counted from 1.
    pub from_gear: usize,
    /// Gear that is taken, counted from 1.
    pub to_gear: usize,
    /// When, s.
    pub at_s: f64,
    /// Speed at which it begins, km/h.
    pub at_kmh: f64,
    /// Motor speed at which it begins, rpm.
    pub at_rpm: f64,
}

/// The quickest pull to a mark: how it is driven.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PlanReport {
    /// Speed at the start, km/h.
    pub from_kmh: f64,
    /// Speed that is reached, km/h; `null` where a distance is covered.
    pub to_kmh: Option<f64>,
    /// Distance that is covered, m; `null` where a speed is reached.
    pub over_m: Option<f64>,
    /// Time, s.
    pub time_s: f64,
    /// Gear that it starts in, counted from 1.
    pub from_gear: usize,
    /// Its shifts, in order.
    pub shifts: Vec<ShiftReport>,
    /// What held the car back, from start to end.
    pub phases: Vec<PhaseReport>,
}

/// The quickest pulls through the gears; each mark has its own.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Through {
    /// Time to each speed, s; `null` where it is not reached.
    pub times_s: Vec<Option<f64>>,
    /// Time from the first to the second speed, s, rolling at the first in the gear that is
    /// quickest from there.
    pub between_s: Option<f64>,
    /// Time to each distance, s; `null` where it is not reached in time.
    pub distance_times_s: Vec<Option<f64>>,
    /// Speed at each distance, km/h.
    pub distance_kmh: Vec<Option<f64>>,
    /// Top speed, km/h: the highest mean speed over one kilometre at full throttle (ISO 8715).
    pub top_speed_kmh: f64,
    /// What sets the top speed: `rpm`, or the limit that the balance of forces meets.
    pub top_speed_by: Option<NamedLimit>,
    /// Speed at the highest motor rpm, km/h.
    pub rpm_speed_kmh: f64,
    /// How each mark that is reached is reached: the speeds, the second from the first, and the
    /// distances.
    pub plans: Vec<PlanReport>,
    /// Largest ledger residual of these runs, as a share of the throughput.
    pub ledger_residual: f64,
}

impl PullReport {
    /// The pull from the start to the highest speed that is reached, or else over the longest
    /// distance.
    pub fn farthest(&self) -> Option<&PlanReport> {
        let plans = || self.through.plans.iter().filter(|p| p.from_kmh == self.from_kmh);
        let kmh = |p: &PlanReport| p.to_kmh.unwrap_or(0.0);
        let to_speed = plans().filter(|p| p.to_kmh.is_some());
        to_speed.max_by(|a, b| kmh(a).total_cmp(&kmh(b))).or(plans().next_back())
    }
}

/// How a pull ended, as results name it.
#[derive(Serialize, JsonSchema)]
#[serde(remote = "PullEnding", rename_all = "snake_case")]
#[schemars(rename = "PullEnding")]
enum NamedEnding {
    /// All marks were passed.
    Passed,
    /// Nothing was gained any more.
    Spent,
    /// The weakest cell was empty.
    Empty,
    /// The time was over.
    TimeUp,
}

/// A pull in one gear.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PullRow {
    /// Gear, counted from 1.
    pub gear: usize,
    /// How it ended.
    #[serde(serialize_with = "NamedEnding::serialize")]
    #[schemars(with = "NamedEnding")]
    pub ending: PullEnding,
    /// Time to each speed, s; `null` where it is not reached.
    pub times_s: Vec<Option<f64>>,
    /// Time between the first two speeds, s.
    pub between_s: Option<f64>,
    /// Time to each distance, s; `null` where it is not reached in time.
    pub distance_times_s: Vec<Option<f64>>,
    /// Speed at each distance, km/h.
    pub distance_kmh: Vec<Option<f64>>,
    /// Top speed, km/h: the highest mean speed over one kilometre at full throttle (ISO 8715).
    pub top_speed_kmh: f64,
    /// What sets the top speed: `rpm`, or the limit that the balance of forces meets.
    pub top_speed_by: Option<NamedLimit>,
    /// Speed at the highest motor rpm, km/h.
    pub rpm_speed_kmh: f64,
    /// What held the car back, from start to end.
    pub phases: Vec<PhaseReport>,
    /// Ledger residual as a share of the throughput.
    pub ledger_residual: f64,
}

/// Full-throttle runs.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PullReport {
    /// Speeds that are timed, km/h.
    pub speeds_kmh: Vec<f64>,
    /// Speed at the start, km/h.
    pub from_kmh: f64,
    /// Distances that are timed, m.
    pub distances_m: Vec<f64>,
    /// Grade, %.
    pub grade_pct: f64,
    /// Through the gears.
    pub through: Through,
    /// In each single gear from the start.
    pub single: Vec<PullRow>,
    /// What it holds for thirty minutes and continuously, on the level.
    pub rating: RatingReport,
}

/// When a pull is given up, s.
const MOST_S: f64 = 300.0;

fn tolerance() -> Tolerance {
    Tolerance { longest_step_s: 2.0, ..Tolerance::default() }
}

fn started(setup: &Setup<'_>, mps: f64) -> State {
    State { speed_mps: mps, ..*setup.start }
}

fn phases(phases: &[Spell]) -> Vec<PhaseReport> {
    phases
        .iter()
        .map(|p| PhaseReport {
            gear: p.gear.map(|g| g + 1),
            limit: p.limit.map(NamedLimit),
            words: p.limit.map(|limit| NamedLimit(limit).words()),
            from_s: p.from.time_s,
            to_s: p.to.time_s,
            from_kmh: units::kmh_from_mps(p.from.speed_mps),
            to_kmh: units::kmh_from_mps(p.to.speed_mps),
        })
        .collect()
}

/// Top speed of a gear, km/h, and what sets it.
fn top(setup: &Setup<'_>, slope: Slope, gear: usize) -> (f64, Option<NamedLimit>) {
    let top = top_speed(setup.car, &started(setup, 0.0), slope, gear);
    (units::kmh_from_mps(top.speed_mps), top.by.map(NamedLimit))
}

/// Pulls in one gear, counted from 0.
fn single(setup: &Setup<'_>, marks: &Marks, gear: usize) -> Result<PullRow, Failure> {
    let course = Course {
        plan: Plan::in_gear(gear),
        slope: marks.slope,
        speeds_mps: marks.speeds_mps.clone(),
        distances_m: marks.distances_m.clone(),
        most_s: MOST_S,
    };
    let start = started(setup, marks.from_mps);
    let found: Pull = pull(setup.car, &start, &course, &tolerance(), &mut ())?;
    let (top_speed_kmh, top_speed_by) = top(setup, marks.slope, gear);
    let at_distances = found.at_distances.iter();
    Ok(PullRow {
        gear: gear + 1,
        ending: found.ending,
        times_s: found.at_speeds.iter().map(|m| m.map(|m| m.time_s)).collect(),
        between_s: found.between_s(0, 1),
        distance_times_s: at_distances.clone().map(|m| m.map(|m| m.time_s)).collect(),
        distance_kmh: at_distances.map(|m| m.map(|m| units::kmh_from_mps(m.speed_mps))).collect(),
        top_speed_kmh,
        top_speed_by,
        rpm_speed_kmh: units::kmh_from_mps(setup.car.top_speed_by_rpm_mps(gear)),
        phases: phases(&found.phases),
        ledger_residual: found.end.ledger.residual_share(),
    })
}

/// A goal and the quickest pull to it, from a speed in m/s.
struct Best {
    from_mps: f64,
    goal: Aim,
    found: Option<Quickest>,
}

/// The quickest pulls from a speed to some goals, in parallel.
fn quickest(
    setup: &Setup<'_>,
    slope: Slope,
    from_mps: f64,
    goals: &[Aim],
) -> Result<Vec<Best>, Failure> {
    let start = started(setup, from_mps);
    let planner = Planner::new(setup.car, &start, slope, goals, MOST_S, &tolerance())?;
    goals
        .par_iter()
        .map(|goal| Ok(Best { from_mps, goal: *goal, found: planner.quickest(*goal)? }))
        .collect()
}

impl Best {
    fn report(&self, car: &Car) -> Option<PlanReport> {
        let found = self.found.as_ref()?;
        let mut gear = found.plan.first;
        let shifts = found.plan.shifts.iter().zip(&found.pull.at_shifts).map(|(shift, at)| {
            let from = std::mem::replace(&mut gear, shift.to);
            ShiftReport {
                from_gear: from + 1,
                to_gear: shift.to + 1,
                at_s: at.time_s,
                at_kmh: units::kmh_from_mps(at.speed_mps),
                at_rpm: units::rpm_from_radps(car.motor_radps(from, at.speed_mps)),
            }
        });
        Some(PlanReport {
            from_kmh: units::kmh_from_mps(self.from_mps),
            to_kmh: match self.goal {
                Aim::Speed(mps) => Some(units::kmh_from_mps(mps)),
                Aim::Distance(_) => None,
            },
            over_m: match self.goal {
                Aim::Speed(_) => None,
                Aim::Distance(m) => Some(m),
            },
            time_s: found.time_s,
            from_gear: found.plan.first + 1,
            shifts: shifts.collect(),
            phases: phases(&found.pull.phases),
        })
    }

    fn time_s(&self) -> Option<f64> {
        self.found.as_ref().map(|f| f.time_s)
    }
}

/// Pulls through the gears to each mark as quickly as it can be done. `between` asks for the time
/// from the first to the second speed as well.
///
/// # Errors
/// [`Failure`] when the integrator gives up.
pub fn through(setup: &Setup<'_>, marks: &Marks, between: bool) -> Result<Through, Failure> {
    let to_speeds = marks.speeds_mps.iter().map(|mps| Aim::Speed(*mps));
    let over_distances = marks.distances_m.iter().map(|m| Aim::Distance(*m));
    let goals: Vec<Aim> = to_speeds.chain(over_distances).collect();
    let mut all = quickest(setup, marks.slope, marks.from_mps, &goals)?;
    let over = all.split_off(marks.speeds_mps.len());
    let rolling = match marks.speeds_mps[..] {
        [first, second, ..] if between => {
            quickest(setup, marks.slope, first, &[Aim::Speed(second)])?
        }
        _ => Vec::new(),
    };
    let gears = setup.car.gears();
    let top = top_speed_of_all(setup.car, &started(setup, 0.0), marks.slope);
    let each = || all.iter().chain(&rolling).chain(&over);
    let runs = each().filter_map(|best| best.found.as_ref());
    let at_distance = |best: &Best| Some(best.found.as_ref()?.pull.end.state.speed_mps);
    Ok(Through {
        times_s: all.iter().map(Best::time_s).collect(),
        between_s: rolling.first().and_then(Best::time_s),
        distance_times_s: over.iter().map(Best::time_s).collect(),
        distance_kmh: over.iter().map(|b| at_distance(b).map(units::kmh_from_mps)).collect(),
        top_speed_kmh: units::kmh_from_mps(top.speed_mps),
        top_speed_by: top.by.map(NamedLimit),
        rpm_speed_kmh: units::kmh_from_mps(setup.car.top_speed_by_rpm_mps(gears - 1)),
        ledger_residual: runs.map(|r| r.pull.end.ledger.residual_share()).fold(0.0, f64::max),
        plans: each().filter_map(|best| best.report(setup.car)).collect(),
    })
}

/// Pulls through the gears to the highest speed that is reached, or else over the longest distance,
/// and shows every step to a recorder.
///
/// # Errors
/// [`Failure::Invalid`] where no mark is reached; [`Failure`] when the integrator gives up.
pub fn recorded<R: Recorder>(
    setup: &Setup<'_>,
    marks: &Marks,
    recorder: &mut R,
) -> Result<(), Failure> {
    farthest(setup, marks, &tolerance(), recorder)
}

/// The same moment by moment, close enough to draw; nothing where no mark is reached.
///
/// # Errors
/// [`Failure`] when the integrator gives up.
pub fn history(setup: &Setup<'_>, marks: &Marks) -> Result<Vec<Seen>, Failure> {
    let mut history = History::new(setup.car);
    match closely(setup, marks, &mut history) {
        Ok(()) | Err(Failure::Invalid(_)) => Ok(history.into_seen()),
        Err(other) => Err(other),
    }
}

/// The same as [`recorded`] in steps of at most 0.2 s.
///
/// # Errors
/// As [`recorded`].
pub fn closely<R: Recorder>(
    setup: &Setup<'_>,
    marks: &Marks,
    recorder: &mut R,
) -> Result<(), Failure> {
    farthest(setup, marks, &Tolerance { longest_step_s: 0.2, ..tolerance() }, recorder)
}

fn farthest<R: Recorder>(
    setup: &Setup<'_>,
    marks: &Marks,
    tolerance: &Tolerance,
    recorder: &mut R,
) -> Result<(), Failure> {
    let speeds = marks.speeds_mps.iter().map(|mps| Aim::Speed(*mps));
    let distances = marks.distances_m.iter().rev().map(|m| Aim::Distance(*m));
    let goals: Vec<Aim> = speeds.rev().chain(distances).collect();
    let bests = quickest(setup, marks.slope, marks.from_mps, &goals)?;
    let Some(best) = bests.iter().find_map(|best| best.found.as_ref().zip(Some(best.goal))) else {
        return Err(Failure::Invalid("the car reaches none of the speeds and distances".into()));
    };
    let (speeds_mps, distances_m) = match best.1 {
        Aim::Speed(mps) => (vec![mps], vec![]),
        Aim::Distance(m) => (vec![], vec![m]),
    };
    let course = Course {
        plan: best.0.plan.clone(),
        slope: marks.slope,
        speeds_mps,
        distances_m,
        most_s: MOST_S,
    };
    pull(setup.car, &started(setup, marks.from_mps), &course, tolerance, recorder)?;
    Ok(())
}

/// Pulls in every gear and through the gears, in parallel.
///
/// # Errors
/// [`Failure`] when the integrator gives up.
pub fn report(setup: &Setup<'_>, marks: &Marks) -> Result<PullReport, Failure> {
    let through = through(setup, marks, true)?;
    let single = (0..setup.car.gears()).into_par_iter().map(|gear| single(setup, marks, gear));
    Ok(PullReport {
        speeds_kmh: marks.speeds_mps.iter().map(|v| units::kmh_from_mps(*v)).collect(),
        from_kmh: units::kmh_from_mps(marks.from_mps),
        distances_m: marks.distances_m.clone(),
        grade_pct: grade_pct(marks.slope),
        through,
        single: single.collect::<Result<Vec<_>, Failure>>()?,
        rating: rating::report(setup),
    })
}

impl Report for Through {}

/// The figures of a pull through the gears, from rest on the level, to [`Marks::metric`].
pub const FIGURES: &[Reading<Through>] = &[
    lower("to_50_kmh_s", Unit::S, "full throttle from rest to 50 km/h", |r| reached(&r.times_s, 0)),
    lower("to_80_kmh_s", Unit::S, "full throttle from rest to 80 km/h", |r| reached(&r.times_s, 1)),
    lower("to_100_kmh_s", Unit::S, "full throttle from rest to 100 km/h", |r| {
        reached(&r.times_s, 2)
    }),
    lower("over_400_m_s", Unit::S, "full throttle from rest over 400 m", |r| {
        reached(&r.distance_times_s, 0)
    }),
    higher(
        "top_speed_kmh",
        Unit::Kmh,
        "highest mean speed over one kilometre of the level at full throttle (ISO 8715)",
        |r| Some(r.top_speed_kmh),
    ),
    residual("pull_ledger_residual", |r| Some(r.ledger_residual)),
];

/// The time to a mark, or never.
fn reached(times_s: &[Option<f64>], mark: usize) -> Option<f64> {
    Some(times_s.get(mark).copied().flatten().unwrap_or(f64::NAN))
}
