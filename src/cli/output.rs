//! Where results and warnings go: results to stdout, warnings to stderr.
//!
//! A reader that goes away early (`borescribe check | head`) has read enough: that is no error, and
//! nothing is said about it.

use std::io::{ErrorKind, Write};

use super::failure::Failure;
use crate::report::layout::visible;

/// Writes a result to stdout.
///
/// # Errors
/// [`Failure::Output`] when it can't be written, for instance to a full disk.
pub fn put(text: &str) -> Result<(), Failure> {
    let mut stdout = std::io::stdout().lock();
    match stdout.write_all(text.as_bytes()).and_then(|()| stdout.flush()) {
        Err(source) if source.kind() != ErrorKind::BrokenPipe => Err(Failure::Output { source }),
        _ => Ok(()),
    }
}

/// Writes progress or a question to stderr, as it is. Where nobody can read it, it is lost.
pub fn say(text: &str) {
    let mut stderr = std::io::stderr().lock();
    let _ = stderr.write_all(text.as_bytes()).and_then(|()| stderr.flush());
}

/// Writes a sentence to stderr, with the program's name; names in it can't move the cursor. Where nobody can read it,
/// it is lost.
pub fn warn(text: &str) {
    let lines: Vec<_> = text.split('\n').map(visible).collect();
    let _ = writeln!(std::io::stderr().lock(), "borescribe: {}", lines.join("\n"));
}
