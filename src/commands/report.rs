//! `report`: a page to print and to hand over.

use super::{bands, check, pull, readings, sheet, today};
use crate::choice::{Choice, ChoiceArgs, Way};
use crate::failure::{Failure, of};
use crate::input::Input;
use crate::measure::{Units, number};
use crate::output::Output;
use crate::page::{self, hand_over};
use crate::pictures::{self, Look};
use crate::progress::Progress;
use crate::recorded::RecordedArgs;
use crate::road::{Drivable, RoadArgs};
use scenarios::advice::{Advice, advice};
use scenarios::basis::{Basis, basis};
use scenarios::measured::{DriveCompared, comparison};
use scenarios::outlet::{Draw, Outlet};
use scenarios::output_file::{Growing, Kind};
use scenarios::runs;
use scenarios::runs::Suite;
use scenarios::runs::charge::{self, ChargePlan, ChargePoint, ChargeReport};
use scenarios::runs::climb::{self, ClimbReport};
use scenarios::runs::cost::{self, CostReport};
use scenarios::runs::day::Day;
use scenarios::runs::drive::{self, DriveReport};
use scenarios::runs::electrics::{self, ElectricsReport};
use scenarios::runs::endurance::{self, EnduranceReport, Map};
use scenarios::runs::pull::{self as pulls, PullReport};
use scenarios::runs::regen::{self, Grid, RegenReport};
use scenarios::runs::season::{self, SeasonReport};
use scenarios::studies::bands::BandsReport;
use scenarios::studies::choose::ChooseReport;
use scenarios::studies::season_bands::RangeBand;
use scenarios::verdict::{Told, Verdict, verdicts};
use scenarios::{Loaded, Prepared};
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::climb::Hill;
use std::ffi::OsStr;
use std::path::PathBuf;
use std::sync::Arc;

/// Arguments of `report`.
///
/// The page is one HTML file that any browser shows and prints, on A4 or Letter; nothing in it comes
/// from elsewhere. A file that is there is replaced if it is a page of this program.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    input: Input,

    #[command(flatten)]
    road: RoadArgs,

    /// The file to write.
    #[arg(long, value_name = "FILE.html", default_value = "report.html")]
    out: PathBuf,

    /// Adds how sure the figures are: cars drawn with typical spreads, as `bands` does.
    #[arg(long)]
    bands: bool,

    /// Adds a night at a socket such as `230v-16a` (see `charge`); left out, that of the day's
    /// first charge, or one of the smallest where the build has a charger.
    #[arg(long, value_name = "NAME", add = crate::completing::sockets())]
    socket: Option<String>,

    #[command(flatten)]
    choice: ChoiceArgs,

    #[command(flatten)]
    recorded: RecordedArgs,
}

/// A run that could not be carried out.
#[derive(Debug, Clone, Serialize, JsonSchema)]
pub struct NotMade {
    /// What the page lacks.
    pub what: &'static str,
    /// Why.
    pub why: String,
}

/// What stands on the page.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Report<'a> {
    /// The file that was written.
    pub written: String,
    /// Its size.
    pub size_bytes: usize,
    /// The version of the program.
    pub version: &'static str,
    /// The day on which it was written, by universal time.
    pub date: String,
    /// The values that were put in place of the files'.
    pub set: &'a [String],
    /// What the car does, and what gives up first.
    pub verdicts: Vec<Verdict>,
    /// What mends what does not hold.
    pub advice: Vec<Advice>,
    /// What was understood.
    pub understood: check::Report<'a>,
    /// Full throttle.
    pub pull: Option<PullReport>,
    /// The climb, where there is one.
    pub climb: Option<ClimbReport>,
    /// The pass, where there is one.
    pub pass: Option<ClimbReport>,
    /// The daily road.
    pub road: Option<DriveReport>,
    /// What the reader of the road had to say.
    pub road_notes: Vec<String>,
    /// A recorded drive against what is predicted for it, where one is given.
    pub recorded: Option<DriveCompared>,
    /// The seasons.
    pub seasons: Option<SeasonReport>,
    /// A night at a socket, where there is one.
    pub charge: Option<ChargeReport>,
    /// A full charge moment by moment.
    pub charge_course: Vec<ChargePoint>,
    /// What driving costs, where prices are given.
    pub cost: Option<CostReport>,
    /// Which parts to buy, where there are candidates.
    pub choice: Option<ChooseReport>,
    /// For how long speeds are held on grades.
    pub endurance: Option<EnduranceReport>,
    /// What the wiring must carry.
    pub electrics: Option<ElectricsReport>,
    /// The card for the glove box.
    pub readings: Option<readings::Report>,
    /// Settings of regen, where the motor makes any.
    pub regen: Option<RegenReport>,
    /// How sure the figures are, where that was asked for.
    pub bands: Option<BandsReport>,
    /// How sure the range of each season is, where that was asked for.
    pub season_bands: Vec<RangeBand>,
    /// What the numbers rest on.
    pub basis: Vec<Basis>,
    /// What could not be worked out.
    pub not_made: Vec<NotMade>,
    /// What to beware of.
    pub cautions: &'static [&'static str],
}

