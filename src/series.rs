//! The file that `--series` names.

use crate::failure::Failure;
use scenarios::Prepared;
use scenarios::runs::series::Series;
use std::path::Path;

/// Begins the series of a run that reads no road, where one is asked for. What cannot be written is
/// refused before anything is driven.
pub fn begin<'a>(
    prepared: &'a Prepared,
    file: Option<&Path>,
) -> Result<Option<Series<'a>>, Failure> {
    let begin = |file| Series::new(&prepared.car, file, &prepared.files());
    Ok(file.map(begin).transpose()?)
}
