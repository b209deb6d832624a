//! Latin hypercube samples: every input's range is cut into as many strips as there are samples,
//! and each strip is used once (McKay, Beckman and Conover, 1979, from memory).

/// A source of chance that gives the same numbers everywhere: SplitMix64 (Steele, Lea and Flood,
/// 2014, from memory).
#[derive(Debug, Clone)]
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// From 0 up to, but not including, 1.
    fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// A whole number below `n`; the bias is n/2⁶⁴.
    fn below(&mut self, n: usize) -> usize {
        ((u128::from(self.next()) * n as u128) >> 64) as usize
    }
}

/// Samples of `inputs` inputs, each from 0 to 1: a list of values for every input.
///
/// The seed alone decides, and an input keeps its values when inputs are added after it.
pub fn samples(count: usize, inputs: usize, seed: u64) -> Vec<Vec<f64>> {
    let mut seeds = Chance(seed);
    (0..inputs)
        .map(|_| {
            let mut chance = Chance(seeds.next());
            let mut strips: Vec<usize> = (0..count).collect();
            for i in (1..count).rev() {
                strips.swap(i, chance.below(i + 1));
            }
            strips.into_iter().map(|s| (s as f64 + chance.share()) / count as f64).collect()
        })
        .collect()
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

    #[test]
    fn follows_the_published_sequence_of_its_source() {
        // First outputs of SplitMix64 for the seed 1234567 (Rosetta Code, from memory).
        let mut chance = Chance(1_234_567);
        assert_eq!(chance.next(), 6_457_827_717_110_365_317);
        assert_eq!(chance.next(), 3_203_168_211_198_807_973);
    }

    #[test]
    fn the_seed_decides_and_inputs_are_independent() {
        assert_eq!(samples(50, 3, 1), samples(50, 3, 1));
        assert_ne!(samples(50, 3, 1), samples(50, 3, 2));
        assert_eq!(samples(50, 3, 1), samples(50, 5, 1)[..3]);
        let drawn = samples(1000, 2, 3);
        let pairs = drawn[0].iter().zip(&drawn[1]);
        let covariance: f64 = pairs.map(|(a, b)| (a - 0.5) * (b - 0.5)).sum::<f64>() / 1000.0;
        // Of independent inputs it is zero, with a standard error of 1/12/√1000.
        assert!(covariance.abs() < 3.0 / 12.0 / 1000f64.sqrt(), "{covariance}");
    }
}
