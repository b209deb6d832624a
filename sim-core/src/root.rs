//! Bracketing searches: where something turns from true to false, or a function crosses zero,
//! between two bounds.

use std::convert::Infallible;

/// Two bounds of a search: at one of them something holds, at the other it does not. Either may be
/// the larger.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bracket {
    /// Where it holds.
    pub holds: f64,
    /// Where it fails.
    pub fails: f64,
}

impl Bracket {
    /// Halved so many times by a test; the gap is then `|holds − fails|/2ⁿ` wide.
    pub fn halved(self, times: u32, mut test: impl FnMut(f64) -> bool) -> Self {
        let Ok(found) = self.try_halved(times, |value| Ok::<_, Infallible>(test(value)));
        found
    }

    /// The same with a test that can go wrong.
    ///
    /// # Errors
    /// The first of the test's own.
    pub fn try_halved<E>(
        mut self,
        times: u32,
        mut test: impl FnMut(f64) -> Result<bool, E>,
    ) -> Result<Self, E> {
        for _ in 0..times {
            let middle = self.middle();
            self = self.cut(middle, test(middle)?);
        }
        Ok(self)
    }

    /// Halved until the bounds are at most so far apart, or next to each other as numbers.
    pub fn closed(mut self, apart: f64, mut test: impl FnMut(f64) -> bool) -> Self {
        while (self.holds - self.fails).abs() > apart {
            let middle = self.middle();
            if middle == self.holds || middle == self.fails {
                break;
            }
            self = self.cut(middle, test(middle));
        }
        self
    }

    /// Halved as a ratio, for positive bounds of different size: each cut is at `√(a·b)`.
    pub fn halved_by_ratio(mut self, times: u32, mut test: impl FnMut(f64) -> bool) -> Self {
        for _ in 0..times {
            let middle = self.middle_by_ratio();
            self = self.cut(middle, test(middle));
        }
        self
    }

    /// Half way between the bounds.
    #[inline]
    pub fn middle(&self) -> f64 {
        0.5 * (self.holds + self.fails)
    }

    /// Half way between positive bounds as a ratio.
    pub fn middle_by_ratio(&self) -> f64 {
        (self.holds * self.fails).sqrt()
    }

    /// A guess if it lies between the bounds, else their middle.
    #[inline]
    pub fn kept(&self, guess: f64) -> f64 {
        let (low, high) = (self.holds.min(self.fails), self.holds.max(self.fails));
        if guess > low && guess < high { guess } else { self.middle() }
    }

    fn cut(self, at: f64, holds: bool) -> Self {
        if holds { Self { holds: at, ..self } } else { Self { fails: at, ..self } }
    }
}

/// The highest value at which a test holds: the first of `grid(count)`, …, `grid(1)` that passes
/// (a rising grid), then the gap above it halved so many times. `None` where none passes.
///
/// What comes and goes between two values of the grid is not seen.
pub fn highest(
    count: u32,
    grid: impl Fn(f64) -> f64,
    halvings: u32,
    mut test: impl FnMut(f64) -> bool,
) -> Option<f64> {
    let Ok(found) = try_highest(count, grid, halvings, |v| Ok::<_, Infallible>(test(v)));
    found
}

