//! Files that are written: whole or not at all, and never over what is something else.

use crate::files::error::Error;
use crate::files::passing::{NewFolders, Passing, place_all, system, unfinished};
use std::fs::{self, File, Metadata, OpenOptions};
use std::io::{self, BufWriter, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

pub use crate::files::passing::abandon;

/// A kind of file that is written, told from others by how it begins; some say at their end what
/// they are.
#[derive(Debug, Clone, Copy)]
pub struct Kind {
    /// What it is, such as "a series of a drive".
    pub words: &'static str,
    /// Whether a file that begins so, and where it is long ends so, is of this kind.
    pub begins: fn(&str) -> bool,
}

/// How much of a file is read to tell its kind, bytes.
const BEGINNING_BYTES: u64 = 1_000_000;

/// How much of the end of a longer file is read for that, bytes.
const END_BYTES: u64 = 10_000;

/// Most symbolic links that lead from one to the next, as on Linux.
const MOST_LINKS: usize = 40;

/// A file that is written piece by piece, and appears under its name when it is whole. Dropped
/// before, it leaves nothing.
///
/// A symbolic link is followed. A device of characters or a pipe is written to as it comes. A file
/// that is there keeps its mode, its owner and its other names.
#[derive(Debug)]
pub struct Growing {
    path: PathBuf,
    way: Way,
    /// Folders that were made for it, which go after what is in them.
    folders: NewFolders,
}

/// How the content reaches its place.
#[derive(Debug)]
enum Way {
    /// Straight into a device or a pipe.
    Through(BufWriter<File>),
    /// Under a passing name, in place of an old file if there is one.
    Beside { writer: BufWriter<PassingWriter>, real: PathBuf, old: Option<(File, Box<Metadata>)> },
}

/// What is written under a passing name.
#[derive(Debug)]
struct PassingWriter(Passing);

impl Write for PassingWriter {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.as_file().write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.0.as_file().flush()
    }
}

impl Write for Growing {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match &mut self.way {
            Way::Through(writer) => writer.write(bytes),
            Way::Beside { writer, .. } => writer.write(bytes),
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        match &mut self.way {
            Way::Through(writer) => writer.flush(),
            Way::Beside { writer, .. } => writer.flush(),
        }
    }
}

impl Growing {
    /// Begins a file of a kind; `inputs` are the files that the same run reads.
    ///
    /// # Errors
    /// [`Error::File`] where there is no folder for it; where a file is there that is write-protected,
    /// is one of the inputs, takes the standard output of the program, or holds something of another
    /// kind; where the path names a folder, a disk or a socket; and what the operating system refuses.
    pub fn create(path: &Path, kind: Kind, inputs: &[PathBuf]) -> Result<Self, Error> {
        let refuse = |problem: String| refused(path, problem);
        let io = |e: io::Error| Error::io(path.display().to_string(), &e);
        if path.file_name().is_none() || path.as_os_str().as_encoded_bytes().ends_with(b"/") {
            return Err(refuse("is not the name of a file".to_owned()));
        }
        let old = match fs::metadata(path) {
            Ok(about) if about.is_dir() => return Err(refuse("is a folder".to_owned())),
            Ok(about) if about.is_file() => {
                Some((replaceable(path, &about, kind, inputs)?, Box::new(about)))
            }
            Ok(about) if system::takes_text(&about) => {
                let through = OpenOptions::new().write(true).open(path).map_err(io)?;
                let way = Way::Through(BufWriter::new(through));
                return Ok(Self { path: path.to_owned(), way, folders: NewFolders::default() });
            }
            Ok(_) => return Err(refuse("is a disk or a socket, and no file".to_owned())),
            Err(e) if e.kind() == io::ErrorKind::NotFound => None,
            Err(e) => return Err(folder_fault(path).unwrap_or_else(|| io(e))),
        };
        let real = behind_links(path).map_err(io)?;
        let passing = begin_beside(&real, path, old.is_some())?;
        let writer = BufWriter::new(PassingWriter(passing));
        let way = Way::Beside { writer, real, old };
        Ok(Self { path: path.to_owned(), way, folders: NewFolders::default() })
    }

