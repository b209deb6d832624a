//! The uncertain fields of one scenario, and cars made of drawn values.

use crate::files::allowed::plain;
use crate::files::bounds::UNCERTAIN;
use crate::files::error::Error;
use crate::files::overrides::Override;
use crate::files::short_path;
use crate::files::tree::value_at;
use crate::inputs::conditions::calm_kmh;
use crate::inputs::fields::counts;
use crate::inputs::learnt::{Beside, LearntField, LearntInput, Measure, Scatter};
use crate::inputs::learnt_input::stands_beside;
use crate::inputs::taken_in::Measured;
use crate::loaded::Loaded;
use crate::prepared::Prepared;
use crate::runs::failure::Failure;
use crate::studies::spread::{Distribution, Spread};
use crate::studies::typical_spreads::typical_spreads;
use nalgebra::{Cholesky, DMatrix, DVector};
use serde_json::Value;
use sim_core::units;

/// Halvings on the way from a value that is refused to one that is not.
const HALVINGS: usize = 24;

/// What the input is called that differs from drive to drive.
const DRIVES: &str = "from drive to drive";

/// The least that a drive takes of what is predicted for it, so that no draw makes energy.
const LEAST_OF_PREDICTED: f64 = 0.2;

/// A field with what stands in it.
#[derive(Debug, Clone)]
struct Target {
    path: String,
    now: Option<f64>,
    /// What percents are of, where that is another value.
    of: Option<f64>,
}

impl Target {
    fn new(path: String, now: Option<f64>) -> Self {
        Self { path, now, of: None }
    }
}

/// Inputs that are drawn together, each after the other.
#[derive(Debug)]
struct Joint {
    first: usize,
    /// What standard normals are multiplied with: the root of their covariance.
    root: DMatrix<f64>,
}

impl Joint {
    /// Takes along what hangs together with an input that was drawn back by so much: what is left of
    /// the others is their mean beside it (conditional normal).
    fn follow(&self, input: usize, back: f64, drawn: &mut [f64]) {
        let Some(row) = input.checked_sub(self.first).filter(|row| *row < self.root.nrows()) else {
            return;
        };
        let own = self.root.row(row);
        let variance = own.norm_squared();
        for (other, value) in drawn[self.first..][..self.root.nrows()].iter_mut().enumerate() {
            if other != row && variance > 0.0 {
                *value += back * self.root.row(other).dot(&own) / variance;
            }
        }
    }
}

/// An uncertain field, or several that move together.
#[derive(Debug, Clone)]
pub struct UncertainInput {
    /// Its spread.
    pub spread: Spread,
    /// Whether the user named it.
    pub own: bool,
    /// Whether it was measured on the car or came measured with a part.
    pub measured: bool,
    /// Of one that was measured, the standard deviation that was typical before, if its file says so.
    typical_sd: Option<f64>,
    distribution: Distribution,
    targets: Vec<Target>,
    /// What stands beside them.
    beside: Vec<Beside>,
    whole: bool,
}

/// The uncertain fields of a scenario.
#[derive(Debug)]
pub struct Uncertain<'a> {
    loaded: &'a Loaded,
    /// The inputs.
    pub inputs: Vec<UncertainInput>,
    joint: Vec<Joint>,
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
    /// What its drives take of what is predicted for them.
    pub of_predicted: f64,
}

impl UncertainInput {
    /// What differs from drive to drive and is no property of the car.
    fn from_drive_to_drive(scatter: Scatter, of: &Measured) -> Self {
        let (mean, width) = (scatter.energy_mean_pct, scatter.energy_sd_pct);
        let spread = Spread {
            path: DRIVES.to_owned(),
            name: DRIVES.to_owned(),
            distribution: Some(Distribution::Student { mean, width }),
            measure: Measure::Percent,
            text: format!("student:{}%,{}%", rounded(mean), rounded(width)),
            reason: format!("of their energy; measured, {}, {}", of.date, of.file),
        };
        let distribution = Distribution::Student { mean, width };
        Self {
            spread,
            own: false,
            measured: true,
            typical_sd: None,
            distribution,
            targets: Vec::new(),
            beside: Vec::new(),
            whole: false,
        }
    }

