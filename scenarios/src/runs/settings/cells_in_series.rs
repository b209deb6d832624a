//! How many cells in series the parts go with, and what each number gives.

use crate::cells_in_series::{CHARGER_ACCURACY, fewest_from, most_charged, most_rested};
use crate::runs::settings::making::Making;
use crate::runs::settings::standing::{least_between, standing};
use crate::warning::REFERENCE_SHARES;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::car::{Parts, Request, Slope};
use sim_core::steady::SETTLED_S;
use sim_core::{Car, State, units};

/// How a number of cells in series goes with the parts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum SeriesFit {
    /// With all that they can give, from full to empty.
    Fits,
    /// The controller cuts back, or stops, before the cells are empty.
    CutsBack,
    /// The motor gives its power at far lower speed.
    Slow,
    /// Over what the controller bears while the cells are charged: no regen on a full pack, and it is
    /// kept apart from the pack while that is charged.
    KeepApart,
    /// The parts do not go with it.
    No,
}

impl SeriesFit {
    /// In a word or two.
    pub fn words(self) -> &'static str {
        match self {
            SeriesFit::Fits => "fits",
            SeriesFit::CutsBack => "cuts back",
            SeriesFit::Slow => "slow",
            SeriesFit::KeepApart => "apart",
            SeriesFit::No => "no",
        }
    }

    /// What that means, where it is not said by the word.
    pub fn meaning(self) -> Option<&'static str> {
        match self {
            SeriesFit::Fits => None,
            SeriesFit::CutsBack => Some("at full throttle, before it is empty"),
            SeriesFit::Slow => Some("motor far from its voltage"),
            SeriesFit::KeepApart => Some(
                "no regen when full, controller kept apart from the pack while that is charged",
            ),
            SeriesFit::No => Some("does not go with the parts"),
        }
    }
}

/// What a part asks of the number of cells in series.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SeriesBound {
    /// The part, and what of it.
    pub part: String,
    /// The number.
    pub cells: u32,
    /// Whether it is at least that many, and else at most.
    pub at_least: bool,
    /// Whether less than this is given up beyond it, and else the parts do not go together.
    pub preferred: bool,
}

/// What a number of cells in series gives.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SeriesRow {
    /// Cells in series.
    pub cells: u32,
    /// Voltage with all cells at their highest, while they are charged, V.
    pub charged_v: f64,
    /// Voltage of the full pack at rest, V.
    pub full_v: f64,
    /// Voltage of the half full pack at rest, V.
    pub half_v: f64,
    /// Lowest voltage under load, worn, until it is nearly empty, from the coldest cells to warm ones, V.
    pub lowest_v: f64,
    /// Usable energy of warm cells, kWh.
    pub usable_kwh: f64,
    /// Mass of all cells, kg.
    pub cells_kg: f64,
    /// How it goes with the parts.
    pub fit: SeriesFit,
}

/// How many cells in series the parts go with.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CellsInSeries {
    /// What the pack has.
    pub has: u32,
    /// What a number means, of a pack in boxes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub of_boxes: Option<String>,
    /// Fewest and most that fit; `null` where none does.
    pub fits: Option<[u32; 2]>,
    /// Fewest and most that work with less than the parts promise; `null` where none does.
    pub works: Option<[u32; 2]>,
    /// What asks for it.
    pub bounds: Vec<SeriesBound>,
    /// What each number gives; of many, some.
    pub rows: Vec<SeriesRow>,
}

/// Most cells in series that a build may have.
const MOST: u32 = 400;
/// Rows between the ends.
const STEPS: u32 = 5;
/// How far over empty a pack is that still gives all of its current, as a share.
const NEARLY_EMPTY: f64 = 0.005;
/// Speeds of the motor that are looked at, and how many times closer around the one that takes most.
const SPEEDS: u32 = 24;
const CLOSER: u32 = 8;
/// Steps of charge that are looked at.
const CHARGES: u32 = 10;
/// How closely a controller reads the pack's voltage, as a share (common practice, no source).
const READS: f64 = 0.005;

