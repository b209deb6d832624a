//! Holding a speed on a grade: for how long, how hot, in which gear.

use crate::car::{Car, Flow, Request, Slope};
use crate::extremes::Extremes;
use crate::follow::{Moment, Recorder};
use crate::limit::Limit;
use crate::pieces::{Piece, Place, Sight, Stuck, Tolerance};
use crate::root::{self, Bracket};
use crate::state::State;
use crate::steady::{SPEED_HALVINGS, SPEEDS, end_of_hold, speeds_mps};

/// A grade and how it is to be driven.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hill {
    /// Slope of the road; may be level or downhill.
    pub slope: Slope,
    /// Speed to hold, m/s.
    pub speed_mps: f64,
    /// How far, m.
    pub distance_m: f64,
}

/// How a climb ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ClimbEnding {
    /// At the top.
    Top,
    /// The weakest cell was empty.
    Empty,
    /// The car had slowed to a crawl.
    Stalled,
}

/// What ends a piece of a climb.
#[derive(Debug, Clone, Copy)]
enum Event {
    /// A part has reached the temperature from which it cuts back.
    Hot(Limit),
    /// The asked speed is lost.
    Slow,
    End(ClimbEnding),
}

/// A climb in one gear.
#[derive(Debug, Clone, PartialEq)]
pub struct Climb {
    /// The gear.
    pub gear: usize,
    /// How it ended.
    pub ending: ClimbEnding,
    /// Where it ended.
    pub end: Place,
    /// What happens at the start, at the asked speed or as near to it as the motor turns.
    pub first: Flow,
    /// What happens at the end.
    pub last: Flow,
    /// Slowest speed, m/s.
    pub slowest_mps: f64,
    /// When motor, controller or cells first cut back, s, and which.
    pub derated: Option<(f64, Limit)>,
    /// The box that did, by its number as stated, where it was the cells.
    pub derated_in: usize,
    /// When the asked speed was first lost, s, and to what.
    pub slowed: Option<(f64, Option<Limit>)>,
    /// The box to which, by its number as stated, where it was the cells.
    pub slowed_in: usize,
    /// How far it strained the car.
    pub extremes: Extremes,
}

/// Share of the asked speed that counts as held.
pub const HELD_SHARE: f64 = 0.99;
/// Time constant with which the driver holds the speed, s (common practice, no source).
pub(crate) const HOLD_S: f64 = 2.0;
/// Speed under which a climb is given up, m/s.
pub(crate) const CRAWL_MPS: f64 = 1.0;
/// Steps in which the highest speed of a hill is looked for at first, s; how near it then is taken
/// to be, as a share, and halvings that follow.
const CLIMB_STEP_S: f64 = 5.0;
const NEARLY: f64 = 1e-3;
const NEAR_HALVINGS: u32 = 5;

impl Climb {
    /// Whether the asked speed was held to the top.
    pub fn held(&self) -> bool {
        self.ending == ClimbEnding::Top && self.slowed.is_none()
    }

    /// Whether nothing but the end of the charge took the asked speed away.
    fn lost_for_charge_only(&self) -> bool {
        self.slowed.is_none_or(|(_, limit)| limit == Some(Limit::Charge))
    }

    /// How near the parts came to being cut back: [`Network::share`](crate::heat::Network::share).
    pub fn heat_share(&self, car: &Car) -> f64 {
        car.thermal().share(&self.extremes.hottest_k)
    }
}

/// Climbs in a gear from a state, which gives charge and temperatures; the car arrives at the foot
/// of the hill with the speed to hold, or with that up to which the gear has its whole torque.
///
/// # Errors
/// [`Stuck`] when the solver cannot go on.
pub fn climb<R: Recorder>(
    car: &Car,
    start: &State,
    hill: &Hill,
    gear: usize,
    tolerance: &Tolerance,
    recorder: &mut R,
) -> Result<Climb, Stuck> {
    climb_until(car, start, hill, gear, tolerance, recorder, |_| false)
}

