//! What the page is told when something moved: figures and verdicts, then pictures, then what takes
//! longer, each on a line of its own as soon as it is there.

use super::changes::{Change, Changes};
use super::choices::Choices;
use super::drawings::{DRAWINGS, Drawing, STUDIES, shaded};
use super::driven::{Driven, suite};
use super::groups::{Group, groups};
use super::nudges::{self, Moved};
use super::refusal::Refusal;
use super::state::{Page, State};
use super::studies::Shades;
use crate::choice::{Choice, Way};
use crate::commands::choose;
use crate::failure::Failure;
use crate::figure;
use crate::measure::Units;
use crate::output::{Output, Said as Spoken};
use crate::pictures::{Look, Picture, bands as causes, front};
use rayon::prelude::*;
use scenarios::Loaded;
use scenarios::advice;
use scenarios::runs::day::Day;
use scenarios::runs::{Better, Figure, Run, Suite};
use scenarios::studies::bands::{self, BandsReport};
use scenarios::studies::choose::ChooseReport;
use scenarios::studies::uncertain::Uncertain;
use scenarios::verdict::{self, Standing};
use serde::{Deserialize, Serialize};
use std::sync::Arc;
use std::time::Duration;

/// Passes a piece on; says whether anybody still listens, also where there is none to pass on.
pub type Tell<'a> = dyn Fn(Option<&Piece>) -> bool + Sync + 'a;

/// What the page asks.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Question {
    /// The name of the page.
    pub page: String,
    /// The number of the move; the highest is the newest.
    pub number: u64,
    /// What was changed.
    pub changes: Vec<Change>,
    /// What was changed in the state that this one is held against, if there is one.
    pub former: Option<Vec<Change>>,
    /// Units of what is shown; those of the program's start where the page has none of its own yet.
    pub units: Option<Units>,
    /// How wide a picture is, px.
    pub width: f64,
    /// Whether the groups are wanted again, as after something was picked.
    pub groups: bool,
    /// Whether bands and what each slider moves are wanted.
    pub background: bool,
}

/// The longest name of a page, bytes.
const NAME_BYTES: usize = 64;

/// A piece of an answer.
#[derive(Debug, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Piece {
    /// The groups of the car as it was picked.
    Groups {
        /// Units of what is shown.
        units: Units,
        /// What the scenario is called.
        name: String,
        /// The groups.
        groups: Vec<Group>,
    },
    /// What came of it.
    Figures {
        /// What the car does, and what gives up first.
        verdicts: Vec<Said>,
        /// Figures that decide.
        figures: Vec<Shown>,
        /// The options that do the same.
        lines: Vec<String>,
    },
    /// A picture.
    Picture {
        /// Its name.
        name: &'static str,
        /// The picture.
        svg: String,
    },
    /// Between which values figures lie in eight cases of ten.
    Bands {
        /// How many cars were drawn.
        samples: usize,
        /// The bands.
        bands: Vec<ShownBand>,
    },
    /// What would mend what does not hold.
    Advice {
        /// A sentence each.
        advice: Vec<String>,
    },
    /// What each slider moves most.
    Moves {
        /// By the path of the slider.
        moves: Vec<Moved>,
    },
    /// Which parts to buy: what is drawn of it comes as a picture.
    Choice {
        /// Tables and sentences, as elements.
        html: String,
    },
    /// It cannot be, for this reason.
    Refused {
        /// Why.
        sentence: String,
    },
    /// Something newer was asked.
    Superseded,
}

/// A sentence about the car.
#[derive(Debug, Serialize)]
pub struct Said {
    standing: Standing,
    sentence: String,
}

/// A figure as it is shown.
#[derive(Debug, Serialize)]
pub struct Shown {
    name: &'static str,
    label: String,
    meaning: &'static str,
    value: String,
    /// The change against the former state, where there is one.
    change: Option<String>,
    /// Whether that is better or worse.
    turn: &'static str,
}

/// A band of a figure.
#[derive(Debug, Serialize)]
pub struct ShownBand {
    name: &'static str,
    low: String,
    high: String,
}

/// The figures that decide.
pub const FIGURES: [&str; 13] = [
    "top_speed_kmh",
    "to_50_kmh_s",
    "to_80_kmh_s",
    "to_100_kmh_s",
    "speed_30min_kmh",
    "climb_slowest_kmh",
    "climb_heat_pct",
    "pass_slowest_kmh",
    "pass_heat_pct",
    "wh_per_km",
    "range_km",
    "running_kg",
    "rear_axle_kg",
];

/// How long a page is left alone before anything is worked out in the background, in steps between
/// which a new move is looked for.
const REST_STEPS: usize = 100;
const REST_STEP: Duration = Duration::from_millis(5);

