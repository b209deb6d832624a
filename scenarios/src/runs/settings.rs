//! What to program into controller, cell management and charger, so that the parts protect each
//! other.

use crate::inputs::season::Season;
use crate::prepared::Prepared;
use crate::runs::failure::Failure;
use crate::runs::limits::NamedLimit;
use crate::runs::regen::{cruising_gear, half_charge};
use crate::warning::{Severity, Warning};
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::brakes::{Braking, pedals_up};
use sim_core::car::Parts;
use sim_core::motor::Field;
use sim_core::steady::SETTLED_S;
use sim_core::{Car, Curve, Node, State, units};

/// What the settings are to hold for.
#[derive(Debug, Clone, PartialEq)]
pub struct Hardest {
    /// Coldest cells, °C; left out, those of the scenario's coldest season.
    pub cells_c: Option<f64>,
    /// How much the resistance of worn cells has grown over that of new ones, %.
    pub growth_pct: f64,
    /// Charge of the charger's daily stop.
    pub daily: f64,
}

impl Default for Hardest {
    /// Cells of twice the resistance, at which many makers call them worn out (common practice, no
    /// source), charged to 80 % on most days.
    fn default() -> Self {
        Self { cells_c: None, growth_pct: 100.0, daily: 0.8 }
    }
}

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

/// Currents that controller and cells bear between two cell temperatures.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CurrentRow {
    /// From which temperature of the cells, °C.
    pub from_c: f64,
    /// Up to which, °C.
    pub to_c: f64,
    /// Out of the pack for a short time, A.
    pub out_short_a: f64,
    /// Out of the pack for long, A.
    pub out_long_a: f64,
    /// Into the pack for a short time, up to the first of the charges, A.
    pub in_short_a: f64,
    /// Into the pack for long, up to each of the charges, A.
    pub in_long_a: Vec<f64>,
}

/// What cold worn cells give with the under-voltage settings.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ColdCase {
    /// Charge, %.
    pub charge_pct: f64,
    /// Current that is left at full throttle, A.
    pub current_a: f64,
    /// Voltage of the pack then, V.
    pub pack_v: f64,
    /// Voltage of its weakest cell, V.
    pub weakest_v: f64,
    /// How far that stays above the cells' lowest voltage, V.
    pub clear_v: f64,
    /// Power at the pack, kW.
    pub power_kw: f64,
}

/// A setting of a pedal, as a controller may take it.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Pedal {
    /// Which.
    pub name: &'static str,
    /// Torque of the motor, N·m.
    pub torque_nm: f64,
    /// The same, % of its peak torque.
    pub torque_pct: f64,
    /// Current of the motor for it, A.
    pub motor_a: f64,
    /// Whether no file says it.
    pub assumed: bool,
    /// Speed at which the rest holds, km/h.
    pub at_kmh: f64,
    /// Gear, counted from 1.
    pub gear: usize,
    /// How hard the car slows, m/s².
    pub slows_mps2: f64,
    /// Current into the pack, A.
    pub pack_a: f64,
    /// Power into the pack, kW.
    pub pack_kw: f64,
    /// Share of the driven tyres' grip, %.
    pub grip_pct: f64,
    /// What holds it back there.
    pub held_by: Option<NamedLimit>,
}

/// What to program.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SettingsReport {
    /// Coldest cells for which the settings hold, °C.
    pub coldest_c: f64,
    /// Whether the caller or the scenario named them; else they are a typical winter's.
    pub coldest_given: bool,
    /// Growth of resistance of the worn cells for which they hold, %.
    pub worn_pct: f64,
    /// Temperature of warm cells, °C.
    pub warm_c: f64,
    /// The settings.
    pub settings: Vec<Setting>,
    /// How long the short currents last, s.
    pub short_s: f64,
    /// Charges up to which the columns of `in_long_a` hold, %.
    pub in_up_to_pct: Vec<f64>,
    /// Currents by cell temperature.
    pub currents: Vec<CurrentRow>,
    /// What cold worn cells give.
    pub cold: Vec<ColdCase>,
    /// The pedals' regen; none where the motor makes none.
    pub pedals: Vec<Pedal>,
    /// Speed below which regen is off, km/h.
    pub fade_out_kmh: f64,
    /// Speed above which it is whole, km/h.
    pub full_above_kmh: f64,
    /// Parts that contradict each other, worst first.
    pub contradictions: Vec<Warning>,
    /// What no part's data say and somebody has to be asked for.
    pub not_known: Vec<String>,
    /// The settings that the simulation can drive with, as values to be put in place of the file's;
    /// the cells hold their own currents and voltages there.
    pub drive_with: Vec<String>,
    /// What to beware of.
    pub cautions: [&'static str; 5],
}

/// Settings that are fields of a build, by key and path.
const FIELDS: [(&str, &str); 10] = [
    ("motor_current_a", "controller.motor_current_a"),
    ("pack_current_a", "controller.pack_current_a"),
    ("regen_current_a", "controller.pack_regen_current_a"),
    ("under_voltage_end_v", "controller.min_v"),
    ("over_voltage_v", "controller.max_v"),
    ("max_rpm", "gearbox.max_input_rpm"),
    ("motor_warning_c", "motor.warning_c"),
    ("motor_cut_off_c", "motor.cut_off_c"),
    ("controller_warning_c", "controller.warning_c"),
    ("controller_cut_off_c", "controller.cut_off_c"),
];

const CAUTIONS: [&str; 5] = [
    "A traction pack kills, whatever its charge: settings are changed with the car on stands, and \
     wiring is for people who are licensed for it.",
    "The makers' manuals of controller, charger and management of the cells come before this page: \
     where they ask for less, less it is.",
    "A setting is no fuse: fuse, contactors and the management that opens them must cut off what a \
     broken controller lets through.",
    "Regen is no brake: it vanishes with a full or cold pack and at low speed.",
    "After a change, drive first with a cable to the controller and read back that the currents and \
     voltages stay within what stands here.",
];

