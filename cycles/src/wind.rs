//! Air and wind along a road, as its file states them.

use crate::table::{Quantity, Table, held};
use crate::{Along, Error, Schedule};

/// Head wind, m/s, of a wind that blows from a direction, on a road that leads to another: what of
/// it is against the way, `w·cos(from − heading)`; both rad from north by east.
pub fn head_wind_mps(wind_mps: f64, from_rad: f64, heading_rad: f64) -> f64 {
    wind_mps * (from_rad - heading_rad).cos()
}

/// What a row says of air and wind; it holds from the row to the next.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Weather {
    along: Along,
    /// Wind, m/s, and where it blows from, rad.
    wind: Option<(f64, f64)>,
}

/// What the rows of a table say of air and wind, where they say anything; an empty cell is as the last
/// before it.
pub(crate) fn of_rows(table: &Table) -> Result<Vec<Weather>, Error> {
    use Quantity::{Air, HeadWind, Heading, Wind, WindFrom};
    let [air, head, heading, wind, from] = [Air, HeadWind, Heading, Wind, WindFrom].map(|q| {
        let cells = table.cells(q).filter(|cells| cells.iter().any(Option::is_some));
        cells.map(held)
    });
    if wind.is_some() != from.is_some() {
        let problem = "but only both of wind_kmh and wind_from_deg make a wind";
        return Err(table.columns_fault(problem));
    }
    if head.is_some() && wind.is_some() {
        return Err(table.columns_fault("but only one of head_wind_kmh and wind_kmh may be there"));
    }
    if air.is_none() && head.is_none() && heading.is_none() && wind.is_none() {
        return Ok(Vec::new());
    }
    let at = |column: &Option<Vec<f64>>, row: usize| column.as_ref().map(|cells| cells[row]);
    let row = |row: usize| Weather {
        along: Along {
            heading_rad: at(&heading, row).map(f64::to_radians),
            air_k: at(&air, row),
            head_wind_mps: at(&head, row),
        },
        wind: at(&wind, row).zip(at(&from, row).map(f64::to_radians)),
    };
    Ok((0..table.lines.len()).map(row).collect())
}

/// Puts the weather of rows along a schedule, by their times or distances from the first; what there is
/// to say of it.
pub(crate) fn put(
    schedule: &mut Schedule,
    rows: &[f64],
    by_time: bool,
    weather: Vec<Weather>,
    table: &Table,
) -> Result<Option<String>, Error> {
    if weather.is_empty() {
        return Ok(None);
    }
    let start_s = schedule.time_s.first().copied().unwrap_or(0.0);
    let places = match by_time {
        true => schedule.time_s.iter().map(|t| t - start_s).collect(),
        false => schedule.distances_m(),
    };
    schedule.along.resize(places.len() - 1, Along::default());
    for (along, pair) in schedule.along.iter_mut().zip(places.windows(2)) {
        let middle = 0.5 * (pair[0] + pair[1]);
        let row = rows.partition_point(|row| *row <= middle).clamp(1, weather.len()) - 1;
        let Weather { along: own, wind } = weather[row];
        along.heading_rad = own.heading_rad.or(along.heading_rad);
        along.air_k = own.air_k;
        along.head_wind_mps = match (wind, along.heading_rad) {
            (None, _) => own.head_wind_mps,
            (Some((mps, from)), Some(heading)) => Some(head_wind_mps(mps, from, heading)),
            (Some(_), None) => {
                let problem = "but a wind from a direction needs positions or heading_deg";
                return Err(table.columns_fault(problem));
            }
        };
    }
    let has = |of: fn(&Along) -> bool| schedule.along.iter().any(of);
    let taken = match (has(|a| a.air_k.is_some()), has(|a| a.head_wind_mps.is_some())) {
        (true, true) => "air and wind along this road stand in its file and take",
        (true, false) => "air along this road stands in its file and takes",
        (false, true) => "wind along this road stands in its file and takes",
        (false, false) => return Ok(None),
    };
    Ok(Some(format!("The {taken} the place of the conditions'.")))
}
