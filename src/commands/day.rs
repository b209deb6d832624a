//! `day`: legs that are driven, parked and charged one after the other.

use super::climb::because;
use super::drive::gave_out;
use crate::failure::Failure;
use crate::input::Input;
use crate::measure::{Units, clock, number};
use crate::output::Output;
use crate::road::RoadArgs;
use crate::table::Table;
use scenarios::runs::day::{self, Day, DayReport, DayRow, LegKind, LegOutcome};
use scenarios::units;

/// Arguments of `day`.
///
/// The legs are `runs.day` of the scenario; without them, the road there, 8 h parked, and back.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    input: Input,

    #[command(flatten)]
    road: RoadArgs,
}

/// Goes through the day.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    let prepared = args.input.prepare()?;
    let road = args.road.road(&prepared)?;
    let day = Day::of(&prepared, &road, &args.road.options())?;
    let report = prepared.vouched(day::report(&prepared, &day)?)?;
    if output.json {
        return output.document(&report);
    }
    output.text(format!("{}: a day of {} legs", prepared.name, day.len()))?;
    for (road, note) in &day.notes {
        output.text(format!("{road}: {}", output.units.said(note)))?;
    }
    let ends_s = report.legs.iter().map(|leg| leg.time_s).sum();
    let unreached = prepared.outdoors.unreached(ends_s, "day");
    unreached.iter().try_for_each(|note| output.text(note))?;
    legs(&report, output)?;
    for row in &report.legs {
        for sentence in sentences(row, output.units) {
            output.text(sentence)?;
        }
    }
    output.heading("The whole day")?;
    whole(&report, output)
}

fn legs(report: &DayReport, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    let heated = report.legs.iter().any(|row| (row.cabin_c - row.air_c).abs() > 1.0);
    let mut headings =
        vec!["leg", ">h:min", ">way", ">kWh", ">charge", ">air", ">winding", ">sink", ">cells"];
    if heated {
        headings.push(">cabin");
    }
    let mut table = Table::new(&headings);
    // The highest on a drive; what is left of it after standing.
    let heat = |peak: f64, end: f64| {
        let (peak, end) = (units.bare_temperature(peak), units.bare_temperature(end));
        if peak == end { end } else { format!("{peak}, {end}") }
    };
    for row in &report.legs {
        let way = match row.kind {
            LegKind::Drive => units.distance(row.distance_km, 1),
            LegKind::Park | LegKind::Charge => "—".to_owned(),
        };
        let (hours, minutes) = units::h_and_min_from_s(row.time_s);
        let mut cells = vec![
            format!("{} {}", row.leg, row.name),
            format!("{hours:.0}:{minutes:02.0}"),
            way,
            number(row.energy_kwh, 2),
            format!("{} %", number(row.charge_pct, 0)),
            units.bare_temperature(row.air_c),
            heat(row.peak.winding_c, row.end.winding_c),
            heat(row.peak.heat_sink_c, row.end.heat_sink_c),
            heat(row.peak.cells_c, row.end.cells_c),
        ];
        if heated {
            cells.push(units.bare_temperature(row.cabin_c));
        }
        table.row(cells);
    }
    output.table(&table)?;
    output.line(format!(
        "kWh out of the pack; temperatures in {}, the highest on the leg, then at its end",
        units.degree()
    ))
}

/// What is worth saying about a leg.
fn sentences(row: &DayRow, units: Units) -> Vec<String> {
    let mut all = Vec::new();
    let leg = format!("Leg {} ({})", row.leg, row.name);
    match (row.kind, row.ending) {
        (LegKind::Drive, LegOutcome::Complete) => {}
        (LegKind::Drive, ending) => {
            let why = match ending {
                LegOutcome::Limit(limit) => gave_out(Some(limit), row.ended_in.as_ref()),
                _ => gave_out(None, row.ended_in.as_ref()),
            };
            all.push(format!(
                "{leg} ended after {} of {}: {why}.",
                units.distance(row.distance_km, 1),
                units.distance(row.planned_km, 1)
            ));
        }
        (LegKind::Charge, LegOutcome::Refused) => {
            let why = row.limits.first().map_or("", |met| met.words.as_str());
            let why = units.said(why);
            all.push(format!("{leg}: nothing more went in, as {why}."));
        }
        (LegKind::Charge, LegOutcome::TimeUp) => {
            all.push(format!("{leg}: the time was up before the charge was reached."));
        }
        _ => {}
    }
    if let Some(s) = row.derated_at_s {
        let why = because(row.derated_by, row.derated_in.as_ref());
        all.push(format!("{leg}: a part first cut back after {}{why}.", clock(s)));
    }
    if row.kind == LegKind::Drive {
        let met = row.limits.iter().filter(|met| met.seconds >= 1.0);
        all.extend(
            met.map(|met| format!("{leg}: for {} {}.", clock(met.seconds), units.said(&met.words))),
        );
    }
    all
}

fn whole(report: &DayReport, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    let mut table = Table::new(&["", ""]);
    let undone: Vec<String> = report
        .legs
        .iter()
        .filter_map(|row| Some(format!("{} ({}): {}", row.leg, row.name, row.not_done?)))
        .collect();
    let legs = match report.planned_legs - report.legs.len() {
        0 if undone.is_empty() => format!("all {} carried out", report.planned_legs),
        0 => format!("not carried out: {}", undone.join("; ")),
        left => format!("not carried out: {}, and {left} after it", undone.join("; ")),
    };
    table.row(["legs".to_owned(), legs]);
    let driven = format!("{} in {}", units.distance(report.distance_km, 1), clock(report.time_s));
    table.row(["driven".to_owned(), driven]);
    let energy = format!(
        "{} kWh out of the pack while driving, {} at the pack; {} kWh from the socket",
        number(report.driving_kwh, 2),
        units.consumption(report.wh_per_km),
        number(report.wall_kwh, 2)
    );
    table.row(["energy".to_owned(), energy]);
    let charge = format!(
        "{} % to {} %, never under {} %",
        number(report.charge_from_pct, 0),
        number(report.charge_left_pct, 0),
        number(report.lowest_charge_pct, 0)
    );
    table.row(["charge".to_owned(), charge]);
    let heat = super::drive::hottest(&report.peak, &report.warnings, &report.boxes, units);
    table.row(["hottest".to_owned(), heat]);
    output.table(&table)
}
