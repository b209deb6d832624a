//! What can be wrong with a file, a path or a value: one sentence each.

use cycles::short;
use std::{fmt, io};

/// The name of a file as it stands in a message.
fn in_short(name: &str) -> impl fmt::Display {
    cycles::file(name.as_ref())
}

/// Where something was said that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Source {
    /// In a file, by its name.
    File(String),
    /// In a file of what was learnt, by its name.
    Measured(String),
    /// In a value that the caller put in place of those in the files.
    Caller,
}

impl Source {
    /// The name of the file, or another.
    pub(crate) fn name_or(&self, other: &str) -> String {
        match self {
            Source::File(name) | Source::Measured(name) => name.clone(),
            Source::Caller => other.to_owned(),
        }
    }
}

impl fmt::Display for Source {
    /// The beginning of a sentence about it.
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        match self {
            Source::File(name) | Source::Measured(name) => write!(f, "{}: ", in_short(name)),
            Source::Caller => Ok(()),
        }
    }
}

/// An input that cannot be used. Its text is one sentence for the person who wrote the input.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// A file that cannot be read or written.
    #[error("{}: {problem}", in_short(file))]
    File {
        /// The file, as it was named.
        file: String,
        /// What is wrong with it.
        problem: String,
    },
    /// A text that is not JSON.
    #[error("{}: line {line}, column {column}: {}", in_short(file), short(problem))]
    Json {
        /// The file.
        file: String,
        /// Line, from 1.
        line: usize,
        /// Column, from 1.
        column: usize,
        /// What is wrong there.
        problem: String,
    },
    /// A value outside what is allowed.
    #[error("{said}{} is {}; allowed: {allowed}", short(path), short(value))]
    Value {
        /// Where it was said.
        said: Source,
        /// Path of the field in the file.
        path: String,
        /// What stands there.
        value: String,
        /// What may stand there.
        allowed: String,
    },
    /// Something that is needed and not there.
    #[error("{said}{} is missing; needed: {needed}", short(path))]
    Missing {
        /// Where it was said.
        said: Source,
        /// Path of the field in the file.
        path: String,
        /// What is needed.
        needed: String,
    },
    /// A key that means nothing.
    #[error("{said}unknown field \"{}\" in {}{hint}", short(field), short(place))]
    Unknown {
        /// Where it was said.
        said: Source,
        /// The key.
        field: String,
        /// The object in which it stands.
        place: String,
        /// A suggestion, or the keys that would be known; begins with `;`.
        hint: String,
    },
    /// A path that leads nowhere, or cannot take what is put there.
    #[error("{}: {problem}", short(path))]
    Path {
        /// The path as given.
        path: String,
        /// Why it leads nowhere.
        problem: String,
    },
    /// A part that the shelf does not have.
    #[error("{said}no {kind} \"{}\" on the shelf{hint}", short(name))]
    Shelf {
        /// Where it was asked for.
        said: Source,
        /// What kind of part was wanted.
        kind: &'static str,
        /// The name asked for.
        name: String,
        /// A suggestion, or the names that there are; begins with `;`.
        hint: String,
    },
    /// A road or cycle that cannot be driven.
    #[error(transparent)]
    Cycle(#[from] cycles::Error),
}

impl Error {
    /// Whether it is about what the caller put in, and not about a file.
    pub fn is_of_caller(&self) -> bool {
        match self {
            Error::Value { said, .. }
            | Error::Missing { said, .. }
            | Error::Unknown { said, .. }
            | Error::Shelf { said, .. } => *said == Source::Caller,
            Error::Path { .. } => true,
            Error::File { .. } | Error::Json { .. } | Error::Cycle(_) => false,
        }
    }

    /// Whether a path leads nowhere, whatever is put there.
    pub fn is_of_path(&self) -> bool {
        matches!(self, Error::Unknown { .. } | Error::Path { .. })
    }

    /// A file that the operating system refused.
    pub(crate) fn io(file: impl Into<String>, error: &io::Error) -> Self {
        let problem = match error.kind() {
            io::ErrorKind::NotFound => "there is no such file".to_owned(),
            io::ErrorKind::PermissionDenied => "reading or writing it is not permitted".to_owned(),
            _ => error.to_string(),
        };
        Error::File { file: file.into(), problem }
    }
}
