//! Full-throttle runs in each gear and through the gears.

use crate::inputs::drives::FullThrottle;
use crate::prepared::Setup;
use crate::runs::failure::Failure;
use crate::runs::figure::{Reading, Unit, higher, lower, residual};
use crate::runs::grade::grade_pct;
use crate::runs::limits::NamedLimit;
use crate::units;
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::State;
use sim_core::car::Slope;
use sim_core::follow::Recorder;
use sim_core::pieces::Tolerance;
use sim_core::pull::{Course, Gears, Pull, pull, top_speed, top_speed_of_all};

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

/// A pull in one gear, or through the gears.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PullRow {
    /// Gear, counted from 1; `null` through the gears.
    pub gear: Option<usize>,
    /// Gear that it starts in, counted from 1.
    pub from_gear: usize,
    /// Whether each gear is held to the highest rpm rather than left where the next pulls harder.
    pub held_to_rpm: bool,
    /// Time to each speed, s; `null` where it is not reached.
    pub times_s: Vec<Option<f64>>,
    /// Time between the first two speeds, s.
    pub between_s: Option<f64>,
    /// Time to each distance, s; `null` where it is not reached in time.
    pub distance_times_s: Vec<Option<f64>>,
    /// Speed at each distance, km/h.
    pub distance_kmh: Vec<Option<f64>>,
    /// Top speed, km/h.
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
    /// Through the gears, the quickest of the ways that are tried.
    pub through: PullRow,
    /// In each single gear from standstill.
    pub single: Vec<PullRow>,
}

/// When a pull is given up, s.
const MOST_S: f64 = 300.0;

fn course(marks: &Marks, gears: Gears) -> Course {
    Course {
        gears,
        slope: marks.slope,
        speeds_mps: marks.speeds_mps.clone(),
        distances_m: marks.distances_m.clone(),
        most_s: MOST_S,
    }
}

/// The ways through the gears that are tried: from every gear but the highest, shifting where the
/// next gear pulls harder, or holding each gear to the motor's highest speed.
fn ways(gears: usize) -> Vec<Gears> {
    let starts = 0..gears.saturating_sub(1).max(1);
    starts.flat_map(|g| [Gears::Through(g), Gears::Held(g)]).collect()
}

/// The quickest way through the gears to the highest timed speed; where none reaches it, to the
/// distance, or else to the next lower speed.
fn quickest(setup: &Setup<'_>, marks: &Marks) -> Result<Gears, Failure> {
    let start = State { speed_mps: marks.from_mps, ..*setup.start };
    let tried = ways(setup.car.gears())
        .into_par_iter()
        .map(|gears| {
            Ok((pull(setup.car, &start, &course(marks, gears), &tolerance(), &mut ())?, gears))
        })
        .collect::<Result<Vec<(Pull, Gears)>, Failure>>()?;
    let highest = |p: &Pull| p.at_speeds.last().copied().flatten().map(|m| m.time_s);
    let distance = |p: &Pull| p.at_distances.last().copied().flatten().map(|m| m.time_s);
    let lower = |p: &Pull| p.at_speeds.iter().rev().find_map(|m| m.map(|m| m.time_s));
    let by = |time: &dyn Fn(&Pull) -> Option<f64>| {
        tried
            .iter()
            .filter_map(|(p, gears)| Some((time(p)?, *gears)))
            .min_by(|a, b| a.0.total_cmp(&b.0))
            .map(|found| found.1)
    };
    Ok(by(&highest).or_else(|| by(&distance)).or_else(|| by(&lower)).unwrap_or(Gears::Through(0)))
}

fn tolerance() -> Tolerance {
    Tolerance { longest_step_s: 0.5, ..Tolerance::default() }
}

