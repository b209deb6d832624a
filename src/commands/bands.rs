//! `bands`: how sure the figures are.

use crate::failure::{Failure, of};
use crate::figure;
use crate::input::Input;
use crate::measure::{Units, number};
use crate::output::Output;
use crate::picture_file::PictureArg;
use crate::pictures::{self, Look};
use crate::progress::Progress;
use crate::road::Drivable;
use crate::spreads::{SpreadArgs, named};
use crate::suite::SuiteArgs;
use crate::table::Table;
use scenarios::runs::standing::PRICE;
use scenarios::runs::{Run, Suite};
use scenarios::studies::Goal;
use scenarios::studies::bands::{self, Band, BandsReport, Cause, Risk};
use scenarios::studies::home_test::MeasureFirst;
use scenarios::studies::season_bands::{self, RangeBand};
use scenarios::studies::uncertain::Uncertain;

/// Arguments of `bands`.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    input: Input,

    #[command(flatten)]
    suite: SuiteArgs,

    #[command(flatten)]
    spreads: SpreadArgs,

    /// A bound whose odds are wanted, such as `wh_per_km<=120`; may be repeated.
    #[arg(long = "goal", value_name = "FIGURE<=VALUE")]
    goals: Vec<String>,

    /// How many cars are drawn.
    #[arg(long, value_name = "N", default_value_t = 1000)]
    samples: usize,

    /// Seed of the drawing; the same seed draws the same cars.
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,

    #[command(flatten)]
    picture: PictureArg,
}

/// Draws cars and sums up.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    let loaded = args.input.load()?;
    let prepared = loaded.prepare().map_err(of("--set"))?;
    let own = args.spreads.own()?;
    let goals = goals(&args.goals)?;
    let names = goals.iter().map(|goal| goal.figure.as_str());
    let suite = args.suite.suite(&prepared, &Run::USUAL, names, output.units)?;
    let frame = args.picture.begin(&args.suite.files(&prepared))?;
    let uncertain = Uncertain::new(&loaded, &own, !args.spreads.own_only).map_err(named)?;
    let report = counted(&uncertain, &suite, &goals, args.samples, args.seed)?;
    if let Some(frame) = frame {
        let look = Look::wide(&prepared.name, output.units);
        frame.save(&pictures::bands::picture(&report, look))?;
    }
    if output.json {
        return output.document(&report);
    }
    output.text(format!(
        "{}: {} cars drawn ({}, seed {}), {} uncertain inputs",
        prepared.name,
        report.samples,
        report.sampling,
        report.seed,
        report.inputs.len()
    ))?;
    inputs(&report, output)?;
    risks(&report, output)?;
    figures(&report, output)?;
    show_first(&report, output)
}

/// The bounds of `--goal`.
pub fn goals(texts: &[String]) -> Result<Vec<Goal>, Failure> {
    texts.iter().map(|text| text.parse().map_err(of("--goal"))).collect()
}

fn counted(
    uncertain: &Uncertain<'_>,
    suite: &Suite,
    goals: &[Goal],
    samples: usize,
    seed: u64,
) -> Result<BandsReport, Failure> {
    let progress = Progress::new(samples as u64, "cars");
    let step = || {
        progress.step();
        true
    };
    Ok(bands::bands(uncertain, suite, goals, samples, seed, step)?)
}

/// Samples of the section of the sheet.
const SHEET_SAMPLES: usize = 300;

/// The bands of the sheet's figures, with the typical spreads.
pub fn of_sheet(input: &Input, road: &Drivable) -> Result<BandsReport, Failure> {
    let loaded = input.load()?;
    let suite = Suite::new(&Run::USUAL, &road.name, road.trace.clone());
    let uncertain = Uncertain::new(&loaded, &[], true)?;
    counted(&uncertain, &suite, &[], SHEET_SAMPLES, 1)
}

/// The bands of the range in each season, with the same cars.
pub fn of_seasons(input: &Input, road: &Drivable) -> Result<Vec<RangeBand>, Failure> {
    let loaded = input.load()?;
    let uncertain = Uncertain::new(&loaded, &[], true)?;
    let progress = Progress::new(SHEET_SAMPLES as u64, "cars");
    let step = || progress.step();
    Ok(season_bands::range_bands(&uncertain, &road.trace, SHEET_SAMPLES, 1, step)?)
}

