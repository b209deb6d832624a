//! `electrics`: what the wiring must carry, and what is to be asked of its parts.

use crate::commands::check;
use crate::commands::climb::HillArgs;
use crate::failure::Failure;
use crate::input::Input;
use crate::measure::{Units, clock, number, or_dash};
use crate::output::Output;
use crate::picture_file::PictureArg;
use crate::pictures::{self, Look};
use crate::road::{RoadArgs, say_notes};
use crate::table::Table;
use scenarios::outlet::Outlet;
use scenarios::runs::electrics::{
    self, CableReport, CaseReport, Duty, ElectricsReport, Governing, LargestReport, Lead,
    LeadReport, Wish,
};

/// Arguments of `electrics`. What is left out comes from the scenario's climb and road.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    input: Input,

    #[command(flatten)]
    hill: HillArgs,

    #[command(flatten)]
    road: RoadArgs,

    /// A socket by volts and amperes, such as `240v-40a` or `230v-16a`; left out, the smallest that
    /// gives all that the charger takes.
    #[arg(long, value_name = "NAME", add = crate::completing::sockets())]
    socket: Option<String>,

    #[command(flatten)]
    picture: PictureArg,
}

/// Watches the leads.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    let prepared = args.input.prepare()?;
    let asked = args.hill.asked();
    let hill = asked.then(|| args.hill.hill(&prepared, false, output.units)).transpose()?;
    let outlet = args.socket.as_deref().map(Outlet::named).transpose()?;
    let road = args.road.load(&prepared)?;
    let plan = Wish { climb: hill, outlet };
    let frame = args.picture.begin(&args.road.files(&prepared))?;
    let report = electrics::report(&prepared, &road.name, &road.trace, &plan)?;
    let report = prepared.vouched(report)?;
    if let Some(frame) = frame {
        let look = Look::wide(&prepared.name, output.units);
        frame.save(&pictures::electrics::picture(&report, None, look))?;
    }
    if output.json {
        return output.document(&report);
    }
    output.text(format!("{}: what the wiring must carry", prepared.name))?;
    say_notes(&road, output)?;
    show(&report, output)
}

/// Tells all of it.
pub fn show(report: &ElectricsReport, output: &mut Output) -> Result<(), Failure> {
    cases(report, output)?;
    leads(report, output)?;
    how(report, output)?;
    by_run(report, Lead::Pack, output)?;
    by_run(report, Lead::Motor, output)?;
    low_voltage(report, output)?;
    precharge(report, output)?;
    fault(report, output)?;
    report.cables.iter().try_for_each(|cable| cables(cable, output))?;
    if !report.cables.is_empty() {
        output.said(
            "Steady: what makes this cable as warm as the run does, by its own time constant; a thick one warms \
             slowly. A conductor must stay cooler than its insulation and its lugs bear: some 70 °C of PVC, 90 °C \
             of cross-linked polyethylene, 125 to 180 °C of thin-wall and silicone cables of cars (from \
             memory), with a margin for bundles and hot places.",
        )?;
    }
    asks(report, output)?;
    check::assumptions(&report.assumptions, output)?;
    output.heading("Not modelled")?;
    report.not_modelled.iter().try_for_each(|line| output.said(format!("- {line}")))?;
    output.heading("Cautions")?;
    report.cautions.iter().try_for_each(|line| output.said(format!("- {line}")))
}

/// The parts of it that stand on a page beside all else: the largest currents and what to ask of parts.
pub fn show_on_page(report: &ElectricsReport, output: &mut Output) -> Result<(), Failure> {
    cases(report, output)?;
    leads(report, output)?;
    asks(report, output)
}

/// What was driven, in the units of the tables; the name of a road stays as it is.
fn words(case: &CaseReport, units: Units) -> String {
    match case.case {
        Duty::Road | Duty::WarmRoad => case.words.clone(),
        _ => units.said(&case.words),
    }
}

