//! `choose`: which parts to buy.

use crate::choice::{Asked, asked, check_budget};
use crate::commands::bands::{home_tests, pct};
use crate::failure::{Failure, of};
use crate::figure;
use crate::grounds::grounds;
use crate::input::Input;
use crate::measure::{Units, number};
use crate::output::Output;
use crate::picture_file::PictureArg;
use crate::pictures::{self, Look};
use crate::progress::Progress;
use crate::rows::{Columns, KIND, RowForm, RowsFile, filled, stays};
use crate::shards::{ShardArgs, done, say};
use crate::spreads::{SpreadArgs, named};
use crate::suite::{SuiteArgs, other_road};
use crate::table::Table;
use scenarios::output_file::Growing;
use scenarios::price::PartPrice;
use scenarios::runs::Run;
use scenarios::studies::Goal;
use scenarios::studies::bands::{Cause, FEWEST_SAMPLES, MOST_SAMPLES};
use scenarios::studies::candidates::Candidates;
use scenarios::studies::choose::{
    Choice, ChooseReport, ChosenFigure, Seen, Study, Wanted, as_shown, check_spreads, letter,
    made_of,
};
use scenarios::studies::shard::Shard;
use scenarios::studies::stream::{Part, Plan, Row, Rows, in_order, parts_beside};
use scenarios::studies::sweep::values_of;
use std::path::{Path, PathBuf};

/// Arguments of `choose`.
///
/// Where no combination keeps the goals within the budget, the answer says what stops most of them,
/// and the exit code is 1.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    input: Input,

    /// A part or field and what is tried: `path=a,b,c` or `path=from..to:step`; repeat it for more.
    ///
    /// `@` and a number after a value say what it costs: `motor=shelf:a@900,b.json@1250`. For a part
    /// that stands in place of the price in its file; for any other field it comes on top.
    #[arg(
        long = "try",
        value_name = "PATH=VALUES",
        allow_hyphen_values = true,
        add = crate::completing::set()
    )]
    tried: Vec<String>,

    /// JSON file of what is tried, beside `--try`; `schema candidates` describes it.
    #[arg(long, value_name = "FILE")]
    candidates: Option<PathBuf>,

    /// A bound that a figure must keep, such as `range_km>=80`, in the unit that the figure is called
    /// by, also with `--units us`; may be repeated. Left out, the car has to pull away on its
    /// hills, hold them, keep up with its road, and not overheat.
    #[arg(long = "goal", value_name = "FIGURE<=VALUE")]
    goals: Vec<String>,

    /// The most that all parts together may cost, in the currency of `money`.
    #[arg(long, value_name = "PRICE", allow_hyphen_values = true, value_parser = a_price)]
    budget: Option<f64>,

    /// Figures in which one may be better than another, such as `price,range_km,to_80_kmh_s`; the
    /// price counts always. Left out, those of the goals.
    #[arg(
        long,
        value_name = "LIST",
        value_delimiter = ',',
        add = crate::completing::figures()
    )]
    prefer: Vec<String>,

    /// Odds that all goals hold together, in %, with which the cheapest is recommended.
    #[arg(long, value_name = "PERCENT", default_value_t = 80.0, allow_hyphen_values = true, value_parser = a_percent)]
    odds: f64,

    /// How many cars are drawn of each that no other beats.
    #[arg(long, value_name = "N", default_value_t = 200)]
    samples: usize,

    /// Seed of the drawing; the same seed draws the same cars.
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,

    #[command(flatten)]
    spreads: SpreadArgs,

    #[command(flatten)]
    suite: SuiteArgs,

    /// Writes a row for every combination to a file, whole or not at all, in the form that its name
    /// ends in (`.csv`, `.jsonl`, `.parquet`); where the run is stopped, the same command goes on.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,

    #[command(flatten)]
    shards: ShardArgs,

    #[command(flatten)]
    picture: PictureArg,
}

