//! How the car answers what the driver asks for.

use super::electrics::Electrics;
use super::{Car, Flow, Instant, Slope, Spot};
use crate::cooling::{Wind, convection_power};
use crate::heat::{Heat, Node, PerNode};
use crate::limit::Limit;
use crate::motor::MotorLoss;
use crate::root::Near;

/// How the car moves.
#[derive(Clone, Copy, Default)]
pub(super) struct Motion {
    pub(super) acceleration_mps2: f64,
    pub(super) torque_nm: f64,
    pub(super) radps: f64,
    pub(super) drive_n: f64,
    pub(super) friction_n: f64,
    /// Mass with all that turns, kg.
    pub(super) moving_kg: f64,
    pub(super) grip_used: f64,
    /// Motor turning per metre to the power of convection (0: disconnected).
    pub(super) per_m_08: f64,
}

/// How the car answers a request, before the books are written.
pub(super) struct Answer {
    pub(super) electrics: Electrics,
    pub(super) motion: Motion,
    pub(super) limit: Option<Limit>,
    pub(super) spare: f64,
    /// Where the most torque was found, if it was sought.
    pub(super) near: Option<Near>,
}

impl Answer {
    #[inline]
    pub(super) fn new(electrics: Electrics, motion: Motion, limit: Option<Limit>) -> Self {
        Self { electrics, motion, limit, spare: f64::INFINITY, near: None }
    }

    /// The mean of this, for a share of the time, and of another in the same gear for the rest.
    /// Powers are even in what is mixed, so that its books close as theirs do.
    fn mixed(&self, other: &Self, share: f64) -> Self {
        let mean = |own: f64, other: f64| other + share * (own - other);
        let (own, of) = (&self.motion, &other.motion);
        let motion = Motion {
            acceleration_mps2: mean(own.acceleration_mps2, of.acceleration_mps2),
            torque_nm: mean(own.torque_nm, of.torque_nm),
            drive_n: mean(own.drive_n, of.drive_n),
            friction_n: mean(own.friction_n, of.friction_n),
            grip_used: mean(own.grip_used, of.grip_used),
            ..*own
        };
        Self::new(self.electrics.mixed(&other.electrics, share), motion, self.limit)
    }
}

/// What is left of the nearest limit from which the motor is powered all the time.
const AMPLE: f64 = 0.01;

/// For which share of the time the motor is powered, by what is left of the nearest limit when it
/// gives no torque.
///
/// A powered motor takes current even then, an unpowered one takes none: where a limit allows the
/// one state and forbids the other, a controller that obeys it to the letter would switch to and
/// fro without end. What the car does meanwhile is the mean of both in that share which keeps it on
/// the limit (Filippov, *Differential Equations with Discontinuous Righthand Sides*, 1988). The
/// share is made to follow what is left of the limit on its last hundredth, so that the car finds
/// it by itself.
#[inline]
fn powered_share(margin: f64) -> f64 {
    (margin / AMPLE).clamp(0.0, 1.0)
}

/// What comes of a request at an instant, before the books are written.
pub struct Attempt<'a> {
    pub(super) car: &'a Car,
    pub(super) spot: Spot<'a>,
    pub(super) answer: Answer,
}

impl Attempt<'_> {
    /// Acceleration, m/s².
    #[inline]
    pub fn acceleration_mps2(&self) -> f64 {
        self.answer.motion.acceleration_mps2
    }

    /// Share of the nearest electrical limit that driving leaves, as in [`Flow::spare`].
    #[inline]
    pub fn spare(&self) -> f64 {
        self.answer.spare
    }

    /// Current out of the pack, A.
    pub(crate) fn pack_a(&self) -> f64 {
        self.answer.electrics.pack_a
    }

    /// Where the most torque was found, if it was sought.
    #[inline]
    pub fn near(&self) -> Option<Near> {
        self.answer.near
    }
}

