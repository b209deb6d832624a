//! What the fuzz targets share: random builds out of bytes, and every run of a car.

use arbitrary::{Result, Unstructured};
use scenarios::money::Prices;
use scenarios::outlet::Outlet;
use scenarios::runs::charge::{self, ChargePlan};
use scenarios::runs::day::{self, Day};
use scenarios::runs::endurance::{self, Map};
use scenarios::runs::pull::{self, Marks};
use scenarios::runs::regen::{self, Grid};
use scenarios::runs::{Failure, Run, Suite, climb, cost, descent, drive, season};
use scenarios::{FileKind, Loaded, Override, Prepared, Road, shelf};
use serde_json::Value;
use sim_core::car::Slope;
use sim_core::climb::Hill;
use std::sync::LazyLock;

/// The demo as it was read.
static DEMO: LazyLock<Loaded> = LazyLock::new(|| Loaded::demo().unwrap());

/// Parts that the demo leaves out.
const LEFT_OUT: [&str; 6] = [
    r#"auxiliaries.cabin={"set_c":20,"heater_kw":2,"heat_capacity_kj_per_k":60,"conductance_w_per_k":50}"#,
    r#"coolant={"heat_capacity_kj_per_k":15,"still_air_w_per_k":10,"fan_w_per_k":60,"road_air_w_per_k_at_100_kmh":200}"#,
    r#"gearbox.oil={"viscosity_40_mm2_per_s":75,"viscosity_100_mm2_per_s":14,"heat_capacity_kj_per_k":20}"#,
    r#"gearbox.clutch={"kept":true,"max_nm":160}"#,
    r#"charger={"power_kw":2.5,"efficiency_pct":91,"end_c_rate":0.04}"#,
    r#"motor.nodes={"winding_kj_per_k":4,"housing_kj_per_k":20,"winding_to_housing_w_per_k":15,"still_air_w_per_k":4}"#,
];

/// Fields with a number in them.
static FIELDS: LazyLock<Vec<String>> = LazyLock::new(|| {
    let mut found = Vec::new();
    numbers(&DEMO.prepare().unwrap().echo, "", &mut found);
    let left_out = [
        "conditions.altitude_m",
        "conditions.head_wind_kmh",
        "start.cells_c",
        "start.motor_c",
        "start.controller_c",
        "pack.state_of_health_pct",
        "pack.resistance_growth_pct",
        "pack.capacity_spread_pct",
        "pack.resistance_spread_pct",
        "pack.max_charge_pct",
        "pack.cell.peak_s",
        "motor.rotor_inertia_kg_m2",
        "controller.road_air_w_per_k_at_100_kmh",
        "controller.coolant_c",
        "gearbox.shift_s",
        "gearbox.max_input_rpm",
        "gearbox.max_input_nm",
        "auxiliaries.traction_w",
        "regen.lift_off_nm",
        "regen.brake_pedal_nm",
        "donor.bearings_n",
        "tyre.rolling_radius_m",
        "tyre.wheel_mass_kg",
        "driver.gear",
        "auxiliaries.cabin.heat_capacity_kj_per_k",
        "auxiliaries.cabin.conductance_w_per_k",
        "auxiliaries.cabin.heater_kw",
        "auxiliaries.cabin.set_c",
        "coolant.heat_capacity_kj_per_k",
        "coolant.fan_w_per_k",
        "gearbox.oil.heat_capacity_kj_per_k",
        "gearbox.oil.viscosity_40_mm2_per_s",
        "gearbox.clutch.max_nm",
        "charger.power_kw",
        "charger.efficiency_pct",
        "charger.end_c_rate",
        "motor.nodes.winding_kj_per_k",
        "motor.nodes.winding_to_housing_w_per_k",
        "motor.nodes.still_air_w_per_k",
    ];
    found.extend(left_out.map(str::to_owned));
    found
});

fn numbers(value: &Value, path: &str, found: &mut Vec<String>) {
    let below = |key: &str| if path.is_empty() { key.to_owned() } else { format!("{path}.{key}") };
    match value {
        Value::Object(map) => map.iter().for_each(|(k, v)| numbers(v, &below(k), found)),
        Value::Array(list) => {
            let items = list.iter().enumerate();
            items.for_each(|(i, item)| numbers(item, &below(&(i + 1).to_string()), found));
        }
        Value::Number(_) => found.push(path.to_owned()),
        _ => {}
    }
}

