//! Which parts to buy: every combination of the candidates once, the front of those that keep the
//! goals, and the odds that each of it keeps them when what is uncertain is drawn.
//!
//! A combination counts only where its car did what was asked. One that is refused, whose parts do
//! not run together, or that leaves a run undone has no figures to be proud of: it would stay cool
//! because it delivers nothing.

use crate::files::assumption::Assumption;
use crate::files::bounds::{DRAWN, DRAWN_BESIDE, PREFERRED};
use crate::files::error::Error;
use crate::files::overrides::Override;
use crate::inputs::price::PartPrice;
use crate::loaded::Loaded;
use crate::prepared::Prepared;
use crate::runs::failure::Failure;
use crate::runs::figure::{Better, Figure, FigureKind, NotDone, find};
use crate::runs::grade::grade_pct;
use crate::runs::run::Run;
use crate::runs::standing::PRICE;
use crate::runs::suite::Suite;
use crate::studies::bands::{Cause, case_of, causes, quantiles, wilson};
use crate::studies::candidates::{Candidates, shown};
use crate::studies::front::{Front, Unbeaten};
use crate::studies::goal::{Goal, Side, comparable};
use crate::studies::home_test::{MeasureFirst, Spare, measure_first};
use crate::studies::hypercube;
use crate::studies::likely::{Drawn, Likely};
use crate::studies::own_road::{self, OneRoad, OtherRoads};
use crate::studies::ranks;
use crate::studies::spread::Spread;
use crate::studies::stream::{Found, Row};
use crate::studies::sweep::{combinations, set_of};
use crate::studies::uncertain::{Uncertain, UncertainInput};
use crate::warning::Severity;
use crate::words::number;
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use serde_json::Value;
use sim_core::units;
use std::collections::{BTreeMap, BTreeSet};

/// Most of a front that are drawn.
const MOST_DRAWN: usize = DRAWN as usize;
/// Most that are drawn beside it, as they may hold the goals more surely.
const MOST_BESIDE: usize = DRAWN_BESIDE as usize;
/// What one of these has to have more to spare than any that is cheaper, in standard deviations of
/// the goal that is missed first.
const SURER_SD: f64 = 0.1;
/// Most figures that may be preferred.
const MOST_PREFERRED: usize = PREFERRED as usize;
/// Figures of the goals that are preferred where none is named.
const USUALLY_PREFERRED: usize = 3;
/// Inputs that are told to decide most.
const CAUSES: usize = 3;
/// How paths begin of what differs from day to day and is no property of the car.
const DAYS: [&str; 4] = ["conditions.", "seasons.", "load.", "from drive"];
/// How paths begin of what is there only when the car is built.
const TOLD_WHEN_BUILT: [&str; 1] = ["pack.harness"];
/// Grade on which a car has to pull away where no goal is given, %, as `sheet` asks for it.
const START_PCT: f64 = 12.0;
/// Share of a road's time that may be outside the tolerance where no goal says it, as `sheet` has it.
const OUTSIDE_SHARE: f64 = 0.03;

/// What is said of a part that is cooled by what the build does not have.
const COOLANT_ASSUMED: &str = "It is cooled by a liquid, and the build has no coolant: one is assumed. Pump, radiator and water \
     are in no mass and no price.";

/// Refuses spreads that hold of no car: each has to hold of the car as it is, or with a value that is
/// tried.
///
/// # Errors
/// What [`Uncertain::new`] says of the car as it is.
pub fn check_spreads(
    loaded: &Loaded,
    candidates: &Candidates,
    own: &[Spread],
    typical: bool,
) -> Result<(), Failure> {
    let Err(of_all) = Uncertain::new(loaded, own, typical) else { return Ok(()) };
    if own.is_empty() {
        return Err(of_all);
    }
    let tried = candidates.varied.iter();
    let tried = tried.flat_map(|vary| vary.values.iter().map(move |value| (&vary.path, value)));
    let put = |(path, value): (&String, &Value)| {
        loaded.put(&[Override::new(path, value.clone()).ok()?]).ok()
    };
    let cars: Vec<Loaded> = tried.filter_map(put).collect();
    let said =
        |car: &Loaded, one: &Spread| Uncertain::new(car, std::slice::from_ref(one), typical).err();
    let mut there = Vec::new();
    for one in own {
        match said(loaded, one) {
            None => there.push(one.clone()),
            Some(_) if cars.iter().any(|car| said(car, one).is_none()) => {}
            Some(failure) => return Err(failure),
        }
    }
    // Together they may say the same field twice.
    match Uncertain::new(loaded, &there, typical) {
        Err(Failure::NothingUncertain) if there.len() < own.len() => Ok(()),
        other => other.map(|_| ()),
    }
}

/// What is wanted.
#[derive(Debug, Clone, PartialEq)]
pub struct Wanted {
    /// Bounds that figures must keep.
    pub goals: Vec<Goal>,
    /// The most that all parts may cost.
    pub budget: Option<f64>,
    /// Figures in which a car may be better than another, besides its price.
    pub prefer: Vec<Figure<()>>,
    /// Odds that a choice should have, %.
    pub odds_pct: f64,
    /// How many cars are drawn of each.
    pub samples: usize,
    /// Seed of the drawing.
    pub seed: u64,
    /// Spreads of the user's own.
    pub spreads: Vec<Spread>,
    /// Whether the typical spreads are drawn beside them.
    pub typical: bool,
}

