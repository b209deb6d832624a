//! `schema`: the JSON Schema of a kind of file.

use crate::failure::Failure;
use crate::output::Output;
use clap::ValueEnum;
use clap::builder::PossibleValue;
use scenarios::Kind;

/// Arguments of `schema`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// What the file holds.
    #[arg(value_name = "KIND", value_enum, default_value_t = What(Kind::Scenario))]
    pub kind: What,
}

/// A kind of file, by its name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct What(pub Kind);

impl ValueEnum for What {
    fn value_variants<'a>() -> &'a [Self] {
        const ALL: [What; Kind::ALL.len()] = {
            let mut all = [What(Kind::Scenario); Kind::ALL.len()];
            let mut i = 0;
            while i < Kind::ALL.len() {
                all[i] = What(Kind::ALL[i]);
                i += 1;
            }
            all
        };
        &ALL
    }

    fn to_possible_value(&self) -> Option<PossibleValue> {
        Some(PossibleValue::new(self.0.name()))
    }
}

/// Prints the schema.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    output.document(&scenarios::schema(args.kind.0))
}
