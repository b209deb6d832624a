//! Those of many that no other beats in everything that counts.

use std::cmp::Ordering;

/// One of them.
#[derive(Debug, Clone, PartialEq)]
pub struct Unbeaten<T> {
    /// What counts, in each of which less is better.
    pub ranks: Vec<f64>,
    /// What decides between equals, whichever comes first.
    pub key: String,
    /// What it is.
    pub what: T,
    /// How many others have the same ranks.
    pub alike: u64,
}

/// Those that no other beats: none has all ranks at most as large and one of them smaller. Of
/// equals the one of the least key stands for all. What comes of many does not depend on their
/// order.
#[derive(Debug, Clone)]
pub struct Front<T> {
    unbeaten: Vec<Unbeaten<T>>,
}

/// How one stands to another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Stands {
    Equal,
    Beats,
    IsBeaten,
    Apart,
}

fn stands(one: &[f64], other: &[f64]) -> Stands {
    let (mut less, mut more) = (false, false);
    for (a, b) in one.iter().zip(other) {
        less |= a < b;
        more |= a > b;
    }
    match (less, more) {
        (false, false) => Stands::Equal,
        (true, false) => Stands::Beats,
        (false, true) => Stands::IsBeaten,
        (true, true) => Stands::Apart,
    }
}

impl<T> Default for Front<T> {
    fn default() -> Self {
        Self { unbeaten: Vec::new() }
    }
}

impl<T> Front<T> {
    /// Shows it one, which is made only where it is kept. One with a rank that is no number is
    /// better than none, and is not kept.
    pub fn see(&mut self, ranks: Vec<f64>, key: String, what: impl FnOnce() -> T) {
        if ranks.iter().any(|rank| rank.is_nan()) {
            return;
        }
        let mut alike = 0;
        let mut i = 0;
        while let Some(known) = self.unbeaten.get_mut(i) {
            match stands(&known.ranks, &ranks) {
                Stands::Equal if known.key <= key => {
                    known.alike += 1;
                    return;
                }
                Stands::Equal => {
                    alike = known.alike + 1;
                    self.unbeaten.swap_remove(i);
                }
                Stands::Beats => return,
                Stands::IsBeaten => drop(self.unbeaten.swap_remove(i)),
                Stands::Apart => i += 1,
            }
        }
        self.unbeaten.push(Unbeaten { ranks, key, what: what(), alike });
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.unbeaten.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.unbeaten.is_empty()
    }

    /// At most so many of them, by their first rank and then the others: the one of the least first
    /// rank, the best of each other, and then always the one that is farthest from those that were
    /// taken, where each rank is told as a share of its range.
    pub fn into_spread(self, most: usize) -> Vec<Unbeaten<T>> {
        let mut all = self.unbeaten;
        all.sort_by(|a, b| order(&a.ranks, &b.ranks).then_with(|| a.key.cmp(&b.key)));
        if all.len() <= most {
            return all;
        }
        let ranges: Vec<(f64, f64)> = (0..all.first().map_or(0, |one| one.ranks.len()))
            .map(|i| {
                let finite = all.iter().map(|one| one.ranks[i]).filter(|v| v.is_finite());
                finite.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)))
            })
            .collect();
        let share = |value: f64, (low, high): (f64, f64)| {
            if high > low { ((value - low) / (high - low)).clamp(0.0, 1.0) } else { 0.0 }
        };
        let shares: Vec<Vec<f64>> = all
            .iter()
            .map(|one| one.ranks.iter().zip(&ranges).map(|(v, range)| share(*v, *range)).collect())
            .collect();
        let mut taken: Vec<usize> = Vec::new();
        for i in 0..ranges.len() {
            let best = (0..all.len()).min_by(|a, b| all[*a].ranks[i].total_cmp(&all[*b].ranks[i]));
            taken.extend(best.filter(|best| !taken.contains(best)));
        }
        taken.truncate(most);
        let apart = |a: usize, b: usize| -> f64 {
            shares[a].iter().zip(&shares[b]).map(|(a, b)| (a - b).powi(2)).sum()
        };
        let mut nearest: Vec<f64> = (0..all.len())
            .map(|i| taken.iter().map(|t| apart(i, *t)).fold(f64::INFINITY, f64::min))
            .collect();
        while taken.len() < most {
            // Of those equally far the cheapest.
            let far = (0..all.len())
                .filter(|i| !taken.contains(i))
                .rev()
                .max_by(|a, b| nearest[*a].total_cmp(&nearest[*b]));
            let Some(far) = far else { break };
            taken.push(far);
            for (i, near) in nearest.iter_mut().enumerate() {
                *near = near.min(apart(i, far));
            }
        }
        let mut number = 0;
        all.retain(|_| {
            number += 1;
            taken.contains(&(number - 1))
        });
        all
    }
}

