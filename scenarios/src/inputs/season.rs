//! A season: the weather of a part of the year, and what comes on with it.

use crate::files::allowed::{above, within};
use crate::files::field_path::{Fault, FieldPath};
use crate::inputs::auxiliaries::Cabin;
use crate::inputs::build::Build;
use crate::inputs::conditions::{AIR_C, Conditions, HEAD_WIND_KMH, Surface, Weather};
use crate::inputs::start::Start;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The weather of a part of the year, and what comes on with it. The car has stood in this air.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Season {
    /// What to call it.
    pub name: String,
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Air temperature, °C.
    pub air_c: f64,
    /// Head wind, km/h; left out, calm.
    pub head_wind_kmh: Option<f64>,
    /// The road's surface; left out, that of the scenario.
    pub surface: Option<Surface>,
    /// Temperature to which the cabin is heated, °C; left out, the heater is off.
    pub cabin_c: Option<f64>,
    /// Largest heater power, kW, for a build without a heater; left out, 3 kW.
    pub heater_kw: Option<f64>,
    /// 12 V loads besides the build's own, such as headlights, W; left out, none.
    pub lights_w: Option<f64>,
    /// State of health of the cells, %; left out, that of the build.
    pub state_of_health_pct: Option<f64>,
}

/// Heater of a build that has none, kW (common practice, no source).
const HEATER_KW: f64 = 3.0;
/// Most seasons of a scenario.
const MOST_SEASONS: usize = 50;

/// Checks the numbers of seasons.
pub(crate) fn check(seasons: &[Season], at: &FieldPath) -> Result<(), Fault> {
    if seasons.len() > MOST_SEASONS {
        let value = format!("a list of {}", seasons.len());
        let (path, allowed) = (at.path(), format!("at most {MOST_SEASONS} seasons"));
        return Err(Fault::Value { path, value, allowed });
    }
    for (i, season) in seasons.iter().enumerate() {
        let at = at.item(i);
        at.number("air_c", season.air_c, AIR_C)?;
        at.optional("head_wind_kmh", season.head_wind_kmh, HEAD_WIND_KMH)?;
        at.optional("cabin_c", season.cabin_c, within(0.0, 35.0))?;
        at.optional("heater_kw", season.heater_kw, within(0.0, 20.0))?;
        at.optional("lights_w", season.lights_w, within(0.0, 5000.0))?;
        at.optional("state_of_health_pct", season.state_of_health_pct, above(0.0, 100.0))?;
        if season.name.trim().is_empty() {
            return Err(at.refuse("name", "an empty string", "a name"));
        }
    }
    Ok(())
}

impl Season {
    /// Puts this season in place of the weather of a scenario. The car has stood in this air.
    pub(crate) fn put_in(&self, build: &mut Build, conditions: &mut Conditions, start: &mut Start) {
        conditions.put(Weather {
            air_c: Some(self.air_c),
            head_wind_kmh: Some(self.head_wind_kmh.unwrap_or(0.0)),
            surface: self.surface,
        });
        let auxiliaries = build.auxiliaries.get_or_insert_default();
        auxiliaries.cabin = self.cabin_c.map(|set_c| match auxiliaries.cabin.take() {
            Some(own) => Cabin { set_c, heater_kw: self.heater_kw.unwrap_or(own.heater_kw), ..own },
            None => Cabin::new(set_c, self.heater_kw.unwrap_or(HEATER_KW)),
        });
        if let Some(power_w) = self.lights_w {
            auxiliaries.add_low_voltage("lights of the season", power_w);
        }
        build.pack.state_of_health_pct =
            self.state_of_health_pct.or(build.pack.state_of_health_pct);
        let Start { note, charge_pct, .. } = std::mem::take(start);
        *start = Start { note, charge_pct, ..Start::default() };
    }
}
