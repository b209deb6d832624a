//! The car: all parts together, and what happens when the driver asks for something.

use crate::air;
use crate::auxiliaries::Auxiliaries;
use crate::brakes::Braking;
use crate::controller::Controller;
use crate::gearbox::Gearbox;
use crate::ledger::{Account, Ledger};
use crate::limit::Limit;
use crate::mass::Chassis;
use crate::motor::{self, Field, Motor, MotorLoss};
use crate::pack::{Pack, PackCurves, PackNow};
use crate::road_load::{ROLLING_PER_K, RoadForce, RoadLoad, rolling_temperature_factor};
use crate::root::{self, Bracket, Close, Near, Point, Zero};
use crate::state::State;
use crate::tyre::{self, DrivenAxle, Grip};
use crate::units::GRAVITY_MPS2;

/// The parts of a conversion.
#[derive(Debug, Clone, PartialEq)]
pub struct Parts {
    /// Mass and axles.
    pub chassis: Chassis,
    /// Air and rolling resistance.
    pub road_load: RoadLoad,
    /// Loaded rolling radius of the driven wheels, m.
    pub rolling_radius_m: f64,
    /// Which wheels are driven.
    pub driven: DrivenAxle,
    /// Gearbox with final drive.
    pub gearbox: Gearbox,
    /// Motor.
    pub motor: Motor,
    /// Controller.
    pub controller: Controller,
    /// Pack.
    pub pack: Pack,
    /// 12 V loads and heater.
    pub auxiliaries: Auxiliaries,
    /// Regen settings and friction brakes.
    pub braking: Braking,
}

/// Air and surface that the car drives in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Surroundings {
    /// Altitude, m.
    pub altitude_m: f64,
    /// Air temperature, K.
    pub air_k: f64,
    /// Head wind, m/s (negative: tail wind).
    pub head_wind_mps: f64,
    /// Friction coefficient between tyre and road.
    pub friction: f64,
}

/// The road's angle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slope {
    /// Sine; positive uphill.
    pub sin: f64,
    /// Cosine.
    pub cos: f64,
}

impl Slope {
    /// A level road.
    pub const LEVEL: Slope = Slope { sin: 0.0, cos: 1.0 };

    /// From rise over run.
    pub fn from_grade(grade: f64) -> Self {
        let cos = 1.0 / (1.0 + grade * grade).sqrt();
        Self { sin: grade * cos, cos }
    }
}

/// What the driver asks for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Request {
    /// This acceleration, with motor, regen and brakes as needed, m/s².
    Accelerate(f64),
    /// All that the car gives.
    FullThrottle,
    /// Foot off both pedals.
    LiftOff,
    /// Motor disconnected by clutch or neutral; the brakes may slow the car to this, m/s².
    Disconnected(f64),
}

/// The slow part of the state, worked out once for an instant or a step.
#[derive(Debug, Clone, Copy)]
pub struct Instant {
    /// The pack.
    pub pack: PackNow,
    /// Growth of copper loss.
    copper_factor: f64,
    /// Share of motor torque left by its winding temperature.
    pub motor_factor: f64,
    /// Share of motor current left by the heat sink's temperature.
    pub controller_factor: f64,
    /// Power of the auxiliaries, W.
    auxiliaries_w: f64,
    heater_w: f64,
    /// Growth of rolling resistance on tyres that are not yet run warm.
    tyre_factor: f64,
    /// The motor's reference voltage over the pack's electromotive force.
    stretch: f64,
}

impl Instant {
    /// With a load on the traction pack besides the car's own auxiliaries, W.
    #[inline]
    pub fn with_load(mut self, load_w: f64) -> Self {
        self.auxiliaries_w += load_w;
        self
    }
}

/// What the heat does, with the conductances that carry it away.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Heat {
    /// Into the winding, W.
    pub winding_w: f64,
    /// Into the housing, W.
    pub housing_w: f64,
    /// From the housing on, W/K.
    pub housing_w_per_k: f64,
    /// Into the heat sink, W.
    pub sink_w: f64,
    /// From the heat sink on, W/K.
    pub sink_w_per_k: f64,
    /// Into the cells, W.
    pub cells_w: f64,
    /// Into the cabin, W.
    pub cabin_w: f64,
}

/// What happens at an instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flow {
    /// Acceleration, m/s².
    pub acceleration_mps2: f64,
    /// Shaft torque of the motor, N·m.
    pub torque_nm: f64,
    /// Shaft speed of the motor, rad/s.
    pub radps: f64,
    /// Motor current, A.
    pub motor_a: f64,
    /// Pack current, A; positive out.
    pub pack_a: f64,
    /// Pack voltage, V.
    pub pack_v: f64,
    /// Lowest cell voltage, V.
    pub low_cell_v: f64,
    /// Highest cell voltage, V.
    pub high_cell_v: f64,
    /// Mean polarisation voltage of a cell, V.
    pub polarisation_v: f64,
    /// Force of the driven wheels on the car, N.
    pub drive_n: f64,
    /// Force of the friction brakes, N.
    pub friction_n: f64,
    /// Share of the driven tyres' grip in use.
    pub grip_used: f64,
    /// What stood in the way of the request, if anything.
    pub limit: Option<Limit>,
    /// Share of the nearest electrical limit that driving leaves; infinite where it meets one or
    /// does not drive.
    pub spare: f64,
    /// Powers by account, W.
    pub powers: Ledger,
    /// Heat by node.
    pub heat: Heat,
}

/// One gear with everything that a step needs.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Way {
    /// Motor radians per metre of road.
    per_m: f64,
    /// `per_m` to the power of convection.
    per_m_08: f64,
    /// Metres of road per radian of the motor.
    m_per: f64,
    efficiency: f64,
    per_efficiency: f64,
    /// Rotor inertia as a mass at the road, kg.
    rotor_kg: f64,
}

/// A car in its surroundings, ready to drive.
#[derive(Debug, Clone, PartialEq)]
pub struct Car {
    parts: Parts,
    surroundings: Surroundings,
    road: RoadForce,
    grip: Grip,
    /// Share of the driven axle in braking with the friction brakes.
    driven_brake_share: f64,
    ways: Vec<Way>,
    rolling_kg: f64,
    weight_n: f64,
    max_radps: f64,
    scales: Scales,
    pack_curves: PackCurves,
}