fn cases(report: &ElectricsReport, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    let mut table = Table::new(&["run", "what is driven", ">lasts"]);
    for case in &report.cases {
        let what = match (&case.not_done, case.lasted_s) {
            (Some(why), None) => format!("not driven: {}", units.said(why)),
            (Some(why), Some(_)) => format!("{}; {}", words(case, units), units.said(why)),
            (None, _) => words(case, units),
        };
        table.row([
            case.case.name().to_owned(),
            what,
            case.lasted_s.map_or_else(|| or_dash(None, 0), clock),
        ]);
    }
    output.table(&table)?;
    if let Some(said) = &report.cold_cells {
        output.said(format!("! {said}"))?;
    }
    let undriven: Vec<&str> = report.undriven().map(Duty::name).collect();
    if undriven.is_empty() {
        return Ok(());
    }
    output.said(format!(
        "DANGER: not driven as asked: {}. What follows is too little for a car that does it: buy no fuse, \
         contactor or cable by it before `check` and these runs are in order.",
        undriven.join(", ")
    ))
}

/// `1 s`, `10 min`.
fn window(window_s: f64) -> String {
    if window_s < 60.0 {
        format!("{} s", number(window_s, 0))
    } else {
        format!("{} min", number(window_s / 60.0, 0))
    }
}

/// Amperes as they are bought.
fn amps(a: f64) -> String {
    number(a, if a < 20.0 { 1 } else { 0 })
}

fn governing(found: &Option<Governing>) -> String {
    match found {
        Some(found) => {
            let mark = if found.covered { "" } else { "*" };
            format!("{}{mark} {}", amps(found.amps), found.case.name())
        }
        None => or_dash(None, 0),
    }
}

fn leads(report: &ElectricsReport, output: &mut Output) -> Result<(), Failure> {
    type Of = fn(&LargestReport) -> &Option<Governing>;
    let tables: [(&str, Of); 2] = [
        ("Largest root mean square current, A, and the run that it was in", |of| &of.rms),
        ("Largest mean current, A, and the run that it was in", |of| &of.mean),
    ];
    for (heading, of) in tables {
        output.heading(heading)?;
        let windows = report.leads.first().map(|lead| &lead.largest[..]).unwrap_or_default();
        let mut headings = vec!["lead".to_owned()];
        headings.extend(windows.iter().map(|of| format!(">{}", window(of.window_s))));
        let headings: Vec<&str> = headings.iter().map(String::as_str).collect();
        let mut table = Table::new(&headings);
        for lead in &report.leads {
            let cells = lead.largest.iter().map(|largest| governing(of(largest)));
            table.row(std::iter::once(lead.name.to_owned()).chain(cells));
        }
        output.table(&table)?;
    }
    let ends_sooner = report.leads.iter().flat_map(|lead| &lead.largest);
    let is_short = |found: &Option<Governing>| found.as_ref().is_some_and(|it| !it.covered);
    if ends_sooner.clone().any(|of| is_short(&of.rms) || is_short(&of.mean)) {
        output.said(
            "* That run ends sooner; for the rest of the time the car is taken as standing. Whoever \
             drives on asks more.",
        )?;
    }
    output.said(
        "Both count current either way: regen and charger heat a cable too. Fuses, cables and contactors \
         go by the root mean square. Only these runs were driven: a longer or steeper hill, more load or \
         a faster road asks more (--grade, --speed, --for, --cycle).",
    )?;
    Ok(())
}

fn how(report: &ElectricsReport, output: &mut Output) -> Result<(), Failure> {
    output.heading("What the currents are")?;
    for lead in &report.leads {
        output.said(format!("- {}: {}.{}", lead.name, lead.how, limits(lead)))?;
    }
    Ok(())
}

