//! The one line that changes while something sounds. Only on a terminal. The terminal is never put into another
//! mode from one moment to the next, so that stopping the program at any moment leaves it as it was.

use std::io::IsTerminal;

use super::output::say;

/// Characters that are shown at most.
const WIDTH: usize = 78;
/// The line is taken back.
const EMPTY: &str = "\r\x1b[2K";
/// Letters beyond the right edge are dropped, or go on in the next line as usual (DEC private mode 7, "autowrap"; from
/// memory). A line that wraps could not be taken back.
const CUT_OFF: &str = "\x1b[?7l";
const WRAPPED: &str = "\x1b[?7h";

/// The line.
#[derive(Debug)]
pub struct LiveLine {
    is_shown: bool,
    on_terminal: bool,
}

impl LiveLine {
    /// Nothing is shown yet.
    #[must_use]
    pub fn new(quiet: bool) -> LiveLine {
        LiveLine { is_shown: false, on_terminal: !quiet && std::io::stderr().is_terminal() }
    }

    /// Whether anybody can see it.
    #[must_use]
    pub fn is_seen(&self) -> bool {
        self.on_terminal
    }

    /// Shows `text` in place of the last one.
    pub fn show(&mut self, text: &str) {
        if self.on_terminal {
            say(&shown(text));
            self.is_shown = true;
        }
    }

    /// Takes the line away, so that other text can follow.
    pub fn clear(&mut self) {
        if self.is_shown {
            say(EMPTY);
            self.is_shown = false;
        }
    }
}

/// The line in one piece, so that the terminal has its own mode again with the last letter. It needs no width, which
/// the maker may change at any moment.
fn shown(text: &str) -> String {
    let text: String = text.chars().filter(|c| !c.is_control()).take(WIDTH).collect();
    format!("{EMPTY}{CUT_OFF}{text}{WRAPPED}")
}

impl Drop for LiveLine {
    fn drop(&mut self) {
        self.clear();
    }
}
