//! Which file each branch of a scenario came from.

use crate::files::error::{Error, Source};
use crate::files::field_path::Fault;
use std::path::PathBuf;

/// Where the references in a text are looked for.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Folder {
    /// A folder on disk.
    Disk(PathBuf),
    /// The demo's folder in the program.
    Demo,
    /// The shelf, whose parts name nothing but parts of the shelf.
    Shelf,
}

/// Where a branch came from.
#[derive(Debug, Clone)]
pub(crate) struct Origin {
    /// Path of the branch from the root, with a `.` at its end where it is not empty.
    path: String,
    /// The same as it is called in a message.
    shown: String,
    pub(crate) said: Source,
    pub(crate) folder: Folder,
}

/// The origins of all branches; the root is the first.
#[derive(Debug, Clone, Default)]
pub(crate) struct Origins(Vec<Origin>);

impl Origins {
    /// Notes that a branch came from a file.
    pub(crate) fn add(&mut self, path: String, said: Source, folder: Folder) {
        self.0.push(Origin { path, shown: String::new(), said, folder });
    }

    /// Notes that a branch, called so in messages, came in place of what was there.
    pub(crate) fn replace(&mut self, path: &str, shown: &str, said: Source, folder: Folder) {
        self.0.retain(|origin| !origin.path.starts_with(path));
        self.0.push(Origin { path: path.to_owned(), shown: shown.to_owned(), said, folder });
    }

    /// Where the value at a path came from, and what the path is called there.
    pub(crate) fn of(&self, path: &str) -> (&Origin, String) {
        let with_end = format!("{path}.");
        let origin = self
            .0
            .iter()
            .filter(|o| with_end.starts_with(&o.path))
            // Of several for the same branch the last, as what refers to a file comes before it.
            .max_by_key(|o| o.path.len())
            // The root is the origin of every path.
            .unwrap_or(&self.0[0]);
        let rest = with_end[origin.path.len()..].trim_end_matches('.');
        let shown = match (origin.shown.is_empty(), rest.is_empty()) {
            (true, _) => rest.to_owned(),
            (false, true) => origin.shown.clone(),
            (false, false) => format!("{}.{rest}", origin.shown),
        };
        let shown = if shown.is_empty() {
            path.rsplit('.').next().unwrap_or_default().to_owned()
        } else {
            shown
        };
        (origin, shown)
    }

    /// Names of the files on disk.
    pub(crate) fn files(&self) -> impl Iterator<Item = &str> {
        self.0.iter().filter_map(|origin| match (&origin.said, &origin.folder) {
            (Source::File(name), Folder::Disk(_)) => Some(name.as_str()),
            _ => None,
        })
    }

    /// Gives a refusal its file.
    pub(crate) fn place(&self, fault: Fault) -> Error {
        match fault {
            Fault::Value { path, value, allowed } => {
                let (origin, path) = self.of(&path);
                Error::Value { said: origin.said.clone(), path, value, allowed }
            }
            Fault::Both { path, other } => {
                // Files of what was learnt say other things than the caller's own.
                let name = other.rsplit('.').next().unwrap_or_default();
                let by = match (&self.of(&path).0.said, &self.of(&other).0.said) {
                    (own, by @ Source::Measured(file)) if by != own => {
                        format!(", which {} has put there", cycles::file(file.as_ref()))
                    }
                    _ => String::new(),
                };
                let (value, allowed) = (format!("given beside {name}{by}"), "only one of the two");
                self.place(Fault::Value { path, value, allowed: allowed.to_owned() })
            }
            Fault::Missing { path, needed } => {
                let (origin, path) = self.of(&path);
                Error::Missing { said: origin.said.clone(), path, needed }
            }
        }
    }
}
