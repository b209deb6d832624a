//! How uncertain fields are, as options say it.

use crate::failure::{Failure, of};
use scenarios::input_text;
use scenarios::studies::Spread;
use std::path::PathBuf;

/// Options of commands that draw cars.
#[derive(Debug, clap::Args)]
pub struct SpreadArgs {
    /// How uncertain a field is: `path=±10%`, `path=uniform:1,2`; may be repeated.
    ///
    /// Around what stands in the field: `±10%` or `±3` in its unit (`+-` works too); a normal
    /// distribution with two standard deviations, or what `uniform:` or `triangular:` before it
    /// says. Values: `normal:mean,sd`, `uniform:low,high`, `triangular:low,mode,high`. `none` takes
    /// a typical spread away. In the path, `*` stands for every item of a list,
    /// and a comma parts fields that move together.
    #[arg(long = "spread", value_name = "PATH=SPREAD", allow_hyphen_values = true)]
    spreads: Vec<String>,

    /// JSON file with a spread for every path: `{"tyre.rolling_resistance": "±10%"}`.
    #[arg(long, value_name = "FILE")]
    pub spreads_file: Option<PathBuf>,

    /// Leaves the typical spreads out, so that only those of the options count.
    #[arg(long)]
    pub own_only: bool,
}

impl SpreadArgs {
    /// The spreads: those of the file, and those of the options in their place or beside them.
    pub fn own(&self) -> Result<Vec<Spread>, Failure> {
        let mut own = match &self.spreads_file {
            Some(file) => Spread::from_json(&input_text(file)?, &file.display().to_string())?,
            None => Vec::new(),
        };
        for text in &self.spreads {
            let spread = Spread::parse(text).map_err(of("--spread"))?;
            own.retain(|known: &Spread| known.path != spread.path || self.spreads_file.is_none());
            own.push(spread);
        }
        Ok(own)
    }
}

/// Names the option of what cannot be drawn.
pub fn named(failure: scenarios::runs::Failure) -> Failure {
    match failure {
        scenarios::runs::Failure::NothingUncertain => {
            let text = "nothing is uncertain; needed: --spread, or a field with a typical spread";
            Failure::Arguments(text.to_owned())
        }
        other => of("--spread")(other),
    }
}
