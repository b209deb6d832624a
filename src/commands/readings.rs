//! `readings`: a card for the glove box.

use crate::failure::{Failure, of};
use crate::input::Input;
use crate::measure::{Units, number, or_dash};
use crate::output::Output;
use crate::quantity;
use crate::road::{RoadArgs, say_notes};
use crate::table::Table;
use scenarios::runs::readings::{self, Card, HeatNeedle, ReadingsReport, SpeedRow};
use scenarios::studies::reading_bands::{ReadingBands, reading_bands};
use scenarios::studies::uncertain::Uncertain;
use scenarios::units;
use schemars::JsonSchema;
use serde::Serialize;

/// Arguments of `readings`.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    input: Input,

    #[command(flatten)]
    road: RoadArgs,

    /// Steady speeds as `from..to:step` or `a,b,c`, in the tables' units; left out, 50 to 110 km/h
    /// by 10 or 30 to 70 mph by 5.
    #[arg(long, value_name = "SPEEDS", allow_hyphen_values = true)]
    speeds: Option<String>,

    /// Steady speed at which voltages while driving hold; left out, the highest of them up to 80 km/h
    /// that is held warm and on the cold day.
    #[arg(long, value_name = "SPEED", allow_hyphen_values = true)]
    at: Option<String>,

    /// Air of the cold day, such as `-10C`; left out, the coldest of the scenario's seasons, or a
    /// typical winter.
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    cold: Option<String>,
}

/// The card, with bands where the car was measured.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Report {
    /// The card.
    #[serde(flatten)]
    pub card: ReadingsReport,
    /// How sure it is; nothing where nothing was measured on the car.
    pub bands: Option<ReadingBands>,
}

/// Cars that are drawn for the bands.
const SAMPLES: usize = 40;

/// Writes the card.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    let loaded = args.input.load()?;
    let prepared = loaded.prepare().map_err(of("--set"))?;
    let mut card = usual(output.units);
    if let Some(text) = &args.speeds {
        let mps = match output.units {
            Units::Metric => units::mps_from_kmh,
            Units::Us => units::mps_from_mph,
        };
        let speeds = quantity::list("--speeds", text, 1.0, 300.0)?;
        card.speeds_mps = speeds.into_iter().map(mps).collect();
    }
    if let Some(text) = &args.at {
        card.at_mps = Some(quantity::speed_mps("--at", text, output.units)?);
    }
    if let Some(text) = &args.cold {
        card.cold_c = Some(quantity::temperature_c("--cold", text, output.units)?);
    }
    let road = args.road.load(&prepared)?;
    let found = readings::report(&prepared, &card, (&road.name, &road.trace))?;
    let bands = match prepared.measured().is_empty() {
        true => None,
        false => {
            let uncertain = Uncertain::new(&loaded, &[], true)?;
            Some(reading_bands(&uncertain, &card, (&road.name, &road.trace), SAMPLES, 1)?)
        }
    };
    let report = prepared.vouched(Report { card: found, bands })?;
    if output.json {
        return output.document(&report);
    }
    output.text(format!("{}: a card for the glove box", prepared.name))?;
    say_notes(&road, output)?;
    show(&report, output)
}

/// Round speeds in the units of the tables.
pub fn usual(units: Units) -> Card {
    match units {
        Units::Metric => Card::default(),
        Units::Us => {
            let mph = (6..=14).map(|fives| units::mps_from_mph(5.0 * f64::from(fives)));
            Card { speeds_mps: mph.collect(), ..Card::default() }
        }
    }
}

/// Says what stands on the card, and what to beware of.
fn show(report: &Report, output: &mut Output) -> Result<(), Failure> {
    card(report, output)?;
    output.heading("Cautions")?;
    report.card.cautions.iter().try_for_each(|line| output.said(format!("- {line}")))
}

/// Says what stands on the card.
pub fn card(report: &Report, output: &mut Output) -> Result<(), Failure> {
    let card = &report.card;
    if card.speeds.iter().all(|row| !row.held) {
        output.said(
            "DANGER: the car holds none of these speeds, so this is no card to drive by: `check` and \
             `sheet` say why.",
        )?;
    }
    output.heading("By state of charge")?;
    charges(report, output)?;
    output.heading("At a steady speed on the level")?;
    speeds(report, output)?;
    output.heading("Fuel gauge")?;
    fuel(card, output)?;
    output.heading("Temperature gauge")?;
    heat(card, output)?;
    output.heading("Cells")?;
    gaps(card, output)
}

/// A number, with half of its band where there is one.
fn banded(value: Option<f64>, half: Option<f64>, decimals: usize) -> String {
    match (value, half) {
        (Some(value), Some(half)) => {
            format!("{} ±{}", number(value, decimals), number(half, decimals))
        }
        _ => or_dash(value, decimals),
    }
}

