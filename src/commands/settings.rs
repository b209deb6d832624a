//! `settings`: what to program so that the parts protect each other.

use crate::failure::Failure;
use crate::input::Input;
use crate::measure::{Units, number, ordinal};
use crate::output::Output;
use crate::quantity;
use crate::table::Table;
use scenarios::Severity;
use scenarios::runs::settings::{self, Ask, Hardest, Place, SeriesFit, Setting, SettingsReport};

/// Arguments of `settings`.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    input: Input,

    /// Coldest cells for which they are to hold, such as `-10C`; left out, those of the coldest of
    /// the scenario's seasons, or of a typical winter.
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    coldest: Option<String>,

    /// How much the resistance of worn cells has grown over that of new ones; left out, `100%`.
    #[arg(long, value_name = "GROWTH", allow_hyphen_values = true)]
    worn: Option<String>,

    /// Charge of the charger's daily stop; left out, `80%`.
    #[arg(long, value_name = "CHARGE")]
    to: Option<String>,
}

/// Most that the resistance of a pack may have grown, % (as `pack.resistance_growth_pct`).
const MOST_GROWTH_PCT: f64 = 900.0;

/// Says what to program.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    let prepared = args.input.prepare()?;
    let mut hardest = Hardest::default();
    if let Some(text) = &args.coldest {
        hardest.cells_c = Some(quantity::temperature_c("--coldest", text, output.units)?);
    }
    if let Some(text) = &args.worn {
        hardest.growth_pct = quantity::more_pct("--worn", text, MOST_GROWTH_PCT)?;
    }
    if let Some(text) = &args.to {
        hardest.daily = quantity::share("--to", text)?;
        let empty = settings::empty(&prepared.car);
        if hardest.daily <= empty {
            return Err(Failure::Arguments(format!(
                "--to is {text}; allowed: more than the {:.0} % at which the pack is empty",
                scenarios::units::pct_from_share(empty)
            )));
        }
    }
    let report = prepared.vouched(settings::report(&prepared, &hardest)?)?;
    if output.json {
        return output.document(&report);
    }
    output.text(format!("{}: what to program", prepared.name))?;
    show(&report, output)
}

/// A value with its unit as it is typed in; temperatures in those of the tables.
fn value(setting: &Setting, of: f64, units: Units) -> String {
    let decimals = usize::from((of - of.round()).abs() > 0.004)
        + usize::from((of * 10.0 - (of * 10.0).round()).abs() > 0.04);
    match setting.unit {
        "°C" => units.temperature(of),
        unit => format!("{} {unit}", number(of, decimals)),
    }
}

/// The same of what a part bears, in fewer digits; a cell's voltage keeps them.
fn about(setting: &Setting, of: f64, units: Units) -> String {
    match setting.unit {
        "A" if of >= 20.0 => format!("{} A", number(of, 0)),
        "A" => format!("{} A", number(of, 1)),
        "V" if of >= 10.0 => format!("{} V", number(of, 1)),
        _ => value(setting, of, units),
    }
}

fn clear(setting: &Setting, ask: &Ask, units: Units) -> String {
    match setting.unit {
        "°C" => units.degrees(ask.clear),
        _ => about(setting, ask.clear, units),
    }
}

fn asked(setting: &Setting, ask: &Ask, units: Units) -> String {
    let assumed = if ask.assumed { ", assumed" } else { "" };
    format!("{} ({}{assumed})", units.said(&ask.part), about(setting, ask.limit, units))
}

fn show(report: &SettingsReport, output: &mut Output) -> Result<(), Failure> {
    output.said(format!(
        "Voltages hold down to cells at {:.0} °C ({}) and with a resistance {:.0} % over that of new ones. \
         Currents of the pack hold for warm cells, at {:.0} °C: colder ones give and take what stands under \
         \"Currents by cell temperature\", and a controller that does not know their temperature takes the \
         single numbers.",
        report.coldest_c,
        if report.coldest_given { "the coldest that were named" } else { "a typical winter" },
        report.worn_pct,
        report.warm_c
    ))?;
    report.when_coldest.iter().try_for_each(|line| output.said(format!("! {line}")))?;
    if !report.contradictions.is_empty() {
        output.heading("Parts that contradict each other")?;
        for warning in &report.contradictions {
            let mark = if warning.severity == Severity::Danger { "DANGER: " } else { "" };
            output.said(format!("- {mark}{}", warning.text))?;
        }
    }
    for place in Place::ALL {
        output.heading(format!("To be set in the {}", place.words()))?;
        of_place(report, place, output)?;
    }
    if report.pedals.is_empty() {
        output.heading("Regen by the pedals")?;
        output.said("None: motor or controller cannot brake, so both settings stand at 0.")?;
    } else {
        pedals(report, output)?;
    }
    output.heading("Currents by cell temperature")?;
    currents(report, output)?;
    output.heading("What cold worn cells give with the under-voltage settings")?;
    cold(report, output)?;
    output.heading("Cells in series")?;
    cells_in_series(report, output)?;
    output.heading("To drive with these settings")?;
    if report.drive_with.is_empty() {
        output.said(
            "Nothing: the parts contradict each other, as is said above, and no setting mends that. Change \
             the parts first.",
        )?;
    } else {
        drive_with(report, output)?;
    }
    output.heading("Not known")?;
    report.not_known.iter().try_for_each(|line| output.said(format!("- {line}")))?;
    output.heading("Cautions")?;
    report.cautions.iter().try_for_each(|line| output.said(format!("- {line}")))
}

