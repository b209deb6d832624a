//! What mends a verdict: changes that can be bought or set, each driven before it is named.

use crate::files::kind::FileKind;
use crate::files::overrides::Override;
use crate::files::shelf::shelf;
use crate::loaded::Loaded;
use crate::prepared::Prepared;
use crate::runs::climb::{self, ClimbReport};
use crate::runs::drive::{self, DriveReport};
use crate::runs::failure::Failure;
use crate::runs::limits::NamedLimit;
use crate::verdict::{self, About, Standing, Steepest, Told, Verdict};
use crate::warning::{Severity, Warning, warnings};
use crate::words::number;
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use serde_json::{Value, json};
use sim_core::car::{Request, Slope};
use sim_core::motor::Kind;
use sim_core::pull::{steepest_start, top_speed_of_all};
use sim_core::{State, Trace, units};

/// What mends something, or that nothing of what was tried does.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Advice {
    /// The verdict that it mends.
    pub about: About,
    /// The values to put in, as `--set` takes them; empty where nothing that was tried mends it.
    pub set: Vec<String>,
    /// How it stands with them.
    pub standing: Standing,
    /// What comes of it, as it was driven.
    pub text: String,
}

/// How many changes are named for one verdict.
const MOST: usize = 2;
/// Final drives that are tried, over the one that there is: from the longest to the shortest that
/// are found for the axles of light cars (common practice, no source).
const FINAL_DRIVES: [f64; 6] = [0.8, 0.9, 1.1, 1.2, 1.3, 1.45];
/// What a change may cost of range and of top speed, as a share.
const MAY_COST: f64 = 0.15;
/// A figure that changes by less is not worth a word, as a share.
const WORTH_SAYING: f64 = 0.01;

/// A change, from the cheapest kind to the dearest.
#[derive(Debug, Clone, PartialEq)]
struct Change {
    kind: u8,
    set: Vec<(&'static str, Value)>,
    words: String,
}

impl Change {
    fn overrides(&self) -> Option<Vec<Override>> {
        self.set.iter().map(|(path, value)| Override::new(path, value.clone()).ok()).collect()
    }

    fn with(&self, other: &Self) -> Self {
        Self {
            kind: self.kind + other.kind,
            set: [self.set.clone(), other.set.clone()].concat(),
            words: format!("{} and {}", self.words, other.words),
        }
    }
}

/// A car as far as advice looks at it.
struct Trial {
    car: Prepared,
    warnings: Vec<Warning>,
    start: Steepest,
    climb: Option<ClimbReport>,
    pass: Option<ClimbReport>,
    road: DriveReport,
    top_kmh: f64,
}

/// What is mended, in the order of the verdicts.
const MENDED: [About; 7] =
    [About::Parts, About::Load, About::Start, About::Climb, About::Pass, About::Road, About::Range];

impl Trial {
    fn of(car: Prepared, road: (&str, &Trace)) -> Result<Self, Failure> {
        let setup = car.setup();
        let now = setup.car.now(setup.start, 0.0);
        let steepest = (0..setup.car.gears()).rev().map(|gear| {
            let pull = setup.car.act(&now, 0.0, Slope::LEVEL, gear, Request::FullThrottle);
            let pct = units::pct_from_share(steepest_start(setup.car, setup.start, gear));
            (pct, gear + 1, pull.limit.map(NamedLimit))
        });
        let hill = |hill: Option<_>| hill.map(|hill| climb::choice(&setup, &hill)).transpose();
        let driven = drive::drive(&setup, road.1, &mut ());
        let range = Some(drive::range_of(&setup, road.1));
        let at_rest = State { speed_mps: 0.0, ..*setup.start };
        let trial = Self {
            warnings: warnings(&car.car, &car.start, &car.scenario.build, &Value::Null),
            start: steepest.max_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((0.0, 1, None)),
            climb: hill(car.drives.climb)?,
            pass: hill(car.drives.pass)?,
            road: DriveReport { range, ..drive::report(&setup, road.0, road.1, &driven) },
            top_kmh: units::kmh_from_mps(
                top_speed_of_all(setup.car, &at_rest, Slope::LEVEL).speed_mps,
            ),
            car,
        };
        trial.car.vouched(&trial.road)?;
        Ok(trial)
    }

    fn verdicts(&self, about: About) -> Vec<Verdict> {
        let hill = |hill: &Option<ClimbReport>| {
            hill.iter().map(|hill| verdict::hill_held(about, hill, &self.car)).collect()
        };
        match about {
            About::Parts => verdict::parts(&self.warnings).collect(),
            About::Load => verdict::load(&self.car).into_iter().collect(),
            About::Start => {
                let hills = [self.climb.as_ref(), self.pass.as_ref()];
                vec![verdict::start(&self.car, self.start, hills)]
            }
            About::Climb => hill(&self.climb),
            About::Pass => hill(&self.pass),
            About::Road => vec![verdict::road(&self.road)],
            About::Range => verdict::range(&self.road).into_iter().collect(),
            About::Speed | About::First | About::Values => Vec::new(),
        }
    }

