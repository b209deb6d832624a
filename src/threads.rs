//! The threads that share the work.

use rayon::ThreadPoolBuilder;

/// Starts them: as many as there are processors, or as `RAYON_NUM_THREADS` says, and fewer where the
/// system allows no more. One can always be had, the program's own.
pub fn start() {
    let most = std::thread::available_parallelism().map_or(1, usize::from);
    let fewer = std::iter::successors(Some(most), |n| (*n > 1).then_some(n / 2));
    // None given is the usual number.
    let started = std::iter::once(0)
        .chain(fewer)
        .any(|n| ThreadPoolBuilder::new().num_threads(n).build_global().is_ok());
    if !started {
        let own = ThreadPoolBuilder::new().num_threads(1).use_current_thread();
        let _ = own.build_global();
    }
}
