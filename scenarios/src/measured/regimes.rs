//! Stretches of recorded drives on which one thing rules, and what their differences suggest.

use crate::measured::compared::DriveCompared;
use crate::measured::drive::{LONGEST_STEP_S, Prediction, RecordedDrive};
use crate::words::number;
use cycles::Signal;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::units;

/// Energy of stretches on which one thing rules.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct RegimeCompared {
    /// Where the car was.
    pub regime: &'static str,
    /// What rules there.
    pub rules: &'static str,
    /// Time, s.
    pub time_s: f64,
    /// Distance, km.
    pub distance_km: f64,
    /// Energy at the pack as recorded, kWh.
    pub recorded_kwh: f64,
    /// Energy at the pack as predicted, kWh.
    pub predicted_kwh: f64,
    /// Predicted less recorded, % of what was recorded.
    pub difference_pct: f64,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Regime {
    Standing,
    SteadySlow,
    SteadyFast,
    Uphill,
}

const REGIMES: [(Regime, &str, &str); 4] = [
    (Regime::Standing, "standing", "auxiliaries"),
    (Regime::SteadySlow, "steady 30 to 65 km/h, level", "tyres, auxiliaries, gearbox drag"),
    (Regime::SteadyFast, "steady 75 km/h and more, level", "air, then tyres"),
    (Regime::Uphill, "uphill, 2.5 % and more", "mass, motor and gearbox efficiency"),
];

/// The car stands below this, m/s.
const STANDING_MPS: f64 = 0.3;
/// It goes steadily where its speed changes less than this within 10 s, m/s.
const STEADY_MPS: f64 = 1.0;
/// And where the road is this level, rise over run.
const LEVEL: f64 = 0.01;
/// A hill is steeper than this.
const HILL: f64 = 0.025;
/// Shorter stretches say nothing, s and m (common practice, no source).
const LEAST_S: f64 = 60.0;
const LEAST_M: f64 = 1000.0;
/// Smaller differences suggest nothing, % (common practice, no source).
const TELLING_PCT: f64 = 5.0;

/// Sums of one regime.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    time_s: f64,
    distance_m: f64,
    recorded_j: f64,
    predicted_j: f64,
}

/// Sums of all regimes over drives, and how far each part was warmed, K.
#[derive(Debug, Default)]
pub(crate) struct Regimes {
    sums: [Sums; REGIMES.len()],
    rises_k: [f64; PARTS.len()],
    /// The largest noise of a drive's speeds, m/s.
    noise_mps: f64,
}

/// Parts that grow warm: the figure, its channel, and what to look at.
const PARTS: [(Signal, &str, &str, &str); 3] = [
    (Signal::Winding, "winding peak", "winding", "the motor's losses and its way to the air"),
    (Signal::Sink, "heat sink peak", "heat sink", "the controller's losses and its air"),
    (Signal::Cells, "cells peak", "cells", "their resistance, heat capacity and box"),
];
/// Smaller differences of temperature suggest nothing: so many K, and this share of the rise (noise of
/// speeds at the grade of a satellite receiver warms a winding by as much; common practice, no source).
const TELLING_K: f64 = 5.0;
const TELLING_RISE: f64 = 0.12;
/// Noise of speeds, each taken for a push, that warms what carries it by as much again, m/s (0.5 km/h: the
/// demo on its own log, noise put in).
const WARMING_MPS: f64 = 0.14;

/// Noise of speeds a row a second or so, from how far each is off the middle of its neighbours: 1.4826 times
/// the median is the deviation, and that of such a sum is √6 times a value's.
fn noise_mps(time_s: &[f64], speed: &[f64]) -> f64 {
    let rows = time_s.windows(3).zip(speed.windows(3));
    let moving =
        rows.filter(|(t, v)| t[2] - t[0] < 2.0 * LONGEST_STEP_S && v.iter().all(|v| *v > 1.0));
    let mut off: Vec<f64> = moving.map(|(_, v)| (v[0] - 2.0 * v[1] + v[2]).abs()).collect();
    off.sort_by(f64::total_cmp);
    off.get(off.len() / 2).map_or(0.0, |middle| 1.4826 * middle / 6.0_f64.sqrt())
}

