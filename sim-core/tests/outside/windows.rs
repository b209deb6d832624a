//! The largest mean and root mean square over windows, against sums of a fine grid: what NumPy's
//! `cumsum` and a difference give, here in so many lines of plain loops.

use crate::bench::cases;
use proptest::collection::vec;
use proptest::prelude::*;
use sim_core::windows::{Dose, Loads, WINDOWS_S, Windows};

fn loads(steps: &[(f64, f64)]) -> Loads {
    let mut windows = Windows::default();
    steps.iter().for_each(|(for_s, amps)| windows.see(Dose::held(*for_s, *amps)));
    windows.end()
}

/// Steps of whole tenths of a second, so that every window begins and ends on a grid of them.
fn tenths() -> impl Strategy<Value = Vec<(u32, f64)>> {
    vec((1_u32..60, -400.0..400.0), 1..150)
}

/// The largest mean of a function of the current over a window, by trying each place of it on the
/// grid of tenths, with nothing before and after the run.
fn naive(tenths: &[(u32, f64)], window_s: f64, of: fn(f64) -> f64) -> f64 {
    let each = tenths.iter().flat_map(|(n, amps)| std::iter::repeat_n(of(*amps), *n as usize));
    let values: Vec<f64> = each.collect();
    let width = (10.0 * window_s).round() as usize;
    if values.len() <= width {
        return values.iter().sum::<f64>() / width as f64;
    }
    let means = values.windows(width).map(|part| part.iter().sum::<f64>() / width as f64);
    means.fold(0.0, f64::max)
}

proptest! {
    #![proptest_config(cases(150))]

    #[test]
    fn windows_find_what_trying_each_place_finds(steps in tenths()) {
        let found = loads(&steps.iter().map(|(n, a)| (0.1 * f64::from(*n), *a)).collect::<Vec<_>>());
        for (window, of) in WINDOWS_S.iter().zip(found.largest) {
            let mean_a = naive(&steps, *window, f64::abs);
            let rms_a = naive(&steps, *window, |a| a * a).sqrt();
            prop_assert!((of.mean_a - mean_a).abs() < 1e-6, "{window} s: {} {mean_a}", of.mean_a);
            prop_assert!((of.rms_a - rms_a).abs() < 1e-5, "{window} s: {} {rms_a}", of.rms_a);
        }
    }

    /// A mean of squares is never under the square of the mean (Jensen), and of windows that divide a
    /// longer one, one has at least its mean.
    #[test]
    fn rms_is_no_less_than_the_mean_and_a_longer_window_has_no_more(
        steps in vec((0.001_f64..40.0, -400.0..400.0), 1..400),
    ) {
        let found = loads(&steps);
        prop_assert!(found.rms_a >= found.mean_a * (1.0 - 1e-9));
        for of in found.largest {
            prop_assert!(of.rms_a >= of.mean_a * (1.0 - 1e-9), "{of:?}");
        }
        for pair in found.largest.windows(2) {
            prop_assert!(pair[1].mean_a <= pair[0].mean_a * (1.0 + 1e-7), "{pair:?}");
            prop_assert!(pair[1].rms_a <= pair[0].rms_a * (1.0 + 1e-7), "{pair:?}");
        }
    }

    /// Which way it flows changes nothing, and how a step is told in parts changes nothing.
    #[test]
    fn a_current_the_other_way_heats_as_much(
        steps in vec((0.2_f64..5.0, -400.0..400.0), 1..100),
        parts in 1_u32..30,
    ) {
        let found = loads(&steps);
        prop_assert_eq!(found, loads(&steps.iter().map(|(s, a)| (*s, -a)).collect::<Vec<_>>()));
        let fine = steps.iter().flat_map(|(s, a)| {
            std::iter::repeat_n((s / f64::from(parts), *a), parts as usize)
        });
        let fine = loads(&fine.collect::<Vec<_>>());
        for (one, other) in found.largest.iter().zip(fine.largest) {
            // Parts shorter than a grain are put together, and may reach into the next step.
            prop_assert!((one.rms_a - other.rms_a).abs() < 0.03 * (1.0 + one.rms_a));
        }
    }

    /// The integrals of a straight line, against 2,000 short steps.
    #[test]
    fn a_straight_line_has_its_own_means(from in -300.0_f64..300.0, to in -300.0_f64..300.0) {
        let line = Dose::straight(2.0, from, to);
        let at = |i: u32| from + (to - from) * (f64::from(i) + 0.5) / 2000.0;
        let mean = |of: fn(f64) -> f64| (0..2000).map(|i| of(at(i))).sum::<f64>() / 2000.0;
        prop_assert!((line.mean_a - mean(f64::abs)).abs() < 0.01);
        prop_assert!((line.square_a2 - mean(|a| a * a)).abs() < 0.1);
        prop_assert!(line.square_a2 >= line.mean_a * line.mean_a * (1.0 - 1e-12));
    }
}

#[test]
fn a_constant_current_gives_itself_as_long_as_it_lasts() {
    let minute = loads(&[(0.25, -80.0); 240]);
    assert_eq!(minute.lasted_s, 60.0);
    for i in 0..3 {
        assert!((minute.largest[i].rms_a - 80.0).abs() < 1e-9 && minute.covers(i));
        assert!((minute.largest[i].mean_a - 80.0).abs() < 1e-9);
    }
    // Beyond, the car stands: a tenth of the time, and its root.
    assert!(!minute.covers(3) && !minute.covers(4));
    assert!((minute.largest[3].mean_a - 8.0).abs() < 1e-9);
    assert!((minute.largest[3].rms_a - 80.0 * 0.1_f64.sqrt()).abs() < 1e-9);
}

/// 100 A for 6 s and nothing for 24 s, over and over: the root mean square of an intermittent load
/// is `I·√(duty)` (any handbook of electrical engineering), 44.7 A.
#[test]
fn an_intermittent_load_has_the_root_of_its_share() {
    let turns: Vec<(f64, f64)> = [(6.0, 100.0), (24.0, 0.0)].repeat(100);
    let found = loads(&turns);
    assert!((found.largest[4].rms_a - 100.0 * 0.2_f64.sqrt()).abs() < 1e-6);
    assert!((found.largest[4].mean_a - 20.0).abs() < 1e-6);
    assert!((found.largest[1].rms_a - 100.0 * 0.6_f64.sqrt()).abs() < 1e-6);
}

#[test]
fn a_run_that_never_began_has_no_current() {
    let none = Windows::default().end();
    assert_eq!((none.lasted_s, none.rms_a, none.largest[0].rms_a), (0.0, 0.0, 0.0));
}
