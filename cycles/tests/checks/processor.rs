//! What a test takes of the processor, however busy the machine is with other work.

/// Time of the processor that this thread has taken, s; zero where the system does not tell it (Linux
/// does: proc(5), `schedstat`, in ns).
pub fn processor_s() -> f64 {
    let stat = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap_or_default();
    stat.split(' ').next().and_then(|ns| ns.parse().ok()).map_or(0.0, |ns: f64| 1e-9 * ns)
}
