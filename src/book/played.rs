//! The last step of a book that was played through: its geometry and what each note measured, for whoever learns from it.
//!
//! Nothing is concluded here. Must not know causes or how it is printed.

use super::error::BookError;
use super::folder::Book;
use super::history::{NoteHistory, body, latest_rows, step_notes};
use super::log::Row;
use super::note;
use super::step::StepFolder;
use crate::instrument::model::Instrument;

/// A step as it was played.
#[derive(Debug, Clone)]
pub struct PlayedStep {
    /// `P2/01-drilled`.
    pub name: String,
    /// The geometry as it was, in the air of the step's room when that is known.
    pub instrument: Instrument,
    /// Fingerings, in the file's order.
    pub notes: Vec<NoteHistory>,
}

impl PlayedStep {
    /// How many notes were measured.
    #[must_use]
    pub fn measured(&self) -> usize {
        self.notes.iter().filter(|note| note.measured_hz.is_some()).count()
    }
}

/// The last step of the newest prototype with at least `enough` measured notes; when there is none, the step with most.
/// `None` when nothing was measured at all. `without` names a step, by prototype and folder, that does not count.
///
/// # Errors
/// [`BookError`] when the log, a note or a step's geometry can't be read.
pub fn last_played(
    book: &Book,
    enough: usize,
    without: Option<(&str, &str)>,
) -> Result<Option<PlayedStep>, BookError> {
    let rows = book.log().read()?.rows;
    let mut most: Option<PlayedStep> = None;
    for prototype in book.prototypes().iter().rev() {
        for folder in book.steps(prototype).iter().rev() {
            if without == Some((folder.prototype(), folder.name())) {
                continue;
            }
            let own = latest_rows(&rows, folder);
            if own.is_empty() {
                continue;
            }
            let played = played(book, folder, &own)?;
            if played.measured() >= enough {
                return Ok(Some(played));
            }
            if played.measured() > most.as_ref().map_or(0, PlayedStep::measured) {
                most = Some(played);
            }
        }
    }
    Ok(most)
}

fn played(book: &Book, folder: &StepFolder, rows: &[&Row]) -> Result<PlayedStep, BookError> {
    let body = body(book, folder, &note::read(folder.path())?)?;
    Ok(PlayedStep {
        name: format!("{}/{}", folder.prototype(), folder.name()),
        notes: step_notes(&body, rows),
        instrument: body.instrument,
    })
}
