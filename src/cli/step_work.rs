//! What `step` writes into the instrument file itself: a plan taken over, a mouthpiece pulled out, holes drilled.

use super::book_args::StepArguments;
use super::check::instrument_file;
use super::failure::Failure;
use crate::book::folder::Book;
use crate::instrument::alter::Altered;
use crate::instrument::change::{Change, Operation, Target};
use crate::instrument::drilling::{
    drilled_text, planned_from_the_end, read_drilled, replanned_text, same_holes, taken_as_planned,
};
use crate::instrument::file::{load, parse, read_text};
use crate::instrument::model::Instrument;
use crate::instrument::problem::FileError;
use crate::instrument::save::changed_text;

/// Work that was said to be done.
pub(super) struct Work {
    /// The instrument file with it.
    pub(super) text: String,
    /// The same, read.
    pub(super) instrument: Instrument,
    /// What was done, in words.
    pub(super) what: String,
    /// What the maker should know about it.
    pub(super) remarks: Vec<String>,
}

impl Work {
    /// What the options say, in the order in which it is done: plan, mouthpiece, drill. Nothing is written.
    ///
    /// # Errors
    /// [`Failure`] for a file that can't be read, and for work that can't be.
    pub(super) fn said(arguments: &StepArguments, book: &Book) -> Result<Work, Failure> {
        let file = book.instrument_file();
        let before = read_text(&file)?;
        let mut work =
            Work { text: before.clone(), instrument: load(&file)?, what: String::new(), remarks: Vec::new() };
        if let Some(plan) = &arguments.plan {
            let plan = load(&instrument_file(plan))?;
            same_holes(&work.instrument, &plan)?;
            let text = replanned_text(&work.text, &work.instrument, &plan)?;
            work.done(book, text, "holes planned")?;
        }
        if let Some(mm) = arguments.mouthpiece_out {
            work.pull(book, mm)?;
        }
        if !arguments.drilled.is_empty() {
            let drilled = read_drilled(&work.instrument, &arguments.drilled)?;
            let text = drilled_text(&work.text, &drilled)?;
            let names: Vec<&str> =
                drilled.iter().map(|one| work.instrument.holes[one.hole].name.as_str()).collect();
            let what = format!("{} drilled", names.join(", "));
            work.done(book, text, &what)?;
            work.remarks.extend(taken_as_planned(&work.instrument, &drilled));
        }
        if work.text == before {
            let what = "nothing changes: the file on the bench has the holes where the plan has them. No step was opened";
            return Err(Failure::Usage(what.to_string()));
        }
        Ok(work)
    }

    fn pull(&mut self, book: &Book, mm: f64) -> Result<(), Failure> {
        if mm == 0.0 {
            let to_do = "--mouthpiece-out 0 moves nothing. Write how far it was pulled out, in mm; less than 0: pushed in";
            return Err(Failure::Usage(to_do.to_string()));
        }
        let change = Change {
            written: format!("--mouthpiece-out {mm}"),
            target: Target::MouthpieceOut,
            operation: Operation::Set(mm),
        };
        let step = Altered::unchanged(&self.instrument).settle(&change)?;
        let text = changed_text(&self.text, &self.instrument, &[step])?;
        let way = if mm > 0.0 { "pulled out" } else { "pushed in" };
        self.done(book, text, &format!("mouthpiece {way} {} mm", mm.abs()))?;
        if !planned_from_the_end(&self.instrument).is_empty() {
            self.remarks.push(
                "The holes that are only planned moved along, as if they were marked on the tube already. If they are \
                 not, place them again: borescribe place"
                    .to_string(),
            );
        }
        Ok(())
    }

    fn done(&mut self, book: &Book, text: String, what: &str) -> Result<(), Failure> {
        self.instrument =
            parse(&text).map_err(|problems| FileError::Wrong { problems, path: book.instrument_file() })?;
        self.text = text;
        self.what = if self.what.is_empty() { what.to_string() } else { format!("{}, {what}", self.what) };
        Ok(())
    }
}
