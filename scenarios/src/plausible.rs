//! Values that are allowed and outside what is usual of their class: most of them are slips, such as
//! an ohm for a milliohm, and an answer on a slip misleads.
//!
//! The bands are wide: they are to hold every car and part of the trade and to miss a slip by a
//! factor of ten and more. All of them are common practice, no source, but where one is named.

use crate::files::allowed::plain;
use crate::files::short_path::short;
use cycles::Schedule;
use serde_json::Value;
use sim_core::units;

/// What is usual of a field, or of what it makes together with others.
struct Band {
    /// Path from the root of a scenario; `*` stands for each item of a list.
    path: &'static str,
    unit: &'static str,
    /// Power of the field and those of others, whose product is looked at, and its unit.
    power: i32,
    with: &'static [(&'static str, i32)],
    makes: &'static str,
    low: f64,
    high: f64,
    /// The class, after "is usual of".
    of: &'static str,
}

const fn band(
    path: &'static str,
    (low, high): (f64, f64),
    unit: &'static str,
    of: &'static str,
) -> Band {
    Band { path, unit, power: 1, with: &[], makes: unit, low, high, of }
}

/// What a field makes with others.
const fn with(
    path: &'static str,
    unit: &'static str,
    (power, with): (i32, &'static [(&'static str, i32)]),
    (low, high): (f64, f64),
    (makes, of): (&'static str, &'static str),
) -> Band {
    Band { path, unit, power, with, makes, low, high, of }
}

const CAPACITY: &str = "build.pack.cell.capacity_ah";
const CAR: &str = "a light road car";
const CELL: &str = "lithium and lead cells";
const INVERTER: &str = "a traction controller";
const CABLE: &str = "a cable of a car";
const PLACE_M: (f64, f64) = (-1.5, 6.0);

