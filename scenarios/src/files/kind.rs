//! The kinds of things that a file can hold.

/// What a file holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A scenario.
    Scenario,
    /// A build.
    Build,
    /// A donor car.
    Donor,
    /// A gearbox.
    Gearbox,
    /// A motor.
    Motor,
    /// A controller.
    Controller,
    /// A pack.
    Pack,
    /// A cell.
    Cell,
}

impl Kind {
    /// All kinds.
    pub const ALL: [Kind; 8] = [
        Kind::Scenario,
        Kind::Build,
        Kind::Donor,
        Kind::Gearbox,
        Kind::Motor,
        Kind::Controller,
        Kind::Pack,
        Kind::Cell,
    ];

    /// Its name, which is also the key under which it stands.
    pub fn name(self) -> &'static str {
        match self {
            Kind::Scenario => "scenario",
            Kind::Build => "build",
            Kind::Donor => "donor",
            Kind::Gearbox => "gearbox",
            Kind::Motor => "motor",
            Kind::Controller => "controller",
            Kind::Pack => "pack",
            Kind::Cell => "cell",
        }
    }

    /// The kinds that stand in it under their own names.
    pub(crate) fn holds(self) -> &'static [Kind] {
        match self {
            Kind::Scenario => &[Kind::Build],
            Kind::Build => &[Kind::Donor, Kind::Gearbox, Kind::Motor, Kind::Controller, Kind::Pack],
            Kind::Pack => &[Kind::Cell],
            _ => &[],
        }
    }

    /// What stands at a path from the root of a scenario, if it is a thing of its own.
    pub(crate) fn at(path: &[String]) -> Option<Kind> {
        path.iter().try_fold(Kind::Scenario, |kind, step| {
            kind.holds().iter().copied().find(|inner| inner.name() == step)
        })
    }
}
