//! Charging from a socket: how long, how much, and whether a night is enough for the next day.

use crate::files::error::Error;
use crate::files::output_file::{Growing, Kind};
use crate::inputs::charger::OnBoardCharger;
use crate::inputs::money::Prices;
use crate::inputs::outlet::Outlet;
use crate::prepared::Setup;
use crate::runs::drive;
use crate::runs::figure::{Reading, Report, Unit, higher, lower, residual, yes, yes_no};
use crate::runs::limits::NamedLimit;
use crate::runs::temperatures::BoxTemperatures;
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::charging::{self, ChargeEnding, Charging, Sample, Supply};
use sim_core::follow;
use sim_core::heat::PerNode;
use sim_core::ledger::Account;
use sim_core::units;
use sim_core::{Limit, State, Trace};
use std::path::{Path, PathBuf};

/// Time after which a charge is given up, s.
pub(super) const MOST_S: f64 = units::s_from_h(10.0 * 24.0);

/// What is to be charged, from where and until when.
#[derive(Debug, Clone, PartialEq)]
pub struct ChargePlan {
    /// The socket.
    pub outlet: Outlet,
    /// Charge at the start; left out, what the daily road leaves.
    pub from: Option<f64>,
    /// Charge of the daily stop.
    pub to: f64,
    /// How long the car stands before it is plugged in, s.
    pub after_s: f64,
    /// How long the car stands plugged in over night, s.
    pub night_s: f64,
    /// Price of energy from the wall, per kWh.
    pub energy_per_kwh: Option<f64>,
}

impl Default for ChargePlan {
    /// The smallest of the named sockets from where the daily road ends, up to 80 %, for 8 h.
    fn default() -> Self {
        Self {
            outlet: Outlet::on_circuit("120v-15a".to_owned(), 120.0, 15.0),
            from: None,
            to: 0.8,
            after_s: 0.0,
            night_s: units::s_from_h(8.0),
            energy_per_kwh: None,
        }
    }
}

impl ChargePlan {
    /// The same with the scenario's price of energy, where it names none itself.
    pub fn priced(&self, prices: &Prices) -> Self {
        Self { energy_per_kwh: self.energy_per_kwh.or(prices.energy_per_kwh), ..self.clone() }
    }
}

/// The socket of a charge.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SocketReport {
    /// Name.
    pub name: String,
    /// Voltage, V.
    pub volts: f64,
    /// Current drawn for hours, A.
    pub amps: f64,
    /// Rating of the circuit, A, where the 80 % rule for continuous loads was applied.
    pub circuit_a: Option<f64>,
    /// Power from the wall, kW.
    pub power_kw: f64,
}

impl SocketReport {
    fn of(outlet: &Outlet) -> Self {
        Self {
            name: outlet.name.clone(),
            volts: outlet.volts,
            amps: outlet.amps,
            circuit_a: outlet.circuit_a,
            power_kw: units::kw_from_w(outlet.power_w()),
        }
    }
}

/// What a night at the socket is good for.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct NightReport {
    /// Time plugged in, h.
    pub hours: f64,
    /// Charge in the morning, %.
    pub charge_pct: f64,
    /// Whether the next day's road is driven to its end.
    pub enough: bool,
    /// Charge after the next day's road, %.
    pub left_pct: f64,
    /// Distance driven the next day, km.
    pub distance_km: f64,
}

/// How a charge ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ChargeOutcome {
    /// The wanted charge was reached.
    Target,
    /// The charger ended it, as the current had tapered off.
    Full,
    /// The cells took no charge.
    Refused,
    /// The time was up.
    TimeUp,
}