const BANDS: &[Band] = &[
    // Prices: one of them in cents, or in another currency.
    with(
        "money.energy_per_kwh",
        "",
        (1, &[("money.fuel_per_l", -1)]),
        (0.01, 2.0),
        ("times the price of a litre", "energy beside fuel"),
    ),
    with(
        "money.energy_per_kwh",
        "",
        (1, &[("money.fuel_per_usgal", -1)]),
        (0.003, 0.5),
        ("times the price of a gallon", "energy beside fuel"),
    ),
    // The donor.
    band("build.donor.kerb_mass_kg", (300.0, 3000.0), "kg", CAR),
    band("build.donor.gross_mass_kg", (400.0, 4500.0), "kg", CAR),
    band("build.donor.front_axle_max_kg", (150.0, 2500.0), "kg", CAR),
    band("build.donor.rear_axle_max_kg", (150.0, 2500.0), "kg", CAR),
    band("build.donor.front_share_pct", (30.0, 75.0), "%", CAR),
    band("build.donor.friction_brake_front_share_pct", (40.0, 90.0), "%", CAR),
    band("build.donor.wheelbase_m", (1.4, 4.0), "m", CAR),
    band("build.donor.cg_height_m", (0.25, 1.0), "m", CAR),
    band("build.donor.width_m", (1.1, 2.3), "m", CAR),
    band("build.donor.height_m", (0.9, 2.7), "m", CAR),
    band("build.donor.drag_area_m2", (0.3, 2.0), "m²", CAR),
    band("build.donor.drag_coefficient", (0.2, 0.9), "", CAR),
    band("build.donor.frontal_area_m2", (1.0, 4.5), "m²", CAR),
    with(
        "build.donor.frontal_area_m2",
        "m²",
        (1, &[("build.donor.width_m", -1), ("build.donor.height_m", -1)]),
        (0.65, 1.0),
        ("times width and height", "a car, 0.8 to 0.85 of most"),
    ),
    band("build.donor.coast_down.f0_n", (30.0, 800.0), "N", CAR),
    band("build.donor.coast_down.f2_n_per_kmh2", (0.012, 0.15), "N/(km/h)²", CAR),
    band("build.donor.coast_down.a_lbf", (7.0, 180.0), "lbf", CAR),
    band("build.donor.coast_down.c_lbf_per_mph2", (0.007, 0.09), "lbf/mph²", CAR),
    band("build.donor.coast_down.mass_kg", (300.0, 4500.0), "kg", CAR),
    // The gearbox.
    band("build.gearbox.gears.*.ratio", (0.4, 7.0), "", "a gear, by its input over its output"),
    band("build.gearbox.final_drive", (1.8, 8.0), "", "a final drive"),
    band("build.gearbox.single", (2.0, 18.0), "", "a single reduction"),
    band("build.gearbox.gears.*.efficiency_pct", (80.0, 99.5), "%", "a gear"),
    band("build.gearbox.efficiency_pct", (80.0, 99.5), "%", "a gear"),
    band("build.gearbox.drag_nm", (0.02, 8.0), "N·m", "a gearbox that turns idle"),
    band("build.gearbox.drag_nm_per_krpm", (0.005, 3.0), "N·m", "a gearbox that turns idle"),
    band("build.gearbox.shift_s", (0.1, 4.0), "s", "a shift by hand"),
    band("build.gearbox.max_input_nm", (40.0, 1500.0), "N·m", "a gearbox"),
    band("build.gearbox.max_input_rpm", (2500.0, 25_000.0), "rpm", "a gearbox"),
    band("build.gearbox.clutch.max_nm", (40.0, 2000.0), "N·m", "a clutch"),
    // The motor.
    band("build.motor.mass_kg", (5.0, 300.0), "kg", "a traction motor"),
    band("build.motor.max_rpm", (2000.0, 22_000.0), "rpm", "a traction motor"),
    band("build.motor.reference_v", (24.0, 900.0), "V", "a traction motor"),
    band("build.motor.peak_torque_nm", (10.0, 1000.0), "N·m", "a traction motor"),
    band("build.motor.peak_power_kw", (2.0, 500.0), "kW", "a traction motor"),
    with(
        "build.motor.peak_power_kw",
        "kW",
        (1, &[("build.motor.mass_kg", -1)]),
        (0.15, 8.0),
        ("kW/kg", "traction motors"),
    ),
    band("build.motor.power_at_max_rpm_pct", (5.0, 100.0), "%", "a traction motor"),
    band("build.motor.peak_current_a", (30.0, 2000.0), "A", "a traction motor"),
    with(
        "build.motor.peak_torque_nm",
        "N·m",
        (1, &[("build.motor.peak_current_a", -1)]),
        (0.03, 5.0),
        ("N·m/A", "traction motors"),
    ),
    with(
        "build.motor.magnetising_current_a",
        "A",
        (1, &[("build.motor.peak_current_a", -1)]),
        (0.04, 0.6),
        ("of the peak current", "induction motors"),
    ),
    band("build.motor.brush_drop_v", (0.5, 5.0), "V", "a pair of brushes"),
    band("build.motor.regen_share_pct", (5.0, 120.0), "%", "a traction motor"),
    band("build.motor.losses_at_c", (10.0, 200.0), "°C", "a winding"),
    with(
        "build.motor.loss_coefficients.copper_w_per_a2",
        "Ω",
        (1, &[("build.motor.peak_current_a", 2), ("build.motor.peak_power_kw", -1)]),
        (8.0, 1500.0),
        ("W of copper loss for each kW at the peak", "traction motors"),
    ),
    band("build.motor.efficiency_points.*.efficiency_pct", (20.0, 98.5), "%", "a motor"),
    band("build.motor.nameplate.continuous_power_kw", (0.5, 250.0), "kW", "a traction motor"),
    with(
        "build.motor.nameplate.continuous_power_kw",
        "kW",
        (1, &[("build.motor.peak_power_kw", -1)]),
        (0.08, 1.0),
        ("of the peak power", "traction motors"),
    ),
    band("build.motor.nameplate.continuous_rpm", (500.0, 16_000.0), "rpm", "a traction motor"),
    band("build.motor.nameplate.short_time.power_kw", (0.5, 500.0), "kW", "a traction motor"),
    band("build.motor.nameplate.short_time.minutes", (0.5, 480.0), "min", "a short-time rating"),
    band("build.motor.nameplate.ambient_c", (10.0, 60.0), "°C", "a rating"),
    band("build.motor.nameplate.coolant_c", (10.0, 95.0), "°C", "a coolant"),
    band("build.motor.nameplate.still_air_share_pct", (2.0, 100.0), "%", "a shaft fan"),
    band("build.motor.nameplate.road_air_share_pct", (1.0, 300.0), "%", "a motor in a car"),
    band("build.motor.nameplate.winding_rise_share_pct", (5.0, 95.0), "%", "a motor"),
    band("build.motor.warning_c", (80.0, 230.0), "°C", "a winding"),
    band("build.motor.cut_off_c", (90.0, 260.0), "°C", "a winding"),
    band("build.motor.rotor_inertia_kg_m2", (0.001, 0.6), "kg·m²", "a rotor"),
    // The controller.
    band("build.controller.mass_kg", (0.8, 80.0), "kg", INVERTER),
    band("build.controller.pack_current_a", (30.0, 2000.0), "A", INVERTER),
    band("build.controller.pack_regen_current_a", (5.0, 2000.0), "A", INVERTER),
    band("build.controller.motor_current_a", (30.0, 2500.0), "A", INVERTER),
    band("build.controller.min_v", (10.0, 700.0), "V", INVERTER),
    band("build.controller.max_v", (24.0, 1000.0), "V", INVERTER),
    band("build.controller.fixed_loss_w", (2.0, 500.0), "W", INVERTER),
    band("build.controller.loss_w_per_a", (0.05, 15.0), "W/A", INVERTER),
    band("build.controller.loss_w_per_a2", (5e-5, 0.05), "Ω", INVERTER),
    band("build.controller.heat_capacity_kj_per_k", (0.3, 80.0), "kJ/K", INVERTER),
    band("build.controller.conductance_w_per_k", (0.8, 400.0), "W/K", INVERTER),
    band("build.controller.coolant_c", (10.0, 90.0), "°C", "a coolant"),
    band("build.controller.warning_c", (45.0, 130.0), "°C", INVERTER),
    band("build.controller.cut_off_c", (55.0, 160.0), "°C", INVERTER),
    // Cell and pack.
    band(CAPACITY, (1.0, 500.0), "Ah", CELL),
    with(
        // By the mass alone it cannot be told which of the three is the slip.
        "build.pack.cell.mass_kg",
        "",
        (-1, &[(CAPACITY, 1), ("build.pack.cell.max_v", 1)]),
        (20.0, 340.0),
        ("Wh/kg at its highest voltage", "cells of any chemistry that is sold"),
    ),
    band("build.pack.cell.specific_heat_j_per_kg_k", (600.0, 1600.0), "J/(kg·K)", CELL),
    band("build.pack.cell.min_v", (1.2, 3.4), "V", CELL),
    band("build.pack.cell.max_v", (2.2, 4.5), "V", CELL),
    with(
        "build.pack.cell.resistance.*.mohm",
        "mΩ",
        (1, &[(CAPACITY, 1)]),
        (8.0, 1000.0),
        ("mΩ·Ah", CELL),
    ),
    with(
        "build.pack.cell.polarisation_mohm",
        "mΩ",
        (1, &[(CAPACITY, 1)]),
        (3.0, 800.0),
        ("mΩ·Ah", CELL),
    ),
    band("build.pack.cell.resistance_growth.*.factor", (0.2, 40.0), "", CELL),
    band("build.pack.cell.polarisation_s", (1.0, 2000.0), "s", CELL),
    with(
        "build.pack.cell.discharge_a",
        "A",
        (1, &[(CAPACITY, -1)]),
        (0.15, 40.0),
        ("capacities an hour", CELL),
    ),
    with(
        "build.pack.cell.discharge_peak_a",
        "A",
        (1, &[(CAPACITY, -1)]),
        (0.3, 80.0),
        ("capacities an hour", CELL),
    ),
    with(
        "build.pack.cell.charge_a",
        "A",
        (1, &[(CAPACITY, -1)]),
        (0.05, 12.0),
        ("capacities an hour", CELL),
    ),
    with(
        "build.pack.cell.charge_peak_a",
        "A",
        (1, &[(CAPACITY, -1)]),
        (0.08, 25.0),
        ("capacities an hour", CELL),
    ),
    band("build.pack.cell.peak_s", (1.0, 300.0), "s", CELL),
    band("build.pack.cell.capacity_share.*.pct", (2.0, 100.0), "%", CELL),
    band("build.pack.cell.discharge_share.*.pct", (2.0, 100.0), "%", CELL),
    band("build.pack.cell.charge_share.*.pct", (2.0, 100.0), "%", CELL),
    band("build.pack.box_mass_kg", (1.0, 400.0), "kg", "the boxes of a pack"),
    band("build.pack.boxes.*.box_mass_kg", (0.3, 400.0), "kg", "a box of a pack"),
    band("build.pack.boxes.*.behind_front_axle_m", PLACE_M, "m", CAR),
    band("build.pack.boxes.*.air_over_outside_k", (-15.0, 40.0), "K", "the air about a box"),
    band("build.pack.box_conductance_w_per_k", (0.3, 200.0), "W/K", "the boxes of a pack"),
    band("build.pack.wall_area_m2", (0.1, 10.0), "m²", "the boxes of a pack"),
    band("build.pack.state_of_health_pct", (40.0, 110.0), "%", "cells that still drive a car"),
    band("build.pack.resistance_growth_pct", (1.0, 300.0), "%", "cells that still drive a car"),
    band("build.pack.capacity_spread_pct", (0.2, 25.0), "%", "the cells of a pack"),
    band("build.pack.resistance_spread_pct", (0.5, 100.0), "%", "the cells of a pack"),
    band("build.pack.min_charge_pct", (1.5, 45.0), "%", "a reserve"),
    band("build.pack.max_charge_pct", (50.0, 100.0), "%", "a full pack"),
    band("build.pack.harness_mohm", (0.1, 200.0), "mΩ", "cables, fuse and contactors"),
    // Tyres, masses, loads.
    band("build.tyre.rolling_radius_m", (0.2, 0.45), "m", CAR),
    band("build.tyre.revolutions_per_km", (350.0, 800.0), "", CAR),
    band("build.tyre.rolling_resistance", (0.004, 0.03), "N/N", "a tyre on a road"),
    band("build.tyre.rolling_resistance_per_kmh", (1e-6, 2e-4), "1/(km/h)", "a tyre on a road"),
    band("build.tyre.wheel_mass_kg", (4.0, 60.0), "kg", "a wheel with its tyre"),
    band("build.tyre.wheel_inertia_kg_m2", (0.08, 4.0), "kg·m²", "a wheel with its tyre"),
    band("build.removed.*.mass_kg", (0.05, 800.0), "kg", "what comes out of a car"),
    band("build.added.*.mass_kg", (0.05, 800.0), "kg", "what goes into a car"),
    band("build.load.*.mass_kg", (0.05, 1500.0), "kg", "what rides along"),
    band("build.removed.*.behind_front_axle_m", PLACE_M, "m", CAR),
    band("build.added.*.behind_front_axle_m", PLACE_M, "m", CAR),
    band("build.load.*.behind_front_axle_m", PLACE_M, "m", CAR),
    band("build.placement.motor_behind_front_axle_m", PLACE_M, "m", CAR),
    band("build.placement.controller_behind_front_axle_m", PLACE_M, "m", CAR),
    band("build.placement.pack_behind_front_axle_m", PLACE_M, "m", CAR),
    band("build.auxiliaries.low_voltage.*.power_w", (0.5, 1500.0), "W", "a 12 V load"),
    band("build.auxiliaries.dc_dc_efficiency_pct", (60.0, 98.5), "%", "a DC-DC converter"),
    band("build.auxiliaries.traction_w", (1.0, 9000.0), "W", "a load on the pack"),
    band("build.auxiliaries.cabin.set_c", (5.0, 30.0), "°C", "a heated cabin"),
    band("build.auxiliaries.cabin.heater_kw", (0.2, 12.0), "kW", "a cabin heater"),
    band("build.auxiliaries.cabin.heat_capacity_kj_per_k", (15.0, 400.0), "kJ/K", "a cabin"),
    band("build.auxiliaries.cabin.conductance_w_per_k", (8.0, 300.0), "W/K", "a cabin"),
    band("build.auxiliaries.low_voltage.*.on_w", (0.5, 1500.0), "W", "a 12 V load"),
    band("build.controller.capacitance_uf", (20.0, 60_000.0), "µF", "a traction controller"),
    band("build.wiring.pack.length_m", (0.1, 12.0), "m", CABLE),
    band("build.wiring.pack.mm2", (0.5, 250.0), "mm²", CABLE),
    band("build.wiring.motor.length_m", (0.1, 12.0), "m", CABLE),
    band("build.wiring.motor.mm2", (0.5, 250.0), "mm²", CABLE),
    band("build.wiring.low_voltage.length_m", (0.1, 12.0), "m", CABLE),
    band("build.wiring.low_voltage.mm2", (0.5, 250.0), "mm²", CABLE),
    band("build.wiring.charger.length_m", (0.1, 12.0), "m", CABLE),
    band("build.wiring.charger.mm2", (0.5, 250.0), "mm²", CABLE),
    band("build.wiring.fuse_a", (20.0, 1200.0), "A", "a fuse of a traction pack"),
    band("build.wiring.precharge_ohm", (3.0, 2000.0), "Ω", "a precharge resistor"),
    band("build.wiring.dc_dc_w", (100.0, 5000.0), "W", "a DC-DC converter"),
    band("build.wiring.battery_ah", (3.0, 120.0), "A·h", "the 12 V battery of a car"),
    band("build.wiring.battery_usable_pct", (10.0, 100.0), "%", "the 12 V battery of a car"),
    band("build.wiring.air_c", (-30.0, 90.0), "°C", "the air around the cables of a car"),
    band("build.charger.power_kw", (0.2, 60.0), "kW", "an on-board charger"),
    band("build.charger.efficiency_pct", (70.0, 98.5), "%", "an on-board charger"),
    band("build.charger.end_c_rate", (0.005, 0.6), "", "the end of a charge"),
    band("build.regen.lift_off_pct", (1.2, 100.0), "%", "regen"),
    band("build.regen.brake_pedal_pct", (1.2, 100.0), "%", "regen"),
    band("build.regen.fade_out_kmh", (0.5, 30.0), "km/h", "regen"),
    band("build.regen.full_above_kmh", (1.0, 60.0), "km/h", "regen"),
    band("build.driver.up_rpm", (800.0, 20_000.0), "rpm", "a driver"),
    band("build.driver.down_rpm", (300.0, 15_000.0), "rpm", "a driver"),
    // Surroundings, start and drives.
    band("conditions.altitude_m", (-430.0, 5500.0), "m", "a road, from the Dead Sea to the Andes"),
    band("conditions.air_c", (-40.0, 47.0), "°C", "the air on a road"),
    band("conditions.head_wind_kmh", (-70.0, 70.0), "km/h", "a wind in which one drives"),
    band("conditions.friction", (0.05, 1.2), "", "a tyre on a road"),
    band("start.charge_pct", (1.2, 100.0), "%", "a pack that drives off"),
    band("start.cells_c", (-35.0, 50.0), "°C", "cells before a drive"),
    band("runs.climb.grade_pct", (0.3, 35.0), "%", "a road"),
    band("runs.pass.grade_pct", (0.3, 35.0), "%", "a road"),
    band("runs.climb.speed_kmh", (7.0, 150.0), "km/h", "a climb"),
    band("runs.pass.speed_kmh", (7.0, 150.0), "km/h", "a climb"),
    band("runs.climb.distance_km", (0.05, 80.0), "km", "a climb"),
    band("runs.pass.distance_km", (0.05, 80.0), "km", "a climb"),
    band("runs.climb.minutes", (0.3, 180.0), "min", "a climb"),
    band("runs.pass.minutes", (0.3, 180.0), "min", "a climb"),
    band("seasons.*.air_c", (-40.0, 47.0), "°C", "the air on a road"),
    band("seasons.*.head_wind_kmh", (-70.0, 70.0), "km/h", "a wind in which one drives"),
    band("seasons.*.cabin_c", (5.0, 30.0), "°C", "a heated cabin"),
    band("seasons.*.heater_kw", (0.2, 12.0), "kW", "a cabin heater"),
    band("seasons.*.cells_c", (-40.0, 45.0), "°C", "cells of a car that stands"),
    band("seasons.*.state_of_health_pct", (40.0, 110.0), "%", "cells that still drive a car"),
];

