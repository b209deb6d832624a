//! `sheet`: one page for a build.

use super::{bands, check, climb, drive, pull};
use crate::failure::{Failure, of};
use crate::input::Input;
use crate::measure::{Units, clock, number, ordinal};
use crate::output::{NARROWEST, Output, Said};
use crate::picture_file::{PictureArg, save_tractive};
use crate::road::{Drivable, RoadArgs, say_notes};
use crate::table::Table;
use scenarios::advice::{Advice, advice};
use scenarios::runs::climb::{self as climbs, ClimbReport};
use scenarios::runs::drive::{self as drives, DriveReport};
use scenarios::runs::gearing::GearRow;
use scenarios::runs::limits::NamedLimit;
use scenarios::runs::pull::{self as pulls, PullReport};
use scenarios::studies::bands::BandsReport;
use scenarios::units::{pct_from_share, pct_of};
use scenarios::verdict::{About, Standing, Told, Verdict, verdicts};
use scenarios::{Prepared, Severity};
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::Limit;
use sim_core::climb::ClimbEnding;

/// Arguments of `sheet`.
#[derive(Debug, Default, clap::Args)]
pub struct Args {
    #[command(flatten)]
    input: Input,

    #[command(flatten)]
    road: RoadArgs,

    /// Everything, where the page has the verdicts and the figures that are asked for first.
    #[arg(long)]
    full: bool,

    /// Adds how sure the figures are: cars drawn with typical spreads, as `bands` does.
    #[arg(long)]
    bands: bool,

    #[command(flatten)]
    picture: PictureArg,
}

/// One page for a build.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Sheet<'a> {
    /// What the car does, and what gives up first.
    pub verdicts: Vec<Verdict>,
    /// What mends what does not hold; nothing is tried where all holds.
    pub advice: Vec<Advice>,
    /// What was understood of the build.
    pub understood: check::Report<'a>,
    /// Full throttle.
    pub pull: PullReport,
    /// The scenario's climb.
    pub climb: Option<ClimbReport>,
    /// The scenario's pass.
    pub pass: Option<ClimbReport>,
    /// The daily road.
    pub commute: DriveReport,
    /// Limits that were met, worst first.
    pub limits: Vec<String>,
    /// How sure the figures are.
    pub bands: Option<BandsReport>,
    /// What every sheet ends with.
    pub cautions: Vec<&'static str>,
}

impl<'a> Sheet<'a> {
    /// Drives a car through what a sheet tells of it. There is no advice yet, which takes trials.
    pub fn of(prepared: &'a Prepared, road: &Drivable, units: Units) -> Result<Self, Failure> {
        let setup = prepared.setup();
        let marks = pull::marks(prepared, units);
        let hill = |hill: Option<sim_core::climb::Hill>| {
            hill.map(|h| climbs::report(&setup, &h)).transpose()
        };
        let found = drives::drive(&setup, &road.trace, &mut ());
        let range = Some(drives::range_of(&setup, &road.trace));
        let mut sheet = Self {
            verdicts: Vec::new(),
            advice: Vec::new(),
            understood: check::Report::new(prepared)?,
            pull: pulls::report(&setup, &marks)?,
            climb: hill(prepared.drives.climb)?,
            pass: hill(prepared.drives.pass)?,
            commute: DriveReport {
                range,
                ..drives::report(&setup, &road.name, &road.trace, &found)
            },
            limits: Vec::new(),
            bands: None,
            cautions: CAUTIONS.to_vec(),
        };
        sheet.verdicts = verdicts(prepared, &sheet.told());
        sheet.limits = met(&sheet, units);
        Ok(sheet)
    }

    /// What its verdicts are read from.
    pub fn told(&self) -> Told<'_> {
        Told {
            gears: &self.understood.gears,
            pull: &self.pull,
            climb: self.climb.as_ref(),
            pass: self.pass.as_ref(),
            road: &self.commute,
            warnings: &self.understood.warnings,
        }
    }
}

