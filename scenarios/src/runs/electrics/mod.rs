//! What the wiring must carry: currents over windows of time in every lead, the 12 V balance,
//! precharge, short circuits and cables.

mod balance;
mod cables;
mod half_hour;
mod leads;
mod protection;

pub use balance::{BalanceReport, BatteryReport, ConsumerReport};
pub use cables::{CableReport, CableRow};
pub use half_hour::HalfHourReport;
pub use leads::{
    BackReport, Duty, Governing, LargestReport, Lead, LeadReport, LeadRun, WarmsReport,
    WindowReport,
};
pub use protection::{FaultReport, FaultState, PrechargeReport};

use crate::files::assumption::Assumption;
use crate::inputs::outlet::Outlet;
use crate::prepared::{Prepared, Setup};
use crate::runs::charge;
use crate::runs::failure::Failure;
use crate::runs::figure::{Reading, Report, Unit, higher, lower, plain};
use crate::runs::grade::grade_pct;
use crate::runs::pull::{self, Marks};
use crate::runs::{climb, drive};
use crate::words::number;
use cables::{Circuits, WARMEST_C};
use leads::{Carried, DutyLoads, Watch};
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::car::Surroundings;
use sim_core::charging::{self, ChargeEnding};
use sim_core::climb::Hill;
use sim_core::motor::Kind;
use sim_core::units;
use sim_core::windows::{Dose, Windows};
use sim_core::{Car, State, Trace};

/// What the leads are to be watched over.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Wish {
    /// The hill in place of the scenario's climb.
    pub climb: Option<Hill>,
    /// The socket; left out, the smallest of the named ones that gives all that the charger takes.
    pub outlet: Option<Outlet>,
}

/// A run over which the leads were watched, or why it was not.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CaseReport {
    /// Which.
    pub case: Duty,
    /// What was driven, in words.
    pub words: String,
    /// How long it lasted, s; `null` where it was not driven.
    pub lasted_s: Option<f64>,
    /// Why it was not driven, or not to its end.
    pub not_done: Option<String>,
}

/// What to ask of a part.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct AskReport {
    /// The part.
    pub part: &'static str,
    /// What its sheet must say.
    pub words: String,
}

