//! Coast-downs of known cars, integrated by SciPy (`coast_down/make.py`), not by this program: a sensor
//! of 0.2 m/s noise at 1 and 10 Hz with a second missing here and there, wind along the road, a slope, a
//! tap on the brake in one test of five.

use rayon::prelude::*;
use scenarios::measured::coast_down::{
    CoastDownReport, Estimate, Finding, Recorded, TestDay, Tested, Way, coast_down,
};
use scenarios::measured::taken_in::{Learning, learnt};
use scenarios::{Loaded, Override, Prepared};
use sim_core::car::{Request, Slope};
use sim_core::pieces::{Piece, Place, Tolerance, never};
use sim_core::road_load::RoadLoad;
use sim_core::{Car, State};
use std::path::PathBuf;

const FILE: &str = include_str!("coast_down/tests.txt");

/// A test, and what is true of it.
struct Test {
    kind: &'static str,
    tested: Tested,
    rolling: f64,
    rolling_per_mps: f64,
    drag_area_m2: f64,
    tapped: Option<usize>,
    runs: Vec<Recorded>,
}

impl Test {
    fn new(words: &[&'static str]) -> Self {
        let number = |i: usize| words[i].parse::<f64>().unwrap();
        let air_k = number(3) + 273.15;
        // Dry air, ISO 2533.
        let pressure_pa = number(5) * 287.052_87 * air_k;
        let growth_per_mps = (1.5e-5 * 3.6, 1.5e-5 * 3.6);
        let (mass_kg, turning_kg) = (number(1), number(2) - number(1));
        Self {
            kind: words[9],
            tested: Tested {
                mass_kg,
                turning_kg,
                air_k,
                pressure_pa,
                growth_per_mps,
                expected: None,
            },
            rolling: number(6),
            rolling_per_mps: number(7),
            drag_area_m2: number(8),
            tapped: None,
            runs: Vec::new(),
        }
    }

    fn run(&mut self, words: &[&str]) {
        let hz: f64 = words[2].parse().unwrap();
        if words[3] == "1" {
            self.tapped = Some(self.runs.len());
        }
        let way = Some(if words[1] == "1" { Way::Out } else { Way::Back });
        let name = format!("run {}", self.runs.len() + 1);
        let (time_s, speed_mps) = (Vec::new(), Vec::new());
        let mut run = Recorded { name, time_s, speed_mps, places_deg: None, way };
        let (mut step, mut samples, mut rest) = (0i32, 0, words[4]);
        while let Some(letter) = rest.chars().next() {
            rest = &rest[1..];
            let changed = match letter {
                '.' => None,
                '(' => {
                    let (number, after) = rest.split_once(')').unwrap();
                    rest = after;
                    Some(number.parse::<i32>().unwrap())
                }
                'a'..='z' => Some(letter as i32 - 'a' as i32),
                _ => Some(letter as i32 - 'A' as i32 - 26),
            };
            if let Some(changed) = changed {
                step += changed;
                run.time_s.push(f64::from(samples) / hz);
                run.speed_mps.push(0.05 * f64::from(step));
            }
            samples += 1;
        }
        self.runs.push(run);
    }

    fn fitted(&self) -> CoastDownReport {
        coast_down(&self.runs, &self.tested).unwrap()
    }

    /// The truth and what was found of it: rolling resistance, its growth, drag area, all of the force at
    /// 50 km/h.
    fn truths(&self, found: &CoastDownReport) -> [(f64, Estimate); 4] {
        // Rolling to 20 °C, by SAE J1263 (from memory).
        let warm = 1.0 + 0.0086 * (self.tested.air_k - 293.15);
        let weight_n = self.tested.mass_kg * 9.80665;
        // Air at 20 °C and 100 kPa.
        let f2 = 0.5 * 100_000.0 / (287.052_87 * 293.15) * self.drag_area_m2 / 12.96;
        [
            (self.rolling * warm, found.rolling),
            (self.rolling_per_mps * weight_n * warm / 3.6, found.f1_n_per_kmh),
            (self.drag_area_m2, found.drag_area_m2),
            (f2, found.f2_n_per_kmh2),
        ]
    }
}

fn tests() -> Vec<Test> {
    let mut all: Vec<Test> = Vec::new();
    for line in FILE.lines() {
        let words: Vec<&str> = line.split(' ').collect();
        match words[0] {
            "test" => all.push(Test::new(&words)),
            _ => all.last_mut().unwrap().run(&words),
        }
    }
    all
}

/// The tests of a kind with what they tell.
fn told(kind: &str) -> Vec<(Test, CoastDownReport)> {
    let of: Vec<Test> = tests().into_iter().filter(|test| test.kind == kind).collect();
    of.into_par_iter().map(|test| (test.fitted(), test)).map(|(told, test)| (test, told)).collect()
}

/// How many of a hundred intervals hold the truth: of rolling resistance, its growth, drag area, f2.
fn covered_pct(told: &[(Test, CoastDownReport)]) -> [f64; 4] {
    std::array::from_fn(|k| {
        let holds = |(test, told): &&(Test, CoastDownReport)| {
            let (truth, found) = test.truths(told)[k];
            found.low <= truth && truth <= found.high
        };
        100.0 * told.iter().filter(holds).count() as f64 / told.len() as f64
    })
}

#[test]
fn intervals_of_95_hold_the_truth_of_200_tests_by_scipy() {
    let all = told("plain");
    assert_eq!(all.len(), 200);
    let covered = covered_pct(&all);
    println!("rolling, growth, drag area, f2: {covered:?} %");
    assert!(covered.iter().all(|pct| (90.0..=99.0).contains(pct)), "{covered:?}");
    // They are narrow enough to be of use, and say so.
    let useful = all.iter().filter(|(_, told)| told.useful).count();
    assert!(useful >= 150, "{useful}");
    // The noise that was put in, 0.2 m/s, is found.
    assert!(all.iter().all(|(_, told)| (0.15..0.25).contains(&(told.noise_kmh / 3.6))));
}

#[test]
fn a_tapped_brake_is_found_in_its_run_and_hardly_ever_where_there_is_none() {
    let all = told("plain");
    let named = |told: &CoastDownReport, run: usize| {
        let name = format!("run {}", run + 1);
        told.findings.iter().any(|found| found.file == name && found.what.contains("brake"))
    };
    let tapped: Vec<_> = all.iter().filter_map(|(t, told)| Some((t.tapped?, told))).collect();
    let found = tapped.iter().filter(|(run, told)| named(told, *run)).count();
    assert!(tapped.len() >= 20 && found * 100 >= tapped.len() * 95, "{found} of {}", tapped.len());
    let untapped: usize =
        all.iter().map(|(t, _)| t.runs.len() - usize::from(t.tapped.is_some())).sum();
    let wrongly: usize = all
        .iter()
        .flat_map(|(t, told)| (0..t.runs.len()).map(move |run| (t, told, run)))
        .filter(|(t, told, run)| t.tapped != Some(*run) && named(told, *run))
        .count();
    assert!(wrongly * 50 <= untapped, "{wrongly} of {untapped}");
}

#[test]
fn gusts_a_gear_a_lag_and_runs_one_way_do_not_mislead() {
    for (kind, least_pct) in [
        ("gusty", 85.0),
        ("gear", 85.0),
        ("oneway", 90.0),
        ("slow", 90.0),
        // A sensor that lags, and 10 Hz in a wind that drifts.
        ("lag", 85.0),
        ("drift", 85.0),
        // A tyre whose resistance grows by 4e-5 per km/h, where 1.5e-5 ± 1.5e-5 is taken as usual.
        ("growth", 70.0),
    ] {
        let all = told(kind);
        let covered = covered_pct(&all);
        println!("{kind}: {covered:?} % of {}", all.len());
        assert!(covered.iter().all(|pct| *pct >= least_pct), "{kind}: {covered:?}");
    }
    // The third run had a gear left in for its first seconds.
    for (_, told) in told("gear") {
        let named = |f: &Finding| f.file == "run 3" && f.what.contains("gear left in");
        assert!(told.findings.iter().any(named), "{:?}", told.findings);
    }
    for (_, told) in told("oneway") {
        assert!(!told.both_ways && !told.useful);
    }
}

/// From 45 km/h there is next to no air to be felt: the drag area stays open, rolling does not, and a
/// higher start is what would help.
#[test]
fn a_slow_start_leaves_the_drag_area_open_and_says_how_fast_to_start() {
    for (_, told) in told("slow") {
        assert!(!told.useful && told.drag_area_m2.share() > 2.0 * told.rolling.share());
        let faster = told.more.iter().find(|more| more.from_kmh >= 60.0).unwrap();
        assert!(faster.drag_area_pct <= 10.0 && faster.runs_each_way <= 30, "{faster:?}");
        // Tests that began at 80 to 120 km/h, three to five runs each way, bear it out.
    }
    let plain = told("plain");
    let usual: f64 = plain.iter().map(|(_, told)| told.drag_area_m2.share()).sum::<f64>() / 200.0;
    assert!(usual < 0.10, "{usual}");
}

/// Runs whose speed falls by the same in each second: `h·σ/(√n·Δt)` by hand, with h = 4.3 of three pairs
/// (UN GTR 15, Annex 4, from memory: Student's t for 95 %).
#[test]
fn the_accuracy_is_the_regulations() {
    // Times for 10 km/h of the three pairs, both ways alike.
    let times_s = [9.8_f64, 10.0, 10.3];
    let run = |time_s: f64, way: Way| {
        let speed = |i: u32| (70.0 - 10.0 / time_s * 0.1 * f64::from(i)) / 3.6;
        Recorded {
            name: String::new(),
            time_s: (0..550).map(|i| 0.1 * f64::from(i)).collect(),
            speed_mps: (0..550).map(speed).collect(),
            places_deg: None,
            way: Some(way),
        }
    };
    let runs: Vec<Recorded> =
        times_s.iter().flat_map(|t| [run(*t, Way::Out), run(*t, Way::Back)]).collect();
    let tested = Tested {
        mass_kg: 1000.0,
        turning_kg: 30.0,
        air_k: 293.15,
        pressure_pa: 1e5,
        growth_per_mps: (0.0, 5e-5),
        expected: None,
    };
    let told = coast_down(&runs, &tested).unwrap();
    let mean_s = times_s.iter().sum::<f64>() / 3.0;
    let variance = times_s.iter().map(|t| (t - mean_s).powi(2)).sum::<f64>() / 2.0;
    let expected_pct = 100.0 * 4.3 * (variance / 3.0).sqrt() / mean_s;
    let at_50 = told.accuracy.iter().find(|speed| speed.speed_kmh == 50.0).unwrap();
    assert_eq!(at_50.pairs, 3);
    assert!((at_50.time_s - mean_s).abs() < 1e-6, "{at_50:?}");
    assert!((at_50.accuracy_pct.unwrap() / expected_pct - 1.0).abs() < 2e-3, "{at_50:?}");
    assert_eq!(told.accurate, Some(false));
}

/// A car that rolls free in neutral, by the simulation itself.
fn rolled(prepared: &Prepared, from_mps: f64, slope: f64, wind_mps: f64) -> Vec<f64> {
    let mut around = *prepared.car.surroundings();
    around.head_wind_mps = wind_mps;
    let car = Car::new(prepared.car.parts().clone(), around);
    let ask = |_: f64, _: &State| Request::Disconnected(f64::INFINITY);
    let piece = Piece { car: &car, gear: 0, slope: Slope::from_grade(slope), ask };
    let warm = State { speed_mps: from_mps, tyre_chill_k: 0.0, ..prepared.start };
    let mut at = Place::start(warm);
    let mut speeds = vec![from_mps];
    while speeds.len() < 200 && at.state.speed_mps > 3.0 {
        at = piece.run(&at, at.time_s + 1.0, &Tolerance::TIGHT, never, &mut ()).unwrap().0;
        speeds.push(at.state.speed_mps);
    }
    speeds
}

fn recorded(speed_mps: Vec<f64>, way: Way) -> Recorded {
    let time_s = (0..speed_mps.len()).map(|i| i as f64).collect();
    Recorded { name: "rolled".to_owned(), time_s, speed_mps, places_deg: None, way: Some(way) }
}

/// Ways in which a build may know its road load, with numbers of its own.
fn cars() -> Vec<Vec<String>> {
    let mut seed = 1_u64;
    // The generator of Numerical Recipes (Press et al.), between 0 and 1.
    let mut draw = || {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (seed >> 11) as f64 / (1_u64 << 53) as f64
    };
    let mut between = |low: f64, high: f64| low + draw() * (high - low);
    let no_label = "tyre.label_n_per_kn=null".to_owned();
    let mut all = Vec::new();
    for i in 0..12 {
        let mut car = vec![
            format!("donor.kerb_mass_kg={:.1}", between(650.0, 900.0)),
            format!("conditions.air_c={:.1}", between(5.0, 30.0)),
            format!("conditions.altitude_m={:.0}", between(0.0, 1000.0)),
            "donor.gross_mass_kg=null".to_owned(),
        ];
        let rolling = format!("{:.4}", between(0.008, 0.015));
        match i % 4 {
            0 => {
                car.extend([no_label.clone(), format!("tyre.rolling_resistance={rolling}")]);
                car.push(format!("donor.drag_coefficient={:.3}", between(0.3, 0.5)));
            }
            1 => {
                car.push(format!("tyre.label_n_per_kn={:.2}", between(8.0, 13.0)));
                car.extend(
                    ["donor.drag_coefficient=null", "donor.frontal_area_m2=null"]
                        .map(str::to_owned),
                );
                car.push(format!("donor.drag_area_m2={:.3}", between(0.5, 0.9)));
            }
            kind => {
                car.extend(
                    [
                        "donor.drag_coefficient=null",
                        "donor.frontal_area_m2=null",
                        "tyre.label_n_per_kn=null",
                        "tyre.rolling_resistance_per_kmh=null",
                    ]
                    .map(str::to_owned),
                );
                let (f0, f1, f2) = (between(80.0, 140.0), between(0.0, 0.4), between(0.025, 0.045));
                car.push(match kind {
                    2 => format!(
                        r#"donor.coast_down={{"f0_n":{f0:.1},"f1_n_per_kmh":{f1:.3},"f2_n_per_kmh2":{f2:.4},"mass_kg":900}}"#
                    ),
                    _ => format!(
                        r#"donor.coast_down={{"a_lbf":{:.2},"b_lbf_per_mph":{:.3},"c_lbf_per_mph2":{:.4},"mass_lb":1990}}"#,
                        f0 / 4.4482,
                        0.36 * f1,
                        0.58 * f2
                    ),
                });
            }
        }
        all.push(car);
    }
    all
}

/// What a car that is known only roughly learns from another that rolled is what that one does: the
/// runs come out again, and in gear it is held back by what is left of the gearbox's drag besides.
#[test]
fn a_build_with_what_was_learnt_rolls_as_the_car_that_was_measured() {
    let put = |sets: &[String]| {
        let sets: Vec<Override> = sets.iter().map(|text| text.parse().unwrap()).collect();
        Loaded::demo().unwrap().put(&sets).unwrap()
    };
    for (i, car) in cars().into_iter().enumerate() {
        let truth = put(&car).prepare().unwrap();
        let tested = Tested::of(&truth, &TestDay::default()).unwrap();
        let mut runs = Vec::new();
        for way in [Way::Out, Way::Back, Way::Out, Way::Back] {
            let sign = if way == Way::Out { 1.0 } else { -1.0 };
            runs.push(recorded(rolled(&truth, 33.0, 0.001 * sign, 0.8 * sign), way));
        }
        let told = coast_down(&runs, &tested).unwrap();
        assert!((told.head_wind_kmh.value / 3.6 - 0.8).abs() < 0.1, "{car:?}: {told:?}");
        assert!((told.slope_pct.value - 0.1).abs() < 0.01, "{car:?}: {told:?}");
        // A build that was wrong in both, and takes in what was learnt.
        let wrong: Vec<String> = car
            .iter()
            .map(|set| match set.split_once('=').unwrap() {
                ("tyre.rolling_resistance", _) => "tyre.rolling_resistance=0.02".to_owned(),
                ("tyre.label_n_per_kn", value) if value != "null" => {
                    "tyre.label_n_per_kn=7".to_owned()
                }
                ("donor.drag_coefficient", value) if value != "null" => {
                    "donor.drag_coefficient=0.7".to_owned()
                }
                ("donor.drag_area_m2", _) => "donor.drag_area_m2=1.1".to_owned(),
                _ => set.clone(),
            })
            .collect();
        let build = put(&wrong);
        let learning = Learning { date: "2026-11-27".to_owned(), sources: Vec::new() };
        let learnt = learnt(&told, &build.prepare().unwrap(), learning).unwrap();
        let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("coast-downs");
        std::fs::create_dir_all(&folder).unwrap();
        let file = folder.join(format!("{i}.json"));
        let _ = std::fs::remove_file(&file);
        learnt.save(&file, &[]).unwrap();
        let measured = build.measured(&[file]).unwrap().prepare().unwrap();
        // In gear the final drive turns too; in neutral the simulation has it in a coast-down alone.
        let per_m = truth.car.motor_radps(truth.car.gears() - 1, 1.0);
        let gearbox = &truth.car.parts().gearbox;
        let in_neutral_n = |mps: f64| match truth.car.parts().road_load {
            RoadLoad::Coefficients { .. } => {
                0.4 * per_m * (gearbox.drag_nm + gearbox.drag_nm_per_radps * per_m * mps)
            }
            RoadLoad::CoastDown { .. } => 0.0,
        };
        for mps in [4.0, 10.0, 20.0, 30.0] {
            let of = |prepared: &Prepared| prepared.car.resistance_n(mps, Slope::LEVEL);
            let (found, expected) = (of(&measured) + in_neutral_n(mps), of(&truth));
            assert!((found / expected - 1.0).abs() < 0.01, "{car:?} at {mps}: {found} {expected}");
        }
        if matches!(truth.car.parts().road_load, RoadLoad::CoastDown { .. }) {
            let again = rolled(&measured, 33.0, 0.001, 0.8);
            let apart = again.iter().zip(&runs[0].speed_mps).map(|(a, b)| (a - b).abs());
            let most = apart.fold(0.0, f64::max);
            assert!(most < 0.1, "{car:?}: {most} m/s");
        }
    }
}

#[test]
fn what_is_no_coast_down_is_refused_in_one_sentence() {
    let tested = tests()[0].tested;
    let falls: Vec<f64> = (0..80).map(|i| 25.0 - 0.25 * f64::from(i)).collect();
    let run = |name: &str, time_s: Vec<f64>, speed_mps: Vec<f64>| Recorded {
        name: name.to_owned(),
        time_s,
        speed_mps,
        places_deg: None,
        way: None,
    };
    let seconds: Vec<f64> = (0..80).map(f64::from).collect();
    let mut twice = seconds.clone();
    twice[5] = 3.0;
    for (runs, words) in [
        (vec![], "there is no run to be read"),
        (vec![run("a.csv", seconds.clone(), vec![20.0; 80])], "a.csv holds no coasting"),
        (vec![run("a.csv", seconds[..5].to_vec(), falls[..5].to_vec())], "holds no coasting"),
        (vec![run("b.csv", twice, falls.clone())], "b.csv: the time is 3 s after 4 s"),
        (
            vec![run("c.csv", seconds.clone(), falls.iter().map(|v| 3.6 * v).collect())],
            "is the unit in the header of the column right?",
        ),
    ] {
        let refused = coast_down(&runs, &tested).unwrap_err().to_string();
        assert!(refused.contains(words) && !refused.contains('\n'), "{refused}");
    }
    // Speeds of km/h under a header of m/s, low enough to be a car's: the answer says that it is none's.
    let quick: Vec<f64> = falls.iter().map(|v| 3.2 * v).collect();
    let run = run("d.csv", seconds, quick);
    let told = coast_down(&vec![run; 4], &tested).unwrap();
    assert!(!told.useful && told.doubts.iter().any(|d| d.contains("unit")), "{told:?}");
}
