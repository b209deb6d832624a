//! `cost`: what the daily road costs from the wall, against the donor's fuel.

use super::check;
use crate::failure::Failure;
use crate::input::Input;
use crate::measure::{Units, number};
use crate::output::Output;
use crate::picture_file::PictureArg;
use crate::pictures::{self, Look};
use crate::quantity;
use crate::road::{RoadArgs, say_notes};
use crate::table::Table;
use scenarios::money::{Need, Prices};
use scenarios::runs;
use scenarios::runs::cost::{self, CostReport, Price, Priced};
use scenarios::runs::drive;

/// Arguments of `cost`. What is left out comes from the scenario's `money`; nothing is assumed.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    input: Input,

    #[command(flatten)]
    road: RoadArgs,

    /// Price of a kWh from the wall.
    #[arg(long, value_name = "PRICE")]
    energy_price: Option<f64>,

    /// Price of fuel, such as `1.70/l` or `3.50/gal`; a bare number is per litre, or per US gallon
    /// with `--units us`.
    #[arg(long, value_name = "PRICE")]
    fuel_price: Option<String>,

    /// What the donor burnt, such as `7.5l/100km` or `31mpg`; a bare number is in l/100 km, or in
    /// miles per US gallon with `--units us`.
    #[arg(long, value_name = "CONSUMPTION")]
    donor: Option<String>,

    /// Price of all parts, less what the removed ones bring.
    #[arg(long, value_name = "PRICE")]
    parts: Option<f64>,

    /// What the currency is called.
    #[arg(long, value_name = "NAME")]
    currency: Option<String>,

    #[command(flatten)]
    picture: PictureArg,
}

fn price(option: &str, value: Option<f64>) -> Result<Option<f64>, Failure> {
    match value {
        Some(v) if !(0.0..=1e12).contains(&v) => {
            Err(Failure::Arguments(format!("{option} is {v}; allowed: 0 or more")))
        }
        _ => Ok(value),
    }
}

/// Reckons.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    let prepared = args.input.prepare()?;
    let bare = output.units;
    let fuel = args.fuel_price.as_deref();
    let donor = args.donor.as_deref();
    if args.currency.as_ref().is_some_and(|name| name.trim().is_empty()) {
        let text = "--currency is an empty string; allowed: a word for the currency";
        return Err(Failure::Arguments(text.to_owned()));
    }
    let given = Prices {
        currency: args.currency.clone(),
        energy_per_kwh: price("--energy-price", args.energy_price)?,
        fuel_per_l: fuel.map(|t| quantity::price_per_l("--fuel-price", t, bare)).transpose()?,
        donor_l_per_100km: donor
            .map(|t| quantity::consumption_l_per_100km("--donor", t, bare))
            .transpose()?,
        parts_cost: price("--parts", args.parts)?,
        ..Prices::default()
    };
    if let (Some(parts), Some(sum)) = (given.parts_cost, prepared.prices.price) {
        let text = format!(
            "--parts is {parts}; allowed: nothing beside prices of parts, which are added up: {}",
            number(sum, 2)
        );
        return Err(Failure::Arguments(text));
    }
    let prices = given.or(&prepared.prices);
    let road = args.road.load(&prepared)?;
    let frame = args.picture.begin(&args.road.files(&prepared))?;
    let setup = prepared.setup();
    let report = cost::report(&setup, &prepared.charger, &prices, &road.name, &road.trace);
    let mut report = prepared.vouched(report.map_err(named)?)?;
    report.assumptions = cost::assumed(&prepared);
    if let Some(frame) = frame {
        let driven = drive::drive(&setup, &road.trace, &mut ());
        let ledger = drive::report(&setup, &road.name, &road.trace, &driven).ledger;
        let look = Look::wide(&prepared.name, output.units);
        frame.save(&pictures::cost::picture(&report, Some(&ledger), None, look))?;
    }
    if output.json {
        return output.document(&report);
    }
    output.text(format!("{}: {}", prepared.name, report.road))?;
    say_notes(&road, output)?;
    // Some parts have a price of their own, so that those that have none are what is missing.
    let lacks = prices.price.is_some() && report.parts_cost.is_none() && report.saved.is_some();
    let without = lacks.then(|| prepared.scenario.build.without_price());
    let without = without.map(|parts| parts.into_iter().map(|part| part.part).collect::<Vec<_>>());
    show(&report, without.as_deref(), output)?;
    if prepared.scenario.seasons.iter().flatten().any(|season| season.months.is_some()) {
        output
            .said("All of it is in the weather of the conditions; `season` reckons by the year.")?;
    }
    match report.assumptions.is_empty() {
        true => Ok(()),
        false => check::assumptions(&report.assumptions, output),
    }
}

