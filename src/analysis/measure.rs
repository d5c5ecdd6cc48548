//! From a take to its [`Measurement`]: the order of work, and nothing else.
//!
//! Must not know the instrument: a measurement that knew what to expect would find it.

use std::f64::consts::{SQRT_2, TAU};
use std::ops::Range;

use num_complex::Complex64;

use super::band::Band;
use super::choice::{Choice, choose, is_near};
use super::comb::Comb;
use super::evidence;
use super::hum::Hum;
use super::level::Level;
use super::measurement::{Hidden, HiddenBy, Hiss, Measurement, Partial, Swing, Undertone};
use super::orders::Orders;
use super::peaks::Peaks;
use super::quality;
use super::room::RoomSound;
use super::spectrum::MeanSpectrum;
use super::steady::{Steady, steady};
use super::tone;
use super::track::{MeanPitch, Track};
use super::undertones::{DYING_RATIO, STEADY_RATIO, Search, TOP_ORDER};
use super::voices;
use crate::audio::take::Take;

/// What the user may say about a take before it is measured.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Settings {
    /// Pitch that is hoped for, hertz: decides between octaves, never moves the result.
    pub expect_hz: Option<f64>,
    /// Measure from here on, seconds from the start of the file.
    pub from_s: Option<f64>,
    /// Measure up to here, seconds from the start of the file.
    pub to_s: Option<f64>,
}

/// Partials up to here take part, hertz: above, low reeds have little but noise.
pub(super) const NEEDED_HZ: f64 = 4400.0;
/// Length of the frames that candidates are looked for in, seconds: ten periods at 12 Hz.
pub(super) const FRAME_S: f64 = 0.8;
/// Lowest line looked at, hertz.
pub(super) const LOWEST_LINE_HZ: f64 = 8.0;
/// Around what sounds, so much more is followed, seconds.
const AROUND_S: f64 = 0.25;
/// Of hum that wanders with the grid no more than this share of its power is left (our choice).
const HUM_LEAVES: f64 = 0.01;
/// A note that is not steady so long after it began to sound is slow to speak, seconds and periods; what sounds
/// along meanwhile is looked for (our choice: shorter than this there is no telling lines apart).
const SLOW_S: f64 = 0.25;
const SLOW_PERIODS: f64 = 20.0;
/// Only what is so strong while the note builds up is told, dB: an attack is full of weak lines (our choice).
const BUILDING_UP_DB: f64 = -30.0;
/// Shorter windows hold no note, seconds.
const SHORTEST_S: f64 = 0.02;

/// A take made ready: the part that was asked for, slowed down, without hum.
pub(super) struct Prepared<'a> {
    pub take: &'a Take,
    /// Where the part begins, seconds from the start of the file.
    pub from_s: f64,
    pub band: Band,
    pub hum: Hum,
    pub level: Level,
    /// The stretch that sounds most, seconds from the start of the part.
    pub sounding: (f64, f64),
    /// True when the user gave the part.
    pub windowed: bool,
}

/// The note found in it.
pub(super) struct Note {
    pub track: Track,
    pub steady: Steady,
    /// How its pitch swings.
    pub vibrato: Option<Swing>,
    /// Noise in the band of the partials, mean square.
    pub noise_power: f64,
    /// The same against the tone, octave by octave.
    pub hiss: Vec<Hiss>,
}

/// Measures one take. `room` is the sound of the room with nothing played; without it the silence
/// around the note serves.
#[must_use]
pub fn measure(take: &Take, settings: &Settings, room: Option<&RoomSound>) -> Measurement {
    let Some((prepared, found)) = hear(take, settings) else {
        return Measurement {
            troubles: quality::troubles(&evidence::of_file(take)),
            ..Measurement::default()
        };
    };
    let silence = prepared.silence();
    let Some((note, Choice { candidate, unasked })) = found else {
        let troubles = quality::troubles(&evidence::without_note(&prepared));
        return Measurement { troubles, ..Measurement::default() };
    };
    let own_room = RoomSound::of_silence(silence, prepared.band.rate_hz);
    let room_known = room.is_some() || own_room.known();
    let partials = partials(&note);
    let room_sound = room.unwrap_or(&own_room);
    let (undertones, hidden) = undertones(&prepared, &note, room_sound);
    let mut evidence = evidence::with_note(&prepared, &note);
    evidence.room_unknown = !undertones.is_empty() && !room_known;
    let Note { track, steady, hiss, vibrato, .. } = &note;
    let Steady { first, last, pitch } = steady;
    let (start_s, end_s) = (prepared.from_s + track.at_s(*first), prepared.from_s + track.at_s(*last));
    Measurement {
        pitch_hz: Some(pitch.hz),
        sd_cents: Some(pitch.sd_cents),
        wander_cents: Some(pitch.wander_cents),
        confidence: candidate.clearness,
        steady_s: Some((start_s, end_s)),
        level_dbfs: Some(level_dbfs(take, start_s, end_s)),
        tone_over_noise_db: Some(evidence.tone_over_noise_db),
        tone: Some(tone::of(track, steady, &partials, hiss.clone(), *vibrato)),
        partials,
        undertones,
        building_up: building_up(&prepared, &note, room_sound),
        hidden,
        troubles: quality::troubles(&evidence),
        expectation_met: settings.expect_hz.map(|hz| is_near(pitch.hz, hz)),
        expectation_decided: unasked.is_some(),
        unasked,
    }
}

