//! Bands, sizes and comparisons of the demo: what is known of them from outside.

use scenarios::runs::{Run, Suite};
use scenarios::studies::bands::{BandsReport, bands};
use scenarios::studies::compare::{Candidate, compare};
use scenarios::studies::size::{Interval, Question, size};
use scenarios::studies::uncertain::Uncertain;
use scenarios::studies::{Goal, Spread};
use scenarios::{Loaded, Override};

fn suite(runs: &[Run]) -> Suite {
    // A kilometre at 50 km/h on the level.
    let road = sim_core::Trace::new(&[0.0, 5.0, 70.0, 75.0], &[0.0, 13.9, 13.9, 0.0], &[0.0; 3]);
    Suite::new(runs, "a kilometre", road.unwrap())
}

fn draw(spreads: &[&str], runs: &[Run], samples: usize, typical: bool) -> BandsReport {
    let loaded = Loaded::demo().unwrap();
    let own: Vec<Spread> = spreads.iter().map(|text| Spread::parse(text).unwrap()).collect();
    let uncertain = Uncertain::new(&loaded, &own, typical).unwrap();
    bands(&uncertain, &suite(runs), &[], samples, 1, || true).unwrap()
}

#[test]
fn masses_add_up_in_bands_as_variances_do() {
    // The mass of the car is a sum of its items: two normals of 30 and 40 kg give one of 50 kg,
    // whose deciles lie 1.2816 deviations from the mean; 0.6 and 0.8 of it are their correlations.
    let spreads = ["added.1.mass_kg=normal:500,30", "donor.kerb_mass_kg=normal:900,40"];
    let report = draw(&spreads, &[Run::Standing], 2000, false);
    let mass = report.figures.iter().find(|band| band.figure == "running_kg").unwrap();
    let middle = mass.nominal + (500.0 - 16.0) + (900.0 - 690.0);
    assert!((mass.p50 - middle).abs() < 3.0, "{} {middle}", mass.p50);
    assert!((mass.p90 - mass.p10 - 2.0 * 1.281_552 * 50.0).abs() < 5.0);
    assert_eq!(mass.causes[0].path, "donor.kerb_mass_kg");
    // Of normals, Spearman's is 6/π·asin(r/2).
    let spearman = |r: f64| 6.0 / std::f64::consts::PI * (0.5 * r).asin();
    assert!((mass.causes[0].rank_correlation - spearman(0.8)).abs() < 0.03);
    assert!((mass.causes[1].rank_correlation - spearman(0.6)).abs() < 0.03);
}

#[test]
fn one_uniform_input_gives_its_own_quantiles() {
    let report = draw(&["added.1.mass_kg=uniform:100,200"], &[Run::Standing], 500, false);
    let mass = report.figures.iter().find(|band| band.figure == "running_kg").unwrap();
    let without = mass.nominal - 16.0;
    for (found, share) in [(mass.p10, 0.1), (mass.p50, 0.5), (mass.p90, 0.9)] {
        assert!((found - without - 100.0 - 100.0 * share).abs() < 0.4, "{found}");
    }
    assert_eq!(mass.causes[0].rank_correlation, 1.0);
    assert!(!report.figures.iter().any(|b| b.figure == "rpm_at_110_kmh_pct" && b.moves()));
}

/// A letter of the tyre's label says no more than its number: both are as uncertain.
#[test]
fn a_tyre_known_by_its_letter_is_as_uncertain_as_one_known_by_its_number() {
    let band = |tyre: &[&str]| {
        let sets: Vec<Override> = tyre.iter().map(|text| text.parse().unwrap()).collect();
        let loaded = Loaded::demo().unwrap().put(&sets).unwrap();
        let uncertain = Uncertain::new(&loaded, &[], true).unwrap();
        let report = bands(&uncertain, &suite(&[Run::Drive]), &[], 40, 1, || true).unwrap();
        assert_eq!(report.refused, 0);
        let used = report.figures.iter().find(|b| b.figure == "wh_per_km").unwrap();
        (used.p10, used.p50, used.p90)
    };
    // 8.4 N/kN is the middle of class C, Regulation (EU) 2020/740.
    let number = band(&["tyre.label_n_per_kn=8.4"]);
    let letter = band(&["tyre.label_n_per_kn=null", "tyre.label_class=C"]);
    assert_eq!(letter, number);
}

/// A January is no more certain than today: the weather of a season is drawn as that of the scenario.
#[test]
fn the_weather_of_a_season_is_as_uncertain_as_todays() {
    let seasons = r#"seasons=[{"name": "January", "air_c": -5, "head_wind_kmh": 4}]"#;
    let loaded = Loaded::demo().unwrap().put(&[seasons.parse().unwrap()]).unwrap();
    let uncertain = Uncertain::new(&loaded, &[], true).unwrap();
    let paths: Vec<&str> = uncertain.inputs.iter().map(|i| i.spread.path.as_str()).collect();
    for field in ["air_c", "head_wind_kmh"] {
        let together = format!("conditions.{field},seasons.*.{field}");
        assert!(paths.contains(&together.as_str()), "{paths:?}");
    }
    // Half a bell above the middle, two deviations at 97.72 %: ±8 K are two.
    let air = uncertain.inputs.iter().find(|i| i.spread.path.contains("air_c")).unwrap();
    let warm = uncertain.alone(air, 0.977_25).unwrap();
    let c = |prepared: &scenarios::Prepared, path: &str| {
        prepared.echo.pointer(path).unwrap().as_f64().unwrap()
    };
    assert!((c(&warm, "/seasons/0/air_c") - 3.0).abs() < 1e-2);
    let now = uncertain.nominal().unwrap();
    let shift = c(&warm, "/conditions/air_c") - c(&now, "/conditions/air_c");
    assert!((shift - 8.0).abs() < 1e-2, "{shift} K");
}