/// The goals of a car that is bought without any: it pulls away on a hill, drives its road to the end,
/// holds its climb and its pass, and does not overheat.
pub fn usual_goals(prepared: &Prepared, suite: &Suite) -> Vec<Goal> {
    let drives = &prepared.drives;
    let grade =
        |hill: Option<sim_core::climb::Hill>| hill.map_or(0.0, |hill| grade_pct(hill.slope));
    let climb = suite.climb.or(drives.climb);
    let steepest = [grade(climb), grade(drives.pass), START_PCT].into_iter().fold(0.0, f64::max);
    let mut texts = vec!["drive_heat_pct<=100".to_owned()];
    if climb.is_some() {
        texts.extend(["climb_heat_pct<=100".to_owned(), "climb_held>=1".to_owned()]);
    }
    if drives.pass.is_some() {
        texts.extend(["pass_heat_pct<=100".to_owned(), "pass_held>=1".to_owned()]);
    }
    texts.extend(["drive_complete>=1".to_owned(), format!("start_grade_pct>={steepest:.1}")]);
    texts.iter().filter_map(|text| text.parse().ok()).collect()
}

/// The goal of a car that drives a road, beside others that say nothing of it: that it keeps up. One
/// that falls behind is thrifty and stays cool, as it does less than is asked.
pub fn keeps_up(goals: &[Goal], suite: &Suite) -> Option<Goal> {
    let is_said = goals.iter().any(|goal| goal.figure == "outside_s");
    let outside_s = (OUTSIDE_SHARE * suite.trace.duration_s()).ceil();
    let goal = || format!("outside_s<={outside_s}").parse().ok();
    let is_driven = suite.drives_its_road();
    (is_driven && !is_said && suite.not_done == NotDone::Fails).then(goal).flatten()
}

/// The goals that the file sets: what the car may weigh with its load, and on each axle. Where donors
/// are tried, each has its own.
pub fn permitted(prepared: &Prepared, candidates: &Candidates) -> Vec<Goal> {
    let donor = &prepared.scenario.build.donor;
    let all = [
        ("running_kg", "donor.gross_mass_kg", donor.gross_mass_kg),
        ("front_axle_kg", "donor.front_axle_max_kg", donor.front_axle_max_kg),
        ("rear_axle_kg", "donor.rear_axle_max_kg", donor.rear_axle_max_kg),
    ];
    let one = |(figure, path, most): (&str, &str, Option<f64>)| Goal {
        figure: figure.to_owned(),
        side: Side::AtMost,
        bound: most.filter(|_| !candidates.tries(path)).unwrap_or(f64::INFINITY),
    };
    all.into_iter().map(one).filter(|goal| goal.bound.is_finite()).collect()
}

/// What is preferred where nothing is named: the first figures of the goals, as there is more to spare
/// where they are better.
pub fn usual_preferences<'a>(goals: impl IntoIterator<Item = &'a Goal>) -> Vec<Figure<()>> {
    let mut found: Vec<Figure<()>> = Vec::new();
    for goal in goals {
        let Ok((_, figure)) = Run::of_figure(&goal.figure) else { continue };
        let is_new = found.iter().all(|known| known.name != figure.name);
        let tells = figure.kind != FigureKind::YesNo && figure.better != Better::Neither;
        if is_new && tells && figure.name != PRICE && found.len() < USUALLY_PREFERRED {
            found.push(figure);
        }
    }
    found
}

/// What a car is preferred by, of names; the price counts always.
///
/// # Errors
/// [`Failure`] where there is no such figure, none of it is better, or they are too many.
pub fn preferences<'a>(
    names: impl IntoIterator<Item = &'a str>,
) -> Result<Vec<Figure<()>>, Failure> {
    let mut found: Vec<Figure<()>> = Vec::new();
    for name in names.into_iter().filter(|name| *name != PRICE) {
        if name.is_empty() {
            let why =
                "no name stands in it; needed: figures such as range_km,to_80_kmh_s".to_owned();
            return Err(Failure::Form { text: "--prefer".to_owned(), why });
        }
        let (_, figure) = Run::of_figure(name)?;
        if figure.better == Better::Neither {
            let why = "of this figure neither more nor less is better".to_owned();
            return Err(Failure::Form { text: name.to_owned(), why });
        }
        if found.iter().all(|known| known.name != figure.name) {
            found.push(figure);
        }
    }
    if found.len() > MOST_PREFERRED {
        let text = format!(
            "{} figures are preferred; allowed: at most {MOST_PREFERRED} besides the price",
            found.len()
        );
        return Err(Failure::Invalid(text));
    }
    Ok(found)
}

/// The study: what is tried, on which car, in which runs.
#[derive(Debug)]
pub struct Study<'a> {
    loaded: &'a Loaded,
    candidates: &'a Candidates,
    suite: &'a Suite,
    wanted: &'a Wanted,
    /// The WLTC that all drive, where it is that of the class of the car as it is.
    road: Option<OneRoad>,
    /// Figures of a row: price, goals and preferred ones first.
    columns: Vec<&'static str>,
    total: u64,
}

/// A value of a field that is part of a combination.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Picked {
    /// Path of the field.
    pub path: String,
    /// Its value.
    pub value: Value,
}

