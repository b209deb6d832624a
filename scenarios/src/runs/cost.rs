//! What the daily road costs from the wall, against the donor's fuel.

use crate::files::assumption::Assumption;
use crate::inputs::charger::OnBoardCharger;
use crate::inputs::money::{Need, Prices};
use crate::prepared::{Prepared, Setup};
use crate::runs::charge::RoadUse;
use crate::runs::failure::Failure;
use crate::runs::figure::{Reading, Report, Unit, higher, lower, plain};
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::charging::{self, ChargeEnding, Supply};
use sim_core::units;
use sim_core::{State, Trace};

/// Energy that counts as a US gallon of gasoline, kWh (33 705 Wh; US EPA, 40 CFR part 600, from
/// memory).
pub const GASOLINE_KWH_PER_USGAL: f64 = 33.705;

/// Time after which charging back is given up, s.
const MOST_S: f64 = units::s_from_h(10.0 * 24.0);

/// A price of driving.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Price {
    /// For each km.
    pub per_km: f64,
    /// For each mile.
    pub per_mi: f64,
    /// For 100 km.
    pub per_100km: f64,
}

impl Price {
    fn per_km(per_km: f64) -> Self {
        Self { per_km, per_mi: units::per_mi_from_per_km(per_km), per_100km: 100.0 * per_km }
    }
}

/// A result that prices are needed for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Priced {
    /// What the energy costs.
    Energy,
    /// What the donor's fuel would cost.
    Fuel,
    /// What is saved.
    Saved,
    /// Distance after which the parts are paid.
    BreakEvenKm,
}

impl Priced {
    const ALL: [Priced; 4] = [Priced::Energy, Priced::Fuel, Priced::Saved, Priced::BreakEvenKm];

    fn needs(self) -> &'static [Need] {
        match self {
            Priced::Energy => &[Need::Energy],
            Priced::Fuel => &[Need::Fuel, Need::Donor],
            Priced::Saved => &[Need::Energy, Need::Fuel, Need::Donor],
            Priced::BreakEvenKm => &Need::ALL,
        }
    }
}

/// Something that no one said, so that a result is not there.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Missing {
    /// The result.
    pub result: Priced,
    /// What it needs and is not known.
    pub needs: Vec<Need>,
}

/// What driving costs.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CostReport {
    /// The daily road.
    pub road: String,
    /// What the currency is called.
    pub currency: Option<String>,
    /// Energy from the cells, Wh/km.
    pub cells_wh_per_km: f64,
    /// Energy gained by the cells over energy from the wall, %.
    pub charging_efficiency_pct: f64,
    /// What was left out of that, where the cells refuse to be charged.
    pub charging_note: Option<&'static str>,
    /// Energy from the wall, Wh/km.
    pub wall_wh_per_km: f64,
    /// Energy from the wall, kWh/mi.
    pub wall_kwh_per_mi: f64,
    /// Miles from the wall on the energy of a US gallon of gasoline.
    pub miles_per_usgal_equivalent: f64,
    /// Litres of gasoline of the same energy, l/100 km.
    pub l_per_100km_equivalent: f64,
    /// Price of energy from the wall, per kWh.
    pub energy_per_kwh: Option<f64>,
    /// Price of fuel, per litre.
    pub fuel_per_l: Option<f64>,
    /// Consumption of the donor, l/100 km.
    pub donor_l_per_100km: Option<f64>,
    /// Price of the parts.
    pub parts_cost: Option<f64>,
    /// What the energy costs.
    pub energy: Option<Price>,
    /// What tyres, service and the like take, as `money` says it.
    pub wear: Option<Price>,
    /// Energy and wear together, where both are known.
    pub running: Option<Price>,
    /// What the donor's fuel would cost.
    pub fuel: Option<Price>,
    /// What is saved; negative where energy costs more.
    pub saved: Option<Price>,
    /// Distance after which the parts are paid by what is saved, km; 0 where what was sold brought as
    /// much as they cost, `None` where something is missing or nothing is saved.
    pub break_even_km: Option<f64>,
    /// Results that are not there, and what they need.
    pub missing: Vec<Missing>,
    /// What was taken for granted of the charger.
    pub assumptions: Vec<Assumption>,
}

/// What no price of driving has in it.
pub const NOT_COUNTED: &str = "Prices are the ones given; insurance, taxes, interest and the ageing of \
    the pack are not in them, nor what the car takes while it stands: cells that lose charge by \
    themselves, loads at 12 V, a cabin or a pack that is warmed at the socket.";

/// What was taken for granted of the charger, by which energy from the wall is reckoned.
pub fn assumed(car: &Prepared) -> Vec<Assumption> {
    let of_charger = |one: &&Assumption| one.path.contains("charger.");
    car.assumptions.iter().filter(of_charger).cloned().collect()
}

/// Distance after which parts are paid by what is saved for each km: none where what was sold
/// brought as much as they cost, `None` where nothing is saved.
pub(crate) fn paid_after_km(parts: f64, saved_per_km: f64) -> Option<f64> {
    match parts > 0.0 {
        true => (saved_per_km > 0.0).then(|| parts / saved_per_km),
        false => Some(0.0),
    }
}

/// Energy gained by the cells over energy from the wall, when what the road took is charged back
/// with all that the charger gives; and what was left out of it.
fn charging_efficiency(
    setup: &Setup<'_>,
    charger: &OnBoardCharger,
    end: &State,
) -> (f64, Option<&'static str>) {
    let supply = Supply {
        wall_w: f64::INFINITY,
        charger_w: charger.power_w,
        efficiency: charger.efficiency,
        end_c_rate: charger.end_c_rate,
    };
    let found = charging::charge(setup.car, end, &supply, setup.start.charge, MOST_S, |_| ());
    if found.wall_j > 0.0 && !matches!(found.ending, ChargeEnding::Refused(_)) {
        return (found.chemical_j / found.wall_j, None);
    }
    let note = "by the charger alone, without the pack's own loss: the cells refuse to be charged \
                as they come home";
    (charger.efficiency, Some(note))
}

