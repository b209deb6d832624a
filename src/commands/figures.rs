//! `figures`: every figure, what it means and the run that gives it.

use crate::failure::Failure;
use crate::figure;
use crate::output::Output;
use crate::table::Table;
use scenarios::runs::{Better, FigureKind, Run, Unit};
use schemars::JsonSchema;
use serde::Serialize;

/// Arguments of `figures`.
#[derive(Debug, clap::Args)]
pub struct Args {}

/// One figure.
#[derive(Debug, Serialize, JsonSchema)]
pub struct FigureEntry {
    /// Name, ending in its unit.
    name: &'static str,
    /// The run that gives it.
    run: Run,
    /// Unit.
    unit: Unit,
    /// What its value tells.
    kind: FigureKind,
    /// Which way is better.
    better: Better,
    /// What it is.
    meaning: &'static str,
}

/// Lists.
pub fn run(_: &Args, output: &mut Output) -> Result<(), Failure> {
    if output.json {
        let of = |run: Run| {
            run.figures().into_iter().map(move |figure| FigureEntry {
                name: figure.name,
                run,
                unit: figure.unit,
                kind: figure.kind,
                better: figure.better,
                meaning: figure.meaning,
            })
        };
        return output.document(&Run::ALL.into_iter().flat_map(of).collect::<Vec<FigureEntry>>());
    }
    for run in Run::ALL {
        output.heading(format!("{}: {}", run.name(), output.units.said(run.words())))?;
        let mut table = Table::new(&["figure", "unit", "better", "what it is"]);
        for found in run.figures() {
            let unit = match found.kind {
                FigureKind::Number | FigureKind::Reach => figure::sign(&found, output.units),
                FigureKind::YesNo => "yes or no",
                FigureKind::Check => "check",
            };
            let better = match (found.kind, found.better) {
                (FigureKind::YesNo, _) => "yes",
                (_, Better::Higher) => "more",
                (_, Better::Lower) => "less",
                (_, Better::Neither) => "—",
            };
            let meaning = output.units.said(found.meaning);
            table.row([found.name, unit, better, &meaning]);
        }
        output.table(&table)?;
    }
    output.line("")?;
    output.said(
        "sweep, size, bands and compare take every one of them, and make the run that gives it: \
         --figures range_km,climb_heat_pct, --goal 'range_km>=120', --best to_80_kmh_s, --sort \
         wh_per_km. Goals and names are in metric units; yes is 1 and no is 0.",
    )
}
