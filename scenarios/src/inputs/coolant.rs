//! The coolant of liquid-cooled parts, with its radiator.

use crate::files::allowed::within;
use crate::files::assumption::{Assumption, usual};
use crate::files::field_path::{Fault, FieldPath};
use crate::inputs::motor::Nameplate;
use schemars::JsonSchema;
use serde::Deserialize;
use sim_core::controller::Controller;
use sim_core::cooling::{self, CONVECTION_EXPONENT, Conductance};
use sim_core::motor::{Motor, copper_factor};
use sim_core::units;

/// The coolant of a liquid-cooled motor or controller, with hoses and radiator. Pump and fan are
/// 12 V loads: put them among the auxiliaries.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Coolant {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Heat capacity of coolant, hoses and radiator, kJ/K; a litre of water and glycol has 3.7.
    pub heat_capacity_kj_per_k: Option<f64>,
    /// Conductance from the radiator to still air, W/K.
    pub still_air_w_per_k: Option<f64>,
    /// Conductance that the radiator's fan adds, which runs while the car is switched on, W/K.
    pub fan_w_per_k: Option<f64>,
    /// Conductance that the road's air adds at 100 km/h, W/K.
    pub road_air_w_per_k_at_100_kmh: Option<f64>,
}

/// What a radiator is laid out for.
pub(crate) struct HeatSources<'a> {
    pub(crate) motor: &'a Motor,
    pub(crate) nameplate: Option<&'a Nameplate>,
    pub(crate) controller: &'a Controller,
}

/// Air for which a radiator is laid out: the ambient of ratings (IEC 60034-1, from memory), °C.
const RATED_AIR_C: f64 = 40.0;
/// Least rise of the coolant over that air for which a radiator is laid out, K.
const LEAST_RISE_K: f64 = 10.0;
/// A radiator without wind, W/K.
const STILL_W_PER_K: f64 = 10.0;

impl Coolant {
    /// The coolant that the simulation drives with.
    pub(crate) fn model(
        given: Option<&Coolant>,
        build_at: &FieldPath,
        sources: &HeatSources<'_>,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<cooling::Coolant, Fault> {
        let Some((coolant_k, heat_w)) = sources.rated() else {
            return match given {
                Some(_) => {
                    let allowed = "this only with a liquid-cooled motor or controller";
                    Err(build_at.refuse("coolant", "given", allowed))
                }
                None => Ok(cooling::Coolant::of_small_car()),
            };
        };
        let none = Coolant::default();
        let (given, at) = (given.unwrap_or(&none), build_at.field("coolant"));
        let mut take =
            |name, value, allowed, usual| at.assumed(name, value, allowed, usual, assumptions);
        let capacity = take(
            "heat_capacity_kj_per_k",
            given.heat_capacity_kj_per_k,
            within(1.0, 500.0),
            usual(17.0, "kJ/K", "four litres of water and glycol with a small car's radiator"),
        )?;
        let allowed = within(0.0, 5000.0);
        let reason = "a small car's radiator without wind, common practice";
        let still = usual(STILL_W_PER_K, "W/K", reason);
        let still = take("still_air_w_per_k", given.still_air_w_per_k, allowed, still)?;
        let rise_k = (coolant_k - units::k_from_c(RATED_AIR_C)).max(LEAST_RISE_K);
        let reason = if sources.nameplate.is_some() {
            "holds the coolant at its rated temperature in air of 40 °C at the motor's continuous \
             rating"
        } else {
            "holds the coolant at its rated temperature in air of 40 °C at half the motor's peak"
        };
        let fan = usual((heat_w / rise_k - still).max(0.0), "W/K", reason);
        let fan = take("fan_w_per_k", given.fan_w_per_k, allowed, fan)?;
        let road = usual(fan, "W/K", "as much again as the fan, common practice");
        let name = "road_air_w_per_k_at_100_kmh";
        let road = take(name, given.road_air_w_per_k_at_100_kmh, allowed, road)?;
        if still + fan + road <= 0.0 {
            let allowed = "more than 0, or more of fan or road air: all heat stays in the coolant";
            return Err(at.refuse("still_air_w_per_k", still, allowed));
        }
        Ok(cooling::Coolant {
            heat_capacity_j_per_k: units::j_from_kj(capacity),
            radiator: Conductance {
                still,
                shaft: 0.0,
                road: road / units::mps_from_kmh(100.0).powf(CONVECTION_EXPONENT),
                fan,
            },
        })
    }
}

impl HeatSources<'_> {
    /// Temperature of the coolant in the ratings, K, and the heat that it takes up then, W: at the
    /// motor's continuous rating or, without a nameplate, at half its peak torque at base speed.
    /// `None` where nothing is liquid-cooled.
    fn rated(&self) -> Option<(f64, f64)> {
        let HeatSources { motor, nameplate, controller } = *self;
        let thermal = &motor.thermal;
        let (of_motor, of_controller) =
            (thermal.cooling.rated_coolant_k(), controller.cooling.rated_coolant_k());
        let coolant_k = match (of_motor, of_controller) {
            (Some(motor_k), Some(controller_k)) => motor_k.min(controller_k),
            (one, other) => one.or(other)?,
        };
        let machine = &motor.machine;
        let envelope = &machine.envelope;
        let (torque_nm, radps, volts) = match nameplate {
            Some(plate) => {
                let radps = units::radps_from_rpm(plate.continuous_rpm);
                let power_w = units::w_from_kw(plate.continuous_power_kw);
                (power_w / radps, radps, plate.rated_v.unwrap_or(envelope.reference_v))
            }
            None => (0.5 * envelope.largest_nm(), envelope.base_radps, envelope.reference_v),
        };
        let point = motor.operating_point(torque_nm, radps, volts);
        let mut heat_w = 0.0;
        if of_motor.is_some() {
            let housing_w_per_k = thermal.cooling.conductance().still;
            let mut winding_k = coolant_k;
            // Copper loss grows with the winding's temperature: settled after a few rounds.
            for _ in 0..20 {
                let factor = copper_factor(winding_k, motor.loss_reference_k);
                let loss = motor.loss(&point, factor);
                heat_w = loss.total_w();
                let rise_k =
                    heat_w / housing_w_per_k + loss.copper_w / thermal.winding_to_housing_w_per_k;
                winding_k = (coolant_k + rise_k).min(motor.derating.cut_off_k);
            }
        }
        if of_controller.is_some() {
            heat_w += controller.loss_w(point.current_a);
        }
        Some((coolant_k, heat_w))
    }
}
