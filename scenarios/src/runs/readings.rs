//! A card for the glove box: what the dash should show, and when to worry.

use crate::inputs::season::Season;
use crate::prepared::{Prepared, Setup};
use crate::runs::charge::RoadUse;
use crate::runs::drive;
use crate::runs::failure::Failure;
use crate::runs::limits::NamedLimit;
use crate::runs::settings::{Known, coldest_c};
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::car::{Flow, Parts, Request, Slope};
use sim_core::endurance::{Outcome, endurance};
use sim_core::follow::DriveEnding;
use sim_core::steady::{SETTLED_S, cells_in_the_end_k, equilibrium};
use sim_core::{Car, Limit, Node, State, Trace, units};

/// What stands on the card.
#[derive(Debug, Clone, PartialEq)]
pub struct Card {
    /// Steady speeds, m/s.
    pub speeds_mps: Vec<f64>,
    /// The one at which voltages while driving hold, m/s; left out, the highest of them up to 80 km/h
    /// that is held warm and on the cold day.
    pub at_mps: Option<f64>,
    /// Air of a cold day, °C; left out, that of the scenario's coldest season.
    pub cold_c: Option<f64>,
}

impl Default for Card {
    /// 50 to 110 km/h.
    fn default() -> Self {
        let speeds_mps = (5..=11).map(|tens| units::mps_from_kmh(10.0 * f64::from(tens)));
        Self { speeds_mps: speeds_mps.collect(), at_mps: None, cold_c: None }
    }
}

/// A state of charge and what shows it.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ChargeRow {
    /// State of charge, %.
    pub charge_pct: f64,
    /// Voltage of the rested pack, V.
    pub rested_v: f64,
    /// The same of its mean cell, V.
    pub rested_cell_v: f64,
    /// Charges that have the same rested voltage within a meter's accuracy, %.
    pub told_from_pct: f64,
    /// Up to which, %.
    pub told_to_pct: f64,
    /// Voltage while driving, V; nothing where the speed is not held.
    pub driving_v: Option<f64>,
    /// The same on a cold day, V.
    pub cold_driving_v: Option<f64>,
    /// Energy left in the cells down to the stop, kWh.
    pub left_kwh: f64,
    /// The same in cells of a cold day, kWh; none where they are so cold that they give no current.
    pub cold_left_kwh: f64,
    /// Distance left, km, where the consumption is known.
    pub range_km: Option<f64>,
    /// The same on a cold day, km.
    pub cold_range_km: Option<f64>,
}

/// A steady speed on the level.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SpeedRow {
    /// Speed, km/h.
    pub speed_kmh: f64,
    /// Gear that the driver takes, counted from 1.
    pub gear: usize,
    /// Motor speed, rpm.
    pub motor_rpm: f64,
    /// Whether it is held at all.
    pub held: bool,
    /// What stands in its way, or ends it.
    pub by: Option<NamedLimit>,
    /// Minutes after which that ends it, where it is not held until the pack gives out.
    pub minutes: Option<f64>,
    /// Power at the pack, kW.
    pub power_kw: Option<f64>,
    /// Current of the pack, A.
    pub pack_a: Option<f64>,
    /// Voltage of the pack, V.
    pub pack_v: Option<f64>,
    /// Consumption at the pack, Wh/km.
    pub wh_per_km: Option<f64>,
    /// Motor winding after long enough, °C; nothing where it does not settle.
    pub winding_c: Option<f64>,
    /// Heat sink of the controller after long enough, °C.
    pub heat_sink_c: Option<f64>,
    /// Cells by the time the pack gives out, °C.
    pub cells_c: Option<f64>,
}

/// A place of the donor's fuel gauge.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct FuelNeedle {
    /// Where the needle stands.
    pub needle: &'static str,
    /// Share of what is usable, %.
    pub usable_pct: f64,
    /// State of charge, %.
    pub charge_pct: f64,
    /// Voltage of the rested pack, V.
    pub rested_v: f64,
    /// Energy left, kWh.
    pub left_kwh: f64,
}

