//! The command `try`: what changes would do, before cutting.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use super::args::TryArguments;
use super::bench_book::bench_file;
use super::check::set_room;
use super::failure::Failure;
use super::output::put;
use crate::instrument::advice::Warning;
use crate::instrument::change::{Target, parse};
use crate::instrument::file::load;
use crate::instrument::save::save_changed;
use crate::instrument::stand_in::stand_ins;
use crate::instrument::trial::try_changes;
use crate::report::trial as report;

/// Tries the changes, prints what they do, and saves the changed instrument when asked.
///
/// # Errors
/// [`Failure`] for an instrument file that can't be read, changes that are none, and a copy that can't be
/// written.
pub fn run(arguments: &TryArguments) -> Result<ExitCode, Failure> {
    let (path, changes) = instrument_and_changes(arguments);
    let file = bench_file(&path)?;
    let mut instrument = load(&file)?;
    set_room(&mut instrument, arguments.room)?;
    let changes: Vec<_> = changes.iter().map(|text| parse(&instrument, text)).collect::<Result<_, _>>()?;
    let mut trial = try_changes(&instrument, &changes)?;
    if let Some(copy) = &arguments.save {
        save_changed(&file, &instrument, &trial.steps, copy)?;
        if trial.steps.iter().any(|step| matches!(step.target, Target::Leak(_))) {
            trial.warnings.push(Warning {
                code: "leaks-not-saved",
                text: "Leaks are faults, not geometry: they are not in the saved file.".to_string(),
            });
        }
    }
    let saved = arguments.save.as_ref().map(|copy| copy.display().to_string());
    let stand_ins = stand_ins(&trial);
    if arguments.json {
        put(&format!("{}\n", report::json(&trial, &stand_ins, saved.as_deref())))?;
    } else {
        put(&report::text(&trial, &stand_ins, saved.as_deref()))?;
    }
    Ok(ExitCode::SUCCESS)
}

/// Inside a bench book the instrument may be left out: a first word that is a change and no file begins
/// the changes.
fn instrument_and_changes(arguments: &TryArguments) -> (PathBuf, Vec<&str>) {
    let words: Vec<&str> = arguments.words.iter().map(String::as_str).collect();
    match words.split_first() {
        Some((first, rest)) if !first.contains('=') || Path::new(first).exists() => {
            (PathBuf::from(first), rest.to_vec())
        }
        _ => (PathBuf::from("."), words),
    }
}
