//! A road without a clock: speed limits over distance, driven by a comfortable driver.

use crate::table::{Quantity, Table};
use crate::{Error, Schedule, timed};

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

/// A piece of road with one limit and one slope.
pub(crate) struct Section {
    pub length_m: f64,
    pub limit_mps: f64,
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
}

/// Rows of distance and limit, each limit holding from its row to the next.
pub(crate) fn by_limits(
    table: &Table,
    recorded: bool,
    comfort: Comfort,
    name: &str,
    source: &str,
) -> Result<Schedule, Error> {
    let distance_m = table.increasing(Quantity::Distance)?;
    let limit_mps = table.filled(Quantity::Limit)?;
    let slope = timed::slopes(table, &distance_m, recorded)?;
    let stops = table.cells(Quantity::Stop);
    let stop_s = |row: usize| stops.and_then(|cells| cells[row]).unwrap_or(0.0);
    let legs: Vec<Section> = (0..slope.len())
        .map(|row| Section {
            length_m: distance_m[row + 1] - distance_m[row],
            limit_mps: limit_mps[row],
            slope: slope[row],
            stop_s: stop_s(row + 1),
        })
        .collect();
    drive(&legs, stop_s(0), comfort, name, source)
}

/// Drives the legs from rest to rest as fast as limits and comfort allow.
///
/// With constant acceleration v² is linear in distance, v₁² = v₀² + 2·a·s. A pass backward over
/// the ends of the legs lowers each speed to one from which the next can be reached by braking, a
/// pass forward to one that can be reached by accelerating. Within a leg of length s the car
/// then peaks at v² = min(limit², (2·a·b·s + b·v₀² + a·v₁²)/(a + b)). The schedule is sampled at
/// 1 s, and where the acceleration changes, so that the trapezoid rule is exact.
pub(crate) fn drive(
    legs: &[Section],
    first_stop_s: f64,
    comfort: Comfort,
    name: &str,
    source: &str,
) -> Result<Schedule, Error> {
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

    let mut end_mps: Vec<f64> = legs
        .iter()
        .enumerate()
        .map(|(i, leg)| match legs.get(i + 1) {
            Some(next) if leg.stop_s == 0.0 => leg.limit_mps.min(next.limit_mps),
            _ => 0.0,
        })
        .collect();
    for i in (1..legs.len()).rev() {
        let brakes_from = (end_mps[i].powi(2) + 2.0 * down * legs[i].length_m).sqrt();
        end_mps[i - 1] = end_mps[i - 1].min(brakes_from);
    }
    let mut start_mps = 0.0;
    let mut motions =
        vec![Motion { duration_s: first_stop_s, from_mps: 0.0, to_mps: 0.0, slope: 0.0 }];
    for (leg, end_mps) in legs.iter().zip(&end_mps) {
        let reaches = (f64::powi(start_mps, 2) + 2.0 * up * leg.length_m).sqrt();
        let end_mps = end_mps.min(reaches);
        let free_peak_squared =
            (2.0 * up * down * leg.length_m + down * start_mps.powi(2) + up * end_mps.powi(2))
                / (up + down);
        let peak_mps = free_peak_squared.sqrt().min(leg.limit_mps).max(start_mps).max(end_mps);
        let up_m = (peak_mps.powi(2) - start_mps.powi(2)) / (2.0 * up);
        let down_m = (peak_mps.powi(2) - end_mps.powi(2)) / (2.0 * down);
        let slope = leg.slope;
        let mut add = |duration_s, from_mps, to_mps, slope| {
            motions.push(Motion { duration_s, from_mps, to_mps, slope });
        };
        add((peak_mps - start_mps) / up, start_mps, peak_mps, slope);
        add((leg.length_m - up_m - down_m) / peak_mps, peak_mps, peak_mps, slope);
        add((peak_mps - end_mps) / down, peak_mps, end_mps, slope);
        add(leg.stop_s, 0.0, 0.0, 0.0);
        start_mps = end_mps;
    }
    sample(&motions, name, source)
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

    fn leg(length_m: f64, limit_mps: f64) -> Section {
        Section { length_m, limit_mps, slope: 0.0, stop_s: 0.0 }
    }

    fn driven(legs: &[Section]) -> Schedule {
        drive(legs, 0.0, COMFORT, "t", "").unwrap()
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
        let schedule = drive(&legs, 5.0, COMFORT, "t", "").unwrap();
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