impl Car {
    /// At rest, held by the brakes, motor off.
    pub(super) fn standing(&self, spot: &Spot, limit: Option<Limit>) -> Answer {
        Answer::new(self.idle(spot.now, MotorLoss::default(), 0.0), Motion::default(), limit)
    }

    /// Standing and switched off, with a current out of the pack (negative: from a charger).
    pub fn at_rest(&self, now: &Instant, pack_a: f64) -> Flow {
        let off = Instant { heater_w: 0.0, ..*now };
        let electrics = Electrics {
            pack_a,
            pack_v: now.pack.emf_v - now.pack.ohm * pack_a,
            ..Electrics::default()
        };
        let spot = self.spot(&off, 0.0, Slope::LEVEL, 0);
        let answer = Answer::new(electrics, Motion::default(), None);
        let mut flow = Attempt { car: self, spot, answer }.flow();
        flow.heat.wind.fan = 0.0;
        flow
    }

    /// Motor and controller at a shaft torque and a motor speed on a bench, fed by the pack; the heat
    /// that they make, with the fans and no road air.
    ///
    /// # Errors
    /// The limit that does not allow the torque.
    pub fn on_bench(&self, now: &Instant, radps: f64, torque_nm: f64) -> Result<Heat, Limit> {
        let gear = self.gears() - 1;
        let spot = self.spot(now, radps * self.gearings[gear].m_per, Slope::LEVEL, gear);
        let e = self.electrics(&spot, torque_nm);
        let (margin, limit) = self.margin(now, true, torque_nm, &e);
        if margin < 0.0 {
            return Err(limit);
        }
        let mut into_w = PerNode::default();
        into_w[Node::Winding] = e.loss.copper_w;
        into_w[Node::Housing] = e.loss.iron_w + e.loss.windage_w;
        into_w[Node::Sink] = e.controller_w;
        Ok(Heat {
            into_w,
            wind: Wind { shaft_08: convection_power(radps), road_08: 0.0, fan: 1.0 },
        })
    }

    /// Driving with the torque for an acceleration, or with all that there is if less. The torque
    /// may be negative: a touch of throttle, where the car slows less than it does unpowered.
    #[inline]
    pub(super) fn drive(
        &self,
        spot: &Spot,
        torque: f64,
        wanted: f64,
        near: Option<Near>,
    ) -> Answer {
        if self.bears(spot, torque, wanted) {
            let e = self.electrics(spot, torque);
            let spare = self.margin(spot.now, true, torque, &e).0;
            // Without torque no less is left than with some.
            let is_ample = torque >= 0.0 && spare >= AMPLE;
            if is_ample || spare >= 0.0 && self.margin_at(spot, true, 0.0) >= AMPLE {
                let mut answer = self.geared(spot, e, torque, wanted, 0.0, None);
                answer.spare = spare;
                return answer;
            }
        }
        self.full(spot, wanted, near)
    }

