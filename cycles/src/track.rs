//! A recorded track of positions and times, and the speed made of it.

use std::path::Path;

use geographiclib_rs::{Geodesic, InverseGeodesic};

use crate::gpx::{Points, TrackPoint};
use crate::heading::headings;
use crate::limits::DURATION_LIMIT_S;
use crate::table::{Quantity, Table, line_at};
use crate::{Along, Error, Schedule};

/// Where the receiver was at a time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Position {
    pub time_s: f64,
    pub latitude_deg: f64,
    pub longitude_deg: f64,
    pub elevation_m: Option<f64>,
}

/// The positions of a track and where each stands in its file.
pub(crate) struct Track {
    pub positions: Vec<Position>,
    pub notes: Vec<String>,
}

/// What a road is written as that has no clock.
const WITHOUT_CLOCK: &str =
    "a speed limit such as `--limit 80km/h`, by which a road without times is driven";
/// Faster than this from one point to the next is a fault of the receiver (324 km/h).
const LEAP_MPS: f64 = 90.0;
/// A silence longer than this is told to the user.
const SILENCE_S: f64 = 10.0;
/// Times that were rounded in different ways lie less than this before the one before them.
const HAIR_S: f64 = 1.0;
/// Slower than this is a stand-still.
const STILL_MPS: f64 = 0.5;

impl Track {
    /// The track in the rows of a CSV file.
    pub fn of_table(table: &Table) -> Result<Self, Error> {
        let time_s = table.filled(Quantity::Time)?;
        let latitude_deg = table.filled(Quantity::Latitude)?;
        let longitude_deg = table.filled(Quantity::Longitude)?;
        let elevation = table.cells(Quantity::Elevation);
        let positions = (0..time_s.len()).map(|row| Position {
            time_s: time_s[row],
            latitude_deg: latitude_deg[row],
            longitude_deg: longitude_deg[row],
            elevation_m: elevation.and_then(|cells| cells[row]),
        });
        let mut track = Self { positions: positions.collect(), notes: Vec::new() };
        track.put_in_order(|row, problem| table.row_fault(table.lines[row], problem))?;
        Ok(track)
    }

    /// All tracks and segments of a GPX file, one after the other.
    pub fn of_gpx(path: &Path, text: &str, points: Points) -> Result<Self, Error> {
        let Points { mut recorded, planned } = points;
        let planned = planned.len();
        let fault = |problem: String| Error::Track { path: path.to_owned(), problem };
        let found = recorded.len();
        if found < 2 && planned >= 2 {
            return Err(fault(format!(
                "has a route of {planned} points and no track, and a route needs {WITHOUT_CLOCK}"
            )));
        }
        if found < 2 {
            return Err(fault(format!(
                "has {found} track points and {planned} route points, and 2 or more track points \
                 are needed"
            )));
        }
        recorded.retain(|point| point.time.is_some());
        let Some(start) = recorded.first().and_then(|point| point.time) else {
            return Err(fault(format!(
                "has {found} points and no times, and times are needed, or else {WITHOUT_CLOCK}"
            )));
        };
        let mut notes = Vec::new();
        if found > recorded.len() {
            let untimed = found - recorded.len();
            notes.push(format!("Points without a time, left out: {untimed}."));
        }
        let position = |point: &TrackPoint| Position {
            time_s: point.time.map_or(0.0, |time| (time - start).as_seconds_f64()),
            latitude_deg: point.latitude_deg,
            longitude_deg: point.longitude_deg,
            elevation_m: point.elevation_m,
        };
        let mut track = Self { positions: recorded.iter().map(position).collect(), notes };
        track.put_in_order(|row, problem| {
            let line = line_at(text, recorded[row].byte);
            Error::Row { path: path.to_owned(), line, problem: format!("trkpt: {problem}") }
        })?;
        Ok(track)
    }