/// How a value was meant, and what it then is in the unit of the field.
type Slip = (&'static str, fn(f64) -> f64);

/// The likely slips of a unit, likeliest first.
fn slips(unit: &str) -> &'static [Slip] {
    match unit {
        "%" => &[("as a share of one", |v| 100.0 * v), ("in thousandths", |v| 0.1 * v)],
        "mΩ" => &[("in Ω", |v| 1e3 * v), ("in µΩ", |v| 1e-3 * v)],
        "Ω" => &[("in mΩ", |v| 1e-3 * v), ("in µΩ", |v| 1e-6 * v)],
        "kW" => &[("in W", units::kw_from_w), ("in hp", units::kw_from_hp)],
        "W" => &[("in kW", units::w_from_kw), ("in mW", |v| 1e-3 * v)],
        "m" => &[
            ("in mm", units::m_from_mm),
            ("in cm", |v| 0.01 * v),
            ("in inches", units::m_from_in),
            ("in feet", units::m_from_ft),
        ],
        "m²" => &[("in cm²", |v| 1e-4 * v), ("in square feet", |v| 0.092_903 * v)],
        "kg" => &[("in lb", units::kg_from_lb), ("in g", |v| 1e-3 * v), ("in t", |v| 1e3 * v)],
        "°C" => &[("in °F", |v| (v - 32.0) / 1.8), ("in K", units::c_from_k)],
        "N·m" => &[("in mN·m", |v| 1e-3 * v), ("in kN·m", |v| 1e3 * v)],
        "N" => &[("in kN", |v| 1e3 * v), ("in lbf", units::n_from_lbf)],
        "kJ/K" => &[("in J/K", units::kj_from_j), ("in Wh/K", |v| 3.6 * v)],
        "W/K" => &[("in kW/K", units::w_from_kw), ("in mW/K", |v| 1e-3 * v)],
        "J/(kg·K)" => &[("in kJ/(kg·K)", |v| 1e3 * v)],
        "A" => &[("in mA", |v| 1e-3 * v), ("in kA", |v| 1e3 * v)],
        "V" => &[("in mV", |v| 1e-3 * v), ("in kV", |v| 1e3 * v)],
        "Ah" => &[("in mAh", |v| 1e-3 * v), ("in As", units::ah_from_as)],
        "rpm" => &[("in thousands", |v| 1e3 * v), ("in turns a second", |v| 60.0 * v)],
        "kg·m²" => &[("in kg·cm²", |v| 1e-4 * v), ("in g·m²", |v| 1e-3 * v)],
        "N/N" => &[("in kg/t", |v| 1e-3 * v), ("in per cent", |v| 0.01 * v)],
        "s" => &[("in ms", |v| 1e-3 * v), ("in minutes", units::s_from_min)],
        "min" => &[("in seconds", units::min_from_s), ("in hours", |v| 60.0 * v)],
        "km" => &[("in m", units::km_from_m)],
        "km/h" => &[("in m/s", units::kmh_from_mps), ("in m/min", |v| 0.06 * v)],
        _ => &[],
    }
}

