//! The command `new`: a bench book, or the next prototype in one.

use std::ffi::OsStr;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use super::bench_book::{BookStep, open_book, put_right, recording, writing};
use super::book_args::NewArguments;
use super::check::{instrument_file, room_must_be_possible};
use super::clock::now;
use super::failure::Failure;
use super::output::put;
use crate::book::disk::is_hidden_unfinished;
use crate::book::error::BookError;
use crate::book::folder::{Book, INSTRUMENT};
use crate::book::log::LOG;
use crate::book::note::{self, StepNote};
use crate::book::prototype::{Beginning, Begun};
use crate::book::step::StepFolder;
use crate::book::version::BOOK;
use crate::instrument::difference::Difference;
use crate::instrument::drilling::planned_from_the_end;
use crate::instrument::file::{load, prototype_of, read_text};
use crate::instrument::model::Instrument;
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
    let planned = arguments.plan.as_deref().map(Planned::read).transpose()?;
    let prototype = planned.as_ref().and_then(|planned| prototype_of(&planned.text));
    must_be_free(folder, prototype.as_deref().unwrap_or("P1"))?;
    std::fs::create_dir_all(folder)
        .map_err(|source| BookError::Disk { path: folder.to_path_buf(), source })?;
    let name =
        folder.file_name().map_or_else(|| "My instrument".to_string(), |n| n.to_string_lossy().into_owned());
    let text = planned.as_ref().map_or_else(|| plain_tube(&name), |planned| planned.text.clone());
    let (book, step) = Book::create(folder, &text, &first_note(arguments))?;
    // A `new` that was stopped may have begun the same files.
    put_right(&book)?;
    if let Some(planned) = planned {
        let made = format!(
            "Made the bench book {}, with its first step {}/{} open. Its {INSTRUMENT} is {}. {} {SAW} Inside the book:",
            visible_path(folder),
            step.prototype(),
            step.name(),
            visible_path(&planned.path),
            holes(&planned.instrument)
        );
        return told(arguments, &step, &[], &(paragraph("", &made) + &then_drill(&planned.instrument)));
    }
    let made = format!(
        "Made the bench book {}, with its first step {}/{} open. Open its {INSTRUMENT} in a text editor. Every line \
         marked EXAMPLE wants a measurement of yours; delete the mark once the number is real. Then, inside the book:",
        visible_path(folder),
        step.prototype(),
        step.name()
    );
    let text = format!("{}{THEN}", paragraph("", &made));
    told(arguments, &step, &[], &text)
}

/// What comes after the measuring.
const THEN: &str = "  borescribe predict                    what the tube should sound
  borescribe record                     each fingering, into the open step
  borescribe check                      what is off, why, and what to do next
  borescribe step \"what was changed\"    after each change at the bench
";

/// What is done before the first hole.
const SAW: &str =
    "Saw the tube 10 to 20 mm too long, measure it, and write its length and bore into the file.";

/// What comes after that, with the holes to drill first.
fn then_drill(instrument: &Instrument) -> String {
    let lowest: Vec<&str> = planned_from_the_end(instrument).into_iter().take(2).collect();
    if lowest.is_empty() {
        return THEN.to_string();
    }
    let step = format!("borescribe step --drilled {}", lowest.join(","));
    format!(
        "  borescribe predict                    what the tube should sound as it is
  borescribe record                     every note that the tube has without its holes
  borescribe check                      whether it is as the file says, before anything is drilled
  {step:<38}after drilling; with the measured width: {}=8.4
",
        lowest[0]
    )
}

/// A planned instrument file.
struct Planned {
    path: PathBuf,
    text: String,
    instrument: Instrument,
}

impl Planned {
    fn read(path: &Path) -> Result<Planned, Failure> {
        let path = instrument_file(path);
        let instrument = load(&path)?;
        Ok(Planned { text: read_text(&path)?, path, instrument })
    }
}

/// How many holes are only planned, and which are there.
fn holes(instrument: &Instrument) -> String {
    let planned = planned_from_the_end(instrument).len();
    let drilled: Vec<&str> =
        instrument.holes.iter().filter(|hole| hole.drilled).map(|hole| hole.name.as_str()).collect();
    let of_planned = match planned {
        0 => "No hole is planned".to_string(),
        1 => "One hole is planned".to_string(),
        more => format!("{more} holes are planned"),
    };
    if drilled.is_empty() {
        format!("{of_planned}, none is drilled: it is a bare tube.")
    } else {
        format!("{of_planned}; drilled, as the plan says: {}.", drilled.join(", "))
    }
}

