//! A bench of sample cars: a light conversion with sensible figures, and a car without losses and
//! without limits. A test takes one, changes the fields that matter to it, and drives.
#![allow(dead_code)]

use proptest::test_runner::{Config as ProptestConfig, RngSeed};
use sim_core::auxiliaries::Auxiliaries;
use sim_core::brakes::Braking;
use sim_core::car::{Car, Flow, Parts, Request, Slope, Surroundings};
use sim_core::cell::Cell;
use sim_core::controller::{Controller, Derating};
use sim_core::cooling::{Coolant, Cooling, ThinAir};
use sim_core::driver::{Driver, Shifting};
use sim_core::gearbox::{Gear, Gearbox};
use sim_core::mass::Chassis;
use sim_core::motor::{Coefficients, Envelope, Kind, Losses, Machine, Motor, Thermal};
use sim_core::pack::Pack;
use sim_core::pull::{Plan, PlannedShift};
use sim_core::road_load::RoadLoad;
use sim_core::tyre::DrivenAxle;
use sim_core::units::GRAVITY_MPS2;
use sim_core::{Curve, State, Trace};

/// 25 °C: here the tyres' temperature factor is one (ISO 28580) and cells have their rated values.
pub const WARM_K: f64 = 298.15;
/// Density of air at sea level and 25 °C, kg/m³: `p₀/(R·T)` with 101 325 Pa and 287.05287 J/(kg·K)
/// (ISO 2533).
pub const WARM_AIR_KG_PER_M3: f64 = 101_325.0 / (287.052_87 * WARM_K);
/// Statute mile per hour, m/s (exact by the international yard).
pub const MPH: f64 = 0.44704;
/// From the lowest of so many gears up, each held until it gives out.
pub fn gears_held(gears: usize) -> Plan {
    let shifts = (1..gears).map(|to| PlannedShift { at_mps: f64::INFINITY, to });
    Plan { first: 0, shifts: shifts.collect() }
}

/// Larger than any current, torque or voltage that a test reaches.
pub const PLENTY: f64 = 1e6;

/// Parts and surroundings, open to change.
#[derive(Debug, Clone)]
pub struct Bench {
    /// Parts of the car.
    pub parts: Parts,
    /// Where it drives.
    pub around: Surroundings,
}