/// Ranks one after the other.
fn order(one: &[f64], other: &[f64]) -> Ordering {
    let differs = one.iter().zip(other).map(|(a, b)| a.total_cmp(b)).find(|o| o.is_ne());
    differs.unwrap_or(Ordering::Equal)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The front of points, by their places in the list.
    fn front(points: &[Vec<f64>]) -> Vec<usize> {
        let mut front = Front::default();
        for (i, ranks) in points.iter().enumerate() {
            front.see(ranks.clone(), format!("{i:03}"), || i);
        }
        let mut found: Vec<usize> = front.unbeaten.iter().map(|one| one.what).collect();
        found.sort_unstable();
        found
    }

    fn beats(a: &[f64], b: &[f64]) -> bool {
        a.iter().zip(b).all(|(a, b)| a <= b) && a.iter().zip(b).any(|(a, b)| a < b)
    }

    #[test]
    fn fronts_that_were_made_by_hand() {
        let points = |list: &[[f64; 2]]| list.iter().map(|p| p.to_vec()).collect::<Vec<_>>();
        // A staircase, with one in the middle beaten and one on the line of two others.
        let stairs = points(&[[1.0, 9.0], [2.0, 6.0], [3.0, 6.5], [5.0, 3.0], [9.0, 1.0]]);
        assert_eq!(front(&stairs), [0, 1, 3, 4]);
        // Of equal prices the better one alone.
        assert_eq!(front(&points(&[[2.0, 5.0], [2.0, 4.0], [2.0, 6.0]])), [1]);
        // Of equals in all the first by its key, and how many it stands for.
        assert_eq!(front(&points(&[[1.0, 1.0], [1.0, 1.0], [1.0, 1.0]])), [0]);
        // One beats all.
        assert_eq!(front(&points(&[[3.0, 3.0], [2.0, 4.0], [0.0, 0.0], [0.0, 1.0]])), [2]);
        // What is no number is no answer; what never happens is as good, or as bad, as can be.
        let (nan, inf) = (f64::NAN, f64::INFINITY);
        assert_eq!(front(&points(&[[nan, 0.0], [0.0, nan], [5.0, 5.0]])), [2]);
        assert_eq!(front(&points(&[[1.0, inf], [2.0, 7.0], [3.0, inf]])), [0, 1]);
        assert_eq!(front(&points(&[[1.0, -inf], [2.0, 7.0]])), [0]);
        assert!(front(&[]).is_empty());
    }

    #[test]
    fn equals_are_counted() {
        let mut front = Front::default();
        for key in ["c", "a", "b", "a"] {
            front.see(vec![1.0, 2.0], key.to_owned(), || key);
        }
        let all = front.into_spread(9);
        assert_eq!((all.len(), all[0].what, all[0].alike), (1, "a", 3));
    }

    proptest! {
        /// What brute force finds, in whichever order they come, and with one more than before.
        #[test]
        fn a_front_is_what_no_other_beats(
            points in prop::collection::vec(prop::collection::vec(0..6_u8, 3), 1..60),
            turn in 0_usize..60,
            most in 1_usize..9,
        ) {
            let points: Vec<Vec<f64>> = points
                .iter()
                .map(|p| p.iter().map(|v| if *v == 5 { f64::NAN } else { f64::from(*v) }).collect())
                .collect();
            let usable = |i: &usize| !points[*i].iter().any(|v| v.is_nan());
            let brute: Vec<usize> = (0..points.len())
                .filter(usable)
                .filter(|i| !points.iter().any(|other| beats(other, &points[*i])))
                .filter(|i| !points[..*i].contains(&points[*i]))
                .collect();
            prop_assert_eq!(front(&points), brute);
            let mut turned = Front::default();
            let mut less = Front::default();
            let turn = turn % points.len();
            for i in (turn..points.len()).chain(0..turn) {
                turned.see(points[i].clone(), format!("{i:03}"), || i);
                if i != turn {
                    less.see(points[i].clone(), format!("{i:03}"), || i);
                }
            }
            let same = |front: Front<usize>| front.into_spread(100);
            let mut straight = Front::default();
            for (i, ranks) in points.iter().enumerate() {
                straight.see(ranks.clone(), format!("{i:03}"), || i);
            }
            let (turned, straight) = (same(turned), straight);
            let all = straight.clone().into_spread(100);
            prop_assert_eq!(&turned, &all);
            // One more never makes it worse.
            for one in same(less) {
                let as_good = |other: &Unbeaten<usize>| {
                    other.ranks.iter().zip(&one.ranks).all(|(a, b)| a <= b)
                };
                prop_assert!(all.iter().any(as_good));
            }
            // A few of them are among all, the cheapest with them.
            let few = straight.into_spread(most);
            prop_assert_eq!(few.len(), most.min(all.len()));
            prop_assert!(few.iter().all(|one| all.contains(one)));
            prop_assert_eq!(few.first(), all.first());
        }
    }
}
