//! `measure drive`: recorded drives against what is predicted for them.

use super::fitted::{self, Bands, Learned};
use super::{Measured, each_once};
use crate::failure::{Failure, of};
use crate::input::{Changes, Input, overrides};
use crate::measure::{Units, clock, number, signed};
use crate::output::Output;
use crate::picture_file::PictureArg;
use crate::pictures::{Look, Picture, recorded};
use crate::table::Table;
use cycles::{Recording, RecordingOptions};
use scenarios::measured::comparison::{DrivesReport, Replay, replay};
use scenarios::measured::drive::RecordedDrive;
use scenarios::measured::{DriveCompared, FigureCompared, FigureTogether};
use scenarios::{Loaded, Override, demo};
use schemars::JsonSchema;
use serde::Serialize;
use std::path::{Path, PathBuf};

/// Arguments of `measure drive`.
///
/// Recordings of any of speed (or positions), elevation, pack volts and amperes, charge, temperatures,
/// heater, air and wind, as CSV of any spreadsheet or as GPX. Weather, charge and temperatures at the
/// start and the heater are taken from the recording where it has them, and from --set before that.
///
/// With --fit, what the drives tell of the car is written to a file. With that file as --measured, other
/// drives are told with the band that should hold 80 of 100 of them.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Recordings; left out, the demo's.
    #[arg(value_name = "FILE")]
    files: Vec<PathBuf>,

    #[command(flatten)]
    car: Measured,

    /// Fits the car to the drives, within the spreads of `bands`, and writes what was learnt.
    #[arg(long)]
    fit: bool,

    /// File for what was learnt; left out, `measured/drives-DATE.json` beside the build.
    #[arg(long, value_name = "FILE.json", requires = "fit")]
    out: Option<PathBuf>,

    #[command(flatten)]
    picture: PictureArg,
}

/// What recorded drives tell of a car.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Report {
    /// Predicted against recorded.
    #[serde(flatten)]
    compared: DrivesReport,
    /// The bands in which the drives should lie, where something was learnt of the car before.
    bands: Option<Bands>,
    /// What the drives tell of the car, where that was asked for.
    fit: Option<Learned>,
}

/// Compares.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    let set = overrides(&args.car.changes.set)?;
    let loaded = {
        let changes = Changes { set: Vec::new(), ..args.car.changes.clone() };
        Input { changes, ..args.car.input() }.load()?
    };
    if args.fit {
        each_once(args.files.iter())?;
    }
    let drives = drives(&args.files, &args.car.options()?, args.car.build.is_none())?;
    let car = loaded.with(&set).map_err(of("--set"))?;
    let inputs: Vec<PathBuf> = args.files.iter().cloned().chain(car.files()).collect();
    let frame = args.picture.begin(&inputs)?;
    let found = compared(&loaded, &set, &drives)?;
    if let Some(frame) = frame {
        frame.save(&pictures(&found, &drives, Look::wide("", output.units)))?;
    }
    let bands = fitted::bands(&loaded, &set, &drives, &car)?;
    let wrong = found.report.drives.iter().find(|drive| !drive.impossible.is_empty());
    if let (true, Some(drive)) = (args.fit, wrong) {
        return Err(Failure::Arguments(format!(
            "{}: cannot be right, so nothing is fitted to it: {} Mend it or leave it out.",
            cycles::file(Path::new(&drive.file)),
            drive.impossible.join(" ")
        )));
    }
    let learn =
        || fitted::learn(&loaded, &set, &drives, (&args.car, &args.files, args.out.as_deref()));
    let fit = args.fit.then(learn).transpose()?;
    let report = Report { compared: found.report, bands, fit };
    if output.json {
        return output.document(&report);
    }
    show(&report.compared, output)?;
    if let Some(bands) = &report.bands {
        fitted::show_bands(bands, output)?;
    }
    if let Some(fit) = &report.fit {
        fitted::show(fit, &args.car, output)?;
    }
    Ok(())
}

