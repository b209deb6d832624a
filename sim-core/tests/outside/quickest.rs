//! The quickest way through the gears: against closed forms of the best shift, and against all
//! hand plans of a grid.

use crate::bench;

use bench::{Bench, assert_near, assert_share};
use proptest::prelude::*;
use sim_core::car::{Parts, Slope};
use sim_core::gearbox::{Gear, Gearbox};
use sim_core::motor::{Envelope, Kind, Shape};
use sim_core::pieces::Tolerance;
use sim_core::pull::{Aim, Course, Plan, PlannedShift, Planner, Quickest, pull};
use sim_core::units::GRAVITY_MPS2;

fn with_ratios(bench: Bench, ratios: &[f64], shift_s: f64) -> Bench {
    bench.with(|p| {
        let gears = ratios.iter().map(|ratio| Gear { ratio: *ratio, efficiency: 1.0 });
        p.gearbox = Gearbox::new(gears.collect()).unwrap();
        p.gearbox.shift_s = shift_s;
    })
}

fn quickest(bench: &Bench, slope: Slope, goal: Aim) -> Option<Quickest> {
    let (car, start) = (bench.car(), bench.parked(0.9));
    let planner = Planner::new(&car, &start, slope, &[goal], 300.0, &Tolerance::default()).unwrap();
    planner.quickest(goal).unwrap()
}

/// Time of a plan driven for real, s.
fn driven_s(bench: &Bench, slope: Slope, plan: &Plan, goal: Aim) -> f64 {
    let (speeds_mps, distances_m) = match goal {
        Aim::Speed(mps) => (vec![mps], vec![]),
        Aim::Distance(m) => (vec![], vec![m]),
    };
    let course = Course { plan: plan.clone(), slope, speeds_mps, distances_m, most_s: 300.0 };
    let start = bench.parked(0.9);
    let found = pull(&bench.car(), &start, &course, &Tolerance::default(), &mut ()).unwrap();
    let mark = found.at_speeds.iter().chain(&found.at_distances).flatten().next();
    mark.map_or(f64::INFINITY, |m| m.time_s)
}

/// Torque on a straight line from 100 N·m at rest to nothing at 400 rad/s.
const TORQUE_NM: f64 = 100.0;
const END_RADPS: f64 = 400.0;
const MASS_KG: f64 = 1000.0;

/// Three gears at 20, 12 and 7 radians per metre.
fn falling(shift_s: f64) -> Bench {
    let points = [(0.0, TORQUE_NM), (END_RADPS, 0.0)];
    with_ratios(Bench::ideal_car(), &[6.0, 3.6, 2.1], shift_s)
        .with(|p| p.motor.machine.envelope = Envelope::from_points(&points, 100.0).unwrap())
}

/// From one speed to another in a gear of `g` radians per metre against a steady force:
/// `m·dv/dt = g·T0·(1 − g·v/ω0) − F`, solved by hand.
fn by_hand_s(g: f64, from_mps: f64, to_mps: f64, against_n: f64) -> f64 {
    let pull_n = |v: f64| g * TORQUE_NM * (1.0 - g * v / END_RADPS) - against_n;
    MASS_KG * END_RADPS / (g * g * TORQUE_NM) * (pull_n(from_mps) / pull_n(to_mps)).ln()
}

/// On the level nothing is lost in a shift but its time, so each comes where the next gear pulls as
/// hard: `g1·(1 − g1·v/ω0) = g2·(1 − g2·v/ω0)`, `v = ω0/(g1 + g2)`, whatever time it takes.
#[test]
fn shifts_come_where_the_next_gear_pulls_as_hard() {
    for shift_s in [0.0, 0.4] {
        let found = quickest(&falling(shift_s), Slope::LEVEL, Aim::Speed(30.0)).unwrap();
        let shifts = &found.plan.shifts;
        let at: Vec<f64> = shifts.iter().map(|s| s.at_mps).collect();
        assert_eq!((found.plan.first, shifts.len()), (0, 2), "{shift_s} s: {:?}", found.plan);
        let (first, second) = (END_RADPS / 32.0, END_RADPS / 19.0);
        assert_share(at[0], first, 2e-3, "first shift");
        assert_share(at[1], second, 2e-3, "second shift");
        let expected_s = by_hand_s(20.0, 0.0, first, 0.0)
            + by_hand_s(12.0, first, second, 0.0)
            + by_hand_s(7.0, second, 30.0, 0.0)
            + 2.0 * shift_s;
        assert_share(found.time_s, expected_s, 1e-5, "time");
    }
}

