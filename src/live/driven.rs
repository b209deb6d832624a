//! A car that was driven, for what is shown of it, and later of it as the former one.

use super::refusal::Refusal;
use super::studies::Studies;
use crate::measure::Units;
use rayon::join;
use scenarios::measured::DriveCompared;
use scenarios::measured::comparison;
use scenarios::measured::drive::{Prediction, RecordedDrive};
use scenarios::runs::climb::{self, ClimbReport};
use scenarios::runs::drive::{self, DriveReport};
use scenarios::runs::figure::read;
use scenarios::runs::gearing::{self, GearRow};
use scenarios::runs::history::{History, Seen};
use scenarios::runs::pull::{self, Marks, PullReport};
use scenarios::runs::tractive::{self, TractiveReport};
use scenarios::runs::{self, Figure, NotDone, Run, Suite, rating, standing};
use scenarios::verdict::Told;
use scenarios::{Loaded, Prepared, Warning};
use sim_core::Trace;
use sim_core::climb::Hill;
use std::sync::{Arc, OnceLock};

/// The car as parts, road and surface were picked, before any number was moved.
pub struct Picked {
    /// To be prepared with other numbers.
    pub loaded: Loaded,
    /// As it is.
    pub stated: Prepared,
}

/// What came of a car.
pub struct Driven {
    /// The car.
    pub car: Prepared,
    /// Its figures.
    pub figures: Vec<Figure>,
    /// The speeds of the daily road.
    pub trace: Arc<Trace>,
    /// Full throttle.
    pub pull: PullReport,
    /// The daily road.
    pub road: DriveReport,
    climb: Option<ClimbReport>,
    pass: Option<ClimbReport>,
    gears: Vec<GearRow>,
    warnings: Vec<Warning>,
    marks: Marks,
    seen: Seeing,
    studies: [Studies; 2],
    replayed: Option<Replayed>,
}

/// A recorded drive that this car drove again.
pub struct Replayed {
    /// What was recorded.
    pub drive: Arc<RecordedDrive>,
    /// Its figures.
    pub compared: DriveCompared,
    /// What is predicted, row by row.
    pub prediction: Prediction,
}

/// What pictures show besides, from when one is drawn first.
#[derive(Default)]
struct Seeing {
    tractive: OnceLock<TractiveReport>,
    pulled: OnceLock<Vec<Seen>>,
    climb: OnceLock<Vec<Vec<Seen>>>,
    pass: OnceLock<Vec<Vec<Seen>>>,
    driven: Vec<Seen>,
}

/// A climb in every gear, moment by moment.
pub type Hills<'a> = (&'a ClimbReport, &'a [Vec<Seen>]);

/// The runs of a car on its own road.
pub fn suite(car: &Prepared, runs: &[Run]) -> Result<Suite, Refusal> {
    let road = car.road();
    let loaded = car.read(&road, &cycles::LoadOptions::default()).map_err(Refusal::of)?;
    let built_in = cycles::is_built_in(road.name());
    let name = if built_in { &loaded.schedule.name } else { road.name() };
    Ok(Suite::new(runs, name, runs::trace(&loaded.schedule)?))
}

impl Driven {
    /// Drives a car.
    pub fn of(car: Prepared, recorded: Option<&Arc<RecordedDrive>>) -> Result<Self, Refusal> {
        let suite = suite(&car, &Run::SHEET)?;
        let (setup, trace) = (car.setup(), suite.trace);
        let hill = |hill: Option<Hill>| hill.map(|hill| climb::report(&setup, &hill)).transpose();
        let hills = || join(|| hill(car.drives.climb), || hill(car.drives.pass));
        let once = || {
            let mut history = History::new(&car.car);
            let found = drive::drive(&setup, &trace, &mut history);
            (drive::report(&setup, &suite.road, &trace, &found), history.into_seen())
        };
        let road = || join(once, || drive::range_of(&setup, &trace));
        let marks = Marks::metric();
        let (((road, driven), range), (pull, (climb, pass))) =
            join(road, || join(|| pull::report(&setup, &marks), hills));
        let (pull, climb, pass) = (pull?, climb?, pass?);
        // What the runs of a sheet come to, without driving any of them again.
        let best = |report: &Option<ClimbReport>, table| {
            let report = report.as_ref();
            report.map_or(Vec::new(), |report| read(table, report.best()))
        };
        let figures = [
            read(standing::FIGURES, &standing::report(&setup, car.prices.price)),
            read(pull::FIGURES, &pull.through),
            read(rating::FIGURES, &pull.rating),
            best(&climb, climb::FIGURES),
            best(&pass, climb::PASS_FIGURES),
            read(drive::FIGURES, &road),
            read(drive::RANGE_FIGURES, &range),
        ];
        let figures = car.vouched_figures(figures.concat())?;
        let counted = |figure: Figure| figure.counted(NotDone::default());
        let figures = figures.into_iter().map(counted).collect();
        let road = DriveReport { range: Some(range), ..road };
        let (gears, warnings) = (gearing::table(&setup), car.warnings());
        let seen = Seeing { driven, ..Seeing::default() };
        let replay = |drive: &Arc<RecordedDrive>| -> Result<Replayed, Refusal> {
            let (compared, prediction) = comparison::driven(drive, &drive.beneath(&car)?);
            Ok(Replayed { drive: drive.clone(), compared, prediction })
        };
        let replayed = recorded.map(replay).transpose()?;
        Ok(Self {
            car,
            figures,
            trace,
            pull,
            road,
            climb,
            pass,
            gears,
            warnings,
            marks,
            seen,
            studies: Default::default(),
            replayed,
        })
    }

    /// What its verdicts are read from.
    pub fn told(&self) -> Told<'_> {
        Told {
            gears: &self.gears,
            pull: &self.pull,
            climb: self.climb.as_ref(),
            pass: self.pass.as_ref(),
            road: &self.road,
            warnings: &self.warnings,
        }
    }

    /// What is worked out when the page is at rest, in the units of the page.
    pub fn studies(&self, units: Units) -> &Studies {
        &self.studies[usize::from(units == Units::Us)]
    }

    /// What its wheels give and need.
    pub fn tractive(&self) -> &TractiveReport {
        self.seen.tractive.get_or_init(|| tractive::report(&self.car.setup()))
    }

    /// Full throttle, moment by moment; nothing where that cannot be told.
    pub fn pulled(&self) -> &[Seen] {
        let history = || pull::history(&self.car.setup(), &self.marks).unwrap_or_default();
        self.seen.pulled.get_or_init(history)
    }

    /// The climb, where there is one.
    pub fn climb(&self) -> Option<Hills<'_>> {
        self.hills(self.climb.as_ref(), self.car.drives.climb, &self.seen.climb)
    }

    /// The pass, where there is one.
    pub fn pass(&self) -> Option<Hills<'_>> {
        self.hills(self.pass.as_ref(), self.car.drives.pass, &self.seen.pass)
    }

    fn hills<'a>(
        &self,
        report: Option<&'a ClimbReport>,
        hill: Option<Hill>,
        seen: &'a OnceLock<Vec<Vec<Seen>>>,
    ) -> Option<Hills<'a>> {
        let hill = hill?;
        let histories = || climb::histories(&self.car.setup(), &hill).unwrap_or_default();
        Some((report?, seen.get_or_init(histories)))
    }

    /// The recorded drive, where there is one.
    pub fn replayed(&self) -> Option<&Replayed> {
        self.replayed.as_ref()
    }

    /// The daily road, moment by moment.
    pub fn driven(&self) -> &[Seen] {
        &self.seen.driven
    }
}
