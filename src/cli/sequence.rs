//! Takes whose fingerings are proposed from pitch and order: one long recording, or files with names
//! that say nothing. What was proposed is shown, and `--notes` corrects it.

use std::path::{Path, PathBuf};

use rayon::prelude::*;

use super::args::CheckArguments;
use super::failure::Failure;
use super::order::{files_in_order, is_room};
use super::recording::{self, ManyNotes};
use super::take_sheets::TakePlace;
use super::takes::{heard_room, unreadable};
use crate::analysis::measure::Settings;
use crate::analysis::measurement::{Measurement, TroubleCode};
use crate::diagnosis::takes::alignment::{Alignment, Heard, align, as_said};
use crate::diagnosis::takes::evidence::FiledTake;
use crate::instrument::model::Instrument;
use crate::instrument::prediction::PredictedNote;
use crate::instrument::take_names::{TakeOf, take_of};
use crate::report::alignment::{SKIP, Source, clock};
use crate::report::layout::{visible, visible_path};

/// Farther off than this the ear is asked again with the fingering's prediction in mind, cents: it then
/// chooses among what the sound itself offers.
const ASK_AGAIN_CENTS: f64 = 250.0;

/// Heard notes and what they are taken as.
pub struct Sequence {
    /// What each note is taken as.
    pub alignment: Alignment,
    /// Where each comes from.
    pub sources: Vec<Source>,
    /// Those that are taken as a fingering.
    pub takes: Vec<FiledTake>,
    /// Where each of these lies.
    pub places: Vec<TakePlace>,
    /// What the maker should know of the recording as a whole.
    pub warnings: Vec<String>,
    /// Files that can't be read, as sentences.
    pub unreadable: Vec<String>,
}

/// The long recording or the files in order that were given; `None` when neither was.
///
/// # Errors
/// [`Failure`] for a long recording that can't be read or holds no note, files that are not there, and
/// `--notes` that don't fit.
pub fn heard(
    instrument: &Instrument,
    predicted: &[PredictedNote],
    arguments: &CheckArguments,
) -> Result<Option<Sequence>, Failure> {
    let notes = arguments.notes.as_deref();
    if instrument.fingerings.is_empty() && (arguments.one_take.is_some() || !arguments.in_order.is_empty()) {
        return Err(Failure::Usage(
            "the instrument file has no fingerings yet. Add a [[fingering]] with its name and open holes."
                .to_string(),
        ));
    }
    match &arguments.one_take {
        Some(path) => one_take(instrument, predicted, path, notes).map(Some),
        None if arguments.in_order.is_empty() => Ok(None),
        None => in_order(instrument, predicted, &arguments.in_order, notes).map(Some),
    }
}

fn file_name(path: &Path) -> String {
    path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned()
}

fn one_take(
    instrument: &Instrument,
    predicted: &[PredictedNote],
    path: &Path,
    notes: Option<&str>,
) -> Result<Sequence, Failure> {
    let failure = |source| Failure::Recording { path: path.to_path_buf(), source };
    let recording = ManyNotes::open(path).map_err(failure)?;
    let file = file_name(path);
    let sounds: Vec<Sound> = recording
        .split
        .stretches
        .iter()
        .map(|stretch| Sound {
            label: format!("{file} at {}", clock(stretch.from_s)),
            file: file.clone(),
            path: path.to_path_buf(),
            span_s: Some((stretch.from_s, stretch.to_s)),
            seen_s: Some((stretch.seen_from_s, stretch.seen_to_s)),
        })
        .collect();
    let measured = |chosen: &[Asked]| recording.measured(chosen).map_err(failure);
    let sequence = sequence(instrument, predicted, &sounds, &measured, notes)?;
    if sequence.sources.iter().all(|source| source.hz.is_none()) {
        return Err(Failure::NoNotes { path: path.to_path_buf(), seconds: recording.seconds });
    }
    // Told once of the whole, not of each note.
    let warnings = recording.damage.iter().map(|damage| format!("{}: {damage}", visible(&file))).collect();
    Ok(Sequence { warnings, ..sequence })
}

fn in_order(
    instrument: &Instrument,
    predicted: &[PredictedNote],
    paths: &[PathBuf],
    notes: Option<&str>,
) -> Result<Sequence, Failure> {
    let (files, mut warnings) = files_in_order(paths)?;
    let (rooms, files): (Vec<PathBuf>, Vec<PathBuf>) = files.into_iter().partition(|path| is_room(path));
    if let Some(named) = rooms.iter().find(|room| paths.contains(room)) {
        recording::room_sound(named).map_err(|source| Failure::Recording { path: named.clone(), source })?;
    }
    let room = heard_room(&rooms, &mut warnings);
    let sounds: Vec<Sound> = files
        .iter()
        .map(|path| Sound {
            label: file_name(path),
            file: file_name(path),
            path: path.to_path_buf(),
            span_s: None,
            seen_s: None,
        })
        .collect();
    // A file is read again when it is asked again: that is rare, and all of them would fill the memory.
    let measured_one = |(index, expect_hz): &Asked| {
        let settings = Settings { expect_hz: *expect_hz, ..Settings::default() };
        let Some(path) = files.get(*index) else { return Measurement::default() };
        recording::measured(path, &settings, room.as_ref())
            .unwrap_or_else(|error| unreadable(format!("{}: {error}.", visible_path(path))))
    };
    let measured = |chosen: &[Asked]| Ok(chosen.par_iter().map(measured_one).collect());
    let sequence = sequence(instrument, predicted, &sounds, &measured, notes)?;
    Ok(Sequence { warnings, ..sequence })
}