/// Temperature at which cells are rated, °C (IEC 62660-1, from memory).
const WARM_C: f64 = 25.0;
/// How closely a charger keeps its voltage, as a share (common practice, no source).
pub const CHARGER_ACCURACY: f64 = 0.005;
/// Charge that a stop by voltage may be off before another way to stop is better, as a share.
const WORTH_STOPPING: f64 = 0.1;
/// Room between begin and end of the under-voltage cut-back where the pack leaves none, as a share of
/// the end (common practice, no source).
const LEAST_ROOM: f64 = 0.02;
/// Ends of the steps in cell temperature, °C.
const STEPS_C: [f64; 15] =
    [-30.0, -20.0, -10.0, -5.0, 0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 35.0, 45.0, 50.0, 55.0, 60.0];
/// Charges up to which currents into the pack are told, as far as the pack is filled.
const IN_UP_TO: [f64; 4] = [0.5, 0.8, 0.9, 0.95];
/// Speed at which the pedals are told of, km/h.
const PEDALS_KMH: f64 = 50.0;

fn down(value: f64, step: f64) -> f64 {
    tidy((value / step + 1e-6).floor() * step)
}

fn up(value: f64, step: f64) -> f64 {
    tidy((value / step - 1e-6).ceil() * step)
}

/// Without what binary fractions add.
fn tidy(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}

/// A current as it is programmed: in whole amperes, small ones in tenths, never more than it.
fn amps(value: f64) -> f64 {
    down(value.max(0.0), if value >= 20.0 { 1.0 } else { 0.1 })
}

/// A car standing as it is asked about.
fn standing(car: &Car, charge: f64, cells_k: f64, peak_reserve: f64) -> State {
    let parked = State::parked(charge, car.surroundings().air_k);
    State { peak_reserve, ..parked.warmed(Node::Cells, cells_k) }
}

/// Current that the cells give at a temperature with so much of their short peak left, A.
fn cells_out_a(car: &Car, cells_k: f64, reserve: f64) -> f64 {
    let state = standing(car, car.parts().pack.max_charge, cells_k, reserve);
    car.now(&state, SETTLED_S).pack.discharge_a.0
}

/// Current that controller, cells and their highest voltages let into the pack, A.
fn into_a(car: &Car, charge: f64, cells_k: f64, reserve: f64) -> f64 {
    let parts = car.parts();
    let now = car.now(&standing(car, charge, cells_k, reserve), SETTLED_S).pack;
    let by_cells_v = now.current_at_high_cell_a(parts.pack.cell.max_v, parts.pack.parallel);
    let by_controller_v = (parts.controller.max_v - now.emf_v) / now.ohm;
    let most_a = now.charge_a.0.min(parts.controller.pack_regen_current_a);
    most_a.min(by_cells_v).min(by_controller_v).max(0.0)
}

/// The least of something between two temperatures, looked at wherever a curve of the cells has a
/// corner.
fn least_between(car: &Car, (from_k, to_k): (f64, f64), of: impl Fn(f64) -> f64) -> f64 {
    let cell = &car.parts().pack.cell;
    let curves = [&cell.discharge_factor, &cell.charge_factor, &cell.resistance_factor];
    let corners = curves.into_iter().flat_map(Curve::points).map(|(k, _)| k);
    let within = corners.filter(|k| (from_k..to_k).contains(k));
    within.chain([from_k, to_k]).map(of).fold(f64::INFINITY, f64::min)
}

/// Charges from empty to a charge, close enough that no corner of a cell's curve lies between by much.
fn charges(from: f64, to: f64) -> impl Iterator<Item = f64> + Clone {
    (0..=200).map(move |i| from + (to - from) * f64::from(i) / 200.0)
}

/// Charge of the mean cell of a warm pack that is empty.
fn empty(car: &Car) -> f64 {
    car.parts().pack.mean_charge_when_empty(units::k_from_c(WARM_C))
}

/// From where to where a share is more than nothing, as far as the curve says it, °C.
fn allowed_c(curve: &Curve) -> (Option<f64>, Option<f64>) {
    let points: Vec<(f64, f64)> = curve.points().collect();
    let is_none = |point: &&(f64, f64)| point.1 <= 0.0;
    let low = points.iter().take_while(is_none).last();
    let high = points.iter().rev().take_while(is_none).last();
    let c = |point: Option<&(f64, f64)>| point.map(|(k, _)| units::c_from_k(*k));
    (c(low), c(high))
}

/// What no file says of a car.
struct Known<'a>(&'a Prepared);

impl Known<'_> {
    /// Whether a field of the build was taken as typical.
    fn is_assumed(&self, path: &str) -> bool {
        let whole = format!("build.{path}");
        let listed = self.0.scenario.build.assumed.iter().flatten();
        self.0.assumptions.iter().any(|one| one.path == whole)
            || listed.into_iter().any(|one| path.starts_with(one.as_str()))
    }

    /// A part that asks for no more, or no less, than a limit.
    fn ask(&self, part: impl Into<String>, path: &str, limit: f64) -> Ask {
        Ask { part: part.into(), limit, clear: 0.0, assumed: self.is_assumed(path) }
    }
}

impl Setting {
    fn new(key: &'static str, place: Place, name: impl Into<String>, unit: &'static str) -> Self {
        let name = name.into();
        Self { key, place, name, value: None, unit, ask: None, asks: Vec::new(), note: None }
    }

    /// No more than each part asks for.
    fn at_most(self, asks: Vec<Ask>, round: impl Fn(f64) -> f64) -> Self {
        let least = asks.iter().map(|ask| ask.limit).fold(f64::INFINITY, f64::min);
        let value = round(least);
        self.of(asks, value, |ask| ask.limit - value)
    }

