//! The silence around a note: what it tells about the recorder and the room.
//!
//! Must not know pitch.

use super::band::Band;
use super::level::{CELL_S, Level};
use super::spectrum::MeanSpectrum;

/// Shorter silences say nothing.
const LEAST_S: f64 = 0.2;
/// Bands of half an octave from here up, hertz.
const LOWEST_BAND_HZ: f64 = 14.0;
const BANDS: i32 = 12;
/// The part of the spectrum that the low end is held against, hertz.
const REFERENCE_HZ: std::ops::Range<f64> = 150.0..600.0;
/// Rooms are louder the lower the frequency; where it is so much quieter instead, sound was taken
/// away (our choice; a filter is 3 dB down at its corner and room noise rises by 3 dB or more an
/// octave downwards).
const LOST_DB: f64 = 3.0;
/// And the lowest band must be down by this.
const SURELY_LOST_DB: f64 = 10.0;

/// Frequency below which the recording has lost sound, from a stretch of silence.
#[must_use]
pub fn low_corner_hz(silence: &[f64], rate_hz: f64) -> Option<f64> {
    if (silence.len() as f64) < LEAST_S * rate_hz {
        return None;
    }
    let spectrum = MeanSpectrum::of(silence, rate_hz, 0.5);
    let level = |from_hz: f64, to_hz: f64| -> Option<f64> {
        let (a, b) = ((from_hz / spectrum.bin_hz).ceil() as usize, (to_hz / spectrum.bin_hz).floor() as usize);
        let mut bins = spectrum.power.get(a..=b.max(a))?.to_vec();
        bins.sort_by(f64::total_cmp);
        bins.get(bins.len() / 2).map(|p| 10.0 * p.max(1e-30).log10())
    };
    let reference = level(REFERENCE_HZ.start, REFERENCE_HZ.end)?;
    let mut corner = None;
    let mut lowest = 0.0;
    for band in 0..BANDS {
        let centre = LOWEST_BAND_HZ * (f64::from(band) / 2.0).exp2();
        let half_hz = (0.19 * centre).max(spectrum.resolution_hz);
        if centre < half_hz + spectrum.resolution_hz {
            continue;
        }
        let lost = reference - level(centre - half_hz, centre + half_hz)?;
        if corner.is_none() {
            lowest = lost;
        }
        if lost < LOST_DB {
            break;
        }
        corner = Some(centre);
    }
    corner.filter(|_| lowest > SURELY_LOST_DB)
}

/// How far the background just after a note is below that before it, dB.
#[must_use]
pub fn drop_after_db(band: &Band, before: (f64, f64), after: (f64, f64)) -> Option<f64> {
    let power = |(from, to): (f64, f64)| -> Option<f64> {
        let part = band.part(from, to.min(from + 0.5));
        (to - from >= LEAST_S && !part.is_empty())
            .then(|| part.iter().map(|s| s * s).sum::<f64>() / part.len() as f64)
            .filter(|p| *p > 0.0)
    };
    // The half second before the note, and the first after it.
    let start = before.0.max(before.1 - 0.5);
    Some(10.0 * (power((start, before.1))? / power(after)?).log10())
}

/// Time in which the sound after a note would die away by 60 dB, from its fall by 5 to 25 dB.
///
/// Source: ISO 3382-2 (T20, from memory), applied to a note that stops instead of a noise.
#[must_use]
pub fn decay_s(level: &Level, end_s: f64) -> Option<f64> {
    let start = (end_s / CELL_S) as usize;
    let cells = level.power.get(start..)?;
    let full = *cells.first()?;
    let down = |db: f64| cells.iter().position(|p| *p < full * 10f64.powf(-db / 10.0));
    let (a, b) = (down(5.0)?, down(25.0)?);
    // The background must be well below the last point.
    let clear = level.quiet < full * 10f64.powf(-3.0);
    (clear && b > a).then(|| 3.0 * (b - a) as f64 * CELL_S)
}