/// What a lead's parts allow, and what flows the other way.
fn limits(lead: &LeadReport) -> String {
    let mut text = String::new();
    match (lead.lead, lead.allows_a) {
        (Lead::Pack | Lead::Motor, Some(most)) => {
            text.push_str(&format!(" The controller allows {} A.", amps(most)));
        }
        (Lead::DcDcOut, Some(most)) => {
            text.push_str(&format!(" The converter gives at most {} A.", amps(most)));
        }
        (Lead::ChargerIn, Some(most)) => {
            text.push_str(&format!(" The socket gives {} A for hours.", amps(most)));
        }
        _ => {}
    }
    if let Some(back) = &lead.back {
        let what = match lead.lead {
            Lead::Motor => "while it brakes",
            _ => "into the pack",
        };
        text.push_str(&format!(" At most {} A {what} ({}).", amps(back.amps), back.case.name()));
    }
    text
}

fn by_run(report: &ElectricsReport, lead: Lead, output: &mut Output) -> Result<(), Failure> {
    let Some(lead) = report.lead(lead) else { return Ok(()) };
    output.heading(format!("Run by run: root mean square current of the {}, A", lead.name))?;
    let windows = lead.largest.iter().map(|of| format!(">{}", window(of.window_s)));
    let ends = [">whole run", ">it lasts", ">peak", ">back"].map(str::to_owned);
    let headings: Vec<String> =
        std::iter::once("run".to_owned()).chain(windows).chain(ends).collect();
    let headings: Vec<&str> = headings.iter().map(String::as_str).collect();
    let mut table = Table::new(&headings);
    for run in &lead.runs {
        let cells = run.windows.iter().map(|of| match of.covered {
            true => amps(of.rms_a),
            false => or_dash(None, 0),
        });
        let ends = [amps(run.whole_rms_a), clock(run.lasted_s), amps(run.peak_a), amps(run.back_a)];
        table.row(std::iter::once(run.case.name().to_owned()).chain(cells).chain(ends));
    }
    output.table(&table)
}

fn low_voltage(report: &ElectricsReport, output: &mut Output) -> Result<(), Failure> {
    let balance = &report.balance;
    output.heading("12 V side")?;
    let volts = balance.held_v;
    // Where nobody said what they take while they are on, their mean must not pass for it.
    let on = |watts: f64| match balance.on_known {
        true => [number(watts, 0), number(watts / volts, 1)],
        false => [or_dash(None, 0), or_dash(None, 0)],
    };
    let mut table = Table::new(&["load", ">mean W", ">on W", ">on A"]);
    for load in &balance.loads {
        let cells = [load.item.clone(), or_dash(load.mean_w, 0)];
        table.row(cells.into_iter().chain(on(load.on_w)));
    }
    let all = ["all at once".to_owned(), number(balance.mean_w, 0)];
    table.row(all.into_iter().chain(on(balance.all_on_w)));
    output.table(&table)?;
    let typical: Vec<String> = balance
        .typical
        .iter()
        .map(|load| format!("{} {} W", load.item, number(load.on_w, 0)))
        .collect();
    let whose = if balance.listed { "What others have" } else { "The build lists none. Usual are" };
    output.said(format!("{whose} (common practice, no source): {}.", typical.join(", ")))?;
    output.said(match (balance.converter_w, balance.spare_w) {
        (Some(watts), Some(spare)) if spare >= 0.0 => format!(
            "The DC-DC converter's {} W carry all at once, with {} W to spare.",
            number(watts, 0),
            number(spare, 0)
        ),
        (Some(watts), Some(spare)) => format!(
            "The DC-DC converter's {} W lack {} W with all on at once, which the battery gives until it \
             is empty; {} W are needed on the mean.",
            number(watts, 0),
            number(-spare, 0),
            number(balance.mean_w, 0)
        ),
        _ => format!(
            "The DC-DC converter must give {} W ({} A at {} V) on the mean{}; build.wiring.dc_dc_w says \
             what it gives.",
            number(balance.mean_w, 0),
            number(balance.mean_a, 1),
            number(volts, 1),
            match balance.on_known {
                true => format!(" and {} W with all on at once", number(balance.all_on_w, 0)),
                false => String::new(),
            }
        ),
    })?;
    if !balance.on_known {
        output.said(format!(
            "What the loads take while they are on is not stated (on_w of each): all that is usual \
             together takes {} W.",
            number(balance.typical_w, 0)
        ))?;
    }
    let battery = &balance.battery;
    let all = battery
        .all_h
        .map_or_else(String::new, |h| format!(" {} h with the mean of all loads,", number(h, 1)));
    output.said(format!(
        "If the converter fails, a battery of {} A·h with {} % drawn ({} Wh over 20 h, less in less time: \
         Peukert's exponent {}, from memory) lasts{all} {} h with contactors, controller and lights alone \
         ({} W, common practice). The smallest for {} min of those has {} A·h.",
        number(battery.capacity_ah, 0),
        number(battery.drawn_pct, 0),
        number(battery.drawn_wh, 0),
        number(battery.peukert, 1),
        number(battery.lights_h, 1),
        number(battery.lights_w, 0),
        number(60.0 * battery.least_for_h, 0),
        number(battery.least_ah, 1)
    ))
}

