//! Better is never worse: what a change of a build may do to its figures, and what it may not.
//!
//! Nobody knows the right figures of a car made up at random, but everybody knows which way they
//! go: a lighter car is not slower, a longer hill not cooler, a colder day not the farther one.
//! Facts of the trade (common practice, no source) but where a source is named.

use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed, TestCaseError};
use scenarios::runs::figure::Better;
use scenarios::runs::{Run, Suite};
use scenarios::studies::goal::{Goal, Side};
use scenarios::studies::size::{Interval, Question, size};
use scenarios::{Loaded, Override, Prepared};
use serde_json::{Value, json};
use sim_core::car::Slope;
use sim_core::climb::Hill;
use sim_core::{Trace, units};
use std::sync::LazyLock;

/// Relations hold for as many cars each; more where they are fast to drive.
const CASES: u32 = if cfg!(debug_assertions) { 12 } else { 120 };

/// The same cars at every run.
pub(super) fn config() -> Config {
    Config {
        cases: CASES,
        rng_seed: RngSeed::Fixed(20_261_125),
        failure_persistence: None,
        max_shrink_iters: 200,
        ..Config::default()
    }
}

/// Motor, controller and cells that go together, with the voltages of a cell and the peak torques
/// in N·m between which such a car is made.
struct Drivetrain {
    motor: &'static str,
    controller: &'static str,
    cell: &'static str,
    series: std::ops::Range<u32>,
    torque_nm: std::ops::Range<f64>,
}

const DRIVETRAINS: [Drivetrain; 4] = [
    Drivetrain {
        motor: "shelf:induction-air-medium",
        controller: "shelf:low-voltage-450a",
        cell: "shelf:iron-phosphate-100ah",
        series: 30..35,
        torque_nm: 70.0..110.0,
    },
    Drivetrain {
        motor: "shelf:induction-air-small",
        controller: "shelf:low-voltage-450a",
        cell: "shelf:iron-phosphate-100ah",
        series: 28..34,
        torque_nm: 60.0..105.0,
    },
    Drivetrain {
        motor: "shelf:induction-air-large",
        controller: "shelf:mid-voltage-600a",
        cell: "shelf:iron-phosphate-100ah",
        series: 38..48,
        torque_nm: 90.0..140.0,
    },
    Drivetrain {
        motor: "shelf:permanent-magnet-liquid",
        controller: "shelf:high-voltage-liquid",
        cell: "shelf:blend-50ah",
        series: 80..98,
        torque_nm: 110.0..190.0,
    },
];

/// A car made up at random, with what the relations change.
#[derive(Debug, Clone)]
pub(super) struct Build {
    drivetrain: usize,
    pub(super) series: u32,
    parallel: u32,
    donor: &'static str,
    gearbox: &'static str,
    pub(super) kerb_mass_kg: f64,
    torque_nm: f64,
    power_kw: f64,
    final_drive: f64,
    drag_area_m2: f64,
    rolling: f64,
    auxiliary_w: f64,
    health_pct: f64,
    start_pct: f64,
    air_c: f64,
    head_wind_kmh: f64,
    lift_off_pct: f64,
    brake_pedal_pct: f64,
    shift_s: f64,
    continuous_kw: f64,
    resistance_growth_pct: f64,
    /// One gear for everything, where the choice of gears is not to have a say.
    gear: Option<u32>,
}

