//! A climb: temperatures against those at which parts derate, in each gear.

use super::chart::{Axis, Plot};
use super::shade::between;
use super::sketch::{Area, Sketch};
use super::{Look, Picture};
use crate::measure::{clock, number, ordinal};
use scenarios::runs::climb::{ClimbReport, ClimbRow};
use scenarios::runs::history::Seen;
use sim_core::Limit;

/// Height of a panel between its axes, and all of it, px.
const PANEL: f64 = 132.0;
/// What the lowest one has for its numbers besides, px.
const FOOT: f64 = 28.0;
/// Letters of a label to which another gear is added.
const MOST_NAMED: usize = 9;
/// A warning above this is none, °C.
const NO_WARNING_C: f64 = 1000.0;
/// From so many seconds on the axis is in minutes.
const MINUTES_FROM_S: f64 = 300.0;

/// A part that warms, or the speed.
struct Panel {
    title: &'static str,
    unit: &'static str,
    class: &'static str,
    /// What it derates at.
    warning: Option<f64>,
    /// What says that it derated.
    limit: Option<Limit>,
    of: fn(&Seen) -> f64,
}

fn panels(report: &ClimbReport) -> Vec<Panel> {
    let warnings = &report.warnings;
    let temperature = |title, class, warning: Option<f64>, limit, of| {
        let warning = warning.filter(|c| *c < NO_WARNING_C);
        Panel { title, unit: "°C", class, warning, limit, of }
    };
    let mut panels = vec![
        Panel {
            title: "speed",
            unit: "km/h",
            class: "s5",
            warning: None,
            limit: None,
            of: |s| s.speed_kmh,
        },
        temperature("motor winding", "s2", Some(warnings.winding_c), Some(Limit::MotorHeat), |s| {
            s.parts.winding_c
        }),
        temperature(
            "controller heat sink",
            "s1",
            Some(warnings.heat_sink_c),
            Some(Limit::ControllerHeat),
            |s| s.parts.heat_sink_c,
        ),
        temperature("cells", "s3", warnings.cells_c, Some(Limit::CellTemperature), |s| {
            s.parts.cells_c
        }),
    ];
    if report.gears.iter().any(|row| row.peak.coolant_c.is_some()) {
        let of = |s: &Seen| s.parts.coolant_c.unwrap_or(f64::NAN);
        panels.push(temperature("coolant", "s6", None, None, of));
    }
    panels.push(temperature("gearbox oil", "s4", None, None, |s| s.parts.oil_c));
    panels
}

/// A former climb.
pub type Former<'a> = (&'a ClimbReport, &'a [Vec<Seen>]);

/// The picture: `runs` are the climbs in each gear, moment by moment; `before` is a former state.
pub fn picture(
    what: &str,
    report: &ClimbReport,
    runs: &[Vec<Seen>],
    before: Option<Former>,
    look: Look,
) -> Picture {
    shaded(what, report, runs, before, &[], look)
}

