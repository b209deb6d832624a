//! Which parts to buy, worked out beside something else: for the page to hand over and the live page.

use crate::commands::bands::goals;
use crate::failure::{Failure, of};
use scenarios::bounds::CHOSEN_BESIDE;
use scenarios::runs::day::Day;
use scenarios::runs::standing::PRICE;
use scenarios::runs::{Figure, Run, Suite, climb};
use scenarios::studies::Goal;
use scenarios::studies::candidates::Candidates;
use scenarios::studies::choose::{
    ChooseReport, Seen, Study, Wanted, keeps_up, permitted, preferences, usual_goals,
    usual_preferences,
};
use scenarios::studies::own_road::OneRoad;
use scenarios::studies::stream::{Row, in_order};
use scenarios::{Loaded, Prepared};
use std::path::PathBuf;
use std::sync::Arc;

/// Odds with which the cheapest is recommended, %, as `choose` has them.
const ODDS_PCT: f64 = 80.0;

/// Options of what is chosen from beside a page.
#[derive(Debug, Clone, clap::Args)]
pub struct ChoiceArgs {
    /// Adds which parts to buy: those that no other beats of a file of candidates and their prices,
    /// as `choose` takes it (`schema candidates` describes it).
    #[arg(long, value_name = "FILE")]
    candidates: Option<PathBuf>,

    /// A bound that the car of the parts must keep, such as `range_km>=80`; may be repeated. Left
    /// out, the usual ones of `choose`.
    #[arg(long = "goal", value_name = "FIGURE<=VALUE", requires = "candidates")]
    goals: Vec<String>,

    /// Figures in which one may be better than another, besides the price; the first is drawn.
    #[arg(
        long,
        value_name = "LIST",
        value_delimiter = ',',
        requires = "candidates",
        add = crate::completing::figures()
    )]
    prefer: Vec<String>,

    /// The most that all parts together may cost, in the currency of `money`.
    #[arg(long, value_name = "PRICE", requires = "candidates", allow_hyphen_values = true)]
    budget: Option<f64>,
}

/// What is wanted of a choice, and the runs that tell it.
pub struct Asked {
    /// Bounds to keep.
    pub goals: Vec<Goal>,
    /// Figures that count besides the price.
    pub prefer: Vec<Figure<()>>,
    /// The runs.
    pub suite: Suite,
    /// Whether the goals are the usual ones, and whether one was added so that a car keeps up.
    pub added: (bool, bool),
}

/// The goals and preferences that are given, or else the usual ones, with what the file permits the car
/// to weigh; `suite` gives the runs of figures.
pub fn asked(
    (prepared, candidates): (&Prepared, &Candidates),
    given: &[String],
    prefer: &[String],
    suite: &dyn Fn(&[&str]) -> Result<Suite, Failure>,
) -> Result<Asked, Failure> {
    let mut goals = goals(given)?;
    let are_usual = goals.is_empty();
    if are_usual {
        goals = usual_goals(prepared, &suite(&[])?);
    }
    let mut preferred = preferences(prefer.iter().map(|name| name.trim()))?;
    if prefer.is_empty() {
        // Of the usual goals only heat leaves more or less to spare.
        let tells = |goal: &&Goal| !are_usual || goal.figure.ends_with("_heat_pct");
        preferred = usual_preferences(goals.iter().filter(tells));
    }
    let permitted = permitted(prepared, candidates).into_iter();
    goals.extend(permitted.filter(|goal| !given.contains(&goal.to_string())));
    let runs = |goals: &[Goal]| {
        let names = goals.iter().map(|goal| goal.figure.as_str());
        let names = names.chain(preferred.iter().map(|figure| figure.name)).chain([PRICE]);
        suite(&names.collect::<Vec<_>>())
    };
    let more = keeps_up(&goals, &runs(&goals)?);
    let added = (are_usual, more.is_some());
    goals.extend(more);
    let suite = runs(&goals)?;
    Ok(Asked { goals, prefer: preferred, suite, added })
}

