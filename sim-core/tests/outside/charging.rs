//! Charging and parking against closed forms: constant power through a resistance, the exponential
//! end of a charge at constant voltage, and cooling of a parked car. Power at the wall after SAE
//! J1772 and NEC article 625 (both from memory).

use crate::bench;

use bench::{Bench, assert_near, assert_share};
use sim_core::charging::{ChargeEnding, Supply, charge, park};
use sim_core::{Curve, Limit, Node};

/// 120 V at 12 A, 80 % of a 15 A circuit (NEC article 625's rule for continuous load).
const WALL_W: f64 = 120.0 * 12.0;
const OHM: f64 = 0.1;

fn wall() -> Supply {
    Supply { wall_w: WALL_W, charger_w: 5000.0, efficiency: 0.9, end_c_rate: 0.02 }
}

/// One cell of 100 V behind 0.1 Ω and 100 A·h, straight from empty to full.
fn bench() -> Bench {
    Bench::ideal_car().with(|p| {
        p.pack.cell.resistance_ohm = Curve::constant(OHM);
        p.pack.cell.capacity_as = 360_000.0;
    })
}

/// `R·I² + E·I − P = 0`: 1296 W into 100 V behind 0.1 Ω.
#[test]
fn a_slow_charge_takes_the_time_of_its_current() {
    let bench = bench();
    let power_w = 0.9 * WALL_W;
    let amperes = (-100.0 + f64::sqrt(1e4 + 4.0 * OHM * power_w)) / (2.0 * OHM);
    let found = charge(&bench.car(), &bench.parked(0.3), &wall(), 0.8, 1e6, |_| ());
    assert_eq!(found.ending, ChargeEnding::Target);
    let seconds = 0.5 * 360_000.0 / amperes;
    assert_share(found.time_s, seconds, 1e-6, "time");
    assert_share(found.wall_j, WALL_W * seconds, 1e-6, "energy from the wall");
    assert_share(found.chemical_j, 100.0 * 0.5 * 360_000.0, 1e-6, "energy in the cells");
    assert_share(found.heat_j, OHM * amperes * amperes * seconds, 1e-6, "heat");
    assert_eq!(found.taper_s, 0.0);
}

/// Time that is no multiple of a step is up to the second, with `I·t` in the cells.
#[test]
fn a_charge_ends_when_its_time_is_up() {
    let bench = bench();
    let amperes = (-100.0 + f64::sqrt(1e4 + 4.0 * OHM * 0.9 * WALL_W)) / (2.0 * OHM);
    let found = charge(&bench.car(), &bench.parked(0.3), &wall(), 0.8, 1234.0, |_| ());
    assert_eq!((found.ending, found.time_s), (ChargeEnding::TimeUp, 1234.0));
    assert_share(found.end.charge - 0.3, amperes * 1234.0 / 360_000.0, 1e-9, "charge gained");
}

/// The charger's own power binds where the wall has more.
#[test]
fn the_smaller_of_wall_and_charger_binds() {
    let bench = bench();
    let big = Supply { wall_w: 240.0 * 40.0, charger_w: 3000.0, ..wall() };
    let found = charge(&bench.car(), &bench.parked(0.3), &big, 0.5, 1e6, |_| ());
    assert_share(found.pack_j / found.time_s, 3000.0, 1e-6, "power into the pack");
}

/// At constant voltage the current dies away: with `OCV = a + b·s`, `I = (V − OCV)/R` gives
/// `dI/dt = −I·b/(Q·R)`; from `I0` to `I1` it takes `Q·R/b·ln(I0/I1)`. The current is held for steps
/// of 10 s of the 1800 s time constant, which shortens the time by half a step in a time constant.
#[test]
fn the_end_of_a_charge_is_exponential() {
    let bench = bench().with(|p| {
        p.pack.cell.open_circuit_v = Curve::new(&[(0.0, 90.0), (1.0, 110.0)]).unwrap();
        p.pack.cell.max_v = 109.0;
    });
    let tau_s = 360_000.0 * OHM / 20.0;
    // From 4 V below the limit: 40 A, under what the charger gives, to 2 A, 0.02 of the capacity.
    let start = bench.parked((105.0 - 90.0) / 20.0);
    let big = Supply { wall_w: 1e5, charger_w: 1e5, ..wall() };
    let found = charge(&bench.car(), &start, &big, 1.0, 1e6, |_| ());
    assert_eq!(found.ending, ChargeEnding::Full);
    assert_share(found.peak_a, 40.0, 1e-6, "first current");
    let expected_s = tau_s * f64::ln(40.0 / 2.0);
    assert_near(found.time_s, expected_s, expected_s * 10.0 / (2.0 * tau_s) + 10.0, "time");
    assert_near(found.end.charge, (109.0 - 2.0 * OHM - 90.0) / 20.0, 1e-4, "charge at the end");
    assert!(found.peak_cell_v <= 109.0 + 1e-6, "{} V", found.peak_cell_v);
    assert_eq!(found.taper_s, found.time_s);
}