impl Bench {
    /// A light four-speed conversion with losses, limits and heat.
    pub fn light_car() -> Self {
        let gears =
            [3.5, 2.0, 1.3, 0.95].map(|ratio| Gear { ratio: ratio * 4.1, efficiency: 0.95 });
        let mut gearbox = Gearbox::new(gears.to_vec()).unwrap();
        gearbox.shift_s = 0.8;
        gearbox.drag_nm = 0.5;
        gearbox.drag_nm_per_radps = 0.002;
        let parts = Parts {
            chassis: Chassis {
                mass_kg: 900.0,
                wheelbase_m: 2.3,
                cg_behind_front_axle_m: 0.97,
                cg_height_m: 0.5,
                wheels_inertia_kg_m2: 2.0,
            },
            road_load: RoadLoad::Coefficients {
                drag_area_m2: 0.65,
                rolling: 0.011,
                rolling_per_mps: 5e-5,
                bearings_n: 0.0,
            },
            rolling_radius_m: 0.27,
            driven: DrivenAxle::Front,
            gearbox,
            motor: Motor {
                machine: Machine {
                    kind: Kind::Induction { magnetising_a: 60.0 },
                    envelope: Envelope::from_nameplate(110.0, 26_000.0, 15_000.0, 800.0, 100.0),
                    current_a_per_nm: 450.0 / 110.0,
                    peak_current_a: 450.0,
                },
                regen_share: 1.0,
                losses: Losses::from(Coefficients {
                    copper_w_per_a2: 0.02,
                    fixed_w: 30.0,
                    hysteresis_w_per_radps: 0.4,
                    eddy_w_per_radps2: 0.0005,
                    friction_nm: 0.2,
                    windage_w_per_radps3: 2e-7,
                }),
                loss_reference_k: 353.15,
                thermal: Thermal {
                    winding_j_per_k: 3500.0,
                    housing_j_per_k: 16_000.0,
                    winding_to_housing_w_per_k: 15.0,
                    cooling: Cooling::Air {
                        still_w_per_k: 3.0,
                        fan_w_per_k: 0.07,
                        road_w_per_k: 0.3,
                    },
                    thin_air: ThinAir::ByDensity,
                },
                derating: Derating { warning_k: 413.0, cut_off_k: 433.0 },
                rotor_inertia_kg_m2: 0.03,
                max_radps: 700.0,
            },
            controller: Controller {
                pack_current_a: 400.0,
                pack_regen_current_a: 200.0,
                motor_current_a: 500.0,
                min_v: 60.0,
                max_v: 130.0,
                fixed_loss_w: 30.0,
                loss_w_per_a: 0.8,
                loss_w_per_a2: 0.002,
                heat_capacity_j_per_k: 4000.0,
                cooling: Cooling::Air { still_w_per_k: 5.0, fan_w_per_k: 0.0, road_w_per_k: 1.0 },
                derating: Derating { warning_k: 350.0, cut_off_k: 370.0 },
            },
            pack: Pack {
                cell: Cell {
                    open_circuit_v: Curve::new(&[
                        (0.0, 2.8),
                        (0.1, 3.2),
                        (0.5, 3.29),
                        (0.9, 3.34),
                        (1.0, 3.45),
                    ])
                    .unwrap(),
                    resistance_ohm: Curve::new(&[(0.0, 0.002), (0.2, 0.001), (1.0, 0.001)])
                        .unwrap(),
                    resistance_factor: Curve::new(&[
                        (253.15, 5.0),
                        (273.15, 2.5),
                        (298.15, 1.0),
                        (323.15, 0.8),
                    ])
                    .unwrap(),
                    polarisation_ohm: 0.0006,
                    polarisation_s: 30.0,
                    capacity_as: 100.0 * 3600.0,
                    capacity_factor: Curve::constant(1.0),
                    mass_kg: 3.0,
                    min_v: 2.5,
                    max_v: 3.65,
                    discharge_a: 200.0,
                    discharge_peak_a: 500.0,
                    charge_a: 100.0,
                    charge_peak_a: 200.0,
                    peak_s: 30.0,
                    discharge_factor: Curve::constant(1.0),
                    charge_factor: Curve::new(&[(273.15, 0.0), (283.15, 1.0)]).unwrap(),
                },
                series: 32.0,
                parallel: 1.0,
                health: 1.0,
                resistance_growth: 1.0,
                capacity_spread: 0.02,
                resistance_spread: 0.1,
                min_charge: 0.1,
                max_charge: 1.0,
                harness_ohm: 0.005,
                heat_capacity_j_per_k: 96_000.0,
                conductance_w_per_k: 10.0,
                ..Pack::ideal(0.0, 0.0)
            },
            auxiliaries: Auxiliaries {
                low_voltage_w: 150.0,
                dc_dc_efficiency: 0.9,
                traction_w: 0.0,
                cabin: None,
            },
            braking: Braking {
                lift_off_nm: 15.0,
                brake_pedal_nm: 25.0,
                fade_out_mps: 1.4,
                full_above_mps: 4.0,
                friction_front_share: 0.65,
            },
            coolant: Coolant::of_small_car(),
        };
        let around =
            Surroundings { altitude_m: 0.0, air_k: WARM_K, head_wind_mps: 0.0, friction: 0.9 };
        Self { parts, around }
    }

    /// A car of one straight gear at one radian per metre, without a loss, a resistance or a limit:
    /// what a closed form speaks of. The pack is stiff at 100 V, the motor's reference.
    pub fn ideal_car() -> Self {
        let envelope = Envelope::from_nameplate(1e5, 1e9, 1e9, 1e6, 100.0);
        let nothing = RoadLoad::Coefficients {
            drag_area_m2: 0.0,
            rolling: 0.0,
            rolling_per_mps: 0.0,
            bearings_n: 0.0,
        };
        let light = Self::light_car();
        let chassis = Chassis { mass_kg: 1000.0, wheels_inertia_kg_m2: 0.0, ..light.parts.chassis };
        let parts = Parts {
            chassis,
            road_load: nothing,
            rolling_radius_m: 0.3,
            driven: DrivenAxle::Both,
            gearbox: one_gear(0.3, 1.0),
            motor: Motor::ideal(envelope, 1e5, 1e6),
            controller: Controller::ideal(),
            pack: Pack::ideal(100.0, 1e12),
            auxiliaries: Auxiliaries::low_voltage(0.0),
            braking: Braking::friction(0.65),
            coolant: Coolant::of_small_car(),
        };
        Self { parts, around: Surroundings { friction: 100.0, ..light.around } }
    }

    /// Changes the parts.
    pub fn with(mut self, change: impl FnOnce(&mut Parts)) -> Self {
        change(&mut self.parts);
        self
    }

    /// Changes the surroundings.
    pub fn around(mut self, change: impl FnOnce(&mut Surroundings)) -> Self {
        change(&mut self.around);
        self
    }

    /// The car.
    pub fn car(&self) -> Car {
        Car::new(self.parts.clone(), self.around)
    }

