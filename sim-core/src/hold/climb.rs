//! Holding a speed on a grade: for how long, how hot, in which gear.

use crate::car::{Car, Flow, Request, Slope};
use crate::extremes::Extremes;
use crate::follow::{Moment, Recorder};
use crate::heat::{Node, PerNode};
use crate::limit::Limit;
use crate::pieces::{Piece, Place, Sight, Stuck, Tolerance};
use crate::root::{self, Bracket};
use crate::state::State;

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
    /// When the asked speed was first lost, s, and to what.
    pub slowed: Option<(f64, Option<Limit>)>,
    /// How far it strained the car.
    pub extremes: Extremes,
}

/// Share of the asked speed that counts as held.
pub const HELD_SHARE: f64 = 0.99;
/// Time constant with which the driver holds the speed, s (common practice, no source).
pub(crate) const HOLD_S: f64 = 2.0;
/// A time after which polarisation and heat have settled, s.
const SETTLED_S: f64 = 1e9;
/// Speed under which a climb is given up, m/s.
pub(crate) const CRAWL_MPS: f64 = 1.0;
/// Speeds of a gear that are tried in a search for the highest, and halvings that follow.
const SPEEDS: u32 = 24;
const SPEED_HALVINGS: u32 = 12;

impl Climb {
    /// Whether the asked speed was held to the top.
    pub fn held(&self) -> bool {
        self.ending == ClimbEnding::Top && self.slowed.is_none()
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
        slowed: too_fast.then_some((0.0, Some(Limit::Rpm))),
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
            Some(Event::Hot(limit)) => climb.derated = Some((place.time_s, limit)),
            Some(Event::Slow) => {
                let held_by = piece.flow(place.time_s, &place.state).limit;
                climb.slowed = Some((place.time_s, held_by));
            }
            Some(Event::End(ending)) => break ending,
            None => break ClimbEnding::Top,
        }
    };
    climb.ending = ending;
    climb.last = piece.flow(place.time_s, &place.state);
    climb.end = place;
    Ok(climb)
}

/// The best of several climbs: one that held its speed without anything cutting back if there is
/// one, then the coolest.
pub fn best<'a>(car: &Car, climbs: &'a [Climb]) -> Option<&'a Climb> {
    let rank = |c: &Climb| {
        let fails = match (c.held(), c.derated) {
            (true, None) => 0.0,
            (true, Some(_)) => 1.0,
            (false, _) => 2.0 + 1.0 / c.end.state.distance_m.max(1.0),
        };
        // A share of heat is at most some tens; a class of failure outweighs it.
        let slow = if c.held() { 0.0 } else { c.end.time_s };
        (fails.floor(), slow, c.heat_share(car))
    };
    climbs.iter().min_by(|a, b| {
        let (a, b) = (rank(a), rank(b));
        a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.total_cmp(&b.2))
    })
}

/// Thermal equilibrium at a steady speed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Equilibrium {
    /// State with all temperatures settled and the charge of the start.
    pub state: State,
    /// What happens then.
    pub flow: Flow,
}

/// Settles all temperatures at a steady speed on a slope in a gear, at a given charge.
///
/// `None` when the car cannot hold the speed, or when something is above its warning temperature
/// before equilibrium. Solved by repeating the steady balance of the network with the losses of the
/// temperatures so far. Where losses grow with temperature, as in copper, that comes closer from one
/// side, or runs away past the warnings. Where they fall, as in cells, it may overshoot by more each
/// time: a node that turns back goes half as far from then on.
pub fn equilibrium(
    car: &Car,
    start: &State,
    slope: Slope,
    speed_mps: f64,
    gear: usize,
) -> Option<Equilibrium> {
    // Polarisation settled, the short peaks used up.
    let mut state =
        State { speed_mps, polarisation_v: 0.0, peak_reserve: 0.0, tyre_chill_k: 0.0, ..*start };
    let mut share = PerNode::of(|_| 1.0);
    let mut moved_k = PerNode::<f64>::default();
    let run_away_k = car.parts().motor.derating.cut_off_k + 200.0;
    for _ in 0..500 {
        let now = car.now(&state, SETTLED_S);
        let flow = car.act(&now, speed_mps, slope, gear, Request::Accelerate(0.0));
        if flow.limit.is_some() && flow.acceleration_mps2 < -1e-9 {
            return None;
        }
        let mut settled_k = car.thermal().mean_k(&state.temperature_k, &flow.heat, SETTLED_S);
        // A thermostat holds the cabin.
        settled_k[Node::Cabin] = state.temperature_k[Node::Cabin];
        let winding_k = settled_k[Node::Winding];
        if winding_k > run_away_k || !winding_k.is_finite() {
            return None;
        }
        let gap_k = PerNode::of(|node| settled_k[node] - state.temperature_k[node]);
        if gap_k.iter().all(|k| k.abs() < 1e-6) {
            state.temperature_k = settled_k;
            let lasts = car.thermal().too_hot(&settled_k).is_none();
            return lasts.then_some(Equilibrium { state, flow });
        }
        for node in Node::ALL {
            if gap_k[node] * moved_k[node] < 0.0 {
                share[node] *= 0.5;
            }
            moved_k[node] = share[node] * gap_k[node];
            state.temperature_k[node] += moved_k[node];
        }
    }
    None
}

/// Speeds of a gear, numbered up to [`SPEEDS`], which is just short of the motor's highest.
fn speeds_mps(car: &Car, gear: usize) -> impl Fn(f64) -> f64 {
    let most_mps = car.top_speed_by_rpm_mps(gear);
    move |i| most_mps * i / f64::from(SPEEDS) * 0.999
}

/// The highest speed that a slope can be held at for ever in a gear, m/s; `None` if there is none.
///
/// Scanned from the highest motor speed down, then halved. The charge is held at the start's.
pub fn highest_lasting_speed(car: &Car, start: &State, slope: Slope, gear: usize) -> Option<f64> {
    let lasts = |v: f64| equilibrium(car, start, slope, v, gear).is_some();
    root::highest(SPEEDS, speeds_mps(car, gear), SPEED_HALVINGS, lasts)
}

/// Force of the driven wheels that can be held for ever in a gear at a speed, N, and the slope that
/// takes it: the steepest slope with an [`equilibrium`], by bisection up to 60 %. `None` where not
/// even the level road can be held.
pub fn lasting_force_n(
    car: &Car,
    start: &State,
    speed_mps: f64,
    gear: usize,
) -> Option<(f64, Slope)> {
    let at = |grade: f64| {
        let slope = Slope::from_grade(grade);
        equilibrium(car, start, slope, speed_mps, gear).map(|e| (e.flow.drive_n, slope))
    };
    let mut found = at(0.0)?;
    Bracket { holds: 0.0, fails: 0.6 }.halved(30, |grade| match at(grade) {
        Some(steeper) => {
            found = steeper;
            true
        }
        None => false,
    });
    Some(found)
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
    root::try_highest(SPEEDS, grid, SPEED_HALVINGS, |speed_mps| {
        let hill = Hill { speed_mps, ..*hill };
        // A speed that cannot be held at the foot need not be driven to the top.
        let at_foot = State { speed_mps, ..*start };
        let now = car.now(&at_foot, 0.0);
        let foot = car.act(&now, speed_mps, hill.slope, gear, Request::Accelerate(0.0));
        if foot.acceleration_mps2 < -1e-9 {
            return Ok(false);
        }
        let run = climb(car, start, &hill, gear, tolerance, &mut ())?;
        Ok(run.held() && run.derated.is_none())
    })
}
