//! How sure the card for the glove box is.

use crate::runs::failure::Failure;
use crate::runs::readings::{self, Card, ReadingsReport};
use crate::studies::uncertain::Uncertain;
use crate::studies::{hypercube, ranks};
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::Trace;

/// Half of what lies between the lowest and the highest tenth, for a state of charge.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ChargeBand {
    /// Of the energy left, kWh.
    pub left_kwh: f64,
    /// Of the range, km, where it is known.
    pub range_km: Option<f64>,
}

/// How sure a card is.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ReadingBands {
    /// Cars that were drawn and could be driven.
    pub cars: usize,
    /// By state of charge, as on the card.
    pub charges: Vec<ChargeBand>,
    /// Of the power at each steady speed, kW; nothing where a car does not hold it.
    pub speeds_kw: Vec<Option<f64>>,
}

/// Half of what lies between the lowest and the highest tenth.
fn half(mut of: Vec<f64>) -> f64 {
    of.sort_by(f64::total_cmp);
    0.5 * (ranks::quantile(&of, 0.9) - ranks::quantile(&of, 0.1))
}

/// The same where every car has one.
fn half_of_all(of: impl Iterator<Item = Option<f64>>) -> Option<f64> {
    of.collect::<Option<Vec<f64>>>().map(half)
}

/// Draws cars as [`bands`](crate::studies::bands::bands) does, and works out the card of each. Cars that
/// cannot be driven are left out.
///
/// # Errors
/// [`Failure::Invalid`] where none can.
pub fn reading_bands(
    uncertain: &Uncertain<'_>,
    card: &Card,
    road: (&str, &Trace),
    samples: usize,
    seed: u64,
) -> Result<ReadingBands, Failure> {
    let shares = hypercube::samples(samples, uncertain.inputs.len(), seed);
    let one = |i: usize| {
        let of_sample: Vec<f64> = shares.iter().map(|input| input[i]).collect();
        let drawn = uncertain.draw(&of_sample);
        let car = drawn.prepared.ok()?;
        Some((readings::report(&car, card, road).ok()?, drawn.of_predicted))
    };
    let cars: Vec<(ReadingsReport, f64)> = (0..samples).into_par_iter().filter_map(one).collect();
    let Some((first, _)) = cars.first() else {
        return Err(Failure::Invalid("no sample can be driven".to_owned()));
    };
    // What a drive takes of what is predicted for it shortens the range and adds to the power.
    let charge = |row: usize| ChargeBand {
        left_kwh: half(cars.iter().map(|(car, _)| car.charges[row].left_kwh).collect()),
        range_km: half_of_all(
            cars.iter().map(|(car, of)| car.charges[row].range_km.map(|km| km / of)),
        ),
    };
    let speed = |row: usize| {
        half_of_all(cars.iter().map(|(car, of)| car.speeds[row].power_kw.map(|kw| kw * of)))
    };
    Ok(ReadingBands {
        cars: cars.len(),
        charges: (0..first.charges.len()).map(charge).collect(),
        speeds_kw: (0..first.speeds.len()).map(speed).collect(),
    })
}
