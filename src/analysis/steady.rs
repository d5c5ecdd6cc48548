//! Which part of a note is steady: attack and release left out.
//!
//! Must not know how the track was made.

use super::track::Track;

/// The note lasts while it is within this of its usual level (dB).
const WITHIN_DB: f64 = 3.5;
/// After the level is there, the pitch still settles: so much more is left out at the beginning
/// and at the end (common practice is to drop far more of a long note; no source).
const SETTLING_S: f64 = 0.1;
/// But never more than this share of the note.
const SETTLING_SHARE: f64 = 0.1;

/// First and last block of the steady part.
#[must_use]
pub fn stretch(track: &Track) -> (usize, usize) {
    let gain = &track.gain;
    let mut sorted: Vec<f64> = gain.clone();
    sorted.sort_by(f64::total_cmp);
    let usual = sorted.get(sorted.len() / 2).copied().unwrap_or(1.0);
    let least = usual * 10f64.powf(-WITHIN_DB / 20.0);
    let (mut best, mut start) = ((0, 0), None);
    for (i, &g) in gain.iter().chain(std::iter::once(&-1.0)).enumerate() {
        match (start, g >= least) {
            (None, true) => start = Some(i),
            (Some(from), false) => {
                if i - 1 - from > best.1 - best.0 {
                    best = (from, i - 1);
                }
                start = None;
            }
            _ => {}
        }
    }
    let (first, last) = best;
    let settling = (SETTLING_S / track.hop_s).min(SETTLING_SHARE * (last - first) as f64).round() as usize;
    if last - first >= 2 * settling + 4 { (first + settling, last - settling) } else { (first, last) }
}
