//! From the command line to an exit code.

use std::process::ExitCode;

use clap::Parser;

use super::args::{Arguments, Command};
use super::failure::Failure;
use super::long_work::keep_quiet;
use super::output::warn;
use super::{check, demo, history, listen, measure, new, place, record, set_aside, step, threads, trial};

/// Exit code of a command that could not do its work (file, device, disk).
pub(super) const COULD_NOT: u8 = 1;
/// Exit code of a check that found something, when asked for.
pub(super) const FINDINGS: u8 = 3;
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
    if arguments.quiet {
        keep_quiet();
    }
    let outcome = threads::start().and_then(|()| command(&arguments));
    outcome.unwrap_or_else(|failure| {
        warn(&failure.to_string());
        let usage = matches!(
            failure,
            Failure::Usage(_)
                | Failure::Change(_)
                | Failure::Drilling(_)
                | Failure::Place(_)
                | Failure::CauseName(_)
        );
        ExitCode::from(if usage { WRONG_USAGE } else { COULD_NOT })
    })
}

fn command(arguments: &Arguments) -> Result<ExitCode, Failure> {
    match &arguments.command {
        Command::New(new) => new::run(new),
        Command::Predict(predict) => check::run_predict(predict),
        Command::Check(check) => check::run(check, arguments.quiet),
        Command::Try(words) => trial::run(words),
        Command::Place(words) => place::run(words, arguments.quiet),
        Command::Scale(words) => place::run_scale(words, arguments.quiet),
        Command::Demo(demo) => demo::run(demo),
        Command::Measure(measure) => measure::run(measure, arguments),
        Command::Record(record) => record::run(record, arguments.quiet),
        Command::Listen(listen) => listen::run(listen, arguments.quiet),
        Command::Step(step) => step::run(step),
        Command::History(history) => history::run(history, arguments.quiet),
        Command::SetAside(takes) => set_aside::run(takes),
    }
}
