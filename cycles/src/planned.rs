//! Roads without a clock: positions of a map planner, or distances, driven at a pace.

use std::path::Path;

use crate::bends::{Bend, course};
use crate::elevation::{clean, elevation_notes};
use crate::heading::headings;
use crate::limits::{Clockless, drive, legs};
use crate::loaded::{LoadOptions, LoadedRoad, names};
use crate::pace::{BENDS_MPS2, LENGTH_LIMIT_M};
use crate::sample::{CAP_OF_MAP, Sample};
use crate::table::{Quantity, Table};
use crate::{Error, timed};

/// Positions in the order in which they are driven.
pub(crate) struct Plan {
    pub latitude_deg: Vec<f64>,
    pub longitude_deg: Vec<f64>,
    pub elevation_m: Vec<Option<f64>>,
    /// The limit that holds from a position to the next, m/s; without, that of the pace.
    pub limit_mps: Option<Vec<f64>>,
    /// How long the car stands at each, s; empty, where the pace says so.
    pub stop_s: Vec<f64>,
}

impl Plan {
    /// Of the rows of a table without times.
    pub fn of_table(table: &Table) -> Result<Self, Error> {
        let rows = table.lines.len();
        let elevation = table.cells(Quantity::Elevation).map(<[Option<f64>]>::to_vec);
        let limit =
            table.has(Quantity::Limit).then(|| table.filled(Quantity::Limit)).transpose()?;
        Ok(Self {
            latitude_deg: table.filled(Quantity::Latitude)?,
            longitude_deg: table.filled(Quantity::Longitude)?,
            elevation_m: elevation.unwrap_or_else(|| vec![None; rows]),
            limit_mps: limit,
            stop_s: stops_of(table),
        })
    }

    /// Distance of each position along the road, m.
    pub fn distances_m(&self) -> Vec<f64> {
        course(&self.positions()).distance_m
    }

    /// Latitude and longitude of each, degrees.
    pub fn positions(&self) -> Vec<(f64, f64)> {
        self.latitude_deg.iter().copied().zip(self.longitude_deg.iter().copied()).collect()
    }

    /// The road through the positions, slower in its bends. Its elevation is that of a map: coarse and
    /// with steps, so it is cleaned as a recording is, but may be as steep as 20 %.
    pub fn road(&self, path: &Path, options: &LoadOptions) -> Result<LoadedRoad, Error> {
        let fault = |problem: String| Error::Track { path: path.to_owned(), problem };
        let positions = self.positions();
        let course = course(&positions);
        let length_m = course.distance_m.last().copied().unwrap_or(0.0);
        if !(1.0..=LENGTH_LIMIT_M).contains(&length_m) {
            return Err(fault(format!(
                "the road is {length_m:.0} m long, and 1 m to {LENGTH_LIMIT_M} m is needed"
            )));
        }
        // Positions at one place are one; the car stands there for all of them.
        let mut rows: Vec<usize> = Vec::with_capacity(positions.len());
        let mut stop_s: Vec<f64> = Vec::new();
        for (i, at_m) in course.distance_m.iter().enumerate() {
            let wait_s = self.stop_s.get(i).copied().unwrap_or(0.0);
            match (rows.last(), stop_s.last_mut()) {
                (Some(last), Some(stop_s)) if at_m - course.distance_m[*last] < 0.01 => {
                    *stop_s += wait_s;
                }
                _ => {
                    rows.push(i);
                    stop_s.push(wait_s);
                }
            }
        }
        let distance_m: Vec<f64> = rows.iter().map(|i| course.distance_m[*i]).collect();
        let limit_mps: Option<Vec<f64>> =
            self.limit_mps.as_ref().map(|limits| rows.iter().map(|i| limits[*i]).collect());
        let clockless = Clockless {
            distance_m: &distance_m,
            limit_mps: limit_mps.as_deref(),
            slope: &vec![0.0; rows.len() - 1],
            stop_s: if self.stop_s.is_empty() { &[] } else { &stop_s },
            bends: &course.bends,
        };
        let (legs, first_stop_s) = legs(&clockless, &options.pace).map_err(fault)?;
        let (name, source) = names(path);
        let (mut schedule, held) = drive(&legs, first_stop_s, options.comfort, &name, &source)?;

        let samples: Vec<Sample> = course
            .distance_m
            .iter()
            .zip(&self.elevation_m)
            .filter_map(|(at, height)| {
                let elevation_m = (*height)?;
                Some(Sample { at: *at, distance_m: *at, elevation_m })
            })
            .collect();
        let cleaning = clean(&mut schedule, &samples, CAP_OF_MAP);
        let mut notes = vec![held.said(options.comfort)];
        notes.push(bends_said(&course.bends, course.scatter_m, options));
        notes.extend(elevation_notes(cleaning, "elevation of the map"));
        schedule.along = headings(&schedule.distances_m(), &course.headings);
        Ok(LoadedRoad { schedule, cleaning, notes, held: Some(held) })
    }
}

/// How long the car stands at each row of a table; empty where it does not say.
fn stops_of(table: &Table) -> Vec<f64> {
    let cells = table.cells(Quantity::Stop).unwrap_or_default();
    cells.iter().map(|cell| cell.unwrap_or(0.0)).collect()
}

/// Rows of distance, with limits or at those of the pace, each holding from its row to the next.
pub(crate) fn by_distance(
    table: &Table,
    recorded: bool,
    options: &LoadOptions,
) -> Result<LoadedRoad, Error> {
    let distance_m = table.increasing(Quantity::Distance)?;
    let limit = table.has(Quantity::Limit).then(|| table.filled(Quantity::Limit)).transpose()?;
    let slope = timed::slopes(table, &distance_m, recorded)?;
    let clockless = Clockless {
        distance_m: &distance_m,
        limit_mps: limit.as_deref(),
        slope: &slope,
        stop_s: &stops_of(table),
        bends: &[],
    };
    let fault = |problem: String| Error::Track { path: table.path.clone(), problem };
    let (legs, first_stop_s) = legs(&clockless, &options.pace).map_err(fault)?;
    let (name, source) = names(&table.path);
    let (schedule, held) = drive(&legs, first_stop_s, options.comfort, &name, &source)?;
    let said = limit.is_none().then(|| held.said(options.comfort));
    let notes = said.into_iter().collect();
    Ok(LoadedRoad { schedule, cleaning: None, notes, held: Some(held) })
}

fn bends_said(bends: &[Bend], scatter_m: f64, options: &LoadOptions) -> String {
    let sideways = options.pace.bends_mps2;
    let taken = match sideways {
        Some(mps2) => format!("{} m/s² sideways", (100.0 * mps2).round() / 100.0),
        None => format!(
            "{BENDS_MPS2} m/s² sideways (taken for granted: common practice, no source; `--bends` \
             states another)"
        ),
    };
    let tightest = bends.iter().min_by(|a, b| a.radius_m.total_cmp(&b.radius_m));
    let Some(tightest) = tightest else {
        return "The road has no bends.".to_owned();
    };
    let scatter = if scatter_m < 1.0 {
        String::new()
    } else {
        format!("; positions scatter by {scatter_m:.1} m, so tight bends are drawn wider")
    };
    // Narrower than any car turns.
    let radius = match tightest.radius_m < 1.0 {
        true => "is a turn on the spot".to_owned(),
        false => format!("has a radius of {:.0} m", tightest.radius_m),
    };
    let at_km = 0.5 * (tightest.from_m + tightest.to_m) / 1e3;
    format!("Bends are taken at {taken}; the tightest {radius}, at {at_km:.1} km{scatter}.")
}
