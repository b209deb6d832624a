//! A day: legs that are driven, parked and charged one after the other, in one state.

use crate::files::error::Error;
use crate::inputs::charger::OnBoardCharger;
use crate::inputs::conditions::Weather;
use crate::inputs::day::{Act, LegChange, Stage};
use crate::inputs::road::Road;
use crate::prepared::Prepared;
use crate::prepared::Setup;
use crate::runs::charge;
use crate::runs::drive::{self, DriveOutcome};
use crate::runs::failure::Failure;
use crate::runs::figure::{
    Reading, Report, Unit, higher, lower, or_nothing, per_km, plain, yes, yes_no,
};
use crate::runs::limits::{self, LimitMet, NamedLimit};
use crate::runs::temperatures::{Temperatures, Warnings};
use crate::runs::trace::trace;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::charging;
use sim_core::units;
use sim_core::{Car, Node, State, Surroundings, Trace};

/// A day with its roads read, for any car.
#[derive(Debug, Clone, PartialEq)]
pub struct Day {
    legs: Vec<ReadyLeg>,
    /// Names of the roads, and what their readers had to say.
    pub notes: Vec<(String, String)>,
}

/// A leg that is ready to be driven.
#[derive(Debug, Clone, PartialEq)]
struct ReadyLeg {
    name: String,
    doing: Doing,
    change: LegChange,
}

#[derive(Debug, Clone, PartialEq)]
enum Doing {
    Drive { trace: Trace },
    Park { for_s: f64 },
    Charge { wall_w: f64, efficiency: Option<f64>, target: f64, for_s: Option<f64> },
}

/// How long the car stands between the two drives of a day that nobody described, s: 8 h.
const WORK_S: f64 = units::s_from_h(8.0);

/// What is done on a leg.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum LegKind {
    /// A road is driven.
    Drive,
    /// The car stands.
    Park,
    /// The car charges.
    Charge,
}

/// How a leg ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum LegOutcome {
    /// As planned.
    Complete,
    /// A drive: the weakest cell was empty.
    Empty,
    /// A charge: the charger ended it before the charge was reached.
    Full,
    /// A charge: the cells took no more.
    Refused,
    /// A charge: the time was up before the charge was reached.
    TimeUp,
    /// A drive: a limit of the pack ended it.
    #[serde(untagged)]
    Limit(NamedLimit),
}

impl From<DriveOutcome> for LegOutcome {
    fn from(ending: DriveOutcome) -> Self {
        match ending {
            DriveOutcome::Complete => LegOutcome::Complete,
            DriveOutcome::Empty => LegOutcome::Empty,
            DriveOutcome::Limit(limit) => LegOutcome::Limit(limit),
        }
    }
}

/// What happened on a leg.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct DayRow {
    /// Number of the leg, from 1.
    pub leg: usize,
    /// What is done.
    pub kind: LegKind,
    /// What it is called.
    pub name: String,
    /// Air temperature, °C.
    pub air_c: f64,
    /// How it ended.
    pub ending: LegOutcome,
    /// Why it did not do what it was for, if it did not.
    pub not_done: Option<&'static str>,
    /// Time, s.
    pub time_s: f64,
    /// Distance driven, km.
    pub distance_km: f64,
    /// Distance of the leg, km.
    pub planned_km: f64,
    /// Energy out of the pack's terminals, net, kWh; negative while charging.
    pub energy_kwh: f64,
    /// Consumption at the pack's terminals, Wh/km; of a drive.
    pub wh_per_km: Option<f64>,
    /// Energy that regen put back, kWh.
    pub regen_kwh: f64,
    /// Energy from the socket, kWh.
    pub wall_kwh: f64,
    /// Charge at the end, %.
    pub charge_pct: f64,
    /// Temperatures at the end.
    pub end: Temperatures,
    /// Cabin at the end, °C.
    pub cabin_c: f64,
    /// Highest temperatures.
    pub peak: Temperatures,
    /// When a part first began to cut back, s from the start of the leg.
    pub derated_at_s: Option<f64>,
    /// Which part.
    pub derated_by: Option<NamedLimit>,
    /// Whose cells, of a pack in boxes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub derated_in: Option<String>,
    /// The box whose cells ended the drive, of a pack in boxes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ended_in: Option<String>,
    /// Limits that were met, worst first.
    pub limits: Vec<LimitMet>,
}

impl Report for DayReport {
    fn not_done(&self) -> Option<&'static str> {
        self.legs.iter().find_map(|leg| leg.not_done)
    }
}

