//! The command `history`: what the book tells over steps and prototypes.

use std::process::ExitCode;

use super::bench_book::{open_book, warn_if_changed};
use super::book_args::HistoryArguments;
use super::failure::Failure;
use super::output::{put, warn};
use crate::book::history::history;
use crate::report::{history as report, history_text};

/// Prints the history as table, CSV or JSON. Changes nothing.
///
/// # Errors
/// [`Failure`] outside a book and when its files can't be read.
pub fn run(arguments: &HistoryArguments, quiet: bool) -> Result<ExitCode, Failure> {
    let book = open_book(&arguments.book)?;
    let history = history(&book)?;
    if !quiet {
        warn_if_changed(book);
        history.remarks.iter().for_each(|remark| warn(remark));
    }
    if arguments.json {
        put(&format!("{}\n", report::json(&history)))?;
    } else if arguments.csv {
        put(&report::csv(&history))?;
    } else {
        put(&history_text::text(&history))?;
    }
    Ok(ExitCode::SUCCESS)
}
