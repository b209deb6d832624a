//! The command line.

use crate::commands::Command;
use crate::measure::Units;
use clap::Parser;
use clap::error::{ContextKind, ContextValue};

/// What the exit codes mean.
const EXIT_CODES: &str = "Exit codes: 0, here is the answer; 1, what was asked has no answer (`size`, \
    where no value keeps the goals); 2, something was refused, in one sentence.";

/// Drives an electric conversion before it is built.
///
/// Every command takes the file of a scenario or a build; without one it drives the demo.
#[derive(Debug, Parser)]
#[command(version, max_term_width = 100, infer_long_args = false, after_help = EXIT_CODES)]
pub struct Cli {
    /// What to do; left out, `sheet`.
    #[command(subcommand)]
    pub command: Option<Command>,

    /// Writes JSON instead of tables.
    #[arg(long, global = true)]
    pub json: bool,

    /// Units of the tables; JSON always has the unit in the name of the field.
    #[arg(long, global = true, value_enum, default_value_t = Units::Metric, value_name = "UNITS")]
    pub units: Units,
}

/// Runs that have no command of their own, and the command that tells what comes of them.
const RUNS_ELSEWHERE: [(&str, &str); 4] =
    [("standing", "check"), ("rating", "sheet"), ("pass", "climb --pass"), ("range", "drive")];

/// What was wrong with the command line, in one line that begins with `error:`.
pub fn sentence(error: &clap::Error) -> String {
    let whole = error.render().to_string();
    let mut blocks = whole.split("\n\n").map(|block| {
        let words = block.split_whitespace().map(|word| cycles::short(word).to_string());
        crate::output::one_line(&words.collect::<Vec<_>>().join(" "))
    });
    let first = blocks.next().unwrap_or_default();
    if let Some(ContextValue::String(name)) = error.get(ContextKind::InvalidSubcommand)
        && let Some((_, command)) = RUNS_ELSEWHERE.iter().find(|(run, _)| run == name)
    {
        return format!("error: there is no command {name}; `{command}` tells it");
    }
    match blocks.find(|block| block.starts_with("tip:")) {
        Some(tip) => format!("{first}; {}", tip.trim_start_matches("tip:").trim_start()),
        None => first,
    }
}
