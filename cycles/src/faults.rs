//! What is wrong with a recording: gaps, frozen channels, jumps.

use crate::channel::Channel;
use crate::error::short;
use crate::signal::Signal;

/// A kind of fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FaultKind {
    /// Nothing was recorded for a while.
    Gap,
    /// One value stood while the car drove and it should have changed; it is left out.
    Frozen,
    /// A value leaps as nothing can; one that leaps back is left out.
    Jump,
    /// The clock steps, or rows are out of order.
    Clock,
    /// Cells hold no number, or one that cannot be; they are left out.
    NoNumber,
    /// What it says cannot be, or not beside what others say; all of it is left out.
    Impossible,
}

/// Something wrong with a channel.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// The channel.
    pub signal: Signal,
    /// Its column; empty where there is none.
    pub column: String,
    /// What it is.
    pub kind: FaultKind,
    /// From when to when, s.
    pub spans: Vec<(f64, f64)>,
    /// What happened, without the column.
    pub words: String,
}

impl Fault {
    /// One sentence with the column's own name.
    pub fn sentence(&self) -> String {
        match self.column.as_str() {
            "" => format!("{}: {}.", self.signal.words(), self.words),
            column => format!("`{}` ({}): {}.", short(column), self.signal.words(), self.words),
        }
    }
}

/// A silence is longer than this, and than five of the channel's usual steps, s (common practice,
/// no source).
const SILENCE_S: f64 = 10.0;
const USUAL_STEPS: f64 = 5.0;
/// A value that stands longer than this times the ninth tenth of how long it usually does is frozen.
const USUAL_HOLDS: f64 = 10.0;
/// The car moves from here on, m/s.
const MOVING_MPS: f64 = 1.0;
/// A change of speed in which volts, amperes and torque change, m/s.
const CHANGE_MPS: f64 = 5.0;

/// For how long of driving a channel may keep one value, s; none where it may for a whole drive
/// (common practice, no source).
fn longest_hold_s(signal: Signal) -> Option<f64> {
    use Signal::*;
    Some(match signal {
        PackVoltage | PackCurrent | PackPower | MotorTorque | MotorSpeed | LowCell | HighCell => {
            15.0
        }
        Speed => 120.0,
        Elevation => 300.0,
        Winding | Sink | Heater | Auxiliaries => 600.0,
        Charge => 1200.0,
        _ => return None,
    })
}

/// What two neighbouring values may differ by, in so many a second and beyond it; none where
/// anything may be.
fn largest_leap(signal: Signal) -> Option<(f64, f64)> {
    use Signal::*;
    Some(match signal {
        // 1.5 g: no road car brakes so.
        Speed => (15.0, 1.0),
        Charge => (0.005, 0.03),
        Elevation => (10.0, 30.0),
        Winding | Housing | Sink | Cells | Coolant | Oil | Cabin | Air => (3.0, 10.0),
        _ => return None,
    })
}

/// Finds what is wrong with channels and leaves out what is not to be trusted.
pub(crate) fn find(time_s: &[f64], channels: &mut [Channel]) -> Vec<Fault> {
    let mut faults = silences(time_s);
    let speed = channels.iter().find(|channel| channel.signal == Signal::Speed);
    let speed: Vec<f64> =
        speed.map_or_else(|| vec![f64::NAN; time_s.len()], |channel| channel.values.clone());
    for channel in channels {
        faults.extend(gaps(time_s, channel));
        faults.extend(jumps(time_s, channel));
        faults.extend(frozen(time_s, channel, &speed));
    }
    faults
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(0.0)
}

/// Steps between times that are far longer than usual.
fn long_steps(times: &[f64]) -> Vec<(f64, f64)> {
    let usual = median(times.windows(2).map(|t| t[1] - t[0]).collect());
    let longest = SILENCE_S.max(USUAL_STEPS * usual);
    times.windows(2).filter(|t| t[1] - t[0] > longest).map(|t| (t[0], t[1])).collect()
}

