//! The takes of a check made ready for its page: what each looks like, and its sound, small enough to carry.

use std::path::{Path, PathBuf};

use rayon::prelude::*;

use super::args::SoundInPage;
use super::recording;
use crate::analysis::band::Band;
use crate::analysis::measure::Settings;
use crate::analysis::portrait::portrait;
use crate::audio::encode::wav_bytes;
use crate::audio::take::Take;
use crate::diagnosis::takes::evidence::FiledTake;
use crate::report::page::takes::TakeSheet;

/// The page carries sound up to here, hertz: low reeds have little but noise above.
const SOUND_TOP_HZ: f64 = 3500.0;
/// Of a take the page carries at most so much, seconds, beginning so long before its steady part.
const SOUND_S: f64 = 12.0;
const BEFORE_S: f64 = 1.0;
/// Left to itself, a page carries no more sound than this, bytes: a mail takes it, a phone opens it.
const SOUND_BYTES: usize = 8_000_000;

/// Where a take lies.
#[derive(Debug, Clone, PartialEq)]
pub struct TakePlace {
    /// The file.
    pub path: PathBuf,
    /// The part of it, seconds; all of it when `None`.
    pub span_s: Option<(f64, f64)>,
}

/// Takes that lie in files, each beside its place. Only the parts that are looked at are read, and only a few are
/// in memory at a time.
pub fn of_files(takes: &[FiledTake], places: &[TakePlace], sound: SoundInPage) -> Vec<TakeSheet> {
    let mut files: Vec<(&PathBuf, Vec<usize>)> = Vec::new();
    for (index, place) in places.iter().enumerate().take(takes.len()) {
        match files.iter_mut().find(|(path, _)| **path == place.path) {
            Some((_, takes)) => takes.push(index),
            None => files.push((&place.path, vec![index])),
        }
    }
    let sheets: Vec<Vec<(usize, TakeSheet)>> =
        files.par_iter().map(|(path, indices)| of_file(path, indices, takes, places, sound)).collect();
    let mut sheets: Vec<(usize, TakeSheet)> = sheets.into_iter().flatten().collect();
    sheets.sort_by_key(|(index, _)| *index);
    small_enough(sheets.into_iter().map(|(_, sheet)| sheet).collect(), sound)
}

/// The takes of one file, by their place in the list.
fn of_file(
    path: &Path,
    indices: &[usize],
    takes: &[FiledTake],
    places: &[TakePlace],
    sound: SoundInPage,
) -> Vec<(usize, TakeSheet)> {
    let spans: Option<Vec<(f64, f64)>> = indices.iter().map(|&index| places[index].span_s).collect();
    let Some(spans) = spans else {
        let read =
            |index: usize| recording::note(path, &settings(&takes[index], None)).ok().map(|(take, _)| take);
        return indices
            .iter()
            .map(|&index| (index, sheet(&takes[index], read(index).as_ref(), None, sound)))
            .collect();
    };
    let look = |part: usize, take: &Take| {
        let index = indices[part];
        (index, sheet(&takes[index], Some(take), places[index].span_s, sound))
    };
    recording::each_part(path, &spans, look).unwrap_or_else(|_| {
        indices.iter().map(|&index| (index, sheet(&takes[index], None, None, sound))).collect()
    })
}

/// Takes whose sound `sound_of` knows by the name of their file.
pub fn of_samples(
    takes: &[FiledTake],
    sound_of: impl Fn(&str) -> Option<Take> + Sync,
    sound: SoundInPage,
) -> Vec<TakeSheet> {
    let sheets =
        takes.par_iter().map(|take| sheet(take, sound_of(&take.file).as_ref(), None, sound)).collect();
    small_enough(sheets, sound)
}

fn settings(filed: &FiledTake, span_s: Option<(f64, f64)>) -> Settings {
    Settings {
        expect_hz: filed.measurement.pitch_hz,
        from_s: span_s.map(|span| span.0),
        to_s: span_s.map(|span| span.1),
    }
}

fn sheet(
    filed: &FiledTake,
    take: Option<&Take>,
    span_s: Option<(f64, f64)>,
    sound: SoundInPage,
) -> TakeSheet {
    let settings = settings(filed, span_s);
    let heard = filed.measurement.pitch_hz.is_some();
    let steady_s = filed.measurement.steady_s;
    TakeSheet {
        file: filed.file.clone(),
        fingering: filed.fingering,
        measurement: filed.measurement.clone(),
        portrait: take.filter(|_| heard).and_then(|take| portrait(take, &settings)),
        wav: take
            .filter(|_| sound != SoundInPage::Without)
            .and_then(|take| small_sound(take, span_s, steady_s)),
    }
}

/// The take's sound at a low rate: all of a short take, and of a long one what is round its steady part.
fn small_sound(take: &Take, span_s: Option<(f64, f64)>, steady_s: Option<(f64, f64)>) -> Option<Vec<u8>> {
    let (from, to) = span_s.unwrap_or((take.begins_s, take.ends_s()));
    let from = match steady_s {
        Some((steady, _)) if to - from > SOUND_S => (steady - BEFORE_S).max(from),
        _ => from,
    };
    let part = take.part(from, to.min(from + SOUND_S));
    let band = Band::of(part, take.rate_hz, SOUND_TOP_HZ);
    wav_bytes(&band.samples, band.rate_hz.round() as u32).ok()
}

fn small_enough(mut sheets: Vec<TakeSheet>, sound: SoundInPage) -> Vec<TakeSheet> {
    let bytes: usize = sheets.iter().filter_map(|sheet| sheet.wav.as_ref()).map(Vec::len).sum();
    if sound == SoundInPage::Auto && bytes > SOUND_BYTES {
        sheets.iter_mut().for_each(|sheet| sheet.wav = None);
    }
    sheets
}
