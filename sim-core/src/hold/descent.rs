//! Going down: what regen holds, what the friction brakes must take.

use crate::car::{Car, Flow, Request, Slope};
use crate::climb::{CRAWL_MPS, HOLD_S, Hill};
use crate::extremes::Extremes;
use crate::follow::{Moment, Recorder};
use crate::ledger::Account;
use crate::limit::Limit;
use crate::pieces::{Piece, Place, Sight, Stuck, Tolerance};
use crate::root::Bracket;
use crate::state::State;

/// How a descent ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DescentEnding {
    /// At the foot of the hill.
    Foot,
    /// The weakest cell was empty.
    Empty,
    /// The car had slowed to a crawl.
    Stalled,
}

/// What ends a piece of a descent.
#[derive(Debug, Clone, Copy)]
enum Event {
    /// Something cuts regen back.
    CutBack(Limit),
    End(DescentEnding),
}

/// A descent in one gear.
#[derive(Debug, Clone, PartialEq)]
pub struct Descent {
    /// The gear.
    pub gear: usize,
    /// How it ended.
    pub ending: DescentEnding,
    /// Where it ended.
    pub end: Place,
    /// Energy of the friction brakes, J.
    pub friction_j: f64,
    /// Energy that regen put into the pack's terminals, J.
    pub regen_j: f64,
    /// Energy that the pack gave while it got none, J.
    pub drawn_j: f64,
    /// Largest power of the friction brakes, W.
    pub peak_friction_w: f64,
    /// How far it strained the car.
    pub extremes: Extremes,
    /// When something first cut regen back, s, and what.
    pub cut_back: Option<(f64, Limit)>,
    /// What lifting off does at the start.
    pub coasting: Coasting,
}

/// What a car does on a slope when both pedals are let go.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Coasting {
    /// It rolls to a stop: the slope is too gentle for it to keep moving.
    Stops,
    /// It settles at a speed, m/s.
    Settles(f64),
    /// The slope wins up to the motor's highest speed.
    RunsAway,
}

/// Rolls down a hill at a steady speed in a gear, regen first and friction for the rest.
///
/// Disc temperature and brake fade are not modelled: the energies and powers are what the brakes
/// must take, not what they can.
///
/// # Errors
/// [`Stuck`] when the solver cannot go on.
pub fn descent<R: Recorder>(
    car: &Car,
    start: &State,
    hill: &Hill,
    gear: usize,
    tolerance: &Tolerance,
    recorder: &mut R,
) -> Result<Descent, Stuck> {
    // Where the motor may not turn that fast, the driver brakes to what it may.
    let driven_mps = hill.speed_mps.min(car.whole_torque_mps(gear));
    let ask = |_: f64, s: &State| Request::Accelerate((driven_mps - s.speed_mps) / HOLD_S);
    let piece = Piece { car, gear, slope: hill.slope, ask };
    let mut place = Place::start(State { speed_mps: driven_mps, distance_m: 0.0, ..*start });
    let mut found = Descent {
        gear,
        ending: DescentEnding::Foot,
        end: place,
        friction_j: 0.0,
        regen_j: 0.0,
        drawn_j: 0.0,
        peak_friction_w: 0.0,
        extremes: Extremes::begin(start),
        cut_back: None,
        coasting: coasting(car, start, hill.slope, gear),
    };
    let crawl_mps = CRAWL_MPS.min(0.5 * driven_mps);
    // Even a crawl reaches the foot in this time.
    let most_s = hill.distance_m / crawl_mps;
    // The instant at the top counts as well.
    let at_top = piece.flow(0.0, &place.state);
    found.see(&at_top, &place.state);
    let terminal_w = |flow: &Flow| flow.pack_v * flow.pack_a;
    let mut before_w = terminal_w(&at_top);
    let pack = &car.parts().pack;
    found.ending = loop {
        let is_cut_back = found.cut_back.is_some();
        let happens = |sight: &Sight<'_>| {
            let s = sight.state;
            if s.distance_m >= hill.distance_m {
                Some(Event::End(DescentEnding::Foot))
            } else if pack.is_empty(s) && sight.flow().pack_a > 0.0 {
                Some(Event::End(DescentEnding::Empty))
            } else if s.speed_mps <= crawl_mps {
                Some(Event::End(DescentEnding::Stalled))
            } else if is_cut_back {
                None
            } else {
                sight.flow().limit.map(Event::CutBack)
            }
        };
        // Friction is read off the ledger of the state; what goes in and out of the pack is the
        // trapezium of each step.
        let mut watch = |m: &Moment<'_>| {
            let after_w = terminal_w(m.flow);
            found.regen_j += 0.5 * ((-before_w).max(0.0) + (-after_w).max(0.0)) * m.step_s;
            found.drawn_j += 0.5 * (before_w.max(0.0) + after_w.max(0.0)) * m.step_s;
            before_w = after_w;
            found.see(m.flow, m.state);
            recorder.record(m);
        };
        let (reached, event) = piece.run(&place, most_s, tolerance, happens, &mut watch)?;
        place = reached;
        match event {
            Some(Event::CutBack(limit)) => found.cut_back = Some((place.time_s, limit)),
            Some(Event::End(ending)) => break ending,
            None => break DescentEnding::Foot,
        }
    };
    found.friction_j = place.ledger[Account::Brakes];
    found.end = place;
    Ok(found)
}

impl Descent {
    /// Takes the peaks of an instant.
    fn see(&mut self, flow: &Flow, state: &State) {
        self.peak_friction_w = self.peak_friction_w.max(flow.powers[Account::Brakes]);
        self.extremes.see(flow);
        self.extremes.feel(state);
    }
}

/// What lifting off does on a slope in a gear: the car settles at the lowest speed above which
/// lift-off regen and the road load together hold it back, found by a scan and bisection.
pub fn coasting(car: &Car, start: &State, slope: Slope, gear: usize) -> Coasting {
    let now = car.now(start, 0.0);
    let gains = |v: f64| car.act(&now, v, slope, gear, Request::LiftOff).acceleration_mps2 > 0.0;
    let most = car.top_speed_by_rpm_mps(gear);
    let steps = 400;
    let at = |i: i32| (most * f64::from(i) / f64::from(steps)).max(0.01);
    let Some(i) = (1..=steps).find(|i| gains(at(i - 1)) && !gains(at(*i))) else {
        return if gains(most) { Coasting::RunsAway } else { Coasting::Stops };
    };
    Coasting::Settles(Bracket { holds: at(i - 1), fails: at(i) }.halved(40, gains).holds)
}
