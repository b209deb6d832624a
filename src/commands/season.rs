//! `season`: a road and a day in several seasons, side by side.

use super::check;
use super::climb::because;
use super::cost::paid;
use super::drive;
use crate::failure::Failure;
use crate::figure;
use crate::input::Input;
use crate::measure::{Units, clock, number};
use crate::output::Output;
use crate::picture_file::PictureArg;
use crate::pictures::{self, Look};
use crate::road::{RoadArgs, say_notes};
use crate::table::Table;
use scenarios::runs::cost::Price;
use scenarios::runs::day::Day;
use scenarios::runs::drive::RangeOutcome;
use scenarios::runs::season::{self, SeasonReport, SeasonRow};
use scenarios::runs::year::{SeasonCost, Spent};

/// Arguments of `season`.
///
/// The seasons are the list `seasons` of the scenario, or else a typical spring, winter and summer; the
/// others are held against the first. With a price of energy in `money` each tells what driving costs in
/// it, and with `months` of the seasons and the distance of a year, what the year costs.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    input: Input,

    #[command(flatten)]
    road: RoadArgs,

    /// Season that the others are held against; left out, the first.
    #[arg(long, value_name = "NAME")]
    against: Option<String>,

    #[command(flatten)]
    picture: PictureArg,
}

/// Drives in every season.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    let prepared = args.input.prepare()?;
    let road = args.road.load(&prepared)?;
    let frame = args.picture.begin(&args.road.files(&prepared))?;
    let day = Day::of(&prepared, &args.road.road(&prepared)?, &args.road.options())?;
    let way = (road.name.as_str(), &road.trace);
    let report = season::report(&prepared, args.against.as_deref(), way, &day)?;
    let report = prepared.vouched(report)?;
    if let Some(frame) = frame {
        let look = Look::wide(&prepared.name, output.units);
        frame.save(&pictures::season::picture(&report, &[], None, look))?;
    }
    if output.json {
        return output.document(&report);
    }
    output.text(format!(
        "{}: {} of {}, and a day of {} legs",
        prepared.name,
        road.name,
        output.units.distance(report.distance_km, 1),
        day.len()
    ))?;
    say_notes(&road, output)?;
    show(&report, output)?;
    output.heading(format!(
        "What each thing takes from the range and adds to the consumption, against {}",
        report.against
    ))?;
    costs(&report, output)?;
    output.said(report.method)?;
    money(&report, output)?;
    check::assumptions(&report.assumptions, output)
}

/// The seasons side by side, and what is worth saying of each.
pub fn show(report: &SeasonReport, output: &mut Output) -> Result<(), Failure> {
    side_by_side(report, output)?;
    for row in &report.seasons {
        for sentence in sentences(row, output.units) {
            output.text(sentence)?;
        }
    }
    Ok(())
}

