//! What the size of a step changes: the default of a second against a hundredth of it, and against
//! the same drive through the adaptive Dormand–Prince pair of `ode_solvers`.
//!
//! Energy and distance must agree within 0.1 %, temperatures within 0.1 K.

use crate::bench;

use bench::{
    Bench, assert_near, assert_share, one_gear, one_gear_driver, shifting_driver, stop_and_go,
};
use sim_core::car::Slope;
use sim_core::driver::{Driver, Shifting};
use sim_core::follow::{Drive, DriveEnding, STEP_S, follow};
use sim_core::ledger::Account;
use sim_core::motor::Kind;
use sim_core::pieces::Tolerance;
use sim_core::pull::{Course, Plan, Pull, pull};
use sim_core::{Node, State, Trace, reference};

fn drive(bench: &Bench, trace: &Trace, driver: &Driver, step_s: f64) -> Drive {
    follow(&bench.car(), trace, driver, &bench.parked(0.85), driver.start_gear, step_s, &mut ())
}

fn temperatures_agree(a: &State, b: &State, what: &str) {
    for (node, a_k, b_k) in [
        ("winding", a.temperature_k[Node::Winding], b.temperature_k[Node::Winding]),
        ("housing", a.temperature_k[Node::Housing], b.temperature_k[Node::Housing]),
        ("heat sink", a.temperature_k[Node::Sink], b.temperature_k[Node::Sink]),
        ("cells", a.temperature_k[Node::Cells], b.temperature_k[Node::Cells]),
    ] {
        assert_near(a_k, b_k, 0.1, &format!("{what}: {node}"));
    }
}

/// A car, its driver and what they drive.
struct Case {
    name: &'static str,
    bench: Bench,
    driver: Driver,
    trace: Trace,
}

impl Case {
    fn is_level(&self) -> bool {
        self.trace.stretches().iter().all(|s| s.sin_grade == 0.0)
    }
}

/// A driver who shifts whenever it saves energy.
fn busy() -> Case {
    Case {
        name: "efficient driver",
        bench: Bench::light_car(),
        driver: Driver { shifting: Shifting::Efficient, start_gear: 0 },
        trace: stop_and_go(20.0, 12, false),
    }
}

/// Cars that keep up with most of the trace, one that does not, and what they drive.
fn cases() -> Vec<Case> {
    let strong = Bench::light_car().with(|p| {
        p.motor.machine.envelope =
            sim_core::motor::Envelope::from_nameplate(220.0, 80e3, 60e3, 800.0, 100.0);
        p.motor.machine.current_a_per_nm = 2.5;
        p.motor.machine.peak_current_a = 600.0;
        p.controller.motor_current_a = 700.0;
        p.controller.pack_current_a = 900.0;
        p.pack.cell.discharge_a = 500.0;
        p.pack.cell.discharge_peak_a = 1000.0;
    });
    let weak = Bench::light_car().with(|p| {
        p.motor.machine.envelope =
            sim_core::motor::Envelope::from_nameplate(60.0, 14e3, 9e3, 800.0, 100.0);
    });
    let single = Bench::light_car().with(|p| p.gearbox = one_gear(7.0, 0.95));
    let series = Bench::light_car().with(|p| {
        p.motor.machine.kind = Kind::SeriesDc { saturation_a: 200.0, brush_v: 2.0 };
    });
    let flat = stop_and_go(20.0, 12, false);
    let hilly = stop_and_go(18.0, 12, true);
    let half_seconds = in_half_seconds(&flat);
    let shifting = shifting_driver();
    let single_driver = one_gear_driver(0);
    let all = [
        ("light car", Bench::light_car(), shifting, &flat),
        ("light car on hills", Bench::light_car(), shifting, &hilly),
        ("strong car", strong.clone(), shifting, &flat),
        ("strong car on hills", strong, shifting, &hilly),
        ("weak car", weak.clone(), shifting, &flat),
        ("weak car on hills", weak, shifting, &hilly),
        ("one gear", single.clone(), single_driver, &flat),
        ("one gear on hills", single, single_driver, &hilly),
        ("series motor", series, shifting, &flat),
        ("light car, twice a second", Bench::light_car(), shifting, &half_seconds),
    ];
    all.into_iter()
        .map(|(name, bench, driver, trace)| Case { name, bench, driver, trace: trace.clone() })
        .collect()
}

/// The same accelerations at half the speeds, told twice a second.
fn in_half_seconds(trace: &Trace) -> Trace {
    let ends = trace.stretches().iter().map(|stretch| 0.5 * stretch.to_mps);
    let speeds: Vec<f64> = std::iter::once(0.0).chain(ends).collect();
    let times: Vec<f64> = (0..speeds.len()).map(|i| 0.5 * i as f64).collect();
    Trace::new(&times, &speeds, &vec![0.0; speeds.len() - 1]).unwrap()
}

