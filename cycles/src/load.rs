use std::path::Path;

use crate::elevation::{clean, elevation_notes, placed};
use crate::gpx::{any_text_of, points};
use crate::loaded::{LoadOptions, LoadedRoad, names};
use crate::one_road::{is_without_fix, one_road};
use crate::pace::Pace;
use crate::planned::{self, Plan};
use crate::sample::{CAP, CAP_OF_MAP, Sample};
use crate::table::{Quantity, Table, bytes_of, held, text_of};
use crate::track::Track;
use crate::wind;
use crate::{Cleaning, Elevation, Error, Schedule, catalogue, timed};

/// The schedule in a file.
///
/// # Errors
/// Every [`Error`] but [`Error::UnknownCycle`]; the message names the file, and the line where
/// there is one.
pub fn load(path: impl AsRef<Path>, options: &LoadOptions) -> Result<LoadedRoad, Error> {
    let path = path.as_ref();
    read(path, &bytes_of(path)?, options)
}

/// The schedule in what a file holds; the path is its name and tells its kind.
///
/// # Errors
/// As [`load`], but for what can be wrong with a file itself.
pub fn read(path: &Path, bytes: &[u8], options: &LoadOptions) -> Result<LoadedRoad, Error> {
    let extension = path.extension().unwrap_or_default().to_string_lossy().to_lowercase();
    match extension.as_str() {
        "csv" => {
            let text = text_of(path, bytes)?;
            let auxiliary = options.auxiliary_column.as_deref();
            let mut table = Table::parse(path, text, options.columns, auxiliary)?;
            from_table(&mut table, options)
        }
        "gpx" if options.auxiliary_column.is_some() => {
            let problem = "a track has no column of loads; needed: a .csv file".to_owned();
            Err(Error::Track { path: path.to_owned(), problem })
        }
        "gpx" => {
            let text = any_text_of(path, bytes)?;
            let points = points(path, &text)?;
            let plan = if options.pace.has_limit() { points.plan(path)? } else { None };
            match plan {
                Some((plan, notes)) => {
                    let mut road = plan.road(path, options)?;
                    road.notes.splice(0..0, notes);
                    road.notes.extend(beyond_end(&road.schedule, &options.pace));
                    Ok(road)
                }
                None => {
                    let mut track = Track::of_gpx(path, &text, points)?;
                    without_pace(options, path, "has times")?;
                    from_track(&mut track, path)
                }
            }
        }
        _ => Err(Error::Extension { path: path.to_owned(), found: extension }),
    }
}

/// The built-in cycle of this name, or else the schedule in the file of this name.
///
/// # Errors
/// [`Error::UnknownCycle`] where neither exists, which suggests the nearest built-in names;
/// otherwise those of [`load`].
pub fn resolve(name_or_path: &str, options: &LoadOptions) -> Result<LoadedRoad, Error> {
    match catalogue::find(name_or_path) {
        Ok(schedule) => {
            without_pace(options, Path::new(name_or_path), "is a cycle with times")?;
            Ok(schedule.into())
        }
        Err(unknown @ Error::UnknownCycle { .. }) => match load(name_or_path, options) {
            Err(Error::Missing { .. }) => Err(unknown),
            loaded => loaded,
        },
        Err(damaged) => Err(damaged),
    }
}

/// A pace is for roads without a clock.
fn without_pace(options: &LoadOptions, path: &Path, why: &str) -> Result<(), Error> {
    if options.pace.is_empty() {
        return Ok(());
    }
    let problem = format!(
        "{why} and is driven as it stands, and a limit, bends and stops are for a road without times"
    );
    Err(Error::Track { path: path.to_owned(), problem })
}

