//! How far long work has come, on standard error where that is a terminal.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::{self, IsTerminal};
use std::sync::{Mutex, PoisonError};

/// The bar that is drawn now: a message must not be written across it.
static DRAWN: Mutex<Option<ProgressBar>> = Mutex::new(None);

/// Fewer files than this are read before anybody wonders.
const FROM: usize = 4;

/// A bar that goes when it is dropped.
pub struct Progress(ProgressBar);

impl Progress {
    /// Over so many files. It stays hidden where standard error is no terminal, and where pages come out on one.
    pub fn over(files: usize, pages: bool) -> Self {
        let hidden = files < FROM || (pages && io::stdout().is_terminal());
        let target = if hidden { ProgressDrawTarget::hidden() } else { ProgressDrawTarget::stderr() };
        let bar = ProgressBar::with_draw_target(Some(u64::try_from(files).unwrap_or(u64::MAX)), target);
        if let Ok(style) = ProgressStyle::with_template("{bar:30} {pos} of {len} files, {eta} left") {
            bar.set_style(style);
        }
        DRAWN.lock().unwrap_or_else(PoisonError::into_inner).replace(bar.clone());
        Self(bar)
    }

    /// One more file is done.
    pub fn step(&self) {
        self.0.inc(1);
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.0.finish_and_clear();
        DRAWN.lock().unwrap_or_else(PoisonError::into_inner).take();
    }
}

/// Does what writes on the terminal, without the bar in its way.
pub fn aside(write: impl FnOnce()) {
    // The bar is cloned out: what is written may itself ask for it.
    let bar = DRAWN.lock().unwrap_or_else(PoisonError::into_inner).clone();
    match bar {
        Some(bar) => bar.suspend(write),
        None => write(),
    }
}
