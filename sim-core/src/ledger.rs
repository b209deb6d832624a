//! Where each joule went.

use std::ops::{Index, IndexMut};

/// An account of the ledger.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(usize)]
pub enum Account {
    /// Chemical energy that left the cells.
    Chemical,
    /// Resistance of cells and harness.
    PackResistance,
    /// Controller losses.
    Controller,
    /// Motor windings and brushes.
    Copper,
    /// Motor iron and fixed losses.
    Iron,
    /// Motor windage and bearings.
    Windage,
    /// Gearbox and final drive.
    Gearbox,
    /// Rotor energy lost when a gear is engaged.
    Clutch,
    /// Tyre rolling, wheel bearings and brake pads.
    Rolling,
    /// Air.
    Air,
    /// Friction brakes.
    Brakes,
    /// 12 V loads, pumps, heater.
    Auxiliaries,
    /// Growth of kinetic energy.
    Kinetic,
    /// Growth of potential energy.
    Potential,
    /// Growth of the energy stored in the cells' polarisation.
    Polarisation,
}

impl Account {
    /// How many there are.
    pub const COUNT: usize = 15;

    /// All of them, in declaration order.
    pub const ALL: [Account; Self::COUNT] = [
        Account::Chemical,
        Account::PackResistance,
        Account::Controller,
        Account::Copper,
        Account::Iron,
        Account::Windage,
        Account::Gearbox,
        Account::Clutch,
        Account::Rolling,
        Account::Air,
        Account::Brakes,
        Account::Auxiliaries,
        Account::Kinetic,
        Account::Potential,
        Account::Polarisation,
    ];
}

/// Energies by account, J; as a rate, powers by account, W.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Ledger([f64; Account::COUNT]);

impl Index<Account> for Ledger {
    type Output = f64;
    #[inline]
    fn index(&self, account: Account) -> &f64 {
        &self.0[account as usize]
    }
}

impl IndexMut<Account> for Ledger {
    #[inline]
    fn index_mut(&mut self, account: Account) -> &mut f64 {
        &mut self.0[account as usize]
    }
}

impl Ledger {
    /// From numbers in the order of [`Account::ALL`].
    pub fn from_array(values: [f64; Account::COUNT]) -> Self {
        Self(values)
    }

    /// The numbers in the order of [`Account::ALL`].
    pub fn to_array(self) -> [f64; Account::COUNT] {
        self.0
    }

    /// Books powers held for a time.
    #[inline]
    pub fn book(&mut self, powers: &Ledger, for_s: f64) {
        for (sum, power) in self.0.iter_mut().zip(powers.0) {
            *sum += power * for_s;
        }
    }

    /// Adds another ledger.
    pub fn add(&mut self, other: &Ledger) {
        self.book(other, 1.0);
    }

    /// Chemical energy less everything it became, J. Zero when the books are right.
    pub fn residual_j(&self) -> f64 {
        self.0[0] - self.0[1..].iter().sum::<f64>()
    }

    /// All the energy that moved: the sum of all accounts' magnitudes, halved, J.
    pub fn throughput_j(&self) -> f64 {
        0.5 * self.0.iter().map(|v| v.abs()).sum::<f64>()
    }

    /// [`Self::residual_j`] over [`Self::throughput_j`].
    pub fn residual_share(&self) -> f64 {
        self.residual_j().abs() / self.throughput_j().max(f64::MIN_POSITIVE)
    }
}
