//! From the command line to an exit code; the one place that writes to the terminal.

use std::io::{self, Write};
use std::process::ExitCode;

use clap::Parser;

use super::args::{Arguments, Command};
use super::failure::Failure;
use super::output::warn;
use super::{check, demo, measure, new, trial};

/// Exit code of a command that could not do its work (file, device, disk).
pub(super) const COULD_NOT: u8 = 1;
/// Exit code of a check that found something, when asked for.
pub(super) const FINDINGS: u8 = 3;
/// Exit code of a command that was called wrongly.
pub(super) const WRONG_USAGE: u8 = 2;

/// Why a command stops.
#[derive(Debug)]
pub enum Failure {
    /// A file, a device or the disk would not; the sentence says which.
    CouldNot(String),
    /// The command was called wrongly; the sentence says how.
    Usage(String),
    /// Whoever read the results has read enough.
    Output(io::Error),
}

/// Runs the command that was typed.
#[must_use]
pub fn run() -> ExitCode {
    let arguments = match Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(error) => {
            // Help and version come this way too, and are no errors.
            let code = if error.use_stderr() { WRONG_USAGE } else { 0 };
            let _ = error.print();
            return ExitCode::from(code);
        }
    };
    let done = match &arguments.command {
        Command::Measure(measure) => measure::run(measure, &arguments),
    };
    done.unwrap_or_else(|failure| {
        let (text, code) = match failure {
            // A reader that closed the pipe (head, less) has what it wanted.
            Failure::Output(error) if error.kind() == io::ErrorKind::BrokenPipe => return ExitCode::SUCCESS,
            Failure::Output(error) => (format!("can't write the results: {error}"), COULD_NOT),
            Failure::CouldNot(text) => (text, COULD_NOT),
            Failure::Usage(text) => (text, WRONG_USAGE),
        };
        let _ = writeln!(io::stderr(), "borescribe: {text}");
        ExitCode::from(code)
    })
}

/// Writes results to standard output.
///
/// # Errors
/// [`Failure::Output`] when they can't be written.
pub(super) fn print(text: &str) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    out.write_all(text.as_bytes()).and_then(|()| out.flush()).map_err(Failure::Output)
}
