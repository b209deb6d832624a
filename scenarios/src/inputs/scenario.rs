//! The scenario: a build, where it drives, how it starts and what it is to do.

use crate::files::reading::read;
use crate::inputs::build::Build;
use crate::inputs::conditions::Conditions;
use crate::inputs::drives::Runs;
use crate::inputs::money::Money;
use crate::inputs::reference::Reference;
use crate::inputs::season::Season;
use crate::inputs::start::Start;
use crate::inputs::what_if::WhatIf;
use schemars::JsonSchema;
use serde::Deserialize;
use serde_json::Value;

/// A build with the road, the weather and the drives that it is meant for.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Scenario {
    /// Where the JSON Schema of this file is.
    #[serde(rename = "$schema")]
    pub schema: Option<String>,
    /// What to call it.
    pub name: Option<String>,
    /// Anything worth remembering.
    pub note: Option<String>,
    /// The conversion, as an object or as the path of a file.
    #[schemars(with = "Reference<Build>")]
    pub build: Build,
    /// Air, wind and surface.
    pub conditions: Option<Conditions>,
    /// The state in which each drive begins.
    pub start: Option<Start>,
    /// The drives.
    pub runs: Option<Runs>,
    /// Prices.
    pub money: Option<Money>,
    /// Weather to compare, the one that the others are held against first.
    pub seasons: Option<Vec<Season>>,
    /// What a study takes by itself.
    #[serde(skip)]
    pub(crate) what_if: WhatIf,
}

impl Scenario {
    /// Reads a branch of it again. `None` where it does not fit, and of the runs, whose roads are
    /// files.
    pub(crate) fn read_branch(&mut self, path: &[String], value: &Value) -> Option<()> {
        let build = &mut self.build;
        let (first, second) = (path.first()?.as_str(), path.get(1).map(String::as_str));
        match (first, second) {
            ("build", Some("donor")) => build.donor = read(value).ok()?,
            ("build", Some("gearbox")) => build.gearbox = read(value).ok()?,
            ("build", Some("motor")) => build.motor = read(value).ok()?,
            ("build", Some("controller")) => build.controller = read(value).ok()?,
            ("build", Some("pack")) => build.pack = read(value).ok()?,
            ("build", Some("tyre")) => build.tyre = read(value).ok()?,
            ("build", Some("removed")) => build.removed = read(value).ok()?,
            ("build", Some("added")) => build.added = read(value).ok()?,
            ("build", Some("load")) => build.load = read(value).ok()?,
            ("build", Some("placement")) => build.placement = read(value).ok()?,
            ("build", Some("auxiliaries")) => build.auxiliaries = read(value).ok()?,
            ("build", Some("coolant")) => build.coolant = read(value).ok()?,
            ("build", Some("charger")) => build.charger = read(value).ok()?,
            ("build", Some("wiring")) => build.wiring = read(value).ok()?,
            ("build", Some("regen")) => build.regen = read(value).ok()?,
            ("build", Some("driver")) => build.driver = read(value).ok()?,
            ("conditions", None) => self.conditions = read(value).ok()?,
            ("start", None) => self.start = read(value).ok()?,
            ("money", None) => self.money = read(value).ok()?,
            ("seasons", None) => self.seasons = read(value).ok()?,
            _ => return None,
        }
        Some(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files::short_path::SCENARIO_KEYS;

    #[test]
    fn every_field_is_told_apart_from_those_of_a_build() {
        let schema = schemars::schema_for!(Scenario).to_value();
        let fields = schema["properties"].as_object().unwrap().keys();
        assert!(fields.eq(SCENARIO_KEYS));
    }
}
