//! `measure part`: a part with what was learnt of it, as a file for the next car.

use crate::failure::Failure;
use crate::input::{Changes, Input};
use crate::output::Output;
use clap::builder::{PossibleValuesParser, TypedValueParser};
use scenarios::output_file::Growing;
use scenarios::{FileKind, KNOWN_PART, known_part};
use schemars::JsonSchema;
use serde::Serialize;
use serde_json::Value;
use std::path::PathBuf;

/// The parts that there are files of.
const PARTS: [FileKind; 7] = [
    FileKind::Motor,
    FileKind::Controller,
    FileKind::Pack,
    FileKind::Cell,
    FileKind::Gearbox,
    FileKind::Donor,
    FileKind::Tyre,
];

fn kinds() -> impl TypedValueParser<Value = FileKind> {
    PossibleValuesParser::new(PARTS.map(FileKind::name)).map(|name| {
        let kind = PARTS.into_iter().find(|kind| kind.name() == name);
        kind.unwrap_or(FileKind::Motor)
    })
}

/// Arguments of `measure part`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The part.
    #[arg(value_name = "PART", value_parser = kinds())]
    part: FileKind,

    /// File of the car's build or scenario; left out, the demo.
    #[arg(long, value_name = "CAR.json")]
    build: Option<PathBuf>,

    #[command(flatten)]
    changes: Changes,

    /// File for the part; left out, it is printed.
    #[arg(long, value_name = "FILE.json")]
    out: Option<PathBuf>,
}

/// A part with what was learnt of it.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Report {
    /// What it is.
    kind: &'static str,
    /// The file that was written, if one was.
    written: Option<String>,
    /// The part, as `schema KIND` describes it.
    part: Value,
}

/// Writes it.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    let input = Input { file: args.build.clone(), changes: args.changes.clone() };
    let prepared = input.prepare()?;
    let kind = args.part.name();
    let part = known_part(&prepared, args.part)?;
    let text =
        serde_json::to_string_pretty(&part).map_err(|e| Failure::Arguments(e.to_string()))?;
    if let Some(out) = &args.out {
        let mut file = Growing::create(out, KNOWN_PART, &prepared.files())?;
        file.add(text.as_bytes())?;
        file.add(b"\n")?;
        file.finish()?;
    }
    let written = args.out.as_ref().map(|out| out.display().to_string());
    if output.json {
        return output.document(&Report { kind, written, part });
    }
    let Some(written) = written else { return output.document(&part) };
    output.text(format!("{written}: a {kind} with what was learnt of it"))?;
    output.text(part["note"].as_str().unwrap_or_default())?;
    let name = cycles::file(written.as_ref());
    output.text(format!(
        "A build begins with it as \"{kind}\": \"{name}\", seen from the build's folder, or with --set \
         {kind}={name}."
    ))
}
