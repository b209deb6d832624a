//! Packs in boxes as files say them: places by the balance of moments, overrides, refusals, and the
//! same cells in one box.

use proptest::prelude::*;
use scenarios::runs::{self, Run, Suite};
use scenarios::studies::Spread;
use scenarios::studies::bands::bands;
use scenarios::studies::uncertain::Uncertain;
use scenarios::{Loaded, Override, Prepared, Road};
use serde_json::{Value, json};
use sim_core::Trace;

fn put(pairs: &[(&str, Value)]) -> Vec<Override> {
    pairs.iter().map(|(path, value)| format!("{path}={value}").parse().unwrap()).collect()
}

/// The demo with its pack in boxes.
fn boxes(boxes: Value) -> Vec<Override> {
    put(&in_boxes(&boxes))
}

fn in_boxes(boxes: &Value) -> [(&'static str, Value); 6] {
    [
        ("placement.pack_behind_front_axle_m", Value::Null),
        ("pack.series", Value::Null),
        ("pack.box_mass_kg", Value::Null),
        ("pack.box_conductance_w_per_k", Value::Null),
        ("pack.wall_area_m2", Value::Null),
        ("pack.boxes", boxes.clone()),
    ]
}

fn car(list: Value, more: &[(&str, Value)]) -> Result<Prepared, String> {
    let all = [boxes(list), put(more)].concat();
    Loaded::demo().unwrap().with(&all).map_err(|e| e.to_string())
}

/// A pack in two boxes of other health, warmth, place and strings, or none: values to put in.
pub(super) fn some_boxes() -> impl Strategy<Value = Vec<String>> {
    let own = (8..60_u32, 8..60_u32, 50.0..100.0_f64, -5.0..20.0_f64, 0.0..40.0_f64, 1..4_u32);
    prop::option::weighted(0.3, own).prop_map(|own| {
        let Some((front, rear, health_pct, air_k, growth_pct, strings)) = own else {
            return Vec::new();
        };
        let list = json!([
            {"name": "front", "series": front, "box_mass_kg": 10, "behind_front_axle_m": 0.0,
             "box_conductance_w_per_k": 2, "air_over_outside_k": air_k},
            {"name": "rear", "series": rear, "box_mass_kg": 20, "behind_front_axle_m": 1.8,
             "box_conductance_w_per_k": 3, "state_of_health_pct": health_pct,
             "resistance_growth_pct": growth_pct, "parallel": strings},
        ]);
        in_boxes(&list).into_iter().map(|(path, value)| format!("{path}={value}")).collect()
    })
}

fn two() -> Value {
    json!([
        {"name": "front", "series": 10, "box_mass_kg": 10, "behind_front_axle_m": 0.0,
         "box_conductance_w_per_k": 2},
        {"name": "rear", "series": 20, "box_mass_kg": 20, "behind_front_axle_m": 2.0,
         "box_conductance_w_per_k": 3, "state_of_health_pct": 70},
    ])
}

/// A box that states its own is spread by itself, and the weakest box with it: the usable energy of the
/// string goes with the charge of the weakest cells.
#[test]
fn each_box_that_states_its_own_is_spread_by_itself() {
    let loaded = |front: Option<f64>| {
        let mut list = two();
        if let Some(health) = front {
            list[0]["state_of_health_pct"] = json!(health);
        }
        Loaded::demo().unwrap().put(&boxes(list)).unwrap()
    };
    let health = |loaded: &Loaded| -> Vec<(String, String)> {
        let all = Uncertain::new(loaded, &[], true).unwrap().inputs;
        let all = all.into_iter().map(|input| (input.spread.path, input.spread.name));
        all.filter(|(path, _)| path.ends_with("state_of_health_pct")).collect()
    };
    let named = |path: &str, name: &str| (path.to_owned(), name.to_owned());
    let rear = named("pack.boxes.2.state_of_health_pct", "state of health of rear");
    let (one, both) = (loaded(None), loaded(Some(95.0)));
    let found = health(&one);
    assert!(found.contains(&rear) && found.len() == 2, "{found:?}");
    assert!(found.contains(&named("pack.state_of_health_pct", "state of health")), "{found:?}");
    let found = health(&both);
    assert!(found.contains(&rear) && found.len() == 2, "{found:?}");
    assert!(found.contains(&named("pack.boxes.1.state_of_health_pct", "state of health of front")));
    // At 70 % of health ±3 is a band of ±1.28·1.5/70.
    let suite = Suite::new(&[Run::Standing], "level", Trace::steady(10.0, 0.0, 60.0).unwrap());
    let uncertain = Uncertain::new(&one, &[], true).unwrap();
    let goal = ["usable_kwh>=1".parse().unwrap()];
    let found = bands(&uncertain, &suite, &goal, 100, 1, || true).unwrap();
    let usable = found.figures.iter().find(|band| band.figure == "usable_kwh").unwrap();
    let width = (usable.p90 - usable.p10) / usable.p50;
    assert!((width - 2.0 * 1.28 * 1.5 / 70.0).abs() < 0.015, "{usable:?}");
    let first = &found.measure_first[0];
    assert_eq!(first.path, rear.0);
    assert!(first.how.contains("single cells"), "{first:?}");
    let refused = |loaded: &Loaded, spread: &str| {
        let own = [Spread::parse(spread).unwrap()];
        Uncertain::new(loaded, &own, true).map(|_| ()).unwrap_err().to_string()
    };
    let said = refused(&both, "pack.state_of_health_pct=±5");
    assert!(said.contains("each box of the pack states its own"), "{said}");
    assert!(said.contains("pack.boxes.1.state_of_health_pct"), "{said}");
    let said = refused(&one, "pack.boxes.*.state_of_health_pct=±5");
    assert!(said.contains("pack.boxes.1.state_of_health_pct has no value"), "{said}");
    let own = [Spread::parse("pack.state_of_health_pct=±5").unwrap()];
    assert!(Uncertain::new(&one, &own, true).is_ok());
}

/// Statics: a box moved back by `d` takes `m·d/L` from the front axle to the rear one.
#[test]
fn a_box_that_moves_back_moves_its_weight_by_moments() {
    // The solver's steps hang on how many temperatures it follows.
    let near = car(two(), &[]).unwrap();
    let far = car(two(), &[("pack.boxes.2.behind_front_axle_m", json!(2.2))]).unwrap();
    let line = near.facts.masses.iter().find(|line| line.item == "pack, rear").unwrap();
    let (near, far) = (&near.car.parts().chassis, &far.car.parts().chassis);
    let moved_kg = line.mass_kg * 0.2 / near.wheelbase_m;
    assert!((far.rear_axle_kg() - near.rear_axle_kg() - moved_kg).abs() < 1e-9);
    assert!((far.front_axle_kg() - near.front_axle_kg() + moved_kg).abs() < 1e-9);
}

#[test]
fn boxes_are_as_the_pack_says_where_they_do_not_say_it() {
    let health = ("pack.state_of_health_pct", json!(90));
    let cell = ("pack.boxes.1.cell", json!("shelf:iron-phosphate-100ah"));
    let found = car(two(), &[health, ("pack.parallel", json!(2)), cell]).unwrap();
    let pack = &found.car.parts().pack;
    let of = |stated: usize| pack.boxes().find(|(own, _)| own.stated == stated).unwrap().0;
    assert_eq!((of(0).health, of(1).health), (0.9, 0.7));
    assert_eq!((of(0).parallel, of(1).parallel, pack.cells_in_series()), (2.0, 2.0, 30.0));
    assert_eq!(of(0).cell.capacity_as, 360_000.0);
    assert_eq!(found.facts.boxes, ["front", "rear"]);
    let more = car(two(), &[("pack.boxes.2.series", json!(22))]).unwrap();
    assert_eq!(more.car.parts().pack.cells_in_series(), 32.0);
    let said: Vec<String> = more.warnings().into_iter().map(|w| w.text).collect();
    assert!(said.iter().any(|text| text.contains("The cells of rear are empty first")), "{said:?}");
    assert!(said.iter().any(|text| text.contains("a fuse and a disconnect at each box")));
}

#[test]
fn what_no_pack_in_boxes_can_be_is_refused_in_a_sentence() {
    let one = |with: &[(&str, Value)]| {
        let mut own = two()[0].clone();
        with.iter().for_each(|(name, value)| own[*name] = value.clone());
        json!([own, two()[1]])
    };
    let many = |n: usize| {
        let all: Vec<Value> = (0..n)
            .map(|i| {
                let mut own = two()[0].clone();
                own["name"] = json!(format!("box of {i}"));
                own
            })
            .collect();
        json!(all)
    };
    let wrong = |list: Value, more: &[(&str, Value)]| car(list, more).err().unwrap();
    for (list, more, said) in [
        (many(1), vec![], "pack.boxes is a list of 1; allowed: 2 to 4 boxes"),
        (many(5), vec![], "pack.boxes is a list of 5; allowed: 2 to 4 boxes"),
        (json!([]), vec![], "pack.boxes is a list of 0; allowed: 2 to 4 boxes"),
        (json!(3), vec![], "pack.boxes is the number 3; allowed: a list"),
        (one(&[("series", json!(0))]), vec![], "pack.boxes.1.series is 0; allowed: 1 to 400"),
        (one(&[("series", json!(-3))]), vec![], "pack.boxes.1.series is the number -3"),
        (one(&[("series", Value::Null)]), vec![], "pack.boxes.1.series is null"),
        (one(&[("colour", json!(1))]), vec![], "colour"),
        (one(&[("name", json!("rear"))]), vec![], "pack.boxes.2.name is \"rear\"; allowed: a name"),
        (
            one(&[("behind_front_axle_m", json!(99))]),
            vec![],
            "pack.boxes.1.behind_front_axle_m is 99",
        ),
        (
            one(&[("behind_front_axle_m", json!("back"))]),
            vec![],
            "pack.boxes.1.behind_front_axle_m",
        ),
        (
            one(&[("air_over_outside_k", json!(500))]),
            vec![],
            "pack.boxes.1.air_over_outside_k is 500",
        ),
        (
            one(&[("state_of_health_pct", json!(-1))]),
            vec![],
            "pack.boxes.1.state_of_health_pct is -1",
        ),
        (one(&[("wall_area_m2", json!(1))]), vec![], "pack.boxes.1"),
        (one(&[("cell", json!("shelf:nothing"))]), vec![], "nothing"),
        // Another chemistry in the same string: no charger brings both to full.
        (
            two(),
            vec![("pack.boxes.2.cell", json!("shelf:blend-50ah"))],
            "pack.boxes is a list with cells of 2.8 to 4.2 V in rear; allowed: cells of one kind",
        ),
        (two(), vec![("pack.series", json!(30))], "pack.series"),
        (two(), vec![("pack.box_mass_kg", json!(30))], "pack.box_mass_kg"),
        (two(), vec![("pack.wall_area_m2", json!(3))], "pack.wall_area_m2"),
        (two(), vec![("placement.pack_behind_front_axle_m", json!(1))], "pack_behind_front_axle_m"),
    ] {
        let sentence = wrong(list.clone(), &more);
        assert!(sentence.contains(said) && !sentence.contains('\n'), "{list} {more:?}: {sentence}");
    }
    let mut placeless = two();
    placeless[0].as_object_mut().unwrap().remove("behind_front_axle_m");
    assert!(wrong(placeless, &[]).contains("behind_front_axle_m is missing"));
}

#[test]
fn what_ends_a_range_or_is_too_cold_names_its_box() {
    let low = Road::Named("wltc-low".to_owned());
    let told = |car: &Prepared| {
        let road = car.read(&low, &cycles::LoadOptions::default()).unwrap();
        let trace = runs::trace(&road.schedule).unwrap();
        let driven = runs::drive::drive(&car.setup(), &trace, &mut ());
        let report = runs::drive::report(&car.setup(), "wltc-low", &trace, &driven);
        (report, runs::drive::range_of(&car.setup(), &trace))
    };
    let (_, range) = told(&car(two(), &[]).unwrap());
    assert_eq!(range.words, "the weakest cell of rear was empty");
    let warm = ("pack.boxes.1.air_over_outside_k", json!(30));
    let cold = [warm, ("conditions.air_c", json!(-18)), ("driver", Value::Null)];
    let (drive, _) = told(&car(two(), &cold).unwrap());
    let said: Vec<&str> = drive.limits.iter().map(|met| met.words.as_str()).collect();
    assert!(said.iter().any(|text| text.contains("the cells of rear were too cold")), "{said:?}");
    assert_eq!(drive.boxes, ["front", "rear"]);
}

/// What no cell of any box may leave holds for the whole string.
#[test]
fn settings_and_readings_ask_the_strictest_of_unlike_cells() {
    let own = [
        ("pack.cell", json!("shelf:iron-phosphate-100ah")),
        ("pack.boxes.2.cell", json!("shelf:iron-phosphate-100ah")),
        ("pack.boxes.2.cell.min_v", json!(2.7)),
        ("pack.boxes.2.cell.max_v", json!(3.6)),
    ];
    let car = car(two(), &own).unwrap();
    let pack = &car.car.parts().pack;
    let of = |stated: usize| &pack.boxes().find(|(own, _)| own.stated == stated).unwrap().0.cell;
    let (front, rear) = (of(0), of(1));
    assert!(front.max_v > rear.max_v && front.min_v < rear.min_v);
    assert_eq!((pack.strictest_min_v(), pack.strictest_max_v()), (rear.min_v, rear.max_v));
    let found = runs::settings::report(&car, &Default::default()).unwrap();
    let value = |key: &str| found.settings.iter().find(|one| one.key == key).unwrap().value;
    assert_eq!(value("cell_low_v"), Some(rear.min_v));
    assert_eq!(value("cell_high_v"), Some(rear.max_v));
    assert!(found.cells_in_series.of_boxes.unwrap().contains("10 in front, 20 in rear"));
}

/// Figures of many runs of a car.
fn figures(car: &Prepared) -> Vec<(String, f64)> {
    let low = Road::Named("wltc-low".to_owned());
    let road = car.read(&low, &cycles::LoadOptions::default()).unwrap();
    let trace = runs::trace(&road.schedule).unwrap();
    let all = [Run::Standing, Run::Pull, Run::Climb, Run::Pass, Run::Drive, Run::Range];
    let found = Suite::new(&all, "wltc-low", trace).figures(car).unwrap();
    found.into_iter().map(|one| (one.name.to_owned(), one.value)).collect()
}

/// The demo's cells in two equal boxes in one place, each with half of the wall: no figure differs by
/// more than the solver's tolerance.
#[test]
fn a_car_with_its_pack_in_equal_boxes_is_the_car_with_it_in_one() {
    let wall = ("pack.box_conductance_w_per_k", json!(4));
    let no_area = ("pack.wall_area_m2", Value::Null);
    let places = [
        no_area,
        wall,
        ("pack.series", json!(32)),
        ("placement.pack_behind_front_axle_m", json!(1.5)),
    ];
    let mass = ("pack.box_mass_kg", json!(20));
    let whole = Loaded::demo().unwrap().with(&put(&[&places[..], &[mass]].concat())).unwrap();
    let half = |name: &str| {
        json!({"name": name, "series": 16, "box_mass_kg": 10, "behind_front_axle_m": 1.5,
               "box_conductance_w_per_k": 2})
    };
    let boxed = car(json!([half("one"), half("two")]), &[]).unwrap();
    let (one, two) = (figures(&whole), figures(&boxed));
    assert!(one.len() > 20 && one.len() == two.len());
    for ((name, a), (_, b)) in one.iter().zip(&two) {
        // Residuals of ledgers are rounding, and the solver's steps hang on how many temperatures there are.
        let near = name.contains("residual")
            || (a - b).abs() <= 1e-4 * a.abs()
            || !a.is_finite() && !b.is_finite();
        assert!(near, "{name}: {a} in one box, {b} in two");
    }
}
