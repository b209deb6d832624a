//! A scenario made ready to drive.

use crate::files::assumption::Assumption;
use crate::files::error::{Error, Source};
use crate::files::field_path::{Fault, FieldPath};
use crate::files::given::Given;
use crate::files::kind::may_refer;
use crate::files::origins::Origins;
use crate::files::overrides::Override;
use crate::files::tree::{Tree, put};
use crate::inputs::build::{Build, MassLine, Reason};
use crate::inputs::charger::OnBoardCharger;
use crate::inputs::day::Act;
use crate::inputs::drives::{Drives, Runs};
use crate::inputs::known::{KnownPart, KnownParts};
use crate::inputs::learnt::{LearntField, check_spreads};
use crate::inputs::money::{Money, Prices};
use crate::inputs::outdoors::Outdoors;
use crate::inputs::road::Road;
use crate::inputs::scenario::Scenario;
use crate::inputs::season;
use crate::inputs::start::Start;
use crate::inputs::taken_in::{Measured, TakenIn, holds};
use crate::inputs::wiring::Wires;
use crate::inputs::wltc::Wltc;
use crate::inputs::{conditions::Conditions, driver::Driver};
use crate::plausible::doubt_of_road;
use crate::warning::{Clash, Warning, clashes, warnings};
use cycles::LoadOptions;
use serde_json::Value;
use sim_core::units;
use sim_core::{Car, State};
use std::path::PathBuf;
use std::sync::Arc;

/// The cycle of a scenario without a road of its own.
const WLTC: &str = "wltc";

/// A car in its surroundings, with all that a run needs and all that a report says.
#[derive(Debug, Clone)]
pub struct Prepared {
    /// The file that it came from.
    pub file: String,
    /// What the scenario is called.
    pub name: String,
    /// The car in its surroundings.
    pub car: Car,
    /// The driver.
    pub driver: sim_core::driver::Driver,
    /// The state in which each drive begins.
    pub start: State,
    /// The on-board charger.
    pub charger: OnBoardCharger,
    /// What is known of the wiring.
    pub wires: Wires,
    /// The prices that the scenario gives.
    pub prices: Prices,
    /// The drives in SI.
    pub drives: Drives,
    /// The weather that a drive meets on its way.
    pub outdoors: Outdoors,
    /// What only a report needs.
    pub facts: Facts,
    /// What was taken for granted of the car; [`Self::all_assumptions`] adds the road.
    pub assumptions: Vec<Assumption>,
    /// The input as it was understood, by itself, as what is moved about should be small.
    pub scenario: Box<Scenario>,
    /// The input as one tree of JSON, references resolved and overrides put in.
    pub echo: Given,
    /// What was learnt from the car and was taken in.
    pub taken_in: Arc<TakenIn>,
}

/// What a report says that the simulation does not need.
#[derive(Debug, Clone, PartialEq)]
pub struct Facts {
    /// The mass balance, donor first.
    pub masses: Vec<MassLine>,
    /// Mass without load, kg.
    pub unladen_kg: f64,
    /// Largest permitted mass, kg.
    pub gross_mass_kg: Option<f64>,
    /// Largest permitted mass on the front axle, kg.
    pub front_axle_max_kg: Option<f64>,
    /// Largest permitted mass on the rear axle, kg.
    pub rear_axle_max_kg: Option<f64>,
    /// Continuous power of the motor's nameplate, W.
    pub continuous_w: Option<f64>,
    /// Speed of that power, rad/s.
    pub continuous_radps: Option<f64>,
    /// What the donor is called.
    pub donor: String,
    /// What the gearbox is called.
    pub gearbox: String,
    /// What the motor is called.
    pub motor: String,
    /// What the controller is called.
    pub controller: String,
    /// What the pack is called.
    pub pack: String,
    /// What the cell is called.
    pub cell: String,
    /// What the boxes of a pack in boxes are called, in the order in which they are stated.
    pub boxes: Vec<String>,
}

