//! Where heat goes: into the coolant and through its radiator, and into air that is thinner uphill.

use crate::bench;

use bench::{Bench, act, assert_near, assert_share, one_gear, shifting_driver, stop_and_go};
use sim_core::air::convection_share;
use sim_core::car::{Car, Request, Slope};
use sim_core::charging::park;
use sim_core::cooling::{Conductance, Coolant, Cooling, Wind};
use sim_core::follow::{Moment, follow};
use sim_core::heat::{Heat, Node, PerNode};
use sim_core::ledger::Account;
use sim_core::motor::{Rating, Stand, ThermalSheet};
use sim_core::road_load::rolling_temperature_factor;
use sim_core::steady::equilibrium;
use sim_core::{Flow, State};

const RATED_COOLANT_K: f64 = 328.15;

fn liquid(conductance_w_per_k: f64) -> Cooling {
    Cooling::Liquid { conductance_w_per_k, rated_coolant_k: RATED_COOLANT_K }
}

/// The light car with motor and controller in one coolant.
fn liquid_cooled() -> Bench {
    Bench::light_car().with(|p| {
        p.motor.thermal.cooling = liquid(80.0);
        p.controller.cooling = liquid(60.0);
    })
}

/// A car that has stood at −5 °C is at −5 °C, wherever its heat used to go: nothing in it keeps a
/// temperature of its own (zeroth law). One that was parked hot comes there: motor, controller and
/// coolant hold 3.5 + 16 + 4 + 17 = 40.5 kJ/K on 10 W/K without fan, so ten hours are nine time
/// constants.
#[test]
fn a_car_parked_for_ten_hours_at_minus_5_is_at_minus_5_everywhere() {
    let air_k = 268.15;
    let bench = liquid_cooled().around(|a| a.air_k = air_k);
    let car = bench.car();
    let cold = park(&car, &bench.parked(0.5), 36_000.0);
    for k in cold.temperature_k.iter() {
        assert_near(*k, air_k, 1e-9, "a part of a car that stood in the cold");
    }
    let mut hot = bench.parked(0.5);
    for node in [Node::Winding, Node::Housing, Node::Sink, Node::Coolant] {
        hot = hot.warmed(node, RATED_COOLANT_K);
    }
    let parked = park(&car, &hot, 36_000.0);
    for node in [Node::Winding, Node::Housing, Node::Sink, Node::Coolant] {
        assert_near(parked.temperature_k[node], air_k, 0.02, &format!("{node:?} parked hot"));
    }
}

/// `T = T_air + P/G` with `G = g0 + g_fan + g_road·v^0.8`, and each part above the coolant by its own
/// `P/G`.
#[test]
fn the_coolant_settles_where_its_radiator_gives_off_what_the_parts_give_it() {
    let bench = liquid_cooled();
    let car = bench.car();
    let into_w = PerNode::of(|node| match node {
        Node::Winding => 900.0,
        Node::Housing => 400.0,
        Node::Sink => 500.0,
        _ => 0.0,
    });
    let still = act(&car, &bench.parked(0.5), Slope::LEVEL, 0, Request::Accelerate(0.0));
    for speed_mps in [0.0, 8.0, 30.0] {
        let wind = Wind { road_08: f64::powf(speed_mps, 0.8), fan: 1.0, ..Wind::default() };
        let flow = Flow { heat: Heat { into_w, wind }, ..still };
        let mut state = bench.parked(0.5);
        for _ in 0..20_000 {
            car.warm(&mut state, &flow, 10.0);
        }
        let coolant_k = bench::WARM_K + 1800.0 / (160.0 + 10.5 * wind.road_08);
        let k = |node: Node| state.temperature_k[node];
        assert_near(k(Node::Coolant), coolant_k, 1e-6, "coolant");
        assert_near(k(Node::Sink), coolant_k + 500.0 / 60.0, 1e-6, "sink");
        assert_near(k(Node::Housing), coolant_k + 1300.0 / 80.0, 1e-6, "housing");
        assert_near(k(Node::Winding), k(Node::Housing) + 900.0 / 15.0, 1e-6, "winding");
    }
}

