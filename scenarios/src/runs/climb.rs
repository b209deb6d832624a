//! Holding a speed on a grade, in every gear.

use crate::prepared::Setup;
use crate::runs::failure::Failure;
use crate::runs::figure::{
    Reading, Report, Unit, higher, lower, plain, reach, residual, yes, yes_no,
};
use crate::runs::grade::grade_pct;
use crate::runs::history::{History, Seen};
use crate::runs::limits::NamedLimit;
use crate::runs::temperatures::{Temperatures, Warnings};
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::Limit;
use sim_core::car::Slope;
use sim_core::climb::{self, Climb, ClimbEnding, Hill};
use sim_core::follow::Recorder;
use sim_core::pieces::Tolerance;
use sim_core::steady::highest_continuous_speed;
use sim_core::units;

/// How a climb ended, as results name it.
#[derive(Serialize, JsonSchema)]
#[serde(remote = "ClimbEnding", rename_all = "snake_case")]
#[schemars(rename = "ClimbEnding")]
enum NamedEnding {
    /// At the top.
    Top,
    /// The weakest cell was empty.
    Empty,
    /// The car had slowed to a crawl.
    Stalled,
}

/// A climb in one gear.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ClimbRow {
    /// Gear, counted from 1.
    pub gear: usize,
    /// Motor speed at the asked speed, rpm.
    pub motor_rpm: f64,
    /// Whether the motor may turn that fast.
    pub within_rpm: bool,
    /// Whether the asked speed was held to the top.
    pub held: bool,
    /// How it ended.
    #[serde(serialize_with = "NamedEnding::serialize")]
    #[schemars(with = "NamedEnding")]
    pub ending: ClimbEnding,
    /// The box that was empty, of a pack in boxes, where that ended it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub empty_in: Option<String>,
    /// Time, s.
    pub time_s: f64,
    /// Distance, km.
    pub distance_km: f64,
    /// Slowest speed, km/h.
    pub slowest_kmh: f64,
    /// When the asked speed was lost, s.
    pub slowed_at_s: Option<f64>,
    /// What took it.
    pub slowed_by: Option<NamedLimit>,
    /// Whose cells, of a pack in boxes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slowed_in: Option<String>,
    /// When a part first began to cut back, s.
    pub derated_at_s: Option<f64>,
    /// Which part.
    pub derated_by: Option<NamedLimit>,
    /// Whose cells, of a pack in boxes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub derated_in: Option<String>,
    /// Power from the pack at the foot, kW.
    pub pack_kw: f64,
    /// Power at the motor shaft at the foot, kW.
    pub shaft_kw: f64,
    /// Shaft torque at the foot, N·m.
    pub torque_nm: f64,
    /// Pack current at the foot, A.
    pub pack_a: f64,
    /// Largest pack current, A.
    pub peak_pack_a: f64,
    /// Motor current at the foot, A.
    pub motor_a: f64,
    /// Largest motor current, A.
    pub peak_motor_a: f64,
    /// Lowest cell voltage, V.
    pub low_cell_v: f64,
    /// Energy from the cells, kWh.
    pub energy_kwh: f64,
    /// Charge left, %.
    pub charge_left_pct: f64,
    /// Highest temperatures.
    pub peak: Temperatures,
    /// Largest share of the way from ambient to a warning temperature, %.
    pub heat_pct: f64,
    /// Highest speed at which this gear climbs the grade continuously, km/h: motor and controller
    /// settle below their warnings, and the cells stay within their limits until the pack gives out.
    pub continuous_kmh: Option<f64>,
    /// What limits it.
    pub continuous_by: Option<NamedLimit>,
    /// Highest speed at which this gear climbs the asked length with nothing cutting back, km/h.
    pub length_kmh: Option<f64>,
    /// Ledger residual as a share of the throughput.
    pub ledger_residual: f64,
}

impl Report for ClimbRow {
    fn not_done(&self) -> Option<&'static str> {
        match self.ending {
            _ if !self.within_rpm => Some("the speed is beyond the highest rpm in the best gear"),
            ClimbEnding::Empty => Some("the weakest cell was empty before the top"),
            ClimbEnding::Stalled => Some("the car came to a stop before the top"),
            ClimbEnding::Top if !self.held => Some("the speed was not held to the top"),
            ClimbEnding::Top => None,
        }
    }
}

/// A climb.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ClimbReport {
    /// Grade, %.
    pub grade_pct: f64,
    /// Speed to hold, km/h.
    pub speed_kmh: f64,
    /// Length, km.
    pub distance_km: f64,
    /// Air temperature, °C.
    pub air_c: f64,
    /// Temperatures at which parts cut back.
    pub warnings: Warnings,
    /// The gear to take, counted from 1.
    pub chosen: usize,
    /// Each gear.
    pub gears: Vec<ClimbRow>,
    /// Highest speed that the grade can be climbed at continuously, km/h, and in which gear.
    pub continuous: Option<(f64, usize)>,
    /// Highest speed over the asked length with nothing cutting back, km/h, and in which gear.
    pub for_length: Option<(f64, usize)>,
}

