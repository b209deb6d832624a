//! A recorded drive, and what the car on paper does on the same road at the same speeds.

use crate::files::error::Error;
use crate::files::overrides::Override;
use crate::inputs::auxiliaries::Auxiliaries;
use crate::loaded::Loaded;
use crate::prepared::{Prepared, Setup};
use crate::runs::{Failure, drive, trace};
use cycles::{Cleaning, Recording, Schedule, Signal};
use serde_json::{Value, json};
use sim_core::follow::{Drive, Moment, Recorder};
use sim_core::ledger::Account;
use sim_core::units;
use sim_core::{Node, State, Trace};

/// Two rows further apart have nothing between them that was recorded, s.
pub(crate) const LONGEST_STEP_S: f64 = 10.0;

/// A drive that was recorded, ready to be driven again.
#[derive(Debug, Clone)]
pub struct RecordedDrive {
    /// What was recorded.
    pub recording: Recording,
    /// Its speeds, slopes and loads.
    pub road: Schedule,
    /// The same as the car drives it.
    pub trace: Trace,
    /// What was done to the recorded elevation.
    pub cleaning: Option<Cleaning>,
    /// What the reader of the road had to say.
    pub notes: Vec<String>,
    /// The recorded load on the pack that takes the place of the car's own.
    pub load: Option<Signal>,
    /// Times of the recording's rows from the beginning of the trace, s.
    at_s: Vec<f64>,
}

impl RecordedDrive {
    /// The drive in a recording.
    ///
    /// # Errors
    /// [`Failure::Invalid`] where the recording has no speeds, or [`Failure::Trace`] where they
    /// cannot be driven.
    pub fn of(recording: Recording) -> Result<Self, Failure> {
        let has = |signal: &Signal| recording.first(*signal).is_some();
        let load = [Signal::Auxiliaries, Signal::Heater].into_iter().find(has);
        let read = recording.road(load).map_err(|fault| Failure::Invalid(fault.to_string()))?;
        let (road, cleaning, notes) = (read.schedule, read.cleaning, read.notes);
        let trace = trace(&road)?;
        let from_s = road.time_s.first().copied().unwrap_or(0.0);
        let at_s = recording.time_s.iter().map(|time_s| time_s - from_s).collect();
        Ok(Self { recording, road, trace, cleaning, notes, load, at_s })
    }

    /// What the recording says of weather and place, of the car at the start and of its loads, as
    /// values of a scenario: mean air temperature, mean elevation and mean head wind; the first charge
    /// and temperatures; a recorded heater in place of the car's own, or recorded auxiliaries in place
    /// of all of them.
    ///
    /// # Errors
    /// None that a test would not find.
    pub fn said(&self) -> Result<Vec<Override>, Error> {
        let recording = &self.recording;
        let mut said = Vec::new();
        let mut say = |path: &str, value: Option<f64>| -> Result<(), Error> {
            if let Some(value) = value {
                // What a logger gives in steps needs no more digits than a thousandth.
                said.push(Override::number(path, (value * 1e3).round() / 1e3)?);
            }
            Ok(())
        };
        let mean = |signal| recording.mean(signal);
        let first = |signal| recording.first(signal);
        say("conditions.air_c", mean(Signal::Air).map(units::c_from_k))?;
        say("conditions.altitude_m", mean(Signal::Elevation))?;
        say("conditions.head_wind_kmh", mean(Signal::HeadWind).map(units::kmh_from_mps))?;
        let charge =
            first(Signal::Charge).map(|share| units::pct_from_share(share.clamp(0.0, 1.0)));
        say("start.charge_pct", charge)?;
        for (path, signal) in [
            ("start.winding_c", Signal::Winding),
            ("start.housing_c", Signal::Housing),
            ("start.controller_c", Signal::Sink),
            ("start.cells_c", Signal::Cells),
            ("start.cabin_c", Signal::Cabin),
            ("start.oil_c", Signal::Oil),
            ("start.coolant_c", Signal::Coolant),
        ] {
            say(path, first(signal).map(units::c_from_k))?;
        }
        match self.load {
            Some(Signal::Auxiliaries) => {
                let none = json!({ "low_voltage": [], "traction_w": 0 });
                said.push(Override::new("build.auxiliaries", none)?);
            }
            Some(_) => said.push(Override::new("build.auxiliaries.cabin", Value::Null)?),
            None => {}
        }
        Ok(said)
    }