/// A drive at the default step against one at a hundredth of it.
fn hundredth_agrees(case: &Case) {
    let Case { name, bench, driver, trace } = case;
    let whole = drive(bench, trace, driver, STEP_S);
    let fine = drive(bench, trace, driver, 0.01 * STEP_S);
    assert_eq!(
        (whole.ending, fine.ending),
        (DriveEnding::Complete, DriveEnding::Complete),
        "{name}"
    );
    assert_eq!(whole.shifts, fine.shifts, "{name}: shifts");
    assert_share(whole.terminal_j, fine.terminal_j, 1e-3, &format!("{name}: energy"));
    assert_share(whole.distance_m, fine.distance_m, 1e-3, &format!("{name}: distance"));
    temperatures_agree(&whole.end, &fine.end, name);
}

/// A drive in steps against the adaptive solver at 1e-10.
fn adaptive_agrees(case: &Case, step_s: f64, within: f64) {
    let Case { name, bench, driver, trace } = case;
    let tolerance = Tolerance { absolute: 1e-10, ..Tolerance::TIGHT };
    let whole = drive(bench, trace, driver, step_s);
    let (car, start) = (bench.car(), bench.parked(0.85));
    let place = reference::follow(&car, trace, driver, &start, driver.start_gear, &tolerance);
    let place = place.unwrap();
    let chemical_j = place.ledger[Account::Chemical];
    let found_j = whole.ledger[Account::Chemical];
    assert_share(found_j, chemical_j, within, &format!("{name}: energy"));
    let distance_m = place.state.distance_m;
    assert_share(whole.distance_m, distance_m, within, &format!("{name}: distance"));
    temperatures_agree(&whole.end, &place.state, name);
    assert_near(place.ledger.residual_share(), 0.0, 1e-9, &format!("{name}: books"));
}

#[test]
fn on_the_level_a_second_is_as_good_as_a_hundredth_of_it() {
    cases().iter().filter(|c| c.is_level()).for_each(hundredth_agrees);
}

#[test]
fn on_the_level_a_second_is_as_good_as_the_adaptive_solver() {
    cases().iter().filter(|c| c.is_level()).for_each(|c| adaptive_agrees(c, STEP_S, 1e-3));
}

/// A hundredth of the step comes to the adaptive solver's answer within 0.02 %: both solve the
/// same problem.
#[test]
fn on_the_level_fine_steps_come_to_the_adaptive_solvers_answer() {
    cases().iter().filter(|c| c.is_level()).for_each(|c| adaptive_agrees(c, 0.01, 2e-4));
}

#[test]
fn on_hills_a_second_is_as_good_as_a_hundredth_of_it() {
    cases().iter().filter(|c| !c.is_level()).for_each(hundredth_agrees);
}

#[test]
fn on_hills_fine_steps_come_to_the_adaptive_solvers_answer() {
    cases().iter().filter(|c| !c.is_level()).for_each(|c| adaptive_agrees(c, 0.01, 1e-3));
}

/// Many shifts in steep ramps of speed.
#[test]
fn with_a_busy_driver_a_second_is_as_good_as_a_hundredth_of_it() {
    hundredth_agrees(&busy());
}

/// A car in one gear whose trace is faster than its motor turns runs against the highest speed.
#[test]
fn a_second_is_good_enough_against_the_highest_motor_speed() {
    let speeds: Vec<f64> = (0..=120).map(|i| 15.0_f64.min(0.5 * f64::from(i))).collect();
    let times: Vec<f64> = (0..=120).map(f64::from).collect();
    let trace = Trace::new(&times, &speeds, &[0.0; 120]).unwrap();
    let bench = Bench::light_car();
    let whole = drive(&bench, &trace, &one_gear_driver(0), STEP_S);
    let fine = drive(&bench, &trace, &one_gear_driver(0), 0.01 * STEP_S);
    assert_share(whole.terminal_j, fine.terminal_j, 1e-3, "energy");
    assert_share(whole.distance_m, fine.distance_m, 1e-3, "distance");
}

fn times(bench: &Bench, plan: &Plan, tolerance: &Tolerance) -> Pull {
    let course = Course {
        plan: plan.clone(),
        slope: Slope::LEVEL,
        speeds_mps: vec![5.0, 10.0, 15.0, 20.0],
        distances_m: vec![50.0, 100.0, 200.0],
        most_s: 120.0,
    };
    pull(&bench.car(), &bench.parked(0.85), &course, tolerance, &mut ()).unwrap()
}

#[test]
fn pull_times_at_the_default_tolerance_are_those_at_a_tight_one() {
    for Case { name, bench, .. } in cases() {
        for plan in [Plan::in_gear(0), bench::gears_held(bench.car().gears())] {
            let default = times(&bench, &plan, &Tolerance::default());
            let tight = times(&bench, &plan, &Tolerance::TIGHT);
            let marks = |p: &Pull| -> Vec<Option<f64>> {
                let all = p.at_speeds.iter().chain(&p.at_distances);
                all.map(|m| m.map(|m| m.time_s)).collect()
            };
            let (default, tight) = (marks(&default), marks(&tight));
            assert!(tight.iter().flatten().count() >= 2, "{name}, {plan:?}: {tight:?}");
            for (a, b) in default.iter().zip(&tight) {
                assert_eq!(a.is_some(), b.is_some(), "{name}, {plan:?}");
                if let (Some(a), Some(b)) = (a, b) {
                    assert_share(*a, *b, 1e-3, &format!("{name}, {plan:?}"));
                }
            }
        }
    }
}
