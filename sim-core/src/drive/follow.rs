//! Driving a speed trace with a fixed step.
//!
//! A step takes the acceleration that brings the car to the trace's next speed and evaluates the
//! car once at the step's mean speed (implicit midpoint rule): with even acceleration the kinetic
//! and potential energy of the step are exact, so the ledger closes to rounding. Where a limit
//! holds the car back, and while it catches up, steps are finer and the mean speed is found by
//! iteration. The driver asks anew at each step, so that a finer one asks for no more than a whole
//! one. Nothing is allocated.

use crate::car::{Car, Flow, Instant, Request, Slope};
use crate::drive::shift::Shift;
use crate::driver::{CATCH_UP_S, DWELL_S, Driver};
use crate::extremes::Extremes;
use crate::ledger::Ledger;
use crate::limit::Limit;
use crate::root::Near;
use crate::state::State;
use crate::trace::{EXCURSION_S, Trace};

/// Default longest step, s: what keeps energy within 0.1 % and temperatures within 0.1 K of a
/// hundredth of it.
pub const STEP_S: f64 = 1.0;
/// Step while a limit holds the car back or it is off the trace, as a share of the step.
const FINE_SHARE: f64 = 0.25;
/// Lag on either side of the trace above which steps are finer, m/s.
const LAGGING_MPS: f64 = 0.05;
/// How much of a limit the end of a step may take beyond its middle, for each share by which its
/// speed is higher: one for the power, one for the torque curve that falls meanwhile.
const END_SHARE: f64 = 2.0;
/// Change of slope within a step above which steps are finer.
const BEND: f64 = 0.01;
/// Lag behind the trace at which the driver looks for a lower gear, m/s (common practice, no
/// source).
pub(crate) const HELD_BACK_MPS: f64 = 0.5;
/// Share of the trace's speed under which a car that its pack holds back limps.
const LIMPING_SHARE: f64 = 0.7;
/// How long a car may limp for its pack before the trip ends, s (common practice, no source).
const PACK_PATIENCE_S: f64 = 10.0;

/// What a recorder is shown of each step.
#[derive(Debug, Clone, Copy)]
pub struct Moment<'a> {
    /// Time at the end of the step, s.
    pub time_s: f64,
    /// Length of the step, s.
    pub step_s: f64,
    /// State at the end of the step.
    pub state: &'a State,
    /// What held during the step.
    pub flow: &'a Flow,
    /// The gear (`None`: between gears).
    pub gear: Option<usize>,
    /// Slope of the road.
    pub slope: Slope,
    /// Speed of the trace at the end of the step, m/s.
    pub trace_mps: f64,
}

/// Sees each step of a run.
pub trait Recorder {
    /// Called at the end of each step.
    fn record(&mut self, moment: &Moment<'_>);
}

/// Records nothing.
impl Recorder for () {
    #[inline]
    fn record(&mut self, _: &Moment<'_>) {}
}

impl<F: FnMut(&Moment<'_>)> Recorder for F {
    #[inline]
    fn record(&mut self, moment: &Moment<'_>) {
        self(moment);
    }
}

/// Why a drive ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Ending {
    /// The trace was driven to its end.
    Complete,
    /// The weakest cell was empty, at this time in s.
    Empty(f64),
    /// The pack could not carry the car on: a limit of the pack held it under 70 % of the trace's
    /// speed for longer than 10 s, until this time in s.
    PackLimited(f64, Limit),
}

/// What came of a drive.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drive {
    /// State at the end.
    pub end: State,
    /// Gear at the end.
    pub gear: usize,
    /// Why it ended.
    pub ending: Ending,
    /// Time driven, s.
    pub time_s: f64,
    /// Distance driven, m.
    pub distance_m: f64,
    /// Where each joule went.
    pub ledger: Ledger,
    /// Energy at the pack's terminals, net of regen, J.
    pub terminal_j: f64,
    /// Energy that regen put into the pack's terminals, J.
    pub regen_j: f64,
    /// Shifts.
    pub shifts: u32,
    /// Time held back by each limit (by [`Limit`] number), s.
    pub limited_s: [f64; Limit::COUNT],
    /// Time for which each limit cut regen back, s; part of `limited_s`.
    pub regen_limited_s: [f64; Limit::COUNT],
    /// ∫ I² dt of the pack, A²·s.
    pub pack_a2_s: f64,
    /// ∫ I² dt of the motor, A²·s.
    pub motor_a2_s: f64,
    /// How far it strained the car.
    pub extremes: Extremes,
    /// When a part first became so hot that it was cut back, s, and what says so.
    pub derated: Option<(f64, Limit)>,
    /// Time outside the trace's tolerance, s.
    pub outside_s: f64,
    /// Longest single time outside the tolerance, s.
    pub longest_outside_s: f64,
    /// Largest lag behind the trace's speed, m/s.
    pub largest_lag_mps: f64,
}