/// What every sheet ends with.
pub const CAUTIONS: [&str; 4] = [
    "High voltage kills: isolate, lock out and measure before touching; work on the pack and its \
     wiring belongs to people licensed for it, by the local code.",
    "Brakes, tyres, axle loads and steering must be checked on the built car; regen does not \
     replace the friction brakes and may vanish with a full or cold pack.",
    "This is a prediction from stated values, no certificate: inspectors and local codes decide \
     what may go on the road.",
    "Not modelled: brake fade and disc temperature, tyre slip, bends, humidity, ageing within a \
     run, torque ripple.",
];

/// Phases of a pull shorter than this are left out of the page, s.
const BRIEF_S: f64 = 0.3;

/// Makes the sheet.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    let loaded = args.input.load()?;
    let mut prepared = loaded.prepare().map_err(of("--set"))?;
    // A road that is asked for need not be assumed.
    if args.road.cycle.is_some() {
        prepared.drives.commute = Some(args.road.road(&prepared)?);
    }
    let road = args.road.load(&prepared)?;
    let frame = args.picture.begin(&args.road.files(&prepared))?;
    let mut sheet = Sheet::of(&prepared, &road, output.units)?;
    sheet.advice = advice(&loaded, &prepared, &sheet.told(), &road.trace);
    let mut sheet = prepared.vouched(sheet)?;
    // A figure that is never reached is infinite among bands, whose cars were vouched for one by one.
    sheet.bands = args.bands.then(|| bands::of_sheet(&args.input, &road)).transpose()?;
    save_tractive(frame, &prepared, output.units)?;
    if output.json {
        return output.document(&sheet);
    }
    match args.full {
        true => show(&sheet, &prepared, &road, output),
        false => page(&sheet, &prepared, &road, output),
    }
}

/// Lines and columns of the page.
const LINES: usize = 66;

/// Verdicts on parts, and changes, that the page has room for.
const MOST_PARTS: usize = 4;
const MOST_CHANGES: usize = 4;

/// A part of the page; the least of them is left out first where there is no room.
struct Section {
    rank: u8,
    said: Vec<Said>,
}

/// One page: verdicts, then the figures that there is room for.
fn page(
    sheet: &Sheet,
    prepared: &Prepared,
    road: &Drivable,
    output: &mut Output,
) -> Result<(), Failure> {
    output.width = NARROWEST;
    let units = output.units;
    let report = &sheet.understood;
    let said = |rank, speak: &dyn Fn(&mut Output) -> Result<(), Failure>| {
        Ok::<_, Failure>(Section { rank, said: Output::said_by(units, speak)? })
    };
    let mut sections = vec![
        said(0, &|output| {
            heading(sheet, prepared, output)?;
            judged((&sheet.verdicts, &sheet.advice), road, MOST_PARTS, MOST_CHANGES, output)
        })?,
        said(2, &|output| check::axles(&report.mass, output))?,
        said(6, &|output| parts_in_short(prepared, report, output))?,
        said(3, &|output| check::prices_in_short(report.prices.as_ref(), output))?,
        said(3, &|output| gears_in_short(&report.gears, output))?,
        said(4, &|output| hills(sheet, output))?,
        said(5, &|output| {
            output.heading(format!("Daily road: {}", sheet.commute.road))?;
            say_notes(road, output)?;
            road_in_short(&sheet.commute, output)
        })?,
    ];
    if let Some(found) = &sheet.bands {
        sections.push(said(1, &|output| bands::show_on_sheet(found, output))?);
    }
    let more = |count: usize, what: &str| match count {
        1 => format!("1 {what}"),
        _ => format!("{count} {what}s"),
    };
    sections.push(said(0, &|output| {
        output.heading("More, and cautions")?;
        output.said(format!(
            "{}, {}: `check`. Every figure: `sheet --full`. To print: `report`.",
            more(report.warnings.len(), "warning"),
            more(report.assumptions.len(), "assumption")
        ))?;
        // What is not modelled is for the whole sheet.
        CAUTIONS[..3].iter().try_for_each(|line| output.said(format!("- {line}")))
    })?);
    let lines = |section: &Section| -> usize {
        section.said.iter().map(|said| said.lines(NARROWEST)).sum()
    };
    while sections.iter().map(lines).sum::<usize>() > LINES {
        let Some(least) = sections.iter().map(|section| section.rank).max().filter(|r| *r > 0)
        else {
            break;
        };
        sections.retain(|section| section.rank != least);
    }
    sections.iter().try_for_each(|section| output.say(&section.said))
}

