//! What drives and typical spreads together say of a car: least squares with a prior.
//!
//! Each drive says `y = J·z + e`, where z counts the inputs in their typical standard deviations.
//! With `e ~ N(0, C)` and `z ~ N(0, λ²)` the most likely z is the mean of the posterior, whose
//! covariance is `(Σ JᵀC⁻¹J + 1/λ²)⁻¹`. How large the errors are, and by how much λ this car lies
//! further from its file than is typical, is what makes the recordings likeliest of all (their
//! marginal likelihood), with a prior for each that only many drives overrule. A drive that fits
//! worse than others counts less, and so does one on a day that was far from usual, as if both came
//! from Student's distribution. Errors of gauges and sensors that all drives share are unknowns beside
//! the inputs: no number of drives averages them out, and what they could explain is not told of an
//! input.

use crate::measured::evidence::{Evidence, Noise};
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

/// Degrees of freedom of the errors of a whole drive: so few that one drive whose height is wrong
/// does not rule (common practice, no source).
const FREEDOM: f64 = 4.0;
/// Rounds in which weights and errors' sizes are found in turn.
const ROUNDS: usize = 8;

/// A drive as far as it depends on the inputs, by straight lines.
#[derive(Debug)]
pub struct Line<'a> {
    /// Its figures and their errors.
    pub evidence: &'a Evidence,
    /// What was recorded, less what is predicted with all inputs as they stand in the file.
    pub rest: DVector<f64>,
    /// What each input changes for a typical standard deviation.
    pub jacobian: DMatrix<f64>,
    /// What values that were not recorded and are assumed change, a column each.
    pub assumed: DMatrix<f64>,
    /// What wind, people and surface of a day change, a column each.
    pub days: DMatrix<f64>,
}

/// What is known after the drives.
#[derive(Debug, Clone, PartialEq)]
pub struct Posterior {
    /// The likeliest inputs, in typical standard deviations.
    pub mean: DVector<f64>,
    /// The inputs' covariance.
    pub covariance: DMatrix<f64>,
    /// How large the errors are.
    pub noise: Noise,
    /// How many times as far from its file as is typical the car may lie.
    pub widening: f64,
    /// How much each drive counts, 1 for one that fits as well as is expected.
    pub weights: Vec<Weight>,
}

/// The sizes that are found, as logarithms, with what is expected of them and how sure that is:
/// errors of days, of heights, of windows, and the widening of the prior.
const EXPECTED: [(f64, f64); 4] = [(1.0, 0.5), (1.0, 1.0), (0.2, 1.0), (1.0, 0.3)];

#[derive(Clone, Copy)]
struct Sizes([f64; 4]);

impl Noise {
    /// What is expected before anything is known.
    pub fn expected() -> Self {
        Sizes::expected().noise()
    }
}

impl Sizes {
    fn expected() -> Self {
        Self(EXPECTED.map(|(usual, _)| usual.ln()))
    }

    fn noise(self) -> Noise {
        let [days, height_m, window, _] = self.0.map(f64::exp);
        Noise { days, height_m, window }
    }

    fn widening(self) -> f64 {
        self.0[3].exp()
    }

    /// Logarithm of how likely they are before anything is known, but for a constant. Typical
    /// spreads are not narrowed: that drives fit a file well says little of its single inputs.
    fn likelihood(self) -> f64 {
        if self.0[3] < 0.0 {
            return f64::NEG_INFINITY;
        }
        let one = |(value, (usual, sd)): (f64, (f64, f64))| ((value - usual.ln()) / sd).powi(2);
        -0.5 * self.0.into_iter().zip(EXPECTED).map(one).sum::<f64>()
    }
}

/// The normal equations of some drives, without the prior.
struct Normal {
    /// How many of the unknowns are inputs; the others are errors that drives share.
    inputs: usize,
    squares: DMatrix<f64>,
    products: DVector<f64>,
    /// yᵀC⁻¹y + ln |C| of all drives.
    spent: f64,
}

/// How much a drive counts: its windows, and its day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weight {
    /// Of its windows, 1 where they fit as well as those of all drives.
    pub windows: f64,
    /// Of its day, 1 where wind, people and surface were as usual.
    pub day: f64,
}

impl Line<'_> {
    /// What inputs and then shared errors change.
    fn unknown(&self) -> DMatrix<f64> {
        let (n, k) = (self.jacobian.ncols(), self.evidence.alike.ncols());
        let mut all = self.jacobian.clone().resize_horizontally(n + k, 0.0);
        all.columns_mut(n, k).copy_from(&self.evidence.alike);
        all
    }

    /// The covariance of its errors, but for what a day does to them.
    fn windows(&self, noise: Noise) -> DMatrix<f64> {
        self.evidence.covariance(noise) + &self.assumed * self.assumed.transpose()
    }

    /// The covariance of its errors, factored.
    pub fn factored(&self, noise: Noise, weight: Weight) -> Option<Cholesky<f64, Dyn>> {
        let days = &self.days * noise.days;
        let windows = self.windows(noise) / weight.windows;
        Cholesky::new(windows + &days * days.transpose() / weight.day)
    }
}

