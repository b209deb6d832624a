//! Force at the driven wheels over speed: what each gear gives, and what the road takes.

use super::chart::{Axis, Plot};
use super::shade::between;
use super::sketch::{Area, Sketch};
use super::{Look, Picture, series};
use crate::measure::{Units, number, ordinal};
use scenarios::runs::tractive::{TractiveGear, TractivePoint, TractiveReport};

/// Highest point of the upright axis over the highest force.
const HEADROOM: f64 = 1.06;
/// How far above that a limit of grip is still shown.
const WORTH_SHOWING: f64 = 1.5;

type Points = Vec<(f64, f64)>;

/// In the units that are shown.
fn shown(points: &[TractivePoint], units: Units) -> Points {
    points.iter().map(|p| (units.value(p.speed_kmh, "km/h"), units.value(p.force_n, "N"))).collect()
}

fn fastest(report: &TractiveReport) -> Option<&TractiveGear> {
    report.gears.iter().max_by(|a, b| a.top_speed_kmh.total_cmp(&b.top_speed_kmh))
}

fn most(points: &[(f64, f64)], of: impl Fn(&(f64, f64)) -> f64) -> f64 {
    points.iter().map(of).filter(|v| v.is_finite()).fold(0.0, f64::max)
}

/// The picture; `before` is a former state.
pub fn picture(report: &TractiveReport, before: Option<&TractiveReport>, look: Look) -> Picture {
    shaded(report, before, &[], look)
}

/// The same with shading where the lines of other drawn cars lie: what the road takes, and what each
/// gear gives continuously.
pub fn shaded(
    report: &TractiveReport,
    before: Option<&TractiveReport>,
    drawn: &[TractiveReport],
    look: Look,
) -> Picture {
    let title = look.title("Tractive force");
    let units = look.units;
    let peaks: Vec<Points> = report.gears.iter().map(|g| shown(&g.peak, units)).collect();
    let all = peaks.concat();
    let (by_rpm, highest) = (most(&all, |p| p.0), most(&all, |p| p.1));
    if highest <= 0.0 || by_rpm <= 0.0 {
        let by = report.gears.first().and_then(|gear| gear.top_speed_by);
        let why = match by {
            Some(limit) => format!("The driven wheels give no force: {}.", limit.words()),
            None => "The driven wheels give no force.".to_owned(),
        };
        return Picture::empty("tractive", &title, &why, look);
    }
    let top = fastest(report).map_or(0.0, |g| units.value(g.top_speed_kmh, "km/h"));
    // The last part of a gear that nothing reaches is left out.
    let right = if top > 0.0 { by_rpm.min(1.15 * top) } else { by_rpm };
    let grip = shown(&report.grip, units);
    let grip_n = most(&grip, |p| p.1);
    let headroom = if grip_n < WORTH_SHOWING * highest { highest.max(grip_n) } else { highest };

    let mut sketch = Sketch::new(look.width, if look.is_narrow() { 340.0 } else { 440.0 });
    sketch.title(&title);
    let outer = Area { top: 34.0, ..sketch.area() };
    let x = Axis::from_zero(&format!("speed, {}", units.sign("km/h")), [right]);
    let y = format!("force at the driven wheels, {}", units.sign("N"));
    let y = Axis::from_zero(&y, [headroom * HEADROOM]);
    let mut plot = Plot::new(&mut sketch, outer, 52.0, x, y);

    if let Some(former) = before {
        for gear in &former.gears {
            plot.ghost(&mut sketch, &shown(&gear.peak, units));
            plot.ghost(&mut sketch, &shown(&gear.continuous, units));
        }
        for need in &former.needs {
            plot.ghost(&mut sketch, &shown(&need.road, units));
        }
    }
    let lines = |of: &dyn Fn(&TractiveReport) -> Option<Points>| {
        between(&Vec::from_iter(drawn.iter().filter_map(of)))
    };
    for i in 0..report.needs.len() {
        let (low, high) = lines(&|car| Some(shown(&car.needs.get(i)?.road, units)));
        plot.band(&mut sketch, &low, &high, "s7");
    }
    for i in 0..report.gears.len() {
        let (low, high) = lines(&|car| Some(shown(&car.gears.get(i)?.continuous, units)));
        plot.band(&mut sketch, &low, &high, series(i));
    }
    for need in &report.needs {
        let end = plot.line(&mut sketch, &shown(&need.road, units), "thin s7");
        let name = match need.grade_pct {
            0.0 => "level".to_owned(),
            pct => format!("{} %", number(pct, 0)),
        };
        plot.name(end, &name, "small s7");
    }
    let end = plot.line(&mut sketch, &grip, "thin dots");
    plot.name(end.map(|(x, y)| (x - 60.0, y)), "grip", "small");
    for (i, gear) in report.gears.iter().enumerate() {
        if plot.line(&mut sketch, &peaks[i], &format!("thick {}", series(i))).is_some() {
            plot.name_along(0.0, &ordinal(gear.gear), &format!("strong {}", series(i)));
        }
    }
    for (i, gear) in report.gears.iter().enumerate() {
        let held = shown(&gear.continuous, units);
        let name = if i == 0 { "1st continuous".to_owned() } else { ordinal(gear.gear) };
        if plot.line(&mut sketch, &held, &format!("dash {}", series(i))).is_some() {
            plot.name_along(0.3, &name, &format!("small {}", series(i)));
        }
    }
    if let Some((gear, at)) = top_mark(report, units) {
        plot.dot(&mut sketch, at, "");
        let speed = units.speed(gear.top_speed_kmh, 0);
        let by = gear.top_speed_by.map_or_else(String::new, |by| format!(", {by}"));
        plot.name(plot.at(at), &format!("top speed {speed}{by}"), "small");
    }
    plot.finish(&mut sketch);
    let mut said = description(report, units);
    if !drawn.is_empty() {
        said += &format!(
            " Shaded: where eight of ten of {} drawn cars lie, when what is uncertain varies as usual; \
             continuous force of each gear, and what the road takes.",
            drawn.len()
        );
    }
    Picture::new("tractive", &title, &said, sketch)
}

