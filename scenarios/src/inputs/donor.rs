//! The car before its conversion.

use crate::files::allowed::{Allowed, PERCENT, above, within};
use crate::files::assumption::{Assumption, usual};
use crate::files::field_path::{Fault, FieldPath, only_one};
use crate::inputs::learnt_input::Spreads;
use crate::inputs::tyre::Tyre;
use schemars::JsonSchema;
use serde::Deserialize;
use sim_core::road_load::RoadLoad;
use sim_core::tyre::DrivenAxle;
use sim_core::units;

/// The donor car: what it weighed, how it stood on its axles, and what holds it back.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Donor {
    /// Where the JSON Schema of this file is.
    #[serde(rename = "$schema")]
    pub schema: Option<String>,
    /// What to call it.
    pub name: Option<String>,
    /// Anything worth remembering.
    pub note: Option<String>,
    /// How well its numbers are known, where they were learnt from a car.
    pub spreads: Option<Spreads>,
    /// Mass as it left the works: all fluids, tools, no people, kg.
    pub kerb_mass_kg: f64,
    /// Share of the kerb mass that stands on the front axle, %.
    pub front_share_pct: f64,
    /// Distance between the axles, m.
    pub wheelbase_m: f64,
    /// Height of the centre of gravity over the road, m.
    pub cg_height_m: Option<f64>,
    /// Largest permitted mass with people and load, kg.
    pub gross_mass_kg: Option<f64>,
    /// Largest permitted mass on the front axle, kg.
    pub front_axle_max_kg: Option<f64>,
    /// Largest permitted mass on the rear axle, kg.
    pub rear_axle_max_kg: Option<f64>,
    /// Which wheels the gearbox turns.
    pub driven: Driven,
    /// Front brakes' share of the friction force, %.
    pub friction_brake_front_share_pct: Option<f64>,
    /// Width without mirrors, m; only for the road load of a car of which nothing else is known.
    pub width_m: Option<f64>,
    /// Height, m; only for the road load of a car of which nothing else is known.
    pub height_m: Option<f64>,
    /// Drag coefficient times frontal area, m².
    pub drag_area_m2: Option<f64>,
    /// Drag coefficient; goes with `frontal_area_m2`.
    pub drag_coefficient: Option<f64>,
    /// Frontal area, m²; goes with `drag_coefficient`.
    pub frontal_area_m2: Option<f64>,
    /// Drag of the wheel bearings and of brake pads that touch their discs, at the road, N; a
    /// coast-down holds it already.
    pub bearings_n: Option<f64>,
    /// Road load from a coast-down; then neither drag nor rolling resistance may be given.
    pub coast_down: Option<CoastDown>,
}

/// Which wheels are driven.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Driven {
    /// The front wheels.
    Front,
    /// The rear wheels.
    Rear,
    /// All four.
    Both,
}

/// Coefficients of a coast-down in neutral, corrected to 20 °C, in metric or in US units,
/// `F = f0 + f1·v + f2·v²`.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CoastDown {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Constant part, N.
    pub f0_n: Option<f64>,
    /// Part that grows with speed, N/(km/h).
    pub f1_n_per_kmh: Option<f64>,
    /// Part that grows with the square of speed, N/(km/h)².
    pub f2_n_per_kmh2: Option<f64>,
    /// Constant part, lbf.
    pub a_lbf: Option<f64>,
    /// Part that grows with speed, lbf/mph.
    pub b_lbf_per_mph: Option<f64>,
    /// Part that grows with the square of speed, lbf/mph².
    pub c_lbf_per_mph2: Option<f64>,
    /// Mass of the car in the coast-down, kg.
    pub mass_kg: Option<f64>,
    /// Mass of the car in the coast-down, lb.
    pub mass_lb: Option<f64>,
    /// Air density in the coast-down, kg/m³.
    pub air_density_kg_per_m3: Option<f64>,
}

/// Air density at 20 °C and 100 kPa, to which a coast-down is corrected (UN GTR 15, Annex 4, from
/// memory), kg/m³.
const COAST_DOWN_AIR_KG_PER_M3: f64 = 1.189;