/// One thing that sounds.
struct Sound {
    /// What it is called in the report.
    label: String,
    file: String,
    path: PathBuf,
    span_s: Option<(f64, f64)>,
    /// With the silence around it.
    seen_s: Option<(f64, f64)>,
}

impl Sound {
    fn heard(&self, measurement: &Measurement) -> Heard {
        let lasts = |(from, to): (f64, f64)| to - from;
        let seconds = self.span_s.or(measurement.steady_s).map_or(0.0, lasts);
        Heard { hz: measurement.pitch_hz, seconds, meant: self.span_s.is_none() }
    }
}

/// Which sound is to be measured, and the pitch to expect there, hertz.
type Asked = (usize, Option<f64>);
/// Measures what is asked, in that order.
type Measuring<'a> = dyn Fn(&[Asked]) -> Result<Vec<Measurement>, Failure> + 'a;

/// Measures all blindly, lays them along the fingerings, and asks the ear again where a note lies an
/// octave or a twelfth off what it is taken as.
fn sequence(
    instrument: &Instrument,
    predicted: &[PredictedNote],
    sounds: &[Sound],
    measured: &Measuring,
    notes: Option<&str>,
) -> Result<Sequence, Failure> {
    let all: Vec<Asked> = (0..sounds.len()).map(|index| (index, None)).collect();
    let mut measurements = measured(&all)?;
    let said = notes.map(|notes| said(instrument, notes, sounds.len())).transpose()?;
    let lay = |measurements: &[Measurement]| {
        let heard: Vec<Heard> =
            sounds.iter().zip(measurements).map(|(sound, measured)| sound.heard(measured)).collect();
        match &said {
            Some(said) => as_said(instrument, predicted, &heard, said),
            None => align(instrument, predicted, &heard),
        }
    };
    let mut alignment = lay(&measurements);
    let again: Vec<Asked> = alignment
        .notes
        .iter()
        .enumerate()
        .filter(|(_, note)| note.cents_from_predicted.is_some_and(|cents| cents.abs() > ASK_AGAIN_CENTS))
        .filter_map(|(index, note)| {
            let expect_hz = note.fingering.and_then(|f| predicted.get(f))?.predicted_hz?;
            Some((index, Some(expect_hz)))
        })
        .collect();
    if !again.is_empty() {
        for ((index, _), asked_again) in again.iter().zip(measured(&again)?) {
            if let Some(slot) = measurements.get_mut(*index) {
                *slot = asked_again;
            }
        }
        alignment = lay(&measurements);
    }
    let sources = sounds
        .iter()
        .zip(&measurements)
        .map(|(sound, measured)| Source {
            file: sound.file.clone(),
            span_s: sound.span_s,
            hz: measured.pitch_hz,
        })
        .collect();
    let unreadable = measurements
        .iter()
        .flat_map(|measured| &measured.troubles)
        .filter(|trouble| trouble.code == TroubleCode::Unreadable)
        .map(|trouble| trouble.text.clone())
        .collect();
    let taken = alignment.notes.iter().zip(sounds).filter(|(note, _)| note.fingering.is_some());
    let places =
        taken.map(|(_, sound)| TakePlace { path: sound.path.clone(), span_s: sound.seen_s }).collect();
    let takes = alignment
        .notes
        .iter()
        .zip(sounds)
        .zip(measurements)
        .filter_map(|((note, sound), measurement)| {
            Some(FiledTake {
                file: sound.label.clone(),
                fingering: note.fingering?,
                measurement,
                condition: 0,
                evening: 0,
            })
        })
        .collect();
    Ok(Sequence { alignment, sources, takes, places, warnings: Vec::new(), unreadable })
}

/// What the maker says each note is: names separated by commas, or by spaces when no name needs them.
fn said(instrument: &Instrument, notes: &str, count: usize) -> Result<Vec<Option<usize>>, Failure> {
    let words: Vec<&str> = if notes.contains(',') {
        notes.split(',').map(str::trim).filter(|word| !word.is_empty()).collect()
    } else {
        notes.split_whitespace().collect()
    };
    if words.len() != count {
        return Err(Failure::Usage(format!(
            "--notes names {} notes, but {count} are heard. Give one name for each, in their order, and {SKIP} for \
             one to leave out. Without --notes the list of what is heard is shown.",
            words.len()
        )));
    }
    words
        .into_iter()
        .map(|word| match take_of(word, &instrument.fingerings) {
            TakeOf::Fingering(fingering) => Ok(Some(fingering)),
            TakeOf::Room | TakeOf::Unknown if word.eq_ignore_ascii_case(SKIP) || word == "-" => Ok(None),
            TakeOf::Room | TakeOf::Unknown => {
                let names: Vec<&str> =
                    instrument.fingerings.iter().map(|fingering| fingering.name.as_str()).collect();
                Err(Failure::Usage(format!(
                    "--notes: no fingering is called {word}. The file has: {}. {SKIP} leaves a note out.",
                    names.join(", ")
                )))
            }
        })
        .collect()
}
