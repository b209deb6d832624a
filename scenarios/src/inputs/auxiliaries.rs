//! What draws on the pack besides the motor.

use crate::files::allowed::within;
use crate::files::assumption::{Assumption, usual};
use crate::files::bounds::LOADS;
use crate::files::field_path::{Fault, FieldPath};
use schemars::JsonSchema;
use serde::Deserialize;
use sim_core::auxiliaries;
use sim_core::units;

/// 12 V loads, the converter that feeds them, and cabin heat.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Auxiliaries {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// 12 V loads that are on while driving: lights, vacuum pump, coolant pump, fans.
    pub low_voltage: Option<Vec<LowVoltageLoad>>,
    /// Efficiency of the DC-DC converter, %.
    pub dc_dc_efficiency_pct: Option<f64>,
    /// Steady loads on the traction pack itself, W.
    pub traction_w: Option<f64>,
    /// The cabin, where an electric heater warms it.
    pub cabin: Option<Cabin>,
}

/// A 12 V load.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LowVoltageLoad {
    /// What it is.
    pub item: String,
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Mean power while driving, W.
    pub power_w: f64,
    /// Power while it is on, W, of what comes and goes, such as a brake vacuum pump; left out, the
    /// mean.
    pub on_w: Option<f64>,
}

/// A cabin with a heater on the traction pack.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Cabin {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Temperature that the thermostat holds, °C.
    pub set_c: Option<f64>,
    /// Largest heater power, kW.
    pub heater_kw: f64,
    /// Heat capacity of air, seats and trim, kJ/K.
    pub heat_capacity_kj_per_k: Option<f64>,
    /// Conductance to the outside air, leaks and fresh air included, W/K.
    pub conductance_w_per_k: Option<f64>,
}

/// Temperature of a heated cabin where nothing is said, °C (common practice, no source).
pub(crate) const SET_C: f64 = 20.0;
/// 12 V loads where nothing is said, W (common practice, no source).
pub(crate) const LOW_VOLTAGE_W: f64 = 150.0;

impl Auxiliaries {
    /// Adds a 12 V load to those that are there or assumed, W.
    pub(crate) fn add_low_voltage(&mut self, item: &str, power_w: f64) {
        let load = |item: &str, power_w| LowVoltageLoad {
            item: item.to_owned(),
            note: None,
            power_w,
            on_w: None,
        };
        let loads =
            self.low_voltage.get_or_insert_with(|| vec![load("usual loads", LOW_VOLTAGE_W)]);
        loads.push(load(item, power_w));
    }

    /// The loads that the simulation drives with.
    pub(crate) fn model(
        &self,
        at: &FieldPath,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<auxiliaries::Auxiliaries, Fault> {
        let low_voltage_w = match &self.low_voltage {
            Some(list) => {
                if list.len() as u64 > LOADS {
                    let value = format!("a list of {}", list.len());
                    return Err(at.refuse("low_voltage", value, format!("at most {LOADS} loads")));
                }
                let list_at = at.field("low_voltage");
                let mut sum = 0.0;
                for (i, load) in list.iter().enumerate() {
                    let load_at = list_at.item(i);
                    sum += load_at.number("power_w", load.power_w, within(0.0, 5000.0))?;
                    if let Some(on_w) = load_at.optional("on_w", load.on_w, within(0.0, 5000.0))?
                        && on_w < load.power_w
                    {
                        let allowed = format!("at least the mean power_w, {}", load.power_w);
                        return Err(load_at.refuse("on_w", on_w, allowed));
                    }
                }
                sum
            }
            None => {
                let reason = "lights, wipers and instruments of an old car, some of the time";
                assumptions.push(at.assume("low_voltage", usual(LOW_VOLTAGE_W, "W", reason)));
                LOW_VOLTAGE_W
            }
        };
        let dc_dc = at.assumed(
            "dc_dc_efficiency_pct",
            self.dc_dc_efficiency_pct,
            within(20.0, 100.0),
            usual(88.0, "%", "typical of its class"),
            assumptions,
        )?;
        let traction = at.optional("traction_w", self.traction_w, within(0.0, 20000.0))?;
        let cabin = match &self.cabin {
            Some(cabin) => Some(cabin.model(&at.field("cabin"), assumptions)?),
            None => None,
        };
        Ok(auxiliaries::Auxiliaries {
            low_voltage_w,
            dc_dc_efficiency: units::share_from_pct(dc_dc),
            traction_w: traction.unwrap_or(0.0),
            cabin,
        })
    }
}

impl Cabin {
    /// A small cabin with a heater.
    pub(crate) fn with_heater(heater_kw: f64) -> Self {
        let (heat_capacity_kj_per_k, conductance_w_per_k) = (None, None);
        Self { note: None, set_c: None, heater_kw, heat_capacity_kj_per_k, conductance_w_per_k }
    }

    fn model(
        &self,
        at: &FieldPath,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<auxiliaries::Cabin, Fault> {
        let typical = "typical of a small cabin";
        let capacity = at.assumed(
            "heat_capacity_kj_per_k",
            self.heat_capacity_kj_per_k,
            within(1.0, 1000.0),
            usual(80.0, "kJ/K", typical),
            assumptions,
        )?;
        let conductance = at.assumed(
            "conductance_w_per_k",
            self.conductance_w_per_k,
            within(1.0, 1000.0),
            usual(60.0, "W/K", typical),
            assumptions,
        )?;
        let set_c = at.assumed(
            "set_c",
            self.set_c,
            within(0.0, 35.0),
            usual(SET_C, "°C", "a comfortable cabin"),
            assumptions,
        )?;
        Ok(auxiliaries::Cabin {
            heat_capacity_j_per_k: units::j_from_kj(capacity),
            conductance_w_per_k: conductance,
            set_k: units::k_from_c(set_c),
            heater_w: units::w_from_kw(at.number(
                "heater_kw",
                self.heater_kw,
                within(0.0, 20.0),
            )?),
        })
    }
}
