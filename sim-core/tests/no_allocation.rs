//! The stepping loop takes nothing from the heap: the allocations of a drive are counted by the
//! global allocator of `allocation-counter`.

mod bench;

use bench::{Bench, one_gear_driver, shifting_driver, stop_and_go};
use sim_core::driver::{Driver, Shifting};
use sim_core::follow::{Moment, follow};
use sim_core::motor::Kind;
use sim_core::windows::{Dose, Windows};
use sim_core::{Along, Limit, State};

/// The counter counts: a vector is one allocation.
#[test]
fn the_counter_sees_an_allocation() {
    let info = allocation_counter::measure(|| drop(std::hint::black_box(vec![1_u8; 4096])));
    assert_eq!(info.count_total, 1);
}

/// An observer of currents neither, however long a run lasts and however short its steps are.
#[test]
fn windows_allocate_nothing_after_they_were_made() {
    let mut windows = Windows::default();
    let info = allocation_counter::measure(|| {
        for i in 0..400_000_u32 {
            let for_s = [0.001, 0.0501, 0.3, 1.0][(i / 50_000) as usize % 4];
            windows.see(Dose::held(for_s, f64::from(i % 300)));
        }
    });
    assert_eq!(info.count_total, 0, "{info:?}");
    assert!(windows.end().lasted_s > 1e5);
}

#[test]
fn a_drive_allocates_nothing_whatever_happens_in_it() {
    let weak = Bench::light_car().with(|p| p.controller.pack_current_a = 90.0);
    let slippery = Bench::light_car().around(|a| a.friction = 0.1);
    let series = Bench::light_car()
        .with(|p| p.motor.machine.kind = Kind::SeriesDc { saturation_a: 200.0, brush_v: 2.0 });
    let rows = vec![vec![0.75, 0.85], vec![0.85, 0.9]];
    let point = |torque_nm, radps| {
        let (current_a, flux) = (4.0 * torque_nm, 1.0);
        sim_core::motor::OperatingPoint { torque_nm, radps, current_a, flux }
    };
    let map = sim_core::motor::LossMap::new(&[100.0, 400.0], &[20.0, 80.0], &rows, point);
    let mapped =
        Bench::light_car().with(|p| p.motor.losses = sim_core::motor::Losses::from(map.unwrap()));
    let trace = stop_and_go(22.0, 6, true);
    let drivers = [
        shifting_driver(),
        one_gear_driver(1),
        Driver { shifting: Shifting::Efficient, start_gear: 0 },
        Driver { shifting: Shifting::Quick, start_gear: 0 },
    ];
    let mut limits = [0.0; Limit::COUNT];
    for bench in [Bench::light_car(), weak, slippery, series, mapped] {
        let car = bench.car();
        for driver in drivers {
            for step_s in [1.0, 0.1] {
                let start = State { charge: 0.9, ..bench.parked(0.9) };
                let mut moments = 0;
                let mut count = |_: &Moment<'_>| moments += 1;
                let mut drive = None;
                let info = allocation_counter::measure(|| {
                    drive = Some(follow(&car, &trace, &driver, &start, 0, step_s, &mut count));
                });
                let drive = drive.unwrap();
                assert!(moments > 250, "only {moments} steps");
                assert_eq!(info.count_total, 0, "{info:?} in {:?}", driver.shifting);
                for (sum, s) in limits.iter_mut().zip(drive.limited_s) {
                    *sum += s;
                }
            }
        }
    }
    // Weather along the road is carried by a car of its own, made once.
    let car = Bench::light_car().car();
    let counts = [10, 200].map(|changes| {
        let along = |i: u32| {
            (f64::from(i), Along { air_k: Some(270.0 + f64::from(i % 9)), ..Along::default() })
        };
        let windy = trace.clone().through(&(0..changes).map(along).collect::<Vec<_>>()).unwrap();
        let start = Bench::light_car().parked(0.9);
        let run = || {
            let drive = follow(&car, &windy, &drivers[0], &start, 0, 1.0, &mut ());
            assert!(drive.distance_m > 0.0);
        };
        allocation_counter::measure(run).count_total
    });
    assert!(counts[0] == counts[1] && counts[0] < 100, "{counts:?}");
    // The drives went through the searches for limits, of which one might have allocated.
    assert!(limits.iter().filter(|s| **s > 0.0).count() >= 3, "{limits:?}");
}