fn heading(sheet: &Sheet, prepared: &Prepared, output: &mut Output) -> Result<(), Failure> {
    let (units, report) = (output.units, &sheet.understood);
    output.line(format!("{} ({})", report.name, report.file))?;
    let surroundings = prepared.car.surroundings();
    output.line(format!(
        "{} at {}, state of charge {} %, grip {}",
        units.temperature(scenarios::units::c_from_k(surroundings.air_k)),
        units.height(surroundings.altitude_m),
        number(pct_from_share(prepared.start.charge), 0),
        number(surroundings.friction, 2)
    ))?;
    let measured = prepared.measured();
    if measured.is_empty() {
        return Ok(());
    }
    let count: usize = measured.iter().map(|one| one.inputs.len()).sum();
    let files: Vec<String> =
        measured.iter().map(|one| cycles::file(one.file.as_ref()).to_string()).collect();
    let inputs = if count == 1 { "input is" } else { "inputs are" };
    output.text(format!("{count} {inputs} measured ({}): `check` says which", files.join(", ")))
}

/// Motor, controller and pack in a row each.
fn parts_in_short(
    prepared: &Prepared,
    report: &check::Report,
    output: &mut Output,
) -> Result<(), Failure> {
    output.heading("Drive")?;
    let mut table = Table::new(&["", ""]);
    check::in_short(prepared, report, output.units).into_iter().for_each(|row| table.row(row));
    output.table(&table)
}

/// What each gear is good for.
fn gears_in_short(gears: &[GearRow], output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    output.heading("Gearing")?;
    let mut table = Table::new(&[
        "gear",
        ">ratio",
        &format!(">{} at max rpm", units.speed_unit()),
        ">peak force",
        ">continuous",
        ">continuous grade",
        ">launch grade",
    ]);
    let dash = || "—".to_owned();
    for row in gears {
        let grade = row.continuous_grade_pct.map(|p| format!("{} %", number(p, 1)));
        table.row([
            ordinal(row.gear),
            number(row.overall_ratio, 2),
            units.bare_speed(row.top_by_rpm_kmh),
            units.force(row.peak_force_n),
            row.continuous_force_n.map_or_else(dash, |n| units.force(n)),
            grade.unwrap_or_else(dash),
            format!("{} %", number(row.steepest_start_pct, 0)),
        ]);
    }
    output.table(&table)
}

/// Climb and pass, each in its best gear.
fn hills(sheet: &Sheet, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    let both = [("climb", &sheet.climb), ("pass", &sheet.pass)];
    let both: Vec<_> =
        both.into_iter().filter_map(|(name, hill)| Some((name, hill.as_ref()?))).collect();
    if both.is_empty() {
        return Ok(());
    }
    output.heading("Climb and pass, in the best gear")?;
    let degree = |what: &str| format!(">{what} {}", units.degree());
    let mut table = Table::new(&[
        "",
        "gear",
        ">pack",
        ">motor",
        &degree("winding"),
        &degree("sink"),
        &degree("cells"),
        "derates",
        &format!(">continuous {}", units.speed_unit()),
    ]);
    for (name, found) in both {
        let row = found.best();
        let continuous = found.continuous.map(|(kmh, _)| units.bare_speed(kmh));
        table.row([
            name.to_owned(),
            ordinal(row.gear),
            format!("{} kW", number(row.pack_kw, 1)),
            format!("{} A", number(row.motor_a, 0)),
            units.bare_temperature(row.peak.winding_c),
            units.bare_temperature(row.peak.heat_sink_c),
            units.bare_temperature(row.peak.cells_c),
            row.derated_at_s.map_or_else(|| "no".to_owned(), |s| format!("at {}", clock(s))),
            continuous.unwrap_or_else(|| "—".to_owned()),
        ]);
    }
    output.table(&table)
}