impl Donor {
    /// The driven wheels.
    pub(crate) fn driven_axle(&self) -> DrivenAxle {
        match self.driven {
            Driven::Front => DrivenAxle::Front,
            Driven::Rear => DrivenAxle::Rear,
            Driven::Both => DrivenAxle::Both,
        }
    }

    /// Whether its road load is that of a coast-down, measured or by default.
    pub(crate) fn has_coast_down(&self) -> bool {
        let drag = [self.drag_area_m2, self.drag_coefficient, self.frontal_area_m2];
        drag.iter().all(Option::is_none)
    }

    /// Front brakes' share of the friction force.
    pub(crate) fn brake_share(
        &self,
        at: &FieldPath,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<f64, Fault> {
        let pct = at.assumed(
            "friction_brake_front_share_pct",
            self.friction_brake_front_share_pct,
            PERCENT,
            usual(65.0, "%", "common practice for a light car"),
            assumptions,
        )?;
        Ok(units::share_from_pct(pct))
    }

    /// The road load at a running mass.
    ///
    /// Where nothing is known, the default of UN GTR 15, Annex 4 (from memory):
    /// `f0 = 0.140·m` N, `f1 = 0`, `f2 = 2.8e-6·m + 0.0170·width·height` N/(km/h)². It is meant to
    /// be pessimistic.
    pub(crate) fn road_load(
        &self,
        at: &FieldPath,
        tyre: (&Tyre, &FieldPath),
        mass_kg: f64,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<RoadLoad, Fault> {
        const AREA: Allowed = above(0.0, 10.0);
        let drag_area = at.optional("drag_area_m2", self.drag_area_m2, AREA)?;
        let coefficient =
            at.optional("drag_coefficient", self.drag_coefficient, above(0.0, 2.0))?;
        let frontal = at.optional("frontal_area_m2", self.frontal_area_m2, AREA)?;
        let width = at.optional("width_m", self.width_m, within(0.8, 3.0))?;
        let height = at.optional("height_m", self.height_m, within(0.8, 3.5))?;
        let way = only_one(
            at,
            &[
                ("drag_area_m2", drag_area.is_some()),
                ("drag_coefficient", coefficient.is_some() || frontal.is_some()),
                ("coast_down", self.coast_down.is_some()),
            ],
        )?;
        let drag_area_m2 = match (drag_area, coefficient, frontal) {
            (Some(area), ..) => Some(area),
            (None, Some(coefficient), Some(frontal)) => Some(coefficient * frontal),
            (None, Some(_), None) => {
                return Err(at.demand("frontal_area_m2", "it goes with drag_coefficient"));
            }
            (None, None, Some(_)) => {
                return Err(at.demand("drag_coefficient", "it goes with frontal_area_m2"));
            }
            (None, None, None) => None,
        };
        let (tyre, tyre_at) = tyre;
        if let Some(drag_area_m2) = drag_area_m2 {
            let (rolling, rolling_per_mps) = tyre.rolling(tyre_at, assumptions)?;
            let bearings_n = at.assumed(
                "bearings_n",
                self.bearings_n,
                within(0.0, 200.0),
                usual(12.0, "N", "four wheels with disc brakes in front, common practice"),
                assumptions,
            )?;
            return Ok(RoadLoad::Coefficients {
                drag_area_m2,
                rolling,
                rolling_per_mps,
                bearings_n,
            });
        }
        if let Some(bearings_n) = self.bearings_n {
            let allowed =
                "this only beside a drag area, as a coast-down holds the bearings already";
            return Err(at.refuse("bearings_n", bearings_n, allowed));
        }
        if let Some(field) = tyre.names_rolling() {
            let other = way.unwrap_or("drag_area_m2");
            return Err(if way.is_some() {
                let allowed = "only one of the two, as a coast-down holds the tyres already";
                tyre_at.refuse(field, format!("given beside {}.{other}", at.path()), allowed)
            } else {
                at.demand(other, "the rolling resistance of the tyre alone is not the road load")
            });
        }
        if let Some(coast_down) = &self.coast_down {
            return coast_down.road_load(&at.field("coast_down"), assumptions);
        }
        let (Some(width), Some(height)) = (width, height) else {
            let needed = "drag_area_m2, or coast_down, or else width_m and height_m for a default";
            return Err(at.demand("drag_area_m2", needed));
        };
        let f0_n = 0.140 * mass_kg;
        let f2 = 2.8e-6 * mass_kg + 0.0170 * width * height;
        let reason = "default of UN GTR 15, Annex 4 (from memory), meant to be pessimistic";
        assumptions.push(at.assume("coast_down.f0_n", usual(f0_n, "N", reason)));
        assumptions.push(at.assume("coast_down.f2_n_per_kmh2", usual(f2, "N/(km/h)²", reason)));
        Ok(RoadLoad::CoastDown {
            f0_n,
            f1_n_per_mps: 0.0,
            f2_n_per_mps2: f2 * units::kmh_from_mps(1.0).powi(2),
            mass_kg,
            air_density_kg_per_m3: COAST_DOWN_AIR_KG_PER_M3,
        })
    }
}

impl CoastDown {
    fn road_load(
        &self,
        at: &FieldPath,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<RoadLoad, Fault> {
        let metric = self.f0_n.is_some() || self.f1_n_per_kmh.is_some();
        let us = self.a_lbf.is_some() || self.b_lbf_per_mph.is_some();
        let metric = metric || self.f2_n_per_kmh2.is_some();
        let us = us || self.c_lbf_per_mph2.is_some();
        only_one(at, &[("f0_n", metric), ("a_lbf", us)])?;
        let kg = at.optional("mass_kg", self.mass_kg, within(200.0, 5000.0))?;
        let lb = at.optional("mass_lb", self.mass_lb, within(440.0, 11000.0))?;
        only_one(at, &[("mass_kg", kg.is_some()), ("mass_lb", lb.is_some())])?;
        let Some(mass_kg) = kg.or(lb.map(units::kg_from_lb)) else {
            return Err(at.demand("mass_kg", "the mass of the car in the coast-down"));
        };
        let needed = "all three coefficients of the coast-down, 0 where there is none";
        let (f0_n, f1_n_per_mps, f2_n_per_mps2) = if us {
            let kmh = units::mph_from_mps(1.0);
            let a = at.required("a_lbf", self.a_lbf, within(0.0, 500.0), needed)?;
            let b = at.required("b_lbf_per_mph", self.b_lbf_per_mph, within(-5.0, 20.0), needed)?;
            let c = at.required("c_lbf_per_mph2", self.c_lbf_per_mph2, within(0.0, 1.0), needed)?;
            let n = units::n_from_lbf;
            (n(a), n(b) * kmh, n(c) * kmh * kmh)
        } else {
            let kmh = units::kmh_from_mps(1.0);
            let f0 = at.required("f0_n", self.f0_n, within(0.0, 2000.0), needed)?;
            let f1 = at.required("f1_n_per_kmh", self.f1_n_per_kmh, within(-10.0, 50.0), needed)?;
            let f2 = at.required("f2_n_per_kmh2", self.f2_n_per_kmh2, within(0.0, 1.0), needed)?;
            (f0, f1 * kmh, f2 * kmh * kmh)
        };
        let lowest_n = if f1_n_per_mps < 0.0 && f2_n_per_mps2 > 0.0 {
            f0_n - f1_n_per_mps * f1_n_per_mps / (4.0 * f2_n_per_mps2)
        } else {
            f0_n + f1_n_per_mps.min(0.0) * 100.0
        };
        if lowest_n < 0.0 {
            let (field, value) = if us {
                ("b_lbf_per_mph", self.b_lbf_per_mph)
            } else {
                ("f1_n_per_kmh", self.f1_n_per_kmh)
            };
            let allowed = "coefficients that hold the car back at every speed";
            return Err(at.refuse(field, value.unwrap_or_default(), allowed));
        }
        let air_density_kg_per_m3 = at.assumed(
            "air_density_kg_per_m3",
            self.air_density_kg_per_m3,
            within(0.5, 1.6),
            usual(
                COAST_DOWN_AIR_KG_PER_M3,
                "kg/m³",
                "air at 20 °C and 100 kPa, to which coast-downs are corrected",
            ),
            assumptions,
        )?;
        Ok(RoadLoad::CoastDown {
            f0_n,
            f1_n_per_mps,
            f2_n_per_mps2,
            mass_kg,
            air_density_kg_per_m3,
        })
    }
}
