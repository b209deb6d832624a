//! What no report may say, whatever was put in: the last check before anything is shown.
//!
//! A report is walked number by number, by way of its own serialisation, so that a field that is
//! added to one is held to the same. What a number may be follows from how the name of its field
//! ends, as that is its unit. What a report says of something that is never reached is `None`;
//! anything else is finite.

use crate::files::allowed::{Allowed, within};
use crate::plausible::doubts;
use crate::prepared::Prepared;
use crate::runs::failure::Failure;
use crate::runs::figure::Figure;
use serde::Serialize;
use serde::ser::{self, Serializer};
use std::fmt;

/// What can be of numbers in fields whose names end so, and the input that leads elsewhere.
struct Rule {
    endings: &'static [&'static str],
    allowed: Allowed,
    fields: &'static str,
}

/// Rounding that says nothing.
const SLACK: f64 = 1e-6;
const NOT_NEGATIVE: Allowed = within(-SLACK, f64::MAX);
const WHOLE: Allowed = within(-100.0 - SLACK, 100.0 + SLACK);
const CHARGE: Allowed = within(-SLACK, 100.0 + SLACK);
const ANY: Allowed = within(f64::MIN, f64::MAX);
const PACK: &str = "pack.cell, pack.min_charge_pct, pack.max_charge_pct and start.charge_pct";

/// The first rule that fits holds.
const RULES: &[Rule] = &[
    // Energies that flow both ways, and what something costs beside what it would without.
    Rule {
        endings: &[
            "energy_kwh",
            "chemical_kwh",
            "cells_kwh",
            "polarisation_kwh",
            "driving_kwh",
            "drive_kwh",
            "held_kwh",
            "costs.range_km",
            "rows.kwh",
            "per_km",
            "per_kwh",
        ],
        allowed: ANY,
        fields: "",
    },
    Rule {
        endings: &[
            "charge_pct",
            "charge_from_pct",
            "charge_to_pct",
            "charge_left_pct",
            "usable_pct",
            ".from_pct",
            "reached_pct",
            ".left_pct",
            "morning_pct",
        ],
        allowed: CHARGE,
        fields: PACK,
    },
    Rule { endings: &["ledger.rows.share_pct"], allowed: WHOLE, fields: "start and runs" },
    Rule { endings: &["_kwh"], allowed: NOT_NEGATIVE, fields: PACK },
    Rule {
        endings: &["_v"],
        allowed: NOT_NEGATIVE,
        fields: "pack.cell.polarisation_mohm, pack.cell.resistance and pack.cell.resistance_growth",
    },
    // From absolute zero to where copper melts (1,085 °C; handbook value).
    Rule {
        endings: &["_c"],
        allowed: within(-273.15, 1085.0),
        fields: "masses, heat capacities and conductances of motor, controller and pack.cell",
    },
    Rule {
        endings: &["_s", "_h", "_km", "_kmh", "_rpm", "minutes"],
        allowed: NOT_NEGATIVE,
        fields: "runs and gearbox",
    },
    Rule {
        endings: &["residual"],
        allowed: within(-SLACK, SLACK),
        fields: "masses, inertias, heat capacities and time constants",
    },
];

/// Words for a limit, or an ending, that lets a cell be under its lowest voltage.
const NAMES_A_LIMIT: &[&str] = &["cell_voltage", "pack_power", "charge", "empty"];

/// A number that cannot be.
#[derive(Debug, Clone, PartialEq)]
struct Breach {
    path: String,
    value: f64,
    allowed: String,
    fields: &'static str,
}

fn judge(path: &str, value: f64) -> Option<Breach> {
    let breach = |allowed: String, fields| Breach { path: path.to_owned(), value, allowed, fields };
    if !value.is_finite() {
        return Some(breach("a finite number".to_owned(), "the fields furthest from any car's"));
    }
    let dotted = format!(".{path}");
    let fits = |rule: &&Rule| rule.endings.iter().any(|ending| dotted.ends_with(ending));
    let rule = RULES.iter().find(fits)?;
    (!rule.allowed.holds(value)).then(|| breach(rule.allowed.in_words(), rule.fields))
}