/// What the wiring must carry.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ElectricsReport {
    /// What is to be known of them before all else: that the scenario's cells are cold, and warm ones were
    /// driven as well.
    pub cold_cells: Option<String>,
    /// Runs over which the leads were watched.
    pub cases: Vec<CaseReport>,
    /// Lowest voltage of the pack under load in them, V.
    pub lowest_v: f64,
    /// Lowest voltage under load that the cells allow, V.
    pub cells_from_v: f64,
    /// How much more current the same power takes from the nearly empty pack than from that of the
    /// start, by their rested voltages, %.
    pub empty_more_pct: f64,
    /// What the car can be asked for half an hour on the level, though no run did; `null` where it
    /// holds no speed.
    pub half_hour: Option<HalfHourReport>,
    /// The leads.
    pub leads: Vec<LeadReport>,
    /// The 12 V side.
    pub balance: BalanceReport,
    /// Precharge.
    pub precharge: PrechargeReport,
    /// Short circuits.
    pub fault: FaultReport,
    /// Cables by cross-section.
    pub cables: Vec<CableReport>,
    /// What to ask of each part.
    pub asks: Vec<AskReport>,
    /// What does not fit together, or was not driven.
    pub notes: Vec<String>,
    /// What was taken for granted for this alone.
    pub assumptions: Vec<Assumption>,
    /// What is not modelled.
    pub not_modelled: [&'static str; 5],
    /// What to beware of.
    pub cautions: [&'static str; 6],
    /// Why a run was not carried out, where figures must not count.
    #[serde(skip)]
    not_done: Option<&'static str>,
}

const NOT_MODELLED: [&str; 5] = [
    "inductance, so neither how fast a short circuit's current rises nor the time constant L/R at which \
     fuse and contactors must break it: a sheet's breaking capacity holds up to one that it names",
    "ripple of the controller's capacitors and the pulses of motor current, which heat cables a little \
     more than their mean over a step",
    "bundles, conduits and hot neighbours, in which a cable carries less than by itself in still air",
    "inrush of 12 V motors and lamps, and what a cold or old 12 V battery has lost",
    "loads that stay on while the car charges, and the way down a hill (`descent`)",
];

const CAUTIONS: [&str; 6] = [
    "A traction pack cannot be switched off: its cells are live from the day they are joined, and more \
     than 60 V of direct current can kill (the limit of UN R100 and ISO 6469-3, from memory). Insulated \
     tools, gloves for the voltage, one hand, never alone.",
    "Whoever works on it should be trained or licensed for high voltage; local codes and the inspection \
     for the road decide, not this page.",
    "The traction circuit stays isolated from the car's body, on both sides, and is watched: UN R100 asks \
     for 100 Ω/V of direct and 500 Ω/V of alternating circuits (from memory).",
    "Switches, contactors and fuses for alternating current do not break direct current: ask for their \
     DC rating at the pack's highest voltage.",
    "The fuse sits at the pack, in reach of a short circuit anywhere behind it; a second one in the \
     middle and a service disconnect keep each half safe to touch.",
    "Capacitors hold the pack's voltage after it is switched off: wait, measure, then touch.",
];

/// What the currents are.
const PACK_HOW: &str = "direct current at the pack's terminals: the power of controller and auxiliaries \
                        over the voltage under load";
const AC_HOW: &str = "root mean square of each phase: torque times the motor's amperes per newton metre \
                      (more where the field is weakened), and across it the magnetising current of an \
                      induction motor; the peak of the wave is 1.41 times as much";
const DC_HOW: &str = "armature and field in series: the current that makes the torque, which grows with \
                      its square until the iron saturates; at low speed the chopper makes far more of it \
                      than it takes from the pack";
const LOW_HOW: &str = "mean power of the 12 V loads over the voltage that the converter holds";
const IN_HOW: &str = "the same over the converter's efficiency, at the pack's voltage";
const HEATER_HOW: &str = "power of the cabin heater at the pack's voltage";
const OUT_HOW: &str = "direct current into the pack";
const MAINS_HOW: &str = "power from the wall over the socket's voltage, at a power factor of 1";

/// Whether a case was driven, and what was found.
struct Done {
    report: CaseReport,
    driven: Option<DutyLoads>,
    low_pack_v: f64,
    /// Why its figures must not count.
    not_done: Option<&'static str>,
}

impl Done {
    fn not_driven(case: Duty, why: impl Into<String>) -> Self {
        let words = String::new();
        let report = CaseReport { case, words, lasted_s: None, not_done: Some(why.into()) };
        Self { report, driven: None, low_pack_v: f64::INFINITY, not_done: None }
    }

    fn of(case: Duty, words: String, watch: Watch<'_>, not_done: Option<&'static str>) -> Self {
        let low_pack_v = watch.low_pack_v;
        Self { low_pack_v, ..Self::carried(case, words, watch.carried(), not_done) }
    }

    fn carried(
        case: Duty,
        words: String,
        carried: Vec<Carried>,
        not_done: Option<&'static str>,
    ) -> Self {
        let lasted_s = carried.first().map_or(0.0, |one| one.loads.lasted_s);
        if lasted_s <= 0.0 {
            let why = not_done.unwrap_or("it ended as it began");
            return Self { not_done: Some(why), ..Self::not_driven(case, why) };
        }
        let why = not_done.map(str::to_owned);
        let report = CaseReport { case, words, lasted_s: Some(lasted_s), not_done: why };
        let driven = Some(DutyLoads { case, carried });
        Self { report, driven, low_pack_v: f64::INFINITY, not_done }
    }
}

/// The smallest named socket that gives all that a charger takes, or else the one that gives most.
fn ample(power_w: f64) -> Outlet {
    let mut sockets = Outlet::presets();
    sockets.sort_by(|a, b| a.power_w().total_cmp(&b.power_w()));
    let first = sockets.iter().position(|socket| socket.power_w() >= power_w);
    let index = first.unwrap_or(sockets.len() - 1);
    sockets.swap_remove(index)
}

/// Cells that are warm, °C: what they are rated at (IEC 62660-1, from memory). Colder than the second,
/// cells may give less than those, whatever their sheet says of their currents.
const WARM_C: f64 = 25.0;
const COOL_C: f64 = 20.0;

/// The start of a car with warm cells where its own are cold: for what is charged and, where they give
/// less than warm ones, for what is driven.
fn warm_starts(car: &Prepared) -> (Option<State>, Option<State>) {
    let warm = car.start.cells_at(units::k_from_c(WARM_C));
    let cells_c = units::c_from_k(car.car.parts().pack.coldest_k(&car.start.temperature_k));
    let gives_a = |start: &State| car.car.now(start, 0.0).pack.discharge_a.0;
    let is_cold = cells_c < WARM_C - 1e-6;
    let gives_less = cells_c < COOL_C - 1e-6 || gives_a(&car.start) < 0.999 * gives_a(&warm);
    (is_cold.then_some(warm), (is_cold && gives_less).then_some(warm))
}

fn pulled(car: &Prepared, setup: Setup<'_>, case: Duty, low_v: f64) -> Result<Done, Failure> {
    let usual = Marks::metric();
    let own = car.drives.pull.as_ref().map(|own| Marks::of(own, usual.clone())).unwrap_or(usual);
    let marks = Marks { from_mps: 0.0, ..own };
    let mut watch = Watch::over_pieces(setup.car, low_v);
    match pull::closely(&setup, &marks, &mut watch) {
        Ok(()) => {
            let words =
                "full throttle from rest to the highest of the timed speeds that it reaches";
            Ok(Done::of(case, words.to_owned(), watch, None))
        }
        Err(Failure::Invalid(why)) => Ok(Done::not_driven(case, why)),
        Err(other) => Err(other),
    }
}

fn climbed(setup: Setup<'_>, case: Duty, hill: Option<Hill>, low_v: f64) -> Result<Done, Failure> {
    let Some(hill) = hill else {
        let field = format!("the scenario has no {0}: runs.{0} gives one", case.name());
        return Ok(Done::not_driven(case, field));
    };
    if hill.slope.sin < 0.0 {
        return Ok(Done::not_driven(case, "it goes down, which is a descent"));
    }
    let found = climb::choice(&setup, &hill)?;
    let best = found.best();
    let watched = |gear: usize| -> Result<Watch<'_>, Failure> {
        let mut watch = Watch::over_pieces(setup.car, low_v);
        climb::recorded(&setup, &hill, gear - 1, &mut watch)?;
        Ok(watch)
    };
    let mut words = format!(
        "{} % at {} km/h for {} km",
        number(grade_pct(hill.slope), 1),
        number(units::kmh_from_mps(hill.speed_mps), 0),
        number(units::km_from_m(hill.distance_m), 1),
    );
    let own = watched(best.gear)?;
    let low_pack_v = own.low_pack_v;
    let mut carried = own.carried();
    // A driver may stay in a higher gear that holds it too, in which the motor turns slower and its leads
    // carry more.
    let is_motor = |one: &&mut Carried| one.lead == Lead::Motor;
    let holds = |row: &&climb::ClimbRow| row.held && row.derated_at_s.is_none() && row.within_rpm;
    for row in found.gears.iter().filter(holds).filter(|row| row.gear > best.gear) {
        let others = watched(row.gear)?.carried();
        let other = others.into_iter().find(|one| one.lead == Lead::Motor);
        let Some((own, other)) = carried.iter_mut().find(is_motor).zip(other) else { continue };
        if other.steady_a() > own.steady_a() {
            *own = other;
            words = format!("{words}; the motor leads in gear {}, which holds it too", row.gear);
        }
    }
    let done = Done::carried(case, words, carried, best.not_done());
    Ok(Done { low_pack_v, ..done })
}

