//! How far the car goes: a trace driven over and over until the pack is empty.

use crate::car::Car;
use crate::driver::Driver;
use crate::follow::{self, Drive, DriveEnding};
use crate::ledger::Account;
use crate::limit::Limit;
use crate::state::State;
use crate::trace::Trace;

/// How far it went.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// Distance, m.
    pub distance_m: f64,
    /// Time, s.
    pub time_s: f64,
    /// Chemical energy taken from the cells, J.
    pub chemical_j: f64,
    /// Why it ended; [`DriveEnding::Complete`] when no end was found: within
    /// [`MOST_ROUNDS`], or as the car does not drive the trace.
    pub ending: DriveEnding,
    /// Rounds begun.
    pub rounds: u32,
    /// Distance of the first round, m.
    pub first_m: f64,
    /// Where a car that drove the first round could no longer keep the trace's speed, if it came to that.
    pub behind: Option<Behind>,
    /// State at the end.
    pub end: State,
}

/// The end of the last round before one in which the car fell behind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Behind {
    /// Distance driven by then, m.
    pub distance_m: f64,
    /// Charge by then.
    pub charge: f64,
    /// What held the car back longest in the round that follows.
    pub by: Option<Limit>,
}

/// Rounds after which the search for the end is given up.
pub const MOST_ROUNDS: u32 = 500;

/// Share of a trace's length under which a car that fell behind did not drive it (common practice, no
/// source; 40 CFR 86.115 voids the test far earlier).
pub const DRIVEN_SHARE: f64 = 0.8;
/// Share of the trace up to which a car does not drive it at all: in the first round, and in a later one,
/// when it only just moves.
const LEFT_BEHIND: f64 = 0.5;
const STANDS: f64 = 0.05;

/// Drives a trace round after round, parts warming on, until the weakest cell is empty or the pack
/// cannot carry the car on. Where the car falls behind after a first round that it drove, as a part
/// is too hot or the pack's voltage falls, it goes on more slowly. Given up where it drives half of
/// the first round or less, and ended where it hardly moves in a later one.
pub fn range(
    car: &Car,
    trace: &Trace,
    driver: &Driver,
    start: &State,
    gear: usize,
    step_s: f64,
) -> Range {
    let mut found = Range {
        distance_m: 0.0,
        time_s: 0.0,
        chemical_j: 0.0,
        ending: DriveEnding::Complete,
        rounds: 0,
        first_m: 0.0,
        behind: None,
        end: *start,
    };
    let mut gear = gear;
    while found.rounds < MOST_ROUNDS {
        found.rounds += 1;
        // Each round begins at the trace's own speed.
        let from = State { speed_mps: trace.stretches()[0].from_mps, ..found.end };
        let drive: Drive = follow::follow(car, trace, driver, &from, gear, step_s, &mut ());
        gear = drive.gear;
        let is_first = found.rounds == 1;
        if is_first {
            found.first_m = drive.distance_m;
        }
        let is_whole = drive.ending == DriveEnding::Complete;
        let share = drive.distance_m / trace.distance_m();
        if is_whole && !is_first && found.behind.is_none() && share < DRIVEN_SHARE {
            let (distance_m, charge) = (found.distance_m, from.charge);
            found.behind = Some(Behind { distance_m, charge, by: drive.held_back_by() });
        }
        found.distance_m += drive.distance_m;
        found.time_s += drive.time_s;
        found.chemical_j += drive.ledger[Account::Chemical];
        found.end = drive.end;
        if !is_whole {
            found.ending = drive.ending;
            break;
        }
        // A car that hardly moves would stand there until its pack is empty.
        let least = if is_first { LEFT_BEHIND } else { STANDS };
        if drive.distance_m <= least * trace.distance_m() {
            break;
        }
    }
    found
}
