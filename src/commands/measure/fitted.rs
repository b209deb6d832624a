//! `measure drive --fit`: what drives tell of the car; and, where something was learnt, the bands in
//! which drives should lie.

use super::{Measured, place, sources};
use crate::commands::today;
use crate::failure::Failure;
use crate::measure::{number, signed};
use crate::output::Output;
use crate::table::Table;
use cycles::Signal;
use scenarios::learnt::{Measure, TestConditions, sha256_of};
use scenarios::measured::drive::RecordedDrive;
use scenarios::measured::fit::{self, Fit, Told};
use scenarios::measured::judged::{CELLS_SD_K, Judged, Logged, Together, Total};
use scenarios::{Loaded, Override, Prepared, units};
use schemars::JsonSchema;
use serde::Serialize;
use std::path::{Path, PathBuf};

/// Fewer drives than this leave wind and people in what is told of the car (common practice, no source).
const FEW_DRIVES: usize = 5;

/// Drives with the bands in which they should lie, of a car that something was learnt of.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Bands {
    /// The drives.
    drives: Vec<Banded>,
    /// All of them together.
    together: Option<Together>,
    /// Drives that cannot be judged, each in a sentence.
    left_out: Vec<String>,
}

/// A drive with its band.
#[derive(Debug, Serialize, JsonSchema)]
struct Banded {
    #[serde(flatten)]
    judged: Judged,
    /// Error of the prediction, %.
    error_pct: f64,
    /// Whether the band holds what was recorded.
    holds: bool,
}

/// What drives told, and where it was written.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Learned {
    #[serde(flatten)]
    fit: Fit,
    /// The file of what was learnt, if one was written.
    written: Option<String>,
}

/// The bands, where the car holds something that was measured.
pub fn bands(
    loaded: &Loaded,
    set: &[Override],
    drives: &[RecordedDrive],
    car: &Prepared,
) -> Result<Option<Bands>, Failure> {
    if car.measured().is_empty() {
        return Ok(None);
    }
    let (mut judged, mut left_out) = (Vec::new(), Vec::new());
    for drive in drives {
        match Logged::of(drive, loaded, set) {
            Ok(logged) => judged.push(logged.judged()?),
            Err(why) => left_out.push(format!("{why}.")),
        }
    }
    let together = Together::of(&judged);
    let banded = |judged: Judged| {
        let (error_pct, holds) = (judged.error_pct(), judged.holds());
        Banded { judged, error_pct, holds }
    };
    let drives = judged.into_iter().map(banded).collect();
    Ok(Some(Bands { drives, together, left_out }))
}

/// Fits the car to the drives and writes what was learnt.
pub fn learn(
    loaded: &Loaded,
    set: &[Override],
    drives: &[RecordedDrive],
    (car, files, out): (&Measured, &[PathBuf], Option<&Path>),
) -> Result<Learned, Failure> {
    let before = loaded.put(set)?;
    for file in files {
        let learnt = sha256_of(file)?;
        if let Some(by) = before.taken_in().learnt_from(&learnt) {
            return Err(Failure::Arguments(format!(
                "{} was learnt from already, in {}, and would count twice; --set measured=null begins \
                 without what was learnt, or else leave the recording out",
                cycles::file(file),
                cycles::file(by.as_ref())
            )));
        }
    }
    let logged = drives.iter().map(|drive| Logged::of(drive, loaded, set));
    let fit = fit::fit(&logged.collect::<Result<Vec<_>, _>>()?)?;
    let date = today();
    let place = place(out, car.build.as_deref(), "drives", &date);
    let tells = fit.inputs.iter().any(|one| one.kept);
    let place = place.filter(|_| tells);
    if let Some(place) = &place {
        let prepared = loaded.with(set)?;
        let airs: Vec<f64> =
            drives.iter().filter_map(|drive| drive.recording.mean(Signal::Air)).collect();
        let mean_k = airs.iter().sum::<f64>() / airs.len() as f64;
        let conditions = TestConditions {
            air_c: (!airs.is_empty()).then(|| (units::c_from_k(mean_k) * 10.0).round() / 10.0),
            altitude_m: None,
            mass_kg: Some(prepared.car.parts().chassis.mass_kg.round()),
        };
        let inputs: Vec<PathBuf> = files.iter().cloned().chain(prepared.files()).collect();
        let learnt = fit.learnt(date, sources(files, place)?, Some(conditions));
        learnt.save(place, &inputs)?;
    }
    Ok(Learned { fit, written: place.map(|place| place.display().to_string()) })
}