fn side_by_side(report: &SeasonReport, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    let mut headings = vec![String::new()];
    headings.extend(report.seasons.iter().map(|row| format!(">{}", row.name)));
    let headings: Vec<&str> = headings.iter().map(String::as_str).collect();
    let mut table = Table::new(&headings);
    let mut line = |what: &str, cell: &dyn Fn(&SeasonRow) -> String| {
        let cells = report.seasons.iter().map(cell);
        table.row(std::iter::once(what.to_owned()).chain(cells));
    };
    line("air", &|r| units.temperature(r.air_c));
    line("air density", &|r| units.of(r.air_density_kg_per_m3, "kg/m³", 3));
    line("tyres' rolling, over stated", &|r| format!("× {}", number(r.rolling_factor, 2)));
    line("usable charge", &|r| format!("{} %", number(r.usable_pct, 0)));
    let of_road = |r: &SeasonRow, text: String| match r.drive_not_done {
        Some(_) => figure::NOT_DONE.to_owned(),
        None => text,
    };
    line("the road once", &|r| of_road(r, format!("{} kWh", number(r.drive_kwh, 2))));
    line("consumption at the pack", &|r| of_road(r, units.consumption(r.wh_per_km)));
    line("regen", &|r| of_road(r, format!("{} kWh", number(r.regen_kwh, 2))));
    line("range", &|r| of_road(r, units.distance(r.range_km, 1)));
    line("lowest cell on the road", &|r| of_road(r, format!("{} V", number(r.low_cell_v, 2))));
    let of_day = |r: &SeasonRow, text: String| match r.day_not_done {
        Some(_) => figure::NOT_DONE.to_owned(),
        None => of_road(r, text),
    };
    let left = |r: &SeasonRow| format!("{} %", number(r.day_charge_left_pct, 0));
    line("charge after the day", &|r| of_day(r, left(r)));
    line("hottest winding", &|r| of_day(r, units.temperature(r.peak.winding_c)));
    line("hottest heat sink", &|r| of_day(r, units.temperature(r.peak.heat_sink_c)));
    line("hottest cells", &|r| of_day(r, units.temperature(r.peak.cells_c)));
    if report.seasons.iter().any(|row| row.cost.is_some() || row.cost_not_known.is_some()) {
        let costs = |r: &SeasonRow, said: &dyn Fn(&SeasonCost) -> String| {
            r.cost.as_ref().map_or_else(|| figure::NOT_DONE.to_owned(), said)
        };
        line("from the wall", &|r| costs(r, &|cost| units.consumption(cost.wall_wh_per_km)));
        let what = if units == Units::Us { "100 miles" } else { "100 km" };
        let per = |price: Price| match units {
            Units::Metric => price.per_100km,
            Units::Us => 100.0 * price.per_mi,
        };
        let currency = report.currency.as_deref().map(|name| format!(", {name}"));
        let what = format!("energy for {what}{}", currency.unwrap_or_default());
        line(&what, &|r| costs(r, &|cost| sum(per(cost.energy))));
    }
    output.table(&table)
}

/// A sum of money without its currency.
fn sum(value: f64) -> String {
    number(value, if value.abs() < 1000.0 { 2 } else { 0 })
}

/// What a year costs, month by month.
pub fn money(report: &SeasonReport, output: &mut Output) -> Result<(), Failure> {
    if let Some(why) = &report.year_not_known {
        output.heading("What a year costs")?;
        return output.text(format!("Not known: {why}."));
    }
    let Some(year) = &report.year else { return Ok(()) };
    let units = output.units;
    let currency = report.currency.as_deref().map(|name| format!(", {name}")).unwrap_or_default();
    let far = units.distance(year.all.km, 0);
    output.heading(format!("What a year of {far} costs{currency}"))?;
    let all = &year.all;
    let mut headings = vec!["", ">months", ">distance", ">kWh", ">energy"];
    headings.extend(all.wear.map(|_| ">wear"));
    headings.extend(all.fixed.map(|_| ">each year"));
    headings.push(">together");
    headings.extend(all.saved.map(|_| ">saved"));
    let mut table = Table::new(&headings);
    let cells = |what: String, months: f64, spent: &Spent| {
        let mut cells = vec![what, number(months, usize::from(months.fract() != 0.0))];
        cells.extend([units.distance(spent.km, 0), number(spent.wall_kwh, 0), sum(spent.energy)]);
        cells.extend(spent.wear.map(sum));
        cells.extend(spent.fixed.map(sum));
        cells.push(sum(spent.together));
        cells.extend(spent.saved.map(sum));
        cells
    };
    for part in &year.parts {
        table.row(cells(format!("{}, a month", part.season), 1.0, &part.month));
    }
    for part in &year.parts {
        table.row(cells(format!("{}, all of it", part.season), part.months, &part.all));
    }
    table.row(cells("the year".to_owned(), 12.0, all));
    output.table(&table)?;
    if let Some(km) = year.break_even_km {
        output.text(format!("By what the year saves, the parts are paid {}.", paid(km, units)))?;
    }
    output.said(
        "Every month goes as far as any other, and all of it is the daily road in its season. What the \
         car takes while it stands is in none of it: cells that lose charge by themselves, a cabin or a \
         pack that is warmed at the socket.",
    )?;
    let unsaid = [
        (all.wear, "wear (money.wear_per_km or money.wear_per_mi)"),
        (all.fixed, "what is due each year (money.fixed_per_year)"),
    ];
    let unsaid: Vec<&str> =
        unsaid.iter().filter(|(known, _)| known.is_none()).map(|(_, what)| *what).collect();
    match unsaid.is_empty() {
        true => Ok(()),
        false => output.said(format!("Nobody says, and nothing counts it: {}.", unsaid.join(", "))),
    }
}