/// Most of a front that a table shows.
const SHOWN: usize = 12;
/// Odds from which on a cheaper one is worth a measurement, %.
const WORTH_MEASURING_PCT: f64 = 5.0;

fn refuse<T>(text: String) -> Result<T, Failure> {
    Err(Failure::Arguments(text))
}

fn a_price(text: &str) -> Result<f64, String> {
    text.parse().map_err(|_| {
        "allowed: a number, in the currency of `money` and without its name".to_owned()
    })
}

fn a_percent(text: &str) -> Result<f64, String> {
    text.parse().map_err(|_| "allowed: a number of percent without its sign, 0 to 100".to_owned())
}

/// What is tried, checked.
fn candidates(args: &Args, loaded: &scenarios::Loaded) -> Result<Candidates, Failure> {
    let mut found = Candidates::default();
    for text in &args.tried {
        found.take(text).map_err(of("--try"))?;
    }
    if let Some(file) = &args.candidates {
        found.take_file(file)?;
    }
    if found.varied.is_empty() {
        return refuse("nothing is tried; needed: --try PATH=VALUES or --candidates FILE".into());
    }
    found.check(loaded).map_err(of("--try"))?;
    Ok(found)
}

/// Chooses.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    check_budget(args.budget)?;
    if !(0.0..=100.0).contains(&args.odds) {
        return refuse(format!("--odds is {}; allowed: 0 to 100", args.odds));
    }
    if !(FEWEST_SAMPLES..=MOST_SAMPLES).contains(&args.samples) {
        let n = args.samples;
        return refuse(format!("--samples is {n}; allowed: {FEWEST_SAMPLES} to {MOST_SAMPLES}"));
    }
    if let Some(out) = args.out.as_deref().filter(|out| out.extension().is_some())
        && RowForm::of_file(out).is_none()
    {
        let text = format!(
            "--out is {}; allowed: a name that ends in .csv, .jsonl or .parquet",
            cycles::file(out)
        );
        return refuse(text);
    }
    let loaded = args.input.load()?;
    let prepared = loaded.prepare().map_err(of("--set"))?;
    let candidates = candidates(args, &loaded)?;
    let spreads = args.spreads.own()?;
    let typical = !args.spreads.own_only;
    check_spreads(&loaded, &candidates, &spreads, typical).map_err(named)?;
    let Asked { goals, prefer, suite, added } =
        asked((&prepared, &candidates), &args.goals, &args.prefer, &|names| {
            args.suite.suite(&prepared, &[], names.iter().copied(), output.units)
        })?;
    let wanted = Wanted {
        goals,
        budget: args.budget,
        prefer,
        odds_pct: args.odds,
        samples: args.samples,
        seed: args.seed,
        spreads,
        typical,
    };
    let more = args.suite.figures.iter().map(|name| Ok(Run::of_figure(name)?.1.name));
    let more: Vec<&'static str> = more.collect::<Result<_, Failure>>()?;
    let study = Study::new(&loaded, &candidates, &suite, &wanted, &more)?;
    let study = study.on(args.suite.one_road(&prepared, &suite)?);
    let mut inputs: Vec<PathBuf> = args.suite.files(&prepared);
    let named_files = args.candidates.iter().chain(&args.spreads.spreads_file).cloned();
    for file in candidates.files(&loaded).into_iter().chain(named_files) {
        if !inputs.contains(&file) {
            inputs.push(file);
        }
    }
    let frame = args.picture.begin(&inputs)?;
    let mut seen = Seen::of(&study);
    match &args.out {
        Some(out) => {
            let all = into_file(args, (&study, &candidates), &inputs, out, &mut seen, output)?;
            if !all {
                // Of the others it knows nothing.
                return Ok(());
            }
        }
        None => {
            let progress = Progress::new(study.total(), "combinations");
            let evaluate = |number| {
                let outcome = study.found(number);
                progress.step();
                Row { number, outcome }
            };
            in_order(0..study.total(), evaluate, |_, rows| {
                rows.iter().for_each(|row| seen.see(row));
                Ok::<(), Failure>(())
            })?;
        }
    }
    let progress = Progress::new(seen.to_draw(), "cars");
    let report = seen.conclude(added, || {
        progress.step();
        true
    })?;
    drop(progress);
    if let Some(frame) = frame {
        let look = Look::wide(&prepared.name, output.units);
        frame.save(&pictures::front::picture(&report, look))?;
    }
    if output.json {
        output.document(&report)?;
    } else {
        show(&report, &prepared.name, output)?;
    }
    match report.front.is_empty() {
        true => Err(Failure::Unanswered(unanswered(&report))),
        false => Ok(()),
    }
}

