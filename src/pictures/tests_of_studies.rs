//! Pictures of runs that set cars, weather, sockets and settings side by side.

use super::checks::sound;
use super::tests::{car, looks, settings};
use super::{Look, bands, charging, cost, electrics, endurance, front, regen, season};
use crate::measure::{Units, number};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use scenarios::money::Prices;
use scenarios::runs::charge::{self, ChargePlan, ChargePoint};
use scenarios::runs::endurance::Map;
use scenarios::runs::regen::Grid;
use scenarios::runs::season::SeasonReport;
use scenarios::runs::{self, Run, Suite, cost as costs, day::Day, drive, season as seasons};
use scenarios::studies::bands::{Band, BandsReport};
use scenarios::studies::candidates::Candidates;
use scenarios::studies::choose::{self, Study, Wanted};
use scenarios::studies::season_bands::RangeBand;
use scenarios::studies::stream::Row;
use scenarios::studies::uncertain::Uncertain;
use scenarios::{Loaded, Prepared, Road};
use sim_core::Trace;

/// Values that no car has.
const ODD: [f64; 8] =
    [0.0, -0.0, 1e-300, 1e300, -1e300, f64::NAN, f64::INFINITY, f64::NEG_INFINITY];

fn road(car: &Prepared) -> Trace {
    let road = Road::Named("wltc-low".to_owned());
    let read = car.read(&road, &cycles::LoadOptions::default()).unwrap();
    runs::trace(&read.schedule).unwrap()
}

fn in_seasons(car: &Prepared, trace: &Trace) -> SeasonReport {
    let road = Road::Named("wltc-low".to_owned());
    let day = Day::of(car, &road, &cycles::LoadOptions::default()).unwrap();
    seasons::report(car, None, ("road", trace), &day).unwrap()
}