/// Uphill a shift also costs `δ = g·sin θ·τ` of speed: `a1(v) = a2(v − δ)`, so that
/// `v = (ω0·(g1 − g2) − g2²·δ)/(g1² − g2²)`.
#[test]
fn uphill_shifts_come_earlier_by_what_they_lose() {
    let slope = Slope::from_grade(0.04);
    let shift_s = 0.5;
    let against_n = MASS_KG * GRAVITY_MPS2 * slope.sin;
    let lost = GRAVITY_MPS2 * slope.sin * shift_s;
    let bench = with_ratios(falling(shift_s), &[6.0, 3.6], shift_s);
    let found = quickest(&bench, slope, Aim::Speed(22.0)).unwrap();
    let shift = (END_RADPS * 8.0 - 144.0 * lost) / (400.0 - 144.0);
    assert_eq!(found.plan.shifts.len(), 1);
    assert_share(found.plan.shifts[0].at_mps, shift, 3e-3, "shift");
    let expected_s = by_hand_s(20.0, 0.0, shift, against_n)
        + shift_s
        + by_hand_s(12.0, shift - lost, 22.0, against_n);
    assert_share(found.time_s, expected_s, 1e-5, "time");
}

/// A gear that does not pay for its shift is left out: with 2 s for each, second to 13 m/s alone
/// beats first and second, and the highest gear is reached in one shift.
#[test]
fn gears_that_do_not_pay_for_their_shift_are_left_out() {
    let bench = falling(2.0);
    for goal_mps in [13.0, 20.0, 30.0, 40.0] {
        let found = quickest(&bench, Slope::LEVEL, Aim::Speed(goal_mps)).unwrap();
        let ways: [&[f64]; 7] = [
            &[20.0],
            &[12.0],
            &[7.0],
            &[20.0, 12.0],
            &[20.0, 7.0],
            &[12.0, 7.0],
            &[20.0, 12.0, 7.0],
        ];
        let expected_s = ways
            .iter()
            .map(|gears| {
                let mut from = 0.0;
                let mut time_s = 2.0 * (gears.len() - 1) as f64;
                for (i, g) in gears.iter().enumerate() {
                    let to = gears.get(i + 1).map_or(goal_mps, |next| END_RADPS / (g + next));
                    let reached = to < END_RADPS / g && to > from;
                    time_s += if reached { by_hand_s(*g, from, to, 0.0) } else { f64::INFINITY };
                    from = to;
                }
                time_s
            })
            .fold(f64::INFINITY, f64::min);
        assert_share(found.time_s, expected_s, 1e-4, &format!("to {goal_mps} m/s"));
    }
}

/// Constant power in every gear: no shift gains anything, and the gear to start in is the one whose
/// power begins soonest. `t = m·(v² + v_b²)/(2·P)` from rest with base speed `v_b`.
#[test]
fn at_constant_power_one_gear_does_it_all() {
    let bench = with_ratios(Bench::ideal_car(), &[6.0, 3.0, 1.5], 0.5).with(|p| {
        p.motor.machine.envelope = Envelope::from_nameplate(200.0, 20e3, 20e3, 1e6, 100.0);
    });
    let found = quickest(&bench, Slope::LEVEL, Aim::Speed(25.0)).unwrap();
    assert_eq!(found.plan, Plan::in_gear(0));
    // 20 kW are reached at 100 rad/s, 5 m/s.
    assert_share(found.time_s, 1000.0 * (625.0 + 25.0) / 40e3, 1e-5, "time");
}