    /// What tyres and air take on the level in still, warm air, N, from the parts and not from the
    /// car: rolling `m·g·(c + k·v)` and air `½·ρ·CdA·v²`.
    pub fn level_road_n(&self, speed_mps: f64) -> f64 {
        let RoadLoad::Coefficients { drag_area_m2, rolling, rolling_per_mps, .. } =
            self.parts.road_load
        else {
            panic!("a road load of coefficients was expected");
        };
        let weight_n = self.parts.chassis.mass_kg * GRAVITY_MPS2;
        weight_n * (rolling + rolling_per_mps * speed_mps)
            + 0.5 * WARM_AIR_KG_PER_M3 * drag_area_m2 * speed_mps * speed_mps
    }

    /// A car parked at this charge, as warm as the air.
    pub fn parked(&self, charge: f64) -> State {
        State::parked(charge, self.around.air_k)
    }

    /// A car rolling at a speed, half charged, as warm as the air.
    pub fn rolling(&self, speed_mps: f64) -> State {
        State { speed_mps, ..self.parked(0.5) }
    }
}

/// One gear, of this ratio (final drive included) and efficiency.
pub fn one_gear(ratio: f64, efficiency: f64) -> Gearbox {
    Gearbox::new(vec![Gear { ratio, efficiency }]).unwrap()
}

/// Road load `A + C·v²` in N at 25 °C and sea level, for a car of this mass.
pub fn road_load(mass_kg: f64, a_n: f64, c_n_per_mps2: f64) -> RoadLoad {
    RoadLoad::Coefficients {
        drag_area_m2: 2.0 * c_n_per_mps2 / WARM_AIR_KG_PER_M3,
        rolling: a_n / (mass_kg * GRAVITY_MPS2),
        rolling_per_mps: 0.0,
        bearings_n: 0.0,
    }
}

/// What the car does at this instant.
pub fn act(car: &Car, state: &State, slope: Slope, gear: usize, request: Request) -> Flow {
    car.act(&car.now(state, 0.0), state.speed_mps, slope, gear, request)
}

/// A driver who shifts up at 450 and down at 200 rad/s.
pub fn shifting_driver() -> Driver {
    Driver { shifting: Shifting::Window { up_radps: 450.0, down_radps: 200.0 }, start_gear: 0 }
}

/// A driver who stays in one gear.
pub fn one_gear_driver(gear: usize) -> Driver {
    Driver { shifting: Shifting::Fixed(gear), start_gear: gear }
}

/// Stop and go at 1 s: bursts that pull away, hold a speed, brake and stand, harder from burst to
/// burst, with a slope that changes each half minute if `hilly`.
pub fn stop_and_go(top_mps: f64, bursts: usize, hilly: bool) -> Trace {
    let mut speeds = vec![0.0];
    for burst in 0..bursts {
        let hardness = (burst + 1) as f64 / bursts as f64;
        let target = top_mps * (0.4 + 0.6 * hardness);
        let mut speed = 0.0;
        while speed < target {
            speed = target.min(speed + 0.5 + 0.9 * hardness);
            speeds.push(speed);
        }
        for second in 0..25 {
            speeds.push(target * (1.0 + 0.05 * (f64::from(second) * 0.5).sin()));
        }
        let mut speed = target;
        while speed > 0.0 {
            speed = (speed - 0.8 - 1.2 * hardness).max(0.0);
            speeds.push(speed);
        }
        speeds.extend([0.0; 6]);
    }
    let times: Vec<f64> = (0..speeds.len()).map(|i| i as f64).collect();
    let grades = [0.0, 0.03, -0.02, 0.05, -0.06, 0.01];
    let slopes: Vec<f64> = (0..speeds.len() - 1)
        .map(|i| if hilly { grades[i / 30 % grades.len()] } else { 0.0 })
        .collect();
    Trace::new(&times, &speeds, &slopes).unwrap()
}

/// So many random cases, the same at every run.
pub fn cases(cases: u32) -> ProptestConfig {
    let rng_seed = RngSeed::Fixed(20_240_229);
    ProptestConfig { cases, rng_seed, failure_persistence: None, ..ProptestConfig::default() }
}

/// Fails with both numbers where they differ by more than `within`.
#[track_caller]
pub fn assert_near(found: f64, expected: f64, within: f64, what: &str) {
    let off = (found - expected).abs();
    assert!(
        off <= within,
        "{what}: found {found}, expected {expected}, off by {off:e} > {within:e}"
    );
}

/// Fails where the numbers differ by more than a share of the expected one.
#[track_caller]
pub fn assert_share(found: f64, expected: f64, share: f64, what: &str) {
    assert_near(found, expected, share * expected.abs(), what);
}
