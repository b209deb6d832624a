//! Sockets, prices, endurance and descents of whole scenarios, against standards and against what
//! owners of such cars report.

use scenarios::money::{Need, Prices};
use scenarios::outlet::{Draw, Outlet};
use scenarios::runs::charge::{self, ChargeOutcome, ChargePlan, ChargeReport};
use scenarios::runs::cost::{self, Priced};
use scenarios::runs::endurance::{self, EnduranceOutcome, Map};
use scenarios::runs::limits::NamedLimit;
use scenarios::runs::{descent, drive};
use scenarios::{Loaded, Override, Prepared};
use sim_core::car::Slope;
use sim_core::climb::Hill;
use sim_core::{Limit, Node, Trace};

/// The light hatchback of this folder: parts of the shelf, good tyres, and the program's own assumptions.
fn hatchback(sets: &[&str]) -> Prepared {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/checks/light-hatchback.json");
    let sets: Vec<Override> = sets.iter().map(|text| text.parse().unwrap()).collect();
    Loaded::open(file).unwrap().with(&sets).unwrap()
}

fn road(name: &str) -> Trace {
    scenarios::runs::trace(&cycles::find(name).unwrap()).unwrap()
}

fn plan(outlet: Outlet, from: Option<f64>) -> ChargePlan {
    ChargePlan {
        outlet,
        from,
        to: 0.8,
        after_s: 0.0,
        night_s: 8.0 * 3600.0,
        energy_per_kwh: Some(0.105),
    }
}

fn charged(prepared: &Prepared, cycle: &str, plan: &ChargePlan) -> ChargeReport {
    charge::report(&prepared.setup(), &prepared.charger, cycle, &road(cycle), plan)
}

#[track_caller]
fn within(value: f64, low: f64, high: f64, what: &str) {
    assert!((low..=high).contains(&value), "{what} is {value}, not from {low} to {high}");
}

/// Continuous currents of the levels of SAE J1772, 80 % of the circuit (NEC article 625), both from
/// memory.
#[test]
fn sockets_give_four_fifths_of_their_circuits() {
    let amps = |name: &str| Outlet::named(name).unwrap().amps;
    for (name, continuous_a) in [
        ("120v-15a", 12.0),
        ("120v-20a", 16.0),
        ("240v-20a", 16.0),
        ("240v-30a", 24.0),
        ("240v-40a", 32.0),
        ("240v-50a", 40.0),
        ("240v-100a", 80.0),
        ("230v-16a", 16.0),
    ] {
        assert!((amps(name) - continuous_a).abs() < 1e-9, "{name}: {} A", amps(name));
    }
    assert!(Outlet::named("240V-40A").is_ok());
    let refusal = Outlet::named("240v-45a").unwrap_err().to_string();
    assert!(refusal.contains("240v-40a"), "{refusal}");
    // Nothing is guessed from a current that stands there in plain words.
    assert!(refusal.ends_with("by its numbers, volts 240 and amps 45"), "{refusal}");
    let refusal = Outlet::named("240v-40").unwrap_err().to_string();
    assert!(refusal.ends_with("did you mean \"240v-40a\"?"), "{refusal}");
    assert!(Outlet::custom(240.0, Draw::AmpsOfCircuit(32.0, 40.0)).is_ok());
    let refusal = Outlet::custom(240.0, Draw::AmpsOfCircuit(33.0, 40.0)).unwrap_err().to_string();
    assert!(refusal.contains("is 33; allowed: at most 32, 80 % of the circuit"), "{refusal}");
    for volts in [f64::NAN, 0.0, -120.0, 1e9, f64::INFINITY] {
        for (outlet, allowed) in [
            (Outlet::custom(volts, Draw::Amps(12.0)), "50 to 1000"),
            (Outlet::custom(240.0, Draw::Amps(volts)), "more than 0, at most 500"),
        ] {
            let refusal = outlet.unwrap_err().to_string();
            assert!(refusal.ends_with(&format!("is {volts}; allowed: {allowed}")), "{refusal}");
        }
    }
}

