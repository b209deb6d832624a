//! From the motor's shaft through the gears to the road and back: torques, forces, inertia.

use super::limits::RPM_TAPER;
use super::{Car, Spot};
use crate::cooling::CONVECTION_EXPONENT;
use crate::gearbox::Gear;

/// One gear with everything that a step needs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Gearing {
    /// Motor radians per metre of road.
    pub(super) per_m: f64,
    /// `per_m` to the power of convection.
    pub(super) per_m_08: f64,
    /// Metres of road per radian of the motor.
    pub(super) m_per: f64,
    pub(super) efficiency: f64,
    pub(super) per_efficiency: f64,
    /// Rotor inertia as a mass at the road, kg.
    pub(super) rotor_kg: f64,
}

impl Gearing {
    pub(super) fn new(gear: &Gear, radius_m: f64, rotor_inertia_kg_m2: f64) -> Self {
        let per_m = gear.ratio / radius_m;
        Self {
            per_m,
            per_m_08: per_m.powf(CONVECTION_EXPONENT),
            m_per: 1.0 / per_m,
            efficiency: gear.efficiency,
            per_efficiency: 1.0 / gear.efficiency,
            rotor_kg: rotor_inertia_kg_m2 * per_m * per_m,
        }
    }
}

impl Car {
    /// How many gears there are.
    pub fn gears(&self) -> usize {
        self.gearings.len()
    }

    /// Motor speed at a road speed in a gear, rad/s.
    #[inline]
    pub fn motor_radps(&self, gear: usize, speed_mps: f64) -> f64 {
        self.gearings[gear].per_m * speed_mps
    }

    /// Highest speed of motor and gearbox input, rad/s.
    pub fn max_radps(&self) -> f64 {
        self.max_radps
    }

    /// Road speed at the highest motor speed in a gear, m/s.
    pub fn top_speed_by_rpm_mps(&self, gear: usize) -> f64 {
        self.max_radps / self.gearings[gear].per_m
    }

    /// Road speed up to which a gear has the whole of its torque, m/s: that from which the highest
    /// motor speed takes it away.
    pub fn whole_torque_mps(&self, gear: usize) -> f64 {
        (1.0 - RPM_TAPER) * self.top_speed_by_rpm_mps(gear)
    }

    /// Kinetic energy at a speed, J, with wheels and the rotor in a gear (`None`: disconnected).
    pub fn kinetic_j(&self, speed_mps: f64, gear: Option<usize>) -> f64 {
        let rotor_kg = gear.map_or(0.0, |g| self.gearings[g].rotor_kg);
        0.5 * (self.rolling_kg + rotor_kg) * speed_mps * speed_mps
    }

    /// Kinetic energy of the rotor while it spins as at a road speed in a gear, J.
    pub fn rotor_j(&self, gear: usize, speed_mps: f64) -> f64 {
        0.5 * self.gearings[gear].rotor_kg * speed_mps * speed_mps
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
        let per_m = self.gearings[gear].per_m;
        let rotor_radps = self.motor_radps(rotor_gear, rotor_mps);
        let after = (self.rolling_kg * speed_mps + inertia * per_m * rotor_radps)
            / (self.rolling_kg + self.gearings[gear].rotor_kg);
        let before_j = self.kinetic_j(speed_mps, None) + self.rotor_j(rotor_gear, rotor_mps);
        (after, before_j - self.kinetic_j(after, Some(gear)))
    }

    /// Shaft torque for an acceleration, N·m.
    #[inline]
    pub(super) fn torque_for_nm(&self, spot: &Spot, acceleration: f64) -> f64 {
        self.shaft_nm(spot, self.rolling_kg * acceleration + spot.resistance_n, acceleration)
    }

    /// Shaft torque for a force of the driven wheels, N·m.
    #[inline]
    pub(super) fn shaft_nm(&self, spot: &Spot, drive_n: f64, acceleration: f64) -> f64 {
        let gearing = spot.gearing;
        let through = if drive_n >= 0.0 { gearing.per_efficiency } else { gearing.efficiency };
        (drive_n * through + gearing.rotor_kg * acceleration) * gearing.m_per + spot.drag_nm
    }

    /// Force at the driven wheels for a shaft torque and an acceleration, N.
    #[inline]
    pub(super) fn wheel_n(&self, spot: &Spot, torque: f64, acceleration: f64) -> f64 {
        let gearing = spot.gearing;
        let input_n = (torque - spot.drag_nm) * gearing.per_m - gearing.rotor_kg * acceleration;
        input_n * if input_n >= 0.0 { gearing.efficiency } else { gearing.per_efficiency }
    }

    /// Acceleration for a shaft torque, m/s².
    #[inline]
    pub(super) fn acceleration_mps2(&self, spot: &Spot, torque: f64) -> f64 {
        let gearing = spot.gearing;
        let input_n = (torque - spot.drag_nm) * gearing.per_m;
        let with = |through: f64| {
            (input_n * through - spot.resistance_n) / (self.rolling_kg + gearing.rotor_kg * through)
        };
        let driving = with(gearing.efficiency);
        if input_n >= gearing.rotor_kg * driving { driving } else { with(gearing.per_efficiency) }
    }

    /// What the wheels' inertia adds to the car's mass, kg.
    #[inline]
    pub(super) fn wheels_kg(&self) -> f64 {
        self.rolling_kg - self.parts.chassis.mass_kg
    }
}