pub(super) fn builds() -> impl Strategy<Value = Build> {
    let donors = prop::sample::select(vec!["light-hatchback", "small-pickup", "two-seat-roadster"]);
    let gearboxes = prop::sample::select(vec![
        "five-speed-rear-drive",
        "four-speed-front-drive",
        "four-speed-rear-drive",
    ]);
    let parts = (0..DRIVETRAINS.len(), 0.0..1.0_f64, 1..3_u32, donors, gearboxes);
    let body = (600.0..1000.0, 0.0..1.0, 0.55..1.0, 3.4..4.6, 0.5..0.9, 0.008..0.014);
    let use_ = (60.0..600.0, 75.0..100.0, 70.0..98.0, -10.0..38.0, -10.0..20.0);
    let pedals = (0.0..15.0, 0.0..30.0, 0.4..1.4, 0.6..1.1, 0.0..60.0);
    (parts, body, use_, pedals).prop_map(|(parts, body, use_, pedals)| {
        let (drivetrain, series, parallel, donor, gearbox) = parts;
        let (kerb_mass_kg, torque, power, final_drive, drag_area_m2, rolling) = body;
        let (auxiliary_w, health_pct, start_pct, air_c, head_wind_kmh) = use_;
        let (lift_off_pct, brake_pedal_pct, shift_s, continuous, resistance_growth_pct) = pedals;
        let of = &DRIVETRAINS[drivetrain];
        let torque_nm = of.torque_nm.start + torque * (of.torque_nm.end - of.torque_nm.start);
        let power_kw = power * 0.38 * torque_nm;
        Build {
            drivetrain,
            series: of.series.start
                + (f64::from(of.series.end - of.series.start) * series).floor() as u32,
            parallel,
            donor,
            gearbox,
            kerb_mass_kg,
            torque_nm,
            power_kw,
            final_drive,
            drag_area_m2,
            rolling,
            auxiliary_w,
            health_pct,
            start_pct,
            air_c,
            head_wind_kmh,
            lift_off_pct,
            brake_pedal_pct,
            shift_s,
            continuous_kw: 0.33 * continuous * power_kw,
            resistance_growth_pct,
            gear: None,
        }
    })
}

impl Build {
    pub(super) fn overrides(&self) -> Vec<Override> {
        let of = &DRIVETRAINS[self.drivetrain];
        let shelf = |name: &str| json!(format!("shelf:{name}"));
        let sets: [(&str, Value); 41] = [
            ("donor", shelf(self.donor)),
            ("gearbox", shelf(self.gearbox)),
            ("motor", json!(of.motor)),
            ("controller", json!(of.controller)),
            ("pack.cell", json!(of.cell)),
            ("pack.series", json!(self.series)),
            ("pack.parallel", json!(self.parallel)),
            ("pack.state_of_health_pct", json!(self.health_pct)),
            ("pack.resistance_growth_pct", json!(self.resistance_growth_pct)),
            ("donor.kerb_mass_kg", json!(self.kerb_mass_kg)),
            // What may go wrong with a random car is not what these relations are about.
            ("donor.gross_mass_kg", Value::Null),
            ("donor.front_axle_max_kg", Value::Null),
            ("donor.rear_axle_max_kg", Value::Null),
            ("donor.drag_coefficient", Value::Null),
            ("donor.frontal_area_m2", Value::Null),
            ("donor.drag_area_m2", json!(self.drag_area_m2)),
            ("gearbox.max_input_nm", Value::Null),
            ("gearbox.max_input_rpm", Value::Null),
            ("gearbox.clutch", Value::Null),
            ("gearbox.final_drive", json!(self.final_drive)),
            ("gearbox.shift_s", json!(self.shift_s)),
            ("tyre.label_n_per_kn", Value::Null),
            ("tyre.rolling_resistance", json!(self.rolling)),
            ("motor.peak_torque_nm", json!(self.torque_nm)),
            ("motor.peak_power_kw", json!(self.power_kw)),
            ("motor.base_rpm", Value::Null),
            // Power that falls from base speed on begins to fall earlier with more torque.
            ("motor.power_at_max_rpm_pct", json!(100)),
            ("motor.nameplate.continuous_power_kw", json!(self.continuous_kw)),
            ("motor.nameplate.short_time", Value::Null),
            ("auxiliaries.low_voltage", Value::Null),
            ("auxiliaries.traction_w", json!(self.auxiliary_w)),
            ("regen.lift_off_pct", json!(self.lift_off_pct)),
            ("regen.brake_pedal_pct", json!(self.brake_pedal_pct)),
            (
                "driver",
                self.gear.map_or(Value::Null, |gear| json!({"shifting": "fixed", "gear": gear})),
            ),
            ("conditions.air_c", json!(self.air_c)),
            ("conditions.head_wind_kmh", json!(self.head_wind_kmh)),
            // Full throttle spends what cells give for seconds: more torque from rest then leaves
            // less for later, and truly is slower.
            ("pack.cell.discharge_a", json!(250)),
            ("pack.cell.discharge_peak_a", json!(250)),
            ("conditions.altitude_m", json!(200)),
            ("conditions.surface", json!("dry")),
            ("start.charge_pct", json!(self.start_pct)),
        ];
        sets.map(|(path, value)| Override::new(path, value).unwrap()).into()
    }