impl Drive {
    /// Root mean square of the pack current, A.
    pub fn rms_pack_a(&self) -> f64 {
        (self.pack_a2_s / self.time_s.max(1e-9)).sqrt()
    }

    /// Root mean square of the motor current, A.
    pub fn rms_motor_a(&self) -> f64 {
        (self.motor_a2_s / self.time_s.max(1e-9)).sqrt()
    }

    /// Whether the trace was followed within 40 CFR 86.115: no excursion of 2 s or more.
    pub fn within_tolerance(&self) -> bool {
        self.longest_outside_s < EXCURSION_S
    }

    fn begin(start: &State, gear: usize) -> Self {
        Self {
            end: *start,
            gear,
            ending: Ending::Complete,
            time_s: 0.0,
            distance_m: 0.0,
            ledger: Ledger::default(),
            terminal_j: 0.0,
            regen_j: 0.0,
            shifts: 0,
            limited_s: [0.0; Limit::COUNT],
            regen_limited_s: [0.0; Limit::COUNT],
            pack_a2_s: 0.0,
            motor_a2_s: 0.0,
            extremes: Extremes::begin(start),
            derated: None,
            outside_s: 0.0,
            longest_outside_s: 0.0,
            largest_lag_mps: 0.0,
        }
    }

    #[inline]
    fn book(&mut self, flow: &Flow, step_s: f64) {
        self.ledger.book(&flow.powers, step_s);
        let terminal_w = flow.pack_v * flow.pack_a;
        self.terminal_j += terminal_w * step_s;
        self.regen_j += (-terminal_w).max(0.0) * step_s;
        self.pack_a2_s += flow.pack_a * flow.pack_a * step_s;
        self.motor_a2_s += flow.motor_a * flow.motor_a * step_s;
        self.extremes.see(flow);
        if let Some(limit) = flow.limit {
            self.limited_s[limit as usize] += step_s;
            if flow.slows() {
                self.regen_limited_s[limit as usize] += step_s;
            }
        }
    }

    /// Takes in how warm the parts have become.
    #[inline]
    fn feel(&mut self, car: &Car, state: &State) {
        self.extremes.feel(state);
        if self.derated.is_none() {
            self.derated = car.thermal().too_hot(&state.temperature_k).map(|by| (self.time_s, by));
        }
    }
}

