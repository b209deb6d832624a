//! What mends a verdict: changes that can be bought or set, each driven before it is named.

use crate::cells_in_series::{most_charged, series_for};
use crate::files::kind::FileKind;
use crate::files::overrides::Override;
use crate::files::shelf::shelf;
use crate::inputs::controller::Kind as Makes;
use crate::loaded::Loaded;
use crate::prepared::Prepared;
use crate::runs;
use crate::runs::climb::{self, ClimbReport};
use crate::runs::drive::{self, DriveReport};
use crate::runs::failure::Failure;
use crate::runs::limits::NamedLimit;
use crate::runs::rating::speed_30min;
use crate::verdict::{self, About, Standing, Steepest, Told, Verdict};
use crate::warning::{Severity, Warning, volts_suit, warnings};
use crate::words::number;
use cycles::{LoadOptions, WltcClass};
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
/// The same of range where weight is to come off, which is pack.
const WEIGHT_MAY_COST: f64 = 0.5;
/// How far the pack is moved, m, where an axle carries too much.
const MOVES_M: [f64; 4] = [-0.5, -0.25, 0.25, 0.5];
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

    fn sets(&self, path: &str) -> bool {
        self.set.iter().any(|(known, _)| *known == path)
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
        // That a car is too heavy stands among its parts; it is no load that holds.
        if about == About::Load && self.too_heavy().contains(&true) {
            return Standing::Fails;
        }
        let all = self.verdicts(about);
        all.iter().map(|verdict| verdict.standing).max().unwrap_or(Standing::Holds)
    }

    fn dangers(&self) -> usize {
        self.warnings.iter().filter(|w| w.severity == Severity::Danger).count()
    }

    /// What of it weighs more than is permitted, and where.
    fn too_heavy(&self) -> [bool; 3] {
        too_heavy(&self.car)
    }

    fn mass_kg(&self) -> f64 {
        self.car.car.parts().chassis.mass_kg
    }

    fn range_km(&self) -> f64 {
        self.road.range.as_ref().map_or(0.0, |range| range.distance_km)
    }
}

/// Whether the whole car, its front and its rear axle weigh more than is permitted.
fn too_heavy(car: &Prepared) -> [bool; 3] {
    let (chassis, facts) = (&car.car.parts().chassis, &car.facts);
    let over = |kg: f64, most: Option<f64>| most.is_some_and(|most| kg > most + 0.05);
    [
        over(chassis.mass_kg, facts.gross_mass_kg),
        over(chassis.front_axle_kg(), facts.front_axle_max_kg),
        over(chassis.rear_axle_kg(), facts.rear_axle_max_kg),
    ]
}

/// What mends whatever does not hold, as it was driven; nothing is tried where all holds.
///
/// The changes are those that a workshop can buy or set: current limits, final drives, one string of
/// cells more or less, another cell, controller or motor of the shelf, the pack moved where an axle
/// carries too much, then two of them together.
/// One is named only where the same runs show that it mends the verdict, makes no other worse, and
/// leaves most of range and top speed, or half of the range where weight is to come off.
/// All are driven on the road of the car as it is; where the changed car by itself drives another,
/// what it does there is said besides. Where none mends what fails, that is said once of all.
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
    let (mut all, mut left): (Vec<Advice>, Vec<About>) = (Vec::new(), Vec::new());
    for about in open {
        let found = best(about, &own, &tried);
        if found.is_empty() && own.standing(about) == Standing::Fails {
            left.push(about);
        }
        all.extend(found.into_iter().map(|(change, trial)| {
            let mut told = told_of(about, change, trial, &own);
            told.text.extend(on_own_road(car, trial, road));
            told
        }));
    }
    if let Some(&about) = left.first() {
        let names: Vec<&str> = left.iter().flat_map(|about| name(*about, &own)).collect();
        let text = format!(
            "None of {count} changes that were driven (current limits, final drives, cells, \
             controllers and motors of the shelf, alone and in pairs) mends this without making \
             something else worse or costing much range or top speed: {}.",
            names.join(", ")
        );
        all.push(Advice { about, set: Vec::new(), standing: Standing::Fails, text });
    }
    all
}