impl Making<'_> {
    /// The worn car with so many cells in series, and a controller that stops at no voltage.
    fn with_series(&self, cells: u32) -> Car {
        let parts = self.worn.parts().clone();
        let pack = parts.pack.with_series(f64::from(cells));
        let controller = sim_core::controller::Controller {
            min_v: 0.0,
            max_v: f64::INFINITY,
            ..parts.controller
        };
        Car::new(Parts { pack, controller, ..parts }, *self.worn.surroundings())
    }

    /// Lowest voltage of so many cells in series under full throttle at any speed of the motor: worn,
    /// at any charge down to nearly empty, with the polarisation of a load that lasts and the current of
    /// their short peak.
    fn lowest_v(&self, cells: u32) -> f64 {
        let car = self.with_series(cells);
        let pack = &car.parts().pack;
        let gear = car.gears() - 1;
        let top_mps = car.top_speed_by_rpm_mps(gear);
        least_between(&car, (self.coldest_k, self.warm_k.max(self.coldest_k)), |cells_k| {
            let empty = (pack.mean_charge_when_empty(cells_k) + NEARLY_EMPTY).min(pack.max_charge);
            let span = pack.max_charge - empty;
            let at = |i: f64| {
                let speed_mps = top_mps * i / f64::from(SPEEDS);
                // Nearly empty cells give less, so that harness and cells may drop more at half charge.
                let charges =
                    (0..=CHARGES).map(|c| empty + span * f64::from(c) / f64::from(CHARGES));
                let volts = charges.map(|charge| {
                    let state = State { speed_mps, ..standing(&car, charge, cells_k, 1.0) };
                    let now = car.now(&state, SETTLED_S);
                    car.act(&now, speed_mps, Slope::LEVEL, gear, Request::FullThrottle).pack_v
                });
                volts.fold(f64::INFINITY, f64::min)
            };
            // The envelope of a motor has a corner, at which it takes the most.
            let coarse: Vec<f64> = (1..SPEEDS).map(|i| at(f64::from(i))).collect();
            let least_v = coarse.iter().copied().fold(f64::INFINITY, f64::min);
            let corner = 1 + coarse.iter().position(|v| *v == least_v).unwrap_or(0);
            let closer =
                (1..2 * CLOSER).map(|i| corner as f64 - 1.0 + f64::from(i) / f64::from(CLOSER));
            closer.map(at).fold(least_v, f64::min)
        })
    }

    /// What the parts ask for.
    fn series_bounds(&self) -> Vec<SeriesBound> {
        let parts = self.car.parts();
        let (pack, controller) = (&parts.pack, &parts.controller);
        let most = most_rested(controller.max_v, pack).min(MOST);
        let fewest = fewest_from(controller.min_v, pack);
        let under_load = {
            // Voltage under load grows with the number of cells.
            let from_v = controller.min_v * (1.0 + READS);
            let (mut low, mut high) = (fewest, most.max(fewest) + 1);
            while low < high {
                let half = low + (high - low) / 2;
                if self.lowest_v(half) >= from_v { high = half } else { low = half + 1 }
            }
            low
        };
        let reference_v = parts.motor.machine.envelope.reference_v;
        let half_v = pack.rested_v(0.5) / pack.cells_in_series();
        let of_motor = |share: f64| share * reference_v / half_v;
        let bound = |part: String, cells, at_least, preferred| SeriesBound {
            part,
            cells,
            at_least,
            preferred,
        };
        let (min_v, max_v) = (controller.min_v, controller.max_v);
        let cold_c = units::c_from_k(self.coldest_k);
        vec![
            bound(
                format!("controller: works from {min_v} V, the empty pack at rest"),
                fewest,
                true,
                false,
            ),
            bound(
                format!(
                    "controller: works from {min_v} V, the worn pack at full throttle until it is nearly empty, cells \
                     from {cold_c:.0} °C on"
                ),
                under_load,
                true,
                true,
            ),
            bound(
                format!(
                    "motor: {:.0} % of the {reference_v} V at which its figures hold, half full",
                    units::pct_from_share(REFERENCE_SHARES.0)
                ),
                of_motor(REFERENCE_SHARES.0).ceil().clamp(1.0, 1e6) as u32,
                true,
                true,
            ),
            bound(
                format!(
                    "controller: bears {max_v} V, all cells at {}, while they are charged and the charger \
                     {} % off",
                    match pack.has_unlike_cells() {
                        true => "their highest voltage".to_owned(),
                        false => format!("{} V", pack.cell.max_v),
                    },
                    units::pct_from_share(CHARGER_ACCURACY)
                ),
                most_charged(max_v, pack),
                false,
                true,
            ),
            bound(
                format!("controller: bears {max_v} V, the full pack at rest"),
                most,
                false,
                false,
            ),
            bound(
                format!(
                    "motor: {:.0} % of the {reference_v} V at which its figures hold, half full",
                    units::pct_from_share(REFERENCE_SHARES.1)
                ),
                of_motor(REFERENCE_SHARES.1).floor().clamp(0.0, 1e6) as u32,
                false,
                false,
            ),
        ]
    }

    pub(super) fn cells_in_series(&self) -> CellsInSeries {
        let bounds = self.series_bounds();
        let range = |with_preferred: bool| {
            let all = bounds.iter().filter(|one| with_preferred || !one.preferred);
            let (low, high): (Vec<_>, Vec<_>) = all.partition(|one| one.at_least);
            let from = low.iter().map(|one| one.cells).max().unwrap_or(1);
            let to = high.iter().map(|one| one.cells).min().unwrap_or(MOST).min(MOST);
            (from <= to).then_some([from, to])
        };
        let (fits, works) = (range(true), range(false));
        let pack = &self.car.parts().pack;
        let has = pack.cells_in_series() as u32;
        let mut numbers = vec![has];
        numbers.extend(works.into_iter().flatten());
        if let Some([from, to]) = fits.or(works) {
            numbers.extend((0..=STEPS).map(|i| from + (to - from) * i / STEPS));
        }
        numbers.sort_unstable();
        numbers.dedup();
        let rows = numbers.into_iter().map(|cells| self.series_row(cells, &bounds)).collect();
        let each: Vec<String> = self
            .prepared
            .facts
            .boxes
            .iter()
            .enumerate()
            .filter_map(|(i, name)| {
                let (own, _) = pack.boxes().find(|(own, _)| own.stated == i)?;
                Some(format!("{} in {name}", own.series))
            })
            .collect();
        let of_boxes = (!each.is_empty()).then(|| {
            format!(
                "All numbers are of the whole string, with the shares that the boxes have of its {has} cells \
                 ({}). Cells more or fewer in one box alone shift the shares: put them into the build and \
                 ask again.",
                each.join(", ")
            )
        });
        CellsInSeries { has, of_boxes, fits, works, bounds, rows }
    }

    fn series_row(&self, cells: u32, bounds: &[SeriesBound]) -> SeriesRow {
        let misses = |one: &&SeriesBound| match one.at_least {
            true => cells < one.cells,
            false => cells > one.cells,
        };
        let mut missed = bounds.iter().filter(misses);
        let fit = match (missed.clone().find(|one| !one.preferred), missed.next()) {
            (Some(_), _) => SeriesFit::No,
            (None, Some(one)) if !one.at_least => SeriesFit::KeepApart,
            (None, Some(one)) if one.part.starts_with("motor") => SeriesFit::Slow,
            (None, Some(_)) => SeriesFit::CutsBack,
            (None, None) => SeriesFit::Fits,
        };
        let pack = &self.car.parts().pack;
        let pack = pack.with_series(f64::from(cells));
        SeriesRow {
            cells,
            charged_v: pack.highest_v(),
            full_v: pack.rested_v(pack.max_charge),
            half_v: pack.rested_v(0.5),
            lowest_v: self.lowest_v(cells),
            usable_kwh: units::kwh_from_j(pack.usable_j(self.warm_k)),
            cells_kg: pack.cells_kg(),
            fit,
        }
    }
}