fn prices() -> Prices {
    Prices {
        currency: Some("<b>crowns</b>".to_owned()),
        energy_per_kwh: Some(0.3),
        fuel_per_l: Some(1.7),
        donor_l_per_100km: Some(7.5),
        parts_cost: Some(9000.0),
        ..Prices::default()
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, failure_persistence: None, rng_seed: RngSeed::Fixed(20_261_127), ..ProptestConfig::default() })]

    #[test]
    fn pictures_of_random_cars_are_sound(one in settings(), other in settings()) {
        let (car, other) = (car(&one), car(&other));
        let (trace, setup) = (road(&car), car.setup());
        let year = in_seasons(&car, &trace);
        let before = in_seasons(&other, &trace);
        let plan = ChargePlan::default();
        let charged = charge::report(&setup, &car.charger, "road", &trace, &plan);
        let course = charge::course(&setup, &car.charger, "road", &trace, &plan);
        let map = Map { speeds_mps: vec![5.0, 20.0, 40.0], grades: vec![0.0, 0.06, 0.3], ..Map::default() };
        let held = runs::endurance::report(&setup, &map, || ()).unwrap();
        let former = runs::endurance::report(&other.setup(), &map, || ()).unwrap();
        let wish = runs::electrics::Wish::default();
        let wired = runs::electrics::report(&car, "road", &trace, &wish).unwrap();
        let wired_before = runs::electrics::report(&other, "road", &trace, &wish).unwrap();
        let grid = Grid { lift_off_pct: vec![0.0, 20.0], brake_pct: vec![0.0, 40.0], ..Grid::default() };
        let set = runs::regen::report(&car, "road", &trace, &grid).ok();
        let set_before = runs::regen::report(&other, "road", &trace, &grid).ok();
        let paid = costs::report(&setup, &car.charger, &prices(), "road", &trace).ok();
        let driven = drive::report(&setup, "road", &trace, &drive::drive(&setup, &trace, &mut ()));
        for look in looks() {
            let texts = sound(&season::picture(&year, &[], Some(&before), look));
            // What is drawn is the report's.
            for row in year.seasons.iter().filter(|row| row.drive_not_done.is_none()) {
                let told = look.units.distance(row.range_km, 0);
                prop_assert!(texts.contains(&told), "{} {:?}", told, texts);
            }
            sound(&charging::picture(&charged, &course, Some(&course[..course.len() / 2]), look));
            let texts = sound(&endurance::picture(&held, Some(&former), look));
            let ends = held.rows.iter().flatten().filter_map(|c| c.minutes.zip(c.letter));
            for (minutes, letter) in ends {
                let told = number(minutes, usize::from(minutes < 9.95));
                let cell = [format!("{told} {letter}"), format!("{}*", number(minutes, 0))];
                prop_assert!(texts.iter().any(|t| cell.contains(t)), "{:?} {:?}", cell, texts);
            }
            let drawn = electrics::picture(&wired, Some(&wired_before), look);
            let texts = sound(&drawn);
            for lead in wired.leads.iter().take(2) {
                // Runs of warm cells stand in the largest of all alone.
                for run in lead.runs.iter().filter(|run| !run.case.is_warm()) {
                    let name = run.case.name();
                    prop_assert!(texts.iter().any(|t| t == name), "{} {:?}", name, texts);
                }
                // The description tells what the report says.
                let told = lead.rms(600.0).map(|of| format!("{} A over 10 min", number(of.amps, 0)));
                prop_assert!(told.is_some_and(|told| drawn.description.contains(&told)));
            }
            if let Some(report) = &set {
                sound(&regen::picture(report, set_before.as_ref(), look));
            }
            if let Some(report) = &paid {
                let texts = sound(&cost::picture(report, Some(&driven.ledger), Some(report), look));
                let price = report.energy.unwrap();
                let value = match look.units {
                    Units::Metric => price.per_100km,
                    Units::Us => 100.0 * price.per_mi,
                };
                prop_assert!(texts.iter().any(|t| t.starts_with(&number(value, 2))), "{:?}", texts);
                sound(&cost::picture(report, None, None, look));
            }
        }
    }

    #[test]
    fn values_that_no_car_has_are_drawn_in_frame(picks in prop::collection::vec(0..ODD.len(), 12)) {
        let odd = |i: usize| ODD[picks[i % picks.len()]];
        let car = Loaded::demo().unwrap().prepare().unwrap();
        let trace = road(&car);
        let setup = car.setup();
        let wish = runs::electrics::Wish::default();
        let mut wired = runs::electrics::report(&car, "road", &trace, &wish).unwrap();
        wired.fault.fuse_a = Some(odd(0));
        for (i, lead) in wired.leads.iter_mut().enumerate() {
            lead.allows_a = Some(odd(i + 1));
            for run in &mut lead.runs {
                (run.lasted_s, run.whole_rms_a) = (odd(i + 2), odd(i + 3));
                run.windows.iter_mut().enumerate().for_each(|(j, of)| of.rms_a = odd(i + j));
            }
            let largest = lead.largest.iter_mut().filter_map(|of| of.rms.as_mut());
            largest.enumerate().for_each(|(j, of)| of.amps = odd(i + j + 1));
        }
        for look in looks() {
            sound(&electrics::picture(&wired, Some(&wired), look));
        }
        let mut year = in_seasons(&car, &trace);
        for (i, row) in year.seasons.iter_mut().enumerate() {
            (row.range_km, row.wh_per_km, row.air_c) = (odd(i), odd(i + 1), odd(i + 2));
            row.name = "\u{202e}<svg onload=x>".repeat(i * 40);
            row.costs.iter_mut().enumerate().for_each(|(j, cost)| cost.range_km = odd(i + j));
        }
        let band = |i: usize| RangeBand {
            season: year.seasons[i].name.clone(),
            p10_km: odd(i),
            p50_km: odd(i + 1),
            p90_km: odd(i + 2),
        };
        let all = [band(0), band(1)];
        let plan = ChargePlan::default();
        let charged = charge::report(&setup, &car.charger, "road", &trace, &plan);
        let point = |i: usize| ChargePoint {
            time_s: odd(i),
            wall_kw: odd(i + 1),
            pack_kw: odd(i + 2),
            charge_pct: odd(i + 3),
        };
        let course: Vec<ChargePoint> = (0..5).map(point).collect();
        let mut held = runs::endurance::report(&setup, &Map::default(), || ()).unwrap();
        held.rows.iter_mut().flatten().enumerate().for_each(|(i, c)| c.minutes = Some(odd(i)));
        held.speeds_kmh.iter_mut().enumerate().for_each(|(i, v)| *v = odd(i));
        let mut set = runs::regen::report(&car, "road", &trace, &Grid::default()).unwrap();
        for (i, row) in set.rows.iter_mut().enumerate() {
            (row.brake_grip_pct, row.wh_per_km, row.lift_off_pct) = (odd(i), odd(i + 1), odd(i + 2));
        }
        set.best = 1000;
        let mut paid = costs::report(&setup, &car.charger, &prices(), "road", &trace).unwrap();
        paid.energy.as_mut().unwrap().per_100km = odd(0);
        paid.fuel.as_mut().unwrap().per_mi = odd(1);
        paid.wall_wh_per_km = odd(2);
        let mut driven = drive::report(&setup, "road", &trace, &drive::drive(&setup, &trace, &mut ()));
        driven.ledger.rows.iter_mut().enumerate().for_each(|(i, row)| row.kwh = odd(i));
        for look in looks() {
            sound(&season::picture(&year, &all, Some(&year), look));
            sound(&charging::picture(&charged, &course, Some(&course), look));
            sound(&charging::picture(&charged, &course[..1], None, look));
            sound(&endurance::picture(&held, None, look));
            sound(&regen::picture(&set, Some(&set), look));
            sound(&cost::picture(&paid, Some(&driven.ledger), Some(&paid), look));
        }
    }
}