    /// Driving with an acceleration, or with all that there is if less.
    ///
    /// Where next to nothing of a limit is left without torque, the motor is powered a
    /// [share](powered_share) of the time.
    #[cold]
    pub(super) fn full(&self, spot: &Spot, wanted: f64, near: Option<Near>) -> Answer {
        let (cap_nm, cap_limit) = self.mechanical_cap(spot);
        let drive = |wanted: f64| {
            let asked_nm = if wanted < f64::INFINITY {
                self.torque_for_nm(spot, wanted)
            } else {
                f64::INFINITY
            };
            let end_nm = cap_nm.min(asked_nm).max(0.0);
            (asked_nm, self.most_nm(spot, end_nm, cap_limit, near))
        };
        let (mut asked_nm, mut most) = drive(wanted);
        let electrical = if most.margin >= AMPLE { AMPLE } else { self.margin_at(spot, true, 0.0) };
        let share = powered_share(electrical.min(self.rpm_left(spot)));
        if share < 1.0 && share > 0.0 && wanted < f64::INFINITY {
            // While it is powered it makes up for the time when it is not.
            let unpowered = self.acceleration_mps2(spot, -self.unpowered(spot.radps).0);
            (asked_nm, most) = drive(unpowered + (wanted - unpowered) / share);
        }
        let (torque, limit) = if asked_nm < 0.0 || most.torque_nm == asked_nm {
            (asked_nm, None)
        } else {
            (most.torque_nm, Some(most.limit))
        };
        let powered = most.electrics.filter(|_| share > 0.0).map(|at_most| {
            let same = torque == most.torque_nm;
            let e = if same { at_most } else { self.electrics(spot, torque) };
            let acceleration = self.acceleration_mps2(spot, torque);
            self.geared(spot, e, torque, acceleration, 0.0, limit)
        });
        let rolling = || self.roll(spot, f64::INFINITY, Some(most.limit));
        let mut answer = match powered {
            Some(powered) if share >= 1.0 => powered,
            Some(powered) => powered.mixed(&rolling(), share),
            None => rolling(),
        };
        if spot.speed_mps == 0.0 && answer.motion.acceleration_mps2 <= 0.0 {
            answer = self.standing(spot, Some(most.limit));
        }
        answer.near = most.near;
        answer
    }

    /// Slowing at a wanted rate with regen first and friction for the rest.
    pub(super) fn slow(&self, spot: &Spot, wanted: f64, near: Option<Near>) -> Answer {
        let braking = &self.parts.braking;
        let wanted = wanted.max(self.hardest_stop(spot));
        let asked_nm = self.torque_for_nm(spot, wanted);
        let (drag_nm, _) = self.unpowered(spot.radps);
        if asked_nm >= -drag_nm {
            return self.drive(spot, asked_nm, wanted, near);
        }
        let cap_nm = (braking.lift_off_nm + braking.brake_pedal_nm) * braking.fade(spot.speed_mps);
        if !self.parts.motor.makes_regen() || cap_nm <= drag_nm {
            return self.roll(spot, wanted, None);
        }
        let drive_n = self.rolling_kg * wanted + spot.resistance_n;
        let mut torque = asked_nm.max(-cap_nm);
        let mut limit = None;
        let gripped = self.grip_cap_nm(spot, drive_n - self.wheels_kg() * wanted, wanted);
        if torque < -gripped {
            torque = -gripped;
            limit = Some(Limit::Grip);
        }
        let mut e = self.electrics(spot, torque);
        let (mut found, mut share) = (None, 1.0);
        let (margin, nearest) = self.margin(spot.now, false, torque, &e);
        if margin < AMPLE {
            share = powered_share(self.margin_at(spot, false, -drag_nm));
            if share < 1.0 {
                limit = Some(nearest);
            }
        }
        if margin < 0.0 && share > 0.0 {
            let most = self.most_nm(spot, torque, Limit::MotorTorque, near);
            (limit, found) = (Some(most.limit), most.near);
            match most.electrics {
                Some(at_most) if most.torque_nm < -drag_nm => {
                    (torque, e) = (most.torque_nm, at_most)
                }
                _ => share = 0.0,
            }
        }
        let mut answer = if share > 0.0 {
            let friction_n = if torque == asked_nm {
                0.0
            } else {
                (self.wheel_n(spot, torque, wanted) - drive_n).max(0.0)
            };
            self.geared(spot, e, torque, wanted, friction_n, limit)
        } else {
            self.roll(spot, wanted, limit)
        };
        if share > 0.0 && share < 1.0 {
            answer = answer.mixed(&self.roll(spot, wanted, limit), share);
        }
        Answer { near: found, ..answer }
    }

