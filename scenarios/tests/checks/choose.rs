//! The parts to buy, against every combination reckoned by hand, and what must hold whatever is asked.

use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use scenarios::runs::{Better, Run, Suite, figure::find};
use scenarios::studies::Goal;
use scenarios::studies::candidates::Candidates;
use scenarios::studies::choose::{
    Choice, ChooseReport, Seen, Study, Wanted, keeps_up, preferences, usual_goals,
    usual_preferences,
};
use scenarios::studies::stream::Row;
use scenarios::{Loaded, Override};
use sim_core::Trace;

fn suite(runs: &[Run]) -> Suite {
    Suite::new(runs, "level", Trace::steady(10.0, 0.0, 60.0).unwrap())
}

fn wanted(goals: &[&str], prefer: &[&str], budget: Option<f64>) -> Wanted {
    Wanted {
        goals: goals.iter().map(|goal| goal.parse().unwrap()).collect(),
        budget,
        prefer: preferences(prefer.iter().copied()).unwrap(),
        odds_pct: 80.0,
        samples: 20,
        seed: 3,
    }
}

fn chosen(loaded: &Loaded, tried: &[&str], suite: &Suite, wanted: &Wanted) -> ChooseReport {
    let mut candidates = Candidates::default();
    tried.iter().for_each(|text| candidates.take(text).unwrap());
    candidates.check(loaded).unwrap();
    let study = Study::new(loaded, &candidates, suite, wanted, &[]).unwrap();
    let mut seen = Seen::of(&study);
    for number in 0..study.total() {
        seen.see(&Row { number, outcome: study.found(number) });
    }
    seen.conclude((false, false), || true).unwrap()
}

/// What counts of one of a front, less being better; figures as tables show them.
fn ranks(choice: &Choice, prefer: &[&'static str]) -> Vec<f64> {
    let of = |name: &&'static str| {
        let found = choice.figures.iter().find(|figure| figure.figure == *name).unwrap();
        ranked(name, found.stated)
    };
    [choice.price].into_iter().chain(prefer.iter().map(of)).collect()
}

fn ranked(name: &str, value: f64) -> f64 {
    let sign = if Run::of_figure(name).unwrap().1.better == Better::Higher { -1.0 } else { 1.0 };
    sign * format!("{value:.2e}").parse::<f64>().unwrap()
}

fn as_good(one: &[f64], other: &[f64]) -> bool {
    one.iter().zip(other).all(|(a, b)| a <= b)
}

/// Whether a front has something as good for each of another.
fn covers(front: &ChooseReport, other: &ChooseReport) -> bool {
    other.front.iter().all(|theirs| {
        let theirs = ranks(theirs, &other.prefer);
        front.front.iter().any(|own| as_good(&ranks(own, &front.prefer), &theirs))
    })
}

const MOTORS: [(&str, f64); 4] = [
    ("shelf:induction-air-small", 900.0),
    ("shelf:induction-air-medium", 1400.0),
    ("shelf:induction-air-large", 1400.0),
    ("shelf:series-dc-large", 500.0),
];
const CONTROLLERS: [(&str, f64); 3] = [
    ("shelf:low-voltage-450a", 700.0),
    ("shelf:mid-voltage-600a", 650.0),
    ("shelf:series-chopper-500a", 400.0),
];

fn listed(path: &str, parts: &[(&str, f64)]) -> String {
    let parts: Vec<String> = parts.iter().map(|(part, price)| format!("{part}@{price}")).collect();
    format!("{path}={}", parts.join(","))
}

