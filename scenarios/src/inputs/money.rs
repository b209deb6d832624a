//! Prices: what energy and fuel cost, what the donor burnt, what the parts cost.

use crate::files::allowed::{above, within};
use crate::files::field_path::{Fault, FieldPath, only_one};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use sim_core::units;
use std::fmt;

/// Prices in one currency; what is left out is not assumed.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Money {
    /// Anything worth remembering.
    pub note: Option<String>,
    /// What the currency is called, in your own word.
    pub currency: Option<String>,
    /// Price of energy from the wall, per kWh.
    pub energy_per_kwh: Option<f64>,
    /// What tyres, service and the like take, per km, as you reckon it.
    pub wear_per_km: Option<f64>,
    /// The same, per mile.
    pub wear_per_mi: Option<f64>,
    /// What a year takes however far the car goes, such as tax and insurance together.
    pub fixed_per_year: Option<f64>,
    /// How far the car goes in a year, km.
    pub km_per_year: Option<f64>,
    /// The same, miles.
    pub mi_per_year: Option<f64>,
    /// Price of fuel, per litre.
    pub fuel_per_l: Option<f64>,
    /// Price of fuel, per US gallon.
    pub fuel_per_usgal: Option<f64>,
    /// Consumption of the donor before its conversion, l/100 km.
    pub donor_l_per_100km: Option<f64>,
    /// The same, miles per US gallon.
    pub donor_mpg: Option<f64>,
    /// Price of all parts of the conversion, less what the removed ones bring; either this, or prices
    /// of the parts themselves, which are added up.
    pub parts_cost: Option<f64>,
}

/// Prices, each once.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Prices {
    /// What the currency is called.
    pub currency: Option<String>,
    /// Price of energy from the wall, per kWh.
    pub energy_per_kwh: Option<f64>,
    /// What tyres, service and the like take, per km.
    pub wear_per_km: Option<f64>,
    /// What a year takes however far the car goes.
    pub fixed_per_year: Option<f64>,
    /// How far the car goes in a year, km.
    pub km_per_year: Option<f64>,
    /// What drives take of what is predicted for them, where that was drawn: energy costs as much more.
    pub of_predicted: Option<f64>,
    /// Price of fuel, per litre.
    pub fuel_per_l: Option<f64>,
    /// Consumption of the donor, l/100 km.
    pub donor_l_per_100km: Option<f64>,
    /// Price of all parts of the conversion.
    pub parts_cost: Option<f64>,
    /// Prices of those parts that have one, added up.
    pub price: Option<f64>,
}

/// Something that a price of driving is reckoned from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(into = "String")]
#[schemars(with = "String")]
pub enum Need {
    /// The price of energy.
    Energy,
    /// The price of fuel.
    Fuel,
    /// What the donor burnt.
    Donor,
    /// The price of the parts.
    Parts,
}

impl Need {
    /// All of them.
    pub const ALL: [Need; 4] = [Need::Energy, Need::Fuel, Need::Donor, Need::Parts];

    /// What it is.
    pub fn what(self) -> &'static str {
        match self {
            Need::Energy => "the price of energy",
            Need::Fuel => "the price of fuel",
            Need::Donor => "the donor's consumption",
            Need::Parts => "the price of the parts",
        }
    }

    /// Paths of the fields of a scenario that say it, one of which is enough.
    pub fn fields(self) -> &'static [&'static str] {
        match self {
            Need::Energy => &["money.energy_per_kwh"],
            Need::Fuel => &["money.fuel_per_l", "money.fuel_per_usgal"],
            Need::Donor => &["money.donor_l_per_100km", "money.donor_mpg"],
            Need::Parts => &["money.parts_cost"],
        }
    }
}

impl fmt::Display for Need {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        write!(f, "{} ({})", self.what(), self.fields().join(" or "))
    }
}

impl From<Need> for String {
    fn from(need: Need) -> Self {
        need.to_string()
    }
}