/// A car at an instant: speed, road and gear, and what follows from them.
struct Spot<'a> {
    now: &'a Instant,
    way: &'a Way,
    speed_mps: f64,
    slope: Slope,
    /// Shaft speed of the motor, rad/s.
    radps: f64,
    /// Drag torque of the gearbox, N·m.
    drag_nm: f64,
    rolling_n: f64,
    air_n: f64,
    /// Rolling, air and grade force, N.
    resistance_n: f64,
    /// Speed to the power of convection.
    road_08: f64,
}

/// Operation of motor, controller and pack.
#[derive(Clone, Copy, Default)]
struct Electrics {
    loss: MotorLoss,
    motor_a: f64,
    controller_w: f64,
    dc_w: f64,
    pack_a: f64,
    pack_v: f64,
    /// Shaft speed scaled to the motor's reference voltage, rad/s.
    at_radps: f64,
}

/// How the car moves.
#[derive(Default)]
struct Motion {
    acceleration_mps2: f64,
    torque_nm: f64,
    radps: f64,
    drive_n: f64,
    friction_n: f64,
    /// Mass with all that turns, kg.
    moving_kg: f64,
    grip_used: f64,
    /// Motor turning per metre to the power of convection (0: disconnected).
    per_m_08: f64,
}

/// How the car answers a request, before the books are written.
struct Answer {
    electrics: Electrics,
    motion: Motion,
    limit: Option<Limit>,
    spare: f64,
    /// Where the most torque was found, if it was sought.
    near: Option<Near>,
}

/// The most torque in a direction.
struct Most {
    torque_nm: f64,
    /// What goes with it; `None` where no torque is allowed.
    electrics: Option<Electrics>,
    limit: Limit,
    /// Where it was found, if it had to be sought.
    near: Option<Near>,
}

/// Constants of the limits, so that asking them costs no division.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Scales {
    per_peak_nm: f64,
    per_motor_a: f64,
    per_discharge_a: f64,
    per_charge_a: f64,
    per_cell_v: f64,
    per_parallel: f64,
    per_capacity_as: f64,
    per_copper_k: f64,
    /// Inverse of the growth of rolling resistance in this air.
    warmth: f64,
    chassis_kg: f64,
    /// Power of the auxiliaries but for the heater, W.
    steady_w: f64,
    /// Regain of the cells' short-peak allowance.
    discharge_reserve: Reserve,
    charge_reserve: Reserve,
    /// Motor speed from which the torque tapers to nothing at the highest, rad/s.
    taper_radps: f64,
    /// Input torque that gearbox and clutch bear, N·m.
    input_nm: f64,
}

/// How the cells' short-peak allowance comes back, 1/s: `(1 − (I/I_c)²)/(((I_p/I_c)² − 1)·t_p)`, so
/// that the peak current lasts its stated time and the continuous current lasts for ever. The
/// square is that of the heat (common practice, no source).
#[derive(Debug, Clone, Copy, PartialEq)]
struct Reserve {
    /// At rest, 1/s.
    at_rest: f64,
    /// Fall with the square of the pack's current, 1/(A²·s).
    per_a2: f64,
}

impl Reserve {
    fn new(pack: &Pack, continuous_a: f64, peak_a: f64) -> Self {
        let peak_s = pack.cell.peak_s;
        if peak_a <= continuous_a {
            return Self { at_rest: 1.0 / peak_s, per_a2: 0.0 };
        }
        let over = peak_a / continuous_a;
        let at_rest = 1.0 / ((over * over - 1.0) * peak_s);
        let pack_a = continuous_a * pack.parallel;
        Self { at_rest, per_a2: at_rest / (pack_a * pack_a) }
    }
}

impl Answer {
    #[inline]
    fn new(electrics: Electrics, motion: Motion, limit: Option<Limit>) -> Self {
        Self { electrics, motion, limit, spare: f64::INFINITY, near: None }
    }
}

/// Share of the speed range below the highest speed over which torque falls to nothing.
const RPM_TAPER: f64 = 0.01;
/// Motor speed below which its drag is taken as nothing, rad/s.
const STILL_RADPS: f64 = 1e-6;
/// Tolerance of the limit search, in torque as a share of the motor's peak and in the margin.
const SEARCH_TOLERANCE: f64 = 5e-11;
/// How often the secant is tried before the slower, safe search.
const SECANT_TRIES: u32 = 6;

impl Car {
    /// Puts parts together in their surroundings.
    pub fn new(parts: Parts, surroundings: Surroundings) -> Self {
        let density = air::density_kg_per_m3(surroundings.altitude_m, surroundings.air_k);
        let chassis = parts.chassis;
        let radius = parts.rolling_radius_m;
        let max_radps = parts.motor.max_radps.min(parts.gearbox.max_input_radps);
        let ways = parts
            .gearbox
            .gears()
            .iter()
            .map(|gear| {
                let per_m = gear.ratio / radius;
                Way {
                    per_m,
                    per_m_08: per_m.powf(motor::CONVECTION_EXPONENT),
                    m_per: 1.0 / per_m,
                    efficiency: gear.efficiency,
                    per_efficiency: 1.0 / gear.efficiency,
                    rotor_kg: parts.motor.rotor_inertia_kg_m2 * per_m * per_m,
                }
            })
            .collect();
        let grip = Grip {
            driven: parts.driven,
            friction: surroundings.friction,
            rear_share: chassis.cg_behind_front_axle_m / chassis.wheelbase_m,
            height_share: chassis.cg_height_m / chassis.wheelbase_m,
        };
        Self {
            road: parts.road_load.force(
                chassis.mass_kg,
                density,
                surroundings.air_k,
                surroundings.head_wind_mps,
            ),
            driven_brake_share: grip.driven_brake_share(parts.braking.friction_front_share),
            grip,
            ways,
            rolling_kg: chassis.mass_kg + chassis.wheels_inertia_kg_m2 / (radius * radius),
            weight_n: chassis.mass_kg * GRAVITY_MPS2,
            max_radps,
            scales: Scales {
                per_peak_nm: 1.0 / parts.motor.envelope.largest_nm(),
                per_motor_a: 1.0 / parts.controller.motor_current_a,
                per_discharge_a: 1.0 / (parts.pack.cell.discharge_peak_a * parts.pack.parallel),
                per_charge_a: 1.0 / (parts.pack.cell.charge_peak_a * parts.pack.parallel),
                per_cell_v: 1.0 / parts.pack.cell.open_circuit_v.at(0.5),
                per_parallel: 1.0 / parts.pack.parallel,
                per_capacity_as: 1.0 / parts.pack.capacity_as(),
                per_copper_k: 1.0 / (parts.motor.loss_reference_k - motor::NO_RESISTANCE_K),
                warmth: 1.0 / rolling_temperature_factor(surroundings.air_k),
                chassis_kg: chassis.mass_kg,
                // A cabin that is hot enough leaves all but the heater.
                steady_w: parts.auxiliaries.pack_w(f64::INFINITY),
                discharge_reserve: Reserve::new(
                    &parts.pack,
                    parts.pack.cell.discharge_a,
                    parts.pack.cell.discharge_peak_a,
                ),
                charge_reserve: Reserve::new(
                    &parts.pack,
                    parts.pack.cell.charge_a,
                    parts.pack.cell.charge_peak_a,
                ),
                taper_radps: (1.0 - RPM_TAPER) * max_radps,
                input_nm: parts.gearbox.max_input_nm.min(parts.gearbox.clutch_nm),
            },
            pack_curves: parts.pack.curves(),
            parts,
            surroundings,
        }
    }

