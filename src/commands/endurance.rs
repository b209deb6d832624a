//! `endurance`: a map of speeds and grades, and for how long each is held.

use crate::failure::Failure;
use crate::input::Input;
use crate::measure::{Units, number};
use crate::output::Output;
use crate::picture_file::PictureArg;
use crate::pictures::{self, Look};
use crate::progress::Progress;
use crate::quantity;
use crate::rows::csv_line;
use clap::ValueEnum;
use scenarios::runs::endurance::{
    self, EnduranceCell, EnduranceOutcome, EnduranceReport, LETTERS, Map,
};
use scenarios::runs::limits::NamedLimit;
use scenarios::units;

/// How the map is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum MapForm {
    /// A table for people, coloured on a terminal.
    Table,
    /// CSV with a header, a row for each speed on each grade.
    Csv,
}

/// Arguments of `endurance`.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    input: Input,

    /// Speeds as `from..to:step` or `a,b,c`, in the tables' units; left out, 40 to 120 km/h by 10
    /// or 25 to 75 mph by 5.
    #[arg(long, value_name = "SPEEDS", allow_hyphen_values = true)]
    speeds: Option<String>,

    /// Grades in per cent as `from..to:step` or `a,b,c`; left out, 0 to 10 by 1.
    #[arg(long, value_name = "GRADES", allow_hyphen_values = true)]
    grades: Option<String>,

    /// A gear for all of it; left out, the best gear for each speed on each grade.
    #[arg(long, value_name = "N")]
    gear: Option<usize>,

    /// Longest time that is tried; left out, `3h`.
    #[arg(long, value_name = "TIME")]
    most: Option<String>,

    /// How the map is written; `--json` writes all of it as one document.
    #[arg(long = "as", value_enum, default_value_t = MapForm::Table, value_name = "FORM")]
    form: MapForm,

    #[command(flatten)]
    picture: PictureArg,
}

/// Speeds side by side in one block of the table.
const BLOCK: usize = 11;

/// Makes the map.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    let prepared = args.input.prepare()?;
    let bare = output.units;
    let usual = Map::default();
    let mph = (bare == Units::Us).then_some("25..75:5");
    let speeds_mps = match args.speeds.as_deref().or(mph) {
        Some(text) => {
            let mps = match bare {
                Units::Metric => units::mps_from_kmh,
                Units::Us => units::mps_from_mph,
            };
            quantity::list("--speeds", text, 1.0, 300.0)?.into_iter().map(mps).collect()
        }
        None => usual.speeds_mps,
    };
    let grades = match &args.grades {
        Some(text) => {
            let grades = quantity::list("--grades", text, 0.0, 60.0)?.into_iter();
            grades.map(units::slope_from_pct).collect()
        }
        None => usual.grades,
    };
    let gear = match args.gear {
        Some(0) => {
            let text = "--gear is 0; gears are counted from 1";
            return Err(Failure::Arguments(text.to_owned()));
        }
        gear => gear.map(|n| n - 1),
    };
    let most_s = match &args.most {
        Some(text) => {
            let most_s = quantity::time_s("--most", text)?;
            if !(60.0..=units::s_from_h(24.0)).contains(&most_s) {
                let text = format!("--most is \"{text}\"; allowed: 1min to 24h");
                return Err(Failure::Arguments(text));
            }
            most_s
        }
        None => usual.most_s,
    };
    let frame = args.picture.begin_for(&prepared)?;
    let map = Map { speeds_mps, grades, gear, most_s };
    let progress = Progress::new((map.speeds_mps.len() * map.grades.len()) as u64, "map");
    let report = endurance::report(&prepared.setup(), &map, || progress.step())?;
    let report = prepared.vouched(report)?;
    drop(progress);
    if let Some(frame) = frame {
        let look = Look::wide(&prepared.name, bare);
        frame.save(&pictures::endurance::picture(&report, None, look))?;
    }
    if output.json {
        return output.document(&report);
    }
    if args.form == MapForm::Csv {
        return output.lines(&csv(&report));
    }
    let with = match report.gear {
        Some(gear) => format!("in gear {gear}"),
        None => "in the best gear for each".to_owned(),
    };
    output.text(format!(
        "{}: minutes at a steady speed on a grade until something cuts back, {with}",
        prepared.name
    ))?;
    output.said(format!(
        "From {} % charge, parts as at the start, air at {}. After the minutes the part that gives up \
         first{}. *: continuous, motor and controller settle below their warnings and the cells stay \
         within their limits until the pack gives out; >: nothing within the time tried; \u{2014}: \
         not held.",
        number(report.from_charge_pct, 0),
        bare.temperature(report.air_c),
        if report.gear.is_none() { ", then the gear" } else { "" }
    ))?;
    output.lines("\n")?;
    let text = |cell: &EnduranceCell| words(cell, &report);
    blocks(&report, output, &text)?;
    let used = |letter: &str| report.rows.iter().flatten().any(|c| c.letter == Some(letter));
    let legend: Vec<String> = LETTERS
        .iter()
        .filter(|(letter, _)| used(letter))
        .map(|(letter, what)| format!("{letter}: {what}"))
        .collect();
    output.said(legend.join("; "))
}

