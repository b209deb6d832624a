use sim_core::auxiliaries::*;
use sim_core::brakes::*;
use sim_core::car::*;
use sim_core::cell::*;
use sim_core::controller::*;
use sim_core::driver::*;
use sim_core::follow::*;
use sim_core::gearbox::*;
use sim_core::motor::*;
use sim_core::pack::*;
use sim_core::*;
fn main() {
    let chassis = mass::Chassis::load(900.0, 0.58, 2.3, 0.5, 2.0, &[]);
    let mut gb = Gearbox::new(
        [3.5, 2.0, 1.3, 0.95].iter().map(|r| Gear { ratio: r * 4.1, efficiency: 0.95 }).collect(),
    )
    .unwrap();
    gb.shift_s = 0.8;
    gb.drag_nm = 0.5;
    gb.drag_nm_per_radps = 0.002;
    let mut m = Motor {
        kind: Kind::Induction { magnetising_a: 60.0 },
        envelope: Envelope::from_nameplate(110.0, 26000.0, 15000.0, 800.0, 96.0),
        current_a_per_nm: 450.0 / 110.0,
        peak_current_a: 450.0,
        regen_share: 1.0,
        losses: Losses::Coefficients(Coefficients {
            copper_w_per_a2: 0.02,
            fixed_w: 30.0,
            hysteresis_w_per_radps: 0.4,
            eddy_w_per_radps2: 0.0005,
            friction_nm: 0.2,
            windage_w_per_radps3: 2e-7,
        }),
        loss_reference_k: 353.15,
        thermal: Thermal {
            winding_j_per_k: 1.,
            housing_j_per_k: 1.,
            winding_to_housing_w_per_k: 1.,
            cooling: Cooling::Liquid { conductance_w_per_k: 1., coolant_k: 300. },
        },
        derating: Derating { warning_k: 413., cut_off_k: 433. },
        rotor_inertia_kg_m2: 0.03,
        max_radps: 700.0,
    };
    let sh = ThermalSheet {
        continuous: Rating { torque_nm: 7500.0 / 300.0, radps: 300.0 },
        short: Some(ShortRating {
            rating: Rating { torque_nm: 10500.0 / 300.0, radps: 300.0 },
            for_s: 3600.0,
        }),
        class_k: 428.15,
        ambient_k: 313.15,
        volts: 96.0,
        mass_kg: 45.0,
        winding_share: 0.4,
        still_share: 0.3,
        road_air_share: 0.5,
        coolant_k: None,
    };
    match identify(&m, &sh) {
        Ok(t) => {
            println!("{t:?}");
            m.thermal = t
        }
        Err(e) => println!("{e}"),
    };
    let c = Controller {
        pack_current_a: 400.,
        pack_regen_current_a: 200.,
        motor_current_a: 500.,
        min_v: 60.,
        max_v: 130.,
        fixed_loss_w: 30.,
        loss_w_per_a: 0.8,
        loss_w_per_a2: 0.002,
        heat_capacity_j_per_k: 4000.,
        cooling: Cooling::Air { still_w_per_k: 5., fan_w_per_k: 0., road_w_per_k: 1. },
        derating: Derating { warning_k: 350., cut_off_k: 370. },
    };
    let cell = Cell {
        open_circuit_v: Curve::new(&[(0., 2.8), (0.1, 3.2), (0.5, 3.29), (0.9, 3.34), (1., 3.45)])
            .unwrap(),
        resistance_ohm: Curve::new(&[(0., 0.002), (0.2, 0.001), (1., 0.001)]).unwrap(),
        resistance_factor: Curve::new(&[(253., 5.), (273., 2.5), (298.15, 1.), (320., 0.8)])
            .unwrap(),
        polarisation_ohm: 0.0006,
        polarisation_s: 30.,
        capacity_as: 100. * 3600.,
        capacity_factor: Curve::constant(1.),
        mass_kg: 3.,
        min_v: 2.5,
        max_v: 3.65,
        discharge_a: 200.,
        discharge_peak_a: 500.,
        charge_a: 100.,
        charge_peak_a: 200.,
        peak_s: 30.,
        discharge_factor: Curve::constant(1.),
        charge_factor: Curve::new(&[(273., 0.), (283., 1.)]).unwrap(),
    };
    let p = Pack {
        cell,
        series: 32.,
        parallel: 1.,
        health: 1.,
        resistance_growth: 1.,
        capacity_spread: 0.02,
        resistance_spread: 0.1,
        min_charge: 0.1,
        max_charge: 1.,
        harness_ohm: 0.005,
        heat_capacity_j_per_k: 96000.,
        conductance_w_per_k: 10.,
    };
    let parts = Parts {
        chassis,
        road_load: road_load::RoadLoad::Coefficients {
            drag_area_m2: 0.65,
            rolling: 0.011,
            rolling_per_mps: 5e-5,
        },
        rolling_radius_m: 0.27,
        driven: tyre::DrivenAxle::Front,
        gearbox: gb,
        motor: m,
        controller: c,
        pack: p,
        auxiliaries: Auxiliaries {
            low_voltage_w: 150.,
            dc_dc_efficiency: 0.9,
            traction_w: 0.,
            cabin: None,
        },
        braking: Braking {
            lift_off_nm: 15.,
            brake_pedal_nm: 25.,
            fade_out_mps: 1.4,
            full_above_mps: 4.,
            friction_front_share: 0.65,
        },
    };
    let car = Car::new(
        parts,
        Surroundings { altitude_m: 0., air_k: 298.15, head_wind_mps: 0., friction: 0.9 },
    );
    let f = std::env::args().nth(1).unwrap();
    let k: f64 = std::env::args().nth(2).unwrap().parse().unwrap();
    let txt = std::fs::read_to_string(f).unwrap();
    let v: Vec<f64> = txt
        .lines()
        .filter(|l| l.starts_with(|c: char| c.is_ascii_digit()))
        .map(|l| l.split(',').nth(1).unwrap().parse::<f64>().unwrap() * k)
        .collect();
    let t: Vec<f64> = (0..v.len()).map(|i| i as f64).collect();
    let tr = Trace::new(&t, &v, &vec![0.0; v.len() - 1]).unwrap();
    let d =
        Driver { shifting: Shifting::Window { up_radps: 450., down_radps: 200. }, start_gear: 0 };
    let s = State::parked(0.9, 298.15);
    for h in [1.0, 0.5, 0.25, 0.1, 0.01, 0.005] {
        let r = follow(&car, &tr, &d, &s, 0, h, &mut ());
        println!(
            "h {h}: term {:.3} Wh regen {:.2} dist {:.2} res {:.1e} wind {:.3} house {:.3} sink {:.3} cell {:.3} shifts {} lag {:.2} out {} lim {:?}",
            r.terminal_j / 3600.,
            r.regen_j / 3600.,
            r.distance_m,
            r.ledger.residual_share(),
            r.end.winding_k,
            r.end.housing_k,
            r.end.sink_k,
            r.end.cells_k,
            r.shifts,
            r.largest_lag_mps,
            r.outside_s,
            Limit::ALL
                .iter()
                .filter(|l| r.limited_s[**l as usize] > 0.)
                .map(|l| (l, r.limited_s[*l as usize]))
                .collect::<Vec<_>>()
        );
        if h == 1.0 {
            println!("{:?} {:?}", r.ending, r.ledger);
        }
    }
    let n = 2000;
    let t0 = std::time::Instant::now();
    let mut x = 0.;
    for i in 0..n {
        let s = State::parked(0.9 + 1e-6 * i as f64, 298.15);
        x += follow(&car, &tr, &d, &s, 0, 1.0, &mut ()).terminal_j;
    }
    let e = t0.elapsed().as_secs_f64();
    println!(
        "{:.1} us/run {:.1} ns/step {x}",
        e / n as f64 * 1e6,
        e / n as f64 / v.len() as f64 * 1e9
    );
}