    /// No less than each part asks for.
    fn at_least(self, asks: Vec<Ask>, round: impl Fn(f64) -> f64) -> Self {
        let most = asks.iter().map(|ask| ask.limit).fold(f64::NEG_INFINITY, f64::max);
        let value = round(most);
        self.of(asks, value, |ask| value - ask.limit)
    }

    /// A value, or whom to ask where no file says anything.
    fn of(mut self, asks: Vec<Ask>, value: f64, clear: impl Fn(&Ask) -> f64) -> Self {
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

    fn sorted(mut self) -> Self {
        self.asks.sort_by(|a, b| a.clear.total_cmp(&b.clear));
        self
    }

    /// What a car has where it is set: the value, or what its parts are taken to bear.
    fn or_typical(&self) -> f64 {
        let least = self.asks.iter().map(|ask| ask.limit).fold(f64::INFINITY, f64::min);
        self.value.unwrap_or(if least.is_finite() { least } else { 0.0 })
    }

    fn noted(self, note: impl Into<String>) -> Self {
        Self { note: Some(note.into()), ..self }
    }
}

/// Whom to ask.
fn maker(part: &str) -> String {
    match part {
        "cells" => "not known: ask the cells' maker".to_owned(),
        part => format!("not known: ask the {part}'s maker"),
    }
}

/// The parts of a report that hang on each other.
struct Making<'a> {
    prepared: &'a Prepared,
    known: Known<'a>,
    car: &'a Car,
    worn: Car,
    coldest_k: f64,
    warm_k: f64,
    /// What 12 V converter and heater may take beside the controller, at the lowest voltage, A.
    auxiliaries_a: f64,
    end: Setting,
    end_v: f64,
}

/// The worn car.
fn worn(prepared: &Prepared, growth_pct: f64) -> Result<Car, Failure> {
    let changed = prepared.changed(|scenario| {
        let pack = &mut scenario.build.pack;
        let own = pack.resistance_growth_pct.unwrap_or(0.0);
        pack.resistance_growth_pct = Some(own.max(growth_pct));
    });
    Ok(changed.map_err(|e| Failure::Invalid(e.to_string()))?.car)
}

/// Coldest cells of a scenario, °C.
pub(crate) fn coldest_c(prepared: &Prepared) -> f64 {
    let scenario = &prepared.scenario;
    let seasons = Season::of(scenario.seasons.as_deref(), &scenario.build, &mut Vec::new());
    let own = units::c_from_k(prepared.start.temperature_k[Node::Cells]);
    seasons.iter().map(|season| season.cells_c.unwrap_or(season.air_c)).fold(own, f64::min)
}

/// The end of the under-voltage cut-back: where the first part would be hurt.
fn under_voltage_end(known: &Known<'_>, car: &Car) -> Setting {
    let (pack, controller) = (&car.parts().pack, &car.parts().controller);
    let corners = pack
        .cell
        .open_circuit_v
        .points()
        .flat_map(|(charge, _)| [charge, 1.0 - (1.0 - charge) * (1.0 - pack.capacity_spread)]);
    let (low, high) = (empty(car), pack.max_charge);
    let inside = corners.filter(|charge| (low..high).contains(charge));
    let cells_v = inside
        .chain(charges(low, high))
        .map(|charge| {
            let now = car.now(&standing(car, charge, units::k_from_c(WARM_C), 1.0), 0.0).pack;
            now.pack_v_at_low_cell(pack.cell.min_v, pack.series)
        })
        .fold(f64::NEG_INFINITY, f64::max);
    let cells = format!("cells: the weakest at its lowest voltage, {} V", pack.cell.min_v);
    let asks = vec![
        known.ask(cells, "pack.cell.min_v", cells_v),
        known.ask("controller: stops below", "controller.min_v", controller.min_v),
    ];
    Setting::new("under_voltage_end_v", Place::Controller, "under-voltage: nothing left at", "V")
        .at_least(asks, |v| up(v, 0.1))
        .noted("of the pack at the controller; the weakest cell, not the mean one, sets it")
}

impl<'a> Making<'a> {
    fn new(prepared: &'a Prepared, hardest: &Hardest) -> Result<Self, Failure> {
        let (car, known) = (&prepared.car, Known(prepared));
        let end = under_voltage_end(&known, car);
        let end_v = end.or_typical();
        let cold_c = hardest.cells_c.unwrap_or_else(|| coldest_c(prepared));
        // A cabin at absolute zero asks for all of the heater.
        let auxiliaries_w = car.parts().auxiliaries.pack_w(0.0);
        Ok(Self {
            worn: worn(prepared, hardest.growth_pct)?,
            coldest_k: units::k_from_c(cold_c),
            warm_k: units::k_from_c(WARM_C),
            auxiliaries_a: auxiliaries_w / end_v.max(1.0),
            prepared,
            known,
            car,
            end,
            end_v,
        })
    }

    fn motor_current(&self) -> Setting {
        let parts = self.car.parts();
        let machine = &parts.motor.machine;
        let mut asks = vec![
            self.known.ask(
                "controller: its largest motor current",
                "controller.motor_current_a",
                parts.controller.motor_current_a,
            ),
            self.known.ask(
                "motor: its peak current",
                "motor.peak_current_a",
                machine.peak_current_a,
            ),
        ];
        for (part, path, nm) in [
            ("gearbox: largest input torque", "gearbox.max_input_nm", parts.gearbox.max_input_nm),
            ("clutch: slips above", "gearbox.clutch.max_nm", parts.gearbox.clutch_nm),
        ] {
            if nm.is_finite() {
                let part = format!("{part}, {nm:.0} N·m");
                asks.push(self.known.ask(part, path, machine.current_for_at_most_a(nm)));
            }
        }
        Setting::new("motor_current_a", Place::Controller, "motor current, at most", "A")
            .at_most(asks, amps)
    }

