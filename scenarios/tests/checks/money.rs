//! What driving and parts cost through a year and side by side, as a pencil adds it up.

use scenarios::runs::day::Day;
use scenarios::runs::season::{self, SeasonReport};
use scenarios::runs::{Run, Suite, cost};
use scenarios::studies::bands::bands;
use scenarios::studies::compare::{Candidate, CompareReport, compare};
use scenarios::studies::uncertain::Uncertain;
use scenarios::{Loaded, Override, Prepared};
use sim_core::Trace;

fn car(sets: &[&str]) -> Prepared {
    let sets: Vec<Override> = sets.iter().map(|text| text.parse().unwrap()).collect();
    Loaded::demo().unwrap().with(&sets).unwrap()
}

fn road() -> Trace {
    scenarios::runs::trace(&cycles::find("wltc-low").unwrap()).unwrap()
}

fn through_the_year(sets: &[&str]) -> SeasonReport {
    let car = car(sets);
    let day = Day::of(&car, &car.road(), &cycles::LoadOptions::default()).unwrap();
    season::without_costs(&car, ("road", &road()), &day).unwrap()
}

const SEASONS: &str = r#"seasons=[{"name":"mild","air_c":15,"months":7.5},
    {"name":"cold","air_c":3,"months":4.5},{"name":"old","air_c":3,"state_of_health_pct":70}]"#;
const MONEY: &str = r#"money={"currency":"beads","energy_per_kwh":0.3,"wear_per_km":0.05,
    "fixed_per_year":240,"km_per_year":9000,"fuel_per_l":2,"donor_l_per_100km":8}"#;

fn near(found: f64, wanted: f64) {
    assert!((found - wanted).abs() < 1e-9 * wanted.abs().max(1.0), "{found} is not {wanted}");
}

/// The year is its months: 9000 km are 750 km each, wear is 450, and what a season's energy costs is
/// what `cost` says of a car that stands in that season's air.
#[test]
fn a_year_is_what_its_months_cost() {
    let found = through_the_year(&[SEASONS, MONEY]);
    let year = found.year.unwrap();
    let names: Vec<&str> = year.parts.iter().map(|part| part.season.as_str()).collect();
    assert_eq!(names, ["mild", "cold"], "a season without months is in no year");
    let mut energy = 0.0;
    for (part, air_c) in year.parts.iter().zip(["15", "3"]) {
        let air = format!("conditions.air_c={air_c}");
        let cells = format!("start.cells_c={air_c}");
        let there = car(&[MONEY, &air, &cells]);
        let alone =
            cost::report(&there.setup(), &there.charger, &there.prices, "road", &road()).unwrap();
        let per_km = alone.energy.unwrap().per_km;
        near(part.month.km, 750.0);
        near(part.month.energy, 750.0 * per_km);
        near(part.month.wall_kwh, 0.75 * alone.wall_wh_per_km);
        near(part.month.together, 750.0 * per_km + 750.0 * 0.05 + 20.0);
        near(part.month.saved.unwrap(), 750.0 * (0.16 - per_km));
        near(part.all.together, part.months * part.month.together);
        energy += part.months * 750.0 * per_km;
    }
    near(year.all.energy, energy);
    near(year.all.together, energy + 450.0 + 240.0);
    near(year.all.saved.unwrap(), 1440.0 - energy);
    assert!(year.parts[1].month.energy > year.parts[0].month.energy, "cold costs more");
}

/// Nothing is assumed: what a year lacks is said, and no figure stands for it.
#[test]
fn a_year_that_lacks_something_has_no_price_and_says_why() {
    for (sets, why) in [
        (&[SEASONS, MONEY, "money.km_per_year=null"][..], "money.km_per_year"),
        (&[SEASONS, MONEY, "money.energy_per_kwh=null"], "money.energy_per_kwh"),
        (&[SEASONS, MONEY, "seasons.2.months=2"], "9.5 months together"),
        (&[SEASONS, MONEY, "seasons.1.months=null", "seasons.2.months=null"], "0 months"),
    ] {
        let found = through_the_year(sets);
        let said = found.year_not_known.unwrap();
        assert!(found.year.is_none() && said.contains(why), "{said}");
    }
    let without = through_the_year(&[SEASONS, "money=null"]);
    assert!(without.year.is_none() && without.year_not_known.is_none());
    assert!(without.seasons.iter().all(|row| row.cost.is_none()));
    // A scenario that names no seasons has typical ones, which say how long they are.
    let typical = through_the_year(&["seasons=null", MONEY]);
    assert!(typical.assumptions.iter().any(|one| one.value.contains("winter -5 °C for 3 months")));
    assert!(typical.assumptions.iter().any(|one| one.path.contains("charger.")));
    for (sets, why) in [
        ("seasons.1.months=13", "more than 0 and at most 12"),
        ("seasons.2.months=5", "12.5 months together"),
        ("money.currency=\" \"", "money.currency is an empty string"),
        ("money.mi_per_year=5000", "money"),
        ("money.wear_per_km=-1", "money.wear_per_km is -1"),
    ] {
        let sets: Vec<Override> =
            [SEASONS, MONEY, sets].iter().map(|text| text.parse().unwrap()).collect();
        let refusal = Loaded::demo().unwrap().with(&sets).unwrap_err().to_string();
        assert!(refusal.contains(why), "{refusal}");
    }
}

