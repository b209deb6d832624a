//! Latin hypercube samples: every input's range is cut into as many strips as there are samples,
//! and each strip is used once (McKay, Beckman and Conover, 1979, from memory).

use rand_xoshiro::SplitMix64;
use rand_xoshiro::rand_core::{Rng, SeedableRng};

/// From 0 up to, but not including, 1.
fn share(chance: &mut SplitMix64) -> f64 {
    (chance.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
}

/// A whole number below `n`; the bias is n/2⁶⁴.
fn below(chance: &mut SplitMix64, n: usize) -> usize {
    ((u128::from(chance.next_u64()) * n as u128) >> 64) as usize
}

/// Samples of `inputs` inputs, each from 0 to 1: a list of values for every input.
///
/// The seed alone decides, and an input keeps its values when inputs are added after it.
pub fn samples(count: usize, inputs: usize, seed: u64) -> Vec<Vec<f64>> {
    let mut seeds = SplitMix64::seed_from_u64(seed);
    (0..inputs).map(|_| one(count, seeds.next_u64())).collect()
}

/// Samples of an input that is known by its name, from 0 to 1: the same for cars that have other
/// inputs besides, so that chance is the same for all of them.
pub fn named(count: usize, name: &str, seed: u64) -> Vec<f64> {
    // FNV-1a, 64 bits (Fowler, Noll and Vo).
    let hash = name.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    });
    one(count, SplitMix64::seed_from_u64(seed).next_u64() ^ hash)
}

/// Samples of one input.
fn one(count: usize, seed: u64) -> Vec<f64> {
    let mut chance = SplitMix64::seed_from_u64(seed);
    let mut strips: Vec<usize> = (0..count).collect();
    for i in (1..count).rev() {
        strips.swap(i, below(&mut chance, i + 1));
    }
    strips.into_iter().map(|s| (s as f64 + share(&mut chance)) / count as f64).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn uses_every_strip_of_every_input_once() {
        for (count, inputs) in [(1, 3), (10, 5), (1000, 20)] {
            for values in samples(count, inputs, 7) {
                let mut strips: Vec<usize> =
                    values.iter().map(|v| (v * count as f64) as usize).collect();
                strips.sort_unstable();
                assert_eq!(strips, (0..count).collect::<Vec<_>>());
            }
        }
    }

    fn seed_of(seed: u64) -> u64 {
        SplitMix64::seed_from_u64(seed).next_u64()
    }

    #[test]
    fn the_seed_decides_and_inputs_are_independent() {
        assert_eq!(samples(50, 3, 1), samples(50, 3, 1));
        assert_ne!(samples(50, 3, 1), samples(50, 3, 2));
        assert_eq!(samples(50, 3, 1), samples(50, 5, 1)[..3]);
        // FNV-1a of "a" is 0xaf63dc4c8601ec8c (test vectors of its authors, from memory).
        assert_eq!(named(9, "a", 4), one(9, seed_of(4) ^ 0xaf63_dc4c_8601_ec8c));
        for [a, b] in [
            [samples(1000, 2, 3)[0].clone(), samples(1000, 2, 3)[1].clone()],
            [named(1000, "motor", 3), named(1000, "motors", 3)],
        ] {
            let pairs = a.iter().zip(&b);
            let covariance: f64 = pairs.map(|(a, b)| (a - 0.5) * (b - 0.5)).sum::<f64>() / 1000.0;
            // Of independent inputs it is zero, with a standard error of 1/12/√1000.
            assert!(covariance.abs() < 3.0 / 12.0 / 1000f64.sqrt(), "{covariance}");
        }
    }
}