/// The recordings, ready to be driven; without any, that of the demo where the car is the demo's.
pub fn drives(
    files: &[PathBuf],
    options: &RecordingOptions,
    is_demo: bool,
) -> Result<Vec<RecordedDrive>, Failure> {
    if files.is_empty() {
        if !is_demo {
            let text = "measure drive: which recordings? needed: at least one file".to_owned();
            return Err(Failure::Arguments(text));
        }
        let (name, text) = demo::LOG;
        let recording = Recording::read(Path::new(name), text.as_bytes(), options)?;
        return Ok(vec![RecordedDrive::of(recording)?]);
    }
    let one = |file: &PathBuf| Ok(RecordedDrive::of(Recording::open(file, options)?)?);
    files.iter().map(one).collect()
}

/// Predicts and compares. What is refused of a recording is named by its file.
pub fn compared(
    loaded: &Loaded,
    set: &[Override],
    drives: &[RecordedDrive],
) -> Result<Replay, Failure> {
    replay(loaded, set, drives).map_err(|refused| {
        let unfit = drives.iter().find_map(|drive| {
            let fault = drive.prepare(loaded, &[]).err()?;
            Some(format!("{}: as recorded, {fault}", cycles::file(&drive.recording.path)))
        });
        match unfit {
            Some(text) => Failure::Arguments(text),
            None => of("--set")(refused),
        }
    })
}

/// A picture of each drive, one under the other.
pub fn pictures(found: &Replay, drives: &[RecordedDrive], look: Look) -> Picture {
    let each = found.report.drives.iter().zip(drives).zip(&found.predictions);
    let drawn = each.map(|((compared, drive), prediction)| {
        recorded::picture(compared, drive, prediction, None, look)
    });
    let none = || Picture::empty("recorded", "Recorded drives", "There are none.", look);
    drawn.reduce(Picture::over).unwrap_or_else(none)
}

/// Decimals of a value and of a difference in a unit.
fn decimals(figure: &str, unit: &str) -> usize {
    match unit {
        "kWh" | "kW" => 2,
        "V" if figure.contains("cell") => 3,
        "V" | "%" | "mΩ" | "K" | "km/h" => 1,
        _ => 0,
    }
}

/// What a difference is told in: per cent where sums tell, else its unit.
fn told(figure: &FigureCompared, units: Units) -> String {
    match figure.difference_pct {
        Some(pct) => format!("{} %", signed(pct, 1)),
        None => {
            let unit = if figure.unit == "°C" { "K" } else { figure.unit };
            let digits = decimals(figure.figure, unit);
            format!("{} {}", signed(units.value(figure.difference, unit), digits), units.sign(unit))
        }
    }
}

fn show(report: &DrivesReport, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    match report.drives.as_slice() {
        [one] => show_one(&report.car, one, output)?,
        several => show_several(report, several, output)?,
    }
    if !report.regimes.is_empty() {
        output.heading("Where one thing rules")?;
        output.table(&regimes(report, units))?;
    }
    if !report.suggestions.is_empty() {
        output.heading("What the differences suggest")?;
        report.suggestions.iter().try_for_each(|text| output.said(text))?;
    }
    Ok(())
}

/// The figures of one drive, and its channels.
pub fn show_one(car: &str, drive: &DriveCompared, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    output.text(format!("{car}: {}", drive.file))?;
    output.text(about(drive, units))?;
    if let Some(chief) = chief(drive, units) {
        output.text(chief)?;
    }
    output.heading("Predicted against recorded")?;
    output.table(&figures(drive, units))?;
    coarse(drive).iter().try_for_each(|text| output.text(text))?;
    if !drive.channels.is_empty() {
        output.heading("Channel by channel, predicted less recorded")?;
        output.table(&channels(drive, units))?;
    }
    notes(drive, output)
}

/// What was not compared, and what is to be known of the recording.
fn notes(drive: &DriveCompared, output: &mut Output) -> Result<(), Failure> {
    let wrong = drive.impossible.iter().map(|why| format!("It cannot be right: {why}"));
    let others = drive.not_compared.iter().chain(&drive.said).cloned();
    let all: Vec<String> = wrong.chain(others).collect();
    if all.is_empty() {
        return Ok(());
    }
    output.heading("The recording")?;
    all.iter().try_for_each(|text| {
        let said = output.units.said(text);
        output.text(said)
    })
}

