//! Charging: power and charge over the night.

use super::chart::{Axis, Plot};
use super::sketch::{Area, Sketch};
use super::{Look, Picture};
use crate::measure::{clock, number};
use scenarios::runs::charge::{ChargePoint, ChargeReport};
use scenarios::units::h_from_s;

type Points = Vec<(f64, f64)>;

fn over_time(course: &[ChargePoint], of: fn(&ChargePoint) -> f64) -> Points {
    course.iter().map(|point| (h_from_s(point.time_s), of(point))).collect()
}

/// The picture of a full charge; `before` is a former one.
pub fn picture(
    report: &ChargeReport,
    course: &[ChargePoint],
    before: Option<&[ChargePoint]>,
    look: Look,
) -> Picture {
    let title = look.title("Charging");
    let end_h = course.iter().map(|point| h_from_s(point.time_s)).fold(0.0, f64::max);
    if end_h <= 0.0 {
        let why = format!("Nothing is charged: {}.", report.full.words);
        return Picture::empty("charging", &title, &why, look);
    }
    let before = before.unwrap_or_default();
    let night_h = report.full.night.hours;
    // A charge of days is shown whole; of a short one, the night.
    let right = end_h.max(night_h);
    let mut sketch = Sketch::new(look.width, if look.is_narrow() { 320.0 } else { 400.0 });
    sketch.title(&title);
    let outer = sketch.area();
    let above = Area { top: 32.0, bottom: 0.5 * outer.bottom - 4.0, ..outer };
    let below = Area { top: 0.5 * outer.bottom - 2.0, ..outer };

    let x = Axis::from_zero("", [right]).bare();
    let powers = over_time(course, |p| p.wall_kw);
    let y = Axis::from_zero("power, kW", powers.iter().map(|p| 1.12 * p.1));
    let mut plot = Plot::new(&mut sketch, above, 84.0, x, y);
    plot.ghost(&mut sketch, &over_time(before, |p| p.wall_kw));
    let end = plot.line(&mut sketch, &powers, "s2");
    plot.name(end.map(|(x, y)| (x, y.min(above.bottom - 44.0))), "from the wall", "small s2");
    let end = plot.line(&mut sketch, &over_time(course, |p| p.pack_kw), "s1 dash");
    plot.name(end, "into the pack", "small s1");
    plot.finish(&mut sketch);

    let x = Axis::from_zero("time at the socket, h", [right]);
    let y = Axis::of("state of charge, %", [0.0, 100.0]);
    let mut plot = Plot::new(&mut sketch, below, 84.0, x, y);
    plot.ghost(&mut sketch, &over_time(before, |p| p.charge_pct));
    let charge = over_time(course, |p| p.charge_pct);
    plot.upright(&mut sketch, night_h, "limit", "the night ends");
    plot.line(&mut sketch, &charge, "s3 thick");
    if let Some(last) = charge.last() {
        plot.dot(&mut sketch, *last, "s3");
        let at = clock(report.full.time_s);
        let name = format!("{} % after {at}", number(last.1, 0));
        plot.name(plot.at(*last), &name, "small s3");
    }
    if let Some(first) = charge.first() {
        plot.name(plot.at(*first), &format!("{} %", number(first.1, 0)), "small s3");
    }
    plot.finish(&mut sketch);

    let description = format!(
        "A full charge from {}: from {} % to {} % in {}, {} kW from the wall at the start. A night of {} h \
         ends at {} %.",
        report.socket.name,
        number(report.from_pct, 0),
        number(report.full.reached_pct, 0),
        clock(report.full.time_s),
        number(report.drawn_kw, 2),
        number(night_h, 1),
        number(report.full.night.charge_pct, 0)
    );
    Picture::new("charging", &title, &description, sketch)
}