/// A place of the donor's temperature gauge.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct HeatNeedle {
    /// Where the needle stands.
    pub needle: &'static str,
    /// Motor winding, °C.
    pub winding_c: f64,
    /// Heat sink of the controller, °C.
    pub heat_sink_c: f64,
    /// Coolant, °C, where there is some and something is known of it.
    pub coolant_c: Option<f64>,
    /// Why there.
    pub why: String,
}

/// How far the cells are apart.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct GapRow {
    /// State of charge, %.
    pub charge_pct: f64,
    /// Lowest cell at rest, V.
    pub rest_low_v: f64,
    /// Highest cell at rest, V.
    pub rest_high_v: f64,
    /// Gap at rest, mV.
    pub rest_gap_mv: f64,
    /// Gap at rest at which to worry, mV; nothing where it tells nothing.
    pub rest_worry_mv: Option<f64>,
    /// Lowest cell at the stated current, V.
    pub load_low_v: f64,
    /// Highest cell at the stated current, V.
    pub load_high_v: f64,
    /// Gap at the stated current, mV.
    pub load_gap_mv: f64,
    /// Gap at the stated current at which to worry, mV; nothing where it tells nothing.
    pub load_worry_mv: Option<f64>,
}

/// The card.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ReadingsReport {
    /// Air, °C.
    pub air_c: f64,
    /// Warm cells, °C.
    pub cells_c: f64,
    /// The cold day.
    pub cold_day: String,
    /// Its air, °C.
    pub cold_c: f64,
    /// Its cells at the start, °C.
    pub cold_cells_c: f64,
    /// The road by which distances are told.
    pub road: String,
    /// What it takes from the cells, Wh/km.
    pub road_wh_per_km: Option<f64>,
    /// The same on a cold day, Wh/km.
    pub cold_road_wh_per_km: Option<f64>,
    /// Why either is not known.
    pub road_note: Option<String>,
    /// Speed at which voltages while driving hold, km/h.
    pub at_kmh: f64,
    /// Current then with a half full pack, A; nothing where the speed is not held.
    pub at_a: Option<f64>,
    /// The same at the start of a cold day, A.
    pub cold_at_a: Option<f64>,
    /// How closely a rested voltage is read, %.
    pub read_within_pct: f64,
    /// By state of charge, full first.
    pub charges: Vec<ChargeRow>,
    /// Where the rested voltage tells nothing of the charge, % from and to; none where it tells it.
    pub flat_pct: Option<[f64; 2]>,
    /// By steady speed.
    pub speeds: Vec<SpeedRow>,
    /// The fuel gauge.
    pub fuel: Vec<FuelNeedle>,
    /// Where the needle of a fuel gauge stands when a cold pack is empty, % of what is usable.
    pub cold_empty_pct: f64,
    /// The temperature gauge.
    pub heat: Vec<HeatNeedle>,
    /// Parts whose warning is typical of their class, as no file says it.
    pub heat_assumed: Vec<&'static str>,
    /// Current at which gaps under load hold, A.
    pub gap_a: f64,
    /// Steady speed that takes it, the highest that lasts until the pack is empty, km/h.
    pub gap_kmh: Option<f64>,
    /// Least gap that two readings of a cell tell, mV.
    pub gap_read_mv: f64,
    /// How far the cells are apart.
    pub gaps: Vec<GapRow>,
    /// Lowest voltage of a cell, V.
    pub cell_min_v: f64,
    /// Highest voltage of a cell, V.
    pub cell_max_v: f64,
    /// What to beware of.
    pub cautions: [&'static str; 4],
}

const CAUTIONS: [&str; 4] = [
    "A traction pack kills, whatever its charge: voltages are read on the display or at terminals made \
     for it, by people who are licensed for more.",
    "The management of the cells comes before this card: when it warns, stop where it is safe.",
    "Drive to the stop, not beyond it: the last of the charge goes faster than any gauge shows.",
    "A cell that falls behind the others at the same charge is to be looked at before the next drive.",
];

