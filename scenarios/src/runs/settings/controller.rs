//! What to program into the motor controller.

use crate::runs::regen::half_charge;
use crate::runs::settings::making::Making;
use crate::runs::settings::setting::{Ask, Place, Setting, amps, down, tidy};
use crate::runs::settings::standing::{cells_out_a, charges, empty, least_between, standing};
use sim_core::steady::SETTLED_S;
use sim_core::{Car, units};

/// Room between begin and end of the under-voltage cut-back where the pack leaves none, as a share of
/// the end (common practice, no source).
const LEAST_ROOM: f64 = 0.02;
/// Share of its rated current that a fuse is loaded with for hours in a warm car (common practice, no
/// source; its maker's curves by time and by air decide).
const FUSE_SHARE: f64 = 0.8;

impl Making<'_> {
    pub(super) fn motor_current(&self) -> Setting {
        let parts = self.car.parts();
        let machine = &parts.motor.machine;
        let mut asks = vec![
            self.known.ask(
                "controller: its largest motor current",
                "controller.motor_current_a",
                parts.controller.motor_current_a,
            ),
            self.known.ask(
                "motor: its peak current",
                "motor.peak_current_a",
                machine.peak_current_a,
            ),
        ];
        for (part, path, nm) in [
            ("gearbox: largest input torque", "gearbox.max_input_nm", parts.gearbox.max_input_nm),
            ("clutch: slips above", "gearbox.clutch.max_nm", parts.gearbox.clutch_nm),
        ] {
            if nm.is_finite() {
                let part = format!("{part}, {nm:.0} N·m");
                asks.push(self.known.ask(part, path, machine.current_for_at_most_a(nm)));
            }
        }
        Setting::new("motor_current_a", Place::Controller, "motor current, at most", "A")
            .at_most(asks, amps)
    }

    /// Asks for a current out of the pack with so much of the cells' short peak left.
    fn out_of_pack(&self, cells_k: f64, reserve: f64, cells: &str) -> Vec<Ask> {
        let cells_a = cells_out_a(self.car, cells_k, reserve) - self.auxiliaries_a;
        let own_a = self.car.parts().controller.pack_current_a;
        let cells = match self.auxiliaries_a {
            beside if beside >= 0.5 => format!("{cells}, less {beside:.0} A for 12 V and heater"),
            _ => cells.to_owned(),
        };
        vec![
            self.known.ask(
                "controller: its largest pack current",
                "controller.pack_current_a",
                own_a,
            ),
            self.known.ask(cells, "pack.cell.discharge_a", cells_a.max(0.0)),
        ]
    }

    /// What the fuse in the pack's lead asks for, where it is known.
    fn fuse(&self) -> Option<Ask> {
        let rated_a = self.prepared.wires.fuse_a?;
        let part = format!(
            "fuse: {:.0} % of its rated {rated_a} A, less {:.0} A for 12 V and heater",
            units::pct_from_share(FUSE_SHARE),
            self.auxiliaries_a
        );
        let left_a = (FUSE_SHARE * rated_a - self.auxiliaries_a).max(0.0);
        Some(self.known.ask(part, "wiring.fuse_a", left_a))
    }

    pub(super) fn pack_currents(&self) -> [Setting; 3] {
        let peak_s = self.car.parts().pack.shortest_peak_s();
        let cold_c = units::c_from_k(self.coldest_k);
        let new = |key, name: String| Setting::new(key, Place::Controller, name, "A");
        let hot_k = self.car.thermal().cells_warning_k().unwrap_or(self.warm_k);
        let hot_k = hot_k.max(self.coldest_k);
        let whole = (self.coldest_k, hot_k);
        let coldest = least_between(self.car, whole, |k| cells_out_a(self.car, k, 0.0));
        let mut cold = self.out_of_pack(self.warm_k, 0.0, "cells: for long, when coldest");
        cold[1].limit = (coldest - self.auxiliaries_a).max(0.0);
        cold.extend(self.fuse());
        let mut long = self.out_of_pack(self.warm_k, 0.0, "cells: what they give for long");
        long.extend(self.fuse());
        let short_note = match self.prepared.wires.fuse_a {
            Some(rated_a) => format!(
                "where controller or cell management lowers it after that time; whether the fuse of \
                 {rated_a} A bears it that long, again and again, is read off its time-current curve"
            ),
            None => "where controller or cell management lowers it after that time".to_owned(),
        };
        [
            new("pack_current_a", format!("pack current, for at most {peak_s:.0} s"))
                .at_most(self.out_of_pack(self.warm_k, 1.0, "cells: their short peak"), amps)
                .noted(short_note),
            new("pack_current_long_a", "pack current, for long".to_owned())
                .at_most(long, amps)
                .noted("for warm cells; cold ones give what stands in the table"),
            new("pack_current_cold_a", "pack current where it is a single number".to_owned())
                .at_most(cold, amps)
                .noted(format!(
                    "it holds for long, with cells from {cold_c:.0} to {:.0} °C, where nothing lowers \
                     it by time or by their temperature",
                    units::c_from_k(hot_k)
                )),
        ]
    }

    pub(super) fn regen_currents(&self, over_v: f64) -> [Setting; 3] {
        let parts = self.car.parts();
        let half = half_charge(self.car);
        let own_a = parts.controller.pack_regen_current_a;
        let asks = |reserve: f64, cells: &str| {
            let now = self.car.now(&standing(self.car, half, self.warm_k, reserve), SETTLED_S).pack;
            let by_v = now.charge_at_highest_v_a(&parts.pack);
            vec![
                self.known.ask(
                    "controller: its largest current into the pack",
                    "controller.pack_regen_current_a",
                    own_a,
                ),
                self.known.ask(cells, "pack.cell.charge_a", now.charge_a.0),
                self.known.ask("cells: the highest at its voltage", "pack.cell.max_v", by_v),
            ]
        };
        let new = |key, name: String| Setting::new(key, Place::Controller, name, "A");
        let peak_s = parts.pack.shortest_peak_s();
        let stays = format!("for warm cells at half charge; over {over_v} V there is none");
        let whole = (self.coldest_k, self.warm_k.max(self.coldest_k));
        let mut cold = asks(0.0, "cells: for long, when coldest");
        cold[1].limit = least_between(self.car, whole, |k| {
            self.car.now(&standing(self.car, half, k, 0.0), SETTLED_S).pack.charge_now_a().0
        });
        [
            new("regen_current_a", format!("regen into the pack, for at most {peak_s:.0} s"))
                .at_most(asks(1.0, "cells: their short peak"), amps)
                .noted(stays),
            new("regen_current_long_a", "regen into the pack, for long".to_owned())
                .at_most(asks(0.0, "cells: what they take for long"), amps)
                .noted("down a long hill; by charge and temperature it is in the table"),
            new("regen_current_cold_a", "regen where it is a single number".to_owned())
                .at_most(cold, amps)
                .noted(format!(
                    "with cells from {:.0} °C on, where nothing lowers it by their temperature: charging \
                     cold cells plates lithium, and they are lost; at 0, regen stays off until they are warm",
                    units::c_from_k(self.coldest_k)
                )),
        ]
    }

    pub(super) fn over_voltage(&self) -> Setting {
        let parts = self.car.parts();
        let (low, high) = (empty(self.car), parts.pack.max_charge);
        let cells_v = charges(low, high)
            .map(|charge| {
                let now = self.car.now(&standing(self.car, charge, self.warm_k, 1.0), 0.0).pack;
                now.pack_v_at_highest_cell(&parts.pack)
            })
            .fold(f64::INFINITY, f64::min);
        let cells = match parts.pack.has_unlike_cells() {
            true => "cells: the first at its highest voltage".to_owned(),
            false => {
                format!("cells: the first at its highest voltage, {} V", parts.pack.cell.max_v)
            }
        };
        let asks = vec![
            self.known.ask(cells, "pack.cell.max_v", cells_v),
            self.known.ask("controller: stops above", "controller.max_v", parts.controller.max_v),
        ];
        Setting::new("over_voltage_v", Place::Controller, "over-voltage: no regen from", "V")
            .at_most(asks, |v| down(v, 0.1))
    }

    /// Voltage of a pack that is empty and gives a current for long, V.
    fn empty_v(&self, car: &Car, cells_k: f64, out_a: f64) -> f64 {
        let state = standing(car, car.parts().pack.mean_charge_when_empty(cells_k), cells_k, 0.0);
        let now = car.now(&state, SETTLED_S).pack;
        now.emf_v - now.ohm * out_a
    }

    /// The begin of the under-voltage cut-back: as high as costs nothing while the pack is warm.
    pub(super) fn under_voltage_start(&self, out_a: f64) -> Setting {
        let warm_v = self.empty_v(self.car, self.warm_k, out_a);
        let room_v = warm_v.max(self.end_v * (1.0 + LEAST_ROOM));
        let start_v = down(room_v, 0.1).max(tidy(self.end_v + 0.1));
        let mut asks: Vec<Ask> = self.end.asks.clone();
        asks.iter_mut().for_each(|ask| ask.clear = tidy(start_v - ask.limit));
        if warm_v >= start_v {
            let words = format!("pack: warm and empty, it gives {out_a:.0} A at");
            let clear = tidy(warm_v - start_v);
            asks.push(Ask { part: words, limit: warm_v, clear, assumed: false });
        }
        let note = if warm_v > start_v - 1e-9 {
            "no higher, so that a warm pack is not cut back before it is empty; more resistance, of \
             cells or harness, leaves less room above the end"
                .to_owned()
        } else {
            format!(
                "even a warm pack is cut back before it is empty: at {out_a:.0} A it has \
                 {warm_v:.1} V then"
            )
        };
        let setting = Setting::new(
            "under_voltage_start_v",
            Place::Controller,
            "under-voltage: cut-back begins at",
            "V",
        );
        Setting { value: Some(start_v), asks, ..setting }.sorted().noted(note)
    }

    pub(super) fn rpm(&self) -> Setting {
        let parts = self.car.parts();
        let rpm = units::rpm_from_radps;
        let max_rpm = rpm(parts.motor.max_radps);
        let mut asks = vec![self.known.ask("motor: its highest speed", "motor.max_rpm", max_rpm)];
        if parts.gearbox.max_input_radps.is_finite() {
            asks.push(self.known.ask(
                "gearbox: its highest input speed",
                "gearbox.max_input_rpm",
                rpm(parts.gearbox.max_input_radps),
            ));
        }
        Setting::new("max_rpm", Place::Controller, "motor speed, at most", "rpm")
            .at_most(asks, |v| down(v, 10.0))
    }

    pub(super) fn temperatures(&self) -> Vec<Setting> {
        let parts = self.car.parts();
        let c = units::c_from_k;
        let (motor, controller) = (&parts.motor.derating, &parts.controller.derating);
        [
            (
                "motor_warning_c",
                "motor: cut-back begins at",
                "motor: its winding",
                "motor.warning_c",
                c(motor.warning_k),
            ),
            (
                "motor_cut_off_c",
                "motor: nothing left at",
                "motor: its winding",
                "motor.cut_off_c",
                c(motor.cut_off_k),
            ),
            (
                "controller_warning_c",
                "controller: cut-back begins at",
                "controller: its heat sink",
                "controller.warning_c",
                c(controller.warning_k),
            ),
            (
                "controller_cut_off_c",
                "controller: nothing left at",
                "controller: its heat sink",
                "controller.cut_off_c",
                c(controller.cut_off_k),
            ),
        ]
        .into_iter()
        .map(|(key, name, part, path, limit_c)| {
            let setting = Setting::new(key, Place::Controller, name, "°C")
                .at_most(vec![self.known.ask(part, path, limit_c)], |c| down(c, 1.0));
            match key {
                "motor_warning_c" => setting.noted(
                    "of the winding itself: a sensor on the housing shows tens of kelvins less under load; \
                     ask the motor's maker where it sits and what to set there",
                ),
                _ => setting,
            }
        })
        .collect()
    }
}
