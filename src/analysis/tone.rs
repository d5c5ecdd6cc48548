//! What a note sounds like beyond its pitch: balance of its partials, hiss, how it begins, how it moves.
//!
//! Must not know how the note was found, nor what is good or bad in it.

use super::measurement::{Hiss, Partial, Swing, Tone};
use super::movement::share_left;
use super::peaks::Peaks;
use super::spectrum::{MeanSpectrum, fast_length, transform};
use super::steady::Steady;
use super::track::Track;

/// Partials fainter than this under the strongest say nothing about whether partials are in tune, dB.
const IN_TUNE_DB: f64 = -40.0;
/// Lowest octave of the hiss, hertz; the highest ends at the highest line that is looked at.
const LOWEST_OCTAVE_HZ: f64 = 62.5;
/// A note has begun to sound at a tenth of its level and is there at nine tenths (common practice).
const ATTACK: [f64; 2] = [0.1, 0.9];
/// Slowest and fastest swing looked for, hertz: players' vibrato has 4 to 7 a second (common knowledge,
/// no source), beats are often slower.
const SLOWEST_HZ: f64 = 1.0;
const FASTEST_HZ: f64 = 15.0;
/// The fastest that players swing (common knowledge, no source), with something to spare.
const FASTEST_PLAYED_HZ: f64 = 8.0;
/// Swings from value to value at most: four fifths of what they can hold.
pub const SWINGS_A_STEP: f64 = 0.4;
/// It is a swing when one sine explains so much of what is left beside an even change, over at least so
/// many turns (our choice: by chance a sine explains half only of a handful of values).
const EXPLAINED: f64 = 0.5;
const LEAST_TURNS: f64 = 2.5;
/// A swing of the pitch under this is nothing that could be heard or that matters, cents; and so is one of
/// the level, dB.
const LEAST_CENTS: f64 = 0.5;
const LEAST_DB: f64 = 0.3;

/// All of it for one note.
#[must_use]
pub fn of(
    track: &Track,
    steady: &Steady,
    partials: &[Partial],
    hiss: Vec<Hiss>,
    vibrato: Option<Swing>,
) -> Tone {
    let (first, last, pitch) = (steady.first, steady.last, &steady.pitch);
    let cents = smooth_cents(steady);
    let gain = track.gain.get(first..=last).unwrap_or_default();
    let level_db: Vec<f64> = gain.iter().map(|g| 20.0 * g.max(1e-3).log10()).collect();
    Tone {
        inharmonicity_cents: inharmonicity_cents(partials, pitch.hz),
        odd_over_even_db: odd_over_even_db(partials),
        centroid_hz: centroid_hz(partials),
        hiss,
        attack_s: attack_s(track, gain),
        slope_cents_per_s: even_change(&cents).0 / track.hop_s,
        vibrato,
        beating: swing(&level_db, track.hop_s).filter(|swing| swing.depth >= LEAST_DB),
    }
}

/// Smooth pitch from block to block, cents from its mean.
fn smooth_cents(steady: &Steady) -> Vec<f64> {
    let pitch = &steady.pitch;
    pitch.hz_track.iter().map(|hz| crate::units::cents_between(*hz, pitch.hz)).collect()
}

/// The swing of the pitch. The smooth curve shows one through noise; one as fast as the blocks are long is left
/// only in the pitches from block to block. What the blocks smooth away is given back.
///
/// From block to block of a very low note, a fast swing looks like a slower one. `halfway` follows the note in
/// the same blocks, each half a step later: between them they tell the two apart. A swing that is faster than
/// that is all but smoothed away, and not told.
#[must_use]
pub fn vibrato(track: &Track, steady: &Steady, halfway: impl FnOnce() -> Option<Track>) -> Option<Swing> {
    let raw = raw_cents(track, steady, steady.last);
    let hides_swings = 0.5 / track.hop_s < FASTEST_PLAYED_HZ && steady.pitch.wander_cents >= LEAST_CENTS;
    let seen = if hides_swings {
        let later = halfway().filter(|later| later.hop_s == track.hop_s)?;
        // One value fewer: it would lie beyond the end.
        let between = raw_cents(&later, steady, steady.last.saturating_sub(1));
        let both: Vec<f64> = raw.iter().zip(&between).flat_map(|(a, b)| [*a, *b]).collect();
        swing(&both, track.hop_s / 2.0)?
    } else {
        swing(&raw, track.hop_s).or_else(|| swing(&smooth_cents(steady), track.hop_s))?
    };
    let depth = seen.depth / share_left(seen.hz * track.hop_s);
    (seen.depth >= LEAST_CENTS).then_some(Swing { depth, ..seen })
}

/// Pitch from block to block as it was seen up to a last block, cents from the mean of the steady part.
fn raw_cents(track: &Track, steady: &Steady, last: usize) -> Vec<f64> {
    let cycles = track.cycles.get(steady.first..=last).unwrap_or_default();
    let hz = |w: &[f64]| track.base_hz + (w[1] - w[0]) / track.hop_s;
    cycles.windows(2).map(|w| crate::units::cents_between(hz(w), steady.pitch.hz)).collect()
}

fn power(partial: &Partial) -> f64 {
    10f64.powf(partial.db / 10.0)
}

/// How far partials lie off the multiples of the pitch: root mean square, weighted by their power.
fn inharmonicity_cents(partials: &[Partial], hz: f64) -> Option<f64> {
    let (mut sum, mut weight) = (0.0, 0.0);
    for partial in partials.iter().filter(|p| p.db > IN_TUNE_DB) {
        let off = crate::units::cents_between(partial.hz, partial.n as f64 * hz);
        sum += power(partial) * off * off;
        weight += power(partial);
    }
    (weight > 0.0).then(|| (sum / weight).sqrt())
}