/// The first law over a drive: what the accounts say was lost in motor and controller warmed them
/// and the coolant, or has left through the radiator.
#[test]
fn losses_of_liquid_cooled_parts_are_in_them_or_left_through_the_radiator() {
    let bench = liquid_cooled();
    let mut lost_j = 0.0;
    let mut before = bench.parked(0.8);
    let mut sum = |m: &Moment<'_>| {
        let speed = (m.state.distance_m - before.distance_m) / m.step_s;
        let mean_k =
            0.5 * (before.temperature_k[Node::Coolant] + m.state.temperature_k[Node::Coolant]);
        lost_j += (160.0 + 10.5 * speed.powf(0.8)) * (mean_k - bench::WARM_K) * m.step_s;
        before = *m.state;
    };
    let start = bench.parked(0.8);
    let trace = stop_and_go(20.0, 4, false);
    let found = follow(&bench.car(), &trace, &shifting_driver(), &start, 0, 1.0, &mut sum);
    let t = &bench.parts.motor.thermal;
    let stored = [
        (Node::Winding, t.winding_j_per_k),
        (Node::Housing, t.housing_j_per_k),
        (Node::Sink, 4000.0),
        (Node::Coolant, 17_000.0),
    ];
    let stored_j: f64 = stored
        .iter()
        .map(|(node, j_per_k)| j_per_k * (found.end.temperature_k[*node] - bench::WARM_K))
        .sum();
    let accounts = [Account::Copper, Account::Iron, Account::Windage, Account::Controller];
    let booked_j: f64 = accounts.iter().map(|account| found.ledger[*account]).sum();
    assert!(lost_j > 0.02 * booked_j, "the radiator carried off {lost_j} of {booked_j} J");
    assert_share(stored_j + lost_j, booked_j, 1e-9, "heat of the liquid-cooled parts");
}

/// 40 °C, the ambient of ratings (IEC 60034-1, from memory).
const AMBIENT_K: f64 = 313.15;
const RADPS: f64 = 300.0;
const TORQUE_NM: f64 = 25.0;

/// A motor on its stand at the load for which it is rated, in air of a temperature and altitude.
fn stand(sheet: &ThermalSheet, coolant: Coolant, air_k: f64, altitude_m: f64) -> (Car, State) {
    let mut motor = Bench::light_car().parts.motor;
    motor.derating = sim_core::controller::Derating { warning_k: 900.0, cut_off_k: 1000.0 };
    let (machine, losses, loss_reference_k) =
        (&motor.machine, &motor.losses, motor.loss_reference_k);
    let rated = Stand { machine, losses, loss_reference_k, sheet: *sheet }.thermal().unwrap();
    motor.thermal = rated;
    let bench = Bench::ideal_car()
        .with(|p| {
            p.gearbox = one_gear(3.0, 1.0);
            let rolling_n =
                TORQUE_NM * 3.0 / p.rolling_radius_m / rolling_temperature_factor(air_k);
            p.road_load = bench::road_load(p.chassis.mass_kg, rolling_n, 0.0);
            p.motor = motor;
            p.coolant = coolant;
        })
        .around(|a| (a.air_k, a.altitude_m) = (air_k, altitude_m));
    (bench.car(), bench.parked(0.5))
}

fn sheet(settles_k: f64, coolant_k: Option<f64>) -> ThermalSheet {
    ThermalSheet {
        continuous: Rating { torque_nm: TORQUE_NM, radps: RADPS },
        settles_k,
        ambient_k: coolant_k.unwrap_or(AMBIENT_K),
        volts: 100.0,
        mass_kg: 45.0,
        specific_heat_j_per_kg_k: 480.0,
        winding_share: 0.4,
        still_share: 0.3,
        road_air_share: 0.0,
        coolant_k,
    }
}

fn settled((car, start): &(Car, State)) -> (PerNode<f64>, Flow) {
    let found = equilibrium(car, start, Slope::LEVEL, RADPS * 0.1, 0).expect("settles");
    (found.state.temperature_k, found.flow)
}

