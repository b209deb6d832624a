//! What the page is about, and which of its requests is the newest.

use super::changes::Changes;
use super::choices::Choices;
use super::driven::{Driven, Picked};
use super::key::Key;
use super::refusal::Refusal;
use crate::choice::Choice;
use crate::measure::Units;
use rayon::ThreadPool;
use scenarios::Loaded;
use scenarios::measured::drive::RecordedDrive;
use std::net::SocketAddr;
use std::path::PathBuf;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

/// Pages that are remembered; the one that was silent longest is forgotten first.
const PAGES: usize = 16;

/// States of the car whose results a page is remembered for.
const REMEMBERED: usize = 6;

/// What is served.
pub struct State {
    /// The car as the file has it.
    pub loaded: Loaded,
    /// The only folder that is read from and saved to.
    pub folder: PathBuf,
    /// Units that a page begins with.
    pub units: Units,
    /// Where the page is.
    pub address: SocketAddr,
    /// What a page must know.
    pub key: Key,
    /// A recorded drive that is shown against what is predicted for it.
    pub recorded: Option<Arc<RecordedDrive>>,
    /// What parts are chosen from.
    pub choice: Option<Choice>,
    /// Those who compute.
    pub pool: ThreadPool,
    choices: Mutex<Arc<Choices>>,
    pages: Mutex<Vec<(String, Arc<Page>)>>,
}

/// A page that is open somewhere.
#[derive(Default)]
pub struct Page {
    newest: AtomicU64,
    /// Held by the one computation of the page.
    pub turn: Arc<tokio::sync::Mutex<()>>,
    picked: Mutex<Vec<(String, Arc<Picked>)>>,
    driven: Mutex<Vec<(String, Arc<Driven>)>>,
}

/// Takes what a lock holds, also after somebody else gave up with it.
fn held<T>(lock: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}

impl State {
    /// What is served, with no page yet.
    pub fn new(
        loaded: Loaded,
        folder: PathBuf,
        units: Units,
        address: SocketAddr,
        key: Key,
        pool: ThreadPool,
    ) -> Self {
        let choices = Mutex::new(Arc::new(Choices::of(&folder)));
        let (recorded, choice, pages) = (None, None, Mutex::default());
        Self { loaded, folder, units, address, key, recorded, choice, pool, choices, pages }
    }

    /// What can be picked, as it was when a page last looked.
    pub fn choices(&self) -> Arc<Choices> {
        held(&self.choices).clone()
    }

    /// Looks again for what can be picked.
    pub fn look(&self) {
        let found = Arc::new(Choices::of(&self.folder));
        *held(&self.choices) = found;
    }

    /// The names of the address.
    fn hosts(&self) -> [String; 2] {
        ["127.0.0.1", "localhost"].map(|name| format!("{name}:{}", self.address.port()))
    }

    /// Whether a host is the printed one.
    pub fn is_host(&self, host: &[u8]) -> bool {
        self.hosts().iter().any(|own| own.as_bytes() == host)
    }

    /// Whether an origin is that of the page.
    pub fn is_origin(&self, origin: &[u8]) -> bool {
        self.hosts().iter().any(|own| origin.strip_prefix(b"http://") == Some(own.as_bytes()))
    }

    /// The page of a name.
    pub fn page(&self, name: &str) -> Arc<Page> {
        let mut pages = held(&self.pages);
        let known = pages.iter().position(|(known, _)| known == name);
        let entry = match known {
            Some(at) => pages.remove(at),
            None => (name.to_owned(), Arc::default()),
        };
        if pages.len() >= PAGES {
            pages.remove(0);
        }
        let page = entry.1.clone();
        pages.push(entry);
        page
    }
}

impl Page {
    /// Notes that a move was made.
    pub fn moved(&self, number: u64) {
        self.newest.fetch_max(number, Ordering::SeqCst);
    }

    /// Whether no later move was made.
    pub fn is_newest(&self, number: u64) -> bool {
        self.newest.load(Ordering::SeqCst) <= number
    }

    /// The car with what was picked.
    pub fn picked(&self, state: &State, changes: &Changes) -> Result<Arc<Picked>, Refusal> {
        recalled(&self.picked, changes.picked_as_text(), || {
            let loaded = state.loaded.put(&changes.picked)?;
            let stated = loaded.prepare()?;
            Ok(Picked { loaded, stated })
        })
    }

    /// What comes of the car when numbers are moved.
    pub fn driven(
        &self,
        picked: &Picked,
        changes: &Changes,
        recorded: Option<&Arc<RecordedDrive>>,
    ) -> Result<Arc<Driven>, Refusal> {
        recalled(&self.driven, changes.as_text(), || {
            Driven::of(picked.loaded.with(&changes.moved)?, recorded)
        })
    }
}

/// What is remembered under a name, or else made; it is remembered in place of what was not asked
/// for longest.
fn recalled<T>(
    memory: &Mutex<Vec<(String, Arc<T>)>>,
    name: String,
    make: impl FnOnce() -> Result<T, Refusal>,
) -> Result<Arc<T>, Refusal> {
    let known = {
        let mut memory = held(memory);
        let at = memory.iter().position(|(known, _)| *known == name);
        at.map(|at| memory.remove(at).1)
    };
    let made = match known {
        Some(known) => known,
        None => Arc::new(make()?),
    };
    let mut memory = held(memory);
    if memory.len() >= REMEMBERED {
        memory.remove(0);
    }
    memory.push((name, made.clone()));
    Ok(made)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_newest_move_wins_in_whatever_order_they_come() {
        let page = Page::default();
        page.moved(3);
        page.moved(2);
        assert!(page.is_newest(3) && !page.is_newest(2));
    }
}