/// `3 times, 41 s in all, the longest 20 s from 760 s on`.
fn told(spans: &[(f64, f64)]) -> String {
    let length = |span: &(f64, f64)| span.1 - span.0;
    let Some(longest) = spans.iter().max_by(|a, b| length(a).total_cmp(&length(b))) else {
        return String::new();
    };
    match spans {
        [one] => format!("for {:.0} s from {:.0} s on", length(one), one.0),
        _ => format!(
            "{} times, {:.0} s in all, the longest {:.0} s from {:.0} s on",
            spans.len(),
            spans.iter().map(length).sum::<f64>(),
            length(longest),
            longest.0
        ),
    }
}

fn fault(
    signal: Signal,
    column: &str,
    kind: FaultKind,
    spans: Vec<(f64, f64)>,
    what: &str,
) -> Option<Fault> {
    if spans.is_empty() {
        return None;
    }
    let words = format!("{what} {}", told(&spans));
    Some(Fault { signal, column: column.to_owned(), kind, spans, words })
}

/// Times at which the log as a whole is silent.
fn silences(time_s: &[f64]) -> Vec<Fault> {
    let spans = long_steps(time_s);
    fault(Signal::Time, "", FaultKind::Gap, spans, "nothing was recorded").into_iter().collect()
}

/// Times at which a channel is silent, while others are not.
fn gaps(time_s: &[f64], channel: &Channel) -> Option<Fault> {
    let filled = time_s.iter().zip(&channel.values).filter(|(_, v)| !v.is_nan());
    let times: Vec<f64> = filled.map(|(t, _)| *t).collect();
    let (first, last) = (time_s.first().copied()?, time_s.last().copied()?);
    let (Some(begun), Some(ended)) = (times.first().copied(), times.last().copied()) else {
        let words = "it is empty".to_owned();
        let (signal, column) = (channel.signal, channel.column.clone());
        return Some(Fault {
            signal,
            column,
            kind: FaultKind::Gap,
            spans: vec![(first, last)],
            words,
        });
    };
    let usual = median(times.windows(2).map(|t| t[1] - t[0]).collect());
    let longest = SILENCE_S.max(USUAL_STEPS * usual);
    let silent = long_steps(time_s);
    let own = |span: &(f64, f64)| !silent.contains(span);
    let ends = [(first, begun), (ended, last)];
    let within = long_steps(&times).into_iter().filter(own);
    let mut spans: Vec<(f64, f64)> =
        within.chain(ends.into_iter().filter(|end| end.1 - end.0 > longest)).collect();
    spans.sort_by(|a, b| a.0.total_cmp(&b.0));
    fault(channel.signal, &channel.column, FaultKind::Gap, spans, "it has a gap")
}

/// Values that leap; those that stand alone between two that agree are left out.
fn jumps(time_s: &[f64], channel: &mut Channel) -> Option<Fault> {
    let (per_s, beyond) = largest_leap(channel.signal)?;
    let values = &mut channel.values;
    let filled: Vec<usize> = (0..values.len()).filter(|i| !values[*i].is_nan()).collect();
    let leaps = |values: &[f64], a: usize, b: usize| {
        (values[b] - values[a]).abs() > beyond + per_s * (time_s[b] - time_s[a])
    };
    let mut spans = Vec::new();
    let mut alone = Vec::new();
    for (place, pair) in filled.windows(2).enumerate() {
        let (a, b) = (pair[0], pair[1]);
        if alone.last() == Some(&a) || !leaps(values, a, b) {
            continue;
        }
        spans.push((time_s[a], time_s[b]));
        if let Some(next) = filled.get(place + 2)
            && leaps(values, b, *next)
            && !leaps(values, a, *next)
        {
            alone.push(b);
        }
    }
    let left_out = alone.len();
    alone.into_iter().for_each(|i| values[i] = f64::NAN);
    let (first, _) = *spans.first()?;
    let mut words = format!("it leaps {} times, first at {first:.0} s", spans.len());
    if spans.len() == 1 {
        words = format!("it leaps at {first:.0} s");
    }
    if left_out > 0 {
        words.push_str(&format!(", and values that leap back were left out: {left_out}"));
    }
    let (signal, column) = (channel.signal, channel.column.clone());
    Some(Fault { signal, column, kind: FaultKind::Jump, spans, words })
}

