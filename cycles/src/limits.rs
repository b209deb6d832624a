//! A road without a clock: speed limits over distance, driven by a comfortable driver.

use crate::bends::Bend;
use crate::pace::{BENDS_MPS2, Held, Holds, Pace};
use crate::{Error, Schedule};

/// How a driver speeds up and brakes on a road that has limits but no clock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Comfort {
    /// Acceleration in m/s², 0.05 to 15.
    pub acceleration_mps2: f64,
    /// Deceleration in m/s², 0.05 to 15, as a positive number.
    pub braking_mps2: f64,
}

impl Default for Comfort {
    /// 1.2 m/s² up and 1.3 m/s² down (common practice, no source).
    fn default() -> Self {
        Self { acceleration_mps2: 1.2, braking_mps2: 1.3 }
    }
}

/// The longest schedule that is sampled second by second: a week.
pub const DURATION_LIMIT_S: f64 = 7.0 * 86_400.0;

/// A road without a clock.
pub(crate) struct Clockless<'a> {
    /// Distance of each of its rows, m, from any start.
    pub distance_m: &'a [f64],
    /// The limit that holds from a row to the next, m/s; without, that of the pace.
    pub limit_mps: Option<&'a [f64]>,
    /// Slope from each row to the next.
    pub slope: &'a [f64],
    /// How long the car stands at each row, s; empty, those of the pace.
    pub stop_s: &'a [f64],
    /// Its bends, by distances from its first row.
    pub bends: &'a [Bend],
}

/// A piece of road with one limit and one slope.
pub(crate) struct Leg {
    pub length_m: f64,
    pub limit_mps: f64,
    /// What the limit is of.
    pub by: Holds,
    pub slope: f64,
    /// How long the car stands at its end; it passes without a stop where this is zero.
    pub stop_s: f64,
}

/// A time with constant acceleration and slope.
struct Motion {
    duration_s: f64,
    from_mps: f64,
    to_mps: f64,
    slope: f64,
    by: Holds,
}

/// Nearer than this two places are one, m.
const SAME_M: f64 = 1e-6;
/// Length of road over which a bend's speed holds, m.
const BEND_M: f64 = 10.0;
/// The slowest speed in a bend, m/s: 5 km/h, at which a car turns on its lock.
const SLOWEST_MPS: f64 = 1.4;