/// What a changed car does on the road that it drives by itself, where that is another: which phases
/// of the WLTC a car drives depends on what it reaches.
fn on_own_road(car: &Prepared, trial: &Trial, driven: (&str, &Trace)) -> Option<String> {
    let road = car.road();
    if car.drives.wltc.is_some() || !WltcClass::is_open(road.name()) {
        return None;
    }
    let schedule = trial.car.read(&road, &LoadOptions::default()).ok()?.schedule;
    let trace = runs::trace(&schedule).ok()?;
    if trace == *driven.1 {
        return None;
    }
    let setup = trial.car.setup();
    let found = drive::drive(&setup, &trace, &mut ());
    let range = Some(drive::range_of(&setup, &trace));
    let report = DriveReport { range, ..drive::report(&setup, &schedule.name, &trace, &found) };
    trial.car.vouched(&report).ok()?;
    let said = [Some(verdict::road(&report)), verdict::range(&report)];
    let said: Vec<String> = said
        .into_iter()
        .flatten()
        .map(|verdict| match verdict.standing {
            Standing::Holds => verdict.text,
            standing => {
                format!("{} ({})", verdict.text.trim_end_matches('.'), standing.words()) + "."
            }
        })
        .collect();
    let which = match schedule.name.split_once(" without ") {
        Some((_, phases)) => format!("the WLTC without {phases}"),
        None => "the whole WLTC".to_owned(),
    };
    Some(format!(
        " All this on the same road; by itself the changed car is put on another, {which} of its \
         class. There: {}",
        said.join(" ")
    ))
}

