//! Figures as people read them: the unit at the end of a name decides.

use crate::measure::{Units, number};
use scenarios::units;

/// A unit of figures: the end of a name, the sign and the factor in metric, then in US units.
type Unit = (&'static str, &'static str, &'static str, fn(f64) -> f64);

const UNITS: [Unit; 14] = [
    ("_wh_per_km", "Wh/km", "Wh/mi", units::wh_per_mi_from_wh_per_km),
    ("_kmh", "km/h", "mph", |v| units::mph_from_mps(units::mps_from_kmh(v))),
    ("_kwh", "kWh", "kWh", |v| v),
    ("_pct", "%", "%", |v| v),
    ("_kw", "kW", "kW", |v| v),
    ("_kg", "kg", "lb", units::lb_from_kg),
    ("_km", "km", "mi", |v| units::mi_from_m(units::m_from_km(v))),
    ("_nm", "N·m", "lb·ft", units::lbft_from_nm),
    ("_n", "N", "lbf", units::lbf_from_n),
    ("_m", "m", "ft", units::ft_from_m),
    ("_c", "°C", "°F", units::f_from_c),
    ("_a", "A", "A", |v| v),
    ("_v", "V", "V", |v| v),
    ("_s", "s", "s", |v| v),
];

/// Figures that are 1 for yes and 0 for no.
const YES_OR_NO: [&str; 3] = ["climb_held", "pass_held", "drive_complete"];

fn unit_of(name: &str) -> Option<&'static Unit> {
    UNITS.iter().find(|u| name.ends_with(u.0) || name == &u.0[1..])
}

/// The name with its unit as a person would say it: `climb heat, %`.
pub fn label(name: &str, shown: Units) -> String {
    let Some((end, metric, us, _)) = unit_of(name) else {
        return name.replace('_', " ");
    };
    let sign = if shown == Units::Us { us } else { metric };
    match name.strip_suffix(end) {
        // In the name itself a speed stays as it is meant: "to 80 km/h".
        Some(stem) => format!("{}, {sign}", stem.replace("_kmh", " km/h").replace('_', " ")),
        None => format!("consumption, {sign}"),
    }
}

/// Whether a figure checks the simulation rather than the car; tables leave it out.
pub fn is_check(name: &str) -> bool {
    name.ends_with("_residual")
}

/// The value in the units of the tables, without its sign; `never` where there is none.
pub fn value(name: &str, value: f64, shown: Units) -> String {
    if !value.is_finite() {
        return "never".to_owned();
    }
    if YES_OR_NO.contains(&name) {
        return if value > 0.5 { "yes" } else { "no" }.to_owned();
    }
    match (shown, unit_of(name)) {
        (_, None) if value.fract() == 0.0 => number(value, 0),
        (Units::Us, Some((.., convert))) => short(convert(value)),
        _ => short(value),
    }
}

/// A difference of values in the units of the tables, with its sign; a dash where there is none.
pub fn change(name: &str, more: f64, shown: Units) -> String {
    if !more.is_finite() || YES_OR_NO.contains(&name) {
        return "—".to_owned();
    }
    let more = match (shown, unit_of(name)) {
        // Differences of temperatures begin at no difference.
        (Units::Us, Some((.., convert))) => convert(more) - convert(0.0),
        _ => more,
    };
    if more.abs() < 0.005 {
        return "0".to_owned();
    }
    let sign = if more > 0.0 { "+" } else { "−" };
    match unit_of(name) {
        None if more.fract() == 0.0 => format!("{sign}{}", number(more.abs(), 0)),
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
        assert_eq!(label("wh_per_km", Units::Us), "consumption, Wh/mi");
        assert_eq!(label("climb_gear", Units::Us), "climb gear");
        assert_eq!(label("front_axle_kg", Units::Us), "front axle, lb");
        assert_eq!(value("climb_winding_c", 100.0, Units::Us), "212");
        assert_eq!(value("wh_per_km", 100.0, Units::Us), "161");
        assert_eq!(value("to_100_kmh_s", f64::NAN, Units::Metric), "never");
        assert_eq!(change("climb_winding_c", -10.0, Units::Us), "−18.0");
        assert_eq!(change("to_100_kmh_s", f64::NAN, Units::Us), "—");
        assert_eq!(value("pass_held", 1.0, Units::Metric), "yes");
        assert_eq!(
            (short(0.0), short(0.022), short(-12.34)),
            ("0.00".into(), "0.0220".into(), "-12.3".into())
        );
    }
}
