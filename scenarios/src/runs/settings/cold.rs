//! What cold worn cells give with the under-voltage settings.

use crate::runs::settings::making::Making;
use crate::runs::settings::standing::standing;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::steady::SETTLED_S;
use sim_core::units;

/// What cold worn cells give with the under-voltage settings.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ColdCase {
    /// Charge, %.
    pub charge_pct: f64,
    /// Current that is left at full throttle, A.
    pub current_a: f64,
    /// Voltage of the pack then, V.
    pub pack_v: f64,
    /// Voltage of its weakest cell, V.
    pub weakest_v: f64,
    /// How far that stays above the cells' lowest voltage, V.
    pub clear_v: f64,
    /// Power at the pack, kW.
    pub power_kw: f64,
}

impl Making<'_> {
    pub(super) fn cold(&self, start_v: f64, out_a: f64) -> Vec<ColdCase> {
        let pack = &self.worn.parts().pack;
        let own = [0.8, 0.5, 0.2].into_iter();
        own.filter(|charge| *charge > pack.mean_charge_when_empty(self.coldest_k))
            .filter_map(|charge| {
                let state = standing(&self.worn, charge, self.coldest_k, 0.0);
                let now = self.worn.now(&state, SETTLED_S).pack;
                // The controller's line from all of its current to none, against the pack's.
                let room_v = start_v - self.end_v;
                let line_a = (now.emf_v - self.end_v) / (now.ohm + room_v / out_a.max(1e-3));
                let current_a = line_a.min(out_a).min(now.discharge_a.0).max(0.0);
                let pack_v = now.emf_v - now.ohm * current_a;
                let weakest_v = now.cell_spread_v(current_a).0;
                // Cells that rest under their lowest voltage give nothing, and are told of apart.
                (now.above_lowest_v(pack, 0.0) >= 0.0).then(|| ColdCase {
                    charge_pct: units::pct_from_share(charge),
                    current_a,
                    pack_v,
                    weakest_v,
                    clear_v: now.above_lowest_v(pack, current_a),
                    power_kw: units::kw_from_w(pack_v * current_a),
                })
            })
            .collect()
    }
}