/// The same with shading where other drawn cars lie in the chosen gear.
pub fn shaded(
    what: &str,
    report: &ClimbReport,
    runs: &[Vec<Seen>],
    before: Option<Former>,
    drawn: &[Vec<Seen>],
    look: Look,
) -> Picture {
    let units = look.units;
    let title = look.title(&format!(
        "{what}: {} % at {} for {}",
        number(report.grade_pct, 1),
        units.speed(report.speed_kmh, 0),
        units.distance(report.distance_km, 1)
    ));
    let driven: Vec<(&ClimbRow, &Vec<Seen>)> = report
        .gears
        .iter()
        .zip(runs)
        .filter(|(row, run)| row.within_rpm && !run.is_empty())
        .collect();
    if driven.is_empty() {
        return Picture::empty("climb", &title, "No gear turns the motor that slowly.", look);
    }
    let former = before.and_then(|(report, runs)| runs.get(report.chosen.checked_sub(1)?));
    let chosen = driven.iter().find(|(row, _)| row.gear == report.chosen).unwrap_or(&driven[0]);
    // Gears that crawl on for hours would leave no room for the chosen one.
    let longest_s = |run: &[Seen]| run.last().map_or(0.0, |s| s.time_s);
    let most_s = 2.0 * longest_s(chosen.1).max(former.map_or(0.0, |run| longest_s(run)));
    let last_s = driven.iter().map(|(_, run)| longest_s(run)).fold(0.0, f64::max).min(most_s);
    let (per_s, unit) = if last_s < MINUTES_FROM_S { (1.0, "s") } else { (1.0 / 60.0, "min") };

    let panels = panels(report);
    let mut sketch = Sketch::new(look.width, 34.0 + PANEL * panels.len() as f64 + FOOT);
    sketch.title(&title);
    for (i, panel) in panels.iter().enumerate() {
        let is_last = i + 1 == panels.len();
        let top = 34.0 + PANEL * i as f64;
        let bottom = top + PANEL + if is_last { FOOT } else { 0.0 };
        let outer = Area { top, bottom, ..sketch.area() };
        let shown = units.scale(panel.unit);
        let points = |run: &[Seen]| -> Vec<(f64, f64)> {
            let seen = run.iter().filter(|s| s.time_s <= last_s);
            seen.map(|s| (per_s * s.time_s, shown((panel.of)(s)))).collect()
        };
        let ghost = former.map(|run| points(run)).unwrap_or_default();
        let (low, high) = between(&drawn.iter().map(|run| points(run)).collect::<Vec<_>>());
        let lines: Vec<(&ClimbRow, Vec<(f64, f64)>)> =
            driven.iter().map(|(row, run)| (*row, points(run))).collect();
        let warning = panel.warning.map(|c| units.value(c, panel.unit));
        // A warming of nothing is to look like nothing.
        let least = (panel.unit == "°C").then(|| units.value(report.air_c + 20.0, panel.unit));
        let values =
            lines.iter().flat_map(|l| &l.1).chain(&ghost).chain(&low).chain(&high).map(|p| p.1);
        let values = values.chain(warning).chain(least);
        let x = Axis::from_zero(&format!("time, {unit}"), [per_s * last_s]);
        let x = if is_last { x } else { x.bare() };
        let name = format!("{}, {}", panel.title, units.sign(panel.unit));
        let y = if panel.limit.is_none() && panel.unit == "km/h" {
            Axis::from_zero(&name, values)
        } else {
            Axis::of(&name, values)
        };
        let mut plot = Plot::new(&mut sketch, outer, 92.0, x, y.round());
        plot.band(&mut sketch, &low, &high, panel.class);
        if let (Some(value), Some(c)) = (warning, panel.warning) {
            let name = format!("derates {}", units.bare_temperature(c));
            plot.level(&mut sketch, value, "limit", &name);
        }
        plot.ghost(&mut sketch, &ghost);
        // The chosen gear is drawn over the others, and named before them.
        let is_chosen = |row: &ClimbRow| row.gear == chosen.0.gear;
        let (strong, thin): (Vec<_>, Vec<_>) = lines.iter().partition(|l| is_chosen(l.0));
        for (_, points) in &thin {
            plot.line(&mut sketch, points, "thin s7");
        }
        // Gears that end at one place share a label.
        let mut named: Vec<((f64, f64), String)> = Vec::new();
        for (row, points) in &thin {
            let Some(end) = points.last().and_then(|p| plot.at(*p)) else { continue };
            let name = ordinal(row.gear);
            let is_near =
                |at: &(f64, f64)| (at.0 - end.0).abs() < 30.0 && (at.1 - end.1).abs() < 9.0;
            match named.iter_mut().rfind(|one| is_near(&one.0)) {
                Some(one) if one.1.len() < MOST_NAMED => one.1 += &format!(", {name}"),
                _ => named.push((end, name)),
            }
        }
        for (row, points) in strong.into_iter().chain(thin) {
            let class = if is_chosen(row) {
                plot.line(&mut sketch, points, &format!("thick {}", panel.class));
                format!("strong {}", panel.class)
            } else {
                "small s7".to_owned()
            };
            if is_chosen(row) {
                let end = points.last().and_then(|p| plot.at(*p));
                plot.name(end, &ordinal(row.gear), &class);
            }
            let is_part = panel.limit.is_some() && row.derated_by.map(|by| by.0) == panel.limit;
            let from = row.derated_at_s.filter(|_| is_part);
            let at = from.and_then(|s| points.iter().find(|p| p.0 >= per_s * s));
            if let (Some(s), Some(at)) = (from, at) {
                plot.dot(&mut sketch, *at, &class);
                let name = format!("{} after {}", ordinal(row.gear), clock(s));
                plot.name(plot.at(*at), &name, "small");
            }
        }
        for (end, name) in named {
            plot.name(Some(end), &name, "small s7");
        }
        plot.finish(&mut sketch);
    }
    let mut said = description(report, chosen.0, look);
    if !drawn.is_empty() {
        said += &format!(
            " Shaded: where eight of ten of {} drawn cars lie in the {} gear, when what is uncertain \
             varies as usual, as long as nine of ten still climb.",
            drawn.len(),
            ordinal(chosen.0.gear)
        );
    }
    Picture::new("climb", &title, &said, sketch)
}

fn description(report: &ClimbReport, chosen: &ClimbRow, look: Look) -> String {
    let units = look.units;
    let mut said = format!(
        "Chosen gear, strong: {}. Hottest in it: winding {} (derates at {}), heat sink {} ({}), cells \
         {}.",
        ordinal(chosen.gear),
        units.temperature(chosen.peak.winding_c),
        units.temperature(report.warnings.winding_c),
        units.temperature(chosen.peak.heat_sink_c),
        units.temperature(report.warnings.heat_sink_c),
        units.temperature(chosen.peak.cells_c),
    );
    for row in report.gears.iter().filter(|row| row.within_rpm) {
        let gear = ordinal(row.gear);
        said += &match (row.derated_at_s, row.held) {
            (Some(s), _) => format!(" {gear} gear derates after {}.", clock(s)),
            (None, true) => format!(" {gear} gear holds the speed and does not derate."),
            (None, false) => format!(" {gear} gear slows to {}.", units.speed(row.slowest_kmh, 0)),
        };
    }
    said + " Thin lines: the other gears that the motor can turn."
}
