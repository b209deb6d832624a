//! How sure the range of each season is.

use crate::runs::failure::Failure;
use crate::runs::season;
use crate::studies::uncertain::Uncertain;
use crate::studies::{hypercube, ranks};
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use sim_core::Trace;

/// Between which ranges the cars of a season lie.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct RangeBand {
    /// The season.
    pub season: String,
    /// One car in ten goes less far, km.
    pub p10_km: f64,
    /// Half of them go less far, km.
    pub p50_km: f64,
    /// Nine in ten go less far, km.
    pub p90_km: f64,
}

/// Draws cars as [`bands`](crate::studies::bands::bands) does, and drives each of them in every
/// season. Cars that cannot be driven are left out.
///
/// # Errors
/// [`Failure::Invalid`] where none can.
pub fn range_bands(
    uncertain: &Uncertain<'_>,
    trace: &Trace,
    samples: usize,
    seed: u64,
    step: impl Fn() + Sync,
) -> Result<Vec<RangeBand>, Failure> {
    let shares = hypercube::samples(samples, uncertain.inputs.len(), seed);
    let one = |i: usize| {
        let of_sample: Vec<f64> = shares.iter().map(|input| input[i]).collect();
        let drawn = uncertain.draw(&of_sample);
        let found = drawn.prepared.ok().and_then(|car| season::ranges(&car, trace).ok());
        let found = found.map(|ranges| {
            let shorter = |(season, km): (String, f64)| (season, km / drawn.of_predicted);
            ranges.into_iter().map(shorter).collect()
        });
        step();
        found
    };
    let cars: Vec<Vec<(String, f64)>> = (0..samples).into_par_iter().filter_map(one).collect();
    let Some(first) = cars.first() else {
        return Err(Failure::Invalid("no sample can be driven in every season".to_owned()));
    };
    let band = |(i, (name, _)): (usize, &(String, f64))| {
        let mut km: Vec<f64> = cars.iter().filter_map(|car| Some(car.get(i)?.1)).collect();
        km.sort_by(f64::total_cmp);
        let at = |share| ranks::quantile(&km, share);
        RangeBand { season: name.clone(), p10_km: at(0.1), p50_km: at(0.5), p90_km: at(0.9) }
    };
    Ok(first.iter().enumerate().map(band).collect())
}
