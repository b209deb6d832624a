//! A long descent, in every gear: what regen holds, and what the friction brakes must take.

use crate::prepared::Setup;
use crate::runs::climb;
use crate::runs::drive::LedgerReport;
use crate::runs::failure::Failure;
use crate::runs::figure::{Reading, Report, Unit, higher, lower, plain, residual};
use crate::runs::grade::grade_pct;
use crate::runs::history::{History, Seen};
use crate::runs::limits::NamedLimit;
use crate::runs::temperatures::Temperatures;
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::car::{Request, Slope};
use sim_core::climb::Hill;
use sim_core::descent::{self, Coasting, Descent, DescentEnding};
use sim_core::follow::Recorder;
use sim_core::ledger::Account;
use sim_core::units;
use sim_core::units::GRAVITY_MPS2;
use sim_core::{Car, State};
use std::cmp::Ordering;

/// Deceleration of the one stop that is reckoned, in which regen gives all that it has, m/s² (brisk; common practice, no source).
const STOP_MPS2: f64 = 3.0;

/// How a descent ended, as results name it.
#[derive(Serialize, JsonSchema)]
#[serde(remote = "DescentEnding", rename_all = "snake_case")]
#[schemars(rename = "DescentEnding")]
enum NamedEnding {
    /// At the foot of the hill.
    Foot,
    /// The weakest cell was empty.
    Empty,
    /// The car had slowed to a crawl.
    Stalled,
}

/// What lifting off does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum LiftedOff {
    /// The car comes to a standstill.
    Stops,
    /// The car settles at a speed.
    Settles,
    /// The car gets ever faster.
    RunsAway,
}

/// A descent in one gear.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct DescentRun {
    /// What lifting off does at the top.
    pub lift_off: LiftedOff,
    /// Speed at which it settles, km/h.
    pub lift_off_kmh: Option<f64>,
    /// Acceleration on lift-off at the asked speed, m/s²; up to 0 it alone holds the speed.
    pub lift_off_mps2: f64,
    /// How it ended.
    #[serde(serialize_with = "NamedEnding::serialize")]
    #[schemars(with = "NamedEnding")]
    pub ending: DescentEnding,
    /// Time, s.
    pub time_s: f64,
    /// Distance, km.
    pub distance_km: f64,
    /// Energy that regen put into the pack's terminals, kWh.
    pub regen_kwh: f64,
    /// Energy that the pack gave while regen gave none, kWh.
    pub drawn_kwh: f64,
    /// Energy of the friction brakes, kWh.
    pub friction_kwh: f64,
    /// Mean power of the friction brakes, kW.
    pub mean_friction_kw: f64,
    /// Largest power of the friction brakes, kW.
    pub peak_friction_kw: f64,
    /// Share of the held energy that friction takes, %.
    pub friction_share_pct: f64,
    /// When something first cut regen back, s.
    pub cut_back_at_s: Option<f64>,
    /// What.
    pub cut_back_by: Option<NamedLimit>,
    /// Why regen does not take all, in plain words; empty where it does.
    pub cut_back_words: &'static str,
    /// Charge at the end, %.
    pub charge_to_pct: f64,
    /// Largest charge current, A.
    pub peak_charge_a: f64,
    /// Highest cell voltage, V.
    pub high_cell_v: f64,
    /// Largest share of the driven tyres' grip used, %.
    pub grip_pct: f64,
    /// Highest temperatures.
    pub peak: Temperatures,
    /// Where the energy went; the height counts as given.
    pub ledger: LedgerReport,
}

/// A gear on a descent.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct DescentRow {
    /// Gear, counted from 1.
    pub gear: usize,
    /// Motor speed at the asked speed, rpm.
    pub motor_rpm: f64,
    /// The descent; `None` where the motor may not turn that fast.
    pub run: Option<DescentRun>,
}

/// One stop from the asked speed, by the friction brakes alone.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct StopReport {
    /// Speed, km/h.
    pub speed_kmh: f64,
    /// Deceleration, m/s².
    pub deceleration_mps2: f64,
    /// Energy on the level, kJ: the car's and its wheels' kinetic energy.
    pub level_kj: f64,
    /// Energy on the slope, kJ: that and the height lost while stopping.
    pub slope_kj: f64,
}