pub(crate) fn from_table(table: &mut Table, options: &LoadOptions) -> Result<LoadedRoad, Error> {
    use Quantity::{Auxiliary, Distance, Elevation as Height, Grade, Latitude, Limit, Longitude};
    use Quantity::{Speed, Stop, Time};

    let (name, source) = names(&table.path);
    let mut notes = Vec::new();
    let [time, distance, speed, limit] = [Time, Distance, Speed, Limit].map(|q| table.has(q));
    let positions = table.has(Latitude) && table.has(Longitude);
    let fault = |problem: &str| Err(table.columns_fault(problem));
    if table.has(Grade) && table.has(Height) {
        return fault("but only one of grade and elevation may be there");
    }
    if table.has(Latitude) != table.has(Longitude) {
        return fault("but only both of latitude and longitude make a position");
    }
    if table.has(Auxiliary) && !(time && speed) {
        return fault("but a load on the pack goes with times and speeds");
    }
    // A route of distances alone is as a planner gives it, and no survey where its points are dense.
    let bare = distance && !time && !speed && !limit && table.has(Height);
    let apart_m = if bare { apart_m(table)? } else { 0.0 };
    let recorded = table.has(Height)
        && match options.elevation {
            Elevation::ByClock => time || (bare && apart_m < SURVEYED_M),
            Elevation::Recorded => true,
            Elevation::AsWritten => false,
        };
    if time || speed {
        without_pace(options, &table.path, if time { "has times" } else { "has speeds" })?;
    }
    if limit && options.pace.has_limit() {
        return fault("and a limit was stated besides, where only one of the two may be");
    }
    if table.has(Stop) && !options.pace.stops.is_empty() {
        return fault("and stops were stated besides, where only one of the two may be");
    }
    let weather = wind::of_rows(table)?;
    let by_places = positions && !time && !speed && (limit || options.pace.has_limit());
    if by_places && table.has(Grade) {
        return fault("but positions go with an elevation, not with a grade");
    }
    if by_places {
        let path = table.path.clone();
        let plan = Plan::of_table(table)?;
        let positions = plan.positions();
        let no_fix = |p: &(f64, f64)| *p == (0.0, 0.0) && is_without_fix(*p, &positions);
        if let Some(row) = positions.iter().position(no_fix) {
            let problem = "its position is 0, 0, as of a receiver without a fix, and one near the \
                           others is needed";
            return Err(table.row_fault(table.lines[row], problem));
        }
        let jumps = |problem| Error::Track { path: path.clone(), problem };
        let (_, said) = one_road(&positions, &[0]).map_err(jumps)?;
        let mut road = plan.road(&path, options)?;
        road.notes.splice(0..0, said);
        let rows_m = plan.distances_m();
        if let Some([.., to]) = distance.then(|| table.filled(Distance)).transpose()?.as_deref() {
            let stated_m = to - table.filled(Distance)?[0];
            let drawn_m = road.schedule.distance_m();
            road.notes.push(format!(
                "The distances of the file, {:.2} km in all, are not used, as its positions tell them: \
                 {:.2} km.",
                stated_m / 1e3,
                drawn_m / 1e3
            ));
        }
        road.notes.extend(beyond_end(&road.schedule, &options.pace));
        road.notes.extend(wind::put(&mut road.schedule, &rows_m, false, weather, table)?);
        return Ok(road);
    }
    let mut held_by = None;
    let mut schedule = match (time, distance, speed, limit) {
        (true, true, ..) => return fault("but only one of time and distance may be there"),
        (false, false, ..) if positions => {
            return fault("and a time or a limit is needed, such as `--limit 80km/h`");
        }
        (false, false, ..) => return fault("and a time or a distance is needed"),
        (_, _, true, true) => return fault("but only one of speed and limit may be there"),
        (true, ..) if table.has(Stop) => {
            return fault("but stop_s goes with distances, not with times");
        }
        (true, _, _, true) => return fault("but a limit goes with distances, not with times"),
        (true, _, false, _) if positions && table.has(Grade) => {
            return fault("but positions go with an elevation, not with a grade");
        }
        (true, _, false, _) if positions => {
            let path = table.path.clone();
            let mut road = from_track(&mut Track::of_table(table)?, &path)?;
            let from_zero = from_first(table.filled(Time)?);
            road.notes.extend(wind::put(&mut road.schedule, &from_zero, true, weather, table)?);
            return Ok(road);
        }
        (true, _, true, _) => {
            let dropped = table.drop_empty(Speed);
            if table.lines.len() < 2 {
                let (path, rows) = (table.path.clone(), table.lines.len());
                return Err(Error::Rows { path, rows, allowed: "2 or more with a speed" });
            }
            if dropped > 0 {
                notes.push(format!(
                    "Rows without a speed, left out and bridged at constant acceleration: {dropped}."
                ));
            }
            timed::by_time(table, recorded, &name, &source)?
        }
        (_, true, true, _) => timed::by_distance(table, recorded, &name, &source)?,
        (_, _, false, false) if !options.pace.has_limit() => {
            return fault(
                "and a speed, a time with positions or a limit is needed, such as `--limit 80km/h`",
            );
        }
        _ if options.pace.bends_mps2.is_some() => {
            return fault("and without positions its bends, for which `--bends` is, are not known");
        }
        _ => {
            let road = planned::by_distance(table, recorded, options)?;
            notes.extend(road.notes);
            notes.extend(beyond_end(&road.schedule, &options.pace));
            held_by = road.held;
            road.schedule
        }
    };
    if let Some(cells) = table.cells(Auxiliary) {
        let missing = cells.iter().filter(|cell| cell.is_none()).count();
        if missing == cells.len() {
            return Err(table.columns_fault("but the column of loads on the pack is empty"));
        }
        if missing > 0 {
            notes.push(format!("Rows without a load on the pack, which kept the last: {missing}."));
        }
        schedule.auxiliary_w = held(cells);
        schedule.auxiliary_w.pop();
    }
    if positions {
        notes.push("Positions were not used, as the file states speeds.".to_owned());
    }
    let mut cleaning = None;
    if recorded {
        let along = table.filled(if time { Time } else { Distance })?;
        let heights = table.cells(Height).unwrap_or_default();
        let samples: Vec<(f64, f64)> =
            along.iter().zip(heights).filter_map(|(at, height)| Some((*at, (*height)?))).collect();
        let samples = match along.first() {
            Some(first) if distance => {
                let by_distance = |s: &(f64, f64)| {
                    let distance_m = s.0 - first;
                    Sample { at: distance_m, distance_m, elevation_m: s.1 }
                };
                samples.iter().map(by_distance).collect()
            }
            _ => placed(&schedule, &samples),
        };
        let cap = if bare { CAP_OF_MAP } else { CAP };
        cleaning = cleaned(&mut schedule, &samples, cap, &table.path)?;
        notes.extend(elevation_notes(cleaning, "recorded elevation"));
    } else if bare {
        notes.push(format!(
            "The elevation is taken as written, as its rows are {apart_m:.0} m apart (nearer than \
             {SURVEYED_M} m it would be cleaned as a recording is): it climbs {:.0} m and falls {:.0} m.",
            schedule.climb_m(),
            schedule.descent_m()
        ));
    }
    let rows = from_first(table.filled(if time { Time } else { Distance })?);
    if positions && time {
        schedule.along = Track::of_table(table)?.headings(&schedule.time_s);
    }
    notes.extend(wind::put(&mut schedule, &rows, time, weather, table)?);
    Ok(LoadedRoad { schedule, cleaning, notes, held: held_by })
}

