//! Where the energy of a drive went: one bar that adds up.

use super::sketch::{Anchor, Area, Sketch, Text, wrapped};
use super::{Look, Picture};
use crate::measure::number;
use scenarios::runs::drive::{DriveReport, LedgerReport};

/// Height of the bar, of a row of labels and of a thin bar, px.
const BAR: f64 = 44.0;
const ROW: f64 = 16.0;
const THIN: f64 = 9.0;
/// Shares under this have no label, as the ledger's table leaves them out, %.
const LEAST_PCT: f64 = 0.05;

/// A part of the bar.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// What took the energy.
    pub name: &'static str,
    /// How much, kWh.
    pub kwh: f64,
    /// Its share of all the energy that moved, %.
    pub share_pct: f64,
}

/// What took energy, in the ledger's order.
pub fn taken(ledger: &LedgerReport) -> Vec<Part> {
    let rows = ledger.rows.iter().filter(|row| row.kwh > 0.0);
    let mut parts: Vec<Part> = rows
        .map(|row| Part { name: row.account, kwh: row.kwh, share_pct: row.share_pct })
        .collect();
    if ledger.chemical_kwh < 0.0 {
        let (kwh, share_pct) = (-ledger.chemical_kwh, -ledger.chemical_share_pct);
        parts.insert(0, Part { name: "into the cells", kwh, share_pct });
    }
    parts
}

/// What gave it.
pub fn given(ledger: &LedgerReport) -> Vec<Part> {
    let mut parts = Vec::new();
    if ledger.chemical_kwh > 0.0 {
        let (kwh, share_pct) = (ledger.chemical_kwh, ledger.chemical_share_pct);
        parts.push(Part { name: "from the cells", kwh, share_pct });
    }
    for row in ledger.rows.iter().filter(|row| row.kwh < 0.0) {
        let name = match row.account {
            "kinetic, gained" => "from speed",
            "height, gained" => "from height",
            "cell polarisation, gained" => "from the cells' polarisation",
            other => other,
        };
        parts.push(Part { name, kwh: -row.kwh, share_pct: -row.share_pct });
    }
    parts
}

fn total(parts: &[Part]) -> f64 {
    parts.iter().map(|part| part.kwh).sum()
}

/// Colour by what kind of part it is.
fn class(name: &str) -> &'static str {
    match name {
        "pack resistance" | "into the cells" | "cell polarisation, gained" => "s5",
        "controller" => "s6",
        "motor copper" | "motor iron" | "motor windage" => "s2",
        "gearbox" | "clutch" => "s4",
        "tyres, bearings, pads" => "s1",
        "air" => "s3",
        _ => "s7",
    }
}

/// Energy with about as many digits as the ledger's table.
fn kwh(kwh: f64) -> String {
    format!("{} kWh", number(kwh, if kwh < 0.0995 { 3 } else { 2 }))
}

fn said(part: &Part) -> String {
    format!("{} {}, {} %", part.name, kwh(part.kwh), number(part.share_pct, 1))
}

