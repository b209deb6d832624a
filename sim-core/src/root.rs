//! Bracketing searches: where something turns from true to false, or a function crosses zero,
//! between two bounds.

use std::convert::Infallible;

/// Cuts after which the search for a zero gives up on its tolerance.
const MOST_CUTS: u32 = 100;

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
        if self.encloses(guess) { guess } else { self.middle() }
    }

    /// Whether a value lies between the bounds, apart from both.
    #[inline]
    pub fn encloses(&self, value: f64) -> bool {
        value > self.holds.min(self.fails) && value < self.holds.max(self.fails)
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

/// Where a function crossed zero and how steeply: for a search nearby to begin with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Near {
    /// Where.
    pub at: f64,
    /// Its slope there.
    pub slope: f64,
}

/// A value of a function and what else was found with it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point<T> {
    /// Where.
    pub at: f64,
    /// The function's value.
    pub value: f64,
    /// What was found with it.
    pub with: T,
}

/// Where a function crosses zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Zero<T> {
    /// Where, and how steeply.
    pub near: Near,
    /// What was found with it.
    pub with: T,
}

/// How close to a zero is close enough: whichever is reached first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Close {
    /// Gap between the bounds.
    pub apart: f64,
    /// Size of the function's value.
    pub value: f64,
}

impl Bracket {
    /// Zero of a function that falls from where it holds to where it fails, by the secant from a
    /// zero found nearby: the first place at which the value is as small as `close`. `None` when
    /// the secant leaves the bracket, no longer falls, or has not come close in so many `tries`.
    #[inline]
    pub fn secant<T>(
        &self,
        from: Near,
        tries: u32,
        close: f64,
        function: impl Fn(f64) -> (f64, T),
    ) -> Option<Zero<T>> {
        let Near { mut at, mut slope } = from;
        let mut last = None;
        for _ in 0..tries {
            if !self.encloses(at) || slope * (self.fails - self.holds) >= 0.0 {
                break;
            }
            let (value, with) = function(at);
            if let Some((last_at, last_value)) = last {
                slope = (value - last_value) / (at - last_at);
            }
            if value.abs() <= close {
                return Some(Zero { near: Near { at, slope }, with });
            }
            last = Some((at, value));
            at -= value / slope;
        }
        None
    }
}

