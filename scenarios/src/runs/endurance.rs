//! A map of speeds and grades: for how long each is held, and what gives up first.

use crate::prepared::Setup;
use crate::runs::failure::Failure;
use crate::runs::figure::{Reading, Report, Unit, higher, lower};
use crate::runs::limits::NamedLimit;
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::car::Slope;
use sim_core::endurance::{Outcome, endurance};
use sim_core::units;
use sim_core::{Invalid, Limit};

/// A map to be made.
#[derive(Debug, Clone, PartialEq)]
pub struct Map {
    /// Speeds, m/s.
    pub speeds_mps: Vec<f64>,
    /// Grades as rise over run.
    pub grades: Vec<f64>,
    /// Gear, from 0; left out, the best one for each speed and grade.
    pub gear: Option<usize>,
    /// Time after which a run is given up, s.
    pub most_s: f64,
}

impl Default for Map {
    /// 40 to 120 km/h by 10 on grades of 0 to 10 % by 1, for 3 h.
    fn default() -> Self {
        Self {
            speeds_mps: (4..=12).map(|tens| units::mps_from_kmh(10.0 * f64::from(tens))).collect(),
            grades: (0..=10).map(|pct| units::slope_from_pct(f64::from(pct))).collect(),
            gear: None,
            most_s: units::s_from_h(3.0),
        }
    }
}

/// What comes of a speed on a grade.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum EnduranceOutcome {
    /// It is held continuously: motor and controller settle below their warnings, and the cells
    /// stay within their limits until the pack gives out.
    Continuous,
    /// Something cuts back or gives out.
    Ends,
    /// Nothing did within the longest time that was tried.
    Beyond,
    /// It is not held at all.
    Cannot,
}

impl EnduranceOutcome {
    /// Its name, as it stands in files of results.
    pub fn name(self) -> &'static str {
        match self {
            EnduranceOutcome::Continuous => "continuous",
            EnduranceOutcome::Ends => "ends",
            EnduranceOutcome::Beyond => "beyond",
            EnduranceOutcome::Cannot => "cannot",
        }
    }
}

/// One speed on one grade.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct EnduranceCell {
    /// Speed, km/h.
    pub speed_kmh: f64,
    /// Grade, %.
    pub grade_pct: f64,
    /// Gear, counted from 1; `None` where no gear holds the speed.
    pub gear: Option<usize>,
    /// What comes of it.
    pub outcome: EnduranceOutcome,
    /// Minutes until something cuts back or gives out, where it is continuous the pack; `None` where
    /// that is beyond the longest time, or it cannot be held.
    pub minutes: Option<f64>,
    /// What gives up, or stands in the way.
    pub by: Option<NamedLimit>,
    /// A letter for that part.
    pub letter: Option<&'static str>,
    /// Where it is continuous, the largest share of the way from ambient to a warning temperature, %.
    pub heat_pct: Option<f64>,
}

/// A map.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct EnduranceReport {
    /// Speeds, km/h.
    pub speeds_kmh: Vec<f64>,
    /// Grades, %.
    pub grades_pct: Vec<f64>,
    /// Gear, counted from 1, where one was chosen.
    pub gear: Option<usize>,
    /// Longest time that was tried, min.
    pub most_minutes: f64,
    /// Charge at the start, %.
    pub from_charge_pct: f64,
    /// Air temperature, °C.
    pub air_c: f64,
    /// What the letters mean.
    pub letters: [(&'static str, &'static str); LETTERS.len()],
    /// A row for each grade, with a cell for each speed.
    pub rows: Vec<Vec<EnduranceCell>>,
}

/// Letters of the parts.
pub const LETTERS: [(&str, &str); 7] = [
    ("w", "motor winding too hot"),
    ("c", "controller: heat, current or voltage"),
    ("b", "battery: cells too hot or too cold, at their current or their voltage"),
    ("v", "the pack is empty"),
    ("r", "rotor: the motor at its torque or its speed"),
    ("g", "gearbox or clutch at its torque"),
    ("t", "tyres at their grip"),
];

/// Letter of a limit.
pub fn letter(limit: Limit) -> &'static str {
    match limit {
        Limit::MotorHeat => "w",
        Limit::ControllerHeat
        | Limit::ControllerMotorCurrent
        | Limit::ControllerPackCurrent
        | Limit::ControllerVoltage => "c",
        Limit::CellTemperature | Limit::CellCurrent | Limit::CellVoltage | Limit::PackPower => "b",
        Limit::Charge => "v",
        Limit::MotorTorque | Limit::MotorVoltage | Limit::Rpm => "r",
        Limit::GearboxTorque | Limit::ClutchTorque => "g",
        Limit::Grip => "t",
    }
}

