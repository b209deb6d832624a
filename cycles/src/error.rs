use std::fmt;
use std::path::{Path, PathBuf};

/// Values longer than this many characters are shortened in messages.
pub const SHOWN_LIMIT: usize = 120;
/// Names of files longer than this many characters are, too.
const SHOWN_FILE_LIMIT: usize = 1000;

/// A value that came from outside, as it stands in a message: on one line, and short.
pub fn short(text: &str) -> impl fmt::Display {
    clipped(text, SHOWN_LIMIT)
}

/// The name of a file, as it stands in a message.
pub fn file(path: &Path) -> impl fmt::Display {
    clipped(&path.display().to_string(), SHOWN_FILE_LIMIT)
}

fn clipped(text: &str, limit: usize) -> String {
    let shown = |c: char| if c.is_control() { ' ' } else { c };
    let mut short: String = text.chars().take(limit).map(shown).collect();
    if text.chars().nth(limit).is_some() {
        short.push_str(&format!("… ({} characters)", text.chars().count()));
    }
    short
}

/// What can be wrong with a name, a file or a schedule.
///
/// Every message is one sentence that names the file and line or the field, the value found and
/// what is allowed.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// No built-in cycle has this name, and there is no file of this name.
    #[error("`{name}` is neither a built-in cycle nor a file{hint}", name = short(name))]
    UnknownCycle {
        /// The name asked for.
        name: String,
        /// The built-in names near to it, as the end of the sentence.
        hint: String,
    },
    /// The file does not exist.
    #[error("{}: there is no such file", file(path))]
    Missing {
        /// The file asked for.
        path: PathBuf,
    },
    /// The path is a directory, a device or a pipe.
    #[error("{}: is {found}, and a plain .csv or .gpx file is needed", file(path))]
    NotAFile {
        /// The path asked for.
        path: PathBuf,
        /// What is there instead.
        found: &'static str,
    },
    /// The name of the file ends in neither `.csv` nor `.gpx`.
    #[error("{}: the extension is `{}`, and .csv or .gpx is needed", file(path), short(found))]
    Extension {
        /// The file asked for.
        path: PathBuf,
        /// The extension found.
        found: String,
    },
    /// The file is larger than is read.
    #[error("{}: is {bytes} bytes long, and at most {allowed_bytes} are read", file(path))]
    TooLarge {
        /// The file asked for.
        path: PathBuf,
        /// Its length.
        bytes: u64,
        /// The longest file that is read.
        allowed_bytes: u64,
    },
    /// The operating system refused to read the file.
    #[error("{}: cannot be read: {source}", file(path))]
    Read {
        /// The file asked for.
        path: PathBuf,
        /// What the operating system said.
        source: std::io::Error,
    },
    /// The file is not text in UTF-8.
    #[error("{}:{line}: byte {value:#04x} is not UTF-8, and only UTF-8 text is read", file(path))]
    NotUtf8 {
        /// The file.
        path: PathBuf,
        /// The line of the first wrong byte.
        line: u64,
        /// The first wrong byte.
        value: u8,
    },
    /// The file is text in UTF-16.
    #[error("{}: is text in UTF-16, and only UTF-8 text is read; save it as UTF-8", file(path))]
    Utf16 {
        /// The file.
        path: PathBuf,
    },
    /// The file has too few or too many rows.
    #[error("{}: the number of rows is {rows}, and {allowed} is needed", file(path))]
    Rows {
        /// The file.
        path: PathBuf,
        /// How many rows of figures it has.
        rows: usize,
        /// How many are allowed.
        allowed: &'static str,
    },
    /// A column of the header is not known.
    #[error("{}:{line}: column `{}` is not known{hint}", file(path), short(column))]
    UnknownColumn {
        /// The file.
        path: PathBuf,
        /// The line of the header.
        line: u64,
        /// The column.
        column: String,
        /// What may have been meant, or what is allowed, as the end of the sentence.
        hint: String,
    },
    /// The columns of the header do not make a schedule together.
    #[error("{}:{line}: the columns are `{}`, {problem}", file(path), short(columns))]
    Header {
        /// The file.
        path: PathBuf,
        /// The line of the header.
        line: u64,
        /// The columns found.
        columns: String,
        /// What is wrong and what is allowed.
        problem: String,
    },
    /// One cell holds something that is not allowed there.
    #[error("{}:{line}: {column} is `{}`, and {allowed} is needed", file(path), short(value))]
    Cell {
        /// The file.
        path: PathBuf,
        /// The line of the row.
        line: u64,
        /// The column.
        column: String,
        /// What the cell holds.
        value: String,
        /// What is allowed.
        allowed: &'static str,
    },
    /// A row does not follow from the row before it.
    #[error("{}:{line}: {problem}", file(path))]
    Row {
        /// The file.
        path: PathBuf,
        /// The line of the row.
        line: u64,
        /// What is wrong, the value, and what is allowed.
        problem: String,
    },
    /// The file is not GPX.
    #[error("{}:{line}: cannot be read as GPX: {problem}", file(path))]
    Gpx {
        /// The file.
        path: PathBuf,
        /// The line.
        line: u64,
        /// What the reader of GPX found wrong.
        problem: String,
    },
    /// A recorded track cannot be driven as it is.
    #[error("{}: {problem}", file(path))]
    Track {
        /// The file.
        path: PathBuf,
        /// What is wrong, the value, and what is allowed.
        problem: String,
    },
    /// A schedule cannot be made of these figures.
    #[error("trace `{schedule}`: {field} is {value}, and {allowed} is needed")]
    Schedule {
        /// The name of the schedule.
        schedule: String,
        /// The field, with the index of the point or interval.
        field: String,
        /// The value found.
        value: String,
        /// What is allowed.
        allowed: String,
    },
}