    /// The parts.
    pub fn parts(&self) -> &Parts {
        &self.parts
    }

    /// The surroundings.
    pub fn surroundings(&self) -> &Surroundings {
        &self.surroundings
    }

    /// The same parts elsewhere.
    pub fn moved_to(&self, surroundings: Surroundings) -> Self {
        Self::new(self.parts.clone(), surroundings)
    }

    /// How many gears there are.
    pub fn gears(&self) -> usize {
        self.ways.len()
    }

    /// Motor speed at a road speed in a gear, rad/s.
    #[inline]
    pub fn motor_radps(&self, gear: usize, speed_mps: f64) -> f64 {
        self.ways[gear].per_m * speed_mps
    }

    /// Road speed at the highest motor speed in a gear, m/s.
    pub fn top_speed_by_rpm_mps(&self, gear: usize) -> f64 {
        self.max_radps / self.ways[gear].per_m
    }

    /// Highest speed of motor and gearbox input, rad/s.
    pub fn max_radps(&self) -> f64 {
        self.max_radps
    }

    /// Growth of rolling resistance on tyres that are colder than running makes them by so much:
    /// as if the air were colder, since run-in tyres follow the air.
    #[inline]
    fn tyre_factor(&self, chill_k: f64) -> f64 {
        if chill_k == 0.0 {
            return 1.0;
        }
        let coldest = 1.0 / rolling_temperature_factor(0.0);
        self.scales.warmth / (self.scales.warmth - ROLLING_PER_K * chill_k).max(coldest)
    }

    /// Rolling, air and grade force at a speed on tyres that are run warm, N.
    #[inline]
    pub fn resistance_n(&self, speed_mps: f64, slope: Slope) -> f64 {
        self.road.rolling(speed_mps, slope.cos)
            + self.road.air(speed_mps)
            + self.weight_n * slope.sin
    }

    /// Kinetic energy at a speed, J, with wheels and the rotor in a gear (`None`: disconnected).
    pub fn kinetic_j(&self, speed_mps: f64, gear: Option<usize>) -> f64 {
        let rotor_kg = gear.map_or(0.0, |g| self.ways[g].rotor_kg);
        0.5 * (self.rolling_kg + rotor_kg) * speed_mps * speed_mps
    }

    /// Kinetic energy of the rotor while it spins as at a road speed in a gear, J.
    pub fn rotor_j(&self, gear: usize, speed_mps: f64) -> f64 {
        0.5 * self.ways[gear].rotor_kg * speed_mps * speed_mps
    }

    /// Engages a gear at a road speed while the rotor spins as it did at `rotor_mps` in
    /// `rotor_gear`: speeds meet as in a plastic impact, `v' = (M·v + J·g·ω)/(M + J·g²)`.
    /// Returns the road speed after it and the energy lost, J.
    pub fn engage(
        &self,
        gear: usize,
        speed_mps: f64,
        rotor_gear: usize,
        rotor_mps: f64,
    ) -> (f64, f64) {
        let inertia = self.parts.motor.rotor_inertia_kg_m2;
        let per_m = self.ways[gear].per_m;
        let rotor_radps = self.motor_radps(rotor_gear, rotor_mps);
        let after = (self.rolling_kg * speed_mps + inertia * per_m * rotor_radps)
            / (self.rolling_kg + self.ways[gear].rotor_kg);
        let before_j = self.kinetic_j(speed_mps, None) + self.rotor_j(rotor_gear, rotor_mps);
        (after, before_j - self.kinetic_j(after, Some(gear)))
    }

    /// Works out the slow part of a state for a step of `step_s` (0: for the instant).
    #[inline]
    pub fn now(&self, state: &State, step_s: f64) -> Instant {
        let parts = &self.parts;
        let pack = parts.pack.now(&self.pack_curves, state, step_s);
        let heater_w = parts.auxiliaries.cabin.map_or(0.0, |c| c.heater_w(state.cabin_k));
        Instant {
            stretch: parts.motor.envelope.reference_v / pack.emf_v.max(1e-3),
            pack,
            copper_factor: (state.winding_k - motor::NO_RESISTANCE_K) * self.scales.per_copper_k,
            motor_factor: parts.motor.derating.factor(state.winding_k),
            controller_factor: parts.controller.derating.factor(state.sink_k),
            auxiliaries_w: self.scales.steady_w + heater_w,
            heater_w,
            tyre_factor: self.tyre_factor(state.tyre_chill_k),
        }
    }

    /// What happens at a speed, on a slope, in a gear, when the driver asks for something.
    ///
    /// The chain is `F = m·a + ΣF_road`, shaft torque `T = F·r/(G·η) + T_drag + J·α` (efficiency
    /// inverted when the wheels drive the motor), motor and controller losses, and the pack's
    /// quadratic. Every limit is asked; where one says no, the largest torque that all allow is
    /// found and [`Flow::limit`] names the one that said it.
    pub fn act(
        &self,
        now: &Instant,
        speed_mps: f64,
        slope: Slope,
        gear: usize,
        request: Request,
    ) -> Flow {
        let spot = self.spot(now, speed_mps, slope, gear);
        self.flow(&spot, &self.answer(&spot, request, None))
    }

