//! `new`: a build begun from ten facts, all else typical of the car's class and marked so.

use crate::completing;
use crate::failure::Failure;
use crate::measure::number;
use crate::output::Output;
use crate::quantity;
use clap::ValueEnum;
use scenarios::{FileKind, Loaded, Severity, output_file, shelf, units};
use schemars::JsonSchema;
use serde::Serialize;
use serde_json::{Map, Value, json};
use std::io::{self, BufRead, IsTerminal, Write};
use std::path::{Path, PathBuf};

/// Arguments of `new`. What is left out is asked for in a terminal, and is typical of the class
/// otherwise.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// File of the build to begin; nothing is overwritten.
    #[arg(value_name = "FILE.json")]
    file: PathBuf,

    /// Asks nothing: what no option gives is typical of the class.
    #[arg(long)]
    no_questions: bool,

    /// What kind of car it is.
    #[arg(long, value_enum, value_name = "CLASS")]
    class: Option<Class>,

    /// Kerb mass before the conversion, kg.
    #[arg(long, value_name = "KG", allow_negative_numbers = true)]
    kerb_mass_kg: Option<String>,

    /// Largest permitted mass, kg.
    #[arg(long, value_name = "KG", allow_negative_numbers = true)]
    gross_mass_kg: Option<String>,

    /// Size of the tyres, such as `165/70R13`.
    #[arg(long, value_name = "SIZE")]
    tyre: Option<String>,

    /// Ratio of the final drive.
    #[arg(long, value_name = "RATIO", allow_negative_numbers = true)]
    final_drive: Option<String>,

    /// A motor of the shelf (see `parts`).
    #[arg(long, value_name = "NAME", add = completing::parts_of(FileKind::Motor))]
    motor: Option<String>,

    /// A cell of the shelf (see `parts`).
    #[arg(long, value_name = "NAME", add = completing::parts_of(FileKind::Cell))]
    cell: Option<String>,

    /// Cells in series.
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    series: Option<String>,

    /// Strings of cells in parallel.
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    parallel: Option<String>,

    /// People and luggage that ride along, kg.
    #[arg(long, value_name = "KG", allow_negative_numbers = true)]
    load_kg: Option<String>,
}

/// What was written.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Begun {
    /// The files, the build first.
    written: Vec<String>,
    /// Paths of what is typical of the class rather than stated.
    assumed: Vec<String>,
    /// What is dangerous about the car as it stands there, as `check` says it.
    dangers: Vec<String>,
}

/// A class of light cars.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Class {
    /// Front-driven, two rows of seats.
    Hatchback,
    /// Rear-driven, two seats.
    Roadster,
    /// Rear-driven, two doors.
    Coupe,
    /// Rear-driven, with room behind.
    Estate,
    /// Rear-driven, with a bed.
    Pickup,
}

impl Class {
    /// Its donor, its gearbox and the usual size of its tyres.
    fn parts(self) -> [&'static str; 3] {
        match self {
            Class::Hatchback => ["light-hatchback", "four-speed-front-drive", "165/70R13"],
            Class::Roadster => ["two-seat-roadster", "five-speed-rear-drive", "175/70R13"],
            Class::Coupe => ["two-door-coupe", "five-speed-rear-drive", "175/70R13"],
            Class::Estate => ["small-estate", "five-speed-rear-drive", "175/70R13"],
            Class::Pickup => ["small-pickup", "four-speed-rear-drive", "145R12"],
        }
    }
}

/// One question: the option that answers it, what it asks for, and what an answer may be.
struct Question<'a> {
    option: &'static str,
    asks: String,
    usual: String,
    allowed: Allowed<'a>,
}

