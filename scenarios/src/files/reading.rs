//! Reads a tree of JSON as an input type. What does not fit is told by its kind and its path, so
//! that nobody has to read that out of a message.

use serde::de::value::StrDeserializer;
use serde::de::{self, DeserializeSeed, Deserializer, MapAccess, SeqAccess, Unexpected, Visitor};
use serde::{Deserialize, forward_to_deserialize_any};
use serde_json::Value;
use std::fmt;

/// What may stand in a field.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Wanted {
    Number,
    Count,
    Text,
    Truth,
    List,
    Object,
    OneOf(&'static [&'static str]),
}

/// Why it does not fit.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Why {
    /// A key of an object that means nothing, and those that mean something.
    UnknownField(String, &'static [&'static str]),
    /// A key of an object that is not there.
    MissingField(&'static str),
    /// A word that means nothing, and those that mean something.
    UnknownWord(String, &'static [&'static str]),
    /// Something of another kind, in words, and what is wanted, where that is known.
    OtherKind(String, Option<Wanted>),
    /// Anything else, in words.
    Other(String),
}

/// A branch of a tree that cannot be read.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Unfit {
    /// Path of the branch; items of lists are counted from 1.
    pub(crate) path: String,
    pub(crate) why: Why,
}

/// Reads a tree.
pub(crate) fn read<'a, T: Deserialize<'a>>(tree: &'a Value) -> Result<T, Unfit> {
    T::deserialize(Branch(tree))
}

impl fmt::Display for Wanted {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str(match self {
            Wanted::Number => "a number",
            Wanted::Count => "a whole number from 0 on",
            Wanted::Text => "a text in quotes",
            Wanted::Truth => "true or false",
            Wanted::List => "a list",
            Wanted::Object => "an object in { }",
            Wanted::OneOf(words) => return f.write_str(&words.join(", ")),
        })
    }
}

impl From<Why> for Unfit {
    fn from(why: Why) -> Self {
        Self { path: String::new(), why }
    }
}

impl Unfit {
    fn under(mut self, step: &str) -> Self {
        self.path =
            if self.path.is_empty() { step.into() } else { format!("{step}.{}", self.path) };
        self
    }

    fn wanting(mut self, wanted: Wanted) -> Self {
        if let (true, Why::OtherKind(_, none @ None)) = (self.path.is_empty(), &mut self.why) {
            *none = Some(wanted);
        }
        self
    }
}

impl fmt::Display for Unfit {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        write!(f, "{}: {:?}", self.path, self.why)
    }
}

impl std::error::Error for Unfit {}

impl de::Error for Unfit {
    fn custom<T: fmt::Display>(message: T) -> Self {
        Why::Other(message.to_string()).into()
    }

    fn invalid_type(found: Unexpected, _: &dyn de::Expected) -> Self {
        let found = match found {
            Unexpected::Bool(value) => value.to_string(),
            Unexpected::Unsigned(value) => format!("the number {value}"),
            Unexpected::Signed(value) => format!("the number {value}"),
            Unexpected::Float(value) => format!("the number {value:?}"),
            Unexpected::Str(text) => format!("the text {text:?}"),
            Unexpected::Unit | Unexpected::Option => "null".to_owned(),
            Unexpected::Seq => "a list".to_owned(),
            Unexpected::Map => "an object".to_owned(),
            other => other.to_string(),
        };
        Why::OtherKind(found, None).into()
    }

    fn invalid_value(found: Unexpected, wanted: &dyn de::Expected) -> Self {
        Self::invalid_type(found, wanted)
    }

    fn unknown_variant(found: &str, known: &'static [&'static str]) -> Self {
        Why::UnknownWord(found.to_owned(), known).into()
    }

    fn unknown_field(found: &str, known: &'static [&'static str]) -> Self {
        Why::UnknownField(found.to_owned(), known).into()
    }

    fn missing_field(field: &'static str) -> Self {
        Why::MissingField(field).into()
    }
}

/// A branch of a tree.
struct Branch<'de>(&'de Value);

impl<'de> Branch<'de> {
    fn read_as<V: Visitor<'de>>(self, wanted: Wanted, visitor: V) -> Result<V::Value, Unfit> {
        self.deserialize_any(visitor).map_err(|unfit| unfit.wanting(wanted))
    }
}

