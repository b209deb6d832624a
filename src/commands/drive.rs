//! `drive`: a cycle or a road, what it takes and where it goes.

use super::climb::because;
use crate::failure::Failure;
use crate::figure::NOT_DONE;
use crate::input::Input;
use crate::measure::{Units, clock, number};
use crate::output::Output;
use crate::picture_file::PictureArg;
use crate::pictures::{Look, energy, road};
use crate::road::{RoadArgs, say_notes};
use crate::table::Table;
use scenarios::runs::drive::{self, DriveOutcome, DriveReport, LedgerReport, RangeOutcome, Slower};
use scenarios::runs::limits::NamedLimit;
use scenarios::runs::series::Series;
use scenarios::runs::{BoxTemperatures, Temperatures, Warnings};
use scenarios::units;
use std::path::PathBuf;

/// Arguments of `drive`.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    input: Input,

    #[command(flatten)]
    road: RoadArgs,

    /// Writes the drive to a CSV file, a row for each step.
    #[arg(long, value_name = "FILE.csv")]
    series: Option<PathBuf>,

    #[command(flatten)]
    picture: PictureArg,
}

/// Drives.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    let prepared = args.input.prepare()?;
    let road = args.road.load(&prepared)?;
    let setup = prepared.setup();
    let frame = args.picture.begin(&args.road.files(&prepared))?;
    let found = if let Some(file) = &args.series {
        let mut series = Series::new(&prepared.car, file, &args.road.files(&prepared))?;
        let found = drive::drive(&setup, &road.trace, &mut series);
        series.save()?;
        found
    } else {
        drive::drive(&setup, &road.trace, &mut ())
    };
    let range = Some(drive::range_of(&setup, &road.trace));
    let report = DriveReport { range, ..drive::report(&setup, &road.name, &road.trace, &found) };
    let report = prepared.vouched(report)?;
    if let Some(frame) = frame {
        let run = drive::history(&setup, &road.trace);
        let look = Look::wide(&prepared.name, output.units);
        let over_distance = road::picture(&report, &run, None, look);
        frame.save(&over_distance.over(energy::picture(&report, None, look)))?;
    }
    if output.json {
        return output.document(&report);
    }
    output.text(format!("{}: {}", prepared.name, road.name))?;
    say_notes(&road, output)?;
    show(&report, output)?;
    if !report.limits.is_empty() {
        output.heading("Limits that were met, worst first")?;
        let mut table = Table::new(&[">for", "what"]);
        for met in &report.limits {
            table.row([clock(met.seconds), met.words.clone()]);
        }
        output.table(&table)?;
    }
    output.heading("Where the energy went")?;
    ledger(&report.ledger, output)
}

/// `96.4 Wh/km at the pack (6.4 mi/kWh), 99.1 Wh/km from the cells`.
pub fn consumption(report: &DriveReport, units: Units) -> String {
    format!(
        "{} at the pack ({} mi/kWh), {} from the cells",
        units.consumption(report.wh_per_km),
        number(report.mi_per_kwh, 2),
        units.consumption(report.cells_wh_per_km)
    )
}

/// How far a charge goes.
pub fn range(report: &DriveReport, units: Units) -> String {
    match &report.range {
        Some(range) if range.ended_by == RangeOutcome::NotFound => {
            format!("more than {}", units.distance(range.distance_km, 0))
        }
        Some(range) => {
            let driven = units.distance(range.distance_km, 1);
            let from = number(range.from_charge_pct, 0);
            let until = match (range.not_done, range.ended_by) {
                (Some(why), _) => {
                    return format!("{NOT_DONE} from {from} %: after {driven}, {why}");
                }
                (None, RangeOutcome::Limit(_)) => format!(
                    "at {} % it could no longer keep the road's speed: {}",
                    number(range.to_charge_pct, 0),
                    range.words
                ),
                (None, _) => range.words.clone(),
            };
            let slower =
                range.slower.map_or_else(String::new, |from| format!("; {}", slower(&from, units)));
            format!("{driven} from {from} %, until {until}{slower}")
        }
        None => "not asked for".to_owned(),
    }
}

/// From where on a car drives a road more slowly, and why.
pub fn slower(from: &Slower, units: Units) -> String {
    format!(
        "from {} on, at {} % charge, it could no longer keep the road's speed{}",
        units.distance(from.after_km, 1),
        number(from.charge_pct, 0),
        because(from.by, None)
    )
}

/// The figures of a drive.
pub fn show(report: &DriveReport, output: &mut Output) -> Result<(), Failure> {
    let mut table = Table::new(&["", ""]);
    for (name, text) in rows(report, output.units) {
        table.row([name.to_owned(), text]);
    }
    output.table(&table)
}

