//! One step of a drive: whole where nothing stands in the way, fine where something does.

use super::along::{Along, Travels};
use super::follow::{Drive, DriveEnding, Moment, Recorder};
use super::shift::Lever;
use crate::car::{Flow, Instant, Request, Slope};
use crate::driver::{CATCH_UP_S, Driver};
use crate::limit::Limit;
use crate::root::{Bracket, Near};
use crate::state::State;
use crate::trace::{Stretch, Trace};

/// Step while a limit holds the car back or it is far off the trace, as a share of the step.
const FINE_SHARE: f64 = 0.25;
/// Step while the car is off the trace, as a share of the step.
const LAGGING_SHARE: f64 = 0.5;
/// Lag on either side of the trace from which the car is off it, and far off it, m/s.
const LAGGING_MPS: f64 = 0.1;
const FAR_MPS: f64 = 0.5;
/// How much of a limit the end of a step may take beyond its middle, for each share by which
/// its speed is higher: one for the power, one for the torque curve that falls meanwhile.
const END_SHARE: f64 = 2.0;
/// Change of slope within a step above which steps are finer.
const BEND: f64 = 0.01;
/// Time that counts as over, s.
const OVER_S: f64 = 1e-9;
/// Gap under which an acceleration is the one asked for, m/s².
const MET_MPS2: f64 = 1e-9;
/// Share of the trace's speed under which a car that its pack holds back limps.
const LIMPING_SHARE: f64 = 0.7;
/// How long a car may limp for its pack before the trip ends, s (common practice, no source).
const PACK_PATIENCE_S: f64 = 10.0;

/// The lengths of steps.
pub(super) struct Pace {
    whole: Length,
    lagging: Length,
    fine: Length,
}

/// A length, s, and the share of a lag that is left after it.
struct Length {
    for_s: f64,
    kept: f64,
}

impl Pace {
    pub fn new(step_s: f64) -> Self {
        let length = |share: f64| Length { for_s: share * step_s, kept: kept(share * step_s) };
        Self { whole: length(1.0), lagging: length(LAGGING_SHARE), fine: length(FINE_SHARE) }
    }
}

/// Share of a lag that is left after a time.
fn kept(for_s: f64) -> f64 {
    (-for_s / CATCH_UP_S).exp()
}

/// What is left of a stretch.
pub(super) struct Rest<'a> {
    stretch: &'a Stretch,
    slant_mps2: f64,
    left_s: f64,
    /// Whether a free step was tried in vain.
    uneven: bool,
}

impl<'a> Rest<'a> {
    pub fn of(stretch: &'a Stretch) -> Self {
        let slant_mps2 = (stretch.to_mps - stretch.from_mps) / stretch.for_s;
        Self { stretch, slant_mps2, left_s: stretch.for_s, uneven: false }
    }

    #[inline]
    pub fn is_over(&self) -> bool {
        self.left_s <= OVER_S
    }

    #[inline]
    pub fn spend(&mut self, for_s: f64) {
        self.left_s -= for_s;
    }

    pub fn refine(&mut self) {
        self.uneven = true;
    }
}

/// A step that is to be taken.
pub(super) struct Step {
    /// Its length, s.
    pub for_s: f64,
    /// Whether nothing is known to stand in its way: it ends as it was aimed, or is not taken.
    pub is_free: bool,
    /// Speed of the trace at its end, m/s.
    trace_mps: f64,
    /// Speed that the driver aims at, m/s, and the acceleration that this takes, m/s².
    aim_mps: f64,
    wanted_mps2: f64,
    /// Acceleration to begin with where a limit held the car back before, m/s².
    guess_mps2: f64,
    /// Mean speed by that guess, m/s.
    middle_mps: f64,
    /// Mean slope of the road.
    slope: Slope,
}

impl Step {
    #[inline]
    fn is_met_by(&self, acceleration_mps2: f64) -> bool {
        (acceleration_mps2 - self.wanted_mps2).abs() <= MET_MPS2
    }
}

/// What holds the car back.
#[derive(Default)]
struct Hold {
    /// Acceleration in the last step, if a limit held it down, m/s².
    at_mps2: Option<f64>,
    /// The limit of the pack for which it limps, and for how long, s.
    limps: Option<(Limit, f64)>,
}

