//! `size`: which value of a field keeps the goals.

use crate::commands::bands::goals;
use crate::failure::{Failure, of};
use crate::figure;
use crate::input::Input;
use crate::measure::Units;
use crate::output::Output;
use crate::progress::Progress;
use crate::suite::SuiteArgs;
use crate::table::Table;
use clap::ValueEnum;
use scenarios::runs::Figure;
use scenarios::runs::Run;
use scenarios::runs::figure::find;
use scenarios::studies::Goal;
use scenarios::studies::size::{self, Interval, Question, SizeReport};
use scenarios::{Override, counts, runs};
use serde_json::Value;

/// Which of the values that keep the goals is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Extreme {
    /// The smallest.
    Smallest,
    /// The largest.
    Largest,
}

/// Arguments of `size`.
///
/// Where no value keeps the goals, the answer is the nearest miss, and the exit code is 1.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    input: Input,

    /// Which value that keeps the goals is wanted.
    #[arg(long, value_enum, value_name = "WHICH", required_unless_present = "best")]
    find: Option<Extreme>,

    /// The figure that is to be as good as the goals let it be, such as `to_80_kmh_s`.
    #[arg(
        long,
        value_name = "FIGURE",
        conflicts_with = "find",
        add = crate::completing::figures()
    )]
    best: Option<String>,

    /// Path of the field, such as `gearbox.final_drive`.
    #[arg(long, value_name = "PATH", required = true, add = crate::completing::field())]
    field: String,

    /// Where the value is looked for, such as `3..6`.
    #[arg(long, value_name = "FROM..TO", required = true, allow_hyphen_values = true)]
    between: String,

    /// Tries whole numbers alone; fields that count (cells) need no telling.
    #[arg(long)]
    whole: bool,

    /// A bound that a figure must keep, such as `climb_heat_pct<=100`; may be repeated.
    #[arg(long = "goal", value_name = "FIGURE<=VALUE")]
    goals: Vec<String>,

    #[command(flatten)]
    suite: SuiteArgs,
}

/// Searches.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    let between: Interval = args.between.parse().map_err(of("--between"))?;
    let loaded = args.input.load()?;
    let prepared = loaded.prepare().map_err(of("--set"))?;
    let goals = goals(&args.goals)?;
    let question = match (args.find, &args.best) {
        (Some(Extreme::Smallest), _) => Question::Smallest,
        (Some(Extreme::Largest), _) => Question::Largest,
        (None, best) => Question::Best(best.clone().unwrap_or_default()),
    };
    let names = goals.iter().map(|goal| goal.figure.as_str()).chain(args.best.as_deref());
    let suite = args.suite.suite(&prepared, &[], names, output.units)?;
    let whole = args.whole || counts(&args.field);
    let with = |value: f64| {
        let one = if whole {
            Override::new(&args.field, Value::from(value as i64))
        } else {
            Override::number(&args.field, value)
        };
        loaded.with(&[one?])
    };
    // A path that leads nowhere is a mistake of the whole search.
    if let Err(e) = with(between.from)
        && e.is_of_path()
    {
        return Err(of("--field")(e));
    }
    let progress = Progress::new(0, "values tried");
    let evaluate = |value: f64| {
        let prepared = with(value).map_err(|e| e.to_string())?;
        let figures = suite.figures(&prepared).map_err(|e| e.to_string());
        progress.step_of_more();
        figures
    };
    let report = size::size(&args.field, &question, &goals, between, whole, evaluate);
    let report = report.map_err(named)?.judged(|value| with(value).ok());
    drop(progress);
    if output.json {
        output.document(&report)?;
    } else {
        let now = suite.figures(&prepared)?;
        output.text(format!("{}: {}", prepared.name, asked(&report)))?;
        show(&report, &now, output)?;
    }
    match report.found {
        Some(_) => Ok(()),
        None => Err(Failure::Unanswered(unanswered(&report))),
    }
}

/// Why there is no answer.
fn unanswered(report: &SizeReport) -> String {
    let Interval { from, to } = report.between;
    let values = format!("value of {} from {} to {}", report.field, plain(from), plain(to));
    match &report.question {
        Question::Best(name) if report.independent.contains(name) && !report.met.is_empty() => {
            format!("{name} is the same at every {values}")
        }
        Question::Best(name) if !report.met.is_empty() => {
            format!("{name} is never reached at any {values} that keeps the goals")
        }
        _ => format!("no {values} keeps the goals"),
    }
}

/// Names the options of what cannot be searched.
fn named(failure: runs::Failure) -> Failure {
    match failure {
        runs::Failure::NoGoal => Failure::Arguments("--find needs a --goal".to_owned()),
        other => other.into(),
    }
}

