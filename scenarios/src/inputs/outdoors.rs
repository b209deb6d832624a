//! Weather that a drive meets on its way: a wind from a direction, and what changes by the hour.

use crate::files::allowed::{Allowed, within};
use crate::files::bounds::HOURS;
use crate::files::field_path::{Fault, FieldPath, only_one};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use sim_core::{Along, Trace, units};
use std::borrow::Cow;

/// A wind from a direction.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Wind {
    /// Its speed, km/h.
    pub speed_kmh: f64,
    /// Where it blows from, by a point of the compass; degrees go to `from_deg`.
    pub from: Option<Point>,
    /// Where it blows from, degrees from north by east: 90 is east.
    pub from_deg: Option<f64>,
}

/// Points of the compass, a sixteenth of a turn apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "UPPERCASE")]
pub enum Point {
    /// North.
    N,
    /// North by north-east.
    Nne,
    /// North-east.
    Ne,
    /// East by north-east.
    Ene,
    /// East.
    E,
    /// East by south-east.
    Ese,
    /// South-east.
    Se,
    /// South by south-east.
    Sse,
    /// South.
    S,
    /// South by south-west.
    Ssw,
    /// South-west.
    Sw,
    /// West by south-west.
    Wsw,
    /// West.
    W,
    /// West by north-west.
    Wnw,
    /// North-west.
    Nw,
    /// North by north-west.
    Nnw,
}

/// The weather from an hour on.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HourWeather {
    /// From when on, h after the drive or the day begins.
    pub after_h: f64,
    /// Air temperature, °C; left out, that of the conditions.
    pub air_c: Option<f64>,
    /// Head wind, km/h; left out, that of the conditions.
    pub head_wind_kmh: Option<f64>,
    /// A wind from a direction; left out, that of the conditions.
    pub wind: Option<Wind>,
}

/// Air temperatures, °C.
pub(crate) const AIR_C: Allowed = within(-40.0, 55.0);
/// Head winds, km/h.
pub(crate) const HEAD_WIND_KMH: Allowed = within(-100.0, 100.0);
/// Wind speeds, km/h.
const WIND_KMH: Allowed = within(0.0, 100.0);

/// A wind in SI: its speed, m/s, and where it blows from, rad from north by east.
type FromAfar = (f64, f64);

/// The weather of an hour in SI.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
struct Hour {
    from_s: f64,
    air_k: Option<f64>,
    head_wind_mps: Option<f64>,
    wind: Option<FromAfar>,
}

/// What a drive meets on its way besides the surroundings in which it begins.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Outdoors {
    wind: Option<FromAfar>,
    hours: Vec<Hour>,
}

/// Hours to two decimals, without zeros at the end.
fn short_hours(h: f64) -> f64 {
    (100.0 * h).round() / 100.0
}

impl Wind {
    fn model(&self, at: &FieldPath) -> Result<FromAfar, Fault> {
        let speed = at.number("speed_kmh", self.speed_kmh, WIND_KMH)?;
        only_one(at, &[("from", self.from.is_some()), ("from_deg", self.from_deg.is_some())])?;
        let degrees = match (self.from, self.from_deg) {
            (Some(point), _) => 22.5 * f64::from(point as u8),
            (None, Some(degrees)) => at.number("from_deg", degrees, within(0.0, 360.0))?,
            (None, None) => return Err(at.demand("from", "from or from_deg")),
        };
        Ok((units::mps_from_kmh(speed), degrees.to_radians()))
    }
}

impl Outdoors {
    /// From what the conditions say.
    pub(crate) fn of(
        at: &FieldPath,
        wind: Option<&Wind>,
        by_hour: &[HourWeather],
    ) -> Result<Self, Fault> {
        let wind = wind.map(|wind| wind.model(&at.field("wind"))).transpose()?;
        if by_hour.len() as u64 > HOURS {
            let value = format!("a list of {}", by_hour.len());
            return Err(at.refuse("by_hour", value, format!("at most {HOURS} hours")));
        }
        let list_at = at.field("by_hour");
        let mut hours: Vec<Hour> = Vec::with_capacity(by_hour.len());
        for (i, hour) in by_hour.iter().enumerate() {
            let at = list_at.item(i);
            let after_h = at.number("after_h", hour.after_h, within(0.0, 8784.0))?;
            let from_s = units::s_from_h(after_h);
            if let Some(before) = hours.last().filter(|before| before.from_s >= from_s) {
                let allowed =
                    format!("more than the {} of the hour before", before.from_s / 3600.0);
                return Err(at.refuse("after_h", after_h, allowed));
            }
            let (head, wind) = (hour.head_wind_kmh, hour.wind.as_ref());
            only_one(&at, &[("head_wind_kmh", head.is_some()), ("wind", wind.is_some())])?;
            hours.push(Hour {
                from_s,
                air_k: at.optional("air_c", hour.air_c, AIR_C)?.map(units::k_from_c),
                head_wind_mps: at
                    .optional("head_wind_kmh", head, HEAD_WIND_KMH)?
                    .map(units::mps_from_kmh),
                wind: wind.map(|wind| wind.model(&at.field("wind"))).transpose()?,
            });
        }
        Ok(Self { wind, hours })
    }

