//! What recorded drives tell of a car, and what they cannot tell.

use crate::files::error::Error;
use crate::files::overrides::Override;
use crate::inputs::conditions::Conditions;
use crate::inputs::learnt::{Learnt, Recorded, Scatter, TestConditions};
use crate::inputs::learnt_input::{LearntFrom, LearntInput, Measure};
use crate::measured::course::Course;
use crate::measured::evidence::{Evidence, Noise};
use crate::measured::judged::{Judged, Logged, total};
use crate::measured::posterior::{Line, Posterior, posterior};
use crate::measured::scatter::spread_of;
use crate::runs::failure::Failure;
use crate::studies::uncertain::{Uncertain, UncertainInput};
use crate::words::number;
use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::units;

/// Inputs that are no property of the car but of the day, or have no part in a drive.
const OF_THE_DAY: [&str; 5] =
    ["load", "head wind", "air temperature", "charger efficiency", "from drive to drive"];
/// Inputs that stand for the surface: what the typical spread of one does is what surfaces do.
const SURFACE: [&str; 3] = ["rolling resistance", "coast-down f0", "coast-down a"];
/// The mean head wind of a drive, sd in km/h: less than an hour's, as roads turn (common practice,
/// no source).
const WIND_SD_KMH: f64 = 5.0;
/// Rounds of Gauss and Newton; energies are nearly straight in the inputs.
const ROUNDS: usize = 5;
/// Step of a finite difference, in typical standard deviations.
const STEP: f64 = 0.5;
/// Where a round moves no input by more than this, in typical standard deviations, it is the last.
const CLOSE: f64 = 0.02;
/// An input whose standard deviation the drives leave above this share could not be told.
const UNTOLD: f64 = 0.9;
/// Wider spreads than this many times the typical are no car of the file's kind, and a share that is
/// left of less than a tenth is no part (common practice, no source).
const MOST_WIDENING: f64 = 2.5;
const LEAST_LEFT_PCT: f64 = -90.0;
/// A drive that counts less than this does not say how drives differ.
const LEAST_WEIGHT: f64 = 0.05;
/// An input that could not be told and moved by less than this, in typical standard deviations, is
/// left as it is.
const UNMOVED: f64 = 0.25;

/// An input after the drives.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Told {
    /// The input as the file of what was learnt has it.
    #[serde(flatten)]
    pub input: LearntInput,
    /// Whether the drives told it.
    pub told: bool,
    /// Whether the file of what was learnt holds it: it was told, or moved.
    pub kept: bool,
    /// The other input with which it hangs together most.
    pub with: Option<String>,
    /// Their correlation.
    pub correlation: f64,
}

/// A drive before and after the fit.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Fitted {
    /// As predicted with the file as it is.
    pub before: Judged,
    /// As predicted with what was learnt, before what drives have in common beyond the inputs.
    pub after: Judged,
    /// How much its windows count, 1 where they fit as well as is expected.
    pub weight: f64,
    /// Whether it is assumed how warm its cells began, as it was not recorded.
    pub cells_assumed: bool,
}

/// What was found.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Fit {
    /// The inputs.
    pub inputs: Vec<Told>,
    /// How many times as wide as is typical the spreads had to be taken for this car.
    pub widening: f64,
    /// What differs from drive to drive.
    pub scatter: Scatter,
    /// The drives.
    pub drives: Vec<Fitted>,
    #[serde(skip)]
    #[schemars(skip)]
    correlations: DMatrix<f64>,
}

impl Fit {
    /// The file of what was learnt.
    pub fn learnt(
        &self,
        date: String,
        sources: Vec<Recorded>,
        conditions: Option<TestConditions>,
    ) -> Learnt {
        let kept: Vec<usize> = (0..self.inputs.len()).filter(|i| self.inputs[*i].kept).collect();
        let rounded = |value: f64| (value * 1e4).round() / 1e4;
        let row = |i: &usize| kept.iter().map(|j| rounded(self.correlations[(*i, *j)])).collect();
        Learnt {
            schema: None,
            from: LearntFrom::Drives,
            date,
            note: None,
            sources,
            conditions,
            inputs: kept.iter().map(|i| self.inputs[*i].input.clone()).collect(),
            correlations: Some(kept.iter().map(row).collect()),
            scatter: Some(self.scatter),
        }
    }
}

