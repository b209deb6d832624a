//! What can be measured at home or in a workshop, how sure it is then, and how much surer figures
//! become.

use crate::runs::figure::{Figure, FigureKind};
use crate::studies::goal::{Goal, comparable};
use crate::studies::ranks::quantile;
use crate::studies::spread::Spread;
use crate::studies::typical_spreads::typical_spreads;
use crate::studies::uncertain::{UncertainInput, of_any_box};
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::units;

/// Name of the input, spread that measuring leaves, how it is measured. All are common practice
/// without a source.
const HOME_TESTS: [(&str, &str, &str); 18] = [
    ("kerb mass", "±0.5%", "scales under all four wheels at one height, or a weighbridge"),
    ("removed masses", "±2%", "weigh each part as it comes out"),
    ("added masses", "±2%", "weigh each part before it goes in, or ask its seller to"),
    ("load", "±5%", "weigh who and what usually rides along"),
    ("drag area", "±5%", COASTING),
    ("rolling resistance", "±5%", COASTING),
    ("coast-down f0", "±4%", COASTING),
    ("coast-down f2", "±4%", COASTING),
    ("coast-down a", "±4%", COASTING),
    ("coast-down c", "±4%", COASTING),
    ("bearings and pads", "±10%", "turn each lifted wheel by a spring scale at its rim"),
    (
        "gearbox drag",
        "±15%",
        "turn the input shaft, wheels lifted and oil warm, by a spring scale on a lever",
    ),
    (
        "copper loss",
        "±5%",
        "send a known direct current through two leads and read the millivolts at the studs",
    ),
    (
        "cell resistance",
        "±5%",
        "load single cells with a known current for ten seconds at 25 °C and read the volts before \
         and at the end",
    ),
    (
        "state of health",
        "±1",
        "charge single cells full, discharge them into a known load, count the ampere-hours",
    ),
    ("harness", "±5%", "once it is built, read the millivolts across it at a known current"),
    ("auxiliaries", "±5%", "a clamp meter on the 12 V lead, load by load"),
    (
        "cabin's leak",
        "±10%",
        "a heater of known power in the parked car: watts over the kelvins that it settles above \
         the air",
    ),
];

const COASTING: &str = "coast down ten times each way on an empty level road, from as fast as is allowed (`measure \
     coastdown`)";

/// How many are named.
const NAMED: usize = 3;
/// In so many parts what a measurement may find is told.
const FOUND: u32 = 100;
/// An input by which bands get narrower by less than this, %, is not worth the trouble.
const LEAST_PCT: f64 = 0.5;

/// A figure whose band gets narrower once an input is measured.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Narrowed {
    /// Name of the figure, ending in its unit.
    pub figure: &'static str,
    /// One case in ten was below this.
    pub p10: f64,
    /// Nine cases in ten were below this.
    pub p90: f64,
    /// One case in ten will be below this, once it is measured.
    pub p10_then: f64,
    /// Nine cases in ten will be below this, once it is measured.
    pub p90_then: f64,
    /// By how much the band gets narrower, %.
    pub narrower_pct: f64,
}

/// What becomes of the odds that all goals hold, once an input is measured.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct OddsThen {
    /// The odds before, %.
    pub odds_pct: f64,
    /// One measurement in ten leaves odds below this, %.
    pub low_pct: f64,
    /// Nine measurements in ten leave odds below this, %.
    pub high_pct: f64,
}

/// What there is to spare of a goal in each case; where it is less than nothing, the goal is missed.
#[derive(Debug, Clone)]
pub struct Spare {
    /// Whether it can be told by a straight line: of yes or no it cannot.
    pub follows_a_line: bool,
    /// Of each case.
    pub values: Vec<f64>,
}

impl Spare {
    /// What there is to spare of a goal in figures of cases; what a case has no answer for is missed.
    pub fn of<'a>(goal: &Goal, figures: impl Iterator<Item = Option<&'a Figure>>) -> Self {
        let mut follows_a_line = true;
        let values = figures
            .map(|figure| {
                follows_a_line &= figure.is_none_or(|it| it.kind != FigureKind::YesNo);
                figure.map_or(f64::NEG_INFINITY, |figure| goal.spare(figure))
            })
            .collect();
        Self { follows_a_line, values }
    }
}

