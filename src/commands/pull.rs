//! `pull`: full throttle in each gear and through the gears.

use crate::failure::Failure;
use crate::input::Input;
use crate::measure::{Units, number, or_dash, ordinal};
use crate::output::Output;
use crate::picture_file::PictureArg;
use crate::pictures::{Look, throttle};
use crate::quantity;
use crate::series::begin;
use crate::table::Table;
use scenarios::Prepared;
use scenarios::runs::limits::NamedLimit;
use scenarios::runs::pull::{self, Marks, PlanReport, PullReport};
use scenarios::runs::rating::HeldSpeed;
use scenarios::units::kw_from_w;
use sim_core::pull::PullEnding;
use std::path::PathBuf;

/// Arguments of `pull`.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    input: Input,

    /// Slope of the road, such as `6%`; left out, level.
    #[arg(long, value_name = "GRADE", allow_hyphen_values = true)]
    grade: Option<String>,

    /// Writes the run through the gears to a CSV file.
    #[arg(long, value_name = "FILE.csv")]
    series: Option<PathBuf>,

    #[command(flatten)]
    picture: PictureArg,
}

/// What is timed: the scenario's own marks, or the usual ones of the units.
pub fn marks(prepared: &Prepared, units: Units) -> Marks {
    let usual = match units {
        Units::Metric => Marks::metric(),
        Units::Us => Marks::us(),
    };
    match &prepared.drives.pull {
        Some(own) => Marks::of(own, usual),
        None => usual,
    }
}

/// Pulls.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    let prepared = args.input.prepare()?;
    let mut marks = marks(&prepared, output.units);
    if let Some(text) = &args.grade {
        marks.slope = quantity::slope("--grade", text)?;
    }
    let setup = prepared.setup();
    let series = begin(&prepared, args.series.as_deref())?;
    let frame = args.picture.begin_for(&prepared)?;
    let report = prepared.vouched(pull::report(&setup, &marks)?)?;
    if let Some(mut series) = series {
        pull::recorded(&setup, &marks, &mut series)?;
        series.save()?;
    }
    if let Some(frame) = frame {
        let run = pull::history(&setup, &marks)?;
        let look = Look::wide(&prepared.name, output.units);
        frame.save(&throttle::picture(&report, &run, None, look))?;
    }
    if output.json {
        return output.document(&report);
    }
    output.text(format!("{}: full throttle", prepared.name))?;
    show(&report, &prepared, output)?;
    output.heading("Quickest through the gears, each mark by itself")?;
    plans(&report, output)?;
    if let Some(farthest) = report.farthest() {
        let what = goal(farthest, output.units);
        output.heading(format!("Through the gears {what}, what holds the car back"))?;
        phases(farthest, output)?;
    }
    Ok(())
}

/// The table of times and top speeds.
pub fn show(report: &PullReport, prepared: &Prepared, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    let plain = |kmh: f64| units.bare_speed(kmh);
    let mut headings = vec![format!("s, {}", units.speed_unit())];
    let from = plain(report.from_kmh);
    headings.extend(report.speeds_kmh.iter().map(|v| format!(">{from} to {}", plain(*v))));
    if let [first, second, ..] = report.speeds_kmh[..] {
        headings.push(format!(">{} to {}", plain(first), plain(second)));
    }
    headings.extend(report.distances_m.iter().map(|m| format!(">{}", strip(*m, units))));
    headings.extend([">top speed".to_owned(), "set by".to_owned(), ">at max rpm".to_owned()]);
    let headings: Vec<&str> = headings.iter().map(String::as_str).collect();
    let mut table = Table::new(&headings);
    let both = report.speeds_kmh.len() > 1;
    let mut row = |name: String, times: (&[Option<f64>], Option<f64>, &[Option<f64>]), top: Top| {
        let (to_speeds, between_s, over_distances) = times;
        let times = to_speeds.iter().chain(both.then_some(&between_s)).chain(over_distances);
        let mut cells = vec![name];
        cells.extend(times.map(|t| or_dash(*t, 1)));
        cells.push(plain(top.kmh));
        cells.push(match top.by {
            Some(limit) => limit.to_string(),
            None => "power".to_owned(),
        });
        cells.push(plain(top.rpm_kmh));
        table.row(cells);
    };
    if prepared.car.gears() > 1 {
        let r = &report.through;
        let top = Top { kmh: r.top_speed_kmh, by: r.top_speed_by, rpm_kmh: r.rpm_speed_kmh };
        row("quickest".to_owned(), (&r.times_s, r.between_s, &r.distance_times_s), top);
    }
    for r in &report.single {
        let top = Top { kmh: r.top_speed_kmh, by: r.top_speed_by, rpm_kmh: r.rpm_speed_kmh };
        row(ordinal(r.gear), (&r.times_s, r.between_s, &r.distance_times_s), top);
    }
    output.table(&table)?;
    output.said(held(report, prepared, units))?;
    let empty: Vec<String> = report
        .single
        .iter()
        .filter(|r| r.ending == PullEnding::Empty)
        .map(|r| ordinal(r.gear))
        .collect();
    if !empty.is_empty() {
        let gears = empty.join(", ");
        output.said(format!("The pack was empty before the last mark in {gears} gear."))?;
    }
    Ok(())
}