    /// The same, for one instant after another: a limit is looked for near where the one before
    /// was found. Returns where this one was, if one was sought.
    pub fn act_near(
        &self,
        now: &Instant,
        speed_mps: f64,
        slope: Slope,
        gear: usize,
        request: Request,
        near: Option<Near>,
    ) -> (Flow, Option<Near>) {
        let spot = self.spot(now, speed_mps, slope, gear);
        let answer = self.answer(&spot, request, near);
        (self.flow(&spot, &answer), answer.near)
    }

    #[inline]
    fn answer(&self, spot: &Spot, request: Request, near: Option<Near>) -> Answer {
        match request {
            Request::Accelerate(wanted) if spot.speed_mps == 0.0 && wanted <= 0.0 => {
                self.standing(spot, None)
            }
            Request::Accelerate(wanted) => {
                let torque = self.torque_for_nm(spot, wanted);
                if torque >= 0.0 {
                    self.drive(spot, torque, wanted, near)
                } else {
                    self.slow(spot, wanted, near)
                }
            }
            Request::FullThrottle => self.full(spot, f64::INFINITY, near),
            Request::LiftOff => self.overrun(spot, near),
            Request::Disconnected(wanted) => self.disconnected(spot, wanted),
        }
    }

    #[inline]
    fn spot<'a>(&'a self, now: &'a Instant, speed_mps: f64, slope: Slope, gear: usize) -> Spot<'a> {
        let way = &self.ways[gear];
        let radps = way.per_m * speed_mps;
        let rolling_n = self.road.rolling(speed_mps, slope.cos) * now.tyre_factor;
        let air_n = self.road.air(speed_mps);
        Spot {
            now,
            way,
            speed_mps,
            slope,
            radps,
            drag_nm: self.parts.gearbox.drag_torque_nm(radps),
            rolling_n,
            air_n,
            resistance_n: rolling_n + air_n + self.weight_n * slope.sin,
            road_08: motor::convection_power(speed_mps),
        }
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
        self.flow(&spot, &Answer::new(electrics, Motion::default(), None))
    }

    /// Shaft torque for an acceleration, N·m.
    #[inline]
    fn torque_for_nm(&self, spot: &Spot, acceleration: f64) -> f64 {
        self.shaft_nm(spot, self.rolling_kg * acceleration + spot.resistance_n, acceleration)
    }

    /// Shaft torque for a force of the driven wheels, N·m.
    #[inline]
    fn shaft_nm(&self, spot: &Spot, drive_n: f64, acceleration: f64) -> f64 {
        let way = spot.way;
        let through = if drive_n >= 0.0 { way.per_efficiency } else { way.efficiency };
        (drive_n * through + way.rotor_kg * acceleration) * way.m_per + spot.drag_nm
    }

    /// Force at the driven wheels for a shaft torque and an acceleration, N.
    #[inline]
    fn wheel_n(&self, spot: &Spot, torque: f64, acceleration: f64) -> f64 {
        let way = spot.way;
        let input_n = (torque - spot.drag_nm) * way.per_m - way.rotor_kg * acceleration;
        input_n * if input_n >= 0.0 { way.efficiency } else { way.per_efficiency }
    }

    /// Acceleration for a shaft torque, m/s².
    #[inline]
    fn acceleration_mps2(&self, spot: &Spot, torque: f64) -> f64 {
        let way = spot.way;
        let input_n = (torque - spot.drag_nm) * way.per_m;
        let with = |through: f64| {
            (input_n * through - spot.resistance_n) / (self.rolling_kg + way.rotor_kg * through)
        };
        let driving = with(way.efficiency);
        if input_n >= way.rotor_kg * driving { driving } else { with(way.per_efficiency) }
    }

    /// Hardest slowdown that the tyres of both axles hold, m/s² (negative).
    #[inline]
    fn hardest_stop(&self, spot: &Spot) -> f64 {
        let hold_n = self.grip.friction * self.weight_n * spot.slope.cos;
        -(hold_n + spot.resistance_n - spot.rolling_n) / self.scales.chassis_kg
    }

    /// Motor, controller and pack at a shaft torque with the motor powered.
    ///
    /// Field weakening follows the terminal voltage, which follows the power: one pass from the
    /// open circuit fixes it.
    #[inline(always)]
    fn electrics(&self, spot: &Spot, torque: f64) -> Electrics {
        let Parts { motor, controller, .. } = &self.parts;
        let (now, radps) = (spot.now, spot.radps);
        let shaft_w = torque * radps;
        let full_v = motor.full_field_v(radps);
        let per_full_v = 1.0 / full_v;
        let (mut volts, mut again) = (now.pack.emf_v, false);
        loop {
            let motor_a = motor.current_a(torque, Field::at(volts, full_v, per_full_v));
            let loss = motor.loss(torque, radps, motor_a, now.copper_factor);
            let controller_w = controller.loss_w(motor_a);
            let dc_w = shaft_w + loss.total_w() + controller_w;
            let (pack_a, pack_v) = now.pack.terminals(dc_w + now.auxiliaries_w);
            if again || volts >= full_v && pack_v >= full_v {
                let at_radps = radps * motor.envelope.reference_v / pack_v.max(1e-3);
                return Electrics { loss, motor_a, controller_w, dc_w, pack_a, pack_v, at_radps };
            }
            (volts, again) = (pack_v, true);
        }
    }

    /// Controller and pack with the motor unpowered.
    #[inline]
    fn idle(&self, now: &Instant, loss: MotorLoss, controller_w: f64) -> Electrics {
        let (pack_a, pack_v) = now.pack.terminals(controller_w + now.auxiliaries_w);
        let dc_w = controller_w;
        Electrics { loss, controller_w, dc_w, pack_a, pack_v, ..Electrics::default() }
    }

