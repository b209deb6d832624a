//! What the parts of a build cost. Nothing is assumed for a part without a price.

use crate::files::allowed::{Allowed, within};
use crate::files::field_path::{Fault, FieldPath};
use crate::inputs::build::{Build, Mass};
use crate::inputs::money::Prices;
use schemars::JsonSchema;
use serde::Serialize;

/// What a part may cost.
const PRICE: Allowed = within(0.0, 1e9);

/// A part and what it costs.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PartPrice {
    /// Path of the part.
    pub path: String,
    /// What it is.
    pub part: String,
    /// What it costs; less than nothing for what the removed ones bring, `null` where nobody says.
    pub price: Option<f64>,
}

/// A part that may have a price.
struct Part<'a> {
    /// The part's own field, or a list with the number of an item from 0.
    place: (&'static str, Option<usize>),
    /// What it is, where its path does not say it.
    item: Option<&'a str>,
    price: Option<f64>,
    /// What it counts by: less than nothing of what is sold.
    sign: f64,
    /// Whether a conversion has to buy it, so that a sum without its price is none of all parts.
    bought: bool,
}

impl Part<'_> {
    fn path(&self) -> String {
        match self.place {
            (list, Some(i)) => format!("{list}.{}", i + 1),
            (part, None) => part.to_owned(),
        }
    }
}

/// The items of a list.
fn of_list<'a>(
    name: &'static str,
    masses: &'a Option<Vec<Mass>>,
    sign: f64,
) -> impl Iterator<Item = Part<'a>> {
    let masses = masses.as_deref().unwrap_or_default().iter().enumerate();
    masses.map(move |(i, mass)| Part {
        place: (name, Some(i)),
        item: Some(mass.item.as_str()),
        price: mass.price.map(|price| sign * price),
        sign,
        bought: sign > 0.0,
    })
}

/// Prices of parts, added up.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PriceSum {
    /// What the currency is called.
    pub currency: Option<String>,
    /// Parts with a price.
    pub parts: Vec<PartPrice>,
    /// Their sum.
    pub price: f64,
    /// Parts of the conversion without a price: the sum is without them.
    pub without: Vec<PartPrice>,
}

impl Build {
    /// The parts that may have a price, dear ones first.
    fn may_cost(&self) -> impl Iterator<Item = Part<'_>> {
        let one = |place, price, bought| Part {
            place: (place, None),
            item: None,
            price,
            sign: 1.0,
            bought,
        };
        let cells = self.pack.parts().iter().map(|own| Some(own.cell.price? * own.cells)).sum();
        let charger = self.charger.as_ref().and_then(|charger| charger.price);
        let parts = [
            one("motor", self.motor.price, true),
            one("controller", self.controller.price, true),
            one("pack", self.pack.price.or(cells), true),
            one("gearbox", self.gearbox.price, false),
            one("tyre", self.tyre.price, false),
            one("charger", charger, false),
        ];
        parts.into_iter().chain(of_list("added", &self.added, 1.0)).chain(of_list(
            "removed",
            &self.removed,
            -1.0,
        ))
    }

    /// Prices with those of the parts; where all that a conversion buys has one, their sum is the
    /// price of all parts.
    pub(crate) fn priced(
        &self,
        at: &FieldPath,
        mut prices: Prices,
        money_at: &FieldPath,
    ) -> Result<Prices, Fault> {
        at.field("pack").field("cell").optional("price", self.pack.cell.price, PRICE)?;
        let load = self.load.as_deref().unwrap_or_default().iter().enumerate();
        if let Some((i, Some(price))) =
            load.map(|(i, mass)| (i, mass.price)).find(|one| one.1.is_some())
        {
            let allowed = "nothing for what rides along, as it is no part of the conversion";
            return Err(at.field("load").item(i).refuse("price", price, allowed));
        }
        let (mut sum, mut any, mut all) = (0.0, None, true);
        for part in self.may_cost() {
            let (name, item) = part.place;
            let place = at.field(name);
            let item = item.map(|i| place.item(i));
            let place = item.as_ref().unwrap_or(&place);
            // A pack may cost as much as all its cells.
            let most = if name == "pack" { within(0.0, 1e12) } else { PRICE };
            place.optional("price", part.price.map(|price| price * part.sign), most)?;
            all &= part.price.is_some() || !part.bought;
            if let Some(price) = part.price {
                sum += price;
                any.get_or_insert_with(|| part.path());
            }
        }
        if let Some(path) = any {
            if let Some(whole) = prices.parts_cost {
                let allowed =
                    format!("nothing beside {path}.price, as prices of parts are added up");
                return Err(money_at.refuse("parts_cost", whole, allowed));
            }
            prices.parts_cost = all.then_some(sum);
            prices.price = Some(sum);
        }
        Ok(prices)
    }

    /// The parts that may have a price, those without one among them.
    pub fn part_prices(&self) -> Vec<PartPrice> {
        let charger = |part: &Part<'_>| part.place.0 != "charger" || self.charger.is_some();
        self.may_cost().filter(charger).map(line).collect()
    }

    /// The parts that a conversion has to buy, and that have no price.
    pub fn without_price(&self) -> Vec<PartPrice> {
        self.may_cost().filter(|part| part.bought && part.price.is_none()).map(line).collect()
    }

    /// The prices of its parts, added up, where one of them has a price.
    pub fn price_sum(&self, prices: &Prices) -> Option<PriceSum> {
        let parts = self.may_cost().filter(|part| part.price.is_some());
        Some(PriceSum {
            currency: prices.currency.clone(),
            price: prices.price?,
            parts: parts.map(line).collect(),
            without: self.without_price(),
        })
    }
}

/// A part as it is told.
fn line(part: Part<'_>) -> PartPrice {
    PartPrice {
        path: part.path(),
        part: part.item.unwrap_or(part.place.0).to_owned(),
        price: part.price,
    }
}