    /// Asks for a current out of the pack with so much of the cells' short peak left.
    fn out_of_pack(&self, cells_k: f64, reserve: f64, cells: &str) -> Vec<Ask> {
        let cells_a = cells_out_a(self.car, cells_k, reserve) - self.auxiliaries_a;
        let own_a = self.car.parts().controller.pack_current_a;
        let cells = match self.auxiliaries_a {
            beside if beside >= 0.5 => format!("{cells}, less {beside:.0} A for 12 V and heater"),
            _ => cells.to_owned(),
        };
        vec![
            self.known.ask(
                "controller: its largest pack current",
                "controller.pack_current_a",
                own_a,
            ),
            self.known.ask(cells, "pack.cell.discharge_a", cells_a.max(0.0)),
        ]
    }

    fn pack_currents(&self) -> [Setting; 3] {
        let peak_s = self.car.parts().pack.cell.peak_s;
        let cold_c = units::c_from_k(self.coldest_k);
        let new = |key, name: String| Setting::new(key, Place::Controller, name, "A");
        let hot_k = self.car.parts().pack.cell.warning_k().unwrap_or(self.warm_k);
        let hot_k = hot_k.max(self.coldest_k);
        let whole = (self.coldest_k, hot_k);
        let coldest = least_between(self.car, whole, |k| cells_out_a(self.car, k, 0.0));
        let mut cold = self.out_of_pack(self.warm_k, 0.0, "cells: for long, when coldest");
        cold[1].limit = (coldest - self.auxiliaries_a).max(0.0);
        [
            new("pack_current_a", format!("pack current, for at most {peak_s:.0} s"))
                .at_most(self.out_of_pack(self.warm_k, 1.0, "cells: their short peak"), amps)
                .noted("where controller or cell management lowers it after that time"),
            new("pack_current_long_a", "pack current, for long".to_owned())
                .at_most(self.out_of_pack(self.warm_k, 0.0, "cells: what they give for long"), amps)
                .noted("for warm cells; cold ones give what stands in the table"),
            new("pack_current_cold_a", "pack current where it is a single number".to_owned())
                .at_most(cold, amps)
                .noted(format!(
                    "it holds for long, with cells from {cold_c:.0} to {:.0} °C, where nothing lowers \
                     it by time or by their temperature",
                    units::c_from_k(hot_k)
                )),
        ]
    }

    fn regen_currents(&self, over_v: f64) -> [Setting; 3] {
        let parts = self.car.parts();
        let half = half_charge(self.car);
        let own_a = parts.controller.pack_regen_current_a;
        let asks = |reserve: f64, cells: &str| {
            let now = self.car.now(&standing(self.car, half, self.warm_k, reserve), SETTLED_S).pack;
            let by_v = now.current_at_high_cell_a(parts.pack.cell.max_v, parts.pack.parallel);
            vec![
                self.known.ask(
                    "controller: its largest current into the pack",
                    "controller.pack_regen_current_a",
                    own_a,
                ),
                self.known.ask(cells, "pack.cell.charge_a", now.charge_a.0),
                self.known.ask("cells: the highest at its voltage", "pack.cell.max_v", by_v),
            ]
        };
        let new = |key, name: String| Setting::new(key, Place::Controller, name, "A");
        let peak_s = parts.pack.cell.peak_s;
        let stays = format!("for warm cells at half charge; over {over_v} V there is none");
        let whole = (self.coldest_k, self.warm_k.max(self.coldest_k));
        let mut cold = asks(0.0, "cells: for long, when coldest");
        cold[1].limit = least_between(self.car, whole, |k| {
            self.car.now(&standing(self.car, half, k, 0.0), SETTLED_S).pack.charge_now_a().0
        });
        [
            new("regen_current_a", format!("regen into the pack, for at most {peak_s:.0} s"))
                .at_most(asks(1.0, "cells: their short peak"), amps)
                .noted(stays),
            new("regen_current_long_a", "regen into the pack, for long".to_owned())
                .at_most(asks(0.0, "cells: what they take for long"), amps)
                .noted("down a long hill; by charge and temperature it is in the table"),
            new("regen_current_cold_a", "regen where it is a single number".to_owned())
                .at_most(cold, amps)
                .noted(format!(
                    "with cells from {:.0} °C on, where nothing lowers it by their temperature: charging \
                     cold cells plates lithium, and they are lost; at 0, regen stays off until they are warm",
                    units::c_from_k(self.coldest_k)
                )),
        ]
    }

    fn over_voltage(&self) -> Setting {
        let parts = self.car.parts();
        let (low, high) = (empty(self.car), parts.pack.max_charge);
        let cells_v = charges(low, high)
            .map(|charge| {
                let now = self.car.now(&standing(self.car, charge, self.warm_k, 1.0), 0.0).pack;
                now.pack_v_at_high_cell(parts.pack.cell.max_v, parts.pack.series)
            })
            .fold(f64::INFINITY, f64::min);
        let cells = format!("cells: the first at its highest voltage, {} V", parts.pack.cell.max_v);
        let asks = vec![
            self.known.ask(cells, "pack.cell.max_v", cells_v),
            self.known.ask("controller: stops above", "controller.max_v", parts.controller.max_v),
        ];
        Setting::new("over_voltage_v", Place::Controller, "over-voltage: no regen from", "V")
            .at_most(asks, |v| down(v, 0.1))
    }

