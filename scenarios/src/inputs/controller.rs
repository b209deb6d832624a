//! The motor controller.

use crate::files::allowed::{above, within};
use crate::files::assumption::{Assumption, usual};
use crate::files::field_path::{Fault, FieldPath};
use crate::inputs::learnt_input::Spreads;
use schemars::JsonSchema;
use serde::Deserialize;
use sim_core::controller::{self, Derating};
use sim_core::cooling::{CONVECTION_EXPONENT, Cooling};
use sim_core::{motor, units};

/// What a controller makes of the pack's current.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// Alternating current, for induction and permanent-magnet motors.
    Inverter,
    /// Direct current in pulses, for series motors.
    Chopper,
}

impl Kind {
    /// What a motor needs.
    pub(crate) fn for_motor(motor: &motor::Kind) -> Self {
        match motor {
            motor::Kind::SeriesDc { .. } => Kind::Chopper,
            motor::Kind::Induction { .. } | motor::Kind::PermanentMagnet => Kind::Inverter,
        }
    }

    /// `an inverter`, `a chopper`.
    pub(crate) fn with_article(self) -> &'static str {
        match self {
            Kind::Inverter => "an inverter",
            Kind::Chopper => "a chopper",
        }
    }

    /// The word for it.
    pub(crate) fn name(self) -> &'static str {
        match self {
            Kind::Inverter => "inverter",
            Kind::Chopper => "chopper",
        }
    }
}

/// The motor controller: its limits, its losses and its heat sink.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Controller {
    /// Where the JSON Schema of this file is.
    #[serde(rename = "$schema")]
    pub schema: Option<String>,
    /// What to call it.
    pub name: Option<String>,
    /// Anything worth remembering.
    pub note: Option<String>,
    /// What it costs, in the currency of `money`.
    pub price: Option<f64>,
    /// How well its numbers are known, where they were learnt from a car.
    pub spreads: Option<Spreads>,
    /// What it makes of the pack's current; left out, what the motor needs.
    pub kind: Option<Kind>,
    /// Mass, kg.
    pub mass_kg: f64,
    /// Largest current from the pack, A.
    pub pack_current_a: f64,
    /// Largest current back into the pack, A.
    pub pack_regen_current_a: Option<f64>,
    /// Largest current to the motor, A (root mean square for alternating current).
    pub motor_current_a: f64,
    /// Capacitance between its terminals to the pack, µF, which precharge fills.
    pub capacitance_uf: Option<f64>,
    /// Voltage below which it stops, V.
    pub min_v: f64,
    /// Voltage above which it stops, V.
    pub max_v: f64,
    /// Loss when it is switched on, W.
    pub fixed_loss_w: Option<f64>,
    /// Loss per ampere of motor current, W/A.
    pub loss_w_per_a: Option<f64>,
    /// Loss per square ampere of motor current, W/A².
    pub loss_w_per_a2: Option<f64>,
    /// Heat capacity of heat sink and base plate, kJ/K.
    pub heat_capacity_kj_per_k: Option<f64>,
    /// Conductance of the heat sink to still air (with its own fan running, if it has one), or to
    /// the coolant, W/K.
    pub conductance_w_per_k: Option<f64>,
    /// Conductance that the road's air adds at 100 km/h, W/K.
    pub road_air_w_per_k_at_100_kmh: Option<f64>,
    /// Coolant temperature for which it is rated, and its radiator laid out, °C; only for a
    /// liquid-cooled controller. In the drive the coolant is as warm as heat and radiator make it.
    pub coolant_c: Option<f64>,
    /// Heat-sink temperature at which it begins to cut back, °C.
    pub warning_c: Option<f64>,
    /// Heat-sink temperature at which it stops, °C.
    pub cut_off_c: Option<f64>,
}