/// Zero of a continuous function between a point where it is not negative and one (place and value)
/// where it is, by the Anderson–Björck form of false position. Where the gap closes first, the
/// answer is the bound that is not negative.
///
/// Source: Anderson and Björck, A new high order method of regula falsi type, BIT 13 (1973).
#[inline]
pub fn crossing<T>(
    holds: Point<T>,
    fails: (f64, f64),
    close: Close,
    function: impl Fn(f64) -> (f64, T),
) -> Zero<T> {
    let Point { at, value, mut with } = holds;
    let mut bracket = Bracket { holds: at, fails: fails.0 };
    // Weights are values, pulled in by the search; only true values end it.
    let (mut holds_weight, mut fails_weight) = (value, fails.1);
    let mut slope = (fails_weight - holds_weight) / (bracket.fails - bracket.holds);
    let mut last = (at, value);
    let mut last_held = None;
    for _ in 0..MOST_CUTS {
        if (bracket.fails - bracket.holds).abs() <= close.apart {
            break;
        }
        let guess = (bracket.holds * fails_weight - bracket.fails * holds_weight)
            / (fails_weight - holds_weight);
        let middle = bracket.kept(guess);
        let (value, found) = function(middle);
        slope = (value - last.1) / (middle - last.0);
        last = (middle, value);
        if value.abs() <= close.value {
            (bracket.holds, with) = (middle, found);
            break;
        }
        // The bound that stays a second time is pulled in by the Anderson–Björck factor.
        let pulled = |weight: f64| {
            let factor = 1.0 - value / weight;
            if factor > 0.0 { factor } else { 0.5 }
        };
        let held = value >= 0.0;
        if held {
            if last_held == Some(true) {
                fails_weight *= pulled(holds_weight);
            }
            (bracket.holds, holds_weight, with) = (middle, value, found);
        } else {
            if last_held == Some(false) {
                holds_weight *= pulled(fails_weight);
            }
            (bracket.fails, fails_weight) = (middle, value);
        }
        last_held = Some(held);
    }
    Zero { near: Near { at: bracket.holds, slope }, with }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::cell::Cell;
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
        let wide = Bracket { holds: 3.0, fails: 4.0 };
        assert_eq!(wide.closed(1.0, |_| unreachable!("a gap that is closed")), wide);
        let found = wide.closed(0.0, below_pi);
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
    /// `2 − x²`, which falls through zero at √2 with slope −2√2, and how often it was asked.
    fn parabola(asked: &Cell<u32>) -> impl Fn(f64) -> (f64, f64) {
        |x| {
            asked.set(asked.get() + 1);
            (2.0 - x * x, x)
        }
    }

    #[test]
    fn the_secant_needs_one_value_at_the_zero_itself_and_few_near_it() {
        let bracket = Bracket { holds: 0.0, fails: 2.0 };
        for (from, most) in [(SQRT_2, 1), (1.41, 4), (1.3, 6), (1.0, 7)] {
            let asked = Cell::new(0);
            let near = Near { at: from, slope: -2.0 * from };
            let found = bracket.secant(near, 8, 1e-12, parabola(&asked)).unwrap();
            assert!((found.near.at - SQRT_2).abs() < 1e-12, "{found:?} from {from}");
            assert!((found.near.slope + 2.0 * SQRT_2).abs() < 0.05, "{found:?} from {from}");
            assert_eq!(found.with, found.near.at, "what was found belongs to the zero");
            assert!(asked.get() <= most, "{} from {from}", asked.get());
        }
    }

    #[test]
    fn the_secant_gives_up_where_it_is_led_astray() {
        let bracket = Bracket { holds: 0.0, fails: 2.0 };
        let asked = Cell::new(0);
        let from = |at: f64, slope: f64, tries: u32| {
            bracket.secant(Near { at, slope }, tries, 1e-12, parabola(&asked))
        };
        assert_eq!(from(3.0, -6.0, 8), None, "a start outside");
        assert_eq!(from(1.0, 2.0, 8), None, "a slope that rises");
        assert_eq!(asked.get(), 0);
        assert_eq!(from(1.0, -0.5, 8), None, "a step outside");
        assert_eq!(asked.get(), 1);
        assert_eq!(from(1.0, -2.0, 3), None, "too few tries");
        assert_eq!(asked.get(), 4);
    }

    #[test]
    fn false_position_finds_known_zeros_in_few_values() {
        // x = e⁻ˣ at the omega constant, cos x = x at the Dottie number, √2 on both sides of 0, and
        // one that is flat where it holds and steep where it fails. Halving takes 44 and more.
        type Known = (fn(f64) -> f64, f64, f64, u32);
        let known: [Known; 6] = [
            (|x| (-x).exp() - x, 1.0, 0.567_143_290_409_783_8, 6),
            (|x| x.cos() - x, 2.0, 0.739_085_133_215_160_6, 6),
            (|x| 2.0 - x * x, 100.0, SQRT_2, 14),
            (|x| 2.0 - x * x, -100.0, -SQRT_2, 14),
            // Halved weights (the Illinois form) would take 14 values.
            (|x| 5.0 - x.exp(), 6.0, 1.609_437_912_434_100_4, 11),
            (|x| 1.0 - x.powi(9), 1.5, 1.0, 43),
        ];
        for (function, fails, zero, most) in known {
            let asked = Cell::new(0);
            let counted = |x: f64| {
                asked.set(asked.get() + 1);
                (function(x), x)
            };
            let start = Point { at: 0.0, value: function(0.0), with: 0.0 };
            let close = Close { apart: 1e-13, value: 1e-13 };
            let found = crossing(start, (fails, function(fails)), close, counted);
            assert!((found.near.at - zero).abs() < 1e-12, "{found:?} is not {zero}");
            assert_eq!(found.with, found.near.at);
            assert!(asked.get() <= most, "{} values for {zero}", asked.get());
        }
    }

    #[test]
    fn false_position_knows_the_slope_of_a_line_before_and_after_it_asks() {
        let line = |x: f64| (3.0 - 1.5 * x, ());
        let start = Point { at: 0.5, value: 2.25, with: () };
        for apart in [10.0, 1e-9] {
            let close = Close { apart, value: 1e-9 };
            let found = crossing(start, (5.0, -4.5), close, line);
            assert!((found.near.slope + 1.5).abs() < 1e-12, "{found:?}");
        }
    }

    #[test]
    fn false_position_ends_on_the_side_that_is_not_negative() {
        // A jump has no zero: the gap closes around it, and the answer is the bound before it.
        let jump = |x: f64| (if x < PI { 1.0 } else { -3.0 }, x < PI);
        let start = Point { at: 0.0, value: 1.0, with: true };
        let close = Close { apart: 1e-9, value: 1e-9 };
        let found = crossing(start, (10.0, -3.0), close, jump);
        assert!(found.with && found.near.at < PI && PI - found.near.at <= 1e-9, "{found:?}");
    }
}
