//! One module a command: its arguments and what it does; and the table of all of them.

pub mod bands;
pub mod charge;
pub mod check;
pub mod choose;
pub mod climb;
pub mod compare;
pub mod completions;
pub mod cost;
pub mod cycles;
pub mod day;
pub mod descent;
pub mod drive;
pub mod electrics;
pub mod endurance;
pub mod figures;
pub mod live;
pub mod man;
pub mod measure;
pub mod new;
pub mod parts;
pub mod pull;
pub mod readings;
pub mod regen;
pub mod report;
pub mod schema;
pub mod season;
pub mod settings;
pub mod sheet;
pub mod size;
pub mod sweep;

use crate::failure::Failure;
use crate::output::Output;
use clap::Subcommand;
use scenarios::{runs, studies};
use schemars::{Schema, schema_for};
use time::OffsetDateTime;

/// Today, by universal time.
pub fn today() -> String {
    OffsetDateTime::now_utc().date().to_string()
}

/// What a command writes with `--json`, and how it may be called.
pub struct Known {
    /// Its name: two words where it stands within another.
    pub name: &'static str,
    /// The name of the schema of its JSON, for `schema`.
    pub result: &'static str,
    /// The schema of its JSON; of a line, where there is one a row.
    pub schema: fn() -> Schema,
    /// What may follow the program's name; the help shows it, and the tests run it.
    pub example: &'static str,
}

