//! The car: all parts together, and what happens when the driver asks for something.

mod answers;
mod books;
mod course;
mod driveline;
mod electrics;
mod grip;
mod instant;
mod limits;
mod road;
mod search;

pub use answers::Attempt;
pub use books::Flow;
pub use instant::Instant;
pub use road::{Slope, Surroundings};

use crate::air;
use crate::auxiliaries::Auxiliaries;
use crate::brakes::Braking;
use crate::controller::Controller;
use crate::cooling::Coolant;
use crate::gearbox::Gearbox;
use crate::heat::Network;
use crate::mass::Chassis;
use crate::motor::{self, Motor};
use crate::pack::{Pack, PackCurves};
use crate::road_load::{RoadForce, RoadLoad, Tempering};
use crate::root::Near;
use crate::tyre::{DrivenAxle, Grip};
use crate::units::GRAVITY_MPS2;
use answers::Answer;
use course::Reserves;
use driveline::Gearing;
use instant::Spot;
use limits::LimitScales;

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
    /// What liquid-cooled parts give their heat to; without one it does nothing.
    pub coolant: Coolant,
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

/// A car in its surroundings, ready to drive.
#[derive(Debug, Clone, PartialEq)]
pub struct Car {
    parts: Parts,
    surroundings: Surroundings,
    road: RoadForce,
    grip: Grip,
    /// Share of the driven axle in braking with the friction brakes.
    driven_brake_share: f64,
    gearings: Vec<Gearing>,
    rolling_kg: f64,
    weight_n: f64,
    max_radps: f64,
    limits: LimitScales,
    reserves: Reserves,
    /// How rolling resistance follows temperature, and the inverse of its growth in this air.
    tempering: Tempering,
    warmth: f64,
    per_copper_k: f64,
    per_capacity_as: f64,
    /// Power of the auxiliaries but for the heater, W.
    steady_w: f64,
    thermal: Network,
    pack_curves: PackCurves,
}

impl Car {
    /// Puts parts together in their surroundings.
    pub fn new(parts: Parts, surroundings: Surroundings) -> Self {
        let density = air::density_kg_per_m3(surroundings.altitude_m, surroundings.air_k);
        let chassis = parts.chassis;
        let radius = parts.rolling_radius_m;
        let max_radps = parts.motor.max_radps.min(parts.gearbox.max_input_radps);
        let gearings = parts.gearbox.gears().iter();
        let gearings = gearings
            .map(|gear| Gearing::new(gear, radius, parts.motor.rotor_inertia_kg_m2))
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
            gearings,
            rolling_kg: chassis.mass_kg + chassis.wheels_inertia_kg_m2 / (radius * radius),
            weight_n: chassis.mass_kg * GRAVITY_MPS2,
            max_radps,
            limits: LimitScales::new(&parts, max_radps),
            reserves: Reserves::new(&parts.pack),
            tempering: parts.road_load.tempering(),
            warmth: parts.road_load.tempering().warmth(surroundings.air_k, 0.0),
            per_copper_k: 1.0 / (parts.motor.loss_reference_k - motor::NO_RESISTANCE_K),
            per_capacity_as: 1.0 / parts.pack.capacity_as(),
            // A cabin that is hot enough leaves all but the heater.
            steady_w: parts.auxiliaries.pack_w(f64::INFINITY),
            thermal: Network::new(&parts, &surroundings),
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

    /// The thermal network.
    pub fn thermal(&self) -> &Network {
        &self.thermal
    }

    /// Whether motor or controller gives its heat to the coolant.
    pub fn is_liquid_cooled(&self) -> bool {
        let coolings = [self.parts.motor.thermal.cooling, self.parts.controller.cooling];
        coolings.iter().any(|cooling| cooling.rated_coolant_k().is_some())
    }

    /// The same parts elsewhere.
    pub fn moved_to(&self, surroundings: Surroundings) -> Self {
        Self::new(self.parts.clone(), surroundings)
    }

    /// Comes into another air and wind at the same altitude, on the same surface, as on a drive.
    /// Nothing is allocated.
    pub(crate) fn come_into(&mut self, surroundings: Surroundings) {
        let Surroundings { altitude_m, air_k, head_wind_mps, .. } = surroundings;
        let density = air::density_kg_per_m3(altitude_m, air_k);
        let road_load = &self.parts.road_load;
        self.road = road_load.force(self.parts.chassis.mass_kg, density, air_k, head_wind_mps);
        self.warmth = self.tempering.warmth(air_k, 0.0);
        self.thermal.come_into(air_k);
        self.surroundings = surroundings;
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
        self.attempt(now, speed_mps, slope, gear, request, None).flow()
    }

    /// The same before the books are written, for whoever asks again and again: a limit is looked
    /// for near where the last attempt found it ([`Attempt::near`]).
    #[inline(always)]
    pub fn attempt<'a>(
        &'a self,
        now: &'a Instant,
        speed_mps: f64,
        slope: Slope,
        gear: usize,
        request: Request,
        near: Option<Near>,
    ) -> Attempt<'a> {
        let spot = self.spot(now, speed_mps, slope, gear);
        let answer = self.answer(&spot, request, near);
        Attempt { car: self, spot, answer }
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
}