/// What is worth saying about a season.
fn sentences(row: &SeasonRow, units: Units) -> Vec<String> {
    let mut all = Vec::new();
    let name = &row.name;
    if row.refuses_charge {
        all.push(format!(
            "{name}: cells at the temperature of the air take no charge: no regen and no charging \
             until they are warmer."
        ));
    }
    if row.refused_legs > 0 {
        let legs = if row.refused_legs == 1 { "leg" } else { "legs" };
        all.push(format!(
            "{name}: charging was refused on {} {legs} of the day.",
            row.refused_legs
        ));
    }
    if let Some((leg, why)) = row.day_not_done_on.as_ref().zip(row.day_not_done) {
        let why = units.said(why);
        all.push(format!("{name}: the day was not carried out: on \"{leg}\" {why}."));
    }
    if let Some(why) = row.drive_not_done.map(|why| units.said(why)) {
        all.push(format!(
            "{name}: the road was not driven, so that its figures count for nothing: {why}."
        ));
    }
    if let (None, RangeOutcome::Limit(limit)) = (row.drive_not_done, row.range_ended_by) {
        let why = units.said(limit.words());
        all.push(format!("{name}: the range ends before the weakest cell is empty: {why}."));
    }
    if let (None, RangeOutcome::NotFound) = (row.drive_not_done, row.range_ended_by) {
        let far = units.distance(row.range_km, 0);
        all.push(format!("{name}: no end of the range was found; {far} is where the search ends."));
    }
    if let (None, Some(from)) = (row.drive_not_done, &row.range_slower) {
        all.push(format!("{name}: {}.", drive::slower(from, units)));
    }
    if let Some(why) = &row.cost_not_known {
        all.push(format!("{name}: what driving costs is not known: {}.", units.said(why)));
    }
    if let Some(note) = row.cost.as_ref().and_then(|cost| cost.charging_note) {
        all.push(format!("{name}: energy from the wall is reckoned {note}."));
    }
    if let Some(s) = row.derated_at_s {
        let why = because(row.derated_by, row.derated_in.as_ref());
        all.push(format!("{name}: a part cut back after {} of the road{why}.", clock(s)));
    }
    all
}

fn costs(report: &SeasonReport, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    let taken = |km: f64, wh_per_km: f64| {
        format!("{}, {}", units.distance(km, 1), units.consumption(wh_per_km))
    };
    let others: Vec<&SeasonRow> =
        report.seasons.iter().filter(|row| row.name != report.against).collect();
    let mut items: Vec<&str> = Vec::new();
    for cost in others.iter().flat_map(|row| &row.costs) {
        if !items.contains(&cost.item) {
            items.push(cost.item);
        }
    }
    let mut headings = vec![String::new()];
    headings.extend(others.iter().map(|row| format!(">{}", row.name)));
    let headings: Vec<&str> = headings.iter().map(String::as_str).collect();
    let mut table = Table::new(&headings);
    for item in items {
        let mut cells = vec![item.to_owned()];
        cells.extend(others.iter().map(|row| {
            let cost = row.costs.iter().find(|cost| cost.item == item);
            cost.map_or_else(|| "—".to_owned(), |cost| taken(cost.range_km, cost.wh_per_km))
        }));
        table.row(cells);
    }
    let base = report.seasons.iter().find(|row| row.name == report.against);
    let mut whole = vec!["all together".to_owned()];
    whole.extend(others.iter().map(|row| match base.filter(|_| row.drive_not_done.is_none()) {
        Some(base) => taken(base.range_km - row.range_km, row.wh_per_km - base.wh_per_km),
        None => "—".to_owned(),
    }));
    table.row(whole);
    output.table(&table)
}
