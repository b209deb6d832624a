//! Asking backwards: which value of a field keeps some goals, or serves a figure best.

use crate::prepared::Prepared;
use crate::runs::failure::Failure;
use crate::runs::figure::find;
use crate::runs::figure::{Better, Figure};
use crate::runs::run::Run;
use crate::studies::goal::Goal;
use crate::studies::goal::comparable;
use crate::warning::Severity;
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::Invalid;

/// Values of the first look, whole numbers aside.
const SCAN: usize = 25;
/// Most whole numbers of which each is tried.
const EACH: f64 = 64.0;
/// Values of each closer look.
const ZOOM: usize = 9;
/// How closely an answer is found, as a share of the interval.
const CLOSE: f64 = 1e-4;

/// What is asked.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Question {
    /// The smallest value that keeps the goals.
    Smallest,
    /// The largest value that keeps the goals.
    Largest,
    /// The value that serves this figure best and keeps the goals.
    Best(String),
}

/// Where the answer is looked for.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Interval {
    /// Lower end.
    pub from: f64,
    /// Upper end.
    pub to: f64,
}

impl std::str::FromStr for Interval {
    type Err = Failure;

    /// Reads `from..to`.
    fn from_str(text: &str) -> Result<Self, Failure> {
        let invalid = |why: &str| Failure::Form { text: text.to_owned(), why: why.to_owned() };
        let (from, to) =
            text.split_once("..").ok_or_else(|| invalid("the form is from..to, such as 4..40"))?;
        let number = |part: &str| {
            let value = part.trim().parse::<f64>().ok().filter(|v| v.abs() < 1e12);
            value.ok_or_else(|| invalid(&format!("\"{}\" is not a number", part.trim())))
        };
        let (from, to) = (number(from)?, number(to)?);
        if from >= to {
            return Err(invalid("the second value must be more than the first"));
        }
        Ok(Self { from, to })
    }
}

/// A value that was tried.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Tried {
    /// Value of the field.
    pub value: f64,
    /// Whether the goals are kept.
    pub met: bool,
    /// Values of the asked figures, in their order; empty where the value is refused.
    #[schemars(with = "Vec<Option<f64>>")]
    pub figures: Vec<f64>,
    /// Why the value is refused.
    pub refused: Option<String>,
}

/// A goal that is missed.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Miss {
    /// The goal.
    pub goal: String,
    /// Name of its figure.
    pub figure: String,
    /// Value of the figure; `null` for never.
    #[schemars(with = "Option<f64>")]
    pub value: f64,
    /// By how much it misses the bound; `null` where it is never reached.
    #[schemars(with = "Option<f64>")]
    pub by: f64,
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SizeReport {
    /// Path of the field.
    pub field: String,
    /// What was asked.
    pub question: Question,
    /// The goals.
    pub goals: Vec<Goal>,
    /// Where it was looked for.
    pub between: Interval,
    /// Whether whole numbers alone were tried.
    pub whole: bool,
    /// The answer; `null` where no value keeps the goals.
    pub found: Option<f64>,
    /// Whether the answer is an end of the interval, so that one beyond it may be better still.
    pub at_end: bool,
    /// The figures of the answer, or else of the nearest miss, or else of the first value that was
    /// accepted.
    pub figures: Vec<Figure>,
    /// Where the goals are kept.
    pub met: Vec<Interval>,
    /// Whether the goals change from missed to kept, or back, no more than once.
    pub monotone: bool,
    /// Where no value keeps the goals: the one that misses them least.
    pub nearest: Option<f64>,
    /// What it misses, and by how much; where none comes near, what is never reached.
    pub misses: Vec<Miss>,
    /// Asked figures that are the same at every value of the first look: the field does not change
    /// them.
    pub independent: Vec<String>,
    /// Names of the asked figures.
    pub asked: Vec<String>,
    /// The first look, in order.
    pub tried: Vec<Tried>,
    /// How many values were tried in all.
    pub evaluations: usize,
    /// What breaks or is forbidden in the car of the answer, or else of the nearest miss: goals that
    /// are kept by an overloaded car are not kept.
    pub dangers: Vec<String>,
}

