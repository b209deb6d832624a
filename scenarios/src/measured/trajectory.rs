//! A coasting car's speed by time, and the road load that fits all runs.

use super::coasting::{Leg, median};
use nalgebra::{DMatrix, DVector};
use sim_core::units::GRAVITY_MPS2;

/// Unknowns that all runs share, by their place.
pub(crate) const F0: usize = 0;
pub(crate) const F1: usize = 1;
pub(crate) const F2: usize = 2;
pub(crate) const WIND: usize = 3;
pub(crate) const SLOPE: usize = 4;
pub(crate) const ONSET: usize = 5;
const SHARED: usize = 6;

/// The car as it coasts.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Body {
    /// What it weighs, kg.
    pub(crate) mass_kg: f64,
    /// The same with what turns with the wheels, kg.
    pub(crate) moving_kg: f64,
}

/// What is known of the shared unknowns beforehand: a value and a standard deviation.
pub(crate) type Prior = [(f64, f64); SHARED];

/// How the mean head wind of single runs scatters about that of all.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Scatter {
    /// By so much, m/s.
    Given(f64),
    /// By what the runs themselves show.
    Found,
}

/// Wind of a run about that of all where nothing is found, m/s, and for how many runs it stands.
const USUAL_SCATTER_MPS: f64 = 0.1;
const USUAL_SCATTER_RUNS: f64 = 1.0;
/// How long a wind lasts that drifts about the mean of its run, s, by how much it does where nothing is
/// found, m/s, and for how many such winds that stands.
const DRIFT_S: f64 = 10.0;
const USUAL_DRIFT_MPS: f64 = 0.2;
const USUAL_DRIFTS: f64 = 10.0;
/// How fast what a sensor that lags leaves at the start of a run dies away, s.
const ONSET_S: f64 = 2.0;

/// The road load that fits.
#[derive(Debug, Clone)]
pub(crate) struct Fit {
    /// The shared unknowns in SI: N, N/(m/s), N/(m/s)², m/s, slope, m/s at the onset.
    pub(crate) shared: [f64; SHARED],
    /// Their covariance.
    pub(crate) covariance: DMatrix<f64>,
    /// Scatter of a speed about the fit, m/s.
    pub(crate) noise_mps: f64,
    /// How many samples in a row tell as much as one that stands by itself.
    pub(crate) alike: f64,
    /// Scatter of the runs' mean head wind, m/s.
    pub(crate) scatter_mps: f64,
    /// Scatter of the wind within a run, over the time of a gust, m/s.
    pub(crate) drift_mps: f64,
    /// For each leg, each sample: what it recorded less what fits, wind and onset of its own included,
    /// m/s; no number where it is left out.
    pub(crate) residuals: Vec<Vec<f64>>,
    /// For each leg, each sample, how the speed fits and changes.
    pub(crate) courses: Vec<Vec<Option<Moment>>>,
}

/// A speed, and how it changes with the forces, the wind, the slope and the speed at the start.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Moment {
    pub(crate) speed_mps: f64,
    by: [f64; 6],
}

impl Moment {
    /// By the speed at the start of its piece.
    pub(crate) fn by_start(&self) -> f64 {
        self.by[5]
    }

    /// By a head wind.
    pub(crate) fn by_wind(&self) -> f64 {
        self.by[WIND]
    }
}

/// `dv/dt = −(F0 + F1·v + F2·(v + u)·|v + u| + m·g·s)/M`, with head wind `u` and slope `s`, and with it
/// what each unknown changes in the speed.
#[derive(Debug, Clone, Copy)]
struct Forces {
    f: [f64; 3],
    head_mps: f64,
    slope_n: f64,
    weight_n: f64,
    moving_kg: f64,
}

impl Forces {
    fn new(body: &Body, shared: &[f64], way: f64, gust_mps: f64) -> Self {
        let weight_n = body.mass_kg * GRAVITY_MPS2 * way;
        Self {
            f: [shared[F0], shared[F1], shared[F2]],
            head_mps: way * shared[WIND] + gust_mps,
            slope_n: weight_n * shared[SLOPE],
            weight_n,
            moving_kg: body.moving_kg,
        }
    }

