//! The most torque that all limits allow.

use super::electrics::Electrics;
use super::{Car, Spot};
use crate::limit::Limit;
use crate::root::{self, Bracket, Close, Near, Point, Zero};

/// Tolerance of the limit search, in torque as a share of the motor's peak and in the margin.
const SEARCH_TOLERANCE: f64 = 5e-11;

/// How often the secant is tried before the slower, safe search.
const SECANT_TRIES: u32 = 6;

/// The most torque in a direction.
pub(super) struct Most {
    pub(super) torque_nm: f64,
    /// What goes with it; `None` where no torque is allowed.
    pub(super) electrics: Option<Electrics>,
    pub(super) limit: Limit,
    /// Where it was found, if it had to be sought.
    pub(super) near: Option<Near>,
    /// What is left of the nearest electrical limit there.
    pub(super) margin: f64,
}

impl Car {
    /// The largest torque in a direction (`end_nm` gives its sign and the most that mechanics
    /// allow): where [`Self::margin`] ends, but for a tolerance at which the search aims so that
    /// what it finds lies inside. Begun near where another search ended, if that is known.
    pub(super) fn most_nm(
        &self,
        spot: &Spot,
        end_nm: f64,
        end_limit: Limit,
        near: Option<Near>,
    ) -> Most {
        let driving = end_nm >= 0.0;
        let at = |torque: f64| {
            let e = self.electrics(spot, torque);
            let (margin, limit) = self.margin(spot.now, driving, torque, &e);
            (margin - SEARCH_TOLERANCE, (e, limit))
        };
        let found = |zero: Zero<(Electrics, Limit)>| Most {
            torque_nm: zero.near.at,
            electrics: Some(zero.with.0),
            limit: zero.with.1,
            near: Some(zero.near),
            margin: 0.0,
        };
        let whole = Bracket { holds: 0.0, fails: end_nm };
        if let Some(near) = near
            && let Some(zero) = whole.secant(near, SECANT_TRIES, SEARCH_TOLERANCE, at)
        {
            return found(zero);
        }

        let (margin, (e, _)) = at(end_nm);
        if margin >= -SEARCH_TOLERANCE {
            let electrics = Some(e);
            return Most { torque_nm: end_nm, electrics, limit: end_limit, near: None, margin };
        }
        let mut outside = (end_nm, margin);
        let mut inside = None;
        // The motor's curve at the voltage of the larger torque is a close guess from inside.
        let curve_nm =
            self.parts.motor.machine.envelope.peak_at_nm(e.at_radps) * spot.now.motor_factor;
        let curve_nm = if driving { curve_nm } else { -curve_nm };
        if whole.encloses(curve_nm) {
            let (margin, with) = at(curve_nm);
            if margin >= 0.0 {
                inside = Some(Point { at: curve_nm, value: margin, with });
            } else {
                outside = (curve_nm, margin);
            }
        }
        // A limit is named by what is nearest at the torque found, not by what a larger one meets.
        let inside = match inside {
            Some(found) => found,
            None => {
                let (margin, with) = at(0.0);
                if margin <= 0.0 {
                    let (electrics, near) = (None, None);
                    return Most { torque_nm: 0.0, electrics, limit: with.1, near, margin };
                }
                Point { at: 0.0, value: margin, with }
            }
        };
        let apart = SEARCH_TOLERANCE * self.parts.motor.machine.envelope.largest_nm();
        found(root::crossing(inside, outside, Close { apart, value: SEARCH_TOLERANCE }, at))
    }
}
