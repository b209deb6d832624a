//! What to program into the charger.

use crate::cells_in_series::CHARGER_ACCURACY;
use crate::runs::regen::half_charge;
use crate::runs::settings::making::Making;
use crate::runs::settings::setting::{Place, Setting, amps, down, up};
use crate::runs::settings::standing::{charges, empty, standing};
use sim_core::steady::SETTLED_S;
use sim_core::units;

/// Charge that a stop by voltage may be off before another way to stop is better, as a share.
const WORTH_STOPPING: f64 = 0.1;

impl Making<'_> {
    /// Voltage at which a charger that lets its current fall to its end current stops at a charge, V.
    pub(super) fn charger_v(&self, charge: f64, end_a: f64) -> f64 {
        let now = self.car.now(&standing(self.car, charge, self.warm_k, 0.0), SETTLED_S).pack;
        now.emf_v + now.ohm * end_a
    }

    /// Current at which a full charge ends, A.
    pub(super) fn end_a(&self) -> f64 {
        let pack = &self.car.parts().pack;
        units::ah_from_as(self.prepared.charger.end_c_rate * pack.capacity_as())
    }

    pub(super) fn of_charger(&self, daily: f64, over_v: f64) -> Vec<Setting> {
        let parts = self.car.parts();
        let pack = &parts.pack;
        let charger = &self.prepared.charger;
        let new = |key, name: String, unit| Setting::new(key, Place::Charger, name, unit);
        let end_a = self.end_a();
        let lowest_v = self.charger_v(empty(self.car), 0.0);
        let long_a =
            self.car.now(&standing(self.car, half_charge(self.car), self.warm_k, 0.0), 0.0);
        let current = new("charger_current_a", "current, at most".to_owned(), "A")
            .at_most(
                vec![
                    self.known.ask(
                        "charger: what its power gives on an empty pack",
                        "charger.power_kw",
                        charger.power_w / lowest_v.max(1.0),
                    ),
                    self.known.ask(
                        "cells: what they take for long",
                        "pack.cell.charge_a",
                        long_a.pack.charge_now_a().0,
                    ),
                ],
                amps,
            )
            .noted("for warm cells; cold ones take what stands in the table, for long");
        let most_v = self
            .car
            .now(&standing(self.car, pack.max_charge, self.warm_k, 0.0), 0.0)
            .pack
            .pack_v_at_highest_cell(pack)
            .min(over_v.max(pack.rested_v(pack.max_charge)));
        let stop = |charge: f64| {
            let stop_v = self.charger_v(charge, end_a);
            let at = |share: f64| stop_v * share;
            let reached = |volts: f64| {
                let found = charges(0.0, 1.0).find(|s| self.charger_v(*s, end_a) >= volts);
                found.unwrap_or(1.0)
            };
            (reached(at(1.0 - CHARGER_ACCURACY)), reached(at(1.0 + CHARGER_ACCURACY)))
        };
        let told = |charge: f64| {
            let (low, high) = stop(charge);
            let pct = units::pct_from_share;
            let off = format!(
                "a charger that is {} % off ends anywhere from {:.0} to {:.0} %",
                units::pct_from_share(CHARGER_ACCURACY),
                pct(low),
                pct(high)
            );
            match high - low {
                apart if apart < 0.01 => format!(
                    "a charger that is {} % off ends within 1 % of that charge",
                    units::pct_from_share(CHARGER_ACCURACY)
                ),
                apart if apart > WORTH_STOPPING => {
                    format!("{off}: stop by counted charge or by time instead")
                }
                _ => off,
            }
        };
        let charge_ask = |charge: f64, volts: f64| {
            let words = format!(
                "pack: {:.0} % charged when {end_a:.1} A are left",
                units::pct_from_share(charge)
            );
            self.known.ask(words, "pack.max_charge_pct", volts)
        };
        let cells = "cells: the first at its highest voltage";
        let daily = daily.min(pack.max_charge);
        let mut all = vec![current];
        for (key, name, charge) in [
            ("charger_full_v", "end voltage, full".to_owned(), pack.max_charge),
            (
                "charger_daily_v",
                format!("end voltage, daily stop at {:.0} %", units::pct_from_share(daily)),
                daily,
            ),
        ] {
            let asks = vec![
                charge_ask(charge, self.charger_v(charge, end_a)),
                self.known.ask(cells, "pack.cell.max_v", most_v),
            ];
            let setting = new(key, name, "V").at_most(asks, |v| down(v, 0.1));
            all.push(setting.noted(told(charge)));
        }
        let ends = vec![self.known.ask(
            "charger: where its full charge ends",
            "charger.end_c_rate",
            end_a,
        )];
        all.push(
            new("charger_end_current_a", "current at which it ends".to_owned(), "A")
                .at_least(ends, |a| up(a, 0.1)),
        );
        all
    }
}