#[test]
fn a_front_is_that_of_every_combination_reckoned_by_hand() {
    let loaded = Loaded::demo().unwrap();
    let loaded = loaded.put(&["pack.cell.price=20".parse().unwrap()]).unwrap();
    let suite = suite(&[Run::Standing, Run::Climb]);
    let (motors, controllers) = (listed("motor", &MOTORS), listed("controller", &CONTROLLERS));
    let tried = [&motors, &controllers, "pack.parallel=1,2", "gearbox.final_drive=3.3@80,4.3"];
    let goals = ["climb_heat_pct<=25", "start_grade_pct>=20"];
    let prefer = ["climb_heat_pct", "usable_kwh"];
    let found = chosen(&loaded, &tried, &suite, &wanted(&goals, &prefer, None));
    assert_eq!(found.combinations, 48);
    let goals: Vec<Goal> = goals.iter().map(|goal| goal.parse().unwrap()).collect();
    let mut all: Vec<Vec<f64>> = Vec::new();
    for (motor, motor_price) in MOTORS {
        for (controller, controller_price) in CONTROLLERS {
            for parallel in [1.0, 2.0] {
                for (ratio, besides) in [(3.3, 80.0), (4.3, 0.0)] {
                    let set: Vec<Override> = [
                        format!("motor={motor}"),
                        format!("controller={controller}"),
                        format!("pack.parallel={parallel}"),
                        format!("gearbox.final_drive={ratio}"),
                    ]
                    .iter()
                    .map(|text| text.parse().unwrap())
                    .collect();
                    let car = loaded.with(&set).unwrap();
                    // Of the warnings of `check` those that no setting mends.
                    let clash = [
                        "run together",
                        "permitted.",
                        "the controller bears: it",
                        "does not drive",
                    ];
                    let breaks = |text: &str| clash.iter().any(|words| text.contains(words));
                    if car.warnings().iter().any(|warning| breaks(&warning.text)) {
                        continue;
                    }
                    let figures = suite.figures(&car).unwrap();
                    let of = |name: &str| find(&figures, name).unwrap();
                    if goals.iter().any(|goal| goal.missed_by(of(&goal.figure)) > 0.0) {
                        continue;
                    }
                    // The demo's pack has 34 cells in series.
                    let price = motor_price + controller_price + 20.0 * 34.0 * parallel + besides;
                    let ranks = prefer.map(|name| ranked(name, of(name).value));
                    all.push([&[price], &ranks[..]].concat());
                }
            }
        }
    }
    assert!(found.keep_goals > 3 && all.len() as u64 == found.keep_goals, "{found:?}");
    let mut front: Vec<Vec<f64>> = all
        .iter()
        .filter(|one| !all.iter().any(|other| as_good(other, one) && other != *one))
        .cloned()
        .collect();
    front.sort_by(|a, b| a.partial_cmp(b).unwrap());
    front.dedup();
    let same: Vec<Vec<f64>> = found.front.iter().map(|one| ranks(one, &found.prefer)).collect();
    assert_eq!(same, front);
    let counted: u64 = found.dropped.iter().map(|one| one.combinations).sum();
    assert_eq!(counted + found.missing_goals + found.keep_goals, found.combinations);
}

/// A car that does not do what is asked stays cool: at a tenth of its current it comes to a stop on
/// the climb. Whatever it costs, it is never chosen.
#[test]
fn what_does_not_climb_is_not_chosen_for_being_cool() {
    let loaded = Loaded::demo().unwrap();
    let suite = suite(&[Run::Standing, Run::Climb]);
    let tried = ["controller.motor_current_a=40@10,450@900"];
    let wanted = wanted(&["climb_heat_pct<=100"], &["climb_heat_pct"], None);
    let found = chosen(&loaded, &tried, &suite, &wanted);
    assert_eq!(found.front.len(), 1);
    assert_eq!(found.front[0].price, 900.0);
    assert_eq!(found.dropped.len(), 1);
    assert_eq!(found.dropped[0].why, "climb is not carried out");
}

#[test]
fn where_nothing_is_asked_for_a_car_has_to_climb_keep_up_and_stay_cool() {
    let demo = Loaded::demo().unwrap().prepare().unwrap();
    let goals = usual_goals(&demo, &suite(&[]));
    let names: Vec<&str> = goals.iter().map(|goal| goal.figure.as_str()).collect();
    for name in ["climb_held", "pass_held", "drive_complete", "start_grade_pct"] {
        assert!(names.contains(&name), "{names:?}");
    }
    // The demo's climb is of 14 %.
    assert!(goals.iter().any(|goal| goal.to_string() == "start_grade_pct>=14"), "{goals:?}");
    // Of the minute that is driven 3 % may be outside the tolerance, as `sheet` has it.
    let drive = suite(&[Run::Drive]);
    assert_eq!(keeps_up(&goals, &drive).unwrap().to_string(), "outside_s<=2");
    assert_eq!(keeps_up(&goals, &suite(&[Run::Climb])), None);
    assert_eq!(keeps_up(&["outside_s<=99".parse().unwrap()], &drive), None);
    let prefer: Vec<&str> = usual_preferences(&goals).iter().map(|figure| figure.name).collect();
    assert_eq!(prefer, ["drive_heat_pct", "climb_heat_pct", "pass_heat_pct"]);
    assert!(preferences(["drive_oil_c"]).is_err() && preferences(["no_such"]).is_err());
    assert!(preferences(["price"]).unwrap().is_empty());
}