/// The legs of a road at a pace, and how long the car stands at its start, s.
///
/// A bend of radius R is taken at `v = √(a·R)`, a the sideways acceleration of the pace.
///
/// # Errors
/// A sentence where a place has no limit, or a stop or a section lies beyond the road.
pub(crate) fn legs(road: &Clockless, pace: &Pace) -> Result<(Vec<Leg>, f64), String> {
    let first_m = road.distance_m[0];
    let rows_m: Vec<f64> = road.distance_m.iter().map(|m| m - first_m).collect();
    let length_m = rows_m[rows_m.len() - 1];
    let km = |m: f64| format!("{} km", (m / 1e3 * 1e3).round() / 1e3);
    let beyond = |m: f64| !(0.0..=length_m + 1.0).contains(&m);
    if let Some((at_m, _)) = pace.stops.iter().find(|stop| beyond(stop.0)) {
        return Err(format!("a stop is at {}, and the road is {} long", km(*at_m), km(length_m)));
    }
    if let Some(section) = pace.sections.iter().find(|section| beyond(section.from_m)) {
        let from = km(section.from_m);
        return Err(format!("a limit begins at {from}, and the road is {} long", km(length_m)));
    }
    // The speed in bends, piece by piece; without bends there are no pieces.
    let sideways = pace.bends_mps2.unwrap_or(BENDS_MPS2);
    let pieces = if road.bends.is_empty() { 0 } else { (length_m / BEND_M).ceil() as usize };
    let mut bend_mps = vec![f64::INFINITY; pieces];
    for bend in road.bends {
        let speed_mps = (sideways * bend.radius_m).sqrt().max(SLOWEST_MPS);
        let (from, to) = ((bend.from_m / BEND_M).max(0.0) as usize, (bend.to_m / BEND_M) as usize);
        for piece_mps in bend_mps.iter_mut().take(to + 1).skip(from) {
            *piece_mps = piece_mps.min(speed_mps);
        }
    }
    let bend_at = |m: f64| bend_mps.get((m / BEND_M) as usize).copied().unwrap_or(f64::INFINITY);

    let mut cuts_m = rows_m.clone();
    cuts_m.extend(pace.sections.iter().flat_map(|s| [s.from_m, s.to_m]));
    cuts_m.extend(pace.stops.iter().map(|stop| stop.0.min(length_m)));
    let edges = (1..pieces).filter(|i| bend_mps[*i] != bend_mps[i - 1]);
    cuts_m.extend(edges.map(|i| i as f64 * BEND_M));
    cuts_m.retain(|m| (0.0..=length_m).contains(m));
    cuts_m.sort_by(f64::total_cmp);
    cuts_m.dedup_by(|b, a| *b - *a <= SAME_M);

    let row_at = |m: f64| rows_m.partition_point(|row| *row <= m).clamp(1, rows_m.len() - 1) - 1;
    let stop_at = |m: f64| {
        let row = rows_m.partition_point(|row| *row < m - SAME_M);
        let here = rows_m.get(row).is_some_and(|row| *row <= m + SAME_M);
        let of_row = if here { road.stop_s.get(row).copied().unwrap_or(0.0) } else { 0.0 };
        let there = |stop: &&(f64, f64)| (stop.0.min(length_m) - m).abs() <= SAME_M;
        of_row + pace.stops.iter().filter(there).map(|stop| stop.1).sum::<f64>()
    };
    let mut legs: Vec<Leg> = Vec::with_capacity(cuts_m.len());
    for pair in cuts_m.windows(2) {
        let middle_m = 0.5 * (pair[0] + pair[1]);
        let row = row_at(middle_m);
        let stated = road.limit_mps.map(|limits| limits[row]).or_else(|| pace.limit_at(middle_m));
        let Some(stated) = stated else {
            return Err(format!(
                "from {} to {} no speed limit is stated, and one is needed, such as `--limit 80km/h`",
                km(pair[0]),
                km(pair[1])
            ));
        };
        let bend_mps = bend_at(middle_m);
        let by = if bend_mps < stated { Holds::Bend } else { Holds::Limit };
        let leg = Leg {
            length_m: pair[1] - pair[0],
            limit_mps: stated.min(bend_mps),
            by,
            slope: road.slope[row],
            stop_s: stop_at(pair[1]),
        };
        match legs.last_mut() {
            Some(last) if !road.bends.is_empty() && last.goes_on_as(&leg) => {
                (last.length_m, last.stop_s) = (last.length_m + leg.length_m, leg.stop_s);
            }
            _ => legs.push(leg),
        }
    }
    Ok((legs, stop_at(0.0)))
}

impl Leg {
    /// Whether another is more of the same.
    fn goes_on_as(&self, next: &Self) -> bool {
        let same = |leg: &Self| (leg.limit_mps, leg.by, leg.slope);
        self.stop_s == 0.0 && same(self) == same(next)
    }
}

/// Drives the legs from rest to rest as fast as limits and comfort allow.
///
/// With constant acceleration v² is linear in distance, v₁² = v₀² + 2·a·s. A pass backward over
/// the ends of the legs lowers each speed to one from which the next can be reached by braking, a
/// pass forward to one that can be reached by accelerating. Within a leg of length s the car
/// then peaks at v² = min(limit², (2·a·b·s + b·v₀² + a·v₁²)/(a + b)). The schedule is sampled at
/// 1 s, and where the acceleration changes, so that the trapezoid rule is exact.
pub(crate) fn drive(
    legs: &[Leg],
    first_stop_s: f64,
    comfort: Comfort,
    name: &str,
    source: &str,
) -> Result<(Schedule, Held), Error> {
    let (up, down) = (comfort.acceleration_mps2, comfort.braking_mps2);
    for (field, value) in [("acceleration_mps2", up), ("braking_mps2", down)] {
        if !(0.05..=15.0).contains(&value) {
            return Err(Error::Schedule {
                schedule: name.to_owned(),
                field: field.to_owned(),
                value: value.to_string(),
                allowed: "0.05 to 15 m/s²".to_owned(),
            });
        }
    }

    // The speed at the end of each leg, and what holds it there.
    let mut ends: Vec<(f64, Holds)> = legs
        .iter()
        .enumerate()
        .map(|(i, leg)| match legs.get(i + 1) {
            Some(next) if leg.stop_s == 0.0 && next.limit_mps < leg.limit_mps => {
                (next.limit_mps, next.by)
            }
            Some(_) if leg.stop_s == 0.0 => (leg.limit_mps, leg.by),
            _ => (0.0, Holds::Stop),
        })
        .collect();
    for i in (1..legs.len()).rev() {
        let (end_mps, by) = ends[i];
        let brakes_from = (end_mps.powi(2) + 2.0 * down * legs[i].length_m).sqrt();
        if brakes_from < ends[i - 1].0 {
            ends[i - 1] = (brakes_from, by);
        }
    }
    let mut start_mps = 0.0;
    let stands =
        |duration_s| Motion { duration_s, from_mps: 0.0, to_mps: 0.0, slope: 0.0, by: Holds::Stop };
    let mut motions = vec![stands(first_stop_s)];
    for (leg, (end_mps, brakes_for)) in legs.iter().zip(&ends) {
        let reaches = (f64::powi(start_mps, 2) + 2.0 * up * leg.length_m).sqrt();
        let end_mps = end_mps.min(reaches);
        let free_peak_squared =
            (2.0 * up * down * leg.length_m + down * start_mps.powi(2) + up * end_mps.powi(2))
                / (up + down);
        let peak_mps = free_peak_squared.sqrt().min(leg.limit_mps).max(start_mps).max(end_mps);
        let up_m = (peak_mps.powi(2) - start_mps.powi(2)) / (2.0 * up);
        let down_m = (peak_mps.powi(2) - end_mps.powi(2)) / (2.0 * down);
        let slope = leg.slope;
        let mut add = |duration_s, from_mps, to_mps, by| {
            motions.push(Motion { duration_s, from_mps, to_mps, slope, by });
        };
        add((peak_mps - start_mps) / up, start_mps, peak_mps, Holds::SpeedingUp);
        add((leg.length_m - up_m - down_m) / peak_mps, peak_mps, peak_mps, leg.by);
        add((peak_mps - end_mps) / down, peak_mps, end_mps, *brakes_for);
        motions.push(stands(leg.stop_s));
        start_mps = end_mps;
    }
    let mut held = Held::default();
    motions.iter().for_each(|motion| held.add(motion.by, motion.duration_s));
    Ok((sample(&motions, name, source)?, held))
}

