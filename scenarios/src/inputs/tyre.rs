//! The tyres of the driven wheels.

use crate::files::allowed::{plain, within};
use crate::files::assumption::{Assumption, usual};
use crate::files::field_path::{Fault, FieldPath, only_one};
use crate::inputs::learnt_input::Spreads;
use schemars::JsonSchema;
use serde::Deserialize;
use sim_core::tyre::{self, LOADED_SHARE, free_radius_m, radius_from_revolutions_m};
use sim_core::units;

/// The tyres: how large they roll, how hard they roll.
///
/// Exactly one of `size`, `rolling_radius_m` and `revolutions_per_km` is needed.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Tyre {
    /// Where the JSON Schema of this file is.
    #[serde(rename = "$schema")]
    pub schema: Option<String>,
    /// What to call it.
    pub name: Option<String>,
    /// Anything worth remembering.
    pub note: Option<String>,
    /// What all of them cost, in the currency of `money`.
    pub price: Option<f64>,
    /// How well its numbers are known, where they were learnt from a car.
    pub spreads: Option<Spreads>,
    /// Size code, such as `165/70R13` or `155R13`.
    pub size: Option<String>,
    /// Loaded rolling radius, m.
    pub rolling_radius_m: Option<f64>,
    /// Turns in a kilometre.
    pub revolutions_per_km: Option<f64>,
    /// Rolling resistance at walking pace and 25 °C, N per N of weight.
    pub rolling_resistance: Option<f64>,
    /// Rolling resistance of the tyre's label, which is that at 80 km/h and 25 °C (ISO 28580), N/kN
    /// (the same number as kg/t); instead of `rolling_resistance`.
    pub label_n_per_kn: Option<f64>,
    /// Class of the label for rolling resistance, the letter beside the fuel pump; instead of
    /// `rolling_resistance`.
    pub label_class: Option<LabelClass>,
    /// Growth of the rolling resistance with speed, 1/(km/h).
    pub rolling_resistance_per_kmh: Option<f64>,
    /// Mass of one wheel with its tyre, kg.
    pub wheel_mass_kg: Option<f64>,
    /// Moment of inertia of one wheel with its tyre and brake, kg·m².
    pub wheel_inertia_kg_m2: Option<f64>,
}

/// Rolling resistance class of a car tyre (C1), Regulation (EU) 2020/740, Annex I.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
pub enum LabelClass {
    /// Up to 6.5 N/kN.
    A,
    /// 6.6 to 7.7 N/kN.
    B,
    /// 7.8 to 9.0 N/kN.
    C,
    /// 9.1 to 10.5 N/kN.
    D,
    /// 10.6 N/kN and more.
    E,
}

impl LabelClass {
    /// The class's rolling resistance, N/kN: the middle of its band; 6.0 for A, which has no lower end,
    /// and 11.3 for E, the middle up to the 12.0 that UN R117 first allowed (from memory).
    fn n_per_kn(self) -> f64 {
        match self {
            LabelClass::A => 6.0,
            LabelClass::B => 7.15,
            LabelClass::C => 8.4,
            LabelClass::D => 9.8,
            LabelClass::E => 11.3,
        }
    }
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
        let ways = [
            ("rolling_resistance", self.rolling_resistance.is_some()),
            ("label_n_per_kn", self.label_n_per_kn.is_some()),
            ("label_class", self.label_class.is_some()),
            ("rolling_resistance_per_kmh", self.rolling_resistance_per_kmh.is_some()),
        ];
        ways.iter().find(|way| way.1).map(|way| way.0)
    }

    /// Rolling resistance and its growth, 1/(m/s).
    pub(crate) fn rolling(
        &self,
        at: &FieldPath,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<(f64, f64), Fault> {
        let ways = [
            ("rolling_resistance", self.rolling_resistance.is_some()),
            ("label_n_per_kn", self.label_n_per_kn.is_some()),
            ("label_class", self.label_class.is_some()),
        ];
        only_one(at, &ways)?;
        let growth = at.assumed(
            "rolling_resistance_per_kmh",
            self.rolling_resistance_per_kmh,
            within(0.0, 0.0005),
            usual(1.5e-5, "per km/h", "common practice for radial tyres"),
            assumptions,
        )?;
        let per_mps = growth * units::kmh_from_mps(1.0);
        let label = at.optional("label_n_per_kn", self.label_n_per_kn, within(3.0, 30.0))?;
        let of_class = self.label_class.map(|class| {
            let n_per_kn = class.n_per_kn();
            let value = format!("{} N/kN", plain(n_per_kn));
            let reason = format!("the middle of class {class:?} of the tyre label");
            let path = at.field("label_n_per_kn").path();
            let words = Assumption::words(path, value, reason);
            assumptions.push(Assumption { number: Some(n_per_kn), ..words });
            n_per_kn
        });
        if let Some(n_per_kn) = label.or(of_class) {
            let rolling = tyre::rolling_of_label(n_per_kn / 1000.0, per_mps);
            if rolling < 0.001 {
                let name = "rolling_resistance_per_kmh";
                let allowed = "a growth that leaves at least 0.001 of the label at walking pace";
                return Err(at.refuse(name, growth, allowed));
            }
            return Ok((rolling, per_mps));
        }
        let rolling = at.assumed(
            "rolling_resistance",
            self.rolling_resistance,
            within(0.003, 0.05),
            usual(
                0.0115,
                "",
                "an ordinary car tyre: handbooks' 0.013, which hold the bearings, less those",
            ),
            assumptions,
        )?;
        Ok((rolling, per_mps))
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
