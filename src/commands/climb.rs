//! `climb`: hold a speed on a grade, for a length, in every gear.

use crate::commands::descent;
use crate::failure::Failure;
use crate::input::Input;
use crate::measure::{Units, clock, number, ordinal};
use crate::output::Output;
use crate::picture_file::PictureArg;
use crate::pictures::{self, Look};
use crate::quantity;
use crate::series::begin;
use crate::table::Table;
use scenarios::runs::climb::{self, ClimbReport, ClimbRow};
use scenarios::runs::descent::DescentReport;
use scenarios::runs::limits::NamedLimit;
use scenarios::{Prepared, units};
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::climb::{ClimbEnding, Hill};
use std::path::PathBuf;

/// Arguments of `climb`. What is left out comes from the scenario's own climb.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    input: Input,

    #[command(flatten)]
    hill: HillArgs,

    /// Drives the scenario's pass instead of its climb.
    #[arg(long)]
    pass: bool,

    /// Writes the climb in the chosen gear to a CSV file.
    #[arg(long, value_name = "FILE.csv")]
    series: Option<PathBuf>,

    #[command(flatten)]
    picture: PictureArg,
}

/// A hill as options give it; what is left out comes from the scenario.
#[derive(Debug, Default, clap::Args)]
pub struct HillArgs {
    /// Slope of the hill, such as `6%`; left out, the scenario's own. One that falls is a descent.
    #[arg(long, value_name = "GRADE", allow_hyphen_values = true)]
    grade: Option<String>,

    /// Speed to hold, such as `80km/h` or `50mph`; a bare number is in the tables' units.
    #[arg(long, value_name = "SPEED")]
    speed: Option<String>,

    /// How far: `10km`, `6mi` or `8min`; left out, the scenario's own.
    #[arg(long = "for", value_name = "LENGTH")]
    length: Option<String>,
}

impl HillArgs {
    /// Whether any option was given.
    pub fn asked(&self) -> bool {
        self.grade.is_some() || self.speed.is_some() || self.length.is_some()
    }

    /// The hill, what is left out taken from the scenario's climb or, with `pass`, its pass.
    pub fn hill(&self, prepared: &Prepared, pass: bool, units: Units) -> Result<Hill, Failure> {
        let own = if pass { prepared.drives.pass } else { prepared.drives.climb };
        if pass && own.is_none() {
            let text = "--pass needs a scenario with runs.pass, and this one has none";
            return Err(Failure::Arguments(text.to_owned()));
        }
        let own = own.unwrap_or_else(climb::usual);
        let slope = match &self.grade {
            Some(text) => quantity::slope("--grade", text)?,
            None => own.slope,
        };
        let speed_mps = match &self.speed {
            Some(text) => quantity::speed_mps("--speed", text, units)?,
            None => own.speed_mps,
        };
        let distance_m = match &self.length {
            Some(text) => quantity::length_m("--for", text, speed_mps, units)?,
            None => own.distance_m,
        };
        Ok(Hill { slope, speed_mps, distance_m })
    }
}

/// What is written with `--json`.
#[derive(Debug, Serialize, JsonSchema)]
#[serde(untagged)]
pub enum Report {
    /// Of a road that rises or is level.
    Up(ClimbReport),
    /// Of a road that falls, as `descent` writes it.
    Down(DescentReport),
}

/// Climbs; a road that falls is a descent.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    let prepared = args.input.prepare()?;
    let hill = args.hill.hill(&prepared, args.pass, output.units)?;
    if hill.slope.sin < 0.0 {
        let files = (args.series.as_deref(), &args.picture);
        let report = descent::go_down(&prepared, &hill, files, output.units)?;
        if output.json {
            return output.document(&Report::Down(report));
        }
        return descent::show(&prepared, &report, output);
    }
    let setup = prepared.setup();
    let series = begin(&prepared, args.series.as_deref())?;
    let frame = args.picture.begin_for(&prepared)?;
    let report = prepared.vouched(climb::report(&setup, &hill)?)?;
    if let Some(mut series) = series {
        climb::recorded(&setup, &hill, report.chosen - 1, &mut series)?;
        series.save()?;
    }
    if let Some(frame) = frame {
        let runs = climb::histories(&setup, &hill)?;
        let what = if args.pass { "Pass" } else { "Climb" };
        let look = Look::wide(&prepared.name, output.units);
        frame.save(&pictures::climb::picture(what, &report, &runs, None, look))?;
    }
    if output.json {
        return output.document(&Report::Up(report));
    }
    output.text(format!("{}: {}", prepared.name, what(&report, output.units)))?;
    show(&report, output)?;
    output.said(verdict(&report, output.units))?;
    output.heading("Against the limits, in the chosen gear")?;
    limits(&report, &prepared, output)
}