/// At the rated load, with a radiator whose fan carries just that heat off between the rated coolant
/// and air of 40 °C, the coolant is at its rated temperature and the winding where the rating has
/// it: duty type S1 of IEC 60034-1 behind a coolant that nobody holds.
#[test]
fn at_the_rated_load_and_airflow_coolant_and_winding_are_as_rated() {
    let sheet = sheet(418.15, Some(RATED_COOLANT_K));
    let lukewarm = Coolant { radiator: Conductance::steady(1e9), ..Coolant::of_small_car() };
    let (_, flow) = settled(&stand(&sheet, lukewarm, RATED_COOLANT_K, 0.0));
    let heat_w: f64 =
        [Account::Copper, Account::Iron, Account::Windage].iter().map(|a| flow.powers[*a]).sum();
    let fan = heat_w / (RATED_COOLANT_K - AMBIENT_K);
    let radiator = Conductance { fan, ..Conductance::default() };
    let rated = stand(&sheet, Coolant { radiator, ..Coolant::of_small_car() }, AMBIENT_K, 0.0);
    let (found_k, _) = settled(&rated);
    assert_near(found_k[Node::Coolant], RATED_COOLANT_K, 0.01, "coolant");
    assert_near(found_k[Node::Winding], 418.15, 0.01, "winding");
}

/// IEC 60034-1, table of assumed ambient temperatures (from memory), °C, by altitude in m, for a
/// limit of rise of 80 K (class B), 105 K (F) and 125 K (H): with the air that much cooler, the
/// rated load may be carried.
const ASSUMED_AIR_C: [(f64, [f64; 3]); 4] = [
    (1000.0, [40.0, 40.0, 40.0]),
    (2000.0, [32.0, 30.0, 28.0]),
    (3000.0, [24.0, 19.0, 15.0]),
    (4000.0, [16.0, 9.0, 3.0]),
];

/// The table is rounded to a kelvin.
#[test]
fn a_rated_load_uphill_settles_as_at_sea_level_in_air_of_the_standards_table() {
    for (altitude_m, airs_c) in ASSUMED_AIR_C {
        for (rise_k, air_c) in [80.0, 105.0, 125.0].into_iter().zip(airs_c) {
            let sheet = sheet(AMBIENT_K + rise_k, None);
            let coolant = Coolant::of_small_car();
            let (found_k, _) = settled(&stand(&sheet, coolant, air_c + 273.15, altitude_m));
            let what = format!("winding at {altitude_m} m, limit of rise {rise_k} K");
            assert_near(found_k[Node::Winding], AMBIENT_K + rise_k, 1.0, &what);
        }
    }
}

/// Forced convection, Nu ∝ Re^0.8 (Incropera & DeWitt, from memory), in air of the standard
/// atmosphere: 54 020 Pa of 101 325 Pa at 5000 m (ISO 2533, from memory). What a radiator carries
/// off by fan and road air falls by that; what still air and radiation do stays.
#[test]
fn moved_air_cools_less_where_it_is_thin() {
    let share = f64::powf(54_020.0 / 101_325.0, 0.8);
    assert_share(convection_share(5000.0), share, 1e-3, "share left at 5000 m");
    let rise_k = |altitude_m: f64, radiator: Conductance| {
        let bench = liquid_cooled()
            .with(|p| p.coolant.radiator = radiator)
            .around(|a| a.altitude_m = altitude_m);
        let car = bench.car();
        let into_w = PerNode::of(|node| if node == Node::Coolant { 1000.0 } else { 0.0 });
        let wind = Wind { road_08: 10.0, fan: 1.0, shaft_08: 0.0 };
        let still = act(&car, &bench.parked(0.5), Slope::LEVEL, 0, Request::Accelerate(0.0));
        let flow = Flow { heat: Heat { into_w, wind }, ..still };
        let mut state = bench.parked(0.5);
        for _ in 0..20_000 {
            car.warm(&mut state, &flow, 10.0);
        }
        state.temperature_k[Node::Coolant] - bench::WARM_K
    };
    let moved = Conductance { fan: 100.0, road: 10.0, ..Conductance::default() };
    let thinner = rise_k(0.0, moved) / rise_k(5000.0, moved);
    assert_share(thinner, share, 1e-3, "fan and road air at 5000 m");
    let still = Conductance::steady(100.0);
    assert_share(rise_k(0.0, still), rise_k(5000.0, still), 1e-9, "still air at 5000 m");
}