    /// The same with the folder that it stands in, where that is not there.
    ///
    /// # Errors
    /// As [`Self::create`], and where the folder cannot be made.
    pub fn create_with_folder(path: &Path, kind: Kind, inputs: &[PathBuf]) -> Result<Self, Error> {
        let mut folders = NewFolders::default();
        make_folder(path, &mut folders)?;
        Ok(Self { folders, ..Self::create(path, kind, inputs)? })
    }

    /// An error about it.
    pub fn fault(&self, problem: String) -> Error {
        refused(&self.path, problem)
    }

    /// Adds to it.
    ///
    /// # Errors
    /// [`Error::File`] with what the operating system says.
    pub fn add(&mut self, content: &[u8]) -> Result<(), Error> {
        let outcome = self.write_all(content);
        let outcome = if self.is_through() { heard_enough(outcome) } else { outcome };
        outcome.map_err(|e| Error::io(self.path.display().to_string(), &e))
    }

    /// The name under which it appears.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Whether it is a device or a pipe, which nobody reads again.
    pub fn is_through(&self) -> bool {
        matches!(self.way, Way::Through(_))
    }

    /// Gives it its name.
    ///
    /// # Errors
    /// As [`Self::add`].
    pub fn finish(self) -> Result<(), Error> {
        let Self { path, way, folders } = self;
        let outcome = match way {
            Way::Through(mut writer) => heard_enough(writer.flush()),
            Way::Beside { writer, real, old } => settle(writer, &real, old),
        };
        drop(folders);
        outcome.map_err(|e| Error::io(path.display().to_string(), &e))
    }
}

/// Writes new files with the folders that they need: all of them, or none. A file that is there
/// already and holds just that stays as it is.
///
/// # Errors
/// [`Error::File`] where a file is there that holds something else, and with what the operating
/// system says.
pub fn write_all_new(files: &[(PathBuf, &[u8])]) -> Result<(), Error> {
    let taken = || "is there already and is not overwritten; nothing was written".to_owned();
    let mut missing = Vec::new();
    for (path, content) in files {
        match fs::symlink_metadata(path) {
            Ok(about) if about.is_file() && fs::read(path).is_ok_and(|old| old == *content) => {}
            Ok(_) => return Err(refused(path, taken())),
            Err(_) => missing.push((path, content)),
        }
    }
    // Folders go last, when the files in them have gone.
    let mut folders = NewFolders::default();
    let mut whole = Vec::new();
    for (path, content) in missing {
        make_folder(path, &mut folders)?;
        let passing = begin_beside(path, path, false)?;
        let mut file = passing.as_file();
        file.write_all(content)
            .and_then(|()| file.sync_all())
            .map_err(|e| Error::io(path.display().to_string(), &e))?;
        whole.push((passing, path.as_path()));
    }
    place_all(whole).map_err(|(path, e)| match e.kind() {
        io::ErrorKind::AlreadyExists => refused(path, taken()),
        _ => Error::io(path.display().to_string(), &e),
    })
}

/// Makes the folder of a file, and those above it, as far as they are not there.
fn make_folder(path: &Path, made: &mut NewFolders) -> Result<(), Error> {
    let folder = folder_of(path);
    made.make(folder).map_err(|e| {
        let file = folder.ancestors().find(|above| above.exists() && !above.is_dir());
        let why = file.map_or_else(|| e.to_string(), |f| format!("{} is no folder", f.display()));
        refused(path, format!("the folder {} cannot be made: {why}", folder.display()))
    })
}

pub(crate) fn refused(path: &Path, problem: String) -> Error {
    Error::File { file: path.display().to_string(), problem }
}

/// The folder in which a file stands.
pub(crate) fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

/// What is wrong with the folder of a file.
pub(crate) fn folder_fault(path: &Path) -> Option<Error> {
    let folder = folder_of(path);
    let shown = folder.display();
    match fs::metadata(folder) {
        Ok(about) if about.is_dir() => None,
        Ok(_) => Some(refused(path, format!("{shown} is no folder"))),
        Err(e) if e.kind() == io::ErrorKind::NotFound => {
            Some(refused(path, format!("there is no folder {shown}")))
        }
        Err(e) => Some(refused(path, format!("the folder {shown} cannot be looked into: {e}"))),
    }
}

