//! What no part's data say and somebody has to be asked for.

use crate::runs::settings::making::Making;

impl Making<'_> {
    pub(super) fn not_known(&self) -> Vec<String> {
        let parts = self.car.parts();
        let mut all = Vec::new();
        if !parts.gearbox.max_input_nm.is_finite() {
            all.push(
                "what torque the gearbox input bears (gearbox.max_input_nm): ask its maker, or take \
                 the donor engine's torque as a sign"
                    .to_owned(),
            );
        }
        if !parts.gearbox.max_input_radps.is_finite() {
            all.push(
                "what speed the gearbox input bears (gearbox.max_input_rpm): ask its maker, or take \
                 the donor engine's highest rpm as a sign"
                    .to_owned(),
            );
        }
        all.push(
            "what fuse, contactors and cables bear: ask their makers; each must carry the pack current \
             for long and break the fault current at the pack's direct voltage"
                .to_owned(),
        );
        for (path, what) in [
            (
                "controller.pack_regen_current_a",
                "what current the controller puts back into the pack",
            ),
            ("pack.cell.charge_share", "what charge current the cells take when cold or hot"),
            ("pack.cell.discharge_share", "what current the cells give when cold or hot"),
            ("charger.power_kw", "what power the charger has"),
            ("charger.end_c_rate", "at which current the charger ends"),
        ] {
            if self.known.is_assumed(path) {
                all.push(format!("{what} ({path}): typical values stand in; ask the maker"));
            }
        }
        all
    }
}