    /// Voltage of a pack that is empty and gives a current for long, V.
    fn empty_v(&self, car: &Car, cells_k: f64, out_a: f64) -> f64 {
        let state = standing(car, car.parts().pack.mean_charge_when_empty(cells_k), cells_k, 0.0);
        let now = car.now(&state, SETTLED_S).pack;
        now.emf_v - now.ohm * out_a
    }

    /// The begin of the under-voltage cut-back: as high as costs nothing while the pack is warm.
    fn under_voltage_start(&self, out_a: f64) -> Setting {
        let warm_v = self.empty_v(self.car, self.warm_k, out_a);
        let room_v = warm_v.max(self.end_v * (1.0 + LEAST_ROOM));
        let start_v = down(room_v, 0.1).max(tidy(self.end_v + 0.1));
        let mut asks: Vec<Ask> = self.end.asks.clone();
        asks.iter_mut().for_each(|ask| ask.clear = tidy(start_v - ask.limit));
        if warm_v >= start_v {
            let words = format!("pack: warm and empty, it gives {out_a:.0} A at");
            let clear = tidy(warm_v - start_v);
            asks.push(Ask { part: words, limit: warm_v, clear, assumed: false });
        }
        let note = if warm_v > start_v - 1e-9 {
            "no higher, so that a warm pack is not cut back before it is empty; more resistance, of \
             cells or harness, leaves less room above the end"
                .to_owned()
        } else {
            format!(
                "even a warm pack is cut back before it is empty: at {out_a:.0} A it has \
                 {warm_v:.1} V then"
            )
        };
        let setting = Setting::new(
            "under_voltage_start_v",
            Place::Controller,
            "under-voltage: cut-back begins at",
            "V",
        );
        Setting { value: Some(start_v), asks, ..setting }.sorted().noted(note)
    }

    fn rpm(&self) -> Setting {
        let parts = self.car.parts();
        let rpm = units::rpm_from_radps;
        let max_rpm = rpm(parts.motor.max_radps);
        let mut asks = vec![self.known.ask("motor: its highest speed", "motor.max_rpm", max_rpm)];
        if parts.gearbox.max_input_radps.is_finite() {
            asks.push(self.known.ask(
                "gearbox: its highest input speed",
                "gearbox.max_input_rpm",
                rpm(parts.gearbox.max_input_radps),
            ));
        }
        Setting::new("max_rpm", Place::Controller, "motor speed, at most", "rpm")
            .at_most(asks, |v| down(v, 10.0))
    }

    fn temperatures(&self) -> Vec<Setting> {
        let parts = self.car.parts();
        let c = units::c_from_k;
        let (motor, controller) = (&parts.motor.derating, &parts.controller.derating);
        [
            (
                "motor_warning_c",
                "motor: cut-back begins at",
                "motor: its winding",
                "motor.warning_c",
                c(motor.warning_k),
            ),
            (
                "motor_cut_off_c",
                "motor: nothing left at",
                "motor: its winding",
                "motor.cut_off_c",
                c(motor.cut_off_k),
            ),
            (
                "controller_warning_c",
                "controller: cut-back begins at",
                "controller: its heat sink",
                "controller.warning_c",
                c(controller.warning_k),
            ),
            (
                "controller_cut_off_c",
                "controller: nothing left at",
                "controller: its heat sink",
                "controller.cut_off_c",
                c(controller.cut_off_k),
            ),
        ]
        .into_iter()
        .map(|(key, name, part, path, limit_c)| {
            let setting = Setting::new(key, Place::Controller, name, "°C")
                .at_most(vec![self.known.ask(part, path, limit_c)], |c| down(c, 1.0));
            match key {
                "motor_warning_c" => setting.noted(
                    "of the winding itself: a sensor on the housing shows tens of kelvins less under load; \
                     ask the motor's maker where it sits and what to set there",
                ),
                _ => setting,
            }
        })
        .collect()
    }

    fn of_cells(&self) -> Vec<Setting> {
        let parts = self.car.parts();
        let cell = &parts.pack.cell;
        let new = |key, name: &str, unit| Setting::new(key, Place::CellManagement, name, unit);
        let low = self.known.ask("cells: their lowest voltage", "pack.cell.min_v", cell.min_v);
        let high = self.known.ask("cells: their highest voltage", "pack.cell.max_v", cell.max_v);
        let mut all = vec![
            new("cell_low_v", "lowest cell, drive off at", "V").at_least(vec![low], tidy).noted(
                "the controller's cut-back by voltage comes first, as it ends where the weakest cell \
                 would get there",
            ),
            new("cell_high_v", "highest cell, charge off at", "V").at_most(vec![high], tidy),
        ];
        for (keys, names, path, curve) in [
            (
                ["drive_low_c", "drive_high_c"],
                ["coldest cell that gives", "hottest cell that gives"],
                "pack.cell.discharge_share",
                &cell.discharge_factor,
            ),
            (
                ["charge_low_c", "charge_high_c"],
                ["coldest cell that takes charge", "hottest cell that takes charge"],
                "pack.cell.charge_share",
                &cell.charge_factor,
            ),
        ] {
            let (low_c, high_c) = allowed_c(curve);
            for (i, limit_c) in [low_c, high_c].into_iter().enumerate() {
                let setting = new(keys[i], names[i], "°C");
                let ask = |limit_c| {
                    vec![self.known.ask("cells: nothing is left of their current", path, limit_c)]
                };
                all.push(match limit_c {
                    Some(limit_c) if i == 0 => setting.at_least(ask(limit_c), |c| up(c, 1.0)),
                    Some(limit_c) => setting.at_most(ask(limit_c), |c| down(c, 1.0)),
                    None => Setting { ask: Some(maker("cells")), ..setting },
                });
            }
        }
        all
    }

    /// Voltage at which a charger that lets its current fall to its end current stops at a charge, V.
    fn charger_v(&self, charge: f64, end_a: f64) -> f64 {
        let now = self.car.now(&standing(self.car, charge, self.warm_k, 0.0), SETTLED_S).pack;
        now.emf_v + now.ohm * end_a
    }

