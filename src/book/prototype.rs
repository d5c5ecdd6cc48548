//! Begins the next prototype in a bench book: with the measures of an earlier one, as a bare tube, or with a plan.
//!
//! Must not know what was measured.

use super::disk::write_whole;
use super::error::BookError;
use super::folder::{Book, INSTRUMENT, build, must_name_a_prototype};
use super::names::step_name;
use super::note::StepNote;
use super::step::StepFolder;
use super::version::write_version;
use crate::instrument::difference::Difference;
use crate::instrument::drilling::{BareTube, bare_tube};
use crate::instrument::file::{prototype_of, read_text};
use crate::instrument::save::with_prototype;

/// What a new prototype begins with.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Beginning {
    /// The measures of the prototype that it is made from, its holes as they are.
    Measures,
    /// The same, with every hole only planned.
    Bare,
    /// The text of another instrument file, with every hole only planned.
    Plan(String),
}

/// A prototype that was begun.
#[derive(Debug, Clone)]
pub struct Begun {
    /// Its first step.
    pub step: StepFolder,
    /// Widths that were measured and are planned in a size that can be made.
    pub resized: Vec<Difference>,
}

impl Book {
    /// Begins the next prototype, with what the step that `from` ended with had or with a plan. One that was begun just
    /// now, with nothing kept in it yet, may be begun again as a bare tube. The caller holds the book's locks.
    ///
    /// # Errors
    /// [`BookError`] when the name is taken, `from` is unknown, or something can't be written; then the old
    /// prototype is still on the bench.
    pub fn next_prototype(
        &mut self,
        name: &str,
        from: &str,
        beginning: &Beginning,
        note: &StepNote,
    ) -> Result<Begun, BookError> {
        let refuse = |what: String, to_do: &str| Err(BookError::Refused { what, to_do: to_do.to_string() });
        must_name_a_prototype(name)?;
        let current = self.instrument_text()?;
        let begun = self.steps(name);
        let was_left_half_done =
            begun.len() == 1 && !begun.iter().any(|step| step.is_frozen() || step.has_takes());
        let is_on_bench = prototype_of(&current).as_deref() == Some(name);
        let begins_bare = *beginning == Beginning::Bare && from != name;
        if !begun.is_empty() && (!was_left_half_done || (is_on_bench && !begins_bare)) {
            return refuse(
                format!("the book has a prototype {name} already"),
                "Choose another name. Nothing was changed.",
            );
        }
        let Some(last) = self.steps(from).pop() else {
            let known = self.prototypes.join(", ");
            return refuse(format!("the book has no prototype {from}"), &format!("It has: {known}."));
        };
        let has_a_plan = matches!(beginning, Beginning::Plan(_));
        if has_a_plan && is_on_bench {
            return refuse(
                format!("{INSTRUMENT} names {name} already, and its measures are kept nowhere else"),
                "Leave --plan out, or write the old prototype's name and measures back. Nothing was changed.",
            );
        }
        // What stands on the bench now is read from its own step later.
        if let Ok(open) = self.open_step()
            && open.prototype() != name
            && !open.is_frozen()
        {
            self.freeze(&open)?;
        }
        let source = match prototype_of(&current) {
            // Somebody wrote the new prototype's measures already.
            Some(named) if named == name || named == from => self.instrument_file(),
            _ => {
                let frozen = self.steps(from).into_iter().rev().find(|step| step.is_frozen());
                frozen.unwrap_or(last).frozen_file()
            }
        };
        let BareTube { text, resized } = match beginning {
            Beginning::Measures => BareTube { text: read_text(&source)?, resized: Vec::new() },
            Beginning::Bare => bare_tube(&read_text(&source)?)?,
            Beginning::Plan(text) => bare_tube(text)?,
        };
        let text = with_prototype(&text, name)?;
        let step = begun
            .into_iter()
            .next()
            .unwrap_or_else(|| StepFolder::named(&self.root, name, &step_name(1, &note.what)));
        build(&step, note)?;
        if !self.prototypes.iter().any(|known| known == name) {
            self.prototypes.push(name.to_string());
        }
        write_version(&self.root, &self.prototypes)?;
        // Last: what the file names is on the bench.
        write_whole(&self.instrument_file(), text.as_bytes())?;
        Ok(Begun { step, resized })
    }
}