    fn standing(&self, about: About) -> Standing {
        let all = self.verdicts(about);
        all.iter().map(|verdict| verdict.standing).max().unwrap_or(Standing::Holds)
    }

    fn dangers(&self) -> usize {
        self.warnings.iter().filter(|w| w.severity == Severity::Danger).count()
    }

    fn mass_kg(&self) -> f64 {
        self.car.car.parts().chassis.mass_kg
    }

    fn range_km(&self) -> f64 {
        self.road.range.as_ref().map_or(0.0, |range| range.distance_km)
    }
}

/// What mends whatever does not hold, as it was driven; nothing is tried where all holds.
///
/// The changes are those that a workshop can buy or set: current limits, final drives, one string of
/// cells more or less, another cell, controller or motor of the shelf, then two of them together.
/// One is named only where the same runs show that it mends the verdict, makes no other worse, and
/// leaves most of range and top speed.
/// Where none does, that is said of what fails.
pub fn advice(loaded: &Loaded, car: &Prepared, told: &Told<'_>, trace: &Trace) -> Vec<Advice> {
    let mut open: Vec<About> = Vec::new();
    for verdict in verdict::verdicts(car, told) {
        let asks = matches!(verdict.standing, Standing::Near | Standing::Fails);
        if asks && MENDED.contains(&verdict.about) && !open.contains(&verdict.about) {
            open.push(verdict.about);
        }
    }
    if open.is_empty() {
        return Vec::new();
    }
    let road = (told.road.road.as_str(), trace);
    let Ok(own) = Trial::of(car.clone(), road) else { return Vec::new() };
    let drive = |changes: &[Change]| -> Vec<(Change, Trial)> {
        let tried = changes.par_iter().filter_map(|change| {
            let car = loaded.with(&change.overrides()?).ok()?;
            Some((change.clone(), Trial::of(car, road).ok()?))
        });
        tried.collect()
    };
    let singles = singles(car);
    let mut tried = drive(&singles);
    let unmended =
        |tried: &[(Change, Trial)]| open.iter().any(|about| best(*about, &own, tried).is_empty());
    let mut count = singles.len();
    if unmended(&tried) {
        let pairs = pairs(&singles);
        count += pairs.len();
        tried.extend(drive(&pairs));
    }
    open.into_iter()
        .flat_map(|about| {
            let found = best(about, &own, &tried);
            if found.is_empty() && own.standing(about) == Standing::Fails {
                let text = format!(
                    "None of {count} changes that were driven (current limits, final drives, \
                     cells, controllers and motors of the shelf, alone and in pairs) mends {} \
                     without making something else worse or costing much range or top speed.",
                    name(about)
                );
                return vec![Advice { about, set: Vec::new(), standing: Standing::Fails, text }];
            }
            found.into_iter().map(|(change, trial)| told_of(about, change, trial, &own)).collect()
        })
        .collect()
}

/// What a verdict is about, in words.
fn name(about: About) -> &'static str {
    match about {
        About::Parts => "the parts",
        About::Load => "the load",
        About::Start => "pulling away",
        About::Climb => "the climb",
        About::Pass => "the pass",
        About::Road => "the daily road",
        About::Range => "the range",
        About::Speed => "the speed",
        About::First => "what gives up first",
        About::Values => "the values",
    }
}

/// The changes that mend a verdict, the best first, each of another kind.
fn best<'a>(
    about: About,
    own: &Trial,
    tried: &'a [(Change, Trial)],
) -> Vec<(&'a Change, &'a Trial)> {
    let before = own.standing(about);
    // Less weight is less pack.
    let of_masses = matches!(about, About::Parts | About::Load);
    let left = |is: f64, was: f64| is >= (1.0 - MAY_COST) * was;
    let mends = |trial: &Trial| {
        trial.standing(about) < before
            && trial.standing(about) != Standing::NotKnown
            && trial.dangers() <= own.dangers()
            && (own.dangers() == 0 || trial.mass_kg() <= own.mass_kg())
            && (of_masses || left(trial.range_km(), own.range_km()))
            && left(trial.top_kmh, own.top_kmh)
            && MENDED.iter().all(|other| trial.standing(*other) <= own.standing(*other))
    };
    let mut found: Vec<(&Change, &Trial)> =
        tried.iter().filter(|(_, trial)| mends(trial)).map(|(c, t)| (c, t)).collect();
    found.sort_by_key(|(change, trial)| (trial.standing(about), change.kind));
    let mut kept: Vec<(&Change, &Trial)> = Vec::new();
    for (change, trial) in found {
        // Nor one that holds another, to which it adds nothing.
        let known = |known: &Change| {
            known.kind == change.kind || known.set.iter().all(|one| change.set.contains(one))
        };
        if kept.len() < MOST && !kept.iter().any(|(other, _)| known(other)) {
            kept.push((change, trial));
        }
    }
    kept
}

