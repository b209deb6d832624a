//! The classes of cars that the Worldwide Light Vehicles Test Cycle is cut for.

use crate::units::mps_from_kmh;
use std::fmt;

/// A class of cars with a test cycle of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WltcClass {
    /// Weak cars.
    One,
    /// Cars between.
    Two,
    /// Strong cars that do not reach 120 km/h.
    ThreeA,
    /// Strong cars.
    ThreeB,
}

/// Most rated power over kerb mass of class 1, W/kg.
const CLASS_1_W_PER_KG: f64 = 22.0;
/// Most rated power over kerb mass of class 2, W/kg.
const CLASS_2_W_PER_KG: f64 = 34.0;
/// Top speed from which a car of class 3 is of class 3b, km/h.
const CLASS_3B_KMH: f64 = 120.0;
/// What a name without a class may end in.
const PHASES: [&str; 5] = ["", "-low", "-medium", "-high", "-extra-high"];

impl WltcClass {
    /// The class of a car, by its rated power over its kerb mass in W/kg and its top speed in m/s.
    ///
    /// Up to 22 W/kg it is class 1, up to 34 W/kg class 2, above class 3: 3a below 120 km/h, 3b
    /// from there (UN Global Technical Regulation No. 15, Annex 1, from memory).
    pub fn of(rated_w_per_kg: f64, top_speed_mps: f64) -> Self {
        if rated_w_per_kg <= CLASS_1_W_PER_KG {
            Self::One
        } else if rated_w_per_kg <= CLASS_2_W_PER_KG {
            Self::Two
        } else if top_speed_mps < mps_from_kmh(CLASS_3B_KMH) {
            Self::ThreeA
        } else {
            Self::ThreeB
        }
    }

    /// The full name of a cycle for a name that leaves the class open: `wltc` or, with a phase,
    /// such as `wltc-low`, in any case. None for every other name.
    pub fn named(self, name: &str) -> Option<String> {
        let name = name.trim().to_ascii_lowercase();
        let phase = name.strip_prefix("wltc")?;
        PHASES.contains(&phase).then(|| format!("wltc-{self}{phase}"))
    }

    /// Whether a name leaves the class open.
    pub fn is_open(name: &str) -> bool {
        Self::ThreeB.named(name).is_some()
    }

    /// The names that leave the class open.
    pub(crate) fn open_names() -> [String; 5] {
        PHASES.map(|phase| format!("wltc{phase}"))
    }
}

impl fmt::Display for WltcClass {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::One => "1",
            Self::Two => "2",
            Self::ThreeA => "3a",
            Self::ThreeB => "3b",
        })
    }
}