    /// Whether nothing changes on the way.
    pub fn is_still(&self) -> bool {
        self.wind.is_none() && self.hours.is_empty()
    }

    /// Whether a wind blows from a direction at any time.
    pub(crate) fn has_direction(&self) -> bool {
        self.wind.is_some() || self.hours.iter().any(|hour| hour.wind.is_some())
    }

    /// Whether that wind is more than still air at any time.
    pub(crate) fn blows(&self) -> bool {
        let hours = self.hours.iter().filter_map(|hour| hour.wind);
        self.wind.into_iter().chain(hours).any(|(mps, _)| mps > 0.0)
    }

    fn hour_at(&self, s: f64) -> Hour {
        let after = self.hours.partition_point(|hour| hour.from_s <= s + 1e-6);
        after.checked_sub(1).map(|i| self.hours[i]).unwrap_or_default()
    }

    /// Air temperature at a time after the beginning, K, where it is another than that of the conditions.
    pub fn air_k(&self, s: f64) -> Option<f64> {
        self.hour_at(s).air_k
    }

    /// The next time after one at which the weather changes, s.
    pub fn next_change_s(&self, s: f64) -> Option<f64> {
        self.hours.iter().map(|hour| hour.from_s).find(|from_s| *from_s > s + 1e-6)
    }

    /// What of the weather by the hour a drive or a day does not reach that ends after a time, s.
    pub fn unreached(&self, ends_s: f64, what: &str) -> Option<String> {
        let first = self.hours.iter().find(|hour| hour.from_s >= ends_s)?;
        let hours = |s: f64| short_hours(units::h_from_s(s));
        Some(format!(
            "The {what} lasts {} h, so that what `conditions.by_hour` says from {} h on is not reached.",
            hours(ends_s),
            hours(first.from_s)
        ))
    }

    /// What is met where the road is so, at a time. What the road's own file states stands; a wind from
    /// a direction blows along a road of which the heading is known, by its part against the way.
    fn met(&self, along: &Along, s: f64) -> Along {
        let hour = self.hour_at(s);
        let against =
            |(mps, from): FromAfar| Some(cycles::head_wind_mps(mps, from, along.heading_rad?));
        let of_hour = hour.head_wind_mps.or_else(|| hour.wind.and_then(against));
        let here = || of_hour.or_else(|| self.wind.and_then(against));
        Along {
            heading_rad: along.heading_rad,
            air_k: along.air_k.or(hour.air_k),
            head_wind_mps: along.head_wind_mps.or_else(here),
        }
    }

    /// A road with this weather on it, where its drive begins at a time after the beginning, s.
    pub fn over<'a>(&self, trace: &'a Trace, since_s: f64) -> Cow<'a, Trace> {
        if self.is_still() {
            return Cow::Borrowed(trace);
        }
        let mut reaches: Vec<(f64, Along)> = Vec::with_capacity(trace.reaches().len() + 1);
        if trace.reaches().first().is_none_or(|reach| reach.first > 0) {
            reaches.push((0.0, Along::default()));
        }
        reaches.extend(trace.reaches().iter().map(|reach| (reach.from_s, reach.along)));
        let changes = self.hours.iter().map(|hour| hour.from_s - since_s);
        for from_s in changes.filter(|s| *s > 0.0 && *s < trace.duration_s()) {
            let after = reaches.partition_point(|(s, _)| *s <= from_s);
            let before = reaches[after - 1];
            if before.0 < from_s {
                reaches.insert(after, (from_s, before.1));
            }
        }
        let met = |(s, along): &(f64, Along)| (*s, self.met(along, since_s + s));
        let met: Vec<(f64, Along)> = reaches.iter().map(met).collect();
        trace.clone().through(&met).map_or(Cow::Borrowed(trace), Cow::Owned)
    }
}