    /// Holds times to their order; a hair before the one before it is at the same time.
    fn put_in_order(&mut self, fault: impl Fn(usize, String) -> Error) -> Result<(), Error> {
        let mut before_s = f64::NEG_INFINITY;
        for (row, position) in self.positions.iter_mut().enumerate() {
            let s = position.time_s;
            if s <= before_s - HAIR_S {
                return Err(fault(
                    row,
                    format!("time {s} s is before the {before_s} s of the point before"),
                ));
            }
            position.time_s = s.max(before_s);
            before_s = position.time_s;
        }
        Ok(())
    }

    /// The recorded elevations with their times, counted from the first point.
    pub fn elevations(&self) -> Vec<(f64, f64)> {
        let start_s = self.positions[0].time_s;
        let timed = |p: &Position| p.elevation_m.map(|e| (p.time_s - start_s, e));
        self.positions.iter().filter_map(timed).collect()
    }

    /// The speed along the track, on a level road.
    ///
    /// Distances are geodesics on the WGS 84 ellipsoid (Karney, Algorithms for geodesics, 2013).
    /// Points of the same time as the one before and points that leap faster than 90 m/s are
    /// left out; silences are bridged by a straight line. Positions are interpolated to full
    /// seconds; the velocity at each is the slope of the straight line through the five
    /// positions around it by least squares, which leaves a constant acceleration as it is and
    /// takes two thirds of the noise. The car stands still where that is below 0.5 m/s, and
    /// where the means of the five positions before and after lie less than 2 m apart.
    pub fn schedule(&mut self, path: &Path, name: &str, source: &str) -> Result<Schedule, Error> {
        let fault = |problem: String| Error::Track { path: path.to_owned(), problem };
        let span_s = self.positions[self.positions.len() - 1].time_s - self.positions[0].time_s;
        if span_s < 1.0 {
            return Err(fault(format!(
                "the track lasts {span_s} s, and 1 s to a week is needed, or else {WITHOUT_CLOCK}"
            )));
        }
        let plane = self.on_a_plane();
        let duration_s = plane.last().map_or(0.0, |p| p.time_s);
        let leaps = self.positions.len() - plane.len();
        if leaps * 2 > self.positions.len() {
            return Err(fault(format!(
                "{leaps} of {} points repeat a time or leap faster than 324 km/h, and at most half \
                 may",
                self.positions.len()
            )));
        }
        if leaps > 0 {
            self.notes.push(format!(
                "Points that repeat a time or leap faster than 324 km/h, left out: {leaps}."
            ));
        }
        if !(1.0..=DURATION_LIMIT_S).contains(&duration_s) {
            return Err(fault(format!(
                "the track lasts {duration_s} s, and 1 s to a week is needed"
            )));
        }
        let silences = plane.windows(2).filter(|p| p[1].time_s - p[0].time_s > SILENCE_S).count();
        if silences > 0 {
            self.notes.push(format!(
                "Silences of more than {SILENCE_S} s, bridged by a straight line at constant speed: {silences}."
            ));
        }
        let seconds = each_second(&plane, duration_s);
        let speed_mps = speeds(&seconds);
        let time_s = (0..speed_mps.len()).map(|second| second as f64).collect();
        Schedule::level(name, source, time_s, speed_mps)
    }

    /// Where the road leads on each interval between times: the way from two seconds before to two after
    /// it, or the last way where the car hardly moves; nothing before it first moves.
    pub fn headings(&self, time_s: &[f64]) -> Vec<Along> {
        const APART_M: f64 = 2.0;
        let plane = self.on_a_plane();
        let duration_s = plane.last().map_or(0.0, |p| p.time_s);
        if plane.len() < 2 || duration_s > DURATION_LIMIT_S {
            return Vec::new();
        }
        let seconds = each_second(&plane, duration_s);
        let last = seconds.len() - 1;
        let way = |second: usize| {
            let (from, to) = (seconds[second.saturating_sub(2)], seconds[(second + 2).min(last)]);
            let (east_m, north_m) = (to.0 - from.0, to.1 - from.1);
            (east_m.hypot(north_m) > APART_M).then(|| (second as f64, east_m.atan2(north_m)))
        };
        let ways: Vec<(f64, f64)> = (0..=last).filter_map(way).collect();
        let start_s = time_s.first().copied().unwrap_or(0.0);
        let places: Vec<f64> = time_s.iter().map(|t| t - start_s).collect();
        headings(&places, &ways)
    }

