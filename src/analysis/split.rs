//! Splits one long recording into the notes that sound in it: by level, and where notes are joined,
//! by pitch. What is quiet between them is the sound of the room.
//!
//! Must not know the instrument, nor how many notes or which ones are wanted.

use rayon::prelude::*;

use super::band::Band;
use super::comb::Comb;
use super::excerpt::LONGEST_S;
use super::level::{CELL_S, Level};
use super::measure::{LOWEST_LINE_HZ, NEEDED_HZ};
use super::peaks::Peaks;
use super::room::RoomSound;
use super::spectrum::MeanSpectrum;
use crate::audio::take::Take;
use crate::units::cents_between;

/// One note of a long recording, seconds from its start.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Where it begins to sound, building up included.
    pub from_s: f64,
    /// Where it has died away.
    pub to_s: f64,
    /// The same with the silence on both sides, as far as it belongs to no other note: what a
    /// measurement of this note may see.
    pub seen_from_s: f64,
    /// See [`Stretch::seen_from_s`].
    pub seen_to_s: f64,
}

/// What a long recording holds.
#[derive(Debug, Clone, Default)]
pub struct Split {
    /// In order of time; a knock may be among them.
    pub stretches: Vec<Stretch>,
    /// The room's own sound, from the longest silence; `None` when none is long enough.
    pub room: Option<RoomSound>,
}

/// Something sounds from so much over the background on, dB, or from so far under the loudest, if
/// that is more: low notes of one player lie up to 20 dB under high ones (our own choice).
const OVER_QUIET_DB: f64 = 10.0;
const UNDER_LOUD_DB: f64 = 40.0;
/// With less than this between loud and quiet there is no silence to split by, dB.
const NO_SILENCE_DB: f64 = 6.0;
/// Shorter stretches are knocks, seconds.
const SHORTEST_S: f64 = 0.15;
/// A dip by so much between two louder parts is a new attack, dB; the air's own beating and a
/// trembling breath stay below (our own choice).
const DIP_DB: f64 = 12.0;
/// Silence kept on either side of a note at most, seconds.
const KEPT_SILENCE_S: f64 = 2.0;
/// A silence as quiet as the quietest of its gap, within so much, dB.
const AS_QUIET_DB: f64 = 3.0;
/// Half of what the level is averaged over, seconds: a note seems to begin so much too early and to
/// end so much too late.
const SMEARED_S: f64 = 0.06;
/// A silence tells of the room from this length on, seconds.
const ROOM_S: f64 = 0.3;
/// Frames in which joined notes are looked for, seconds, and from one to the next.
const FRAME_S: f64 = 0.5;
const HOP_S: f64 = 0.25;
/// Pitches closer than this are one note, cents.
const SAME_CENTS: f64 = 40.0;
/// Two frames differ when one pitch explains this much more of the lines of the one than of the
/// other: the same sound read once as an octave explains both alike.
const DIFFERENT_SHARE: f64 = 0.4;

/// Splits a recording that is held whole.
#[must_use]
pub fn split(take: &Take) -> Split {
    let band = Band::of(&take.samples, take.rate_hz, NEEDED_HZ);
    let outline = Outline::of(Level::of(&band));
    let sounding = outline.loud.iter().flat_map(|span| at_pitch_changes(&band, *span)).collect();
    let room = outline.room_span.and_then(|(from_s, to_s)| room(&band, from_s, to_s));
    outline.split(sounding, room)
}

/// What loudness alone tells of a long recording: where to look closer.
#[derive(Debug, Clone)]
pub struct Outline {
    level: Level,
    /// What sounds between two silences or new attacks: one note, or several that are joined. Seconds.
    pub loud: Vec<(f64, f64)>,
    /// The longest silence, when it is long enough to tell of the room. Seconds.
    pub room_span: Option<(f64, f64)>,
}

impl Outline {
    fn of(level: Level) -> Outline {
        let in_seconds = |(from, to): (usize, usize)| (from as f64 * CELL_S, to as f64 * CELL_S);
        let loud =
            loud_stretches(&level).into_iter().flat_map(|s| at_dips(&level, s)).map(in_seconds).collect();
        Outline { loud, room_span: room_span(&level), level }
    }

    /// Of the mean square in each cell of [`crate::audio::take::LOUDNESS_CELL_S`]. What sounds without a pause for longer than
    /// a breath is cut there.
    #[must_use]
    pub fn of_cells(cells: &[f64]) -> Outline {
        let mut outline = Outline::of(Level::of_cells(cells));
        outline.loud = outline.loud.into_iter().flat_map(in_pieces).collect();
        outline
    }

