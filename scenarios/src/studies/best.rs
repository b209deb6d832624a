//! The best of many, without the others being held.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

/// So many of the best that it was shown: those of the smallest rank, and of equal ones the first.
#[derive(Debug)]
pub struct Best<T> {
    most: usize,
    /// The worst of them stands on top.
    kept: BinaryHeap<Kept<T>>,
}

#[derive(Debug)]
struct Kept<T> {
    rank: f64,
    number: u64,
    what: T,
}

impl<T> Kept<T> {
    fn order(&self, rank: f64, number: u64) -> Ordering {
        self.rank.total_cmp(&rank).then(self.number.cmp(&number))
    }
}

impl<T> Ord for Kept<T> {
    fn cmp(&self, other: &Self) -> Ordering {
        self.order(other.rank, other.number)
    }
}

impl<T> PartialOrd for Kept<T> {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl<T> PartialEq for Kept<T> {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other).is_eq()
    }
}

impl<T> Eq for Kept<T> {}

impl<T> Best<T> {
    /// At most so many.
    pub fn of(most: usize) -> Self {
        Self { most, kept: BinaryHeap::new() }
    }

    /// Shows it one, which is made only where it is kept.
    pub fn see(&mut self, rank: f64, number: u64, what: impl FnOnce() -> T) {
        if self.kept.len() >= self.most {
            match self.kept.peek() {
                Some(worst) if worst.order(rank, number).is_gt() => drop(self.kept.pop()),
                _ => return,
            }
        }
        self.kept.push(Kept { rank, number, what: what() });
    }

    /// The best, in order.
    pub fn into_vec(self) -> Vec<T> {
        self.kept.into_sorted_vec().into_iter().map(|kept| kept.what).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// What a stable sort of all of them has first.
        #[test]
        fn they_are_those_that_sorting_has_first(
            ranks in prop::collection::vec(0..9_u8, 0..60),
            most in 0_usize..70,
        ) {
            let mut best = Best::of(most);
            for (number, rank) in ranks.iter().enumerate() {
                best.see(f64::from(*rank), number as u64, || number);
            }
            let mut all: Vec<usize> = (0..ranks.len()).collect();
            all.sort_by_key(|number| ranks[*number]);
            all.truncate(most);
            prop_assert_eq!(best.into_vec(), all);
        }
    }
}
