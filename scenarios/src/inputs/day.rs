//! A day: legs that are driven, parked and charged one after the other.

use crate::files::allowed::{above, within};
use crate::files::bounds::LEGS;
use crate::files::field_path::{Fault, FieldPath, only_one};
use crate::inputs::build::Mass;
use crate::inputs::conditions::{Surface, Weather};
use crate::inputs::outdoors::{AIR_C, HEAD_WIND_KMH};
use crate::inputs::pace::Pace;
use crate::inputs::road::Road;
use schemars::JsonSchema;
use serde::Deserialize;
use sim_core::units;

/// A leg of a day: exactly one of `drive`, `park` and `charge`.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Leg {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// What to call it.
    pub name: Option<String>,
    /// Drives a road.
    pub drive: Option<DriveLeg>,
    /// Leaves the car standing.
    pub park: Option<ParkLeg>,
    /// Charges the pack.
    pub charge: Option<ChargeLeg>,
}

/// A road that is driven once.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DriveLeg {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Name of a built-in cycle, or path of a road file, seen from this file; left out, the commute.
    pub cycle: Option<String>,
    /// How fast it is driven, where it is a road without times.
    pub pace: Option<Pace>,
    /// Drives the road from its end to its start, so that rises become falls.
    pub reverse: Option<bool>,
    /// What rides along on this leg besides the build's own load.
    pub load: Option<Vec<Mass>>,
    /// Air temperature, °C; left out, that of the scenario.
    pub air_c: Option<f64>,
    /// Head wind, km/h; left out, that of the scenario.
    pub head_wind_kmh: Option<f64>,
    /// The road's surface; left out, that of the scenario.
    pub surface: Option<Surface>,
}

/// Standing switched off, while everything goes towards the temperature of the air.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ParkLeg {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// How long, min.
    pub minutes: f64,
    /// Air temperature, °C; left out, that of the scenario.
    pub air_c: Option<f64>,
}

/// Standing at a socket.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ChargeLeg {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// How long the car stands at the socket, min; left out, until the charge is reached.
    pub minutes: Option<f64>,
    /// Charge at which charging ends, %; left out, as far as the pack is filled.
    pub to_pct: Option<f64>,
    /// Voltage of the socket, V.
    pub volts: f64,
    /// Current drawn from the socket, A.
    pub amps: f64,
    /// Power into the pack over power from the socket, %; left out, that of the build's charger.
    pub efficiency_pct: Option<f64>,
    /// Air temperature, °C; left out, that of the scenario.
    pub air_c: Option<f64>,
}

/// A leg that was checked.
#[derive(Debug, Clone, PartialEq)]
pub struct Stage {
    /// What to call it.
    pub name: Option<String>,
    /// What is done.
    pub act: Act,
    /// What is otherwise than in the scenario.
    pub change: LegChange,
}

/// What is done on a leg.
#[derive(Debug, Clone, PartialEq)]
pub enum Act {
    /// A road is driven; without one, the commute.
    Drive {
        /// The road.
        road: Option<Road>,
        /// Whether it is driven backwards.
        reverse: bool,
    },
    /// The car stands.
    Park {
        /// How long, s.
        for_s: f64,
    },
    /// The car charges.
    Charge {
        /// Power from the socket, W.
        wall_w: f64,
        /// Power into the pack over power from the socket; left out, that of the build's charger.
        efficiency: Option<f64>,
        /// Charge at which it ends, 0 to 1.
        target: f64,
        /// How long the car stands, s; without one, until the charge is reached.
        for_s: Option<f64>,
    },
}

/// What is otherwise on a leg than in the scenario.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct LegChange {
    /// Weather of its own.
    pub weather: Weather,
    /// What rides along besides the build's own load.
    pub load: Vec<Mass>,
}

/// The legs, checked; `road` finds a road by its name.
pub(crate) fn model(
    legs: &[Leg],
    at: &FieldPath,
    road: &impl Fn(&str, &str) -> Road,
) -> Result<Vec<Stage>, Fault> {
    if legs.is_empty() || legs.len() as u64 > LEGS {
        let value = format!("a list of {}", legs.len());
        let (path, allowed) = (at.path(), format!("1 to {LEGS} legs"));
        return Err(Fault::Value { path, value, allowed });
    }
    legs.iter().enumerate().map(|(i, leg)| leg.model(&at.item(i), road)).collect()
}