/// The rows of that table: what each is about, and what there is to say.
pub fn rows(report: &DriveReport, units: Units) -> Vec<(&'static str, String)> {
    let mut rows = Vec::new();
    let kwh = |v: f64| format!("{} kWh", number(v, 2));
    let amps = |a: f64| format!("{} A", number(a, 0));
    let driven = format!(
        "{} in {}, {} shifts",
        units.distance(report.distance_km, 2),
        clock(report.time_s),
        report.shifts
    );
    rows.push(("driven", driven));
    let ended_early = match report.ending {
        DriveOutcome::Complete => None,
        DriveOutcome::Empty => Some(gave_out(None, report.ended_in.as_ref())),
        DriveOutcome::Limit(limit) => Some(gave_out(Some(limit), report.ended_in.as_ref())),
    };
    if let Some(ending) = ended_early {
        let text = format!(
            "after {} of {}: {ending}",
            units.distance(report.distance_km, 1),
            units.distance(report.trace_km, 1)
        );
        rows.push(("ended early", text));
    }
    rows.push(("consumption", consumption(report, units)));
    rows.push(("range", range(report, units)));
    let energy = format!(
        "{} out of the pack, net of {} regen; friction brakes {}",
        kwh(report.energy_kwh),
        kwh(report.regen_kwh),
        kwh(report.friction_kwh)
    );
    rows.push(("energy", energy));
    let charge =
        format!("{} % to {} %", number(report.charge_from_pct, 1), number(report.charge_to_pct, 1));
    rows.push(("charge", charge));
    let pack = format!(
        "{} peak, {} RMS; {} peak into it",
        amps(report.peak_discharge_a),
        amps(report.rms_pack_a),
        amps(report.peak_charge_a)
    );
    rows.push(("pack current", pack));
    let motor = format!("{} peak, {} RMS", amps(report.peak_motor_a), amps(report.rms_motor_a));
    rows.push(("motor current", motor));
    let volts = format!(
        "pack down to {} V; cells {} to {} V, at most {} mV apart",
        number(report.low_pack_v, 1),
        number(report.low_cell_v, 2),
        number(report.high_cell_v, 2),
        number(units::mv_from_v(report.cell_gap_v), 0)
    );
    rows.push(("voltage", volts));
    let mut heat = hottest(&report.peak, &report.warnings, &report.boxes, units);
    if let Some(s) = report.derated_at_s {
        let why = because(report.derated_by, report.derated_in.as_ref());
        heat.push_str(&format!("; first cut back after {}{why}", clock(s)));
    }
    rows.push(("hottest", heat));
    let grip = format!(
        "{} % slowing, {} % driving, of what the driven tyres hold",
        number(report.brake_grip_pct, 0),
        number(report.drive_grip_pct, 0)
    );
    rows.push(("grip", grip));
    rows.push(("trace", shortfall(report, units)));
    rows
}

/// Why the pack ended a drive: at a limit, or empty.
pub fn gave_out(limit: Option<NamedLimit>, own: Option<&String>) -> String {
    match (limit, own) {
        (Some(limit), own) => format!("the pack could not go on{}", because(Some(limit), own)),
        (None, Some(own)) => format!("the cells of {own} were empty"),
        (None, None) => "the pack was empty".to_owned(),
    }
}

/// Temperatures of the cells of each box, as they stand in `check`; nothing of a pack in one box.
pub fn box_by_box(boxes: &BoxTemperatures, names: &[String], units: Units) -> String {
    if boxes.is_of_one() {
        return String::new();
    }
    let each = names.iter().zip(boxes.each_c());
    let each: Vec<String> =
        each.map(|(name, c)| format!("{name} {}", units.temperature(*c))).collect();
    format!(" ({})", each.join(", "))
}

/// Highest temperatures against those at which parts cut back.
pub fn hottest(peak: &Temperatures, warnings: &Warnings, boxes: &[String], units: Units) -> String {
    let against = |c: f64, warning: Option<f64>| match warning {
        Some(w) => format!("{} of {}", units.temperature(c), units.temperature(w)),
        None => units.temperature(c),
    };
    let coolant =
        peak.coolant_c.map_or_else(String::new, |c| format!(", coolant {}", units.temperature(c)));
    format!(
        "winding {}, heat sink {}, cells {}{}{coolant}",
        against(peak.winding_c, Some(warnings.winding_c)),
        against(peak.heat_sink_c, Some(warnings.heat_sink_c)),
        against(peak.cells_c, warnings.cells_c),
        box_by_box(&peak.boxes_c, boxes, units)
    )
}

fn shortfall(report: &DriveReport, units: Units) -> String {
    if report.distance_km == 0.0 {
        "not driven".to_owned()
    } else if report.within_tolerance {
        "followed within the tolerance of 40 CFR 86.115".to_owned()
    } else {
        format!(
            "outside the tolerance of 40 CFR 86.115 for {}, at most {} behind",
            clock(report.outside_s),
            units.speed(report.largest_lag_kmh, 0)
        )
    }
}

/// The ledger as a table.
pub fn ledger(ledger: &LedgerReport, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    let mut table = Table::new(&["account", ">kWh", ">over the distance", ">share"]);
    table.row([
        "cells, chemical energy".to_owned(),
        number(ledger.chemical_kwh, 3),
        String::new(),
        format!("{} %", number(ledger.chemical_share_pct, 1)),
    ]);
    for row in ledger.rows.iter().filter(|row| row.kwh.abs() >= 0.0005) {
        table.row([
            row.account.to_owned(),
            number(row.kwh, 3),
            units.consumption(row.wh_per_km),
            format!("{} %", number(row.share_pct, 1)),
        ]);
    }
    output.table(&table)?;
    output.line(format!("unaccounted for: {:.1e} of the throughput", ledger.residual))
}