#[test]
fn of_nothing_there_is_a_picture_that_says_so() {
    let car = Loaded::demo().unwrap().prepare().unwrap();
    let trace = road(&car);
    let mut year = in_seasons(&car, &trace);
    year.seasons.clear();
    let mut set = runs::regen::report(&car, "road", &trace, &Grid::default()).unwrap();
    set.rows.clear();
    let no_map = Map { speeds_mps: Vec::new(), ..Map::default() };
    let held = runs::endurance::report(&car.setup(), &no_map, || ()).unwrap();
    let plan = ChargePlan::default();
    let charged = charge::report(&car.setup(), &car.charger, "road", &trace, &plan);
    for look in looks() {
        assert_eq!(sound(&season::picture(&year, &[], None, look)).len(), 2);
        assert_eq!(sound(&regen::picture(&set, None, look)).len(), 2);
        assert_eq!(sound(&endurance::picture(&held, None, look)).len(), 2);
        assert_eq!(sound(&charging::picture(&charged, &[], None, look)).len(), 2);
    }
}

#[test]
fn causes_are_those_of_the_bands_also_of_odd_ones() {
    let loaded = Loaded::demo().unwrap();
    let car = loaded.prepare().unwrap();
    let suite = Suite::new(&[Run::Climb, Run::Drive], "road", road(&car));
    let uncertain = Uncertain::new(&loaded, &[], true).unwrap();
    let found: BandsReport =
        scenarios::studies::bands::bands(&uncertain, &suite, &[], 40, 1, || true).unwrap();
    let heat: &Band = found.figures.iter().find(|band| band.figure == "climb_heat_pct").unwrap();
    let first = &heat.causes[0];
    let texts = sound(&bands::picture(&found, Look::wide("", Units::Metric)));
    assert!(texts.contains(&first.name), "{texts:?}");
    assert!(texts.iter().any(|t| t.ends_with(&number(first.rank_correlation.abs(), 2))));
    for value in ODD {
        let mut odd = found.clone();
        for band in &mut odd.figures {
            band.nominal = value;
            band.p10 = -value;
            band.causes.iter_mut().for_each(|cause| {
                cause.rank_correlation = value;
                cause.name = "<g>\u{202e}".repeat(100);
            });
        }
        for look in looks() {
            sound(&bands::picture(&odd, look));
        }
    }
    let none = BandsReport { figures: Vec::new(), ..found };
    let texts = sound(&bands::picture(&none, Look::narrow("", Units::Us)));
    let why = "Nothing that is uncertain moves a figure more than chance would.";
    assert_eq!(texts[1..].join(" "), why);
}

/// A front of numbers that no car has, and one of the demo.
#[test]
fn the_front_is_that_of_the_report_also_an_odd_one() {
    let loaded = Loaded::demo().unwrap();
    let loaded = loaded.put(&["donor.front_axle_max_kg=900".parse().unwrap()]).unwrap();
    let mut candidates = Candidates::default();
    candidates.take("pack.parallel=1@2000,2@4100.5").unwrap();
    candidates.take("motor=shelf:induction-air-small@900,shelf:induction-air-large@2200").unwrap();
    let suite = Suite::new(&[Run::Standing], "road", road(&loaded.prepare().unwrap()));
    let wanted = Wanted {
        goals: vec!["start_grade_pct>=5".parse().unwrap()],
        budget: None,
        prefer: choose::preferences(["usable_kwh", "running_kg"]).unwrap(),
        odds_pct: 50.0,
        samples: 10,
        seed: 1,
        spreads: Vec::new(),
        typical: true,
    };
    let study = Study::new(&loaded, &candidates, &suite, &wanted, &[]).unwrap();
    let mut seen = choose::Seen::of(&study);
    for number in 0..study.total() {
        seen.see(&Row { number, outcome: study.found(number) });
    }
    let mut found = seen.conclude((false, false), || true).unwrap();
    found.currency = Some("<b>crowns</b>".repeat(9));
    assert!(found.front.len() >= 2, "{found:?}");
    for look in looks() {
        let texts = sound(&front::picture(&found, look));
        for (i, one) in found.front.iter().enumerate() {
            let told = format!("{} {} %", choose::letter(i), number(one.odds_pct, 0));
            assert!(texts.contains(&told), "{told}: {texts:?}");
        }
    }
    let mut many = found.clone();
    for i in 0..40 {
        let mut one = found.front[i % 2].clone();
        one.price += f64::from(u8::try_from(i).unwrap());
        one.figures.iter_mut().for_each(|figure| figure.stated += 0.1 * i as f64);
        many.front.push(one);
    }
    looks().into_iter().for_each(|look| drop(sound(&front::picture(&many, look))));
    for value in ODD {
        let mut odd = found.clone();
        for (i, one) in odd.front.iter_mut().enumerate() {
            (one.price, one.odds_pct) = (if i == 0 { value } else { one.price }, value);
            one.picked[0].path = "<g>\u{202e}".repeat(100);
            let figures = one.figures.iter_mut();
            figures.for_each(|figure| {
                (figure.stated, figure.p10, figure.p90) = (value, -value, value)
            });
        }
        looks().into_iter().for_each(|look| drop(sound(&front::picture(&odd, look))));
    }
    many.prefer.clear();
    looks().into_iter().for_each(|look| drop(sound(&front::picture(&many, look))));
    found.front.clear();
    let texts = sound(&front::picture(&found, Look::narrow("", Units::Us)));
    assert_eq!(texts[1..].join(" "), "No combination keeps the goals within the budget.");
}