/// Writes a row for each combination, and goes on where a run was stopped. Whether all were seen, and
/// not those of a shard alone.
fn into_file(
    args: &Args,
    (study, candidates): (&Study, &Candidates),
    inputs: &[PathBuf],
    out: &Path,
    seen: &mut Seen,
    output: &mut Output,
) -> Result<bool, Failure> {
    let form = RowForm::of_file(out).unwrap_or(RowForm::Csv);
    let varied = &candidates.varied;
    let columns = Columns {
        varied: varied.iter().map(|vary| vary.path.clone()).collect(),
        figures: study.columns().to_vec(),
    };
    let shard = args.shards.shard()?;
    let mut file = Some(Growing::create(out, KIND, inputs)?);
    if let Some(through) = file.take_if(|file| file.is_through()) {
        if args.shards.parts() {
            return refuse("--shard and --merge need --out with a file".into());
        }
        let mut file = RowsFile::begin(through, columns, varied, form)?;
        let evaluate = |number| Row { number, outcome: study.found(number) };
        in_order(0..study.total(), evaluate, |_, rows| {
            rows.iter().try_for_each(|row| {
                seen.see(row);
                file.take(&values_of(varied, row.number), &row.outcome)
            })
        })?;
        file.finish()?;
        return Ok(true);
    }
    drop(file);
    let asked = (&args.input, &args.tried, &args.candidates, &args.suite, output.units);
    let plan =
        Plan { total: study.total(), columns: study.computed(), grounds: grounds(&asked, inputs) };
    let mut part = None;
    let parts = if args.shards.merge {
        parts_beside(out, &plan)?
    } else {
        let path = Part::path(out, shard);
        let whole = shard.unwrap_or(Shard::WHOLE);
        let found = |number| study.found(number);
        part = Some(filled(&path, &plan, whole, found, |row| seen.see(row))?);
        vec![path]
    };
    if let Some(shard) = shard {
        say(done(shard, plan.total, &parts[0]), output)?;
        return Ok(false);
    }
    let write = || {
        let file = Growing::create(out, KIND, inputs)?;
        let mut file = RowsFile::begin(file, columns, varied, form)?;
        Rows::of(&plan, parts).each::<Failure>(|row| {
            if args.shards.merge {
                seen.see(&row);
            }
            file.take(&values_of(varied, row.number), &row.outcome)
        })?;
        file.finish()
    };
    write().map_err(stays)?;
    part.map(Part::remove).transpose()?;
    say(format!("{} combinations, written to {}", plan.total, out.display()), output)?;
    Ok(true)
}

/// Why there is no answer.
fn unanswered(report: &ChooseReport) -> String {
    match (report.budget, report.cheapest) {
        (Some(budget), Some(cheapest)) => format!(
            "none of the combinations that keep the goals ({}) costs at most {}: the cheapest costs {}",
            report.keep_goals,
            report.money(budget),
            report.money(cheapest)
        ),
        _ if report.missing_goals == 0 => {
            "no combination belongs together and does what was asked".to_owned()
        }
        _ => "no combination keeps the goals".to_owned(),
    }
}

fn counted(combinations: u64) -> String {
    let s = if combinations == 1 { "" } else { "s" };
    format!("{combinations} combination{s}")
}