fn sample(motions: &[Motion], name: &str, source: &str) -> Result<Schedule, Error> {
    // A full second so near to a change of acceleration is left out, and so is a motion so short.
    const NEAR_S: f64 = 1e-6;
    let duration_s: f64 = motions.iter().map(|m| m.duration_s).sum();
    if duration_s > DURATION_LIMIT_S {
        return Err(Error::Schedule {
            schedule: name.to_owned(),
            field: "duration".to_owned(),
            value: format!("{duration_s:.0} s"),
            allowed: format!("at most {DURATION_LIMIT_S} s (a week)"),
        });
    }
    let (mut time_s, mut speed_mps, mut slope) = (vec![0.0], vec![0.0], Vec::new());
    let mut from_s = 0.0;
    for motion in motions.iter().filter(|m| m.duration_s > NEAR_S) {
        let to_s = from_s + motion.duration_s;
        let stands = motion.from_mps == 0.0 && motion.to_mps == 0.0;
        let mut second = f64::floor(from_s + NEAR_S) + 1.0;
        while second < to_s - NEAR_S && !stands {
            let share = (second - from_s) / motion.duration_s;
            time_s.push(second);
            speed_mps.push(motion.from_mps + share * (motion.to_mps - motion.from_mps));
            slope.push(motion.slope);
            second += 1.0;
        }
        time_s.push(to_s);
        speed_mps.push(motion.to_mps);
        slope.push(motion.slope);
        from_s = to_s;
    }
    Schedule::new(name, source, time_s, speed_mps, slope, Vec::new())
}

#[cfg(test)]
mod tests {
    use super::*;

    const COMFORT: Comfort = Comfort { acceleration_mps2: 1.0, braking_mps2: 2.0 };

    fn leg(length_m: f64, limit_mps: f64) -> Leg {
        Leg { length_m, limit_mps, by: Holds::Limit, slope: 0.0, stop_s: 0.0 }
    }

    fn driven(legs: &[Leg]) -> Schedule {
        drive(legs, 0.0, COMFORT, "t", "").unwrap().0
    }

    fn assert_close(found: f64, expected: f64) {
        assert!((found - expected).abs() < 1e-6, "{found} is not {expected}");
    }

    /// Closed form: v/a up, v/b down, and L/v + v/2a + v/2b in all.
    #[test]
    fn one_limit_gives_a_trapezoid() {
        let schedule = driven(&[leg(1000.0, 20.0)]);
        assert_close(schedule.duration_s(), 1000.0 / 20.0 + 20.0 / 2.0 + 20.0 / 4.0);
        assert_close(schedule.distance_m(), 1000.0);
        assert_close(schedule.peak_speed_mps(), 20.0);
        assert_eq!(schedule.speed_mps[5], 5.0);
        assert_eq!(schedule.speed_mps.last(), Some(&0.0));
        assert!(schedule.time_s.windows(2).all(|t| t[1] - t[0] <= 1.0 + 1e-9));
    }

