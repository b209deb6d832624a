//! A speed trace made ready for stepping.

use super::along::Along;
use crate::Invalid;
use crate::car::Slope;

/// One stretch of a trace: speed changes evenly, the slope is constant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Duration, s.
    pub for_s: f64,
    /// Speed at its start, m/s.
    pub from_mps: f64,
    /// Speed at its end, m/s.
    pub to_mps: f64,
    /// Sine of the road's angle.
    pub sin_grade: f64,
    /// Cosine of the road's angle.
    pub cos_grade: f64,
    /// Distance of its end from the trace's start, m.
    pub end_m: f64,
    /// Height of its end over the trace's start, m.
    pub end_up_m: f64,
    /// Lowest speed within tolerance at its end, m/s.
    pub low_mps: f64,
    /// Highest speed within tolerance at its end, m/s.
    pub high_mps: f64,
    /// Load on the traction pack besides the car's own auxiliaries, W.
    pub auxiliary_w: f64,
}

/// A speed trace: what the driver wants to drive.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    stretches: Vec<Stretch>,
    duration_s: f64,
    level: bool,
    reaches: Vec<Reach>,
}

/// A part of a road along which the same is known, up to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reach {
    /// Number of its first stretch, from 0.
    pub first: usize,
    /// Time at its start from the trace's, s.
    pub from_s: f64,
    /// What is known of it.
    pub along: Along,
}

/// Speed tolerance of trace following, m/s: 2 mph (40 CFR 86.115).
pub const TOLERANCE_MPS: f64 = 2.0 * 0.44704;
/// Time tolerance of trace following, s (40 CFR 86.115).
pub const TOLERANCE_S: f64 = 1.0;
/// Longest stretch, s: the driver looks at the road at least so often.
pub const LONGEST_STRETCH_S: f64 = 1.0;
/// Most stretches of a trace (four months of seconds).
const MOST_STRETCHES: f64 = 1e7;
/// Largest load of a stretch, W.
const MOST_AUXILIARY_W: f64 = 100_000.0;
/// How long an excursion may last, s (40 CFR 86.115).
pub const EXCURSION_S: f64 = 2.0;

impl Trace {
    /// From points in time with a slope (rise over run) for each interval between them. Intervals
    /// longer than [`LONGEST_STRETCH_S`] become several stretches.
    ///
    /// # Errors
    /// [`Invalid`] when there are fewer than two points, lengths do not match, time does not rise,
    /// or a speed or slope is not finite or out of range.
    pub fn new(time_s: &[f64], speed_mps: &[f64], slope: &[f64]) -> Result<Self, Invalid> {
        Self::loaded(time_s, speed_mps, slope, &[])
    }

    /// As [`Self::new`], with a load on the traction pack besides the car's own auxiliaries for
    /// each interval, W; an empty slice stands for no load.
    ///
    /// # Errors
    /// As for [`Self::new`], and when the loads are neither none nor one an interval, or one is
    /// not within 0 to 100 kW.
    pub fn loaded(
        time_s: &[f64],
        speed_mps: &[f64],
        slope: &[f64],
        auxiliary_w: &[f64],
    ) -> Result<Self, Invalid> {
        let n = time_s.len();
        if !auxiliary_w.is_empty() && auxiliary_w.len() + 1 != n {
            let value = format!("{n} times, {} auxiliary loads", auxiliary_w.len());
            return Err(Invalid::new("trace", value, "n − 1 auxiliary loads, or none"));
        }
        if let Some(w) = auxiliary_w.iter().find(|w| !(0.0..=MOST_AUXILIARY_W).contains(*w)) {
            return Err(Invalid::new("auxiliary load", w, "0 to 100 kW"));
        }
        if n < 2 || speed_mps.len() != n || slope.len() != n - 1 {
            let value = format!("{n} times, {} speeds, {} slopes", speed_mps.len(), slope.len());
            return Err(Invalid::new("trace", value, "n times, n speeds, n − 1 slopes, n ≥ 2"));
        }
        if let Some(v) = speed_mps.iter().find(|v| !(0.0..150.0).contains(*v)) {
            return Err(Invalid::new("speed", v, "0 to 150 m/s"));
        }
        let mut stretches = Vec::with_capacity(n - 1);
        let (mut end_m, mut end_up_m) = (0.0, 0.0);
        for i in 0..n - 1 {
            let for_s = time_s[i + 1] - time_s[i];
            if !(for_s > 0.0 && for_s.is_finite()) {
                return Err(Invalid::new("time", time_s[i + 1], "times that rise"));
            }
            if !(-1.0..=1.0).contains(&slope[i]) {
                return Err(Invalid::new("slope", slope[i], "−1 to 1"));
            }
            let cos_grade = 1.0 / (1.0 + slope[i] * slope[i]).sqrt();
            let parts = (for_s / LONGEST_STRETCH_S - 1e-9).ceil().max(1.0);
            if stretches.len() as f64 + parts > MOST_STRETCHES {
                let allowed = format!("at most {MOST_STRETCHES:.0} s in all");
                return Err(Invalid::new("duration", time_s[i + 1], allowed));
            }
            let at = |k: f64| speed_mps[i] + (speed_mps[i + 1] - speed_mps[i]) * k / parts;
            let part_s = for_s / parts;
            for k in 0..parts as u32 {
                let k = f64::from(k);
                let last = k + 1.0 == parts;
                let (from_mps, to_mps) = (at(k), if last { speed_mps[i + 1] } else { at(k + 1.0) });
                let along_m = 0.5 * (from_mps + to_mps) * part_s;
                end_m += along_m;
                end_up_m += along_m * slope[i] * cos_grade;
                let end_s = if last { time_s[i + 1] } else { time_s[i] + (k + 1.0) * part_s };
                let (low, high) = band(time_s, speed_mps, i, end_s);
                stretches.push(Stretch {
                    for_s: part_s,
                    from_mps,
                    to_mps,
                    sin_grade: slope[i] * cos_grade,
                    cos_grade,
                    end_m,
                    end_up_m,
                    low_mps: low - TOLERANCE_MPS,
                    high_mps: high + TOLERANCE_MPS,
                    auxiliary_w: auxiliary_w.get(i).copied().unwrap_or(0.0),
                });
            }
        }
        let level = slope.iter().all(|s| *s == 0.0);
        let duration_s = time_s[n - 1] - time_s[0];
        Ok(Self { stretches, duration_s, level, reaches: Vec::new() })
    }

