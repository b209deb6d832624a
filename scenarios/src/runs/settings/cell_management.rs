//! What to program into the management of the cells.

use crate::runs::settings::making::Making;
use crate::runs::settings::setting::{Place, Setting, down, maker, tidy, up};
use crate::runs::settings::standing::allowed_c;

impl Making<'_> {
    pub(super) fn of_cells(&self) -> Vec<Setting> {
        let parts = self.car.parts();
        let cell = &parts.pack.cell;
        let new = |key, name: &str, unit| Setting::new(key, Place::CellManagement, name, unit);
        let low = self.known.ask("cells: their lowest voltage", "pack.cell.min_v", cell.min_v);
        let high = self.known.ask("cells: their highest voltage", "pack.cell.max_v", cell.max_v);
        let mut all = vec![
            new("cell_low_v", "lowest cell, drive off at", "V").at_least(vec![low], tidy).noted(
                "the controller's cut-back by voltage comes first, as it ends where the weakest cell \
                 would get there",
            ),
            new("cell_high_v", "highest cell, charge off at", "V").at_most(vec![high], tidy),
        ];
        for (keys, names, path, curve) in [
            (
                ["drive_low_c", "drive_high_c"],
                ["coldest cell that gives", "hottest cell that gives"],
                "pack.cell.discharge_share",
                &cell.discharge_factor,
            ),
            (
                ["charge_low_c", "charge_high_c"],
                ["coldest cell that takes charge", "hottest cell that takes charge"],
                "pack.cell.charge_share",
                &cell.charge_factor,
            ),
        ] {
            let (low_c, high_c) = allowed_c(curve);
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
        all
    }
}