/// Makes the subcommands, their dispatch and [`COMMANDS`] from one table: what each does, the
/// module with its `Args` and `run`, the type of its JSON, and an example. In brackets stand
/// commands within a command, of which each has a module in that of the latter.
macro_rules! commands {
    (
        $($(#[doc = $does:literal])+ $name:ident($module:ident) -> $json:ty, $example:literal;)+
        $([
            $(#[doc = $group_does:literal])+ $group:ident($group_module:ident):
            $(
                $(#[doc = $part_does:literal])+
                $part:ident($part_module:ident) -> $part_json:ty, $part_example:literal;
            )+
        ])+
    ) => {
        /// The commands; each has a file in `commands`.
        #[derive(Debug, Subcommand)]
        pub enum Command {
            $(
                $(#[doc = $does])+
                #[command(after_help = concat!("Example: shakedown ", $example))]
                $name($module::Args),
            )+
            $(
                $(#[doc = $group_does])+
                #[command(subcommand)]
                $group($group),
            )+
        }

        $(
            $(#[doc = $group_does])+
            #[derive(Debug, Subcommand)]
            pub enum $group {
                $(
                    $(#[doc = $part_does])+
                    #[command(after_help = concat!("Example: shakedown ", $part_example))]
                    $part($group_module::$part_module::Args),
                )+
            }
        )+

        impl Command {
            /// Runs it.
            pub fn run(&self, output: &mut Output) -> Result<(), Failure> {
                match self {
                    $(Command::$name(args) => $module::run(args, output),)+
                    $($(
                        Command::$group($group::$part(args)) => {
                            $group_module::$part_module::run(args, output)
                        }
                    )+)+
                }
            }
        }

        /// All commands.
        pub const COMMANDS: &[Known] = &[
            $(Known {
                name: stringify!($module),
                result: concat!(stringify!($module), "-result"),
                schema: || schema_for!($json),
                example: $example,
            },)+
            $($(Known {
                name: concat!(stringify!($group_module), " ", stringify!($part_module)),
                result: concat!(
                    stringify!($group_module), "-", stringify!($part_module), "-result"
                ),
                schema: || schema_for!($part_json),
                example: $part_example,
            },)+)+
        ];
    };
}

commands! {
    /// One page for a build: masses, gearing, acceleration, climbs, the daily road, range, limits.
    Sheet(sheet) -> sheet::Sheet, "sheet --set pack.parallel=2";
    /// Full throttle in each gear and through the gears, and what holds the car back.
    Pull(pull) -> runs::pull::PullReport, "pull --grade 5%";
    /// Holds a speed on a grade in every gear: power, currents, heat, and for how long.
    Climb(climb) -> climb::Report, "climb --grade 6% --speed 80km/h --for 10km";
    /// Drives a cycle or a road: consumption, range, heat, and where the energy went.
    Drive(drive) -> runs::drive::DriveReport, "drive --cycle wltc";
    /// Charges from a socket: time, energy, losses, cost, and whether a night is enough.
    Charge(charge) -> runs::charge::ChargeReport, "charge --socket 240v-20a --from 20% --price 0.2";
    /// Prices of driving from the wall, against the donor's fuel and the price of the parts.
    Cost(cost) -> runs::cost::CostReport, "cost --energy-price 0.3 --fuel-price 1.7/l --donor 7.5l/100km";
    /// Goes down a long slope in every gear: what regen holds and what the friction brakes take.
    Descent(descent) -> runs::descent::DescentReport, "descent --grade 8% --speed 50km/h --for 10km";
    /// Maps speeds and grades: minutes until something cuts back, and what gives up first.
    Endurance(endurance) -> runs::endurance::EnduranceReport, "endurance --speeds 30,60,120 --grades 0..12:4";
    /// Says what the wiring must carry: currents over time, 12 V side, precharge, fault currents, cables.
    Electrics(electrics) -> runs::electrics::ElectricsReport, "electrics --cycle wltc";
    /// Drives, parks and charges through a day: charge left, temperatures, where the pack gives out.
    Day(day) -> runs::day::DayReport, "day --set start.charge_pct=60";
    /// Drives under several seasons side by side, and what heater, tyres, air and lights cost.
    Season(season) -> runs::season::SeasonReport, "season --cycle wltc";
    /// Compares lift-off and brake-pedal regen settings over a road.
    Regen(regen) -> runs::regen::RegenReport, "regen --cycle wltc-low --lift-off 0,20 --brake 0,40";
    /// Says what to program into controller, cell management and charger, and which part asks for it.
    Settings(settings) -> runs::settings::SettingsReport, "settings --coldest -10C --worn 80%";
    /// Writes a card for the glove box: voltages, kWh and range by charge, speeds, gauges, cells.
    Readings(readings) -> readings::Report, "readings --speeds 50,80 --at 60km/h";
    /// Runs every combination of varied fields in parallel, a row each.
    Sweep(sweep) -> sweep::Line, "sweep --vary pack.parallel=1,2 --figures range_km,climb_heat_pct";
    /// Sets builds side by side: what differs in them, and what comes of it.
    Compare(compare) -> studies::compare::CompareReport, "compare --variant motor=shelf:induction-air-small --run climb";
    /// Asks backwards: which value of a field keeps the goals, or serves a figure best.
    Size(size) -> studies::size::SizeReport, "size --find smallest --field pack.parallel --between 1..4 --goal 'range_km>=60'";
    /// Chooses parts to buy: what no other beats in price and figures, and the odds of its goals.
    Choose(choose) -> studies::choose::ChooseReport, "choose --try motor=shelf:induction-air-small@900,shelf:induction-air-large@2200";
    /// Draws cars from what is uncertain: bands of every figure, odds of limits, main causes.
    Bands(bands) -> studies::bands::BandsReport, "bands --samples 50 --run climb --goal 'climb_heat_pct<=60'";
    /// Writes a page to print and to hand over: sentences, figures, pictures, what it rests on.
    Report(report) -> report::Report, "report --out page.html";
    /// Opens a page on this machine: move any part or number and see at once what comes of it.
    Live(live) -> live::Opened, "live --set pack.parallel=2";
    /// Begins a build from ten facts: asks for them, or takes them from options.
    New(new) -> new::Begun, "new my-car.json --class estate --kerb-mass-kg 905";
    /// Says what was understood: masses, axle loads, gearing, parts, assumptions, warnings.
    Check(check) -> check::Report, "check --set motor.mass_kg=60";
    /// Prints the JSON Schema of a kind of file, for an editor that completes and checks.
    Schema(schema) -> schema::Document, "schema build";
    /// Lists the parts of the shelf, prints one, or writes all of them as files.
    Parts(parts) -> parts::Listing, "parts";
    /// Lists the built-in cycles, or describes cycles and road files.
    Cycles(cycles) -> Vec<cycles::CycleRow>, "cycles wltc udds";
    /// Lists every figure: its unit, which way is better, what it means, the run that gives it.
    Figures(figures) -> Vec<figures::FigureEntry>, "figures";
    /// Prints what a shell runs to complete commands, options, fields and parts.
    Completions(completions) -> completions::Script, "completions bash";
    /// Prints the manual, or writes a page for each command.
    Man(man) -> man::Pages, "man";
    [
    /// Learns from the car itself.
    Measure(measure):
    /// Fits rolling resistance and drag area to runs in which the car rolls free.
    Coastdown(coastdown) -> measure::coastdown::Report, "measure coastdown";
    /// Predicts recorded drives and compares, channel by channel.
    Drive(drive) -> measure::drive::Report, "measure drive";
    /// Writes a part with what was learnt of it as a file, for the next car that has one.
    Part(part) -> measure::part::Report, "measure part motor --build car.json --measured drives.json --out my-motor.json";
    ]
}

impl Default for Command {
    fn default() -> Self {
        Command::Sheet(sheet::Args::default())
    }
}