fn listed(goals: &[Goal]) -> String {
    goals.iter().map(Goal::to_string).collect::<Vec<_>>().join(", ")
}

/// The same beside other things, where an empty front is no failure.
pub fn show_beside(report: &ChooseReport, name: &str, output: &mut Output) -> Result<(), Failure> {
    show(report, name, output)?;
    match report.front.is_empty() {
        true => output.text(format!("Nothing is recommended: {}.", unanswered(report))),
        false => Ok(()),
    }
}

fn show(report: &ChooseReport, name: &str, output: &mut Output) -> Result<(), Failure> {
    output.text(format!("{name}: {}", counted(report.combinations)))?;
    let which =
        if report.goals_are_usual { "No goal is given, so the usual ones" } else { "Goals" };
    output.text(format!("{which}: {}", listed(&report.goals)))?;
    if report.keeps_up {
        output.text("The last of them so that a car keeps up with its road; one of your own takes its place.")?;
    }
    match report.masses_are_judged {
        true => output.said("Those of masses are what the file permits (`donor`).")?,
        false => output.said(
            "No permitted masses (donor.gross_mass_kg, front_axle_max_kg, rear_axle_max_kg) are among them: \
             the odds do not say whether a car is too heavy.",
        )?,
    }
    output.text(format!("Road, the same for all: {}", report.road))?;
    if let Some(other) = other_road(&report.road, report.other_roads) {
        output.text(other)?;
    }
    if let Some(budget) = report.budget {
        output.text(format!("Budget: {}", report.money(budget)))?;
    }
    if !report.without_price.is_empty() {
        let parts = report.without_price.join(", ");
        output.text(format!("Without a price, and in no sum: {parts}"))?;
    }
    if !report.free.is_empty() {
        let fields = report.free.join(", ");
        output.text(format!("Tried without a price, as if each value cost the same: {fields}"))?;
    }
    left_out(report, output)?;
    front(report, output)?;
    advice(report, output)
}

/// What does not come into question, and why.
fn left_out(report: &ChooseReport, output: &mut Output) -> Result<(), Failure> {
    if !report.dropped.is_empty() {
        output.heading("Left out, as they do not belong together or do not do what is asked")?;
        let mut table = Table::new(&[">how many", "why", "the first of them"]);
        for one in &report.dropped {
            let detail = output.units.said(&one.detail);
            table.row([
                one.combinations.to_string(),
                one.why.clone(),
                format!("{}: {detail}", made_of(&one.example)),
            ]);
        }
        output.table(&table)?;
    }
    if !report.missed.is_empty() {
        let es = if report.missing_goals == 1 { "es" } else { "" };
        output.heading(format!("{} miss{es} a goal", counted(report.missing_goals)))?;
        let mut table = Table::new(&["goal", ">missed by", ">and no other"]);
        for one in &report.missed {
            table.row([one.goal.to_string(), one.combinations.to_string(), one.alone.to_string()]);
        }
        output.table(&table)?;
    }
    if let Some(nearest) = &report.nearest {
        let misses = nearest.misses.iter().map(|miss| {
            let value = figure::value(&miss.goal.figure, miss.value, Units::Metric);
            format!("{} is {value}", miss.goal)
        });
        let misses: Vec<String> = misses.collect();
        output.text(format!(
            "Nearest: {}, for {}, where {}.",
            made_of(&nearest.picked),
            report.money(nearest.price),
            misses.join("; ")
        ))?;
    }
    Ok(())
}

/// Which of the front are shown: all, or some from cheapest to dearest with the recommended one.
fn picked_rows(report: &ChooseReport) -> Vec<usize> {
    let many = report.front.len();
    if many <= SHOWN {
        return (0..many).collect();
    }
    let mut rows: Vec<usize> = (0..SHOWN).map(|i| i * (many - 1) / (SHOWN - 1)).collect();
    if let Some(best) = report.recommended
        && !rows.contains(&best)
    {
        // In place of the nearest that is no end.
        let inner = 1..rows.len() - 1;
        if let Some(near) = inner.min_by_key(|i| rows[*i].abs_diff(best)) {
            rows[near] = best;
        }
    }
    rows.sort_unstable();
    rows
}

