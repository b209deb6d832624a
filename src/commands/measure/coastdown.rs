//! `measure coastdown`: what holds the car back, from runs in which it rolls free.

use super::{Measured, each_once, place, residuals, sources};
use crate::commands::today;
use crate::failure::Failure;
use crate::measure::{Units, number};
use crate::output::Output;
use crate::table::Table;
use cycles::Recording;
use scenarios::Prepared;
use scenarios::measured::coast_down::{
    CoastDownReport, Estimate, More, Recorded, TestDay, Tested, USEFUL_SHARE, Way, Ways, coast_down,
};
use scenarios::measured::taken_in::{Learning, learnt};
use scenarios::{demo, units};
use schemars::JsonSchema;
use serde::Serialize;
use std::path::{Path, PathBuf};

/// Arguments of `measure coastdown`.
///
/// Recordings of speed by time (CSV with units in the header, or GPX) in which the car rolls in neutral.
/// What comes before and after the coasting may stand in them. The runs of one recording are taken to go
/// to and fro in turn, unless positions or --back say which way they went; recordings of a run each need
/// one of both.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Recordings; left out, the demo's.
    #[arg(value_name = "FILE")]
    files: Vec<PathBuf>,

    /// Recordings that went the other way; then all others went one way.
    #[arg(long, value_name = "FILE", num_args = 1..)]
    back: Vec<PathBuf>,

    #[command(flatten)]
    car: Measured,

    /// Mass of the car as it rolled, people and load included, kg; the demo's may be left out.
    #[arg(long, value_name = "KG", allow_negative_numbers = true)]
    mass_kg: Option<f64>,

    /// Temperature of the air, °C; left out, the scenario's.
    #[arg(long, value_name = "C", allow_negative_numbers = true)]
    air_c: Option<f64>,

    /// Altitude of the road, m; left out, the scenario's.
    #[arg(long, value_name = "M", allow_negative_numbers = true)]
    altitude_m: Option<f64>,

    /// Pressure of the air at the road, kPa; left out, the altitude's.
    #[arg(long, value_name = "KPA", allow_negative_numbers = true)]
    pressure_kpa: Option<f64>,

    /// File for what was learnt; left out, `measured/coast-down-DATE.json` beside the build.
    #[arg(long, value_name = "FILE.json")]
    out: Option<PathBuf>,
}

/// What a coast-down tells of a car.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Report {
    /// The car.
    car: String,
    /// What it tells.
    #[serde(flatten)]
    told: CoastDownReport,
    /// How recordings were understood where that was not plain.
    notes: Vec<String>,
    /// The file of what was learnt, if one was written.
    written: Option<String>,
}

/// Measures.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    let prepared = args.car.input().prepare()?;
    if args.mass_kg.is_none() && args.car.build.is_some() {
        return Err(Failure::Arguments(format!(
            "--mass-kg is not given, and the mass of the car as it rolled is needed, with people and load \
             (the build with its load has {} kg, a donor another mass): a mass that is wrong makes all \
             forces wrong",
            number(prepared.car.parts().chassis.mass_kg, 0)
        )));
    }
    let day = TestDay {
        mass_kg: args.mass_kg,
        air_c: args.air_c,
        altitude_m: args.altitude_m,
        pressure_kpa: args.pressure_kpa,
    };
    let tested = Tested::of(&prepared, &day)?;
    let (recorded, notes) = recordings(args)?;
    let told = coast_down(&recorded, &tested)?;
    let written = write(args, &told, &prepared)?;
    let car = prepared.name.clone();
    let report = Report { car, told, notes, written };
    if output.json {
        return output.document(&report);
    }
    show(&report, args, output)
}

fn recordings(args: &Args) -> Result<(Vec<Recorded>, Vec<String>), Failure> {
    let options = args.car.options()?;
    let mut notes = Vec::new();
    let mut of = |recording: Recording, way: Option<Way>| -> Result<Recorded, Failure> {
        let name = recording.path.display();
        notes.extend(recording.notes.iter().map(|note| format!("{name}: {note}")));
        Ok(Recorded::of(&recording, way).map_err(scenarios::measured::coast_down::Refused::from)?)
    };
    if args.files.is_empty() && args.back.is_empty() && args.car.build.is_none() {
        let (name, text) = demo::COAST_DOWN;
        let recording = Recording::read(Path::new(name), text.as_bytes(), &options)?;
        return Ok((vec![of(recording, None)?], notes));
    }
    each_once(args.files.iter().chain(&args.back))?;
    let one_way = (!args.back.is_empty()).then_some(Way::Out);
    let mut all = Vec::new();
    for file in &args.files {
        all.push(of(Recording::open(file, &options)?, one_way)?);
    }
    for file in &args.back {
        all.push(of(Recording::open(file, &options)?, Some(Way::Back))?);
    }
    Ok((all, notes))
}

