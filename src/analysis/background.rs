//! The silence around a note: what it tells about the recorder and the room.
//!
//! Must not know pitch.

use super::band::Band;
use super::level::{CELL_S, Level};
use super::spectrum::MeanSpectrum;

/// Shorter silences say nothing.
pub const LEAST_S: f64 = 0.15;
/// Bands of half an octave, from the highest down: below these notes' partials are felt by a cut.
const HIGHEST_BAND_HZ: f64 = 226.0;
const BANDS: i32 = 8;
/// The part of the spectrum that tells how the room's noise rises downwards, hertz.
const REFERENCE_HZ: [f64; 2] = [320.0, 1800.0];
/// Rooms rise by nothing (white) to a little over 3 dB (pink) an octave downwards.
const STEEPEST_DB_AN_OCTAVE: f64 = 4.0;
/// Just below its corner a filter takes so much, and lower down at least that (our choice; less
/// could be chance in a short silence).
const LOST_DB: f64 = 4.5;
const SURELY_LOST_DB: f64 = 8.0;

/// Frequency below which the recording has lost sound, from a stretch of silence: room noise that
/// falls away downwards, where it should go on rising.
#[must_use]
pub fn low_corner_hz(silence: &[f64], rate_hz: f64) -> Option<f64> {
    if (silence.len() as f64) < LEAST_S * rate_hz {
        return None;
    }
    let spectrum = MeanSpectrum::of(silence, rate_hz, 0.5);
    let level = |centre_hz: f64| -> Option<f64> {
        let half_hz = (0.19 * centre_hz).max(spectrum.resolution_hz);
        let bin = |hz: f64| (hz / spectrum.bin_hz).round().max(0.0) as usize;
        let mut bins = spectrum.power.get(bin(centre_hz - half_hz)..=bin(centre_hz + half_hz))?.to_vec();
        // The middle one: the note may still ring or already sound.
        bins.sort_by(f64::total_cmp);
        bins.get(bins.len() / 2).map(|power| 10.0 * power.max(1e-30).log10())
    };
    let [low_hz, high_hz] = REFERENCE_HZ;
    let (low, high) = (level(low_hz)?, level(high_hz)?);
    let slope = ((low - high) / (high_hz / low_hz).log2()).clamp(0.0, STEEPEST_DB_AN_OCTAVE);
    let lost = |centre_hz: f64| level(centre_hz).map(|l| low + slope * (low_hz / centre_hz).log2() - l);
    let mut corner: Option<(f64, f64)> = None;
    for band in 0..BANDS {
        let centre_hz = HIGHEST_BAND_HZ * (-f64::from(band) / 2.0).exp2();
        if centre_hz < 2.0 * spectrum.resolution_hz {
            break;
        }
        let lost_db = lost(centre_hz)?;
        corner = match corner {
            None if lost_db >= LOST_DB => Some((centre_hz, lost_db)),
            // Back again: it was a dip of the room.
            Some(_) if lost_db < LOST_DB => None,
            Some((hz, deepest)) if lost_db < SURELY_LOST_DB => Some((hz, deepest.max(lost_db))),
            Some((hz, _)) => return Some(hz),
            None => None,
        };
    }
    None
}

/// Automatic gain takes about so long to come back.
const RECOVERY_S: f64 = 0.5;

/// How far the background just after a note is below that before it, dB: of both, the quietest
/// tenth, so that a note that begins slowly or rings on does not count.
#[must_use]
pub fn drop_after_db(band: &Band, before: (f64, f64), after: (f64, f64)) -> Option<f64> {
    let quiet = |(from, to): (f64, f64)| -> Option<f64> {
        // Differences: rumble, which comes by chance in so short a time, must not decide.
        let rough = |cell: &[f64]| cell.windows(2).map(|w| (w[1] - w[0]).powi(2)).sum::<f64>();
        let cell = ((0.02 * band.rate_hz) as usize).max(2);
        let mut cells: Vec<f64> = band.part(from, to).chunks_exact(cell).map(rough).collect();
        cells.sort_by(f64::total_cmp);
        let quietest = cells.get(cells.len() / 10).copied();
        quietest.filter(|power| to - from >= LEAST_S && *power > 0.0)
    };
    Some(10.0 * (quiet(before)? / quiet((after.0, after.1.min(after.0 + RECOVERY_S)))?).log10())
}

/// Time in which the sound after a note would die away by 60 dB, from its fall by 5 to 25 dB; where the recording
/// stops before that, from its fall by 5 to 15 dB, which is less sure.
///
/// Source: ISO 3382-2 (T20, from memory), applied to a note that stops instead of a noise; the shorter fall is our
/// choice.
#[must_use]
pub fn decay_s(level: &Level, end_s: f64) -> Option<f64> {
    let start = (end_s / CELL_S) as usize;
    let cells = level.power.get(start..)?;
    let full = *cells.first()?;
    let down = |db: f64| cells.iter().position(|p| *p < full * 10f64.powf(-db / 10.0));
    let from = down(5.0)?;
    let (to, times) = down(25.0).map(|to| (to, 3.0)).or_else(|| Some((down(15.0)?, 6.0)))?;
    // The background must be well below the last point.
    let clear = level.quiet < full * 10f64.powf(-3.0);
    (clear && to > from).then(|| times * (to - from) as f64 * CELL_S)
}