/// A drive on the way to the fit.
struct Case<'a> {
    drive: &'a Logged,
    inputs: Vec<UncertainInput>,
    evidence: Evidence,
}

impl<'a> Case<'a> {
    fn of(drive: &'a Logged) -> Result<Self, Failure> {
        let prepared = drive.loaded.prepare().map_err(|e| Failure::Invalid(e.to_string()))?;
        if !prepared.car.parts().pack.others.is_empty() {
            return Err(Failure::Invalid(
                "pack.boxes: a pack in boxes is not fitted, as a recording does not tell which of them a \
                 voltage or a temperature is of; compare the recording without fitting"
                    .to_owned(),
            ));
        }
        let all = Uncertain::new(&drive.loaded, &[], true)?.inputs;
        let of_car = |input: &UncertainInput| !OF_THE_DAY.contains(&input.spread.name.as_str());
        let inputs = all.into_iter().filter(of_car).collect();
        Ok(Self { drive, inputs, evidence: drive.evidence(&prepared) })
    }

    fn overrides(&self, z: &DVector<f64>) -> Result<Vec<Override>, Error> {
        let moved = self.inputs.iter().zip(z.iter()).filter(|(_, z)| **z != 0.0);
        let each: Result<Vec<_>, Error> =
            moved.map(|(input, z)| input.overrides(z * input.sd())).collect();
        Ok(each?.concat())
    }

    /// The figures that are predicted for inputs and a head wind beyond the recorded one.
    fn read(&self, z: &DVector<f64>, wind_kmh: f64) -> Result<DVector<f64>, Error> {
        Ok(self.evidence.read(&self.course(z, wind_kmh, &[])?))
    }

    /// The same drive with other values.
    fn course(
        &self,
        z: &DVector<f64>,
        wind_kmh: f64,
        assumed: &[Override],
    ) -> Result<Course, Error> {
        let values = [self.overrides(z)?.as_slice(), assumed].concat();
        let mut prepared = self.drive.loaded.with(&values)?;
        if wind_kmh != 0.0 {
            prepared = prepared.changed(|scenario| {
                let conditions = scenario.conditions.get_or_insert_with(Conditions::default);
                let usual = conditions.head_wind_kmh.unwrap_or(0.0);
                conditions.head_wind_kmh = Some(usual + wind_kmh);
            })?;
        }
        Ok(self.drive.driven(&prepared))
    }

    /// The drive by straight lines around some inputs.
    fn line(&self, z: &DVector<f64>) -> Result<Line<'_>, Error> {
        let usual = self.read(z, 0.0)?;
        let n = self.inputs.len();
        let mut jacobian = DMatrix::zeros(usual.len(), n);
        for i in 0..n {
            // A step that is not allowed is taken the other way; an input with no way is left.
            for step in [STEP, -STEP] {
                let mut moved = z.clone();
                moved[i] += step;
                if let Ok(found) = self.read(&moved, 0.0) {
                    jacobian.set_column(i, &((found - &usual) / step));
                    break;
                }
            }
        }
        let mut days = vec![self.read(z, WIND_SD_KMH)? - &usual];
        let is_surface = |input: &UncertainInput| SURFACE.contains(&input.spread.name.as_str());
        days.extend(self.inputs.iter().position(is_surface).map(|i| jacobian.column(i).into()));
        let rest = &self.evidence.recorded - &usual + &jacobian * z;
        let mut assumed = DMatrix::zeros(usual.len(), self.drive.assumed.len());
        for (i, value) in self.drive.assumed.iter().enumerate() {
            let other = self.course(z, 0.0, std::slice::from_ref(value))?;
            assumed.set_column(i, &(self.evidence.read(&other) - &usual));
        }
        Ok(Line {
            evidence: &self.evidence,
            rest,
            jacobian,
            assumed,
            days: DMatrix::from_columns(&days),
        })
    }

    fn compared(&self, z: &DVector<f64>) -> Result<Judged, Error> {
        let predicted = total(&self.evidence, Some(&self.read(z, 0.0)?));
        Ok(self.drive.compared(&self.evidence, predicted.map_or(0.0, |(_, sum)| sum)))
    }
}

