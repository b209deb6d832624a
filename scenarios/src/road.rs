//! The daily road: a built-in cycle, a file, or the road of the demo.

use crate::error::Error;
use crate::output_file::write_new;
use std::path::PathBuf;

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
                // The reader of roads takes files.
                let folder = scratch_folder()?;
                let path = folder.join(name);
                let loaded = write_new(&path, text.as_bytes())
                    .and_then(|()| Ok(cycles::load(&path, options)?));
                // What is left behind in the system's folder for such things does no harm.
                let _ = std::fs::remove_dir_all(&folder);
                loaded
            }
        }
    }
}

/// A new folder among the system's temporary files.
fn scratch_folder() -> Result<PathBuf, Error> {
    use std::sync::atomic::{AtomicU32, Ordering};
    static COUNT: AtomicU32 = AtomicU32::new(0);
    let base = std::env::temp_dir();
    for _ in 0..1000 {
        let count = COUNT.fetch_add(1, Ordering::Relaxed);
        let folder = base.join(format!("shakedown-{}-{count}", std::process::id()));
        match std::fs::create_dir(&folder) {
            Ok(()) => return Ok(folder),
            Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => {}
            Err(e) => return Err(Error::io(folder.display().to_string(), &e)),
        }
    }
    let problem = "no new folder can be made in it".to_owned();
    Err(Error::File { file: base.display().to_string(), problem })
}
