//! Frozen files that are written anew because something was measured better, not cut.
//!
//! The old file is kept beside the new one, and is on the disk before it. Must not know pitch.

use std::path::PathBuf;

use super::disk::write_whole;
use super::error::BookError;
use super::folder::Book;
use super::step::StepFolder;
use crate::instrument::difference::{Difference, differences};
use crate::instrument::file::{load, parse, read_text};
use crate::instrument::remeasured::Remeasured;

/// The frozen file of one step, as it is and as it should be.
#[derive(Debug)]
pub struct Rewriting {
    /// The step.
    pub step: StepFolder,
    old: String,
    new: String,
}

/// What is to be written, and why.
#[derive(Debug)]
pub struct Plan {
    /// What the file on the bench says otherwise than the open step's frozen one.
    pub changes: Vec<Difference>,
    /// The steps that are written, the earliest first.
    pub steps: Vec<Rewriting>,
}

/// Plans which frozen files get the measures that the file on the bench has now: the open step's, and that of every
/// step before it back to where the part was cut. Writes nothing.
///
/// # Errors
/// [`BookError::Refused`] when nothing changed, nothing is frozen, or more changed than measures; others when a file
/// can't be read.
pub fn plan(book: &Book) -> Result<Plan, BookError> {
    let open = book.open_step()?;
    let name = format!("{}/{}", open.prototype(), open.name());
    let refused = |what: String, to_do: &str| BookError::Refused { what, to_do: to_do.to_string() };
    if !open.is_frozen() {
        return Err(refused(
            format!("{name} keeps no measures yet, because no take is kept in it"),
            "Just write the better number into instrument.toml.",
        ));
    }
    let current = load(&book.instrument_file())?;
    let changes = differences(&load(&open.frozen_file())?, &current);
    if changes.is_empty() {
        return Err(refused(
            format!("instrument.toml says nothing different from the measures of {name}"),
            "Write the better number into instrument.toml first, then run this again. Nothing was changed.",
        ));
    }
    let frozen = read_text(&open.frozen_file())?;
    let mut remeasured = Remeasured::between(&frozen, &read_text(&book.instrument_file())?)?;
    let new = remeasured.carried_into(&frozen)?;
    let is_all = parse(&new).is_ok_and(|new| differences(&new, &current).is_empty());
    if !is_all {
        return Err(refused(
            "more has changed in instrument.toml than measures: a hole or a bend is new, gone or renamed"
                .to_string(),
            "Put that back, or open the next step: borescribe step \"what was done\". Nothing was changed.",
        ));
    }
    let mut earlier = book.steps(open.prototype());
    earlier.retain(|step| step.number() < open.number());
    let mut steps = vec![Rewriting { step: open, old: frozen, new }];
    for step in earlier.into_iter().rev().take_while(StepFolder::is_frozen) {
        let old = read_text(&step.frozen_file())?;
        remeasured.keep_those_of(&old)?;
        if remeasured.is_empty() {
            break;
        }
        let new = remeasured.carried_into(&old)?;
        steps.push(Rewriting { step, old, new });
    }
    steps.reverse();
    Ok(Plan { changes, steps })
}

impl Plan {
    /// Writes all steps, the open one last: stopped before that, the same command goes on where it stopped. The caller
    /// holds the book's lock. Where the old files are kept.
    ///
    /// # Errors
    /// [`BookError`] when the disk refuses; every frozen file is then the old one or the new one.
    pub fn carry_out(&self, why: &str, day: &str) -> Result<Vec<PathBuf>, BookError> {
        let changes: Vec<String> = self.changes.iter().map(ToString::to_string).collect();
        let why: String = why.trim().chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
        let reason = if why.is_empty() { String::new() } else { format!("{why}; ") };
        let head =
            format!("# Kept on {day}, when this was measured better: {reason}{}\n", changes.join(", "));
        self.steps.iter().map(|step| step.carry_out(&head, day)).collect()
    }
}

impl Rewriting {
    fn carry_out(&self, head: &str, day: &str) -> Result<PathBuf, BookError> {
        let named = |number: u32| {
            let more = if number == 1 { String::new() } else { format!("-{number}") };
            self.step.path().join(format!("instrument-before-{day}{more}.toml"))
        };
        let free = (1..).map(named).find(|path| path.symlink_metadata().is_err());
        let before = free.unwrap_or_else(|| named(0));
        let old = self.old.strip_prefix('\u{feff}').unwrap_or(&self.old);
        write_whole(&before, format!("{head}{old}").as_bytes())?;
        write_whole(&self.step.frozen_file(), self.new.as_bytes())?;
        Ok(before)
    }
}
