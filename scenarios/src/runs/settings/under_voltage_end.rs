//! Where the cut-back by voltage ends.

use crate::runs::settings::setting::{Known, Place, Setting, up};
use crate::runs::settings::standing::{WARM_C, charges, empty, standing};
use sim_core::{Car, units};

/// The end of the under-voltage cut-back: where the first part would be hurt.
pub(super) fn under_voltage_end(known: &Known<'_>, car: &Car) -> Setting {
    let (pack, controller) = (&car.parts().pack, &car.parts().controller);
    let (low, high) = (empty(car), pack.max_charge);
    let inside = pack.bends().into_iter().filter(|charge| (low..high).contains(charge));
    let cells_v = inside
        .chain(charges(low, high))
        .map(|charge| {
            let now = car.now(&standing(car, charge, units::k_from_c(WARM_C), 1.0), 0.0).pack;
            now.pack_v_at_lowest_cell(pack)
        })
        .fold(f64::NEG_INFINITY, f64::max);
    let cells = match pack.has_unlike_cells() {
        true => "cells: the first at its lowest voltage".to_owned(),
        false => format!("cells: the weakest at its lowest voltage, {} V", pack.cell.min_v),
    };
    let asks = vec![
        known.ask(cells, "pack.cell.min_v", cells_v),
        known.ask("controller: stops below", "controller.min_v", controller.min_v),
    ];
    Setting::new("under_voltage_end_v", Place::Controller, "under-voltage: nothing left at", "V")
        .at_least(asks, |v| up(v, 0.1))
        .noted("of the pack at the controller; the weakest cell, not the mean one, sets it")
}
