//! What the daily road costs from the wall, against the donor's fuel.

use crate::inputs::charger::Model;
use crate::inputs::money::Prices;
use crate::prepared::Setup;
use crate::runs::charge::RoadUse;
use crate::runs::failure::Failure;
use crate::runs::figure::{Reading, Unit, higher, lower, plain};
use crate::units;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::charging::{self, Ending, Supply};
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

/// Something that no one said, so that a result is not there.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Missing {
    /// The result.
    pub result: &'static str,
    /// What it needs.
    pub needs: Vec<&'static str>,
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
    /// What the donor's fuel would cost.
    pub fuel: Option<Price>,
    /// What is saved; negative where energy costs more.
    pub saved: Option<Price>,
    /// Distance after which the parts are paid by what is saved, km; `None` where something is
    /// missing or nothing is saved.
    pub break_even_km: Option<f64>,
    /// Results that are not there, and what they need.
    pub missing: Vec<Missing>,
}

const ENERGY: &str = "the price of energy (money.energy_per_kwh or --energy-price)";
const FUEL: &str = "the price of fuel (money.fuel_per_l, money.fuel_per_usgal or --fuel-price)";
const DONOR: &str = "the donor's consumption (money.donor_l_per_100km, money.donor_mpg or --donor)";
const PARTS: &str = "the price of the parts (money.parts_cost or --parts)";

/// Energy gained by the cells over energy from the wall, when what the road took is charged back
/// with all that the charger gives; and what was left out of it.
fn charging_efficiency(
    setup: &Setup<'_>,
    charger: &Model,
    end: &State,
) -> (f64, Option<&'static str>) {
    let supply = Supply {
        wall_w: f64::INFINITY,
        charger_w: charger.power_w,
        efficiency: charger.efficiency,
        end_c_rate: charger.end_c_rate,
    };
    let found = charging::charge(setup.car, end, &supply, setup.start.charge, MOST_S, |_| ());
    if found.wall_j > 0.0 && !matches!(found.ending, Ending::Refused(_)) {
        return (found.chemical_j / found.wall_j, None);
    }
    let note = "by the charger alone, without the pack's own loss: the cells refuse to be charged \
                as they come home";
    (charger.efficiency, Some(note))
}

/// What driving a road costs.
///
/// # Errors
/// [`Failure::Invalid`] where no price is known, or what the road takes is not.
pub fn report(
    setup: &Setup<'_>,
    charger: &Model,
    prices: &Prices,
    road: &str,
    trace: &Trace,
) -> Result<CostReport, Failure> {
    if prices.is_empty() {
        return Err(Failure::Invalid(format!(
            "no price is known; needed: at least one of {ENERGY}, {FUEL}, {DONOR}, {PARTS}"
        )));
    }
    let RoadUse { j_per_m, driven } = RoadUse::of(setup, road, trace);
    let j_per_m = j_per_m.map_err(|why| Failure::Invalid(format!("no price: {why}")))?;
    let (efficiency, charging_note) = charging_efficiency(setup, charger, &driven.end);
    let wall_j_per_m = j_per_m / efficiency;
    let wall_kwh_per_km = units::kwh_from_j(wall_j_per_m * units::m_from_km(1.0));
    let wall_kwh_per_mi = units::kwh_from_j(wall_j_per_m * units::m_from_mi(1.0));
    let mpge = GASOLINE_KWH_PER_USGAL / wall_kwh_per_mi;

    let energy = prices.energy_per_kwh.map(|price| Price::per_km(price * wall_kwh_per_km));
    let fuel = prices
        .fuel_per_l
        .zip(prices.donor_l_per_100km)
        .map(|(price, burnt)| Price::per_km(price * burnt / 100.0));
    let saved = energy.zip(fuel).map(|(e, f)| Price::per_km(f.per_km - e.per_km));
    let break_even_km = saved
        .zip(prices.parts_cost)
        .filter(|(saved, _)| saved.per_km > 0.0)
        .map(|(saved, parts)| parts / saved.per_km);

    let needs = |list: &[(bool, &'static str)]| -> Vec<&'static str> {
        list.iter().filter(|(known, _)| !known).map(|(_, what)| *what).collect()
    };
    let (has_energy, has_fuel, has_donor, has_parts) = (
        (prices.energy_per_kwh.is_some(), ENERGY),
        (prices.fuel_per_l.is_some(), FUEL),
        (prices.donor_l_per_100km.is_some(), DONOR),
        (prices.parts_cost.is_some(), PARTS),
    );
    let missing = [
        ("energy", needs(&[has_energy])),
        ("fuel", needs(&[has_fuel, has_donor])),
        ("saved", needs(&[has_energy, has_fuel, has_donor])),
        ("break_even_km", needs(&[has_energy, has_fuel, has_donor, has_parts])),
    ];
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
        fuel,
        saved,
        break_even_km,
        missing: missing
            .into_iter()
            .filter(|(_, needs)| !needs.is_empty())
            .map(|(result, needs)| Missing { result, needs })
            .collect(),
    })
}

/// The figures of what driving costs.
pub const FIGURES: &[Reading<CostReport>] = &[
    lower("wall_wh_per_km", Unit::WhPerKm, "energy from the wall for each km of the road", |r| {
        Some(r.wall_wh_per_km)
    }),
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