/// Refuses a budget that is none.
pub fn check_budget(budget: Option<f64>) -> Result<(), Failure> {
    match budget.filter(|budget| !(0.0..=1e12).contains(budget)) {
        Some(budget) => {
            Err(Failure::Arguments(format!("--budget is {budget}; allowed: 0 or more")))
        }
        None => Ok(()),
    }
}

/// What is chosen from.
pub struct Choice {
    candidates: Candidates,
    asked: ChoiceArgs,
    /// The files that were read for it.
    pub files: Vec<PathBuf>,
}

impl ChoiceArgs {
    /// What is chosen from, checked, where it is asked for.
    pub fn read(&self, loaded: &Loaded) -> Result<Option<Choice>, Failure> {
        let Some(file) = &self.candidates else { return Ok(None) };
        check_budget(self.budget)?;
        for goal in goals(&self.goals)? {
            Run::of_figure(&goal.figure)?;
        }
        preferences(self.prefer.iter().map(|name| name.trim()))?;
        let mut candidates = Candidates::default();
        candidates.take_file(file)?;
        candidates.check(loaded).map_err(of("--candidates"))?;
        let tried = candidates.varied.iter().map(|vary| vary.values.len() as u64);
        let many = tried.fold(1_u64, u64::saturating_mul);
        if many > CHOSEN_BESIDE {
            let text = format!(
                "--candidates {}: {many} combinations; allowed beside a page: at most \
                 {CHOSEN_BESIDE} (`choose` takes more)",
                cycles::file(file)
            );
            return Err(Failure::Arguments(text));
        }
        let files = [candidates.files(loaded), vec![file.clone()]].concat();
        Ok(Some(Choice { candidates, asked: self.clone(), files }))
    }
}

/// What a car drives for a choice.
pub struct Way {
    /// The road, without any run.
    pub suite: Suite,
    /// The day.
    pub day: Option<Arc<Day>>,
}

impl Way {
    /// The runs of figures.
    fn of(&self, prepared: &Prepared, names: &[&str]) -> Result<Suite, Failure> {
        let mut suite = self.suite.clone();
        for name in names {
            let run = Run::of_figure(name)?.0;
            if !suite.runs.contains(&run) {
                suite.runs.push(run);
            }
        }
        // A climb that is asked for has the usual hill where the scenario has none.
        let no_hill = suite.runs.contains(&Run::Climb) && prepared.drives.climb.is_none();
        suite.climb = no_hill.then(climb::usual);
        let takes_day = |run: &Run| matches!(run, Run::Day | Run::Season);
        suite.day = self.day.clone().filter(|_| suite.runs.iter().any(takes_day));
        Ok(suite)
    }
}

impl Choice {
    /// How many combinations there are.
    pub fn combinations(&self) -> u64 {
        self.candidates.varied.iter().map(|vary| vary.values.len() as u64).product()
    }

    /// Drives every combination once, and draws `samples` cars of each that no other beats. `step` is
    /// called again and again, and says whether anybody still waits.
    pub fn made(
        &self,
        (loaded, prepared): (&Loaded, &Prepared),
        way: &Way,
        samples: usize,
        step: impl Fn() -> bool + Sync,
    ) -> Result<ChooseReport, Failure> {
        let (given, prefer) = (&self.asked.goals, &self.asked.prefer);
        let Asked { goals, prefer, suite, added } =
            asked((prepared, &self.candidates), given, prefer, &|names| way.of(prepared, names))?;
        let wanted = Wanted {
            goals,
            budget: self.asked.budget,
            prefer,
            odds_pct: ODDS_PCT,
            samples,
            seed: 1,
            spreads: Vec::new(),
            typical: true,
        };
        let study = Study::new(loaded, &self.candidates, &suite, &wanted, &[])?;
        let study = study.on(OneRoad::driven_by(prepared, &suite.road));
        let mut seen = Seen::of(&study);
        let evaluate = |number| step().then(|| Row { number, outcome: study.found(number) });
        in_order(0..study.total(), evaluate, |_, rows| {
            rows.into_iter().try_for_each(|row| {
                let row = row.ok_or(scenarios::runs::Failure::Abandoned)?;
                seen.see(&row);
                Ok::<(), Failure>(())
            })
        })?;
        Ok(seen.conclude(added, step)?)
    }
}