impl SizeReport {
    /// With the dangers of the car that it speaks of; `with` makes it.
    pub fn judged(mut self, with: impl FnOnce(f64) -> Option<Prepared>) -> Self {
        let car = self.found.or(self.nearest).and_then(with);
        let warnings = car.map(|car| car.warnings()).unwrap_or_default();
        let dangers = warnings.into_iter().filter(|w| w.severity == Severity::Danger);
        self.dangers = dangers.map(|warning| warning.text).collect();
        self
    }
}

/// A value with what came of it.
struct Point {
    value: f64,
    outcome: Result<Vec<Figure>, String>,
    met: bool,
    /// Largest miss as a share of the bound.
    miss: f64,
}

struct Search<'a, F> {
    between: Interval,
    whole: bool,
    goals: &'a [Goal],
    evaluate: F,
}

impl<F: Fn(f64) -> Result<Vec<Figure>, String> + Sync> Search<'_, F> {
    fn at(&self, value: f64) -> Point {
        let outcome = (self.evaluate)(value);
        let miss = match &outcome {
            Err(_) => f64::INFINITY,
            Ok(figures) => self
                .goals
                .iter()
                .map(|goal| match find(figures, &goal.figure) {
                    Some(figure) => goal.missed_by(figure) / goal.bound.abs().max(1e-6),
                    None => f64::INFINITY,
                })
                .fold(0.0, f64::max),
        };
        Point { value, outcome, met: miss == 0.0, miss }
    }

    fn scan(&self, from: f64, to: f64, most: usize) -> Vec<Point> {
        let count = if self.whole && to - from < EACH { (to - from) as usize + 1 } else { most };
        let mut values: Vec<f64> = (0..count)
            .map(|i| from + (to - from) * i as f64 / (count - 1).max(1) as f64)
            .map(|v| if self.whole { v.round() } else { v })
            .collect();
        values.dedup();
        values.into_par_iter().map(|value| self.at(value)).collect()
    }

    /// How close is close enough.
    fn close(&self) -> f64 {
        if self.whole { 1.0 } else { CLOSE * (self.between.to - self.between.from) }
    }

    /// A value on the good side of a change and no further from it than [`Self::close`], the
    /// roundest one if it is good as well; and how many were tried.
    fn edge(&self, good: &Point, bad: f64) -> (Point, usize) {
        let (mut good, mut bad, mut tried) = (self.at(good.value), bad, 1);
        // Half of what is allowed is left for rounding.
        let near = if self.whole { 1.0 } else { 0.5 * self.close() };
        while (good.value - bad).abs() > near {
            let half = 0.5 * (good.value + bad);
            let half = if self.whole { half.round() } else { half };
            if half == good.value || half == bad {
                break;
            }
            let point = self.at(half);
            tried += 1;
            if point.met { good = point } else { bad = half }
        }
        if !self.whole {
            let Interval { from, to } = self.between;
            let furthest = bad + self.close() * (good.value - bad).signum();
            let point = self.at(roundest(good.value, furthest.clamp(from, to)));
            tried += 1;
            if point.met {
                good = point;
            }
        }
        (good, tried)
    }

    /// Looks ever closer for the point of the least cost.
    fn least(&self, points: Vec<Point>, cost: impl Fn(&Point) -> f64) -> Option<(Point, usize)> {
        let (mut points, mut tried) = (points, 0);
        loop {
            let (mut best, mut least) = (None, f64::INFINITY);
            for (i, point) in points.iter().enumerate() {
                let found = cost(point);
                if found < least {
                    (best, least) = (Some(i), found);
                }
            }
            let i = best?;
            let from = points[i.saturating_sub(1)].value;
            let to = points[(i + 1).min(points.len() - 1)].value;
            if to - from <= 2.0 * self.close() || points.len() < 2 {
                return Some((points.swap_remove(i), tried));
            }
            let closer = self.scan(from, to, ZOOM);
            tried += closer.len();
            // Steps of whole numbers end when they cannot shrink.
            if closer.len() >= points.len() && self.whole && to - from < EACH {
                let best = points.swap_remove(i);
                let new = closer.into_iter().min_by(|a, b| cost(a).total_cmp(&cost(b)))?;
                return Some((if cost(&new) < cost(&best) { new } else { best }, tried));
            }
            points = closer;
        }
    }
}