/// What owners of light hatchbacks with 9 to 10 kWh to use report of short, mostly urban trips
/// (common practice, no source): about two cents a mile at 0.10 to 0.11 a kWh, 170 to 200 miles per
/// gallon equivalent, 11 to 13 km an hour from 120 V and 12 A, about 24 km an hour and two to three
/// hours from a charger that draws 3 kW; 65 to 80 km a charge, which is met on a fast road, while a
/// warm urban schedule without hills goes further, to 60 miles (97 km) at most. Their cells are the light ones.
#[test]
fn a_light_hatchback_costs_and_charges_as_such_cars_do() {
    let car = hatchback(&["pack.cell=shelf:iron-phosphate-100ah"]);
    let setup = car.setup();
    let usable_kwh = car.car.parts().pack.usable_j(car.start.temperature_k[Node::Cells]) / 3.6e6;
    within(usable_kwh, 9.0, 10.0, "usable kWh");

    let urban = cost::report(&setup, &car.charger, &car.prices, "udds", &road("udds")).unwrap();
    within(urban.energy.unwrap().per_mi, 0.018, 0.022, "price of a mile");
    within(urban.miles_per_usgal_equivalent, 170.0, 200.0, "miles per gallon equivalent");

    let slow = charged(&car, "udds", &plan(Outlet::named("120v-15a").unwrap(), Some(0.2)));
    within(slow.daily.gained_km_per_h.unwrap(), 11.0, 13.0, "km an hour at 120 V");
    let modest = Outlet::custom(240.0, Draw::Amps(12.5)).unwrap();
    let modest = charged(&car, "udds", &plan(modest, Some(0.2)));
    within(modest.drawn_kw, 2.99, 3.01, "kW from the wall");
    within(modest.daily.gained_km_per_h.unwrap(), 22.0, 26.0, "km an hour at 240 V");
    within(modest.daily.time_s / 3600.0, 2.0, 3.0, "hours to the daily stop");
    assert!(modest.full.time_s > modest.daily.time_s);

    let fast_km = drive::range_of(&setup, &road("hwfet")).distance_km;
    within(fast_km, 65.0, 80.0, "km a charge on the fast road");
    let urban_km = drive::range_of(&setup, &road("udds")).distance_km;
    within(urban_km, fast_km, 97.0, "km a charge on the slow road");
}

/// 33 705 Wh stand for a gallon of gasoline (US EPA, 40 CFR part 600, from memory), and
/// 235.214583 l/100 km times miles per gallon is one by the sizes of mile and gallon.
#[test]
fn prices_are_as_a_pencil_finds_them() {
    let car = hatchback(&[]);
    let prices = Prices {
        energy_per_kwh: Some(0.25),
        fuel_per_l: Some(1.6),
        donor_l_per_100km: Some(8.0),
        parts_cost: Some(8000.0),
        ..Prices::default()
    };
    let trace = road("udds");
    let found = cost::report(&car.setup(), &car.charger, &prices, "udds", &trace).unwrap();
    assert!(found.missing.is_empty());
    let kwh_per_km = found.wall_wh_per_km / 1000.0;
    let mpge = 33.705 / (kwh_per_km * 1.609344);
    within(found.miles_per_usgal_equivalent / mpge, 1.0 - 1e-9, 1.0 + 1e-9, "equivalent");
    within(found.l_per_100km_equivalent * mpge, 235.214_58, 235.214_59, "litres of it");
    // 8 l at 1.60 are 12.80 for 100 km.
    let fuel = found.fuel.unwrap();
    within(fuel.per_100km, 12.8 - 1e-9, 12.8 + 1e-9, "fuel for 100 km");
    within(fuel.per_mi, 0.205_996, 0.205_997, "fuel for a mile");
    let saved = 0.128 - 0.25 * kwh_per_km;
    let even_km = found.break_even_km.unwrap();
    within(even_km * saved, 8000.0 - 1e-6, 8000.0 + 1e-6, "saved by then");

    // What is charged back after the road, over its length, is the same energy from the wall.
    let strong = Outlet::named("240v-40a").unwrap();
    let back = charged(&car, "udds", &ChargePlan { to: 1.0, ..plan(strong, None) });
    let km = drive::drive(&car.setup(), &trace, &mut ()).distance_m / 1000.0;
    let wall_wh_per_km = 1000.0 * back.daily.wall_kwh / km;
    within(wall_wh_per_km / found.wall_wh_per_km, 0.995, 1.005, "charged back");

    let dear = Prices { energy_per_kwh: Some(9.0), ..prices };
    let dear = cost::report(&car.setup(), &car.charger, &dear, "udds", &trace).unwrap();
    assert!(dear.break_even_km.is_none() && dear.saved.unwrap().per_km < 0.0);
}

