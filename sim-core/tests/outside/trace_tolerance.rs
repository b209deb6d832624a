//! Which speeds keep to a trace: 40 CFR 86.115, within 2 mph of the lowest and highest speed of the
//! trace within a second.

use sim_core::Trace;

const TWO_MPH_MPS: f64 = 2.0 * 0.447_04;

/// A spike of 10 m/s at 2 s in a trace of 4 m/s, told twice a second, belongs to the band of every
/// instant from 1 s to 3 s, and of none beyond.
#[test]
fn a_spike_belongs_to_the_second_around_it() {
    let times: Vec<f64> = (0..=10).map(|i| 0.5 * f64::from(i)).collect();
    let mut speeds = [4.0; 11];
    speeds[4] = 10.0;
    let trace = Trace::new(&times, &speeds, &[0.0; 10]).unwrap();
    for (i, stretch) in trace.stretches().iter().enumerate() {
        let at_s = 0.5 * (i + 1) as f64;
        let highest = if (1.0..=3.0).contains(&at_s) { 10.0 } else { 4.0 };
        assert!((stretch.high_mps - highest - TWO_MPH_MPS).abs() < 1e-9, "{at_s} s: {stretch:?}");
        assert!((stretch.low_mps - 4.0 + TWO_MPH_MPS).abs() < 1e-9, "{at_s} s: {stretch:?}");
    }
}
