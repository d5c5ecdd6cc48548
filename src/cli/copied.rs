//! Takes that were recorded elsewhere, copied into a step or a test of a bench book: files, and notes cut from a long
//! recording.

use std::path::{Path, PathBuf};

use super::bench_book::{BookStep, writing};
use super::clock::now;
use super::failure::Failure;
use super::output::warn;
use super::recording;
use super::take_sheets::TakePlace;
use super::takes::{Found, free_name, is_recording, name_of, sorted_entries};
use crate::analysis::measurement::TroubleCode;
use crate::audio::encode::{Depth, write_wav};
use crate::audio::take::Take;
use crate::book::disk::OnItsWay;
use crate::book::folder::Book;
use crate::book::take_folder::TakeFolder;
use crate::diagnosis::takes::evidence::FiledTake;
use crate::instrument::model::Instrument;
use crate::instrument::take_names::{TakeOf, take_of};
use crate::report::alignment::clock;

/// Where takes are copied to, and by whose names.
pub struct Goal<'a> {
    /// The book's folder of takes.
    pub folder: TakeFolder,
    /// The instrument that was played.
    pub instrument: &'a Instrument,
}

/// Copies takes into the folder under the names of their fingerings. One that is there already stays as it is.
///
/// # Errors
/// [`Failure`] for a recording that can't be read and a book that can't be written.
pub fn copy_in(book: &Book, goal: &Goal<'_>, found: &Found) -> Result<(), Failure> {
    let _lock = writing(book)?;
    for take in &found.takes {
        copy_file(goal, &take.path, TakeOf::Fingering(take.fingering))?;
    }
    for path in &found.room {
        copy_file(goal, path, TakeOf::Room)?;
    }
    Ok(())
}

/// Keeps what notes of long recordings, or files in order, were taken as: a note is cut out with the silence round
/// it, a file is copied. What is there already stays as it is; under the name of another fingering it is set aside.
///
/// # Errors
/// [`Failure`] for a recording that can't be read and a book that can't be written.
pub fn keep_notes(step: &BookStep, takes: &[FiledTake], places: &[TakePlace]) -> Result<(), Failure> {
    let _lock = writing(&step.book)?;
    let goal = &Goal { folder: step.step.ordinary(), instrument: &step.instrument };
    let is_readable = |take: &FiledTake| {
        take.measurement.troubles.iter().all(|trouble| trouble.code != TroubleCode::Unreadable)
    };
    let mut cuts: Vec<Cut> = Vec::new();
    for (take, place) in takes.iter().zip(places).filter(|(take, _)| is_readable(take)) {
        let of = TakeOf::Fingering(take.fingering);
        match place.span_s {
            None => copy_file(goal, &place.path, of)?,
            Some(span_s) => cuts.push(Cut { from: &place.path, span_s, of }),
        }
    }
    // All notes with a span come from the one long recording.
    let Some(first) = cuts.first() else { return Ok(()) };
    let spans: Vec<(f64, f64)> = cuts.iter().map(|cut| cut.span_s).collect();
    let written = write_cuts(goal, first.from, &spans)?;
    for (cut, written) in cuts.iter().zip(written) {
        if is_there(goal, &read(written.path())?, cut.of)? {
            continue;
        }
        let (from_s, to_s) = cut.span_s;
        let origin = format!("{}, {} to {}", cut.from.display(), clock(from_s), clock(to_s));
        goal.folder.adopt(written, &unused(goal, cut.of, "wav"), &origin, &now())?;
    }
    Ok(())
}

/// A note of a long recording.
struct Cut<'a> {
    from: &'a Path,
    span_s: (f64, f64),
    of: TakeOf,
}

/// Writes the notes beside the takes, where they wait for their names; all of them or none.
fn write_cuts(goal: &Goal<'_>, from: &Path, spans: &[(f64, f64)]) -> Result<Vec<OnItsWay>, Failure> {
    let begun = |index: usize| OnItsWay::to(&goal.folder.path().join(format!("note {}.wav", index + 1)));
    let all: Vec<OnItsWay> = (0..spans.len()).map(begun).collect::<Result<_, _>>()?;
    let write = |index: usize, take: &Take| match all.get(index) {
        Some(note) => write_wav(note.path(), &take.samples, take.rate_hz.round() as u32, Depth::Bits24),
        None => Ok(()),
    };
    let failure = |source| Failure::Recording { path: from.to_path_buf(), source };
    let written = recording::each_part(from, spans, write).map_err(failure)?;
    written.into_iter().collect::<Result<Vec<()>, _>>()?;
    Ok(all)
}

fn copy_file(goal: &Goal<'_>, path: &Path, of: TakeOf) -> Result<(), Failure> {
    let same_place =
        |a: &Path, b: &Path| a.canonicalize().ok().is_some_and(|a| b.canonicalize().ok() == Some(a));
    if path.parent().is_some_and(|parent| same_place(parent, goal.folder.path())) {
        return Ok(());
    }
    if is_there(goal, &read(path)?, of)? {
        return Ok(());
    }
    let ending =
        path.extension().map(|ending| ending.to_string_lossy().to_ascii_lowercase()).unwrap_or_default();
    goal.folder.copy_in(path, &unused(goal, of, &ending), &now())?;
    Ok(())
}

/// Whether the folder holds the very same bytes under that fingering, or held them until they were set aside. Under
/// another fingering's name they are set aside now: the maker has corrected what they are.
fn is_there(goal: &Goal<'_>, bytes: &[u8], of: TakeOf) -> Result<bool, Failure> {
    let mut is_kept = false;
    for path in same_as(goal.folder.path(), bytes)? {
        if filed(goal, &path) == of {
            is_kept = true;
        } else {
            let file = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
            let why = format!("it is {}", name_of(goal.instrument, of));
            goal.folder.set_aside(&file, &why, &now())?;
            warn(&format!("{file} is set aside: {why}."));
        }
    }
    let aside = goal.folder.aside();
    if !is_kept && aside.is_dir() {
        let left = same_as(aside, bytes)?.into_iter().find(|path| filed(goal, path) == of);
        if let Some(path) = left {
            warn(&format!("{} was set aside before and stays there.", path.display()));
            is_kept = true;
        }
    }
    Ok(is_kept)
}

/// The recordings of a folder that hold just these bytes.
fn same_as(folder: &Path, bytes: &[u8]) -> Result<Vec<PathBuf>, Failure> {
    let mut same = Vec::new();
    for path in sorted_entries(folder)?.into_iter().filter(|path| is_recording(path)) {
        let is_as_long = path.metadata().is_ok_and(|file| file.len() == bytes.len() as u64);
        if is_as_long && read(&path)? == bytes {
            same.push(path);
        }
    }
    Ok(same)
}

fn read(path: &Path) -> Result<Vec<u8>, Failure> {
    std::fs::read(path).map_err(|source| Failure::File { path: path.to_path_buf(), source })
}

/// What a take of the folder is by its name.
fn filed(goal: &Goal<'_>, path: &Path) -> TakeOf {
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    take_of(&stem, &goal.instrument.fingerings)
}

/// A name that no take of the folder has had.
fn unused(goal: &Goal<'_>, of: TakeOf, ending: &str) -> String {
    free_name(goal.instrument, of, ending, |file| goal.folder.is_taken(file))
}