/// A charge up to a goal.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SessionReport {
    /// Charge that was wanted, %.
    pub goal_pct: f64,
    /// Charge at the end, %.
    pub reached_pct: f64,
    /// How it ended.
    pub ending: ChargeOutcome,
    /// The same in plain words.
    pub words: String,
    /// Time, s.
    pub time_s: f64,
    /// Time for which cells, not socket or charger, set the current, s.
    pub taper_s: f64,
    /// Energy from the wall, kWh.
    pub wall_kwh: f64,
    /// Energy into the pack's terminals, kWh.
    pub pack_kwh: f64,
    /// Energy gained by the cells, kWh.
    pub cells_kwh: f64,
    /// Energy lost in the charger, kWh.
    pub charger_loss_kwh: f64,
    /// Energy turned to heat in cells and harness, kWh.
    pub pack_loss_kwh: f64,
    /// Energy that the cells' polarisation gained, kWh; what it held of the drive before comes back.
    pub polarisation_kwh: f64,
    /// Energy gained by the cells over energy from the wall, %.
    pub efficiency_pct: Option<f64>,
    /// Energy from the wall less all that became of it, as a share.
    pub ledger_residual: f64,
    /// Distance of the daily road that the energy is good for, km.
    pub gained_km: Option<f64>,
    /// The same for each hour of charging, km.
    pub gained_km_per_h: Option<f64>,
    /// Price of the energy, where a price is known.
    pub cost: Option<f64>,
    /// Largest current into the pack, A.
    pub peak_a: f64,
    /// Highest cell voltage, V.
    pub peak_cell_v: f64,
    /// Highest cell temperature, °C.
    pub peak_cells_c: f64,
    /// The same of each box, in the order of `pack.boxes`, °C; only of a pack in boxes.
    #[serde(skip_serializing_if = "BoxTemperatures::is_of_one")]
    #[schemars(with = "Option<Vec<f64>>")]
    pub peak_boxes_c: BoxTemperatures,
    /// Cell temperature at the end, °C.
    pub end_cells_c: f64,
    /// What a night is good for when it is charged to this goal.
    pub night: NightReport,
}

/// One of the named sockets, to compare.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SocketRow {
    /// The socket.
    pub socket: SocketReport,
    /// Power from the wall with this charger, kW.
    pub drawn_kw: f64,
    /// Whether the charger, not the socket, sets the power.
    pub charger_binds: bool,
    /// Time to the daily stop, s; `None` where it is not reached.
    pub time_s: Option<f64>,
    /// Time to a full charge, s; `None` where it is not reached.
    pub full_s: Option<f64>,
    /// Distance of the daily road gained an hour, up to the daily stop, km.
    pub gained_km_per_h: Option<f64>,
}

/// Charging from a socket.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ChargeReport {
    /// What the boxes of a pack in boxes are called, in the order of `pack.boxes`.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schemars(with = "Option<Vec<String>>")]
    pub boxes: Vec<String>,
    /// The socket.
    pub socket: SocketReport,
    /// Largest power of the charger into the pack, kW.
    pub charger_kw: f64,
    /// Power into the pack over power from the wall, %.
    pub charger_efficiency_pct: f64,
    /// Power drawn from the wall before anything tapers, kW.
    pub drawn_kw: f64,
    /// Whether the charger, not the socket, sets the power.
    pub charger_binds: bool,
    /// The daily road.
    pub road: String,
    /// Energy that the daily road takes from the cells, Wh/km, where that is known.
    pub road_wh_per_km: Option<f64>,
    /// Why it is not known.
    pub road_note: Option<String>,
    /// Why the daily road was not driven to its end from the scenario's start, if it was not.
    pub road_not_done: Option<&'static str>,
    /// Whether the charge at the start is what the daily road leaves.
    pub after_road: bool,
    /// Charge at the start, %.
    pub from_pct: f64,
    /// Cell temperature at the start, °C.
    pub from_cells_c: f64,
    /// Air temperature, °C.
    pub air_c: f64,
    /// Charging up to the daily stop.
    pub daily: SessionReport,
    /// Charging full.
    pub full: SessionReport,
    /// The same from every named socket.
    pub sockets: Vec<SocketRow>,
    /// What is not modelled.
    pub not_modelled: [&'static str; 3],
    /// What to beware of.
    pub cautions: [&'static str; 4],
}

/// What a charge does not know.
const NOT_MODELLED: [&str; 3] = [
    "the charger's efficiency at part load, and its own heat",
    "loads that stay on while it charges: management of the cells, pumps, pack heaters",
    "balancing at the end of a full charge",
];

/// What to beware of at a socket.
const CAUTIONS: [&str; 4] = [
    "An old socket or lead that carries a charger's current for hours may overheat and burn: use a \
     circuit of its own, feel plug and socket after an hour, and stop if they are hot.",
    "New circuits, ground-fault protection and earthing belong to a licensed electrician by the \
     local code; the 80 % rule for continuous loads here is from memory.",
    "Mains and pack voltage kill: the car's body must be earthed while it charges, and the charger \
     must stop by itself when the pack's management says so.",
    "Lithium cells that are charged below 0 °C are damaged for good and may later burn: warm them \
     first, and let the pack's management forbid it.",
];

/// A plan that was prepared: where it starts, and what the daily road takes.
struct Ready<'a> {
    setup: &'a Setup<'a>,
    charger: &'a OnBoardCharger,
    plan: &'a ChargePlan,
    trace: &'a Trace,
    start: State,
    road_j_per_m: Result<f64, String>,
    road_not_done: Option<&'static str>,
}

