//! A shift: the motor off the road from one gear to the next.

use crate::car::Car;
use crate::ledger::{Account, Ledger};

/// A shift under way: the car rolls while the rotor spins as it did.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Shift {
    /// The gear that was left.
    pub from: usize,
    /// The gear to come.
    pub to: usize,
    /// Road speed at which the gear was left, m/s.
    pub rotor_mps: f64,
}

impl Shift {
    /// Engages the new gear at a road speed and returns the road speed after it, m/s. What the
    /// plastic impact takes from rotor and car goes to the clutch; the time of the shift booked the
    /// car alone, so that the rotor's change is booked here.
    pub fn engage(&self, car: &Car, rolling_mps: f64, ledger: &mut Ledger) -> f64 {
        let Self { from, to, rotor_mps } = *self;
        let (after_mps, lost_j) = car.engage(to, rolling_mps, from, rotor_mps);
        ledger[Account::Clutch] += lost_j;
        ledger[Account::Kinetic] += car.kinetic_j(after_mps, Some(to))
            - car.kinetic_j(rolling_mps, None)
            - car.rotor_j(from, rotor_mps);
        after_mps
    }
}
