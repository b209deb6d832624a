//! The currents of each lead, run by run.

use schemars::JsonSchema;
use serde::Serialize;
use sim_core::auxiliaries::Auxiliaries;
use sim_core::follow::{Moment, Recorder};
use sim_core::warmth::{TIME_CONSTANTS_S, no_slower_than};
use sim_core::windows::{Dose, Loads, WINDOWS_S, Windows};
use sim_core::{Car, Node};

/// A cable or bundle of cables.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Lead {
    /// Between pack and controller, with fuse and contactors.
    Pack,
    /// Between controller and motor: a phase, or the leads of a series motor.
    Motor,
    /// Out of the DC-DC converter, at 12 V.
    DcDcOut,
    /// Into the DC-DC converter, at pack voltage.
    DcDcIn,
    /// To the cabin heater, at pack voltage.
    Heater,
    /// Out of the charger, at pack voltage.
    ChargerOut,
    /// Into the charger, from the mains.
    ChargerIn,
}

impl Lead {
    /// All of them, in order.
    pub const ALL: [Lead; 7] = [
        Lead::Pack,
        Lead::Motor,
        Lead::DcDcOut,
        Lead::DcDcIn,
        Lead::Heater,
        Lead::ChargerOut,
        Lead::ChargerIn,
    ];

    /// What it is called.
    pub fn name(self) -> &'static str {
        match self {
            Lead::Pack => "pack lead",
            Lead::Motor => "motor leads",
            Lead::DcDcOut => "DC-DC output, 12 V",
            Lead::DcDcIn => "DC-DC input",
            Lead::Heater => "cabin heater",
            Lead::ChargerOut => "charger to pack",
            Lead::ChargerIn => "charger from mains",
        }
    }
}

/// What the car is asked to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Duty {
    /// Full throttle from rest.
    Pull,
    /// The climb.
    Climb,
    /// The pass.
    Pass,
    /// The road.
    Road,
    /// A whole charge.
    Charge,
    /// Full throttle from rest with warm cells, where the scenario's are cold.
    WarmPull,
    /// The climb with warm cells.
    WarmClimb,
    /// The pass with warm cells.
    WarmPass,
    /// The road with warm cells.
    WarmRoad,
    /// A whole charge of warm cells.
    WarmCharge,
}

impl Duty {
    /// What is asked with the scenario's own cells, in order, and the same of warm ones.
    pub const ALL: [(Duty, Duty); 5] = [
        (Duty::Pull, Duty::WarmPull),
        (Duty::Climb, Duty::WarmClimb),
        (Duty::Pass, Duty::WarmPass),
        (Duty::Road, Duty::WarmRoad),
        (Duty::Charge, Duty::WarmCharge),
    ];

    /// The same with warm cells, where it is asked of the scenario's own.
    pub fn warm(self) -> Option<Duty> {
        Self::ALL.into_iter().find(|(own, _)| *own == self).map(|(_, warm)| warm)
    }

    /// Whether the cells are warm ones in place of the scenario's.
    pub fn is_warm(self) -> bool {
        self.warm().is_none()
    }

    /// What it is called.
    pub fn name(self) -> &'static str {
        match self {
            Duty::Pull => "pull",
            Duty::Climb => "climb",
            Duty::Pass => "pass",
            Duty::Road => "road",
            Duty::Charge => "charge",
            Duty::WarmPull => "warm pull",
            Duty::WarmClimb => "warm climb",
            Duty::WarmPass => "warm pass",
            Duty::WarmRoad => "warm road",
            Duty::WarmCharge => "warm charge",
        }
    }
}

/// Leads that carry current while the car drives.
pub(super) const DRIVING: [Lead; 5] =
    [Lead::Pack, Lead::Motor, Lead::DcDcOut, Lead::DcDcIn, Lead::Heater];

/// What became of one lead in one run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Carried {
    pub lead: Lead,
    pub loads: Loads,
    /// Largest current at any moment: out of the pack or motoring, and the other way, A.
    pub out_a: f64,
    pub back_a: f64,
}

/// One lead as it is watched.
#[derive(Debug)]
struct Watched {
    windows: Windows,
    out_a: f64,
    back_a: f64,
}

/// Watches the leads of a driving car.
pub(super) struct Watch<'a> {
    auxiliaries: &'a Auxiliaries,
    low_voltage_v: f64,
    makes_regen: bool,
    /// Whether the currents of a step are those at its end, as of smooth pieces, and not its means.
    at_ends: bool,
    /// Gear and currents at the end of the step before.
    before: Option<(Option<usize>, [f64; DRIVING.len()])>,
    leads: [Watched; DRIVING.len()],
    /// Lowest voltage of the pack so far, V.
    pub low_pack_v: f64,
}