/// The same with a test that can go wrong.
///
/// # Errors
/// The first of the test's own.
pub fn try_highest<E>(
    count: u32,
    grid: impl Fn(f64) -> f64,
    halvings: u32,
    mut test: impl FnMut(f64) -> Result<bool, E>,
) -> Result<Option<f64>, E> {
    for i in (1..=count).rev() {
        let holds = grid(f64::from(i));
        if !test(holds)? {
            continue;
        }
        if i == count {
            return Ok(Some(holds));
        }
        let gap = Bracket { holds, fails: grid(f64::from(i + 1)) };
        return Ok(Some(gap.try_halved(halvings, test)?.holds));
    }
    Ok(None)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::{PI, SQRT_2};

    #[test]
    fn each_halving_halves_the_gap_around_the_edge() {
        // x² < 2 turns at √2, whichever bound is the larger and whichever side holds.
        for (holds, fails) in [(0.0, 2.0), (-0.0, 1024.0), (1.0, 1.5)] {
            for times in [0, 1, 10, 40] {
                let mut asked = 0;
                let found = Bracket { holds, fails }.halved(times, |x| {
                    asked += 1;
                    x * x < 2.0
                });
                assert_eq!(asked, times);
                assert!(found.holds <= SQRT_2 && SQRT_2 <= found.fails, "{found:?}");
                assert_eq!(found.fails - found.holds, (fails - holds) / 2f64.powi(times as i32));
                let mirrored =
                    Bracket { holds: fails, fails: holds }.halved(times, |x| x * x >= 2.0);
                assert_eq!(mirrored, Bracket { holds: found.fails, fails: found.holds });
            }
        }
    }

    #[test]
    fn closes_to_the_gap_asked_for_and_to_neighbouring_numbers_at_most() {
        let below_pi = |x: f64| x.sin() > 0.0;
        for apart in [0.3, 1e-3, 1e-9] {
            let found = Bracket { holds: 3.0, fails: 4.0 }.closed(apart, below_pi);
            assert!(found.holds <= PI && PI <= found.fails);
            let gap = found.fails - found.holds;
            assert!(gap <= apart && gap > 0.5 * apart, "{gap} for {apart}");
        }
        let found = Bracket { holds: 3.0, fails: 4.0 }.closed(0.0, below_pi);
        assert_eq!(found.holds.next_up(), found.fails);
        assert!(found.holds <= PI && PI <= found.fails);
    }

    #[test]
    fn halves_a_ratio_by_its_root() {
        // From 10⁻³ to 10³ the first cuts are at 1, 10^±1.5, …: eᵗ crosses 5 at ln 5.
        let mut cuts = Vec::new();
        let found = Bracket { holds: 1e-3, fails: 1e3 }.halved_by_ratio(60, |x| {
            cuts.push(x);
            x.exp() < 5.0
        });
        assert!((cuts[0] - 1.0).abs() < 1e-12 && (cuts[1] - 10f64.powf(1.5)).abs() < 1e-12);
        assert!((found.middle_by_ratio() / 5f64.ln() - 1.0).abs() < 1e-12, "{found:?}");
    }

    #[test]
    fn a_guess_outside_the_bounds_gives_way_to_their_middle() {
        let bracket = Bracket { holds: 3.0, fails: 1.0 };
        assert_eq!(bracket.kept(2.5), 2.5);
        for guess in [1.0, 3.0, 0.0, f64::INFINITY, f64::NAN] {
            assert_eq!(bracket.kept(guess), 2.0, "{guess}");
        }
    }

    #[test]
    fn a_test_that_goes_wrong_ends_the_search() {
        let mut asked = 0;
        let found = Bracket { holds: 0.0, fails: 8.0 }.try_halved(10, |x| {
            asked += 1;
            if x == 2.0 { Err("two") } else { Ok(x < 1.0) }
        });
        assert_eq!((found, asked), (Err("two"), 2));
        let wrong = |_: f64| Err("at once");
        assert_eq!(try_highest(4, |i| i, 5, wrong), Err("at once"));
    }

    #[test]
    fn finds_the_highest_place_where_something_holds() {
        // sin x > 0 below π and, further down, nowhere between −π and 0: the upper island counts.
        let found = |from: f64, count: u32, halvings: u32| {
            let grid = |i: f64| from + i * (4.0 - from) / f64::from(count);
            highest(count, grid, halvings, |x: f64| x.sin() > 0.0)
        };
        let from = -6.0;
        let pi = found(from, 20, 40).unwrap();
        assert!(pi <= PI && PI - pi < 0.5 / 2f64.powi(40), "{pi}");
        // Without halvings it is the grid's own value, within a cell below the edge.
        let coarse = found(from, 20, 0).unwrap();
        assert!(coarse <= PI && coarse + 0.5 > PI);
        // The top of the grid is the answer where it holds, and there is none where none holds.
        assert_eq!(highest(7, |i| 2.0 * i, 9, |_| true), Some(14.0));
        assert_eq!(highest(7, |i| 2.0 * i, 9, |_| false), None);
    }
}