/// Writes what was learnt, where it is asked for or a build is there that can take it.
fn write(
    args: &Args,
    told: &CoastDownReport,
    prepared: &Prepared,
) -> Result<Option<String>, Failure> {
    let date = today();
    let place = place(args.out.as_deref(), args.car.build.as_deref(), "coast-down", &date);
    // What is too wide to be used is written only where it is asked for.
    let Some(place) = place.filter(|_| told.useful || args.out.is_some()) else { return Ok(None) };
    let files: Vec<PathBuf> = args.files.iter().chain(&args.back).cloned().collect();
    let learning = Learning { date, sources: sources(&files, &place)? };
    let inputs: Vec<PathBuf> = files.into_iter().chain(prepared.files()).collect();
    learnt(told, prepared, learning)?.save(&place, &inputs)?;
    Ok(Some(place.display().to_string()))
}

fn show(report: &Report, args: &Args, output: &mut Output) -> Result<(), Failure> {
    let told = &report.told;
    let look = output.units;
    let each = |way: Way| told.runs.iter().filter(|run| run.way == way).count();
    output.text(format!("Coast-down of {}", report.car))?;
    let mass = match args.mass_kg {
        Some(_) => "as it rolled".to_owned(),
        None => "the demo's with its load".to_owned(),
    };
    output.said(format!(
        "{} and {}; mass {} kg, {mass}, and {} kg for what turns with the wheels; air of {} °C and \
         {} kPa, {} kg/m³.",
        counted(each(Way::Out), "run out"),
        counted(each(Way::Back), "back"),
        number(told.mass_kg, 0),
        number(told.turning_kg, 0),
        number(told.air_c, 0),
        number(told.pressure_kpa, 1),
        number(told.air_density_kg_per_m3, 3),
    ))?;
    report.notes.iter().try_for_each(|note| output.text(look.said(note)))?;

    output.heading("Runs")?;
    let mut table = Table::new(&["recording", "way", ">from", ">to", ">speeds", ">used"]);
    for run in &told.runs {
        table.row([
            run.file.clone(),
            if run.way == Way::Out { "out" } else { "back" }.to_owned(),
            format!("{} s", number(run.from_s, 0)),
            format!("{} s", number(run.to_s, 0)),
            format!("{} to {}", look.bare_speed(run.from_kmh), look.speed(run.to_kmh, 0)),
            format!("{} %", number(run.used_pct, 0)),
        ]);
    }
    output.table(&table)?;
    for found in &told.findings {
        output.text(format!(
            "{}, {} to {} s: {}.",
            found.file,
            number(found.from_s, 1),
            number(found.to_s, 1),
            found.what
        ))?;
    }

    output.heading(look.said("What holds the car back, at 20 °C and 100 kPa"))?;
    output.table(&figures(told, look))?;
    output.said(format!(
        "Rolling resistance is that of all that rolls: tyres, bearings and what turns with the wheels in \
         neutral. It and the drag area hang together by {}.",
        number(told.rolling_with_drag, 2)
    ))?;
    verdict(told, output)?;

    output.heading(format!(
        "Recorded less fitted, {}, by speed: o out, x back, * both",
        look.speed_unit()
    ))?;
    residuals::picture(&told.residuals, look).iter().try_for_each(|line| output.line(line))?;
    output.said(format!(
        "One recorded speed scatters by {} km/h{}; the wind by {} km/h from run to run.",
        number(told.noise_kmh, 2),
        match told.alike {
            alike if alike > 1.05 => {
                format!(", and {} in a row tell as much as one", number(alike, 1))
            }
            _ => String::new(),
        },
        number(told.wind_scatter_kmh, 1)
    ))?;
    regulation(told, output)?;
    take_in(report, args, output)
}

fn counted(count: usize, what: &str) -> String {
    match (count, what.strip_prefix("run ")) {
        (1, _) | (_, None) => format!("{count} {what}"),
        (_, Some(rest)) => format!("{count} runs {rest}"),
    }
}

fn figures(told: &CoastDownReport, look: Units) -> Table {
    let mut table = Table::new(&["what", ">value", ">95 % interval", ">standard error"]);
    let mut row = |what: &str, estimate: &Estimate, by: f64, decimals: usize, sign: &str| {
        let shown = |value: f64| number(by * value, decimals);
        let sign = if sign.is_empty() { String::new() } else { format!(" {sign}") };
        table.row([
            what.to_owned(),
            format!("{}{sign}", shown(estimate.value)),
            format!("{} to {}", shown(estimate.low), shown(estimate.high)),
            number(by * estimate.standard_error, decimals + 1),
        ]);
    };
    let (area, speed) = (look.value(1.0, "m²"), look.value(1.0, "km/h"));
    row("rolling resistance, share of the weight", &told.rolling, 1.0, 4, "");
    row("drag area", &told.drag_area_m2, area, if area > 2.0 { 2 } else { 3 }, look.sign("m²"));
    match look {
        Units::Metric => {
            row("f0", &told.f0_n, 1.0, 1, "N");
            row("f1", &told.f1_n_per_kmh, 1.0, 3, "N/(km/h)");
            row("f2", &told.f2_n_per_kmh2, 1.0, 5, "N/(km/h)²");
        }
        Units::Us => {
            let lbf = units::lbf_from_n(1.0);
            row("a", &told.f0_n, lbf, 2, "lbf");
            row("b", &told.f1_n_per_kmh, lbf / speed, 4, "lbf/mph");
            row("c", &told.f2_n_per_kmh2, lbf / speed / speed, 6, "lbf/mph²");
        }
    }
    row("head wind of the runs out", &told.head_wind_kmh, speed, 1, look.speed_unit());
    row("slope for the runs out", &told.slope_pct, 1.0, 3, "%");
    table
}