impl Money {
    /// The prices, checked.
    pub(crate) fn model(&self, at: &FieldPath) -> Result<Prices, Fault> {
        let price = within(0.0, 1e6);
        if self.currency.as_ref().is_some_and(|name| name.trim().is_empty()) {
            return Err(at.refuse("currency", "an empty string", "a word for the currency"));
        }
        let energy = at.optional("energy_per_kwh", self.energy_per_kwh, price)?;
        let wear_per_km = at.optional("wear_per_km", self.wear_per_km, price)?;
        let wear_per_mi = at.optional("wear_per_mi", self.wear_per_mi, price)?;
        let said = [("wear_per_km", wear_per_km.is_some()), ("wear_per_mi", wear_per_mi.is_some())];
        only_one(at, &said)?;
        let fixed = at.optional("fixed_per_year", self.fixed_per_year, within(0.0, 1e12))?;
        let km = at.optional("km_per_year", self.km_per_year, above(0.0, 1e6))?;
        let mi = at.optional("mi_per_year", self.mi_per_year, above(0.0, 6e5))?;
        only_one(at, &[("km_per_year", km.is_some()), ("mi_per_year", mi.is_some())])?;
        let per_l = at.optional("fuel_per_l", self.fuel_per_l, price)?;
        let per_usgal = at.optional("fuel_per_usgal", self.fuel_per_usgal, price)?;
        only_one(at, &[("fuel_per_l", per_l.is_some()), ("fuel_per_usgal", per_usgal.is_some())])?;
        let burnt = at.optional("donor_l_per_100km", self.donor_l_per_100km, above(0.0, 100.0))?;
        let mpg = at.optional("donor_mpg", self.donor_mpg, within(2.0, 300.0))?;
        only_one(at, &[("donor_l_per_100km", burnt.is_some()), ("donor_mpg", mpg.is_some())])?;
        let parts = at.optional("parts_cost", self.parts_cost, within(0.0, 1e12))?;
        Ok(Prices {
            currency: self.currency.clone(),
            energy_per_kwh: energy,
            wear_per_km: wear_per_km.or(wear_per_mi.map(units::per_km_from_per_mi)),
            fixed_per_year: fixed,
            km_per_year: km.or(mi.map(|mi| units::km_from_m(units::m_from_mi(mi)))),
            of_predicted: None,
            fuel_per_l: per_l.or(per_usgal.map(|p| p / units::l_from_usgal(1.0))),
            donor_l_per_100km: burnt.or(mpg.map(units::l_per_100km_from_usmpg)),
            parts_cost: parts,
            price: None,
        })
    }
}

impl Prices {
    /// Whether something is known.
    pub fn know(&self, need: Need) -> bool {
        match need {
            Need::Energy => self.energy_per_kwh.is_some(),
            Need::Fuel => self.fuel_per_l.is_some(),
            Need::Donor => self.donor_l_per_100km.is_some(),
            Need::Parts => self.parts_cost.is_some(),
        }
    }

    /// Whether nothing is known.
    pub fn is_empty(&self) -> bool {
        !Need::ALL.into_iter().any(|need| self.know(need))
    }

    /// Whether anything is known that the cost of a year is made of.
    pub(crate) fn speak_of_driving(&self) -> bool {
        let said = [self.energy_per_kwh, self.wear_per_km, self.fixed_per_year, self.km_per_year];
        said.iter().any(Option::is_some)
    }

    /// Whether there is any sum of money in them.
    pub(crate) fn speak_of_money(&self) -> bool {
        let sums = [self.energy_per_kwh, self.fuel_per_l, self.wear_per_km, self.fixed_per_year];
        sums.iter().chain(&[self.parts_cost, self.price]).any(Option::is_some)
    }

    /// These, and what is left out taken from others.
    pub fn or(self, others: &Prices) -> Prices {
        Prices {
            currency: self.currency.or_else(|| others.currency.clone()),
            energy_per_kwh: self.energy_per_kwh.or(others.energy_per_kwh),
            wear_per_km: self.wear_per_km.or(others.wear_per_km),
            fixed_per_year: self.fixed_per_year.or(others.fixed_per_year),
            km_per_year: self.km_per_year.or(others.km_per_year),
            of_predicted: self.of_predicted.or(others.of_predicted),
            fuel_per_l: self.fuel_per_l.or(others.fuel_per_l),
            donor_l_per_100km: self.donor_l_per_100km.or(others.donor_l_per_100km),
            parts_cost: self.parts_cost.or(others.parts_cost),
            price: self.price.or(others.price),
        }
    }
}