    fn of_charger(&self, daily: f64, over_v: f64) -> Vec<Setting> {
        let parts = self.car.parts();
        let pack = &parts.pack;
        let charger = &self.prepared.charger;
        let new = |key, name: String, unit| Setting::new(key, Place::Charger, name, unit);
        let end_a = units::ah_from_as(charger.end_c_rate * pack.capacity_as());
        let lowest_v = self.charger_v(empty(self.car), 0.0);
        let long_a =
            self.car.now(&standing(self.car, half_charge(self.car), self.warm_k, 0.0), 0.0);
        let current = new("charger_current_a", "current, at most".to_owned(), "A")
            .at_most(
                vec![
                    self.known.ask(
                        "charger: what its power gives on an empty pack",
                        "charger.power_kw",
                        charger.power_w / lowest_v.max(1.0),
                    ),
                    self.known.ask(
                        "cells: what they take for long",
                        "pack.cell.charge_a",
                        long_a.pack.charge_now_a().0,
                    ),
                ],
                amps,
            )
            .noted("for warm cells; cold ones take what stands in the table, for long");
        let most_v = self
            .car
            .now(&standing(self.car, pack.max_charge, self.warm_k, 0.0), 0.0)
            .pack
            .pack_v_at_high_cell(pack.cell.max_v, pack.series)
            .min(over_v.max(pack.series * pack.cell.open_circuit_v.at(pack.max_charge)));
        let stop = |charge: f64| {
            let stop_v = self.charger_v(charge, end_a);
            let at = |share: f64| stop_v * share;
            let reached = |volts: f64| {
                let found = charges(0.0, 1.0).find(|s| self.charger_v(*s, end_a) >= volts);
                found.unwrap_or(1.0)
            };
            (reached(at(1.0 - CHARGER_ACCURACY)), reached(at(1.0 + CHARGER_ACCURACY)))
        };
        let told = |charge: f64| {
            let (low, high) = stop(charge);
            let pct = units::pct_from_share;
            let off = format!(
                "a charger that is {} % off ends anywhere from {:.0} to {:.0} %",
                units::pct_from_share(CHARGER_ACCURACY),
                pct(low),
                pct(high)
            );
            match high - low {
                apart if apart < 0.01 => format!(
                    "a charger that is {} % off ends within 1 % of that charge",
                    units::pct_from_share(CHARGER_ACCURACY)
                ),
                apart if apart > WORTH_STOPPING => {
                    format!("{off}: stop by counted charge or by time instead")
                }
                _ => off,
            }
        };
        let charge_ask = |charge: f64, volts: f64| {
            let words = format!(
                "pack: {:.0} % charged when {end_a:.1} A are left",
                units::pct_from_share(charge)
            );
            self.known.ask(words, "pack.max_charge_pct", volts)
        };
        let cells = "cells: the first at its highest voltage";
        let daily = daily.min(pack.max_charge);
        let mut all = vec![current];
        for (key, name, charge) in [
            ("charger_full_v", "end voltage, full".to_owned(), pack.max_charge),
            (
                "charger_daily_v",
                format!("end voltage, daily stop at {:.0} %", units::pct_from_share(daily)),
                daily,
            ),
        ] {
            let asks = vec![
                charge_ask(charge, self.charger_v(charge, end_a)),
                self.known.ask(cells, "pack.cell.max_v", most_v),
            ];
            let setting = new(key, name, "V").at_most(asks, |v| down(v, 0.1));
            all.push(setting.noted(told(charge)));
        }
        let ends = vec![self.known.ask(
            "charger: where its full charge ends",
            "charger.end_c_rate",
            end_a,
        )];
        all.push(
            new("charger_end_current_a", "current at which it ends".to_owned(), "A")
                .at_least(ends, |a| up(a, 0.1)),
        );
        all
    }

    fn currents(&self, in_up_to: &[f64]) -> Vec<CurrentRow> {
        let low = empty(self.car);
        let out = |from_to, reserve: f64| {
            let cells_a = least_between(self.car, from_to, |k| cells_out_a(self.car, k, reserve));
            let left_a = cells_a - self.auxiliaries_a;
            amps(left_a.min(self.car.parts().controller.pack_current_a))
        };
        let into = |from_to, up_to: f64, reserve: f64| {
            // Worn cells meet their highest voltage first.
            let of = |charge: f64| {
                least_between(&self.worn, from_to, |k| into_a(&self.worn, charge, k, reserve))
            };
            amps(charges(low, up_to).step_by(10).map(of).fold(f64::INFINITY, f64::min))
        };
        let mut rows: Vec<CurrentRow> = Vec::new();
        for ends in STEPS_C.windows(2) {
            let from_to = (units::k_from_c(ends[0]), units::k_from_c(ends[1]));
            let row = CurrentRow {
                from_c: ends[0],
                to_c: ends[1],
                out_short_a: out(from_to, 1.0),
                out_long_a: out(from_to, 0.0),
                in_short_a: into(from_to, in_up_to[0], 1.0),
                in_long_a: in_up_to.iter().map(|up_to| into(from_to, *up_to, 0.0)).collect(),
            };
            match rows.last_mut() {
                Some(before)
                    if (CurrentRow { from_c: before.from_c, to_c: before.to_c, ..row.clone() })
                        == *before =>
                {
                    before.to_c = row.to_c;
                }
                _ => rows.push(row),
            }
        }
        rows
    }

