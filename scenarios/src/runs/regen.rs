//! A grid of the two regen settings over a commute.

use crate::prepared::{Prepared, Setup};
use crate::runs::drive;
use crate::runs::failure::Failure;
use crate::runs::figure::{
    Reading, Report, Unit, higher, lower, or_nothing, per_km, plain, residual,
};
use crate::runs::limits::NamedLimit;
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::ledger::Account;
use sim_core::units;
use sim_core::{Car, Limit, State, Trace};

/// What one pair of settings does.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct RegenRow {
    /// Lift-off setting, % of the motor's peak torque.
    pub lift_off_pct: f64,
    /// Brake-pedal setting, % of the motor's peak torque.
    pub brake_pct: f64,
    /// Consumption at the pack's terminals, Wh/km; nothing where the car stood.
    #[serde(serialize_with = "or_nothing")]
    #[schemars(with = "Option<f64>")]
    pub wh_per_km: f64,
    /// Energy that regen put back at the terminals, Wh/km.
    #[serde(serialize_with = "or_nothing")]
    #[schemars(with = "Option<f64>")]
    pub recovered_wh_per_km: f64,
    /// Energy of the friction brakes, Wh/km.
    #[serde(serialize_with = "or_nothing")]
    #[schemars(with = "Option<f64>")]
    pub friction_wh_per_km: f64,
    /// Deceleration on lift-off at the stated speed on the level with a half full pack, m/s².
    pub lift_off_mps2: f64,
    /// The same with a full pack, m/s².
    pub lift_off_full_mps2: f64,
    /// Largest charge current, A.
    pub peak_charge_a: f64,
    /// Largest share of the driven tyres' grip used while slowing, %.
    pub brake_grip_pct: f64,
    /// Time for which the tyres' grip cut regen back, s.
    pub grip_limited_s: f64,
    /// Time for which pack, cells or controller cut regen back, s.
    pub charge_limited_s: f64,
    /// What cut it back most.
    pub limited_by: Option<NamedLimit>,
    /// Range on this road, km.
    pub range_km: f64,
    /// Why the road was not driven to its end, if it was not.
    pub not_done: Option<&'static str>,
    /// Ledger residual as a share of the throughput.
    pub ledger_residual: f64,
}

/// A grid of regen settings.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct RegenReport {
    /// Name of the road or cycle.
    pub road: String,
    /// Distance, km.
    pub distance_km: f64,
    /// Speed at which the lift-off deceleration is stated, km/h.
    pub lift_off_at_kmh: f64,
    /// Gear at that speed, counted from 1.
    pub lift_off_gear: usize,
    /// Charge of the half full pack, %: half-way through what is used of it.
    pub half_charge_pct: f64,
    /// Charge of the full pack, %.
    pub full_charge_pct: f64,
    /// Largest charge current that cells and controller take at the start, A.
    pub charge_limit_a: f64,
    /// Share of grip under which a setting counts as safe to leave on, %.
    pub grip_margin_pct: f64,
    /// Each pair of settings.
    pub rows: Vec<RegenRow>,
    /// The best pair, as an index into `rows`.
    pub best: usize,
    /// The pair with the lowest consumption regardless of grip, as an index into `rows`.
    pub thriftiest: usize,
}

/// Largest share of the driven tyres' grip that a setting may use and still be the best, %: the
/// rest is for bends and bumps (common practice, no source).
pub const GRIP_MARGIN_PCT: f64 = 70.0;

/// Gear of a driver at a steady speed: the lowest with the motor under 60 % of its highest speed.
pub(super) fn cruising_gear(car: &Car, speed_mps: f64) -> usize {
    (0..car.gears())
        .find(|g| car.motor_radps(*g, speed_mps) < 0.6 * car.max_radps())
        .unwrap_or(car.gears() - 1)
}

/// Charge of a pack that is half-way through what is used of it: it takes what regen gives.
pub(super) fn half_charge(car: &Car) -> f64 {
    let pack = &car.parts().pack;
    0.5 * (pack.min_charge + pack.max_charge)
}

/// Deceleration on lift-off on the level at a charge, parts as warm as at the start, m/s².
fn lift_off_mps2(setup: &Setup<'_>, charge: f64, gear: usize, at_mps: f64) -> f64 {
    let state = State { charge, ..*setup.start };
    -sim_core::brakes::pedals_up(setup.car, &state, gear, at_mps).acceleration_mps2
}

