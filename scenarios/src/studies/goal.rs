//! A figure with a bound that it should keep.

use crate::runs::failure::Failure;
use crate::runs::figure::{Better, Figure};
use schemars::JsonSchema;
use serde::Serialize;
use std::str::FromStr;

/// On which side of its bound a figure should be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// No more than the bound.
    AtMost,
    /// No less than the bound.
    AtLeast,
}

/// A bound for a figure, such as `climb_heat_pct<=100`.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Goal {
    /// Name of the figure.
    pub figure: String,
    /// Which side is right.
    pub side: Side,
    /// The bound, in the unit of the figure.
    pub bound: f64,
}

/// The value as it is compared: a figure that is never reached is as bad as can be.
pub fn comparable(figure: &Figure) -> f64 {
    match figure.better {
        _ if !figure.value.is_nan() => figure.value,
        Better::Higher => f64::NEG_INFINITY,
        Better::Lower | Better::Neither => f64::INFINITY,
    }
}

impl Goal {
    /// By how much a figure misses the bound, in the unit of the figure; 0 where it keeps it,
    /// infinite where the figure is never reached.
    pub fn missed_by(&self, figure: &Figure) -> f64 {
        (-self.spare(figure)).max(0.0)
    }

    /// What a figure has to spare of the bound, in the unit of the figure; less than nothing where it
    /// misses it, without end where the figure is never reached.
    pub fn spare(&self, figure: &Figure) -> f64 {
        match self.side {
            _ if figure.value.is_nan() => f64::NEG_INFINITY,
            Side::AtMost => self.bound - figure.value,
            Side::AtLeast => figure.value - self.bound,
        }
    }
}

impl std::fmt::Display for Goal {
    fn fmt(&self, f: &mut std::fmt::Formatter) -> std::fmt::Result {
        let sign = match self.side {
            Side::AtMost => "<=",
            Side::AtLeast => ">=",
        };
        write!(f, "{}{sign}{}", self.figure, self.bound)
    }
}

impl FromStr for Goal {
    type Err = Failure;

    /// Reads `figure<=value` or `figure>=value`.
    fn from_str(text: &str) -> Result<Self, Failure> {
        let invalid = |why: &str| Failure::Form { text: text.to_owned(), why: why.to_owned() };
        // `=>` and `=<` are what many write; neither can mean anything else.
        let plain = text.replace('≤', "<=").replace('≥', ">=");
        let plain = plain.replace("=<", "<=").replace("=>", ">=");
        let (figure, side, bound) = match (plain.split_once("<="), plain.split_once(">=")) {
            (Some((figure, bound)), None) => (figure, Side::AtMost, bound),
            (None, Some((figure, bound))) => (figure, Side::AtLeast, bound),
            _ => return Err(invalid("the form is figure<=value or figure>=value")),
        };
        let bound: f64 = bound
            .trim()
            .parse()
            .ok()
            .filter(|v: &f64| v.is_finite())
            .ok_or_else(|| invalid("the bound is not a finite number"))?;
        let figure = figure.trim();
        if figure.is_empty() {
            return Err(invalid("it names no figure"));
        }
        Ok(Self { figure: figure.to_owned(), side, bound })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::runs::figure::{Unit, lower};

    #[test]
    fn reads_both_sides_and_says_by_how_much_a_figure_misses() {
        let most: Goal = "a_pct<=100".parse().unwrap();
        let least: Goal = " a_pct ≥ -2.5".parse().unwrap();
        assert_eq!((most.side, most.bound), (Side::AtMost, 100.0));
        assert_eq!((least.figure.as_str(), least.side), ("a_pct", Side::AtLeast));
        assert_eq!(least.to_string(), "a_pct>=-2.5");
        assert_eq!("a_pct=>-2.5".parse::<Goal>().unwrap(), least);
        assert_eq!("a_pct=<100".parse::<Goal>().unwrap(), most);
        let at = |value| lower("a_pct", Unit::Pct, "", value);
        assert_eq!(most.missed_by(&at(100.0)), 0.0);
        assert_eq!(most.missed_by(&at(112.0)), 12.0);
        assert_eq!(least.missed_by(&at(-4.0)), 1.5);
        assert_eq!(least.missed_by(&at(f64::INFINITY)), 0.0);
        assert_eq!(most.missed_by(&at(f64::NAN)), f64::INFINITY);
        for bad in ["", "a", "a<5", "<=5", "a<=", "a<=x", "a<=inf", "a<=1>=2", "a=1"] {
            assert!(bad.parse::<Goal>().is_err(), "{bad}");
        }
    }
}
