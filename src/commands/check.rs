//! `check`: what was understood.

use crate::failure::{Failure, of};
use crate::input::Input;
use crate::measure::{Units, number};
use crate::output::Output;
use crate::picture_file::{PictureArg, save_tractive};
use crate::table::Table;
use scenarios::basis::{KnownAlike, known_alike};
use scenarios::build::{MassLine, Reason};
use scenarios::learnt::{LearntFrom, LearntInput, Measure};
use scenarios::motor::ShortTimeLine;
use scenarios::price::PriceSum;
use scenarios::runs::gearing::{self, GearRow};
use scenarios::studies::uncertain::Uncertain;
use scenarios::taken_in::Measured;
use scenarios::{Assumption, Prepared, Severity, Warning, short_path, units};
use schemars::JsonSchema;
use serde::Serialize;
use serde_json::Value;

/// Arguments of `check`.
#[derive(Debug, Default, clap::Args)]
pub struct Args {
    #[command(flatten)]
    input: Input,

    #[command(flatten)]
    picture: PictureArg,
}

/// What was understood.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Report<'a> {
    pub file: &'a str,
    pub name: &'a str,
    pub mass: Masses<'a>,
    /// What the parts cost, where any of them has a price.
    pub prices: Option<PriceSum>,
    motor: Motor<'a>,
    pack: Pack<'a>,
    pub gears: Vec<GearRow>,
    rolling_radius_m: f64,
    pub assumptions: Vec<Assumption>,
    /// The numbers that bands draw, by how well they are known.
    #[serde(skip_serializing_if = "Option::is_none")]
    known: Option<Vec<KnownAlike>>,
    /// What was measured and stands in the car.
    measured: Vec<MeasuredFile>,
    pub warnings: Vec<Warning>,
    input: &'a Value,
}

/// What was measured together.
#[derive(Debug, Serialize, JsonSchema)]
struct MeasuredFile {
    file: String,
    from: LearntFrom,
    date: String,
    inputs: Vec<LearntInput>,
}

#[derive(Debug, Serialize, JsonSchema)]
pub struct Masses<'a> {
    lines: &'a [MassLine],
    donor_kg: f64,
    unladen_kg: f64,
    running_kg: f64,
    gross_max_kg: Option<f64>,
    front_axle_kg: f64,
    front_axle_max_kg: Option<f64>,
    rear_axle_kg: f64,
    rear_axle_max_kg: Option<f64>,
    front_share_pct: f64,
}

#[derive(Debug, Serialize, JsonSchema)]
pub struct Motor<'a> {
    name: &'a str,
    peak_torque_nm: f64,
    peak_power_kw: f64,
    base_rpm: f64,
    max_rpm: f64,
    reference_v: f64,
    peak_current_a: f64,
    continuous_power_kw: Option<f64>,
    continuous_rpm: Option<f64>,
    warning_c: f64,
    cut_off_c: f64,
    winding_kj_per_k: f64,
    housing_kj_per_k: f64,
    winding_to_housing_w_per_k: f64,
    short_time: Option<ShortTimeLine>,
}

#[derive(Debug, Serialize, JsonSchema)]
pub struct Pack<'a> {
    name: &'a str,
    cell: &'a str,
    series: f64,
    parallel: f64,
    empty_v: f64,
    full_v: f64,
    capacity_ah: f64,
    usable_kwh: f64,
    discharge_a: f64,
    discharge_peak_a: f64,
    charge_a: f64,
    charge_peak_a: f64,
    /// Its boxes, as they are stated; only of a pack in boxes.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schemars(with = "Option<Vec<BoxLine>>")]
    boxes: Vec<BoxLine>,
}