/// The section of the sheet.
pub fn show_on_sheet(report: &BandsReport, output: &mut Output) -> Result<(), Failure> {
    output.heading(format!(
        "How sure that is: {} cars drawn with {} spreads (more with `bands`)",
        report.samples,
        if report.inputs.iter().any(|input| input.measured) {
            "measured and typical"
        } else {
            "typical"
        }
    ))?;
    let mut table =
        Table::new(&["", ">as stated", ">one in ten below", ">one in ten above", "main cause"]);
    for band in report.figures.iter().filter(|band| band.moves() && !figure::is_check(band.figure))
    {
        let value = |v: f64| figure::value(band.figure, v, output.units);
        table.row([
            figure::label(band.figure, output.units),
            value(band.nominal),
            value(band.p10),
            value(band.p90),
            band.causes.first().map_or_else(|| "—".to_owned(), |cause| cause.name.clone()),
        ]);
    }
    output.table(&table)?;
    for risk in report.risks.iter().filter(|risk| risk.probability_pct > 0.0) {
        output.said(format!(
            "- {} in {} of the cases.",
            upper(&risk.words),
            pct(risk.probability_pct)
        ))?;
    }
    Ok(())
}

fn inputs(report: &BandsReport, output: &mut Output) -> Result<(), Failure> {
    output.heading("What is uncertain")?;
    let mut table = Table::new(&["field", "spread", "what and why"]);
    for input in &report.inputs {
        let why = if input.name == input.path {
            input.reason.clone()
        } else {
            format!("{}: {}", input.name, input.reason)
        };
        let path = input.path.replace(',', ", ");
        table.row([path.as_str(), &input.spread, &why]);
    }
    output.table(&table)?;
    output
        .said("± is two standard deviations of a normal distribution, unless it says otherwise.")?;
    for input in report.inputs.iter().filter(|input| input.clipped > 0) {
        output.text(format!(
            "{}: {} of {} values were not allowed and drawn back to the nearest that is.",
            input.path, input.clipped, report.samples
        ))?;
    }
    for input in report.inputs.iter().filter(|input| input.moves_nothing) {
        output.text(format!("None of these figures depends on {}.", input.path))?;
    }
    if report.refused > 0 {
        let why = report.refused_because.as_deref().unwrap_or("another set of drives");
        output.text(format!("{} cars do not work and are left out: {why}.", report.refused))?;
    }
    Ok(())
}

fn risks(report: &BandsReport, output: &mut Output) -> Result<(), Failure> {
    output.heading("What may go wrong")?;
    if report.risks.is_empty() {
        return output.line("nothing that these drives could tell");
    }
    let (met, unmet): (Vec<&Risk>, Vec<&Risk>) =
        report.risks.iter().partition(|risk| risk.probability_pct > 0.0 || risk.nominal);
    if !met.is_empty() {
        let mut table = Table::new(&[">odds", ">95 % interval", "what", "as stated", "because of"]);
        for risk in met {
            table.row([
                pct(risk.probability_pct),
                format!("{} to {}", pct(risk.low_pct), pct(risk.high_pct)),
                risk.words.clone(),
                if risk.nominal { "yes" } else { "no" }.to_owned(),
                causes(&risk.causes, 2),
            ]);
        }
        output.table(&table)?;
    }
    if let Some(first) = unmet.first() {
        let words: Vec<&str> = unmet.iter().map(|risk| risk.words.as_str()).collect();
        output.said(format!(
            "In none of the cars (odds below {}): {}.",
            pct(first.high_pct),
            words.join("; ")
        ))?;
    }
    Ok(())
}