/// Cars that are drawn for bands.
const SAMPLES: usize = 60;

impl Question {
    /// Whether it is one that a page may ask.
    pub fn check(&self) -> Result<(), Refusal> {
        if self.page.is_empty() || self.page.len() > NAME_BYTES {
            return Err(Refusal::of(format!("a page has a name of 1 to {NAME_BYTES} bytes")));
        }
        Ok(())
    }

    /// Answers piece by piece.
    pub fn answer(&self, state: &State, page: &Page, tell: &Tell<'_>) {
        let wanted = || page.is_newest(self.number);
        let units = self.units.unwrap_or(state.units);
        match self.pieces(state, page, units, &wanted, tell) {
            _ if !wanted() => drop(tell(Some(&Piece::Superseded))),
            Err(refusal) => {
                let sentence = units.said(refusal.sentence());
                tell(Some(&Piece::Refused { sentence }));
            }
            Ok(()) => {}
        }
    }

    fn pieces(
        &self,
        state: &State,
        page: &Page,
        units: Units,
        wanted: &(dyn Fn() -> bool + Sync),
        tell: &Tell<'_>,
    ) -> Result<(), Refusal> {
        if self.groups {
            state.look();
        }
        let choices = state.choices();
        let changes = Changes::read(&self.changes, &choices)?;
        let picked = page.picked(state, &changes)?;
        if self.groups {
            let name = crate::plain::line(&picked.stated.name);
            let groups = groups(&picked.stated, &choices, units);
            tell(Some(&Piece::Groups { units, name, groups }));
        }
        let driven = page.driven(&picked, &changes, state.recorded.as_ref())?;
        let former = match &self.former {
            Some(former) => self.former(state, page, &choices, former),
            None => None,
        };
        if !wanted() {
            return Ok(());
        }
        tell(Some(&shown(&driven, former.as_deref(), &changes, units)));
        // Whoever has gone waits for nothing.
        let still = || wanted() && tell(None);
        let width = self.width.clamp(Look::NARROW, Look::WIDE);
        let look = Look { name: "", units, width };
        let show = |name: &'static str, mut picture: Picture| {
            // Two of a kind on one page need names of their own.
            picture.id = name.to_owned();
            tell(Some(&Piece::Picture { name, svg: picture.inline() }));
        };
        let draw_all = |drawings: &[Drawing]| {
            drawings.par_iter().for_each(|(name, draw)| {
                if still()
                    && let Some(picture) = draw(&driven, former.as_deref(), look)
                {
                    show(name, picture);
                }
            });
        };
        draw_all(DRAWINGS);
        if !self.background || !rests(&still) {
            return Ok(());
        }
        let moved = picked.loaded.put(&changes.moved)?;
        let advice = advice::advice(&moved, &driven.car, &driven.told(), &driven.trace);
        let said = |one: &advice::Advice| units.said(&crate::plain::line(&one.text));
        tell(Some(&Piece::Advice { advice: advice.iter().map(said).collect() }));
        draw_all(STUDIES);
        if !still() {
            return Ok(());
        }
        let uncertain = Uncertain::new(&moved, &[], true).ok();
        if let Some(uncertain) = &uncertain
            && let Some(shades) = Shades::of(uncertain, &driven, &still)
        {
            for (name, picture) in shaded(&driven, former.as_deref(), &shades, look) {
                show(name, picture);
            }
        }
        if let Some(uncertain) = &uncertain
            && let Some(report) = bands_of(uncertain, &driven, &still)
        {
            tell(Some(&told_of(&report, units)));
            show("causes", causes::picture(&report, look));
        }
        if still() {
            let groups = groups(&driven.car, &choices, units);
            let numbers = groups.into_iter().flat_map(|group| group.numbers);
            let moves = nudges::moved(&moved, numbers.collect(), &driven.figures, units, &still);
            tell(Some(&Piece::Moves { moves }));
        }
        if let Some(choice) = &state.choice
            && still()
        {
            let chosen = chosen(choice, (&moved, &driven), &still);
            // What is broken off is no answer.
            if still() {
                if let Ok(report) = &chosen {
                    show("front", front::picture(report, look));
                }
                tell(Some(&told_choice(chosen, &driven.car.name, units)));
            }
        }
        Ok(())
    }

    /// The state before, which is left out where it cannot be told quickly.
    fn former(
        &self,
        state: &State,
        page: &Page,
        choices: &Choices,
        former: &[Change],
    ) -> Option<Arc<Driven>> {
        let changes = Changes::read(former, choices).ok()?;
        let picked = page.picked(state, &changes).ok()?;
        page.driven(&picked, &changes, state.recorded.as_ref()).ok()
    }
}