/// An input that is worth being measured.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct MeasureFirst {
    /// Path of the field; `*` stands for every item of a list.
    pub path: String,
    /// What it is called.
    pub name: String,
    /// Its spread.
    pub spread: String,
    /// The spread that measuring leaves.
    pub spread_then: &'static str,
    /// How it is measured.
    pub how: &'static str,
    /// By how much the bands get narrower, mean of the figures that count, %.
    pub narrower_pct: f64,
    /// How far that may be off with so few cars (two standard errors), %.
    pub narrower_error_pct: f64,
    /// The figure whose band gets narrower most.
    pub most: Narrowed,
    /// What becomes of the odds that all goals hold, where there are goals.
    pub odds_then: Option<OddsThen>,
}

/// The inputs whose measurement would make figures surer, the most worthwhile first.
///
/// Measuring an input of the spread `s` to within `m` leaves `l = m/√(s² + m²)` of its deviation, and of
/// that of a figure, of which it explains the share r² by the straight line over the cases,
/// `√(1 − r²·(1 − l²))`. So many of the cases are few that r is known to `(1 − r²)/√n`. `inputs` come with
/// what was drawn of each, `figures` are those of each figure in the same cases, `spares` what there is
/// to spare of each goal; a figure that is not reached in one case of ten does not count. Source:
/// regression, and the standard error of a correlation (any handbook of statistics, from memory).
pub fn measure_first<'a>(
    inputs: impl IntoIterator<Item = (&'a UncertainInput, &'a Vec<f64>)>,
    figures: &[Vec<Figure>],
    spares: &[Spare],
) -> Vec<MeasureFirst> {
    let figures: Vec<(&'static str, Vec<f64>)> = figures
        .iter()
        .filter_map(|cases| Some((cases.first()?.name, cases.iter().map(comparable).collect())))
        .filter(|(_, values): &(_, Vec<f64>)| {
            width(values)
                .is_some_and(|(low, high)| low.is_finite() && high > low && high.is_finite())
        })
        .collect();
    let typical = typical_spreads();
    let test_of = |input: &UncertainInput| {
        // A spread of the user's own is called by its path.
        let path = of_any_box(&input.spread.path);
        let typical = typical.iter().find(|typical| typical.path == path);
        let name = typical.map_or(&input.spread.name, |typical| &typical.name);
        let known = HOME_TESTS.iter().find(|test| test.0 == name)?;
        let then = Spread::new(&input.spread.path, known.1, "").ok()?;
        let is_alike = then.measure == input.spread.measure && !input.measured;
        let left = then.distribution?.sd() / input.sd().hypot(then.distribution?.sd());
        is_alike.then_some((known, left))
    };
    let one = |(input, drawn): (&UncertainInput, &Vec<f64>)| {
        let ((_, spread_then, how), left) = test_of(input)?;
        let all: Vec<(Narrowed, f64)> = figures
            .iter()
            .filter_map(|(name, values)| narrowed(name, values, drawn, left))
            .collect();
        let mean_pct = mean(all.iter().map(|one| one.0.narrower_pct));
        let error_pct = mean(all.iter().map(|one| one.1));
        let (most, _) =
            all.into_iter().max_by(|a, b| a.0.narrower_pct.total_cmp(&b.0.narrower_pct))?;
        (mean_pct > LEAST_PCT).then(|| MeasureFirst {
            path: input.spread.path.clone(),
            name: input.spread.name.clone(),
            spread: input.spread.text.clone(),
            spread_then,
            how,
            narrower_pct: mean_pct,
            narrower_error_pct: error_pct,
            most,
            odds_then: odds_then(spares, drawn, left),
        })
    };
    let mut all: Vec<MeasureFirst> = inputs.into_iter().filter_map(one).collect();
    all.sort_by(|a, b| b.narrower_pct.total_cmp(&a.narrower_pct));
    all.truncate(NAMED);
    all
}

fn mean(values: impl ExactSizeIterator<Item = f64>) -> f64 {
    let n = values.len() as f64;
    values.sum::<f64>() / n
}

/// The tenth and the ninth tenth of values.
fn width(values: &[f64]) -> Option<(f64, f64)> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    (!sorted.is_empty()).then(|| (quantile(&sorted, 0.1), quantile(&sorted, 0.9)))
}

