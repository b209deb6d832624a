//! Every combination of some varied fields, by its number.

use crate::files::bounds::{COMBINATIONS, VALUES};
use crate::runs::failure::Failure;
use crate::studies::stream::in_order;
use cycles::short;
use serde_json::Value;

/// A field to vary and the values it takes.
#[derive(Debug, Clone, PartialEq)]
pub struct Vary {
    /// Path of the field.
    pub path: String,
    /// Values, in order.
    pub values: Vec<Value>,
}

impl Vary {
    /// Reads `path=from..to:step` (both ends included) or `path=a,b,c`.
    ///
    /// # Errors
    /// [`Failure::Form`] when the text has neither form, a number is not finite, the step does
    /// not lead from one end to the other, or there are more than a million values.
    pub fn parse(text: &str) -> Result<Self, Failure> {
        let form = "path=from..to:step or path=a,b,c";
        let invalid = |why: String| Failure::Form { text: text.to_owned(), why };
        let (path, values) =
            text.split_once('=').ok_or_else(|| invalid(format!("the form is {form}")))?;
        if path.is_empty() || values.is_empty() {
            return Err(invalid(format!("the form is {form}")));
        }
        let values = match values.split_once("..") {
            // A path of a file may hold two dots as well: a range begins with a number.
            Some((from, rest)) if from.parse::<f64>().is_ok() => {
                let (to, step) = rest
                    .split_once(':')
                    .ok_or_else(|| invalid("a range is from..to:step".to_string()))?;
                let number = |s: &str| {
                    s.parse::<f64>()
                        .ok()
                        .filter(|v| v.is_finite())
                        .ok_or_else(|| invalid(format!("\"{}\" is not a finite number", short(s))))
                };
                let (from, to, step) = (number(from)?, number(to)?, number(step)?);
                if step == 0.0 || (to - from) * step < 0.0 {
                    return Err(invalid(format!(
                        "a step of {step} does not lead from {from} to {to}"
                    )));
                }
                let last = ((to - from) / step + 1e-9).floor();
                let count = last + 1.0;
                if count > VALUES as f64 {
                    return Err(invalid(format!(
                        "it gives {count} values; allowed: at most {VALUES}"
                    )));
                }
                // Rounded to twelve digits, so that 0.1 steps read as they were meant.
                let at = |i: u32| {
                    let value = from + f64::from(i) * step;
                    format!("{value:.12}").parse::<f64>().unwrap_or(value)
                };
                (0..=last as u32).map(|i| number_value(at(i))).collect()
            }
            _ => {
                let count = values.split(',').count();
                if count as u64 > VALUES {
                    return Err(invalid(format!(
                        "it gives {count} values; allowed: at most {VALUES}"
                    )));
                }
                values.split(',').map(value_of).collect()
            }
        };
        Ok(Self { path: path.to_string(), values })
    }
}

/// A whole number as such, so that fields that count (cells, gears) accept it.
fn number_value(v: f64) -> Value {
    if v.fract() == 0.0 && v.abs() < 9e15 { Value::from(v as i64) } else { Value::from(v) }
}

/// Text as a JSON value, or as a string where it is none.
pub fn value_of(text: &str) -> Value {
    serde_json::from_str(text).unwrap_or_else(|_| Value::String(text.to_string()))
}

/// How many combinations there are.
///
/// # Errors
/// [`Failure::Invalid`] when there are more than [`COMBINATIONS`].
pub fn combinations(varied: &[Vary]) -> Result<u64, Failure> {
    varied
        .iter()
        .try_fold(1_u64, |n, v| n.checked_mul(v.values.len() as u64))
        .filter(|n| *n <= COMBINATIONS)
        .ok_or_else(|| {
            let many: f64 = varied.iter().map(|v| v.values.len() as f64).product();
            Failure::Invalid(format!(
                "there are {many:.0} combinations; allowed: at most {COMBINATIONS}"
            ))
        })
}

/// Values of a combination; the last field varies fastest.
pub fn values_of(varied: &[Vary], number: u64) -> Vec<Value> {
    let mut rest = number;
    let mut values: Vec<Value> = varied
        .iter()
        .rev()
        .map(|v| {
            let n = v.values.len() as u64;
            let value = v.values[(rest % n) as usize].clone();
            rest /= n;
            value
        })
        .collect();
    values.reverse();
    values
}

/// Which varied fields change a figure, as the rows tell in which every other field has its first
/// value; memory does not grow with the sweep.
#[derive(Debug)]
pub struct Effects {
    /// How many values each field has.
    counts: Vec<u64>,
    /// Figures of the first row, if it has any.
    first: Option<Vec<Option<f64>>>,
    /// Fields of which a change was seen.
    seen: Vec<bool>,
}

impl Effects {
    /// Before any row.
    pub fn of(varied: &[Vary]) -> Self {
        let counts: Vec<u64> = varied.iter().map(|v| v.values.len() as u64).collect();
        Self { seen: counts.iter().map(|n| *n < 2).collect(), counts, first: None }
    }