/// A drive under way.
pub(super) struct Run<'a, C, R> {
    car: C,
    trace: &'a Trace,
    driver: &'a Driver,
    recorder: &'a mut R,
    start_m: f64,
    state: State,
    lever: Lever,
    hold: Hold,
    /// Where the limit was that held the car back last.
    near: Option<Near>,
    /// Stretch of the road on which the car is.
    place: usize,
    /// The trace's own load on the pack, W.
    load_w: f64,
    /// Charge left in the weakest cell.
    charge_left: f64,
    /// Time outside the trace's tolerance since it was last kept, s.
    outside_s: f64,
    drive: Drive,
}

impl<'a, C: Travels, R: Recorder> Run<'a, C, R> {
    pub fn begin(
        car: C,
        trace: &'a Trace,
        driver: &'a Driver,
        start: &State,
        gear: usize,
        recorder: &'a mut R,
    ) -> Self {
        let mut drive = Drive::begin(start, gear);
        drive.feel(&car, start);
        let now = car.now(start, 0.0);
        let charge_left = now.pack.left;
        if charge_left <= 0.0 {
            drive.extremes.see(&car.at_rest(&now, 0.0));
        }
        Self {
            car,
            trace,
            driver,
            recorder,
            start_m: start.distance_m,
            state: *start,
            lever: Lever::new(gear),
            hold: Hold::default(),
            near: None,
            place: 0,
            load_w: 0.0,
            charge_left,
            outside_s: 0.0,
            drive,
        }
    }

    /// Comes to a reach of the road: its air and wind.
    pub fn come_to(&mut self, along: &Along) {
        self.car.come_to(along);
    }

    /// Comes to a stretch: its load, and the gear for it.
    pub fn choose_gear(&mut self, stretch: &Stretch) {
        self.load_w = stretch.auxiliary_w;
        let ledger = &mut self.drive.ledger;
        self.lever.choose(&self.car, self.driver, stretch, &mut self.state, ledger);
    }

    /// The next step: a whole one on the trace, a half one off it, a fine one far off it or where
    /// something stands in the way; no longer than the stretch and the shift under way.
    #[inline(always)]
    pub fn next_step(&mut self, pace: &Pace, rest: &Rest) -> Step {
        let &Rest { stretch, slant_mps2, left_s, uneven } = rest;
        let speed = self.state.speed_mps;
        let done_s = stretch.for_s - left_s;
        let trace_from_mps = stretch.from_mps + slant_mps2 * done_s;
        let lag_mps = (speed - trace_from_mps).abs();
        let is_held = uneven || self.hold.at_mps2.is_some() || lag_mps > FAR_MPS;
        let length = match lag_mps > LAGGING_MPS {
            _ if is_held => &pace.fine,
            true => &pace.lagging,
            false => &pace.whole,
        };
        let mut h = length.for_s.min(left_s);
        if let Some(shift_s) = self.lever.left_s() {
            h = h.min(shift_s);
        }
        if left_s - h < OVER_S {
            h = left_s;
        }
        let trace_mps = stretch.from_mps + slant_mps2 * (done_s + h);
        let kept = if h == length.for_s { length.kept } else { kept(h) };
        let aim_mps = Driver::aim_mps(speed, trace_from_mps, trace_mps, kept);
        let wanted_mps2 = (aim_mps - speed) / h;
        let guess_mps2 = self.hold.at_mps2.map_or(wanted_mps2, |held| held.min(wanted_mps2));
        let middle_mps = (speed + 0.5 * guess_mps2 * h).max(0.0);
        let slope = self.slope_ahead(middle_mps * h);
        let is_free = !is_held && self.lever.engaged().is_some();
        Step { for_s: h, is_free, trace_mps, aim_mps, wanted_mps2, guess_mps2, middle_mps, slope }
    }

    /// Takes a step and lands where it ends; returns whether it was taken.
    #[inline(always)]
    pub fn take(&mut self, step: &Step) -> bool {
        if !step.is_free {
            self.settle(step);
            return true;
        }
        self.free(step).is_some_and(|flow| {
            self.land(step, &flow);
            true
        })
    }

