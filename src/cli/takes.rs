//! From files and folders on the command line to measured takes of fingerings.

use std::path::{Path, PathBuf};

use rayon::prelude::*;

use super::failure::Failure;
use super::recording;
use crate::analysis::measure::Settings;
use crate::analysis::measurement::{Measurement, Trouble, TroubleCode};
use crate::analysis::room::RoomSound;
use crate::audio::decode::AudioError;
use crate::book::disk::UNFINISHED;
use crate::diagnosis::takes::evidence::FiledTake;
use crate::instrument::model::Instrument;
use crate::instrument::prediction::PredictedNote;
use crate::instrument::take_names::{TakeOf, take_of};
use crate::report::layout::{visible, visible_path};

/// Ends of file names that are recordings, readable or not: anything else in a folder is no take.
const RECORDING_ENDINGS: [&str; 19] = [
    "wav", "wave", "flac", "mp3", "m4a", "m4b", "mp4", "aac", "ogg", "oga", "opus", "amr", "aif", "aiff",
    "aifc", "caf", "3gp", "wma", "webm",
];

/// A recording and the fingering that it is filed under.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TakeFile {
    /// Where.
    pub path: PathBuf,
    /// Index of the fingering.
    pub fingering: usize,
}

/// Takes, the room's silence, and files that are neither.
#[derive(Debug, Default)]
pub struct Found {
    /// Recordings of fingerings.
    pub takes: Vec<TakeFile>,
    /// Recordings of the silent room.
    pub room: Vec<PathBuf>,
    /// What lies in the folders and was left out, a sentence each.
    pub left_out: Vec<String>,
}

/// Finds the takes that `paths` (files or folders) hold; `named` are files with the fingering that the
/// maker gave them.
///
/// # Errors
/// [`Failure`] for missing files, folders without takes, and recordings named after no fingering.
pub fn find(
    instrument: &Instrument,
    paths: &[PathBuf],
    named: &[(String, PathBuf)],
) -> Result<Found, Failure> {
    let mut found = Found::default();
    for path in paths {
        if path.is_dir() {
            let before = found.takes.len();
            let inside = entries(path)?;
            found.left_out.extend(inside.told);
            for entry in inside.files {
                if is_recording(&entry) {
                    file_under(instrument, &entry, &mut found)?;
                } else if entry.extension().is_none_or(|ending| ending != UNFINISHED) {
                    found.left_out.push(format!("{} is no recording; left out", visible_path(&entry)));
                }
            }
            if found.takes.len() == before {
                return Err(no_takes(instrument, path));
            }
        } else {
            file_under(instrument, path, &mut found)?;
            must_be_heard(found.room.last().filter(|room| *room == path))?;
        }
    }
    for (name, path) in named {
        must_be_there(path)?;
        match take_of(name, &instrument.fingerings) {
            TakeOf::Fingering(fingering) => found.takes.push(TakeFile { path: path.clone(), fingering }),
            TakeOf::Room => {
                found.room.push(path.clone());
                must_be_heard(found.room.last())?;
            }
            TakeOf::Unknown => {
                return Err(Failure::Usage(format!(
                    "--as {name}: no fingering is called that. The file has: {}",
                    all_names(instrument)
                )));
            }
        }
    }
    Ok(found)
}

/// What lies in a folder.
pub(super) struct Entries {
    /// Its files, by name.
    pub files: Vec<PathBuf>,
    /// What the maker may have meant as takes and is none, a sentence each.
    pub told: Vec<String>,
}

/// Looks into a folder.
pub(super) fn entries(folder: &Path) -> Result<Entries, Failure> {
    let failure = |source| Failure::File { path: folder.to_path_buf(), source };
    let mut all: Vec<PathBuf> = std::fs::read_dir(folder)
        .map_err(failure)?
        .map(|entry| entry.map(|entry| entry.path()).map_err(failure))
        .collect::<Result<_, _>>()?;
    all.sort();
    let (files, others): (Vec<PathBuf>, Vec<PathBuf>) = all.into_iter().partition(|path| path.is_file());
    let told = others.iter().filter_map(|path| passed_over(path)).collect();
    Ok(Entries { files, told })
}

/// Why something in a folder that is no file is left out; what the system hides is left out without a word.
fn passed_over(path: &Path) -> Option<String> {
    let is_hidden = path.file_name().is_some_and(|name| name.to_string_lossy().starts_with('.'));
    let name = visible_path(path);
    if is_hidden {
        return None;
    }
    if path.is_dir() {
        return Some(format!("{name} is a folder; what lies in it is left out"));
    }
    if path.is_symlink() && !path.exists() {
        return Some(format!("{name} is a link to a file that is not there; left out"));
    }
    is_recording(path).then(|| format!("{name} is no file; left out"))
}

/// The files of a folder, by name.
pub(super) fn sorted_entries(folder: &Path) -> Result<Vec<PathBuf>, Failure> {
    entries(folder).map(|entries| entries.files)
}

/// A silent room that was named by hand must be readable; one that only lies in a folder may be missed.
fn must_be_heard(room: Option<&PathBuf>) -> Result<(), Failure> {
    let Some(path) = room else { return Ok(()) };
    match recording::room_sound(path) {
        Ok(_) => Ok(()),
        Err(source) => Err(Failure::Recording { path: path.clone(), source }),
    }
}

