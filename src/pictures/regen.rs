//! Settings of regen: what the road takes against the grip that slowing takes.

use super::chart::{Axis, Plot};
use super::sketch::{Area, Sketch};
use super::{Look, Picture, series};
use crate::commands::regen::CANNOT_TELL;
use crate::measure::{Units, number};
use scenarios::runs::regen::{RegenReport, RegenRow};

/// The picture; `before` is a former state.
pub fn picture(report: &RegenReport, before: Option<&RegenReport>, look: Look) -> Picture {
    let title = look.title("Regen: energy against grip");
    let units = look.units;
    let driven: Vec<&RegenRow> = rows(report).collect();
    let Some(first) = driven.first() else {
        return Picture::empty("regen", &title, "The road is not driven with any setting.", look);
    };
    if !report.tells() {
        return Picture::empty("regen", &title, &format!("{CANNOT_TELL}."), look);
    }
    let mut sketch = Sketch::new(look.width, if look.is_narrow() { 320.0 } else { 360.0 });
    sketch.title(&title);
    let outer = Area { top: 34.0, ..sketch.area() };
    let grips = driven.iter().map(|row| row.brake_grip_pct).chain([report.grip_margin_pct]);
    let x = Axis::of("grip of the driven tyres used while slowing, %", grips).round();
    let takes = driven.iter().map(|row| at(row, units).1);
    let y =
        Axis::of(&format!("consumption at the pack, {}", units.consumption_unit()), takes).round();
    let mut plot = Plot::new(&mut sketch, outer, 24.0, x, y);
    for lift_off in settings(before) {
        let of = before.into_iter().flat_map(rows).filter(|row| row.lift_off_pct == lift_off);
        let line: Vec<(f64, f64)> = of.map(|row| at(row, units)).collect();
        plot.ghost(&mut sketch, &line);
    }
    plot.upright(&mut sketch, report.grip_margin_pct, "limit", "the rest is for bends and bumps");
    for (i, lift_off) in settings(Some(report)).into_iter().enumerate() {
        let of: Vec<&RegenRow> =
            driven.iter().copied().filter(|row| row.lift_off_pct == lift_off).collect();
        let line: Vec<(f64, f64)> = of.iter().map(|row| at(row, units)).collect();
        plot.line(&mut sketch, &line, series(i));
        for row in of {
            plot.dot(&mut sketch, at(row, units), series(i));
            let best = report.rows.get(report.best).is_some_and(|best| std::ptr::eq(best, row));
            let mut name = setting(row);
            if std::ptr::eq(*first, row) {
                name = format!("{name} % (lift-off/brake)");
            }
            let class = if best { "strong" } else { "small" };
            let name = if best { format!("{name} best") } else { name };
            let place = plot.at(at(row, units));
            plot.name(place, &name, &format!("{class} {}", series(i)));
        }
    }
    plot.finish(&mut sketch);
    Picture::new("regen", &title, &description(report, units), sketch)
}

fn rows(report: &RegenReport) -> impl Iterator<Item = &RegenRow> {
    report.rows.iter().filter(|row| row.not_done.is_none() && row.wh_per_km.is_finite())
}

/// The settings on lift-off, each once.
fn settings(report: Option<&RegenReport>) -> Vec<f64> {
    let mut found: Vec<f64> = Vec::new();
    for row in report.into_iter().flat_map(rows) {
        if !found.contains(&row.lift_off_pct) {
            found.push(row.lift_off_pct);
        }
    }
    found
}

fn at(row: &RegenRow, units: Units) -> (f64, f64) {
    (row.brake_grip_pct, units.value(row.wh_per_km, "Wh/km"))
}

fn setting(row: &RegenRow) -> String {
    format!("{}/{}", number(row.lift_off_pct, 0), number(row.brake_pct, 0))
}

fn description(report: &RegenReport, units: Units) -> String {
    let mut said = String::from(
        "Settings on lift-off and brake pedal, in per cent of the motor's peak torque. ",
    );
    for row in rows(report).take(16) {
        said += &format!(
            "{}: {}, {} % of the grip. ",
            setting(row),
            units.consumption(row.wh_per_km),
            number(row.brake_grip_pct, 0)
        );
    }
    if let Some(best) = report.rows.get(report.best).filter(|row| row.not_done.is_none()) {
        said += &format!("Best: {}.", setting(best));
    }
    said
}