/// A box of the pack.
#[derive(Debug, Serialize, JsonSchema)]
pub struct BoxLine {
    name: String,
    /// Cells in series.
    series: f64,
    /// Strings in parallel.
    parallel: f64,
    /// With its cells, kg.
    mass_kg: f64,
    behind_front_axle_m: f64,
    capacity_ah: f64,
    /// What is drawn from its cells until the first box is empty.
    usable_kwh: f64,
    /// What then is left in them that they could give.
    unused_kwh: f64,
    /// Whether it is the one that is empty first.
    is_empty_first: bool,
}

impl BoxLine {
    fn of(prepared: &Prepared) -> Vec<Self> {
        let (pack, at_k) = (&prepared.car.parts().pack, &prepared.start.temperature_k);
        let weakest = pack.empty_first(at_k).stated;
        // Of equal boxes none is first.
        let is_one = pack.boxes().any(|(own, _)| pack.energy_in_j(own, at_k).1 > 1.0);
        let lines = prepared.facts.masses.iter().filter(|line| line.item.starts_with("pack, "));
        let all = prepared.facts.boxes.iter().zip(lines).enumerate();
        let found = all.filter_map(|(i, (name, line))| {
            let (own, _) = pack.boxes().find(|(own, _)| own.stated == i)?;
            let (used_j, unused_j) = pack.energy_in_j(own, at_k);
            Some(Self {
                name: name.clone(),
                series: own.series,
                parallel: own.parallel,
                mass_kg: line.mass_kg,
                behind_front_axle_m: line.behind_front_axle_m,
                capacity_ah: units::ah_from_as(own.capacity_as()),
                usable_kwh: units::kwh_from_j(used_j),
                unused_kwh: units::kwh_from_j(unused_j),
                is_empty_first: is_one && i == weakest,
            })
        });
        found.collect()
    }
}

impl MeasuredFile {
    fn of(Measured { file, from, date, inputs, .. }: Measured) -> Self {
        Self { file, from, date, inputs }
    }
}

impl<'a> Report<'a> {
    /// Of a prepared scenario.
    pub fn new(prepared: &'a Prepared) -> Result<Self, Failure> {
        let Prepared { car, facts, start, .. } = prepared;
        let parts = car.parts();
        let (chassis, motor, pack) = (&parts.chassis, &parts.motor, &parts.pack);
        let envelope = &motor.machine.envelope;
        let donor = facts.masses.iter().filter(|line| line.reason == Reason::Donor);
        Ok(Self {
            file: &prepared.file,
            name: &prepared.name,
            mass: Masses {
                lines: &facts.masses,
                donor_kg: donor.map(|line| line.mass_kg).sum(),
                unladen_kg: facts.unladen_kg,
                running_kg: chassis.mass_kg,
                gross_max_kg: facts.gross_mass_kg,
                front_axle_kg: chassis.front_axle_kg(),
                front_axle_max_kg: facts.front_axle_max_kg,
                rear_axle_kg: chassis.rear_axle_kg(),
                rear_axle_max_kg: facts.rear_axle_max_kg,
                front_share_pct: units::pct_of(chassis.front_axle_kg(), chassis.mass_kg),
            },
            prices: prepared.scenario.build.price_sum(&prepared.prices),
            motor: Motor {
                name: &facts.motor,
                peak_torque_nm: envelope.largest_nm(),
                peak_power_kw: units::kw_from_w(envelope.largest_w()),
                base_rpm: units::rpm_from_radps(envelope.base_radps),
                max_rpm: units::rpm_from_radps(motor.max_radps),
                reference_v: envelope.reference_v,
                peak_current_a: motor.machine.peak_current_a,
                continuous_power_kw: facts.continuous_w.map(units::kw_from_w),
                continuous_rpm: facts.continuous_radps.map(units::rpm_from_radps),
                warning_c: units::c_from_k(motor.derating.warning_k),
                cut_off_c: units::c_from_k(motor.derating.cut_off_k),
                winding_kj_per_k: units::kj_from_j(motor.thermal.winding_j_per_k),
                housing_kj_per_k: units::kj_from_j(motor.thermal.housing_j_per_k),
                winding_to_housing_w_per_k: motor.thermal.winding_to_housing_w_per_k,
                short_time: prepared.scenario.build.motor.short_time(motor),
            },
            pack: Pack {
                name: &facts.pack,
                cell: &facts.cell,
                series: pack.cells_in_series(),
                parallel: pack.parallel,
                empty_v: pack.rested_v(pack.min_charge),
                full_v: pack.rested_v(pack.max_charge),
                capacity_ah: units::ah_from_as(pack.capacity_as()),
                usable_kwh: units::kwh_from_j(pack.usable_at_j(&start.temperature_k)),
                discharge_a: pack.discharge_a(),
                discharge_peak_a: pack.discharge_peak_a(),
                charge_a: pack.charge_a(),
                charge_peak_a: pack.charge_peak_a(),
                boxes: BoxLine::of(prepared),
            },
            gears: gearing::table(&prepared.setup()),
            rolling_radius_m: parts.rolling_radius_m,
            assumptions: prepared.all_assumptions()?,
            known: None,
            measured: prepared.measured().into_iter().map(MeasuredFile::of).collect(),
            warnings: prepared.warnings(),
            input: &prepared.echo,
        })
    }
}

