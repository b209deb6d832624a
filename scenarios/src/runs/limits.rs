//! Limits that were met, in plain words.

use schemars::JsonSchema;
use serde::Serialize;
use sim_core::Limit;

/// A limit that held the car back.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LimitMet {
    /// Short name.
    pub limit: &'static str,
    /// What happened, in plain words.
    pub words: &'static str,
    /// For how long, s.
    pub seconds: f64,
}

/// Short name of a limit, as it stands in files of results.
pub fn name(limit: Limit) -> &'static str {
    match limit {
        Limit::Grip => "grip",
        Limit::MotorTorque => "motor_torque",
        Limit::MotorHeat => "motor_heat",
        Limit::ControllerMotorCurrent => "motor_current",
        Limit::ControllerHeat => "controller_heat",
        Limit::ControllerPackCurrent => "pack_current",
        Limit::ControllerVoltage => "controller_voltage",
        Limit::CellCurrent => "cell_current",
        Limit::CellTemperature => "cell_temperature",
        Limit::CellVoltage => "cell_voltage",
        Limit::PackPower => "pack_power",
        Limit::Rpm => "rpm",
        Limit::GearboxTorque => "gearbox_torque",
        Limit::ClutchTorque => "clutch_torque",
        Limit::Charge => "charge",
    }
}

/// What a limit means, in plain words.
pub fn words(limit: Limit) -> &'static str {
    match limit {
        Limit::Grip => "the driven tyres were at the end of their grip",
        Limit::MotorTorque => "the motor gave all the torque it has at that speed and voltage",
        Limit::MotorHeat => "the motor cut back because its winding was hot",
        Limit::ControllerMotorCurrent => "the controller was at its motor current limit",
        Limit::ControllerHeat => "the controller cut back because its heat sink was hot",
        Limit::ControllerPackCurrent => "the controller was at its pack current limit",
        Limit::ControllerVoltage => "the pack voltage was at the controller's limit",
        Limit::CellCurrent => "the cells were at their current limit",
        Limit::CellTemperature => "the cells were too cold or too hot for more current",
        Limit::CellVoltage => "the weakest cell was at its voltage limit",
        Limit::PackPower => "the pack's resistance let no more power out",
        Limit::Rpm => "the motor or gearbox was at its highest rpm",
        Limit::GearboxTorque => "the gearbox input was at its torque limit",
        Limit::ClutchTorque => "the clutch was at its torque limit",
        Limit::Charge => "the pack was at the end of its charge window",
    }
}

/// How bad it is to meet a limit: parts that overheat and packs that give out come first, limits
/// that merely shape the drive come last.
pub fn severity(limit: Limit) -> u8 {
    match limit {
        Limit::MotorHeat | Limit::ControllerHeat => 0,
        Limit::Charge | Limit::CellVoltage | Limit::PackPower | Limit::ControllerVoltage => 1,
        Limit::CellTemperature => 2,
        Limit::GearboxTorque | Limit::ClutchTorque => 3,
        Limit::CellCurrent => 4,
        Limit::Grip => 5,
        Limit::Rpm => 6,
        Limit::ControllerPackCurrent | Limit::ControllerMotorCurrent | Limit::MotorTorque => 7,
    }
}

/// The limits that were met, worst first, from the seconds spent at each.
pub fn met(seconds: &[f64; Limit::COUNT]) -> Vec<LimitMet> {
    let mut all: Vec<Limit> =
        Limit::ALL.into_iter().filter(|l| seconds[*l as usize] > 0.0).collect();
    all.sort_by_key(|l| severity(*l));
    all.into_iter()
        .map(|l| LimitMet { limit: name(l), words: words(l), seconds: seconds[l as usize] })
        .collect()
}