/// Pulls in one gear (counted from 0), or through the gears with `None`.
///
/// # Errors
/// [`Failure`] when the integrator gives up.
pub fn row<R: Recorder>(
    setup: &Setup<'_>,
    marks: &Marks,
    gear: Option<usize>,
    recorder: &mut R,
) -> Result<PullRow, Failure> {
    let way = match gear {
        Some(gear) => Gears::Single(gear),
        None => quickest(setup, marks)?,
    };
    let course = course(marks, way);
    let start = State { speed_mps: marks.from_mps, ..*setup.start };
    let found: Pull = pull(setup.car, &start, &course, &tolerance(), recorder)?;
    let gears = setup.car.gears();
    let (top, rpm_mps) = match gear {
        Some(g) => {
            (top_speed(setup.car, setup.start, course.slope, g), setup.car.top_speed_by_rpm_mps(g))
        }
        None => (
            top_speed_of_all(setup.car, setup.start, course.slope),
            setup.car.top_speed_by_rpm_mps(gears - 1),
        ),
    };
    let phases = found
        .phases
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
        .collect();
    Ok(PullRow {
        gear: gear.map(|g| g + 1),
        from_gear: match way {
            Gears::Single(g) | Gears::Through(g) | Gears::Held(g) => g + 1,
        },
        held_to_rpm: matches!(way, Gears::Held(_)),
        times_s: found.at_speeds.iter().map(|m| m.map(|m| m.time_s)).collect(),
        between_s: found.between_s(0, 1),
        distance_times_s: found.at_distances.iter().map(|m| m.map(|m| m.time_s)).collect(),
        distance_kmh: found
            .at_distances
            .iter()
            .map(|m| m.map(|m| units::kmh_from_mps(m.speed_mps)))
            .collect(),
        top_speed_kmh: units::kmh_from_mps(top.0),
        top_speed_by: top.1.map(NamedLimit),
        rpm_speed_kmh: units::kmh_from_mps(rpm_mps),
        phases,
        ledger_residual: found.end.ledger.residual_share(),
    })
}

/// Pulls in every gear and through the gears, in parallel.
///
/// # Errors
/// [`Failure`] when the integrator gives up.
pub fn report(setup: &Setup<'_>, marks: &Marks) -> Result<PullReport, Failure> {
    let runs: Vec<Option<usize>> =
        std::iter::once(None).chain((0..setup.car.gears()).map(Some)).collect();
    let mut rows = runs
        .into_par_iter()
        .map(|gear| row(setup, marks, gear, &mut ()))
        .collect::<Result<Vec<_>, _>>()?;
    let single = rows.split_off(1);
    let through = rows.remove(0);
    Ok(PullReport {
        speeds_kmh: marks.speeds_mps.iter().map(|v| units::kmh_from_mps(*v)).collect(),
        from_kmh: units::kmh_from_mps(marks.from_mps),
        distances_m: marks.distances_m.clone(),
        grade_pct: grade_pct(marks.slope),
        through,
        single,
    })
}

/// The figures of a pull through the gears, from rest on the level, to [`Marks::metric`].
pub const FIGURES: &[Reading<PullRow>] = &[
    lower("to_50_kmh_s", Unit::S, "full throttle from rest to 50 km/h", |r| reached(&r.times_s, 0)),
    lower("to_80_kmh_s", Unit::S, "full throttle from rest to 80 km/h", |r| reached(&r.times_s, 1)),
    lower("to_100_kmh_s", Unit::S, "full throttle from rest to 100 km/h", |r| {
        reached(&r.times_s, 2)
    }),
    lower("over_400_m_s", Unit::S, "full throttle from rest over 400 m", |r| {
        reached(&r.distance_times_s, 0)
    }),
    higher("top_speed_kmh", Unit::Kmh, "highest speed on the level", |r| Some(r.top_speed_kmh)),
    residual("pull_ledger_residual", |r| Some(r.ledger_residual)),
];

/// The time to a mark, or never.
fn reached(times_s: &[Option<f64>], mark: usize) -> Option<f64> {
    Some(times_s.get(mark).copied().flatten().unwrap_or(f64::NAN))
}