/// The weights of a drive whose figures are so far from what is predicted, by the mean of what
/// Student's distribution gives them.
fn weighed(line: &Line<'_>, noise: Noise, weight: Weight, left: &DVector<f64>) -> Option<Weight> {
    let days = &line.days * noise.days;
    let n = left.len() as f64;
    let q = days.ncols() as f64;
    // What of it the day explains, with how sure that is.
    let windows = Cholesky::new(line.windows(noise) / weight.windows)?;
    let precise = days.transpose() * windows.solve(&days)
        + DMatrix::identity(days.ncols(), days.ncols()) * weight.day;
    let factor = Cholesky::new(precise)?;
    let day = factor.solve(&(days.transpose() * windows.solve(left)));
    let unsure = factor.inverse();
    let beside = left - &days * &day;
    let misfit = (beside.dot(&windows.solve(&beside))
        + (&unsure * days.transpose() * windows.solve(&days)).trace())
        / weight.windows;
    Some(Weight {
        windows: (FREEDOM + n) / (FREEDOM + misfit),
        day: (FREEDOM + q) / (FREEDOM + day.norm_squared() + unsure.trace()),
    })
}

fn normal(lines: &[Line<'_>], noise: Noise, weights: &[Weight]) -> Option<Normal> {
    let first = lines.first()?;
    let inputs = first.jacobian.ncols();
    let unknowns = inputs + first.evidence.alike.ncols();
    let mut all = Normal {
        inputs,
        squares: DMatrix::zeros(unknowns, unknowns),
        products: DVector::zeros(unknowns),
        spent: 0.0,
    };
    for (line, weight) in lines.iter().zip(weights) {
        let factor = line.factored(noise, *weight)?;
        let whitened = factor.l().solve_lower_triangular(&line.unknown())?;
        let rest = factor.l().solve_lower_triangular(&line.rest)?;
        all.squares += whitened.transpose() * &whitened;
        all.products += whitened.transpose() * &rest;
        all.spent += rest.norm_squared() + 2.0 * factor.l().diagonal().map(f64::ln).sum();
    }
    Some(all)
}

impl Normal {
    /// Mean and factored inverse covariance under a prior.
    fn solve(&self, widening: f64) -> Option<(DVector<f64>, Cholesky<f64, Dyn>)> {
        let mut precise = self.squares.clone();
        for i in 0..self.products.len() {
            precise[(i, i)] += if i < self.inputs { widening.powi(-2) } else { 1.0 };
        }
        let factor = Cholesky::new(precise)?;
        Some((factor.solve(&self.products), factor))
    }

    /// Logarithm of the marginal likelihood, but for a constant: of y ~ N(0, C + λ²·J·Jᵀ), by the
    /// lemma of determinants and Woodbury's identity.
    fn likelihood(&self, widening: f64) -> Option<f64> {
        let (mean, factor) = self.solve(widening)?;
        let n = self.inputs as f64;
        let determinant = 2.0 * factor.l().diagonal().map(f64::ln).sum() + 2.0 * n * widening.ln();
        Some(-0.5 * (self.spent + determinant - self.products.dot(&mean)))
    }
}

/// The sizes that make the drives likeliest, by a search along each in turn.
fn sizes(lines: &[Line<'_>], weights: &[Weight], from: Sizes) -> Option<Sizes> {
    let likelihood = |sizes: Sizes| {
        let found = normal(lines, sizes.noise(), weights)?.likelihood(sizes.widening())?;
        let all = found + sizes.likelihood();
        (!all.is_nan()).then_some(all)
    };
    let (mut best, mut height) = (from, likelihood(from)?);
    let mut step = 0.4;
    while step > 0.04 {
        let mut moved = false;
        for i in 0..best.0.len() {
            for way in [step, -step] {
                let mut tried = best;
                tried.0[i] += way;
                if let Some(found) = likelihood(tried).filter(|found| *found > height + 1e-9) {
                    (best, height, moved) = (tried, found, true);
                    break;
                }
            }
        }
        if !moved {
            step *= 0.5;
        }
    }
    Some(best)
}

/// What is known after the drives; none where they hold nothing that can be weighed.
pub fn posterior(lines: &[Line<'_>]) -> Option<Posterior> {
    let mut weights = vec![Weight { windows: 1.0, day: 1.0 }; lines.len()];
    let mut sizes_now = Sizes::expected();
    for _ in 0..ROUNDS {
        sizes_now = sizes(lines, &weights, sizes_now)?;
        let noise = sizes_now.noise();
        let (mean, _) = normal(lines, noise, &weights)?.solve(sizes_now.widening())?;
        for (line, weight) in lines.iter().zip(&mut weights) {
            *weight = weighed(line, noise, *weight, &(&line.rest - line.unknown() * &mean))?;
        }
    }
    let widening = sizes_now.widening();
    let all = normal(lines, sizes_now.noise(), &weights)?;
    let (mean, factor) = all.solve(widening)?;
    let (covariance, n) = (factor.inverse(), all.inputs);
    Some(Posterior {
        mean: mean.rows_range(..n).into_owned(),
        covariance: covariance.view((0, 0), (n, n)).into_owned(),
        noise: sizes_now.noise(),
        widening,
        weights,
    })
}
