//! The books of an instant: where each watt goes.

use super::answers::{Answer, Attempt, Motion};
use crate::cooling::{Wind, convection_power};
use crate::heat::{Heat, Node, PerNode};
use crate::ledger::{Account, Ledger};
use crate::limit::Limit;

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

impl Flow {
    /// Whether the driven wheels and the brakes together slow the car.
    #[inline]
    pub fn slows(&self) -> bool {
        self.drive_n - self.friction_n < 0.0
    }
}

impl Attempt<'_> {
    /// Books powers and heat. What the pack gives beyond the controller goes to the auxiliaries.
    #[inline(always)]
    pub fn flow(&self) -> Flow {
        let Attempt { car, spot, answer } = self;
        let Answer { electrics: e, motion, limit, spare, .. } = answer;
        let pack = &car.parts.pack;
        let (now, speed_mps) = (spot.now, spot.speed_mps);
        let Motion { torque_nm, radps, drive_n, friction_n, moving_kg, .. } = *motion;
        let kinetic_w = moving_kg * motion.acceleration_mps2 * speed_mps;
        let turning_w = kinetic_w - car.rolling_kg * motion.acceleration_mps2 * speed_mps;
        let (low_cell_v, high_cell_v) = now.pack.cell_spread_v(e.pack_a);
        let mut cells = now.pack.powers(pack, e.pack_a);
        let mut into_w = PerNode::default();
        into_w[Node::Cells] = cells.heat_w;
        if now.pack.is_in_boxes() {
            now.pack.add_powers_of_others(pack, e.pack_a, &mut cells, &mut into_w);
        }
        let mut powers = Ledger::default();
        powers[Account::Chemical] = cells.chemical_w;
        powers[Account::PackResistance] = cells.heat_w + pack.harness_ohm * e.pack_a * e.pack_a;
        powers[Account::Polarisation] = cells.polarisation_w;
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
        powers[Account::Potential] = car.weight_n * spot.slope.sin * speed_mps;
        into_w[Node::Winding] = e.loss.copper_w;
        into_w[Node::Housing] = e.loss.iron_w + e.loss.windage_w;
        into_w[Node::Sink] = e.controller_w;
        into_w[Node::Cabin] = now.heater_w;
        into_w[Node::Oil] = powers[Account::Gearbox];
        let road_08 = convection_power(speed_mps);
        let shaft_08 = motion.per_m_08 * road_08;
        let heat = Heat { into_w, wind: Wind { shaft_08, road_08, fan: 1.0 } };
        Flow {
            acceleration_mps2: motion.acceleration_mps2,
            torque_nm,
            radps,
            motor_a: e.motor_a,
            pack_a: e.pack_a,
            pack_v: e.pack_v,
            low_cell_v,
            high_cell_v,
            polarisation_v: now.pack.polarisation_v(e.pack_a),
            drive_n,
            friction_n,
            grip_used: motion.grip_used,
            limit: *limit,
            spare: *spare,
            powers,
            heat,
        }
    }
}