    /// A car in the state and the surroundings that were recorded; values of the caller come on top.
    ///
    /// # Errors
    /// As [`Loaded::with`].
    pub fn prepare(&self, loaded: &Loaded, set: &[Override]) -> Result<Prepared, Error> {
        loaded.with(&[self.said()?.as_slice(), set].concat())
    }

    /// The same of a car that is prepared already; what was recorded takes the place of what it says.
    ///
    /// # Errors
    /// As [`Loaded::with`], where a recorded value is out of range.
    pub fn beneath(&self, car: &Prepared) -> Result<Prepared, Error> {
        let recording = &self.recording;
        let c = |signal| recording.first(signal).map(units::c_from_k);
        car.changed(|scenario| {
            let conditions = scenario.conditions.get_or_insert_default();
            let start = scenario.start.get_or_insert_default();
            let auxiliaries = scenario.build.auxiliaries.get_or_insert_default();
            let charge = recording.first(Signal::Charge).map(|share| share.clamp(0.0, 1.0));
            for (field, value) in [
                (&mut conditions.air_c, recording.mean(Signal::Air).map(units::c_from_k)),
                (&mut conditions.altitude_m, recording.mean(Signal::Elevation)),
                (
                    &mut conditions.head_wind_kmh,
                    recording.mean(Signal::HeadWind).map(units::kmh_from_mps),
                ),
                (&mut start.charge_pct, charge.map(units::pct_from_share)),
                (&mut start.winding_c, c(Signal::Winding)),
                (&mut start.housing_c, c(Signal::Housing)),
                (&mut start.controller_c, c(Signal::Sink)),
                (&mut start.cells_c, c(Signal::Cells)),
                (&mut start.cabin_c, c(Signal::Cabin)),
                (&mut start.oil_c, c(Signal::Oil)),
                (&mut start.coolant_c, c(Signal::Coolant)),
            ] {
                if let Some(value) = value {
                    *field = Some(value);
                }
            }
            match self.load {
                Some(Signal::Auxiliaries) => {
                    *auxiliaries = Auxiliaries {
                        low_voltage: Some(Vec::new()),
                        traction_w: Some(0.0),
                        ..Auxiliaries::default()
                    };
                }
                Some(_) => auxiliaries.cabin = None,
                None => {}
            }
        })
    }

    /// Drives it on paper: what comes of it at the times of the recording is put into `into`, which
    /// [`Prediction::of`] makes once. Nothing is allocated.
    pub fn predict(&self, setup: &Setup<'_>, into: &mut Prediction) -> Drive {
        into.clear();
        let speed_mps = self.trace.stretches()[0].from_mps;
        let start = State { speed_mps, ..*setup.start };
        let mut sampler = Sampler::new(&self.at_s, &start, into);
        let driven = drive::drive(setup, &self.trace, &mut sampler);
        sampler.finish();
        driven
    }
}

/// What is predicted of the state of the car, at a moment.
const STATES: [Signal; 9] = [
    Signal::Speed,
    Signal::Charge,
    Signal::Winding,
    Signal::Housing,
    Signal::Sink,
    Signal::Cells,
    Signal::Coolant,
    Signal::Oil,
    Signal::Cabin,
];

/// What is predicted of what flows, through a step.
const FLOWS: [Signal; 8] = [
    Signal::PackVoltage,
    Signal::PackCurrent,
    Signal::PackPower,
    Signal::LowCell,
    Signal::HighCell,
    Signal::MotorTorque,
    Signal::MotorSpeed,
    Signal::Auxiliaries,
];

/// What a car on paper shows at the times of a recording; NaN where it was not driven.
#[derive(Debug, Clone, PartialEq)]
pub struct Prediction {
    states: [Vec<f64>; STATES.len()],
    flows: [Vec<f64>; FLOWS.len()],
    /// Energy out of the pack since the start, J.
    pub energy_j: Vec<f64>,
}

impl Prediction {
    /// Room for what is predicted of a drive.
    pub fn of(drive: &RecordedDrive) -> Self {
        let room = || vec![f64::NAN; drive.at_s.len()];
        Self {
            states: std::array::from_fn(|_| room()),
            flows: std::array::from_fn(|_| room()),
            energy_j: room(),
        }
    }

