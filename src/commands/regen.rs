//! `regen`: a grid of lift-off and brake-pedal settings over a commute.

use crate::failure::Failure;
use crate::figure;
use crate::input::Input;
use crate::measure::{Units, number, ordinal};
use crate::output::Output;
use crate::picture_file::PictureArg;
use crate::pictures::{self, Look};
use crate::quantity;
use crate::road::{RoadArgs, say_notes};
use crate::table::Table;
use scenarios::runs::regen::{self, Grid, RegenReport, RegenRow};

/// Arguments of `regen`.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    input: Input,

    #[command(flatten)]
    road: RoadArgs,

    /// Lift-off settings, % of the motor's peak torque; left out, `0,10,20`.
    #[arg(long, value_name = "LIST")]
    lift_off: Option<String>,

    /// Brake-pedal settings, % of the motor's peak torque, on top of lift-off; left out, `0,20,40`.
    #[arg(long, value_name = "LIST")]
    brake: Option<String>,

    /// Speed at which the lift-off deceleration is stated; left out, `50km/h`.
    #[arg(long, value_name = "SPEED")]
    at: Option<String>,

    #[command(flatten)]
    picture: PictureArg,
}

/// Compares.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    let prepared = args.input.prepare()?;
    let road = args.road.load(&prepared)?;
    let shares = |option, text: &Option<String>| {
        text.as_deref().map(|text| quantity::shares_pct(option, text)).transpose()
    };
    let mut grid = Grid::default();
    grid.lift_off_pct = shares("--lift-off", &args.lift_off)?.unwrap_or(grid.lift_off_pct);
    grid.brake_pct = shares("--brake", &args.brake)?.unwrap_or(grid.brake_pct);
    if let Some(text) = &args.at {
        grid.at_mps = quantity::speed_mps("--at", text, output.units)?;
    }
    let frame = args.picture.begin(&args.road.files(&prepared))?;
    let report = prepared.vouched(regen::report(&prepared, &road.name, &road.trace, &grid)?)?;
    if let Some(frame) = frame {
        let look = Look::wide(&prepared.name, output.units);
        frame.save(&pictures::regen::picture(&report, None, look))?;
    }
    if output.json {
        return output.document(&report);
    }
    output.text(format!("{}: regen settings on {}", prepared.name, road.name))?;
    say_notes(&road, output)?;
    show(&report, output)?;
    output.said(verdict(&report, output.units))
}

fn show(report: &RegenReport, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    let per = |what: &str| format!(">{what} {}", units.consumption_unit());
    let headings = [
        ">lift-off %".to_owned(),
        ">brake %".to_owned(),
        per("takes"),
        per("regen gives"),
        per("friction takes"),
        format!(">lift-off {}", units.sign("m/s²")),
        format!(">when full {}", units.sign("m/s²")),
        ">peak A in".to_owned(),
        ">grip %".to_owned(),
        "cut back by".to_owned(),
        ">range".to_owned(),
    ];
    let headings: Vec<&str> = headings.iter().map(String::as_str).collect();
    let mut table = Table::new(&headings);
    for (i, row) in report.rows.iter().enumerate() {
        let mark =
            if i == report.best && report.tells() && row.not_done.is_none() { "* " } else { "" };
        let of_road = |text: String| match row.not_done {
            Some(_) => figure::NOT_DONE.to_owned(),
            None => text,
        };
        table.row([
            format!("{mark}{}", number(row.lift_off_pct, 0)),
            number(row.brake_pct, 0),
            of_road(units.bare_consumption(row.wh_per_km)),
            of_road(units.bare_consumption(row.recovered_wh_per_km)),
            of_road(units.bare_consumption(row.friction_wh_per_km)),
            units.bare(row.lift_off_mps2, "m/s²", 2),
            units.bare(row.lift_off_full_mps2, "m/s²", 2),
            number(row.peak_charge_a, 0),
            number(row.brake_grip_pct, 0),
            row.limited_by.map_or_else(|| "nothing".to_owned(), |limit| limit.to_string()),
            of_road(units.distance(row.range_km, 0)),
        ]);
    }
    output.table(&table)?;
    // Where none is driven, the last sentence says so of all.
    let some = report.rows.iter().any(|row| row.not_done.is_none());
    for row in report.rows.iter().filter(|_| some) {
        if let Some(why) = row.not_done {
            output.said(format!("With {} the road is not driven: {why}.", setting(row)))?;
        }
    }
    output.said(format!(
        "Takes: consumption at the pack. Lift-off: the slowdown at {} in {} gear on the level at {} % \
         charge, and what is left of it when the pack is full at {} %. Grip: largest share of what the \
         driven tyres hold while slowing. Charge current allowed at the start: {} A.",
        units.speed(report.lift_off_at_kmh, 0),
        ordinal(report.lift_off_gear),
        number(report.half_charge_pct, 0),
        number(report.full_charge_pct, 0),
        number(report.charge_limit_a, 0)
    ))
}