/// A day.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct DayReport {
    /// What the boxes of a pack in boxes are called, in the order of `pack.boxes`.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schemars(with = "Option<Vec<String>>")]
    pub boxes: Vec<String>,
    /// The legs in order, up to the one where the pack gave out.
    pub legs: Vec<DayRow>,
    /// How many legs were planned.
    pub planned_legs: usize,
    /// Whether all of them were carried out: each drive to its end, and no charge refused.
    pub complete: bool,
    /// Time, s.
    pub time_s: f64,
    /// Distance driven, km.
    pub distance_km: f64,
    /// Energy out of the pack's terminals while driving, net of regen, kWh.
    pub driving_kwh: f64,
    /// Consumption at the pack while driving, Wh/km.
    #[serde(serialize_with = "or_nothing")]
    #[schemars(with = "Option<f64>")]
    pub wh_per_km: f64,
    /// Energy from the socket, kWh.
    pub wall_kwh: f64,
    /// Charge at the start, %.
    pub charge_from_pct: f64,
    /// Charge at the end, %.
    pub charge_left_pct: f64,
    /// Lowest charge at the end of a leg, %.
    pub lowest_charge_pct: f64,
    /// Highest temperatures.
    pub peak: Temperatures,
    /// Temperatures at which parts cut back.
    pub warnings: Warnings,
    /// Largest ledger residual of a drive, as a share of its throughput.
    pub ledger_residual: f64,
}

impl Day {
    /// The day of a scenario with its roads read; without one, the commute there, 8 h parked, and
    /// the way back: the road reversed, or a built-in cycle once more, as it is no place.
    ///
    /// # Errors
    /// [`Failure`] where a road cannot be read or driven.
    pub fn of(
        prepared: &Prepared,
        commute: &Road,
        options: &cycles::LoadOptions,
    ) -> Result<Self, Failure> {
        let stage = |act| Stage { name: None, act, change: LegChange::default() };
        let drive = |reverse| stage(Act::Drive { road: None, reverse });
        let back =
            Stage { name: Some("back".to_owned()), ..drive(!cycles::is_built_in(commute.name())) };
        let shortest = || vec![drive(false), stage(Act::Park { for_s: WORK_S }), back];
        let stages = prepared.drives.day.clone().unwrap_or_else(shortest);
        let mut notes = Vec::new();
        let mut read: Vec<(Road, cycles::Schedule)> = Vec::new();
        let mut legs = Vec::with_capacity(stages.len());
        for stage in stages {
            let (usual, doing) = match stage.act {
                Act::Park { for_s } => ("parked".to_owned(), Doing::Park { for_s }),
                Act::Charge { wall_w, efficiency, target, for_s } => {
                    let doing = Doing::Charge { wall_w, efficiency, target, for_s };
                    ("charging".to_owned(), doing)
                }
                Act::Drive { road, reverse } => {
                    let road = road.unwrap_or_else(|| commute.clone());
                    let known = read.iter().find(|(other, _)| *other == road);
                    let way = match known {
                        Some((_, trace)) => trace.clone(),
                        None => {
                            let loaded = prepared
                                .read(&road, options)
                                .map_err(|e| Failure::Invalid(e.to_string()))?;
                            let road_name = || road.name().to_owned();
                            notes.extend(loaded.notes.into_iter().map(|n| (road_name(), n)));
                            read.push((road.clone(), loaded.schedule.clone()));
                            loaded.schedule
                        }
                    };
                    let way = if reverse { way.reversed() } else { way };
                    (way.name.clone(), Doing::Drive { trace: trace(&way)? })
                }
            };
            legs.push(ReadyLeg { name: stage.name.unwrap_or(usual), doing, change: stage.change });
        }
        Ok(Self { legs, notes })
    }

    /// The same day in the weather of the scenario, whatever its legs say.
    pub fn without_weather(mut self) -> Self {
        for leg in &mut self.legs {
            leg.change.weather = Weather::default();
        }
        self
    }

    /// How many legs there are.
    pub fn len(&self) -> usize {
        self.legs.len()
    }

    /// Whether there is no leg.
    pub fn is_empty(&self) -> bool {
        self.legs.is_empty()
    }
}

/// The car of a leg, where it is another than that of the day.
fn changed(car: &Prepared, leg: &ReadyLeg) -> Result<Option<Prepared>, Error> {
    if leg.change == LegChange::default() {
        return Ok(None);
    }
    let changed = car.changed(|scenario| {
        scenario.conditions.get_or_insert_default().put(leg.change.weather);
        scenario.build.load_besides(&leg.change.load);
    });
    changed.map(Some)
}

/// A car in another air.
fn in_air(car: &Car, air_k: f64) -> Car {
    car.moved_to(Surroundings { air_k, ..*car.surroundings() })
}

