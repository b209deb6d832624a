//! The page of `report`: for those who decide about a car and have never seen the program.

use super::{SENTENCE, beside, cut, document, figure, list, long, said, short, words};
use crate::commands::report::Report;
use crate::commands::{
    bands, check, choose, climb, cost, drive, electrics, measure, pull, readings, regen, season,
    sheet,
};
use crate::failure::Failure;
use crate::measure::{Units, clock, number};
use crate::output::{Output, Said};
use crate::pictures::{self, Look, Picture};
use crate::rows;
use maud::{Markup, html};
use scenarios::Prepared;
use scenarios::runs;
use scenarios::runs::charge::{ChargeReport, SessionReport};
use scenarios::runs::cost::{CostReport, NOT_COUNTED, Price};
use scenarios::runs::drive::DriveReport;
use scenarios::runs::pull::PullReport;
use scenarios::runs::season::SeasonReport;
use scenarios::studies::choose::ChooseReport;
use scenarios::units::{c_from_k, pct_from_share};
use scenarios::verdict::Standing;
use sim_core::Trace;

/// Most seasons of which the table stands beside the picture.
const BESIDE: usize = 3;

/// Air in which a cabin is heated, °C (common practice, no source).
const COLD_C: f64 = 15.0;

/// The page as HTML.
pub fn page(
    report: &Report,
    prepared: &Prepared,
    trace: &Trace,
    recorded: Option<&Picture>,
    units: Units,
) -> Result<String, Failure> {
    let shown = |speak: &dyn Fn(&mut Output) -> Result<(), Failure>| -> Result<Markup, Failure> {
        Ok(said(&Output::said_by(units, speak)?))
    };
    let understood = &report.understood;
    let warnings: Vec<String> =
        understood.warnings.iter().map(|warning| units.said(&warning.text)).collect();
    let car = shown(&|output| check::drive(prepared, understood, output))?;
    let gears = shown(&|output| sheet::gears(&understood.gears, output))?;
    // The page says at its top which car it is.
    let wide = Look::wide("", units);
    let wheels = runs::tractive::report(&prepared.setup());
    let body = html! {
        (head(report, prepared, units))
        main {
            section.short {
                h2 { "In short" }
                (in_short(report, units))
            }
            (glance(report, prepared, units))
            section {
                h2 { "The car and its drive" }
                (car)
                @if !warnings.is_empty() {
                    h3 { "Where parts do not match" }
                    (list(&warnings))
                }
            }
            section {
                h2 { "Pull and speed" }
                (lead("What the motor's torque comes to at the wheels, gear by gear, and how quickly \
                       that moves the car. A grade of 10 % rises ten metres in a hundred; the \
                       launch grade is the steepest on which the loaded car still pulls away."))
                div.most { (figure(&pictures::tractive::picture(&wheels, None, wide))) }
                (gears)
                @if let Some(found) = &report.pull {
                    (at_full_throttle(found, prepared, units)?)
                } @else { (lacking(report, "full throttle")) }
            }
            @if prepared.drives.climb.is_some() || prepared.drives.pass.is_some() {
                section {
                    h2 { "Uphill" }
                    (lead("A steady speed up a hill in each gear. A part that comes near its limit \
                           cuts back, or derates: it gives less so that it is not damaged, and the \
                           car slows down. The gear to take is marked with a star."))
                    (hills(report, prepared, units)?)
                }
            }
            section {
                h2 { "The daily road" }
                (lead("One drive over the road that the car is for, from the charge that it starts \
                       with, and how far a charge goes when that road is driven over and over."))
                @for note in &report.road_notes { p { (words(&units.said(note))) } }
                @if let Some(found) = &report.road {
                    (road(found, prepared, trace, units)?)
                } @else { (lacking(report, "the daily road")) }
            }
            @if let Some((found, drawn)) = report.recorded.as_ref().zip(recorded) {
                section {
                    h2 { "As it was recorded" }
                    (lead("A drive that was recorded in the car, and the same road and speeds driven \
                           on paper: how near the figures of this page come to the car."))
                    (figure(drawn))
                    (shown(&|output| measure::drive::show_one(&prepared.name, found, output))?)
                }
            }
            section {
                h2 { "Through the year" }
                (lead("The same road in other weather. Cold thickens air and oil, stiffens tyres, \
                       takes charge from the cells and asks for heat in the cabin."))
                @if let Some(found) = &report.seasons {
                    (seasons(report, found, units)?)
                    @for sentence in heated(found, prepared, units) { p { (words(&sentence)) } }
                    p { (units.said(found.method)) }
                    (shown(&|output| season::money(found, output))?)
                } @else { (lacking(report, "the seasons")) }
            }
            (at_the_wall(report, prepared, units))
            @if let Some(found) = &report.choice {
                section {
                    h2 { "Which parts to buy" }
                    (lead("Every combination of the candidates was driven once. Shown are those that \
                           keep the goals and that no other beats, from the cheapest to the dearest."))
                    (figure(&pictures::front::picture(found, wide)))
                    (other_pages(report, found))
                    (shown(&|output| choose::show_beside(found, &prepared.name, output))?)
                }
            }
            (at_the_limits(report, units))
            @if let Some(found) = &report.electrics {
                section {
                    h2 { "What the wiring must carry" }
                    (lead("The largest root mean square currents over windows of a second to half an \
                           hour, by which fuses, cables and contactors are chosen. The traction pack can \
                           kill: licensed people and local codes decide."))
                    (figure(&pictures::electrics::picture(found, None, wide)))
                    (shown(&|output| electrics::show_on_page(found, output))?)
                    (list(&found.cautions.iter().map(|text| units.said(text)).collect::<Vec<_>>()))
                }
            }
            (lacking(report, "the wiring"))
            section {
                h2 { "A card for the glove box" }
                (lead("What the dash shows when all is well, how far the rest of the charge goes, \
                       and the gap between cells at which to worry."))
                @match &report.readings {
                    Some(found) => (shown(&|output| readings::card(found, output))?),
                    None => (lacking(report, "the card for the glove box")),
                }
            }
            (rests_on(report, units))
            section {
                h2 { "How sure it is" }
                @match &report.bands {
                    Some(found) => {
                        (lead("Cars drawn at random with what is not known exactly: of ten such cars \
                               one is below the lower figure and one above the upper."))
                        (figure(&pictures::bands::picture(found, wide)))
                        (shown(&|output| bands::show_on_sheet(found, output))?)
                    },
                    None => (unsure()),
                }
            }
            section {
                h2 { "Cautions" }
                (list(&report.cautions.iter().map(|text| units.said(text)).collect::<Vec<_>>()))
            }
            (glossary())
        }
        footer {
            p {
                "Worked out on " (report.date) " by shakedown " (report.version) " from "
                (short(understood.file)) "."
                @if !report.set.is_empty() {
                    " Values put in place of the file's: " (short(&report.set.join(", "))) "."
                }
            }
        }
    };
    Ok(document(&format!("{}: what to expect", prepared.name), &body))
}

