//! One drive and one day in several seasons, and what each thing that comes with a season costs.
//!
//! Each cost is found by taking that one thing away: the season is driven again with this thing as
//! it is in the season that the others are held against, and the range that comes back is its
//! cost. As the things work on each other, the costs need not add up to the whole difference, and
//! where the pack gives out on a hill they come in jumps.

use crate::files::assumption::Assumption;
use crate::files::error::Error;
use crate::inputs::season::Season;
use crate::inputs::what_if::WhatIf;
use crate::prepared::Prepared;
use crate::prepared::Setup;
use crate::runs::cost;
use crate::runs::day::{self, Day, LegOutcome};
use crate::runs::drive::{self, DriveOutcome, RangeOutcome, Slower};
use crate::runs::failure::Failure;
use crate::runs::figure::{Reading, Report, Unit, higher, lower, or_nothing, yes, yes_no};
use crate::runs::limits::NamedLimit;
use crate::runs::temperatures::Temperatures;
use crate::runs::year::{SeasonCost, Spent, YearReport, year};
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::units;
use sim_core::{Trace, air};

/// How the costs are found, in a sentence.
pub const METHOD: &str = "Each cost is the range that comes back when this one thing alone is as in \
    the season compared with; as they work on each other, they need not add up, and where the pack \
    gives out on a hill they come in jumps.";

/// What one thing that comes with a season costs.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Cost {
    /// `tyres`, `air`, `wind`, `oil`, `cells`, `heater`, `lights` or `health`.
    pub item: &'static str,
    /// Range that it takes, km; negative where it gives some.
    pub range_km: f64,
    /// Consumption that it adds, Wh/km.
    #[serde(serialize_with = "or_nothing")]
    #[schemars(with = "Option<f64>")]
    pub wh_per_km: f64,
}

/// A drive and a day in one season.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SeasonRow {
    /// What it is called.
    pub name: String,
    /// Air temperature, °C.
    pub air_c: f64,
    /// How many months of the year are like it.
    pub months: Option<f64>,
    /// Air density, kg/m³.
    pub air_density_kg_per_m3: f64,
    /// Rolling resistance of run-in tyres over that at the temperature that the road load is stated
    /// for: 25 °C for a coefficient, 20 °C for a coast-down.
    pub rolling_factor: f64,
    /// Energy at the pack's terminals for one drive, kWh.
    pub drive_kwh: f64,
    /// Consumption of one drive at the pack's terminals, Wh/km.
    #[serde(serialize_with = "or_nothing")]
    #[schemars(with = "Option<f64>")]
    pub wh_per_km: f64,
    /// Energy that regen put back on one drive, kWh.
    pub regen_kwh: f64,
    /// How one drive ended.
    pub drive_ending: DriveOutcome,
    /// Why the road was not driven to its end, if it was not.
    pub drive_not_done: Option<&'static str>,
    /// Range from a standstill in this air, km.
    pub range_km: f64,
    /// Why it ended.
    pub range_ended_by: RangeOutcome,
    /// Where on it the car could no longer keep the road's speed and went on more slowly.
    pub range_slower: Option<Slower>,
    /// Charge that the cells can still give at the start, as a share of the capacity, %.
    pub usable_pct: f64,
    /// Lowest cell voltage of one drive, V.
    pub low_cell_v: f64,
    /// Charge left after the day, %.
    pub day_charge_left_pct: f64,
    /// Whether the whole day was carried out.
    pub day_complete: bool,
    /// The first leg that was not carried out.
    pub day_not_done_on: Option<String>,
    /// Why not.
    pub day_not_done: Option<&'static str>,
    /// Highest temperatures of drive and day.
    pub peak: Temperatures,
    /// When a part first began to cut back on the drive, s.
    pub derated_at_s: Option<f64>,
    /// Which part.
    pub derated_by: Option<NamedLimit>,
    /// Whose cells, of a pack in boxes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub derated_in: Option<String>,
    /// Whether cells as cold or hot as the air take no charge: no regen and no charging.
    pub refuses_charge: bool,
    /// Charging legs of the day on which the cells took no charge.
    pub refused_legs: usize,
    /// What each thing costs against the season compared with.
    pub costs: Vec<Cost>,
    /// What driving costs, where the price of energy is known.
    pub cost: Option<SeasonCost>,
    /// Why that is not known, where the price of energy is.
    pub cost_not_known: Option<String>,
}

