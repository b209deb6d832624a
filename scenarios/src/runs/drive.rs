//! Driving a cycle or a road: consumption, range, heat, and where the energy went.

use crate::prepared::Setup;
use crate::runs::figure::{
    Reading, Report, Unit, higher, lower, or_nothing, per_km, plain, residual, yes, yes_no,
};
use crate::runs::history::{History, Seen};
use crate::runs::limits::{self, LimitMet, NamedLimit};
use crate::runs::temperatures::{Temperatures, Warnings};
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::follow::{self, Drive, DriveEnding, Recorder, STEP_S};
use sim_core::ledger::{Account, Ledger};
use sim_core::range::{self, DRIVEN_SHARE, MOST_ROUNDS, Range};
use sim_core::units;
use sim_core::{Car, Limit, State, Trace};

/// A line of the energy ledger.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LedgerRow {
    /// Account.
    pub account: &'static str,
    /// Energy, kWh.
    pub kwh: f64,
    /// Energy over the distance, Wh/km; nothing where the car stood.
    #[serde(serialize_with = "or_nothing")]
    #[schemars(with = "Option<f64>")]
    pub wh_per_km: f64,
    /// Share of all the energy that moved, %: of what cells, height and speed gave.
    pub share_pct: f64,
}

/// The ledger of a run.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LedgerReport {
    /// Chemical energy taken from the cells, kWh.
    pub chemical_kwh: f64,
    /// Its share of all the energy that moved, %.
    pub chemical_share_pct: f64,
    /// Where it went.
    pub rows: Vec<LedgerRow>,
    /// What is unaccounted for, as a share of the throughput.
    pub residual: f64,
}

/// Name of an account.
pub fn account_name(account: Account) -> &'static str {
    match account {
        Account::Chemical => "cells, chemical energy",
        Account::PackResistance => "pack resistance",
        Account::Controller => "controller",
        Account::Copper => "motor copper",
        Account::Iron => "motor iron",
        Account::Windage => "motor windage",
        Account::Gearbox => "gearbox",
        Account::Clutch => "clutch",
        Account::Rolling => "tyres, bearings, pads",
        Account::Air => "air",
        Account::Brakes => "friction brakes",
        Account::Auxiliaries => "auxiliaries",
        Account::Kinetic => "kinetic, gained",
        Account::Potential => "height, gained",
        Account::Polarisation => "cell polarisation, gained",
    }
}

impl LedgerReport {
    /// From joules over a distance.
    pub fn of(ledger: &Ledger, distance_m: f64) -> Self {
        let chemical_j = ledger[Account::Chemical];
        let km = units::km_from_m(distance_m);
        // Of the chemical energy alone a share would have no bounds: down a hill it is about 0.
        let moved_j = ledger.throughput_j().max(f64::MIN_POSITIVE);
        let rows = Account::ALL[1..]
            .iter()
            .map(|a| LedgerRow {
                account: account_name(*a),
                kwh: units::kwh_from_j(ledger[*a]),
                wh_per_km: per_km(units::wh_from_j(ledger[*a]), km),
                share_pct: units::pct_of(ledger[*a], moved_j),
            })
            .collect();
        Self {
            chemical_kwh: units::kwh_from_j(chemical_j),
            chemical_share_pct: units::pct_of(chemical_j, moved_j),
            rows,
            residual: ledger.residual_share(),
        }
    }
}

/// Why driving a road over and over ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum RangeOutcome {
    /// The weakest cell was empty.
    Empty,
    /// No end was found: the pack was not empty after the most rounds that are tried, or the car does
    /// not drive the road.
    NotFound,
    /// A limit of the pack ended it.
    #[serde(untagged)]
    Limit(NamedLimit),
}

impl RangeOutcome {
    /// In plain words.
    pub fn words(self) -> &'static str {
        match self {
            RangeOutcome::Empty => "the weakest cell was empty",
            RangeOutcome::NotFound => "no end was found in the rounds that were tried",
            RangeOutcome::Limit(limit) => limit.words(),
        }
    }
}

/// How far the charge at the start goes on a road: driven over and over until the weakest cell is
/// empty or the pack can give no more, with the parts as warm at first as at the start.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct RangeReport {
    /// Distance, km.
    pub distance_km: f64,
    /// Why it ended.
    pub ended_by: RangeOutcome,
    /// The same in plain words.
    pub words: String,
    /// Energy taken from the cells, kWh.
    pub cells_kwh: f64,
    /// Charge at the start, %.
    pub from_charge_pct: f64,
    /// Charge at the end, %.
    pub to_charge_pct: f64,
    /// Where the car could no longer keep the road's speed and went on more slowly, if it came to that.
    pub slower: Option<Slower>,
    /// Why the road was not driven to its end even once, if it was not.
    pub not_done: Option<&'static str>,
}

