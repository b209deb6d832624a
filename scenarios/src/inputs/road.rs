//! The daily road: a built-in cycle, a file, or the road of the demo.

use crate::files::error::Error;
use std::path::Path;

/// Where a road comes from; reading it is put off until it is driven.
#[derive(Debug, Clone, PartialEq, Eq)]
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
}

impl Road {
    /// What to call it.
    pub fn name(&self) -> &str {
        match self {
            Road::Named(name) => name,
            Road::Embedded { name, .. } => name,
        }
    }

    /// Reads it.
    ///
    /// # Errors
    /// [`Error::Cycle`] where there is no such cycle or file or it cannot be driven.
    pub fn load(&self, options: &cycles::LoadOptions) -> Result<cycles::Loaded, Error> {
        match self {
            Road::Named(name) => Ok(cycles::resolve(name, options)?),
            Road::Embedded { name, text } => {
                Ok(cycles::read(Path::new(name), text.as_bytes(), options)?)
            }
        }
    }
}
