//! What is told of a car for a kilometre, for thirty minutes and continuously goes together, and with
//! a run at full throttle.

use crate::bench;
use crate::quickest::cars;

use bench::Bench;
use proptest::prelude::*;
use sim_core::car::Slope;
use sim_core::pieces::Tolerance;
use sim_core::pull::{Course, Plan, pull, top_speed, top_speed_of_all};
use sim_core::steady::{highest_continuous_speed, thirty_minute_power, thirty_minute_speed};

/// The highest over the gears, m/s; 0 for none.
fn best(bench: &Bench, of: impl Fn(usize) -> Option<f64>) -> f64 {
    (0..bench.car().gears()).filter_map(of).fold(0.0, f64::max)
}

/// 30-minute speed, continuous speed, both in m/s, and 30-minute power, W.
fn ratings(bench: &Bench) -> [f64; 3] {
    let (car, start) = (bench.car(), bench.parked(0.9));
    let speed = |found: Option<(f64, sim_core::Limit)>| found.map(|(mps, _)| mps);
    [
        best(bench, |gear| speed(thirty_minute_speed(&car, &start, gear))),
        best(bench, |gear| speed(highest_continuous_speed(&car, &start, Slope::LEVEL, gear))),
        thirty_minute_power(&car, &start).map_or(0.0, |found| found.power_w),
    ]
}

proptest! {
    #![proptest_config(bench::cases(16))]

    /// The top speed of a gear is attained by the run through the adaptive solver.
    #[test]
    fn full_throttle_attains_the_top_speed(bench in cars(), gear in 0..4usize, grade in 0.0..0.05f64) {
        let (car, start) = (bench.car(), bench.parked(0.9));
        let slope = Slope::from_grade(grade);
        let top_mps = top_speed(&car, &start, slope, gear).speed_mps;
        // A gear that does not pull away is begun rolling.
        prop_assume!(top_mps > 0.0);
        let still = car.act(&car.now(&start, 0.0), 0.0, slope, gear, sim_core::Request::FullThrottle);
        prop_assume!(still.acceleration_mps2 > 0.02);
        let speeds_mps = vec![0.997 * top_mps];
        let plan = Plan::in_gear(gear);
        let course = Course { plan, slope, speeds_mps, distances_m: vec![], most_s: 900.0 };
        let run = pull(&car, &start, &course, &Tolerance::default(), &mut ()).unwrap();
        prop_assert!(run.at_speeds[0].is_some(), "{top_mps} m/s, but {}", run.end.state.speed_mps);
    }

    /// What is held for thirty minutes is held for a kilometre, and no motor gives more than it has.
    #[test]
    fn thirty_minutes_ask_no_more_than_a_kilometre(bench in cars()) {
        let (car, start) = (bench.car(), bench.parked(0.9));
        let top_mps = top_speed_of_all(&car, &start, Slope::LEVEL).speed_mps;
        let [thirty_mps, ..] = ratings(&bench);
        prop_assert!(thirty_mps <= top_mps * 1.005, "{thirty_mps} m/s, top speed {top_mps} m/s");
        if let Some(found) = thirty_minute_power(&car, &start) {
            let volts = car.now(&start, 0.0).pack.emf_v;
            let most_w = bench.parts.motor.machine.envelope.peak_nm(found.radps, volts) * found.radps;
            prop_assert!(found.power_w <= most_w, "{} W of {most_w} W", found.power_w);
        }
    }

    /// A motor that is cut back sooner and a controller of less current never give more.
    #[test]
    fn a_tighter_limit_never_gives_more(bench in cars(), share in 0.6..1.0f64, sooner_k in 0.0..40.0f64) {
        let tighter = bench.clone().with(|p| {
            p.motor.derating.warning_k -= sooner_k;
            p.motor.derating.cut_off_k -= sooner_k;
            p.controller.motor_current_a *= share;
            p.controller.pack_current_a *= share;
        });
        for (tight, wide) in ratings(&tighter).into_iter().zip(ratings(&bench)) {
            prop_assert!(tight <= wide * 1.002, "{tight} against {wide}");
        }
    }
}
