//! The same drive through the adaptive solver: what [`follow`](crate::follow::follow) is held to.

use crate::car::{Car, Request, Slope};
use crate::drive::shift::Shift;
use crate::driver::{CATCH_UP_S, DWELL_S, Driver};
use crate::pieces::{Piece, Place, Stuck, Tolerance};
use crate::state::State;
use crate::trace::Trace;

/// Drives a trace with the same driver and the same gear decisions as
/// [`follow`](crate::follow::follow), every piece integrated by `ode_solvers` to a tolerance.
///
/// It ends with the trace; an empty pack does not end it.
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
    let mut gear = gear;
    let mut shift: Option<(Shift, f64)> = None;
    let mut shifted_s = -DWELL_S;
    let mut from_s = 0.0;
    let mut along = 0;
    let stretches = trace.stretches();
    for stretch in stretches {
        let speed = place.state.speed_mps;
        let may_shift = speed == 0.0 || from_s - shifted_s >= DWELL_S - 1e-6;
        if shift.is_none() && may_shift {
            let held_back = stretch.from_mps - speed > crate::follow::HELD_BACK_MPS;
            let wanted = driver.gear(car, &place.state, gear, stretch, held_back);
            if wanted != gear && speed == 0.0 {
                gear = wanted;
            } else if wanted != gear {
                let until_s = from_s + car.parts().gearbox.shift_s;
                shift = Some((Shift { from: gear, to: wanted, rotor_mps: speed }, until_s));
            }
        }
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
            let leaves = |_: f64, s: &State| turns && s.distance_m >= turn_m;
            match shift {
                Some((turning, until_s)) => {
                    let asked = |t: f64, s: &State| Request::Disconnected(ask(t, s));
                    let piece = Piece { car, gear, slope, ask: asked };
                    let end_s = until_s.min(to_s);
                    place = piece.run(&place, end_s, tolerance, leaves, &mut ())?.0;
                    if until_s <= to_s + 1e-9 && until_s - place.time_s <= 1e-9 {
                        let rolling_mps = place.state.speed_mps;
                        place.state.speed_mps = turning.engage(car, rolling_mps, &mut place.ledger);
                        gear = turning.to;
                        shift = None;
                        shifted_s = until_s;
                    }
                }
                None => {
                    let stands = stretch.from_mps == 0.0
                        && stretch.to_mps == 0.0
                        && place.state.speed_mps < 1e-6;
                    if stands {
                        place.state.speed_mps = 0.0;
                    }
                    let asked = |t: f64, s: &State| {
                        Request::Accelerate(if stands { 0.0 } else { ask(t, s) })
                    };
                    let piece = Piece { car, gear, slope, ask: asked };
                    place = piece.run(&place, to_s, tolerance, leaves, &mut ())?.0;
                }
            }
        }
        if stretch.to_mps == 0.0 && place.state.speed_mps < 1e-6 {
            place.state.speed_mps = 0.0;
        }
        from_s = to_s;
    }
    Ok(place)
}