/// Fits the inputs that are uncertain to recorded drives: the most likely ones under the spreads that
/// `bands` draws from and what was recorded, by Gauss and Newton's steps, with their covariance.
///
/// # Errors
/// [`Failure::Invalid`] where a car cannot be prepared or there is no drive; as [`Uncertain::new`].
pub fn fit(drives: &[Logged]) -> Result<Fit, Failure> {
    let invalid = |e: Error| Failure::Invalid(e.to_string());
    let cases = drives.iter().map(Case::of).collect::<Result<Vec<_>, Failure>>()?;
    let Some(inputs) = cases.first().map(|case| case.inputs.clone()) else {
        return Err(Failure::Invalid("no drive to fit; needed: at least one".to_owned()));
    };
    let none = DVector::zeros(inputs.len());
    let (mut z, found) = likeliest(&cases)?;
    if let Some(why) = contradiction(&cases, &inputs, &z, &found) {
        return Err(Failure::Invalid(format!(
            "the file, the recordings and the names of their columns contradict each other: {why}; {}",
            most_at_odds(&cases, &z)?
        )));
    }
    let correlations = correlations(&found.covariance);
    let told = told(&inputs, &z, &found, &correlations);
    for (i, told) in told.iter().enumerate() {
        if !told.kept {
            z[i] = 0.0;
        }
    }
    let fitted = |(case, weight): (&Case<'_>, f64)| -> Result<Fitted, Error> {
        Ok(Fitted {
            before: case.compared(&none)?,
            after: case.compared(&z)?,
            weight,
            cells_assumed: !case.drive.assumed.is_empty(),
        })
    };
    let weights: Vec<f64> = found.weights.iter().map(|weight| weight.windows).collect();
    let drives = cases.iter().zip(weights).map(fitted).collect::<Result<Vec<_>, Error>>();
    let drives = drives.map_err(invalid)?;
    let share = |drive: &Fitted| drive.after.recorded / drive.after.predicted - 1.0;
    let counts = |drive: &&Fitted| drive.weight > LEAST_WEIGHT;
    let spread = spread_of(&drives.iter().filter(counts).map(share).collect::<Vec<f64>>());
    Ok(Fit {
        inputs: told,
        widening: found.widening,
        scatter: Scatter {
            energy_mean_pct: units::pct_from_share(spread.mean),
            energy_sd_pct: units::pct_from_share(spread.width),
        },
        drives,
        correlations,
    })
}

