//! The pack of a standing car as the settings ask about it.

use sim_core::steady::SETTLED_S;
use sim_core::{Car, Curve, State, units};

/// Temperature at which cells are rated, °C (IEC 62660-1, from memory).
pub(super) const WARM_C: f64 = 25.0;

/// A car standing as it is asked about.
pub(super) fn standing(car: &Car, charge: f64, cells_k: f64, peak_reserve: f64) -> State {
    let parked = State::parked(charge, car.surroundings().air_k);
    State { peak_reserve, ..parked.cells_at(cells_k) }
}

/// Current that the cells give at a temperature with so much of their short peak left, A.
pub(super) fn cells_out_a(car: &Car, cells_k: f64, reserve: f64) -> f64 {
    let state = standing(car, car.parts().pack.max_charge, cells_k, reserve);
    car.now(&state, SETTLED_S).pack.discharge_a.0
}

/// Current that controller, cells and their highest voltages let into the pack, A.
pub(super) fn into_a(car: &Car, charge: f64, cells_k: f64, reserve: f64) -> f64 {
    let parts = car.parts();
    let now = car.now(&standing(car, charge, cells_k, reserve), SETTLED_S).pack;
    let by_cells_v = now.charge_at_highest_v_a(&parts.pack);
    let by_controller_v = (parts.controller.max_v - now.emf_v) / now.ohm;
    let most_a = now.charge_a.0.min(parts.controller.pack_regen_current_a);
    most_a.min(by_cells_v).min(by_controller_v).max(0.0)
}

/// The least of something between two temperatures, looked at wherever a curve of the cells has a
/// corner.
pub(super) fn least_between(car: &Car, (from_k, to_k): (f64, f64), of: impl Fn(f64) -> f64) -> f64 {
    let curves = car.parts().pack.boxes().flat_map(|(own, _)| {
        let cell = &own.cell;
        [&cell.discharge_factor, &cell.charge_factor, &cell.resistance_factor]
    });
    let corners = curves.flat_map(Curve::points).map(|(k, _)| k);
    let within = corners.filter(|k| (from_k..to_k).contains(k));
    within.chain([from_k, to_k]).map(of).fold(f64::INFINITY, f64::min)
}

/// Charges from empty to a charge, close enough that no corner of a cell's curve lies between by much.
pub(super) fn charges(from: f64, to: f64) -> impl Iterator<Item = f64> + Clone {
    (0..=200).map(move |i| from + (to - from) * f64::from(i) / 200.0)
}

/// Charge of the mean cell of a warm pack that is empty.
pub fn empty(car: &Car) -> f64 {
    car.parts().pack.mean_charge_when_empty(units::k_from_c(WARM_C))
}

/// From where to where a share is more than nothing, as far as the curve says it, °C.
pub(super) fn allowed_c(curve: &Curve) -> (Option<f64>, Option<f64>) {
    let points: Vec<(f64, f64)> = curve.points().collect();
    let is_none = |point: &&(f64, f64)| point.1 <= 0.0;
    let low = points.iter().take_while(is_none).last();
    let high = points.iter().rev().take_while(is_none).last();
    let c = |point: Option<&(f64, f64)>| point.map(|(k, _)| units::c_from_k(*k));
    (c(low), c(high))
}