fn road_in_short(road: &DriveReport, output: &mut Output) -> Result<(), Failure> {
    let mut table = Table::new(&["", ""]);
    let kept = ["consumption", "range", "energy", "hottest"];
    for (name, text) in drive::rows(road, output.units) {
        if kept.contains(&name) {
            table.row([name.to_owned(), text]);
        }
    }
    output.table(&table)
}

/// All that there is to say.
fn show(
    sheet: &Sheet,
    prepared: &Prepared,
    road: &Drivable,
    output: &mut Output,
) -> Result<(), Failure> {
    let units = output.units;
    let report = &sheet.understood;
    heading(sheet, prepared, output)?;
    judged((&sheet.verdicts, &sheet.advice), road, usize::MAX, usize::MAX, output)?;
    check::axles(&report.mass, output)?;
    check::prices(report.prices.as_ref(), output)?;
    check::drive(prepared, report, output)?;
    gears(&report.gears, output)?;
    output.heading("Full throttle")?;
    pull::show(&sheet.pull, prepared, output)?;
    for (name, climb) in [("Climb", &sheet.climb), ("Pass", &sheet.pass)] {
        if let Some(found) = climb {
            output.heading(format!("{name}: {}", climb::what(found, units)))?;
            climb::show(found, output)?;
            output.said(climb::verdict(found, units))?;
        }
    }
    let braking = &prepared.car.parts().braking;
    let peak_nm = prepared.car.parts().motor.machine.envelope.largest_nm();
    output.heading(format!(
        "Daily road: {}, regen {} % on lift-off and {} % on the brake pedal",
        sheet.commute.road,
        number(pct_of(braking.lift_off_nm, peak_nm), 0),
        number(pct_of(braking.brake_pedal_nm, peak_nm), 0)
    ))?;
    say_notes(road, output)?;
    drive::show(&sheet.commute, output)?;
    output.heading("Limits that were met, worst first")?;
    if sheet.limits.is_empty() {
        output.line("none")?;
    }
    sheet.limits.iter().try_for_each(|line| output.text(format!("- {line}")))?;
    check::warnings(&report.warnings, output)?;
    check::assumptions(&report.assumptions, output)?;
    sheet.bands.iter().try_for_each(|found| bands::show_on_sheet(found, output))?;
    output.heading("Cautions")?;
    CAUTIONS.iter().try_for_each(|line| output.said(format!("- {line}")))
}

/// Verdicts, and what mends those that do not hold.
pub fn judged(
    (verdicts, advice): (&[Verdict], &[Advice]),
    road: &Drivable,
    parts: usize,
    changes: usize,
    output: &mut Output,
) -> Result<(), Failure> {
    output.heading("What it does, and what gives up first")?;
    let of_parts = verdicts.iter().filter(|v| v.about == About::Parts).count();
    let mut seen = 0;
    for verdict in verdicts {
        seen += usize::from(verdict.about == About::Parts);
        if verdict.about == About::Parts && seen > parts {
            continue;
        }
        let mark = match verdict.standing {
            Standing::Holds => "",
            _ => &format!("{}: ", verdict.standing.words()),
        };
        output.said(format!("- {mark}{}", verdict.text))?;
        if verdict.about == About::Parts && seen == parts && of_parts > parts {
            output.line(format!("- fails: {} more, see `check`", of_parts - parts))?;
        }
    }
    if advice.is_empty() {
        return Ok(());
    }
    output.heading("What to change")?;
    for one in advice.iter().take(changes) {
        output.said(format!("- {}", one.text))?;
        if !one.set.is_empty() {
            let set = one.set.iter().map(|set| format!("--set {set}"));
            let words: Vec<String> = road.asked.iter().cloned().chain(set).collect();
            output.line(format!("  {}", words.join(" ")))?;
        }
    }
    match advice.len().saturating_sub(changes) {
        0 => Ok(()),
        more => output.line(format!("- {more} more with --full")),
    }
}

