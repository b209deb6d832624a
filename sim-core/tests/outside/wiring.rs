//! Cables, precharge and short circuits against handbooks.

use crate::bench::Bench;
use sim_core::cable::{Cable, Conductor, cylinder_w_per_m2_k, leaving_w_per_m};
use sim_core::precharge::Precharge;
use sim_core::short_circuit::ShortCircuit;
use sim_core::units::k_from_c;

fn copper(mm2: f64) -> Cable {
    Cable { area_m2: 1e-6 * mm2, conductor: Conductor::Copper }
}

/// Largest resistance of flexible copper conductors (class 5) at 20 °C, Ω/km, after IEC 60228 (from
/// memory): the conductors that are sold stay under it, by a few per cent.
#[test]
fn conductors_are_within_a_few_per_cent_of_the_largest_resistance_of_iec_60228() {
    let largest = [(16.0, 1.21), (25.0, 0.780), (35.0, 0.554), (50.0, 0.386), (70.0, 0.272)];
    for (mm2, ohm_per_km) in largest {
        let ours = 1e3 * copper(mm2).ohm_per_m(k_from_c(20.0));
        assert!(ours < ohm_per_km && ours > 0.88 * ohm_per_km, "{mm2} mm²: {ours} Ω/km");
    }
}

/// Copper at 70 °C has 1.1965 times its resistance at 20 °C: the factor for the conductors of PVC
/// cables in tables of voltage drop (0.00393 /K over 50 K).
#[test]
fn copper_grows_with_temperature_as_tables_of_voltage_drop_say() {
    let ratio = copper(25.0).ohm_per_m(k_from_c(70.0)) / copper(25.0).ohm_per_m(k_from_c(20.0));
    assert!((ratio - 1.1965).abs() < 1e-4, "{ratio}");
}

/// Incropera and DeWitt, *Fundamentals of Heat and Mass Transfer*, example of an uninsulated
/// horizontal steam pipe (from memory): 0.1016 m across, surface at 165 °C in a room of 23 °C loses
/// about 324 W/m by free convection (7.15 W/(m²·K)); by radiation with an emissivity of 0.85, 441 W/m.
#[test]
fn a_hot_pipe_loses_what_the_handbook_says() {
    let (surface_k, air_k) = (k_from_c(165.0), k_from_c(23.0));
    let h = cylinder_w_per_m2_k(0.1016, surface_k, air_k);
    assert!((h - 7.15).abs() < 0.25, "{h} W/(m²·K)");
    let with_our_emissivity = 324.0 + 441.0 * 0.9 / 0.85;
    let lost = leaving_w_per_m(0.1016, surface_k, air_k);
    assert!((lost / with_our_emissivity - 1.0).abs() < 0.03, "{lost} W/m");
}

/// A cable by itself in still air at 30 °C carries some 160 to 200 A at 70 °C with 50 mm² of copper and
/// about 85 to 110 A with 16 mm² (tables of current-carrying capacity of single cables in free air,
/// from memory): the heat balance lands within them.
#[test]
fn cables_in_free_air_carry_about_what_tables_say() {
    for (mm2, low, high) in [(16.0, 85.0, 120.0), (50.0, 160.0, 230.0), (95.0, 250.0, 360.0)] {
        let settles = |amps: f64| copper(mm2).settles_k(amps, k_from_c(30.0)).unwrap();
        assert!(settles(low) < k_from_c(70.0), "{mm2} mm²");
        assert!(settles(high) > k_from_c(70.0), "{mm2} mm²");
    }
}

#[test]
fn more_current_and_less_copper_are_warmer_and_no_current_is_as_warm_as_the_air() {
    let air_k = k_from_c(40.0);
    assert!((copper(35.0).settles_k(0.0, air_k).unwrap() - air_k).abs() < 1e-3);
    let mut before_k = air_k;
    for amps in [50.0, 100.0, 200.0, 300.0] {
        let warm_k = copper(35.0).settles_k(amps, air_k).unwrap();
        assert!(warm_k > before_k);
        assert!(copper(50.0).settles_k(amps, air_k).unwrap() < warm_k);
        let aluminium = Cable { conductor: Conductor::Aluminium, ..copper(35.0) };
        assert!(aluminium.settles_k(amps, air_k).unwrap() > warm_k);
        before_k = warm_k;
    }
    assert_eq!(copper(1.0).settles_k(5000.0, air_k), None);
}

/// The handbook's charging of a capacitor: after one, three and five time constants it is at 63.2, 95.0
/// and 99.3 % (any textbook of electrical engineering). Worked by hand: 1000 µF at 400 V through 47 Ω
/// take 47 ms a time constant, 80 J, 8.51 A and 3.40 kW at first.
#[test]
fn precharge_goes_as_a_capacitor_through_a_resistor() {
    let precharge = Precharge { volts: 400.0, ohm: 47.0, farad: 1e-3 };
    for (share, constants) in [(0.632_12, 1.0), (0.950_21, 3.0), (0.993_26, 5.0)] {
        assert!((precharge.time_s(share) / 0.047 - constants).abs() < 1e-3);
    }
    assert!((precharge.heat_j() - 80.0).abs() < 1e-9);
    assert!((precharge.first_a() - 8.51).abs() < 0.005);
    assert!((precharge.first_w() - 3404.0).abs() < 1.0);
    let again = Precharge::ohm_for(1e-3, 0.95, precharge.time_s(0.95));
    assert!((again - 47.0).abs() < 1e-9);
}

/// The heat in the resistor is half of what leaves the pack, by summing `I²·R` over short steps.
#[test]
fn the_resistor_takes_as_much_as_the_capacitors_hold() {
    let precharge = Precharge { volts: 120.0, ohm: 20.0, farad: 5e-3 };
    let (mut volts, mut heat_j, dt) = (0.0, 0.0, 1e-5);
    for _ in 0..200_000 {
        let amps = (120.0 - volts) / 20.0;
        heat_j += amps * amps * 20.0 * dt;
        volts += amps / 5e-3 * dt;
    }
    assert!((heat_j / precharge.heat_j() - 1.0).abs() < 1e-3, "{heat_j}");
}

/// Thevenin: the short circuit of a source is its open voltage over its resistance; harness in series.
#[test]
fn a_short_circuit_is_voltage_over_resistance() {
    let pack = Bench::light_car().parts.pack;
    let fault = ShortCircuit::of(&pack, 1.0, crate::bench::WARM_K);
    let cells = pack.series / pack.parallel * pack.cell.resistance_ohm.at(1.0);
    let volts = pack.series * pack.cell.open_circuit_v.at(1.0);
    assert!((fault.at_cells_a() - volts / cells).abs() < 1e-6 * fault.at_cells_a());
    let behind = volts / (cells + pack.harness_ohm);
    assert!((fault.behind_harness_a() - behind).abs() < 1e-6 * behind);
    assert!(fault.behind_harness_a() <= fault.at_cells_a());
    // It drives the pack's own model to no voltage at all.
    let car = Bench::light_car().car();
    let now = car.now(&Bench::light_car().parked(1.0), 0.0);
    assert!((now.pack.emf_v - now.pack.ohm * behind).abs() < 1e-6 * now.pack.emf_v);
}

#[test]
fn twice_the_harness_lowers_the_fault_current() {
    let mut pack = Bench::light_car().parts.pack;
    let before = ShortCircuit::of(&pack, 0.8, 290.0).behind_harness_a();
    pack.harness_ohm *= 2.0;
    assert!(ShortCircuit::of(&pack, 0.8, 290.0).behind_harness_a() < before);
}