impl Prepared {
    /// Gear for pulling away, from 0.
    pub fn start_gear(&self) -> usize {
        self.driver.start_gear
    }

    /// The WLTC that the car drives.
    pub fn wltc(&self) -> Wltc {
        self.drives.wltc.unwrap_or_else(|| Wltc::of(&self.car, self.facts.unladen_kg))
    }

    /// The daily road; a scenario without one drives the WLTC of the car's class.
    pub fn road(&self) -> Road {
        self.drives.commute.clone().unwrap_or_else(|| Road::Named(WLTC.to_owned()))
    }

    /// The files on disk that it was read from, and those of its roads.
    pub fn files(&self) -> Vec<PathBuf> {
        let legs = self.drives.day.iter().flatten().filter_map(|stage| match &stage.act {
            Act::Drive { road, .. } => road.as_ref(),
            Act::Park { .. } | Act::Charge { .. } => None,
        });
        let roads = legs.chain(&self.drives.commute).map(Road::name);
        let roads = roads.filter(|name| !cycles::is_built_in(name));
        self.echo
            .origins()
            .files()
            .chain(self.taken_in.files())
            .chain(roads)
            .map(PathBuf::from)
            .collect()
    }

    /// Reads a road. A name that leaves the class of the WLTC open means that of this car.
    ///
    /// # Errors
    /// [`Error::Cycle`] where there is no such cycle or file or it cannot be driven.
    pub fn read(&self, road: &Road, options: &LoadOptions) -> Result<cycles::LoadedRoad, Error> {
        let mut loaded = road.load(&|| self.wltc(), options)?;
        let along = &loaded.schedule.along;
        let headed = along.iter().any(|along| along.heading_rad.is_some());
        if self.outdoors.blows() {
            let said = if headed {
                "The wind counts by its part along the road; its part across is left out."
            } else {
                "The wind blows from a direction, and this road has no headings: it is driven in still \
                 air."
            };
            loaded.notes.push(said.to_owned());
        }
        Ok(loaded)
    }

    /// What was taken for granted, the road of a scenario without one among it. Which that is takes
    /// a search, so it is not among what every car of a study is prepared with.
    ///
    /// # Errors
    /// None that a test would not find.
    pub fn all_assumptions(&self) -> Result<Vec<Assumption>, Error> {
        let mut all = self.assumptions.clone();
        let was_measured = |path: &str| {
            let (origin, _) = self.echo.origins().of(&format!("build.{path}"));
            matches!(origin.said, Source::Measured(_))
        };
        let assumed = self.scenario.build.assumed.iter().flatten();
        for path in assumed.filter(|path| !was_measured(path)) {
            let steps = path.split('.').map(|step| match step.parse::<usize>() {
                Ok(i) => i.saturating_sub(1).to_string(),
                Err(_) => step.to_owned(),
            });
            let pointer: String = steps.map(|step| format!("/{step}")).collect();
            let value = match self.echo["build"].pointer(&pointer) {
                None | Some(Value::Null) => continue,
                Some(part @ (Value::Object(_) | Value::Array(_))) => {
                    part["name"].as_str().unwrap_or("as it stands there").to_owned()
                }
                Some(Value::String(text)) => text.clone(),
                Some(value) => value.to_string(),
            };
            let reason = "typical of its class: the list `assumed`";
            all.push(Assumption::words(format!("build.{path}"), value, reason));
        }
        if self.drives.commute.is_none() {
            let road = self.wltc().road(WLTC)?;
            let path = "runs.commute.cycle".to_owned();
            all.push(Assumption::words(path, road.schedule.name, road.notes.concat()));
        }
        Ok(all)
    }