/// Every number at a path, with its own path; `*` stands for each item of a list.
fn numbers(tree: &Value, path: &str) -> Vec<(String, f64)> {
    let mut found = vec![(String::new(), tree)];
    for step in path.split('.') {
        let below = |at: &str, step: &str| {
            if at.is_empty() { step.to_owned() } else { format!("{at}.{step}") }
        };
        found = found
            .into_iter()
            .flat_map(|(at, value)| match (step, value) {
                ("*", Value::Array(list)) => list
                    .iter()
                    .enumerate()
                    .map(|(i, item)| (below(&at, &(i + 1).to_string()), item))
                    .collect(),
                (name, Value::Object(map)) => {
                    map.get(name).map(|value| (below(&at, name), value)).into_iter().collect()
                }
                _ => Vec::new(),
            })
            .collect();
    }
    found.into_iter().filter_map(|(path, value)| Some((path, value.as_f64()?))).collect()
}

impl Band {
    /// What a value of the field makes with those of others, of which all are there.
    fn product(&self, tree: &Value, value: f64) -> Option<f64> {
        self.with.iter().try_fold(value.powi(self.power), |product, (path, power)| {
            Some(product * numbers(tree, path).first()?.1.powi(*power))
        })
    }

    fn holds(&self, product: f64) -> bool {
        (self.low..=self.high).contains(&product)
    }