/// Checks a file.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    let loaded = args.input.load()?;
    let prepared = loaded.prepare().map_err(of("--set"))?;
    let frame = args.picture.begin_for(&prepared)?;
    let mut report = Report::new(&prepared)?;
    if let Ok(uncertain) = Uncertain::new(&loaded, &[], true) {
        let inputs = uncertain.inputs.iter();
        let numbers =
            inputs.flat_map(|one| one.paths().map(|path| (one.spread.name.as_str(), path)));
        report.known = Some(known_alike(&prepared, numbers));
    }
    let changed = prepared.taken_in.changed_sources();
    report.warnings.extend(changed.into_iter().map(Warning::doubt));
    let report = prepared.vouched(report)?;
    save_tractive(frame, &prepared, output.units)?;
    if output.json {
        return output.document(&report);
    }
    output.line(format!("{} ({})", report.name, report.file))?;
    masses(&report.mass, output)?;
    prices(report.prices.as_ref(), output)?;
    drive(&prepared, &report, output)?;
    gears(&report.gears, output)?;
    assumptions(&report.assumptions, output)?;
    known(&report.known, output)?;
    measured(&report.measured, output)?;
    warnings(&report.warnings, output)
}

fn masses(mass: &Masses, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    output.heading("Masses")?;
    let mut table = Table::new(&["", "what", ">mass", ">behind front axle"]);
    for line in mass.lines {
        let why = match line.reason {
            Reason::Donor => "donor",
            Reason::Removed => "removed",
            Reason::Drive => "drive",
            Reason::Added => "added",
            Reason::Load => "load",
        };
        table.row([
            why.to_owned(),
            line.item.clone(),
            units.mass(line.mass_kg),
            units.place(line.behind_front_axle_m),
        ]);
    }
    output.table(&table)?;
    axles(mass, output)
}

/// What the parts cost, where any of them has a price.
pub fn prices(sum: Option<&PriceSum>, output: &mut Output) -> Result<(), Failure> {
    let Some(sum) = sum else { return Ok(()) };
    let money = |value: f64| number(value, if value.fract() == 0.0 { 0 } else { 2 });
    let currency = sum.currency.as_deref().map(|name| format!(", {name}")).unwrap_or_default();
    output.heading(format!("What the parts cost{currency}"))?;
    let mut table = Table::new(&["", ">price"]);
    for part in &sum.parts {
        let sold = if part.price.is_some_and(|price| price < 0.0) { "sold: " } else { "" };
        table.row([format!("{sold}{}", part.part), part.price.map(money).unwrap_or_default()]);
    }
    table.row(["all of these".to_owned(), money(sum.price)]);
    output.table(&table)?;
    if !sum.without.is_empty() {
        let parts: Vec<&str> = sum.without.iter().map(|part| part.part.as_str()).collect();
        output.text(format!("Without a price, and not in the sum: {}.", parts.join(", ")))?;
    }
    Ok(())
}