/// The front, from cheapest to dearest.
fn front(report: &ChooseReport, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    if report.front.is_empty() {
        return Ok(());
    }
    let by: Vec<String> = report.prefer.iter().map(|name| figure::label(name, units)).collect();
    let over = match report.over_budget {
        0 => String::new(),
        n => format!(", {n} of them over the budget"),
    };
    let by = if by.is_empty() { String::new() } else { format!("; {}", by.join("; ")) };
    output.heading(format!(
        "{} keep{} the goals{over}; no other beats {} of them in price{by}",
        counted(report.keep_goals),
        if report.keep_goals == 1 { "s" } else { "" },
        report.front_size
    ))?;
    let rows = picked_rows(report);
    for row in &rows {
        let one = &report.front[*row];
        let alike = match one.alike {
            0 => String::new(),
            n => format!(" (and {n} that come to the same)"),
        };
        output.text(format!("{}: {}{alike}", letter(*row), made_of(&one.picked)))?;
    }
    output.line("")?;
    let labels: Vec<String> =
        report.prefer.iter().map(|name| format!(">{}", figure::label(name, units))).collect();
    let price = format!(">price{}", report.currency(", "));
    let mut headings = vec!["", price.as_str()];
    headings.extend(labels.iter().map(String::as_str));
    headings.extend([">all goals hold", "missed most"]);
    let mut table = Table::new(&headings);
    for row in &rows {
        let one = &report.front[*row];
        let mut cells = vec![letter(*row), bare(one.price)];
        for name in &report.prefer {
            cells.push(banded(one, name, units));
        }
        cells.push(pct(one.odds_pct));
        cells.push(match one.missed.first() {
            Some(goal) => format!("{} in {}", goal.goal, pct(goal.missed_pct)),
            None => "—".to_owned(),
        });
        table.row(cells);
    }
    output.table(&table)?;
    let left = report.front.len() - rows.len();
    if left > 0 {
        output.said(format!("{left} more of them stand in --json."))?;
    }
    let surer = rows.iter().filter(|row| report.front[**row].surer).map(|row| letter(*row));
    let surer: Vec<String> = surer.collect();
    if let Some((last, others)) = surer.split_last() {
        let (names, are) = match others {
            [] => (last.clone(), "is"),
            others => (format!("{} and {last}", others.join(", ")), "are"),
        };
        output.text(format!(
            "{names} {are} beaten by others in all but the odds: whoever wants to be surer pays for that."
        ))?;
    }
    if report.front_size > report.front.len() {
        output.said(format!(
            "Of the {} that no other beats {} were drawn, spread over all of them.",
            report.front_size,
            report.front.len()
        ))?;
    }
    output.said(format!(
        "In brackets: eight of ten cars lie between, of {} drawn of each with typical or measured \
         spreads (seed {}), alike for all.",
        report.samples, report.seed
    ))?;
    if report.front.iter().any(|one| one.days_are_drawn) {
        output.said(
            "All goals hold: in so many cars and days, as weather is drawn as well as the car.",
        )?;
    }
    if rows.len() > 1 {
        output.heading("What the next step up buys")?;
        let mut table = Table::new(&[
            "",
            &format!(">costs more{}", report.currency(", ")),
            "and buys",
            ">odds",
        ]);
        for pair in rows.windows(2) {
            let (from, to) = (&report.front[pair[0]], &report.front[pair[1]]);
            table.row([
                format!("{} to {}", letter(pair[0]), letter(pair[1])),
                bare(to.price - from.price),
                step(from, to, &report.prefer, units),
                format!("{} to {}", pct(from.odds_pct), pct(to.odds_pct)),
            ]);
        }
        output.table(&table)?;
    }
    Ok(())
}