fn precharge(report: &ElectricsReport, output: &mut Output) -> Result<(), Failure> {
    let found = &report.precharge;
    output.heading("Precharge")?;
    if let Some(needs) = found.needs {
        output.said(format!("Needed for energy and time: {needs}."))?;
    }
    if let (Some(ohm), Some(uf), Some(joules), Some(time_s)) =
        (found.resistor_ohm, found.capacitance_uf, found.energy_j, found.time_s)
    {
        let whose = if found.stated { "The resistor" } else { "None is stated; a resistor" };
        let digits = if time_s < 10.0 { 2 } else { 0 };
        output.said(format!(
            "{whose} of {} Ω fills {} µF at {} V to {} % in {} s: {} J stay in it in each attempt, \
             {} W while one follows another every {} s.",
            amps(ohm),
            number(uf, 0),
            number(found.full_v, 0),
            number(found.closes_at_pct, 0),
            number(time_s, digits),
            number(joules, 0),
            number(found.attempts_w.unwrap_or(0.0), 0),
            number(found.attempt_every_s, 0)
        ))?;
    }
    if let (Some(ohm), Some(first_a), Some(first_w)) =
        (found.resistor_ohm, found.first_a, found.first_w)
    {
        output.said(format!(
            "{} Ω begin with {} A and {} W, which stay where a load behind them stays on or the \
             capacitors are shorted: the resistor needs a time limit or a fuse of its own.",
            amps(ohm),
            number(first_a, 1),
            number(first_w, 0)
        ))?;
    }
    let closing = found.closing_a.map_or_else(String::new, |a| {
        format!(" At {} % it still closes on {} A.", number(found.closes_at_pct, 0), number(a, 0))
    });
    output.said(format!(
        "Without precharge the main contactor would close on up to {} A and may weld.{closing}",
        number(found.without_a, 0)
    ))
}