/// Above all: which car, when, by what, and what kind of paper this is.
fn head(report: &Report, prepared: &Prepared, units: Units) -> Markup {
    let around = prepared.car.surroundings();
    html! {
        header {
            h1 { (short(&prepared.name)) }
            p {
                "What to expect of an electric conversion, worked out before it is built. "
                (report.date) ", shakedown " (report.version) "."
            }
            p {
                "Air at " (units.temperature(c_from_k(around.air_k))) ", "
                (units.height(around.altitude_m)) " above the sea, pack charged to "
                (number(pct_from_share(prepared.start.charge), 0)) " %, unless it says otherwise."
            }
        }
    }
}

/// What the car does, what gives up first and what mends it, in sentences.
fn in_short(report: &Report, units: Units) -> Markup {
    let advice: Vec<String> = report.advice.iter().map(|one| units.said(&one.text)).collect();
    html! {
        ul {
            @for verdict in &report.verdicts {
                li {
                    @if verdict.standing != Standing::Holds {
                        strong { (upper(verdict.standing.words())) ": " }
                    }
                    (words(&units.said(&verdict.text)))
                }
            }
            @if report.verdicts.is_empty() {
                li { "It cannot be said: what it takes could not be worked out." }
            }
        }
        @if !advice.is_empty() {
            h3 { "What to change" }
            (list(&advice))
        }
    }
}