    /// The notes from what sounds, joined notes taken apart, and the room's sound.
    #[must_use]
    pub fn split(&self, mut sounding: Vec<(f64, f64)>, room: Option<RoomSound>) -> Split {
        sounding.retain(|(from, to)| to - from >= SHORTEST_S);
        Split { stretches: with_silence(&self.level, &sounding), room }
    }
}

fn in_pieces((from_s, to_s): (f64, f64)) -> Vec<(f64, f64)> {
    let count = ((to_s - from_s) / LONGEST_S).ceil().max(1.0);
    let edge = |piece: usize| from_s + (to_s - from_s) * piece as f64 / count;
    (0..count as usize).map(|piece| (edge(piece), edge(piece + 1))).collect()
}

/// The notes that are joined in a part of a recording, seconds from the recording's start.
#[must_use]
pub fn joined_notes(part: &Take) -> Vec<(f64, f64)> {
    let band = Band::of(&part.samples, part.rate_hz, NEEDED_HZ);
    let notes = at_pitch_changes(&band, (0.0, part.seconds()));
    notes.into_iter().map(|(from_s, to_s)| (part.begins_s + from_s, part.begins_s + to_s)).collect()
}

fn ratio(db: f64) -> f64 {
    10f64.powf(db / 10.0)
}

/// Stretches of cells that sound, first and one past the last.
fn loud_stretches(level: &Level) -> Vec<(usize, usize)> {
    let (loud, quiet) = (level.loud, level.quiet);
    if loud <= 0.0 {
        return Vec::new();
    }
    if loud < quiet * ratio(NO_SILENCE_DB) {
        // Played without a pause, or no note at all: only pitch can tell.
        return vec![(0, level.power.len())];
    }
    let wanted = (quiet * ratio(OVER_QUIET_DB)).max(loud / ratio(UNDER_LOUD_DB));
    // Never above the middle between loud and quiet in decibels.
    let least = if quiet > 0.0 { wanted.min((loud * quiet).sqrt()) } else { wanted };
    runs(level.power.iter().map(|power| *power >= least))
}

/// First and one past the last of every run of `true`.
fn runs(flags: impl Iterator<Item = bool>) -> Vec<(usize, usize)> {
    let mut found = Vec::new();
    let mut start: Option<usize> = None;
    for (i, flag) in flags.chain(std::iter::once(false)).enumerate() {
        match (start, flag) {
            (None, true) => start = Some(i),
            (Some(from), false) => {
                found.push((from, i));
                start = None;
            }
            _ => {}
        }
    }
    found
}

/// Cuts a stretch at every dip between two louder parts.
fn at_dips(level: &Level, (from, to): (usize, usize)) -> Vec<(usize, usize)> {
    let cells = level.power.get(from..to).unwrap_or_default();
    let deep = ratio(DIP_DB);
    let mut pieces = Vec::new();
    let (mut start, mut loudest, mut dip) = (0, 0.0_f64, (0, f64::INFINITY));
    for (i, &power) in cells.iter().enumerate() {
        if power > loudest && dip.1 * deep > loudest {
            // Still building up, or back from a dip that was none.
            (loudest, dip) = (power, (i, power));
        } else if power < dip.1 {
            dip = (i, power);
        } else if power > dip.1 * deep && loudest > dip.1 * deep {
            pieces.push((from + start, from + dip.0));
            (start, loudest, dip) = (dip.0, power, (i, power));
        }
    }
    pieces.push((from + start, to));
    pieces
}

/// What one frame sounds like.
struct Frame {
    middle_s: f64,
    hz: f64,
    peaks: Peaks,
    resolution_hz: f64,
}

impl Frame {
    /// Of half a second from `from_s` on. `None` when no note is heard in it.
    fn of(band: &Band, from_s: f64) -> Option<Frame> {
        let spectrum = MeanSpectrum::of(band.part(from_s, from_s + FRAME_S), band.rate_hz, FRAME_S);
        let peaks = Peaks::of(&spectrum, LOWEST_LINE_HZ, band.top_hz());
        let comb = Comb::new(&peaks, spectrum.resolution_hz);
        let hz = comb.best().filter(|best| comb.is_heard(best.hz, spectrum.independent_frames))?.hz;
        Some(Frame { middle_s: from_s + FRAME_S / 2.0, hz, resolution_hz: spectrum.resolution_hz, peaks })
    }

