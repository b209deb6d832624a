//! Where a recording coasts.

use cycles::{Recording, Signal};

/// A recording of speed by time.
#[derive(Debug, Clone, PartialEq)]
pub struct Recorded {
    /// What it is called.
    pub name: String,
    /// Times, s, rising.
    pub time_s: Vec<f64>,
    /// Speeds, m/s; no number where one is missing.
    pub speed_mps: Vec<f64>,
    /// Places, degrees east and north, where they were recorded: they tell which way each run went.
    pub places_deg: Option<Vec<(f64, f64)>>,
    /// Which way it went, where that is known.
    pub way: Option<Way>,
}

impl Recorded {
    /// What a log holds of it.
    ///
    /// # Errors
    /// Where no speed was recorded.
    pub fn of(recording: &Recording, way: Option<Way>) -> Result<Self, NoSpeed> {
        let name = recording.path.display().to_string();
        let Some(speeds) = recording.values(Signal::Speed) else { return Err(NoSpeed(name)) };
        let places = recording.values(Signal::Longitude).zip(recording.values(Signal::Latitude));
        let pairs = |(east, north): (&[f64], &[f64])| {
            east.iter().copied().zip(north.iter().copied()).collect()
        };
        Ok(Self {
            name,
            time_s: recording.time_s.clone(),
            speed_mps: speeds.to_vec(),
            places_deg: places.map(pairs),
            way,
        })
    }

    /// How far a run went east and north, in degrees of latitude; none where that was not recorded.
    fn went(&self, from_s: f64, to_s: f64) -> Option<(f64, f64)> {
        let places = self.places_deg.as_ref()?;
        let within = |t: &f64| *t >= from_s && *t <= to_s;
        let known = self.time_s.iter().zip(places).filter(|(t, p)| within(t) && p.0.is_finite());
        let (mut ends, narrow) = (known.map(|(_, p)| *p), places.first()?.1.to_radians().cos());
        let first = ends.next()?;
        let last = ends.next_back()?;
        Some(((last.0 - first.0) * narrow, last.1 - first.1))
    }
}

/// A recording without speeds.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error(
    "{0} has no speed that was understood; allowed: a column such as speed_kmh, speed_mph or speed_mps, \
     or positions with times"
)]
pub struct NoSpeed(String);

/// Which way a run went along the road.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Way {
    /// One way.
    Out,
    /// The other.
    Back,
}

impl Way {
    /// The other way.
    pub fn turned(self) -> Self {
        match self {
            Way::Out => Way::Back,
            Way::Back => Way::Out,
        }
    }

    /// The sign of what changes with the direction.
    pub(crate) fn sign(self) -> f64 {
        match self {
            Way::Out => 1.0,
            Way::Back => -1.0,
        }
    }
}

/// A stretch in which the speed falls as a coasting car's does.
#[derive(Debug, Clone)]
pub(crate) struct Leg {
    /// The recording that it is of.
    pub(crate) name: String,
    pub(crate) way: Way,
    /// How far it went east and north, in degrees of latitude, where that is known.
    pub(crate) went: Option<(f64, f64)>,
    /// Times in the recording, s.
    pub(crate) time_s: Vec<f64>,
    pub(crate) speed_mps: Vec<f64>,
    /// Pieces that nothing disturbs, by the places of their samples.
    pub(crate) pieces: Vec<std::ops::Range<usize>>,
}

/// A speed below which nothing is taken, m/s: 5 km/h, under which tyres and sensors are others.
const SLOWEST_MPS: f64 = 5.0 / 3.6;
/// A rise that ends a run, m/s.
const REVERSAL_MPS: f64 = 1.5;
/// What a run falls by at least, m/s, and how long it lasts at least, s.
pub(crate) const LEAST_FALL_MPS: f64 = 4.0;
pub(crate) const LEAST_S: f64 = 10.0;
/// What takes a run's speed faster than this is no coasting, m/s².
const HARDEST_MPS2: f64 = 1.2;
/// What is left out after the highest speed, s: the clutch, the lever and the smoothing of the search.
const ENTRY_S: f64 = 2.0;
/// Time between samples that are kept, s: more tell no more of a speed that falls slowly.
const APART_S: f64 = 0.1;
/// How long a speed stands still before it is taken for a sensor that does, s.
const FROZEN_S: f64 = 3.0;

/// A stretch of a recording in which the sensor gave nothing, or the same again and again.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Silent {
    pub(crate) from_s: f64,
    pub(crate) to_s: f64,
    pub(crate) frozen: bool,
}