/// Where the fastest gear's top speed lies on the need of the level road.
fn top_mark(report: &TractiveReport, units: Units) -> Option<(&TractiveGear, (f64, f64))> {
    let gear = fastest(report).filter(|gear| gear.top_speed_kmh > 0.0)?;
    let level = &report.needs.first()?.road;
    let force_n = at_speed(level, gear.top_speed_kmh)?;
    let at = (units.value(gear.top_speed_kmh, "km/h"), units.value(force_n, "N"));
    Some((gear, at))
}

/// The force of a line at a speed.
pub fn at_speed(points: &[TractivePoint], speed_kmh: f64) -> Option<f64> {
    points.windows(2).find(|p| (p[0].speed_kmh..=p[1].speed_kmh).contains(&speed_kmh)).map(|p| {
        let share = (speed_kmh - p[0].speed_kmh) / (p[1].speed_kmh - p[0].speed_kmh);
        p[0].force_n + share * (p[1].force_n - p[0].force_n)
    })
}

fn description(report: &TractiveReport, units: Units) -> String {
    let highest = |points: &[TractivePoint]| points.iter().map(|p| p.force_n).fold(0.0, f64::max);
    let mut said = String::new();
    for gear in &report.gears {
        let held = match highest(&gear.continuous) {
            n if n > 0.0 => format!("up to {} continuous", units.force(n)),
            _ => "nothing continuous".to_owned(),
        };
        let most = units.force(highest(&gear.peak));
        said += &format!("{} gear: at most {most}, {held}. ", ordinal(gear.gear));
    }
    if let Some(grip) = report.grip.first() {
        said += &format!("The driven tyres hold {}. ", units.force(grip.force_n));
    }
    if let Some((gear, _)) = top_mark(report, units) {
        let (speed, name) = (units.speed(gear.top_speed_kmh, 0), ordinal(gear.gear));
        said += &match gear.top_speed_by {
            Some(by) => format!("Top speed {speed} in {name}, limited by {by}. "),
            None => format!("Top speed {speed} in {name}. "),
        };
    }
    said + "All at a speed that is held, on warm tyres. Thin grey lines: what the road takes on the level \
            and on grades. Continuous, dashed: what the wheels hold while motor and controller settle \
            below their warnings and the cells stay within their limits until the pack gives out."
}