fn odd_over_even_db(partials: &[Partial]) -> Option<f64> {
    let sum = |odd: bool| partials.iter().filter(|p| (p.n % 2 == 1) == odd).map(power).sum::<f64>();
    let (odd, even) = (sum(true), sum(false));
    (odd > 0.0 && even > 0.0).then(|| 10.0 * (odd / even).log10())
}

/// Mean frequency of the partials, weighted by their amplitudes.
fn centroid_hz(partials: &[Partial]) -> Option<f64> {
    let weight: f64 = partials.iter().map(|p| power(p).sqrt()).sum();
    let sum: f64 = partials.iter().map(|p| power(p).sqrt() * p.hz).sum();
    (weight > 0.0).then(|| sum / weight)
}

/// The note over the noise between its partials, in octaves from [`LOWEST_OCTAVE_HZ`] on, as far as the
/// note has partials there.
#[must_use]
pub fn hiss(peaks: &Peaks, spectrum: &MeanSpectrum, hz: f64, top_hz: f64) -> Vec<Hiss> {
    let mut found = Vec::new();
    let mut from_hz = LOWEST_OCTAVE_HZ;
    while 2.0 * from_hz <= top_hz {
        let to_hz = 2.0 * from_hz;
        let numbers = (from_hz / hz).ceil().max(1.0) as usize..=(to_hz / hz) as usize;
        let tone: f64 = numbers
            .filter_map(|n| peaks.near(n as f64 * hz, (0.2 * hz).min(spectrum.resolution_hz)))
            .map(|peak| peak.power / 2.0)
            .sum();
        let noise = peaks.noise_power(spectrum, from_hz, to_hz);
        if tone > 0.0 && noise > 0.0 {
            found.push(Hiss { from_hz, to_hz, tone_over_noise_db: 10.0 * (tone / noise).log10() });
        }
        from_hz = to_hz;
    }
    found
}

/// Time from a tenth to nine tenths of the steady level. `None` when the recording begins inside it.
fn attack_s(track: &Track, steady_gain: &[f64]) -> Option<f64> {
    let mut sorted = steady_gain.to_vec();
    sorted.sort_by(f64::total_cmp);
    let full = *sorted.get(sorted.len() / 2)?;
    let [begun, there] = ATTACK.map(|share| track.gain.iter().position(|g| *g >= share * full));
    let (begun, there) = (begun?, there?);
    (begun > 0).then(|| (there - begun) as f64 * track.hop_s)
}

/// Slope a step and middle value of the least-squares line.
fn even_change(values: &[f64]) -> (f64, f64) {
    let n = values.len().max(1) as f64;
    let middle = (n - 1.0) / 2.0;
    let mean = values.iter().sum::<f64>() / n;
    let (mut up, mut down) = (0.0, 0.0);
    for (i, value) in values.iter().enumerate() {
        up += (i as f64 - middle) * (value - mean);
        down += (i as f64 - middle).powi(2);
    }
    (if down > 0.0 { up / down } else { 0.0 }, mean)
}

/// The sine that explains most of the values beside an even change, when it explains enough.
fn swing(values: &[f64], hop_s: f64) -> Option<Swing> {
    let (slope, mean) = even_change(values);
    let middle = (values.len() as f64 - 1.0) / 2.0;
    let rest: Vec<f64> =
        values.iter().enumerate().map(|(i, v)| v - mean - slope * (i as f64 - middle)).collect();
    let all: f64 = rest.iter().map(|r| r * r).sum();
    let seconds = values.len() as f64 * hop_s;
    let (lowest, highest) = (SLOWEST_HZ.max(LEAST_TURNS / seconds), FASTEST_HZ.min(SWINGS_A_STEP / hop_s));
    // A tenth of what the length resolves from bin to bin.
    let length = fast_length(10 * rest.len());
    let spectrum = transform(&rest, &vec![1.0; rest.len()], length);
    let bin_hz = 1.0 / (length as f64 * hop_s);
    let bins = (lowest / bin_hz).ceil() as usize..=(highest / bin_hz) as usize;
    let best =
        bins.filter_map(|bin| Some((bin, spectrum.get(bin)?.norm()))).max_by(|a, b| a.1.total_cmp(&b.1));
    let (bin, most) = best?;
    let (hz, depth) = (bin as f64 * bin_hz, 2.0 * most / rest.len() as f64);
    let explained = depth * depth / 2.0 * rest.len() as f64 / all.max(f64::MIN_POSITIVE);
    (explained > EXPLAINED).then_some(Swing { hz, depth })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_swing_beside_an_even_change_is_told_at_its_rate_and_depth() {
        let values: Vec<f64> =
            (0..100).map(|i| 0.1 * f64::from(i) + 4.0 * (0.03 * 33.0 * f64::from(i)).sin()).collect();
        let found = swing(&values, 0.03).unwrap();
        assert!((found.hz - 33.0 / std::f64::consts::TAU).abs() < 0.05, "{found:?}");
        assert!((found.depth - 4.0).abs() < 0.3, "{found:?}");
    }

    #[test]
    fn an_even_change_is_no_swing() {
        let values: Vec<f64> = (0..100).map(|i| 0.3 * f64::from(i)).collect();
        assert_eq!(swing(&values, 0.03), None);
    }

    #[test]
    fn odd_partials_outweigh_even_ones_by_their_powers() {
        let partial = |n: usize, db: f64| Partial { n, hz: n as f64 * 100.0, db };
        let found = odd_over_even_db(&[partial(1, 0.0), partial(2, -20.0), partial(3, 0.0)]).unwrap();
        assert!((found - 23.01).abs() < 0.01);
        assert_eq!(odd_over_even_db(&[partial(1, 0.0), partial(3, 0.0)]), None);
    }
}
