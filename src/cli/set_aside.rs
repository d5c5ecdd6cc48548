//! The command `set-aside`: takes that should not count any more.

use std::process::ExitCode;

use serde_json::json;

use super::bench_book::{open_book, writing};
use super::book_args::SetAsideArguments;
use super::clock::now;
use super::failure::Failure;
use super::output::put;

/// Moves the takes aside, with the reason.
///
/// # Errors
/// [`Failure`] outside a book, for takes that are not there and when the disk refuses.
pub fn run(arguments: &SetAsideArguments) -> Result<ExitCode, Failure> {
    if arguments.why.trim().is_empty() {
        return Err(Failure::Usage("--why: say in a few words why it should not count".to_string()));
    }
    let book = open_book(&arguments.book)?;
    let step = match &arguments.step {
        Some(name) => book.step_called(name)?,
        None => book.open_step()?,
    };
    let _lock = writing(&book)?;
    let mut moved = Vec::new();
    for take in &arguments.takes {
        let name = take.file_name().unwrap_or(take.as_os_str()).to_string_lossy().into_owned();
        let to = step.set_aside(&name, arguments.why.trim(), &now())?.display().to_string();
        if !arguments.json {
            put(&format!("{name} is set aside: {to}\n"))?;
        }
        moved.push(json!({ "file": name, "now": to }));
    }
    if arguments.json {
        put(&format!("{}\n", json!({ "set_aside": moved })))?;
    }
    Ok(ExitCode::SUCCESS)
}