fn driven(setup: Setup<'_>, case: Duty, (road, trace): (&str, &Trace), low_v: f64) -> Done {
    let mut watch = Watch::over_steps(setup.car, low_v);
    let found = drive::drive(&setup, trace, &mut watch);
    let not_done = drive::undriven(&found, trace);
    Done::of(case, format!("{road}, once"), watch, not_done)
}

/// A whole charge from an empty pack; of warm cells where the air is as warm.
fn charged(car: &Prepared, start: &State, case: Duty, outlet: &Outlet) -> Done {
    let pack = &car.car.parts().pack;
    let cells_k = pack.coldest_k(&start.temperature_k);
    let charge = pack.mean_charge_when_empty(cells_k).clamp(0.0, pack.max_charge);
    let start = State { charge, ..*start };
    let surroundings = *car.car.surroundings();
    let surroundings = match case.is_warm() {
        true => {
            Surroundings { air_k: surroundings.air_k.max(units::k_from_c(WARM_C)), ..surroundings }
        }
        false => surroundings,
    };
    let placed = Car::new(car.car.parts().clone(), surroundings);
    let supply = charge::supply(&car.charger, outlet.power_w());
    let (mut out, mut mains) = (Windows::default(), Windows::default());
    let mut largest = [0.0_f64; 2];
    let found =
        charging::charge(&placed, &start, &supply, pack.max_charge, charge::MOST_S, |sample| {
            let wall_a = sample.wall_w / outlet.volts;
            out.see(Dose::held(sample.step_s, sample.pack_a));
            mains.see(Dose::held(sample.step_s, wall_a));
            largest = [largest[0].max(sample.pack_a), largest[1].max(wall_a)];
        });
    let refused = matches!(found.ending, ChargeEnding::Refused(_));
    if found.time_s == 0.0 {
        let why = match found.ending {
            ChargeEnding::Refused(limit) => {
                format!(
                    "the cells take no charge: {}",
                    crate::runs::limits::NamedLimit(limit).words()
                )
            }
            _ => "the pack is full when it is empty".to_owned(),
        };
        return Done::not_driven(case, why);
    }
    let (out, mains) = (out.end(), mains.end());
    let carried = |lead, loads, out_a, back_a| Carried { lead, loads, out_a, back_a };
    let all = vec![
        // Through the pack's lead it flows the other way.
        carried(Lead::Pack, out, 0.0, largest[0]),
        carried(Lead::ChargerOut, out, largest[0], 0.0),
        carried(Lead::ChargerIn, mains, largest[1], 0.0),
    ];
    let words = format!("a whole charge from an empty pack at {}", outlet.name);
    let not_done = refused.then_some("the cells refused to be charged before they were full");
    Done::carried(case, words, all, not_done)
}