    fn cold(&self, start_v: f64, out_a: f64) -> Vec<ColdCase> {
        let pack = &self.worn.parts().pack;
        let own = [0.8, 0.5, 0.2].into_iter();
        own.filter(|charge| *charge > pack.mean_charge_when_empty(self.coldest_k))
            .map(|charge| {
                let state = standing(&self.worn, charge, self.coldest_k, 0.0);
                let now = self.worn.now(&state, SETTLED_S).pack;
                // The controller's line from all of its current to none, against the pack's.
                let room_v = start_v - self.end_v;
                let line_a = (now.emf_v - self.end_v) / (now.ohm + room_v / out_a.max(1e-3));
                let current_a = line_a.min(out_a).min(now.discharge_a.0).max(0.0);
                let pack_v = now.emf_v - now.ohm * current_a;
                let weakest_v = now.cell_spread_v(current_a / pack.parallel).0;
                ColdCase {
                    charge_pct: units::pct_from_share(charge),
                    current_a,
                    pack_v,
                    weakest_v,
                    clear_v: weakest_v - pack.cell.min_v,
                    power_kw: units::kw_from_w(pack_v * current_a),
                }
            })
            .collect()
    }

    fn pedals(&self) -> Vec<Pedal> {
        let parts = self.car.parts();
        let (motor, braking) = (&parts.motor, &parts.braking);
        if !motor.makes_regen() || parts.controller.pack_regen_current_a <= 0.0 {
            return Vec::new();
        }
        let at_mps = units::mps_from_kmh(PEDALS_KMH);
        let gear = cruising_gear(self.car, at_mps);
        let state = standing(self.car, half_charge(self.car), self.warm_k, 1.0);
        let both_nm = braking.lift_off_nm + braking.brake_pedal_nm;
        let given = self.prepared.scenario.build.regen.as_ref();
        let lift_given = given.is_some_and(|r| r.lift_off_pct.or(r.lift_off_nm).is_some());
        let brake_given = given.is_some_and(|r| r.brake_pedal_pct.or(r.brake_pedal_nm).is_some());
        [
            ("lift-off", braking.lift_off_nm, lift_given),
            ("with the brake pedal", both_nm, lift_given && brake_given),
        ]
        .into_iter()
        .map(|(name, torque_nm, given)| {
            // Regen by itself, without the friction brakes beside it.
            let braking = Braking { lift_off_nm: torque_nm, ..*braking };
            let alone = Parts { braking, ..parts.clone() };
            let alone = Car::new(alone, *self.car.surroundings());
            let flow = pedals_up(&alone, &state, gear, at_mps);
            Pedal {
                name,
                torque_nm,
                torque_pct: units::pct_of(torque_nm, motor.machine.envelope.largest_nm()),
                motor_a: motor.machine.current_a(torque_nm, Field::WHOLE),
                assumed: !given,
                at_kmh: PEDALS_KMH,
                gear: gear + 1,
                slows_mps2: -flow.acceleration_mps2,
                pack_a: (-flow.pack_a).max(0.0),
                pack_kw: units::kw_from_w((-flow.pack_a * flow.pack_v).max(0.0)),
                grip_pct: units::pct_from_share(flow.grip_used),
                held_by: flow.limit.map(NamedLimit),
            }
        })
        .collect()
    }

    /// Charge that is left where the voltage under a current falls to the controller's lowest, as a
    /// share; `None` where it stays above it until the pack is empty.
    fn left_at_stop(&self, car: &Car, cells_k: f64, out_a: f64) -> Option<f64> {
        let min_v = car.parts().controller.min_v;
        let low = car.parts().pack.mean_charge_when_empty(cells_k);
        let under = |charge: f64| {
            let now = car.now(&standing(car, charge, cells_k, 0.0), SETTLED_S).pack;
            now.emf_v - now.ohm * out_a < min_v
        };
        let high = car.parts().pack.max_charge;
        if !under(low) {
            return None;
        }
        Some(charges(low, high).filter(|charge| under(*charge)).last().unwrap_or(low))
    }

    fn contradictions(&self, long_a: f64, charger_a: f64, over_v: f64) -> Vec<Warning> {
        let parts = self.car.parts();
        let (pack, controller) = (&parts.pack, &parts.controller);
        let mut found = Vec::new();
        let mut warn = |severity, text: String| found.push(Warning { severity, text });
        let cold_c = units::c_from_k(self.coldest_k);
        let pct = units::pct_from_share;
        let full_v = pack.series * pack.cell.open_circuit_v.at(pack.max_charge);
        if full_v > controller.max_v {
            warn(
                Severity::Danger,
                format!(
                    "The full pack rests at {full_v:.1} V, over the {} V that the controller bears: no \
                     setting helps, it takes fewer cells in series or another controller.",
                    controller.max_v
                ),
            );
        }
        if full_v > over_v && full_v <= controller.max_v {
            warn(
                Severity::Limit,
                format!(
                    "The full pack rests at {full_v:.1} V, over the {over_v:.1} V from which there must be no \
                     regen: brakes alone slow the car then. Where the controller knows one over-voltage \
                     alone, at which it stops, it would not come on after a full charge: end the charge \
                     lower, or leave that at the controller's own."
                ),
            );
        }
        if let Some(left) = self.left_at_stop(self.car, self.warm_k, long_a) {
            warn(
                Severity::Danger,
                format!(
                    "The controller stops below {} V, and at {long_a:.0} A the warm pack is there with \
                     {:.0} % of its charge: full throttle then takes the drive away in traffic, before \
                     the cells are empty at {:.0} %. It takes more cells in series, or a controller \
                     that works lower.",
                    controller.min_v,
                    pct(left),
                    pct(empty(self.car))
                ),
            );
        } else if let cold_a = long_a.min(cells_out_a(&self.worn, self.coldest_k, 0.0))
            && let Some(left) = self.left_at_stop(&self.worn, self.coldest_k, cold_a)
        {
            warn(
                Severity::Limit,
                format!(
                    "At {cold_c:.0} °C worn cells that give {cold_a:.0} A bring the pack under the {} V \
                     at which the controller stops from {:.0} % of charge on: the cut-back by voltage \
                     must be on, or the drive goes away.",
                    controller.min_v,
                    pct(left)
                ),
            );
        }
        let weakest_v =
            self.car.now(&standing(self.car, empty(self.car), self.warm_k, 0.0), 0.0).pack;
        let rested_v = weakest_v.cell_spread_v(0.0).0;
        if rested_v < pack.cell.min_v {
            warn(
                Severity::Danger,
                format!(
                    "At the pack's lowest charge the weakest cell rests at {rested_v:.2} V, under its \
                     lowest voltage, {} V: raise pack.min_charge_pct.",
                    pack.cell.min_v
                ),
            );
        }
        let from_c = STEPS_C.into_iter().filter(|c| *c < WARM_C);
        let mut too_much = from_c.filter(|c| {
            let k = units::k_from_c(*c);
            let state = standing(self.car, half_charge(self.car), k, 0.0);
            let taken_a = self.car.now(&state, 0.0).pack.charge_now_a().0;
            taken_a > 0.0 && taken_a < charger_a
        });
        if let Some(below_c) = too_much.next_back() {
            warn(
                Severity::Limit,
                format!(
                    "The charger gives {charger_a:.0} A, more than the cells take at {below_c:.0} °C: \
                     the management of the cells must be able to lower it, or it is set to what they \
                     take there."
                ),
            );
        }
        found.sort_by_key(|warning| std::cmp::Reverse(warning.severity));
        found
    }