impl<'a> Watch<'a> {
    /// Of a car over a trace, which holds a step's mean.
    pub fn over_steps(car: &'a Car, low_voltage_v: f64) -> Self {
        let watched = || Watched { windows: Windows::default(), out_a: 0.0, back_a: 0.0 };
        Self {
            auxiliaries: &car.parts().auxiliaries,
            low_voltage_v,
            makes_regen: car.parts().motor.makes_regen(),
            at_ends: false,
            before: None,
            leads: std::array::from_fn(|_| watched()),
            low_pack_v: f64::INFINITY,
        }
    }

    /// Of a car in smooth pieces, whose steps are told by their ends.
    pub fn over_pieces(car: &'a Car, low_voltage_v: f64) -> Self {
        Self { at_ends: true, ..Self::over_steps(car, low_voltage_v) }
    }

    /// What each lead carried.
    pub fn carried(self) -> Vec<Carried> {
        let of = |(lead, watched): (&Lead, Watched)| Carried {
            lead: *lead,
            loads: watched.windows.end(),
            out_a: watched.out_a,
            back_a: watched.back_a,
        };
        DRIVING.iter().zip(self.leads).map(of).collect()
    }
}

impl Recorder for Watch<'_> {
    fn record(&mut self, m: &Moment<'_>) {
        let flow = m.flow;
        let (low_w, pack_v) = (self.auxiliaries.low_voltage_w, flow.pack_v.max(1e-3));
        let currents = [
            flow.pack_a,
            // A motor that slows the car carries as much; its sign tells which it was.
            if self.makes_regen && flow.torque_nm < 0.0 { -flow.motor_a } else { flow.motor_a },
            low_w / self.low_voltage_v,
            low_w / self.auxiliaries.dc_dc_efficiency / pack_v,
            flow.heat.into_w[Node::Cabin] / pack_v,
        ];
        let before = self.before.filter(|(gear, _)| self.at_ends && *gear == m.gear);
        for (i, (watched, now_a)) in self.leads.iter_mut().zip(currents).enumerate() {
            watched.windows.see(match before {
                Some((_, before)) => Dose::straight(m.step_s, before[i], now_a),
                None => Dose::held(m.step_s, now_a),
            });
            watched.out_a = watched.out_a.max(now_a);
            watched.back_a = watched.back_a.max(-now_a);
        }
        self.before = Some((m.gear, currents));
        self.low_pack_v = self.low_pack_v.min(flow.pack_v);
    }
}

/// A run and what the leads carried in it.
#[derive(Debug, Clone)]
pub(super) struct DutyLoads {
    pub case: Duty,
    pub carried: Vec<Carried>,
}

/// The largest of a window over all runs.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Governing {
    /// Current, A.
    pub amps: f64,
    /// In which run.
    pub case: Duty,
    /// Whether that run lasted as long as the window; if not, the car is taken as standing for what is
    /// missing.
    pub covered: bool,
}

/// A window of time.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LargestReport {
    /// Length of the window, s.
    pub window_s: f64,
    /// Largest mean of the current's size, whichever way it flows; `null` where no run was driven.
    pub mean: Option<Governing>,
    /// Largest root mean square.
    pub rms: Option<Governing>,
}

/// One window of one run.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct WindowReport {
    /// Length of the window, s.
    pub window_s: f64,
    /// Whether the run lasted as long; if not, the car is taken as standing for what is missing.
    pub covered: bool,
    /// Largest mean of the current's size, A.
    pub mean_a: f64,
    /// Largest root mean square, A.
    pub rms_a: f64,
}

/// A lead in one run.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LeadRun {
    /// The run.
    pub case: Duty,
    /// How long it lasted, s.
    pub lasted_s: f64,
    /// Mean of the current's size over all of it, A.
    pub whole_mean_a: f64,
    /// Root mean square over all of it, A.
    pub whole_rms_a: f64,
    /// Largest current at any moment out of the pack, or driving the motor, A.
    pub peak_a: f64,
    /// Largest current the other way: into the pack, or of the motor while it brakes, A.
    pub back_a: f64,
    /// The windows.
    pub windows: Vec<WindowReport>,
    /// How warm it made parts that warm up slowly.
    pub warms: Vec<WarmsReport>,
}

/// How warm a run made a part of one time constant.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct WarmsReport {
    /// Time constant of the part, s.
    pub time_constant_s: f64,
    /// Steady current that would have made it as warm, A.
    pub steady_a: f64,
}

/// Current that flows the other way.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct BackReport {
    /// Current, A.
    pub amps: f64,
    /// In which run.
    pub case: Duty,
}