/// Where a car that drove a road could no longer do so: in the next round it fell so far behind that it
/// drove less than 80 % of the road.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Slower {
    /// Distance by then, km.
    pub after_km: f64,
    /// Charge by then, %.
    pub charge_pct: f64,
    /// What held the car back longest in the next round.
    pub by: Option<NamedLimit>,
}

impl RangeReport {
    fn of(setup: &Setup<'_>, found: &Range, trace: &Trace, from_charge: f64) -> Self {
        let outcome = DriveOutcome::from(found.ending);
        let slower = found.behind.map(|behind| Slower {
            after_km: units::km_from_m(behind.distance_m),
            charge_pct: units::pct_from_share(behind.charge),
            by: behind.by.map(NamedLimit),
        });
        let in_first = if found.rounds > 1 { DriveOutcome::Complete } else { outcome };
        let not_done = why_undriven(in_first, found.first_m, trace.distance_m());
        let stands = slower.and_then(|slower| slower.by).filter(|_| found.rounds < MOST_ROUNDS);
        let ended_by = match (outcome, stands) {
            (DriveOutcome::Complete, Some(by)) => RangeOutcome::Limit(by),
            (DriveOutcome::Complete, None) => RangeOutcome::NotFound,
            (DriveOutcome::Empty, _) => RangeOutcome::Empty,
            (DriveOutcome::Limit(limit), _) => RangeOutcome::Limit(limit),
        };
        Self {
            distance_km: units::km_from_m(found.distance_m),
            ended_by,
            words: limits::in_box(ended_by.words(), ended_in(setup, found.ending, &found.end)),
            cells_kwh: units::kwh_from_j(found.chemical_j),
            from_charge_pct: units::pct_from_share(from_charge),
            to_charge_pct: units::pct_from_share(found.end.charge),
            slower,
            not_done,
        }
    }

    /// How far the car keeps the road's speed, km.
    pub fn at_speed_km(&self) -> f64 {
        self.slower.map_or(self.distance_km, |slower| slower.after_km)
    }
}

/// How a drive ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum DriveOutcome {
    /// At the end of the road.
    Complete,
    /// The weakest cell was empty.
    Empty,
    /// A limit of the pack ended it.
    #[serde(untagged)]
    Limit(NamedLimit),
}

impl DriveOutcome {
    /// Of a drive.
    pub fn of(drive: &Drive) -> Self {
        drive.ending.into()
    }
}

impl From<DriveEnding> for DriveOutcome {
    fn from(ending: DriveEnding) -> Self {
        match ending {
            DriveEnding::Complete => DriveOutcome::Complete,
            DriveEnding::Empty(_) | DriveEnding::PackLimited(_, Limit::Charge) => {
                DriveOutcome::Empty
            }
            DriveEnding::PackLimited(_, limit) => DriveOutcome::Limit(NamedLimit(limit)),
        }
    }
}

/// Why a road was not driven, if it was not.
pub(crate) fn undriven(drive: &Drive, trace: &Trace) -> Option<&'static str> {
    why_undriven(DriveOutcome::of(drive), drive.distance_m, trace.distance_m())
}

/// Why a road was not driven, from how the drive ended and from the two distances.
fn why_undriven(ending: DriveOutcome, driven: f64, road: f64) -> Option<&'static str> {
    match ending {
        DriveOutcome::Complete if driven < DRIVEN_SHARE * road => {
            Some("the car fell so far behind that it drove less than 80 % of the road")
        }
        DriveOutcome::Complete => None,
        DriveOutcome::Empty => Some("the weakest cell was empty before the end of the road"),
        DriveOutcome::Limit(limit) => Some(limit.words()),
    }
}

impl Report for DriveReport {
    fn not_done(&self) -> Option<&'static str> {
        why_undriven(self.ending, self.distance_km, self.trace_km)
    }
}

impl Report for RangeReport {
    fn not_done(&self) -> Option<&'static str> {
        self.not_done
    }
}

