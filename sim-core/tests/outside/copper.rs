//! Resistance of copper windings against IEC 60034-1 and IEEE Std 112 (both from memory).

use crate::bench;

use bench::{Bench, act, assert_share};
use sim_core::Node;
use sim_core::car::{Request, Slope};
use sim_core::ledger::Account;
use sim_core::motor::copper_factor;

/// `R(T) = R0·(k + T)/(k + T0)`, T in °C, as a standard prints it.
fn printed(constant_c: f64, to_c: f64, from_c: f64) -> f64 {
    (constant_c + to_c) / (constant_c + from_c)
}

#[test]
fn resistance_grows_as_iec_60034_1_prints_it() {
    for (to_c, from_c) in [(155.0, 20.0), (130.0, 25.0), (-20.0, 80.0), (180.0, 115.0)] {
        let found = copper_factor(to_c + 273.15, from_c + 273.15);
        assert_share(found, printed(235.0, to_c, from_c), 1e-12, "IEC 60034-1, 235");
    }
}

/// IEEE Std 112 has 234.5 in place of 235: over any span of a winding's life the two are within
/// 0.15 %.
#[test]
fn resistance_agrees_with_ieee_112_to_a_fraction_of_a_percent() {
    for (to_c, from_c) in [(155.0, 20.0), (180.0, 20.0), (-20.0, 80.0)] {
        let found = copper_factor(to_c + 273.15, from_c + 273.15);
        assert_share(found, printed(234.5, to_c, from_c), 0.0015, "IEEE 112, 234.5");
    }
}

/// From 20 °C to 155 °C (class F) copper gains 53 %: so must the booked copper loss of a car that
/// holds its speed, `R·I²` at equal current.
#[test]
fn a_hot_winding_wastes_more_in_the_whole_car() {
    let bench = Bench::light_car();
    let car = bench.car();
    let loss = |winding_c: f64| {
        let mut state = bench.rolling(7.0);
        state.temperature_k[Node::Winding] = winding_c + 273.15;
        act(&car, &state, Slope::from_grade(0.02), 1, Request::Accelerate(0.0)).powers
            [Account::Copper]
    };
    // Below base speed, where equal torque is equal current, and below 140 °C, where this motor
    // begins to cut back.
    assert_share(loss(130.0) / loss(20.0), printed(235.0, 130.0, 20.0), 1e-6, "copper loss");
}
