//! What was learnt from a car, taken into it.

use proptest::prelude::*;
use scenarios::learnt::{self, Learnt, LearntFrom, LearntInput};
use scenarios::runs::{Run, Suite, trace};
use scenarios::studies::Spread;
use scenarios::studies::bands::bands;
use scenarios::studies::hypercube;
use scenarios::studies::uncertain::Uncertain;
use scenarios::{FileKind, Loaded, Override, Prepared, Road, SaidBy, known_part, shelf};
use serde_json::{Value, json};
use std::path::PathBuf;
use std::sync::atomic::{AtomicUsize, Ordering};

fn folder() -> PathBuf {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("taken_in");
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

fn of_drives(inputs: Vec<LearntInput>) -> Learnt {
    Learnt {
        schema: None,
        from: LearntFrom::Drives,
        date: "2026-11-27".to_owned(),
        note: None,
        sources: Vec::new(),
        conditions: None,
        inputs,
        correlations: None,
        scatter: None,
    }
}

/// A file of its own for each call.
fn saved(learnt: &Learnt) -> PathBuf {
    static COUNT: AtomicUsize = AtomicUsize::new(0);
    let n = COUNT.fetch_add(1, Ordering::SeqCst);
    let path = folder().join(format!("{n}.json"));
    learnt.save(&path, &[]).unwrap();
    path
}

fn taken(car: &Loaded, inputs: Vec<LearntInput>) -> Loaded {
    car.measured(&[saved(&of_drives(inputs))]).unwrap()
}

fn set(text: &str) -> Override {
    text.parse().unwrap()
}

/// The values of inputs as a caller puts them in.
fn values(inputs: &[LearntInput]) -> Vec<Override> {
    let fields = inputs.iter().flat_map(|input| &input.fields);
    let value = |path: &str, value: Value| Override::new(path, value).unwrap();
    fields
        .flat_map(|field| {
            let letter = field.path == "build.tyre.label_n_per_kn";
            let letter = letter.then(|| value("tyre.label_class", Value::Null));
            [Some(value(&field.path, field.value.into())), letter]
        })
        .flatten()
        .collect()
}

/// The demo with other parts of the shelf, where they go together.
fn any_car() -> impl Strategy<Value = Loaded> {
    let parts: Vec<Option<Override>> = shelf::shelf()
        .iter()
        .map(|part| {
            let at = if part.kind.name() == "cell" { "pack.cell" } else { part.kind.name() };
            Some(set(&format!("{at}=shelf:{}", part.name)))
        })
        .chain([
            None,
            Some(set("tyre.label_class=\"C\"")),
            Some(set("conditions=null")),
            Some(set("load=null")),
        ])
        .collect();
    prop::collection::vec(prop::sample::select(parts), 0..3).prop_filter_map("no car", |parts| {
        let parts: Vec<Override> = parts.into_iter().flatten().collect();
        let car = Loaded::demo().unwrap().put(&parts).unwrap();
        car.prepare().is_ok().then_some(car)
    })
}

/// Some of what is uncertain in a car, learnt: each input moved by so many of its deviations.
fn some_of(car: &Loaded, moved: &[(prop::sample::Index, f64)]) -> Vec<LearntInput> {
    let uncertain = Uncertain::new(car, &[], true).unwrap();
    let mut known: Vec<String> = Vec::new();
    let mut found = Vec::new();
    for (at, by) in moved {
        let input = at.get(&uncertain.inputs);
        let mut one = input.learnt(by * input.sd(), 0.3 * input.sd());
        for field in &mut one.fields {
            // Numbers of few digits are the same when they were written and read.
            field.value = format!("{:.8e}", field.value).parse().unwrap();
        }
        let alone = car.with(&values(std::slice::from_ref(&one)));
        if !known.contains(&input.spread.path) && alone.is_ok() {
            known.push(input.spread.path.clone());
            found.push(one);
        }
    }
    found
}

fn same(one: &Prepared, other: &Prepared) {
    assert_eq!(one.car, other.car);
    assert_eq!(one.start, other.start);
    assert_eq!(one.facts, other.facts);
    assert_eq!(one.charger, other.charger);
}

fn drawn_alike(one: &Loaded, other: &Loaded) {
    let [one, other] = [one, other].map(|car| Uncertain::new(car, &[], true).unwrap());
    let spreads = |of: &Uncertain| -> Vec<_> {
        of.inputs.iter().map(|input| (input.spread.path.clone(), input.sd())).collect()
    };
    assert_eq!(spreads(&one), spreads(&other));
}

fn moves() -> impl Strategy<Value = Vec<(prop::sample::Index, f64)>> {
    prop::collection::vec((any::<prop::sample::Index>(), -1.5..1.5_f64), 1..5)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..Default::default() })]

    #[test]
    fn what_was_learnt_is_as_good_as_the_same_values_put_in(
        car in any_car(), moved in moves(), more in moves(),
    ) {
        let inputs = some_of(&car, &moved);
        prop_assume!(!inputs.is_empty());
        let measured = taken(&car, inputs.clone());
        let by_hand = values(&inputs);
        if let Ok(expected) = car.with(&by_hand) {
            let found = measured.prepare().unwrap();
            same(&found, &expected);
            let fields: usize = inputs.iter().map(|input| input.fields.len()).sum();
            prop_assert_eq!(found.measured()[0].fields().count(), fields);
            for field in found.measured()[0].fields() {
                prop_assert_eq!(found.field(&field.path).unwrap().said_by, SaidBy::Measured);
            }
        }
        // What the caller puts in comes after it, by the quick way and by the whole.
        let after = values(&some_of(&car, &more));
        let all = [by_hand, after.clone()].concat();
        if let (Ok(expected), Ok(found)) = (car.with(&all), measured.with(&after)) {
            same(&found, &expected);
            same(&measured.put(&after).unwrap().prepare().unwrap(), &expected);
        }
    }

    #[test]
    fn of_a_part_that_is_replaced_nothing_was_measured(car in any_car(), moved in moves()) {
        let inputs = some_of(&car, &moved);
        prop_assume!(!inputs.is_empty());
        let measured = taken(&car, inputs.clone());
        for part in shelf::shelf().iter().filter(|part| part.kind.name() != "cell") {
            let whole = format!("build.{}.", part.kind.name());
            let others: Vec<LearntInput> = inputs
                .iter()
                .filter(|input| input.fields.iter().all(|field| !field.path.starts_with(&whole)))
                .cloned()
                .collect();
            let swap = [set(&format!("{}=shelf:{}", part.kind.name(), part.name))];
            let rest =
                if others.is_empty() { car.clone() } else { taken(&car, others) };
            let (found, expected) = (measured.put(&swap).unwrap(), rest.put(&swap).unwrap());
            match (found.prepare(), expected.prepare()) {
                (Ok(one), Ok(other)) => {
                    same(&one, &other);
                    drawn_alike(&found, &expected);
                }
                (one, other) => prop_assert_eq!(one.is_err(), other.is_err()),
            }
        }
    }

    #[test]
    fn files_about_different_things_may_come_in_any_order(car in any_car(), moved in moves()) {
        let inputs = some_of(&car, &moved);
        prop_assume!(inputs.len() > 1);
        let (one, other) = inputs.split_at(1);
        let there = taken(&taken(&car, one.to_vec()), other.to_vec());
        let back = taken(&taken(&car, other.to_vec()), one.to_vec());
        if let (Ok(there), Ok(back)) = (there.prepare(), back.prepare()) {
            same(&there, &back);
        }
    }
}

