//! `step --found` and `step --measured`: what is said of the open step without opening the next one.

use std::process::ExitCode;

use super::bench_book::{BookStep, open_book, put_right, recording, writing};
use super::book_args::StepArguments;
use super::clock::now;
use super::conditions::parse_found;
use super::failure::Failure;
use super::output::put;
use crate::book::found::{StepFinds, holding};
use crate::book::note::StepNote;
use crate::book::remeasured::plan;
use crate::diagnosis::takes::condition::{Found, FoundNote, FoundPlace};
use crate::instrument::change::place_name;
use crate::instrument::model::Instrument;
use crate::report::step_facts as report;

/// Keeps what was found without a recording in the open step's note.
///
/// # Errors
/// [`Failure`] outside a book, for names that nothing has and words that mean nothing, and when the disk refuses.
pub fn keep_found(arguments: &StepArguments) -> Result<ExitCode, Failure> {
    let mut step = BookStep::open(open_book(&arguments.book)?, None)?;
    let mut found: Vec<String> = Vec::new();
    for written in &arguments.found {
        let find = parse_found(&step.instrument, written);
        let find = find.map_err(|what| Failure::Usage(format!("--found {what}")))?;
        found.push(spelled(&step.instrument, find));
    }
    let finds = StepFinds { found: &step.note.found, ..StepFinds::default() };
    let known: Vec<String> = holding(&[finds]).iter().map(|held| held.written()).collect();
    let new = found.iter().filter(|find| !known.contains(find)).cloned().collect();
    step.keep_note(&StepNote { found: new, ..arguments.notes.as_note() })?;
    put(&if arguments.json {
        format!("{}\n", report::found_json(step.step.prototype(), step.step.name(), &found))
    } else {
        report::found_text(&step.name(), &found)
    })?;
    Ok(ExitCode::SUCCESS)
}

/// A find with the names of the instrument file, so that it reads the same however it was typed.
fn spelled(instrument: &Instrument, found: Found) -> String {
    match found {
        Found::Place(place, what) => {
            let word =
                FoundPlace::WORDS.iter().find(|(_, known)| *known == what).map_or("", |(word, _)| word);
            format!("{}:{word}", place_name(instrument, place))
        }
        Found::Note(fingering, what) => {
            let word = FoundNote::WORDS.iter().find(|(_, known)| *known == what).map_or("", |(word, _)| word);
            let name = instrument.fingerings.get(fingering).map_or("", |fingering| fingering.name.as_str());
            format!("{name}:{word}")
        }
    }
}

/// Writes better measures into the frozen files of the open step and of those before it since the part was cut.
///
/// # Errors
/// [`Failure`] outside a book, while another program records into it, when nothing but measures may have changed or
/// nothing changed at all, and when the disk refuses.
pub fn keep_measured(arguments: &StepArguments, why: &str) -> Result<ExitCode, Failure> {
    let book = open_book(&arguments.book)?;
    put_right(&book)?;
    let _session = recording(&book)?;
    let _lock = writing(&book)?;
    let plan = plan(&book)?;
    let day = now().get(..10).unwrap_or_default().to_string();
    let kept = plan.carry_out(why, &day)?;
    put(&if arguments.json {
        format!("{}\n", report::measured_json(&plan, &kept))
    } else {
        report::measured_text(&plan, &kept)
    })?;
    Ok(ExitCode::SUCCESS)
}
