//! A car that stands, though its receiver shows it creeping.

use crate::channel::Channel;
use crate::signal::Signal;
use crate::units;

/// What a receiver shows of a car that stands is below this, m/s (2 km/h; common practice, no source).
const CREEPING_MPS: f64 = 0.56;
/// For how long at least, s.
const LEAST_S: f64 = 3.0;
/// What is shown from here on is worth a word, m/s (0.5 km/h).
const WORTH_MPS: f64 = 0.14;

/// Speeds of zero where a car stands: below 2 km/h for 3 s, and not at the even pace of one that
/// creeps. What leads up to the stand and away from it, above the middle of what is shown, stays.
pub(crate) fn still(time_s: &[f64], channels: &mut [Channel]) -> Option<String> {
    let channel = channels.iter_mut().find(|channel| channel.signal == Signal::Speed)?;
    let column = channel.column.clone();
    let values = &mut channel.values;
    let mut highest: f64 = 0.0;
    let mut from = 0;
    while from < values.len() {
        let slow = |v: &f64| *v < CREEPING_MPS;
        let past = from + values[from..].iter().take_while(|v| slow(v)).count();
        if past == from {
            from += 1;
            continue;
        }
        if time_s[past - 1] - time_s[from] >= LEAST_S {
            let mut sorted = values[from..past].to_vec();
            sorted.sort_by(f64::total_cmp);
            let middle = sorted[sorted.len() / 2];
            let within = |v: &f64| *v <= middle;
            let first = values[from..past].iter().position(within).unwrap_or(0);
            let last = values[from..past].iter().rposition(within).unwrap_or(0);
            if sorted[0] <= 0.5 * middle {
                for value in &mut values[from + first..=from + last] {
                    highest = highest.max(*value);
                    *value = 0.0;
                }
            }
        }
        from = past;
    }
    (highest > WORTH_MPS).then(|| {
        format!(
            "`{}` shows up to {:.1} km/h while the car stands, which was taken as standing.",
            crate::short(&column),
            units::kmh_from_mps(highest)
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn speeds(time_s: &[f64], values: Vec<f64>) -> Vec<f64> {
        let column = "v".to_owned();
        let mut channels = [Channel { signal: Signal::Speed, column, values }];
        still(time_s, &mut channels);
        channels[0].values.clone()
    }

    proptest! {
        /// A stand stays one under the noise of a receiver, and a launch of any rate loses less than
        /// a metre.
        #[test]
        fn a_stand_is_a_stand_and_a_launch_a_launch(
            noise in prop::collection::vec(0.0..0.5f64, 100),
            step_s in 0.1..1.0f64,
            mps2 in 0.5..4.0f64,
        ) {
            let time_s: Vec<f64> = (0..200).map(|i| f64::from(i) * step_s).collect();
            let mut values = noise;
            values.extend((1..=100).map(|i| (mps2 * f64::from(i) * step_s).min(20.0)));
            let found = speeds(&time_s, values.clone());
            let stood = found[..100].iter().filter(|v| **v == 0.0).count();
            prop_assert!(stood >= 85, "{stood}");
            let lost_m: f64 =
                found[100..].iter().zip(&values[100..]).map(|(f, v)| (v - f) * step_s).sum();
            prop_assert!(lost_m < 1.0, "{lost_m} m");
        }
    }

    #[test]
    fn a_car_that_creeps_goes_on() {
        let time_s: Vec<f64> = (0..60).map(f64::from).collect();
        let values: Vec<f64> = (0..60).map(|i| 0.4 + 0.05 * f64::from(i).sin()).collect();
        assert_eq!(speeds(&time_s, values.clone()), values);
    }
}
