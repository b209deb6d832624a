//! The uncertain fields of one scenario, and cars made of drawn values.

use crate::files::bounds::UNCERTAIN;
use crate::files::error::Error;
use crate::files::overrides::Override;
use crate::files::short_path;
use crate::inputs::learnt::{LearntField, LearntInput, Measure};
use crate::inputs::schema::counts;
use crate::loaded::Loaded;
use crate::prepared::Prepared;
use crate::runs::failure::Failure;
use crate::studies::spread::{Distribution, Spread};
use crate::studies::typical_spreads::typical_spreads;
use serde_json::Value;

/// Halvings on the way from a value that is refused to one that is not.
const HALVINGS: usize = 24;

/// A field with what stands in it.
#[derive(Debug, Clone)]
struct Target {
    path: String,
    now: Option<f64>,
}

/// An uncertain field, or several that move together.
#[derive(Debug, Clone)]
pub struct UncertainInput {
    /// Its spread.
    pub spread: Spread,
    /// Whether the user named it.
    pub own: bool,
    distribution: Distribution,
    targets: Vec<Target>,
    whole: bool,
}

/// The uncertain fields of a scenario.
#[derive(Debug)]
pub struct Uncertain<'a> {
    loaded: &'a Loaded,
    /// The inputs.
    pub inputs: Vec<UncertainInput>,
}

/// A car of drawn values.
#[derive(Debug)]
pub struct Drawn {
    /// The car, or why there is none.
    pub prepared: Result<Box<Prepared>, Error>,
    /// What was drawn for each input: the value, or the change.
    pub drawn: Vec<f64>,
    /// Whether it had to be drawn back to what is allowed.
    pub clipped: Vec<bool>,
}

impl UncertainInput {
    /// How many fields move together.
    pub fn fields(&self) -> usize {
        self.targets.len()
    }

    /// The number that leaves things as they are, or the middle of the spread.
    fn middle(&self) -> f64 {
        match (self.spread.measure, self.targets[0].now) {
            (Measure::Offset | Measure::Percent, _) => 0.0,
            (Measure::Value, Some(now)) => now,
            (Measure::Value, None) => self.distribution.quantile(0.5),
        }
    }

    /// Its standard deviation, in what it measures.
    pub fn sd(&self) -> f64 {
        self.distribution.sd()
    }

    /// What a file says of it that was learnt: how far it moved, and the standard deviation that is
    /// left, both in what it measures.
    pub fn learnt(&self, shift: f64, sd: f64) -> LearntInput {
        let field = |target: &Target| LearntField {
            path: short_path::whole(&target.path),
            was: target.now,
            value: self.moved(target, shift),
        };
        LearntInput {
            name: self.spread.name.clone(),
            measure: self.spread.measure,
            shift,
            sd,
            typical_sd: Some(self.sd()),
            fields: self.targets.iter().map(field).collect(),
        }
    }

    /// The value of a field for what was drawn.
    fn moved(&self, target: &Target, drawn: f64) -> f64 {
        let now = target.now.unwrap_or_default();
        match self.spread.measure {
            Measure::Value => drawn,
            Measure::Offset => now + drawn,
            Measure::Percent => now + now * (0.01 * drawn),
        }
    }

    fn overrides(&self, drawn: f64) -> Result<Vec<Override>, Error> {
        // A number of the label stands in place of its letter.
        let letter = self
            .targets
            .iter()
            .filter(|target| target.path == "tyre.label_n_per_kn")
            .map(|_| Override::new("tyre.label_class", Value::Null));
        self.targets
            .iter()
            .map(|target| {
                let value = self.moved(target, drawn);
                if self.whole {
                    Override::new(&target.path, Value::from(value.round() as i64))
                } else {
                    Override::number(&target.path, value)
                }
            })
            .chain(letter)
            .collect()
    }
}

/// The values of paths in a tree, parted by commas; every `*` is replaced by each item of a list.
fn expand(tree: &Value, paths: &str) -> Vec<(String, Option<Value>)> {
    paths.split(',').flat_map(|path| expand_one(tree, path.trim())).collect()
}

