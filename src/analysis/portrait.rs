//! What a chart of one take shows: its spectrum and its pitch through time. Plain data, found by the
//! same steps as the measurement itself.
//!
//! Must not know how it is drawn, nor the instrument.

use super::band::Band;
use super::measure::{NEEDED_HZ, Note, Settings, hear};
use super::spectrum::MeanSpectrum;
use crate::audio::take::Take;
use crate::units::cents_between;

/// A take to look at.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Portrait {
    /// Spectrum of the steady part as recorded, hum and all: hertz, and dB relative to the strongest
    /// partial. Where lines lie closer than a chart can show, the highest stands for its neighbours.
    pub spectrum: Vec<(f64, f64)>,
    /// Lines of the mains' hum that were taken out before measuring, hertz.
    pub hum_hz: Vec<f64>,
    /// Pitch from block to block: seconds from the start of the file, cents from the mean pitch. `None`
    /// where the note is too weak to tell.
    pub track: Vec<(f64, Option<f64>)>,
    /// The same, smoothed, over the steady part.
    pub steady_track: Vec<(f64, f64)>,
}

/// Columns of the spectrum at most.
const COLUMNS: usize = 1000;
/// Frames of the spectrum, seconds: lines half a hertz apart are told from each other.
const FRAME_S: f64 = 2.0;
/// The spectrum reaches a little beyond the highest partial of this level, dB, and shows at least so
/// many partials.
const SHOWN_DB: f64 = -60.0;
const SHOWN_PARTIALS: f64 = 8.0;
const BEYOND: f64 = 1.08;
/// Pitch is told while the note is within 20 dB of its mean level (amplitude).
const HEARD_GAIN: f64 = 0.1;

/// Looks at a take as [`super::measure::measure`] does. `None` when no note is heard.
#[must_use]
pub fn portrait(take: &Take, settings: &Settings) -> Option<Portrait> {
    let (prepared, found) = hear(take, settings)?;
    let (note, _) = found?;
    let (track, steady) = (&note.track, &note.steady);
    let at_s = |block: usize| prepared.from_s + track.at_s(block);
    let between_s = |block: usize| at_s(block) + track.hop_s / 2.0;
    let cents = |hz: f64| cents_between(hz, steady.pitch.hz);
    let pitch = track
        .cycles
        .windows(2)
        .zip(track.gain.windows(2))
        .enumerate()
        .map(|(block, (cycles, gain))| {
            let hz = track.base_hz + (cycles[1] - cycles[0]) / track.hop_s;
            let heard = gain[0].min(gain[1]) >= HEARD_GAIN && hz > 0.0;
            (between_s(block), heard.then(|| cents(hz)))
        })
        .collect();
    let steady_track = steady
        .pitch
        .hz_track
        .iter()
        .enumerate()
        .map(|(block, &hz)| (between_s(steady.first + block), cents(hz)))
        .collect();
    Some(Portrait {
        spectrum: spectrum(take, &note, at_s(steady.first), at_s(steady.last)),
        hum_hz: prepared.hum.lines.iter().map(|line| line.hz).collect(),
        track: pitch,
        steady_track,
    })
}

fn spectrum(take: &Take, note: &Note, from_s: f64, to_s: f64) -> Vec<(f64, f64)> {
    let band = Band::of(take.part(from_s, to_s), take.rate_hz, NEEDED_HZ);
    let spectrum = MeanSpectrum::of(&band.samples, band.rate_hz, FRAME_S);
    let hz = note.steady.pitch.hz;
    let strongest = note.strongest_power(note.steady_blocks());
    let least = strongest * 10f64.powf(SHOWN_DB / 10.0);
    let highest = note.partial_powers().filter(|(_, power)| *power >= least).map(|(n, _)| n as f64);
    let top_hz = (highest.fold(SHOWN_PARTIALS, f64::max) * hz * BEYOND).min(band.top_hz());
    let bins = ((top_hz / spectrum.bin_hz) as usize).min(spectrum.power.len());
    let column = bins.div_ceil(COLUMNS).max(1);
    let shown = spectrum.power.get(..bins).unwrap_or_default();
    let highest_of = |(index, powers): (usize, &[f64])| {
        let (best, power) = powers.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1))?;
        let line_hz = (index * column + best) as f64 * spectrum.bin_hz;
        Some((line_hz, 10.0 * (power / strongest).max(1e-20).log10()))
    };
    shown.chunks(column).enumerate().filter_map(highest_of).collect()
}