/// The note of a stretch, and how it was chosen.
type Found = (Note, Choice);

/// Makes a take ready and finds its note. A note on a multiple of the mains loses partials as hum; what is left
/// of it tells, and nothing is taken out.
pub(super) fn hear<'a>(take: &'a Take, settings: &Settings) -> Option<(Prepared<'a>, Option<Found>)> {
    let prepared = prepare(take, settings, Hum::take_out)?;
    let found = find_note(&prepared, settings.expect_hz);
    if !found.as_ref().is_some_and(|(note, _)| prepared.took_note_for_hum(note)) {
        return Some((prepared, found));
    }
    let prepared = prepare(take, settings, |_| Hum::default())?;
    let found = find_note(&prepared, settings.expect_hz);
    Some((prepared, found))
}

fn prepare<'a>(
    take: &'a Take,
    settings: &Settings,
    take_hum_out: impl FnOnce(&mut Band) -> Hum,
) -> Option<Prepared<'a>> {
    let from_s = settings.from_s.unwrap_or(0.0).max(take.begins_s);
    let to_s = settings.to_s.unwrap_or(f64::INFINITY).min(take.ends_s());
    let asked_s = to_s - from_s;
    if asked_s < SHORTEST_S || asked_s.is_nan() {
        return None;
    }
    let mut band = Band::of(take.part(from_s, to_s), take.rate_hz, NEEDED_HZ);
    let hum = take_hum_out(&mut band);
    let level = Level::of(&band);
    let sounding = level.loudest()?;
    let windowed = settings.from_s.is_some() || settings.to_s.is_some() || take.begins_s > 0.0;
    Some(Prepared { take, from_s, band, hum, level, sounding, windowed })
}

impl Prepared<'_> {
    /// Whether what was taken for hum is the note's own: every line is one of its partials, and more
    /// is left of it than is left of hum.
    fn took_note_for_hum(&self, note: &Note) -> bool {
        let seconds = self.band.samples.len() as f64 / self.band.rate_hz;
        let left: f64 = note.partial_powers().map(|(_, power)| power / 2.0).sum();
        left > HUM_LEAVES * self.hum.mean_square() && self.hum.is_of_note(note.steady.pitch.hz, seconds)
    }

    /// The longer of the silences before and after the note.
    pub fn silence(&self) -> &[f64] {
        let (before, after) = self.level.silences(self.sounding);
        let longer = if before.1 - before.0 >= after.1 - after.0 { before } else { after };
        self.band.part(longer.0, longer.1)
    }
}

/// The note of the loudest stretch.
fn find_note(prepared: &Prepared, expect_hz: Option<f64>) -> Option<Found> {
    let band = &prepared.band;
    let (sounding_from, sounding_to) = prepared.sounding;
    let (full_from, full_to) = prepared.level.full(prepared.sounding);
    let spectrum = MeanSpectrum::of(band.part(full_from, full_to), band.rate_hz, FRAME_S);
    let peaks = Peaks::of(&spectrum, LOWEST_LINE_HZ, band.top_hz());
    let comb = Comb::new(&peaks, spectrum.resolution_hz);
    let choice = choose(&comb, &prepared.hum, expect_hz)?;
    let candidate = choice.candidate;
    if !comb.is_heard(candidate.hz, spectrum.independent_frames) {
        return None;
    }
    let voices = voices::choose(&peaks, &spectrum, candidate.hz);
    let highest_hz = voices.iter().map(|v| v.n as f64 * candidate.hz).fold(0.0, f64::max);
    let slow = Band::of(&band.samples, band.rate_hz, 1.05 * highest_hz + 2.0 * candidate.hz);
    let from_s = (sounding_from - AROUND_S).max(0.0);
    let track = Track::follow(&slow, from_s, sounding_to + AROUND_S, candidate.hz, &voices)?;
    let mut steady = steady(&track)?;
    let halfway =
        || Track::follow(&slow, from_s + track.hop_s / 2.0, sounding_to + AROUND_S, candidate.hz, &voices);
    let vibrato = tone::vibrato(&track, &steady, halfway);
    if let Some(swing) = vibrato.filter(|swing| swing.hz * track.hop_s > tone::SWINGS_A_STEP) {
        // Faster than the spread from block to block can be trusted.
        steady.pitch.wander_cents = swing.depth / SQRT_2;
    }
    let noise_power = peaks.noise_power(&spectrum, LOWEST_LINE_HZ, f64::INFINITY);
    let hiss = tone::hiss(&peaks, &spectrum, steady.pitch.hz, band.top_hz());
    Some((Note { track, steady, vibrato, noise_power, hiss }, choice))
}

