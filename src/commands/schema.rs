//! `schema`: the JSON Schema of a kind of file, or of a command's `--json`.

use super::{check, cycles, sheet};
use crate::failure::Failure;
use crate::output::Output;
use clap::ValueEnum;
use clap::builder::PossibleValue;
use scenarios::Kind;
use scenarios::runs::{charge, climb, cost, day, descent, drive, endurance, pull, regen};
use scenarios::studies::{bands, compare, season, size};
use schemars::{Schema, schema_for};

/// Arguments of `schema`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// A kind of file, or what a command writes with `--json`.
    #[arg(value_name = "KIND", value_enum, default_value_t = What::File(Kind::Scenario))]
    pub kind: What,
}

/// What the schema describes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum What {
    /// A kind of file.
    File(Kind),
    /// The JSON of a command, by its place in [`RESULTS`].
    Result(usize),
}

/// A name and the schema that it stands for.
type Named = (&'static str, fn() -> Schema);

/// The results that commands write with `--json`.
const RESULTS: &[Named] = &[
    ("sheet-result", || schema_for!(sheet::Sheet)),
    ("check-result", || schema_for!(check::Report)),
    ("pull-result", || schema_for!(pull::PullReport)),
    ("climb-result", || schema_for!(climb::ClimbReport)),
    ("drive-result", || schema_for!(drive::DriveReport)),
    ("day-result", || schema_for!(day::DayReport)),
    ("season-result", || schema_for!(season::SeasonReport)),
    ("charge-result", || schema_for!(charge::ChargeReport)),
    ("cost-result", || schema_for!(cost::CostReport)),
    ("descent-result", || schema_for!(descent::DescentReport)),
    ("endurance-result", || schema_for!(endurance::EnduranceReport)),
    ("regen-result", || schema_for!(regen::RegenReport)),
    ("bands-result", || schema_for!(bands::BandsReport)),
    ("size-result", || schema_for!(size::SizeReport)),
    ("compare-result", || schema_for!(compare::CompareReport)),
    ("cycles-result", || schema_for!(Vec<cycles::Row>)),
];

impl ValueEnum for What {
    fn value_variants<'a>() -> &'a [Self] {
        const ALL: [What; Kind::ALL.len() + RESULTS.len()] = {
            let mut all = [What::Result(0); Kind::ALL.len() + RESULTS.len()];
            let mut i = 0;
            while i < all.len() {
                all[i] = if i < Kind::ALL.len() {
                    What::File(Kind::ALL[i])
                } else {
                    What::Result(i - Kind::ALL.len())
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
            What::Result(i) => RESULTS[*i].0,
        }))
    }
}

/// Prints the schema.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    match args.kind {
        What::File(kind) => output.document(&scenarios::schema(kind)),
        What::Result(i) => output.document(&RESULTS[i].1()),
    }
}