fn told_of(about: About, change: &Change, trial: &Trial, own: &Trial) -> Advice {
    let standing = trial.standing(about);
    let verdicts = trial.verdicts(about);
    let mut text = match verdicts.iter().find(|v| v.standing == standing) {
        Some(verdict) => format!("With {}: {}", change.words, lower_first(&verdict.text)),
        None => format!("With {}: every part bears what it carries or is given.", change.words),
    };
    let figures = [
        ("range", "km", own.range_km(), trial.range_km(), About::Range),
        ("top speed", "km/h", own.top_kmh, trial.top_kmh, About::Speed),
        ("mass with load", "kg", own.mass_kg(), trial.mass_kg(), About::Load),
    ];
    let changed: Vec<String> = figures
        .into_iter()
        .filter(|f| f.4 != about && (f.3 - f.2).abs() > WORTH_SAYING * f.2.abs())
        .map(|(what, unit, was, is, _)| {
            format!("{what} {} {unit} instead of {} {unit}", number(is, 0), number(was, 0))
        })
        .collect();
    if !changed.is_empty() {
        text.push_str(&format!(" Then {}.", changed.join(", ")));
    }
    let set = change.set.iter().map(|(path, value)| match value {
        Value::String(text) => format!("{path}={text}"),
        value => format!("{path}={value}"),
    });
    Advice { about, set: set.collect(), standing, text }
}

fn lower_first(text: &str) -> String {
    let mut letters = text.chars();
    match letters.next() {
        Some(first) => first.to_lowercase().chain(letters).collect(),
        None => String::new(),
    }
}

/// Changes of one thing.
fn singles(car: &Prepared) -> Vec<Change> {
    let mut all = Vec::new();
    let build = &car.scenario.build;
    let parts = car.car.parts();
    let mut add = |kind, path: &'static str, value: Value, words: String| {
        all.push(Change { kind, set: vec![(path, value)], words });
    };
    let machine = &parts.motor.machine;
    let peak_nm = machine.envelope.largest_nm();
    if peak_nm > parts.gearbox.max_input_nm {
        let share = parts.gearbox.max_input_nm / peak_nm;
        let a = (share * machine.peak_current_a).floor();
        let words = format!("the controller set to {a} A to the motor");
        add(0, "controller.motor_current_a", json!(a), words);
    }
    let final_drive = |path, was: f64, add: &mut dyn FnMut(u8, &'static str, Value, String)| {
        for factor in FINAL_DRIVES {
            let ratio = (100.0 * factor * was).round() / 100.0;
            let what = if path == "gearbox.single" { "reduction" } else { "final drive" };
            add(1, path, json!(ratio), format!("a {what} of {ratio} in place of {was}"));
        }
    };
    if let Some(was) = build.gearbox.final_drive {
        final_drive("gearbox.final_drive", was, &mut add);
    }
    if let Some(was) = build.gearbox.single {
        final_drive("gearbox.single", was, &mut add);
    }
    let pack = &build.pack;
    // As many as the controller bears while they are charged, or a tenth more or fewer.
    let bears = (parts.controller.max_v / parts.pack.cell.max_v).floor() as u32;
    for series in [
        bears.min(pack.series),
        pack.series.saturating_mul(11) / 10,
        pack.series.saturating_mul(9) / 10,
    ] {
        if series > 0 && series != pack.series {
            let words = format!("{series} cells in series in place of {}", pack.series);
            add(2, "pack.series", json!(series), words);
        }
    }
    let parallel = pack.parallel.unwrap_or(1);
    let fewer = [parallel.saturating_sub(1), parallel / 2, parallel / 4, parallel / 8];
    let mut others = [&[parallel.saturating_add(1)], &fewer[..]].concat();
    others.dedup();
    for other in others {
        if other > 0 && other != parallel {
            let strings = if other == 1 { "string" } else { "strings" };
            let words = format!("{other} {strings} of cells in parallel in place of {parallel}");
            add(3, "pack.parallel", json!(other), words);
        }
    }
    let brushed = matches!(machine.kind, Kind::SeriesDc { .. });
    for part in shelf() {
        let text: Value = serde_json::from_str(part.text).unwrap_or_default();
        let same = |name: &Option<String>| text["name"].as_str() == name.as_deref();
        let inverter = text["pack_regen_current_a"].as_f64().unwrap_or(0.0) > 0.0;
        let (kind, path, fits) = match part.kind {
            FileKind::Cell => (4, "pack.cell", !same(&pack.cell.name)),
            FileKind::Controller => {
                (5, "controller", !same(&build.controller.name) && inverter != brushed)
            }
            FileKind::Motor => {
                let fits = (text["kind"] == "series_dc") == brushed;
                (6, "motor", !same(&build.motor.name) && fits)
            }
            _ => continue,
        };
        if fits {
            let what = if kind == 4 { "cell" } else { path };
            let words = format!("the {what} {} of the shelf", part.name);
            add(kind, path, json!(format!("shelf:{}", part.name)), words);
        }
    }
    all
}

/// Two changes together: motor with controller, and a final drive with more cells or a motor.
fn pairs(singles: &[Change]) -> Vec<Change> {
    let of = |kind| singles.iter().filter(move |change| change.kind == kind);
    let mut all = Vec::new();
    for (one, other) in [(5, 6), (1, 3), (1, 6), (3, 5)] {
        for first in of(one) {
            all.extend(of(other).map(|second| first.with(second)));
        }
    }
    all
}
