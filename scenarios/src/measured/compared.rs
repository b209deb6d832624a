//! A recorded drive against what is predicted for it: figures of the whole, and channel by channel.

use crate::measured::drive::{LONGEST_STEP_S, Prediction, RecordedDrive};
use crate::words::number;
use cycles::{Recording, Signal};
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::units;

/// A recorded drive against what is predicted for it.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct DriveCompared {
    /// The file.
    pub file: String,
    /// When it began, as its first row says.
    pub began: Option<String>,
    /// Time, s.
    pub time_s: f64,
    /// Distance, km.
    pub distance_km: f64,
    /// Climbs in all, m.
    pub climb_m: f64,
    /// Descents in all, m.
    pub descent_m: f64,
    /// Mean air temperature, °C, where it was recorded.
    pub air_c: Option<f64>,
    /// Mean wind of any direction, km/h, where it was recorded.
    pub wind_kmh: Option<f64>,
    /// The recorded load that took the place of the car's own.
    pub load: Option<&'static str>,
    /// Why the car on paper did not drive it to its end, if it did not.
    pub not_done: Option<&'static str>,
    /// How far the car on paper fell behind the recorded speed, km/h.
    pub behind_kmh: f64,
    /// Why the recording cannot be right, a sentence each; nothing is told of the car then.
    pub impossible: Vec<String>,
    /// Figures of the whole drive.
    pub figures: Vec<FigureCompared>,
    /// Channels, value by value.
    pub channels: Vec<ChannelCompared>,
    /// What was not compared, and why, a sentence each.
    pub not_compared: Vec<String>,
    /// What is wrong with the recording, and how it was understood, a sentence each.
    pub said: Vec<String>,
}

/// A figure of a drive.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct FigureCompared {
    /// What it is.
    pub figure: &'static str,
    /// Its unit.
    pub unit: &'static str,
    /// As recorded.
    pub recorded: f64,
    /// As predicted, over the same rows of the recording.
    pub predicted: f64,
    /// Predicted less recorded.
    pub difference: f64,
    /// The same in % of what was recorded, where that is how it is told.
    pub difference_pct: Option<f64>,
    /// Why it is too coarse to build on, if it is.
    pub coarse: Option<String>,
}

/// A figure over several drives.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct FigureTogether {
    /// What it is.
    pub figure: &'static str,
    /// Unit of the differences; `%` where they are told in % of what was recorded.
    pub unit: &'static str,
    /// In how many drives it was recorded finely enough.
    pub drives: usize,
    /// Median of the differences.
    pub median: f64,
    /// Lowest difference.
    pub lowest: f64,
    /// Highest difference.
    pub highest: f64,
    /// Difference of the sums over all drives, %, of what can be added up.
    pub of_sum_pct: Option<f64>,
}

/// A channel of a drive, value by value.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ChannelCompared {
    /// What it holds.
    pub channel: &'static str,
    /// Its column in the recording.
    pub column: String,
    /// Unit of the differences.
    pub unit: &'static str,
    /// Rows that were compared.
    pub rows: usize,
    /// Mean of predicted less recorded.
    pub mean: f64,
    /// Root mean square of predicted less recorded.
    pub rms: f64,
    /// Predicted less recorded where they differ most.
    pub worst: f64,
    /// When that is, s from the first row.
    pub worst_at_s: f64,
}

/// Shorter drives say little of the car (common practice, no source).
const SHORT_M: f64 = 1000.0;
/// A charge that was used in fewer steps of its recording is coarse: 5 % of it (common practice, no
/// source).
const FEW_STEPS: f64 = 20.0;

/// Rows that miss more of the energy than this are said to, %.
const MISSED_PCT: f64 = 1.0;

/// How a figure is told.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Telling {
    /// In % of what was recorded, and sums tell as well.
    Share,
    /// As a difference.
    Apart,
}