    /// What happens in a free step; nothing where a limit, fading regen or a change of slope lies in
    /// it.
    #[inline(always)]
    fn free(&mut self, step: &Step) -> Option<Flow> {
        let &Step { aim_mps, middle_mps, slope, .. } = step;
        if self.regen_fades(aim_mps) || self.bends(slope) {
            return None;
        }
        let now = self.now(step.for_s);
        let request = Request::Accelerate(step.wanted_mps2);
        let gear = self.lever.gear;
        let attempt = self.car.attempt(&now, middle_mps, slope, gear, request, self.near);
        // The end of the step takes more power than its middle.
        if attempt.spare() * middle_mps < END_SHARE * (aim_mps - middle_mps) {
            return None;
        }
        if !step.is_met_by(attempt.acceleration_mps2()) {
            self.near = attempt.near();
            return None;
        }
        Some(attempt.flow())
    }

    /// Takes a step whose speed follows from what happens: with the flow at its mean speed. By itself,
    /// as what is moved about should be small.
    #[inline(never)]
    fn settle(&mut self, step: &Step) {
        let &Step { for_s, wanted_mps2, slope, .. } = step;
        let (request, guess_mps2) = match self.lever.engaged() {
            Some(_) => (Request::Accelerate(wanted_mps2), step.guess_mps2),
            None => (Request::Disconnected(wanted_mps2), wanted_mps2),
        };
        let now = self.now(for_s);
        let (speed, gear) = (self.state.speed_mps, self.lever.gear);
        let mean = |acceleration: f64| 0.5 * (speed + (speed + acceleration * for_s).max(0.0));
        let mut from = mean(guess_mps2);
        let at = |mean_mps: f64, near| self.car.attempt(&now, mean_mps, slope, gear, request, near);
        let mut attempt = at(from, self.near);
        let mut to = mean(attempt.acceleration_mps2());
        // The image falls as the mean speed rises, so the two enclose the answer.
        let mut bracket = Bracket { holds: from.min(to), fails: from.max(to) };
        let mut middle = to;
        for _ in 0..60 {
            if (middle - from).abs() <= 1e-10 * (1.0 + middle) {
                break;
            }
            attempt = at(middle, attempt.near());
            let image = mean(attempt.acceleration_mps2());
            if image > middle {
                bracket.holds = bracket.holds.max(middle);
            } else {
                bracket.fails = bracket.fails.min(middle);
            }
            // Steffensen's step from the two last images, or a halving where it leaves the bracket.
            let gain = (image - to) / (middle - from);
            (from, to) = (middle, image);
            middle = bracket.kept(from + (image - from) / (1.0 - gain));
        }
        self.near = attempt.near();
        let flow = attempt.flow();
        self.land(step, &flow);
    }

    /// Ends a step at the speed that was aimed at, or else at the one that the flow gives; a car
    /// that comes to rest within the step stands for what is left of it.
    #[inline(always)]
    fn land(&mut self, step: &Step, flow: &Flow) {
        let (speed, h) = (self.state.speed_mps, step.for_s);
        let is_met = step.is_met_by(flow.acceleration_mps2) && self.lever.engaged().is_some();
        self.note_hold(step, flow);
        let end_mps = if is_met { step.aim_mps } else { speed + flow.acceleration_mps2 * h };
        if end_mps >= 0.0 {
            self.book(step, flow, end_mps, h);
        } else {
            let moving_s = speed / -flow.acceleration_mps2;
            self.book(step, flow, 0.0, moving_s);
            let now = self.now(h - moving_s);
            let stand = Request::Accelerate(0.0);
            let standing = self.car.act(&now, 0.0, step.slope, self.lever.gear, stand);
            self.book(step, &standing, 0.0, h - moving_s);
        }
        self.lever.pass(h, &self.car, &mut self.state, &mut self.drive.ledger);
    }

    /// Looks back on a stretch: was it followed?
    pub fn judge(&mut self, stretch: &Stretch) {
        let speed = self.state.speed_mps;
        let drive = &mut self.drive;
        drive.largest_lag_mps = drive.largest_lag_mps.max(stretch.to_mps - speed);
        if speed < stretch.low_mps || speed > stretch.high_mps {
            self.outside_s += stretch.for_s;
            drive.outside_s += stretch.for_s;
            drive.longest_outside_s = drive.longest_outside_s.max(self.outside_s);
        } else {
            self.outside_s = 0.0;
        }
    }