fn drive_with(report: &SettingsReport, output: &mut Output) -> Result<(), Failure> {
    output.said(
        "What the simulation knows of them; put this behind any command. The cells hold their own currents \
         and voltages there.",
    )?;
    let set: Vec<String> = report.drive_with.iter().map(|one| format!("--set {one}")).collect();
    let lines = set.chunks(2).map(|two| two.join(" ")).collect::<Vec<_>>();
    output.lines(&format!("  {}\n", lines.join(" \\\n  ")))
}

fn cells_in_series(report: &SettingsReport, output: &mut Output) -> Result<(), Failure> {
    let found = &report.cells_in_series;
    let mut bounds = Table::new(&["", ">cells", "asked for by"]);
    for bound in &found.bounds {
        let words = match (bound.at_least, bound.preferred) {
            (true, false) => "at least",
            (true, true) => "better at least",
            (false, true) => "better at most",
            (false, false) => "at most",
        };
        let cells = [words.to_owned(), bound.cells.to_string(), output.units.said(&bound.part)];
        bounds.row(cells);
    }
    output.table(&bounds)?;
    let range = |[from, to]: [u32; 2]| match from == to {
        true => from.to_string(),
        false => format!("{from} to {to}"),
    };
    let has = format!("The pack has {}", found.has);
    output.said(match (found.fits, found.works) {
        (Some(fits), _) => format!("{has}; {} fit.", range(fits)),
        (None, Some(works)) => format!(
            "{has}. No number keeps all of them; {} work, with less than the parts promise.",
            range(works)
        ),
        (None, None) => format!(
            "{has}. No number goes with these parts: it takes another controller or motor, or other cells."
        ),
    })?;
    let mut table = Table::new(&[
        ">cells",
        ">charged V",
        ">full V",
        ">half V",
        ">lowest V",
        ">usable kWh",
        &format!(">cells {}", output.units.sign("kg")),
        "",
    ]);
    for row in &found.rows {
        let mark = if row.cells == found.has { "*" } else { "" };
        table.row([
            format!("{}{mark}", row.cells),
            number(row.charged_v, 1),
            number(row.full_v, 1),
            number(row.half_v, 1),
            number(row.lowest_v, 1),
            number(row.usable_kwh, 1),
            output.units.bare(row.cells_kg, "kg", 0),
            row.fit.words().to_owned(),
        ]);
    }
    output.table(&table)?;
    let mut told: Vec<SeriesFit> = Vec::new();
    for row in &found.rows {
        if let Some(meaning) = row.fit.meaning().filter(|_| !told.contains(&row.fit)) {
            output.said(format!("- {}: {meaning}.", row.fit.words()))?;
            told.push(row.fit);
        }
    }
    if let Some(text) = &found.of_boxes {
        output.text(text)?;
    }
    output.said(format!(
        "* The pack's own. Charged: all cells at their highest, which the charger must reach and the \
         contactors break (its file says no range of voltage: ask its maker). Lowest: at full throttle until \
         it is nearly empty, cells from {:.0} °C to warm and with a resistance {:.0} % over \
         that of new ones. Cells, room and axle loads go with the number: `check` and `size` tell.",
        report.coldest_c, report.worn_pct
    ))
}

