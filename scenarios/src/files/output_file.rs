//! Files that are written whole or not at all.

use crate::files::error::Error;
use std::fs::{self, File, OpenOptions};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

/// Writes a file through a temporary one beside it that is then renamed, so that no reader ever
/// sees half of it. A file that is already there is replaced.
///
/// # Errors
/// [`Error::File`] with what the operating system says.
pub fn write(path: &Path, content: &[u8]) -> Result<(), Error> {
    let temporary = fill_beside(path, content)?;
    fs::rename(&temporary, path).map_err(|e| give_up(path, &temporary, &e))
}

/// As [`write()`], but leaves a file that is already there as it is.
///
/// # Errors
/// [`Error::File`] where the file is there already, and as [`write()`].
pub fn write_new(path: &Path, content: &[u8]) -> Result<(), Error> {
    let temporary = fill_beside(path, content)?;
    // A link, unlike a rename, never replaces a file; not every file system has links.
    match fs::hard_link(&temporary, path) {
        Ok(()) => fs::remove_file(&temporary).map_err(|e| give_up(path, &temporary, &e)),
        Err(e) if e.kind() == io::ErrorKind::AlreadyExists || path.exists() => {
            let _ = fs::remove_file(&temporary);
            let problem = "is there already and is not overwritten".to_owned();
            Err(Error::File { file: path.display().to_string(), problem })
        }
        Err(_) => fs::rename(&temporary, path).map_err(|e| give_up(path, &temporary, &e)),
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

/// A file that is written piece by piece and appears under its name when it is whole. Dropped
/// before that, it leaves nothing.
#[derive(Debug)]
pub struct Growing {
    path: PathBuf,
    temporary: PathBuf,
    writer: Option<BufWriter<File>>,
}

impl Growing {
    /// Begins a file.
    ///
    /// # Errors
    /// [`Error::File`] with what the operating system says.
    pub fn create(path: &Path) -> Result<Self, Error> {
        let (temporary, file) = open_beside(path)?;
        Ok(Self { path: path.to_owned(), temporary, writer: Some(BufWriter::new(file)) })
    }

    /// Adds to it.
    ///
    /// # Errors
    /// As [`Self::create`].
    pub fn add(&mut self, content: &[u8]) -> Result<(), Error> {
        match &mut self.writer {
            Some(writer) => writer
                .write_all(content)
                .map_err(|e| Error::io(self.path.display().to_string(), &e)),
            None => Ok(()),
        }
    }

    /// Gives it its name; a file that is already there is replaced.
    ///
    /// # Errors
    /// As [`Self::create`].
    pub fn finish(mut self) -> Result<(), Error> {
        let refuse = |e: &io::Error| Error::io(self.path.display().to_string(), e);
        if let Some(mut writer) = self.writer.take() {
            writer.flush().and_then(|()| writer.get_ref().sync_all()).map_err(|e| refuse(&e))?;
            fs::rename(&self.temporary, &self.path).map_err(|e| refuse(&e))?;
        }
        Ok(())
    }
}

impl Drop for Growing {
    fn drop(&mut self) {
        // After the renaming there is nothing left to remove.
        let _ = fs::remove_file(&self.temporary);
    }
}

/// A full temporary file in the folder of another.
fn fill_beside(path: &Path, content: &[u8]) -> Result<PathBuf, Error> {
    let (temporary, mut file) = open_beside(path)?;
    file.write_all(content)
        .and_then(|()| file.sync_all())
        .map_err(|e| give_up(path, &temporary, &e))?;
    Ok(temporary)
}

/// An empty temporary file in the folder of another.
fn open_beside(path: &Path) -> Result<(PathBuf, File), Error> {
    let shown = || path.display().to_string();
    let Some(name) = path.file_name() else {
        let problem = "is not the name of a file".to_owned();
        return Err(Error::File { file: shown(), problem });
    };
    if path.is_dir() {
        return Err(Error::File { file: shown(), problem: "is a folder".to_owned() });
    }
    for count in 0..1000 {
        let mut own_name = std::ffi::OsString::from(".");
        own_name.push(name);
        own_name.push(format!(".{}-{count}", std::process::id()));
        let temporary = path.with_file_name(own_name);
        match OpenOptions::new().write(true).create_new(true).open(&temporary) {
            Ok(file) => return Ok((temporary, file)),
            Err(e) if e.kind() == io::ErrorKind::AlreadyExists => {}
            Err(e) => return Err(Error::io(shown(), &e)),
        }
    }
    let problem = "no temporary file can be made beside it".to_owned();
    Err(Error::File { file: shown(), problem })
}

fn give_up(path: &Path, temporary: &Path, error: &io::Error) -> Error {
    let _ = fs::remove_file(temporary);
    Error::io(path.display().to_string(), error)
}
