//! Files that are written whole or not at all.

use crate::files::error::Error;
use std::ffi::OsString;
use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// Writes a file that appears under its name when it is whole. A file that is already there is
/// replaced.
///
/// # Errors
/// [`Error::File`] with what the operating system says.
pub fn write(path: &Path, content: &[u8]) -> Result<(), Error> {
    let mut file = Growing::create(path)?;
    file.add(content)?;
    file.finish()
}

/// As [`write()`], but leaves a file that is already there as it is.
///
/// # Errors
/// [`Error::File`] where the file is there already, and as [`write()`].
pub fn write_new(path: &Path, content: &[u8]) -> Result<(), Error> {
    let mut file = Growing::create(path)?;
    file.add(content)?;
    match file.whole()?.persist_noclobber(path).map_err(|e| e.error) {
        Ok(_) => Ok(()),
        Err(e) if e.kind() == io::ErrorKind::AlreadyExists => {
            let problem = "is there already and is not overwritten".to_owned();
            Err(Error::File { file: path.display().to_string(), problem })
        }
        Err(e) => Err(Error::io(path.display().to_string(), &e)),
    }
}

/// Makes the folder of a file, and those above it, where they are not there.
///
/// # Errors
/// [`Error::File`] with what the operating system says.
pub fn make_folder(path: &Path) -> Result<(), Error> {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => {
            fs::create_dir_all(folder).map_err(|e| Error::io(folder.display().to_string(), &e))
        }
        _ => Ok(()),
    }
}

/// A file that is written piece by piece, under a passing name beside its own, so that no reader
/// ever sees half of it. Dropped before it is whole, it leaves nothing.
#[derive(Debug)]
pub struct Growing {
    path: PathBuf,
    writer: BufWriter<NamedTempFile<File>>,
}

impl Growing {
    /// Begins a file.
    ///
    /// # Errors
    /// [`Error::File`] with what the operating system says.
    pub fn create(path: &Path) -> Result<Self, Error> {
        let refuse = |problem: &str| Error::File {
            file: path.display().to_string(),
            problem: problem.to_owned(),
        };
        let Some(name) = path.file_name() else {
            return Err(refuse("is not the name of a file"));
        };
        if path.is_dir() {
            return Err(refuse("is a folder"));
        }
        let mut hidden = OsString::from(".");
        hidden.push(name);
        // Made by the standard library, for whom it may read: a scratch file is its owner's alone.
        let temporary = tempfile::Builder::new()
            .prefix(&hidden)
            .make_in(path.with_file_name(""), |own| File::create_new(own))
            .map_err(|e| Error::io(path.display().to_string(), &e))?;
        Ok(Self { path: path.to_owned(), writer: BufWriter::new(temporary) })
    }

    /// Adds to it.
    ///
    /// # Errors
    /// As [`Self::create`].
    pub fn add(&mut self, content: &[u8]) -> Result<(), Error> {
        self.writer.write_all(content).map_err(|e| Error::io(self.path.display().to_string(), &e))
    }

    /// Gives it its name; a file that is already there is replaced.
    ///
    /// # Errors
    /// As [`Self::create`].
    pub fn finish(self) -> Result<(), Error> {
        let path = self.path.clone();
        match self.whole()?.persist(&path) {
            Ok(_) => Ok(()),
            Err(e) => Err(Error::io(path.display().to_string(), &e.error)),
        }
    }

    /// The file with all its content on the disk, still under its passing name.
    fn whole(self) -> Result<NamedTempFile<File>, Error> {
        let refuse = |e: &io::Error| Error::io(self.path.display().to_string(), e);
        let whole = self.writer.into_inner().map_err(|e| refuse(e.error()))?;
        whole.as_file().sync_all().map_err(|e| refuse(&e))?;
        Ok(whole)
    }
}
