//! Drives an electric conversion before it is built: the command line.

mod choice;
mod cli;
mod commands;
mod completing;
mod failure;
mod figure;
mod grounds;
mod input;
mod live;
mod measure;
mod output;
mod page;
mod parquet_file;
mod picture_file;
pub mod pictures;
mod plain;
mod progress;
mod quantity;
mod recorded;
mod road;
mod rows;
mod series;
mod shards;
mod signals;
mod spreads;
mod suite;
mod table;
mod threads;
mod unbroken;

pub use commands::{COMMANDS, Known};
pub use measure::Units;

use clap_complete::CompleteEnv;
use cli::Cli;
use failure::Failure;
use output::{Output, complain};
use std::process::ExitCode;

/// Does what was asked for.
fn run(cli: Cli) -> Result<(), Failure> {
    let mut output = Output::new(cli.json, cli.units);
    let outcome = cli.command.unwrap_or_default().run(&mut output);
    match outcome {
        // How near it comes is said all the same.
        Ok(()) | Err(Failure::Unanswered(_)) => output.finish().and(outcome),
        Err(_) => outcome,
    }
}

/// The whole program, from its arguments to its exit code.
pub fn main() -> ExitCode {
    // A shell that asks what fits is answered, and nothing is run.
    CompleteEnv::with_factory(completing::command).var(commands::completions::VARIABLE).complete();
    let outcome = match cli::parse() {
        Ok(cli) => {
            signals::watch();
            threads::with(|| run(cli))
        }
        Err(error) => cli::answer(&error),
    };
    match outcome {
        // Whoever read the output has seen enough.
        Ok(()) | Err(Failure::Closed) => ExitCode::SUCCESS,
        Err(unanswered @ Failure::Unanswered(_)) => {
            complain(&unanswered.sentence());
            ExitCode::from(1)
        }
        Err(failure) => {
            complain(&format!("error: {}", failure.sentence()));
            ExitCode::from(2)
        }
    }
}