    /// How many times a product is beyond the nearer end.
    fn beyond(&self, product: f64) -> f64 {
        if product > self.high { product / self.high } else { self.low / product.max(1e-300) }
    }

    /// What is said of a value.
    fn sentence(&self, tree: &Value, path: &str, value: f64, product: f64) -> String {
        let round = |v: f64| plain(format!("{v:.3e}").parse().unwrap_or(v));
        let mut text = format!("{} is {}", short(path), plain(value));
        if !self.with.is_empty() {
            let others: Vec<&str> = self.with.iter().map(|(path, _)| short(path)).collect();
            let others = others.join(" and ");
            text.push_str(&format!(": with {others} it makes {} {}", round(product), self.makes));
        }
        let (low, high, makes, of) = (plain(self.low), plain(self.high), self.makes, self.of);
        let unit = if makes.is_empty() { String::new() } else { format!(" {makes}") };
        text.push_str(&format!(", and {low} to {high}{unit} is usual of {of}"));
        let meant = slips(self.unit).iter().find_map(|(how, meant)| {
            let meant = meant(value);
            self.holds(self.product(tree, meant)?).then(|| (how, round(meant)))
        });
        text.push_str(&match meant {
            Some((how, meant)) => format!("; was it meant {how}? Then write {meant}."),
            None => ".".to_owned(),
        });
        text
    }
}