/// What a charger makes of the power of a socket, W.
pub(super) fn supply(charger: &OnBoardCharger, wall_w: f64) -> Supply {
    Supply {
        wall_w,
        charger_w: charger.power_w,
        efficiency: charger.efficiency,
        end_c_rate: charger.end_c_rate,
    }
}

/// What the daily road takes.
pub(crate) struct RoadUse {
    /// Energy from the cells, J/m, or why it is not known.
    pub(crate) j_per_m: Result<f64, String>,
    /// The drive from the start.
    pub(crate) driven: follow::Drive,
}

impl RoadUse {
    /// Drives the road. Where the start's charge does not reach to its end, a full pack tells what
    /// it takes; part of a road tells nothing, as it may be the downhill part.
    pub(crate) fn of(setup: &Setup<'_>, road: &str, trace: &Trace) -> Self {
        let driven = drive::drive(setup, trace, &mut ());
        let full = State { charge: setup.car.parts().pack.max_charge, ..*setup.start };
        let again = (driven.ending != follow::DriveEnding::Complete)
            .then(|| drive::drive(&Setup { start: &full, ..*setup }, trace, &mut ()));
        let whole = again.as_ref().unwrap_or(&driven);
        let per_m = whole.ledger[Account::Chemical] / whole.distance_m;
        let j_per_m = match (whole.ending, drive::undriven(whole, trace)) {
            (follow::DriveEnding::Complete, Some(why)) => {
                Err(format!("{road} is not driven: {why}"))
            }
            (follow::DriveEnding::Complete, None) if per_m.is_finite() && per_m > 0.0 => Ok(per_m),
            (follow::DriveEnding::Complete, None) => {
                Err(format!("{road} takes no energy from the cells"))
            }
            (follow::DriveEnding::Empty(_), _) => Err(format!(
                "{road} cannot be driven to its end: the weakest cell is empty after {:.1} km",
                units::km_from_m(whole.distance_m)
            )),
            (follow::DriveEnding::PackLimited(_, limit), _) => {
                Err(format!("{road} cannot be driven to its end: {}", NamedLimit(limit).words()))
            }
        };
        Self { j_per_m, driven }
    }
}

