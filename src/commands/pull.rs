//! `pull`: full throttle in each gear and through the gears.

use crate::failure::Failure;
use crate::input::Input;
use crate::measure::{Units, number, or_dash, ordinal};
use crate::output::Output;
use crate::quantity;
use crate::table::Table;
use scenarios::Prepared;
use scenarios::runs::pull::{self, Marks, PullReport, PullRow};
use scenarios::runs::series::Series;
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
    let report = pull::report(&setup, &marks)?;
    if let Some(file) = &args.series {
        let mut series = Series::new(&prepared.car);
        pull::row(&setup, &marks, None, &mut series)?;
        series.save(file)?;
    }
    if output.json {
        return output.document(&report);
    }
    output.line(format!("{}: full throttle", prepared.name))?;
    show(&report, &prepared, output)?;
    output.heading("Through the gears, what holds the car back")?;
    phases(&report.through, output)
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
    headings.extend(report.distances_m.iter().map(|m| match units {
        Units::Us if (m / scenarios::units::M_PER_MI - 0.25).abs() < 1e-9 => ">1/4 mi".to_owned(),
        units => format!(">{}", units.height(*m)),
    }));
    headings.extend([">top speed".to_owned(), "set by".to_owned(), ">at max rpm".to_owned()]);
    let headings: Vec<&str> = headings.iter().map(String::as_str).collect();
    let mut table = Table::new(&headings);
    let gears = prepared.car.gears();
    let through = (gears > 1).then_some(&report.through);
    for row in through.into_iter().chain(&report.single) {
        let mut cells = vec![match row.gear {
            Some(gear) => ordinal(gear),
            None => format!("from {}", ordinal(row.from_gear)),
        }];
        cells.extend(row.times_s.iter().map(|t| or_dash(*t, 1)));
        if report.speeds_kmh.len() > 1 {
            cells.push(or_dash(row.between_s, 1));
        }
        cells.extend(row.distance_times_s.iter().map(|t| or_dash(*t, 1)));
        cells.push(plain(row.top_speed_kmh));
        cells.push(match row.top_speed_by {
            Some(limit) => limit.to_string(),
            None => "power".to_owned(),
        });
        cells.push(plain(row.rpm_speed_kmh));
        table.row(cells);
    }
    output.table(&table)
}

fn phases(row: &PullRow, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    let mut table =
        Table::new(&[">from", ">to", ">from", ">to", "gear", "what holds the car back"]);
    for phase in &row.phases {
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
