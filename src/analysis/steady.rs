//! Which part of a note is steady, and its mean pitch: attack, slow speaking and release left out.
//!
//! Must not know how the track was made.

use super::track::{MeanPitch, Track};
use crate::units::cents_between;

/// The note lasts while it is within this of its full level (its 90th percentile), dB.
const WITHIN_DB: f64 = 10.0;
/// A dip shorter than this does not end it, seconds.
const BRIDGED_S: f64 = 0.2;
/// Building up and dying away are what changes faster than this, dB a second, judged over
/// [`JUDGED_S`]; a breath that falls off evenly by a few dB is still the note (our own choice:
/// release tails of woodwinds fall by 60 dB within half a second to a second).
const FAST_DB_A_SECOND: f64 = 15.0;
const JUDGED_S: f64 = 0.12;
/// After the level is there, the pitch still settles: so much more is left out at the beginning
/// and at the end (common practice is to drop far more of a long note; no source). How sure the
/// ends are is of the same size.
const SETTLING_S: f64 = 0.1;
/// But never more than this share of the note.
const SETTLING_SHARE: f64 = 0.1;
/// The ends are cut back while their pitch is further from the middle pitch than so many times
/// the usual distance: an even drift reaches 2, a vibrato 1.4, a note still finding its pitch more.
const STRAY: f64 = 3.5;
/// Strays of less than this are not worth losing a block, cents.
const STRAY_CENTS: f64 = 0.5;

/// The steady part.
pub struct Steady {
    /// First block.
    pub first: usize,
    /// Last block.
    pub last: usize,
    /// Its pitch; the uncertainty includes that of where the steady part begins and ends.
    pub pitch: MeanPitch,
}

/// Finds the steady part of a track and its mean pitch.
#[must_use]
pub fn steady(track: &Track) -> Option<Steady> {
    let (mut first, mut last) = full_level(track);
    let mut pitch = track.mean_pitch(first, last)?;
    for _ in 0..4 {
        let (front, back) = strays(&pitch.hz_track);
        if front + back == 0 || last - first < front + back + 4 {
            break;
        }
        first += front;
        last -= back;
        pitch = track.mean_pitch(first, last)?;
    }
    let unsure = ends_cents(track, &pitch);
    pitch.sd_cents = pitch.sd_cents.hypot(unsure).hypot(bent_cents(&pitch));
    Some(Steady { first, last, pitch })
}

/// First and last block of the longest stretch at full level.
fn full_level(track: &Track) -> (usize, usize) {
    let gain = &track.gain;
    let mut sorted: Vec<f64> = gain.clone();
    sorted.sort_by(f64::total_cmp);
    let full = sorted.get(sorted.len() * 9 / 10).copied().unwrap_or(1.0);
    let least = full * 10f64.powf(-WITHIN_DB / 20.0);
    let bridged = (BRIDGED_S / track.hop_s) as usize;
    let (mut best, mut run): ((usize, usize), Option<(usize, usize)>) = ((0, 0), None);
    for i in (0..gain.len()).filter(|&i| gain.get(i).is_some_and(|g| *g >= least)) {
        let from = run.filter(|(_, to)| i - to <= bridged + 1).map_or(i, |(from, _)| from);
        run = Some((from, i));
        if i - from > best.1 - best.0 {
            best = (from, i);
        }
    }
    let (first, last) = within_slow_change(track, best);
    let settling = settling_blocks(track, last - first);
    if last - first >= 2 * settling + 4 { (first + settling, last - settling) } else { (first, last) }
}

/// Cuts back the ends while the level still rises or already falls fast.
fn within_slow_change(track: &Track, (mut first, mut last): (usize, usize)) -> (usize, usize) {
    let db: Vec<f64> = track.gain.iter().map(|g| 20.0 * g.max(1e-6).log10()).collect();
    let step = ((JUDGED_S / track.hop_s).round() as usize).max(1);
    let most = FAST_DB_A_SECOND * step as f64 * track.hop_s;
    let rise = |from: usize, to: usize| match (db.get(from), db.get(to)) {
        (Some(a), Some(b)) => b - a,
        _ => 0.0,
    };
    while first + step + 4 < last && rise(first, first + step) > most {
        first += 1;
    }
    while last > first + step + 4 && rise(last, last - step) > most {
        last -= 1;
    }
    (first, last)
}

fn settling_blocks(track: &Track, blocks: usize) -> usize {
    (SETTLING_S / track.hop_s).min(SETTLING_SHARE * blocks as f64).round() as usize
}

/// How many blocks at either end stray from the pitch of the rest.
fn strays(hz_track: &[f64]) -> (usize, usize) {
    let mut sorted = hz_track.to_vec();
    sorted.sort_by(f64::total_cmp);
    let Some(&middle) = sorted.get(sorted.len() / 2) else { return (0, 0) };
    let off: Vec<f64> = hz_track.iter().map(|hz| cents_between(*hz, middle).abs()).collect();
    let mut ranked = off.clone();
    ranked.sort_by(f64::total_cmp);
    let usual = ranked.get(ranked.len() / 2).copied().unwrap_or(0.0);
    let most = STRAY * usual + STRAY_CENTS;
    let half = off.len() / 3;
    let front = off.iter().take(half).take_while(|o| **o > most).count();
    let back = off.iter().rev().take(half).take_while(|o| **o > most).count();
    (front, back)
}

/// A note that settles, or is pushed about, has a mean that another stretch of it would not have. An
/// even drift does no harm: its mean is that of the middle. What counts is how far the middle third
/// lies off the line through the thirds beside it. That is one number, so that its 68 % limit is that
/// of Student's law with one degree of freedom.
const STUDENT_ONE: f64 = 1.84;

/// Uncertainty of the mean pitch from a note that is not steady, cents: standard error of the mean of
/// three thirds about their straight line (batch means, from memory).
fn bent_cents(pitch: &MeanPitch) -> f64 {
    let n = pitch.hz_track.len();
    let third = |i: usize| -> f64 {
        let part = pitch.hz_track.get(i * n / 3..(i + 1) * n / 3).unwrap_or_default();
        part.iter().sum::<f64>() / part.len().max(1) as f64
    };
    // The residuals of a line through three points are a sixth, a third and a sixth of this bend: one
    // degree of freedom is left, and their squares add up to a sixth of its square.
    let bend_hz = third(0) - 2.0 * third(1) + third(2);
    let scatter_hz = bend_hz.abs() / 6f64.sqrt();
    STUDENT_ONE * scatter_hz / 3f64.sqrt() * 1200.0 / std::f64::consts::LN_2 / pitch.hz
}

/// How much the mean pitch depends on where the steady part is taken to begin and end, cents: root
/// mean square change over all pairs of ends up to twice the settling time further in.
fn ends_cents(track: &Track, pitch: &MeanPitch) -> f64 {
    let cycles = &pitch.cycles;
    let last = cycles.len().saturating_sub(1);
    let reach = (2 * settling_blocks(track, last)).max(1);
    let (mut sum, mut count) = (0.0, 0);
    for front in 0..=reach {
        for back in 0..=reach {
            let (Some(a), Some(b)) = (cycles.get(front), cycles.get(last.saturating_sub(back))) else {
                continue;
            };
            if front + back + 2 < last {
                let blocks = (last - front - back) as f64;
                let hz = track.base_hz + (b - a) / (blocks * track.hop_s);
                sum += cents_between(hz, pitch.hz).powi(2);
                count += 1;
            }
        }
    }
    if count > 0 { (sum / f64::from(count)).sqrt() } else { 0.0 }
}