/// A drive that takes a tenth more than is predicted costs a tenth more for its energy.
#[test]
fn what_drives_take_beyond_what_is_predicted_is_paid_for() {
    let car = car(&[MONEY]);
    let mut more = car.clone();
    more.prices.of_predicted = Some(1.1);
    let costs = |car: &Prepared| {
        cost::report(&car.setup(), &car.charger, &car.prices, "road", &road()).unwrap()
    };
    let (plain, more) = (costs(&car), costs(&more));
    near(more.energy.unwrap().per_km, 1.1 * plain.energy.unwrap().per_km);
    near(more.wear.unwrap().per_km, 0.05);
    near(more.saved.unwrap().per_km, 0.16 - more.energy.unwrap().per_km);
}

/// What driving costs moves with what is drawn, up with each input that raises the consumption; a sum
/// of stated prices does not, unless a price itself is drawn.
#[test]
fn costs_move_with_what_is_drawn_and_a_sum_does_not() {
    let loaded = Loaded::demo().unwrap();
    let sets = [MONEY, "motor.price=1000"].map(|text| text.parse().unwrap());
    let loaded = loaded.put(&sets).unwrap();
    let suite = Suite::new(&[Run::Standing, Run::Cost], "road", road());
    let of = |spreads: &[&str]| {
        let own: Vec<_> =
            spreads.iter().map(|text| scenarios::studies::Spread::parse(text).unwrap()).collect();
        let uncertain = Uncertain::new(&loaded, &own, true).unwrap();
        bands(&uncertain, &suite, &[], 60, 1, || true).unwrap()
    };
    let found = of(&[]);
    let band = |name: &str| found.figures.iter().find(|band| band.figure == name).unwrap();
    let (cost, wall, price) = (band("cost_per_100km"), band("wall_wh_per_km"), band("price"));
    assert!(cost.moves() && !price.moves());
    // 0.3 for a kWh.
    near(cost.p90, 0.03 * wall.p90);
    assert_eq!(
        cost.causes.iter().map(|cause| &cause.path).collect::<Vec<_>>(),
        wall.causes.iter().map(|cause| &cause.path).collect::<Vec<_>>()
    );
    let found = of(&["motor.price=±10%"]);
    assert!(found.figures.iter().any(|band| band.figure == "price" && band.moves()));
}

fn side_by_side(all: &[&[&str]]) -> CompareReport {
    let suite = Suite::new(&[Run::Standing, Run::Cost], "road", road());
    let of =
        |sets: &&[&str]| Candidate { prepared: car(sets), suite: suite.clone(), changed: None };
    compare(&all.iter().map(of).collect::<Vec<_>>(), || ()).unwrap()
}

/// The differences of the parts add up to that of the sums, also where a thing is in one build only.
#[test]
fn differences_of_parts_add_up_to_that_of_the_price() {
    let with = r#"added=[{"item":"rack","mass_kg":5,"behind_front_axle_m":1,"price":55.5},
        {"item":"rack","mass_kg":5,"behind_front_axle_m":1,"price":60}]"#;
    let a = [MONEY, "motor.price=900", "pack.cell.price=10", "added=[]"];
    let b = [MONEY, "motor.price=700", "pack.cell.price=11", with];
    let found = side_by_side(&[&a, &b]);
    let prices = found.prices.unwrap();
    let parts: Vec<&str> = prices.parts.iter().map(|row| row.part.as_str()).collect();
    assert_eq!(parts, ["motor", "pack", "added: rack", "added: rack (2)"]);
    assert_eq!(prices.parts[2].prices, [None, Some(55.5)]);
    let more: f64 = prices.parts.iter().map(|row| row.more_than_first[1].unwrap()).sum();
    near(more, prices.sums[1].unwrap() - prices.sums[0].unwrap());
    let row = found.figures.iter().find(|row| row.figure == "price").unwrap();
    near(row.more_than_first[1].unwrap(), more);
    assert_eq!(prices.without[0], ["controller"]);
}

/// A part that both have and only one has a price for makes no difference that anybody knows.
#[test]
fn a_price_that_one_of_two_lacks_is_no_difference() {
    let a = [MONEY, "motor.price=null", "pack.price=2000"];
    let found = side_by_side(&[&a, &[MONEY, "motor.price=700", "pack.price=2100"]]);
    let prices = found.prices.unwrap();
    assert_eq!(prices.parts[0].more_than_first[1], Some(100.0), "the pack's");
    assert_eq!((prices.parts[1].part.as_str(), prices.more_than_first[1]), ("motor", None));
    let row = found.figures.iter().find(|row| row.figure == "price").unwrap();
    assert_eq!(row.more_than_first[1], None);
    let alike = side_by_side(&[&a, &[MONEY, "pack.price=2100"]]);
    assert_eq!(
        alike.prices.unwrap().more_than_first[1],
        Some(100.0),
        "the motor is in neither sum"
    );
}

/// Beads are no shells: a sum in one currency is not held against one in another.
#[test]
fn sums_in_two_currencies_have_no_difference() {
    let found = side_by_side(&[&[MONEY], &[MONEY, "money.currency=shells"]]);
    assert!(!found.prices.as_ref().unwrap().comparable);
    for row in &found.figures {
        let is_money = row.figure.ends_with("per_100km");
        assert_eq!(row.more_than_first[1].is_none(), is_money, "{}", row.figure);
    }
}