/// Temperature at which cells are rated, °C (IEC 62660-1, from memory).
const RATED_C: f64 = 25.0;
/// How closely a meter of a dash reads a pack's voltage, as a share (common practice, no source).
const METER: f64 = 0.005;
/// Charges that share a reading for which it is said that it tells nothing, as a share.
const TELLS_NOTHING: f64 = 0.25;
/// Least gap between cells that their management tells (common practice, no source), V.
const CELL_READING_V: f64 = 0.01;
/// Time for which a speed is driven to find its gear, s.
const SETTLE_S: f64 = 60.0;
/// Lag behind a steady speed that counts as not held, m/s.
const LAG_MPS: f64 = 0.3;
/// Longest time for which a speed is followed, s.
const MOST_S: f64 = units::s_from_h(24.0);

/// A car whose cells have rested, on warm tyres, its cabin as warm as its heater makes it.
fn rested(car: &Car, charge: f64, cells_k: f64) -> State {
    let air_k = car.surroundings().air_k;
    let cabin_k = car.parts().auxiliaries.cabin.map_or(air_k, |cabin| cabin.settled_k(air_k));
    State::parked(charge, air_k).cells_at(cells_k).warmed(Node::Cabin, cabin_k)
}

/// Speed up to which one is chosen at which voltages while driving hold, km/h.
const AT_MOST_KMH: f64 = 80.0;

/// The same after its short peaks.
fn used_up(state: State) -> State {
    State { peak_reserve: 0.0, ..state }
}

fn rested_v(car: &Car, charge: f64, cells_k: f64) -> f64 {
    car.now(&rested(car, charge, cells_k), 0.0).pack.emf_v
}

/// Gear that a driver takes at a steady speed, and what stands in the way of it.
fn cruise(
    setup: &Setup<'_>,
    from: &State,
    speed_mps: f64,
) -> Result<(usize, Option<Limit>), Failure> {
    let speeds = [speed_mps, speed_mps];
    let trace = Trace::new(&[0.0, SETTLE_S], &speeds, &[0.0]).map_err(Failure::Trace)?;
    let found = drive::drive(&Setup { start: from, ..*setup }, &trace, &mut ());
    let held = found.ending == DriveEnding::Complete && found.largest_lag_mps < LAG_MPS;
    let seconds = |limit: &Limit| found.limited_s[*limit as usize];
    let most = Limit::ALL.into_iter().max_by(|a, b| seconds(a).total_cmp(&seconds(b)));
    let by = most.unwrap_or(Limit::MotorTorque);
    Ok((found.gear, (!held).then_some(by)))
}

/// What flows at a steady speed in a gear, polarisation settled; `None` where it is not held.
fn flow(car: &Car, state: &State, speed_mps: f64, gear: usize) -> Option<Flow> {
    let state = State { speed_mps, ..*state };
    let now = car.now(&state, SETTLED_S);
    let flow = car.act(&now, speed_mps, Slope::LEVEL, gear, Request::Accelerate(0.0));
    (flow.acceleration_mps2 > -1e-6).then_some(flow)
}