/// The picture; `before` is a former state.
pub fn picture(report: &DriveReport, before: Option<&DriveReport>, look: Look) -> Picture {
    let title = look.title("Where the energy went");
    let parts = taken(&report.ledger);
    let whole = total(&parts);
    if !(whole > 0.0 && whole.is_finite()) {
        return Picture::empty("energy", &title, "No energy moved.", look);
    }
    let former = before.map(|report| taken(&report.ledger)).unwrap_or_default();
    let longest = whole.max(total(&former));
    let (left, right) = (14.0, look.width - 14.0);
    let across = |kwh: f64| left + (right - left) * (kwh / longest).clamp(0.0, 1.0);
    // Labels of the left half stand over the bar and run to the right, those of the right half
    // under it and to the left: no leader crosses a text.
    let mut spans: Vec<(f64, f64, &Part)> = Vec::with_capacity(parts.len());
    let mut gone_kwh = 0.0;
    for part in &parts {
        spans.push((across(gone_kwh), across(gone_kwh + part.kwh), part));
        gone_kwh += part.kwh;
    }
    let middle = |span: &(f64, f64, &Part)| 0.5 * (span.0 + span.1);
    let centre = 0.5 * look.width;
    let named = spans.iter().filter(|span| span.2.share_pct >= LEAST_PCT);
    let (over, under): (Vec<_>, Vec<_>) = named.partition(|span| middle(span) < centre);
    let summary = summary(report, look);
    let head = 30.0 + ROW * wrapped(&summary, 11.0, look.width - 18.0).len() as f64;
    // What is too long for the room beside its leader stands in lines.
    let lines = |span: &(f64, f64, &Part), is_over: bool| -> Vec<String> {
        let x = middle(span) + 7.0;
        let room = if is_over { look.width - 4.0 - x } else { x - 18.0 };
        wrapped(&said(span.2), 11.0, room)
    };
    let rows = |spans: &[&(f64, f64, &Part)], is_over: bool| -> f64 {
        spans.iter().map(|span| lines(span, is_over).len()).sum::<usize>() as f64
    };
    let top = head + 12.0 + ROW * rows(&over, true) + 8.0;
    let bottom = top + BAR;
    let below = bottom + 8.0 + ROW * rows(&under, false) + 14.0;
    let mut thin: Vec<(f64, &str, String)> = Vec::new();
    if report.regen_kwh > 0.0 {
        let text = format!(
            "regen put {} back into the pack; it is in the bar once, where it was used at last",
            kwh(report.regen_kwh)
        );
        thin.push((report.regen_kwh, "fill", text));
    }
    if !former.is_empty() {
        let kwh_before = total(&former);
        thin.push((kwh_before, "ghost", format!("before: {}", kwh(kwh_before))));
    }
    let tall = |text: &str| 14.0 + ROW * wrapped(text, 11.0, look.width - 18.0).len() as f64;
    let height: f64 = thin.iter().map(|(_, _, text)| tall(text)).sum();
    let mut sketch = Sketch::new(look.width, below + height + 6.0);
    sketch.title(&title);
    sketch.lines((14.0, 44.0), ROW, &summary, "small quiet");

    for span in &spans {
        let (begin, end, part) = span;
        let area = Area { left: *begin, top, right: *end, bottom };
        sketch.rect(&area, &format!("fill {}", class(part.name)));
    }
    let mut y = top - 10.0;
    for span in over.iter().rev() {
        let (x, lines) = (middle(span), lines(span, true));
        y -= ROW * (lines.len() - 1) as f64;
        sketch.line(&[(x, top), (x, y - 3.0), (x + 4.0, y - 3.0)], "axis");
        for (i, line) in lines.iter().enumerate() {
            sketch.text(Text::new(x + 7.0, y + ROW * i as f64, line).class("small"));
        }
        y -= ROW;
    }
    let mut y = bottom + 18.0;
    for span in &under {
        let x = middle(span);
        sketch.line(&[(x, bottom), (x, y - 4.0), (x - 4.0, y - 4.0)], "axis");
        for line in lines(span, false) {
            sketch.text(Text::new(x - 7.0, y, &line).class("small").anchor(Anchor::End));
            y += ROW;
        }
    }
    let mut y = below;
    for (kwh, style, text) in &thin {
        sketch.rect(&Area { left, top: y, right: across(*kwh), bottom: y + THIN }, style);
        sketch.lines((left, y + THIN + 13.0), ROW, text, "small quiet");
        y += tall(text);
    }
    Picture::new("energy", &title, &description(report, &parts, look), sketch)
}

fn summary(report: &DriveReport, look: Look) -> String {
    let distance = look.units.distance(report.distance_km, 1);
    let sources: Vec<String> = given(&report.ledger)
        .iter()
        .filter(|part| part.share_pct >= LEAST_PCT)
        .map(|part| format!("{} {}", kwh(part.kwh), part.name))
        .collect();
    format!("{} over {distance}: {}", report.road, sources.join(", "))
}

fn description(report: &DriveReport, parts: &[Part], look: Look) -> String {
    let parts: Vec<String> = parts.iter().map(said).collect();
    format!("{}. It went to: {}.", summary(report, look), parts.join("; "))
}