fn charges(report: &Report, output: &mut Output) -> Result<(), Failure> {
    let (card, units) = (&report.card, output.units);
    let distance = format!(">range, {}", units.sign("km"));
    let headings = [
        ">charge %",
        ">rested V",
        ">driving V",
        ">cold V",
        ">kWh left",
        ">cold kWh",
        &distance,
        ">cold range",
    ];
    let mut table = Table::new(&headings);
    for (i, row) in card.charges.iter().enumerate() {
        let band = report.bands.as_ref().and_then(|bands| bands.charges.get(i));
        let km = |km: Option<f64>| km.map(|km| units.value(km, "km"));
        table.row([
            number(row.charge_pct, 0),
            number(row.rested_v, 1),
            or_dash(row.driving_v, 1),
            or_dash(row.cold_driving_v, 1),
            banded(Some(row.left_kwh), band.map(|b| b.left_kwh), 1),
            number(row.cold_left_kwh, 1),
            banded(km(row.range_km), km(band.and_then(|b| b.range_km)), 0),
            or_dash(km(row.cold_range_km), 0),
        ]);
    }
    output.table(&table)?;
    let amps = |a: Option<f64>| a.map_or("not held".to_owned(), |a| format!("{} A", number(a, 0)));
    output.text(format!(
        "Driving: at a steady {} on the level, long enough for the voltage to settle: {} warm (cells at \
         {}), {} at the start of \"{}\" (cells at {}).",
        units.speed(card.at_kmh, 0),
        amps(card.at_a),
        units.temperature(card.cells_c),
        amps(card.cold_at_a),
        card.cold_day,
        units.temperature(card.cold_cells_c)
    ))?;
    let wh = |wh: Option<f64>| wh.map_or("not known".to_owned(), |wh| units.consumption(wh));
    output.text(format!(
        "kWh left: in the cells, down to the charge at which the weakest ends the trip. Range: by what {} \
         takes from the cells, {}, and {} on the cold day.",
        card.road,
        wh(card.road_wh_per_km),
        wh(card.cold_road_wh_per_km)
    ))?;
    if let Some(note) = &card.road_note {
        output.text(format!("{note}."))?;
    }
    if let Some(bands) = &report.bands {
        output.said(format!(
            "±: half of what lies between the lowest and the highest tenth of {} cars, drawn by what was \
             measured on this one and by typical spreads of the rest.",
            bands.cars
        ))?;
    }
    match card.flat_pct {
        Some([from, to]) => output.said(format!(
            "Between {from:.0} and {to:.0} % the rested voltage tells next to nothing of the charge: a \
             meter that is {} % off reads the same all over. Go by counted ampere hours there, and set the \
             counter at a full charge.",
            card.read_within_pct
        )),
        None => output.said(format!(
            "The rested voltage tells the charge, within what a meter that is {} % off reads.",
            card.read_within_pct
        )),
    }
}

/// What becomes of a speed.
fn fate(row: &SpeedRow) -> String {
    match (row.held, row.minutes, row.by) {
        (false, _, Some(by)) => format!("not held: {by}"),
        (true, Some(_), Some(by)) if by.0.is_an_exhausted_pack() => {
            "until the pack is empty, before it settles".to_owned()
        }
        (true, Some(minutes), Some(by)) => format!("{} min: {by}", number(minutes, 0)),
        (false, ..) => "not held".to_owned(),
        _ => "until the pack is empty".to_owned(),
    }
}

fn speeds(report: &Report, output: &mut Output) -> Result<(), Failure> {
    let (card, units) = (&report.card, output.units);
    let wh = format!(">{}", units.consumption_unit());
    let per_kwh = match units {
        Units::Metric => ">km/kWh",
        Units::Us => ">mi/kWh",
    };
    let headings = [
        ">",
        ">gear",
        ">rpm",
        ">kW",
        ">A",
        &wh,
        per_kwh,
        "held",
        ">motor",
        ">controller",
        ">cells",
    ];
    let mut table = Table::new(&headings);
    for (i, row) in card.speeds.iter().enumerate() {
        let band =
            report.bands.as_ref().and_then(|bands| bands.speeds_kw.get(i)).copied().flatten();
        let c = |c: Option<f64>| c.map_or_else(|| or_dash(None, 0), |c| units.temperature(c));
        let per_kwh = row.wh_per_km.filter(|wh| *wh > 0.0).map(|wh| match units {
            Units::Metric => units::wh_from_kwh(1.0) / wh,
            Units::Us => units::mi_per_kwh_from_wh_per_km(wh),
        });
        let decimals = usize::from((row.speed_kmh - row.speed_kmh.round()).abs() > 0.04);
        table.row([
            units.speed(row.speed_kmh, if units == Units::Us { 0 } else { decimals }),
            row.gear.to_string(),
            number(row.motor_rpm, 0),
            banded(row.power_kw, band, 1),
            or_dash(row.pack_a, 0),
            or_dash(row.wh_per_km.map(|wh| units.value(wh, "Wh/km")), 0),
            or_dash(per_kwh, 1),
            fate(row),
            c(row.winding_c),
            c(row.heat_sink_c),
            c(row.cells_c),
        ]);
    }
    output.table(&table)?;
    output.said(format!(
        "At the pack, run warm, half charged, air at {:.0} °C. Temperatures: where winding and heat sink \
         settle, and cells by the time a full pack is empty; none where they do not settle below the \
         warning.",
        card.air_c
    ))
}