/// A road and a day in several seasons.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SeasonReport {
    /// Name of the road or cycle.
    pub road: String,
    /// Distance of the road, km.
    pub distance_km: f64,
    /// The season that the others are held against.
    pub against: String,
    /// How the costs are found.
    pub method: &'static str,
    /// What was taken for granted of the seasons.
    pub assumptions: Vec<Assumption>,
    /// Each season.
    pub seasons: Vec<SeasonRow>,
    /// What the currency is called.
    pub currency: Option<String>,
    /// What a year costs.
    pub year: Option<YearReport>,
    /// What a year needs to have a price, where `money` says anything of one and it has none.
    pub year_not_known: Option<String>,
}

/// A car in a season.
struct InSeason {
    prepared: Prepared,
    season: Season,
}

/// A season with one thing of another, or as it is.
struct Mix {
    season: Season,
    what_if: WhatIf,
    /// Cells at the start, °C; left out, those of the season.
    cells_c: Option<f64>,
    /// Oil of the gearbox at the start, °C; left out, as warm as the air.
    oil_c: Option<f64>,
}

impl Mix {
    fn plain(season: Season) -> Self {
        Self { season, what_if: WhatIf::default(), cells_c: None, oil_c: None }
    }
}

impl InSeason {
    fn of(plain: &Prepared, season: &Season) -> Result<Self, Error> {
        let season = season.clone();
        Ok(Self { prepared: Mix::plain(season.clone()).of(plain)?, season })
    }

    fn air_k(&self) -> f64 {
        self.prepared.car.surroundings().air_k
    }

    fn rolling_factor(&self) -> f64 {
        self.prepared.car.parts().road_load.tempering().factor(self.air_k())
    }

    fn density(&self) -> f64 {
        let around = self.prepared.car.surroundings();
        air::density_kg_per_m3(around.altitude_m, around.air_k)
    }
}

impl Mix {
    fn of(&self, plain: &Prepared) -> Result<Prepared, Error> {
        plain.changed(|scenario| {
            let start = scenario.start.get_or_insert_default();
            let conditions = scenario.conditions.get_or_insert_default();
            self.season.put_in(&mut scenario.build, conditions, start);
            start.cells_c = self.cells_c.or(start.cells_c);
            start.oil_c = self.oil_c;
            scenario.what_if = self.what_if;
        })
    }
}

/// Takes one thing from another season.
type Change = fn(&mut Mix, &InSeason, &InSeason);

/// The things that come with a season.
const CHANGES: [(&str, Change); 8] = [
    ("tyres", |mix, own, other| {
        let tempering = own.prepared.car.parts().road_load.tempering();
        let factor = |season: &InSeason| tempering.factor(season.air_k());
        mix.what_if.rolling = factor(other) / factor(own);
    }),
    ("air", |mix, own, other| mix.what_if.density = other.density() / own.density()),
    ("wind", |mix, _, other| mix.season.head_wind_kmh = other.season.head_wind_kmh),
    ("oil", |mix, _, other| mix.oil_c = Some(other.season.air_c)),
    ("cells", |mix, _, other| {
        mix.cells_c = Some(other.season.cells_c.unwrap_or(other.season.air_c));
    }),
    ("heater", |mix, own, other| {
        // Heated by as many degrees over the air as in the other season.
        mix.season.cabin_c = other.season.cabin_c;
        mix.season.heater_kw = other.season.heater_kw;
        mix.what_if.cabin_k = own.air_k() - other.air_k();
    }),
    ("lights", |mix, _, other| mix.season.lights_w = other.season.lights_w),
    ("health", |mix, _, other| {
        mix.season.state_of_health_pct = other.season.state_of_health_pct;
    }),
];

/// Range, km, and consumption of one drive, Wh/km.
fn drives(setup: &Setup<'_>, trace: &Trace) -> (f64, f64) {
    let one = drive::report(setup, "", trace, &drive::drive(setup, trace, &mut ()));
    (drive::range_of(setup, trace).distance_km, one.wh_per_km)
}

