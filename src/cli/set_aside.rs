//! The command `set-aside`: takes that should not count any more.

use std::path::Path;
use std::process::ExitCode;

use serde_json::json;

use super::bench_book::{open_book, writing};
use super::book_args::SetAsideArguments;
use super::clock::now;
use super::failure::Failure;
use super::output::put;
use crate::book::step::StepFolder;
use crate::book::take_folder::TakeFolder;

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
        let to = folder_of(&step, take).set_aside(&name, arguments.why.trim(), &now())?.display().to_string();
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

/// The folder that a take is in: that of a bench test when its path says so, `tests/01/D2.wav`.
fn folder_of(step: &StepFolder, take: &Path) -> TakeFolder {
    let mut folders = take.parent().into_iter().flat_map(Path::components).rev();
    let test = folders.next().map(|name| name.as_os_str().to_string_lossy().into_owned());
    let is_test = folders.next().is_some_and(|above| above.as_os_str() == "tests");
    test.filter(|_| is_test).map_or_else(|| step.ordinary(), |test| step.takes_of_test(&test))
}
