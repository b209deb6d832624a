//! What a year of seasons costs, month by month.
//!
//! A season of m months has m/12 of the year's distance and of what a year takes however far the car
//! goes; each kilometre of it takes what the daily road takes in that season. Nothing is reckoned where
//! the months are not twelve together.

use crate::inputs::money::{Need, Prices};
use crate::runs::cost::{CostReport, Price, paid_after_km};
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::units;
use std::ops::Add;

/// Months of a year.
const MONTHS: f64 = 12.0;
/// What the months may be off twelve together, as thirds are written with a few digits.
const ROUNDED: f64 = 1e-2;

/// What driving costs in a season.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SeasonCost {
    /// Energy from the wall, Wh/km.
    pub wall_wh_per_km: f64,
    /// Energy gained by the cells over energy from the wall, %.
    pub charging_efficiency_pct: f64,
    /// What was left out of that, where the cells refuse to be charged.
    pub charging_note: Option<&'static str>,
    /// What the energy costs.
    pub energy: Price,
    /// What the donor's fuel would cost more than it, where that is known; the fuel is that of any
    /// season.
    pub saved: Option<Price>,
}

impl SeasonCost {
    pub(crate) fn of(found: &CostReport) -> Option<Self> {
        Some(Self {
            wall_wh_per_km: found.wall_wh_per_km,
            charging_efficiency_pct: found.charging_efficiency_pct,
            charging_note: found.charging_note,
            energy: found.energy?,
            saved: found.saved,
        })
    }
}

/// Money for a stretch of time, by what takes it.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, JsonSchema)]
pub struct Spent {
    /// Distance, km.
    pub km: f64,
    /// Energy from the wall, kWh.
    pub wall_kwh: f64,
    /// What that energy costs.
    pub energy: f64,
    /// Wear, where `money` says what it takes.
    pub wear: Option<f64>,
    /// What is due however far the car goes, where `money` says it.
    pub fixed: Option<f64>,
    /// All of these that are known, added up.
    pub together: f64,
    /// Price of the donor's fuel over the same distance less that of the energy, where both are known.
    pub saved: Option<f64>,
}

impl Spent {
    fn plus(self, other: Self) -> Self {
        let add = |a: Option<f64>, b: Option<f64>| Some(a? + b?);
        Self {
            km: self.km + other.km,
            wall_kwh: self.wall_kwh + other.wall_kwh,
            energy: self.energy + other.energy,
            wear: add(self.wear, other.wear),
            fixed: add(self.fixed, other.fixed),
            together: self.together + other.together,
            saved: add(self.saved, other.saved),
        }
    }

    fn times(self, factor: f64) -> Self {
        Self {
            km: factor * self.km,
            wall_kwh: factor * self.wall_kwh,
            energy: factor * self.energy,
            wear: self.wear.map(|spent| factor * spent),
            fixed: self.fixed.map(|spent| factor * spent),
            together: factor * self.together,
            saved: self.saved.map(|saved| factor * saved),
        }
    }
}

/// A season's part of a year.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct YearPart {
    /// The season.
    pub season: String,
    /// Its months.
    pub months: f64,
    /// What each of its months takes.
    pub month: Spent,
    /// What all of them take.
    pub all: Spent,
}

/// What a year costs.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct YearReport {
    /// The seasons that have months.
    pub parts: Vec<YearPart>,
    /// What the year takes.
    pub all: Spent,
    /// Distance after which the parts are paid by what is saved over the year, km; `None` where their
    /// price is not known or nothing is saved.
    pub break_even_km: Option<f64>,
}

/// A season of a year: its name, its months, what driving costs in it.
type Part<'a> = (&'a str, Option<f64>, Option<&'a SeasonCost>);

/// What a year costs, or why that is not known.
pub(crate) fn year<'a>(
    prices: &Prices,
    seasons: impl Iterator<Item = Part<'a>> + Clone,
) -> Result<YearReport, String> {
    let Some(km_per_year) = prices.km_per_year else {
        return Err("it needs how far the car goes (money.km_per_year or money.mi_per_year)".into());
    };
    if prices.energy_per_kwh.is_none() {
        return Err(format!("it needs {}", Need::Energy));
    }
    let months: f64 = seasons.clone().filter_map(|(_, months, _)| months).fold(0.0, f64::add);
    if (months - MONTHS).abs() > ROUNDED {
        return Err(format!(
            "the seasons have {months} months together (seasons.N.months); needed: 12"
        ));
    }
    let km = km_per_year / MONTHS;
    let part = |(name, months, cost): Part<'a>| {
        let months = months?;
        let Some(cost) = cost else { return Some(Err(format!("what {name} costs is not known"))) };
        let energy = km * cost.energy.per_km;
        let wear = prices.wear_per_km.map(|wear| km * wear);
        let fixed = prices.fixed_per_year.map(|fixed| fixed / MONTHS);
        let month = Spent {
            km,
            wall_kwh: units::kwh_from_wh(km * cost.wall_wh_per_km),
            energy,
            wear,
            fixed,
            together: energy + wear.unwrap_or(0.0) + fixed.unwrap_or(0.0),
            saved: cost.saved.map(|saved| km * saved.per_km),
        };
        Some(Ok(YearPart { season: name.to_owned(), months, month, all: month.times(months) }))
    };
    let parts = seasons.filter_map(part).collect::<Result<Vec<_>, String>>()?;
    let sum = parts.iter().map(|part| part.all).reduce(Spent::plus);
    let all = sum.ok_or("no season has months")?;
    let saved_per_km = all.saved.map(|saved| saved / all.km);
    let break_even_km =
        prices.parts_cost.zip(saved_per_km).and_then(|(cost, saved)| paid_after_km(cost, saved));
    Ok(YearReport { parts, all, break_even_km })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A year of one season alone is twelve times its month; months are thirds of a year as they are
    /// written, and a season without months counts for nothing, whatever is known of it.
    #[test]
    fn a_year_is_its_seasons_with_months() {
        let price = |per_100km: f64| Price {
            per_km: per_100km / 100.0,
            per_mi: per_100km / 62.137_119,
            per_100km,
        };
        let cost = SeasonCost {
            wall_wh_per_km: 200.0,
            charging_efficiency_pct: 90.0,
            charging_note: None,
            energy: price(4.0),
            saved: Some(price(6.0)),
        };
        let prices = Prices {
            energy_per_kwh: Some(0.2),
            km_per_year: Some(12_000.0),
            parts_cost: Some(6000.0),
            ..Prices::default()
        };
        let third = ("a", Some(3.9999), Some(&cost));
        let found =
            year(&prices, [third, third, third, ("frost", None, None)].into_iter()).unwrap();
        assert!((found.all.energy - 480.0).abs() < 0.1, "{}", found.all.energy);
        assert!((found.break_even_km.unwrap() - 100_000.0).abs() < 1.0);
        let why = year(&prices, [("a", None, Some(&cost))].into_iter()).unwrap_err();
        assert!(why.contains("have 0 months"), "{why}");
        assert!(year(&prices, [third, ("b", Some(8.0), None)].into_iter()).is_err());
    }
}