/// The stretches of a recording that coast, and where the sensor was silent.
pub(crate) fn legs(recorded: &Recorded, way: Way) -> (Vec<Leg>, Vec<Silent>) {
    let (times, speeds) = thinned(recorded);
    let mut silent = Vec::new();
    let frozen = frozen(&times, &speeds, &mut silent);
    let kept: Vec<(f64, f64)> = times
        .iter()
        .zip(&speeds)
        .zip(&frozen)
        .filter(|(_, frozen)| !**frozen)
        .map(|((t, v), _)| (*t, *v))
        .collect();
    let typical_s = median(kept.windows(2).map(|pair| pair[1].0 - pair[0].0).collect());
    for pair in kept.windows(2) {
        let (from_s, to_s) = (pair[0].0, pair[1].0);
        let known = silent.iter().any(|s: &Silent| s.from_s < to_s && s.to_s > from_s);
        if to_s - from_s > (2.5 * typical_s).max(0.5) && !known {
            silent.push(Silent { from_s, to_s, frozen: false });
        }
    }
    let mut found = Vec::new();
    let mut way = way;
    for (first, last) in falls(&smoothed(&kept)) {
        let entered_s = if first > 0 { kept[first].0 + ENTRY_S } else { kept[first].0 };
        let fast = (first..last).filter(|i| kept[*i].1 > SLOWEST_MPS && kept[*i].0 >= entered_s);
        let (time_s, speed_mps): (Vec<f64>, Vec<f64>) = fast.map(|i| kept[i]).unzip();
        let (Some(from), Some(to)) = (time_s.first(), time_s.last()) else { continue };
        let fall = kept[first].1 - speed_mps[speed_mps.len() - 1];
        let enough = to - from >= LEAST_S && fall >= LEAST_FALL_MPS && time_s.len() >= 8;
        if !enough || fall / (to - from) > HARDEST_MPS2 {
            continue;
        }
        let all = 0..time_s.len();
        let went = recorded.went(*from, *to);
        found.push(Leg {
            name: recorded.name.clone(),
            way,
            went,
            time_s,
            speed_mps,
            pieces: vec![all],
        });
        // Whoever coasts twice in one recording has turned in between.
        way = way.turned();
    }
    let within = |s: &Silent| {
        let meets =
            |leg: &Leg| s.from_s < leg.time_s[leg.time_s.len() - 1] && s.to_s > leg.time_s[0];
        found.iter().any(meets)
    };
    silent.retain(within);
    (found, silent)
}

/// The samples at most ten a second, each the mean of what lies in its tenth.
fn thinned(recorded: &Recorded) -> (Vec<f64>, Vec<f64>) {
    let known = recorded.time_s.iter().zip(&recorded.speed_mps);
    let mut bins: Vec<(i64, f64, f64, f64)> = Vec::new();
    for (t, v) in known.filter(|(t, v)| t.is_finite() && v.is_finite()) {
        // Samples on the border of two tenths fall into one by their middle.
        let bin = (t / APART_S + 0.5).floor() as i64;
        match bins.last_mut() {
            Some(last) if last.0 == bin => {
                (last.1, last.2, last.3) = (last.1 + t, last.2 + v, last.3 + 1.0);
            }
            _ => bins.push((bin, *t, *v, 1.0)),
        }
    }
    bins.iter().map(|(_, t, v, n)| (t / n, v / n)).unzip()
}

/// Which samples repeat one another for too long while the car slows down before and after.
fn frozen(times: &[f64], speeds: &[f64], silent: &mut Vec<Silent>) -> Vec<bool> {
    let mut is = vec![false; times.len()];
    let mut from = 0;
    for i in 1..=times.len() {
        if i < times.len() && speeds[i] == speeds[from] {
            continue;
        }
        let held_s = times[i - 1] - times[from];
        if i - from >= 5 && held_s >= FROZEN_S && speeds[from] > SLOWEST_MPS {
            is[from + 1..i].fill(true);
            silent.push(Silent { from_s: times[from], to_s: times[i - 1], frozen: true });
        }
        from = i;
    }
    is
}

/// Means over two seconds to each side; the times stay.
fn smoothed(samples: &[(f64, f64)]) -> Vec<f64> {
    let (mut first, mut last, mut sum) = (0, 0, 0.0);
    let mut means = Vec::with_capacity(samples.len());
    for (t, _) in samples {
        while last < samples.len() && samples[last].0 <= t + 2.0 {
            sum += samples[last].1;
            last += 1;
        }
        while samples[first].0 < t - 2.0 {
            sum -= samples[first].1;
            first += 1;
        }
        means.push(sum / (last - first) as f64);
    }
    means
}

/// From each highest speed to the lowest that follows it, by the places of their samples.
fn falls(speeds: &[f64]) -> Vec<(usize, usize)> {
    let mut found = Vec::new();
    let (mut high, mut low) = (0, 0);
    for i in 0..speeds.len() {
        if speeds[i] < speeds[low] {
            low = i;
        }
        if speeds[i] > speeds[low] + REVERSAL_MPS || i + 1 == speeds.len() {
            if low > high {
                found.push((high, low + 1));
            }
            (high, low) = (i, i);
        } else if speeds[i] > speeds[high] {
            (high, low) = (i, i);
        }
    }
    found
}

/// The middle value; 0 of none.
pub(crate) fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    let middle = values.len() / 2;
    match values.len() {
        0 => 0.0,
        n if n % 2 == 1 => values[middle],
        _ => 0.5 * (values[middle - 1] + values[middle]),
    }
}
