//! A lead battery of 12 V: how long it lasts.

/// Capacity that holds for a discharge of so many hours, h (EN 50342-1 rates starter batteries over
/// 20 h; from memory).
pub const RATED_H: f64 = 20.0;
/// Peukert's exponent of lead batteries: 1.1 to 1.3, the higher the older (handbook values, from
/// memory).
pub const PEUKERT: f64 = 1.2;

/// A lead battery.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeadBattery {
    /// Capacity over [`RATED_H`], A·h.
    pub capacity_ah: f64,
    /// Share of it that may be drawn.
    pub usable: f64,
}

impl LeadBattery {
    /// Hours at a steady current, `t = u·H·(C/(I·H))^k` (Peukert) where it is more than that of its
    /// rating, `u·C/I` where it is less: a slow discharge counts as no gain.
    pub fn lasts_h(&self, amps: f64) -> f64 {
        let rated = self.capacity_ah / (amps * RATED_H);
        self.usable * RATED_H * if rated < 1.0 { rated.powf(PEUKERT) } else { rated }
    }

    /// Capacity of the smallest that lasts for some hours at a current, A·h: the same, solved for `C`.
    pub fn smallest_ah(amps: f64, hours: f64, usable: f64) -> f64 {
        let share = hours / (usable * RATED_H);
        amps * RATED_H * if share < 1.0 { share.powf(1.0 / PEUKERT) } else { share }
    }
}