/// What the file is known by when it is to be replaced.
const KIND: Kind =
    Kind { words: "a page of this program", begins: |text| text.starts_with(page::BEGINNING) };

/// Notes of what cannot be worked out, so that the page stands without it.
struct Making<'a> {
    prepared: &'a Prepared,
    not_made: Vec<NotMade>,
}

impl Making<'_> {
    fn take<T: Serialize>(
        &mut self,
        what: &'static str,
        found: Result<T, runs::Failure>,
    ) -> Option<T> {
        match found.and_then(|report| self.prepared.vouched(report)) {
            Ok(report) => Some(report),
            Err(failure) => {
                self.not_made.push(NotMade { what, why: Failure::from(failure).sentence() });
                None
            }
        }
    }
}

/// Makes the page.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    let loaded = args.input.load()?;
    let prepared = loaded.prepare().map_err(of("--set"))?;
    let road = args.road.load(&prepared)?;
    let plan = plan(args, &prepared, output.units)?;
    let recorded = args.recorded.drive()?;
    // What cannot be written is refused before anything is driven.
    let recording = args.recorded.recorded.iter().cloned();
    let choice = args.choice.read(&loaded)?;
    let candidates = choice.iter().flat_map(|choice| choice.files.iter().cloned());
    let inputs = args.road.files(&prepared).into_iter().chain(recording).chain(candidates);
    let inputs: Vec<PathBuf> = inputs.collect();
    let mut file = Growing::create(&args.out, KIND, &inputs)?;
    let is_page = |suffix: &OsStr| ["html", "htm"].iter().any(|s| suffix.eq_ignore_ascii_case(s));
    if !args.out.extension().is_some_and(is_page) {
        let text =
            format!("--out is {}; allowed: a file that ends in .html or .htm", args.out.display());
        return Err(Failure::Arguments(text));
    }
    let mut report = gather(args, (&loaded, &prepared), &road, (plan, choice), output.units)?;
    let replayed = match &recorded {
        Some(drive) => Some((drive, comparison::driven(drive, &drive.beneath(&prepared)?))),
        None => None,
    };
    let drawn = |look: Look| {
        let (drive, (compared, prediction)) = replayed.as_ref()?;
        Some(pictures::recorded::picture(compared, drive, prediction, None, look))
    };
    report.recorded = replayed.as_ref().map(|(_, (compared, _))| compared.clone());
    let drawn = drawn(Look::wide("", output.units));
    let page = hand_over::page(&report, &prepared, &road.trace, drawn.as_ref(), output.units)?;
    file.add(page.as_bytes())?;
    file.finish()?;
    report.size_bytes = page.len();
    if output.json {
        return output.document(&report);
    }
    let told = (report.verdicts.as_slice(), report.advice.as_slice());
    sheet::judged(told, &road, usize::MAX, usize::MAX, output)?;
    output.line("")?;
    output.text(format!(
        "{}: written, {} kB; a browser shows it and prints it on A4 or Letter.",
        report.written,
        number(page.len() as f64 / 1e3, 0)
    ))?;
    for lacking in &report.not_made {
        output.text(format!("It lacks {}: {}.", lacking.what, lacking.why))?;
    }
    Ok(())
}

