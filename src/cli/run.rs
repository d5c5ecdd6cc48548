//! From the command line to an exit code.

use std::process::ExitCode;

use clap::Parser;

use super::args::{Arguments, Command};
use super::measure;

/// Exit code of a command that could not do its work (file, device, disk).
pub(super) const COULD_NOT: u8 = 1;
/// Exit code of a command that was called wrongly.
pub(super) const WRONG_USAGE: u8 = 2;

/// Runs the command that was typed.
#[must_use]
pub fn run() -> ExitCode {
    let arguments = match Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(error) => {
            // Help and version are no errors to clap's own printer; it knows which stream.
            let code = if error.use_stderr() { WRONG_USAGE } else { 0 };
            let _ = error.print();
            return ExitCode::from(code);
        }
    };
    match &arguments.command {
        Command::Measure(measure) => measure::run(measure, &arguments),
    }
}
