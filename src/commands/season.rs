//! `season`: a road and a day in several seasons, side by side.

use super::check;
use super::climb::because;
use super::drive;
use crate::failure::Failure;
use crate::figure;
use crate::input::Input;
use crate::measure::{Units, clock, number};
use crate::output::Output;
use crate::picture_file::PictureArg;
use crate::pictures::{self, Look};
use crate::road::RoadArgs;
use crate::table::Table;
use scenarios::runs::day::Day;
use scenarios::runs::drive::RangeOutcome;
use scenarios::runs::season::{self, SeasonReport, SeasonRow};

/// Arguments of `season`.
///
/// The seasons are the list `seasons` of the scenario, or else a typical spring, winter and summer; the
/// others are held against the first.
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
    show(&report, output)?;
    output.heading(format!(
        "What each thing takes from the range and adds to the consumption, against {}",
        report.against
    ))?;
    costs(&report, output)?;
    output.said(report.method)?;
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
    output.table(&table)
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
    if let (None, Some(from)) = (row.drive_not_done, &row.range_slower) {
        all.push(format!("{name}: {}.", drive::slower(from, units)));
    }
    if let Some(s) = row.derated_at_s {
        let why = because(row.derated_by);
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