/// A straight line of values over what was drawn.
struct Line {
    /// Mean of what was drawn.
    mean: f64,
    slope: f64,
    /// Correlation, and its standard error.
    correlation: f64,
    error: f64,
}

impl Line {
    /// Level where chance alone brings it about once in a hundred times.
    fn of(drawn: &[f64], values: &[f64]) -> Self {
        // Cases in which it is never reached have no line.
        let pairs = || drawn.iter().zip(values).filter(|(_, value)| value.is_finite());
        let n = pairs().count() as f64;
        let mean = pairs().map(|(a, _)| a).sum::<f64>() / n;
        let y = pairs().map(|(_, b)| b).sum::<f64>() / n;
        let variance: f64 = pairs().map(|(a, _)| (a - mean).powi(2)).sum();
        let of_values: f64 = pairs().map(|(_, b)| (b - y).powi(2)).sum();
        let together: f64 = pairs().map(|(a, b)| (a - mean) * (b - y)).sum();
        let correlation = together / (variance * of_values).sqrt();
        if correlation.abs() * n.sqrt() > 2.6 {
            let error = (1.0 - correlation * correlation).max(0.0) / n.sqrt();
            Self { mean, slope: together / variance, correlation, error }
        } else {
            Self { mean, slope: 0.0, correlation: 0.0, error: 0.0 }
        }
    }
}

/// The odds that all goals hold, before an input is measured and after.
///
/// A measurement finds `x̄ + √(1 − l²)·(xᵢ − x̄)`, as likely as the input is drawn at xᵢ, where `l` is
/// what is left of its deviation, and each case then has `b·√(1 − l²)·(xᵢ − x̄) − b·(1 − l)·(xⱼ − x̄)`
/// more to spare: together the deviation is that of before. What has no line stays as it is.
fn odds_then(spares: &[Spare], drawn: &[f64], left: f64) -> Option<OddsThen> {
    let cases = spares.first()?.values.len();
    let lines: Vec<(f64, f64)> = spares
        .iter()
        .map(|spare| match Line::of(drawn, &spare.values) {
            Line { mean, slope, .. } if spare.follows_a_line && mean.is_finite() => (mean, slope),
            _ => (0.0, 0.0),
        })
        .collect();
    let odds = |more: &dyn Fn(usize, f64, f64) -> f64| {
        let holds = |j: &usize| {
            let goals = spares.iter().zip(&lines);
            goals
                .into_iter()
                .all(|(spare, (x, slope))| spare.values[*j] + more(*j, *x, *slope) >= 0.0)
        };
        units::pct_of((0..cases).filter(holds).count() as f64, cases as f64)
    };
    let mut sorted = drawn.to_vec();
    sorted.sort_by(f64::total_cmp);
    let found = (0..FOUND).map(|i| quantile(&sorted, (f64::from(i) + 0.5) / f64::from(FOUND)));
    let mut after: Vec<f64> = found
        .map(|value| {
            odds(&|j, x, slope| {
                slope
                    * ((1.0 - left * left).max(0.0).sqrt() * (value - x)
                        - (1.0 - left) * (drawn[j] - x))
            })
        })
        .collect();
    after.sort_by(f64::total_cmp);
    Some(OddsThen {
        odds_pct: odds(&|_, _, _| 0.0),
        low_pct: quantile(&after, 0.1),
        high_pct: quantile(&after, 0.9),
    })
}

