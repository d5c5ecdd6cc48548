//! What is shown while a recording takes longer than anybody likes to wait for without a word: how far it was gone
//! through. On a terminal only, in the line that is taken back.

use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use super::live_line::LiveLine;
use crate::report::alignment::clock;
use crate::report::layout::visible_path;

/// So long nobody needs a word.
const UNTOLD: Duration = Duration::from_secs(2);
/// The line changes so often.
const PAUSE: Duration = Duration::from_millis(200);

/// `--quiet` was given: said once, before anything is read, for recordings are read in many places.
static QUIET: AtomicBool = AtomicBool::new(false);

/// Shows nothing from now on.
pub fn keep_quiet() {
    QUIET.store(true, Ordering::Relaxed);
}

/// The line about one recording.
#[derive(Debug)]
pub struct Patience {
    line: LiveLine,
    name: String,
    begun: Instant,
    shown: Option<Instant>,
}

impl Patience {
    /// Begins to wait for a recording.
    #[must_use]
    pub fn with(path: &Path) -> Patience {
        Patience {
            line: LiveLine::new(QUIET.load(Ordering::Relaxed)),
            name: visible_path(path),
            begun: Instant::now(),
            shown: None,
        }
    }

    /// So many seconds of it have been gone through.
    pub fn gone_through(&mut self, seconds: f64) {
        if is_due(self.begun.elapsed(), self.shown.map(|shown| shown.elapsed())) {
            self.line.show(&format!("{}: {} of it heard", self.name, clock(seconds)));
            self.shown = Some(Instant::now());
        }
    }
}

fn is_due(waited: Duration, since_shown: Option<Duration>) -> bool {
    waited >= UNTOLD && since_shown.is_none_or(|since| since >= PAUSE)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn who_waits_for_two_seconds_is_told_and_told_again_five_times_a_second() {
        let ms = Duration::from_millis;
        assert!(!is_due(ms(1900), None) && is_due(ms(2000), None));
        assert!(!is_due(ms(2100), Some(ms(100))) && is_due(ms(2300), Some(ms(300))));
    }
}