impl<'de> Deserializer<'de> for Branch<'de> {
    type Error = Unfit;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Unfit> {
        match self.0 {
            Value::Null => visitor.visit_unit(),
            Value::Bool(value) => visitor.visit_bool(*value),
            Value::Number(value) => match (value.as_u64(), value.as_i64(), value.as_f64()) {
                (Some(value), ..) => visitor.visit_u64(value),
                (None, Some(value), _) => visitor.visit_i64(value),
                (None, None, value) => visitor.visit_f64(value.unwrap_or(f64::NAN)),
            },
            Value::String(text) => visitor.visit_borrowed_str(text),
            Value::Array(list) => visitor.visit_seq(Items(list.iter().enumerate())),
            Value::Object(map) => visitor.visit_map(Entries { rest: map.iter(), entry: None }),
        }
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Unfit> {
        if self.0.is_null() { visitor.visit_none() } else { visitor.visit_some(self) }
    }

    fn deserialize_f64<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Unfit> {
        self.read_as(Wanted::Number, visitor)
    }

    fn deserialize_u32<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Unfit> {
        self.read_as(Wanted::Count, visitor)
    }

    fn deserialize_string<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Unfit> {
        self.read_as(Wanted::Text, visitor)
    }

    fn deserialize_bool<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Unfit> {
        self.read_as(Wanted::Truth, visitor)
    }

    fn deserialize_seq<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Unfit> {
        self.read_as(Wanted::List, visitor)
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        _: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Unfit> {
        // The fields of an object may not stand in a list without their names.
        if self.0.is_array() {
            let list: Unfit = de::Error::invalid_type(Unexpected::Seq, &visitor);
            return Err(list.wanting(Wanted::Object));
        }
        self.read_as(Wanted::Object, visitor)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _: &'static str,
        words: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Unfit> {
        match self.0 {
            Value::String(word) => visitor.visit_enum(StrDeserializer::new(word)),
            _ => self.read_as(Wanted::OneOf(words), visitor),
        }
    }

    forward_to_deserialize_any! {
        i8 i16 i32 i64 i128 u8 u16 u64 u128 f32 char str bytes byte_buf unit unit_struct
        newtype_struct tuple tuple_struct map identifier ignored_any
    }
}

/// Items of a list that are still to be read.
struct Items<'de>(std::iter::Enumerate<std::slice::Iter<'de, Value>>);

impl<'de> SeqAccess<'de> for Items<'de> {
    type Error = Unfit;

    fn next_element_seed<S: DeserializeSeed<'de>>(
        &mut self,
        seed: S,
    ) -> Result<Option<S::Value>, Unfit> {
        let read = |(i, item): (usize, &'de Value)| {
            seed.deserialize(Branch(item)).map_err(|unfit| unfit.under(&(i + 1).to_string()))
        };
        self.0.next().map(read).transpose()
    }
}

/// Entries of an object that are still to be read.
struct Entries<'de> {
    rest: serde_json::map::Iter<'de>,
    /// The entry whose key was read.
    entry: Option<(&'de String, &'de Value)>,
}

impl<'de> MapAccess<'de> for Entries<'de> {
    type Error = Unfit;

    fn next_key_seed<S: DeserializeSeed<'de>>(
        &mut self,
        seed: S,
    ) -> Result<Option<S::Value>, Unfit> {
        self.entry = self.rest.next();
        self.entry.map(|(key, _)| seed.deserialize(StrDeserializer::new(key))).transpose()
    }

    fn next_value_seed<S: DeserializeSeed<'de>>(&mut self, seed: S) -> Result<S::Value, Unfit> {
        match self.entry.take() {
            Some((key, value)) => seed.deserialize(Branch(value)).map_err(|unfit| unfit.under(key)),
            None => Err(Why::Other("a value without a key".to_owned()).into()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[derive(Debug, PartialEq, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Part {
        mass_kg: f64,
        cells: Option<u32>,
        kept: Option<bool>,
        kind: Option<Kind>,
        list: Option<Vec<Vec<f64>>>,
        inner: Option<Box<Part>>,
    }

    #[derive(Debug, PartialEq, Deserialize)]
    #[serde(rename_all = "snake_case")]
    enum Kind {
        FirstOne,
        Second,
    }

    /// As serde_json reads the same text.
    #[test]
    fn what_fits_is_read_as_by_any_reader_of_json() {
        for text in [
            r#"{"mass_kg": 5, "cells": 3, "kept": true, "kind": "first_one"}"#,
            r#"{"mass_kg": -2.5e3, "list": [[1, 2.5], []], "kept": null}"#,
            r#"{"inner": {"mass_kg": 18446744073709551615}, "mass_kg": -3}"#,
        ] {
            let tree: Value = serde_json::from_str(text).unwrap();
            assert_eq!(read::<Part>(&tree).unwrap(), serde_json::from_str(text).unwrap());
        }
    }

    #[test]
    fn what_does_not_fit_is_told_by_kind_and_path() {
        let other = |found: &str, wanted| Why::OtherKind(found.to_owned(), Some(wanted));
        let known: &[&str] = &["mass_kg", "cells", "kept", "kind", "list", "inner"];
        let words: &[&str] = &["first_one", "second"];
        for (tree, path, why) in [
            (json!({"mass_kg": "5"}), "mass_kg", other("the text \"5\"", Wanted::Number)),
            (json!({"mass_kg": null}), "mass_kg", other("null", Wanted::Number)),
            (json!({"mass_kg": 1, "cells": 2.5}), "cells", other("the number 2.5", Wanted::Count)),
            (json!({"mass_kg": 1, "cells": -1}), "cells", other("the number -1", Wanted::Count)),
            (json!({"mass_kg": 1, "kept": 1}), "kept", other("the number 1", Wanted::Truth)),
            (json!({"mass_kg": 1, "kind": []}), "kind", other("a list", Wanted::OneOf(words))),
            (json!({"mass_kg": 1, "kind": "x"}), "kind", Why::UnknownWord("x".to_owned(), words)),
            (json!({"list": [[1], [2, {}]]}), "list.2.2", other("an object", Wanted::Number)),
            (json!({"list": {}}), "list", other("an object", Wanted::List)),
            (json!({"inner": {"inner": 5}}), "inner.inner", other("the number 5", Wanted::Object)),
            (json!({"inner": {"cells": 5}}), "inner", Why::MissingField("mass_kg")),
            (json!({"inner": {"x": 5}}), "inner", Why::UnknownField("x".to_owned(), known)),
        ] {
            let unfit = read::<Part>(&tree).unwrap_err();
            assert_eq!(unfit, Unfit { path: path.to_owned(), why }, "{tree}");
        }
    }
}
