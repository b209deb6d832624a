//! What a drive went through, recorded or predicted alike, summed up so that both can be set
//! against each other over any stretch of time.

use crate::measured::drive::RecordedDrive;
use cycles::Signal;
use sim_core::follow::{Moment, Recorder};
use sim_core::{Car, Node};

/// The course of a drive. What was not recorded is an empty list; sums run from the start.
#[derive(Debug, Clone, Default)]
pub struct Course {
    /// Times, s.
    pub time_s: Vec<f64>,
    /// Energy out of the pack up to each time, J.
    pub energy_j: Vec<f64>,
    /// Energy out of the motor's shaft up to each time, J.
    pub shaft_j: Vec<f64>,
    /// Charge out of the pack up to each time, A·s.
    pub ampere_s: Vec<f64>,
    /// Voltage at the pack's terminals, V.
    pub pack_v: Vec<f64>,
    /// Current out of the pack, A.
    pub pack_a: Vec<f64>,
    /// State of charge, a share.
    pub charge: Vec<f64>,
    /// Temperature of each part, K.
    pub part_k: [Vec<f64>; Node::COUNT],
}

impl Course {
    /// Of a run that has not begun.
    pub fn begin() -> Self {
        let start = || vec![0.0];
        Self {
            time_s: start(),
            energy_j: start(),
            shaft_j: start(),
            ampere_s: start(),
            ..Self::default()
        }
    }

    /// What was recorded of a drive, at the times of the road made of it, and the stretches of time
    /// without power. Gaps are bridged by straight lines.
    ///
    /// The motor's speed is the recorded one, or what the road's speed makes it where there is only
    /// one gear; without either its torque tells no energy.
    pub fn recorded(drive: &RecordedDrive, car: &Car) -> (Self, Vec<(f64, f64)>) {
        let recording = &drive.recording;
        let from_s = drive.road.time_s.first().copied().unwrap_or(0.0);
        let until_s = drive.road.time_s.last().copied().unwrap_or(0.0);
        let inside = |time_s: &f64| (from_s..=until_s).contains(time_s);
        let rows: Vec<usize> =
            (0..recording.time_s.len()).filter(|i| inside(&recording.time_s[*i])).collect();
        let time_s: Vec<f64> = rows.iter().map(|i| recording.time_s[*i] - from_s).collect();
        let kept = |values: &[f64]| -> Vec<f64> { rows.iter().map(|i| values[*i]).collect() };
        let whole = |values: Vec<f64>| bridged(&time_s, values);
        let channel = |signal| recording.values(signal).map(kept).map(whole).unwrap_or_default();
        let power = recording.pack_power_w().map(|values| kept(&values)).unwrap_or_default();
        let gaps = power
            .iter()
            .zip(time_s.windows(2))
            .filter(|(value, _)| value.is_nan())
            .map(|(_, ends)| (ends[0], ends[1]))
            .collect();
        let shaft = recording.values(Signal::MotorTorque).and_then(|torque| {
            let speed = recording.values(Signal::Speed).filter(|_| car.gears() == 1);
            let turned = speed.map(|v| v.iter().map(|v| car.motor_radps(0, *v)).collect());
            let radps = recording.values(Signal::MotorSpeed).map(<[f64]>::to_vec).or(turned)?;
            Some(torque.iter().zip(radps).map(|(t, w)| t * w).collect::<Vec<f64>>())
        });
        let shaft = shaft.map(|values| whole(kept(&values))).unwrap_or_default();
        let summed = |values: &[f64]| -> Vec<f64> {
            let mut sum = 0.0;
            let steps = time_s.windows(2).zip(values).map(|(ends, value)| {
                sum += value * (ends[1] - ends[0]);
                sum
            });
            if values.is_empty() { Vec::new() } else { std::iter::once(0.0).chain(steps).collect() }
        };
        let part = |node: Node| {
            let signal = match node {
                Node::Winding => Signal::Winding,
                Node::Housing => Signal::Housing,
                Node::Sink => Signal::Sink,
                Node::Cells => Signal::Cells,
                Node::Cabin => Signal::Cabin,
                Node::Oil => Signal::Oil,
                Node::Coolant => Signal::Coolant,
                // A recording knows the cells of one box.
                Node::Box2 | Node::Box3 | Node::Box4 => return Vec::new(),
            };
            channel(signal)
        };
        let course = Self {
            energy_j: summed(&whole(power)),
            shaft_j: summed(&shaft),
            ampere_s: summed(&channel(Signal::PackCurrent)),
            pack_v: channel(Signal::PackVoltage),
            pack_a: channel(Signal::PackCurrent),
            charge: channel(Signal::Charge),
            part_k: Node::ALL.map(part),
            time_s,
        };
        (course, gaps)
    }

    /// What a list of this course says at a time, by straight lines between its values.
    pub fn at(&self, list: &[f64], time_s: f64) -> f64 {
        let last = list.len() - 1;
        let after = self.time_s.partition_point(|t| *t < time_s).clamp(1, last.max(1)).min(last);
        let before = after.saturating_sub(1);
        let (from_s, to_s) = (self.time_s[before], self.time_s[after]);
        let share = if to_s > from_s { (time_s - from_s) / (to_s - from_s) } else { 1.0 };
        list[before] + share.clamp(0.0, 1.0) * (list[after] - list[before])
    }
}

impl Recorder for Course {
    fn record(&mut self, m: &Moment<'_>) {
        let grown = |list: &[f64], by: f64| list.last().copied().unwrap_or(0.0) + by;
        let flow = m.flow;
        self.energy_j.push(grown(&self.energy_j, flow.pack_v * flow.pack_a * m.step_s));
        self.shaft_j.push(grown(&self.shaft_j, flow.torque_nm * flow.radps * m.step_s));
        self.ampere_s.push(grown(&self.ampere_s, flow.pack_a * m.step_s));
        self.time_s.push(m.time_s);
        let first = self.pack_v.is_empty();
        for _ in 0..=usize::from(first) {
            self.pack_v.push(flow.pack_v);
            self.pack_a.push(flow.pack_a);
            self.charge.push(m.state.charge);
            for node in Node::ALL {
                self.part_k[node as usize].push(m.state.temperature_k[node]);
            }
        }
    }
}

/// Values with gaps bridged by straight lines, and held before the first and after the last; none
/// where there is not one value.
fn bridged(time_s: &[f64], mut values: Vec<f64>) -> Vec<f64> {
    let known: Vec<usize> = (0..values.len()).filter(|i| !values[*i].is_nan()).collect();
    let (Some(first), Some(last)) = (known.first(), known.last()) else { return Vec::new() };
    let (before, after) = (values[*first], values[*last]);
    values[..*first].fill(before);
    values[*last..].fill(after);
    for pair in known.windows(2) {
        let (from, to) = (pair[0], pair[1]);
        for i in from + 1..to {
            let share = (time_s[i] - time_s[from]) / (time_s[to] - time_s[from]);
            values[i] = values[from] + share * (values[to] - values[from]);
        }
    }
    values
}
