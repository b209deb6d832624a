//! How surely a car keeps its goals, told from another of which cars were drawn: which are worth
//! being drawn as well.

use crate::runs::figure::Figure;
use crate::runs::standing::PRICE;
use crate::studies::goal::Goal;

/// Standard deviations of a normal distribution between its tenth and its ninth tenth.
const TENTHS_SD: f64 = 2.563;
/// From so many standard deviations on, all of a few hundred cars keep a goal.
const CERTAIN_SD: f64 = 2.5;
/// Standard deviation where one that was drawn says none, as a share of the bound.
const USUAL_SHARE: f64 = 0.05;

/// How a figure was drawn: by how much its middle is off the stated one, and from its tenth to its
/// ninth tenth.
#[derive(Debug, Clone, Copy)]
pub struct Drawn {
    /// The middle less the stated one.
    pub off: f64,
    /// From the tenth to the ninth tenth.
    pub spread: f64,
}

/// For each goal, by how much the middle of drawn figures is off the stated one, and their deviation.
#[derive(Debug)]
pub struct Likely<'a> {
    goals: Vec<(&'a Goal, f64, f64)>,
}

impl<'a> Likely<'a> {
    /// Told from what was drawn of the figures of another. What does not differ from car to car is no
    /// question.
    pub fn from(goals: &'a [Goal], drawn: impl Fn(&str) -> Option<Drawn>) -> Self {
        let of = |goal: &'a Goal| {
            let Drawn { off, spread } = drawn(&goal.figure)?;
            let sd = spread / TENTHS_SD;
            match off.is_finite() && sd.is_finite() {
                true => (sd > 0.0).then_some((goal, off, sd)),
                false => Some((goal, 0.0, (USUAL_SHARE * goal.bound.abs()).max(1e-9))),
            }
        };
        Self { goals: goals.iter().filter(|goal| goal.figure != PRICE).filter_map(of).collect() }
    }

    /// How many standard deviations there are to spare of the goal that is missed first, up to where
    /// it is certain.
    pub fn spare_sd(&self, figure: impl Fn(&str) -> Option<Figure>) -> f64 {
        let one = |(goal, off, sd): &(&Goal, f64, f64)| {
            let figure = figure(&goal.figure)?;
            Some(goal.spare(&figure.with(figure.value + off)) / sd)
        };
        self.goals.iter().filter_map(one).fold(CERTAIN_SD, f64::min)
    }
}
