//! What takes longer than a move may: worked out when the page is at rest.

use super::driven::{Driven, Hills};
use crate::commands::report::{map, usual_plan};
use crate::measure::Units;
use rayon::prelude::*;
use scenarios::Prepared;
use scenarios::runs::charge::{self, ChargePoint, ChargeReport};
use scenarios::runs::climb;
use scenarios::runs::cost::{self, CostReport};
use scenarios::runs::day::Day;
use scenarios::runs::electrics::{self, ElectricsReport};
use scenarios::runs::endurance::{self, EnduranceReport};
use scenarios::runs::history::{History, Seen};
use scenarios::runs::regen::{self, Grid, RegenReport};
use scenarios::runs::season::{self, SeasonReport};
use scenarios::runs::tractive::{self, TractiveReport};
use scenarios::studies::hypercube;
use scenarios::studies::uncertain::Uncertain;
use sim_core::climb::Hill;
use std::sync::OnceLock;

/// Something that is worked out once, if it can be.
pub struct Once<T>(OnceLock<Option<T>>);

impl<T> Default for Once<T> {
    fn default() -> Self {
        Self(OnceLock::new())
    }
}

impl<T> Once<T> {
    fn made(&self, make: impl FnOnce() -> Option<T>) -> Option<&T> {
        self.0.get_or_init(make).as_ref()
    }

    /// What was worked out already.
    pub fn known(&self) -> Option<&T> {
        self.0.get()?.as_ref()
    }
}

/// Studies of a car, in the round numbers of some units.
#[derive(Default)]
pub struct Studies {
    /// A charge, and its course.
    pub charging: Once<(ChargeReport, Vec<ChargePoint>)>,
    /// What driving costs.
    pub cost: Once<CostReport>,
    /// Settings of regen.
    pub regen: Once<RegenReport>,
    /// The seasons.
    pub seasons: Once<SeasonReport>,
    /// How long speeds and grades are held.
    pub endurance: Once<EnduranceReport>,
    /// What the wiring must carry.
    pub electrics: Once<ElectricsReport>,
}

impl Driven {
    /// A charge from a usual socket, where the build has a charger or its day a socket.
    pub fn charging(&self, units: Units) -> Option<&(ChargeReport, Vec<ChargePoint>)> {
        self.studies(units).charging.made(|| {
            let (car, setup) = (&self.car, self.car.setup());
            let plan = usual_plan(car, units).ok()??;
            let (road, trace) = (&self.road.road, &*self.trace);
            let report = charge::report(&setup, &car.charger, road, trace, &plan);
            let course = charge::course(&setup, &car.charger, road, trace, &plan);
            Some((car.vouched(report).ok()?, course))
        })
    }

    /// What driving costs, where there are prices.
    pub fn cost(&self, units: Units) -> Option<&CostReport> {
        self.studies(units).cost.made(|| {
            let car = &self.car;
            let setup = car.setup();
            let found =
                cost::report(&setup, &car.charger, &car.prices, &self.road.road, &self.trace);
            car.vouched(found.ok()?).ok()
        })
    }

    /// Settings of regen, where the motor makes any.
    pub fn regen(&self, units: Units) -> Option<&RegenReport> {
        self.studies(units).regen.made(|| {
            let found = regen::report(&self.car, &self.road.road, &self.trace, &Grid::default());
            self.car.vouched(found.ok()?).ok()
        })
    }

    /// The seasons.
    pub fn seasons(&self, units: Units) -> Option<&SeasonReport> {
        self.studies(units).seasons.made(|| {
            let day = Day::of(&self.car, &self.car.road(), &cycles::LoadOptions::default()).ok()?;
            let found = season::report(&self.car, None, (&self.road.road, &self.trace), &day);
            self.car.vouched(found.ok()?).ok()
        })
    }

    /// How long speeds and grades are held.
    pub fn endurance(&self, units: Units) -> Option<&EnduranceReport> {
        self.studies(units).endurance.made(|| {
            let found = endurance::report(&self.car.setup(), &map(units), || ());
            self.car.vouched(found.ok()?).ok()
        })
    }

    /// What the wiring must carry.
    pub fn electrics(&self, units: Units) -> Option<&ElectricsReport> {
        self.studies(units).electrics.made(|| {
            let plan = electrics::Wish::default();
            let found = electrics::report(&self.car, &self.road.road, &self.trace, &plan);
            self.car.vouched(found.ok()?).ok()
        })
    }
}

/// Cars that are drawn for shading.
const SAMPLES: usize = 40;

/// What drawn cars do.
#[derive(Default)]
pub struct Shades {
    /// Their wheels.
    pub tractive: Vec<TractiveReport>,
    /// The climb in the gear that the car itself takes.
    pub climb: Vec<Vec<Seen>>,
    /// The pass in the gear that the car itself takes.
    pub pass: Vec<Vec<Seen>>,
}

impl Shades {
    /// Draws cars as bands do, and drives them. Nothing where nobody waits any more.
    pub fn of(
        uncertain: &Uncertain<'_>,
        own: &Driven,
        still: &(dyn Fn() -> bool + Sync),
    ) -> Option<Self> {
        let shares = hypercube::samples(SAMPLES, uncertain.inputs.len(), 1);
        let gear = |hill: Option<Hills>| hill?.0.chosen.checked_sub(1);
        let gears = (gear(own.climb()), gear(own.pass()));
        let one = |i: usize| {
            if !still() {
                return None;
            }
            let of_sample: Vec<f64> = shares.iter().map(|input| input[i]).collect();
            let car = uncertain.draw(&of_sample).prepared.ok();
            Some(car.map(|car| {
                let climb = climbed(&car, car.drives.climb, gears.0);
                let pass = climbed(&car, car.drives.pass, gears.1);
                (tractive::report(&car.setup()), climb, pass)
            }))
        };
        let all: Option<Vec<_>> = (0..SAMPLES).into_par_iter().map(one).collect();
        let mut shades = Self::default();
        for (tractive, climb, pass) in all?.into_iter().flatten() {
            shades.tractive.push(tractive);
            shades.climb.extend(climb);
            shades.pass.extend(pass);
        }
        Some(shades)
    }
}

fn climbed(car: &Prepared, hill: Option<Hill>, gear: Option<usize>) -> Option<Vec<Seen>> {
    let mut history = History::new(&car.car);
    climb::recorded(&car.setup(), &hill?, gear?, &mut history).ok()?;
    Some(history.into_seen())
}