fn speed_row(setup: &Setup<'_>, speed_mps: f64, cells_k: f64) -> Result<SpeedRow, Failure> {
    let car = setup.car;
    let pack = &car.parts().pack;
    let half = 0.5 * (pack.mean_charge_when_empty(cells_k) + pack.max_charge);
    let from = rested(car, half, cells_k);
    let (gear, not_held) = cruise(setup, &from, speed_mps)?;
    let mut row = SpeedRow {
        speed_kmh: units::kmh_from_mps(speed_mps),
        gear: gear + 1,
        motor_rpm: units::rpm_from_radps(car.motor_radps(gear, speed_mps)),
        held: not_held.is_none(),
        by: not_held.map(NamedLimit),
        minutes: None,
        power_kw: None,
        pack_a: None,
        pack_v: None,
        wh_per_km: None,
        winding_c: None,
        heat_sink_c: None,
        cells_c: None,
    };
    if not_held.is_some() {
        return Ok(row);
    }
    let full = State { speed_mps, ..rested(car, pack.max_charge, cells_k) };
    let settled = equilibrium(car, &from, Slope::LEVEL, speed_mps, gear);
    // What ends it before the pack does.
    match endurance(car, &full, Slope::LEVEL, speed_mps, gear, MOST_S)? {
        Outcome::Ends { time_s, by } => {
            row.by = Some(NamedLimit(by));
            row.minutes = Some(units::min_from_s(time_s));
        }
        Outcome::Cannot { by } => row.by = by.map(NamedLimit),
        Outcome::Continuous { .. } | Outcome::Beyond { .. } => {}
    }
    if let Ok(settled) = &settled {
        row.winding_c = Some(units::c_from_k(settled.state.temperature_k[Node::Winding]));
        row.heat_sink_c = Some(units::c_from_k(settled.state.temperature_k[Node::Sink]));
        row.cells_c = Some(units::c_from_k(cells_in_the_end_k(car, &full, gear)));
    }
    let flow = settled.ok().map(|it| it.flow).or_else(|| flow(car, &from, speed_mps, gear));
    if let Some(flow) = flow {
        let power_w = flow.pack_v * flow.pack_a;
        row.power_kw = Some(units::kw_from_w(power_w));
        row.pack_a = Some(flow.pack_a);
        row.pack_v = Some(flow.pack_v);
        row.wh_per_km = Some(units::wh_from_j(power_w / speed_mps * units::m_from_km(1.0)));
    }
    Ok(row)
}

/// The same car on its cold day.
fn on_cold_day(prepared: &Prepared, card: &Card) -> Result<(Prepared, Season), Failure> {
    let scenario = &prepared.scenario;
    let seasons = Season::of(scenario.seasons.as_deref(), &scenario.build, &mut Vec::new());
    let coldest = seasons.into_iter().min_by(|a, b| a.air_c.total_cmp(&b.air_c));
    let named = |air_c| Season::in_air("cold day", air_c);
    let season = match (card.cold_c, coldest) {
        (Some(air_c), _) => named(air_c),
        (None, Some(season)) => season,
        (None, None) => named(coldest_c(prepared)),
    };
    let changed = prepared.changed(|scenario| {
        let conditions = scenario.conditions.get_or_insert_default();
        let start = scenario.start.get_or_insert_default();
        season.put_in(&mut scenario.build, conditions, start);
    });
    Ok((changed.map_err(|e| Failure::Invalid(e.to_string()))?, season))
}

/// A car whose weakest cell is twice as far behind the others.
fn uneven(car: &Car) -> Car {
    let parts = car.parts();
    let pack = &parts.pack;
    let twice = |spread: f64, least: f64, most: f64| (2.0 * spread).max(spread + least).min(most);
    let pack = pack.changed(|cells| {
        cells.capacity_spread = twice(cells.capacity_spread, 0.02, 0.9);
        cells.resistance_spread = twice(cells.resistance_spread, 0.1, 9.0);
    });
    Car::new(Parts { pack, ..parts.clone() }, *car.surroundings())
}