fn input(name: &str, path: &str, was: f64, shift: f64, sd: f64) -> LearntInput {
    let field = json!({ "path": path, "was": was, "value": was + was * (0.01 * shift) });
    serde_json::from_value(json!({
        "name": name, "measure": "percent", "shift": shift, "sd": sd, "fields": [field]
    }))
    .unwrap()
}

fn number(car: &Loaded, path: &str) -> f64 {
    car.prepare().unwrap().field(path).unwrap().value
}

#[test]
fn the_later_of_two_files_counts_and_that_is_said() {
    let demo = Loaded::demo().unwrap();
    let (path, was) = ("build.donor.kerb_mass_kg", number(&demo, "donor.kerb_mass_kg"));
    let first = saved(&of_drives(vec![input("kerb mass", path, was, 2.0, 0.5)]));
    // It may have been learnt from the car as it stands in its file, or with the first taken in.
    for (from, shift) in [(was, 3.0), (1.02 * was, 1.0)] {
        let second = saved(&of_drives(vec![input("kerb mass", path, from, shift, 0.2)]));
        let both = demo.measured(&[first.clone(), second.clone()]).unwrap();
        let car = both.prepare().unwrap();
        assert!((car.field(path).unwrap().value - from * (1.0 + 0.01 * shift)).abs() < 1e-9);
        let said: Vec<String> = car.warnings().into_iter().map(|w| w.text).collect();
        let note = said.iter().find(|text| text.contains("stands in place of what")).unwrap();
        assert!(note.contains(second.file_name().unwrap().to_str().unwrap()), "{note}");
        // Nothing of the first is left.
        assert_eq!(car.measured().len(), 1);
        assert_eq!(car.measured()[0].inputs[0].sd, 0.2);
    }
}

