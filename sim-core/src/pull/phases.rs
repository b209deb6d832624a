//! What held the car back, stretch by stretch.

use super::Mark;
use crate::car::Request;
use crate::follow::Moment;
use crate::limit::Limit;
use crate::pieces::{Piece, Place};
use crate::root::Bracket;
use crate::state::State;

/// A part of the pull under one limit in one gear (`gear` is `None` during a shift).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spell {
    /// Gear.
    pub gear: Option<usize>,
    /// What held the car back.
    pub limit: Option<Limit>,
    /// Start.
    pub from: Mark,
    /// End.
    pub to: Mark,
}

/// Share of a step within which a change of limit is told.
const SHARP: f64 = 1e-3;
/// Changes of limit in one step that are told.
const MOST_CHANGES: usize = 4;

/// The phases so far.
#[derive(Debug, Default)]
pub(super) struct Phases {
    pub all: Vec<Spell>,
}

impl Phases {
    /// Begins a phase at a place, unless the last one goes on.
    pub fn begin(&mut self, gear: Option<usize>, limit: Option<Limit>, at: &Place) {
        self.turn(gear, limit, Mark::of(at));
    }

    fn turn(&mut self, gear: Option<usize>, limit: Option<Limit>, from: Mark) {
        // A shift that takes no time leaves a last phase that ends where the next one begins.
        if self.all.last().is_none_or(|last| (last.gear, last.limit) != (gear, limit)) {
            self.all.push(Spell { gear, limit, from, to: from });
        }
    }

    /// Takes a step that began at a time, a state and an acceleration. Where another limit holds at
    /// its end, the change is looked for in between.
    pub fn see<P: Fn(f64, &State) -> Request>(
        &mut self,
        piece: &Piece<'_, P>,
        (from_s, from, from_mps2): (f64, State, f64),
        m: &Moment<'_>,
    ) {
        let Some(present) = self.all.last().copied() else { return };
        let mut limit = present.limit;
        let mut since = 0.0;
        let at = |u: f64| {
            let state = between(&from, from_mps2, m, u);
            (state, piece.flow(from_s + u * m.step_s, &state).limit)
        };
        for _ in 0..MOST_CHANGES {
            if limit == m.flow.limit {
                break;
            }
            let change = Bracket { holds: 1.0, fails: since }.closed(SHARP, |u| at(u).1 != limit);
            since = change.holds;
            let (state, next) = at(since);
            let mark = Mark {
                time_s: from_s + since * m.step_s,
                speed_mps: state.speed_mps,
                distance_m: state.distance_m,
            };
            if let Some(last) = self.all.last_mut() {
                last.to = mark;
            }
            limit = if since < 1.0 { next } else { m.flow.limit };
            self.turn(present.gear, limit, mark);
        }
        if let Some(last) = self.all.last_mut() {
            last.to = Mark {
                time_s: m.time_s,
                speed_mps: m.state.speed_mps,
                distance_m: m.state.distance_m,
            };
        }
    }
}

/// A state within a step: speed and distance by the cubic through both ends and their rates.
fn between(from: &State, from_mps2: f64, m: &Moment<'_>, u: f64) -> State {
    let (h, v) = (m.step_s, 1.0 - u);
    let cubic = |y0: f64, y1: f64, rate0: f64, rate1: f64| {
        let (a, b) = (v * v * (1.0 + 2.0 * u), u * u * (3.0 - 2.0 * u));
        y0 * a + y1 * b + h * u * v * (rate0 * v - rate1 * u)
    };
    let to = m.state;
    let (v0, v1) = (from.speed_mps, to.speed_mps);
    State {
        speed_mps: cubic(v0, v1, from_mps2, m.flow.acceleration_mps2).max(0.0),
        distance_m: cubic(from.distance_m, to.distance_m, v0, v1),
        ..from.towards(to, u)
    }
}
