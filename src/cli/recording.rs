//! Recordings on disk for whoever measures them: one note, the room, or many notes of one long recording,
//! none of them held longer than they are looked at.

use std::path::{Path, PathBuf};

use rayon::prelude::*;

use super::long_work::LongWork;
use crate::analysis::excerpt::Excerpt;
use crate::analysis::measure::{Settings, measure};
use crate::analysis::measurement::{Measurement, Trouble};
use crate::analysis::room::RoomSound;
use crate::analysis::split::{Outline, Split, joined_notes, split};
use crate::audio::decode::AudioError;
use crate::audio::extract::{Extracts, Recording};
use crate::audio::spool::Spool;
use crate::audio::take::Take;
use crate::report::alignment::clock;
use crate::report::layout::visible_path;

/// So much of a recording of the silent room is listened to, seconds.
const ROOM_S: f64 = 60.0;

/// The name of standard input among files.
const STANDARD_INPUT: &str = "-";

/// Opens a recording, or what comes through a pipe.
///
/// # Errors
/// [`AudioError`] when it can't be read, or a pipe's bytes can't be kept.
pub fn opened(path: &Path) -> Result<Spool, AudioError> {
    let folder = folder_for_pipes();
    if path == Path::new(STANDARD_INPUT) {
        return Spool::of_pipe(std::io::stdin().lock(), &folder);
    }
    Spool::of_file(path, &folder)
}

/// Where a pipe's bytes wait: where the maker's system says, else on a disk, because `/tmp` is memory on many.
fn folder_for_pipes() -> PathBuf {
    let on_disk = Path::new("/var/tmp");
    let is_told = std::env::var_os("TMPDIR").is_some();
    if !is_told && on_disk.is_dir() { on_disk.to_path_buf() } else { std::env::temp_dir() }
}

/// How far a recording has been gone through.
fn heard(seconds: f64) -> String {
    format!("{} of it heard", clock(seconds))
}

/// What a measurement of one note needs of a recording: all of it or, of a long one, the part that was asked
/// for or that has most sound; and what to say of the rest.
///
/// # Errors
/// [`AudioError`] when it can't be read.
pub fn note(path: &Path, settings: &Settings) -> Result<(Take, Option<Trouble>), AudioError> {
    let spool = opened(path)?;
    let hearing = LongWork::begin(&visible_path(path));
    let outline = match Recording::open(&spool, &mut |s| hearing.tell(|| heard(s)))? {
        Recording::Whole(take) => return Ok((take, None)),
        Recording::Long(outline) => outline,
    };
    let (span, trouble) = match (settings.from_s, settings.to_s) {
        (None, None) => {
            let excerpt = Excerpt::of_cells(outline.loudness.power());
            let span = excerpt.map_or((0.0, ROOM_S), |found| (found.from_s, found.to_s));
            (span, excerpt.and_then(|found| found.trouble()))
        }
        (from_s, to_s) => ((from_s.unwrap_or(0.0), to_s.unwrap_or(outline.seconds)), None),
    };
    let mut take = part(&spool, span)?;
    take.origin.damage = outline.origin.damage;
    Ok((take, trouble))
}

/// Measures the note of one recording.
///
/// # Errors
/// [`AudioError`] when it can't be read.
pub fn measured(
    path: &Path,
    settings: &Settings,
    room: Option<&RoomSound>,
) -> Result<Measurement, AudioError> {
    let (take, trouble) = note(path, settings)?;
    let mut measurement = measure(&take, settings, room);
    measurement.troubles.extend(trouble);
    Ok(measurement)
}

/// The sound of the silent room.
///
/// # Errors
/// [`AudioError`] when the recording can't be read.
pub fn room_sound(path: &Path) -> Result<RoomSound, AudioError> {
    let spool = opened(path)?;
    let hearing = LongWork::begin(&visible_path(path));
    match Recording::open(&spool, &mut |s| hearing.tell(|| heard(s)))? {
        Recording::Whole(take) => Ok(RoomSound::of(&take)),
        Recording::Long(_) => part(&spool, (0.0, ROOM_S)).map(|take| RoomSound::of(&take)),
    }
}