/// Combinations that are left out for the same reason.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Dropped {
    /// The reason.
    pub why: String,
    /// How many there are.
    pub combinations: u64,
    /// The first of them.
    pub example: Vec<Picked>,
    /// How it is in that one.
    pub detail: String,
}

/// A goal and how many combinations miss it.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct MissedGoal {
    /// The goal.
    pub goal: Goal,
    /// How many miss it.
    pub combinations: u64,
    /// How many miss no other.
    pub alone: u64,
}

/// A figure of a choice.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ChosenFigure {
    /// Name of the figure, ending in its unit.
    pub figure: &'static str,
    /// Its value with all inputs as stated.
    #[schemars(with = "Option<f64>")]
    pub stated: f64,
    /// One case in ten is below this; `null` for never.
    #[schemars(with = "Option<f64>")]
    pub p10: f64,
    /// Half of the cases are below this; `null` for never.
    #[schemars(with = "Option<f64>")]
    pub p50: f64,
    /// Nine cases in ten are below this; `null` for never.
    #[schemars(with = "Option<f64>")]
    pub p90: f64,
    /// Share of the cases in which it never happens, %.
    pub never_pct: f64,
}

/// In how many of the drawn cars a goal is missed.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct GoalOdds {
    /// The goal.
    pub goal: String,
    /// Share of the cars that miss it, %.
    pub missed_pct: f64,
}

/// The odds that all goals hold, by an input that differs from day to day.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct OddsByDay {
    /// Path of the input.
    pub path: String,
    /// What it is called.
    pub name: String,
    /// Odds on the half of the days with less of it, %.
    pub less_pct: f64,
    /// Odds on the half of the days with more of it, %.
    pub more_pct: f64,
}

impl Cause {
    /// Whether it is the day and not the car: no measurement tells it, and no part mends it.
    pub fn is_of_the_day(&self) -> bool {
        is_of_a_day(&self.path)
    }
}

fn is_of_a_day(path: &str) -> bool {
    DAYS.iter().any(|begin| path.starts_with(begin))
}

/// One of the front.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Choice {
    /// Number of the combination, from 0 on, as in a file of all of them.
    pub number: u64,
    /// What it is made of.
    pub picked: Vec<Picked>,
    /// What its parts cost, as far as they have prices.
    pub price: f64,
    /// What that is made of.
    pub costs: Vec<PartPrice>,
    /// Others with the same price and the same figures.
    pub alike: u64,
    /// Whether another beats it in price and figures: it stands here as it holds the goals more
    /// surely.
    pub surer: bool,
    /// The WLTC that it would drive by its own power to mass, where that is another than all drive.
    pub own_road: Option<String>,
    /// The preferred figures and those of the goals.
    pub figures: Vec<ChosenFigure>,
    /// The odds that all goals hold together, %.
    pub odds_pct: f64,
    /// Lower end of the 95 % interval that so few samples leave (Wilson), %.
    pub odds_low_pct: f64,
    /// Upper end of that interval, %.
    pub odds_high_pct: f64,
    /// What is missed, the most frequent first.
    pub missed: Vec<GoalOdds>,
    /// Samples whose values do not go together, and are left out.
    pub refused: usize,
    /// The inputs that decide most whether all goals hold, strongest first.
    pub causes: Vec<Cause>,
    /// Where what decides most is the day and not the car: the odds on days with less and with more of
    /// it.
    pub by_day: Option<OddsByDay>,
    /// Whether days are drawn as well as cars.
    pub days_are_drawn: bool,
    /// What to measure first, of what is there before anything is bought: the inputs that make the
    /// figure surest that is missed most, or else the preferred ones.
    pub measure_first: Vec<MeasureFirst>,
    /// Cautions about its parts, worst first.
    pub cautions: Vec<String>,
}

/// The combination that comes nearest where none keeps all goals.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Nearest {
    /// What it is made of.
    pub picked: Vec<Picked>,
    /// What its parts cost.
    pub price: f64,
    /// What it misses.
    pub misses: Vec<NearMiss>,
}

/// A goal that is missed by a little.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct NearMiss {
    /// The goal.
    pub goal: Goal,
    /// Value of its figure.
    #[schemars(with = "Option<f64>")]
    pub value: f64,
}

/// Which parts to buy.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ChooseReport {
    /// What the currency is called.
    pub currency: Option<String>,
    /// How many combinations there are.
    pub combinations: u64,
    /// What the road is called.
    pub road: String,
    /// Combinations that would drive another WLTC by their own power to mass, where the road is that
    /// of the class of the car as it is.
    pub other_roads: OtherRoads,
    /// Whether the masses that the file permits are among the goals.
    pub masses_are_judged: bool,
    /// The goals.
    pub goals: Vec<Goal>,
    /// Whether they are the usual ones, as none was given.
    pub goals_are_usual: bool,
    /// Whether the last of them was added, so that a car keeps up with its road.
    pub keeps_up: bool,
    /// The most that all parts may cost.
    pub budget: Option<f64>,
    /// Figures that count besides the price.
    pub prefer: Vec<&'static str>,
    /// Parts of the conversion without a price, in the build as it is: they are in no sum.
    pub without_price: Vec<String>,
    /// Fields whose values have no price: whichever is taken, it costs nothing more.
    pub free: Vec<String>,
    /// Those that do not belong together or did not do what was asked, by reason.
    pub dropped: Vec<Dropped>,
    /// How many of the others miss a goal.
    pub missing_goals: u64,
    /// Which goals they miss.
    pub missed: Vec<MissedGoal>,
    /// How many keep all goals.
    pub keep_goals: u64,
    /// How many of those cost more than the budget.
    pub over_budget: u64,
    /// What the cheapest that keeps all goals costs.
    pub cheapest: Option<f64>,
    /// How many no other beats, within the budget.
    pub front_size: usize,
    /// Those of them that were drawn, and those that others beat but in their odds, from cheapest to
    /// dearest.
    pub front: Vec<Choice>,
    /// Odds that are wanted, %.
    pub wanted_odds_pct: f64,
    /// Samples that were drawn of each.
    pub samples: usize,
    /// Seed of the drawing.
    pub seed: u64,
    /// Which of the front is recommended, from 0: the cheapest with the wanted odds.
    pub recommended: Option<usize>,
    /// Where none keeps all goals: the one that comes nearest.
    pub nearest: Option<Nearest>,
}

