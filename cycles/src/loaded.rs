//! A road as it was loaded, and how its file is read.

use std::path::Path;

use crate::pace::{Held, Pace};
use crate::{Cleaning, Columns, Comfort, Elevation, Schedule};

/// How a file is read.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct LoadOptions {
    /// What to do with unknown columns of a CSV file.
    pub columns: Columns,
    /// How a road with limits but no clock is driven.
    pub comfort: Comfort,
    /// How fast a road without a clock is driven, where its file does not say so.
    pub pace: Pace,
    /// What an elevation column is.
    pub elevation: Elevation,
    /// Name of a column of a CSV file that holds a load on the traction pack, besides
    /// `auxiliary_kw` and `auxiliary_w`, which are always known; it ends in `_kw` or `_w`.
    pub auxiliary_column: Option<String>,
}

/// What a file or a name gave.
#[derive(Debug, Clone, PartialEq)]
pub struct LoadedRoad {
    /// The schedule.
    pub schedule: Schedule,
    /// What was done to a recorded elevation, where there was one.
    pub cleaning: Option<Cleaning>,
    /// What was done on the way that the user should know, a sentence each.
    pub notes: Vec<String>,
    /// What held the speed, and for how long, where the road has no clock.
    pub held: Option<Held>,
}

/// A schedule of which there is no more to say.
impl From<Schedule> for LoadedRoad {
    fn from(schedule: Schedule) -> Self {
        Self { schedule, cleaning: None, notes: Vec::new(), held: None }
    }
}

/// The name of a schedule and its source.
pub(crate) fn names(path: &Path) -> (String, String) {
    let name = path.file_stem().unwrap_or_default().to_string_lossy();
    (name.into_owned(), path.display().to_string())
}
