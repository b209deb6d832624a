//! Parts of a build that were made into models before, for builds that share them.

use crate::files::assumption::Assumption;
use crate::files::field_path::Fault;
use crate::inputs::charger::{Charger, OnBoardCharger};
use crate::inputs::controller::Controller;
use crate::inputs::gearbox::{Gearbox, InCar};
use crate::inputs::motor::Motor;
use crate::inputs::pack::Pack;

/// The parts whose models hang on nothing but their own input.
#[derive(Debug)]
pub(crate) struct KnownParts {
    pub(crate) gearbox: KnownPart<(Gearbox, InCar), sim_core::gearbox::Gearbox>,
    pub(crate) motor: KnownPart<Motor, sim_core::motor::Motor>,
    pub(crate) controller: KnownPart<Controller, sim_core::controller::Controller>,
    pub(crate) pack: KnownPart<Pack, sim_core::pack::Pack>,
    pub(crate) charger: KnownPart<Option<Charger>, OnBoardCharger>,
}

/// A part with its model and what was assumed for it.
#[derive(Debug)]
pub(crate) struct KnownPart<I, M> {
    input: I,
    model: M,
    assumptions: Vec<Assumption>,
}

impl<I, M: Clone> KnownPart<I, M> {
    /// A part that is made into a model.
    pub(crate) fn of(
        input: I,
        model: impl FnOnce(&mut Vec<Assumption>) -> Result<M, Fault>,
    ) -> Result<Self, Fault> {
        let mut assumptions = Vec::new();
        let model = model(&mut assumptions)?;
        Ok(Self { input, model, assumptions })
    }

    /// The model that is known if the input is the same, else one made anew.
    pub(crate) fn or_make(
        known: Option<&Self>,
        is_same: impl FnOnce(&I) -> bool,
        assumptions: &mut Vec<Assumption>,
        make: impl FnOnce(&mut Vec<Assumption>) -> Result<M, Fault>,
    ) -> Result<M, Fault> {
        match known {
            Some(known) if is_same(&known.input) => {
                assumptions.extend_from_slice(&known.assumptions);
                Ok(known.model.clone())
            }
            _ => make(assumptions),
        }
    }
}