fn of_name<'a>(choice: &'a Choice, name: &str) -> Option<&'a ChosenFigure> {
    choice.figures.iter().find(|figure| figure.figure == name)
}

/// A sum of money without its currency.
fn bare(value: f64) -> String {
    number(value, if value.fract() == 0.0 { 0 } else { 2 })
}

/// A figure with its band.
fn banded(choice: &Choice, name: &str, units: Units) -> String {
    let Some(figure) = of_name(choice, name) else { return "—".to_owned() };
    let value = |v: f64| figure::value(name, v, units);
    let (low, high) = (value(figure.p10), value(figure.p90));
    let never = match figure.never_pct {
        never if never > 0.0 => format!("; never in {}", pct(never)),
        _ => String::new(),
    };
    format!("{} ({low} to {high}{never})", value(figure.stated))
}

/// What one has over another.
fn step(from: &Choice, to: &Choice, prefer: &[&'static str], units: Units) -> String {
    let one = |name: &&'static str| {
        let (from, to) = (of_name(from, name)?, of_name(to, name)?);
        let more = figure::change(name, as_shown(to.stated) - as_shown(from.stated), units);
        (more != "0" && more != "—").then(|| format!("{more} {}", figure::label(name, units)))
    };
    let all: Vec<String> = prefer.iter().filter_map(one).collect();
    if all.is_empty() { "the same".to_owned() } else { all.join("; ") }
}

/// What to buy, and why.
fn advice(report: &ChooseReport, output: &mut Output) -> Result<(), Failure> {
    if report.front.is_empty() {
        return Ok(());
    }
    output.heading("What to buy")?;
    let wanted = pct(report.wanted_odds_pct);
    let with_days = report.front.iter().any(|one| one.days_are_drawn);
    let what = if with_days { "cars and days" } else { "cars" };
    let Some(best) = report.recommended else {
        let likeliest = report
            .front
            .iter()
            .max_by(|a, b| a.odds_pct.total_cmp(&b.odds_pct).then(b.price.total_cmp(&a.price)));
        let Some(likeliest) = likeliest else { return Ok(()) };
        let fails = likeliest.missed.first().map_or_else(String::new, |goal| {
            format!(" What fails most is {}, in {} of them.", goal.goal, pct(goal.missed_pct))
        });
        let place = report.front.iter().position(|one| one == likeliest).unwrap_or(0);
        output.text(format!(
            "None: the goals hold together in less than {wanted} of the {what} of each. The best odds \
             has {}, {} for {}.{fails}",
            letter(place),
            pct(likeliest.odds_pct),
            report.money(likeliest.price),
        ))?;
        let what = format!("whether {} does", letter(place));
        costs(likeliest, report, output)?;
        likeliest.cautions.iter().try_for_each(|text| output.said(format!("- {text}")))?;
        by_day(likeliest, &letter(place), output)?;
        return measure_first(likeliest, &what, output);
    };
    let choice = &report.front[best];
    let cheaper = match best {
        0 => "nothing that keeps the goals is cheaper".to_owned(),
        1 => "the one that is cheaper has odds of ".to_owned() + &pct(report.front[0].odds_pct),
        n => {
            let odds = report.front[..n].iter().map(|one| one.odds_pct).fold(0.0, f64::max);
            format!("the {n} that are cheaper have odds of at most {}", pct(odds))
        }
    };
    output.text(format!(
        "{}, for {}: the cheapest of these whose goals hold together in at least {wanted} of the {what}, \
         {} of {} drawn ({} to {} with so few); {cheaper}.",
        letter(best),
        report.money(choice.price),
        pct(choice.odds_pct),
        report.samples,
        pct(choice.odds_low_pct),
        pct(choice.odds_high_pct),
    ))?;
    costs(choice, report, output)?;
    if let Some(own) = &choice.own_road {
        output.text(format!(
            "- By its own power to mass it would drive {own}: --cycle {} judges all of them on that.",
            own.split(' ').next().unwrap_or(own)
        ))?;
    }
    choice.cautions.iter().try_for_each(|text| output.said(format!("- {text}")))?;
    // What is known better may show that a cheaper one does as well.
    let cheaper = report.front[..best].iter().enumerate();
    let likeliest = cheaper.max_by(|a, b| a.1.odds_pct.total_cmp(&b.1.odds_pct));
    by_day(choice, &letter(best), output)?;
    match likeliest.filter(|(_, one)| one.odds_pct >= WORTH_MEASURING_PCT) {
        Some((place, one)) => {
            let saved = report.money(choice.price - one.price);
            by_day(one, &letter(place), output)?;
            measure_first(one, &format!("whether {} does, for {saved} less", letter(place)), output)
        }
        None if !report.front[best..].iter().any(|one| one.odds_pct > choice.odds_pct) => {
            output.heading("Measure these first")?;
            output.said(
                "Nothing need be measured for this choice: nothing cheaper may do, and nothing dearer is \
                 surer.",
            )
        }
        None => measure_first(choice, &format!("whether {} does", letter(best)), output),
    }
}