/// What is usual of the field at a path from the root of a scenario, given what else it says, with
/// the sign of its unit.
pub(crate) fn usual(tree: &Value, path: &str) -> Option<((f64, f64), &'static str)> {
    let alike = |pattern: &str| {
        pattern.split('.').count() == path.split('.').count()
            && pattern.split('.').zip(path.split('.')).all(|(of, step)| of == "*" || of == step)
    };
    let mut unit = None;
    let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
    for band in BANDS.iter().filter(|band| alike(band.path)) {
        // What the others make of a field that is 1.
        let Some(others) = band.product(tree, 1.0).filter(|v| *v > 0.0) else { continue };
        let of = |product: f64| (product / others).powf(1.0 / f64::from(band.power));
        let (one, other) = (of(band.low), of(band.high));
        (low, high) = (low.max(one.min(other)), high.min(one.max(other)));
        unit = unit.or(Some(band.unit));
    }
    unit.filter(|_| low < high).map(|unit| ((low, high), unit))
}

/// A sentence for each value of a scenario, as one tree of JSON, that is outside what is usual of its
/// class, the furthest first. Nothing at all is usual everywhere.
pub(crate) fn doubts(tree: &Value) -> Vec<String> {
    let mut found: Vec<(f64, String)> = Vec::new();
    for band in BANDS {
        for (path, value) in numbers(tree, band.path).into_iter().filter(|(_, v)| *v != 0.0) {
            if let Some(product) = band.product(tree, value).filter(|p| !band.holds(*p)) {
                found.push((band.beyond(product), band.sentence(tree, &path, value, product)));
            }
        }
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    found.into_iter().map(|(_, sentence)| sentence).collect()
}

/// Speeds beside each other, m/s.
const SAME_MPS: f64 = 0.01;

/// What is odd about the speeds of a whole road that came from a file.
///
/// Limits in km/h are multiples of 10 nearly everywhere, those in mph are multiples of 5 (common
/// practice): a road whose steady speeds are 25, 35 and 55 km/h was written down in mph.
pub(crate) fn doubt_of_road(road: &Schedule) -> Option<String> {
    let peak_kmh = units::kmh_from_mps(road.peak_speed_mps());
    if peak_kmh > 200.0 {
        return Some(format!(
            "The daily road's highest speed is {peak_kmh:.0} km/h; was the column of speeds meant in \
             km/h and named m/s?"
        ));
    }
    if peak_kmh < 25.0 && road.distance_m() > 1000.0 {
        return Some(format!(
            "The daily road's highest speed is {peak_kmh:.0} km/h; was the column of speeds meant in \
             m/s and named km/h?"
        ));
    }
    // Time at each steady speed, in whole km/h.
    let mut steady: Vec<(i64, f64)> = Vec::new();
    for (time, speed) in road.time_s.windows(2).zip(road.speed_mps.windows(2)) {
        let kmh = units::kmh_from_mps(speed[0]);
        let whole = kmh.round();
        if (speed[1] - speed[0]).abs() > SAME_MPS || kmh < 5.0 || (kmh - whole).abs() > 0.05 {
            continue;
        }
        let for_s = time[1] - time[0];
        match steady.iter_mut().find(|(kmh, _)| *kmh == whole as i64) {
            Some((_, sum_s)) => *sum_s += for_s,
            None => steady.push((whole as i64, for_s)),
        }
    }
    let all_s: f64 = steady.iter().map(|(_, s)| s).sum();
    let fives: Vec<&(i64, f64)> = steady.iter().filter(|(kmh, _)| kmh % 10 == 5).collect();
    let fives_s: f64 = fives.iter().map(|(_, s)| s).sum();
    if fives.len() < 3 || fives_s < 0.6 * all_s {
        return None;
    }
    let mut speeds: Vec<i64> = fives.iter().map(|(kmh, _)| *kmh).collect();
    speeds.sort_unstable();
    let speeds: Vec<String> = speeds.iter().map(i64::to_string).collect();
    Some(format!(
        "The daily road's steady speeds are {} km/h, as limits in mph are; was the column meant in \
         mph?",
        speeds.join(", ")
    ))
}