/// What a verdict is about, in words.
fn name(about: About, own: &Trial) -> Vec<&'static str> {
    let is = match about {
        About::Parts => {
            let heavy = own.too_heavy().into_iter().filter(|over| *over).count();
            let suit = (own.dangers() > heavy).then_some("parts that do not suit each other");
            return (heavy > 0).then_some("the car is too heavy").into_iter().chain(suit).collect();
        }
        About::Load => "the load",
        About::Start => "pulling away",
        About::Climb => "the climb",
        About::Pass => "the pass",
        About::Road => "the daily road",
        About::Range => "the range",
        About::Speed => "the speed",
        About::First => "what gives up first",
        About::Values => "the values",
    };
    vec![is]
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
    let left = |is: f64, was: f64, cost: f64| is >= (1.0 - cost) * was;
    let range_cost = if of_masses { WEIGHT_MAY_COST } else { MAY_COST };
    let is_heavy = own.too_heavy().contains(&true);
    let volts_suit = volts_suit(&own.car.car);
    let mends = |change: &Change, trial: &Trial| {
        trial.standing(about) < before
            && trial.standing(about) != Standing::NotKnown
            && trial.dangers() <= own.dangers()
            && (!is_heavy || trial.mass_kg() <= own.mass_kg())
            && (self::volts_suit(&trial.car.car) || !volts_suit && !change.sets("motor"))
            && left(trial.range_km(), own.range_km(), range_cost)
            && left(trial.top_kmh, own.top_kmh, MAY_COST)
            && MENDED.iter().all(|other| trial.standing(*other) <= own.standing(*other))
    };
    let mut found: Vec<(&Change, &Trial)> =
        tried.iter().filter(|(c, trial)| mends(c, trial)).map(|(c, t)| (c, t)).collect();
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
    let held = |trial: &Trial| speed_30min(&trial.car.setup()).map_or(0.0, |held| held.speed_kmh);
    let figures = [
        ("range", "km", own.range_km(), trial.range_km(), About::Range),
        ("top speed", "km/h", own.top_kmh, trial.top_kmh, About::Speed),
        ("speed held for 30 min", "km/h", held(own), held(trial), About::Speed),
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
    let [_, front, rear] = too_heavy(car);
    if (front || rear)
        && let Some(was) = build.placement.pack_behind_front_axle_m
    {
        for move_m in MOVES_M {
            let m = (100.0 * (was + move_m)).round() / 100.0;
            if (0.0..=build.donor.wheelbase_m).contains(&m) {
                let words = format!("the pack {m} m behind the front axle in place of {was} m");
                add(0, PACK_PLACE, json!(m), words);
            }
        }
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
    // As many as the controller bears while they are charged, or a tenth more or fewer; of a pack in
    // boxes nobody knows in which of them.
    let bears = most_charged(parts.controller.max_v, &parts.pack);
    if let Some(was) = pack.series {
        // Or as few as the controller works on to the end.
        let works_on = series_for(&parts.controller, &parts.pack).unwrap_or(was);
        let (more, fewer) = (was.saturating_mul(11) / 10, was.saturating_mul(9) / 10);
        for series in [works_on.max(was), bears.min(was), more, fewer] {
            if series > 0 && series != was {
                let words = format!("{series} cells in series in place of {was}");
                add(2, "pack.series", json!(series), words);
            }
        }
    }
    let boxes = || pack.boxes.iter().flatten();
    let parallel = pack.parallel.unwrap_or(1);
    let fewer = [parallel.saturating_sub(1), parallel / 2, parallel / 4, parallel / 8];
    let mut others = [&[parallel.saturating_add(1)], &fewer[..]].concat();
    others.dedup();
    for other in others {
        if other > 0 && other != parallel && boxes().all(|own| own.parallel.is_none()) {
            let strings = if other == 1 { "string" } else { "strings" };
            let words = format!("{other} {strings} of cells in parallel in place of {parallel}");
            add(3, "pack.parallel", json!(other), words);
        }
    }
    let brushed = matches!(machine.kind, Kind::SeriesDc { .. });
    for part in shelf() {
        let text: Value = serde_json::from_str(part.text).unwrap_or_default();
        let same = |name: &Option<String>| text["name"].as_str() == name.as_deref();
        let (kind, path, fits) = match part.kind {
            FileKind::Cell => {
                // Boxes with cells of their own keep those.
                let is_of_all = boxes().all(|own| own.cell.is_none());
                (4, "pack.cell", !same(&pack.cell.name) && is_of_all)
            }
            FileKind::Controller => {
                let suits = text["kind"] == Makes::for_motor(&machine.kind).name();
                (5, "controller", !same(&build.controller.name) && suits)
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

/// Where the pack sits.
const PACK_PLACE: &str = "placement.pack_behind_front_axle_m";

/// Two changes together: motor with controller, a final drive with more cells or a motor, a pack
/// that is moved with another number of cells.
fn pairs(singles: &[Change]) -> Vec<Change> {
    let of = |kind| singles.iter().filter(move |change| change.kind == kind);
    let mut all = Vec::new();
    for (one, other) in [(5, 6), (1, 3), (1, 6), (3, 5)] {
        for first in of(one) {
            all.extend(of(other).map(|second| first.with(second)));
        }
    }
    for moved in singles.iter().filter(|change| change.sets(PACK_PLACE)) {
        let cells = of(2).chain(of(3));
        all.extend(cells.map(|second| moved.with(second)));
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whatever is tried of a pack in boxes is accepted, and changes all boxes or none.
    #[test]
    fn what_is_tried_of_a_pack_in_boxes_can_be_put_in() {
        let two = r#"pack.boxes=[{"series": 14, "box_mass_kg": 9, "behind_front_axle_m": 0.1},
            {"series": 16, "box_mass_kg": 9, "behind_front_axle_m": 2}]"#;
        let none = ["placement.pack_behind_front_axle_m", "pack.series", "pack.box_mass_kg"];
        let none = none.into_iter().chain(["pack.box_conductance_w_per_k", "pack.wall_area_m2"]);
        let mut sets: Vec<Override> =
            none.map(|path| format!("{path}=null").parse().unwrap()).collect();
        sets.push(two.parse().unwrap());
        for own_cell in [false, true] {
            if own_cell {
                sets.push("pack.boxes.2.cell=shelf:iron-phosphate-100ah".parse().unwrap());
            }
            let loaded = Loaded::demo().unwrap().put(&sets).unwrap();
            let car = loaded.with(&[]).unwrap();
            let tried = singles(&car);
            assert!(tried.iter().any(|change| change.sets("pack.cell")) != own_cell);
            assert!(
                !tried.iter().any(|change| change.sets("pack.series") || change.sets(PACK_PLACE))
            );
            for change in tried {
                let found = loaded.with(&change.overrides().unwrap());
                assert!(found.is_ok(), "{change:?}: {:?}", found.err().map(|e| e.to_string()));
            }
        }
    }
}
