//! What to program into controller, cell management and charger, so that the parts protect each
//! other.

mod cell_management;
mod cells_in_series;
mod charger;
mod cold;
mod contradictions;
mod controller;
mod currents;
mod hardest;
mod making;
mod not_known;
mod pedals;
mod setting;
mod standing;
mod under_voltage_end;

pub use cells_in_series::{CellsInSeries, SeriesBound, SeriesFit, SeriesRow};
pub use cold::ColdCase;
pub use currents::CurrentRow;
pub use hardest::Hardest;
pub(crate) use making::coldest_c;
pub use pedals::Pedal;
pub(crate) use setting::Known;
pub use setting::{Ask, Place, Setting};
pub use standing::empty;

use crate::prepared::Prepared;
use crate::runs::failure::Failure;
use crate::runs::settings::currents::IN_UP_TO;
use crate::runs::settings::making::Making;
use crate::runs::settings::standing::WARM_C;
use crate::warning::{Severity, Warning};
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::units;

/// What to program.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SettingsReport {
    /// Coldest cells for which the settings hold, °C.
    pub coldest_c: f64,
    /// Whether the caller or the scenario named them; else they are a typical winter's.
    pub coldest_given: bool,
    /// Growth of resistance of the worn cells for which they hold, %.
    pub worn_pct: f64,
    /// Temperature of warm cells, °C.
    pub warm_c: f64,
    /// The settings.
    pub settings: Vec<Setting>,
    /// How long the short currents last, s.
    pub short_s: f64,
    /// Charges up to which the columns of `in_long_a` hold, %.
    pub in_up_to_pct: Vec<f64>,
    /// Currents by cell temperature.
    pub currents: Vec<CurrentRow>,
    /// What cold worn cells give.
    pub cold: Vec<ColdCase>,
    /// The pedals' regen; none where the motor makes none.
    pub pedals: Vec<Pedal>,
    /// Speed below which regen is off, km/h.
    pub fade_out_kmh: f64,
    /// Speed above which it is whole, km/h.
    pub full_above_kmh: f64,
    /// What the coldest cells do not do at all.
    pub when_coldest: Vec<String>,
    /// How many cells in series these parts go with.
    pub cells_in_series: CellsInSeries,
    /// Parts that contradict each other, worst first.
    pub contradictions: Vec<Warning>,
    /// What no part's data say and somebody has to be asked for.
    pub not_known: Vec<String>,
    /// The settings that the simulation can drive with, as values to be put in place of the file's;
    /// the cells hold their own currents and voltages there. Empty where parts contradict each other
    /// so that the car must not be driven.
    pub drive_with: Vec<String>,
    /// What to beware of.
    pub cautions: [&'static str; 5],
}

/// Settings that are fields of a build, by key and path.
const FIELDS: [(&str, &str); 10] = [
    ("motor_current_a", "controller.motor_current_a"),
    ("pack_current_a", "controller.pack_current_a"),
    ("regen_current_a", "controller.pack_regen_current_a"),
    ("under_voltage_end_v", "controller.min_v"),
    ("over_voltage_v", "controller.max_v"),
    ("max_rpm", "gearbox.max_input_rpm"),
    ("motor_warning_c", "motor.warning_c"),
    ("motor_cut_off_c", "motor.cut_off_c"),
    ("controller_warning_c", "controller.warning_c"),
    ("controller_cut_off_c", "controller.cut_off_c"),
];

const CAUTIONS: [&str; 5] = [
    "A traction pack kills, whatever its charge: settings are changed with the car on stands, and \
     wiring is for people who are licensed for it.",
    "The makers' manuals of controller, charger and management of the cells come before this page: \
     where they ask for less, less it is.",
    "A setting is no fuse: fuse, contactors and the management that opens them must cut off what a \
     broken controller lets through.",
    "Regen is no brake: it vanishes with a full or cold pack and at low speed.",
    "After a change, drive first with a cable to the controller and read back that the currents and \
     voltages stay within what stands here.",
];

/// What to program so that the parts of a car protect each other.
///
/// # Errors
/// [`Failure::Invalid`] where the worn car cannot be.
pub fn report(prepared: &Prepared, hardest: &Hardest) -> Result<SettingsReport, Failure> {
    let making = Making::new(prepared, hardest)?;
    let over = making.over_voltage();
    let over_v = over.or_typical();
    let [short, long, single] = making.pack_currents();
    let value = Setting::or_typical;
    let (short_a, long_a) = (value(&short), value(&long));
    let start = making.under_voltage_start(long_a + making.auxiliaries_a);
    let start_v = value(&start);
    let charger = making.of_charger(hardest.daily, over_v);
    let charger_a = value(&charger[0]);
    let pack = &prepared.car.parts().pack;
    let below = IN_UP_TO.into_iter().filter(|charge| *charge < pack.max_charge - 1e-9);
    let in_up_to: Vec<f64> = below.chain([pack.max_charge]).collect();
    let pedals = making.pedals();
    let mut settings = vec![making.motor_current(), short, long, single];
    if !pedals.is_empty() {
        settings.extend(making.regen_currents(over_v));
    }
    settings.extend([start, making.end.clone(), over, making.rpm()]);
    settings.extend(making.temperatures());
    settings.extend(making.of_cells());
    settings.extend(charger);
    let braking = &prepared.car.parts().braking;
    // The simulation's controller does not come on over its highest voltage, where a real one only
    // stops regen.
    let full_v = pack.rested_v(pack.max_charge);
    let can = |key: &str, value: f64| key != "over_voltage_v" || value > full_v;
    let contradictions = making.contradictions(long_a, charger_a, over_v);
    // Settings for parts that do not go together drive nothing.
    let agree = contradictions.iter().all(|warning| warning.severity != Severity::Danger);
    let fields: &[_] = if agree { &FIELDS } else { &[] };
    let drive_with = fields
        .iter()
        .filter_map(|(key, path)| {
            let value = settings.iter().find(|one| one.key == *key)?.value?;
            can(key, value).then(|| format!("{path}={value}"))
        })
        .collect();
    Ok(SettingsReport {
        drive_with,
        coldest_c: units::c_from_k(making.coldest_k),
        coldest_given: hardest.cells_c.is_some()
            || prepared.scenario.seasons.as_ref().is_some_and(|seasons| !seasons.is_empty()),
        worn_pct: units::pct_from_share(making.worn.parts().pack.resistance_growth - 1.0),
        warm_c: WARM_C,
        settings,
        short_s: pack.shortest_peak_s(),
        in_up_to_pct: in_up_to.iter().map(|share| units::pct_from_share(*share)).collect(),
        currents: making.currents(&in_up_to),
        cold: making.cold(start_v, short_a),
        pedals,
        fade_out_kmh: units::kmh_from_mps(braking.fade_out_mps),
        full_above_kmh: units::kmh_from_mps(braking.full_above_mps),
        contradictions,
        when_coldest: making.when_coldest(),
        cells_in_series: making.cells_in_series(),
        not_known: making.not_known(),
        cautions: CAUTIONS,
    })
}
