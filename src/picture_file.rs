//! The file that `--picture` names.

use crate::failure::Failure;
use crate::measure::Units;
use crate::pictures::{Look, Picture, tractive};
use scenarios::Prepared;
use scenarios::output_file::{Growing, Kind};
use scenarios::runs;
use std::path::PathBuf;

/// What the file is.
const KIND: Kind = Kind {
    words: "a picture",
    begins: |text| text.starts_with("<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"picture\""),
};

/// The option of every command that draws.
#[derive(Debug, Default, clap::Args)]
pub struct PictureArg {
    /// Draws the answer into an SVG file.
    #[arg(long, value_name = "FILE.svg")]
    picture: Option<PathBuf>,
}

/// A file that waits for its picture.
pub struct Frame(Growing);

impl PictureArg {
    /// Begins the file, where one is asked for; `inputs` are the files that the same run reads. What
    /// cannot be written is refused before anything is driven.
    pub fn begin(&self, inputs: &[PathBuf]) -> Result<Option<Frame>, Failure> {
        let Some(file) = &self.picture else { return Ok(None) };
        if file.extension().is_none_or(|suffix| !suffix.eq_ignore_ascii_case("svg")) {
            let text =
                format!("--picture is {}; allowed: a file that ends in .svg", file.display());
            return Err(Failure::Arguments(text));
        }
        Ok(Some(Frame(Growing::create(file, KIND, inputs)?)))
    }

    /// The same for a run that reads no road.
    pub fn begin_for(&self, prepared: &Prepared) -> Result<Option<Frame>, Failure> {
        self.begin(&prepared.files())
    }
}

impl Frame {
    /// Writes the picture, whole or not at all.
    pub fn save(mut self, picture: &Picture) -> Result<(), Failure> {
        self.0.add(picture.file().as_bytes())?;
        Ok(self.0.finish()?)
    }
}

/// Draws what the wheels give, if a picture is asked for.
pub fn save_tractive(
    frame: Option<Frame>,
    prepared: &Prepared,
    units: Units,
) -> Result<(), Failure> {
    let Some(frame) = frame else { return Ok(()) };
    let report = runs::tractive::report(&prepared.setup());
    frame.save(&tractive::picture(&report, None, Look::wide(&prepared.name, units)))
}