fn expand_one(tree: &Value, path: &str) -> Vec<(String, Option<Value>)> {
    let mut found = vec![(String::new(), Some(tree))];
    for step in short_path::whole(path).split('.') {
        found = found
            .into_iter()
            .flat_map(|(above, value)| {
                let join = |step: &str| {
                    if above.is_empty() { step.to_owned() } else { format!("{above}.{step}") }
                };
                match (step, value) {
                    ("*", Some(Value::Array(list))) => list
                        .iter()
                        .enumerate()
                        .map(|(i, v)| (join(&(i + 1).to_string()), Some(v)))
                        .collect(),
                    ("*", _) => Vec::new(),
                    (_, Some(Value::Array(list))) => {
                        let item =
                            step.parse::<usize>().ok().and_then(|n| list.get(n.checked_sub(1)?));
                        vec![(join(step), item)]
                    }
                    (_, value) => vec![(join(step), value.and_then(|v| v.get(step)))],
                }
            })
            .collect();
    }
    let there = |value: Option<&Value>| value.filter(|v| !v.is_null()).cloned();
    found
        .into_iter()
        .map(|(whole, value)| (short_path::short(&whole).to_owned(), there(value)))
        .collect()
}

/// The number that was assumed for a path.
fn assumed(prepared: &Prepared, path: &str) -> Option<f64> {
    let whole = short_path::whole(path);
    prepared.assumptions.iter().find(|a| a.path == whole)?.number
}

impl<'a> Uncertain<'a> {
    /// The typical spreads of the fields that a scenario has or that were assumed for it, where
    /// they are wanted, with the user's own in their place or beside them.
    ///
    /// # Errors
    /// [`Failure::Form`] where an own spread names a field that is not known, holds no number, or
    /// cannot be widened; [`Failure::NothingUncertain`] where there is nothing to draw.
    pub fn new(loaded: &'a Loaded, own: &[Spread], typical: bool) -> Result<Self, Failure> {
        let prepared = loaded.prepare().map_err(|e| Failure::Invalid(e.to_string()))?;
        let mut found = Self { loaded, inputs: Vec::new() };
        let mut named: Vec<String> = Vec::new();
        let mut owned = Vec::new();
        for spread in own {
            let input = found.own(spread, &prepared)?;
            for target in &input.targets {
                if named.contains(&target.path) {
                    let (text, why) = (target.path.clone(), "it is given twice".to_owned());
                    return Err(Failure::Form { text, why });
                }
                named.push(target.path.clone());
            }
            if spread.distribution.is_some() {
                owned.push(input);
            }
        }
        if typical {
            for spread in typical_spreads() {
                if let Some(input) = found.typical(spread, &prepared, &named) {
                    found.inputs.push(input);
                }
            }
        }
        found.inputs.extend(owned);
        if found.inputs.len() as u64 > UNCERTAIN {
            let n = found.inputs.len();
            let text = format!("{n} inputs are uncertain; allowed: at most {UNCERTAIN}");
            return Err(Failure::Invalid(text));
        }
        if found.inputs.is_empty() {
            return Err(Failure::NothingUncertain);
        }
        Ok(found)
    }

    fn try_one(&self, input: &UncertainInput, drawn: f64) -> Result<Prepared, Error> {
        self.loaded.with(&input.overrides(drawn)?)
    }

    fn own(&self, spread: &Spread, prepared: &Prepared) -> Result<UncertainInput, Failure> {
        let path = &spread.path;
        let invalid = |why: &str| Failure::Form { text: path.clone(), why: why.to_owned() };
        let found = expand(&prepared.echo, path);
        if found.is_empty() {
            return Err(invalid("there is no such list, or nothing is in it"));
        }
        let mut targets = Vec::new();
        for (path, value) in found {
            let now = match &value {
                Some(value) => Some(value.as_f64().ok_or_else(|| invalid("it holds no number"))?),
                None => assumed(prepared, &path),
            };
            match (now, spread.measure, spread.distribution) {
                (None, Measure::Offset | Measure::Percent, _) => {
                    // An unknown path is told apart from one that has no value.
                    let probe =
                        Override::number(&path, 1.0).map_err(|e| invalid(&e.to_string()))?;
                    return Err(match self.loaded.with(&[probe]) {
                        Err(e) if e.is_of_path() => invalid(&bare(&e)),
                        _ => invalid("it has no value to spread around; needed: normal:mean,sd"),
                    });
                }
                (Some(0.0), Measure::Percent, _) => {
                    return Err(invalid("it is 0, and a share of 0 is 0; needed: ±VALUE"));
                }
                _ => {}
            }
            targets.push(Target { path, now });
        }
        let distribution =
            spread.distribution.unwrap_or(Distribution::Uniform { low: 0.0, high: 0.0 });
        let whole = targets.iter().any(|target| counts(&target.path));
        let input =
            UncertainInput { spread: spread.clone(), own: true, distribution, targets, whole };
        if spread.distribution.is_some() {
            self.try_one(&input, input.middle()).map_err(|e| invalid(&bare(&e)))?;
        }
        Ok(input)
    }