/// The number with the fewest decimal digits from one value to another.
fn roundest(one: f64, other: f64) -> f64 {
    let (low, high) = (one.min(other), one.max(other));
    let largest = low.abs().max(high.abs()).max(f64::MIN_POSITIVE).log10().ceil() as i32;
    let of_digits = |digits: i32| {
        let exponent = largest - digits;
        let count = (low / 10f64.powi(exponent)).ceil();
        // Read as a decimal number, it has no noise of binary fractions.
        let value: f64 = format!("{count}e{exponent}").parse().ok()?;
        (low..=high).contains(&value).then_some(value + 0.0)
    };
    (0..f64::DIGITS as i32).find_map(of_digits).unwrap_or(one)
}

/// The figures among some that are the same at every point.
fn independent(asked: &[String], points: &[Point]) -> Vec<String> {
    let same = |name: &&String| {
        let values: Vec<f64> = points
            .iter()
            .filter_map(|point| Some(find(point.outcome.as_deref().ok()?, name)?.value))
            .collect();
        values.len() > 1 && values.iter().all(|value| *value == values[0])
    };
    asked.iter().filter(same).cloned().collect()
}

/// The goals that some figures miss.
fn misses(goals: &[Goal], figures: &[Figure]) -> Vec<Miss> {
    let miss = |goal: &Goal| {
        let figure = find(figures, &goal.figure)?;
        let by = goal.missed_by(figure);
        let (goal, name) = (goal.to_string(), goal.figure.clone());
        (by > 0.0).then_some(Miss { goal, figure: name, value: figure.value, by })
    };
    goals.iter().filter_map(miss).collect()
}

