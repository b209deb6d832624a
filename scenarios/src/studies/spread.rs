//! How uncertain a field is.

use crate::inputs::learnt::Measure;
use crate::runs::failure::Failure;
use statrs::distribution::{ContinuousCDF, Normal};

/// How likely which value is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Distribution {
    /// Bell curve.
    Normal {
        /// Mean.
        mean: f64,
        /// Standard deviation.
        sd: f64,
    },
    /// Student's distribution with four degrees of freedom: a bell with wider skirts.
    Student {
        /// Middle.
        mean: f64,
        /// Width.
        width: f64,
    },
    /// Everything between two ends is equally likely.
    Uniform {
        /// Lower end.
        low: f64,
        /// Upper end.
        high: f64,
    },
    /// Rises from one end to the mode and falls to the other end.
    Triangular {
        /// Lower end.
        low: f64,
        /// Most likely value.
        mode: f64,
        /// Upper end.
        high: f64,
    },
}

impl Distribution {
    /// Its standard deviation.
    pub fn sd(self) -> f64 {
        match self {
            Distribution::Normal { sd, .. } => sd,
            Distribution::Student { width, .. } => width * 2_f64.sqrt(),
            Distribution::Uniform { low, high } => (high - low) / 12_f64.sqrt(),
            Distribution::Triangular { low: a, mode: b, high: c } => {
                ((a * a + b * b + c * c - a * b - a * c - b * c) / 18.0).max(0.0).sqrt()
            }
        }
    }

    /// The value that is not exceeded with probability `p`, from 0 to 1.
    pub fn quantile(self, p: f64) -> f64 {
        match self {
            // Beyond the reach of samples a normal value would be infinite.
            Distribution::Normal { mean, sd } => {
                mean + sd * Normal::standard().inverse_cdf(p.clamp(1e-12, 1.0 - 1e-12))
            }
            // The closed form for four degrees of freedom (Shaw, 2006, from memory).
            Distribution::Student { mean, width } => {
                let p = p.clamp(1e-12, 1.0 - 1e-12);
                let root = (4.0 * p * (1.0 - p)).sqrt();
                let far = (root.acos() / 3.0).cos() / root;
                mean + width * (p - 0.5).signum() * 2.0 * (far - 1.0).max(0.0).sqrt()
            }
            Distribution::Uniform { low, high } => low + p * (high - low),
            Distribution::Triangular { low, mode, high } => {
                let span = high - low;
                if p * span <= mode - low {
                    low + (p * span * (mode - low)).sqrt()
                } else {
                    high - ((1.0 - p) * span * (high - mode)).sqrt()
                }
            }
        }
    }
}

/// A field, or several alike that move together, with its uncertainty.
#[derive(Debug, Clone, PartialEq)]
pub struct Spread {
    /// Path of the field; `*` stands for every item of a list, and a comma parts several fields
    /// that move together.
    pub path: String,
    /// What to call it.
    pub name: String,
    /// How likely which value is; nothing takes a typical spread away.
    pub distribution: Option<Distribution>,
    /// What a drawn number does.
    pub measure: Measure,
    /// The spread as it was written.
    pub text: String,
    /// Why it is as it is.
    pub reason: String,
}

