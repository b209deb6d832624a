//! Braking with the motor.

use crate::files::allowed::{PERCENT, within};
use crate::files::assumption::{Assumption, usual};
use crate::files::field_path::{Fault, FieldPath, only_one};
use schemars::JsonSchema;
use serde::Deserialize;
use sim_core::brakes::Braking;
use sim_core::motor::Motor;
use sim_core::units;

/// The two settings of regen, each either in % of the motor's peak torque or in N·m.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Regen {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// Motor torque when the accelerator is let go, % of the peak torque.
    pub lift_off_pct: Option<f64>,
    /// Motor torque when the accelerator is let go, N·m.
    pub lift_off_nm: Option<f64>,
    /// Further motor torque while the brake pedal is down, % of the peak torque.
    pub brake_pedal_pct: Option<f64>,
    /// Further motor torque while the brake pedal is down, N·m.
    pub brake_pedal_nm: Option<f64>,
    /// Speed below which regen is off, km/h.
    pub fade_out_kmh: Option<f64>,
    /// Speed above which regen is whole, km/h.
    pub full_above_kmh: Option<f64>,
}

impl Regen {
    /// Sets lift-off and brake pedal, each in % of the motor's peak torque.
    pub(crate) fn set_pct(&mut self, (lift_off_pct, brake_pedal_pct): (f64, f64)) {
        (self.lift_off_pct, self.lift_off_nm) = (Some(lift_off_pct), None);
        (self.brake_pedal_pct, self.brake_pedal_nm) = (Some(brake_pedal_pct), None);
    }

    /// Regen and friction brakes as the simulation uses them.
    pub(crate) fn model(
        &self,
        at: &FieldPath,
        motor: &Motor,
        friction_front_share: f64,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<Braking, Fault> {
        let peak_nm = motor.machine.envelope.largest_nm();
        // Without regen there is nothing to assume.
        let default_pct = if motor.makes_regen() { 15.0 } else { 0.0 };
        let mut torque = |pct_name, pct: Option<f64>, nm_name, nm: Option<f64>| {
            only_one(at, &[(pct_name, pct.is_some()), (nm_name, nm.is_some())])?;
            if let Some(nm) = nm {
                return at.number(nm_name, nm, within(0.0, 5000.0));
            }
            let pct = match pct {
                Some(pct) => at.number(pct_name, pct, PERCENT)?,
                None if default_pct == 0.0 => 0.0,
                None => {
                    let reason = "a mild setting";
                    assumptions.push(at.assume(pct_name, usual(default_pct, "%", reason)));
                    default_pct
                }
            };
            Ok(peak_nm * units::share_from_pct(pct))
        };
        let lift_off_nm =
            torque("lift_off_pct", self.lift_off_pct, "lift_off_nm", self.lift_off_nm)?;
        let brake_pedal_nm =
            torque("brake_pedal_pct", self.brake_pedal_pct, "brake_pedal_nm", self.brake_pedal_nm)?;
        let fade = at.optional("fade_out_kmh", self.fade_out_kmh, within(0.0, 100.0))?;
        let full = at.optional("full_above_kmh", self.full_above_kmh, within(0.1, 150.0))?;
        let fade_kmh = fade.unwrap_or(5.0);
        let full_kmh = full.unwrap_or(fade_kmh + 10.0);
        if full_kmh < fade_kmh + 0.1 {
            let allowed = format!("at least 0.1 more than fade_out_kmh, {fade_kmh}");
            return Err(at.refuse("full_above_kmh", full_kmh, allowed));
        }
        Ok(Braking {
            lift_off_nm,
            brake_pedal_nm,
            fade_out_mps: units::mps_from_kmh(fade_kmh),
            full_above_mps: units::mps_from_kmh(full_kmh),
            friction_front_share,
        })
    }
}
