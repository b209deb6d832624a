//! Schedules from rows of time and speed, or of distance and speed.

use crate::schedule::SLOPE_LIMIT;
use crate::table::{Quantity, Table};
use crate::{Error, Schedule};

/// Rows of time and speed as they stand.
pub(crate) fn by_time(
    table: &Table,
    recorded: bool,
    name: &str,
    source: &str,
) -> Result<Schedule, Error> {
    let time_s = table.increasing(Quantity::Time)?;
    let speed_mps = table.filled(Quantity::Speed)?;
    let mut schedule = Schedule::level(name, source, time_s, speed_mps)?;
    schedule.slope = slopes(table, &schedule.distances_m(), recorded)?;
    Ok(schedule)
}

/// Rows of distance and speed: the acceleration between two rows is constant, so that the time
/// between them is 2·Δd/(v₀ + v₁); `stop_s` waits at a row whose speed is zero.
pub(crate) fn by_distance(
    table: &Table,
    recorded: bool,
    name: &str,
    source: &str,
) -> Result<Schedule, Error> {
    let distance_m = table.increasing(Quantity::Distance)?;
    let speed_mps = table.filled(Quantity::Speed)?;
    let row_slope = slopes(table, &distance_m, recorded)?;
    let stops = table.cells(Quantity::Stop);
    let stop_s = |row: usize| stops.and_then(|cells| cells[row]).unwrap_or(0.0);

    let (mut time_s, mut speeds, mut slope) = (Vec::new(), Vec::new(), Vec::new());
    let mut now_s = 0.0;
    for row in 0..speed_mps.len() {
        let line = table.lines[row];
        if row > 0 {
            let (before, here) = (speed_mps[row - 1], speed_mps[row]);
            if before + here == 0.0 {
                return Err(table.row_fault(
                    line,
                    "speed is 0 here and on the row before at another distance, and one of two \
                     such rows must be above 0",
                ));
            }
            now_s += 2.0 * (distance_m[row] - distance_m[row - 1]) / (before + here);
            slope.push(row_slope[row - 1]);
        }
        time_s.push(now_s);
        speeds.push(speed_mps[row]);
        let wait_s = stop_s(row);
        if wait_s > 0.0 {
            if speed_mps[row] > 0.0 {
                return Err(table.row_fault(
                    line,
                    format!("stop_s is {wait_s}, and a stop needs a speed of 0 on its row"),
                ));
            }
            now_s += wait_s;
            time_s.push(now_s);
            speeds.push(0.0);
            slope.push(0.0);
        }
    }
    Schedule::new(name, source, time_s, speeds, slope, Vec::new())
}

/// The slope from each row to the next as the file states it: its grade, the rise of its
/// elevation over the distance, or level; level too where the elevation is a recording, which is
/// yet to be cleaned.
pub(crate) fn slopes(table: &Table, distance_m: &[f64], recorded: bool) -> Result<Vec<f64>, Error> {
    let intervals = distance_m.windows(2);
    if table.has(Quantity::Grade) {
        let mut slope = table.filled(Quantity::Grade)?;
        slope.pop();
        Ok(slope)
    } else if table.has(Quantity::Elevation) && !recorded {
        let elevation_m = table.filled(Quantity::Elevation)?;
        let rises = elevation_m.windows(2).map(|pair| pair[1] - pair[0]);
        let steps = intervals.map(|pair| pair[1] - pair[0]).zip(rises);
        steps
            .zip(&table.lines[1..])
            .map(|((length_m, rise_m), line)| {
                let slope = slope_of_rise(rise_m, length_m);
                if (-SLOPE_LIMIT..=SLOPE_LIMIT).contains(&slope) {
                    return Ok(slope);
                }
                Err(table.row_fault(
                    *line,
                    format!(
                        "elevation changes by {rise_m:.3} m over {length_m:.3} m of road, and at \
                         most 60 % is allowed"
                    ),
                ))
            })
            .collect()
    } else {
        Ok(vec![0.0; intervals.len()])
    }
}

/// Rise over run of a road that rises by `rise_m` over `length_m` measured along its surface:
/// h/√(s² − h²); infinite where that is no road.
pub(crate) fn slope_of_rise(rise_m: f64, length_m: f64) -> f64 {
    if rise_m == 0.0 {
        return 0.0;
    }
    let run_squared = length_m * length_m - rise_m * rise_m;
    if run_squared > 0.0 { rise_m / run_squared.sqrt() } else { f64::INFINITY.copysign(rise_m) }
}