impl Spread {
    /// Reads the uncertainty of a path.
    ///
    /// Values: `normal:mean,sd`, `uniform:low,high` or `triangular:low,mode,high`. Around what
    /// stands in the field: `±10%` or, in the unit of the field, `±3`, with `+-` for `±`, and with
    /// `normal:` (two standard deviations, which is meant where nothing is said), `uniform:` or
    /// `triangular:` (the ends) before it. `none` takes a typical spread away.
    ///
    /// # Errors
    /// [`Failure::Invalid`] where the text has none of these forms.
    pub fn new(path: &str, text: &str, reason: &str) -> Result<Self, Failure> {
        let (path, text) = (path.trim(), text.trim());
        let invalid =
            |why: &str| Failure::Form { text: format!("{path}={text}"), why: why.to_owned() };
        let spread = |distribution, measure| Self {
            path: path.to_owned(),
            name: path.to_owned(),
            distribution,
            measure,
            text: text.to_owned(),
            reason: reason.to_owned(),
        };
        if path.is_empty() {
            return Err(invalid("it names no field"));
        }
        if text == "none" {
            return Ok(spread(None, Measure::Value));
        }
        let (kind, rest) = text.split_once(':').unwrap_or(("normal", text));
        let number = |part: &str| {
            let value = part.trim().parse::<f64>().ok().filter(|v| v.abs() < 1e12);
            value.ok_or_else(|| invalid(&format!("\"{}\" is not a number", part.trim())))
        };
        let around = rest.trim().strip_prefix('±').or_else(|| rest.trim().strip_prefix("+-"));
        if let Some(around) = around {
            let (around, measure) = match around.strip_suffix('%') {
                Some(share) => (share, Measure::Percent),
                None => (around, Measure::Offset),
            };
            let half = number(around)?;
            if half < 0.0 {
                return Err(invalid("what follows ± must not be negative"));
            }
            let distribution = match kind {
                "normal" => Distribution::Normal { mean: 0.0, sd: 0.5 * half },
                "uniform" => Distribution::Uniform { low: -half, high: half },
                "triangular" => Distribution::Triangular { low: -half, mode: 0.0, high: half },
                _ => return Err(invalid("allowed: normal, uniform, triangular")),
            };
            return Ok(spread(Some(distribution), measure));
        }
        if !text.contains(':') {
            return Err(invalid(
                "the forms are ±10%, ±3, normal:mean,sd, uniform:low,high, \
                 triangular:low,mode,high and none",
            ));
        }
        let values = rest.split(',').map(number).collect::<Result<Vec<f64>, Failure>>()?;
        let distribution = match (kind, values.as_slice()) {
            ("normal", [mean, sd]) if *sd >= 0.0 => Distribution::Normal { mean: *mean, sd: *sd },
            ("normal", [_, _]) => return Err(invalid("the deviation must not be negative")),
            ("uniform", [low, high]) if low <= high => {
                Distribution::Uniform { low: *low, high: *high }
            }
            ("triangular", [low, mode, high]) if low <= mode && mode <= high => {
                Distribution::Triangular { low: *low, mode: *mode, high: *high }
            }
            ("uniform", [_, _]) | ("triangular", [_, _, _]) => {
                return Err(invalid("the values must rise"));
            }
            ("normal", _) => return Err(invalid("normal takes a mean and a deviation")),
            ("uniform", _) => return Err(invalid("uniform takes two ends")),
            ("triangular", _) => return Err(invalid("triangular takes an end, a mode and an end")),
            _ => return Err(invalid("allowed: normal, uniform, triangular")),
        };
        Ok(spread(Some(distribution), Measure::Value))
    }

    /// Reads `path=spread`.
    ///
    /// # Errors
    /// As [`Self::new`], and where there is no `=`.
    pub fn parse(text: &str) -> Result<Self, Failure> {
        let (path, spread) = text.split_once('=').ok_or_else(|| {
            let why = "the form is path=spread, such as path=±10%".to_owned();
            Failure::Form { text: text.to_owned(), why }
        })?;
        Self::new(path, spread, "own")
    }