impl Note {
    /// The blocks of the steady part.
    pub fn steady_blocks(&self) -> Range<usize> {
        self.steady.first..self.steady.last + 1
    }

    /// Number of each partial and its complex amplitudes over these blocks.
    fn partials_over(&self, blocks: Range<usize>) -> impl Iterator<Item = (usize, &[Complex64])> + '_ {
        self.track.partials.iter().map(move |(n, all)| (*n, all.get(blocks.clone()).unwrap_or_default()))
    }

    /// Mean power (square of amplitude) of each partial over the steady part.
    pub fn partial_powers(&self) -> impl Iterator<Item = (usize, f64)> + '_ {
        self.partials_over(self.steady_blocks()).map(|(n, part)| (n, mean_power(part)))
    }

    /// Mean power of the strongest partial over these blocks.
    pub fn strongest_power(&self, blocks: Range<usize>) -> f64 {
        self.partials_over(blocks).fold(f64::MIN_POSITIVE, |most, (_, part)| most.max(mean_power(part)))
    }
}

fn mean_power(part: &[Complex64]) -> f64 {
    part.iter().map(|c| c.norm_sqr()).sum::<f64>() / part.len().max(1) as f64
}

fn partials(note: &Note) -> Vec<Partial> {
    let (hz, strongest) = (note.steady.pitch.hz, note.strongest_power(note.steady_blocks()));
    let level = |power: f64| 10.0 * (power / strongest).log10();
    note.partial_powers()
        .zip(note.partials_over(note.steady_blocks()))
        .map(|((n, power), (_, part))| {
            let off_hz = turns_a_block(part) / note.track.hop_s;
            Partial { n, hz: n as f64 * hz + off_hz, db: level(power) }
        })
        .collect()
}

/// Mean turning of an amplitude from block to block, cycles: first from neighbours, then, turned back by
/// that, from blocks half the length apart.
fn turns_a_block(part: &[Complex64]) -> f64 {
    let turned = |apart: usize, back: f64| -> f64 {
        let later = part.get(apart..).unwrap_or_default();
        let sum: Complex64 = part.iter().zip(later).map(|(a, b)| b * a.conj()).sum();
        let rest = sum * Complex64::from_polar(1.0, -TAU * back * apart as f64);
        back + rest.arg() / TAU / apart as f64
    };
    turned((part.len() / 2).max(1), turned(1, 0.0))
}

fn undertones(prepared: &Prepared, note: &Note, room: &RoomSound) -> (Vec<Undertone>, Vec<Hidden>) {
    let pitch = &note.steady.pitch;
    lines(prepared, note, room, (note.steady_blocks(), pitch), STEADY_RATIO).unwrap_or_else(|| {
        let hidden = |under: u32| Hidden {
            ratio: (1, under),
            hz: pitch.hz / f64::from(under),
            by: HiddenBy::TooShort,
        };
        (Vec::new(), [2, 3].map(hidden).to_vec())
    })
}

/// Lines below and between the partials in a stretch of blocks with its pitch; `None` when it is too short.
fn lines(
    prepared: &Prepared,
    note: &Note,
    room: &RoomSound,
    (blocks, pitch): (Range<usize>, &MeanPitch),
    most_change: f64,
) -> Option<(Vec<Undertone>, Vec<Hidden>)> {
    let band = &prepared.band;
    let slow = Band::of(&band.samples, band.rate_hz, (TOP_ORDER + 0.5) * pitch.hz);
    let orders = Orders::of(&slow, &note.track, blocks.start, &pitch.cycles, TOP_ORDER + 0.5)?;
    let strongest = note.strongest_power(blocks).sqrt();
    Some(Search { orders: &orders, hz: pitch.hz, strongest, hum: &prepared.hum, room, most_change }.run())
}

/// Lines under the note that sound along while a note that is slow to speak builds up, strongest first.
fn building_up(prepared: &Prepared, note: &Note, room: &RoomSound) -> Vec<Undertone> {
    let track = &note.track;
    let begins = (0..note.steady.first).find(|&block| track.at_s(block) >= prepared.sounding.0);
    let Some(begins) = begins else { return Vec::new() };
    let seconds = (note.steady.first - begins) as f64 * track.hop_s;
    if seconds < SLOW_S || seconds * note.steady.pitch.hz < SLOW_PERIODS {
        return Vec::new();
    }
    let Some(pitch) = track.mean_pitch(begins, note.steady.first) else { return Vec::new() };
    let stretch = (begins..note.steady.first, &pitch);
    let Some((mut found, _)) = lines(prepared, note, room, stretch, DYING_RATIO) else { return Vec::new() };
    found.retain(|undertone| undertone.hz < pitch.hz && undertone.db > BUILDING_UP_DB);
    found
}

/// Mean level between two times of the file, dB re a mean square of 1.
fn level_dbfs(take: &Take, from_s: f64, to_s: f64) -> f64 {
    let part = take.part(from_s, to_s);
    10.0 * (part.iter().map(|s| s * s).sum::<f64>() / part.len().max(1) as f64).max(1e-20).log10()
}