/// How much narrower a figure's band gets, and how far that may be off, two standard errors, %.
fn narrowed(
    figure: &'static str,
    values: &[f64],
    drawn: &[f64],
    left: f64,
) -> Option<(Narrowed, f64)> {
    let line = Line::of(drawn, values);
    let ratio = |r: f64| (1.0 - (r * r).min(1.0) * (1.0 - left * left)).max(0.0).sqrt();
    let pct = |r: f64| units::pct_from_share(1.0 - ratio(r));
    let (p10, p90) = width(values)?;
    let (r, off) = (line.correlation.abs(), 2.0 * line.error);
    let then = |tenth: f64| 0.5 * (p10 + p90) + ratio(r) * (tenth - 0.5 * (p10 + p90));
    let error_pct = 0.5 * (pct((r + off).min(1.0)) - pct((r - off).max(0.0)));
    let narrower_pct = pct(r);
    Some((
        Narrowed { figure, p10, p90, p10_then: then(p10), p90_then: then(p90), narrower_pct },
        error_pct,
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::studies::hypercube;
    use crate::studies::spread::Distribution;

    #[test]
    fn each_is_of_a_typical_input_and_leaves_less_than_is_typical() {
        for (name, then, _) in HOME_TESTS {
            let typical: Vec<Spread> =
                typical_spreads().into_iter().filter(|spread| spread.name == name).collect();
            assert!(!typical.is_empty(), "{name}");
            for spread in typical {
                let then = Spread::new(&spread.path, then, "").unwrap();
                assert_eq!(then.measure, spread.measure, "{name}");
                assert!(then.distribution.unwrap().sd() < spread.distribution.unwrap().sd());
            }
        }
    }

    /// Of y = 3·a + 4·b with normals of one, the deviation is 5; with a known but for a half of its
    /// deviation it is √(9/4 + 16), as variances of independent normals add.
    #[test]
    fn a_sum_of_normals_keeps_what_is_left_of_its_variance() {
        let bell = Distribution::Normal { mean: 0.0, sd: 1.0 };
        let drawn: Vec<Vec<f64>> = hypercube::samples(4000, 2, 9)
            .iter()
            .map(|list| list.iter().map(|share| bell.quantile(*share)).collect())
            .collect();
        let sums: Vec<f64> =
            drawn[0].iter().zip(&drawn[1]).map(|(a, b)| 3.0 * a + 4.0 * b).collect();
        for (left, expected) in [(1.0, 1.0), (0.5, (2.25_f64 + 16.0).sqrt() / 5.0), (0.0, 0.8)] {
            let (found, _) = narrowed("range_km", &sums, &drawn[0], left).unwrap();
            let share = (found.p90_then - found.p10_then) / (found.p90 - found.p10);
            assert!((share - expected).abs() < 0.02, "{left}: {share} {expected}");
        }
        // Of 200 samples, five times: the 20 % by which it gets narrower lie within the error.
        let errors: Vec<f64> = [(0, 200), (200, 400), (400, 600), (600, 800), (800, 1000)]
            .into_iter()
            .map(|(from, to)| {
                let (found, error_pct) =
                    narrowed("range_km", &sums[from..to], &drawn[0][from..to], 0.0).unwrap();
                (found.narrower_pct - 20.0).abs() / error_pct
            })
            .collect();
        assert!(errors.iter().filter(|share| **share < 1.0).count() >= 4, "{errors:?}");
        assert!(errors.iter().any(|share| *share > 0.05), "{errors:?}");
        // A goal at the mean holds in half of the cases. With a known, what is left has the deviation 4
        // and its middle 3·a: the odds are Φ(±3·1.2816/4) at the tenths of a, by tables of the normal
        // distribution (from memory). What is not measured at all leaves them as they are.
        let spare = |follows_a_line| [Spare { follows_a_line, values: sums.clone() }];
        let near = |found: f64, expected: f64| (found - expected).abs() < 2.5;
        let known = odds_then(&spare(true), &drawn[0], 0.0).unwrap();
        assert!(near(known.odds_pct, 50.0) && near(known.low_pct, 16.8), "{known:?}");
        assert!(near(known.high_pct, 83.2), "{known:?}");
        let unknown = odds_then(&spare(true), &drawn[0], 1.0).unwrap();
        assert!(unknown.low_pct == unknown.odds_pct && unknown.high_pct == unknown.odds_pct);
        // What has no part in it is not worth being measured, whatever chance says.
        let other = hypercube::named(4000, "other", 3);
        assert_eq!(narrowed("range_km", &sums, &other, 0.1).unwrap().0.narrower_pct, 0.0);
        let no_line = odds_then(&spare(false), &drawn[0], 0.0).unwrap();
        assert_eq!((no_line.low_pct, no_line.high_pct), (no_line.odds_pct, no_line.odds_pct));
        assert_eq!(odds_then(&[], &drawn[0], 0.0), None);
    }
}
