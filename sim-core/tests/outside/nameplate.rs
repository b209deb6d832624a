//! Thermal parameters identified from a nameplate, against the duty types of IEC 60034-1 that the
//! nameplate means: in S1 the winding settles at its class temperature, in S2 it arrives there, from
//! cold, when the stated minutes are over. Classes B, F and H: 130, 155, 180 °C (IEC 60085).
//!
//! The motor is loaded as on a test stand: a car at steady speed against a resistance that makes
//! just the rated torque, in the core's own steps.

use crate::bench;

use bench::{Bench, assert_near, one_gear, one_gear_driver};
use sim_core::car::{Car, Slope};
use sim_core::climb::equilibrium;
use sim_core::controller::Derating;
use sim_core::cooling::Wind;
use sim_core::follow::{Moment, follow};
use sim_core::motor::{Kind, Motor, Rating, ShortRating, Thermal, ThermalSheet, identify};
use sim_core::road_load::rolling_temperature_factor;
use sim_core::{Invalid, Node, Trace};

/// 40 °C, the ambient of ratings (IEC 60034-1).
const AMBIENT_K: f64 = 313.15;
const CLASSES_C: [(char, f64); 3] = [('B', 130.0), ('F', 155.0), ('H', 180.0)];
const RADPS: f64 = 300.0;
const CONTINUOUS_NM: f64 = 25.0;

fn kinds() -> [Kind; 3] {
    [
        Kind::Induction { magnetising_a: 60.0 },
        Kind::PermanentMagnet,
        Kind::SeriesDc { saturation_a: 200.0, brush_v: 2.0 },
    ]
}

fn motor(kind: Kind) -> Motor {
    let mut motor = Bench::light_car().parts.motor;
    motor.machine.kind = kind;
    motor.derating = Derating { warning_k: 900.0, cut_off_k: 1000.0 };
    motor
}

fn identified(motor: &Motor, sheet: &ThermalSheet) -> Result<Thermal, Invalid> {
    identify(&motor.machine, &motor.losses, motor.loss_reference_k, sheet)
}

fn sheet(class_c: f64, short: Option<(f64, f64)>) -> ThermalSheet {
    ThermalSheet {
        continuous: Rating { torque_nm: CONTINUOUS_NM, radps: RADPS },
        short: short.map(|(torque_nm, minutes)| ShortRating {
            rating: Rating { torque_nm, radps: RADPS },
            for_s: minutes * 60.0,
        }),
        class_k: class_c + 273.15,
        ambient_k: AMBIENT_K,
        volts: 100.0,
        mass_kg: 45.0,
        winding_share: 0.4,
        still_share: 0.3,
        road_air_share: 0.0,
        coolant_k: None,
    }
}

/// The stand: this motor at `RADPS` against a resistance that takes the torque, at the voltage and
/// ambient of the rating.
fn stand(mut motor: Motor, sheet: &ThermalSheet, torque_nm: f64) -> Car {
    motor.thermal = identified(&motor, sheet).unwrap();
    Bench::ideal_car()
        .with(|p| {
            p.gearbox = one_gear(3.0, 1.0);
            let force_n = torque_nm * 3.0 / p.rolling_radius_m;
            let rolling_n = force_n / rolling_temperature_factor(AMBIENT_K);
            p.road_load = bench::road_load(p.chassis.mass_kg, rolling_n, 0.0);
            p.motor = motor;
        })
        .around(|a| a.air_k = AMBIENT_K)
        .car()
}

/// Runs the stand and returns the winding's last temperature and when it first reached a mark.
fn load(car: &Car, for_s: f64, mark_k: f64) -> (f64, Option<f64>) {
    let speed_mps = RADPS * 0.3 / 3.0;
    let trace = Trace::steady(speed_mps, 0.0, for_s).unwrap();
    let mut start = sim_core::State::parked(0.5, AMBIENT_K);
    start.speed_mps = speed_mps;
    let mut reached = None;
    let mut watch = |m: &Moment<'_>| {
        if reached.is_none() && m.state.temperature_k[Node::Winding] >= mark_k {
            reached = Some(m.time_s);
        }
    };
    let drive = follow(car, &trace, &one_gear_driver(0), &start, 0, 1.0, &mut watch);
    (drive.end.temperature_k[Node::Winding], reached)
}