/// Gear by gear: speeds, forces and grades.
pub fn gears(gears: &[GearRow], output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    output.heading("Gearing")?;
    let per_krpm = format!(">{} per 1000 rpm", units.speed_unit());
    let at_max = format!(">{} at max rpm", units.speed_unit());
    let mut table = Table::new(&[
        "gear",
        ">ratio",
        &per_krpm,
        &at_max,
        ">peak force",
        "limited by",
        ">continuous force",
        "limited by",
        ">its grade",
        ">launch grade",
    ]);
    let dash = || "—".to_owned();
    for row in gears {
        let continuous = row.continuous_force_n.map(|n| units.force(n));
        let by = |limit: Option<NamedLimit>| limit.map_or_else(dash, |limit| limit.to_string());
        let grade = row.continuous_grade_pct.map(|p| format!("{} %", number(p, 1)));
        table.row([
            ordinal(row.gear),
            number(row.overall_ratio, 2),
            units.bare(row.kmh_per_krpm, "km/h", 1),
            units.bare_speed(row.top_by_rpm_kmh),
            units.force(row.peak_force_n),
            by(row.peak_by),
            continuous.unwrap_or_else(dash),
            by(row.continuous_by),
            grade.unwrap_or_else(dash),
            format!("{} %", number(row.steepest_start_pct, 0)),
        ]);
    }
    output.table(&table)?;
    output.said(
        "Continuous force: what the wheels hold at the motor's base speed while motor and controller \
         settle below their warnings and the cells stay within their limits until the pack gives \
         out, and the grade that takes it.",
    )
}

/// Every limit that was met, in plain words, worst first.
fn met(sheet: &Sheet, units: Units) -> Vec<String> {
    let mut found: Vec<(u8, String)> = Vec::new();
    for warning in sheet.understood.warnings.iter().filter(|w| w.severity == Severity::Danger) {
        found.push((0, units.said(&warning.text)));
    }
    let severity = |limit: NamedLimit| 1 + limit.severity();
    let words = |limit: NamedLimit, own: &Option<String>| units.said(&limit.words_in(own.as_ref()));
    for (name, climb) in [("climb", &sheet.climb), ("pass", &sheet.pass)] {
        let Some(climb) = climb else { continue };
        for row in climb.gears.iter().filter(|row| row.within_rpm) {
            let gear = ordinal(row.gear);
            let chosen = if row.gear == climb.chosen { " (the best gear for it)" } else { "" };
            if let (Some(s), Some(limit)) = (row.derated_at_s, row.derated_by) {
                let at = clock(s);
                let text = format!(
                    "On the {name} in {gear}{chosen}, after {at}: {}.",
                    words(limit, &row.derated_in)
                );
                found.push((severity(limit), text));
            }
            if let (false, Some(s), Some(limit)) = (row.held, row.slowed_at_s, row.slowed_by)
                && row.derated_at_s.is_none()
            {
                let slows = match row.ending {
                    ClimbEnding::Stalled => "comes to a stop".to_owned(),
                    _ => format!("slows to {}", units.speed(row.slowest_kmh, 0)),
                };
                let text = format!(
                    "On the {name} in {gear}{chosen}, after {}: it {slows}; {}.",
                    clock(s),
                    words(limit, &row.slowed_in)
                );
                found.push((severity(limit), text));
            }
        }
    }
    for met in &sheet.commute.limits {
        let (road, why) = (&sheet.commute.road, units.said(&met.words));
        let text = format!("On {road} for {}: {why}.", clock(met.seconds));
        found.push((severity(met.limit), text));
    }
    for limit in Limit::ALL.map(NamedLimit) {
        let spans: Vec<String> = sheet
            .pull
            .farthest()
            .into_iter()
            .flat_map(|plan| &plan.phases)
            .filter(|p| p.limit == Some(limit) && p.to_s - p.from_s >= BRIEF_S)
            .filter_map(|p| {
                let gear = ordinal(p.gear?);
                let (from, to) = (units.bare_speed(p.from_kmh), units.bare_speed(p.to_kmh));
                Some(format!("{gear} {from} to {to}"))
            })
            .collect();
        if !spans.is_empty() {
            let text = format!(
                "At full throttle {} ({}, {}).",
                words(limit, &None),
                spans.join(", "),
                units.speed_unit()
            );
            found.push((severity(limit), text));
        }
    }
    found.sort_by_key(|f| f.0);
    found.into_iter().map(|f| f.1).collect()
}