fn gap_row(car: &Car, uneven: &Car, charge: f64, cells_k: f64, pack_a: f64) -> GapRow {
    let cells = |car: &Car, pack_a: f64| {
        let now = car.now(&rested(car, charge, cells_k), SETTLED_S).pack;
        now.cell_spread_v(pack_a)
    };
    let gap = |(low, high): (f64, f64)| high - low;
    let worry = |pack_a: f64| {
        let (own, twice) = (gap(cells(car, pack_a)), gap(cells(uneven, pack_a)));
        (twice - own >= CELL_READING_V).then_some(units::mv_from_v(twice))
    };
    let (rest, load) = (cells(car, 0.0), cells(car, pack_a));
    GapRow {
        charge_pct: units::pct_from_share(charge),
        rest_low_v: rest.0,
        rest_high_v: rest.1,
        rest_gap_mv: units::mv_from_v(gap(rest)),
        rest_worry_mv: worry(0.0),
        load_low_v: load.0,
        load_high_v: load.1,
        load_gap_mv: units::mv_from_v(gap(load)),
        load_worry_mv: worry(pack_a),
    }
}

/// Charges whose rested voltage is that of a charge within what a meter reads.
fn told(car: &Car, charge: f64, cells_k: f64) -> (f64, f64) {
    let own_v = rested_v(car, charge, cells_k);
    let same = |other: &f64| (rested_v(car, *other, cells_k) / own_v - 1.0).abs() <= METER;
    let all = || (0..=200).map(|i| f64::from(i) / 200.0);
    (all().find(same).unwrap_or(charge), all().rev().find(same).unwrap_or(charge))
}

fn fuel(car: &Car, cells_k: f64) -> Vec<FuelNeedle> {
    let pack = &car.parts().pack;
    let empty = pack.mean_charge_when_empty(cells_k);
    [("full", 1.0), ("three quarters", 0.75), ("half", 0.5), ("a quarter", 0.25), ("empty", 0.0)]
        .into_iter()
        .map(|(needle, usable)| {
            let charge = empty + usable * (pack.max_charge - empty);
            FuelNeedle {
                needle,
                usable_pct: units::pct_from_share(usable),
                charge_pct: units::pct_from_share(charge),
                rested_v: rested_v(car, charge, cells_k),
                left_kwh: units::kwh_from_j(pack.left_j(charge, cells_k)),
            }
        })
        .collect()
}

fn heat(prepared: &Prepared, speeds: &[SpeedRow], road: &RoadUse) -> Vec<HeatNeedle> {
    let car = &prepared.car;
    let air_c = units::c_from_k(car.surroundings().air_k);
    let hottest = |node: Node| units::c_from_k(road.driven.extremes.hottest_k[node]);
    let most = |of: fn(&SpeedRow) -> Option<f64>, road_c: f64| {
        speeds.iter().filter(|row| row.minutes.is_none()).filter_map(of).fold(road_c, f64::max)
    };
    let liquid = car.is_liquid_cooled();
    let parts = car.parts();
    vec![
        HeatNeedle {
            needle: "cold",
            winding_c: air_c,
            heat_sink_c: air_c,
            coolant_c: liquid.then_some(air_c),
            why: "as warm as the air, after a night".to_owned(),
        },
        HeatNeedle {
            needle: "normal, up to",
            winding_c: most(|row| row.winding_c, hottest(Node::Winding)),
            heat_sink_c: most(|row| row.heat_sink_c, hottest(Node::Sink)),
            coolant_c: liquid.then(|| hottest(Node::Coolant)),
            why: "the hottest of the road and of the steady speeds that settle".to_owned(),
        },
        HeatNeedle {
            needle: "red, from",
            winding_c: units::c_from_k(parts.motor.derating.warning_k),
            heat_sink_c: units::c_from_k(parts.controller.derating.warning_k),
            coolant_c: None,
            why: "the part begins to cut back".to_owned(),
        },
    ]
}