    fn rate(&self, at: &Moment) -> Moment {
        let v = at.speed_mps;
        if v <= 0.0 {
            return Moment::default();
        }
        let air = v + self.head_mps;
        let per_kg = -1.0 / self.moving_kg;
        let squared = air * air.abs();
        let by_speed = per_kg * (self.f[1] + 2.0 * self.f[2] * air.abs());
        let own = [
            per_kg,
            per_kg * v,
            per_kg * squared,
            per_kg * 2.0 * self.f[2] * air.abs(),
            per_kg * self.weight_n,
            0.0,
        ];
        Moment {
            speed_mps: per_kg * (self.f[0] + self.f[1] * v + self.f[2] * squared + self.slope_n),
            by: std::array::from_fn(|k| by_speed * at.by[k] + own[k]),
        }
    }

    /// After a time, by the classical Runge–Kutta rule in steps of at most half a second.
    fn after(&self, from: &Moment, for_s: f64) -> Moment {
        let steps = (for_s / 0.5).ceil().max(1.0);
        let h = for_s / steps;
        let plus = |at: &Moment, rate: &Moment, h: f64| Moment {
            speed_mps: at.speed_mps + h * rate.speed_mps,
            by: std::array::from_fn(|k| at.by[k] + h * rate.by[k]),
        };
        let mut at = *from;
        for _ in 0..steps as usize {
            let k1 = self.rate(&at);
            let k2 = self.rate(&plus(&at, &k1, 0.5 * h));
            let k3 = self.rate(&plus(&at, &k2, 0.5 * h));
            let k4 = self.rate(&plus(&at, &k3, h));
            at = plus(&at, &k1, h / 6.0);
            at = plus(&at, &k2, h / 3.0);
            at = plus(&at, &k3, h / 3.0);
            at = plus(&at, &k4, h / 6.0);
        }
        at
    }
}

/// The course of a coasting from a speed at its first time.
pub(crate) fn course(
    body: &Body,
    shared: &[f64],
    (way, gust_mps): (f64, f64),
    start_mps: f64,
    time_s: &[f64],
) -> Vec<Moment> {
    let forces = Forces::new(body, shared, way, gust_mps);
    let mut at = Moment { speed_mps: start_mps, by: [0.0, 0.0, 0.0, 0.0, 0.0, 1.0] };
    let mut found = Vec::with_capacity(time_s.len());
    for (i, t) in time_s.iter().enumerate() {
        if i > 0 {
            at = forces.after(&at, t - time_s[i - 1]);
        }
        found.push(at);
    }
    found
}

/// Where a speed that is this many deviations off begins to count less, and where it is left out.
const DOUBTED: f64 = 2.5;
const LEFT_OUT: f64 = 6.0;

fn weight(deviations: f64) -> f64 {
    match deviations.abs() {
        z if z <= DOUBTED => 1.0,
        z if z <= LEFT_OUT => DOUBTED / z,
        _ => 0.0,
    }
}

/// Information of the data on shared unknowns, winds of legs and speeds at the start of pieces.
struct Normal {
    matrix: DMatrix<f64>,
    vector: DVector<f64>,
}

impl Normal {
    fn zero(size: usize) -> Self {
        Self { matrix: DMatrix::zeros(size, size), vector: DVector::zeros(size) }
    }

    /// Adds a sample: what changes it, by place, and how far it is off.
    fn add(&mut self, entries: &[(usize, f64)], off: f64, weight: f64) {
        for (i, a) in entries {
            self.vector[*i] += weight * a * off;
            for (k, b) in entries {
                self.matrix[(*i, *k)] += weight * a * b;
            }
        }
    }

    /// Adds winds of spans one after another, which scatter about none by so much: each keeps `e⁻¹` of the
    /// one before, as a first-order Gauss–Markov wind that lasts as long as a span does.
    fn know_winds(&mut self, places: std::ops::Range<usize>, off: impl Fn(usize) -> f64, mps: f64) {
        let keeps = (-1.0_f64).exp();
        let own = 1.0 / (mps * mps * (1.0 - keeps * keeps));
        for k in places.clone() {
            if k == places.start {
                self.know(k, off(k), mps);
            } else {
                self.add(&[(k, 1.0), (k - 1, -keeps)], off(k) - keeps * off(k - 1), own);
            }
        }
    }