fn part(spool: &Spool, span: (f64, f64)) -> Result<Take, AudioError> {
    match Extracts::open(spool, &[span])?.next() {
        Some(take) => take,
        None => Err(AudioError::NoSamples),
    }
}

/// One long recording of many notes.
pub struct ManyNotes {
    spool: Spool,
    /// `None` when it is read part by part.
    whole: Option<Take>,
    /// Its notes.
    pub split: Split,
    /// Its length, seconds.
    pub seconds: f64,
    /// What was lost of it.
    pub damage: Option<String>,
}

impl ManyNotes {
    /// Goes through a recording and splits it into notes.
    ///
    /// # Errors
    /// [`AudioError`] when it can't be read.
    pub fn open(path: &Path) -> Result<ManyNotes, AudioError> {
        let spool = opened(path)?;
        let hearing = LongWork::begin(&visible_path(path));
        match Recording::open(&spool, &mut |s| hearing.tell(|| heard(s)))? {
            Recording::Whole(mut take) => {
                let (split, seconds, damage) = (split(&take), take.seconds(), take.origin.damage.take());
                Ok(ManyNotes { spool, whole: Some(take), split, seconds, damage })
            }
            Recording::Long(long) => {
                let outline = Outline::of_cells(long.loudness.power());
                let sounding = parts(&spool, &outline.loud, |_, part| joined_notes(part))?.concat();
                let room = outline.room_span.and_then(|span| part(&spool, span).ok());
                let room = room.map(|silence| RoomSound::of(&silence)).filter(RoomSound::known);
                let split = outline.split(sounding, room);
                Ok(ManyNotes { spool, whole: None, split, seconds: long.seconds, damage: long.origin.damage })
            }
        }
    }

    /// Measures the chosen notes, each within the silence around it, and perhaps with a pitch to expect;
    /// in their order.
    ///
    /// # Errors
    /// [`AudioError`] when the file can't be read any more.
    pub fn measured(&self, chosen: &[(usize, Option<f64>)]) -> Result<Vec<Measurement>, AudioError> {
        let seen = |index: usize| {
            self.split.stretches.get(index).map_or((0.0, 0.0), |note| (note.seen_from_s, note.seen_to_s))
        };
        let spans: Vec<(f64, f64)> = chosen.iter().map(|(index, _)| seen(*index)).collect();
        let measured = |index: usize, take: &Take| {
            let (from_s, to_s) = spans.get(index).copied().unwrap_or_default();
            let expect_hz = chosen.get(index).and_then(|(_, expect_hz)| *expect_hz);
            let settings = Settings { expect_hz, from_s: Some(from_s), to_s: Some(to_s) };
            measure(take, &settings, self.split.room.as_ref())
        };
        match &self.whole {
            Some(take) => Ok((0..spans.len()).into_par_iter().map(|index| measured(index, take)).collect()),
            None => parts(&self.spool, &spans, measured),
        }
    }
}

/// Looks at each part of a recording in turn, on all cores, as many at a time as there are cores; in their
/// order. The spans rise.
///
/// # Errors
/// [`AudioError`] when it can't be read.
pub fn each_part<T: Send>(
    path: &Path,
    spans: &[(f64, f64)],
    look: impl Fn(usize, &Take) -> T + Sync,
) -> Result<Vec<T>, AudioError> {
    parts(&opened(path)?, spans, look)
}

fn parts<T: Send>(
    spool: &Spool,
    spans: &[(f64, f64)],
    look: impl Fn(usize, &Take) -> T + Sync,
) -> Result<Vec<T>, AudioError> {
    let mut found: Vec<(usize, T)> = Extracts::open(spool, spans)?
        .enumerate()
        .par_bridge()
        .map(|(index, take)| take.map(|take| (index, look(index, &take))))
        .collect::<Result<_, _>>()?;
    found.sort_by_key(|(index, _)| *index);
    Ok(found.into_iter().map(|(_, looked)| looked).collect())
}