/// Watches the leads over every run of a car.
///
/// # Errors
/// [`Failure`] when the integrator gives up.
pub fn report(
    car: &Prepared,
    road: &str,
    trace: &Trace,
    plan: &Wish,
) -> Result<ElectricsReport, Failure> {
    let (parts, wires) = (car.car.parts(), &car.wires);
    let mut assumptions = Vec::new();
    let low_v = balance::held_v(wires, &mut assumptions);
    let outlet = match &plan.outlet {
        Some(outlet) => outlet.clone(),
        None => ample(car.charger.power_w / car.charger.efficiency),
    };
    let own_climb = plan.climb.or(car.drives.climb);
    let (to_charge, to_drive) = warm_starts(car);
    let own = Duty::ALL.into_iter().map(|(case, _)| (case, car.start));
    let warm = Duty::ALL.into_iter().filter_map(|(own, warm)| match own {
        Duty::Charge => Some((warm, to_charge?)),
        _ => Some((warm, to_drive?)),
    });
    let asked: Vec<(Duty, State)> = own.chain(warm).collect();
    let mut outcomes = asked
        .into_par_iter()
        .map(|(case, start)| {
            let setup = Setup { start: &start, ..car.setup() };
            let hill = Some(own_climb.unwrap_or_else(climb::usual));
            match case {
                Duty::Pull | Duty::WarmPull => pulled(car, setup, case, low_v),
                Duty::Climb | Duty::WarmClimb => climbed(setup, case, hill, low_v),
                Duty::Pass | Duty::WarmPass => climbed(setup, case, car.drives.pass, low_v),
                Duty::Road | Duty::WarmRoad => Ok(driven(setup, case, (road, trace), low_v)),
                Duty::Charge | Duty::WarmCharge => Ok(charged(car, &start, case, &outlet)),
            }
        })
        .collect::<Result<Vec<Done>, Failure>>()?;
    // What warm cells do not do either is told once.
    outcomes.retain(|one| !one.report.case.is_warm() || one.driven.is_some());
    let mut notes = Vec::new();
    if own_climb.is_none() {
        let usual = "The scenario has no climb, so a usual motorway hill stands in for it: runs.climb \
                     gives the steepest long one that the car will meet.";
        notes.push(usual.to_owned());
    }
    let pack = &parts.pack;
    let series_motor = matches!(parts.motor.machine.kind, Kind::SeriesDc { .. });
    let driven: Vec<DutyLoads> = outcomes.iter().filter_map(|one| one.driven.clone()).collect();
    let balance = balance::balance(&parts.auxiliaries, wires, low_v, &mut assumptions);
    let fault = FaultReport::of(pack, &parts.motor, wires);
    let controller = &parts.controller;
    let known = |lead: Lead| match lead {
        Lead::Pack => (PACK_HOW, Some(controller.pack_current_a)),
        Lead::Motor if series_motor => (DC_HOW, Some(controller.motor_current_a)),
        Lead::Motor => (AC_HOW, Some(controller.motor_current_a)),
        Lead::DcDcOut => (LOW_HOW, wires.dc_dc_w.map(|watts| watts / low_v)),
        Lead::DcDcIn => (IN_HOW, None),
        Lead::Heater => (HEATER_HOW, None),
        Lead::ChargerOut => (OUT_HOW, None),
        Lead::ChargerIn => (MAINS_HOW, Some(outlet.amps)),
    };
    let has = |lead: &Lead| *lead != Lead::Heater || parts.auxiliaries.cabin.is_some();
    let leads: Vec<LeadReport> = Lead::ALL
        .into_iter()
        .filter(has)
        .filter_map(|lead| LeadReport::of(lead, known(lead), &driven))
        .collect();
    let lowest_v = outcomes.iter().map(|one| one.low_pack_v).fold(f64::INFINITY, f64::min);
    let lowest_v = if lowest_v.is_finite() { lowest_v.max(0.0) } else { fault.least.pack_v };
    let rested_v = |charge: f64| pack.rested_v(charge).max(1e-3);
    let more = rested_v(car.start.charge) / rested_v(pack.min_charge) - 1.0;
    let empty_more_pct = units::pct_from_share(more.max(0.0));
    let circuits = Circuits {
        series_motor,
        pack_v: lowest_v,
        low_v,
        low_a: balance.carries_a,
        mains_v: outlet.volts,
    };
    let half_hour = half_hour::half_hour(&car.setup(), false);
    let warm_half_hour = to_drive
        .and_then(|start| half_hour::half_hour(&Setup { start: &start, ..car.setup() }, true));
    let cold_cells = to_drive.map(|_| {
        let least_k = pack.coldest_k(&car.start.temperature_k);
        let half = |found: &Option<HalfHourReport>| {
            found.as_ref().map_or_else(|| "no".to_owned(), |of| format!("{} A", number(of.pack_a, 0)))
        };
        format!(
            "The cells begin at {} °C, where they give less than warm ones. Runs with cells at {} °C stand \
             beside (warm), and parts are asked for whichever is more: half an hour at the highest held \
             speed takes {} of the cold pack and {} of the warm one.",
            number(units::c_from_k(least_k), 0),
            number(WARM_C, 0),
            half(&half_hour),
            half(&warm_half_hour)
        )
    });
    let half_hour = [half_hour, warm_half_hour].into_iter().flatten().reduce(|own, warm| {
        let motor_a = own.motor_a.max(warm.motor_a);
        let more = if warm.pack_a > own.pack_a { warm } else { own };
        HalfHourReport { motor_a, ..more }
    });
    let cables = cables::cables(&leads, (wires, half_hour.as_ref()), &circuits, &mut assumptions);
    let precharge = PrechargeReport::of(pack, wires);
    // What cold cells do not do and warm ones do is told.
    let is_done =
        |case: Duty| outcomes.iter().any(|one| one.report.case == case && one.not_done.is_none());
    let mended = |case: Duty| case.warm().is_some_and(is_done);
    let mut found = ElectricsReport {
        not_done: outcomes
            .iter()
            .filter(|one| !mended(one.report.case))
            .find_map(|one| one.not_done),
        cold_cells,
        cases: outcomes.into_iter().map(|one| one.report).collect(),
        lowest_v,
        cells_from_v: pack.lowest_v(),
        empty_more_pct,
        half_hour,
        leads,
        balance,
        precharge,
        fault,
        cables,
        asks: Vec::new(),
        notes,
        assumptions,
        not_modelled: NOT_MODELLED,
        cautions: CAUTIONS,
    };
    found.notes.extend(found.doubts());
    found.asks = found.asked();
    Ok(found)
}

