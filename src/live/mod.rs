//! The page on which a build is moved: a server for this machine alone.
//!
//! The page holds what was changed, undone and pinned; the server holds the file as it was read, and
//! for each page the results of its last states. What the page sends is a list of changes, each one
//! that the page itself offers.

mod answers;
mod changes;
mod choices;
mod connections;
mod drawings;
mod driven;
mod groups;
mod guard;
mod key;
mod nudges;
mod refusal;
mod routes;
mod save;
mod state;
mod studies;

use crate::choice::Choice;
use crate::failure::Failure;
use crate::measure::Units;
use key::Key;
use scenarios::Loaded;
use scenarios::measured::drive::RecordedDrive;
use state::State;
use std::net::{Ipv4Addr, TcpListener};
use std::path::PathBuf;
use std::sync::Arc;
use tokio::runtime::{Builder, Runtime};

/// Blocking computations at once; each page has one at most.
const COMPUTING: usize = 16;

/// What is shown besides the car itself.
pub struct Shown {
    /// A recorded drive, against what is predicted for it.
    pub recorded: Option<RecordedDrive>,
    /// What parts are chosen from.
    pub choice: Option<Choice>,
}

/// A page that can be asked for.
pub struct Server {
    state: Arc<State>,
    listener: TcpListener,
    runtime: Runtime,
}

impl Server {
    /// Takes a port of this machine, a free one where it is 0.
    pub fn new(
        loaded: Loaded,
        folder: PathBuf,
        units: Units,
        port: u16,
        shown: Shown,
    ) -> Result<Self, Failure> {
        let refused =
            |what: String| move |why: String| Failure::Arguments(format!("{what}: {why}"));
        let of_port = refused(format!("--port {port} cannot be had"));
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, port))
            .and_then(|listener| listener.set_nonblocking(true).map(|()| listener))
            .map_err(|e| of_port(e.to_string()))?;
        let address = listener.local_addr()?;
        let key = Key::new().map_err(|e| refused("there is no key".to_owned())(e.to_string()))?;
        let threads = |e: String| refused("there are no threads to serve with".to_owned())(e);
        let pool = crate::threads::apart().map_err(|e| threads(e.to_string()))?;
        let runtime = Builder::new_current_thread()
            .enable_io()
            .enable_time()
            .max_blocking_threads(COMPUTING)
            .build()
            .map_err(|e| threads(e.to_string()))?;
        let mut state = State::new(loaded, folder, units, address, key, pool);
        state.recorded = shown.recorded.map(Arc::new);
        state.choice = shown.choice;
        let state = Arc::new(state);
        Ok(Self { state, listener, runtime })
    }

    /// The address of the page. What stands behind `#` no browser sends.
    pub fn address(&self) -> String {
        format!("http://{}/#{}", self.state.address, self.state.key.shown())
    }

    /// The port.
    pub fn port(&self) -> u16 {
        self.state.address.port()
    }

    /// Serves until the program is ended.
    pub fn serve(self) -> Result<(), Failure> {
        let Self { state, listener, runtime } = self;
        runtime.block_on(async {
            let listener = tokio::net::TcpListener::from_std(listener)?;
            connections::serve(listener, routes::router(state)).await
        })
    }
}
