//! The road that a command drives: an option, or the scenario's own.

use crate::failure::Failure;
use crate::output::Output;
use crate::quantity;
use scenarios::{Prepared, Road};
use sim_core::Trace;
use std::path::PathBuf;

/// A road that is ready to drive.
pub struct Drivable {
    /// What it is called.
    pub name: String,
    /// The road.
    pub trace: Trace,
    /// What the reader of the file had to say.
    pub notes: Vec<String>,
    /// The options that ask for it, as a shell takes them.
    pub asked: Vec<String>,
}

/// Options of every command that drives a road.
#[derive(Debug, Default, clap::Args)]
pub struct RoadArgs {
    /// A built-in cycle (see `cycles`) or the file of a road; left out, the scenario's own, or else
    /// the WLTC of the car's class.
    #[arg(long, value_name = "NAME_OR_FILE", add = crate::completing::roads())]
    pub cycle: Option<String>,

    /// Takes the road's file for a recording: columns of other names are left out.
    #[arg(long)]
    pub recording: bool,

    /// Column of the road's file with a recorded load on the traction pack, such as a heater's;
    /// its name ends in `_kw` or `_w`, and `auxiliary_kw` is taken without being named.
    #[arg(long, value_name = "NAME")]
    pub aux_column: Option<String>,

    #[command(flatten)]
    pub pace: PaceArgs,
}

/// How a road without times is driven.
#[derive(Debug, Default, clap::Args)]
pub struct PaceArgs {
    /// Speed limit of a road without times, as of a map planner: 80km/h, or by distance, such as
    /// 80km/h,0..4km:50km/h; where two overlap, the later one holds.
    #[arg(long, value_name = "LIMITS", allow_hyphen_values = true)]
    pub limit: Option<String>,

    /// Sideways acceleration in the bends of such a road, such as 3m/s2; left out, 2.5 m/s².
    #[arg(long, value_name = "ACCELERATION", allow_hyphen_values = true)]
    pub bends: Option<String>,

    /// A stop on such a road, such as 3.2km:20s; may be given again.
    #[arg(long = "stop", value_name = "PLACE:TIME", allow_hyphen_values = true)]
    pub stops: Vec<String>,
}

impl PaceArgs {
    /// The same in SI.
    pub fn pace(&self) -> Result<cycles::Pace, Failure> {
        let mut pace = cycles::Pace::default();
        if let Some(limits) = &self.limit {
            (pace.limit_mps, pace.sections) = quantity::limits("--limit", limits)?;
        }
        let bends = self.bends.as_ref().map(|bends| quantity::sideways_mps2("--bends", bends));
        pace.bends_mps2 = bends.transpose()?;
        let stops = self.stops.iter().map(|stop| quantity::stop("--stop", stop));
        pace.stops = stops.collect::<Result<_, Failure>>()?;
        Ok(pace)
    }
}

impl RoadArgs {
    /// The road: the option's, or the scenario's.
    pub fn road(&self, prepared: &Prepared) -> Result<Road, Failure> {
        let road = self.cycle.clone().map_or_else(|| prepared.road(), Road::Named);
        Ok(road.at_pace(Some(self.pace.pace()?)))
    }

    /// How road files are read.
    pub fn options(&self) -> cycles::LoadOptions {
        let columns =
            if self.recording { cycles::Columns::IgnoreUnknown } else { cycles::Columns::Strict };
        let auxiliary_column = self.aux_column.clone();
        cycles::LoadOptions { columns, auxiliary_column, ..cycles::LoadOptions::default() }
    }

    /// The files that a run over the road reads.
    pub fn files(&self, prepared: &Prepared) -> Vec<PathBuf> {
        let own = self.cycle.iter().filter(|name| !cycles::is_built_in(name)).map(PathBuf::from);
        own.chain(prepared.files()).collect()
    }

    /// Reads the road.
    pub fn load(&self, prepared: &Prepared) -> Result<Drivable, Failure> {
        let road = self.road(prepared)?;
        let loaded = prepared.read(&road, &self.options())?;
        let built_in = cycles::is_built_in(road.name());
        let trace = scenarios::runs::trace(&loaded.schedule)?;
        let mut notes = loaded.notes;
        notes.extend(prepared.outdoors.unreached(trace.duration_s(), "drive"));
        notes.extend(one_way(&trace));
        Ok(Drivable {
            name: if built_in { &loaded.schedule.name } else { road.name() }.to_owned(),
            trace,
            notes,
            asked: self.asked(),
        })
    }

    /// The options as a shell takes them.
    fn asked(&self) -> Vec<String> {
        let mut words: Vec<String> = Vec::new();
        let mut add =
            |option: &str, value: &String| words.push(format!("{option} {}", quoted(value)));
        self.cycle.iter().for_each(|name| add("--cycle", name));
        self.aux_column.iter().for_each(|name| add("--aux-column", name));
        self.pace.limit.iter().for_each(|limits| add("--limit", limits));
        self.pace.bends.iter().for_each(|bends| add("--bends", bends));
        self.pace.stops.iter().for_each(|stop| add("--stop", stop));
        if self.recording {
            words.push("--recording".to_owned());
        }
        words
    }
}

/// A word as a shell takes it.
fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "_-./:,=+%".contains(c);
    match !word.is_empty() && word.chars().all(plain) {
        true => word.to_owned(),
        false => format!("'{}'", word.replace('\'', r"'\''")),
    }
}

/// Height that a road may gain or lose over its length without a word, m/m: what lifts a light car so
/// far is a few hundredths of what drives it.
const LEVEL: f64 = 1e-3;

/// That a road ends higher or lower than it began, and what that does to its figures.
fn one_way(trace: &Trace) -> Option<String> {
    let up_m = trace.stretches().last()?.end_up_m;
    let (than, energy) = if up_m > 0.0 { ("higher", "more") } else { ("lower", "less") };
    (up_m.abs() > LEVEL * trace.distance_m()).then(|| {
        format!(
            "it ends {:.0} m {than} than it begins, so that consumption, range and cost are those of \
             this way alone, which takes {energy} than there and back: put the way back into the \
             file as well",
            up_m.abs()
        )
    })
}

/// Prints what the reader of a road had to say.
pub fn say_notes(road: &Drivable, output: &mut Output) -> Result<(), Failure> {
    let said = |note: &String| format!("{}: {}", road.name, output.units.said(note));
    let notes: Vec<String> = road.notes.iter().map(said).collect();
    notes.iter().try_for_each(|note| output.text(note))
}