    /// What is predicted of a channel, in SI as it is recorded; none of those that are not.
    pub fn values(&self, signal: Signal) -> Option<&[f64]> {
        let place = |signals: &[Signal]| signals.iter().position(|one| *one == signal);
        match (place(&STATES), place(&FLOWS)) {
            (Some(at), _) => Some(&self.states[at]),
            (_, Some(at)) => Some(&self.flows[at]),
            (None, None) => None,
        }
    }

    fn clear(&mut self) {
        let all = self.states.iter_mut().chain(&mut self.flows).chain([&mut self.energy_j]);
        all.for_each(|values| values.fill(f64::NAN));
    }
}

/// Shows a drive at given times: the state between the ends of steps, what flows between their
/// middles, each along straight lines.
struct Sampler<'a> {
    at_s: &'a [f64],
    into: &'a mut Prediction,
    state: (f64, [f64; STATES.len()]),
    flow: Option<(f64, [f64; FLOWS.len()])>,
    energy_j: f64,
    next_state: usize,
    next_flow: usize,
}

impl<'a> Sampler<'a> {
    fn new(at_s: &'a [f64], start: &State, into: &'a mut Prediction) -> Self {
        // A time that is a hair before the start is the start.
        let first = at_s.partition_point(|at| *at < -1e-9);
        let mut sampler = Self {
            at_s,
            into,
            state: (0.0, states(start)),
            flow: None,
            energy_j: 0.0,
            next_state: first,
            next_flow: first,
        };
        sampler.states_until(0.0, &states(start), 0.0);
        sampler
    }

    /// Rows up to a time, at which the state is as given.
    fn states_until(&mut self, until_s: f64, now: &[f64; STATES.len()], energy_j: f64) {
        let (from_s, before) = self.state;
        while let Some(at_s) = self.at_s.get(self.next_state).filter(|at| **at <= until_s + 1e-9) {
            let share = if until_s > from_s { (at_s - from_s) / (until_s - from_s) } else { 1.0 };
            for (i, values) in self.into.states.iter_mut().enumerate() {
                values[self.next_state] = before[i] + share * (now[i] - before[i]);
            }
            self.into.energy_j[self.next_state] =
                self.energy_j + share * (energy_j - self.energy_j);
            self.next_state += 1;
        }
        (self.state, self.energy_j) = ((until_s, *now), energy_j);
    }

    /// Rows up to the middle of a step.
    fn flows_until(&mut self, until_s: f64, now: &[f64; FLOWS.len()]) {
        let (from_s, before) = self.flow.unwrap_or((until_s, *now));
        while let Some(at_s) = self.at_s.get(self.next_flow).filter(|at| **at <= until_s + 1e-9) {
            let share = if until_s > from_s { (at_s - from_s) / (until_s - from_s) } else { 1.0 };
            for (i, values) in self.into.flows.iter_mut().enumerate() {
                values[self.next_flow] = before[i] + share * (now[i] - before[i]);
            }
            self.next_flow += 1;
        }
        self.flow = Some((until_s, *now));
    }

    /// Rows between the middle of the last step and its end.
    fn finish(&mut self) {
        if let Some((_, last)) = self.flow {
            self.flows_until(self.state.0, &last);
        }
    }
}

impl Recorder for Sampler<'_> {
    fn record(&mut self, m: &Moment<'_>) {
        let flow = m.flow;
        let pack_w = flow.pack_v * flow.pack_a;
        let flows = [
            flow.pack_v,
            flow.pack_a,
            pack_w,
            flow.low_cell_v,
            flow.high_cell_v,
            flow.torque_nm,
            flow.radps,
            flow.powers[Account::Auxiliaries],
        ];
        self.flows_until(m.time_s - 0.5 * m.step_s, &flows);
        self.states_until(m.time_s, &states(m.state), self.energy_j + pack_w * m.step_s);
    }
}

fn states(state: &State) -> [f64; STATES.len()] {
    let part = |node: Node| state.temperature_k[node];
    [
        state.speed_mps,
        state.charge,
        part(Node::Winding),
        part(Node::Housing),
        part(Node::Sink),
        part(Node::Cells),
        part(Node::Coolant),
        part(Node::Oil),
        part(Node::Cabin),
    ]
}