impl ElectricsReport {
    /// Of what every car must do, what was not driven as asked.
    pub fn undriven(&self) -> impl Iterator<Item = Duty> + '_ {
        self.cases
            .iter()
            .filter(|case| case.not_done.is_some())
            .map(|case| case.case)
            .filter(|duty| matches!(duty, Duty::Pull | Duty::Climb | Duty::Road))
            .filter(|duty| !self.done_warm(*duty))
    }

    /// Whether warm cells do what is asked of the scenario's own.
    fn done_warm(&self, duty: Duty) -> bool {
        let mut warm = self.cases.iter().filter(|case| Some(case.case) == duty.warm());
        warm.any(|case| case.not_done.is_none())
    }

    /// A lead, if current flowed in it.
    pub fn lead(&self, lead: Lead) -> Option<&LeadReport> {
        self.leads.iter().find(|report| report.lead == lead)
    }

    /// What does not fit together, or must not be read off this.
    fn doubts(&self) -> Vec<String> {
        let mut found = Vec::new();
        let pack = self.lead(Lead::Pack);
        let rms = |window_s: f64| pack.and_then(|pack| pack.rms(window_s));
        let lasting = pack.and_then(|pack| pack.lasting.as_ref());
        let half_pack_a = self.half_hour.as_ref().map_or(0.0, |half| half.pack_a);
        match (lasting.filter(|of| !of.covered), rms(1800.0).filter(|of| !of.covered)) {
            (Some(of), _) if half_pack_a <= of.amps => found.push(format!(
                "No run that loads the pack's lead lasts long enough (of the longest windows the {} asks \
                 most): no rating for hours must be taken from this. A longer hill or road (runs.pass, \
                 --for, --cycle) tells it.",
                of.case.name()
            )),
            (None, Some(of)) => found.push(format!(
                "The {} ends before 30 min, so that a continuous rating must not be taken from the \
                 column of 30 min: parts are asked for the steady current that warms them as the runs do. A longer \
                 hill or road (runs.pass, --for, --cycle) tells more.",
                of.case.name()
            )),
            _ => {}
        }
        let asked = |lead: Lead| {
            self.lead(lead).and_then(|lead| lead.lasting.as_ref()).map_or(0.0, |of| of.amps)
        };
        let more = |of: &&HalfHourReport| {
            of.pack_a > 1.02 * asked(Lead::Pack) || of.motor_a > 1.02 * asked(Lead::Motor)
        };
        if let Some(of) = self.half_hour.as_ref().filter(more) {
            found.push(format!(
                "No run did it, but the car can: half an hour at {} km/h on the level{} takes {} A of the \
                 pack and {} A in each motor lead. Fuse, contactors and cables are asked for it.",
                number(of.speed_kmh, 0),
                if of.warm { " with warm cells" } else { "" },
                number(of.pack_a, 0),
                number(of.motor_a, 0)
            ));
        }
        if self.empty_more_pct >= 3.0 {
            found.push(format!(
                "The runs begin at the charge of the scenario's start. Nearly empty, the pack gives the \
                 same power with some {} % more current: start.charge_pct drives it so.",
                number(self.empty_more_pct, 0)
            ));
        }
        found.extend(self.precharge.doubts());
        for case in self.cases.iter().filter(|case| case.lasted_s.is_some()) {
            if let Some(why) = &case.not_done {
                let name = case.case.name();
                found.push(match (self.done_warm(case.case), &self.cold_cells) {
                    (true, _) => format!(
                        "The {name} was not done as asked: {why}. With warm cells it was, and parts are \
                         asked for that as well."
                    ),
                    (false, Some(_)) => format!(
                        "The {name} was not done as asked: {why}. Where something cut back, a fuller pack \
                         carries the higher current for longer."
                    ),
                    (false, None) => format!(
                        "The {name} was not done as asked: {why}. Where something cut back, a cooler day or \
                         a fuller pack carries the higher current for longer."
                    ),
                });
            }
        }
        let charge = self.cases.iter().find(|case| case.case == Duty::Charge);
        if let Some(why) =
            charge.filter(|case| case.lasted_s.is_none()).and_then(|c| c.not_done.as_ref())
        {
            found.push(match self.lead(Lead::ChargerIn) {
                Some(_) => format!(
                    "The charge was not driven: {why}. The charger's cables are asked for by the charge of \
                     warm cells."
                ),
                None => format!(
                    "The charge was not driven: {why}. So nothing is asked of the charger's cables, and \
                     they have no table."
                ),
            });
        }
        let (least, amps) = (&self.fault.least, self.fault.fuse_a);
        if let (Some(times), Some(amps)) = (self.fault.least_over_fuse, amps) {
            if times < self.fault.blows_at {
                found.push(format!(
                    "A cold and worn pack drives {} A into a short circuit, {} times the fuse's \
                     {} A: it blows late or never. The cables behind it must bear that current, and the \
                     fuse must break every current that melts it.",
                    number(least.behind_harness_a, 0),
                    number(times, 1),
                    number(amps, 0),
                ));
            }
            if let Some(long) = lasting.filter(|long| long.amps > amps) {
                found.push(format!(
                    "The fuse of {} A is smaller than the {} A that the {} asks of it for minutes: it \
                     blows on the way.",
                    number(amps, 0),
                    number(long.amps, 0),
                    long.case.name()
                ));
            }
            let own = self.cables.iter().find(|cable| cable.lead == Lead::Pack);
            let own = own.and_then(|cable| cable.rows.iter().find(|row| row.stated));
            if let Some(row) = own.filter(|row| row.at_fuse_c.is_none_or(|c| c > WARMEST_C)) {
                let warm = match row.at_fuse_c {
                    Some(c) => format!("settles at {} °C", number(c, 0)),
                    None => "burns".to_owned(),
                };
                found.push(format!(
                    "The pack's cable of {} mm² {warm} with the {} A of its fuse, which must protect it: \
                     a thicker cable or a smaller fuse.",
                    row.mm2,
                    number(amps, 0)
                ));
            }
        }
        let own = self.cables.iter().find(|cable| cable.lead == Lead::Pack);
        if let Some(mohm) = own.and_then(|cable| cable.stated_mohm)
            && mohm > self.fault.harness_mohm
        {
            found.push(format!(
                "The pack's cable alone has {} mΩ, more than the {} mΩ of pack.harness_mohm, with which \
                 the car was driven: put in the whole harness.",
                number(mohm, 2),
                number(self.fault.harness_mohm, 2)
            ));
        }
        let balance = &self.balance;
        if let Some(watts) = balance.converter_w.filter(|watts| *watts < balance.mean_w) {
            found.push(format!(
                "The DC-DC converter's {} W are less than the {} W that the 12 V side takes on the mean: \
                 the battery runs down while driving.",
                number(watts, 0),
                number(balance.mean_w, 0)
            ));
        }
        found
    }

    /// What to ask of each part.
    fn asked(&self) -> Vec<AskReport> {
        let mut asks = Vec::new();
        let mut ask = |part, words| asks.push(AskReport { part, words });
        let fault = &self.fault;
        let highest = number(fault.highest_v, 0);
        let rms = |lead: Lead, window_s: f64| {
            self.lead(lead).and_then(|lead| lead.rms(window_s)).map_or(0.0, |rms| rms.amps)
        };
        // What is carried for hours is carried for less.
        let lasting_a = |lead: Lead| {
            let of =
                self.lead(lead).and_then(|lead| lead.lasting.as_ref()).map_or(0.0, |of| of.amps);
            self.half_hour.as_ref().and_then(|half| half.of(lead)).map_or(of, |half| half.max(of))
        };
        let amps = |lead, window_s: f64| number(rms(lead, window_s).max(lasting_a(lead)), 0);
        let long = |lead: Lead| {
            let of = self.lead(lead).and_then(|lead| lead.lasting.as_ref());
            let (amps, name) = of.map_or((0.0, "no run"), |of| (of.amps, of.case.name()));
            let half = self.half_hour.as_ref().and_then(|half| Some((half.warm, half.of(lead)?)));
            match (half.filter(|(_, a)| *a > amps), of.is_some_and(|of| of.covered)) {
                (Some((warm, more)), _) => format!(
                    "{} A RMS for hours (half an hour at the highest held speed{})",
                    number(more, 0),
                    if warm { ", warm cells" } else { "" }
                ),
                (None, true) => format!("{} A RMS for hours ({name})", number(amps, 0)),
                (None, false) => format!(
                    "{} A RMS for as long as the {name} lasts, and for hours what no run told",
                    number(amps, 0)
                ),
            }
        };
        ask(
            "pack fuse",
            format!(
                "direct current at {highest} V or more; breaks {} A there (a short circuit at the cells in \
                 its first milliseconds; {} A behind the harness), at a time constant L/R that its sheet \
                 names and that is not modelled here; carries {} where it sits, {} A for 1 min and {} A for 10 s without ageing; breaks every current that melts it \
                 (full range, class g of IEC 60269, from memory), as the cold and worn pack gives no more \
                 than {} A",
                number(fault.breaks_at_cells_a, 0),
                number(fault.breaks_behind_harness_a, 0),
                long(Lead::Pack),
                amps(Lead::Pack, 60.0),
                amps(Lead::Pack, 10.0),
                number(fault.least.behind_harness_a, 0)
            ),
        );
        let peak = self.lead(Lead::Pack).map_or(0.0, |lead| {
            lead.runs.iter().map(|run| run.peak_a.max(run.back_a)).fold(0.0, f64::max)
        });
        let controls = self.lead(Lead::Pack).and_then(|lead| lead.allows_a).unwrap_or(peak);
        ask(
            "main contactors",
            format!(
                "direct current at {highest} V or more, both ways where there is regen; carry {}; \
                 break {} A at that voltage, {}; bear {} A until the fuse has blown",
                long(Lead::Pack),
                number(controls.max(peak).max(fault.shut_chopper_a.unwrap_or(0.0)), 0),
                match fault.shut_chopper_a {
                    Some(shut_a) => format!(
                        "into a coil: a chopper that fails shut puts the whole pack on the standing motor, \
                         {} A, and nothing but they and the fuse ends that",
                        number(shut_a, 0)
                    ),
                    None =>
                        "what the controller may draw when they are opened under load".to_owned(),
                },
                number(fault.breaks_behind_harness_a, 0)
            ),
        );
        ask(
            "motor leads",
            format!(
                "{}, {} A for 1 min and {} A for 10 s, each phase or lead, at {highest} V",
                long(Lead::Motor),
                amps(Lead::Motor, 60.0),
                amps(Lead::Motor, 10.0)
            ),
        );
        let balance = &self.balance;
        ask(
            "DC-DC converter",
            format!(
                "{}; input from {} to {highest} V, fused by itself",
                match balance.on_known {
                    true => format!(
                        "{} W ({} A at {} V) with all 12 V loads on, {} W on the mean",
                        number(balance.all_on_w, 0),
                        number(balance.all_on_a, 0),
                        number(balance.held_v, 1),
                        number(balance.mean_w, 0)
                    ),
                    false => format!(
                        "more than the {} W that the 12 V loads take on the mean: what they take while \
                         they are on is not stated (low_voltage.*.on_w), usual is up to {} W together",
                        number(balance.mean_w, 0),
                        number(balance.typical_w, 0)
                    ),
                },
                number(self.cells_from_v, 0)
            ),
        );
        ask(
            "12 V lead",
            format!(
                "fuse and cable for {} A, a fuse at the battery's end as well, which drives thousands of \
                 amperes into a short circuit{}",
                number(balance.carries_a, 0),
                match (balance.converter_w, balance.battery_gives_a > 0.0) {
                    (Some(_), true) => format!(
                        "; all loads at once take {} A, of which the battery gives {} A until it is empty",
                        number(balance.loads_a, 0),
                        number(balance.battery_gives_a, 0)
                    ),
                    _ => String::new(),
                }
            ),
        );
        ask(
            "12 V battery",
            format!(
                "{} A·h carry contactors, controller and lights for {} min with {} % drawn",
                number(balance.battery.least_ah, 0),
                number(60.0 * balance.battery.least_for_h, 0),
                number(balance.battery.drawn_pct, 0)
            ),
        );
        let precharge = &self.precharge;
        ask(
            "precharge resistor",
            match (precharge.resistor_ohm, precharge.energy_j, precharge.time_s, precharge.needs) {
                (Some(ohm), Some(joules), Some(time_s), _) => format!(
                    "{} Ω, direct current at {highest} V; takes {} J in each attempt and {} W while they \
                     follow every {} s; {} % after {} s; a time limit, as {} W stay on it where something \
                     behind it draws",
                    number(ohm, if ohm < 20.0 { 1 } else { 0 }),
                    number(joules, 0),
                    number(precharge.attempts_w.unwrap_or(0.0), 0),
                    number(precharge.attempt_every_s, 0),
                    number(precharge.closes_at_pct, 0),
                    number(time_s, if time_s < 10.0 { 2 } else { 0 }),
                    number(precharge.first_w.unwrap_or(0.0), 0)
                ),
                (.., needs) => format!("not known without {}", needs.unwrap_or("a resistor")),
            },
        );
        ask(
            "precharge relay",
            format!(
                "direct current at {highest} V; makes and breaks {}, as something behind it may draw when \
                 it opens",
                match precharge.first_a {
                    Some(amps) => format!("{} A", number(amps, if amps < 20.0 { 1 } else { 0 })),
                    None => "the pack's voltage over the resistor, which is not known".to_owned(),
                }
            ),
        );
        if self.lead(Lead::ChargerIn).is_some() {
            ask(
                "charger lead",
                format!(
                    "{} A from the mains for hours, {} A into the pack at up to {highest} V, fused at the \
                     pack's end",
                    number(rms(Lead::ChargerIn, 1800.0), 1),
                    number(rms(Lead::ChargerOut, 1800.0), 1)
                ),
            );
        }
        asks
    }
}

