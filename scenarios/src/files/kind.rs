//! The kinds of things that a file can hold.

/// What a file holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FileKind {
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
    /// Tyres.
    Tyre,
    /// What was learnt from a car that was driven.
    Measured,
    /// What the columns of a logger hold.
    Columns,
    /// What is tried of each part.
    Candidates,
}

/// What of a path from the root of a scenario stands below the list of a pack's boxes.
fn in_boxes(path: &[String]) -> Option<&[String]> {
    let list = ["build", "pack", BOXES];
    let (above, below) = path.split_at_checked(list.len())?;
    above.iter().eq(list).then_some(below)
}

/// The list of a pack whose items may have cells of their own.
pub(crate) const BOXES: &str = "boxes";

/// Whether cells of their own may stand below a path, or at it: whatever may be a reference.
pub(crate) fn may_refer(path: &[String]) -> bool {
    FileKind::at(path).is_some() || in_boxes(path).is_some_and(|below| below.len() < 2)
}

impl FileKind {
    /// All kinds.
    pub const ALL: [FileKind; 12] = [
        FileKind::Scenario,
        FileKind::Build,
        FileKind::Donor,
        FileKind::Gearbox,
        FileKind::Motor,
        FileKind::Controller,
        FileKind::Pack,
        FileKind::Cell,
        FileKind::Tyre,
        FileKind::Measured,
        FileKind::Columns,
        FileKind::Candidates,
    ];

    /// Its name, which is also the key under which it stands; of what was learnt that of its list.
    pub fn name(self) -> &'static str {
        match self {
            FileKind::Scenario => "scenario",
            FileKind::Build => "build",
            FileKind::Donor => "donor",
            FileKind::Gearbox => "gearbox",
            FileKind::Motor => "motor",
            FileKind::Controller => "controller",
            FileKind::Pack => "pack",
            FileKind::Cell => "cell",
            FileKind::Tyre => "tyre",
            FileKind::Measured => "measured",
            FileKind::Columns => "columns",
            FileKind::Candidates => "candidates",
        }
    }

    /// The kinds that stand in it under their own names.
    pub(crate) fn holds(self) -> &'static [FileKind] {
        match self {
            FileKind::Scenario => &[FileKind::Build],
            FileKind::Build => &[
                FileKind::Donor,
                FileKind::Gearbox,
                FileKind::Motor,
                FileKind::Controller,
                FileKind::Pack,
                FileKind::Tyre,
            ],
            FileKind::Pack => &[FileKind::Cell],
            _ => &[],
        }
    }

    /// What stands at a path from the root of a scenario, if it is a thing of its own.
    pub(crate) fn at(path: &[String]) -> Option<FileKind> {
        if let Some([_, below @ ..]) = in_boxes(path) {
            let [cell] = below else { return None };
            return (cell == FileKind::Cell.name()).then_some(FileKind::Cell);
        }
        path.iter().try_fold(FileKind::Scenario, |kind, step| {
            kind.holds().iter().copied().find(|inner| inner.name() == step)
        })
    }
}
