//! What is being played on: the instrument with its predictions, and the step of a book that takes go to.

use std::path::{Path, PathBuf};

use super::bench_book::{BookStep, Place, ask_note, recording, rescue};
use super::check::{room_must_be_possible, set_room};
use super::failure::Failure;
use super::output::warn;
use crate::analysis::measurement::Undertone;
use crate::book::lock::Lock;
use crate::book::note::StepNote;
use crate::instrument::file::load;
use crate::instrument::model::Instrument;
use crate::instrument::prediction::{PredictedNote, predict};
use crate::report::live::{Sounding, line};
use crate::units::cents_between;

/// A note farther than this from every fingering is none of them.
const NEAREST_WITHIN_CENTS: f64 = 100.0;

/// The instrument that sounds.
pub struct Played {
    /// Its geometry, in the room's air when that is known.
    pub instrument: Instrument,
    /// What each fingering should sound.
    pub predicted: Vec<PredictedNote>,
    /// Where takes go when no option says otherwise.
    pub takes: PathBuf,
    /// The step of a book.
    pub step: Option<Box<BookStep>>,
    /// No other program records into the book while this is held.
    _session: Option<Lock>,
}

impl Played {
    /// Opens the instrument or book at `path`. With `keeps`, takes will go into a book: its file must not have
    /// changed since the last ones, and what is not known of room, reed and player is asked.
    ///
    /// # Errors
    /// [`Failure`] for files that can't be read, a changed file, and a book that is in use.
    pub fn open(path: &Path, said: &StepNote, keeps: bool) -> Result<Played, Failure> {
        room_must_be_possible(said.room_c)?;
        let (mut instrument, takes, step, session) = match Place::of(path, None)? {
            Place::Lone(file) => (load(&file)?, file.with_file_name("takes"), None, None),
            Place::Step(mut step) => {
                let session = if keeps { Some(prepare(&mut step, said)?) } else { None };
                if let (false, Some(changed)) = (keeps, step.changed_text()) {
                    warn(&changed);
                }
                (step.instrument.clone(), step.step.takes(), Some(step), session)
            }
        };
        let room_c = said.room_c.or(step.as_ref().and_then(|step| step.note.room_c));
        set_room(&mut instrument, room_c)?;
        let predicted = predict(&instrument);
        Ok(Played { instrument, predicted, takes, step, _session: session })
    }

    /// The playable fingering that is nearest to `hz`, by prediction where there is one.
    #[must_use]
    pub fn nearest(&self, hz: f64) -> Option<usize> {
        let distance =
            |note: &PredictedNote| cents_between(hz, note.predicted_hz.unwrap_or(note.target_hz)).abs();
        self.predicted
            .iter()
            .filter(|note| {
                let fingering = self.instrument.fingerings.get(note.fingering);
                fingering.is_some_and(|fingering| self.instrument.playable(fingering))
            })
            .map(|note| (note.fingering, distance(note)))
            .filter(|(_, cents)| *cents <= NEAREST_WITHIN_CENTS)
            .min_by(|a, b| a.1.total_cmp(&b.1))
            .map(|(fingering, _)| fingering)
    }

    /// The live line for a note of `hz`, beside the fingering `index`.
    #[must_use]
    pub fn line(&self, hz: f64, index: Option<usize>, undertone: Option<&Undertone>) -> String {
        let fingering = index.and_then(|index| {
            let note = self.predicted.get(index)?;
            let name = self.instrument.fingerings.get(index)?.name.as_str();
            Some((name, note.target_hz, note.predicted_hz))
        });
        line(&Sounding { hz, fingering, undertone }, self.instrument.a4_hz)
    }
}

fn prepare(step: &mut BookStep, said: &StepNote) -> Result<Lock, Failure> {
    if let Some(changed) = step.changed_text() {
        return Err(Failure::Changed(changed));
    }
    let session = recording(&step.book)?;
    rescue(&step.book, &step.step)?;
    step.keep_note(said)?;
    // Asked once: with the first takes of a step.
    if !step.step.has_takes() {
        let answers = ask_note(&step.note);
        step.keep_note(&answers)?;
    }
    Ok(session)
}