/// A value for a field; what is allowed there may be read off a refusal.
fn value(u: &mut Unstructured<'_>, ends: &[f64]) -> Result<f64> {
    let pick = |u: &mut Unstructured<'_>| Ok::<f64, arbitrary::Error>(*u.choose(ends)?);
    Ok(match u.int_in_range(0..=5)? {
        0 if !ends.is_empty() => pick(u)?,
        1 if !ends.is_empty() => pick(u)? + f64::from(u.arbitrary::<i8>()?) * 1e-6,
        2 if ends.len() > 1 => {
            let share = f64::from(u.arbitrary::<u16>()?) / 65535.0;
            ends[0] + share * (ends[1] - ends[0])
        }
        // All sizes alike.
        3 | 4 => 10f64.powf(f64::from(u.arbitrary::<i8>()?) / 12.0),
        _ => f64::from(u.arbitrary::<i16>()?) / 64.0,
    })
}

/// The numbers that a refusal says are allowed.
fn allowed(refusal: &str) -> Vec<f64> {
    let said = refusal.split_once("allowed: ").map_or("", |(_, said)| said);
    let words = said.split([' ', ',', '%']);
    words.filter_map(|word| word.parse().ok()).filter(|n: &f64| n.is_finite()).collect()
}

/// A build that is accepted: parts of the shelf, and some numbers far from usual.
pub fn car(u: &mut Unstructured<'_>) -> Result<Option<(Prepared, Vec<String>)>> {
    let mut sets: Vec<Override> = Vec::new();
    let mut car = DEMO.prepare().ok();
    let mut take = |sets: &mut Vec<Override>, one: Override| {
        sets.push(one);
        match DEMO.with(sets) {
            Ok(prepared) => {
                car = Some(prepared);
                Vec::new()
            }
            Err(refusal) => {
                let refusal = refusal.to_string();
                says_something(&refusal);
                sets.pop();
                allowed(&refusal)
            }
        }
    };
    for kind in
        [FileKind::Motor, FileKind::Controller, FileKind::Pack, FileKind::Gearbox, FileKind::Donor]
    {
        let names: Vec<&str> =
            shelf::shelf().iter().filter(|p| p.kind == kind).map(|p| p.name).collect();
        if u.ratio(1, 3)? {
            let part = format!("shelf:{}", u.choose(&names)?);
            take(&mut sets, Override::text(kind.name(), &part).unwrap());
        }
    }
    for part in LEFT_OUT {
        if u.ratio(1, 4)? {
            let part: Override = part.parse().unwrap();
            take(&mut sets, part);
        }
    }
    for _ in 0..u.int_in_range(0..=5)? {
        let field = u.choose(&FIELDS)?;
        let given = |value: f64| Override::new(field, Value::from(value)).unwrap();
        let ends = take(&mut sets, given(value(u, &[])?));
        if !ends.is_empty() {
            take(&mut sets, given(value(u, &ends)?));
        }
    }
    let told = sets.iter().map(|one| format!("{one:?}")).collect();
    Ok(car.map(|car| (car, told)))
}

/// A refusal says something. What it quotes of its input is cleaned where the program shows it, which
/// the target `program` looks at.
pub fn says_something(text: &str) {
    assert!(!text.trim().is_empty());
}

/// A hill of a random slope, speed and length.
fn hill(u: &mut Unstructured<'_>) -> Result<Hill> {
    let grade = f64::from(u.int_in_range(-40..=60)?) / 100.0;
    let speed_mps = *u.choose(&[0.01, 0.5, 3.0, 9.0, 14.0, 22.0, 33.0, 80.0])?;
    let distance_m = *u.choose(&[1.0, 500.0, 4000.0, 12e3, 90e3])?;
    Ok(Hill { slope: Slope::from_grade(grade), speed_mps, distance_m })
}

