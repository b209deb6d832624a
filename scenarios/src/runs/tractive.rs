//! What the driven wheels give over speed in every gear, and what the road takes there.

use crate::prepared::Setup;
use crate::runs::limits::NamedLimit;
use rayon::prelude::*;
use sim_core::Car;
use sim_core::State;
use sim_core::car::Slope;
use sim_core::pull::top_speed;
use sim_core::steady::continuous_force;
use sim_core::units;

/// The driven wheels at one speed of a gear.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TractivePoint {
    /// Speed, km/h.
    pub speed_kmh: f64,
    /// Force, N.
    pub force_n: f64,
}

/// One gear.
#[derive(Debug, Clone, PartialEq)]
pub struct TractiveGear {
    /// Gear, counted from 1.
    pub gear: usize,
    /// Force at full throttle while the speed is held, as the car stands at the start: all limits
    /// asked. A car that gains speed has less at the road, as the rotor's inertia takes its part.
    pub peak: Vec<TractivePoint>,
    /// Force that is held continuously while the speed is held: motor and controller settle below
    /// their warnings, and the cells stay within their limits until the pack gives out. Slopes are
    /// tried up to 60 %; speeds at which not even the level road is held are left out.
    pub continuous: Vec<TractivePoint>,
    /// Top speed on the level (ISO 8715), km/h.
    pub top_speed_kmh: f64,
    /// What sets it.
    pub top_speed_by: Option<NamedLimit>,
}

/// What the road takes on one grade.
#[derive(Debug, Clone, PartialEq)]
pub struct Need {
    /// Grade, %.
    pub grade_pct: f64,
    /// Rolling, air and grade force on warm tyres.
    pub road: Vec<TractivePoint>,
}

/// What the driven wheels give and what the road takes.
#[derive(Debug, Clone, PartialEq)]
pub struct TractiveReport {
    /// Every gear.
    pub gears: Vec<TractiveGear>,
    /// Grades, level first.
    pub needs: Vec<Need>,
    /// Force at which the driven tyres let go on the level; empty where they hold whatever comes.
    pub grip: Vec<TractivePoint>,
}

/// Grades whose need is shown, %.
pub const GRADES_PCT: [f64; 5] = [0.0, 5.0, 10.0, 15.0, 20.0];

/// Speeds at which a gear's full throttle is asked for.
const SPEEDS: u32 = 60;
/// Speeds at which what a gear holds continuously is asked for.
const CONTINUOUS_SPEEDS: u32 = 20;
/// Speeds at which the road is asked.
const ROAD_SPEEDS: u32 = 30;

/// Works out the lines, in parallel.
pub fn report(setup: &Setup<'_>) -> TractiveReport {
    let car = setup.car;
    // On tyres that are run warm, as what the road takes.
    let now = car.now(&State { tyre_chill_k: 0.0, ..*setup.start }, 0.0);
    let gears: Vec<TractiveGear> = (0..car.gears())
        .into_par_iter()
        .map(|gear| {
            let top = top_speed(car, setup.start, Slope::LEVEL, gear);
            TractiveGear {
                gear: gear + 1,
                peak: peak(car, &now, gear),
                continuous: held(setup, gear),
                top_speed_kmh: units::kmh_from_mps(top.speed_mps),
                top_speed_by: top.by.map(NamedLimit),
            }
        })
        .collect();
    let fastest_mps = (0..car.gears()).map(|g| car.top_speed_by_rpm_mps(g)).fold(0.0, f64::max);
    let along = |force: &dyn Fn(f64) -> Option<f64>| -> Vec<TractivePoint> {
        speeds_mps(fastest_mps, ROAD_SPEEDS)
            .filter_map(|mps| Some(point(mps, force(mps)?)))
            .collect()
    };
    let needs = GRADES_PCT.map(|grade_pct| {
        let slope = Slope::from_grade(units::share_from_pct(grade_pct));
        Need { grade_pct, road: along(&|mps| Some(car.resistance_n(mps, slope))) }
    });
    let grip = along(&|mps| car.gripped_n(&now, mps, Slope::LEVEL));
    TractiveReport { gears, needs: needs.to_vec(), grip }
}

fn point(mps: f64, force_n: f64) -> TractivePoint {
    TractivePoint { speed_kmh: units::kmh_from_mps(mps), force_n }
}

fn speeds_mps(highest_mps: f64, parts: u32) -> impl Iterator<Item = f64> {
    (0..=parts).map(move |i| highest_mps * f64::from(i) / f64::from(parts))
}

/// Full throttle over the speeds of a gear, among them those between which the highest motor speed
/// takes the torque away.
fn peak(car: &Car, now: &sim_core::car::Instant, gear: usize) -> Vec<TractivePoint> {
    let whole_mps = car.whole_torque_mps(gear);
    speeds_mps(whole_mps, SPEEDS)
        .chain([car.top_speed_by_rpm_mps(gear)])
        .map(|mps| point(mps, car.full_held_n(now, mps, Slope::LEVEL, gear)))
        .collect()
}

/// What is held continuously over the speeds of a gear, from walking pace on.
fn held(setup: &Setup<'_>, gear: usize) -> Vec<TractivePoint> {
    let whole_mps = setup.car.whole_torque_mps(gear);
    let speeds: Vec<f64> = speeds_mps(whole_mps, CONTINUOUS_SPEEDS).skip(1).collect();
    let found: Vec<Option<TractivePoint>> = speeds
        .into_par_iter()
        .map(|mps| Some(point(mps, continuous_force(setup.car, setup.start, mps, gear)?.force_n)))
        .collect();
    found.into_iter().flatten().collect()
}
