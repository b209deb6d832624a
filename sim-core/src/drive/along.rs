//! What is otherwise along a road than in the car's surroundings.

use std::ops::Deref;

use crate::Invalid;
use crate::car::{Car, Surroundings};

/// What is known of a stretch of road, and otherwise there than in the car's surroundings.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Along {
    /// Where the road leads, rad from north by east.
    pub heading_rad: Option<f64>,
    /// Air temperature, K; left out, that of the surroundings.
    pub air_k: Option<f64>,
    /// Head wind, m/s (negative: tail wind); left out, that of the surroundings.
    pub head_wind_mps: Option<f64>,
}

/// Air temperatures along a road, K.
const AIR_K: std::ops::RangeInclusive<f64> = 200.0..=350.0;
/// Fastest wind along a road, m/s.
const FASTEST_MPS: f64 = 100.0;

impl Along {
    /// Whether air or wind are otherwise than in the surroundings.
    pub fn is_weather(&self) -> bool {
        self.air_k.is_some() || self.head_wind_mps.is_some()
    }

    /// # Errors
    /// [`Invalid`] where the air is not within 200 to 350 K, the wind is faster than 100 m/s or the
    /// heading is no number.
    pub(super) fn check(&self) -> Result<(), Invalid> {
        if let Some(air_k) = self.air_k.filter(|air_k| !AIR_K.contains(air_k)) {
            return Err(Invalid::new("air temperature", air_k, "200 to 350 K"));
        }
        let fast = |mps: &f64| !(-FASTEST_MPS..=FASTEST_MPS).contains(mps);
        if let Some(mps) = self.head_wind_mps.filter(fast) {
            return Err(Invalid::new("head wind", mps, "−100 to 100 m/s"));
        }
        if let Some(heading) = self.heading_rad.filter(|heading| !heading.is_finite()) {
            return Err(Invalid::new("heading", heading, "a number"));
        }
        Ok(())
    }
}

/// A car on its way along a road.
pub(super) trait Travels: Deref<Target = Car> {
    /// Whether its surroundings change on the way.
    const CHANGES: bool;
    /// Comes to where the road is so.
    fn come_to(&mut self, along: &Along);
}

/// Through the same air all along.
impl Travels for &Car {
    const CHANGES: bool = false;

    #[inline(always)]
    fn come_to(&mut self, _: &Along) {}
}

/// A car that carries the weather of the road with it.
#[derive(Debug, Clone)]
pub(super) struct Traveller {
    car: Car,
    home: Surroundings,
}

impl Traveller {
    pub fn of(car: &Car) -> Self {
        Self { car: car.clone(), home: *car.surroundings() }
    }
}

impl Deref for Traveller {
    type Target = Car;

    #[inline]
    fn deref(&self) -> &Car {
        &self.car
    }
}

impl Travels for Traveller {
    const CHANGES: bool = true;

    fn come_to(&mut self, along: &Along) {
        self.car.come_into(Surroundings {
            air_k: along.air_k.unwrap_or(self.home.air_k),
            head_wind_mps: along.head_wind_mps.unwrap_or(self.home.head_wind_mps),
            ..self.home
        });
    }
}