/// The likeliest inputs, in typical standard deviations, and what is known around them.
fn likeliest(cases: &[Case<'_>]) -> Result<(DVector<f64>, Posterior), Failure> {
    let invalid = |e: Error| Failure::Invalid(e.to_string());
    let is_refused = |z: &DVector<f64>| {
        let with = |case: &Case<'_>| case.drive.loaded.with(&case.overrides(z)?);
        cases.iter().any(|case| with(case).is_err())
    };
    let mut z = DVector::zeros(cases.first().map_or(0, |case| case.inputs.len()));
    let mut round = 1;
    loop {
        let lines = cases.par_iter().map(|case| case.line(&z)).collect::<Result<Vec<_>, Error>>();
        let Some(found) = posterior(&lines.map_err(invalid)?) else {
            let text = "the drives hold nothing that can be weighed".to_owned();
            return Err(Failure::Invalid(text));
        };
        // A car that is refused is drawn back towards the last that was not.
        let mut target = found.mean.clone();
        let mut moved = (&target - &z).amax();
        while is_refused(&target) {
            target = if moved > CLOSE { 0.5 * (&target + &z) } else { z.clone() };
            moved *= 0.5;
        }
        z = target;
        if moved < CLOSE || round == ROUNDS {
            return Ok((z, found));
        }
        round += 1;
    }
}

/// What no car does, if that is what the drives ask for.
fn contradiction(
    cases: &[Case<'_>],
    inputs: &[UncertainInput],
    z: &DVector<f64>,
    found: &Posterior,
) -> Option<String> {
    if found.widening > MOST_WIDENING {
        return Some(format!(
            "the car would lie {} times as far from its file as is typical",
            number(found.widening, 1)
        ));
    }
    let is_nothing = |i: usize| {
        inputs[i].spread.measure == Measure::Percent && z[i] * inputs[i].sd() < LEAST_LEFT_PCT
    };
    let is_at_edge = |i: usize| {
        let mut further = z.clone();
        further[i] += STEP * z[i].signum();
        let refuses = |case: &Case<'_>| {
            case.overrides(&further).is_ok_and(|set| case.drive.loaded.with(&set).is_err())
        };
        z[i].abs() > STEP && cases.iter().any(refuses)
    };
    let count = inputs.len();
    if let Some(i) = (0..count).find(|i| is_nothing(*i)) {
        let left = number(100.0 + z[i] * inputs[i].sd(), 0);
        return Some(format!("the likeliest {} is {left} % of the file's", inputs[i].spread.name));
    }
    let i = (0..count).find(|i| is_at_edge(*i))?;
    Some(format!("the likeliest {} lies at the edge of what there can be", inputs[i].spread.name))
}

/// The figure that is furthest from what the likeliest car does, over how far it may be off.
fn most_at_odds(cases: &[Case<'_>], z: &DVector<f64>) -> Result<String, Failure> {
    let mut most = (0.0, String::new());
    for case in cases {
        let line = case.line(z).map_err(|e| Failure::Invalid(e.to_string()))?;
        let left = &line.rest - &line.jacobian * z;
        let covariance = case.evidence.covariance(Noise::expected());
        for (i, figure) in case.evidence.figures.iter().enumerate() {
            let off = left[i].abs() / covariance[(i, i)].sqrt();
            if off > most.0 {
                let what = figure.kind.words();
                most = (off, format!("furthest off is {what} of {}", case.drive.name));
            }
        }
    }
    Ok(most.1)
}

fn correlations(covariance: &DMatrix<f64>) -> DMatrix<f64> {
    let sd = covariance.diagonal().map(f64::sqrt);
    DMatrix::from_fn(covariance.nrows(), covariance.ncols(), |i, j| {
        if i == j { 1.0 } else { covariance[(i, j)] / (sd[i] * sd[j]) }
    })
}

fn told(
    inputs: &[UncertainInput],
    z: &DVector<f64>,
    found: &Posterior,
    correlations: &DMatrix<f64>,
) -> Vec<Told> {
    let size = |i: usize, j: usize| correlations[(i, j)].abs();
    let sd = |i: &usize| found.covariance[(*i, *i)].sqrt();
    let surest = (0..inputs.len()).min_by(|a, b| sd(a).total_cmp(&sd(b)));
    let one = |(i, input): (usize, &UncertainInput)| {
        let sd = sd(&i);
        let told = sd < UNTOLD;
        let others = (0..inputs.len()).filter(|j| *j != i);
        let with = others.max_by(|a, b| size(i, *a).total_cmp(&size(i, *b)));
        // What several drives take beyond the inputs is learnt beside one of them at least.
        let is_needed = found.weights.len() > 1 && surest == Some(i);
        let kept = told || z[i].abs() > UNMOVED || is_needed;
        let (shift, sd) = if kept { (z[i], sd) } else { (0.0, 1.0) };
        Told {
            input: input.learnt(shift * input.sd(), sd * input.sd()),
            told,
            kept,
            with: with.map(|j| inputs[j].spread.name.clone()),
            correlation: with.map_or(0.0, |j| correlations[(i, j)]),
        }
    };
    inputs.iter().enumerate().map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loaded::Loaded;
    use crate::measured::drive::{Prediction, RecordedDrive};
    use crate::studies::hypercube;
    use cycles::{Recording, RecordingOptions, Signal};
    use nalgebra::Cholesky;
    use statrs::distribution::{ContinuousCDF, Normal};
    use std::path::Path;

    /// A drive of the demo with a power at the pack that a car of other values would have taken.
    fn drive(name: &str, speed: impl Fn(f64) -> f64, set: &[Override]) -> RecordedDrive {
        let read = |text: &str| {
            let options = RecordingOptions::default();
            let path = format!("{name}.csv");
            let recording = Recording::read(Path::new(&path), text.as_bytes(), &options).unwrap();
            RecordedDrive::of(recording).unwrap()
        };
        let rows = (0..=400).map(f64::from);
        let plain: String = rows.clone().map(|t| format!("{t},{},80,20\n", speed(t))).collect();
        let plain = read(&format!("time_s,speed_mps,charge_pct,ambient_c\n{plain}"));
        let prepared = plain.prepare(&Loaded::demo().unwrap(), set).unwrap();
        let mut prediction = Prediction::of(&plain);
        plain.predict(&prepared.setup(), &mut prediction);
        let power = prediction.values(Signal::PackPower).unwrap();
        let rows = rows.zip(power).map(|(t, w)| format!("{t},{},20,{w}\n", speed(t)));
        read(&format!("time_s,speed_mps,ambient_c,pack_w\n{}", rows.collect::<String>()))
    }

    /// A random walk over the posterior itself, with the car driven anew at each step, finds the mean,
    /// the deviations and the correlations that straight lines around the likeliest inputs give
    /// (Metropolis and others, 1953, from memory).
    #[test]
    fn a_random_walk_finds_what_the_straight_lines_give() {
        let set = ["donor.drag_coefficient=0.38".parse().unwrap()];
        let town = |t: f64| 7.0 - 7.0 * (t / 9.5).cos();
        let road = |t: f64| 14.0 - 14.0 * (t / 63.7).cos();
        let loaded = Loaded::demo().unwrap();
        let drives: Vec<Logged> = [drive("town", town, &set), drive("road", road, &set)]
            .iter()
            .map(|drive| Logged::of(drive, &loaded, &[]).unwrap())
            .collect();
        let mut cases: Vec<Case<'_>> =
            drives.iter().map(|drive| Case::of(drive).unwrap()).collect();
        let names = ["drag area", "rolling resistance", "auxiliaries"];
        let kept = |input: &UncertainInput| names.contains(&input.spread.name.as_str());
        cases.iter_mut().for_each(|case| case.inputs.retain(kept));
        let (z, found) = likeliest(&cases).unwrap();
        assert_eq!(z.len(), 3);

        let factors: Vec<_> = cases
            .iter()
            .zip(&found.weights)
            .map(|(case, weight)| case.line(&z).unwrap().factored(found.noise, *weight).unwrap())
            .collect();
        // Errors that drives share are integrated over: with precision P and products p of what is
        // left, they take pᵀP⁻¹p from the misfit.
        let alike: Vec<_> = cases.iter().map(|case| case.evidence.alike.clone()).collect();
        let shared = alike[0].ncols();
        let precise = alike
            .iter()
            .zip(&factors)
            .map(|(alike, factor)| alike.transpose() * factor.solve(alike))
            .fold(DMatrix::identity(shared, shared), |sum, one| sum + one);
        let precise = Cholesky::new(precise).unwrap();
        let height = |z: &DVector<f64>| -> f64 {
            let mut products = DVector::zeros(shared);
            let mut misfit = z.norm_squared() / found.widening.powi(2);
            for ((case, factor), alike) in cases.iter().zip(&factors).zip(&alike) {
                let left = &case.evidence.recorded - case.read(z, 0.0).unwrap();
                let solved = factor.solve(&left);
                misfit += left.dot(&solved);
                products += alike.transpose() * solved;
            }
            -0.5 * (misfit - products.dot(&precise.solve(&products)))
        };
        let steps = 6000;
        let chances = hypercube::samples(steps, 4, 3);
        let root = Cholesky::new(found.covariance.clone()).unwrap().l();
        let (mut at, mut now, mut walked) = (z.clone(), height(&z), Vec::new());
        let unit = Normal::standard();
        let mut chances: Vec<_> = chances.into_iter().map(Vec::into_iter).collect();
        let mut chance = |j: usize| chances[j].next().unwrap();
        for _ in 0..steps {
            let drawn = DVector::from_fn(3, |j, _| unit.inverse_cdf(chance(j)));
            let tried = &at + &root * drawn * (2.4 / 3f64.sqrt());
            let there = height(&tried);
            if (there - now).exp() > chance(3) {
                (at, now) = (tried, there);
            }
            walked.push(at.clone());
        }
        let n = walked.len() as f64;
        let mean = walked.iter().sum::<DVector<f64>>() / n;
        let square = |z: &DVector<f64>| (z - &mean) * (z - &mean).transpose();
        let covariance = walked.iter().map(square).sum::<DMatrix<f64>>() / n;
        let (own, walk) = (correlations(&found.covariance), correlations(&covariance));
        for i in 0..3 {
            let sd = found.covariance[(i, i)].sqrt();
            assert!((mean[i] - z[i]).abs() < 0.2 * sd, "{i}: {} {} ± {sd}", mean[i], z[i]);
            let ratio = covariance[(i, i)].sqrt() / sd;
            assert!((ratio - 1.0).abs() < 0.12, "{i}: {ratio}");
            for j in 0..i {
                let apart = own[(i, j)] - walk[(i, j)];
                assert!(apart.abs() < 0.12, "{i} {j}: {} {}", own[(i, j)], walk[(i, j)]);
            }
        }
    }
}