    /// How much is left of the nearest electrical limit, on a scale of about one, and which it is.
    #[inline(always)]
    fn margin(&self, now: &Instant, driving: bool, torque: f64, e: &Electrics) -> (f64, Limit) {
        let Parts { motor, controller, pack, .. } = &self.parts;
        let scales = &self.scales;
        let peak_nm = motor.envelope.peak_at_nm(e.at_radps) * now.motor_factor;
        let (low_v, high_v) = now.pack.cell_spread_v(e.pack_a * scales.per_parallel);
        let mut nearest = (f64::INFINITY, Limit::PackPower);
        let mut ask = |left: f64, scale: f64, limit: Limit| {
            let margin = left * scale;
            if margin < nearest.0 {
                nearest = (margin, limit);
            }
        };
        let torque_limit =
            if now.motor_factor < 1.0 { Limit::MotorHeat } else { Limit::MotorTorque };
        let current_limit = if now.controller_factor < 1.0 {
            Limit::ControllerHeat
        } else {
            Limit::ControllerMotorCurrent
        };
        let motor_a_left = now.controller_factor * controller.motor_current_a - e.motor_a;
        ask(motor_a_left, scales.per_motor_a, current_limit);
        // Pack-side current times voltage against power spares a division; the scale is a voltage.
        let per_w = scales.per_discharge_a * now.stretch;
        let power_left = |most_a: f64, power_w: f64| most_a * e.pack_v - power_w;
        if driving {
            ask(peak_nm - torque, scales.per_peak_nm, torque_limit);
            let left_w = power_left(controller.pack_current_a, e.dc_w);
            ask(left_w, per_w, Limit::ControllerPackCurrent);
            ask(e.pack_v - controller.min_v, now.stretch, Limit::ControllerVoltage);
            let (most_a, cells) = now.pack.discharge_a;
            ask(most_a - e.pack_a, scales.per_discharge_a, cells);
            ask(low_v - pack.cell.min_v, scales.per_cell_v, Limit::CellVoltage);
            let head_w =
                now.pack.emf_v * now.pack.emf_v - 4.0 * now.pack.ohm * (e.dc_w + now.auxiliaries_w);
            ask(head_w, now.stretch * now.stretch, Limit::PackPower);
        } else {
            ask(peak_nm * motor.regen_share + torque, scales.per_peak_nm, torque_limit);
            let left_w = power_left(controller.pack_regen_current_a, -e.dc_w);
            ask(left_w, per_w, Limit::ControllerPackCurrent);
            ask(controller.max_v - e.pack_v, now.stretch, Limit::ControllerVoltage);
            let (most_a, cells) = now.pack.charge_a;
            ask(most_a + e.pack_a, scales.per_charge_a, cells);
            ask(pack.cell.max_v - high_v, scales.per_cell_v, Limit::CellVoltage);
        }
        nearest
    }

    /// Whether gearbox, clutch, highest speed and the tyres bear a shaft torque that gives an
    /// acceleration: the same limits as in [`Self::mechanical_cap`], asked of one torque.
    #[inline]
    fn bears(&self, spot: &Spot, torque: f64, acceleration: f64) -> bool {
        let tyre_n = self.scales.chassis_kg * acceleration + spot.resistance_n;
        spot.radps <= self.scales.taper_radps
            && torque <= self.scales.input_nm
            && tyre_n <= self.grip.friction * self.driven_load_n(spot, tyre_n)
    }

    /// The largest torque in a direction (`end_nm` gives its sign and the most that mechanics
    /// allow): where [`Self::margin`] ends, but for a tolerance at which the search aims so that
    /// what it finds lies inside. Begun near where another search ended, if that is known.
    fn most_nm(&self, spot: &Spot, end_nm: f64, end_limit: Limit, near: Option<Near>) -> Most {
        let driving = end_nm >= 0.0;
        let at = |torque: f64| {
            let e = self.electrics(spot, torque);
            let (margin, limit) = self.margin(spot.now, driving, torque, &e);
            (margin - SEARCH_TOLERANCE, (e, limit))
        };
        let found = |zero: Zero<(Electrics, Limit)>| Most {
            torque_nm: zero.near.at,
            electrics: Some(zero.with.0),
            limit: zero.with.1,
            near: Some(zero.near),
        };
        let whole = Bracket { holds: 0.0, fails: end_nm };
        if let Some(near) = near
            && let Some(zero) = whole.secant(near, SECANT_TRIES, SEARCH_TOLERANCE, at)
        {
            return found(zero);
        }

        let (margin, (e, _)) = at(end_nm);
        if margin >= -SEARCH_TOLERANCE {
            let electrics = Some(e);
            return Most { torque_nm: end_nm, electrics, limit: end_limit, near: None };
        }
        let mut outside = (end_nm, margin);
        let mut inside = None;
        // The motor's curve at the voltage of the larger torque is a close guess from inside.
        let curve_nm = self.parts.motor.envelope.peak_at_nm(e.at_radps) * spot.now.motor_factor;
        let curve_nm = if driving { curve_nm } else { -curve_nm };
        if whole.encloses(curve_nm) {
            let (margin, with) = at(curve_nm);
            if margin >= 0.0 {
                inside = Some(Point { at: curve_nm, value: margin, with });
            } else {
                outside = (curve_nm, margin);
            }
        }
        // A limit is named by what is nearest at the torque found, not by what a larger one meets.
        let inside = match inside {
            Some(found) => found,
            None => {
                let (margin, with) = at(0.0);
                if margin <= 0.0 {
                    return Most { torque_nm: 0.0, electrics: None, limit: with.1, near: None };
                }
                Point { at: 0.0, value: margin, with }
            }
        };
        let apart = SEARCH_TOLERANCE * self.parts.motor.envelope.largest_nm();
        found(root::crossing(inside, outside, Close { apart, value: SEARCH_TOLERANCE }, at))
    }

    /// Driving with the torque for an acceleration, or with all that there is if less.
    #[inline]
    fn drive(&self, spot: &Spot, torque: f64, wanted: f64, near: Option<Near>) -> Answer {
        if self.bears(spot, torque, wanted) {
            let e = self.electrics(spot, torque);
            let spare = self.margin(spot.now, true, torque, &e).0;
            if spare >= 0.0 {
                return Answer { spare, ..self.geared(spot, e, torque, wanted, 0.0, None) };
            }
        }
        self.full(spot, torque, near)
    }