/// The same in a sentence.
pub fn prices_in_short(sum: Option<&PriceSum>, output: &mut Output) -> Result<(), Failure> {
    let Some(sum) = sum else { return Ok(()) };
    output.heading("Price")?;
    let currency = sum.currency.as_deref().map(|name| format!(" {name}")).unwrap_or_default();
    let without = match sum.without.len() {
        0 => String::new(),
        1 => format!(", without {}, which has no price", sum.without[0].part),
        n => format!(", without {n} parts that have no price (`check` names them)"),
    };
    let price = number(sum.price, if sum.price.fract() == 0.0 { 0 } else { 2 });
    let parts = if sum.parts.len() == 1 { "1 part" } else { &format!("{} parts", sum.parts.len()) };
    output.text(format!("{parts}: {price}{currency}{without}."))
}

/// The axle loads against what is permitted.
pub fn axles(mass: &Masses, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    output.heading("Axle loads")?;
    let mut table = Table::new(&["", ">as driven", ">permitted", ""]);
    let unladen = ("without load", mass.unladen_kg, None);
    let running = ("as driven", mass.running_kg, mass.gross_max_kg);
    let front = ("front axle", mass.front_axle_kg, mass.front_axle_max_kg);
    let rear = ("rear axle", mass.rear_axle_kg, mass.rear_axle_max_kg);
    for (name, kg, most) in [unladen, running, front, rear] {
        let (permitted, verdict) = match most {
            Some(most) if kg > most => (units.mass(most), "too much"),
            Some(most) => (units.mass(most), "within"),
            None => (String::new(), ""),
        };
        table.row([name.to_owned(), units.mass(kg), permitted, verdict.to_owned()]);
    }
    output.table(&table)
}

/// A section of the report.
pub fn drive(prepared: &Prepared, report: &Report, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    let (motor, pack) = (&report.motor, &report.pack);
    output.heading("Drive")?;
    let mut table = Table::new(&["", ""]);
    let continuous = match (motor.continuous_power_kw, motor.continuous_rpm) {
        (Some(kw), Some(rpm)) => {
            format!(", {} continuous at {} rpm", units.power(kw, 1), number(rpm, 0))
        }
        _ => String::new(),
    };
    table.row([
        "motor".to_owned(),
        format!(
            "{}: {} up to {} rpm, {} at {} V{continuous}, up to {} rpm",
            motor.name,
            units.torque(motor.peak_torque_nm),
            number(motor.base_rpm, 0),
            units.power(motor.peak_power_kw, 1),
            number(motor.reference_v, 0),
            number(motor.max_rpm, 0),
        ),
    ]);
    table.row([
        "motor heat".to_owned(),
        format!(
            "winding {}, housing {}, {} between; cuts back from {} to {}",
            units.of(motor.winding_kj_per_k, "kJ/K", 1),
            units.of(motor.housing_kj_per_k, "kJ/K", 1),
            units.of(motor.winding_to_housing_w_per_k, "W/K", 1),
            units.bare_temperature(motor.warning_c),
            units.temperature(motor.cut_off_c),
        ),
    ]);
    if let Some(line) = &motor.short_time {
        table.row(["short time".to_owned(), short_time(line, output)]);
    }
    let controller = &prepared.car.parts().controller;
    table.row([
        "controller".to_owned(),
        format!(
            "{}: {} A to the motor, {} A from the pack, {} A back into it, {} to {} V",
            prepared.facts.controller,
            number(controller.motor_current_a, 0),
            number(controller.pack_current_a, 0),
            number(controller.pack_regen_current_a, 0),
            number(controller.min_v, 0),
            number(controller.max_v, 0),
        ),
    ]);
    table.row([
        "pack".to_owned(),
        format!(
            "{}: {}, {} to {} V, {} Ah, {} kWh to use",
            pack.name,
            cells_of(pack),
            number(pack.empty_v, 0),
            number(pack.full_v, 0),
            number(pack.capacity_ah, 0),
            number(pack.usable_kwh, 1),
        ),
    ]);
    for own in &pack.boxes {
        let end = if own.is_empty_first { ", empty first" } else { "" };
        table.row([
            own.name.clone(),
            format!(
                "{} × {}, {} at {}, {} Ah, {} kWh to use{end}, {} kWh stay unused",
                own.series,
                own.parallel,
                units.mass(own.mass_kg),
                units.place(own.behind_front_axle_m),
                number(own.capacity_ah, 0),
                number(own.usable_kwh, 1),
                number(own.unused_kwh, 1),
            ),
        ]);
    }
    table.row([
        "pack currents".to_owned(),
        format!(
            "out {} A, {} A for a while; in {} A, {} A for a while",
            number(pack.discharge_a, 0),
            number(pack.discharge_peak_a, 0),
            number(pack.charge_a, 0),
            number(pack.charge_peak_a, 0),
        ),
    ]);
    table.row([
        "gearbox".to_owned(),
        format!(
            "{}, wheels of {} rolling radius",
            prepared.facts.gearbox,
            units.place(report.rolling_radius_m)
        ),
    ]);
    output.table(&table)
}