/// A heavy rotor hands its energy to the car in a plastic impact, `v' = (M·v + J·g2·ω)/(M + J·g2²)`.
#[test]
fn the_rotor_gives_back_speed_when_a_higher_gear_is_engaged() {
    let bench =
        with_ratios(falling(0.0), &[6.0, 3.0], 0.0).with(|p| p.motor.rotor_inertia_kg_m2 = 0.4);
    let plan = |at_mps: f64| Plan { first: 0, shifts: vec![PlannedShift { at_mps, to: 1 }] };
    let goal = Aim::Speed(25.0);
    let found = quickest(&bench, Slope::LEVEL, goal).unwrap();
    let best_s = (80..190)
        .map(|i| driven_s(&bench, Slope::LEVEL, &plan(0.1 * f64::from(i)), goal))
        .fold(f64::INFINITY, f64::min);
    assert!(found.time_s <= best_s * (1.0 + 1e-5), "{} s, by hand {best_s} s", found.time_s);
}

/// What is not to be reached has no answer; what full throttle only just reaches has.
#[test]
fn a_speed_beyond_the_car_has_no_time() {
    let bench = falling(0.3);
    assert!(quickest(&bench, Slope::LEVEL, Aim::Speed(60.0)).is_none());
    assert!(quickest(&bench, Slope::LEVEL, Aim::Speed(52.0)).is_some());
    assert!(quickest(&bench, Slope::from_grade(0.5), Aim::Speed(1.0)).is_none());
}

/// Cars with losses, limits, short peaks and heat.
pub fn cars() -> impl Strategy<Value = Bench> {
    let kinds = prop::sample::select(vec![
        Kind::Induction { magnetising_a: 60.0 },
        Kind::PermanentMagnet,
        Kind::SeriesDc { saturation_a: 200.0, brush_v: 2.0 },
    ]);
    (
        (600.0..1600.0f64, 0.4..1.0f64, kinds),
        (60.0..220.0f64, 12e3..70e3f64),
        (80.0..600.0f64, 150.0..800.0f64),
        (0.4..3.0f64, 5.0..30.0f64),
        (3.2..4.6f64, 0.0..1.5f64, 0.0..0.08f64),
    )
        .prop_map(|((mass, area, kind), motor, controller, pack, (drive, shift_s, rotor))| {
            with_ratios(Bench::light_car(), &[3.5, 2.0, 1.3, 0.95].map(|r| r * drive), shift_s)
                .with(|p| {
                    p.chassis.mass_kg = mass;
                    p.road_load = sim_core::road_load::RoadLoad::Coefficients {
                        drag_area_m2: area,
                        rolling: 0.011,
                        rolling_per_mps: 5e-5,
                        bearings_n: 0.0,
                    };
                    p.motor.machine.kind = kind;
                    p.motor.rotor_inertia_kg_m2 = rotor;
                    p.motor.machine.envelope =
                        Envelope::from_nameplate(motor.0, motor.1, 0.5 * motor.1, 800.0, 100.0);
                    (p.controller.pack_current_a, p.controller.motor_current_a) = controller;
                    (p.pack.resistance_growth, p.pack.cell.peak_s) = pack;
                })
                .around(|a| a.friction = 0.8)
        })
}

fn goals() -> impl Strategy<Value = Aim> {
    prop_oneof![(8.0..28.0f64).prop_map(Aim::Speed), (100.0..500.0f64).prop_map(Aim::Distance)]
}

/// How much slower than another way the answer may be: the search knows speeds and what is left of
/// short peaks by levels.
const SLACK: f64 = 6e-3;

fn time_s(bench: &Bench, slope: Slope, goal: Aim) -> f64 {
    quickest(bench, slope, goal).map_or(f64::INFINITY, |q| q.time_s)
}

fn no_slower(better_s: f64, worse_s: f64, what: &str) -> Result<(), TestCaseError> {
    prop_assert!(better_s <= worse_s * (1.0 + SLACK), "{what}: {better_s} s, not {worse_s} s");
    Ok(())
}