    /// Driving with a torque, or with all that there is if less.
    #[cold]
    fn full(&self, spot: &Spot, asked_nm: f64, near: Option<Near>) -> Answer {
        let (cap_nm, cap_limit) = self.mechanical_cap(spot);
        let end_nm = cap_nm.min(asked_nm).max(0.0);
        let most = self.most_nm(spot, end_nm, cap_limit, near);
        let (torque, limit) = (most.torque_nm, Some(most.limit));
        let acceleration = self.acceleration_mps2(spot, torque);
        let answer = if spot.speed_mps == 0.0 && acceleration <= 0.0 {
            self.standing(spot, limit)
        } else if let Some(e) = most.electrics {
            self.geared(spot, e, torque, acceleration, 0.0, limit)
        } else {
            self.roll(spot, f64::INFINITY, limit)
        };
        Answer { near: most.near, ..answer }
    }

    /// The most torque by grip, motor curve at open circuit, gearbox, clutch and highest speed.
    #[inline]
    fn mechanical_cap(&self, spot: &Spot) -> (f64, Limit) {
        let Parts { motor, gearbox, .. } = &self.parts;
        let now = spot.now;
        let left =
            ((self.max_radps - spot.radps) / (self.max_radps - self.scales.taper_radps)).max(0.0);
        let peak_nm = motor.envelope.peak_at_nm(spot.radps * now.stretch);
        let mut cap = (peak_nm * now.motor_factor, Limit::MotorTorque);
        if now.motor_factor < 1.0 {
            cap.1 = Limit::MotorHeat;
        }
        if left < 1.0 && peak_nm * left < cap.0 {
            cap = (peak_nm * left, Limit::Rpm);
        }
        if gearbox.max_input_nm < cap.0 {
            cap = (gearbox.max_input_nm, Limit::GearboxTorque);
        }
        if gearbox.clutch_nm < cap.0 {
            cap = (gearbox.clutch_nm, Limit::ClutchTorque);
        }
        // The driven tyres: N is linear in the force, so F = μ·N solves at once.
        if let Some(torque) = self.gripped_nm(spot, 1.0)
            && torque < cap.0
        {
            cap = (torque.max(0.0), Limit::Grip);
        }
        cap
    }

    /// Shaft torque at which the driven tyres let go when the motor alone pushes (`way` 1) or
    /// slows (−1), N·m; `None` where the weight that shifts onto them always holds.
    #[inline]
    fn gripped_nm(&self, spot: &Spot, way: f64) -> Option<f64> {
        let grip = &self.grip;
        let at_rest_n = self.driven_load_n(spot, 0.0);
        let gain = match grip.driven {
            DrivenAxle::Front => -grip.height_share,
            DrivenAxle::Rear => grip.height_share,
            DrivenAxle::Both => 0.0,
        };
        let room = 1.0 - way * grip.friction * gain;
        if room <= 0.0 {
            return None;
        }
        let tyre_n = way * grip.friction * at_rest_n / room;
        let acceleration = (tyre_n - spot.resistance_n) / self.scales.chassis_kg;
        let wheel_n = tyre_n + self.wheels_kg() * acceleration;
        Some(self.shaft_nm(spot, wheel_n, acceleration))
    }

    /// What the wheels' inertia adds to the car's mass, kg.
    #[inline]
    fn wheels_kg(&self) -> f64 {
        self.rolling_kg - self.scales.chassis_kg
    }

    /// Slowing at a wanted rate with regen first and friction for the rest.
    fn slow(&self, spot: &Spot, wanted: f64, near: Option<Near>) -> Answer {
        let braking = &self.parts.braking;
        let wanted = wanted.max(self.hardest_stop(spot));
        let asked_nm = self.torque_for_nm(spot, wanted);
        let cap_nm = (braking.lift_off_nm + braking.brake_pedal_nm) * braking.fade(spot.speed_mps);
        let drag_nm = self.unpowered_nm(spot.radps);
        let drive_n = self.rolling_kg * wanted + spot.resistance_n;
        if !self.parts.motor.makes_regen() || cap_nm <= drag_nm {
            if -asked_nm > drag_nm {
                return self.roll(spot, wanted, None);
            }
            // Less slowdown than rolling free would give: a touch of throttle.
            let e = self.electrics(spot, asked_nm);
            return self.geared(spot, e, asked_nm, wanted, 0.0, None);
        }
        let mut torque = asked_nm.max(-cap_nm);
        let mut limit = None;
        let gripped = self.grip_cap_nm(spot, drive_n - self.wheels_kg() * wanted, wanted);
        if torque < -gripped {
            torque = -gripped;
            limit = Some(Limit::Grip);
        }
        let mut e = self.electrics(spot, torque);
        let mut found = None;
        if self.margin(spot.now, false, torque, &e).0 < 0.0 {
            let most = self.most_nm(spot, torque, Limit::MotorTorque, near);
            (limit, found) = (Some(most.limit), most.near);
            match most.electrics {
                Some(at_most) if most.torque_nm < -drag_nm => {
                    (torque, e) = (most.torque_nm, at_most)
                }
                _ => return Answer { near: found, ..self.roll(spot, wanted, limit) },
            }
        }
        let friction_n = if torque == asked_nm {
            0.0
        } else {
            (self.wheel_n(spot, torque, wanted) - drive_n).max(0.0)
        };
        Answer { near: found, ..self.geared(spot, e, torque, wanted, friction_n, limit) }
    }

    /// Rolling with the motor unpowered, slowed to a wanted rate by the friction brakes.
    fn roll(&self, spot: &Spot, wanted: f64, limit: Option<Limit>) -> Answer {
        let torque = -self.unpowered_nm(spot.radps);
        let free = self.acceleration_mps2(spot, torque);
        let (acceleration, friction_n) = if free <= wanted {
            (free, 0.0)
        } else {
            let drive_n = self.rolling_kg * wanted + spot.resistance_n;
            (wanted, (self.wheel_n(spot, torque, wanted) - drive_n).max(0.0))
        };
        let (iron_w, windage_w) = self.parts.motor.unpowered_drag_w(spot.radps);
        let loss = if spot.radps > STILL_RADPS {
            MotorLoss { copper_w: 0.0, iron_w, windage_w }
        } else {
            MotorLoss::default()
        };
        let e = self.idle(spot.now, loss, self.parts.controller.fixed_loss_w);
        self.geared(spot, e, torque, acceleration, friction_n, limit)
    }