    /// Takes a row's number and its figures, if it has any; rows come in order.
    pub fn see(&mut self, number: u64, figures: Option<Vec<Option<f64>>>) {
        let mut rest = number;
        let mut changed = Vec::new();
        for (i, count) in self.counts.iter().enumerate().rev() {
            if !rest.is_multiple_of(*count) {
                changed.push(i);
            }
            rest /= count;
        }
        match changed[..] {
            [] => self.first = figures,
            [one] => {
                let same = |(a, b): (&Option<f64>, &Option<f64>)| match (a, b) {
                    (Some(a), Some(b)) => a == b || a.is_nan() && b.is_nan(),
                    _ => a.is_none() && b.is_none(),
                };
                let alike = self.first.iter().zip(&figures).any(|(a, b)| a.iter().zip(b).all(same));
                self.seen[one] |= !alike;
            }
            _ => {}
        }
    }

    /// The fields that change none of the figures.
    pub fn idle(&self) -> impl Iterator<Item = usize> {
        (0..self.seen.len()).filter(|i| !self.seen[*i])
    }
}

/// Computes something of every combination in parallel and hands it on in order, with the number of
/// the combination.
///
/// `evaluate` gets that number, and the varied paths with their values. Few combinations are held at a time, so memory
/// does not grow with the sweep.
///
/// # Errors
/// What `take` returns, and [`Failure::Invalid`] for too many combinations.
pub fn sweep<T: Send, E: From<Failure>>(
    varied: &[Vary],
    evaluate: impl Fn(u64, &[(String, Value)]) -> T + Sync,
    mut take: impl FnMut(u64, T) -> Result<(), E>,
) -> Result<(), E> {
    let compute = |number| evaluate(number, &set_of(varied, number));
    in_order(0..combinations(varied)?, compute, |first, all| {
        (first..).zip(all).try_for_each(|(number, one)| take(number, one))
    })
}

/// The paths of a combination with their values.
pub fn set_of(varied: &[Vary], number: u64) -> Vec<(String, Value)> {
    varied.iter().map(|v| v.path.clone()).zip(values_of(varied, number)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_ranges_and_lists() {
        let range = Vary::parse("pack.parallel=1..3:1").unwrap();
        assert_eq!(range.values, [1, 2, 3].map(Value::from));
        let down = Vary::parse("a=0.3..0.1:-0.1").unwrap();
        assert_eq!(down.values, [0.3, 0.2, 0.1].map(Value::from));
        let list = Vary::parse("motor=shelf:one,../two.json").unwrap();
        assert_eq!(list.values, ["shelf:one", "../two.json"].map(Value::from));
        for bad in ["a", "a=", "=1", "a=1..2", "a=1..2:0", "a=1..2:-1", "a=1..x:1", "a=0..1e9:1"] {
            assert!(Vary::parse(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn a_field_that_changes_no_figure_is_found_beside_those_that_do() {
        let lists = ["a=1..3:1", "idle=1..4:1", "b=5,6", "one=7"];
        let varied = lists.map(|text| Vary::parse(text).unwrap());
        let idle = |figure: fn(&[f64]) -> Option<f64>| -> Vec<usize> {
            let mut effects = Effects::of(&varied);
            for number in 0..combinations(&varied).unwrap() {
                let values = values_of(&varied, number);
                let values: Vec<f64> = values.iter().filter_map(Value::as_f64).collect();
                effects.see(number, figure(&values).map(|v| vec![Some(v), Some(f64::NAN), None]));
            }
            effects.idle().collect()
        };
        assert_eq!(idle(|v| Some(v[0] * v[2])), [1]);
        assert_eq!(idle(|_| Some(1.0)), [0, 1, 2]);
        assert_eq!(idle(|v| Some(v[1])), [0, 2]);
        // Of what is refused nothing is known.
        assert_eq!(idle(|_| None), [0_usize; 0]);
    }

    #[test]
    fn goes_through_all_combinations_in_order_and_refuses_too_many() {
        let varied = [Vary::parse("a=1..3:1").unwrap(), Vary::parse("b=x,y").unwrap()];
        let mut seen = Vec::new();
        let evaluate = |_, set: &[(String, Value)]| {
            if set[1].1 == "y" { Err("no") } else { Ok(()) }
        };
        sweep::<_, Failure>(&varied, evaluate, |number, outcome| {
            seen.push((values_of(&varied, number)[0].clone(), outcome.is_ok()));
            Ok(())
        })
        .unwrap();
        let expected = [1, 1, 2, 2, 3, 3].map(Value::from);
        assert!(seen.iter().map(|s| s.0.clone()).eq(expected));
        assert!(seen.iter().map(|s| s.1).eq([true, false, true, false, true, false]));
        let many = vec![Vary::parse("a=0..99999:1").unwrap(); 3];
        assert!(combinations(&many).is_err());
    }
}
