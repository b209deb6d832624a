//! Several runs of one car, whose figures have distinct names.

use crate::inputs::money::Prices;
use crate::prepared::Prepared;
use crate::runs::day::Day;
use crate::runs::endurance::Map;
use crate::runs::failure::Failure;
use crate::runs::figure::{Figure, NotDone, find, read};
use crate::runs::grade::grade_pct;
use crate::runs::pull::Marks;
use crate::runs::regen::Grid;
use crate::runs::run::Run;
use crate::runs::{
    charge, climb, cost, day, descent, drive, electrics, endurance, pull, rating, regen, season,
    standing,
};
use rayon::prelude::*;
use sim_core::Trace;
use sim_core::climb::Hill;
use std::sync::Arc;

/// Some runs, with what they need besides the car.
///
/// A hill that is not given is the scenario's own, also where a search changes it; a climb, pass or
/// day that nobody gave has no figures.
#[derive(Debug, Clone)]
pub struct Suite {
    /// Which runs.
    pub runs: Vec<Run>,
    /// Which of their figures, in order; empty, all.
    pub only: Vec<String>,
    /// What the figures of a run are worth that is not carried out.
    pub not_done: NotDone,
    /// What the road is called.
    pub road: String,
    /// The road.
    pub trace: Arc<Trace>,
    /// The hill in place of the scenario's climb.
    pub climb: Option<Hill>,
    /// The hill to go down in place of the scenario's pass or climb.
    pub descent: Option<Hill>,
    /// What is charged from where; a price that it does not name is the scenario's.
    pub charge: charge::ChargePlan,
    /// The day, where it or the seasons are among the runs.
    pub day: Option<Arc<Day>>,
}

impl Suite {
    /// Runs on a road, and on the scenario's own hills.
    pub fn new(runs: &[Run], road: &str, trace: Trace) -> Self {
        Self {
            runs: runs.to_vec(),
            only: Vec::new(),
            not_done: NotDone::default(),
            road: road.to_owned(),
            trace: Arc::new(trace),
            climb: None,
            descent: None,
            charge: charge::ChargePlan::default(),
            day: None,
        }
    }

    /// Whether one of the runs is a drive on its road.
    pub fn drives_its_road(&self) -> bool {
        self.runs.iter().any(|run| {
            matches!(
                run,
                Run::Drive
                    | Run::Range
                    | Run::Season
                    | Run::Day
                    | Run::Cost
                    | Run::Charge
                    | Run::Regen
                    | Run::Electrics
            )
        })
    }

    /// The scenario's prices; one of energy that was given comes before its own.
    pub(super) fn prices(&self, car: &Prepared) -> Prices {
        let energy_per_kwh = self.charge.energy_per_kwh.or(car.prices.energy_per_kwh);
        Prices { energy_per_kwh, ..car.prices.clone() }
    }

    /// The figures of a car, as they count.
    ///
    /// # Errors
    /// [`Failure`] when the integrator gives up, or a run does not go with the car.
    pub fn figures(&self, car: &Prepared) -> Result<Vec<Figure>, Failure> {
        let all = self.all_figures(car)?;
        Ok(all.into_iter().map(|figure| figure.counted(self.not_done)).collect())
    }

    /// The figures of a car as they are, also those of runs that were not carried out.
    ///
    /// # Errors
    /// As [`Self::figures`].
    pub fn all_figures(&self, car: &Prepared) -> Result<Vec<Figure>, Failure> {
        let runs = self.runs.par_iter();
        let each: Vec<Result<Vec<Figure>, Failure>> =
            runs.map(|run| car.vouched_figures(self.figures_of(*run, car)?)).collect();
        let mut found = Vec::new();
        for figures in each {
            found.extend(figures?);
        }
        if self.only.is_empty() {
            return Ok(found);
        }
        Ok(self.only.iter().filter_map(|name| find(&found, name).copied()).collect())
    }

    /// Carries a run out and reads its report.
    fn figures_of(&self, run: Run, car: &Prepared) -> Result<Vec<Figure>, Failure> {
        let (setup, road, trace) = (car.setup(), &self.road, &self.trace);
        Ok(match run {
            Run::Standing => read(standing::FIGURES, &standing::report(&setup, car.prices.price)),
            Run::Pull => read(pull::FIGURES, &pull::through(&setup, &Marks::metric(), false)?),
            Run::Rating => read(rating::FIGURES, &rating::report(&setup)),
            Run::Climb => match self.climb.or(car.drives.climb) {
                Some(hill) => read(climb::FIGURES, &climb::best(&setup, &rising(hill)?)?),
                None => Vec::new(),
            },
            Run::Pass => match car.drives.pass {
                Some(hill) => read(climb::PASS_FIGURES, &climb::best(&setup, &rising(hill)?)?),
                None => Vec::new(),
            },
            Run::Drive => {
                let driven = drive::drive(&setup, trace, &mut ());
                read(drive::FIGURES, &drive::report(&setup, road, trace, &driven))
            }
            Run::Range => read(drive::RANGE_FIGURES, &drive::range_of(&setup, trace)),
            Run::Day => match &self.day {
                Some(day) => read(day::FIGURES, &day::report(car, day)?),
                None => Vec::new(),
            },
            Run::Season => match &self.day {
                Some(day) => {
                    let found = season::without_costs(car, (road, trace), day)?;
                    let of_road = read(season::FIGURES, &found);
                    let year = season::Year(found);
                    let of_year = read(season::YEAR_FIGURES, &year);
                    let of_day = read(season::DAY_FIGURES, &season::Days(year.0));
                    [of_road, of_year, of_day].concat()
                }
                None => Vec::new(),
            },
            Run::Charge => {
                let plan = self.charge.priced(&car.prices);
                read(charge::FIGURES, &charge::report(&setup, &car.charger, road, trace, &plan))
            }
            Run::Cost => {
                let prices = self.prices(car);
                read(cost::FIGURES, &cost::report(&setup, &car.charger, &prices, road, trace)?)
            }
            Run::Descent => {
                let own = car.drives.pass.or(car.drives.climb);
                let hill = self.descent.or(own).unwrap_or_else(climb::usual);
                read(descent::FIGURES, &descent::report(&setup, &hill)?)
            }
            Run::Regen => read(regen::FIGURES, &regen::report(car, road, trace, &Grid::default())?),
            Run::Endurance => {
                read(endurance::FIGURES, &endurance::report(&setup, &Map::default(), || ())?)
            }
            Run::Electrics => {
                let climb = self.climb;
                let plan = electrics::Wish { climb, ..electrics::Wish::default() };
                read(electrics::FIGURES, &electrics::report(car, road, trace, &plan)?)
            }
        })
    }
}

/// A hill to climb.
fn rising(hill: Hill) -> Result<Hill, Failure> {
    if hill.slope.sin >= 0.0 {
        return Ok(hill);
    }
    let falls_pct = -grade_pct(hill.slope);
    Err(Failure::Invalid(format!(
        "a climb on a grade that falls by {falls_pct:.1} % is a descent: the run `descent` has its \
         figures"
    )))
}