fn cell(
    setup: &Setup<'_>,
    map: &Map,
    grade: f64,
    speed_mps: f64,
) -> Result<EnduranceCell, Failure> {
    let car = setup.car;
    let slope = Slope::from_grade(grade);
    let gears = map.gear.map_or(0..car.gears(), |g| g..g + 1);
    let mut best: Option<(usize, Outcome)> = None;
    for gear in gears {
        let outcome = endurance(car, setup.start, slope, speed_mps, gear, map.most_s)?;
        // Of gears that cannot, the last one that the motor may turn in says why.
        let first_reason = matches!(outcome, Outcome::Cannot { by } if by != Some(Limit::Rpm));
        if best.is_none_or(|(_, b)| {
            outcome.beats(&b) || first_reason && matches!(b, Outcome::Cannot { .. })
        }) {
            best = Some((gear, outcome));
        }
    }
    let (gear, outcome) =
        best.ok_or_else(|| Failure::Invalid("the gearbox has no gear".to_owned()))?;
    let (what, minutes, by) = match outcome {
        Outcome::Continuous { pack, .. } => (
            EnduranceOutcome::Continuous,
            pack.map(|(time_s, _)| units::min_from_s(time_s)),
            pack.map(|(_, by)| by),
        ),
        Outcome::Ends { time_s, by } => {
            (EnduranceOutcome::Ends, Some(units::min_from_s(time_s)), Some(by))
        }
        Outcome::Beyond { time_s } => {
            (EnduranceOutcome::Beyond, Some(units::min_from_s(time_s)), None)
        }
        Outcome::Cannot { by } => (EnduranceOutcome::Cannot, None, by),
    };
    let heat_pct = match outcome {
        Outcome::Continuous { heat_share, .. } => Some(units::pct_from_share(heat_share)),
        _ => None,
    };
    Ok(EnduranceCell {
        speed_kmh: units::kmh_from_mps(speed_mps),
        grade_pct: units::pct_from_slope(grade),
        gear: (what != EnduranceOutcome::Cannot).then_some(gear + 1),
        outcome: what,
        minutes,
        by: by.map(NamedLimit),
        letter: by.map(letter),
        heat_pct,
    })
}

/// Makes the map, in parallel; `done` is called after each speed of each grade.
///
/// # Errors
/// [`Failure`] when the gear is not there or the integrator gives up.
pub fn report(
    setup: &Setup<'_>,
    map: &Map,
    done: impl Fn() + Sync,
) -> Result<EnduranceReport, Failure> {
    if let Some(gear) = map.gear.filter(|g| *g >= setup.car.gears()) {
        let allowed = format!("1 to {}", setup.car.gears());
        return Err(Invalid::new("gear", gear + 1, allowed).into());
    }
    let all: Vec<(f64, f64)> = map
        .grades
        .iter()
        .flat_map(|grade| map.speeds_mps.iter().map(move |speed| (*grade, *speed)))
        .collect();
    let cells = all
        .par_iter()
        .map(|(grade, speed)| {
            let cell = cell(setup, map, *grade, *speed);
            done();
            cell
        })
        .collect::<Result<Vec<_>, Failure>>()?;
    let rows = cells.chunks(map.speeds_mps.len().max(1)).map(<[_]>::to_vec).collect();
    Ok(EnduranceReport {
        speeds_kmh: map.speeds_mps.iter().map(|v| units::kmh_from_mps(*v)).collect(),
        grades_pct: map.grades.iter().map(|g| units::pct_from_slope(*g)).collect(),
        gear: map.gear.map(|g| g + 1),
        most_minutes: units::min_from_s(map.most_s),
        from_charge_pct: units::pct_from_share(setup.start.charge),
        air_c: units::c_from_k(setup.car.surroundings().air_k),
        letters: LETTERS,
        rows,
    })
}

impl EnduranceReport {
    /// The share of the speeds and grades with an outcome, %.
    fn share_pct(&self, outcome: EnduranceOutcome) -> f64 {
        let cells = || self.rows.iter().flatten();
        let such = cells().filter(|cell| cell.outcome == outcome).count();
        units::pct_of(such as f64, cells().count() as f64)
    }

    /// The most of something among what is continuous, or never.
    fn most_continuous<'a>(
        &'a self,
        cells: impl IntoIterator<Item = &'a EnduranceCell>,
        of: fn(&EnduranceCell) -> f64,
    ) -> f64 {
        let such = cells.into_iter().filter(|cell| cell.outcome == EnduranceOutcome::Continuous);
        such.map(of).reduce(f64::max).unwrap_or(f64::NAN)
    }
}

impl Report for EnduranceReport {}

/// The figures of a map of speeds and grades.
pub const FIGURES: &[Reading<EnduranceReport>] = &[
    higher(
        "endurance_continuous_pct",
        Unit::Pct,
        "share of the map's speeds and grades that are held continuously",
        |r| Some(r.share_pct(EnduranceOutcome::Continuous)),
    ),
    lower(
        "endurance_cannot_pct",
        Unit::Pct,
        "share of the map's speeds and grades that are not held at all",
        |r| Some(r.share_pct(EnduranceOutcome::Cannot)),
    ),
    higher(
        "endurance_continuous_kmh",
        Unit::Kmh,
        "highest of the map's speeds that is held continuously on the gentlest grade",
        |r| Some(r.most_continuous(r.rows.first()?, |cell| cell.speed_kmh)),
    ),
    higher(
        "endurance_continuous_grade_pct",
        Unit::Pct,
        "steepest of the map's grades that is held continuously at the lowest speed",
        |r| Some(r.most_continuous(r.rows.iter().filter_map(|row| row.first()), |c| c.grade_pct)),
    ),
    higher(
        "endurance_shortest_min",
        Unit::Min,
        "shortest time until something cuts back, of all that is held at first",
        |r| Some(r.rows.iter().flatten().filter_map(|c| c.minutes).fold(f64::INFINITY, f64::min)),
    ),
];