/// The figures that are asked for first.
fn glance(report: &Report, prepared: &Prepared, units: Units) -> Markup {
    let mut all: Vec<(String, String)> = Vec::new();
    let mut add = |what: &str, value: String| all.push((what.to_owned(), value));
    let (facts, chassis) = (&prepared.facts, &prepared.car.parts().chassis);
    let of = |kg: f64, most: Option<f64>| match most {
        Some(most) => format!("{} of {}", units.mass(kg), units.mass(most)),
        None => units.mass(kg),
    };
    add("mass without load", units.mass(facts.unladen_kg));
    add("mass as driven, of permitted", of(chassis.mass_kg, facts.gross_mass_kg));
    add("front axle, of permitted", of(chassis.front_axle_kg(), facts.front_axle_max_kg));
    add("rear axle, of permitted", of(chassis.rear_axle_kg(), facts.rear_axle_max_kg));
    if let Some(found) = &report.pull {
        let times = found.speeds_kmh.iter().zip(&found.through.times_s);
        for (kmh, time) in times {
            let time =
                time.map_or_else(|| "not reached".to_owned(), |s| format!("{} s", number(s, 1)));
            let from = units.bare_speed(found.from_kmh);
            add(&format!("{from} to {}", units.speed(*kmh, 0)), time);
        }
        add("top speed", units.speed(found.through.top_speed_kmh, 0));
        if let Some(held) = &found.rating.continuous {
            add("continuous speed on the level", units.speed(held.speed_kmh, 0));
        }
    }
    let steepest = report.understood.gears.iter().map(|gear| gear.steepest_start_pct);
    if let Some(pct) = steepest.reduce(f64::max) {
        add("launch grade, loaded", format!("{} %", number(pct, 0)));
    }
    if let Some(found) = &report.road {
        add("usable energy of the pack", format!("{} kWh", number(usable_kwh(prepared), 1)));
        add("consumption at the pack", units.consumption(found.wh_per_km));
        if let Some(range) = &found.range {
            let what = format!("range from {} % charge", number(range.from_charge_pct, 0));
            let km = match range.not_done {
                Some(_) => "not reached".to_owned(),
                None => units.distance(range.distance_km, 0),
            };
            add(&what, km);
        }
    }
    html! {
        section {
            h2 { "At a glance" }
            dl.glance { @for (what, value) in &all { div { dt { (what) } dd { (value) } } } }
        }
    }
}

/// Energy of the pack that can be used at the temperature of the start, kWh.
fn usable_kwh(prepared: &Prepared) -> f64 {
    scenarios::units::kwh_from_j(
        prepared.car.parts().pack.usable_at_j(&prepared.start.temperature_k),
    )
}

/// What a section is about, for those who do not know.
fn lead(text: &str) -> Markup {
    html! { p.lead { (text) } }
}

/// Why something is not there, where it could not be worked out.
fn lacking(report: &Report, what: &str) -> Markup {
    let found = report.not_made.iter().find(|lacking| lacking.what == what);
    html! {
        @if let Some(lacking) = found {
            p.note { (upper(what)) " could not be worked out: " (words(&lacking.why)) "." }
        }
    }
}