#[test]
fn what_was_learnt_of_something_else_is_left_out_and_that_is_said() {
    let demo = Loaded::demo().unwrap();
    let was = number(&demo, "donor.kerb_mass_kg");
    let inputs = vec![
        input("kerb mass", "build.donor.kerb_mass_kg", was + 1.0, 2.0, 0.5),
        input("harness", "build.pack.harness_mohm", number(&demo, "pack.harness_mohm"), 5.0, 1.0),
    ];
    let car = taken(&demo, inputs);
    assert_eq!(number(&car, "donor.kerb_mass_kg"), was);
    let car = car.prepare().unwrap();
    let left = format!(
        "kerb mass is left out: donor.kerb_mass_kg was {}, and {was} stands there",
        was + 1.0
    );
    assert!(car.warnings().iter().any(|w| w.text.contains(&left)), "{:?}", car.warnings());
    let names: Vec<String> = car.measured()[0].inputs.iter().map(|i| i.name.clone()).collect();
    assert_eq!(names, ["harness"]);
    assert!(car.taken_in.idle().next().is_none());
    let other = taken(&demo, vec![input("mass", "build.donor.kerb_mass_kg", 5.0, 2.0, 0.5)]);
    assert_eq!(other.taken_in().idle().count(), 1);
}

#[test]
fn a_build_names_its_files_and_they_may_be_taken_away() {
    let demo = Loaded::demo().unwrap().prepare().unwrap();
    let mut build = demo.echo["build"].clone();
    let kerb = build["donor"]["kerb_mass_kg"].as_f64().unwrap();
    std::fs::create_dir_all(folder().join("car/measured")).unwrap();
    let one = of_drives(vec![input("kerb mass", "build.donor.kerb_mass_kg", kerb, 2.0, 0.5)]);
    one.save(&folder().join("car/measured/one.json"), &[]).unwrap();
    build["measured"] = json!(["measured/one.json"]);
    let file = folder().join("car/car.json");
    std::fs::write(&file, build.to_string()).unwrap();
    let car = Loaded::open(&file).unwrap();
    assert!((number(&car, "donor.kerb_mass_kg") - 1.02 * kerb).abs() < 1e-9);
    let files = car.prepare().unwrap().files();
    assert!(files.iter().any(|file| file.ends_with("car/measured/one.json")), "{files:?}");
    assert_eq!(number(&car.put(&[set("measured=null")]).unwrap(), "donor.kerb_mass_kg"), kerb);
    assert_eq!(
        car.with(&[set("measured=[]")]).unwrap().field("donor.kerb_mass_kg").unwrap().value,
        kerb
    );
    // Named twice it counts once.
    let twice = car.measured(&[folder().join("car/measured/one.json")]).unwrap();
    assert!(twice.prepare().unwrap().warnings().iter().all(|w| !w.text.contains("one.json")));
    let whole = format!("build={}", file.display());
    let other = Loaded::demo().unwrap().put(&[set(&whole)]).unwrap();
    assert!((number(&other, "donor.kerb_mass_kg") - 1.02 * kerb).abs() < 1e-9);
    for (measured, expected) in [
        (json!(["gone.json"]), "gone.json\": there is no such file"),
        (json!(["car.json"]), "car.json: unknown field \"name\" in what was learnt"),
        (json!("measured/one.json"), "measured is the text \"measured/one.json\"; allowed: a list"),
        (json!([5]), "measured.1 is the number 5; allowed: a text in quotes"),
    ] {
        build["measured"] = measured.clone();
        std::fs::write(&file, build.to_string()).unwrap();
        let refused = Loaded::open(&file).and_then(|car| car.prepare()).unwrap_err().to_string();
        assert!(refused.contains(expected), "{refused}");
        assert!(!refused.contains('\n'), "{refused}");
    }
}

/// What a build holds until somebody knows better is known better when it was measured.
#[test]
fn what_was_taken_for_granted_is_measured_when_it_was() {
    let path = "donor.kerb_mass_kg";
    let listed = [set(&format!("assumed=[\"{path}\"]"))];
    let demo = Loaded::demo().unwrap().put(&listed).unwrap();
    let was = number(&demo, path);
    let car = taken(&demo, vec![input("kerb mass", "build.donor.kerb_mass_kg", was, 2.0, 0.5)]);
    for (car, is_assumed) in [(demo, true), (car, false)] {
        let car = car.prepare().unwrap();
        let all = car.all_assumptions().unwrap();
        assert_eq!(all.iter().any(|one| one.path == "build.donor.kerb_mass_kg"), is_assumed);
        let known = car.field(path).unwrap().known;
        assert_eq!(known == scenarios::basis::Known::Measured, !is_assumed);
    }
}