proptest! {
    #![proptest_config(bench::cases(100))]

    /// Newton: what pulls harder or weighs less at every speed is there no later.
    #[test]
    fn a_better_car_is_never_slower(
        bench in cars(),
        goal in goals(),
        grade in 0.0..0.06f64,
        share in 1.0..1.2f64,
    ) {
        let slope = Slope::from_grade(grade);
        let own_s = time_s(&bench, slope, goal);
        let lighter = bench.clone().with(|p| p.chassis.mass_kg /= share);
        no_slower(time_s(&lighter, slope, goal), own_s, "less mass")?;
        let swifter = bench.clone().with(|p| p.gearbox.shift_s /= 2.0 * share);
        no_slower(time_s(&swifter, slope, goal), own_s, "shorter shifts")?;
        // Full throttle spends what cells give for seconds: more torque early may leave less for
        // later, and truly be slower. So these cells give no more for seconds than for ever.
        let even = bench.clone().with(|p| p.pack.cell.discharge_peak_a = p.pack.cell.discharge_a);
        let even_s = time_s(&even, slope, goal);
        let stronger = even.with(|p| {
            let Parts { motor, controller, .. } = p;
            if let Shape::Nameplate { peak_nm, peak_w, fall_w_per_radps } = &mut motor.machine.envelope.shape {
                (*peak_nm, *peak_w) = (*peak_nm * share, *peak_w * share);
                *fall_w_per_radps *= share;
            }
            controller.motor_current_a *= share;
        });
        no_slower(time_s(&stronger, slope, goal), even_s, "more torque and power")?;
    }

    /// No single gear and no plan of two shifts at speeds of a grid is quicker.
    #[test]
    fn no_hand_plan_is_quicker(bench in cars(), goal in goals(), grade in 0.0..0.06f64) {
        let slope = Slope::from_grade(grade);
        let own_s = time_s(&bench, slope, goal);
        let gears = bench.car().gears();
        for gear in 0..gears {
            let held_s = driven_s(&bench, slope, &Plan::in_gear(gear), goal);
            prop_assert!(own_s <= held_s * (1.0 + 1e-6), "{own_s} s, {held_s} s in gear {gear}");
        }
        no_slower(own_s, driven_s(&bench, slope, &bench::gears_held(gears), goal), "held")?;
        for first in 0..gears {
            for second in first + 1..gears {
                for i in 1..12 {
                    let at_mps = bench.car().top_speed_by_rpm_mps(first) * f64::from(i) / 12.0;
                    let mut plan =
                        Plan { first, shifts: vec![PlannedShift { at_mps, to: second }] };
                    no_slower(own_s, driven_s(&bench, slope, &plan, goal), "one shift")?;
                    if second + 1 < gears {
                        plan.shifts.push(PlannedShift { at_mps: 1.4 * at_mps, to: second + 1 });
                        no_slower(own_s, driven_s(&bench, slope, &plan, goal), "two shifts")?;
                    }
                }
            }
        }
    }

    /// Ratios that change a little change the time a little: less than twice as much, unless the
    /// goal lies just beyond a gear's highest speed and takes a shift more.
    #[test]
    fn a_final_drive_a_little_longer_is_a_little_different(
        bench in cars(),
        goal in goals(),
        finer in 1.0005..1.005f64,
    ) {
        let longer = bench.clone().with(|p| {
            let shift_s = p.gearbox.shift_s;
            let gears = p.gearbox.gears().iter().map(|g| Gear { ratio: g.ratio * finer, ..*g });
            p.gearbox = Gearbox::new(gears.collect()).unwrap();
            p.gearbox.shift_s = shift_s;
        });
        let (own, other) = (quickest(&bench, Slope::LEVEL, goal), quickest(&longer, Slope::LEVEL, goal));
        prop_assume!(own.is_some() && other.is_some());
        let (own, other) = (own.unwrap(), other.unwrap());
        prop_assume!(own.time_s < 60.0 && own.plan.shifts.len() == other.plan.shifts.len());
        let (own_s, longer_s) = (own.time_s, other.time_s);
        let bound = own_s * (2.0 * (finer - 1.0) + 1e-3);
        prop_assert!((own_s - longer_s).abs() <= bound, "{own_s} s and {longer_s} s");
    }
}

/// The plan that is told gives the time that is told.
#[test]
fn the_plan_gives_its_time() {
    for goal in [Aim::Speed(22.0), Aim::Distance(400.0)] {
        let bench = Bench::light_car();
        let found = quickest(&bench, Slope::LEVEL, goal).unwrap();
        let again_s = driven_s(&bench, Slope::LEVEL, &found.plan, goal);
        assert_near(again_s, found.time_s, 1e-9, "time");
        assert_eq!(found.pull.at_shifts.len(), found.plan.shifts.len());
    }
}
