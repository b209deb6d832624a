//! Files that are not whole yet. Each stands under a passing name in the folder of its own, and goes
//! with whatever ends the work: an error, a signal, or, where the program was killed, the next run
//! that writes into that folder.

use std::fs::{self, File, Metadata, OpenOptions, TryLockError};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};
use tempfile::NamedTempFile;

/// A passing name: so many letters and digits between these two.
const NAME: (&str, usize, &str) = (".shakedown-", 12, ".part");

/// What is to go if a signal ends the program.
static UNFINISHED: Mutex<Vec<PathBuf>> = Mutex::new(Vec::new());

/// What is to go if a signal ends the program; none ends it while this is held.
pub(crate) fn unfinished() -> MutexGuard<'static, Vec<PathBuf>> {
    UNFINISHED.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Removes whatever is unfinished, then lets `end` end the program. Nothing is begun meanwhile.
pub fn abandon(end: impl FnOnce()) {
    let all = unfinished();
    for path in all.iter().rev() {
        let _ = fs::remove_file(path).or_else(|_| fs::remove_dir(path));
    }
    end();
}

/// An entry of what is to go, for as long as it lives.
#[derive(Debug)]
struct Noted(PathBuf);

impl Drop for Noted {
    fn drop(&mut self) {
        unfinished().retain(|path| *path != self.0);
    }
}

/// A file under a passing name. Dropped, it goes.
#[derive(Debug)]
pub(crate) struct Passing {
    file: NamedTempFile<File>,
    noted: Noted,
}

impl Passing {
    /// Begins a file in a folder, for its owner's eyes alone or for whom any new file may be read
    /// by, and removes what runs that were killed have left there.
    pub(crate) fn begin(folder: &Path, private: bool) -> io::Result<Self> {
        let mut all = unfinished();
        let file = tempfile::Builder::new()
            .prefix(NAME.0)
            .rand_bytes(NAME.1)
            .suffix(NAME.2)
            .make_in(folder, |path| create_locked(path, private))?;
        let path = file.path().to_owned();
        all.push(path.clone());
        drop(all);
        remove_leftovers(folder, file.as_file());
        Ok(Self { file, noted: Noted(path) })
    }

    /// The open file.
    pub(crate) fn as_file(&self) -> &File {
        self.file.as_file()
    }

    /// Gives it a name that no file has, and goes on with it.
    pub(crate) fn place_new(self, path: &Path) -> io::Result<File> {
        let placed = self.file.persist_noclobber(path).map_err(|e| e.error);
        drop(self.noted);
        placed
    }

    /// Gives it its name; a file that has this name is replaced.
    pub(crate) fn replace(self, path: &Path) -> io::Result<()> {
        let done = self.file.persist(path).map(drop).map_err(|e| e.error);
        drop(self.noted);
        done
    }
}

/// Gives all of them their names, or none of them where one of the names is taken or refused; no
/// signal ends the program in between.
pub(crate) fn place_all(files: Vec<(Passing, &Path)>) -> Result<(), (&Path, io::Error)> {
    let all = unfinished();
    let (mut notes, mut placed) = (Vec::new(), Vec::new());
    let mut outcome = Ok(());
    for (Passing { file, noted }, path) in files {
        notes.push(noted);
        if outcome.is_ok() {
            outcome = match file.persist_noclobber(path) {
                Ok(_) => Ok(()),
                Err(e) => Err((path, e.error)),
            };
            if outcome.is_ok() {
                placed.push(path);
            }
        }
    }
    if outcome.is_err() {
        for path in placed {
            let _ = fs::remove_file(path);
        }
    }
    // A note takes itself off the list.
    drop(all);
    drop(notes);
    outcome
}

/// Folders that were made for files to come. Dropped, those that are still empty go again.
#[derive(Debug, Default)]
pub(crate) struct NewFolders(Vec<Noted>);

impl NewFolders {
    /// Makes a folder, and those above it, as far as they are not there.
    pub(crate) fn make(&mut self, folder: &Path) -> io::Result<()> {
        let missing = |path: &&Path| !path.as_os_str().is_empty() && !path.is_dir();
        let missing: Vec<&Path> = folder.ancestors().take_while(missing).collect();
        for path in missing.into_iter().rev() {
            let mut all = unfinished();
            fs::create_dir(path)?;
            all.push(path.to_owned());
            self.0.push(Noted(path.to_owned()));
        }
        Ok(())
    }
}