impl Report for ElectricsReport {
    fn not_done(&self) -> Option<&'static str> {
        self.not_done
    }
}

fn rms(report: &ElectricsReport, lead: Lead, window_s: f64) -> Option<f64> {
    Some(report.lead(lead)?.rms(window_s)?.amps)
}

/// The figures of the wiring.
pub const FIGURES: &[Reading<ElectricsReport>] = &[
    lower("pack_rms_10s_a", Unit::A, "largest RMS current of the pack's lead over 10 s", |r| {
        rms(r, Lead::Pack, 10.0)
    }),
    lower("pack_rms_1min_a", Unit::A, "largest RMS current of the pack's lead over 1 min", |r| {
        rms(r, Lead::Pack, 60.0)
    }),
    lower("pack_rms_10min_a", Unit::A, "largest RMS current of the pack's lead over 10 min", |r| {
        rms(r, Lead::Pack, 600.0)
    }),
    lower("pack_rms_30min_a", Unit::A, "largest RMS current of the pack's lead over 30 min", |r| {
        rms(r, Lead::Pack, 1800.0)
    }),
    lower("phase_rms_10s_a", Unit::A, "largest RMS current of a motor lead over 10 s", |r| {
        rms(r, Lead::Motor, 10.0)
    }),
    lower("phase_rms_1min_a", Unit::A, "largest RMS current of a motor lead over 1 min", |r| {
        rms(r, Lead::Motor, 60.0)
    }),
    lower("phase_rms_10min_a", Unit::A, "largest RMS current of a motor lead over 10 min", |r| {
        rms(r, Lead::Motor, 600.0)
    }),
    lower("phase_rms_30min_a", Unit::A, "largest RMS current of a motor lead over 30 min", |r| {
        rms(r, Lead::Motor, 1800.0)
    }),
    plain("pack_back_a", Unit::A, "largest current into the pack at any moment", |r| {
        Some(r.lead(Lead::Pack)?.back.as_ref().map_or(0.0, |back| back.amps))
    }),
    plain("charger_mains_a", Unit::A, "current of the charger from the mains, for hours", |r| {
        rms(r, Lead::ChargerIn, 1800.0)
    }),
    lower("dc_dc_a", Unit::A, "current at 12 V with all low-voltage loads on", |r| {
        Some(r.balance.all_on_a)
    }),
    higher(
        "battery_12v_h",
        Unit::H,
        "how long the 12 V battery carries contactors, controller and lights if the converter fails",
        |r| Some(r.balance.battery.lights_h),
    ),
    lower(
        "fault_current_a",
        Unit::A,
        "largest short circuit behind the harness over charge and temperature, by the cells' resistance \
         over a second",
        |r| Some(r.fault.largest.behind_harness_a),
    ),
    higher(
        "least_fault_current_a",
        Unit::A,
        "least short circuit behind the harness, of the cold and worn pack after seconds, which a fuse \
         must still blow on",
        |r| Some(r.fault.least.behind_harness_a),
    ),
    plain("pack_highest_v", Unit::V, "highest voltage of the pack, while it is charged", |r| {
        Some(r.fault.highest_v)
    }),
];