impl ClimbReport {
    /// The row of the chosen gear.
    pub fn best(&self) -> &ClimbRow {
        &self.gears[self.chosen - 1]
    }
}

/// How closely climbs are integrated: over minutes, steps of some seconds do.
pub fn tolerance() -> Tolerance {
    Tolerance { longest_step_s: 5.0, ..Tolerance::default() }
}

fn row(setup: &Setup<'_>, hill: &Hill, c: &Climb) -> ClimbRow {
    let car = setup.car;
    let of_cells = |by: Option<Limit>, own: usize| {
        by.filter(|by| by.is_of_cells()).and_then(|_| setup.boxes.get(own)).cloned()
    };
    let empty_in =
        || of_cells(Some(Limit::Charge), car.box_that_holds(&c.end.state, 1.0, Limit::Charge));
    let radps = car.motor_radps(c.gear, hill.speed_mps);
    let (start_charge, end) = (c.end.state.charge, &c.end);
    ClimbRow {
        gear: c.gear + 1,
        motor_rpm: units::rpm_from_radps(radps),
        within_rpm: radps <= car.max_radps(),
        held: c.held(),
        ending: c.ending,
        empty_in: (c.ending == ClimbEnding::Empty).then(empty_in).flatten(),
        time_s: end.time_s,
        distance_km: units::km_from_m(end.state.distance_m),
        slowest_kmh: units::kmh_from_mps(c.slowest_mps),
        slowed_at_s: c.slowed.map(|s| s.0),
        slowed_by: c.slowed.and_then(|s| s.1).map(NamedLimit),
        slowed_in: of_cells(c.slowed.and_then(|s| s.1), c.slowed_in),
        derated_at_s: c.derated.map(|d| d.0),
        derated_by: c.derated.map(|d| NamedLimit(d.1)),
        derated_in: of_cells(c.derated.map(|d| d.1), c.derated_in),
        pack_kw: units::kw_from_w(c.first.pack_a * c.first.pack_v),
        shaft_kw: units::kw_from_w(c.first.torque_nm * c.first.radps),
        torque_nm: c.first.torque_nm,
        pack_a: c.first.pack_a,
        peak_pack_a: c.extremes.discharge_a,
        motor_a: c.first.motor_a,
        peak_motor_a: c.extremes.motor_a,
        low_cell_v: c.extremes.low_cell_v,
        energy_kwh: units::kwh_from_j(end.ledger[sim_core::ledger::Account::Chemical]),
        charge_left_pct: units::pct_from_share(start_charge),
        peak: Temperatures::from_k(car, &c.extremes.hottest_k),
        heat_pct: units::pct_from_share(c.heat_share(car)),
        continuous_kmh: None,
        continuous_by: None,
        length_kmh: None,
        ledger_residual: end.ledger.residual_share(),
    }
}

/// The climb of a scenario that names none: a long motorway hill (common practice, no source).
pub fn usual() -> Hill {
    Hill {
        slope: Slope::from_grade(0.06),
        speed_mps: units::mps_from_kmh(80.0),
        distance_m: units::m_from_km(10.0),
    }
}

/// Climbs in every gear, in parallel.
///
/// # Errors
/// [`Failure`] when the integrator gives up.
pub fn climbs(setup: &Setup<'_>, hill: &Hill) -> Result<Vec<Climb>, Failure> {
    (0..setup.car.gears())
        .into_par_iter()
        .map(|g| {
            climb::climb(setup.car, setup.start, hill, g, &tolerance(), &mut ())
                .map_err(Failure::from)
        })
        .collect()
}

/// Climbs in one gear (counted from 0) and shows every step to a recorder.
///
/// # Errors
/// [`Failure`] when the integrator gives up.
pub fn recorded<R: Recorder>(
    setup: &Setup<'_>,
    hill: &Hill,
    gear: usize,
    recorder: &mut R,
) -> Result<(), Failure> {
    let fine = Tolerance { longest_step_s: 1.0, ..tolerance() };
    climb::climb(setup.car, setup.start, hill, gear, &fine, recorder)?;
    Ok(())
}

/// Climbs in every gear moment by moment, in parallel.
///
/// # Errors
/// [`Failure`] when the integrator gives up.
pub fn histories(setup: &Setup<'_>, hill: &Hill) -> Result<Vec<Vec<Seen>>, Failure> {
    (0..setup.car.gears())
        .into_par_iter()
        .map(|gear| {
            let mut history = History::new(setup.car);
            recorded(setup, hill, gear, &mut history)?;
            Ok(history.into_seen())
        })
        .collect()
}

