//! The drive that a sweep or a search repeats, as options give it.

use crate::commands::climb::Choice;
use crate::failure::Failure;
use crate::measure::Units;
use crate::road::RoadArgs;
use clap::ValueEnum;
use scenarios::Prepared;
use scenarios::runs::Task;
use scenarios::runs::day::Day;

/// Kinds of drives.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum What {
    /// Full throttle through the gears.
    Pull,
    /// The climb, in its best gear.
    Climb,
    /// The road, once.
    Drive,
    /// The day.
    Day,
}

/// Options that choose a drive.
#[derive(Debug, clap::Args)]
pub struct TaskArgs {
    /// What is driven.
    #[arg(long, value_enum, default_value_t = What::Drive, value_name = "RUN")]
    run: What,

    #[command(flatten)]
    road: RoadArgs,

    /// Slope of the climb; left out, the scenario's own.
    #[arg(long, value_name = "GRADE", allow_hyphen_values = true)]
    grade: Option<String>,

    /// Speed of the climb; left out, the scenario's own.
    #[arg(long, value_name = "SPEED")]
    speed: Option<String>,

    /// Length of the climb; left out, the scenario's own.
    #[arg(long = "for", value_name = "LENGTH")]
    length: Option<String>,

    /// Climbs the scenario's pass instead of its climb.
    #[arg(long)]
    pass: bool,
}

impl TaskArgs {
    /// The drive.
    pub fn task(&self, prepared: &Prepared, units: Units) -> Result<Task, Failure> {
        Ok(match self.run {
            What::Pull => Task::Pull,
            What::Drive => Task::Drive(self.road.load(prepared)?.trace.into()),
            What::Day => {
                let road = self.road.road(prepared);
                Task::Day(Day::of(prepared, &road, &self.road.options())?.into())
            }
            What::Climb => {
                let choice = Choice {
                    grade: self.grade.as_deref(),
                    speed: self.speed.as_deref(),
                    length: self.length.as_deref(),
                    pass: self.pass,
                };
                Task::Climb(choice.hill(prepared, units)?)
            }
        })
    }
}