fn unit(total: Total) -> (&'static str, usize) {
    match total {
        Total::EnergyKwh => ("kWh", 2),
        Total::ChargePct => ("%", 1),
    }
}

/// What is compared of drives.
fn heading(drives: &[Judged]) -> &'static str {
    match drives.first().map(|one| one.total) {
        Some(Total::ChargePct) => "charge used",
        _ => "energy at the pack",
    }
}

/// Shows drives with their bands.
pub fn show_bands(bands: &Bands, output: &mut Output) -> Result<(), Failure> {
    let judged: Vec<Judged> = bands.drives.iter().map(|one| one.judged.clone()).collect();
    output.heading(format!(
        "With what was learnt: {}, and the band that should hold 80 of 100 drives",
        heading(&judged)
    ))?;
    let mut table =
        Table::new(&["recording", ">recorded", ">predicted", ">off by", ">80 % band", "holds it"]);
    for Banded { judged, error_pct, holds } in &bands.drives {
        let (unit, digits) = unit(judged.total);
        let shown = |value: f64| number(value, digits);
        table.row([
            judged.name.clone(),
            format!("{} {unit}", shown(judged.recorded)),
            format!("{} {unit}", shown(judged.predicted)),
            format!("{} %", signed(*error_pct, 1)),
            format!("{} to {} {unit}", shown(judged.low), shown(judged.high)),
            if *holds { "yes" } else { "no" }.to_owned(),
        ]);
    }
    output.table(&table)?;
    output.said(
        "Here `predicted` includes what the drives that were learnt from took beyond the inputs, unlike \
         the comparison above.",
    )?;
    if let Some(all) = bands.together.filter(|all| all.drives > 1) {
        output.said(format!(
            "Together: median {} %, half of the drives within {} % of it, nine in ten within {} % of \
             what was recorded; the band holds {} of {}.",
            signed(all.median_pct, 1),
            number(all.deviation_pct, 1),
            number(all.within_pct, 1),
            all.held,
            all.drives
        ))?;
    }
    bands.left_out.iter().try_for_each(|text| output.text(text))
}

/// What an input's shift is counted in.
fn counted_in(told: &Told) -> &'static str {
    let is_share = told.input.fields.iter().any(|field| field.path.ends_with("_pct"));
    match told.input.measure {
        Measure::Percent => " %",
        Measure::Offset | Measure::Value if is_share => " points",
        Measure::Offset | Measure::Value => "",
    }
}