    /// What does not belong together, and what is odd about the daily road if it comes from a file,
    /// worst first. A road that cannot be read is left to those who drive it. Every number of the
    /// file is looked at, which the cars of a study are spared.
    pub fn warnings(&self) -> Vec<Warning> {
        let mut all = warnings(&self.car, &self.start, &self.scenario.build, &self.echo);
        let own = self.drives.commute.as_ref().filter(|road| !cycles::is_built_in(road.name()));
        let read = own.and_then(|road| self.read(road, &LoadOptions::default()).ok());
        all.extend(read.and_then(|road| doubt_of_road(&road.schedule)).map(Warning::doubt));
        all.extend(self.taken_in.notes.iter().cloned().map(Warning::doubt));
        all.sort_by_key(|warning| std::cmp::Reverse(warning.severity));
        all
    }

    /// What of it does not run, or must not be driven, however it is set.
    pub(crate) fn clashes(&self) -> Vec<Clash> {
        clashes(&self.car, &self.scenario.build)
    }

    /// What was measured and stands in it: files of what was learnt, one by one, then spreads that
    /// came with parts.
    pub fn measured(&self) -> Vec<Measured> {
        let mut all = self.taken_in.standing(&self.echo);
        for (part, spreads) in self.scenario.build.spreads() {
            // What stands in a pack of its cells comes before what they bring along.
            let is_new = |field: &LearntField| !all.iter().any(|one| one.has(&field.path));
            let known =
                spreads.and_then(|it| Measured::of_part(&self.echo, part, it)?.only(is_new));
            all.extend(known);
        }
        all
    }

    /// Whether the number at a whole path is one that came measured with its part.
    pub(crate) fn is_known_of_part(&self, whole: &str) -> bool {
        let parts = self.scenario.build.spreads().into_iter();
        parts.filter_map(|(part, spreads)| Some((whole.strip_prefix(part)?, spreads?))).any(
            |(below, spreads)| {
                let mut fields = spreads.inputs.iter().flat_map(|input| &input.fields);
                let path = below.strip_prefix('.');
                fields.any(|field| {
                    Some(field.path.as_str()) == path && holds(&self.echo, whole, field)
                })
            },
        )
    }

    /// The same car on the same drives with something else in its input. What is refused is named
    /// by the file that the field came from.
    ///
    /// # Errors
    /// As [`Loaded::with`](crate::Loaded::with).
    pub(crate) fn changed(&self, change: impl FnOnce(&mut Scenario)) -> Result<Self, Error> {
        let mut scenario = self.scenario.clone();
        change(&mut scenario);
        let model = model(&scenario, None).map_err(|fault| self.echo.origins().place(fault))?;
        Ok(model.into_prepared(
            scenario,
            Read {
                file: self.file.clone(),
                drives: self.drives.clone(),
                echo: self.echo.clone(),
                taken_in: self.taken_in.clone(),
            },
        ))
    }

    /// What a run takes.
    pub fn setup(&self) -> Setup<'_> {
        Setup {
            car: &self.car,
            driver: &self.driver,
            start: &self.start,
            outdoors: &self.outdoors,
            since_s: 0.0,
            boxes: &self.facts.boxes,
        }
    }
}

/// A car with its driver, ready to set off.
#[derive(Debug, Clone, Copy)]
pub struct Setup<'a> {
    /// The car in its surroundings.
    pub car: &'a Car,
    /// Who drives it.
    pub driver: &'a sim_core::driver::Driver,
    /// State at the start: charge and temperatures.
    pub start: &'a State,
    /// The weather that it meets on its way.
    pub outdoors: &'a Outdoors,
    /// Time since that weather began, s.
    pub since_s: f64,
    /// What the boxes of a pack in boxes are called, in the order in which they are stated.
    pub boxes: &'a [String],
}

/// What was read, and is the same whatever a study changes in the scenario.
struct Read {
    file: String,
    drives: Drives,
    echo: Given,
    taken_in: Arc<TakenIn>,
}

/// What comes of a scenario.
struct Model {
    car: Car,
    driver: sim_core::driver::Driver,
    start: State,
    charger: OnBoardCharger,
    wires: Wires,
    prices: Prices,
    outdoors: Outdoors,
    masses: Vec<MassLine>,
    assumptions: Vec<Assumption>,
}

