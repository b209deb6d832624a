//! A run moment by moment, for whoever draws it.

use crate::runs::temperatures::Temperatures;
use sim_core::Car;
use sim_core::follow::{Moment, Recorder};
use sim_core::units;

/// The car at a moment of a run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    /// Time, s.
    pub time_s: f64,
    /// Distance from the start, km.
    pub distance_km: f64,
    /// Height over the start, m.
    pub height_m: f64,
    /// Speed, km/h.
    pub speed_kmh: f64,
    /// Speed that the road or the run asks for, km/h.
    pub wanted_kmh: f64,
    /// Power at the pack's terminals, kW; negative into it.
    pub pack_kw: f64,
    /// Charge, %.
    pub charge_pct: f64,
    /// Temperatures of the parts.
    pub parts: Temperatures,
}

/// Keeps every step of a run.
#[derive(Debug)]
pub struct History<'a> {
    car: &'a Car,
    from_m: Option<f64>,
    height_m: f64,
    seen: Vec<Seen>,
}

impl<'a> History<'a> {
    /// Of a run of a car that has not begun.
    pub fn new(car: &'a Car) -> Self {
        Self { car, from_m: None, height_m: 0.0, seen: Vec::new() }
    }

    /// What was seen, in order of time.
    pub fn into_seen(self) -> Vec<Seen> {
        self.seen
    }
}

impl Recorder for History<'_> {
    fn record(&mut self, m: &Moment<'_>) {
        let (state, flow) = (m.state, m.flow);
        let from_m = *self.from_m.get_or_insert(state.distance_m - state.speed_mps * m.step_s);
        let distance_km = units::km_from_m(state.distance_m - from_m);
        let before_km = self.seen.last().map_or(0.0, |seen| seen.distance_km);
        self.height_m += m.slope.sin * units::m_from_km(distance_km - before_km);
        self.seen.push(Seen {
            time_s: m.time_s,
            distance_km,
            height_m: self.height_m,
            speed_kmh: units::kmh_from_mps(state.speed_mps),
            wanted_kmh: units::kmh_from_mps(m.trace_mps),
            pack_kw: units::kw_from_w(flow.pack_v * flow.pack_a),
            charge_pct: units::pct_from_share(state.charge),
            parts: Temperatures::of(self.car, state),
        });
    }
}