    /// Closed form: where the limit is not reached, v² = 2·L·a·b/(a + b).
    #[test]
    fn a_short_road_gives_a_triangle() {
        let schedule = driven(&[leg(30.0, 20.0)]);
        assert_close(schedule.peak_speed_mps(), f64::sqrt(2.0 * 30.0 * 2.0 / 3.0));
        assert_close(schedule.distance_m(), 30.0);
    }

    #[test]
    fn the_car_slows_before_a_lower_limit_and_speeds_up_after_it() {
        let schedule = driven(&[leg(500.0, 20.0), leg(100.0, 10.0), leg(500.0, 20.0)]);
        let distances_m = schedule.distances_m();
        for (distance_m, speed_mps) in distances_m.iter().zip(&schedule.speed_mps) {
            if (500.0..=600.0).contains(distance_m) {
                assert!(*speed_mps <= 10.0 + 1e-9);
            }
        }
        // Each pair of a rise and a fall between 10 and 20 m/s costs the closed form again.
        let up_m = 200.0 + 150.0;
        let down_m = 75.0 + 100.0;
        let cruise_s = (1000.0 - up_m - down_m) / 20.0 + 100.0 / 10.0;
        assert_close(schedule.duration_s(), cruise_s + 20.0 + 5.0 + 10.0 + 10.0);
        assert_close(schedule.distance_m(), 1100.0);
    }

    /// A limit that lies behind a short leg is braked for before that leg.
    #[test]
    fn braking_reaches_back_over_several_legs() {
        let schedule =
            driven(&[leg(500.0, 20.0), leg(10.0, 19.0), leg(10.0, 18.0), leg(50.0, 2.0)]);
        let pairs = schedule.speed_mps.windows(2).zip(schedule.time_s.windows(2));
        for (v, t) in pairs {
            let acceleration = (v[1] - v[0]) / (t[1] - t[0]);
            assert!((-2.0 - 1e-6..=1.0 + 1e-6).contains(&acceleration), "{acceleration}");
        }
        assert_close(schedule.distance_m(), 570.0);
    }

    #[test]
    fn a_stop_is_waited_out_where_it_stands() {
        let mut legs = [leg(300.0, 10.0), leg(300.0, 10.0)];
        legs[0].stop_s = 17.0;
        let (schedule, held) = drive(&legs, 5.0, COMFORT, "t", "").unwrap();
        assert_close(held.speeding_up_s, 2.0 * 10.0);
        assert_close(held.stop_s, 5.0 + 17.0 + 2.0 * 5.0);
        assert_close(held.limit_s, schedule.duration_s() - held.speeding_up_s - held.stop_s);
        let run_s = 300.0 / 10.0 + 10.0 / 2.0 + 10.0 / 4.0;
        assert_close(schedule.duration_s(), 5.0 + run_s + 17.0 + run_s);
        assert_eq!(schedule.stops(), 2);
        let stop = schedule.time_s.iter().position(|t| (t - 5.0 - run_s).abs() < 1e-6).unwrap();
        assert_close(schedule.time_s[stop + 1] - schedule.time_s[stop], 17.0);
        assert_close(schedule.distances_m()[stop], 300.0);
    }

    #[test]
    fn slopes_stay_with_their_distance() {
        let mut legs = [leg(400.0, 10.0), leg(333.3, 15.0), leg(200.0, 5.0)];
        legs[1].slope = 0.05;
        legs[2].slope = -0.1;
        let schedule = driven(&legs);
        assert_close(schedule.climb_m(), 333.3 * f64::atan(0.05).sin());
        assert_close(schedule.descent_m(), 200.0 * f64::atan(0.1).sin());
    }

    #[test]
    fn an_impossible_driver_and_an_endless_road_are_refused() {
        let comfort = Comfort { acceleration_mps2: 0.0, ..COMFORT };
        let refused = drive(&[leg(9.0, 9.0)], 0.0, comfort, "t", "").unwrap_err().to_string();
        assert!(refused.contains("acceleration_mps2 is 0, and 0.05 to 15 m/s²"), "{refused}");
        let refused = drive(&[leg(1e9, 1.0)], 0.0, COMFORT, "t", "").unwrap_err().to_string();
        assert!(refused.contains("at most 604800 s (a week)"), "{refused}");
    }
}
