//! Thermal parameters identified from a nameplate, against the duty types of IEC 60034-1 that the
//! nameplate means: in S1 the mean of the winding settles at 40 °C and the limit of the rise by
//! resistance, B 80 K, F 105 K, H 125 K; an S2 of a longer time than the motor's matter bears is
//! not made true (limits of rise from memory).
//!
//! The motor is loaded as on a test stand: a car at steady speed against a resistance that makes
//! just the rated torque, in the core's own steps.

use crate::bench;

use bench::{Bench, assert_near, assert_share, one_gear, one_gear_driver};
use proptest::prelude::*;
use sim_core::car::{Car, Slope};
use sim_core::controller::Derating;
use sim_core::cooling::Wind;
use sim_core::follow::{Moment, follow};
use sim_core::motor::{Kind, Motor, Rating, ShortRating, Stand, ThermalSheet};
use sim_core::road_load::rolling_temperature_factor;
use sim_core::steady::equilibrium;
use sim_core::{Node, Trace};

/// 40 °C, the ambient of ratings (IEC 60034-1).
const AMBIENT_K: f64 = 313.15;
const SETTLES_C: [(char, f64); 3] = [('B', 120.0), ('F', 145.0), ('H', 165.0)];
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

fn tested(motor: &Motor, sheet: ThermalSheet) -> Stand<'_> {
    let Motor { machine, losses, loss_reference_k, .. } = motor;
    Stand { machine, losses, loss_reference_k: *loss_reference_k, sheet }
}

fn sheet(settles_c: f64) -> ThermalSheet {
    ThermalSheet {
        continuous: Rating { torque_nm: CONTINUOUS_NM, radps: RADPS },
        settles_k: settles_c + 273.15,
        ambient_k: AMBIENT_K,
        volts: 100.0,
        mass_kg: 45.0,
        specific_heat_j_per_kg_k: 480.0,
        winding_share: 0.4,
        still_share: 0.3,
        road_air_share: 0.0,
        coolant_k: None,
    }
}

fn short(torque_nm: f64, minutes: f64) -> ShortRating {
    ShortRating { rating: Rating { torque_nm, radps: RADPS }, for_s: minutes * 60.0 }
}

