//! One module a command: its arguments and what it does.

pub mod bands;
pub mod charge;
pub mod check;
pub mod climb;
pub mod compare;
pub mod cost;
pub mod cycles;
pub mod day;
pub mod descent;
pub mod drive;
pub mod endurance;
pub mod parts;
pub mod pull;
pub mod regen;
pub mod schema;
pub mod season;
pub mod sheet;
pub mod size;
pub mod sweep;

use crate::cli::Command;
use crate::failure::Failure;
use crate::output::Output;

/// Runs a command.
pub fn run(command: Command, output: &mut Output) -> Result<(), Failure> {
    match command {
        Command::Sheet(args) => sheet::run(&args, output),
        Command::Pull(args) => pull::run(&args, output),
        Command::Climb(args) => climb::run(&args, output),
        Command::Drive(args) => drive::run(&args, output),
        Command::Day(args) => day::run(&args, output),
        Command::Season(args) => season::run(&args, output),
        Command::Regen(args) => regen::run(&args, output),
        Command::Compare(args) => compare::run(&args, output),
        Command::Size(args) => size::run(&args, output),
        Command::Sweep(args) => sweep::run(&args, output),
        Command::Charge(args) => charge::run(&args, output),
        Command::Cost(args) => cost::run(&args, output),
        Command::Endurance(args) => endurance::run(&args, output),
        Command::Bands(args) => bands::run(&args, output),
        Command::Descent(args) => descent::run(&args, output),
        Command::Check(args) => check::run(&args, output),
        Command::Schema(args) => schema::run(&args, output),
        Command::Parts(args) => parts::run(&args, output),
        Command::Cycles(args) => cycles::run(&args, output),
    }
}
