//! Random builds that are accepted, through every run.

#![no_main]

use arbitrary::Unstructured;
use libfuzzer_sys::fuzz_target;
use std::time::Instant;

/// A run takes no longer, s; the studies over many cars are not among them. A checked build on a busy
/// machine is given five times what the program is.
const LONGEST_S: f64 = 50.0;

fuzz_target!(|data: &[u8]| {
    let mut u = Unstructured::new(data);
    let Ok(Some((car, sets))) = shakedown_fuzz::car(&mut u) else { return };
    let start = Instant::now();
    let _ = shakedown_fuzz::run(&mut u, &car);
    let took_s = start.elapsed().as_secs_f64();
    assert!(took_s < LONGEST_S, "{took_s} s: {sets:?}");
});