/// A leg on which nothing but the air may be otherwise.
fn air(at: &FieldPath, air_c: Option<f64>) -> Result<LegChange, Fault> {
    let air_c = at.optional("air_c", air_c, AIR_C)?;
    Ok(LegChange { weather: Weather { air_c, ..Weather::default() }, ..LegChange::default() })
}

/// Longest stay, min: a month.
const LONGEST_MIN: f64 = 44_640.0;

impl Leg {
    fn model(&self, at: &FieldPath, road: &impl Fn(&str, &str) -> Road) -> Result<Stage, Fault> {
        let ways = [
            ("drive", self.drive.is_some()),
            ("park", self.park.is_some()),
            ("charge", self.charge.is_some()),
        ];
        only_one(at, &ways)?;
        let (act, change) = if let Some(leg) = &self.drive {
            leg.model(&at.field("drive"), road)?
        } else if let Some(leg) = &self.park {
            let at = at.field("park");
            let minutes = at.number("minutes", leg.minutes, within(0.0, LONGEST_MIN))?;
            (Act::Park { for_s: units::s_from_min(minutes) }, air(&at, leg.air_c)?)
        } else if let Some(leg) = &self.charge {
            leg.model(&at.field("charge"))?
        } else {
            return Err(at.demand("drive", "one of drive, park and charge"));
        };
        Ok(Stage { name: self.name.clone(), act, change })
    }
}

impl DriveLeg {
    fn model(
        &self,
        at: &FieldPath,
        road: &impl Fn(&str, &str) -> Road,
    ) -> Result<(Act, LegChange), Fault> {
        if self.cycle.as_ref().is_some_and(|cycle| cycle.trim().is_empty()) {
            let allowed = "the name of a cycle or the path of a road file";
            return Err(at.refuse("cycle", "an empty string", allowed));
        }
        let load_at = at.field("load");
        let load = self.load.clone().unwrap_or_default();
        for (i, mass) in load.iter().enumerate() {
            let at = load_at.item(i);
            at.number("mass_kg", mass.mass_kg, within(0.0, 2000.0))?;
            at.number("behind_front_axle_m", mass.behind_front_axle_m, within(-2.0, 6.0))?;
        }
        let weather = Weather {
            air_c: at.optional("air_c", self.air_c, AIR_C)?,
            head_wind_kmh: at.optional("head_wind_kmh", self.head_wind_kmh, HEAD_WIND_KMH)?,
            surface: self.surface,
        };
        if self.pace.is_some() && self.cycle.is_none() {
            return Err(at.demand("cycle", "the road that has this pace"));
        }
        let pace = self.pace.as_ref().map(|pace| pace.model(&at.field("pace"))).transpose()?;
        let road = self.cycle.as_ref().map(|name| road(&at.field("cycle").path(), name));
        let road = road.map(|road| road.at_pace(pace));
        let act = Act::Drive { road, reverse: self.reverse.unwrap_or(false) };
        Ok((act, LegChange { weather, load }))
    }
}

impl ChargeLeg {
    fn model(&self, at: &FieldPath) -> Result<(Act, LegChange), Fault> {
        let volts = at.number("volts", self.volts, within(50.0, 1000.0))?;
        let amps = at.number("amps", self.amps, above(0.0, 500.0))?;
        let pct = at.optional("efficiency_pct", self.efficiency_pct, within(20.0, 100.0))?;
        let minutes = at.optional("minutes", self.minutes, above(0.0, LONGEST_MIN))?;
        let to = at.optional("to_pct", self.to_pct, above(0.0, 100.0))?;
        let act = Act::Charge {
            wall_w: volts * amps,
            efficiency: pct.map(units::share_from_pct),
            target: units::share_from_pct(to.unwrap_or(100.0)),
            for_s: minutes.map(units::s_from_min),
        };
        Ok((act, air(at, self.air_c)?))
    }
}
