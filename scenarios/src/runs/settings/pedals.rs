//! The pedals' regen, as a controller may take it.

use crate::runs::limits::NamedLimit;
use crate::runs::regen::{cruising_gear, half_charge};
use crate::runs::settings::making::Making;
use crate::runs::settings::standing::standing;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::brakes::{Braking, pedals_up};
use sim_core::car::Parts;
use sim_core::motor::Field;
use sim_core::{Car, units};

/// Speed at which the pedals are told of, km/h.
const PEDALS_KMH: f64 = 50.0;

/// A setting of a pedal, as a controller may take it.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Pedal {
    /// Which.
    pub name: &'static str,
    /// Torque of the motor, N·m.
    pub torque_nm: f64,
    /// The same, % of its peak torque.
    pub torque_pct: f64,
    /// Current of the motor for it, A.
    pub motor_a: f64,
    /// Whether no file says it.
    pub assumed: bool,
    /// Speed at which the rest holds, km/h.
    pub at_kmh: f64,
    /// Gear, counted from 1.
    pub gear: usize,
    /// How hard the car slows, m/s².
    pub slows_mps2: f64,
    /// Current into the pack, A.
    pub pack_a: f64,
    /// Power into the pack, kW.
    pub pack_kw: f64,
    /// Share of the driven tyres' grip, %.
    pub grip_pct: f64,
    /// What holds it back there.
    pub held_by: Option<NamedLimit>,
}

impl Making<'_> {
    pub(super) fn pedals(&self) -> Vec<Pedal> {
        let parts = self.car.parts();
        let (motor, braking) = (&parts.motor, &parts.braking);
        if !motor.makes_regen() || parts.controller.pack_regen_current_a <= 0.0 {
            return Vec::new();
        }
        let at_mps = units::mps_from_kmh(PEDALS_KMH);
        let gear = cruising_gear(self.car, at_mps);
        let state = standing(self.car, half_charge(self.car), self.warm_k, 1.0);
        let both_nm = braking.lift_off_nm + braking.brake_pedal_nm;
        let given = self.prepared.scenario.build.regen.as_ref();
        let lift_given = given.is_some_and(|r| r.lift_off_pct.or(r.lift_off_nm).is_some());
        let brake_given = given.is_some_and(|r| r.brake_pedal_pct.or(r.brake_pedal_nm).is_some());
        [
            ("lift-off", braking.lift_off_nm, lift_given),
            ("with the brake pedal", both_nm, lift_given && brake_given),
        ]
        .into_iter()
        .map(|(name, torque_nm, given)| {
            // Regen by itself, without the friction brakes beside it.
            let braking = Braking { lift_off_nm: torque_nm, ..*braking };
            let alone = Parts { braking, ..parts.clone() };
            let alone = Car::new(alone, *self.car.surroundings());
            let flow = pedals_up(&alone, &state, gear, at_mps);
            Pedal {
                name,
                torque_nm,
                torque_pct: units::pct_of(torque_nm, motor.machine.envelope.largest_nm()),
                motor_a: motor.machine.current_a(torque_nm, Field::WHOLE),
                assumed: !given,
                at_kmh: PEDALS_KMH,
                gear: gear + 1,
                slows_mps2: -flow.acceleration_mps2,
                pack_a: (-flow.pack_a).max(0.0),
                pack_kw: units::kw_from_w((-flow.pack_a * flow.pack_v).max(0.0)),
                grip_pct: units::pct_from_share(flow.grip_used),
                held_by: flow.limit.map(NamedLimit),
            }
        })
        .collect()
    }
}
