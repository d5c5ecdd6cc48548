//! What is being played on: the instrument with its predictions, and the step of a book that takes go to.

use std::path::{Path, PathBuf};

use super::bench_book::{BookStep, Place, ask_note, put_right, recording};
use super::check::{room_must_be_possible, set_room};
use super::conditions::condition;
use super::failure::Failure;
use super::output::warn;
use super::test_takes::test_folder;
use crate::analysis::measurement::Undertone;
use crate::book::lock::Lock;
use crate::book::note::StepNote;
use crate::book::test::TestFolder;
use crate::instrument::file::load;
use crate::instrument::model::Instrument;
use crate::instrument::prediction::{PredictedNote, predict};
use crate::report::live::{Sounding, line};
use crate::report::test_words::in_words;
use crate::units::cents_between;

/// A note farther than this from every fingering is none of them.
const NEAREST_WITHIN_CENTS: f64 = 100.0;

/// A bench test while it is played.
pub struct PlayedTest {
    /// What is changed, in words.
    pub words: String,
    /// Where its takes go in a book.
    pub folder: Option<TestFolder>,
}

/// How it is going to be played.
pub struct Playing<'a> {
    /// What the options say of room, reed and player.
    pub said: &'a StepNote,
    /// The changes of a bench test.
    pub test: Option<&'a str>,
    /// Whether takes go into a book, where there is one.
    pub keeps: bool,
}

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
    /// The bench test that it is played for.
    pub test: Option<PlayedTest>,
    /// No other program records into the book while this is held.
    _session: Option<Lock>,
}

impl Played {
    /// Opens the instrument or book at `path`. Where takes will go into a book, its file must not have changed since
    /// the last ones, and what is not known of room, reed and player is asked.
    ///
    /// # Errors
    /// [`Failure`] for files that can't be read, changes that are none, a changed file, and a book that is in use.
    pub fn open(path: &Path, playing: &Playing<'_>) -> Result<Played, Failure> {
        let said = playing.said;
        room_must_be_possible(said.room_c)?;
        let place = Place::of(path, None)?;
        let (mut instrument, mut takes) = match &place {
            Place::Lone(file) => (load(file)?, file.with_file_name("takes")),
            Place::Step(step) => (step.instrument.clone(), step.step.takes()),
        };
        let (mut step, mut session) = (None, None);
        let condition = playing.test.map(|written| condition(&instrument, written)).transpose()?;
        match place {
            Place::Lone(_) if condition.is_some() && playing.keeps => return Err(test_without_a_folder()),
            Place::Lone(_) => {}
            Place::Step(mut book_step) => {
                if playing.keeps {
                    session = Some(prepare(&mut book_step, said)?);
                } else if let Some(changed) = book_step.changed_text() {
                    warn(&changed);
                }
                step = Some(book_step);
            }
        }
        let words = condition.as_ref().map(|condition| in_words(&instrument, &condition.written));
        let room_c = said.room_c.or(step.as_ref().and_then(|step| step.note.room_c));
        let mut sounding =
            condition.as_ref().and_then(|condition| Some(condition.changed.as_ref()?.instrument.clone()));
        set_room(&mut instrument, room_c)?;
        if let Some(sounding) = &mut sounding {
            set_room(sounding, room_c)?;
        }
        let predicted = predict(sounding.as_ref().unwrap_or(&instrument));
        let mut folder = None;
        if let (Some(step), Some(condition), true) = (&step, &condition, playing.keeps) {
            let test = test_folder(step, condition)?;
            takes = test.takes().path().to_path_buf();
            folder = Some(test);
        }
        let test = words.map(|words| PlayedTest { words, folder });
        Ok(Played { instrument, predicted, takes, step, test, _session: session })
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
    put_right(&step.book)?;
    let session = recording(&step.book)?;
    step.keep_note(said)?;
    // Asked once: with the first takes of a step.
    if !step.step.has_takes() {
        let answers = ask_note(&step.note);
        step.keep_note(&answers)?;
    }
    Ok(session)
}

/// Takes of a test must never lie among the ordinary ones.
fn test_without_a_folder() -> Failure {
    Failure::Usage(
        "--test: there is no bench book here, so say where these takes go, apart from the ordinary ones: --into pressed"
            .to_string(),
    )
}