impl Regimes {
    /// Adds a drive, if it tells the power of the pack.
    pub fn add(&mut self, recorded: &RecordedDrive, prediction: &Prediction) {
        let recording = &recorded.recording;
        for ((signal, ..), rise_k) in PARTS.iter().zip(&mut self.rises_k) {
            let highest = recording.filled(*signal).map(|(_, k)| k).fold(0.0, f64::max);
            *rise_k = rise_k.max(highest - recording.first(*signal).unwrap_or(highest));
        }
        let (Some(power_w), Some(speed)) =
            (recording.pack_power_w(), recording.values(Signal::Speed))
        else {
            return;
        };
        let times = &recording.time_s;
        self.noise_mps = self.noise_mps.max(noise_mps(times, speed));
        let road = &recorded.road;
        let slope_at = |time_s: f64| {
            let after = road.time_s.partition_point(|t| *t <= time_s);
            road.slope.get(after.saturating_sub(1)).copied().unwrap_or(0.0)
        };
        let steady = |i: usize| {
            let (from, to) = (times[i] - 5.0, times[i + 1] + 5.0);
            let first = times.partition_point(|t| *t < from);
            let past = times.partition_point(|t| *t <= to);
            let (lowest, highest) = speed[first..past]
                .iter()
                .filter(|v| !v.is_nan())
                .fold((f64::INFINITY, 0.0f64), |(low, high), v| (low.min(*v), high.max(*v)));
            highest - lowest < STEADY_MPS
        };
        for i in 0..times.len() - 1 {
            let step_s = times[i + 1] - times[i];
            let watts = 0.5 * (power_w[i] + power_w[i + 1]);
            let predicted_j = prediction.energy_j[i + 1] - prediction.energy_j[i];
            let mps = 0.5 * (speed[i] + speed[i + 1]);
            if step_s > LONGEST_STEP_S || (watts + predicted_j + mps).is_nan() {
                continue;
            }
            let slope = slope_at(times[i]);
            let kmh = units::kmh_from_mps(mps);
            let regime = if speed[i].max(speed[i + 1]) < STANDING_MPS {
                Regime::Standing
            } else if slope > HILL && mps > 5.0 {
                Regime::Uphill
            } else if slope.abs() > LEVEL || !steady(i) {
                continue;
            } else if (30.0..=65.0).contains(&kmh) {
                Regime::SteadySlow
            } else if kmh >= 75.0 {
                Regime::SteadyFast
            } else {
                continue;
            };
            let sums = &mut self.sums[regime as usize];
            sums.time_s += step_s;
            sums.distance_m += mps * step_s;
            sums.recorded_j += watts * step_s;
            sums.predicted_j += predicted_j;
        }
    }

    /// The regimes that the drives have enough of.
    pub fn compared(&self) -> Vec<RegimeCompared> {
        let row = |(regime, words, rules): &(Regime, &'static str, &'static str)| {
            let sums = self.of(*regime)?;
            Some(RegimeCompared {
                regime: words,
                rules,
                time_s: sums.time_s,
                distance_km: units::km_from_m(sums.distance_m),
                recorded_kwh: units::kwh_from_j(sums.recorded_j),
                predicted_kwh: units::kwh_from_j(sums.predicted_j),
                difference_pct: units::pct_of(
                    sums.predicted_j - sums.recorded_j,
                    sums.recorded_j.abs().max(f64::MIN_POSITIVE),
                ),
            })
        };
        REGIMES.iter().filter_map(row).collect()
    }

    fn of(&self, regime: Regime) -> Option<Sums> {
        let sums = self.sums[regime as usize];
        let enough =
            sums.time_s >= LEAST_S && (regime == Regime::Standing || sums.distance_m >= LEAST_M);
        (enough && sums.recorded_j > 0.0).then_some(sums)
    }

