//! Air, wind and surface.

use crate::files::allowed::within;
use crate::files::assumption::{Assumption, usual};
use crate::files::field_path::{Fault, FieldPath, only_one};
use crate::inputs::outdoors::{AIR_C, HEAD_WIND_KMH, HourWeather, Outdoors, Wind};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use sim_core::Surroundings;
use sim_core::units;

/// The air and the surface that the car drives in.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Conditions {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Altitude over the sea, m.
    pub altitude_m: Option<f64>,
    /// Air temperature, °C.
    pub air_c: Option<f64>,
    /// Head wind, km/h; negative for a tail wind.
    pub head_wind_kmh: Option<f64>,
    /// A wind from a direction, in place of a head wind, on roads whose heading is known; elsewhere the
    /// air is still.
    pub wind: Option<Wind>,
    /// Air and wind by the hour, for drives and days.
    pub by_hour: Option<Vec<HourWeather>>,
    /// The road's surface, by name.
    pub surface: Option<Surface>,
    /// Friction coefficient between tyre and road, where no surface fits.
    pub friction: Option<f64>,
}

/// A surface with a usual friction coefficient.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Surface {
    /// Dry asphalt, 0.85.
    Dry,
    /// Wet asphalt, 0.55.
    Wet,
    /// Packed snow, 0.2.
    Snow,
    /// Ice, 0.1.
    Ice,
}

impl Surface {
    /// Friction coefficient between an ordinary tyre and this surface (handbook values, from
    /// memory).
    pub fn friction(self) -> f64 {
        match self {
            Surface::Dry => 0.85,
            Surface::Wet => 0.55,
            Surface::Snow => 0.2,
            Surface::Ice => 0.1,
        }
    }
}

/// Weather that takes the place of a scenario's; what is left out stays.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Weather {
    /// Air temperature, °C.
    pub air_c: Option<f64>,
    /// Head wind, km/h.
    pub head_wind_kmh: Option<f64>,
    /// The road's surface.
    pub surface: Option<Surface>,
}

/// The head wind where a path leads to that of the conditions, of which nothing is said, km/h: none.
/// A season or a leg that says nothing has theirs.
pub(crate) fn calm_kmh(path: &str) -> Option<f64> {
    (path == "conditions.head_wind_kmh").then_some(0.0)
}

impl Conditions {
    /// Puts other weather in.
    pub(crate) fn put(&mut self, weather: Weather) {
        if weather.air_c.is_some() {
            self.air_c = weather.air_c;
            self.by_hour.iter_mut().flatten().for_each(|hour| hour.air_c = None);
        }
        if weather.head_wind_kmh.is_some() {
            (self.head_wind_kmh, self.wind) = (weather.head_wind_kmh, None);
            for hour in self.by_hour.iter_mut().flatten() {
                (hour.head_wind_kmh, hour.wind) = (None, None);
            }
        }
        if weather.surface.is_some() {
            (self.surface, self.friction) = (weather.surface, None);
        }
    }

    /// What a drive meets on its way.
    pub(crate) fn outdoors(&self, at: &FieldPath) -> Result<Outdoors, Fault> {
        let (head, wind) = (self.head_wind_kmh.is_some(), self.wind.is_some());
        only_one(at, &[("head_wind_kmh", head), ("wind", wind)])?;
        Outdoors::of(at, self.wind.as_ref(), self.by_hour.as_deref().unwrap_or_default())
    }

    /// The surroundings that the simulation drives in.
    pub(crate) fn model(
        &self,
        at: &FieldPath,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<Surroundings, Fault> {
        let ways = [("surface", self.surface.is_some()), ("friction", self.friction.is_some())];
        only_one(at, &ways)?;
        let friction = match (self.surface, self.friction) {
            (Some(surface), _) => surface.friction(),
            (None, Some(friction)) => at.number("friction", friction, within(0.02, 1.5))?,
            (None, None) => {
                let dry = Surface::Dry.friction();
                assumptions.push(at.assume("friction", usual(dry, "", "dry asphalt")));
                dry
            }
        };
        let wind = at.optional("head_wind_kmh", self.head_wind_kmh, HEAD_WIND_KMH)?;
        let mut take =
            |name, value, allowed, usual| at.assumed(name, value, allowed, usual, assumptions);
        let altitude_m = take(
            "altitude_m",
            self.altitude_m,
            within(-450.0, 6000.0),
            usual(0.0, "m", "sea level"),
        )?;
        let air_c = take("air_c", self.air_c, AIR_C, usual(20.0, "°C", "a mild day"))?;
        Ok(Surroundings {
            altitude_m,
            air_k: units::k_from_c(air_c),
            head_wind_mps: units::mps_from_kmh(wind.unwrap_or(0.0)),
            friction,
        })
    }
}
