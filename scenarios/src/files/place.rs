//! Where a value stands in the tree of a scenario, and what may stand there.

use crate::files::assumption::Assumption;
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
    fn holds(self, value: f64) -> bool {
        (value > self.low || self.low_is_in && value == self.low) && value <= self.high
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

/// A refusal, before it is known in which file the path stands.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Fault {
    Value { path: String, value: String, allowed: String },
    Missing { path: String, needed: String },
}

/// A place in the tree, as a chain of steps from the root; it costs nothing until it is printed.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Place<'a> {
    above: Option<&'a Place<'a>>,
    step: Step<'a>,
}

#[derive(Debug, Clone, Copy)]
enum Step<'a> {
    Root,
    Field(&'a str),
    Item(usize),
}

impl<'a> Place<'a> {
    pub(crate) const ROOT: Place<'static> = Place { above: None, step: Step::Root };

    pub(crate) fn field(&'a self, name: &'a str) -> Place<'a> {
        Place { above: Some(self), step: Step::Field(name) }
    }

    /// An item of a list; printed from 1 on.
    pub(crate) fn item(&'a self, index: usize) -> Place<'a> {
        Place { above: Some(self), step: Step::Item(index) }
    }

    pub(crate) fn path(&self) -> String {
        let mut path = self.above.map_or_else(String::new, Place::path);
        let step = match self.step {
            Step::Root => return path,
            Step::Field(name) => name.to_owned(),
            Step::Item(index) => (index + 1).to_string(),
        };
        if !path.is_empty() {
            path.push('.');
        }
        path + &step
    }

    /// The refusal of what stands in a field.
    pub(crate) fn refuse(
        &self,
        name: &str,
        value: impl fmt::Display,
        allowed: impl Into<String>,
    ) -> Fault {
        Fault::Value {
            path: self.field(name).path(),
            value: value.to_string(),
            allowed: allowed.into(),
        }
    }

    /// The demand for a field that is not there.
    pub(crate) fn demand(&self, name: &str, needed: impl Into<String>) -> Fault {
        Fault::Missing { path: self.field(name).path(), needed: needed.into() }
    }

    /// A refusal by the physics of what stands here.
    pub(crate) fn impossible(&self, name: &str, invalid: &sim_core::Invalid) -> Fault {
        let value = format!("such that {} is {}", invalid.field, invalid.value);
        self.refuse(name, value, invalid.allowed.clone())
    }

    /// A number that must be within what is allowed.
    pub(crate) fn number(&self, name: &str, value: f64, allowed: Allowed) -> Result<f64, Fault> {
        if allowed.holds(value) {
            Ok(value)
        } else {
            Err(self.refuse(name, plain(value), allowed.to_string()))
        }
    }

    /// A number that may be left out.
    pub(crate) fn optional(
        &self,
        name: &str,
        value: Option<f64>,
        allowed: Allowed,
    ) -> Result<Option<f64>, Fault> {
        value.map(|value| self.number(name, value, allowed)).transpose()
    }

    /// A number that must be there.
    pub(crate) fn required(
        &self,
        name: &str,
        value: Option<f64>,
        allowed: Allowed,
        needed: &str,
    ) -> Result<f64, Fault> {
        match value {
            Some(value) => self.number(name, value, allowed),
            None => Err(self.demand(name, needed)),
        }
    }

    /// A number that is assumed where it was left out.
    #[allow(clippy::too_many_arguments)]
    pub(crate) fn assumed(
        &self,
        name: &str,
        value: Option<f64>,
        allowed: Allowed,
        default: f64,
        unit: &str,
        reason: &'static str,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<f64, Fault> {
        match value {
            Some(value) => self.number(name, value, allowed),
            None => {
                assumptions.push(Assumption::new(self, name, default, unit, reason));
                Ok(default)
            }
        }
    }

    /// A curve from points, with both its axes checked.
    pub(crate) fn curve(
        &self,
        name: &str,
        points: impl ExactSizeIterator<Item = (f64, f64)>,
        (x_name, x_allowed): (&str, Allowed),
        (y_name, y_allowed): (&str, Allowed),
    ) -> Result<Vec<(f64, f64)>, Fault> {
        let list = self.field(name);
        let count = points.len();
        if count == 0 || count > 1000 {
            return Err(self.refuse(name, format!("a list of {count}"), "1 to 1000 points"));
        }
        let mut found: Vec<(f64, f64)> = Vec::with_capacity(count);
        for (i, (x, y)) in points.enumerate() {
            let item = list.item(i);
            item.number(x_name, x, x_allowed)?;
            item.number(y_name, y, y_allowed)?;
            if let Some((before, _)) = found.last()
                && x <= *before
            {
                let allowed = format!("more than the {} of the point before it", plain(*before));
                return Err(item.refuse(x_name, plain(x), allowed));
            }
            found.push((x, y));
        }
        Ok(found)
    }
}

/// How many of a set of ways to say the same thing were used; at most one may be.
pub(crate) fn only_one<'a>(
    place: &Place,
    ways: &[(&'a str, bool)],
) -> Result<Option<&'a str>, Fault> {
    let mut used = ways.iter().filter(|way| way.1).map(|way| way.0);
    let first = used.next();
    if let (Some(first), Some(second)) = (first, used.next()) {
        return Err(place.refuse(second, format!("given beside {first}"), "only one of the two"));
    }
    Ok(first)
}