impl<'a> Ready<'a> {
    fn new(
        setup: &'a Setup<'a>,
        charger: &'a OnBoardCharger,
        plan: &'a ChargePlan,
        (road, trace): (&str, &'a Trace),
    ) -> Self {
        let RoadUse { j_per_m: road_j_per_m, driven } = RoadUse::of(setup, road, trace);
        let from = match plan.from {
            Some(charge) => State { charge, ..*setup.start },
            None => driven.end,
        };
        let start = charging::park(setup.car, &from, plan.after_s);
        let road_not_done = drive::undriven(&driven, trace);
        Self { setup, charger, plan, trace, start, road_j_per_m, road_not_done }
    }

    fn charge(&self, outlet: &Outlet, target: f64, watch: impl FnMut(&Sample)) -> Charging {
        let supply = supply(self.charger, outlet.power_w());
        charging::charge(self.setup.car, &self.start, &supply, target, MOST_S, watch)
    }

    fn gained_km(&self, found: &Charging) -> Option<f64> {
        Some(units::km_from_m(found.chemical_j / self.road_j_per_m.as_ref().ok()?))
    }

    fn night(&self, target: f64) -> NightReport {
        let car = self.setup.car;
        let supply = supply(self.charger, self.plan.outlet.power_w());
        let night_s = self.plan.night_s;
        let charged = charging::charge(car, &self.start, &supply, target, night_s, |_| ());
        let morning = charging::park(car, &charged.end, night_s - charged.time_s);
        let next = drive::drive(&Setup { start: &morning, ..*self.setup }, self.trace, &mut ());
        NightReport {
            hours: units::h_from_s(night_s),
            charge_pct: units::pct_from_share(morning.charge),
            enough: drive::undriven(&next, self.trace).is_none(),
            left_pct: units::pct_from_share(next.end.charge),
            distance_km: units::km_from_m(next.distance_m),
        }
    }

    fn session(&self, target: f64, found: &Charging) -> SessionReport {
        let gained_km = self.gained_km(found);
        let hours = units::h_from_s(found.time_s);
        let some = found.time_s > 0.0;
        let pack = &self.setup.car.parts().pack;
        let warmest_c = |at_k: &PerNode<f64>| units::c_from_k(pack.warmest_k(at_k));
        SessionReport {
            goal_pct: units::pct_from_share(target),
            reached_pct: units::pct_from_share(found.end.charge),
            ending: match found.ending {
                ChargeEnding::Target => ChargeOutcome::Target,
                ChargeEnding::Full => ChargeOutcome::Full,
                ChargeEnding::Refused(_) => ChargeOutcome::Refused,
                ChargeEnding::TimeUp => ChargeOutcome::TimeUp,
            },
            words: words(found, |end| {
                let refused = self.setup.car.box_that_holds(end, -1.0, Limit::CellTemperature);
                pack.boxes()
                    .find(|(own, _)| own.stated == refused)
                    .map_or(0.0, |(_, node)| end.temperature_k[node])
            }),
            time_s: found.time_s,
            taper_s: found.taper_s,
            wall_kwh: units::kwh_from_j(found.wall_j),
            pack_kwh: units::kwh_from_j(found.pack_j),
            cells_kwh: units::kwh_from_j(found.chemical_j),
            charger_loss_kwh: units::kwh_from_j(found.charger_loss_j()),
            pack_loss_kwh: units::kwh_from_j(found.heat_j),
            polarisation_kwh: units::kwh_from_j(found.polarisation_j),
            efficiency_pct: some.then(|| units::pct_of(found.chemical_j, found.wall_j)),
            ledger_residual: found.residual_share(),
            gained_km,
            gained_km_per_h: gained_km.filter(|_| some).map(|km| km / hours),
            cost: self.plan.energy_per_kwh.map(|price| price * units::kwh_from_j(found.wall_j)),
            peak_a: found.peak_a,
            peak_cell_v: found.peak_cell_v,
            peak_cells_c: warmest_c(&found.peak_cells_k),
            peak_boxes_c: BoxTemperatures::from_k(self.setup.car, &found.peak_cells_k),
            end_cells_c: warmest_c(&found.end.temperature_k),
            night: self.night(target),
        }
    }
}

/// How a charge ended, in plain words.
fn words(found: &Charging, cells_k: impl Fn(&State) -> f64) -> String {
    match found.ending {
        ChargeEnding::Target if found.time_s == 0.0 => "there already".to_owned(),
        ChargeEnding::Target => "reached".to_owned(),
        ChargeEnding::Full => {
            "ended by the charger: the cells were at their highest voltage and the \
                         current had tapered off"
                .to_owned()
        }
        ChargeEnding::Refused(Limit::CellTemperature) => {
            let c = units::c_from_k(cells_k(&found.end)).round() as i32;
            let why = if c <= 10 {
                "too cold to be charged; warm them first"
            } else {
                "too hot to be charged; let them cool first"
            };
            format!("refused: the cells are at {c} °C, {why}")
        }
        ChargeEnding::Refused(limit) => format!("refused: {}", NamedLimit(limit).words()),
        ChargeEnding::TimeUp => "given up after ten days".to_owned(),
    }
}

/// Charges from a socket, and from every named one to compare.
pub fn report(
    setup: &Setup<'_>,
    charger: &OnBoardCharger,
    road: &str,
    trace: &Trace,
    plan: &ChargePlan,
) -> ChargeReport {
    let ready = Ready::new(setup, charger, plan, (road, trace));
    let drawn_w = |outlet: &Outlet| outlet.power_w().min(charger.power_w / charger.efficiency);
    let binds = |outlet: &Outlet| outlet.power_w() * charger.efficiency > charger.power_w;
    let full = setup.car.parts().pack.max_charge;
    let daily = plan.to.min(full);
    let there = |found: &Charging| {
        matches!(found.ending, ChargeEnding::Target | ChargeEnding::Full).then_some(found.time_s)
    };
    let sockets = Outlet::presets()
        .par_iter()
        .map(|outlet| {
            let to_stop = ready.charge(outlet, daily, |_| ());
            let to_full = ready.charge(outlet, full, |_| ());
            let hours = units::h_from_s(to_stop.time_s);
            SocketRow {
                socket: SocketReport::of(outlet),
                drawn_kw: units::kw_from_w(drawn_w(outlet)),
                charger_binds: binds(outlet),
                time_s: there(&to_stop),
                full_s: there(&to_full),
                gained_km_per_h: ready
                    .gained_km(&to_stop)
                    .filter(|_| hours > 0.0)
                    .map(|km| km / hours),
            }
        })
        .collect();
    let session = |target: f64| ready.session(target, &ready.charge(&plan.outlet, target, |_| ()));
    ChargeReport {
        boxes: setup.boxes.to_vec(),
        socket: SocketReport::of(&plan.outlet),
        charger_kw: units::kw_from_w(charger.power_w),
        charger_efficiency_pct: units::pct_from_share(charger.efficiency),
        drawn_kw: units::kw_from_w(drawn_w(&plan.outlet)),
        charger_binds: binds(&plan.outlet),
        road: road.to_owned(),
        road_wh_per_km: ready
            .road_j_per_m
            .as_ref()
            .ok()
            .map(|j| units::wh_from_j(j * units::m_from_km(1.0))),
        road_note: ready.road_j_per_m.as_ref().err().cloned(),
        road_not_done: ready.road_not_done,
        after_road: plan.from.is_none(),
        from_pct: units::pct_from_share(ready.start.charge),
        from_cells_c: units::c_from_k(setup.car.parts().pack.warmest_k(&ready.start.temperature_k)),
        air_c: units::c_from_k(setup.car.surroundings().air_k),
        daily: session(daily),
        full: session(full),
        sockets,
        not_modelled: NOT_MODELLED,
        cautions: CAUTIONS,
    }
}

/// A moment of a charge.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct ChargePoint {
    /// Time at the socket, s.
    pub time_s: f64,
    /// Power from the wall, kW.
    pub wall_kw: f64,
    /// Power into the pack, kW.
    pub pack_kw: f64,
    /// State of charge, %.
    pub charge_pct: f64,
}