/// What an answer may be.
enum Allowed<'a> {
    Number { from: f64, to: f64, unit: &'static str, whole: bool },
    OneOf(Vec<&'a str>),
    Tyre,
}

impl Allowed<'_> {
    fn words(&self) -> String {
        match self {
            Allowed::Number { from, to, unit, whole } => {
                let decimals = if *whole || *to >= 100.0 { 0 } else { 1 };
                let kind = if *whole { "a whole number from " } else { "" };
                let unit = match *unit {
                    "" => String::new(),
                    "kg" => " kg, or in lb".to_owned(),
                    unit => format!(" {unit}"),
                };
                format!("{kind}{} to {}{unit}", number(*from, decimals), number(*to, decimals))
            }
            Allowed::OneOf(names) => names.join(", "),
            Allowed::Tyre => "a size such as 165/70R13 or 145R12".to_owned(),
        }
    }

    /// The answer as it stands in the file.
    fn read(&self, text: &str) -> Option<Value> {
        match self {
            Allowed::Number { from, to, unit, whole } => {
                let (value, said) = quantity::split(text)?;
                let value = match (said.as_str(), *unit) {
                    ("", _) => value,
                    ("lb" | "lbs", "kg") => (10.0 * units::kg_from_lb(value)).round() / 10.0,
                    (said, unit) if said == unit => value,
                    _ => return None,
                };
                let fits = (*from..=*to).contains(&value) && (!whole || value.fract() == 0.0);
                let whole = value.fract() == 0.0;
                fits.then(|| if whole { json!(value as i64) } else { json!(value) })
            }
            Allowed::OneOf(names) => {
                let text = text.strip_prefix("shelf:").unwrap_or(text);
                names.contains(&text).then(|| json!(text))
            }
            Allowed::Tyre => {
                let (width, rest) = text.split_once(['/', 'R', 'r'])?;
                let rim = rest.rsplit(['R', 'r']).next()?;
                let fits = (100..=335).contains(&width.trim().parse::<u32>().ok()?)
                    && (8..=24).contains(&rim.trim().parse::<u32>().ok()?);
                fits.then(|| json!(text))
            }
        }
    }
}

/// Asks, or takes what options give.
struct Answers {
    ask: bool,
    assumed: Vec<&'static str>,
}

impl Answers {
    /// The answer to a question, and whether it is only what is usual.
    fn to(
        &mut self,
        question: &Question,
        given: Option<&str>,
        fields: &[&'static str],
    ) -> Result<Value, Failure> {
        let allowed = question.allowed.words();
        let refusal = |text: &str| {
            let hint =
                if quantity::has_comma(text) { "; decimals are set off by a point" } else { "" };
            let shown = cycles::short(text);
            format!("{} is \"{shown}\"; allowed: {allowed}{hint}", question.option)
        };
        let usual = || question.allowed.read(&question.usual).unwrap_or(Value::Null);
        if let Some(text) = given {
            let read = question.allowed.read(text.trim());
            return read.ok_or_else(|| Failure::Arguments(refusal(text)));
        }
        if self.ask {
            loop {
                let text = line(&format!("{} [{}]: ", question.asks, question.usual))?;
                match text.trim() {
                    "" => break,
                    text => match question.allowed.read(text) {
                        Some(value) => return Ok(value),
                        None => tell(&format!("{} Allowed: {allowed}.\n", unfit(text))),
                    },
                }
            }
        }
        self.assumed.extend(fields);
        Ok(usual())
    }
}

/// Why an answer is none.
fn unfit(text: &str) -> String {
    let shown = cycles::short(text);
    if quantity::has_comma(text) {
        return format!("{shown} has a comma where a point goes.");
    }
    format!("{shown} cannot be that.")
}

/// A question goes where errors go, so that the output is the answer alone.
fn tell(text: &str) {
    let mut stderr = io::stderr();
    let _ = stderr.write_all(crate::plain::lines(text).as_bytes()).and_then(|()| stderr.flush());
}

/// The next line of the terminal.
fn line(question: &str) -> Result<String, Failure> {
    tell(question);
    let mut text = String::new();
    match io::stdin().lock().read_line(&mut text) {
        Ok(read) if read > 0 => Ok(text),
        _ => {
            tell("\n");
            let text = "the questions were not answered; nothing was written".to_owned();
            Err(Failure::Arguments(text))
        }
    }
}

fn part(kind: FileKind, name: &str) -> Map<String, Value> {
    let found = shelf::find(kind, name).map_or("{}", |part| part.text);
    serde_json::from_str(found).unwrap_or_default()
}

fn names(kind: FileKind) -> Vec<&'static str> {
    shelf::shelf().iter().filter(|part| part.kind == kind).map(|part| part.name).collect()
}

fn of(map: &Map<String, Value>, name: &str) -> f64 {
    map.get(name).and_then(Value::as_f64).unwrap_or(0.0)
}