/// Checks everything that was read and makes a car of it.
pub(crate) fn prepare(
    file: &str,
    scenario: Scenario,
    tree: Tree,
    taken_in: Arc<TakenIn>,
) -> Result<Prepared, Error> {
    let checked = || -> Result<(Drives, Model), Fault> {
        let model = model(&scenario, None)?;
        let drives = drives(&scenario, &tree.origins)?;
        check_seasons(&scenario)?;
        check_parts(&scenario)?;
        Ok((drives, model))
    };
    let (drives, model) = checked().map_err(|fault| tree.origins.place(fault))?;
    let echo = Given::whole(tree);
    let read = Read { file: file.to_owned(), drives, echo, taken_in };
    Ok(model.into_prepared(Box::new(scenario), read))
}

fn check_parts(scenario: &Scenario) -> Result<(), Fault> {
    scenario.build.spreads().into_iter().try_for_each(|(part, spreads)| {
        let at = FieldPath::ROOT.field(part);
        check_spreads(&at.field("spreads"), &format!("{part}."), spreads)
    })
}

fn check_seasons(scenario: &Scenario) -> Result<(), Fault> {
    let seasons = scenario.seasons.as_deref().unwrap_or_default();
    season::check(seasons, &FieldPath::ROOT.field("seasons"))
}

fn drives(scenario: &Scenario, origins: &Origins) -> Result<Drives, Fault> {
    let no_runs = Runs::default();
    let runs = scenario.runs.as_ref().unwrap_or(&no_runs);
    runs.model(&FieldPath::ROOT.field("runs"), |path, name| {
        Road::seen_from(&origins.of(path).0.folder, name)
    })
}

/// A scenario that was prepared once, and what of it serves others that differ little.
#[derive(Debug)]
pub(crate) struct Known {
    scenario: Box<Scenario>,
    drives: Drives,
    parts: KnownParts,
}

impl Known {
    /// What is known of a scenario; `None` where it cannot be prepared.
    pub(crate) fn of(scenario: Scenario, origins: &Origins) -> Option<Self> {
        let parts = scenario.build.known_parts(&FieldPath::ROOT.field("build")).ok()?;
        let drives = drives(&scenario, origins).ok()?;
        check_seasons(&scenario).ok()?;
        check_parts(&scenario).ok()?;
        Some(Self { scenario: Box::new(scenario), drives, parts })
    }

    /// The same with values put in place of others in a tree. Only the branches that they lead into
    /// are read again. `None` where one of them is none that can be read by itself, and where
    /// anything is refused: then it is for [`prepare`] to say why.
    pub(crate) fn with(
        &self,
        file: &str,
        (tree, taken_in): (&Arc<Tree>, &Arc<TakenIn>),
        overrides: &[Override],
    ) -> Option<Prepared> {
        let mut branches: Vec<(&[String], Value)> = Vec::new();
        for one in overrides {
            // Where a part belongs a reference may stand, and its spreads are checked as a whole.
            if may_refer(&one.path) || one.path.iter().any(|step| step == "spreads") {
                return None;
            }
            let steps = if one.path[0] == "build" { 2 } else { 1 };
            let (branch, below) = one.path.split_at_checked(steps)?;
            if !branches.iter().any(|(known, _)| *known == branch) {
                let found = branch.iter().try_fold(&tree.root, |place, step| place.get(step));
                branches.push((branch, found.cloned().unwrap_or_default()));
            }
            let (_, value) = branches.iter_mut().find(|(known, _)| *known == branch)?;
            if below.is_empty() {
                *value = one.value.clone();
            } else {
                put(value, below, one.value.clone()).ok()?;
            }
        }
        let mut scenario = self.scenario.clone();
        for (branch, value) in &branches {
            scenario.read_branch(branch, value)?;
        }
        let model = model(&scenario, Some(&self.parts)).ok()?;
        if scenario.seasons != self.scenario.seasons {
            check_seasons(&scenario).ok()?;
        }
        let echo = Given::changed(tree.clone(), overrides);
        let (file, drives) = (file.to_owned(), self.drives.clone());
        let taken_in = taken_in.clone();
        Some(model.into_prepared(scenario, Read { file, drives, echo, taken_in }))
    }
}

