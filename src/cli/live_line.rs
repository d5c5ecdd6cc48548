//! The one line that changes while something sounds. Only on a terminal; nowhere is the terminal's own state
//! touched, so that stopping the program at any moment leaves it as it was.

use std::io::IsTerminal;

use super::output::say;

/// Characters that are shown: a longer line would wrap, and could not be taken back.
const WIDTH: usize = 78;

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
            let text: String = text.chars().take(WIDTH).collect();
            say(&format!("\r\x1b[2K{text}"));
            self.is_shown = true;
        }
    }

    /// Takes the line away, so that other text can follow.
    pub fn clear(&mut self) {
        if self.is_shown {
            say("\r\x1b[2K");
            self.is_shown = false;
        }
    }
}

impl Drop for LiveLine {
    fn drop(&mut self) {
        self.clear();
    }
}