/// No charge below 0 °C (common practice, no source).
#[test]
fn frozen_cells_refuse_the_charger() {
    let bench = Bench::light_car().around(|a| a.air_k = 268.15);
    let found = charge(&bench.car(), &bench.parked(0.3), &wall(), 0.9, 1e5, |_| ());
    assert_eq!(found.ending, ChargeEnding::Refused(Limit::CellTemperature));
    assert_eq!((found.time_s, found.end.charge), (0.0, 0.3));
}

/// The charger's current stays within the cells' continuous one, however strong the wall.
#[test]
fn cells_charge_at_their_continuous_current() {
    let bench = Bench::light_car();
    let big = Supply { wall_w: 1e5, charger_w: 1e5, ..wall() };
    let found = charge(&bench.car(), &bench.parked(0.2), &big, 0.6, 1e5, |_| ());
    assert_share(found.peak_a, 100.0, 1e-9, "charge current");
    assert_share(found.time_s, 0.4 * 3600.0, 1e-6, "time for 0.4 of the capacity at 1 C");
}

/// Energy in the light car's 32 cells of 100 A·h up to a charge, J: trapezia under its voltage curve.
fn light_cells_j(charge: f64) -> f64 {
    let curve = [(0.0, 2.8), (0.1, 3.2), (0.5, 3.29), (0.9, 3.34), (1.0, 3.45)];
    let area: f64 = curve
        .windows(2)
        .map(|pair| {
            let ((from, low_v), (to, high_v)) = (pair[0], pair[1]);
            let at = charge.clamp(from, to);
            let at_v = low_v + (high_v - low_v) * (at - from) / (to - from);
            (at - from) * (low_v + at_v) / 2.0
        })
        .sum();
    32.0 * 360_000.0 * area
}

/// Every joule from the wall is in the cells, in their polarisation, in heat of the pack or in heat
/// of the charger: a tenth of it stays in the charger, `∫ OCV dQ` is in the cells, and what made
/// heat has warmed the cells by C·ΔT or left them through their box, but for the harness's `R·I²`.
#[test]
fn the_books_of_a_charge_close() {
    let bench = Bench::light_car();
    for (from, to) in [(0.15, 0.8), (0.5, 1.0)] {
        let start = bench.parked(from);
        let (mut left_j, mut harness_j, mut before_k) =
            (0.0, 0.0, start.temperature_k[Node::Cells]);
        let found = charge(&bench.car(), &start, &wall(), to, 1e6, |sample| {
            let mean_k = 0.5 * (before_k + sample.state.temperature_k[Node::Cells]);
            left_j += 10.0 * (mean_k - bench::WARM_K) * sample.step_s;
            harness_j += 0.005 * sample.pack_a * sample.pack_a * sample.step_s;
            before_k = sample.state.temperature_k[Node::Cells];
        });
        assert!(found.residual_share() < 1e-9, "{}", found.residual_share());
        assert_share(found.charger_loss_j(), 0.1 * found.wall_j, 1e-9, "heat of the charger");
        let cells_j = light_cells_j(found.end.charge) - light_cells_j(from);
        assert_share(found.chemical_j, cells_j, 1e-4, "chemical energy");
        let warmed_j = 96_000.0 * (found.end.temperature_k[Node::Cells] - bench::WARM_K);
        assert_share(found.heat_j, warmed_j + left_j + harness_j, 1e-6, "heat of the pack");
    }
}

/// A parked car cools exponentially: its sink with 800 s, its cells with 9600 s.
#[test]
fn a_parked_car_cools_exponentially() {
    let bench = Bench::light_car();
    let start = bench.parked(0.5).warmed(Node::Sink, 340.0).warmed(Node::Cells, 310.0);
    for t in [100.0, 1000.0, 20_000.0] {
        let found = park(&bench.car(), &start, t);
        let air_k = bench::WARM_K;
        let sink_k = air_k + (340.0 - air_k) * (-t / 800.0).exp();
        let cells_k = air_k + (310.0 - air_k) * (-t / 9600.0).exp();
        assert_near(found.temperature_k[Node::Sink], sink_k, 1e-3, "sink");
        assert_near(found.temperature_k[Node::Cells], cells_k, 1e-3, "cells");
        assert_eq!(found.charge, 0.5);
    }
}
