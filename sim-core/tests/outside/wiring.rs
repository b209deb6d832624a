//! Cables, precharge and short circuits against handbooks.

use crate::bench::Bench;
use sim_core::cable::{Cable, Conductor, cylinder_w_per_m2_k, leaving_w_per_m};
use sim_core::lead_battery::LeadBattery;
use sim_core::precharge::Precharge;
use sim_core::short_circuit::ShortCircuit;
use sim_core::units::k_from_c;
use sim_core::warmth::{TIME_CONSTANTS_S, Warmth, no_slower_than};

fn copper(mm2: f64) -> Cable {
    Cable { area_m2: 1e-6 * mm2, conductor: Conductor::Copper }
}

/// Largest resistance of flexible copper conductors (class 5) at 20 °C, Ω/km, after IEC 60228 (from
/// memory). All of them have more than the same cross-section of solid annealed copper, 17.241 Ω·mm²/km
/// (IEC 60028), by the twist of their wires and what the standard leaves to makers.
#[test]
fn conductors_have_the_largest_resistance_of_iec_60228() {
    let largest =
        [(1.5, 13.3), (6.0, 3.30), (16.0, 1.21), (35.0, 0.554), (70.0, 0.272), (120.0, 0.161)];
    let ohm_per_km = |mm2: f64| 1e3 * copper(mm2).ohm_per_m(k_from_c(20.0));
    for (mm2, most) in largest {
        assert!((ohm_per_km(mm2) / most - 1.0).abs() < 1e-9, "{mm2} mm²: {}", ohm_per_km(mm2));
    }
    let areas: Vec<f64> = (0..=400).map(|i| 0.1 * 1.023_f64.powi(i)).collect();
    for pair in areas.windows(2) {
        let (thin, thick) = (ohm_per_km(pair[0]), ohm_per_km(pair[1]));
        assert!(thick < thin, "{} mm²: {thin}, {} mm²: {thick} Ω/km", pair[0], pair[1]);
        let over_solid = thick * pair[1] / 17.241;
        assert!((1.09..1.17).contains(&over_solid), "{} mm²: {over_solid}", pair[1]);
    }
    let aluminium = Cable { conductor: Conductor::Aluminium, ..copper(50.0) };
    let more = 1e3 * aluminium.ohm_per_m(k_from_c(20.0)) / ohm_per_km(50.0);
    assert!((more / (28.264 / 17.241) - 1.0).abs() < 1e-9, "{more}");
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

/// The first-order step response: after one, three and five time constants of a steady current the heat is
/// at 63.2, 95.0 and 99.3 % (any textbook of control), and the steady current that is as warm at the root
/// of that.
#[test]
fn a_step_of_current_warms_as_a_body_of_one_time_constant() {
    let i = TIME_CONSTANTS_S.iter().position(|s| *s == 200.0).unwrap();
    for (share, constants) in [(0.632_12, 1.0), (0.950_21, 3.0), (0.993_26, 5.0)] {
        let mut warmth = Warmth::default();
        for _ in 0..1000 {
            warmth.see(constants * 0.2, 300.0 * 300.0);
        }
        // It cools while nothing flows, and was as warm as it was.
        warmth.see(1e4, 0.0);
        assert!((warmth.steady_a()[i] / (300.0 * f64::sqrt(share)) - 1.0).abs() < 1e-4);
    }
}

/// A cable that is heated from the air's temperature, step by step by its own heat balance, is never
/// warmer than where the steady current of its time constant settles; so a run of some minutes asks no
/// thinner cable than it needs, and a longer run never a thinner one.
#[test]
fn a_cable_over_a_run_is_no_warmer_than_the_steady_current_makes_it() {
    const STEP_S: f64 = 5.0;
    let air_k = k_from_c(50.0);
    for (mm2, amps) in [(16.0, 140.0), (50.0, 320.0), (95.0, 450.0)] {
        let cable = copper(mm2);
        let slowest = no_slower_than(cable.time_constant_at_s(k_from_c(150.0), air_k));
        let (mut before_a, mut before_s): (f64, f64) = (0.0, 0.0);
        for run_s in [30.0, 120.0, 175.0, 180.0, 295.0, 300.0, 600.0, 1800.0] {
            let (mut conductor_k, mut warmth) = (air_k, Warmth::default());
            for _ in 0..(run_s / STEP_S) as usize {
                let heat_w = amps * amps * cable.ohm_per_m(conductor_k);
                // Through the insulation and off its surface, as the settled cable.
                let settled_a = settles_with(&cable, conductor_k, air_k);
                let leaves_w = settled_a * settled_a * cable.ohm_per_m(conductor_k);
                conductor_k += STEP_S * (heat_w - leaves_w) / (mm2 * 1e-6 * 3.45e6);
                warmth.see(STEP_S, amps * amps);
            }
            let steady_a = warmth.steady_a()[slowest];
            let told_k = cable.settles_k(steady_a, air_k).unwrap();
            assert!(told_k >= conductor_k - 1.0, "{mm2} mm², {run_s} s: {told_k} {conductor_k}");
            assert!(steady_a >= before_a && steady_a <= amps * (1.0 + 1e-9));
            // Five seconds more are no other class.
            assert!(run_s - before_s > STEP_S || steady_a < 1.03 * before_a, "{run_s} s");
            (before_a, before_s) = (steady_a, run_s);
        }
    }
}

/// The current with which a cable settles at a temperature, A, by halving.
fn settles_with(cable: &Cable, conductor_k: f64, air_k: f64) -> f64 {
    let (mut low, mut high) = (0.0, 5000.0);
    for _ in 0..40 {
        let half = 0.5 * (low + high);
        let is_over = cable.settles_k(half, air_k).is_none_or(|k| k > conductor_k);
        if is_over { high = half } else { low = half }
    }
    low
}

/// Peukert's law as handbooks of lead batteries work it (from memory): 100 A·h over 20 h (5 A) last 8.7 h
/// at 10 A with an exponent of 1.2, not 10 h; and the smallest battery is the same the other way round.
#[test]
fn a_lead_battery_lasts_shorter_at_more_current() {
    let battery = LeadBattery { capacity_ah: 100.0, usable: 1.0 };
    assert!((battery.lasts_h(5.0) - 20.0).abs() < 1e-9);
    assert!((battery.lasts_h(10.0) - 20.0 / 2f64.powf(1.2)).abs() < 1e-9);
    assert!((battery.lasts_h(10.0) - 8.7).abs() < 0.05);
    assert!((battery.lasts_h(2.0) - 50.0).abs() < 1e-9);
    for (amps, hours) in [(15.0, 0.5), (4.0, 5.0), (1.0, 30.0)] {
        let usable = 0.5;
        let capacity_ah = LeadBattery::smallest_ah(amps, hours, usable);
        assert!((LeadBattery { capacity_ah, usable }.lasts_h(amps) / hours - 1.0).abs() < 1e-9);
        assert!(capacity_ah >= amps * hours / usable * (1.0 - 1e-9));
    }
}

/// Ohm's law: polarisation in series lowers what a fuse gets after seconds, less resistance raises what it
/// must break at first, and a motor in the way leaves less than a bolted short circuit.
#[test]
fn faults_go_by_the_resistance_that_is_in_their_way() {
    let pack = Bench::light_car().parts.pack;
    let fault = |of: fn(&_, f64, f64) -> ShortCircuit| of(&pack, 0.5, crate::bench::WARM_K);
    let (first, later) = (fault(ShortCircuit::of), fault(ShortCircuit::lasting));
    let cells = pack.series / pack.parallel;
    let ohm = cells * (pack.cell.resistance_ohm.at(0.5) + pack.cell.polarisation_ohm);
    assert!((later.at_cells_a() - later.volts / ohm).abs() < 1e-6 * later.at_cells_a());
    assert!((first.with_less(1.5).at_cells_a() / first.at_cells_a() - 1.5).abs() < 1e-9);
    let through_a = first.through_a(0.02);
    assert!((first.volts / through_a - first.cells_ohm - first.harness_ohm - 0.02).abs() < 1e-9);
}