/// A measured drag coefficient is a drag with the frontal area of its day, and a measured force of a
/// coast-down is one with the mass of its test: with another they are left out.
#[test]
fn what_was_measured_as_a_product_is_left_out_where_its_other_factor_differs() {
    let demo = Loaded::demo().unwrap();
    let by_parts = [
        set("donor.coast_down=null"),
        set("donor.drag_area_m2=null"),
        set("donor.drag_coefficient=0.42"),
        set("donor.frontal_area_m2=1.8"),
        set("tyre.rolling_resistance=0.011"),
        set("tyre.label_class=null"),
        set("tyre.label_n_per_kn=null"),
    ];
    let by_rolling = [
        set(
            "donor.coast_down={\"f0_n\":120,\"f1_n_per_kmh\":0.1,\"f2_n_per_kmh2\":0.03,\"mass_kg\":900}",
        ),
        set("donor.drag_area_m2=null"),
        set("donor.bearings_n=null"),
        set("donor.drag_coefficient=null"),
        set("donor.frontal_area_m2=null"),
        set("tyre.rolling_resistance=null"),
        set("tyre.rolling_resistance_per_kmh=null"),
        set("tyre.label_class=null"),
        set("tyre.label_n_per_kn=null"),
    ];
    for (car, own, other) in [
        (&by_parts[..], "donor.drag_coefficient", set("donor.frontal_area_m2=2")),
        (&by_rolling, "donor.coast_down.f2_n_per_kmh2", set("donor.coast_down.mass_kg=1000")),
    ] {
        let car = demo.put(car).unwrap();
        let uncertain = Uncertain::new(&car, &[], true).unwrap();
        let input = uncertain.inputs.iter().find(|one| one.spread.path == own).unwrap();
        let learnt = vec![input.learnt(0.5 * input.sd(), 0.2 * input.sd())];
        let (was, value) = (number(&car, own), learnt[0].fields[0].value);
        assert!(!learnt[0].beside.is_empty(), "{own}");
        assert!((number(&taken(&car, learnt.clone()), own) / value - 1.0).abs() < 1e-12);
        // In the file.
        let corrected = taken(&car.put(std::slice::from_ref(&other)).unwrap(), learnt.clone());
        assert_eq!(number(&corrected, own), was);
        let said = corrected.prepare().unwrap().warnings();
        assert!(said.iter().any(|w| w.text.contains("is left out: donor.")), "{said:?}");
        // By the caller, who asks for another car than the one that was measured.
        let asked = taken(&car, learnt).put(&[other]).unwrap();
        assert!(asked.prepare().unwrap().measured().is_empty());
        drawn_alike(&asked, &asked.put(&[set(&format!("{own}={value}"))]).unwrap());
    }
}

#[test]
fn without_what_was_measured_it_is_the_car_of_its_sheets() {
    let demo = Loaded::demo().unwrap();
    let (path, was) = ("donor.kerb_mass_kg", number(&demo, "donor.kerb_mass_kg"));
    let car = taken(&demo, vec![input("kerb mass", "build.donor.kerb_mass_kg", was, 2.0, 0.5)]);
    assert!(number(&car, path) != was);
    for none in ["measured=null", "measured=[]", "build.measured=null"] {
        let all = [set(none), set("pack.harness_mohm=3")];
        assert_eq!(number(&car.put(&all).unwrap(), path), was);
        let found = car.with(&all).unwrap();
        assert_eq!(found.field(path).unwrap().value, was);
        assert!(found.measured().is_empty() && found.taken_in.files().next().is_none());
    }
}

/// A caller who says in another way what was measured is told where the first way stands.
#[test]
fn two_ways_to_say_a_thing_are_told_with_the_file_of_the_measured_one() {
    let demo = Loaded::demo().unwrap();
    let plain = [
        set("tyre.label_class=null"),
        set("tyre.label_n_per_kn=null"),
        set("tyre.rolling_resistance=0.011"),
    ];
    let car = demo.put(&plain).unwrap();
    let path = "build.tyre.rolling_resistance";
    let car = taken(&car, vec![input("rolling resistance", path, 0.011, 2.0, 0.5)]);
    let file = car.taken_in().files().next().unwrap().to_owned();
    let name = std::path::Path::new(&file).file_name().unwrap().to_str().unwrap().to_owned();
    let refused = car.with(&[set("tyre.label_class=\"B\"")]).unwrap_err().to_string();
    assert!(
        refused.contains("tyre.label_class is given beside rolling_resistance, which "),
        "{refused}"
    );
    assert!(refused.contains(&name) && refused.ends_with("only one of the two"), "{refused}");
}