#[test]
fn after_a_day_at_the_continuous_rating_the_winding_is_at_its_class_temperature() {
    for kind in kinds() {
        for (class, class_c) in CLASSES_C {
            for short in [None, Some((35.0, 60.0))] {
                let sheet = sheet(class_c, short);
                let car = stand(motor(kind), &sheet, CONTINUOUS_NM);
                let (winding_k, _) = load(&car, 24.0 * 3600.0, f64::INFINITY);
                let what = format!("{kind:?}, class {class}, S1");
                assert_near(winding_k, class_c + 273.15, 1.0, &what);
            }
        }
    }
}

/// The balance of heat that [`equilibrium`] solves is the same.
#[test]
fn equilibrium_at_the_continuous_rating_is_the_class_temperature() {
    for (class, class_c) in CLASSES_C {
        let sheet = sheet(class_c, None);
        let car = stand(motor(Kind::PermanentMagnet), &sheet, CONTINUOUS_NM);
        let start = sim_core::State::parked(0.5, AMBIENT_K);
        let found = equilibrium(&car, &start, Slope::LEVEL, RADPS * 0.1, 0).unwrap();
        assert_near(
            found.state.temperature_k[Node::Winding],
            class_c + 273.15,
            0.01,
            &format!("class {class}"),
        );
        // 40 % of the rise lies between winding and housing, as the sheet says.
        let inner_k =
            found.state.temperature_k[Node::Winding] - found.state.temperature_k[Node::Housing];
        assert_near(inner_k, 0.4 * (class_c + 273.15 - AMBIENT_K), 0.01, "winding over housing");
    }
}

#[test]
fn from_cold_the_short_time_rating_lasts_its_stated_minutes() {
    for kind in kinds() {
        for (class, class_c) in CLASSES_C {
            for (torque_nm, minutes) in [(30.0, 60.0), (36.0, 60.0), (36.0, 30.0), (45.0, 30.0)] {
                let sheet = sheet(class_c, Some((torque_nm, minutes)));
                let car = stand(motor(kind), &sheet, torque_nm);
                let (_, reached) = load(&car, 2.0 * minutes * 60.0, class_c + 273.15);
                let what = format!("{kind:?}, class {class}, S2 {minutes} min at {torque_nm} N·m");
                let reached_s = reached.unwrap_or_else(|| panic!("{what}: never reached"));
                assert_near(reached_s, minutes * 60.0, 120.0, &what);
            }
        }
    }
}

/// By hand: a sheet whose motor has copper loss only. 25 N·m at 4 A/(N·m) is 100 A, at 0.02 W/A²
/// and class F 200·(235 + 155)/(235 + 80) W; 40 % of 115 K lies inside.
#[test]
fn conductances_are_those_of_the_rated_heat_and_rise() {
    let mut motor = motor(Kind::PermanentMagnet);
    motor.machine.current_a_per_nm = 4.0;
    motor.losses = sim_core::motor::Losses::Coefficients(sim_core::motor::Coefficients {
        copper_w_per_a2: 0.02,
        ..Default::default()
    });
    motor.machine.envelope.base_radps = 1000.0;
    let found = identified(&motor, &sheet(155.0, None)).unwrap();
    let heat_w = 200.0 * 390.0 / 315.0;
    bench::assert_share(found.winding_to_housing_w_per_k, heat_w / 46.0, 1e-9, "inside");
    let fanned = Wind { shaft_08: RADPS.powf(0.8), ..Wind::default() };
    let outside = found.cooling.conductance().w_per_k(&fanned);
    bench::assert_share(outside, heat_w / 69.0, 1e-9, "outside");
}

/// A short rating below the continuous one would never reach the class temperature, and a class
/// below the ambient is none.
#[test]
fn impossible_sheets_are_refused() {
    let refused = |sheet: &ThermalSheet| identified(&motor(kinds()[0]), sheet).unwrap_err().field;
    assert_eq!(refused(&sheet(155.0, Some((20.0, 60.0)))), "short-time rating");
    assert_eq!(refused(&sheet(20.0, None)), "class");
}