impl ChooseReport {
    /// A sum of money.
    pub fn money(&self, value: f64) -> String {
        let decimals = if value.fract() == 0.0 { 0 } else { 2 };
        number(value, decimals) + &self.currency(" ")
    }

    /// What the currency is called, with something before it, if it is called anything.
    pub fn currency(&self, before: &str) -> String {
        self.currency.as_deref().map(|name| format!("{before}{name}")).unwrap_or_default()
    }
}

/// What one of the front is called: a letter, or its number where letters are used up.
pub fn letter(index: usize) -> String {
    let of = u8::try_from(index).ok().filter(|i| *i < 26);
    of.map_or_else(|| format!("#{}", index + 1), |i| char::from(b'A' + i).to_string())
}

/// What a combination is made of.
pub fn made_of(picked: &[Picked]) -> String {
    let one = |one: &Picked| format!("{}={}", one.path, shown(&one.value));
    picked.iter().map(one).collect::<Vec<_>>().join(", ")
}

impl<'a> Study<'a> {
    /// A study of all combinations. `more` are figures that rows hold besides.
    ///
    /// # Errors
    /// [`Failure::Invalid`] for too many combinations, or where no figure of a goal is known.
    pub fn new(
        loaded: &'a Loaded,
        candidates: &'a Candidates,
        suite: &'a Suite,
        wanted: &'a Wanted,
        more: &[&'static str],
    ) -> Result<Self, Failure> {
        let total = combinations(&candidates.varied)?;
        let mut columns = vec![PRICE];
        let goals = wanted.goals.iter().map(|goal| Run::of_figure(&goal.figure));
        let goals: Vec<&'static str> =
            goals.map(|found| Ok(found?.1.name)).collect::<Result<_, Failure>>()?;
        let preferred = wanted.prefer.iter().map(|figure| figure.name);
        for name in preferred.chain(goals).chain(more.iter().copied()) {
            if !columns.contains(&name) {
                columns.push(name);
            }
        }
        Ok(Self { loaded, candidates, suite, wanted, road: None, columns, total })
    }

    /// The same on a road that is the WLTC of the class of the car as it is.
    pub fn on(self, road: Option<OneRoad>) -> Self {
        Self { road: road.filter(|_| self.suite.drives_its_road()), ..self }
    }

    /// What each row holds: its figures, and what it would drive.
    pub fn computed(&self) -> Vec<String> {
        let road = self.road.as_ref().map(|_| own_road::COLUMN);
        self.columns.iter().copied().chain(road).map(str::to_owned).collect()
    }

    /// How many combinations there are.
    pub fn total(&self) -> u64 {
        self.total
    }

    /// The figures of a row.
    pub fn columns(&self) -> &[&'static str] {
        &self.columns
    }

    /// What comes of a combination, or why it is none, beginning with a reason that is the same for
    /// all of its kind and a colon.
    pub fn found(&self, number: u64) -> Result<Found, String> {
        let refused = |e: String| format!("the files refuse it: {e}");
        let (set, besides) =
            self.candidates.overrides(number).map_err(|e| refused(e.to_string()))?;
        let prepared = self.loaded.with(&set).map_err(|e| refused(e.to_string()))?;
        if let Some(clash) = prepared.clashes().into_iter().next() {
            return Err(format!("{}: {}", clash.what, clash.text));
        }
        let figures = self.suite.figures(&prepared);
        let figures = figures.map_err(|e| format!("a run gives up: {e}"))?;
        let mut found = Found::of(&figures, &self.columns);
        if let Some(price) = found.values.first_mut() {
            *price = match *price {
                None if self.candidates.cost_besides() => Some(besides),
                price => price.map(|price| price + besides),
            };
        }
        let place = (number, self.total);
        found.values.extend(self.road.as_ref().map(|road| road.column(place, &prepared)));
        Ok(found)
    }

    fn picked(&self, number: u64) -> Vec<Picked> {
        let set = set_of(&self.candidates.varied, number);
        set.into_iter().map(|(path, value)| Picked { path, value }).collect()
    }

    fn column(&self, name: &str) -> Option<usize> {
        self.columns.iter().position(|known| *known == name)
    }

    fn figure(&self, name: &str, found: &Found) -> Option<Figure> {
        let value = found.values[self.column(name)?]?;
        Some(Run::of_figure(name).ok()?.1.with(value))
    }
}

/// What is known of all combinations while they come, without their being held.
#[derive(Debug)]
pub struct Seen<'a> {
    study: &'a Study<'a>,
    dropped: BTreeMap<String, (u64, u64, String)>,
    missing_goals: u64,
    missed: Vec<(u64, u64)>,
    keep_goals: u64,
    over_budget: u64,
    cheapest: Option<f64>,
    other_roads: OtherRoads,
    /// The one that comes nearest to its goals, by how much it misses them, its price and what it is
    /// made of.
    nearest: Option<(f64, String, u64, Found)>,
    front: Front<(u64, Found)>,
    /// Those that no other beats in price and in what the goals ask for: where odds go with that, all
    /// that may hold the goals more surely than what is as cheap.
    surer: Front<(u64, Found)>,
}

