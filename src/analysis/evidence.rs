//! Gathers what the judgement of a take rests on.
//!
//! Must not know the limits: those are `quality`'s.

use super::background;
use super::band::Band;
use super::clipping;
use super::comb::Comb;
use super::hum::mains_hz;
use super::level::{CELL_S, Level};
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
/// explains less than so much of it, or its own less than so much of the note.
const OTHER_CENTS: f64 = 60.0;
const OTHER_EXPLAINED: f64 = 0.5;
const OTHER_EXPLAINS: f64 = 0.3;
/// A note of a higher register may sound its lower one, softly, until it speaks: what leads into the note
/// so much more softly, dB, and lies a whole number of times under it, is the note's own beginning (our
/// choice; a player slurs with less difference).
const LEADS_IN_DB: f64 = 6.0;
/// Partials are missing so far under the others, dB, and as strong from here on (our choice).
const MISSING_DB: f64 = -25.0;
const AS_STRONG_DB: f64 = -3.0;
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
        slurred: slurred_up(note).map(|(hz, at_s)| (hz, from_s + at_s)),
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
    let mut pieces: Vec<Piece> = Vec::new();
    for (from_s, to_s) in level.sounding() {
        let is_joined = to_s > start_s - 0.1;
        pieces.push(Piece { from_s, to_s: to_s.min(start_s - 0.1), leads_in: is_joined });
        pieces.push(Piece { from_s: from_s.max(end_s + 0.2), to_s, leads_in: false });
    }
    pieces.retain(|piece| piece.seconds() >= OTHER_S && piece.power(level) > least);
    if pieces.is_empty() {
        return None;
    }
    let own = Lines::of(&prepared.band, start_s, end_s);
    pieces.into_iter().take(MOST_OTHERS).find_map(|piece| {
        let lines = Lines::of(&prepared.band, piece.from_s, piece.to_s);
        let other_hz = lines.heard()?;
        // An octave up is all explained by the note, but does not explain it.
        let different = cents_between(other_hz, hz).abs() > OTHER_CENTS
            && (lines.explained(hz) < OTHER_EXPLAINED || own.explained(other_hz) < OTHER_EXPLAINS);
        let weaker_db = 10.0 * (full / piece.power(level).max(f64::MIN_POSITIVE)).log10();
        let is_own = piece.leads_in && weaker_db > LEADS_IN_DB && is_register_below(other_hz, hz);
        (different && !is_own).then_some((other_hz, piece.from_s))
    })
}

/// The octave or twelfth over the note, slurred to or from it: what is followed as one note, because all
/// partials of the higher one are the note's too. Its pitch, and where it sounds first, seconds.
///
/// There the note's other partials are missing, while elsewhere they are as strong as those that both have. When
/// an undertone comes in under the higher note they stay weaker.
fn slurred_up(note: &Note) -> Option<(f64, f64)> {
    let track = &note.track;
    let blocks = ((OTHER_S / track.hop_s).ceil() as usize).max(1);
    [2_usize, 3].into_iter().find_map(|times| {
        let mut powers = vec![(0.0, 0.0); track.gain.len()];
        for (n, partial) in &track.partials {
            for ((shared, other), amplitude) in powers.iter_mut().zip(partial) {
                *(if n % times == 0 { shared } else { other }) += amplitude.norm_sqr();
            }
        }
        let sum = |part: &[(f64, f64)]| part.iter().fold((0.0, 0.0), |sum, p| (sum.0 + p.0, sum.1 + p.1));
        let windows: Vec<(f64, f64)> = powers.windows(blocks).map(sum).collect();
        let loudest = windows.iter().fold(0.0_f64, |most, (shared, other)| most.max(shared + other));
        let least = loudest * 10f64.powf(-OTHER_DB / 10.0);
        let missing = |(shared, other): &(f64, f64)| {
            shared + other > least && *other < shared * 10f64.powf(MISSING_DB / 10.0)
        };
        let as_strong = |(shared, other): &(f64, f64)| {
            shared + other > least && *other > shared * 10f64.powf(AS_STRONG_DB / 10.0)
        };
        let at = windows.iter().position(missing).filter(|_| windows.iter().any(as_strong))?;
        Some((times as f64 * note.steady.pitch.hz, track.at_s(at)))
    })
}

/// The lines of a stretch.
struct Lines {
    peaks: Peaks,
    resolution_hz: f64,
    independent_frames: f64,
}

impl Lines {
    fn of(band: &Band, from_s: f64, to_s: f64) -> Lines {
        let spectrum = MeanSpectrum::of(band.part(from_s, to_s), band.rate_hz, FRAME_S);
        let peaks = Peaks::of(&spectrum, LOWEST_LINE_HZ, band.top_hz());
        let MeanSpectrum { resolution_hz, independent_frames, .. } = spectrum;
        Lines { peaks, resolution_hz, independent_frames }
    }

    fn heard(&self) -> Option<f64> {
        let comb = Comb::new(&self.peaks, self.resolution_hz);
        comb.best().filter(|best| comb.is_heard(best.hz, self.independent_frames)).map(|best| best.hz)
    }

    fn explained(&self, hz: f64) -> f64 {
        Comb::new(&self.peaks, self.resolution_hz).explained(hz)
    }
}

/// Something that sounds beside the steady part, seconds.
struct Piece {
    from_s: f64,
    to_s: f64,
    /// The note follows without a pause.
    leads_in: bool,
}

impl Piece {
    fn seconds(&self) -> f64 {
        self.to_s - self.from_s
    }

    fn power(&self, level: &Level) -> f64 {
        level.energy(self.from_s, self.to_s) / self.seconds()
    }
}

/// Whether the note is the octave, the twelfth and so on over a sound below it.
fn is_register_below(below_hz: f64, hz: f64) -> bool {
    let times = (hz / below_hz).round();
    times >= 2.0 && cents_between(times * below_hz, hz).abs() < OTHER_CENTS
}
