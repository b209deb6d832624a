//! Random builds that are accepted, through every run.

#![no_main]

use arbitrary::Unstructured;
use libfuzzer_sys::fuzz_target;

/// A run takes no longer, s of the processor; the studies over many cars are not among them. What
/// checks itself is given four times what the program is.
const LONGEST_S: f64 = 40.0;

fuzz_target!(|data: &[u8]| {
    let mut u = Unstructured::new(data);
    let Ok(Some((car, sets))) = shakedown_fuzz::car(&mut u) else { return };
    let from_s = shakedown_fuzz::processor_s();
    let _ = shakedown_fuzz::run(&mut u, &car);
    let took_s = shakedown_fuzz::processor_s() - from_s;
    assert!(took_s < LONGEST_S, "{took_s} s: {sets:?}");
});