    /// Rolling with both pedals up, regen by the lift-off setting.
    pub(super) fn overrun(&self, spot: &Spot, near: Option<Near>) -> Answer {
        let braking = &self.parts.braking;
        let cap_nm = braking.lift_off_nm * braking.fade(spot.speed_mps);
        let (drag_nm, _) = self.unpowered(spot.radps);
        let rolling = self.roll(spot, f64::INFINITY, None);
        if spot.speed_mps > 0.0 && cap_nm > drag_nm && self.parts.motor.makes_regen() {
            let gripped = self.gripped_nm(spot, -1.0).map_or(f64::INFINITY, |nm| (-nm).max(0.0));
            let (end_nm, end_limit) =
                if gripped < cap_nm { (gripped, Some(Limit::Grip)) } else { (cap_nm, None) };
            let most = self.most_nm(spot, -end_nm, Limit::MotorTorque, near);
            let torque = most.torque_nm;
            let share = powered_share(self.margin_at(spot, false, -drag_nm));
            let answer = match most.electrics {
                Some(e) if torque < -drag_nm && share > 0.0 => {
                    let acceleration = self.acceleration_mps2(spot, torque);
                    let limit = if torque == -end_nm { end_limit } else { Some(most.limit) };
                    let powered = self.geared(spot, e, torque, acceleration, 0.0, limit);
                    if share < 1.0 { powered.mixed(&rolling, share) } else { powered }
                }
                _ => rolling,
            };
            return Answer { near: most.near, ..answer };
        }
        rolling
    }

    /// Rolling with the motor unpowered, slowed to a wanted rate by the friction brakes.
    pub(super) fn roll(&self, spot: &Spot, wanted: f64, limit: Option<Limit>) -> Answer {
        let (drag_nm, loss) = self.unpowered(spot.radps);
        let torque = -drag_nm;
        let free = self.acceleration_mps2(spot, torque);
        let (acceleration, friction_n) = if free <= wanted {
            (free, 0.0)
        } else {
            let drive_n = self.rolling_kg * wanted + spot.resistance_n;
            (wanted, (self.wheel_n(spot, torque, wanted) - drive_n).max(0.0))
        };
        let e = self.idle(spot.now, loss, self.parts.controller.fixed_loss_w);
        self.geared(spot, e, torque, acceleration, friction_n, limit)
    }

    /// Rolling with the motor cut off; the brakes may slow the car to a wanted rate.
    pub(super) fn disconnected(&self, spot: &Spot, wanted: f64) -> Answer {
        let free = -spot.resistance_n / self.rolling_kg;
        let held = wanted.max(self.hardest_stop(spot)).min(free);
        let acceleration_mps2 = if spot.speed_mps == 0.0 { 0.0 } else { held };
        let motion = Motion {
            acceleration_mps2,
            friction_n: (free - acceleration_mps2) * self.rolling_kg,
            moving_kg: self.rolling_kg,
            ..Motion::default()
        };
        let fixed_w = self.parts.controller.fixed_loss_w;
        Answer::new(self.idle(spot.now, MotorLoss::default(), fixed_w), motion, None)
    }

    /// The answer in gear.
    #[inline]
    pub(super) fn geared(
        &self,
        spot: &Spot,
        electrics: Electrics,
        torque_nm: f64,
        acceleration_mps2: f64,
        friction_n: f64,
        limit: Option<Limit>,
    ) -> Answer {
        let drive_n = self.wheel_n(spot, torque_nm, acceleration_mps2);
        // Between tyre and road: what the wheels' own inertia takes never reaches the road.
        let tyre_n = drive_n - self.wheels_kg() * acceleration_mps2;
        let load_n = self.driven_load_n(spot, tyre_n - friction_n);
        let on_driven_n = (tyre_n - friction_n * self.driven_brake_share).abs();
        let motion = Motion {
            acceleration_mps2,
            torque_nm,
            radps: spot.radps,
            drive_n,
            friction_n,
            moving_kg: self.rolling_kg + spot.gearing.rotor_kg,
            grip_used: on_driven_n / (self.grip.friction * load_n).max(1e-9),
            per_m_08: spot.gearing.per_m_08,
        };
        Answer::new(electrics, motion, limit)
    }
}
