//! Progress on standard error, once work takes over a second.

use std::time::{Duration, Instant};

/// Work shorter than this is done before anyone wonders.
const QUIET: Duration = Duration::from_secs(1);

/// Tells each stage once, and only when the work drags on. The clock decides what is told, never what
/// is made.
pub(super) struct Progress {
    start: Instant,
    last: String,
    quiet: bool,
}

impl Progress {
    /// Starts now; says nothing where it is to be quiet.
    pub(super) fn new(quiet: bool) -> Self {
        Self {
            start: Instant::now(),
            last: String::new(),
            quiet,
        }
    }

    /// Begins a stage.
    pub(super) fn stage(&mut self, what: &str) {
        if !self.quiet && self.start.elapsed() >= QUIET && self.last != what {
            eprintln!("{what} ...");
            what.clone_into(&mut self.last);
        }
    }
}
