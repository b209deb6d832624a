//! The drives that a scenario asks for, and the same in SI.

use crate::files::allowed::{Allowed, above, within};
use crate::files::bounds::TARGETS;
use crate::files::field_path::{Fault, FieldPath, only_one};
use crate::inputs::day;
use crate::inputs::pace::Pace;
use crate::inputs::road::Road;
use crate::inputs::wltc::Wltc;
use schemars::JsonSchema;
use serde::Deserialize;
use sim_core::car::Slope;
use sim_core::climb::Hill;
use sim_core::units;

/// The drives that a scenario is about; each is optional.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Runs {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// A steady climb.
    pub climb: Option<Climb>,
    /// Another steady climb, long: a pass.
    pub pass: Option<Climb>,
    /// The daily road.
    pub commute: Option<Commute>,
    /// Full throttle from rest.
    pub pull: Option<Pull>,
    /// The legs of a day in order; left out, the commute there, 8 h parked, and back.
    pub day: Option<Vec<day::Leg>>,
}

/// A steady climb; how long it is is either a distance or a time.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Climb {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Rise over run, %.
    pub grade_pct: f64,
    /// Speed to hold, km/h.
    pub speed_kmh: f64,
    /// Length, km.
    pub distance_km: Option<f64>,
    /// Length, min at the speed to hold.
    pub minutes: Option<f64>,
}

/// The daily road.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Commute {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Name of a built-in cycle, or path of a road file, seen from this file; `wltc` is that of the
    /// class of the car.
    pub cycle: String,
    /// How fast it is driven, where it is a road without times.
    pub pace: Option<Pace>,
}

/// Full throttle from a speed, until speeds and distances are reached.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Pull {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Speed at the start, km/h; left out, the car stands.
    pub from_kmh: Option<f64>,
    /// Speeds to time, km/h.
    pub to_kmh: Option<Vec<f64>>,
    /// Distances to time, m.
    pub distances_m: Option<Vec<f64>>,
    /// Rise over run, %.
    pub grade_pct: Option<f64>,
}

/// The drives in SI.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Drives {
    /// A steady climb.
    pub climb: Option<Hill>,
    /// A long steady climb.
    pub pass: Option<Hill>,
    /// The daily road.
    pub commute: Option<Road>,
    /// The WLTC where it is not to be that of the car itself: cars that are compared drive one road.
    pub wltc: Option<Wltc>,
    /// Full throttle.
    pub pull: Option<FullThrottle>,
    /// The legs of a day, where the scenario has a day.
    pub day: Option<Vec<day::Stage>>,
}

/// A pull in SI; targets rise.
#[derive(Debug, Clone, PartialEq)]
pub struct FullThrottle {
    /// Speed at the start, m/s.
    pub from_mps: f64,
    /// Speeds to time, m/s.
    pub to_mps: Vec<f64>,
    /// Distances to time, m.
    pub distances_m: Vec<f64>,
    /// Slope of the road.
    pub slope: Slope,
}

impl Runs {
    /// The drives in SI; `road` finds the daily road by its name.
    pub(crate) fn model(
        &self,
        at: &FieldPath,
        road: impl Fn(&str, &str) -> Road,
    ) -> Result<Drives, Fault> {
        let climb = |name, run: &Option<Climb>| {
            run.as_ref().map(|run| run.model(&at.field(name))).transpose()
        };
        let commute_at = at.field("commute");
        let commute = match &self.commute {
            Some(run) if run.cycle.trim().is_empty() => {
                let allowed = "the name of a cycle or the path of a road file";
                return Err(commute_at.refuse("cycle", "an empty string", allowed));
            }
            Some(run) => {
                let pace = run.pace.as_ref().map(|pace| pace.model(&commute_at.field("pace")));
                let named = road(&commute_at.field("cycle").path(), &run.cycle);
                Some(named.at_pace(pace.transpose()?))
            }
            None => None,
        };
        let pull = self.pull.as_ref().map(|run| run.model(&at.field("pull"))).transpose()?;
        let legs = |legs: &Vec<day::Leg>| day::model(legs, &at.field("day"), &road);
        let day = self.day.as_ref().map(legs).transpose()?;
        Ok(Drives {
            day,
            climb: climb("climb", &self.climb)?,
            pass: climb("pass", &self.pass)?,
            commute,
            wltc: None,
            pull,
        })
    }
}

const GRADE_PCT: Allowed = within(-40.0, 60.0);
const SPEED_KMH: Allowed = within(1.0, 300.0);

impl Climb {
    fn model(&self, at: &FieldPath) -> Result<Hill, Fault> {
        let grade = at.number("grade_pct", self.grade_pct, GRADE_PCT)?;
        let speed_mps = units::mps_from_kmh(at.number("speed_kmh", self.speed_kmh, SPEED_KMH)?);
        let km = at.optional("distance_km", self.distance_km, above(0.0, 1000.0))?;
        let minutes = at.optional("minutes", self.minutes, above(0.0, 6000.0))?;
        only_one(at, &[("distance_km", km.is_some()), ("minutes", minutes.is_some())])?;
        let distance_m = match (km, minutes) {
            (Some(km), _) => units::m_from_km(km),
            (None, Some(minutes)) => units::s_from_min(minutes) * speed_mps,
            (None, None) => return Err(at.demand("distance_km", "distance_km or minutes")),
        };
        Ok(Hill { slope: Slope::from_grade(units::slope_from_pct(grade)), speed_mps, distance_m })
    }
}

impl Pull {
    fn model(&self, at: &FieldPath) -> Result<FullThrottle, Fault> {
        let list = |name: &str, values: &Option<Vec<f64>>, allowed| {
            let list_at = at.field(name);
            let mut found = values.clone().unwrap_or_default();
            if found.len() as u64 > TARGETS {
                let value = format!("a list of {}", found.len());
                return Err(at.refuse(name, value, format!("at most {TARGETS} targets")));
            }
            for (i, value) in found.iter().enumerate() {
                list_at.number(&(i + 1).to_string(), *value, allowed)?;
            }
            found.sort_by(f64::total_cmp);
            Ok(found)
        };
        let from = at.optional("from_kmh", self.from_kmh, within(0.0, 300.0))?;
        let grade = at.optional("grade_pct", self.grade_pct, GRADE_PCT)?;
        let to_kmh = list("to_kmh", &self.to_kmh, SPEED_KMH)?;
        Ok(FullThrottle {
            from_mps: units::mps_from_kmh(from.unwrap_or(0.0)),
            to_mps: to_kmh.into_iter().map(units::mps_from_kmh).collect(),
            distances_m: list("distances_m", &self.distances_m, within(1.0, 1e5))?,
            slope: Slope::from_grade(units::slope_from_pct(grade.unwrap_or(0.0))),
        })
    }
}