/// The first recording of the silent room that can be read, which stands for the evening; `told` gets a sentence for
/// each that can't.
pub(super) fn heard_room(rooms: &[PathBuf], told: &mut Vec<String>) -> Option<RoomSound> {
    rooms.iter().find_map(|path| match recording::room_sound(path) {
        Ok(room) => Some(room),
        Err(error) => {
            told.push(room_unheard(path, &error));
            None
        }
    })
}

/// That a recording of the silent room is of no use.
pub(super) fn room_unheard(path: &Path, error: &AudioError) -> String {
    format!("{}: {error}. The takes are measured without the room", visible_path(path))
}

/// Whether a file's name ends like a recording's.
pub(super) fn is_recording(path: &Path) -> bool {
    let ending = path.extension().and_then(|ending| ending.to_str()).unwrap_or_default().to_ascii_lowercase();
    RECORDING_ENDINGS.contains(&ending.as_str())
}

fn file_under(instrument: &Instrument, path: &Path, found: &mut Found) -> Result<(), Failure> {
    must_be_there(path)?;
    let stem = path.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
    match take_of(&stem, &instrument.fingerings) {
        TakeOf::Fingering(fingering) => found.takes.push(TakeFile { path: path.to_path_buf(), fingering }),
        TakeOf::Room => found.room.push(path.to_path_buf()),
        TakeOf::Unknown => {
            return Err(Failure::UnknownFingering { path: path.to_path_buf(), names: all_names(instrument) });
        }
    }
    Ok(())
}

fn must_be_there(path: &Path) -> Result<(), Failure> {
    let lost = |source| Failure::File { path: path.to_path_buf(), source };
    path.metadata().map(|_| ()).map_err(lost)
}

fn all_names(instrument: &Instrument) -> String {
    let names: Vec<&str> = instrument.fingerings.iter().map(|fingering| fingering.name.as_str()).collect();
    names.join(", ")
}

/// That a folder holds no takes, with a name that would do.
pub(super) fn no_takes(instrument: &Instrument, folder: &Path) -> Failure {
    let first = instrument.fingerings.first();
    let example = first.map_or_else(|| "D2".to_string(), |fingering| fingering.name.clone());
    Failure::NoTakes { path: folder.to_path_buf(), example }
}

/// What a take is called after.
pub(super) fn name_of(instrument: &Instrument, of: TakeOf) -> &str {
    match of {
        TakeOf::Fingering(index) => instrument.fingerings.get(index).map_or("", |f| f.name.as_str()),
        TakeOf::Room | TakeOf::Unknown => "room",
    }
}

/// `D2.wav`, or `D2-2.wav` and so on where that is taken or would belong to another fingering.
pub(super) fn free_name(
    instrument: &Instrument,
    of: TakeOf,
    ending: &str,
    is_taken: impl Fn(&str) -> bool,
) -> String {
    let name = name_of(instrument, of);
    let mut number = 1;
    loop {
        let stem = if number == 1 { name.to_string() } else { format!("{name}-{number}") };
        let file = format!("{stem}.{ending}");
        if take_of(&stem, &instrument.fingerings) == of && !is_taken(&file) {
            return file;
        }
        number += 1;
    }
}

/// Reads and measures all takes, in their order, on all cores. The prediction only chooses between
/// octaves; where it did, the measurement says so. Takes that another command set aside meanwhile are left out, here and
/// of `found`. `told` gets a sentence for a silent room that can't be read, once.
#[must_use]
pub fn measure_all(found: &mut Found, predicted: &[PredictedNote], told: &mut Vec<String>) -> Vec<FiledTake> {
    let mut unheard = Vec::new();
    let room = heard_room(&found.room, &mut unheard);
    unheard.retain(|sentence| !told.contains(sentence));
    told.extend(unheard);
    let measured: Vec<Option<FiledTake>> = found
        .takes
        .par_iter()
        .map(|take| {
            let name = take.path.file_name().unwrap_or(take.path.as_os_str()).to_string_lossy().into_owned();
            let settings = settings_for(take.fingering, predicted);
            let measured = recording::measured(&take.path, &settings, room.as_ref());
            let is_gone = measured.is_err() && take.path.symlink_metadata().is_err();
            (!is_gone).then(|| filed(name, take.fingering, measured))
        })
        .collect();
    let mut stays = measured.iter().map(Option::is_some);
    found.takes.retain(|_| stays.next() == Some(true));
    measured.into_iter().flatten().collect()
}

/// How a take of a fingering is measured: its prediction settles the octave.
#[must_use]
pub fn settings_for(fingering: usize, predicted: &[PredictedNote]) -> Settings {
    let expect_hz = predicted.get(fingering).and_then(|note| note.predicted_hz);
    Settings { expect_hz, ..Settings::default() }
}

/// A take as measured, or with the reason why it can't be.
#[must_use]
pub fn filed(file: String, fingering: usize, measured: Result<Measurement, AudioError>) -> FiledTake {
    let measurement = measured.unwrap_or_else(|error| unreadable(format!("{}: {error}.", visible(&file))));
    FiledTake { file, fingering, measurement, condition: 0, evening: 0 }
}

/// What is told of a recording that can't be read.
#[must_use]
pub fn unreadable(text: String) -> Measurement {
    Measurement { troubles: vec![Trouble { code: TroubleCode::Unreadable, text }], ..Measurement::default() }
}