fn costs(
    plain: &Prepared,
    (own, other): (&InSeason, &InSeason),
    trace: &Trace,
    whole: (f64, f64),
) -> Result<Vec<Cost>, Error> {
    let cost = |(item, change): &(&'static str, Change)| {
        let mut mix = Mix::plain(own.season.clone());
        change(&mut mix, own, other);
        let mixed = mix.of(plain)?;
        let same = mixed.start == own.prepared.start
            && mixed.car.parts() == own.prepared.car.parts()
            && mixed.car.surroundings() == own.prepared.car.surroundings()
            && mixed.outdoors == own.prepared.outdoors;
        if same {
            return Ok(None);
        }
        let (range_km, wh_per_km) = drives(&mixed.setup(), trace);
        Ok(Some(Cost { item, range_km: range_km - whole.0, wh_per_km: whole.1 - wh_per_km }))
    };
    let all: Result<Vec<Option<Cost>>, Error> = CHANGES.par_iter().map(cost).collect();
    Ok(all?.into_iter().flatten().collect())
}

fn row(
    plain: &Prepared,
    (own, against): (&InSeason, Option<&InSeason>),
    (road, trace): (&str, &Trace),
    day: &Day,
) -> Result<SeasonRow, Failure> {
    let prepared = &own.prepared;
    let setup = prepared.setup();
    let found = drive::drive(&setup, trace, &mut ());
    let one = drive::report(&setup, "", trace, &found);
    let range = drive::range_of(&setup, trace);
    let whole = day::report(prepared, day)?;
    let pack = &prepared.car.parts().pack;
    let empty = pack.empty_at(&prepared.start.temperature_k);
    let takes_a = prepared.car.now(&prepared.start, 0.0).pack.charge_now_a().0;
    let driven = one.not_done().is_none();
    let costs = match against.filter(|_| driven) {
        Some(other) => costs(plain, (own, other), trace, (range.distance_km, one.wh_per_km))
            .map_err(refused)?,
        None => Vec::new(),
    };
    let prices = &plain.prices;
    let cost = || cost::report(&setup, &prepared.charger, prices, road, trace);
    let cost = prices.energy_per_kwh.is_some().then(cost).transpose();
    let (cost, cost_not_known) = match cost {
        Ok(found) => (found.as_ref().and_then(SeasonCost::of), None),
        Err(why) => (None, Some(why.to_string())),
    };
    Ok(SeasonRow {
        name: own.season.name.clone(),
        air_c: own.season.air_c,
        months: own.season.months,
        air_density_kg_per_m3: own.density(),
        rolling_factor: own.rolling_factor(),
        drive_kwh: one.energy_kwh,
        wh_per_km: one.wh_per_km,
        regen_kwh: one.regen_kwh,
        drive_ending: one.ending,
        drive_not_done: one.not_done(),
        range_km: range.distance_km,
        range_ended_by: range.ended_by,
        range_slower: range.slower,
        usable_pct: units::pct_from_share((prepared.start.charge - empty).max(0.0)),
        low_cell_v: one.low_cell_v,
        day_charge_left_pct: whole.charge_left_pct,
        day_complete: whole.complete,
        day_not_done_on: whole.legs.iter().find(|l| l.not_done.is_some()).map(|l| l.name.clone()),
        day_not_done: whole.not_done(),
        peak: one.peak.hotter(whole.peak),
        derated_at_s: one.derated_at_s,
        derated_by: one.derated_by,
        derated_in: one.derated_in,
        refuses_charge: takes_a <= 1e-6 * pack.charge_a(),
        refused_legs: whole.legs.iter().filter(|leg| leg.ending == LegOutcome::Refused).count(),
        costs,
        cost,
        cost_not_known,
    })
}

/// A season that does not go with the build.
fn refused(error: Error) -> Failure {
    Failure::Invalid(error.to_string())
}

/// Drives a road and a day in every season, and tells what each thing costs against the first
/// season or the one that is named.
///
/// # Errors
/// [`Failure::Invalid`] where there is no season of that name, or a season does not go with the build.
pub fn report(
    plain: &Prepared,
    against: Option<&str>,
    road: (&str, &Trace),
    day: &Day,
) -> Result<SeasonReport, Failure> {
    in_seasons(plain, against, road, day, true)
}

/// The same without what each thing costs, which takes a range for each and no figure tells.
///
/// # Errors
/// As [`report`].
pub fn without_costs(
    plain: &Prepared,
    road: (&str, &Trace),
    day: &Day,
) -> Result<SeasonReport, Failure> {
    in_seasons(plain, None, road, day, false)
}