fn gather<'a>(
    args: &'a Args,
    (loaded, prepared): (&Loaded, &'a Prepared),
    road: &Drivable,
    (plan, choice): (Option<ChargePlan>, Option<Choice>),
    units: Units,
) -> Result<Report<'a>, Failure> {
    let setup = prepared.setup();
    let (name, trace) = (road.name.as_str(), &road.trace);
    let mut making = Making { prepared, not_made: Vec::new() };
    let hill = |hill: Option<Hill>| hill.map(|hill| climb::report(&setup, &hill));
    let driven = drive::drive(&setup, trace, &mut ());
    let range = Some(drive::range_of(&setup, trace));
    let driven = DriveReport { range, ..drive::report(&setup, name, trace, &driven) };
    let pulled = making.take("full throttle", pulls::report(&setup, &pull::marks(prepared, units)));
    let climb = hill(prepared.drives.climb).and_then(|found| making.take("the climb", found));
    let pass = hill(prepared.drives.pass).and_then(|found| making.take("the pass", found));
    let road_report = making.take("the daily road", Ok(driven));
    let day = Day::of(prepared, &args.road.road(prepared)?, &args.road.options())?;
    let seasons = making.take("the seasons", season::report(prepared, None, (name, trace), &day));
    let choice =
        choice.map(|choice| chosen(&choice, (loaded, prepared), road, &day)).transpose()?;
    let charge = plan.as_ref().and_then(|plan| {
        let found = charge::report(&setup, &prepared.charger, name, trace, plan);
        making.take("the charge", Ok(found))
    });
    let course = |plan| charge::course(&setup, &prepared.charger, name, trace, plan);
    let charge_course = plan.as_ref().filter(|_| charge.is_some()).map(course);
    let cost = (!prepared.prices.is_empty())
        .then(|| cost::report(&setup, &prepared.charger, &prepared.prices, name, trace))
        .and_then(|found| making.take("the costs", found));
    let endurance = making.take("the endurance map", endurance::report(&setup, &map(units), || ()));
    let wiring = electrics::report(prepared, name, trace, &electrics::Wish::default());
    let electrics = making.take("the wiring", wiring);
    let card = runs::readings::report(prepared, &readings::usual(units), (name, trace));
    let card = card.map(|card| readings::Report { card, bands: None });
    let readings = making.take("the card for the glove box", card);
    let makes_regen = prepared.car.parts().motor.makes_regen();
    let regen = makes_regen
        .then(|| regen::report(prepared, name, trace, &Grid::default()))
        .and_then(|found| making.take("the settings of regen", found));
    let bands = args.bands.then(|| bands::of_sheet(&args.input, road)).transpose()?;
    let season_bands = args.bands.then(|| bands::of_seasons(&args.input, road)).transpose()?;
    let understood = check::Report::new(prepared)?;
    // Verdicts are read from all of it.
    let (verdicts, advice) = match (&pulled, &road_report) {
        (Some(pull), Some(driven)) => {
            let told = Told {
                gears: &understood.gears,
                pull,
                climb: climb.as_ref(),
                pass: pass.as_ref(),
                road: driven,
                warnings: &understood.warnings,
            };
            (verdicts(prepared, &told), advice(loaded, prepared, &told, trace))
        }
        _ => (Vec::new(), Vec::new()),
    };
    Ok(Report {
        verdicts,
        advice,
        written: args.out.display().to_string(),
        size_bytes: 0,
        version: env!("CARGO_PKG_VERSION"),
        date: today(),
        set: &args.input.changes.set,
        understood,
        pull: pulled,
        climb,
        pass,
        road: road_report,
        road_notes: road.notes.clone(),
        recorded: None,
        seasons,
        charge,
        charge_course: charge_course.unwrap_or_default(),
        cost,
        choice,
        endurance,
        electrics,
        readings,
        regen,
        bands,
        season_bands: season_bands.unwrap_or_default(),
        basis: basis(prepared)?,
        not_made: making.not_made,
        cautions: &sheet::CAUTIONS,
    })
}

/// Cars that are drawn of each set of parts that no other beats; `choose` draws more.
const CHOSEN_SAMPLES: usize = 60;

/// Which parts to buy.
fn chosen(
    choice: &Choice,
    car: (&Loaded, &Prepared),
    road: &Drivable,
    day: &Day,
) -> Result<ChooseReport, Failure> {
    let way = Way {
        suite: Suite::new(&[], &road.name, road.trace.clone()),
        day: Some(Arc::new(day.clone())),
    };
    let progress = Progress::new(choice.combinations(), "combinations");
    let step = || {
        progress.step();
        true
    };
    choice.made(car, &way, CHOSEN_SAMPLES, step)
}

/// Speeds and grades of the map, round ones in the units of the page.
pub fn map(units: Units) -> Map {
    let usual = Map::default();
    match units {
        Units::Metric => usual,
        Units::Us => {
            let mph = (5..=15).map(|fives| 5.0 * f64::from(fives));
            Map { speeds_mps: mph.map(scenarios::units::mps_from_mph).collect(), ..usual }
        }
    }
}

/// The charge that the page tells of: from the socket that is named, from that of the day, or from a
/// usual one where the build has a charger; otherwise none.
fn plan(args: &Args, prepared: &Prepared, units: Units) -> Result<Option<ChargePlan>, Failure> {
    match &args.socket {
        Some(name) => named(name, prepared),
        None => usual_plan(prepared, units),
    }
}

fn named(socket: &str, prepared: &Prepared) -> Result<Option<ChargePlan>, Failure> {
    let outlet = Outlet::named(socket)?;
    Ok(Some(ChargePlan { outlet, ..ChargePlan::default() }.priced(&prepared.prices)))
}

/// The charge from the socket of the day, or from a usual one where the build has a charger.
pub fn usual_plan(prepared: &Prepared, units: Units) -> Result<Option<ChargePlan>, Failure> {
    let legs = prepared.scenario.runs.iter().flat_map(|runs| &runs.day).flatten();
    if let Some(leg) = legs.filter_map(|leg| leg.charge.as_ref()).next()
        && let Ok(outlet) = Outlet::custom(leg.volts, Draw::Amps(leg.amps))
    {
        let plan = ChargePlan { outlet, ..ChargePlan::default() };
        return Ok(Some(plan.priced(&prepared.prices)));
    }
    match (&prepared.scenario.build.charger, units) {
        (None, _) => Ok(None),
        (Some(_), Units::Metric) => named("230v-10a", prepared),
        (Some(_), Units::Us) => named("120v-15a", prepared),
    }
}
