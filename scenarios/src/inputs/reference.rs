//! A part that stands in a file of its own.

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use std::borrow::Cow;
use std::marker::PhantomData;

/// In the schema only: a part that stands here as an object, or as a string that says where it is.
pub(crate) struct Reference<T>(PhantomData<T>);

impl<T: JsonSchema> JsonSchema for Reference<T> {
    fn schema_name() -> Cow<'static, str> {
        format!("{}Reference", T::schema_name()).into()
    }

    fn inline_schema() -> bool {
        true
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let part = generator.subschema_for::<T>();
        json_schema!({
            "anyOf": [
                part,
                {
                    "type": "string",
                    "description": "Path of a JSON file, seen from this file, or shelf:NAME.",
                },
            ],
        })
    }
}
