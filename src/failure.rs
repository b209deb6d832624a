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
    Run(scenarios::runs::Failure),
    /// A road or a cycle that cannot be used.
    #[error(transparent)]
    Road(#[from] cycles::Error),
    /// Recordings that tell nothing, or nothing that a build could take.
    #[error(transparent)]
    CoastDown(#[from] scenarios::measured::coast_down::Refused),
    /// Arguments that do not go together.
    #[error("{0}")]
    Arguments(String),
    /// What was asked has no answer, and the output says how near it comes.
    #[error("no answer: {0}")]
    Unanswered(String),
    /// The output cannot be written.
    #[error("the output cannot be written: {0}")]
    Output(io::Error),
    /// Nobody reads the output any more.
    #[error("the output was closed")]
    Closed,
}

/// Puts the name of an option before what is refused of that which it gave; what files are refused
/// for stays as it is.
pub fn of<E: Into<Failure>>(option: &'static str) -> impl Fn(E) -> Failure {
    move |error| match error.into() {
        Failure::Input(e @ scenarios::Error::Path { .. }) => {
            Failure::Arguments(format!("{option} {e}"))
        }
        Failure::Input(e) if e.is_of_caller() => Failure::Arguments(format!("{option}: {e}")),
        Failure::Run(e @ scenarios::runs::Failure::Form { .. }) => {
            Failure::Arguments(format!("{option} {e}"))
        }
        other => other,
    }
}

impl From<scenarios::runs::Failure> for Failure {
    fn from(failure: scenarios::runs::Failure) -> Self {
        match failure {
            // Arguments of the library are named as the options that give them.
            scenarios::runs::Failure::Argument(invalid) => invalid.into(),
            other => Failure::Run(other),
        }
    }
}

impl From<sim_core::Invalid> for Failure {
    fn from(argument: sim_core::Invalid) -> Self {
        let value = cycles::short(&argument.value).to_string();
        Failure::Arguments(format!("--{}", sim_core::Invalid { value, ..argument }))
    }
}

impl Failure {
    /// The message on one line, without control characters that a file may have smuggled in.
    pub fn sentence(&self) -> String {
        let text = crate::plain::line(&self.to_string());
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