/// A number of three digits, as tables show it: less than that is no reason to pay more.
pub fn as_shown(value: f64) -> f64 {
    format!("{value:.2e}").parse().unwrap_or(value)
}

impl<'a> Seen<'a> {
    /// Before any row.
    pub fn of(study: &'a Study<'a>) -> Self {
        Self {
            study,
            dropped: BTreeMap::new(),
            missing_goals: 0,
            missed: vec![(0, 0); study.wanted.goals.len()],
            keep_goals: 0,
            over_budget: 0,
            cheapest: None,
            other_roads: OtherRoads::default(),
            nearest: None,
            front: Front::default(),
            surer: Front::default(),
        }
    }

    fn drop(&mut self, why: String, number: u64, detail: &str) {
        let first = || (0, number, detail.to_owned());
        self.dropped.entry(why).or_insert_with(first).0 += 1;
    }

    /// Takes a row.
    pub fn see(&mut self, row: &Row) {
        let (study, number) = (self.study, row.number);
        let wanted = study.wanted;
        let found = match &row.outcome {
            Ok(found) => found,
            Err(problem) => {
                let (why, detail) = problem.split_once(": ").unwrap_or((problem, problem));
                return self.drop(why.to_owned(), number, detail);
            }
        };
        self.other_roads.see(found.values.get(study.columns.len()).copied().flatten());
        let fails = study.suite.not_done == NotDone::Fails;
        if let Some((run, why)) = found.not_done.first().filter(|_| fails) {
            return self.drop(format!("{} is not carried out", run.name()), number, why);
        }
        let preferred = wanted.prefer.iter().map(|figure| figure.name);
        for name in [PRICE].into_iter().chain(preferred) {
            match study.figure(name, found) {
                None => {
                    return self.drop(format!("it has no {name}"), number, "the run has no answer");
                }
                Some(figure) if figure.value.is_nan() => {
                    return self.drop(format!("{name} is never reached"), number, "never");
                }
                Some(_) => {}
            }
        }
        let by = |goal: &Goal| match study.figure(&goal.figure, found) {
            Some(figure) => goal.missed_by(&figure) / goal.bound.abs().max(1e-6),
            None => f64::INFINITY,
        };
        let misses: Vec<f64> = wanted.goals.iter().map(by).collect();
        let many = misses.iter().filter(|miss| **miss > 0.0).count();
        let price = found.values[0].unwrap_or(f64::NAN);
        // What decides between equals does not depend on the order in which things are tried.
        let mut made: Vec<String> =
            study.picked(number).iter().map(|one| format!("{}={}", one.path, one.value)).collect();
        made.sort();
        let made = made.join("\n");
        if many > 0 {
            self.missing_goals += 1;
            for (missed, _) in self.missed.iter_mut().zip(&misses).filter(|(_, miss)| **miss > 0.0)
            {
                missed.0 += 1;
                missed.1 += u64::from(many == 1);
            }
            let worst = misses.iter().fold(0.0_f64, |worst, miss| worst.max(*miss));
            let is_nearer = self.nearest.as_ref().is_none_or(|(known, key, _, nearest)| {
                let by_price = price.total_cmp(&nearest.values[0].unwrap_or(f64::INFINITY));
                worst.total_cmp(known).then(by_price).then_with(|| made.cmp(key)).is_lt()
            });
            if is_nearer {
                self.nearest = Some((worst, made, number, found.clone()));
            }
            return;
        }
        self.keep_goals += 1;
        self.cheapest = Some(self.cheapest.map_or(price, |known| known.min(price)));
        if wanted.budget.is_some_and(|budget| price > budget) {
            self.over_budget += 1;
            return;
        }
        let ranks = study.ranks(found);
        // Of equals the one stands for all that has most to spare of the goal that it misses next.
        let goals = || wanted.goals.iter().filter(|goal| goal.figure != PRICE);
        let spare = |goal: &Goal| {
            let figure = study.figure(&goal.figure, found);
            figure.map_or(f64::NEG_INFINITY, |figure| goal.spare(&figure))
        };
        let shares = goals().map(|goal| spare(goal) / goal.bound.abs().max(1e-6));
        let least = shares.fold(1.0_f64, f64::min).clamp(0.0, 1.0);
        let key = format!("{:.4}\n{made}", 1.0 - least);
        self.front.see(ranks, key, || (number, found.clone()));
        let asked = goals().map(|goal| -as_shown(spare(goal)));
        self.surer
            .see([price].into_iter().chain(asked).collect(), made, || (number, found.clone()));
    }

    /// How many cars will be drawn, at most.
    pub fn to_draw(&self) -> u64 {
        let many = self.front.len().min(MOST_DRAWN) + self.surer.len().min(MOST_BESIDE);
        (many * self.study.wanted.samples) as u64
    }

