//! Recordings that contradict themselves, or show what the car's pack cannot give.

use crate::measured::drive::{LONGEST_STEP_S, Prediction, RecordedDrive};
use crate::words::number;
use cycles::{Recording, Signal};
use sim_core::car::Parts;
use sim_core::units;

/// Volts within this much of the cells' limits are those of the pack (common practice, no source).
const VOLTS: (f64, f64) = (0.7, 1.15);
/// Of so many of the rows, shares.
const FEW: f64 = 0.2;
const MOST: f64 = 0.98;
/// More than so many times what the controller takes is no pack's current (common practice, no source).
const AMPERES: f64 = 3.0;
/// Ampere hours and charge agree within this share of the larger, and this much charge (a pack that is
/// old, and a counter that drifts; common practice, no source).
const CHARGE_SHARE: f64 = 0.3;
const CHARGE: f64 = 0.02;
/// Braking of this much tells whether the current has a sign, A·s, share of the largest current.
const BRAKING_AS: f64 = 50.0;
const BRAKING: f64 = 0.05;
/// The parts of a car are not off by this factor together (common practice, no source).
const FACTOR: f64 = 1.6;
/// Energy and charge used that tell it, J and share.
const TELLING_J: f64 = 0.3 * 3.6e6;
const TELLING_CHARGE: f64 = 0.05;

/// Why a recording cannot be right for the car that it is of, a sentence each; none where it can be.
pub(crate) fn contradictions(
    recorded: &RecordedDrive,
    car: &Parts,
    prediction: &Prediction,
) -> Vec<String> {
    let recording = &recorded.recording;
    let mut said: Vec<String> =
        [volts(recording, car), amperes(recording, car), unsigned(recording, prediction)]
            .into_iter()
            .flatten()
            .collect();
    if said.is_empty() {
        said.extend(charge(recording, car));
    }
    if said.is_empty() {
        said.extend(all(recording, prediction));
    }
    said
}

fn column(recording: &Recording, signal: Signal) -> String {
    let column = recording.channel(signal).map_or(signal.column(), |channel| &channel.column);
    format!("`{}`", cycles::short(column))
}

/// A value below which a share of others lies.
fn below(mut values: Vec<f64>, share: f64) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let last = values.len().checked_sub(1)?;
    values.get((share * last as f64).round() as usize).copied()
}

fn volts(recording: &Recording, car: &Parts) -> Option<String> {
    let (lowest, highest) = (car.pack.lowest_v(), car.pack.highest_v());
    let values: Vec<f64> = recording.filled(Signal::PackVoltage).map(|(_, v)| v).collect();
    let can_be = VOLTS.0 * lowest..=VOLTS.1 * highest;
    let out = values.iter().filter(|v| !can_be.contains(*v)).count() as f64;
    if out <= FEW * values.len() as f64 {
        return None;
    }
    Some(format!(
        "{} is {} V in its middle, and the pack has {} to {} V.",
        column(recording, Signal::PackVoltage),
        number(below(values, 0.5)?, 1),
        number(lowest, 0),
        number(highest, 0)
    ))
}

fn amperes(recording: &Recording, car: &Parts) -> Option<String> {
    let values = recording.filled(Signal::PackCurrent).map(|(_, a)| a.abs()).collect();
    let most = below(values, MOST)?;
    (most > AMPERES * car.controller.pack_current_a).then(|| {
        format!(
            "{} reaches {} A, and the controller takes {} A at most.",
            column(recording, Signal::PackCurrent),
            number(most, 0),
            number(car.controller.pack_current_a, 0)
        )
    })
}