/// What the price of one is made of.
fn costs(choice: &Choice, report: &ChooseReport, output: &mut Output) -> Result<(), Failure> {
    let one = |one: &PartPrice| format!("{} {}", one.part, bare(one.price.unwrap_or(0.0)));
    let parts: Vec<String> = choice.costs.iter().map(one).collect();
    if parts.is_empty() {
        return output.said("Nothing of it has a price.");
    }
    output.text(format!("{} are: {}.", report.money(choice.price), parts.join(", ")))
}

/// What is the day and not the car, where it decides most: nobody should pay for it unknowingly.
fn by_day(choice: &Choice, name: &str, output: &mut Output) -> Result<(), Failure> {
    let Some(day) = &choice.by_day else { return Ok(()) };
    output.text(format!(
        "What decides most whether {name} does is the day and not the car: {}. All goals hold in {} on the \
         days with less of it and in {} on those with more; no measurement tells it, and whoever pays for surer parts pays for \
         such days. `--spread {}=none` leaves it out.",
        day.name,
        pct(day.less_pct),
        pct(day.more_pct),
        day.path
    ))
}

/// What to measure before anything is bought.
fn measure_first(choice: &Choice, what: &str, output: &mut Output) -> Result<(), Failure> {
    output.heading(format!("Measure these first, as they tell {what}"))?;
    if choice.measure_first.is_empty() {
        output.said("Nothing that can be measured at home before parts are bought tells it by more than so few \
             cars can show.")?;
    } else {
        home_tests(&choice.measure_first, output)?;
    }
    let is_said = choice.by_day.as_ref().map(|day| &day.path);
    let is_told = |cause: &&Cause| {
        is_said != Some(&cause.path)
            && choice.measure_first.iter().all(|one| one.path != cause.path)
    };
    let named = |is_day: bool| -> Vec<&str> {
        let causes = choice.causes.iter().filter(is_told);
        let causes = causes.filter(|cause| cause.is_of_the_day() == is_day);
        causes.map(|cause| cause.name.as_str()).collect()
    };
    let (days, rest) = (named(true), named(false));
    if !days.is_empty() {
        output.text(format!(
            "What decides as well, and is the day and not the car: {}.",
            days.join(", ")
        ))?;
    }
    if rest.is_empty() {
        return Ok(());
    }
    let is_tried = |cause: &Cause| {
        choice.picked.iter().any(|one| {
            let rest = cause.path.strip_prefix(one.path.as_str());
            rest.is_some_and(|rest| rest.starts_with('.'))
        })
    };
    let ask = match choice.causes.iter().filter(is_told).any(is_tried) {
        true => " Ask those who sell the parts for what they measured.",
        false => "",
    };
    output.text(format!(
        "What decides as well, and no test at home before parts are bought tells by more than so few cars can \
         show: {}.{ask}",
        rest.join(", ")
    ))
}
