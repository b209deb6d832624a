//! For how long a speed is held on a slope, and what gives up first.

use crate::car::{Car, Request, Slope};
use crate::limit::Limit;
use crate::pieces::{Piece, Place, Sight, Stuck, Tolerance};
use crate::state::State;
use crate::steady::{HELD_MPS2, equilibrium};

/// What comes of holding a speed on a slope in a gear.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Outcome {
    /// It is held [continuously](crate::steady::continuous): motor and controller settle below
    /// their warnings, and the cells stay within their limits until the pack gives out.
    Continuous {
        /// Largest share of the way from ambient to a warning temperature that a part goes.
        heat_share: f64,
        /// When the pack gives out, s, and how it says so; `None` beyond the time that was tried.
        pack: Option<(f64, Limit)>,
    },
    /// It is held until something cuts back or gives out.
    Ends {
        /// When, s.
        time_s: f64,
        /// What: [`Limit::Charge`] is an empty pack.
        by: Limit,
    },
    /// Nothing had given up when the time was over, though it would not be held continuously.
    Beyond {
        /// The time, s.
        time_s: f64,
    },
    /// It is not held at all.
    Cannot {
        /// What stands in the way.
        by: Option<Limit>,
    },
}

impl Outcome {
    /// Whether this is better than another: lasting longer, then cooler.
    pub fn beats(&self, other: &Outcome) -> bool {
        let rank = |o: &Outcome| match o {
            Outcome::Continuous { heat_share, .. } => (f64::INFINITY, -heat_share),
            Outcome::Beyond { time_s } | Outcome::Ends { time_s, .. } => (*time_s, 0.0),
            Outcome::Cannot { .. } => (f64::NEG_INFINITY, 0.0),
        };
        let (a, b) = (rank(self), rank(other));
        a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)).is_gt()
    }
}

/// How closely it is integrated: over minutes, steps of half a minute do.
const TOLERANCE: Tolerance = Tolerance {
    relative: 1e-6,
    absolute: 1e-8,
    longest_step_s: 30.0,
    most_steps: 50_000,
    stiff_after: 3000,
};

/// Holds a speed on a slope in a gear and says for how long, up to `most_s`.
///
/// Heat, charge and short peaks are integrated until a part reaches the temperature from which it
/// cuts back, a limit takes speed, or the weakest cell is empty.
///
/// # Errors
/// [`Stuck`] when the solver cannot go on.
pub fn endurance(
    car: &Car,
    start: &State,
    slope: Slope,
    speed_mps: f64,
    gear: usize,
    most_s: f64,
) -> Result<Outcome, Stuck> {
    let from = State { speed_mps, distance_m: 0.0, ..*start };
    let flow = car.act(&car.now(&from, 0.0), speed_mps, slope, gear, Request::Accelerate(0.0));
    if car.motor_radps(gear, speed_mps) > car.max_radps() {
        return Ok(Outcome::Cannot { by: Some(Limit::Rpm) });
    }
    if flow.acceleration_mps2 < -HELD_MPS2 {
        return Ok(Outcome::Cannot { by: flow.limit });
    }
    let found = until(car, &from, slope, gear, most_s)?;
    let pack = match found {
        Outcome::Ends { time_s, by } if by.is_an_exhausted_pack() => Some((time_s, by)),
        Outcome::Beyond { .. } => None,
        _ => return Ok(found),
    };
    Ok(match equilibrium(car, start, slope, speed_mps, gear) {
        Ok(settled) => {
            let heat_share = car.thermal().share(&settled.state.temperature_k);
            Outcome::Continuous { heat_share, pack }
        }
        Err(_) => found,
    })
}

/// Holds the speed of a state on a slope in a gear until something cuts back or gives out.
fn until(
    car: &Car,
    from: &State,
    slope: Slope,
    gear: usize,
    most_s: f64,
) -> Result<Outcome, Stuck> {
    let ask = |_: f64, _: &State| Request::Accelerate(0.0);
    let piece = Piece { car, gear, slope, ask };
    let pack = &car.parts().pack;
    let over = |sight: &Sight<'_>| -> Option<Limit> {
        let s = sight.state;
        if let Some(limit) = car.thermal().too_hot(&s.temperature_k) {
            return Some(limit);
        }
        if pack.is_empty(s) && sight.flow().pack_a > 0.0 {
            return Some(Limit::Charge);
        }
        let flow = sight.flow();
        let lost = flow.acceleration_mps2 < -HELD_MPS2;
        lost.then(|| flow.limit.unwrap_or(Limit::MotorTorque))
    };
    Ok(match piece.run(&Place::start(*from), most_s, &TOLERANCE, over, &mut ())? {
        (end, Some(by)) => Outcome::Ends { time_s: end.time_s, by },
        (_, None) => Outcome::Beyond { time_s: most_s },
    })
}