impl Prepared {
    /// Lets a report of this car through if every number in it can be.
    ///
    /// # Errors
    /// [`Failure::Impossible`] with the first that cannot, and the input to look at.
    pub fn vouched<R: Serialize>(&self, report: R) -> Result<R, Failure> {
        let mut walk = Walk { min_v: self.car.parts().pack.least_min_v(), ..Walk::default() };
        // The walk itself refuses nothing.
        let _ = report.serialize(&mut walk);
        let low = walk.low_cell.filter(|_| !walk.names_a_limit);
        match walk.breach.or(low) {
            Some(breach) => Err(self.impossible(breach)),
            None => Ok(report),
        }
    }

    /// The same for figures; not a number and infinity stand for what is never reached.
    ///
    /// # Errors
    /// As [`Self::vouched`].
    pub fn vouched_figures(&self, figures: Vec<Figure>) -> Result<Vec<Figure>, Failure> {
        let finite = figures.iter().filter(|figure| figure.value.is_finite());
        match finite.filter_map(|figure| judge(figure.name, figure.value)).next() {
            Some(breach) => Err(self.impossible(breach)),
            None => Ok(figures),
        }
    }

    fn impossible(&self, breach: Breach) -> Failure {
        let Breach { path, value, allowed, fields } = breach;
        // What is furthest from usual is what most likely led there.
        let odd = doubts(&self.echo).into_iter().next();
        let look_at = odd.unwrap_or_else(|| format!("look at {fields}."));
        Failure::Impossible { path, value, allowed, look_at }
    }
}

/// Walks through a report and notes the first number that cannot be.
#[derive(Default)]
struct Walk {
    /// Where it is; items of lists have no number.
    path: String,
    min_v: f64,
    breach: Option<Breach>,
    /// A cell under its lowest voltage.
    low_cell: Option<Breach>,
    names_a_limit: bool,
}

impl Walk {
    fn see(&mut self, value: f64) {
        if self.breach.is_some() {
            return;
        }
        self.breach = judge(&self.path, value);
        if self.low_cell.is_none() && self.path.ends_with("low_cell_v") {
            let rule = RULES.iter().find(|rule| rule.endings.contains(&"_v"));
            self.low_cell = (value < self.min_v - 0.01).then(|| Breach {
                path: self.path.clone(),
                value,
                allowed: format!("at least {} V, as no limit is named", self.min_v),
                fields: rule.map_or("pack.cell", |rule| rule.fields),
            });
        }
    }

    fn within(&mut self) -> Within<'_> {
        Within { above: self.path.len(), walk: self }
    }
}

/// A part of a report that is walked through.
struct Within<'a> {
    walk: &'a mut Walk,
    above: usize,
}

impl Within<'_> {
    fn field<T: Serialize + ?Sized>(&mut self, name: &str, value: &T) -> Result<(), fmt::Error> {
        if !self.walk.path.is_empty() {
            self.walk.path.push('.');
        }
        self.walk.path.push_str(name);
        let done = value.serialize(&mut *self.walk);
        self.walk.path.truncate(self.above);
        done
    }
}

/// Makes a way of going through parts of one and the same.
macro_rules! parts {
    ($($how:ident :: $each:ident($($name:ident: $text:ty)?)),+ $(,)?) => {$(
        impl ser::$how for Within<'_> {
            type Ok = ();
            type Error = fmt::Error;

            fn $each<T: Serialize + ?Sized>(
                &mut self,
                $($name: $text,)?
                value: &T,
            ) -> Result<(), fmt::Error> {
                parts!(@walk self, value $(, $name)?)
            }

            fn end(self) -> Result<(), fmt::Error> {
                Ok(())
            }
        }
    )+};
    (@walk $self:ident, $value:ident) => { $value.serialize(&mut *$self.walk) };
    (@walk $self:ident, $value:ident, $name:ident) => { $self.field($name, $value) };
}