/// Driving a trace once.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct DriveReport {
    /// What the boxes of a pack in boxes are called, in the order of `pack.boxes`.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schemars(with = "Option<Vec<String>>")]
    pub boxes: Vec<String>,
    /// Name of the road or cycle.
    pub road: String,
    /// How it ended.
    pub ending: DriveOutcome,
    /// Distance driven, km.
    pub distance_km: f64,
    /// Distance of the trace, km.
    pub trace_km: f64,
    /// Time, s.
    pub time_s: f64,
    /// Energy at the pack's terminals, net of regen, kWh.
    pub energy_kwh: f64,
    /// Consumption at the pack's terminals, Wh/km; nothing where the car stood.
    #[serde(serialize_with = "or_nothing")]
    #[schemars(with = "Option<f64>")]
    pub wh_per_km: f64,
    /// The same, mi/kWh.
    #[serde(serialize_with = "or_nothing")]
    #[schemars(with = "Option<f64>")]
    pub mi_per_kwh: f64,
    /// Consumption from the cells, Wh/km: what the pack's own resistance took is in it.
    #[serde(serialize_with = "or_nothing")]
    #[schemars(with = "Option<f64>")]
    pub cells_wh_per_km: f64,
    /// Energy that regen put back at the terminals, kWh.
    pub regen_kwh: f64,
    /// Energy of the friction brakes, kWh.
    pub friction_kwh: f64,
    /// Range on this road, where that was asked for.
    pub range: Option<RangeReport>,
    /// Charge at the start, %.
    pub charge_from_pct: f64,
    /// Charge at the end, %.
    pub charge_to_pct: f64,
    /// Largest discharge current, A.
    pub peak_discharge_a: f64,
    /// Largest charge current, A.
    pub peak_charge_a: f64,
    /// Root mean square of the pack current, A.
    pub rms_pack_a: f64,
    /// Largest motor current, A.
    pub peak_motor_a: f64,
    /// Root mean square of the motor current, A.
    pub rms_motor_a: f64,
    /// Lowest pack voltage, V.
    pub low_pack_v: f64,
    /// Lowest cell voltage, V.
    pub low_cell_v: f64,
    /// Highest cell voltage, V.
    pub high_cell_v: f64,
    /// Largest gap between the cells, V.
    pub cell_gap_v: f64,
    /// Highest temperatures.
    pub peak: Temperatures,
    /// Temperatures at the end.
    pub end: Temperatures,
    /// Temperatures at which parts cut back.
    pub warnings: Warnings,
    /// Largest share of the way from ambient to a warning temperature, %.
    #[serde(skip)]
    pub heat_pct: f64,
    /// When a part first began to cut back, s.
    pub derated_at_s: Option<f64>,
    /// Which part.
    pub derated_by: Option<NamedLimit>,
    /// Whose cells, of a pack in boxes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub derated_in: Option<String>,
    /// The box whose cells ended the drive, of a pack in boxes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ended_in: Option<String>,
    /// Shifts.
    pub shifts: u32,
    /// Whether the trace was followed within the tolerance of 40 CFR 86.115; not where nothing was
    /// driven.
    pub within_tolerance: bool,
    /// Time outside it, s.
    pub outside_s: f64,
    /// Longest time outside it, s.
    pub longest_outside_s: f64,
    /// Largest lag behind the trace, km/h.
    pub largest_lag_kmh: f64,
    /// Largest share of the driven tyres' grip used while slowing, %.
    pub brake_grip_pct: f64,
    /// Largest share of the driven tyres' grip used while driving, %.
    pub drive_grip_pct: f64,
    /// Limits that were met, worst first.
    pub limits: Vec<LimitMet>,
    /// Those of them that held the car back rather than its regen, worst first.
    pub held_back: Vec<LimitMet>,
    /// Where the energy went.
    pub ledger: LedgerReport,
}

/// Highest temperatures of a drive.
pub fn peak(car: &Car, drive: &Drive) -> Temperatures {
    Temperatures::from_k(car, &drive.extremes.hottest_k)
}

/// Drives a trace once and shows every step to a recorder.
pub fn drive<R: Recorder>(setup: &Setup<'_>, trace: &Trace, recorder: &mut R) -> Drive {
    let start = on_trace(setup, trace);
    let gear = gear_for(setup, trace);
    let met = setup.outdoors.over(trace, setup.since_s);
    follow::follow(setup.car, &met, setup.driver, &start, gear, STEP_S, recorder)
}

/// Drives a trace once, moment by moment.
pub fn history(setup: &Setup<'_>, trace: &Trace) -> Vec<Seen> {
    let mut history = History::new(setup.car);
    drive(setup, trace, &mut history);
    history.into_seen()
}