/// A number that nobody measured, to the next of so much.
fn round(value: f64, to: f64) -> Value {
    let value = (1000.0 * (value / to).round() * to).round() / 1000.0;
    if value.fract() == 0.0 { json!(value as i64) } else { json!(value) }
}

/// Begins a build.
pub fn run(args: &Args, output: &mut Output) -> Result<(), Failure> {
    // Before anybody answers ten questions for nothing.
    let folder = args.file.parent().unwrap_or(Path::new(""));
    if args.file.extension().is_none_or(|suffix| !suffix.eq_ignore_ascii_case("json")) {
        let text = format!("FILE is {}; allowed: a file that ends in .json", args.file.display());
        return Err(Failure::Arguments(text));
    }
    if !folder.as_os_str().is_empty() && !folder.is_dir() {
        let (file, folder) = (args.file.display(), folder.display());
        let text = format!("{file} cannot be written: there is no folder {folder}");
        return Err(Failure::Arguments(text));
    }
    if args.file.symlink_metadata().is_ok() {
        let file = args.file.display();
        return Err(Failure::Arguments(format!("{file} is there already and is not overwritten")));
    }
    let ask = !args.no_questions && io::stdin().is_terminal() && io::stderr().is_terminal();
    let (build, assumed) = build(args, ask)?;
    let schema_file = folder.join(SCHEMA_FILE);
    let text = format!("{:#}\n", Value::Object(build));
    let schema = format!("{:#}\n", scenarios::schema(FileKind::Build));
    let mut files = vec![(args.file.clone(), text.as_bytes())];
    if schema_file.symlink_metadata().is_err() {
        files.push((schema_file, schema.as_bytes()));
    }
    output_file::write_all_new(&files)?;
    let written: Vec<String> = files.iter().map(|(path, _)| path.display().to_string()).collect();
    let dangers = dangers(&args.file);
    if output.json {
        return output.document(&Begun { written, assumed, dangers });
    }
    output.line(format!("{} is begun.", written[0]))?;
    if let Some(schema) = written.get(1) {
        output.line(format!("{schema} lets an editor complete its fields."))?;
    }
    output.text(format!(
        "{} of its values are typical of the class and stand in its list `assumed`: put in your own, \
         take them off the list.",
        assumed.len()
    ))?;
    for danger in &dangers {
        output.text(format!("Danger: {}", output.units.said(danger)))?;
    }
    output.line(format!("Look at it: shakedown sheet {}", written[0]))
}

/// What is dangerous about a build, or why it is no car.
fn dangers(file: &Path) -> Vec<String> {
    match Loaded::open(file).and_then(|loaded| loaded.prepare()) {
        Ok(car) => {
            let all = car.warnings().into_iter();
            all.filter(|w| w.severity == Severity::Danger).map(|w| w.text).collect()
        }
        Err(error) => vec![error.to_string()],
    }
}

/// The schema beside a build.
const SCHEMA_FILE: &str = "build.schema.json";

