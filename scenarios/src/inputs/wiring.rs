//! The wiring: cables, fuse, precharge, and the 12 V side.
//!
//! Nothing of it changes how the car drives; what a cable does to the pack's voltage is in
//! `pack.harness_mohm`.

use crate::files::allowed::{Allowed, above, within};
use crate::files::field_path::{Fault, FieldPath};
use crate::inputs::auxiliaries::Auxiliaries;
use crate::inputs::controller::Controller;
use schemars::JsonSchema;
use serde::Deserialize;
use sim_core::cable;
use sim_core::units;

/// Cables, fuse, precharge and the 12 V side, for the command `electrics`; what is left out is assumed
/// there and said so, or asked for.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Wiring {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// From the pack to the controller, plus and minus.
    pub pack: Option<Cable>,
    /// From the controller to the motor: three phases, or two leads of a series motor.
    pub motor: Option<Cable>,
    /// From the DC-DC converter to the 12 V battery.
    pub low_voltage: Option<Cable>,
    /// From the inlet to the charger.
    pub charger: Option<Cable>,
    /// From the charger to the pack, plus and minus.
    pub charger_dc: Option<Cable>,
    /// Rated current of the fuse in the pack's lead, A.
    pub fuse_a: Option<f64>,
    /// Precharge resistor, Ω.
    pub precharge_ohm: Option<f64>,
    /// Largest power of the DC-DC converter at 12 V, W.
    pub dc_dc_w: Option<f64>,
    /// Voltage that the DC-DC converter holds on the 12 V side, V.
    pub low_voltage_v: Option<f64>,
    /// Capacity of the 12 V battery, A·h.
    pub battery_ah: Option<f64>,
    /// Share of that capacity that may be drawn, %.
    pub battery_usable_pct: Option<f64>,
    /// Air around the cables, °C.
    pub air_c: Option<f64>,
}

/// A cable.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Cable {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Length of one conductor, one way, m.
    pub length_m: Option<f64>,
    /// Cross-section of a conductor, mm².
    pub mm2: Option<f64>,
    /// What it is made of; left out, copper.
    pub conductor: Option<Conductor>,
}

/// What a conductor is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Conductor {
    /// Copper.
    Copper,
    /// Aluminium.
    Aluminium,
}

/// A cable in SI, as far as it is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wire {
    /// Length of one conductor, one way, m.
    pub length_m: Option<f64>,
    /// Cross-section, m².
    pub area_m2: Option<f64>,
    /// What it is made of.
    pub conductor: cable::Conductor,
}

impl Wire {
    /// The cable, where its cross-section is known.
    pub fn cable(&self) -> Option<cable::Cable> {
        self.area_m2.map(|area_m2| cable::Cable { area_m2, conductor: self.conductor })
    }
}

/// A 12 V load.
#[derive(Debug, Clone, PartialEq)]
pub struct Consumer {
    /// What it is.
    pub item: String,
    /// Mean power while driving, W.
    pub mean_w: f64,
    /// Power while it is on, W.
    pub on_w: f64,
}

/// The wiring in SI, as far as it is known.
#[derive(Debug, Clone, PartialEq)]
pub struct Wires {
    /// From the pack to the controller.
    pub pack: Wire,
    /// From the controller to the motor.
    pub motor: Wire,
    /// From the DC-DC converter to the 12 V battery.
    pub low_voltage: Wire,
    /// From the inlet to the charger.
    pub charger: Wire,
    /// From the charger to the pack.
    pub charger_dc: Wire,
    /// Rated current of the fuse in the pack's lead, A.
    pub fuse_a: Option<f64>,
    /// Precharge resistor, Ω.
    pub precharge_ohm: Option<f64>,
    /// Capacitors of the controller, F.
    pub capacitance_f: Option<f64>,
    /// Largest power of the DC-DC converter, W.
    pub dc_dc_w: Option<f64>,
    /// Voltage of the 12 V side, V.
    pub low_voltage_v: Option<f64>,
    /// Capacity of the 12 V battery, A·h.
    pub battery_ah: Option<f64>,
    /// Share of it that may be drawn.
    pub battery_usable: Option<f64>,
    /// Air around the cables, K.
    pub air_k: Option<f64>,
    /// The 12 V loads, where they are listed.
    pub consumers: Option<Vec<Consumer>>,
}

const FUSE_A: Allowed = within(1.0, 5000.0);

impl Wiring {
    /// The wiring in SI, with what other parts say of it. Their own fields were checked with them.
    pub(crate) fn model(
        &self,
        at: &FieldPath,
        controller: &Controller,
        auxiliaries: Option<&Auxiliaries>,
    ) -> Result<Wires, Fault> {
        let lead = |name, lead: &Option<Cable>| match lead {
            Some(lead) => lead.model(&at.field(name)),
            None => Cable::default().model(at),
        };
        let usable =
            at.optional("battery_usable_pct", self.battery_usable_pct, within(1.0, 100.0))?;
        let air_c = at.optional("air_c", self.air_c, within(-40.0, 120.0))?;
        let consumers = auxiliaries.and_then(|auxiliaries| auxiliaries.low_voltage.as_ref());
        let consumer = |load: &crate::inputs::auxiliaries::LowVoltageLoad| Consumer {
            item: load.item.clone(),
            mean_w: load.power_w,
            on_w: load.on_w.unwrap_or(load.power_w),
        };
        Ok(Wires {
            pack: lead("pack", &self.pack)?,
            motor: lead("motor", &self.motor)?,
            low_voltage: lead("low_voltage", &self.low_voltage)?,
            charger: lead("charger", &self.charger)?,
            charger_dc: lead("charger_dc", &self.charger_dc)?,
            fuse_a: at.optional("fuse_a", self.fuse_a, FUSE_A)?,
            precharge_ohm: at.optional("precharge_ohm", self.precharge_ohm, above(0.0, 1e5))?,
            capacitance_f: controller.capacitance_uf.map(units::farad_from_uf),
            dc_dc_w: at.optional("dc_dc_w", self.dc_dc_w, above(0.0, 20_000.0))?,
            low_voltage_v: at.optional("low_voltage_v", self.low_voltage_v, within(11.0, 16.0))?,
            battery_ah: at.optional("battery_ah", self.battery_ah, above(0.0, 500.0))?,
            battery_usable: usable.map(units::share_from_pct),
            air_k: air_c.map(units::k_from_c),
            consumers: consumers.map(|list| list.iter().map(consumer).collect()),
        })
    }
}

impl Cable {
    fn model(&self, at: &FieldPath) -> Result<Wire, Fault> {
        Ok(Wire {
            length_m: at.optional("length_m", self.length_m, above(0.0, 50.0))?,
            area_m2: at.optional("mm2", self.mm2, within(0.1, 1000.0))?.map(units::m2_from_mm2),
            conductor: match self.conductor {
                None | Some(Conductor::Copper) => cable::Conductor::Copper,
                Some(Conductor::Aluminium) => cable::Conductor::Aluminium,
            },
        })
    }
}
