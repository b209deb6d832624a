//! How fast a road without times is driven.

use crate::files::allowed::{Allowed, above, within};
use crate::files::bounds::SECTIONS;
use crate::files::field_path::{Fault, FieldPath};
use schemars::JsonSchema;
use serde::Deserialize;
use sim_core::units;

/// How fast a road without times is driven: a route of a map planner, or distances without speeds.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Pace {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Speed limit, km/h, where `limits` states no other.
    pub limit_kmh: Option<f64>,
    /// Limits of sections by distance; where two overlap, the later one holds.
    pub limits: Option<Vec<LimitedSection>>,
    /// Sideways acceleration that the driver takes in bends, m/s²; left out, 2.5.
    pub bends_mps2: Option<f64>,
    /// Where the car stops on the way.
    pub stops: Option<Vec<RoadStop>>,
}

/// A section of road with a speed limit.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LimitedSection {
    /// Where it begins, km from the start.
    pub from_km: f64,
    /// Where it ends, km.
    pub to_km: f64,
    /// The limit, km/h.
    pub limit_kmh: f64,
}

/// A stop on a road.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RoadStop {
    /// Where, km from the start.
    pub at_km: f64,
    /// For how long, s.
    pub seconds: f64,
}

const LIMIT_KMH: Allowed = within(1.0, 300.0);
const PLACE_KM: Allowed = within(0.0, 20_000.0);

impl Pace {
    /// The same in SI.
    ///
    /// # Errors
    /// What is out of range, and a pace that says nothing.
    pub(crate) fn model(&self, at: &FieldPath) -> Result<cycles::Pace, Fault> {
        let limit = at.optional("limit_kmh", self.limit_kmh, LIMIT_KMH)?;
        let bends_mps2 = at.optional("bends_mps2", self.bends_mps2, within(0.5, 10.0))?;
        let (limits_at, stops_at) = (at.field("limits"), at.field("stops"));
        let limits = self.limits.as_deref().unwrap_or_default();
        let stops = self.stops.as_deref().unwrap_or_default();
        for (name, count) in [("limits", limits.len()), ("stops", stops.len())] {
            if count as u64 > SECTIONS {
                let value = format!("a list of {count}");
                return Err(at.refuse(name, value, format!("at most {SECTIONS}")));
            }
        }
        let section = |(i, section): (usize, &LimitedSection)| {
            let at = limits_at.item(i);
            let from_m = units::m_from_km(at.number("from_km", section.from_km, PLACE_KM)?);
            let to_km = at.number("to_km", section.to_km, PLACE_KM)?;
            if to_km <= section.from_km {
                return Err(at.refuse("to_km", to_km, format!("more than {}", section.from_km)));
            }
            let limit = at.number("limit_kmh", section.limit_kmh, LIMIT_KMH)?;
            let (to_m, limit_mps) = (units::m_from_km(to_km), units::mps_from_kmh(limit));
            Ok(cycles::Section { from_m, to_m, limit_mps })
        };
        let stop = |(i, stop): (usize, &RoadStop)| {
            let at = stops_at.item(i);
            let at_m = units::m_from_km(at.number("at_km", stop.at_km, PLACE_KM)?);
            Ok((at_m, at.number("seconds", stop.seconds, above(0.0, 86_400.0))?))
        };
        let pace = cycles::Pace {
            limit_mps: limit.map(units::mps_from_kmh),
            sections: limits.iter().enumerate().map(section).collect::<Result<_, Fault>>()?,
            bends_mps2,
            stops: stops.iter().enumerate().map(stop).collect::<Result<_, Fault>>()?,
        };
        if pace.is_empty() {
            return Err(at.demand("limit_kmh", "limit_kmh, limits, bends_mps2 or stops"));
        }
        Ok(pace)
    }
}
