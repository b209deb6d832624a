//! Full throttle through the gears: speed over time, shifts, and what limits each stretch.

use super::chart::{Axis, Plot};
use super::sketch::{Area, Sketch};
use super::{Look, Picture};
use crate::measure::{Units, number, ordinal};
use scenarios::runs::history::Seen;
use scenarios::runs::limits::NamedLimit;
use scenarios::runs::pull::{PhaseReport, PlanReport, PullReport};
use sim_core::Limit;

/// Shortest stretch that is named, as a share of the time.
const NAMED_SHARE: f64 = 0.03;

/// The class of a limit: the same part has the same colour.
fn class(limit: Option<NamedLimit>) -> &'static str {
    match limit.map(|limit| limit.0) {
        None => "s7",
        Some(Limit::MotorTorque | Limit::MotorVoltage) => "s1",
        Some(Limit::MotorHeat | Limit::ControllerHeat) => "s2",
        Some(Limit::ControllerMotorCurrent) => "s3",
        Some(Limit::Grip) => "s4",
        Some(
            Limit::CellCurrent
            | Limit::CellTemperature
            | Limit::CellVoltage
            | Limit::PackPower
            | Limit::Charge,
        ) => "s5",
        Some(Limit::ControllerPackCurrent | Limit::ControllerVoltage) => "s6",
        Some(Limit::Rpm | Limit::GearboxTorque | Limit::ClutchTorque) => "s7",
    }
}

/// A run as points in the units that are shown, from its start.
fn points(run: &[Seen], from_kmh: f64, units: Units) -> Vec<(f64, f64)> {
    let start = (0.0, units.value(from_kmh, "km/h"));
    let seen = run.iter().map(|s| (s.time_s, units.value(s.speed_kmh, "km/h")));
    std::iter::once(start).chain(seen).collect()
}

/// The part of a run between two times, with its ends.
fn between(points: &[(f64, f64)], from: f64, to: f64) -> Vec<(f64, f64)> {
    let at = |time: f64| {
        let pair = points.windows(2).find(|p| p[0].0 <= time && time <= p[1].0)?;
        let share = (time - pair[0].0) / (pair[1].0 - pair[0].0).max(f64::MIN_POSITIVE);
        Some((time, pair[0].1 + share * (pair[1].1 - pair[0].1)))
    };
    let within = points.iter().copied().filter(|p| p.0 > from && p.0 < to);
    at(from).into_iter().chain(within).chain(at(to)).collect()
}

/// The picture of the pull to the highest speed of a report that is reached: `run` is that pull,
/// moment by moment, and `before` that of a former state.
pub fn picture(report: &PullReport, run: &[Seen], before: Option<&[Seen]>, look: Look) -> Picture {
    let title = look.title("Full throttle through the gears");
    let units = look.units;
    let plan = report.farthest().filter(|_| !run.is_empty());
    let Some(plan) = plan else {
        let why = "The car reaches none of the speeds and distances that are timed.";
        return Picture::empty("throttle", &title, why, look);
    };
    let line = points(run, plan.from_kmh, units);
    let former = before.map(|run| points(run, plan.from_kmh, units)).unwrap_or_default();
    let mut sketch = Sketch::new(look.width, if look.is_narrow() { 300.0 } else { 380.0 });
    sketch.title(&title);
    let outer = Area { top: 34.0, ..sketch.area() };
    let both = || line.iter().chain(&former);
    let x = Axis::from_zero("time, s", both().map(|p| p.0));
    let y = Axis::from_zero(&format!("speed, {}", units.sign("km/h")), both().map(|p| p.1)).round();
    let mut plot = Plot::new(&mut sketch, outer, 70.0, x, y);
    for phase in plan.phases.iter().filter(|phase| phase.limit.is_some()) {
        let high = between(&line, phase.from_s, phase.to_s);
        let low: Vec<(f64, f64)> = high.iter().map(|p| (p.0, 0.0)).collect();
        plot.band(&mut sketch, &low, &high, class(phase.limit));
        // What tells stretches apart without colour.
        if let [first, .., last] = high[..] {
            for (x, y) in [first, last] {
                let foot = plot.at((x, 0.0)).zip(plot.at((x, y)));
                if let Some((low, high)) = foot {
                    sketch.line(&[low, high], "axis");
                    plot.avoid(&[low, high]);
                }
            }
        }
    }
    plot.ghost(&mut sketch, &former);
    for shift in &plan.shifts {
        let at = units.bare_speed(shift.at_kmh);
        let name = format!("{} from {at}", ordinal(shift.to_gear));
        plot.upright(&mut sketch, shift.at_s, "limit", &name);
    }
    plot.top_name(&ordinal(plan.from_gear));
    for phase in &plan.phases {
        let dash = if phase.limit.is_none() { "dots" } else { "thick" };
        let stretch = between(&line, phase.from_s, phase.to_s);
        plot.line(&mut sketch, &stretch, &format!("{dash} {}", class(phase.limit)));
        // What names a stretch stands within it, not across the gap beside it.
        if let ([first, .., last], None) = (&stretch[..], phase.limit) {
            plot.keep_clear((first.0, 0.0), (last.0, first.1.min(last.1)));
        }
        let is_long = phase.to_s - phase.from_s >= NAMED_SHARE * plan.time_s;
        if let (Some(limit), true) = (phase.limit, is_long) {
            let middle = stretch.get(stretch.len() / 2).and_then(|p| plot.at(*p));
            plot.name(middle, &limit.to_string(), &format!("small {}", class(phase.limit)));
        }
    }
    if let Some(end) = line.last() {
        plot.dot(&mut sketch, *end, "");
        let time = format!("{} s", number(plan.time_s, 1));
        plot.name(plot.at(*end), &time, "strong");
    }
    plot.finish(&mut sketch);
    Picture::new("throttle", &title, &description(plan, units), sketch)
}

fn description(plan: &PlanReport, units: Units) -> String {
    let to = match (plan.to_kmh, plan.over_m) {
        (Some(kmh), _) => format!("to {}", units.speed(kmh, 0)),
        (None, Some(m)) => format!("over {}", units.height(m)),
        (None, None) => String::new(),
    };
    let from = units.speed(plan.from_kmh, 0);
    let time = number(plan.time_s, 1);
    let mut said =
        format!("From {from} {to} in {time} s, begun in {} gear.", ordinal(plan.from_gear));
    for shift in &plan.shifts {
        let (at, gear) = (units.speed(shift.at_kmh, 0), ordinal(shift.to_gear));
        said += &format!(" At {at} to {gear}.");
    }
    let what = |p: &PhaseReport| match p.words {
        Some(words) => words.to_owned(),
        None => "between gears".to_owned(),
    };
    for p in &plan.phases {
        let (from, to) = (number(p.from_s, 1), number(p.to_s, 1));
        said += &format!(" {from} to {to} s: {}.", what(p));
    }
    said
}
