//! One module a command: its arguments and what it does.

pub mod check;
pub mod cycles;
pub mod parts;
pub mod schema;

use crate::cli::Command;
use crate::failure::Failure;
use crate::output::Output;

/// Runs a command.
pub fn run(command: Command, output: &mut Output) -> Result<(), Failure> {
    match command {
        Command::Check(args) => check::run(&args, output),
        Command::Schema(args) => schema::run(&args, output),
        Command::Parts(args) => parts::run(&args, output),
        Command::Cycles(args) => cycles::run(&args, output),
    }
}