fn of_place(report: &SettingsReport, place: Place, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    let here: Vec<&Setting> = report.settings.iter().filter(|one| one.place == place).collect();
    let mut table = Table::new(&["", ">set to", "asked for by", "next to be hurt", ">clear by"]);
    for setting in &here {
        let binding = setting.asks.first();
        let next = setting.asks.get(1);
        table.row([
            setting.name.clone(),
            setting.value.map_or_else(|| "—".to_owned(), |v| value(setting, v, units)),
            match (&setting.ask, binding) {
                (Some(ask), _) => units.said(ask),
                (None, Some(ask)) => asked(setting, ask, units),
                (None, None) => String::new(),
            },
            next.map_or_else(String::new, |ask| asked(setting, ask, units)),
            next.map_or_else(String::new, |ask| clear(setting, ask, units)),
        ]);
    }
    output.table(&table)?;
    let noted = here.iter().filter_map(|one| Some((&one.name, one.note.as_ref()?)));
    noted.into_iter().try_for_each(|(name, note)| output.said(format!("- {name}: {note}.")))
}

fn pedals(report: &SettingsReport, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    output.heading("Regen by the pedals")?;
    let mut table = Table::new(&[
        "",
        &format!(">{}", units.sign("N·m")),
        ">of the peak",
        ">motor",
        ">into the pack",
        ">",
        ">slows",
        ">grip",
        "held back by",
    ]);
    for pedal in &report.pedals {
        let assumed = if pedal.assumed { ", assumed" } else { "" };
        table.row([
            format!("{}{assumed}", pedal.name),
            units.bare(pedal.torque_nm, "N·m", 1),
            format!("{} %", number(pedal.torque_pct, 0)),
            format!("{} A", number(pedal.motor_a, 0)),
            format!("{} A", number(pedal.pack_a, 0)),
            format!("{} kW", number(pedal.pack_kw, 1)),
            units.of(pedal.slows_mps2, "m/s²", 2),
            format!("{} %", number(pedal.grip_pct, 0)),
            pedal.held_by.map_or_else(|| "nothing".to_owned(), |limit| limit.to_string()),
        ]);
    }
    output.table(&table)?;
    let Some(first) = report.pedals.first() else { return Ok(()) };
    output.said(format!(
        "Currents, power and slowing at {:.0} km/h in {} gear on the level, warm and half charged. \
         Off below {:.0} km/h, whole above {:.0} km/h. `regen` compares other settings.",
        first.at_kmh,
        ordinal(first.gear),
        report.fade_out_kmh,
        report.full_above_kmh
    ))
}

fn currents(report: &SettingsReport, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    let with_regen = !report.pedals.is_empty();
    let up_to: Vec<String> =
        report.in_up_to_pct.iter().map(|pct| format!(">in long, to {pct:.0} %")).collect();
    let mut headings = vec![format!("cells, {}", units.degree())];
    headings.push(format!(">out, {:.0} s", report.short_s));
    headings.push(">out, long".to_owned());
    headings.push(format!(">in {:.0} s, to {:.0} %", report.short_s, report.in_up_to_pct[0]));
    headings.extend(up_to);
    let shown = if with_regen { headings.len() } else { 3 };
    let shown_headings: Vec<&str> = headings[..shown].iter().map(String::as_str).collect();
    let mut table = Table::new(&shown_headings);
    for row in &report.currents {
        let from = units.bare_temperature(row.from_c);
        let mut cells = vec![format!("{from} to {}", units.bare_temperature(row.to_c))];
        let all = [row.out_short_a, row.out_long_a, row.in_short_a];
        cells.extend(all.iter().chain(&row.in_long_a).map(|a| number(*a, 0)));
        table.row(cells[..shown].to_vec());
    }
    output.table(&table)?;
    let mut text =         "In amperes, each the least between its two temperatures, so that it may be programmed as a step. \
         Colder or hotter than the table: none."
        .to_owned();
    if with_regen {
        text.push_str(
            " In, to: the charge of the pack until which it holds; for long it holds for worn cells as well, \
             which meet their highest voltage first.",
        );
    }
    output.said(text)
}

fn cold(report: &SettingsReport, output: &mut Output) -> Result<(), Failure> {
    if report.cold.is_empty() {
        return output.said("Nothing: cells so cold are empty before they are asked.");
    }
    let mut table = Table::new(&[
        ">charge",
        ">current left",
        ">power",
        ">pack",
        ">weakest cell",
        ">above its lowest",
    ]);
    for case in &report.cold {
        table.row([
            format!("{} %", number(case.charge_pct, 0)),
            format!("{} A", number(case.current_a, 0)),
            format!("{} kW", number(case.power_kw, 1)),
            format!("{} V", number(case.pack_v, 1)),
            format!("{} V", number(case.weakest_v, 2)),
            format!("{} V", number(case.clear_v, 2)),
        ]);
    }
    output.table(&table)?;
    output.said(format!(
        "At full throttle for long, cells at {:.0} °C with a resistance {:.0} % over that of new ones.",
        report.coldest_c, report.worn_pct
    ))
}
