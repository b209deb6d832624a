//! The JSON Schema of the files, so that an editor completes and checks them.

use crate::files::kind::Kind;
use crate::inputs::build::Build;
use crate::inputs::cell::Cell;
use crate::inputs::controller::Controller;
use crate::inputs::donor::Donor;
use crate::inputs::gearbox::Gearbox;
use crate::inputs::motor::Motor;
use crate::inputs::pack::Pack;
use crate::inputs::scenario::Scenario;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema, schema_for};
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

/// The JSON Schema (draft 2020-12) of a kind of file.
pub fn schema(kind: Kind) -> serde_json::Value {
    let schema = match kind {
        Kind::Scenario => schema_for!(Scenario),
        Kind::Build => schema_for!(Build),
        Kind::Donor => schema_for!(Donor),
        Kind::Gearbox => schema_for!(Gearbox),
        Kind::Motor => schema_for!(Motor),
        Kind::Controller => schema_for!(Controller),
        Kind::Pack => schema_for!(Pack),
        Kind::Cell => schema_for!(Cell),
    };
    schema.to_value()
}