/// Leaves the car standing from a time on, s, in the air of each hour.
fn parked(setup: &Setup<'_>, from: &State, since_s: f64, for_s: f64) -> State {
    let (mut state, mut now_s, end_s) = (*from, since_s, since_s + for_s);
    while let Some(change_s) = setup.outdoors.next_change_s(now_s).filter(|s| *s < end_s) {
        state = parked_in(setup, &state, now_s, change_s - now_s);
        now_s = change_s;
    }
    parked_in(setup, &state, now_s, end_s - now_s)
}

/// The same within an hour.
fn parked_in(setup: &Setup<'_>, from: &State, now_s: f64, for_s: f64) -> State {
    match setup.outdoors.air_k(now_s) {
        Some(air_k) => charging::park(&in_air(setup.car, air_k), from, for_s),
        None => charging::park(setup.car, from, for_s),
    }
}

/// One leg from a state: its row, the state after it, and the ledger's residual.
fn carry_out(
    setup: &Setup<'_>,
    charger: &OnBoardCharger,
    number: usize,
    leg: &ReadyLeg,
) -> (DayRow, State, f64) {
    let from = setup.start;
    // A charge is in the air in which it begins.
    let moved = setup.outdoors.air_k(setup.since_s).map(|air_k| in_air(setup.car, air_k));
    let car = moved.as_ref().unwrap_or(setup.car);
    let mut row = DayRow {
        leg: number,
        kind: LegKind::Park,
        name: leg.name.clone(),
        air_c: units::c_from_k(car.surroundings().air_k),
        ending: LegOutcome::Complete,
        not_done: None,
        time_s: 0.0,
        distance_km: 0.0,
        planned_km: 0.0,
        energy_kwh: 0.0,
        wh_per_km: None,
        regen_kwh: 0.0,
        wall_kwh: 0.0,
        charge_pct: 0.0,
        end: Temperatures::of(car, from),
        cabin_c: 0.0,
        peak: Temperatures::of(car, from),
        derated_at_s: None,
        derated_by: None,
        derated_in: None,
        ended_in: None,
        limits: Vec::new(),
    };
    let mut residual = 0.0;
    let after = match &leg.doing {
        Doing::Drive { trace } => {
            let found = drive::drive(setup, trace, &mut ());
            let km = units::km_from_m(found.distance_m);
            let wh = units::wh_from_j(found.terminal_j);
            row.kind = LegKind::Drive;
            row.ending = DriveOutcome::of(&found).into();
            row.not_done = drive::undriven(&found, trace);
            row.time_s = found.time_s;
            row.distance_km = km;
            row.planned_km = units::km_from_m(trace.distance_m());
            row.energy_kwh = units::kwh_from_wh(wh);
            row.wh_per_km = Some(per_km(wh, km)).filter(|found| found.is_finite());
            row.regen_kwh = units::kwh_from_j(found.regen_j);
            row.peak = drive::peak(car, &found);
            row.derated_at_s = found.derated.map(|d| d.0);
            row.derated_by = found.derated.map(|d| NamedLimit(d.1));
            row.derated_in = drive::derated_in(setup, &found).cloned();
            row.ended_in = drive::ended_in(setup, found.ending, &found.end).cloned();
            let start_c =
                units::c_from_k(setup.car.parts().pack.coldest_k(&setup.start.temperature_k));
            row.limits = limits::met(&found.limited_s, (start_c, row.peak.cells_c), |limit| {
                drive::box_at(setup, &found, limit)
            });
            residual = found.ledger.residual_share();
            found.end
        }
        Doing::Park { for_s } => {
            row.time_s = *for_s;
            parked(setup, from, setup.since_s, *for_s)
        }
        Doing::Charge { wall_w, efficiency, target, for_s } => {
            let most_s = for_s.unwrap_or(charge::MOST_S);
            let efficiency = efficiency.unwrap_or(charger.efficiency);
            let supply = charge::supply(&OnBoardCharger { efficiency, ..*charger }, *wall_w);
            let found = charging::charge(car, from, &supply, *target, most_s, |_| {});
            row.kind = LegKind::Charge;
            row.time_s = found.time_s;
            row.energy_kwh = -units::kwh_from_j(found.pack_j);
            row.wall_kwh = units::kwh_from_j(found.wall_j);
            row.peak.warm_cells(car, &found.peak_cells_k);
            row.ending = match found.ending {
                charging::ChargeEnding::Target => LegOutcome::Complete,
                charging::ChargeEnding::Full => LegOutcome::Full,
                charging::ChargeEnding::TimeUp => LegOutcome::TimeUp,
                charging::ChargeEnding::Refused(limit) => {
                    let limit = NamedLimit(limit);
                    let seconds = (for_s.unwrap_or(0.0) - found.time_s).max(0.0);
                    let own = setup.boxes.get(car.box_that_holds(&found.end, -1.0, limit.0));
                    let words = limit.words_in(own.filter(|_| limit.0.is_of_cells()));
                    row.limits.push(LimitMet { limit, words, seconds });
                    row.not_done = Some("the cells refused the charge");
                    LegOutcome::Refused
                }
            };
            // The car stands at the socket for as long as was said.
            let rest_s = for_s.map_or(0.0, |s| (s - found.time_s).max(0.0));
            row.time_s += rest_s;
            parked(setup, &found.end, setup.since_s + found.time_s, rest_s)
        }
    };
    row.charge_pct = units::pct_from_share(after.charge);
    row.end = Temperatures::of(car, &after);
    row.peak = row.peak.hotter(row.end);
    row.cabin_c = units::c_from_k(after.temperature_k[Node::Cabin]);
    (row, after, residual)
}