/// Motor, controller and pack in a few words each.
pub fn in_short(prepared: &Prepared, report: &Report, units: Units) -> Vec<[String; 2]> {
    let (motor, pack) = (&report.motor, &report.pack);
    let controller = &prepared.car.parts().controller;
    let continuous = motor
        .continuous_power_kw
        .map_or_else(String::new, |kw| format!(", {} continuous", units.power(kw, 1)));
    let of_motor = format!(
        "{}: {} peak, {} at {} V{continuous}",
        motor.name,
        units.torque(motor.peak_torque_nm),
        units.power(motor.peak_power_kw, 1),
        number(motor.reference_v, 0)
    );
    let of_controller = format!(
        "{}: {} A to the motor, {} A from the pack",
        prepared.facts.controller,
        number(controller.motor_current_a, 0),
        number(controller.pack_current_a, 0)
    );
    let of_pack = format!(
        "{}: {}, {} V full, {} kWh usable, {} A continuous, {} A peak",
        pack.name,
        match pack.boxes.len() {
            0 => format!("{} × {}", pack.series, pack.parallel),
            _ => cells_of(pack),
        },
        number(pack.full_v, 0),
        number(pack.usable_kwh, 1),
        number(pack.discharge_a, 0),
        number(pack.discharge_peak_a, 0)
    );
    [("motor", of_motor), ("controller", of_controller), ("pack", of_pack)]
        .map(|(what, text)| [what.to_owned(), text])
        .into()
}

/// What the nameplate's short-time line comes to, and whether it is believed.
fn short_time(line: &ShortTimeLine, output: &Output) -> String {
    let stated =
        format!("{} for {} min", output.units.power(line.power_kw, 1), number(line.minutes, 0));
    let verdict = if line.believed { "believed" } else { "not believed" };
    let limit = output.units.temperature(line.limit_c);
    match line.lasts_min {
        Some(minutes) => {
            let minutes = number(minutes, 0);
            format!(
                "{stated}, {verdict}: by mass and continuous rating {limit} comes at {minutes} min"
            )
        }
        None => format!("{stated}, {verdict}: it never comes to {limit}"),
    }
}