/// The same, up to where it has become such that it need not be driven to its end.
fn climb_until<R: Recorder>(
    car: &Car,
    start: &State,
    hill: &Hill,
    gear: usize,
    tolerance: &Tolerance,
    recorder: &mut R,
    decided: impl Fn(&Climb) -> bool,
) -> Result<Climb, Stuck> {
    // Where the motor cannot turn that fast, the driver goes as fast as it can.
    let driven_mps = hill.speed_mps.min(car.whole_torque_mps(gear));
    let ask = |_: f64, s: &State| Request::Accelerate((driven_mps - s.speed_mps) / HOLD_S);
    let piece = Piece { car, gear, slope: hill.slope, ask };
    let mut place = Place::start(State { speed_mps: driven_mps, distance_m: 0.0, ..*start });
    let too_fast = driven_mps < HELD_SHARE * hill.speed_mps;
    let first = piece.flow(0.0, &place.state);
    let mut climb = Climb {
        gear,
        ending: ClimbEnding::Top,
        end: place,
        first,
        last: first,
        slowest_mps: driven_mps,
        derated: None,
        derated_in: 0,
        slowed: too_fast.then_some((0.0, Some(Limit::Rpm))),
        slowed_in: 0,
        extremes: Extremes::begin(start),
    };
    climb.extremes.see(&first);
    let hot = |s: &State| car.thermal().too_hot(&s.temperature_k);
    let pack = &car.parts().pack;
    // Even a crawl reaches the end of the hill in this time.
    let most_s = hill.distance_m / CRAWL_MPS;
    let ending = loop {
        let (is_hot, is_slow) = (climb.derated.is_some(), climb.slowed.is_some());
        let happens = |sight: &Sight<'_>| {
            let s = sight.state;
            if s.distance_m >= hill.distance_m {
                Some(Event::End(ClimbEnding::Top))
            } else if pack.is_empty(s) && sight.flow().pack_a > 0.0 {
                Some(Event::End(ClimbEnding::Empty))
            } else if s.speed_mps <= CRAWL_MPS {
                Some(Event::End(ClimbEnding::Stalled))
            } else if let Some(limit) = hot(s).filter(|_| !is_hot) {
                Some(Event::Hot(limit))
            } else if !is_slow && s.speed_mps < HELD_SHARE * hill.speed_mps {
                Some(Event::Slow)
            } else {
                None
            }
        };
        let mut watch = |m: &Moment<'_>| {
            climb.slowest_mps = climb.slowest_mps.min(m.state.speed_mps);
            climb.extremes.see(m.flow);
            climb.extremes.feel(m.state);
            recorder.record(m);
        };
        let (reached, event) = piece.run(&place, most_s, tolerance, happens, &mut watch)?;
        place = reached;
        match event {
            Some(Event::Hot(limit)) => {
                climb.derated = Some((place.time_s, limit));
                climb.derated_in = car.box_that_holds(&place.state, 1.0, limit);
            }
            Some(Event::Slow) => {
                let flow = piece.flow(place.time_s, &place.state);
                climb.slowed = Some((place.time_s, flow.limit));
                if let Some(limit) = flow.limit {
                    climb.slowed_in = car.box_that_holds(&place.state, flow.pack_a, limit);
                }
            }
            Some(Event::End(ending)) => break ending,
            None => break ClimbEnding::Top,
        }
        if decided(&climb) {
            break ClimbEnding::Stalled;
        }
    };
    climb.ending = ending;
    climb.last = piece.flow(place.time_s, &place.state);
    climb.end = place;
    Ok(climb)
}

/// The best of several climbs: one that held its speed without anything cutting back if there is
/// one, then one that held it; then one that came to the top, the sooner the better; then one that
/// held its speed until the charge ran out; then any other. Of those not at the top the one that came
/// furthest; of equals the coolest.
pub fn best<'a>(car: &Car, climbs: &'a [Climb]) -> Option<&'a Climb> {
    let rank = |c: &Climb| {
        let (class, worse) = match (c.ending, c.held(), c.derated) {
            (ClimbEnding::Top, true, None) => (0, 0.0),
            (ClimbEnding::Top, true, Some(_)) => (1, 0.0),
            (ClimbEnding::Top, false, _) => (2, c.end.time_s),
            (ClimbEnding::Empty, ..) if c.lost_for_charge_only() => (3, -c.end.state.distance_m),
            (ClimbEnding::Empty | ClimbEnding::Stalled, ..) => (4, -c.end.state.distance_m),
        };
        (class, worse, c.heat_share(car))
    };
    climbs.iter().min_by(|a, b| {
        let (a, b) = (rank(a), rank(b));
        a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.total_cmp(&b.2))
    })
}

/// The highest speed that a hill can be climbed at in a gear with nothing cutting back, m/s.
///
/// # Errors
/// [`Stuck`] when the solver cannot go on.
pub fn highest_speed(
    car: &Car,
    start: &State,
    hill: &Hill,
    gear: usize,
    tolerance: &Tolerance,
) -> Result<Option<f64>, Stuck> {
    let grid = speeds_mps(car, gear);
    let holds = |speed_mps: f64| {
        let hill = Hill { speed_mps, ..*hill };
        // A speed that cannot be held at the foot need not be driven to the top.
        let at_foot = State { speed_mps, ..*start };
        let now = car.now(&at_foot, 0.0);
        let foot = car.act(&now, speed_mps, hill.slope, gear, Request::Accelerate(0.0));
        if foot.acceleration_mps2 < -1e-9 {
            return Ok(false);
        }
        let lost = |run: &Climb| run.slowed.is_some() || run.derated.is_some();
        let run = climb_until(car, start, &hill, gear, tolerance, &mut (), lost)?;
        Ok(run.ending == ClimbEnding::Top && !lost(&run))
    };
    // By steps it is nearly known, so that it is driven around that only.
    let by_steps = |speed_mps: f64| {
        let from = State { speed_mps, distance_m: 0.0, ..*start };
        let too_hot = |s: &State| car.thermal().too_hot(&s.temperature_k);
        let for_s = hill.distance_m / speed_mps;
        end_of_hold(car, from, (hill.slope, gear), (for_s, CLIMB_STEP_S), too_hot).is_none()
    };
    if let Some(near_mps) = root::highest(SPEEDS, &grid, SPEED_HALVINGS, by_steps) {
        let most_mps = grid(f64::from(SPEEDS));
        let above_mps = (near_mps * (1.0 + NEARLY)).min(most_mps);
        let below_mps = near_mps * (1.0 - NEARLY);
        if holds(above_mps)? {
            if above_mps == most_mps {
                return Ok(Some(most_mps));
            }
        } else if holds(below_mps)? {
            let near = Bracket { holds: below_mps, fails: above_mps };
            return Ok(Some(near.try_halved(NEAR_HALVINGS, holds)?.holds));
        }
    }
    root::try_highest(SPEEDS, grid, SPEED_HALVINGS, holds)
}