fn setting(row: &RegenRow) -> String {
    format!("lift-off {} %, brake {} %", number(row.lift_off_pct, 0), number(row.brake_pct, 0))
}

/// The best setting and the cost of each alternative, in one sentence.
pub fn verdict(report: &RegenReport, units: Units) -> String {
    let chosen = &report.rows[report.best];
    let mut text = best(report, units);
    if chosen.not_done.is_some() || !report.tells() {
        return text;
    }
    let others = others(report, units);
    if !others.is_empty() {
        text = format!(
            "{}; the others, as lift-off/brake in %: {}.",
            text.trim_end_matches('.'),
            others.join(", ")
        );
    }
    text
}

/// What each other setting costs against the best.
fn others(report: &RegenReport, units: Units) -> Vec<String> {
    let best = &report.rows[report.best];
    report
        .rows
        .iter()
        .enumerate()
        .filter(|(i, row)| *i != report.best && row.not_done.is_none())
        .map(|(_, row)| {
            let more = row.wh_per_km - best.wh_per_km;
            let sign = if more >= 0.0 { "+" } else { "−" };
            let mut cost = format!(
                "{}/{} {sign}{}",
                number(row.lift_off_pct, 0),
                number(row.brake_pct, 0),
                units.consumption(more.abs())
            );
            if row.brake_grip_pct > report.grip_margin_pct {
                cost.push_str(&format!(" at {} % grip", number(row.brake_grip_pct, 0)));
            }
            cost
        })
        .collect()
}

/// What is said of settings on a road that is driven without braking.
pub const CANNOT_TELL: &str = "This road cannot tell which setting is best, as the car does not brake \
    on it; take one with stops or a way down";

/// The best setting and why, in one sentence.
pub fn best(report: &RegenReport, units: Units) -> String {
    let best = &report.rows[report.best];
    if let Some(why) = best.not_done {
        return format!("No setting is best, as the road is not driven with any of them: {why}.");
    }
    if !report.tells() {
        return format!(
            "{CANNOT_TELL}: it takes {} at the pack (range {}) with any of them.",
            units.consumption(best.wh_per_km),
            units.distance(best.range_km, 0)
        );
    }
    let safe = best.brake_grip_pct <= report.grip_margin_pct && best.grip_limited_s == 0.0;
    let why = if !safe {
        format!(
            "every setting uses more than {} % of the driven tyres' grip here and this one uses least",
            number(report.grip_margin_pct, 0)
        )
    } else if report.best == report.thriftiest {
        "it takes least of all and leaves the driven tyres grip to spare".to_owned()
    } else {
        format!(
            "it takes least of those that leave {} % of the driven tyres' grip for bends and bumps",
            number(100.0 - report.grip_margin_pct, 0)
        )
    };
    format!(
        "Best is {} at {} at the pack (range {}), because {why}.",
        setting(best),
        units.consumption(best.wh_per_km),
        units.distance(best.range_km, 0)
    )
}
