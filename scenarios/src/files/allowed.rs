//! Which numbers may stand in a field.

use std::fmt;

/// Numbers that may stand in a field.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Allowed {
    low: f64,
    low_is_in: bool,
    high: f64,
}

/// Numbers from `low` to `high`, both of them in.
pub(crate) const fn within(low: f64, high: f64) -> Allowed {
    Allowed { low, low_is_in: true, high }
}

/// Numbers above `low` and up to `high`.
pub(crate) const fn above(low: f64, high: f64) -> Allowed {
    Allowed { low, low_is_in: false, high }
}

/// Percent of a whole.
pub(crate) const PERCENT: Allowed = within(0.0, 100.0);

impl Allowed {
    /// Whether a number is one of them.
    pub(crate) fn holds(self, value: f64) -> bool {
        (value > self.low || self.low_is_in && value == self.low) && value <= self.high
    }

    /// In words, with an end that is as good as none left out.
    pub(crate) fn in_words(self) -> String {
        // Rounding is let through and not spoken of.
        let round = |end: f64| (end * 1e3).round() / 1e3 + 0.0;
        match (self.low == f64::MIN, self.high == f64::MAX) {
            (true, true) => "any number".to_owned(),
            (true, false) => format!("at most {}", plain(round(self.high))),
            (false, true) => format!("at least {}", plain(round(self.low))),
            (false, false) => format!("{} to {}", plain(round(self.low)), plain(round(self.high))),
        }
    }
}

impl fmt::Display for Allowed {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        if self.low_is_in {
            write!(f, "{} to {}", self.low, self.high)
        } else {
            write!(f, "more than {} and at most {}", self.low, self.high)
        }
    }
}

/// A number as a person would write it.
pub(crate) fn plain(value: f64) -> String {
    let size = value.abs();
    if value != 0.0 && !(1e-6..1e12).contains(&size) {
        format!("{value:e}")
    } else {
        value.to_string()
    }
}
