//! `--learned-from BOOK`: what the takes of a bench book teach, for the commands that use it.

use std::path::Path;

use super::bench_book::open_book;
use super::failure::Failure;
use crate::book::played::last_played;
use crate::diagnosis::beliefs::expectation::LEAST_NOTES;
use crate::diagnosis::weigh::learned::{Expectation, LearnError, Learned, PlayedBody, PlayedNote};
use crate::instrument::model::Instrument;
use crate::instrument::prediction::predict;

/// A lesson and the book that it came from, as it was typed.
pub struct Lesson<'a> {
    book: &'a Path,
    learned: Learned,
}

impl<'a> Lesson<'a> {
    /// Learns from the book at `path`, if one is named. `without` is a step that must not teach itself: its book's
    /// folder, prototype and name.
    ///
    /// # Errors
    /// [`Failure`] for a book that can't be read or teaches nothing.
    pub fn of(
        path: Option<&'a Path>,
        without: Option<(&Path, &str, &str)>,
    ) -> Result<Option<Lesson<'a>>, Failure> {
        let Some(path) = path else { return Ok(None) };
        let book = open_book(path)?;
        let is_own = |root: &Path| {
            root.canonicalize().ok().is_some_and(|root| book.root().canonicalize().ok() == Some(root))
        };
        let own_step =
            without.filter(|(root, ..)| is_own(root)).map(|(_, prototype, step)| (prototype, step));
        let step = last_played(&book, LEAST_NOTES, own_step)?;
        let step = step.ok_or_else(|| refused(path)(LearnError::NoTakes))?;
        let note = |(fingering, note): (usize, &crate::book::history::NoteHistory)| {
            Some(PlayedNote { fingering, hz: note.measured_hz?, takes: note.takes.max(1) })
        };
        let played = PlayedBody {
            source: format!("{}, {}", path.display(), step.name),
            notes: step.notes.iter().enumerate().filter_map(note).collect(),
            instrument: step.instrument,
        };
        let learned = Learned::from(&played).map_err(refused(path))?;
        Ok(Some(Lesson { book: path, learned }))
    }

    /// What was learnt.
    pub fn learned(&self) -> &Learned {
        &self.learned
    }

    /// What is expected of the notes of `instrument`.
    ///
    /// # Errors
    /// [`Failure::Learning`] when it is played in another way.
    pub fn expectation(&self, instrument: &Instrument) -> Result<Expectation, Failure> {
        self.learned.expectation(instrument, &predict(instrument)).map_err(self.refused())
    }

    /// Turns what can't be learnt into a failure that names the book.
    pub fn refused(&self) -> impl Fn(LearnError) -> Failure {
        refused(self.book)
    }
}

fn refused(book: &Path) -> impl Fn(LearnError) -> Failure {
    let book = book.to_path_buf();
    move |source| Failure::Learning { book: book.clone(), source }
}