/// Shows what was learnt.
pub fn show(learned: &Learned, car: &Measured, output: &mut Output) -> Result<(), Failure> {
    let fit = &learned.fit;
    output.heading("What the drives tell of the car")?;
    let mut told: Vec<&Told> = fit.inputs.iter().filter(|one| one.told).collect();
    let strength = |one: &Told| (one.input.shift / one.input.sd).abs();
    told.sort_by(|a, b| strength(b).total_cmp(&strength(a)));
    if told.is_empty() {
        output.said("No input by itself: what moved, moved together.")?;
    } else {
        let mut table = Table::new(&["input", ">moved by", ">give or take", ">typical before"]);
        for one in &told {
            let (of, input) = (counted_in(one), &one.input);
            table.row([
                input.name.clone(),
                format!("{}{of}", signed(input.shift, 1)),
                format!("± {}{of}", number(2.0 * input.sd, 1)),
                format!("± {}{of}", number(2.0 * input.typical_sd.unwrap_or(0.0), 1)),
            ]);
        }
        output.table(&table)?;
        output.said("± is two standard deviations, as in `bands`.")?;
    }
    if fit.drives.len() < FEW_DRIVES {
        output.said(format!(
            "{} cannot tell the car from its day (wind, people, surface): log {FEW_DRIVES} or more, to \
             and fro, before a part is bought by this.",
            match fit.drives.len() {
                1 => "One drive".to_owned(),
                n => format!("{n} drives"),
            }
        ))?;
    }
    if fit.drives.iter().any(|one| one.cells_assumed) {
        output.said(format!(
            "Where the temperature of the cells was not recorded, they are taken to begin as warm as the \
             air, give or take {} K: cold cells and high resistance look alike.",
            number(CELLS_SD_K, 0)
        ))?;
    }
    output.heading("What they cannot tell")?;
    output.said(
        "Volts and amperes tell the resistance of cells and harness together, hardly each by itself; \
         amperes of a car that stands cannot tell its loads from the offset of their sensor.",
    )?;
    let moved = |one: &&Told| one.kept && !one.told;
    let words: Vec<String> = fit.inputs.iter().filter(moved).map(moved_along).collect();
    if !words.is_empty() {
        output
            .said(format!("Moved along with others, as wide as before: {}.", words.join(", ")))?;
    }
    let still: Vec<String> =
        fit.inputs.iter().filter(|one| !one.kept).map(|one| one.input.name.clone()).collect();
    if !still.is_empty() {
        output.said(format!(
            "Left as they were, as they hardly change what was recorded: {}.",
            still.join(", ")
        ))?;
    }
    if fit.widening > 1.2 {
        output.said(format!(
            "The car lies further from its file than is typical: spreads were taken {} times as wide.",
            number(fit.widening, 1)
        ))?;
    }
    drives(fit, output)?;
    output.heading("What was learnt")?;
    let is_nothing_told = fit.inputs.iter().all(|one| !one.told);
    if is_nothing_told {
        output.said(
            "No input by itself: these recordings hardly depend on any. Volts and amperes, each second, \
             on drives of half an hour tell more.",
        )?;
    }
    match &learned.written {
        Some(file) if is_nothing_told => output.text(format!(
            "What drives take beyond the inputs, and how they differ, stands in {file}. With --measured \
             {file}, `measure drive` says in which band other drives should lie."
        )),
        Some(file) => output.text(format!(
            "It stands in {file}. A build takes it in that names it in its list \"measured\", and any \
             command with --measured {file}; of other drives, `measure drive` then says in which band \
             they should lie."
        )),
        None if car.build.is_none() => output
            .said("Nothing was written: --out FILE.json writes it, and --build says of which car."),
        None => output.said("Nothing was written."),
    }
}

/// An input that moved though it was not told, with what it hangs together with.
fn moved_along(one: &Told) -> String {
    let moved = format!("{} {}{}", one.input.name, signed(one.input.shift, 1), counted_in(one));
    match &one.with {
        Some(with) if one.correlation.abs() > 0.2 => {
            format!("{moved} (with {with}: {})", signed(one.correlation, 1))
        }
        _ => moved,
    }
}

/// The drives before and after, and what differs from one to the next.
fn drives(fit: &Fit, output: &mut Output) -> Result<(), Failure> {
    let judged: Vec<Judged> = fit.drives.iter().map(|one| one.after.clone()).collect();
    output.heading(format!("The drives that it was learnt from: {}", heading(&judged)))?;
    let mut table = Table::new(&["recording", ">recorded", ">before", ">after", ">counts"]);
    for one in &fit.drives {
        let (unit, digits) = unit(one.after.total);
        table.row([
            one.after.name.clone(),
            format!("{} {unit}", number(one.after.recorded, digits)),
            format!("{} %", signed(one.before.error_pct(), 1)),
            format!("{} %", signed(one.after.error_pct(), 1)),
            number(one.weight, 1),
        ]);
    }
    output.table(&table)?;
    output.said(format!(
        "`counts` is the weight of a drive, 1 for one that fits as well as is expected; one that counts \
         hardly anything is left out of what follows. What differs from drive to drive (wind, people, \
         surface, heights that were recorded badly): a drive takes {} % beyond what the inputs explain, \
         and in 80 of 100 cases lies within ± {} % of that.",
        signed(fit.scatter.energy_mean_pct, 1),
        number(1.533 * fit.scatter.energy_sd_pct, 0)
    ))
}
