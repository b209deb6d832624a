//! Recordings that a command reads, and what their columns hold.

use crate::failure::Failure;
use cycles::{Recording, RecordingOptions};
use scenarios::columns::ColumnNames;
use scenarios::measured::drive::RecordedDrive;
use std::path::PathBuf;

/// What columns of recordings hold.
#[derive(Debug, Default, clap::Args)]
pub struct ColumnArgs {
    /// Says what a column holds whose name does not, such as `speed_kmh=Tacho`; may be repeated.
    #[arg(long = "column", value_name = "NAME=COLUMN", allow_hyphen_values = true)]
    columns: Vec<String>,

    /// File that says so of all columns of a logger: `{"columns": {"speed_kmh": "Tacho"}}`.
    #[arg(long = "columns", value_name = "FILE.json")]
    names: Option<PathBuf>,

    /// Rows a second of files without a column of times.
    #[arg(long, value_name = "HZ", allow_negative_numbers = true)]
    rate_hz: Option<f64>,
}

impl ColumnArgs {
    /// How recordings are read; an option goes before the file of names.
    pub fn options(&self) -> Result<RecordingOptions, Failure> {
        let pair = |text: &String| match text.split_once('=') {
            Some((name, column)) => Ok((name.trim().to_owned(), column.trim().to_owned())),
            None => Err(Failure::Arguments(format!(
                "--column is \"{}\"; allowed: a name and a column, such as speed_kmh=Tacho",
                cycles::short(text)
            ))),
        };
        if let Some(hz) = self.rate_hz
            && !(0.01..=1000.0).contains(&hz)
        {
            let text = format!("--rate-hz is {hz}; allowed: 0.01 to 1000 rows a second");
            return Err(Failure::Arguments(text));
        }
        let of_file = self.names.as_deref().map(ColumnNames::open).transpose()?.unwrap_or_default();
        let mut columns = self.columns.iter().map(pair).collect::<Result<Vec<_>, _>>()?;
        let said: Vec<String> = columns.iter().map(|(name, _)| name.clone()).collect();
        columns.extend(of_file.columns.into_iter().filter(|(name, _)| !said.contains(name)));
        Ok(RecordingOptions { columns, rate_hz: self.rate_hz.or(of_file.rate_hz) })
    }
}

/// A recorded drive that is shown beside what else a command shows.
#[derive(Debug, Default, clap::Args)]
pub struct RecordedArgs {
    /// A recorded drive to show against what is predicted for it (see `measure drive`).
    #[arg(long, value_name = "FILE")]
    pub recorded: Option<PathBuf>,

    #[command(flatten)]
    columns: ColumnArgs,
}

impl RecordedArgs {
    /// The drive, if one is asked for.
    pub fn drive(&self) -> Result<Option<RecordedDrive>, Failure> {
        let Some(file) = &self.recorded else { return Ok(None) };
        let recording = Recording::open(file, &self.columns.options()?)?;
        Ok(Some(RecordedDrive::of(recording)?))
    }
}