parts! {
    SerializeSeq::serialize_element(),
    SerializeTuple::serialize_element(),
    SerializeTupleStruct::serialize_field(),
    SerializeTupleVariant::serialize_field(),
    SerializeStruct::serialize_field(name: &'static str),
    SerializeStructVariant::serialize_field(name: &'static str),
}

impl ser::SerializeMap for Within<'_> {
    type Ok = ();
    type Error = fmt::Error;

    fn serialize_key<T: Serialize + ?Sized>(&mut self, _: &T) -> Result<(), fmt::Error> {
        Ok(())
    }

    fn serialize_value<T: Serialize + ?Sized>(&mut self, value: &T) -> Result<(), fmt::Error> {
        value.serialize(&mut *self.walk)
    }

    fn end(self) -> Result<(), fmt::Error> {
        Ok(())
    }
}

/// Makes nothing of what is no number.
macro_rules! unseen {
    ($($what:ident($kind:ty)),+ $(,)?) => {$(
        fn $what(self, _: $kind) -> Result<(), fmt::Error> {
            Ok(())
        }
    )+};
}

impl<'a> Serializer for &'a mut Walk {
    type Ok = ();
    type Error = fmt::Error;
    type SerializeSeq = Within<'a>;
    type SerializeTuple = Within<'a>;
    type SerializeTupleStruct = Within<'a>;
    type SerializeTupleVariant = Within<'a>;
    type SerializeMap = Within<'a>;
    type SerializeStruct = Within<'a>;
    type SerializeStructVariant = Within<'a>;

    unseen! {
        serialize_bool(bool),
        serialize_i8(i8),
        serialize_i16(i16),
        serialize_i32(i32),
        serialize_i64(i64),
        serialize_u8(u8),
        serialize_u16(u16),
        serialize_u32(u32),
        serialize_u64(u64),
        serialize_char(char),
        serialize_bytes(&[u8]),
        serialize_unit_struct(&'static str),
    }

    fn serialize_f32(self, value: f32) -> Result<(), fmt::Error> {
        self.serialize_f64(f64::from(value))
    }

    fn serialize_f64(self, value: f64) -> Result<(), fmt::Error> {
        self.see(value);
        Ok(())
    }

    fn serialize_str(self, text: &str) -> Result<(), fmt::Error> {
        self.names_a_limit |= NAMES_A_LIMIT.contains(&text);
        Ok(())
    }

    fn serialize_none(self) -> Result<(), fmt::Error> {
        Ok(())
    }

    fn serialize_some<T: Serialize + ?Sized>(self, value: &T) -> Result<(), fmt::Error> {
        value.serialize(self)
    }

    fn serialize_unit(self) -> Result<(), fmt::Error> {
        Ok(())
    }

    fn serialize_unit_variant(
        self,
        _: &'static str,
        _: u32,
        name: &'static str,
    ) -> Result<(), fmt::Error> {
        self.serialize_str(name)
    }

    fn serialize_newtype_struct<T: Serialize + ?Sized>(
        self,
        _: &'static str,
        value: &T,
    ) -> Result<(), fmt::Error> {
        value.serialize(self)
    }

    fn serialize_newtype_variant<T: Serialize + ?Sized>(
        self,
        _: &'static str,
        _: u32,
        _: &'static str,
        value: &T,
    ) -> Result<(), fmt::Error> {
        value.serialize(self)
    }

    fn serialize_seq(self, _: Option<usize>) -> Result<Within<'a>, fmt::Error> {
        Ok(self.within())
    }

    fn serialize_tuple(self, _: usize) -> Result<Within<'a>, fmt::Error> {
        Ok(self.within())
    }

    fn serialize_tuple_struct(self, _: &'static str, _: usize) -> Result<Within<'a>, fmt::Error> {
        Ok(self.within())
    }

    fn serialize_tuple_variant(
        self,
        _: &'static str,
        _: u32,
        _: &'static str,
        _: usize,
    ) -> Result<Within<'a>, fmt::Error> {
        Ok(self.within())
    }

    fn serialize_map(self, _: Option<usize>) -> Result<Within<'a>, fmt::Error> {
        Ok(self.within())
    }

    fn serialize_struct(self, _: &'static str, _: usize) -> Result<Within<'a>, fmt::Error> {
        Ok(self.within())
    }

    fn serialize_struct_variant(
        self,
        _: &'static str,
        _: u32,
        _: &'static str,
        _: usize,
    ) -> Result<Within<'a>, fmt::Error> {
        Ok(self.within())
    }
}