/// How far, how long, in what weather.
fn about(drive: &DriveCompared, units: Units) -> String {
    let mut about = format!(
        "{} in {}, {} up and {} down",
        units.distance(drive.distance_km, 1),
        clock(drive.time_s),
        units.height(drive.climb_m),
        units.height(drive.descent_m)
    );
    if let Some(began) = &drive.began {
        about += &format!(", from {began}");
    }
    if let Some(air_c) = drive.air_c {
        about += &format!("; air {}", units.temperature(air_c));
    }
    if let Some(wind_kmh) = drive.wind_kmh {
        about += &format!("; wind {}", units.speed(wind_kmh, 0));
    }
    if let Some(load) = drive.load {
        about += &format!("; {load} as recorded, in place of the car's own");
    }
    if drive.behind_kmh > BEHIND_KMH {
        about +=
            &format!(". The car on paper fell up to {} behind", units.speed(drive.behind_kmh, 0));
    }
    match drive.not_done {
        Some(why) => format!("{about}. Not driven to its end: {why}."),
        None => about + ".",
    }
}

/// How far a car on paper may fall behind before that is told, km/h.
const BEHIND_KMH: f64 = 5.0;

/// The figures that tell most, in one line.
fn chief(drive: &DriveCompared, units: Units) -> Option<String> {
    let fine = |name: &&&str| drive.figure(name).is_some_and(|figure| figure.coarse.is_none());
    let said: Vec<String> = CHIEF
        .iter()
        .filter(fine)
        .filter_map(|name| Some(format!("{name} {}", told(drive.figure(name)?, units))))
        .take(5)
        .collect();
    (!said.is_empty()).then(|| format!("Predicted against recorded: {}.", said.join(", ")))
}

/// Figures by how much they tell, with the heading of their column.
const CHIEF: [&str; 9] = [
    "energy at the pack",
    "charge used",
    "winding peak",
    "lowest cell voltage",
    "lowest pack voltage",
    "heat sink peak",
    "cells peak",
    "of it put back",
    "volts per ampere, in seconds",
];
const HEADINGS: [&str; 9] = [
    ">energy",
    ">charge",
    ">winding",
    ">low cell",
    ">low pack",
    ">heat sink",
    ">cells",
    ">put back",
    ">V/A",
];
/// Most columns of figures.
const MOST_COLUMNS: usize = 6;

fn figures(drive: &DriveCompared, units: Units) -> Table {
    let mut table = Table::new(&["figure", ">recorded", ">predicted", ">difference"]);
    for figure in &drive.figures {
        let digits = decimals(figure.figure, figure.unit);
        let value = |v: f64| units.of(v, figure.unit, digits);
        let mark = if figure.coarse.is_some() { "about " } else { "" };
        table.row([
            figure.figure.to_owned(),
            value(figure.recorded),
            value(figure.predicted),
            format!("{mark}{}", told(figure, units)),
        ]);
    }
    table
}

/// Figures that mislead, a sentence each.
fn coarse(drive: &DriveCompared) -> Vec<String> {
    let mut by_reason: Vec<(&str, Vec<&str>)> = Vec::new();
    for figure in &drive.figures {
        let Some(why) = figure.coarse.as_deref() else { continue };
        match by_reason.iter_mut().find(|(known, _)| *known == why) {
            Some((_, names)) => names.push(figure.figure),
            None => by_reason.push((why, vec![figure.figure])),
        }
    }
    let sentence = |(why, names): &(&str, Vec<&str>)| {
        format!("Too coarse to build on ({why}): {}.", names.join("; "))
    };
    by_reason.iter().map(sentence).collect()
}

fn channels(drive: &DriveCompared, units: Units) -> Table {
    let mut table =
        Table::new(&["channel", "column", ">rows", ">mean", ">typical", ">worst", ">at"]);
    for channel in &drive.channels {
        let digits = decimals(channel.channel, channel.unit);
        let value = |v: f64| units.value(v, channel.unit);
        table.row([
            channel.channel.to_owned(),
            cycles::short(&channel.column).to_string(),
            channel.rows.to_string(),
            format!("{} {}", signed(value(channel.mean), digits), units.sign(channel.unit)),
            number(value(channel.rms), digits),
            signed(value(channel.worst), digits),
            clock(channel.worst_at_s),
        ]);
    }
    table
}

