//! The command line.

use crate::commands::Command;
use crate::failure::Failure;
use crate::measure::Units;
use crate::output::takes_escapes;
use clap::error::{ContextKind, ContextValue};
use clap::{ColorChoice, CommandFactory, FromArgMatches, Parser};
use std::io::{self, Write};

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

/// Reads the arguments.
pub fn parse() -> Result<Cli, clap::Error> {
    let colour =
        if takes_escapes(&io::stdout()) { ColorChoice::Always } else { ColorChoice::Never };
    let matches = Cli::command().color(colour).try_get_matches()?;
    Cli::from_arg_matches(&matches)
}

/// What is answered where there is nothing to be run: the help or the version that was asked for, or
/// what was wrong with the command line.
pub fn answer(error: &clap::Error) -> Result<(), Failure> {
    if error.use_stderr() {
        return Err(Failure::Arguments(sentence(error)));
    }
    let text = error.render();
    let mut stdout = io::stdout().lock();
    if takes_escapes(&stdout) {
        write!(stdout, "{}", text.ansi())?;
    } else {
        write!(stdout, "{text}")?;
    }
    Ok(stdout.flush()?)
}

/// What was wrong with the command line, in one line.
fn sentence(error: &clap::Error) -> String {
    let whole = error.render().to_string();
    let mut blocks = whole.split("\n\n").map(|block| {
        let words = block.split_whitespace().map(|word| cycles::short(word).to_string());
        crate::plain::line(&words.collect::<Vec<_>>().join(" "))
    });
    let first = blocks.next().unwrap_or_default();
    let first = first.trim_start_matches("error: ");
    if let Some(ContextValue::String(name)) = error.get(ContextKind::InvalidSubcommand)
        && let Some((_, command)) = RUNS_ELSEWHERE.iter().find(|(run, _)| run == name)
    {
        return format!("there is no command {name}; `{command}` tells it");
    }
    if let Some(ContextValue::String(name)) = error.get(ContextKind::InvalidArg)
        && name == "--price"
        && whole.contains("shakedown cost")
    {
        return format!("{first}; did you mean --energy-price?");
    }
    match blocks.find(|block| block.starts_with("tip:")) {
        Some(tip) => format!("{first}; {}", tip.trim_start_matches("tip:").trim_start()),
        None => first.to_owned(),
    }
}