    /// One that was measured, of a file.
    fn of_measured(input: &LearntInput, of: &Measured, prepared: &Prepared) -> Self {
        let target = |field: &LearntField| Target {
            path: short_path::short(&field.path).to_owned(),
            now: Some(field.value),
            of: field.was,
        };
        let sign = if input.measure == Measure::Percent { "%" } else { "" };
        let distribution = Distribution::Normal { mean: 0.0, sd: input.sd };
        let spread = Spread {
            path: alike(&input.fields),
            name: input.name.clone(),
            distribution: Some(distribution),
            // A value that was measured is drawn around itself.
            measure: match input.measure {
                Measure::Percent => Measure::Percent,
                Measure::Offset | Measure::Value => Measure::Offset,
            },
            text: format!("±{}{sign}", cycles::short(&rounded(2.0 * input.sd))),
            reason: format!("measured, {}, {}", of.date, of.file),
        };
        let targets: Vec<Target> = input.fields.iter().map(target).collect();
        let beside = beside(&targets, prepared);
        let typical_sd = input.typical_sd;
        let (own, measured, whole) = (false, true, false);
        Self { spread, own, measured, typical_sd, distribution, targets, beside, whole }
    }

    /// Paths of its fields.
    pub fn paths(&self) -> impl Iterator<Item = &str> {
        self.targets.iter().map(|target| target.path.as_str())
    }

    /// How many fields move together.
    pub fn fields(&self) -> usize {
        self.targets.len()
    }

    /// The number that leaves things as they are, or the middle of the spread.
    fn middle(&self) -> f64 {
        match (self.spread.measure, self.targets.first().and_then(|target| target.now)) {
            (Measure::Offset | Measure::Percent, _) => 0.0,
            (Measure::Value, Some(now)) => now,
            (Measure::Value, None) => self.distribution.quantile(0.5),
        }
    }

    /// Its standard deviation, in what it measures.
    pub fn sd(&self) -> f64 {
        self.distribution.sd()
    }

    /// The standard deviation that is typical, before anything was learnt, in what it measures.
    fn typical_sd(&self) -> Option<f64> {
        if self.measured { self.typical_sd } else { Some(self.sd()) }
    }

    /// What a file says of it that was learnt: how far it moved, and the standard deviation that is
    /// left, both in what it measures.
    pub fn learnt(&self, shift: f64, sd: f64) -> LearntInput {
        let field = |target: &Target| LearntField {
            path: short_path::whole(&target.path),
            was: target.now,
            value: self.moved(target, shift),
        };
        // Percents of what was measured before become percents of what stands there.
        let share = match self.targets.first() {
            Some(Target { of: Some(of), now: Some(now), .. }) if *now != 0.0 => of / now,
            _ => 1.0,
        };
        LearntInput {
            name: self.spread.name.clone(),
            measure: self.spread.measure,
            shift: shift * share,
            sd: sd * share,
            typical_sd: self.typical_sd().map(|sd| sd * share),
            fields: self.targets.iter().map(field).collect(),
            beside: self.beside.clone(),
        }
    }

    /// The value of a field for what was drawn.
    fn moved(&self, target: &Target, drawn: f64) -> f64 {
        let now = target.now.unwrap_or_default();
        match self.spread.measure {
            Measure::Value => drawn,
            Measure::Offset => now + drawn,
            Measure::Percent => now + target.of.unwrap_or(now) * (0.01 * drawn),
        }
    }