/// A descent.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct DescentReport {
    /// Grade, %; positive, though it goes down.
    pub grade_pct: f64,
    /// Speed to hold, km/h.
    pub speed_kmh: f64,
    /// Length, km.
    pub distance_km: f64,
    /// Height lost, m.
    pub height_m: f64,
    /// Charge at the top, %.
    pub from_charge_pct: f64,
    /// Air temperature, °C.
    pub air_c: f64,
    /// Cell temperature at the top, °C.
    pub from_cells_c: f64,
    /// Energy of the height, m·g·h, kWh.
    pub height_kwh: f64,
    /// Energy of the height less what rolling and air take: what motor, gearbox and brakes must
    /// hold, kWh.
    pub held_kwh: f64,
    /// The gear that spares the friction brakes most, of those that reach the foot if there are any,
    /// and of gears that spare them equally the one that leaves most margin: to the motor's highest
    /// speed, to the warning temperatures and to what regen can hold. Counted from 1; `None` where the
    /// motor turns too fast in every gear.
    pub chosen: Option<usize>,
    /// Each gear.
    pub gears: Vec<DescentRow>,
    /// One stop.
    pub stop: StopReport,
    /// What is not modelled.
    pub not_modelled: [&'static str; 2],
    /// What to beware of.
    pub cautions: [&'static str; 3],
}

/// What a descent does not know.
const NOT_MODELLED: [&str; 2] = [
    "fade, and temperatures of discs, drums, pads and fluid: energies and powers are what the \
     friction brakes must take, not what they can",
    "bends, tyre slip, and a slope that changes",
];

/// What to beware of on a descent.
const CAUTIONS: [&str; 3] = [
    "Regen is no brake to rely on: it vanishes with a full or cold pack, with a fault, and with a \
     wheel that slips. The friction brakes must hold the loaded car by themselves, all the way.",
    "Go down in a low gear and slowly; stop where brakes smell, smoke, pull or where the pedal \
     grows long. An engine's own drag is gone from this car.",
    "A heavier car than the donor, or one that lost its vacuum from the engine, needs its brakes \
     checked by a licensed workshop and by the local code.",
];

/// The hill, downwards.
fn down(hill: &Hill) -> Hill {
    Hill { slope: Slope { sin: -hill.slope.sin.abs(), ..hill.slope }, ..*hill }
}

fn run(car: &Car, start: &State, hill: &Hill, d: &Descent) -> DescentRun {
    let at_top = State { speed_mps: hill.speed_mps, ..*start };
    let now = car.now(&at_top, 0.0);
    let lifted = car.act(&now, hill.speed_mps, hill.slope, d.gear, Request::LiftOff);
    let (lift_off, settles_mps) = match d.coasting {
        Coasting::Stops => (LiftedOff::Stops, None),
        Coasting::Settles(mps) => (LiftedOff::Settles, Some(mps)),
        Coasting::RunsAway => (LiftedOff::RunsAway, None),
    };
    let ledger = &d.end.ledger;
    let held_j = held_j(ledger);
    let some = d.friction_j > 1.0;
    DescentRun {
        lift_off,
        lift_off_kmh: settles_mps.map(units::kmh_from_mps),
        lift_off_mps2: lifted.acceleration_mps2,
        ending: d.ending,
        time_s: d.end.time_s,
        distance_km: units::km_from_m(d.end.state.distance_m),
        regen_kwh: units::kwh_from_j(d.regen_j),
        drawn_kwh: units::kwh_from_j(d.drawn_j),
        friction_kwh: units::kwh_from_j(d.friction_j),
        mean_friction_kw: units::kw_from_w(d.friction_j / d.end.time_s.max(1e-9)),
        peak_friction_kw: units::kw_from_w(d.peak_friction_w),
        friction_share_pct: if held_j > 0.0 { units::pct_of(d.friction_j, held_j) } else { 0.0 },
        cut_back_at_s: d.cut_back.map(|c| c.0),
        cut_back_by: d.cut_back.map(|c| NamedLimit(c.1)),
        cut_back_words: match d.cut_back {
            Some((_, limit)) => NamedLimit(limit).words(),
            None if some => "the regen settings ask for no more",
            None => "",
        },
        charge_to_pct: units::pct_from_share(d.end.state.charge),
        peak_charge_a: d.extremes.charge_a,
        high_cell_v: d.extremes.high_cell_v,
        grip_pct: units::pct_from_share(d.extremes.brake_grip.max(d.extremes.drive_grip)),
        peak: Temperatures::from_k(car, &d.extremes.hottest_k),
        ledger: LedgerReport::of(ledger, d.end.state.distance_m),
    }
}

/// Energy of height and speed lost, less what rolling and air took, J.
fn held_j(ledger: &sim_core::Ledger) -> f64 {
    -ledger[Account::Potential]
        - ledger[Account::Kinetic]
        - ledger[Account::Rolling]
        - ledger[Account::Air]
}

/// Goes down a hill in one gear (counted from 0) and shows every step to a recorder.
///
/// # Errors
/// [`Failure`] when the integrator gives up.
pub fn recorded<R: Recorder>(
    setup: &Setup<'_>,
    hill: &Hill,
    gear: usize,
    recorder: &mut R,
) -> Result<(), Failure> {
    let fine = sim_core::pieces::Tolerance { longest_step_s: 1.0, ..climb::tolerance() };
    descent::descent(setup.car, setup.start, &down(hill), gear, &fine, recorder)?;
    Ok(())
}

/// The same moment by moment.
///
/// # Errors
/// [`Failure`] when the integrator gives up.
pub fn history(setup: &Setup<'_>, hill: &Hill, gear: usize) -> Result<Vec<Seen>, Failure> {
    let mut history = History::new(setup.car);
    recorded(setup, hill, gear, &mut history)?;
    Ok(history.into_seen())
}

/// Goes down a hill in every gear that the motor may turn in; the sign of its slope does not count.
///
/// # Errors
/// [`Failure::Invalid`] for a level road; [`Failure`] when the integrator gives up.
pub fn report(setup: &Setup<'_>, hill: &Hill) -> Result<DescentReport, Failure> {
    let car = setup.car;
    let hill = down(hill);
    if hill.slope.sin == 0.0 {
        return Err(Failure::Invalid("the grade is 0 %; a descent needs a slope".to_owned()));
    }
    let found = (0..car.gears())
        .into_par_iter()
        .map(|gear| {
            let radps = car.motor_radps(gear, hill.speed_mps);
            let (run, strain) = if radps <= car.max_radps() {
                let tolerance = climb::tolerance();
                let d = descent::descent(car, setup.start, &hill, gear, &tolerance, &mut ())?;
                (Some(run(car, setup.start, &hill, &d)), strain(car, setup.start, &hill, &d))
            } else {
                (None, f64::INFINITY)
            };
            let row = DescentRow { gear: gear + 1, motor_rpm: units::rpm_from_radps(radps), run };
            Ok((row, strain))
        })
        .collect::<Result<Vec<_>, Failure>>()?;
    let chosen = best_gear(&found);
    let gears: Vec<DescentRow> = found.into_iter().map(|(row, _)| row).collect();
    let mass_kg = car.parts().chassis.mass_kg;
    let height_m = -hill.slope.sin * hill.distance_m;
    let height_j = mass_kg * GRAVITY_MPS2 * height_m;
    let level = Slope { sin: 0.0, ..hill.slope };
    let road_j = car.resistance_n(hill.speed_mps, level) * hill.distance_m;
    let kinetic_j = car.kinetic_j(hill.speed_mps, None);
    let stop_m = hill.speed_mps * hill.speed_mps / (2.0 * STOP_MPS2);
    let stop_height_j = -mass_kg * GRAVITY_MPS2 * hill.slope.sin * stop_m;
    Ok(DescentReport {
        grade_pct: -grade_pct(hill.slope),
        speed_kmh: units::kmh_from_mps(hill.speed_mps),
        distance_km: units::km_from_m(hill.distance_m),
        height_m,
        from_charge_pct: units::pct_from_share(setup.start.charge),
        air_c: units::c_from_k(car.surroundings().air_k),
        from_cells_c: units::c_from_k(setup.car.parts().pack.coldest_k(&setup.start.temperature_k)),
        height_kwh: units::kwh_from_j(height_j),
        held_kwh: units::kwh_from_j(height_j - road_j),
        chosen,
        gears,
        stop: StopReport {
            speed_kmh: units::kmh_from_mps(hill.speed_mps),
            deceleration_mps2: STOP_MPS2,
            level_kj: units::kj_from_j(kinetic_j),
            slope_kj: units::kj_from_j(kinetic_j + stop_height_j),
        },
        not_modelled: NOT_MODELLED,
        cautions: CAUTIONS,
    })
}

/// The largest share of what it can bear that a gear takes of the motor's speed, of the way to the
/// warning temperatures, and of the torque that regen has at the top. Where regen has none it is no
/// part of the strain.
fn strain(car: &Car, start: &State, hill: &Hill, d: &Descent) -> f64 {
    let at_top = State { speed_mps: hill.speed_mps, ..*start };
    let now = car.now(&at_top, 0.0);
    let torque_nm = |request| {
        let flow = car.act(&now, hill.speed_mps, hill.slope, d.gear, request);
        (-flow.torque_nm).max(0.0)
    };
    let most_nm = torque_nm(Request::Accelerate(-STOP_MPS2));
    let of_regen = if most_nm > 0.0 { torque_nm(Request::Accelerate(0.0)) / most_nm } else { 0.0 };
    let of_speed = car.motor_radps(d.gear, hill.speed_mps) / car.max_radps();
    let of_heat = car.thermal().share(&d.extremes.hottest_k);
    of_regen.max(of_speed).max(of_heat)
}

/// The gear that a driver takes: one that reaches the foot before one that does not, then the one
/// that spares the friction brakes most, then the one that strains the car least.
fn best_gear(found: &[(DescentRow, f64)]) -> Option<usize> {
    let driven =
        found.iter().filter_map(|(row, strain)| Some((row.gear, row.run.as_ref()?, strain)));
    let short = |run: &DescentRun| run.ending != DescentEnding::Foot;
    driven
        .min_by(|(_, a, a_strain), (_, b, b_strain)| {
            let near = (a.friction_kwh - b.friction_kwh).abs() < 1e-4;
            let by_friction =
                if near { Ordering::Equal } else { a.friction_kwh.total_cmp(&b.friction_kwh) };
            short(a).cmp(&short(b)).then(by_friction).then(a_strain.total_cmp(b_strain))
        })
        .map(|(gear, ..)| gear)
}

impl DescentReport {
    /// The descent in the chosen gear.
    fn best(&self) -> Option<&DescentRun> {
        self.gears.get(self.chosen? - 1)?.run.as_ref()
    }
}

impl Report for DescentReport {}

/// The figures of a descent in the gear that spares the friction brakes most.
pub const FIGURES: &[Reading<DescentReport>] = &[
    plain("descent_gear", Unit::Plain, "the gear that spares the friction brakes most", |r| {
        Some(r.chosen? as f64)
    }),
    lower("descent_friction_kwh", Unit::Kwh, "energy of the friction brakes", |r| {
        Some(r.best()?.friction_kwh)
    }),
    lower(
        "descent_friction_share_pct",
        Unit::Pct,
        "what the friction brakes take of all that must be held",
        |r| Some(r.best()?.friction_share_pct),
    ),
    lower("descent_mean_friction_kw", Unit::Kw, "mean power of the friction brakes", |r| {
        Some(r.best()?.mean_friction_kw)
    }),
    lower("descent_peak_friction_kw", Unit::Kw, "largest power of the friction brakes", |r| {
        Some(r.best()?.peak_friction_kw)
    }),
    higher("descent_regen_kwh", Unit::Kwh, "energy that regen puts back", |r| {
        Some(r.best()?.regen_kwh)
    }),
    higher("descent_cuts_back_after_s", Unit::S, "time until regen is first cut back", |r| {
        Some(r.best()?.cut_back_at_s.unwrap_or(f64::INFINITY))
    }),
    plain("descent_charge_left_pct", Unit::Pct, "charge at the foot", |r| {
        Some(r.best()?.charge_to_pct)
    }),
    lower("descent_peak_charge_a", Unit::A, "largest current into the pack", |r| {
        Some(r.best()?.peak_charge_a)
    }),
    lower("descent_high_cell_v", Unit::V, "highest cell voltage", |r| Some(r.best()?.high_cell_v)),
    lower("descent_grip_pct", Unit::Pct, "largest share of the driven tyres' grip", |r| {
        Some(r.best()?.grip_pct)
    }),
    lower("descent_winding_c", Unit::C, "hottest winding", |r| Some(r.best()?.peak.winding_c)),
    lower("descent_heat_sink_c", Unit::C, "hottest controller heat sink", |r| {
        Some(r.best()?.peak.heat_sink_c)
    }),
    lower("descent_cells_c", Unit::C, "hottest cells", |r| Some(r.best()?.peak.cells_c)),
    lower(
        "descent_stop_kj",
        Unit::Kj,
        "energy of one stop from the asked speed on the slope, by the friction brakes alone",
        |r| Some(r.stop.slope_kj),
    ),
    residual("descent_ledger_residual", |r| Some(r.best()?.ledger.residual)),
];
