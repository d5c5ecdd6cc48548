//! The command `new`: a bench book, or the next prototype in one.

use std::ffi::OsStr;
use std::path::Path;
use std::process::ExitCode;

use super::bench_book::{open_book, put_right, recording, writing};
use super::book_args::NewArguments;
use super::check::room_must_be_possible;
use super::clock::now;
use super::failure::Failure;
use super::output::put;
use crate::book::disk::is_hidden_unfinished;
use crate::book::error::BookError;
use crate::book::folder::{Book, INSTRUMENT};
use crate::book::log::LOG;
use crate::book::note::{self, StepNote};
use crate::book::step::StepFolder;
use crate::book::version::BOOK;
use crate::instrument::template::plain_tube;
use crate::report::history::opened_json;
use crate::report::layout::{paragraph, visible_path};

/// Makes a book, or begins a prototype in one.
///
/// # Errors
/// [`Failure`] when the folder holds something already, the prototype can't be begun, or the disk refuses.
pub fn run(arguments: &NewArguments) -> Result<ExitCode, Failure> {
    room_must_be_possible(arguments.notes.room)?;
    match (&arguments.prototype, &arguments.from) {
        (Some(prototype), Some(from)) => next_prototype(arguments, prototype, from),
        _ => new_book(arguments),
    }
}

fn new_book(arguments: &NewArguments) -> Result<ExitCode, Failure> {
    let folder = arguments.folder.as_path();
    must_be_free(folder)?;
    std::fs::create_dir_all(folder)
        .map_err(|source| BookError::Disk { path: folder.to_path_buf(), source })?;
    let name =
        folder.file_name().map_or_else(|| "My instrument".to_string(), |n| n.to_string_lossy().into_owned());
    let (book, step) = Book::create(folder, &plain_tube(&name), &first_note(arguments))?;
    // A `new` that was stopped may have begun the same files.
    put_right(&book)?;
    let made = format!(
        "Made the bench book {}, with its first step {}/{} open. Open its {INSTRUMENT} in a text editor. Every line \
         marked EXAMPLE wants a measurement of yours; delete the mark once the number is real. Then, inside the book:",
        visible_path(folder),
        step.prototype(),
        step.name()
    );
    let text = format!("{}{THEN}", paragraph("", &made));
    told(arguments, &step, &text)
}

/// What comes after the measuring.
const THEN: &str = "  borescribe predict                    what the tube should sound
  borescribe record                     each fingering, into the open step
  borescribe check                      what is off, why, and what to do next
  borescribe step \"what was changed\"    after each change at the bench
";

/// A folder that is empty but for what an interrupted `new` left may be used.
fn must_be_free(folder: &Path) -> Result<(), Failure> {
    let occupied = || Failure::Occupied { path: folder.to_path_buf() };
    if !folder.exists() {
        return Ok(());
    }
    let entries = std::fs::read_dir(folder).map_err(|_| occupied())?;
    let names: Vec<String> =
        entries.flatten().map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
    let left_over =
        |name: &String| [BOOK, LOG, "P1"].contains(&name.as_str()) || is_hidden_unfinished(OsStr::new(name));
    let half_done = names.iter().all(left_over) && !has_file(&folder.join("P1"));
    if names.is_empty() || half_done { Ok(()) } else { Err(occupied()) }
}

/// Whether any take lies somewhere below `folder`.
fn has_file(folder: &Path) -> bool {
    let Ok(entries) = std::fs::read_dir(folder) else { return false };
    entries.flatten().any(|entry| {
        let name = entry.file_name();
        if entry.path().is_dir() {
            return has_file(&entry.path());
        }
        name != note::NOTE && !is_hidden_unfinished(&name)
    })
}

fn next_prototype(arguments: &NewArguments, prototype: &str, from: &str) -> Result<ExitCode, Failure> {
    let mut book = open_book(&arguments.folder)?;
    put_right(&book)?;
    let _session = recording(&book)?;
    let _lock = writing(&book)?;
    let step = book.next_prototype(prototype, from, &first_note(arguments))?;
    let begun = format!(
        "{prototype} is on the bench, with its first step {} open. {INSTRUMENT} begins with the measures of {from}: \
         write in what differs before you record.",
        step.name()
    );
    told(arguments, &step, &paragraph("", &begun))
}

fn first_note(arguments: &NewArguments) -> StepNote {
    StepNote { what: arguments.what.clone(), when: now(), ..arguments.notes.as_note() }
}

fn told(arguments: &NewArguments, step: &StepFolder, text: &str) -> Result<ExitCode, Failure> {
    if arguments.json {
        put(&format!("{}\n", opened_json(step.prototype(), step.name(), &[], &[])))?;
    } else {
        put(text)?;
    }
    Ok(ExitCode::SUCCESS)
}
