//! How sure the figures are, when what goes into them is not.

use crate::runs::failure::Failure;
use crate::runs::figure::find;
use crate::runs::figure::{Better, Figure};
use crate::runs::run::Run;
use crate::runs::suite::Suite;
use crate::studies::goal::Goal;
use crate::studies::goal::comparable;
use crate::studies::home_test::{MeasureFirst, Spare, measure_first};
use crate::studies::uncertain::{Drawn, Uncertain, UncertainInput};
use crate::studies::{hypercube, ranks};
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::units;

/// Fewest samples.
pub const FEWEST_SAMPLES: usize = 10;
/// Most samples.
pub const MOST_SAMPLES: usize = crate::files::bounds::SAMPLES as usize;
/// How samples are drawn.
pub const SAMPLING: &str = "Latin hypercube";
/// How inputs are ranked.
pub const RANKING: &str = "Spearman's rank correlation";

/// An uncertain input.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct BandInput {
    /// Path of the field; `*` stands for every item of a list.
    pub path: String,
    /// What it is called.
    pub name: String,
    /// Its spread.
    pub spread: String,
    /// Why.
    pub reason: String,
    /// Whether the user gave it.
    pub own: bool,
    /// Whether it was measured on the car or came measured with a part.
    pub measured: bool,
    /// How many fields move together.
    pub fields: usize,
    /// How often a value that is not allowed was drawn back to the nearest that is.
    pub clipped: usize,
    /// Whether it is one that the user gave and that changes none of the figures.
    pub moves_nothing: bool,
}

/// How strongly an input moves a result.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Cause {
    /// Path of the input.
    pub path: String,
    /// What it is called.
    pub name: String,
    /// Rank correlation, from −1 to 1.
    pub rank_correlation: f64,
}

/// The band of a figure.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Band {
    /// Name of the figure, ending in its unit.
    pub figure: &'static str,
    /// Which way is better.
    pub better: Better,
    /// The figure of the file as it is; `null` for never.
    #[schemars(with = "Option<f64>")]
    pub nominal: f64,
    /// One case in ten is below this; `null` for never.
    #[schemars(with = "Option<f64>")]
    pub p10: f64,
    /// Half of the cases are below this; `null` for never.
    #[schemars(with = "Option<f64>")]
    pub p50: f64,
    /// Nine cases in ten are below this; `null` for never.
    #[schemars(with = "Option<f64>")]
    pub p90: f64,
    /// Share of the cases in which it never happens, %.
    pub never_pct: f64,
    /// The inputs that move it more than chance would, strongest first.
    pub causes: Vec<Cause>,
}

impl Band {
    /// Whether the figure moves at all.
    pub fn moves(&self) -> bool {
        self.p10 != self.p90 && !(self.p10.is_nan() && self.p90.is_nan())
    }
}

/// Something that should not happen.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Risk {
    /// Short name.
    pub name: String,
    /// What happens, in plain words.
    pub words: String,
    /// Whether it happens in the file as it is.
    pub nominal: bool,
    /// In how many of the cases, %.
    pub probability_pct: f64,
    /// Lower end of the 95 % interval that so few samples leave (Wilson), %.
    pub low_pct: f64,
    /// Upper end of that interval, %.
    pub high_pct: f64,
    /// The inputs that bring it about more than chance would, strongest first.
    pub causes: Vec<Cause>,
}

/// How sure the figures are.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct BandsReport {
    /// Samples that were drawn.
    pub samples: usize,
    /// Seed of the drawing.
    pub seed: u64,
    /// How samples are drawn.
    pub sampling: &'static str,
    /// How inputs are ranked.
    pub ranking: &'static str,
    /// Samples whose values do not go together, and are left out.
    pub refused: usize,
    /// Why, for the first of them.
    pub refused_because: Option<String>,
    /// The uncertain inputs.
    pub inputs: Vec<BandInput>,
    /// The figures.
    pub figures: Vec<Band>,
    /// What may go wrong, likeliest first.
    pub risks: Vec<Risk>,
    /// What to measure first: the inputs of which measuring at home would make the figures surest,
    /// those of the goals where there are any.
    pub measure_first: Vec<MeasureFirst>,
}

