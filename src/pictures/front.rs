//! Which parts to buy: what no other beats, its price against what it buys, and its odds.

use super::chart::{Axis, Plot};
use super::sketch::{Area, Sketch, Text, fitted, wrapped};
use super::{Look, Picture};
use crate::figure;
use crate::measure::number;
use scenarios::studies::candidates::shown;
use scenarios::studies::choose::{Choice, ChooseReport, ChosenFigure, Picked, letter, made_of};

/// Height of the plot, px.
const HIGH: f64 = 320.0;
/// Most points that are named; the recommended one is one of them.
const NAMED: usize = 26;
/// Most of which the parts are told beneath.
const TOLD: usize = 12;

/// How it is read.
const FOOT: &str = "Each point is a set of parts that no other beats: its letter, and the odds that all \
    goals hold. The line through it: eight of ten cars. The bold one is recommended.";

/// A figure of one of the front as it is drawn.
struct Point {
    index: usize,
    price: f64,
    stated: f64,
    low: f64,
    high: f64,
    odds_pct: f64,
}

/// The picture.
pub fn picture(report: &ChooseReport, look: Look) -> Picture {
    let title = look.title("What the money buys");
    let name = report.prefer.first().copied();
    let points: Vec<Point> = report
        .front
        .iter()
        .enumerate()
        .map(|(index, choice)| point(index, choice, name, look))
        .filter(|point| point.price.is_finite() && point.stated.is_finite())
        .collect();
    if points.is_empty() {
        let why = "No combination keeps the goals within the budget.";
        return Picture::empty("front", &title, why, look);
    }
    let label = name.map_or_else(|| "odds, %".to_owned(), |name| figure::label(name, look.units));
    let foot = wrapped(FOOT, 11.0, look.width - 16.0).len() as f64;
    let told = points.len().min(TOLD);
    let mut sketch = Sketch::new(look.width, 44.0 + HIGH + 15.0 * (foot + told as f64));
    sketch.title(&title);
    let price = format!("price{}", report.currency(", "));
    let x = Axis::of(&price, points.iter().map(|point| point.price)).round();
    let values = points.iter().flat_map(|point| [point.stated, point.low, point.high]);
    let y = Axis::of(&label, values).round();
    let outer = Area { top: 26.0, bottom: 26.0 + HIGH, ..sketch.area() };
    let mut plot = Plot::new(&mut sketch, outer, 16.0, x, y);
    for point in &points {
        let ends = [(point.price, point.low), (point.price, point.high)];
        let is_best = report.recommended == Some(point.index);
        plot.line(&mut sketch, &ends, if is_best { "s1" } else { "s7" });
    }
    for point in &points {
        let is_best = report.recommended == Some(point.index);
        plot.dot(&mut sketch, (point.price, point.stated), if is_best { "s1" } else { "s7" });
    }
    // Where there is no room for all, the recommended one is named first.
    let is_best = |point: &&Point| report.recommended == Some(point.index);
    let others = points.iter().filter(|point| !is_best(point));
    for point in points.iter().filter(is_best).chain(others).take(NAMED) {
        let class = if is_best(&point) { "strong" } else { "small" };
        let text = format!("{} {} %", letter(point.index), number(point.odds_pct, 0));
        plot.name(plot.at((point.price, point.stated)), &text, class);
    }
    plot.finish(&mut sketch);
    for (row, point) in points.iter().take(TOLD).enumerate() {
        let text =
            format!("{}: {}", letter(point.index), parts_of(&report.front[point.index].picked));
        let text = fitted(&text, 11.0, look.width - 24.0);
        let y = 42.0 + HIGH + 15.0 * row as f64;
        sketch.text(Text::new(12.0, y, &text).class("small"));
    }
    let y = 44.0 + HIGH + 15.0 * told as f64;
    sketch.lines((12.0, y), 15.0, FOOT, "small quiet");
    Picture::new("front", &title, &description(report, look), sketch)
}

fn point(index: usize, choice: &Choice, name: Option<&'static str>, look: Look) -> Point {
    let figure = name.and_then(|name| choice.figures.iter().find(|f| f.figure == name));
    let of = |value: fn(&ChosenFigure) -> f64, odds: f64| match figure {
        Some(found) => figure::in_units(found.figure, value(found), look.units),
        None => odds,
    };
    Point {
        index,
        price: choice.price,
        stated: of(|f| f.stated, choice.odds_pct),
        low: of(|f| f.p10, choice.odds_low_pct),
        high: of(|f| f.p90, choice.odds_high_pct),
        odds_pct: choice.odds_pct,
    }
}

/// What is picked, without the fields.
fn parts_of(picked: &[Picked]) -> String {
    let value = |one: &Picked| {
        let value = shown(&one.value);
        value.strip_prefix("shelf:").map_or_else(|| value.clone(), str::to_owned)
    };
    picked.iter().map(value).collect::<Vec<_>>().join(", ")
}

fn description(report: &ChooseReport, look: Look) -> String {
    let mut said = String::new();
    for (index, choice) in report.front.iter().enumerate() {
        let figures = choice.figures.iter().filter(|f| report.prefer.contains(&f.figure));
        let figures: Vec<String> = figures
            .map(|f| {
                let value = figure::value(f.figure, f.stated, look.units);
                format!("{} {value}", figure::label(f.figure, look.units))
            })
            .collect();
        said += &format!(
            "{}: {} for {}, {}; all goals hold in {} %. ",
            letter(index),
            made_of(&choice.picked),
            report.money(choice.price),
            figures.join(", "),
            number(choice.odds_pct, 0)
        );
    }
    if let Some(best) = report.recommended {
        said += &format!("Recommended: {}.", letter(best));
    }
    said
}
