//! `descent`: a long way down, in every gear.

use crate::commands::climb::HillArgs;
use crate::failure::Failure;
use crate::input::Input;
use crate::measure::{Units, clock, number, ordinal};
use crate::output::Output;
use crate::picture_file::PictureArg;
use crate::pictures::{Look, road};
use crate::series::begin;
use crate::table::Table;
use scenarios::Prepared;
use scenarios::runs::descent::{self, DescentReport, DescentRun, LiftedOff};
use sim_core::climb::Hill;
use sim_core::descent::DescentEnding;
use std::path::{Path, PathBuf};

/// Arguments of `descent`. What is left out comes from the scenario's pass, or else its climb; the
/// slope goes down whatever its sign.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    input: Input,

    #[command(flatten)]
    hill: HillArgs,

    /// Writes the descent in the chosen gear to a CSV file.
    #[arg(long, value_name = "FILE.csv")]
    series: Option<PathBuf>,

    #[command(flatten)]
    picture: PictureArg,
}

/// Goes down.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    let prepared = args.input.prepare()?;
    let own_pass = prepared.drives.pass.is_some();
    let hill = args.hill.hill(&prepared, own_pass, output.units)?;
    let files = (args.series.as_deref(), &args.picture);
    let report = go_down(&prepared, &hill, files, output.units)?;
    if output.json {
        return output.document(&report);
    }
    show(&prepared, &report, output)
}

/// Goes down a hill, whatever the sign of its slope.
pub fn go_down(
    prepared: &Prepared,
    hill: &Hill,
    (series_file, picture): (Option<&Path>, &PictureArg),
    units: Units,
) -> Result<DescentReport, Failure> {
    let setup = prepared.setup();
    let series = begin(prepared, series_file)?;
    let frame = picture.begin_for(prepared)?;
    let report = prepared.vouched(descent::report(&setup, hill)?)?;
    if let Some(mut series) = series {
        let Some(gear) = report.chosen else {
            let text = "--series needs a gear, and the motor turns too fast in each";
            return Err(Failure::Arguments(text.to_owned()));
        };
        descent::recorded(&setup, hill, gear - 1, &mut series)?;
        series.save()?;
    }
    if let Some(frame) = frame {
        let run = match report.chosen {
            Some(gear) => descent::history(&setup, hill, gear - 1)?,
            None => Vec::new(),
        };
        let look = Look::wide(&prepared.name, units);
        frame.save(&road::of_descent(&report, &run, None, look))?;
    }
    Ok(report)
}

/// Tells of a descent.
pub fn show(
    prepared: &Prepared,
    report: &DescentReport,
    output: &mut Output,
) -> Result<(), Failure> {
    let units = output.units;
    output.text(format!(
        "{}: down {} % at {} for {}, {} lower",
        prepared.name,
        number(report.grade_pct, 1),
        units.speed(report.speed_kmh, 0),
        units.distance(report.distance_km, 1),
        units.height(report.height_m)
    ))?;
    let kwh = number(report.held_kwh.abs(), 2);
    let rest = if report.held_kwh < 0.0 {
        format!("take all of it and {kwh} kWh more")
    } else {
        format!("leave {kwh} kWh of it to be held")
    };
    output.said(format!(
        "From {} % charge, cells at {}, air at {}. The height gives {} kWh; rolling and air {rest}.",
        number(report.from_charge_pct, 0),
        units.temperature(report.from_cells_c),
        units.temperature(report.air_c),
        number(report.height_kwh, 2),
    ))?;
    gears(report, output)?;
    output.said(
        "Lifted off: the speed at which the slope leaves the car with both pedals up, at the top. \
         Mean and peak are of the friction brakes; cut back is regen.",
    )?;
    output.said(verdict(report, units))?;
    for row in &report.gears {
        if let Some(run) = row.run.as_ref().filter(|run| run.ending != DescentEnding::Foot) {
            output.said(format!(
                "{} gear ends after {}, in {}: {}.",
                ordinal(row.gear),
                units.distance(run.distance_km, 1),
                clock(run.time_s),
                if run.ending == DescentEnding::Empty {
                    "the pack was empty"
                } else {
                    "the car stood"
                }
            ))?;
        }
    }
    output.said(format!(
        "One stop from {} at {} by the friction brakes alone: {} on the level, {} on this slope.",
        units.speed(report.stop.speed_kmh, 0),
        units.of(report.stop.deceleration_mps2, "m/s²", 1),
        units.of(report.stop.level_kj, "kJ", 0),
        units.of(report.stop.slope_kj, "kJ", 0)
    ))?;
    output.heading("Not modelled")?;
    report.not_modelled.iter().try_for_each(|line| output.said(format!("- {line}")))?;
    output.heading("Cautions")?;
    report.cautions.iter().try_for_each(|line| output.said(format!("- {line}")))
}

/// Where lifting off leads.
fn lifted_off(run: &DescentRun, units: Units) -> String {
    match (run.lift_off, run.lift_off_kmh) {
        (_, Some(kmh)) => units.bare_speed(kmh),
        (LiftedOff::Stops, _) => "stops".to_owned(),
        _ => "runs away".to_owned(),
    }
}

fn gears(report: &DescentReport, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    let lifted = format!(">lifted off {}", units.speed_unit());
    let mut table = Table::new(&[
        "gear",
        ">rpm",
        &lifted,
        ">regen kWh",
        ">friction kWh",
        ">mean kW",
        ">peak kW",
        "cut back",
        ">pack A",
        ">charge",
        ">winding",
        ">cells",
    ]);
    for row in &report.gears {
        let mark = if Some(row.gear) == report.chosen { "*" } else { "" };
        let mut cells = vec![format!("{}{mark}", ordinal(row.gear)), number(row.motor_rpm, 0)];
        match &row.run {
            None => cells.push("over rpm".to_owned()),
            Some(run) => cells.extend([
                lifted_off(run, units),
                number(run.regen_kwh, 2),
                number(run.friction_kwh, 2),
                number(run.mean_friction_kw, 1),
                number(run.peak_friction_kw, 1),
                match run.cut_back_at_s {
                    Some(s) if s < 0.5 => "at once".to_owned(),
                    Some(s) => format!("at {}", clock(s)),
                    None => "no".to_owned(),
                },
                number(run.peak_charge_a, 0),
                format!("{} %", number(run.charge_to_pct, 0)),
                units.temperature(run.peak.winding_c),
                units.temperature(run.peak.cells_c),
            ]),
        }
        cells.resize(12, String::new());
        table.row(cells);
    }
    output.table(&table)
}

/// Which gear spares the brakes, and why regen does not take all.
fn verdict(report: &DescentReport, units: Units) -> String {
    let found = report.gears.iter().find(|row| Some(row.gear) == report.chosen);
    let Some((row, run)) = found.and_then(|row| Some((row, row.run.as_ref()?))) else {
        return "The motor would turn too fast in every gear: go down more slowly.".to_owned();
    };
    let gear = ordinal(row.gear);
    let speed = units.speed(report.speed_kmh, 0);
    let alone = if run.lift_off_mps2 <= 0.0 {
        format!("lifting off alone holds {speed} or less")
    } else {
        format!("lifting off alone does not hold {speed}")
    };
    let friction = if run.friction_kwh < 5e-4 {
        "the friction brakes have nothing to do".to_owned()
    } else {
        format!(
            "the friction brakes take {} % of what must be held, {} kW on average, as {}",
            number(run.friction_share_pct, 0),
            number(run.mean_friction_kw, 1),
            run.cut_back_words
        )
    };
    format!("{gear} gear spares the brakes most: {alone} at the top, and {friction}.")
}