    fn not_known(&self) -> Vec<String> {
        let parts = self.car.parts();
        let mut all = Vec::new();
        if !parts.gearbox.max_input_nm.is_finite() {
            all.push(
                "what torque the gearbox input bears (gearbox.max_input_nm): ask its maker, or take \
                 the donor engine's torque as a sign"
                    .to_owned(),
            );
        }
        if !parts.gearbox.max_input_radps.is_finite() {
            all.push(
                "what speed the gearbox input bears (gearbox.max_input_rpm): ask its maker, or take \
                 the donor engine's highest rpm as a sign"
                    .to_owned(),
            );
        }
        all.push(
            "what fuse, contactors and cables bear: ask their makers; each must carry the pack current \
             for long and break the fault current at the pack's direct voltage"
                .to_owned(),
        );
        for (path, what) in [
            (
                "controller.pack_regen_current_a",
                "what current the controller puts back into the pack",
            ),
            ("pack.cell.charge_share", "what charge current the cells take when cold or hot"),
            ("pack.cell.discharge_share", "what current the cells give when cold or hot"),
            ("charger.power_kw", "what power the charger has"),
            ("charger.end_c_rate", "at which current the charger ends"),
        ] {
            if self.known.is_assumed(path) {
                all.push(format!("{what} ({path}): typical values stand in; ask the maker"));
            }
        }
        all
    }
}

/// What to program so that the parts of a car protect each other.
///
/// # Errors
/// [`Failure::Invalid`] where the worn car cannot be.
pub fn report(prepared: &Prepared, hardest: &Hardest) -> Result<SettingsReport, Failure> {
    let making = Making::new(prepared, hardest)?;
    let over = making.over_voltage();
    let over_v = over.or_typical();
    let [short, long, single] = making.pack_currents();
    let value = Setting::or_typical;
    let (short_a, long_a) = (value(&short), value(&long));
    let start = making.under_voltage_start(long_a + making.auxiliaries_a);
    let start_v = value(&start);
    let charger = making.of_charger(hardest.daily, over_v);
    let charger_a = value(&charger[0]);
    let pack = &prepared.car.parts().pack;
    let below = IN_UP_TO.into_iter().filter(|charge| *charge < pack.max_charge - 1e-9);
    let in_up_to: Vec<f64> = below.chain([pack.max_charge]).collect();
    let pedals = making.pedals();
    let mut settings = vec![making.motor_current(), short, long, single];
    if !pedals.is_empty() {
        settings.extend(making.regen_currents(over_v));
    }
    settings.extend([start, making.end.clone(), over, making.rpm()]);
    settings.extend(making.temperatures());
    settings.extend(making.of_cells());
    settings.extend(charger);
    let braking = &prepared.car.parts().braking;
    // The simulation's controller does not come on over its highest voltage, where a real one only
    // stops regen.
    let full_v = pack.series * pack.cell.open_circuit_v.at(pack.max_charge);
    let can = |key: &str, value: f64| key != "over_voltage_v" || value > full_v;
    let drive_with = FIELDS
        .into_iter()
        .filter_map(|(key, path)| {
            let value = settings.iter().find(|one| one.key == key)?.value?;
            can(key, value).then(|| format!("{path}={value}"))
        })
        .collect();
    Ok(SettingsReport {
        drive_with,
        coldest_c: units::c_from_k(making.coldest_k),
        coldest_given: hardest.cells_c.is_some()
            || prepared.scenario.seasons.as_ref().is_some_and(|seasons| !seasons.is_empty()),
        worn_pct: units::pct_from_share(making.worn.parts().pack.resistance_growth - 1.0),
        warm_c: WARM_C,
        settings,
        short_s: pack.cell.peak_s,
        in_up_to_pct: in_up_to.iter().map(|share| units::pct_from_share(*share)).collect(),
        currents: making.currents(&in_up_to),
        cold: making.cold(start_v, short_a),
        pedals,
        fade_out_kmh: units::kmh_from_mps(braking.fade_out_mps),
        full_above_kmh: units::kmh_from_mps(braking.full_above_mps),
        contradictions: making.contradictions(long_a, charger_a, over_v),
        not_known: making.not_known(),
        cautions: CAUTIONS,
    })
}
