//! The gear that a climb recommends is one that no other gear puts to shame.

use scenarios::Loaded;
use scenarios::runs::climb::{ClimbRow, report};
use scenarios::runs::limits::NamedLimit;
use sim_core::Limit;
use sim_core::car::Slope;
use sim_core::climb::{ClimbEnding, Hill};
use sim_core::units;

/// Whether nothing took the asked speed away but the end of the charge.
fn until_empty(row: &ClimbRow) -> bool {
    let lost = row.slowed_at_s.is_some() && row.slowed_by != Some(NamedLimit(Limit::Charge));
    row.ending == ClimbEnding::Empty && !lost
}

/// Whether a gear does better than another where neither holds the speed to the top: it reaches the
/// top where the other does not or takes longer; it holds the speed until the pack is empty and the
/// other does not; or it comes further.
fn beats(a: &ClimbRow, b: &ClimbRow) -> bool {
    match (a.ending, b.ending) {
        (ClimbEnding::Top, ClimbEnding::Top) => a.time_s < b.time_s,
        (ClimbEnding::Top, _) => true,
        (_, ClimbEnding::Top) => false,
        _ if until_empty(a) != until_empty(b) => until_empty(a),
        _ => a.distance_km > b.distance_km,
    }
}

/// Long hills, on which some gears hold the speed, some come to the top slower, and some stop.
#[test]
fn no_other_gear_does_better_than_the_one_that_is_recommended() {
    let prepared = Loaded::demo().unwrap().prepare().unwrap();
    let mut mixed = 0;
    for grade in [0.05, 0.07, 0.09] {
        for speed_kmh in [45.0, 60.0, 75.0] {
            for km in [6.0, 20.0, 60.0] {
                let hill = Hill {
                    slope: Slope::from_grade(grade),
                    speed_mps: units::mps_from_kmh(speed_kmh),
                    distance_m: units::m_from_km(km),
                };
                let report = report(&prepared.setup(), &hill).unwrap();
                let best = report.best();
                let tops = report.gears.iter().filter(|g| g.ending == ClimbEnding::Top).count();
                if !best.held && tops > 0 && tops < report.gears.len() {
                    mixed += 1;
                }
                for other in &report.gears {
                    let what =
                        format!("{grade} at {speed_kmh} km/h for {km} km: {other:?} {best:?}");
                    assert!(best.held || !other.held, "{what}");
                    assert!(best.held || !beats(other, best), "{what}");
                }
            }
        }
    }
    assert!(mixed > 0, "no hill on which some gears stop and others do not");
}
