//! Going down: what regen holds, what the friction brakes must take.

use crate::car::{Car, Request, Slope};
use crate::climb::Hill;
use crate::follow::{Moment, Recorder};
use crate::ledger::Account;
use crate::limit::Limit;
use crate::pieces::{Piece, Place, Stuck, Tolerance};
use crate::state::State;

/// A descent in one gear.
#[derive(Debug, Clone, PartialEq)]
pub struct Descent {
    /// The gear.
    pub gear: usize,
    /// Where it ended.
    pub end: Place,
    /// Energy of the friction brakes, J.
    pub friction_j: f64,
    /// Energy that regen put into the pack's terminals, J.
    pub regen_j: f64,
    /// Largest power of the friction brakes, W.
    pub peak_friction_w: f64,
    /// Largest charge current, A.
    pub peak_charge_a: f64,
    /// Highest cell voltage, V.
    pub high_cell_v: f64,
    /// Largest share of the driven tyres' grip used.
    pub peak_grip: f64,
    /// When something first cut regen back, s, and what.
    pub cut_back: Option<(f64, Limit)>,
    /// Speed at which the slope balances lift-off regen at the start, m/s (`None`: it does not
    /// within the motor's speed).
    pub lift_off_mps: Option<f64>,
    /// Hottest winding, K.
    pub peak_winding_k: f64,
    /// Hottest heat sink, K.
    pub peak_sink_k: f64,
    /// Hottest cells, K.
    pub peak_cells_k: f64,
}

/// Time constant with which the driver holds the speed, s (common practice, no source).
const HOLD_S: f64 = 2.0;

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
    let ask = |_: f64, s: &State| Request::Accelerate((hill.speed_mps - s.speed_mps) / HOLD_S);
    let piece = Piece { car, gear, slope: hill.slope, ask };
    let mut place = Place::start(State { speed_mps: hill.speed_mps, distance_m: 0.0, ..*start });
    let mut found = Descent {
        gear,
        end: place,
        friction_j: 0.0,
        regen_j: 0.0,
        peak_friction_w: 0.0,
        peak_charge_a: 0.0,
        high_cell_v: 0.0,
        peak_grip: 0.0,
        cut_back: None,
        lift_off_mps: lift_off_speed(car, start, hill.slope, gear),
        peak_winding_k: start.winding_k,
        peak_sink_k: start.sink_k,
        peak_cells_k: start.cells_k,
    };
    let most_s = 2.0 * hill.distance_m / hill.speed_mps;
    while place.state.distance_m < hill.distance_m - 1e-6 && place.time_s < most_s {
        let limit = piece.flow(place.time_s, &place.state).limit;
        if let (None, Some(which)) = (found.cut_back, limit) {
            found.cut_back = Some((place.time_s, which));
        }
        let leaves =
            |t: f64, s: &State| s.distance_m >= hill.distance_m || piece.flow(t, s).limit != limit;
        // Friction and regen are read off the ledger of the state; powers off the flow.
        let mut watch = |m: &Moment<'_>| {
            let flow = m.flow;
            let terminal_w = flow.pack_v * flow.pack_a;
            found.regen_j += (-terminal_w).max(0.0) * m.step_s;
            found.peak_friction_w = found.peak_friction_w.max(flow.powers[Account::Brakes]);
            found.peak_charge_a = found.peak_charge_a.max(-flow.pack_a);
            found.high_cell_v = found.high_cell_v.max(flow.high_cell_v);
            found.peak_grip = found.peak_grip.max(flow.grip_used);
            found.peak_winding_k = found.peak_winding_k.max(m.state.winding_k);
            found.peak_sink_k = found.peak_sink_k.max(m.state.sink_k);
            found.peak_cells_k = found.peak_cells_k.max(m.state.cells_k);
            recorder.record(m);
        };
        place = piece.run(&place, most_s, tolerance, leaves, &mut watch)?.0;
    }
    found.friction_j = place.ledger[Account::Brakes];
    found.end = place;
    Ok(found)
}

/// Speed at which lift-off regen and the road load together hold a slope, m/s: the lowest stable
/// balance above the regen fade, found by a scan and bisection; `None` if the slope wins at every
/// speed of the motor.
pub fn lift_off_speed(car: &Car, start: &State, slope: Slope, gear: usize) -> Option<f64> {
    let now = car.now(start, 0.0);
    let gains = |v: f64| car.act(&now, v, slope, gear, Request::LiftOff).acceleration_mps2 > 0.0;
    let most = car.top_speed_by_rpm_mps(gear);
    let steps = 400;
    let at = |i: i32| most * f64::from(i) / f64::from(steps);
    let i = (1..=steps).find(|i| gains(at(i - 1).max(0.01)) && !gains(at(*i)))?;
    let (mut low, mut high) = (at(i - 1), at(i));
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if gains(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(low)
}