#[test]
fn a_deviation_that_no_measurement_leaves_is_doubted() {
    let demo = Loaded::demo().unwrap();
    let was = number(&demo, "donor.kerb_mass_kg");
    for (sd, expected) in [(0.0, Some("known exactly")), (1.0, None), (50.0, Some("known worse"))] {
        let mut one = input("kerb mass", "build.donor.kerb_mass_kg", was, 2.0, sd);
        one.typical_sd = Some(1.0);
        let said = taken(&demo, vec![one]).prepare().unwrap().warnings();
        let found = said.iter().find(|w| w.text.contains("kerb mass is said to be "));
        assert_eq!(found.is_some(), expected.is_some(), "{said:?}");
        assert!(found.is_none_or(|w| expected.is_some_and(|words| w.text.contains(words))));
    }
}

/// What is drawn back takes along what hangs together with it: two that are one number by their
/// correlation stay on their line, wherever the first of them is cut off.
#[test]
fn what_is_drawn_back_takes_along_what_hangs_together_with_it() {
    let car = Loaded::demo().unwrap();
    let of_tyre = [
        set("donor.coast_down=null"),
        set("tyre.label_class=null"),
        set("tyre.label_n_per_kn=null"),
        set("tyre.rolling_resistance=0.011"),
        set("tyre.rolling_resistance_per_kmh=0.000005"),
    ];
    let car = car.put(&of_tyre).unwrap();
    let one = |name: &str, path: &str, value: f64, sd: f64| -> LearntInput {
        serde_json::from_value(json!({
            "name": name, "measure": "value", "shift": value, "sd": sd,
            "fields": [{ "path": path, "was": value, "value": value }]
        }))
        .unwrap()
    };
    let (rolling, growth) = ("tyre.rolling_resistance", "tyre.rolling_resistance_per_kmh");
    let learnt = Learnt {
        correlations: Some(vec![vec![1.0, -1.0], vec![-1.0, 1.0]]),
        ..of_drives(vec![
            one("growth", "build.tyre.rolling_resistance_per_kmh", 5e-6, 1e-5),
            one("rolling", "build.tyre.rolling_resistance", 0.011, 3e-4),
        ])
    };
    let car = car.measured(&[saved(&learnt)]).unwrap();
    let uncertain = Uncertain::new(&car, &[], true).unwrap();
    let n = uncertain.inputs.len();
    let mut clipped = 0;
    for k in 1..40 {
        let shares: Vec<f64> =
            (0..n).map(|i| if i + 2 == n { k as f64 / 40.0 } else { 0.5 }).collect();
        let drawn = uncertain.draw(&shares);
        let cut = drawn.clipped.iter().filter(|c| **c).count();
        assert!(cut < 2);
        clipped += cut;
        let car = drawn.prepared.unwrap();
        let [growth, rolling] = [growth, rolling].map(|path| car.field(path).unwrap().value);
        let expected = 0.011 - (growth - 5e-6) * 30.0;
        assert!(growth >= 0.0 && (rolling - expected).abs() < 1e-8, "{growth} {rolling}");
    }
    // Φ(−1/2) of the draws lie below zero (tables of the normal distribution, from memory: 0.3085).
    assert_eq!(clipped, 12);
}

/// What is measured out of what is allowed is refused by the name of its file.
#[test]
fn a_value_that_no_car_has_is_refused_with_its_file() {
    let demo = Loaded::demo().unwrap();
    let was = number(&demo, "donor.kerb_mass_kg");
    let car = taken(&demo, vec![input("kerb mass", "build.donor.kerb_mass_kg", was, -150.0, 0.5)]);
    let refused = car.prepare().unwrap_err().to_string();
    assert!(refused.contains(".json: build.donor.kerb_mass_kg is -"), "{refused}");
}