/// No price is assumed: what is missing is named, and no price at all is refused.
#[test]
fn missing_prices_are_named() {
    let car = hatchback(&["money=null"]);
    let trace = road("wltc-low");
    let priced =
        |prices: &Prices| cost::report(&car.setup(), &car.charger, prices, "wltc-low", &trace);
    let refusal = priced(&car.prices).unwrap_err().to_string();
    assert!(refusal.contains("money.energy_per_kwh"), "{refusal}");
    let found = priced(&Prices { fuel_per_l: Some(1.6), ..Prices::default() }).unwrap();
    assert!(found.energy.is_none() && found.fuel.is_none() && found.break_even_km.is_none());
    let fuel = found.missing.iter().find(|m| m.result == Priced::Fuel).unwrap();
    assert_eq!(fuel.needs.len(), 1);
    assert_eq!(fuel.needs, [Need::Donor]);
    // 1 US gallon is 231 cubic inches.
    let us = hatchback(&["money.fuel_per_usgal=3.785411784", "money.donor_mpg=23.5214583"]);
    within(us.prices.fuel_per_l.unwrap(), 1.0 - 1e-9, 1.0 + 1e-9, "price of a litre");
    within(us.prices.donor_l_per_100km.unwrap(), 9.999_99, 10.000_01, "consumption");
}

/// Half an hour at 1.44 kW and 90 % is 0.648 kWh into the pack, whatever else happens.
#[test]
fn a_short_night_is_not_enough_and_a_long_one_is() {
    let car = hatchback(&[]);
    let half_an_hour =
        ChargePlan { night_s: 1800.0, ..plan(Outlet::named("120v-15a").unwrap(), Some(0.12)) };
    let short = charged(&car, "udds", &half_an_hour);
    let night = &short.daily.night;
    assert!(!night.enough, "{night:?}");
    // From 12 to 20 % a cell has 3.201 V and 5.5 mV more for each per cent; 34 have 100 A·h.
    let gained = (night.charge_pct - 12.0) / 100.0;
    let gained_kwh = 3.4 * gained * (3.201 + 0.55 * gained / 2.0);
    within(gained_kwh, 0.98 * 0.648, 0.648, "kWh into the cells");
    let long = charged(&car, "udds", &ChargePlan { night_s: 12.0 * 3600.0, ..half_an_hour });
    assert!(long.daily.night.enough && long.daily.night.left_pct < 80.0);
    assert!((long.daily.night.charge_pct - 80.0).abs() < 1e-6);
    let daily = &long.daily;
    let sum_kwh =
        daily.cells_kwh + daily.charger_loss_kwh + daily.pack_loss_kwh + daily.polarisation_kwh;
    within(sum_kwh / daily.wall_kwh, 1.0 - 1e-9, 1.0 + 1e-9, "books");
    within(daily.cost.unwrap() / daily.wall_kwh, 0.105 - 1e-12, 0.105 + 1e-12, "price");
}

/// Lithium cells must not be charged below 0 °C (common practice, no source).
#[test]
fn frozen_cells_are_refused_plainly() {
    let car = hatchback(&["conditions.air_c=-6"]);
    let found = charged(&car, "udds", &plan(Outlet::named("240v-30a").unwrap(), Some(0.5)));
    for session in [&found.daily, &found.full] {
        assert_eq!((session.ending, session.wall_kwh), (ChargeOutcome::Refused, 0.0));
        assert!(session.words.contains("-6 °C") && session.words.contains("too cold"));
        assert!((session.night.charge_pct - 50.0).abs() < 1e-9);
    }
    assert!(found.sockets.iter().all(|row| row.time_s.is_none() && row.full_s.is_none()));
}

#[test]
fn the_best_gear_of_a_map_is_as_good_as_any_gear() {
    let car = hatchback(&[]);
    let map = |gear| {
        let map = Map {
            speeds_mps: vec![10.0, 18.0, 26.0],
            grades: vec![0.0, 0.04, 0.08],
            gear,
            most_s: 7200.0,
        };
        endurance::report(&car.setup(), &map, || ())
    };
    let minutes = |cell: &endurance::EnduranceCell| match cell.outcome {
        EnduranceOutcome::Continuous => f64::INFINITY,
        EnduranceOutcome::Cannot => 0.0,
        _ => cell.minutes.unwrap(),
    };
    let best = map(None).unwrap();
    for gear in 0..4 {
        let one = map(Some(gear)).unwrap();
        for (b, o) in best.rows.iter().flatten().zip(one.rows.iter().flatten()) {
            assert!(minutes(b) >= minutes(o), "{b:?} {o:?}");
        }
    }
    // Each row is one grade; steeper rows never last longer.
    for pair in best.rows.windows(2) {
        for (gentle, steep) in pair[0].iter().zip(&pair[1]) {
            assert!(minutes(gentle) >= minutes(steep), "{gentle:?} {steep:?}");
        }
    }
    let refusal = map(Some(4)).unwrap_err().to_string();
    assert!(refusal.ends_with("is 5; allowed: 1 to 4"), "{refusal}");
}