    pub(super) fn car(&self) -> Prepared {
        DEMO.with(&self.overrides()).unwrap_or_else(|error| panic!("{error}: {self:?}"))
    }

    pub(super) fn but(&self, change: impl FnOnce(&mut Self)) -> Self {
        let mut changed = self.clone();
        change(&mut changed);
        changed
    }
}

static DEMO: LazyLock<Loaded> = LazyLock::new(|| Loaded::demo().unwrap());

/// A built-in cycle as a trace.
pub(super) fn cycle(name: &str) -> Trace {
    scenarios::runs::trace(&cycles::find(name).unwrap()).unwrap()
}

/// The figures of a car that its runs give, on a road that light cars keep up with.
struct Asked {
    suite: Suite,
}

impl Asked {
    fn of(runs: &[Run]) -> Self {
        Self { suite: Suite::new(runs, "wltc-low", cycle("wltc-low")) }
    }

    fn on(runs: &[Run], trace: Trace) -> Self {
        Self { suite: Suite::new(runs, "road", trace) }
    }

    fn hill(grade: f64, kmh: f64, km: f64) -> Self {
        let mut asked = Self::of(&[Run::Climb]);
        asked.suite.climb = Some(Hill {
            slope: Slope::from_grade(grade),
            speed_mps: units::mps_from_kmh(kmh),
            distance_m: 1000.0 * km,
        });
        asked
    }

    /// A figure of a car, and which way it is better; none where it has none that counts.
    fn read(&self, car: &Prepared, name: &str) -> (Option<f64>, Better) {
        let found = self.suite.figures(car).unwrap();
        let figure = found.iter().find(|figure| figure.name == name);
        let figure = figure.unwrap_or_else(|| panic!("no figure {name}"));
        (Some(figure.value).filter(|value| value.is_finite()), figure.better)
    }

    fn figure(&self, car: &Prepared, name: &str) -> Option<f64> {
        self.read(car, name).0
    }
}

/// That a figure of the car that should be better is no worse, within a share of it.
fn no_worse(
    asked: &Asked,
    name: &str,
    usual: &Build,
    better: &Build,
    share: f64,
) -> Result<(), TestCaseError> {
    let (Some(before), side) = asked.read(&usual.car(), name) else {
        return Ok(());
    };
    if side == Better::Lower && name.ends_with("_s") && before > LONGEST_S {
        return Ok(());
    }
    let after = asked.figure(&better.car(), name);
    let room = share * before.abs() + 1e-9;
    let held = after.is_some_and(|after| match side {
        Better::Lower => after <= before + room,
        _ => after >= before - room,
    });
    prop_assert!(held, "{name}: {before}, and {after:?} of the better car");
    Ok(())
}

/// A car that takes longer just reaches its goal, and then all else that goes on meanwhile tells,
/// such as cells that warm up sooner because they are worse.
const LONGEST_S: f64 = 60.0;
/// How closely the quickest way through the gears is found, as a share of its time.
const QUICKEST: f64 = 2e-3;

