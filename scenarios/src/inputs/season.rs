//! A season: the weather of a part of the year, and what comes on with it.

use crate::files::allowed::{above, plain, within};
use crate::files::assumption::{Assumption, usual};
use crate::files::bounds::SEASONS;
use crate::files::field_path::{Fault, FieldPath};
use crate::inputs::auxiliaries::{Cabin, SET_C};
use crate::inputs::build::Build;
use crate::inputs::conditions::{Conditions, Surface, Weather};
use crate::inputs::outdoors::{AIR_C, HEAD_WIND_KMH};
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
    /// Air temperature, °C, in place of all that the conditions say of it.
    pub air_c: f64,
    /// How many months of the year are like it; a season without them is none of what a year costs.
    pub months: Option<f64>,
    /// Head wind, km/h; left out, the wind of the conditions.
    pub head_wind_kmh: Option<f64>,
    /// The road's surface; left out, that of the scenario.
    pub surface: Option<Surface>,
    /// Temperature to which the cabin is heated, °C; left out, that of the build, where it has a heater.
    pub cabin_c: Option<f64>,
    /// Largest heater power, kW; left out, that of the build, or 3 kW where `cabin_c` asks for a heater
    /// that the build does not have; 0, the heater is off.
    pub heater_kw: Option<f64>,
    /// 12 V loads besides the build's own, such as headlights, W; left out, none.
    pub lights_w: Option<f64>,
    /// State of health of the cells, %; left out, that of the build.
    pub state_of_health_pct: Option<f64>,
    /// Cells at the start, °C, where the car stands in a garage or its pack is warmed; left out, as
    /// warm as the air.
    pub cells_c: Option<f64>,
}

/// Heater of a build that has none, kW (common practice, no source).
const HEATER_KW: f64 = 3.0;
/// Seasons of a scenario that names none: air, °C, and months (common practice, no source); the first is what
/// the others are held against.
const TYPICAL: [(&str, f64, f64); 3] =
    [("spring", 15.0, 6.0), ("winter", -5.0, 3.0), ("summer", 30.0, 3.0)];

/// Checks the numbers of seasons.
pub(crate) fn check(seasons: &[Season], at: &FieldPath) -> Result<(), Fault> {
    if seasons.len() as u64 > SEASONS {
        let value = format!("a list of {}", seasons.len());
        let (path, allowed) = (at.path(), format!("at most {SEASONS} seasons"));
        return Err(Fault::Value { path, value, allowed });
    }
    for (i, season) in seasons.iter().enumerate() {
        let at = at.item(i);
        at.number("air_c", season.air_c, AIR_C)?;
        at.optional("months", season.months, above(0.0, 12.0))?;
        at.optional("head_wind_kmh", season.head_wind_kmh, HEAD_WIND_KMH)?;
        at.optional("cabin_c", season.cabin_c, within(0.0, 35.0))?;
        at.optional("heater_kw", season.heater_kw, within(0.0, 20.0))?;
        at.optional("lights_w", season.lights_w, within(0.0, 5000.0))?;
        at.optional("state_of_health_pct", season.state_of_health_pct, above(0.0, 100.0))?;
        at.optional("cells_c", season.cells_c, within(-40.0, 60.0))?;
        if season.name.trim().is_empty() {
            return Err(at.refuse("name", "an empty string", "a name"));
        }
    }
    let months: f64 = seasons.iter().filter_map(|season| season.months).sum();
    // As thirds are written with a few digits.
    if months > 12.01 {
        let value = format!("{months} months together");
        let (path, allowed) = (at.path(), "at most 12 months, those of one year".to_owned());
        return Err(Fault::Value { path, value, allowed });
    }
    Ok(())
}

impl Season {
    /// The seasons of a scenario, or else a typical spring, winter and summer; and what was taken for
    /// granted of them.
    pub(crate) fn of(
        own: Option<&[Self]>,
        build: &Build,
        assumptions: &mut Vec<Assumption>,
    ) -> Vec<Self> {
        let own = own.filter(|seasons| !seasons.is_empty()).map(<[Self]>::to_vec);
        let seasons = own.unwrap_or_else(|| {
            let words = TYPICAL.map(|(name, air_c, months)| {
                format!("{name} {} °C for {months} months", plain(air_c))
            });
            let reason = "typical of a temperate climate, as the file names none";
            let path = "seasons".to_owned();
            assumptions.push(Assumption::words(path, words.join(", "), reason));
            let of =
                |(name, air_c, months)| Self { months: Some(months), ..Self::in_air(name, air_c) };
            TYPICAL.map(of).to_vec()
        });
        let cabin = build.auxiliaries.as_ref().and_then(|all| all.cabin.as_ref());
        let open = |season: &Self| season.cabin_c.is_none() && season.heater_kw != Some(0.0);
        let list_at = FieldPath::ROOT.field("seasons");
        for (i, season) in seasons.iter().enumerate().filter(|(_, season)| open(season)) {
            let (set_c, reason) = match (cabin.map(|own| own.set_c), season.heater_kw) {
                (Some(Some(set_c)), _) => (set_c, "the cabin is heated as the build says"),
                (Some(None), _) | (None, Some(_)) => (SET_C, "a comfortable cabin"),
                (None, None) => continue,
            };
            assumptions.push(list_at.item(i).assume("cabin_c", usual(set_c, "°C", reason)));
        }
        if cabin.is_none() && seasons.iter().any(|s| open(s) && s.heater_kw.is_none()) {
            let reason = "the build has no heater, so a season without cabin_c is not heated";
            let path = "auxiliaries.cabin".to_owned();
            assumptions.push(Assumption::words(path, "none", reason));
        }
        seasons
    }

    /// A season of which no more than the air is known.
    pub(crate) fn in_air(name: &str, air_c: f64) -> Self {
        Self {
            name: name.to_owned(),
            note: None,
            air_c,
            months: None,
            head_wind_kmh: None,
            surface: None,
            cabin_c: None,
            heater_kw: None,
            lights_w: None,
            state_of_health_pct: None,
            cells_c: None,
        }
    }

    /// Puts this season in place of the weather of a scenario. The car has stood in this air, its cells
    /// where `cells_c` says so in a warmer place.
    pub(crate) fn put_in(&self, build: &mut Build, conditions: &mut Conditions, start: &mut Start) {
        conditions.put(Weather {
            air_c: Some(self.air_c),
            head_wind_kmh: self.head_wind_kmh,
            surface: self.surface,
        });
        let auxiliaries = build.auxiliaries.get_or_insert_default();
        let asked = self.cabin_c.is_some() || self.heater_kw.is_some();
        let own = auxiliaries.cabin.take();
        let cabin = own.or_else(|| asked.then(|| Cabin::with_heater(HEATER_KW)));
        auxiliaries.cabin = cabin.map(|own| Cabin {
            set_c: self.cabin_c.or(own.set_c),
            heater_kw: self.heater_kw.unwrap_or(own.heater_kw),
            ..own
        });
        if let Some(power_w) = self.lights_w {
            auxiliaries.add_low_voltage("lights of the season", power_w);
        }
        build.pack.state_of_health_pct =
            self.state_of_health_pct.or(build.pack.state_of_health_pct);
        let Start { note, charge_pct, .. } = std::mem::take(start);
        *start = Start { note, charge_pct, cells_c: self.cells_c, ..Start::default() };
    }
}
