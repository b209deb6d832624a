//! Several runs of one car, as options give them.

use crate::commands::charge::PlanArgs;
use crate::commands::climb::HillArgs;
use crate::failure::Failure;
use crate::measure::Units;
use crate::road::RoadArgs;
use clap::builder::{PossibleValue, PossibleValuesParser, TypedValueParser};
use scenarios::Prepared;
use scenarios::runs::day::Day;
use scenarios::runs::{NotDone, Run, Suite};
use scenarios::studies::own_road::{OneRoad, OtherRoads};
use std::path::PathBuf;

/// Options that choose runs.
#[derive(Debug, clap::Args)]
pub struct SuiteArgs {
    /// Which runs, such as `pull,climb`; left out, those of the figures or else those that the
    /// command usually takes. A figure that is asked for brings in its run by itself.
    #[arg(long, value_parser = names(), value_name = "LIST", value_delimiter = ',')]
    run: Vec<Run>,

    /// Figures to show and no others, such as `range_km,climb_heat_pct` (see `figures`).
    #[arg(
        long,
        visible_alias = "columns",
        value_name = "LIST",
        value_delimiter = ',',
        add = crate::completing::figures()
    )]
    pub figures: Vec<String>,

    /// Lets figures count of a run that was not carried out: a drive, climb or day that ended early.
    #[arg(long)]
    allow_incomplete: bool,

    #[command(flatten)]
    road: RoadArgs,

    #[command(flatten)]
    hill: HillArgs,

    #[command(flatten)]
    plan: PlanArgs,
}

/// That some combinations would drive another WLTC, where there are any.
pub fn other_road(road: &str, OtherRoads { others, looked_at }: OtherRoads) -> Option<String> {
    (others > 0).then(|| {
        format!(
            "All drive {road}, the WLTC of the car as it is: by their own power to mass {others} of \
             {looked_at} that were looked at would drive another. --cycle names one for all."
        )
    })
}

/// Reads the name of a run.
fn names() -> impl TypedValueParser<Value = Run> {
    let value = |run: Run| PossibleValue::new(run.name()).help(run.words());
    PossibleValuesParser::new(Run::ALL.map(value))
        .try_map(|name| Run::named(&name).ok_or("no such run"))
}

impl SuiteArgs {
    /// The files that the runs read.
    pub fn files(&self, prepared: &Prepared) -> Vec<PathBuf> {
        self.road.files(prepared)
    }

    /// The WLTC that cars of other parts drive as well, where the road is that of this car's class.
    pub fn one_road(&self, prepared: &Prepared, suite: &Suite) -> Result<Option<OneRoad>, Failure> {
        let road = self.road.road(prepared)?;
        Ok(OneRoad::of(&road, &suite.road).filter(|_| suite.drives_its_road()))
    }

    /// The runs: those of the options or else the usual ones, and those that give the figures that
    /// are shown or asked for otherwise.
    pub fn suite<'a>(
        &'a self,
        prepared: &Prepared,
        usual: &[Run],
        asked: impl IntoIterator<Item = &'a str>,
        units: Units,
    ) -> Result<Suite, Failure> {
        let mut named = self.run.clone();
        let mut only: Vec<String> = Vec::new();
        for figure in self.figures.iter().map(String::as_str).chain(asked) {
            named.push(Run::of_figure(figure)?.0);
            if !self.figures.is_empty() && !only.iter().any(|known| known == figure) {
                only.push(figure.to_owned());
            }
        }
        let usual = if self.run.is_empty() && self.figures.is_empty() { usual } else { &[] };
        let mut runs: Vec<Run> = Vec::new();
        for run in usual.iter().chain(&named) {
            if !runs.contains(run) {
                runs.push(*run);
            }
        }
        if named.contains(&Run::Pass) && prepared.drives.pass.is_none() {
            let text = "a pass needs a scenario with runs.pass, and this one has none";
            return Err(Failure::Arguments(text.to_owned()));
        }
        let hill = |pass| self.hill.hill(prepared, pass, units);
        let given = self.hill.asked();
        // A climb that is asked for has the usual hill where the scenario has none.
        let usual_hill = named.contains(&Run::Climb) && prepared.drives.climb.is_none();
        let climb = if given || usual_hill { Some(hill(false)?) } else { None };
        let descent = if given { Some(hill(prepared.drives.pass.is_some())?) } else { None };
        let charge = self.plan.plan()?;
        let road = self.road.load(prepared)?;
        let day = if runs.iter().any(|run| matches!(run, Run::Day | Run::Season)) {
            let commute = self.road.road(prepared)?;
            Some(Day::of(prepared, &commute, &self.road.options())?.into())
        } else {
            None
        };
        let not_done = if self.allow_incomplete { NotDone::Counts } else { NotDone::default() };
        Ok(Suite {
            runs,
            only,
            not_done,
            climb,
            descent,
            charge,
            day,
            ..Suite::new(&[], &road.name, road.trace)
        })
    }
}