    /// Adds what is known beforehand.
    fn know(&mut self, place: usize, off: f64, deviation: f64) {
        let weight = 1.0 / (deviation * deviation);
        self.matrix[(place, place)] += weight;
        self.vector[place] += weight * off;
    }
}

/// What changes the speeds of a piece, by place: the shared unknowns, the wind of its run, the speed at
/// its start, and from `drift` on the winds of spans of time, which change a speed by
/// `Φ(t)·∫ (∂a/∂w)/Φ dt` over their span, with the response `Φ` to the speed at the start.
fn rows(
    (began_s, time_s): (f64, &[f64]),
    course: &[Moment],
    way: f64,
    (gust, start, drift): (usize, usize, Option<usize>),
) -> Vec<Vec<(usize, f64)>> {
    // The span of each wind, and the integral where it sets in.
    let mut winds: Vec<(usize, f64)> = Vec::new();
    let mut integral = 0.0;
    let row = |(t, moment): (&f64, &Moment)| {
        let by = &moment.by;
        let onset = (-(t - began_s) / ONSET_S).exp();
        let mut row = vec![
            (F0, by[0]),
            (F1, by[1]),
            (F2, by[2]),
            (WIND, way * by[3]),
            (SLOPE, by[4]),
            (ONSET, onset),
            (gust, by[3]),
            (start, by[5]),
        ];
        if let Some(drift) = drift {
            let span = ((t - began_s) / DRIFT_S) as usize;
            if winds.last().is_none_or(|wind| wind.0 != span) {
                winds.push((span, integral));
            }
            integral = moment.by_wind() / moment.by_start().max(1e-6);
            let ends = winds.iter().skip(1).map(|wind| wind.1).chain([integral]);
            let answers = winds.iter().zip(ends);
            row.extend(answers.map(|((span, from), to)| (drift + span, by[5] * (to - from))));
        }
        row
    };
    time_s.iter().zip(course).map(row).collect()
}

/// How many spans of wind a leg has.
fn spans(time_s: &[f64]) -> usize {
    ((time_s[time_s.len() - 1] - time_s[0]) / DRIFT_S) as usize + 1
}