/// Figures that tell of something that should not happen: name, words, test.
type Told = (&'static str, &'static str, &'static str, fn(f64) -> bool);

const RISKS: [Told; 9] = [
    ("to_50_kmh_s", "never_50_kmh", "50 km/h is never reached", |v| !v.is_finite()),
    ("to_80_kmh_s", "never_80_kmh", "80 km/h is never reached", |v| !v.is_finite()),
    ("to_100_kmh_s", "never_100_kmh", "100 km/h is never reached", |v| !v.is_finite()),
    ("climb_held", "climb_not_held", "the climb's speed is not held to the top", |v| v < 0.5),
    (
        "climb_derates_after_s",
        "climb_derates",
        "a part overheats on the climb and cuts back",
        f64::is_finite,
    ),
    ("pass_held", "pass_not_held", "the pass's speed is not held to the top", |v| v < 0.5),
    (
        "pass_derates_after_s",
        "pass_derates",
        "a part overheats on the pass and cuts back",
        f64::is_finite,
    ),
    (
        "drive_derates_after_s",
        "drive_derates",
        "a part overheats on the road and cuts back",
        f64::is_finite,
    ),
    ("drive_complete", "drive_ends_early", "the road is not driven to its end", |v| v < 0.5),
];

/// Draws samples, drives each of them and sums up. `step` is called after each of them, and says
/// whether anybody still waits for the answer.
///
/// The samples are a [Latin hypercube](hypercube::samples). P10, P50 and P90 are
/// [quantiles](ranks::quantile) of the samples; a figure that is never reached counts as beyond
/// every other value on its worse side, so that a band may end in never. Inputs are ranked by
/// Spearman's rank correlation; those below 2.6/√n, which chance alone passes once in a hundred
/// times, are left out.
///
/// # Errors
/// [`Failure::Invalid`] for too few or too many samples, or when all of them are refused;
/// [`Failure::Abandoned`] where nobody waits any more; [`Failure`] when the car as it is cannot be
/// driven.
pub fn bands(
    uncertain: &Uncertain<'_>,
    suite: &Suite,
    goals: &[Goal],
    samples: usize,
    seed: u64,
    step: impl Fn() -> bool + Sync,
) -> Result<BandsReport, Failure> {
    if !(FEWEST_SAMPLES..=MOST_SAMPLES).contains(&samples) {
        let text = format!("{samples} samples; allowed: {FEWEST_SAMPLES} to {MOST_SAMPLES}");
        return Err(Failure::Invalid(text));
    }
    let nominal = uncertain.nominal().map_err(|e| Failure::Invalid(e.to_string()))?;
    // A part that overheats may do so in a run that is not carried out, and that must be told.
    let nominal = suite.all_figures(&nominal)?;
    if let Some(goal) = goals.iter().find(|goal| find(&nominal, &goal.figure).is_none()) {
        return Err(Run::no_answer(&goal.figure));
    }
    let shares = hypercube::samples(samples, uncertain.inputs.len(), seed);
    let run = |i: usize| {
        let of_sample: Vec<f64> = shares.iter().map(|input| input[i]).collect();
        let (drawn, figures) = case_of(uncertain, suite, &of_sample);
        step().then_some((drawn.drawn, drawn.clipped, figures))
    };
    let all: Option<Vec<_>> = (0..samples).into_par_iter().map(run).collect();
    let all = all.ok_or(Failure::Abandoned)?;
    let mut clipped = vec![0; uncertain.inputs.len()];
    let (mut inputs, mut cases) = (vec![Vec::new(); uncertain.inputs.len()], Vec::new());
    let (mut refused, mut refused_because) = (0, None);
    for (drawn, was_clipped, figures) in all {
        match figures {
            Ok(figures) => {
                inputs.iter_mut().zip(&drawn).for_each(|(list, v)| list.push(*v));
                clipped.iter_mut().zip(&was_clipped).for_each(|(n, c)| *n += usize::from(*c));
                // What a sample has no answer for counts as never.
                let case =
                    |of: &Figure| find(&figures, of.name).copied().unwrap_or(of.with(f64::NAN));
                cases.push(nominal.iter().map(case).collect::<Vec<Figure>>());
            }
            Err(why) => {
                refused += 1;
                refused_because.get_or_insert(why);
            }
        }
    }
    if cases.is_empty() {
        let why = refused_because.unwrap_or_default();
        return Err(Failure::Invalid(format!("no sample can be driven: {why}")));
    }
    let ranked: Vec<Vec<f64>> = inputs.iter().map(|list| ranks::ranks(list)).collect();
    let summary = Summary { uncertain, ranked };
    let counted = |figure: &Figure| figure.counted(suite.not_done);
    let figures = (0..nominal.len())
        .map(|i| {
            summary
                .band(&counted(&nominal[i]), cases.iter().map(|case| counted(&case[i])).collect())
        })
        .collect();
    let mut risks = Vec::new();
    for (i, figure) in nominal.iter().enumerate() {
        let happens = |test: &dyn Fn(&Figure) -> bool| -> Vec<f64> {
            cases.iter().map(|case| f64::from(u8::from(test(&case[i])))).collect()
        };
        for (_, name, words, test) in RISKS.iter().filter(|risk| risk.0 == figure.name) {
            let cases = happens(&|f| test(f.value));
            risks.push(summary.risk(name, words, test(figure.value), &cases));
        }
        for goal in goals.iter().filter(|goal| goal.figure == figure.name) {
            let missed = |f: &Figure| goal.missed_by(&counted(f)) > 0.0;
            let cases = happens(&missed);
            let words = format!("{goal} is missed");
            let missed = missed(figure);
            risks.push(summary.risk(&goal.to_string(), &words, missed, &cases));
        }
    }
    risks.sort_by(|a, b| b.probability_pct.total_cmp(&a.probability_pct));
    let is_asked =
        |figure: &Figure| goals.is_empty() || goals.iter().any(|goal| goal.figure == figure.name);
    let asked: Vec<Vec<Figure>> = (0..nominal.len())
        .filter(|i| is_asked(&nominal[*i]) && nominal[*i].better != Better::Neither)
        .map(|i| cases.iter().map(|case| counted(&case[i])).collect())
        .collect();
    let spares: Vec<Spare> = goals
        .iter()
        .filter_map(|goal| {
            nominal.iter().position(|figure| figure.name == goal.figure).zip(Some(goal))
        })
        .map(|(i, goal)| {
            let cases: Vec<Figure> = cases.iter().map(|case| counted(&case[i])).collect();
            Spare::of(goal, cases.iter().map(Some))
        })
        .collect();
    let measure_first = measure_first(uncertain.inputs.iter().zip(&inputs), &asked, &spares);
    let moves_nothing = |input: &UncertainInput| {
        [0.1, 0.9].into_iter().all(|share| {
            let alone = uncertain.alone(input, share).ok();
            let figures = alone.and_then(|prepared| suite.all_figures(&prepared).ok());
            figures.is_some_and(|figures| same(&figures, &nominal))
        })
    };
    let inputs = uncertain.inputs.iter().zip(clipped).map(|(input, clipped)| BandInput {
        path: input.spread.path.clone(),
        name: input.spread.name.clone(),
        spread: input.spread.text.clone(),
        reason: input.spread.reason.clone(),
        own: input.own,
        measured: input.measured,
        fields: input.fields(),
        clipped,
        moves_nothing: input.own && moves_nothing(input),
    });
    Ok(BandsReport {
        samples,
        seed,
        sampling: SAMPLING,
        ranking: RANKING,
        refused,
        refused_because,
        inputs: inputs.collect(),
        figures,
        risks,
        measure_first,
    })
}

/// A car of drawn values and its figures as they are, or why it has none.
pub(crate) fn case_of(
    uncertain: &Uncertain<'_>,
    suite: &Suite,
    shares: &[f64],
) -> (Drawn, Result<Vec<Figure>, String>) {
    let drawn = uncertain.draw(shares);
    let figures = match &drawn.prepared {
        Ok(prepared) => {
            let found = suite.all_figures(prepared).map_err(|e| e.to_string());
            let on_drives = |f: &Figure| on_a_drive(f, drawn.of_predicted);
            found.map(|all| all.iter().map(on_drives).collect())
        }
        Err(e) => Err(e.to_string()),
    };
    (drawn, figures)
}

/// P10, P50 and P90 of values.
pub(crate) fn quantiles(mut values: Vec<f64>) -> [f64; 3] {
    values.sort_by(f64::total_cmp);
    [0.1, 0.5, 0.9].map(|share| ranks::quantile(&values, share))
}

/// The inputs that move values more than chance would, strongest first; `ranked` are the ranks of
/// what was drawn of each.
pub(crate) fn causes(uncertain: &Uncertain<'_>, ranked: &[Vec<f64>], values: &[f64]) -> Vec<Cause> {
    let values = ranks::ranks(values);
    let noise = 2.6 / (values.len() as f64).sqrt();
    let mut causes: Vec<Cause> = uncertain
        .inputs
        .iter()
        .zip(ranked)
        .filter_map(|(input, ranked)| {
            let rank_correlation = ranks::correlation(ranked, &values)?;
            (rank_correlation.abs() > noise).then(|| Cause {
                path: input.spread.path.clone(),
                name: input.spread.name.clone(),
                rank_correlation,
            })
        })
        .collect();
    causes.sort_by(|a, b| b.rank_correlation.abs().total_cmp(&a.rank_correlation.abs()));
    causes
}

/// A figure of a drive that takes more or less than what is predicted: its consumption grows with
/// that, and its range shrinks. What it costs is [reckoned](crate::runs::cost::report) with it.
fn on_a_drive(figure: &Figure, of_predicted: f64) -> Figure {
    if figure.name.ends_with("wh_per_km") || figure.name == "year_wall_kwh" {
        figure.with(figure.value * of_predicted)
    } else if figure.name.ends_with("range_km") || figure.name == "range_at_speed_km" {
        figure.with(figure.value / of_predicted)
    } else {
        *figure
    }
}

/// Whether two lists hold the same figures with the same values.
fn same(one: &[Figure], other: &[Figure]) -> bool {
    let alike = |(a, b): (&Figure, &Figure)| {
        a.name == b.name && (a.value == b.value || a.value.is_nan() && b.value.is_nan())
    };
    one.len() == other.len() && one.iter().zip(other).all(alike)
}

struct Summary<'a> {
    uncertain: &'a Uncertain<'a>,
    ranked: Vec<Vec<f64>>,
}