/// The range in each season by itself, km.
///
/// # Errors
/// As [`report`].
pub fn ranges(plain: &Prepared, trace: &Trace) -> Result<Vec<(String, f64)>, Failure> {
    let scenario = &plain.scenario;
    let seasons = Season::of(scenario.seasons.as_deref(), &scenario.build, &mut Vec::new());
    let range = |season: &Season| {
        let car = InSeason::of(plain, season).map_err(refused)?;
        let range = drive::range_of(&car.prepared.setup(), trace);
        Ok((season.name.clone(), range.distance_km))
    };
    seasons.iter().map(range).collect()
}

fn in_seasons(
    plain: &Prepared,
    against: Option<&str>,
    road: (&str, &Trace),
    day: &Day,
    with_costs: bool,
) -> Result<SeasonReport, Failure> {
    let mut assumptions = Vec::new();
    let scenario = &plain.scenario;
    let own = scenario.seasons.as_deref();
    let seasons = Season::of(own, &scenario.build, &mut assumptions);
    let names = || seasons.iter().map(|s| s.name.as_str()).collect::<Vec<_>>().join(", ");
    let first = match against {
        None => 0,
        Some(name) => {
            seasons.iter().position(|s| s.name.eq_ignore_ascii_case(name)).ok_or_else(|| {
                Failure::Invalid(format!("no season \"{name}\"; there are {}", names()))
            })?
        }
    };
    let cars = seasons
        .iter()
        .map(|season| InSeason::of(plain, season))
        .collect::<Result<Vec<_>, _>>()
        .map_err(refused)?;
    let other = &cars[first];
    let day = day.clone().without_weather();
    let rows = cars
        .par_iter()
        .enumerate()
        .map(|(i, own)| row(plain, (own, (with_costs && i != first).then_some(other)), road, &day))
        .collect::<Result<Vec<SeasonRow>, Failure>>()?;
    let prices = &plain.prices;
    if prices.energy_per_kwh.is_some() {
        assumptions.extend(cost::assumed(plain));
    }
    let (year, year_not_known) =
        match year(prices, rows.iter().map(|row| (&*row.name, row.months, row.cost.as_ref()))) {
            Ok(year) => (Some(year), None),
            Err(why) => (None, prices.speak_of_driving().then_some(why)),
        };
    Ok(SeasonReport {
        currency: prices.currency.clone(),
        year,
        year_not_known,
        road: road.0.to_owned(),
        distance_km: units::km_from_m(road.1.distance_m()),
        against: other.season.name.clone(),
        method: METHOD,
        assumptions,
        seasons: rows,
    })
}

/// Why a season's road counts for nothing.
const NOT_DRIVEN: &str =
    "in some season the road was not driven to its end (`season` says in which, and why)";

impl Report for SeasonReport {
    fn not_done(&self) -> Option<&'static str> {
        let undriven = self.seasons.iter().any(|season| season.drive_not_done.is_some());
        undriven.then_some(NOT_DRIVEN)
    }
}

/// The same as far as the day goes: its figures need the day to be carried out as well.
pub struct Days(pub SeasonReport);

impl Report for Days {
    fn not_done(&self) -> Option<&'static str> {
        let broken_off = self.0.seasons.iter().any(|season| !season.day_complete);
        let why = "in some season the day was not carried out (`season` says in which, and on \
                   what leg)";
        self.0.not_done().or(broken_off.then_some(why))
    }
}

impl SeasonReport {
    /// The least of something over the seasons.
    fn least(&self, of: fn(&SeasonRow) -> f64) -> Option<f64> {
        self.seasons.iter().map(of).reduce(f64::min)
    }

    /// The most of something over the seasons.
    fn most(&self, of: fn(&SeasonRow) -> f64) -> Option<f64> {
        self.seasons.iter().map(of).reduce(f64::max)
    }
}

impl SeasonReport {
    /// The most of a cost over the seasons, where the price of energy is known; not a number where a
    /// season has none.
    fn most_cost(&self, of: fn(&SeasonCost) -> f64) -> Option<f64> {
        let asked = |row: &SeasonRow| row.cost.is_some() || row.cost_not_known.is_some();
        let costs = || self.seasons.iter().map(|row| row.cost.as_ref().map_or(f64::NAN, of));
        let worse = |most: f64, cost: f64| if cost <= most { most } else { cost };
        let most = || if costs().any(f64::is_nan) { f64::NAN } else { costs().fold(0.0, worse) };
        self.seasons.iter().any(asked).then(most)
    }
}

