//! The car: all parts together, and what happens when the driver asks for something.

mod answers;
mod books;
mod driveline;
mod electrics;
mod grip;
mod instant;
mod limits;
mod road;
mod search;

pub use books::Flow;
pub use instant::Instant;
pub use road::{Slope, Surroundings};

use crate::air;
use crate::auxiliaries::Auxiliaries;
use crate::brakes::Braking;
use crate::controller::Controller;
use crate::gearbox::Gearbox;
use crate::mass::Chassis;
use crate::motor::{self, Motor};
use crate::pack::{Pack, PackCurves};
use crate::road_load::{RoadForce, RoadLoad, rolling_temperature_factor};
use crate::root::Near;
use crate::state::State;
use crate::tyre::{self, DrivenAxle, Grip};
use crate::units::GRAVITY_MPS2;
use answers::Answer;
use driveline::Gearing;
use instant::Spot;

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
    scales: Scales,
    pack_curves: PackCurves,
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
                taper_radps: (1.0 - limits::RPM_TAPER) * max_radps,
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
