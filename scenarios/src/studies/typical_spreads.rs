//! How uncertain the fields of a home-made conversion usually are.

use crate::studies::spread::Spread;

/// Path, what to call it, spread, reason. All are common practice without a source.
const TYPICAL: [(&str, &str, &str, &str); 41] = [
    ("donor.kerb_mass_kg", "kerb mass", "±2%", "brochures leave out options, fluids and repairs"),
    ("removed.*.mass_kg", "removed masses", "±10%", "estimated rather than weighed"),
    ("added.*.mass_kg", "added masses", "±10%", "estimated before it is built"),
    ("load.*.mass_kg", "load", "±15%", "people and luggage differ from day to day"),
    ("donor.drag_area_m2", "drag area", "±8%", "known from cars alike, not from this one"),
    ("donor.drag_coefficient", "drag area", "±8%", "known from cars alike, not from this one"),
    ("donor.coast_down.f0_n", "coast-down f0", "±8%", "wind and slope of the test road"),
    ("donor.coast_down.f2_n_per_kmh2", "coast-down f2", "±6%", "wind of the test road"),
    ("donor.coast_down.a_lbf", "coast-down a", "±8%", "wind and slope of the test road"),
    ("donor.coast_down.c_lbf_per_mph2", "coast-down c", "±6%", "wind of the test road"),
    ("tyre.rolling_resistance", "rolling resistance", "±15%", "pressure, tread and asphalt"),
    ("tyre.label_n_per_kn", "rolling resistance", "±12%", "pressure, wear and asphalt"),
    ("gearbox.efficiency_pct", "gearbox efficiency", "±2", "age, oil and its temperature"),
    ("gearbox.gears.*.efficiency_pct", "gearbox efficiency", "±2", "age, oil and its temperature"),
    (
        "gearbox.drag_nm,gearbox.drag_nm_per_krpm",
        "gearbox drag",
        "±30%",
        "thick or thin oil, and how it was run in",
    ),
    (
        "donor.bearings_n",
        "bearings and pads",
        "±40%",
        "pads drag until the wheel is turned by hand",
    ),
    ("motor.loss_coefficients.copper_w_per_a2", "copper loss", "±15%", "seldom measured"),
    ("motor.loss_coefficients.hysteresis_w_per_krpm", "hysteresis loss", "±20%", "seldom measured"),
    ("motor.loss_coefficients.eddy_w_per_krpm2", "eddy loss", "±20%", "seldom measured"),
    ("motor.efficiency_points.*.efficiency_pct", "motor efficiency", "±1.5", "as data sheets are"),
    ("motor.efficiency_map.efficiency_pct.*.*", "motor efficiency", "±1.5", "as data sheets are"),
    (
        "motor.nameplate.continuous_power_kw,motor.nameplate.short_time.power_kw",
        "motor's ratings",
        "±8%",
        "rounded, and met by one motor better than by another",
    ),
    ("motor.nameplate.winding_rise_share_pct", "winding's own rise", "±7", "seldom stated"),
    (
        "motor.nameplate.specific_heat_j_per_kg_k",
        "motor's heat capacity",
        "±40",
        "its metals in unknown shares",
    ),
    ("motor.nameplate.road_air_share_pct", "motor in the road's air", "±12", "where it sits"),
    ("motor.nodes.winding_to_housing_w_per_k", "winding to housing", "±20%", "seldom measured"),
    ("motor.nodes.still_air_w_per_k", "motor to still air", "±20%", "where the motor sits"),
    ("motor.nodes.fan_w_per_k_at_1000_rpm", "motor's fan", "±20%", "where the motor sits"),
    ("motor.nodes.coolant_w_per_k", "motor to coolant", "±15%", "flow and air in the coolant"),
    ("controller.loss_w_per_a", "controller loss", "±20%", "seldom stated"),
    ("controller.conductance_w_per_k", "controller cooling", "±20%", "how and where it is mounted"),
    ("pack.cell.resistance.*.mohm", "cell resistance", "±20%", "batch, age and joints"),
    ("pack.state_of_health_pct", "state of health", "±3", "new cells differ, used ones more"),
    (
        "pack.boxes.*.cell.resistance.*.mohm",
        "cell resistance",
        "±20%",
        "batch, age and joints, each box by itself",
    ),
    (
        "pack.boxes.*.state_of_health_pct",
        "state of health",
        "±3",
        "new cells differ, used ones more, each box by itself",
    ),
    ("pack.harness_mohm", "harness", "±40%", "crimps and lengths are known when it is built"),
    ("auxiliaries.low_voltage.*.power_w", "auxiliaries", "±25%", "lights and wipers come and go"),
    (
        "auxiliaries.cabin.conductance_w_per_k",
        "cabin's leak",
        "±25%",
        "seals, glass, and how much fresh air is let in",
    ),
    ("charger.efficiency_pct", "charger efficiency", "±2", "stated at full power"),
    (
        "conditions.head_wind_kmh,seasons.*.head_wind_kmh",
        "head wind",
        "normal:±16",
        "an ordinary day, either way",
    ),
    (
        "conditions.air_c,seasons.*.air_c",
        "air temperature",
        "±8",
        "one day in the season is not the next",
    ),
];

/// The typical spreads, for every field that there may be.
pub fn typical_spreads() -> Vec<Spread> {
    TYPICAL
        .iter()
        .filter_map(|(path, name, spread, reason)| {
            let spread = Spread::new(path, spread, reason).ok()?;
            Some(Spread { name: (*name).to_owned(), ..spread })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_are_readable() {
        assert_eq!(typical_spreads().len(), TYPICAL.len());
    }
}