/// Finds the value of a field that answers a question.
///
/// The interval is looked at in even steps (every whole number where there are few). Each place
/// where the goals change from missed to kept is closed in by bisection: the answer lies on the
/// side that keeps them, within 1/10000 of the interval, and is the roundest number there. The best
/// of a figure is closed in by ever finer looks around the best so far. Where
/// the goals change more than once the report says so: a patch narrower than a step of the first
/// look may then be overlooked.
///
/// # Errors
/// [`Failure::Invalid`] when there is nothing to search for, a figure is not known or has no
/// better side, or every value is refused.
pub fn size(
    field: &str,
    question: &Question,
    goals: &[Goal],
    between: Interval,
    whole: bool,
    evaluate: impl Fn(f64) -> Result<Vec<Figure>, String> + Sync,
) -> Result<SizeReport, Failure> {
    let asked = between;
    let between = if whole {
        Interval { from: between.from.ceil(), to: between.to.floor() }
    } else {
        between
    };
    if between.from > between.to {
        let Interval { from, to } = asked;
        let allowed = "an interval that holds a whole number";
        return Err(Invalid::new("between", format!("{from}..{to}"), allowed).into());
    }
    if goals.is_empty() && !matches!(question, Question::Best(_)) {
        return Err(Failure::NoGoal);
    }
    let search = Search { between, whole, goals, evaluate };
    let scan = search.scan(between.from, between.to, SCAN);
    let mut evaluations = scan.len();
    if scan.iter().all(|point| point.outcome.is_err()) {
        let why = scan.iter().find_map(|point| point.outcome.as_ref().err());
        let why = why.map_or("", String::as_str);
        return Err(Failure::Invalid(format!("no value of {field} is accepted: {why}")));
    }
    let known = |name: &str| {
        scan.iter().find_map(|point| find(point.outcome.as_deref().ok()?, name).copied())
    };
    let mut asked: Vec<String> = goals.iter().map(|goal| goal.figure.clone()).collect();
    let mut better = Better::Neither;
    if let Question::Best(name) = question {
        asked.insert(0, name.clone());
        better = known(name).map_or(Better::Neither, |figure| figure.better);
    }
    asked.dedup();
    if let Some(name) = asked.iter().find(|name| known(name).is_none()) {
        return Err(Run::no_answer(name));
    }
    if let (Question::Best(name), Better::Neither) = (question, better) {
        return Err(Failure::Invalid(format!("of {name} neither more nor less is better")));
    }
    let tried = scan
        .iter()
        .map(|point| Tried {
            value: point.value,
            met: point.met,
            figures: point.outcome.as_ref().map_or_else(
                |_| Vec::new(),
                |figures| {
                    let value = |name: &String| find(figures, name).map_or(f64::NAN, |f| f.value);
                    asked.iter().map(value).collect()
                },
            ),
            refused: point.outcome.as_ref().err().cloned(),
        })
        .collect();
    // Where the goals are kept, each end closed in.
    let mut met = Vec::new();
    let mut edges: Vec<Point> = Vec::new();
    let mut changes = 0;
    for (i, point) in scan.iter().enumerate().filter(|(_, point)| point.met) {
        if i == 0 || !scan[i - 1].met {
            let from = if i == 0 {
                point.value
            } else {
                changes += 1;
                let (edge, n) = search.edge(point, scan[i - 1].value);
                evaluations += n;
                let value = edge.value;
                edges.push(edge);
                value
            };
            met.push(Interval { from, to: from });
        }
        let to = match scan.get(i + 1) {
            Some(next) if !next.met => {
                changes += 1;
                let (edge, n) = search.edge(point, next.value);
                evaluations += n;
                let value = edge.value;
                edges.push(edge);
                value
            }
            _ => point.value,
        };
        if let Some(last) = met.last_mut() {
            last.to = to;
        }
    }
    let monotone = changes <= 1;
    let mut report = SizeReport {
        field: field.to_owned(),
        question: question.clone(),
        goals: goals.to_vec(),
        between,
        whole,
        found: None,
        at_end: false,
        figures: scan.iter().find_map(|p| p.outcome.as_ref().ok().cloned()).unwrap_or_default(),
        met,
        monotone,
        nearest: None,
        misses: Vec::new(),
        independent: independent(&asked, &scan),
        asked,
        tried,
        evaluations,
        dangers: Vec::new(),
    };
    if report.met.is_empty() {
        let Some((point, n)) = search.least(scan, |point| point.miss) else {
            report.misses = misses(goals, &report.figures);
            return Ok(report);
        };
        report.evaluations += n;
        // A closer look may have found what the first overlooked.
        if !point.met {
            report.nearest = Some(point.value);
            report.figures = point.outcome.unwrap_or_default();
            report.misses = misses(goals, &report.figures);
            return Ok(report);
        }
        report.met.push(Interval { from: point.value, to: point.value });
        report.monotone = false;
        edges.push(point);
        return answer(report, edges.pop());
    }
    let at = |value: f64, mut points: Vec<Point>| {
        points.iter().position(|point| point.value == value).map(|i| points.swap_remove(i))
    };
    let (first, last) = (report.met[0].from, report.met[report.met.len() - 1].to);
    let found = match question {
        Question::Smallest => at(first, edges.into_iter().chain(scan).collect()),
        Question::Largest => at(last, edges.into_iter().chain(scan).collect()),
        Question::Best(name) if report.independent.contains(name) => None,
        Question::Best(name) => {
            let cost = |point: &Point| match (&point.outcome, point.met) {
                (Ok(figures), true) => find(figures, name).map_or(f64::INFINITY, |figure| {
                    let value = comparable(figure);
                    if better == Better::Higher { -value } else { value }
                }),
                _ => f64::INFINITY,
            };
            // The ends of the good stretches are candidates as well.
            let mut points: Vec<Point> = scan.into_iter().chain(edges).collect();
            points.sort_by(|a, b| a.value.total_cmp(&b.value));
            points.dedup_by(|a, b| a.value == b.value);
            let best = search.least(points, cost);
            report.evaluations += best.as_ref().map_or(0, |(_, tried)| *tried);
            best.map(|(point, _)| point)
        }
    };
    answer(report, found)
}