    fn typical(
        &self,
        spread: Spread,
        prepared: &Prepared,
        named: &[String],
    ) -> Option<UncertainInput> {
        let distribution = spread.distribution?;
        // The efficiency of the whole box counts only for gears without their own.
        if spread.path == "gearbox.efficiency_pct"
            && expand(&prepared.echo, "gearbox.gears.*.efficiency_pct")
                .iter()
                .any(|f| f.1.is_some())
        {
            return None;
        }
        let targets_of = |paths: &str| -> Vec<Target> {
            expand(&prepared.echo, paths)
                .into_iter()
                .filter(|(path, _)| !named.contains(path))
                .filter_map(|(path, value)| {
                    let calm = path.ends_with(".head_wind_kmh").then_some(0.0);
                    let now = match value {
                        Some(value) => value.as_f64()?,
                        None => assumed(prepared, &path).or(calm)?,
                    };
                    (now != 0.0 || spread.measure != Measure::Percent)
                        .then_some(Target { path, now: Some(now) })
                })
                .collect()
        };
        // Of the paths that move together, those that this scenario has.
        let (mut paths, mut targets) = (Vec::new(), Vec::new());
        for path in spread.path.split(',') {
            let found = targets_of(path);
            if !found.is_empty() {
                paths.push(path);
                targets.extend(found);
            }
        }
        if targets.is_empty() {
            return None;
        }
        let spread = Spread { path: paths.join(","), ..spread };
        Some(UncertainInput { spread, own: false, distribution, targets, whole: false })
    }

    /// The car as it is.
    ///
    /// # Errors
    /// As [`Loaded::prepare`].
    pub fn nominal(&self) -> Result<Prepared, Error> {
        self.loaded.prepare()
    }

    /// The car with one input at a share of its distribution and all others as they are.
    ///
    /// # Errors
    /// As [`Loaded::with`].
    pub fn alone(&self, input: &UncertainInput, share: f64) -> Result<Prepared, Error> {
        self.try_one(input, input.distribution.quantile(share))
    }

    /// A car of drawn values; `shares` has a number from 0 to 1 for every input.
    ///
    /// A value that the validation refuses when it stands alone is drawn back towards what stands
    /// in the file until it is allowed.
    pub fn draw(&self, shares: &[f64]) -> Drawn {
        let mut drawn: Vec<f64> = self
            .inputs
            .iter()
            .zip(shares)
            .map(|(input, p)| input.distribution.quantile(*p))
            .collect();
        let mut clipped = vec![false; self.inputs.len()];
        let mut prepared = self.all(&drawn);
        if prepared.is_err() {
            for (i, input) in self.inputs.iter().enumerate() {
                if self.try_one(input, drawn[i]).is_ok() {
                    continue;
                }
                let (mut allowed, mut refused) = (input.middle(), drawn[i]);
                for _ in 0..HALVINGS {
                    let half = 0.5 * (allowed + refused);
                    match self.try_one(input, half) {
                        Ok(_) => allowed = half,
                        Err(_) => refused = half,
                    }
                }
                drawn[i] = allowed;
                clipped[i] = true;
            }
            if clipped.contains(&true) {
                prepared = self.all(&drawn);
            }
        }
        Drawn { prepared: prepared.map(Box::new), drawn, clipped }
    }

    fn all(&self, drawn: &[f64]) -> Result<Prepared, Error> {
        let mut overrides = Vec::new();
        for (input, drawn) in self.inputs.iter().zip(drawn) {
            overrides.extend(input.overrides(*drawn)?);
        }
        self.loaded.with(&overrides)
    }
}

/// The sentence without the path that stands before it already.
fn bare(error: &Error) -> String {
    match error {
        Error::Path { problem, .. } => problem.clone(),
        other => other.to_string(),
    }
}
