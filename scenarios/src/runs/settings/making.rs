//! What the settings of a car are worked out from.

use crate::inputs::season::Season;
use crate::prepared::Prepared;
use crate::runs::failure::Failure;
use crate::runs::settings::hardest::Hardest;
use crate::runs::settings::setting::{Known, Setting};
use crate::runs::settings::standing::WARM_C;
use crate::runs::settings::under_voltage_end::under_voltage_end;
use sim_core::{Car, units};

/// The parts of a report that hang on each other.
pub(super) struct Making<'a> {
    pub(super) prepared: &'a Prepared,
    pub(super) known: Known<'a>,
    pub(super) car: &'a Car,
    pub(super) worn: Car,
    pub(super) coldest_k: f64,
    pub(super) warm_k: f64,
    /// What 12 V converter and heater may take beside the controller, at the lowest voltage, A.
    pub(super) auxiliaries_a: f64,
    pub(super) end: Setting,
    pub(super) end_v: f64,
}

/// The worn car.
fn worn(prepared: &Prepared, growth_pct: f64) -> Result<Car, Failure> {
    let changed = prepared.changed(|scenario| {
        let pack = &mut scenario.build.pack;
        let own = pack.resistance_growth_pct.unwrap_or(0.0);
        pack.resistance_growth_pct = Some(own.max(growth_pct));
    });
    Ok(changed.map_err(|e| Failure::Invalid(e.to_string()))?.car)
}

/// Coldest cells of a scenario, °C.
pub(crate) fn coldest_c(prepared: &Prepared) -> f64 {
    let scenario = &prepared.scenario;
    let seasons = Season::of(scenario.seasons.as_deref(), &scenario.build, &mut Vec::new());
    let own = units::c_from_k(prepared.car.parts().pack.coldest_k(&prepared.start.temperature_k));
    seasons.iter().map(|season| season.cells_c.unwrap_or(season.air_c)).fold(own, f64::min)
}

impl<'a> Making<'a> {
    pub(super) fn new(prepared: &'a Prepared, hardest: &Hardest) -> Result<Self, Failure> {
        let (car, known) = (&prepared.car, Known(prepared));
        let end = under_voltage_end(&known, car);
        let end_v = end.or_typical();
        let cold_c = hardest.cells_c.unwrap_or_else(|| coldest_c(prepared));
        // A cabin at absolute zero asks for all of the heater.
        let auxiliaries_w = car.parts().auxiliaries.pack_w(0.0);
        Ok(Self {
            worn: worn(prepared, hardest.growth_pct)?,
            coldest_k: units::k_from_c(cold_c),
            warm_k: units::k_from_c(WARM_C),
            auxiliaries_a: auxiliaries_w / end_v.max(1.0),
            prepared,
            known,
            car,
            end,
            end_v,
        })
    }
}
