//! A recorded drive set against what is predicted for it, with the band in which it should lie.

use crate::files::error::Error;
use crate::files::overrides::Override;
use crate::inputs::learnt_input::{LearntField, LearntInput, Measure};
use crate::loaded::Loaded;
use crate::measured::course::Course;
use crate::measured::drive::RecordedDrive;
use crate::measured::evidence::{Evidence, Kind};
use crate::measured::scatter::FREEDOM;
use crate::prepared::Prepared;
use crate::runs::drive;
use crate::runs::failure::Failure;
use crate::studies::ranks::quantile;
use cycles::Signal;
use nalgebra::DVector;
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::Trace;
use sim_core::units;
use statrs::distribution::{ContinuousCDF, StudentsT};

/// A recorded drive, ready to be set against predictions.
#[derive(Debug, Clone)]
pub struct Logged {
    /// What it is called.
    pub name: String,
    /// The car in the air and from the charge and temperatures of the recording.
    pub(crate) loaded: Loaded,
    /// The road and the speeds.
    pub(crate) trace: Trace,
    /// What was recorded.
    pub(crate) course: Course,
    /// When no power was recorded, s.
    gaps: Vec<(f64, f64)>,
    /// The car as it begins a standard deviation away from each value that is assumed, as it was not
    /// recorded.
    pub(crate) assumed: Vec<Override>,
}

/// How far cells that stood lie from the temperature of the air, sd in K: a pack takes half a day or
/// more to follow it (common practice, no source).
pub const CELLS_SD_K: f64 = 8.0;

/// What drives are judged by: energy out of the pack where it was recorded, charge used elsewhere.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Total {
    /// Energy out of the pack, kWh.
    EnergyKwh,
    /// Charge used, %.
    ChargePct,
}

/// A drive with what is predicted for it and how sure that is.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Judged {
    /// What it is called.
    pub name: String,
    /// What is compared.
    pub total: Total,
    /// What was recorded.
    pub recorded: f64,
    /// What is predicted, with what drives take beyond what the inputs explain.
    pub predicted: f64,
    /// Lower end of the 80 % band.
    pub low: f64,
    /// Upper end of the 80 % band.
    pub high: f64,
}

impl Judged {
    /// Error of the prediction, %.
    pub fn error_pct(&self) -> f64 {
        units::pct_from_share(self.predicted / self.recorded - 1.0)
    }

    /// Whether the band holds what was recorded.
    pub fn holds(&self) -> bool {
        (self.low..=self.high).contains(&self.recorded)
    }
}

/// What drives have in common.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Together {
    /// How many they are.
    pub drives: usize,
    /// How many of them their bands hold.
    pub held: usize,
    /// Median of the errors, %.
    pub median_pct: f64,
    /// Median of how far errors lie from their median, %.
    pub deviation_pct: f64,
    /// Nine drives in ten are predicted within this, %.
    pub within_pct: f64,
}

impl Together {
    /// Of some drives; none of no drive.
    pub fn of(judged: &[Judged]) -> Option<Self> {
        let sorted = |mut list: Vec<f64>| {
            list.sort_by(f64::total_cmp);
            list
        };
        let errors = sorted(judged.iter().map(Judged::error_pct).collect());
        let sizes = sorted(errors.iter().map(|e| e.abs()).collect());
        if errors.is_empty() {
            return None;
        }
        let median_pct = quantile(&errors, 0.5);
        let away = sorted(errors.iter().map(|e| (e - median_pct).abs()).collect());
        Some(Self {
            drives: judged.len(),
            held: judged.iter().filter(|one| one.holds()).count(),
            median_pct,
            deviation_pct: quantile(&away, 0.5),
            within_pct: quantile(&sizes, 0.9),
        })
    }
}

impl Logged {
    /// Of a recording and a car, which is put in the air of the recording and in the state at its
    /// start; values of the caller come on top.
    ///
    /// # Errors
    /// [`Failure::Invalid`] where the car is refused, or where neither power nor charge was recorded.
    pub fn of(drive: &RecordedDrive, loaded: &Loaded, set: &[Override]) -> Result<Self, Failure> {
        let invalid = |e: Error| Failure::Invalid(e.to_string());
        let said = drive.said().map_err(invalid)?;
        let loaded = loaded.put(&[said.as_slice(), set].concat()).map_err(invalid)?;
        let prepared = loaded.prepare().map_err(invalid)?;
        let (course, gaps) = Course::recorded(drive, &prepared.car);
        let name = drive.recording.name.clone();
        let mut assumed = Vec::new();
        if drive.recording.first(Signal::Cells).is_none() {
            let cells_k =
                prepared.car.parts().pack.coldest_k(&prepared.setup().start.temperature_k);
            let warmer_c = units::c_from_k(cells_k) + CELLS_SD_K;
            assumed.push(Override::number("start.cells_c", warmer_c).map_err(invalid)?);
        }
        let logged = Self { name, loaded, trace: drive.trace.clone(), course, gaps, assumed };
        match total(&logged.evidence(&prepared), None) {
            Some(_) => Ok(logged),
            None => Err(Failure::Invalid(format!(
                "{}: neither the pack's power nor its charge was recorded for long enough, and one of \
                 them is needed",
                cycles::file(&drive.recording.path)
            ))),
        }
    }