/// A folder that is empty but for what an interrupted `new` left may be used.
fn must_be_free(folder: &Path, prototype: &str) -> Result<(), Failure> {
    let occupied = || Failure::Occupied { path: folder.to_path_buf() };
    if !folder.exists() {
        return Ok(());
    }
    let entries = std::fs::read_dir(folder).map_err(|_| occupied())?;
    let names: Vec<String> =
        entries.flatten().map(|entry| entry.file_name().to_string_lossy().into_owned()).collect();
    let left_over = |name: &String| {
        [BOOK, LOG, prototype].contains(&name.as_str()) || is_hidden_unfinished(OsStr::new(name))
    };
    let half_done = names.iter().all(left_over) && !has_file(&folder.join(prototype));
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
    let planned = arguments.plan.as_deref().map(Planned::read).transpose()?;
    let mut book = open_book(&arguments.folder)?;
    put_right(&book)?;
    let _session = recording(&book)?;
    let _lock = writing(&book)?;
    let beginning = match planned {
        Some(planned) => Beginning::Plan(planned.text),
        None if arguments.bare => Beginning::Bare,
        None => Beginning::Measures,
    };
    if beginning != Beginning::Measures {
        keep_the_bench(&book)?;
    }
    let begun = book.next_prototype(prototype, from, &beginning, &first_note(arguments))?;
    let step = &begun.step;
    // A file with example marks is begun with too.
    let body = load(&book.instrument_file()).ok();
    let text = match (&beginning, &body) {
        (Beginning::Measures, _) => as_measured(step, from, body.as_ref()),
        (_, Some(body)) => bare(&book, &begun, from, body) + &then_drill(body),
        (_, None) => bare_unmeasured(step),
    };
    told(arguments, step, &begun.resized, &text)
}

/// What is said when a prototype begins with the measures of the last.
fn as_measured(step: &StepFolder, from: &str, body: Option<&Instrument>) -> String {
    let prototype = step.prototype();
    let begun = format!(
        "{prototype} is on the bench, with its first step {} open. {INSTRUMENT} begins with the measures of {from}: \
         write in what differs before you record.",
        step.name()
    );
    let drilled = body.map_or(0, |body| body.holes.iter().filter(|hole| hole.drilled).count());
    let begun = paragraph("", &begun);
    if drilled == 0 {
        return begun;
    }
    format!(
        "{begun}Its holes count as drilled. Is {prototype} a bare tube yet? Then:\n  \
         borescribe new . --prototype {prototype} --from {from} --bare\n"
    )
}

/// What is said when a prototype begins as a bare tube.
fn bare(book: &Book, begun: &Begun, from: &str, body: &Instrument) -> String {
    let kept = book.steps(from).into_iter().rev().find(StepFolder::is_frozen);
    let old = kept.map_or_else(String::new, |kept| {
        format!(" What {from} measured stays in {from}/{}/{INSTRUMENT}.", kept.name())
    });
    let Begun { step, resized } = begun;
    let told = format!(
        "{} is on the bench, with its first step {} open. {}{old}{} {SAW}",
        step.prototype(),
        step.name(),
        holes(body),
        planned_to_make(resized)
    );
    paragraph("", &told)
}

/// Which widths are no longer those that were measured.
fn planned_to_make(resized: &[Difference]) -> String {
    if resized.is_empty() {
        return String::new();
    }
    let sizes: Vec<String> = resized.iter().map(ToString::to_string).collect();
    format!(" Planned in sizes that you can make: {}.", sizes.join(", "))
}

/// The same while there is more to measure than the holes.
fn bare_unmeasured(step: &StepFolder) -> String {
    let begun = format!(
        "{} is on the bench as a bare tube, with its first step {} open. Look through {INSTRUMENT} for what is still to \
         be measured.",
        step.prototype(),
        step.name()
    );
    paragraph("", &begun)
}

/// Another file is about to take the place of the one on the bench: what that says must be kept with its step.
fn keep_the_bench(book: &Book) -> Result<(), Failure> {
    let Ok(open) = book.open_step() else { return Ok(()) };
    if !open.is_frozen() {
        return Ok(());
    }
    load(&book.instrument_file())?;
    let step = BookStep::open(book.clone(), None)?;
    match step.changed_text() {
        Some(changed) => Err(Failure::Changed(changed)),
        None => Ok(book.freeze(&open)?),
    }
}

fn first_note(arguments: &NewArguments) -> StepNote {
    StepNote { what: arguments.what.clone(), when: now(), ..arguments.notes.as_note() }
}

fn told(
    arguments: &NewArguments,
    step: &StepFolder,
    changes: &[Difference],
    text: &str,
) -> Result<ExitCode, Failure> {
    if arguments.json {
        put(&format!("{}\n", opened_json(step.prototype(), step.name(), changes, &[])))?;
    } else {
        put(text)?;
    }
    Ok(ExitCode::SUCCESS)
}