/// Settings to compare, each with each.
#[derive(Debug, Clone, PartialEq)]
pub struct Grid {
    /// Lift-off settings, % of the motor's peak torque.
    pub lift_off_pct: Vec<f64>,
    /// Brake-pedal settings, % of the motor's peak torque, on top of lift-off.
    pub brake_pct: Vec<f64>,
    /// Speed at which the lift-off deceleration is stated, m/s.
    pub at_mps: f64,
}

impl Default for Grid {
    /// None, some and much of either, stated at 50 km/h.
    fn default() -> Self {
        Self {
            lift_off_pct: vec![0.0, 10.0, 20.0],
            brake_pct: vec![0.0, 20.0, 40.0],
            at_mps: units::mps_from_kmh(50.0),
        }
    }
}

/// Drives a trace with every pair of settings, in parallel.
///
/// # Errors
/// [`Failure::Invalid`] when the motor makes no regen or a list is empty.
pub fn report(
    prepared: &Prepared,
    road: &str,
    trace: &Trace,
    grid: &Grid,
) -> Result<RegenReport, Failure> {
    let Grid { lift_off_pct, brake_pct, at_mps } = grid;
    let at_mps = *at_mps;
    let car = &prepared.car;
    if !car.parts().motor.makes_regen() {
        return Err(Failure::Invalid(
            "the motor makes no regen, so there is no setting to compare".into(),
        ));
    }
    let pairs: Vec<(f64, f64)> =
        lift_off_pct.iter().flat_map(|l| brake_pct.iter().map(move |b| (*l, *b))).collect();
    if pairs.is_empty() {
        return Err(Failure::Invalid("a list of regen settings is empty".into()));
    }
    let gear = cruising_gear(car, at_mps);
    let rows = pairs
        .par_iter()
        .map(|pair| {
            let set = prepared
                .changed(|scenario| scenario.build.regen.get_or_insert_default().set_pct(*pair))
                .map_err(|e| Failure::Invalid(e.to_string()))?;
            Ok(row(&set.setup(), trace, *pair, gear, at_mps))
        })
        .collect::<Result<Vec<RegenRow>, Failure>>()?;
    let lowest = |fits: &dyn Fn(&RegenRow) -> bool| {
        (0..rows.len())
            .filter(|i| rows[*i].not_done.is_none() && fits(&rows[*i]))
            .min_by(|a, b| rows[*a].wh_per_km.total_cmp(&rows[*b].wh_per_km))
    };
    let thriftiest = lowest(&|_| true).unwrap_or(0);
    let safe = |r: &RegenRow| r.brake_grip_pct <= GRIP_MARGIN_PCT && r.grip_limited_s == 0.0;
    let gentlest = || {
        let grip = |i: &usize| (rows[*i].not_done.is_some(), rows[*i].brake_grip_pct);
        (0..rows.len()).min_by(|a, b| {
            let (a, b) = (grip(a), grip(b));
            a.0.cmp(&b.0).then(a.1.total_cmp(&b.1))
        })
    };
    let best = lowest(&safe).or_else(gentlest).unwrap_or(0);
    let now = car.now(&prepared.start, 0.0);
    Ok(RegenReport {
        road: road.to_string(),
        distance_km: units::km_from_m(trace.distance_m()),
        lift_off_at_kmh: units::kmh_from_mps(at_mps),
        lift_off_gear: gear + 1,
        half_charge_pct: units::pct_from_share(half_charge(car)),
        full_charge_pct: units::pct_from_share(car.parts().pack.max_charge),
        charge_limit_a: now.pack.charge_a.0.min(car.parts().controller.pack_regen_current_a),
        grip_margin_pct: GRIP_MARGIN_PCT,
        rows,
        best,
        thriftiest,
    })
}