/// Drives a trace from a state, with steps of at most `step_s` (see [`STEP_S`]).
///
/// The car starts in `gear` (taken as engaged). The run ends with the trace, with an empty pack, or
/// when the pack has held the car back for too long; [`Drive::ending`] says which.
pub fn follow<R: Recorder>(
    car: &Car,
    trace: &Trace,
    driver: &Driver,
    start: &State,
    gear: usize,
    step_s: f64,
    recorder: &mut R,
) -> Drive {
    let mut drive = Drive::begin(start, gear);
    drive.feel(car, start);
    let mut run = Run {
        car,
        state: *start,
        gear,
        shift: None,
        since_shift_s: DWELL_S,
        pack_holds_s: 0.0,
        held_by: None,
        charge_left: 1.0,
        near: None,
        held_mps2: None,
        trace,
        place: 0,
        origin_m: start.distance_m,
        auxiliary_w: 0.0,
    };
    let mut outside_s = 0.0;
    let shift_s = car.parts().gearbox.shift_s;
    let fine_s = FINE_SHARE * step_s;
    let keep = |h: f64| (-h / CATCH_UP_S).exp();
    let (keep_full, keep_fine) = (keep(step_s), keep(fine_s));
    for stretch in trace.stretches() {
        if run.shift.is_none() {
            let resting = run.state.speed_mps == 0.0;
            if resting || run.since_shift_s >= DWELL_S - 1e-6 {
                let held_back = stretch.from_mps - run.state.speed_mps > HELD_BACK_MPS;
                let wanted = driver.gear(car, &run.state, run.gear, stretch, held_back);
                if wanted != run.gear {
                    if resting {
                        run.gear = wanted;
                    } else {
                        drive.shifts += 1;
                        run.begin_shift(wanted, shift_s, &mut drive);
                    }
                }
            }
        }
        run.auxiliary_w = stretch.auxiliary_w;
        let mut left_s = stretch.for_s;
        let slant = (stretch.to_mps - stretch.from_mps) / stretch.for_s;
        let mut uneven = false;
        while left_s > 1e-9 {
            let done_s = stretch.for_s - left_s;
            let trace_mps = stretch.from_mps + slant * done_s;
            let lags = (run.state.speed_mps - trace_mps).abs() > LAGGING_MPS;
            let goes_fine = lags || uneven || run.held_mps2.is_some();
            let mut h = if goes_fine { fine_s } else { step_s }.min(left_s);
            if let Some((_, left_s)) = run.shift {
                h = h.min(left_s);
            }
            if left_s - h < 1e-9 {
                h = left_s;
            }
            let trace_end_mps = stretch.from_mps + slant * (done_s + h);
            let keep = match h {
                h if h == step_s => keep_full,
                h if h == fine_s => keep_fine,
                h => keep(h),
            };
            let aim = Driver::aim_mps(run.state.speed_mps, trace_mps, trace_end_mps, keep);
            if run.step(aim, h, goes_fine, trace_end_mps, &mut drive, recorder) {
                left_s -= h;
            } else {
                uneven = true;
            }
        }
        let speed = run.state.speed_mps;
        drive.largest_lag_mps = drive.largest_lag_mps.max(stretch.to_mps - speed);
        if speed < stretch.low_mps || speed > stretch.high_mps {
            outside_s += stretch.for_s;
            drive.outside_s += stretch.for_s;
            drive.longest_outside_s = drive.longest_outside_s.max(outside_s);
        } else {
            outside_s = 0.0;
        }
        if run.charge_left <= 0.0 {
            drive.ending = Ending::Empty(drive.time_s);
            break;
        }
        if let Some(limit) = run.held_by
            && run.pack_holds_s > PACK_PATIENCE_S
        {
            drive.ending = Ending::PackLimited(drive.time_s, limit);
            break;
        }
    }
    if let Some((shift, _)) = run.shift {
        run.end_shift(shift, &mut drive);
    }
    drive.end = run.state;
    drive.gear = run.gear;
    drive.distance_m = run.state.distance_m - start.distance_m;
    drive
}

/// The moving parts of a drive.
struct Run<'a> {
    car: &'a Car,
    state: State,
    gear: usize,
    /// The shift under way, and what is left of it, s.
    shift: Option<(Shift, f64)>,
    since_shift_s: f64,
    pack_holds_s: f64,
    held_by: Option<Limit>,
    charge_left: f64,
    trace: &'a Trace,
    /// Stretch in which the car is.
    place: usize,
    /// Distance of the state at the trace's start, m.
    origin_m: f64,
    /// Where the limit was that held the car back last.
    near: Option<Near>,
    /// Acceleration in the last step, if a limit held it down, m/s².
    held_mps2: Option<f64>,
    /// The trace's own load on the pack, W.
    auxiliary_w: f64,
}

