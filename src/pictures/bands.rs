//! What moves the figures: for each the inputs that move it most.

use super::bars::{Bar, ROW, Scale, bars};
use super::sketch::{Area, Sketch, Text, fitted, wrapped};
use super::{Look, Picture};
use crate::figure;
use crate::measure::number;
use scenarios::studies::bands::{Band, BandsReport, Cause};

/// Figures that are shown first, if they are there.
const FIRST: [&str; 6] =
    ["range_km", "wh_per_km", "climb_heat_pct", "pass_heat_pct", "to_80_kmh_s", "top_speed_kmh"];
/// Most figures, and most inputs of each.
const MOST_FIGURES: usize = 6;
const MOST_CAUSES: usize = 4;
/// Height of a heading with its two lines, px.
const HEAD: f64 = 40.0;

/// How the bars are read.
const FOOT: &str = "A bar to the right: the more of the input, the more of the figure; to the left: the less. \
    At 1.00, where a bar fills its half, this holds of any two cars; at 0 of none more than by chance.";

/// The picture.
pub fn picture(report: &BandsReport, look: Look) -> Picture {
    let title = look.title("What moves the figures most");
    let chosen = chosen(report);
    if chosen.is_empty() {
        let why = "Nothing that is uncertain moves a figure more than chance would.";
        return Picture::empty("bands", &title, why, look);
    }
    let columns = if look.is_narrow() { 1 } else { 2 };
    let tall = |band: &&Band| HEAD + ROW * band.causes.len().min(MOST_CAUSES) as f64 + 12.0;
    let heights: Vec<f64> =
        chosen.chunks(columns).map(|row| row.iter().map(tall).fold(0.0, f64::max)).collect();
    let feet = 15.0 * wrapped(FOOT, 11.0, look.width - 16.0).len().saturating_sub(1) as f64;
    let mut sketch = Sketch::new(look.width, 36.0 + heights.iter().sum::<f64>() + 20.0 + feet);
    sketch.title(&title);
    let wide = (sketch.area().right - 24.0) / columns as f64;
    let lines =
        |band: &Band| -> Vec<Bar> { band.causes.iter().take(MOST_CAUSES).map(bar).collect() };
    // One scale for what stands one below the other.
    let sheet = sketch.area();
    let area = |column: usize| {
        let left = 12.0 + wide * column as f64;
        Area { left, right: left + wide - 10.0, ..sheet }
    };
    let scales: Vec<Scale> = (0..columns)
        .map(|column| {
            let below = chosen.iter().skip(column).step_by(columns);
            let all: Vec<Bar> = below.flat_map(|band| lines(band)).collect();
            Scale::of(&area(column), &all, (-1.0, 1.0))
        })
        .collect();
    let mut top = 34.0;
    for (row, height) in chosen.chunks(columns).zip(&heights) {
        for (column, (band, scale)) in row.iter().zip(&scales).enumerate() {
            let left = area(column).left;
            let label = figure::label(band.figure, look.units);
            let label = fitted(&label, 14.0, wide - 12.0);
            sketch.text(Text::new(left, top + 14.0, &label).class("strong"));
            let between = between(band, look);
            let between = fitted(&between, 11.5, wide - 12.0);
            sketch.text(Text::new(left, top + 30.0, &between).class("small quiet"));
            let area = Area { top: top + HEAD, bottom: top + height, ..area(column) };
            bars(&mut sketch, &area, &lines(band), scale);
        }
        top += height;
    }
    sketch.lines((12.0, top + 10.0), 15.0, FOOT, "small quiet");
    Picture::new("bands", &title, &description(&chosen, look), sketch)
}

fn chosen(report: &BandsReport) -> Vec<&Band> {
    let tells =
        |band: &&Band| band.moves() && !figure::is_check(band.figure) && !band.causes.is_empty();
    let all = || report.figures.iter().filter(tells);
    let first = FIRST.iter().filter_map(|name| all().find(|band| band.figure == *name));
    let mut found: Vec<&Band> = first.collect();
    found.extend(all().filter(|band| !FIRST.contains(&band.figure)));
    found.truncate(MOST_FIGURES);
    // Times to speeds stand together, the lowest speed first as in the report.
    let rank = |band: &&Band| {
        let is = |name: &&str| *name == band.figure || is_time(name) && is_time(band.figure);
        let place = report.figures.iter().position(|other| other.figure == band.figure);
        (FIRST.iter().position(is).unwrap_or(FIRST.len()), place)
    };
    found.sort_by_key(rank);
    found
}

/// Whether a figure is the time to a speed.
fn is_time(figure: &str) -> bool {
    figure.starts_with("to_") && figure.ends_with("_s")
}

fn bar(cause: &Cause) -> Bar {
    let moved = cause.rank_correlation.clamp(-1.0, 1.0);
    let class = if moved < 0.0 { "s2" } else { "s1" };
    let sign = if moved < 0.0 { "−" } else { "+" };
    Bar::new(&cause.name, moved, format!("{sign}{}", number(moved.abs(), 2)), class)
}

fn between(band: &Band, look: Look) -> String {
    let value = |v: f64| figure::value(band.figure, v, look.units);
    let (low, high, stated) = (value(band.p10), value(band.p90), value(band.nominal));
    format!("{stated} as stated; eight of ten from {low} to {high}")
}

fn description(chosen: &[&Band], look: Look) -> String {
    let mut said = String::new();
    for band in chosen {
        let causes = band.causes.iter().take(MOST_CAUSES).map(|cause| cause.name.as_str());
        let causes: Vec<&str> = causes.collect();
        let label = figure::label(band.figure, look.units);
        said += &format!("{label}: {}, moved by {}. ", between(band, look), causes.join(", "));
    }
    said
}
