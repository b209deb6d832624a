//! What driving costs: the energy by where it goes, beside the fuel of before.

use super::sketch::{Anchor, Area, Sketch, Text, fitted, width_px};
use super::{Look, Picture, series};
use crate::measure::{Units, number};
use scenarios::runs::cost::{CostReport, Price};
use scenarios::runs::drive::LedgerReport;

/// The name of the other bar.
const FUEL: &str = "fuel before the conversion";
/// What is taken for a number.
const MOST: f64 = 1e12;

/// Where energy goes, by the accounts of the ledger; what is in none of them is the rest.
const GROUPS: [(&str, &[&str]); 5] = [
    (
        "battery, controller, motor",
        &[
            "pack resistance",
            "controller",
            "motor copper",
            "motor iron",
            "motor windage",
            "motor friction",
        ],
    ),
    ("gearbox", &["gearbox", "clutch"]),
    ("tyres", &["tyres, bearings, pads"]),
    ("air", &["air"]),
    ("brakes", &["friction brakes"]),
];

/// The picture; `ledger` is that of the road, `before` a former state.
pub fn picture(
    report: &CostReport,
    ledger: Option<&LedgerReport>,
    before: Option<&CostReport>,
    look: Look,
) -> Picture {
    let units = look.units;
    let hundred = match units {
        Units::Metric => "100 km",
        Units::Us => "100 miles",
    };
    let title = look.title(&format!("What {hundred} cost"));
    let per = |price: Option<Price>| {
        let price = price?;
        let value = match units {
            Units::Metric => price.per_100km,
            Units::Us => 100.0 * price.per_mi,
        };
        (0.0..=MOST).contains(&value).then_some(value)
    };
    let (energy, fuel) = (per(report.energy), per(report.fuel));
    if energy.is_none() && fuel.is_none() {
        return Picture::empty("cost", &title, "No price of energy or fuel is known.", look);
    }
    let parts = energy.map(|energy| stacked(report, ledger, energy)).unwrap_or_default();
    let bars = [energy, fuel].into_iter().flatten().count();
    let lines = (parts.len() as f64 / if look.is_narrow() { 1.0 } else { 2.0 }).ceil();
    let mut sketch = Sketch::new(look.width, 44.0 + 52.0 * bars as f64 + 18.0 * lines + 10.0);
    sketch.title(&title);
    let currency = report.currency.as_deref().unwrap_or_default();
    let (left, right) = (12.0, sketch.area().right - 110.0);
    let former = before.and_then(|old| per(old.energy));
    let most = [energy, fuel, former].into_iter().flatten().fold(1e-9, f64::max);
    let long = |value: f64| (right - left) * value / most;
    let mut top = 34.0;
    let mut bar = |sketch: &mut Sketch, name: &str, value: f64, parts: &[(String, f64)]| {
        sketch.text(Text::new(left, top + 12.0, name).class("small quiet"));
        let mut from = left;
        for (i, (_, part)) in parts.iter().enumerate() {
            let to = (from + long(*part)).min(left + long(value));
            let area = Area { left: from, right: to, top: top + 17.0, bottom: top + 41.0 };
            let class = if name == FUEL { "s7" } else { class(i) };
            sketch.rect(&area, &format!("fill {class}"));
            let number = format!("{}", i + 1);
            if parts.len() > 1 && to - from > width_px(&number, 11.0) + 4.0 {
                let text = Text::new(0.5 * (from + to), top + 33.0, &number);
                sketch.text(text.class("small over").anchor(Anchor::Middle));
            }
            from = to;
        }
        let text = format!("{} {currency}", number(value, 2));
        let x = left + long(value) + 6.0;
        // A long name of a currency is cut, as it would else be moved over the bar.
        let text = fitted(text.trim(), 14.5, right + 106.0 - x);
        sketch.text(Text::new(x, top + 33.0, &text).class("strong"));
        top += 52.0;
    };
    if let Some(value) = energy {
        bar(&mut sketch, "energy from the wall", value, &parts);
        if let Some(old) = former {
            let x = left + long(old);
            sketch.line(&[(x, 48.0), (x, 78.0)], "ghost");
        }
    }
    if let Some(value) = fuel {
        bar(&mut sketch, FUEL, value, &[(String::new(), value)]);
    }
    let column = if look.is_narrow() { 1 } else { 2 };
    let wide = (sketch.area().right - 24.0) / column as f64;
    for (i, (name, value)) in parts.iter().enumerate() {
        let (x, y) = (left + wide * (i % column) as f64, top + 12.0 + 18.0 * (i / column) as f64);
        let area = Area { left: x, right: x + 10.0, top: y - 9.0, bottom: y + 1.0 };
        sketch.rect(&area, &format!("fill {}", class(i)));
        let text = format!("{} {name}, {}", i + 1, number(*value, 2));
        sketch.text(Text::new(x + 15.0, y, &text).class("small"));
    }
    let mut description = String::new();
    if let Some(value) = energy {
        description +=
            &format!("Energy from the wall: {} {currency} for {hundred}. ", number(value, 2));
        for (name, part) in &parts {
            description += &format!("{name}: {}. ", number(*part, 2));
        }
    }
    if let Some(value) = fuel {
        description += &format!("Fuel before the conversion: {} {currency}.", number(value, 2));
    }
    Picture::new("cost", &title, &description, sketch)
}

/// Seven kinds: the six colours, then grey.
fn class(i: usize) -> &'static str {
    if i == 6 { "s7" } else { series(i) }
}

/// The price of the energy by where it goes. Parts that give energy back, such as a fall, are not
/// parts of a price: the rest shares what is paid.
fn stacked(report: &CostReport, ledger: Option<&LedgerReport>, energy: f64) -> Vec<(String, f64)> {
    let into_cells = report.cells_wh_per_km / report.wall_wh_per_km;
    let into_cells = if into_cells.is_finite() { into_cells.clamp(0.0, 1.0) } else { 1.0 };
    let mut parts = vec![("charging".to_owned(), energy * (1.0 - into_cells))];
    let rows = ledger.map(|ledger| ledger.rows.as_slice()).unwrap_or_default();
    let paid = |kwh: f64| if kwh.is_finite() { kwh.max(0.0) } else { 0.0 };
    let whole: f64 = rows.iter().map(|row| paid(row.kwh)).sum();
    if whole <= 0.0 {
        parts.push(("driving".to_owned(), energy * into_cells));
        return parts;
    }
    let share = |kwh: f64| energy * into_cells * kwh / whole;
    let mut rest = whole;
    for (name, accounts) in GROUPS {
        let of = rows.iter().filter(|row| accounts.contains(&row.account));
        let kwh: f64 = of.map(|row| paid(row.kwh)).sum();
        rest -= kwh;
        if kwh > 0.0 {
            parts.push((name.to_owned(), share(kwh)));
        }
    }
    if rest > 1e-9 * whole {
        parts.push(("lights, heater and the rest".to_owned(), share(rest)));
    }
    parts.retain(|(_, value)| *value > 0.0);
    parts
}