/// What is needed, with the fields and the option that say it.
fn where_to_say(need: Need) -> String {
    let option = match need {
        Need::Energy => "--energy-price",
        Need::Fuel => "--fuel-price",
        Need::Donor => "--donor",
        Need::Parts => "--parts",
    };
    format!("{} ({} or {option})", need.what(), need.fields().join(", "))
}

/// Names the options of prices that are missing.
fn named(failure: runs::Failure) -> Failure {
    match failure {
        runs::Failure::NoPrice => {
            let needs = Need::ALL.map(where_to_say).join(", ");
            let text = format!("no price is known; needed: at least one of {needs}");
            Failure::Arguments(text)
        }
        other => other.into(),
    }
}

fn show(
    report: &CostReport,
    without: Option<&[String]>,
    output: &mut Output,
) -> Result<(), Failure> {
    let units = output.units;
    let mut said: Vec<Need> = Vec::new();
    let mut missing = |result: Priced| {
        let needs = report.missing.iter().find(|m| m.result == result);
        let new: Vec<Need> = needs
            .iter()
            .flat_map(|m| &m.needs)
            .copied()
            .filter(|need| !said.contains(need))
            .collect();
        said.extend(&new);
        if new.is_empty() {
            "missing: as above".into()
        } else {
            let needs: Vec<String> = new.into_iter().map(where_to_say).collect();
            format!("missing: {}", needs.join("; "))
        }
    };
    let mut table = Table::new(&["", ""]);
    table.row(["from the cells".to_owned(), units.consumption(report.cells_wh_per_km)]);
    let note = report.charging_note.map(|note| format!(" ({note})")).unwrap_or_default();
    table.row([
        "from the wall".to_owned(),
        format!(
            "{}: charging puts {} % of it into the cells{note}",
            units.consumption(report.wall_wh_per_km),
            number(report.charging_efficiency_pct, 1)
        ),
    ]);
    table.row([
        "as gasoline".to_owned(),
        match units {
            Units::Metric => format!(
                "{} miles per US gallon or {} l/100 km of the same energy, from the wall",
                number(report.miles_per_usgal_equivalent, 0),
                number(report.l_per_100km_equivalent, 2)
            ),
            Units::Us => format!(
                "{} miles per US gallon of the same energy, from the wall",
                number(report.miles_per_usgal_equivalent, 0)
            ),
        },
    ]);
    let currency = report.currency.as_deref().map(|c| format!(" {c}")).unwrap_or_default();
    let priced = |p: Price| {
        let (km, mile) = (number(p.per_km, 4), number(p.per_mi, 4));
        match units {
            Units::Metric => {
                let hundred = number(p.per_100km, 2);
                format!(
                    "{km}{currency} a km, {mile}{currency} a mile, {hundred}{currency} for 100 km"
                )
            }
            Units::Us => {
                let hundred = number(100.0 * p.per_mi, 2);
                format!("{mile}{currency} a mile, {hundred}{currency} for 100 miles")
            }
        }
    };
    let mut known =
        |price: Option<Price>, result: Priced| price.map_or_else(|| missing(result), priced);
    table.row(["energy".to_owned(), known(report.energy, Priced::Energy)]);
    if let Some(wear) = report.wear {
        table.row(["wear".to_owned(), priced(wear)]);
    }
    if let Some(running) = report.running {
        table.row(["energy and wear".to_owned(), priced(running)]);
    }
    table.row([
        "the donor's fuel".to_owned(),
        fuel(report, known(report.fuel, Priced::Fuel), units),
    ]);
    table.row(["saved on fuel".to_owned(), known(report.saved, Priced::Saved)]);
    let even = match (report.break_even_km, report.saved, report.parts_cost) {
        (Some(km), ..) => paid(km, units),
        (None, Some(_), Some(_)) => "never: the energy costs no less than the fuel".to_owned(),
        _ => match without {
            Some(parts) => format!("missing: the price of {}", parts.join(", ")),
            None => missing(Priced::BreakEvenKm),
        },
    };
    table.row(["parts are paid".to_owned(), even]);
    output.table(&table)?;
    output.said(cost::NOT_COUNTED)?;
    match report.wear {
        Some(_) => Ok(()),
        None => output.said("Nor are service and tyres (money.wear_per_km or money.wear_per_mi)."),
    }
}

/// When the parts are paid.
pub fn paid(after_km: f64, units: Units) -> String {
    match after_km > 0.0 {
        true => format!("after {}", units.distance(after_km, 0)),
        false => "from the start: what is sold brings as much as is bought".to_owned(),
    }
}

/// What the fuel costs, with what the donor burns.
fn fuel(report: &CostReport, priced: String, units: Units) -> String {
    match report.donor_l_per_100km {
        Some(burnt) => {
            let shown = units.of(burnt, "l/100 km", 1);
            format!("{priced} (it burns {shown})")
        }
        None => priced,
    }
}
