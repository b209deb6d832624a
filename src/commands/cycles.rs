//! `cycles`: the built-in cycles, and what is in a road file.

use crate::failure::Failure;
use crate::measure::number;
use crate::output::Output;
use crate::road::PaceArgs;
use crate::table::Table;
use scenarios::units;
use schemars::JsonSchema;
use serde::Serialize;

/// Arguments of `cycles`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Names of built-in cycles or paths of road files; left out, all that are built in.
    #[arg(value_name = "NAME_OR_FILE")]
    pub names: Vec<String>,

    #[command(flatten)]
    pace: PaceArgs,
}

/// One cycle or road.
#[derive(Debug, Serialize, JsonSchema)]
pub struct CycleRow {
    name: String,
    title: String,
    duration_s: f64,
    distance_km: f64,
    mean_kmh: f64,
    peak_kmh: f64,
    stops: usize,
    climb_m: f64,
    descent_m: f64,
    notes: Vec<String>,
    held: Option<Held>,
}

/// For how long what held the speed on a road without times.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Held {
    limit_s: f64,
    bend_s: f64,
    stop_s: f64,
    speeding_up_s: f64,
}

impl CycleRow {
    fn new(loaded: cycles::LoadedRoad, title: &str) -> Self {
        let cycles::LoadedRoad { schedule: trace, notes, held, .. } = loaded;
        let held = held.map(|held| Held {
            limit_s: held.limit_s,
            bend_s: held.bend_s,
            stop_s: held.stop_s,
            speeding_up_s: held.speeding_up_s,
        });
        Self {
            name: trace.name.clone(),
            title: title.to_owned(),
            duration_s: trace.duration_s(),
            distance_km: units::km_from_m(trace.distance_m()),
            mean_kmh: units::kmh_from_mps(trace.mean_speed_mps()),
            peak_kmh: units::kmh_from_mps(trace.peak_speed_mps()),
            stops: trace.stops(),
            climb_m: trace.climb_m(),
            descent_m: trace.descent_m(),
            notes,
            held,
        }
    }
}

/// Lists or describes.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    let mut rows = Vec::new();
    let pace = args.pace.pace()?;
    if args.names.is_empty() && !pace.is_empty() {
        let problem = "a limit, bends and stops are for the file of a road without times, and none is \
                       named";
        return Err(Failure::Arguments(problem.to_owned()));
    }
    if args.names.is_empty() {
        for cycle in cycles::catalogue() {
            rows.push(CycleRow::new(cycle.schedule()?.into(), cycle.title));
        }
    }
    let options = cycles::LoadOptions { pace, ..Default::default() };
    for name in &args.names {
        let loaded = cycles::resolve(name, &options)?;
        let built_in = cycles::catalogue().iter().find(|c| c.name == loaded.schedule.name);
        let title = built_in.map_or("road file", |cycle| cycle.title);
        rows.push(CycleRow::new(loaded, title));
    }
    if output.json {
        return output.document(&rows);
    }
    let units = output.units;
    let hilly = rows.iter().any(|row| row.climb_m > 0.0 || row.descent_m > 0.0);
    let mut headings = vec!["cycle", ">time", ">distance", ">mean", ">peak", ">stops"];
    headings.extend(if hilly { [">up", ">down"].as_slice() } else { &[] });
    headings.push("what it is");
    let mut table = Table::new(&headings);
    for row in &rows {
        let mut cells = vec![
            row.name.clone(),
            format!("{} s", number(row.duration_s, 0)),
            units.distance(row.distance_km, 2),
            units.speed(row.mean_kmh, 1),
            units.speed(row.peak_kmh, 1),
            row.stops.to_string(),
        ];
        if hilly {
            cells.extend([units.height(row.climb_m), units.height(row.descent_m)]);
        }
        cells.push(row.title.clone());
        table.row(cells);
    }
    output.table(&table)?;
    if args.names.is_empty() {
        output.said(
            "`wltc`, or `wltc-low` and so on, is that of the class of the car that drives it; \
             here, without a car, class 3b.",
        )?;
    }
    for row in &rows {
        for note in &row.notes {
            output.text(format!("{}: {}", row.name, output.units.said(note)))?;
        }
    }
    Ok(())
}
