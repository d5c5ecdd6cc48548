//! The command `step`: opens the next bench step.

use std::process::ExitCode;

use serde_json::json;

use super::bench_book::{ask_note, open_book, put_right, recording, writing};
use super::book_args::StepArguments;
use super::check::room_must_be_possible;
use super::clock::now;
use super::failure::Failure;
use super::output::put;
use super::step_facts::{keep_found, keep_measured};
use super::step_work::Work;
use crate::book::folder::Book;
use crate::book::note::{self, StepNote};
use crate::book::step::StepFolder;
use crate::instrument::change::{place_called, place_name, place_names};
use crate::instrument::difference::{Difference, differences};
use crate::instrument::file::load;
use crate::instrument::model::Instrument;
use crate::instrument::prediction::predict;
use crate::instrument::problem::{FileError, Problem};
use crate::instrument::sanity::{self, Question};
use crate::report::history::opened_json;
use crate::report::layout::{hanging, paragraph};
use crate::report::questions;

/// Freezes the open step's geometry, writes what was said to be done, shows what changed since, and opens the next step.
///
/// # Errors
/// [`Failure`] outside a book, while another program records into it, for an instrument file that is wrong by
/// more than example marks, and when the disk refuses.
pub fn run(arguments: &StepArguments) -> Result<ExitCode, Failure> {
    room_must_be_possible(arguments.notes.room)?;
    if !arguments.found.is_empty() {
        return keep_found(arguments);
    }
    if let Some(why) = &arguments.measured {
        return keep_measured(arguments, why.as_deref().unwrap_or_default());
    }
    let what = arguments.what.as_deref().map(str::trim).filter(|what| !what.is_empty());
    let says_what_is_done =
        arguments.plan.is_some() || arguments.mouthpiece_out.is_some() || !arguments.drilled.is_empty();
    if what.is_none() && !says_what_is_done {
        let to_do = "say what was changed: borescribe step \"h2 opened to 9 mm\"";
        return Err(Failure::Usage(to_do.to_string()));
    }
    let book = open_book(&arguments.book)?;
    put_right(&book)?;
    let _session = recording(&book)?;
    let old = book.open_step()?;
    let work = if says_what_is_done { Some(Work::said(arguments, &book)?) } else { None };
    let what = what.or(work.as_ref().map(|work| work.what.as_str())).unwrap_or_default();
    let (changes, to_measure) = compare(&book, &old, work.as_ref())?;
    let note = StepNote { touched: touched(&book, &arguments.touched)?, ..note(arguments, what, &old)? };
    let step = {
        let _lock = writing(&book)?;
        match &work {
            Some(work) => book.next_step_with(&note, &work.text)?,
            None => book.next_step(&note)?,
        }
    };
    let asked = asked(&book);
    if arguments.json {
        let mut told = opened_json(step.prototype(), step.name(), &changes, &to_measure);
        told["questions"] =
            json!(asked.as_ref().map_or_else(Vec::new, |(body, all)| questions::json(body, all)));
        put(&format!("{told}\n"))?;
    } else {
        let remarks = work.map_or_else(Vec::new, |work| work.remarks);
        let asked = asked.as_ref().map_or_else(String::new, |(body, all)| questions::text(body, all));
        put(&(asked + &text(&old, &step, &changes, &to_measure, &remarks)))?;
    }
    Ok(ExitCode::SUCCESS)
}

/// What the file says differently from the open step's frozen geometry, and the example numbers left in it.
fn compare(
    book: &Book,
    old: &StepFolder,
    work: Option<&Work>,
) -> Result<(Vec<Difference>, Vec<Problem>), Failure> {
    if let Some(work) = work {
        let before = if old.is_frozen() { old.frozen_file() } else { book.instrument_file() };
        return Ok((differences(&load(&before)?, &work.instrument), Vec::new()));
    }
    let current = match load(&book.instrument_file()) {
        Ok(current) => current,
        Err(FileError::Wrong { problems, path }) => {
            let error = FileError::Wrong { problems: problems.clone(), path };
            return if error.is_only_examples() { Ok((Vec::new(), problems)) } else { Err(error.into()) };
        }
        Err(error) => return Err(error.into()),
    };
    if !old.is_frozen() {
        return Ok((Vec::new(), Vec::new()));
    }
    match load(&old.frozen_file()) {
        Ok(frozen) => Ok((differences(&frozen, &current), Vec::new())),
        // Example numbers were no geometry, so nothing can be held against them.
        Err(error) if error.is_only_examples() => Ok((Vec::new(), Vec::new())),
        Err(error) => Err(error.into()),
    }
}

/// What is to be asked of the measures on the bench; `None` while some of them are still examples.
fn asked(book: &Book) -> Option<(Instrument, Vec<Question>)> {
    let instrument = load(&book.instrument_file()).ok()?;
    let questions = sanity::questions(&instrument, &predict(&instrument));
    Some((instrument, questions))
}

/// The places that were touched, with the names that the file on the bench has for them.
fn touched(book: &Book, names: &[String]) -> Result<Vec<String>, Failure> {
    if names.is_empty() {
        return Ok(Vec::new());
    }
    let instrument = load(&book.instrument_file())?;
    let named = |name: &String| match place_called(&instrument, name.trim()) {
        Some(place) => Ok(place_name(&instrument, place).to_string()),
        None => {
            let known = place_names(&instrument).join(", ");
            Err(Failure::Usage(format!(
                "--touched {name}: nothing that could leak is called that. What could: {known}"
            )))
        }
    };
    names.iter().map(named).collect()
}

/// Reed and player stay from step to step; the room does not.
fn note(arguments: &StepArguments, what: &str, old: &StepFolder) -> Result<StepNote, Failure> {
    let before = note::read(old.path())?;
    let said = arguments.notes.as_note();
    let carried = StepNote {
        what: what.to_string(),
        when: now(),
        reed: before.reed,
        player: before.player,
        ..StepNote::default()
    }
    .overlaid(&said);
    Ok(carried.overlaid(&ask_note(&carried)))
}

fn text(
    old: &StepFolder,
    step: &StepFolder,
    changes: &[Difference],
    to_measure: &[Problem],
    remarks: &[String],
) -> String {
    let mut out = format!("{}/{} is open.\n", step.prototype(), step.name());
    if !to_measure.is_empty() {
        out.push_str("Still to measure in instrument.toml, before anything can be predicted or checked:\n");
        for problem in to_measure {
            let number = problem.source_line.split('#').next().unwrap_or_default().trim();
            out.push_str(&hanging(&format!("  line {}: {number}. ", problem.line), &problem.to_do, 4));
        }
    } else if changes.is_empty() {
        out.push_str(&format!(
            "instrument.toml says nothing different from {}. If you cut or filled something, write the new\n\
             measures into it before you record.\n",
            old.name()
        ));
    } else {
        out.push_str(&format!("Changed since {}:\n", old.name()));
        changes.iter().for_each(|change| out.push_str(&format!("  {change}\n")));
    }
    remarks.iter().for_each(|remark| out.push_str(&paragraph("", remark)));
    out.push_str("Then: borescribe record\n");
    out
}