    pub(crate) fn overrides(&self, drawn: f64) -> Result<Vec<Override>, Error> {
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

/// The paths of fields, with `*` for items of lists where it is the same for all of them.
fn alike(fields: &[LearntField]) -> String {
    let step = |step: &'_ str| if step.parse::<usize>().is_ok() { "*" } else { step }.to_owned();
    let any = |field: &LearntField| {
        let steps: Vec<String> = short_path::short(&field.path).split('.').map(step).collect();
        steps.join(".")
    };
    let mut found: Vec<String> = fields.iter().map(any).collect();
    found.dedup();
    match fields {
        [only] => short_path::short(&only.path).to_owned(),
        _ => found.join(","),
    }
}

/// A number of three digits.
fn rounded(value: f64) -> String {
    let digits = if value == 0.0 { 0.0 } else { 2.0 - value.abs().log10().floor() };
    let scale = 10_f64.powf(digits.clamp(-12.0, 12.0));
    plain((value * scale).round() / scale)
}

/// What standard normals are multiplied with, so that they have the deviations and the correlations
/// of what was measured: the Cholesky root of their covariance. What is a sum of others has no part
/// of its own.
fn root(measured: &Measured) -> DMatrix<f64> {
    let deviations = measured.inputs.iter().map(|input| input.sd);
    let deviations = DVector::from_iterator(measured.inputs.len(), deviations);
    let root = Cholesky::new_with_substitute(measured.correlations.clone(), 1e-12);
    let root = root.map_or_else(|| measured.correlations.clone(), |root| root.unpack());
    DMatrix::from_diagonal(&deviations) * root
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

/// What stands beside fields.
fn beside(targets: &[Target], prepared: &Prepared) -> Vec<Beside> {
    let paths = targets.iter().map(|target| short_path::whole(&target.path));
    let mut found: Vec<Beside> = Vec::new();
    for path in paths.flat_map(|path| stands_beside(&path)) {
        if found.iter().all(|known| known.path != path) {
            found.push(Beside { path: path.to_owned(), was: stands(prepared, path) });
        }
    }
    found
}

/// The list of a pack's boxes, as paths begin.
const BOXES: &str = "pack.boxes.";

/// The path in a box of a pack, for any of its boxes.
pub(crate) fn of_any_box(path: &str) -> String {
    let own = path.strip_prefix(BOXES).and_then(|rest| rest.split_once('.'));
    own.map_or_else(|| path.to_owned(), |(_, field)| format!("{BOXES}*.{field}"))
}

/// Whether a field of the pack counts for none of its boxes, as each of them states its own.
fn reaches_no_box(prepared: &Prepared, path: &str) -> bool {
    let Some(field) = path.strip_prefix("pack.").filter(|_| !path.starts_with(BOXES)) else {
        return false;
    };
    let own = if field.starts_with("cell.") { "cell" } else { field };
    let stated = expand(&prepared.echo, &format!("{BOXES}*.{own}"));
    !stated.is_empty() && stated.iter().all(|(_, value)| value.is_some())
}

/// A spread, or for one of every box of a pack one for each box, called by the box.
fn box_by_box(spread: Spread, prepared: &Prepared) -> Vec<Spread> {
    let Some(field) = spread.path.strip_prefix("pack.boxes.*.") else { return vec![spread] };
    let names = prepared.scenario.build.pack.box_names().into_iter().enumerate();
    let one = |(i, name): (usize, String)| Spread {
        path: format!("{BOXES}{}.{field}", i + 1),
        name: format!("{} of {name}", spread.name),
        ..spread.clone()
    };
    names.map(one).collect()
}

/// What stands in a field, or was assumed for it.
pub(crate) fn stands(prepared: &Prepared, path: &str) -> Option<f64> {
    let found = value_at(&prepared.echo, &short_path::whole(path)).and_then(Value::as_f64);
    found.or_else(|| assumed(prepared, path))
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
        let mut found = Self::certain(loaded);
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
        let measured = if typical { prepared.measured() } else { Vec::new() };
        let is_free =
            |field: &LearntField| !named.iter().any(|path| path == short_path::short(&field.path));
        let measured: Vec<Measured> = measured.iter().filter_map(|one| one.only(is_free)).collect();
        let fields = measured.iter().flat_map(Measured::fields);
        named.extend(fields.map(|field| short_path::short(&field.path).to_owned()));
        if typical {
            let all = typical_spreads().into_iter();
            for spread in all.flat_map(|spread| box_by_box(spread, &prepared)) {
                if let Some(input) = found.typical(spread, &prepared, &named) {
                    found.inputs.push(input);
                }
            }
        }
        found.inputs.extend(owned);
        let scatter = measured.iter().rev().find_map(|one| Some((one.scatter?, one)));
        for one in &measured {
            found.joint.push(Joint { first: found.inputs.len(), root: root(one) });
            found.inputs.extend(
                one.inputs.iter().map(|input| UncertainInput::of_measured(input, one, &prepared)),
            );
        }
        // Of several files the last says what differs from drive to drive.
        found.inputs.extend(
            scatter.map(|(scatter, one)| UncertainInput::from_drive_to_drive(scatter, one)),
        );
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

    /// A scenario of which nothing is uncertain.
    pub fn certain(loaded: &'a Loaded) -> Self {
        Self { loaded, inputs: Vec::new(), joint: Vec::new() }
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
        if spread.distribution.is_some()
            && let Some((path, _)) = found.iter().find(|(path, _)| reaches_no_box(prepared, path))
        {
            let field = path.strip_prefix("pack.").unwrap_or(path);
            return Err(invalid(&format!(
                "each box of the pack states its own; needed: {BOXES}1.{field}, or {BOXES}*.{field} for \
                 all together"
            )));
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
                        _ if spread.path.contains('*') => invalid(&format!(
                            "{path} has no value to spread around; needed: those alone that have one, \
                             or normal:mean,sd"
                        )),
                        _ => invalid("it has no value to spread around; needed: normal:mean,sd"),
                    });
                }
                (Some(0.0), Measure::Percent, _) => {
                    return Err(invalid("it is 0, and a share of 0 is 0; needed: ±VALUE"));
                }
                _ => {}
            }
            targets.push(Target::new(path, now));
        }
        let distribution =
            spread.distribution.unwrap_or(Distribution::Uniform { low: 0.0, high: 0.0 });
        let whole = targets.iter().any(|target| counts(&target.path));
        let input = UncertainInput {
            spread: spread.clone(),
            own: true,
            measured: false,
            typical_sd: None,
            beside: beside(&targets, prepared),
            distribution,
            targets,
            whole,
        };
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
                .filter(|(path, _)| !named.contains(path) && !reaches_no_box(prepared, path))
                .filter_map(|(path, value)| {
                    // Where a wind blows from a direction, there is no calm to spread around.
                    let blows =
                        path.starts_with("conditions.") && prepared.outdoors.has_direction();
                    let now = match value {
                        Some(value) => value.as_f64()?,
                        None => assumed(prepared, &path).or(calm_kmh(&path).filter(|_| !blows))?,
                    };
                    (now != 0.0 || spread.measure != Measure::Percent)
                        .then(|| Target::new(path, Some(now)))
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
        Some(UncertainInput {
            spread,
            own: false,
            measured: false,
            typical_sd: None,
            beside: beside(&targets, prepared),
            distribution,
            targets,
            whole: false,
        })
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
        for Joint { first, root } in &self.joint {
            let shares = &shares[*first..first + root.nrows()];
            let normal = Distribution::Normal { mean: 0.0, sd: 1.0 };
            let independent = DVector::from_iterator(
                shares.len(),
                shares.iter().map(|share| normal.quantile(*share)),
            );
            let together = root * independent;
            drawn[*first..first + root.nrows()].copy_from_slice(together.as_slice());
        }
        let mut clipped = vec![false; self.inputs.len()];
        let mut prepared = self.all(&drawn);
        // What goes along with others may have to be drawn back itself.
        for follows in [true, false] {
            if prepared.is_ok() {
                break;
            }
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
                let back = allowed - drawn[i];
                drawn[i] = allowed;
                clipped[i] = true;
                for joint in self.joint.iter().filter(|_| follows) {
                    joint.follow(i, back, &mut drawn);
                }
            }
            if clipped.contains(&true) {
                prepared = self.all(&drawn);
            }
        }
        let is_drives = |input: &UncertainInput| input.spread.path == DRIVES;
        let more_pct = self.inputs.iter().position(is_drives).map_or(0.0, |at| drawn[at]);
        let of_predicted = (1.0 + units::share_from_pct(more_pct)).max(LEAST_OF_PREDICTED);
        let prepared = prepared.map(|mut car| {
            car.prices.of_predicted = Some(of_predicted);
            Box::new(car)
        });
        Drawn { prepared, drawn, clipped, of_predicted }
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