/// The stand: this motor at `RADPS` against a resistance that takes the torque, at the voltage and
/// ambient of the rating.
fn stand(mut motor: Motor, sheet: &ThermalSheet, torque_nm: f64) -> Car {
    motor.thermal = tested(&motor, *sheet).thermal().unwrap();
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
fn after_a_day_at_the_continuous_rating_the_winding_is_at_its_limit_of_rise() {
    for kind in kinds() {
        for (class, settles_c) in SETTLES_C {
            let sheet = sheet(settles_c);
            let car = stand(motor(kind), &sheet, CONTINUOUS_NM);
            let (winding_k, _) = load(&car, 24.0 * 3600.0, f64::INFINITY);
            let what = format!("{kind:?}, class {class}, S1");
            assert_near(winding_k, settles_c + 273.15, 1.0, &what);
        }
    }
}

/// The balance of heat that [`equilibrium`] solves is the same.
#[test]
fn equilibrium_at_the_continuous_rating_is_the_limit_of_rise() {
    for (class, settles_c) in SETTLES_C {
        let sheet = sheet(settles_c);
        let car = stand(motor(Kind::PermanentMagnet), &sheet, CONTINUOUS_NM);
        let start = sim_core::State::parked(0.5, AMBIENT_K);
        let found = equilibrium(&car, &start, Slope::LEVEL, RADPS * 0.1, 0).unwrap();
        assert_near(
            found.state.temperature_k[Node::Winding],
            settles_c + 273.15,
            0.01,
            &format!("class {class}"),
        );
        // 40 % of the rise lies between winding and housing, as the sheet says.
        let inner_k =
            found.state.temperature_k[Node::Winding] - found.state.temperature_k[Node::Housing];
        assert_near(inner_k, 0.4 * (settles_c + 273.15 - AMBIENT_K), 0.01, "winding over housing");
    }
}

/// How long the closed form says that a load lasts is how long the core's steps take to it.
#[test]
fn a_short_time_load_lasts_as_long_as_the_closed_form_says() {
    for kind in kinds() {
        for (class, settles_c) in SETTLES_C {
            for torque_nm in [30.0, 36.0, 45.0] {
                let (sheet, limit_k) = (sheet(settles_c), settles_c + 10.0 + 273.15);
                let motor = motor(kind);
                let run =
                    tested(&motor, sheet).short_run(&short(torque_nm, 30.0), limit_k).unwrap();
                let lasts_s = run.lasts_s.unwrap();
                let (_, reached) = load(&stand(motor, &sheet, torque_nm), 1.2 * lasts_s, limit_k);
                let what = format!("{kind:?}, class {class}, {torque_nm} N·m");
                let reached_s = reached.unwrap_or_else(|| panic!("{what}: never reached"));
                assert_near(reached_s, lasts_s, 2.0 + 0.01 * lasts_s, &what);
            }
        }
    }
}

/// With the heat that a stated time needs, the winding is at the limit after just that time; a load
/// below the continuous one needs none, and where the winding alone outruns the housing none will do.
#[test]
fn what_a_short_time_rating_needs_makes_it_true() {
    let (motor, limit_k) = (motor(kinds()[0]), 155.0 + 273.15);
    for (torque_nm, minutes) in [(30.0, 60.0), (30.0, 480.0), (36.0, 20.0)] {
        let short = short(torque_nm, minutes);
        let needs = tested(&motor, sheet(145.0)).short_run(&short, limit_k).unwrap();
        let made =
            ThermalSheet { specific_heat_j_per_kg_k: needs.needs_j_per_kg_k, ..sheet(145.0) };
        let run = tested(&motor, made).short_run(&short, limit_k).unwrap();
        assert_near(run.end_k, limit_k, 1e-6, &format!("{torque_nm} N·m, {minutes} min"));
        assert_share(run.lasts_s.unwrap(), short.for_s, 1e-6, "lasts");
    }
    let of = |torque_nm| {
        tested(&motor, sheet(145.0)).short_run(&short(torque_nm, 60.0), limit_k).unwrap()
    };
    assert_eq!((of(20.0).needs_j_per_kg_k, of(20.0).lasts_s), (0.0, None));
    assert_eq!(of(90.0).needs_j_per_kg_k, f64::INFINITY);
}

const SCIPY: [(f64, f64, f64); 6] = [
    (25.0, 3600.0, 125.19077),
    (25.0, 36_000.0, 144.99996),
    (25.0, 86_400.0, 145.0),
    (36.0, 600.0, 114.64337),
    (36.0, 1800.0, 172.71788),
    (36.0, 3600.0, 223.52421),
];

/// The two nodes integrated by another program: SciPy 1.17, `solve_ivp` (DOP853, relative tolerance
/// 1e-10) of `C·T' = …` with current, flux and losses written anew in Python from the equations of
/// `docs/physics`. Class F, induction motor: winding after 1, 10 and 24 h at the continuous rating,
/// and after 10, 30 and 60 min of 36 N·m.
#[test]
fn the_stand_agrees_with_an_integration_by_scipy() {
    let sheet = sheet(145.0);
    for (torque_nm, for_s, winding_c) in SCIPY {
        let (winding_k, _) = load(&stand(motor(kinds()[0]), &sheet, torque_nm), for_s, f64::MAX);
        let what = format!("{torque_nm} N·m for {for_s} s");
        assert_near(winding_k - 273.15, winding_c, 0.05, &what);
        let of = tested(&motor(kinds()[0]), sheet)
            .short_run(&short(torque_nm, for_s / 60.0), 428.15)
            .unwrap();
        assert_near(of.end_k - 273.15, winding_c, 1e-4, &format!("{what} in closed form"));
    }
}

/// By hand: a sheet whose motor has copper loss only. 25 N·m at 4 A/(N·m) is 100 A, at 0.02 W/A²
/// and class F 200·(235 + 145)/(235 + 80) W; 40 % of 105 K lies inside. 45 kg hold 480 J/(kg·K).
#[test]
fn conductances_are_those_of_the_rated_heat_and_rise() {
    let mut motor = motor(Kind::PermanentMagnet);
    motor.machine.current_a_per_nm = 4.0;
    motor.losses = sim_core::motor::Losses::from(sim_core::motor::Coefficients {
        copper_w_per_a2: 0.02,
        ..Default::default()
    });
    motor.machine.envelope.base_radps = 1000.0;
    let found = tested(&motor, sheet(145.0)).thermal().unwrap();
    let heat_w = 200.0 * 380.0 / 315.0;
    assert_share(found.winding_to_housing_w_per_k, heat_w / 42.0, 1e-9, "inside");
    let fanned = Wind { shaft_08: RADPS.powf(0.8), ..Wind::default() };
    let outside = found.cooling.conductance().w_per_k(&fanned);
    assert_share(outside, heat_w / 63.0, 1e-9, "outside");
    assert_share(found.winding_j_per_k + found.housing_j_per_k, 21_600.0, 1e-12, "heat held");
}

/// A rating that settles below the ambient is none.
#[test]
fn impossible_sheets_are_refused() {
    let motor = motor(kinds()[0]);
    assert_eq!(tested(&motor, sheet(20.0)).thermal().unwrap_err().field, "class");
    let none = ThermalSheet { continuous: Rating { torque_nm: 0.0, radps: RADPS }, ..sheet(145.0) };
    let magnets = self::motor(Kind::PermanentMagnet);
    assert_eq!(tested(&magnets, none).thermal().unwrap_err().field, "continuous rating");
}

proptest! {
    #![proptest_config(bench::cases(1000))]

    /// Of two motors whose nameplates differ in the continuous rating alone, the one of the higher is
    /// never hotter at any moment of a drive: both shed more of the same heat from the same matter.
    ///
    /// That is the hotter of winding and housing: a winding that makes hardly any heat is warmed by
    /// its iron, and through a better conductor sooner.
    #[test]
    fn a_higher_continuous_rating_is_never_hotter(
        kind in prop::sample::select(kinds().to_vec()),
        torque_nm in 8.0..40.0f64,
        more in 1.01..2.5f64,
        radps in 100.0..500.0f64,
        settles_c in prop::sample::select(vec![120.0, 145.0, 165.0]),
        shares in (0.2..0.6f64, 0.1..1.0f64, 0.0..1.5f64),
        mass_kg in 20.0..90.0f64,
        air_c in -10.0..45.0f64,
        top_mps in 5.0..22.0f64,
        grade in 0.0..0.08f64,
        parked_k in 0.0..60.0f64,
    ) {
        let (winding_share, still_share, road_air_share) = shares;
        let drive = |torque_nm: f64| {
            let sheet = ThermalSheet {
                continuous: Rating { torque_nm, radps },
                mass_kg, winding_share, still_share, road_air_share,
                ..sheet(settles_c)
            };
            let mut motor = motor(kind);
            motor.thermal = tested(&motor, sheet).thermal().unwrap();
            let bench = Bench::light_car().with(|p| p.motor = motor).around(|a| a.air_k = 273.15 + air_c);
            let car = bench.car();
            let stop_and_go = bench::stop_and_go(top_mps, 4, true);
            let climb = Trace::steady(0.7 * top_mps, grade, 900.0).unwrap();
            let mut state = bench.parked(0.9);
            state.temperature_k[Node::Winding] += parked_k;
            state.temperature_k[Node::Housing] += parked_k;
            let mut hottest_k = Vec::new();
            for trace in [&stop_and_go, &climb] {
                let mut watch = |m: &Moment<'_>| {
                    let at_k = &m.state.temperature_k;
                    hottest_k.push(at_k[Node::Winding].max(at_k[Node::Housing]));
                };
                let driver = bench::shifting_driver();
                state = follow(&car, trace, &driver, &state, 0, 1.0, &mut watch).end;
            }
            hottest_k
        };
        for (lower, higher) in drive(torque_nm).iter().zip(drive(more * torque_nm)) {
            prop_assert!(higher <= lower + 1e-3, "{higher} K with the higher rating, {lower} K");
        }
    }
}
