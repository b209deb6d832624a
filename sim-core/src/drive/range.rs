//! How far the car goes: a trace driven over and over until the pack is empty.

use crate::car::Car;
use crate::driver::Driver;
use crate::follow::{self, Drive, DriveEnding};
use crate::ledger::Account;
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
    /// State at the end.
    pub end: State,
}

/// Rounds after which the search for the end is given up.
pub const MOST_ROUNDS: u32 = 500;

/// Share of the distance of all rounds up to which the car does not drive the trace at all.
const LEFT_BEHIND: f64 = 0.5;

/// Drives a trace round after round, parts warming on, until the weakest cell is empty or the pack
/// cannot carry the car on; given up where the car has driven half of the distance or less.
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
        end: *start,
    };
    let mut gear = gear;
    while found.rounds < MOST_ROUNDS {
        found.rounds += 1;
        // Each round begins at the trace's own speed.
        let from = State { speed_mps: trace.stretches()[0].from_mps, ..found.end };
        let drive: Drive = follow::follow(car, trace, driver, &from, gear, step_s, &mut ());
        gear = drive.gear;
        found.distance_m += drive.distance_m;
        found.time_s += drive.time_s;
        found.chemical_j += drive.ledger[Account::Chemical];
        found.end = drive.end;
        if drive.ending != DriveEnding::Complete {
            found.ending = drive.ending;
            break;
        }
        // A car that hardly moves would stand there until its pack is empty.
        if found.distance_m <= LEFT_BEHIND * f64::from(found.rounds) * trace.distance_m() {
            break;
        }
    }
    found
}