/// What driving a road costs.
///
/// # Errors
/// [`Failure::NoPrice`] where no price is known, [`Failure::Invalid`] where what the road takes is
/// not.
pub fn report(
    setup: &Setup<'_>,
    charger: &OnBoardCharger,
    prices: &Prices,
    road: &str,
    trace: &Trace,
) -> Result<CostReport, Failure> {
    if prices.is_empty() {
        return Err(Failure::NoPrice);
    }
    let RoadUse { j_per_m, driven } = RoadUse::of(setup, road, trace);
    let j_per_m = j_per_m.map_err(|why| Failure::Invalid(format!("no price: {why}")))?;
    let (efficiency, charging_note) = charging_efficiency(setup, charger, &driven.end);
    let wall_j_per_m = j_per_m / efficiency;
    let wall_kwh_per_km = units::kwh_from_j(wall_j_per_m * units::m_from_km(1.0));
    let wall_kwh_per_mi = units::kwh_from_j(wall_j_per_m * units::m_from_mi(1.0));
    let mpge = GASOLINE_KWH_PER_USGAL / wall_kwh_per_mi;

    let of_predicted = prices.of_predicted.unwrap_or(1.0);
    let energy =
        prices.energy_per_kwh.map(|price| Price::per_km(price * wall_kwh_per_km * of_predicted));
    let wear = prices.wear_per_km.map(Price::per_km);
    let running = energy.zip(wear).map(|(e, w)| Price::per_km(e.per_km + w.per_km));
    let fuel = prices
        .fuel_per_l
        .zip(prices.donor_l_per_100km)
        .map(|(price, burnt)| Price::per_km(price * burnt / 100.0));
    let saved = energy.zip(fuel).map(|(e, f)| Price::per_km(f.per_km - e.per_km));
    let break_even_km =
        saved.zip(prices.parts_cost).and_then(|(saved, parts)| paid_after_km(parts, saved.per_km));

    let missing = Priced::ALL.into_iter().map(|result| {
        let needs = result.needs().iter().copied().filter(|need| !prices.know(*need)).collect();
        Missing { result, needs }
    });
    Ok(CostReport {
        road: road.to_owned(),
        currency: prices.currency.clone(),
        cells_wh_per_km: units::wh_from_j(j_per_m * units::m_from_km(1.0)),
        charging_efficiency_pct: units::pct_from_share(efficiency),
        charging_note,
        wall_wh_per_km: units::wh_from_kwh(wall_kwh_per_km),
        wall_kwh_per_mi,
        miles_per_usgal_equivalent: mpge,
        l_per_100km_equivalent: units::l_per_100km_from_usmpg(mpge),
        energy_per_kwh: prices.energy_per_kwh,
        fuel_per_l: prices.fuel_per_l,
        donor_l_per_100km: prices.donor_l_per_100km,
        parts_cost: prices.parts_cost,
        energy,
        wear,
        running,
        fuel,
        saved,
        break_even_km,
        missing: missing.filter(|missing| !missing.needs.is_empty()).collect(),
        assumptions: Vec::new(),
    })
}

impl Report for CostReport {}

/// The figures of what driving costs.
pub const FIGURES: &[Reading<CostReport>] = &[
    lower(
        "wall_wh_per_km",
        Unit::WhPerKm,
        "energy from the wall over the length of the road",
        |r| Some(r.wall_wh_per_km),
    ),
    higher(
        "wall_efficiency_pct",
        Unit::Pct,
        "energy gained by the cells over energy from the wall, after the road",
        |r| Some(r.charging_efficiency_pct),
    ),
    lower(
        "cost_per_100km",
        Unit::Per100Km,
        "price of the energy from the wall, where money.energy_per_kwh is known",
        |r| Some(r.energy?.per_100km),
    ),
    lower(
        "running_cost_per_100km",
        Unit::Per100Km,
        "the same with the wear, where money.wear_per_km or money.wear_per_mi is known",
        |r| Some(r.running?.per_100km),
    ),
    plain(
        "fuel_cost_per_100km",
        Unit::Per100Km,
        "price of the donor's fuel, where money says what it is and how much was burnt",
        |r| Some(r.fuel?.per_100km),
    ),
    higher(
        "saved_per_100km",
        Unit::Per100Km,
        "price of the donor's fuel less that of the energy, where both are known",
        |r| Some(r.saved?.per_100km),
    ),
    lower(
        "break_even_km",
        Unit::Km,
        "distance after which the parts are paid by what is saved, where money.parts_cost is known",
        |r| r.saved.and(r.parts_cost).map(|_| r.break_even_km.unwrap_or(f64::NAN)),
    ),
];

#[cfg(test)]
mod tests {
    use super::*;

    /// Arithmetic of the trade: a price over what is saved for each km.
    #[test]
    fn parts_are_paid_from_the_start_where_what_is_sold_brings_more() {
        assert_eq!(paid_after_km(9000.0, 0.1).map(f64::round), Some(90_000.0));
        assert_eq!(paid_after_km(9000.0, -0.1), None);
        for saved in [-0.1, 0.0, 0.1] {
            assert_eq!(paid_after_km(-500.0, saved), Some(0.0));
        }
    }
}