/// Fits the runs, by robust least squares on the integrated speeds (Gauss–Newton, weighted anew at each
/// step: Huber's weights up to six deviations, none beyond). `None` where the equations have no
/// solution.
pub(crate) fn fit(legs: &[Leg], body: &Body, prior: &Prior, scatter: Scatter) -> Option<Fit> {
    let pieces: Vec<(usize, std::ops::Range<usize>)> = legs
        .iter()
        .enumerate()
        .flat_map(|(l, leg)| leg.pieces.iter().map(move |piece| (l, piece.clone())))
        .collect();
    // The winds within the runs are unknowns where their scatter is.
    let fitted = SHARED + legs.len() + pieces.len();
    let drifting = matches!(scatter, Scatter::Found);
    let mut size = fitted;
    let mut drifts = Vec::new();
    for leg in legs.iter().filter(|_| drifting) {
        drifts.push(size..size + spans(&leg.time_s));
        size += spans(&leg.time_s);
    }
    let mut drift_mps = USUAL_DRIFT_MPS;
    let mut unknowns = DVector::zeros(size);
    for (k, (value, _)) in prior.iter().enumerate() {
        unknowns[k] = *value;
    }
    let (f0, f2) = rough(legs, body).unwrap_or((prior[F0].0, prior[F2].0));
    (unknowns[F0], unknowns[F2]) = (f0, f2);
    for (p, (l, piece)) in pieces.iter().enumerate() {
        unknowns[SHARED + legs.len() + p] = first_speed(&legs[*l], piece);
    }
    let (mut noise, mut alike) = (0.5, 1.0);
    let mut scatter_mps = match scatter {
        Scatter::Given(mps) => mps,
        Scatter::Found => 0.5,
    };
    let mut covariance = DMatrix::zeros(size, size);
    let mut courses: Vec<Vec<Option<Moment>>> = Vec::new();
    let mut residuals: Vec<Vec<f64>> = Vec::new();
    for round in 0..60 {
        let mut designs = Vec::new();
        courses = legs.iter().map(|leg| vec![None; leg.time_s.len()]).collect();
        residuals = legs.iter().map(|leg| vec![f64::NAN; leg.time_s.len()]).collect();
        for (p, (l, piece)) in pieces.iter().enumerate() {
            let leg = &legs[*l];
            let start = unknowns[SHARED + legs.len() + p];
            let gust = (leg.way.sign(), unknowns[SHARED + l]);
            let times = &leg.time_s[piece.clone()];
            let found = course(body, &unknowns.as_slice()[..SHARED], gust, start, times);
            let places =
                (SHARED + l, SHARED + legs.len() + p, drifts.get(*l).map(|winds| winds.start));
            let design = rows((leg.time_s[0], times), &found, gust.0, places);
            for ((i, moment), row) in piece.clone().zip(found).zip(&design) {
                // The onset and the winds within runs are small, and taken as straight.
                let small = row.iter().filter(|(k, _)| *k == ONSET || *k >= fitted);
                let small: f64 = small.map(|(k, by)| by * unknowns[*k]).sum();
                residuals[*l][i] = leg.speed_mps[i] - moment.speed_mps - small;
                courses[*l][i] = Some(moment);
            }
            designs.push(design);
        }
        let known: Vec<f64> =
            residuals.iter().flatten().copied().filter(|r| r.is_finite()).collect();
        if known.len() <= fitted {
            return None;
        }
        let spread = 1.4826 * median(known.iter().map(|r| r.abs()).collect());
        let spread = spread.max(0.005);
        if round > 2 {
            let weights = known.iter().map(|r| weight(r / spread));
            let count: f64 = weights.clone().map(|w| if w > 0.0 { 1.0 } else { 0.0 }).sum();
            let squares: f64 = known.iter().zip(weights).map(|(r, w)| w * r * r).sum();
            // Winds within the runs take as many samples as they are told by the data, not before.
            let told = |k: usize| -> f64 { 1.0 - covariance[(k, k)] / drift_mps.powi(2) };
            let winds: f64 = (fitted..size).map(|k| told(k).clamp(0.0, 1.0)).sum();
            let free = count - (fitted - SHARED + 3) as f64 - winds;
            noise = (squares / free.max(1.0)).sqrt().max(0.005);
            alike = runs_of_alike(legs, &residuals, spread);
        } else {
            noise = spread.max(0.1);
        }
        let told = 1.0 / (noise * noise * alike);
        let mut normal = Normal::zero(size);
        for (p, (l, piece)) in pieces.iter().enumerate() {
            for (i, row) in piece.clone().zip(&designs[p]) {
                let off = residuals[*l][i];
                normal.add(row, off, told * weight(off / spread));
            }
        }
        for (k, (value, deviation)) in prior.iter().enumerate() {
            normal.know(k, value - unknowns[k], *deviation);
        }
        for l in 0..legs.len() {
            normal.know(SHARED + l, -unknowns[SHARED + l], scatter_mps);
        }
        // A piece without a sample that counts still has an equation.
        for p in SHARED + legs.len()..fitted {
            normal.know(p, 0.0, 100.0);
        }
        for winds in &drifts {
            normal.know_winds(winds.clone(), |k| -unknowns[k], drift_mps);
        }
        let solved = normal.matrix.cholesky()?;
        let step = solved.solve(&normal.vector);
        covariance = solved.inverse();
        // Where a step leads too far, it is cut; forces stay such that the car slows down.
        let most = |k: usize| match k {
            F0 => 0.5 * prior[F0].0.max(unknowns[F0]),
            F2 => 0.5 * prior[F2].0.max(unknowns[F2]),
            _ => f64::INFINITY,
        };
        let share = (0..SHARED).map(|k| most(k) / step[k].abs()).fold(1.0, f64::min);
        if !step.iter().all(|s: &f64| s.is_finite()) {
            return None;
        }
        unknowns += share * &step;
        let moved =
            (0..SHARED).map(|k| step[k].abs() / covariance[(k, k)].sqrt()).fold(0.0, f64::max);
        if matches!(scatter, Scatter::Found) && round > 2 {
            let of = |from: usize, to: usize, usual_mps: f64, usual: f64| {
                let square = |k: usize| unknowns[k].powi(2) + covariance[(k, k)];
                let found: f64 = (from..to).map(square).sum();
                ((found + usual * usual_mps.powi(2)) / ((to - from) as f64 + usual)).sqrt()
            };
            let before = (scatter_mps, drift_mps);
            scatter_mps = of(SHARED, SHARED + legs.len(), USUAL_SCATTER_MPS, USUAL_SCATTER_RUNS);
            drift_mps = of(fitted, size, USUAL_DRIFT_MPS, USUAL_DRIFTS);
            let still = |now: f64, before: f64| (now / before - 1.0).abs() < 0.02;
            let still = still(scatter_mps, before.0) && still(drift_mps, before.1);
            if round > 5 && moved < 0.01 && still {
                break;
            }
        } else if round > 5 && moved < 0.01 {
            break;
        }
    }
    let shared = std::array::from_fn(|k| unknowns[k]);
    Some(Fit {
        shared,
        covariance: covariance.view((0, 0), (SHARED, SHARED)).into_owned(),
        noise_mps: noise,
        alike,
        scatter_mps,
        drift_mps,
        residuals,
        courses,
    })
}

