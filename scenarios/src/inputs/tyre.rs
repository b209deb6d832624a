//! The tyres of the driven wheels.

use crate::files::allowed::within;
use crate::files::assumption::{Assumption, usual};
use crate::files::field_path::{Fault, FieldPath, only_one};
use schemars::JsonSchema;
use serde::Deserialize;
use sim_core::tyre::{LOADED_SHARE, free_radius_m, radius_from_revolutions_m};
use sim_core::units;

/// The tyres: how large they roll, how hard they roll.
///
/// Exactly one of `size`, `rolling_radius_m` and `revolutions_per_km` is needed.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Tyre {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Size code, such as `165/70R13` or `155R13`.
    pub size: Option<String>,
    /// Loaded rolling radius, m.
    pub rolling_radius_m: Option<f64>,
    /// Turns in a kilometre.
    pub revolutions_per_km: Option<f64>,
    /// Rolling resistance at walking pace and 25 °C, N per N of weight.
    pub rolling_resistance: Option<f64>,
    /// Growth of the rolling resistance with speed, 1/(km/h).
    pub rolling_resistance_per_kmh: Option<f64>,
    /// Mass of one wheel with its tyre, kg.
    pub wheel_mass_kg: Option<f64>,
    /// Moment of inertia of one wheel with its tyre and brake, kg·m².
    pub wheel_inertia_kg_m2: Option<f64>,
}

impl Tyre {
    /// Loaded rolling radius, m.
    pub(crate) fn radius_m(
        &self,
        at: &FieldPath,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<f64, Fault> {
        let ways = [
            ("size", self.size.is_some()),
            ("rolling_radius_m", self.rolling_radius_m.is_some()),
            ("revolutions_per_km", self.revolutions_per_km.is_some()),
        ];
        only_one(at, &ways)?;
        if let Some(radius) = self.rolling_radius_m {
            return at.number("rolling_radius_m", radius, within(0.15, 0.6));
        }
        if let Some(turns) = self.revolutions_per_km {
            let turns = at.number("revolutions_per_km", turns, within(265.0, 1060.0))?;
            return Ok(radius_from_revolutions_m(turns));
        }
        let Some(size) = &self.size else {
            return Err(at.demand("size", "one of size, rolling_radius_m and revolutions_per_km"));
        };
        let free = free_radius_m(size).map_err(|e| at.refuse("size", e.value, e.allowed))?;
        let radius = at.number("size", free * LOADED_SHARE, within(0.15, 0.6)).map_err(|_| {
            at.refuse("size", format!("\"{size}\""), "a tyre that rolls on 0.15 to 0.6 m")
        })?;
        let reason = "a radial tyre under load rolls on 96.5 % of its free radius";
        assumptions.push(at.assume("rolling_radius_m", usual(radius, "m", reason)));
        Ok(radius)
    }

    /// The first field of rolling resistance that is given, if any.
    pub(crate) fn names_rolling(&self) -> Option<&'static str> {
        let growth = self.rolling_resistance_per_kmh.map(|_| "rolling_resistance_per_kmh");
        self.rolling_resistance.map(|_| "rolling_resistance").or(growth)
    }

    /// Rolling resistance and its growth, 1/(m/s).
    pub(crate) fn rolling(
        &self,
        at: &FieldPath,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<(f64, f64), Fault> {
        let rolling = at.assumed(
            "rolling_resistance",
            self.rolling_resistance,
            within(0.003, 0.05),
            usual(0.013, "", "an ordinary car tyre, not one of low resistance"),
            assumptions,
        )?;
        let growth = at.assumed(
            "rolling_resistance_per_kmh",
            self.rolling_resistance_per_kmh,
            within(0.0, 0.0005),
            usual(1.5e-5, "per km/h", "common practice for radial tyres"),
            assumptions,
        )?;
        Ok((rolling, growth * units::kmh_from_mps(1.0)))
    }

    /// Moment of inertia of all four wheels, kg·m².
    pub(crate) fn wheels_inertia_kg_m2(
        &self,
        at: &FieldPath,
        radius_m: f64,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<f64, Fault> {
        let mass = at.optional("wheel_mass_kg", self.wheel_mass_kg, within(2.0, 60.0))?;
        let mass_kg = mass.unwrap_or(13.0);
        let each = at.assumed(
            "wheel_inertia_kg_m2",
            self.wheel_inertia_kg_m2,
            within(0.05, 10.0),
            usual(
                0.7 * mass_kg * radius_m * radius_m,
                "kg·m²",
                if mass.is_some() {
                    "0.7·m·r² of the wheel's mass"
                } else {
                    "0.7·m·r² of a wheel of 13 kg"
                },
            ),
            assumptions,
        )?;
        Ok(4.0 * each)
    }
}
