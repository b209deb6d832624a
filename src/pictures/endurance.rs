//! The map of speeds and grades: minutes until something cuts back.

use super::sketch::{Anchor, Area, Sketch, Text};
use super::{Look, Picture};
use crate::measure::number;
use scenarios::runs::endurance::{EnduranceCell, EnduranceOutcome, EnduranceReport, LETTERS};

/// Most speeds and grades of which every one has its number.
const MOST: usize = 60;
/// Room for the grades on the left, px.
const LEFT: f64 = 46.0;

/// How dark a cell is: the longer it is held, the darker.
fn shade(cell: &EnduranceCell) -> Option<&'static str> {
    match (cell.outcome, cell.minutes) {
        (EnduranceOutcome::Continuous | EnduranceOutcome::Beyond, _) => Some("fill s1 o4"),
        (EnduranceOutcome::Cannot, _) => None,
        (_, Some(minutes)) if minutes >= 30.0 => Some("fill s1 o3"),
        (_, Some(minutes)) if minutes >= 10.0 => Some("fill s1 o2"),
        _ => Some("fill s1 o1"),
    }
}

/// `112*`, `4.1` and `b`, `—` and `r`.
fn words(cell: &EnduranceCell, report: &EnduranceReport) -> (String, &'static str) {
    let letter = cell.letter.unwrap_or("");
    match (cell.outcome, cell.minutes) {
        (EnduranceOutcome::Cannot, _) => ("—".to_owned(), letter),
        (EnduranceOutcome::Beyond, _) | (_, None) => {
            (format!(">{}", number(report.most_minutes, 0)), "")
        }
        (EnduranceOutcome::Continuous, Some(minutes)) => (format!("{}*", number(minutes, 0)), ""),
        (_, Some(minutes)) => (number(minutes, usize::from(minutes < 9.95)), letter),
    }
}

/// The picture; cells that were otherwise in a former state have a ring around them.
pub fn picture(report: &EnduranceReport, before: Option<&EnduranceReport>, look: Look) -> Picture {
    let title = look.title("Minutes until something cuts back");
    let (columns, rows) = (report.speeds_kmh.len(), report.grades_pct.len());
    if columns == 0 || rows == 0 {
        return Picture::empty("endurance", &title, "No speed and no grade was asked for.", look);
    }
    if columns > MOST || rows > MOST {
        let why =
            format!("{columns} speeds on {rows} grades are too many to draw; at most {MOST} each.");
        return Picture::empty("endurance", &title, &why, look);
    }
    let units = look.units;
    let wide = (look.width - 12.0 - LEFT) / columns as f64;
    let fits = |text: &str| super::sketch::width_px(text, 11.0) <= wide - 2.0;
    // Where it is narrow, the letter stands under the minutes.
    let mut all = report.rows.iter().flatten().map(|cell| words(cell, report));
    let is_tall = !all.all(|(minutes, letter)| fits(&format!("{minutes} {letter}")));
    let high = match (is_tall, rows > 20) {
        (true, _) => 30.0,
        (false, true) => 16.0,
        (false, false) => 22.0,
    };
    let used = |letter: &str| report.rows.iter().flatten().any(|c| words(c, report).1 == letter);
    let mut legend: Vec<String> =
        vec!["* continuous, until the pack is empty; — not held".to_owned()];
    legend.extend(
        LETTERS.iter().filter(|l| used(l.0)).map(|(letter, what)| format!("{letter} {what}")),
    );
    let legend: Vec<String> = legend
        .iter()
        .flat_map(|line| super::sketch::wrapped(line, 11.0, look.width - 16.0))
        .collect();
    let height = 66.0 + high * rows as f64 + 44.0 + 16.0 * legend.len() as f64;
    let mut sketch = Sketch::new(look.width, height);
    sketch.title(&title);
    let right = sketch.area().right - 12.0;
    sketch.text(Text::new(12.0, 46.0, "grade").class("small quiet"));
    let former = |row: usize, column: usize| before?.rows.get(row)?.get(column);
    // Steep grades on top, as on a hill.
    for (place, row) in (0..rows).rev().enumerate() {
        let top = 54.0 + high * place as f64;
        let grade = report.grades_pct[row];
        let decimals = usize::from((grade - grade.round()).abs() > 0.04);
        let text = format!("{} %", number(grade, decimals));
        let base = top + 0.5 * high + 4.0;
        sketch.text(Text::new(LEFT - 6.0, base, &text).class("small quiet").anchor(Anchor::End));
        for (column, cell) in report.rows.get(row).into_iter().flatten().enumerate().take(columns) {
            let left = LEFT + wide * column as f64;
            let area = Area { left, right: left + wide, top, bottom: top + high };
            if let Some(class) = shade(cell) {
                sketch.rect(&area, class);
            }
            if former(row, column).is_some_and(|old| words(old, report) != words(cell, report)) {
                let inner = Area {
                    left: area.left + 1.5,
                    right: area.right - 1.5,
                    top: area.top + 1.5,
                    bottom: area.bottom - 1.5,
                };
                sketch.rect(&inner, "ghost");
            }
            let (minutes, letter) = words(cell, report);
            let lines = match is_tall {
                true => vec![(base - 6.0, minutes), (base + 6.0, letter.to_owned())],
                false => vec![(base, format!("{minutes} {letter}").trim_end().to_owned())],
            };
            let class =
                if cell.outcome == EnduranceOutcome::Cannot { "small quiet" } else { "small" };
            for (y, text) in lines.iter().filter(|line| fits(&line.1)) {
                let at = Text::new(left + 0.5 * wide, *y, text);
                sketch.text(at.class(class).anchor(Anchor::Middle));
            }
        }
    }
    let bottom = 54.0 + high * rows as f64;
    for (column, kmh) in report.speeds_kmh.iter().enumerate() {
        let value = units.value(*kmh, "km/h");
        let decimals = usize::from((value - value.round()).abs() > 0.04);
        let text = number(value, decimals);
        if fits(&text) {
            let x = LEFT + wide * (column as f64 + 0.5);
            let at = Text::new(x, bottom + 15.0, &text);
            sketch.text(at.class("small quiet").anchor(Anchor::Middle));
        }
    }
    let axis = format!("speed, {}", units.sign("km/h"));
    sketch.text(Text::new(right, bottom + 31.0, &axis).class("small").anchor(Anchor::End));
    for (i, line) in legend.iter().enumerate() {
        let base = bottom + 47.0 + 16.0 * i as f64;
        sketch.text(Text::new(12.0, base, line).class("small quiet"));
    }
    let all = report.rows.iter().flatten();
    let held = all.clone().filter(|c| c.outcome == EnduranceOutcome::Continuous).count();
    let description = format!(
        "Speeds from left to right, grades from bottom to top; the darker, the longer it is held. {held} of {} \
         are held until the pack is empty. In each cell the minutes, and a letter for the part that \
         gives up.",
        all.count()
    );
    Picture::new("endurance", &title, &description, sketch)
}