    /// What its recording can tell.
    pub(crate) fn evidence(&self, prepared: &Prepared) -> Evidence {
        let weight_n = prepared.car.parts().chassis.mass_kg * units::GRAVITY_MPS2;
        Evidence::of(&self.course, &self.gaps, weight_n)
    }

    /// What a car goes through on it.
    pub(crate) fn driven(&self, prepared: &Prepared) -> Course {
        let mut course = Course::begin();
        drive::drive(&prepared.setup(), &self.trace, &mut course);
        course
    }

    /// What is predicted for it, with the band of what is left uncertain of inputs that were measured,
    /// and of what differs from drive to drive: `p ± t·√(gᵀΣg + (s·p)²)` with the gradient g by the
    /// inputs, their covariance Σ, the scatter s and the 90th percentile t of Student's distribution.
    /// What is assumed, as it was not recorded, adds the square of what a deviation of it changes.
    ///
    /// # Errors
    /// A car that is refused.
    pub fn judged(&self) -> Result<Judged, Error> {
        let prepared = self.loaded.prepare()?;
        let evidence = self.evidence(&prepared);
        let sum =
            |prepared: &Prepared| total(&evidence, Some(&evidence.read(&self.driven(prepared))));
        let predicted = sum(&prepared).map_or(0.0, |(_, sum)| sum);
        let measured = prepared.measured();
        let moved = |input: &LearntInput| -> Result<f64, Error> {
            let moved = input.fields.iter();
            let moved = moved.map(|field| Override::number(&field.path, further(input, field)));
            // What is refused a deviation further on is drawn back there by `bands` too.
            let moved = self.loaded.with(&moved.collect::<Result<Vec<_>, Error>>()?).ok();
            Ok(moved.and_then(|moved| sum(&moved)).map_or(0.0, |(_, sum)| sum - predicted))
        };
        let mut variance = 0.0;
        for together in &measured {
            let all = together.inputs.par_iter().map(moved).collect::<Result<Vec<f64>, Error>>()?;
            let gradient = DVector::from_vec(all);
            variance += gradient.dot(&(&together.correlations * &gradient)).max(0.0);
        }
        for value in &self.assumed {
            let other = self.loaded.with(std::slice::from_ref(value)).ok();
            let other = other.and_then(|other| sum(&other)).map_or(predicted, |(_, sum)| sum);
            variance += (other - predicted).powi(2);
        }
        let mut middle = predicted;
        if let Some(scatter) = measured.iter().rev().find_map(|together| together.scatter) {
            middle *= 1.0 + units::share_from_pct(scatter.energy_mean_pct);
            variance += (units::share_from_pct(scatter.energy_sd_pct) * middle).powi(2);
        }
        let reach = StudentsT::new(0.0, 1.0, FREEDOM).map_or(1.0, |unit| unit.inverse_cdf(0.9));
        let half = reach * variance.sqrt();
        let mut judged = self.compared(&evidence, middle);
        (judged.low, judged.high) = (middle - half, middle + half);
        Ok(judged)
    }

    /// What was recorded beside what is predicted, without a band.
    pub(crate) fn compared(&self, evidence: &Evidence, predicted: f64) -> Judged {
        let (total, recorded) = total(evidence, None).unwrap_or((Total::ChargePct, 0.0));
        let name = self.name.clone();
        Judged { name, total, recorded, predicted, low: predicted, high: predicted }
    }
}

/// What a drive is judged by and its sum: of what was recorded, or of other values of its figures.
pub(crate) fn total(evidence: &Evidence, values: Option<&DVector<f64>>) -> Option<(Total, f64)> {
    let values = values.unwrap_or(&evidence.recorded);
    let sum = |kind| {
        let all = evidence.figures.iter().zip(values.iter());
        all.filter(|(figure, _)| figure.kind == kind).map(|(_, value)| *value).reduce(|a, b| a + b)
    };
    sum(Kind::Energy)
        .map(|joules| (Total::EnergyKwh, units::kwh_from_j(joules)))
        .or_else(|| sum(Kind::Charge).map(|used| (Total::ChargePct, units::pct_from_share(used))))
}

/// The value of a field a standard deviation beyond what was found.
fn further(input: &LearntInput, field: &LearntField) -> f64 {
    match (input.measure, field.was) {
        (Measure::Percent, Some(was)) => field.value + was * units::share_from_pct(input.sd),
        _ => field.value + input.sd,
    }
}