/// A stretch over which a channel keeps one value.
struct Hold {
    from: usize,
    to: usize,
    /// For how long the car moved in it, s.
    moved_s: f64,
    /// The most that the speed rose in it, m/s.
    rise_mps: f64,
    /// Between its highest and lowest speed, m/s.
    range_mps: f64,
}

fn holds(time_s: &[f64], values: &[f64], speed: &[f64]) -> Vec<Hold> {
    let mut holds: Vec<Hold> = Vec::new();
    let (mut lowest, mut highest) = (f64::INFINITY, f64::NEG_INFINITY);
    let mut value = f64::NAN;
    let mut last = 0;
    for i in (0..values.len()).filter(|i| !values[*i].is_nan()) {
        if values[i] == value
            && let Some(hold) = holds.last_mut()
        {
            let moves = speed[i] > MOVING_MPS || speed[i].is_nan();
            hold.to = i;
            hold.moved_s += if moves { time_s[i] - time_s[last] } else { 0.0 };
            hold.rise_mps = hold.rise_mps.max(speed[i] - lowest);
        } else {
            value = values[i];
            (lowest, highest) = (f64::INFINITY, f64::NEG_INFINITY);
            holds.push(Hold { from: i, to: i, moved_s: 0.0, rise_mps: 0.0, range_mps: 0.0 });
        }
        (lowest, highest) = (lowest.min(speed[i]), highest.max(speed[i]));
        if let Some(hold) = holds.last_mut() {
            hold.range_mps = (highest - lowest).max(0.0);
        }
        last = i;
    }
    holds
}

/// Stretches over which one value stands though the car drives; all but their first value are left
/// out.
fn frozen(time_s: &[f64], channel: &mut Channel, speed: &[f64]) -> Option<Fault> {
    use Signal::*;
    let least_s = longest_hold_s(channel.signal)?;
    let no_speed = vec![f64::NAN; speed.len()];
    let own_speed = if channel.signal == Speed { &no_speed } else { speed };
    let found = holds(time_s, &channel.values, own_speed);
    let mut lengths: Vec<f64> = found.iter().map(|hold| hold.moved_s).collect();
    lengths.sort_by(f64::total_cmp);
    let usual_s = lengths.get(lengths.len() * 9 / 10).copied().unwrap_or(0.0);
    let usual_s = if lengths.len() < 3 { 0.0 } else { usual_s };
    let longest_s = least_s.max(USUAL_HOLDS * usual_s);
    let stands = |hold: &&Hold| {
        let value = channel.values[hold.from];
        let should_change = match channel.signal {
            PackVoltage | PackCurrent | PackPower | LowCell | HighCell => {
                hold.rise_mps >= CHANGE_MPS || value != 0.0 && hold.range_mps >= CHANGE_MPS
            }
            MotorTorque | MotorSpeed => hold.rise_mps >= CHANGE_MPS && value != 0.0,
            Speed | Heater | Auxiliaries => value != 0.0,
            // A plain that a map calls level, and a channel that was typed in.
            Elevation => found.len() > 2,
            _ => true,
        };
        should_change && hold.moved_s > longest_s
    };
    let stretches: Vec<(usize, usize)> =
        found.iter().filter(stands).map(|hold| (hold.from, hold.to)).collect();
    for (from, to) in &stretches {
        channel.values[from + 1..=*to].fill(f64::NAN);
    }
    let spans = stretches.iter().map(|(from, to)| (time_s[*from], time_s[*to])).collect();
    fault(channel.signal, &channel.column, FaultKind::Frozen, spans, "it is frozen")
}
