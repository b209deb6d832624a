//! The threads that share the work.

use rayon::{ThreadPool, ThreadPoolBuilder};
use std::env;

/// Does something with the threads at hand: as many as there are processors or as
/// `RAYON_NUM_THREADS` says, and fewer where the system allows no more.
pub fn with<T: Send>(work: impl FnOnce() -> T + Send) -> T {
    match pool() {
        Some(pool) => pool.install(work),
        None => work(),
    }
}

fn wanted() -> usize {
    let asked = env::var("RAYON_NUM_THREADS").ok().and_then(|n| n.parse::<usize>().ok());
    let at_hand = || std::thread::available_parallelism().map_or(1, usize::from);
    asked.filter(|n| *n > 0).unwrap_or_else(at_hand).min(with_room())
}

fn pool() -> Option<ThreadPool> {
    let fewer = std::iter::successors(Some(wanted()), |n| (*n > 2).then_some(n / 2));
    let started =
        fewer.filter(|n| *n > 1).find_map(|n| ThreadPoolBuilder::new().num_threads(n).build().ok());
    // One can always be had: the program's own.
    let own = || ThreadPoolBuilder::new().num_threads(1).use_current_thread().build().ok();
    started.or_else(own)
}

/// Threads of their own, beside those of the program.
pub fn apart() -> Result<ThreadPool, rayon::ThreadPoolBuildError> {
    ThreadPoolBuilder::new().num_threads(wanted()).build()
}

/// Address space that a thread is given, bytes: its stack, and what an allocator sets aside for it.
#[cfg(unix)]
const ROOM_BYTES: u64 = 100_000_000;

/// How many threads there is room for where address space is limited (`ulimit -v`).
#[cfg(unix)]
fn with_room() -> usize {
    use rustix::process::{Resource, getrlimit};
    let room = getrlimit(Resource::As).current.map(|bytes| bytes / ROOM_BYTES);
    room.map_or(usize::MAX, |threads| usize::try_from(threads).unwrap_or(usize::MAX).max(1))
}

/// How many threads there is room for: nothing is known that says.
#[cfg(not(unix))]
fn with_room() -> usize {
    usize::MAX
}