#[test]
fn what_is_not_allowed_is_drawn_back_and_counted() {
    let spreads = ["gearbox.gears.*.efficiency_pct=uniform:90,110"];
    let report = draw(&spreads, &[Run::Climb], 40, false);
    // Half of the values are above 100 %.
    assert_eq!((report.inputs[0].clipped, report.refused), (20, 0));
    assert_eq!(report.inputs[0].fields, 4);
    let counted = draw(&["pack.parallel=uniform:0.51,3.49"], &[Run::Standing], 30, false);
    let kwh = counted.figures.iter().find(|band| band.figure == "usable_kwh").unwrap();
    assert!((kwh.p90 / kwh.p10 - 3.0).abs() < 1e-9, "one or three cells, none between");
}

#[test]
fn neither_threads_nor_other_drives_change_a_band() {
    let pool = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| draw(&[], &[Run::Climb], 24, true))
    };
    let one = pool(1);
    assert_eq!(one, pool(3));
    let more = draw(&[], &[Run::Standing, Run::Climb], 24, true);
    assert!(more.figures.ends_with(&one.figures));
    assert!(one.inputs.len() > 15 && one.inputs.iter().all(|input| !input.own));
}

#[test]
fn a_risk_is_as_likely_as_the_value_that_brings_it() {
    // The climb is held at the stated grade and cannot be beyond the tyres' grip: half of each.
    let loaded = Loaded::demo().unwrap();
    let own = [Spread::parse("runs.climb.grade_pct=uniform:0,60").unwrap()];
    let uncertain = Uncertain::new(&loaded, &own, false).unwrap();
    let report = bands(&uncertain, &suite(&[Run::Climb]), &[], 60, 1, || true).unwrap();
    let risk = report.risks.iter().find(|risk| risk.name == "climb_not_held").unwrap();
    assert!(!risk.nominal && risk.low_pct < risk.probability_pct);
    // The edge, found the other way round, has the same share of the grades above it.
    let evaluate = |grade: f64| {
        let prepared = loaded.with(&[Override::number("runs.climb.grade_pct", grade).unwrap()]);
        suite(&[Run::Climb]).figures(&prepared.unwrap()).map_err(|e| e.to_string())
    };
    let goals: [Goal; 1] = ["climb_held>=1".parse().unwrap()];
    let between = Interval { from: 0.0, to: 60.0 };
    let found = size("grade", &Question::Largest, &goals, between, false, evaluate).unwrap();
    assert!(found.monotone);
    let share_pct = 100.0 * (60.0 - found.found.unwrap()) / 60.0;
    assert!((risk.probability_pct - share_pct).abs() < 2.0, "{} {share_pct}", risk.probability_pct);
}

#[test]
fn the_final_drive_at_the_rpm_limit_has_its_closed_form() {
    let loaded = Loaded::demo().unwrap();
    let evaluate = |ratio: f64| {
        let prepared = loaded.with(&[Override::number("gearbox.final_drive", ratio).unwrap()]);
        suite(&[Run::Standing]).figures(&prepared.unwrap()).map_err(|e| e.to_string())
    };
    let goals: [Goal; 1] = ["rpm_at_110_kmh_pct<=100".parse().unwrap()];
    let between = Interval { from: 3.0, to: 9.0 };
    let found = size("f", &Question::Largest, &goals, between, false, evaluate).unwrap();
    // 7000 rpm of the box at 110 km/h in direct drive on 145R12: 12 in and 2·0.82·145 mm, of which
    // a loaded radial tyre rolls on 96.5 %.
    let radius_m = 0.965 * 0.5 * (12.0 * 0.0254 + 2.0 * 0.82 * 0.145);
    let ratio = 7000.0 * std::f64::consts::TAU / 60.0 * radius_m / (110.0 / 3.6);
    // Within 1/10000 of the interval, on the side that keeps the goal.
    let found = found.found.unwrap();
    assert!(found <= ratio && ratio - found <= 1e-4 * (9.0 - 3.0), "{found} {ratio}");
}

#[test]
fn a_comparison_says_what_was_changed_and_no_more() {
    let loaded = Loaded::demo().unwrap();
    let entry = |set: &[&str]| Candidate {
        prepared: loaded.with(&set.iter().map(|s| s.parse().unwrap()).collect::<Vec<_>>()).unwrap(),
        suite: suite(&[Run::Standing]),
        changed: None,
    };
    let sides = [entry(&[]), entry(&["added.1.mass_kg=26", "motor=shelf:induction-air-large"])];
    let report = compare(&sides, || ()).unwrap();
    let paths: Vec<&str> = report.differences.iter().map(|d| d.path.as_str()).collect();
    assert_eq!(paths, ["motor", "added.1.mass_kg"]);
    let mass = report.figures.iter().find(|row| row.figure == "running_kg").unwrap();
    // 10 kg more of brackets and the 16 kg between the motors' 52 and 68 kg.
    assert!((mass.more_than_first[1].unwrap() - 26.0).abs() < 1e-9);
    assert_eq!(mass.more_than_first[0], Some(0.0));
}
