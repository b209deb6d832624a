//! What to program into the management of the cells.

use crate::runs::settings::making::Making;
use crate::runs::settings::setting::{Ask, Place, Setting, down, maker, tidy, up};
use crate::runs::settings::standing::{allowed_c, charges, empty, standing};
use crate::words::number;
use sim_core::cell::Cell;
use sim_core::steady::SETTLED_S;
use sim_core::{Curve, units};

/// Charge under that of a full pack down to which a voltage must tell the cells apart, before balancing
/// by voltage does more good than harm (common practice, no source).
const BALANCED_WITHIN: f64 = 0.05;
/// Least difference of voltage over that charge, V: less, and readings that are a few millivolts off
/// drain the wrong cell (common practice, no source).
const TELLS_V: f64 = 0.02;

impl Making<'_> {
    /// Current of the charger into a worn pack, A, and the voltage of its mean cell then, V, at a charge
    /// and a temperature of the cells.
    fn charging(&self, charge: f64, cells_k: f64) -> (f64, f64) {
        let now = self.worn.now(&standing(&self.worn, charge, cells_k, 0.0), SETTLED_S).pack;
        let gives_a = self.prepared.charger.power_w / now.emf_v.max(1.0);
        let amps = gives_a.min(now.charge_now_a().0).max(0.0);
        (amps, (now.emf_v + now.ohm * amps) / self.car.parts().pack.cells_in_series())
    }

    /// The same where that voltage is the highest, at any charge up to one, as cold as the cells get or
    /// warmer.
    fn charging_hardest(&self, up_to: f64) -> (f64, f64) {
        let (cold_k, warm_k) = (self.coldest_k.min(self.warm_k), self.warm_k);
        let at = |i: i32| cold_k + (warm_k - cold_k) * f64::from(i) / 50.0;
        let all = (0..=50).flat_map(|i| {
            charges(empty(self.car).min(up_to), up_to).map(move |charge| (charge, at(i)))
        });
        let told = all.map(|(charge, k)| self.charging(charge, k));
        told.fold((0.0, 0.0), |most, one| if one.1 > most.1 { one } else { most })
    }

    /// From which voltage cells are balanced: above the flat part of their curve, as it is under the
    /// charger's current, under what they reach at the end of a full charge, half-way.
    fn balancing(&self) -> Setting {
        let pack = &self.car.parts().pack;
        let name = "balance, while charging, from";
        let setting = Setting::new("balance_v", Place::CellManagement, name, "V");
        if pack.has_unlike_cells() {
            let ask = "box by box, as their cells are not of one kind: each from a voltage of its own kind";
            return Setting { ask: Some(ask.to_owned()), ..setting };
        }
        let below = (pack.max_charge - BALANCED_WITHIN).max(0.0);
        let flat_v = pack.rested_v(below) / pack.cells_in_series();
        let end_v = self.charger_v(pack.max_charge, self.end_a()) / pack.cells_in_series();
        let full_v = end_v.min(pack.cell.max_v);
        let pct = units::pct_from_share;
        if full_v - flat_v < TELLS_V {
            let ask = format!(
                "not by voltage: from {:.0} to {:.0} % charge a cell rises by {:.0} mV alone; ask the \
                 management's maker, or fill the pack to the steep end of its curve now and then",
                pct(below),
                pct(pack.max_charge),
                units::mv_from_v((full_v - flat_v).max(0.0))
            );
            return Setting { ask: Some(ask), ..setting };
        }
        let (amps, loaded_v) = self.charging_hardest(below);
        let half_way = |low_v: f64| down(0.5 * (low_v + full_v), 0.01).max(low_v);
        if full_v - loaded_v < TELLS_V {
            let ask = format!(
                "only at the tail current: with the charger's {} A a cell of {:.0} % charge or less is \
                 already at {loaded_v:.2} V, worn and as cold as it is charged, where a full charge ends at \
                 {full_v:.2} V; from {:.2} V once no more than {} A are left",
                number(amps, 0),
                pct(below),
                half_way(flat_v),
                number(self.end_a(), 1)
            );
            return Setting { ask: Some(ask), ..setting };
        }
        let value = half_way(loaded_v);
        let path = "pack.cell.open_circuit_v";
        let cells = format!("cells: up to {:.0} % at {} A, worn", pct(below), number(amps, 0));
        let asks = vec![
            self.known.ask(cells, path, loaded_v),
            self.known.ask("charger: its full end, shared by all cells", path, full_v),
        ];
        let asks = asks.into_iter().map(|ask| Ask {
            clear: tidy((ask.limit - value).abs()),
            assumed: false,
            ..ask
        });
        Setting { value: Some(value), asks: asks.collect(), ..setting }.sorted().noted(
            "half-way from the most that the flat part of the cells' curve reaches under the charger's \
             current, worn and as cold as they are charged, to the end of a full charge (common practice, \
             no source); lower, the voltage tells current and temperature, not charge, and balancing \
             drains the wrong cell; a management that fixes its own voltage is right where that lies \
             between the two",
        )
    }

    pub(super) fn of_cells(&self) -> Vec<Setting> {
        let parts = self.car.parts();
        let pack = &parts.pack;
        let new = |key, name: &str, unit| Setting::new(key, Place::CellManagement, name, unit);
        let low = self.known.ask(
            "cells: their lowest voltage",
            "pack.cell.min_v",
            pack.strictest_min_v(),
        );
        let high = self.known.ask(
            "cells: their highest voltage",
            "pack.cell.max_v",
            pack.strictest_max_v(),
        );
        let mut all = vec![
            new("cell_low_v", "lowest cell, drive off at", "V").at_least(vec![low], tidy).noted(
                "the controller's cut-back by voltage comes first, as it ends where the weakest cell \
                 would get there",
            ),
            new("cell_high_v", "highest cell, charge off at", "V").at_most(vec![high], tidy),
            self.balancing(),
        ];
        let gives: fn(&Cell) -> &Curve = |cell| &cell.discharge_factor;
        let takes: fn(&Cell) -> &Curve = |cell| &cell.charge_factor;
        let each = [
            (
                ["drive_low_c", "drive_high_c"],
                ["coldest cell that gives", "hottest cell that gives"],
                "pack.cell.discharge_share",
                gives,
            ),
            (
                ["charge_low_c", "charge_high_c"],
                ["coldest cell that takes charge", "hottest cell that takes charge"],
                "pack.cell.charge_share",
                takes,
            ),
        ];
        for (keys, names, path, curve) in each {
            // Of several boxes the strictest.
            let limits = || pack.boxes().map(|(own, _)| allowed_c(curve(&own.cell)));
            let low_c = limits().filter_map(|own| own.0).reduce(f64::max);
            let high_c = limits().filter_map(|own| own.1).reduce(f64::min);
            for (i, limit_c) in [low_c, high_c].into_iter().enumerate() {
                let setting = new(keys[i], names[i], "°C");
                let ask = |limit_c| {
                    vec![self.known.ask("cells: nothing is left of their current", path, limit_c)]
                };
                all.push(match limit_c {
                    Some(limit_c) if i == 0 => setting.at_least(ask(limit_c), |c| up(c, 1.0)),
                    Some(limit_c) => setting.at_most(ask(limit_c), |c| down(c, 1.0)),
                    None => Setting { ask: Some(maker("cells")), ..setting },
                });
            }
        }
        if pack.has_unlike_cells() {
            let note = "the strictest of all boxes, as their cells are not of one kind; a management that \
                        knows them apart may give each its own";
            for setting in all.iter_mut().filter(|setting| setting.value.is_some()) {
                let more = setting.note.take().map_or_else(String::new, |own| format!("; {own}"));
                setting.note = Some(format!("{note}{more}"));
            }
        }
        all
    }
}