    /// The usable points on a plane that is unrolled along the track, so that neighbours have
    /// their true distance and bearing.
    fn on_a_plane(&self) -> Vec<PlanePoint> {
        let earth = Geodesic::wgs84();
        let start_s = self.positions[0].time_s;
        let mut kept = self.positions[0];
        let mut plane = vec![PlanePoint { time_s: 0.0, x_m: 0.0, y_m: 0.0 }];
        for here in &self.positions[1..] {
            let step_s = here.time_s - kept.time_s;
            if step_s <= 0.0 {
                continue;
            }
            let (length_m, bearing_deg, _, _): (f64, f64, f64, f64) = earth.inverse(
                kept.latitude_deg,
                kept.longitude_deg,
                here.latitude_deg,
                here.longitude_deg,
            );
            if length_m > LEAP_MPS * step_s {
                continue;
            }
            let (sine, cosine) = bearing_deg.to_radians().sin_cos();
            let PlanePoint { x_m, y_m, .. } = plane[plane.len() - 1];
            plane.push(PlanePoint {
                time_s: here.time_s - start_s,
                x_m: x_m + length_m * sine,
                y_m: y_m + length_m * cosine,
            });
            kept = *here;
        }
        plane
    }
}

/// A point on the plane, east and north of the first.
#[derive(Debug, Clone, Copy)]
struct PlanePoint {
    time_s: f64,
    x_m: f64,
    y_m: f64,
}

fn each_second(plane: &[PlanePoint], duration_s: f64) -> Vec<(f64, f64)> {
    let mut after = 1;
    let mut at = |second: usize| {
        let time_s = second as f64;
        while after + 1 < plane.len() && plane[after].time_s < time_s {
            after += 1;
        }
        let (a, b) = (plane[after - 1], plane[after]);
        let share = (time_s - a.time_s) / (b.time_s - a.time_s);
        (a.x_m + share * (b.x_m - a.x_m), a.y_m + share * (b.y_m - a.y_m))
    };
    (0..=duration_s as usize).map(&mut at).collect()
}

fn speeds(seconds: &[(f64, f64)]) -> Vec<f64> {
    let last = seconds.len() - 1;
    let mean = |from: usize, to: usize| {
        let count = (to + 1 - from) as f64;
        let sum = seconds[from..=to].iter().fold((0.0, 0.0), |s, p| (s.0 + p.0, s.1 + p.1));
        (sum.0 / count, sum.1 / count)
    };
    let speed = |i: usize| {
        let (from, to) = (i.saturating_sub(2), (i + 2).min(last));
        let (x_mean, y_mean) = mean(from, to);
        let t_mean = 0.5 * (from + to) as f64;
        let (mut tt, mut tx, mut ty) = (0.0, 0.0, 0.0);
        for (j, (x, y)) in seconds.iter().enumerate().take(to + 1).skip(from) {
            let t = j as f64 - t_mean;
            tt += t * t;
            tx += t * (x - x_mean);
            ty += t * (y - y_mean);
        }
        let speed_mps = tx.hypot(ty) / tt;
        let (before, after) = (
            mean(i.saturating_sub(5), i.saturating_sub(1)),
            mean((i + 1).min(last), (i + 5).min(last)),
        );
        let moved_m = (after.0 - before.0).hypot(after.1 - before.1);
        let still = speed_mps < STILL_MPS || (moved_m < 2.0 && speed_mps < 5.0 * STILL_MPS);
        if still { 0.0 } else { speed_mps }
    };
    (0..=last).map(speed).collect()
}