/// The covariance of the shared unknowns that so many runs each way would bring from a speed, with
/// samples so far apart down to the least speed, before they are driven.
pub(crate) fn foreseen(
    body: &Body,
    fit: &Fit,
    prior: &Prior,
    (from_mps, each_way): (f64, usize),
    (apart_s, least_mps): (f64, f64),
) -> Option<DMatrix<f64>> {
    let told = 1.0 / (fit.noise_mps * fit.noise_mps * fit.alike);
    let times: Vec<f64> = (0..(240.0 / apart_s) as usize).map(|i| i as f64 * apart_s).collect();
    let mut known = DMatrix::zeros(SHARED, SHARED);
    for way in [1.0, -1.0] {
        let mut course = course(body, &fit.shared, (way, 0.0), from_mps, &times);
        let slow = |moment: &Moment| moment.speed_mps < least_mps;
        course.truncate(course.iter().position(slow).unwrap_or(times.len()));
        let times = times.get(..course.len()).filter(|times| !times.is_empty())?;
        let (gust, start, drift) = (SHARED, SHARED + 1, SHARED + 2);
        let mut normal = Normal::zero(drift + spans(times));
        for row in rows((0.0, times), &course, way, (gust, start, Some(drift))) {
            normal.add(&row, 0.0, told);
        }
        normal.know(gust, 0.0, fit.scatter_mps);
        normal.know(start, 0.0, 100.0);
        normal.know_winds(drift..drift + spans(times), |_| 0.0, fit.drift_mps);
        // What is left of the run for what all share when its own unknowns are told by it as well.
        let own = normal.matrix.nrows() - SHARED;
        let shared = normal.matrix.view((0, 0), (SHARED, SHARED));
        let cross = normal.matrix.view((0, SHARED), (SHARED, own)).into_owned();
        let own = normal.matrix.view((SHARED, SHARED), (own, own)).into_owned();
        let taken = &cross * own.cholesky()?.solve(&cross.transpose());
        known += each_way as f64 * (shared - taken);
    }
    for (k, (_, deviation)) in prior.iter().enumerate() {
        known[(k, k)] += 1.0 / (deviation * deviation);
    }
    Some(known.cholesky()?.inverse())
}

/// The speed at the start of a piece: the line through its first seconds.
fn first_speed(leg: &Leg, piece: &std::ops::Range<usize>) -> f64 {
    let from = leg.time_s[piece.start];
    let near = piece.clone().filter(|i| leg.time_s[*i] <= from + 8.0);
    let points: Vec<(f64, f64)> = near.map(|i| (leg.time_s[i] - from, leg.speed_mps[i])).collect();
    let middle = median(points.iter().map(|p| p.1).collect());
    line(&points).map_or(middle, |(at_zero, _)| at_zero)
}