    /// Whether the weakest cell has nothing left.
    #[inline]
    pub fn is_empty(&self) -> bool {
        self.charge_left <= 0.0
    }

    /// Whether the pack has ended the drive.
    pub fn given_out(&self) -> Option<DriveEnding> {
        let time_s = self.drive.time_s;
        if self.is_empty() {
            return Some(DriveEnding::Empty(time_s));
        }
        let (limit, for_s) = self.hold.limps?;
        (for_s > PACK_PATIENCE_S).then_some(DriveEnding::PackLimited(time_s, limit))
    }

    /// The drive, with a shift that is still under way brought to its end.
    pub fn end(mut self, ending: DriveEnding) -> Drive {
        self.lever.pass(f64::INFINITY, &self.car, &mut self.state, &mut self.drive.ledger);
        Drive {
            end: self.state,
            gear: self.lever.gear,
            shifts: self.lever.shifts,
            ending,
            distance_m: self.state.distance_m - self.start_m,
            ..self.drive
        }
    }

    /// The slow part of the state for a step, with the trace's own load.
    #[inline(always)]
    fn now(&mut self, step_s: f64) -> Instant {
        let mut now = self.car.now(&self.state, step_s);
        now.add_load(self.load_w);
        self.charge_left = now.pack.left;
        now
    }

    /// Mean slope of the road over the next metres.
    #[inline]
    fn slope_ahead(&mut self, along_m: f64) -> Slope {
        let from_m = self.state.distance_m - self.start_m;
        self.trace.slope_between(&mut self.place, from_m, from_m + along_m)
    }

    /// Whether a slope ahead is the mean of two that differ: losses are not even in the power.
    #[inline]
    fn bends(&self, slope: Slope) -> bool {
        let mut near = self.trace.stretches()[self.place..].iter().take(2);
        !self.trace.is_level() && near.all(|road| (road.sin_grade - slope.sin).abs() > BEND)
    }

    /// Whether regen comes in or fades out as the car slows.
    #[inline]
    fn regen_fades(&self, to_mps: f64) -> bool {
        let (from_mps, braking) = (self.state.speed_mps, &self.car.parts().braking);
        to_mps < from_mps && to_mps < braking.full_above_mps && from_mps > braking.fade_out_mps
    }

    /// Notes what holds the car back in a step, if anything; a shift changes nothing.
    #[inline]
    fn note_hold(&mut self, step: &Step, flow: &Flow) {
        if self.lever.engaged().is_none() {
            return;
        }
        if step.is_met_by(flow.acceleration_mps2) {
            self.hold = Hold::default();
            return;
        }
        let limping = self.state.speed_mps < LIMPING_SHARE * step.trace_mps;
        let before_s = self.hold.limps.map_or(0.0, |(_, for_s)| for_s);
        let by_pack = flow.limit.filter(|limit| limping && limit.is_of_the_pack());
        self.hold = Hold {
            at_mps2: Some(flow.acceleration_mps2),
            limps: by_pack.map(|limit| (limit, before_s + step.for_s)),
        };
    }

    /// Books a step, or a part of it, in which a flow held, and shows it.
    #[inline(always)]
    fn book(&mut self, step: &Step, flow: &Flow, end_mps: f64, for_s: f64) {
        self.drive.book(flow, for_s);
        if let Some(limit) = flow.limit.filter(|limit| limit.is_of_cells()) {
            self.drive.held_in(&self.car, &self.state, flow, limit, for_s);
        }
        self.car.warm(&mut self.state, flow, for_s);
        self.state.distance_m += 0.5 * (self.state.speed_mps + end_mps) * for_s;
        self.state.speed_mps = end_mps;
        self.drive.feel(&self.car, &self.state);
        self.recorder.record(&Moment {
            time_s: self.drive.time_s,
            step_s: for_s,
            state: &self.state,
            flow,
            gear: self.lever.engaged(),
            slope: step.slope,
            trace_mps: step.trace_mps,
        });
    }
}