/// `6.0 % at 80 km/h for 10.0 km, air at 24 °C`.
pub fn what(report: &ClimbReport, units: Units) -> String {
    format!(
        "{} % at {} for {}, air at {}",
        number(report.grade_pct, 1),
        units.speed(report.speed_kmh, 0),
        units.distance(report.distance_km, 1),
        units.temperature(report.air_c)
    )
}

/// The table of gears.
pub fn show(report: &ClimbReport, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    let degree = |what: &str| format!(">{what} {}", units.degree());
    let speed = |what: &str| format!(">{what} {}", units.speed_unit());
    let headings = [
        "gear".to_owned(),
        ">rpm".to_owned(),
        ">pack kW".to_owned(),
        ">pack A".to_owned(),
        ">motor A".to_owned(),
        degree("winding"),
        degree("sink"),
        degree("cells"),
        "speed held".to_owned(),
        "derates".to_owned(),
        speed("continuous"),
        speed("whole climb"),
    ];
    let headings: Vec<&str> = headings.iter().map(String::as_str).collect();
    let mut table = Table::new(&headings);
    let or_dash = |kmh: Option<f64>| kmh.map_or_else(|| "—".to_owned(), |v| units.bare_speed(v));
    for row in &report.gears {
        let mark = if row.gear == report.chosen { "*" } else { "" };
        // Beyond the motor's speed the rest of the row says nothing about the asked speed.
        let shown = |text: String| if row.within_rpm { text } else { "—".to_owned() };
        table.row([
            format!("{}{mark}", ordinal(row.gear)),
            number(row.motor_rpm, 0),
            shown(number(row.pack_kw, 1)),
            shown(number(row.pack_a, 0)),
            shown(number(row.motor_a, 0)),
            shown(units.bare_temperature(row.peak.winding_c)),
            shown(units.bare_temperature(row.peak.heat_sink_c)),
            shown(units.bare_temperature(row.peak.cells_c)),
            held(row),
            shown(row.derated_at_s.map_or_else(|| "no".to_owned(), |s| format!("at {}", clock(s)))),
            or_dash(row.continuous_kmh),
            or_dash(row.length_kmh),
        ]);
    }
    output.table(&table)
}

fn held(row: &ClimbRow) -> String {
    match (row.held, row.slowed_at_s) {
        (true, _) => "yes".to_owned(),
        (false, _) if !row.within_rpm => "over rpm".to_owned(),
        (false, Some(s)) if s < 5.0 => "no".to_owned(),
        (false, Some(s)) => format!("until {}", clock(s)),
        (false, None) => match row.ending {
            ClimbEnding::Top => "top",
            ClimbEnding::Empty => "empty",
            ClimbEnding::Stalled => "stalled",
        }
        .to_owned(),
    }
}

/// ` (motor heat)` for a limit, nothing for none.
pub fn because(limit: Option<NamedLimit>, own: Option<&String>) -> String {
    let own = own.map_or_else(String::new, |own| format!(", {own}"));
    limit.map_or_else(String::new, |limit| format!(" ({limit}{own})"))
}