#[test]
fn what_is_drawn_has_the_mean_the_deviations_and_the_correlations_of_the_file() {
    let demo = Loaded::demo().unwrap();
    let names =
        ["donor.kerb_mass_kg", "pack.harness_mohm", "motor.loss_coefficients.copper_w_per_a2"];
    let deviations = [0.8, 6.0, 2.5];
    let inputs = (names.iter().zip(deviations))
        .map(|(name, sd)| input(name, &format!("build.{name}"), number(&demo, name), 3.0, sd))
        .collect();
    let together = [[1.0, 0.6, -0.3], [0.6, 1.0, 0.2], [-0.3, 0.2, 1.0]];
    let rows = together.iter().map(|row| row.to_vec()).collect();
    let file = saved(&Learnt { correlations: Some(rows), ..of_drives(inputs) });
    let car = demo.measured(&[file]).unwrap();
    let uncertain = Uncertain::new(&car, &[], true).unwrap();
    let at = names.map(|name| uncertain.inputs.iter().position(|i| i.spread.path == name).unwrap());
    // Each field is drawn once.
    for name in names {
        assert_eq!(
            uncertain.inputs.iter().filter(|i| i.paths().any(|path| path == name)).count(),
            1
        );
    }
    assert!(uncertain.inputs[at[0]].spread.reason.starts_with("measured, 2026-11-27, "));
    const N: usize = 2000;
    let shares = hypercube::samples(N, uncertain.inputs.len(), 3);
    let mut values = vec![Vec::new(); 3];
    for i in 0..N {
        let one: Vec<f64> = shares.iter().map(|input| input[i]).collect();
        let drawn = uncertain.draw(&one).prepared.unwrap();
        for (list, name) in values.iter_mut().zip(names) {
            list.push(drawn.field(name).unwrap().value);
        }
    }
    let mean = |list: &[f64]| list.iter().sum::<f64>() / N as f64;
    let means: Vec<f64> = values.iter().map(|list| mean(list)).collect();
    let product = |i: usize, j: usize| {
        let pairs = values[i].iter().zip(&values[j]);
        pairs.map(|(a, b)| (a - means[i]) * (b - means[j])).sum::<f64>() / N as f64
    };
    for i in 0..3 {
        let was = number(&demo, names[i]);
        let sd = 0.01 * deviations[i] * was;
        // Of n numbers the deviation is known to within 1/√(2n), a correlation to (1 − r²)/√n.
        assert!((means[i] - 1.03 * was).abs() < 0.06 * sd, "{}: {}", names[i], means[i]);
        assert!((product(i, i).sqrt() / sd - 1.0).abs() < 3.0 / (2.0 * N as f64).sqrt());
        for (j, expected) in together[i].iter().enumerate().take(i) {
            let found = product(i, j) / (product(i, i) * product(j, j)).sqrt();
            assert!((found - expected).abs() < 3.5 / (N as f64).sqrt(), "{found} {expected}");
        }
    }
}

/// The mass with load is a sum, so that of normals its bands have a closed form: the quantiles of a
/// normal whose variance is the sum of all covariances.
#[test]
fn bands_of_a_sum_have_their_closed_form() {
    let demo = Loaded::demo().unwrap();
    let (kerb, first) = (number(&demo, "donor.kerb_mass_kg"), number(&demo, "load.1.mass_kg"));
    for correlation in [-0.9, 0.0, 0.9, 1.0] {
        let file = saved(&Learnt {
            correlations: Some(vec![vec![1.0, correlation], vec![correlation, 1.0]]),
            ..of_drives(vec![
                input("kerb mass", "build.donor.kerb_mass_kg", kerb, 0.0, 1.0),
                input("load", "build.load.1.mass_kg", first, 0.0, 10.0),
            ])
        });
        let car = demo.measured(&[file]).unwrap();
        let none = ["added.*.mass_kg", "removed.*.mass_kg", "load.2.mass_kg", "load.3.mass_kg"];
        let none = none.map(|path| Spread::parse(&format!("{path}=none")).unwrap());
        let uncertain = Uncertain::new(&car, &none, true).unwrap();
        let road = demo
            .prepare()
            .unwrap()
            .read(&Road::Named("wltc".into()), &cycles::LoadOptions::default())
            .unwrap();
        let suite = Suite::new(&[Run::Standing], "", trace(&road.schedule).unwrap());
        let report = bands(&uncertain, &suite, &[], 4000, 1, || true).unwrap();
        let band = report.figures.iter().find(|band| band.figure == "running_kg").unwrap();
        let (a, b) = (0.01 * kerb, 0.1 * first);
        let sd = (a * a + b * b + 2.0 * correlation * a * b).sqrt();
        // The normal quantile of 0.9 (Abramowitz and Stegun, table 26.5, from memory).
        for (found, z) in [(band.p10, -1.281_552), (band.p50, 0.0), (band.p90, 1.281_552)] {
            let expected = band.nominal + z * sd;
            assert!((found - expected).abs() < 0.08 * sd, "{correlation}: {found} {expected}");
        }
    }
}