    /// What the differences suggest. What rules standing is taken out of what is found moving; what is
    /// left suggests something only where the difference itself says the same.
    pub fn suggestions(&self, drives: &[DriveCompared]) -> Vec<String> {
        let wrong = drives.iter().filter(|drive| !drive.impossible.is_empty()).count();
        if wrong > 0 && wrong == drives.len() {
            return vec![
                "The recording cannot be right as it stands, so it suggests nothing of the car."
                    .to_owned(),
            ];
        }
        let mut said = Vec::new();
        let standing = self.of(Regime::Standing);
        let extra_w = standing.map_or(0.0, |s| (s.recorded_j - s.predicted_j) / s.time_s);
        if let Some(sums) = standing {
            let (recorded, predicted) =
                (sums.recorded_j / sums.time_s, sums.predicted_j / sums.time_s);
            if extra_w.abs() > f64::max(50.0, 0.15 * recorded) {
                said.push(format!(
                    "Standing, the pack gave {} W, and {} W are predicted: look at the auxiliaries.",
                    number(recorded, 0),
                    number(predicted, 0)
                ));
            }
        }
        // Force that is missing in the prediction, N, and its share of what was recorded, %.
        let missing = |regime: Regime| {
            let sums = self.of(regime)?;
            let missing_j = sums.recorded_j - sums.predicted_j - extra_w * sums.time_s;
            let plain_j = sums.recorded_j - sums.predicted_j;
            let (plain_pct, pct) = (
                units::pct_of(plain_j, sums.recorded_j),
                units::pct_of(missing_j, sums.recorded_j),
            );
            let same = plain_pct * pct > 0.0;
            let pct = if same { plain_pct.abs().min(pct.abs()).copysign(pct) } else { 0.0 };
            Some((missing_j / sums.distance_m, pct))
        };
        let more = |pct: f64| {
            format!("{} % {}", number(pct.abs(), 0), if pct > 0.0 { "more" } else { "less" })
        };
        let besides = if extra_w.abs() > 50.0 { ", apart from what it takes standing" } else { "" };
        let (slow, fast) = (missing(Regime::SteadySlow), missing(Regime::SteadyFast));
        match (slow, fast) {
            (slow, Some((fast_n, pct))) if pct.abs() > TELLING_PCT => {
                let air = slow.is_some_and(|(slow_n, _)| fast_n.abs() > 1.5 * slow_n.abs());
                let points = match (slow, air) {
                    (None, _) => "air or tyres; slower steady stretches would tell them apart",
                    (_, true) => "the air (drag area, or wind that blew)",
                    (_, false) => "the tyres and the gearbox more than the air",
                };
                said.push(format!(
                    "At a steady 75 km/h and more the car takes {} than predicted{besides}: look at \
                     {points}.",
                    more(pct)
                ));
            }
            (Some((_, pct)), _) if pct.abs() > TELLING_PCT => said.push(format!(
                "At a steady 30 to 65 km/h the car takes {} than predicted{besides}: look at tyres, \
                 brakes that drag, and gearbox oil.",
                more(pct)
            )),
            _ => {}
        }
        if let Some((_, pct)) = missing(Regime::Uphill)
            && pct.abs() > TELLING_PCT
        {
            said.push(format!(
                "Uphill the car takes {} than predicted{besides}: look at its mass, and at the losses \
                 of motor and gearbox.",
                more(pct)
            ));
        }
        let median = |name: &str, pct: bool| {
            let mut all: Vec<f64> = drives
                .iter()
                .filter_map(|drive| drive.figure(name))
                .filter(|figure| figure.coarse.is_none())
                .filter_map(|f| if pct { f.difference_pct } else { Some(f.difference) })
                .collect();
            all.sort_by(f64::total_cmp);
            all.get(all.len() / 2).copied()
        };
        if let Some(pct) = median("volts per ampere, in seconds", true)
            && pct.abs() > 10.0
        {
            let way = if pct > 0.0 { "less" } else { "more" };
            said.push(format!(
                "From row to row the volts give way {way} than predicted, by {} %: look at the \
                 resistance of cells and harness.",
                number((100.0 / (1.0 + pct / 100.0) - 100.0).abs(), 0)
            ));
        }
        let telling_k = TELLING_K * (1.0 + (self.noise_mps / WARMING_MPS).powi(2));
        for ((_, name, part, look), rise_k) in PARTS.iter().zip(self.rises_k) {
            if let Some(k) = median(name, false)
                && k.abs() > telling_k.max(TELLING_RISE * rise_k)
            {
                let way = if k > 0.0 { "cooler" } else { "hotter" };
                said.push(format!(
                    "The {part} stayed {} K {way} than predicted: look at {look}.",
                    number(k.abs(), 0)
                ));
            }
        }
        if said.is_empty() && standing.is_none() && slow.is_none() && fast.is_none() {
            let used = median("charge used", true);
            match used {
                Some(pct) if pct.abs() > TELLING_PCT => said.push(format!(
                    "The car uses {} charge than predicted; which part of it is off, only volts and \
                     amperes can tell.",
                    more(-pct)
                )),
                Some(_) => {}
                None => said.push("Too little was recorded to point at anything.".to_owned()),
            }
        } else if said.is_empty() {
            said.push(
                "Where one thing rules, nothing differs by enough to point at it.".to_owned(),
            );
        }
        said
    }
}