impl Controller {
    /// The controller that the simulation drives with.
    pub(crate) fn model(
        &self,
        at: &FieldPath,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<controller::Controller, Fault> {
        let current = above(0.0, 5000.0);
        let pack_current_a = at.number("pack_current_a", self.pack_current_a, current)?;
        let motor_current_a = at.number("motor_current_a", self.motor_current_a, current)?;
        at.optional("capacitance_uf", self.capacitance_uf, above(0.0, 1e6))?;
        let min_v = at.number("min_v", self.min_v, within(0.0, 1500.0))?;
        let max_v = at.number("max_v", self.max_v, above(0.0, 1500.0))?;
        if max_v <= min_v {
            return Err(at.refuse("max_v", max_v, format!("more than min_v, {min_v}")));
        }
        let mass_kg = at.number("mass_kg", self.mass_kg, within(0.1, 200.0))?;
        let liquid = at.optional("coolant_c", self.coolant_c, within(-20.0, 120.0))?;
        if liquid.is_some() && self.road_air_w_per_k_at_100_kmh.is_some() {
            let value = "given beside coolant_c";
            let allowed = "only one of the two";
            return Err(at.refuse("road_air_w_per_k_at_100_kmh", value, allowed));
        }
        let mut take =
            |name, value, allowed, usual| at.assumed(name, value, allowed, usual, assumptions);
        let typical = "typical of its class";
        let regen_a = take(
            "pack_regen_current_a",
            self.pack_regen_current_a,
            within(0.0, 5000.0),
            usual(0.5 * pack_current_a, "A", "half of the current from the pack, common practice"),
        )?;
        let fixed_loss_w = take(
            "fixed_loss_w",
            self.fixed_loss_w,
            within(0.0, 1000.0),
            usual(25.0, "W", typical),
        )?;
        let loss_w_per_a =
            take("loss_w_per_a", self.loss_w_per_a, within(0.0, 50.0), usual(1.0, "W/A", typical))?;
        let loss_w_per_a2 = take(
            "loss_w_per_a2",
            self.loss_w_per_a2,
            within(0.0, 1.0),
            usual(0.002, "W/A²", typical),
        )?;
        let heat_capacity_kj_per_k = take(
            "heat_capacity_kj_per_k",
            self.heat_capacity_kj_per_k,
            within(0.02, 500.0),
            usual(0.6 * mass_kg, "kJ/K", "two thirds of the mass as aluminium"),
        )?;
        let conductance = take(
            "conductance_w_per_k",
            self.conductance_w_per_k,
            within(0.1, 2000.0),
            usual(if liquid.is_some() { 60.0 } else { 5.0 }, "W/K", typical),
        )?;
        let cooling = match liquid {
            Some(coolant_c) => Cooling::Liquid {
                conductance_w_per_k: conductance,
                rated_coolant_k: units::k_from_c(coolant_c),
            },
            None => {
                let road = take(
                    "road_air_w_per_k_at_100_kmh",
                    self.road_air_w_per_k_at_100_kmh,
                    within(0.0, 2000.0),
                    usual(
                        0.5 * conductance,
                        "W/K",
                        "half of the conductance to still air, as under a bonnet",
                    ),
                )?;
                Cooling::Air {
                    still_w_per_k: conductance,
                    fan_w_per_k: 0.0,
                    road_w_per_k: road / units::mps_from_kmh(100.0).powf(CONVECTION_EXPONENT),
                }
            }
        };
        let range = within(0.0, 250.0);
        let warning_c = take("warning_c", self.warning_c, range, usual(75.0, "°C", typical))?;
        let cut_off_c = take("cut_off_c", self.cut_off_c, range, usual(90.0, "°C", typical))?;
        if cut_off_c <= warning_c {
            return Err(at.refuse(
                "cut_off_c",
                cut_off_c,
                format!("more than warning_c, {warning_c}"),
            ));
        }
        if let Some(coolant_c) = liquid
            && coolant_c >= warning_c
        {
            let allowed = format!("less than warning_c, {warning_c}");
            return Err(at.refuse("coolant_c", coolant_c, allowed));
        }
        Ok(controller::Controller {
            pack_current_a,
            pack_regen_current_a: regen_a,
            motor_current_a,
            min_v,
            max_v,
            fixed_loss_w,
            loss_w_per_a,
            loss_w_per_a2,
            heat_capacity_j_per_k: units::j_from_kj(heat_capacity_kj_per_k),
            cooling,
            derating: Derating {
                warning_k: units::k_from_c(warning_c),
                cut_off_k: units::k_from_c(cut_off_c),
            },
        })
    }
}
