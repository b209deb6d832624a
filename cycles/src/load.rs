use std::path::Path;

use crate::table::{Columns, Quantity, Table, bytes_of, text_of};
use crate::{Comfort, Error, Trace, catalogue, limits, timed};

/// How a file is read.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct LoadOptions {
    /// What to do with unknown columns of a CSV file.
    pub columns: Columns,
    /// How a road with limits but no clock is driven.
    pub comfort: Comfort,
}

/// What a file or a name gave.
#[derive(Debug, Clone, PartialEq)]
pub struct Loaded {
    /// The trace.
    pub trace: Trace,
    /// What was done on the way that the user should know, a sentence each.
    pub notes: Vec<String>,
}

/// The trace in a file.
///
/// # Errors
/// Every [`Error`] but [`Error::UnknownCycle`]; the message names the file, and the line where
/// there is one.
pub fn load(path: impl AsRef<Path>, options: &LoadOptions) -> Result<Loaded, Error> {
    let path = path.as_ref();
    let bytes = bytes_of(path)?;
    let extension = path
        .extension()
        .unwrap_or_default()
        .to_string_lossy()
        .to_lowercase();
    match extension.as_str() {
        "csv" => {
            let table = Table::parse(path, text_of(path, &bytes)?, options.columns)?;
            from_table(&table, options)
        }
        _ => Err(Error::Extension {
            path: path.to_owned(),
            found: extension,
        }),
    }
}

/// The built-in cycle of this name, or else the trace in the file of this name.
///
/// # Errors
/// [`Error::UnknownCycle`] where neither exists, which suggests the nearest built-in names;
/// otherwise those of [`load`].
pub fn resolve(name_or_path: &str, options: &LoadOptions) -> Result<Loaded, Error> {
    match catalogue::find(name_or_path) {
        Ok(trace) => Ok(Loaded {
            trace,
            notes: Vec::new(),
        }),
        Err(unknown @ Error::UnknownCycle { .. }) => match load(name_or_path, options) {
            Err(Error::Missing { .. }) => Err(unknown),
            loaded => loaded,
        },
        Err(damaged) => Err(damaged),
    }
}

fn from_table(table: &Table, options: &LoadOptions) -> Result<Loaded, Error> {
    let name = table.path.file_stem().unwrap_or_default().to_string_lossy();
    let source = table.path.display().to_string();
    let has = |quantity| table.has(quantity);
    if has(Quantity::Grade) && has(Quantity::Elevation) {
        return Err(table.columns_fault("but only one of grade and elevation may be there"));
    }
    let fault = |problem: &str| Err(table.columns_fault(problem));
    let [time, distance, speed, limit] = [
        Quantity::Time,
        Quantity::Distance,
        Quantity::Speed,
        Quantity::Limit,
    ]
    .map(has);
    let trace = match (time, distance, speed, limit) {
        (true, true, ..) => return fault("but only one of time and distance may be there"),
        (false, false, ..) => return fault("and a time or a distance is needed"),
        (_, _, true, true) => return fault("but only one of speed and limit may be there"),
        (true, ..) if has(Quantity::Stop) => {
            return fault("but stop_s goes with distances, not with times");
        }
        (true, _, _, true) => return fault("but a limit goes with distances, not with times"),
        (true, _, true, _) => timed::by_time(table, &name, &source)?,
        (_, true, true, _) => timed::by_distance(table, &name, &source)?,
        (_, true, _, true) => limits::by_limits(table, options.comfort, &name, &source)?,
        (_, _, false, false) => return fault("and a speed or a limit is needed"),
    };
    Ok(Loaded {
        trace,
        notes: Vec::new(),
    })
}