/// The start, at the trace's first speed.
fn on_trace(setup: &Setup<'_>, trace: &Trace) -> sim_core::State {
    let speed_mps = trace.stretches()[0].from_mps;
    sim_core::State { speed_mps, distance_m: 0.0, ..*setup.start }
}

/// The gear that is engaged where a trace begins: the lowest in which the motor turns at less than
/// half of its highest speed, or the gear for pulling away from rest.
fn gear_for(setup: &Setup<'_>, trace: &Trace) -> usize {
    let speed = trace.stretches()[0].from_mps;
    if let sim_core::driver::Shifting::Fixed(gear) = setup.driver.shifting {
        return gear;
    }
    if speed == 0.0 {
        return setup.driver.start_gear;
    }
    let car = setup.car;
    (0..car.gears())
        .find(|g| car.motor_radps(*g, speed) < 0.5 * car.max_radps())
        .unwrap_or(car.gears() - 1)
}

/// The range: a trace driven over and over from the start's charge and temperatures. Weather that
/// changes by the hour is met anew on each round.
pub fn range_of(setup: &Setup<'_>, trace: &Trace) -> RangeReport {
    let start = on_trace(setup, trace);
    let gear = gear_for(setup, trace);
    let met = setup.outdoors.over(trace, setup.since_s);
    let found = range::range(setup.car, &met, setup.driver, &start, gear, STEP_S);
    debug_assert!(found.rounds <= MOST_ROUNDS);
    RangeReport::of(setup, &found, trace, start.charge)
}

/// The box that was at a limit of a drive.
pub(crate) fn box_at<'a>(setup: &Setup<'a>, drive: &Drive, limit: Limit) -> Option<&'a String> {
    drive.box_at(limit).and_then(|own| setup.boxes.get(own))
}

/// The box whose cells first cut back on a drive.
pub(crate) fn derated_in<'a>(setup: &Setup<'a>, drive: &Drive) -> Option<&'a String> {
    drive.derated.filter(|(_, by)| by.is_of_cells())?;
    setup.boxes.get(drive.derated_in)
}

/// The box whose cells ended a drive.
pub(crate) fn ended_in<'a>(
    setup: &Setup<'a>,
    ending: DriveEnding,
    end: &State,
) -> Option<&'a String> {
    let limit = match ending {
        DriveEnding::Complete => return None,
        DriveEnding::Empty(_) => Limit::Charge,
        DriveEnding::PackLimited(_, limit) => limit,
    };
    let of_cells = limit.is_of_cells();
    of_cells.then(|| setup.boxes.get(setup.car.box_that_holds(end, 1.0, limit))).flatten()
}

/// Puts a drive in the units of a workshop.
pub fn report(setup: &Setup<'_>, road: &str, trace: &Trace, drive: &Drive) -> DriveReport {
    let km = units::km_from_m(drive.distance_m);
    let wh = units::wh_from_j(drive.terminal_j);
    let wh_per_km = per_km(wh, km);
    let start_c = units::c_from_k(setup.car.parts().pack.coldest_k(&setup.start.temperature_k));
    let cells_c = (start_c, peak(setup.car, drive).cells_c);
    DriveReport {
        boxes: setup.boxes.to_vec(),
        road: road.to_string(),
        ending: DriveOutcome::of(drive),
        distance_km: km,
        trace_km: units::km_from_m(trace.distance_m()),
        time_s: drive.time_s,
        energy_kwh: units::kwh_from_wh(wh),
        wh_per_km,
        mi_per_kwh: units::mi_per_kwh_from_wh_per_km(wh_per_km),
        cells_wh_per_km: per_km(units::wh_from_j(drive.ledger[Account::Chemical]), km),
        regen_kwh: units::kwh_from_j(drive.regen_j),
        friction_kwh: units::kwh_from_j(drive.ledger[Account::Brakes]),
        range: None,
        charge_from_pct: units::pct_from_share(setup.start.charge),
        charge_to_pct: units::pct_from_share(drive.end.charge),
        peak_discharge_a: drive.extremes.discharge_a,
        peak_charge_a: drive.extremes.charge_a,
        rms_pack_a: drive.rms_pack_a(),
        peak_motor_a: drive.extremes.motor_a,
        rms_motor_a: drive.rms_motor_a(),
        low_pack_v: drive.extremes.low_pack_v,
        low_cell_v: drive.extremes.low_cell_v,
        high_cell_v: drive.extremes.high_cell_v,
        cell_gap_v: drive.extremes.cell_gap_v,
        peak: peak(setup.car, drive),
        end: Temperatures::of(setup.car, &drive.end),
        warnings: Warnings::of(setup.car),
        heat_pct: units::pct_from_share(setup.car.thermal().share(&drive.extremes.hottest_k)),
        derated_at_s: drive.derated.map(|d| d.0),
        derated_by: drive.derated.map(|d| NamedLimit(d.1)),
        derated_in: derated_in(setup, drive).cloned(),
        ended_in: ended_in(setup, drive.ending, &drive.end).cloned(),
        shifts: drive.shifts,
        within_tolerance: drive.distance_m > 0.0 && drive.within_tolerance(),
        outside_s: drive.outside_s,
        longest_outside_s: drive.longest_outside_s,
        largest_lag_kmh: units::kmh_from_mps(drive.largest_lag_mps),
        brake_grip_pct: units::pct_from_share(drive.extremes.brake_grip),
        drive_grip_pct: units::pct_from_share(drive.extremes.drive_grip),
        limits: limits::met(&drive.limited_s, cells_c, |limit| box_at(setup, drive, limit)),
        held_back: limits::met(
            &std::array::from_fn(|i| drive.limited_s[i] - drive.regen_limited_s[i]),
            cells_c,
            |limit| box_at(setup, drive, limit),
        ),
        ledger: LedgerReport::of(&drive.ledger, drive.distance_m),
    }
}