/// Pairs of recorded and predicted values of a channel, with their rows.
fn pairs<'a>(
    recording: &'a Recording,
    prediction: &'a Prediction,
    signal: Signal,
) -> impl Iterator<Item = (usize, f64, f64)> + 'a {
    let recorded = recording.values(signal).unwrap_or_default();
    let predicted = prediction.values(signal).unwrap_or_default();
    let all = recorded.iter().zip(predicted).enumerate();
    all.map(|(row, (r, p))| (row, *r, *p)).filter(|(_, r, p)| !r.is_nan() && !p.is_nan())
}

/// Compares a drive.
pub(crate) fn one(
    recorded: &RecordedDrive,
    prediction: &Prediction,
    (not_done, behind_mps): (Option<&'static str>, f64),
    impossible: Vec<String>,
) -> DriveCompared {
    let recording = &recorded.recording;
    let road = &recorded.road;
    let mut figures = Vec::new();
    let mut not_compared = Vec::new();
    energy(recording, prediction, &mut figures, &mut not_compared);
    charge(recording, prediction, &mut figures, &mut not_compared);
    extremes(recording, prediction, &mut figures);
    resistance(recording, prediction, &mut figures);
    let distance_m = road.distance_m();
    if distance_m < SHORT_M {
        let why = format!("a drive of {distance_m:.0} m");
        figures.iter_mut().for_each(|figure| figure.coarse = Some(why.clone()));
    }
    if !impossible.is_empty() {
        let why = "the recording cannot be right".to_owned();
        figures.iter_mut().for_each(|figure| figure.coarse = Some(why.clone()));
    }
    if recorded.load == Some(Signal::Auxiliaries) {
        not_compared.push(
            "All auxiliaries are driven as they were recorded, so they are not compared."
                .to_owned(),
        );
    }
    if recording.first(Signal::Wind).is_some() && recording.first(Signal::HeadWind).is_none() {
        not_compared.push("The wind has no use here without its direction to the road.".to_owned());
    }
    for (signal, what) in [
        (Signal::Air, "The air temperature was not recorded, so it is that of the scenario."),
        (Signal::Charge, "The charge was not recorded, so it begins as the scenario says."),
        (
            Signal::Cells,
            "The temperature of the cells was not recorded, so they begin as the scenario says, or as \
             warm as the air: cold cells and a high resistance look alike.",
        ),
        (Signal::Elevation, "No elevation was recorded, so the road is level."),
    ] {
        if recording.first(signal).is_none() {
            not_compared.push(what.to_owned());
        }
    }
    let said = recording.faults.iter().map(cycles::Fault::sentence);
    let said = said.chain(recording.notes.iter().cloned()).chain(recorded.notes.iter().cloned());
    DriveCompared {
        file: recording.path.display().to_string(),
        began: recording.began.clone(),
        time_s: road.duration_s(),
        distance_km: units::km_from_m(distance_m),
        climb_m: road.climb_m(),
        descent_m: road.descent_m(),
        air_c: recording.mean(Signal::Air).map(units::c_from_k),
        wind_kmh: recording.mean(Signal::Wind).map(units::kmh_from_mps),
        load: recorded.load.map(Signal::words),
        not_done,
        behind_kmh: units::kmh_from_mps(behind_mps),
        impossible,
        figures,
        channels: channels(recording, prediction),
        not_compared,
        said: said.collect(),
    }
}

/// A figure with its difference.
fn figure(
    name: &'static str,
    unit: &'static str,
    recorded: f64,
    predicted: f64,
    telling: Telling,
) -> FigureCompared {
    let difference = predicted - recorded;
    let share = telling == Telling::Share && recorded.abs() > 0.0;
    FigureCompared {
        figure: name,
        unit,
        recorded,
        predicted,
        difference,
        difference_pct: share.then(|| units::pct_of(difference, recorded.abs())),
        coarse: None,
    }
}

/// Energy at the pack and what of it was put back, over the rows that have both volts and amperes.
fn energy(
    recording: &Recording,
    prediction: &Prediction,
    figures: &mut Vec<FigureCompared>,
    not_compared: &mut Vec<String>,
) {
    let Some(power_w) = recording.pack_power_w() else {
        let by = if recording.first(Signal::Charge).is_some() {
            "only the charge tells"
        } else {
            "nothing tells"
        };
        not_compared.push(format!(
            "Neither power nor both volts and amperes of the pack were recorded: of energy {by}."
        ));
        return;
    };
    let predicted_w = prediction.values(Signal::PackPower).unwrap_or_default();
    let (mut recorded_j, mut predicted_j, mut back_j, mut predicted_back_j) = (0.0, 0.0, 0.0, 0.0);
    let (mut compared_s, mut all_s, mut read_j) = (0.0, 0.0, 0.0);
    for (i, t) in recording.time_s.windows(2).enumerate() {
        let step_s = t[1] - t[0];
        all_s += step_s;
        let mean = |values: &[f64]| 0.5 * (values[i] + values[i + 1]);
        let (recorded, predicted) = (mean(&power_w), mean(predicted_w));
        let gained_j = prediction.energy_j[i + 1] - prediction.energy_j[i];
        if step_s > LONGEST_STEP_S || recorded.is_nan() || gained_j.is_nan() || predicted.is_nan() {
            continue;
        }
        compared_s += step_s;
        recorded_j += recorded * step_s;
        predicted_j += gained_j;
        read_j += predicted * step_s;
        back_j -= recorded.min(0.0) * step_s;
        predicted_back_j -= predicted.min(0.0) * step_s;
    }
    if compared_s == 0.0 {
        not_compared.push("No two rows in a row have volts and amperes.".to_owned());
        return;
    }
    if compared_s < 0.98 * all_s {
        not_compared.push(format!(
            "Energy is compared over {:.0} % of the time: the rest lacks volts, amperes or rows.",
            units::pct_of(compared_s, all_s)
        ));
    }
    let missed_pct = units::pct_of(read_j - predicted_j, predicted_j.abs());
    if missed_pct.abs() > MISSED_PCT {
        not_compared.push(format!(
            "Between rows more happens than they show: what is predicted, read at these rows only, is \
             off by {} % of its energy, and so may be what was recorded.",
            number(missed_pct.abs(), 1)
        ));
    }
    let kwh = units::kwh_from_j;
    let share = Telling::Share;
    let mut whole = figure("energy at the pack", "kWh", kwh(recorded_j), kwh(predicted_j), share);
    // A tenth of a kilowatt hour is what a converter's own draw makes in half an hour.
    if whole.recorded.abs() < 0.1 {
        whole.coarse = Some("less than 0.1 kWh".to_owned());
    }
    figures.push(whole);
    let mut back = figure("of it put back", "kWh", kwh(back_j), kwh(predicted_back_j), share);
    if back.recorded < 0.1 && back.predicted < 0.1 {
        back.coarse = Some("less than 0.1 kWh".to_owned());
    }
    figures.push(back);
}

/// The smallest step in which a channel changes.
fn step_of(values: impl Iterator<Item = f64>) -> f64 {
    let (mut last, mut step) = (f64::NAN, f64::INFINITY);
    for value in values {
        let change = (value - last).abs();
        // Less is rounding.
        if change > 1e-7 {
            step = step.min(change);
        }
        last = value;
    }
    step
}

/// Charge used between the first and the last row that has one.
fn charge(
    recording: &Recording,
    prediction: &Prediction,
    figures: &mut Vec<FigureCompared>,
    not_compared: &mut Vec<String>,
) {
    let mut both = pairs(recording, prediction, Signal::Charge);
    let (Some(first), Some(last)) = (both.next(), both.last()) else { return };
    let used = first.1 - last.1;
    let step = step_of(pairs(recording, prediction, Signal::Charge).map(|(_, r, _)| r));
    if used.abs() < step {
        not_compared.push("The recorded charge does not change.".to_owned());
        return;
    }
    let pct = units::pct_from_share;
    let mut found = figure("charge used", "%", pct(used), pct(first.2 - last.2), Telling::Share);
    let steps = used.abs() / step;
    if steps < FEW_STEPS {
        found.coarse = Some(format!(
            "charge in steps of {} %, so {} % either way",
            number(pct(step), 1),
            number(100.0 / steps, 0)
        ));
    }
    figures.push(found);
}

/// Lowest volts, largest amperes, highest temperatures.
fn extremes(recording: &Recording, prediction: &Prediction, figures: &mut Vec<FigureCompared>) {
    let as_it_is: fn(f64) -> f64 = |value| value;
    let c: fn(f64) -> f64 = units::c_from_k;
    for (signal, name, unit, highest, shown) in [
        (Signal::PackVoltage, "lowest pack voltage", "V", false, as_it_is),
        (Signal::PackCurrent, "highest pack current", "A", true, as_it_is),
        (Signal::LowCell, "lowest cell voltage", "V", false, as_it_is),
        (Signal::HighCell, "highest cell voltage", "V", true, as_it_is),
        (Signal::Winding, "winding peak", "°C", true, c),
        (Signal::Housing, "motor housing peak", "°C", true, c),
        (Signal::Sink, "heat sink peak", "°C", true, c),
        (Signal::Cells, "cells peak", "°C", true, c),
        (Signal::Oil, "gearbox oil peak", "°C", true, c),
        (Signal::Coolant, "coolant peak", "°C", true, c),
    ] {
        let best = |a: f64, b: f64| if highest { a.max(b) } else { a.min(b) };
        let ends = pairs(recording, prediction, signal)
            .map(|(_, r, p)| (r, p))
            .reduce(|a, b| (best(a.0, b.0), best(a.1, b.1)));
        if let Some((r, p)) = ends {
            figures.push(figure(name, unit, shown(r), shown(p), Telling::Apart));
        }
    }
}

/// Fewest steps of amperes from row to row that tell a resistance (common practice, no source).
const FEWEST_STEPS: usize = 60;
/// The correlation of steps in volts and amperes from which on they tell one.
const TOGETHER: f64 = 0.7;

/// By how much the volts fall with the amperes from one row to the next, within 2 s.
fn resistance(recording: &Recording, prediction: &Prediction, figures: &mut Vec<FigureCompared>) {
    let (Some(v), Some(a)) =
        (recording.values(Signal::PackVoltage), recording.values(Signal::PackCurrent))
    else {
        return;
    };
    let (Some(pv), Some(pa)) =
        (prediction.values(Signal::PackVoltage), prediction.values(Signal::PackCurrent))
    else {
        return;
    };
    let (mut aa, mut av, mut vv, mut paa, mut pav, mut steps) = (0.0, 0.0, 0.0, 0.0, 0.0, 0);
    for (i, t) in recording.time_s.windows(2).enumerate() {
        let change = |values: &[f64]| values[i + 1] - values[i];
        let (dv, da, dpv, dpa) = (change(v), change(a), change(pv), change(pa));
        if t[1] - t[0] > 2.0 || (dv + da + dpv + dpa).is_nan() {
            continue;
        }
        aa += da * da;
        av += da * dv;
        vv += dv * dv;
        paa += dpa * dpa;
        pav += dpa * dpv;
        steps += usize::from(da.abs() > 1.0);
    }
    if steps < FEWEST_STEPS || paa <= 0.0 {
        return;
    }
    let mohm = |ohm: f64| 1000.0 * ohm;
    let (recorded, predicted) = (mohm(-av / aa), mohm(-pav / paa));
    let mut found =
        figure("volts per ampere, in seconds", "mΩ", recorded, predicted, Telling::Share);
    let correlation = -av / (aa * vv).sqrt();
    if correlation.is_nan() || correlation < TOGETHER {
        found.coarse = Some("volts and amperes do not go together from row to row".to_owned());
    }
    figures.push(found);
}

/// What a channel's differences are shown in, and by what they are multiplied.
fn shown(signal: Signal) -> (&'static str, fn(f64) -> f64) {
    match signal {
        Signal::Speed => ("km/h", units::kmh_from_mps),
        Signal::Charge => ("%", units::pct_from_share),
        Signal::PackPower | Signal::Auxiliaries => ("kW", units::kw_from_w),
        Signal::PackVoltage | Signal::LowCell | Signal::HighCell => ("V", |v| v),
        Signal::PackCurrent => ("A", |a| a),
        Signal::MotorTorque => ("N·m", |nm| nm),
        Signal::MotorSpeed => ("rpm", units::rpm_from_radps),
        _ => ("K", |k| k),
    }
}

fn channels(recording: &Recording, prediction: &Prediction) -> Vec<ChannelCompared> {
    let mut all = Vec::new();
    for channel in &recording.channels {
        let (unit, scale) = shown(channel.signal);
        let (mut rows, mut sum, mut squares, mut worst, mut at) = (0usize, 0.0, 0.0, 0.0f64, 0);
        for (row, recorded, predicted) in pairs(recording, prediction, channel.signal) {
            let difference = scale(predicted - recorded);
            rows += 1;
            sum += difference;
            squares += difference * difference;
            if difference.abs() > worst.abs() {
                (worst, at) = (difference, row);
            }
        }
        if rows == 0 {
            continue;
        }
        let n = rows as f64;
        all.push(ChannelCompared {
            channel: channel.signal.words(),
            column: channel.column.clone(),
            unit,
            rows,
            mean: sum / n,
            rms: (squares / n).sqrt(),
            worst,
            worst_at_s: recording.time_s[at],
        });
    }
    all
}

/// Each figure over all drives that have it finely enough.
pub(crate) fn together(drives: &[DriveCompared]) -> Vec<FigureTogether> {
    let mut names: Vec<&'static str> = Vec::new();
    for figure in drives.iter().flat_map(|drive| &drive.figures) {
        if !names.contains(&figure.figure) {
            names.push(figure.figure);
        }
    }
    let of = |name: &'static str| {
        let all: Vec<&FigureCompared> = drives
            .iter()
            .filter(|drive| drive.not_done.is_none())
            .flat_map(|drive| &drive.figures)
            .filter(|figure| figure.figure == name && figure.coarse.is_none())
            .collect();
        let share = all.iter().all(|figure| figure.difference_pct.is_some());
        let told = |figure: &&FigureCompared| figure.difference_pct.unwrap_or(figure.difference);
        let mut differences: Vec<f64> = all.iter().map(told).collect();
        differences.sort_by(f64::total_cmp);
        let (lowest, highest) = (*differences.first()?, *differences.last()?);
        let half = differences.len() / 2;
        let median = if differences.len() % 2 == 1 {
            differences[half]
        } else {
            0.5 * (differences[half - 1] + differences[half])
        };
        let sum = |of: fn(&FigureCompared) -> f64| all.iter().map(|figure| of(figure)).sum::<f64>();
        let recorded = sum(|figure| figure.recorded);
        let adds_up = share && all[0].unit != "mΩ" && recorded != 0.0;
        let unit = match all[0].unit {
            _ if share => "%",
            "°C" => "K",
            unit => unit,
        };
        Some(FigureTogether {
            figure: name,
            unit,
            drives: differences.len(),
            median,
            lowest,
            highest,
            of_sum_pct: adds_up
                .then(|| units::pct_of(sum(|figure| figure.difference), recorded.abs())),
        })
    };
    names.into_iter().filter_map(of).collect()
}

impl DriveCompared {
    /// A figure by its name.
    pub fn figure(&self, name: &str) -> Option<&FigureCompared> {
        self.figures.iter().find(|figure| figure.figure == name)
    }
}