fn row(
    setup: &Setup<'_>,
    trace: &Trace,
    (lift_off_pct, brake_pct): (f64, f64),
    gear: usize,
    at_mps: f64,
) -> RegenRow {
    let found = drive::drive(setup, trace, &mut ());
    let km = units::km_from_m(found.distance_m).max(1e-9);
    let wh_per_km = |joules: f64| per_km(units::wh_from_j(joules), km);
    let lift_off = |charge| lift_off_mps2(setup, charge, gear, at_mps);
    let whole = drive::report(setup, "", trace, &found);
    let charging = [
        Limit::ControllerPackCurrent,
        Limit::ControllerVoltage,
        Limit::CellCurrent,
        Limit::CellTemperature,
        Limit::CellVoltage,
        Limit::Charge,
    ];
    let seconds = |l: Limit| found.regen_limited_s[l as usize];
    let most = charging
        .into_iter()
        .chain([Limit::Grip])
        .filter(|l| seconds(*l) > 0.0)
        .max_by(|a, b| seconds(*a).total_cmp(&seconds(*b)));
    RegenRow {
        lift_off_pct,
        brake_pct,
        wh_per_km: whole.wh_per_km,
        recovered_wh_per_km: wh_per_km(found.regen_j),
        friction_wh_per_km: wh_per_km(found.ledger[Account::Brakes]),
        lift_off_mps2: lift_off(half_charge(setup.car)),
        lift_off_full_mps2: lift_off(setup.car.parts().pack.max_charge),
        peak_charge_a: found.extremes.charge_a,
        brake_grip_pct: whole.brake_grip_pct,
        grip_limited_s: seconds(Limit::Grip),
        charge_limited_s: charging.into_iter().map(seconds).sum(),
        limited_by: most.map(NamedLimit),
        range_km: drive::range_of(setup, trace).distance_km,
        not_done: whole.not_done(),
        ledger_residual: whole.ledger.residual,
    }
}

impl Report for RegenReport {
    fn not_done(&self) -> Option<&'static str> {
        self.best_row()?.not_done
    }
}

impl RegenReport {
    /// Whether the road tells one setting from another: on one without braking, all come to the same.
    pub fn tells(&self) -> bool {
        let mut driven = self.rows.iter().filter(|row| row.not_done.is_none());
        let Some(first) = driven.next() else { return true };
        let differs = |a: f64, b: f64| (a - b).abs() > 1e-9 * b.abs().max(1.0);
        self.rows.len() == 1
            || driven.any(|row| {
                differs(row.wh_per_km, first.wh_per_km)
                    || differs(row.recovered_wh_per_km, first.recovered_wh_per_km)
            })
    }

    /// The row of the best pair.
    fn best_row(&self) -> Option<&RegenRow> {
        self.rows.get(self.best)
    }
}

/// The figures of the best pair of settings.
pub const FIGURES: &[Reading<RegenReport>] = &[
    plain(
        "regen_lift_off_pct",
        Unit::Pct,
        "best lift-off setting, of the motor's peak torque: least consumption with grip to spare",
        |r| Some(r.best_row()?.lift_off_pct),
    ),
    plain("regen_brake_pct", Unit::Pct, "best brake-pedal setting, on top of lift-off", |r| {
        Some(r.best_row()?.brake_pct)
    }),
    lower("regen_wh_per_km", Unit::WhPerKm, "consumption at the pack with the best setting", |r| {
        Some(r.best_row()?.wh_per_km)
    }),
    higher(
        "regen_recovered_wh_per_km",
        Unit::WhPerKm,
        "energy that regen puts back with the best setting",
        |r| Some(r.best_row()?.recovered_wh_per_km),
    ),
    lower(
        "regen_friction_wh_per_km",
        Unit::WhPerKm,
        "energy of the friction brakes with the best setting",
        |r| Some(r.best_row()?.friction_wh_per_km),
    ),
    plain(
        "regen_lift_off_mps2",
        Unit::Mps2,
        "how hard the best setting slows the car on lift-off at 50 km/h, with a half full pack",
        |r| Some(r.best_row()?.lift_off_mps2),
    ),
    plain(
        "regen_lift_off_full_mps2",
        Unit::Mps2,
        "how hard the best setting slows the car on lift-off at 50 km/h, with a full pack",
        |r| Some(r.best_row()?.lift_off_full_mps2),
    ),
    lower("regen_peak_charge_a", Unit::A, "largest current into the pack", |r| {
        Some(r.best_row()?.peak_charge_a)
    }),
    lower(
        "regen_grip_pct",
        Unit::Pct,
        "largest share of the driven tyres' grip while slowing",
        |r| Some(r.best_row()?.brake_grip_pct),
    ),
    higher("regen_range_km", Unit::Km, "range with the best setting", |r| {
        Some(r.best_row()?.range_km)
    }),
    residual("regen_ledger_residual", |r| Some(r.best_row()?.ledger_residual)),
];