/// What differs from drive to drive is in the bands of consumption and range, and in nothing else:
/// with nothing else uncertain, the bands of both are the quantiles of Student's distribution.
#[test]
fn bands_of_drives_hold_what_differs_from_drive_to_drive() {
    let demo = Loaded::demo().unwrap();
    let kerb = number(&demo, "donor.kerb_mass_kg");
    let file = saved(&Learnt {
        scatter: Some(learnt::Scatter { energy_mean_pct: 2.0, energy_sd_pct: 5.0 }),
        ..of_drives(vec![input("kerb mass", "build.donor.kerb_mass_kg", kerb, 0.0, 0.0)])
    });
    let car = demo.measured(&[file]).unwrap();
    let none: Vec<Spread> = Uncertain::new(&demo, &[], true)
        .unwrap()
        .inputs
        .iter()
        .filter(|one| one.spread.path != "donor.kerb_mass_kg")
        .map(|one| Spread::parse(&format!("{}=none", one.spread.path)).unwrap())
        .collect();
    let uncertain = Uncertain::new(&car, &none, true).unwrap();
    assert_eq!(uncertain.inputs.len(), 2);
    let read = cycles::LoadOptions::default();
    let road = demo.prepare().unwrap().read(&Road::Named("wltc-low".into()), &read).unwrap();
    let road = trace(&road.schedule).unwrap();
    let suite = Suite::new(&[Run::Drive, Run::Range, Run::Standing], "", road);
    let report = bands(&uncertain, &suite, &[], 200, 1, || true).unwrap();
    let band = |name: &str| report.figures.iter().find(|band| band.figure == name).unwrap();
    // Student's t of 0.9 with four degrees of freedom is 1.5332 (tables, from memory).
    let (less, more) = (1.02 - 0.05 * 1.5332, 1.02 + 0.05 * 1.5332);
    let (used, range) = (band("wh_per_km"), band("range_km"));
    for (found, expected) in [
        (used.p10, used.nominal * less),
        (used.p50, used.nominal * 1.02),
        (used.p90, used.nominal * more),
        (range.p10, range.nominal / more),
        (range.p90, range.nominal / less),
    ] {
        assert!((found / expected - 1.0).abs() < 3e-3, "{found} {expected}");
    }
    assert_eq!(used.causes[0].name, "from drive to drive");
    assert!(!band("running_kg").moves());
}

/// Inputs as they are drawn: where, how far, and how they hang together.
fn drawn(car: &Loaded, share: impl Fn(usize) -> f64) -> Prepared {
    let uncertain = Uncertain::new(car, &[], true).unwrap();
    let shares: Vec<f64> = (0..uncertain.inputs.len()).map(share).collect();
    *uncertain.draw(&shares).prepared.unwrap()
}