fn gears(gears: &[GearRow], output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    output.heading("Gearing")?;
    let mut table = Table::new(&[
        ">gear",
        ">ratio",
        ">per 1000 rpm",
        ">highest by rpm",
        ">force at rest",
        ">launch grade",
    ]);
    for row in gears {
        table.row([
            row.gear.to_string(),
            number(row.overall_ratio, 2),
            units.speed(row.kmh_per_krpm, 1),
            units.speed(row.top_by_rpm_kmh, 0),
            units.force(row.peak_force_n),
            format!("{} %", number(row.steepest_start_pct, 0)),
        ]);
    }
    output.table(&table)
}

/// A section of the report.
pub fn assumptions(assumptions: &[Assumption], output: &mut Output) -> Result<(), Failure> {
    output.heading("Assumptions")?;
    if assumptions.is_empty() {
        return output.line("none: the files say everything");
    }
    let mut table = Table::new(&["field", "value", "why"]);
    for assumption in assumptions {
        let said = |text: &str| output.units.said(text);
        table.row([assumption.path.clone(), said(&assumption.value), said(&assumption.reason)]);
    }
    output.table(&table)
}

fn known(known: &Option<Vec<KnownAlike>>, output: &mut Output) -> Result<(), Failure> {
    let Some(known) = known else { return Ok(()) };
    output.heading("How well the numbers are known that bands draw")?;
    let mut table = Table::new(&["", "what", "stands in"]);
    for one in known {
        table.row([one.known.name().to_owned(), one.names.join(", "), one.stands_in.clone()]);
    }
    output.table(&table)
}

fn measured(files: &[MeasuredFile], output: &mut Output) -> Result<(), Failure> {
    for MeasuredFile { file, from, date, inputs } in files {
        output.heading(format!("Measured: {}, {date} ({file})", from.name()))?;
        let mut table = Table::new(&["", "field", ">is", ">moved", ">±", ">typical ±"]);
        for input in inputs {
            let sign = if input.measure == Measure::Percent { " %" } else { "" };
            let shown = |value: f64| format!("{}{sign}", number(value, decimals(value)));
            let first = input.fields.first();
            let moved = match input.measure {
                Measure::Percent | Measure::Offset => Some(input.shift),
                Measure::Value => first.and_then(|field| Some(field.value - field.was?)),
            };
            let signed = |moved: f64| {
                let plus = if moved > 0.0 { "+" } else { "" };
                format!("{plus}{}", shown(moved))
            };
            let more = match input.fields.len() {
                1 => String::new(),
                n => format!(" and {} more", n - 1),
            };
            let path = first.map_or("", |field| short_path(&field.path));
            table.row([
                input.name.clone(),
                format!("{path}{more}"),
                first.map_or_else(String::new, |field| number(field.value, decimals(field.value))),
                moved.map_or_else(String::new, signed),
                shown(2.0 * input.sd),
                input.typical_sd.map_or_else(String::new, |sd| shown(2.0 * sd)),
            ]);
        }
        output.table(&table)?;
    }
    Ok(())
}

/// Decimals for three digits, of numbers of any size.
fn decimals(value: f64) -> usize {
    match value.abs() {
        0.0 => 0,
        size => (2.0 - size.log10().floor()).clamp(0.0, 8.0) as usize,
    }
}

/// A section of the report.
pub fn warnings(warnings: &[Warning], output: &mut Output) -> Result<(), Failure> {
    output.heading("Warnings")?;
    if warnings.is_empty() {
        return output.line("none: the parts belong together");
    }
    let mut table = Table::new(&["", ""]);
    for warning in warnings {
        let word = match warning.severity {
            Severity::Danger => "danger",
            Severity::Doubt => "doubt",
            Severity::Limit => "limit",
            Severity::Waste => "note",
        };
        table.row([word.to_owned(), output.units.said(&warning.text)]);
    }
    output.table(&table)
}

/// How many cells a pack has, and of which kind.
fn cells_of(pack: &Pack<'_>) -> String {
    match pack.boxes.len() {
        0 => format!("{} × {} of {}", pack.series, pack.parallel, pack.cell),
        count => format!("{} cells in series in {count} boxes", pack.series),
    }
}
