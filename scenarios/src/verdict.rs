//! Verdicts: what a car does, what gives up first and, in [`advice`](crate::advice), what mends it.
//!
//! A verdict is read off the reports of runs and drives nothing itself. Its sentence is metric and
//! holds no name of a file, so that whoever shows it can put its quantities in other units.

use crate::inputs::wltc::left_out;
use crate::prepared::Prepared;
use crate::runs::Report;
use crate::runs::climb::{ClimbReport, ClimbRow};
use crate::runs::drive::{DriveOutcome, DriveReport, RangeOutcome};
use crate::runs::gearing::GearRow;
use crate::runs::limits::{LimitMet, NamedLimit, in_box};
use crate::runs::pull::PullReport;
use crate::runs::temperatures::Nearest;
use crate::warning::{Severity, Warning};
use crate::words::{clock, number, ordinal};
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::climb::ClimbEnding;
use sim_core::units;

/// What a verdict is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum About {
    /// Parts that do not go together.
    Parts,
    /// Masses against what is permitted.
    Load,
    /// Pulling away on a grade.
    Start,
    /// Full throttle and top speed.
    Speed,
    /// The scenario's climb.
    Climb,
    /// The scenario's pass.
    Pass,
    /// The daily road, once.
    Road,
    /// How far the charge goes on the daily road.
    Range,
    /// What gives up first.
    First,
    /// Values that may be slips.
    Values,
}

/// How something stands. The worst is the largest.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// It holds with something to spare.
    Holds,
    /// It cannot be said.
    NotKnown,
    /// It holds with little to spare, or by cutting back.
    Near,
    /// It does not hold.
    Fails,
}

impl Standing {
    /// In a word or two.
    pub fn words(self) -> &'static str {
        match self {
            Standing::Holds => "holds",
            Standing::NotKnown => "not known",
            Standing::Near => "near its limit",
            Standing::Fails => "fails",
        }
    }
}

/// One thing that a car does or does not do.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Verdict {
    /// What it is about.
    pub about: About,
    /// How it stands.
    pub standing: Standing,
    /// What there is to say.
    pub text: String,
}

impl Verdict {
    fn new(about: About, standing: Standing, text: String) -> Self {
        Self { about, standing, text }
    }
}

/// What verdicts are read from.
#[derive(Debug, Clone, Copy)]
pub struct Told<'a> {
    /// What each gear does.
    pub gears: &'a [GearRow],
    /// Full throttle.
    pub pull: &'a PullReport,
    /// The climb, where the scenario has one.
    pub climb: Option<&'a ClimbReport>,
    /// The pass, where it has one.
    pub pass: Option<&'a ClimbReport>,
    /// The daily road with the range on it.
    pub road: &'a DriveReport,
    /// What does not belong together.
    pub warnings: &'a [Warning],
}

/// Heat from which a part is near to where it cuts back: share of the way there from the air, so
/// that a day 15 K warmer or a tenth more load may use up the rest (common practice, no source).
const NEAR_HEAT: f64 = 0.85;
/// Load from which it is near what is permitted: scales and estimates of masses are no better.
const NEAR_LOAD: f64 = 0.97;
/// Grade on which a car has to pull away, %: 12 % are asked of loaded vehicles (Regulation (EU) No.
/// 1230/2012, from memory).
const START_PCT: f64 = 12.0;
/// What is to be left of a grade or a range for it to hold, as a factor: cold and the first years
/// take a fifth to a quarter (common practice, no source).
const SPARE: f64 = 1.25;
/// Charge left at the top that counts as next to none, %.
const LAST_CHARGE_PCT: f64 = 5.0;
/// Lag behind a road's speeds, km/h, and share of its time outside the tolerance from which a car
/// does not keep up with it (common practice, no source).
const LAG_KMH: f64 = 10.0;
const OUTSIDE_SHARE: f64 = 0.03;
/// Share of its time up to which that tells nothing of the car.
const SLIGHTLY_OUTSIDE: f64 = 0.005;

/// What the runs of a car come to: what it does, then what gives up first. Where values may be
/// slips that comes first of all.
pub fn verdicts(car: &Prepared, told: &Told<'_>) -> Vec<Verdict> {
    let mut found = Vec::new();
    found.extend(doubts(told.warnings));
    found.extend(parts(told.warnings));
    found.extend(load(car));
    found.push(start(car, steepest(told.gears), [told.climb, told.pass]));
    found.push(speed(told.pull));
    for (about, hill) in hills(told) {
        found.push(hill_held(about, hill, car));
    }
    found.push(road_said(told.road));
    found.extend(range(told.road));
    found.push(first(car, told));
    found
}

