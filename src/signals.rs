//! Signals that end the program: what is unfinished goes first.

/// Sees to it that an interruption (Ctrl-C) and a request to end leave no unfinished file, and that a
/// file that grows beyond what is allowed is an error of writing. Where that cannot be arranged, the
/// next run removes what is left.
#[cfg(unix)]
pub fn watch() {
    use scenarios::output_file::abandon;
    use signal_hook::consts::{SIGINT, SIGTERM, SIGXFSZ};
    use signal_hook::flag::{register, register_conditional_default};
    use signal_hook::iterator::Signals;
    use signal_hook::low_level::emulate_default_handler;
    use std::sync::Arc;
    use std::sync::atomic::AtomicBool;

    let _ = register(SIGXFSZ, Arc::new(AtomicBool::new(false)));
    let Ok(mut signals) = Signals::new([SIGINT, SIGTERM]) else { return };
    let wait = move || {
        for signal in signals.forever() {
            // Ends the program as the signal would, so that a shell sees why.
            abandon(|| drop(emulate_default_handler(signal)));
        }
    };
    if std::thread::Builder::new().name("signals".to_owned()).spawn(wait).is_err() {
        // With nobody to wait for them, they do what they would have done.
        let always = Arc::new(AtomicBool::new(true));
        for signal in [SIGINT, SIGTERM] {
            let _ = register_conditional_default(signal, always.clone());
        }
    }
}

/// Signals are left to the system.
#[cfg(not(unix))]
pub fn watch() {}
