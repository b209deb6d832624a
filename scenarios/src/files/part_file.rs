//! Files that a later run goes on with: lines that are only ever added, each with a sum of its own.
//!
//! Whatever stops the program, killed or without power, leaves whole lines and perhaps a piece of
//! one, or blocks that never reached the disk. Reading ends at the first line whose sum does not fit,
//! and what comes after it is cut off before more is added.

use crate::files::error::Error;
use crate::files::output_file::{behind_links, folder_fault, folder_of, refused, sync_folder};
use crate::files::passing::{Passing, system};
use sha2::{Digest, Sha256};
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, BufRead, BufReader, BufWriter, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// How often what was added is forced onto the disk: the most that a power cut takes.
const SYNC_EVERY: Duration = Duration::from_secs(5);

/// The longest line that is read, bytes.
const LINE_BYTES: u64 = 16_000_000;

/// What a full disk does not take away.
pub const STAYS: &str = "what is done stays, and the same command goes on with it";

/// The SHA-256 of some bytes, in hexadecimal digits.
pub fn sum_of(content: &[u8]) -> String {
    Sha256::digest(content).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// The part of a file that is not whole yet, beside it; `piece` tells it from other parts.
pub fn part_of(file: &Path, piece: &str) -> PathBuf {
    let mut name = behind_links(file).unwrap_or_else(|_| file.to_owned()).into_os_string();
    name.push(format!("{piece}.part"));
    name.into()
}

/// A line as it stands in the file: the first half of its SHA-256, then itself, without line breaks.
pub fn summed(content: &str) -> String {
    let sum: [u8; 32] = Sha256::digest(content.as_bytes()).into();
    let mut head = [0; 8];
    head.copy_from_slice(&sum[..8]);
    format!("{:016x} {content}\n", u64::from_be_bytes(head))
}

/// The lines of such a file, from its first to the last that is whole.
#[derive(Debug)]
pub struct PartLines {
    path: PathBuf,
    reader: BufReader<File>,
    line: Vec<u8>,
    /// How many bytes hold what was read.
    whole_bytes: u64,
}

impl PartLines {
    /// Begins at the first.
    ///
    /// # Errors
    /// [`Error::File`] with what the operating system says.
    pub fn open(path: &Path) -> Result<Self, Error> {
        let file = File::open(path).map_err(|e| Error::io(path.display().to_string(), &e))?;
        Ok(Self::of(path, file))
    }

    fn of(path: &Path, file: File) -> Self {
        let reader = BufReader::with_capacity(1 << 16, file);
        Self { path: path.to_owned(), reader, line: Vec::new(), whole_bytes: 0 }
    }

    /// The next, without its sum.
    ///
    /// # Errors
    /// As [`Self::open`].
    pub fn next_line(&mut self) -> Result<Option<&str>, Error> {
        self.line.clear();
        let mut most = (&mut self.reader).take(LINE_BYTES);
        most.read_until(b'\n', &mut self.line)
            .map_err(|e| Error::io(self.path.display().to_string(), &e))?;
        let content = std::str::from_utf8(&self.line).ok().and_then(|line| {
            let content = line.strip_suffix('\n')?.split_once(' ')?.1;
            (summed(content) == line).then_some(content)
        });
        self.whole_bytes += content.map_or(0, |_| self.line.len() as u64);
        Ok(content)
    }
}

/// Such a file while it grows; no other run writes it meanwhile.
#[derive(Debug)]
pub struct PartFile {
    path: PathBuf,
    writer: BufWriter<File>,
    synced: Instant,
}

impl PartFile {
    /// Goes on with a file, or begins it with its first line. Each line that it holds already is
    /// handed to `keep` in order, the first one also where it is new; the first that `keep` does not
    /// want is cut off, with all that follow.
    ///
    /// # Errors
    /// [`Error::File`] where another run is writing it, where something else stands under its name,
    /// and with what the operating system says; what `keep` refuses.
    pub fn open<E: From<Error>>(
        path: &Path,
        first: &str,
        mut keep: impl FnMut(&str) -> Result<bool, E>,
    ) -> Result<Self, E> {
        let (mut file, whole_bytes) = match fs::symlink_metadata(path) {
            Ok(about) if about.is_file() => {
                let file = go_on(path)?;
                let reading = file.try_clone().map_err(|e| fault(path, &e))?;
                let mut lines = PartLines::of(path, reading);
                let mut whole_bytes = 0;
                while let Some(line) = lines.next_line()? {
                    if !keep(line)? {
                        break;
                    }
                    whole_bytes = lines.whole_bytes;
                }
                if whole_bytes == 0 {
                    let problem = "is there already and is not what a stopped run leaves";
                    return Err(refused(path, problem.to_owned()).into());
                }
                (file, whole_bytes)
            }
            Ok(_) => return Err(refused(path, "is no file".to_owned()).into()),
            Err(_) => {
                let file = begin(path, &summed(first))?;
                keep(first)?;
                (file, summed(first).len() as u64)
            }
        };
        file.set_len(whole_bytes)
            .and_then(|()| file.seek(SeekFrom::Start(whole_bytes)))
            .map_err(|e| fault(path, &e))?;
        let writer = BufWriter::with_capacity(1 << 16, file);
        Ok(Self { path: path.to_owned(), writer, synced: Instant::now() })
    }

    /// Adds lines that are [`summed`], all of which a killed program leaves; now and then they are
    /// forced onto the disk.
    ///
    /// # Errors
    /// [`Error::File`] with what the operating system says.
    pub fn add(&mut self, lines: &str) -> Result<(), Error> {
        let written = self.writer.write_all(lines.as_bytes()).and_then(|()| self.writer.flush());
        written.map_err(|e| fault(&self.path, &e))?;
        if self.synced.elapsed() > SYNC_EVERY { self.sync() } else { Ok(()) }
    }

    /// Forces all of it onto the disk.
    ///
    /// # Errors
    /// As [`Self::add`].
    pub fn sync(&mut self) -> Result<(), Error> {
        self.synced = Instant::now();
        self.writer.get_ref().sync_data().map_err(|e| fault(&self.path, &e))
    }

    /// Removes it.
    ///
    /// # Errors
    /// As [`Self::add`].
    pub fn remove(self) -> Result<(), Error> {
        fs::remove_file(&self.path).map_err(|e| Error::io(self.path.display().to_string(), &e))
    }
}

/// An error while it is written.
fn fault(path: &Path, e: &io::Error) -> Error {
    refused(path, format!("{e}; {STAYS}"))
}

/// Opens a file that a run has left.
fn go_on(path: &Path) -> Result<File, Error> {
    let io = |e: io::Error| Error::io(path.display().to_string(), &e);
    let file = OpenOptions::new().read(true).write(true).open(path).map_err(io)?;
    // Where the file system knows no locks, nobody can tell.
    let taken = matches!(file.try_lock(), Err(TryLockError::WouldBlock));
    let about = file.metadata().map_err(io)?;
    // Whoever held it may have removed it at its end.
    let is_same = |there: fs::Metadata| cfg!(not(unix)) || system::is_same(&there, &about);
    let is_there = fs::metadata(path).is_ok_and(is_same);
    if taken || !is_there { Err(refused(path, TAKEN.to_owned())) } else { Ok(file) }
}

/// Why a run does not go on with a file.
const TAKEN: &str = "is being written by another run";

/// Makes a file that begins with a line; it appears with that line or not at all.
fn begin(path: &Path, first: &str) -> Result<File, Error> {
    if let Some(fault) = folder_fault(path) {
        return Err(fault);
    }
    let io = |e: io::Error| Error::io(path.display().to_string(), &e);
    let passing = Passing::begin(folder_of(path), false).map_err(io)?;
    let mut file = passing.as_file();
    file.write_all(first.as_bytes()).and_then(|()| file.sync_all()).map_err(io)?;
    let file = passing.place_new(path).map_err(|e| match e.kind() {
        io::ErrorKind::AlreadyExists => refused(path, TAKEN.to_owned()),
        _ => io(e),
    })?;
    sync_folder(path);
    Ok(file)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn path(name: &str) -> PathBuf {
        let folder = tempfile::tempdir().unwrap().keep();
        folder.join(name)
    }

    /// What a file holds, and the file to go on with.
    fn opened(path: &Path) -> Result<(Vec<String>, PartFile), Error> {
        let mut held = Vec::new();
        let file = PartFile::open(path, "head", |line| {
            held.push(line.to_owned());
            Ok::<_, Error>(true)
        })?;
        Ok((held, file))
    }

    #[test]
    fn whatever_is_cut_off_or_spoilt_goes_and_what_stands_before_it_stays() {
        let path = path("a.part");
        let (held, mut file) = opened(&path).unwrap();
        assert_eq!(held, ["head"]);
        let lines = ["one", "", "three, \u{e9}"];
        lines.iter().for_each(|line| file.add(&summed(line)).unwrap());
        let refusal = opened(&path).unwrap_err().to_string();
        assert!(refusal.ends_with("is being written by another run"), "{refusal}");
        drop(file);
        let whole = fs::read(&path).unwrap();
        let ends: Vec<usize> =
            (0..whole.len()).filter(|i| whole[*i] == b'\n').map(|i| i + 1).collect();
        for cut in ends[0]..=whole.len() {
            // Cut short, or with zeros where blocks have not reached the disk.
            for zeros in [0, whole.len() - cut] {
                let left = [&whole[..cut], &vec![0; zeros]].concat();
                fs::write(&path, left).unwrap();
                let (held, mut file) = opened(&path).unwrap();
                let many = ends.iter().filter(|end| **end <= cut).count();
                assert_eq!(held.len(), many);
                for line in &lines[many - 1..] {
                    file.add(&summed(line)).unwrap();
                }
                drop(file);
                assert_eq!(fs::read(&path).unwrap(), whole, "{cut} {zeros}");
            }
        }
        let mut spoilt = whole.clone();
        spoilt[ends[1] + 3] ^= 1;
        fs::write(&path, spoilt).unwrap();
        assert_eq!(opened(&path).unwrap().0, ["head", "one"]);
    }

    #[test]
    fn a_file_of_somebody_else_is_left_alone() {
        let path = path("b.part");
        for content in ["", "my notes\n", "0000000000000000 head\n"] {
            fs::write(&path, content).unwrap();
            let refusal = opened(&path).unwrap_err().to_string();
            assert!(refusal.contains("is not what a stopped run leaves"), "{refusal}");
            assert_eq!(fs::read_to_string(&path).unwrap(), content);
        }
    }
}