    fn explained(&self, hz: f64) -> f64 {
        Comb::new(&self.peaks, self.resolution_hz).explained(hz)
    }

    fn sounds_like(&self, other: &Frame) -> bool {
        let differs = |hz: f64| (self.explained(hz) - other.explained(hz)).abs() > DIFFERENT_SHARE;
        cents_between(self.hz, other.hz).abs() < SAME_CENTS || !(differs(self.hz) || differs(other.hz))
    }
}

/// Cuts a stretch where another note is heard in two frames running.
fn at_pitch_changes(band: &Band, (from_s, to_s): (f64, f64)) -> Vec<(f64, f64)> {
    let count = ((to_s - from_s - FRAME_S) / HOP_S).floor().max(-1.0) as i64 + 1;
    if count < 4 {
        return vec![(from_s, to_s)];
    }
    let frames: Vec<Frame> =
        (0..count).into_par_iter().filter_map(|i| Frame::of(band, from_s + i as f64 * HOP_S)).collect();
    let mut pieces = Vec::new();
    let mut start_s = from_s;
    let mut known: Option<&Frame> = None;
    let mut other: Option<&Frame> = None;
    for frame in &frames {
        let Some(last) = known else {
            known = Some(frame);
            continue;
        };
        if frame.sounds_like(last) {
            (known, other) = (Some(frame), None);
        } else if let Some(first) = other.filter(|first| frame.sounds_like(first)) {
            let change_s = (last.middle_s + first.middle_s) / 2.0;
            pieces.push((start_s, change_s));
            (start_s, known, other) = (change_s, Some(frame), None);
        } else {
            other = Some(frame);
        }
    }
    pieces.push((start_s, to_s));
    pieces
}

/// Gives each stretch the silence around it that belongs to no other.
fn with_silence(level: &Level, sounding: &[(f64, f64)]) -> Vec<Stretch> {
    let end_s = level.power.len() as f64 * CELL_S;
    sounding
        .iter()
        .enumerate()
        .map(|(i, &(from_s, to_s))| {
            let before = i.checked_sub(1).and_then(|i| sounding.get(i));
            let gap_s = before.map_or(0.0, |before| before.1);
            let next_s = sounding.get(i + 1).map_or(end_s, |next| (next.0 - SMEARED_S).max(to_s));
            // The averaging makes both ends seem farther out than they are.
            let smeared_s = SMEARED_S.min((to_s - from_s) / 4.0);
            Stretch {
                from_s: from_s + smeared_s,
                to_s: to_s - smeared_s,
                seen_from_s: died_away_s(level, gap_s, from_s).max(from_s - KEPT_SILENCE_S),
                seen_to_s: next_s.min(to_s + KEPT_SILENCE_S),
            }
        })
        .collect()
}

/// Where in a gap the sound before has died away.
fn died_away_s(level: &Level, from_s: f64, to_s: f64) -> f64 {
    let (from, to) = ((from_s / CELL_S).round() as usize, (to_s / CELL_S).round() as usize);
    let gap = level.power.get(from..to).unwrap_or_default();
    let quietest = gap.iter().fold(f64::INFINITY, |least, &power| least.min(power));
    let away = gap.iter().position(|power| *power <= quietest * ratio(AS_QUIET_DB)).unwrap_or(0);
    from_s + away as f64 * CELL_S
}

/// The longest stretch that is as quiet as the quietest. Not all of them joined: a hum's phase breaks at
/// every joint and its line would come out too weak.
fn room_span(level: &Level) -> Option<(f64, f64)> {
    if level.loud < level.quiet * ratio(NO_SILENCE_DB) {
        return None;
    }
    let most = level.quiet * ratio(AS_QUIET_DB);
    let longest =
        runs(level.power.iter().map(|power| *power <= most)).into_iter().max_by_key(|(a, b)| b - a)?;
    let (from_s, to_s) = (longest.0 as f64 * CELL_S, longest.1 as f64 * CELL_S);
    (to_s - from_s >= ROOM_S).then_some((from_s, to_s.min(from_s + LONGEST_S)))
}

fn room(band: &Band, from_s: f64, to_s: f64) -> Option<RoomSound> {
    Some(RoomSound::of_silence(band.part(from_s, to_s), band.rate_hz)).filter(RoomSound::known)
}