/// `m·g·h`, and `½·m·v²` of a stop: 891 kg with the driver.
#[test]
fn a_descent_says_what_the_brakes_must_take() {
    let hill = Hill { slope: Slope::from_grade(0.08), speed_mps: 50.0 / 3.6, distance_m: 10_000.0 };
    let full = hatchback(&["start.charge_pct=100"]);
    let half = hatchback(&["start.charge_pct=50"]);
    let full = descent::report(&full.setup(), &hill).unwrap();
    let half = descent::report(&half.setup(), &hill).unwrap();
    let mass_kg = 740.0 - 85.0 - 58.0 + 42.0 + 6.5 + 34.0 * 3.2 + 24.0 + 38.0 + 75.0;
    let height_m = 10_000.0 * 0.08 / f64::sqrt(1.0 + 0.08 * 0.08);
    let kwh = mass_kg * 9.80665 * height_m / 3.6e6;
    within(half.height_kwh / kwh, 1.0 - 1e-9, 1.0 + 1e-9, "m·g·h");
    // The wheels add some per cent.
    let kj = 0.5 * mass_kg * (50.0f64 / 3.6).powi(2) / 1000.0;
    within(half.stop.level_kj / kj, 1.0, 1.06, "a stop");
    for (a, b) in full.gears.iter().zip(&half.gears) {
        let (Some(a), Some(b)) = (&a.run, &b.run) else { continue };
        assert!(a.ledger.residual < 1e-9 && b.ledger.residual < 1e-9);
        assert!(a.regen_kwh < 1e-6 && b.regen_kwh > 0.3, "{} {}", a.regen_kwh, b.regen_kwh);
        assert!(a.friction_kwh > b.friction_kwh + 0.8 * b.regen_kwh);
        assert_eq!(a.cut_back_by, Some(NamedLimit(Limit::Charge)));
        assert!(a.friction_kwh < full.held_kwh);
    }
    assert!(half.gears[half.chosen.unwrap() - 1].run.is_some());
    let level = Hill { slope: Slope::LEVEL, ..hill };
    let refusal = descent::report(&hatchback(&[]).setup(), &level).unwrap_err().to_string();
    assert_eq!(refusal, "the grade is 0 %; a descent needs a slope");
}

/// Where regen holds all of a slope in several gears, a driver takes one that is neither near the
/// motor's highest speed nor hot (common practice, no source).
#[test]
fn of_gears_that_spare_the_brakes_equally_one_with_margin_is_taken() {
    let car = Loaded::demo().unwrap().prepare().unwrap();
    let setup = car.setup();
    let hill = Hill { slope: Slope::from_grade(-0.05), speed_mps: 11.0, distance_m: 8000.0 };
    let found = descent::report(&setup, &hill).unwrap();
    let free = found.gears.iter().filter_map(|row| {
        let run = row.run.as_ref().filter(|run| run.friction_kwh < 1e-4)?;
        let rpm_share = car.car.motor_radps(row.gear - 1, hill.speed_mps) / car.car.max_radps();
        let winding_k = run.peak.winding_c - found.air_c;
        Some((row.gear, rpm_share, winding_k))
    });
    let free: Vec<_> = free.collect();
    assert!(free.len() >= 3 && free.iter().any(|(_, share, _)| *share > 0.9), "{free:?}");
    let chosen = free.iter().find(|(gear, ..)| Some(*gear) == found.chosen).unwrap();
    assert!(chosen.1 < 0.7, "{chosen:?} of {free:?}");
    let hottest_k = free.iter().map(|(.., k)| *k).fold(0.0, f64::max);
    assert!(chosen.2 < 0.9 * hottest_k, "{chosen:?} of {free:?}");
}
