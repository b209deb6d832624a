//! Where a value stands in the tree of a scenario, and the checks of what stands there.

use crate::files::allowed::{Allowed, plain};
use crate::files::assumption::{Assumption, Usual};
use crate::files::bounds::CURVE_POINTS;
use std::fmt;

/// A refusal, before it is known in which file the path stands.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Fault {
    Value {
        path: String,
        value: String,
        allowed: String,
    },
    Missing {
        path: String,
        needed: String,
    },
    /// Two ways to say the same thing.
    Both {
        path: String,
        other: String,
    },
}

/// Path of a field, as a chain of steps from the root; it costs nothing until it is printed.
#[derive(Debug, Clone, Copy)]
pub(crate) struct FieldPath<'a> {
    above: Option<&'a FieldPath<'a>>,
    step: Step<'a>,
}

#[derive(Debug, Clone, Copy)]
enum Step<'a> {
    Root,
    Field(&'a str),
    Item(usize),
}

impl<'a> FieldPath<'a> {
    pub(crate) const ROOT: FieldPath<'static> = FieldPath { above: None, step: Step::Root };

    pub(crate) fn field(&'a self, name: &'a str) -> FieldPath<'a> {
        FieldPath { above: Some(self), step: Step::Field(name) }
    }

    /// An item of a list; printed from 1 on.
    pub(crate) fn item(&'a self, index: usize) -> FieldPath<'a> {
        FieldPath { above: Some(self), step: Step::Item(index) }
    }

    pub(crate) fn path(&self) -> String {
        let mut path = String::with_capacity(48);
        self.write(&mut path);
        path
    }

    fn write(&self, path: &mut String) {
        if let Some(above) = self.above {
            above.write(path);
        }
        if !path.is_empty() {
            path.push('.');
        }
        match self.step {
            Step::Root => {}
            Step::Field(name) => path.push_str(name),
            Step::Item(index) => path.push_str(&(index + 1).to_string()),
        }
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
    pub(crate) fn assumed(
        &self,
        name: &str,
        value: Option<f64>,
        allowed: Allowed,
        usual: Usual,
        assumptions: &mut Vec<Assumption>,
    ) -> Result<f64, Fault> {
        match value {
            Some(value) => self.number(name, value, allowed),
            None => {
                assumptions.push(self.assume(name, usual));
                Ok(usual.value)
            }
        }
    }

    /// The note that a field was left out.
    pub(crate) fn assume(&self, name: &str, usual: Usual) -> Assumption {
        Assumption::number(self.field(name).path(), usual)
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
        if count == 0 || count as u64 > CURVE_POINTS {
            let allowed = format!("1 to {CURVE_POINTS} points");
            return Err(self.refuse(name, format!("a list of {count}"), allowed));
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
    at: &FieldPath,
    ways: &[(&'a str, bool)],
) -> Result<Option<&'a str>, Fault> {
    let mut used = ways.iter().filter(|way| way.1).map(|way| way.0);
    let first = used.next();
    if let (Some(first), Some(second)) = (first, used.next()) {
        let path = |name| at.field(name).path();
        return Err(Fault::Both { path: path(second), other: path(first) });
    }
    Ok(first)
}
