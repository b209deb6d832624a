//! Shifting: the gear lever, and what happens when a gear is engaged.

use crate::car::Car;
use crate::driver::{DWELL_S, Driver};
use crate::ledger::{Account, Ledger};
use crate::state::State;
use crate::trace::Stretch;

/// Lag behind the trace at which the driver looks for a lower gear, m/s (common practice, no
/// source).
const HELD_BACK_MPS: f64 = 0.5;
/// Time that counts as over, s.
const OVER_S: f64 = 1e-9;
/// Rounding that is granted to the time between two shifts, s.
const DWELL_SLACK_S: f64 = 1e-6;

/// A shift: the car rolls while the rotor spins as it did.
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

/// The gear lever.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lever {
    /// The gear, or the one that was left.
    pub gear: usize,
    /// Shifts so far.
    pub shifts: u32,
    /// The shift under way, and what is left of it, s.
    shift: Option<(Shift, f64)>,
    /// Time since the last shift, s.
    since_s: f64,
}

impl Lever {
    /// In a gear, free to leave it.
    pub fn new(gear: usize) -> Self {
        Self { gear, shifts: 0, shift: None, since_s: DWELL_S }
    }

    /// The gear, unless a shift is under way.
    #[inline]
    pub fn engaged(&self) -> Option<usize> {
        self.shift.is_none().then_some(self.gear)
    }

    /// What is left of the shift under way, s.
    #[inline]
    pub fn left_s(&self) -> Option<f64> {
        self.shift.map(|(_, left_s)| left_s)
    }

    /// Lets the driver choose the gear for a stretch: at rest at once, else by a shift.
    pub fn choose(
        &mut self,
        car: &Car,
        driver: &Driver,
        stretch: &Stretch,
        state: &mut State,
        ledger: &mut Ledger,
    ) {
        let speed_mps = state.speed_mps;
        let resting = speed_mps == 0.0;
        if self.shift.is_some() || !resting && self.since_s < DWELL_S - DWELL_SLACK_S {
            return;
        }
        let held_back = stretch.from_mps - speed_mps > HELD_BACK_MPS;
        let wanted = driver.gear(car, state, self.gear, stretch, held_back);
        if resting {
            self.gear = wanted;
        } else if wanted != self.gear {
            self.shifts += 1;
            let shift = Shift { from: self.gear, to: wanted, rotor_mps: speed_mps };
            self.shift = Some((shift, car.parts().gearbox.shift_s));
            self.pass(0.0, car, state, ledger);
        }
    }

    /// Lets time pass; at the end of a shift the new gear is engaged.
    #[inline]
    pub fn pass(&mut self, for_s: f64, car: &Car, state: &mut State, ledger: &mut Ledger) {
        self.since_s += for_s;
        if let Some((shift, left_s)) = &mut self.shift {
            *left_s -= for_s;
            if *left_s <= OVER_S {
                state.speed_mps = shift.engage(car, state.speed_mps, ledger);
                self.gear = shift.to;
                self.shift = None;
                self.since_s = 0.0;
            }
        }
    }
}