proptest! {
    #![proptest_config(config())]

    #[test]
    fn more_torque_is_never_slower(build in builds(), by in 1.01..1.2) {
        let more = build.but(|b| b.torque_nm *= by);
        for name in ["to_50_kmh_s", "to_80_kmh_s", "over_400_m_s"] {
            no_worse(&Asked::of(&[Run::Pull]), name, &build, &more, QUICKEST)?;
        }
    }

    #[test]
    fn more_power_is_never_slower(build in builds(), by in 1.01..1.2) {
        let more = build.but(|b| b.power_kw *= by);
        for name in ["to_50_kmh_s", "to_80_kmh_s", "over_400_m_s"] {
            no_worse(&Asked::of(&[Run::Pull]), name, &build, &more, QUICKEST)?;
        }
    }

    /// But for what is taken off the driven axle where its tyres spin.
    #[test]
    fn less_mass_is_never_slower(build in builds(), less_kg in 10.0..150.0) {
        let less = build.but(|b| b.kerb_mass_kg -= less_kg);
        for name in ["to_50_kmh_s", "to_80_kmh_s", "over_400_m_s"] {
            no_worse(&Asked::of(&[Run::Pull]), name, &build, &less, 0.02)?;
        }
    }

    #[test]
    fn less_drag_is_never_slower_at_the_top(build in builds(), by in 0.7..0.99) {
        let less = build.but(|b| b.drag_area_m2 *= by);
        no_worse(&Asked::of(&[Run::Pull]), "top_speed_kmh", &build, &less, QUICKEST)?;
    }

    #[test]
    fn a_quicker_shift_is_never_slower(build in builds(), by in 0.2..0.95) {
        let quick = build.but(|b| b.shift_s *= by);
        for name in ["to_80_kmh_s", "over_400_m_s"] {
            no_worse(&Asked::of(&[Run::Pull]), name, &build, &quick, QUICKEST)?;
        }
    }

    #[test]
    fn a_fresher_pack_is_never_slower(build in builds(), by in 0.0..0.9) {
        let fresh = build.but(|b| b.resistance_growth_pct *= by);
        no_worse(&Asked::of(&[Run::Pull]), "to_80_kmh_s", &build, &fresh, QUICKEST)?;
    }

    /// A smooth search: 1 % of final drive moves the time by no more than 3 %, and by a shift where
    /// the goal lies just beyond a gear's highest speed.
    #[test]
    fn a_finer_final_drive_has_no_jumps(build in builds()) {
        let (car, near) = (build.car(), build.but(|b| b.final_drive *= 1.01).car());
        let asked = Asked::of(&[Run::Pull]);
        for name in ["to_50_kmh_s", "to_80_kmh_s", "over_400_m_s"] {
            if let (Some(one), Some(two)) = (asked.figure(&car, name), asked.figure(&near, name)) {
                let most = 0.03 * one + build.shift_s;
                prop_assert!((one - two).abs() <= most || one > LONGEST_S, "{name}: {one}, {two}");
            }
        }
    }

    #[test]
    fn a_higher_continuous_rating_is_never_hotter(build in builds(), by in 1.01..1.4) {
        let higher = build.but(|b| b.continuous_kw *= by);
        no_worse(&Asked::hill(0.06, 50.0, 10.0), "climb_heat_pct", &build, &higher, 2e-3)?;
    }

    #[test]
    fn a_longer_hill_is_never_cooler(build in builds(), by in 1.05..2.5) {
        let car = build.car();
        let hottest = |km: f64| Asked::hill(0.06, 50.0, km).figure(&car, "climb_heat_pct");
        if let (Some(short), Some(long)) = (hottest(6.0), hottest(6.0 * by)) {
            prop_assert!(long >= short - 0.05, "{short} %, then {long} %");
        }
    }

    /// In one gear, and from temperatures of the air; on a hotter day air, oil and tyres drag less,
    /// but by far not as much.
    #[test]
    fn a_hotter_day_is_never_cooler(build in builds(), by_k in 5.0..15.0) {
        let build = build.but(|b| b.gear = Some(2));
        let (cool, hot) = (build.car(), build.but(|b| b.air_c += by_k).car());
        let asked = Asked::of(&[Run::Drive]);
        for name in ["drive_winding_c", "drive_heat_sink_c", "drive_cells_c"] {
            if let (Some(cool), Some(hot)) = (asked.figure(&cool, name), asked.figure(&hot, name)) {
                prop_assert!(hot >= cool, "{name}: {cool}, and {hot} on a hotter day");
            }
        }
    }

    #[test]
    fn a_lighter_car_uses_no_more(build in builds(), less_kg in 10.0..150.0) {
        let build = build.but(|b| b.gear = Some(2));
        let less = build.but(|b| b.kerb_mass_kg -= less_kg);
        no_worse(&Asked::of(&[Run::Drive]), "cells_wh_per_km", &build, &less, 1e-3)?;
    }

    #[test]
    fn less_rolling_and_less_air_use_no_more(build in builds(), by in 0.7..0.99) {
        let build = build.but(|b| b.gear = Some(2));
        let asked = Asked::of(&[Run::Drive]);
        let rolls = build.but(|b| b.rolling *= by);
        no_worse(&asked, "wh_per_km", &build, &rolls, 1e-3)?;
        let slips = build.but(|b| b.drag_area_m2 *= by);
        no_worse(&asked, "wh_per_km", &build, &slips, 1e-3)?;
    }

    #[test]
    fn more_wind_against_the_car_uses_no_less(build in builds(), by_kmh in 1.0..15.0) {
        let calm = build.but(|b| (b.head_wind_kmh, b.gear) = (b.head_wind_kmh.max(0.0), Some(2)));
        let windy = calm.but(|b| b.head_wind_kmh += by_kmh);
        no_worse(&Asked::of(&[Run::Drive]), "wh_per_km", &windy, &calm, 1e-3)?;
    }

    #[test]
    fn more_lights_never_lengthen_the_range(build in builds(), more_w in 20.0..600.0) {
        let build = build.but(|b| b.gear = Some(2));
        let lit = build.but(|b| b.auxiliary_w += more_w);
        no_worse(&Asked::of(&[Run::Range]), "range_km", &lit, &build, 1e-3)?;
    }

    #[test]
    fn more_cells_never_shorten_the_range(build in builds()) {
        let build = build.but(|b| b.gear = Some(2));
        let more = build.but(|b| b.parallel += 1);
        no_worse(&Asked::of(&[Run::Range]), "range_km", &build, &more, 1e-3)?;
    }

    /// The same where the road climbs time after time, so that the motor gets hot and the pack low: wherever
    /// the first round is driven the range is a number, and no more of it is driven at the road's speed.
    #[test]
    fn more_cells_never_shorten_the_range_on_a_climb(
        build in builds(),
        grade in 0.02..0.07,
        speed_mps in 12.0..22.0,
    ) {
        let build = build.but(|b| b.gear = Some(2));
        let more = build.but(|b| b.parallel += 1);
        let time_s = [0.0, 25.0, 25.0 + 4000.0 / speed_mps, 25.0 + 5000.0 / speed_mps];
        let speeds = [0.0, speed_mps, speed_mps, speed_mps];
        let trace = Trace::new(&time_s, &speeds, &[0.0, grade, 0.0]).unwrap();
        let asked = Asked::on(&[Run::Drive, Run::Range], trace);
        for build in [&build, &more] {
            let figures = asked.suite.figures(&build.car()).unwrap();
            let value = |name: &str| figures.iter().find(|f| f.name == name).unwrap().value;
            let (range_km, at_speed_km) = (value("range_km"), value("range_at_speed_km"));
            if value("drive_complete") == 1.0 {
                prop_assert!(range_km.is_finite() && at_speed_km <= range_km && at_speed_km > 0.0);
            }
        }
        if asked.figure(&more.car(), "drive_complete") == Some(1.0) {
            no_worse(&asked, "range_km", &build, &more, 1e-3)?;
        }
    }

    #[test]
    fn a_colder_day_never_lengthens_the_range(build in builds(), by_k in 1.0..20.0) {
        let build = build.but(|b| b.gear = Some(2));
        let cold = build.but(|b| b.air_c -= by_k);
        no_worse(&Asked::of(&[Run::Range]), "range_km", &cold, &build, 1e-3)?;
    }

    #[test]
    fn a_healthier_pack_never_shortens_the_range(build in builds(), by in 0.75..0.99) {
        let build = build.but(|b| b.gear = Some(2));
        let worn = build.but(|b| b.health_pct *= by);
        no_worse(&Asked::of(&[Run::Range]), "range_km", &worn, &build, 1e-3)?;
    }

    /// Cold cells take little. In one gear: a driver who chooses gears by what they save looks a
    /// second ahead, and what that makes of them is worth a percent or two either way.
    #[test]
    fn more_regen_by_the_pedal_uses_no_more(build in builds(), more_pct in 1.0..15.0) {
        let build = build.but(|b| (b.air_c, b.gear) = (b.air_c.max(15.0), Some(2)));
        let more = build.but(|b| b.brake_pedal_pct += more_pct);
        let asked = Asked::of(&[Run::Drive]);
        no_worse(&asked, "wh_per_km", &build, &more, 2e-3)?;
        no_worse(&asked, "friction_kwh", &build, &more, 2e-3)?;
    }

    /// A trip there and back, each way driven by itself, takes what both take in one go.
    #[test]
    fn a_road_in_two_legs_takes_the_energy_of_one(build in builds()) {
        let car = build.car();
        let (once, twice) = (cycle("wltc-low"), {
            let low = cycles::find("wltc-low").unwrap();
            scenarios::runs::trace(&low.repeat(2).unwrap()).unwrap()
        });
        let energy = |trace: &Trace, start: &sim_core::State| {
            let gear = car.start_gear();
            sim_core::follow::follow(
                &car.car, trace, &car.driver, start, gear, sim_core::follow::STEP_S, &mut (),
            )
        };
        let whole = energy(&twice, &car.start);
        let first = energy(&once, &car.start);
        let second = energy(&once, &first.end);
        if whole.ending == sim_core::follow::DriveEnding::Complete {
            let sum_j = first.terminal_j + second.terminal_j;
            prop_assert!((sum_j / whole.terminal_j - 1.0).abs() < 1e-3, "{sum_j} J in two legs, {} J in one", whole.terminal_j);
        }
    }

    /// Up a hill and down again to where it began: what is left of the height is nothing, and the
    /// energy is more than on the level by losses alone.
    #[test]
    fn a_hill_there_and_back_gives_its_height_back(build in builds(), grade in 0.01..0.05) {
        let car = build.car();
        let level = cycles::find("wltc-low").unwrap();
        let mut up = level.clone();
        up.slope = vec![grade; level.slope.len()];
        let mut down = level.clone();
        down.slope = vec![-grade; level.slope.len()];
        let of = |schedule: &cycles::Schedule, start: &sim_core::State| {
            let trace = scenarios::runs::trace(schedule).unwrap();
            let gear = car.start_gear();
            sim_core::follow::follow(
                &car.car, &trace, &car.driver, start, gear, sim_core::follow::STEP_S, &mut (),
            )
        };
        let complete = sim_core::follow::DriveEnding::Complete;
        let (up, flat) = (of(&up, &car.start), of(&level, &car.start));
        let down = of(&down, &up.end);
        let flat_again = of(&level, &flat.end);
        let kept_up = [&up, &flat, &down, &flat_again]
            .iter().all(|drive| drive.ending == complete && drive.largest_lag_mps < 0.1);
        if kept_up {
            use sim_core::ledger::Account;
            let height_j = up.ledger[Account::Potential] + down.ledger[Account::Potential];
            prop_assert!(height_j.abs() < 1e-3 * up.ledger[Account::Potential]);
            let hilly_j = up.terminal_j + down.terminal_j;
            let level_j = flat.terminal_j + flat_again.terminal_j;
            prop_assert!(hilly_j >= level_j * (1.0 - 1e-3), "{hilly_j} J over the hill, {level_j} J on the level");
        }
    }

    /// Twice the tyre and twice the final drive is the same car.
    #[test]
    fn a_larger_tyre_is_a_smaller_final_drive(build in builds(), by in 0.8..1.25) {
        // The same inertia at the road.
        let with = |b: &Build, radius_m: f64| {
            let mut sets = b.overrides();
            for (path, value) in [
                ("tyre.size", Value::Null),
                ("tyre.rolling_radius_m", json!(radius_m)),
                ("tyre.wheel_inertia_kg_m2", json!(7.0 * radius_m * radius_m)),
            ] {
                sets.push(Override::new(path, value).unwrap());
            }
            DEMO.with(&sets).unwrap()
        };
        let other = build.but(|b| b.final_drive *= by);
        let (one, two) = (with(&build, 0.27), with(&other, 0.27 * by));
        let asked = Asked::of(&[Run::Drive, Run::Pull]);
        for name in ["wh_per_km", "to_80_kmh_s", "top_speed_kmh"] {
            if let (Some(one), Some(two)) = (asked.figure(&one, name), asked.figure(&two, name)) {
                prop_assert!((one / two - 1.0).abs() < 2e-3, "{name}: {one} and {two}");
            }
        }
    }
}

