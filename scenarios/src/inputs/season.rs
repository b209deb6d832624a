//! A season: the weather of a part of the year, and what comes on with it.

use crate::files::allowed::{above, within};
use crate::files::error::Error;
use crate::files::field_path::{Fault, FieldPath};
use crate::files::overrides::Override;
use crate::inputs::conditions::Surface;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

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
        at.number("air_c", season.air_c, within(-40.0, 55.0))?;
        at.optional("head_wind_kmh", season.head_wind_kmh, within(-100.0, 100.0))?;
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
    /// The values that this season puts in place of a scenario's, as `echo` shows it.
    ///
    /// # Errors
    /// None for a season that a scenario was prepared with.
    pub(crate) fn overrides(&self, echo: &Value) -> Result<Vec<Override>, Error> {
        let mut all = vec![
            Override::number("conditions.air_c", self.air_c)?,
            Override::number("conditions.head_wind_kmh", self.head_wind_kmh.unwrap_or(0.0))?,
        ];
        if let Some(surface) = self.surface {
            all.push(Override::new("conditions.friction", Value::Null)?);
            all.push(Override::new("conditions.surface", json!(surface))?);
        }
        let has_cabin = echo["build"]["auxiliaries"]["cabin"].is_object();
        match self.cabin_c {
            None => all.push(Override::new("auxiliaries.cabin", Value::Null)?),
            Some(set_c) if has_cabin => {
                all.push(Override::number("auxiliaries.cabin.set_c", set_c)?);
                if let Some(kw) = self.heater_kw {
                    all.push(Override::number("auxiliaries.cabin.heater_kw", kw)?);
                }
            }
            Some(set_c) => {
                let heater_kw = self.heater_kw.unwrap_or(HEATER_KW);
                let cabin = json!({ "set_c": set_c, "heater_kw": heater_kw });
                all.push(Override::new("auxiliaries.cabin", cabin)?);
            }
        }
        if let Some(pct) = self.state_of_health_pct {
            all.push(Override::number("pack.state_of_health_pct", pct)?);
        }
        // The car has stood in this air.
        for part in ["winding_c", "housing_c", "controller_c", "cells_c", "cabin_c", "tyres"] {
            all.push(Override::new(&format!("start.{part}"), Value::Null)?);
        }
        Ok(all)
    }
}