/// The line of least squares: its value at zero and its slope.
pub(crate) fn line(points: &[(f64, f64)]) -> Option<(f64, f64)> {
    let n = points.len() as f64;
    let (x, y) = points.iter().fold((0.0, 0.0), |(x, y), p| (x + p.0 / n, y + p.1 / n));
    let xx: f64 = points.iter().map(|p| (p.0 - x).powi(2)).sum();
    let xy: f64 = points.iter().map(|p| (p.0 - x) * (p.1 - y)).sum();
    (points.len() > 1 && xx > 0.0).then(|| (y - xy / xx * x, xy / xx))
}

/// Forces to begin with, `F0 + F2·v²`, from the slopes of five seconds each; what is far off the middle
/// does not count.
fn rough(legs: &[Leg], body: &Body) -> Option<(f64, f64)> {
    let mut points = Vec::new();
    for leg in legs {
        for piece in &leg.pieces {
            let mut from = piece.start;
            while from < piece.end {
                let until = leg.time_s[from] + 5.0;
                let to = (from..piece.end).find(|i| leg.time_s[*i] > until).unwrap_or(piece.end);
                let part: Vec<(f64, f64)> = (from..to)
                    .map(|i| (leg.time_s[i] - leg.time_s[from], leg.speed_mps[i]))
                    .collect();
                if part.len() >= 4
                    && let Some((_, slope)) = line(&part)
                {
                    let mean = part.iter().map(|p| p.1).sum::<f64>() / part.len() as f64;
                    points.push((mean * mean, -slope * body.moving_kg));
                }
                from = to;
            }
        }
    }
    let middle = median(points.iter().map(|p| p.1).collect());
    points.retain(|p| (0.0..3.0 * middle).contains(&p.1));
    let (f0, f2) = line(&points)?;
    let least_n = 0.03 * body.mass_kg;
    (f0 > least_n && f2 > 0.05).then_some((f0, f2))
}

/// How many samples in a row are alike: what the variance of means over a second is of that which samples
/// by themselves would give, times `1 + 2·Σρ` of these means, up to the first that is not alike, with at
/// least one in all. A likeness that is small from sample to sample, and lasts, shows in the means alone.
/// Source: the variance of a mean of correlated samples, any handbook of time series.
fn runs_of_alike(legs: &[Leg], residuals: &[Vec<f64>], spread: f64) -> f64 {
    let (mut squares, mut samples) = (0.0, 0.0);
    let mut means: Vec<Vec<f64>> = Vec::new();
    // Means of n samples vary by 1/n of the samples where these are apart.
    let mut apart = 0.0;
    for (leg, residuals) in legs.iter().zip(residuals) {
        let last = leg.time_s.last().map_or(0.0, |t| t - leg.time_s[0]);
        let mut sums = vec![(0.0, 0.0); last as usize + 1];
        for (t, r) in leg.time_s.iter().zip(residuals).filter(|(_, r)| r.is_finite()) {
            let r = r.clamp(-3.0 * spread, 3.0 * spread);
            let sum = &mut sums[(t - leg.time_s[0]) as usize];
            *sum = (sum.0 + r, sum.1 + 1.0);
            (squares, samples) = (squares + r * r, samples + 1.0);
        }
        apart += sums.iter().filter(|sum| sum.1 > 0.0).map(|sum| 1.0 / sum.1).sum::<f64>();
        means.push(sums.into_iter().map(|(sum, count)| sum / count).collect());
    }
    let lagged = |lag: usize| {
        let pairs = means.iter().flat_map(|means| {
            means.iter().zip(&means[lag.min(means.len())..]).filter(|(a, b)| !(*a + *b).is_nan())
        });
        let (sum, count) =
            pairs.fold((0.0, 0.0), |(sum, count), (a, b)| (sum + a * b, count + 1.0));
        (sum / f64::max(count, 1.0), count)
    };
    let (own, count) = lagged(0);
    let mut alike = 1.0;
    for lag in 1..200 {
        let (product, pairs) = lagged(lag);
        let share = product / own;
        // What chance alone brings is no likeness.
        if share <= 1.5 / f64::max(pairs, 1.0).sqrt() || pairs <= 0.2 * count {
            break;
        }
        alike += 2.0 * share;
    }
    let expected = squares / f64::max(samples, 1.0) * apart / f64::max(count, 1.0);
    f64::max(alike * own / expected, 1.0)
}
