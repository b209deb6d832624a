//! Figures as people read them, metric or in US units.

use crate::measure::{Scale, Units, number, us};
use scenarios::runs::{Figure, FigureKind, Run, Unit};
use scenarios::studies::Goal;

/// A figure by its name.
fn of(name: &str) -> Option<Figure<()>> {
    Run::of_figure(name).ok().map(|(_, figure)| figure)
}

/// Its unit, and what turns a value into that of the tables.
fn shown_in(figure: &Figure<()>, shown: Units) -> Scale {
    let metric: Scale = (figure.unit.sign(), |v| v);
    match shown {
        Units::Metric => metric,
        Units::Us => us(figure.unit.sign()).unwrap_or(metric),
    }
}

/// The sign of a figure's unit in the tables.
pub fn sign(figure: &Figure<()>, shown: Units) -> &'static str {
    shown_in(figure, shown).0
}

/// The name with its unit as a person would say it: `climb heat, %`.
pub fn label(name: &str, shown: Units) -> String {
    let words = |stem: &str| stem.replace("_kmh", " km/h").replace('_', " ");
    match of(name) {
        Some(figure) if !figure.unit.sign().is_empty() => {
            // In the name itself a speed stays as it is meant: "to 80 km/h".
            let stem =
                name.strip_suffix(figure.unit.ending()).unwrap_or(name).trim_end_matches('_');
            let consumption;
            let stem = match stem {
                "day" | "worst_season" | "regen" | "wall" if figure.unit == Unit::WhPerKm => {
                    consumption = format!("{stem}_consumption");
                    &consumption
                }
                "" => "consumption at the pack",
                "running" => "mass with load",
                "usable" => "usable energy",
                "friction" => "friction brakes",
                "outside" => "outside the tolerance",
                "speed_30min" => "30-minute speed",
                "power_30min" => "30-minute power",
                "cells" if figure.unit == Unit::WhPerKm => "consumption from the cells",
                stem => stem,
            };
            format!("{}, {}", words(stem), sign(&figure, shown))
        }
        _ => name.replace('_', " "),
    }
}

/// Whether a figure checks the simulation rather than the car; tables leave it out.
pub fn is_check(name: &str) -> bool {
    of(name).is_some_and(|figure| figure.kind == FigureKind::Check)
}

/// What a figure comes to in the units of the tables, without its sign; `not done` where the run was
/// not carried out, so that the figure counts for nothing.
pub fn shown(figure: &Figure, units: Units) -> String {
    if figure.is_hidden() { NOT_DONE.to_owned() } else { value(figure.name, figure.value, units) }
}

/// What stands for a figure of a run that was not carried out.
pub const NOT_DONE: &str = "not done";

/// The value in the units of the tables, without its sign; `never` where a time, a distance or a
/// speed is not reached. Other figures have no value only where their run was not carried out.
pub fn value(name: &str, value: f64, shown: Units) -> String {
    let Some(figure) = of(name) else { return short(value) };
    if !value.is_finite() {
        let reached = matches!(figure.unit, Unit::S | Unit::Min | Unit::H | Unit::Km | Unit::Kmh);
        return if reached { "never" } else { NOT_DONE }.to_owned();
    }
    match (figure.kind, figure.unit) {
        (FigureKind::YesNo, _) => if value > 0.5 { "yes" } else { "no" }.to_owned(),
        (_, Unit::Plain | Unit::Money) if value.fract() == 0.0 => number(value, 0),
        _ => short(shown_in(&figure, shown).1(value)),
    }
}

/// The value in the units of the tables.
pub fn in_units(name: &str, value: f64, shown: Units) -> f64 {
    of(name).map_or(value, |figure| shown_in(&figure, shown).1(value))
}

/// The bound of a goal, such as `<=5.4`, in the units of the tables: as it was given where they are
/// its own.
pub fn bound(goal: &Goal, shown: Units) -> String {
    let Goal { figure: name, bound, .. } = goal;
    let given = goal.to_string().replacen(name.as_str(), "", 1);
    match of(name) {
        Some(figure) if sign(&figure, shown) != figure.unit.sign() => {
            given.replacen(&bound.to_string(), &short(in_units(name, *bound, shown)), 1)
        }
        _ => given,
    }
}

/// A difference of values in the units of the tables, with its sign; a dash where there is none.
pub fn change(name: &str, more: f64, shown: Units) -> String {
    let Some(figure) = of(name).filter(|f| more.is_finite() && f.kind != FigureKind::YesNo) else {
        return "—".to_owned();
    };
    let convert = shown_in(&figure, shown).1;
    // Differences of temperatures begin at no difference.
    let more = convert(more) - convert(0.0);
    if more.abs() < 0.005 {
        return "0".to_owned();
    }
    let sign = if more > 0.0 { "+" } else { "−" };
    match figure.unit {
        Unit::Plain | Unit::Money if more.fract() == 0.0 => {
            format!("{sign}{}", number(more.abs(), 0))
        }
        _ => format!("{sign}{}", short(more.abs())),
    }
}

/// A number with about three digits.
pub fn short(value: f64) -> String {
    match value.abs() {
        v if v >= 99.95 => number(value, 0),
        v if v >= 9.995 => number(value, 1),
        v if v >= 0.0995 || value == 0.0 => number(value, 2),
        v if v >= 0.000_995 => number(value, 4),
        _ => format!("{value:.2e}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_and_values_have_the_units_of_the_tables() {
        assert_eq!(label("to_80_kmh_s", Units::Metric), "to 80 km/h, s");
        assert_eq!(label("wh_per_km", Units::Us), "consumption at the pack, Wh/mi");
        assert_eq!(label("climb_gear", Units::Us), "climb gear");
        assert_eq!(label("day_km", Units::Us), "day, mi");
        assert_eq!(label("front_axle_kg", Units::Us), "front axle, lb");
        assert_eq!(value("climb_winding_c", 100.0, Units::Us), "212");
        assert_eq!(value("wh_per_km", 100.0, Units::Us), "161");
        assert_eq!(value("to_100_kmh_s", f64::NAN, Units::Metric), "never");
        assert_eq!(value("worst_season_winding_c", f64::NAN, Units::Metric), "not done");
        assert_eq!(change("climb_winding_c", -10.0, Units::Us), "−18.0");
        assert_eq!(change("to_100_kmh_s", f64::NAN, Units::Us), "—");
        let in_us = |goal: &str| bound(&goal.parse().unwrap(), Units::Us);
        assert_eq!(in_us("wh_per_km<=100"), "<=161");
        assert_eq!(in_us("to_80_kmh_s<=12.5"), "<=12.5");
        assert_eq!(in_us("climb_winding_c>=-10"), ">=14.0");
        assert_eq!(bound(&"wh_per_km<=100.55".parse().unwrap(), Units::Metric), "<=100.55");
        assert_eq!(value("pass_held", 1.0, Units::Metric), "yes");
        assert_eq!(
            (short(0.0), short(0.022), short(-12.34)),
            ("0.00".into(), "0.0220".into(), "-12.3".into())
        );
    }
}