proptest! {
    #![proptest_config(Config { cases: CASES / 8, ..config() })]

    /// The fewest cells side by side for a range: a shorter range never needs more.
    #[test]
    fn a_goal_loosened_never_loses_its_answer(build in builds(), km in 20.0..120.0, by in 0.5..0.95) {
        let fewest = |km: f64| {
            let goal = Goal { figure: "range_km".to_owned(), side: Side::AtLeast, bound: km };
            let asked = Asked::of(&[Run::Range]);
            let evaluate = |parallel: f64| {
                let car = build.but(|b| b.parallel = parallel as u32).car();
                asked.suite.figures(&car).map_err(|e| e.to_string())
            };
            let between = Interval { from: 1.0, to: 5.0 };
            size("pack.parallel", &Question::Smallest, &[goal], between, true, evaluate)
                .unwrap().found
        };
        if let Some(strict) = fewest(km) {
            let loose = fewest(by * km);
            prop_assert!(loose.is_some_and(|loose| loose <= strict), "{strict}, then {loose:?}");
        }
    }

    /// US figures of a test sheet (lbf, lbf/mph, lbf/mph²) are those of its metric twin (NIST SP 811).
    #[test]
    fn the_same_coast_down_in_us_units_gives_the_same_figures(build in builds(), a_n in 60.0..180.0, c in 0.02..0.04) {
        let with = |coast_down: Value| {
            let mut sets = build.overrides();
            sets.push(Override::new("donor.drag_area_m2", Value::Null).unwrap());
            sets.push(Override::new("tyre.rolling_resistance", Value::Null).unwrap());
            sets.push(Override::new("tyre.rolling_resistance_per_kmh", Value::Null).unwrap());
            sets.push(Override::new("donor.coast_down", coast_down).unwrap());
            DEMO.with(&sets).unwrap()
        };
        let (lbf_n, mile_km, lb_kg) = (4.448_221_615, 1.609_344, 0.453_592_37);
        let metric = with(json!({"f0_n": a_n, "f1_n_per_kmh": 0.3, "f2_n_per_kmh2": c, "mass_kg": 900.0}));
        let us = with(json!({
            "a_lbf": a_n / lbf_n, "b_lbf_per_mph": 0.3 / lbf_n * mile_km,
            "c_lbf_per_mph2": c / lbf_n * mile_km * mile_km, "mass_lb": 900.0 / lb_kg,
        }));
        let asked = Asked::of(&[Run::Drive, Run::Pull]);
        for name in ["wh_per_km", "to_80_kmh_s"] {
            let (one, two) = (asked.figure(&metric, name), asked.figure(&us, name));
            if let (Some(one), Some(two)) = (one, two) {
                prop_assert!((one / two - 1.0).abs() < 1e-6, "{name}: {one} and {two}");
            }
        }
    }
}

/// The random cars are cars: most of them drive their road.
#[test]
fn most_of_the_random_cars_drive() {
    use proptest::strategy::ValueTree;
    use proptest::test_runner::TestRunner;
    let mut runner = TestRunner::deterministic();
    let asked = Asked::on(&[Run::Drive], cycle("wltc-low"));
    let drives = |build: &Build| asked.figure(&build.car(), "drive_complete") == Some(1.0);
    let cars: Vec<Build> =
        (0..40).map(|_| builds().new_tree(&mut runner).unwrap().current()).collect();
    let driven = cars.iter().filter(|build| drives(build)).count();
    assert!(driven >= 36, "{driven} of 40");
}
