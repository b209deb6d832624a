//! Several drives of one car, as options give them.

use crate::commands::climb::HillArgs;
use crate::failure::Failure;
use crate::measure::Units;
use crate::road::RoadArgs;
use clap::ValueEnum;
use scenarios::Prepared;
use scenarios::runs::day::Day;
use scenarios::runs::{Part, Suite};

/// Kinds of drives.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum What {
    /// None: masses, gearing and pack.
    Standing,
    /// Full throttle through the gears.
    Pull,
    /// The climb, in its best gear.
    Climb,
    /// The scenario's pass, in its best gear.
    Pass,
    /// The road, once.
    Drive,
    /// The road, until the pack is empty.
    Range,
    /// The day.
    Day,
}

impl What {
    fn part(self) -> Part {
        match self {
            What::Standing => Part::Standing,
            What::Pull => Part::Pull,
            What::Climb => Part::Climb,
            What::Pass => Part::Pass,
            What::Drive => Part::Drive,
            What::Range => Part::Range,
            What::Day => Part::Day,
        }
    }
}

/// Options that choose drives.
#[derive(Debug, Default, clap::Args)]
pub struct SuiteArgs {
    /// Which drives, such as `pull,climb`; left out, those that the command usually takes.
    #[arg(long, value_enum, value_name = "LIST", value_delimiter = ',')]
    run: Vec<What>,

    #[command(flatten)]
    road: RoadArgs,

    #[command(flatten)]
    hill: HillArgs,
}

impl SuiteArgs {
    /// The drives; `usual` are those of the command.
    pub fn suite(
        &self,
        prepared: &Prepared,
        usual: &[Part],
        units: Units,
    ) -> Result<Suite, Failure> {
        let mut parts: Vec<Part> = if self.run.is_empty() {
            usual.to_vec()
        } else {
            self.run.iter().map(|what| what.part()).collect()
        };
        parts.dedup();
        // A climb that is asked for has the usual hill where the scenario has none.
        let named = self.run.contains(&What::Climb)
            || self.run.is_empty() && usual.len() == Part::ALL.len();
        let named = named && prepared.drives.climb.is_none();
        let climb = if self.hill.asked() || named {
            Some(self.hill.hill(prepared, false, units)?)
        } else {
            None
        };
        if self.run.contains(&What::Pass) && prepared.drives.pass.is_none() {
            let text = "--run pass needs a scenario with runs.pass, and this one has none";
            return Err(Failure::Arguments(text.to_owned()));
        }
        let trace = self.road.load(prepared)?.trace.into();
        let day = if parts.contains(&Part::Day) {
            let road = self.road.road(prepared);
            Some(Day::of(prepared, &road, &self.road.options())?.into())
        } else {
            None
        };
        Ok(Suite { parts, climb, trace, day })
    }
}
