//! How a road without a clock is driven: its speed limits, its bends and where the car stops.

use crate::Comfort;

/// Sideways acceleration that a driver takes in a bend, m/s² (common practice, no source).
pub const BENDS_MPS2: f64 = 2.5;
/// The longest road that is driven without a clock, m: half way around the Earth.
pub(crate) const LENGTH_LIMIT_M: f64 = 2e7;

/// How a road without a clock is driven. Empty, it says nothing.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Pace {
    /// Speed limit where no section states another, m/s.
    pub limit_mps: Option<f64>,
    /// Limits of sections; where two overlap, the later one holds.
    pub sections: Vec<Section>,
    /// Sideways acceleration that is taken in bends, m/s²; left out, [`BENDS_MPS2`].
    pub bends_mps2: Option<f64>,
    /// Where the car stops, m from the start, and for how long, s.
    pub stops: Vec<(f64, f64)>,
}

/// A section of road with a speed limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Section {
    /// Where it begins, m from the start of the road.
    pub from_m: f64,
    /// Where it ends, m.
    pub to_m: f64,
    /// The limit, m/s.
    pub limit_mps: f64,
}

impl Pace {
    /// Whether it says nothing.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }

    /// Whether it states a limit anywhere.
    pub fn has_limit(&self) -> bool {
        self.limit_mps.is_some() || !self.sections.is_empty()
    }

    /// This, and where it says nothing another.
    pub fn over(&self, other: &Self) -> Self {
        let limits = if self.has_limit() { self } else { other };
        let stops = if self.stops.is_empty() { other } else { self };
        Self {
            limit_mps: limits.limit_mps,
            sections: limits.sections.clone(),
            bends_mps2: self.bends_mps2.or(other.bends_mps2),
            stops: stops.stops.clone(),
        }
    }

    /// The limit at a distance.
    pub(crate) fn limit_at(&self, at_m: f64) -> Option<f64> {
        let there = |s: &&Section| (s.from_m..s.to_m).contains(&at_m);
        let section = self.sections.iter().rev().find(there);
        section.map(|section| section.limit_mps).or(self.limit_mps)
    }
}

/// What holds a driver's speed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Holds {
    /// The speed limit.
    Limit,
    /// A bend.
    Bend,
    /// A stop, or an end of the road.
    Stop,
    /// Nothing: the car speeds up.
    SpeedingUp,
}

/// For how long what held the speed of a road without a clock.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Held {
    /// Time at the speed limit and braking for a lower one, s.
    pub limit_s: f64,
    /// Time at the speed of bends and braking for them, s.
    pub bend_s: f64,
    /// Time braking for stops and standing, s.
    pub stop_s: f64,
    /// Time speeding up, s.
    pub speeding_up_s: f64,
}

impl Held {
    pub(crate) fn add(&mut self, by: Holds, for_s: f64) {
        let sum = match by {
            Holds::Limit => &mut self.limit_s,
            Holds::Bend => &mut self.bend_s,
            Holds::Stop => &mut self.stop_s,
            Holds::SpeedingUp => &mut self.speeding_up_s,
        };
        *sum += for_s;
    }

    /// The same as a sentence.
    pub(crate) fn said(&self, comfort: Comfort) -> String {
        let minutes = |s: f64| format!("{:.1} min", s / 60.0);
        format!(
            "What held the speed: the limit for {}, bends for {}, stops for {}, and {} speeding up; \
             speeding up at {} m/s², braking at {} m/s².",
            minutes(self.limit_s),
            minutes(self.bend_s),
            minutes(self.stop_s),
            minutes(self.speeding_up_s),
            comfort.acceleration_mps2,
            comfort.braking_mps2
        )
    }
}
