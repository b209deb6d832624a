//! The pictures of the page, each of a car beside the former one.

use super::driven::{Driven, Hills};
use crate::pictures::{Look, Picture, climb, energy, road, throttle, tractive};

/// A picture: its name, and how it is drawn of a car beside the former one. There is none where the
/// car has nothing to be drawn.
type Drawing = (&'static str, fn(&Driven, Option<&Driven>, Look) -> Option<Picture>);

/// All of them, in the order in which they stand on the page.
pub const DRAWINGS: &[Drawing] = &[
    ("tractive", |own, former, look| {
        Some(tractive::picture(own.tractive(), former.map(Driven::tractive), look))
    }),
    ("throttle", |own, former, look| {
        Some(throttle::picture(&own.pull, own.pulled(), former.map(Driven::pulled), look))
    }),
    ("climb", |own, former, look| {
        hill("The climb", own.climb(), former.and_then(Driven::climb), look)
    }),
    ("pass", |own, former, look| hill("The pass", own.pass(), former.and_then(Driven::pass), look)),
    ("road", |own, former, look| {
        Some(road::picture(&own.road, own.driven(), former.map(Driven::driven), look))
    }),
    ("energy", |own, former, look| {
        Some(energy::picture(&own.road, former.map(|former| &former.road), look))
    }),
];

fn hill(what: &str, own: Option<Hills>, former: Option<Hills>, look: Look) -> Option<Picture> {
    let (report, runs) = own?;
    Some(climb::picture(what, report, runs, former, look))
}