fn figures(report: &BandsReport, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    output.heading("Figures: as stated, and below which one case in ten, half, nine in ten are")?;
    let mut table = Table::new(&["", ">stated", ">P10", ">P50", ">P90", "moved most by"]);
    for band in report.figures.iter().filter(|band| band.moves() && !figure::is_check(band.figure))
    {
        let value = |v: f64| figure::value(band.figure, v, units);
        table.row([
            figure::label(band.figure, units),
            value(band.nominal),
            value(band.p10),
            value(band.p50),
            value(band.p90),
            causes(&band.causes, 2),
        ]);
    }
    output.table(&table)?;
    let still: Vec<String> = report
        .figures
        .iter()
        .filter(|band| !band.moves() && !figure::is_check(band.figure) && band.figure != PRICE)
        .map(|band| same(band, units))
        .collect();
    if !still.is_empty() {
        output.said(format!("The same in eight cases of ten: {}.", still.join("; ")))?;
    }
    let price = report.figures.iter().find(|band| band.figure == PRICE && !band.moves());
    if let Some(price) = price.filter(|price| price.nominal.is_finite()) {
        output.said(format!(
            "Price: {} is the sum of prices that the file states, no band: none of them is drawn. Where \
             one is not sure, say how much: --spread motor.price=±10%.",
            figure::value(PRICE, price.nominal, units)
        ))?;
    }
    output.said(format!(
        "Moved most by: {}, +1 where more of the input always means more of the figure.",
        report.ranking
    ))
}

/// What to measure first, and how.
fn show_first(report: &BandsReport, output: &mut Output) -> Result<(), Failure> {
    output.heading("Measure these first")?;
    let has_ends = |band: &Band| band.moves() && band.p10.is_finite() && band.p90.is_finite();
    if !report.figures.iter().any(has_ends) {
        return output.said("No figure has two ends, so that none can get narrower.");
    }
    if report.measure_first.is_empty() {
        return output.said(
            "Nothing that can be measured at home would make these figures surer by more than so few cars \
             can tell: what moves them was \
             measured, or is weather, or shows on the first drives only (`measure drive --fit`).",
        );
    }
    home_tests(&report.measure_first, output)?;
    output.said(
        "Narrower: by how much P10 to P90 shrinks, mean of the figures (of the goals, where there are \
         any), if it alone is measured. Measure single cells and windings only, at low voltage and fused; \
         what carries the pack's voltage is for licensed people.",
    )
}

/// What to measure, how much surer it makes figures, and how it is done.
pub fn home_tests(tests: &[MeasureFirst], output: &mut Output) -> Result<(), Failure> {
    let now = tests.iter().find_map(|one| one.odds_then).map(|odds| odds.odds_pct);
    let mut headings = vec!["input", "spread", "then", ">narrower", "most of all"];
    headings.extend(now.map(|_| ">odds then"));
    let mut table = Table::new(&headings);
    for one in tests {
        let value = |v: f64| figure::value(one.most.figure, v, output.units);
        let (from, to) = (value(one.most.p10), value(one.most.p90));
        let (then_from, then_to) = (value(one.most.p10_then), value(one.most.p90_then));
        let label = figure::label(one.most.figure, output.units);
        let mut cells = vec![
            one.name.clone(),
            one.spread.clone(),
            one.spread_then.to_owned(),
            format!(
                "{} ± {} %",
                number(one.narrower_pct, 0),
                number(one.narrower_error_pct.ceil(), 0)
            ),
            format!("{label}: {from} to {to} becomes {then_from} to {then_to}"),
        ];
        let odds =
            one.odds_then.map(|odds| format!("{} or {}", pct(odds.low_pct), pct(odds.high_pct)));
        cells.extend(odds);
        table.row(cells);
    }
    output.table(&table)?;
    for one in tests {
        output.said(format!("- {}: {}.", one.name, one.how))?;
    }
    output.said(
        "± is how far it may be off with so few cars (two standard errors): more --samples tell it better.",
    )?;
    match now {
        Some(now) => output.said(format!(
            "Odds then, about: those that all goals hold are {} before. One measurement in ten leaves less \
             than the first, one in ten more than the second.",
            pct(now)
        )),
        None => Ok(()),
    }
}

fn same(band: &Band, units: Units) -> String {
    let label = figure::label(band.figure, units);
    format!("{label}: {}", figure::value(band.figure, band.p50, units))
}

fn causes(causes: &[Cause], most: usize) -> String {
    if causes.is_empty() {
        return "—".to_owned();
    }
    let one = |cause: &Cause| {
        let sign = if cause.rank_correlation > 0.0 { "+" } else { "−" };
        format!("{} {sign}{}", cause.name, number(cause.rank_correlation.abs(), 2))
    };
    causes.iter().take(most).map(one).collect::<Vec<_>>().join(", ")
}

/// A share in percent.
pub fn pct(value: f64) -> String {
    let decimals = usize::from(value < 9.95 && value > 0.0);
    format!("{} %", number(value, decimals))
}

fn upper(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}
