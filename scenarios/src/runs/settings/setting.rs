//! A setting, the parts that ask for it, and how it is rounded to the safe side.

use crate::prepared::Prepared;
use schemars::JsonSchema;
use serde::Serialize;

/// Where a setting is put in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Place {
    /// The motor controller.
    Controller,
    /// The management of the cells.
    CellManagement,
    /// The charger.
    Charger,
}

impl Place {
    /// In the order of a workshop.
    pub const ALL: [Place; 3] = [Place::Controller, Place::CellManagement, Place::Charger];

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Place::Controller => "controller",
            Place::CellManagement => "management of the cells",
            Place::Charger => "charger",
        }
    }
}

/// A part that asks for a setting.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Ask {
    /// The part, and what of it.
    pub part: String,
    /// What it bears, in the unit of the setting.
    pub limit: f64,
    /// By how much the setting stays clear of that, in the unit of the setting.
    pub clear: f64,
    /// Whether no file says it, so that what is typical of its class was taken.
    pub assumed: bool,
}

/// A setting.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Setting {
    /// Its name, by which it is known again.
    pub key: &'static str,
    /// Where it is put in.
    pub place: Place,
    /// What it is.
    pub name: String,
    /// What to program; nothing where no part's data ask for it.
    pub value: Option<f64>,
    /// Its unit.
    pub unit: &'static str,
    /// Whom to ask where no value is known.
    pub ask: Option<String>,
    /// The parts that ask for it: the one that binds first, then the one that would be hurt next.
    pub asks: Vec<Ask>,
    /// What happens with it, or what it does not do.
    pub note: Option<String>,
}

pub(super) fn down(value: f64, step: f64) -> f64 {
    tidy((value / step + 1e-6).floor() * step)
}

pub(super) fn up(value: f64, step: f64) -> f64 {
    tidy((value / step - 1e-6).ceil() * step)
}

/// Without what binary fractions add.
pub(super) fn tidy(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}

/// A current as it is programmed: in whole amperes, small ones in tenths, never more than it.
pub(super) fn amps(value: f64) -> f64 {
    down(value.max(0.0), if value >= 20.0 { 1.0 } else { 0.1 })
}

/// What no file says of a car.
pub(crate) struct Known<'a>(pub(crate) &'a Prepared);

impl Known<'_> {
    /// Whether a field of the build was taken as typical.
    pub(crate) fn is_assumed(&self, path: &str) -> bool {
        let whole = format!("build.{path}");
        let listed = self.0.scenario.build.assumed.iter().flatten();
        self.0.assumptions.iter().any(|one| one.path == whole)
            || listed.into_iter().any(|one| path.starts_with(one.as_str()))
    }

    /// A part that asks for no more, or no less, than a limit.
    pub(super) fn ask(&self, part: impl Into<String>, path: &str, limit: f64) -> Ask {
        Ask { part: part.into(), limit, clear: 0.0, assumed: self.is_assumed(path) }
    }
}

impl Setting {
    pub(super) fn new(
        key: &'static str,
        place: Place,
        name: impl Into<String>,
        unit: &'static str,
    ) -> Self {
        let name = name.into();
        Self { key, place, name, value: None, unit, ask: None, asks: Vec::new(), note: None }
    }

    /// No more than each part asks for.
    pub(super) fn at_most(self, asks: Vec<Ask>, round: impl Fn(f64) -> f64) -> Self {
        let least = asks.iter().map(|ask| ask.limit).fold(f64::INFINITY, f64::min);
        let value = round(least);
        self.of(asks, value, |ask| ask.limit - value)
    }

    /// No less than each part asks for.
    pub(super) fn at_least(self, asks: Vec<Ask>, round: impl Fn(f64) -> f64) -> Self {
        let most = asks.iter().map(|ask| ask.limit).fold(f64::NEG_INFINITY, f64::max);
        let value = round(most);
        self.of(asks, value, |ask| value - ask.limit)
    }

    /// A value, or whom to ask where no file says anything.
    pub(super) fn of(mut self, asks: Vec<Ask>, value: f64, clear: impl Fn(&Ask) -> f64) -> Self {
        self.asks = asks;
        self.asks.iter_mut().for_each(|ask| ask.clear = tidy(clear(ask)));
        match self.asks.first().filter(|_| self.asks.iter().all(|ask| ask.assumed)) {
            Some(first) => {
                let part = first.part.split(':').next().unwrap_or_default();
                let typical = format!("{} {}", tidy(first.limit), self.unit);
                self.ask = Some(format!("{}; the drive takes {typical} as typical", maker(part)));
            }
            None => self.value = Some(value),
        }
        self.sorted()
    }

    pub(super) fn sorted(mut self) -> Self {
        self.asks.sort_by(|a, b| a.clear.total_cmp(&b.clear));
        self
    }

    /// What a car has where it is set: the value, or what its parts are taken to bear.
    pub(super) fn or_typical(&self) -> f64 {
        let least = self.asks.iter().map(|ask| ask.limit).fold(f64::INFINITY, f64::min);
        self.value.unwrap_or(if least.is_finite() { least } else { 0.0 })
    }

    pub(super) fn noted(self, note: impl Into<String>) -> Self {
        Self { note: Some(note.into()), ..self }
    }
}

/// Whom to ask.
pub(super) fn maker(part: &str) -> String {
    match part {
        "cells" => "not known: ask the cells' maker".to_owned(),
        part => format!("not known: ask the {part}'s maker"),
    }
}
