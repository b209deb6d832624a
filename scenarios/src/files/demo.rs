//! The scenario that comes with the program.

/// What it is called in messages.
pub const NAME: &str = "demo";
/// The name of its file.
pub const FILE: &str = "hill-town.json";
/// Its text.
pub const SCENARIO: &str = include_str!("../../demo/hill-town.json");

/// Its roads: file name and text.
pub const ROADS: [(&str, &str); 1] = [("hill-town.csv", include_str!("../../demo/hill-town.csv"))];

/// A recording in which it coasts to and fro: file name and text.
pub const COAST_DOWN: (&str, &str) = ("coast-down.csv", include_str!("../../demo/coast-down.csv"));

/// A recorded drive on its daily road: file name and text.
pub const LOG: (&str, &str) = ("log.csv", include_str!("../../demo/log.csv"));

/// The road of a name.
pub(crate) fn road(name: &str) -> Option<(&'static str, &'static str)> {
    ROADS.into_iter().find(|(road, _)| *road == name)
}