/// A full charge moment by moment.
pub fn course(
    setup: &Setup<'_>,
    charger: &OnBoardCharger,
    road: &str,
    trace: &Trace,
    plan: &ChargePlan,
) -> Vec<ChargePoint> {
    let ready = Ready::new(setup, charger, plan, (road, trace));
    let mut course: Vec<ChargePoint> = Vec::new();
    let pack = &setup.car.parts().pack;
    ready.charge(&plan.outlet, pack.max_charge, |s| {
        let now = ChargePoint {
            time_s: s.time_s,
            wall_kw: units::kw_from_w(s.wall_w),
            pack_kw: units::kw_from_w(s.pack_v * s.pack_a),
            charge_pct: units::pct_from_share(s.state.charge),
        };
        // A sample tells of its end; the first begins where the charge does.
        if course.is_empty() {
            let from = units::pct_from_share(ready.start.charge);
            course.push(ChargePoint { time_s: 0.0, charge_pct: from, ..now });
        }
        course.push(now);
    });
    course
}

/// Columns of the series of a charge, in order; each names its unit. A pack in boxes adds one for
/// each, such as `box_1_cells_c`.
pub const COLUMNS: [&str; 7] =
    ["time_s", "wall_kw", "pack_kw", "pack_a", "pack_v", "charge_pct", "cells_c"];

/// Begins the file of a series; `inputs` are the files that the same run reads.
///
/// # Errors
/// [`Error::File`] where [`Growing::create`] refuses the file.
pub fn series_file(path: &Path, inputs: &[PathBuf]) -> Result<Growing, Error> {
    let kind = Kind {
        words: "a series of a charge",
        begins: |text| BoxTemperatures::heads(text, &COLUMNS),
    };
    Growing::create(path, kind, inputs)
}

