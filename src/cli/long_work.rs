//! A line on the terminal that tells how far long work has come, and is taken back when it is done. Work that is done
//! at once says nothing.
//!
//! Must not know what the work is.

use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use super::live_line::LiveLine;

/// Nobody needs to be told what takes no longer than this.
const PATIENCE: Duration = Duration::from_secs(1);
/// From one line to the next.
const PAUSE: Duration = Duration::from_millis(100);

/// `--quiet` was given: said once, before anything is begun, for recordings are read in many places.
static QUIET: AtomicBool = AtomicBool::new(false);

/// Shows nothing from now on.
pub(super) fn keep_quiet() {
    QUIET.store(true, Ordering::Relaxed);
}

/// The line of one piece of work; it is taken back when this is dropped.
pub(super) struct LongWork {
    what: String,
    line: Mutex<(LiveLine, Instant)>,
}

impl LongWork {
    /// Work that is called `what` begins now.
    pub(super) fn begin(what: &str) -> LongWork {
        let line = LiveLine::new(QUIET.load(Ordering::Relaxed));
        LongWork { what: what.to_string(), line: Mutex::new((line, Instant::now() + PATIENCE)) }
    }

    /// It has come this far.
    pub(super) fn tell(&self, how_far: impl FnOnce() -> String) {
        // Whoever finds the line in use goes on working: the next one tells more.
        let Ok(mut line) = self.line.try_lock() else { return };
        let (line, next) = &mut *line;
        let now = Instant::now();
        if now >= *next {
            line.show(&format!("{}: {}", self.what, how_far()));
            *next = now + PAUSE;
        }
    }
}