/// The same as far as the year goes: a season without months is none of it.
pub struct Year(pub SeasonReport);

impl Report for Year {
    fn not_done(&self) -> Option<&'static str> {
        let counts = |season: &&SeasonRow| season.months.is_some();
        let undriven = |season: &SeasonRow| season.drive_not_done.is_some();
        self.0.seasons.iter().filter(counts).any(undriven).then_some(NOT_DRIVEN)
    }
}

impl Year {
    /// A sum of the year; not a number where it is missing because a road was not driven.
    fn sum(&self, of: fn(&Spent) -> Option<f64>) -> Option<f64> {
        match &self.0.year {
            Some(year) => of(&year.all),
            None => self.0.year_not_known.as_ref().and(self.not_done()).map(|_| f64::NAN),
        }
    }
}

/// The figures of the road in all seasons: the worst of them.
pub const FIGURES: &[Reading<SeasonReport>] = &[
    higher("worst_season_range_km", Unit::Km, "shortest range of all seasons", |r| {
        r.least(|season| season.range_km)
    }),
    lower(
        "worst_season_wh_per_km",
        Unit::WhPerKm,
        "highest consumption at the pack of all seasons",
        |r| r.most(|season| season.wh_per_km),
    ),
    higher(
        "worst_season_usable_pct",
        Unit::Pct,
        "least charge of all seasons that the cells can give, of the capacity",
        |r| r.least(|season| season.usable_pct),
    ),
    higher("worst_season_low_cell_v", Unit::V, "lowest cell voltage of all seasons", |r| {
        r.least(|season| season.low_cell_v)
    }),
    lower(
        "worst_season_wall_wh_per_km",
        Unit::WhPerKm,
        "most energy from the wall of all seasons, where money.energy_per_kwh is known",
        |r| r.most_cost(|cost| cost.wall_wh_per_km),
    ),
    lower(
        "worst_season_cost_per_100km",
        Unit::Per100Km,
        "highest price of the energy of all seasons, where money.energy_per_kwh is known",
        |r| r.most_cost(|cost| cost.energy.per_100km),
    ),
    yes_no("every_season_drive_complete", "whether the road is driven to its end in each", |r| {
        yes(r.not_done().is_none())
    }),
    yes_no(
        "every_season_takes_charge",
        "whether cells at the temperature of the air take charge in each",
        |r| yes(r.seasons.iter().all(|season| !season.refuses_charge)),
    ),
];

/// The figures of the year.
pub const YEAR_FIGURES: &[Reading<Year>] = &[
    lower(
        "year_wall_kwh",
        Unit::Kwh,
        "energy from the wall in a year, where seasons have twelve months and money says how far it goes",
        |r| r.sum(|all| Some(all.wall_kwh)),
    ),
    lower("year_energy_cost", Unit::Money, "price of that energy, in the currency of money", |r| {
        r.sum(|all| Some(all.energy))
    }),
    lower(
        "year_cost",
        Unit::Money,
        "the same with the wear and what is due each year, as far as money says them",
        |r| r.sum(|all| Some(all.together)),
    ),
    higher(
        "year_saved",
        Unit::Money,
        "price of the donor's fuel in a year less that of the energy, where both are known",
        |r| r.sum(|all| all.saved),
    ),
];

/// The figures of road and day in all seasons: the worst of them.
pub const DAY_FIGURES: &[Reading<Days>] = &[
    higher(
        "worst_season_day_charge_left_pct",
        Unit::Pct,
        "least charge of all seasons at the end of the day",
        |r| r.0.least(|season| season.day_charge_left_pct),
    ),
    lower("worst_season_winding_c", Unit::C, "hottest winding of all seasons", |r| {
        r.0.most(|season| season.peak.winding_c)
    }),
    lower(
        "worst_season_heat_sink_c",
        Unit::C,
        "hottest controller heat sink of all seasons",
        |r| r.0.most(|season| season.peak.heat_sink_c),
    ),
    lower("worst_season_cells_c", Unit::C, "hottest cells of all seasons", |r| {
        r.0.most(|season| season.peak.cells_c)
    }),
    yes_no(
        "every_season_day_complete",
        "whether all legs of the day are carried out in each",
        |r| yes(r.0.seasons.iter().all(|season| season.day_complete)),
    ),
];
