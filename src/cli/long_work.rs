//! A line that tells how far long work has come. Work that is done at once says nothing.
//!
//! Must not know what the work is.

use std::sync::Mutex;
use std::time::{Duration, Instant};

use super::live_line::LiveLine;

/// Nobody needs to be told what takes no longer than this.
const PATIENCE: Duration = Duration::from_secs(1);
/// From one line to the next.
const PAUSE: Duration = Duration::from_millis(100);

/// The line of one piece of work; it is taken back when this is dropped.
pub(super) struct LongWork {
    what: &'static str,
    line: Mutex<(LiveLine, Instant)>,
}

impl LongWork {
    /// Work that is called `what` begins now.
    pub(super) fn begin(what: &'static str, quiet: bool) -> LongWork {
        LongWork { what, line: Mutex::new((LiveLine::new(quiet), Instant::now() + PATIENCE)) }
    }

    /// So much of it is done.
    pub(super) fn tell(&self, done: usize, of: usize) {
        // Whoever finds the line in use goes on working: the next one tells more.
        let Ok(mut line) = self.line.try_lock() else { return };
        let (line, next) = &mut *line;
        let now = Instant::now();
        if now >= *next {
            line.show(&format!("{}: {done} of {of}", self.what));
            *next = now + PAUSE;
        }
    }
}
