//! What can be wrong with a file, a path or a value: one sentence each.

use std::io;

/// An input that cannot be used. Its text is one sentence for the person who wrote the input.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// A file that cannot be read or written.
    #[error("{file}: {problem}")]
    File {
        /// The file, as it was named.
        file: String,
        /// What is wrong with it.
        problem: String,
    },
    /// A text that is not JSON.
    #[error("{file}: line {line}, column {column}: {problem}")]
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
    #[error("{file}: {path} is {value}; allowed: {allowed}")]
    Value {
        /// The file, or `--set`.
        file: String,
        /// Path of the field in the file.
        path: String,
        /// What stands there.
        value: String,
        /// What may stand there.
        allowed: String,
    },
    /// Something that is needed and not there.
    #[error("{file}: {path} is missing; needed: {needed}")]
    Missing {
        /// The file.
        file: String,
        /// Path of the field in the file.
        path: String,
        /// What is needed.
        needed: String,
    },
    /// A key that means nothing.
    #[error("{file}: unknown field \"{field}\" in {place}{hint}")]
    Unknown {
        /// The file, or `--set`.
        file: String,
        /// The key.
        field: String,
        /// The object in which it stands.
        place: String,
        /// A suggestion, or the keys that would be known; begins with `;`.
        hint: String,
    },
    /// A path on the command line that leads nowhere.
    #[error("--set {path}: {problem}")]
    Override {
        /// The path as given.
        path: String,
        /// Why it leads nowhere.
        problem: String,
    },
    /// A part that the shelf does not have.
    #[error("{file}: no {kind} \"{name}\" on the shelf{hint}")]
    Shelf {
        /// Where it was asked for.
        file: String,
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