/// Begins a file in the folder of `real`, which is called `path` in messages.
fn begin_beside(real: &Path, path: &Path, private: bool) -> Result<Passing, Error> {
    if let Some(fault) = folder_fault(real) {
        return Err(fault);
    }
    let folder = folder_of(real);
    Passing::begin(folder, private).map_err(|e| {
        refused(path, format!("the folder {} takes no new file: {e}", folder.display()))
    })
}

/// The file that a path leads to, there or not, when every symbolic link is followed.
pub(crate) fn behind_links(path: &Path) -> io::Result<PathBuf> {
    let mut real = path.to_owned();
    for _ in 0..MOST_LINKS {
        match fs::read_link(&real) {
            Ok(to) => real = folder_of(&real).join(to),
            Err(_) => return Ok(real),
        }
    }
    Err(io::ErrorKind::TooManyLinks.into())
}

/// Opens a file that may be replaced.
fn replaceable(
    path: &Path,
    about: &Metadata,
    kind: Kind,
    inputs: &[PathBuf],
) -> Result<File, Error> {
    let is = |other: &Path| fs::metadata(other).is_ok_and(|other| system::is_same(about, &other));
    if inputs.iter().any(|input| is(input)) {
        return Err(refused(path, "is read by the same run and is not overwritten".to_owned()));
    }
    if is(Path::new("/dev/stdout")) || is(Path::new("/dev/stderr")) {
        return Err(refused(path, "is where the program's own output goes".to_owned()));
    }
    if about.permissions().readonly() {
        return Err(refused(path, "is write-protected and is not overwritten".to_owned()));
    }
    let io = |e: io::Error| Error::io(path.display().to_string(), &e);
    let file = OpenOptions::new().read(true).write(true).open(path).map_err(io)?;
    let mut beginning = Vec::new();
    (&file).take(BEGINNING_BYTES).read_to_end(&mut beginning).map_err(io)?;
    let end = about.len().saturating_sub(END_BYTES).max(BEGINNING_BYTES);
    (&file).seek(SeekFrom::Start(end)).map_err(io)?;
    (&file).take(END_BYTES).read_to_end(&mut beginning).map_err(io)?;
    if beginning.is_empty() || (kind.begins)(&String::from_utf8_lossy(&beginning)) {
        Ok(file)
    } else {
        let problem = format!("is there already and is not {}; it is not overwritten", kind.words);
        Err(refused(path, problem))
    }
}

/// Has the names in a file's folder reach the disk, as far as the system does that.
pub(crate) fn sync_folder(path: &Path) {
    if let Ok(folder) = File::open(folder_of(path)) {
        let _ = folder.sync_all();
    }
}

/// Whoever reads a pipe may stop when they have seen enough.
fn heard_enough(outcome: io::Result<()>) -> io::Result<()> {
    match outcome {
        Err(e) if e.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        other => other,
    }
}

/// Puts what was written where it belongs.
fn settle(
    writer: BufWriter<PassingWriter>,
    real: &Path,
    old: Option<(File, Box<Metadata>)>,
) -> io::Result<()> {
    let PassingWriter(passing) = writer.into_inner().map_err(io::IntoInnerError::into_error)?;
    passing.as_file().sync_all()?;
    match old {
        // Another file in its place would be no longer known by its other names, or would not be
        // that of its owner.
        Some((old, about))
            if system::has_other_names(&about)
                || system::pass_on(&about, passing.as_file()).is_err() =>
        {
            let _held = unfinished();
            overwrite(passing.as_file(), &old)
        }
        _ => passing.replace(real).map(|()| sync_folder(real)),
    }
}

/// Copies a file over an old one. What is longer comes first, so that a disk too full for it leaves
/// the old content.
fn overwrite(mut new: &File, mut old: &File) -> io::Result<()> {
    let (new_len, old_len) = (new.metadata()?.len(), old.metadata()?.len());
    if new_len > old_len {
        new.seek(SeekFrom::Start(old_len))?;
        old.seek(SeekFrom::Start(old_len))?;
        if let Err(e) = io::copy(&mut new, &mut old).and_then(|_| old.sync_all()) {
            old.set_len(old_len)?;
            return Err(e);
        }
    }
    new.rewind()?;
    old.rewind()?;
    io::copy(&mut new.take(old_len), &mut old)?;
    old.set_len(new_len)?;
    old.sync_all()
}
