//! The command line.

use crate::commands;
use crate::measure::Units;
use clap::{Parser, Subcommand};

/// Drives an electric conversion before it is built.
///
/// Every command takes the file of a scenario or a build; without one it drives the demo.
#[derive(Debug, Parser)]
#[command(version, max_term_width = 100, infer_long_args = false)]
pub struct Cli {
    /// What to do; left out, `sheet`.
    #[command(subcommand)]
    pub command: Option<Command>,

    /// Writes one JSON document instead of tables.
    #[arg(long, global = true)]
    pub json: bool,

    /// Units of the tables; JSON always has the unit in the name of the field.
    #[arg(long, global = true, value_enum, default_value_t = Units::Metric, value_name = "UNITS")]
    pub units: Units,
}

/// The commands; each has a file in `commands`.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// One page for a build: masses, gearing, acceleration, climbs, the daily road, range, limits.
    Sheet(commands::sheet::Args),
    /// Full throttle in each gear and through the gears, and what holds the car back.
    Pull(commands::pull::Args),
    /// Holds a speed on a grade in every gear: power, currents, heat, and for how long.
    Climb(commands::climb::Args),
    /// Drives a cycle or a road: consumption, range, heat, and where the energy went.
    Drive(commands::drive::Args),
    /// Charges from a socket: time, energy, losses, cost, and whether a night is enough.
    Charge(commands::charge::Args),
    /// Prices of driving from the wall, against the donor's fuel and the price of the parts.
    Cost(commands::cost::Args),
    /// Goes down a long slope in every gear: what regen holds and what the friction brakes take.
    Descent(commands::descent::Args),
    /// Maps speeds and grades: minutes until something cuts back, and what gives up first.
    Endurance(commands::endurance::Args),
    /// Drives, parks and charges through a day: charge left, temperatures, where the pack gives out.
    Day(commands::day::Args),
    /// Drives under several seasons side by side, and what heater, tyres, air and lights cost.
    Season(commands::season::Args),
    /// Compares lift-off and brake-pedal regen settings over a road.
    Regen(commands::regen::Args),
    /// Runs every combination of varied fields in parallel, a row each.
    Sweep(commands::sweep::Args),
    /// Sets builds side by side: what differs in them, and what comes of it.
    Compare(commands::compare::Args),
    /// Asks backwards: which value of a field keeps the goals, or serves a figure best.
    Size(commands::size::Args),
    /// Draws cars from what is uncertain: bands of every figure, odds of limits, main causes.
    Bands(commands::bands::Args),
    /// Says what was understood: masses, axle loads, gearing, parts, assumptions, warnings.
    Check(commands::check::Args),
    /// Prints the JSON Schema of a kind of file, for an editor that completes and checks.
    Schema(commands::schema::Args),
    /// Lists the parts of the shelf, prints one, or writes all of them as files.
    Parts(commands::parts::Args),
    /// Lists the built-in cycles, or describes cycles and road files.
    Cycles(commands::cycles::Args),
}

impl Default for Command {
    fn default() -> Self {
        Command::Sheet(commands::sheet::Args::default())
    }
}

/// What was wrong with the command line, in one line that begins with `error:`.
pub fn sentence(error: &clap::Error) -> String {
    let whole = error.render().to_string();
    let mut blocks = whole.split("\n\n").map(|block| {
        let words: Vec<&str> = block.split_whitespace().collect();
        crate::output::one_line(&words.join(" "))
    });
    let first = blocks.next().unwrap_or_default();
    match blocks.find(|block| block.starts_with("tip:")) {
        Some(tip) => format!("{first}; {}", tip.trim_start_matches("tip:").trim_start()),
        None => first,
    }
}
