//! Limits that were met, in plain words.

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Serialize, Serializer};
use sim_core::Limit;
use std::borrow::Cow;
use std::fmt;

/// Temperature at which cells are rated, °C (IEC 62660-1, from memory): what holds them back below
/// it is cold, and above it heat.
const RATED_C: f64 = 25.0;

/// A limit as results show it: by its short name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NamedLimit(pub Limit);

impl NamedLimit {
    /// Short name, as it stands in files of results.
    pub fn name(self) -> &'static str {
        match self.0 {
            Limit::Grip => "grip",
            Limit::MotorTorque => "motor_torque",
            Limit::MotorVoltage => "motor_voltage",
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

    /// What it means, in plain words.
    pub fn words(self) -> &'static str {
        match self.0 {
            Limit::Grip => "the driven tyres were at the end of their grip",
            Limit::MotorTorque => "the motor gave all the torque it has at that speed and voltage",
            Limit::MotorVoltage => "the motor asked for more volts than the pack has",
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

    /// The same where it is known how warm the cells were at the start and at most, °C.
    pub fn words_from_to(self, cells_c: (f64, f64)) -> &'static str {
        match (self.0, cells_c) {
            (Limit::CellTemperature, (_, most)) if most < RATED_C => {
                "the cells were too cold for more current"
            }
            (Limit::CellTemperature, (start, _)) if start >= RATED_C => {
                "the cells were too hot for more current"
            }
            _ => self.words(),
        }
    }

    /// The same of one box of a pack in boxes, by its name; of a pack in one box there is none.
    pub fn words_in(self, own: Option<&String>) -> String {
        in_box(self.words(), own)
    }

    /// How bad it is to meet it: parts that overheat and packs that give out come first, limits
    /// that merely shape the drive come last.
    pub fn severity(self) -> u8 {
        match self.0 {
            Limit::MotorHeat | Limit::ControllerHeat => 0,
            Limit::Charge | Limit::CellVoltage | Limit::PackPower | Limit::ControllerVoltage => 1,
            Limit::CellTemperature => 2,
            Limit::GearboxTorque | Limit::ClutchTorque => 3,
            Limit::CellCurrent => 4,
            Limit::Grip => 5,
            Limit::Rpm => 6,
            Limit::ControllerPackCurrent
            | Limit::ControllerMotorCurrent
            | Limit::MotorTorque
            | Limit::MotorVoltage => 7,
        }
    }
}

impl fmt::Display for NamedLimit {
    /// The short name as people say it.
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str(&self.name().replace('_', " "))
    }
}

impl Serialize for NamedLimit {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.name())
    }
}

impl JsonSchema for NamedLimit {
    fn schema_name() -> Cow<'static, str> {
        "Limit".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "string", "enum": Limit::ALL.map(|limit| NamedLimit(limit).name()) })
    }
}

/// A limit that held the car back.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LimitMet {
    /// The limit.
    pub limit: NamedLimit,
    /// What happened, in plain words.
    pub words: String,
    /// For how long, s.
    pub seconds: f64,
}

/// Words about cells, said of those of a box.
pub fn in_box(words: &str, own: Option<&String>) -> String {
    let of = own.map(|own| ["the cells", "the weakest cell"].map(|of| (of, own)));
    let named = of.into_iter().flatten().find_map(|(of, own)| {
        words.split_once(of).map(|(before, after)| format!("{before}{of} of {own}{after}"))
    });
    named.unwrap_or_else(|| words.to_owned())
}

/// The limits that were met, worst first, from the seconds spent at each, from how warm the cells
/// were at the start and at most, °C, and from the box that was at it.
pub fn met<'a>(
    seconds: &[f64; Limit::COUNT],
    cells_c: (f64, f64),
    own: impl Fn(Limit) -> Option<&'a String>,
) -> Vec<LimitMet> {
    let mut all: Vec<NamedLimit> =
        Limit::ALL.into_iter().filter(|l| seconds[*l as usize] > 0.0).map(NamedLimit).collect();
    all.sort_by_key(|limit| limit.severity());
    all.into_iter()
        .map(|limit| LimitMet {
            limit,
            words: in_box(limit.words_from_to(cells_c), own(limit.0)),
            seconds: seconds[limit.0 as usize],
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::runs::drive::DriveOutcome;
    use schemars::schema_for;
    use serde_json::json;

    #[test]
    fn cells_are_said_to_be_too_cold_or_too_hot_where_that_is_known() {
        let said = |start, most| NamedLimit(Limit::CellTemperature).words_from_to((start, most));
        assert!(said(-5.0, 12.0).contains("too cold for"));
        assert!(said(40.0, 58.0).contains("too hot for"));
        assert!(said(-5.0, 40.0).contains("too cold or too hot for"));
    }

    #[test]
    fn an_ending_is_one_word_in_results_and_its_schema_knows_every_one() {
        let ending = DriveOutcome::Limit(NamedLimit(Limit::CellVoltage));
        assert_eq!(json!([DriveOutcome::Complete, ending]), json!(["complete", "cell_voltage"]));
        let schema = jsonschema::validator_for(&schema_for!(DriveOutcome).to_value()).unwrap();
        let limits = Limit::ALL.map(|limit| json!(DriveOutcome::Limit(NamedLimit(limit))));
        assert!(limits.iter().chain([&json!("empty")]).all(|word| schema.is_valid(word)));
        assert!(!schema.is_valid(&json!("limit")) && !schema.is_valid(&json!("stalled")));
    }
}