    /// Draws those that no other beats and sums up; `step` is called after each car, and says whether anybody still
    /// waits for the answer.
    ///
    /// # Errors
    /// [`Failure`] where a car cannot be drawn; [`Failure::Abandoned`] where nobody waits any more.
    pub fn conclude(
        self,
        (goals_are_usual, keeps_up): (bool, bool),
        step: impl Fn() -> bool + Sync,
    ) -> Result<ChooseReport, Failure> {
        let Self { study, front, surer, nearest, dropped, .. } = self;
        let wanted = study.wanted;
        let invalid = |e: Error| Failure::Invalid(e.to_string());
        let front_size = front.len();
        let choices = study.unbeaten(front, surer, &step)?;
        let recommended = choices.iter().position(|one| one.odds_pct >= wanted.odds_pct);
        let of_dropped = |(why, (combinations, first, detail))| Dropped {
            why,
            combinations,
            example: study.picked(first),
            detail,
        };
        let mut dropped: Vec<Dropped> = dropped.into_iter().map(of_dropped).collect();
        dropped.sort_by_key(|one| std::cmp::Reverse(one.combinations));
        let mut missed: Vec<MissedGoal> = (wanted.goals.iter().zip(self.missed))
            .map(|(goal, (combinations, alone))| MissedGoal {
                goal: goal.clone(),
                combinations,
                alone,
            })
            .filter(|one| one.combinations > 0)
            .collect();
        missed.sort_by_key(|one| std::cmp::Reverse(one.combinations));
        let nearest = nearest.filter(|_| self.keep_goals == 0);
        let nearest = nearest.map(|(_, _, number, found)| Nearest {
            picked: study.picked(number),
            price: found.values[0].unwrap_or(f64::NAN),
            misses: wanted
                .goals
                .iter()
                .filter_map(|goal| {
                    let figure = study.figure(&goal.figure, &found)?;
                    let is_missed = goal.missed_by(&figure) > 0.0;
                    is_missed.then(|| NearMiss { goal: goal.clone(), value: figure.value })
                })
                .collect(),
        });
        let prepared = study.loaded.prepare().map_err(invalid)?;
        // What is tried as a part has a price, and is put in for it.
        let (set, _) = study.candidates.overrides(0).map_err(invalid)?;
        let first = study.loaded.with(&set).ok();
        let without = first.as_ref().unwrap_or(&prepared).scenario.build.without_price();
        let has_price = |path: &str| path == "pack" && study.candidates.prices_counts();
        let permitted = permitted(&prepared, study.candidates);
        Ok(ChooseReport {
            currency: prepared.prices.currency.clone(),
            combinations: study.total,
            goals: wanted.goals.clone(),
            goals_are_usual,
            road: self.study.suite.road.clone(),
            other_roads: self.other_roads,
            masses_are_judged: !permitted.is_empty()
                && permitted.iter().all(|goal| wanted.goals.contains(goal)),
            keeps_up,
            budget: wanted.budget,
            prefer: wanted.prefer.iter().map(|figure| figure.name).collect(),
            without_price: without
                .into_iter()
                .filter(|part| !has_price(&part.path))
                .map(|part| part.part)
                .collect(),
            free: study.candidates.without_price().into_iter().map(str::to_owned).collect(),
            dropped,
            missing_goals: self.missing_goals,
            missed,
            keep_goals: self.keep_goals,
            over_budget: self.over_budget,
            cheapest: self.cheapest,
            front_size,
            front: choices,
            wanted_odds_pct: wanted.odds_pct,
            samples: wanted.samples,
            seed: wanted.seed,
            recommended,
            nearest,
        })
    }
}