/// Time constant of fuses and contactors of cars, s, and after how long they have mostly settled: three
/// of it (common practice, no source).
const SMALL_PARTS_S: f64 = 120.0;
const SETTLED_S: f64 = 3.0 * SMALL_PARTS_S;

/// A lead.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LeadReport {
    /// Which.
    pub lead: Lead,
    /// What it is called.
    pub name: &'static str,
    /// What its current is and how it follows.
    pub how: &'static str,
    /// What the part at its end allows, A, and for how long does not follow from it.
    pub allows_a: Option<f64>,
    /// The largest over all runs, for each window.
    pub largest: Vec<LargestReport>,
    /// What fuse and contactors must carry for hours: the largest steady current that would make a part
    /// with a time constant of 2 min as warm as a run does.
    pub lasting: Option<Governing>,
    /// Largest current the other way at any moment: into the pack by regen or charger, or of the motor
    /// while it brakes.
    pub back: Option<BackReport>,
    /// Each run.
    pub runs: Vec<LeadRun>,
}

impl LeadReport {
    /// Of a lead over runs; nothing where it is in none of them.
    pub(super) fn of(
        lead: Lead,
        (how, allows_a): (&'static str, Option<f64>),
        driven: &[DutyLoads],
    ) -> Option<Self> {
        let runs: Vec<LeadRun> = driven
            .iter()
            .filter_map(|run| {
                let found = run.carried.iter().find(|carried| carried.lead == lead)?;
                Some(LeadRun::of(run.case, found))
            })
            .collect();
        if runs.is_empty() {
            return None;
        }
        let largest = |window: usize, of: fn(&WindowReport) -> f64| {
            let each = runs.iter().map(|run| (run.case, &run.windows[window]));
            // Of equals the first.
            let most = each.reduce(|most, one| if of(one.1) > of(most.1) { one } else { most })?;
            Some(Governing { amps: of(most.1), case: most.0, covered: most.1.covered })
        };
        let largest = WINDOWS_S.iter().enumerate().map(|(i, window_s)| LargestReport {
            window_s: *window_s,
            mean: largest(i, |window| window.mean_a),
            rms: largest(i, |window| window.rms_a),
        });
        let back = runs.iter().filter(|run| run.back_a > 0.0);
        let back = back.max_by(|a, b| a.back_a.total_cmp(&b.back_a));
        Some(Self {
            lead,
            name: lead.name(),
            how,
            allows_a,
            largest: largest.collect(),
            lasting: warming(&runs, SMALL_PARTS_S),
            back: back.map(|run| BackReport { amps: run.back_a, case: run.case }),
            runs,
        })
    }

    /// The largest steady current that would make a part of a time constant as warm as a run does.
    pub(super) fn warming(&self, time_s: f64) -> Option<Governing> {
        warming(&self.runs, time_s)
    }

    /// The largest root mean square over a window of so many seconds.
    pub fn rms(&self, window_s: f64) -> Option<&Governing> {
        self.largest.iter().find(|of| of.window_s == window_s)?.rms.as_ref()
    }
}

impl Carried {
    /// Steady current that would make fuses and contactors as warm, A.
    pub(super) fn steady_a(&self) -> f64 {
        self.loads.steady_a[no_slower_than(SMALL_PARTS_S)]
    }
}

/// The run that makes a part of a time constant the warmest, of equals the first.
fn warming(runs: &[LeadRun], time_s: f64) -> Option<Governing> {
    let index = no_slower_than(time_s);
    let most = runs.iter().reduce(|most, one| {
        if one.warms[index].steady_a > most.warms[index].steady_a { one } else { most }
    })?;
    let covered = most.lasted_s >= SETTLED_S * (1.0 - 1e-9);
    Some(Governing { amps: most.warms[index].steady_a, case: most.case, covered })
}

impl LeadRun {
    fn of(case: Duty, carried: &Carried) -> Self {
        let loads = &carried.loads;
        let windows = loads.largest.iter().enumerate().map(|(i, of)| WindowReport {
            window_s: WINDOWS_S[i],
            covered: loads.covers(i),
            mean_a: of.mean_a,
            rms_a: of.rms_a,
        });
        Self {
            case,
            lasted_s: loads.lasted_s,
            whole_mean_a: loads.mean_a,
            whole_rms_a: loads.rms_a,
            peak_a: carried.out_a,
            back_a: carried.back_a,
            windows: windows.collect(),
            warms: TIME_CONSTANTS_S
                .iter()
                .zip(loads.steady_a)
                .map(|(time_constant_s, steady_a)| WarmsReport {
                    time_constant_s: *time_constant_s,
                    steady_a,
                })
                .collect(),
        }
    }
}
