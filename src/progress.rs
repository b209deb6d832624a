//! A progress bar for what takes longer than a second, on a terminal that takes escape sequences.

use crate::output::takes_escapes;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// How long something may take before a bar is shown.
const PATIENCE: Duration = Duration::from_secs(1);

/// A bar that stays hidden until its work has taken longer than a second.
pub struct Progress {
    bar: ProgressBar,
    begun: Instant,
    shown: AtomicBool,
}

impl Progress {
    /// A bar for so many pieces of work.
    pub fn new(total: u64, what: &'static str) -> Self {
        let bar = ProgressBar::with_draw_target(Some(total), ProgressDrawTarget::hidden());
        let style = ProgressStyle::with_template("{msg} {wide_bar} {pos} of {len}, {eta} left");
        if let Ok(style) = style {
            bar.set_style(style);
        }
        bar.set_message(what);
        let hide = !takes_escapes(&std::io::stderr());
        Self { bar, begun: Instant::now(), shown: AtomicBool::new(hide) }
    }

    /// One piece more is done.
    pub fn step(&self) {
        self.bar.inc(1);
        self.appear();
    }

    /// One piece more is done of which nobody knows how many there are.
    pub fn step_of_more(&self) {
        self.bar.inc_length(1);
        self.step();
    }

    fn appear(&self) {
        let late = self.begun.elapsed() > PATIENCE;
        if late && !self.shown.swap(true, Ordering::Relaxed) {
            self.bar.set_draw_target(ProgressDrawTarget::stderr());
        }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}
