//! Gathers what the judgement of a take rests on.
//!
//! Must not know the limits: those are `quality`'s.

use super::background;
use super::band::Band;
use super::clipping;
use super::comb::Comb;
use super::level::CELL_S;
use super::measure::{FRAME_S, LOWEST_LINE_HZ, Note, Prepared};
use super::peaks::Peaks;
use super::quality::Evidence;
use super::spectrum::MeanSpectrum;
use crate::audio::take::Take;
use crate::units::cents_between;

/// Another stretch is looked at when it lasts so long, seconds, and is so loud beside the note, dB.
const OTHER_S: f64 = 0.35;
const OTHER_DB: f64 = 12.0;
/// At most so many, in order of time.
const MOST_OTHERS: usize = 12;
/// It holds another note when its pitch is so far from this one's, cents, and this one's comb
/// explains less than so much of it.
const OTHER_CENTS: f64 = 60.0;
const OTHER_EXPLAINED: f64 = 0.5;
/// A note is cut off when the file begins or ends within so much of its full level, dB.
const RUNS_OFF_DB: f64 = 9.0;

/// Of a file that is too short or too empty to look into.
pub fn of_file(take: &Take) -> Evidence {
    Evidence {
        peak: take.origin.peak,
        damage: take.origin.damage.clone(),
        lossy: take.origin.lossy.then(|| take.origin.codec.clone()),
        ..Evidence::default()
    }
}

/// Of a take in which no note was found.
pub fn without_note(prepared: &Prepared) -> Evidence {
    let mut evidence = of_file(prepared.take);
    if let Some(line) = prepared.hum.lines.first() {
        evidence.hum_db = Some(0.0);
        evidence.mains_hz = mains_hz(line.hz);
    }
    evidence
}

/// Of a take with a note.
pub fn with_note(prepared: &Prepared, note: &Note) -> Evidence {
    let Prepared { take, from_s, band, hum, level, sounding, windowed } = prepared;
    let pitch = &note.steady.pitch;
    let (start_s, end_s) = (note.track.at_s(note.steady.first), note.track.at_s(note.steady.last));
    let tone: f64 = note.partial_powers().map(|(_, power)| power / 2.0).sum();
    let decibels = |power: f64| 10.0 * (power / tone.max(f64::MIN_POSITIVE)).max(1e-12).log10();
    let (before, after) = level.silences(*sounding);
    let steady_samples = take.part(from_s + start_s, from_s + end_s);
    Evidence {
        voiced: true,
        flat_share: clipping::share(steady_samples, take.origin.step()),
        hum_db: hum.lines.first().map(|_| decibels(hum.mean_square())),
        mains_hz: hum.lines.first().map_or(0.0, |line| mains_hz(line.hz)),
        tone_over_noise_db: -decibels(note.noise_power),
        background_drop_db: background::drop_after_db(band, before, after),
        decay_s: background::decay_s(level, end_s),
        low_corner_hz: low_corner_hz(band, [before, after]),
        hz: pitch.hz,
        steady_s: end_s - start_s,
        wander_cents: pitch.wander_cents,
        used_s: (from_s + start_s, from_s + end_s),
        other: other_note(prepared, note).map(|(hz, at_s)| (hz, from_s + at_s)),
        runs_off: !windowed && runs_off(prepared),
        ..of_file(take)
    }
}

/// Below what the recording has lost sound, if every silence that is long enough says so.
fn low_corner_hz(band: &Band, silences: [(f64, f64); 2]) -> Option<f64> {
    let told = silences
        .into_iter()
        .filter(|(from, to)| to - from >= background::LEAST_S)
        .map(|(from, to)| background::low_corner_hz(band.part(from, to), band.rate_hz));
    told.reduce(|a, b| Some(a?.min(b?))).flatten()
}

fn mains_hz(line_hz: f64) -> f64 {
    let off = |mains: f64| (line_hz / mains - (line_hz / mains).round()).abs();
    if off(50.0) <= off(60.0) { 50.0 } else { 60.0 }
}

fn runs_off(prepared: &Prepared) -> bool {
    let level = &prepared.level;
    let least = level.loud * 10f64.powf(-RUNS_OFF_DB / 10.0);
    let edges = [level.power.first(), level.power.last()];
    // The level is averaged over neighbours, so the very last cells must be loud, not the mean.
    let cells = level.power.len() as f64 * CELL_S;
    edges.into_iter().flatten().any(|p| *p >= least)
        && [(0.0, 2.0 * CELL_S), (cells - 2.0 * CELL_S, cells)].into_iter().any(|(from, to)| {
            let part = prepared.band.part(from, to);
            part.iter().map(|s| s * s).sum::<f64>() / part.len().max(1) as f64 >= least
        })
}

/// Another note in the take, outside the steady part: its pitch in hertz, and where it begins, seconds
/// from the start of the part that was asked for.
fn other_note(prepared: &Prepared, note: &Note) -> Option<(f64, f64)> {
    let level = &prepared.level;
    let hz = note.steady.pitch.hz;
    let (start_s, end_s) = (note.track.at_s(note.steady.first), note.track.at_s(note.steady.last));
    let full = level.energy(start_s, end_s) / (end_s - start_s).max(CELL_S);
    let least = full * 10f64.powf(-OTHER_DB / 10.0);
    let mut pieces: Vec<(f64, f64)> = Vec::new();
    for (from, to) in level.sounding() {
        pieces.push((from, to.min(start_s - 0.1)));
        pieces.push((from.max(end_s + 0.2), to));
    }
    pieces.retain(|(from, to)| to - from >= OTHER_S && level.energy(*from, *to) / (to - from) > least);
    pieces.into_iter().take(MOST_OTHERS).find_map(|(from, to)| {
        let part = prepared.band.part(from, to);
        let spectrum = MeanSpectrum::of(part, prepared.band.rate_hz, FRAME_S);
        let peaks = Peaks::of(&spectrum, LOWEST_LINE_HZ, prepared.band.top_hz());
        let comb = Comb::new(&peaks, spectrum.resolution_hz);
        let other = comb.best().filter(|o| comb.is_heard(o.hz, spectrum.independent_frames))?;
        let different =
            cents_between(other.hz, hz).abs() > OTHER_CENTS && comb.explained(hz) < OTHER_EXPLAINED;
        different.then_some((other.hz, from))
    })
}
