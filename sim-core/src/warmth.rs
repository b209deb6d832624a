//! How warm a current makes something that warms up and cools down slowly.
//!
//! A body of one time constant follows the heat that is put into it, `τ·dy/dt = I² − y`; where `y` is
//! largest, the steady current `√y` would have made it as warm. So a run of any length asks what it
//! does to a part, without a class of time that it falls into: a longer run at the same current never
//! asks less, and a little longer never asks much more.

/// Time constants that are followed, s.
pub const TIME_CONSTANTS_S: [f64; 9] = [8.0, 15.0, 30.0, 60.0, 120.0, 200.0, 300.0, 500.0, 800.0];

/// Bodies of each time constant, as cold as the air at first.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Warmth {
    now_a2: [f64; TIME_CONSTANTS_S.len()],
    most_a2: [f64; TIME_CONSTANTS_S.len()],
}

impl Warmth {
    /// Takes in a step, over which the square of the current counts as even: exact for that.
    pub fn see(&mut self, for_s: f64, square_a2: f64) {
        for (i, time_s) in TIME_CONSTANTS_S.iter().enumerate() {
            let share = -(-for_s / time_s).exp_m1();
            self.now_a2[i] += share * (square_a2 - self.now_a2[i]);
            self.most_a2[i] = self.most_a2[i].max(self.now_a2[i]);
        }
    }

    /// Steady currents that would warm bodies of [`TIME_CONSTANTS_S`] as far as they became, A.
    pub fn steady_a(&self) -> [f64; TIME_CONSTANTS_S.len()] {
        self.most_a2.map(f64::sqrt)
    }
}

/// The longest of [`TIME_CONSTANTS_S`] that is no longer than a part's, or the shortest: a body that
/// warms faster asks no less.
pub fn no_slower_than(time_s: f64) -> usize {
    TIME_CONSTANTS_S.iter().rposition(|own| *own <= time_s).unwrap_or(0)
}