#[test]
fn where_no_combination_keeps_the_goals_the_nearest_is_told() {
    let demo = Loaded::demo().unwrap();
    let limits = ["gross_mass_kg", "front_axle_max_kg", "rear_axle_max_kg"];
    let limits = limits.map(|name| format!("donor.{name}=3000").parse().unwrap());
    let loaded = demo.put(&limits).unwrap();
    let suite = suite(&[Run::Standing]);
    let tried = ["pack.parallel=1@80,3@20,2@90"];
    let ask = |bound: &str, budget| {
        let wanted = wanted(&[bound, "running_kg>=1"], &[], budget);
        chosen(&loaded, &tried, &suite, &wanted)
    };
    let found = ask("usable_kwh>=99", None);
    assert!(found.front.is_empty() && found.recommended.is_none());
    assert_eq!(
        (found.missing_goals, found.missed[0].combinations, found.missed[0].alone),
        (3, 3, 3)
    );
    let nearest = found.nearest.unwrap();
    assert_eq!(nearest.picked[0].value, 3);
    assert_eq!(nearest.misses.len(), 1);
    let found = ask("usable_kwh>=1", Some(10.0));
    assert!(found.front.is_empty() && found.nearest.is_none());
    assert_eq!((found.keep_goals, found.over_budget, found.cheapest), (3, 3, Some(20.0)));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, rng_seed: RngSeed::Fixed(20_261_127), ..ProptestConfig::default() })]

    /// A larger budget, a looser goal and one more candidate never make anything worse, and the order
    /// of what is tried does not matter.
    #[test]
    fn more_to_choose_from_is_never_worse(
        prices in prop::collection::vec(0..6_u16, 9),
        budget in 300.0..3000.0_f64,
        more in 0.0..900.0_f64,
        grade in 15.0..40.0_f64,
        looser in 0.0..10.0_f64,
        leave in 0..4_usize,
    ) {
        let loaded = Loaded::demo().unwrap();
        let loaded = loaded.put(&["donor.front_axle_max_kg=900".parse().unwrap()]).unwrap();
        let suite = suite(&[Run::Standing]);
        let price = |i: usize| 200.0 * f64::from(prices[i]);
        let motors: Vec<(&str, f64)> =
            MOTORS.iter().enumerate().map(|(i, (motor, _))| (*motor, price(i))).collect();
        let controllers: Vec<(&str, f64)> =
            CONTROLLERS.iter().enumerate().map(|(i, (one, _))| (*one, price(4 + i))).collect();
        let ratios = format!("gearbox.final_drive=3.3@{},4.3@{}", price(7), price(8));
        let tried = [listed("motor", &motors), listed("controller", &controllers), ratios];
        let tried: Vec<&str> = tried.iter().map(String::as_str).collect();
        let ask = |tried: &[&str], grade: f64, budget: f64| {
            let goal = format!("start_grade_pct>={grade}");
            let wanted = wanted(&[&goal], &["running_kg", "start_grade_pct"], Some(budget));
            chosen(&loaded, tried, &suite, &wanted)
        };
        let found = ask(&tried, grade, budget);
        for (i, one) in found.front.iter().enumerate() {
            prop_assert!(one.price <= budget);
            let own = ranks(one, &found.prefer);
            for (j, other) in found.front.iter().enumerate() {
                prop_assert!(i == j || !as_good(&ranks(other, &found.prefer), &own), "beaten");
            }
        }
        let best = found.front.iter().position(|one| one.odds_pct >= 80.0);
        prop_assert_eq!(found.recommended, best);
        prop_assert!(covers(&ask(&tried, grade, budget + more), &found));
        let loose = ask(&tried, grade - looser, budget);
        prop_assert!(covers(&loose, &found));
        for one in &found.front {
            let same = loose.front.iter().find(|other| other.picked == one.picked);
            prop_assert!(same.is_none_or(|other| other.odds_pct >= one.odds_pct));
        }
        let mut fewer = motors.clone();
        fewer.remove(leave);
        let fewer = listed("motor", &fewer);
        let fewer = ask(&[&fewer, tried[1], tried[2]], grade, budget);
        prop_assert!(covers(&found, &fewer));
        let turned: Vec<(&str, f64)> = motors.iter().rev().copied().collect();
        let turned = listed("motor", &turned);
        let turned = ask(&[tried[2], &turned, tried[1]], grade, budget);
        let told = |report: &ChooseReport| -> Vec<(f64, Vec<f64>, f64)> {
            let one = |one: &Choice| (one.price, ranks(one, &report.prefer), one.odds_pct);
            report.front.iter().map(one).collect()
        };
        prop_assert_eq!(told(&turned), told(&found));
    }
}