fn fuel(card: &ReadingsReport, output: &mut Output) -> Result<(), Failure> {
    let mut table = Table::new(&["needle", ">usable", ">charge", ">rested", ">left"]);
    for row in &card.fuel {
        table.row([
            row.needle.to_owned(),
            format!("{} %", number(row.usable_pct, 0)),
            format!("{} %", number(row.charge_pct, 0)),
            format!("{} V", number(row.rested_v, 1)),
            format!("{} kWh", number(row.left_kwh, 1)),
        ]);
    }
    output.table(&table)?;
    let told = match card.flat_pct {
        Some(_) => "Feed it from counted ampere hours, not from the voltage.",
        None => "Fed from the voltage it falls while the car pulls, and comes back at rest.",
    };
    output.said(told)?;
    if card.cold_empty_pct >= 100.0 {
        output.said(format!(
            "Cells at {:.0} °C give nothing, wherever the needle stands.",
            card.cold_cells_c
        ))?;
    } else if card.cold_empty_pct >= 1.0 {
        output.said(format!(
            "With cells at {:.0} °C the pack is empty with the needle at {:.0} % of the scale.",
            card.cold_cells_c, card.cold_empty_pct
        ))?;
    }
    Ok(())
}

fn heat(card: &ReadingsReport, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    let liquid = card.heat.iter().any(|row| row.coolant_c.is_some());
    let mut headings = vec!["needle", ">motor winding", ">controller"];
    if liquid {
        headings.push(">coolant");
    }
    headings.push("where that is");
    let red = |shown: String, row: &HeatNeedle, part: &str| {
        let is_assumed = row.needle.starts_with("red") && card.heat_assumed.contains(&part);
        if is_assumed { format!("{shown}, assumed") } else { shown }
    };
    let mut table = Table::new(&headings);
    for row in &card.heat {
        let mut cells = vec![
            row.needle.to_owned(),
            red(units.temperature(row.winding_c), row, "motor"),
            red(units.temperature(row.heat_sink_c), row, "controller"),
        ];
        if liquid {
            cells.push(row.coolant_c.map_or_else(|| or_dash(None, 0), |c| units.temperature(c)));
        }
        cells.push(row.why.clone());
        table.row(cells);
    }
    output.table(&table)?;
    if !card.heat_assumed.is_empty() {
        output.said(format!(
            "The red of {} is typical of its class: ask the maker before it is painted.",
            card.heat_assumed.join(" and ")
        ))?;
    }
    output.said("A sensor on the housing shows less than the winding has: set its red lower.")
}

fn gaps(card: &ReadingsReport, output: &mut Output) -> Result<(), Failure> {
    let mut table = Table::new(&[
        ">charge",
        ">rest, low",
        ">high",
        ">gap",
        ">worry from",
        ">load, low",
        ">high",
        ">gap",
        ">worry from",
    ]);
    let mv = |mv: f64| format!("{} mV", number(mv, 0));
    let worry = |at: Option<f64>| at.map_or_else(|| "tells nothing".to_owned(), mv);
    for row in &card.gaps {
        table.row([
            format!("{} %", number(row.charge_pct, 0)),
            format!("{} V", number(row.rest_low_v, 3)),
            number(row.rest_high_v, 3),
            mv(row.rest_gap_mv),
            worry(row.rest_worry_mv),
            format!("{} V", number(row.load_low_v, 3)),
            number(row.load_high_v, 3),
            mv(row.load_gap_mv),
            worry(row.load_worry_mv),
        ]);
    }
    output.table(&table)?;
    output.said(format!(
        "Load: a steady {:.0} A{}, warm. Worry: where the weakest cell is twice as far behind in capacity and \
         resistance as the build says; \"tells nothing\" where that moves the gap by less than the {:.0} mV \
         that two readings may be apart, as on the flat part of a cell's curve. No cell under {} V or over \
         {} V, ever.",
        card.gap_a,
        card.gap_kmh.map_or_else(String::new, |kmh| format!(" as at {kmh:.0} km/h")),
        card.gap_read_mv,
        card.cell_min_v,
        card.cell_max_v
    ))
}
