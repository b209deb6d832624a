//! Numbers, times and gears as people write them.

use sim_core::units;

/// A number with so many decimals, and never as minus nothing; a dash where there is none.
pub fn number(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return "—".to_owned();
    }
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| c == '0' || c == '.') => rest.to_owned(),
        _ => text,
    }
}

/// A time that people read: seconds up to two minutes, then minutes, then hours and minutes.
pub fn clock(seconds: f64) -> String {
    if seconds < 120.0 {
        format!("{} s", number(seconds, if seconds < 10.0 { 1 } else { 0 }))
    } else if seconds < 7200.0 {
        format!("{} min", number(units::min_from_s(seconds), if seconds < 600.0 { 1 } else { 0 }))
    } else {
        let (hours, minutes) = units::h_and_min_from_s(seconds);
        format!("{hours:.0} h {minutes:02.0} min")
    }
}

/// `1st`, `2nd`, `3rd`, `4th` …
pub fn ordinal(gear: usize) -> String {
    let ending = match (gear % 10, gear % 100) {
        (_, 11..=13) => "th",
        (1, _) => "st",
        (2, _) => "nd",
        (3, _) => "rd",
        _ => "th",
    };
    format!("{gear}{ending}")
}
