//! Parts that contradict each other, so that no setting helps.

use crate::runs::regen::half_charge;
use crate::runs::settings::currents::STEPS_C;
use crate::runs::settings::making::Making;
use crate::runs::settings::standing::{WARM_C, allowed_c, cells_out_a, charges, empty, standing};
use crate::warning::{Severity, Warning, mismatches};
use sim_core::cell::Cell;
use sim_core::steady::SETTLED_S;
use sim_core::{Car, Curve, units};

impl Making<'_> {
    /// What the coldest cells do not do at all.
    pub(super) fn when_coldest(&self) -> Vec<String> {
        let pack = &self.car.parts().pack;
        let cold_c = units::c_from_k(self.coldest_k);
        // All boxes must do it.
        let share = |of: fn(&Cell) -> &Curve, k: f64| {
            pack.boxes().map(|(own, _)| of(&own.cell).at(k)).fold(f64::INFINITY, f64::min)
        };
        let discharge: fn(&Cell) -> &Curve = |cell| &cell.discharge_factor;
        let charge: fn(&Cell) -> &Curve = |cell| &cell.charge_factor;
        // How far up their share stays at nothing, which says nothing of how far the car goes above it.
        let lows = |of: fn(&Cell) -> &Curve| {
            pack.boxes().filter_map(|(own, _)| allowed_c(of(&own.cell)).0).reduce(f64::max)
        };
        let up_to = |of: fn(&Cell) -> &Curve| match lows(of).filter(|c| *c > cold_c + 0.5) {
            Some(c) => format!(", nor up to {c:.0} °C"),
            None => String::new(),
        };
        let mut found = Vec::new();
        if share(discharge, self.coldest_k) <= 0.0 {
            found.push(format!(
                "At {cold_c:.0} °C the cells give no current{}: the car does not move. The settings at 0 A say \
                 that, and are no fault.",
                up_to(discharge)
            ));
        } else if cells_out_a(self.car, self.coldest_k, 0.0) <= self.auxiliaries_a {
            found.push(format!(
                "At {cold_c:.0} °C the cells give no more for long than 12 V and heater take, {:.0} A: the \
                 car does not move with the heater on.",
                self.auxiliaries_a
            ));
        }
        if share(charge, self.coldest_k) <= 0.0 {
            found.push(format!(
                "At {cold_c:.0} °C the cells take no charge{}: neither charger nor regen works.",
                up_to(charge)
            ));
        }
        found
    }

    /// Charge that is left where the voltage under a current falls to the controller's lowest, as a
    /// share; `None` where it stays above it until the pack is empty.
    fn left_at_stop(&self, car: &Car, cells_k: f64, out_a: f64) -> Option<f64> {
        let min_v = car.parts().controller.min_v;
        let low = car.parts().pack.mean_charge_when_empty(cells_k);
        let under = |charge: f64| {
            let now = car.now(&standing(car, charge, cells_k, 0.0), SETTLED_S).pack;
            now.emf_v - now.ohm * out_a < min_v
        };
        let high = car.parts().pack.max_charge;
        if !under(low) {
            return None;
        }
        Some(charges(low, high).filter(|charge| under(*charge)).last().unwrap_or(low))
    }

    pub(super) fn contradictions(&self, long_a: f64, charger_a: f64, over_v: f64) -> Vec<Warning> {
        let parts = self.car.parts();
        let (pack, controller) = (&parts.pack, &parts.controller);
        let mut found = Vec::new();
        let mut warn = |severity, text: String| found.push(Warning { severity, text });
        let cold_c = units::c_from_k(self.coldest_k);
        let pct = units::pct_from_share;
        let full_v = pack.rested_v(pack.max_charge);
        for clash in mismatches(self.car, &self.prepared.scenario.build) {
            warn(Severity::Danger, clash.text);
        }
        if self.end_v >= over_v {
            warn(
                Severity::Danger,
                format!(
                    "The cut-back by under-voltage ends at {:.1} V, and no regen is allowed from \
                     {over_v:.1} V: nothing lies between, so that the pack does not go with this \
                     controller. See \"Cells in series\".",
                    self.end_v
                ),
            );
        }
        if full_v > over_v && full_v <= controller.max_v {
            warn(
                Severity::Limit,
                format!(
                    "The full pack rests at {full_v:.1} V, over the {over_v:.1} V from which there must be no \
                     regen: brakes alone slow the car then. Where the controller knows one over-voltage \
                     alone, at which it stops, it would not come on after a full charge: end the charge \
                     lower, or leave that at the controller's own."
                ),
            );
        }
        // A pack that is under it when it is full does not drive at all, which was said.
        let drives = full_v >= controller.min_v;
        if let Some(left) = self.left_at_stop(self.car, self.warm_k, long_a).filter(|_| drives) {
            warn(
                Severity::Danger,
                format!(
                    "The controller stops below {} V, and at {long_a:.0} A the warm pack is there with \
                     {:.0} % of its charge: full throttle then takes the drive away in traffic, before \
                     the cells are empty at {:.0} %. It takes more cells in series, or a controller \
                     that works lower.",
                    controller.min_v,
                    pct(left),
                    pct(empty(self.car))
                ),
            );
        } else if drives
            && let cold_a = long_a.min(cells_out_a(&self.worn, self.coldest_k, 0.0))
            && let Some(left) = self.left_at_stop(&self.worn, self.coldest_k, cold_a)
        {
            warn(
                Severity::Limit,
                format!(
                    "At {cold_c:.0} °C worn cells that give {cold_a:.0} A bring the pack under the {} V \
                     at which the controller stops from {:.0} % of charge on: the cut-back by voltage \
                     must be on, or the drive goes away.",
                    controller.min_v,
                    pct(left)
                ),
            );
        }
        let weakest_v =
            self.car.now(&standing(self.car, empty(self.car), self.warm_k, 0.0), 0.0).pack;
        let under_v = -weakest_v.above_lowest_v(pack, 0.0);
        if under_v > 0.0 {
            let at = match pack.has_unlike_cells() {
                true => format!("{:.0} mV under its lowest voltage", units::mv_from_v(under_v)),
                false => format!(
                    "{:.2} V, under its lowest voltage, {} V",
                    weakest_v.cell_spread_v(0.0).0,
                    pack.cell.min_v
                ),
            };
            warn(
                Severity::Danger,
                format!(
                    "At the pack's lowest charge the weakest cell rests at {at}: raise \
                     pack.min_charge_pct."
                ),
            );
        }
        let end_a = self.end_a();
        if end_a >= charger_a && charger_a > 0.0 {
            warn(
                Severity::Limit,
                format!(
                    "A full charge ends at {end_a:.1} A and the charger gives {charger_a:.1} A: it would end \
                     as it begins. Lower charger.end_c_rate."
                ),
            );
        }
        let from_c = STEPS_C.into_iter().filter(|c| *c < WARM_C);
        let mut too_much = from_c.filter(|c| {
            let k = units::k_from_c(*c);
            let state = standing(self.car, half_charge(self.car), k, 0.0);
            let taken_a = self.car.now(&state, 0.0).pack.charge_now_a().0;
            taken_a > 0.0 && taken_a < charger_a
        });
        if let Some(below_c) = too_much.next_back() {
            warn(
                Severity::Limit,
                format!(
                    "The charger gives {charger_a:.0} A, more than the cells take at {below_c:.0} °C: \
                     the management of the cells must be able to lower it, or it is set to what they \
                     take there."
                ),
            );
        }
        found.sort_by_key(|warning| std::cmp::Reverse(warning.severity));
        found
    }
}