fn show_several(
    report: &DrivesReport,
    drives: &[DriveCompared],
    output: &mut Output,
) -> Result<(), Failure> {
    let units = output.units;
    output.text(format!("{}: {} recorded drives", report.car, drives.len()))?;
    let has = |name: &str| drives.iter().any(|drive| drive.figure(name).is_some());
    let shown: Vec<usize> =
        (0..CHIEF.len()).filter(|at| has(CHIEF[*at])).take(MOST_COLUMNS).collect();
    let mut headings = vec!["drive", ">distance", ">time", ">air"];
    headings.extend(shown.iter().map(|at| HEADINGS[*at]));
    let mut table = Table::new(&headings);
    for drive in drives {
        let mut row = vec![
            name_of(&drive.file),
            units.distance(drive.distance_km, 1),
            clock(drive.time_s),
            drive.air_c.map_or_else(|| "—".to_owned(), |c| units.temperature(c)),
        ];
        row.extend(shown.iter().map(|at| match drive.figure(CHIEF[*at]) {
            None => "—".to_owned(),
            Some(figure) if figure.coarse.is_some() => format!("~{}", told(figure, units)),
            Some(figure) => told(figure, units),
        }));
        table.row(row);
    }
    let cell = |at: &usize, of: fn(&FigureTogether) -> f64| {
        let together = report.together.iter().find(|one| one.figure == CHIEF[*at]);
        together.map_or_else(|| "—".to_owned(), |one| with_unit(one, of(one), units))
    };
    for (name, of) in [
        ("median", (|one| one.median) as fn(&FigureTogether) -> f64),
        ("all together", |one| one.of_sum_pct.unwrap_or(f64::NAN)),
    ] {
        let mut row = vec![name.to_owned(), String::new(), String::new(), String::new()];
        row.extend(shown.iter().map(|at| cell(at, of)));
        table.row(row);
    }
    output.heading("Predicted less recorded")?;
    output.table(&table)?;
    for drive in drives {
        let rough = coarse(drive);
        let late = drive.behind_kmh > BEHIND_KMH || drive.not_done.is_some();
        let wrong = drive.impossible.iter().map(|why| format!("It cannot be right: {why}"));
        let others = drive.not_compared.iter().chain(&drive.said).chain(&rough).cloned();
        let told: Vec<String> = wrong.chain(others).map(|text| units.said(&text)).collect();
        if late || !told.is_empty() {
            output.heading(name_of(&drive.file))?;
            output.text(about(drive, units))?;
            told.iter().try_for_each(|text| output.text(text))?;
        }
    }
    Ok(())
}

/// A difference over several drives in its unit.
fn with_unit(one: &FigureTogether, value: f64, units: Units) -> String {
    if value.is_nan() {
        return "—".to_owned();
    }
    let value = units.value(value, one.unit);
    format!("{} {}", signed(value, decimals(one.figure, one.unit)), units.sign(one.unit))
}

fn name_of(file: &str) -> String {
    Path::new(file).file_name().map_or_else(|| file.to_owned(), |n| n.to_string_lossy().into())
}

fn regimes(report: &DrivesReport, units: Units) -> Table {
    let mut table = Table::new(&[
        "where",
        ">time",
        ">distance",
        ">recorded",
        ">predicted",
        ">difference",
        "what rules",
    ]);
    for one in &report.regimes {
        let kw = |kwh: f64| format!("{} kW", number(3600.0 * kwh / one.time_s, 2));
        table.row([
            units.said(one.regime),
            clock(one.time_s),
            if one.distance_km < 0.1 {
                "—".to_owned()
            } else {
                units.distance(one.distance_km, 1)
            },
            kw(one.recorded_kwh),
            kw(one.predicted_kwh),
            format!("{} %", signed(one.difference_pct, 1)),
            one.rules.to_owned(),
        ]);
    }
    table
}