/// What is said of a limit that is stated for more than the road.
fn beyond_end(schedule: &Schedule, pace: &Pace) -> Option<String> {
    let length_m = schedule.distance_m();
    let to_m = pace.sections.iter().map(|section| section.to_m).fold(0.0, f64::max);
    (to_m > length_m + 100.0).then(|| {
        format!(
            "A limit is stated up to {:.2} km, and the road ends at {:.2} km.",
            to_m / 1e3,
            length_m / 1e3
        )
    })
}

/// Rows of heights that are so far apart or further are a survey, m.
const SURVEYED_M: f64 = 200.0;

/// How far rows of distance are apart, m: the median.
fn apart_m(table: &Table) -> Result<f64, Error> {
    let distance_m = table.increasing(Quantity::Distance)?;
    let mut apart_m: Vec<f64> = distance_m.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let middle = apart_m.len() / 2;
    Ok(*apart_m.select_nth_unstable_by(middle, f64::total_cmp).1)
}

/// Places counted from the first of them.
fn from_first(mut places: Vec<f64>) -> Vec<f64> {
    let first = places.first().copied().unwrap_or(0.0);
    places.iter_mut().for_each(|place| *place -= first);
    places
}

fn from_track(track: &mut Track, path: &Path) -> Result<LoadedRoad, Error> {
    let (name, source) = names(path);
    let mut schedule = track.schedule(path, &name, &source)?;
    let samples = placed(&schedule, &track.elevations());
    let cleaning = cleaned(&mut schedule, &samples, CAP, path)?;
    let mut notes = std::mem::take(&mut track.notes);
    notes.extend(elevation_notes(cleaning, "recorded elevation"));
    schedule.along = track.headings(&schedule.time_s);
    Ok(LoadedRoad { schedule, cleaning, notes, held: None })
}

/// Cleans the elevation of a road that is not absurdly long.
fn cleaned(
    schedule: &mut Schedule,
    samples: &[Sample],
    cap: f64,
    path: &Path,
) -> Result<Option<Cleaning>, Error> {
    const LENGTH_LIMIT_M: f64 = 1e8;
    let length_m = schedule.distance_m();
    if length_m > LENGTH_LIMIT_M {
        let problem =
            format!("the road is {length_m:.0} m long, and at most {LENGTH_LIMIT_M} m is allowed");
        return Err(Error::Track { path: path.to_owned(), problem });
    }
    Ok(clean(schedule, samples, cap))
}
