//! A recorded elevation, and how steep the road of it may be.

/// A recorded elevation.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sample {
    /// Time in s, or distance in m where there is no clock.
    pub at: f64,
    /// Distance in m from the start of the road.
    pub distance_m: f64,
    /// The elevation in m.
    pub elevation_m: f64,
}

/// The steepest slope of a cleaned road, rise over run.
pub(crate) const CAP: f64 = 0.12;
/// The same where the elevation is that of a map, which knows steep roads better than a receiver.
pub(crate) const CAP_OF_MAP: f64 = 0.2;
