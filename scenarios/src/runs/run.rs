//! The runs by name, with their figures.

use crate::files::suggestion;
use crate::runs::failure::Failure;
use crate::runs::figure::{Figure, declared};
use crate::runs::{
    charge, climb, cost, day, descent, drive, electrics, endurance, pull, rating, regen, season,
    standing,
};
use schemars::JsonSchema;
use serde::Serialize;
use std::sync::LazyLock;

/// What a car can be asked to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Run {
    /// Nothing moves.
    Standing,
    /// Full throttle.
    Pull,
    /// Thirty minutes, and continuously.
    Rating,
    /// The climb.
    Climb,
    /// The pass.
    Pass,
    /// The road, once.
    Drive,
    /// The road, until the pack is empty.
    Range,
    /// The day.
    Day,
    /// The seasons.
    Season,
    /// Charging.
    Charge,
    /// What driving costs.
    Cost,
    /// The way down.
    Descent,
    /// Settings of regen.
    Regen,
    /// Speeds and grades.
    Endurance,
    /// The wiring.
    Electrics,
}

/// What is known of a run.
struct Entry {
    run: Run,
    name: &'static str,
    words: &'static str,
    figures: fn() -> Vec<Figure<()>>,
}

/// All runs; those that cost least come first.
const RUNS: &[Entry] = &[
    Entry {
        run: Run::Standing,
        name: "standing",
        words: "The car at rest: masses, gearing and pack",
        figures: || declared(standing::FIGURES),
    },
    Entry {
        run: Run::Pull,
        name: "pull",
        words: "Full throttle through the gears",
        figures: || declared(pull::FIGURES),
    },
    Entry {
        run: Run::Rating,
        name: "rating",
        words: "What is held on the level for thirty minutes, and continuously",
        figures: || declared(rating::FIGURES),
    },
    Entry {
        run: Run::Climb,
        name: "climb",
        words: "The climb, in its best gear",
        figures: || declared(climb::FIGURES),
    },
    Entry {
        run: Run::Pass,
        name: "pass",
        words: "The scenario's pass, in its best gear",
        figures: || declared(climb::PASS_FIGURES),
    },
    Entry {
        run: Run::Drive,
        name: "drive",
        words: "The road, once",
        figures: || declared(drive::FIGURES),
    },
    Entry {
        run: Run::Range,
        name: "range",
        words: "The road, until the pack is empty",
        figures: || declared(drive::RANGE_FIGURES),
    },
    Entry { run: Run::Day, name: "day", words: "The day", figures: || declared(day::FIGURES) },
    Entry {
        run: Run::Season,
        name: "season",
        words: "The road and the day in every season of the scenario",
        figures: || {
            let of_road = [declared(season::FIGURES), declared(season::YEAR_FIGURES)].concat();
            [of_road, declared(season::DAY_FIGURES)].concat()
        },
    },
    Entry {
        run: Run::Charge,
        name: "charge",
        words: "Charging from a socket, and what a night of it is good for",
        figures: || declared(charge::FIGURES),
    },
    Entry {
        run: Run::Cost,
        name: "cost",
        words: "What the road costs from the wall, against the donor's fuel",
        figures: || declared(cost::FIGURES),
    },
    Entry {
        run: Run::Descent,
        name: "descent",
        words: "The pass, or else the climb, downwards in its best gear",
        figures: || declared(descent::FIGURES),
    },
    Entry {
        run: Run::Regen,
        name: "regen",
        words: "The best of nine pairs of regen settings on the road",
        figures: || declared(regen::FIGURES),
    },
    Entry {
        run: Run::Endurance,
        name: "endurance",
        words: "Steady speeds of 40 to 120 km/h on grades of 0 to 10 %, in the best gear for each",
        figures: || declared(endurance::FIGURES),
    },
    Entry {
        run: Run::Electrics,
        name: "electrics",
        words: "Currents of every lead over pull, climb, pass, road and charge, and what protects them",
        figures: || declared(electrics::FIGURES),
    },
];