fn asked(report: &SizeReport) -> String {
    let what = match &report.question {
        Question::Smallest => format!("the smallest {}", report.field),
        Question::Largest => format!("the largest {}", report.field),
        Question::Best(figure) => format!("the {} of the best {figure}", report.field),
    };
    let goals: Vec<String> = report.goals.iter().map(Goal::to_string).collect();
    let goals =
        if goals.is_empty() { String::new() } else { format!(" with {}", goals.join(", ")) };
    format!("{what} from {} to {}{goals}", plain(report.between.from), plain(report.between.to))
}

fn plain(value: f64) -> String {
    // Five digits are more than a search finds.
    format!("{value:.5e}").parse::<f64>().unwrap_or(value).to_string()
}

fn show(report: &SizeReport, now: &[Figure], output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    match (report.found, report.nearest) {
        (Some(value), _) => {
            output.heading(format!("{} = {}", report.field, plain(value)))?;
            if report.at_end {
                output.said(
                    "That is an end of the interval: beyond it there may be a better one still.",
                )?;
            }
        }
        (None, nearest) => {
            output.heading(format!("No answer: {}", unanswered(report)))?;
            let misses: Vec<String> = report
                .misses
                .iter()
                .map(|miss| {
                    let value = figure::value(&miss.figure, miss.value, Units::Metric);
                    if matches!(value.as_str(), "yes" | "no") {
                        format!("{} is {value}", miss.goal)
                    } else if miss.by.is_finite() {
                        format!("{} is {value}, {} off", miss.goal, figure::short(miss.by))
                    } else {
                        format!("{} is never reached", miss.goal)
                    }
                })
                .collect();
            match nearest {
                Some(value) => {
                    let misses = misses.join("; ");
                    output.said(format!("Nearest: {}, where {misses}.", plain(value)))?;
                }
                None if misses.is_empty() => {}
                None => output.said(format!("None comes near: {}.", misses.join("; ")))?,
            }
        }
    }
    let column = match (report.found, report.nearest) {
        (Some(_), _) => ">answer".to_owned(),
        (None, Some(_)) => ">nearest".to_owned(),
        (None, None) => {
            let first = report.tried.iter().find(|tried| tried.refused.is_none());
            format!(">at {}", plain(first.map_or(report.between.from, |tried| tried.value)))
        }
    };
    let mut table = Table::new(&["", ">as stated", &column, "goal"]);
    for name in &report.asked {
        let value = |figures: &[Figure]| {
            find(figures, name).map_or_else(|| "—".to_owned(), |f| figure::shown(f, units))
        };
        let goals: Vec<String> = report
            .goals
            .iter()
            .filter(|goal| goal.figure == *name)
            .map(|goal| figure::bound(goal, units))
            .collect();
        let goal = if goals.is_empty() { "best".to_owned() } else { goals.join(", ") };
        table.row([figure::label(name, units), value(now), value(&report.figures), goal]);
    }
    output.table(&table)?;
    for (run, why) in Run::not_done(&report.figures) {
        output.said(format!("{} is not carried out there: {why}.", run.name()))?;
    }
    for name in &report.independent {
        let value = find(&report.figures, name).or_else(|| find(now, name));
        let value = value.map_or_else(String::new, |f| figure::shown(f, units));
        output.said(format!(
            "{name} does not depend on {} there: it is {value} at each of the first {} values.",
            report.field,
            report.tried.len()
        ))?;
    }
    if !report.monotone {
        let met: Vec<String> = report
            .met
            .iter()
            .map(|i| {
                if i.from == i.to {
                    plain(i.from)
                } else {
                    format!("{} to {}", plain(i.from), plain(i.to))
                }
            })
            .collect();
        output.said(format!(
            "The goals are kept for {} alone; gaps narrower than {} may have been overlooked.",
            met.join(" and "),
            plain((report.between.to - report.between.from) / (report.tried.len() as f64 - 1.0))
        ))?;
    }
    let refused = report.tried.iter().filter_map(|tried| tried.refused.as_ref());
    let count = refused.clone().count();
    if let Some(why) = refused.clone().next() {
        let of = report.tried.len();
        output.text(format!("{count} of the first {of} values are refused: {why}."))?;
    }
    if !report.dangers.is_empty() {
        let what = if report.found.is_some() { "the answer" } else { "the nearest" };
        output.heading(format!("Dangers of {what}"))?;
        report.dangers.iter().try_for_each(|text| output.said(format!("- {text}")))?;
    }
    output.line(format!("{} values tried", report.evaluations))
}