    /// Rolling with both pedals up, regen by the lift-off setting.
    fn overrun(&self, spot: &Spot, near: Option<Near>) -> Answer {
        let braking = &self.parts.braking;
        let cap_nm = braking.lift_off_nm * braking.fade(spot.speed_mps);
        let drag_nm = self.unpowered_nm(spot.radps);
        if spot.speed_mps > 0.0 && cap_nm > drag_nm && self.parts.motor.makes_regen() {
            let gripped = self.gripped_nm(spot, -1.0).map_or(f64::INFINITY, |nm| (-nm).max(0.0));
            let (end_nm, end_limit) =
                if gripped < cap_nm { (gripped, Some(Limit::Grip)) } else { (cap_nm, None) };
            let most = self.most_nm(spot, -end_nm, Limit::MotorTorque, near);
            let torque = most.torque_nm;
            let answer = if let Some(e) = most.electrics.filter(|_| torque < -drag_nm) {
                let acceleration = self.acceleration_mps2(spot, torque);
                let limit = if torque == -end_nm { end_limit } else { Some(most.limit) };
                self.geared(spot, e, torque, acceleration, 0.0, limit)
            } else {
                self.roll(spot, f64::INFINITY, None)
            };
            return Answer { near: most.near, ..answer };
        }
        self.roll(spot, f64::INFINITY, None)
    }

    /// Rolling with the motor cut off; the brakes may slow the car to a wanted rate.
    fn disconnected(&self, spot: &Spot, wanted: f64) -> Answer {
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

    /// At rest, held by the brakes, motor off.
    fn standing(&self, spot: &Spot, limit: Option<Limit>) -> Answer {
        Answer::new(self.idle(spot.now, MotorLoss::default(), 0.0), Motion::default(), limit)
    }

    /// The regen torque at which the driven tyres let go, N·m (positive), when all brakes together
    /// give `tyre_n` at the road. Friction brakes keep their balance, so more regen means less
    /// friction on both axles: `F_regen + (F − F_regen)·share = μ·N`.
    #[inline]
    fn grip_cap_nm(&self, spot: &Spot, tyre_n: f64, acceleration: f64) -> f64 {
        let share = self.driven_brake_share;
        let hold_n = self.grip.friction * self.driven_load_n(spot, tyre_n);
        let regen_n =
            if share < 1.0 { ((hold_n + tyre_n * share) / (1.0 - share)).max(0.0) } else { hold_n };
        let wheel_n = self.wheels_kg() * acceleration - regen_n;
        (-self.shaft_nm(spot, wheel_n, acceleration)).max(0.0)
    }

    /// Normal force on the driven wheels while they and the brakes push with a force, N.
    #[inline]
    fn driven_load_n(&self, spot: &Spot, drive_n: f64) -> f64 {
        self.grip.driven_load_n(self.weight_n * spot.slope.cos, drive_n, spot.rolling_n)
    }

    /// Drag torque of the unpowered motor, N·m (positive).
    #[inline]
    fn unpowered_nm(&self, radps: f64) -> f64 {
        let (iron_w, windage_w) = self.parts.motor.unpowered_drag_w(radps);
        if radps > STILL_RADPS { (iron_w + windage_w) / radps } else { 0.0 }
    }

    /// The answer in gear.
    #[inline]
    fn geared(
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
            moving_kg: self.rolling_kg + spot.way.rotor_kg,
            grip_used: on_driven_n / (self.grip.friction * load_n).max(1e-9),
            per_m_08: spot.way.per_m_08,
        };
        Answer::new(electrics, motion, limit)
    }

    /// Books powers and heat. What the pack gives beyond the controller goes to the auxiliaries.
    #[inline]
    fn flow(&self, spot: &Spot, answer: &Answer) -> Flow {
        let Answer { electrics: e, motion, limit, spare, .. } = answer;
        let Parts { motor, controller, pack, .. } = &self.parts;
        let (now, speed_mps) = (spot.now, spot.speed_mps);
        let Motion { torque_nm, radps, drive_n, friction_n, moving_kg, .. } = *motion;
        let kinetic_w = moving_kg * motion.acceleration_mps2 * speed_mps;
        let turning_w = kinetic_w - self.rolling_kg * motion.acceleration_mps2 * speed_mps;
        let cells = pack.series * pack.parallel;
        let cell_a = e.pack_a * self.scales.per_parallel;
        let polarisation_v = now.pack.polarisation_v(cell_a);
        let polarisation_w = polarisation_v * polarisation_v * now.pack.per_polarisation_ohm;
        let (low_cell_v, high_cell_v) = now.pack.cell_spread_v(cell_a);
        let cells_w = cells * (now.pack.cell_ohm() * cell_a * cell_a + polarisation_w);
        let mut powers = Ledger::default();
        powers[Account::Chemical] = pack.series * now.pack.open_circuit_v * e.pack_a;
        powers[Account::PackResistance] = cells_w + pack.harness_ohm * e.pack_a * e.pack_a;
        powers[Account::Polarisation] = cells * (polarisation_v * cell_a - polarisation_w);
        powers[Account::Auxiliaries] = e.pack_v * e.pack_a - e.dc_w;
        powers[Account::Controller] = e.controller_w;
        powers[Account::Copper] = e.loss.copper_w;
        powers[Account::Iron] = e.loss.iron_w;
        powers[Account::Windage] = e.loss.windage_w;
        powers[Account::Gearbox] = torque_nm * radps - turning_w - drive_n * speed_mps;
        powers[Account::Rolling] = spot.rolling_n * speed_mps;
        powers[Account::Air] = spot.air_n * speed_mps;
        powers[Account::Brakes] = friction_n * speed_mps;
        powers[Account::Kinetic] = kinetic_w;
        powers[Account::Potential] = self.weight_n * spot.slope.sin * speed_mps;
        let shaft_08 = motion.per_m_08 * spot.road_08;
        let heat = Heat {
            winding_w: e.loss.copper_w,
            housing_w: e.loss.iron_w + e.loss.windage_w,
            housing_w_per_k: motor.thermal.cooling.conductance_w_per_k(shaft_08, spot.road_08),
            sink_w: e.controller_w,
            sink_w_per_k: controller.cooling.conductance_w_per_k(0.0, spot.road_08),
            cells_w,
            cabin_w: now.heater_w,
        };
        Flow {
            acceleration_mps2: motion.acceleration_mps2,
            torque_nm,
            radps,
            motor_a: e.motor_a,
            pack_a: e.pack_a,
            pack_v: e.pack_v,
            low_cell_v,
            high_cell_v,
            polarisation_v,
            drive_n,
            friction_n,
            grip_used: motion.grip_used,
            limit: *limit,
            spare: *spare,
            powers,
            heat,
        }
    }