/// Climbs in every gear and chooses one, without the highest speeds.
///
/// # Errors
/// [`Failure`] when the integrator gives up.
pub fn choice(setup: &Setup<'_>, hill: &Hill) -> Result<ClimbReport, Failure> {
    let car = setup.car;
    let all = climbs(setup, hill)?;
    Ok(ClimbReport {
        grade_pct: grade_pct(hill.slope),
        speed_kmh: units::kmh_from_mps(hill.speed_mps),
        distance_km: units::km_from_m(hill.distance_m),
        air_c: units::c_from_k(car.surroundings().air_k),
        warnings: Warnings::of(car),
        chosen: climb::best(car, &all).map_or(1, |c| c.gear + 1),
        continuous: None,
        for_length: None,
        gears: all.iter().map(|c| row(setup, hill, c)).collect(),
    })
}

/// Climbs in every gear, chooses one, and finds the highest speeds, continuous and for the length.
///
/// # Errors
/// [`Failure`] when the integrator gives up.
pub fn report(setup: &Setup<'_>, hill: &Hill) -> Result<ClimbReport, Failure> {
    let car = setup.car;
    let mut found = choice(setup, hill)?;
    found.gears.par_iter_mut().try_for_each(|row| -> Result<(), Failure> {
        let gear = row.gear - 1;
        let continuous = highest_continuous_speed(car, setup.start, hill.slope, gear);
        let length = climb::highest_speed(car, setup.start, hill, gear, &tolerance())?;
        row.continuous_kmh = continuous.map(|(mps, _)| units::kmh_from_mps(mps));
        row.continuous_by = continuous.map(|(_, by)| NamedLimit(by));
        row.length_kmh = length.map(units::kmh_from_mps);
        Ok(())
    })?;
    let gears = &found.gears;
    let highest = |speed: fn(&ClimbRow) -> Option<f64>| {
        gears.iter().filter_map(|r| Some((speed(r)?, r.gear))).max_by(|a, b| a.0.total_cmp(&b.0))
    };
    let (continuous, for_length) = (highest(|r| r.continuous_kmh), highest(|r| r.length_kmh));
    Ok(ClimbReport { continuous, for_length, ..found })
}

/// Climbs in every gear and tells of the best alone.
///
/// # Errors
/// [`Failure`] when the integrator gives up.
pub fn best(setup: &Setup<'_>, hill: &Hill) -> Result<ClimbRow, Failure> {
    let all = climbs(setup, hill)?;
    let best = climb::best(setup.car, &all)
        .ok_or_else(|| Failure::Invalid("the gearbox has no gear".into()))?;
    Ok(row(setup, hill, best))
}

/// The figures of a hill, in its best gear.
macro_rules! figures_of {
    ($hill:literal) => {
        &[
            plain(concat!($hill, "_gear"), Unit::Plain, "the best gear", |r| Some(r.gear as f64)),
            yes_no(
                concat!($hill, "_held"),
                "whether the speed is held to the top",
                |r| yes(r.held),
            ),
            reach(concat!($hill, "_slowest_kmh"), Unit::Kmh, "lowest speed", |r| {
                Some(r.slowest_kmh)
            }),
            higher(
                concat!($hill, "_derates_after_s"),
                Unit::S,
                "time until a part is too hot and cuts back",
                |r| Some(r.derated_at_s.unwrap_or(f64::INFINITY)),
            ),
            lower(
                concat!($hill, "_heat_pct"),
                Unit::Pct,
                "how far the hottest part gets from the air to where it cuts back; from 100 on it \
                 does",
                |r| Some(r.heat_pct),
            ),
            lower(concat!($hill, "_winding_c"), Unit::C, "hottest winding", |r| {
                Some(r.peak.winding_c)
            }),
            lower(concat!($hill, "_heat_sink_c"), Unit::C, "hottest controller heat sink", |r| {
                Some(r.peak.heat_sink_c)
            }),
            lower(concat!($hill, "_cells_c"), Unit::C, "hottest cells", |r| Some(r.peak.cells_c)),
            lower(concat!($hill, "_coolant_c"), Unit::C, "hottest coolant", |r| r.peak.coolant_c),
            lower(concat!($hill, "_pack_kw"), Unit::Kw, "power from the pack at the foot", |r| {
                Some(r.pack_kw)
            }),
            lower(concat!($hill, "_energy_kwh"), Unit::Kwh, "energy from the cells", |r| {
                Some(r.energy_kwh)
            }),
            residual(concat!($hill, "_ledger_residual"), |r| Some(r.ledger_residual)),
        ]
    };
}

/// The figures of the climb.
pub const FIGURES: &[Reading<ClimbRow>] = figures_of!("climb");
/// The figures of the pass.
pub const PASS_FIGURES: &[Reading<ClimbRow>] = figures_of!("pass");
