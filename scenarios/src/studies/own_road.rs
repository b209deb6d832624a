//! Cars that are compared drive one road. Where that is the WLTC of one of them, others would drive
//! another by their own power to mass, and that must be told.

use crate::inputs::road::Road;
use crate::prepared::Prepared;
use cycles::WltcClass;

/// What the column of rows is called that says whether a car would drive another WLTC.
pub const COLUMN: &str = "would drive another wltc";

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

    /// The value of the column for a car.
    pub fn column(&self, car: &Prepared) -> f64 {
        f64::from(u8::from(self.other_of(car).is_some()))
    }
}