impl Run<'_> {
    /// The slow part of the state for a step, with the trace's own load.
    #[inline]
    fn now(&self, step_s: f64) -> Instant {
        self.car.now(&self.state, step_s).with_load(self.auxiliary_w)
    }

    fn begin_shift(&mut self, to: usize, shift_s: f64, drive: &mut Drive) {
        let shift = Shift { from: self.gear, to, rotor_mps: self.state.speed_mps };
        if shift_s > 0.0 {
            self.shift = Some((shift, shift_s));
        } else {
            self.end_shift(shift, drive);
        }
    }

    /// Goes on with a shift after a step.
    fn turn(&mut self, shift: Shift, left_s: f64, drive: &mut Drive) {
        if left_s <= 1e-9 {
            self.end_shift(shift, drive);
        } else {
            self.shift = Some((shift, left_s));
        }
    }

    fn end_shift(&mut self, shift: Shift, drive: &mut Drive) {
        self.state.speed_mps = shift.engage(self.car, self.state.speed_mps, &mut drive.ledger);
        self.gear = shift.to;
        self.shift = None;
        self.since_shift_s = 0.0;
    }

    /// A step to an aimed speed, or as far towards it as the limits allow. A coarse step is not
    /// taken where a limit, fading regen or a change of slope lies in it; returns whether it was.
    #[inline]
    fn step<R: Recorder>(
        &mut self,
        aim_mps: f64,
        h: f64,
        fine: bool,
        trace_mps: f64,
        drive: &mut Drive,
        recorder: &mut R,
    ) -> bool {
        let speed = self.state.speed_mps;
        let wanted = (aim_mps - speed) / h;
        let guess = self.held_mps2.map_or(wanted, |held| held.min(wanted));
        let middle = (speed + 0.5 * guess * h).max(0.0);
        let slope = self.slope_ahead(middle * h);
        let now = self.now(h);
        self.charge_left = now.pack.left;
        if let Some((shift, left_s)) = self.shift {
            let flow = self.settle(now, slope, h, Request::Disconnected(wanted), wanted);
            self.land(&flow, slope, h, trace_mps, drive, recorder);
            self.turn(shift, left_s - h, drive);
            return true;
        }
        if !fine && (self.regen_fades(speed, aim_mps) || self.bends(slope)) {
            return false;
        }
        let request = Request::Accelerate(wanted);
        let mut found = None;
        let flow = if fine {
            self.settle(now, slope, h, request, guess)
        } else {
            let (flow, near) =
                self.car.act_near(&now, middle, slope, self.gear, request, self.near);
            // The end of the step takes more power than its middle.
            if flow.spare * middle < END_SHARE * (aim_mps - middle) {
                return false;
            }
            found = near;
            flow
        };
        if (flow.acceleration_mps2 - wanted).abs() <= 1e-9 {
            self.finish(&flow, aim_mps, slope, h, trace_mps, drive, recorder);
            self.held_mps2 = None;
            self.pack_holds_s = 0.0;
            return true;
        }
        if fine {
            self.hold(&flow, h, trace_mps);
            self.land(&flow, slope, h, trace_mps, drive, recorder);
        } else {
            self.near = found;
        }
        fine
    }

    /// Whether a slope ahead is the mean of two that differ: losses are not even in the power.
    #[inline]
    fn bends(&self, slope: Slope) -> bool {
        let mut near = self.trace.stretches()[self.place..].iter().take(2);
        !self.trace.is_level() && near.all(|road| (road.sin_grade - slope.sin).abs() > BEND)
    }

    /// Whether regen comes in or fades out as the car slows.
    #[inline]
    fn regen_fades(&self, from_mps: f64, to_mps: f64) -> bool {
        let braking = &self.car.parts().braking;
        to_mps < from_mps && to_mps < braking.full_above_mps && from_mps > braking.fade_out_mps
    }

    /// Notes what holds the car back.
    fn hold(&mut self, flow: &Flow, h: f64, trace_mps: f64) {
        self.held_mps2 = Some(flow.acceleration_mps2);
        let spent = self.state.speed_mps < LIMPING_SHARE * trace_mps;
        self.held_by = flow.limit.filter(|limit| {
            let of_the_pack = matches!(
                limit,
                Limit::CellVoltage
                    | Limit::ControllerVoltage
                    | Limit::PackPower
                    | Limit::Charge
                    | Limit::CellTemperature
            );
            of_the_pack && spent
        });
        self.pack_holds_s = if self.held_by.is_some() { self.pack_holds_s + h } else { 0.0 };
    }

    /// Mean slope of the road over the next metres.
    #[inline]
    fn slope_ahead(&mut self, along_m: f64) -> Slope {
        let from_m = self.state.distance_m - self.origin_m;
        self.trace.slope_between(&mut self.place, from_m, from_m + along_m)
    }

    /// The flow at the mean speed of a step in which the speed follows from the flow, from a
    /// guess of the acceleration.
    fn settle(
        &mut self,
        now: Instant,
        slope: Slope,
        h: f64,
        request: Request,
        guess_mps2: f64,
    ) -> Flow {
        let speed = self.state.speed_mps;
        let mean = |acceleration: f64| 0.5 * (speed + (speed + acceleration * h).max(0.0));
        let mut from = mean(guess_mps2);
        let (mut flow, mut near) =
            self.car.act_near(&now, from, slope, self.gear, request, self.near);
        let mut to = mean(flow.acceleration_mps2);
        // The image falls as the mean speed rises, so the two enclose the answer.
        let (mut low, mut high) = (from.min(to), from.max(to));
        let mut middle = to;
        for _ in 0..60 {
            if (middle - from).abs() <= 1e-10 * (1.0 + middle) {
                break;
            }
            (flow, near) = self.car.act_near(&now, middle, slope, self.gear, request, near);
            let image = mean(flow.acceleration_mps2);
            if image > middle {
                low = low.max(middle);
            } else {
                high = high.min(middle);
            }
            // Steffensen's step from the two last images, or a halving where it leaves the bracket.
            let gain = (image - to) / (middle - from);
            (from, to) = (middle, image);
            let next = from + (image - from) / (1.0 - gain);
            middle = if next > low && next < high { next } else { 0.5 * (low + high) };
        }
        self.near = near;
        flow
    }

    /// Ends a step at the speed that the flow gives; a car that comes to rest within the step
    /// stands for what is left of it.
    fn land<R: Recorder>(
        &mut self,
        flow: &Flow,
        slope: Slope,
        h: f64,
        trace_mps: f64,
        drive: &mut Drive,
        recorder: &mut R,
    ) {
        let speed = self.state.speed_mps;
        let end = speed + flow.acceleration_mps2 * h;
        if end >= 0.0 {
            self.finish(flow, end, slope, h, trace_mps, drive, recorder);
            return;
        }
        let moving_s = speed / -flow.acceleration_mps2;
        self.finish(flow, 0.0, slope, moving_s, trace_mps, drive, recorder);
        let now = self.now(h - moving_s);
        let standing = self.car.act(&now, 0.0, slope, self.gear, Request::Accelerate(0.0));
        self.finish(&standing, 0.0, slope, h - moving_s, trace_mps, drive, recorder);
    }

    #[allow(clippy::too_many_arguments)]
    #[inline]
    fn finish<R: Recorder>(
        &mut self,
        flow: &Flow,
        end_mps: f64,
        slope: Slope,
        h: f64,
        trace_mps: f64,
        drive: &mut Drive,
        recorder: &mut R,
    ) {
        drive.book(flow, h);
        self.car.warm(&mut self.state, flow, h);
        self.state.distance_m += 0.5 * (self.state.speed_mps + end_mps) * h;
        self.state.speed_mps = end_mps;
        self.since_shift_s += h;
        drive.time_s += h;
        drive.feel(self.car, &self.state);
        recorder.record(&Moment {
            time_s: drive.time_s,
            step_s: h,
            state: &self.state,
            flow,
            gear: self.shift.is_none().then_some(self.gear),
            slope,
            trace_mps,
        });
    }
}