fn upper(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// Full throttle over time, through the gears, and the table of times.
fn at_full_throttle(
    found: &PullReport,
    prepared: &Prepared,
    units: Units,
) -> Result<Markup, Failure> {
    let look = Look::narrow("", units);
    let run = runs::pull::history(&prepared.setup(), &pull::marks(prepared, units));
    let drawn = pictures::throttle::picture(found, &run.unwrap_or_default(), None, look);
    let told = Output::said_by(units, |output| pull::show(found, prepared, output))?;
    let (tables, texts): (Vec<Said>, Vec<Said>) =
        told.into_iter().partition(|one| matches!(one, Said::Table(_)));
    Ok(html! { (beside(&drawn, &said(&texts))) (said(&tables)) })
}

/// The daily road: what happens on it, where the energy goes, and its figures.
fn road(
    found: &DriveReport,
    prepared: &Prepared,
    trace: &Trace,
    units: Units,
) -> Result<Markup, Failure> {
    let look = Look::narrow("", units);
    let run = runs::drive::history(&prepared.setup(), trace);
    let told = Output::said_by(units, |output| drive::show(found, output))?;
    Ok(beside(
        &pictures::road::picture(found, &run, None, look),
        &html! { (figure(&pictures::energy::picture(found, None, look))) (said(&told)) },
    ))
}

/// Climb and pass: their pictures side by side, then each as sentence and table.
fn hills(report: &Report, prepared: &Prepared, units: Units) -> Result<Markup, Failure> {
    let both = [
        ("the climb", &report.climb, prepared.drives.climb),
        ("the pass", &report.pass, prepared.drives.pass),
    ];
    let (mut drawn, mut told) = (Vec::new(), Vec::new());
    for (name, found, hill) in both {
        let (Some(found), Some(hill)) = (found, hill) else {
            told.push(lacking(report, name));
            continue;
        };
        let title = upper(name.trim_start_matches("the "));
        let runs = runs::climb::histories(&prepared.setup(), &hill).unwrap_or_default();
        let look = Look::narrow("", units);
        drawn.push(pictures::climb::picture(&title, found, &runs, None, look));
        told.push(said(&Output::said_by(units, |output| {
            output.heading(format!("{title}: {}", climb::what(found, units)))?;
            climb::show(found, output)
        })?));
    }
    Ok(match drawn.as_slice() {
        [one] => beside(one, &html! { @for one in &told { (one) } }),
        several => html! {
            div.pair { @for picture in several { (figure(picture)) } }
            @for one in &told { (one) }
        },
    })
}

/// Charging and what driving costs, side by side where both are known.
fn at_the_wall(report: &Report, prepared: &Prepared, units: Units) -> Markup {
    let narrow = Look::narrow("", units);
    let currency = prepared.prices.currency.as_deref();
    html! {
        @match (&report.charge, &report.cost) {
            (Some(charge), Some(cost)) => {
                div.pair {
                    section {
                        h2 { "Charging" }
                        (figure(&pictures::charging::picture(charge, &report.charge_course, None, narrow)))
                        (charging(charge, currency, units))
                    }
                    section {
                        h2 { "What driving costs" }
                        (figure(&spent(report, cost, narrow)))
                        (costs(report, cost, units))
                    }
                }
            },
            (Some(charge), None) => {
                section {
                    h2 { "Charging" }
                    (beside(
                        &pictures::charging::picture(charge, &report.charge_course, None, narrow),
                        &charging(charge, currency, units),
                    ))
                }
            },
            (None, Some(cost)) => {
                section {
                    h2 { "What driving costs" }
                    (beside(&spent(report, cost, narrow), &costs(report, cost, units)))
                }
            },
            (None, None) => {},
        }
        @if let Some(charge) = &report.charge { (list(&charge.cautions.map(|text| units.said(text)))) }
        (lacking(report, "the charge"))
        (lacking(report, "the costs"))
    }
}

fn spent(report: &Report, cost: &CostReport, look: Look) -> Picture {
    let ledger = report.road.as_ref().map(|road| &road.ledger);
    pictures::cost::picture(cost, ledger, None, look)
}

/// Which car the other pages are of, and how to print them of the one that is recommended.
fn other_pages(report: &Report, found: &ChooseReport) -> Markup {
    let set = report.set.iter().map(|one| format!("--set '{one}'"));
    let picked = found.recommended.and_then(|best| found.front.get(best)).map(|choice| {
        let picked = choice.picked.iter();
        let picked = picked.map(|one| format!("--set '{}={}'", one.path, rows::given(&one.value)));
        let all: Vec<String> = set.chain(picked).collect();
        format!("shakedown report {} {}", report.understood.file, all.join(" "))
    });
    html! {
        p.note {
            strong { "All other pages are of the car as its file describes it, not of the one that is \
                      recommended here." }
            @if let Some(command) = picked {
                " With the options of this page besides, this prints them of the recommended one: "
                code { (cut(&command, SENTENCE)) }
            }
        }
    }
}

/// For how long speeds are held, and how hard the motor may brake.
fn at_the_limits(report: &Report, units: Units) -> Markup {
    let narrow = Look::narrow("", units);
    html! {
        @if let Some(found) = &report.endurance {
            section {
                h2 { "For how long a speed is held" }
                (lead("Minutes at a steady speed on a steady grade until a part cuts back or the \
                       pack is empty, each in its best gear."))
                div.most { (figure(&pictures::endurance::picture(found, None, Look::wide("", units)))) }
            }
        }
        @if let Some(found) = &report.regen {
            section {
                h2 { "Braking with the motor" }
                (beside(&pictures::regen::picture(found, None, narrow), &html! {
                    (lead("Regen charges the pack, on lifting off the pedal and on the brake pedal. \
                           More of it saves energy and takes grip that bends and wet roads need."))
                    p { (words(&units.said(&regen::best(found, units)))) }
                }))
            }
        }
        (lacking(report, "the endurance map"))
        (lacking(report, "the settings of regen"))
    }
}

/// The seasons as a picture and as a table: side by side, if the table is no wider than that.
fn seasons(report: &Report, found: &SeasonReport, units: Units) -> Result<Markup, Failure> {
    let table = said(&Output::said_by(units, |output| season::show(found, output))?);
    let drawn = |look| pictures::season::picture(found, &report.season_bands, None, look);
    Ok(if found.seasons.len() <= BESIDE {
        beside(&drawn(Look::narrow("", units)), &table)
    } else {
        html! { (figure(&drawn(Look::wide("", units)))) (table) }
    })
}

/// Of each cold season whether a heater is counted.
fn heated(found: &SeasonReport, prepared: &Prepared, units: Units) -> Vec<String> {
    let own = prepared.scenario.seasons.as_deref().unwrap_or_default();
    let auxiliaries = prepared.scenario.build.auxiliaries.as_ref();
    let built_kw = auxiliaries.and_then(|all| all.cabin.as_ref()).map(|cabin| cabin.heater_kw);
    let cold = found.seasons.iter().filter(|row| row.air_c < COLD_C);
    cold.map(|row| {
        let season = own.iter().find(|season| season.name == row.name);
        let stated_kw = season.and_then(|season| season.heater_kw).or(built_kw);
        let is_asked = season.is_some_and(|season| season.cabin_c.is_some());
        let counted = match stated_kw {
            Some(kw) if kw > 0.0 => "the cabin's heater is counted",
            None if is_asked => "the cabin's heater is counted",
            _ => "no heater counted",
        };
        format!("{}, {}: {counted}.", row.name, units.temperature(row.air_c))
    })
    .collect()
}

/// A night at the socket.
fn charging(report: &ChargeReport, currency: Option<&str>, units: Units) -> Markup {
    let session = |s: &SessionReport| {
        if s.time_s == 0.0 {
            return s.words.clone();
        }
        let mut text = format!(
            "{}: {}, {} kWh from the wall",
            s.words,
            clock(s.time_s),
            number(s.wall_kwh, 1)
        );
        if let Some(cost) = s.cost {
            text.push_str(&format!(", {} {}", number(cost, 2), currency.unwrap_or_default()));
        }
        text
    };
    let night = &report.full.night;
    let enough = if night.enough {
        format!("enough for the next day's road, which leaves {} %", number(night.left_pct, 0))
    } else {
        let far = units.distance(night.distance_km, 1);
        format!("not enough for the next day's road, which ends after {far}")
    };
    let row = |what: String, text: String| html! { tr { th scope="row" { (what) } td { (short(&text)) } } };
    html! {
        p {
            "From " (short(&report.socket.name)) ", " (number(report.drawn_kw, 2)) " kW from the wall, as the "
            @if report.charger_binds { "charger" } @else { "socket" } " has no more; from "
            (number(report.from_pct, 0)) " % charge"
            @if report.after_road { ", which the daily road leaves" } "."
        }
        table.facts { tbody {
            (row(format!("to {} %", number(report.daily.goal_pct, 0)), session(&report.daily)))
            (row("full".to_owned(), session(&report.full)))
            (row(format!("a night of {} h", number(night.hours, 1)),
                format!("{} % in the morning: {enough}", number(night.charge_pct, 0))))
        } }
    }
}

/// What driving costs, as far as prices are given.
fn costs(page: &Report, report: &CostReport, units: Units) -> Markup {
    let currency = report.currency.as_deref().unwrap_or_default();
    let priced = |price: &Price| {
        let (one, hundred, unit) = match units {
            Units::Metric => (price.per_km, price.per_100km, "km"),
            Units::Us => (price.per_mi, 100.0 * price.per_mi, "mi"),
        };
        format!(
            "{} {currency} a {unit}, {} {currency} for 100 {unit}",
            number(one, 3),
            number(hundred, 2)
        )
    };
    // Of a year of several seasons the weather of this page is one.
    let year = page.seasons.as_ref().and_then(|seasons| seasons.year.as_ref());
    let by_year = year.and_then(|year| year.break_even_km);
    let prices = [
        ("energy from the wall", &report.energy),
        ("wear", &report.wear),
        ("energy and wear", &report.running),
        ("fuel before the conversion", &report.fuel),
        ("saved on fuel", &report.saved),
    ];
    let row =
        |what: &str, text: &str| html! { tr { th scope="row" { (what) } td { (short(text)) } } };
    html! {
        table.facts { tbody {
            (row("from the wall", &units.consumption(report.wall_wh_per_km)))
            @for (what, price) in prices {
                @if let Some(price) = price { (row(what, &priced(price))) }
            }
            @if let Some(km) = report.break_even_km {
                (row("parts are paid", &cost::paid(km, units)))
            }
            @if let Some(km) = by_year { (row("the same, by the year", &cost::paid(km, units))) }
        } }
        p { (NOT_COUNTED) }
    }
}

/// What the numbers rest on, and what was taken for granted.
fn rests_on(report: &Report, units: Units) -> Markup {
    let assumptions = &report.understood.assumptions;
    html! {
        section {
            h2 { "What it rests on" }
            (lead("Measured: on this car or part. Stated: somebody wrote it in the file, from a data \
                   sheet, a nameplate or a scale. Typical: a value of its class, and the first to \
                   replace by a measurement."))
            table {
                thead { tr {
                    th scope="col" { "what" }
                    th scope="col" { "which" }
                    th scope="col" { "known by" }
                    th scope="col" { "stands in" }
                } }
                tbody {
                    @for basis in &report.basis {
                        tr {
                            th scope="row" { (basis.what) }
                            td class=[long(&basis.is)] { (words(&basis.is)) }
                            td { (basis.known.name()) }
                            td class=[long(&basis.stands_in)] { (words(&basis.stands_in)) }
                        }
                    }
                }
            }
            h3 { "Assumptions" }
            @if assumptions.is_empty() { p { "None: the files say everything." } }
            @else {
                table {
                    thead { tr {
                        th scope="col" { "field" } th scope="col" { "value" } th scope="col" { "why" }
                    } }
                    tbody {
                        @for assumption in assumptions {
                            tr {
                                th.path scope="row" { (short(&assumption.path)) }
                                td { (words(&units.said(&assumption.value))) }
                                td { (words(&units.said(&assumption.reason))) }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// What can be said without drawn cars.
fn unsure() -> Markup {
    html! {
        p {
            "The figures are those of the stated values, without a margin. A car as built differs from \
             them: its mass by what was not weighed, its rolling and air resistance by a tenth and \
             more, its cooling by even more, and times and ranges follow. What counts as typical in \
             the table above moves them most. The same page with "
            code { "--bands" }
            " shows between which figures eight of ten such cars lie, and what moves them."
        }
    }
}

/// The trade's words on this page.
fn glossary() -> Markup {
    let all = [
        ("continuous", "can be kept up until the pack is empty, without a part cutting back."),
        (
            "cuts back, derates",
            "a part that is hot, cold or at its limit gives less than it is asked for.",
        ),
        ("grip", "the force that the driven tyres hold; 100 % is where they begin to slip."),
        ("launch grade", "the steepest slope on which the loaded car pulls away."),
        ("regen", "braking with the motor, which charges the pack."),
        ("state of charge", "how full the pack is, in per cent of what its cells hold."),
        ("winding, heat sink", "the hottest places of motor and controller."),
    ];
    html! {
        section {
            h2 { "Words" }
            dl.words { @for (word, meaning) in all { div { dt { (word) } dd { (meaning) } } } }
        }
    }
}