/// What the top speed means, and what is held for longer.
fn held(report: &PullReport, prepared: &Prepared, units: Units) -> String {
    let speed = |held: &Option<HeldSpeed>| match held {
        Some(held) => {
            let (speed, gear) = (units.speed(held.speed_kmh, 0), ordinal(held.gear));
            format!("{speed} ({gear} gear, limited by {})", held.by)
        }
        None => "none".to_owned(),
    };
    let rating = &report.rating;
    let power = rating.power_30min.as_ref().map_or_else(String::new, |held| {
        let (power, rpm) = (units.power(held.power_kw, 1), number(held.motor_rpm, 0));
        let plate_kw = prepared.facts.continuous_w.map(kw_from_w);
        let more = match plate_kw.filter(|plate_kw| held.power_kw > *plate_kw) {
            Some(_) => {
                "; more than the nameplate's continuous power, which is held for good and in air of \
                 40 °C where it does not say otherwise"
            }
            None => "",
        };
        format!(" 30-minute power {power} at {rpm} rpm (limited by {}){more}.", held.by)
    });
    format!(
        "Top speed: the highest over one kilometre at full throttle. On the level, 30-minute speed {}; \
         continuous {}.{power}",
        speed(&rating.speed_30min),
        speed(&rating.continuous)
    )
}

/// The top speed of a row.
struct Top {
    kmh: f64,
    by: Option<NamedLimit>,
    rpm_kmh: f64,
}

/// A distance of a pull: metres, or feet and the quarter mile.
fn strip(m: f64, units: Units) -> String {
    match units {
        Units::Us if (m / scenarios::units::M_PER_MI - 0.25).abs() < 1e-9 => "1/4 mi".to_owned(),
        units => units.height(m),
    }
}

/// What a pull is for.
fn goal(plan: &PlanReport, units: Units) -> String {
    let from = match plan.from_kmh {
        kmh if kmh > 0.0 => format!("from {} ", units.speed(kmh, 0)),
        _ => String::new(),
    };
    match (plan.to_kmh, plan.over_m) {
        (Some(kmh), _) => format!("{from}to {}", units.speed(kmh, 0)),
        (None, Some(m)) => format!("{from}over {}", strip(m, units)),
        (None, None) => from,
    }
}

/// Where to shift on the way to each mark.
fn plans(report: &PullReport, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    let mut table =
        Table::new(&["mark", ">time", "gears, with speed and motor speed at each shift"]);
    for plan in &report.through.plans {
        let mut way = ordinal(plan.from_gear);
        for shift in &plan.shifts {
            way += &format!(
                " to {} ({} rpm), {}",
                units.speed(shift.at_kmh, 0),
                number(shift.at_rpm, 0),
                ordinal(shift.to_gear)
            );
        }
        table.row([goal(plan, units), format!("{} s", number(plan.time_s, 1)), way]);
    }
    output.table(&table)
}

fn phases(plan: &PlanReport, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    let mut table =
        Table::new(&[">from", ">to", ">from", ">to", "gear", "what holds the car back"]);
    for phase in &plan.phases {
        table.row([
            format!("{} s", number(phase.from_s, 1)),
            format!("{} s", number(phase.to_s, 1)),
            units.speed(phase.from_kmh, 0),
            units.speed(phase.to_kmh, 0),
            phase.gear.map_or_else(|| "shift".to_owned(), ordinal),
            phase.words.unwrap_or("between gears, no torque").to_owned(),
        ]);
    }
    output.table(&table)
}