/// Which gear and why, and how fast the hill can be taken.
pub fn verdict(report: &ClimbReport, units: Units) -> String {
    let best = report.best();
    let asked = units.speed(report.speed_kmh, 0);
    let gear = ordinal(best.gear);
    let mut text = if best.held && best.derated_at_s.is_none() {
        let others = report.gears.iter().filter(|r| r.gear != best.gear);
        let fails = others.filter(|r| !r.held || r.derated_at_s.is_some()).count();
        let nearest = report.warnings.nearest(&best.peak, report.air_c);
        let why = match fails {
            0 => "of all gears it stays coolest".to_owned(),
            1 => "one other gear over-revs, slows or overheats, and it stays coolest".to_owned(),
            n => format!("{n} other gears over-rev, slow or overheat, and it stays coolest"),
        };
        format!(
            "{gear} gear holds {asked} to the top, {} {} under the warning, nearest of all \
             parts: {why}.",
            nearest.part,
            units.degrees(nearest.warning_c - nearest.reached_c)
        )
    } else if best.held {
        format!(
            "No gear stays cool. {gear} holds {asked} to the top, but cuts back after {}{}.",
            clock(best.derated_at_s.unwrap_or(0.0)),
            because(best.derated_by, best.derated_in.as_ref())
        )
    } else {
        let far = units.distance(best.distance_km, 1);
        let why = because(best.slowed_by, best.slowed_in.as_ref());
        let done = match best.ending {
            ClimbEnding::Top => format!("it falls to {}{why}", units.speed(best.slowest_kmh, 0)),
            ClimbEnding::Empty => match &best.empty_in {
                Some(own) => format!("the cells of {own} are empty after {far}"),
                None => format!("the pack is empty after {far}"),
            },
            ClimbEnding::Stalled => format!("it comes to a stop after {far}{why}"),
        };
        format!("No gear holds {asked}. {gear} does best: {done}.")
    };
    let fastest = |found: Option<(f64, usize)>, limited: String| match found {
        Some((kmh, gear)) => format!("{} ({} gear{limited})", units.speed(kmh, 0), ordinal(gear)),
        None => "no speed".to_owned(),
    };
    let limiter = report.continuous.and_then(|(_, gear)| report.gears[gear - 1].continuous_by);
    let limited = limiter.map_or_else(String::new, |by| format!(", limited by {by}"));
    text.push_str(&format!(
        " Highest continuous speed: {}; for this length with nothing cutting back: {}.",
        fastest(report.continuous, limited),
        fastest(report.for_length, String::new())
    ));
    text
}

fn limits(report: &ClimbReport, prepared: &Prepared, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    let best = report.best();
    let controller = &prepared.car.parts().controller;
    let pack = &prepared.car.parts().pack;
    let mut table = Table::new(&["", ">reached", ">limit"]);
    let warning = |c: Option<f64>| c.map_or_else(|| "none".to_owned(), |c| units.temperature(c));
    let amps = |a: f64| format!("{} A", number(a, 0));
    table.row([
        "winding (cuts back from)".to_owned(),
        units.temperature(best.peak.winding_c),
        warning(Some(report.warnings.winding_c)),
    ]);
    table.row([
        "heat sink (cuts back from)".to_owned(),
        units.temperature(best.peak.heat_sink_c),
        warning(Some(report.warnings.heat_sink_c)),
    ]);
    table.row([
        "cells (cut back from)".to_owned(),
        units.temperature(best.peak.cells_c),
        warning(report.warnings.cells_c),
    ]);
    for (name, c) in prepared.facts.boxes.iter().zip(best.peak.boxes_c.each_c()) {
        table.row([format!("cells, {name}"), units.temperature(*c), String::new()]);
    }
    table.row([
        "motor current".to_owned(),
        amps(best.peak_motor_a),
        amps(controller.motor_current_a),
    ]);
    table.row([
        "pack current, controller".to_owned(),
        amps(best.peak_pack_a),
        amps(controller.pack_current_a),
    ]);
    table.row([
        "pack current, cells continuous".to_owned(),
        amps(best.pack_a),
        amps(pack.discharge_a()),
    ]);
    table.row([
        "lowest cell".to_owned(),
        format!("{} V", number(best.low_cell_v, 2)),
        format!("{} V", number(pack.least_min_v(), 2)),
    ]);
    table.row([
        "charge left".to_owned(),
        format!("{} %", number(best.charge_left_pct, 0)),
        format!("{} %", number(units::pct_from_share(pack.min_charge), 0)),
    ]);
    output.table(&table)
}