    /// Rates of the state at an instant, for an integrator: `[dv, dx, ds, dU, dT…, dr]/dt` in the
    /// order of [`State::to_array`].
    pub fn rates(&self, state: &State, flow: &Flow) -> [f64; State::COUNT] {
        let Parts { motor, controller, pack, auxiliaries, .. } = &self.parts;
        let ambient_k = self.surroundings.air_k;
        let heat = &flow.heat;
        let thermal = &motor.thermal;
        let inner_w = thermal.winding_to_housing_w_per_k * (state.winding_k - state.housing_k);
        let out_w = heat.housing_w_per_k * (state.housing_k - thermal.cooling.sink_k(ambient_k));
        let sink_out_w = heat.sink_w_per_k * (state.sink_k - controller.cooling.sink_k(ambient_k));
        let cells_out_w = pack.conductance_w_per_k * (state.cells_k - ambient_k);
        let cell_a = flow.pack_a / pack.parallel;
        let growth = pack.cell.resistance_factor.at(state.cells_k) * pack.resistance_growth;
        let polarisation_ohm = pack.cell.polarisation_ohm * growth;
        let polarisation_rate =
            (polarisation_ohm * cell_a - state.polarisation_v) / pack.cell.polarisation_s;
        let cabin_rate = auxiliaries.cabin.map_or(0.0, |c| {
            (heat.cabin_w - c.conductance_w_per_k * (state.cabin_k - ambient_k))
                / c.heat_capacity_j_per_k
        });
        let reserve_rate = self.reserve_rate(flow.pack_a);
        let reserve_full = state.peak_reserve >= 1.0 && reserve_rate > 0.0;
        let reserve_gone = state.peak_reserve <= 0.0 && reserve_rate < 0.0;
        let (chill_k, chill_s) = tyre::chill_course(state.speed_mps > 0.0);
        [
            flow.acceleration_mps2,
            state.speed_mps.max(0.0),
            -flow.pack_a / pack.capacity_as(),
            polarisation_rate,
            (heat.winding_w - inner_w) / thermal.winding_j_per_k,
            (heat.housing_w + inner_w - out_w) / thermal.housing_j_per_k,
            (heat.sink_w - sink_out_w) / controller.heat_capacity_j_per_k,
            (heat.cells_w - cells_out_w) / pack.heat_capacity_j_per_k,
            cabin_rate,
            if reserve_full || reserve_gone { 0.0 } else { reserve_rate },
            (chill_k - state.tyre_chill_k) / chill_s,
        ]
    }

    /// Rate of the cells' short-peak allowance, 1/s.
    #[inline]
    fn reserve_rate(&self, pack_a: f64) -> f64 {
        let Scales { discharge_reserve, charge_reserve, .. } = &self.scales;
        let reserve = if pack_a >= 0.0 { discharge_reserve } else { charge_reserve };
        reserve.at_rest - reserve.per_a2 * pack_a * pack_a
    }

    /// Moves the slow part of a state on by a step in which `flow` held, by the implicit midpoint
    /// rule: every node is linear in its temperature, so each step is solved at once and is stable
    /// however small a heat capacity is. Speed and distance are the caller's.
    #[inline]
    pub fn warm(&self, state: &mut State, flow: &Flow, step_s: f64) {
        let Parts { motor, controller, pack, auxiliaries, .. } = &self.parts;
        let ambient_k = self.surroundings.air_k;
        let heat = &flow.heat;
        let thermal = &motor.thermal;

        state.charge -= flow.pack_a * step_s * self.scales.per_capacity_as;
        state.polarisation_v = 2.0 * flow.polarisation_v - state.polarisation_v;

        // (C_w + ½hG_w)·w − ½hG_w·s = r_w and likewise for the housing, for the midpoint (w, s).
        let half = 0.5 * step_s;
        let inner = half * thermal.winding_to_housing_w_per_k;
        let outer = half * heat.housing_w_per_k;
        let a = thermal.winding_j_per_k + inner;
        let d = thermal.housing_j_per_k + inner + outer;
        let right_w = thermal.winding_j_per_k * state.winding_k + half * heat.winding_w;
        let right_h = thermal.housing_j_per_k * state.housing_k
            + half * heat.housing_w
            + outer * thermal.cooling.sink_k(ambient_k);
        let determinant = 1.0 / (a * d - inner * inner);
        let winding = (right_w * d + inner * right_h) * determinant;
        let housing = (a * right_h + inner * right_w) * determinant;
        state.winding_k = 2.0 * winding - state.winding_k;
        state.housing_k = 2.0 * housing - state.housing_k;

        let node = |from_k: f64, capacity: f64, heat_w: f64, conductance: f64, sink_k: f64| {
            let g = half * conductance;
            let middle = (capacity * from_k + half * heat_w + g * sink_k) / (capacity + g);
            2.0 * middle - from_k
        };
        state.sink_k = node(
            state.sink_k,
            controller.heat_capacity_j_per_k,
            heat.sink_w,
            heat.sink_w_per_k,
            controller.cooling.sink_k(ambient_k),
        );
        state.cells_k = node(
            state.cells_k,
            pack.heat_capacity_j_per_k,
            heat.cells_w,
            pack.conductance_w_per_k,
            ambient_k,
        );
        if let Some(cabin) = &auxiliaries.cabin {
            state.cabin_k = node(
                state.cabin_k,
                cabin.heat_capacity_j_per_k,
                heat.cabin_w,
                cabin.conductance_w_per_k,
                ambient_k,
            );
        }
        let (chill_k, chill_s) = tyre::chill_course(state.speed_mps > 0.0);
        state.tyre_chill_k = node(state.tyre_chill_k, chill_s, 0.0, 1.0, chill_k);
        state.peak_reserve =
            (state.peak_reserve + step_s * self.reserve_rate(flow.pack_a)).clamp(0.0, 1.0);
    }
}