#[test]
fn a_part_that_was_measured_takes_its_values_and_spreads_into_another_car() {
    let demo = Loaded::demo().unwrap();
    let copper = "motor.loss_coefficients.copper_w_per_a2";
    let eddy = "motor.loss_coefficients.eddy_w_per_krpm2";
    let of_motor = [(copper, 8.0, 3.0), (eddy, -5.0, 6.0)];
    let inputs = (of_motor.iter().chain(&[("pack.harness_mohm", 2.0, 1.0)]))
        .map(|(path, shift, sd)| {
            let name = path.rsplit('.').next().unwrap();
            input(name, &format!("build.{path}"), number(&demo, path), *shift, *sd)
        })
        .collect();
    let rows = vec![vec![1.0, -0.7, 0.1], vec![-0.7, 1.0, 0.0], vec![0.1, 0.0, 1.0]];
    let source = learnt::Recorded { file: "a.csv".to_owned(), sha256: "0".repeat(64) };
    let file =
        saved(&Learnt { correlations: Some(rows), sources: vec![source; 12], ..of_drives(inputs) });
    let car = demo.measured(&[file]).unwrap();
    let part = known_part(&car.prepare().unwrap(), FileKind::Motor).unwrap();
    let note = part["note"].as_str().unwrap();
    let expected = "From 12 recordings (drives), 2026-11-27: copper_w_per_a2 8 % above its sheet, \
                    eddy_w_per_krpm2 5 % below its sheet";
    assert!(note.starts_with(expected), "{note}");
    assert_eq!(part["spreads"]["inputs"].as_array().unwrap().len(), 2);
    assert_eq!(part["spreads"]["correlations"][0][1], -0.7);
    let schema = jsonschema::validator_for(&scenarios::schema(FileKind::Motor)).unwrap();
    assert!(schema.is_valid(&part), "{part:#}");
    let path = folder().join("known-motor.json");
    std::fs::write(&path, part.to_string()).unwrap();

    // Another car that names the part.
    let lighter = set("donor.kerb_mass_kg=600");
    let named = [set(&format!("motor={}", path.display())), lighter];
    let next = demo.put(&named).unwrap();
    for (path, shift, _) in of_motor {
        let field = next.prepare().unwrap().field(path).unwrap();
        let expected = number(&demo, path) * (1.0 + 0.01 * shift);
        assert!((field.value / expected - 1.0).abs() < 1e-12);
        assert_eq!(field.known, scenarios::basis::Known::Measured);
    }
    let measured = next.prepare().unwrap().measured();
    assert_eq!(measured.len(), 1);
    assert!(measured[0].file.ends_with("known-motor.json"));
    assert_eq!(measured[0].correlations[(0, 1)], -0.7);
    let uncertain = Uncertain::new(&next, &[], true).unwrap();
    for (path, _, sd) in of_motor {
        let found: Vec<_> =
            uncertain.inputs.iter().filter(|one| one.paths().any(|p| p == path)).collect();
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].sd(), sd);
        assert!(found[0].spread.reason.starts_with("measured, 2026-11-27, "));
    }
    // One standard deviation up of the first takes the second along with it.
    let up = |i: usize| if i + 2 == uncertain.inputs.len() { 0.841_344_746 } else { 0.5 };
    let moved = drawn(&next, up);
    for (path, by) in [(copper, 3.0), (eddy, -0.7 * 6.0)] {
        let expected = number(&next, path) + number(&demo, path) * 0.01 * by;
        let found = moved.field(path).unwrap().value;
        assert!((found / expected - 1.0).abs() < 1e-6, "{path}: {found} {expected}");
    }
    // A number that is put in is as sure as whoever puts it in.
    let other = next.put(&[set(&format!("{copper}=0.03"))]).unwrap();
    let left = other.prepare().unwrap().measured();
    assert_eq!(
        left[0].fields().map(|f| f.path.as_str()).collect::<Vec<_>>(),
        [format!("build.{eddy}")]
    );
    // Of a part of which nothing was measured there is no file.
    let refused = known_part(&car.prepare().unwrap(), FileKind::Gearbox).unwrap_err().to_string();
    assert!(
        refused.contains("measured is missing; needed: a file of what was learnt"),
        "{refused}"
    );
    // What stands wrongly in a part is refused by its file.
    for (pointer, value, expected) in [
        ("/spreads/inputs/0/sd", json!(-1), "known-motor.json: spreads.inputs.1.sd is -1"),
        ("/spreads/date", json!("once"), "known-motor.json: spreads.date is once; allowed: a day"),
        (
            "/spreads/inputs/0/fields/0/path",
            json!("mass"),
            "spreads.inputs.1.fields.1.path is mass",
        ),
        ("/spreads/correlations/0/1", json!(0.7), "spreads.correlations.2.1 is -0.7; allowed: 0.7"),
    ] {
        let mut wrong = part.clone();
        *wrong.pointer_mut(pointer).unwrap() = value;
        std::fs::write(&path, wrong.to_string()).unwrap();
        let refused = demo.with(&named).unwrap_err().to_string();
        assert!(refused.contains(expected), "{refused}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..Default::default() })]

    /// A car with all its measured parts from their files is the car that was measured, and is drawn
    /// alike.
    #[test]
    fn parts_in_files_of_their_own_make_the_same_car(car in any_car(), moved in moves()) {
        let inputs = some_of(&car, &moved);
        prop_assume!(!inputs.is_empty());
        let parts = ["donor", "gearbox", "motor", "controller", "pack", "tyre"];
        let is_of = |input: &LearntInput, part: &str| {
            input.fields.iter().all(|f| f.path.starts_with(&format!("build.{part}.")))
        };
        let inputs: Vec<LearntInput> =
            inputs.into_iter().filter(|one| parts.iter().any(|part| is_of(one, part))).collect();
        prop_assume!(!inputs.is_empty());
        let measured = taken(&car, inputs);
        let Ok(whole) = measured.prepare() else { return Ok(()) };
        let mut sets = Vec::new();
        for kind in FileKind::ALL.into_iter().filter(|kind| parts.contains(&kind.name())) {
            if let Ok(part) = known_part(&whole, kind) {
                let path = folder().join(format!("own-{}.json", kind.name()));
                std::fs::write(&path, part.to_string()).unwrap();
                sets.push(set(&format!("{}={}", kind.name(), path.display())));
            }
        }
        let next = car.put(&sets).unwrap();
        same(&next.prepare().unwrap(), &whole);
        let spreads = |car: &Loaded| {
            let uncertain = Uncertain::new(car, &[], true).unwrap();
            let one = |input: &scenarios::studies::uncertain::UncertainInput| {
                (input.spread.path.clone(), input.sd().to_bits())
            };
            let mut all: Vec<_> = uncertain.inputs.iter().map(one).collect();
            all.sort();
            all
        };
        prop_assert_eq!(spreads(&next), spreads(&measured));
    }
}
