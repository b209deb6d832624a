//! Drives an electric conversion before it is built: the command line.

mod cli;
mod commands;
mod failure;
mod figure;
mod input;
mod measure;
mod output;
mod progress;
mod quantity;
mod road;
mod series;
mod suite;
mod table;

pub use commands::{COMMANDS, Known};

use clap::Parser;
use failure::Failure;
use output::Output;
use std::process::ExitCode;

/// The whole program, from its arguments to its exit code.
pub fn main() -> ExitCode {
    let cli = match cli::Cli::try_parse() {
        Ok(cli) => cli,
        Err(error) if error.use_stderr() => {
            eprintln!("{}", cli::sentence(&error));
            return ExitCode::from(2);
        }
        Err(help) => {
            // Whoever closed the output has seen enough of the help.
            let _ = help.print();
            return ExitCode::SUCCESS;
        }
    };
    let mut output = Output::new(cli.json, cli.units);
    let outcome = cli.command.unwrap_or_default().run(&mut output);
    let outcome = match outcome {
        // How near it comes is said all the same.
        Ok(()) | Err(Failure::Unanswered(_)) => output.finish().and(outcome),
        Err(_) => outcome,
    };
    match outcome {
        // Whoever read the output has seen enough.
        Ok(()) | Err(Failure::Closed) => ExitCode::SUCCESS,
        Err(unanswered @ Failure::Unanswered(_)) => {
            eprintln!("{}", unanswered.sentence());
            ExitCode::from(1)
        }
        Err(failure) => {
            eprintln!("error: {}", failure.sentence());
            ExitCode::from(2)
        }
    }
}
