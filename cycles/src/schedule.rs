use std::f64::consts::PI;

use crate::{Along, Error};

/// The highest speed that a schedule may hold, in m/s (432 km/h).
pub const SPEED_LIMIT_MPS: f64 = 120.0;

/// The steepest slope that a schedule may hold, rise over run.
pub const SLOPE_LIMIT: f64 = 0.6;

/// A named part of a schedule, from one of its points to another.
#[derive(Debug, Clone, PartialEq)]
pub struct Phase {
    /// The name that [`Schedule::phase`] finds it by.
    pub name: String,
    /// Time of its first point, in s.
    pub from_s: f64,
    /// Time of its last point, in s.
    pub to_s: f64,
}

/// The thing that a run follows: speed and slope against time.
///
/// Between two points the acceleration is constant, so speed is linear in time and the distance
/// of an interval is (v₀ + v₁)/2 · Δt. Intervals may be of any length. Distances are measured
/// along the road surface.
#[derive(Debug, Clone, PartialEq)]
pub struct Schedule {
    /// Short name for reports.
    pub name: String,
    /// Where the figures come from: a regulation or a file.
    pub source: String,
    /// Time of each point in s, strictly increasing.
    pub time_s: Vec<f64>,
    /// Speed at each point in m/s, 0 to 120.
    pub speed_mps: Vec<f64>,
    /// Rise over run of each interval, −0.6 to 0.6; one fewer than there are points.
    pub slope: Vec<f64>,
    /// Named parts; often none.
    pub phases: Vec<Phase>,
    /// Recorded load on the traction pack in W for each interval, 0 to 100 kW, such as that of a
    /// heater; empty where none was recorded.
    pub auxiliary_w: Vec<f64>,
    /// What is known along each interval: heading, and air and wind where they are other than around
    /// the car; empty where nothing is.
    pub along: Vec<Along>,
}

impl Schedule {
    /// Checks the figures and makes a schedule of them.
    ///
    /// # Errors
    /// [`Error::Schedule`] where there are fewer than two points, the lengths do not fit together, a
    /// time is not finite or not after the one before, a speed is not in 0 to 120 m/s, a slope is
    /// not in −0.6 to 0.6, or a phase does not run from one point to a later one.
    pub fn new(
        name: impl Into<String>,
        source: impl Into<String>,
        time_s: Vec<f64>,
        speed_mps: Vec<f64>,
        slope: Vec<f64>,
        phases: Vec<Phase>,
    ) -> Result<Self, Error> {
        let schedule = Self {
            name: name.into(),
            source: source.into(),
            time_s,
            speed_mps,
            slope,
            phases,
            auxiliary_w: Vec::new(),
            along: Vec::new(),
        };
        schedule.check()?;
        Ok(schedule)
    }

    /// A schedule on a level road.
    ///
    /// # Errors
    /// As [`Schedule::new`].
    pub fn level(
        name: impl Into<String>,
        source: impl Into<String>,
        time_s: Vec<f64>,
        speed_mps: Vec<f64>,
    ) -> Result<Self, Error> {
        let slope = vec![0.0; time_s.len().saturating_sub(1)];
        Self::new(name, source, time_s, speed_mps, slope, Vec::new())
    }