/// Currents that are out of the pack while it is charged by braking, as much as they should be into it.
fn unsigned(recording: &Recording, prediction: &Prediction) -> Option<String> {
    let recorded = recording.values(Signal::PackCurrent)?;
    let predicted = prediction.values(Signal::PackCurrent)?;
    let ends = |ends: (f64, f64), (_, a): (f64, f64)| (ends.0.min(a), ends.1.max(a));
    let (lowest, highest) = recording.filled(Signal::PackCurrent).fold((0.0, 0.0), ends);
    if lowest < -0.02 * highest {
        return None;
    }
    let (mut both, mut own, mut braking_as) = (0.0, 0.0, 0.0);
    for (i, t) in recording.time_s.windows(2).enumerate() {
        let (r, p) = (recorded[i], predicted[i]);
        if !r.is_nan() && p < -BRAKING * highest && t[1] - t[0] < LONGEST_STEP_S {
            both += r * p;
            own += p * p;
            braking_as -= p * (t[1] - t[0]);
        }
    }
    (braking_as > BRAKING_AS && both < -0.5 * own).then(|| {
        format!(
            "{} is never below zero, and as large in braking as what should flow back: its sign is \
             missing.",
            column(recording, Signal::PackCurrent)
        )
    })
}

/// Ampere hours against the charge used.
fn charge(recording: &Recording, car: &Parts) -> Option<String> {
    let amperes = recording.values(Signal::PackCurrent)?;
    let mut filled = recording.filled(Signal::Charge);
    let (first, last) = (filled.next()?, filled.next_back()?);
    let (mut sum_as, mut summed_s) = (0.0, 0.0);
    for (i, t) in recording.time_s.windows(2).enumerate() {
        let (mean_a, step_s) = (0.5 * (amperes[i] + amperes[i + 1]), t[1] - t[0]);
        if t[0] >= first.0 && t[1] <= last.0 && !mean_a.is_nan() && step_s < LONGEST_STEP_S {
            sum_as += mean_a * step_s;
            summed_s += step_s;
        }
    }
    if summed_s < 0.95 * (last.0 - first.0) {
        return None;
    }
    let capacity_as = car.pack.capacity_as();
    let used_as = capacity_as * (first.1 - last.1);
    let allowed_as = CHARGE_SHARE * used_as.abs().max(sum_as.abs()) + CHARGE * capacity_as;
    let ah = |charge_as: f64| number(charge_as / 3600.0, 1);
    ((sum_as - used_as).abs() > allowed_as).then(|| {
        format!(
            "{} adds up to {} A·h, and {} falls by {} % of a pack of {} A·h, which is {} A·h: one of \
             the three is wrong.",
            column(recording, Signal::PackCurrent),
            ah(sum_as),
            column(recording, Signal::Charge),
            number(units::pct_from_share(first.1 - last.1), 1),
            ah(capacity_as),
            ah(used_as)
        )
    })
}

/// Everything off by more than the parts of a car are.
fn all(recording: &Recording, prediction: &Prediction) -> Option<String> {
    let (mut recorded_j, mut predicted_j) = (0.0, 0.0);
    if let Some(power_w) = recording.pack_power_w() {
        for (i, t) in recording.time_s.windows(2).enumerate() {
            let watts = 0.5 * (power_w[i] + power_w[i + 1]);
            let gained_j = prediction.energy_j[i + 1] - prediction.energy_j[i];
            if !(watts + gained_j).is_nan() && t[1] - t[0] < LONGEST_STEP_S {
                recorded_j += watts * (t[1] - t[0]);
                predicted_j += gained_j;
            }
        }
    }
    let energy = (predicted_j > TELLING_J).then(|| ("energy", recorded_j / predicted_j));
    let used = |values: &[f64]| {
        let mut filled = values.iter().filter(|v| !v.is_nan());
        Some(filled.next()? - filled.next_back()?)
    };
    let charge = || {
        let recorded = used(recording.values(Signal::Charge)?)?;
        let predicted = used(prediction.values(Signal::Charge)?)?;
        (predicted > TELLING_CHARGE).then(|| ("charge", recorded / predicted))
    };
    let (what, factor) = energy.or_else(charge)?;
    (!(1.0 / FACTOR..=FACTOR).contains(&factor)).then(|| {
        format!(
            "the drive took {} times the {what} that is predicted, and no part of a car is so far off: look at \
             the units of speed and current, and whether this is the car of the file and its load.",
            number(factor, 2)
        )
    })
}