fn answer(mut report: SizeReport, found: Option<Point>) -> Result<SizeReport, Failure> {
    if let Some(point) = found {
        report.found = Some(point.value);
        report.at_end = match report.question {
            Question::Smallest => point.value == report.between.from,
            Question::Largest => point.value == report.between.to,
            Question::Best(_) => {
                point.value == report.between.from || point.value == report.between.to
            }
        };
        report.figures = point.outcome.unwrap_or_default();
    }
    Ok(report)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::runs::figure::{Unit, lower, plain};

    fn ask(
        question: Question,
        goals: &[&str],
        between: (f64, f64),
        whole: bool,
        f: fn(f64) -> Vec<Figure>,
    ) -> SizeReport {
        let goals: Vec<Goal> = goals.iter().map(|text| text.parse().unwrap()).collect();
        let between = Interval { from: between.0, to: between.1 };
        size("x", &question, &goals, between, whole, |x| Ok(f(x))).unwrap()
    }

    /// What is documented: within 1/10000 of the interval from 0 to 10.
    #[track_caller]
    fn assert_close(found: Option<f64>, expected: f64) {
        let off = (found.unwrap() - expected).abs();
        assert!(off <= 1e-4 * 10.0, "{found:?} is {off} from {expected}");
    }

    #[test]
    fn closes_in_on_the_edge_of_a_goal() {
        let square = |x: f64| vec![lower("square", Unit::Plain, "", x * x)];
        let found = ask(Question::Largest, &["square<=2"], (0.0, 10.0), false, square);
        assert_close(found.found, 2f64.sqrt());
        assert!(found.found.unwrap().powi(2) <= 2.0 && found.monotone && !found.at_end);
        let found = ask(Question::Smallest, &["square>=2"], (0.0, 10.0), false, square);
        assert_close(found.found, 2f64.sqrt());
        assert!(found.found.unwrap().powi(2) >= 2.0);
        let found = ask(Question::Smallest, &["square<=2"], (0.0, 10.0), false, square);
        assert!(found.at_end && found.found == Some(0.0));
        for (from, to) in [(1.0, 12.0), (1.0, 4000.0)] {
            let found = ask(Question::Smallest, &["square>=90"], (from, to), true, square);
            assert_eq!(found.found, Some(10.0));
        }
    }

    /// However wide or narrow the interval, an edge at a prime's root is met within 1/10000 of it.
    #[test]
    fn an_answer_is_as_close_as_promised_at_every_scale() {
        let square = |x: f64| vec![lower("square", Unit::Plain, "", x * x)];
        for prime in [2, 3, 5, 7, 11, 13, 17, 19, 23, 29] {
            let root = f64::from(prime).sqrt();
            for width in [0.011, 0.3, 1.0, 7.0, 40.0, 990.0, 31_000.0] {
                let (from, to) = (root - 0.37 * width, root + 0.63 * width);
                let goal = format!("square<={prime}");
                let found = ask(Question::Largest, &[&goal], (from.max(0.0), to), false, square);
                let value = found.found.unwrap();
                let within = 1e-4 * (to - from.max(0.0));
                assert!(value * value <= f64::from(prime), "{value} is beyond the root {root}");
                assert!(root - value <= within, "{value} for {root}, not within {within}");
            }
        }
    }

    /// By eye.
    #[test]
    fn the_roundest_number_has_the_fewest_digits() {
        for (one, other, expected) in [
            (2.73421, 2.73352, 2.734),
            (6.2304, 6.2299, 6.23),
            (99.97, 100.02, 100.0),
            (-0.31, 0.2, 0.0),
            (-7.23, -7.18, -7.2),
            (0.000_123_41, 0.000_123_59, 0.000_123_5),
            (5.0, 5.0, 5.0),
            (0.0, 0.0, 0.0),
        ] {
            assert_eq!(roundest(one, other), expected, "{one} to {other}");
        }
    }

    #[test]
    fn says_where_goals_are_kept_when_they_change_more_than_once() {
        let wave = |x: f64| vec![lower("wave", Unit::Plain, "", x.sin())];
        let found = ask(Question::Smallest, &["wave>=0.5"], (0.0, 10.0), false, wave);
        assert!(!found.monotone && found.met.len() == 2);
        let pi = std::f64::consts::PI;
        for (interval, turn) in found.met.iter().zip([0.0, 2.0]) {
            assert_close(Some(interval.from), (turn + 1.0 / 6.0) * pi);
            assert_close(Some(interval.to), (turn + 5.0 / 6.0) * pi);
        }
    }

    #[test]
    fn names_the_nearest_miss() {
        let bowl = |x: f64| vec![lower("bowl", Unit::Plain, "", 3.0 + (x - 7.0).powi(2))];
        let found = ask(Question::Smallest, &["bowl<=2"], (0.0, 10.0), false, bowl);
        assert_eq!(found.found, None);
        assert_close(found.nearest, 7.0);
        // The bowl rises by the square of what the value is off.
        assert!((found.misses[0].by - 1.0).abs() <= 1e-6, "{:?}", found.misses);
    }

    /// Neither is an error: the question was understood, and the answer is that there is none.
    #[test]
    fn tells_a_figure_that_the_field_does_not_change_and_one_that_is_never_reached() {
        let two = |x: f64| {
            vec![
                lower("same", Unit::Plain, "", 3.0),
                lower("square", Unit::Plain, "", x * x),
                lower("never", Unit::Plain, "", f64::NAN),
            ]
        };
        let best = |name: &str| ask(Question::Best(name.into()), &[], (0.0, 10.0), false, two);
        let found = best("same");
        assert_eq!((found.found, found.evaluations), (None, SCAN));
        assert_eq!(found.independent, ["same"]);
        assert!(best("square").independent.is_empty() && best("square").found == Some(0.0));
        let found = best("never");
        assert!(found.found.is_none() && found.independent.is_empty());
        let found = ask(Question::Smallest, &["never<=9", "same<=9"], (0.0, 10.0), false, two);
        assert_eq!((found.found, found.nearest), (None, None));
        assert_eq!((found.misses.len(), found.independent), (1, vec!["same".to_owned()]));
    }

    #[test]
    fn finds_the_best_within_the_goals() {
        let two = |x: f64| {
            vec![
                lower("bowl", Unit::Plain, "", (x - 7.3).powi(2)),
                lower("speed", Unit::Plain, "", 10.0 * x),
            ]
        };
        let best = |goals: &[&str], whole| {
            ask(Question::Best("bowl".into()), goals, (0.0, 10.0), whole, two).found
        };
        assert_close(best(&[], false), 7.3);
        assert_eq!(best(&[], true), Some(7.0));
        // The bound holds it at its edge.
        assert_close(best(&["speed<=51.5"], false), 5.15);
        assert_eq!(best(&["speed<=51.5"], true), Some(5.0));
        let wide = ask(Question::Best("bowl".into()), &[], (0.0, 5000.0), true, two);
        assert_eq!(wide.found, Some(7.0));
    }

    #[test]
    fn refuses_what_cannot_be_searched() {
        let one = |x: f64| Ok(vec![plain("a", Unit::Plain, "", x)]);
        let between = Interval { from: 0.0, to: 1.0 };
        let best = Question::Best("a".into());
        assert!(size("x", &best, &[], between, false, one).is_err());
        assert!(size("x", &Question::Smallest, &[], between, false, one).is_err());
        let goal = ["b<=1".parse().unwrap()];
        assert!(size("x", &Question::Smallest, &goal, between, false, one).is_err());
        let goal = ["a<=1".parse().unwrap()];
        let never = |_: f64| Err("no".to_owned());
        assert!(size("x", &Question::Smallest, &goal, between, false, never).is_err());
        for bad in ["", "1", "1..", "2..1", "1..1", "a..b", "1..inf"] {
            assert!(bad.parse::<Interval>().is_err(), "{bad}");
        }
    }
}