/// One of the runs of a car, as its command carries it out: it is shown, or refused in a sentence.
pub fn run(u: &mut Unstructured<'_>, car: &Prepared) -> Result<()> {
    let setup = car.setup();
    let options = cycles::LoadOptions::default();
    let name = *u.choose(&["wltc-low", "nycc", "hwfet"])?;
    let commute = Road::Named(name.to_owned());
    let Ok(road) = car.read(&commute, &options) else { return Ok(()) };
    let trace = scenarios::runs::trace(&road.schedule).unwrap();
    let day_of = || Day::of(car, &commute, &options).unwrap();
    let plan = ChargePlan {
        outlet: Outlet::named(u.choose(&["120v-15a", "240v-20a", "240v-100a"])?).unwrap(),
        from: u.ratio(1, 2)?.then_some(0.3),
        to: 0.9,
        after_s: 0.0,
        night_s: 8.0 * 3600.0,
        energy_per_kwh: Some(0.3),
    };
    let ended = match u.int_in_range(0..=11)? {
        0 => pull::report(&setup, &Marks::metric()).and_then(|r| car.vouched(r)).map(drop),
        1 => climb::report(&setup, &hill(u)?).and_then(|r| car.vouched(r)).map(drop),
        2 => descent::report(&setup, &hill(u)?).and_then(|r| car.vouched(r)).map(drop),
        3 => {
            let map = Map {
                speeds_mps: vec![2.0, 9.0, 24.0],
                grades: vec![-0.05, 0.0, 0.06],
                gear: None,
                most_s: 3.0 * 3600.0,
            };
            endurance::report(&setup, &map, || ()).and_then(|r| car.vouched(r)).map(drop)
        }
        4 => {
            let found = drive::drive(&setup, &trace, &mut ());
            let residual = found.ledger.residual_share();
            assert!(residual.abs() < 1e-6, "the ledger is off by {residual}");
            let report = drive::report(&setup, name, &trace, &found);
            let range = Some(drive::range_of(&setup, &trace));
            car.vouched(drive::DriveReport { range, ..report }).map(drop)
        }
        5 => {
            let found = charge::report(&setup, &car.charger, name, &trace, &plan);
            car.vouched(found).map(|found| {
                let off = found.full.ledger_residual;
                assert!(off < 1e-6, "the charge's ledger is off by {off}");
            })
        }
        6 => {
            let prices = Prices { energy_per_kwh: Some(0.3), ..Prices::default() };
            let found = cost::report(&setup, &car.charger, &prices, name, &trace);
            found.and_then(|r| car.vouched(r)).map(drop)
        }
        7 => {
            let grid =
                Grid { lift_off_pct: vec![0.0, 20.0], brake_pct: vec![0.0, 40.0], at_mps: 11.0 };
            regen::report(car, name, &trace, &grid).and_then(|r| car.vouched(r)).map(drop)
        }
        8 => day::report(car, &day_of()).and_then(|r| car.vouched(r)).map(drop),
        9 => {
            let found = season::report(car, None, (name, &trace), &day_of());
            found.and_then(|r| car.vouched(r)).map(drop)
        }
        10 => {
            car.warnings().iter().for_each(|warning| says_something(&warning.text));
            Ok(())
        }
        _ => {
            let runs = [Run::Standing, Run::Pull, Run::Climb, Run::Pass, Run::Rating, Run::Range];
            let mut suite = Suite::new(&runs, name, trace);
            suite.climb = Some(hill(u)?);
            suite.figures(car).map(drop)
        }
    };
    if let Err(failure) = ended {
        says_something(&failure.to_string());
        // To be counted: how often a solver gives up on what is allowed.
        if matches!(failure, Failure::Stuck(_)) {
            eprintln!("given up: {failure}");
        }
    }
    Ok(())
}

/// Time of the processor that the process has taken, s: a run may have to wait for its turn.
pub fn processor_s() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    // The name of the process, in brackets, may hold anything.
    let after = stat.rsplit(')').next().unwrap_or_default();
    let ticks = after.split_whitespace().skip(11).take(2).filter_map(|n| n.parse::<f64>().ok());
    ticks.sum::<f64>() / 100.0
}
