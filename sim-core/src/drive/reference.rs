//! The same drive through the adaptive solver: what [`follow`](crate::follow::follow) is held to.

use super::along::{Traveller, Travels};
use super::shift::Lever;
use crate::car::{Car, Request, Slope};
use crate::driver::{CATCH_UP_S, Driver};
use crate::pieces::{Piece, Place, Sight, Stuck, Tolerance};
use crate::state::State;
use crate::trace::Trace;

/// Speed under which a car on a trace at rest stands, m/s.
const STANDING_MPS: f64 = 1e-6;

/// What ends a piece.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Event {
    /// The slope of the road changes.
    Turn,
    /// The weakest cell is empty.
    Empty,
}

/// Drives a trace with the same driver and the same gear decisions as
/// [`follow`](crate::follow::follow), every piece integrated by `ode_solvers` to a tolerance.
///
/// It ends with the trace or with an empty pack.
///
/// # Errors
/// [`Stuck`] when the solver cannot go on.
pub fn follow(
    car: &Car,
    trace: &Trace,
    driver: &Driver,
    start: &State,
    gear: usize,
    tolerance: &Tolerance,
) -> Result<Place, Stuck> {
    let mut place = Place::start(*start);
    let mut lever = Lever::new(gear);
    let mut from_s = 0.0;
    let mut along = 0;
    let stretches = trace.stretches();
    let pack = &car.parts().pack;
    let mut here = Traveller::of(car);
    let mut reaches = trace.reaches().iter().peekable();
    for (number, stretch) in stretches.iter().enumerate() {
        if let Some(next) = reaches.next_if(|reach| reach.first <= number) {
            here.come_to(&next.along);
        }
        let car: &Car = &here;
        lever.choose(car, driver, stretch, &mut place.state, &mut place.ledger);
        let to_s = from_s + stretch.for_s;
        let slant = (stretch.to_mps - stretch.from_mps) / stretch.for_s;
        let ask = |t: f64, s: &State| {
            let trace_mps = stretch.from_mps + slant * (t - from_s);
            slant - (s.speed_mps - trace_mps) / CATCH_UP_S
        };
        while to_s - place.time_s > 1e-9 {
            let gone_m = place.state.distance_m - start.distance_m;
            while along + 1 < stretches.len() && stretches[along].end_m <= gone_m + 1e-7 {
                along += 1;
            }
            let road = &stretches[along];
            let slope = Slope { sin: road.sin_grade, cos: road.cos_grade };
            // A change of slope is an event; on a level trace, and at its end, there is none.
            let turns = along + 1 < stretches.len() && !trace.is_level();
            let turn_m = start.distance_m + road.end_m;
            let happens = |sight: &Sight<'_>| {
                if turns && sight.state.distance_m >= turn_m {
                    Some(Event::Turn)
                } else if pack.is_empty(sight.state) && sight.flow().pack_a > 0.0 {
                    Some(Event::Empty)
                } else {
                    None
                }
            };
            let stands = lever.engaged().is_some()
                && stretch.from_mps == 0.0
                && stretch.to_mps == 0.0
                && place.state.speed_mps < STANDING_MPS;
            if stands {
                place.state.speed_mps = 0.0;
            }
            let asked = |t: f64, s: &State| match lever.engaged() {
                Some(_) => Request::Accelerate(if stands { 0.0 } else { ask(t, s) }),
                None => Request::Disconnected(ask(t, s)),
            };
            let piece = Piece { car, gear: lever.gear, slope, ask: asked };
            let end_s = lever.left_s().map_or(to_s, |left_s| to_s.min(place.time_s + left_s));
            let (reached, event) = piece.run(&place, end_s, tolerance, happens, &mut ())?;
            if event == Some(Event::Empty) {
                return Ok(reached);
            }
            let passed_s = reached.time_s - place.time_s;
            place = reached;
            lever.pass(passed_s, car, &mut place.state, &mut place.ledger);
        }
        if stretch.to_mps == 0.0 && place.state.speed_mps < STANDING_MPS {
            place.state.speed_mps = 0.0;
        }
        from_s = to_s;
    }
    Ok(place)
}