    fn check(&self) -> Result<(), Error> {
        let points = self.time_s.len();
        if points < 2 {
            return Err(self.fault("number of points", points, "2 or more"));
        }
        if self.speed_mps.len() != points {
            let found = self.speed_mps.len();
            return Err(self.fault("number of speeds", found, format!("{points}, one a point,")));
        }
        if self.slope.len() != points - 1 {
            let (found, needed) = (self.slope.len(), points - 1);
            return Err(self.fault(
                "number of slopes",
                found,
                format!("{needed}, one an interval,"),
            ));
        }
        for (i, time_s) in self.time_s.iter().enumerate() {
            if !time_s.is_finite() {
                return Err(self.fault(format!("time_s[{i}]"), time_s, "a finite number"));
            }
            if i > 0 && *time_s <= self.time_s[i - 1] {
                let before_s = self.time_s[i - 1];
                return Err(self.fault(
                    format!("time_s[{i}]"),
                    time_s,
                    format!("a time after the {before_s} s before it"),
                ));
            }
        }
        for (i, speed_mps) in self.speed_mps.iter().enumerate() {
            if !(0.0..SPEED_LIMIT_MPS).contains(speed_mps) {
                return Err(self.fault(
                    format!("speed_mps[{i}]"),
                    speed_mps,
                    "0 to below 120 m/s (432 km/h)",
                ));
            }
        }
        for (i, slope) in self.slope.iter().enumerate() {
            if !(-SLOPE_LIMIT..=SLOPE_LIMIT).contains(slope) {
                return Err(self.fault(
                    format!("slope[{i}]"),
                    slope,
                    "-0.6 to 0.6 (60 % up or down)",
                ));
            }
        }
        for phase in &self.phases {
            let is_point = |t| self.time_s.contains(&t);
            if !is_point(phase.from_s) || !is_point(phase.to_s) || phase.from_s >= phase.to_s {
                return Err(self.fault(
                    format!("phase `{}`", phase.name),
                    format!("from {} to {} s", phase.from_s, phase.to_s),
                    "the time of a point and that of a later one",
                ));
            }
        }
        Ok(())
    }

    fn fault(
        &self,
        field: impl Into<String>,
        value: impl ToString,
        allowed: impl Into<String>,
    ) -> Error {
        Error::Schedule {
            schedule: self.name.clone(),
            field: field.into(),
            value: value.to_string(),
            allowed: allowed.into(),
        }
    }