/// Carries a day out; it ends early where the pack gives out on a drive.
///
/// # Errors
/// [`Failure::Invalid`] where the car cannot take what rides along on a leg.
pub fn report(prepared: &Prepared, day: &Day) -> Result<DayReport, Failure> {
    let setup = prepared.setup();
    let mut state = *setup.start;
    let mut legs: Vec<DayRow> = Vec::with_capacity(day.len());
    let mut ledger_residual = 0.0;
    for (i, leg) in day.legs.iter().enumerate() {
        let number = i + 1;
        let other = changed(prepared, leg)
            .map_err(|e| Failure::Invalid(format!("leg {number} of the day, {}: {e}", leg.name)))?;
        let on_leg = other.as_ref().unwrap_or(prepared);
        let since_s = legs.iter().map(|leg| leg.time_s).sum();
        let setup = Setup { start: &state, since_s, ..on_leg.setup() };
        let (row, after, residual) = carry_out(&setup, &on_leg.charger, number, leg);
        state = after;
        if f64::abs(residual) > f64::abs(ledger_residual) {
            ledger_residual = residual;
        }
        let given_out = row.kind == LegKind::Drive && row.ending != LegOutcome::Complete;
        legs.push(row);
        if given_out {
            break;
        }
    }
    let sum = |of: fn(&DayRow) -> f64| legs.iter().map(of).sum::<f64>();
    let driving_kwh =
        legs.iter().filter(|r| r.kind == LegKind::Drive).map(|r| r.energy_kwh).sum::<f64>();
    let distance_km = sum(|r| r.distance_km);
    let from = units::pct_from_share(setup.start.charge);
    Ok(DayReport {
        boxes: setup.boxes.to_vec(),
        planned_legs: day.len(),
        complete: legs.len() == day.len() && legs.iter().all(|leg| leg.not_done.is_none()),
        time_s: sum(|r| r.time_s),
        distance_km,
        driving_kwh,
        wh_per_km: per_km(units::wh_from_kwh(driving_kwh), distance_km),
        wall_kwh: sum(|r| r.wall_kwh),
        charge_from_pct: from,
        charge_left_pct: units::pct_from_share(state.charge),
        lowest_charge_pct: legs.iter().map(|r| r.charge_pct).fold(from, f64::min),
        peak: legs
            .iter()
            .map(|leg| leg.peak)
            .fold(Temperatures::of(setup.car, setup.start), Temperatures::hotter),
        warnings: Warnings::of(setup.car),
        ledger_residual,
        legs,
    })
}

/// The figures of a day.
pub const FIGURES: &[Reading<DayReport>] = &[
    yes_no(
        "day_complete",
        "whether all legs are driven to their end and no charge is refused",
        |r| yes(r.complete),
    ),
    plain("day_km", Unit::Km, "distance driven", |r| Some(r.distance_km)),
    lower(
        "day_driving_kwh",
        Unit::Kwh,
        "energy out of the pack while driving, net of regen",
        |r| Some(r.driving_kwh),
    ),
    lower("day_wh_per_km", Unit::WhPerKm, "consumption at the pack while driving", |r| {
        Some(r.wh_per_km)
    }),
    lower("day_wall_kwh", Unit::Kwh, "energy from the sockets", |r| Some(r.wall_kwh)),
    higher("day_charge_left_pct", Unit::Pct, "charge at the end of the day", |r| {
        Some(r.charge_left_pct)
    }),
    higher("day_lowest_charge_pct", Unit::Pct, "lowest charge at the end of a leg", |r| {
        Some(r.lowest_charge_pct)
    }),
    lower("day_winding_c", Unit::C, "hottest winding", |r| Some(r.peak.winding_c)),
    lower("day_heat_sink_c", Unit::C, "hottest controller heat sink", |r| Some(r.peak.heat_sink_c)),
    lower("day_cells_c", Unit::C, "hottest cells", |r| Some(r.peak.cells_c)),
];