/// `109v* 3`, `12w 3`, `>180 3` or `—r`.
fn words(cell: &EnduranceCell, report: &EnduranceReport) -> String {
    let letter = cell.letter.unwrap_or("");
    let mut text = match (cell.outcome, cell.minutes) {
        (EnduranceOutcome::Cannot, _) => format!("\u{2014}{letter}"),
        (EnduranceOutcome::Beyond, _) | (_, None) => format!(">{}", number(report.most_minutes, 0)),
        (_, Some(minutes)) => {
            format!("{}{letter}", number(minutes, usize::from(minutes < 9.95)))
        }
    };
    if cell.outcome == EnduranceOutcome::Continuous {
        text.push('*');
    }
    if let (None, Some(gear)) = (report.gear, cell.gear) {
        text.push_str(&format!(" {gear}"));
    }
    text
}

/// Background on a terminal, from the 256 colours: green is continuous, red is over soon.
fn colour(cell: &EnduranceCell) -> u8 {
    match (cell.outcome, cell.minutes) {
        (EnduranceOutcome::Continuous | EnduranceOutcome::Beyond, _) => 28,
        (_, Some(minutes)) if minutes >= 30.0 => 100,
        (_, Some(minutes)) if minutes >= 10.0 => 130,
        (_, Some(_)) => 124,
        _ => 238,
    }
}

/// The map in blocks of speeds.
fn blocks(
    report: &EnduranceReport,
    output: &mut Output,
    text: &dyn Fn(&EnduranceCell) -> String,
) -> Result<(), Failure> {
    let units = output.units;
    let words = |kmh: f64| {
        let speed = units.speed(kmh, usize::from((kmh - kmh.round()).abs() > 0.04));
        speed
            .split_once(' ')
            .map(|(value, unit)| (value.trim_end_matches(".0").to_owned(), unit.to_owned()))
    };
    let speeds: Vec<(String, String)> =
        report.speeds_kmh.iter().filter_map(|v| words(*v)).collect();
    let unit = speeds.first().map(|s| s.1.clone()).unwrap_or_default();
    let columns: Vec<usize> = (0..speeds.len()).collect();
    for block in columns.chunks(BLOCK) {
        let heads: Vec<String> = block.iter().map(|i| format!("{:>8}", speeds[*i].0)).collect();
        output.lines(&format!("{unit:>7} {}\n", heads.join("")))?;
        for (grade, row) in report.grades_pct.iter().zip(&report.rows) {
            let cells = block.iter().map(|i| &row[*i]);
            let cells =
                cells.map(|cell| (format!("{:>8}", format!("{} ", text(cell))), colour(cell)));
            output.map_row(&format!("{:>7} ", format!("{} %", plain(*grade))), cells)?;
        }
        output.lines("\n")?;
    }
    Ok(())
}

/// A number with a decimal where it has one.
fn plain(value: f64) -> String {
    number(value, usize::from((value - value.round()).abs() > 0.04))
}

fn csv(report: &EnduranceReport) -> String {
    let header =
        ["speed_kmh", "grade_pct", "gear", "outcome", "minutes", "by", "letter", "heat_pct"];
    let mut text = csv_line(header);
    let some = |v: Option<f64>| v.map_or_else(String::new, |v| format!("{v:.3}"));
    for cell in report.rows.iter().flatten() {
        text.push_str(&csv_line([
            format!("{:.4}", cell.speed_kmh),
            format!("{:.4}", cell.grade_pct),
            cell.gear.map_or_else(String::new, |g| g.to_string()),
            cell.outcome.name().to_owned(),
            some(cell.minutes),
            cell.by.map_or("", NamedLimit::name).to_owned(),
            cell.letter.unwrap_or("").to_owned(),
            some(cell.heat_pct),
        ]));
    }
    text
}