impl Drop for NewFolders {
    fn drop(&mut self) {
        while let Some(innermost) = self.0.pop() {
            let _ = fs::remove_dir(&innermost.0);
        }
    }
}

/// Makes a file and locks it: what is locked is no leftover.
fn create_locked(path: &Path, private: bool) -> io::Result<File> {
    let mut options = OpenOptions::new();
    options.read(true).write(true).create_new(true);
    if private {
        system::private(&mut options);
    }
    let file = options.open(path)?;
    // Another run may have taken it for a leftover before it was locked. Where the file system
    // knows no locks, no run takes anything for a leftover.
    let taken = matches!(file.try_lock(), Err(TryLockError::WouldBlock));
    if taken || fs::symlink_metadata(path).is_err() {
        return Err(io::ErrorKind::AlreadyExists.into());
    }
    Ok(file)
}

/// Removes files under passing names that nobody writes any more and whose owner is that of a new
/// file.
fn remove_leftovers(folder: &Path, new: &File) {
    let (Ok(entries), Ok(new)) = (fs::read_dir(folder), new.metadata()) else { return };
    for entry in entries.flatten().filter(|entry| is_passing(&entry.file_name())) {
        let path = entry.path();
        let ours = |about: &Metadata| about.is_file() && system::is_alone_and_of_owner(about, &new);
        // A symbolic link or a pipe of that name is not opened.
        if fs::symlink_metadata(&path).is_ok_and(|about| ours(&about))
            && let Ok(left) = File::open(&path)
            && left.try_lock().is_ok()
        {
            let _ = fs::remove_file(&path);
        }
    }
}

fn is_passing(name: &std::ffi::OsStr) -> bool {
    let middle = name.to_str().and_then(|name| name.strip_prefix(NAME.0)?.strip_suffix(NAME.2));
    middle.is_some_and(|m| m.len() == NAME.1 && m.bytes().all(|b| b.is_ascii_alphanumeric()))
}

/// What a file system knows of a file besides its content.
#[cfg(unix)]
pub(crate) mod system {
    use std::fs::{File, Metadata, OpenOptions};
    use std::io;
    use std::os::unix::fs::{FileTypeExt, MetadataExt, OpenOptionsExt, fchown};

    /// Whether two are the same file, by whatever name.
    pub(crate) fn is_same(a: &Metadata, b: &Metadata) -> bool {
        (a.dev(), a.ino()) == (b.dev(), b.ino())
    }

    /// Whether a file has other names.
    pub(crate) fn has_other_names(about: &Metadata) -> bool {
        about.nlink() > 1
    }

    /// Whether a file has no other name, and the owner of another file.
    pub(crate) fn is_alone_and_of_owner(about: &Metadata, other: &Metadata) -> bool {
        !has_other_names(about) && about.uid() == other.uid()
    }

    /// Has a new file readable by its owner alone.
    pub(crate) fn private(options: &mut OpenOptions) {
        options.mode(0o600);
    }

    /// Gives a file the owner and the mode of another.
    pub(crate) fn pass_on(old: &Metadata, file: &File) -> io::Result<()> {
        let new = file.metadata()?;
        if (old.uid(), old.gid()) != (new.uid(), new.gid()) {
            fchown(file, Some(old.uid()), Some(old.gid()))?;
        }
        file.set_permissions(old.permissions())
    }

    /// Whether what is no plain file and no folder takes text: a device of characters or a pipe.
    pub(crate) fn takes_text(about: &Metadata) -> bool {
        about.file_type().is_char_device() || about.file_type().is_fifo()
    }
}

/// What a file system knows of a file besides its content; here it tells nothing.
#[cfg(not(unix))]
pub(crate) mod system {
    use std::fs::{File, Metadata, OpenOptions};
    use std::io;

    pub(crate) fn is_same(_: &Metadata, _: &Metadata) -> bool {
        false
    }

    pub(crate) fn has_other_names(_: &Metadata) -> bool {
        false
    }

    pub(crate) fn is_alone_and_of_owner(_: &Metadata, _: &Metadata) -> bool {
        true
    }

    pub(crate) fn private(_: &mut OpenOptions) {}

    pub(crate) fn pass_on(old: &Metadata, file: &File) -> io::Result<()> {
        file.set_permissions(old.permissions())
    }

    pub(crate) fn takes_text(_: &Metadata) -> bool {
        true
    }
}
