//! `charge`: from a socket, to a daily stop and full.

use crate::commands::drive::box_by_box;
use crate::failure::Failure;
use crate::input::Input;
use crate::measure::{clock, number, or_dash};
use crate::output::Output;
use crate::picture_file::PictureArg;
use crate::pictures::{self, Look};
use crate::quantity;
use crate::road::RoadArgs;
use crate::table::Table;
use scenarios::outlet::{Draw, Outlet};
use scenarios::runs::charge::{self, ChargePlan, ChargeReport, SessionReport, SocketRow};
use scenarios::units;
use std::path::PathBuf;

/// Arguments of `charge`.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    input: Input,

    #[command(flatten)]
    road: RoadArgs,

    #[command(flatten)]
    plan: PlanArgs,

    /// Writes the full charge to a CSV file, a row for each step.
    #[arg(long, value_name = "FILE.csv")]
    series: Option<PathBuf>,

    #[command(flatten)]
    picture: PictureArg,
}

/// What is charged from where, as options give it.
#[derive(Debug, Default, clap::Args)]
pub struct PlanArgs {
    /// A socket by volts and amperes, such as `120v-15a` or `240v-40a` (circuits, of which 80 %
    /// are drawn) or `230v-16a` (drawn whole); left out, `120v-15a`.
    #[arg(long, value_name = "NAME", conflicts_with_all = ["volts", "amps", "circuit"], add = crate::completing::sockets())]
    socket: Option<String>,

    /// Voltage of a socket without a name, V.
    #[arg(long, value_name = "VOLTS")]
    volts: Option<f64>,

    /// Current that is drawn from it, A.
    #[arg(long, value_name = "AMPS", requires = "volts")]
    amps: Option<f64>,

    /// Rating of its circuit, A; 80 % of it may be drawn for hours.
    #[arg(long, value_name = "AMPS", requires = "volts")]
    circuit: Option<f64>,

    /// Charge at the start, such as `20%`; left out, what the daily road leaves.
    #[arg(long, value_name = "CHARGE")]
    from: Option<String>,

    /// Charge of the daily stop; left out, `80%`.
    #[arg(long, value_name = "CHARGE")]
    to: Option<String>,

    /// How long the car stands before it is plugged in, such as `2h`; left out, at once.
    #[arg(long, value_name = "TIME")]
    after: Option<String>,

    /// How long it stands plugged in over night; left out, `8h`.
    #[arg(long, value_name = "TIME")]
    night: Option<String>,

    /// Price of a kWh from the wall; left out, the scenario's own.
    #[arg(long, value_name = "PRICE")]
    price: Option<f64>,
}

impl PlanArgs {
    /// How much is drawn from a socket without a name.
    fn draw(&self) -> Result<Draw, Failure> {
        match (self.amps, self.circuit) {
            (Some(amps), None) => Ok(Draw::Amps(amps)),
            (None, Some(circuit)) => Ok(Draw::Circuit(circuit)),
            (Some(amps), Some(circuit)) => Ok(Draw::AmpsOfCircuit(amps, circuit)),
            (None, None) => {
                let text = "--volts needs --amps or --circuit beside it";
                Err(Failure::Arguments(text.to_owned()))
            }
        }
    }

    /// The plan; what is left out is usual.
    pub fn plan(&self) -> Result<ChargePlan, Failure> {
        let usual = ChargePlan::default();
        let share = |option, text: &Option<String>| {
            text.as_deref().map(|text| quantity::share(option, text)).transpose()
        };
        let time_s = |option, text: &Option<String>| {
            text.as_deref().map(|text| quantity::time_s(option, text)).transpose()
        };
        if let Some(price) = self.price.filter(|p| !(0.0..=1e6).contains(p)) {
            let text = format!("--price is {price}; allowed: 0 to 1000000");
            return Err(Failure::Arguments(text));
        }
        Ok(ChargePlan {
            outlet: match (self.volts, &self.socket) {
                (Some(volts), _) => Outlet::custom(volts, self.draw()?)?,
                (None, Some(name)) => Outlet::named(name)?,
                (None, None) => usual.outlet,
            },
            from: share("--from", &self.from)?,
            to: share("--to", &self.to)?.unwrap_or(usual.to),
            after_s: time_s("--after", &self.after)?.unwrap_or(usual.after_s),
            night_s: time_s("--night", &self.night)?.unwrap_or(usual.night_s),
            energy_per_kwh: self.price,
        })
    }
}

/// Charges.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    let prepared = args.input.prepare()?;
    let plan = args.plan.plan()?.priced(&prepared.prices);
    let road = args.road.load(&prepared)?;
    let setup = prepared.setup();
    let series = args.series.as_deref();
    let series = series.map(|file| charge::series_file(file, &args.road.files(&prepared)));
    let series = series.transpose()?;
    let frame = args.picture.begin(&args.road.files(&prepared))?;
    let report = charge::report(&setup, &prepared.charger, &road.name, &road.trace, &plan);
    let report = prepared.vouched(report)?;
    if let Some(file) = series {
        charge::save_series(&setup, &prepared.charger, &road.name, &road.trace, &plan, file)?;
    }
    if let Some(frame) = frame {
        let course = charge::course(&setup, &prepared.charger, &road.name, &road.trace, &plan);
        let look = Look::wide(&prepared.name, output.units);
        frame.save(&pictures::charging::picture(&report, &course, None, look))?;
    }
    if output.json {
        return output.document(&report);
    }
    output.text(format!("{}: charging from {}", prepared.name, report.socket.name))?;
    output.text(source(&report, output))?;
    show(&report, prepared.prices.currency.as_deref(), output)?;
    output.heading("The same from other sockets, with this charger")?;
    sockets(&report, output)?;
    output.heading("Not modelled")?;
    report.not_modelled.iter().try_for_each(|line| output.said(format!("- {line}")))?;
    output.heading("Cautions")?;
    report.cautions.iter().try_for_each(|line| output.said(format!("- {line}")))
}

