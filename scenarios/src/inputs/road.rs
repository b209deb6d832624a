//! The daily road: a built-in cycle, a file, or the road of the demo.

use crate::files::demo;
use crate::files::error::Error;
use crate::files::origins::Folder;
use crate::inputs::wltc::Wltc;
use cycles::WltcClass;
use std::path::Path;

/// Where a road comes from; reading it is put off until it is driven.
#[derive(Debug, Clone, PartialEq)]
pub enum Road {
    /// A cycle or a file, by its name.
    Named(String),
    /// A file that is part of the program.
    Embedded {
        /// Its name.
        name: &'static str,
        /// Its text.
        text: &'static str,
    },
    /// A road without times, driven at a pace.
    Paced(Box<Road>, Box<cycles::Pace>),
}

impl Road {
    /// The road of a name, seen from the folder of the file that names it.
    pub(crate) fn seen_from(folder: &Folder, name: &str) -> Self {
        match folder {
            _ if cycles::is_built_in(name) => Road::Named(name.to_owned()),
            Folder::Disk(folder) => Road::Named(folder.join(name).to_string_lossy().into_owned()),
            Folder::Demo | Folder::Shelf => match demo::road(name) {
                Some((name, text)) => Road::Embedded { name, text },
                None => Road::Named(name.to_owned()),
            },
        }
    }

    /// What to call it.
    pub fn name(&self) -> &str {
        match self {
            Road::Named(name) => name,
            Road::Embedded { name, .. } => name,
            Road::Paced(road, _) => road.name(),
        }
    }

    /// The same without a pace.
    pub fn itself(&self) -> &Self {
        match self {
            Road::Paced(road, _) => road.itself(),
            road => road,
        }
    }

    /// The same at a pace, which takes the place of one that it has, as far as it states anything.
    pub fn at_pace(self, pace: Option<cycles::Pace>) -> Self {
        match (self, pace.filter(|pace| !pace.is_empty())) {
            (road, None) => road,
            (Road::Paced(road, before), Some(pace)) => {
                Road::Paced(road, Box::new(pace.over(&before)))
            }
            (road, Some(pace)) => Road::Paced(Box::new(road), Box::new(pace)),
        }
    }

    /// Reads it; `wltc` says which WLTC a name means that leaves the class open.
    ///
    /// # Errors
    /// [`Error::Cycle`] where there is no such cycle or file or it cannot be driven.
    pub(crate) fn load(
        &self,
        wltc: &dyn Fn() -> Wltc,
        options: &cycles::LoadOptions,
    ) -> Result<cycles::LoadedRoad, Error> {
        match self {
            Road::Paced(road, pace) => {
                let pace = options.pace.over(pace);
                road.load(wltc, &cycles::LoadOptions { pace, ..options.clone() })
            }
            Road::Named(name) if WltcClass::is_open(name) && options.pace.is_empty() => {
                Ok(wltc().road(name)?)
            }
            Road::Named(name) => Ok(cycles::resolve(name, options)?),
            Road::Embedded { name, text } => {
                Ok(cycles::read(Path::new(name), text.as_bytes(), options)?)
            }
        }
    }
}