    /// A steady speed on a constant slope, in stretches of a second.
    ///
    /// # Errors
    /// [`Invalid`] as for [`Self::new`], or with more than 10 million seconds.
    pub fn steady(speed_mps: f64, slope: f64, for_s: f64) -> Result<Self, Invalid> {
        if !(0.0..1e7).contains(&for_s) {
            return Err(Invalid::new("duration", for_s, "0 to 1e7 s"));
        }
        let n = for_s.ceil().max(1.0) as usize;
        let time_s: Vec<f64> = (0..=n).map(|i| for_s * i as f64 / n as f64).collect();
        Self::new(&time_s, &vec![speed_mps; n + 1], &vec![slope; n])
    }

    /// The same with what is known along it, each from a time in s after its start on; a change takes
    /// hold with the next stretch. Before the first, and with none, nothing is known.
    ///
    /// # Errors
    /// [`Invalid`] where times do not rise, or an air, a wind or a heading is out of range.
    pub fn through(mut self, along: &[(f64, Along)]) -> Result<Self, Invalid> {
        if let Some(pair) = along.windows(2).find(|pair| pair[0].0 >= pair[1].0) {
            return Err(Invalid::new("time along the road", pair[1].0, "times that rise"));
        }
        along.iter().try_for_each(|(_, along)| along.check())?;
        self.reaches.clear();
        let (mut next, mut now_s) = (0, 0.0);
        for (first, stretch) in self.stretches.iter().enumerate() {
            let here = next;
            while along.get(next).is_some_and(|(from_s, _)| *from_s <= now_s + 1e-6) {
                next += 1;
            }
            let before = self.reaches.last().map(|reach| reach.along);
            if next > here && before != Some(along[next - 1].1) {
                self.reaches.push(Reach { first, from_s: now_s, along: along[next - 1].1 });
            }
            now_s += stretch.for_s;
        }
        Ok(self)
    }

    /// What is known along it.
    pub fn reaches(&self) -> &[Reach] {
        &self.reaches
    }

    /// The stretches in order.
    pub fn stretches(&self) -> &[Stretch] {
        &self.stretches
    }

    /// Mean slope of the road between two distances, by the height at both, so that a step across
    /// a change of slope climbs what the road climbs. `place` is the stretch of the earlier
    /// distance and is moved on; beyond its last stretch the road goes on as it ended.
    #[inline]
    pub fn slope_between(&self, place: &mut usize, from_m: f64, to_m: f64) -> Slope {
        if self.level {
            return Slope::LEVEL;
        }
        let last = self.stretches.len() - 1;
        while *place < last && self.stretches[*place].end_m < from_m {
            *place += 1;
        }
        let mut end = *place;
        while end < last && self.stretches[end].end_m < to_m {
            end += 1;
        }
        let along_m = to_m - from_m;
        if end == *place || along_m < 1e-6 {
            let road = &self.stretches[end];
            return Slope { sin: road.sin_grade, cos: road.cos_grade };
        }
        let up_m = |i: usize, at_m: f64| {
            let road = &self.stretches[i];
            road.end_up_m - road.sin_grade * (road.end_m - at_m)
        };
        let sin = (up_m(end, to_m) - up_m(*place, from_m)) / along_m;
        Slope { sin, cos: (1.0 - sin * sin).max(0.0).sqrt() }
    }

    /// Whether the road is level all along.
    pub fn is_level(&self) -> bool {
        self.level
    }

    /// Duration, s.
    pub fn duration_s(&self) -> f64 {
        self.duration_s
    }

    /// Distance, m.
    pub fn distance_m(&self) -> f64 {
        self.stretches[self.stretches.len() - 1].end_m
    }
}

/// Lowest and highest trace speed within the time tolerance of a time in an interval.
fn band(time_s: &[f64], speed_mps: &[f64], interval: usize, at_s: f64) -> (f64, f64) {
    let speed = |i: usize, t: f64| {
        let u = (t - time_s[i]) / (time_s[i + 1] - time_s[i]);
        speed_mps[i] + u.clamp(0.0, 1.0) * (speed_mps[i + 1] - speed_mps[i])
    };
    let here = speed(interval, at_s);
    let (mut low, mut high) = (here, here);
    let mut take = |v: f64| {
        low = low.min(v);
        high = high.max(v);
    };
    let mut i = interval;
    while time_s[i] > at_s - TOLERANCE_S && i > 0 {
        take(speed_mps[i]);
        i -= 1;
    }
    take(speed(i, at_s - TOLERANCE_S));
    let mut i = interval;
    while time_s[i + 1] < at_s + TOLERANCE_S && i + 2 < time_s.len() {
        take(speed_mps[i + 1]);
        i += 1;
    }
    take(speed(i, at_s + TOLERANCE_S));
    (low, high)
}