/// Writes a full charge to a CSV file, a row for each step, whole or not at all.
///
/// # Errors
/// [`Error::File`] with what the operating system says.
pub fn save_series(
    setup: &Setup<'_>,
    charger: &OnBoardCharger,
    road: &str,
    trace: &Trace,
    plan: &ChargePlan,
    mut file: Growing,
) -> Result<(), Error> {
    let ready = Ready::new(setup, charger, plan, (road, trace));
    let mut writer = csv::Writer::from_writer(Vec::new());
    let columns = COLUMNS.map(str::to_owned).into_iter();
    let columns = columns.chain(BoxTemperatures::columns(setup.car));
    let mut problem = writer.write_record(columns).err();
    let pack = &setup.car.parts().pack;
    ready.charge(&plan.outlet, pack.max_charge, |s| {
        let row = [
            format!("{:.3}", s.time_s),
            format!("{:.4}", units::kw_from_w(s.wall_w)),
            format!("{:.4}", units::kw_from_w(s.pack_v * s.pack_a)),
            format!("{:.3}", s.pack_a),
            format!("{:.3}", s.pack_v),
            format!("{:.3}", units::pct_from_share(s.state.charge)),
            format!("{:.3}", units::c_from_k(pack.warmest_k(&s.state.temperature_k))),
        ];
        let boxes = BoxTemperatures::from_k(setup.car, &s.state.temperature_k);
        let row = row.into_iter().chain(boxes.each_c().iter().map(|c| format!("{c:.3}")));
        if let Err(e) = writer.write_record(row) {
            problem.get_or_insert(e);
        }
    });
    if let Some(e) = problem {
        return Err(file.fault(e.to_string()));
    }
    let content = writer.into_inner().map_err(|e| file.fault(e.to_string()))?;
    file.add(&content)?;
    file.finish()
}

/// Hours to the goal of a session, or never.
fn reached_h(session: &SessionReport) -> Option<f64> {
    let there = matches!(session.ending, ChargeOutcome::Target | ChargeOutcome::Full);
    Some(if there { units::h_from_s(session.time_s) } else { f64::NAN })
}

impl Report for ChargeReport {
    fn not_done(&self) -> Option<&'static str> {
        self.road_not_done.filter(|_| self.after_road)
    }
}

/// The figures of charging.
pub const FIGURES: &[Reading<ChargeReport>] = &[
    lower("charge_time_h", Unit::H, "time from the start to the daily stop", |r| {
        reached_h(&r.daily)
    }),
    lower("charge_full_time_h", Unit::H, "time from the start to a full pack", |r| {
        reached_h(&r.full)
    }),
    lower(
        "charge_taper_h",
        Unit::H,
        "part of the time to a full pack for which the cells set the current",
        |r| Some(units::h_from_s(r.full.taper_s)),
    ),
    lower("charge_wall_kwh", Unit::Kwh, "energy from the wall up to the daily stop", |r| {
        Some(r.daily.wall_kwh)
    }),
    lower(
        "charge_cost",
        Unit::Money,
        "price of the energy up to the daily stop, where money.energy_per_kwh is known",
        |r| r.daily.cost,
    ),
    higher(
        "charge_efficiency_pct",
        Unit::Pct,
        "energy gained by the cells over energy from the wall, up to the daily stop",
        |r| r.daily.efficiency_pct,
    ),
    higher(
        "charge_gained_km_per_h",
        Unit::KmPerH,
        "distance of the road gained an hour, up to the daily stop, where the road can be driven",
        |r| r.daily.gained_km_per_h,
    ),
    yes_no(
        "charge_night_enough",
        "whether a night's charge up to the daily stop is enough for the next day's road",
        |r| yes(r.daily.night.enough),
    ),
    higher(
        "charge_morning_pct",
        Unit::Pct,
        "charge after a night at the socket, up to the daily stop",
        |r| Some(r.daily.night.charge_pct),
    ),
    higher("charge_left_next_day_pct", Unit::Pct, "charge left after the next day's road", |r| {
        Some(r.daily.night.left_pct)
    }),
    lower("charge_peak_a", Unit::A, "largest current into the pack", |r| Some(r.full.peak_a)),
    lower("charge_cells_c", Unit::C, "hottest cells", |r| Some(r.full.peak_cells_c)),
    residual("charge_ledger_residual", |r| Some(r.full.ledger_residual)),
];
