//! A promise of the book that was broken.

use std::path::Path;

/// What was found, and where.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Trouble {
    /// The promise: failures are counted by it.
    pub kind: &'static str,
    /// The file, row or command that it is about.
    pub about: String,
    /// What was seen.
    pub seen: String,
    /// Whether it stays so from one event to the next, and is told once.
    pub lasts: bool,
}

impl Trouble {
    /// Of a command.
    pub fn new(kind: &'static str, about: impl Into<String>, seen: impl Into<String>) -> Trouble {
        Trouble { kind, about: about.into(), seen: seen.into(), lasts: false }
    }

    /// Of what lies in the book.
    pub fn of_file(kind: &'static str, path: &Path, seen: impl Into<String>) -> Trouble {
        Trouble { lasts: true, ..Trouble::new(kind, path.to_string_lossy(), seen) }
    }
}