/// Cars that are drawn of each set of parts that no other beats; `choose` draws more.
const CHOSEN_SAMPLES: usize = 30;

/// Which parts to buy.
fn chosen(
    choice: &Choice,
    (moved, driven): (&Loaded, &Driven),
    still: &(dyn Fn() -> bool + Sync),
) -> Result<ChooseReport, Failure> {
    let car = &driven.car;
    let suite = Suite::new(&[], &driven.road.road, (*driven.trace).clone());
    let day = Day::of(car, &car.road(), &cycles::LoadOptions::default()).ok();
    let way = Way { suite, day: day.map(Arc::new) };
    choice.made((moved, car), &way, CHOSEN_SAMPLES, still)
}

/// A choice in the words of `choose`, or why there is none.
fn told_choice(chosen: Result<ChooseReport, Failure>, name: &str, units: Units) -> Piece {
    let said = chosen.and_then(|report| {
        Output::said_by(units, |output| choose::show_beside(&report, name, output))
    });
    let said = said.unwrap_or_else(|failure| vec![Spoken::Text(units.said(&failure.sentence()))]);
    Piece::Choice { html: crate::plain::lines(&crate::page::said(&said).into_string()) }
}

/// The bands of a car.
fn bands_of(
    uncertain: &Uncertain<'_>,
    driven: &Driven,
    still: &(dyn Fn() -> bool + Sync),
) -> Option<BandsReport> {
    let suite = suite(&driven.car, &Run::SHEET).ok()?;
    bands::bands(uncertain, &suite, &[], SAMPLES, 1, still).ok()
}

/// The bands of the figures that decide.
fn told_of(report: &BandsReport, units: Units) -> Piece {
    let shown = report.figures.iter().filter(|band| FIGURES.contains(&band.figure));
    let value = |band: &bands::Band, v: f64| figure::value(band.figure, v, units);
    let bands = shown
        .filter(|band| band.moves())
        .map(|band| ShownBand {
            name: band.figure,
            low: value(band, band.p10),
            high: value(band, band.p90),
        })
        .collect();
    Piece::Bands { samples: report.samples, bands }
}

/// Waits until the page has been left alone for a while, as whoever moves a slider goes on moving it.
fn rests(still: &dyn Fn() -> bool) -> bool {
    (0..REST_STEPS).all(|_| {
        std::thread::sleep(REST_STEP);
        still()
    })
}

/// Figures and verdicts, against the former state.
fn shown(driven: &Driven, former: Option<&Driven>, changes: &Changes, units: Units) -> Piece {
    let shown = FIGURES.iter().filter_map(|name| {
        let own = driven.figures.iter().find(|figure| figure.name == *name)?;
        let before = former.and_then(|f| f.figures.iter().find(|figure| figure.name == *name));
        Some(Shown {
            name: own.name,
            label: figure::label(own.name, units),
            meaning: own.meaning,
            value: figure::shown(own, units),
            change: before.and_then(|before| changed(own, before, units)),
            turn: before.map_or("", |before| turn(own, before)),
        })
    });
    Piece::Figures {
        verdicts: said(driven, units),
        figures: shown.collect(),
        lines: changes.lines(),
    }
}

/// What the car does, in sentences.
fn said(driven: &Driven, units: Units) -> Vec<Said> {
    let said = |verdict: verdict::Verdict| Said {
        standing: verdict.standing,
        sentence: units.said(&crate::plain::line(&verdict.text)),
    };
    verdict::verdicts(&driven.car, &driven.told()).into_iter().map(said).collect()
}

/// How a figure changed, in words; nothing where it reads as it did.
fn changed(own: &Figure, before: &Figure, units: Units) -> Option<String> {
    if figure::shown(own, units) == figure::shown(before, units) {
        return None;
    }
    if own.value.is_finite() && before.value.is_finite() {
        return Some(figure::change(own.name, own.value - before.value, units))
            .filter(|text| text != "0");
    }
    Some(format!("was {}", figure::shown(before, units)))
}

/// Whether that is better or worse. What is never reached is worse than all that is.
fn turn(own: &Figure, before: &Figure) -> &'static str {
    let worth = |figure: &Figure| match figure.better {
        _ if figure.value.is_nan() => f64::NEG_INFINITY,
        Better::Higher => figure.value,
        Better::Lower => -figure.value,
        Better::Neither => 0.0,
    };
    let (own, before) = (worth(own), worth(before));
    if own > before {
        "better"
    } else if own < before {
        "worse"
    } else {
        ""
    }
}