/// The figures of one drive.
pub const FIGURES: &[Reading<DriveReport>] = &[
    lower("wh_per_km", Unit::WhPerKm, "consumption of the road at the pack", |r| Some(r.wh_per_km)),
    lower("cells_wh_per_km", Unit::WhPerKm, "consumption of the road from the cells", |r| {
        Some(r.cells_wh_per_km)
    }),
    higher("regen_kwh", Unit::Kwh, "energy that regen put back on the road", |r| Some(r.regen_kwh)),
    lower("friction_kwh", Unit::Kwh, "energy of the friction brakes on the road", |r| {
        Some(r.friction_kwh)
    }),
    higher("charge_left_pct", Unit::Pct, "charge left at the end of the road", |r| {
        Some(r.charge_to_pct)
    }),
    lower(
        "drive_heat_pct",
        Unit::Pct,
        "how far the hottest part gets from the air to where it cuts back; from 100 on it does",
        |r| Some(r.heat_pct),
    ),
    lower("drive_winding_c", Unit::C, "hottest winding", |r| Some(r.peak.winding_c)),
    lower("drive_heat_sink_c", Unit::C, "hottest controller heat sink", |r| {
        Some(r.peak.heat_sink_c)
    }),
    lower("drive_cells_c", Unit::C, "hottest cells", |r| Some(r.peak.cells_c)),
    lower("drive_coolant_c", Unit::C, "hottest coolant", |r| r.peak.coolant_c),
    plain("drive_oil_c", Unit::C, "hottest oil of the gearbox", |r| Some(r.peak.oil_c)),
    lower("peak_discharge_a", Unit::A, "largest current out of the pack", |r| {
        Some(r.peak_discharge_a)
    }),
    lower("peak_charge_a", Unit::A, "largest current into the pack", |r| Some(r.peak_charge_a)),
    lower("outside_s", Unit::S, "time outside the tolerance of 40 CFR 86.115", |r| {
        Some(r.outside_s)
    }),
    plain("shifts", Unit::Plain, "shifts", |r| Some(f64::from(r.shifts))),
    residual("drive_ledger_residual", |r| Some(r.ledger.residual)),
    higher("drive_derates_after_s", Unit::S, "time until a part is too hot and cuts back", |r| {
        Some(r.derated_at_s.unwrap_or(f64::INFINITY))
    }),
    yes_no("drive_complete", "whether the road is driven to its end", |r| {
        yes(r.not_done().is_none())
    }),
];

/// The figures of driving a road until the pack is empty.
pub const RANGE_FIGURES: &[Reading<RangeReport>] = &[
    higher(
        "range_km",
        Unit::Km,
        "distance until the weakest cell is empty when the road is driven over and over",
        |r| Some(r.distance_km),
    ),
    higher(
        "range_at_speed_km",
        Unit::Km,
        "how much of that the car keeps the road's speed, before a part is too hot or the pack too low",
        |r| Some(r.at_speed_km()),
    ),
];
