//! Files that are written whole or not at all.

use crate::error::Error;
use std::fs::{self, OpenOptions};
use std::io::{self, Write};
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

/// A full temporary file in the folder of another.
fn fill_beside(path: &Path, content: &[u8]) -> Result<PathBuf, Error> {
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
            Ok(mut file) => {
                file.write_all(content)
                    .and_then(|()| file.sync_all())
                    .map_err(|e| give_up(path, &temporary, &e))?;
                return Ok(temporary);
            }
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