impl Study<'_> {
    /// Those that no other beats in price, preferred figures and odds, with cars drawn of each, from
    /// cheapest to dearest.
    ///
    /// Drawn are those that no other beats in price and figures. How much their odds depend on what
    /// there is to spare, the cheapest of them tells, which is the same whatever the budget. Then,
    /// from the cheapest on, each is drawn that has more to spare than all that cost no more: so the
    /// cheapest that holds its goals surely is among them, even where others beat it in the figures.
    fn unbeaten(
        &self,
        front: Front<(u64, Found)>,
        surer: Front<(u64, Found)>,
        step: &(impl Fn() -> bool + Sync),
    ) -> Result<Vec<Choice>, Failure> {
        let mut all: Front<Choice> = Front::default();
        let mut drawn: BTreeSet<u64> = BTreeSet::new();
        let mut cheapest = None;
        let mut draw = |ranks: Vec<f64>, number: u64, found: &Found, alike: u64, key: &str| {
            let choice = self.drawn(number, found, alike, step)?;
            // The odds stand behind the price, so that of equal prices the surer one comes first.
            let mut ranks = ranks;
            ranks.insert(1, -choice.odds_pct.round());
            all.see(ranks, key.to_owned(), || choice.clone());
            Ok::<Choice, Failure>(choice)
        };
        for Unbeaten { ranks, key, what: (number, found), alike } in front.into_spread(MOST_DRAWN) {
            let choice = draw(ranks, number, &found, alike, &format!("0\n{key}"))?;
            drawn.insert(number);
            cheapest.get_or_insert(choice);
        }
        if let Some(cheapest) = cheapest {
            let drawn_of = |name: &str| {
                let found = cheapest.figures.iter().find(|figure| figure.figure == name)?;
                let spread = found.p90 - found.p10;
                Some(Drawn { off: found.p50 - found.stated, spread })
            };
            let likely = Likely::from(&self.wanted.goals, drawn_of);
            let mut most = f64::NEG_INFINITY;
            let mut beside = 0;
            for Unbeaten { key, what: (number, found), alike, .. } in surer.into_spread(usize::MAX)
            {
                let spare_sd = likely.spare_sd(|name| self.figure(name, &found));
                let is_known = drawn.contains(&number);
                let is_surer = spare_sd >= most + SURER_SD && beside < MOST_BESIDE;
                if is_known || is_surer {
                    most = most.max(spare_sd);
                }
                if is_surer && !is_known {
                    beside += 1;
                    draw(self.ranks(&found), number, &found, alike, &format!("1\n{key}"))?;
                }
            }
        }
        let sorted = all.into_spread(usize::MAX);
        // Without the odds: what another beats in all else.
        let rest = |one: &Unbeaten<Choice>| [&one.ranks[..1], &one.ranks[2..]].concat();
        let rests: Vec<Vec<f64>> = sorted.iter().map(rest).collect();
        let is_beaten = |own: &[f64]| {
            let no_worse = |other: &&Vec<f64>| other.iter().zip(own).all(|(a, b)| a <= b);
            rests.iter().filter(no_worse).any(|other| other != own)
        };
        let one = |(one, own): (Unbeaten<Choice>, &Vec<f64>)| Choice {
            surer: is_beaten(own),
            ..one.what
        };
        Ok(sorted.into_iter().zip(&rests).map(one).collect())
    }

    /// What counts of a combination, less being better: its price and the preferred figures, as tables
    /// show them.
    fn ranks(&self, found: &Found) -> Vec<f64> {
        let rank = |figure: &Figure<()>| {
            let value = self.figure(figure.name, found).map_or(f64::NAN, |f| comparable(&f));
            let sign = if figure.better == Better::Higher { -1.0 } else { 1.0 };
            sign * as_shown(value)
        };
        let price = found.values[0].unwrap_or(f64::NAN);
        [price].into_iter().chain(self.wanted.prefer.iter().map(rank)).collect()
    }

    /// What is uncertain of a car. A spread of the user's own counts where the car has the field.
    fn uncertain<'b>(&self, loaded: &'b Loaded) -> Result<Uncertain<'b>, Failure> {
        let there = |one: &&Spread| {
            !matches!(
                Uncertain::new(loaded, std::slice::from_ref(*one), true),
                Err(Failure::Form { .. })
            )
        };
        let own: Vec<Spread> = self.wanted.spreads.iter().filter(there).cloned().collect();
        match Uncertain::new(loaded, &own, self.wanted.typical) {
            Err(Failure::NothingUncertain) => Ok(Uncertain::certain(loaded)),
            other => other,
        }
    }

    /// Whether an input can be measured before anything is bought.
    fn is_there(&self, input: &UncertainInput) -> bool {
        let path = input.spread.path.as_str();
        let is_built = TOLD_WHEN_BUILT.iter().any(|begin| path.starts_with(begin));
        !is_built && !input.paths().any(|path| self.candidates.tries(path))
    }

    /// One of the front, with cars drawn of what is uncertain in it. An input of the same name has the
    /// same chance in each of them, so that what differs is the parts.
    fn drawn(
        &self,
        number: u64,
        found: &Found,
        alike: u64,
        step: &(impl Fn() -> bool + Sync),
    ) -> Result<Choice, Failure> {
        let wanted = self.wanted;
        let invalid = |e: Error| Failure::Invalid(e.to_string());
        let (set, _) = self.candidates.overrides(number).map_err(invalid)?;
        let loaded = self.loaded.put(&set).map_err(invalid)?;
        let prepared = loaded.prepare().map_err(invalid)?;
        let uncertain = self.uncertain(&loaded)?;
        let mut seen: BTreeMap<&str, usize> = BTreeMap::new();
        let shares: Vec<Vec<f64>> = uncertain
            .inputs
            .iter()
            .map(|input| {
                let path = input.spread.path.as_str();
                let nth = seen.entry(path).and_modify(|nth| *nth += 1).or_insert(0);
                hypercube::named(wanted.samples, &format!("{path} {nth}"), wanted.seed)
            })
            .collect();
        let run = |i: usize| {
            let of_sample: Vec<f64> = shares.iter().map(|input| input[i]).collect();
            let (drawn, figures) = case_of(&uncertain, self.suite, &of_sample);
            step().then_some((drawn.drawn, figures))
        };
        let all: Option<Vec<_>> = (0..wanted.samples).into_par_iter().map(run).collect();
        let all = all.ok_or(Failure::Abandoned)?;
        let mut inputs = vec![Vec::new(); uncertain.inputs.len()];
        let mut cases = Vec::new();
        for (drawn, figures) in all {
            let Ok(figures) = figures else { continue };
            inputs.iter_mut().zip(&drawn).for_each(|(list, value)| list.push(*value));
            let counted = |figure: &Figure| figure.counted(self.suite.not_done);
            cases.push(figures.iter().map(counted).collect::<Vec<Figure>>());
        }
        let refused = wanted.samples - cases.len();
        if cases.is_empty() {
            return Err(Failure::Invalid(
                "no car that was drawn of a choice can be driven".to_owned(),
            ));
        }
        let n = cases.len() as f64;
        // The price is not drawn.
        let goals: Vec<&Goal> = wanted.goals.iter().filter(|goal| goal.figure != PRICE).collect();
        let spare =
            |goal: &&Goal| Spare::of(goal, cases.iter().map(|case| find(case, &goal.figure)));
        let spares: Vec<Spare> = goals.iter().map(spare).collect();
        let holds: Vec<f64> = (0..cases.len())
            .map(|i| f64::from(u8::from(spares.iter().all(|spare| spare.values[i] >= 0.0))))
            .collect();
        let share = holds.iter().sum::<f64>() / n;
        let (low, high) = wilson(share, n);
        let missed = |spare: &Spare| spare.values.iter().filter(|value| **value < 0.0).count();
        let odds = |(goal, spare): (&&Goal, &Spare)| GoalOdds {
            goal: goal.to_string(),
            missed_pct: units::pct_of(missed(spare) as f64, n),
        };
        let mut misses: Vec<GoalOdds> = goals.iter().zip(&spares).map(odds).collect();
        misses.retain(|one| one.missed_pct > 0.0);
        misses.sort_by(|a, b| b.missed_pct.total_cmp(&a.missed_pct));
        // What decides: the figure of the goal that is missed most, or else what is preferred.
        let told = |goal: &&&Goal| {
            Run::of_figure(&goal.figure).is_ok_and(|(_, figure)| figure.kind != FigureKind::YesNo)
        };
        let worst = misses
            .iter()
            .find_map(|miss| goals.iter().filter(told).find(|goal| goal.to_string() == miss.goal));
        let deciding: Vec<&str> = match worst {
            Some(goal) => vec![goal.figure.as_str()],
            None => wanted.prefer.iter().map(|figure| figure.name).collect(),
        };
        let deciding: Vec<Vec<Figure>> = deciding
            .into_iter()
            .filter_map(|name| {
                let stated = self.figure(name, found)?;
                let of = |case: &Vec<Figure>| find(case, name).copied();
                Some(cases.iter().map(|c| of(c).unwrap_or(stated.with(f64::NAN))).collect())
            })
            .collect();
        let there = uncertain.inputs.iter().zip(&inputs).filter(|(input, _)| self.is_there(input));
        let measure_first = measure_first(there, &deciding, &spares);
        let figures = self.columns[1..].iter().filter_map(|name| {
            let stated = self.figure(name, found)?;
            let values =
                |case: &Vec<Figure>| comparable(find(case, name).unwrap_or(&stated.with(f64::NAN)));
            let all: Vec<f64> = cases.iter().map(values).collect();
            let never = all.iter().filter(|value| !value.is_finite()).count();
            let [p10, p50, p90] = quantiles(all);
            let never_pct = units::pct_of(never as f64, n);
            Some(ChosenFigure {
                figure: stated.name,
                stated: stated.value,
                p10,
                p50,
                p90,
                never_pct,
            })
        });
        let ranked: Vec<Vec<f64>> = inputs.iter().map(|list| ranks::ranks(list)).collect();
        let mut causes = causes(&uncertain, &ranked, &holds);
        causes.truncate(CAUSES);
        let day = causes.first().filter(|cause| cause.is_of_the_day());
        let by_day = day.and_then(|cause| {
            let is_it = |input: &UncertainInput| input.spread.path == cause.path;
            let ranks = ranked.get(uncertain.inputs.iter().position(is_it)?)?;
            let odds = |is_more: bool| {
                let half = ranks.iter().zip(&holds).filter(|(at, _)| (**at > 0.5 * n) == is_more);
                let half: Vec<f64> = half.map(|(_, holds)| *holds).collect();
                units::pct_of(half.iter().sum(), half.len() as f64)
            };
            let (path, name) = (cause.path.clone(), cause.name.clone());
            Some(OddsByDay { path, name, less_pct: odds(false), more_pct: odds(true) })
        });
        let is_day = |input: &UncertainInput| is_of_a_day(&input.spread.path);
        let days_are_drawn = uncertain.inputs.iter().any(is_day);
        let parts = prepared.scenario.build.price_sum(&prepared.prices);
        let parts = parts.map(|sum| sum.parts).unwrap_or_default();
        let cautions = prepared.warnings().into_iter();
        let cautions = cautions.filter(|one| one.severity >= Severity::Limit).map(|one| one.text);
        let of_coolant = |it: &Assumption| it.path == "build.coolant.heat_capacity_kj_per_k";
        let has_coolant = prepared.scenario.build.coolant.is_some();
        let is_assumed = !has_coolant && prepared.assumptions.iter().any(of_coolant);
        let coolant = is_assumed.then(|| COOLANT_ASSUMED.to_owned());
        Ok(Choice {
            number,
            picked: self.picked(number),
            price: found.values[0].unwrap_or(f64::NAN),
            costs: parts.into_iter().chain(self.candidates.besides(number)).collect(),
            alike,
            surer: false,
            own_road: self.road.as_ref().and_then(|road| road.other_of(&prepared)),
            figures: figures.collect(),
            odds_pct: units::pct_from_share(share),
            odds_low_pct: units::pct_from_share(low),
            odds_high_pct: units::pct_from_share(high),
            missed: misses,
            refused,
            causes,
            by_day,
            days_are_drawn,
            measure_first,
            cautions: cautions.chain(coolant).collect(),
        })
    }
}
