//! Why a command gave up.

use std::io;

/// Why a command gave up.
#[derive(Debug, thiserror::Error)]
pub enum Failure {
    /// A file, a path or a value that cannot be used.
    #[error(transparent)]
    Input(#[from] scenarios::Error),
    /// A run that could not be carried out.
    #[error(transparent)]
    Run(#[from] scenarios::runs::Failure),
    /// A road or a cycle that cannot be used.
    #[error(transparent)]
    Road(#[from] cycles::Error),
    /// Arguments that do not go together.
    #[error("{0}")]
    Arguments(String),
    /// The output cannot be written.
    #[error("the output cannot be written: {0}")]
    Output(io::Error),
    /// Nobody reads the output any more.
    #[error("the output was closed")]
    Closed,
}

impl Failure {
    /// The message on one line, without control characters that a file may have smuggled in.
    pub fn sentence(&self) -> String {
        let text = crate::output::one_line(&self.to_string());
        match self {
            Failure::Run(scenarios::runs::Failure::NoFigure { meant: None, .. }) => {
                format!("{text}; `figures` lists all that there are")
            }
            _ => text,
        }
    }
}

impl From<io::Error> for Failure {
    fn from(error: io::Error) -> Self {
        if error.kind() == io::ErrorKind::BrokenPipe {
            Failure::Closed
        } else {
            Failure::Output(error)
        }
    }
}