fn build(args: &Args, ask: bool) -> Result<(Map<String, Value>, Vec<String>), Failure> {
    let mut answers = Answers { ask, assumed: Vec::new() };
    let classes: Vec<String> = Class::value_variants()
        .iter()
        .filter_map(|class| Some(class.to_possible_value()?.get_name().to_owned()))
        .collect();
    if ask {
        tell("Ten questions; Enter takes what stands in brackets, typical of the class.\n");
    }
    let class = match args.class {
        Some(class) => class,
        None => {
            let question = Question {
                option: "--class",
                asks: format!("Kind of car: {}", classes.join(", ")),
                usual: classes[0].clone(),
                allowed: Allowed::OneOf(classes.iter().map(String::as_str).collect()),
            };
            let name = answers.to(&question, None, &[])?;
            Class::from_str(name.as_str().unwrap_or_default(), true).unwrap_or(Class::Hatchback)
        }
    };
    let [donor, gearbox, tyre] = class.parts();
    let (mut donor, mut gearbox) = (part(FileKind::Donor, donor), part(FileKind::Gearbox, gearbox));
    let class_kerb = of(&donor, "kerb_mass_kg");
    let class_gross = of(&donor, "gross_mass_kg");
    let mut number = |option,
                      asks: &str,
                      usual: f64,
                      (from, to, unit): (f64, f64, &'static str),
                      given: &Option<String>,
                      field: &[&'static str]| {
        let whole = option == "--series" || option == "--parallel";
        let allowed = Allowed::Number { from, to, unit, whole };
        let asks = format!("{asks}, {}", allowed.words());
        let question = Question { option, asks, usual: usual.to_string(), allowed };
        let value = answers.to(&question, given.as_deref(), field)?;
        Ok::<Value, Failure>(value)
    };
    let kerb = number(
        "--kerb-mass-kg",
        "Kerb mass before the conversion",
        class_kerb,
        (400.0, 2500.0, "kg"),
        &args.kerb_mass_kg,
        &["donor.kerb_mass_kg"],
    )?;
    let kerb_kg = kerb.as_f64().unwrap_or(class_kerb);
    let gross_kg = (kerb_kg + class_gross - class_kerb).round();
    let gross = number(
        "--gross-mass-kg",
        "Largest permitted mass",
        gross_kg,
        (kerb_kg, 3500.0, "kg"),
        &args.gross_mass_kg,
        &["donor.gross_mass_kg"],
    )?;
    let class_ratio = of(&gearbox, "final_drive");
    let ratio = number(
        "--final-drive",
        "Ratio of the final drive",
        class_ratio,
        (2.0, 8.0, ""),
        &args.final_drive,
        &["gearbox.final_drive"],
    )?;
    let load = number(
        "--load-kg",
        "People and luggage that ride along",
        80.0,
        (0.0, 1000.0, "kg"),
        &args.load_kg,
        &["load"],
    )?;
    let mut name = |option,
                    asks: &str,
                    usual: &str,
                    allowed: Allowed,
                    given: &Option<String>,
                    fields: &[&'static str]| {
        let asks = match &allowed {
            Allowed::OneOf(names) => format!("{asks}: {}", names.join(", ")),
            _ => format!("{asks}, {}", allowed.words()),
        };
        let question = Question { option, asks, usual: usual.to_owned(), allowed };
        answers.to(&question, given.as_deref(), fields)
    };
    let tyre = name("--tyre", "Tyres", tyre, Allowed::Tyre, &args.tyre, &["tyre.size"])?;
    let motor = name(
        "--motor",
        "Motor",
        "induction-air-medium",
        Allowed::OneOf(names(FileKind::Motor)),
        &args.motor,
        &["motor"],
    )?;
    let motor_name = motor.as_str().unwrap_or_default().to_owned();
    let machine = part(FileKind::Motor, &motor_name);
    let volts = of(&machine, "reference_v");
    let usual_cell = if volts > 200.0 { "blend-50ah" } else { "iron-phosphate-100ah-power" };
    let cell = name(
        "--cell",
        "Cells",
        usual_cell,
        Allowed::OneOf(names(FileKind::Cell)),
        &args.cell,
        &["pack.cell"],
    )?;
    let cell_name = cell.as_str().unwrap_or_default().to_owned();
    let cells = part(FileKind::Cell, &cell_name);
    let cell_v = 0.5 * (of(&cells, "min_v") + of(&cells, "max_v")) * 1.05;
    let mut number = |option,
                      asks: &str,
                      usual: f64,
                      (from, to): (f64, f64),
                      given: &Option<String>,
                      field: &[&'static str]| {
        let allowed = Allowed::Number { from, to, unit: "", whole: true };
        let asks = format!("{asks}, {}", allowed.words());
        let question = Question { option, asks, usual: usual.to_string(), allowed };
        answers.to(&question, given.as_deref(), field)
    };
    let series = number(
        "--series",
        "Cells in series",
        (volts / cell_v).round(),
        (4.0, 240.0),
        &args.series,
        &["pack.series"],
    )?;
    let parallel = number(
        "--parallel",
        "Strings of cells in parallel",
        1.0,
        (1.0, 60.0),
        &args.parallel,
        &["pack.parallel"],
    )?;

    let mut assumed: Vec<String> = answers.assumed.iter().map(|path| (*path).to_owned()).collect();
    // The car itself, as its class has it.
    let share = gross.as_f64().unwrap_or(gross_kg) / class_gross;
    donor.insert("kerb_mass_kg".to_owned(), kerb);
    donor.insert("gross_mass_kg".to_owned(), gross);
    for axle in ["front_axle_max_kg", "rear_axle_max_kg"] {
        let kg = round(share * of(&donor, axle), 5.0);
        donor.insert(axle.to_owned(), kg);
    }
    donor.shift_remove("note");
    donor.insert("name".to_owned(), json!(format!("{} of its class", classes[class as usize])));
    let stated = ["name", "kerb_mass_kg", "gross_mass_kg"];
    let rest = donor.keys().filter(|key| !stated.contains(&key.as_str()));
    assumed.extend(rest.map(|key| format!("donor.{key}")));
    gearbox.insert("final_drive".to_owned(), ratio);
    gearbox.shift_remove("note");
    let rest = gearbox.keys().filter(|key| !["name", "final_drive"].contains(&key.as_str()));
    assumed.extend(rest.map(|key| format!("gearbox.{key}")));
    let full_v = of(&cells, "max_v") * series.as_f64().unwrap_or(1.0);
    let controller = controller(&machine, full_v);
    for path in ["controller", "pack.box_mass_kg", "removed", "added", "placement"] {
        assumed.push(path.to_owned());
    }
    let wheelbase = of(&donor, "wheelbase_m");
    let item = |item: &str, kg: f64, at: f64| json!({ "item": item, "mass_kg": round(kg, 1.0), "behind_front_axle_m": round(at, 0.05) });
    let stem = args.file.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    let count = series.as_f64().unwrap_or(1.0) * parallel.as_f64().unwrap_or(1.0);
    let build = json!({
        "$schema": SCHEMA_FILE,
        "name": stem,
        "note": "What stands in assumed is typical of the class: put in your own and take it off \
                 the list.",
        "assumed": assumed,
        "donor": donor,
        "gearbox": gearbox,
        "motor": format!("shelf:{motor_name}"),
        "controller": format!("shelf:{controller}"),
        "pack": {
            "cell": format!("shelf:{cell_name}"),
            "series": series,
            "parallel": parallel,
            "box_mass_kg": round(10.0 + 0.12 * count * of(&cells, "mass_kg"), 1.0),
            "wall_area_m2": round(0.5 + 0.006 * count * of(&cells, "mass_kg"), 0.1)
        },
        "tyre": { "size": tyre },
        // Shares of the kerb mass: common practice, no source.
        "removed": [
            item("engine with starter and exhaust", 0.16 * kerb_kg, 0.0),
            item("tank, filled", 0.05 * kerb_kg, 0.95 * wheelbase)
        ],
        "added": [
            item("adapter plate and brackets", 16.0, 0.1),
            item("charger and converter", 9.0, 0.5),
            item("cables and fuses", 14.0, 0.5 * wheelbase)
        ],
        "load": [item("people and luggage", load.as_f64().unwrap_or(80.0), 0.55 * wheelbase)],
        "placement": {
            "motor_behind_front_axle_m": 0.0,
            "controller_behind_front_axle_m": -0.1,
            "pack_behind_front_axle_m": round(0.55 * wheelbase, 0.05)
        }
    });
    match build {
        Value::Object(build) => Ok((build, assumed)),
        _ => Ok((Map::new(), assumed)),
    }
}

/// The smallest controller of the shelf for a motor on a pack of so many volts when it is full.
fn controller(machine: &Map<String, Value>, full_v: f64) -> &'static str {
    let brushed = machine.get("kind").is_some_and(|kind| kind == "series_dc");
    let mut all: Vec<(&'static str, Map<String, Value>)> = names(FileKind::Controller)
        .into_iter()
        .map(|name| (name, part(FileKind::Controller, name)))
        .filter(|(_, part)| (of(part, "pack_regen_current_a") == 0.0) == brushed)
        .collect();
    let bears = |part: &Map<String, Value>| of(part, "max_v") >= full_v;
    let drives =
        |part: &Map<String, Value>| of(part, "motor_current_a") >= of(machine, "peak_current_a");
    all.sort_by(|(_, a), (_, b)| {
        let rank = |part| (!bears(part), !drives(part));
        rank(a).cmp(&rank(b)).then(of(a, "max_v").total_cmp(&of(b, "max_v")))
    });
    all.first().map_or("", |(name, _)| name)
}