fn source(report: &ChargeReport, output: &Output) -> String {
    let units = output.units;
    let rule = match report.socket.circuit_a {
        Some(circuit) => format!(", at most 80 % of its {} A circuit", number(circuit, 0)),
        None => String::new(),
    };
    let binds = if report.charger_binds { "the charger" } else { "the socket" };
    let from =
        if report.after_road { format!(", what {} leaves", report.road) } else { String::new() };
    format!(
        "{} V and {} A{rule}; a charger of {} kW at {} %: {} kW from the wall, as {binds} has no \
         more. From {} %{from}; cells at {}, air at {}.",
        number(report.socket.volts, 0),
        number(report.socket.amps, 1),
        number(report.charger_kw, 1),
        number(report.charger_efficiency_pct, 0),
        number(report.drawn_kw, 2),
        number(report.from_pct, 1),
        units.temperature(report.from_cells_c),
        units.temperature(report.air_c)
    )
}

fn show(report: &ChargeReport, currency: Option<&str>, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    let sessions = [&report.daily, &report.full];
    let mut table = Table::new(&["", "daily stop", "full"]);
    let mut row = |name: &str, text: &dyn Fn(&SessionReport) -> String| {
        table.row([name.to_owned(), text(sessions[0]), text(sessions[1])]);
    };
    let kwh = |v: f64| format!("{} kWh", number(v, 2));
    row("up to", &|s| format!("{} % ({})", number(s.goal_pct, 0), units.said(&s.words)));
    row("time", &|s| clock(s.time_s));
    row("of it, held back by the cells", &|s| clock(s.taper_s));
    row("from the wall", &|s| kwh(s.wall_kwh));
    row("into the pack", &|s| kwh(s.pack_kwh));
    row("gained by the cells", &|s| match s.efficiency_pct {
        Some(pct) => format!("{}, {} % of the wall's", kwh(s.cells_kwh), number(pct, 1)),
        None => kwh(s.cells_kwh),
    });
    row("lost", &|s| {
        format!("{} in the charger, {} in the pack", kwh(s.charger_loss_kwh), kwh(s.pack_loss_kwh))
    });
    row("distance gained", &|s| match (s.gained_km, s.gained_km_per_h) {
        (Some(km), Some(per_h)) => {
            format!("{}, {} an hour", units.distance(km, 0), units.distance(per_h, 1))
        }
        (Some(km), None) => units.distance(km, 0),
        _ => report.road_note.clone().unwrap_or_default(),
    });
    let money = |v: f64| match currency {
        Some(currency) => format!("{} {currency}", number(v, 2)),
        None => number(v, 2),
    };
    row("cost", &|s| match s.cost {
        Some(cost) => money(cost),
        None => "no price: --price or money.energy_per_kwh".to_owned(),
    });
    row("cells", &|s| {
        format!(
            "at most {}{}, {} at the end, {} V",
            units.temperature(s.peak_cells_c),
            box_by_box(&s.peak_boxes_c, &report.boxes, units),
            units.temperature(s.end_cells_c),
            number(s.peak_cell_v, 2)
        )
    });
    row("a night", &|s| {
        let night = &s.night;
        let verdict = if night.enough {
            format!("enough for the next day, which leaves {} %", number(night.left_pct, 0))
        } else {
            format!(
                "not enough for the next day: it ends after {}",
                units.distance(night.distance_km, 1)
            )
        };
        format!("{} h: {} %; {verdict}", number(night.hours, 1), number(night.charge_pct, 0))
    });
    output.table(&table)?;
    if let Some(wh) = report.road_wh_per_km {
        output.text(format!(
            "Distances by the consumption of {}, {} from the cells.",
            report.road,
            units.consumption(wh)
        ))?;
    }
    output.line(format!(
        "unaccounted for: {:.1e} of the energy from the wall",
        report.full.ledger_residual.max(report.daily.ledger_residual)
    ))
}

fn sockets(report: &ChargeReport, output: &mut Output) -> Result<(), Failure> {
    let units = output.units;
    let mut table = Table::new(&[
        "socket",
        ">drawn",
        ">from the wall",
        "set by",
        ">daily stop",
        ">full",
        ">gained an hour",
    ]);
    let time = |s: Option<f64>| s.map_or_else(|| or_dash(None, 0), clock);
    let same = |a: &SocketRow, b: &SocketRow| {
        a.charger_binds && b.charger_binds && a.socket.volts == b.socket.volts
    };
    for (i, row) in report.sockets.iter().enumerate() {
        // Where the charger has no more, a larger circuit changes nothing.
        if i > 0 && same(&report.sockets[i - 1], row) {
            continue;
        }
        let more = report.sockets.get(i + 1).is_some_and(|next| same(row, next));
        table.row([
            if more { format!("{} or more", row.socket.name) } else { row.socket.name.clone() },
            format!("{} A", number(units::w_from_kw(row.drawn_kw) / row.socket.volts, 1)),
            format!("{} kW", number(row.drawn_kw, 2)),
            if row.charger_binds { "charger" } else { "socket" }.to_owned(),
            time(row.time_s),
            time(row.full_s),
            row.gained_km_per_h.map_or_else(|| or_dash(None, 0), |km| units.distance(km, 1)),
        ]);
    }
    output.table(&table)
}