impl Summary<'_> {
    fn causes(&self, values: &[f64]) -> Vec<Cause> {
        causes(self.uncertain, &self.ranked, values)
    }

    fn band(&self, nominal: &Figure, cases: Vec<Figure>) -> Band {
        let values: Vec<f64> = cases.iter().map(comparable).collect();
        let [p10, p50, p90] = quantiles(values.clone());
        let never = values.iter().filter(|v| !v.is_finite()).count();
        Band {
            figure: nominal.name,
            better: nominal.better,
            nominal: nominal.value,
            p10,
            p50,
            p90,
            never_pct: units::pct_of(never as f64, values.len() as f64),
            causes: self.causes(&values),
        }
    }

    fn risk(&self, name: &str, words: &str, nominal: bool, cases: &[f64]) -> Risk {
        let n = cases.len() as f64;
        let share = cases.iter().sum::<f64>() / n;
        let (low, high) = wilson(share, n);
        Risk {
            name: name.to_owned(),
            words: words.to_owned(),
            nominal,
            probability_pct: units::pct_from_share(share),
            low_pct: units::pct_from_share(low),
            high_pct: units::pct_from_share(high),
            causes: self.causes(cases),
        }
    }
}

/// The 95 % interval of a probability of which `share` was seen in `n` cases (Wilson, 1927, from
/// memory).
pub(crate) fn wilson(share: f64, n: f64) -> (f64, f64) {
    let z = 1.959_964;
    let z2 = z * z / n;
    let middle = (share + 0.5 * z2) / (1.0 + z2);
    let half = z / (1.0 + z2) * (share * (1.0 - share) / n + 0.25 * z2 / n).sqrt();
    ((middle - half).max(0.0), (middle + half).min(1.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::studies::Spread;

    #[test]
    fn each_risk_is_told_by_a_figure_that_there_is() {
        assert!(RISKS.iter().all(|risk| Run::of_figure(risk.0).is_ok()));
    }

    #[test]
    fn an_interval_of_a_probability_has_its_closed_form() {
        // 0 of n: the upper end is z²/(n + z²).
        let (low, high) = wilson(0.0, 100.0);
        assert_eq!(low, 0.0);
        assert!((high - 3.841_459 / 103.841_459).abs() < 1e-6);
        let (low, high) = wilson(0.5, 400.0);
        assert!((low + high - 1.0).abs() < 1e-12);
    }

    #[test]
    fn sums_of_normals_have_their_mean_deviation_and_quantiles() {
        let drawn = hypercube::samples(2000, 3, 5);
        let read = |text| Spread::parse(text).unwrap().distribution.unwrap();
        let inputs = [read("a=normal:1,3"), read("b=normal:-2,4"), read("c=normal:0,12")];
        let mut sums: Vec<f64> = (0..2000)
            .map(|i| inputs.iter().zip(&drawn).map(|(d, list)| d.quantile(list[i])).sum())
            .collect();
        sums.sort_by(f64::total_cmp);
        let mean = sums.iter().sum::<f64>() / 2000.0;
        // A Latin hypercube has the mean of a sum almost exactly; the deviation is √(9+16+144).
        assert!((mean + 1.0).abs() < 0.01, "{mean}");
        let variance = sums.iter().map(|s| (s - mean).powi(2)).sum::<f64>() / 1999.0;
        assert!((variance.sqrt() - 13.0).abs() < 0.4, "{variance}");
        for (share, z) in [(0.1, -1.281_552), (0.5, 0.0), (0.9, 1.281_552)] {
            let found = ranks::quantile(&sums, share);
            assert!((found - (-1.0 + 13.0 * z)).abs() < 0.8, "{share}: {found}");
        }
    }

    #[test]
    fn squared_correlations_are_the_variance_shares_of_an_additive_function() {
        let drawn = hypercube::samples(4000, 4, 11);
        let sd = [4.0, 2.0, 1.0, 0.0];
        let bell = crate::studies::spread::Distribution::Normal { mean: 0.0, sd: 1.0 };
        let x: Vec<Vec<f64>> =
            drawn.iter().map(|l| l.iter().map(|p| bell.quantile(*p)).collect()).collect();
        let y: Vec<f64> =
            (0..4000).map(|i| x.iter().zip(sd).map(|(list, s)| s * list[i]).sum()).collect();
        for (list, s) in x.iter().zip(sd) {
            let share = s * s / 21.0;
            let plain = ranks::correlation(list, &y).unwrap();
            assert!((plain * plain - share).abs() < 0.02, "{s}: {plain}");
            // Of two normals with the correlation r, Spearman's is 6/π·asin(r/2) (Pearson, 1907,
            // from memory).
            let spearman = ranks::correlation(&ranks::ranks(list), &ranks::ranks(&y)).unwrap();
            let expected = 6.0 / std::f64::consts::PI * (0.5 * share.sqrt()).asin();
            assert!((spearman - expected).abs() < 0.035, "{s}: {spearman} {expected}");
        }
    }
}