fn fault(report: &ElectricsReport, output: &mut Output) -> Result<(), Failure> {
    let found = &report.fault;
    output.heading("Short circuits")?;
    let mut table = Table::new(&[
        "pack",
        ">charge",
        ">cells",
        ">V",
        ">cells mΩ",
        ">behind the harness A",
        ">at the cells A",
    ]);
    for (name, state) in [("largest", &found.largest), ("least: cold, worn", &found.least)] {
        table.row([
            name.to_owned(),
            format!("{} %", number(state.charge_pct, 0)),
            output.units.temperature(state.cells_c),
            number(state.pack_v, 0),
            number(state.cells_mohm, 1),
            number(state.behind_harness_a, 0),
            number(state.at_cells_a, 0),
        ]);
    }
    output.table(&table)?;
    output.said(format!(
        "The largest over charge and temperature, by the resistance on the cells' sheet, which holds over a \
         second or so. In the first milliseconds cells may have {} times less (from memory): {} A at the \
         cells and {} A behind the harness are to be broken. The least with polarisation, which builds up \
         while a fuse takes its time. The harness has {} mΩ; charged, the pack has up to {} V. Inductance \
         is not modelled: the capacity to break holds up to a time constant that the sheet names.",
        number(found.first_ms_times, 1),
        number(found.breaks_at_cells_a, 0),
        number(found.breaks_behind_harness_a, 0),
        number(found.harness_mohm, 1),
        number(found.highest_v, 0)
    ))?;
    output.said(match (found.fuse_a, found.least_over_fuse) {
        (Some(amps), Some(times)) => format!(
            "The least is {} times the fuse's {} A; it takes some {} times to blow within about a second \
             (common practice, no source; its time-current curve decides).",
            number(times, 1),
            number(amps, 0),
            number(found.blows_at, 0)
        ),
        _ => format!(
            "A fuse takes some {} times its rating to blow within about a second (common practice, no \
             source; its time-current curve decides): on the least it may blow late or never, and the \
             cables must bear it. build.wiring.fuse_a says which fuse there is.",
            number(found.blows_at, 0)
        ),
    })
}

fn cables(cable: &CableReport, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    let metal = if cable.aluminium { "aluminium" } else { "copper" };
    output.heading(format!("Cables of the {}, {metal}", cable.name))?;
    let current = match cable.case {
        Some(case) => format!(
            "steady, which make a part with a time constant of 2 min as warm as the {} does",
            case.name()
        ),
        None if cable.lead == Lead::DcDcOut => {
            "what its loads or its converter can make flow".to_owned()
        }
        None => "for half an hour at the highest speed that the car holds".to_owned(),
    };
    output.said(format!(
        "{} A, {current}; {} conductors of {} each, in still air of {}, each by itself.",
        amps(cable.amps),
        cable.conductors,
        units.of(cable.length_m, "m", 1),
        units.temperature(cable.air_c)
    ))?;
    let at_fuse = cable.rows.iter().any(|row| row.at_fuse_c.is_some());
    let share = cable.rows.iter().any(|row| row.drop_pct.is_some());
    let mut headings = vec![">mm²", ">AWG for it", ">steady A", ">drop V"];
    headings.extend(share.then_some(">drop %"));
    headings.extend([">loss W", ">settles at"]);
    headings.extend(at_fuse.then_some(">at the fuse's current"));
    let mut table = Table::new(&headings);
    let settles = |c: Option<f64>| c.map_or_else(|| "burns".to_owned(), |c| units.temperature(c));
    for row in &cable.rows {
        let mark = if row.stated { "*" } else { "" };
        let mut cells = vec![
            format!("{}{mark}", row.mm2),
            row.awg.clone(),
            amps(row.amps),
            number(row.drop_v, 2),
        ];
        cells.extend(share.then(|| or_dash(row.drop_pct, 2)));
        cells.extend([number(row.loss_w, 1), settles(row.settles_c)]);
        cells.extend(at_fuse.then(|| settles(row.at_fuse_c)));
        table.row(cells);
    }
    output.table(&table)?;
    if cable.rows.iter().any(|row| row.stated) {
        output.said("* The build's own.")?;
    }
    Ok(())
}

fn asks(report: &ElectricsReport, output: &mut Output) -> Result<(), Failure> {
    output.heading("What to ask of the parts")?;
    let mut table = Table::new(&["part", "its sheet must say"]);
    for ask in &report.asks {
        table.row([ask.part.to_owned(), output.units.said(&ask.words)]);
    }
    output.table(&table)?;
    report.notes.iter().try_for_each(|note| output.said(format!("! {note}")))
}
