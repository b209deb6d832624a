//! A speed trace made ready for stepping.

use crate::Invalid;

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
    /// Lowest speed within tolerance at its end, m/s.
    pub low_mps: f64,
    /// Highest speed within tolerance at its end, m/s.
    pub high_mps: f64,
}

/// A speed trace: what the driver wants to drive.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    stretches: Vec<Stretch>,
    duration_s: f64,
}

/// Speed tolerance of trace following, m/s: 2 mph (40 CFR 86.115).
pub const TOLERANCE_MPS: f64 = 2.0 * 0.44704;
/// Time tolerance of trace following, s (40 CFR 86.115).
pub const TOLERANCE_S: f64 = 1.0;
/// How long an excursion may last, s (40 CFR 86.115).
pub const EXCURSION_S: f64 = 2.0;

impl Trace {
    /// From points in time with a slope (rise over run) for each interval between them.
    ///
    /// # Errors
    /// [`Invalid`] when there are fewer than two points, lengths do not match, time does not rise,
    /// or a speed or slope is not finite or out of range.
    pub fn new(time_s: &[f64], speed_mps: &[f64], slope: &[f64]) -> Result<Self, Invalid> {
        let n = time_s.len();
        if n < 2 || speed_mps.len() != n || slope.len() != n - 1 {
            let value = format!("{n} times, {} speeds, {} slopes", speed_mps.len(), slope.len());
            return Err(Invalid::new("trace", value, "n times, n speeds, n − 1 slopes, n ≥ 2"));
        }
        if let Some(v) = speed_mps.iter().find(|v| !(0.0..150.0).contains(*v)) {
            return Err(Invalid::new("speed", v, "0 to 150 m/s"));
        }
        let mut stretches = Vec::with_capacity(n - 1);
        let mut end_m = 0.0;
        for i in 0..n - 1 {
            let for_s = time_s[i + 1] - time_s[i];
            if !(for_s > 0.0 && for_s.is_finite()) {
                return Err(Invalid::new("time", time_s[i + 1], "times that rise"));
            }
            if !(slope[i].abs() <= 1.0) {
                return Err(Invalid::new("slope", slope[i], "−1 to 1"));
            }
            end_m += 0.5 * (speed_mps[i] + speed_mps[i + 1]) * for_s;
            let cos_grade = 1.0 / (1.0 + slope[i] * slope[i]).sqrt();
            let (low, high) = band(time_s, speed_mps, i + 1);
            stretches.push(Stretch {
                for_s,
                from_mps: speed_mps[i],
                to_mps: speed_mps[i + 1],
                sin_grade: slope[i] * cos_grade,
                cos_grade,
                end_m,
                low_mps: low - TOLERANCE_MPS,
                high_mps: high + TOLERANCE_MPS,
            });
        }
        Ok(Self { stretches, duration_s: time_s[n - 1] - time_s[0] })
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

    /// The stretches in order.
    pub fn stretches(&self) -> &[Stretch] {
        &self.stretches
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

/// Lowest and highest trace speed within the time tolerance of a point.
fn band(time_s: &[f64], speed_mps: &[f64], at: usize) -> (f64, f64) {
    let t = time_s[at];
    let interpolate = |i: usize, wanted: f64| {
        let u = (wanted - time_s[i]) / (time_s[i + 1] - time_s[i]);
        speed_mps[i] + u * (speed_mps[i + 1] - speed_mps[i])
    };
    let (mut low, mut high) = (speed_mps[at], speed_mps[at]);
    let mut take = |v: f64| {
        low = low.min(v);
        high = high.max(v);
    };
    let mut i = at;
    while i > 0 && time_s[i] > t - TOLERANCE_S {
        i -= 1;
        take(if time_s[i] >= t - TOLERANCE_S {
            speed_mps[i]
        } else {
            interpolate(i, t - TOLERANCE_S)
        });
    }
    let mut i = at;
    while i + 1 < time_s.len() && time_s[i] < t + TOLERANCE_S {
        i += 1;
        take(if time_s[i] <= t + TOLERANCE_S {
            speed_mps[i]
        } else {
            interpolate(i - 1, t + TOLERANCE_S)
        });
    }
    (low, high)
}
