//! Currents by cell temperature.

use crate::runs::settings::making::Making;
use crate::runs::settings::setting::amps;
use crate::runs::settings::standing::{cells_out_a, charges, empty, into_a, least_between};
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::units;

/// Ends of the steps in cell temperature, °C.
pub(super) const STEPS_C: [f64; 15] =
    [-30.0, -20.0, -10.0, -5.0, 0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 35.0, 45.0, 50.0, 55.0, 60.0];
/// Charges up to which currents into the pack are told, as far as the pack is filled.
pub(super) const IN_UP_TO: [f64; 4] = [0.5, 0.8, 0.9, 0.95];

/// Currents that controller and cells bear between two cell temperatures.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CurrentRow {
    /// From which temperature of the cells, °C.
    pub from_c: f64,
    /// Up to which, °C.
    pub to_c: f64,
    /// Out of the pack for a short time, A.
    pub out_short_a: f64,
    /// Out of the pack for long, A.
    pub out_long_a: f64,
    /// Into the pack for a short time, up to the first of the charges, A.
    pub in_short_a: f64,
    /// Into the pack for long, up to each of the charges, A.
    pub in_long_a: Vec<f64>,
}

impl Making<'_> {
    pub(super) fn currents(&self, in_up_to: &[f64]) -> Vec<CurrentRow> {
        let low = empty(self.car);
        let out = |from_to, reserve: f64| {
            let cells_a = least_between(self.car, from_to, |k| cells_out_a(self.car, k, reserve));
            let left_a = cells_a - self.auxiliaries_a;
            amps(left_a.min(self.car.parts().controller.pack_current_a))
        };
        let into = |from_to, up_to: f64, reserve: f64| {
            // Worn cells meet their highest voltage first.
            let of = |charge: f64| {
                least_between(&self.worn, from_to, |k| into_a(&self.worn, charge, k, reserve))
            };
            amps(charges(low, up_to).step_by(10).map(of).fold(f64::INFINITY, f64::min))
        };
        let mut rows: Vec<CurrentRow> = Vec::new();
        for ends in STEPS_C.windows(2) {
            let from_to = (units::k_from_c(ends[0]), units::k_from_c(ends[1]));
            let row = CurrentRow {
                from_c: ends[0],
                to_c: ends[1],
                out_short_a: out(from_to, 1.0),
                out_long_a: out(from_to, 0.0),
                in_short_a: into(from_to, in_up_to[0], 1.0),
                in_long_a: in_up_to.iter().map(|up_to| into(from_to, *up_to, 0.0)).collect(),
            };
            match rows.last_mut() {
                Some(before)
                    if (CurrentRow { from_c: before.from_c, to_c: before.to_c, ..row.clone() })
                        == *before =>
                {
                    before.to_c = row.to_c;
                }
                _ => rows.push(row),
            }
        }
        rows
    }
}