/// Every figure with the run that gives it.
static FIGURES: LazyLock<Vec<(Run, Figure<()>)>> = LazyLock::new(|| {
    let of = |entry: &Entry| {
        let run = entry.run;
        (entry.figures)().into_iter().map(move |figure| (run, figure))
    };
    RUNS.iter().flat_map(of).collect()
});

impl Run {
    /// All runs; those that cost least come first.
    pub const ALL: [Run; RUNS.len()] = {
        let mut all = [Run::Standing; RUNS.len()];
        let mut i = 0;
        while i < RUNS.len() {
            all[i] = RUNS[i].run;
            i += 1;
        }
        all
    };
    /// What results are usually asked of.
    pub const USUAL: [Run; 5] = [Run::Pull, Run::Climb, Run::Pass, Run::Drive, Run::Range];

    /// Those whose figures stand on the sheet of a build.
    pub const SHEET: [Run; 7] =
        [Run::Standing, Run::Pull, Run::Rating, Run::Climb, Run::Pass, Run::Drive, Run::Range];

    fn entry(self) -> &'static Entry {
        // The table is in the order of the variants, which a test holds.
        &RUNS[self as usize]
    }

    /// Its name.
    pub fn name(self) -> &'static str {
        self.entry().name
    }

    /// What happens, in a few words.
    pub fn words(self) -> &'static str {
        self.entry().words
    }

    /// Its figures, without values.
    pub fn figures(self) -> Vec<Figure<()>> {
        (self.entry().figures)()
    }

    /// The run of a name.
    pub fn named(name: &str) -> Option<Self> {
        RUNS.iter().find(|entry| entry.name == name).map(|entry| entry.run)
    }

    /// The figure of a name, and the run that gives it.
    ///
    /// # Errors
    /// [`Failure::NoFigure`] with what may have been meant.
    pub fn of_figure(name: &str) -> Result<(Self, Figure<()>), Failure> {
        FIGURES.iter().find(|(_, figure)| figure.name == name).copied().ok_or_else(|| {
            let known = FIGURES.iter().map(|(_, figure)| figure.name);
            Failure::NoFigure { name: name.to_owned(), meant: suggestion::closest(name, known) }
        })
    }

    /// The runs that were not carried out, of a car's figures, and why.
    pub fn not_done(figures: &[Figure]) -> Vec<(Self, &'static str)> {
        let mut found = Vec::new();
        for figure in figures {
            if let Some(why) = figure.not_done
                && let Ok((run, _)) = Self::of_figure(figure.name)
                && !found.contains(&(run, why))
            {
                found.push((run, why));
            }
        }
        found
    }

    /// Why a figure is not among those of a car.
    pub fn no_answer(name: &str) -> Failure {
        match Self::of_figure(name) {
            Ok((_, figure)) => Failure::NoAnswer { name: name.to_owned(), meaning: figure.meaning },
            Err(failure) => failure,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::runs::{FigureKind, Unit};

    #[test]
    fn each_run_stands_in_its_place_under_its_own_name() {
        for (i, run) in Run::ALL.into_iter().enumerate() {
            assert_eq!(run as usize, i);
            assert_eq!(Run::named(run.name()), Some(run));
            assert_eq!(serde_json::to_value(run).unwrap(), run.name());
        }
    }

    #[test]
    fn each_figure_has_one_name_that_ends_in_its_unit_and_a_meaning() {
        for (i, (run, figure)) in FIGURES.iter().enumerate() {
            let name = figure.name;
            assert_eq!(Run::of_figure(name).unwrap(), (*run, *figure), "{name} is there twice");
            assert!(FIGURES[..i].iter().all(|(_, other)| other.name != name));
            let ending = figure.unit.ending();
            let ends = name == ending || name.ends_with(&format!("_{ending}"));
            assert!(
                ends || matches!(figure.unit, Unit::Plain | Unit::Money),
                "{name} does not end in _{ending}"
            );
            assert_eq!(figure.kind == FigureKind::Check, name.ends_with("_residual"), "{name}");
            assert!(figure.meaning.chars().count() > 5 && !figure.meaning.ends_with('.'), "{name}");
        }
    }
}