/// The one way from input to model: checks everything and makes model parts of input parts.
fn model(scenario: &Scenario, known: Option<&KnownParts>) -> Result<Model, Fault> {
    let root = FieldPath::ROOT;
    let build_at = root.field("build");
    let mut assumptions = Vec::with_capacity(32);
    let (parts, masses) = scenario.build.parts(&build_at, known, &mut assumptions)?;
    let (no_driver, no_conditions, no_start) =
        (Driver::default(), Conditions::default(), Start::default());
    let max_radps = parts.motor.max_radps.min(parts.gearbox.max_input_radps);
    let driver = scenario.build.driver.as_ref().unwrap_or(&no_driver).model(
        &build_at.field("driver"),
        parts.gearbox.gears().len(),
        max_radps,
        &mut assumptions,
    )?;
    let charger = KnownPart::or_make(
        known.map(|known| &known.charger),
        |charger| *charger == scenario.build.charger,
        &mut assumptions,
        |assumptions| scenario.build.on_board(&build_at, assumptions),
    )?;
    let wires = scenario.build.wires(&build_at)?;
    let no_money = Money::default();
    let money_at = root.field("money");
    let prices = scenario.money.as_ref().unwrap_or(&no_money).model(&money_at)?;
    let prices = scenario.build.priced(&build_at, prices, &money_at)?;
    let conditions = scenario.conditions.as_ref().unwrap_or(&no_conditions);
    let surroundings = conditions.model(&root.field("conditions"), &mut assumptions)?;
    let outdoors = conditions.outdoors(&root.field("conditions"))?;
    let start = scenario.start.as_ref().unwrap_or(&no_start).model(
        &root.field("start"),
        &parts.pack,
        surroundings.air_k,
        &mut assumptions,
    )?;
    let car = Car::new(scenario.what_if.of(parts), surroundings);
    Ok(Model { car, driver, start, charger, wires, prices, outdoors, masses, assumptions })
}

impl Model {
    /// With all that a report says besides.
    fn into_prepared(self, scenario: Box<Scenario>, read: Read) -> Prepared {
        let Model { car, driver, start, charger, wires, prices, outdoors, masses, assumptions } =
            self;
        let Read { file, drives, echo, taken_in } = read;
        let build = &scenario.build;
        let name = scenario.name.clone().or_else(|| build.name.clone());
        Prepared {
            name: name.unwrap_or_else(|| file.clone()),
            file,
            facts: Facts::of(build, masses),
            car,
            driver,
            start,
            charger,
            wires,
            prices,
            drives,
            outdoors,
            assumptions,
            scenario,
            echo,
            taken_in,
        }
    }
}

impl Facts {
    fn of(build: &Build, masses: Vec<MassLine>) -> Self {
        let called = |name: &Option<String>, kind: &str| {
            name.clone().unwrap_or_else(|| format!("{kind} without a name"))
        };
        let plate = build.motor.nameplate.as_ref();
        Self {
            unladen_kg: masses.iter().filter(|m| m.reason != Reason::Load).map(|m| m.mass_kg).sum(),
            masses,
            gross_mass_kg: build.donor.gross_mass_kg,
            front_axle_max_kg: build.donor.front_axle_max_kg,
            rear_axle_max_kg: build.donor.rear_axle_max_kg,
            continuous_w: plate.map(|p| units::w_from_kw(p.continuous_power_kw)),
            continuous_radps: plate.map(|p| units::radps_from_rpm(p.continuous_rpm)),
            donor: called(&build.donor.name, "donor"),
            gearbox: called(&build.gearbox.name, "gearbox"),
            motor: called(&build.motor.name, "motor"),
            controller: called(&build.controller.name, "controller"),
            pack: called(&build.pack.name, "pack"),
            cell: called(&build.pack.cell.name, "cell"),
            boxes: build.pack.box_names(),
        }
    }
}
