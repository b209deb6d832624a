//! One cell: voltage, resistance, and what current it bears.

use crate::Curve;
use crate::limit::NO_LIMIT;

/// A cell and its limits.
///
/// `V = OCV(s) − R0(s)·k(T)·I − U`, `dU/dt = I/C1 − U/(R1·C1)`; `s` is the charge from 0 to 1 and
/// `I` the current, positive when discharging. Source: first-order equivalent circuit (common
/// practice, no source).
#[derive(Debug, Clone, PartialEq)]
pub struct Cell {
    /// Open-circuit voltage against charge, V.
    pub open_circuit_v: Curve,
    /// Ohmic resistance against charge at 25 °C, Ω.
    pub resistance_ohm: Curve,
    /// Growth of both resistances against temperature (K), 1 at 25 °C.
    pub resistance_factor: Curve,
    /// Resistance of the polarisation pair at 25 °C, Ω.
    pub polarisation_ohm: f64,
    /// Time constant of the polarisation pair, s.
    pub polarisation_s: f64,
    /// Capacity, A·s.
    pub capacity_as: f64,
    /// Share of the capacity that can be drawn, against temperature (K).
    pub capacity_factor: Curve,
    /// Mass, kg.
    pub mass_kg: f64,
    /// Lowest voltage under load, V.
    pub min_v: f64,
    /// Highest voltage while charging, V.
    pub max_v: f64,
    /// Continuous discharge current, A.
    pub discharge_a: f64,
    /// Short peak of the discharge current, A.
    pub discharge_peak_a: f64,
    /// Continuous charge current, A.
    pub charge_a: f64,
    /// Short peak of the charge current, A.
    pub charge_peak_a: f64,
    /// How long a peak may last, s.
    pub peak_s: f64,
    /// Share of the discharge currents allowed, against temperature (K).
    pub discharge_factor: Curve,
    /// Share of the charge currents allowed, against temperature (K).
    pub charge_factor: Curve,
}

impl Cell {
    /// A cell that holds a voltage down to its last charge, without resistance and without limits;
    /// set the fields as known.
    pub fn ideal(volts: f64, capacity_as: f64) -> Self {
        // Divided by, so as good as none.
        let none_ohm = 1e-12;
        Self {
            open_circuit_v: Curve::constant(volts),
            resistance_ohm: Curve::constant(none_ohm),
            resistance_factor: Curve::constant(1.0),
            polarisation_ohm: none_ohm,
            polarisation_s: 30.0,
            capacity_as,
            capacity_factor: Curve::constant(1.0),
            mass_kg: 0.0,
            min_v: 0.0,
            max_v: NO_LIMIT,
            discharge_a: NO_LIMIT,
            discharge_peak_a: NO_LIMIT,
            charge_a: NO_LIMIT,
            charge_peak_a: NO_LIMIT,
            peak_s: 30.0,
            discharge_factor: Curve::constant(1.0),
            charge_factor: Curve::constant(1.0),
        }
    }

    /// Temperature above which the discharge current is cut back, K, if there is one.
    pub fn warning_k(&self) -> Option<f64> {
        let curve = &self.discharge_factor;
        let whole = curve.points().filter(|(_, share)| *share >= 1.0);
        whole.map(|(k, _)| k).last().filter(|warm_k| curve.at(warm_k + 1000.0) < 1.0)
    }
}