/// Whether the figures serve, and what would make them.
fn verdict(told: &CoastDownReport, output: &mut Output) -> Result<(), Failure> {
    let pct = |estimate: &Estimate| number(units::pct_from_share(estimate.share()), 0);
    let known = format!(
        "Rolling resistance is known within ±{} %, drag area within ±{} %",
        pct(&told.rolling),
        pct(&told.drag_area_m2)
    );
    let wide = [told.rolling, told.drag_area_m2].iter().any(|it| it.share() > USEFUL_SHARE);
    output.said(match (wide, told.useful) {
        (true, _) => format!(
            "{known}: too wide to choose parts by, as cars of one class differ by about ±10 %."
        ),
        (false, true) => format!("{known}: narrow enough to choose parts by."),
        (false, false) => format!("{known}, as far as the runs go."),
    })?;
    told.doubts.iter().try_for_each(|doubt| output.said(doubt))?;
    if told.ways == Ways::InTurn && told.both_ways {
        output.said(
            "The runs of a recording were taken to go out and back in turn: nothing in it says so, and \
             --back says otherwise.",
        )?;
    }
    if told.ways == Ways::Unknown {
        output.said(
            "Nothing tells which way the recordings of a run each went, and they were taken as all one \
             way: name those that went the other way after --back.",
        )?;
    } else if !told.both_ways {
        output.said(
            "All runs went one way, so that wind and slope are in what they tell: only what is usual of \
             both was allowed for. Runs the other way, on the same road, would take them out.",
        )?;
    }
    for more in &told.more {
        output.said(more_words(more, told))?;
    }
    if wide && told.more.is_empty() {
        output.said(
            "More runs of this kind, 30 each way and from 130 km/h, would not do: a calmer day, a leveller \
             road or a steadier sensor would.",
        )?;
    }
    Ok(())
}

fn more_words(more: &More, told: &CoastDownReport) -> String {
    let starts = told.runs.iter().map(|run| run.from_kmh).fold(0.0, f64::max);
    let each_way = told.runs.len().div_ceil(2);
    let what = match (more.from_kmh > starts + 1.0, more.runs_each_way > each_way) {
        (true, false) => format!("As many runs, begun at {} km/h", number(more.from_kmh, 0)),
        (true, true) => format!(
            "{} runs each way, begun at {} km/h",
            more.runs_each_way,
            number(more.from_kmh, 0)
        ),
        _ => format!(
            "{} runs each way from {} km/h, {} more than there are,",
            more.runs_each_way,
            number(more.from_kmh, 0),
            (2 * more.runs_each_way).saturating_sub(told.runs.len())
        ),
    };
    format!(
        "{what} would bring rolling resistance to ±{} % and drag area to ±{} %.",
        number(more.rolling_pct, 0),
        number(more.drag_area_pct, 0)
    )
}

fn regulation(told: &CoastDownReport, output: &mut Output) -> Result<(), Failure> {
    let look = output.units;
    output.heading("Statistical accuracy by UN GTR 15, Annex 4: at most 3 %")?;
    let Some(accurate) = told.accurate else {
        return output
            .said("No speed has three pairs of runs, of which it takes at least that many.");
    };
    let mut table = Table::new(&[">at", ">pairs", ">time for 10 km/h", ">accuracy"]);
    if look == Units::Us {
        table = Table::new(&[">at", ">pairs", ">time for 6.2 mph", ">accuracy"]);
    }
    for speed in &told.accuracy {
        table.row([
            look.speed(speed.speed_kmh, 0),
            speed.pairs.to_string(),
            format!("{} s", number(speed.time_s, 2)),
            speed.accuracy_pct.map_or("—".to_owned(), |pct| format!("{} %", number(pct, 1))),
        ]);
    }
    output.table(&table)?;
    output.said(match accurate {
        true => "It is met at every speed that has three pairs.",
        false => {
            "It is not met at every speed: the criterion is of a certificate, and looks at each speed by \
             itself; the intervals above are of all speeds together."
        }
    })
}

fn take_in(report: &Report, args: &Args, output: &mut Output) -> Result<(), Failure> {
    output.heading("What was learnt")?;
    match &report.written {
        Some(file) => output.text(format!(
            "It stands in {file}. A build takes it in that names it in its list \"measured\", and any \
             command with --measured {file}."
        )),
        None if args.car.build.is_none() => {
            output.said("Nothing was written: --out FILE.json writes it, and --build says of which car.")
        }
        None => output.said(
            "Nothing was written, as it is not to be relied on; --out FILE.json writes it all the same.",
        ),
    }
}