fn hills<'a>(told: &Told<'a>) -> impl Iterator<Item = (About, &'a ClimbReport)> + use<'a> {
    let both = [(About::Climb, told.climb), (About::Pass, told.pass)];
    both.into_iter().filter_map(|(about, hill)| Some((about, hill?)))
}

fn doubts(warnings: &[Warning]) -> Option<Verdict> {
    let mut doubts = warnings.iter().filter(|w| w.severity == Severity::Doubt);
    let first = doubts.next()?;
    let more = match doubts.count() {
        0 => String::new(),
        1 => " One other value is as unusual.".to_owned(),
        n => format!(" {n} other values are as unusual."),
    };
    Some(Verdict::new(About::Values, Standing::NotKnown, format!("{}{more}", first.text)))
}

pub(crate) fn parts(warnings: &[Warning]) -> impl Iterator<Item = Verdict> {
    warnings
        .iter()
        .filter(|w| w.severity == Severity::Danger)
        .map(|w| Verdict::new(About::Parts, Standing::Fails, w.text.clone()))
}

/// Masses against what is permitted; what is too much is among the [`parts`].
pub(crate) fn load(car: &Prepared) -> Option<Verdict> {
    let (chassis, facts) = (&car.car.parts().chassis, &car.facts);
    let kg = chassis.mass_kg;
    let all = [
        ("the whole car", kg, facts.gross_mass_kg),
        ("the front axle", chassis.front_axle_kg(), facts.front_axle_max_kg),
        ("the rear axle", chassis.rear_axle_kg(), facts.rear_axle_max_kg),
    ];
    let unknown: Vec<&str> = all.iter().filter(|a| a.2.is_none()).map(|a| a.0).collect();
    let known = all.iter().filter_map(|(what, kg, most)| Some((*what, *kg, (*most)?)));
    let nearest = known.max_by(|a, b| (a.1 / a.2).total_cmp(&(b.1 / b.2)));
    let weighs = format!("Weighs {kg:.0} kg loaded");
    let not_given = || format!("what is permitted is not given for {}", unknown.join(" and "));
    let (standing, text) = match nearest {
        // Then it is said among the parts.
        Some((_, kg, most)) if kg > most + 0.05 => return None,
        None => (Standing::NotKnown, format!("{weighs}; {}.", not_given())),
        Some((what, kg, most)) => {
            let left = format!("{weighs}; nearest its limit is {what}, {kg:.0} of {most:.0} kg");
            match (unknown.is_empty(), kg > NEAR_LOAD * most) {
                (_, true) => (Standing::Near, format!("{left}.")),
                (true, _) => (Standing::Holds, format!("{left}.")),
                (false, _) => (Standing::NotKnown, format!("{left}; {}.", not_given())),
            }
        }
    };
    Some(Verdict::new(About::Load, standing, text))
}

/// The steepest grade on which it pulls away, %, in which gear, and what holds it back there.
pub(crate) type Steepest = (f64, usize, Option<NamedLimit>);

fn steepest(gears: &[GearRow]) -> Steepest {
    let row = gears.iter().max_by(|a, b| {
        // Of gears that do the same, the lowest.
        a.steepest_start_pct.total_cmp(&b.steepest_start_pct).then(b.gear.cmp(&a.gear))
    });
    row.map_or((0.0, 1, None), |row| (row.steepest_start_pct, row.gear, row.peak_by))
}

pub(crate) fn start(car: &Prepared, found: Steepest, hills: [Option<&ClimbReport>; 2]) -> Verdict {
    let (pct, gear, by) = found;
    let own = hills.into_iter().flatten().map(|hill| hill.grade_pct).fold(0.0, f64::max);
    let needed = own.max(START_PCT);
    let standing = match pct {
        pct if pct < needed => Standing::Fails,
        pct if pct < SPARE * needed => Standing::Near,
        _ => Standing::Holds,
    };
    let grip = number(car.car.surroundings().friction, 2);
    let by = match by {
        Some(NamedLimit(sim_core::Limit::Grip)) => format!(" (held back by grip of {grip})"),
        Some(limit) => format!(" (held back by {limit})"),
        None => String::new(),
    };
    let asked = if own > START_PCT { "its hills have" } else { "a loaded car needs" };
    let text = format!(
        "Pulls away on {} % in {} gear{by}; {asked} {} %.",
        number(pct, 0),
        ordinal(gear),
        number(needed, 0)
    );
    Verdict::new(About::Start, standing, text)
}

/// A speed as it was asked for: mph come out even.
fn kmh(value: f64) -> String {
    let even = (value - value.round()).abs() < 0.01;
    format!("{} km/h", number(value, if even { 0 } else { 1 }))
}

fn speed(pull: &PullReport) -> Verdict {
    let through = &pull.through;
    let top = through.top_speed_kmh;
    let slope = match pull.grade_pct {
        0.0 => String::new(),
        pct => format!(" on {} %", number(pct, 1)),
    };
    if top <= 1.0 {
        let text = format!("Does not get going{slope} at full throttle.");
        return Verdict::new(About::Speed, Standing::Fails, text);
    }
    let by = through.top_speed_by.map_or_else(String::new, |by| format!(" ({by})"));
    let reached = pull.speeds_kmh.iter().zip(&through.times_s);
    let reached: Vec<String> = reached
        .filter_map(|(v, s)| Some(format!("{} s to {}", number((*s)?, 1), kmh(*v))))
        .collect();
    let times = match reached[..] {
        [] => String::new(),
        _ => format!("; full throttle takes {}", reached.join(", ")),
    };
    let half_hour = match &pull.rating.speed_30min {
        Some(held) => format!(", holds {} km/h for 30 min", number(held.speed_kmh, 0)),
        None => String::new(),
    };
    let mut text =
        format!("Top speed{slope} {} km/h over a kilometre{by}{half_hour}{times}.", number(top, 0));
    // How quick a car has to be is known of the level.
    let (standing, why) = match pull.grade_pct == 0.0 {
        true => among_others(pull),
        false => (Standing::Holds, None),
    };
    if let Some(why) = why {
        text.push_str(&format!(" {why}"));
    }
    Verdict::new(About::Speed, standing, text)
}

/// Speed that traffic in towns takes for granted, km/h, and the time in which it is to be reached, s;
/// top speed from which a car keeps up on roads between them, km/h (common practice, no source).
const TOWN_KMH: f64 = 50.0;
const TOWN_S: f64 = 20.0;
const OPEN_ROAD_KMH: f64 = 70.0;

/// How a car keeps up with others, and why it does not.
fn among_others(pull: &PullReport) -> (Standing, Option<String>) {
    let through = &pull.through;
    let in_town = |kmh: f64| (0.9 * TOWN_KMH..TOWN_KMH + 0.5).contains(&kmh);
    let timed = pull.speeds_kmh.iter().zip(&through.times_s);
    let mut timed = timed.filter(|(kmh, _)| pull.from_kmh == 0.0 && in_town(**kmh));
    let town = timed.next_back();
    match town {
        _ if through.top_speed_kmh < TOWN_KMH => {
            (Standing::Fails, Some(format!("It does not reach {TOWN_KMH} km/h.")))
        }
        Some((town, None)) => {
            (Standing::Fails, Some(format!("It does not reach {} from rest.", kmh(*town))))
        }
        Some((town, Some(s))) if *s > TOWN_S => {
            let why = format!("Over {TOWN_S} s to {} is slow among other cars.", kmh(*town));
            (Standing::Near, Some(why))
        }
        _ if through.top_speed_kmh < OPEN_ROAD_KMH => {
            let why = format!("Under {OPEN_ROAD_KMH} km/h it holds others up between towns.");
            (Standing::Near, Some(why))
        }
        _ => (Standing::Holds, None),
    }
}

/// `winding at 92 °C, derates from 155 °C`.
fn heat(nearest: Nearest) -> String {
    let cut = if nearest.part == "cells" { "derate" } else { "derates" };
    format!(
        "{} at {:.0} °C, {cut} from {:.0} °C",
        nearest.part, nearest.reached_c, nearest.warning_c
    )
}

fn nearest(hill: &ClimbReport) -> Nearest {
    hill.warnings.nearest(&hill.best().peak, hill.air_c)
}

fn hill_standing(hill: &ClimbReport, car: &Prepared) -> Standing {
    let best = hill.best();
    let last_pct = units::pct_from_share(car.car.parts().pack.min_charge) + LAST_CHARGE_PCT;
    if !best.held || !best.within_rpm {
        Standing::Fails
    } else if best.derated_at_s.is_some()
        || nearest(hill).share >= NEAR_HEAT
        || best.charge_left_pct < last_pct
    {
        Standing::Near
    } else {
        Standing::Holds
    }
}

pub(crate) fn hill_held(about: About, hill: &ClimbReport, car: &Prepared) -> Verdict {
    // Where no gear holds it, the one to speak of is one that can turn at that speed.
    let turn = hill.gears.iter().filter(|row| row.within_rpm);
    let farthest = turn.max_by(|a, b| {
        a.distance_km.total_cmp(&b.distance_km).then(a.slowest_kmh.total_cmp(&b.slowest_kmh))
    });
    let best = match (hill.best(), farthest) {
        (best, Some(other)) if !best.within_rpm => other,
        (best, _) => best,
    };
    let what = format!(
        "{} km/h up {} % for {} km",
        number(hill.speed_kmh, 0),
        number(hill.grade_pct, 1),
        number(hill.distance_km, 1)
    );
    let gear = ordinal(best.gear);
    let mut text = if !best.within_rpm {
        let rpm = number(best.motor_rpm, 0);
        format!("Cannot take {what}: even {gear} gear would need {rpm} rpm, over what is allowed.")
    } else if !best.held {
        format!("Does not hold {what}: {gear} gear does best, {}.", ending(best))
    } else if let (Some(s), Some(by)) = (best.derated_at_s, best.derated_by) {
        format!(
            "Holds {what} in {gear} gear, but after {} {}.",
            clock(s),
            in_box(by.words_from_to(cells_c(best, car)), best.derated_in.as_ref())
        )
    } else {
        format!("Holds {what} in {gear} gear; {}.", heat(nearest(hill)))
    };
    if best.held && best.charge_left_pct < 50.0 {
        text.push_str(&format!(" {} % charge is left.", number(best.charge_left_pct, 0)));
    }
    if let Some((kmh, gear)) = hill.for_length {
        let kmh = number(kmh, 0);
        text.push_str(&format!(" Fastest without derating: {kmh} km/h in {}.", ordinal(gear)));
    }
    Verdict::new(about, hill_standing(hill, car), text)
}

/// How a climb that was not held went.
fn ending(row: &ClimbRow) -> String {
    let far = number(row.distance_km, 1);
    let why = |by: Option<NamedLimit>| {
        let words = by.map(|by| by.words_in(row.slowed_in.as_ref()));
        words.map_or_else(String::new, |words| format!(" as {words}"))
    };
    match row.ending {
        ClimbEnding::Top => {
            let slowest = number(row.slowest_kmh, 0);
            let after =
                row.slowed_at_s.map_or_else(String::new, |s| format!(" after {}", clock(s)));
            format!("slowing to {slowest} km/h{after}{}", why(row.slowed_by))
        }
        ClimbEnding::Empty => match &row.empty_in {
            Some(own) => format!("and the cells of {own} are empty after {far} km"),
            None => format!("and the pack is empty after {far} km"),
        },
        ClimbEnding::Stalled => format!("coming to a stop after {far} km{}", why(row.slowed_by)),
    }
}

/// How warm the cells were at the start of a hill and at most, °C.
fn cells_c(row: &ClimbRow, car: &Prepared) -> (f64, f64) {
    (units::c_from_k(car.car.parts().pack.coldest_k(&car.start.temperature_k)), row.peak.cells_c)
}

/// What a limit means that was met on the road.
fn words_on(road: &DriveReport, limit: NamedLimit, own: &Option<String>) -> String {
    let met = road.limits.iter().find(|met| met.limit == limit);
    met.map_or_else(|| limit.words_in(own.as_ref()), |met| met.words.clone())
}

fn falls_behind(road: &DriveReport) -> bool {
    road.largest_lag_kmh > LAG_KMH || road.outside_s > OUTSIDE_SHARE * road.time_s
}

fn road_standing(road: &DriveReport) -> Standing {
    if road.not_done().is_some() || !road.within_tolerance && falls_behind(road) {
        Standing::Fails
    } else if road.distance_km <= 0.0 {
        Standing::NotKnown
    } else if !road.within_tolerance && road.outside_s > SLIGHTLY_OUTSIDE * road.time_s
        || road.derated_at_s.is_some()
        || units::share_from_pct(road.heat_pct) >= NEAR_HEAT
    {
        Standing::Near
    } else {
        Standing::Holds
    }
}

pub(crate) fn road(road: &DriveReport) -> Verdict {
    let standing = road_standing(road);
    let km = number(road.distance_km, 1);
    let mut text = if let Some(why) = road.not_done().map(|why| in_box(why, road.ended_in.as_ref()))
    {
        let end = match road.ending {
            DriveOutcome::Complete => "falls too far behind on",
            DriveOutcome::Empty | DriveOutcome::Limit(_) => "does not finish",
        };
        format!(
            "The car {end} the daily road: {km} km driven of {} km, {why}.",
            number(road.trace_km, 1)
        )
    } else if road.distance_km <= 0.0 {
        "The daily road leads nowhere, so it says nothing of the car.".to_owned()
    } else {
        let uses = number(road.wh_per_km, 0);
        format!("Drives the daily road of {km} km with {uses} Wh/km from the pack.")
    };
    if !road.within_tolerance && road.not_done().is_none() {
        text.push_str(&format!(
            " It falls behind the road's speeds for {} of {}, by up to {} km/h.",
            clock(road.outside_s),
            clock(road.time_s),
            number(road.largest_lag_kmh, 0)
        ));
    }
    if let (Some(s), Some(by)) = (road.derated_at_s, road.derated_by) {
        text.push_str(&format!(" After {} {}.", clock(s), words_on(road, by, &road.derated_in)));
    }
    Verdict::new(About::Road, standing, text)
}

/// The same of the car whose road it is, which may leave out what it does not reach.
fn road_said(driven: &DriveReport) -> Verdict {
    let mut found = road(driven);
    if let Some(phases) = left_out(&driven.road) {
        let text = format!(" That is the WLTC without {phases}, which it does not reach.");
        found.text.push_str(&text);
    }
    found
}

pub(crate) fn range(road: &DriveReport) -> Option<Verdict> {
    let range = road.range.as_ref()?;
    let (km, from) = (number(range.distance_km, 0), number(range.from_charge_pct, 0));
    let (standing, text) = if range.ended_by == RangeOutcome::NotFound || range.distance_km <= 0.0 {
        let text = format!("How far {from} % charge goes is not known: {}.", range.words);
        (Standing::NotKnown, text)
    } else if range.distance_km < road.trace_km {
        let whole = number(road.trace_km, 1);
        let text =
            format!("{from} % charge lasts for {km} km of the {whole} km of the daily road.");
        (Standing::Fails, text)
    } else {
        let times = range.distance_km / road.trace_km;
        let at_speed = range.at_speed_km() / road.trace_km;
        let standing = if at_speed < SPARE { Standing::Near } else { Standing::Holds };
        let mut text = format!(
            "Goes {km} km on the daily road from {from} % charge, {} times its length, in this \
             weather and with cells of this age.",
            number(times, 1)
        );
        if let Some(from) = &range.slower {
            let why = from.by.map_or_else(String::new, |by| format!(": {}", by.words()));
            text.push_str(&format!(
                " From {} km on, at {} % charge, it could no longer keep the road's speed{why}.",
                number(from.after_km, 0),
                number(from.charge_pct, 0)
            ));
        }
        (standing, text)
    };
    Some(Verdict::new(About::Range, standing, text))
}

/// What ends a case early or makes it slower.
struct GivesUp {
    /// How bad, and when: the first comes first.
    order: (bool, u8, f64),
    standing: Standing,
    text: String,
}

/// What ends a drive on an empty pack.
const EMPTY: &str = "the weakest cell was empty";

fn on_hill(about: About, hill: &ClimbReport, car: &Prepared) -> Option<GivesUp> {
    let (best, standing) = (hill.best(), hill_standing(hill, car));
    let name = if about == About::Climb { "climb" } else { "pass" };
    let (s, what, severity) = if !best.within_rpm {
        return None;
    } else if let (Some(s), Some(by)) = (best.derated_at_s, best.derated_by) {
        let words = by.words_from_to(cells_c(best, car));
        (s, in_box(words, best.derated_in.as_ref()), by.severity())
    } else if let (Some(s), Some(by)) = (best.slowed_at_s, best.slowed_by) {
        let words = by.words_from_to(cells_c(best, car));
        (s, in_box(words, best.slowed_in.as_ref()), by.severity())
    } else if best.ending == ClimbEnding::Empty {
        (best.time_s, in_box(EMPTY, best.empty_in.as_ref()), 1)
    } else {
        return None;
    };
    let text = format!("On the {name} in {} gear, after {}: {what}.", ordinal(best.gear), clock(s));
    Some(GivesUp { order: (standing != Standing::Fails, severity, s), standing, text })
}

fn on_road(road: &DriveReport) -> Option<GivesUp> {
    let standing = road_standing(road);
    let (s, what, severity) = match (road.derated_at_s, road.derated_by, road.ending) {
        (Some(s), Some(by), _) => (s, words_on(road, by, &road.derated_in), by.severity()),
        (.., DriveOutcome::Empty) => (road.time_s, in_box(EMPTY, road.ended_in.as_ref()), 1),
        (.., DriveOutcome::Limit(by)) => {
            (road.time_s, words_on(road, by, &road.ended_in), by.severity())
        }
        (.., DriveOutcome::Complete) => return None,
    };
    let text = format!("On the daily road, after {}: {what}.", clock(s));
    Some(GivesUp { order: (standing != Standing::Fails, severity, s), standing, text })
}

/// Time at one limit from which it tells of the car rather than of a moment, s (common practice, no
/// source).
const LONG_AT_LIMIT_S: f64 = 60.0;

/// What held the car back for a minute of the daily road or more, where that did not cut back.
fn held_back(road: &DriveReport) -> Option<GivesUp> {
    let told = [
        road.derated_by,
        match road.ending {
            DriveOutcome::Limit(by) => Some(by),
            DriveOutcome::Complete | DriveOutcome::Empty => None,
        },
    ];
    let long = |met: &&LimitMet| met.seconds >= LONG_AT_LIMIT_S && !told.contains(&Some(met.limit));
    let met = road.held_back.iter().filter(long).max_by(|a, b| a.seconds.total_cmp(&b.seconds))?;
    let text = format!("On the daily road, for {} in all: {}.", clock(met.seconds), met.words);
    let severity = met.limit.severity();
    Some(GivesUp { order: (true, severity, road.time_s), standing: Standing::Near, text })
}

/// What gives up first, in the worst case first; where nothing does, what is nearest to it.
fn first(car: &Prepared, told: &Told<'_>) -> Verdict {
    let mut all: Vec<GivesUp> =
        hills(told).filter_map(|(about, hill)| on_hill(about, hill, car)).collect();
    all.extend(on_road(told.road));
    all.extend(held_back(told.road));
    all.sort_by(|a, b| {
        let (a, b) = (a.order, b.order);
        (a.0, a.1).cmp(&(b.0, b.1)).then(a.2.total_cmp(&b.2))
    });
    if let Some(worst) = all.iter().map(|found| found.standing).max() {
        let texts: Vec<&str> = all.iter().map(|found| found.text.as_str()).collect();
        return Verdict::new(About::First, worst, texts.join(" "));
    }
    let air_c = units::c_from_k(car.car.surroundings().air_k);
    let road = &told.road;
    let of_road = road.warnings.nearest(&road.peak, air_c);
    let hills: Vec<(About, &ClimbReport)> = hills(told).collect();
    // Nothing cut back also where the car could not follow.
    let undone = hills.iter().any(|(_, hill)| !hill.best().within_rpm || !hill.best().held)
        || road_standing(road) == Standing::Fails;
    let each = hills.iter().map(|(about, hill)| {
        (if *about == About::Climb { "on the climb" } else { "on the pass" }, nearest(hill))
    });
    let (place, hottest) =
        each.fold(("on the daily road", of_road), |a, b| if b.1.share > a.1.share { b } else { a });
    let standing = match hottest.share {
        _ if undone => Standing::NotKnown,
        share if share >= NEAR_HEAT => Standing::Near,
        _ => Standing::Holds,
    };
    let no_part = if undone {
        "No part gives up on the roads driven, though not all was driven as asked"
    } else {
        "No part gives up on the roads driven"
    };
    let mut text = format!("{no_part}. Nearest is {place}: {}.", heat(hottest));
    // The hill that is hardest to hold for good.
    let hardest = hills.iter().filter_map(|(about, hill)| {
        let (kmh, gear) = hill.continuous?;
        Some((kmh - hill.speed_kmh, *about, kmh, gear, hill.gears[gear - 1].continuous_by?))
    });
    if let Some((_, about, kmh, gear, by)) = hardest.min_by(|a, b| a.0.total_cmp(&b.0)) {
        let name = if about == About::Climb { "climb" } else { "pass" };
        text.push_str(&format!(
            " Beyond {} km/h continuous on the {name} ({} gear) it is {by} that ends it.",
            number(kmh, 0),
            ordinal(gear)
        ));
    }
    Verdict::new(About::First, standing, text)
}