    /// Reads a JSON text: an object with a spread for every path, or an object that holds the
    /// `spread` and its `reason`.
    ///
    /// # Errors
    /// [`Failure::Invalid`] with the name of the file.
    pub fn from_json(text: &str, file: &str) -> Result<Vec<Self>, Failure> {
        let invalid = |why: String| Failure::Invalid(format!("{file}: {why}"));
        let tree =
            crate::files::tree::parse(text, file).map_err(|e| Failure::Invalid(e.to_string()))?;
        let Some(map) = tree.as_object() else {
            return Err(invalid("needed: an object with a spread for every path".to_owned()));
        };
        map.iter()
            .filter(|(path, _)| !matches!(path.as_str(), "$schema" | "note"))
            .map(|(path, value)| {
                let form = || {
                    invalid(format!(
                        "{path}: needed: a spread in quotes, or {{\"spread\": …, \"reason\": …}}"
                    ))
                };
                let (spread, reason) = match value.as_object() {
                    None => (value.as_str().ok_or_else(form)?, "own"),
                    Some(inner) => {
                        if inner.keys().any(|key| key != "spread" && key != "reason") {
                            return Err(form());
                        }
                        let reason = match inner.get("reason") {
                            Some(reason) => reason.as_str().ok_or_else(form)?,
                            None => "own",
                        };
                        let spread = inner.get("spread").and_then(|s| s.as_str());
                        (spread.ok_or_else(form)?, reason)
                    }
                };
                Self::new(path, spread, reason).map_err(|e| invalid(e.to_string()))
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_every_form_and_refuses_nonsense() {
        let read = |text| Spread::parse(text).unwrap();
        let around = read("a.b=±8%");
        assert_eq!(around.measure, Measure::Percent);
        assert_eq!(around.distribution, Some(Distribution::Normal { mean: 0.0, sd: 4.0 }));
        assert_eq!(read("a=uniform:+-3").measure, Measure::Offset);
        let values = read("a=triangular: 1, 2,4");
        let expected = Distribution::Triangular { low: 1.0, mode: 2.0, high: 4.0 };
        assert_eq!((values.distribution, values.measure), (Some(expected), Measure::Value));
        assert_eq!(read("a=none").distribution, None);
        for bad in [
            "",
            "a",
            "a=",
            "=±5%",
            "a=5",
            "a=±",
            "a=±x%",
            "a=±-5%",
            "a=normal:1",
            "a=bell:1,2",
            "a=uniform:3,1",
            "a=normal:0,-1",
            "a=uniform:nan,1",
            "a=normal:1,2,3",
            "a=bell:±5%",
            "a=triangular:1,0,2",
            "a=±inf",
        ] {
            assert!(Spread::parse(bad).is_err(), "{bad}");
        }
        let file = r#"{"a": "±5%", "b": {"spread": "uniform:1,2", "reason": "measured"}}"#;
        let two = Spread::from_json(file, "x.json").unwrap();
        assert_eq!((two[0].path.as_str(), two[1].reason.as_str()), ("a", "measured"));
        for bad in ["", "[]", r#"{"a": 5}"#, r#"{"a": {"x": 1}}"#, r#"{"a": "±5%", "a": "±6%"}"#]
        {
            assert!(Spread::from_json(bad, "x.json").is_err(), "{bad}");
        }
    }

    #[test]
    fn quantiles_have_the_closed_forms() {
        let even = Distribution::Uniform { low: 2.0, high: 6.0 };
        assert_eq!(even.quantile(0.25), 3.0);
        // A triangle over 0 to 1 with its mode at 0: P(x) = 1 − (1 − x)².
        let falling = Distribution::Triangular { low: 0.0, mode: 0.0, high: 1.0 };
        assert!((falling.quantile(0.75) - 0.5).abs() < 1e-15);
        let level = Distribution::Triangular { low: 1.0, mode: 1.0, high: 1.0 };
        assert_eq!(level.quantile(0.3), 1.0);
        let bell = Distribution::Normal { mean: 10.0, sd: 2.0 };
        // Abramowitz and Stegun, tables 26.1 and 26.5 (from memory).
        for (p, x) in
            [(0.5, 0.0), (0.9, 1.281_551_565_5), (0.975, 1.959_963_984_5), (0.999, 3.090_232_306_2)]
        {
            assert!((bell.quantile(p) - 10.0 - 2.0 * x).abs() < 1e-9, "{p}");
            assert!((bell.quantile(1.0 - p) - 10.0 + 2.0 * x).abs() < 1e-9, "{p}");
        }
        assert!(bell.quantile(0.0).is_finite() && bell.quantile(1.0).is_finite());
        // Student's t with four degrees of freedom, from the tables of any handbook (from memory).
        let wide = Distribution::Student { mean: 10.0, width: 2.0 };
        for (p, t) in [(0.5, 0.0), (0.9, 1.533_206), (0.95, 2.131_847), (0.975, 2.776_445)] {
            assert!((wide.quantile(p) - 10.0 - 2.0 * t).abs() < 2e-6, "{p}");
            assert!((wide.quantile(1.0 - p) - 10.0 + 2.0 * t).abs() < 2e-6, "{p}");
        }
        // Deviations: that of equal chances is the width over √12, that of a triangle with its mode
        // at an end the width over √18 (from memory), and both are met by the quantiles.
        assert!((even.sd() - 4.0 / 12_f64.sqrt()).abs() < 1e-15);
        assert!((falling.sd() - 1.0 / 18_f64.sqrt()).abs() < 1e-15);
        let leaning = Distribution::Triangular { low: -1.0, mode: 2.0, high: 3.0 };
        for any in [even, falling, leaning, bell] {
            let all: Vec<f64> =
                (0..100_000).map(|i| any.quantile((f64::from(i) + 0.5) / 1e5)).collect();
            let mean = all.iter().sum::<f64>() / 1e5;
            let variance = all.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / 1e5;
            assert!((variance.sqrt() / any.sd() - 1.0).abs() < 1e-3, "{any:?}");
        }
    }
}
