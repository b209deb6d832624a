//! The pictures of the page, each of a car beside the former one.

use super::driven::{Driven, Hills, Replayed};
use super::studies::Shades;
use crate::pictures::{
    Look, Picture, charging, climb, cost, electrics, endurance, energy, recorded, regen, road,
    season, throttle, tractive,
};

/// A picture: its name, and how it is drawn of a car beside the former one. There is none where the
/// car has nothing to be drawn.
pub type Drawing = (&'static str, fn(&Driven, Option<&Driven>, Look) -> Option<Picture>);

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
    ("recorded", |own, former, look| {
        let Replayed { drive, compared, prediction } = own.replayed()?;
        let before = former.and_then(Driven::replayed).map(|former| &former.prediction);
        Some(recorded::picture(compared, drive, prediction, before, look))
    }),
    ("energy", |own, former, look| {
        Some(energy::picture(&own.road, former.map(|former| &former.road), look))
    }),
];

/// Those that are drawn when the page is at rest. The former car is drawn as far as it was at rest too.
pub const STUDIES: &[Drawing] = &[
    ("season", |own, former, look| {
        let before = former.and_then(|former| former.studies(look.units).seasons.known());
        Some(season::picture(own.seasons(look.units)?, &[], before, look))
    }),
    ("regen", |own, former, look| {
        let before = former.and_then(|former| former.studies(look.units).regen.known());
        Some(regen::picture(own.regen(look.units)?, before, look))
    }),
    ("endurance", |own, former, look| {
        let before = former.and_then(|former| former.studies(look.units).endurance.known());
        Some(endurance::picture(own.endurance(look.units)?, before, look))
    }),
    ("electrics", |own, former, look| {
        let before = former.and_then(|former| former.studies(look.units).electrics.known());
        Some(electrics::picture(own.electrics(look.units)?, before, look))
    }),
    ("charging", |own, former, look| {
        let (report, course) = own.charging(look.units)?;
        let before = former.and_then(|former| former.studies(look.units).charging.known());
        Some(charging::picture(report, course, before.map(|known| known.1.as_slice()), look))
    }),
    ("cost", |own, former, look| {
        let before = former.and_then(|former| former.studies(look.units).cost.known());
        Some(cost::picture(own.cost(look.units)?, Some(&own.road.ledger), before, look))
    }),
];

/// Those on which shading is drawn, of the cars that were drawn for it.
pub fn shaded(own: &Driven, former: Option<&Driven>, shades: &Shades, look: Look) -> Vec<Named> {
    let hill = |name, what, own: Option<Hills>, former, drawn| {
        let (report, runs) = own?;
        Some((name, climb::shaded(what, report, runs, former, drawn, look)))
    };
    let before = former.map(Driven::tractive);
    let tractive = tractive::shaded(own.tractive(), before, &shades.tractive, look);
    let former_climb = former.and_then(Driven::climb);
    let former_pass = former.and_then(Driven::pass);
    let hills = [
        hill("climb", "The climb", own.climb(), former_climb, &shades.climb[..]),
        hill("pass", "The pass", own.pass(), former_pass, &shades.pass[..]),
    ];
    std::iter::once(("tractive", tractive)).chain(hills.into_iter().flatten()).collect()
}

/// A picture with its name.
type Named = (&'static str, Picture);

fn hill(what: &str, own: Option<Hills>, former: Option<Hills>, look: Look) -> Option<Picture> {
    let (report, runs) = own?;
    Some(climb::picture(what, report, runs, former, look))
}