/// Works out the card.
///
/// # Errors
/// [`Failure::Stuck`] where the solver gives up on a steady speed; [`Failure::Invalid`] where the cold
/// day cannot be.
pub fn report(
    prepared: &Prepared,
    card: &Card,
    (road, trace): (&str, &Trace),
) -> Result<ReadingsReport, Failure> {
    let setup = prepared.setup();
    let car = &prepared.car;
    let pack = &car.parts().pack;
    let air_k = car.surroundings().air_k;
    let cells_k = air_k.max(units::k_from_c(RATED_C));
    let (cold, season) = on_cold_day(prepared, card)?;
    let cold_k = cold.car.parts().pack.coldest_k(&cold.start.temperature_k);
    let own_use = RoadUse::of(&setup, road, trace);
    let cold_use = RoadUse::of(&cold.setup(), road, trace);
    let note = own_use.j_per_m.as_ref().err().or(cold_use.j_per_m.as_ref().err()).cloned();
    let speeds: Vec<SpeedRow> = card
        .speeds_mps
        .iter()
        .map(|speed_mps| speed_row(&setup, *speed_mps, cells_k))
        .collect::<Result<_, _>>()?;
    let half = 0.5 * (pack.mean_charge_when_empty(cells_k) + pack.max_charge);
    let cruising = |prepared: &Prepared, rested: State, speed_mps: f64| -> Result<_, Failure> {
        let from = used_up(rested);
        let (gear, not_held) = cruise(&prepared.setup(), &from, speed_mps)?;
        let flows = flow(&prepared.car, &from, speed_mps, gear).is_some();
        Ok((not_held.is_none() && flows).then_some((from, gear)))
    };
    let both = |speed_mps: f64| -> Result<_, Failure> {
        let warm = cruising(prepared, rested(car, half, cells_k), speed_mps)?;
        let cold_air_k = cold.car.surroundings().air_k;
        let chilled = rested(&cold.car, half, cold_k).warmed(Node::Cabin, cold_air_k);
        let chilled = chilled.on_cold_tyres();
        Ok((speed_mps, warm, cruising(&cold, chilled, speed_mps)?))
    };
    let up_to_mps = units::mps_from_kmh(AT_MOST_KMH) * (1.0 + 1e-9);
    let own = card.speeds_mps.iter().copied().filter(|mps| *mps <= up_to_mps);
    let mut tried = match card.at_mps {
        Some(at_mps) => vec![both(at_mps)?],
        None => own.map(both).collect::<Result<Vec<_>, _>>()?,
    };
    // The highest that both hold; else the highest that is held warm; else what is asked for.
    tried.sort_by(|a, b| {
        let rank = |one: &(f64, Option<_>, Option<_>)| {
            (one.1.is_some() && one.2.is_some(), one.1.is_some(), one.0)
        };
        rank(a).partial_cmp(&rank(b)).unwrap_or(std::cmp::Ordering::Equal)
    });
    let (at_mps, warm_cruise, cold_cruise) = match tried.pop() {
        Some(found) => found,
        None => both(units::mps_from_kmh(AT_MOST_KMH))?,
    };
    let at = |car: &Car, cruise: &Option<(State, usize)>, charge: f64| {
        let (from, gear) = cruise.as_ref()?;
        flow(car, &State { charge, ..*from }, at_mps, *gear)
    };
    let km = |left_j: f64, of: &RoadUse| Some(units::km_from_m(left_j / of.j_per_m.as_ref().ok()?));
    let frozen = {
        let full = rested(&cold.car, pack.max_charge, cold_k);
        cold.car.now(&full, 0.0).pack.discharge_a.0 <= 0.0
    };
    let cold_left_j = |charge: f64| if frozen { 0.0 } else { pack.left_j(charge, cold_k) };
    // A pack that is not filled to the brim is fullest where its charge stops.
    let tens = (1..=10).rev().map(|tens| f64::from(tens) / 10.0);
    let steps = tens.filter(|charge| *charge < pack.max_charge - 1e-9);
    let charges: Vec<ChargeRow> = [pack.max_charge]
        .into_iter()
        .chain(steps)
        .map(|charge| {
            let (low, high) = told(car, charge, cells_k);
            let (left_j, cold_left_j) = (pack.left_j(charge, cells_k), cold_left_j(charge));
            let usable = left_j > 0.0;
            let driving =
                |car, cruise| at(car, cruise, charge).filter(|_| usable).map(|flow| flow.pack_v);
            ChargeRow {
                charge_pct: units::pct_from_share(charge),
                rested_v: rested_v(car, charge, cells_k),
                rested_cell_v: rested_v(car, charge, cells_k) / pack.cells_in_series(),
                told_from_pct: units::pct_from_share(low),
                told_to_pct: units::pct_from_share(high),
                driving_v: driving(car, &warm_cruise),
                cold_driving_v: driving(&cold.car, &cold_cruise).filter(|_| cold_left_j > 0.0),
                left_kwh: units::kwh_from_j(left_j),
                cold_left_kwh: units::kwh_from_j(cold_left_j),
                range_km: km(left_j, &own_use),
                cold_range_km: km(cold_left_j, &cold_use),
            }
        })
        .collect();
    let flat: Vec<&ChargeRow> = charges
        .iter()
        .filter(|row| row.told_to_pct - row.told_from_pct >= units::pct_from_share(TELLS_NOTHING))
        .collect();
    let lowest = flat.iter().map(|row| row.told_from_pct).reduce(f64::min);
    let highest = flat.iter().map(|row| row.told_to_pct).reduce(f64::max);
    let flat_pct = lowest.zip(highest).map(|(low, high)| [low, high]);
    let at_a = at(car, &warm_cruise, half).map(|flow| flow.pack_a);
    let mut lasts = speeds.iter().filter(|row| row.held && row.minutes.is_none());
    let hardest = lasts.rfind(|row| row.pack_a.is_some());
    // Where no speed is held, the current of an hour.
    let hour_a = units::ah_from_as(pack.capacity_as());
    let gap_a = hardest.and_then(|row| row.pack_a).unwrap_or(hour_a);
    let gap_kmh = hardest.map(|row| row.speed_kmh);
    let uneven = uneven(car);
    let below = [0.8, 0.6, 0.4, 0.2, 0.1].into_iter().filter(|charge| *charge < pack.max_charge);
    let gaps = [pack.max_charge].into_iter().chain(below);
    let gaps = gaps.map(|charge| gap_row(car, &uneven, charge, cells_k, gap_a)).collect();
    let empties = [cells_k, cold_k].map(|k| pack.mean_charge_when_empty(k));
    let wh = |of: &RoadUse| {
        of.j_per_m.as_ref().ok().map(|j| units::wh_from_j(j * units::m_from_km(1.0)))
    };
    let known = Known(prepared);
    let warnings = [("motor", "motor.warning_c"), ("controller", "controller.warning_c")];
    let report = ReadingsReport {
        air_c: units::c_from_k(air_k),
        cells_c: units::c_from_k(cells_k),
        cold_day: season.name.clone(),
        cold_c: units::c_from_k(cold.car.surroundings().air_k),
        cold_cells_c: units::c_from_k(cold_k),
        road: road.to_owned(),
        road_wh_per_km: wh(&own_use),
        cold_road_wh_per_km: wh(&cold_use),
        road_note: note,
        at_kmh: units::kmh_from_mps(at_mps),
        at_a,
        cold_at_a: at(&cold.car, &cold_cruise, half).map(|flow| flow.pack_a),
        read_within_pct: units::pct_from_share(METER),
        flat_pct,
        fuel: fuel(car, cells_k),
        cold_empty_pct: match frozen {
            true => 100.0,
            false => {
                units::pct_of((empties[1] - empties[0]).max(0.0), pack.max_charge - empties[0])
            }
        },
        heat: heat(prepared, &speeds, &own_use),
        heat_assumed: warnings.into_iter().filter(|w| known.is_assumed(w.1)).map(|w| w.0).collect(),
        gap_a,
        gap_kmh,
        gap_read_mv: units::mv_from_v(CELL_READING_V),
        gaps,
        cell_min_v: pack.strictest_min_v(),
        cell_max_v: pack.strictest_max_v(),
        charges,
        speeds,
        cautions: CAUTIONS,
    };
    Ok(report)
}