    /// Length in m of each interval: (v₀ + v₁)/2 · Δt.
    pub fn interval_lengths_m(&self) -> impl Iterator<Item = f64> + '_ {
        let speeds = self.speed_mps.windows(2);
        speeds.zip(self.time_s.windows(2)).map(|(v, t)| 0.5 * (v[0] + v[1]) * (t[1] - t[0]))
    }

    /// Distance in m from the start to each point, by the trapezoid rule.
    pub fn distances_m(&self) -> Vec<f64> {
        let mut so_far_m = 0.0;
        std::iter::once(0.0)
            .chain(self.interval_lengths_m().map(|length_m| {
                so_far_m += length_m;
                so_far_m
            }))
            .collect()
    }

    /// Distance in m from start to end, by the trapezoid rule.
    pub fn distance_m(&self) -> f64 {
        self.interval_lengths_m().sum()
    }

    /// Time in s from the first point to the last.
    pub fn duration_s(&self) -> f64 {
        self.time_s.last().unwrap_or(&0.0) - self.time_s.first().unwrap_or(&0.0)
    }

    /// Distance over duration in m/s, stand-stills included.
    pub fn mean_speed_mps(&self) -> f64 {
        self.distance_m() / self.duration_s()
    }

    /// The highest speed in m/s.
    pub fn peak_speed_mps(&self) -> f64 {
        self.speed_mps.iter().copied().fold(0.0, f64::max)
    }

    /// How often the car comes to rest from motion.
    pub fn stops(&self) -> usize {
        let pairs = self.speed_mps.windows(2);
        pairs.filter(|v| v[0] > 0.0 && v[1] == 0.0).count()
    }

    /// Height in m gained by each interval: Δs · sin(arctan slope).
    fn interval_rises_m(&self) -> impl Iterator<Item = f64> + '_ {
        let slopes = self.slope.iter();
        slopes
            .zip(self.interval_lengths_m())
            .map(|(slope, length_m)| length_m * slope / slope.hypot(1.0))
    }

    /// Sum in m of all rises.
    pub fn climb_m(&self) -> f64 {
        self.interval_rises_m().map(|rise_m| rise_m.max(0.0)).sum()
    }

    /// Sum in m of all falls, as a positive number.
    pub fn descent_m(&self) -> f64 {
        self.interval_rises_m().map(|rise_m| (-rise_m).max(0.0)).sum()
    }

    /// The part of the schedule that a phase names, with its clock set to zero at its first point.
    ///
    /// The name is compared without regard to case.
    ///
    /// # Errors
    /// [`Error::Schedule`] where no phase has this name.
    pub fn phase(&self, name: &str) -> Result<Self, Error> {
        let Some(phase) = self.phases.iter().find(|p| p.name.eq_ignore_ascii_case(name)) else {
            let names: Vec<_> = self.phases.iter().map(|p| p.name.as_str()).collect();
            let allowed = match names.as_slice() {
                [] => "no phase, as this schedule has none,".to_owned(),
                names => format!("one of {}", names.join(", ")),
            };
            return Err(self.fault("phase", format!("`{name}`"), allowed));
        };
        let first = self.time_s.partition_point(|t| *t < phase.from_s);
        let last = self.time_s.partition_point(|t| *t < phase.to_s);
        let from_s = phase.from_s;
        let schedule = Self::new(
            format!("{}-{}", self.name, phase.name),
            self.source.clone(),
            self.time_s[first..=last].iter().map(|t| t - from_s).collect(),
            self.speed_mps[first..=last].to_vec(),
            self.slope[first..last].to_vec(),
            Vec::new(),
        )?;
        let auxiliary_w = self.auxiliary_w.get(first..last).unwrap_or_default().to_vec();
        let along = self.along.get(first..last).unwrap_or_default().to_vec();
        Ok(Self { auxiliary_w, along, ..schedule })
    }

    /// The schedule without the phases that peak above a speed, each of the others beginning at the
    /// last point of the one before, and the phases that were left out. Where that would be all,
    /// the first one stays; the clock and the phases of a schedule that loses any are new.
    ///
    /// # Errors
    /// [`Error::Schedule`] where phases that come together do not meet at one speed.
    pub fn up_to(&self, speed_mps: f64) -> Result<(Self, Vec<Phase>), Error> {
        let span = |phase: &Phase| {
            let point = |at_s: f64| self.time_s.partition_point(|t| *t < at_s);
            point(phase.from_s)..=point(phase.to_s)
        };
        let fits = |phase: &Phase| self.speed_mps[span(phase)].iter().all(|v| *v <= speed_mps);
        let (mut kept, mut left_out): (Vec<Phase>, Vec<Phase>) =
            self.phases.iter().cloned().partition(fits);
        if kept.is_empty() && !left_out.is_empty() {
            kept.push(left_out.remove(0));
        }
        if left_out.is_empty() {
            return Ok((self.clone(), left_out));
        }
        let mut driven = Self {
            time_s: vec![0.0],
            speed_mps: vec![self.speed_mps[*span(&kept[0]).start()]],
            slope: Vec::new(),
            phases: Vec::new(),
            auxiliary_w: Vec::new(),
            along: Vec::new(),
            ..self.clone()
        };
        for phase in kept {
            let (first, last) = span(&phase).into_inner();
            let from_s = driven.time_s[driven.time_s.len() - 1];
            let (speed, needed) =
                (self.speed_mps[first], driven.speed_mps[driven.speed_mps.len() - 1]);
            if speed != needed {
                let field = format!("speed where phase `{}` begins", phase.name);
                return Err(self.fault(field, format!("{speed} m/s"), format!("{needed} m/s")));
            }
            let later = |t: &f64| from_s + (t - self.time_s[first]);
            driven.time_s.extend(self.time_s[first + 1..=last].iter().map(later));
            driven.speed_mps.extend_from_slice(&self.speed_mps[first + 1..=last]);
            driven.slope.extend_from_slice(&self.slope[first..last]);
            driven.auxiliary_w.extend(self.auxiliary_w.get(first..last).unwrap_or_default());
            driven.along.extend(self.along.get(first..last).unwrap_or_default());
            let to_s = driven.time_s[driven.time_s.len() - 1];
            driven.phases.push(Phase { from_s, to_s, ..phase });
        }
        driven.check()?;
        Ok((driven, left_out))
    }

    /// The way back: the same speeds and slopes from the end to the start, rises become falls.
    /// A driver who speeds up gently and brakes hard does so on the way back too only where the
    /// road has limits; a recorded drive is driven backwards, pull-aways become stops. The road leads the
    /// other way, and a head wind on it is a tail wind. Phases and recorded loads are dropped, as neither
    /// belongs to the way back.
    pub fn reversed(&self) -> Self {
        let end_s = self.time_s.last().copied().unwrap_or(0.0);
        let back = |along: &Along| Along {
            heading_rad: along.heading_rad.map(|heading| heading + PI),
            air_k: along.air_k,
            head_wind_mps: along.head_wind_mps.map(|wind_mps| -wind_mps),
        };
        Self {
            name: format!("{}, back", self.name),
            source: self.source.clone(),
            time_s: self.time_s.iter().rev().map(|t| end_s - t).collect(),
            speed_mps: self.speed_mps.iter().rev().copied().collect(),
            slope: self.slope.iter().rev().map(|s| -s).collect(),
            phases: Vec::new(),
            auxiliary_w: Vec::new(),
            along: self.along.iter().rev().map(back).collect(),
        }
    }

    /// The schedule driven `times` times one after the other, the last point of one being the first
    /// of the next; phases are dropped.
    ///
    /// # Errors
    /// [`Error::Schedule`] where `times` is 0 or makes more than ten million points, or where the
    /// schedule does not end at the speed it starts from.
    pub fn repeat(&self, times: usize) -> Result<Self, Error> {
        const POINTS: usize = 10_000_000;
        let most = POINTS / self.time_s.len().max(1);
        if times == 0 || times > most {
            return Err(self.fault("number of repeats", times, format!("1 to {most}")));
        }
        let (first, last) = (self.speed_mps.first(), self.speed_mps.last());
        if times > 1 && first != last {
            return Err(self.fault(
                "last speed",
                format!("{} m/s", last.unwrap_or(&0.0)),
                format!("the first speed, {} m/s,", first.unwrap_or(&0.0)),
            ));
        }
        let mut time_s = self.time_s.clone();
        let mut speed_mps = self.speed_mps.clone();
        for lap in 1..times {
            let shift_s = lap as f64 * self.duration_s();
            time_s.extend(self.time_s[1..].iter().map(|t| t + shift_s));
            speed_mps.extend_from_slice(&self.speed_mps[1..]);
        }
        Self::new(
            self.name.clone(),
            self.source.clone(),
            time_s,
            speed_mps,
            self.slope.repeat(times),
            Vec::new(),
        )
        .map(|schedule| Self {
            auxiliary_w: self.auxiliary_w.repeat(times),
            along: self.along.repeat(times),
            ..schedule
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Up at 1 m/s² for 10 s, 10 s at 10 m/s, down at 2 m/s² for 5 s, 5 s at rest.
    fn trapezoid() -> Schedule {
        let phases = vec![Phase { name: "Cruise".into(), from_s: 12.0, to_s: 22.0 }];
        Schedule::new(
            "trapezoid",
            "closed form",
            vec![2.0, 12.0, 22.0, 27.0, 32.0],
            vec![0.0, 10.0, 10.0, 0.0, 0.0],
            vec![0.0, 0.1, -0.1, 0.0],
            phases,
        )
        .unwrap()
    }

    #[test]
    fn sums_follow_the_closed_form() {
        let schedule = trapezoid();
        assert_eq!(schedule.distance_m(), 50.0 + 100.0 + 25.0);
        assert_eq!(schedule.distances_m(), [0.0, 50.0, 150.0, 175.0, 175.0]);
        assert_eq!(schedule.duration_s(), 30.0);
        assert!((schedule.mean_speed_mps() - 175.0 / 30.0).abs() < 1e-12);
        assert_eq!(schedule.peak_speed_mps(), 10.0);
        assert_eq!(schedule.stops(), 1);
        let sine = 0.1f64.atan().sin();
        assert!((schedule.climb_m() - 100.0 * sine).abs() < 1e-12);
        assert!((schedule.descent_m() - 25.0 * sine).abs() < 1e-12);
    }

    #[test]
    fn the_way_back_is_as_long_and_falls_as_much_as_the_way_there_rises() {
        let there = trapezoid();
        let back = there.reversed();
        assert_eq!(back.check().map_err(|e| e.to_string()), Ok(()));
        assert_eq!(back.distance_m(), there.distance_m());
        assert_eq!(back.duration_s(), there.duration_s());
        assert_eq!((back.climb_m(), back.descent_m()), (there.descent_m(), there.climb_m()));
        assert_eq!(back.time_s, [0.0, 5.0, 10.0, 20.0, 30.0]);
        assert_eq!(back.reversed().speed_mps, there.speed_mps);
    }

    #[test]
    fn a_phase_starts_its_own_clock() {
        let mut schedule = trapezoid();
        schedule.auxiliary_w = vec![1.0, 2.0, 3.0, 4.0];
        assert_eq!(schedule.phase("cruise").unwrap().auxiliary_w, [2.0]);
        assert_eq!(schedule.repeat(2).unwrap().auxiliary_w, [1.0, 2.0, 3.0, 4.0].repeat(2));
        let cruise = trapezoid().phase("cruise").unwrap();
        assert_eq!(cruise.time_s, [0.0, 10.0]);
        assert_eq!(cruise.slope, [0.1]);
        assert_eq!(
            trapezoid().phase("sprint").unwrap_err().to_string(),
            "trace `trapezoid`: phase is `sprint`, and one of Cruise is needed"
        );
    }

    #[test]
    fn laps_share_their_ends() {
        let laps = trapezoid().repeat(3).unwrap();
        assert_eq!(laps.distance_m(), 3.0 * 175.0);
        assert_eq!(laps.duration_s(), 90.0);
        assert_eq!(laps.stops(), 3);
        assert_eq!(laps.time_s[4..7], [32.0, 42.0, 52.0]);
        assert!(trapezoid().repeat(0).is_err());
        assert!(trapezoid().repeat(usize::MAX).is_err());
        let rising = Schedule::level("rising", "", vec![0.0, 1.0], vec![0.0, 1.0]).unwrap();
        assert_eq!(
            rising.repeat(2).unwrap_err().to_string(),
            "trace `rising`: last speed is 1 m/s, and the first speed, 0 m/s, is needed"
        );
    }

    #[test]
    fn wrong_figures_are_named() {
        let level = |time_s: &[f64], speed_mps: &[f64]| {
            let made = Schedule::level("t", "", time_s.to_vec(), speed_mps.to_vec());
            made.unwrap_err().to_string()
        };
        let sentences = [
            (level(&[0.0], &[0.0]), "number of points is 1, and 2 or more"),
            (level(&[0.0, 1.0], &[0.0]), "number of speeds is 1, and 2, one a point,"),
            (level(&[0.0, f64::NAN], &[0.0, 0.0]), "time_s[1] is NaN, and a finite number"),
            (level(&[1.0, 1.0], &[0.0, 0.0]), "time_s[1] is 1, and a time after the 1 s before it"),
            (level(&[0.0, 1.0], &[0.0, -1.0]), "speed_mps[1] is -1, and 0 to below 120 m/s"),
            (level(&[0.0, 1.0], &[120.0, 1.0]), "speed_mps[0] is 120, and 0 to below 120 m/s"),
            (level(&[0.0, 1.0], &[f64::INFINITY, 1.0]), "speed_mps[0] is inf, and 0 to below"),
        ];
        for (found, expected) in sentences {
            assert!(found.contains(expected), "{found}");
        }
        let steep = Schedule::new("t", "", vec![0., 1.], vec![1., 1.], vec![0.7], Vec::new());
        assert!(steep.unwrap_err().to_string().contains("slope[0] is 0.7, and -0.6 to 0.6"));
        let missing = Schedule::new("t", "", vec![0., 1.], vec![1., 1.], vec![], Vec::new());
        assert!(missing.unwrap_err().to_string().contains("number of slopes is 0, and 1"));
        let phases = vec![Phase { name: "p".into(), from_s: 0.0, to_s: 0.5 }];
        let half = Schedule::new("t", "", vec![0., 1.], vec![1., 1.], vec![0.0], phases);
        assert!(half.unwrap_err().to_string().contains("phase `p` is from 0 to 0.5 s"));
    }
}
