//! `schema`: the JSON Schema of a kind of file, or of a command's `--json`.

use super::COMMANDS;
use crate::failure::Failure;
use crate::output::Output;
use clap::ValueEnum;
use clap::builder::PossibleValue;
use scenarios::FileKind;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use std::borrow::Cow;

/// Arguments of `schema`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// A kind of file, or what a command writes with `--json`.
    #[arg(value_name = "KIND", value_enum, default_value_t = What::File(FileKind::Scenario))]
    pub kind: What,
}

/// What the schema describes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum What {
    /// A kind of file.
    File(FileKind),
    /// The JSON of a command, by its place in [`COMMANDS`].
    Result(usize),
}

/// The JSON of `schema` itself: a schema of draft 2020-12.
pub struct Document;

impl JsonSchema for Document {
    fn schema_name() -> Cow<'static, str> {
        "Document".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "$ref": "https://json-schema.org/draft/2020-12/schema" })
    }
}

impl ValueEnum for What {
    fn value_variants<'a>() -> &'a [Self] {
        const ALL: [What; FileKind::ALL.len() + COMMANDS.len()] = {
            let mut all = [What::Result(0); FileKind::ALL.len() + COMMANDS.len()];
            let mut i = 0;
            while i < all.len() {
                all[i] = if i < FileKind::ALL.len() {
                    What::File(FileKind::ALL[i])
                } else {
                    What::Result(i - FileKind::ALL.len())
                };
                i += 1;
            }
            all
        };
        &ALL
    }

    fn to_possible_value(&self) -> Option<PossibleValue> {
        Some(PossibleValue::new(match self {
            What::File(kind) => kind.name(),
            What::Result(i) => COMMANDS[*i].result,
        }))
    }
}

/// Prints the schema.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    match args.kind {
        What::File(kind) => output.document(&scenarios::schema(kind)),
        What::Result(i) => output.document(&(COMMANDS[i].schema)()),
    }
}
