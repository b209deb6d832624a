//! Cars that are compared drive one road. Where that is the WLTC of one of them, others would drive
//! another by their own power to mass, and that must be told.

use crate::inputs::road::Road;
use crate::prepared::Prepared;
use cycles::WltcClass;
use schemars::JsonSchema;
use serde::Serialize;

/// What the column of rows is called that says whether a car would drive another WLTC.
pub const COLUMN: &str = "would drive another wltc";

/// Cars of a study that are asked for their own WLTC.
const LOOKED_AT: u64 = 500;
/// The golden ratio less one, of 2⁶⁴.
const GOLDEN: u64 = 0x9E37_79B9_7F4A_7C15;

/// How many cars would drive another WLTC, of so many that were looked at.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, JsonSchema)]
pub struct OtherRoads {
    /// Those that would.
    pub others: u64,
    /// Those that were looked at.
    pub looked_at: u64,
}

impl OtherRoads {
    /// Takes in the value of the column of a car.
    pub fn see(&mut self, value: Option<f64>) {
        self.looked_at += u64::from(value.is_some());
        self.others += u64::from(value == Some(1.0));
    }
}

/// The WLTC that all drive, by the class of one car.
#[derive(Debug, Clone, PartialEq)]
pub struct OneRoad {
    /// The name that leaves the class open.
    open: String,
    /// The cycle that is driven.
    driven: String,
}

impl OneRoad {
    /// Of a road and the cycle that came of it, where its name leaves the class open.
    pub fn of(road: &Road, driven: &str) -> Option<Self> {
        let open = road.itself().name();
        WltcClass::is_open(open).then(|| Self { open: open.to_owned(), driven: driven.to_owned() })
    }

    /// Of a cycle that is driven, where it is the one of the class of a car.
    pub fn driven_by(car: &Prepared, driven: &str) -> Option<Self> {
        let class = format!("wltc-{}", car.wltc().class);
        let phase = driven.split(' ').next()?.strip_prefix(&class)?;
        let one = Self { open: format!("wltc{phase}"), driven: driven.to_owned() };
        (WltcClass::is_open(&one.open) && one.other_of(car).is_none()).then_some(one)
    }

    /// The cycle that a car would drive by its own power to mass and top speed, where it is another.
    pub fn other_of(&self, car: &Prepared) -> Option<String> {
        let own = car.wltc().road(&self.open).ok()?.schedule.name;
        (own != self.driven).then_some(own)
    }

    /// The value of the column for the car of a number of so many; none where it is not looked at, as
    /// its class takes longer than its drive.
    pub fn column(&self, (number, total): (u64, u64), car: &Prepared) -> Option<f64> {
        is_looked_at(number, total).then(|| f64::from(u8::from(self.other_of(car).is_some())))
    }
}

/// Whether the car of a number of so many is asked for its own WLTC: all of few are, and of many some
/// [`LOOKED_AT`], by bits that are mixed so that they keep no step with the values of any field
/// (multiplicative hashing; Knuth, *The Art of Computer Programming* 3, from memory).
fn is_looked_at(number: u64, total: u64) -> bool {
    let mixed = number.wrapping_mul(GOLDEN);
    let mixed = (mixed ^ (mixed >> 32)).wrapping_mul(GOLDEN);
    let place = (mixed ^ (mixed >> 32)) as f64 / 2f64.powi(64);
    place * total as f64 <= LOOKED_AT as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_of_few_are_looked_at_and_of_many_some_of_each_value() {
        assert!((0..LOOKED_AT).all(|number| is_looked_at(number, LOOKED_AT)));
        for (total, values) in [(100_000, 10), (100_000, 7), (20_000, 7), (1_000_000, 16)] {
            let looked_at: Vec<u64> = (0..total).filter(|n| is_looked_at(*n, total)).collect();
            assert!(looked_at.len().abs_diff(LOOKED_AT as usize) < 60, "{total}");
            // The fields that change from row to row and from block to block.
            for every in [1, values] {
                let of =
                    |value| looked_at.iter().filter(|n| (**n / every) % values == value).count();
                let fair = looked_at.len() as f64 / values as f64;
                assert!((0..values).all(|v| of(v) as f64 > 0.5 * fair), "{total} {values} {every}");
            }
        }
    }
}
